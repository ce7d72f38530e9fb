// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// The structure as solids in one configuration, and questions of distance, sight and keep-out to it.
//
//   const auto scene = geometry::build_scene(structure, structure.default_configuration());
//   scene.distance({0.5, 0, -2.7}, 2.0);          // metres to the nearest solid, at most 2
//
// Frame and units: structure frame, metres. Const members may be called from several threads at once.
// Primitive shapes are exact solids (design.md 14); a dish is a mesh whose stated chord error is taken off its
// distances. Mesh parts: distance to the triangles as they are; inside a closed shell the distance is 0.

#include <cstddef>
#include <memory>
#include <optional>
#include <span>
#include <string>
#include <vector>

#include "holdfast/geometry/mesh.h"
#include "holdfast/model/structure.h"

namespace holdfast::geometry {

struct SceneOptions {
  double chord_error_m = 0.001;  ///< of tessellated shapes: drawings, and the surface of dishes
};

struct Nearest {
  double distance_m = 0;      ///< 0 inside a solid
  Vec3 point = Vec3::Zero();  ///< on the solid; the query point itself when inside
  model::PartId part;
};

struct Hit {
  double distance_m = 0;  ///< along the ray
  Vec3 point = Vec3::Zero();
  model::PartId part;
};

/// What importing and checking one part's mesh file found.
struct MeshReport {
  model::PartId part;
  std::size_t triangles = 0;   ///< as read
  std::size_t degenerate = 0;  ///< zero area, dropped
  std::size_t duplicate = 0;   ///< same three corners, dropped
  std::size_t shells = 0;
  std::size_t open_shells = 0;       ///< with holes or fins: surface only, no inside
  std::size_t flipped_shells = 0;    ///< closed, were turned inside out
  std::vector<std::string> remarks;  ///< one sentence each, for `check`
};

class Scene {
 public:
  Scene(Scene&&) noexcept;
  Scene& operator=(Scene&&) noexcept;
  ~Scene();

  [[nodiscard]] const model::Structure& structure() const;
  [[nodiscard]] const model::Configuration& configuration() const;
  [[nodiscard]] std::size_t primitive_count() const;  ///< solids and triangles in the hierarchy
  [[nodiscard]] Bounds bounds() const;                ///< of all solids; empty for an empty scene

  /// min(cutoff, distance from `p` to the nearest solid); 0 inside. Never above the true distance;
  /// below it by at most the chord error, on dishes alone. 1-Lipschitz in `p`. O(log n) near surfaces.
  [[nodiscard]] double distance(const Vec3& p, double cutoff_m) const;
  /// The same with place and part; nothing when no solid is within the cutoff.
  [[nodiscard]] std::optional<Nearest> find_nearest(const Vec3& p, double cutoff_m) const;
  /// Distance to one part alone; the cutoff when farther or the part is absent.
  [[nodiscard]] double distance_to_part(model::PartId part, const Vec3& p, double cutoff_m) const;
  [[nodiscard]] std::optional<Nearest> find_nearest_on_part(model::PartId part, const Vec3& p, double cutoff_m) const;

  /// True where the closed segment touches a solid or lies in one; dishes count as their triangles, within the chord
  /// error.
  [[nodiscard]] bool is_segment_blocked(const Vec3& a, const Vec3& b) const;
  /// First solid met by the ray within `max_m`; distance 0 when it starts inside one. Requires: unit direction.
  [[nodiscard]] std::optional<Hit> find_first_hit(const Vec3& origin, const Vec3& direction, double max_m) const;
  /// Lower bound on the distance [m] between the convex hull of `points` and the solids, at most `tolerance_m` below
  /// the true one, cut off at `cutoff_m`; 0 where they touch. Dishes and mesh files count as their triangles and, where
  /// closed, their inside.
  [[nodiscard]] double hull_distance(std::span<const Vec3> points, double cutoff_m, double tolerance_m = 1e-4) const;
  [[nodiscard]] std::optional<Nearest> find_nearest_to_hull(std::span<const Vec3> points, double cutoff_m,
                                                            double tolerance_m = 1e-4) const;

  /// Signed distance [m] from `p` to the zone's solid, negative inside; exact outside, and inside never deeper than
  /// true (a NearPart zone: distance to the part less the zone's distance). 1-Lipschitz. +infinity when its part is
  /// absent.
  [[nodiscard]] double zone_distance(model::ZoneId zone, const Vec3& p) const;
  [[nodiscard]] Bounds zone_bounds(model::ZoneId zone) const;  ///< contains the zone; empty when its part is absent
  /// Lower bound on the distance between the hull of `points` and the zone's solid; 0 where they overlap.
  [[nodiscard]] double zone_hull_distance(model::ZoneId zone, std::span<const Vec3> points, double cutoff_m) const;
  [[nodiscard]] TriangleMesh zone_mesh(model::ZoneId zone) const;  ///< for drawing

  /// The part's surface in the structure frame, tessellated within the chord error; for drawing and surface ways.
  /// Empty when the part is absent. Mesh files: repaired shells, outward where closed.
  [[nodiscard]] TriangleMesh part_mesh(model::PartId part) const;
  [[nodiscard]] const std::vector<MeshReport>& mesh_reports() const;

 private:
  struct Impl;
  explicit Scene(std::unique_ptr<Impl> impl);
  std::unique_ptr<Impl> impl_;
  friend Scene build_scene(const model::Structure&, const model::Configuration&, const SceneOptions&);
};

/// Builds the solids of every part present. Keeps a reference to `structure`, which must outlive the scene.
/// Throws `model::InputError` naming the part, its line and the mesh file when a mesh cannot be used.
[[nodiscard]] Scene build_scene(const model::Structure& structure, const model::Configuration& configuration,
                                const SceneOptions& options = {});

}  // namespace holdfast::geometry
