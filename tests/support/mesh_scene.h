// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// Meshes in tests: made at random, written as OBJ, and read back through the real importer.

#include <unistd.h>

#include <cstdio>
#include <filesystem>
#include <fstream>
#include <memory>
#include <random>

#include "yard_builder.h"

namespace holdfast::support {

/// Seeded random numbers with the few shapes of them that tests need.
class Random {
 public:
  explicit Random(std::uint64_t seed) : engine_(seed) {}
  double unit() { return std::uniform_real_distribution<double>(0, 1)(engine_); }
  Vec3 point(double half) { return half * Vec3(2 * unit() - 1, 2 * unit() - 1, 2 * unit() - 1); }
  std::size_t index(std::size_t size) { return std::uniform_int_distribution<std::size_t>(0, size - 1)(engine_); }
  Eigen::Quaterniond rotation() {
    return Eigen::Quaterniond(2 * unit() - 1, 2 * unit() - 1, 2 * unit() - 1, 2 * unit() - 1.001).normalized();
  }

 private:
  std::mt19937_64 engine_;
};

/// All parts of a world as one mesh.
inline geometry::TriangleMesh mesh_of(const World& world) {
  geometry::TriangleMesh all;
  for (std::size_t p = 0; p < world.structure.parts.size(); ++p) {
    const auto mesh = world.scene.part_mesh(model::PartId(p));
    const auto base = static_cast<std::uint32_t>(all.vertices.size());
    all.vertices.insert(all.vertices.end(), mesh.vertices.begin(), mesh.vertices.end());
    for (auto t : mesh.triangles) all.triangles.push_back({t[0] + base, t[1] + base, t[2] + base});
  }
  return all;
}

/// A soup of small triangles: no shells, nothing closed.
inline geometry::TriangleMesh random_mesh(Random& random, std::size_t triangles) {
  geometry::TriangleMesh mesh;
  for (std::size_t i = 0; i < triangles; ++i) {
    const Vec3 at = random.point(2);
    for (int k = 0; k < 3; ++k) mesh.vertices.push_back((at + random.point(0.3)).cast<float>().cast<double>());
    const auto n = static_cast<std::uint32_t>(mesh.vertices.size());
    mesh.triangles.push_back({n - 3, n - 2, n - 1});
  }
  return mesh;
}

inline void write_obj(const std::filesystem::path& path, const geometry::TriangleMesh& mesh) {
  std::ofstream out(path);
  out.precision(17);
  for (const auto& v : mesh.vertices) out << "v " << v.x() << ' ' << v.y() << ' ' << v.z() << '\n';
  for (const auto& t : mesh.triangles) out << "f " << t[0] + 1 << ' ' << t[1] + 1 << ' ' << t[2] + 1 << '\n';
}

/// A structure of one part read from a mesh file, with its scene.
struct MeshScene {
  model::Structure structure;
  geometry::Scene scene;
};
inline model::Structure mesh_structure(const std::filesystem::path& file) {
  YardBuilder yard;
  yard.part("mesh", model::MeshFile{.file = file.filename().string()});
  yard.structure.folder = file.parent_path().string();
  yard.structure.parts[0].mark = {"structure.yaml", 3, 5};
  return yard.structure;
}
inline std::unique_ptr<MeshScene> scene_of_mesh(const geometry::TriangleMesh& mesh) {
  const auto path = std::filesystem::temp_directory_path() / ("holdfast-mesh-" + std::to_string(getpid()) + ".obj");
  write_obj(path, mesh);
  // The structure is moved in first: the scene keeps a reference to it.
  struct Holder : MeshScene {
    explicit Holder(model::Structure s) : MeshScene{std::move(s), geometry::build_scene(model::Structure{}, {})} {
      scene = geometry::build_scene(structure, {});
    }
  };
  auto holder = std::make_unique<Holder>(mesh_structure(path));
  std::filesystem::remove(path);
  return holder;
}

/// Least distance to a triangle by its plane, edges and corners, each written down plainly.
inline double reference_triangle_distance(const Vec3& a, const Vec3& b, const Vec3& c, const Vec3& p) {
  const auto to_segment = [&](const Vec3& u, const Vec3& v) {
    const double t = std::clamp((p - u).dot(v - u) / (v - u).squaredNorm(), 0.0, 1.0);
    return (p - u - t * (v - u)).norm();
  };
  double least = std::min({to_segment(a, b), to_segment(b, c), to_segment(c, a)});
  const Vec3 n = (b - a).cross(c - a).normalized();
  const Vec3 foot = p - n.dot(p - a) * n;
  const bool is_over =
      n.dot((b - a).cross(foot - a)) >= 0 && n.dot((c - b).cross(foot - b)) >= 0 && n.dot((a - c).cross(foot - c)) >= 0;
  return is_over ? std::min(least, std::abs(n.dot(p - a))) : least;
}

}  // namespace holdfast::support
