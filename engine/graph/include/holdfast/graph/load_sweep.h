// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// A carried box swept along moves, against structure and against zones that keep loads out: conservative, so what fits
// here fits.
//
//   const graph::BesideSweep crate(graph, load, zones);
//   const auto headings = graph::headings_of(graph.grip(a), graph.grip(b));
//   if (crate.move(a, b, headings.start).fits) ...
//
// The motion is followed by intervals: the box at an interval's middle, grown by how far any of its points can move
// within the interval, holds the box everywhere on it. Undecided intervals are halved down to `sweep_tolerance_m`; what
// is undecided then does not fit. Sources: design.md sections 5 and 14, Loads. Frame and units: structure frame, m,
// rad.

#include <array>
#include <functional>
#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "holdfast/graph/handrail_graph.h"

namespace holdfast::graph {

/// A load keeps at least this from structure: what a dish's surface may be off by (its chord error).
inline constexpr double load_margin_m = 0.001;
/// A measured distance is below the true one by at most this; by more where a box in tow may roll.
inline constexpr double load_measure_tolerance_m = 0.006;
/// A load that has less than this beyond the margin may be refused; one that has more is not.
inline constexpr double sweep_tolerance_m = 0.005;

/// Where a load's box is. Columns of `axes`: forward (in tow: the long side), side = up x forward, up.
struct BoxPose {
  Vec3 middle = Vec3::Zero();
  Eigen::Matrix3d axes = Eigen::Matrix3d::Identity();
};
[[nodiscard]] std::array<Vec3, 8> corners_of(const BoxPose& pose, const Vec3& size_m);

struct SweepResult {
  bool fits = false;
  /// Lower bound on the least distance to structure; only as fine as the question needed (see SweepAim).
  double least_m = 0;
  BoxPose pose;                               ///< where the least distance was seen
  std::optional<model::ZoneId> forbidden_by;  ///< a forbidding zone that the box may enter
  std::vector<model::ZoneId> entered;         ///< caution and limit zones that the box may enter; only when it fits
};

enum class SweepAim {
  Decide,  ///< does it fit: stops as soon as that is known
  Measure  ///< `least_m` within `load_measure_tolerance_m`, up to `clearance_headroom_m`
};

/// Any motion of a box over u in [0, 1], against structure alone. Requires: no point of it moves farther than
/// `speed_m` per unit of u.
[[nodiscard]] SweepResult sweep_motion(const geometry::Scene& scene, const Vec3& size_m,
                                       const std::function<BoxPose(double)>& pose_at, double speed_m,
                                       SweepAim aim = SweepAim::Decide);

/// What sweeps keep off: the structure, and boxes that stand on it for a while. Keeps references.
struct SweptAmong {
  const geometry::Scene* structure = nullptr;  ///< not null
  const geometry::Scene* boxes = nullptr;      ///< stowed items and the like as solids of their own; null: none
};

/// Which way the mover faces over a move: hand displacement made perpendicular to the outward direction.
struct Headings {
  bool is_free = false;  ///< the hand moves along the outward direction, or not at all: the last heading holds
  Vec3 start = Vec3::UnitX();
  Vec3 end = Vec3::UnitX();
};
[[nodiscard]] Headings headings_of(const Grip& from, const Grip& to);
/// The heading at the end of a free move: turned as the outward direction turns.
[[nodiscard]] Vec3 carry_heading(const Grip& from, const Grip& to, const Vec3& heading);

/// A load fixed in the body frame: forward along the heading, up along the outward direction.
class BesideSweep {
 public:
  /// `zones`: those that hold and keep loads out. Keeps a reference to the graph.
  BesideSweep(const HandrailGraph& graph, const model::Load& load, std::vector<model::ZoneId> zones);
  /// From here on the load keeps off these solids as off structure; null: off structure alone.
  void keep_off(const geometry::Scene* boxes) { among_.boxes = boxes; }

