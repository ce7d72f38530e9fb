// SPDX-License-Identifier: GPL-3.0-or-later
// Routes on a tether: against every (grip, length out) there is, against Boost.Graph's label setting, and what must
// hold.

#include <gtest/gtest.h>

#include <boost/graph/adjacency_list.hpp>
#include <boost/graph/r_c_shortest_paths.hpp>
#include <map>
#include <queue>
#include <random>

#include "yard_builder.h"

namespace holdfast::route {
namespace {

using graph::GripId;
using support::World;
using support::YardBuilder;

/// Handholds on a grid in free space, facing zenith; some take a hook, some lack, and anchors stand beside some.
model::Structure random_field(std::mt19937_64& random) {
  YardBuilder yard;
  const auto pebble = yard.nowhere();
  const auto chance = [&](double p) { return std::uniform_real_distribution<double>(0, 1)(random) < p; };
  for (int x = 0; x < 7; ++x)
    for (int y = 0; y < 4; ++y) {
      const bool is_corner = (x == 0 && y == 0) || (x == 6 && y == 3);
      if (!is_corner && chance(0.2)) continue;
      const double shift = std::uniform_real_distribution<double>(0, 0.08)(random);
      const auto rail = yard.rail("r" + std::to_string(x) + std::to_string(y), pebble, {{0.5 * x + shift, 0.5 * y, 0}},
                                  {-Vec3::UnitZ()});
      yard.structure.rails[rail.index()].use.tether = chance(0.2);
      if (chance(0.15)) {
        model::Anchor anchor;
        anchor.id = "a" + std::to_string(x) + std::to_string(y);
        anchor.at = Vec3(0.5 * x + 0.2, 0.5 * y + 0.1, 0.05);
        yard.structure.anchors.push_back(anchor);
      }
    }
  model::Anchor home;
  home.id = "home";
  home.at = Vec3(-0.2, 0, 0);
  yard.structure.anchors.push_back(home);
  yard.place("start", {0, 0, 0}, 0.1);
  yard.place("end", {3, 1.5, 0}, 0.1);
  return yard.structure;
}

/// The same rules said once more, in plain terms.
struct Plain {
  Plain(const World& of, double limit_m, Objective objective)
      : world(of), limit(static_cast<std::int64_t>(limit_m * 1e5)), by(objective) {
    const Profile profile{.kit = world.kit, .suit = world.kit.suits.front()};
    costs = compute_costs(world.graph, profile, by).by_move;
    const std::int64_t swap = cost_of_seconds(2 * world.kit.suits.front().tether_hook_s);
    swap_cost = by == Objective::Time    ? search::Cost::of(swap)
                : by == Objective::Moves ? search::Cost::of(0, swap)
                                         : search::Cost::of(0, 0, swap);
    for (std::uint32_t g = 0; g < world.graph.grips().size(); ++g) {
      const auto& grip = world.graph.grip(GripId(g));
      const Vec3 body = world.graph.body_point(GripId(g));
      double least = 1e9;
      if (world.structure.rails[grip.rail.index()].use.tether) least = (body - grip.hand).norm();
      for (const auto& anchor : world.structure.anchors)
        if ((anchor.at - grip.hand).norm() <= world.graph.body().reach_m)
          least = std::min(least, (body - anchor.at).norm());
      after_swap.push_back(least > 1e8 ? -1 : cost_of_metres(least));
    }
  }
  [[nodiscard]] std::int64_t start_out(std::uint32_t grip) const {
    return cost_of_metres((world.graph.body_point(GripId(grip)) - world.structure.anchors.back().at).norm());
  }
  [[nodiscard]] std::vector<std::uint32_t> grips_at(const char* place) const {
    const auto& p = world.structure.places[world.structure.find_place(place)->index()];
    std::vector<std::uint32_t> grips;
    for (const auto grip : world.graph.find_grips_within(p.at, p.within_m)) grips.push_back(grip.value);
    return grips;
  }

