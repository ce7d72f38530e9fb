// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// Whether a crew member may stand at a grip: one rule for routes, worksites and cameras.
//
//   const route::GripRules rules(graph, profile.closures);
//   if (rules.is_open(grip)) ...

#include <vector>

#include "holdfast/graph/handrail_graph.h"
#include "holdfast/route/costs.h"

namespace holdfast::route {

/// The rules of `CostTable::grip_blocks`, grip by grip, without a pass over all moves. Const members may be called from
/// several threads.
class GripRules {
 public:
  /// Keeps a reference to the graph, which must outlive it.
  explicit GripRules(const graph::HandrailGraph& graph, const Closures& closures = {});

  /// Why no leg may start, end or rest there: no room for the body, a forbidding zone for body or hands, a closed rail
  /// or grip. Empty (0) where it may.
  [[nodiscard]] Blocks blocks(graph::GripId grip) const;
  [[nodiscard]] bool is_open(graph::GripId grip) const { return blocks(grip) == 0; }

 private:
  const graph::HandrailGraph* graph_;
  std::vector<bool> forbids_;          // by zone
  std::vector<bool> closed_rails_;     // by rail
  std::vector<std::uint32_t> closed_;  // grips, ascending
};

}  // namespace holdfast::route
