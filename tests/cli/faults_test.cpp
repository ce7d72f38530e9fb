// SPDX-License-Identifier: GPL-3.0-or-later
// Every verb that writes, with every call that writes failing, cut short or met by a signal, one after the other
// (fault_shim.cpp): the old file or the whole new one is there, nothing is left beside it, and the next run is as if
// nothing had been. And several processes on one store.

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <csignal>
#include <map>

#include "run_command.h"

namespace holdfast::faults {
namespace {

namespace fs = std::filesystem;
using support::contents_of;
using support::Ran;
using support::run_command;

const fs::path source = HOLDFAST_SOURCE_DIR;

/// A folder with a small model, and `out/`, where all that is asked for is written.
class Folder {
 public:
  explicit Folder(const std::string& name) : scratch_("faults-" + name, source) {
    fs::copy(source / "tests/fuzz/model", path() / "model", fs::copy_options::recursive);
    fs::copy_file(source / "tests/fuzz/block.obj", path() / "block.obj");
    fs::copy_file(source / "tests/fuzz/seeds/result/plan", path() / "plan.json");
    fs::copy_file(source / "tests/fuzz/seeds/result/route", path() / "route.json");
    std::ofstream(path() / "model/tasks.yaml")
        << "holdfast: excursion/1\nname: To be put in order\nlimit: 3 h\ncrew:\n  - {id: EV1, start: hatch}\ntasks:\n"
           "  - {id: look, at: shelf, duration: 5 min}\n  - {id: turn, at: bench, duration: 12 min}\n";
  }
  [[nodiscard]] const fs::path& path() const { return scratch_.folder(); }

  /// `cache`: what is kept is kept in this folder.
  [[nodiscard]] Ran run(const std::vector<std::string>& words, const std::vector<std::string>& environment = {},
                        const std::string& cache = "cache") const {
    auto all = environment;
    all.push_back("XDG_CACHE_HOME=" + (path() / cache).string());
    return run_command(HOLDFAST_COMMAND, words, {path(), all});
  }
  void empty() const {
    fs::remove_all(path() / "out");
    fs::create_directories(path() / "out");
  }
  /// File -> bytes of all that was written.
  [[nodiscard]] std::map<std::string, std::string> written() const {
    std::map<std::string, std::string> files;
    for (const auto& entry : fs::recursive_directory_iterator(path() / "out"))
      if (entry.is_regular_file())
        files[fs::relative(entry.path(), path() / "out").string()] = contents_of(entry.path());
    return files;
  }
  [[nodiscard]] int left_overs() const {
    int count = 0;
    for (const auto& entry : fs::recursive_directory_iterator(path()))
      if (entry.path().filename().string().starts_with(".holdfast-")) ++count;
    return count;
  }

