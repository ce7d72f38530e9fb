// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// The convex pieces that a scene is made of, and the four questions asked of each: how near is it, where does a segment
// meet it, how far does it reach in a direction, what box holds it.

#include <Eigen/Core>
#include <Eigen/Geometry>
#include <algorithm>
#include <array>
#include <cmath>
#include <optional>
#include <variant>

#include "holdfast/geometry/mesh.h"

namespace holdfast::geometry::detail {

struct Triangle {
  std::array<Vec3, 3> corner;
};
struct Ball {
  Vec3 center;
  double radius;
};
struct Brick {
  Vec3 center;
  Eigen::Matrix3d axes;  // columns: unit axes
  Vec3 half;
};
/// Solid of revolution between two flat ends; a cylinder has equal radii, a cone one of 0.
struct Frustum {
  Vec3 base;
  Vec3 axis;  // unit
  double length;
  double radius_base;
  double radius_top;
};
using Primitive = std::variant<Triangle, Ball, Brick, Frustum>;

struct Closest {
  double distance;  // 0 inside
  Vec3 point;
};

// ---- closest points -----------------------------------------------------------------------------------------------

/// Closest point of a triangle (Ericson, Real-Time Collision Detection, 5.1.5: by Voronoi regions).
inline Vec3 closest_on_triangle(const Vec3& a, const Vec3& b, const Vec3& c, const Vec3& p) {
  const Vec3 ab = b - a, ac = c - a, ap = p - a;
  const double d1 = ab.dot(ap), d2 = ac.dot(ap);
  if (d1 <= 0 && d2 <= 0) return a;
  const Vec3 bp = p - b;
  const double d3 = ab.dot(bp), d4 = ac.dot(bp);
  if (d3 >= 0 && d4 <= d3) return b;
  const double vc = d1 * d4 - d3 * d2;
  if (vc <= 0 && d1 >= 0 && d3 <= 0) return a + d1 / (d1 - d3) * ab;
  const Vec3 cp = p - c;
  const double d5 = ab.dot(cp), d6 = ac.dot(cp);
  if (d6 >= 0 && d5 <= d6) return c;
  const double vb = d5 * d2 - d1 * d6;
  if (vb <= 0 && d2 >= 0 && d6 <= 0) return a + d2 / (d2 - d6) * ac;
  const double va = d3 * d6 - d5 * d4;
  if (va <= 0 && d4 - d3 >= 0 && d5 - d6 >= 0) return b + (d4 - d3) / ((d4 - d3) + (d5 - d6)) * (c - b);
  const double denominator = 1 / (va + vb + vc);
  return a + ab * (vb * denominator) + ac * (vc * denominator);
}

inline Closest closest(const Triangle& t, const Vec3& p) {
  const Vec3 q = closest_on_triangle(t.corner[0], t.corner[1], t.corner[2], p);
  return {(p - q).norm(), q};
}
inline Closest closest(const Ball& ball, const Vec3& p) {
  const Vec3 out = p - ball.center;
  const double d = out.norm();
  if (d <= ball.radius) return {0, p};
  return {d - ball.radius, ball.center + ball.radius / d * out};
}
inline Closest closest(const Brick& brick, const Vec3& p) {
  const Vec3 q = brick.axes.transpose() * (p - brick.center);
  const Vec3 inside = q.cwiseMax(-brick.half).cwiseMin(brick.half);
  const double d = (q - inside).norm();
  if (d == 0) return {0, p};
  return {d, brick.center + brick.axes * inside};
}

/// A point in the half-plane of a solid of revolution: distance from the axis, height along it.
struct Profile {
  double rho, z;
};
inline Profile closest_on_profile_segment(Profile a, Profile b, Profile p) {
  const double dr = b.rho - a.rho, dz = b.z - a.z, square = dr * dr + dz * dz;
  if (square == 0) return a;
  const double t = std::clamp(((p.rho - a.rho) * dr + (p.z - a.z) * dz) / square, 0.0, 1.0);
  return {a.rho + t * dr, a.z + t * dz};
}
/// Nearest point on the outline of a frustum, and whether `p` lies inside it.
inline std::pair<Profile, bool> closest_on_outline(const Frustum& f, Profile p) {
  const std::array<Profile, 4> corner = {Profile{0, 0}, {f.radius_base, 0}, {f.radius_top, f.length}, {0, f.length}};
  Profile best{};
  double least = std::numeric_limits<double>::infinity();
  for (int i = 0; i < 3; ++i) {
    const Profile q =
        closest_on_profile_segment(corner[static_cast<std::size_t>(i)], corner[static_cast<std::size_t>(i) + 1], p);
    const double square = (q.rho - p.rho) * (q.rho - p.rho) + (q.z - p.z) * (q.z - p.z);
    if (square < least) least = square, best = q;
  }
  const double radius_here = f.radius_base + (f.radius_top - f.radius_base) * p.z / f.length;
  return {best, p.z >= 0 && p.z <= f.length && p.rho <= radius_here};
}
inline Closest closest(const Frustum& f, const Vec3& p) {
  const Vec3 from_base = p - f.base;
  const double z = from_base.dot(f.axis);
  const Vec3 radial = from_base - z * f.axis;
  const double rho = radial.norm();
  const auto [q, is_inside] = closest_on_outline(f, {rho, z});
  if (is_inside) return {0, p};
  const Vec3 out = rho > 0 ? Vec3(radial / rho) : Vec3(f.axis.unitOrthogonal());
  return {std::hypot(q.rho - rho, q.z - z), f.base + q.z * f.axis + q.rho * out};
}

// ---- segments: least t in [0, 1] where a + t d touches the piece, 0 when it starts inside
// ---------------------------------

inline std::optional<double> first_touch(const Ball& ball, const Vec3& a, const Vec3& d) {
  const Vec3 from = a - ball.center;
  const double c = from.squaredNorm() - ball.radius * ball.radius;
  if (c <= 0) return 0.0;
  const double dd = d.squaredNorm(), b = from.dot(d);
  const double discriminant = b * b - dd * c;
  if (dd == 0 || discriminant < 0) return std::nullopt;
  const double t = (-b - std::sqrt(discriminant)) / dd;
  return t >= 0 && t <= 1 ? std::optional(t) : std::nullopt;
}

inline std::optional<double> first_touch(const Brick& brick, const Vec3& a, const Vec3& d) {
  const Vec3 p = brick.axes.transpose() * (a - brick.center), v = brick.axes.transpose() * d;
  double enter = 0, leave = 1;
  for (int i = 0; i < 3; ++i) {
    if (v[i] == 0) {
      if (std::abs(p[i]) > brick.half[i]) return std::nullopt;
      continue;
    }
    double t0 = (-brick.half[i] - p[i]) / v[i], t1 = (brick.half[i] - p[i]) / v[i];
    if (t0 > t1) std::swap(t0, t1);
    enter = std::max(enter, t0), leave = std::min(leave, t1);
    if (enter > leave) return std::nullopt;
  }
  return enter;
}

inline std::optional<double> first_touch(const Frustum& f, const Vec3& a, const Vec3& d) {
  const Vec3 from = a - f.base;
  const double z0 = from.dot(f.axis), dz = d.dot(f.axis);
  const Vec3 q0 = from - z0 * f.axis, dq = d - dz * f.axis;
  const double slope = (f.radius_top - f.radius_base) / f.length;
  if (z0 >= 0 && z0 <= f.length && q0.norm() <= f.radius_base + slope * z0) return 0.0;
  double best = 2;
  const auto take = [&](double t) {
    if (t >= 0 && t <= 1 && t < best) best = t;
  };
  if (dz != 0) {
    for (const auto& [height, radius] : {std::pair{0.0, f.radius_base}, std::pair{f.length, f.radius_top}}) {
      const double t = (height - z0) / dz;
      if ((q0 + t * dq).squaredNorm() <= radius * radius) take(t);
    }
  }
  // |q0 + t dq| = radius_base + slope (z0 + t dz)
  const double r0 = f.radius_base + slope * z0, dr = slope * dz;
  const double qa = dq.squaredNorm() - dr * dr, qb = q0.dot(dq) - r0 * dr, qc = q0.squaredNorm() - r0 * r0;
  const auto take_side = [&](double t) {
    const double z = z0 + t * dz;
    if (z >= 0 && z <= f.length && r0 + t * dr >= 0) take(t);
  };
  if (qa == 0) {
    if (qb != 0) take_side(-qc / (2 * qb));
  } else if (const double discriminant = qb * qb - qa * qc; discriminant >= 0) {
    const double root = std::sqrt(discriminant);
    take_side((-qb - root) / qa), take_side((-qb + root) / qa);
  }
  return best <= 1 ? std::optional(best) : std::nullopt;
}

/// Squared distance between segments p + s u and q + t v, s, t in [0, 1] (Ericson 5.1.9), with s.
inline std::pair<double, double> segment_distance_squared(const Vec3& p, const Vec3& u, const Vec3& q, const Vec3& v) {
  const Vec3 r = p - q;
  const double a = u.squaredNorm(), e = v.squaredNorm(), f = v.dot(r), c = u.dot(r), b = u.dot(v);
  double s = 0, t = 0;
  if (a == 0) {
    t = e == 0 ? 0 : std::clamp(f / e, 0.0, 1.0);
  } else if (e == 0) {
    s = std::clamp(-c / a, 0.0, 1.0);
  } else {
    const double denominator = a * e - b * b;
    s = denominator > 0 ? std::clamp((b * f - c * e) / denominator, 0.0, 1.0) : 0.0;
    t = (b * s + f) / e;
    if (t < 0)
      t = 0, s = std::clamp(-c / a, 0.0, 1.0);
    else if (t > 1)
      t = 1, s = std::clamp((b - c) / a, 0.0, 1.0);
  }
  return {(r + s * u - t * v).squaredNorm(), s};
}

inline std::optional<double> first_touch(const Triangle& tri, const Vec3& a, const Vec3& d) {
  const Vec3 e1 = tri.corner[1] - tri.corner[0], e2 = tri.corner[2] - tri.corner[0];
  const Vec3 normal = e1.cross(e2);
  const double slope = normal.dot(d), height = normal.dot(a - tri.corner[0]);
  const double scale = normal.norm();
  if (std::abs(slope) > 1e-14 * scale * d.norm()) {
    // Moeller and Trumbore 1997, both sides.
    const double t = -height / slope;
    if (t < 0 || t > 1) return std::nullopt;
    const Vec3 p = a + t * d - tri.corner[0];
    const double u = p.cross(e2).dot(normal), v = e1.cross(p).dot(normal), area = normal.squaredNorm();
    return u >= 0 && v >= 0 && u + v <= area ? std::optional(t) : std::nullopt;
  }
  if (std::abs(height) > 1e-12 * scale) return std::nullopt;
  // In the triangle's plane: it touches where it starts inside or crosses an edge.
  if (closest(tri, a).distance < 1e-12) return 0.0;
  double best = 2;
  for (int i = 0; i < 3; ++i) {
    const Vec3& from = tri.corner[static_cast<std::size_t>(i)];
    const auto [square, s] =
        segment_distance_squared(a, d, from, tri.corner[static_cast<std::size_t>((i + 1) % 3)] - from);
    if (square < 1e-24) best = std::min(best, s);
  }
  return best <= 1 ? std::optional(best) : std::nullopt;
}

// ---- support points and boxes -------------------------------------------------------------------------------------

inline Vec3 support(const Triangle& t, const Vec3& direction) {
  const double d0 = t.corner[0].dot(direction), d1 = t.corner[1].dot(direction), d2 = t.corner[2].dot(direction);
  return d0 >= d1 && d0 >= d2 ? t.corner[0] : d1 >= d2 ? t.corner[1] : t.corner[2];
}
inline Vec3 support(const Ball& ball, const Vec3& direction) {
  const double n = direction.norm();
  return n > 0 ? Vec3(ball.center + ball.radius / n * direction) : ball.center;
}
inline Vec3 support(const Brick& brick, const Vec3& direction) {
  const Vec3 local = brick.axes.transpose() * direction;
  return brick.center + brick.axes * Vec3(std::copysign(brick.half.x(), local.x()),
                                          std::copysign(brick.half.y(), local.y()),
                                          std::copysign(brick.half.z(), local.z()));
}
inline Vec3 support(const Frustum& f, const Vec3& direction) {
  const double along = direction.dot(f.axis);
  // Twice: along the axis the first difference is rounding alone, and made a unit vector it would point off the rim.
  const Vec3 rough = direction - along * f.axis;
  const Vec3 across = rough - rough.dot(f.axis) * f.axis;
  const double n = across.norm();
  const Vec3 rim = n > 1e-12 * direction.norm() ? Vec3(across / n) : Vec3(Vec3::Zero());
  const double base = f.radius_base * n, top = f.radius_top * n + along * f.length;
  return base >= top ? Vec3(f.base + f.radius_base * rim) : Vec3(f.base + f.length * f.axis + f.radius_top * rim);
}

inline Bounds bounds_of(const Primitive& primitive) {
  Bounds box;
  std::visit(
      [&](const auto& p) {
        for (int i = 0; i < 3; ++i) {
          box.extend(support(p, Vec3::Unit(i)));
          box.extend(support(p, -Vec3::Unit(i)));
        }
      },
      primitive);
  return box;
}

inline Closest closest(const Primitive& primitive, const Vec3& p) {
  return std::visit([&](const auto& shape) { return closest(shape, p); }, primitive);
}
inline std::optional<double> first_touch(const Primitive& primitive, const Vec3& a, const Vec3& d) {
  return std::visit([&](const auto& shape) { return first_touch(shape, a, d); }, primitive);
}
inline Vec3 support(const Primitive& primitive, const Vec3& direction) {
  return std::visit([&](const auto& shape) { return support(shape, direction); }, primitive);
}

}  // namespace holdfast::geometry::detail
