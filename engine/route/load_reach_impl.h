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

/// A question from stop to stop, for loads of any size and in any space.
class LoadReach {
 public:
  /// `by_move`: blocked where a move is not open in any manner of carrying. Keeps references to all but the stops.
  /// Requires: two stops or more.
  LoadReach(const graph::HandrailGraph& graph, std::span<const search::Cost> by_move,
            std::vector<std::vector<search::Seed>> stops);

  /// False: on some leg no chain of open moves, over each of which the loads may be brought in some manner whatever is
  /// gone before and after (`LoadSpace::may_step`), leads from stop to stop: no path with these loads exists. True says
  /// little. Looks from both ends of a leg at once and asks about as few moves as that takes, those nearest to the
  /// other end first.
  [[nodiscard]] bool may_connect(LoadSpace& space) const;

 private:
  struct Leg {
    std::vector<search::Cost> onward, back;  // to its end, and to its start, by grip, loads or no loads
  };
  const graph::HandrailGraph& graph_;
  const std::span<const search::Cost> by_move_;
  const std::vector<std::vector<search::Seed>> stops_;
  std::vector<Leg> legs_;
};

}  // namespace holdfast::route::detail
