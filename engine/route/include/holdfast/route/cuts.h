// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// Why some grips cannot be reached from others, whoever asks: what `check` says of rails that are cut off.

#include <span>
#include <vector>

#include "holdfast/route/answer.h"
#include "holdfast/route/costs.h"

namespace holdfast::route {

/// Two sets of grips between which no path is open. Neither is empty.
struct Cut {
  std::vector<graph::GripId> from, to;
};

/// For each cut the causes, never none: Reach; else the turn limit, the hand's line and the corridor, each where it
/// opens a path by itself, or the fewest of them that do together. Zones and closures are looked away from. Requires:
/// no path is open even so. Cost: every move is judged once, then some ten searches a cut.
[[nodiscard]] std::vector<std::vector<Cause>> explain_cuts(const graph::HandrailGraph& graph, const Profile& profile,
                                                           std::span<const Cut> cuts);

}  // namespace holdfast::route
