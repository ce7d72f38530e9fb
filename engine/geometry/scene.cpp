// SPDX-License-Identifier: GPL-3.0-or-later
#include "holdfast/geometry/scene.h"

#include <fmt/format.h>

#include <cmath>
#include <mutex>
#include <utility>

#include "gjk_impl.h"
#include "holdfast/geometry/kept_scene.h"
#include "kept_mesh_impl.h"
#include "solids_impl.h"
#include "soup_impl.h"
#include "tessellate_impl.h"

namespace holdfast::geometry {

using detail::Ball;
using detail::Brick;
using detail::ClosedShell;
using detail::Frustum;
using detail::Primitive;
using detail::Solids;
using detail::Triangle;
using model::PartId;
using model::Pose;
using model::ZoneId;

namespace {

/// A zone's solid in the structure frame.
struct ZoneSolid {
  std::optional<Primitive> piece;  // sphere, cylinder, cone, box
  TriangleMesh hull;               // convex polyhedron
  std::optional<model::NearPart> near;
  Bounds bounds;
  bool is_absent = false;
};

Frustum moved(const Frustum& f, const Pose& pose) {
  return {pose * f.base, pose.linear() * f.axis, f.length, f.radius_base, f.radius_top};
}
Brick brick_of(const Pose& pose, const Vec3& center, const Vec3& size) {
  return {pose * center, pose.linear(), size / 2};
}

/// Exact outside; inside, minus the distance to the nearest face.
double signed_distance(const Primitive& piece, const Vec3& p) {
  return std::visit(
      [&](const auto& shape) -> double {
        using T = std::decay_t<decltype(shape)>;
        if constexpr (std::is_same_v<T, Ball>) {
          return (p - shape.center).norm() - shape.radius;
        } else if constexpr (std::is_same_v<T, Brick>) {
          const Vec3 q = (shape.axes.transpose() * (p - shape.center)).cwiseAbs() - shape.half;
          return q.cwiseMax(0).norm() + std::min(0.0, q.maxCoeff());
        } else if constexpr (std::is_same_v<T, Frustum>) {
          const Vec3 from = p - shape.base;
          const double z = from.dot(shape.axis), rho = (from - z * shape.axis).norm();
          const auto [q, is_inside] = detail::closest_on_outline(shape, {rho, z});
          const double d = std::hypot(q.rho - rho, q.z - z);
          return is_inside ? -d : d;
        } else {
          return detail::closest(shape, p).distance;
        }
      },
      piece);
}

double signed_distance(const TriangleMesh& hull, const Vec3& p) {
  double deepest = -std::numeric_limits<double>::infinity();
  for (const auto& t : hull.triangles) {
    const Vec3 &a = hull.vertices[t[0]], &b = hull.vertices[t[1]], &c = hull.vertices[t[2]];
    deepest = std::max(deepest, (b - a).cross(c - a).normalized().dot(p - a));
  }
  if (deepest <= 0) return deepest;
  double least = std::numeric_limits<double>::infinity();
  for (const auto& t : hull.triangles)
    least = std::min(
        least,
        (p - detail::closest_on_triangle(hull.vertices[t[0]], hull.vertices[t[1]], hull.vertices[t[2]], p)).norm());
  return least;
}

/// What a shape is made of, for a digest: every field, and named one by one, so that a new one cannot be forgotten.
void put(store::Writer& out, const model::Shape& shape, double chord_error_m) {
  out.put(static_cast<std::uint64_t>(shape.index()));
  std::visit(
      [&](const auto& s) {
        using T = std::decay_t<decltype(s)>;
        if constexpr (std::is_same_v<T, model::Box>) {
          const auto& [center, size] = s;
          out.put(center), out.put(size);
        } else if constexpr (std::is_same_v<T, model::Cylinder>) {
          const auto& [from, to, radius] = s;
          out.put(from), out.put(to), out.put(radius);
        } else if constexpr (std::is_same_v<T, model::Cone>) {
          const auto& [from, to, radius_from, radius_to] = s;
          out.put(from), out.put(to), out.put(radius_from), out.put(radius_to);
        } else if constexpr (std::is_same_v<T, model::Sphere>) {
          const auto& [center, radius] = s;
          out.put(center), out.put(radius);
        } else if constexpr (std::is_same_v<T, model::Dish>) {
          const auto& [radius, depth, thickness] = s;
          out.put(radius), out.put(depth), out.put(thickness), out.put(chord_error_m);
        } else if constexpr (std::is_same_v<T, model::Panel>) {
          const auto& [size, thickness] = s;
          out.put(size), out.put(thickness);
        } else if constexpr (std::is_same_v<T, model::Truss>) {
          const auto& [from, to, up, width, bays, bar_radius] = s;
          out.put(from), out.put(to), out.put(up), out.put(width), out.put(bays), out.put(bar_radius);
        }  // of a mesh file its key says all
      },
      shape);
}

/// Of all parts present; empty where a mesh is not known by a digest.
std::string digest_of_solids(const model::Structure& structure, const model::Configuration& configuration,
                             double chord_error_m) {
  store::Writer all;
  for (std::size_t p = 0; p < structure.parts.size(); ++p) {
    if (!structure.is_present(PartId(p), configuration)) continue;
    const auto& shape = structure.parts[p].shape;
    const Pose pose = structure.pose(PartId(p), configuration);
    all.put(static_cast<std::uint64_t>(p)), all.put(pose.matrix());
    put(all, shape, chord_error_m);
    if (const auto* file = std::get_if<model::MeshFile>(&shape)) {
      const auto key = detail::clean_mesh_key(*file, structure, pose);
      if (key.empty()) return {};
      all.put(std::string_view(key));
    }
  }
  return model::digest_of(all.bytes());
}

}  // namespace

// What kept_scene.h needs of a scene's inside, which stays private to it: defined in there.
inline Scene build_with(const store::Store* store, const model::Structure& structure,
                        const model::Configuration& configuration, const SceneOptions& options);
inline const std::string& digest_in(const Scene& scene);

struct Scene::Impl {
  const model::Structure* structure;
  model::Configuration configuration;
  SceneOptions options;
  const store::Store* store = nullptr;  // while it is built
  std::string digest;                   // of the solids; empty where nobody knows
  Solids all;
  std::vector<TriangleMesh> file_meshes;  // by part: repaired shells of mesh files, structure frame
  std::vector<ZoneSolid> zones;
  std::vector<MeshReport> reports;