  /// Dijkstra's method over every (grip, length out), nothing dominated.
  [[nodiscard]] std::optional<search::Cost> best() const {
    using State = std::pair<std::uint32_t, std::int64_t>;
    using Open = std::pair<search::Cost, State>;
    const auto later = [](const Open& a, const Open& b) { return a.first > b.first; };
    std::priority_queue<Open, std::vector<Open>, decltype(later)> open(later);
    std::map<State, bool> done;
    for (const auto grip : grips_at("start"))
      if (start_out(grip) <= limit) open.push({search::Cost{}, {grip, start_out(grip)}});
    const auto ends = grips_at("end");
    while (!open.empty()) {
      const auto [cost, state] = open.top();
      open.pop();
      if (std::exchange(done[state], true)) continue;
      const auto [grip, out] = state;
      if (std::find(ends.begin(), ends.end(), grip) != ends.end()) return cost;
      if (const auto anew = after_swap[grip]; anew >= 0 && anew <= limit && anew < out)
        open.push({cost + swap_cost, {grip, anew}});
      for (const auto& arc : world.graph.adjacency().out(grip)) {
        if (costs[arc.move].is_blocked()) continue;
        const std::int64_t next = out + cost_of_metres(world.graph.moves()[arc.move].way_m);
        if (next <= limit) open.push({cost + costs[arc.move], {arc.head, next}});
      }
    }
    return std::nullopt;
  }

