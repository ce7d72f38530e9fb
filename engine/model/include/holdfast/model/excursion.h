// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// An excursion as its file says it: crew, items, tasks, what is thrown from inside, and each crew member's actions in
// order. Plain data, read-only once read; names of the structure and the kit are known to exist.
//
//   const auto excursion = model::read_excursion("models/yard/excursion.yaml", model);
//
// Times are seconds of phased elapsed time: 0 is the opening of the hatch. Source: design.md section 16.

#include <cstddef>
#include <map>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "holdfast/model/kit.h"
#include "holdfast/model/read.h"
#include "holdfast/model/structure.h"

namespace holdfast::model {

using ItemId = Id<struct ItemTag>;
using TaskId = Id<struct TaskTag>;
using CrewId = Id<struct CrewTag>;
using EventId = Id<struct EventTag>;
using WindowId = Id<struct WindowTag>;

/// What a leg makes least.
enum class LegAim { Time, Distance, Moves };

/// Numbers that a plan needs and the kit does not have, each with its origin.
struct PlanValues {
  Quantity restraint_set_s;    ///< to fix a foot restraint in its socket, and as long to take it out
  Quantity restraint_enter_s;  ///< to get the boots in
  Quantity restraint_leave_s;
  Quantity handling_reach_m;  ///< most from the hand to the surface of what is stowed or taken
  Quantity active_w;          ///< metabolic rate in translation, handling, work and overhead
  Quantity idle_w;            ///< ... in waits and holds
  Quantity energy_j;          ///< most that the suit's consumables bear
};
/// 120, 60 and 60 s, 1 m (practice and assumption); 293 W, 205 W and 7.39 MJ (suit design load: 293 W average for
/// 7 h; mishap report, section 3).
[[nodiscard]] PlanValues default_plan_values();

/// A thing that the crew handles: a load of the kit with a whereabouts.
struct Item {
  std::string id;
  std::string name;
  std::string load;             ///< of the kit
  std::string restraint;        ///< foot restraint of the kit that it is; empty: none
  std::optional<PlaceId> at;    ///< at time zero: either at a place ...
  std::optional<ItemId> in;     ///< ... or inside another item
  std::optional<PlaceId> home;  ///< where it must be at the end; nothing: where it was, if that is inside
  bool bring_in = false;        ///< must be inside at the end although it starts outside
  bool keep = false;            ///< is not put down when getting back at once
  Mark mark;
  std::string cable = {};      ///< of the kit, that is on it; empty: none
  std::string laid_file = {};  ///< result of `cable` that laid it as far as the coil where it is at time zero, as a
                               ///< person would type it; empty: none
};

/// Of a task that may be dropped. Rank: 1 is best; of two sets the better has the best task in which they differ.
/// Score: the greater sum is better. One of them is set, the same for all tasks of an excursion.
struct Worth {
  std::optional<int> priority;
  std::optional<double> score;
};

/// How a foot restraint is to stand in its socket; what is not said is chosen.
struct SettingChoice {
  std::optional<double> roll_rad, pitch_rad, height_m, yaw_rad;
};

struct Task {
  std::string id;
  std::string name;
  std::optional<PlaceId> at;  ///< nothing: where the crew member is
  Quantity duration_s;
  std::vector<ItemId> items;                  ///< at hand: carried, or lying at the task's place
  std::optional<SocketId> restraint_in;       ///< done from a foot restraint in this socket
  std::map<std::string, std::string> states;  ///< switch -> position that it needs throughout
  bool both = false;                          ///< done by both crew members together
  std::vector<WindowId> windows;  ///< by the first of a name: its whole duration lies in windows of these names
  bool needs_day = false;
  std::vector<TaskId> after;              ///< starts when these have ended
  std::vector<ItemId> leaves;             ///< items that stay outside by intent once it is done
  std::optional<Worth> optional;          ///< nothing: it must be done
  std::vector<std::string> targets = {};  ///< places and sockets that hands work on; within reach all the while
  SettingChoice setting = {};             ///< of the restraint; only with `restraint_in`
  std::optional<PatchId> photograph = std::nullopt;  ///< seen through the camera all the while
  std::string camera = {};                           ///< of the kit; empty: the default one
  Mark mark = {};
};

/// Something done from inside: a switch thrown, or a time of keeping still.
struct Event {
  std::string id;
  std::optional<double> at_s;                 ///< either at this moment ...
  std::optional<TaskId> after;                ///< ... or as soon as possible once this task has ended
  double duration_s = 0;                      ///< of the throw, or of the hold
  std::map<std::string, std::string> throws;  ///< switch -> new position; empty: a hold
  std::vector<CrewId> holds;                  ///< who keeps still
  bool allows_work = true;                    ///< of a hold: work and handling go on
  Mark mark;
  [[nodiscard]] bool is_throw() const { return !throws.empty(); }
};

/// Nights: sunset at first_sunset_s + k period_s for every whole k.
struct Orbit {
  double period_s = 5400;
  double night_s = 0;  ///< 0 <= night < period
  double first_sunset_s = 0;
};

/// A time with something that tasks need: light, contact ... Several may have one id: it comes and goes.
struct TimeWindow {
  std::string id;
  double from_s = 0;
  double to_s = 0;
  Mark mark;
};

enum class ActionKind {
  Go,         ///< to `place`
  Take,       ///< `item` up, from where it is
  Put,        ///< `item` down at a hatch or stowage, or into `into`
  Stow,       ///< `item` tied to `rails`
  SetUp,      ///< restraint `item` into `socket`
  TakeDown,   ///< restraint `item` out of its socket
  Do,         ///< `task`
  HoldUntil,  ///< stay until `until_s`
  WaitFor,    ///< until `task` has been done, or `event` is over
  Swap,       ///< the tether on at `anchor`
  HandOver,   ///< `item` to `other`
  Receive,    ///< `item` from `other`
  Return,     ///< to a hatch and inside
  Lay         ///< the cable on `item` from the connector `from`, or from its coil, to `place`
};
inline constexpr std::size_t action_kind_count = 14;

struct Action {
  ActionKind kind = ActionKind::Go;
  std::string id;  ///< empty: none
  std::optional<PlaceId> place;
  std::vector<PlaceId> via;
  std::optional<LegAim> by;
  std::optional<ItemId> item, into;
  std::vector<RailId> rails;
  std::optional<SocketId> socket;
  std::optional<TaskId> task;
  std::optional<EventId> event;
  std::optional<AnchorId> anchor;
  std::optional<CrewId> other;
  double until_s = 0;
  std::optional<double> not_before_s;
  std::optional<TaskId> for_task;  ///< dropped together with that optional task
  Mark mark;
  std::optional<PlaceId> from = std::nullopt;  ///< Lay: nothing: from its coil
  bool is_left = false;                        ///< Lay: its coil stays for another excursion
};

struct CrewMember {
  std::string id;
  std::string name;
  std::string suit;  ///< of the kit
  PlaceId start;
  std::vector<std::string> tethers;  ///< of the kit; the first is hooked on at time zero
  std::optional<AnchorId> anchor;    ///< where; set where there are tethers
  std::optional<LegAim> by;
  std::vector<Action> actions;  ///< all, in order: those of `begin`, of `sequence`, of `end`
  std::size_t begins = 0;       ///< the first of `actions`, of `begin`: first in whatever order the tasks are put
  std::size_t ends = 0;         ///< the last of `actions`, of `end`: last in whatever order
  Mark mark;
};

struct Excursion {
  std::string name;
  std::string file;      ///< as given
  std::string sha256;    ///< of the file's bytes
  double limit_s = 0;    ///< of the whole; the kit's `excursion_s` where the file says none
  double egress_s = 0;   ///< from the opening of the hatch until the first crew member is out, for all
  double ingress_s = 0;  ///< from a crew member's arrival at the hatch until inside
  std::optional<LegAim> by;
  std::vector<CrewId> right_of_way;  ///< empty: both orders are tried
  PlanValues values;
  std::vector<CrewMember> crew;  ///< one or two
  std::vector<Item> items;
  std::vector<Task> tasks;
  std::vector<Event> events;
  std::optional<Orbit> orbit;
  std::vector<TimeWindow> windows;

  [[nodiscard]] std::optional<ItemId> find_item(std::string_view id) const;  ///< nothing when unknown; so the others
  [[nodiscard]] std::optional<TaskId> find_task(std::string_view id) const;
  [[nodiscard]] std::optional<CrewId> find_crew(std::string_view id) const;
  [[nodiscard]] std::optional<EventId> find_event(std::string_view id) const;
};

/// Reads and validates the file against its model. `file`: path as a person gives it; tables that it names lie in the
/// same folder or below. Throws `InputError` with *all* faults found.
[[nodiscard]] Excursion read_excursion(const std::string& file, const Model& model);
/// The same from text, for tests and tools.
[[nodiscard]] Excursion read_excursion_text(const std::string& text, const Model& model,
                                            const std::string& file = "excursion.yaml",
                                            const std::string& folder = ".");

/// Seconds of `12 min`, `90 s`, `1 h 20 min`, `1.5 h` or `h:mm:ss`; a minus before it where `may_be_negative`. Nothing
/// for anything else, plain numbers and `12:30` among it.
[[nodiscard]] std::optional<double> parse_duration_s(std::string_view text, bool may_be_negative = false);

}  // namespace holdfast::model
