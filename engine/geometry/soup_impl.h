// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// Triangles as they come from files, made usable: welded, cleaned, split into shells, each shell checked and turned
// outward.

#include <array>
#include <cstddef>
#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "holdfast/geometry/mesh.h"

namespace holdfast::geometry::detail {

struct Shell {
  TriangleMesh mesh;  ///< outward where closed
  bool is_closed = false;
  bool was_flipped = false;
};

struct CleanSoup {
  std::vector<Shell> shells;
  std::size_t degenerate = 0;
  std::size_t duplicate = 0;
};

/// A side of a triangle, from its corner `side` to the next.
struct EdgeSide {
  std::uint32_t low, high;  ///< vertices, the smaller first
  std::uint32_t triangle, side;
};
/// All sides, ascending by `low`, `high`, `triangle` and `side`. Linear in triangles where no vertex has many.
[[nodiscard]] std::vector<EdgeSide> sides_by_edge(const std::vector<std::array<std::uint32_t, 3>>& triangles,
                                                  std::size_t vertices);

/// Requires: finite vertices, indices in range.
[[nodiscard]] CleanSoup clean_soup(const TriangleMesh& soup);

/// What CGAL makes of one shell; in shell_repair.cpp, so that its headers are compiled once.
struct Orientation {
  bool is_closed = false;
  bool was_flipped = false;
};
/// Turns the faces of a shell consistently, outward where it is closed. `mesh` is changed only in the order of corners.
[[nodiscard]] Orientation orient_shell(TriangleMesh& mesh);
/// The same, quickly, for a shell whose edges have two triangles each and whose vertices one ring: nothing for others,
/// or where it cannot be sure; `mesh` is then as it was.
[[nodiscard]] std::optional<Orientation> orient_plain_shell(TriangleMesh& mesh);
/// Pairs of triangles of one shell that cut each other (not counting shared corners and edges).
[[nodiscard]] std::size_t count_self_intersections(const TriangleMesh& mesh);
/// Convex hull, outward. Requires: four points that span a volume.
[[nodiscard]] TriangleMesh convex_hull(const std::vector<Vec3>& points);

}  // namespace holdfast::geometry::detail
