// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// Compressed adjacency of an undirected graph: each edge ("move") stands in the lists of both its ends.

#include <cstdint>
#include <span>
#include <utility>
#include <vector>

namespace holdfast::graph {

struct Arc {
  std::uint32_t head;  ///< grip at the other end
  std::uint32_t move;  ///< edge index, the same seen from both ends
};

/// Arcs out of each node, sorted by head, then move. Read-only once built.
struct Adjacency {
  std::vector<std::uint32_t> first;  ///< node count + 1 offsets into `arcs`
  std::vector<Arc> arcs;

  [[nodiscard]] std::size_t node_count() const { return first.empty() ? 0 : first.size() - 1; }
  [[nodiscard]] std::span<const Arc> out(std::uint32_t node) const {
    return {arcs.data() + first[node], arcs.data() + first[node + 1]};
  }
};

/// From edge ends; edge i has index i. Requires: every end < node_count.
[[nodiscard]] Adjacency build_adjacency(std::size_t node_count,
                                        std::span<const std::pair<std::uint32_t, std::uint32_t>> edges);

}  // namespace holdfast::graph
