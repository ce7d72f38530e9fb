// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// One excursion simulated under one right of way.

#include <functional>
#include <map>
#include <optional>
#include <set>
#include <string>
#include <vector>

#include "bodies_impl.h"
#include "cables_impl.h"
#include "holdfast/plan/plan.h"
#include "holdfast/reach/body.h"
#include "holdfast/tether/taut.h"
#include "sites_impl.h"
#include "timed_impl.h"

namespace holdfast::plan::detail {

using model::PlaceId;
using model::SocketId;

struct ItemState {
  enum class At { Place, Item, Crew, Stowed, SetUp, Inside };
  At at = At::Place;
  PlaceId place;                ///< Place
  ItemId item;                  ///< Item: the container
  CrewId crew;                  ///< Crew
  SocketId socket;              ///< SetUp
  Obstacle obstacle;            ///< Stowed, SetUp
  std::optional<PlaceId> near;  ///< Stowed, SetUp: the place where the crew member was

  [[nodiscard]] bool is_obstacle() const { return at == At::Stowed || at == At::SetUp; }
};

/// A tether that is on, or was left between two hooks.
struct TetherOn {
  const model::Tether* tether = nullptr;
  std::size_t anchor = 0;
  std::optional<tether::Reel> left;  ///< its line when a further one was hooked on; nothing: not known
  const geometry::Scene* left_in = nullptr;
};

/// A tether's line from its hook to the body.
struct LineOut {
  std::optional<tether::Reel> reel;
  std::vector<Vec3> slack;  ///< gone since it was last pulled tight
  double out_upper_m = 0;   ///< never less than what is out
};

struct Mover {
  CrewId id;
  const model::CrewMember* file = nullptr;
  const model::Suit* suit = nullptr;
  double factor = 1;
  double clock_s = 0;
  std::size_t next = 0;  ///< action
  std::size_t via = 0;   ///< via places of the present `go` that are behind it
  bool is_out = false, is_inside = false;
  std::optional<GripRef> grip;  ///< nothing before the first leg
  Vec3 hand = Vec3::Zero(), body = Vec3::Zero();
  std::optional<PlaceId> place;  ///< where it is, of places gone to
  std::vector<ItemId> carried;
  std::vector<TetherOn> tethers;  ///< on, the last in use
  LineOut line;
  const geometry::Scene* reel_scene = nullptr;
  bool has_line = true;      ///< false: its line is not known, and that was told
  bool is_swapping = false;  ///< on the way to an anchor for a swap that is derived
  std::size_t swaps = 0;     ///< derived for the present action
  std::optional<SocketId> restraint;
  std::optional<reach::BodyFrame> frame;           ///< of the figure in it, where its setting is known
  std::vector<Occupied> occupied;                  ///< in time
  bool was_translation = false, was_work = false;  ///< the last row
  bool is_forced = false;                          ///< the next wait is given up
  std::optional<What> blocked;                     ///< what it waits for, of the other
  std::string blocked_on;
  std::optional<TaskId> ready;  ///< waits at the place for the other to begin this
};

/// A cable that is being laid, by one action.
struct LayUnderWay {
  std::size_t action = 0;
  const cable::CableAnswer* answer = nullptr;  ///< with a run
  std::size_t next = 0;                        ///< tie of the run that is worked on next
  bool is_tied = false;                        ///< at the last one, whose coil is still to be tied off
};

/// The cable on an item.
struct CableState {
  std::optional<cable::LaidRun> laid;  ///< as far as its coil, or its end
  const cable::CableAnswer* answer = nullptr;
  std::string to;  ///< where it ends
  bool is_connected = false;
  bool is_left = false;  ///< its coil, by intent
};

struct Throw {
  EventId event;
  double from_s = 0, to_s = 0;
  model::Configuration before, after;
};
struct HoldTime {
  EventId event;
  double from_s = 0, to_s = 0;
  std::vector<CrewId> crew;
  bool allows_work = true;
};

/// What of a moment getting back depends on.
struct Moment {
  double at_s = 0;
  std::size_t row = 0;
  CrewId crew;
  GripRef grip;
  double move_s = 0;  ///< a move that is still to be ended, to `next`
  std::optional<GripRef> next;
  bool is_stop = true;                          ///< not within a leg
  std::size_t closings = 0;                     ///< what stands then, numbered by who looks back
  double wait_s = 0;                            ///< until a throw under way has ended: nobody moves before
  std::optional<PlaceId> place = std::nullopt;  ///< where the crew member is, where that is a place
  model::Configuration configuration;
  std::vector<const model::Load*> carried;
  std::vector<const model::Load*> kept;  ///< of these, those that are not put down
  bool in_restraint = false;
  std::size_t tethers_left = 0;
};

/// A box that stood on the structure for a while.
struct Stood {
  ItemId item;
  Obstacle obstacle;
  double from_s = 0, to_s = 0;
  std::optional<model::PartId> part;  ///< of the socket that it is set up in
  std::optional<CrewId> by;           ///< who left it there
};

/// What getting back, and who sees whom, is asked about: moments as they were decided; throws, rests and moves, and
/// boxes in time.
struct History {
  std::vector<Moment> moments;
  std::vector<Throw> throws;
  std::vector<std::vector<Occupied>> occupied;  ///< by crew member
  std::vector<Stood> stood;
};

class Simulator {
 public:
  Simulator(const model::Model& model, const model::Configuration& configuration, const model::Excursion& excursion,
            const PlanOptions& options, Legs& legs, std::vector<CrewId> right_of_way);
  Plan run();

