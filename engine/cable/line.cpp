// SPDX-License-Identifier: GPL-3.0-or-later
#include <Eigen/Geometry>
#include <algorithm>
#include <limits>
#include <numbers>

#include "holdfast/geometry/fillet.h"
#include "line_impl.h"

namespace holdfast::cable {

SegmentGap gap_between(const Vec3& a, const Vec3& b, const Vec3& c, const Vec3& d) {
  constexpr double point = 1e-18;  // a segment shorter than 1e-9 m
  const Vec3 u = b - a, v = d - c, r = a - c;
  const double uu = u.squaredNorm(), vv = v.squaredNorm(), uv = u.dot(v), ur = u.dot(r), vr = v.dot(r);
  const auto unit = [](double t) { return std::clamp(t, 0.0, 1.0); };
  double s = 0, t = 0;
  if (uu <= point && vv <= point) {
    s = t = 0;
  } else if (uu <= point) {
    t = unit(vr / vv);
  } else if (vv <= point) {
    s = unit(-ur / uu);
  } else {
    const double across = uu * vv - uv * uv;
    s = across > 1e-12 * uu * vv ? unit((uv * vr - ur * vv) / across) : 0;
    t = (uv * s + vr) / vv;
    if (t < 0) t = 0, s = unit(-ur / uu);
    if (t > 1) t = 1, s = unit((uv - ur) / uu);
  }
  const Vec3 on = a + s * u;
  return {(on - (c + t * v)).norm(), on};
}

SegmentGap gap_between(const std::vector<Vec3>& line, const std::vector<Vec3>& other) {
  SegmentGap least{std::numeric_limits<double>::infinity(), Vec3::Zero()};
  const auto next = [](const std::vector<Vec3>& points, std::size_t i) { return std::min(i + 1, points.size() - 1); };
  for (std::size_t i = 0; i + 1 < std::max<std::size_t>(line.size(), 2); ++i)
    for (std::size_t k = 0; k + 1 < std::max<std::size_t>(other.size(), 2); ++k)
      if (const auto gap = gap_between(line[i], line[next(line, i)], other[k], other[next(other, k)]);
          gap.distance_m < least.distance_m)
        least = gap;
  return least;
}

Fillet fillet_at(const Vec3& corner, const Vec3& to_before, const Vec3& to_after, double radius_m) {
  constexpr double sagitta_m = 1e-4;
  const double turn = std::numbers::pi - angle_between(to_before, to_after);
  const double step = 2 * std::acos(std::max(0.0, 1 - sagitta_m / std::max(radius_m, sagitta_m)));
  const int steps = std::max(1, static_cast<int>(std::ceil(turn / step)));
  const Vec3 start = corner + geometry::fillet_tangent_m(radius_m, turn) * to_before, in = -to_before;
  const Vec3 side = (to_after - to_after.dot(in) * in).normalized();
  Fillet bend{corner, {start}};
  for (int k = 1; k <= steps; ++k) {
    const double angle = turn * k / steps;
    bend.arc.emplace_back(start + radius_m * (std::sin(angle) * in + (1 - std::cos(angle)) * side));
  }
  return bend;
}

bool is_arc_clear(const geometry::Scene& scene, const Fillet& bend, double clear_m) {
  for (std::size_t k = 1; k < bend.arc.size(); ++k)
    if (!is_piece_clear(scene, bend.arc[k - 1], bend.arc[k], clear_m)) return false;
  return true;
}

Course course_of(std::vector<Vec3> line, double bend_radius_m) {
  constexpr double straight_rad = 1e-6, fold_rad = std::numbers::pi - 1e-6;
  Course course;
  for (std::size_t i = 1; i + 1 < line.size(); ++i) {
    const Vec3 before = line[i - 1] - line[i], after = line[i + 1] - line[i];
    const double room = std::min(before.norm(), after.norm());
    if (room <= 0) continue;
    const double turn = std::numbers::pi - angle_between(before.normalized(), after.normalized());
    if (turn < straight_rad || turn > fold_rad) continue;
    const double radius = std::min(bend_radius_m, room / std::tan(turn / 2));
    if (radius > 0) course.bends.push_back(fillet_at(line[i], before.normalized(), after.normalized(), radius));
  }
  course.line = std::move(line);
  return course;
}

namespace {

using Triangle = std::array<Vec3, 3>;

/// Where the segment goes through the triangle, if it does, else where an end of it stands off its inside.
SegmentGap gap_to_inside(const Vec3& a, const Vec3& b, const Triangle& t) {
  SegmentGap least{std::numeric_limits<double>::infinity(), a};
  const Vec3 normal = (t[1] - t[0]).cross(t[2] - t[0]);
  const double area = normal.norm();
  if (area < 1e-18) return least;  // a line, which its edges stand for
  const Vec3 up = normal / area;
  const auto is_over = [&](const Vec3& p) {
    for (int i = 0; i < 3; ++i)
      if (up.dot((t[(i + 1) % 3] - t[i]).cross(p - t[i])) < 0) return false;
    return true;
  };
  const double ha = up.dot(a - t[0]), hb = up.dot(b - t[0]);
  for (const auto& [p, h] : {std::pair(a, ha), std::pair(b, hb)})
    if (is_over(p) && std::abs(h) < least.distance_m) least = {std::abs(h), p};
  if ((ha < 0) != (hb < 0))
    if (const Vec3 through = a + (b - a) * (ha / (ha - hb)); is_over(through)) return {0, through};
  return least;
}

SegmentGap gap_to_triangle(const Vec3& a, const Vec3& b, const Triangle& t) {
  SegmentGap least = gap_to_inside(a, b, t);
  for (std::size_t i = 0; i < 3; ++i)
    if (const auto gap = gap_between(a, b, t[i], t[(i + 1) % 3]); gap.distance_m < least.distance_m) least = gap;
  return least;
}

SegmentGap triangle_gap(const Triangle& t, const Triangle& u) {
  SegmentGap least{std::numeric_limits<double>::infinity(), Vec3::Zero()};
  for (std::size_t i = 0; i < 3; ++i) {
    for (const auto& gap : {gap_to_triangle(t[i], t[(i + 1) % 3], u), gap_to_inside(u[i], u[(i + 1) % 3], t)})
      if (gap.distance_m < least.distance_m) least = gap;
  }
  return least;
}

/// The lesser of `least` and the gap from a bend to a line.
void offer(SegmentGap& least, const Fillet& bend, const std::vector<Vec3>& line, bool is_bend_first) {
  const double reach = bend.tangent_m();
  for (std::size_t k = 0; k + 1 < std::max<std::size_t>(line.size(), 2); ++k) {
    const Vec3 &c = line[k], &d = line[std::min(k + 1, line.size() - 1)];
    if (gap_between(c, d, bend.corner, bend.corner).distance_m - reach >= least.distance_m) continue;
    for (std::size_t i = 0; i < bend.triangle_count(); ++i) {
      const auto gap = gap_to_triangle(c, d, bend.triangle(i));
      if (gap.distance_m < least.distance_m) least = {gap.distance_m, is_bend_first ? bend.corner : gap.at};
    }
  }
}

void offer(SegmentGap& least, const Fillet& bend, const Fillet& other) {
  if ((bend.corner - other.corner).norm() - bend.tangent_m() - other.tangent_m() >= least.distance_m) return;
  for (std::size_t i = 0; i < bend.triangle_count(); ++i)
    for (std::size_t k = 0; k < other.triangle_count(); ++k)
      if (const auto gap = triangle_gap(bend.triangle(i), other.triangle(k)); gap.distance_m < least.distance_m)
        least = {gap.distance_m, bend.corner};
}

}  // namespace

SegmentGap gap_between(const Fillet& bend, const Course& other) {
  SegmentGap least{std::numeric_limits<double>::infinity(), bend.corner};
  offer(least, bend, other.line, true);
  for (const auto& second : other.bends) offer(least, bend, second);
  return least;
}

SegmentGap gap_between(const Course& course, const Course& other) {
  SegmentGap least = gap_between(course.line, other.line);
  for (const auto& bend : other.bends) offer(least, bend, course.line, false);
  for (const auto& bend : course.bends) {
    offer(least, bend, other.line, true);
    for (const auto& second : other.bends) offer(least, bend, second);
  }
  return least;
}

}  // namespace holdfast::cable
