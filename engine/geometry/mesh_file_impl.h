#pragma once
// Mesh files (OBJ, PLY, STL, OFF, glTF, GLB) as triangles in the part's frame.

#include <string>

#include "holdfast/geometry/mesh.h"
#include "holdfast/model/structure.h"

namespace holdfast::geometry::detail {

/// Triangles in metres, node transforms applied, file's up-axis turned to +z; finite, indices in range, not empty.
/// Throws `model::InputError` that names the part, its line and the mesh file.
[[nodiscard]] TriangleMesh read_mesh(const model::Part& part, const model::MeshFile& mesh, const std::string& folder);

}  // namespace holdfast::geometry::detail
