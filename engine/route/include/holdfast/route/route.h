// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// From a question to a route, or to why there is none.
//
//   const auto answer = route::find_route(graph, {.kit = kit, .suit = kit.suits.front()}, {.from = "lock-hatch", .to =
//   "panel-4"}); if (const auto* route = answer.route()) use(route->legs);
//
// Requires: the graph was built with the suit's body. Deterministic: ties are broken as design.md 14 says.

#include <optional>
#include <string>
#include <vector>

#include "holdfast/graph/handrail_graph.h"
#include "holdfast/model/kit.h"
#include "holdfast/route/answer.h"
#include "holdfast/route/costs.h"
#include "holdfast/route/loads.h"
#include "holdfast/search/landmarks.h"

namespace holdfast::route {

/// A safety tether to be used, and where it is hooked on at the start.
struct TetherRequest {
  const model::Tether* tether = nullptr;  ///< not null
  std::string anchor;                     ///< an anchor, or a rail that may take a hook
  /// Hooked on there already, with so much out at the start: no hook operation is counted. Nothing: hooked on at the
  /// start, and out from the hook to the first grip.
  std::optional<double> out_m = std::nullopt;
};

struct RouteRequest {
  std::string from;  ///< place id, rail id, or `x,y,z` in the structure frame; with `start` its name alone
  std::string to;
  std::vector<std::string> via = {};  ///< in order
  Objective by = Objective::Time;
  double point_radius_m = 0.8;  ///< radius within which one is at an `x,y,z` place
  /// Goes on from where another route of this graph ended, with the same loads where they are in hand.
  std::optional<Departure> start = std::nullopt;
  /// Where many questions follow: `build_landmarks` of the same graph, suit and objective. They change the speed, never
  /// the answer.
  const search::Landmarks* landmarks = nullptr;
  /// Where many questions follow with the same loads; null: swept afresh. Requires: of the profile's loads.
  LoadCache* load_cache = nullptr;
  /// Where loads leave no way: also how small they would have to be, and which zones or closures lifted would open one.
  /// Takes several searches more.
  bool explains_loads = true;
  /// With a tether, its length is a limit: what is out along the path since it was last hooked on. Tether swaps are
  /// part of the route where they help; the best such route is found. Zones for tethers are not looked at here: ask
  /// `tether::route_on_tether`.
  std::optional<TetherRequest> tether = std::nullopt;
  double zone_report_m = 1.0;  ///< zones nearer to the corridor tube than this are listed
};

/// Bounds for the costs of the open graph: valid for every set of closures and zones.
[[nodiscard]] search::Landmarks build_landmarks(const graph::HandrailGraph& graph, const Profile& profile,
                                                Objective objective);

/// The head of an answer. Throws as `route` for loads.
[[nodiscard]] AnswerHead begin_answer(const graph::HandrailGraph& graph, const Profile& profile,
                                      const RouteRequest& request);
/// Where a place, a rail (its middle) or `x,y,z` is. Throws as `route`.
[[nodiscard]] Vec3 find_point(const graph::HandrailGraph& graph, const std::string& text);

/// Thrown as `model::InputError` when a name is unknown: code `unknown-place`, with the nearest names as the remedy;
/// `loads-clash` where nobody could carry the profile's loads; with a tether also as `find_hook`, `tether-short` and
/// `no-free-line` where the anchor is of no use for the start.
[[nodiscard]] Answer find_route(const graph::HandrailGraph& graph, const Profile& profile, const RouteRequest& request);

}  // namespace holdfast::route
