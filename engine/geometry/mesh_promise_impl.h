#pragma once
// What a mesh file promises: how many faces, with which corners. Read here a second time, apart from the importer,
// which passes over much that is wrong and gives back fewer faces than the file has, or others.

#include <cstddef>
#include <functional>
#include <nlohmann/json_fwd.hpp>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "holdfast/geometry/mesh.h"

namespace holdfast::geometry::detail {

/// Faces of three corners or more, and where their corners are, added up: two readings of a file agree in it.
struct Tally {
  std::size_t faces = 0;
  std::size_t corners = 0;
  Vec3 sum = Vec3::Zero();
  double largest = 0;  ///< of all coordinates

  void add_corner(const Vec3& p);
  void operator+=(const Tally& other);
  /// Equal counts, and a sum that differs by no more than single precision explains.
  [[nodiscard]] bool agrees_with(const Tally& other) const;
};

struct Promise {
  Tally tally;
  std::optional<std::size_t> placed_faces;  ///< of all nodes of the scene, where the file has nodes
  std::vector<std::string> remarks;         ///< one sentence each, for `check`
};

/// A file that cannot be whole, or that promises what is not read.
struct BrokenMesh {
  std::string why;
  std::string remedy = "export it again";
};

/// Contents of the file that a glTF buffer's `uri` names. Throws `BrokenMesh` where there is none.
using BufferSource = std::function<std::string_view(const std::string& uri)>;

/// Throws `BrokenMesh`. `extension`: `.obj`, `.ply`, `.stl`, `.off`, `.gltf` or `.glb`.
[[nodiscard]] Promise read_promise(const std::string& extension, std::string_view bytes, const BufferSource& buffers);

/// The same for the two forms of glTF.
[[nodiscard]] Promise read_gltf_promise(std::string_view bytes, const BufferSource& buffers);

}  // namespace holdfast::geometry::detail
