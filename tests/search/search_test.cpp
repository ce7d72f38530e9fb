// SPDX-License-Identifier: GPL-3.0-or-later
// The search core against printed examples, open benchmarks, two libraries and brute force.

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <fstream>
#include <functional>
#include <random>
#include <sstream>

#include "holdfast/search/labels.h"
#include "holdfast/search/landmarks.h"
#include "holdfast/search/shortest.h"
#include "holdfast/search/widest.h"
#include "lemon_dijkstra.h"
#include "reference_dijkstra.h"
#include "synthetic_graph.h"

namespace holdfast::search {
namespace {

using graph::Adjacency;
using support::WeightedEdge;

struct Net {
  Adjacency adjacency;
  std::vector<Cost> costs;
};

Net net_of(std::size_t nodes, const std::vector<WeightedEdge>& edges) {
  std::vector<std::pair<std::uint32_t, std::uint32_t>> ends;
  Net net;
  for (const auto& e : edges) ends.emplace_back(e.a, e.b), net.costs.push_back(Cost::of(e.weight, 1));
  net.adjacency = graph::build_adjacency(nodes, ends);
  return net;
}

std::vector<std::int64_t> primaries(const Net& net, std::uint32_t from) {
  ShortestTree tree;
  const Seed seed{from, {}};
  tree.grow(net.adjacency, net.costs, {&seed, 1});
  std::vector<std::int64_t> list;
  for (std::uint32_t n = 0; n < net.adjacency.node_count(); ++n)
    list.push_back(tree.cost(n).is_blocked() ? -1 : tree.cost(n).primary());
  return list;
}

std::optional<Path> find(const Net& net, std::uint32_t from, std::uint32_t to, const Landmarks* landmarks = nullptr) {
  RouteQuery query;
  const Seed source{from, {}}, target{to, {}};
  return query.find(net.adjacency, net.costs, {&source, 1}, {&target, 1}, landmarks);
}

// ---- printed examples
// -------------------------------------------------------------------------------------------------

TEST(Printed, WidelyPrintedUndirectedGraph) {
  // 1-2 7, 1-3 9, 1-6 14, 2-3 10, 2-4 15, 3-4 11, 3-6 2, 4-5 6, 5-6 9: from 1: 7, 9, 20, 20, 11 to 2..6; way to 5:
  // 1-3-6-5.
  const Net net = net_of(
      7, {{1, 2, 7}, {1, 3, 9}, {1, 6, 14}, {2, 3, 10}, {2, 4, 15}, {3, 4, 11}, {3, 6, 2}, {4, 5, 6}, {5, 6, 9}});
  EXPECT_EQ(primaries(net, 1), (std::vector<std::int64_t>{-1, 0, 7, 9, 20, 20, 11}));
  EXPECT_EQ(find(net, 1, 5)->nodes, (std::vector<std::uint32_t>{1, 3, 6, 5}));
}

/// Arcs in one direction only: enough for trees and widest ways, which look forward alone.
Net directed_net_of(std::size_t nodes, const std::vector<WeightedEdge>& arcs) {
  Net net;
  net.adjacency.first.assign(nodes + 1, 0);
  for (const auto& arc : arcs) ++net.adjacency.first[arc.a + 1], net.costs.push_back(Cost::of(arc.weight, 1));
  for (std::size_t n = 0; n < nodes; ++n) net.adjacency.first[n + 1] += net.adjacency.first[n];
  for (std::uint32_t n = 0; n < nodes; ++n)
    for (std::uint32_t m = 0; m < arcs.size(); ++m)
      if (arcs[m].a == n) net.adjacency.arcs.push_back({arcs[m].b, m});
  return net;
}

// s 0, t 1, x 2, y 3, z 4.
const std::vector<WeightedEdge> clrs = {{0, 1, 10}, {0, 3, 5}, {1, 2, 1}, {1, 3, 2}, {3, 1, 3},
                                        {3, 2, 9},  {3, 4, 2}, {2, 4, 4}, {4, 2, 6}, {4, 0, 7}};

TEST(Printed, DijkstraFigureOfIntroductionToAlgorithms) {
  // CLRS, Introduction to Algorithms, Dijkstra figure (Fig. 24.6 in the 3rd edition): t 8, x 9, y 5, z 7.
  EXPECT_EQ(primaries(directed_net_of(5, clrs), 0), (std::vector<std::int64_t>{0, 8, 9, 5, 7}));
}

TEST(Printed, WidestWaysOfTheSameFigure) {
  // The weights read as clearances: t 10, y 5, x 5 (s-y-x), z 4 (s-y-x-z).
  const Net net = directed_net_of(5, clrs);
  std::vector<double> widths;
  for (const auto& arc : clrs) widths.push_back(static_cast<double>(arc.weight));
  const Seed from{0, {}};
  const auto widest = [&](std::uint32_t node) {
    const Seed to{node, {}};
    return *find_widest_path(net.adjacency, widths, {&from, 1}, {&to, 1});
  };
  EXPECT_EQ(widest(1).width, 10);
  EXPECT_EQ(widest(3).width, 5);
  EXPECT_EQ(widest(2).width, 5);
  EXPECT_EQ(widest(2).nodes, (std::vector<std::uint32_t>{0, 3, 2}));
  EXPECT_EQ(widest(4).width, 4);
  EXPECT_EQ(widest(4).nodes, (std::vector<std::uint32_t>{0, 3, 2, 4}));
}

TEST(Printed, ShortestPathsOfAlgorithmsFourthEdition) {
  // Sedgewick and Wayne, Algorithms, 4th ed., sec. 4.4, 8 vertices and 15 edges, weights in hundredths.
  const Net net = directed_net_of(8, {{4, 5, 35},
                                      {5, 4, 35},
                                      {4, 7, 37},
                                      {5, 7, 28},
                                      {7, 5, 28},
                                      {5, 1, 32},
                                      {0, 4, 38},
                                      {0, 2, 26},
                                      {7, 3, 39},
                                      {1, 3, 29},
                                      {2, 7, 34},
                                      {6, 2, 40},
                                      {3, 6, 52},
                                      {6, 0, 58},
                                      {6, 4, 93}});
  EXPECT_EQ(primaries(net, 0), (std::vector<std::int64_t>{0, 105, 26, 99, 38, 73, 151, 60}));
}

TEST(Printed, FourByFourGridHasTwentyShortestWaysAndTheSmallestIsTaken) {
  std::vector<WeightedEdge> edges;
  const auto id = [](int r, int c) { return static_cast<std::uint32_t>(4 * r + c); };
  for (int r = 0; r < 4; ++r)
    for (int c = 0; c < 4; ++c) {
      if (c < 3) edges.push_back({id(r, c), id(r, c + 1), 1});
      if (r < 3) edges.push_back({id(r, c), id(r + 1, c), 1});
    }
  std::mt19937_64 random(4);
  for (int round = 0; round < 20; ++round) {  // whatever the order of the edges
    std::shuffle(edges.begin(), edges.end(), random);
    const auto way = find(net_of(16, edges), 0, 15);
    EXPECT_EQ(way->cost.primary(), 6);
    EXPECT_EQ(way->nodes, (std::vector<std::uint32_t>{0, 1, 2, 3, 7, 11, 15}));
  }
}

// ---- ties
// -------------------------------------------------------------------------------------------------------------

/// All ways of least cost by exhaustive search; the smallest node sequence of them.
std::vector<std::uint32_t> smallest_by_force(const Net& net, std::uint32_t from, std::uint32_t to) {
  std::vector<std::uint32_t> best, path = {from};
  Cost best_cost = Cost::blocked();
  std::vector<bool> on(net.adjacency.node_count());
  std::function<void(std::uint32_t, Cost)> walk = [&](std::uint32_t node, Cost cost) {
    if (cost > best_cost) return;
    if (node == to) {
      if (cost < best_cost || path < best) best = path, best_cost = cost;
      return;
    }
    on[node] = true;
    for (const auto& arc : net.adjacency.out(node))
      if (!on[arc.head] && !net.costs[arc.move].is_blocked()) {
        path.push_back(arc.head);
        walk(arc.head, cost + net.costs[arc.move]);
        path.pop_back();
      }
    on[node] = false;
  };
  walk(from, {});
  return best;
}

TEST(Ties, SmallestSequenceAmongAllCheapestWays) {
  std::mt19937_64 random(5);
  for (int round = 0; round < 300; ++round) {
    SCOPED_TRACE(round);
    const std::size_t n = 4 + random() % 5;
    std::vector<WeightedEdge> edges;
    for (std::uint32_t a = 0; a < n; ++a)
      for (std::uint32_t b = a + 1; b < n; ++b)
        if (random() % 3 != 0)
          edges.push_back({a, b, static_cast<std::int64_t>(random() % 3)});  // many ties, zero primaries
    const Net net = net_of(n, edges);
    const auto to = static_cast<std::uint32_t>(n - 1);
    const auto way = find(net, 0, to);
    const auto expected = smallest_by_force(net, 0, to);
    ASSERT_EQ(way.has_value(), !expected.empty());
    if (way) EXPECT_EQ(way->nodes, expected);
    const Landmarks landmarks(net.adjacency, net.costs);
    if (way) EXPECT_EQ(find(net, 0, to, &landmarks)->nodes, expected);
  }
}

// ---- independent libraries
// --------------------------------------------------------------------------------------------

TEST(Libraries, LemonAndBoostAgreeOnAThousandQueriesOverThreeGraphs) {
  for (const std::size_t size : {1500u, 4000u, 8000u}) {
    const auto synthetic = support::synthetic_graph(size, size);
    const Net net = net_of(synthetic.nodes, synthetic.edges);
    std::vector<support::LemonDijkstra::Edge> edges;
    for (const auto& e : synthetic.edges) edges.push_back({e.a, e.b, e.weight});
    support::LemonDijkstra lemon(synthetic.nodes, edges);
    support::BoostDijkstra boost_graph(synthetic.nodes, synthetic.edges);
    const Landmarks landmarks(net.adjacency, net.costs);
    RouteQuery query;
    std::mt19937_64 random(size);
    for (int i = 0; i < 334; ++i) {
      const Seed from{static_cast<std::uint32_t>(random() % synthetic.nodes), {}},
          to{static_cast<std::uint32_t>(random() % synthetic.nodes), {}};
      const auto expected = lemon.cost(from.node, to.node);
      const auto plain = query.find(net.adjacency, net.costs, {&from, 1}, {&to, 1});
      const auto bounded = query.find(net.adjacency, net.costs, {&from, 1}, {&to, 1}, &landmarks);
      ASSERT_EQ(plain ? plain->cost.primary() : -1, expected);
      ASSERT_EQ(bounded ? bounded->cost.primary() : -1, expected);
      if (plain) ASSERT_EQ(plain->nodes, bounded->nodes) << "landmarks change the speed, never the answer";
      if (i % 20 == 0) {
        const auto theirs = boost_graph.to(from.node, to.node);
        EXPECT_EQ(theirs == support::BoostDijkstra::unreachable ? -1 : theirs, expected);
      }
    }
  }
}

TEST(Libraries, TreesAreThoseOfBoost) {
  const auto synthetic = support::synthetic_graph(3000, 77);
  const Net net = net_of(synthetic.nodes, synthetic.edges);
  support::BoostDijkstra boost_graph(synthetic.nodes, synthetic.edges);
  for (std::uint32_t from = 0; from < synthetic.nodes; from += 397) {
    const auto ours = primaries(net, from);
    const auto& theirs = boost_graph.all(from);
    for (std::size_t n = 0; n < ours.size(); ++n)
      ASSERT_EQ(ours[n], theirs[n] == support::BoostDijkstra::unreachable ? -1 : theirs[n]);
  }
}

TEST(Landmarks, StayValidWhenMovesAreClosed) {
  const auto synthetic = support::synthetic_graph(3000, 78);
  Net net = net_of(synthetic.nodes, synthetic.edges);
  const Landmarks landmarks(net.adjacency, net.costs);  // of the open graph
  std::mt19937_64 random(79);
  for (int round = 0; round < 20; ++round) {
    Net closed = net;
    for (auto& cost : closed.costs)
      if (random() % 12 == 0) cost = Cost::blocked();
    for (int i = 0; i < 20; ++i) {
      const auto from = static_cast<std::uint32_t>(random() % synthetic.nodes),
                 to = static_cast<std::uint32_t>(random() % synthetic.nodes);
      const auto open_way = find(net, from, to), plain = find(closed, from, to),
                 bounded = find(closed, from, to, &landmarks);
      ASSERT_EQ(plain.has_value(), bounded.has_value());
      if (!plain) continue;
      EXPECT_EQ(plain->nodes, bounded->nodes);
      EXPECT_GE(plain->cost, open_way->cost) << "closing never shortens";
    }
  }
}

TEST(Landmarks, BoundsAreAdmissibleAndConsistentAlsoTowardSets) {
  const auto synthetic = support::synthetic_graph(1500, 80);
  const Net net = net_of(synthetic.nodes, synthetic.edges);
  const Landmarks landmarks(net.adjacency, net.costs);
  std::mt19937_64 random(81);
  for (int round = 0; round < 10; ++round) {
    std::vector<Seed> goal;
    for (int k = 0; k < 3; ++k) goal.push_back({static_cast<std::uint32_t>(random() % synthetic.nodes), {}});
    ShortestTree tree;
    tree.grow(net.adjacency, net.costs, goal);
    const auto bounds = landmarks.goal(goal);
    for (std::uint32_t n = 0; n < synthetic.nodes; ++n) {
      if (!tree.cost(n).is_blocked()) EXPECT_LE(landmarks.bound(n, bounds), tree.cost(n).primary());
      for (const auto& arc : net.adjacency.out(n))
        EXPECT_LE(landmarks.bound(n, bounds), net.costs[arc.move].primary() + landmarks.bound(arc.head, bounds));
    }
  }
}

TEST(Seeds, CostsOfSourcesAndTargetsCount) {
  const Net net = net_of(4, {{0, 1, 5}, {1, 2, 5}, {2, 3, 5}});
  RouteQuery query;
  const std::vector<Seed> sources = {{0, {}}, {2, Cost::of(11)}}, targets = {{3, {}}, {1, Cost::of(9)}};
  const auto way = query.find(net.adjacency, net.costs, sources, targets);
  EXPECT_EQ(way->cost.primary(), 14) << "0-1 and 9 at the end; 0-3 costs 15, 2-3 with its seed 16";
  EXPECT_EQ(way->nodes, (std::vector<std::uint32_t>{0, 1}));
  EXPECT_FALSE(query.find(net.adjacency, net.costs, {}, targets));
}

TEST(Invariants, SymmetricTriangleAndGrowingOnlyShortens) {
  std::mt19937_64 random(82);
  const auto synthetic = support::synthetic_graph(800, 83);
  const Net net = net_of(synthetic.nodes, synthetic.edges);
  auto more_edges = synthetic.edges;
  for (int k = 0; k < 20; ++k)
    more_edges.push_back({static_cast<std::uint32_t>(random() % synthetic.nodes),
                          static_cast<std::uint32_t>(random() % synthetic.nodes), 300000});
  const Net more = net_of(synthetic.nodes, more_edges);
  const auto cost = [&](const Net& n, std::uint32_t a, std::uint32_t b) {
    const auto way = find(n, a, b);
    return way ? way->cost : Cost::blocked();
  };
  for (int i = 0; i < 100; ++i) {
    const auto a = static_cast<std::uint32_t>(random() % synthetic.nodes),
               b = static_cast<std::uint32_t>(random() % synthetic.nodes),
               c = static_cast<std::uint32_t>(random() % synthetic.nodes);
    EXPECT_EQ(cost(net, a, b), cost(net, b, a));
    if (!cost(net, a, b).is_blocked() && !cost(net, b, c).is_blocked())
      EXPECT_LE(cost(net, a, c), cost(net, a, b) + cost(net, b, c));
    EXPECT_LE(cost(more, a, b), cost(net, a, b));
  }
}

// ---- open benchmark: obstacle grid
// ------------------------------------------------------------------------------------

TEST(Benchmark, ObstacleGridHasItsPublishedOptimalLengths) {
  // Map random512-35-0 with 2,150 queries and published optimal lengths (tests/data/grid/LICENCE.txt): 8 directions, a
  // diagonal costs sqrt 2 and needs both side cells free. Lengths are given to 6 significant digits.
  const std::string folder = std::string(HOLDFAST_SOURCE_DIR) + "/tests/data/grid/";
  std::ifstream map(folder + "random512-35-0.map");
  ASSERT_TRUE(map);
  std::string word;
  int height = 0, width = 0;
  while (map >> word && word != "map") {
    if (word == "height") map >> height;
    if (word == "width") map >> width;
  }
  std::vector<std::string> cells(static_cast<std::size_t>(height));
  for (auto& row : cells) map >> row;
  const auto is_free = [&](int x, int y) {
    return x >= 0 && y >= 0 && x < width && y < height &&
           cells[static_cast<std::size_t>(y)][static_cast<std::size_t>(x)] == '.';
  };
  const auto id = [&](int x, int y) { return static_cast<std::uint32_t>(y * width + x); };
  constexpr std::int64_t straight = 1'000'000, diagonal = 1'414'214;  // units of 1e-6 cells
  std::vector<WeightedEdge> edges;
  for (int y = 0; y < height; ++y)
    for (int x = 0; x < width; ++x) {
      if (!is_free(x, y)) continue;
      if (is_free(x + 1, y)) edges.push_back({id(x, y), id(x + 1, y), straight});
      if (is_free(x, y + 1)) edges.push_back({id(x, y), id(x, y + 1), straight});
      if (is_free(x + 1, y) && is_free(x, y + 1) && is_free(x + 1, y + 1))
        edges.push_back({id(x, y), id(x + 1, y + 1), diagonal});
      if (is_free(x - 1, y) && is_free(x, y + 1) && is_free(x - 1, y + 1))
        edges.push_back({id(x, y), id(x - 1, y + 1), diagonal});
    }
  const Net net = net_of(static_cast<std::size_t>(width * height), edges);
  const Landmarks landmarks(net.adjacency, net.costs);
  std::ifstream scenarios(folder + "random512-35-0.map.scen");
  std::string line;
  std::getline(scenarios, line);
  RouteQuery query;
  int count = 0;
  while (std::getline(scenarios, line)) {
    std::istringstream fields(line);
    std::string bucket, name;
    int w = 0, h = 0, x0 = 0, y0 = 0, x1 = 0, y1 = 0;
    double length = 0;
    fields >> bucket >> name >> w >> h >> x0 >> y0 >> x1 >> y1 >> length;
    const Seed from{id(x0, y0), {}}, to{id(x1, y1), {}};
    const auto way = query.find(net.adjacency, net.costs, {&from, 1}, {&to, 1}, &landmarks);
    ASSERT_TRUE(way) << line;
    // Rounding of sqrt 2 up to 1e-6 adds at most 0.6e-6 a step; the published length has 6 digits.
    EXPECT_NEAR(static_cast<double>(way->cost.primary()) / 1e6, length,
                length * 5.1e-6 + 1e-6 * static_cast<double>(way->moves.size()))
        << line;
    ++count;
  }
  EXPECT_EQ(count, 2150);
}

// ---- widest
// -----------------------------------------------------------------------------------------------------------

TEST(Widest, AgreesWithBruteForceOnRandomGraphs) {
  std::mt19937_64 random(90);
  for (int round = 0; round < 200; ++round) {
    const std::size_t n = 3 + random() % 6;
    std::vector<WeightedEdge> edges;
    std::vector<double> widths;
    for (std::uint32_t a = 0; a < n; ++a)
      for (std::uint32_t b = a + 1; b < n; ++b)
        if (random() % 2) edges.push_back({a, b, 1}), widths.push_back(static_cast<double>(random() % 10));
    const Net net = net_of(n, edges);
    const Seed from{0, {}}, to{static_cast<std::uint32_t>(n - 1), {}};
    const auto widest = find_widest_path(net.adjacency, widths, {&from, 1}, {&to, 1});
    // By force: the largest width at which the two are still joined.
    double best = -1;
    for (double w = 0; w < 10; ++w) {
      Net part = net;
      for (std::size_t m = 0; m < widths.size(); ++m)
        if (widths[m] < w) part.costs[m] = Cost::blocked();
      if (find(part, from.node, to.node)) best = w;
    }
    ASSERT_EQ(widest.has_value(), best >= 0);
    if (!widest) continue;
    EXPECT_EQ(widest->width, best);
    EXPECT_EQ(widths[*widest->pinch], best);
  }
}

TEST(Widest, OfTheUndirectedPrintedGraph) {
  const std::vector<double> widths = {7, 9, 14, 10, 15, 11, 2, 6, 9};
  const Net net =
      net_of(7, {{1, 2, 1}, {1, 3, 1}, {1, 6, 1}, {2, 3, 1}, {2, 4, 1}, {3, 4, 1}, {3, 6, 1}, {4, 5, 1}, {5, 6, 1}});
  const Seed from{1, {}}, to{5, {}};
  const auto widest = find_widest_path(net.adjacency, widths, {&from, 1}, {&to, 1});
  EXPECT_EQ(widest->width, 9) << "1-6 (14), 6-5 (9)";
  EXPECT_EQ(widest->nodes, (std::vector<std::uint32_t>{1, 6, 5}));
}

// ---- limits
// -----------------------------------------------------------------------------------------------------------

TEST(Limits, AgreeWithBruteForceOverAllWays) {
  std::mt19937_64 random(91);
  int found_count = 0, refused = 0;
  for (int round = 0; round < 300; ++round) {
    SCOPED_TRACE(round);
    const std::size_t n = 4 + random() % 4;
    std::vector<WeightedEdge> edges;
    LimitedRequest request;
    request.resources.resize(2);
    for (std::uint32_t a = 0; a < n; ++a)
      for (std::uint32_t b = a + 1; b < n; ++b)
        if (random() % 3 != 0) {
          edges.push_back({a, b, static_cast<std::int64_t>(1 + random() % 9)});
          for (auto& resource : request.resources) resource.by_move.push_back(static_cast<std::int64_t>(random() % 6));
        }
    for (auto& resource : request.resources) resource.limit = static_cast<std::int64_t>(2 + random() % 9);
    const Net net = net_of(n, edges);
    const auto to = static_cast<std::uint32_t>(n - 1);
    request.stops = {{{0, {}}}, {{to, {}}}};
    // By force over simple ways: a cheapest way within limits never visits a node twice.
    Cost best = Cost::blocked();
    std::vector<bool> on(n);
    std::function<void(std::uint32_t, Cost, std::int64_t, std::int64_t)> walk = [&](std::uint32_t node, Cost cost,
                                                                                    std::int64_t r0, std::int64_t r1) {
      if (r0 > request.resources[0].limit || r1 > request.resources[1].limit) return;
      if (node == to) {
        best = std::min(best, cost);
        return;
      }
      on[node] = true;
      for (const auto& arc : net.adjacency.out(node))
        if (!on[arc.head])
          walk(arc.head, cost + net.costs[arc.move], r0 + request.resources[0].by_move[arc.move],
               r1 + request.resources[1].by_move[arc.move]);
      on[node] = false;
    };
    walk(0, {}, 0, 0);
    const auto limited = find_limited_path(net.adjacency, net.costs, request);
    EXPECT_FALSE(limited.is_cut_short);
    ASSERT_EQ(limited.way.has_value(), !best.is_blocked());
    if (limited.way) {
      ++found_count;
      EXPECT_EQ(limited.way->cost, best);
      for (std::size_t r = 0; r < 2; ++r) EXPECT_LE(limited.used[r], request.resources[r].limit);
    } else {
      ++refused;
    }
  }
  EXPECT_GT(found_count, 50);
  EXPECT_GT(refused, 20);
}

TEST(Limits, StopsArePassedInOrderWithOneLimitForAll) {
  // 0-1-2 cheap but uses 3 a move; 0-3-2 dearer and uses none. There and back within 6 means: one of the two legs the
  // dear way.
  const Net net = net_of(4, {{0, 1, 1}, {1, 2, 1}, {0, 3, 2}, {3, 2, 2}});
  LimitedRequest request;
  request.stops = {{{0, {}}}, {{2, {}}}, {{0, {}}}};
  request.resources = {{{3, 3, 0, 0}, 6}};
  const auto limited = find_limited_path(net.adjacency, net.costs, request);
  ASSERT_TRUE(limited.way);
  EXPECT_EQ(limited.way->cost.primary(), 6);
  EXPECT_EQ(limited.stop_at, (std::vector<std::size_t>{0, 2, 4}));
  EXPECT_EQ(limited.way->nodes[2], 2u);
  request.resources[0].limit = 11;
  EXPECT_EQ(find_limited_path(net.adjacency, net.costs, request).way->cost.primary(), 6);
  request.resources[0].limit = 12;
  EXPECT_EQ(find_limited_path(net.adjacency, net.costs, request).way->cost.primary(), 4);
}

TEST(Limits, ExponentialFamilyReachesTheLabelLimitAndSaysSo) {
  // After Hansen, Bicriterion path problems (1980): a chain of k stages, each with two parallel ways (2^i, 0) and (0,
  // 2^i), has 2^k labels of which none dominates another.
  std::vector<WeightedEdge> edges;
  Resource resource;
  constexpr std::uint32_t stages = 14;
  for (std::uint32_t i = 0; i < stages; ++i) {
    edges.push_back({i, i + 1, 1 << i}), resource.by_move.push_back(0);
    edges.push_back({i, i + 1, 0}), resource.by_move.push_back(1 << i);
  }
  resource.limit = (1 << stages) / 2 - 1;  // nothing prunes before the last stage
  const Net net = net_of(stages + 1, edges);
  LimitedRequest request{.stops = {{{0, {}}}, {{stages, {}}}}, .resources = {resource}, .most_labels = 50};
  const auto cut = find_limited_path(net.adjacency, net.costs, request);
  EXPECT_TRUE(cut.is_cut_short || cut.way) << "either certain or says that it was cut short";
  request.most_labels = 1'000'000;
  const auto whole = find_limited_path(net.adjacency, net.costs, request);
  ASSERT_TRUE(whole.way);
  EXPECT_FALSE(whole.is_cut_short);
  // Cost and resource always add up to 2^k - 1.
  EXPECT_EQ(whole.way->cost.primary() + whole.used[0], (1 << stages) - 1);
  EXPECT_EQ(whole.used[0], resource.limit);
}

}  // namespace
}  // namespace holdfast::search
