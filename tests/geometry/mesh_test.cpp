// SPDX-License-Identifier: GPL-3.0-or-later
// Meshes as they come from files: whole, broken, and hostile.

#include <gtest/gtest.h>

#include <algorithm>
#include <filesystem>
#include <fstream>

#include "mesh_scene.h"

namespace holdfast::geometry {
namespace {

namespace fs = std::filesystem;
using support::Random;
using support::scene_of_mesh;

const fs::path data = fs::path(HOLDFAST_SOURCE_DIR) / "tests/data";

/// A unit cube about the origin, outward.
TriangleMesh cube(const Vec3& at = Vec3::Zero()) {
  TriangleMesh mesh;
  for (int i = 0; i < 8; ++i)
    mesh.vertices.push_back(at + Vec3(i & 1 ? 0.5 : -0.5, i & 2 ? 0.5 : -0.5, i & 4 ? 0.5 : -0.5));
  mesh.triangles = {{0, 2, 3}, {0, 3, 1}, {4, 5, 7}, {4, 7, 6}, {0, 1, 5}, {0, 5, 4},
                    {2, 6, 7}, {2, 7, 3}, {0, 4, 6}, {0, 6, 2}, {1, 3, 7}, {1, 7, 5}};
  return mesh;
}

double cube_distance(const Vec3& p) { return (p.cwiseAbs() - Vec3::Constant(0.5)).cwiseMax(0).norm(); }

void expect_like_cube(const Scene& scene, bool has_inside) {
  Random random(21);
  for (int i = 0; i < 500; ++i) {
    const Vec3 p = random.point(1.5);
    const double exact = cube_distance(p);
    if (exact > 0 || has_inside) EXPECT_NEAR(scene.distance(p, 10), exact, 1e-9);
  }
  EXPECT_EQ(scene.distance({0.1, 0.05, 0}, 10) == 0, has_inside);
  EXPECT_EQ(scene.is_segment_blocked({0.1, 0, 0}, {0.2, 0.1, 0}), has_inside) << "a segment wholly inside";
  EXPECT_TRUE(scene.is_segment_blocked({0.1, 0.2, 0}, {2, 0.1, 0}));
}

TEST(Mesh, ClosedCubeHasAnInside) {
  const auto holder = scene_of_mesh(cube());
  expect_like_cube(holder->scene, true);
  const auto& report = holder->scene.mesh_reports().at(0);
  EXPECT_EQ(report.shells, 1u);
  EXPECT_EQ(report.open_shells + report.flipped_shells + report.degenerate + report.duplicate, 0u);
  EXPECT_TRUE(report.remarks.empty());
}

TEST(Mesh, FlippedFacesAreTurnedBack) {
  auto mesh = cube();
  std::swap(mesh.triangles[3][1], mesh.triangles[3][2]);
  const auto one = scene_of_mesh(mesh);
  expect_like_cube(one->scene, true);
  EXPECT_EQ(one->scene.mesh_reports()[0].flipped_shells, 1u);
  for (auto& t : mesh.triangles) std::swap(t[1], t[2]);
  expect_like_cube(scene_of_mesh(mesh)->scene, true);
  const auto outward = scene_of_mesh(mesh)->scene.part_mesh(model::PartId(0));
  double volume = 0;
  for (const auto& t : outward.triangles)
    volume += outward.vertices[t[0]].dot(outward.vertices[t[1]].cross(outward.vertices[t[2]])) / 6;
  EXPECT_NEAR(volume, 1, 1e-9);
}

TEST(Mesh, DuplicateAndDegenerateTrianglesAreLeftOut) {
  auto mesh = cube();
  mesh.triangles.push_back(mesh.triangles[0]);
  mesh.triangles.push_back({2, 3, 0});  // the first again, from another corner
  mesh.triangles.push_back({1, 1, 5});
  mesh.vertices.push_back({0, 0.5, 0.5});  // on an edge: a sliver of no area
  mesh.triangles.push_back({6, 8, 7});
  const auto holder = scene_of_mesh(mesh);
  expect_like_cube(holder->scene, true);
  EXPECT_EQ(holder->scene.mesh_reports()[0].duplicate, 2u);
  EXPECT_EQ(holder->scene.mesh_reports()[0].degenerate, 2u);
}

TEST(Mesh, CubeWithAHoleIsASurface) {
  auto mesh = cube();
  mesh.triangles.pop_back();
  const auto holder = scene_of_mesh(mesh);
  EXPECT_EQ(holder->scene.mesh_reports()[0].open_shells, 1u);
  EXPECT_FALSE(holder->scene.mesh_reports()[0].remarks.empty());
  EXPECT_GT(holder->scene.distance({0, 0, 0}, 10), 0.49) << "an open shell has no inside";
  EXPECT_NEAR(holder->scene.distance({-1.5, 0, 0}, 10), 1, 1e-9);
}

TEST(Mesh, UnweldedAndJitteredCornersAreWelded) {
  const auto whole = cube();
  TriangleMesh loose;
  Random random(22);
  for (const auto& t : whole.triangles) {
    for (const auto corner : t) loose.vertices.push_back(whole.vertices[corner] + random.point(1e-8));
    const auto n = static_cast<std::uint32_t>(loose.vertices.size());
    loose.triangles.push_back({n - 3, n - 2, n - 1});
  }
  const auto holder = scene_of_mesh(loose);
  EXPECT_EQ(holder->scene.mesh_reports()[0].open_shells, 0u);
  EXPECT_EQ(holder->scene.distance({0, 0, 0.1}, 10), 0);
}

TEST(Mesh, TouchingShellsStayClosedOneByOne) {
  TriangleMesh row;
  for (int i = 0; i < 5; ++i) {
    const auto base = static_cast<std::uint32_t>(row.vertices.size());
    const auto next = cube({i * 1.0, 0, 0});  // face to face
    row.vertices.insert(row.vertices.end(), next.vertices.begin(), next.vertices.end());
    for (const auto& t : next.triangles) row.triangles.push_back({base + t[0], base + t[1], base + t[2]});
  }
  const auto holder = scene_of_mesh(row);
  Random random(23);
  for (int i = 0; i < 500; ++i) {
    const Vec3 p = random.point(4);
    const Vec3 q = ((p - Vec3(2, 0, 0)).cwiseAbs() - Vec3(2.5, 0.5, 0.5)).cwiseMax(0);
    if (q.norm() > 0) EXPECT_NEAR(holder->scene.distance(p, 10), q.norm(), 1e-6);
  }
  EXPECT_EQ(holder->scene.distance({4.2, 0.1, 0}, 10), 0) << "inside the last cube";
}

TEST(Mesh, PointDeepInsideALargeShellIsInside) {
  auto mesh = cube();
  for (auto& v : mesh.vertices) v *= 40;
  EXPECT_EQ(scene_of_mesh(mesh)->scene.distance({1, 2, 3}, 0.5), 0);
}

TEST(Mesh, LadderAndCraneOfTheOpenCollectionLoad) {
  // Open data (CC BY 3.0, tests/data/structures/LICENCE.txt): 31 closed parts; 299 degenerate faces, by tests/data
  // notes.
  const auto ladder = support::mesh_structure(data / "structures/ladder-with-rails.obj");
  const auto scene = build_scene(ladder, {});
  const auto& report = scene.mesh_reports()[0];
  EXPECT_EQ(report.triangles, 3585u);
  EXPECT_GE(report.shells, 31u);
  const auto crane = support::mesh_structure(data / "structures/lattice-crane.obj");
  EXPECT_GE(build_scene(crane, {}).mesh_reports()[0].degenerate, 250u);
}

TEST(Mesh, UnitsAndUpAxisAreApplied) {
  const auto path = fs::temp_directory_path() / ("holdfast-up-" + std::to_string(getpid()) + ".obj");
  support::write_obj(path, {{{0, 0, 0}, {100, 0, 0}, {0, 200, 0}}, {{0, 1, 2}}});
  for (const auto& [up, tip] : {std::pair{"z", Vec3(0, 2, 0)}, std::pair{"y", Vec3(0, 0, 2)}}) {
    auto structure = support::mesh_structure(path);
    auto& mesh = std::get<model::MeshFile>(structure.parts[0].shape);
    mesh.up = up, mesh.unit_m = 0.01;
    EXPECT_NEAR(build_scene(structure, {}).distance(tip, 10), 0, 1e-9) << up;
  }
  fs::remove(path);
}

TEST(Mesh, NodesOfGltfKeepTheirTransforms) {
  // Two triangles under one moved root; the second node is moved once more.
  const auto path = fs::temp_directory_path() / ("holdfast-node-" + std::to_string(getpid()) + ".gltf");
  std::ofstream(path) << R"({"asset":{"version":"2.0"},"scene":0,"scenes":[{"nodes":[0]}],
    "nodes":[{"name":"root","translation":[10,0,0],"children":[1,2]},{"name":"left","mesh":0},{"name":"right","mesh":0,"translation":[0,5,0]}],
    "meshes":[{"primitives":[{"attributes":{"POSITION":0}}]}],
    "accessors":[{"bufferView":0,"componentType":5126,"count":3,"type":"VEC3","min":[0,0,0],"max":[1,1,0]}],
    "bufferViews":[{"buffer":0,"byteLength":36}],
    "buffers":[{"byteLength":36,"uri":"data:application/octet-stream;base64,AAAAAAAAAAAAAAAAAACAPwAAAAAAAAAAAAAAAAAAgD8AAAAA"}]})";
  auto structure = support::mesh_structure(path);
  auto& mesh = std::get<model::MeshFile>(structure.parts[0].shape);
  EXPECT_EQ(build_scene(structure, {}).mesh_reports()[0].triangles, 2u);
  mesh.node = "right";
  const auto right = build_scene(structure, {});
  EXPECT_EQ(right.mesh_reports()[0].triangles, 1u);
  EXPECT_NEAR(right.distance({10, 5, 0}, 20), 0, 1e-6);
  mesh.node = "rigt";
  try {
    (void)build_scene(structure, {});
    FAIL();
  } catch (const model::InputError& error) {
    EXPECT_NE(error.diagnostics()[0].remedy.find("right"), std::string::npos);
  }
  fs::remove(path);
}

