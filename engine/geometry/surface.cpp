// SPDX-License-Identifier: GPL-3.0-or-later
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
      impl->shell.push_back(static_cast<std::uint32_t>(impl->shells));
    }
    ++impl->shells;
  }
  std::vector<Bounds> boxes(impl->mesh.triangles.size());
  for (std::uint32_t t = 0; t < boxes.size(); ++t)
    for (const auto& p : corners_of(impl->mesh, t)) boxes[t].extend(p);
  impl->hierarchy = detail::Bvh(boxes);
  impl_ = std::move(impl);
}

std::size_t Surface::triangle_count() const { return impl_->mesh.triangles.size(); }
std::size_t Surface::shell_count() const { return impl_->shells; }
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

}  // namespace detail

}  // namespace holdfast::geometry
