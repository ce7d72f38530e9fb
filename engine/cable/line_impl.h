#pragma once
// Lines of a cable: lengths, turns, and whether a piece is clear.

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

/// Least distance between two segments, and where on the first. Source: Ericson, Real-Time Collision Detection
/// (2005), 5.1.9.
struct SegmentGap {
  double distance_m = 0;
  Vec3 at = Vec3::Zero();
};
[[nodiscard]] SegmentGap gap_between(const Vec3& a, const Vec3& b, const Vec3& c, const Vec3& d);
/// The same between two lines of one or more points.
[[nodiscard]] SegmentGap gap_between(const std::vector<Vec3>& line, const std::vector<Vec3>& other);

}  // namespace holdfast::cable
