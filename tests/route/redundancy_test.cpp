// SPDX-License-Identifier: GPL-3.0-or-later
// Routes that share no rail, and the fewest rails that cut a place off, against brute force; and the graph as
// Boost.Graph sees one.

#include "holdfast/route/redundancy.h"

#include <gtest/gtest.h>

#include <boost/graph/biconnected_components.hpp>
#include <boost/graph/connected_components.hpp>
#include <boost/graph/dijkstra_shortest_paths.hpp>
#include <boost/graph/graph_concepts.hpp>
#include <boost/graph/kruskal_min_spanning_tree.hpp>
#include <random>
#include <set>

#include "holdfast/route/boost_graph.h"
#include "holdfast/route/choices.h"
#include "holdfast/search/shortest.h"
#include "reference_yard.h"

namespace holdfast::route {
namespace {

using model::RailId;
using support::random_yard;
using support::World;

BOOST_CONCEPT_ASSERT((boost::VertexListGraphConcept<OpenMoves>));
BOOST_CONCEPT_ASSERT((boost::EdgeListGraphConcept<OpenMoves>));
BOOST_CONCEPT_ASSERT((boost::IncidenceGraphConcept<OpenMoves>));
BOOST_CONCEPT_ASSERT((boost::AdjacencyGraphConcept<OpenMoves>));
BOOST_CONCEPT_ASSERT((boost::ReadablePropertyMapConcept<OpenMoves::WeightMap, OpenMoves::Edge>));

model::Structure yard_with_hatch(std::mt19937_64& random) {
  auto structure = random_yard(random);
  structure.places.front().kind = model::PlaceKind::Hatch;
  for (auto& place : structure.places) place.within_m = 1.4;  // several rails at each
  return structure;
}

/// The open moves by ends, and grips that a place or the hatches hold: all that brute force needs.
struct Plain {
  explicit Plain(const World& world)
      : graph(world.graph),
        table(compute_costs(graph, {.kit = world.kit, .suit = world.kit.suits.front()}, Objective::Time)) {}
  [[nodiscard]] std::vector<std::uint32_t> grips_at(const model::Place& place) const {
    std::vector<std::uint32_t> grips;
    for (const auto grip : graph.find_grips_within(place.at, place.within_m))
      if (table.grip_blocks[grip.index()] == 0) grips.push_back(grip.value);
    return grips;
  }
  [[nodiscard]] RailId rail(std::uint32_t grip) const { return graph.grip(graph::GripId(grip)).rail; }
  [[nodiscard]] bool reaches(const std::vector<std::uint32_t>& from, const std::vector<std::uint32_t>& to,
                             const std::set<RailId>& without) const {
    std::vector<bool> seen(graph.grips().size());
    std::vector<std::uint32_t> open;
    for (const auto grip : from)
      if (without.count(rail(grip)) == 0) seen[grip] = true, open.push_back(grip);
    for (std::size_t i = 0; i < open.size(); ++i)
      for (const auto& arc : graph.adjacency().out(open[i]))
        if (!table.by_move[arc.move].is_blocked() && without.count(rail(arc.head)) == 0 && !seen[arc.head])
          seen[arc.head] = true, open.push_back(arc.head);
    return std::any_of(to.begin(), to.end(), [&](std::uint32_t grip) { return seen[grip]; });
  }
  /// True where some `most` rails or fewer cut `to` off.
  bool is_cut_by(const std::vector<std::uint32_t>& from, const std::vector<std::uint32_t>& to, std::size_t most,
                 std::set<RailId>& closed, std::size_t next = 0) const {
    if (!reaches(from, to, closed)) return true;
    if (most == 0) return false;
    for (std::size_t r = next; r < graph.structure().rails.size(); ++r) {
      closed.insert(RailId(r));
      const bool cuts = is_cut_by(from, to, most - 1, closed, r + 1);
      closed.erase(RailId(r));
      if (cuts) return true;
    }
    return false;
  }
  const graph::HandrailGraph& graph;
  const CostTable table;
};

TEST(Redundancy, SmallestCutsCutAndNoFewerRailsDo) {
  int places = 0, pairs = 0, triples = 0;
  for (int seed = 0; seed < 40; ++seed) {
    SCOPED_TRACE("seed " + std::to_string(seed));
    std::mt19937_64 random(static_cast<std::uint64_t>(seed));
    const World world(yard_with_hatch(random));
    const Plain plain(world);
    const auto from = plain.grips_at(world.structure.places.front());
    for (const auto& row : find_redundancy(world.graph, {.kit = world.kit, .suit = world.kit.suits.front()})) {
      ++places;
      const auto to = plain.grips_at(world.structure.places[row.place.index()]);
      ASSERT_TRUE(plain.reaches(from, to, {}));
      const std::set<RailId> cut(row.smallest_cut.begin(), row.smallest_cut.end());
      EXPECT_EQ(cut.size(), row.smallest_cut.size());
      EXPECT_FALSE(plain.reaches(from, to, cut));
      EXPECT_GE(row.disjoint_at_least, 1u);
      EXPECT_LE(row.disjoint_at_least, row.disjoint_at_most);
      EXPECT_LE(row.disjoint_at_most, cut.size()) << "each route needs a rail of the cut";
      if (!row.is_smallest || cut.size() > 3) continue;
      pairs += cut.size() == 2, triples += cut.size() == 3;
      std::set<RailId> closed;
      EXPECT_FALSE(plain.is_cut_by(from, to, cut.size() - 1, closed)) << "fewer rails than " << cut.size();
    }
  }
  EXPECT_GT(places, 30);
  EXPECT_GT(pairs + triples, 5);
}

TEST(Redundancy, SingleRailsAreTheWeakPoints) {
  int weak_rails = 0;
  for (int seed = 40; seed < 80; ++seed) {
    SCOPED_TRACE("seed " + std::to_string(seed));
    std::mt19937_64 random(static_cast<std::uint64_t>(seed));
    const World world(yard_with_hatch(random));
    const auto weak = find_weak_points(world.graph, {.kit = world.kit, .suit = world.kit.suits.front()});
    for (const auto& row : weak.redundancy) {
      const bool is_weak = std::any_of(weak.rails.begin(), weak.rails.end(), [&](const WeakRail& rail) {
        return std::count(rail.cut_off.begin(), rail.cut_off.end(), row.place) > 0;
      });
      EXPECT_EQ(row.smallest_cut.size() == 1, is_weak);
      weak_rails += is_weak ? 1 : 0;
    }
  }
  EXPECT_GT(weak_rails, 5);
}

TEST(Redundancy, DisjointRoutesOnALadderAreItsStiles) {
  // Three parallel lines of rails between a hatch and a place, joined by nothing in between: 1.2 m apart, and the hatch
  // and the place each within reach of all three ends.
  for (std::size_t lines = 1; lines <= 3; ++lines) {
    support::YardBuilder yard;
    const auto pebble = yard.nowhere();
    for (std::size_t i = 0; i < lines; ++i)
      for (int piece = 0; piece < 3; ++piece) {
        const double y = 1.2 * static_cast<double>(i), x = 2.0 * piece;
        yard.rail("line-" + std::to_string(i) + "-" + std::to_string(piece), pebble, {{x, y, 0}, {x + 1.7, y, 0}},
                  {-model::Vec3::UnitZ()});
      }
    yard.place("home", {0, 1.2, 0}, 1.3, model::PlaceKind::Hatch);
    yard.place("far", {5.7, 1.2, 0}, 1.3);
    const World world(yard.structure);
    const auto rows = find_redundancy(world.graph, {.kit = world.kit, .suit = world.kit.suits.front()});
    ASSERT_EQ(rows.size(), 1u);
    EXPECT_EQ(rows[0].disjoint_at_least, lines);
    EXPECT_EQ(rows[0].disjoint_at_most, lines);
    EXPECT_EQ(rows[0].smallest_cut.size(), lines);
  }
}

TEST(OpenMovesAsBoostGraph, RunsItsAlgorithms) {
  for (int seed = 0; seed < 12; ++seed) {
    SCOPED_TRACE("seed " + std::to_string(seed));
    std::mt19937_64 random(static_cast<std::uint64_t>(seed));
    const World world(random_yard(random));
    const auto table = compute_costs(world.graph, {.kit = world.kit, .suit = world.kit.suits.front()}, Objective::Time);
    const OpenMoves open(world.graph, table);
    const std::size_t n = num_vertices(open);
    const auto index = get(boost::vertex_index, open);

    std::size_t degrees = 0, listed = 0;
    for (std::uint32_t g = 0; g < n; ++g) degrees += out_degree(g, open);
    for (auto [edge, last] = edges(open); edge != last; ++edge) ++listed;
    EXPECT_EQ(listed, num_edges(open));
    EXPECT_EQ(degrees, 2 * num_edges(open));

    std::vector<std::int64_t> distance(n);
    std::vector<std::uint32_t> parent(n);
    boost::dijkstra_shortest_paths(open, 0u,
                                   boost::weight_map(get(boost::edge_weight, open))
                                       .distance_map(boost::make_iterator_property_map(distance.begin(), index))
                                       .predecessor_map(boost::make_iterator_property_map(parent.begin(), index)));
    search::ShortestTree tree;
    const std::vector<search::Seed> start = {{0, {}}};
    tree.grow(world.graph.adjacency(), table.by_move, start);
    std::vector<int> component(n);
    boost::connected_components(open, boost::make_iterator_property_map(component.begin(), index));
    for (std::uint32_t g = 0; g < n; ++g) {
      EXPECT_EQ(tree.cost(g).is_blocked(), component[g] != component[0]);
      if (!tree.cost(g).is_blocked()) EXPECT_EQ(distance[g], tree.cost(g).primary());
    }

    // A spanning forest has one edge fewer than grips for each component.
    std::vector<OpenMoves::Edge> forest;
    boost::kruskal_minimum_spanning_tree(open, std::back_inserter(forest),
                                         boost::weight_map(get(boost::edge_weight, open)));
    const std::set<int> components(component.begin(), component.end());
    EXPECT_EQ(forest.size() + components.size(), n);
  }
}

}  // namespace
}  // namespace holdfast::route
