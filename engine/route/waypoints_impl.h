// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// From grips and moves to rows that a person can follow, with the numbers of each.

#include <optional>
#include <span>
#include <vector>

#include "holdfast/route/answer.h"
#include "holdfast/route/costs.h"
#include "holdfast/route/hooks.h"
#include "load_space_impl.h"

namespace holdfast::route::detail {

/// One leg of a route as the search found it. moves.size() + 1 == grips.size().
struct LegWay {
  std::string from, to;
  std::vector<graph::GripId> grips;
  std::vector<graph::MoveId> moves;
  struct Rehook {
    std::size_t at;  ///< into `grips`
    Hook hook;
  };
  std::vector<Rehook> rehooks = {};  ///< of the tether, in order
  /// In which the loads are carried as the leg starts (`find_manners`), and where along it that changes.
  std::size_t manner = 0;
  struct Change {
    std::size_t at;  ///< into `grips`
    std::size_t manner;
  };
  std::vector<Change> changes = {};                   ///< in order
  std::optional<Departure> departure = std::nullopt;  ///< of the first leg: with the loads in hand already
};

class TetherRule;

struct WaypointOptions {
  double zone_report_m = 1.0;
  double band_m = 0.61;
};

/// The whole route with rows, times, least clearances (refined within `clearance_tolerance_m`), zones and the kick
/// band.
/// `tether`: null without one. `space`: of the profile's loads, null without any. Requires: the loads fit along the
/// legs.
[[nodiscard]] Route describe(const graph::HandrailGraph& graph, const Profile& profile, LoadSpace* space,
                             std::span<const LegWay> legs, const WaypointOptions& options,
                             const TetherRule* tether = nullptr);

inline constexpr double clearance_tolerance_m = 0.004;

}  // namespace holdfast::route::detail
