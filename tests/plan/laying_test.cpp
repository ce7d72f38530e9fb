// SPDX-License-Identifier: GPL-3.0-or-later
// Cables that an excursion lays: in stages, with coils that stand in the way, and what goes wrong with them.

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>

#include "holdfast/plan/order.h"
#include "small_model.h"

namespace holdfast::plan {
namespace {

using sample::excursion;
using sample::kinds;
using sample::run;
using testing::Contains;
using testing::ElementsAre;
using testing::HasSubstr;
using testing::IsEmpty;
using testing::Not;

constexpr const char* kit = R"(holdfast: kit/1
loads:
  - {id: drum, size_m: [0.3, 0.3, 0.2], mass_kg: 8, carried: beside, offset_m: [0, 0.45, 0], stow_s: 20}
  - {id: bag, size_m: [0.3, 0.3, 0.3], mass_kg: 10, carried: worn, offset_m: [0, 0.4, 0], stow_s: 20}
cables:
  - {id: power, diameter_m: 0.01, length_m: 12, length_tolerance_m: 0.1, spool: drum, connects: [[plug-a, plug-b]]}
  - {id: stub, diameter_m: 0.01, length_m: 3, spool: drum}
)";

/// A deck of 14 m with two rails for hands and cables 0.6 m apart; hatch at 0, connectors at 1 and 7, and one at 5.
model::Model deck(bool has_second_rail = true) {
  support::YardBuilder yard;
  const auto part = yard.part("deck", model::Box{.center = {4, 0, 0.5}, .size = {14, 8, 1}});
  yard.rail("main", part, {{0, 0, -0.07}, {8, 0, -0.07}}, {{0, 0, -1}});
  if (has_second_rail) yard.rail("second", part, {{0, 0.6, -0.07}, {8, 0.6, -0.07}}, {{0, 0, -1}});
  yard.place("hatch", {0, 0, -0.07}, 0.4, model::PlaceKind::Hatch);
  yard.place("middle", {4, 0, -0.07}, 0.3, model::PlaceKind::Worksite);
  yard.place("end", {8, 0, -0.07}, 0.3, model::PlaceKind::Worksite);
  yard.place("plug-a", {1, -0.2, 0}, 0.6, model::PlaceKind::Connector);
  yard.place("plug-b", {7, -0.2, 0}, 0.6, model::PlaceKind::Connector);
  yard.place("plug-c", {5, -0.2, 0}, 0.6, model::PlaceKind::Connector);
  model::Model model;
  model.structure = yard.structure;
  for (auto& rail : model.structure.rails) rail.use.cable = true;
  model.kit = model::read_kit_text(kit);
  return model;
}

constexpr const char* items = "items:\n  - {id: reel, cable: power, at: hatch}\n";

std::string alone(const std::string& actions, const std::string& more = items) {
  return "crew:\n  - id: EV1\n    start: hatch\n    sequence:\n" + actions + more;
}

std::vector<What> acts_of(const Plan& plan) {
  std::vector<What> acts;
  for (const auto& row : plan.rows)
    if (row.kind == RowKind::Handling) acts.push_back(row.what);
  acts.erase(std::unique(acts.begin(), acts.end()), acts.end());
  return acts;
}

const PlanOptions forward_only{.looks_back = false};

constexpr const char* two_stages = R"(      - take: reel
      - {lay: reel, from: plug-a, to: middle}
      - go: end
      - {lay: reel, to: plug-b}
      - go: hatch
      - put: reel
      - return
)";

cable::CableAnswer asked(const model::Model& model, const std::string& to,
                         const std::optional<cable::LaidRun>& goes_on = std::nullopt) {
  const auto scene = geometry::build_scene(model.structure, model.structure.default_configuration());
  const auto graph = graph::build_handrail_graph(scene, graph::body_of(model.kit.suits.front(), model.kit.design));
  const auto space = cable::prepare_cable(graph, model.kit, model.kit.cables.front(), nullptr);
  cable::CableRequest request;
  request.from = goes_on ? "" : "plug-a", request.to = to;
  request.goes_on = goes_on;
  request.least_coil_m = {0.3, 0.3, 0.2};
  return cable::find_cable_run(space, {.kit = model.kit, .suit = model.kit.suits.front()}, request);
}

