// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// The figure among structure: how clear its body is, and whether an arm gets to a point.
//
// Structure frame, m. Clearances are certified: never above the true one. Contact is never clear. Zones count where
// they hold in the scene's configuration. Const members may be called from several threads.

#include <optional>
#include <string>
#include <vector>

#include "holdfast/geometry/scene.h"
#include "holdfast/model/kit.h"
#include "holdfast/reach/figure.h"
#include "holdfast/reach/targets.h"

namespace holdfast::reach {

/// Clearances are told up to this; beyond it 'at least'.
inline constexpr double most_clearance_m = 1.0;
/// Depths are told up to this; beyond it 'at least'.
inline constexpr double most_depth_told_m = 0.25;

/// What a body comes near to.
struct Obstacle {
  std::optional<model::PartId> part = std::nullopt;
  std::optional<model::ZoneId> zone = std::nullopt;  ///< that keeps bodies out
};
struct BodyClearance {
  double lower_m = most_clearance_m;  ///< least of the solids' distances; 0 where they touch or overlap
  Obstacle nearest = {};              ///< none where nothing is within `most_clearance_m`
  bool is_restraint = false;          ///< the restraint's plate or post is what touches, not the figure
  [[nodiscard]] bool fits() const { return lower_m > 0; }
};
/// How deep it collides, to move things by; not below the true one. Of the figure: the least inset of all its faces at
/// which it comes just clear, not above that by more than 0.1 mm. Of the restraint, which is thin: how far its deepest
/// point is from the nearest one outside of structure; above that by 1 mm at most for the post in one part, by some
/// centimetres for the plate and where parts overlap.
struct Depth {
  double value_m = 0;
  bool is_at_least = false;
};

enum class ArmFault { None, Blocked, FacesAway, Forbidden };
struct ArmAnswer {
  ArmFault fault = ArmFault::None;
  Obstacle obstacle = {};                 ///< part that blocks, or zone that forbids
  std::vector<model::ZoneId> notes = {};  ///< caution and limit zones for hands that it enters
};

class BodyTester {
 public:
  /// Keeps references to both, which must outlive it.
  BodyTester(const geometry::Scene& scene, const model::Figure& figure);

  [[nodiscard]] const geometry::Scene& scene() const { return *scene_; }
  [[nodiscard]] const model::Figure& figure() const { return *figure_; }

  /// Of the figure alone, against structure and the zones that keep bodies out (touching a zone is allowed).
  [[nodiscard]] BodyClearance clearance(const BodyFrame& frame) const;
  /// ... and the restraint under it; `lower_m` is the figure's, 0 where the restraint touches.
  [[nodiscard]] BodyClearance clearance(const BodyFrame& frame, const model::FootRestraint& restraint,
                                        const SocketPlace& socket, const Setting& setting) const;
  /// Of the figure alone; 0 where it fits.
  [[nodiscard]] Depth depth(const BodyFrame& frame) const;
  /// The deeper one of the figure and the restraint under it; 0 where both fit.
  [[nodiscard]] Depth depth(const BodyFrame& frame, const model::FootRestraint& restraint, const SocketPlace& socket,
                            const Setting& setting) const;
  /// Caution and limit zones for bodies that the figure enters.
  [[nodiscard]] std::vector<model::ZoneId> body_notes(const BodyFrame& frame) const;
  /// Distance from the body axis, sole to crown, to structure; at most `most_clearance_m`.
  [[nodiscard]] double axis_distance_m(const BodyFrame& frame) const;

  /// A straight arm from the shoulder to the wrist, and the hand's line from there to the target's test point.
  [[nodiscard]] ArmAnswer arm(const Vec3& shoulder, const Target& target) const;
  /// The same to a point that no zone concerns: a grip.
  [[nodiscard]] bool is_arm_clear(const Vec3& shoulder, const Vec3& point) const;
  /// True where the straight line keeps `radius_m` from structure, certified.
  [[nodiscard]] bool is_tube_clear(const Vec3& a, const Vec3& b, double radius_m) const;

 private:
  struct Found {
    double lower_m;
    Obstacle obstacle;
  };
  [[nodiscard]] Found nearest(std::span<const Vec3> hull, double radius_m) const;
  [[nodiscard]] bool enters(model::ZoneId zone, const Solids& solids) const;
  [[nodiscard]] std::optional<Obstacle> arm_obstacle(const Vec3& shoulder, const Vec3& point) const;

  const geometry::Scene* scene_;
  const model::Figure* figure_;
  double hidden_m_ = 0;  ///< what tessellated parts may stand out beyond their triangles
  std::vector<model::ZoneId> body_forbid_, body_note_, hands_forbid_, hands_note_;
};

}  // namespace holdfast::reach
