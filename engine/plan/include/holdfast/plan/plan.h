// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// An excursion simulated: who is where when, with what; what breaks; and the time to get back at every stop.
//
//   const auto plan = plan::simulate(model, configuration, excursion);
//   for (const auto& violation : plan.violations) use(violation.kind, violation.at_s);
//
// Time is phased elapsed time in seconds: 0 is the opening of the hatch. Each leg is a route with what is carried then,
// in the configuration of that moment. What is not looked at is named in `not_assessed`; nothing there is a pass.
// Deterministic. Source: design.md section 16.

#include <Eigen/Core>
#include <algorithm>
#include <cstddef>
#include <map>
#include <optional>
#include <string>
#include <vector>

#include "holdfast/cable/cable.h"
#include "holdfast/model/excursion.h"
#include "holdfast/reach/reach.h"
#include "holdfast/route/answer.h"

namespace holdfast::geometry {
class Scene;
}

namespace holdfast::plan {

using model::CrewId;
using model::EventId;
using model::ItemId;
using model::TaskId;
using model::Vec3;

enum class RowKind { Overhead, Translation, Handling, Work, Wait, Hold, Throw };
inline constexpr std::size_t row_kind_count = 7;

enum class What {
  Egress,
  Ingress,
  Go,
  Take,
  Put,
  Stow,
  SetUp,
  TakeDown,
  EnterRestraint,
  LeaveRestraint,
  Do,
  WaitUntil,   ///< as the file says: hold_until, not_before
  WaitTask,    ///< for a task of the other
  WaitCrew,    ///< for the other crew member
  WaitEvent,   ///< for a throw, or a configuration
  WaitWindow,  ///< for a window, or day
  WaitHold,    ///< while a hold lasts
  WaitBody,    ///< for the other body to be out of the path
  Swap,        ///< a further tether hooked on
  Unhook,      ///< back at an anchor: the tether left there is taken on again
  HandOver,
  Receive,
  Mate,    ///< a connector of a cable
  Tie,     ///< a cable, to a rail or a clip
  Coil,    ///< what is left of a cable, tied to a rail
  TakeUp,  ///< a coil, to carry the cable on
  Throw,
  Hold
};

inline constexpr std::size_t what_count = static_cast<std::size_t>(What::Hold) + 1;

/// Where an item stands that is tied to rails, or set up in a socket.
struct PlacedBox {
  Vec3 middle = Vec3::Zero();
  Vec3 size_m = Vec3::Ones();
  Eigen::Matrix3d axes = Eigen::Matrix3d::Identity();  ///< columns: the directions of its sides
};

/// One grip of a leg.
struct Stop {
  model::RailId rail;
  Vec3 hand = Vec3::Zero();
  Vec3 body = Vec3::Zero();
  double arrives_s = 0;
  double leaves_s = 0;  ///< later than `arrives_s` where one waits there
};

struct Row {
  std::optional<CrewId> crew;  ///< nothing: done from inside
  RowKind kind = RowKind::Work;
  What what = What::Do;
  double from_s = 0, to_s = 0;
  bool is_derived = false;            ///< not in the file
  std::optional<std::size_t> action;  ///< of the sequence, that it belongs to
  std::string subject;                ///< id of the place, item, task, event or anchor
  std::string other;                  ///< id of the socket, container or crew member
  std::vector<std::string> carried;   ///< ids, during the row
  Vec3 hand = Vec3::Zero();           ///< at its end; of crew rows
  std::vector<Stop> path;             ///< of a leg
  double distance_m = 0;
  std::size_t moves = 0;
  double night_s = 0;                           ///< of it, in the night
  double tether_out_m = 0;                      ///< never less than what is out along a leg, pulled tight
  std::optional<PlacedBox> box = std::nullopt;  ///< of Stow, SetUp and Coil: where the item stands from its end on
};

enum class ViolationKind {
  ItemNotThere,
  HandsFull,
  SocketTaken,
  RailsTaken,
  DoesNotFit,
  NoGripNear,
  WrongPlace,
  RestraintMissing,
  NoRoute,
  Tether,
  HoldBroken,
  BodiesTooNear,
  ZoneTime,
  Configuration,
  RailMoves,
  WindowMissed,
  Precedence,
  WaitsInCircle,
  ReturnTooLate,
  ReturnNotProven,
  Energy,
  LimitExceeded,
  ItemLeftOutside,
  OutOfReach,        ///< targets of a task
  NotInSight,        ///< what a task photographs
  CableTooShort,     ///< to where it is laid
  NoCableRun,        ///< or the place has no room for its coil
  CableWrongEnd,     ///< connectors that the kit does not name together for it
  CableNotThere,     ///< it is laid from elsewhere than where it is
  CableNotConnected  ///< its coil is left
};
inline constexpr std::size_t violation_kind_count = static_cast<std::size_t>(ViolationKind::CableNotConnected) + 1;

/// What is wrong at a moment. Which fields are set depends on the kind; the timeline goes on as `report` says.
struct Violation {
  ViolationKind kind = ViolationKind::ItemNotThere;
  double at_s = 0;
  double to_s = 0;  ///< last moment of it; `at_s` where it is one
  std::optional<CrewId> crew;
  std::string subject;             ///< item, task, place, socket, event, zone ...
  std::string other;               ///< where the item is, who holds the socket ...
  std::vector<std::string> names;  ///< rails, links of a circle, grips near ...
  double value = 0, limit = 0;     ///< seconds, metres or joules, by kind
  Vec3 at = Vec3::Zero();
  bool has_at = false;
  std::vector<route::Cause> causes;            ///< of NoRoute, ReturnNotProven
  std::vector<cable::NoRunCause> no_run = {};  ///< of NoCableRun
  bool is_incapacitated = false;               ///< of returns: `crew` is carried by the other
  std::optional<std::size_t> follows;          ///< from this violation: counted there
};

/// Where an item is at the end.
struct Whereabouts {
  ItemId item;
  std::string place;      ///< id, empty where it is none
  std::string container;  ///< item
  std::string crew;       ///< carried by
  std::string socket;
  std::vector<std::string> rails;  ///< tied to
  bool is_inside = false;
  /// What the excursion asks of its end; neither: it may stay where it is.
  bool must_be_inside = false;
  std::string must_be_at = {};  ///< place
};

/// Where an item is from a moment on, until its next stay. In a container: only that is set, and it is where that is.
struct ItemStay {
  double from_s = 0;
  Whereabouts where;
  std::optional<PlacedBox> box = std::nullopt;  ///< where it is tied to rails, or set up
};

/// A leg as `route` describes its answers, in the times of the plan: rows and poses count from the start of the leg,
/// waits included. `total_moves` of a row counts into `Row::path`.
struct DescribedLeg {
  route::Route route;     ///< of one leg
  bool has_loads = true;  ///< false: what is carried could not be followed along the path; nothing is known of it
};

/// From how a task's targets are worked on: a setting of its foot restraint, or a grip by free hand.
struct TaskReach {
  TaskId task;
  CrewId crew;
  double at_s = 0;
  std::string socket;                     ///< empty: by free hand
  std::string restraint;                  ///< of the kit
  std::optional<reach::Setting> setting;  ///< nothing: none fits and can be got into
  bool is_derived = true;                 ///< the file names no setting
  struct Target {
    std::string id;
    reach::Kind kind = reach::Kind::OutOfReach;
    bool is_served = false;  ///< with as many hands as it needs
    double short_m = 0;      ///< where out of reach
  };
  std::vector<Target> targets;
  std::optional<reach::Setting> better;  ///< another setting than the file's, that serves more
  std::size_t better_serves = 0;
  [[nodiscard]] bool is_served() const {
    return std::all_of(targets.begin(), targets.end(), [](const Target& t) { return t.is_served; });
  }
};

/// From where a patch is photographed.
struct Photograph {
  TaskId task;
  CrewId crew;
  double at_s = 0;
  model::PatchId patch;
  std::string camera;  ///< empty: the default one
  model::RailId rail;
  Vec3 hand = Vec3::Zero();
  bool is_at_arms_length = false;
  double seen_lower = 0, seen_upper = 0;  ///< of its area
  double distance_m = 0;
};

/// A stretch of time in which nobody sees somebody; never shorter than it is.
struct OutOfSight {
  std::optional<CrewId> crew;  ///< this one from any window; nothing: the two crew members each other
  double from_s = 0, to_s = 0;
};
/// Shorter ones are summed, and shorter glimpses between them do not count.
inline constexpr double least_out_of_sight_s = 10, least_glimpse_s = 5;

/// What a crew member spends in a caution zone over the whole excursion, standing and working included.
struct ZoneStay {
  CrewId crew;
  model::ZoneId zone;
  double stay_s = 0;  ///< by body or hand; whole moves are counted: never less than the true stay
};

/// A rail that runs into a solid in a configuration that the excursion goes through: nobody is sent over it then.
struct BuriedRail {
  model::RailId rail;
  model::PartId part;
  Vec3 at = Vec3::Zero();
  model::Configuration configuration;
};

/// Time to be inside from a moment on.
struct Back {
  double at_s = 0;
  CrewId crew;
  std::size_t row = 0;
  double alone_s = 0;                     ///< putting down what may be put down; infinity: no path
  std::optional<double> incapacitated_s;  ///< carried by the other: an upper bound; nothing: not looked at here
  bool is_incapacitated_proven = true;    ///< false: no path was found, and that there is none is not proven

