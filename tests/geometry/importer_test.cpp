// SPDX-License-Identifier: GPL-3.0-or-later
// Our readers and an independent importer (assimp, Debian) give the same triangles for every sound file.

#include <assimp/config.h>
#include <assimp/scene.h>
#include <gtest/gtest.h>

#include <algorithm>
#include <array>
#include <assimp/Importer.hpp>
#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <map>
#include <sstream>

#include "mesh_reader_impl.h"

namespace holdfast::geometry::detail {
namespace {

namespace fs = std::filesystem;

std::string bytes_of(const fs::path& file) {
  std::ifstream in(file, std::ios::binary);
  return {std::istreambuf_iterator<char>(in), {}};
}

/// Both readers name the kind of file in small letters.
std::string kind_of(const fs::path& file) {
  std::string extension = file.extension().string();
  std::transform(extension.begin(), extension.end(), extension.begin(),
                 [](unsigned char c) { return static_cast<char>(std::tolower(c)); });
  return extension;
}

RawMesh ours(const fs::path& file) {
  const std::string bytes = bytes_of(file), kind = kind_of(file);
  if (kind == ".obj") return read_obj(bytes, "");
  if (kind == ".off") return read_off(bytes, "");
  if (kind == ".ply") return read_ply(bytes, "");
  if (kind == ".stl") return read_stl(bytes, "");
  std::map<std::string, std::string> buffers;
  return read_gltf(bytes, "", [&](const std::string& uri) -> std::string_view {
    if (!fs::exists(file.parent_path() / uri)) throw BrokenMesh{"no buffer"};
    return buffers[uri] = bytes_of(file.parent_path() / uri);
  });
}

void add_node(const aiScene& scene, const aiNode& node, const aiMatrix4x4& above, TriangleMesh& out) {
  const aiMatrix4x4 here = above * node.mTransformation;
  PolygonCutter cutter(out);
  for (unsigned m = 0; m < node.mNumMeshes; ++m) {
    const aiMesh& mesh = *scene.mMeshes[node.mMeshes[m]];
    const auto base = static_cast<std::uint32_t>(out.vertices.size());
    for (unsigned v = 0; v < mesh.mNumVertices; ++v) {
      const aiVector3D p = here * mesh.mVertices[v];
      out.vertices.push_back({p.x, p.y, p.z});
    }
    for (unsigned f = 0; f < mesh.mNumFaces; ++f) {
      std::vector<std::uint32_t> corners;
      for (unsigned i = 0; i < mesh.mFaces[f].mNumIndices; ++i) corners.push_back(base + mesh.mFaces[f].mIndices[i]);
      if (corners.size() >= 3) cutter.add(corners, "face");
    }
  }
  for (unsigned i = 0; i < node.mNumChildren; ++i) add_node(scene, *node.mChildren[i], here, out);
}

/// Count, area, and the integrals over the surface of 1, x, y, z and their products: two surfaces that differ in more
/// than the last digits of single precision differ in one of them.
std::array<double, 11> moments(const TriangleMesh& mesh) {
  std::array<double, 11> out{};
  for (const auto& t : mesh.triangles) {
    const Vec3 &a = mesh.vertices[t[0]], &b = mesh.vertices[t[1]], &c = mesh.vertices[t[2]];
    const double area = (b - a).cross(c - a).norm() / 2;
    const Vec3 m = (a + b + c) / 3;
    const double values[] = {1,
                             area,
                             area * m.x(),
                             area * m.y(),
                             area * m.z(),
                             area * m.x() * m.x(),
                             area * m.y() * m.y(),
                             area * m.z() * m.z(),
                             area * m.x() * m.y(),
                             area * m.y() * m.z(),
                             area * m.z() * m.x()};
    for (std::size_t i = 0; i < out.size(); ++i) out[i] += values[i];
  }
  return out;
}

/// True where both read it and agree; a refusal of ours is given by its reason.
void compare(const fs::path& file, std::map<std::string, std::size_t>& counts) {
  SCOPED_TRACE(file);
  RawMesh raw;
  try {
    raw = ours(file);
  } catch (const BrokenMesh& broken) {
    ++counts["refused"];
    if (std::getenv("HOLDFAST_SHOW")) std::printf("%s: %s\n", file.c_str(), broken.why.c_str());
    return;
  }
  Assimp::Importer importer;
  importer.SetPropertyBool(AI_CONFIG_IMPORT_NO_SKELETON_MESHES, true);
  const aiScene* scene = importer.ReadFile(file.string(), 0);
  if (!scene || !scene->mRootNode) {
    ++counts["ours alone"];
    if (std::getenv("HOLDFAST_SHOW")) std::printf("%s: read by us alone\n", file.c_str());
    return;
  }
  TriangleMesh theirs;
  add_node(*scene, *scene->mRootNode, aiMatrix4x4(), theirs);
  ++counts["both"];
  const auto one = moments(raw.mesh), other = moments(theirs);
  EXPECT_EQ(one[0], other[0]) << "triangles";
  if (bytes_of(file).find("\"skins\"") != std::string::npos)
    return;  // the importer leaves vertices where no joint holds them
  Bounds bounds;
  for (const auto& v : raw.mesh.vertices) bounds.extend(v);
  if (raw.mesh.vertices.empty()) return;
  const double reach = std::max(bounds.min.cwiseAbs().maxCoeff(), bounds.max.cwiseAbs().maxCoeff());
  constexpr double slack = 2e-6;  // a dozen units in the last place of single precision
  const double scale[] = {0,
                          1,
                          reach,
                          reach,
                          reach,
                          reach * reach,
                          reach * reach,
                          reach * reach,
                          reach * reach,
                          reach * reach,
                          reach * reach};
  for (std::size_t i = 1; i < one.size(); ++i)
    EXPECT_NEAR(one[i], other[i], slack * scale[i] * std::max(one[1], reach * reach)) << "moment " << i;
}

TEST(Importer, AgreesOnSoundFilesOfItsOwnTestModels) {
  // Debian package assimp-testmodels.
  const fs::path root = "/usr/share/assimp/models";
  ASSERT_TRUE(fs::exists(root)) << "install assimp-testmodels";
  std::map<std::string, std::size_t> counts;
  for (const char* kind : {"OBJ", "PLY", "STL", "OFF", "glTF2"})
    for (const auto& entry : fs::recursive_directory_iterator(root / kind)) {
      static const std::vector<std::string> known = {".obj", ".ply", ".stl", ".off", ".gltf", ".glb"};
      const std::string kind_of_file = kind_of(entry.path());
      if (!entry.is_regular_file() || fs::file_size(entry.path()) > 2'000'000 ||
          std::find(known.begin(), known.end(), kind_of_file) == known.end())
        continue;
      compare(entry.path(), counts);
    }
  EXPECT_GE(counts["both"], 60u);
}

TEST(Importer, LeavesSkinsToUs) {
  // A strip from x = 0 to 1 whose joints hold it half a metre lower, as every viewer shows it.
  const auto raw = ours("/usr/share/assimp/models/glTF2/simple_skin/simple_skin.gltf");
  Bounds bounds;
  for (const auto& v : raw.mesh.vertices) bounds.extend(v);
  EXPECT_NEAR(bounds.min.x(), -0.5, 1e-6);
  EXPECT_NEAR(bounds.max.x(), 0.5, 1e-6);
}

TEST(Importer, AgreesOnTheOpenCollection) {
  std::map<std::string, std::size_t> counts;
  for (const char* folder : {"tests/data/structures", "models/yard"})
    for (const auto& entry : fs::directory_iterator(fs::path(HOLDFAST_SOURCE_DIR) / folder))
      if (kind_of(entry.path()) == ".obj") compare(entry.path(), counts);
  EXPECT_GE(counts["both"], 3u);
}

}  // namespace
}  // namespace holdfast::geometry::detail
