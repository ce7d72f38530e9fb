// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// Readers of mesh files, safe on any bytes: they read the faces and the corners and nothing else, compare every count,
// index and length with what the file has before memory is taken, and never recurse. A file that is not whole is
// refused, never read in part.

#include <bit>
#include <cstddef>
#include <cstdint>
#include <functional>
#include <map>
#include <string>
#include <string_view>
#include <vector>

#include "holdfast/geometry/mesh.h"

namespace holdfast::geometry::detail {

/// A file that cannot be whole, or that promises what is not read.
struct BrokenMesh {
  std::string why;
  std::string remedy = "export it again";
};

struct RawMesh {
  TriangleMesh mesh;                   ///< as the file has it: its units, its axes; corners are in range
  std::vector<std::string> remarks;    ///< one sentence each, for `check`
  std::vector<std::string> nodes;      ///< that have triangles, in the order of the file
  std::vector<std::uint32_t> node_of;  ///< of each triangle, into `nodes`
  /// Triangles that no node was said of so far are this one's.
  void end_node(const std::string& name) {
    if (node_of.size() == mesh.triangles.size()) return;
    const auto [known, is_new] = index_of_.try_emplace(name, static_cast<std::uint32_t>(nodes.size()));
    if (is_new) nodes.push_back(name);
    node_of.resize(mesh.triangles.size(), known->second);
  }

 private:
  std::map<std::string, std::uint32_t> index_of_;
};

/// Most triangles and most vertices of one file: reading and cleaning them stays under 2 GiB.
inline constexpr std::size_t most_mesh_triangles = 2'000'000;
inline constexpr std::size_t most_mesh_vertices = 6'000'000;
/// Most corners of one face.
inline constexpr std::size_t most_face_corners = 10'000;

/// Throws `BrokenMesh`: too many.
void check_mesh_size(std::size_t vertices, std::size_t triangles);

/// Contents of the file that a glTF buffer's `uri` names. Throws `BrokenMesh` where there is none.
using BufferSource = std::function<std::string_view(const std::string& uri)>;

/// All throw `BrokenMesh`. `node`: read only what has this name (a node of glTF, an object or group of OBJ, a solid of
/// text STL); everything where it is empty.
[[nodiscard]] RawMesh read_obj(std::string_view text, const std::string& node);
[[nodiscard]] RawMesh read_off(std::string_view text, const std::string& node);
[[nodiscard]] RawMesh read_ply(std::string_view bytes, const std::string& node);
[[nodiscard]] RawMesh read_stl(std::string_view bytes, const std::string& node);
[[nodiscard]] RawMesh read_gltf(std::string_view bytes, const std::string& node, const BufferSource& buffers);

/// A number that these bytes hold, the lowest first. Requires: they are there.
[[nodiscard]] inline std::size_t little_endian(std::string_view bytes, std::size_t at, std::size_t size) {
  std::size_t value = 0;
  for (std::size_t i = 0; i < size; ++i)
    value |= static_cast<std::size_t>(static_cast<unsigned char>(bytes[at + i])) << (8 * i);
  return value;
}
[[nodiscard]] inline float single_precision_at(std::string_view bytes, std::size_t at) {
  return std::bit_cast<float>(static_cast<std::uint32_t>(little_endian(bytes, at, 4)));
}

/// `node` is none of `names`.
[[noreturn]] void refuse_node(const std::string& node, const std::vector<std::string>& names);

/// Faces as triangles. Points and lines have no surface.
class PolygonCutter {
 public:
  explicit PolygonCutter(TriangleMesh& mesh) : mesh_(mesh) {}

  /// Adds a face by clipping ears in the plane of its Newell normal, the smallest corner first; a convex face becomes a
  /// fan. Work is at most the square of its corners, and bounded over all faces. Requires: corners in range, three or
  /// more. Throws `BrokenMesh` where `where` has too many corners.
  void add(const std::vector<std::uint32_t>& corners, const std::string& where);

 private:
  void clip_ears(const std::vector<std::uint32_t>& corners, const Vec3& normal, const std::string& where);
  TriangleMesh& mesh_;
  std::size_t work_ = 0;
};

}  // namespace holdfast::geometry::detail
