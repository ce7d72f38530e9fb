// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// An order of elimination by nested dissection: nodes that part a graph in two come after both parts.
//
// Sources: George, Nested dissection of a regular finite element mesh, SIAM Journal on Numerical Analysis 10, 1973;
// cuts between the ends of an order of the nodes: Schild, Sommer, On balanced separators in road networks, SEA 2015.

#include <cstdint>
#include <span>
#include <vector>

#include "holdfast/graph/adjacency.h"

namespace holdfast::search::detail {

/// Nodes in order of elimination. Moves with `is_used` 0 do not count; all count where it is empty. Deterministic, on
/// any number of threads.
[[nodiscard]] std::vector<std::uint32_t> dissect(const graph::Adjacency& adjacency, std::span<const char> is_used);

}  // namespace holdfast::search::detail
