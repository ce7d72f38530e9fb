// SPDX-License-Identifier: GPL-3.0-or-later
// The verbs `order` and `plan` as a person runs them: what one writes the other runs, and what neither takes.

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

/// Files of a test's own, and the command run beside them.
class Desk {
 public:
  explicit Desk(const std::string& name) : scratch_(name, source) {}
  support::Ran holdfast(const Words& words) const {
    return support::run_command(HOLDFAST_COMMAND, words, {scratch_.folder()});
  }
  void write(const std::string& file, const std::string& text) const {
    std::ofstream(scratch_.folder() / file, std::ios::binary) << text;
  }
  [[nodiscard]] fs::path at(const std::string& file) const { return scratch_.folder() / file; }
  void expect_refused(const Words& words, const std::string& message) const {
    SCOPED_TRACE(testing::PrintToString(words));
    const auto ran = holdfast(words);
    EXPECT_EQ(ran.code, 2);
    EXPECT_EQ(ran.out, "");
    EXPECT_THAT(ran.err, HasSubstr(message));
  }

 private:
  support::Scratch scratch_;
};

const char* const head = "holdfast: excursion/1\nlimit: 3 h\ncrew:\n  - {id: EV1, start: lock-hatch}\n";

TEST(CommandOrder, WritesAFileThatPlanRunsToTheFiguresTold) {
  const Desk desk("order");
  const auto told =
      desk.holdfast({"order", "models/yard", "excursion-tasks.yaml", "--write", "ordered.yaml", "--json"});
  EXPECT_EQ(told.code, 0) << told.err << told.out;
  const auto order = json::parse(told.out);
  EXPECT_EQ(support::schema_faults("result", order), "");
  const auto ran = desk.holdfast({"plan", "models/yard", "ordered.yaml", "--json"});
  EXPECT_EQ(ran.code, 0) << ran.err;
  const auto plan = json::parse(ran.out);
  EXPECT_EQ(plan["finish_s"], order["finish_s"]);
  EXPECT_EQ(plan["margin_s"], order["margin_s"]);
  for (std::size_t c = 0; c < 2; ++c) {
    EXPECT_EQ(plan["crew"][c]["inside_at_s"], order["crew"][c]["inside_at_s"]);
    EXPECT_EQ(plan["crew"][c]["moves"], order["crew"][c]["moves"]);
    for (const auto& action : order["crew"][c]["actions"]) {
      const auto is_row = [&](const json& row) {
        return row["crew"] == order["crew"][c]["id"] && row["what"] == action["what"] &&
               row["from_s"] == action["from_s"] && row["to_s"] == action["to_s"];
      };
      EXPECT_TRUE(std::any_of(plan["rows"].begin(), plan["rows"].end(), is_row)) << action;
    }
  }
}

TEST(CommandOrder, IsTheSameOnAnyNumberOfThreadsAndWhenOrderedAgain) {
  const Desk desk("order-threads");
  desk.write("three.yaml",
             std::string(head) +
                 "tasks: [{id: a, at: port-window, duration: 5 min}, {id: b, at: locker, duration: 4 min}, "
                 "{id: c, at: mast-foot, duration: 3 min, after: [a]}]\n");
  const auto with = [&](const char* threads) {
    return desk.holdfast({"order", "models/yard", "three.yaml", "--json", "--threads", threads, "--write", "o.yaml"})
        .out;
  };
  const auto one = with("1");
  EXPECT_GT(one.size(), 1000U);
  EXPECT_EQ(one, with("2"));
  const auto again = desk.holdfast({"order", "models/yard", "o.yaml", "--again", "--json"});
  EXPECT_EQ(json::parse(again.out)["finish_s"], json::parse(one)["finish_s"]);
}

