// SPDX-License-Identifier: GPL-3.0-or-later
#include "soup_impl.h"

#include <Eigen/Geometry>
#include <algorithm>
#include <boost/pending/disjoint_sets.hpp>
#include <cmath>

#include "holdfast/geometry/triangle_tree.h"

namespace holdfast::geometry::detail {

namespace {

/// Lists by hash: a list holds all that its hash may stand for and others, so what is found is compared. Far fewer
/// allocations than a standard hash map, which took most of the time on 200,000 triangles.
class HashLists {
 public:
  static constexpr std::uint32_t none = 0xFFFFFFFF;
  explicit HashLists(std::size_t count) : next_(count, none) {
    std::size_t size = 16;
    while (size < 2 * count) size *= 2;
    head_.assign(size, none);
  }
  [[nodiscard]] std::uint32_t first(std::uint64_t hash) const { return head_[slot(hash)]; }
  [[nodiscard]] std::uint32_t next(std::uint32_t item) const { return next_[item]; }
  void add(std::uint64_t hash, std::uint32_t item) {
    next_[item] = head_[slot(hash)];
    head_[slot(hash)] = item;
  }

 private:
  [[nodiscard]] std::size_t slot(std::uint64_t hash) const {
    return static_cast<std::size_t>(hash ^ (hash >> 29)) & (head_.size() - 1);
  }
  std::vector<std::uint32_t> head_, next_;
};
std::uint64_t hash_of(std::uint64_t x, std::uint64_t y, std::uint64_t z) {
  const std::uint64_t mixed = x * 0x9E3779B97F4A7C15u ^ y * 0xC2B2AE3D27D4EB4Fu ^ z * 0x165667B19E3779F9u;
  return mixed ^ (mixed >> 32);
}

/// Joins vertices nearer than `tolerance`: index of the representative for each, the first that is near. Cells are much
/// larger than the tolerance, so that most vertices are looked for in one.
std::vector<std::uint32_t> weld(const std::vector<Vec3>& vertices, double tolerance) {
  constexpr double cell_in_tolerances = 64;
  const double size = cell_in_tolerances * tolerance;
  const auto cell = [&](double v) { return static_cast<std::int64_t>(std::floor(v / size)); };
  const auto hash = [](std::int64_t x, std::int64_t y, std::int64_t z) {
    return hash_of(static_cast<std::uint64_t>(x), static_cast<std::uint64_t>(y), static_cast<std::uint64_t>(z));
  };
  HashLists lists(vertices.size());  // of the vertices that stand for others, by cell
  std::vector<std::uint32_t> representative(vertices.size());
  for (std::uint32_t v = 0; v < vertices.size(); ++v) {
    const Vec3& p = vertices[v];
    const std::array<std::int64_t, 3> low = {cell(p.x() - tolerance), cell(p.y() - tolerance), cell(p.z() - tolerance)},
                                      high = {cell(p.x() + tolerance), cell(p.y() + tolerance),
                                              cell(p.z() + tolerance)};
    std::uint32_t near = HashLists::none;
    for (auto x = low[0]; x <= high[0]; ++x)
      for (auto y = low[1]; y <= high[1]; ++y)
        for (auto z = low[2]; z <= high[2]; ++z)
          for (auto other = lists.first(hash(x, y, z)); other != HashLists::none; other = lists.next(other))
            if (other < near && (vertices[other] - p).squaredNorm() <= tolerance * tolerance) near = other;
    representative[v] = near == HashLists::none ? v : near;
    if (near == HashLists::none) lists.add(hash(cell(p.x()), cell(p.y()), cell(p.z())), v);
  }
  return representative;
}

/// A triangle at an edge: its third corner, and whether it runs along the edge from the smaller to the larger vertex.
struct EdgeUse {
  std::uint32_t triangle;
  std::uint32_t apex;
  bool is_forward;
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

std::vector<EdgeSide> sides_by_edge(const std::vector<std::array<std::uint32_t, 3>>& triangles, std::size_t vertices) {
  // By the smaller vertex in one pass, then each vertex's few by the other.
  std::vector<std::uint32_t> begin(vertices + 1, 0);
  for (const auto& t : triangles)
    for (std::size_t i = 0; i < 3; ++i) ++begin[std::min(t[i], t[(i + 1) % 3]) + 1];
  for (std::size_t v = 0; v < vertices; ++v) begin[v + 1] += begin[v];
  std::vector<EdgeSide> sides(3 * triangles.size());
  auto at = begin;
  for (std::uint32_t t = 0; t < triangles.size(); ++t)
    for (std::uint32_t i = 0; i < 3; ++i) {
      const std::uint32_t a = triangles[t][i], b = triangles[t][(i + 1) % 3];
      sides[at[std::min(a, b)]++] = {std::min(a, b), std::max(a, b), t, i};
    }
  for (std::size_t v = 0; v < vertices; ++v)
    std::sort(sides.begin() + begin[v], sides.begin() + begin[v + 1], [](const EdgeSide& x, const EdgeSide& y) {
      if (x.high != y.high) return x.high < y.high;
      return x.triangle != y.triangle ? x.triangle < y.triangle : x.side < y.side;
    });
  return sides;
}

CleanSoup clean_soup(const TriangleMesh& soup) {
  CleanSoup clean;
  if (soup.vertices.empty()) return clean;
  Bounds bounds;
  for (const auto& v : soup.vertices) bounds.extend(v);
  const double tolerance = 1e-6 * std::max(1.0, (bounds.max - bounds.min).maxCoeff());
  const auto representative = weld(soup.vertices, tolerance);

  std::vector<std::array<std::uint32_t, 3>> triangles;
  triangles.reserve(soup.triangles.size());
  HashLists seen(soup.triangles.size());
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
    const auto hash = hash_of(r[0], r[1], r[2]);
    auto same = seen.first(hash);
    while (same != HashLists::none && triangles[same] != r) same = seen.next(same);
    if (same != HashLists::none) {
      ++clean.duplicate;
      continue;
    }
    seen.add(hash, static_cast<std::uint32_t>(triangles.size()));
    triangles.push_back(r);
  }

