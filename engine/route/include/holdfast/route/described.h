// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// A path that is known grip by grip, described as the answers of `find_route` are.
//
//   const auto told = route::describe_path(graph, {.kit = kit, .suit = suit}, {"hatch", "panel-4", grips});
//   for (const auto& row : told.route.legs.front().rows) use(row);
//
// Nothing is searched: the path may pass what the profile forbids, as one that was found under another does.

#include <string>
#include <vector>

#include "holdfast/route/answer.h"
#include "holdfast/route/costs.h"
#include "holdfast/route/loads.h"

namespace holdfast::route {

/// One leg. Requires: each grip but the first is a move away from the one before.
struct GivenPath {
  std::string from, to;              ///< names, for words
  std::vector<graph::GripId> grips;  ///< one at least
};

struct DescribedPath {
  Route route;
  /// False: the profile's loads pass in no single manner of carrying all along, so the route tells of the body and the
  /// hands alone: its zones, clearances and poses say nothing of the loads.
  bool has_loads = true;
};

/// Rows, clearances, zones, kick band and poses. Loads are carried in the quickest manner that passes. `loads`: swept
/// before, of the profile's loads; null: swept afresh.
[[nodiscard]] DescribedPath describe_path(const graph::HandrailGraph& graph, const Profile& profile,
                                          const GivenPath& path, LoadCache* loads = nullptr);

}  // namespace holdfast::route
