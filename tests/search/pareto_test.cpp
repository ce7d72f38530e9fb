// SPDX-License-Identifier: GPL-3.0-or-later
// All ways that are best in some mix of criteria: against enumeration, against Boost.Graph's label setting, and on the
// family whose set doubles with every stage.

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <boost/graph/adjacency_list.hpp>
#include <boost/graph/r_c_shortest_paths.hpp>
#include <functional>
#include <random>
#include <set>

#include "holdfast/search/labels.h"

namespace holdfast {
namespace {

using search::Cost;
using search::find_pareto_paths;
using search::ParetoRequest;
using search::Resource;
using search::Seed;

struct Edge {
  std::uint32_t a, b;
  std::int64_t cost, resource;
  std::int32_t width = 0;
};

struct Problem {
  std::uint32_t nodes = 0;
  std::vector<Edge> edges;
  graph::Adjacency adjacency;
  std::vector<Cost> costs;
  ParetoRequest request;
  std::vector<std::int32_t> widths;

  Problem(std::uint32_t node_count, std::vector<Edge> list, std::uint32_t from, std::uint32_t to,
          bool with_widths = false)
      : nodes(node_count), edges(std::move(list)) {
    std::vector<std::pair<std::uint32_t, std::uint32_t>> ends;
    Resource resource;
    for (const auto& e : edges) {
      ends.emplace_back(e.a, e.b);
      costs.push_back(Cost::of(e.cost, 1));
      resource.by_move.push_back(e.resource);
      widths.push_back(e.width);
    }
    resource.limit = std::numeric_limits<std::int64_t>::max();
    adjacency = graph::build_adjacency(nodes, ends);
    request.stops = {{Seed{from, {}}}, {Seed{to, {}}}};
    request.criteria = {resource};
    if (with_widths) request.width_by_move = widths;
  }
  Problem(const Problem&) = delete;
  Problem& operator=(const Problem&) = delete;
};

using Point = std::tuple<std::int64_t, std::int64_t, std::int32_t>;

std::set<Point> points_of(const search::ParetoSet& set, bool with_widths) {
  std::set<Point> points;
  for (const auto& way : set.ways) points.insert({way.way.cost.primary(), way.used[0], with_widths ? way.width : 0});
  return points;
}

std::set<Point> enumerate(const Problem& p, std::uint32_t from, std::uint32_t to, bool with_widths) {
  std::vector<Point> all;
  std::vector<bool> seen(p.nodes);
  const std::function<void(std::uint32_t, std::int64_t, std::int64_t, std::int32_t)> go =
      [&](std::uint32_t at, std::int64_t cost, std::int64_t resource, std::int32_t width) {
        if (at == to) {
          all.emplace_back(cost, resource, with_widths ? width : 0);
          return;
        }
        seen[at] = true;
        for (const auto& e : p.edges) {
          if (e.a != at && e.b != at) continue;
          const auto next = e.a == at ? e.b : e.a;
          if (!seen[next]) go(next, cost + e.cost, resource + e.resource, std::min(width, e.width));
        }
        seen[at] = false;
      };
  go(from, 0, 0, std::numeric_limits<std::int32_t>::max());
  std::set<Point> best;
  for (const auto& [c, r, w] : all)
    if (std::none_of(all.begin(), all.end(), [&](const Point& o) {
          return std::get<0>(o) <= c && std::get<1>(o) <= r && std::get<2>(o) >= w && o != Point(c, r, w);
        }))
      best.insert({c, r, w});
  return best;
}

std::vector<Edge> random_edges(std::mt19937_64& random, std::uint32_t nodes, int count) {
  const auto pick = [&](int low, int high) { return std::uniform_int_distribution<int>(low, high)(random); };
  std::vector<Edge> edges;
  for (int e = 0; e < count; ++e) {
    const auto a = static_cast<std::uint32_t>(pick(0, static_cast<int>(nodes) - 1));
    const auto b = static_cast<std::uint32_t>(pick(0, static_cast<int>(nodes) - 1));
    if (a != b) edges.push_back({a, b, pick(1, 12), pick(0, 12), pick(1, 6)});
  }
  return edges;
}

TEST(Pareto, IsWhatEnumerationFinds) {
  std::mt19937_64 random(11);
  std::size_t largest = 0;
  for (int round = 0; round < 300; ++round) {
    const bool with_widths = round % 2 == 1;
    const Problem problem(9, random_edges(random, 9, 18), 0, 8, with_widths);
    const auto set = find_pareto_paths(problem.adjacency, problem.costs, problem.request);
    EXPECT_FALSE(set.is_cut_short);
    const auto points = points_of(set, with_widths);
    ASSERT_EQ(points, enumerate(problem, 0, 8, with_widths)) << "round " << round;
    EXPECT_EQ(points.size(), set.ways.size()) << "one way for each";
    largest = std::max(largest, points.size());
    for (const auto& way : set.ways) {  // the way is the one that the numbers are of
      std::int64_t cost = 0, resource = 0;
      for (const auto m : way.way.moves) cost += problem.edges[m].cost, resource += problem.edges[m].resource;
      EXPECT_EQ(cost, way.way.cost.primary());
      EXPECT_EQ(resource, way.used[0]);
    }
  }
  EXPECT_GT(largest, 4u);
}

// ---- Boost.Graph r_c_shortest_paths, all solutions (its overload for one can return a dearer way) -------------------

struct ArcProperty {
  int number;
  std::int64_t cost, resource;
};
struct NodeProperty {
  int number;
};
using BoostGraph = boost::adjacency_list<boost::vecS, boost::vecS, boost::directedS, NodeProperty, ArcProperty>;
struct Container {
  std::int64_t cost = 0, resource = 0;
  bool operator==(const Container& o) const { return cost == o.cost && resource == o.resource; }
  bool operator<(const Container& o) const { return std::tie(cost, resource) < std::tie(o.cost, o.resource); }
};

std::set<Point> boost_pareto(const Problem& p, std::uint32_t from, std::uint32_t to) {
  BoostGraph graph;
  for (std::uint32_t n = 0; n < p.nodes; ++n) boost::add_vertex(NodeProperty{static_cast<int>(n)}, graph);
  int number = 0;
  for (const auto& e : p.edges) {
    boost::add_edge(e.a, e.b, ArcProperty{number++, e.cost, e.resource}, graph);
    boost::add_edge(e.b, e.a, ArcProperty{number++, e.cost, e.resource}, graph);
  }
  std::vector<std::vector<BoostGraph::edge_descriptor>> ways;
  std::vector<Container> ends;
  boost::r_c_shortest_paths(
      graph, boost::get(&NodeProperty::number, graph), boost::get(&ArcProperty::number, graph), from, to, ways, ends,
      Container{},
      [](const BoostGraph& g, Container& next, const Container& last, BoostGraph::edge_descriptor arc) {
        next = {last.cost + g[arc].cost, last.resource + g[arc].resource};
        return true;
      },
      [](const Container& a, const Container& b) { return a.cost <= b.cost && a.resource <= b.resource; },
      std::allocator<boost::r_c_shortest_paths_label<BoostGraph, Container>>(),
      boost::default_r_c_shortest_paths_visitor());
  std::set<Point> points;
  for (const auto& end : ends) points.insert({end.cost, end.resource, 0});
  return points;
}

TEST(Pareto, IsWhatBoostFinds) {
  std::mt19937_64 random(12);
  for (int round = 0; round < 60; ++round) {
    const Problem problem(40, random_edges(random, 40, 110), 0, 39);
    const auto set = find_pareto_paths(problem.adjacency, problem.costs, problem.request);
    ASSERT_EQ(points_of(set, false), boost_pareto(problem, 0, 39)) << "round " << round;
  }
}

/// A chain of stages, each with two ways of (2^i, 0) and (0, 2^i): after Hansen, Bicriterion path problems (1980).
/// Costs are one more than that: a move may not be free.
Problem exponential(int stages) {
  std::vector<Edge> edges;
  for (int i = 0; i < stages; ++i) {
    const auto a = static_cast<std::uint32_t>(3 * i), upper = a + 1, lower = a + 2, b = a + 3;
    const std::int64_t power = std::int64_t{1} << i;
    edges.push_back({a, upper, power + 1, 0}), edges.push_back({upper, b, 1, 0});
    edges.push_back({a, lower, 1, power}), edges.push_back({lower, b, 1, 0});
  }
  return {static_cast<std::uint32_t>(3 * stages + 1), std::move(edges), 0, static_cast<std::uint32_t>(3 * stages)};
}

TEST(Pareto, TheExponentialFamilyHasTwoToTheStages) {
  for (const int stages : {1, 4, 10}) {
    const auto problem = exponential(stages);
    const auto set = find_pareto_paths(problem.adjacency, problem.costs, problem.request);
    EXPECT_FALSE(set.is_cut_short);
    ASSERT_EQ(set.ways.size(), std::size_t{1} << stages);
    const std::int64_t last = (std::int64_t{1} << stages) - 1;
    std::int64_t expected = 0;
    for (const auto& way : set.ways) {  // by cost: 0, 1, ..., 2^k - 1; the two always sum to 2^k - 1
      EXPECT_EQ(way.way.cost.primary() - 2 * stages, expected);
      EXPECT_EQ(way.used[0], last - expected);
      ++expected;
    }
  }
}

TEST(Pareto, SaysWhenTheLabelLimitCutItShort) {
  auto problem = exponential(10);
  problem.request.most_labels = 300;
  const auto set = find_pareto_paths(problem.adjacency, problem.costs, problem.request);
  EXPECT_TRUE(set.is_cut_short);
  EXPECT_LT(set.ways.size(), 1024u);
  EXPECT_LE(set.labels, 300u + 4u);
}

TEST(Pareto, KeepsALimitOnACriterion) {
  auto problem = exponential(6);
  problem.request.criteria[0].limit = 20;
  const auto set = find_pareto_paths(problem.adjacency, problem.costs, problem.request);
  EXPECT_EQ(set.ways.size(), 21u);
  for (const auto& way : set.ways) EXPECT_LE(way.used[0], 20);
}

}  // namespace
}  // namespace holdfast
