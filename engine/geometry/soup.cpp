#include "soup_impl.h"

#include <Eigen/Geometry>
#include <algorithm>
#include <boost/pending/disjoint_sets.hpp>
#include <cmath>
#include <map>
#include <unordered_map>

namespace holdfast::geometry::detail {

namespace {

/// Joins vertices nearer than `tolerance`: index of the representative for each. Cells as large as the tolerance, 27
/// looked into.
std::vector<std::uint32_t> weld(const std::vector<Vec3>& vertices, double tolerance) {
  struct Key {
    std::int64_t x, y, z;
    bool operator==(const Key&) const = default;
  };
  struct Hash {
    std::size_t operator()(const Key& k) const {
      return static_cast<std::size_t>(k.x * 73856093LL ^ k.y * 19349663LL ^ k.z * 83492791LL);
    }
  };
  const auto cell = [&](double v) { return static_cast<std::int64_t>(std::floor(v / tolerance)); };
  std::unordered_map<Key, std::vector<std::uint32_t>, Hash> cells;
  std::vector<std::uint32_t> representative(vertices.size());
  for (std::size_t v = 0; v < vertices.size(); ++v) {
    const Vec3& p = vertices[v];
    const Key key{cell(p.x()), cell(p.y()), cell(p.z())};
    representative[v] = static_cast<std::uint32_t>(v);
    for (int n = 0; n < 27 && representative[v] == v; ++n) {
      const auto found = cells.find({key.x + n % 3 - 1, key.y + n / 3 % 3 - 1, key.z + n / 9 - 1});
      if (found == cells.end()) continue;
      for (const auto other : found->second)
        if ((vertices[other] - p).norm() <= tolerance) {
          representative[v] = other;
          break;
        }
    }
    if (representative[v] == v) cells[key].push_back(static_cast<std::uint32_t>(v));
  }
  return representative;
}

using Edge = std::pair<std::uint32_t, std::uint32_t>;
Edge edge_of(std::uint32_t a, std::uint32_t b) { return a < b ? Edge{a, b} : Edge{b, a}; }

}  // namespace

CleanSoup clean_soup(const TriangleMesh& soup) {
  CleanSoup clean;
  if (soup.vertices.empty()) return clean;
  Bounds bounds;
  for (const auto& v : soup.vertices) bounds.extend(v);
  const double tolerance = 1e-6 * std::max(1.0, (bounds.max - bounds.min).maxCoeff());
  const auto representative = weld(soup.vertices, tolerance);

  std::vector<std::array<std::uint32_t, 3>> triangles;
  std::map<std::array<std::uint32_t, 3>, bool> seen;
  for (const auto& t : soup.triangles) {
    const std::array<std::uint32_t, 3> r = {representative[t[0]], representative[t[1]], representative[t[2]]};
    const Vec3 &a = soup.vertices[r[0]], &b = soup.vertices[r[1]], &c = soup.vertices[r[2]];
    const double longest = std::max({(b - a).norm(), (c - b).norm(), (a - c).norm()});
    if (r[0] == r[1] || r[1] == r[2] || r[2] == r[0] || (b - a).cross(c - a).norm() <= 1e-12 * longest * longest) {
      ++clean.degenerate;
      continue;
    }
    auto sorted = r;
    std::sort(sorted.begin(), sorted.end());
    if (!seen.emplace(sorted, true).second) {
      ++clean.duplicate;
      continue;
    }
    triangles.push_back(r);
  }

  // Triangles that share an edge with exactly one other belong together; where more meet, shells merely touch.
  std::map<Edge, std::vector<std::uint32_t>> at_edge;
  for (std::uint32_t t = 0; t < triangles.size(); ++t)
    for (int i = 0; i < 3; ++i)
      at_edge[edge_of(triangles[t][static_cast<std::size_t>(i)], triangles[t][static_cast<std::size_t>((i + 1) % 3)])]
          .push_back(t);
  std::vector<std::uint32_t> rank(triangles.size()), parent(triangles.size());
  boost::disjoint_sets<std::uint32_t*, std::uint32_t*> sets(rank.data(), parent.data());
  for (std::uint32_t t = 0; t < triangles.size(); ++t) sets.make_set(t);
  for (const auto& [edge, list] : at_edge)
    if (list.size() == 2) sets.union_set(list[0], list[1]);

  std::map<std::uint32_t, std::size_t> shell_of;  // in order of first triangle
  std::vector<std::vector<std::uint32_t>> members;
  for (std::uint32_t t = 0; t < triangles.size(); ++t) {
    const auto [entry, is_new] = shell_of.try_emplace(sets.find_set(t), members.size());
    if (is_new) members.emplace_back();
    members[entry->second].push_back(t);
  }
  for (const auto& list : members) {
    Shell shell;
    std::unordered_map<std::uint32_t, std::uint32_t> renumbered;
    std::map<Edge, int> uses;
    for (const auto t : list) {
      std::array<std::uint32_t, 3> corner{};
      for (std::size_t i = 0; i < 3; ++i) {
        const auto [entry, is_new] =
            renumbered.try_emplace(triangles[t][i], static_cast<std::uint32_t>(shell.mesh.vertices.size()));
        if (is_new) shell.mesh.vertices.push_back(soup.vertices[triangles[t][i]]);
        corner[i] = entry->second;
      }
      for (std::size_t i = 0; i < 3; ++i) ++uses[edge_of(corner[i], corner[(i + 1) % 3])];
      shell.mesh.triangles.push_back(corner);
    }
    shell.is_closed = std::all_of(uses.begin(), uses.end(), [](const auto& use) { return use.second == 2; });
    if (shell.is_closed) {
      const auto orientation = orient_shell(shell.mesh);
      shell.is_closed = orientation.is_closed;
      shell.was_flipped = orientation.was_flipped;
    }
    clean.shells.push_back(std::move(shell));
  }
  return clean;
}

}  // namespace holdfast::geometry::detail