  /// A part by itself: indexed when it is first asked for, because most questions are about all of them.
  struct Part {
    Solids::Extent from, to;               // in `all`
    std::optional<detail::Bvh> hierarchy;  // of a mesh file; gone once it is used
    std::once_flag is_made;
    Solids solids;
  };
  std::unique_ptr<Part[]> parts;

  /// No other part has anything: its index is that of all.
  [[nodiscard]] bool is_all(const Part& one) const {
    return one.from == Solids::Extent{} && one.to == all.extent() && all.size() > 0;
  }

  const Solids& part(PartId id) {
    Part& one = parts[id.index()];
    if (is_all(one)) return all;
    std::call_once(one.is_made,
                   [&] { one.solids = all.between(one.from, one.to, std::exchange(one.hierarchy, std::nullopt)); });
    return one.solids;
  }

  void add(const Primitive& piece, PartId part, double slack_m = 0) { all.add(piece, part, slack_m); }

  /// Triangles of a mesh in the structure frame, with its inside when it is closed.
  void add_shell(const TriangleMesh& mesh, PartId part, bool is_closed, std::optional<detail::Bvh> hierarchy = {},
                 double slack_m = 0) {
    auto shell = std::make_shared<ClosedShell>();
    shell->part = part;
    if (is_closed) shell->triangles.reserve(mesh.triangles.size());
    std::vector<Bounds> boxes;
    for (const auto& t : mesh.triangles) {
      const Triangle triangle{{mesh.vertices[t[0]], mesh.vertices[t[1]], mesh.vertices[t[2]]}};
      add(triangle, part, slack_m);
      if (!is_closed) continue;
      shell->triangles.push_back(triangle);
      for (const Vec3& corner : triangle.corner) shell->bounds.extend(corner);
      if (!hierarchy) boxes.push_back(detail::bounds_of(triangle));
    }
    if (!is_closed) return;
    shell->hierarchy = hierarchy ? std::move(*hierarchy) : detail::Bvh(boxes);
    shell->deepest_m = (shell->bounds.max - shell->bounds.min).minCoeff() / 2;
    all.add(shell);
  }

