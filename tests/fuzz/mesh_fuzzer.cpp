// SPDX-License-Identifier: GPL-3.0-or-later
// Readers of mesh files on any bytes: the first byte chooses the kind of file. Build and run: CMakeLists.txt beside
// this.

#include <cstdint>
#include <cstdlib>
#include <string>
#include <string_view>

#include "mesh_reader_impl.h"

using namespace holdfast::geometry::detail;

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  if (size == 0) return 0;
  const std::string bytes(reinterpret_cast<const char*>(data) + 1, size - 1);
  const std::string node = (data[0] & 8) != 0 ? "n" : "";
  // A buffer in a file is the document itself.
  const BufferSource buffers = [&](const std::string&) { return std::string_view(bytes); };
  try {
    RawMesh raw;
    switch (data[0] & 7) {
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
      for (const auto corner : t)
        if (corner >= raw.mesh.vertices.size()) std::abort();
  } catch (const BrokenMesh& broken) {
    if (broken.why.empty() || broken.remedy.empty()) std::abort();
  }
  return 0;
}
