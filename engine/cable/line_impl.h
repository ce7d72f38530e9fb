// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// Lines of a cable: lengths, turns, bends, and whether a piece is clear.

#include <array>
#include <cmath>
#include <vector>

#include "holdfast/geometry/scene.h"

namespace holdfast::cable {

using model::Vec3;

inline double length_of(const std::vector<Vec3>& line) {
  double length = 0;
  for (std::size_t i = 1; i < line.size(); ++i) length += (line[i] - line[i - 1]).norm();
  return length;
}

/// Angle between unit vectors, accurate at both ends of [0, pi].
inline double angle_between(const Vec3& u, const Vec3& v) { return 2 * std::atan2((u - v).norm(), (u + v).norm()); }

/// Does a tube round the piece keep `clear_m` from all structure? Errs to no by 0.05 mm.
inline bool is_piece_clear(const geometry::Scene& scene, const Vec3& a, const Vec3& b, double clear_m) {
  constexpr double tolerance_m = 5e-5;
  const Vec3 ends[] = {a, b};
  return scene.hull_distance(ends, clear_m + 2 * tolerance_m, tolerance_m) >= clear_m;
}

/// A bend. The cable passes somewhere between its corner and the arc: what is fixed at the corner is drawn towards the
/// arc, so all in between is taken as passed.
struct Fillet {
  Vec3 corner = Vec3::Zero();
  std::vector<Vec3> arc;  ///< from tangent point to tangent point; its chords are at most 0.1 mm inside of the arc
  [[nodiscard]] double tangent_m() const { return (arc.front() - corner).norm(); }
  [[nodiscard]] std::size_t triangle_count() const { return arc.size() - 1; }
  [[nodiscard]] std::array<Vec3, 3> triangle(std::size_t i) const { return {corner, arc[i], arc[i + 1]}; }
};
/// Requires: unit directions away from the corner, a turn of more than 1e-6 and less than pi.
[[nodiscard]] Fillet fillet_at(const Vec3& corner, const Vec3& to_before, const Vec3& to_after, double radius_m);

/// Does the cable's tube keep clear along the arc?
[[nodiscard]] bool is_arc_clear(const geometry::Scene& scene, const Fillet& bend, double clear_m);

/// What a cable takes of space, but for its own thickness: its corner line, and the bends at the corners.
struct Course {
  std::vector<Vec3> line;
  std::vector<Fillet> bends;
};
/// A bend at every inner corner, of a radius that the pieces beside it leave room for.
[[nodiscard]] Course course_of(std::vector<Vec3> line, double bend_radius_m);

/// Least distance between two segments, and where on the first. Source: Ericson, Real-Time Collision Detection
/// (2005), 5.1.9.
struct SegmentGap {
  double distance_m = 0;
  Vec3 at = Vec3::Zero();
};
[[nodiscard]] SegmentGap gap_between(const Vec3& a, const Vec3& b, const Vec3& c, const Vec3& d);
/// The same between two lines of one or more points.
[[nodiscard]] SegmentGap gap_between(const std::vector<Vec3>& line, const std::vector<Vec3>& other);
/// The same between two courses, bends included.
[[nodiscard]] SegmentGap gap_between(const Course& course, const Course& other);
/// Between a bend and a course.
[[nodiscard]] SegmentGap gap_between(const Fillet& bend, const Course& other);

}  // namespace holdfast::cable
