// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// The way whose narrowest move is as wide as possible.

#include <cstdint>
#include <optional>
#include <span>
#include <vector>

#include "holdfast/graph/adjacency.h"
#include "holdfast/search/shortest.h"

namespace holdfast::search {

struct WidestPath {
  double width = 0;                    ///< of its narrowest move; infinity when it has no moves
  std::optional<std::uint32_t> pinch;  ///< that move; of several, the first on the way
  std::vector<std::uint32_t> nodes;
  std::vector<std::uint32_t> moves;  ///< fewest moves among the widest ways
};

/// Seeds' costs are not looked at. A width of -infinity closes a move. Nothing when no way exists. Bottleneck form of
/// Dijkstra's method (Pollack, The maximum capacity through a network, Operations Research 8, 1960).
[[nodiscard]] std::optional<WidestPath> find_widest_path(const graph::Adjacency& adjacency,
                                                         std::span<const double> widths, std::span<const Seed> sources,
                                                         std::span<const Seed> targets);

}  // namespace holdfast::search
