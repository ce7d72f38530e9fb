// SPDX-License-Identifier: GPL-3.0-or-later
// Cables and parts that move: random ones, against scenes built in every other configuration and dense samples.

#include <gtest/gtest.h>

#include <cmath>

#include "holdfast/cable/cable.h"
#include "mesh_scene.h"
#include "yard_builder.h"

namespace holdfast::cable {
namespace {

using support::Random;
using support::World;
using support::YardBuilder;

constexpr double radius_m = 0.005, lies_within_m = 0.15;

model::Pose moved(const Vec3& by, double angle = 0, const Vec3& axis = Vec3::UnitZ()) {
  model::Pose pose = model::Pose::Identity();
  pose.translation() = by;
  pose.linear() = Eigen::AngleAxisd(angle, axis).toRotationMatrix();
  return pose;
}

void move_by(YardBuilder& yard, model::PartId part, const std::string& by, std::map<std::string, model::Pose> poses,
             std::optional<double> loop_m = std::nullopt) {
  auto& p = yard.structure.parts[part.index()];
  p.articulated_by = by;
  p.poses = std::move(poses);
  p.cable_loop_m = loop_m;
}

struct Case {
  explicit Case(YardBuilder yard) : world(std::move(yard.structure)) {
    auto cable = model::default_cable();
    cable.id = "cable";
    cable.diameter_m = {2 * radius_m, "test"};
    cable.length_m = {10, "test"};
    world.kit.cables.push_back(cable);
  }
  CableAnswer ask() const {
    const auto space = prepare_cable(world.graph, world.kit, world.kit.cables[0], nullptr);
    return find_cable_run(space, {.kit = world.kit, .suit = world.kit.suits.front()},
                          {.from = "plug-a", .to = "plug-b"});
  }
  World world;
};

/// A deck with handholds in rows of 0.3 m and a connector at two corners; a box over it, as big as a hand or a table.
/// One of the two moves, between three positions.
YardBuilder field(Random& random, bool is_deck_moving) {
  YardBuilder yard;
  yard.structure.switches.push_back({"arm", {"one", "two", "three"}, "one", {}});
  const auto deck = yard.part("deck", model::Box{.center = {0.75, 0.75, 0.5}, .size = {3, 3, 1}});
  for (int i = 0; i < 6; ++i)
    for (int k = 0; k < 6; ++k) {
      const auto rail = yard.rail("hold-" + std::to_string(6 * i + k), deck, {{0.3 * i, 0.3 * k, -0.07}}, {{0, 0, -1}});
      yard.structure.rails[rail.index()].use.cable = true;
    }
  yard.place("plug-a", {-0.25, 0.1, -0.07}, 0.5, model::PlaceKind::Connector);
  yard.place("plug-b", {1.7, 1.4, -0.07}, 0.5, model::PlaceKind::Connector);
  for (auto& place : yard.structure.places) place.part = deck;
  const Vec3 size = Vec3(0.05, 0.05, 0.02) + Vec3(0.3 * random.unit(), 0.3 * random.unit(), 0.1 * random.unit());
  const auto box = yard.part("box", model::Box{.size = size});
  const auto over = [&] {
    return moved({1.5 * random.unit(), 1.5 * random.unit(), -0.02 - 0.3 * random.unit()}, 6 * random.unit());
  };
  std::map<std::string, model::Pose> poses = {{"one", over()}, {"two", over()}, {"three", over()}};
  if (is_deck_moving) {
    yard.structure.parts[box.index()].at = poses["one"];
    for (auto& [position, pose] : poses) pose = yard.structure.parts[box.index()].at * pose.inverse();
  }
  move_by(yard, is_deck_moving ? deck : box, "arm", std::move(poses));
  return yard;
}

class CableAndWhatMoves : public testing::TestWithParam<bool> {};
INSTANTIATE_TEST_SUITE_P(Deck, CableAndWhatMoves, testing::Bool());

TEST_P(CableAndWhatMoves, NeverMeetWithoutAStatedLoop) {
  std::size_t runs = 0, refused = 0;
  for (std::uint64_t seed = 1; seed <= 25; ++seed) {
    Random random(seed);
    auto yard = field(random, GetParam());
    const Case c(std::move(yard));
    const auto answer = c.ask();
    const auto& structure = c.world.structure;
    if (!answer.run()) {
      for (const auto& cause : answer.no_run()->causes) refused += cause.kind == NoRunKind::Joint ? 1 : 0;
      continue;
    }
    ++runs;
    EXPECT_EQ(answer.run()->loops_m, 0);
    const auto now = structure.default_configuration();
    for (const auto& position : structure.switches[0].positions) {
      model::Configuration other = now;
      other.positions["arm"] = position;
      const auto scene = geometry::build_scene(structure, other);
      const model::PartId deck(0u), box(1u);
      const model::Pose carried = structure.pose(deck, other) * structure.pose(deck, now).inverse();
      const auto& line = answer.run()->line;
      for (std::size_t i = 1; i < line.size(); ++i)
        for (int k = 0; k <= 200; ++k) {
          const Vec3 p = carried * Vec3(line[i - 1] + (line[i] - line[i - 1]) * (k / 200.0));
          const double near = scene.distance_to_part(box, p, 1);
          ASSERT_GE(near, radius_m) << "seed " << seed << ", " << position;
          ASSERT_TRUE(near >= lies_within_m || near >= scene.distance_to_part(deck, p, 1))
              << "seed " << seed << ", " << position;
        }
    }
  }
  EXPECT_GE(runs, 8u);
}

/// Two halves of a deck with a slab between them, level with them, which moves; rails on the halves alone.
YardBuilder bridged(std::optional<double> loop_m, const model::Pose& other = moved({0, 0, 0.05})) {
  YardBuilder yard;
  yard.structure.switches.push_back({"slab", {"up", "down"}, "up", {}});
  const auto left = yard.part("left", model::Box{.center = {-1.15, 0, 0.5}, .size = {2, 6, 1}});
  const auto right = yard.part("right", model::Box{.center = {1.15, 0, 0.5}, .size = {2, 6, 1}});
  const auto slab = yard.part("slab", model::Box{.center = {0, 0, 0.5}, .size = {0.28, 6, 1}});
  move_by(yard, slab, "slab", {{"up", model::Pose::Identity()}, {"down", other}}, loop_m);
  for (const auto& [id, on, x] : {std::tuple("line-left", left, -1.5), std::tuple("line-right", right, 0.25)}) {
    const auto rail = yard.rail(id, on, {{x, 0, -0.07}, {x + 1.25, 0, -0.07}}, {{0, 0, -1}});
    yard.structure.rails[rail.index()].use.cable = true;
  }
  yard.place("plug-a", {-1.8, 0, 0}, 0.5, model::PlaceKind::Connector);
  yard.place("plug-b", {1.8, 0, 0}, 0.5, model::PlaceKind::Connector);
  return yard;
}

TEST(CableMotion, ASpanOverAPartThatMovesNeedsALoop) {
  const auto answer = Case(bridged(std::nullopt)).ask();
  ASSERT_TRUE(answer.no_run());
  const auto& cause = answer.no_run()->causes[0];
  EXPECT_EQ(cause.kind, NoRunKind::Joint);
  EXPECT_EQ(cause.parts, std::vector{model::PartId(2u)});
  EXPECT_TRUE(cause.moves_into.empty());
  EXPECT_TRUE(cause.opens_alone);
}

TEST(CableMotion, ASpanOverAPartThatMovesGetsALoopOntoItAndOneOff) {
  const auto answer = Case(bridged(0.2)).ask();
  ASSERT_TRUE(answer.run());
  EXPECT_DOUBLE_EQ(answer.run()->loops_m, 0.4);
  std::size_t joints = 0;
  for (const auto& span : answer.run()->spans) joints += span.joint == model::PartId(2u) ? 1 : 0;
  EXPECT_EQ(joints, 1u);
}

TEST(CableMotion, APartThatKeepsItsPoseInEveryPositionDoesNotMove) {
  const auto answer = Case(bridged(std::nullopt, model::Pose::Identity())).ask();
  ASSERT_TRUE(answer.run());
  EXPECT_EQ(answer.run()->loops_m, 0);
}

TEST(CableMotion, APartThatMovesIntoTheCableClosesItWhateverItsLoop) {
  // A gate that stands away from the cable, and across it when shut: the deck is bare of other ties.
  YardBuilder yard;
  yard.structure.switches.push_back({"gate", {"open", "shut"}, "open", {}});
  const auto deck = yard.part("deck", model::Box{.center = {0, 0, 0.5}, .size = {6, 6, 1}});
  const auto gate = yard.part("gate", model::Box{.center = {0, 0, -0.5}, .size = {0.1, 6, 0.98}});
  move_by(yard, gate, "gate", {{"open", moved({0, 0, -3})}, {"shut", model::Pose::Identity()}}, 0.5);
  const auto rail = yard.rail("line", deck, {{-1, 0, -0.07}, {1, 0, -0.07}}, {{0, 0, -1}});
  yard.structure.rails[rail.index()].use.cable = true;
  yard.place("plug-a", {-1.3, 0, 0}, 0.5, model::PlaceKind::Connector);
  yard.place("plug-b", {1.3, 0, 0}, 0.5, model::PlaceKind::Connector);
  const auto answer = Case(std::move(yard)).ask();
  ASSERT_TRUE(answer.no_run());
  const auto& cause = answer.no_run()->causes[0];
  EXPECT_EQ(cause.kind, NoRunKind::Joint);
  EXPECT_TRUE(cause.parts.empty());
  ASSERT_EQ(cause.moves_into.size(), 1u);
  EXPECT_EQ(cause.moves_into[0].part, gate);
  EXPECT_EQ(cause.moves_into[0].changed.positions, (std::map<std::string, std::string>{{"gate", "shut"}}));
}

TEST(CableMotion, FromAMovingPartToAnotherNeedsALoopForBoth) {
  const auto between = [](std::optional<double> first_m, std::optional<double> second_m, bool is_one_switch) {
    YardBuilder yard;
    yard.structure.switches.push_back({"first", {"in", "out"}, "in", {}});
    yard.structure.switches.push_back({"second", {"in", "out"}, "in", {}});
    const auto left = yard.part("left", model::Box{.center = {-1.02, 0, 0.5}, .size = {2, 6, 1}});
    const auto right = yard.part("right", model::Box{.center = {1.02, 0, 0.5}, .size = {2, 6, 1}});
    move_by(yard, left, "first", {{"in", model::Pose::Identity()}, {"out", moved({-0.1, 0, 0})}}, first_m);
    move_by(yard, right, is_one_switch ? "first" : "second",
            {{"in", model::Pose::Identity()}, {"out", moved({is_one_switch ? -0.1 : 0.1, 0, 0})}}, second_m);
    for (const auto& [id, on, x] : {std::tuple("line-left", left, -1.5), std::tuple("line-right", right, 0.15)}) {
      const auto rail = yard.rail(id, on, {{x, 0, -0.07}, {x + 1.35, 0, -0.07}}, {{0, 0, -1}});
      yard.structure.rails[rail.index()].use.cable = true;
    }
    yard.place("plug-a", {-1.8, 0, 0}, 0.5, model::PlaceKind::Connector);
    yard.place("plug-b", {1.8, 0, 0}, 0.5, model::PlaceKind::Connector);
    return Case(std::move(yard)).ask();
  };
  const auto both = between(0.3, 0.4, false);
  ASSERT_TRUE(both.run());
  EXPECT_NEAR(both.run()->loops_m, 0.7, 1e-12);
  EXPECT_FALSE(between(0.3, std::nullopt, false).run());
  EXPECT_FALSE(between(std::nullopt, 0.4, false).run());
  const auto together = between(std::nullopt, std::nullopt, true);
  ASSERT_TRUE(together.run()) << "both move as one";
  EXPECT_EQ(together.run()->loops_m, 0);
}

TEST(CableMotion, IsLookedAtWhereThePartIsNotThereNow) {
  // A gate that is there only while shut.
  YardBuilder yard;
  yard.structure.switches.push_back({"gate", {"open", "shut"}, "open", {}});
  const auto deck = yard.part("deck", model::Box{.center = {0, 0, 0.5}, .size = {6, 6, 1}});
  const auto gate = yard.part("gate", model::Box{.center = {0, 0, -0.5}, .size = {0.1, 6, 0.98}});
  move_by(yard, gate, "gate", {{"open", moved({0, 0, -3})}, {"shut", model::Pose::Identity()}});
  yard.structure.parts[gate.index()].when.any_of["gate"] = {"shut"};
  const auto rail = yard.rail("line", deck, {{-1, 0, -0.07}, {1, 0, -0.07}}, {{0, 0, -1}});
  yard.structure.rails[rail.index()].use.cable = true;
  yard.place("plug-a", {-1.3, 0, 0}, 0.5, model::PlaceKind::Connector);
  yard.place("plug-b", {1.3, 0, 0}, 0.5, model::PlaceKind::Connector);
  const auto answer = Case(std::move(yard)).ask();
  ASSERT_TRUE(answer.no_run());
  EXPECT_EQ(answer.no_run()->causes[0].moves_into.size(), 1u);
}

}  // namespace
}  // namespace holdfast::cable
