// SPDX-License-Identifier: GPL-3.0-or-later
// What `simulate` makes of single actions: times in closed form, and each violation by itself.

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "small_model.h"

namespace holdfast::plan {
namespace {

using sample::excursion;
using sample::kinds;
using sample::line_model;
using sample::run;
using testing::ElementsAre;
using testing::IsEmpty;

const PlanOptions forward_only{.looks_back = false};

Plan plan_of(const std::string& text, const PlanOptions& options = forward_only) {
  static const model::Model model = line_model();
  static std::vector<std::unique_ptr<model::Excursion>> kept;
  kept.push_back(std::make_unique<model::Excursion>(excursion(model, text)));
  return run(model, *kept.back(), options);
}

TEST(Plan, OfNobodyGoingAnywhereTakesOnlyTheOverhead) {
  const auto plan = plan_of("limit: 1 h\negress: 10 min\ningress: 5 min\ncrew: [{id: A, start: hatch}]\n");
  EXPECT_THAT(kinds(plan), IsEmpty());
  EXPECT_EQ(plan.finish_s, 15 * 60);
  ASSERT_EQ(plan.rows.size(), 2u);
  EXPECT_EQ(plan.rows[1].what, What::Ingress);
  EXPECT_TRUE(plan.rows[1].is_derived);
}

TEST(Plan, InsertsTheLegToATaskAndTheReturnAndSaysSo) {
  const auto plan = plan_of(
      "crew: [{id: A, start: hatch, sequence: [{do: look}]}]\ntasks: [{id: look, at: site, duration: 2 min}]\n");
  EXPECT_THAT(kinds(plan), IsEmpty());
  ASSERT_EQ(plan.rows.size(), 3u);
  EXPECT_EQ(plan.rows[0].what, What::Go);
  EXPECT_TRUE(plan.rows[0].is_derived);
  EXPECT_EQ(plan.rows[1].what, What::Do);
  EXPECT_FALSE(plan.rows[1].is_derived);
  EXPECT_NEAR(plan.rows[1].to_s - plan.rows[1].from_s, 120, 1e-9);
  // From 0.4 m on this side of the hatch to 0.4 m on this side of the site, at grips 0.15 m apart.
  EXPECT_NEAR(plan.rows[0].distance_m, 9.3, 0.2);
  EXPECT_NEAR(plan.rows[0].to_s - plan.rows[0].from_s, plan.rows[0].distance_m / 0.2 + 10, 5);
}

TEST(Plan, DoesNotMoveWhereItIsThereAlready) {
  const auto plan = plan_of(
      "crew: [{id: A, start: hatch, sequence: [{go: site}, {go: site}, {do: look}]}]\n"
      "tasks: [{id: look, at: site, duration: 1 min}]\n");
  std::size_t legs = 0;
  for (const auto& row : plan.rows) legs += row.what == What::Go ? 1 : 0;
  EXPECT_EQ(legs, 2u);  // there and back
}

TEST(Plan, ChargesHandlingOnceForTakeAndForPut) {
  const auto plan = plan_of(
      "crew: [{id: A, start: hatch, sequence: [{take: b}, {go: depot}, {put: b}]}]\n"
      "items: [{id: b, load: bag, at: hatch, home: depot}]\n");
  EXPECT_THAT(kinds(plan), IsEmpty());
  EXPECT_NEAR(plan.totals[0].by_kind_s[static_cast<std::size_t>(RowKind::Handling)], 40, 1e-9);
  EXPECT_EQ(plan.items[0].place, "depot");
}

TEST(Plan, SaysWhereAnItemIsThatIsNotAtHand) {
  const auto plan = plan_of(
      "crew: [{id: A, start: hatch, sequence: [{do: look}]}]\n"
      "items: [{id: b, load: bag, at: depot}]\n"
      "tasks: [{id: look, at: site, duration: 1 min, needs: {items: [b]}}]\n");
  ASSERT_THAT(kinds(plan), ElementsAre(ViolationKind::ItemNotThere));
  EXPECT_EQ(plan.violations[0].other, "at depot");
}

TEST(Plan, CountsWhatFollowsFromAViolationOnce) {
  const auto plan = plan_of(
      "crew: [{id: A, start: hatch, sequence: [{put: b}, {put: b}]}]\n"
      "items: [{id: b, load: bag, at: depot}]\n");
  ASSERT_THAT(kinds(plan), ElementsAre(ViolationKind::ItemNotThere, ViolationKind::ItemNotThere));
  EXPECT_EQ(plan.violations[1].follows, 0u);
}

TEST(Plan, TellsAnItemThatIsLeftOutside) {
  const auto plan = plan_of(
      "crew: [{id: A, start: hatch, sequence: [{take: b}, {go: depot}, {put: b}]}]\n"
      "items: [{id: b, load: bag, at: hatch}]\n");
  EXPECT_THAT(kinds(plan), ElementsAre(ViolationKind::ItemLeftOutside));
}

TEST(Plan, TellsHandsThatAreFull) {
  const auto plan = plan_of(
      "crew: [{id: A, start: hatch, sequence: [{take: one}, {take: two}]}]\n"
      "items: [{id: one, load: case, at: hatch}, {id: two, load: frame, at: hatch}]\n");
  EXPECT_THAT(kinds(plan), ElementsAre(ViolationKind::HandsFull));
}

TEST(Plan, RefusesToPutDownAtAWorksiteAndNamesRails) {
  const auto plan = plan_of(
      "crew: [{id: A, start: hatch, sequence: [{take: b}, {go: site}, {put: b}]}]\n"
      "items: [{id: b, load: bag, at: hatch}]\n");
  ASSERT_THAT(kinds(plan), ElementsAre(ViolationKind::WrongPlace));
  EXPECT_THAT(plan.violations[0].names, ElementsAre("main"));
}

TEST(Plan, AStowedItemTakesTheRailFromEverybody) {
  // The main rail is barred at 5 m.
  const auto barred = plan_of(
      "crew: [{id: A, start: hatch, sequence: [{take: b}, {go: depot}, {stow: b, on: [main]}, {go: site}]}]\n"
      "items: [{id: b, load: case, at: hatch}]\n");
  EXPECT_THAT(kinds(barred), testing::Contains(ViolationKind::ItemLeftOutside));
  const Row* leg = nullptr;
  for (const auto& row : barred.rows)
    if (row.what == What::Go && row.subject == "site") leg = &row;
  ASSERT_NE(leg, nullptr);
  // Either the crew member stands beyond the item, or goes round by the far end.
  for (const auto& stop : leg->path) EXPECT_FALSE(stop.rail == model::RailId(0) && std::abs(stop.hand.x() - 5) < 0.3);
}

TEST(Plan, TakesTheFileLimitAndTellsWhatIsBeyond) {
  const std::string task = "tasks: [{id: look, at: hatch, duration: 1 h}]\n";
  EXPECT_THAT(kinds(plan_of("limit: 1 h\ncrew: [{id: A, start: hatch, sequence: [{do: look}]}]\n" + task)), IsEmpty());
  EXPECT_THAT(kinds(plan_of("limit: 3599 s\ncrew: [{id: A, start: hatch, sequence: [{do: look}]}]\n" + task)),
              ElementsAre(ViolationKind::LimitExceeded));
}

// Suit design metabolic load: 293 W average for 7 h, or 249 W for 8 h (mishap report, section 3): 7.39 MJ or 7.17 MJ.
TEST(Energy, OfTheDesignLoadIsJustWithin) {
  const auto text = [](const char* values, const char* duration) {
    return fmt::format(
        "limit: 9 h\nvalues: {}\ncrew: [{{id: A, start: hatch, sequence: [{{do: look}}]}}]\n"
        "tasks: [{{id: look, at: hatch, duration: {}}}]\n",
        values, duration);
  };
  const auto seven = plan_of(text("{}", "7 h"));
  EXPECT_DOUBLE_EQ(seven.totals[0].energy_j, 293.0 * 7 * 3600);
  EXPECT_NEAR(seven.totals[0].energy_j, 7.39e6, 0.01e6);
  EXPECT_THAT(kinds(seven), IsEmpty());
  EXPECT_THAT(kinds(plan_of(text("{}", "7 h 1 s"))), ElementsAre(ViolationKind::Energy));
  const auto eight = plan_of(text("{active_w: 249, energy_mj: 7.1712}", "8 h"));
  EXPECT_NEAR(eight.totals[0].energy_j, 7.17e6, 0.01e6);
  EXPECT_THAT(kinds(eight), IsEmpty());
}

TEST(Energy, OfWaitingIsTheIdleRate) {
  const auto plan = plan_of("crew: [{id: A, start: hatch, sequence: [{hold_until: 1:00:00}]}]\n");
  EXPECT_DOUBLE_EQ(plan.totals[0].energy_j, 205.0 * 3600);
}

// Orbit at 400 km: period 92.56 min, night 36.11 min at beta 0; in 6.5 h there are 4.2 orbits and 4 or 5 nights
// (reference tables, section 9: two-body period and cylindrical shadow).
TEST(Orbit, HasFourOrFiveNightsInSixAndAHalfHours) {
  for (int sunset = -90; sunset <= 90; sunset += 7) {
    const auto plan =
        plan_of(fmt::format("limit: 7 h\norbit: {{period: 92.56 min, night: 36.11 min, first_sunset: {} min}}\n"
                            "values: {{energy_mj: 8}}\n"
                            "crew: [{{id: A, start: hatch, sequence: [{{hold_until: 6:30:00}}]}}]\n",
                            sunset));
    std::size_t nights = plan.nights.size();
    EXPECT_GE(nights, 4u) << sunset;
    EXPECT_LE(nights, 5u) << sunset;
  }
  EXPECT_NEAR(6.5 * 60 / 92.56, 4.2, 0.05);
}

TEST(Orbit, NightTimesAddUp) {
  const model::Orbit orbit{5400, 1800, 600};
  EXPECT_EQ(night_between_s(orbit, 0, 600), 0);
  EXPECT_EQ(night_between_s(orbit, 0, 5400), 1800);
  EXPECT_EQ(night_between_s(orbit, 700, 800), 100);
  EXPECT_EQ(night_between_s(orbit, -5400, 0), 1800);
  EXPECT_EQ(night_between_s({5400, 0, 0}, 0, 1e5), 0);
}

TEST(Windows, HoldAllOfATask) {
  const std::string rest =
      "crew: [{id: A, start: hatch, sequence: [{do: look}]}]\n"
      "tasks: [{id: look, at: hatch, duration: 10 min, needs: {windows: [w]}}]\n";
  const auto starts = [&](const std::string& windows) {
    const auto plan = plan_of("windows: " + windows + "\n" + rest);
    for (const auto& row : plan.rows)
      if (row.what == What::Do) return std::pair(row.from_s, plan.violations.size());
    return std::pair(-1.0, plan.violations.size());
  };
  EXPECT_EQ(starts("[{id: w, from: 5 min, to: 15 min}]"), std::pair(300.0, std::size_t{0}));
  EXPECT_EQ(starts("[{id: w, from: 5 min, to: 14 min}, {id: w, from: 20 min, to: 40 min}]"),
            std::pair(1200.0, std::size_t{0}));
  EXPECT_EQ(starts("[{id: w, from: 5 min, to: 10 min}, {id: w, from: 10 min, to: 15 min}]"),
            std::pair(300.0, std::size_t{0}));
  EXPECT_EQ(starts("[{id: w, from: 5 min, to: 14 min}]"), std::pair(0.0, std::size_t{1}));
}

TEST(Windows, DayIsOutsideOfNights) {
  const auto plan = plan_of(
      "orbit: {period: 90 min, night: 36 min, first_sunset: 5 min}\n"
      "crew: [{id: A, start: hatch, sequence: [{do: look}]}]\n"
      "tasks: [{id: look, at: hatch, duration: 10 min, needs: {day: true}}]\n");
  for (const auto& row : plan.rows)
    if (row.what == What::Do) EXPECT_EQ(row.from_s, 41 * 60);
}

TEST(Hold, StopsMovesAtTheLastGripThatIsReachedInTime) {
  const auto plan = plan_of(
      "crew: [{id: A, start: hatch, sequence: [{go: end}]}]\n"
      "events: [{id: still, hold: [A], at: 30 s, for: 60 s}]\n");
  EXPECT_THAT(kinds(plan), IsEmpty());
  const auto& path = plan.rows[0].path;
  double waited_s = 0;
  for (std::size_t i = 0; i + 1 < path.size(); ++i) {
    waited_s += path[i].leaves_s - path[i].arrives_s;
    EXPECT_FALSE(path[i].leaves_s < 90 - 1e-9 && path[i + 1].arrives_s > 30 + 1e-9);
  }
  EXPECT_GE(waited_s, 60);
  EXPECT_LE(waited_s, 60 + 8);  // and what was left of the time before the hold, less than one move
}

TEST(Hold, ThatForbidsWorkDelaysIt) {
  const std::string rest =
      "crew: [{id: A, start: hatch, sequence: [{do: look}]}]\n"
      "tasks: [{id: look, at: hatch, duration: 10 min}]\n";
  EXPECT_EQ(plan_of("events: [{id: still, hold: [A], at: 5 min, for: 10 min}]\n" + rest).finish_s, 600);
  EXPECT_EQ(plan_of("events: [{id: still, hold: [A], at: 5 min, for: 10 min, work: false}]\n" + rest).finish_s, 1500);
}

TEST(Switches, AreWaitedForOrMissed) {
  const std::string rest =
      "crew: [{id: A, start: hatch, sequence: [{do: look}]}]\n"
      "tasks: [{id: look, at: hatch, duration: 10 min, needs: {states: {dish: tracking}}}]\n";
  const auto waits = plan_of("events: [{id: track, throw: {dish: tracking}, at: 20 min, takes: 1 min}]\n" + rest);
  EXPECT_THAT(kinds(waits), IsEmpty());
  EXPECT_EQ(waits.finish_s, 31 * 60);
  EXPECT_THAT(kinds(plan_of(rest)), ElementsAre(ViolationKind::Configuration));
  // A throw into the task.
  const auto broken = plan_of(
      "events: [{id: a, throw: {dish: tracking}, at: 0 s}, {id: b, throw: {dish: parked}, at: 5 min}]\n" + rest);
  EXPECT_THAT(kinds(broken), ElementsAre(ViolationKind::Configuration));
}

TEST(Switches, TellWhoHoldsARailThatGoesAway) {
  model::Model model = line_model();
  model.structure.rails[3].when.any_of["dish"] = {"parked"};
  const auto e = excursion(model,
                           "crew: [{id: A, start: hatch, sequence: [{do: look}]}]\n"
                           "tasks: [{id: look, at: side, duration: 30 min}]\n"
                           "events: [{id: track, throw: {dish: tracking}, at: 20 min, takes: 1 min}, {id: park, throw: "
                           "{dish: parked}, at: 25 min}]\n");
  const auto plan = run(model, e, forward_only);
  ASSERT_THAT(kinds(plan), testing::Contains(ViolationKind::RailMoves));
  EXPECT_THAT(plan.violations[0].names, ElementsAre("second"));
  // One that waits for its task and then for the rail to be free does no harm.
  const auto after = excursion(model,
                               "crew: [{id: A, start: hatch, sequence: [{do: look}]}]\n"
                               "tasks: [{id: look, at: side, duration: 30 min}]\n"
                               "events: [{id: track, throw: {dish: tracking}, after: look, takes: 1 min}]\n");
  EXPECT_THAT(kinds(run(model, after, forward_only)), IsEmpty());
}

TEST(Switches, TellWhoAZoneIsThrownOver) {
  model::Model model = line_model();
  model::Zone zone;
  zone.id = "beam";
  zone.shape = model::Sphere{{10, 0, -0.6}, 2};
  zone.applies.body = true;
  zone.when.any_of["dish"] = {"tracking"};
  model.structure.zones.push_back(zone);
  const std::string rest =
      "crew: [{id: A, start: hatch, sequence: [{do: look}]}]\n"
      "tasks: [{id: look, at: site, duration: 30 min}]\n";
  const auto over = excursion(model, rest +
                                         "events: [{id: track, throw: {dish: tracking}, at: 20 min}, {id: park, throw: "
                                         "{dish: parked}, at: 25 min}]\n");
  const auto plan = run(model, over, forward_only);
  ASSERT_THAT(kinds(plan), ElementsAre(ViolationKind::RailMoves));
  EXPECT_THAT(plan.violations[0].names, ElementsAre("main", "exposed"));
  EXPECT_EQ(plan.violations[0].at_s, 20 * 60);
  // With `after:` the throw waits until nobody is there.
  const auto later = excursion(model, rest + "events: [{id: track, throw: {dish: tracking}, after: look}]\n");
  EXPECT_THAT(kinds(run(model, later, forward_only)), IsEmpty());
}

TEST(Hold, IsBrokenByAnOverheadThatCannotWait) {
  const auto plan = plan_of(
      "egress: 5 min\ncrew: [{id: A, start: hatch}]\n"
      "events: [{id: still, hold: [A], at: 1 min, for: 2 min, work: false}]\n");
  ASSERT_THAT(kinds(plan), ElementsAre(ViolationKind::HoldBroken));
  EXPECT_EQ(plan.violations[0].value, 120);
}

TEST(Plan, TellsARailThatAnotherItemHas) {
  const auto plan = plan_of(
      "crew: [{id: A, start: hatch, sequence: [{take: b}, {take: c}, {go: depot}, {stow: b, on: [main]}, {stow: c, on: "
      "[main]}]}]\n"
      "items: [{id: b, load: case, at: hatch}, {id: c, load: bag, at: hatch}]\n");
  EXPECT_THAT(kinds(plan), testing::Contains(ViolationKind::RailsTaken));
}

TEST(Plan, TellsABoxThatStandsInStructure) {
  model::Model model = line_model();
  model::Part wall;
  wall.id = wall.name = "wall";
  wall.shape = model::Box{{5, 0.25, -0.05}, {0.3, 0.14, 0.1}};  // in reach of the box alone: bodies lean past it
  model.structure.parts.push_back(wall);
  const auto e = excursion(model,
                           "crew: [{id: A, start: hatch, sequence: [{take: b}, {go: depot}, {stow: b, on: [main]}]}]\n"
                           "items: [{id: b, load: frame, at: hatch}]\n");
  const auto plan = run(model, e, forward_only);
  ASSERT_THAT(kinds(plan), ElementsAre(ViolationKind::DoesNotFit));
  EXPECT_NEAR(plan.violations[0].value, 0.1, 0.011);
}

TEST(Optional, LeavesOutTheLowestRanksThatDoNotFit) {
  const std::string text =
      "crew: [{id: A, start: hatch, sequence: [{do: must}, {do: first}, {do: second}, {do: third}]}]\n"
      "tasks: [{id: must, duration: 10 min}, {id: first, duration: 30 min, optional: {priority: 1}},\n"
      "        {id: second, duration: 20 min, optional: {priority: 2}}, {id: third, duration: 5 min, optional: "
      "{priority: 3}}]\n";
  const auto names = [](const Plan& plan) {
    std::vector<std::string> dropped;
    for (const auto task : plan.dropped) dropped.push_back(plan.excursion->tasks[task.index()].id);
    return dropped;
  };
  EXPECT_THAT(names(plan_of("limit: 65 min\n" + text)), IsEmpty());
  EXPECT_THAT(names(plan_of("limit: 64 min\n" + text)), ElementsAre("third"));
  EXPECT_THAT(names(plan_of("limit: 45 min\n" + text)), ElementsAre("second"));
  EXPECT_THAT(names(plan_of("limit: 30 min\n" + text)), ElementsAre("first", "third"));
  EXPECT_THAT(names(plan_of("limit: 14 min\n" + text)), ElementsAre("first", "second", "third"));
}

TEST(Optional, TakesTheGreatestSumOfScores) {
  const auto plan = plan_of(
      "limit: 40 min\ncrew: [{id: A, start: hatch, sequence: [{do: big}, {do: one}, {do: two}]}]\n"
      "tasks: [{id: big, duration: 40 min, optional: {score: 50}}, {id: one, duration: 20 min, optional: {score: 30}}, "
      "{id: two, duration: 20 min, optional: {score: 30}}]\n");
  ASSERT_EQ(plan.dropped.size(), 1u);
  EXPECT_EQ(plan.excursion->tasks[plan.dropped[0].index()].id, "big");
}

TEST(Precedence, WaitsForTheOtherAndTellsWhatCannotBe) {
  const auto plan = plan_of(
      "crew: [{id: A, start: hatch, sequence: [{do: one}]}, {id: B, start: hatch, sequence: [{do: two}]}]\n"
      "tasks: [{id: one, duration: 5 min}, {id: two, duration: 2 min, after: [one]}]\n");
  EXPECT_THAT(kinds(plan), IsEmpty());
  EXPECT_EQ(plan.finish_s, 7 * 60);
  EXPECT_THAT(kinds(plan_of("crew: [{id: A, start: hatch, sequence: [{do: two}, {do: one}]}]\n"
                            "tasks: [{id: one, duration: 5 min}, {id: two, duration: 2 min, after: [one]}]\n")),
              ElementsAre(ViolationKind::Precedence));
}

TEST(Precedence, ACircleOfWaitsNamesItsLinks) {
  const auto plan = plan_of(
      "right_of_way: [A, B]\ncrew: [{id: A, start: hatch, sequence: [{wait_for: two}, {do: one}]},\n"
      "       {id: B, start: hatch, sequence: [{wait_for: one}, {do: two}]}]\n"
      "tasks: [{id: one, duration: 5 min}, {id: two, duration: 2 min}]\n");
  ASSERT_THAT(kinds(plan), testing::Contains(ViolationKind::WaitsInCircle));
  for (const auto& v : plan.violations)
    if (v.kind == ViolationKind::WaitsInCircle) {
      EXPECT_THAT(v.names, ElementsAre("A waits for two", "B waits for one"));
    }
}

TEST(Both, StartTogetherAndTakeTheSlowersTime) {
  static const model::Model model = line_model();
  const auto e =
      excursion(model,
                "crew: [{id: A, start: hatch, sequence: [{do: lift}]}, {id: B, start: hatch, sequence: [{do: wait}, "
                "{do: lift}]}]\n"
                "tasks: [{id: lift, at: hatch, duration: 10 min, needs: {both: true}}, {id: wait, duration: 3 min}]\n");
  auto plan = run(model, e, forward_only);
  EXPECT_THAT(kinds(plan), IsEmpty());
  EXPECT_EQ(plan.finish_s, 13 * 60);
  plan = run(model, e, {.slower = {{"A", 2.0}}, .looks_back = false});
  EXPECT_EQ(plan.finish_s, 23 * 60);
}

TEST(HandOver, GivesTheItemToTheOther) {
  const auto plan = plan_of(
      "crew: [{id: A, start: hatch, sequence: [{take: b}, {hand_over: b, to: B}]},\n"
      "       {id: B, start: hatch, sequence: [{receive: b, from: A}, {go: depot}, {put: b}]}]\n"
      "items: [{id: b, load: bag, at: hatch, home: depot}]\n");
  EXPECT_THAT(kinds(plan), IsEmpty());
  EXPECT_EQ(plan.items[0].place, "depot");
}

TEST(Restraint, IsSetUpEnteredOnceLeftAndTakenDown) {
  const auto plan = plan_of(
      "crew: [{id: A, start: hatch, sequence: [{take: r}, {go: site}, {set_up: r, in: socket}, {do: one}, {do: two}, "
      "{take_down: r}]}]\n"
      "items: [{id: r, load: frame, restraint: portable, at: hatch}]\n"
      "tasks: [{id: one, at: site, duration: 5 min, needs: {restraint_in: socket}}, {id: two, at: site, duration: 5 "
      "min, needs: {restraint_in: socket}}]\n");
  EXPECT_THAT(kinds(plan), IsEmpty());
  std::vector<What> handled;
  for (const auto& row : plan.rows)
    if (row.kind == RowKind::Handling || row.kind == RowKind::Work) handled.push_back(row.what);
  EXPECT_THAT(handled, ElementsAre(What::Take, What::SetUp, What::EnterRestraint, What::Do, What::Do,
                                   What::LeaveRestraint, What::TakeDown));
  EXPECT_THAT(kinds(plan_of("crew: [{id: A, start: hatch, sequence: [{do: one}]}]\n"
                            "tasks: [{id: one, at: site, duration: 5 min, needs: {restraint_in: socket}}]\n")),
              ElementsAre(ViolationKind::RestraintMissing));
}

TEST(Tether, TellsByHowMuchItIsTooShort) {
  const auto plan = plan_of("crew: [{id: A, start: hatch, tethers: [short], anchor: hook, sequence: [{go: site}]}]\n");
  ASSERT_THAT(kinds(plan), testing::Contains(ViolationKind::Tether));
  EXPECT_GT(plan.violations[0].value, 9.0);  // from the anchor at 0 to the body at 9.6 m, at least
  EXPECT_LT(plan.violations[0].value, 10.5);
  EXPECT_EQ(plan.violations[0].limit, 6);
  EXPECT_THAT(kinds(plan_of("crew: [{id: A, start: hatch, tethers: [reel], anchor: hook, sequence: [{go: end}]}]\n")),
              IsEmpty());
}

TEST(Back, TakesAsLongAsTheRouteHomeAndTheTyingDown) {
  const auto plan = plan_of(
      "limit: 3 h\ningress: 5 min\ncrew: [{id: A, start: hatch, sequence: [{take: b}, {go: end}, {do: look}]}]\n"
      "items: [{id: b, load: bag, at: hatch}]\n"
      "tasks: [{id: look, at: end, duration: 10 min}]\n",
      {});
  EXPECT_THAT(kinds(plan), IsEmpty());
  ASSERT_TRUE(plan.worst_back.has_value());
  const Back& worst = plan.back[*plan.worst_back];
  double home_s = 0;
  for (const auto& row : plan.rows)
    if (row.what == What::Go && row.subject == "hatch") home_s = row.to_s - row.from_s;
  // Free rate and loaded rate are alike for what is worn. On the last move out the whole move counts besides.
  EXPECT_GE(worst.alone_s, home_s + 20 + 300 - 1e-6);
  EXPECT_LE(worst.alone_s, home_s + 20 + 300 + 10);
}

TEST(Back, TellsWhatIsTooLateForTheLimit) {
  const auto plan = plan_of(
      "limit: 20 min\ningress: 5 min\ncrew: [{id: A, start: hatch, sequence: [{do: look}]}]\n"
      "tasks: [{id: look, at: end, duration: 15 min}]\n",
      {});
  EXPECT_THAT(kinds(plan), testing::Contains(ViolationKind::ReturnTooLate));
  EXPECT_THAT(kinds(plan), testing::Contains(ViolationKind::LimitExceeded));
}

TEST(NotAssessed, IsSaidForOneCrewMember) {
  const auto plan = plan_of("crew: [{id: A, start: hatch}]\n", {});
  EXPECT_THAT(plan.not_assessed, testing::Contains(NotAssessed::NoHelper));
}

TEST(Start, WithoutAGripIsRefused) {
  model::Model model = line_model();
  model.structure.places[0].at = {0, 0, -50};
  EXPECT_THROW((void)run(model, excursion(model, "crew: [{id: A, start: hatch}]\n")), model::InputError);
}

}  // namespace
}  // namespace holdfast::plan
