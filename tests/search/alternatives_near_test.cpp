// SPDX-License-Identifier: GPL-3.0-or-later
// Alternatives between near ends are looked for on part of a graph, and are those on the whole.

#include <gtest/gtest.h>

#include <random>

#include "holdfast/search/alternatives.h"
#include "synthetic_graph.h"

namespace holdfast::search {
namespace {

/// The same graph with so many nodes beside it that no move leads to: what is near in that need not be in the graph
/// alone, where the search covers most of it.
TEST(Alternatives, BetweenNearEndsAreThoseOfTheWholeGraph) {
  std::mt19937_64 random(7);
  int several = 0, refused = 0;
  for (int graph = 0; graph < 4; ++graph) {
    const auto synthetic = support::synthetic_graph(1200, static_cast<std::uint64_t>(graph));
    std::vector<std::pair<std::uint32_t, std::uint32_t>> ends;
    std::vector<Cost> costs;
    for (std::size_t m = 0; m < synthetic.edges.size(); ++m) {
      const auto& edge = synthetic.edges[m];
      ends.emplace_back(edge.a, edge.b);
      costs.push_back(random() % 20 == 0 ? Cost::blocked() : Cost::of(edge.weight, 1, synthetic.length_of_edge[m]));
    }
    const std::size_t many = synthetic.nodes * 9;
    const auto alone = graph::build_adjacency(synthetic.nodes, ends), beside = graph::build_adjacency(many, ends);
    auto groups = synthetic.rail_of_node;
    auto more_groups = groups;
    more_groups.resize(many, 0);
    for (int i = 0; i < 40; ++i) {
      std::vector<Seed> from, to;
      const auto near = static_cast<std::uint32_t>(random() % synthetic.nodes);
      for (std::uint32_t k = 0; k < 3; ++k) {
        from.push_back({(near + k) % static_cast<std::uint32_t>(synthetic.nodes), {}});
        to.push_back({static_cast<std::uint32_t>(random() % synthetic.nodes), Cost::of(k)});
      }
      AlternativesRequest request{
          .sources = from, .targets = to, .most = 5, .length_of_move = synthetic.length_of_edge};
      request.stretch = i % 3 == 0 ? 1.0 : 1.5;
      std::vector<std::vector<std::uint32_t>> asked, asked_beside;
      const auto refuses_some = [&](std::vector<std::vector<std::uint32_t>>& asked_here) {
        return [&](const Path& path) {
          asked_here.push_back(path.nodes);
          return path.nodes.size() % 3 != 0;
        };
      };
      request.group_of_node = groups;
      if (i % 4 == 0) request.accept = refuses_some(asked);
      const auto expected = find_alternatives(alone, costs, request);
      request.group_of_node = more_groups;
      if (i % 4 == 0) request.accept = refuses_some(asked_beside);
      const auto found = find_alternatives(beside, costs, request);
      EXPECT_EQ(asked_beside, asked);
      refused += asked.size() > found.size() ? 1 : 0;
      ASSERT_EQ(found.size(), expected.size());
      several += found.size() > 2 ? 1 : 0;
      for (std::size_t k = 0; k < found.size(); ++k) {
        EXPECT_EQ(found[k].way.nodes, expected[k].way.nodes);
        EXPECT_EQ(found[k].way.moves, expected[k].way.moves);
        EXPECT_EQ(found[k].way.cost, expected[k].way.cost);
        EXPECT_EQ(found[k].stretch, expected[k].stretch);
        EXPECT_EQ(found[k].shared_fraction, expected[k].shared_fraction);
        EXPECT_EQ(found[k].via, expected[k].via);
      }
    }
  }
  EXPECT_GT(several, 20);
  EXPECT_GT(refused, 3);
}

}  // namespace
}  // namespace holdfast::search