  void add_part(PartId id, std::vector<model::Diagnostic>& faults) {
    parts[id.index()].from = all.extent();
    const auto& part = structure->parts[id.index()];
    const Pose pose = structure->pose(id, configuration);
    std::visit(
        [&](const auto& shape) {
          using T = std::decay_t<decltype(shape)>;
          if constexpr (std::is_same_v<T, model::Box>) {
            add(brick_of(pose, shape.center, shape.size), id);
          } else if constexpr (std::is_same_v<T, model::Panel>) {
            add(brick_of(pose, Vec3::Zero(), {shape.size.x(), shape.size.y(), shape.thickness}), id);
          } else if constexpr (std::is_same_v<T, model::Sphere>) {
            add(Ball{pose * shape.center, shape.radius}, id);
          } else if constexpr (std::is_same_v<T, model::Cylinder> || std::is_same_v<T, model::Cone>) {
            add(moved(detail::frustum_of(shape), pose), id);
          } else if constexpr (std::is_same_v<T, model::Truss>) {
            for (const auto& bar : detail::truss_bars(shape)) add(moved(bar, pose), id);
          } else if constexpr (std::is_same_v<T, model::Dish>) {
            TriangleMesh mesh = detail::mesh_of(shape, options.chord_error_m);
            detail::transform(mesh, pose);
            add_shell(mesh, id, true, {}, options.chord_error_m);
          } else {
            add_mesh_file(id, part, shape, pose, faults);
          }
        },
        part.shape);
    parts[id.index()].to = all.extent();
  }

  void add_mesh_file(PartId id, const model::Part& part, const model::MeshFile& file, const Pose& pose,
                     std::vector<model::Diagnostic>& faults) {
    detail::CleanMesh clean;
    MeshReport report;
    try {
      clean = detail::find_clean_mesh(part, file, *structure, pose, store);
    } catch (const model::InputError& error) {
      faults.insert(faults.end(), error.diagnostics().begin(), error.diagnostics().end());
      return;
    }
    report.part = id;
    report.remarks = std::move(clean.remarks);
    report.triangles = clean.triangles;
    report.degenerate = clean.degenerate, report.duplicate = clean.duplicate, report.shells = clean.shells.size();
    std::size_t kept = 0;
    for (const auto& shell : clean.shells) kept += shell.mesh.triangles.size();
    all.reserve(kept);
    parts[id.index()].hierarchy = std::move(clean.hierarchy);
    for (auto& shell : clean.shells) {
      report.open_shells += shell.is_closed ? 0 : 1;
      report.flipped_shells += shell.was_flipped ? 1 : 0;
      add_shell(shell.mesh, id, shell.is_closed, std::move(shell.hierarchy));
      if (clean.shells.size() == 1)
        file_meshes[id.index()] = std::move(shell.mesh);
      else
        detail::append(file_meshes[id.index()], shell.mesh);
    }
    if (clean.shells.empty())
      faults.push_back(
          {part.mark, "shape.mesh", "bad-mesh",
           fmt::format("part \"{}\": mesh file \"{}\": all its triangles are degenerate", part.id, file.file),
           file.file, "check `units:` and export it again"});
    if (report.degenerate > 0)
      report.remarks.push_back(fmt::format("{} degenerate triangles were left out", report.degenerate));
    if (report.duplicate > 0)
      report.remarks.push_back(fmt::format("{} duplicate triangles were left out", report.duplicate));
    if (report.flipped_shells > 0)
      report.remarks.push_back(
          fmt::format("{} of {} shells had faces turned inward", report.flipped_shells, report.shells));
    if (report.open_shells > 0)
      report.remarks.push_back(fmt::format("{} of {} shells are open: they count as surface, without an inside",
                                           report.open_shells, report.shells));
    if (clean.cuts > 0) report.remarks.push_back(fmt::format("{} pairs of triangles cut each other", clean.cuts));
    if (clean.has_untested_shells)
      report.remarks.push_back(fmt::format("shells of more than {} triangles were not tested for cutting themselves",
                                           detail::most_tested_triangles));
    reports.push_back(std::move(report));
  }

