// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// A triangle mesh as plain arrays. No promise of being closed, oriented or free of defects unless a function says so.

#include <Eigen/Core>
#include <array>
#include <cstdint>
#include <limits>
#include <vector>

namespace holdfast::geometry {

using Vec3 = Eigen::Vector3d;

struct TriangleMesh {
  std::vector<Vec3> vertices;
  std::vector<std::array<std::uint32_t, 3>>
      triangles;  ///< counter-clockwise seen from outside, where the mesh bounds a solid
};

/// Axis-aligned box; empty when min > max.
struct Bounds {
  Vec3 min = Vec3::Constant(std::numeric_limits<double>::infinity());
  Vec3 max = Vec3::Constant(-std::numeric_limits<double>::infinity());
  [[nodiscard]] bool is_empty() const { return (min.array() > max.array()).any(); }
  void extend(const Vec3& p) { min = min.cwiseMin(p), max = max.cwiseMax(p); }
};

}  // namespace holdfast::geometry
