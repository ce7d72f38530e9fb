// SPDX-License-Identifier: GPL-3.0-or-later
#include "soup_impl.h"

#include <Eigen/Geometry>
#include <algorithm>
#include <boost/pending/disjoint_sets.hpp>
#include <cmath>
#include <map>
#include <unordered_map>
#include <unordered_set>

#include "holdfast/geometry/triangle_tree.h"

namespace holdfast::geometry::detail {

namespace {

/// Joins vertices nearer than `tolerance`: index of the representative for each, the first that is near. Cells are much
/// larger than the tolerance, so that most vertices are looked for in one.
std::vector<std::uint32_t> weld(const std::vector<Vec3>& vertices, double tolerance) {
  struct Key {
    std::int64_t x, y, z;
    bool operator==(const Key&) const = default;
  };
  struct Hash {
    std::size_t operator()(const Key& k) const {
      const auto mixed = static_cast<std::uint64_t>(k.x) * 0x9E3779B97F4A7C15u ^
                         static_cast<std::uint64_t>(k.y) * 0xC2B2AE3D27D4EB4Fu ^
                         static_cast<std::uint64_t>(k.z) * 0x165667B19E3779F9u;
      return static_cast<std::size_t>(mixed ^ (mixed >> 29));
    }
  };
  constexpr double cell_in_tolerances = 64;
  constexpr std::uint32_t none = 0xFFFFFFFF;
  const double size = cell_in_tolerances * tolerance;
  const auto cell = [&](double v) { return static_cast<std::int64_t>(std::floor(v / size)); };
  std::unordered_map<Key, std::uint32_t, Hash> first;  // of the vertices in a cell that stand for others
  first.reserve(vertices.size());
  std::vector<std::uint32_t> representative(vertices.size()), next(vertices.size(), none);
  for (std::size_t v = 0; v < vertices.size(); ++v) {
    const Vec3& p = vertices[v];
    const Key low{cell(p.x() - tolerance), cell(p.y() - tolerance), cell(p.z() - tolerance)},
        high{cell(p.x() + tolerance), cell(p.y() + tolerance), cell(p.z() + tolerance)};
    std::uint32_t near = none;
    for (auto x = low.x; x <= high.x; ++x)
      for (auto y = low.y; y <= high.y; ++y)
        for (auto z = low.z; z <= high.z; ++z)
          if (const auto found = first.find({x, y, z}); found != first.end())
            for (auto other = found->second; other != none; other = next[other])
              if (other < near && (vertices[other] - p).squaredNorm() <= tolerance * tolerance) near = other;
    representative[v] = near == none ? static_cast<std::uint32_t>(v) : near;
    if (near != none) continue;
    const auto [entry, is_new] =
        first.try_emplace(Key{cell(p.x()), cell(p.y()), cell(p.z())}, static_cast<std::uint32_t>(v));
    if (!is_new) next[v] = entry->second, entry->second = static_cast<std::uint32_t>(v);
  }
  return representative;
}

using Edge = std::pair<std::uint32_t, std::uint32_t>;
Edge edge_of(std::uint32_t a, std::uint32_t b) { return a < b ? Edge{a, b} : Edge{b, a}; }

/// A triangle at an edge: its third corner, and whether it runs along the edge from the smaller to the larger vertex.
struct EdgeUse {
  std::uint32_t triangle;
  std::uint32_t apex;
  bool is_forward;
};
struct EdgeOf {
  Edge edge;
  EdgeUse use;
};

/// Which triangles at an edge belong to the same shell. Two always do. Where more meet, solids touch along the edge:
/// going round it, each solid's wedge is entered through one of its faces and left through the next. Nothing where
/// faces do not alternate so.
std::vector<std::pair<std::uint32_t, std::uint32_t>> pair_up(const Vec3& u, const Vec3& v,
                                                             const std::vector<Vec3>& vertices,
                                                             const std::vector<EdgeUse>& uses) {
  if (uses.size() == 2) return {{uses[0].triangle, uses[1].triangle}};
  if (uses.size() < 2 || uses.size() % 2 != 0) return {};
  const Vec3 axis = (v - u).normalized(), x = axis.unitOrthogonal(), y = axis.cross(x);
  struct Turned {
    double angle;
    EdgeUse use;
  };
  std::vector<Turned> round;
  for (const auto& use : uses) {
    const Vec3 arm = vertices[use.apex] - u;
    round.push_back({std::atan2(arm.dot(y), arm.dot(x)), use});
  }
  // An outward triangle that runs along the edge forward has its solid before it (at smaller angles); of two in the
  // same place that one comes first.
  constexpr double same_place = 1e-9;
  std::sort(round.begin(), round.end(), [](const Turned& p, const Turned& q) {
    if (std::abs(p.angle - q.angle) > same_place) return p.angle < q.angle;
    return p.use.is_forward && !q.use.is_forward;
  });
  const auto enters = std::find_if(round.begin(), round.end(), [](const Turned& t) { return !t.use.is_forward; });
  std::rotate(round.begin(), enters, round.end());
  std::vector<std::pair<std::uint32_t, std::uint32_t>> pairs;
  for (std::size_t i = 0; i < round.size(); i += 2) {
    if (round[i].use.is_forward || !round[i + 1].use.is_forward) return {};
    pairs.emplace_back(round[i].use.triangle, round[i + 1].use.triangle);
  }
  return pairs;
}

}  // namespace

}  // namespace holdfast::geometry::detail

