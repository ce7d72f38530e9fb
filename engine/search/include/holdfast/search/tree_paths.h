// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// Cheapest paths down a table of costs toward a goal, whoever made it: a `ShortestTree`, or a sweep over a hierarchy.
//
//   if (const auto path = path_down(adjacency, costs, to_goal, sources)) use(path->nodes);
//
// Requires everywhere: `to_goal` has by node the least cost to a goal whose nodes cost nothing, blocked where there is
// no path, on the same adjacency and costs.

#include <cstdint>
#include <optional>
#include <span>

#include "holdfast/graph/adjacency.h"
#include "holdfast/search/cost.h"
#include "holdfast/search/shortest.h"

namespace holdfast::search {

/// The first move of the path that `RouteQuery` finds from a node; null at the goal and where there is no path.
[[nodiscard]] const graph::Arc* next_down(const graph::Adjacency& adjacency, std::span<const Cost> costs,
                                          std::span<const Cost> to_goal, std::uint32_t node);
/// That path from one of `sources`. Nothing where there is none.
[[nodiscard]] std::optional<Path> path_down(const graph::Adjacency& adjacency, std::span<const Cost> costs,
                                            std::span<const Cost> to_goal, std::span<const Seed> sources);

}  // namespace holdfast::search