cable::LaidRun laid_of(const cable::CableAnswer& answer) {
  cable::LaidRun laid;
  laid.name = "stage.json", laid.cable = answer.cable;
  for (const auto& tie : answer.run()->ties) laid.ties.push_back({tie.tie.kind, tie.tie.id, tie.tie.along_m});
  laid.used_m = answer.coil->used_m;
  return laid;
}

TEST(Lay, InTwoStagesEndsAtBothConnectors) {
  const auto model = deck();
  const auto e = excursion(model, alone(two_stages));
  const auto plan = run(model, e, forward_only);
  EXPECT_THAT(kinds(plan), IsEmpty());
  EXPECT_THAT(acts_of(plan), ElementsAre(What::Take, What::Mate, What::Tie, What::Coil, What::TakeUp, What::Tie,
                                         What::Mate, What::Put));
  ASSERT_EQ(plan.cables.size(), 1u);
  const auto& cable = plan.cables[0];
  EXPECT_TRUE(cable.is_connected);
  EXPECT_EQ(cable.from, "plug-a");
  EXPECT_EQ(cable.to, "plug-b");
  EXPECT_NEAR(cable.required_m + cable.left_m, 12 - 0.1, 1e-9);
  // What `cable` says of the same stages.
  const auto stage = asked(model, "middle");
  ASSERT_TRUE(stage.coil);
  const auto whole = asked(model, "plug-b", laid_of(stage));
  ASSERT_TRUE(whole.run());
  EXPECT_NEAR(cable.required_m, whole.run()->required_m, 1e-9);
  EXPECT_EQ(cable.ties + 2, whole.run()->ties.size());
}

TEST(Lay, TakesTheTimesOfTiesConnectorsAndCoils) {
  const auto model = deck();
  const auto e = excursion(model, alone(two_stages));
  for (const double factor : {1.0, 1.5}) {
    auto options = forward_only;
    options.slower["EV1"] = factor;
    const auto plan = run(model, e, options);
    const auto& cable = model.kit.cables.front();
    double ties_s = 0, mates_s = 0, coils_s = 0;
    for (const auto& row : plan.rows) {
      if (row.what == What::Tie) ties_s += row.to_s - row.from_s;
      if (row.what == What::Mate) mates_s += row.to_s - row.from_s;
      if (row.what == What::Coil || row.what == What::TakeUp) coils_s += row.to_s - row.from_s;
    }
    EXPECT_NEAR(ties_s, factor * static_cast<double>(plan.cables.at(0).ties) * cable.tie_s, 1e-6);
    EXPECT_NEAR(mates_s, factor * 2 * cable.connector_s, 1e-6);
    EXPECT_NEAR(coils_s, factor * 4 * cable.tie_s, 1e-6);
  }
}

TEST(Lay, EachTieIsWithinReachOfTheHandThatMakesIt) {
  const auto model = deck();
  const auto e = excursion(model, alone(two_stages));
  const auto plan = run(model, e, forward_only);
  const auto stage = asked(model, "middle");
  const auto whole = asked(model, "plug-b", laid_of(stage));
  std::size_t tie = 0;
  for (const auto& row : plan.rows) {
    if (row.what != What::Tie && row.what != What::Mate) continue;
    ASSERT_LT(tie, whole.run()->ties.size());
    EXPECT_LE((row.hand - whole.run()->ties[tie].tie.at).norm(), model.kit.suits.front().reach_m + 1e-6) << tie;
    EXPECT_THAT(row.carried, Contains("reel"));
    ++tie;
  }
  EXPECT_EQ(tie, whole.run()->ties.size());
}

