// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// The rules of design.md section 5 for one pair of grips.

#include <algorithm>
#include <array>

#include "holdfast/geometry/certified.h"
#include "way_impl.h"

namespace holdfast::graph::detail {

enum class Judging {
  UntilForbidden,  ///< stop at the first rule that forbids the move: all that a route needs
  Everything       ///< judge every rule: what an explanation needs
};

inline void judge_clearance(const geometry::Scene& scene, const Body& body, const BodyWay& way, const Grip& a,
                            const Grip& b, Move& move) {
  const double needed = body.corridor_radius_m - length_tolerance_m;
  const double cutoff = body.corridor_radius_m + clearance_headroom_m;
  const double speed = way.speed_upper_m();
  const auto distance_at = [&](double t) {
    if (t == 0) return a.clearance_lower_m;
    if (t == 1) return b.clearance_lower_m;
    return scene.distance(way.at(t), cutoff);
  };
  auto least = geometry::certified_minimum(distance_at, speed, {.tolerance_m = 0.004, .enough_m = needed});
  if (least.lower_m < needed && least.upper_m >= needed) {
    // Within a few millimetres of the limit: decide it properly.
    if (way.is_straight()) {
      const std::array<Vec3, 2> segment = {way.at(0), way.at(1)};
      least.lower_m = scene.hull_distance(segment, cutoff, length_tolerance_m / 2);
    } else {
      least = geometry::certified_minimum(distance_at, speed,
                                          {.tolerance_m = 2e-4, .enough_m = needed, .hopeless_m = needed});
    }
  }
  move.clearance_lower_m = std::max(0.0, least.lower_m);
  move.is_at_least = least.upper_m - least.lower_m > 0.004;
  move.is_body_clear = least.lower_m >= needed;
}

/// Fills the labels of `move` from its grips. Requires: a, b and gap_m are set.
inline void judge_move(const geometry::Scene& scene, const Body& body, const Grip& a, const Grip& b, Judging judging,
                       Move& move) {
  const auto& rails = scene.structure().rails;
  const double turn = angle_between(a.outward, b.outward);
  constexpr double small_gap_m = 0.05 + length_tolerance_m;  // design.md 14, Moves
  move.turn_rad = turn;
  move.is_rail_change =
      a.rail != b.rail && (move.gap_m > small_gap_m || rails[a.rail.index()].part != rails[b.rail.index()].part);
  const BodyWay way(a, b, body.stand_off_m);
  move.way_m = way.length_upper_m();
  move.is_turn_allowed = turn <= body.turn_limit_rad + angle_tolerance_rad;
  if (!move.is_turn_allowed && judging == Judging::UntilForbidden) return;
  move.is_hand_line_clear = !is_hand_line_blocked(scene, a, b, body.glove_m);
  if (!move.is_hand_line_clear && judging == Judging::UntilForbidden) return;
  judge_clearance(scene, body, way, a, b, move);
}

}  // namespace holdfast::graph::detail