  /// Over the move. `heading` is looked at only where the move is free. Requires: unit, perpendicular to outward.
  [[nodiscard]] SweepResult move(GripId from, GripId to, const Vec3& heading, SweepAim aim = SweepAim::Decide) const;
  /// Turning on the spot by the shorter way; either way where they are as long.
  [[nodiscard]] SweepResult swing(GripId at, const Vec3& from, const Vec3& to, SweepAim aim = SweepAim::Decide) const;
  /// Standing with every heading at once: the box turned all the way round.
  [[nodiscard]] SweepResult stand_any(GripId at) const;
  /// A free move begun with no heading yet: every heading at once.
  [[nodiscard]] SweepResult move_any(GripId from, GripId to) const;
  /// Moved straight between its own place and that with the middle at `offset_m`, its sides kept parallel.
  [[nodiscard]] SweepResult shift(GripId at, const Vec3& heading, const Vec3& offset_m,
                                  SweepAim aim = SweepAim::Decide) const;
  /// Handed round the body to where `other`, the same box, is carried: all that both reach with any heading.
  [[nodiscard]] SweepResult hand_over(GripId at, const BesideSweep& other, SweepAim aim = SweepAim::Decide) const;
  [[nodiscard]] BoxPose pose(GripId at, const Vec3& heading) const;
  [[nodiscard]] const Vec3& size_m() const { return size_m_; }
  [[nodiscard]] const Vec3& offset_m() const { return offset_m_; }

 private:
  const HandrailGraph& graph_;
  SweptAmong among_;
  Vec3 size_m_, offset_m_;
  std::vector<model::ZoneId> zones_;
};

/// The last stretch of the body's way, as long as a tow needs it. Two trails that look the same to the load are equal
/// in `key`: straight runs are one piece however they were gripped.
class Trail {
 public:
  struct Curve;  // of one move whose stance turns
  struct Piece {
    GripId from, to;
    Vec3 start, end, outward;  ///< of a straight piece
    double length_m = 0;
    std::shared_ptr<const Curve> curve;  ///< null: straight
  };
  [[nodiscard]] bool is_empty() const { return pieces_.empty(); }
  /// Empty, and nothing says how the load is turned: it is taken up as the first move needs it.
  [[nodiscard]] bool is_unset() const { return pieces_.empty() && !axes_; }
  [[nodiscard]] std::string key() const;

 private:
  friend class TowSweep;
  std::vector<Piece> pieces_;  // oldest first
  double length_m_ = 0;
  bool is_paying_out_ = true;            // the load is still where the leg began
  std::optional<Eigen::Matrix3d> axes_;  // only while empty: of the load as it was drawn in to the mover's side
};

/// A load whose middle follows the body's way at the tow length behind, its long side along the chord from there to
/// the body, its up nearest to the outward direction half way between.
class TowSweep {
 public:
  /// As `BesideSweep`.
  TowSweep(const HandrailGraph& graph, const model::Load& load, std::vector<model::ZoneId> zones);
  void keep_off(const geometry::Scene* boxes) { among_.boxes = boxes; }

  struct Step {
    SweepResult sweep;
    Trail trail;  ///< to go on from
  };
  /// Requires: `trail` ends at `from`; an empty one starts a leg, with the load at the mover's side. A load that was
  /// drawn in there is first turned to where the move needs it, its middle at rest: by the least turn that fits. The
  /// box looks the same turned half round about any of its axes, and is towed by either end.
  [[nodiscard]] Step move(const Trail& trail, GripId from, GripId to, SweepAim aim = SweepAim::Decide) const;
  /// The trail after the move, without a look at what is in the load's way.
  [[nodiscard]] Trail follow(const Trail& trail, GripId from, GripId to) const;
  /// At the end of a leg the load is drawn in along the trail to the mover's side.
  [[nodiscard]] SweepResult draw_in(const Trail& trail, GripId at, SweepAim aim = SweepAim::Decide) const;
  /// The trail that the next leg starts with: empty, with the load as it was drawn in.
  [[nodiscard]] Trail drawn_in(const Trail& trail) const;
  /// ... with the load at the mover's side, turned as `axes`.
  [[nodiscard]] static Trail at_side(const Eigen::Matrix3d& axes);
  /// The load at the mover's side turned on the spot, by the least turn that fits; the box looks the same turned half
  /// round about any of its axes.
  [[nodiscard]] SweepResult turn(const Vec3& middle, const Eigen::Matrix3d& from, const Eigen::Matrix3d& to,
                                 SweepAim aim = SweepAim::Decide) const;
  [[nodiscard]] BoxPose pose(const Trail& trail, GripId at) const;
  [[nodiscard]] const Vec3& size_m() const { return size_m_; }

 private:
  class Run;
  [[nodiscard]] Trail gone(const Trail& trail, GripId from, GripId to) const;
  void trim(Trail& trail) const;
  const HandrailGraph& graph_;
  SweptAmong among_;
  Vec3 size_m_;
  double tow_m_;
  std::vector<model::ZoneId> zones_;
};

}  // namespace holdfast::graph
