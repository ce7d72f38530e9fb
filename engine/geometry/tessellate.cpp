// SPDX-License-Identifier: GPL-3.0-or-later
#include "tessellate_impl.h"

#include <cmath>
#include <numbers>

namespace holdfast::geometry::detail {

namespace {

constexpr double pi = std::numbers::pi;
constexpr int fewest_sides = 8;

/// Sides of a polygon round a circle whose corners stand out by at most the chord error: R / cos(pi / n) - R <= e.
int sides_of(double radius, double chord_error_m) {
  if (radius <= 0) return fewest_sides;
  const double half = std::acos(radius / (radius + chord_error_m));
  return std::max(fewest_sides, static_cast<int>(std::ceil(pi / half)));
}

std::uint32_t add(TriangleMesh& mesh, const Vec3& vertex) {
  mesh.vertices.push_back(vertex);
  return static_cast<std::uint32_t>(mesh.vertices.size() - 1);
}

}  // namespace

std::vector<Frustum> truss_bars(const model::Truss& truss) {
  const Vec3 along = truss.to - truss.from;
  const double length = along.norm();
  const Vec3 axis = along / length;
  const Vec3 up = (truss.up - truss.up.dot(axis) * axis).normalized();
  const Vec3 side = axis.cross(up);
  const double half = truss.width / 2;
  const std::array<Vec3, 4> corner = {half * (up + side), half * (up - side), half * (-up - side), half * (-up + side)};
  std::vector<Frustum> bars;
  const auto bar = [&](const Vec3& a, const Vec3& b) {
    bars.push_back({a, (b - a).normalized(), (b - a).norm(), truss.bar_radius, truss.bar_radius});
  };
  const auto frame = [&](int bay) { return Vec3(truss.from + along * (static_cast<double>(bay) / truss.bays)); };
  for (const auto& c : corner) bar(truss.from + c, truss.to + c);
  for (int bay = 0; bay <= truss.bays; ++bay)
    for (std::size_t k = 0; k < 4; ++k) bar(frame(bay) + corner[k], frame(bay) + corner[(k + 1) % 4]);
  for (int bay = 0; bay < truss.bays; ++bay)
    for (std::size_t k = 0; k < 4; ++k) {
      const bool is_even = bay % 2 == 0;  // diagonals zigzag
      bar(frame(bay) + corner[is_even ? k : (k + 1) % 4], frame(bay + 1) + corner[is_even ? (k + 1) % 4 : k]);
    }
  return bars;
}

Frustum frustum_of(const model::Cylinder& c) {
  const Vec3 along = c.to - c.from;
  return {c.from, along.normalized(), along.norm(), c.radius, c.radius};
}
Frustum frustum_of(const model::Cone& c) {
  const Vec3 along = c.to - c.from;
  return {c.from, along.normalized(), along.norm(), c.radius_from, c.radius_to};
}
Frustum frustum_of(const model::SolidCone& c) {
  return {c.apex, c.axis, c.length, 0, c.length * std::tan(c.half_angle_rad)};
}

TriangleMesh mesh_of(const Frustum& f, double chord_error_m) {
  TriangleMesh mesh;
  const int n = sides_of(std::max(f.radius_base, f.radius_top), chord_error_m);
  const double out = 1 / std::cos(pi / n);  // corners outside, edge middles on the circle
  const Vec3 u = f.axis.unitOrthogonal(), v = f.axis.cross(u);
  const Vec3 top = f.base + f.length * f.axis;
  const auto ring = [&](const Vec3& center, double radius) {
    std::vector<std::uint32_t> ids;
    if (radius <= 0) {
      ids.assign(static_cast<std::size_t>(n), add(mesh, center));
      return ids;
    }
    for (int i = 0; i < n; ++i) {
      const double angle = 2 * pi * i / n;
      ids.push_back(add(mesh, center + out * radius * (std::cos(angle) * u + std::sin(angle) * v)));
    }
    return ids;
  };
  const auto low = ring(f.base, f.radius_base), high = ring(top, f.radius_top);
  for (std::size_t i = 0; i < low.size(); ++i) {
    const std::size_t j = (i + 1) % low.size();
    if (low[i] != low[j]) mesh.triangles.push_back({low[i], low[j], high[j]});
    if (high[i] != high[j]) mesh.triangles.push_back({low[i], high[j], high[i]});
  }
  // End faces as fans from the middle, so that no triangle is a sliver across the disc.
  if (f.radius_base > 0) {
    const auto middle = add(mesh, f.base);
    for (std::size_t i = 0; i < low.size(); ++i) mesh.triangles.push_back({middle, low[(i + 1) % low.size()], low[i]});
  }
  if (f.radius_top > 0) {
    const auto middle = add(mesh, top);
    for (std::size_t i = 0; i < high.size(); ++i)
      mesh.triangles.push_back({middle, high[i], high[(i + 1) % high.size()]});
  }
  return mesh;
}

TriangleMesh mesh_of(const Ball& ball, double chord_error_m) {
  TriangleMesh mesh;
  const int n = sides_of(ball.radius, chord_error_m / 2), rows = std::max(4, n / 2);
  const auto at = [&](int row, int i) {
    const double polar = pi * row / rows, angle = 2 * pi * i / n;
    return Vec3(std::sin(polar) * std::cos(angle), std::sin(polar) * std::sin(angle), std::cos(polar));
  };
  const auto north = add(mesh, at(0, 0));
  for (int row = 1; row < rows; ++row)
    for (int i = 0; i < n; ++i) add(mesh, at(row, i));
  const auto south = add(mesh, at(rows, 0));
  const auto id = [&](int row, int i) { return static_cast<std::uint32_t>(1 + (row - 1) * n + (i % n)); };
  for (int i = 0; i < n; ++i) {
    mesh.triangles.push_back({north, id(1, i), id(1, i + 1)});
    mesh.triangles.push_back({south, id(rows - 1, i + 1), id(rows - 1, i)});
    for (int row = 1; row + 1 < rows; ++row) {
      mesh.triangles.push_back({id(row, i), id(row + 1, i), id(row + 1, i + 1)});
      mesh.triangles.push_back({id(row, i), id(row + 1, i + 1), id(row, i + 1)});
    }
  }
  // Blow up until the nearest face plane touches the unit sphere.
  double nearest = 1;
  for (const auto& t : mesh.triangles) {
    const Vec3 &a = mesh.vertices[t[0]], &b = mesh.vertices[t[1]], &c = mesh.vertices[t[2]];
    nearest = std::min(nearest, (b - a).cross(c - a).normalized().dot(a));
  }
  for (auto& v : mesh.vertices) v = ball.center + ball.radius / nearest * v;
  return mesh;
}

TriangleMesh mesh_of(const Brick& brick) {
  TriangleMesh mesh;
  for (int i = 0; i < 8; ++i)
    add(mesh, brick.center + brick.axes * Vec3((i & 1 ? 1 : -1) * brick.half.x(), (i & 2 ? 1 : -1) * brick.half.y(),
                                               (i & 4 ? 1 : -1) * brick.half.z()));
  mesh.triangles = {{0, 2, 3}, {0, 3, 1}, {4, 5, 7}, {4, 7, 6}, {0, 1, 5}, {0, 5, 4},
                    {2, 6, 7}, {2, 7, 3}, {0, 4, 6}, {0, 6, 2}, {1, 3, 7}, {1, 7, 5}};
  return mesh;
}

namespace {

struct DishGrid {
  int rings = 0, sides = 0;
};

/// Rings so that a chord of the parabola z = depth (r / radius)^2 leaves it by at most half the error: the sagitta of a
/// step s in r is depth s^2 / (4 radius^2). Round the axis the other half.
DishGrid grid_of(const model::Dish& dish, double chord_error_m) {
  const double half = std::acos(1 - std::min(1.0, chord_error_m / 2 / dish.radius));
  return {std::max(4, static_cast<int>(std::ceil(std::sqrt(dish.depth / (2 * chord_error_m))))),
          std::max(fewest_sides, static_cast<int>(std::ceil(pi / half)))};
}

}  // namespace

std::size_t count_triangles(const model::Dish& dish, double chord_error_m) {
  const auto [rings, sides] = grid_of(dish, chord_error_m);
  return static_cast<std::size_t>(sides) *
         (2 * (2 * static_cast<std::size_t>(rings) - 1) + 2);  // two faces and the rim
}

TriangleMesh mesh_of(const model::Dish& dish, double chord_error_m) {
  TriangleMesh mesh;
  const DishGrid grid = grid_of(dish, chord_error_m);
  const int rings = grid.rings, n = grid.sides;
  const auto at = [&](int ring, int i, double drop) {
    const double r = dish.radius * ring / rings, angle = 2 * pi * i / n;
    const double share = static_cast<double>(ring) / rings;
    return Vec3(r * std::cos(angle), r * std::sin(angle), dish.depth * share * share - drop);
  };
  std::array<std::uint32_t, 2> apex{};
  std::array<std::uint32_t, 2> first{};
  for (std::size_t side = 0; side < 2; ++side) {
    const double drop = side == 0 ? 0 : dish.thickness;
    apex[side] = add(mesh, at(0, 0, drop));
    first[side] = static_cast<std::uint32_t>(mesh.vertices.size());
    for (int ring = 1; ring <= rings; ++ring)
      for (int i = 0; i < n; ++i) add(mesh, at(ring, i, drop));
  }
  const auto id = [&](std::size_t side, int ring, int i) {
    return first[side] + static_cast<std::uint32_t>((ring - 1) * n + i % n);
  };
  const auto triangle = [&](std::size_t side, std::uint32_t a, std::uint32_t b, std::uint32_t c) {
    if (side == 0)
      mesh.triangles.push_back({a, b, c});
    else
      mesh.triangles.push_back({a, c, b});
  };
  for (std::size_t side = 0; side < 2; ++side)
    for (int i = 0; i < n; ++i) {
      triangle(side, apex[side], id(side, 1, i), id(side, 1, i + 1));
      for (int ring = 1; ring < rings; ++ring) {
        triangle(side, id(side, ring, i), id(side, ring + 1, i), id(side, ring + 1, i + 1));
        triangle(side, id(side, ring, i), id(side, ring + 1, i + 1), id(side, ring, i + 1));
      }
    }
  for (int i = 0; i < n; ++i) {  // the rim
    mesh.triangles.push_back({id(0, rings, i), id(1, rings, i), id(1, rings, i + 1)});
    mesh.triangles.push_back({id(0, rings, i), id(1, rings, i + 1), id(0, rings, i + 1)});
  }
  return mesh;
}

void append(TriangleMesh& to, const TriangleMesh& mesh) {
  const auto base = static_cast<std::uint32_t>(to.vertices.size());
  to.vertices.insert(to.vertices.end(), mesh.vertices.begin(), mesh.vertices.end());
  for (const auto& t : mesh.triangles) to.triangles.push_back({base + t[0], base + t[1], base + t[2]});
}

void transform(TriangleMesh& mesh, const model::Pose& pose) {
  for (auto& v : mesh.vertices) v = pose * v;
}

}  // namespace holdfast::geometry::detail
