// SPDX-License-Identifier: GPL-3.0-or-later
// Cables laid in stages as a person does it: `cable` to a place, on from its file, and excursions that lay them.

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <filesystem>
#include <fstream>

#include "run_command.h"
#include "schema_check.h"

namespace holdfast {
namespace {

namespace fs = std::filesystem;
using nlohmann::json;
using testing::HasSubstr;

using Words = std::vector<std::string>;
const fs::path source = HOLDFAST_SOURCE_DIR;

class Stages : public testing::Test {
 protected:
  support::Ran holdfast(const Words& words) const {
    return support::run_command(HOLDFAST_COMMAND, words, {scratch_.folder()});
  }
  json document(Words words, int code) const {
    words.emplace_back("--json");
    const auto ran = holdfast(words);
    EXPECT_EQ(ran.code, code) << ran.err;
    const auto answer = json::parse(ran.out);
    EXPECT_EQ(support::schema_faults("result", answer), "");
    return answer;
  }
  void save(const std::string& file, const std::string& text) const {
    std::ofstream(scratch_.folder() / file, std::ios::binary) << text;
  }
  void expect_refused(const Words& words, const std::string& message) const {
    const auto ran = holdfast(words);
    EXPECT_EQ(ran.code, 2) << ran.out;
    EXPECT_THAT(ran.err, HasSubstr(message));
  }
  [[nodiscard]] fs::path at(const std::string& file) const { return scratch_.folder() / file; }
  support::Scratch scratch_{"stages", source};
};

const Words cable = {"cable", "models/yard", "--cable", "port-power"};
Words with(Words words, const Words& more) {
  words.insert(words.end(), more.begin(), more.end());
  return words;
}

TEST_F(Stages, ARunEndsInACoilAndIsGoneOnFrom) {
  const Words first = with(cable, {"--from", "stores-plug", "--to", "mast-foot"});
  const auto stage = document(first, 0);
  EXPECT_EQ(stage["outcome"], "coiled");
  const auto& coil = stage["coil"];
  EXPECT_NEAR(coil["used_m"].get<double>() + coil["left_m"].get<double>(),
              stage["cable"]["least_length_m"].get<double>(), 2e-6);
  ASSERT_GE(coil["onward"].size(), 2u);
  EXPECT_EQ(coil["onward"][0]["connector"], "port-plug");
  EXPECT_EQ(coil["onward"][0]["in_kit"], true);
  save("first.json", stage.dump());
  const auto whole = document(with(cable, {"--laid", "first.json", "--to", "port-plug"}), 0);
  EXPECT_EQ(whole["outcome"], "long-enough");
  EXPECT_NEAR(whole["required_m"].get<double>(), coil["onward"][0]["required_m"].get<double>(), 1e-4);
  const auto direct = document(with(cable, {"--from", "stores-plug", "--to", "port-plug"}), 0);
  EXPECT_GE(whole["required_m"].get<double>(), direct["required_m"].get<double>() - 1e-5);
  std::size_t laid = 0;
  for (const auto& tie : whole["ties"]) laid += tie["laid_before"].get<bool>() ? 1 : 0;
  EXPECT_EQ(laid, stage["ties"].size());
  // In words, and drawn.
  const auto text = holdfast(first).out;
  EXPECT_THAT(text, HasSubstr("LONG ENOUGH to mast-foot: "));
  EXPECT_THAT(text, HasSubstr("  Coil "));
  EXPECT_THAT(text, HasSubstr("enough for port-plug (in the kit), margin "));
  EXPECT_THAT(text, HasSubstr("coil the rest and tie it"));
  const auto on = holdfast(with(cable, {"--laid", "first.json", "--to", "port-plug"})).out;
  EXPECT_THAT(on, HasSubstr("cable port-power going on from its coil"));
  EXPECT_THAT(on, HasSubstr("take up the coil at tie "));
  save("whole.json", whole.dump());
  for (const char* file : {"first.json", "whole.json"})
    EXPECT_EQ(holdfast({"draw", "models/yard", file, "--svg", "stage.svg", "--html", "stage.html"}).code, 0) << file;
  EXPECT_EQ(holdfast(with(first, {"--csv", "ties.csv"})).code, 0);
}

TEST_F(Stages, OtherCablesKeepOffTheCoil) {
  const auto stage = document(with(cable, {"--from", "stores-plug", "--to", "mast-foot"}), 0);
  save("first.json", stage.dump());
  const auto other = document({"cable", "models/yard", "--cable", "power-long", "--from", "stores-plug", "--to",
                               "hub-plug", "--laid", "first.json"},
                              0);
  EXPECT_EQ(other["request"]["laid"], (Words{"port-power", "port-power (coil)"}));
}

TEST_F(Stages, RefuseWhatIsNoCoil) {
  save("way.json", holdfast(with(cable, {"--from", "stores-plug", "--to", "port-plug", "--json"})).out);
  save("first.json", holdfast(with(cable, {"--from", "stores-plug", "--to", "mast-foot", "--json"})).out);
  expect_refused(with(cable, {"--from", "mast-foot", "--to", "port-plug"}), "place \"mast-foot\" is no connector");
  expect_refused(with(cable, {"--laid", "first.json"}), "--to is required");
  expect_refused(with(cable, {"--laid", "first.json", "--from", "lock-hatch", "--to", "port-plug"}),
                 "which is not at \"lock-hatch\"");
  expect_refused(with(cable, {"--laid", "first.json", "--laid", "first.json", "--to", "port-plug"}),
                 "cannot go on from two coils");
  expect_refused(with(cable, {"--from", "stores-plug", "--to", "mast-fot"}), "is not in this model");
}

const char* const head =
    "holdfast: excursion/1\nlimit: 5 h\ncrew:\n  - id: EV1\n    start: lock-hatch\n    sequence:\n";

TEST_F(Stages, AnExcursionGoesOnFromTheCoilOfAnEarlierOne) {
  save("first.json", holdfast(with(cable, {"--from", "stores-plug", "--to", "mast-foot", "--json"})).out);
  save("on.yaml", std::string(head) +
                      "      - {lay: power, to: port-plug}\n      - go: lock-hatch\n      - return\n"
                      "items:\n  - {id: power, cable: port-power, load: tool-bag, laid: first.json}\n");
  const auto plan = document({"plan", "models/yard", "on.yaml"}, 0);
  ASSERT_EQ(plan["cables"].size(), 1u);
  EXPECT_EQ(plan["cables"][0]["connected"], true);
  EXPECT_EQ(plan["cables"][0]["to"], "port-plug");
  save("plan.json", plan.dump());
  EXPECT_EQ(holdfast({"draw", "models/yard", "plan.json", "--cards", "cards.html", "--timeline", "time.svg", "--html",
                      "page.html"})
                .code,
            0);
  const auto text = holdfast({"plan", "models/yard", "on.yaml"}).out;
  EXPECT_THAT(text, HasSubstr("lay power: take up its coil, "));
  EXPECT_THAT(text, HasSubstr("Cables at the end\n"));
  EXPECT_EQ(holdfast({"plan", "models/yard", "on.yaml", "--csv", "plan.csv"}).code, 0);
  expect_refused({"order", "models/yard", "on.yaml", "--again"}, "which order does not put in its place");
  save("off.yaml",
       std::string(head) +
           "      - return\nitems:\n  - {id: power, cable: power-long, load: tool-bag, laid: first.json}\n");
  expect_refused({"plan", "models/yard", "off.yaml"}, "does not lay cable power-long as far as a coil");
}

}  // namespace
}  // namespace holdfast