TEST(CommandOrder, LeavesBeginAndEndAsTheyAre) {
  const Desk desk("begin-end");
  desk.write(
      "fixed.yaml",
      "holdfast: excursion/1\nlimit: 3 h\ncrew:\n"
      "  - {id: EV1, start: lock-hatch, begin: [{take: tools}], end: [{go: locker}, {put: tools}, return]}\n"
      "items: [{id: tools, load: tool-bag, at: lock-hatch, home: locker}]\n"
      "tasks: [{id: mast, at: mast-foot, duration: 5 min, needs: {items: [tools]}}, {id: window, at: port-window, "
      "duration: 4 min}]\n");
  const auto told = desk.holdfast({"order", "models/yard", "fixed.yaml", "--write", "ordered.yaml", "--json"});
  EXPECT_EQ(told.code, 0) << told.err << told.out;
  std::ifstream in(desk.at("ordered.yaml"));
  const std::string written{std::istreambuf_iterator<char>(in), {}};
  EXPECT_THAT(written, HasSubstr("    begin:\n      - take: tools\n    sequence:\n"));
  EXPECT_THAT(written, HasSubstr("    end:\n      - go: locker\n      - put: tools\n      - return\n"));
  const auto ran = desk.holdfast({"plan", "models/yard", "ordered.yaml", "--json"});
  EXPECT_EQ(ran.code, 0) << ran.err;
  EXPECT_EQ(json::parse(ran.out)["finish_s"], json::parse(told.out)["finish_s"]);
  desk.expect_refused({"order", "models/yard", "ordered.yaml"}, "has a sequence already");
  const auto again = desk.holdfast({"order", "models/yard", "ordered.yaml", "--again", "--json"});
  EXPECT_EQ(again.code, 0) << again.err;
  EXPECT_EQ(json::parse(again.out)["finish_s"], json::parse(told.out)["finish_s"]);
}

TEST(CommandOrder, ExitsOneWithCausesWhereThereIsNoOrder) {
  const Desk desk("order-none");
  desk.write("late.yaml", std::string(head) + "tasks: [{id: long, at: locker, duration: 4 h}]\n");
  desk.write(
      "circle.yaml",
      std::string(head) + "tasks: [{id: a, duration: 1 min, after: [b]}, {id: b, duration: 1 min, after: [a]}]\n");
  const auto late = desk.holdfast({"order", "models/yard", "late.yaml"});
  EXPECT_EQ(late.code, 1);
  EXPECT_THAT(late.out, HasSubstr("no order is inside before 4:"));
  EXPECT_THAT(late.out, HasSubstr("the limit is 3:00:00"));
  EXPECT_THAT(late.out, HasSubstr("Remedy: "));
  const auto circle = desk.holdfast({"order", "models/yard", "circle.yaml", "--write", "none.yaml"});
  EXPECT_EQ(circle.code, 1);
  EXPECT_THAT(circle.out, HasSubstr("NO ORDER."));
  EXPECT_THAT(circle.out, HasSubstr("in a circle"));
  EXPECT_FALSE(fs::exists(desk.at("none.yaml"))) << "nothing to write";
  for (const char* file : {"late.yaml", "circle.yaml"}) {
    const auto ran = desk.holdfast({"order", "models/yard", file, "--json"});
    EXPECT_EQ(ran.code, 1);
    EXPECT_EQ(support::schema_faults("result", json::parse(ran.out)), "");
  }
}