TEST(Lay, TheCoilStandsInTheWayUntilItIsTakenUp) {
  const auto model = deck();
  const auto e = excursion(model, alone(two_stages));
  const auto plan = run(model, e, forward_only);
  double from_s = -1, to_s = -1;
  PlacedBox box;
  std::string rail;
  for (const auto& row : plan.rows) {
    if (row.what == What::Coil) from_s = row.to_s, box = row.box.value(), rail = row.other;
    if (row.what == What::TakeUp) to_s = row.from_s;
  }
  ASSERT_GT(to_s, from_s);
  const auto stay = std::find_if(plan.stays.begin(), plan.stays.end(), [](const auto& s) { return s.box.has_value(); });
  ASSERT_NE(stay, plan.stays.end());
  EXPECT_THAT(stay->where.rails, ElementsAre(rail));
  EXPECT_NEAR(stay->from_s, from_s, 1e-9);
  // Dense second look: no hand on the stretch that it takes, no body's axis nearer than the corridor's radius.
  const auto& suit = model.kit.suits.front();
  const auto off_m = [&](const Vec3& p) {
    return ((box.axes.transpose() * (p - box.middle)).cwiseAbs() - box.size_m / 2).cwiseMax(0).norm();
  };
  std::size_t looked = 0;
  for (const auto& row : plan.rows) {
    if (row.from_s < from_s - 1e-9 || row.to_s > to_s + 1e-9) continue;
    for (std::size_t i = 0; i < row.path.size(); ++i) {
      const auto& stop = row.path[i];
      EXPECT_GT(off_m(stop.hand), 0);
      if (model.structure.rails[stop.rail.index()].id == rail)
        EXPECT_GT(off_m(stop.hand), model.kit.design.grip_length_m) << "at " << stop.arrives_s;
      for (int k = 0; i + 1 < row.path.size() && k <= 20; ++k, ++looked)
        EXPECT_GE(off_m(stop.body + (row.path[i + 1].body - stop.body) * (k / 20.0)),
                  suit.corridor_diameter_m / 2 - 0.01);
    }
  }
  EXPECT_GT(looked, 100u);
}

