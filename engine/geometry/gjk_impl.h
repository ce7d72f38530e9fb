// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// Distance between two convex bodies from their support points: Gilbert, Johnson and Keerthi, IEEE J. Robotics and
// Automation 4 (1988); closest point of the simplex by Ericson, Real-Time Collision Detection, 5.1. The bound returned
// is that of the best separating plane seen, so it is never above the true distance, wherever the iteration stops.

#include <Eigen/Core>
#include <array>
#include <cmath>
#include <span>

#include "primitive_impl.h"

namespace holdfast::geometry::detail {

/// Farthest of `points` in a direction.
inline const Vec3& support_of_points(std::span<const Vec3> points, const Vec3& direction) {
  std::size_t best = 0;
  double most = points[0].dot(direction);
  for (std::size_t i = 1; i < points.size(); ++i)
    if (const double d = points[i].dot(direction); d > most) most = d, best = i;
  return points[best];
}

struct HullDistance {
  double lower_m = 0;           ///< never above the true distance
  Vec3 on_body = Vec3::Zero();  ///< near the closest point of the second body
};

/// Simplex of points of the Minkowski difference A - B, with where each came from on B.
class Simplex {
 public:
  void add(const Vec3& difference, const Vec3& on_b) { w_[count_] = difference, b_[count_++] = on_b; }

  [[nodiscard]] bool holds(const Vec3& w) const {
    for (std::size_t i = 0; i < count_; ++i)
      if ((w_[i] - w).squaredNorm() <= 1e-24 * (1 + w.squaredNorm())) return true;
    return false;
  }

  /// Reduces to the face nearest to the origin and returns the nearest point; zero when the origin lies inside.
  Vec3 reduce() {
    switch (count_) {
      case 1:
        weight_ = {1, 0, 0, 0};
        return w_[0];
      case 2:
        return reduce_segment();
      case 3:
        return reduce_triangle();
      default:
        return reduce_tetrahedron();
    }
  }

  [[nodiscard]] Vec3 point_on_b() const {
    Vec3 p = Vec3::Zero();
    for (std::size_t i = 0; i < count_; ++i) p += weight_[i] * b_[i];
    return p;
  }

 private:
  void keep(std::array<std::size_t, 4> which, std::array<double, 4> weights, std::size_t count) {
    std::array<Vec3, 4> w = w_, b = b_;
    for (std::size_t i = 0; i < count; ++i) w_[i] = w[which[i]], b_[i] = b[which[i]], weight_[i] = weights[i];
    count_ = count;
  }

  Vec3 reduce_segment() {
    const Vec3 d = w_[1] - w_[0];
    const double square = d.squaredNorm();
    const double t = square > 0 ? std::clamp(-w_[0].dot(d) / square, 0.0, 1.0) : 0.0;
    if (t <= 0)
      keep({0}, {1}, 1);
    else if (t >= 1)
      keep({1}, {1}, 1);
    else
      keep({0, 1}, {1 - t, t}, 2);
    return current();
  }

  Vec3 current() const {
    Vec3 p = Vec3::Zero();
    for (std::size_t i = 0; i < count_; ++i) p += weight_[i] * w_[i];
    return p;
  }

  /// Barycentric weights of the point of triangle i, j, k nearest to the origin.
  std::array<double, 3> weights_of(std::size_t i, std::size_t j, std::size_t k) const {
    const Vec3 &a = w_[i], &b = w_[j], &c = w_[k];
    const Vec3 ab = b - a, ac = c - a;
    const double d1 = -ab.dot(a), d2 = -ac.dot(a);
    if (d1 <= 0 && d2 <= 0) return {1, 0, 0};
    const double d3 = -ab.dot(b), d4 = -ac.dot(b);
    if (d3 >= 0 && d4 <= d3) return {0, 1, 0};
    const double vc = d1 * d4 - d3 * d2;
    if (vc <= 0 && d1 >= 0 && d3 <= 0) return {1 - d1 / (d1 - d3), d1 / (d1 - d3), 0};
    const double d5 = -ab.dot(c), d6 = -ac.dot(c);
    if (d6 >= 0 && d5 <= d6) return {0, 0, 1};
    const double vb = d5 * d2 - d1 * d6;
    if (vb <= 0 && d2 >= 0 && d6 <= 0) return {1 - d2 / (d2 - d6), 0, d2 / (d2 - d6)};
    const double va = d3 * d6 - d5 * d4;
    if (va <= 0 && d4 - d3 >= 0 && d5 - d6 >= 0) {
      const double t = (d4 - d3) / ((d4 - d3) + (d5 - d6));
      return {0, 1 - t, t};
    }
    const double sum = va + vb + vc;
    return {va / sum, vb / sum, vc / sum};
  }

