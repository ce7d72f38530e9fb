// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// Worksites: the figure of a suited crew member, foot restraints and the sockets that take them, views, patches.
//
// Figure and restraint are kit; sockets, views and patches are structure. Units: m, rad, s. What stands on a part has
// its coordinates in that part's frame, else in the structure frame.

#include <optional>
#include <string>
#include <variant>
#include <vector>

#include "holdfast/model/condition.h"
#include "holdfast/model/diagnostic.h"
#include "holdfast/model/ids.h"
#include "holdfast/model/quantity.h"

namespace holdfast::model {

// ---- kit ----------------------------------------------------------------------------------------------------------

/// The upright figure of a suit, along the body axis from the soles (0) to the crown (`height_m`). Requires:
/// 0 < hips < chest <= shoulders < height - `helmet_below_crown_m`. Defaults and their sources: `default_figure()`.
struct Figure {
  /// From the crown down to the helmet's centre, where the eyes are. Assumption.
  static constexpr double helmet_below_crown_m = 0.25;

  Quantity height_m;
  Quantity hips_m;
  Quantity chest_m;
  Quantity shoulders_m;
  Quantity shoulder_breadth_m;       ///< between the shoulder joints
  Quantity body_radius_m;            ///< of the capsule from sole to crown
  Quantity breadth_m;                ///< of the trunk's box, elbows relaxed
  Quantity depth_front_m;            ///< of the trunk's box, forward of the body axis
  Quantity depth_back_m;             ///< and behind it, backpack included
  Quantity sway_rad;                 ///< the body may lean by this about its boots; 0 = rigid
  Quantity two_hand_out_m;           ///< middle of the two-hand ball, forward of the chest
  Quantity two_hand_radius_m;        ///< of that ball
  Quantity one_hand_reach_m;         ///< from the shoulder joint to the point worked on
  Quantity shoulder_half_angle_rad;  ///< of the cone that cuts the one-hand ball; (0, pi]
  Quantity shoulder_outward_rad;     ///< the cone's axis is turned outward by this from straight forward,
  Quantity shoulder_down_rad;        ///< then down by this
  Quantity arm_radius_m;
  Quantity hand_m;  ///< from the wrist to the point worked on
  [[nodiscard]] double helmet_m() const { return height_m.value - helmet_below_crown_m; }
};

/// A foot restraint: its settings are all rolls of the socket times `pitch`, `height` and `yaw`.
struct FootRestraint {
  std::string id;
  std::string name;
  QuantityList pitch_rad;    ///< ascending; positive leans forward, 90 deg faces the surface
  QuantityList height_m;     ///< from the socket's point to the soles, along the socket's axis; ascending
  QuantityList yaw_rad;      ///< about the body axis, to the left; ascending
  QuantityList footprint_m;  ///< of the plate under the soles: forward, side
  Quantity enter_s;          ///< to get in
  Quantity leave_s;          ///< to get out
  Quantity change_s;         ///< to change the setting, out of it
  Mark mark;
};

/// Where a camera that a crew member has along is held.
enum class HeldAt { Helmet, Hand };
struct HeldCamera {
  std::string id;
  std::string name;
  Quantity half_angle_rad;  ///< (0, pi]
  Quantity range_m;         ///< most from the eye to what is seen
  HeldAt held = HeldAt::Helmet;
  Mark mark;
};

// ---- structure ----------------------------------------------------------------------------------------------------

/// Worksite interface for a foot restraint. Its id may stand wherever a place's may; ids of both share one name space.
struct Socket {
  /// One is at a socket when the hand is within this of it.
  static constexpr double within_m = 0.8;

  std::string id;
  std::optional<PartId> part;
  Vec3 at = Vec3::Zero();
  Vec3 axis = -Vec3::UnitZ();     ///< outward, unit
  Vec3 forward = Vec3::UnitX();   ///< the figure faces it at roll 0; unit, perpendicular to `axis`
  double roll_step_rad = 0.5236;  ///< for people; `roll_count` is exact
  int roll_count = 12;            ///< positions of one full turn, at least 1
  When when;
  Mark mark;
};

/// `wanted` made perpendicular to `axis` (both unit, not parallel); without it, +x, or +z where |axis . x| > 0.9.
[[nodiscard]] Vec3 forward_of(const Vec3& axis, const std::optional<Vec3>& wanted);

enum class ViewKind { Window, Camera };
/// What looks out from the structure.
struct View {
  std::string id;
  std::string name;
  ViewKind kind = ViewKind::Window;
  std::optional<PartId> part;
  Vec3 at = Vec3::Zero();
  Vec3 direction = -Vec3::UnitZ();  ///< unit
  double half_angle_rad = 0;        ///< (0, pi]
  std::optional<double> range_m;    ///< none: as far as one can see
  When when;
  Mark mark;
};

/// Flat disc; seen from the side of its normal alone unless `both_sides`.
struct PatchDisc {
  Vec3 center = Vec3::Zero();
  Vec3 normal = Vec3::UnitZ();  ///< unit
  double radius = 1;
  bool both_sides = false;
};
/// One face of the part, by the names that `face_names` gives its shape.
struct PatchFace {
  std::string face;
};
/// All of the part's outward surface.
struct PatchWhole {};

/// What is to be seen.
struct Patch {
  std::string id;
  std::string name;
  std::optional<PartId> part;  ///< never none for a face and a whole part
  std::variant<PatchDisc, PatchFace, PatchWhole> area;
  When when;
  Mark mark;
};

}  // namespace holdfast::model
