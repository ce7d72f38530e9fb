// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// Turning from one unit direction to another.

#include <algorithm>
#include <cmath>

#include "holdfast/model/structure.h"

namespace holdfast::graph::detail {

using model::Vec3;

/// Angle between unit vectors, accurate at both ends of [0, pi] (acos of the dot product is not).
inline double angle_between(const Vec3& u, const Vec3& v) { return 2 * std::atan2((u - v).norm(), (u + v).norm()); }

/// A unit vector perpendicular to `u`; a fixed function of `u`.
inline Vec3 any_perpendicular(const Vec3& u) {
  Vec3 axis = Vec3::UnitX();
  if (std::abs(u.x()) > 0.9) axis = Vec3::UnitY();
  return (axis - axis.dot(u) * u).normalized();
}

/// Spherical interpolation between unit vectors, with its geometry worked out once.
class Slerp {
 public:
  Slerp(const Vec3& from, const Vec3& to) : from_(from), angle_(angle_between(from, to)) {
    if (angle_ < 1e-12) {
      side_ = Vec3::Zero(), angle_ = 0;
      return;
    }
    const Vec3 across = to - to.dot(from) * from;
    side_ = across.norm() > 1e-9 ? Vec3(across.normalized()) : any_perpendicular(from);
  }
  [[nodiscard]] double angle() const { return angle_; }
  [[nodiscard]] Vec3 at(double t) const {
    return angle_ == 0 ? from_ : Vec3(std::cos(t * angle_) * from_ + std::sin(t * angle_) * side_);
  }
  /// d/dt of `at`.
  [[nodiscard]] Vec3 derivative(double t) const {
    return angle_ == 0 ? Vec3(Vec3::Zero())
                       : Vec3(angle_ * (std::cos(t * angle_) * side_ - std::sin(t * angle_) * from_));
  }

 private:
  Vec3 from_, side_;
  double angle_;
};

}  // namespace holdfast::graph::detail