TEST(CommandOrder, RefusesWhatItDoesNotUnderstand) {
  const Desk desk("order-bad");
  desk.write("sequence.yaml",
             "holdfast: excursion/1\ncrew:\n  - {id: EV1, start: lock-hatch, sequence: [{do: a}]}\n"
             "tasks: [{id: a, duration: 1 min}]\n");
  desk.write("words.yaml", std::string(head) +
                               "tasks: [{id: a, at: lokcer, duration: .inf}, {id: a, duration: -5 min}, "
                               "{id: c, duration: .nan, needs: {items: [bag]}}]\n");
  std::string many = "holdfast: excursion/1\ncrew:\n  - id: EV1\n    start: lock-hatch\n    sequence:\n";
  for (int i = 0; i < 100'000; ++i) many += "      - {go: locker}\n";
  desk.write("many.yaml", many);
  std::string tasks = std::string(head) + "tasks:\n";
  for (int i = 0; i < 65; ++i) tasks += "  - {id: t" + std::to_string(i) + ", duration: 1 min}\n";
  desk.write("tasks.yaml", tasks);
  desk.expect_refused({"order", "models/yard", "sequence.yaml"},
                      "sequence.yaml:3:5: crew member \"EV1\" has a sequence already\n    give --again");
  for (const char* verb : {"order", "plan"}) {
    const auto ran = desk.holdfast({verb, "models/yard", "words.yaml"});
    EXPECT_EQ(ran.code, 2);
    for (const char* fault : {"\"tasks[0].duration\" is \".inf\"", "did you mean \"locker\"?", "is \"-5 min\"",
                              "a time here is not negative", "task \"a\" is already there",
                              "\"tasks[2].duration\" is \".nan\"", "item \"bag\" does not exist"})
      EXPECT_THAT(ran.err, HasSubstr(fault)) << verb;
    desk.expect_refused({verb, "models/yard", "many.yaml"}, "a sequence of 100000 actions\n    at most 20000");
    desk.expect_refused({verb, "models/yard", "nowhere.yaml"}, "nowhere.yaml");
    desk.expect_refused({verb, "models/yard", "excursion-tasks.yaml", "--slower", "EV3=2"},
                        "crew member \"EV3\" is not in this excursion");
    desk.expect_refused({verb, "models/yard", "excursion-tasks.yaml", "--longer", "valve-forward=nan"},
                        "write minutes, 0 to 1440");
    desk.expect_refused({verb, "models/yard", "excursion-tasks.yaml", "--load-change", "tools"},
                        "write --load-change ITEM=LOAD");
    desk.expect_refused({verb, "models/yard", "tasks.yaml", "--csv", "tasks.yaml"}, "would write over");
  }
  desk.expect_refused({"order", "models/yard", "tasks.yaml"}, "at most 64; order the excursion in pieces");
  desk.expect_refused({"order", "models/yard", "excursion-tasks.yaml", "--write", "models/yard/excursion-tasks.yaml"},
                      "would write over");
  desk.expect_refused({"order", "models/yard", "excursion-tasks.yaml", "--write", "/nowhere/x.yaml"},
                      "this file cannot be written");
}

TEST(CommandPlan, ComparesWithAnEarlierResult) {
  const Desk desk("plan-compare");
  const Words plan = {"plan", "models/yard", "excursion-short.yaml"};
  const auto with = [&](Words more) {
    Words words = plan;
    words.insert(words.end(), more.begin(), more.end());
    return desk.holdfast(words);
  };
  desk.write("before.json", with({"--json"}).out);
  const auto same = with({"--compare", "before.json"});
  EXPECT_EQ(same.code, 0) << same.err;
  EXPECT_THAT(same.out, HasSubstr("Every row is at the same time."));
  const auto later = with({"--longer", "check-window=30", "--compare", "before.json"});
  EXPECT_THAT(later.out, HasSubstr("What if: nothing then, --longer check-window=30 now."));
  EXPECT_THAT(later.out, HasSubstr("+0:30:00"));
  const auto document = json::parse(with({"--slower", "EV1=1.5", "--compare", "before.json", "--json"}).out);
  EXPECT_EQ(support::schema_faults("result", document), "");
  EXPECT_FALSE(document["compared"]["moved"].empty());
  // What is no plan of this model.
  desk.write("route.json",
             desk.holdfast({"route", "models/yard", "--from", "lock-hatch", "--to", "hub-top", "--json"}).out);
  desk.write("note.json", "{\"a\": 1}");
  Words words = plan;
  words.insert(words.end(), {"--compare", ""});
  for (const auto& [file, message] : std::vector<std::pair<std::string, std::string>>{
           {"route.json", "this is a result of `holdfast route`, not of `holdfast plan`"},
           {"note.json", "this is not a result of holdfast"},
           {"models/yard/kit.yaml", "this is not JSON"},
           {"nowhere.json", "this file cannot be read"}}) {
    words.back() = file;
    desk.expect_refused(words, message);
  }
  fs::create_directories(desk.at("other"));
  for (const char* file : {"kit.yaml", "rack-rails.csv", "rack.obj", "excursion-short.yaml"})
    fs::copy_file(source / "models/yard" / file, desk.at("other") / file);
  desk.write("other/structure.yaml", support::contents_of(source / "models/yard/structure.yaml") + "\n# changed\n");
  desk.expect_refused({"plan", "other", "excursion-short.yaml", "--compare", "before.json"},
                      "it was computed from another structure");
  desk.expect_refused(
      {"plan", "models/yard", "excursion-short.yaml", "--compare", "before.json", "--csv", "before.json"},
      "would write over");
}

TEST(CommandPlan, ShowsWaypointsOnDemand) {
  const Desk desk("plan-waypoints");
  EXPECT_THAT(desk.holdfast({"plan", "models/yard", "excursion-short.yaml", "--waypoints"}).out,
              HasSubstr("Waypoints: when a hand first takes each rail\n"));
}

}  // namespace
}  // namespace holdfast