  const World& world;
  std::int64_t limit;
  Objective by;
  std::vector<search::Cost> costs;
  search::Cost swap_cost;
  std::vector<std::int64_t> after_swap;  // -1: nothing to hook on to
};

// ---- Boost.Graph
// ------------------------------------------------------------------------------------------------------

struct ArcProperty {
  int number;
  std::int64_t cost, length;  // length -1: hooking on anew
};
struct NodeProperty {
  int number;
  std::int64_t anew;
};
using BoostGraph = boost::adjacency_list<boost::vecS, boost::vecS, boost::directedS, NodeProperty, ArcProperty>;
struct Label {
  std::int64_t cost = 0, out = 0;
  bool operator==(const Label& o) const { return cost == o.cost && out == o.out; }
  bool operator<(const Label& o) const { return std::tie(cost, out) < std::tie(o.cost, o.out); }
};

std::optional<std::int64_t> boost_best(const Plain& plain) {
  BoostGraph graph;
  int number = 0;
  const auto grips = static_cast<std::uint32_t>(plain.world.graph.grips().size());
  for (std::uint32_t g = 0; g < grips; ++g) {
    boost::add_vertex(NodeProperty{static_cast<int>(g), plain.after_swap[g]}, graph);
  }
  for (std::uint32_t g = 0; g < grips; ++g) {
    if (plain.after_swap[g] >= 0) boost::add_edge(g, g, ArcProperty{number++, plain.swap_cost.primary(), -1}, graph);
    for (const auto& arc : plain.world.graph.adjacency().out(g))
      if (!plain.costs[arc.move].is_blocked())
        boost::add_edge(g, arc.head,
                        ArcProperty{number++, plain.costs[arc.move].primary(),
                                    cost_of_metres(plain.world.graph.moves()[arc.move].way_m)},
                        graph);
  }
  std::optional<std::int64_t> best;
  const std::int64_t limit = plain.limit;
  for (const auto from : plain.grips_at("start"))
    for (const auto to : plain.grips_at("end")) {
      if (plain.start_out(from) > limit) continue;
      std::vector<std::vector<BoostGraph::edge_descriptor>> ways;
      std::vector<Label> ends;
      boost::r_c_shortest_paths(
          graph, boost::get(&NodeProperty::number, graph), boost::get(&ArcProperty::number, graph), from, to, ways,
          ends, Label{0, plain.start_out(from)},
          [limit](const BoostGraph& g, Label& next, const Label& last, BoostGraph::edge_descriptor arc) {
            const auto& a = g[arc];
            next.cost = last.cost + a.cost;
            next.out = a.length < 0 ? g[boost::target(arc, g)].anew : last.out + a.length;
            return next.out <= limit;
          },
          [](const Label& a, const Label& b) { return a.cost <= b.cost && a.out <= b.out; },
          std::allocator<boost::r_c_shortest_paths_label<BoostGraph, Label>>(),
          boost::default_r_c_shortest_paths_visitor());
      for (const auto& end : ends)
        if (!best || end.cost < *best) best = end.cost;
    }
  return best;
}

double seconds_of(const Route& route, const model::Suit& suit) {
  return route.time_s - suit.start_s - suit.stop_s - suit.tether_hook_s;
}

TEST(Tethered, IsTheBestThereIs) {
  int with_swaps = 0, without_way = 0;
  for (std::uint64_t seed = 0; seed < 120; ++seed) {
    SCOPED_TRACE("seed " + std::to_string(seed));
    std::mt19937_64 random(seed);
    const World world(random_field(random));
    const auto& suit = world.kit.suits.front();
    const Profile profile{.kit = world.kit, .suit = suit};
    double before_s = 0;
    for (const double length : {4.5, 3.0, 2.2, 1.6, 1.3}) {
      SCOPED_TRACE(length);
      model::Tether tether;
      tether.id = "t";
      tether.length_m.value = length;
      for (const auto by : {Objective::Time, Objective::Moves, Objective::Distance}) {
        const auto answer = find_route(
            world.graph, profile, {.from = "start", .to = "end", .by = by, .tether = TetherRequest{&tether, "home"}});
        const Plain plain(world, length, by);
        const auto best = plain.best();
        if (by == Objective::Time) EXPECT_EQ(boost_best(plain).has_value(), best.has_value());
        const Route* found = answer.route();
        ASSERT_EQ(found != nullptr, best.has_value());
        if (!found) {
          ++without_way;
          continue;
        }
        if (by == Objective::Time) {
          EXPECT_EQ(boost_best(plain), best->primary());
          EXPECT_NEAR(seconds_of(*found, suit), static_cast<double>(best->primary()) / search::cost_units_per_second,
                      2e-3);
          EXPECT_GE(found->time_s, before_s - 2e-3) << "a shorter tether is never quicker";
          before_s = found->time_s;
        } else if (by == Objective::Moves) {
          EXPECT_EQ(static_cast<std::int64_t>(found->moves), best->primary());
        } else {
          EXPECT_NEAR(found->distance_m, static_cast<double>(best->primary()) / search::cost_units_per_metre, 1e-3);
        }
        EXPECT_DOUBLE_EQ(found->time_by_cause.tether_s,
                         (1 + 2 * static_cast<double>(found->tether->swaps.size())) * suit.tether_hook_s);
        EXPECT_LE(found->tether->most_m, length + 1e-9);
        with_swaps += found->tether->swaps.empty() ? 0 : 1;
      }
    }
  }
  EXPECT_GT(with_swaps, 50);
  EXPECT_GT(without_way, 50);
}

/// One line of handholds 6 m long; hooks may go on some.
model::Structure line(const std::vector<int>& with_hook) {
  YardBuilder yard;
  const auto pebble = yard.nowhere();
  for (int i = 0; i <= 12; ++i) {
    const auto rail = yard.rail("r" + std::to_string(i), pebble, {{0.5 * i, 0, 0}}, {-Vec3::UnitZ()});
    yard.structure.rails[rail.index()].use.tether = std::find(with_hook.begin(), with_hook.end(), i) != with_hook.end();
  }
  model::Anchor home;
  home.id = "home";
  home.at = Vec3(0, 0, 0);
  yard.structure.anchors.push_back(home);
  yard.place("start", {0, 0, 0}, 0.1);
  yard.place("end", {6, 0, 0}, 0.1);
  return yard.structure;
}

TEST(Tethered, SaysHowLongATetherWouldDo) {
  const World world(line({5}));
  const Profile profile{.kit = world.kit, .suit = world.kit.suits.front()};
  const double h = world.graph.body().stand_off_m;
  const auto ask = [&](double length) {
    model::Tether tether;
    tether.id = "t";
    tether.length_m.value = length;
    return find_route(world.graph, profile, {.from = "start", .to = "end", .tether = TetherRequest{&tether, "home"}});
  };
  // From the hook at 2.5 m it is 3.5 m to the end, and the stand-off to the body.
  const auto refusal = ask(3.0);
  ASSERT_TRUE(refusal.no_route());
  ASSERT_EQ(refusal.no_route()->causes.size(), 1u);
  const auto& cause = refusal.no_route()->causes.front();
  EXPECT_EQ(cause.kind, CauseKind::Tether);
  EXPECT_NEAR(cause.value_m, 3.5 + h, 2e-3);
  EXPECT_GE(cause.value_m, 3.5 + h);
  EXPECT_TRUE(cause.opens_alone);
  const auto once = ask(3.5 + h + 0.001);
  ASSERT_TRUE(once.route());
  ASSERT_EQ(once.route()->tether->swaps.size(), 1u);
  const auto& swap = once.route()->tether->swaps.front();
  EXPECT_EQ(swap.hook, "r5");
  EXPECT_NEAR(swap.out_before_m, 2.5 + h, 1e-3);
  EXPECT_NEAR(swap.at.x(), 2.5, 1e-9);
  const auto& pose = once.route()->legs.front().poses[swap.pose];
  EXPECT_NEAR(pose.hand.x(), 2.5, 1e-9);
  EXPECT_NEAR(swap.at_s, pose.at_s + 2 * world.kit.suits.front().tether_hook_s, 1e-9);
  EXPECT_TRUE(ask(6 + h + 0.001).route()->tether->swaps.empty());
}

TEST(Tethered, WithALoadHooksOnAnewAlongItsWay) {
  const World world(line({2, 5, 6, 9}));
  model::Load bag;
  bag.id = "bag";
  bag.size_m = {0.4, 0.3, 0.3};
  bag.how = model::CarriedHow::InTow;
  bag.tow_length_m = 0.8;
  bag.mass_kg.value = 20;
  const Profile profile{.kit = world.kit, .suit = world.kit.suits.front(), .loads = {&bag}};
  const double h = world.graph.body().stand_off_m;
  model::Tether tether;
  tether.id = "t";
  tether.length_m.value = 3.0 + h + 0.001;
  const RouteRequest request{.from = "start", .to = "end", .tether = TetherRequest{&tether, "home"}};
  const auto answer = find_route(world.graph, profile, request);
  ASSERT_TRUE(answer.route());
  ASSERT_EQ(answer.route()->tether->swaps.size(), 1u) << "at 3 m once is enough";
  EXPECT_EQ(answer.route()->tether->swaps.front().hook, "r6");
  EXPECT_LE(answer.route()->tether->most_m, tether.length_m);
  EXPECT_DOUBLE_EQ(answer.may_save.value_or(0), 2 * world.kit.suits.front().tether_hook_s);
  tether.length_m.value = 2.0 + h + 0.001;
  const auto shorter = find_route(world.graph, profile, request);
  ASSERT_TRUE(shorter.route());
  EXPECT_EQ(shorter.route()->tether->swaps.size(), 3u) << "at 1, then 2.5 or 3, then 4.5 m";
  EXPECT_LE(shorter.route()->tether->most_m, tether.length_m);
}

TEST(Tethered, CannotStartOutOfReachOrSightOfTheAnchor) {
  YardBuilder yard;
  const auto wall = yard.part("wall", model::Box{.center = {-1.5, 0, 0}, .size = {0.1, 4, 4}});
  for (int i = 0; i <= 4; ++i) yard.rail("r" + std::to_string(i), wall, {{0.5 * i, 0, 0}}, {-Vec3::UnitZ()});
  for (const auto& [id, x] : {std::pair("behind", -3.0), std::pair("far", 9.0), std::pair("here", 0.0)}) {
    model::Anchor anchor;
    anchor.id = id;
    anchor.at = Vec3(x, 0, 0);
    yard.structure.anchors.push_back(anchor);
  }
  yard.place("start", {0, 0, 0}, 0.1);
  yard.place("end", {2, 0, 0}, 0.1);
  const World world(yard.structure);
  const Profile profile{.kit = world.kit, .suit = world.kit.suits.front()};
  model::Tether tether;
  tether.id = "t";
  tether.length_m.value = 5;
  const auto code_of = [&](const char* anchor) -> std::string {
    try {
      (void)find_route(world.graph, profile, {.from = "start", .to = "end", .tether = TetherRequest{&tether, anchor}});
    } catch (const model::InputError& error) {
      return error.diagnostics().front().code;
    }
    return "";
  };
  EXPECT_EQ(code_of("here"), "");
  EXPECT_EQ(code_of("behind"), "no-free-line");
  EXPECT_EQ(code_of("far"), "tether-short");
  EXPECT_EQ(code_of("r1"), "not-for-tethers");
  EXPECT_EQ(code_of("hear"), "unknown-anchor");
}

}  // namespace
}  // namespace holdfast::route
