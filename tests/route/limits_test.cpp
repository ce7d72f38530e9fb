// SPDX-License-Identifier: GPL-3.0-or-later
// Limit zones against all paths that one could take, standing at stops where one really stands.

#include <gtest/gtest.h>

#include <map>
#include <queue>
#include <random>
#include <set>

#include "holdfast/route/costs.h"
#include "holdfast/route/route.h"
#include "yard_builder.h"

namespace holdfast::route {
namespace {

using graph::GripId;
using graph::MoveId;
using model::ZoneEffect;
using support::Vec3;
using support::World;
using support::YardBuilder;

struct Best {
  double time_s = std::numeric_limits<double>::infinity();
  bool is_close = false;  // within noise of a limit: either answer is right
};

/// Every path that no other betters in time and in both stays, by plain label setting in seconds.
Best best_within(const World& world, const Pace& pace, double hook_s) {
  const auto& graph = world.graph;
  const auto& zones = world.structure.zones;
  const auto is_in = [](auto labels, std::size_t zone) {
    return std::any_of(labels.begin(), labels.end(),
                       [&](const graph::ZoneLabel& label) { return label.zone.index() == zone; });
  };
  const auto grips_at = [&](const char* id) {
    std::vector<std::uint32_t> grips;
    for (const auto& place : world.structure.places)
      if (place.id == id)
        for (std::uint32_t g = 0; g < graph.grips().size(); ++g)
          if ((graph.grips()[g].hand - place.at).norm() <= place.within_m + 1e-6) grips.push_back(g);
    return grips;
  };
  using Label = std::tuple<double, double, double, std::uint32_t>;  // time, stays, grip
  std::priority_queue<Label, std::vector<Label>, std::greater<>> open;
  Best best;
  constexpr double noise_s = 1e-3;
  const auto fits = [&](double stay_s, std::size_t zone) {
    best.is_close = best.is_close || std::abs(stay_s - zones[zone].limit_s) < noise_s;
    return stay_s <= zones[zone].limit_s;
  };
  const auto stands_s = [&](std::uint32_t grip, std::size_t zone, double s) {
    return is_in(graph.zones(GripId(grip)), zone) ? s : 0.0;
  };
  for (const auto grip : grips_at("start")) {
    const double s = pace.start_s + hook_s;
    open.push({s, stands_s(grip, 0, s), stands_s(grip, 1, s), grip});
  }
  const auto ends = grips_at("end");
  std::map<std::uint32_t, std::vector<std::pair<double, double>>> settled;
  while (!open.empty()) {
    const auto [time_s, a, b, grip] = open.top();
    open.pop();
    if (!fits(a, 0) || !fits(b, 1) || time_s >= best.time_s) continue;
    auto& here = settled[grip];
    if (std::any_of(here.begin(), here.end(),
                    [&, a = a, b = b](const auto& l) { return l.first <= a && l.second <= b; }))
      continue;
    here.emplace_back(a, b);
    if (std::find(ends.begin(), ends.end(), grip) != ends.end() && fits(a + stands_s(grip, 0, pace.stop_s), 0) &&
        fits(b + stands_s(grip, 1, pace.stop_s), 1))
      best.time_s = std::min(best.time_s, time_s + pace.stop_s);
    for (const auto& arc : graph.adjacency().out(grip)) {
      const MoveId id(arc.move);
      const auto& move = graph.move(id);
      if (!move.is_open()) continue;
      const double s = compute_move_time(move, pace).sum_s();
      open.push(
          {time_s + s, a + (is_in(graph.zones(id), 0) ? s : 0), b + (is_in(graph.zones(id), 1) ? s : 0), arc.head});
    }
  }
  return best;
}

TEST(Limits, AreKeptByTheBestPathThatStandsWhereItMay) {
  std::size_t found = 0, refused = 0, decided = 0;
  for (unsigned seed = 0; seed < 300; ++seed) {
    SCOPED_TRACE(seed);
    std::mt19937_64 random(4100 + seed);
    const auto uniform = [&](double low, double high) {
      return std::uniform_real_distribution<double>(low, high)(random);
    };
    YardBuilder yard;
    const auto pebble = yard.nowhere();
    for (int x = 0; x < 6; ++x)
      for (int y = 0; y < 3; ++y)
        if (x == 0 || x == 5 || uniform(0, 1) < 0.9)
          yard.rail("r" + std::to_string(x) + std::to_string(y), pebble,
                    {{0.45 * x + uniform(-0.05, 0.05), 0.45 * y + uniform(-0.05, 0.05), 0}}, {-Vec3::UnitZ()});
    yard.place("start", {0, 0.45, 0}, 0.55), yard.place("end", {2.25, 0.45, 0}, 0.55);
    for (const char* id : {"cold", "hot"}) {
      const auto zone = yard.zone(
          id, model::Sphere{.center = {uniform(-0.2, 2.4), uniform(-0.2, 1.1), 0}, .radius = uniform(0.1, 0.6)},
          ZoneEffect::Limit, {.body = false, .hands = true});
      yard.structure.zones[zone.index()].limit_s = uniform(0, 14);
    }
    const bool has_tether = seed % 3 == 0;
    model::Anchor anchor;
    anchor.id = "home", anchor.at = {0, 0.45, 0.1};
    yard.structure.anchors.push_back(anchor);
    const World world(yard.structure);
    const Profile profile{.kit = world.kit, .suit = world.kit.suits.front()};
    model::Tether tether;
    tether.id = "t", tether.length_m.value = 50;
    RouteRequest request{.from = "start", .to = "end"};
    if (has_tether) request.tether = TetherRequest{&tether, "home"};
    const auto answer = find_route(world.graph, profile, request);
    const Best best =
        best_within(world, pace_of(profile), has_tether ? world.kit.suits.front().tether_hook_s.value : 0);
    if (best.is_close) continue;
    if (const Route* route = answer.route()) {
      ++found;
      for (const auto& contact : route->zones)
        EXPECT_LE(contact.inside_s, world.structure.zones[contact.zone.index()].limit_s + 1e-6);
      EXPECT_NEAR(route->time_s, best.time_s, 0.01);
    } else {
      ++refused;
      EXPECT_TRUE(std::isinf(best.time_s)) << "refused, though a path takes " << best.time_s;
      // What a refusal says that every route stays, no path stays less than: with that allowed and the other zone
      // lifted, there is one only from there on.
      for (const auto& cause : answer.no_route()->causes) {
        if (cause.kind != CauseKind::ZoneTime) continue;
        auto lifted = yard.structure;
        for (auto& zone : lifted.zones) zone.limit_s = 1000;
        lifted.zones[cause.zones.front().index()].limit_s = cause.value_s - 0.01;
        const World less(lifted);
        const Best without =
            best_within(less, pace_of(profile), has_tether ? world.kit.suits.front().tether_hook_s.value : 0);
        EXPECT_TRUE(std::isinf(without.time_s)) << "a path stays less than " << cause.value_s << " s";
        ++decided;
      }
    }
  }
  EXPECT_GT(found, 60u);
  EXPECT_GT(refused, 40u);
  EXPECT_GT(decided, 20u);
}

}  // namespace
}  // namespace holdfast::route
