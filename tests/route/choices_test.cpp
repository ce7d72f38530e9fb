// SPDX-License-Identifier: GPL-3.0-or-later
// What a planner can tell apart: rows of trade-offs, and alternatives by side.

#include "holdfast/route/choices.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <numbers>
#include <random>
#include <set>

#include "yard_builder.h"

namespace holdfast::route {
namespace {

using model::PartId;
using model::RailId;
using support::World;
using support::YardBuilder;

TradeOff some_way(std::mt19937_64& random, std::size_t rails) {
  const auto below = [&](std::size_t n) { return static_cast<std::size_t>(random() % n); };
  TradeOff way;
  way.route.time_s = 100 + 0.5 * static_cast<double>(below(60));
  way.route.moves = 20 + below(8);
  way.route.caution_s = 0.5 * static_cast<double>(below(30));
  way.clearance_m = 0.5 + 0.01 * static_cast<double>(below(20));
  Leg leg;
  for (int r = 0; r < 3; ++r) {
    Row row;
    row.rail = RailId(below(rails));
    leg.rows.push_back(row);
  }
  way.route.legs.push_back(leg);
  return way;
}

std::vector<std::size_t> rails_of(const TradeOff& way) {
  std::vector<std::size_t> rails;
  for (const auto& row : way.route.legs[0].rows)
    if (rails.empty() || rails.back() != row.rail.index()) rails.push_back(row.rail.index());
  return rails;
}

bool are_within(const TradeOff& a, const TradeOff& b, const DifferBy& by) {
  constexpr double noise = 1e-6;
  return std::abs(a.route.time_s - b.route.time_s) <= by.time_s + noise &&
         std::abs(static_cast<double>(a.route.moves) - static_cast<double>(b.route.moves)) <= by.moves &&
         std::abs(a.clearance_m - b.clearance_m) <= by.clearance_m + noise &&
         std::abs(a.route.caution_s - b.route.caution_s) <= by.caution_s + noise;
}

TEST(TradeOffs, KeepOneRowOfWhatCannotBeToldApart) {
  constexpr std::uint64_t seed = 3;
  std::mt19937_64 random(seed);
  SCOPED_TRACE(seed);
  const DifferBy by = differ_by(model::default_design_values());
  EXPECT_EQ(by.time_s, 5);
  EXPECT_EQ(by.moves, 1);
  EXPECT_EQ(by.clearance_m, 0.05);
  EXPECT_EQ(by.caution_s, 5);
  for (int trial = 0; trial < 200; ++trial) {
    std::vector<TradeOff> all;
    for (int i = 0; i < 25; ++i) all.push_back(some_way(random, 2 + trial % 5));
    std::stable_sort(all.begin(), all.end(),
                     [](const auto& x, const auto& y) { return x.route.time_s < y.route.time_s; });
    const auto kept = join_alike(all, by);
    ASSERT_FALSE(kept.empty());
    EXPECT_EQ(kept[0].route.time_s, all[0].route.time_s) << "the quickest is kept as it is";
    std::size_t stands_for = 0;
    for (std::size_t i = 0; i < kept.size(); ++i) {
      stands_for += kept[i].stands_for;
      for (std::size_t j = 0; j < i; ++j) {
        EXPECT_NE(rails_of(kept[i]), rails_of(kept[j]));
        EXPECT_FALSE(are_within(kept[i], kept[j], by));
      }
      EXPECT_TRUE(std::any_of(all.begin(), all.end(), [&](const auto& way) {
        return rails_of(way) == rails_of(kept[i]) && way.route.time_s == kept[i].route.time_s &&
               way.route.moves == kept[i].route.moves && way.clearance_m == kept[i].clearance_m;
      })) << "each row is one of the ways";
    }
    EXPECT_EQ(stands_for, all.size());
    for (const auto& way : all)
      EXPECT_TRUE(std::any_of(kept.begin(), kept.end(), [&](const auto& row) {
        return rails_of(way) == rails_of(row) || are_within(way, row, by);
      })) << "nothing is left out that could be told apart";
  }
}

TEST(TradeOffs, AreAllKeptWhereStepsAreZeroAndRailsDiffer) {
  std::vector<TradeOff> all;
  for (std::size_t i = 0; i < 4; ++i) {
    TradeOff way;
    way.route.time_s = 100 + 1e-3 * static_cast<double>(i);
    Row row;
    row.rail = RailId(i);
    way.route.legs.push_back({.from = "", .to = "", .rows = {row}});
    all.push_back(way);
  }
  EXPECT_EQ(join_alike(all, {}).size(), 4u);
}

/// A drum with lines along four of its sides, rings at both ends, and every line doubled by a twin beside it.
model::Structure doubled_drum() {
  YardBuilder yard;
  const auto drum = yard.part("drum", model::Cylinder{.from = {-1, 0, 0}, .to = {11, 0, 0}, .radius = 1});
  const auto on = [](double x, double angle) { return Vec3(x, 1.07 * std::sin(angle), -1.07 * std::cos(angle)); };
  constexpr double pi = std::numbers::pi;
  for (int side = 0; side < 4; ++side)
    for (int twin = 0; twin < 2; ++twin) {
      const double angle = side * pi / 2 + twin * 0.25;
      yard.rail("line-" + std::to_string(side) + "-" + std::to_string(twin), drum, {on(0.3, angle), on(9.7, angle)});
    }
  for (const double x : {0.0, 10.0})
    for (int piece = 0; piece < 12; ++piece)
      yard.rail("ring-" + std::to_string(static_cast<int>(x)) + "-" + std::to_string(piece), drum,
                {on(x, piece * pi / 6), on(x, (piece + 0.5) * pi / 6), on(x, (piece + 1) * pi / 6)});
  yard.place("a", on(0, 0), 0.2), yard.place("b", on(10, 0), 0.2);
  return yard.structure;
}

TEST(Alternatives, GoAlongOtherSidesBeforeOtherRailsOfTheSame) {
  const World world(doubled_drum());
  const Profile profile{.kit = world.kit, .suit = world.kit.suits.front()};
  const auto choices =
      find_alternative_routes(world.graph, profile, {.from = "a", .to = "b"}, {.most = 3, .stretch = 2.2});
  ASSERT_EQ(choices.ways.size(), 3u);
  std::set<Face> sides;
  for (const auto& choice : choices.ways) {
    ASSERT_TRUE(choice.mark.part) << "named by a side";
    std::map<Face, double> along;
    for (const auto& row : choice.route.legs[0].rows) along[row.face] += row.distance_m;
    sides.insert(std::max_element(along.begin(), along.end(), [](const auto& x, const auto& y) {
                   return x.second < y.second;
                 })->first);
  }
  EXPECT_EQ(sides.size(), 3u) << "each along a side of its own";
}

}  // namespace
}  // namespace holdfast::route
