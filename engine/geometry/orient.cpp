// SPDX-License-Identifier: GPL-3.0-or-later
// Orientation of shells that are plainly closed, which most are: each edge has two triangles, each vertex one ring of
// them. Some ten times as fast as building CGAL's structures for it, which do the rest.

#include <Eigen/Geometry>
#include <algorithm>
#include <cmath>

#include "soup_impl.h"

namespace holdfast::geometry::detail {

namespace {

constexpr std::uint32_t none = 0xFFFFFFFF;

/// For each triangle the neighbours over its three edges (corner i to i + 1). Empty where an edge has not two
/// triangles.
std::vector<std::array<std::uint32_t, 3>> neighbours_of(const TriangleMesh& mesh) {
  const auto sides = sides_by_edge(mesh.triangles, mesh.vertices.size());
  const auto is_same = [&](std::size_t x, std::size_t y) {
    return sides[x].low == sides[y].low && sides[x].high == sides[y].high;
  };
  std::vector<std::array<std::uint32_t, 3>> out(mesh.triangles.size(), {none, none, none});
  for (std::size_t s = 0; s < sides.size(); s += 2) {
    if (s + 1 == sides.size() || !is_same(s, s + 1)) return {};
    if (s + 2 < sides.size() && is_same(s, s + 2)) return {};
    out[sides[s].triangle][sides[s].side] = sides[s + 1].triangle;
    out[sides[s + 1].triangle][sides[s + 1].side] = sides[s].triangle;
  }
  return out;
}

/// True where the triangles at each vertex are one ring round it.
bool has_rings(const TriangleMesh& mesh, const std::vector<std::array<std::uint32_t, 3>>& neighbours) {
  std::vector<std::uint32_t> count(mesh.vertices.size()), first(mesh.vertices.size(), none);
  for (std::uint32_t t = 0; t < mesh.triangles.size(); ++t)
    for (const auto corner : mesh.triangles[t]) ++count[corner], first[corner] = t;
  for (std::uint32_t v = 0; v < mesh.vertices.size(); ++v) {
    std::uint32_t last = none, at = first[v], length = 0;
    while (at != none && length <= count[v]) {
      ++length;
      // The two sides at v: over the one that was not come from.
      std::array<std::uint32_t, 2> next{};
      std::size_t n = 0;
      for (std::size_t i = 0; i < 3; ++i)
        if (mesh.triangles[at][i] == v || mesh.triangles[at][(i + 1) % 3] == v) next[n++] = neighbours[at][i];
      const std::uint32_t to = next[0] != last || last == none ? next[0] : next[1];
      last = at, at = to;
      if (at == first[v]) break;
    }
    if (length != count[v]) return false;
  }
  return true;
}

/// Whether the corners run counter-clockwise seen from outside, by the first triangle that a ray from far away meets:
/// it is part of the outer boundary. Nothing where rays graze edges or touch two triangles at once.
std::optional<bool> find_is_outward(const TriangleMesh& mesh) {
  Bounds bounds;
  for (const auto& v : mesh.vertices) bounds.extend(v);
  const double size = (bounds.max - bounds.min).norm();
  constexpr std::size_t attempts = 8;
  constexpr double edge = 1e-6, slant = 1e-2, apart = 1e-9;
  for (std::size_t attempt = 0; attempt < attempts; ++attempt) {
    const auto& target = mesh.triangles[attempt * (mesh.triangles.size() - 1) / (attempts - 1)];
    const Vec3 &a = mesh.vertices[target[0]], &b = mesh.vertices[target[1]], &c = mesh.vertices[target[2]];
    const Vec3 u = Vec3(0.36, 0.48 + 0.1 * static_cast<double>(attempt), 0.8).normalized();
    const Vec3 origin = (a + b + c) / 3 - 2 * size * u;
    double nearest = 4 * size, second = 4 * size;
    double facing = 0;
    bool is_clear = true;
    for (const auto& t : mesh.triangles) {
      const Vec3 &p = mesh.vertices[t[0]], e = mesh.vertices[t[1]] - p, f = mesh.vertices[t[2]] - p;
      const Vec3 h = u.cross(f), from = origin - p;
      const double det = e.dot(h);
      if (det == 0) {
        is_clear = is_clear && std::abs(from.dot(e.cross(f))) > apart * size * e.cross(f).norm();
        continue;
      }
      const double x = from.dot(h) / det, y = u.dot(from.cross(e)) / det, z = f.dot(from.cross(e)) / det;
      const double inside = std::min({x, y, 1 - x - y});
      if (inside < -edge) continue;
      const Vec3 normal = e.cross(f);
      const double cosine = normal.dot(u) / normal.norm();
      // A graze counts where it may be the first.
      if (inside < edge || std::abs(cosine) < slant) {
        if (z < nearest + apart * size) second = std::min(second, z);
        continue;
      }
      if (z < nearest)
        second = std::min(second, nearest), nearest = z, facing = cosine;
      else
        second = std::min(second, z);
    }
    if (is_clear && facing != 0 && second > nearest + apart * size) return facing < 0;
  }
  return std::nullopt;
}

}  // namespace

std::optional<Orientation> orient_plain_shell(TriangleMesh& mesh) {
  const auto neighbours = neighbours_of(mesh);
  if (neighbours.empty() || !has_rings(mesh, neighbours)) return std::nullopt;
  // All as the first.
  enum class Turn : std::uint8_t { Unknown, Kept, Turned };
  std::vector<Turn> turns(mesh.triangles.size(), Turn::Unknown);
  turns[0] = Turn::Kept;
  std::vector<std::uint32_t> open = {0};
  std::size_t reached = 0;
  while (!open.empty()) {
    const std::uint32_t t = open.back();
    open.pop_back();
    ++reached;
    for (std::size_t i = 0; i < 3; ++i) {
      const std::uint32_t other = neighbours[t][i];
      const std::uint32_t from = mesh.triangles[t][i], to = mesh.triangles[t][(i + 1) % 3];
      const auto& o = mesh.triangles[other];
      const bool is_same_way =
          (o[0] == from && o[1] == to) || (o[1] == from && o[2] == to) || (o[2] == from && o[0] == to);
      const Turn wanted = is_same_way == (turns[t] == Turn::Kept) ? Turn::Turned : Turn::Kept;
      if (turns[other] == Turn::Unknown)
        turns[other] = wanted, open.push_back(other);
      else if (turns[other] != wanted)
        return std::nullopt;  // it cannot be turned consistently
    }
  }
  if (reached != mesh.triangles.size()) return std::nullopt;
  TriangleMesh turned = mesh;
  double volume = 0;
  for (std::size_t t = 0; t < mesh.triangles.size(); ++t) {
    auto& corners = turned.triangles[t];
    if (turns[t] == Turn::Turned) std::swap(corners[1], corners[2]);
    const Vec3& origin = mesh.vertices[0];
    volume += (mesh.vertices[corners[0]] - origin)
                  .dot((mesh.vertices[corners[1]] - origin).cross(mesh.vertices[corners[2]] - origin));
  }
  const auto is_outward = find_is_outward(turned);
  // Where the two disagree, the shell cuts itself.
  if (!is_outward || *is_outward != (volume > 0)) return std::nullopt;
  Orientation out{true, false};
  for (std::size_t t = 0; t < mesh.triangles.size(); ++t) {
    if (!*is_outward) std::swap(turned.triangles[t][1], turned.triangles[t][2]);
    out.was_flipped = out.was_flipped || (turns[t] == Turn::Turned) == *is_outward;
  }
  mesh.triangles = std::move(turned.triangles);
  return out;
}

}  // namespace holdfast::geometry::detail
