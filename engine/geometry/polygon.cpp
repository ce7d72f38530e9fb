// SPDX-License-Identifier: GPL-3.0-or-later
#include <fmt/format.h>

#include <Eigen/Geometry>
#include <algorithm>
#include <cmath>
#include <numbers>
#include <set>

#include "mesh_reader_impl.h"

namespace holdfast::geometry::detail {

void check_mesh_size(std::size_t vertices, std::size_t triangles) {
  if (triangles > most_mesh_triangles)
    throw BrokenMesh{fmt::format("it has more than {} triangles", most_mesh_triangles),
                     "decimate it, or split it into several files"};
  if (vertices > most_mesh_vertices)
    throw BrokenMesh{fmt::format("it has more than {} vertices", most_mesh_vertices),
                     "decimate it, or split it into several files"};
}

namespace {

/// Tests of a corner against a triangle, over all faces of a file: about two seconds.
constexpr std::size_t most_clipping_work = 400'000'000;

}  // namespace

void PolygonCutter::add(const std::vector<std::uint32_t>& corners, const std::string& where) {
  const std::size_t n = corners.size();
  if (n > most_face_corners)
    throw BrokenMesh{fmt::format("{}: a face has {} corners, and at most {} are read", where, n, most_face_corners),
                     "export it as triangles"};
  check_mesh_size(mesh_.vertices.size(), mesh_.triangles.size() + n - 2);
  if (n == 3) {
    mesh_.triangles.push_back({corners[0], corners[1], corners[2]});
    return;
  }
  const auto at = [&](std::size_t i) -> const Vec3& { return mesh_.vertices[corners[i % n]]; };
  Vec3 normal = Vec3::Zero();
  for (std::size_t i = 0; i < n; ++i) normal += at(i).cross(at(i + 1));
  // Convex where it turns one way only, and once round: all ears of the last corner are empty then.
  double turned = 0;
  bool is_convex = true;
  for (std::size_t i = 0; i < n && is_convex; ++i) {
    const Vec3 in = at(i + 1) - at(i), out = at(i + 2) - at(i + 1);
    const double turn = in.cross(out).dot(normal);
    is_convex = turn > 0;
    turned += std::atan2(in.cross(out).norm(), in.dot(out));
  }
  if (is_convex && turned < 3 * std::numbers::pi) {
    for (std::size_t i = 0; i + 2 < n; ++i) mesh_.triangles.push_back({corners[n - 1], corners[i], corners[i + 1]});
    return;
  }
  clip_ears(corners, normal, where);
}

void PolygonCutter::clip_ears(const std::vector<std::uint32_t>& corners, const Vec3& normal, const std::string& where) {
  const std::size_t n = corners.size();
  const auto turn = [&](std::size_t a, std::size_t b, std::size_t c) {
    const Vec3 &p = mesh_.vertices[corners[a]], &q = mesh_.vertices[corners[b]], &r = mesh_.vertices[corners[c]];
    return (q - p).cross(r - q).dot(normal);
  };
  std::vector<std::size_t> before(n), after(n), blockers;
  for (std::size_t i = 0; i < n; ++i) before[i] = (i + n - 1) % n, after[i] = (i + 1) % n;
  // Only a corner that does not turn outward can be the first that a triangle between neighbours contains. One that
  // turns outward stays so when others are clipped, so the list never grows.
  for (std::size_t i = 0; i < n; ++i)
    if (turn(before[i], i, after[i]) <= 0) blockers.push_back(i);
  work_ += n * blockers.size();
  if (work_ > most_clipping_work)
    throw BrokenMesh{fmt::format("{}: its faces have too many corners to be cut into triangles", where),
                     "export it as triangles"};
  std::vector<bool> is_gone(n);
  const auto is_ear = [&](std::size_t b) {
    const std::size_t a = before[b], c = after[b];
    if (turn(a, b, c) < 0) return false;
    return std::none_of(blockers.begin(), blockers.end(), [&](std::size_t p) {
      return p != a && p != b && p != c && !is_gone[p] && turn(a, b, p) >= 0 && turn(b, c, p) >= 0 &&
             turn(c, a, p) >= 0;
    });
  };
  std::set<std::size_t> ears, left;
  for (std::size_t i = 0; i < n; ++i) {
    left.insert(left.end(), i);
    if (is_ear(i)) ears.insert(ears.end(), i);
  }
  while (left.size() > 3) {
    // Where no corner is an ear (a face that cuts itself), the first is clipped all the same.
    const std::size_t b = ears.empty() ? *left.begin() : *ears.begin(), a = before[b], c = after[b];
    mesh_.triangles.push_back({corners[a], corners[b], corners[c]});
    is_gone[b] = true, left.erase(b), ears.erase(b);
    after[a] = c, before[c] = a;
    for (const std::size_t i : {a, c})
      if (is_ear(i))
        ears.insert(i);
      else
        ears.erase(i);
  }
  const std::size_t a = *left.begin();
  mesh_.triangles.push_back({corners[a], corners[after[a]], corners[after[after[a]]]});
}

}  // namespace holdfast::geometry::detail
