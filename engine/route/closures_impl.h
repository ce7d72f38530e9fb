// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// What closures do to a table of costs, and how that is taken back.

#include <cstdint>
#include <span>
#include <vector>

#include "holdfast/route/costs.h"

namespace holdfast::route::detail {

/// What a closure changed: it touches the moves of what it closes, not the whole table.
struct Reopening {
  std::uint32_t index;  ///< of a move or a grip
  bool is_move;
  search::Cost cost;  ///< of the move before
};

/// Blocks the rails, grips and moves of `closures` in the table.
std::vector<Reopening> close(const graph::HandrailGraph& graph, const Closures& closures, CostTable& table);
/// Takes it back. Requires: nothing else was closed since.
void reopen(std::span<const Reopening> undo, CostTable& table);

}  // namespace holdfast::route::detail
