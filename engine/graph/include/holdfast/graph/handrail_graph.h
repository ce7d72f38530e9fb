// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// The handrail graph: grips sampled on rails, moves between them, and labels that say what stands in the way of each
// move.
//
//   const auto scene = geometry::build_scene(structure, configuration);
//   const auto graph = graph::build_handrail_graph(scene, graph::body_of(suit, kit.design));
//   graph.adjacency().out(grip);              // every pair within reach, allowed or not: labels decide
//
// Frame and units: structure frame, m, rad. Built once for a configuration and a body, then shared: const members may
// be called from several threads. Zones and closures are labels, not geometry: a profile (search) turns labels into
// costs. Source of the rules: design.md sections 5 and 14.

#include <compare>
#include <cstdint>
#include <memory>
#include <optional>
#include <span>
#include <vector>

#include "holdfast/geometry/certified.h"
#include "holdfast/geometry/point_tree.h"
#include "holdfast/geometry/scene.h"
#include "holdfast/graph/adjacency.h"
#include "holdfast/model/kit.h"

namespace holdfast::graph {

using model::Vec3;
using GripId = model::Id<struct GripTag>;
using MoveId = model::Id<struct MoveTag>;

/// Limits include equality, with these tolerances (design.md 14, Moves).
inline constexpr double length_tolerance_m = 1e-6;
inline constexpr double angle_tolerance_rad = 1e-6;

/// Clearances are told apart up to this much beyond the corridor radius when stances are chosen; past it all are ample.
inline constexpr double clearance_headroom_m = 0.3;

/// What of a suit shapes the graph.
struct Body {
  double corridor_radius_m = 0.545;
  double stand_off_m = 0.55;  ///< h, from the hand to the body axis
  double reach_m = 0.61;
  double turn_limit_rad = 1.5707963267948966;
  double lean_rad = 0.5235987755982988;
  double glove_m = 0.05;
  double spacing_m = 0.15;  ///< most between neighbouring grips of a rail
};
[[nodiscard]] Body body_of(const model::Suit& suit, const model::DesignValues& design);

/// A hand position on a rail with one of the rail's outward directions.
struct Grip {
  model::RailId rail;
  std::uint32_t direction = 0;  ///< which of the rail's outward directions
  double along_m = 0;           ///< from the rail's first point
  Vec3 hand = Vec3::Zero();
  Vec3 outward = Vec3::UnitZ();  ///< unit
  Vec3 stance = Vec3::UnitZ();   ///< unit; `outward`, leaned where needed
  double clearance_lower_m =
      0;  ///< body axis to structure, standing still; cut off at corridor radius + `clearance_headroom_m`
};

/// Two grips within reach of each other. a < b.
struct Move {
  GripId a;
  GripId b;
  double gap_m = 0;     ///< between the hands
  double turn_rad = 0;  ///< between outward directions
  double way_m = 0;     ///< length of the body's way, never below the true one
  double clearance_lower_m =
      0;  ///< over the whole way; exact within 5 mm where it decides, else 'at least' (see is_at_least)
  bool is_at_least = true;          ///< the search for the least clearance was cut short once it was enough
  bool is_turn_allowed = false;     ///< turn limit
  bool is_hand_line_clear = false;  ///< lifted hand's line touches no structure; only judged where the turn is allowed
  bool is_body_clear = false;       ///< clearance >= corridor radius; only judged where turn and hand line allow
  bool is_rail_change = false;      ///< to another rail across a gap over 0.05 m or on another part

  [[nodiscard]] bool is_open() const { return is_turn_allowed && is_hand_line_clear && is_body_clear; }
  [[nodiscard]] GripId other(GripId grip) const { return grip == a ? b : a; }
};

/// A zone that a move or a grip's stance enters.
struct ZoneLabel {
  model::ZoneId zone;
  bool body = false;   ///< the corridor tube enters it
  bool hands = false;  ///< the straight line between the hands enters it
};

class HandrailGraph {
 public:
  [[nodiscard]] const geometry::Scene& scene() const { return *scene_; }
  [[nodiscard]] const model::Structure& structure() const { return scene_->structure(); }
  [[nodiscard]] const Body& body() const { return body_; }

  /// Sorted by rail (in file order), direction, then along the rail. Only rails present and usable by hands have grips.
  [[nodiscard]] std::span<const Grip> grips() const { return grips_; }
  [[nodiscard]] const Grip& grip(GripId id) const { return grips_[id.index()]; }
  [[nodiscard]] std::span<const Move> moves() const { return moves_; }
  [[nodiscard]] const Move& move(MoveId id) const { return moves_[id.index()]; }
  /// Every pair within reach, also those that labels forbid.
  [[nodiscard]] const Adjacency& adjacency() const { return adjacency_; }
  /// Nothing where the two are not within reach of each other.
  [[nodiscard]] std::optional<MoveId> find_move(GripId a, GripId b) const;
  [[nodiscard]] std::span<const ZoneLabel> zones(MoveId move) const;
  [[nodiscard]] std::span<const ZoneLabel> zones(GripId grip) const;
  /// First and one-past-last grip of a rail; empty range when it has none.
  [[nodiscard]] std::pair<std::uint32_t, std::uint32_t> grips_of(model::RailId rail) const;

  [[nodiscard]] Vec3 body_point(GripId grip) const;
  /// Body axis point on the move from a (t = 0) to b (t = 1): hand(t) + h slerp(stance, stance', t).
  [[nodiscard]] Vec3 body_at(MoveId move, double t) const;
  /// Least clearance over the move's way, within `tolerance_m`; `t` tells where. Also for moves that labels forbid.
  [[nodiscard]] geometry::CertifiedMinimum compute_clearance(MoveId move, double tolerance_m = 0.004) const;
  /// The move with every label judged, also those that building leaves out because an earlier one forbids the move.
  [[nodiscard]] Move judge(MoveId move) const;
  /// Least signed distance from the body axis to a zone over the move, within `tolerance_m`.
  [[nodiscard]] geometry::CertifiedMinimum compute_zone_distance(MoveId move, model::ZoneId zone,
                                                                 double tolerance_m = 0.001) const;
  /// Least distance from the move's body way and hand line to one part, at most `cutoff_m`; a lower bound within
  /// `tolerance_m`.
  [[nodiscard]] double compute_part_distance(MoveId move, model::PartId part, double cutoff_m,
                                             double tolerance_m = 0.001) const;

  /// Grips whose hand is at most `radius_m` from `point`, in id order. By a tree: costs what it finds.
  [[nodiscard]] std::vector<GripId> find_grips_within(const Vec3& point, double radius_m) const;
  /// Nearest grip to a point; nothing in an empty graph.
  [[nodiscard]] std::optional<GripId> find_nearest_grip(const Vec3& point) const;

 private:
  friend class Builder;
  const geometry::Scene* scene_ = nullptr;  // never null once built
  Body body_;
  std::vector<Grip> grips_;
  std::vector<Move> moves_;
  Adjacency adjacency_;
  std::vector<std::uint32_t> move_zone_first_, grip_zone_first_;
  std::vector<ZoneLabel> move_zones_, grip_zones_;
  std::vector<std::uint32_t> rail_first_;             // rail count + 1
  std::shared_ptr<const geometry::PointTree> hands_;  // of grips_; shared by copies of the graph
};

/// Samples grips, finds stances and moves, and labels them, on all cores; the same graph on any number of threads.
/// Keeps a reference to `scene`, which must outlive the graph.
[[nodiscard]] HandrailGraph build_handrail_graph(const geometry::Scene& scene, const Body& body);

}  // namespace holdfast::graph
