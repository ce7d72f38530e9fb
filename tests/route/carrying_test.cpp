// SPDX-License-Identifier: GPL-3.0-or-later
// Several manners of carrying a load: either side, in tow instead of beside, worn.

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <random>

#include "yard_builder.h"

namespace holdfast {
namespace {

using model::CarriedHow;
using model::Load;
using route::Answer;
using route::Profile;
using support::Vec3;
using support::World;
using support::YardBuilder;

/// A box on the right, and as well on the left.
Load on_either_side(Vec3 size, double side_m) {
  Load load;
  load.id = load.name = "bag";
  load.size_m = std::move(size), load.offset_m = {0, -side_m, 0};
  load.mass_kg = {20, "test", model::Confidence::Assumption};
  load.stow_s = {30, "test", model::Confidence::Assumption};
  load.change_s = {10, "test", model::Confidence::Assumption};
  load.hands = 1;
  load.other_carryings.push_back({CarriedHow::Beside, {0, side_m, 0}, 0, 1, std::nullopt});
  return load;
}
Load with_tow(Load load, double tow_m) {
  load.other_carryings.push_back({CarriedHow::InTow, Vec3::Zero(), tow_m, 0, std::nullopt});
  return load;
}

Answer ask(const World& world, std::vector<const Load*> loads, const std::string& from, const std::string& to,
           route::Objective by = route::Objective::Time) {
  return route::find_route(world.graph, {.kit = world.kit, .suit = world.kit.suits.front(), .loads = std::move(loads)},
                           {.from = from, .to = to, .by = by});
}

/// A line along x with walls beside it: to the right (+y going forward on the zenith side) and to the left.
model::Structure walled(std::optional<std::pair<double, double>> right, std::optional<std::pair<double, double>> left) {
  YardBuilder yard;
  yard.rail("line", yard.nowhere(), {{0, 0, 0}, {8, 0, 0}}, {-Vec3::UnitZ()});
  const auto wall = [&](const std::string& id, double y, const std::pair<double, double>& x) {
    yard.part(id, model::Box{.center = {(x.first + x.second) / 2, y, -0.55}, .size = {x.second - x.first, 0.2, 2}});
  };
  if (right) wall("right", 0.7, *right);
  if (left) wall("left", -0.7, *left);
  yard.place("a", {0, 0, 0}, 0.01), yard.place("b", {8, 0, 0}, 0.01);
  return yard.structure;
}

TEST(Carrying, TakesTheSideThatHasRoomAndSaysWhich) {
  const Load bag = on_either_side({0.3, 0.3, 0.3}, 0.6);
  const World right(walled(std::pair(2.0, 6.0), std::nullopt)), left(walled(std::nullopt, std::pair(2.0, 6.0)));
  const auto first = bag.carried(0);
  EXPECT_FALSE(ask(right, {&first}, "a", "b").route()) << "on the right alone there is none";
  for (const auto& [world, is_left] : {std::pair(&right, true), {&left, false}}) {
    const auto answer = ask(*world, {&bag}, "a", "b");
    ASSERT_TRUE(answer.route());
    ASSERT_EQ(answer.route()->carried.size(), 1u);
    EXPECT_EQ(answer.route()->carried[0].load, "bag");
    EXPECT_EQ(answer.route()->carried[0].how, CarriedHow::Beside);
    EXPECT_EQ(answer.route()->carried[0].side_m > 0, is_left);
    for (const auto& pose : answer.route()->legs[0].poses)
      for (const auto& box : pose.loads) EXPECT_EQ(box.middle.y() < 0, is_left);
  }
}

TEST(Carrying, ChangesHandsBetweenAWallOnEitherSideAndSaysWhere) {
  const Load bag = on_either_side({0.3, 0.3, 0.3}, 0.6);
  const World world(walled(std::pair(0.0, 2.0), std::pair(6.0, 8.0)));
  const auto right = bag.carried(0), left = bag.carried(1);
  EXPECT_FALSE(ask(world, {&right}, "a", "b").route());
  EXPECT_FALSE(ask(world, {&left}, "a", "b").route());
  const auto answer = ask(world, {&bag}, "a", "b");
  ASSERT_TRUE(answer.route());
  const auto& route = *answer.route();
  ASSERT_EQ(route.carried.size(), 2u);
  EXPECT_GT(route.carried[0].side_m, 0);
  EXPECT_LT(route.carried[1].side_m, 0);
  EXPECT_GT(route.carried[1].at.x(), 2) << "past the first wall by the bag's reach";
  EXPECT_LT(route.carried[1].at.x(), 6);
  const auto open = ask(World(walled(std::nullopt, std::nullopt)), {&bag}, "a", "b");
  EXPECT_NEAR(route.time_s, open.route()->time_s + bag.change_s, 1e-6) << "the change and nothing else";
  EXPECT_NEAR(route.time_by_cause.sum_s(), route.time_s, 1e-9);
  // Without room to hand it round there is no route: walls that meet half way.
  EXPECT_FALSE(ask(World(walled(std::pair(0.0, 4.0), std::pair(4.0, 8.0))), {&bag}, "a", "b").route());
}

TEST(Carrying, TowsWhatDoesNotPassBesideAndTheOtherWayRound) {
  // Walls on both sides: 0.6 m to each from the body axis.
  const World world(walled(std::pair(2.0, 6.0), std::pair(2.0, 6.0)));
  const Load bag = with_tow(on_either_side({0.3, 0.3, 0.3}, 0.6), 0.8);
  const auto answer = ask(world, {&bag}, "a", "b");
  ASSERT_TRUE(answer.route());
  ASSERT_FALSE(answer.route()->carried.empty());
  EXPECT_EQ(answer.route()->carried[0].how, CarriedHow::InTow);
  const auto towed = bag.carried(2);
  EXPECT_LE(answer.route()->time_s, ask(world, {&towed}, "a", "b").route()->time_s + 1e-6);
}

TEST(Carrying, WhatIsWornTakesNoHandAndSlowsByItsMassAlone) {
  const World world(walled(std::nullopt, std::nullopt));
  Load worn = on_either_side({0.4, 0.3, 0.5}, 0.5).carried(0);
  worn.how = CarriedHow::Worn, worn.hands = 0;
  const Profile profile{.kit = world.kit, .suit = world.kit.suits.front(), .loads = {&worn}};
  const auto pace = route::pace_of(profile);
  EXPECT_EQ(pace.rate_m_s, profile.suit.rate_free_m_s);
  EXPECT_EQ(pace.one_hand_s, 0);
  Load box = worn;
  box.how = CarriedHow::InTow, box.mass_kg.value = 95, box.tow_length_m = 1;
  EXPECT_LT(ask(world, {&worn}, "a", "b").route()->time_s, ask(world, {&box}, "a", "b").route()->time_s);
  // Swept as beside: it does not pass where it would touch.
  EXPECT_FALSE(ask(World(walled(std::pair(2.0, 6.0), std::nullopt)), {&worn}, "a", "b").route());
}

TEST(Carrying, TwoThatClashOnOneSideAreCarriedOnBoth) {
  const World world(walled(std::nullopt, std::nullopt));
  Load bag = on_either_side({0.3, 0.3, 0.3}, 0.6), box = bag;
  box.id = "box";
  for (auto* load : {&bag, &box}) {
    load->hands = 0;
    for (auto& other : load->other_carryings) other.hands = 0;
  }
  const auto manners = route::find_manners({&bag, &box});
  ASSERT_EQ(manners.size(), 2u) << "left and right, right and left";
  const auto answer = ask(world, {&bag, &box}, "a", "b");
  ASSERT_TRUE(answer.route());
  ASSERT_EQ(answer.route()->carried.size(), 2u);
  EXPECT_NE(answer.route()->carried[0].side_m > 0, answer.route()->carried[1].side_m > 0);
}

/// A line with posts on both sides of it.
model::Structure with_posts(std::mt19937_64& random) {
  const auto uniform = [&](double low, double high) {
    return std::uniform_real_distribution<double>(low, high)(random);
  };
  YardBuilder yard;
  yard.rail("line", yard.nowhere(), {{0, 0, 0}, {6, 0, 0}}, {-Vec3::UnitZ()});
  for (int post = 0; post < 4; ++post)
    yard.part("post-" + std::to_string(post),
              model::Box{.center = {uniform(1, 5), (post % 2 ? 1 : -1) * uniform(0.45, 1.1), -0.55},
                         .size = {uniform(0.1, 0.6), 0.1, uniform(0.2, 1)}});
  yard.place("a", {0, 0, 0}, 0.01), yard.place("b", {6, 0, 0}, 0.01);
  return yard.structure;
}

TEST(Carrying, IsTheQuickestOfItsMannersAndNeverSlowerThanOneAlone) {
  constexpr int seed = 91;
  std::mt19937_64 random(seed);
  int routes = 0, changed = 0, others = 0, towed = 0;
  for (int round = 0; round < 60; ++round) {
    const World world(with_posts(random), {.corridor_radius_m = 0.3});
    const auto uniform = [&](double low, double high) {
      return std::uniform_real_distribution<double>(low, high)(random);
    };
    Load bag = on_either_side({uniform(0.2, 0.8), uniform(0.1, 0.4), uniform(0.1, 0.4)}, uniform(0.4, 0.7));
    if (round % 2 == 0) bag.other_carryings.front().hands = 0;
    if (round % 3 == 0) bag = with_tow(bag, 0.7);
    const auto answer = ask(world, {&bag}, "a", "b");
    double best_s = std::numeric_limits<double>::infinity();
    std::size_t best = 0;
    for (std::size_t i = 0; i < bag.carrying_count(); ++i) {
      const Load alone = bag.carried(i);
      const auto one = ask(world, {&alone}, "a", "b");
      if (one.route() && one.route()->time_s < best_s) best_s = one.route()->time_s, best = i;
    }
    ASSERT_TRUE(answer.route() || best_s == std::numeric_limits<double>::infinity())
        << "seed " << seed << ", round " << round;
    if (!answer.route()) continue;
    ++routes;
    const double may_save_s = answer.may_save.value_or(0);
    EXPECT_LE(answer.route()->time_s, best_s + may_save_s + 1e-4) << "seed " << seed << ", round " << round;
    if (answer.route()->carried.size() > 1) {
      ++changed;
      continue;
    }
    EXPECT_NEAR(answer.route()->time_s, best_s, may_save_s + 1e-4) << "seed " << seed << ", round " << round;
    if (best != 0) ++others;
    if (answer.route()->carried[0].how == CarriedHow::InTow) ++towed;
  }
  EXPECT_GT(routes, 20);
  EXPECT_GT(changed, 0);
  EXPECT_GT(others, 0);
  EXPECT_GT(towed, 0);
}

}  // namespace
}  // namespace holdfast
