#include <Eigen/Geometry>
#include <algorithm>
#include <unordered_map>

#include "holdfast/model/diagnostic.h"
#include "primitive_impl.h"
#include "soup_impl.h"
#include "surface_impl.h"

namespace holdfast::geometry {

namespace {

using Corners = std::array<Vec3, 3>;

Corners corners_of(const TriangleMesh& mesh, std::uint32_t triangle) {
  const auto& t = mesh.triangles[triangle];
  return {mesh.vertices[t[0]], mesh.vertices[t[1]], mesh.vertices[t[2]]};
}

/// Triangles in order whose leaf passes `touches` and which pass `takes` themselves.
template <class Touches, class Takes>
std::vector<std::uint32_t> select(const detail::Bvh& hierarchy, Touches&& touches, Takes&& takes) {
  std::vector<std::uint32_t> found;
  hierarchy.any(touches, [&](std::uint32_t triangle) {
    if (takes(triangle)) found.push_back(triangle);
    return false;
  });
  std::sort(found.begin(), found.end());
  return found;
}

/// Clips a convex polygon to the half-space of points with sign * p[axis] <= limit (Sutherland and Hodgman 1974).
std::vector<Vec3> clip(const std::vector<Vec3>& polygon, int axis, double sign, double limit) {
  std::vector<Vec3> inside;
  for (std::size_t i = 0; i < polygon.size(); ++i) {
    const Vec3 &p = polygon[i], &q = polygon[(i + 1) % polygon.size()];
    const double over_p = sign * p[axis] - limit, over_q = sign * q[axis] - limit;
    if (over_p <= 0) inside.push_back(p);
    if ((over_p <= 0) != (over_q <= 0)) inside.push_back(p + over_p / (over_p - over_q) * (q - p));
  }
  return inside;
}

}  // namespace

Surface::Surface(const TriangleMesh& mesh, double chord_error_m) {
  for (const auto& v : mesh.vertices) model::ensure(v.allFinite(), "a surface has finite vertices");
  for (const auto& t : mesh.triangles)
    for (const auto corner : t) model::ensure(corner < mesh.vertices.size(), "a surface's indices are in range");
  auto impl = std::make_shared<Impl>();
  impl->chord_error_m = chord_error_m;
  for (const auto& shell : detail::clean_soup(mesh).shells) {
    const auto base = static_cast<std::uint32_t>(impl->mesh.vertices.size());
    impl->mesh.vertices.insert(impl->mesh.vertices.end(), shell.mesh.vertices.begin(), shell.mesh.vertices.end());
    for (const auto& t : shell.mesh.triangles) {
      impl->mesh.triangles.push_back({base + t[0], base + t[1], base + t[2]});
      impl->shell.push_back(static_cast<std::uint32_t>(impl->is_closed.size()));
    }
    impl->is_closed.push_back(shell.is_closed);
  }
  std::vector<Bounds> boxes(impl->mesh.triangles.size());
  for (std::uint32_t t = 0; t < boxes.size(); ++t)
    for (const auto& p : corners_of(impl->mesh, t)) boxes[t].extend(p);
  impl->hierarchy = detail::Bvh(boxes);
  impl_ = std::move(impl);
}

std::size_t Surface::triangle_count() const { return impl_->mesh.triangles.size(); }
std::size_t Surface::shell_count() const { return impl_->is_closed.size(); }
double Surface::chord_error_m() const { return impl_->chord_error_m; }

namespace detail {

Cut cut_all(const Surface::Impl& surface) { return {surface.mesh, surface.shell}; }

Cut cut_ball(const Surface::Impl& surface, const PatchArea& area) {
  const double square = area.radius_m * area.radius_m;
  const auto taken = select(
      surface.hierarchy, [&](const Bvh::Node& node) { return squared_distance(node, area.center) <= square; },
      [&](std::uint32_t t) {
        const auto c = corners_of(surface.mesh, t);
        return (closest_on_triangle(c[0], c[1], c[2], area.center) - area.center).squaredNorm() <= square;
      });
  Cut cut;
  std::unordered_map<std::uint32_t, std::uint32_t> renumbered;
  for (const auto t : taken) {
    std::array<std::uint32_t, 3> corner{};
    for (std::size_t i = 0; i < 3; ++i) {
      const auto vertex = surface.mesh.triangles[t][i];
      const auto [entry, is_new] = renumbered.try_emplace(vertex, static_cast<std::uint32_t>(cut.mesh.vertices.size()));
      if (is_new) cut.mesh.vertices.push_back(surface.mesh.vertices[vertex]);
      corner[i] = entry->second;
    }
    cut.mesh.triangles.push_back(corner);
    cut.shell.push_back(surface.shell[t]);
  }
  return cut;
}

Cut cut_cube(const Surface::Impl& surface, const PatchArea& area) {
  Bounds cube;
  cube.extend(area.center - Vec3::Constant(area.radius_m)), cube.extend(area.center + Vec3::Constant(area.radius_m));
  const auto near = select(
      surface.hierarchy, [&](const Bvh::Node& node) { return squared_distance(node, cube) <= 0; },
      [](std::uint32_t) { return true; });
  Cut cut;
  for (const auto t : near) {
    const auto corners = corners_of(surface.mesh, t);
    std::vector<Vec3> polygon(corners.begin(), corners.end());
    for (int axis = 0; axis < 3; ++axis) {
      polygon = clip(polygon, axis, 1, cube.max[axis]);
      polygon = clip(polygon, axis, -1, -cube.min[axis]);
    }
    const auto base = static_cast<std::uint32_t>(cut.mesh.vertices.size());
    cut.mesh.vertices.insert(cut.mesh.vertices.end(), polygon.begin(), polygon.end());
    for (std::uint32_t i = 2; i < polygon.size(); ++i) {
      const double area2 = (polygon[i - 1] - polygon[0]).cross(polygon[i] - polygon[0]).norm();
      if (area2 <= 1e-14) continue;  // what clipping leaves of a triangle that touches the border
      cut.mesh.triangles.push_back({base, base + i - 1, base + i});
      cut.shell.push_back(surface.shell[t]);
    }
  }
  return cut;
}

}  // namespace detail

}  // namespace holdfast::geometry
