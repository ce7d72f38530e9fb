// SPDX-License-Identifier: GPL-3.0-or-later
// Whole questions about cables on small yards, with the numbers worked out by hand.

#include "holdfast/cable/cable.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <cmath>
#include <numbers>

#include "holdfast/geometry/surface_way.h"
#include "yard_builder.h"

namespace holdfast::cable {
namespace {

using support::World;
using support::YardBuilder;
using testing::ElementsAre;

constexpr double pi = std::numbers::pi;

/// A deck 8 m long with a rail for hands and cables along it, and a connector at either end.
YardBuilder deck() {
  YardBuilder yard;
  const auto part = yard.part("deck", model::Box{.center = {2, 0, 0.5}, .size = {12, 12, 1}});
  const auto rail = yard.rail("line", part, {{0, 0, -0.07}, {4, 0, -0.07}}, {{0, 0, -1}});
  yard.structure.rails[rail.index()].use.cable = true;
  yard.place("plug-a", {-0.3, 0, 0}, 0.5, model::PlaceKind::Connector);
  yard.place("plug-b", {4.3, 0, 0}, 0.5, model::PlaceKind::Connector);
  return yard;
}

model::Cable some_cable(double length_m = 10) {
  auto cable = model::default_cable();
  cable.id = "cable";
  cable.diameter_m = {0.01, "test"};
  cable.length_m = {length_m, "test"};
  return cable;
}

/// A yard with the kit that holds the cable.
struct Asked {
  explicit Asked(YardBuilder yard, model::Cable cable = some_cable(),
                 const model::Configuration* configuration = nullptr)
      : world(std::move(yard.structure), {}, configuration) {
    world.kit.cables.push_back(std::move(cable));
  }
  CableAnswer ask(CableRequest request, const std::vector<model::RailId>& closed = {}) {
    const auto space = prepare_cable(world.graph, world.kit, world.kit.cables[0], nullptr);
    return find_cable_run(space, {.kit = world.kit, .suit = world.kit.suits.front(), .closures = {closed}}, request);
  }
  CableAnswer ask(Aim aim = Aim::Length) { return ask({.from = "plug-a", .to = "plug-b", .aim = aim}); }
  World world;
};

std::vector<std::string> ids_of(const CableRun& run) {
  std::vector<std::string> ids;
  for (const auto& tie : run.ties) ids.push_back(tie.tie.id);
  return ids;
}

NoRunCause cause_of(const CableAnswer& answer, NoRunKind kind) {
  EXPECT_NE(answer.no_run(), nullptr);
  if (!answer.no_run()) return {};
  for (const auto& cause : answer.no_run()->causes)
    if (cause.kind == kind) return cause;
  ADD_FAILURE() << "no such cause; the first is " << static_cast<int>(answer.no_run()->causes.at(0).kind);
  return {};
}

// ---- length -------------------------------------------------------------------------------------------------------

TEST(CableLength, IsSpansAndSlackAndAllowances) {
  auto asked = Asked(deck());
  const auto answer = asked.ask();
  ASSERT_TRUE(answer.run());
  const auto& run = *answer.run();
  double way = 0, slack = 0;
  for (const auto& span : run.spans) {
    way += span.length_m;
    // AC 43.13-1B par. 11-118: 12.7 mm of sag adds 8 h^2 / (3 L).
    EXPECT_GE(span.slack_m, 8 * 0.0127 * 0.0127 / (3 * span.length_m) - 1e-12);
    slack += span.slack_m;
  }
  EXPECT_NEAR(run.way_m, way, 1e-12);
  EXPECT_NEAR(run.required_m, way + slack + 2 * 0.15, 1e-12);
  EXPECT_NEAR(answer.verdict.margin_m, 10 - run.required_m, 1e-12);
  EXPECT_TRUE(answer.verdict.is_long_enough());
  EXPECT_NEAR(run.ties.front().at_m, 0.15, 1e-12);
  EXPECT_NEAR(run.ties.back().at_m, run.required_m - 0.15, 1e-9);
}

TEST(CableLength, IsNeverBelowTheGeodesicBetweenTheConnectors) {
  // On a drum from one side to the other: the geodesic on the drum's mesh between the two connectors.
  YardBuilder yard;
  const auto drum = yard.part("drum", model::Cylinder{.from = {0, 0, 0}, .to = {4, 0, 0}, .radius = 1});
  for (int k = 0; k < 12; ++k)
    for (int row = 0; row < 8; ++row) {
      const double angle = k * pi / 12;
      const Vec3 at(0.25 + 0.5 * row, 1.07 * std::sin(angle), -1.07 * std::cos(angle));
      const auto rail = yard.rail("grip-" + std::to_string(k) + "-" + std::to_string(row), drum, {at});
      yard.structure.rails[rail.index()].use.cable = true;
    }
  const Vec3 a(0.3, 0, -1), b(3.4, std::sin(2.6), -std::cos(2.6));
  yard.place("plug-a", a, 0.5, model::PlaceKind::Connector);
  yard.place("plug-b", b, 0.5, model::PlaceKind::Connector);
  auto asked = Asked(std::move(yard));
  const auto answer = asked.ask();
  ASSERT_TRUE(answer.run());
  const auto patch = geometry::whole_patch(geometry::Surface(asked.world.scene.part_mesh(model::PartId(0u))));
  const auto ways = geometry::find_shortest_ways(patch, a, std::vector<Vec3>{b});
  const double geodesic = std::get<geometry::SurfaceWay>(ways[0]).length_m;
  EXPECT_NEAR(geodesic, std::hypot(2.6, 3.1), 0.01) << "the helix, unrolled";
  EXPECT_GE(answer.run()->required_m, geodesic);
}

TEST(CableLength, SaysHowMuchIsMissingHowFarItReachesAndWhatItCouldServe) {
  auto yard = deck();
  yard.place("plug-near", {1, 0.3, 0}, 0.5, model::PlaceKind::Connector);
  auto asked = Asked(std::move(yard), some_cable(3));
  const auto answer = asked.ask();
  ASSERT_TRUE(answer.run());
  EXPECT_FALSE(answer.verdict.is_long_enough());
  EXPECT_FALSE(answer.is_feasible());
  ASSERT_TRUE(answer.reaches);
  EXPECT_NEAR(answer.reaches->missing_m, answer.run()->required_m - 3, 1e-12);
  const auto& ties = answer.run()->ties;
  const auto last = answer.reaches->tie;
  EXPECT_LE(ties[last].at_m + 0.15, 3);
  EXPECT_GT(ties[last + 1].at_m + 0.15, 3);
  ASSERT_EQ(answer.reaches->serves.size(), 1u);
  EXPECT_EQ(answer.reaches->serves[0].from, "plug-a");
  EXPECT_EQ(answer.reaches->serves[0].to, "plug-near");
}

TEST(CableLength, TheToleranceIsTakenOff) {
  auto cable = some_cable(10);
  cable.length_tolerance_m = {0.25, "test"};
  auto asked = Asked(deck(), cable);
  EXPECT_DOUBLE_EQ(asked.ask().verdict.least_length_m, 9.75);
}

TEST(CableLength, WhatIsLeftOverIsCoiledNearAnEnd) {
  auto asked = Asked(deck(), some_cable(10));
  const auto answer = asked.ask();
  ASSERT_TRUE(answer.stow);
  const auto& stow = *answer.stow;
  ASSERT_EQ(stow.ties.size(), 2u);
  EXPECT_GE(stow.coil_radius_m, asked.world.kit.cables[0].bend_radius_m());
  EXPECT_NEAR(stow.surplus_m, answer.verdict.margin_m, 1e-12);
  EXPECT_LE(static_cast<double>(stow.turns) * 2 * pi * stow.coil_radius_m, stow.surplus_m);
  EXPECT_GT(static_cast<double>(stow.turns + 1) * 2 * pi * stow.coil_radius_m, stow.surplus_m);
  EXPECT_LE((stow.ties[0].way - stow.ties[1].way).norm(), 2 * stow.coil_radius_m + 1e-12) << "both touch the coil";
  EXPECT_LT(stow.from_end_m, 1);
}

TEST(CableLength, LessThanATurnIsNotCoiled) {
  auto asked = Asked(deck());
  const double required = asked.ask().run()->required_m;
  asked.world.kit.cables[0].length_m.value = required + 0.1;
  const auto answer = asked.ask();
  ASSERT_TRUE(answer.stow);
  EXPECT_EQ(answer.stow->turns, 0u);
  EXPECT_TRUE(answer.stow->ties.empty());
}

// ---- aims ---------------------------------------------------------------------------------------------------------

TEST(CableAims, AreEachBestByTheirOwnMeasure) {
  // A second line half a metre beside: going over saves nothing, the aims differ in how they space the ties.
  auto asked = Asked(deck());
  const auto length = asked.ask(Aim::Length), ties = asked.ask(Aim::Ties), time = asked.ask(Aim::Time);
  ASSERT_TRUE(length.run() && ties.run() && time.run());
  EXPECT_LE(length.run()->required_m, ties.run()->required_m + 1e-4);
  EXPECT_LE(length.run()->required_m, time.run()->required_m + 1e-4);
  EXPECT_LE(ties.run()->ties.size(), length.run()->ties.size());
  EXPECT_LE(ties.run()->ties.size(), time.run()->ties.size());
  EXPECT_LE(time.laying->time_s, length.laying->time_s + 1e-3);
  EXPECT_LE(time.laying->time_s, ties.laying->time_s + 1e-3);
  EXPECT_EQ(time.laying->may_save_s, 0);
  // 4.6 m in spans of 0.61 m at most: eight spans, seven ties.
  EXPECT_EQ(ties.run()->ties.size() - 2, 7u);
}

TEST(CableLaying, VisitsEveryTieWithinReachOfAGrip) {
  auto asked = Asked(deck());
  const auto answer = asked.ask();
  ASSERT_TRUE(answer.laying);
  const auto* way = answer.laying->way.route();
  ASSERT_TRUE(way);
  const auto& ties = answer.run()->ties;
  ASSERT_EQ(way->legs.size() + 1, ties.size());
  const double reach = asked.world.kit.suits[0].reach_m;
  for (std::size_t i = 0; i < ties.size(); ++i) {
    const auto& hand = i == 0 ? way->legs[0].poses.front().hand : way->legs[i - 1].poses.back().hand;
    EXPECT_LE((hand - ties[i].tie.at).norm(), reach + 1e-5);
  }
  EXPECT_EQ(way->legs[0].from, "plug-a");
  EXPECT_EQ(way->legs[0].to, "tie 1");
  EXPECT_NEAR(answer.laying->time_s, way->time_s + 30.0 * static_cast<double>(ties.size() - 2) + 2 * 60, 1e-9);
}

TEST(CableLaying, FromASpoolCountsTheLoad) {
  auto cable = some_cable();
  cable.spool = "spool";
  auto asked = Asked(deck(), cable);
  const auto without = Asked(deck()).ask().laying->time_s;
  model::Load spool;
  spool.id = "spool";
  spool.size_m = {0.3, 0.2, 0.3};
  spool.offset_m = {0, -0.5, 0.3};
  spool.mass_kg = {20, "test"};
  spool.stow_s = {30, "test"};
  spool.hands = 1;
  asked.world.kit.loads.push_back(spool);
  const auto answer = asked.ask();
  ASSERT_TRUE(answer.laying && answer.laying->way.route());
  EXPECT_THAT(answer.laying->way.loads, ElementsAre("spool"));
  EXPECT_GT(answer.laying->time_s, without + 2 * 30);
}

TEST(CableLaying, NeedsAHandRailInReachOfEveryTie) {
  auto yard = deck();
  yard.structure.rails[0].use.hands = false;  // a cable tray, with no rail near
  const auto answer = Asked(std::move(yard)).ask();
  const auto cause = cause_of(answer, NoRunKind::OutOfReach);
  EXPECT_TRUE(cause.opens_alone);
  EXPECT_NEAR(cause.limit_m, 0.61, 1e-12);
}

TEST(CableLaying, AClosedRailTakesNoHand) {
  auto asked = Asked(deck());
  const auto answer = asked.ask({.from = "plug-a", .to = "plug-b"}, {model::RailId(0u)});
  EXPECT_TRUE(cause_of(answer, NoRunKind::OutOfReach).opens_alone);
}

// ---- rules --------------------------------------------------------------------------------------------------------

/// Two lines side by side, 0.5 m apart, joined at both ends by clips.
YardBuilder two_lines() {
  auto yard = deck();
  const auto rail = yard.rail("side", model::PartId(0u), {{0, 0.5, -0.07}, {4, 0.5, -0.07}}, {{0, 0, -1}});
  yard.structure.rails[rail.index()].use.cable = true;
  return yard;
}

TEST(CableRules, AForbiddingZoneIsGoneRound) {
  auto yard = two_lines();
  yard.zone("hot", model::Sphere{.center = {2, 0, -0.07}, .radius = 0.3}, model::ZoneEffect::Forbid, {.cable = true});
  const auto answer = Asked(std::move(yard)).ask();
  ASSERT_TRUE(answer.run());
  EXPECT_THAT(ids_of(*answer.run()), testing::Contains("side"));
  for (const auto& p : answer.run()->line) EXPECT_GE((p - Vec3(2, 0, -0.07)).norm(), 0.3);
}

TEST(CableRules, AForbiddingZoneAcrossIsNamed) {
  auto yard = deck();
  yard.zone("hot", model::Sphere{.center = {2, 0, -0.07}, .radius = 0.5}, model::ZoneEffect::Forbid, {.cable = true});
  const auto answer = Asked(std::move(yard)).ask();
  const auto cause = cause_of(answer, NoRunKind::Zones);
  EXPECT_THAT(cause.zones, ElementsAre(model::ZoneId(0u)));
  EXPECT_TRUE(cause.opens_alone);
  EXPECT_NEAR(cause.then_m, Asked(deck()).ask().run()->required_m, 1e-3);
}

TEST(CableRules, ZonesThatDoNotConcernCablesAreNotLookedAt) {
  auto yard = deck();
  yard.zone("body", model::Sphere{.center = {2, 0, -0.07}, .radius = 0.05}, model::ZoneEffect::Caution, {.body = true});
  yard.zone("cable", model::Sphere{.center = {2, 0, -0.07}, .radius = 0.5}, model::ZoneEffect::Caution,
            {.cable = true});
  const auto answer = Asked(std::move(yard)).ask();
  ASSERT_TRUE(answer.run());
  ASSERT_EQ(answer.run()->zones.size(), 1u);
  EXPECT_EQ(answer.run()->zones[0].zone, model::ZoneId(1u));
  EXPECT_GE(answer.run()->zones[0].inside_m, 1.0);
  EXPECT_LE(answer.run()->zones[0].inside_m, 1.1);
}

TEST(CableRules, RailsKeptFreeAreNeitherTiedToNorCovered) {
  auto asked = Asked(two_lines());
  const auto rail = model::RailId(0u);
  const auto answer = asked.ask({.from = "plug-a", .to = "plug-b", .keep_free = {rail}});
  ASSERT_TRUE(answer.run());
  EXPECT_THAT(ids_of(*answer.run()), testing::Not(testing::Contains("line")));
  const auto none = Asked(deck()).ask();
  auto alone = Asked(deck());
  const auto refused = alone.ask({.from = "plug-a", .to = "plug-b", .keep_free = {rail}});
  const auto cause = cause_of(refused, NoRunKind::KeepFree);
  EXPECT_NEAR(cause.then_m, none.run()->required_m, 1e-3);
  EXPECT_THAT(cause.rails, ElementsAre(rail));
}

TEST(CableRules, ALaidCableIsKeptAwayFromAndCrossingsAreCounted) {
  auto cable = some_cable();
  cable.separation_m = {0.1, "test"};
  // One lies along the first line: the other takes the second. Another lies across both: crossed once.
  auto asked = Asked(two_lines(), cable);
  const LaidCable along{"along", {{0.5, 0, -0.07}, {3.5, 0, -0.07}}, 0.005};
  const LaidCable across{"across", {{2.02, -2, -0.07}, {2.02, 2, -0.07}}, 0.005};
  const auto answer = asked.ask({.from = "plug-a", .to = "plug-b", .laid = {along, across}});
  ASSERT_TRUE(answer.run());
  for (std::size_t i = 1; i + 1 < answer.run()->ties.size(); ++i)
    EXPECT_GE(std::abs(answer.run()->ties[i].tie.at.x() - 2.02), 0.11);
  ASSERT_EQ(answer.run()->crossings.size(), 1u);
  EXPECT_EQ(answer.run()->crossings[0].laid, "across");
  EXPECT_NEAR(answer.run()->crossings[0].at.x(), 2.02, 0.05);
}

/// A deck in two halves, the second of which swings; rails on both, end to end.
YardBuilder hinged(std::optional<double> loop_m) {
  YardBuilder yard;
  yard.structure.switches.push_back({"flap", {"shut", "open"}, "shut", {}});
  const auto fixed = yard.part("fixed", model::Box{.center = {-1, 0, 0.5}, .size = {2, 12, 1}});
  const auto flap = yard.part("flap", model::Box{.center = {1.05, 0, 0.5}, .size = {2, 12, 1}});
  auto& part = yard.structure.parts[flap.index()];
  part.articulated_by = "flap";
  part.poses["shut"] = model::Pose::Identity();
  part.poses["open"] = model::Pose::Identity();
  part.poses["open"].translation() = Vec3(0.5, 0, 0);
  part.cable_loop_m = loop_m;
  for (const auto& [id, on, x] : {std::tuple("left", fixed, -1.5), std::tuple("right", flap, 0.25)}) {
    const auto rail = yard.rail(id, on, {{x, 0, -0.07}, {x + 1.25, 0, -0.07}}, {{0, 0, -1}});
    yard.structure.rails[rail.index()].use.cable = true;
  }
  yard.place("plug-a", {-1.8, 0, 0}, 0.5, model::PlaceKind::Connector);
  yard.place("plug-b", {1.8, 0, 0}, 0.5, model::PlaceKind::Connector);
  yard.structure.places.back().part = flap;
  return yard;
}

TEST(CableRules, AMovingJointGetsItsLoop) {
  const auto answer = Asked(hinged(0.9)).ask();
  ASSERT_TRUE(answer.run());
  EXPECT_DOUBLE_EQ(answer.run()->loops_m, 0.9);
  std::size_t joints = 0;
  for (const auto& span : answer.run()->spans) joints += span.joint ? 1 : 0;
  EXPECT_EQ(joints, 1u);
}

TEST(CableRules, ALoopIsNeverLessThanTheMotionAsksFor) {
  // The flap moves 0.5 m away: a loop of 0.1 m would tear.
  const auto answer = Asked(hinged(0.1)).ask();
  ASSERT_TRUE(answer.run());
  EXPECT_NEAR(answer.run()->loops_m, 0.5, 0.01);
}

TEST(CableRules, AMovingJointWithoutALoopIsNotCrossed) {
  const auto cause = cause_of(Asked(hinged(std::nullopt)).ask(), NoRunKind::Joint);
  EXPECT_TRUE(cause.opens_alone);
  EXPECT_THAT(cause.parts, ElementsAre(model::PartId(1u)));
}

// ---- bends --------------------------------------------------------------------------------------------------------

/// An L of two rails with a square corner of 0.3 m legs to the connectors.
YardBuilder corner(double leg_m) {
  YardBuilder yard;
  const auto part = yard.part("deck", model::Box{.center = {0, 0, 0.5}, .size = {12, 12, 1}});
  const auto rail = yard.rail("knee", part, {{0, 0, -0.07}}, {{0, 0, -1}});
  yard.structure.rails[rail.index()].use.cable = true;
  yard.place("plug-a", {-leg_m, 0, -0.07}, 0.5, model::PlaceKind::Connector);
  yard.place("plug-b", {0, leg_m, -0.07}, 0.5, model::PlaceKind::Connector);
  return yard;
}

TEST(CableBends, ShowTheRadiusThatFitsAndTheMargin) {
  auto cable = some_cable();
  cable.bend_multiple = {20, "test"};  // 0.2 m
  const auto answer = Asked(corner(0.5), cable).ask();
  ASSERT_TRUE(answer.run());
  ASSERT_EQ(answer.run()->ties.size(), 3u);
  EXPECT_NEAR(answer.run()->ties[1].turn_rad, pi / 2, 1e-9);
  EXPECT_NEAR(answer.run()->ties[1].radius_m.value(), 0.5, 1e-9) << "a square corner takes the radius of each leg";
}

TEST(CableBends, TooWideForAnyWayNameTheTightestPlaceAndItsRadius) {
  auto cable = some_cable();
  cable.bend_multiple = {60, "test"};  // 0.6 m, and the legs are 0.5 m
  const auto cause = cause_of(Asked(corner(0.5), cable).ask(), NoRunKind::TooTight);
  EXPECT_NEAR(cause.limit_m, 0.6, 1e-12);
  EXPECT_LE(cause.value_m, 0.5);
  EXPECT_GE(cause.value_m, 0.5 - 0.6 / 256);
  EXPECT_EQ(cause.tie, "knee");
}

TEST(CableBends, OnARoundPartAreOfItsSurface) {
  // A clip on a drum between two connectors, 0.4 m off along helices that turn by 34 degrees: developed, a bend of
  // room 0.4 m on either side; the drum's own bend comes on top.
  for (const double radius : {0.4, 0.6, 1.0}) {
    YardBuilder yard;
    const auto drum = yard.part("drum", model::Cylinder{.from = {-2, 0, 0}, .to = {2, 0, 0}, .radius = radius});
    yard.rail("hands", drum, {{-0.5, 0, -radius - 0.07}, {0.5, 0, -radius - 0.07}}, {{0, 0, -1}});
    const auto at = [&](double length, double deg) {
      const double x = length * std::cos(deg * pi / 180), around = length * std::sin(deg * pi / 180) / radius;
      return Vec3(x, radius * std::sin(around), -radius * std::cos(around));
    };
    constexpr double on = 75, turn = 34, room = 0.4;
    yard.place("plug-a", at(room, on + 180 - turn), 0.5, model::PlaceKind::Connector);
    yard.place("plug-b", at(room, on), 0.5, model::PlaceKind::Connector);
    model::Clip clip;
    clip.id = "clip";
    clip.part = drum;
    clip.at = at(0, 0);
    yard.structure.clips.push_back(clip);
    const auto answer = Asked(std::move(yard)).ask();
    ASSERT_TRUE(answer.run()) << radius;
    ASSERT_EQ(answer.run()->ties.size(), 3u);
    const auto& tie = answer.run()->ties[1];
    EXPECT_NEAR(tie.turn_rad * 180 / pi, turn, 1) << radius;
    const double side = room / std::tan(turn / 2 * pi / 180), curvature = std::pow(std::sin(on * pi / 180), 2) / radius;
    const double fits = 1 / std::hypot(1 / side, curvature);
    EXPECT_LE(tie.radius_m.value(), fits * 1.03) << radius << ": lifted by the cable";
    EXPECT_GE(tie.radius_m.value(), fits * 0.93) << radius;
  }
}

// ---- no run -------------------------------------------------------------------------------------------------------

TEST(CableNoRun, NoTieNearAConnectorNamesTheNearest) {
  auto yard = deck();
  yard.place("plug-c", {2, 3, 0}, 0.5, model::PlaceKind::Connector);
  auto asked = Asked(std::move(yard));
  const auto cause = cause_of(asked.ask({.from = "plug-a", .to = "plug-c"}), NoRunKind::NoTieNear);
  EXPECT_EQ(cause.end, "plug-c");
  EXPECT_NEAR(cause.value_m, 3, 0.01);
  EXPECT_NEAR(cause.limit_m, 0.61, 1e-12);
}

TEST(CableNoRun, AGapBetweenTiesIsNamedWithBothSides) {
  YardBuilder yard;
  const auto part = yard.part("deck", model::Box{.center = {2, 0, 0.5}, .size = {12, 12, 1}});
  for (const auto& [id, x] : {std::pair("near", 0.0), std::pair("far", 2.0)}) {
    const auto rail = yard.rail(id, part, {{x, 0, -0.07}, {x + 1, 0, -0.07}}, {{0, 0, -1}});
    yard.structure.rails[rail.index()].use.cable = true;
  }
  yard.place("plug-a", {-0.3, 0, 0}, 0.5, model::PlaceKind::Connector);
  yard.place("plug-b", {3.3, 0, 0}, 0.5, model::PlaceKind::Connector);
  const auto cause = cause_of(Asked(std::move(yard)).ask(), NoRunKind::Gap);
  EXPECT_NEAR(cause.value_m, 1, 1e-9);
  EXPECT_EQ(cause.tie, "near");
  EXPECT_EQ(cause.other, "far");
  EXPECT_NEAR(cause.at.x(), 1, 1e-9);
  EXPECT_NEAR(cause.at_other.x(), 2, 1e-9);
}

TEST(CableNoRun, NoSurfaceBetweenTwoTiesIsExplained) {
  // A wall between the halves, 4 m high and wide: near enough in a straight line, with no way over.
  YardBuilder yard;
  const auto part = yard.part("wall", model::Box{.center = {0, 0, 0}, .size = {0.02, 4, 4}});
  for (const auto& [id, x] : {std::pair("left", -0.1), std::pair("right", 0.1)}) {
    const auto rail = yard.rail(id, part, {{x, 0, 0}}, {{x < 0 ? -1.0 : 1.0, 0, 0}});
    yard.structure.rails[rail.index()].use.cable = true;
  }
  yard.place("plug-a", {-0.01, 0.3, 0}, 0.5, model::PlaceKind::Connector);
  yard.place("plug-b", {0.01, 0.3, 0}, 0.5, model::PlaceKind::Connector);
  const auto cause = cause_of(Asked(std::move(yard)).ask(), NoRunKind::NoSpan);
  EXPECT_NE(cause.why, NoSpanKind::OpenSpace);
}

TEST(CableNoRun, OfNoTiesAtAll) {
  auto yard = deck();
  yard.structure.rails[0].use.cable = false;
  const auto cause = cause_of(Asked(std::move(yard)).ask(), NoRunKind::NoTieNear);
  EXPECT_EQ(cause.end, "plug-a");
}

TEST(CableRuns, StraightFromConnectorToConnectorNeedNoTie) {
  auto yard = deck();
  yard.place("plug-c", {0.2, 0, 0}, 0.5, model::PlaceKind::Connector);
  auto asked = Asked(std::move(yard));
  const auto answer = asked.ask({.from = "plug-a", .to = "plug-c"});
  ASSERT_TRUE(answer.run());
  EXPECT_EQ(answer.run()->ties.size(), 2u);
  EXPECT_NEAR(answer.run()->way_m, 0.5, 1e-9);
  EXPECT_TRUE(answer.is_feasible());
}

// ---- bad input ----------------------------------------------------------------------------------------------------

std::string refusal(Asked& asked, const std::string& from, const std::string& to) {
  try {
    (void)asked.ask({.from = from, .to = to});
  } catch (const model::InputError& error) {
    return error.diagnostics().front().text();
  }
  return "accepted";
}

TEST(CableRefuses, ConnectorsThatAreNone) {
  auto yard = deck();
  yard.place("porch", {0, 0, 0});
  yard.place("plug-off", {0, 0, -0.5}, 0.5, model::PlaceKind::Connector);
  yard.place("plug-deep", {0, 0, 0.5}, 0.5, model::PlaceKind::Connector);
  auto asked = Asked(std::move(yard));
  EXPECT_EQ(refusal(asked, "plug-x", "plug-b"),
            "connector \"plug-x\" is not in this model\n    did you mean plug-a, plug-b?");
  EXPECT_EQ(refusal(asked, "porch", "plug-b"),
            "place \"porch\" is no connector\n    a cable begins at a connector, or goes on from its coil (--laid "
            "RESULT.json); its connectors: plug-a, plug-b, plug-off, plug-deep");
  EXPECT_EQ(refusal(asked, "plug-a", "plug-off"),
            "connector \"plug-off\" is 0.50 m off the structure, nearest to part \"deck\"\n"
            "    put it within 0.15 m of the part it stands on");
  EXPECT_EQ(refusal(asked, "plug-deep", "plug-b"),
            "connector \"plug-deep\" is inside part \"deck\", and no cable comes out within 0.15 m\n"
            "    put it on the surface");
  EXPECT_EQ(refusal(asked, "plug-a", "plug-a"), "a cable from \"plug-a\" to itself\n    name two connectors");
}

}  // namespace
}  // namespace holdfast::cable