  void add_zone(ZoneId id) {
    const auto& zone = structure->zones[id.index()];
    ZoneSolid solid;
    Pose pose = Pose::Identity();
    if (zone.part) {
      solid.is_absent = !structure->is_present(*zone.part, configuration);
      pose = structure->pose(*zone.part, configuration);
    }
    std::visit(
        [&](const auto& shape) {
          using T = std::decay_t<decltype(shape)>;
          if constexpr (std::is_same_v<T, model::Sphere>) {
            solid.piece = Ball{pose * shape.center, shape.radius};
          } else if constexpr (std::is_same_v<T, model::Cylinder> || std::is_same_v<T, model::SolidCone>) {
            solid.piece = moved(detail::frustum_of(shape), pose);
          } else if constexpr (std::is_same_v<T, model::OrientedBox>) {
            solid.piece = brick_of(pose * shape.pose, Vec3::Zero(), shape.size);
          } else if constexpr (std::is_same_v<T, model::ConvexPolyhedron>) {
            solid.hull = detail::convex_hull(shape.points);
            detail::transform(solid.hull, pose);
            for (const auto& v : solid.hull.vertices) solid.bounds.extend(v);
          } else {
            solid.near = shape;
            solid.is_absent = !structure->is_present(shape.part, configuration);
            if (!solid.is_absent) {
              solid.bounds = part(shape.part).bounds();
              solid.bounds.min.array() -= shape.distance_m, solid.bounds.max.array() += shape.distance_m;
            }
          }
        },
        zone.shape);
    if (solid.piece) solid.bounds = detail::bounds_of(*solid.piece);
    if (solid.is_absent) solid.bounds = {};
    zones.push_back(std::move(solid));
  }

  /// Indexes all solids. Only over mesh files is that slow enough to be kept: 0.2 s over 200,000 triangles.
  void finish() {
    constexpr std::string_view kind = "tree";
    for (std::size_t p = 0; p < structure->parts.size(); ++p)
      if (parts[p].hierarchy && is_all(parts[p])) return all.finish(std::exchange(parts[p].hierarchy, std::nullopt));
    if (!store || digest.empty() || reports.empty()) return all.finish();
    if (const auto entry = store->find(kind, digest)) {
      store::Reader in(entry->body());
      auto hierarchy = detail::take_hierarchy(in, all.size());
      if (hierarchy && in.is_at_end()) return all.finish(std::move(hierarchy));
      store->refuse(kind, digest);
    }
    all.finish();
    store::Writer out;
    detail::put(out, all.hierarchy());
    store->put(kind, digest, out.bytes());
  }

  static Scene build(const model::Structure& structure, const model::Configuration& configuration,
                     const SceneOptions& options, const store::Store* store) {
    auto impl = std::make_unique<Impl>();
    impl->structure = &structure;
    impl->configuration = configuration;
    impl->options = options;
    impl->store = store;
    impl->digest = digest_of_solids(structure, configuration, options.chord_error_m);
    impl->parts = std::make_unique<Part[]>(structure.parts.size());
    impl->file_meshes.resize(structure.parts.size());
    std::vector<model::Diagnostic> faults;
    for (std::size_t p = 0; p < structure.parts.size(); ++p)
      if (structure.is_present(PartId(p), configuration)) impl->add_part(PartId(p), faults);
    if (!faults.empty()) throw model::InputError(std::move(faults));
    impl->finish();
    for (std::size_t z = 0; z < structure.zones.size(); ++z) impl->add_zone(ZoneId(z));
    impl->store = nullptr;
    return Scene(std::move(impl));
  }
  static const std::string& digest_of(const Scene& scene) { return scene.impl_->digest; }

