// SPDX-License-Identifier: GPL-3.0-or-later
#include <Eigen/Cholesky>
#include <Eigen/Geometry>
#include <algorithm>
#include <cmath>
#include <limits>
#include <unordered_map>

#include "surface_impl.h"

namespace holdfast::picture {

namespace {

struct Key {
  std::array<std::int64_t, 3> cell;
  friend bool operator==(const Key&, const Key&) = default;
};
struct KeyHash {
  std::size_t operator()(const Key& key) const {
    std::uint64_t h = 1469598103934665603ULL;
    for (const auto c : key.cell) h = (h ^ static_cast<std::uint64_t>(c)) * 1099511628211ULL;
    return static_cast<std::size_t>(h ^ (h >> 29));
  }
};
constexpr double weld_m = 1e-6;

Key key_of(const Vec3& p) {
  return {{std::llround(p.x() / weld_m), std::llround(p.y() / weld_m), std::llround(p.z() / weld_m)}};
}

}  // namespace

Welded weld(const TriangleMesh& mesh) {
  Welded welded;
  std::unordered_map<Key, std::uint32_t, KeyHash> known;
  known.reserve(mesh.vertices.size());
  std::vector<std::uint32_t> renumbered;
  renumbered.reserve(mesh.vertices.size());
  for (const auto& vertex : mesh.vertices) {
    const auto [entry, is_new] = known.emplace(key_of(vertex), static_cast<std::uint32_t>(welded.vertices.size()));
    if (is_new) welded.vertices.push_back(vertex);
    renumbered.push_back(entry->second);
  }
  for (const auto& t : mesh.triangles) {
    const std::array<std::uint32_t, 3> triangle = {renumbered[t[0]], renumbered[t[1]], renumbered[t[2]]};
    const Vec3 &a = welded.vertices[triangle[0]], &b = welded.vertices[triangle[1]], &c = welded.vertices[triangle[2]];
    const Vec3 normal = (b - a).cross(c - a);
    if (!(normal.norm() > 1e-14)) continue;
    welded.triangles.push_back(triangle);
    welded.normals.push_back(normal.normalized());
  }
  std::unordered_map<std::uint64_t, std::size_t> edge_at;
  edge_at.reserve(welded.triangles.size() * 2);
  for (std::size_t f = 0; f < welded.triangles.size(); ++f)
    for (std::size_t k = 0; k < 3; ++k) {
      const auto a = welded.triangles[f][k], b = welded.triangles[f][(k + 1) % 3];
      const std::uint64_t key = (static_cast<std::uint64_t>(std::min(a, b)) << 32) | std::max(a, b);
      const auto [entry, is_new] = edge_at.emplace(key, welded.edges.size());
      if (is_new)
        welded.edges.push_back({{std::min(a, b), std::max(a, b)}, {static_cast<std::int32_t>(f), -1}});
      else if (auto& edge = welded.edges[entry->second]; edge.faces[1] < 0)
        edge.faces[1] = static_cast<std::int32_t>(f);
    }
  const double flat = std::cos(crease_rad);
  for (auto& edge : welded.edges)
    edge.is_crease = edge.faces[1] < 0 || welded.normals[static_cast<std::size_t>(edge.faces[0])].dot(
                                              welded.normals[static_cast<std::size_t>(edge.faces[1])]) < flat;
  return welded;
}

Shaded shade(const TriangleMesh& mesh) {
  const Welded welded = weld(mesh);
  Shaded shaded;
  const double flat = std::cos(crease_rad);
  // Faces round each vertex.
  std::vector<std::uint32_t> first(welded.vertices.size() + 1, 0), around(welded.triangles.size() * 3);
  for (const auto& t : welded.triangles)
    for (const auto v : t) ++first[v + 1];
  for (std::size_t v = 1; v < first.size(); ++v) first[v] += first[v - 1];
  auto next = first;
  for (std::size_t f = 0; f < welded.triangles.size(); ++f)
    for (const auto v : welded.triangles[f]) around[next[v]++] = static_cast<std::uint32_t>(f);
  // A corner's normal is the mean over faces that lie smoothly beside its own; corners of one vertex with the same
  // normal share a drawn vertex.
  std::vector<std::vector<std::uint32_t>> drawn(welded.vertices.size());
  for (std::size_t f = 0; f < welded.triangles.size(); ++f) {
    std::array<std::uint32_t, 3> triangle{};
    for (std::size_t k = 0; k < 3; ++k) {
      const auto v = welded.triangles[f][k];
      Vec3 sum = Vec3::Zero();
      for (auto i = first[v]; i < first[v + 1]; ++i) {
        const auto g = around[i];
        if (welded.normals[g].dot(welded.normals[f]) < flat) continue;
        const auto& t = welded.triangles[g];
        const auto corner = static_cast<std::size_t>(std::find(t.begin(), t.end(), v) - t.begin());
        const Vec3 a = welded.vertices[t[(corner + 1) % 3]] - welded.vertices[v];
        const Vec3 b = welded.vertices[t[(corner + 2) % 3]] - welded.vertices[v];
        sum += std::atan2(a.cross(b).norm(), a.dot(b)) * welded.normals[g];
      }
      const Vec3 normal = sum.norm() > 1e-9 ? Vec3(sum.normalized()) : welded.normals[f];
      const auto same = std::find_if(drawn[v].begin(), drawn[v].end(), [&](std::uint32_t d) {
        return (shaded.normals[d] - normal).squaredNorm() < 1e-4;
      });
      if (same != drawn[v].end()) {
        triangle[k] = *same;
      } else {
        triangle[k] = static_cast<std::uint32_t>(shaded.vertices.size());
        shaded.vertices.push_back(welded.vertices[v]);
        shaded.normals.push_back(normal);
        drawn[v].push_back(triangle[k]);
      }
    }
    shaded.triangles.push_back(triangle);
  }
  for (const auto& edge : welded.edges)
    if (edge.is_crease) shaded.edges.push_back({drawn[edge.ends[0]].front(), drawn[edge.ends[1]].front()});
  return shaded;
}

TriangleMesh grown(const TriangleMesh& mesh, double distance_m) {
  const Welded welded = weld(mesh);
  // Each vertex moves by the v that comes nearest to n . v = distance for all faces round it.
  std::vector<Eigen::Matrix3d> lhs(welded.vertices.size(), 1e-6 * Eigen::Matrix3d::Identity());
  std::vector<Vec3> rhs(welded.vertices.size(), Vec3::Zero());
  for (std::size_t f = 0; f < welded.triangles.size(); ++f)
    for (const auto v : welded.triangles[f]) {
      lhs[v] += welded.normals[f] * welded.normals[f].transpose();
      rhs[v] += distance_m * welded.normals[f];
    }
  std::vector<Vec3> steps;
  steps.reserve(welded.vertices.size());
  for (std::size_t v = 0; v < welded.vertices.size(); ++v) {
    const Vec3 step = lhs[v].ldlt().solve(rhs[v]);
    steps.push_back(step);
  }
  // Where they disagree, far enough for each of them.
  std::vector<double> least(steps.size(), std::numeric_limits<double>::infinity());
  for (std::size_t f = 0; f < welded.triangles.size(); ++f)
    for (const auto v : welded.triangles[f]) least[v] = std::min(least[v], steps[v].dot(welded.normals[f]));
  TriangleMesh out{welded.vertices, welded.triangles};
  for (std::size_t v = 0; v < out.vertices.size(); ++v) {
    Vec3 step = steps[v];
    if (least[v] > 0 && least[v] < distance_m) step *= distance_m / least[v];
    if (const double length = step.norm(); length > 3 * distance_m) step *= 3 * distance_m / length;
    out.vertices[v] += step;
  }
  return out;
}

}  // namespace holdfast::picture
