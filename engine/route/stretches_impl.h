// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// A route cut into what a crew member is told in one sentence each, with what is passed on the way.

#include <vector>

#include "holdfast/graph/handrail_graph.h"
#include "holdfast/route/answer.h"

namespace holdfast::route::detail {

/// Requires: a route of this graph, with its rows, poses and tether swaps.
[[nodiscard]] std::vector<Stretch> find_stretches(const graph::HandrailGraph& graph, const Route& route);

}  // namespace holdfast::route::detail