  friend Scene build_with(const store::Store* store, const model::Structure& structure,
                          const model::Configuration& configuration, const SceneOptions& options) {
    return build(structure, configuration, options, store);
  }
  friend const std::string& digest_in(const Scene& scene) { return digest_of(scene); }
};

Scene::Scene(std::unique_ptr<Impl> impl) : impl_(std::move(impl)) {}
Scene::Scene(Scene&&) noexcept = default;
Scene& Scene::operator=(Scene&&) noexcept = default;
Scene::~Scene() = default;

const model::Structure& Scene::structure() const { return *impl_->structure; }
const model::Configuration& Scene::configuration() const { return impl_->configuration; }
std::size_t Scene::primitive_count() const { return impl_->all.size(); }
Bounds Scene::bounds() const { return impl_->all.bounds(); }
const std::vector<MeshReport>& Scene::mesh_reports() const { return impl_->reports; }

double Scene::distance(const Vec3& p, double cutoff_m) const {
  const auto found = impl_->all.find_nearest(p, cutoff_m);
  return found ? found->distance : cutoff_m;
}

std::optional<Nearest> Scene::find_nearest(const Vec3& p, double cutoff_m) const {
  const auto found = impl_->all.find_nearest(p, cutoff_m);
  return found ? std::optional(Nearest{found->distance, found->point, found->part}) : std::nullopt;
}

double Scene::distance_to_part(PartId part, const Vec3& p, double cutoff_m) const {
  const auto found = impl_->part(part).find_nearest(p, cutoff_m);
  return found ? found->distance : cutoff_m;
}

std::optional<Nearest> Scene::find_nearest_on_part(PartId part, const Vec3& p, double cutoff_m) const {
  const auto found = impl_->part(part).find_nearest(p, cutoff_m);
  return found ? std::optional(Nearest{found->distance, found->point, found->part}) : std::nullopt;
}

bool Scene::is_segment_blocked(const Vec3& a, const Vec3& b) const { return impl_->all.is_touched(a, b - a); }

std::optional<Hit> Scene::find_first_hit(const Vec3& origin, const Vec3& direction, double max_m) const {
  const auto found = impl_->all.find_first_touch(origin, max_m * direction);
  return found ? std::optional(Hit{found->distance * max_m, found->point, found->part}) : std::nullopt;
}

double Scene::hull_distance(std::span<const Vec3> points, double cutoff_m, double tolerance_m) const {
  const auto found = impl_->all.find_nearest_to_hull(points, cutoff_m, tolerance_m);
  return found ? found->distance : cutoff_m;
}

std::optional<Nearest> Scene::find_nearest_to_hull(std::span<const Vec3> points, double cutoff_m,
                                                   double tolerance_m) const {
  const auto found = impl_->all.find_nearest_to_hull(points, cutoff_m, tolerance_m);
  return found ? std::optional(Nearest{found->distance, found->point, found->part}) : std::nullopt;
}

double Scene::zone_distance(ZoneId id, const Vec3& p) const {
  const ZoneSolid& zone = impl_->zones[id.index()];
  constexpr double infinity = std::numeric_limits<double>::infinity();
  if (zone.is_absent) return infinity;
  if (zone.piece) return signed_distance(*zone.piece, p);
  if (zone.near) return distance_to_part(zone.near->part, p, infinity) - zone.near->distance_m;
  return signed_distance(zone.hull, p);
}

Bounds Scene::zone_bounds(ZoneId id) const { return impl_->zones[id.index()].bounds; }

double Scene::zone_hull_distance(ZoneId id, std::span<const Vec3> points, double cutoff_m) const {
  const ZoneSolid& zone = impl_->zones[id.index()];
  constexpr double tolerance_m = 1e-4;
  if (zone.is_absent) return cutoff_m;
  if (zone.near) {
    const auto found =
        impl_->part(zone.near->part).find_nearest_to_hull(points, cutoff_m + zone.near->distance_m, tolerance_m);
    return found ? std::max(0.0, found->distance - zone.near->distance_m) : cutoff_m;
  }
  const auto gjk = [&](auto&& support_of) {
    return std::min(cutoff_m, std::max(0.0, detail::hull_distance(points, support_of, cutoff_m, tolerance_m).lower_m));
  };
  if (zone.piece) return gjk([&](const Vec3& direction) { return detail::support(*zone.piece, direction); });
  return gjk([&](const Vec3& direction) { return Vec3(detail::support_of_points(zone.hull.vertices, direction)); });
}

namespace {

TriangleMesh mesh_of_piece(const Primitive& piece, double chord_error_m) {
  return std::visit(
      [&](const auto& shape) -> TriangleMesh {
        using T = std::decay_t<decltype(shape)>;
        if constexpr (std::is_same_v<T, Brick>) {
          return detail::mesh_of(shape);
        } else if constexpr (std::is_same_v<T, Triangle>) {
          return {{shape.corner[0], shape.corner[1], shape.corner[2]}, {{0, 1, 2}}};
        } else {
          return detail::mesh_of(shape, chord_error_m);
        }
      },
      piece);
}

}  // namespace

TriangleMesh Scene::zone_mesh(ZoneId id) const {
  const ZoneSolid& zone = impl_->zones[id.index()];
  if (zone.is_absent) return {};
  if (zone.piece) return mesh_of_piece(*zone.piece, 0.02);  // a zone is drawn as a veil; 2 cm are not seen
  if (zone.near) return part_mesh(zone.near->part);         // drawn as the part that it lies round
  return zone.hull;
}

TriangleMesh Scene::part_mesh(PartId id) const {
  const auto& structure = *impl_->structure;
  if (!structure.is_present(id, impl_->configuration)) return {};
  const Pose pose = structure.pose(id, impl_->configuration);
  const double chord = impl_->options.chord_error_m;
  TriangleMesh mesh = std::visit(
      [&](const auto& shape) -> TriangleMesh {
        using T = std::decay_t<decltype(shape)>;
        if constexpr (std::is_same_v<T, model::Box>) {
          return detail::mesh_of(brick_of(Pose::Identity(), shape.center, shape.size));
        } else if constexpr (std::is_same_v<T, model::Panel>) {
          return detail::mesh_of(
              brick_of(Pose::Identity(), Vec3::Zero(), {shape.size.x(), shape.size.y(), shape.thickness}));
        } else if constexpr (std::is_same_v<T, model::Sphere>) {
          return detail::mesh_of(Ball{shape.center, shape.radius}, chord);
        } else if constexpr (std::is_same_v<T, model::Cylinder> || std::is_same_v<T, model::Cone>) {
          return detail::mesh_of(detail::frustum_of(shape), chord);
        } else if constexpr (std::is_same_v<T, model::Truss>) {
          TriangleMesh bars;
          for (const auto& bar : detail::truss_bars(shape)) detail::append(bars, detail::mesh_of(bar, chord));
          return bars;
        } else if constexpr (std::is_same_v<T, model::Dish>) {
          return detail::mesh_of(shape, chord);
        } else {
          return {};
        }
      },
      structure.parts[id.index()].shape);
  detail::transform(mesh, pose);
  detail::append(mesh, impl_->file_meshes[id.index()]);  // already in the structure frame
  return mesh;
}

Scene build_scene(const model::Structure& structure, const model::Configuration& configuration,
                  const SceneOptions& options) {
  return build_with(nullptr, structure, configuration, options);
}

Scene build_scene(const model::Structure& structure, const model::Configuration& configuration,
                  const SceneOptions& options, const store::Store* store) {
  return build_with(store, structure, configuration, options);
}

std::string solids_digest(const Scene& scene) { return digest_in(scene); }

}  // namespace holdfast::geometry
