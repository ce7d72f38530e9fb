// SPDX-License-Identifier: GPL-3.0-or-later
#include "lemon_dijkstra.h"

#include <lemon/dijkstra.h>
#include <lemon/list_graph.h>

namespace holdfast::support {

struct LemonDijkstra::Impl {
  lemon::ListGraph graph;
  lemon::ListGraph::EdgeMap<std::int64_t> weight{graph};
  std::vector<lemon::ListGraph::Node> nodes;
};

LemonDijkstra::LemonDijkstra(std::size_t nodes, const std::vector<Edge>& edges) : impl_(std::make_unique<Impl>()) {
  for (std::size_t n = 0; n < nodes; ++n) impl_->nodes.push_back(impl_->graph.addNode());
  for (const auto& e : edges) impl_->weight[impl_->graph.addEdge(impl_->nodes[e.a], impl_->nodes[e.b])] = e.weight;
}
LemonDijkstra::~LemonDijkstra() = default;

std::int64_t LemonDijkstra::cost(std::uint32_t from, std::uint32_t to) {
  lemon::Dijkstra<lemon::ListGraph, lemon::ListGraph::EdgeMap<std::int64_t>> dijkstra(impl_->graph, impl_->weight);
  return dijkstra.run(impl_->nodes[from], impl_->nodes[to]) ? dijkstra.dist(impl_->nodes[to]) : -1;
}

}  // namespace holdfast::support
