// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// What hides what in a parallel view: a depth buffer fine enough for paper, and outlines of what was filled in.

#include <array>
#include <cstdint>
#include <limits>
#include <vector>

#include "holdfast/geometry/mesh.h"

namespace holdfast::picture {

using geometry::Vec3;
using Vec2 = Eigen::Vector2d;

/// A view along a direction. `right`, `up` and `toward` (the viewer) are unit and right-handed in this order.
struct Direction {
  const char* name;
  Vec3 right, up, toward;
  [[nodiscard]] Vec2 flat(const Vec3& p) const { return {p.dot(right), p.dot(up)}; }
  [[nodiscard]] double depth(const Vec3& p) const { return p.dot(toward); }
};

/// A grid of square cells over a rectangle of the view, in metres of the view.
class Raster {
 public:
  Raster(const Vec2& low, const Vec2& high, double cell_m);

  /// Fills cells whose middle the triangle covers, where it is nearer to the viewer than what was there.
  void fill(const Direction& view, const std::array<Vec3, 3>& triangle, std::int32_t owner);

  struct Cell {
    double depth = -std::numeric_limits<double>::infinity();
    std::int32_t owner = -1;  ///< -1: nothing
  };
  /// What is nearest to the viewer there; nothing outside of the grid.
  [[nodiscard]] Cell at(const Vec2& p) const;
  [[nodiscard]] double cell_m() const { return cell_m_; }

  /// Closed outlines round all that is filled, within a cell of the true ones, in metres of the view.
  [[nodiscard]] std::vector<std::vector<Vec2>> outlines() const;

 private:
  [[nodiscard]] bool is_filled(int column, int row) const;
  Vec2 low_;
  double cell_m_;
  int columns_, rows_;
  std::vector<Cell> cells_;
};

}  // namespace holdfast::picture
