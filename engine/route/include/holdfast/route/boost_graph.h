// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// The handrail graph under a profile as Boost.Graph sees one: grips are vertices, open moves are undirected edges. Any
// of that library's algorithms that reads a graph through its concepts runs on it.
//
//   const auto table = route::compute_costs(graph, profile, route::Objective::Time);
//   const route::OpenMoves open(graph, table);
//   std::vector<int> component(num_vertices(open));
//   boost::connected_components(open, boost::make_iterator_property_map(component.begin(), get(boost::vertex_index,
//   open)));
//
// Models VertexListGraph, EdgeListGraph, IncidenceGraph and AdjacencyGraph (checked at compile time in the tests), and
// readable property maps: vertex_index, edge_index (of the move), edge_weight (units of `Cost::primary`).

#include <boost/graph/graph_traits.hpp>
#include <boost/graph/properties.hpp>
#include <boost/iterator/counting_iterator.hpp>
#include <boost/iterator/filter_iterator.hpp>
#include <boost/iterator/transform_iterator.hpp>
#include <boost/property_map/property_map.hpp>
#include <cstdint>
#include <functional>
#include <utility>

#include "holdfast/graph/handrail_graph.h"
#include "holdfast/route/costs.h"

namespace holdfast::route {

/// Keeps references to the graph and the table, which must outlive it. Cheap to make: one count of the open moves.
class OpenMoves {
 public:
  // What Boost.Graph asks for where an algorithm looks for its property maps itself.
  using vertex_property_type = boost::no_property;
  using edge_property_type = boost::no_property;
  using graph_property_type = boost::no_property;
  /// Seen from `source`; the same edge from either end.
  struct Edge {
    std::uint32_t source = 0, target = 0, move = 0;
    friend bool operator==(const Edge& x, const Edge& y) { return x.move == y.move; }
    friend bool operator!=(const Edge& x, const Edge& y) { return x.move != y.move; }
    friend bool operator<(const Edge& x, const Edge& y) { return x.move < y.move; }
  };
  struct IsOpen {
    const CostTable* table = nullptr;
    bool operator()(std::uint32_t move) const { return !table->by_move[move].is_blocked(); }
    bool operator()(const graph::Arc& arc) const { return !table->by_move[arc.move].is_blocked(); }
  };
  struct EdgeOfMove {
    const graph::HandrailGraph* graph = nullptr;
    Edge operator()(std::uint32_t move) const {
      const auto& ends = graph->moves()[move];
      return {ends.a.value, ends.b.value, move};
    }
  };
  struct EdgeOfArc {
    std::uint32_t source = 0;
    Edge operator()(const graph::Arc& arc) const { return {source, arc.head, arc.move}; }
  };
  struct HeadOfArc {
    std::uint32_t operator()(const graph::Arc& arc) const { return arc.head; }
  };
  using OpenArc = boost::filter_iterator<IsOpen, const graph::Arc*>;
  using VertexIterator = boost::counting_iterator<std::uint32_t>;
  using EdgeIterator =
      boost::transform_iterator<EdgeOfMove, boost::filter_iterator<IsOpen, boost::counting_iterator<std::uint32_t>>>;
  using OutEdgeIterator = boost::transform_iterator<EdgeOfArc, OpenArc>;
  using AdjacencyIterator = boost::transform_iterator<HeadOfArc, OpenArc>;

  OpenMoves(const graph::HandrailGraph& graph, const CostTable& table) : graph_(&graph), is_open_{&table} {
    for (std::uint32_t m = 0; m < graph.moves().size(); ++m) edges_ += is_open_(m) ? 1 : 0;
  }

  friend std::size_t num_vertices(const OpenMoves& g) { return g.graph_->grips().size(); }
  friend std::size_t num_edges(const OpenMoves& g) { return g.edges_; }
  friend std::pair<VertexIterator, VertexIterator> vertices(const OpenMoves& g) {
    return {VertexIterator(0), VertexIterator(static_cast<std::uint32_t>(num_vertices(g)))};
  }
  friend std::pair<EdgeIterator, EdgeIterator> edges(const OpenMoves& g) {
    const boost::counting_iterator<std::uint32_t> first(0), last(static_cast<std::uint32_t>(g.graph_->moves().size()));
    const auto at = [&](auto from) {
      return EdgeIterator(boost::make_filter_iterator(g.is_open_, from, last), EdgeOfMove{g.graph_});
    };
    return {at(first), at(last)};
  }
  friend std::pair<OutEdgeIterator, OutEdgeIterator> out_edges(std::uint32_t grip, const OpenMoves& g) {
    const auto [first, last] = g.open_arcs(grip);
    return {OutEdgeIterator(first, EdgeOfArc{grip}), OutEdgeIterator(last, EdgeOfArc{grip})};
  }
  friend std::size_t out_degree(std::uint32_t grip, const OpenMoves& g) {
    const auto [first, last] = g.open_arcs(grip);
    return static_cast<std::size_t>(std::distance(first, last));
  }
  friend std::pair<AdjacencyIterator, AdjacencyIterator> adjacent_vertices(std::uint32_t grip, const OpenMoves& g) {
    const auto [first, last] = g.open_arcs(grip);
    return {AdjacencyIterator(first, HeadOfArc{}), AdjacencyIterator(last, HeadOfArc{})};
  }
  friend std::uint32_t source(const Edge& edge, const OpenMoves&) { return edge.source; }
  friend std::uint32_t target(const Edge& edge, const OpenMoves&) { return edge.target; }