  [[nodiscard]] double longest_s() const { return std::max(alone_s, incapacitated_s.value_or(0)); }
};

struct Totals {
  std::vector<double> by_kind_s;  ///< RowKind
  std::size_t moves = 0;
  double distance_m = 0;
  double energy_j = 0;
  double inside_at_s = 0;
};

/// How far a cable is laid at the end.
struct CableEnd {
  ItemId item;
  std::string cable;          ///< of the kit
  std::string from, to;       ///< a connector; a connector, or the place where the coil is
  double required_m = 0;      ///< used so far: never too small
  double left_m = 0;          ///< of its guaranteed length: never too large
  bool is_connected = false;  ///< at both ends
  bool is_left = false;       ///< by intent, for another excursion
  std::size_t ties = 0;       ///< connectors not counted
  std::vector<Vec3> line;     ///< corner points of its middle
};

enum class NotAssessed {
  NoHelper,             ///< one crew member: nobody brings an incapacitated one back
  NoCrewLoad,           ///< the kit has no load with `crew: true`
  TethersAndItems,      ///< tethers against what is stowed
  Bodies,               ///< nothing against the other's load, tether or occupied restraint's reach
  PathsRound,           ///< with loads a leg in the other's path waits along its own; paths round are not looked for
  LimitZonesBack,       ///< stay in limit zones when getting back from inside of one
  TetherZones,          ///< zones for tethers, snags and crossings
  TetherOff,            ///< a crew member without a tether
  ReachFromRestraint,   ///< tasks in a foot restraint that name no targets
  WayBetweenPositions,  ///< where structure goes while a switch is thrown
  LaidCables            ///< laid cables under hands, bodies, and what is stowed later
};

struct PlanOptions {
  std::vector<model::RailId> closed = {};
  std::map<std::string, std::string> load_of = {};  ///< item -> load of the kit
  std::map<std::string, double> slower = {};        ///< crew member -> factor on translation, handling and work
  std::map<std::string, double> longer_s = {};      ///< task -> more seconds
  std::vector<TaskId> dropped = {};                 ///< optional tasks that are left out
  bool looks_back = true;                           ///< false: no getting back
  bool looks_out = true;                            ///< false: no who sees whom, `Plan::out_of_sight`
  /// Item -> the run that its coil at time zero goes on from; for each item with a `laid_file`.
  std::map<std::string, cable::LaidRun> laid = {};
  bool describes_legs = false;  ///< true: waypoints, clearances, zones and the kick band of legs
};

struct Plan {
  const model::Excursion* excursion = nullptr;
  model::Configuration configuration;          ///< at time zero
  std::vector<CrewId> right_of_way;            ///< as simulated
  std::optional<double> other_right_of_way_s;  ///< the finish with the other one; nothing: not tried
  std::vector<Row> rows;                       ///< by start, then as they were decided
  std::vector<Violation> violations;           ///< by moment
  std::vector<Totals> totals;                  ///< by crew member
  std::vector<Whereabouts> items;
  std::vector<TaskId> done, dropped;
  bool is_choice_exact = true;  ///< false: better sets of optional tasks may fit, too many to be looked at
  std::size_t sets_tried = 0;   ///< of optional tasks, where not all of them fit
  std::optional<double> score,
      score_bound;  ///< of the set kept, and what none that fits exceeds; where tasks have scores
  std::optional<int>
      open_priority;    ///< where they have priorities: the first of which a better set may have more tasks
  double finish_s = 0;  ///< last crew member inside
  std::vector<std::pair<double, double>> nights;  ///< cut to the excursion
  std::vector<Back> back;                         ///< in time
  std::optional<std::size_t> worst_back;          ///< least emergency margin
  std::optional<std::size_t> worst_limit;         ///< least margin to the limit, getting back from there
  std::vector<NotAssessed> not_assessed;
  std::map<std::size_t, DescribedLeg> legs;  ///< by row; those without a path have none
  std::vector<ItemStay> stays;               ///< by item, then by time
  std::vector<BuriedRail> buried;
  std::vector<TaskReach> reaches;        ///< of tasks with targets, as done
  std::vector<Photograph> photographs;   ///< of tasks that photograph
  std::vector<OutOfSight> out_of_sight;  ///< by crew (the two of each other first), then in time
  std::vector<ZoneStay> cautions;        ///< by crew member, then zone
  std::vector<double> briefly_out_s;     ///< shorter stretches together: of each other, then by crew member
  std::vector<CableEnd> cables;          ///< that are laid, by item
  /// Coils at time zero.
  struct FirstCoil {
    ItemId item;
    std::string rail;
    PlacedBox box;
  };
  std::vector<FirstCoil> first_coils;
  bool has_windows = false;  ///< the structure has a view of kind window
  PlanOptions options;
  [[nodiscard]] bool is_clean() const { return violations.empty(); }
};

/// Both rights of way are tried where the file gives none. Optional tasks are left out where the plan has a violation
/// with them that it does not have without any: the best set that fits is kept, by rank or score (exact to 12 tasks;
/// above that, where not all sets of interest were tried, `is_choice_exact` is false and a bound says how far off).
/// `first`: the scene of `configuration` where it is built already, else null; it must outlive the call.
/// Throws `model::InputError` where a start has no grip. Requires: an excursion read against this model.
[[nodiscard]] Plan simulate(const model::Model& model, const model::Configuration& configuration,
                            const model::Excursion& excursion, const PlanOptions& options = {},
                            const geometry::Scene* first = nullptr);

/// The configuration at a moment: while a switch is thrown, as before.
[[nodiscard]] model::Configuration configuration_at(const Plan& plan, double at_s);

/// Seconds of [from, to] in the night.
[[nodiscard]] double night_between_s(const model::Orbit& orbit, double from_s, double to_s);

}  // namespace holdfast::plan