  Vec3 keep_triangle(std::size_t i, std::size_t j, std::size_t k) {
    const auto weights = weights_of(i, j, k);
    const std::array<std::size_t, 3> from = {i, j, k};
    std::array<std::size_t, 4> which{};
    std::array<double, 4> kept{};
    std::size_t count = 0;
    for (std::size_t n = 0; n < 3; ++n)
      if (weights[n] > 0) which[count] = from[n], kept[count++] = weights[n];
    keep(which, kept, count);
    return current();
  }

  Vec3 reduce_triangle() { return keep_triangle(0, 1, 2); }

  Vec3 reduce_tetrahedron() {
    static constexpr std::size_t face[4][4] = {{0, 1, 2, 3}, {0, 1, 3, 2}, {0, 2, 3, 1}, {1, 2, 3, 0}};
    double least = std::numeric_limits<double>::infinity();
    int best = -1;
    for (int f = 0; f < 4; ++f) {
      const auto [i, j, k, opposite] = std::to_array(face[f]);
      const Vec3 normal = (w_[j] - w_[i]).cross(w_[k] - w_[i]);
      const double side_origin = -normal.dot(w_[i]), side_opposite = normal.dot(w_[opposite] - w_[i]);
      // Flat tetrahedra have no inside; the origin is then judged by the faces alone.
      if (side_origin * side_opposite > 0 && std::abs(side_opposite) > 1e-14 * normal.norm()) continue;
      const auto weights = weights_of(i, j, k);
      const double square = (weights[0] * w_[i] + weights[1] * w_[j] + weights[2] * w_[k]).squaredNorm();
      if (square < least) least = square, best = f;
    }
    if (best < 0) return Vec3::Zero();  // the origin lies inside: the bodies overlap
    return keep_triangle(face[best][0], face[best][1], face[best][2]);
  }

  std::array<Vec3, 4> w_, b_;
  std::array<double, 4> weight_{};
  std::size_t count_ = 0;
};

/// Lower bound on the distance between hull(points) and a convex body given by its support function, within
/// `tolerance_m` of the true one unless rounding stops it earlier; stops as soon as the bound passes `cutoff_m`.
template <class Support>
HullDistance hull_distance(std::span<const Vec3> points, Support&& support_b, double cutoff_m, double tolerance_m) {
  Simplex simplex;
  const Vec3 start_b = support_b(Vec3(points[0]));
  Vec3 v = points[0] - start_b;
  HullDistance result;
  simplex.add(v, start_b);
  v = simplex.reduce();
  result.on_body = start_b;
  constexpr int most_steps = 200;
  for (int step = 0; step < most_steps; ++step) {
    const double length = v.norm();
    if (length < 1e-12) return {0, simplex.point_on_b()};
    const Vec3 on_b = support_b(v);
    const Vec3 w = support_of_points(points, -v) - on_b;
    result.lower_m = std::max(result.lower_m, v.dot(w) / length);
    result.on_body = simplex.point_on_b();
    if (length - result.lower_m <= tolerance_m || result.lower_m > cutoff_m || simplex.holds(w)) return result;
    simplex.add(w, on_b);
    v = simplex.reduce();
  }
  return result;
}

}  // namespace holdfast::geometry::detail