TEST(Mesh, WhatCannotBeUsedIsNamed) {
  const auto folder = fs::temp_directory_path() / ("holdfast-bad-" + std::to_string(getpid()));
  fs::create_directories(folder);
  const auto why = [&](const std::string& name, const std::string& text) {
    std::ofstream(folder / name, std::ios::binary) << text;
    const auto structure = support::mesh_structure(folder / name);
    try {
      (void)build_scene(structure, {});
    } catch (const model::InputError& error) {
      EXPECT_EQ(error.diagnostics()[0].mark.line, 3);
      EXPECT_EQ(error.diagnostics()[0].code, "bad-mesh");
      return error.diagnostics()[0].problem;
    }
    return std::string();
  };
  EXPECT_EQ(why("points.obj", "v 0 0 0\nv 1 0 0\nv 0 1 0\n").substr(0, 36), "part \"mesh\": mesh file \"points.obj\":");
  EXPECT_NE(why("none.obj", "# nothing\n"), "");
  EXPECT_NE(why("flat.obj", "v 0 0 0\nv 1 0 0\nv 2 0 0\nf 1 2 3\n").find("degenerate"), std::string::npos);
  EXPECT_NE(why("far.obj", "v 0 0 0\nv 1e7 0 0\nv 0 1 0\nf 1 2 3\n").find("from its origin"), std::string::npos);
  EXPECT_NE(why("nan.obj", "v 0 0 nan\nv 1 0 0\nv 0 1 0\nf 1 2 3\n"), "");
  EXPECT_NE(why("index.obj", "v 0 0 0\nv 1 0 0\nv 0 1 0\nf 1 2 9\n"), "");
  EXPECT_NE(why("noise.stl", std::string("\x80\x01\x02 noise", 9)), "");
  EXPECT_NE(why("empty.ply", ""), "");
  EXPECT_EQ(why("part.step", "ISO-10303-21;"), "part \"mesh\": mesh file \"part.step\": this kind of file is not read");
  EXPECT_NE(
      why("out.gltf",
          R"({"asset":{"version":"2.0"},"buffers":[{"byteLength":36,"uri":"../../etc/passwd"}],"bufferViews":[{"buffer":0,"byteLength":36}],
     "accessors":[{"bufferView":0,"componentType":5126,"count":3,"type":"VEC3"}],"meshes":[{"primitives":[{"attributes":{"POSITION":0}}]}],"nodes":[{"mesh":0}],"scenes":[{"nodes":[0]}],"scene":0})"),
      "");
  fs::remove_all(folder);
}

