// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// What closes the moves of a path, as causes with place and number: one place for every answer that tells it.

#include <span>
#include <vector>

#include "holdfast/route/answer.h"
#include "holdfast/route/costs.h"
#include "waypoints_impl.h"

namespace holdfast::route::detail {

/// One cause for each of `rules` that closes a move of the legs, or the stance at which one starts or ends, in the
/// order of the kinds; empty where none does. A turn is told where it is largest, the corridor where it is narrowest;
/// the hand's line, the zones (all that are entered) and the closed rails (all that are held) where they are first met.
/// Lifting all of them opens every move of the legs as far as these rules go. `opens_alone` and `then_time_s` are left
/// to the caller. Requires: `table` is of this graph and profile.
[[nodiscard]] std::vector<Cause> causes_along(const graph::HandrailGraph& graph, const Profile& profile,
                                              const CostTable& table, std::span<const LegWay> legs,
                                              Blocks rules = all_blocks);

/// By zone: it holds in the configuration of `table` and forbids body or hands.
[[nodiscard]] std::vector<bool> forbidding_zones(const graph::HandrailGraph& graph, const CostTable& table);

/// Adds what a set does not have yet.
template <class Id>
void add_once(std::vector<Id>& ids, Id id) {
  for (const Id& known : ids)
    if (known == id) return;
  ids.push_back(id);
}

}  // namespace holdfast::route::detail
