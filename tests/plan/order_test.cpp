// SPDX-License-Identifier: GPL-3.0-or-later
// Orders of whole excursions: against every sequence simulated, and back through the file that is written.

#include "holdfast/plan/order.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <algorithm>
#include <random>

#include "back_impl.h"
#include "holdfast/report/order.h"
#include "small_model.h"

namespace holdfast::plan {
namespace {

using sample::excursion;
using sample::line_model;
using testing::ElementsAre;
using testing::HasSubstr;
using testing::IsEmpty;

const model::Model& line() {
  static const model::Model model = line_model();
  return model;
}

struct Ordered {
  std::unique_ptr<model::Excursion> given;
  ExcursionOrder answer;
};

Ordered order_of(const std::string& text, OrderOptions options = {}) {
  Ordered out;
  out.given = std::make_unique<model::Excursion>(excursion(line(), text));
  out.answer = order(line(), line().structure.default_configuration(), *out.given, options);
  return out;
}

std::vector<std::string> tasks_of(const ExcursionOrder& answer, std::size_t crew) {
  std::vector<std::string> ids;
  for (const auto task : answer.crew[crew].after) ids.push_back(answer.given->tasks[task.index()].id);
  return ids;
}

report::Context context_of(const model::Model& model) {
  return {model.structure, model.kit, model.kit.suits.front(), "line", "test"};
}

/// What the file that is written gives when it is read and simulated.
Plan through_the_file(const model::Model& model, const ExcursionOrder& answer, model::Excursion& read) {
  read = model::read_excursion_text(report::excursion_file(context_of(model), *answer.ordered), model);
  return simulate(model, model.structure.default_configuration(), read, answer.options.what_if);
}

void expect_same_plan(const Plan& told, const Plan& run) {
  EXPECT_EQ(told.finish_s, run.finish_s);
  ASSERT_EQ(told.rows.size(), run.rows.size());
  for (std::size_t r = 0; r < told.rows.size(); ++r) {
    EXPECT_EQ(told.rows[r].from_s, run.rows[r].from_s);
    EXPECT_EQ(told.rows[r].to_s, run.rows[r].to_s);
    EXPECT_EQ(told.rows[r].what, run.rows[r].what);
    EXPECT_EQ(told.rows[r].subject, run.rows[r].subject);
    EXPECT_EQ(told.rows[r].moves, run.rows[r].moves);
  }
  EXPECT_EQ(told.violations.size(), run.violations.size());
  for (std::size_t c = 0; c < told.totals.size(); ++c) {
    EXPECT_EQ(told.totals[c].inside_at_s, run.totals[c].inside_at_s);
    EXPECT_EQ(told.totals[c].energy_j, run.totals[c].energy_j);
  }
}

constexpr const char* one = "limit: 6 h\ncrew: [{id: A, start: hatch}]\n";
constexpr const char* two = "limit: 6 h\ncrew: [{id: A, start: hatch}, {id: B, start: hatch}]\n";

TEST(Order, OfNothingIsOutAndIn) {
  const auto got = order_of("egress: 10 min\ningress: 5 min\n" + std::string(two));
  ASSERT_TRUE(got.answer.ordered);
  EXPECT_TRUE(got.answer.is_proven);
  EXPECT_EQ(got.answer.plan.finish_s, 15 * 60);
}

TEST(Order, DoesOnTheWayWhatLiesOnTheWay) {
  const auto got = order_of(std::string(one) +
                            "tasks: [{id: far, at: end, duration: 2 min}, {id: near, at: depot, duration: 2 min}, "
                            "{id: middle, at: site, duration: 2 min, after: [far]}]\n");
  ASSERT_TRUE(got.answer.ordered);
  EXPECT_TRUE(got.answer.is_proven);
  EXPECT_EQ(got.answer.bound_s, got.answer.plan.finish_s);
  const auto tasks = tasks_of(got.answer, 0);
  EXPECT_LT(std::find(tasks.begin(), tasks.end(), "far"), std::find(tasks.begin(), tasks.end(), "middle"));
  EXPECT_EQ(tasks.size(), 3u);
}

TEST(Order, FetchesAndBringsBackWhatTasksNeed) {
  const auto got = order_of(std::string(one) +
                            "items: [{id: tool, load: bag, at: depot, home: depot}]\n"
                            "tasks: [{id: fix, at: end, duration: 2 min, needs: {items: [tool]}}, "
                            "{id: look, at: site, duration: 2 min, needs: {items: [tool]}}]\n");
  ASSERT_TRUE(got.answer.ordered);
  EXPECT_TRUE(got.answer.is_clean());
  EXPECT_TRUE(got.answer.is_proven);
  EXPECT_EQ(got.answer.plan.items[0].place, "depot");
  EXPECT_THAT(got.answer.crew[0].added,
              ElementsAre(ActionName{model::ActionKind::Take, "tool"}, ActionName{model::ActionKind::Put, "tool"}));
}

TEST(Order, SetsUpARestraintOnceForAllTasksInItsSocket) {
  const auto got = order_of(std::string(one) +
                            "items: [{id: pfr, load: frame, restraint: portable, at: depot, home: depot}]\n"
                            "tasks: [{id: a, at: site, duration: 5 min, needs: {restraint_in: socket}}, "
                            "{id: b, at: end, duration: 2 min}, "
                            "{id: c, at: site, duration: 5 min, needs: {restraint_in: socket}}]\n");
  ASSERT_TRUE(got.answer.ordered);
  EXPECT_THAT(got.answer.causes, IsEmpty());
  EXPECT_TRUE(got.answer.is_clean());
  std::size_t set_up = 0, entered = 0;
  for (const auto& row : got.answer.plan.rows) {
    set_up += row.what == What::SetUp || row.what == What::TakeDown;
    entered += row.what == What::EnterRestraint;
  }
  EXPECT_EQ(set_up, 2u);
  EXPECT_EQ(entered, 1u);
}

TEST(Order, OneMayUseWhatTheOtherHasBroughtBack) {
  // Both need the one tool at places that only pay when both crew members share the way.
  const auto got =
      order_of(std::string(two) +
               "items: [{id: tool, load: bag, at: depot, home: depot}]\n"
               "tasks: [{id: a, at: site, duration: 40 min, needs: {items: [tool]}}, "
               "{id: b, at: end, duration: 40 min}, {id: c, at: depot, duration: 1 min, after: [a, b]}]\n");
  ASSERT_TRUE(got.answer.ordered);
  EXPECT_TRUE(got.answer.is_clean());
  EXPECT_LE(got.answer.bound_s, got.answer.plan.finish_s);
}

// Whatever is in the excursion, the file runs to the figures told.
TEST(Order, IsWrittenAsAFileThatPlanRunsToTheSameFigures) {
  std::mt19937 random(99);
  const char* places[] = {"depot", "site", "end", "side"};
  for (int run = 0; run < 12; ++run) {
    SCOPED_TRACE(run);
    std::string text =
        fmt::format("name: \"run {}: \\\"quoted\\\"\"\negress: 90 s\ningress: 61.5 s\n{}", run, run % 2 ? two : one);
    text +=
        "items:\n  - {id: tool, name: a tool, load: bag, at: depot, home: depot}\n"
        "  - {id: pfr, load: frame, restraint: portable, at: depot, home: depot}\n"
        "  - {id: sample, load: bag, at: hatch}\n"
        "windows: [{id: w, from: 5 min, to: 2 h}]\n"
        "values: {energy_mj: {value: 7.1, source: a test, confidence: assumption}, active_w: 280}\ntasks:\n";
    const int n = 2 + static_cast<int>(random() % 3);
    for (int t = 0; t < n; ++t) {
      text += fmt::format("  - {{id: t{}, at: {}, duration: {}.{} s", t, places[random() % 4], 10 + random() % 300,
                          random() % 10);
      if (const auto kind = random() % 6; kind == 0)
        text += ", needs: {items: [tool]}";
      else if (kind == 1)
        text += ", needs: {items: [sample]}";
      else if (kind == 2)
        text += ", needs: {windows: [w]}";
      else if (kind == 3)
        text += ", optional: {priority: 2}";
      else if (kind == 4 && run % 2)
        text += ", needs: {both: true}";
      text += "}\n";
    }
    text +=
        "  - {id: bolts, at: site, duration: {value: 7 min, spread: [5 min, 12 min]}, needs: {restraint_in: socket}}\n";
    SCOPED_TRACE(text);
    const auto got = order_of(text, {.most_simulated = 5});
    ASSERT_TRUE(got.answer.ordered);
    model::Excursion read;
    const Plan run_again = through_the_file(line(), got.answer, read);
    expect_same_plan(got.answer.plan, run_again);
    EXPECT_EQ(report::excursion_file(context_of(line()), read),
              report::excursion_file(context_of(line()), *got.answer.ordered));
  }
}

// What a task works on, and from how, is in the file that is written: a plan of it looks at the same.
TEST(Order, WritesWhatTasksWorkOn) {
  auto model = line_model();
  model::Patch mark;
  mark.id = mark.name = "mark";
  mark.area = model::PatchDisc{{10, 0, -2}, {0, 0, 1}, 0.2};
  model.structure.patches.push_back(mark);
  model::HeldCamera camera;
  camera.id = camera.name = "macro";
  model.kit.cameras.push_back(camera);
  const auto e = excursion(
      model,
      "limit: 6 h\ncrew: [{id: A, start: hatch, begin: [{do: look}], sequence: [{do: turn}], end: [{go: depot}, "
      "return]}]\nitems: [{id: pfr, load: frame, restraint: portable, at: depot}]\n"
      "tasks: [{id: look, at: site, duration: 5 min, needs: {photograph: mark, camera: macro}}, "
      "{id: turn, at: site, duration: 7 min, needs: {restraint_in: socket, targets: [site, side], "
      "setting: {roll_deg: 33.3, pitch_deg: -12.7, height_m: 0.31, yaw_deg: 1.1}}}]\n");
  const auto read = model::read_excursion_text(report::excursion_file(context_of(model), e), model);
  ASSERT_EQ(read.tasks.size(), 2u);
  EXPECT_EQ(read.tasks[0].photograph, e.tasks[0].photograph);
  EXPECT_EQ(read.tasks[0].camera, "macro");
  EXPECT_EQ(read.tasks[1].targets, e.tasks[1].targets);
  EXPECT_EQ(read.tasks[1].setting.roll_rad, e.tasks[1].setting.roll_rad);
  EXPECT_EQ(read.tasks[1].setting.pitch_rad, e.tasks[1].setting.pitch_rad);
  EXPECT_EQ(read.tasks[1].setting.height_m, e.tasks[1].setting.height_m);
  EXPECT_EQ(read.tasks[1].setting.yaw_rad, e.tasks[1].setting.yaw_rad);
  EXPECT_EQ(read.crew[0].begins, 1u);
  EXPECT_EQ(read.crew[0].ends, 2u);
  EXPECT_EQ(read.crew[0].actions.size(), 4u);
}

TEST(Order, UsesARestraintThatBeginSetsUp) {
  const auto got = order_of(std::string(
      "limit: 6 h\ncrew: [{id: A, start: hatch, begin: [{take: pfr}, {go: site}, {set_up: pfr, in: socket}, "
      "{do: first}], end: [{take_down: pfr}, {go: depot}, {put: pfr}]}]\n"
      "items: [{id: pfr, load: frame, restraint: portable, at: depot, home: depot}]\n"
      "tasks: [{id: first, at: site, duration: 1 min, needs: {restraint_in: socket}}, "
      "{id: a, at: site, duration: 5 min, needs: {restraint_in: socket}}, {id: b, at: end, duration: 2 min}, "
      "{id: c, at: site, duration: 5 min, needs: {restraint_in: socket}}]\n"));
  ASSERT_TRUE(got.answer.ordered);
  EXPECT_TRUE(got.answer.is_clean());
  EXPECT_THAT(tasks_of(got.answer, 0), testing::Contains("a"));
  std::size_t entered = 0;
  for (const auto& row : got.answer.plan.rows) entered += row.what == What::EnterRestraint;
  EXPECT_LE(entered, 2u) << "the tasks from the restraint one after the other";
  // One that nobody has set up is no fault of the search.
  const auto missing = order_of(
      std::string(one).replace(std::string(one).find("start: hatch"), 12, "start: hatch, begin: [{do: first}]") +
      "tasks: [{id: first, at: site, duration: 1 min, needs: {restraint_in: socket}}, {id: b, at: end, duration: 2 "
      "min}]\n");
  ASSERT_TRUE(missing.answer.ordered);
  EXPECT_FALSE(missing.answer.is_clean());
}

TEST(Order, RefusesWhatBeginAndEndMakeImpossible) {
  const auto refusal = [](const std::string& crew, const std::string& rest) {
    try {
      (void)order_of("limit: 6 h\ncrew: [" + crew + "]\n" + rest);
      return std::string("nothing is refused");
    } catch (const model::InputError& error) {
      return error.diagnostics().front().problem;
    }
  };
  const std::string items = "items: [{id: tool, load: bag, at: depot}]\n";
  EXPECT_EQ(refusal("{id: A, start: hatch, end: [{go: depot}, {put: tool}]}",
                    items + "tasks: [{id: fix, at: end, duration: 2 min, needs: {items: [tool]}}]\n"),
            "task \"fix\" needs item \"tool\", which begin and end of A handle, and which is then neither in hand nor "
            "at the task's place");
  EXPECT_EQ(refusal("{id: A, start: hatch, begin: [{take: tool}]}, {id: B, start: hatch, end: [{take: tool}]}", items),
            "item \"tool\" is handled by begin or end of both crew members");
  EXPECT_EQ(refusal("{id: A, start: hatch, begin: [return], sequence: []}", ""),
            "crew member \"A\": \"return\" stands in \"begin\", and more follows");
}

TEST(Order, KeepsTheOptionalTasksThatAreWorthMost) {
  const std::string tasks =
      "tasks: [{id: must, at: depot, duration: 10 min}, "
      "{id: first, at: site, duration: 30 min, optional: {priority: 1}}, "
      "{id: second, at: depot, duration: 5 min, optional: {priority: 2}}, "
      "{id: third, at: end, duration: 5 min, optional: {priority: 3}}]\n";
  const auto all = order_of("limit: 2 h\ncrew: [{id: A, start: hatch}]\n" + tasks);
  EXPECT_THAT(all.answer.left_out, IsEmpty());
  const auto most = order_of("limit: 43 min\ncrew: [{id: A, start: hatch}]\n" + tasks);
  ASSERT_TRUE(most.answer.ordered);
  EXPECT_TRUE(most.answer.is_clean());
  EXPECT_THAT(tasks_of(most.answer, 0), testing::UnorderedElementsAre("must", "first"));
  EXPECT_EQ(most.answer.left_out.size(), 2u);
}

TEST(Order, TellsWhatIsMoreThanTheLimit) {
  const auto got =
      order_of("limit: 20 min\ncrew: [{id: A, start: hatch}]\ntasks: [{id: a, at: site, duration: 20 min}]\n");
  ASSERT_EQ(got.answer.causes.size(), 1u);
  EXPECT_EQ(got.answer.causes[0].kind, OrderCauseKind::Limit);
  EXPECT_EQ(got.answer.causes[0].limit, 1200);
  EXPECT_NEAR(got.answer.causes[0].value, got.answer.plan.finish_s, 1e-3);
  ASSERT_TRUE(got.answer.ordered) << "it is shown all the same";
  EXPECT_FALSE(got.answer.plan.is_clean());
  EXPECT_THAT(report::text(context_of(line()), got.answer), HasSubstr("no order is inside before "));
}

TEST(Order, TellsACircleOfTasks) {
  const auto got =
      order_of(std::string(one) +
               "tasks: [{id: a, at: site, duration: 1 min, after: [c]}, {id: b, at: site, duration: 1 min, "
               "after: [a]}, {id: c, at: site, duration: 1 min, after: [b]}]\n");
  EXPECT_FALSE(got.answer.ordered);
  ASSERT_EQ(got.answer.causes.size(), 1u);
  EXPECT_EQ(got.answer.causes[0].kind, OrderCauseKind::Circle);
  EXPECT_THAT(report::text(context_of(line()), got.answer),
              HasSubstr("tasks wait for each other in a circle: a after c after b after a"));
}

TEST(Order, TellsEachCauseThatIsSeenBeforeTheSearch) {
  OrderOptions options;
  options.what_if.closed = {*line().structure.find_rail("second")};
  const auto got = order_of(
      std::string(one) +
          "items: [{id: c1, load: case, at: depot}, {id: c2, load: frame, at: depot}]\n"
          "windows: [{id: w, from: 5 min, to: 10 min}]\n"
          "tasks: [{id: off, at: side, duration: 1 min}, {id: long, at: site, duration: 6 min, needs: {windows: "
          "[w]}}, {id: heavy, at: site, duration: 1 min, needs: {items: [c1, c2]}}]\n",
      options);
  EXPECT_FALSE(got.answer.ordered);
  std::vector<OrderCauseKind> kinds;
  for (const auto& cause : got.answer.causes) kinds.push_back(cause.kind);
  EXPECT_THAT(kinds, ElementsAre(OrderCauseKind::NoRoute, OrderCauseKind::NoWindow, OrderCauseKind::HandsFull));
  EXPECT_EQ(got.answer.causes[0].task, "off");
  EXPECT_EQ(got.answer.causes[1].value, 360);
  EXPECT_EQ(got.answer.causes[1].limit, 300);
}

TEST(Order, TellsARestraintThatNobodyHas) {
  const auto got =
      order_of(std::string(one) + "tasks: [{id: a, at: site, duration: 1 min, needs: {restraint_in: socket}}]\n");
  ASSERT_EQ(got.answer.causes.size(), 1u);
  EXPECT_EQ(got.answer.causes[0].kind, OrderCauseKind::NoRestraint);
}

TEST(Order, RefusesMoreThanItCanSearch) {
  std::string text = std::string(one) + "tasks:\n";
  for (int t = 0; t < 65; ++t) text += fmt::format("  - {{id: t{}, at: site, duration: 1 min}}\n", t);
  try {
    (void)order_of(text);
    FAIL();
  } catch (const model::InputError& error) {
    EXPECT_EQ(error.diagnostics().front().code, "too-large");
    EXPECT_THAT(error.diagnostics().front().remedy, HasSubstr("at most 64"));
  }
}

TEST(Order, SaysWhatDiffersFromTheFile) {
  const auto got = order_of(
      "limit: 6 h\ncrew: [{id: A, start: hatch, sequence: [{do: far}, {hold_until: 1:00:00}, {do: near}]}]\n"
      "tasks: [{id: far, at: end, duration: 2 min}, {id: near, at: depot, duration: 2 min, needs: {windows: [w]}}]\n"
      "windows: [{id: w, from: 0 s, to: 5 min}]\n");
  ASSERT_TRUE(got.answer.ordered);
  EXPECT_THAT(tasks_of(got.answer, 0), ElementsAre("near", "far"));
  const auto text = report::text(context_of(line()), got.answer);
  EXPECT_THAT(text, HasSubstr("A does near, far; in the file far, near"));
  EXPECT_THAT(text, HasSubstr("A, left out of the sequence: hold until"));
}

// ---- optional tasks of given sequences ----

/// The best set by plain enumeration: gains compared task by task in the order of rank, then more tasks.
TEST(OptionalTasks, OfAllSetsTheBestIsKept) {
  std::mt19937 random(31);
  const char* places[] = {"depot", "site", "end", "side"};
  for (int run = 0; run < 12; ++run) {
    SCOPED_TRACE(run);
    const bool is_ranked = run % 2 == 0;
    const int n = 3 + static_cast<int>(random() % 3);
    std::string sequence, tasks = "tasks:\n";
    std::vector<double> worth;
    for (int t = 0; t < n; ++t) {
      worth.push_back(static_cast<double>(1 + random() % (is_ranked ? 3 : 50)));
      sequence += fmt::format("{}{{do: t{}}}", t ? ", " : "", t);
      tasks += fmt::format("  - {{id: t{}, at: {}, duration: {} s, optional: {{{}: {}}}}}\n", t, places[random() % 4],
                           60 + random() % 600, is_ranked ? "priority" : "score", worth.back());
    }
    const std::string text = fmt::format("limit: {} s\ncrew: [{{id: A, start: hatch, sequence: [{}]}}]\n{}",
                                         600 + random() % 1200, sequence, tasks);
    SCOPED_TRACE(text);
    const auto e = excursion(line(), text);
    const auto kept = simulate(line(), line().structure.default_configuration(), e, {.looks_back = false});
    detail::Legs legs(line().structure, line().kit);
    std::vector<std::pair<std::vector<double>, unsigned>> fitting;
    for (unsigned set = 0; set < 1u << n; ++set) {
      PlanOptions options{.looks_back = false};
      std::vector<double> value(is_ranked ? 4 : 1, 0);
      double many = 0;
      for (int t = 0; t < n; ++t) {
        if (!(set >> t & 1)) {
          options.dropped.emplace_back(static_cast<std::size_t>(t));
          continue;
        }
        ++many;
        value[is_ranked ? static_cast<std::size_t>(worth[static_cast<std::size_t>(t)]) : 0] +=
            is_ranked ? 1 : worth[static_cast<std::size_t>(t)];
      }
      value.push_back(many);
      if (detail::simulate_with(legs, line(), line().structure.default_configuration(), e, options).is_clean())
        fitting.emplace_back(value, set);
    }
    const auto best = std::max_element(fitting.begin(), fitting.end(),
                                       [](const auto& a, const auto& b) { return a.first < b.first; });
    ASSERT_NE(best, fitting.end());
    EXPECT_TRUE(kept.is_choice_exact);
    std::vector<double> value(is_ranked ? 4 : 1, 0);
    for (const auto task : kept.done)
      value[is_ranked ? static_cast<std::size_t>(worth[task.index()]) : 0] += is_ranked ? 1 : worth[task.index()];
    value.push_back(static_cast<double>(kept.done.size()));
    EXPECT_EQ(value, best->first);
  }
}

TEST(OptionalTasks, AFollowerOfWhatIsLeftOutEarnsNothing) {
  const auto e = excursion(line(),
                           "limit: 20 min\ncrew: [{id: A, start: hatch, sequence: [{do: a}, {do: b}, {do: c}]}]\n"
                           "tasks: [{id: a, at: site, duration: 15 min, optional: {score: 1}}, "
                           "{id: b, at: site, duration: 4 min, after: [a], optional: {score: 50}}, "
                           "{id: c, at: depot, duration: 4 min, optional: {score: 10}}]\n");
  const auto plan = simulate(line(), line().structure.default_configuration(), e, {.looks_back = false});
  EXPECT_EQ(plan.score, 10.0);
  ASSERT_EQ(plan.done.size(), 1u);
  EXPECT_EQ(plan.done[0], TaskId(2));
}

TEST(OptionalTasks, BeyondWhatIsLookedAtABoundIsTold) {
  std::string sequence, tasks = "tasks:\n";
  for (int t = 0; t < 20; ++t) {
    sequence += fmt::format("{}{{do: t{}}}", t ? ", " : "", t);
    tasks += fmt::format("  - {{id: t{0}, at: depot, duration: {1} s, optional: {{score: {2}}}}}\n", t, 60 + 7 * t,
                         20 + (t * 7) % 13);
  }
  const auto e = excursion(
      line(), fmt::format("limit: 25 min\ncrew: [{{id: A, start: hatch, sequence: [{}]}}]\n{}", sequence, tasks));
  const auto plan = simulate(line(), line().structure.default_configuration(), e, {.looks_back = false});
  EXPECT_TRUE(plan.is_clean());
  ASSERT_TRUE(plan.score && plan.score_bound);
  EXPECT_GT(*plan.score, 0);
  EXPECT_GE(*plan.score_bound, *plan.score);
  EXPECT_EQ(plan.is_choice_exact, *plan.score_bound == *plan.score);
}

}  // namespace
}  // namespace holdfast::plan
