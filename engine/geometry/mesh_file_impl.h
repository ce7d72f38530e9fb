// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// Mesh files (OBJ, PLY, STL, OFF, glTF, GLB) as triangles in the part's frame.

#include <string>

#include "holdfast/geometry/mesh.h"
#include "holdfast/model/structure.h"

namespace holdfast::geometry::detail {

struct ReadMesh {
  TriangleMesh mesh;
  std::vector<std::string> remarks;    ///< one sentence each, for `check`
  std::vector<std::string> nodes;      ///< that have triangles, in the order of the file
  std::vector<std::uint32_t> node_of;  ///< of each triangle, into `nodes`
};

/// What tells the kind of a mesh file: its extension in small letters, as `.obj`.
[[nodiscard]] std::string kind_of(const std::string& file);

/// Triangles in metres, node transforms applied, file's up-axis turned to +z; finite, corners in range, not empty, and
/// all that the file promises: a file that is not whole is refused. Throws `model::InputError` that names the part, its
/// line and the mesh file.
[[nodiscard]] ReadMesh read_mesh(const model::Part& part, const model::MeshFile& mesh,
                                 const model::Structure& structure);

}  // namespace holdfast::geometry::detail
