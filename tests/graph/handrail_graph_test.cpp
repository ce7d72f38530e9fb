// SPDX-License-Identifier: GPL-3.0-or-later
#include "holdfast/graph/handrail_graph.h"

#include <gtest/gtest.h>

#include <cmath>
#include <numbers>

#include "yard_builder.h"

namespace holdfast::graph {
namespace {

using support::World;
using support::YardBuilder;

constexpr double pi = std::numbers::pi;
const Vec3 zenith = -Vec3::UnitZ();

/// A flat deck 20 m x 20 m with its zenith face at z = 0.
model::Box deck() { return {.center = {0, 0, 0.5}, .size = {20, 20, 1}}; }

std::size_t open_moves(const HandrailGraph& graph) {
  std::size_t count = 0;
  for (const auto& move : graph.moves()) count += move.is_open();
  return count;
}

TEST(HandrailGraph, OfNothingIsEmpty) {
  const World world(model::Structure{});
  EXPECT_TRUE(world.graph.grips().empty());
  EXPECT_TRUE(world.graph.moves().empty());
  EXPECT_FALSE(world.graph.find_nearest_grip(Vec3::Zero()));
}

TEST(HandrailGraph, HandholdIsOneGripWithoutMoves) {
  YardBuilder yard;
  yard.rail("h", yard.part("deck", deck()), {{0, 0, -0.07}});
  const World world(yard.structure);
  ASSERT_EQ(world.graph.grips().size(), 1u);
  EXPECT_TRUE(world.graph.moves().empty());
  EXPECT_NEAR((world.graph.grips()[0].outward - zenith).norm(), 0, 1e-12) << "auto outward points away from the deck";
}

TEST(HandrailGraph, GripsDivideEachStraightPieceEvenly) {
  YardBuilder yard;
  // 1.0 m / 0.15 m -> 7 steps; 0.30 m -> exactly 2 steps, not 3, in spite of rounding.
  yard.rail("bent", yard.part("deck", deck()), {{0, 0, -0.07}, {1, 0, -0.07}, {1, 0.3, -0.07}});
  const World world(yard.structure);
  ASSERT_EQ(world.graph.grips().size(), 1u + 7 + 2);
  EXPECT_NEAR(world.graph.grips()[1].along_m, 1.0 / 7, 1e-12);
  EXPECT_NEAR(world.graph.grips()[8].along_m, 1.15, 1e-12);
  EXPECT_NEAR((world.graph.grips()[7].hand - Vec3(1, 0, -0.07)).norm(), 0, 1e-12) << "the bend itself is a grip";
}

TEST(HandrailGraph, ReachIncludesEquality) {
  for (const auto& [gap, expected] : {std::pair{0.61, 1u}, std::pair{0.6099, 1u}, std::pair{0.6101, 0u}}) {
    SCOPED_TRACE(gap);
    YardBuilder yard;
    const auto on = yard.part("deck", deck());
    yard.rail("a", on, {{0, 0, -0.07}});
    yard.rail("b", on, {{gap, 0, -0.07}});
    EXPECT_EQ(World(yard.structure).graph.moves().size(), expected);
  }
}

TEST(HandrailGraph, TurnLimitIncludesTheRightAngle) {
  for (const auto& [degrees, allowed] : {std::pair{90.0, true}, std::pair{89.0, true}, std::pair{90.01, false}}) {
    SCOPED_TRACE(degrees);
    YardBuilder yard;
    const auto on = yard.nowhere();
    const double angle = degrees * pi / 180;
    yard.rail("a", on, {{0, 0, 0}}, {zenith});
    yard.rail("b", on, {{0.5, 0, 0}}, {{std::sin(angle), 0, -std::cos(angle)}});
    const World world(yard.structure);
    ASSERT_EQ(world.graph.moves().size(), 1u);
    EXPECT_EQ(world.graph.moves()[0].is_turn_allowed, allowed);
    EXPECT_EQ(world.graph.moves()[0].is_open(), allowed);
  }
}

TEST(HandrailGraph, BodyKeepsTheStandOffRoundAnEdge) {
  YardBuilder yard;
  const auto block = yard.part("block", model::Box{.center = {0, 0, 0}, .size = {4, 4, 4}});
  // 0.05 m from the edge: farther in, the straight line of the hands would take the body axis nearer to the edge than
  // the corridor.
  yard.rail("top", block, {{1.95, 0, -2.07}}, {zenith});
  yard.rail("side", block, {{2.07, 0, -1.95}}, {Vec3::UnitX()});
  const World world(yard.structure);
  ASSERT_EQ(world.graph.moves().size(), 1u);
  const auto& move = world.graph.moves()[0];
  EXPECT_TRUE(move.is_open());
  EXPECT_NEAR(move.turn_rad, pi / 2, 1e-6);
  const auto& a = world.graph.grip(move.a);
  const auto& b = world.graph.grip(move.b);
  for (int i = 0; i <= 100; ++i) {
    const double t = i / 100.0;
    const Vec3 hand = a.hand + t * (b.hand - a.hand);
    EXPECT_NEAR((world.graph.body_at(MoveId(0), t) - hand).norm(), world.graph.body().stand_off_m, 1e-12);
  }
  // The hands' way is 0.17 m; a quarter turn at 0.55 m adds 0.86 m of body's way. Dense chords never exceed the stated
  // length.
  double chords = 0;
  for (int i = 0; i < 20000; ++i)
    chords += (world.graph.body_at(MoveId(0), (i + 1) / 20000.0) - world.graph.body_at(MoveId(0), i / 20000.0)).norm();
  EXPECT_GE(move.way_m, chords);
  EXPECT_NEAR(move.way_m, chords, 1e-6);
}

TEST(HandrailGraph, HandLineThroughStructureIsForbidden) {
  YardBuilder yard;
  const auto on = yard.part("deck", deck());
  yard.part("wall", model::Box{.center = {0.25, 0, -0.2}, .size = {0.02, 1, 0.4}});
  yard.rail("a", on, {{0, 0, -0.07}}, {zenith});
  yard.rail("b", on, {{0.5, 0, -0.07}}, {zenith});
  const World world(yard.structure);
  ASSERT_EQ(world.graph.moves().size(), 1u);
  EXPECT_FALSE(world.graph.moves()[0].is_hand_line_clear);
}

TEST(HandrailGraph, InsideCornerIsPassedOnlyByLeaning) {
  YardBuilder yard;
  yard.part("floor", model::Box{.center = {0, 0, 0.5}, .size = {8, 8, 1}});
  yard.part("wall", model::Box{.center = {-0.5, 0, -2}, .size = {1, 8, 4}});
  yard.rail("floor-rail", model::PartId(0), {{3, 0, -0.07}, {0.35, 0, -0.07}}, {zenith});
  yard.rail("wall-rail", model::PartId(1), {{0.07, 0, -0.35}, {0.07, 0, -3}}, {Vec3::UnitX()});
  yard.place("on-floor", {2.9, 0, -0.07});
  yard.place("on-wall", {0.07, 0, -2.9});
  const World upright(yard.structure, {.lean_rad = 0});
  const World leaning(yard.structure, {});
  EXPECT_FALSE(upright.route("on-floor", "on-wall").route());
  EXPECT_TRUE(leaning.route("on-floor", "on-wall").route());
}

/// Two parallel tanks of 1 m radius, `gap` apart, with a rail along the first one in the narrow.
std::unique_ptr<World> narrow_between_tanks(double gap) {
  YardBuilder yard;
  const auto tank = yard.part("tank-a", model::Cylinder{.from = {0, -1, 0}, .to = {6, -1, 0}, .radius = 1});
  yard.part("tank-b", model::Cylinder{.from = {0, 1 + gap, 0}, .to = {6, 1 + gap, 0}, .radius = 1});
  yard.rail("r", tank, {{1, 0.07, 0}, {5, 0.07, 0}}, {Vec3::UnitY()});
  yard.place("in", {1, 0.07, 0});
  yard.place("out", {5, 0.07, 0});
  return std::make_unique<World>(yard.structure);
}

TEST(HandrailGraph, PassageBetweenTanksOpensWithItsWidth) {
  EXPECT_TRUE(narrow_between_tanks(1.15)->route("in", "out").route());
  const auto narrow = narrow_between_tanks(1.05);
  const auto answer = narrow->route("in", "out");
  ASSERT_TRUE(answer.no_route());
  ASSERT_FALSE(answer.no_route()->causes.empty());
  const auto& cause = answer.no_route()->causes[0];
  EXPECT_EQ(cause.kind, route::CauseKind::BodyTooTight);
  EXPECT_DOUBLE_EQ(cause.limit_m, 1.09);
  // The widest stance in the gap leans 30 deg sideways: body axis at (0.275, 0.07 + 0.55 cos 30 deg) in the plane
  // across, 0.5287 m from the far tank and 0.5707 m from the near one, so a corridor of twice 0.5287 m.
  const double y = 0.07 + 0.55 * std::cos(pi / 6), side = 0.275;
  const double widest = 2 * (std::hypot(side, 2.05 - y) - 1);
  EXPECT_LE(cause.value_m, widest + 1e-9);
  EXPECT_NEAR(cause.value_m, widest, 0.01);
}

TEST(HandrailGraph, StanceLeansNoMoreThanNeeded) {
  // A ceiling above the deck: upright the body axis is at 0.62 m; the ceiling at 1.15 m leaves 0.53 m, at 15 deg 0.549
  // m.
  YardBuilder yard;
  const auto on = yard.part("deck", deck());
  yard.part("ceiling", model::Box{.center = {0, 0, -1.65}, .size = {20, 20, 1}});
  yard.rail("r", on, {{0, 0, -0.07}, {0.6, 0, -0.07}}, {zenith});
  const World world(yard.structure);
  for (const auto& grip : world.graph.grips()) {
    EXPECT_NEAR(std::acos(grip.stance.dot(grip.outward)), pi / 12, 1e-9);
    EXPECT_GE(grip.clearance_lower_m, 0.545);
  }
}

TEST(HandrailGraph, CertifiedClearanceStandsAgainstFineSampling) {
  YardBuilder yard;
  const auto drum = yard.part("drum", model::Cylinder{.from = {0, 0, 0}, .to = {4, 0, 0}, .radius = 1});
  yard.part("ball", model::Sphere{.center = {2, 0, -2.6}, .radius = 0.3});
  yard.part("beam", model::Box{.center = {1, 1.9, 0}, .size = {0.3, 0.3, 4}});
  for (int i = 0; i < 12; ++i) {
    const double angle = 2 * pi * i / 12;
    const Vec3 out(0, std::cos(angle), std::sin(angle));
    yard.rail("r" + std::to_string(i), drum, {Vec3(0.2, 0, 0) + 1.07 * out, Vec3(3.8, 0, 0) + 1.07 * out});
  }
  const World world(yard.structure);
  ASSERT_GT(world.graph.moves().size(), 1000u);
  int exact = 0;
  for (std::size_t m = 0; m < world.graph.moves().size(); m += 7) {
    const auto& move = world.graph.moves()[m];
    if (!move.is_turn_allowed || !move.is_hand_line_clear) continue;
    double sampled = std::numeric_limits<double>::infinity();
    const int steps = static_cast<int>(move.way_m / 0.001) + 1;
    for (int i = 0; i <= steps; ++i)
      sampled = std::min(sampled, world.scene.distance(world.graph.body_at(MoveId(m), double(i) / steps), 10));
    EXPECT_LE(move.clearance_lower_m, sampled + 1e-12);
    if (!move.is_at_least) {
      EXPECT_GE(move.clearance_lower_m, sampled - 0.005);
      ++exact;
    }
    const auto refined = world.graph.compute_clearance(MoveId(m));
    EXPECT_LE(refined.lower_m, sampled + 1e-12);
    if (refined.lower_m < 0.8) {
      EXPECT_GE(refined.lower_m, sampled - 0.005);
    }
    EXPECT_EQ(move.is_body_clear, sampled >= 0.545) << "clearance " << sampled;
  }
  EXPECT_GT(exact, 0);
}

TEST(HandrailGraph, TouchingAZoneIsAllowed) {
  // The corridor tube round a straight way at z = -0.62 reaches z = -1.165; a zone box starts there, or a millimetre
  // lower.
  for (const auto& [edge, inside] : {std::pair{-1.165, false}, std::pair{-1.164, true}}) {
    SCOPED_TRACE(edge);
    YardBuilder yard;
    const auto on = yard.part("deck", deck());
    yard.rail("r", on, {{0, 0, -0.07}, {0.6, 0, -0.07}}, {zenith});
    model::OrientedBox box{.size = {4, 4, 2}};
    box.pose.translation() = Vec3(0, 0, edge - 1);
    yard.zone("z", box);
    const World world(yard.structure);
    for (std::size_t m = 0; m < world.graph.moves().size(); ++m)
      EXPECT_EQ(!world.graph.zones(MoveId(m)).empty(), inside);
    for (std::size_t g = 0; g < world.graph.grips().size(); ++g)
      EXPECT_EQ(!world.graph.zones(GripId(g)).empty(), inside);
  }
}

TEST(HandrailGraph, HandsAndBodyAreKeptOutSeparately) {
  YardBuilder yard;
  const auto on = yard.part("deck", deck());
  yard.rail("r", on, {{-3, 0, -0.07}, {3, 0, -0.07}}, {zenith});
  yard.zone("hands-only", model::Sphere{.center = {0, 0, -0.07}, .radius = 0.2}, model::ZoneEffect::Forbid,
            {.hands = true});
  const World world(yard.structure);
  for (std::size_t m = 0; m < world.graph.moves().size(); ++m) {
    const auto& move = world.graph.moves()[m];
    const double x0 = world.graph.grip(move.a).hand.x(), x1 = world.graph.grip(move.b).hand.x();
    const bool enters = std::min(x0, x1) < 0.2 - 1e-6 && std::max(x0, x1) > -0.2 + 1e-6;
    EXPECT_EQ(!world.graph.zones(MoveId(m)).empty(), enters) << x0 << " .. " << x1;
    for (const auto& label : world.graph.zones(MoveId(m))) EXPECT_FALSE(label.body);
  }
}

TEST(HandrailGraph, RailsFollowTheirPartAndAreAbsentWithIt) {
  YardBuilder yard;
  yard.structure.switches.push_back({"arm", {"stowed", "out", "gone"}, "stowed", {}});
  const auto arm = yard.part("arm", model::Box{.size = {4, 0.4, 0.4}});
  auto& part = yard.structure.parts[arm.index()];
  part.articulated_by = "arm";
  part.poses["stowed"] = model::Pose::Identity();
  part.poses["gone"] = model::Pose::Identity();
  model::Pose out = model::Pose::Identity();
  out.translate(Vec3(10, 0, 0)).rotate(Eigen::AngleAxisd(pi / 2, Vec3::UnitZ()));
  part.poses["out"] = out;
  part.when.any_of["arm"] = {"stowed", "out"};
  yard.rail("r", arm, {{0, 0, -0.27}, {1, 0, -0.27}}, {zenith});
  const model::Configuration stowed{{{"arm", "stowed"}}}, turned{{{"arm", "out"}}}, gone{{{"arm", "gone"}}};
  const World a(yard.structure, {}, &stowed), b(yard.structure, {}, &turned), c(yard.structure, {}, &gone);
  EXPECT_NEAR((a.graph.grips().back().hand - Vec3(1, 0, -0.27)).norm(), 0, 1e-12);
  EXPECT_NEAR((b.graph.grips().back().hand - Vec3(10, 1, -0.27)).norm(), 0, 1e-12);
  EXPECT_TRUE(c.graph.grips().empty());
}

TEST(HandrailGraph, TwoOutwardDirectionsMakeTwoGripsAndASwing) {
  YardBuilder yard;
  const auto on = yard.nowhere();
  yard.rail("r", on, {{0, 0, 0}}, {zenith, Vec3::UnitY()});
  const World world(yard.structure);
  ASSERT_EQ(world.graph.grips().size(), 2u);
  ASSERT_EQ(world.graph.moves().size(), 1u);
  EXPECT_EQ(world.graph.moves()[0].gap_m, 0);
  EXPECT_NEAR(world.graph.moves()[0].way_m, 0.55 * pi / 2, 1e-6);
  EXPECT_FALSE(world.graph.moves()[0].is_rail_change);
}

TEST(HandrailGraph, IsTheSameOnAnyNumberOfThreadsAndTwice) {
  YardBuilder yard;
  const auto drum = yard.part("drum", model::Cylinder{.from = {0, 0, 0}, .to = {8, 0, 0}, .radius = 1.5});
  for (int i = 0; i < 16; ++i) {
    const double angle = 2 * pi * i / 16;
    const Vec3 out(0, std::cos(angle), std::sin(angle));
    yard.rail("r" + std::to_string(i), drum, {Vec3(0.2, 0, 0) + 1.57 * out, Vec3(7.8, 0, 0) + 1.57 * out});
  }
  const World first(yard.structure), second(yard.structure);
  ASSERT_EQ(first.graph.moves().size(), second.graph.moves().size());
  for (std::size_t m = 0; m < first.graph.moves().size(); ++m) {
    EXPECT_EQ(first.graph.moves()[m].a, second.graph.moves()[m].a);
    EXPECT_EQ(first.graph.moves()[m].clearance_lower_m, second.graph.moves()[m].clearance_lower_m);
  }
  EXPECT_GT(open_moves(first.graph), 0u);
}

}  // namespace
}  // namespace holdfast::graph
