// SPDX-License-Identifier: GPL-3.0-or-later
#include "holdfast/geometry/size.h"

#include <fmt/format.h>

#include <filesystem>
#include <map>

#include "holdfast/geometry/scene.h"
#include "mesh_file_impl.h"
#include "tessellate_impl.h"

namespace holdfast::geometry {

namespace {

/// No file has more triangles than this many bytes for each: a corner of a strip, in any text, takes two; glTF may
/// place a mesh many times.
constexpr std::size_t least_bytes = 2;

bool is_gltf(const std::string& file) {
  const std::string kind = detail::kind_of(file);
  return kind == ".gltf" || kind == ".glb";
}

}  // namespace

void check_triangles(const model::Structure& structure, const model::Configuration& configuration,
                     const model::SizeLimits& limits) {
  constexpr double chord_error_m = SceneOptions{}.chord_error_m;  // drawings take fewer
  std::map<std::string, std::size_t> known;
  const auto count = [&](const model::Part& part, const model::MeshFile& mesh, bool is_exact) -> std::size_t {
    std::error_code error;
    if (!is_exact && !is_gltf(mesh.file)) {
      const auto bytes = std::filesystem::file_size(std::filesystem::path(structure.folder) / mesh.file, error);
      return error ? 0 : bytes / least_bytes;
    }
    const auto [entry, is_new] = known.try_emplace(mesh.file + " " + mesh.node, 0);
    if (!is_new) return entry->second;
    try {
      entry->second = detail::read_mesh(part, mesh, structure).mesh.triangles.size();
    } catch (const model::InputError&) {
      entry->second = 0;  // told when the scene is built
    }
    return entry->second;
  };
  for (const bool is_exact : {false, true}) {
    std::size_t sum = 0, most = 0;
    const model::Part* largest = nullptr;
    for (std::size_t p = 0; p < structure.parts.size(); ++p) {
      const auto& part = structure.parts[p];
      if (!structure.is_present(model::PartId(p), configuration)) continue;
      std::size_t share = 0;
      if (const auto* mesh = std::get_if<model::MeshFile>(&part.shape))
        share = count(part, *mesh, is_exact);
      else if (const auto* dish = std::get_if<model::Dish>(&part.shape))
        share = detail::count_triangles(*dish, chord_error_m);
      else if (const auto* truss = std::get_if<model::Truss>(&part.shape))
        share = 8 * static_cast<std::size_t>(truss->bays) + 8;
      sum += share;
      if (share > most) most = share, largest = &part;
    }
    if (sum <= limits.triangles) return;
    if (is_exact)
      throw model::InputError(
          {model::beyond_limit("triangles of meshes and bars of trusses", "triangles", sum, limits.triangles,
                               fmt::format("part \"{}\" has {} of them", largest->id, most), largest->mark)});
  }
}

}  // namespace holdfast::geometry
