// SPDX-License-Identifier: GPL-3.0-or-later
// Exact surface geodesics by CGAL, whose headers stay in here.

#include "holdfast/geometry/surface_way.h"

#include <CGAL/AABB_face_graph_triangle_primitive.h>
#include <CGAL/AABB_traits.h>
#include <CGAL/AABB_tree.h>
#include <CGAL/Exact_predicates_inexact_constructions_kernel.h>
#include <CGAL/Polygon_mesh_processing/orient_polygon_soup.h>
#include <CGAL/Polygon_mesh_processing/polygon_soup_to_polygon_mesh.h>
#include <CGAL/Surface_mesh.h>
#include <CGAL/Surface_mesh_shortest_path.h>

#include <Eigen/Geometry>
#include <algorithm>
#include <cmath>
#include <optional>

#include "holdfast/model/diagnostic.h"
#include "surface_impl.h"

namespace holdfast::geometry {

namespace {

namespace pmp = CGAL::Polygon_mesh_processing;
using Kernel = CGAL::Exact_predicates_inexact_constructions_kernel;
using Point = Kernel::Point_3;
using Mesh = CGAL::Surface_mesh<Point>;
using Face = Mesh::Face_index;
using Tree = CGAL::AABB_tree<CGAL::AABB_traits<Kernel, CGAL::AABB_face_graph_triangle_primitive<Mesh>>>;
using ShortestPath = CGAL::Surface_mesh_shortest_path<CGAL::Surface_mesh_shortest_path_traits<Kernel, Mesh>>;

Point to_cgal(const Vec3& p) { return {p.x(), p.y(), p.z()}; }
Vec3 from_cgal(const Point& p) { return {p.x(), p.y(), p.z()}; }

std::array<Vec3, 3> corners_of(const Mesh& mesh, Face face) {
  const auto h = mesh.halfedge(face);
  return {from_cgal(mesh.point(mesh.source(h))), from_cgal(mesh.point(mesh.target(h))),
          from_cgal(mesh.point(mesh.target(mesh.next(h))))};
}

Vec3 normal_of(const Mesh& mesh, Face face) {
  const auto [a, b, c] = corners_of(mesh, face);
  return (b - a).cross(c - a).normalized();
}

void fill(Mesh& mesh, const TriangleMesh& from) {
  std::vector<Point> points;
  for (const auto& v : from.vertices) points.push_back(to_cgal(v));
  std::vector<std::vector<std::size_t>> polygons;
  for (const auto& t : from.triangles) polygons.push_back({t[0], t[1], t[2]});
  // Where a cut leaves two fans at one corner, or a shell has fins, corners are doubled: what hangs together by a
  // point alone is no way for a cable. The order of the triangles stays.
  pmp::orient_polygon_soup(points, polygons);
  model::ensure(pmp::is_polygon_soup_a_polygon_mesh(polygons), "an oriented soup is a mesh");
  pmp::polygon_soup_to_polygon_mesh(points, polygons, mesh);
  model::ensure(mesh.number_of_faces() == from.triangles.size(), "every triangle of a patch became a face");
}

}  // namespace

/// Never moved once built: the tree, which finds nearest points, points into the mesh.
struct SurfacePatch::Impl {
  Mesh mesh;
  Tree tree;
  std::vector<std::uint32_t> shell;  // of each face
  double chord_error_m = 0;
};

namespace {

SurfacePatch patch_of(const Surface::Impl& surface, detail::Cut cut) {
  auto impl = std::make_shared<SurfacePatch::Impl>();
  impl->chord_error_m = surface.chord_error_m;
  impl->shell = std::move(cut.shell);
  fill(impl->mesh, cut.mesh);
  impl->tree.insert(faces(impl->mesh).first, faces(impl->mesh).second, impl->mesh);
  impl->tree.build();
  if (!impl->tree.empty()) impl->tree.accelerate_distance_queries();
  return SurfacePatch(std::move(impl));
}

}  // namespace

SurfacePatch whole_patch(const Surface& surface) { return patch_of(surface.impl(), detail::cut_all(surface.impl())); }

SurfacePatch cut_patch(const Surface& surface, const PatchArea& area) {
  return patch_of(surface.impl(), detail::cut_ball(surface.impl(), area));
}

std::size_t SurfacePatch::triangle_count() const { return impl_->mesh.number_of_faces(); }

TriangleMesh SurfacePatch::mesh() const {
  TriangleMesh out;
  for (const auto v : vertices(impl_->mesh)) out.vertices.push_back(from_cgal(impl_->mesh.point(v)));
  for (const auto f : faces(impl_->mesh)) {
    const auto h = impl_->mesh.halfedge(f);
    out.triangles.push_back({static_cast<std::uint32_t>(impl_->mesh.source(h)),
                             static_cast<std::uint32_t>(impl_->mesh.target(h)),
                             static_cast<std::uint32_t>(impl_->mesh.target(impl_->mesh.next(h)))});
  }
  return out;
}

double SurfacePatch::distance(const Vec3& p) const {
  if (impl_->tree.empty()) return std::numeric_limits<double>::infinity();
  return std::sqrt(impl_->tree.squared_distance(to_cgal(p)));
}

namespace {

/// Where a point stands on the patch.
struct Foot {
  Face face;
  std::array<double, 3> weight{};  // of the face's corners
  Vec3 point = Vec3::Zero();
  double gap_m = 0;
};

/// `least_weight` keeps the foot off its face's edges. Nothing on an empty patch.
std::optional<Foot> find_foot(const SurfacePatch::Impl& patch, const Vec3& p, double least_weight) {
  if (patch.tree.empty()) return std::nullopt;
  const auto [near, face] = patch.tree.closest_point_and_primitive(to_cgal(p));
  const auto corner = corners_of(patch.mesh, face);
  const Vec3 q = from_cgal(near), normal = (corner[1] - corner[0]).cross(corner[2] - corner[0]);
  Foot foot{.face = face};
  double sum = 0;
  for (std::size_t i = 0; i < 3; ++i) {
    const Vec3 &u = corner[(i + 1) % 3], &v = corner[(i + 2) % 3];
    foot.weight[i] = std::max(least_weight, normal.dot((u - q).cross(v - q)) / normal.squaredNorm());
    sum += foot.weight[i];
  }
  for (std::size_t i = 0; i < 3; ++i) {
    foot.weight[i] /= sum;
    foot.point += foot.weight[i] * corner[i];
  }
  foot.gap_m = (foot.point - p).norm();
  return foot;
}

double length_of(const std::vector<Vec3>& points) {
  double length = 0;
  for (std::size_t i = 1; i < points.size(); ++i) length += (points[i] - points[i - 1]).norm();
  return length;
}

/// Normals of the faces under the pieces of the way.
std::vector<Vec3> normals_of(const SurfacePatch::Impl& patch, const std::vector<Vec3>& points) {
  std::vector<Vec3> normals;
  for (std::size_t i = 1; i < points.size(); ++i) {
    const Vec3 middle = (points[i - 1] + points[i]) / 2;
    normals.push_back(normal_of(patch.mesh, patch.tree.closest_point_and_primitive(to_cgal(middle)).second));
  }
  return normals;
}

ShortestPath::Face_location location_of(const Foot& foot) {
  return {foot.face, {foot.weight[0], foot.weight[1], foot.weight[2]}};
}

SurfaceWay finish_way(const SurfacePatch::Impl& patch, const Vec3& source, const Vec3& target,
                      std::vector<Vec3> points) {
  SurfaceWay way;
  way.points = std::move(points);
  way.length_m = length_of(way.points);
  way.source_gap_m = (way.points.front() - source).norm();
  way.target_gap_m = (way.points.back() - target).norm();
  const auto normals = normals_of(patch, way.points);
  for (std::size_t i = 0; i < way.points.size(); ++i) {
    constexpr double sharpest = 0.1;  // of 1 + cos(fold): past about 154 degrees a lift would go off to infinity
    Vec3 before = normal_of(patch.mesh, patch.tree.closest_point_and_primitive(to_cgal(way.points[i])).second);
    Vec3 after = before;
    if (!normals.empty()) before = normals[i == 0 ? 0 : i - 1], after = normals[std::min(i, normals.size() - 1)];
    way.fold_rad.push_back(std::atan2(before.cross(after).norm(), before.dot(after)));
    way.lift.emplace_back((before + after) / std::max(sharpest, 1 + before.dot(after)));
    way.normal_turn_rad += way.fold_rad.back();
  }
  way.length_upper_m =
      way.source_gap_m + way.length_m + way.target_gap_m + patch.chord_error_m * (way.normal_turn_rad + 2);
  return way;
}

}  // namespace

std::vector<WayOrNone> find_shortest_ways(const SurfacePatch& patch, const Vec3& source, std::span<const Vec3> targets,
                                          const WayOptions& options) {
  constexpr double off_edges = 1e-7;  // CGAL 5.5 is wrong for a source exactly on an edge; targets may lie there
  const auto& impl = patch.impl();
  const std::size_t triangles = patch.triangle_count();
  const auto all = [&](const NoWay& reason) { return std::vector<WayOrNone>(targets.size(), reason); };
  const auto start = find_foot(impl, source, off_edges);
  if (!start) return all({NoWayKind::SourceOffSurface, std::numeric_limits<double>::infinity(), triangles});
  if (start->gap_m > options.most_gap_m) return all({NoWayKind::SourceOffSurface, start->gap_m, triangles});
  if (triangles > most_patch_triangles) return all({NoWayKind::TooFine, 0, triangles});

  std::vector<WayOrNone> ways;
  try {
    ShortestPath search(impl.mesh);
    search.add_source_point(location_of(*start));
    for (const auto& target : targets) {
      const auto end = find_foot(impl, target, 0);
      if (end->gap_m > options.most_gap_m) {
        ways.emplace_back(NoWay{NoWayKind::TargetOffSurface, end->gap_m, triangles});
        continue;
      }
      if (impl.shell[start->face] != impl.shell[end->face]) {
        ways.emplace_back(NoWay{NoWayKind::OtherShell, 0, triangles});
        continue;
      }
      const auto location = location_of(*end);
      std::vector<Point> path;
      const auto [distance, nearest] =
          search.shortest_path_points_to_source_points(location.first, location.second, std::back_inserter(path));
      if (nearest == search.source_points_end() || distance < 0) {
        ways.emplace_back(NoWay{NoWayKind::NoSurfaceBetween, 0, triangles});
        continue;
      }
      std::vector<Vec3> points;
      for (auto p = path.rbegin(); p != path.rend(); ++p) points.push_back(from_cgal(*p));
      const auto way = finish_way(impl, source, target, std::move(points));
      constexpr double relative = 1e-6, least_m = 1e-9;
      const bool is_reliable = std::abs(way.length_m - distance) <= std::max(least_m, relative * distance) &&
                               way.length_m >= (end->point - start->point).norm() - least_m;
      if (is_reliable)
        ways.emplace_back(way);
      else
        ways.emplace_back(NoWay{NoWayKind::Unreliable, 0, triangles});
    }
  } catch (const CGAL::Failure_exception&) {
    ways.resize(targets.size(), NoWay{NoWayKind::Unreliable, 0, triangles});
  }
  return ways;
}

}  // namespace holdfast::geometry
