// SPDX-License-Identifier: GPL-3.0-or-later
// What commands keep from run to run: the same answers, told where, and done without when asked to.

#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <sys/resource.h>

#include <thread>

#include "run_command.h"
#include "schema_check.h"

namespace holdfast {
namespace {

namespace fs = std::filesystem;
using nlohmann::json;
using support::contents_of;
using support::Ran;
using testing::HasSubstr;
using testing::StartsWith;
using Words = std::vector<std::string>;

const fs::path source = HOLDFAST_SOURCE_DIR;

class CommandStore : public testing::Test {
 protected:
  CommandStore() : folder_(fs::temp_directory_path() / ("holdfast-command-store-" + std::to_string(::getpid()))) {
    fs::remove_all(folder_);
    fs::create_directories(folder_);
  }
  ~CommandStore() override { fs::remove_all(folder_); }
  [[nodiscard]] Ran holdfast(const Words& words) const {
    return support::run_command(HOLDFAST_COMMAND, words, {source, {"XDG_CACHE_HOME=" + folder_.string()}});
  }
  [[nodiscard]] fs::path kept() const { return folder_ / "holdfast"; }
  [[nodiscard]] std::map<std::string, std::string> entries() const {
    std::map<std::string, std::string> all;
    if (fs::exists(kept()))
      for (const auto& file : fs::directory_iterator(kept())) all[file.path().filename()] = contents_of(file.path());
    return all;
  }
  const fs::path folder_;
};

const Words question = {"route", "models/yard", "--from", "lock-hatch", "--to", "dish-service", "--json"};

TEST_F(CommandStore, GivesTheSameBytesKeptOrNot) {
  Words without = question;
  without.emplace_back("--no-cache");
  const auto plain = holdfast(without);
  EXPECT_EQ(plain.code, 0);
  EXPECT_FALSE(fs::exists(kept())) << "nothing is kept when that is not to be";
  EXPECT_EQ(holdfast(question).out, plain.out) << "the first time";
  const auto sound = entries();
  EXPECT_FALSE(sound.empty());
  EXPECT_EQ(holdfast(question).out, plain.out) << "the second time";
  EXPECT_EQ(entries(), sound);
  for (const auto& [name, bytes] : sound) std::ofstream(kept() / name) << "damaged";
  const auto again = holdfast(question);
  EXPECT_EQ(again.out, plain.out) << "damaged";
  EXPECT_EQ(again.err, "") << "told on terminals alone";
  EXPECT_EQ(entries(), sound) << "written afresh";
  EXPECT_EQ(holdfast(without).out, plain.out);
}

TEST_F(CommandStore, IsNotUsedForAModelThatWasEdited) {
  const fs::path model = folder_ / "model";
  fs::copy(source / "tests/cli/models/deck", model);
  const auto ask = [&](bool is_kept) {
    Words words = {"route", model.string(), "--from", "hatch", "--to", "bench"};
    if (!is_kept) words.emplace_back("--no-cache");
    return holdfast(words).out;
  };
  EXPECT_EQ(ask(true), ask(false));
  std::string yaml = contents_of(model / "structure.yaml");
  const auto at = yaml.find("points: [[");
  ASSERT_NE(at, std::string::npos);
  yaml.insert(yaml.find(',', at), ".05");  // another first coordinate of the first rail
  std::ofstream(model / "structure.yaml") << yaml;
  EXPECT_EQ(ask(true), ask(false));
}

TEST_F(CommandStore, TellsWhereItIsAndWhatItHolds) {
  const auto empty = json::parse(holdfast({"check", "models/yard", "--store", "--json"}).out);
  EXPECT_EQ(support::schema_faults("result", empty), "");
  EXPECT_EQ(empty["entries"], 0);
  EXPECT_EQ(empty["folder"], kept().string());
  (void)holdfast(question);
  const auto full = json::parse(holdfast({"check", "models/yard", "--store", "--json"}).out);
  EXPECT_EQ(support::schema_faults("result", full), "");
  EXPECT_EQ(full["entries"], entries().size());
  EXPECT_EQ(full["kinds"]["graph"], 1);
  EXPECT_EQ(full["unusable"], 0);
  std::uintmax_t bytes = 0;
  for (const auto& [name, contents] : entries()) bytes += contents.size();
  EXPECT_EQ(full["bytes"], bytes);
  std::ofstream(kept() / entries().begin()->first) << "damaged";
  const auto text = holdfast({"check", "models/yard", "--store"});
  EXPECT_EQ(text.code, 0);
  EXPECT_THAT(text.out, StartsWith("Kept from run to run in " + kept().string() + "\n"));
  EXPECT_THAT(text.out, HasSubstr("\n     1  handrail graphs\n"));
  EXPECT_THAT(text.out, HasSubstr("\n1 of them is damaged or cut short, and not used: "));
  const auto table = folder_ / "kinds.csv";
  EXPECT_EQ(holdfast({"check", "models/yard", "--store", "--csv", table.string()}).code, 0);
  EXPECT_THAT(contents_of(table), StartsWith("kind,entries\r\n"));
  EXPECT_EQ(holdfast({"check", "models/nowhere", "--store"}).code, 2) << "a model that is not there is told";
  const auto homeless = support::run_command(HOLDFAST_COMMAND, {"check", "models/yard", "--store"}, {source});
  EXPECT_THAT(homeless.out, StartsWith("Nothing is kept from run to run: "));
}

TEST_F(CommandStore, IsAnOptionOfEveryVerb) {
  for (const char* verb : {"check", "route", "compare", "cable", "tether", "home", "matrix", "reach", "sight", "plan",
                           "order", "rails", "draw"})
    EXPECT_THAT(holdfast({verb, "--help"}).out, HasSubstr("--no-cache")) << verb;
}

TEST_F(CommandStore, IsSharedByCommandsThatRunAtOnce) {
  Words without = question;
  without.emplace_back("--no-cache");
  const auto plain = holdfast(without).out;
  for (int turn = 0; turn < 3; ++turn) {
    std::vector<std::thread> running;
    for (int i = 0; i < 3; ++i) running.emplace_back([&] { EXPECT_EQ(holdfast(question).out, plain); });
    for (auto& one : running) one.join();
    if (turn == 1) fs::remove_all(kept());
  }
  const auto usage = json::parse(holdfast({"check", "models/yard", "--store", "--json"}).out);
  EXPECT_EQ(usage["unusable"], 0);
  EXPECT_EQ(usage["kinds"]["graph"], 1);
}

TEST_F(CommandStore, IsDoneWithoutWhereItCannotBe) {
  Words without = question;
  without.emplace_back("--no-cache");
  const auto plain = holdfast(without);
  std::ofstream(folder_ / "holdfast") << "a file where the folder would be";
  const auto blocked = holdfast(question);
  EXPECT_EQ(std::tie(blocked.code, blocked.out, blocked.err), std::tie(plain.code, plain.out, plain.err));
  const auto nowhere = support::run_command(HOLDFAST_COMMAND, question, {source, {"XDG_CACHE_HOME=/proc/nowhere"}});
  EXPECT_EQ(std::tie(nowhere.code, nowhere.out, nowhere.err), std::tie(plain.code, plain.out, plain.err));
}

}  // namespace
}  // namespace holdfast
