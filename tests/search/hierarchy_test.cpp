// SPDX-License-Identifier: GPL-3.0-or-later
// Answers from a hierarchy are those of the plain search, whatever is closed or dearer: costs, nodes and moves.

#include "holdfast/search/hierarchy.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <random>

#include "holdfast/search/tree_paths.h"
#include "synthetic_graph.h"

namespace holdfast::search {
namespace {

using Random = std::mt19937_64;

struct Net {
  std::size_t nodes = 0;
  std::vector<std::pair<std::uint32_t, std::uint32_t>> ends;
  graph::Adjacency adjacency;
  std::vector<Cost> costs;
  std::vector<char> is_used;

  void join(std::uint32_t a, std::uint32_t b) { ends.emplace_back(a, b); }
  /// Few different costs, so that most paths have equals; some moves blocked, some never used.
  void finish(Random& random) {
    adjacency = graph::build_adjacency(nodes, ends);
    is_used.assign(ends.size(), 1);
    for (auto& used : is_used) used = random() % 12 != 0 ? 1 : 0;
    price(random);
  }
  void price(Random& random) {
    costs.clear();
    for (std::size_t m = 0; m < ends.size(); ++m)
      costs.push_back(!is_used[m] || random() % 15 == 0 ? Cost::blocked()
                                                        : Cost::of(static_cast<std::int64_t>(random() % 3), 1,
                                                                   static_cast<std::int64_t>(random() % 2)));
  }
};

/// Trees with more moves, grids, bands as rails are, hubs, complete graphs, islands, and moves beside each other.
Net random_net(Random& random) {
  Net net;
  switch (random() % 6) {
    case 0: {  // a band of rails joined here and there
      net.nodes = 40 + random() % 400;
      for (std::uint32_t a = 0; a < net.nodes; ++a)
        for (std::uint32_t b = a + 1; b < std::min<std::uint32_t>(a + 5, static_cast<std::uint32_t>(net.nodes)); ++b)
          if (a / 12 == b / 12) net.join(a, b);
      for (std::size_t i = 0; i < net.nodes / 4; ++i)
        net.join(static_cast<std::uint32_t>(random() % net.nodes), static_cast<std::uint32_t>(random() % net.nodes));
      break;
    }
    case 1: {  // a grid, long or square
      const std::uint32_t width = 2 + static_cast<std::uint32_t>(random() % 20),
                          height = 2 + static_cast<std::uint32_t>(random() % 20);
      net.nodes = std::size_t{width} * height;
      for (std::uint32_t y = 0; y < height; ++y)
        for (std::uint32_t x = 0; x < width; ++x) {
          if (x + 1 < width) net.join(y * width + x, y * width + x + 1);
          if (y + 1 < height) net.join(y * width + x, y * width + x + width);
          if (x + 1 < width && y + 1 < height && random() % 2) net.join(y * width + x, y * width + x + width + 1);
        }
      break;
    }
    case 2: {  // a hub that all hang on, and a ring
      net.nodes = 3 + random() % 300;
      for (std::uint32_t v = 1; v < net.nodes; ++v)
        net.join(0, v), net.join(v, v % static_cast<std::uint32_t>(net.nodes - 1) + 1);
      break;
    }
    case 3: {  // complete
      net.nodes = 2 + random() % 70;
      for (std::uint32_t a = 0; a < net.nodes; ++a)
        for (std::uint32_t b = a + 1; b < net.nodes; ++b) net.join(a, b);
      break;
    }
    case 4: {  // few moves: islands
      net.nodes = 1 + random() % 200;
      for (std::size_t i = 0; i < net.nodes; ++i)
        net.join(static_cast<std::uint32_t>(random() % net.nodes), static_cast<std::uint32_t>(random() % net.nodes));
      break;
    }
    default: {  // many moves, some beside each other
      net.nodes = 2 + random() % 60;
      for (std::size_t i = 0; i < net.nodes * 5; ++i)
        net.join(static_cast<std::uint32_t>(random() % net.nodes), static_cast<std::uint32_t>(random() % net.nodes));
    }
  }
  std::erase_if(net.ends, [](const auto& ends) { return ends.first == ends.second; });
  net.finish(random);
  return net;
}

std::vector<Seed> random_seeds(const Net& net, Random& random) {
  std::vector<Seed> seeds;
  const bool is_free = random() % 2;
  for (std::size_t i = 1 + random() % 4; i > 0; --i)
    seeds.push_back({static_cast<std::uint32_t>(random() % net.nodes),
                     is_free ? Cost{} : Cost::of(static_cast<std::int64_t>(random() % 3), 1, 0)});
  return seeds;
}

void expect_same(const std::optional<Path>& ours, const std::optional<Path>& plain) {
  ASSERT_EQ(ours.has_value(), plain.has_value());
  if (!ours) return;
  EXPECT_EQ(ours->cost, plain->cost);
  EXPECT_EQ(ours->nodes, plain->nodes);
  EXPECT_EQ(ours->moves, plain->moves);
}

/// A query, a sweep and a tree; sources that cost something are no matter of trees.
void compare(const Net& net, const std::vector<Cost>& costs, const HierarchyMetric& metric, HierarchyQuery& query,
             Random& random) {
  RouteQuery plain;
  for (int i = 0; i < 4; ++i) {
    const auto sources = random_seeds(net, random), targets = random_seeds(net, random);
    query.aim(metric, targets);
    expect_same(query.find(net.adjacency, costs, sources), plain.find(net.adjacency, costs, sources, targets));
    // Again from elsewhere to the same targets, over what is known by now.
    const auto others = random_seeds(net, random);
    expect_same(query.find(net.adjacency, costs, others), plain.find(net.adjacency, costs, others, targets));
    std::vector<Cost> swept;
    HierarchyQuery::sweep(metric, targets, swept);
    ShortestTree tree;
    tree.grow(net.adjacency, costs, targets);
    for (std::uint32_t v = 0; v < net.nodes; ++v) {
      ASSERT_EQ(swept[v], tree.cost(v));
      if (i == 0) ASSERT_EQ(query.cost(v), tree.cost(v));
    }
  }
}

TEST(Hierarchy, FindsWhatThePlainSearchFinds) {
  for (std::uint64_t seed = 0; seed < 250; ++seed) {
    SCOPED_TRACE("seed " + std::to_string(seed));
    Random random(seed);
    Net net = random_net(random);
    const auto order = std::make_shared<const HierarchyOrder>(net.adjacency, net.is_used);
    ASSERT_EQ(order->node_count(), net.nodes);
    HierarchyMetric metric(order, net.costs);
    HierarchyQuery query;
    compare(net, net.costs, metric, query, random);
    net.price(random);  // all costs anew on the same order
    metric.customize(net.costs);
    compare(net, net.costs, metric, query, random);
    if (HasFatalFailure() || HasNonfatalFailure()) return;
  }
}

TEST(Hierarchy, FollowsWhatIsClosedOrDearerAndTakesItBack) {
  int followed = 0, given_up = 0;
  for (std::uint64_t seed = 1000; seed < 1200; ++seed) {
    SCOPED_TRACE("seed " + std::to_string(seed));
    Random random(seed);
    const Net net = random_net(random);
    if (net.ends.empty()) continue;
    HierarchyMetric metric(std::make_shared<const HierarchyOrder>(net.adjacency, net.is_used), net.costs);
    HierarchyQuery query;
    for (int round = 0; round < 3; ++round) {
      auto costs = net.costs;
      std::vector<std::uint32_t> moves;
      for (std::size_t i = 1 + random() % 12; i > 0; --i) {
        const auto move = static_cast<std::uint32_t>(random() % net.ends.size());
        moves.push_back(move);
        if (!costs[move].is_blocked())
          costs[move] =
              random() % 3 ? Cost::blocked() : costs[move] + Cost::of(1 + static_cast<std::int64_t>(random() % 3));
      }
      const auto changes = metric.raise(costs, moves, random() % 5 ? 1'000'000 : 3);
      if (changes) {
        ++followed;
        compare(net, costs, metric, query, random);
        metric.restore(*changes);
      } else {
        ++given_up;
      }
      compare(net, net.costs, metric, query, random);
    }
    if (HasFatalFailure() || HasNonfatalFailure()) return;
  }
  EXPECT_GT(followed, 300);
  EXPECT_GT(given_up, 20);
}

TEST(Hierarchy, HoldsOnAGraphLikeHandrails) {
  const auto synthetic = support::synthetic_graph(6000, 5);
  Net net;
  net.nodes = synthetic.nodes;
  for (const auto& edge : synthetic.edges) net.join(edge.a, edge.b);
  net.adjacency = graph::build_adjacency(net.nodes, net.ends);
  for (std::size_t m = 0; m < net.ends.size(); ++m)
    net.costs.push_back(Cost::of(synthetic.edges[m].weight, 1, synthetic.length_of_edge[m]));
  HierarchyMetric metric(std::make_shared<const HierarchyOrder>(net.adjacency), net.costs);
  EXPECT_LT(metric.order().arc_count(), 3 * net.ends.size()) << "an order that joins this much is none";
  HierarchyQuery query;
  RouteQuery plain;
  Random random(6);
  std::size_t settled = 0, searched = 0;
  for (int i = 0; i < 150; ++i) {
    const auto rail = synthetic.rail_of_node[random() % net.nodes];
    auto costs = net.costs;
    std::vector<std::uint32_t> moves;
    for (std::uint32_t m = 0; m < net.ends.size(); ++m)
      if (synthetic.rail_of_node[net.ends[m].first] == rail || synthetic.rail_of_node[net.ends[m].second] == rail)
        costs[m] = Cost::blocked(), moves.push_back(m);
    const auto changes = metric.raise(costs, moves, 100'000);
    ASSERT_TRUE(changes);
    const Seed from{static_cast<std::uint32_t>(random() % net.nodes), {}},
        to{static_cast<std::uint32_t>(random() % net.nodes), {}};
    query.aim(metric, {&to, 1});
    expect_same(query.find(net.adjacency, costs, {&from, 1}), plain.find(net.adjacency, costs, {&from, 1}, {&to, 1}));
    settled += query.settled(), searched += plain.settled();
    metric.restore(*changes);
  }
  EXPECT_LT(5 * settled, searched) << "work, not time";
}

TEST(Hierarchy, OfNothingAndOfOneNode) {
  const graph::Adjacency nothing = graph::build_adjacency(0, {});
  const HierarchyMetric empty(std::make_shared<const HierarchyOrder>(nothing), {});
  std::vector<Cost> swept;
  HierarchyQuery::sweep(empty, {}, swept);
  EXPECT_TRUE(swept.empty());
  const graph::Adjacency one = graph::build_adjacency(1, {});
  const HierarchyMetric metric(std::make_shared<const HierarchyOrder>(one), {});
  HierarchyQuery query;
  const Seed here{0, {}};
  query.aim(metric, {&here, 1});
  EXPECT_EQ(query.find(one, {}, {&here, 1})->nodes, std::vector<std::uint32_t>{0});
  query.aim(metric, {});
  EXPECT_FALSE(query.find(one, {}, {&here, 1}));
}

}  // namespace
}  // namespace holdfast::search
