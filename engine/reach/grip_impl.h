#pragma once
// What stations and eyes at grips share: whether one may be there, and the route to there.

#include <string>

#include "holdfast/graph/handrail_graph.h"
#include "holdfast/route/route.h"

namespace holdfast::reach::detail {

/// A grip where one may stand: no forbidding zone, not closed, and room for the body.
[[nodiscard]] bool is_stance_clear(const graph::HandrailGraph& graph, const route::Profile& profile, graph::GripId id);

/// Told by the grip's rail: its coordinates are only how it is asked for. It may end at the rail's other side.
[[nodiscard]] route::Answer find_route_to(const graph::HandrailGraph& graph, const route::Profile& profile,
                                          const std::string& from, graph::GripId id);

}  // namespace holdfast::reach::detail
