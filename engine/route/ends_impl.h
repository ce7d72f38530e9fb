// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// Places, rails and points as the ends of a leg.

#include <optional>
#include <string>
#include <vector>

#include "holdfast/graph/handrail_graph.h"
#include "holdfast/route/answer.h"

namespace holdfast::route::detail {

using model::Vec3;

/// One end of a leg: where it is and the grips at which one is there.
struct End {
  std::string text;  ///< as asked
  Vec3 at = Vec3::Zero();
  double radius_m = 0;                                ///< 0 for a rail
  std::vector<graph::GripId> grips;                   ///< in id order; may be empty
  std::optional<Departure> departure = std::nullopt;  ///< how the loads are in hand there; of the first end alone
};

/// Throws `model::InputError` (`unknown-place`, `absent-place`) for a name that the graph's model does not have, or not
/// in this configuration.
[[nodiscard]] End resolve_end(const graph::HandrailGraph& graph, const std::string& text, double point_radius_m);

}  // namespace holdfast::route::detail
