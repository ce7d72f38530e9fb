// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// Questions asked of loose triangles: which cross a plane near a point, which lie near, where a line meets them.
//
//   const geometry::TriangleTree tree(mesh);
//   tree.find_first_hit(p, normal, 0.1);
//
// Frame and units: the mesh's own, metres. Const members may be called from several threads at once. No promise is
// needed of the mesh beyond finite vertices and indices in range; both faces of a triangle count.

#include <cstdint>
#include <memory>
#include <optional>
#include <vector>

#include "holdfast/geometry/mesh.h"

namespace holdfast::geometry {

struct TriangleHit {
  std::uint32_t triangle = 0;
  double distance_m = 0;
  Vec3 point = Vec3::Zero();
};

class TriangleTree {
 public:
  /// Over all triangles of `mesh`, or those listed in `only`. Keeps a reference to the mesh, which must outlive it.
  explicit TriangleTree(const TriangleMesh& mesh);
  TriangleTree(const TriangleMesh& mesh, const std::vector<std::uint32_t>& only);
  TriangleTree(TriangleTree&&) noexcept;
  TriangleTree& operator=(TriangleTree&&) noexcept;
  ~TriangleTree();

  /// Triangles that may cross the plane through `p` with normal `d` within `radius_m` of `p`; none that does is
  /// missing. Appended to `out` in no promised order.
  void find_crossing(const Vec3& p, const Vec3& d, double radius_m, std::vector<std::uint32_t>& out) const;
  /// Triangles whose box comes within `radius_m` of the segment's box; appended to `out`.
  void find_near(const Vec3& a, const Vec3& b, double radius_m, std::vector<std::uint32_t>& out) const;
  /// Nothing when none is met within `max_m`. Requires: unit direction. `skip` is never met.
  [[nodiscard]] std::optional<TriangleHit> find_first_hit(const Vec3& origin, const Vec3& direction, double max_m,
                                                          std::uint32_t skip = UINT32_MAX) const;
  /// Every distance along the line from `a` to `b` (as a fraction of it) at which a triangle is met, ascending.
  [[nodiscard]] std::vector<double> find_crossings(const Vec3& a, const Vec3& b) const;
  /// Nothing when none is within the cutoff.
  [[nodiscard]] std::optional<TriangleHit> find_nearest(const Vec3& p, double cutoff_m) const;

 private:
  struct Impl;
  std::unique_ptr<Impl> impl_;
};

/// Nearest point of one triangle.
[[nodiscard]] Vec3 closest_point(const TriangleMesh& mesh, std::uint32_t triangle, const Vec3& p);

/// Vertices nearer than `tolerance_m` made one: index of the representative for each.
[[nodiscard]] std::vector<std::uint32_t> weld_vertices(const std::vector<Vec3>& vertices, double tolerance_m);

}  // namespace holdfast::geometry
