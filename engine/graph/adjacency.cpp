// SPDX-License-Identifier: GPL-3.0-or-later
#include "holdfast/graph/adjacency.h"

#include <algorithm>

namespace holdfast::graph {

Adjacency build_adjacency(std::size_t node_count, std::span<const std::pair<std::uint32_t, std::uint32_t>> edges) {
  Adjacency adjacency;
  adjacency.first.assign(node_count + 1, 0);
  for (const auto& [a, b] : edges) ++adjacency.first[a + 1], ++adjacency.first[b + 1];
  for (std::size_t n = 0; n < node_count; ++n) adjacency.first[n + 1] += adjacency.first[n];
  adjacency.arcs.resize(2 * edges.size());
  std::vector<std::uint32_t> next(adjacency.first.begin(), adjacency.first.end() - 1);
  for (std::uint32_t move = 0; move < edges.size(); ++move) {
    const auto [a, b] = edges[move];
    adjacency.arcs[next[a]++] = {b, move};
    adjacency.arcs[next[b]++] = {a, move};
  }
  for (std::size_t n = 0; n < node_count; ++n)
    std::sort(adjacency.arcs.begin() + adjacency.first[n], adjacency.arcs.begin() + adjacency.first[n + 1],
              [](const Arc& x, const Arc& y) { return x.head != y.head ? x.head < y.head : x.move < y.move; });
  return adjacency;
}

}  // namespace holdfast::graph