  History history;

 private:
  enum class Step { There, Moved, Blocked };
  using Targets = std::function<std::vector<GripId>(const Site&)>;

  // events.cpp
  void add_throw(EventId event, double from_s);
  void resolve_events(bool may_force);
  [[nodiscard]] model::Configuration configuration_at(double t) const;
  [[nodiscard]] const Throw* throw_during(double t) const;
  [[nodiscard]] bool rail_differs(model::RailId rail, const Throw& change) const;
  [[nodiscard]] bool is_exposed(const Mover& m, const GripRef& ref, const Throw& change);
  [[nodiscard]] double free_of_holds(const Mover& m, double t, double duration_s, bool is_translation) const;
  void check_events();

  // standing.cpp
  /// The box goes up when the row that ends now has ended, or goes away when it began.
  void begin_standing(ItemId item, double from_s, std::optional<CrewId> by = std::nullopt);
  void end_standing(ItemId item, double to_s);
  /// A zone that keeps loads out and holds, which the box would enter; nothing where it may stand there.
  [[nodiscard]] std::optional<model::ZoneId> forbidding_zone(const Obstacle& obstacle,
                                                             const model::Configuration& configuration);
  /// Another box that it would overlap.
  [[nodiscard]] std::optional<std::size_t> item_in_the_way(const Obstacle& obstacle, ItemId item) const;
  /// The earliest moment from the mover's clock at which nobody whose leg has begun still comes past.
  [[nodiscard]] double free_of_passers(const Mover& m, const Obstacle& obstacle);
  /// Boxes against throws: rails that move under them, structure or zones that come to them, and stays in limit zones.
  void check_standing();
  /// Boxes beside the other crew member at rest: routes keep clear of what stands, but it may go up beside a rest.
  void check_rests();

  // laying.cpp
  bool do_lay(Mover& m, const model::Action& a);
  /// False, with a violation, where it cannot be begun.
  bool begin_laying(Mover& m, const model::Action& a);
  bool is_where_asked(Mover& m, const model::Action& a);
  bool take_up_coil(Mover& m, const model::Action& a);
  bool tie_off_coil(Mover& m, const model::Action& a);
  void note_laid(const model::Action& a, const LayUnderWay& lay);
  /// A violation where structure or zones changed since the run was found.
  void tell_if_changed(Mover& m, const model::Action& a);
  Step go_to_tie(Mover& m, const model::Action& a, std::size_t tie);
  void place_coils();
  void tell_of_cables(std::set<std::size_t>& left);
  /// True, with a violation, where an item hangs on a run.
  bool tell_if_laid(Mover& m, ItemId item);

