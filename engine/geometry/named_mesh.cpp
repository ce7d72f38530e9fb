// SPDX-License-Identifier: GPL-3.0-or-later
#include "holdfast/geometry/named_mesh.h"

#include <filesystem>

#include "mesh_file_impl.h"
#include "tessellate_impl.h"

namespace holdfast::geometry {

namespace fs = std::filesystem;

NamedMesh read_part_mesh(const model::Structure& structure, model::PartId id,
                         const model::Configuration& configuration) {
  const auto& part = structure.parts[id.index()];
  const auto* shape = std::get_if<model::MeshFile>(&part.shape);
  model::ensure(shape != nullptr, "the part's shape is a mesh file");
  auto read = detail::read_mesh(part, *shape, structure);
  const auto pose = structure.pose(id, configuration);
  for (auto& v : read.mesh.vertices) v = pose * v;
  return {std::move(read.mesh), std::move(read.nodes), std::move(read.node_of)};
}

NamedMesh read_mesh_file(const model::MeshFile& shape) {
  const fs::path path = shape.file;
  model::Structure around;
  around.folder = path.has_parent_path() ? path.parent_path().string() : ".";
  model::Part part;
  part.id = path.stem().string();
  part.mark.file = shape.file;
  model::MeshFile inside = shape;
  inside.file = path.filename().string();
  auto read = detail::read_mesh(part, inside, around);
  return {std::move(read.mesh), std::move(read.nodes), std::move(read.node_of)};
}

void append(TriangleMesh& mesh, const TriangleMesh& more) { detail::append(mesh, more); }

}  // namespace holdfast::geometry
