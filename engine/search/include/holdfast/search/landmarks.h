// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// Lower bounds on primary costs from the triangle inequality over a few landmarks (ALT: Goldberg and Harrelson,
// Computing the shortest path: A* search meets graph theory, SODA 2005).
//
//   const Landmarks landmarks(adjacency, open_costs);     // once a graph and objective, where many queries follow
//   query.find(adjacency, costs, sources, targets, &landmarks);

#include <cstdint>
#include <span>
#include <vector>

#include "holdfast/graph/adjacency.h"
#include "holdfast/search/shortest.h"

namespace holdfast::search {

class Landmarks {
 public:
  static constexpr std::size_t count = 16;

  /// Built on costs that later queries may raise or block, never lower: use the costs of the open graph. Deterministic:
  /// each landmark is the node farthest from those before. 17 shortest-path trees.
  Landmarks(const graph::Adjacency& adjacency, std::span<const Cost> costs);

  /// Bounds toward a set of nodes.
  struct Goal {
    std::uint32_t nearest[count];   ///< least distance from each landmark to the set
    std::uint32_t farthest[count];  ///< greatest
  };
  [[nodiscard]] Goal goal(std::span<const Seed> seeds) const;
  /// Never above the least primary cost from `node` to the set, and consistent.
  [[nodiscard]] std::uint32_t bound(std::uint32_t node, const Goal& goal) const {
    const std::uint32_t* to = &distance_[static_cast<std::size_t>(node) * count];
    std::uint32_t best = 0;
    for (std::size_t i = 0; i < count; ++i) {
      const std::uint32_t before = goal.nearest[i] > to[i] ? goal.nearest[i] - to[i] : 0;
      const std::uint32_t beyond = to[i] > goal.farthest[i] ? to[i] - goal.farthest[i] : 0;
      const std::uint32_t here = before > beyond ? before : beyond;
      best = here > best ? here : best;
    }
    return best;
  }

 private:
  std::vector<std::uint32_t> distance_;  // [node][landmark], primary parts
};

}  // namespace holdfast::search
