// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// The ways a cable can take from tie to tie.
//
//   const auto table = cable::build_spans(scene, ties, rules);
//   const auto fitted = cable::fit_span(scene, rules, ties, table.spans[0], 0.22);
//
// A span is straight where a cable's tube is clear of structure from tie to tie; else it goes over what is in between:
// by points of the exact shortest ways over the surfaces of the parts in the way, lifted by the cable's radius, joined
// by the shortest line that is clear. Every line is clear of all structure, so a cable can take it: its length is never
// below that of the shortest way, and above it by what the sampling of lines costs. Where no such line is found there
// is no span. Frame and units: structure frame, metres, radians. Source: design.md sections 7 and 14 (Cable).

#include <algorithm>
#include <cstdint>
#include <optional>
#include <vector>

#include "holdfast/cable/ties.h"

namespace holdfast::cable {

/// A point at which a span touches structure.
struct OverPoint {
  Vec3 at = Vec3::Zero();  ///< of the cable's middle
  double fold_rad = 0;     ///< how the surface under it folds
  model::PartId part;
};

/// Between ties a < b (indices). Straight where it goes over nothing.
struct Span {
  std::uint32_t a = 0, b = 0;
  std::vector<OverPoint> over;  ///< in order from a to b
};

enum class NoSpanKind {
  StructureBetween,  ///< no way over what is in between was found
  TooLong,           ///< the way found is longer than a span; `value_m` says how long
  OpenSpace          ///< it would cross more open space than it may; `value_m` says how much
};
/// Two ties no farther apart than a span that no span joins.
struct NoSpan {
  std::uint32_t a = 0, b = 0;
  NoSpanKind kind = NoSpanKind::StructureBetween;
  double value_m = 0;
};

struct SpanTable {
  std::vector<Span> spans;      ///< by a, then b
  std::vector<NoSpan> missing;  ///< by a, then b
};

/// All pairs no farther apart than a span, on all cores; the same on any number. About 10 us a pair that nothing
/// separates, some milliseconds where it goes over something.
[[nodiscard]] SpanTable build_spans(const geometry::Scene& scene, const std::vector<Tie>& ties, const SpanRules& rules);

/// How an edge of the structure is passed.
enum class EdgeKind {
  StandsOff,  ///< the cable's arc stays at least `edge_gap_m` off the edge
  Padded      ///< it touches: the edge must be padded
};
/// Clearance to an edge without a pad or grommet. Source: FAA AC 43.13-1B par. 11-115 (3/8 in), there for holes.
inline constexpr double edge_gap_m = 0.0095;
/// A surface that folds by at least this under the cable is an edge; less is a round body's own facets.
inline constexpr double edge_fold_rad = 0.6108652381980153;  // 35 deg

struct EdgeBend {
  Vec3 at = Vec3::Zero();
  model::PartId part;
  double turn_rad = 0;
  EdgeKind kind = EdgeKind::StandsOff;
};

/// A span as a cable of one bend radius takes it. What touches structure is moved outward so far that the arc of the
/// bend passes outside of where it touched.
struct FittedSpan {
  std::uint32_t a = 0, b = 0;
  std::vector<Vec3> line;         ///< corner points from a to b; at each inner one the cable bends with its radius
  double length_m = 0;            ///< of `line`: arcs do not shorten it
  Vec3 leaves_a = Vec3::UnitX();  ///< unit, along the line away from a ...
  Vec3 leaves_b = Vec3::UnitX();  ///< ... and away from b
  double room_a_m = 0;            ///< for the tangent of a bend at a ...
  double room_b_m = 0;            ///< ... and at b
  double curvature_1_m = 0;       ///< of the round part that it lies on from end to end; else 0
  std::optional<model::PartId> lies_on;  ///< that part: `line` is of chords round it, and bends nowhere else
  std::vector<EdgeBend> edges;
  std::vector<model::PartId> touches;  ///< what is under each inner point of `line`
  [[nodiscard]] bool is_straight() const { return line.size() == 2; }
  /// One stretch without bends: the bends at its ends share its room.
  [[nodiscard]] bool is_one_stretch() const { return is_straight() || lies_on.has_value(); }
};

/// Radius of a bend to the side, on a surface that bends the cable by `curvature_1_m` already, so that the cable as a
/// whole keeps `bend_radius_m`: 1 / R^2 = 1 / R_side^2 + k^2. Infinity where the surface alone takes all of it.
[[nodiscard]] double side_radius_m(double bend_radius_m, double curvature_1_m);
/// And back: of the cable as a whole.
[[nodiscard]] double whole_radius_m(double side_radius_m, double curvature_1_m);
/// Of a bend between two spans, where the rounder of their surfaces counts for both.
[[nodiscard]] inline double side_radius_m(double bend_radius_m, const FittedSpan& before, const FittedSpan& after) {
  return side_radius_m(bend_radius_m, std::max(before.curvature_1_m, after.curvature_1_m));
}

/// Nothing where the bends of the span do not fit on it, or it would be too long or blocked.
[[nodiscard]] std::optional<FittedSpan> fit_span(const geometry::Scene& scene, const SpanRules& rules,
                                                 const std::vector<Tie>& ties, const Span& span, double bend_radius_m);

/// Is the arc of a bend at `corner` clear of structure? Requires: unit directions away from the corner, tangents that
/// fit.
[[nodiscard]] bool is_bend_clear(const geometry::Scene& scene, const Vec3& corner, const Vec3& to_before,
                                 const Vec3& to_after, double bend_radius_m, double clear_m);

}  // namespace holdfast::cable
