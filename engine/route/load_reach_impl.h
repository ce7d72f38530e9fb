// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// Whether loads can be brought from stop to stop at all, by what holds of single moves alone: what refusals are proven
// with, in a small part of the time of a search over all states.

#include <span>
#include <vector>

#include "holdfast/graph/handrail_graph.h"
#include "holdfast/search/cost.h"
#include "holdfast/search/shortest.h"
#include "load_space_impl.h"

namespace holdfast::route::detail {

/// False: on some leg no chain of open moves, over each of which the loads may be brought in some manner whatever is
/// gone before and after (`LoadSpace::may_step`), leads from stop to stop: no path with these loads exists. True says
/// little. Looks from both ends of a leg at once and asks about as few moves as that takes, those nearest to the other
/// end first. `by_move`: blocked where a move is not open in any manner of carrying. Requires: two stops or more.
[[nodiscard]] bool may_connect(const graph::HandrailGraph& graph, LoadSpace& space,
                               std::span<const search::Cost> by_move,
                               const std::vector<std::vector<search::Seed>>& stops);

}  // namespace holdfast::route::detail
