// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// What hands work on: places, sockets and points, and the surface that they stand on.

#include <optional>
#include <string>
#include <vector>

#include "holdfast/geometry/scene.h"
#include "holdfast/graph/handrail_graph.h"
#include "holdfast/model/structure.h"

namespace holdfast::reach {

using model::Vec3;

/// A point this far off its part, or farther, stands free; what is nearer is worked on from its outward side.
inline constexpr double on_surface_m = 0.02;
/// Deeper in its part than this a place is an error of the model.
inline constexpr double most_depth_m = 0.15;

struct Target {
  std::string text;  ///< id, or as asked
  bool is_there = true;
  Vec3 at = Vec3::Zero();             ///< zones and margins are told from here
  Vec3 test = Vec3::Zero();           ///< where the hand's line ends: `at`, or the surface lifted by `on_surface_m`
  std::optional<Vec3> outward;        ///< of the surface; none where it stands free
  std::optional<model::PartId> part;  ///< whose surface it stands on; none where it stands free
  int hands_needed = 1;
};

/// Point of a part's surface nearest to `p`, and the outward direction there: of the triangles that touch the point,
/// weighted by area. Nothing where the part is absent. Within the chord error of tessellated shapes. O(triangles of the
/// part).
struct SurfacePoint {
  Vec3 point = Vec3::Zero();
  Vec3 normal = Vec3::UnitZ();  ///< unit
  double distance_m = 0;        ///< from `p`
};
[[nodiscard]] std::optional<SurfacePoint> find_surface(const geometry::Scene& scene, model::PartId part, const Vec3& p);

/// A place, a socket, a rail (its middle) or `x,y,z`. Throws `model::InputError`: `unknown-place`, `absent-place`, and
/// `in-solid` where a place lies deeper in its part than `most_depth_m`.
[[nodiscard]] Target find_target(const graph::HandrailGraph& graph, const std::string& text);

/// Places of kind connector and worksite, in the order of the file; those that the configuration lacks are not there.
/// Throws as `find_target`.
[[nodiscard]] std::vector<Target> find_all_targets(const graph::HandrailGraph& graph);

}  // namespace holdfast::reach
