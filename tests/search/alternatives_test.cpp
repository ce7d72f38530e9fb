// Ways that differ: every property that is promised, recomputed from outside.

#include "holdfast/search/alternatives.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <random>
#include <set>

#include "reference_dijkstra.h"
#include "synthetic_graph.h"
#include "yen.h"

namespace holdfast {
namespace {

using search::Cost;
using search::find_alternatives;
using search::Seed;

TEST(Yen, FindsTheWaysOfTheUsualPrintedExample) {
  // Directed C-D 3, C-E 2, D-F 4, E-D 1, E-F 2, E-G 3, F-G 2, F-H 1, G-H 2: the printed example of Yen's method.
  enum : std::uint32_t { C, D, E, F, G, H };
  const support::Yen yen(
      6, {{C, D, 3}, {C, E, 2}, {D, F, 4}, {E, D, 1}, {E, F, 2}, {E, G, 3}, {F, G, 2}, {F, H, 1}, {G, H, 2}});
  const auto ways = yen.find(C, H, 10);
  std::vector<std::int64_t> costs;
  for (const auto& way : ways) costs.push_back(way.cost);
  EXPECT_THAT(costs, testing::ElementsAre(5, 7, 8, 8, 8, 11, 11));
  EXPECT_THAT(ways[0].nodes, testing::ElementsAre(C, E, F, H));
  EXPECT_THAT(ways[1].nodes, testing::ElementsAre(C, E, G, H));
}

struct Field {
  explicit Field(const support::SyntheticGraph& made) : nodes(made.nodes), edges(made.edges) {
    std::vector<std::pair<std::uint32_t, std::uint32_t>> ends;
    for (const auto& e : edges) {
      ends.emplace_back(e.a, e.b);
      costs.push_back(Cost::of(e.weight, 1));
      lengths.push_back(e.weight);
    }
    adjacency = graph::build_adjacency(nodes, ends);
    // Runs of consecutive grips stand for rails.
    for (std::uint32_t n = 0; n < nodes; ++n) groups.push_back(n / 9);
  }
  std::size_t nodes;
  std::vector<support::WeightedEdge> edges;
  graph::Adjacency adjacency;
  std::vector<Cost> costs;
  std::vector<std::int64_t> lengths;
  std::vector<std::uint32_t> groups;

