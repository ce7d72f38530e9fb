// SPDX-License-Identifier: GPL-3.0-or-later
// What is refused without a search over all states, no such search finds; and the largest load that passes is that of
// asking about every size.

#include "load_reach_impl.h"

#include <gtest/gtest.h>

#include <random>
#include <vector>

#include "holdfast/route/route.h"
#include "loaded_impl.h"
#include "loaded_route_impl.h"
#include "yard_builder.h"

namespace holdfast::route::detail {
namespace {

using model::Vec3;
using search::Cost;
using support::World;
using support::YardBuilder;

struct Field {
  explicit Field(unsigned seed) : random(seed) {}
  double uniform(double low, double high) { return std::uniform_real_distribution<double>(low, high)(random); }

  /// Two lines of rails over a deck, joined here and there, through a gate of two posts and a beam.
  model::Structure gate() {
    YardBuilder yard;
    const auto deck = yard.part("deck", model::Box{.center = {2, 0, 0.5}, .size = {8, 6, 0.8}});
    for (const double y : {-0.4, 0.4})
      yard.rail("line" + std::to_string(y), deck, {{0, y, 0}, {4, y, 0}}, {-Vec3::UnitZ()});
    for (const double x : {0.0, 1.0, 3.0, 4.0})
      yard.rail("cross" + std::to_string(x), deck, {{x, -0.4, 0}, {x, 0.4, 0}}, {-Vec3::UnitZ()});
    const double half = uniform(0.75, 1.3), high = uniform(0.9, 1.6);
    for (const double side : {-1.0, 1.0})
      yard.part("post", model::Box{.center = {2, side * half, -1}, .size = {0.1, 0.1, 2.2}});
    yard.part("beam", model::Box{.center = {2, 0, -high}, .size = {0.1, 2.4, 0.1}});
    yard.place("start", {0, 0.4, 0}, 0.2), yard.place("end", {4, -0.4, 0}, 0.2);
    return yard.structure;
  }

  model::Load load() {
    model::Load box;
    box.id = "box";
    box.size_m = {uniform(0.4, 1.8), uniform(0.3, 1.2), uniform(0.3, 1.2)};
    box.offset_m = {0, uniform(-0.7, 0.7), uniform(-0.2, 0.4)};
    box.mass_kg.value = 20;
    if (random() % 2 == 0) {
      box.how = model::CarriedHow::InTow, box.tow_length_m = uniform(0.6, 1.3);
      box.size_m *= uniform(0.7, 2);
    }
    return box;
  }
  std::mt19937_64 random;
};

graph::Body slim() {
  graph::Body body;
  body.spacing_m = 0.45;
  body.corridor_radius_m = 0.3;
  return body;
}

/// The same question for the search over all states.
struct Asked {
  Asked(const World& world, const model::Load& load)
      : profile{.kit = world.kit, .suit = world.kit.suits.front(), .loads = {&load}},
        table(compute_costs(world.graph, profile, Objective::Time)),
        costs(compute_manner_costs(world.graph, profile, Objective::Time, table)) {
    for (const char* id : {"start", "end"}) {
      stops.emplace_back();
      for (const auto grip : resolve_end(world.graph, id, 0).grips)
        if (table.grip_blocks[grip.index()] == 0) stops.back().push_back({grip.value, {}});
    }
    request.stops = stops;
    request.by_move = table.by_move;
    request.by_move_of_manner.assign(costs.by_move.begin(), costs.by_move.end());
    request.zone_cost = [](std::uint32_t, std::span<const model::ZoneId>, std::size_t) { return Cost{}; };
    request.change_cost = [](const model::Load&) { return Cost::of(1, 0); };
  }
  Profile profile;
  CostTable table;
  MannerCosts costs;
  Stops stops;
  LoadedRequest request;
};

TEST(LoadReach, RefusesNothingThatIsFound) {
  std::size_t refused = 0, passed = 0, passed_in_tow = 0;
  for (unsigned seed = 0; seed < 28; ++seed) {
    SCOPED_TRACE(seed);
    Field field(8800 + seed);
    const World world(field.gate(), slim());
    const auto load = field.load();
    const bool is_towed = load.how == model::CarriedHow::InTow;
    Asked asked(world, load);
    if (is_towed) asked.request.is_rough = true, asked.request.cell_m = 0.2, asked.request.most_steps = 400;
    LoadSpace space(world.graph, {&load});
    const bool may = LoadReach(world.graph, asked.table.by_move, asked.stops).may_connect(space);
    LoadSpace fresh(world.graph, {&load});
    const bool is_found = find_loaded_way(world.graph, fresh, asked.request).way.has_value();
    EXPECT_TRUE(may || !is_found);
    refused += may ? 0 : 1;
    (is_towed ? passed_in_tow : passed) += is_found ? 1 : 0;
  }
  EXPECT_GT(refused, 5u);
  EXPECT_GT(passed, 5u);
  EXPECT_GT(passed_in_tow, 2u);
}

TEST(LoadReach, FindsTheLargestOfItsShapeThatPasses) {
  constexpr int steps = 64;
  std::size_t measured = 0;
  for (unsigned seed = 0; seed < 30; ++seed) {
    SCOPED_TRACE(seed);
    Field field(9900 + seed);
    const World world(field.gate(), slim());
    auto load = field.load();
    load.how = model::CarriedHow::Beside;
    load.size_m *= 1.5;
    const Asked asked(world, load);
    const auto answer = find_route(world.graph, asked.profile, {.from = "start", .to = "end"});
    if (!answer.no_route()) continue;
    const auto& cause = answer.no_route()->causes.front();
    if (cause.kind != CauseKind::LoadTooTight) continue;
    ASSERT_TRUE(cause.fraction);
    const int told = static_cast<int>(std::lround(*cause.fraction * steps));
    EXPECT_DOUBLE_EQ(told, *cause.fraction * steps);
    const auto passes = [&](int size) {
      LoadSpace space(world.graph, {&load}, {.scale = static_cast<double>(size) / steps});
      return find_loaded_way(world.graph, space, asked.request).way.has_value();
    };
    if (told > 0) EXPECT_TRUE(passes(told));
    ++measured;
    if (!cause.is_fraction_proven) continue;
    for (int size = told + 1; size < steps; size += 1 + (size - told) / 2) EXPECT_FALSE(passes(size)) << size;
  }
  EXPECT_GT(measured, 5u);
}

}  // namespace
}  // namespace holdfast::route::detail
