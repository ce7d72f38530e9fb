// SPDX-License-Identifier: GPL-3.0-or-later
// All that CGAL does for meshes, one shell at a time: its repair of a soup of touching shells would weld them into
// something open.

#include <CGAL/Exact_predicates_inexact_constructions_kernel.h>
#include <CGAL/Polygon_mesh_processing/orient_polygon_soup.h>
#include <CGAL/Polygon_mesh_processing/orientation.h>
#include <CGAL/Polygon_mesh_processing/polygon_soup_to_polygon_mesh.h>
#include <CGAL/Polygon_mesh_processing/self_intersections.h>
#include <CGAL/Surface_mesh.h>
#include <CGAL/convex_hull_3.h>

#include "holdfast/model/diagnostic.h"
#include "soup_impl.h"

namespace holdfast::geometry::detail {

namespace {

namespace pmp = CGAL::Polygon_mesh_processing;
using Kernel = CGAL::Exact_predicates_inexact_constructions_kernel;
using Point = Kernel::Point_3;
using Surface = CGAL::Surface_mesh<Point>;

struct Soup {
  std::vector<Point> points;
  std::vector<std::vector<std::size_t>> faces;
};

Soup to_soup(const TriangleMesh& mesh) {
  Soup soup;
  for (const auto& v : mesh.vertices) soup.points.emplace_back(v.x(), v.y(), v.z());
  for (const auto& t : mesh.triangles) soup.faces.push_back({t[0], t[1], t[2]});
  return soup;
}

}  // namespace

Orientation orient_shell(TriangleMesh& mesh) {
  Soup soup = to_soup(mesh);
  const std::size_t points = soup.points.size();
  // False, or points doubled: the shell cannot be turned consistently (a Moebius band, or edges where it touches
  // itself).
  if (!pmp::orient_polygon_soup(soup.points, soup.faces) || soup.points.size() != points) return {};
  if (!pmp::is_polygon_soup_a_polygon_mesh(soup.faces)) return {};
  Surface surface;
  pmp::polygon_soup_to_polygon_mesh(soup.points, soup.faces, surface);
  if (!CGAL::is_closed(surface)) return {};
  const bool is_outward = pmp::is_outward_oriented(surface);
  std::size_t turned = 0;
  for (std::size_t f = 0; f < mesh.triangles.size(); ++f) {
    auto t = soup.faces[f];
    if (!is_outward) std::swap(t[1], t[2]);
    const std::array<std::uint32_t, 3> now = {static_cast<std::uint32_t>(t[0]), static_cast<std::uint32_t>(t[1]),
                                              static_cast<std::uint32_t>(t[2])};
    const auto& before = mesh.triangles[f];
    const bool is_same = now == before || now == std::array{before[1], before[2], before[0]} ||
                         now == std::array{before[2], before[0], before[1]};
    turned += is_same ? 0 : 1;
    mesh.triangles[f] = now;
  }
  return {true, turned > 0};
}

std::size_t count_self_intersections(const TriangleMesh& mesh) {
  const Soup soup = to_soup(mesh);
  if (!pmp::is_polygon_soup_a_polygon_mesh(soup.faces)) return 0;
  Surface surface;
  pmp::polygon_soup_to_polygon_mesh(soup.points, soup.faces, surface);
  std::vector<std::pair<Surface::Face_index, Surface::Face_index>> pairs;
  pmp::self_intersections(surface, std::back_inserter(pairs));
  return pairs.size();
}

TriangleMesh convex_hull(const std::vector<Vec3>& points) {
  std::vector<Point> cloud;
  for (const auto& p : points) cloud.emplace_back(p.x(), p.y(), p.z());
  Surface surface;
  CGAL::convex_hull_3(cloud.begin(), cloud.end(), surface);
  model::ensure(surface.number_of_faces() >= 4, "the points of a convex zone span a volume");
  TriangleMesh hull;
  for (const auto v : surface.vertices()) {
    const auto& p = surface.point(v);
    hull.vertices.emplace_back(p.x(), p.y(), p.z());
  }
  for (const auto f : surface.faces()) {
    std::array<std::uint32_t, 3> corner{};
    std::size_t i = 0;
    for (const auto v : vertices_around_face(surface.halfedge(f), surface))
      if (i < 3) corner[i++] = static_cast<std::uint32_t>(v);
    hull.triangles.push_back(corner);
  }
  return hull;
}

}  // namespace holdfast::geometry::detail
