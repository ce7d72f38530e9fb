// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// Mesh files made usable, each once: read, cleaned, checked and indexed, or taken from what is kept of an earlier run.

#include <cstddef>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "bvh_impl.h"
#include "holdfast/geometry/mesh.h"
#include "holdfast/model/structure.h"
#include "holdfast/store/bytes.h"
#include "holdfast/store/store.h"

namespace holdfast::geometry::detail {

/// A shell in the structure frame.
struct CleanShell {
  TriangleMesh mesh;  ///< outward where closed
  bool is_closed = false;
  bool was_flipped = false;
  Bvh hierarchy;  ///< over its triangles, where it is closed
};

struct CleanMesh {
  std::vector<CleanShell> shells;
  Bvh hierarchy;              ///< over the triangles of all shells, in their order
  std::size_t triangles = 0;  ///< as read
  std::size_t degenerate = 0;
  std::size_t duplicate = 0;
  std::size_t cuts = 0;              ///< pairs of triangles of closed shells that cut each other
  bool has_untested_shells = false;  ///< too large to be tested for that
  std::vector<std::string> remarks;  ///< of the reader
};

/// Shells of more triangles are not tested for cutting themselves: 0.2 s there; a defect report is not worth more.
inline constexpr std::size_t most_tested_triangles = 20'000;

/// Reads, cleans, checks and indexes. Throws `model::InputError` as `read_mesh`.
[[nodiscard]] CleanMesh make_clean_mesh(const model::Part& part, const model::MeshFile& file,
                                        const model::Structure& structure, const model::Pose& pose);

/// Digest of all that `make_clean_mesh` depends on; empty where the files were not digested when the structure was
/// read, so that nobody knows what they hold.
[[nodiscard]] std::string clean_mesh_key(const model::MeshFile& file, const model::Structure& structure,
                                         const model::Pose& pose);

/// From what is kept, else made and kept. Without a store, or without a key: made.
[[nodiscard]] CleanMesh find_clean_mesh(const model::Part& part, const model::MeshFile& file,
                                        const model::Structure& structure, const model::Pose& pose,
                                        const store::Store* store);

[[nodiscard]] std::string pack(const CleanMesh& mesh);
/// Nothing for bytes that are none, or have an index or count out of range.
[[nodiscard]] std::optional<CleanMesh> unpack_clean_mesh(std::string_view bytes);

void put(store::Writer& out, const Bvh& hierarchy);
[[nodiscard]] std::optional<Bvh> take_hierarchy(store::Reader& in, std::size_t count);

}  // namespace holdfast::geometry::detail
