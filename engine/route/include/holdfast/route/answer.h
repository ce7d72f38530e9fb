// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// What a route question returns: a route as waypoints with its numbers, or why there is none. Data only; `report` words
// it.

#include <Eigen/Core>
#include <cstddef>
#include <optional>
#include <string>
#include <variant>
#include <vector>

#include "holdfast/model/kit.h"
#include "holdfast/model/structure.h"

namespace holdfast::route {

using model::Vec3;

enum class Objective { Time, Distance, Moves };

/// A length that is exact within the stated tolerance, or only known to be at least this.
struct LowerBound {
  double value_m = 0;
  bool is_at_least = false;  ///< true: the search for it was cut short here, the true value may be larger
};

/// Seconds of a route by what takes them. The sum is the translation time.
struct TimeByCause {
  double regrip_s = 0;     ///< moves that the least re-grip time decides
  double translate_s = 0;  ///< moves that length / rate decides
  double turn_s = 0;
  double rail_change_s = 0;
  double start_stop_s = 0;
  double tether_s = 0;  ///< hook operations
  double load_s = 0;    ///< taking up, stowing, re-gripping a load
  [[nodiscard]] double sum_s() const {
    return regrip_s + translate_s + turn_s + rail_change_s + start_stop_s + tether_s + load_s;
  }
};

/// A side, by its direction in the structure frame: along an axis, or half way between two.
enum class Face {
  Zenith,
  Nadir,
  Port,
  Starboard,
  Forward,
  Aft,
  ZenithPort,
  ZenithStarboard,
  NadirPort,
  NadirStarboard,
  ZenithForward,
  ZenithAft,
  NadirForward,
  NadirAft,
  ForwardPort,
  ForwardStarboard,
  AftPort,
  AftStarboard
};
inline constexpr std::size_t face_count = 18;
[[nodiscard]] Vec3 direction_of(Face face);  ///< unit
/// The face whose direction is nearest to `outward`, at most 36 deg away; ties in the order of the enumerators.
[[nodiscard]] Face face_of(const Vec3& outward);

/// How a row's rail (or its other outward direction) was come to. After that the row goes along it, if along_to_m !=
/// along_from_m.
enum class RowKind {
  Start,      ///< the grip a leg starts at; no moves
  Along,      ///< on along the rail that the row before ends on
  Gap,        ///< across to another rail of the same part
  Edge,       ///< round an edge of the same part: to an outward direction at least `edge_turn_rad` away
  PartChange  ///< over to a rail of another part
};
/// A turn of at least this between two rails (or two outward directions) is told as an edge.
inline constexpr double edge_turn_rad = 0.5235987755982988;  // 30 deg

struct ZoneContact {
  model::ZoneId zone;
  model::ZoneEffect effect = model::ZoneEffect::Caution;
  double inside_s = 0;   ///< whole moves are counted: never less than the true stay
  double nearest_m = 0;  ///< from the corridor tube to the zone, lower bound; 0 inside
};

/// A long rail is told in rows of at most this, a distance that a crew member can judge. Source: common practice, no
/// source.
inline constexpr double most_row_m = 10;
/// A rail that bends round a body is cut where its side changes, once a row is this long or a quarter of a turn round;
/// short rails of a ring stay whole. Source: common practice, no source.
inline constexpr double least_bent_row_m = 1;

/// One row that a person can follow: a visit to a rail, or a piece of it. The first move comes onto it (`kind`), the
/// others go along it. A visit is cut where a zone is entered or left, where the tether is swapped, where the side of
/// the part changes (`least_bent_row_m`) and before a row grows longer than `most_row_m`.
struct Row {
  RowKind kind = RowKind::Along;
  model::PartId part;             ///< of the rail at the row's end
  model::RailId rail;             ///< at the row's end
  Face face_from = Face::Zenith;  ///< side of the part that the body is on where the row first holds this rail
  Face face = Face::Zenith;       ///< ... and at the row's end; they differ on rails that bend round a body
  double gap_m = 0;               ///< between the hands in the move onto the rail; 0 for Start and Along
  double turn_rad = 0;            ///< of the move onto the rail; Along: sum of turns along it
  double along_turn_rad = 0;      ///< sum of turns along the rail after that
  double distance_m = 0;          ///< of the body's way
  std::size_t moves = 0;
  double time_s = 0;
  double total_distance_m = 0;
  std::size_t total_moves = 0;
  double total_time_s = 0;
  LowerBound clearance;                         ///< least over the row, body axis to structure
  std::optional<model::PartId> clearance_part;  ///< the part that is nearest there
  Vec3 hand = Vec3::Zero();                     ///< at the row's end
  Vec3 body = Vec3::Zero();
  Vec3 outward = Vec3::UnitZ();
  std::vector<ZoneContact> zones;            ///< entered, or nearer than the report's zone distance
  double along_from_m = 0;                   ///< position along the rail where the row comes onto it ...
  double along_to_m = 0;                     ///< ... and where it leaves or ends
  std::optional<LowerBound> load_clearance;  ///< least over the row, from the loads to structure; nothing without loads
  std::optional<double> tether_m;            ///< out at the row's end; nothing without a tether
};

/// A part or a place that a route passes.
struct Landmark {
  std::optional<model::PartId> part;    ///< either this ...
  std::optional<model::PlaceId> place;  ///< ... or this
  Face side = Face::Zenith;             ///< on which the body passes it
  double distance_m = 0;                ///< at the nearest, from the body axis
};

/// What a crew member is told in one sentence: a route as far as it keeps to one part and one side of it, or goes round
/// that part. Rows `first_row` to `last_row` of its leg; a Start row belongs to the leg's first stretch. A tether swap
/// ends a stretch.
struct Stretch {
  std::size_t leg = 0, first_row = 0, last_row = 0;
  model::PartId part;
  std::vector<Face> sides;      ///< of the part, as gone over: one, or round from the first to the last
  std::optional<Face> heading;  ///< in which the hands go along the last side; nothing where they go less than 0.3 m
  double turn_rad = 0;          ///< of the move onto the first row's rail; 0 for a leg's first stretch
  double distance_m = 0;        ///< of the body's path
  std::size_t moves = 0;        ///< 0 where a leg ends where it starts
  std::vector<Landmark> landmarks;  ///< passed, in the order of the path; at most 2
};

struct LoadPose {        ///< where a load's box is
  std::size_t load = 0;  ///< into Answer::loads
  Vec3 middle = Vec3::Zero();
  Eigen::Matrix3d axes = Eigen::Matrix3d::Identity();  ///< columns: forward or the long side, side, up
};

struct Pose {  ///< one grip of the route, for drawing and for the stages that build on it
  std::size_t grip = 0;
  model::RailId rail;
  Vec3 hand = Vec3::Zero();
  Vec3 body = Vec3::Zero();
  Vec3 outward = Vec3::UnitZ();
  Vec3 stance = Vec3::UnitZ();
  double at_s = 0;  ///< on arrival, from the start of the route
  std::vector<LoadPose> loads;
};

struct Leg {
  std::string from;  ///< as asked
  std::string to;
  std::vector<Row> rows;    ///< the first is a Start row
  std::vector<Pose> poses;  ///< moves + 1
  double distance_m = 0;
  std::size_t moves = 0;
  double time_s = 0;  ///< with start and stop
};

/// A part that must not be kicked or touched, near the route.
struct BandItem {
  model::PartId part;
  double distance_m = 0;  ///< from the hands' or the body's way, whichever is nearer
  std::size_t leg = 0;
  std::size_t row = 0;  ///< nearest row
  bool fragile = false;
  bool no_touch = false;
};

/// The least room that a load has on a route.
struct LoadClearance {
  std::string load;  ///< id of the load that is nearest; empty where all is open
  LowerBound clearance;
  std::optional<model::PartId> part;
  Vec3 at = Vec3::Zero();  ///< on that part
  std::size_t leg = 0;
  std::size_t row = 0;
};

/// In which manner a load is carried from a grip on: one where the route starts, one more wherever that changes.
struct LoadCarried {
  std::string load;
  model::CarriedHow how = model::CarriedHow::Beside;
  double side_m = 0;  ///< of the box's middle, to the mover's left; 0 in tow
  std::size_t leg = 0;
  std::size_t row = 0;     ///< during which it is done ...
  std::size_t pose = 0;    ///< ... standing there
  Vec3 at = Vec3::Zero();  ///< the hand
  double at_s = 0;         ///< when it is done
};

/// A tether swap: the new hook is on before the old one comes off.
struct TetherSwap {
  std::size_t leg = 0;
  std::size_t row = 0;   ///< during which it is done ...
  std::size_t pose = 0;  ///< ... standing there
  std::string hook;      ///< anchor or rail
  Vec3 at = Vec3::Zero();
  double out_before_m = 0;  ///< of the tether that is left behind, hooked at both ends
  double at_s = 0;          ///< when it is done
};

/// How a safety tether goes along.
struct TetherUse {
  std::string tether;
  std::string anchor;
  Vec3 at = Vec3::Zero();
  double length_m = 0;  ///< of the tether
  double most_m = 0;    ///< out at most: the path gone since it was hooked on, and from the hook to there
  double end_m = 0;     ///< out where the route ends
  std::vector<TetherSwap> swaps;
};

/// Where a route ended, as the next one may go on from there: at the very grip, with the loads as they are in hand.
struct Departure {
  std::size_t grip = 0;  ///< of the graph; another graph (configuration, suit) numbers its grips anew
  /// In which the loads are carried (`find_manners`); nothing: they are not yet in hand, and taken up as suits best.
  std::optional<std::size_t> manner = std::nullopt;
  std::optional<Vec3> heading = std::nullopt;  ///< of the load beside the body; nothing: no move was made with it
  std::optional<Eigen::Matrix3d> tow_axes = std::nullopt;  ///< of the load in tow, drawn in at the mover's side
};

struct Route {
  std::vector<Leg> legs;
  Departure end;  ///< after the last leg
  double distance_m = 0;
  std::size_t moves = 0;
  double time_s = 0;
  TimeByCause time_by_cause;
  LowerBound clearance;  ///< least over the route, body axis to structure
  std::optional<model::PartId> clearance_part;
  Vec3 clearance_at = Vec3::Zero();
  std::optional<LoadClearance> load_clearance;  ///< nothing without loads
  std::vector<LoadCarried> carried;             ///< first each load as it is taken up, then changes in their order
  std::size_t manner = 0;                       ///< as the route starts (`find_manners`)
  double caution_s = 0;                         ///< in caution zones
  double price_s = 0;                           ///< of that, as the search weighed it beside the time; not in `time_s`
  std::vector<ZoneContact> zones;
  std::vector<BandItem> band;
  std::vector<Stretch> stretches;   ///< every row of every leg, in order
  std::optional<TetherUse> tether;  ///< only where a route with a tether was asked for
};

// ---- no route -----------------------------------------------------------------------------------------------------

enum class CauseKind {
  NoGripNear,
  InZone,
  OnClosedRails,
  Reach,
  TurnLimit,
  HandLineBlocked,
  BodyTooTight,
  LoadTooTight,
  Zones,
  Closures,
  ZoneTime,
  Tether
};

/// One reason, with number and place. Which fields are set depends on the kind; the rest keep their defaults.
struct Cause {
  CauseKind kind = CauseKind::Reach;
  std::size_t leg = 0;
  std::string place;  ///< NoGripNear, InZone, OnClosedRails, BodyTooTight at an end: the place as asked
  std::size_t grips = 0, grips_of = 0;  ///< InZone ... at an end: so many of all its grips are closed by this
  double value_m = 0;  ///< NoGripNear: distance to the nearest hand grip; Reach: the nearest pair's gap; BodyTooTight:
                       ///< widest corridor diameter that passes
  double limit_m = 0;  ///< what was needed: the place's radius, the reach, the corridor diameter
  double unavoidable_m = 0;  ///< Reach: largest gap that cannot be avoided when hopping over other islands
  double value_rad = 0;      ///< TurnLimit: least largest turn
  double limit_rad = 0;
  double value_s = 0;  ///< ZoneTime: least stay; limit_s what is allowed
  double limit_s = 0;
  Vec3 at = Vec3::Zero();                   ///< where the pinch, gap or block is
  Vec3 at_other = Vec3::Zero();             ///< Reach: the other grip of the pair
  std::optional<model::RailId> rail;        ///< at `at`
  std::optional<model::RailId> rail_other;  ///< Reach: of the other grip
  std::optional<model::PartId> part;        ///< that blocks or pinches
  std::string load;                         ///< LoadTooTight, Zones: the load that stops there
  /// LoadTooTight: a load of this fraction of its size passes; 0: none of its shape does; nothing: not looked for.
  std::optional<double> fraction = std::nullopt;
  bool is_fraction_proven = true;                ///< LoadTooTight: false where a larger one may pass all the same
  std::optional<Vec3> hand_from = std::nullopt;  ///< LoadTooTight, Zones of loads: the hand at the grip ...
  std::optional<Vec3> hand_to = std::nullopt;    ///< ... and at the next; nothing where the load is drawn in
  /// Zones: the set that, lifted, opens a way; InZone: the zones; Tether: those that its line enters; empty: too short.
  std::vector<model::ZoneId> zones;
  std::vector<model::RailId> rails;  ///< Closures: rails that, reopened, open a way
  /// LoadTooTight: how far the loads get, to the step that fails nearest to the end.
  double up_to_s = 0, up_to_m = 0;
  std::size_t up_to_moves = 0;
  bool opens_alone = false;  ///< waived alone, a route exists ...
  double then_time_s = 0;    ///< ... which takes this long
};

struct NoRoute {
  std::vector<Cause> causes;  ///< in the order of design.md 14; never empty
};

struct RouteRequestEcho {
  std::string from, to;
  std::vector<std::string> via;
  Objective by = Objective::Time;
  std::vector<std::string> closed_rails;
  std::string tether = {}, anchor = {};  ///< empty: none
};

/// A constant that the answer used, with its origin.
struct UsedValue {
  std::string name;  ///< `reach`
  std::string unit;  ///< `m`, `deg`, ...
  model::Quantity quantity;
};

/// The quickest route where the price of caution zones made another one the best.
struct Quicker {
  double time_s = 0, distance_m = 0, caution_s = 0;
  std::size_t moves = 0;
  std::vector<model::ZoneId> zones;  ///< caution zones in which it stays longer than the best
};

/// What every answer begins with: the question, the configuration and the constants. It holds no outcome.
struct AnswerHead {
  RouteRequestEcho request;
  model::Configuration configuration;
  std::string suit;
  std::vector<std::string> loads;  ///< ids; empty: none
  std::vector<UsedValue> used;
  double clearance_tolerance_m = 0.005;
  /// Least is the time and the price of caution zones together, and that may not be the least time.
  bool is_priced = false;
};

/// The answer to a route question, with all that a reader needs to trust or doubt it. Until an outcome is set there is
/// no route, and no cause either.
struct Answer : AnswerHead {
  std::variant<NoRoute, Route> outcome = {};
  /// Set where the route (with a load in tow, or with zones for tethers) is not proven the best: another may save at
  /// most this, in seconds, metres or moves by the objective.
  std::optional<double> may_save = std::nullopt;
  [[nodiscard]] bool is_proven_best() const { return !may_save.has_value() && is_certain; }
  bool is_certain = true;  ///< false: a search ran out of labels or states; the refusal may be wrong
  std::optional<Quicker> quicker = std::nullopt;
  [[nodiscard]] const Route* route() const { return std::get_if<Route>(&outcome); }
  [[nodiscard]] const NoRoute* no_route() const { return std::get_if<NoRoute>(&outcome); }
};

}  // namespace holdfast::route
