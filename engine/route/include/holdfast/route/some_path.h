// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// Some path with loads, where the quickest is not asked for: an upper bound that is proven, in little time.
//
//   const auto found = route::find_some_path(graph, profile, cache, from, to);
//   if (!found.grips.empty()) use(found.time_s);

#include <span>
#include <vector>

#include "holdfast/graph/handrail_graph.h"
#include "holdfast/route/answer.h"
#include "holdfast/route/costs.h"
#include "holdfast/route/loads.h"

namespace holdfast::route {

struct SomePath {
  std::vector<graph::GripId> grips;  ///< empty: none was found
  double time_s = 0;                 ///< start, stop and changes of manner included, taking up and putting down not
  bool is_certain = true;            ///< of none: that there is none is proven
  std::vector<Cause> causes;         ///< of none
};

/// A path from the grip to any of the others with the profile's loads, which are the cache's: the exact search is given
/// up after a fifth of the steps that `find_route` takes, and a rough one follows; both show by sweeps that the loads
/// pass. The loads are at the mover's side at first. Requires: `to` is not empty.
[[nodiscard]] SomePath find_some_path(const graph::HandrailGraph& graph, const Profile& profile, LoadCache& cache,
                                      graph::GripId from, std::span<const graph::GripId> to);

}  // namespace holdfast::route
