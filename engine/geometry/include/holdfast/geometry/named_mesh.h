// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// A mesh file's triangles as they stand in the file, with the node that each came from: for what looks for things in a
// mesh, where `Scene` takes it as one solid.

#include <string>
#include <vector>

#include "holdfast/geometry/mesh.h"
#include "holdfast/model/structure.h"

namespace holdfast::geometry {

struct NamedMesh {
  TriangleMesh mesh;                   ///< neither welded nor cleaned; finite, indices in range, not empty
  std::vector<std::string> nodes;      ///< those that have triangles, in the order of the file; may be empty names
  std::vector<std::uint32_t> node_of;  ///< of each triangle, into `nodes`
};

/// The mesh of a part in the structure frame. Requires: the part's shape is a mesh file, and it is present.
/// Throws `model::InputError` that names the part, its line and the mesh file.
[[nodiscard]] NamedMesh read_part_mesh(const model::Structure& structure, model::PartId part,
                                       const model::Configuration& configuration);

/// A mesh file outside of any model, in its own frame turned so that `up` is +z. `shape.file` is the path as a person
/// types it. Buffers that a glTF file names must lie below the file's folder. Throws as above.
[[nodiscard]] NamedMesh read_mesh_file(const model::MeshFile& shape);

/// Puts the vertices and triangles of `more` behind those of `mesh`.
void append(TriangleMesh& mesh, const TriangleMesh& more);

}  // namespace holdfast::geometry
