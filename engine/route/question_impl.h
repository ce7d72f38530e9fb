// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// What every question about ways begins with: ends, costs, and the head of the answer.

#include <functional>
#include <optional>
#include <string>
#include <vector>

#include "ends_impl.h"
#include "holdfast/route/answer.h"
#include "holdfast/route/costs.h"
#include "holdfast/route/redundancy.h"
#include "holdfast/route/route.h"
#include "holdfast/search/shortest.h"
#include "waypoints_impl.h"

namespace holdfast::route::detail {

/// Grips at which a leg may start or end.
[[nodiscard]] std::vector<search::Seed> usable(const std::vector<graph::GripId>& grips, const CostTable& table);

/// Limit zones that hold in the configuration.
[[nodiscard]] std::vector<model::ZoneId> limit_zones(const graph::HandrailGraph& graph, const CostTable& table,
                                                     bool with_loads);
[[nodiscard]] bool keeps_limits(const graph::HandrailGraph& graph, const Route& route);
[[nodiscard]] bool is_in(std::span<const graph::ZoneLabel> labels, model::ZoneId zone);

/// From, vias and to. Throws as `resolve_end`.
[[nodiscard]] std::vector<End> resolve_ends(const graph::HandrailGraph& graph, const RouteRequest& request);

/// Finds what `find_plain_ways` does between stops, on a table that is known.
using FindPlain =
    std::function<std::optional<std::vector<LegWay>>(const std::vector<std::vector<search::Seed>>& stops)>;
/// `route` between ends that are known: their grips count, not the names of the request. Requires: `table` is
/// `compute_costs` of the rest, and what `find_plain` knows.
[[nodiscard]] Answer route_between(const graph::HandrailGraph& graph, const Profile& profile,
                                   const RouteRequest& request, const std::vector<End>& ends, const CostTable& table,
                                   const FindPlain& find_plain = {});

/// Places that the configuration has, in the order of the file, with the grips at which a leg may start or end there.
struct PresentPlace {
  model::PlaceId place;
  std::vector<search::Seed> grips;  ///< may be empty
};
[[nodiscard]] std::vector<PresentPlace> find_present_places(const graph::HandrailGraph& graph, const CostTable& table);

/// `route::find_redundancy` where the costs are known.
[[nodiscard]] std::vector<Redundancy> find_redundancy(const graph::HandrailGraph& graph, const CostTable& table);

/// One leg between each two ends from a way that makes its stops at `stop_at` (indices into its nodes).
[[nodiscard]] std::vector<LegWay> split_legs(const std::vector<End>& ends, const search::Path& way,
                                             const std::vector<std::size_t>& stop_at);

[[nodiscard]] WaypointOptions waypoint_options(const Profile& profile, const RouteRequest& request);

}  // namespace holdfast::route::detail