  const auto sides = sides_by_edge(triangles, soup.vertices.size());
  std::vector<std::uint32_t> rank(triangles.size()), parent(triangles.size());
  boost::disjoint_sets<std::uint32_t*, std::uint32_t*> sets(rank.data(), parent.data());
  for (std::uint32_t t = 0; t < triangles.size(); ++t) sets.make_set(t);
  std::vector<int> paired(triangles.size());
  std::vector<EdgeUse> uses;
  for (std::size_t e = 0; e < sides.size();) {
    const std::uint32_t low = sides[e].low, high = sides[e].high;
    uses.clear();
    for (; e < sides.size() && sides[e].low == low && sides[e].high == high; ++e) {
      const auto& corners = triangles[sides[e].triangle];
      uses.push_back({sides[e].triangle, corners[(sides[e].side + 2) % 3], corners[sides[e].side] == low});
    }
    for (const auto& [one, other] : pair_up(soup.vertices[low], soup.vertices[high], soup.vertices, uses)) {
      sets.union_set(one, other);
      ++paired[one], ++paired[other];
    }
  }

  constexpr std::uint32_t none = 0xFFFFFFFF;
  std::vector<std::uint32_t> shell_of(triangles.size(), none);  // of a set's root; in order of first triangle
  std::vector<std::vector<std::uint32_t>> members;
  for (std::uint32_t t = 0; t < triangles.size(); ++t) {
    auto& shell = shell_of[sets.find_set(t)];
    if (shell == none) shell = static_cast<std::uint32_t>(members.size()), members.emplace_back();
    members[shell].push_back(t);
  }
  std::vector<std::uint32_t> renumbered(soup.vertices.size(), none);
  for (const auto& list : members) {
    Shell shell;
    shell.mesh.triangles.reserve(list.size());
    for (const auto t : list) {
      std::array<std::uint32_t, 3> corner{};
      for (std::size_t i = 0; i < 3; ++i) {
        auto& number = renumbered[triangles[t][i]];
        if (number == none) {
          number = static_cast<std::uint32_t>(shell.mesh.vertices.size());
          shell.mesh.vertices.push_back(soup.vertices[triangles[t][i]]);
        }
        corner[i] = number;
      }
      shell.mesh.triangles.push_back(corner);
    }
    for (const auto t : list)  // a vertex may be another shell's as well
      for (const auto v : triangles[t]) renumbered[v] = none;
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