  std::vector<search::Alternative> ask(std::uint32_t from, std::uint32_t to, std::size_t most = 4) const {
    const Seed a{from, {}}, b{to, {}};
    return find_alternatives(
        adjacency, costs,
        {.sources = {&a, 1}, .targets = {&b, 1}, .most = most, .group_of_node = groups, .length_of_move = lengths});
  }
};

TEST(Alternatives, KeepEveryPropertyOnRandomFields) {
  std::mt19937_64 random(3);
  std::size_t others = 0;
  for (int round = 0; round < 12; ++round) {
    const Field field(support::synthetic_graph(1500, static_cast<std::uint64_t>(round) + 50));
    support::BoostDijkstra reference(field.nodes, field.edges);
    for (int query = 0; query < 3; ++query) {
      const auto pick = [&] {
        return std::uniform_int_distribution<std::uint32_t>(0, static_cast<std::uint32_t>(field.nodes) - 1)(random);
      };
      const std::uint32_t from = pick(), to = pick();
      const auto ways = field.ask(from, to);
      const Seed a{from, {}}, b{to, {}};
      const auto best = search::RouteQuery().find(field.adjacency, field.costs, {&a, 1}, {&b, 1});
      if (!best) {
        EXPECT_TRUE(ways.empty());
        continue;
      }
      ASSERT_FALSE(ways.empty());
      EXPECT_EQ(ways[0].way.nodes, best->nodes);
      const auto again = field.ask(from, to);
      ASSERT_EQ(again.size(), ways.size());
      std::set<std::uint32_t> held(best->nodes.begin(), best->nodes.end());
      std::set<std::uint32_t> groups_held;
      std::set<std::pair<std::uint32_t, std::uint32_t>> pairs;
      const auto add = [&](const search::Way& way) {
        for (const auto n : way.nodes) groups_held.insert(field.groups[n]);
        for (std::size_t i = 1; i < way.nodes.size(); ++i)
          pairs.insert(std::minmax(field.groups[way.nodes[i - 1]], field.groups[way.nodes[i]]));
      };
      add(ways[0].way);
      std::int64_t best_length = 0;
      for (const auto m : best->moves) best_length += field.lengths[m];
      for (std::size_t w = 1; w < ways.size(); ++w) {
        ++others;
        const auto& way = ways[w].way;
        EXPECT_EQ(way.nodes, again[w].way.nodes) << "the same every time";
        EXPECT_EQ(std::set<std::uint32_t>(way.nodes.begin(), way.nodes.end()).size(), way.nodes.size()) << "simple";
        EXPECT_EQ(way.nodes.front(), from);
        EXPECT_EQ(way.nodes.back(), to);
        std::vector<std::int64_t> so_far = {0};
        std::int64_t shared = 0;
        for (std::size_t i = 0; i < way.moves.size(); ++i) {
          const auto& edge = field.edges[way.moves[i]];
          EXPECT_TRUE((edge.a == way.nodes[i] && edge.b == way.nodes[i + 1]) ||
                      (edge.b == way.nodes[i] && edge.a == way.nodes[i + 1]));
          so_far.push_back(so_far.back() + edge.weight);
          const auto x = field.groups[way.nodes[i]], y = field.groups[way.nodes[i + 1]];
          if (x == y ? groups_held.count(x) > 0 : pairs.count(std::minmax(x, y)) > 0) shared += edge.weight;
        }
        EXPECT_LE(static_cast<double>(so_far.back()), 1.3 * static_cast<double>(best->cost.primary()) + 1) << "stretch";
        EXPECT_LE(static_cast<double>(shared), 0.7 * static_cast<double>(best_length) + 1) << "sharing";
        // Local optimality of every stretch up to a quarter of the best.
        const auto window = static_cast<std::int64_t>(0.25 * static_cast<double>(best->cost.primary()));
        for (std::size_t i = 0; i < way.nodes.size(); i += 3) {
          const auto& distance = reference.all(way.nodes[i]);
          for (std::size_t j = i + 1; j < way.nodes.size() && so_far[j] - so_far[i] <= window; ++j)
            ASSERT_EQ(distance[way.nodes[j]], so_far[j] - so_far[i]) << "a detour on a short stretch";
        }
        add(way);
      }
    }
  }
  EXPECT_GT(others, 15u) << "the fields do have ways that differ";
}

TEST(Alternatives, RefuseWhatIsTooLongOrADetour) {
  // From 0 to 1: the best straight (10 + 10 by way of 2), another of 24 (3), one of 21 that leaves the
  // best half way (6, 7), one of 30 (4: too long), and one that takes 4 by way of 5 from 6 to 7, where 1 would do.
  const std::vector<std::tuple<std::uint32_t, std::uint32_t, std::int64_t>> list = {
      {0, 2, 10}, {2, 1, 10}, {0, 3, 12}, {3, 1, 12}, {0, 4, 15}, {4, 1, 15},
      {2, 6, 1},  {6, 7, 1},  {7, 1, 9},  {6, 5, 2},  {5, 7, 2}};
  std::vector<std::pair<std::uint32_t, std::uint32_t>> ends;
  std::vector<Cost> costs;
  std::vector<std::int64_t> lengths;
  for (const auto& [a, b, c] : list) ends.emplace_back(a, b), costs.push_back(Cost::of(c, 1)), lengths.push_back(c);
  const auto adjacency = graph::build_adjacency(8, ends);
  const std::vector<std::uint32_t> groups = {0, 1, 2, 3, 4, 5, 6, 7};
  const Seed from{0, {}}, to{1, {}};
  const auto ways = find_alternatives(
      adjacency, costs,
      {.sources = {&from, 1}, .targets = {&to, 1}, .most = 5, .group_of_node = groups, .length_of_move = lengths});
  ASSERT_EQ(ways.size(), 3u);
  std::set<std::vector<std::uint32_t>> found;
  for (const auto& way : ways) found.insert(way.way.nodes);
  EXPECT_THAT(found, testing::UnorderedElementsAre(testing::ElementsAre(0, 2, 1), testing::ElementsAre(0, 3, 1),
                                                   testing::ElementsAre(0, 2, 6, 7, 1)));
  for (const auto& way : ways) {
    EXPECT_LE(way.stretch, 1.3);
    EXPECT_LE(way.shared_fraction, 0.5) << "what goes by way of 2 shares half";
  }
  const auto none = find_alternatives(adjacency, costs,
                                      {.sources = {&from, 1},
                                       .targets = {&to, 1},
                                       .most = 5,
                                       .group_of_node = groups,
                                       .length_of_move = lengths,
                                       .accept = [](const search::Way&) { return false; }});
  EXPECT_EQ(none.size(), 1u) << "the best alone when nothing else is accepted";
}

TEST(Alternatives, DifferWhereTheCheapestWaysAreRegrippingsOfOne) {
  // Two rails of 13 grips side by side, joined at both ends: re-gripping is free of charge along each.
  std::vector<support::YenArc> arcs;
  std::vector<std::pair<std::uint32_t, std::uint32_t>> ends;
  std::vector<Cost> costs;
  std::vector<std::int64_t> lengths;
  const auto join = [&](std::uint32_t a, std::uint32_t b, std::int64_t c) {
    arcs.push_back({a, b, c}), arcs.push_back({b, a, c});
    ends.emplace_back(a, b), costs.push_back(Cost::of(c, 1)), lengths.push_back(c);
  };
  std::vector<std::uint32_t> groups;
  for (std::uint32_t rail = 0; rail < 2; ++rail)
    for (std::uint32_t g = 0; g < 13; ++g) {
      groups.push_back(rail);
      for (std::uint32_t step = 1; step <= 4 && g + step < 13; ++step)
        join(rail * 13 + g, rail * 13 + g + step, 10 * step);
    }
  groups.push_back(2), groups.push_back(3);
  join(26, 0, 20), join(26, 13, 22), join(12, 27, 20), join(25, 27, 22);
  const auto five = support::Yen(28, arcs).find(26, 27, 5);
  ASSERT_EQ(five.size(), 5u);
  for (const auto& way : five) {
    EXPECT_EQ(way.cost, five.front().cost);
    for (const auto node : way.nodes) EXPECT_NE(groups[node], 1u) << "all five hold the one rail";
  }
  const Seed from{26, {}}, to{27, {}};
  const auto ways = find_alternatives(
      graph::build_adjacency(28, ends), costs,
      {.sources = {&from, 1}, .targets = {&to, 1}, .most = 5, .group_of_node = groups, .length_of_move = lengths});
  ASSERT_EQ(ways.size(), 2u);
  EXPECT_EQ(groups[ways[0].way.nodes[1]], 0u);
  EXPECT_EQ(groups[ways[1].way.nodes[1]], 1u);
}

}  // namespace
}  // namespace holdfast
