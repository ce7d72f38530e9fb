// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// Shortest ways over surfaces: what a cable needs between two ties when it lies on the structure.
//
//   const geometry::Surface drum(scene.part_mesh(part), 0.001);
//   const auto patch = geometry::cut_patch(drum, {tie, 0.61});
//   const auto found = geometry::find_shortest_ways(patch, tie, neighbours);
//   if (const auto* way = std::get_if<geometry::SurfaceWay>(&found[0])) use(way->length_upper_m);
//
// Frame and units: the frame of the meshes, metres. All types are read-only once built, and may be used from several
// threads at once. Lengths are exact on the mesh and rounded up for what the mesh leaves out (`length_upper_m`).

#include <cstddef>
#include <memory>
#include <span>
#include <variant>
#include <vector>

#include "holdfast/geometry/mesh.h"

namespace holdfast::geometry {

/// A surface told into shells, from which patches are cut. Copies share their data.
class Surface {
 public:
  /// `chord_error_m`: how far the mesh may be off the surface that it stands for, to either side; 0 where the mesh is
  /// the truth. Requires: finite vertices, indices in range; anything else, open or touching shells too, is welded and
  /// split into shells. O(n log n).
  explicit Surface(const TriangleMesh& mesh, double chord_error_m = 0);
  [[nodiscard]] std::size_t triangle_count() const;  ///< degenerate and double ones dropped
  [[nodiscard]] std::size_t shell_count() const;
  [[nodiscard]] double chord_error_m() const;

  struct Impl;
  [[nodiscard]] const Impl& impl() const { return *impl_; }

 private:
  std::shared_ptr<const Impl> impl_;
};

/// The ball out of which a patch is cut.
struct PatchArea {
  Vec3 center = Vec3::Zero();
  double radius_m = 0;
};

/// A piece of surface with its search structures; see the functions below.
class SurfacePatch {
 public:
  struct Impl;
  explicit SurfacePatch(std::shared_ptr<const Impl> impl) : impl_(std::move(impl)) {}
  [[nodiscard]] const Impl& impl() const { return *impl_; }

  [[nodiscard]] std::size_t triangle_count() const;
  [[nodiscard]] TriangleMesh mesh() const;
  /// Distance from `p` to the patch; infinity when it is empty.
  [[nodiscard]] double distance(const Vec3& p) const;

 private:
  std::shared_ptr<const Impl> impl_;
};

/// All of a surface. Finely tessellated plain cylinders are slow: 0.3 s at 5,000 triangles, 30 s at 50,000.
[[nodiscard]] SurfacePatch whole_patch(const Surface& surface);

/// The triangles of one surface that come within the ball, whole ones. Ways no longer than the radius from the centre
/// are the shortest of all, because a shorter one could not leave the ball. Knows nothing of other parts: a way may
/// pass under what stands on the surface.
[[nodiscard]] SurfacePatch cut_patch(const Surface& surface, const PatchArea& area);

/// A shortest way over a patch, from the source's foot to the target's: the points of the patch nearest to them.
struct SurfaceWay {
  std::vector<Vec3> points;  ///< on the patch, from foot to foot; at least one
  double length_m = 0;       ///< of `points`: shortest over the patch's triangles, to 1e-6 of it
  /// Upper bound on the shortest way over the true surface from source to target: `length_m`, both gaps, and e (T + 2)
  /// for what the mesh leaves out, with e the chord error and T the sum of the turns of the surface's normal. A way
  /// lifted by e is no more than e T longer and lies outside, and projecting it onto a convex body makes it no longer.
  /// Where surface is hollow that is practice, not proof.
  double length_upper_m = 0;
  double source_gap_m = 0;  ///< from the source to its foot
  double target_gap_m = 0;
  double normal_turn_rad = 0;  ///< T above
  /// For each point how the surface folds there: the angle between the normals before and after it; 0 at the ends.
  std::vector<double> fold_rad;
  /// For each point: moved by h times this it stands off by h from the triangles before and after it.
  std::vector<Vec3> lift;
};

enum class NoWayKind {
  SourceOffSurface,  ///< farther from the patch than allowed; `gap_m` says how far, infinity when the patch is empty
  TargetOffSurface,
  OtherShell,        ///< source and target stand on shells that do not touch
  NoSurfaceBetween,  ///< one shell, but no surface joins them inside the patch, or the shell is torn
  TooFine,           ///< more triangles than `most_patch_triangles`
  Unreliable         ///< the search failed, or gave a distance that is not the length of its own way
};

/// Why there is no way, as a value.
struct NoWay {
  NoWayKind kind = NoWayKind::NoSurfaceBetween;
  double gap_m = 0;           ///< of the point that is off the surface
  std::size_t triangles = 0;  ///< of the patch
};

using WayOrNone = std::variant<SurfaceWay, NoWay>;

struct WayOptions {
  double most_gap_m = 0.15;  ///< a point farther from the patch than this is not on it
};

/// Above this a patch is refused; the worst surface of this size takes seconds, and twice the size four times as long.
constexpr std::size_t most_patch_triangles = 20'000;

/// Exact shortest ways from one source to each target, in their order (Xin and Wang, Improving Chen and Han's algorithm
/// on the discrete geodesic problem, ACM Transactions on Graphics 28, 2009, as in CGAL). CGAL 5.5 errs where a source
/// lies on an edge, so the source is kept 1e-7 of its triangle off, which its gap includes; and a way is given only
/// where its length is the distance found, to 1e-6 of it.
[[nodiscard]] std::vector<WayOrNone> find_shortest_ways(const SurfacePatch& patch, const Vec3& source,
                                                        std::span<const Vec3> targets, const WayOptions& options = {});

}  // namespace holdfast::geometry
