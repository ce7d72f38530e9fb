// SPDX-License-Identifier: GPL-3.0-or-later
// Alternative ways: every promise recomputed with plain means, hand-made graphs whose ways are known, and what a list
// of cheapest ways would give instead.

#include "holdfast/search/alternatives.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <map>
#include <numbers>
#include <numeric>
#include <random>
#include <set>

#include "generated_yard.h"
#include "holdfast/route/costs.h"
#include "reference_dijkstra.h"
#include "synthetic_graph.h"
#include "yard_builder.h"
#include "yen.h"

namespace holdfast::search {
namespace {

using support::WeightedEdge;
using testing::ElementsAre;
using testing::IsEmpty;
using testing::SizeIs;
using Nodes = std::vector<std::uint32_t>;

/// A graph with everything a request needs.
struct Net {
  std::vector<std::pair<std::uint32_t, std::uint32_t>> ends;
  graph::Adjacency adjacency;
  std::vector<Cost> costs;
  std::vector<std::uint32_t> groups;
  std::vector<std::int64_t> lengths;

  [[nodiscard]] AlternativesRequest request(std::span<const Seed> sources, std::span<const Seed> targets) const {
    return {.sources = sources, .targets = targets, .group_of_node = groups, .length_of_move = lengths};
  }
};

/// Lengths are the weights, and each node is a group by itself.
Net net_of(std::size_t nodes, const std::vector<WeightedEdge>& edges) {
  Net net;
  for (const auto& e : edges) {
    net.ends.emplace_back(e.a, e.b);
    net.costs.push_back(Cost::of(e.weight, 1));
    net.lengths.push_back(e.weight);
  }
  net.adjacency = graph::build_adjacency(nodes, net.ends);
  for (std::uint32_t n = 0; n < nodes; ++n) net.groups.push_back(n);
  return net;
}

struct Limits {
  std::size_t most = 3;
  double stretch = 1.3, sharing = 0.7, locally = 0.25;
};

std::vector<Alternative> find(const Net& net, const std::vector<Seed>& sources, const std::vector<Seed>& targets,
                              const Limits& limits = {}) {
  auto request = net.request(sources, targets);
  request.most = limits.most, request.stretch = limits.stretch;
  request.sharing = limits.sharing, request.locally = limits.locally;
  return find_alternatives(net.adjacency, net.costs, request);
}

std::vector<Nodes> nodes_of(const std::vector<Alternative>& ways) {
  std::vector<Nodes> list;
  for (const auto& way : ways) list.push_back(way.way.nodes);
  return list;
}

// ---- promises, recomputed
// ------------------------------------------------------------------------------------------------

/// Primary and second part in one number, in the same order as the `Cost`. Requires: no third part, few moves.
std::int64_t number_of(Cost cost) { return cost.primary() * (std::int64_t{1} << 20) + cost.second(); }

void expect_joined(const Net& net, const Path& way) {
  ASSERT_EQ(way.nodes.size(), way.moves.size() + 1);
  for (std::size_t i = 0; i < way.moves.size(); ++i) {
    const auto [a, b] = net.ends[way.moves[i]];
    EXPECT_TRUE((way.nodes[i] == a && way.nodes[i + 1] == b) || (way.nodes[i] == b && way.nodes[i + 1] == a));
    EXPECT_FALSE(net.costs[way.moves[i]].is_blocked());
  }
}

Cost seed_cost(const std::vector<Seed>& seeds, std::uint32_t node) {
  Cost least = Cost::blocked();
  for (const auto& seed : seeds)
    if (seed.node == node) least = std::min(least, seed.cost);
  return least;
}

/// Length shared with the ways before, by sets of group names.
std::int64_t shared_length(const Net& net, const std::vector<Alternative>& ways, std::size_t which) {
  std::set<std::uint32_t> held;
  std::set<std::set<std::uint32_t>> crossed;
  for (std::size_t w = 0; w < which; ++w) {
    const auto& nodes = ways[w].way.nodes;
    for (std::size_t i = 0; i < nodes.size(); ++i) {
      held.insert(net.groups[nodes[i]]);
      if (i > 0) crossed.insert({net.groups[nodes[i - 1]], net.groups[nodes[i]]});
    }
  }
  std::int64_t sum = 0;
  for (const auto move : ways[which].way.moves) {
    const auto a = net.groups[net.ends[move].first], b = net.groups[net.ends[move].second];
    if (a == b ? held.contains(a) : crossed.contains({a, b})) sum += net.lengths[move];
  }
  return sum;
}

std::int64_t length_of(const Net& net, const Path& way) {
  std::int64_t sum = 0;
  for (const auto move : way.moves) sum += net.lengths[move];
  return sum;
}

/// Everything the header promises. Returns how many stretches of more than one move local optimality was checked on.
std::size_t expect_promises(const Net& net, const std::vector<Seed>& sources, const std::vector<Seed>& targets,
                            const Limits& limits, const std::vector<Alternative>& ways,
                            support::BoostDijkstra& reference) {
  const auto best = RouteQuery().find(net.adjacency, net.costs, sources, targets);
  EXPECT_EQ(ways.empty(), !best);
  if (!best || ways.empty()) return 0;
  EXPECT_EQ(ways.front().way.nodes, best->nodes);
  EXPECT_EQ(ways.front().way.moves, best->moves);
  EXPECT_EQ(ways.front().way.cost, best->cost);
  EXPECT_EQ(ways.front().stretch, 1);
  EXPECT_EQ(ways.front().shared_fraction, 0);
  EXPECT_LE(ways.size(), limits.most);
  std::size_t checked = 0;
  for (std::size_t w = 0; w < ways.size(); ++w) {
    SCOPED_TRACE("way " + std::to_string(w));
    const auto& [way, stretch, shared_fraction, via] = ways[w];
    expect_joined(net, way);
    Cost cost = seed_cost(sources, way.nodes.front()) + seed_cost(targets, way.nodes.back());
    for (const auto move : way.moves) cost = cost + net.costs[move];
    EXPECT_EQ(way.cost, cost);
    EXPECT_EQ(std::set(way.nodes.begin(), way.nodes.end()).size(), way.nodes.size()) << "a node comes twice";
    const auto via_at = std::find(way.nodes.begin(), way.nodes.end(), via);
    EXPECT_NE(via_at, way.nodes.end());
    if (w == 0) continue;
    EXPECT_LE(static_cast<double>(way.cost.primary()), limits.stretch * static_cast<double>(best->cost.primary()));
    if (best->cost.primary() > 0)
      EXPECT_DOUBLE_EQ(stretch, static_cast<double>(way.cost.primary()) / static_cast<double>(best->cost.primary()));
    const auto whole = std::min(length_of(net, *best), length_of(net, way));
    EXPECT_GT(whole, 0);
    EXPECT_DOUBLE_EQ(shared_fraction, static_cast<double>(shared_length(net, ways, w)) / static_cast<double>(whole));
    EXPECT_LE(shared_fraction, limits.sharing);

    // Every stretch of at most T between every two nodes; and to and from the via node whatever the length.
    const auto window = limits.locally * static_cast<double>(best->cost.primary());
    for (std::size_t i = 0; i + 1 < way.nodes.size(); ++i) {
      const auto& least = reference.all(way.nodes[i]);
      Cost so_far;
      for (std::size_t j = i + 1; j < way.nodes.size(); ++j) {
        so_far = so_far + net.costs[way.moves[j - 1]];
        const bool is_short = static_cast<double>(so_far.primary()) <= window;
        const bool is_tree_way = way.nodes.begin() + static_cast<std::ptrdiff_t>(j) <= via_at ||
                                 way.nodes.begin() + static_cast<std::ptrdiff_t>(i) >= via_at;
        if (!is_short && !is_tree_way) break;
        EXPECT_EQ(number_of(so_far), least[way.nodes[j]]) << "from node " << i << " to node " << j << " of the way";
        if (j > i + 1) ++checked;
      }
    }
  }
  return checked;
}

support::BoostDijkstra reference_of(const Net& net) {
  std::vector<WeightedEdge> edges;
  for (std::size_t m = 0; m < net.ends.size(); ++m)
    if (!net.costs[m].is_blocked()) edges.push_back({net.ends[m].first, net.ends[m].second, number_of(net.costs[m])});
  return {net.adjacency.node_count(), edges};
}

Net net_of(const support::SyntheticGraph& synthetic) {
  Net net = net_of(synthetic.nodes, synthetic.edges);
  net.groups = synthetic.rail_of_node;
  net.lengths = synthetic.length_of_edge;
  return net;
}

TEST(Alternatives, KeepEveryPromiseOnGraphsShapedLikeHandrails) {
  std::size_t others = 0, checked = 0;
  for (std::uint64_t seed = 1; seed <= 8; ++seed) {
    Net net = net_of(support::synthetic_graph(600 * seed, seed));
    std::mt19937_64 random(seed);
    for (auto& cost : net.costs)
      if (random() % 10 == 0) cost = Cost::blocked();
    auto reference = reference_of(net);
    for (int i = 0; i < 40; ++i) {
      SCOPED_TRACE("seed " + std::to_string(seed) + ", pair " + std::to_string(i));
      const auto pick = [&] {
        return Seed{static_cast<std::uint32_t>(random() % net.groups.size()),
                    Cost::of(static_cast<std::int64_t>(random() % 3 * 100000))};
      };
      std::vector<Seed> sources, targets;
      for (auto n = 1 + random() % 2; n > 0; --n) sources.push_back(pick()), targets.push_back(pick());
      Limits limits;
      limits.most = 1 + random() % 6;
      limits.stretch = 1 + static_cast<double>(random() % 60) / 100;
      limits.sharing = static_cast<double>(random() % 90) / 100;
      limits.locally = static_cast<double>(random() % 60) / 100;
      const auto ways = find(net, sources, targets, limits);
      checked += expect_promises(net, sources, targets, limits, ways, reference);
      if (!ways.empty()) others += ways.size() - 1;
      EXPECT_EQ(nodes_of(ways), nodes_of(find(net, sources, targets, limits))) << "asked twice";
    }
  }
  EXPECT_GT(others, 60u) << "or nothing was tested";
  EXPECT_GT(checked, 10000u);
}

TEST(Alternatives, KeepEveryPromiseOnSmallGraphsFullOfTies) {
  std::size_t others = 0, checked = 0;
  std::mt19937_64 random(11);
  for (int round = 0; round < 2000; ++round) {
    SCOPED_TRACE(round);
    const auto n = static_cast<std::uint32_t>(2 + random() % 12);
    std::vector<WeightedEdge> edges;
    const auto most_weight = 1 + random() % 4;
    for (std::uint32_t a = 0; a < n; ++a)
      for (std::uint32_t b = a + 1; b < n; ++b)
        for (int twin = 0; twin < 2; ++twin)  // moves side by side, and some that cost nothing
          if (random() % 6 == 0) edges.push_back({a, b, static_cast<std::int64_t>(random() % (most_weight + 1))});
    Net net = net_of(n, edges);
    for (auto& group : net.groups) group = static_cast<std::uint32_t>(random() % n);
    for (auto& length : net.lengths) length = static_cast<std::int64_t>(random() % 4);
    auto reference = reference_of(net);
    const std::vector<Seed> sources = {{0, {}}}, targets = {{n - 1, {}}};
    Limits limits{.most = 5, .stretch = 2};
    limits.sharing = static_cast<double>(random() % 100) / 100;
    limits.locally = static_cast<double>(random() % 100) / 100;
    const auto ways = find(net, sources, targets, limits);
    checked += expect_promises(net, sources, targets, limits, ways, reference);
    if (!ways.empty()) others += ways.size() - 1;
  }
  EXPECT_GT(others, 300u) << "or nothing was tested";
  EXPECT_GT(checked, 300u);
}

TEST(Alternatives, KeepEveryPromiseOnAYardOfDrums) {
  const support::World world(support::generated_yard(4000));
  const auto& suit = world.kit.suits.front();
  const auto table = route::compute_costs(world.graph, {.kit = world.kit, .suit = suit}, route::Objective::Time);
  Net net;
  net.adjacency = world.graph.adjacency();
  for (const auto& grip : world.graph.grips()) net.groups.push_back(static_cast<std::uint32_t>(grip.rail.index()));
  for (std::size_t m = 0; m < world.graph.moves().size(); ++m) {
    const auto& move = world.graph.moves()[m];
    net.ends.emplace_back(move.a.index(), move.b.index());
    // Without the third part, which the reference's single number has no room for.
    const Cost cost = table.by_move[m];
    net.costs.push_back(cost.is_blocked() ? cost : Cost::of(cost.primary(), cost.second()));
    net.lengths.push_back(route::cost_of_metres(move.way_m));
  }
  auto reference = reference_of(net);
  std::size_t others = 0, checked = 0;
  std::mt19937_64 random(12);
  for (int i = 0; i < 10; ++i) {
    SCOPED_TRACE(i);
    const auto grip = [&] { return static_cast<std::uint32_t>(random() % net.groups.size()); };
    const std::vector<Seed> sources = {{grip(), {}}}, targets = {{grip(), {}}};
    const Limits limits{.most = 4};
    const auto ways = find(net, sources, targets, limits);
    checked += expect_promises(net, sources, targets, limits, ways, reference);
    if (!ways.empty()) others += ways.size() - 1;
  }
  EXPECT_GT(others, 10u) << "or nothing was tested";
  EXPECT_GT(checked, 1000u);
}

// ---- known ways
// ----------------------------------------------------------------------------------------------------------

// From 0 to 1: the best over 2, 3, 4 (40), a corridor over 5, 6, 7 (46), one over 8, 9, 10 (56: 1.4 times the best),
// and a fork off the best, 4-11-1 for 4-1 (42: shares 30 of 40).
const std::vector<WeightedEdge> corridors = {{0, 2, 10}, {2, 3, 10}, {3, 4, 10},  {4, 1, 10},   //
                                             {0, 5, 11}, {5, 6, 12}, {6, 7, 12},  {7, 1, 11},   //
                                             {0, 8, 14}, {8, 9, 14}, {9, 10, 14}, {10, 1, 14},  //
                                             {4, 11, 6}, {11, 1, 6}};
const Nodes best_way = {0, 2, 3, 4, 1}, second_corridor = {0, 5, 6, 7, 1}, long_corridor = {0, 8, 9, 10, 1},
            fork = {0, 2, 3, 4, 11, 1};

TEST(Alternatives, OfThreeCorridorsTheLongOneAndTheForkAreLeftOut) {
  const auto ways = find(net_of(12, corridors), {{0, {}}}, {{1, {}}}, {.most = 9});
  EXPECT_THAT(nodes_of(ways), ElementsAre(best_way, second_corridor));
  EXPECT_EQ(ways[1].stretch, 1.15);
  EXPECT_EQ(ways[1].shared_fraction, 0);
  EXPECT_EQ(ways[0].via, 0u);
  EXPECT_THAT((Nodes{5, 6, 7}), testing::Contains(ways[1].via));
}

TEST(Alternatives, TheLongCorridorComesWithMoreStretch) {
  const auto ways = find(net_of(12, corridors), {{0, {}}}, {{1, {}}}, {.most = 9, .stretch = 1.4});
  EXPECT_THAT(nodes_of(ways), ElementsAre(best_way, second_corridor, long_corridor));
  EXPECT_EQ(ways[2].stretch, 1.4);
  EXPECT_THAT(find(net_of(12, corridors), {{0, {}}}, {{1, {}}}, {.most = 9, .stretch = 1.39}), SizeIs(2));
}

TEST(Alternatives, TheForkComesWithMoreSharing) {
  // Local optimality up to 4, less than any move of the fork: only sharing decides.
  const Net net = net_of(12, corridors);
  const auto ways = find(net, {{0, {}}}, {{1, {}}}, {.most = 9, .sharing = 0.75, .locally = 0.1});
  ASSERT_THAT(nodes_of(ways), ElementsAre(best_way, second_corridor, fork));
  EXPECT_EQ(ways[2].shared_fraction, 0.75);
  EXPECT_THAT(nodes_of(find(net, {{0, {}}}, {{1, {}}}, {.most = 9, .sharing = 0.74, .locally = 0.1})),
              ElementsAre(best_way, second_corridor));
}

TEST(Alternatives, SharingCountsGroupsAndNotNodes) {
  Net net = net_of(12, corridors);
  // The second corridor's middle node on the rail of the best way's middle, its neighbours on those of its neighbours:
  // all crossings but none of the nodes are the best way's.
  for (const auto& [node, group] : {std::pair{5u, 2u}, {6u, 3u}, {7u, 4u}}) net.groups[node] = group;
  EXPECT_THAT(nodes_of(find(net, {{0, {}}}, {{1, {}}}, {.most = 9})), ElementsAre(best_way));
  // The same groups crossed in another order are other moves.
  for (const auto& [node, group] : {std::pair{5u, 4u}, {6u, 2u}, {7u, 3u}}) net.groups[node] = group;
  const auto ways = find(net, {{0, {}}}, {{1, {}}}, {.most = 9});
  EXPECT_THAT(nodes_of(ways), ElementsAre(best_way, second_corridor));
  EXPECT_EQ(ways[1].shared_fraction, 0.3) << "only 6-7, 12 of 40, goes between groups 2 and 3";
}

TEST(Alternatives, SharingIsAgainstAllWaysBefore) {
  // From 0 to 1 over 2 and 4 (40), over 3 and 5 (42), or crossing from the second to the first by 6 (45): this shares
  // 10 of 40 with the best and 21 with the other, 31 with both.
  const Net net =
      net_of(7, {{0, 2, 20}, {2, 4, 10}, {4, 1, 10}, {0, 3, 21}, {3, 5, 10}, {5, 1, 11}, {3, 6, 7}, {6, 4, 7}});
  const Nodes first = {0, 2, 4, 1}, second = {0, 3, 5, 1}, crossing = {0, 3, 6, 4, 1};
  EXPECT_THAT(nodes_of(find(net, {{0, {}}}, {{1, {}}}, {.most = 9, .sharing = 0.7, .locally = 0.1})),
              ElementsAre(first, second));
  const auto more = find(net, {{0, {}}}, {{1, {}}}, {.most = 9, .sharing = 0.8, .locally = 0.1});
  ASSERT_THAT(nodes_of(more), ElementsAre(first, second, crossing));
  EXPECT_EQ(more[2].shared_fraction, 31.0 / 40);
}

TEST(Alternatives, ADetourThatIsNotLocallyCheapestIsRefused) {
  // Best 0-2-3-1 (100). A corridor 0-4-5-6-7-1 (110), and a detour on it: 5-8-6 costs 22, 5-6 costs 20.
  const Net net = net_of(9, {{0, 2, 33},
                             {2, 3, 34},
                             {3, 1, 33},
                             {0, 4, 25},
                             {4, 5, 20},
                             {5, 6, 20},
                             {6, 7, 20},
                             {7, 1, 25},
                             {5, 8, 11},
                             {8, 6, 11}});
  const Nodes best = {0, 2, 3, 1}, corridor = {0, 4, 5, 6, 7, 1}, detour = {0, 4, 5, 8, 6, 7, 1};
  EXPECT_THAT(nodes_of(find(net, {{0, {}}}, {{1, {}}}, {.most = 9, .sharing = 0.95, .locally = 0.22})),
              ElementsAre(best, corridor));
  EXPECT_THAT(nodes_of(find(net, {{0, {}}}, {{1, {}}}, {.most = 9, .sharing = 0.95, .locally = 0.10})),
              ElementsAre(best, corridor, detour))
      << "within a tenth of the best's cost there is nothing wrong with it";
}

TEST(Alternatives, GoingIntoADeadEndAndBackIsNoWay) {
  // A spur 3-4 hangs on the second corridor. While that corridor is not taken, 0-3-4-3-1 (24) shares nothing and keeps
  // every other limit.
  const Net net = net_of(5, {{0, 2, 10}, {2, 1, 10}, {0, 3, 11}, {3, 1, 11}, {3, 4, 1}});
  const Seed from{0, {}}, to{1, {}};
  auto request = net.request({&from, 1}, {&to, 1});
  request.most = 9, request.locally = 0;
  std::vector<Nodes> asked;
  request.accept = [&](const Path& way) {
    asked.push_back(way.nodes);
    return false;
  };
  EXPECT_THAT(nodes_of(find_alternatives(net.adjacency, net.costs, request)), ElementsAre((Nodes{0, 2, 1})));
  EXPECT_THAT(asked, ElementsAre((Nodes{0, 3, 1})));
}

TEST(Alternatives, AcceptDecidesOnAllButTheBest) {
  const Net net = net_of(12, corridors);
  const Seed from{0, {}}, to{1, {}};
  auto request = net.request({&from, 1}, {&to, 1});
  request.most = 9, request.stretch = 1.4;
  std::vector<Nodes> asked;
  request.accept = [&](const Path& way) {
    asked.push_back(way.nodes);
    return way.nodes == long_corridor;
  };
  EXPECT_THAT(nodes_of(find_alternatives(net.adjacency, net.costs, request)), ElementsAre(best_way, long_corridor));
  EXPECT_THAT(asked, ElementsAre(second_corridor, long_corridor));
}

TEST(Alternatives, AcceptIsAskedAtMostSixTimesAWay) {
  std::vector<WeightedEdge> edges = {{0, 2, 100}, {2, 1, 100}};
  for (std::uint32_t node = 3; node < 40; ++node)
    edges.insert(edges.end(), {{0, node, 100 + node / 2}, {node, 1, 100}});
  const Net net = net_of(40, edges);
  const Seed from{0, {}}, to{1, {}};
  auto request = net.request({&from, 1}, {&to, 1});
  std::size_t asked = 0;
  request.accept = [&](const Path&) { return ++asked == 0; };
  EXPECT_THAT(find_alternatives(net.adjacency, net.costs, request), SizeIs(1));
  EXPECT_EQ(asked, 18u) << "of 37 corridors that keep every limit, with three ways asked for";
}

TEST(Alternatives, OfTheTiesInAFourByFourGridTheOneThatSharesLeastComesSecond) {
  std::mt19937_64 random(14);
  for (int round = 0; round < 30; ++round) {  // whatever the numbers of the nodes
    SCOPED_TRACE(round);
    Nodes id(16);
    std::iota(id.begin(), id.end(), 0u);
    if (round > 0) std::shuffle(id.begin(), id.end(), random);
    std::vector<WeightedEdge> edges;
    for (std::size_t cell = 0; cell < 16; ++cell) {
      if (cell % 4 < 3) edges.push_back({id[cell], id[cell + 1], 1});
      if (cell < 12) edges.push_back({id[cell], id[cell + 4], 1});
    }
    const auto ways = find(net_of(16, edges), {{id[0], {}}}, {{id[15], {}}}, {.most = 4, .stretch = 1, .sharing = 0.9});
    ASSERT_GE(ways.size(), 2u);
    if (round == 0) EXPECT_EQ(ways[0].way.nodes, (Nodes{0, 1, 2, 3, 7, 11, 15}));
    for (const auto& way : ways) EXPECT_EQ(way.way.cost, Cost::of(6, 6));
    // All twenty ways, three steps down among six, against the best.
    std::set<std::pair<std::uint32_t, std::uint32_t>> best;
    for (std::size_t i = 0; i < 6; ++i) best.emplace(ways[0].way.nodes[i], ways[0].way.nodes[i + 1]);
    int least_shared = 6;
    std::vector<std::size_t> steps = {1, 1, 1, 4, 4, 4};
    do {
      std::size_t cell = 0;
      int shared = 0;
      for (const auto step : steps) shared += best.contains({id[cell], id[cell + step]}) ? 1 : 0, cell += step;
      least_shared = std::min(least_shared, shared);
    } while (std::next_permutation(steps.begin(), steps.end()));
    EXPECT_DOUBLE_EQ(ways[1].shared_fraction, least_shared / 6.0);
  }
}

TEST(Alternatives, NoWay) {
  const Net net = net_of(4, {{0, 1, 1}, {2, 3, 1}});
  EXPECT_THAT(find(net, {{0, {}}}, {{3, {}}}), IsEmpty());
  EXPECT_THAT(find(net, {}, {{3, {}}}), IsEmpty());
  EXPECT_THAT(find(net, {{0, {}}}, {}), IsEmpty());
  Net blocked = net_of(2, {{0, 1, 1}});
  blocked.costs[0] = Cost::blocked();
  EXPECT_THAT(find(blocked, {{0, {}}}, {{1, {}}}), IsEmpty());
}

TEST(Alternatives, FromANodeToItselfThereIsOneWay) {
  const auto ways = find(net_of(12, corridors), {{3, {}}}, {{3, {}}});
  ASSERT_THAT(ways, SizeIs(1));
  EXPECT_EQ(ways[0].way.nodes, (Nodes{3}));
  EXPECT_EQ(ways[0].stretch, 1);
  EXPECT_EQ(ways[0].via, 3u);
}

TEST(Alternatives, AskedForNoneOrForOne) {
  const Net net = net_of(12, corridors);
  EXPECT_THAT(find(net, {{0, {}}}, {{1, {}}}, {.most = 0}), IsEmpty());
  EXPECT_THAT(nodes_of(find(net, {{0, {}}}, {{1, {}}}, {.most = 1})), ElementsAre(best_way));
}

TEST(Alternatives, LeaveAndArriveByAnySeed) {
  // The place at the start has grips 0 and 12, each the beginning of a corridor.
  auto edges = corridors;
  edges.push_back({12, 13, 24});
  edges.push_back({13, 1, 20});
  const auto ways = find(net_of(14, edges), {{0, {}}, {12, {}}}, {{1, {}}}, {.most = 9});
  EXPECT_THAT(nodes_of(ways), ElementsAre(best_way, (Nodes{12, 13, 1}), second_corridor));
}

TEST(Alternatives, AWayShorterThanTheBestIsNotTakenTwice) {
  // The slower corridor is half as long as the best, so all of it is less than 0.7 of the best's length; its two
  // plateaus (4-5 and 5-4 differ by a twin of equal cost) stand for the same groups.
  Net net = net_of(6, {{0, 2, 10}, {2, 1, 10}, {0, 4, 10}, {4, 1, 12}, {0, 5, 10}, {5, 1, 12}});
  net.lengths = {20, 20, 10, 10, 10, 10};
  net.groups = {0, 1, 2, 3, 4, 4};
  EXPECT_THAT(find(net, {{0, {}}}, {{1, {}}}, {.most = 9}), SizeIs(2));
}

// ---- the list of cheapest ways
// ------------------------------------------------------------------------------------------------

TEST(Yen, UsualPrintedExample) {
  // Directed C-D 3, C-E 2, D-F 4, E-D 1, E-F 2, E-G 3, F-G 2, F-H 1, G-H 2, as 0..5: all seven ways from C to H.
  enum : std::uint32_t { C, D, E, F, G, H };
  const support::Yen yen(
      6, {{C, D, 3}, {C, E, 2}, {D, F, 4}, {E, D, 1}, {E, F, 2}, {E, G, 3}, {F, G, 2}, {F, H, 1}, {G, H, 2}});
  const auto ways = yen.find(C, H, 10);
  std::vector<std::int64_t> costs;
  for (const auto& way : ways) costs.push_back(way.cost);
  EXPECT_THAT(costs, ElementsAre(5, 7, 8, 8, 8, 11, 11));
  EXPECT_EQ(ways[0].nodes, (Nodes{C, E, F, H}));
  EXPECT_EQ(ways[1].nodes, (Nodes{C, E, G, H}));
  EXPECT_THAT(yen.find(C, H, 3), SizeIs(3));
  EXPECT_THAT(yen.find(H, C, 3), IsEmpty());
}

TEST(Yen, AgreesWithListingEveryWay) {
  std::mt19937_64 random(13);
  for (int round = 0; round < 200; ++round) {
    SCOPED_TRACE(round);
    const auto n = static_cast<std::uint32_t>(3 + random() % 4);
    std::vector<WeightedEdge> arcs;
    for (std::uint32_t a = 0; a < n; ++a)
      for (std::uint32_t b = 0; b < n; ++b)
        if (a != b && random() % 2) arcs.push_back({a, b, static_cast<std::int64_t>(random() % 4)});
    // Every order of every set of the nodes between is a way or none.
    std::vector<support::YenWay> all;
    std::map<std::pair<std::uint32_t, std::uint32_t>, std::int64_t> weight;
    for (const auto& arc : arcs) weight[{arc.a, arc.b}] = arc.weight;
    Nodes between;
    for (std::uint32_t node = 1; node + 1 < n; ++node) between.push_back(node);
    for (std::uint32_t set = 0; set < 1u << between.size(); ++set) {
      Nodes chosen;
      for (std::size_t i = 0; i < between.size(); ++i)
        if (set >> i & 1) chosen.push_back(between[i]);
      do {
        support::YenWay way{0, {0}};
        way.nodes.insert(way.nodes.end(), chosen.begin(), chosen.end());
        way.nodes.push_back(n - 1);
        bool is_way = true;
        for (std::size_t i = 0; i + 1 < way.nodes.size(); ++i) {
          const auto found = weight.find({way.nodes[i], way.nodes[i + 1]});
          if (found == weight.end())
            is_way = false;
          else
            way.cost += found->second;
        }
        if (is_way) all.push_back(way);
      } while (std::next_permutation(chosen.begin(), chosen.end()));
    }
    std::sort(all.begin(), all.end());
    const auto ways = support::Yen(n, arcs).find(0, n - 1, 1000);
    EXPECT_EQ(ways.size(), all.size());
    for (std::size_t i = 0; i < std::min(ways.size(), all.size()); ++i) {
      EXPECT_EQ(ways[i].cost, all[i].cost);
      EXPECT_NE(std::find(all.begin(), all.end(), ways[i]), all.end());
    }
  }
}

TEST(Alternatives, DifferInRailsWhereTheCheapestWaysDoNot) {
  // Three railings from one place to another, each of rails 1.2 m long with grips 0.15 m apart, side by side on a bow:
  // the farther out, the longer. Moves up to 0.61 m; time as in design.md section 5.
  struct Grip {
    double along, across;
    std::uint32_t rail;
  };
  std::vector<Grip> grips;
  std::uint32_t rails = 0;
  grips.push_back({0, 0, rails++});
  for (const double bow : {0.0, 2.0, 3.0})
    for (int rail = 0; rail < 6; ++rail, ++rails)
      for (int k = 0; k <= 8; ++k) {
        const double along = 0.5 + rail * 1.5 + k * 0.15;
        grips.push_back({along, bow * std::sin((along - 0.35) / 9 * std::numbers::pi), rails});
      }
  grips.push_back({9.7, 0, rails++});
  Net net;
  std::vector<WeightedEdge> arcs;
  for (std::uint32_t a = 0; a < grips.size(); ++a)
    for (std::uint32_t b = a + 1; b < grips.size(); ++b) {
      const double gap = std::hypot(grips[a].along - grips[b].along, grips[a].across - grips[b].across);
      if (gap > 0.61) continue;
      const double seconds = std::max(2.0, gap / 0.2) + (grips[a].rail == grips[b].rail ? 0 : 2);
      net.ends.emplace_back(a, b);
      net.costs.push_back(Cost::of(route::cost_of_seconds(seconds), 1));
      net.lengths.push_back(route::cost_of_metres(gap));
      arcs.push_back({a, b, route::cost_of_seconds(seconds)});
      arcs.push_back({b, a, route::cost_of_seconds(seconds)});
    }
  net.adjacency = graph::build_adjacency(grips.size(), net.ends);
  for (const auto& grip : grips) net.groups.push_back(grip.rail);
  const auto rails_of = [&](const Nodes& nodes) {
    std::set<std::uint32_t> held;
    for (const auto node : nodes) held.insert(net.groups[node]);
    return held;
  };
  const auto last = static_cast<std::uint32_t>(grips.size() - 1);

  const auto cheapest = support::Yen(grips.size(), arcs).find(0, last, 5);
  ASSERT_THAT(cheapest, SizeIs(5));
  std::set<std::set<std::uint32_t>> yen_rails, our_rails;
  for (const auto& way : cheapest) {
    yen_rails.insert(rails_of(way.nodes));
    EXPECT_EQ(way.cost, cheapest.front().cost);
  }
  EXPECT_THAT(yen_rails, SizeIs(1)) << "five ways, the very same rails";

  const auto ways = find(net, {{0, {}}}, {{last, {}}}, {.most = 3});
  ASSERT_THAT(ways, SizeIs(3));
  EXPECT_EQ(ways.front().way.cost.primary(), cheapest.front().cost);
  for (const auto& way : ways) our_rails.insert(rails_of(way.way.nodes));
  EXPECT_THAT(our_rails, SizeIs(3));
  for (std::size_t w = 1; w < 3; ++w) EXPECT_LE(ways[w].shared_fraction, 0.3) << "little but the two ends";
}

}  // namespace
}  // namespace holdfast::search
