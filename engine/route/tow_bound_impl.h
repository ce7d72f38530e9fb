// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// Along which moves a load in tow cannot be drawn, whatever is gone before and after: what a refusal is proven with.

#include <optional>
#include <vector>

#include "holdfast/graph/handrail_graph.h"
#include "holdfast/model/kit.h"

namespace holdfast::route::detail {

/// The middle of a load in tow is drawn along every move's way, with its long side toward where the body is then: on
/// some open move no farther on than the tow is long, or, drawn in, along the move itself. Where in every such
/// direction what certainly belongs to the box meets structure, no path leads over the move with this load in tow.
/// Zones are not looked at.
class TowBound {
 public:
  /// Keeps a reference to the graph.
  TowBound(const graph::HandrailGraph& graph, const model::Load& load);

  /// False: the load cannot be drawn along the move, in neither direction. True says nothing.
  [[nodiscard]] bool may_pass(graph::MoveId move);

 private:
  class Look;
  enum class Verdict : char { Unknown, Passes, Fails };

  const graph::HandrailGraph& graph_;
  const double half_length_m_, radius_m_, tow_m_;
  std::vector<Verdict> known_;  // by move
};

}  // namespace holdfast::route::detail