/// Every file either gives triangles or one error that names it; nothing crashes, hangs or prints.
void expect_usable_or_named(const fs::path& file) {
  const auto structure = support::mesh_structure(file);
  try {
    EXPECT_GT(build_scene(structure, {}).mesh_reports().at(0).triangles, 0u);
  } catch (const model::InputError& error) {
    ASSERT_FALSE(error.diagnostics().empty());
    EXPECT_NE(error.diagnostics()[0].problem.find(file.filename().string()), std::string::npos);
  }
}

std::vector<fs::path> mesh_files(const fs::path& root, std::uintmax_t largest) {
  std::vector<fs::path> files;
  for (const auto& entry : fs::recursive_directory_iterator(root)) {
    std::string extension = entry.path().extension().string();
    std::transform(extension.begin(), extension.end(), extension.begin(),
                   [](unsigned char c) { return static_cast<char>(std::tolower(c)); });
    static const std::vector<std::string> known = {".obj", ".ply", ".stl", ".off", ".gltf", ".glb"};
    if (entry.is_regular_file() && std::find(known.begin(), known.end(), extension) != known.end() &&
        fs::file_size(entry) <= largest)
      files.push_back(entry.path());
  }
  std::sort(files.begin(), files.end());
  return files;
}

TEST(BadMeshes, OfTheGltfValidatorsTestBase) {
  // Khronos glTF validator's test files (Apache-2.0, tests/data/badmeshes/LICENCE.txt).
  const auto files = mesh_files(data / "badmeshes", 1 << 20);
  EXPECT_GT(files.size(), 60u);
  for (const auto& file : files) {
    SCOPED_TRACE(file);
    expect_usable_or_named(file);
  }
}

TEST(BadMeshes, OfTheImportersTestModels) {
  // Debian package assimp-testmodels.
  const fs::path root = "/usr/share/assimp/models";
  ASSERT_TRUE(fs::exists(root)) << "install assimp-testmodels";
  std::size_t count = 0;
  for (const char* kind : {"OBJ", "PLY", "STL", "OFF", "glTF2", "invalid"}) {
    if (!fs::exists(root / kind)) continue;
    for (const auto& file : mesh_files(root / kind, 300'000)) {
      SCOPED_TRACE(file);
      expect_usable_or_named(file);
      ++count;
    }
  }
  EXPECT_GT(count, 30u);
}

}  // namespace
}  // namespace holdfast::geometry
