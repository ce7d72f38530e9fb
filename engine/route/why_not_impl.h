// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// Why a route cannot be made: which rule, where, by how much, and what would open a path.

#include <vector>

#include "ends_impl.h"
#include "holdfast/route/answer.h"
#include "holdfast/route/costs.h"

namespace holdfast::route::detail {

/// Causes leg by leg, in the order of design.md 14, never empty. Lifting all that they name (zones and closed rails;
/// the turn limit, the corridor's diameter up to the numbers told; the hand's line) always opens a route, unless one of
/// them is Reach or NoGripNear: then nothing does. `opens_alone` and `then_time_s` are of the cause's own leg.
/// Requires: no route through `ends` exists.
[[nodiscard]] std::vector<Cause> explain(const graph::HandrailGraph& graph, const Profile& profile, Objective objective,
                                         const std::vector<End>& ends);

}  // namespace holdfast::route::detail
