// SPDX-License-Identifier: GPL-3.0-or-later
#include "mesh_reader_impl.h"
#include "targets.h"

namespace holdfast::fuzz {

using namespace geometry::detail;

void mesh(std::string_view input) {
  if (input.empty()) return;
  const std::string bytes(input.substr(1));
  const std::string node = (input[0] & 8) != 0 ? "n" : "";
  // A buffer in a file is the document itself.
  const BufferSource buffers = [&](const std::string&) { return std::string_view(bytes); };
  try {
    RawMesh raw;
    switch (input[0] & 7) {
      case 0:
        raw = read_obj(bytes, node);
        break;
      case 1:
        raw = read_off(bytes, node);
        break;
      case 2:
        raw = read_ply(bytes, node);
        break;
      case 3:
        raw = read_stl(bytes, node);
        break;
      default:
        raw = read_gltf(bytes, node, buffers);
    }
    for (const auto& t : raw.mesh.triangles)
      for (const auto corner : t) require(corner < raw.mesh.vertices.size(), "a triangle without its corner");
  } catch (const BrokenMesh& broken) {
    require(!broken.why.empty() && !broken.remedy.empty(), "a mesh refused without a word");
  }
}

}  // namespace holdfast::fuzz
