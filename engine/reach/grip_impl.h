// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// What stations and eyes at grips share: how a rail lies there, and the route to there.

#include <optional>
#include <string>

#include "holdfast/graph/handrail_graph.h"
#include "holdfast/route/route.h"

namespace holdfast::reach::detail {

/// Unit direction of the rail at a grip, across the stance; of a handhold as `model::forward_of`.
[[nodiscard]] model::Vec3 rail_direction(const graph::HandrailGraph& graph, const graph::Grip& grip);

/// A route that ends at this very grip, not at another of the same hand position, which has its body elsewhere. Told by
/// the grip's rail: its coordinates are only how it is asked for. Why there is none, where there is none; nothing where
/// every route found ends beside it. Where one through such a neighbour would be quicker, this one is not the quickest.
[[nodiscard]] std::optional<route::Answer> find_route_to(const graph::HandrailGraph& graph,
                                                         const route::Profile& profile, const std::string& from,
                                                         graph::GripId id);

}  // namespace holdfast::reach::detail