  // simulate.cpp
  bool step(Mover& m);
  bool begin(Mover& m);
  bool do_take(Mover& m, const model::Action& a);
  bool do_put(Mover& m, const model::Action& a);
  bool do_stow(Mover& m, const model::Action& a);
  /// From hand to where the item stands from then on, as soon as nobody passes there and no hold forbids. A socket is
  /// set before.
  void leave_standing(Mover& m, ItemId item, ItemState::At at, const Obstacle& obstacle, std::optional<PlaceId> near,
                      What what, double duration_s, const std::string& on);
  bool do_set_up(Mover& m, const model::Action& a);
  bool do_take_down(Mover& m, const model::Action& a);
  bool do_task(Mover& m, const model::Action& a);
  bool do_wait_for(Mover& m, const model::Action& a);
  bool do_hand_over(Mover& m, const model::Action& a);
  bool do_swap(Mover& m, const model::Action& a);
  bool do_return(Mover& m, const model::Action* a);
  void finish();
  void skip(Mover& m) { ++m.next, m.swaps = 0; }
  /// Leaves the action out, at no time.
  bool skip_not_there(Mover& m, ItemId item);
  [[nodiscard]] bool tell_if_hands_full(const Mover& m, ItemId item);
  Step go_to_anchor(Mover& m, const model::Anchor& anchor, std::optional<model::LegAim> by);
  bool leave_restraint(Mover& m);
  void unhook(Mover& m);
  void swap_at(Mover& m, std::size_t anchor, bool is_back);
  [[nodiscard]] bool is_at_hand(const Mover& m, ItemId item, std::optional<PlaceId> place) const;
  [[nodiscard]] bool will_do(const Mover& m, TaskId task) const;
  [[nodiscard]] Mover* other_of(const Mover& m);
  [[nodiscard]] const model::Load& load_of(ItemId item) const;
  [[nodiscard]] double content_kg(ItemId item) const;
  [[nodiscard]] std::vector<const model::Load*> loads_of(const Mover& m);
  [[nodiscard]] bool can_carry(const Mover& m, ItemId item);
  [[nodiscard]] std::string where_words(ItemId item) const;
  [[nodiscard]] ItemId root_of(ItemId item) const;
  [[nodiscard]] bool starts_inside(ItemId item) const;
  Row& add_row(Mover& m, RowKind kind, What what, double duration_s, std::string subject, std::string other = {});
  void wait_until(Mover& m, double until_s, What what, std::string subject = {});
  /// Somebody who has made no leg yet is at a grip of the start from here on.
  void settle(Mover& m);
  void act(Mover& m, RowKind kind, What what, double duration_s, std::string subject, std::string other = {});
  /// Waits until no hold forbids work for so long.
  void wait_for_holds(Mover& m, double duration_s);
  Violation& violate(ViolationKind kind, double at_s, const Mover* m, std::string subject);
  bool blocked(Mover& m, What what, std::string on);

  // moving.cpp
  Step go(Mover& m, const Targets& targets, const std::string& subject, std::optional<PlaceId> place,
          std::optional<model::LegAim> by, const Vec3& where, bool is_whole_place = false);
  Step go_to_place(Mover& m, PlaceId place, std::optional<model::LegAim> by);
  /// Grips within reach of what is handled, from which the body stays clear of its box.
  [[nodiscard]] Targets grips_to_handle(const Obstacle& obstacle, std::optional<PlaceId> place) const;
  /// Points of the body's path over a move, in the order gone, and how far off them it may be.
  [[nodiscard]] static std::vector<Vec3> path_of(const graph::HandrailGraph& graph, MoveId id, GripId from,
                                                 double& off_m);
  void take_leg(Mover& m, const Site& site, const FoundLeg& leg, const std::vector<double>& starts,
                const std::string& subject, std::optional<PlaceId> place);
  void assume_leg(Mover& m, const Site& site, const LegQuestion& question, const NoLeg& none,
                  const std::string& subject, std::optional<PlaceId> place, const Vec3& where);
  // swaps.cpp
  /// Pays the line out along a leg; what is out at each grip of it, never less than that.
  std::vector<double> pay_out(LineOut& line, const Site& site, const FoundLeg& leg, double length_m) const;
  /// The same without doing it; empty where the line is not known.
  [[nodiscard]] std::vector<double> out_along(const Mover& m, const Site& site, const FoundLeg& leg) const;
  /// Where the tether does not reach along the leg: to an anchor on it, or back to the last, and the swap there.
  /// Nothing where it reaches, or where no swap helps.
  [[nodiscard]] std::optional<Step> swap_on_the_way(Mover& m, const Site& site, const FoundLeg& leg,
                                                    std::optional<model::LegAim> by);