 private:
  support::Scratch scratch_;
};

struct Verb {
  std::string name;
  std::vector<std::string> words;
  std::string target = "a";  ///< in out/; empty: a folder that must not be there before
};
void PrintTo(const Verb& verb, std::ostream* out) { *out << verb.name; }

std::vector<Verb> verbs() {
  const std::vector<std::string> ends = {"model", "--from", "hatch", "--to", "bench"};
  const auto with_csv = [&](std::vector<std::string> words, bool has_ends = false) {
    if (has_ends) words.insert(words.end(), ends.begin(), ends.end());
    words.insert(words.end(), {"--csv", "out/a"});
    return words;
  };
  return {{"route", with_csv({"route"}, true)},
          {"compare", with_csv({"compare"}, true)},
          {"home", with_csv({"home", "model", "--to", "hatch"})},
          {"matrix", with_csv({"matrix", "model"})},
          {"tether", with_csv({"tether", "--tether", "reel", "--anchor", "hook"}, true)},
          {"cable", with_csv({"cable", "model", "--cable", "cord", "--from", "plug-a", "--to", "plug-b"})},
          {"reach", with_csv({"reach", "model", "seat", "--for", "bench"})},
          {"sight", with_csv({"sight", "model"})},
          {"plan", with_csv({"plan", "model", "model/excursion.yaml"})},
          {"order", {"order", "model", "model/tasks.yaml", "--write", "out/a"}},
          {"rails_table", {"rails", "block.obj", "--write", "out/a"}},
          {"rails_mesh", {"rails", "block.obj", "--without-rails", "out/a.obj"}, "a.obj"},
          {"rails_model", {"rails", "block.obj", "--write-model", "out/m"}, ""},
          {"draw_page", {"draw", "model", "route.json", "--html", "out/a"}},
          {"draw_sheet", {"draw", "model", "route.json", "--svg", "out/a"}},
          {"draw_model", {"draw", "model", "route.json", "--glb", "out/a"}},
          {"draw_cards", {"draw", "model", "plan.json", "--cards", "out/a"}},
          {"draw_timeline", {"draw", "model", "plan.json", "--timeline", "out/a"}}};
}

class EveryVerb : public testing::TestWithParam<Verb> {
 protected:
  // Who starts the tests in the background ignores some of them, and so does what is started.
  static void SetUpTestSuite() {
    for (const int signal : {SIGINT, SIGTERM, SIGHUP}) ::signal(signal, SIG_DFL);
  }
};

TEST_P(EveryVerb, LeavesTheOldFileOrTheWholeNewOneWhateverFails) {
  const Verb verb = GetParam();
  const Folder folder(verb.name);
  folder.empty();
  const auto usual = folder.run(verb.words, {}, "cache-whole");
  ASSERT_LE(usual.code, 1) << usual.err;
  const auto whole = folder.written();
  ASSERT_FALSE(whole.empty());
  const char* const names[] = {"SIGINT", "SIGTERM", "SIGHUP"};
  int met = 0;
  for (const bool is_named : {false, true})  // a file system without files that have no name
    for (const std::string call : {"write", "fsync", "linkat", "rename"}) {
      if (is_named && (call == "fsync" || call == "linkat")) continue;  // as before, and not called
      for (int at = 1; at < 40; ++at) {
        // Which of the faults come together differs from verb to verb.
        const std::size_t turn = verb.name.size() + call.size() + static_cast<std::size_t>(at) + (is_named ? 1 : 0);
        std::vector<std::string> faults = {"EIO", turn % 2 == 0 ? "SIGKILL" : names[turn / 2 % 3]};
        if (call == "write") faults.emplace_back(turn % 2 == 0 ? "ENOSPC" : "SHORT");
        bool is_met = false;
        for (const auto& as : faults) {
          SCOPED_TRACE(call + " " + std::to_string(at) + " " + as + (is_named ? ", named" : ""));
          const bool has_old = !verb.target.empty() && at % 2 == 1;
          folder.empty();
          fs::remove_all(folder.path() / "cache");
          fs::remove(folder.path() / "met");
          if (has_old) std::ofstream(folder.path() / "out" / verb.target) << "old";
          std::vector<std::string> environment = {"LD_PRELOAD=" + std::string(HOLDFAST_FAULT_SHIM),
                                                  "FAULT_CALL=" + call, "FAULT_AT=" + std::to_string(at),
                                                  "FAULT_AS=" + as, "FAULT_MARK=" + (folder.path() / "met").string()};
          if (is_named) environment.emplace_back("FAULT_NAMED=yes");
          const auto ran = folder.run(verb.words, environment);
          if (!fs::exists(folder.path() / "met")) break;
          is_met = true, ++met;
          const bool is_signal = as.starts_with("SIG");
          // What cannot be kept for the next run is no fault of the question.
          if (is_signal)
            ASSERT_GT(ran.code, 128) << ran.err;
          else if (as == "SHORT")
            ASSERT_EQ(ran.code, usual.code) << ran.err;
          else
            ASSERT_TRUE(ran.code == usual.code || ran.code == 2) << ran.code << ' ' << ran.err;
          if (ran.code == 2) ASSERT_THAT(ran.err, testing::HasSubstr("cannot be written")) << ran.err;
          const auto now = folder.written();
          for (const auto& [file, bytes] : now)
            if (!file.starts_with(".holdfast-") && file.find("/.holdfast-") == std::string::npos)
              ASSERT_TRUE((whole.count(file) && bytes == whole.at(file)) || (has_old && bytes == "old"))
                  << file << ": " << bytes.size() << " bytes";
          if (ran.code == usual.code) ASSERT_EQ(now, whole);
          if (as != "SIGKILL") ASSERT_EQ(folder.left_overs(), 0);
          if (is_signal && at == 1) {  // and the next run does its work
            if (verb.target.empty()) folder.empty();
            ASSERT_EQ(folder.run(verb.words).code, usual.code);
            for (const auto& [file, bytes] : whole) ASSERT_EQ(contents_of(folder.path() / "out" / file), bytes);
          }
        }
        if (!is_met) break;
      }
    }
  EXPECT_GE(met, 10) << "nothing was met";
}

INSTANTIATE_TEST_SUITE_P(Faults, EveryVerb, testing::ValuesIn(verbs()),
                         [](const auto& verb) { return verb.param.name; });

TEST(OneStore, IsSharedByProcessesAtOnceAndByThoseThatAreKilled) {
  const Folder folder("store");
  const std::vector<std::string> questions = {"route model --from hatch --to bench --json",
                                              "cable model --cable cord --from plug-a --to plug-b --json",
                                              "home model --to hatch --json", "plan model model/excursion.yaml --json"};
  std::vector<std::string> answers;
  const std::string command = HOLDFAST_COMMAND;
  for (const auto& question : questions) {
    answers.push_back(run_command("/bin/sh", {"-c", command + " " + question + " --no-cache"}, {folder.path()}).out);
    ASSERT_FALSE(answers.back().empty());
  }
  for (int round = 0; round < 6; ++round) {
    SCOPED_TRACE(round);
    if (round % 2 == 0) fs::remove_all(folder.path() / "cache");
    std::string line = "export XDG_CACHE_HOME=$PWD/cache; ";
    // One more that dies as it writes its n-th entry.
    line += "LD_PRELOAD=" + std::string(HOLDFAST_FAULT_SHIM) +
            " FAULT_MARK=met FAULT_CALL=" + (round % 3 == 0 ? "linkat" : "write") +
            " FAULT_AT=" + std::to_string(1 + round / 2) + " FAULT_AS=SIGKILL " + command + " " + questions[0] +
            " > /dev/null 2>&1 & ";
    for (std::size_t q = 0; q < questions.size(); ++q)
      for (const char* twin : {"a", "b"})
        line += command + " " + questions[q] + " > " + std::to_string(q) + twin + " & ";
    ASSERT_EQ(run_command("/bin/sh", {"-c", line + "wait"}, {folder.path()}).err, "");
    for (std::size_t q = 0; q < questions.size(); ++q)
      for (const char* twin : {"a", "b"})
        EXPECT_EQ(contents_of(folder.path() / (std::to_string(q) + twin)), answers[q]) << questions[q];
  }
  const auto check = folder.run({"check", "model", "--store"});
  EXPECT_EQ(check.out.find("damaged"), std::string::npos) << check.out;
}

}  // namespace
}  // namespace holdfast::faults