std::vector<std::uint32_t> holdfast::geometry::weld_vertices(const std::vector<Vec3>& vertices, double tolerance_m) {
  return detail::weld(vertices, tolerance_m);
}

namespace holdfast::geometry::detail {

CleanSoup clean_soup(const TriangleMesh& soup) {
  CleanSoup clean;
  if (soup.vertices.empty()) return clean;
  Bounds bounds;
  for (const auto& v : soup.vertices) bounds.extend(v);
  const double tolerance = 1e-6 * std::max(1.0, (bounds.max - bounds.min).maxCoeff());
  const auto representative = weld(soup.vertices, tolerance);

  std::vector<std::array<std::uint32_t, 3>> triangles;
  struct HashCorners {
    std::size_t operator()(const std::array<std::uint32_t, 3>& c) const {
      const std::uint64_t mixed = c[0] * 0x9E3779B97F4A7C15u ^ c[1] * 0xC2B2AE3D27D4EB4Fu ^ c[2] * 0x165667B19E3779F9u;
      return static_cast<std::size_t>(mixed ^ (mixed >> 29));
    }
  };
  std::unordered_set<std::array<std::uint32_t, 3>, HashCorners> seen;
  seen.reserve(soup.triangles.size());
  for (const auto& t : soup.triangles) {
    std::array<std::uint32_t, 3> r = {representative[t[0]], representative[t[1]], representative[t[2]]};
    const Vec3 &a = soup.vertices[r[0]], &b = soup.vertices[r[1]], &c = soup.vertices[r[2]];
    const double longest = std::max({(b - a).norm(), (c - b).norm(), (a - c).norm()});
    if (r[0] == r[1] || r[1] == r[2] || r[2] == r[0] || (b - a).cross(c - a).norm() <= 1e-12 * longest * longest) {
      ++clean.degenerate;
      continue;
    }
    // The same corners the other way round are kept: two solids that touch face to face have such a pair.
    std::rotate(r.begin(), std::min_element(r.begin(), r.end()), r.end());
    if (!seen.insert(r).second) {
      ++clean.duplicate;
      continue;
    }
    triangles.push_back(r);
  }

  std::vector<EdgeOf> at_edge;
  at_edge.reserve(3 * triangles.size());
  for (std::uint32_t t = 0; t < triangles.size(); ++t)
    for (std::size_t i = 0; i < 3; ++i) {
      const std::uint32_t u = triangles[t][i], v = triangles[t][(i + 1) % 3];
      at_edge.push_back({edge_of(u, v), {t, triangles[t][(i + 2) % 3], u < v}});
    }
  std::stable_sort(at_edge.begin(), at_edge.end(), [](const EdgeOf& x, const EdgeOf& y) { return x.edge < y.edge; });
  std::vector<std::uint32_t> rank(triangles.size()), parent(triangles.size());
  boost::disjoint_sets<std::uint32_t*, std::uint32_t*> sets(rank.data(), parent.data());
  for (std::uint32_t t = 0; t < triangles.size(); ++t) sets.make_set(t);
  std::vector<int> paired(triangles.size());
  std::vector<EdgeUse> uses;
  for (std::size_t e = 0; e < at_edge.size();) {
    const Edge edge = at_edge[e].edge;
    uses.clear();
    for (; e < at_edge.size() && at_edge[e].edge == edge; ++e) uses.push_back(at_edge[e].use);
    for (const auto& [one, other] :
         pair_up(soup.vertices[edge.first], soup.vertices[edge.second], soup.vertices, uses)) {
      sets.union_set(one, other);
      ++paired[one], ++paired[other];
    }
  }

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
    for (const auto t : list) {
      std::array<std::uint32_t, 3> corner{};
      for (std::size_t i = 0; i < 3; ++i) {
        const auto [entry, is_new] =
            renumbered.try_emplace(triangles[t][i], static_cast<std::uint32_t>(shell.mesh.vertices.size()));
        if (is_new) shell.mesh.vertices.push_back(soup.vertices[triangles[t][i]]);
        corner[i] = entry->second;
      }
      shell.mesh.triangles.push_back(corner);
    }
    shell.is_closed = std::all_of(list.begin(), list.end(), [&](auto t) { return paired[t] == 3; });
    if (shell.is_closed) {
      const auto plain = orient_plain_shell(shell.mesh);
      const auto orientation = plain ? *plain : orient_shell(shell.mesh);
      shell.is_closed = orientation.is_closed;
      shell.was_flipped = orientation.was_flipped;
    }
    clean.shells.push_back(std::move(shell));
  }
  return clean;
}

}  // namespace holdfast::geometry::detail
