// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// The route of a mover with loads, or why the loads leave none.

#include <functional>
#include <optional>
#include <variant>
#include <vector>

#include "ends_impl.h"
#include "holdfast/route/answer.h"
#include "holdfast/route/costs.h"
#include "holdfast/search/hierarchy.h"
#include "holdfast/search/shortest.h"
#include "load_space_impl.h"
#include "waypoints_impl.h"

namespace holdfast::route::detail {

using Stops = std::vector<std::vector<search::Seed>>;

/// Cheapest way from stop to stop without a look at loads; nothing where a leg cannot be made.
/// `scratch`: kept by who asks often.
[[nodiscard]] std::optional<std::vector<LegWay>> find_plain_ways(const graph::HandrailGraph& graph,
                                                                 std::span<const search::Cost> by_move,
                                                                 const Stops& stops, const std::vector<End>& ends,
                                                                 const search::Landmarks* landmarks,
                                                                 search::RouteQuery* scratch = nullptr);
/// The same ways from a hierarchy that holds these costs.
[[nodiscard]] std::optional<std::vector<LegWay>> find_plain_ways(const graph::HandrailGraph& graph,
                                                                 std::span<const search::Cost> by_move,
                                                                 const Stops& stops, const std::vector<End>& ends,
                                                                 const search::HierarchyMetric& metric,
                                                                 search::HierarchyQuery& query);

/// What moves cost in each manner of carrying a profile's loads.
struct MannerCosts {
  std::vector<Pace> paces;
  std::vector<std::vector<search::Cost>> by_move;
};
/// Blocked where `table` has another block than `lifted`.
[[nodiscard]] MannerCosts compute_manner_costs(const graph::HandrailGraph& graph, const Profile& profile, Objective by,
                                               const CostTable& table, Blocks lifted = 0);
/// The legs with their loads in one manner throughout.
[[nodiscard]] std::vector<LegWay> in_manner(std::vector<LegWay> legs, std::size_t manner);
/// Seconds of the legs' moves and changes of manner.
[[nodiscard]] double moving_time_s(const graph::HandrailGraph& graph, const LoadSpace& space,
                                   const std::vector<Pace>& paces, std::span<const LegWay> legs);

/// Follows legs with the loads: the first step that fails, or nothing.
struct WalkStop {
  std::size_t leg = 0, move = 0;  ///< move == number of moves: drawing in at the leg's end
  LoadSpace::State from = 0;
};
/// `accept`, if given, must take each move with the zones that loads enter on it.
[[nodiscard]] std::optional<WalkStop> walk(
    LoadSpace& space, std::span<const LegWay> legs,
    const std::function<bool(graph::MoveId, std::span<const model::ZoneId>)>& accept = {});

/// Follows legs with the loads in each manner: sets them to the quickest that passes, or to the one that gets farthest
/// and returns where it stops.
[[nodiscard]] std::optional<WalkStop> walk_in_best_manner(const graph::HandrailGraph& graph, LoadSpace& space,
                                                          const std::vector<Pace>& paces, std::vector<LegWay>& legs);

/// Sets where a step fails (to `to`, or at the leg's end), at which load, and beside which part or in which zone.
void place_failure(const graph::HandrailGraph& graph, const LoadSpace& space, LoadSpace::State from,
                   std::optional<graph::GripId> to, Cause& cause);
/// The grip that a walk could not go on to; nothing where drawing in fails.
[[nodiscard]] std::optional<graph::GripId> next_grip(std::span<const LegWay> legs, const WalkStop& stop);

/// The largest scale of the loads, in steps of 2^-halvings, for which `passes(smaller)` holds; sets the cause's numbers
/// to it, and whether it is proven that no larger one does: none does for which `may_pass(smaller)` is false. Smaller
/// loads may pass where larger ones may; of sizes for which `passes` fails, larger ones are not asked about.
void measure_fraction(const graph::HandrailGraph& graph, const std::vector<const model::Load*>& loads,
                      const geometry::Scene* boxes, int halvings, const std::function<bool(LoadSpace&)>& may_pass,
                      const std::function<bool(LoadSpace&)>& passes, Cause& cause);

/// What a step costs besides, in the terms of `by`, for zones that loads enter and the body does not.
[[nodiscard]] search::Cost load_zone_cost(const graph::HandrailGraph& graph, const Pace& pace, Objective by,
                                          std::uint32_t move, std::span<const model::ZoneId> entered);

struct LoadedAnswer {
  std::variant<std::vector<LegWay>, std::vector<Cause>> outcome;
  std::optional<double> may_save;  ///< as in Answer
  bool is_certain = true;          ///< false: a way may exist all the same
};
/// Requires: `plain` is the cheapest way without the loads' room.
[[nodiscard]] LoadedAnswer find_loaded_route(const graph::HandrailGraph& graph, const Profile& profile, Objective by,
                                             const CostTable& table, const Stops& stops, const std::vector<End>& ends,
                                             const std::vector<LegWay>& plain, LoadSpace& space, bool explains_loads);

}  // namespace holdfast::route::detail