  // worksites.cpp
  [[nodiscard]] bool are_targets_there(const model::Task& task, const model::Configuration& configuration) const;
  [[nodiscard]] bool is_clear_of_items(const reach::BodyFrame& frame, std::optional<std::size_t> own, const Mover& m);
  /// The best setting that the task allows of the restraint that is set up; null where none is as the file says.
  [[nodiscard]] const reach::Station* station_for(const Mover& m, const model::Task& task, std::size_t item);
  /// What of its targets the task reaches from where the crew member is, and what it does not.
  void note_reach(const Mover& m, const model::Task& task, std::optional<std::size_t> item);
  void note_photograph(const Mover& m, const model::Task& task);
  /// From where a task is done by free hand, or a photograph taken; nothing where any grip of its place will do.
  [[nodiscard]] std::optional<GripRef> work_grip(const Mover& m, const model::Task& task);
  Step go_to_work(Mover& m, const model::Task& task, std::optional<model::LegAim> by);

  // moving.cpp
  void pull_tight(Mover& m);
  void follow_tether(Mover& m, const Site& site, const FoundLeg& leg, Row& row);
  [[nodiscard]] std::vector<double> schedule(const Mover& m, const FoundLeg& leg) const;
  [[nodiscard]] std::vector<Occupied> occupied_by(const Mover& m, const Site& site, const FoundLeg& leg,
                                                  const std::vector<double>& starts, std::optional<PlaceId> to,
                                                  double until_s);
  /// Of the place where it is, and of the one that it goes to.
  [[nodiscard]] std::vector<PlaceBall> balls(const Mover& m, std::optional<PlaceId> to) const;
  [[nodiscard]] bool stays_open(const Mover& m, const Site& from, const FoundLeg& leg, const Throw& change);
  [[nodiscard]] std::optional<TimedLeg> find_among(const Mover& m, const Site& site, const LegQuestion& question,
                                                   const FoundLeg& leg, const OpenTable& open,
                                                   const std::vector<Occupied>& theirs, std::optional<PlaceId> place,
                                                   bool may_go_round);
  [[nodiscard]] static FoundLeg leg_of(const Site& site, const TimedLeg& timed);
  void rest(Mover& m, double until_s);
  [[nodiscard]] Closings closings() const;
  [[nodiscard]] std::optional<GripId> grip_in(const Mover& m, const Site& site) const;
  [[nodiscard]] Vec3 place_at(PlaceId place, double t) const;
  void note_moment(Mover& m, double at_s, const GripRef& grip, std::optional<GripRef> next, double move_s,
                   bool is_stop);
  void check_bodies();
  void check_zones();

  const model::Model& model_;
  const model::Structure& structure_;
  const model::Excursion& excursion_;
  const PlanOptions& options_;
  Legs& legs_;
  Plan plan_;
  std::vector<Mover> movers_;  // in the order of the file
  std::vector<ItemState> items_;
  std::map<std::size_t, CableState> cables_;      // by item
  std::map<std::size_t, LayUnderWay> under_way_;  // by crew member
  std::vector<std::optional<double>> task_end_s_;
  std::set<std::size_t> dropped_;
  std::vector<Throw> throws_;
  std::vector<HoldTime> holds_;
  std::vector<EventId> pending_;
  std::vector<Stood> stood_;
  std::set<std::string> told_;                  // violations of an action that is asked about again
  std::map<std::string, std::size_t> lacking_;  // violation by crew member and thing that lacks
};

}  // namespace holdfast::plan::detail