  struct WeightMap {
    using value_type = std::int64_t;
    using reference = std::int64_t;
    using key_type = Edge;
    using category = boost::readable_property_map_tag;
    const CostTable* table = nullptr;
    friend std::int64_t get(const WeightMap& map, const Edge& edge) { return map.table->by_move[edge.move].primary(); }
    std::int64_t operator[](const Edge& edge) const { return get(*this, edge); }
  };
  struct MoveMap {
    using value_type = std::uint32_t;
    using reference = std::uint32_t;
    using key_type = Edge;
    using category = boost::readable_property_map_tag;
    friend std::uint32_t get(const MoveMap&, const Edge& edge) { return edge.move; }
    std::uint32_t operator[](const Edge& edge) const { return edge.move; }
  };
  using IndexMap = boost::typed_identity_property_map<std::uint32_t>;
  friend IndexMap get(boost::vertex_index_t, const OpenMoves&) { return {}; }
  friend MoveMap get(boost::edge_index_t, const OpenMoves&) { return {}; }
  friend WeightMap get(boost::edge_weight_t, const OpenMoves& g) { return {g.is_open_.table}; }
  friend std::uint32_t get(boost::vertex_index_t, const OpenMoves&, std::uint32_t grip) { return grip; }
  friend std::uint32_t get(boost::edge_index_t, const OpenMoves&, const Edge& edge) { return edge.move; }
  friend std::int64_t get(boost::edge_weight_t, const OpenMoves& g, const Edge& edge) {
    return get(WeightMap{g.is_open_.table}, edge);
  }

 private:
  [[nodiscard]] std::pair<OpenArc, OpenArc> open_arcs(std::uint32_t grip) const {
    const auto arcs = graph_->adjacency().out(grip);
    const graph::Arc *const first = arcs.data(), *const last = arcs.data() + arcs.size();
    return {OpenArc(is_open_, first, last), OpenArc(is_open_, last, last)};
  }
  const graph::HandrailGraph* graph_;
  IsOpen is_open_;
  std::size_t edges_ = 0;
};

}  // namespace holdfast::route

namespace boost {

template <>
struct graph_traits<holdfast::route::OpenMoves> {
  using vertex_descriptor = std::uint32_t;
  using edge_descriptor = holdfast::route::OpenMoves::Edge;
  using directed_category = undirected_tag;
  using edge_parallel_category = allow_parallel_edge_tag;
  struct traversal_category : virtual vertex_list_graph_tag,
                              virtual edge_list_graph_tag,
                              virtual incidence_graph_tag,
                              virtual adjacency_graph_tag {};
  using vertex_iterator = holdfast::route::OpenMoves::VertexIterator;
  using edge_iterator = holdfast::route::OpenMoves::EdgeIterator;
  using out_edge_iterator = holdfast::route::OpenMoves::OutEdgeIterator;
  using adjacency_iterator = holdfast::route::OpenMoves::AdjacencyIterator;
  using vertices_size_type = std::size_t;
  using edges_size_type = std::size_t;
  using degree_size_type = std::size_t;
  static vertex_descriptor null_vertex() { return ~std::uint32_t{0}; }
};
template <>
struct property_map<holdfast::route::OpenMoves, vertex_index_t> {
  using type = holdfast::route::OpenMoves::IndexMap;
  using const_type = type;
};
template <>
struct property_map<holdfast::route::OpenMoves, edge_index_t> {
  using type = holdfast::route::OpenMoves::MoveMap;
  using const_type = type;
};
template <>
struct property_map<holdfast::route::OpenMoves, edge_weight_t> {
  using type = holdfast::route::OpenMoves::WeightMap;
  using const_type = type;
};

template <class Property>
struct property_map<const holdfast::route::OpenMoves, Property> : property_map<holdfast::route::OpenMoves, Property> {};

}  // namespace boost
