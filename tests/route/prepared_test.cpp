// SPDX-License-Identifier: GPL-3.0-or-later
// Questions on a prepared profile, single grips and moves closed, and routes that go on from where another ended.

#include "holdfast/route/prepared.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <random>

#include "holdfast/report/report.h"
#include "reference_yard.h"

namespace holdfast::route {
namespace {

using model::Vec3;
using support::random_yard;
using support::World;

std::string told(const World& world, const Answer& answer) {
  return report::json({world.structure, world.kit, world.kit.suits.front(), "here", "1.0"}, answer);
}

model::Load load_of(model::CarriedHow how, Vec3 size, Vec3 offset) {
  model::Load load;
  load.id = load.name = how == model::CarriedHow::InTow ? "towed" : "held";
  load.how = how;
  load.size_m = size, load.offset_m = offset;
  load.mass_kg = {20, "test", model::Confidence::Assumption};
  load.stow_s = {30, "test", model::Confidence::Assumption};
  if (how == model::CarriedHow::InTow) load.tow_length_m = 0.6;
  load.hands = how == model::CarriedHow::Beside ? 1 : 0;
  return load;
}

/// Every kind of closure at random, a rail in one of three, up to three grips and moves.
Closures random_closures(const graph::HandrailGraph& graph, std::mt19937_64& random) {
  Closures closures;
  if (random() % 3 == 0) closures.rails.emplace_back(random() % graph.structure().rails.size());
  for (std::size_t i = random() % 4; i > 0; --i) closures.grips.emplace_back(random() % graph.grips().size());
  if (!graph.moves().empty())
    for (std::size_t i = random() % 4; i > 0; --i) closures.moves.emplace_back(random() % graph.moves().size());
  return closures;
}

TEST(Prepared, AnswersWithTheSameBytesAsAQuestionByItself) {
  int routes = 0, refusals = 0;
  for (int seed = 0; seed < 60; ++seed) {
    SCOPED_TRACE("seed " + std::to_string(seed));
    std::mt19937_64 random(static_cast<std::uint64_t>(seed));
    const World world(random_yard(random));
    const model::Load load = seed % 2 == 0 ? load_of(model::CarriedHow::Beside, {0.5, 0.3, 0.3}, {0, 0.5, 0.2})
                                           : load_of(model::CarriedHow::InTow, {0.4, 0.3, 0.3}, {0, 0, 0});
    Profile profile{.kit = world.kit, .suit = world.kit.suits.front()};
    if (seed % 3 == 0) profile.loads = {&load};
    const auto by = static_cast<Objective>(seed % 3);
    PreparedProfile prepared(world.graph, profile, by);
    for (int question = 0; question < 3; ++question) {
      const auto closures = question == 0 ? Closures{} : random_closures(world.graph, random);
      Profile closed = profile;
      closed.closures = closures;
      const std::string to = question == 1 ? "middle" : world.structure.places.back().id;
      const auto alone = find_route(world.graph, closed, {.from = "start", .to = to, .by = by});
      ASSERT_EQ(told(world, prepared.route({.from = "start", .to = to}, closures)), told(world, alone));
      const auto outline = prepared.find({.from = "start", .to = to}, closures);
      ASSERT_EQ(outline.has_value(), alone.route() != nullptr);
      if (!outline) {
        ++refusals;
        continue;
      }
      ++routes;
      const Route& whole = *alone.route();
      EXPECT_EQ(outline->time_s, whole.time_s) << "the same sum, added in the same order";
      EXPECT_EQ(outline->distance_m, whole.distance_m);
      EXPECT_EQ(outline->moves, whole.moves);
      EXPECT_EQ(outline->end.grip, whole.legs.back().poses.back().grip);
      ASSERT_EQ(outline->legs.front().grips.size(), whole.legs.front().poses.size());
      for (std::size_t i = 0; i < whole.legs.front().poses.size(); ++i)
        EXPECT_EQ(outline->legs.front().grips[i].index(), whole.legs.front().poses[i].grip);
    }
  }
  EXPECT_GT(routes, 60);
  EXPECT_GT(refusals, 10);
}

TEST(Closures, OfAGripCloseEveryMoveThatHoldsIt) {
  int closed_moves = 0;
  for (int seed = 100; seed < 130; ++seed) {
    SCOPED_TRACE("seed " + std::to_string(seed));
    std::mt19937_64 random(static_cast<std::uint64_t>(seed));
    const World world(random_yard(random));
    Profile profile{.kit = world.kit, .suit = world.kit.suits.front()};
    const auto open = compute_costs(world.graph, profile, Objective::Time);
    profile.closures = random_closures(world.graph, random);
    const auto table = compute_costs(world.graph, profile, Objective::Time);
    const auto& closures = profile.closures;
    const auto is_closed = [&](graph::GripId grip) {
      const auto rail = world.graph.grip(grip).rail;
      return std::count(closures.rails.begin(), closures.rails.end(), rail) > 0 ||
             std::count(closures.grips.begin(), closures.grips.end(), grip) > 0;
    };
    for (std::size_t g = 0; g < world.graph.grips().size(); ++g)
      EXPECT_EQ((table.grip_blocks[g] & block_closure) != 0, is_closed(graph::GripId(g)));
    for (std::size_t m = 0; m < world.graph.moves().size(); ++m) {
      const auto& move = world.graph.moves()[m];
      const bool expected = is_closed(move.a) || is_closed(move.b) ||
                            std::count(closures.moves.begin(), closures.moves.end(), graph::MoveId(m)) > 0;
      EXPECT_EQ((table.blocks[m] & block_closure) != 0, expected);
      EXPECT_EQ(table.by_move[m].is_blocked(), expected || open.by_move[m].is_blocked());
      closed_moves += expected ? 1 : 0;
    }
  }
  EXPECT_GT(closed_moves, 100);
}

TEST(Closures, OfGripsAreNamedByTheirRailAndLiftingThatOpensARoute) {
  int named = 0;
  for (int seed = 0; seed < 60; ++seed) {
    SCOPED_TRACE("seed " + std::to_string(seed));
    std::mt19937_64 random(static_cast<std::uint64_t>(seed));
    const World world(random_yard(random));
    Profile profile{.kit = world.kit, .suit = world.kit.suits.front()};
    const auto open = find_route(world.graph, profile, {.from = "start", .to = "middle"});
    if (!open.route()) continue;
    // Every grip of the route's second half, bar those at its end.
    const auto& poses = open.route()->legs.front().poses;
    for (std::size_t i = poses.size() / 2; i + 1 < poses.size(); ++i)
      profile.closures.grips.emplace_back(poses[i].grip);
    const auto answer = find_route(world.graph, profile, {.from = "start", .to = "middle"});
    if (!answer.no_route()) continue;
    for (const auto& cause : answer.no_route()->causes) {
      if (cause.kind != CauseKind::Closures) continue;
      ++named;
      Profile lifted = profile;
      std::erase_if(lifted.closures.grips, [&](graph::GripId grip) {
        return std::count(cause.rails.begin(), cause.rails.end(), world.graph.grip(grip).rail) > 0;
      });
      EXPECT_LT(lifted.closures.grips.size(), profile.closures.grips.size());
      if (cause.opens_alone)
        EXPECT_NE(find_route(world.graph, lifted, {.from = "start", .to = "middle"}).route(), nullptr);
    }
  }
  EXPECT_GT(named, 5);
}

/// From the end of a route to `middle`, on to the last place.
TEST(Departure, TwoLegsInTurnAreARouteByWayOfTheGripBetween) {
  int compared = 0;
  for (int seed = 0; seed < 80; ++seed) {
    SCOPED_TRACE("seed " + std::to_string(seed));
    std::mt19937_64 random(static_cast<std::uint64_t>(seed));
    const World world(random_yard(random));
    const model::Load held = load_of(model::CarriedHow::Beside, {0.5, 0.3, 0.3}, {0, 0.5, 0.2}),
                      towed = load_of(model::CarriedHow::InTow, {0.4, 0.3, 0.3}, {0, 0, 0});
    for (int load = 0; load < 3; ++load) {
      Profile profile{.kit = world.kit, .suit = world.kit.suits.front()};
      if (load == 1) profile.loads = {&held};
      if (load == 2) profile.loads = {&towed};
      const std::string last = world.structure.places.back().id;
      const auto whole = find_route(world.graph, profile, {.from = "start", .to = last, .via = {"middle"}});
      if (!whole.route() || whole.route()->legs[0].moves == 0) continue;
      const auto first = find_route(world.graph, profile, {.from = "start", .to = "middle"});
      ASSERT_NE(first.route(), nullptr);
      const auto& end = first.route()->end;
      EXPECT_EQ(end.grip, first.route()->legs.back().poses.back().grip);
      EXPECT_EQ(end.manner.has_value(), load > 0);
      const auto second = find_route(world.graph, profile, {.from = "middle", .to = last, .start = end});
      if (!second.route()) continue;  // the best grip for the first leg may be none for the second
      ++compared;
      EXPECT_EQ(second.route()->legs[0].poses.front().grip, end.grip);
      // Handling is counted at both ends of each, once too often in the middle.
      const double handled_s = load == 0 || second.route()->moves == 0 ? 0 : 2 * 30.0;
      EXPECT_GE(first.route()->time_s + second.route()->time_s - handled_s, whole.route()->time_s - 1e-3)
          << "a route through both is the best of all that end one leg where the next begins";
      Profile bare = profile;
      bare.counts_handling = false;
      const auto without = find_route(world.graph, bare, {.from = "middle", .to = last, .start = end});
      ASSERT_NE(without.route(), nullptr);
      EXPECT_NEAR(without.route()->time_s, second.route()->time_s - handled_s, 1e-9);
      if (load > 0) EXPECT_EQ(second.route()->manner, end.manner);
      if (load > 0 && second.route()->moves > 0) {
        // The box is where the first route left it.
        const auto &left = first.route()->legs.back().poses.back().loads,
                   &taken = second.route()->legs.front().poses.front().loads;
        if (load == 1) {
          ASSERT_EQ(left.size(), 1u);
          ASSERT_EQ(taken.size(), 1u);
          EXPECT_LT((left[0].middle - taken[0].middle).norm(), 1e-9);
        }
      }
    }
  }
  EXPECT_GT(compared, 40);
}

TEST(Departure, StayingThereTakesNoTime) {
  std::mt19937_64 random(0);
  const World world(random_yard(random));
  const Profile profile{.kit = world.kit, .suit = world.kit.suits.front()};
  const auto grips = world.graph.find_grips_within(world.structure.places[0].at, world.structure.places[0].within_m);
  ASSERT_FALSE(grips.empty());
  Departure here{grips.front().index()};
  const auto answer = find_route(world.graph, profile, {.from = "here", .to = "start", .start = here});
  ASSERT_NE(answer.route(), nullptr);
  EXPECT_EQ(answer.route()->time_s, 0);
  EXPECT_EQ(answer.route()->moves, 0u);
}

TEST(Departure, ATetherThatIsHookedAlreadyIsOutAsItWas) {
  support::YardBuilder yard;
  const auto pebble = yard.nowhere();
  yard.rail("line", pebble, {{0, 0, -0.07}, {10, 0, -0.07}}, {-Vec3::UnitZ()});
  yard.place("a", {0, 0, -0.07}, 0.01);
  yard.place("b", {5, 0, -0.07}, 0.1);
  yard.place("c", {10, 0, -0.07}, 0.01);
  for (auto& rail : yard.structure.rails) rail.use.tether = false;
  model::Anchor anchor;
  anchor.id = "hook";
  anchor.at = {0, 0, -0.5};
  yard.structure.anchors.push_back(anchor);
  const World world(yard.structure);
  const Profile profile{.kit = world.kit, .suit = world.kit.suits.front()};
  model::Tether tether;
  tether.id = "reel";
  tether.length_m = {10.4, "test", model::Confidence::Assumption};
  const auto first =
      find_route(world.graph, profile, {.from = "a", .to = "b", .tether = TetherRequest{&tether, "hook"}});
  ASSERT_NE(first.route(), nullptr);
  ASSERT_TRUE(first.route()->tether);
  EXPECT_GE(first.route()->tether->end_m, 5.0);
  EXPECT_GT(first.route()->time_by_cause.tether_s, 0);
  const auto go_on = [&](double out_m) {
    return find_route(
        world.graph, profile,
        {.from = "b", .to = "c", .start = first.route()->end, .tether = TetherRequest{&tether, "hook", out_m}});
  };
  const auto second = go_on(5.2);
  ASSERT_NE(second.route(), nullptr);
  const double left_m = 10 - second.route()->legs.front().poses.front().hand.x();
  EXPECT_NEAR(second.route()->tether->end_m, 5.2 + left_m, 1e-3);
  EXPECT_EQ(second.route()->time_by_cause.tether_s, 0) << "nothing is hooked on";
  // More than 10.4 m would be out: one goes back to the anchor and hooks on anew, or not at all.
  const auto third = go_on(5.5);
  EXPECT_TRUE(!third.route() || !third.route()->tether->swaps.empty());
}

}  // namespace
}  // namespace holdfast::route