TEST(Lay, ACoilOnTheOnlyRailClosesTheWay) {
  const auto model = deck(false);
  const auto e = excursion(model, alone(R"(      - take: reel
      - {lay: reel, from: plug-a, to: middle, leave: true}
      - go: end
      - return
)"));
  const auto plan = run(model, e, forward_only);
  ASSERT_FALSE(plan.violations.empty());
  const bool is_told = std::any_of(plan.violations.begin(), plan.violations.end(), [](const Violation& v) {
    return (v.kind == ViolationKind::NoRoute || v.kind == ViolationKind::NoGripNear);
  });
  EXPECT_TRUE(is_told);
}

TEST(Lay, ByTheOtherCrewMemberWhoGoesOn) {
  const auto model = deck();
  const auto e = excursion(model, std::string(R"(crew:
  - id: EV1
    start: hatch
    sequence:
      - take: reel
      - {lay: reel, from: plug-a, to: middle}
      - do: told
      - return
  - id: EV2
    start: hatch
    sequence:
      - wait_for: told
      - {lay: reel, to: plug-b}
      - go: hatch
      - put: reel
      - return
tasks:
  - {id: told, duration: 1 min}
)") + items);
  const auto plan = run(model, e, forward_only);
  EXPECT_THAT(kinds(plan), IsEmpty());
  ASSERT_EQ(plan.cables.size(), 1u);
  EXPECT_TRUE(plan.cables[0].is_connected);
}

TEST(Lay, LeavesTheRestForAnotherExcursionAndGoesOnThere) {
  const auto model = deck();
  const auto first = excursion(model, alone(R"(      - take: reel
      - {lay: reel, from: plug-a, to: middle, leave: true}
      - return
)"));
  const auto plan = run(model, first, forward_only);
  EXPECT_THAT(kinds(plan), IsEmpty());
  ASSERT_EQ(plan.cables.size(), 1u);
  EXPECT_TRUE(plan.cables[0].is_left);
  EXPECT_FALSE(plan.cables[0].is_connected);
  auto then = excursion(model, alone(R"(      - {lay: reel, from: middle, to: plug-b}
      - go: hatch
      - put: reel
      - return
)"));
  then.items[0].at.reset();
  then.items[0].laid_file = "first.json";
  const auto stage = asked(model, "middle");
  auto options = forward_only;
  options.laid["reel"] = laid_of(stage);
  const auto second = run(model, then, options);
  EXPECT_THAT(kinds(second), IsEmpty());
  ASSERT_EQ(second.cables.size(), 1u);
  EXPECT_TRUE(second.cables[0].is_connected);
  EXPECT_NEAR(second.cables[0].required_m, asked(model, "plug-b", laid_of(stage)).run()->required_m, 1e-9);
  EXPECT_GE(second.cables[0].required_m, plan.cables[0].required_m);
  ASSERT_FALSE(second.stays.empty());
  EXPECT_TRUE(second.stays.front().box.has_value()) << "at time zero it stands where the first excursion left it";
  EXPECT_THAT(acts_of(second), ElementsAre(What::TakeUp, What::Tie, What::Mate, What::Put));
}

TEST(Lay, WhatIsLaidBeforeAndLeftAloneIsNoViolation) {
  const auto model = deck();
  auto e = excursion(model, alone("      - go: end\n      - return\n"));
  e.items[0].at.reset();
  e.items[0].laid_file = "first.json";
  auto options = forward_only;
  options.laid["reel"] = laid_of(asked(model, "middle"));
  EXPECT_THAT(kinds(run(model, e, options)), IsEmpty());
}

// ---- violations ---------------------------------------------------------------------------------------------------

Violation only(const Plan& plan) {
  EXPECT_EQ(plan.violations.size(), 1u);
  return plan.violations.empty() ? Violation{} : plan.violations.front();
}

TEST(LayViolations, TooShort) {
  const auto model = deck();
  const auto plan = run(model,
                        excursion(model, alone("      - take: reel\n      - {lay: reel, from: plug-a, to: plug-b}\n"
                                               "      - go: hatch\n      - put: reel\n      - return\n",
                                               "items:\n  - {id: reel, cable: stub, at: hatch}\n")),
                        forward_only);
  const auto v = only(plan);
  EXPECT_EQ(v.kind, ViolationKind::CableTooShort);
  EXPECT_EQ(v.other, "plug-b");
  EXPECT_NEAR(v.limit, 3, 1e-12);
  EXPECT_GT(v.value, 6);
  EXPECT_THAT(plan.cables, IsEmpty());
}

TEST(LayViolations, NotConnected) {
  const auto model = deck();
  const auto v = only(run(
      model,
      excursion(model, alone("      - take: reel\n      - {lay: reel, from: plug-a, to: middle}\n      - return\n")),
      forward_only));
  EXPECT_EQ(v.kind, ViolationKind::CableNotConnected);
  EXPECT_EQ(v.other, "middle");
  EXPECT_GT(v.value, 0);
}

TEST(LayViolations, AtTheWrongEnd) {
  const auto model = deck();
  const auto v = only(run(model,
                          excursion(model, alone("      - take: reel\n      - {lay: reel, from: plug-a, to: plug-c}\n"
                                                 "      - go: hatch\n      - put: reel\n      - return\n")),
                          forward_only));
  EXPECT_EQ(v.kind, ViolationKind::CableWrongEnd);
  EXPECT_THAT(v.names, ElementsAre("plug-a", "plug-a - plug-b"));
}

TEST(LayViolations, NotWhereItIsToGoOnFrom) {
  const auto model = deck();
  const auto with = [&](const std::string& lines) {
    return run(model, excursion(model, alone("      - take: reel\n" + lines + "      - return\n")), forward_only);
  };
  auto plan = with("      - {lay: reel, to: plug-b}\n      - go: hatch\n      - put: reel\n");
  EXPECT_EQ(only(plan).kind, ViolationKind::CableNotThere);
  EXPECT_THAT(only(plan).names, ElementsAre("no-coil"));
  plan = with("      - {lay: reel, from: middle, to: plug-b}\n      - go: hatch\n      - put: reel\n");
  EXPECT_THAT(only(plan).names, ElementsAre("no-connector", "middle"));
  plan = with(
      "      - {lay: reel, from: plug-a, to: middle}\n      - {lay: reel, from: end, to: plug-b}\n"
      "      - {lay: reel, to: plug-b}\n      - go: hatch\n      - put: reel\n");
  EXPECT_THAT(only(plan).names, ElementsAre("elsewhere", "end"));
  EXPECT_EQ(only(plan).other, "middle");
  plan = with(
      "      - {lay: reel, from: plug-a, to: plug-b}\n      - {lay: reel, to: plug-c}\n      - go: hatch\n"
      "      - put: reel\n");
  EXPECT_THAT(only(plan).names, ElementsAre("connected"));
  plan = with("      - {lay: reel, from: plug-a, to: middle, leave: true}\n      - take: reel\n");
  EXPECT_EQ(only(plan).kind, ViolationKind::CableNotThere);
  EXPECT_THAT(only(plan).names, ElementsAre("laid", "plug-a"));
}

TEST(LayViolations, NotInHand) {
  const auto model = deck();
  const auto v = only(run(
      model, excursion(model, alone("      - {lay: reel, from: plug-a, to: plug-b}\n      - return\n")), forward_only));
  EXPECT_EQ(v.kind, ViolationKind::ItemNotThere);
}

TEST(LayViolations, TakenUpByBothAtOnce) {
  const auto model = deck();
  const auto e = excursion(model, std::string(R"(right_of_way: [EV1, EV2]
crew:
  - id: EV1
    start: hatch
    sequence:
      - take: reel
      - {lay: reel, from: plug-a, to: middle}
      - do: told
      - {lay: reel, to: plug-b}
      - go: hatch
      - put: reel
      - return
  - id: EV2
    start: hatch
    sequence:
      - wait_for: told
      - {lay: reel, to: plug-b}
      - return
tasks:
  - {id: told, duration: 1 min}
)") + items);
  const auto plan = run(model, e, forward_only);
  const auto v = only(plan);
  EXPECT_EQ(v.kind, ViolationKind::CableNotThere);
  EXPECT_EQ(v.crew, model::CrewId(1u));
  EXPECT_THAT(v.names, ElementsAre("under-way"));
  EXPECT_TRUE(plan.cables.at(0).is_connected);
}

TEST(LayViolations, AZoneThatComesToHoldWhileItIsLaid) {
  auto model = deck();
  model::Switch heater;
  heater.id = "heater", heater.positions = {"off", "on"}, heater.default_position = "off";
  model.structure.switches.push_back(heater);
  model::Zone hot;
  hot.id = "hot", hot.reason = "test", hot.shape = model::Sphere{.center = {6, 0, -0.07}, .radius = 0.3};
  hot.effect = model::ZoneEffect::Forbid;
  hot.applies = {.cable = true};
  hot.when.any_of["heater"] = {"on"};
  model.structure.zones.push_back(hot);
  const auto with = [&](const std::string& at) {
    return run(
        model,
        excursion(model, alone("      - take: reel\n      - {lay: reel, from: plug-a, to: plug-b}\n"
                               "      - go: hatch\n      - put: reel\n      - return\n",
                               std::string(items) + "events:\n  - {id: heat, throw: {heater: on}, at: " + at + "}\n")),
        forward_only);
  };
  const auto v = only(with("0:03:00"));
  EXPECT_EQ(v.kind, ViolationKind::Configuration);
  EXPECT_THAT(v.names, ElementsAre("heater", "off", "on"));
  // Thrown before, the run keeps out of it, or there is none.
  for (const auto& told : with("0:00:10").violations) EXPECT_NE(told.kind, ViolationKind::Configuration);
}

TEST(LayViolations, NoRailAtThePlace) {
  auto model = deck();
  for (auto& rail : model.structure.rails) rail.use.cable = false;
  const auto plan = run(model,
                        excursion(model, alone("      - take: reel\n      - {lay: reel, from: plug-a, to: middle}\n"
                                               "      - go: hatch\n      - put: reel\n      - return\n")),
                        forward_only);
  const auto v = only(plan);
  EXPECT_EQ(v.kind, ViolationKind::NoCableRun);
  ASSERT_FALSE(v.no_run.empty());
  EXPECT_EQ(v.no_run.front().kind, cable::NoRunKind::NoRailThere);
}

TEST(LayOrder, RefusesWhatLaysACable) {
  const auto model = deck();
  const auto e = excursion(model, alone(two_stages));
  try {
    (void)order(model, model.structure.default_configuration(), e);
    FAIL() << "an order that drops the laying of a cable";
  } catch (const model::InputError& error) {
    EXPECT_EQ(error.diagnostics().front().code, "not-ordered");
    EXPECT_THAT(error.diagnostics().front().problem, HasSubstr("reel"));
  }
}

}  // namespace
}  // namespace holdfast::plan
