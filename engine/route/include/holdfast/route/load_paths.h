// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// Loads among boxes that stand on the structure for a while, and along paths that are known.
//
//   auto cache = route::load_cache_among(graph, {kit.find_load("crate")}, boxes);
//   if (const auto time_s = route::time_along(graph, profile, cache, grips)) use(*time_s);

#include <optional>
#include <span>
#include <vector>

#include "holdfast/geometry/scene.h"
#include "holdfast/graph/handrail_graph.h"
#include "holdfast/route/costs.h"
#include "holdfast/route/loads.h"

namespace holdfast::route {

/// As a `LoadCache`, but the loads keep off the solids of `boxes` too, as they keep off structure. Bodies and hands do
/// not: their grips and moves are closed by the profile. Keeps references to all three. Throws as `check_loads`.
[[nodiscard]] LoadCache load_cache_among(const graph::HandrailGraph& graph, std::vector<const model::Load*> loads,
                                         const geometry::Scene& boxes);

/// Seconds along a path with the cache's loads in the quickest manner that passes throughout, start and stop included,
/// taking up and putting down not. The loads are at the mover's side at its first grip and are drawn in at its last.
/// Nothing where they pass in no one manner. What closes moves to the body is not looked at: the path is open to it.
/// Requires: grips each joined to the next by a move.
[[nodiscard]] std::optional<double> time_along(const graph::HandrailGraph& graph, const Profile& profile,
                                               LoadCache& cache, std::span<const graph::GripId> grips);

}  // namespace holdfast::route
