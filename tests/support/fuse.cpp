// SPDX-License-Identifier: GPL-3.0-or-later
#include "fuse.h"

#include <CGAL/Exact_predicates_inexact_constructions_kernel.h>
#include <CGAL/Polygon_mesh_processing/corefinement.h>
#include <CGAL/Polygon_mesh_processing/orientation.h>
#include <CGAL/Polygon_mesh_processing/polygon_soup_to_polygon_mesh.h>
#include <CGAL/Surface_mesh.h>

#include <Eigen/Geometry>
#include <boost/pending/disjoint_sets.hpp>
#include <map>
#include <random>
#include <vector>

namespace holdfast::support {

namespace {

namespace processing = CGAL::Polygon_mesh_processing;
using Point = CGAL::Exact_predicates_inexact_constructions_kernel::Point_3;
using Skin = CGAL::Surface_mesh<Point>;

std::vector<geometry::TriangleMesh> bodies_of(const geometry::TriangleMesh& mesh) {
  std::vector<std::uint32_t> rank(mesh.vertices.size()), parent(mesh.vertices.size());
  boost::disjoint_sets<std::uint32_t*, std::uint32_t*> sets(rank.data(), parent.data());
  for (std::uint32_t v = 0; v < mesh.vertices.size(); ++v) sets.make_set(v);
  for (const auto& t : mesh.triangles) sets.union_set(t[0], t[1]), sets.union_set(t[0], t[2]);
  std::map<std::uint32_t, std::size_t> number;
  std::vector<geometry::TriangleMesh> bodies;
  std::vector<std::uint32_t> vertex(mesh.vertices.size(), UINT32_MAX);
  for (auto t : mesh.triangles) {
    const auto [entry, is_new] = number.try_emplace(sets.find_set(t[0]), bodies.size());
    if (is_new) bodies.emplace_back();
    auto& body = bodies[entry->second];
    for (auto& v : t) {
      if (vertex[v] == UINT32_MAX) {
        vertex[v] = static_cast<std::uint32_t>(body.vertices.size());
        body.vertices.push_back(mesh.vertices[v]);
      }
      v = vertex[v];
    }
    body.triangles.push_back(t);
  }
  return bodies;
}

/// Nothing for an open one.
std::optional<Skin> skin_of(const geometry::TriangleMesh& body) {
  std::vector<Point> points;
  for (const auto& v : body.vertices) points.emplace_back(v.x(), v.y(), v.z());
  std::vector<std::vector<std::size_t>> faces;
  for (const auto& t : body.triangles) faces.push_back({t[0], t[1], t[2]});
  Skin skin;
  if (!processing::is_polygon_soup_a_polygon_mesh(faces)) return std::nullopt;
  processing::polygon_soup_to_polygon_mesh(points, faces, skin);
  if (!CGAL::is_closed(skin)) return std::nullopt;
  if (!processing::is_outward_oriented(skin)) processing::reverse_face_orientations(skin);
  return skin;
}

/// Of the bodies from `begin` to `end`: halves first, so that no union is made of all again and again. What cannot be
/// joined is added to `apart`.
Skin unite(std::vector<Skin>& bodies, std::size_t begin, std::size_t end, std::vector<Skin>& apart) {
  if (end - begin == 1) return std::move(bodies[begin]);
  const std::size_t middle = (begin + end) / 2;
  Skin one = unite(bodies, begin, middle, apart), two = unite(bodies, middle, end, apart);
  Skin one_before = one, two_before = two, both;
  try {
    if (processing::corefine_and_compute_union(one, two, both)) {
      both.collect_garbage();
      return both;
    }
  } catch (const CGAL::Failure_exception&) {  // it gave up half done
  }
  apart.push_back(std::move(two_before));
  return one_before;
}

}  // namespace

Fused fuse(const geometry::TriangleMesh& mesh) {
  Fused out;
  std::map<std::array<double, 3>, std::uint32_t> known;
  const auto vertex = [&](const geometry::Vec3& p) {
    const auto [entry, is_new] =
        known.try_emplace({p.x(), p.y(), p.z()}, static_cast<std::uint32_t>(out.mesh.vertices.size()));
    if (is_new) out.mesh.vertices.push_back(p);
    return entry->second;
  };
  // Faces that lie in one plane but for rounding have no union in floating point: no two bodies are left so.
  std::mt19937 random(1);
  const auto nudge = [&] { return 1e-4 * std::uniform_real_distribution<double>(-1, 1)(random); };
  std::vector<Skin> closed, skins;
  for (auto body : bodies_of(mesh)) {
    ++out.bodies;
    const geometry::Vec3 about = body.vertices.front(), by(nudge(), nudge(), nudge());
    const Eigen::AngleAxisd turn(nudge(), geometry::Vec3(nudge(), nudge(), nudge()).normalized());
    for (auto& v : body.vertices) v = about + by + turn * (v - about);
    if (auto skin = skin_of(body)) {
      closed.push_back(std::move(*skin));
      continue;
    }
    ++out.left_apart;
    for (const auto& t : body.triangles)
      out.mesh.triangles.push_back(
          {vertex(body.vertices[t[0]]), vertex(body.vertices[t[1]]), vertex(body.vertices[t[2]])});
  }
  if (!closed.empty()) skins.push_back(unite(closed, 0, closed.size(), skins));
  out.left_apart += skins.empty() ? 0 : skins.size() - 1;
  for (const auto& skin : skins)
    for (const auto f : skin.faces()) {
      std::array<std::uint32_t, 3> corners{};
      std::size_t i = 0;
      for (const auto v : skin.vertices_around_face(skin.halfedge(f))) {
        const auto& p = skin.point(v);
        corners[i++] = vertex({p.x(), p.y(), p.z()});
      }
      if (corners[0] != corners[1] && corners[1] != corners[2] && corners[2] != corners[0])
        out.mesh.triangles.push_back(corners);
    }
  return out;
}

}  // namespace holdfast::support
