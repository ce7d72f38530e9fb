// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// Surfaces made ready for drawing: normals that are smooth over curved faces and break at edges, the edges themselves,
// and a surface grown outward.

#include <array>
#include <cstdint>
#include <vector>

#include "holdfast/geometry/mesh.h"

namespace holdfast::picture {

using geometry::TriangleMesh;
using geometry::Vec3;

/// An edge of the mesh with the faces on both sides of it.
struct Edge {
  std::array<std::uint32_t, 2> ends;  ///< into the welded vertices
  std::array<std::int32_t, 2> faces;  ///< -1: none; of more than two faces the first two
  bool is_crease = false;             ///< turns by more than `crease_rad`, or bounds the surface
};

/// A mesh whose vertices at one place are one vertex, its face normals, and its edges.
struct Welded {
  std::vector<Vec3> vertices;
  std::vector<std::array<std::uint32_t, 3>> triangles;  ///< those with area
  std::vector<Vec3> normals;                            ///< a triangle, unit
  std::vector<Edge> edges;
};
inline constexpr double crease_rad = 0.85;  // 49 deg: the sides of the coarsest drawn bar are 45 deg apart

[[nodiscard]] Welded weld(const TriangleMesh& mesh);

/// Vertices as drawn: one for each place and smooth run of faces.
struct Shaded {
  std::vector<Vec3> vertices;
  std::vector<Vec3> normals;
  std::vector<std::array<std::uint32_t, 3>> triangles;
  std::vector<std::array<std::uint32_t, 2>> edges;  ///< creases and rims
};
[[nodiscard]] Shaded shade(const TriangleMesh& mesh);

/// The surface moved outward so that each face lies at least `distance_m` farther out, short of needle points, which
/// are cut off at three times that.
[[nodiscard]] TriangleMesh grown(const TriangleMesh& mesh, double distance_m);

}  // namespace holdfast::picture
