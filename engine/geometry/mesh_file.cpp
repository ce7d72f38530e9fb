// SPDX-License-Identifier: GPL-3.0-or-later
#include "mesh_file_impl.h"

#include <fmt/format.h>

#include <Eigen/Geometry>
#include <algorithm>
#include <filesystem>
#include <map>

#include "holdfast/model/mesh_references.h"
#include "holdfast/model/plain_file.h"
#include "mesh_reader_impl.h"
#include "mesh_text_impl.h"

namespace holdfast::geometry::detail {

namespace fs = std::filesystem;
using model::Diagnostic;
using model::InputError;

namespace {

constexpr double absurd_m = 1e5;

/// The mesh file and the buffers that it names, read whole. Where the structure was read from a folder, only what its
/// digest covers is opened, and it must still be what was digested: so no geometry changes under a kept digest.
class MeshFiles {
 public:
  explicit MeshFiles(const model::Structure& structure)
      : structure_(structure), root_(fs::weakly_canonical(structure.folder)) {}

  /// Throws `BrokenMesh`. `name` is relative to the model folder.
  std::string_view open(const std::string& name) {
    const std::string key = fs::path(name).lexically_normal().string();
    const auto known = bytes_.find(key);
    if (known != bytes_.end()) return known->second;
    std::error_code error;
    const fs::path path = fs::path(structure_.folder) / name;
    const fs::path real = fs::weakly_canonical(path, error);
    const auto [end_root, where] = std::mismatch(root_.begin(), root_.end(), real.begin(), real.end());
    if (error || end_root != root_.end())
      throw BrokenMesh{fmt::format("it names \"{}\", which is not below the model folder", shown(name)),
                       "copy the file into the model folder"};
    auto file = model::read_plain_file(real.string(), model::largest_file_bytes - size_);
    switch (file.fault) {
      case model::FileFault::None:
        break;
      case model::FileFault::Missing:
        throw BrokenMesh{fmt::format("\"{}\" does not exist", shown(name)), "names are relative to the model folder"};
      case model::FileFault::NotPlain:
      case model::FileFault::Unreadable:
        throw BrokenMesh{fmt::format("\"{}\" cannot be read", shown(name)), "make it a plain file that you may read"};
      case model::FileFault::TooLarge:
        throw BrokenMesh{
            fmt::format("\"{}\" makes it larger than {} MiB", shown(name), model::largest_file_bytes >> 20),
            "decimate it, or split it into several files"};
    }
    std::string& bytes = file.bytes;
    size_ += bytes.size();
    if (!structure_.files.empty()) {
      const auto digested =
          std::find_if(structure_.files.begin(), structure_.files.end(),
                       [&](const model::ModelFile& one) { return fs::path(one.path).lexically_normal() == key; });
      if (digested == structure_.files.end() || digested->sha256 != model::digest_of(bytes))
        throw BrokenMesh{fmt::format("\"{}\" changed while the model was read", name), "run the command again"};
    }
    return bytes_.emplace(key, std::move(bytes)).first->second;
  }

 private:
  const model::Structure& structure_;
  fs::path root_;
  std::map<std::string, std::string> bytes_;
  std::size_t size_ = 0;  // of all
};

/// Rotation that takes the file's up-axis to +z.
Eigen::Matrix3d turn_up(const std::string& up) {
  if (up == "y") return Eigen::AngleAxisd(EIGEN_PI / 2, Vec3::UnitX()).toRotationMatrix();
  if (up == "x") return Eigen::AngleAxisd(-EIGEN_PI / 2, Vec3::UnitY()).toRotationMatrix();
  return Eigen::Matrix3d::Identity();
}

}  // namespace

std::string kind_of(const std::string& file) {
  std::string extension = fs::path(file).extension().string();
  std::transform(extension.begin(), extension.end(), extension.begin(),
                 [](unsigned char c) { return static_cast<char>(std::tolower(c)); });
  return extension;
}

ReadMesh read_mesh(const model::Part& part, const model::MeshFile& mesh, const model::Structure& structure) {
  const auto refuse = [&](const std::string& why, std::string remedy) {
    throw InputError({Diagnostic{part.mark, "shape.mesh", "bad-mesh",
                                 fmt::format("part \"{}\": mesh file \"{}\": {}", part.id, mesh.file, why), mesh.file,
                                 std::move(remedy)}});
  };
  const std::string extension = kind_of(mesh.file);
  static const std::vector<std::string> known = {".obj", ".ply", ".stl", ".off", ".gltf", ".glb"};
  if (std::find(known.begin(), known.end(), extension) == known.end())
    refuse("this kind of file is not read", "export it as OBJ, PLY, STL, OFF, glTF or GLB");

  MeshFiles files(structure);
  RawMesh raw;
  try {
    const auto bytes = files.open(mesh.file);
    if (extension == ".obj")
      raw = read_obj(bytes, mesh.node);
    else if (extension == ".off")
      raw = read_off(bytes, mesh.node);
    else if (extension == ".stl")
      raw = read_stl(bytes, mesh.node);
    else if (extension == ".ply")
      raw = read_ply(bytes, mesh.node);
    else
      raw = read_gltf(bytes, mesh.node, [&](const std::string& uri) {
        const auto file = model::file_of_uri(mesh.file, uri);
        if (file.empty())
          throw BrokenMesh{"a buffer is not in a file of the model folder", "export it with its buffers"};
        return files.open(file);
      });
  } catch (const BrokenMesh& broken) {
    refuse(broken.why, broken.remedy);
  }
  raw.end_node("");
  ReadMesh read{std::move(raw.mesh), std::move(raw.remarks), std::move(raw.nodes), std::move(raw.node_of)};
  TriangleMesh& out = read.mesh;

  const Eigen::Matrix3d turn = mesh.unit_m * turn_up(mesh.up);
  for (auto& v : out.vertices) {
    v = turn * v;
    if (!v.allFinite()) refuse("it has a vertex that is not finite", "repair it where it was made");
    if (v.cwiseAbs().maxCoeff() > absurd_m)
      refuse(fmt::format("it reaches {:.3g} m from its origin", v.cwiseAbs().maxCoeff()), "check `units:`");
  }
  if (out.triangles.empty()) refuse("it has no triangles", "export surfaces, not points, lines or curves");
  return read;
}

}  // namespace holdfast::geometry::detail
