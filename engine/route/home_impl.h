// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// Home and matrix where costs and hierarchy are known.

#include <span>

#include "holdfast/route/home.h"
#include "holdfast/search/hierarchy.h"

namespace holdfast::route::detail {

/// `compute_costs` of the profile, by time for `home`; and the hierarchy that holds these costs.
struct KnownCosts {
  const CostTable& table;
  const search::HierarchyMetric& metric;
  /// The same for a mover who minds no price of caution zones; null where none has one.
  const KnownCosts* unpriced = nullptr;
  /// For `matrix`: by move, `compute_move_time` of the profile's first manner.
  std::span<const double> seconds_by_move = {};
};
[[nodiscard]] Home compute_home(const graph::HandrailGraph& graph, const Profile& profile, const HomeRequest& request,
                                const KnownCosts& known);
[[nodiscard]] Matrix compute_matrix(const graph::HandrailGraph& graph, const Profile& profile, Objective by,
                                    const KnownCosts& known);

}  // namespace holdfast::route::detail
