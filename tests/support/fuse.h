// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// Bodies of a mesh made one skin, as a drawing office exports a body that it made by a union.

#include <cstddef>

#include "holdfast/geometry/mesh.h"

namespace holdfast::support {

struct Fused {
  geometry::TriangleMesh mesh;
  std::size_t bodies = 0;      ///< as given: connected by vertices
  std::size_t left_apart = 0;  ///< open ones, and those whose union failed
};

/// CGAL's union by corefinement of the closed bodies, one after the other; vertices at one place are made one.
[[nodiscard]] Fused fuse(const geometry::TriangleMesh& mesh);

}  // namespace holdfast::support
