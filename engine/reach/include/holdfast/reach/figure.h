// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// The suited figure in space: where a setting of a foot restraint puts it, what it fills, and what its hands reach.
//
//   const auto settings = reach::find_settings(socket, restraint);
//   const auto frame = reach::frame_in(place, settings[0]);
//   reach::zones_of(figure, frame).hand[reach::Left].distance_m(target);   // <= 0: within reach
//
// Structure frame, m, rad. Closed forms, no structure: see reach.h for that. Source of the rules: design.md section 17.

#include <array>
#include <optional>
#include <vector>

#include "holdfast/model/structure.h"
#include "holdfast/model/worksite.h"

namespace holdfast::reach {

using model::Vec3;

/// Zones include equality, with this tolerance.
inline constexpr double tolerance_m = 1e-6;

enum Hand : std::size_t { Left = 0, Right = 1 };
inline constexpr std::array<Hand, 2> both_hands = {Left, Right};

/// Where the upright body is: soles, the body axis from them, and where the chest faces.
struct BodyFrame {
  Vec3 soles = Vec3::Zero();
  Vec3 up = -Vec3::UnitZ();      ///< unit, boots to head
  Vec3 forward = Vec3::UnitX();  ///< unit, perpendicular to `up`
  [[nodiscard]] Vec3 left() const { return up.cross(forward); }
  [[nodiscard]] Vec3 at(double along_m) const { return soles + along_m * up; }
};

/// One setting of a foot restraint in a socket.
struct Setting {
  int roll = 0;  ///< position of the socket, from 0
  double roll_rad = 0;
  double pitch_rad = 0;
  double height_m = 0;
  double yaw_rad = 0;
};

/// A socket in the structure frame.
struct SocketPlace {
  Vec3 at = Vec3::Zero();
  Vec3 axis = -Vec3::UnitZ();
  Vec3 forward = Vec3::UnitX();
};
[[nodiscard]] SocketPlace place_of(const model::Structure& structure, const model::Socket& socket,
                                   const model::Configuration& configuration);

/// Roll about the axis, soles at `height` along it, pitch about the left direction through the soles, then yaw about
/// the body axis; all right-handed.
[[nodiscard]] BodyFrame frame_in(const SocketPlace& socket, const Setting& setting);

/// All settings in the order roll, |pitch|, pitch, height, |yaw|, yaw; of those that make one pose (within 1e-6) the
/// first. At least one. Requires: a restraint as read.
[[nodiscard]] std::vector<Setting> find_settings(const model::Socket& socket, const model::FootRestraint& restraint);

/// A leaning body: the boots stay, all above turns by `sway` toward `azimuth` from forward, right-handed about `up`.
[[nodiscard]] BodyFrame lean(const BodyFrame& frame, double sway_rad, double azimuth_rad);
inline constexpr int lean_count = 12;  ///< azimuths, 30 deg apart from forward

/// Ball about `apex` cut by a cone with its apex there.
struct HandZone {
  Vec3 apex = Vec3::Zero();
  Vec3 axis = Vec3::UnitX();  ///< unit
  double half_angle_rad = 0;
  double radius_m = 0;
  /// Distance from `p` to the zone where it is outside; inside, minus a lower bound on the distance to its boundary
  /// (exact up to a half angle of 90 deg). Closed form in the half plane through the axis.
  [[nodiscard]] double distance_m(const Vec3& p) const;
};
struct Zones {
  std::array<HandZone, 2> hand;  ///< by Hand
  Vec3 two_hand = Vec3::Zero();  ///< middle of the ball in front of the chest
  double two_hand_radius_m = 0;
  /// As of HandZone: a two-hand point lies in the ball and in both hands' zones. Outside: a lower bound.
  [[nodiscard]] double two_hand_distance_m(const Vec3& p) const;
};
[[nodiscard]] Zones zones_of(const model::Figure& figure, const BodyFrame& frame);

/// A box by a corner point for every combination of its least and most.
using BoxCorners = std::array<Vec3, 8>;
/// What the body fills: a capsule from sole to crown and the trunk with its backpack. Arms at the sides are in the box.
struct Solids {
  std::array<Vec3, 2> axis;  ///< of the capsule
  double radius_m = 0;
  BoxCorners trunk;
};
/// All faces of both moved inward by `inset_m`. Requires: inset below half of each extent.
[[nodiscard]] Solids solids_of(const model::Figure& figure, const BodyFrame& frame, double inset_m = 0);
/// True inside a solid or on it.
[[nodiscard]] bool is_in_solids(const model::Figure& figure, const BodyFrame& frame, const Vec3& p);
/// The restraint's plate under the soles.
inline constexpr double plate_thickness_m = 0.05;  ///< assumption
[[nodiscard]] BoxCorners plate_of(const model::FootRestraint& restraint, const BodyFrame& frame, double inset_m = 0);
/// Its post, from 0.10 m off the socket to the plate; nothing where there is no room for one.
[[nodiscard]] std::optional<std::array<Vec3, 2>> post_of(const SocketPlace& socket, const Setting& setting);

}  // namespace holdfast::reach
