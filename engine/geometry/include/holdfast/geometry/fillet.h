// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// Bends of a cable as circular arcs (fillets) that touch the straight pieces on both sides.
//
//   geometry::fillet_tangent_m(0.1, pi / 2);             // 0.1: what the bend takes of the span on either side
//   geometry::do_fillets_fit(0.1, pi / 2, pi / 2, 0.2);  // true: two square corners need two radii
//
// Metres and radians. A turn is the change of direction: 0 goes straight on, pi comes back on itself.
// Requires of all: radius_m >= 0, 0 <= turn_rad <= pi. Source of the formulas: an arc of radius R tangent to two
// lines that turn by theta; reference values in standards.md section 8c.

#include <cmath>
#include <limits>
#include <numbers>

namespace holdfast::geometry {

/// Length taken from the straight piece on either side, R tan(theta / 2); infinity for a turn of pi, which no arc
/// between two lines makes.
[[nodiscard]] inline double fillet_tangent_m(double radius_m, double turn_rad) {
  constexpr double fold = std::numbers::pi - 1e-9;  // nearer to pi the tangent is longer than any cable
  if (radius_m == 0) return 0;
  return turn_rad >= fold ? std::numeric_limits<double>::infinity() : radius_m * std::tan(turn_rad / 2);
}

/// Length of the arc, R theta.
[[nodiscard]] inline double fillet_arc_m(double radius_m, double turn_rad) { return radius_m * turn_rad; }

/// How much shorter the arc is than the corner that it rounds. Never taken off a required length (design.md 14).
/// Requires: turn_rad < pi.
[[nodiscard]] inline double fillet_saving_m(double radius_m, double turn_rad) {
  return 2 * fillet_tangent_m(radius_m, turn_rad) - fillet_arc_m(radius_m, turn_rad);
}

/// Do the bends at the two ends of a straight span both fit on it? Equality fits, within 1e-6 m (design.md 14).
[[nodiscard]] inline bool do_fillets_fit(double radius_m, double turn_a_rad, double turn_b_rad, double span_m) {
  constexpr double tolerance_m = 1e-6;
  return fillet_tangent_m(radius_m, turn_a_rad) + fillet_tangent_m(radius_m, turn_b_rad) <= span_m + tolerance_m;
}

}  // namespace holdfast::geometry
