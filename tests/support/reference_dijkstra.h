// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// Plain Boost.Graph Dijkstra: the reference that the search core is held against.

#include <boost/graph/compressed_sparse_row_graph.hpp>
#include <boost/graph/dijkstra_shortest_paths.hpp>
#include <boost/property_map/property_map.hpp>
#include <cstdint>
#include <vector>

namespace holdfast::support {

struct WeightedEdge {
  std::uint32_t a, b;
  std::int64_t weight;
};

class BoostDijkstra {
  struct Property {
    std::int64_t weight;
  };

  using Graph = boost::compressed_sparse_row_graph<boost::directedS, boost::no_property, Property>;
  Graph graph_;
  std::vector<std::int64_t> distance_;
  auto distances() {
    return boost::make_iterator_property_map(distance_.begin(), boost::get(boost::vertex_index, graph_));
  }

 public:
  BoostDijkstra(std::size_t nodes, const std::vector<WeightedEdge>& edges) {
    std::vector<std::pair<std::uint32_t, std::uint32_t>> ends;
    std::vector<Property> weights;
    for (const auto& e : edges) {
      ends.emplace_back(e.a, e.b), weights.push_back({e.weight});
      ends.emplace_back(e.b, e.a), weights.push_back({e.weight});
    }
    graph_ = Graph(boost::edges_are_unsorted_multi_pass, ends.begin(), ends.end(), weights.begin(), nodes);
    distance_.resize(nodes);
  }

  static constexpr std::int64_t unreachable = std::numeric_limits<std::int64_t>::max();

  const std::vector<std::int64_t>& all(std::uint32_t from) {
    boost::dijkstra_shortest_paths(graph_, from,
                                   boost::weight_map(boost::get(&Property::weight, graph_)).distance_map(distances()));
    return distance_;
  }

  /// Stops by throwing from its visitor once the target is settled.
  std::int64_t to(std::uint32_t from, std::uint32_t target) {
    struct Found {};
    struct Stop : boost::default_dijkstra_visitor {
      std::uint32_t target;
      explicit Stop(std::uint32_t t) : target(t) {}
      void finish_vertex(std::size_t v, const Graph&) const {
        if (v == target) throw Found{};
      }
    };
    try {
      boost::dijkstra_shortest_paths(
          graph_, from,
          boost::weight_map(boost::get(&Property::weight, graph_)).distance_map(distances()).visitor(Stop(target)));
    } catch (const Found&) {
      return distance_[target];
    }
    return unreachable;
  }
};

}  // namespace holdfast::support
