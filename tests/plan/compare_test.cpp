// SPDX-License-Identifier: GPL-3.0-or-later
// Two plans told apart, through the result that is printed.

#include "holdfast/plan/compare.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <nlohmann/json.hpp>

#include "holdfast/report/plan.h"
#include "holdfast/report/plan_compare.h"
#include "small_model.h"

namespace holdfast::plan {
namespace {

using testing::ElementsAre;
using testing::HasSubstr;
using testing::IsEmpty;
using testing::Not;

const model::Model& line() {
  static const model::Model model = sample::line_model();
  return model;
}

report::Context context() { return {line().structure, line().kit, line().kit.suits.front(), "line", "test"}; }

const char* text_of_plan =
    "limit: 30 min\ncrew: [{id: A, start: hatch, sequence: [{do: near}, {do: far, id: big-one}, {do: last}]}]\n"
    "tasks: [{id: near, at: depot, duration: 5 min}, {id: far, at: end, duration: 5 min}, "
    "{id: last, at: depot, duration: 2 min, optional: {priority: 1}}]\n";

struct Made {
  std::unique_ptr<model::Excursion> excursion;
  Plan plan;
  std::string json;
};

Made made(const std::string& text, const PlanOptions& options = {}) {
  Made out;
  out.excursion = std::make_unique<model::Excursion>(sample::excursion(line(), text));
  out.plan = sample::run(line(), *out.excursion, options);
  out.json = report::json(context(), out.plan);
  return out;
}

PlanChanges changes(const Made& before, const Made& after) {
  return compare(report::read_plan("before.json", before.json, line().structure, line().kit),
                 report::figures_of(context(), after.plan));
}

TEST(PlanCompare, OfAPlanWithItselfFindsNothing) {
  const auto plan = made(text_of_plan);
  const auto c = changes(plan, plan);
  EXPECT_THAT(c.moved, IsEmpty());
  EXPECT_THAT(c.gone, IsEmpty());
  EXPECT_THAT(c.added, IsEmpty());
  EXPECT_EQ(c.unmoved, plan.plan.rows.size());
  EXPECT_THAT(report::text(context(), plan.plan, {.changes = &c}), HasSubstr("Every row is at the same time."));
}

TEST(PlanCompare, WhatIsLongerMovesAllThatFollows) {
  const auto before = made(text_of_plan), after = made(text_of_plan, {.longer_s = {{"far", 120}}});
  const auto c = changes(before, after);
  ASSERT_FALSE(c.moved.empty());
  for (const auto& row : c.moved) {
    EXPECT_NEAR(row.to_after_s - row.to_before_s, 120, 1e-5) << row.name.words;
    EXPECT_NEAR(row.from_after_s - row.from_before_s, row.name.subject == "far" ? 0 : 120, 1e-5) << row.name.words;
  }
  EXPECT_EQ(c.moved.size() + c.unmoved, after.plan.rows.size());
  EXPECT_THAT(c.no_longer, IsEmpty());
  EXPECT_THAT(c.violations_new, IsEmpty());
  EXPECT_THAT(report::text(context(), after.plan, {.changes = &c}),
              HasSubstr("What if: nothing then, --longer far=2 now."));
}

TEST(PlanCompare, WhatNoLongerFitsIsNamed) {
  const auto before = made(text_of_plan), after = made(text_of_plan, {.longer_s = {{"far", 15 * 60}}});
  ASSERT_TRUE(before.plan.is_clean());
  const auto c = changes(before, after);
  EXPECT_THAT(c.no_longer, ElementsAre("last"));
  EXPECT_THAT(c.violations_new, IsEmpty());
  const auto back = changes(after, before);
  EXPECT_THAT(back.newly, ElementsAre("last"));
  const auto late = made(text_of_plan, {.longer_s = {{"far", 40 * 60}}});
  const auto worse = changes(before, late);
  std::vector<std::string> kinds;
  for (const auto& v : worse.violations_new) kinds.push_back(v.kind);
  EXPECT_THAT(kinds, testing::UnorderedElementsAre("limit-exceeded", "return-too-late")) << "inside after the limit";
  EXPECT_EQ(changes(late, before).violations_gone.size(), 2u);
  const auto page = report::text(context(), after.plan, {.changes = &c});
  EXPECT_THAT(page, HasSubstr("Done then, and not now: last."));
  EXPECT_THAT(report::text(context(), late.plan, {.changes = &worse}), HasSubstr("New violations"));
}

TEST(PlanCompare, AnActionWithAnIdIsTheSameWhereverItStands) {
  const auto before = made(text_of_plan);
  std::string other = text_of_plan;
  other.replace(other.find("{do: far, id: big-one}"), 22, "{do: also, id: big-one}");
  other.replace(other.find("tasks: ["), 8, "tasks: [{id: also, at: end, duration: 5 min}, ");
  const auto after = made(other);
  const auto c = changes(before, after);
  EXPECT_THAT(c.no_longer, ElementsAre("far"));
  for (const auto& row : c.gone) EXPECT_NE(row.name.action, "big-one") << row.name.words;
  for (const auto& row : c.added) EXPECT_NE(row.name.action, "big-one") << row.name.words;
}

TEST(PlanCompare, ReadsBackWhatWasPrinted) {
  const auto plan = made(text_of_plan, {.slower = {{"A", 1.5}}});
  const auto f = report::read_plan("x.json", plan.json, line().structure, line().kit);
  EXPECT_NEAR(f.finish_s, plan.plan.finish_s, 1e-5);
  EXPECT_EQ(f.rows.size(), plan.plan.rows.size());
  EXPECT_EQ(f.what_if, "--slower A=1.5");
  ASSERT_TRUE(f.back_margin_s);
  EXPECT_NEAR(*f.back_margin_s,
              line().kit.design.emergency_return_s - plan.plan.back[*plan.plan.worst_back].longest_s(), 1e-5);
}

TEST(PlanCompare, RefusesWhatIsNoPlanOfThisModel) {
  const auto plan = made(text_of_plan);
  const auto refused = [&](std::string json, const char* words) {
    try {
      (void)report::read_plan("x.json", json, line().structure, line().kit);
      ADD_FAILURE() << words;
    } catch (const model::InputError& error) {
      EXPECT_EQ(error.diagnostics().front().code, "wrong-result");
      EXPECT_THAT(error.diagnostics().front().problem, HasSubstr(words));
      EXPECT_THAT(error.diagnostics().front().remedy, Not(IsEmpty()));
    }
  };
  const auto with = [&](const std::string& from, const std::string& to) {
    std::string json = plan.json;
    const auto at = json.find(from);
    EXPECT_NE(at, std::string::npos) << from;
    return json.replace(at, from.size(), to);
  };
  refused("", "this is not JSON");
  refused("{", "");
  refused("[]", "this is not a result of holdfast");
  refused("{\"holdfast\": \"kit/1\"}", "this is not a result of holdfast");
  refused(with("\"verb\": \"plan\"", "\"verb\": \"route\""),
          "this is a result of `holdfast route`, not of `holdfast plan`");
  refused(with("result/2", "result/1"), "another version of holdfast");
  refused(with("\"limit_s\"", "\"limit\""), "field \"limit_s\" is missing");
  const std::string digest = model::structure_digest(line().structure);
  refused(with("\"structure_digest\": \"" + digest, "\"structure_digest\": \"0000"), "another structure");
  auto document = nlohmann::json::parse(plan.json);
  document["rows"][0]["from_s"] = 1e300;
  refused(document.dump(), "beyond what a plan has");
  document = nlohmann::json::parse(plan.json);
  document["back"]["worst"] = 100000;
  refused(document.dump(), "");
  document = nlohmann::json::parse(plan.json);
  document["rows"][0]["what"] = "a\u202eb";
  refused(document.dump(), "which is not shown");
}

TEST(Waypoints, NameTheRailsOfEveryLegInTheirOrder) {
  const auto plan = made("limit: 1 h\ncrew: [{id: A, start: hatch, sequence: [{go: side}]}]\n");
  const auto page = report::text(context(), plan.plan, {.waypoints = true});
  const auto at = page.find("Waypoints");
  ASSERT_NE(at, std::string::npos);
  const auto main = page.find("main", at), rung = page.find("rung", at), second = page.find("second", at);
  EXPECT_NE(second, std::string::npos);
  EXPECT_LT(std::min(main, rung), second);
  EXPECT_EQ(report::text(context(), plan.plan).find("Waypoints"), std::string::npos);
}

}  // namespace
}  // namespace holdfast::plan
