// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// Rails that a crew member could reach but for keep-out zones.

#include <vector>

#include "holdfast/check/check.h"

namespace holdfast::check::detail {

/// One finding for all rails behind the same cut. A grip counts where it lies in no keep-out zone itself, rails lead to
/// it from a hatch, and in the configuration every one of these paths enters such a zone. None without a hatch.
/// `island`: of each grip, what open moves join.
[[nodiscard]] std::vector<Finding> find_rails_behind_zones(const graph::HandrailGraph& graph, const model::Kit& kit,
                                                           const model::Suit& suit, const std::vector<int>& island);

}  // namespace holdfast::check::detail
