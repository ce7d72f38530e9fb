// SPDX-License-Identifier: GPL-3.0-or-later
// glTF read back by an importer that knows nothing of us, and passed by the Khronos validator.

#include <assimp/postprocess.h>
#include <assimp/scene.h>
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <assimp/Importer.hpp>
#include <filesystem>
#include <fstream>
#include <map>

#include "drawn.h"
#include "run_command.h"

namespace holdfast::picture {
namespace {

namespace fs = std::filesystem;

struct Node {
  std::string parent;
  geometry::Bounds bounds;  ///< in the file's frame
  aiMatrix4x4 to_file;
};

void collect(const aiScene& scene, const aiNode& node, const aiMatrix4x4& above, const std::string& parent,
             std::multimap<std::string, Node>& out) {
  const aiMatrix4x4 here = above * node.mTransformation;
  Node read{parent, {}, here};
  for (unsigned m = 0; m < node.mNumMeshes; ++m) {
    const aiMesh& mesh = *scene.mMeshes[node.mMeshes[m]];
    for (unsigned v = 0; v < mesh.mNumVertices; ++v) {
      const aiVector3D p = here * mesh.mVertices[v];
      read.bounds.extend({p.x, p.y, p.z});
    }
  }
  out.emplace(node.mName.C_Str(), read);
  for (unsigned c = 0; c < node.mNumChildren; ++c) collect(scene, *node.mChildren[c], here, node.mName.C_Str(), out);
}

std::multimap<std::string, Node> read_back(const std::string& glb) {
  Assimp::Importer importer;
  const aiScene* scene = importer.ReadFileFromMemory(glb.data(), glb.size(), 0, "glb");
  EXPECT_TRUE(scene) << importer.GetErrorString();
  std::multimap<std::string, Node> nodes;
  if (scene) collect(*scene, *scene->mRootNode, aiMatrix4x4(), "", nodes);
  return nodes;
}

/// Where a point of the structure is in glTF's frame: +y up, +z forward.
Vec3 in_gltf(const Vec3& p) { return {-p.y(), -p.z(), p.x()}; }
geometry::Bounds in_gltf(const std::vector<Vec3>& points) {
  geometry::Bounds bounds;
  for (const auto& p : points) bounds.extend(in_gltf(p));
  return bounds;
}

Picture full_picture() {
  auto& yard = demo_yard();
  auto picture = yard.picture({yard.json(yard.route("lock-hatch", "battery-bay", {"bulky-bag"})),
                               yard.json(yard.route("lock-hatch", "dish-service"))});
  picture.lines.push_back(
      {LineKind::Tether, "reel", "", "in reach", {{0, 0, -3}, {4, 0, -3}}, {{{1, 0, -3}, "hook"}}, {}});
  return picture;
}

TEST(Glb, HasNamedNodesWithTheBoundsOfWhatTheyAre) {
  const auto picture = full_picture();
  const auto nodes = read_back(glb(picture));
  const auto find = [&](const std::string& name, const std::string& parent) -> const Node* {
    for (auto [at, end] = nodes.equal_range(name); at != end; ++at)
      if (at->second.parent == parent) return &at->second;
    ADD_FAILURE() << "no node " << name << " below " << parent;
    return nullptr;
  };
  const auto expect_bounds = [](const Node& node, const geometry::Bounds& bounds, double tolerance,
                                const std::string& what) {
    EXPECT_LT((node.bounds.min - bounds.min).cwiseAbs().maxCoeff(), tolerance) << what;
    EXPECT_LT((node.bounds.max - bounds.max).cwiseAbs().maxCoeff(), tolerance) << what;
  };
  for (const auto& part : picture.parts)
    if (const auto* node = find(part.id, "parts")) expect_bounds(*node, in_gltf(part.mesh.vertices), 1e-5, part.id);
  for (const auto& zone : picture.zones)
    if (const auto* node = find(zone.id, "zones")) expect_bounds(*node, in_gltf(zone.mesh.vertices), 1e-5, zone.id);
  for (const auto& rail : picture.rails)
    if (const auto* node = find(rail.id, "rails")) expect_bounds(*node, in_gltf(rail.points), 0.0161, rail.id);
  for (const auto& place : picture.places)
    if (const auto* node = find(place.id, "places"))
      expect_bounds(*node, in_gltf(std::vector{place.at}), 0.0801, place.id);
  for (std::size_t i = 0; i < picture.ways.size(); ++i) {
    std::vector<Vec3> hands;
    for (const auto& pose : picture.ways[i].poses) hands.push_back(pose.hand);
    if (const auto* node = find(letter(i) + " " + picture.ways[i].name, "ways"))
      expect_bounds(*node, in_gltf(hands), 0.0301, letter(i));
  }
  (void)find("hook", "reel");
}

TEST(Glb, PassesTheKhronosValidatorWithoutErrorsOrWarnings) {
  const fs::path folder = HOLDFAST_PICTURES;
  fs::create_directories(folder);
  std::ofstream(folder / "yard.glb", std::ios::binary) << glb(full_picture());
  std::ofstream(folder / "bare.glb", std::ios::binary) << glb(Drawn(model::Structure{}).picture());
  support::YardBuilder odd;
  const auto part = odd.part("na\"me <b>", model::Sphere{.radius = 0.2});
  odd.rail("point", part, {{0, 0, -0.3}}, {-Vec3::UnitZ()});
  odd.rail("back and forth", part, {{1, 0, 0}, {2, 0, 0}, {1, 0, 0}}, {-Vec3::UnitZ()});
  std::ofstream(folder / "odd.glb", std::ios::binary) << glb(Drawn(odd.structure).picture());
  if (!fs::exists(HOLDFAST_NODE) || !fs::exists(HOLDFAST_NODE_MODULES))
    GTEST_SKIP() << "no node to test with: the glTF validator runs in node";
  const auto ran = support::run_command(HOLDFAST_NODE,
                                        {std::string(HOLDFAST_BROWSER_SOURCES) + "/validate.js", folder / "yard.glb",
                                         folder / "bare.glb", folder / "odd.glb"},
                                        {folder, {std::string("NODE_PATH=") + HOLDFAST_NODE_MODULES}});
  EXPECT_EQ(ran.code, 0) << ran.out << ran.err;
  EXPECT_THAT(ran.out, testing::HasSubstr("\"numErrors\":0"));
}

}  // namespace
}  // namespace holdfast::picture
