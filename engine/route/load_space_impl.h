// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// The states that a mover with loads passes through: a grip, in which manner the loads are carried, which way the mover
// faces there (loads beside the body), and the last stretch of the way (a load in tow). Found as a search asks for
// them, and kept: a second search over the same loads finds its sweeps done.

#include <array>
#include <cstdint>
#include <map>
#include <optional>
#include <span>
#include <string>
#include <tuple>
#include <unordered_map>
#include <vector>

#include "holdfast/graph/load_sweep.h"
#include "holdfast/route/answer.h"
#include "holdfast/route/costs.h"
#include "tow_bound_impl.h"

namespace holdfast::route::detail {

using graph::GripId;

class LoadSpace {
 public:
  using State = std::uint32_t;

  struct Options {
    double scale = 1;                              ///< of every load's size: 'would a smaller one pass?'
    bool ignore_zones = false;                     ///< 'would it pass without the zones?'
    std::vector<model::ZoneId> lifted_zones = {};  ///< ... without these
    const geometry::Scene* boxes = nullptr;        ///< kept off as structure is; kept as a reference
  };
  /// Keeps references to the graph and the loads.
  LoadSpace(const graph::HandrailGraph& graph, std::vector<const model::Load*> loads)
      : LoadSpace(graph, std::move(loads), Options{}) {}
  LoadSpace(const graph::HandrailGraph& graph, std::vector<const model::Load*> loads, const Options& options);

  /// The loads keep off these solids as off structure. Keeps a reference. Requires: nothing was asked before.
  void keep_off(const geometry::Scene& boxes);

  struct Step {
    bool fits = false;
    State to = 0;
    std::span<const model::ZoneId> entered;  ///< caution and limit zones that a load enters
  };

  /// At a grip where a route starts, facing nowhere yet, the load in tow at the mover's side; with loads that are in
  /// hand there, as `departure` says. Nothing where they are carried in another manner.
  [[nodiscard]] std::optional<State> start(GripId grip, std::size_t manner, const std::optional<Departure>& departure);
  /// What `start` goes on from. Requires: a state after `finish_leg`.
  [[nodiscard]] Departure departure(State state) const;
  /// In which the loads can be carried at once, as `find_manners`.
  [[nodiscard]] std::size_t manner_count() const { return manners_.size(); }
  [[nodiscard]] const std::vector<model::Load>& carried(std::size_t manner) const { return manners_[manner].loads; }
  [[nodiscard]] std::size_t manner(State state) const { return states_[state].manner; }
  /// The load that changes hands or manner, where a mover can do that on the way: one load alone, not worn, while the
  /// others are in tow. Null where nobody can.
  [[nodiscard]] const model::Load* changed_load(std::size_t from, std::size_t to) const;
  /// Carried on in another manner from the same grip. Never fits before the first move: there one takes it up as one
  /// likes.
  [[nodiscard]] Step change(State from, std::size_t manner);
  [[nodiscard]] GripId grip(State state) const { return states_[state].grip; }
  [[nodiscard]] Step step(State from, GripId to);
  /// Where the next leg goes on once the load in tow is drawn in; nothing where that does not fit.
  [[nodiscard]] std::optional<State> finish_leg(State state);
  /// Caution and limit zones that a load enters at the end of a leg: drawn in, or standing where no move was made.
  [[nodiscard]] std::span<const model::ZoneId> entered_at_finish(State state);

  /// States of a cell are much alike: the same grip and heading, and the load in tow in the same cube of this
  /// edge.
  using Cell = std::array<std::int32_t, 7>;
  [[nodiscard]] Cell cell(State state, double edge_m) const;
  /// Of the state that a step would lead to, fit or not: no sweep is made.
  [[nodiscard]] Cell cell_after(State from, GripId to, double edge_m);
  [[nodiscard]] bool has_tow() const { return !tows_.empty(); }  ///< in any manner
  /// False: in no manner can the loads be brought over the move, whatever is gone before and after. True says little.
  [[nodiscard]] bool may_pass(graph::MoveId move);
  /// ... from this end of it to that one.
  [[nodiscard]] bool may_step(graph::MoveId move, GripId from, GripId to);

  /// The first thing that fails in a step or a leg's end, for explanations.
  struct Failure {
    const model::Load* load = nullptr;
    graph::SweepResult sweep;
    Vec3 size_m = Vec3::Ones();
  };
  [[nodiscard]] std::optional<Failure> failure(State from, GripId to) const;
  [[nodiscard]] std::optional<Failure> finish_failure(State state) const;

  /// Least distance of the loads to structure over a step, within 5 mm and up to graph::clearance_headroom_m.
  struct Measure {
    double least_m = graph::clearance_headroom_m;
    bool is_at_least = true;
    const model::Load* load = nullptr;
    graph::BoxPose pose;
    Vec3 size_m = Vec3::Ones();
  };
  [[nodiscard]] Measure measure(State from, GripId to) const;
  [[nodiscard]] Measure measure_finish(State state) const;
  [[nodiscard]] Measure measure_change(State from, std::size_t manner) const;
  /// The loads' boxes at a state, in the order of the loads; a load beside whose mover faces nowhere yet has none.
  [[nodiscard]] std::vector<std::optional<graph::BoxPose>> poses(State state) const;

  [[nodiscard]] const std::vector<const model::Load*>& loads() const { return loads_; }
  [[nodiscard]] const geometry::Scene* boxes() const { return boxes_; }
  /// True once a zone forbade a step: only then can lifting zones help.
  [[nodiscard]] bool has_met_zones() const { return has_met_zones_; }
  [[nodiscard]] std::size_t sweep_count() const { return sweeps_; }  ///< made so far

 private:
  struct StateData {
    GripId grip;
    std::uint32_t manner;   // into manners_
    std::uint32_t heading;  // into headings_[grip]; `unset` before the first move of the route
    std::uint32_t trail;    // into trails_
  };
  struct Beside {  // or worn
    const model::Load* load;
    graph::BesideSweep sweep;
  };
  struct Tow {
    const model::Load* load;
    graph::TowSweep sweep;
    TowBound bound;
  };
  struct SweepsOf {                   // a manner
    std::vector<std::size_t> beside;  // into beside_, in the order of the loads
    std::optional<std::size_t> tow;   // into tows_
  };
  struct Kept {
    bool fits = false;
    State to = 0;
    std::vector<model::ZoneId> entered;
    bool note(const graph::SweepResult& sweep);  // whether it fits
  };
  static constexpr std::uint32_t unset = ~std::uint32_t{0};

  [[nodiscard]] const Tow* tow(const StateData& state) const;  // null: none in tow
  [[nodiscard]] const std::vector<std::size_t>& beside(const StateData& state) const {
    return sweeps_of_[state.manner].beside;
  }
  [[nodiscard]] Cell cell_of(const StateData& state, const graph::Trail& trail, double edge_m) const;
  std::uint32_t heading_after(const StateData& from, GripId to);
  State state_of(GripId grip, std::size_t manner, std::uint32_t heading, graph::Trail trail);
  std::uint32_t heading_of(GripId grip, const Vec3& heading);
  const Vec3& heading(const StateData& state) const { return headings_.at(state.grip.value)[state.heading]; }
  Kept compute(State from, GripId to);
  /// The load carried beside, over a move that says which way the mover faces.
  const graph::SweepResult& sweep_move(std::size_t beside, GripId from, GripId to, const Vec3& heading);
  bool may_pass_beside(const SweepsOf& sweeps, GripId from, GripId to);
  /// Visits the sweeps of a step until one says stop: visit(load, size, sweep) -> go on?
  template <class Visit>
  void visit_finish(State state, graph::SweepAim aim, Visit&& visit) const;
  const Kept& finish(State state);
  /// Visits the sweeps of a change as `visit_beside`; the state's heading and trail after it.
  struct Changed {
    bool fits = true;
    std::optional<Vec3> heading;
    graph::Trail trail;
  };
  template <class Visit>
  Changed visit_change(State from, std::size_t manner, graph::SweepAim aim, Visit&& visit) const;
  template <class Visit>
  bool visit_beside(const StateData& from, GripId to, graph::SweepAim aim, Visit&& visit) const;

  const graph::HandrailGraph& graph_;
  std::vector<const model::Load*> loads_;
  const geometry::Scene* boxes_ = nullptr;
  std::vector<Manner> manners_;
  std::vector<SweepsOf> sweeps_of_;  // by manner
  std::vector<Beside> beside_;       // of each load and manner of carrying
  std::vector<Tow> tows_;
  std::vector<StateData> states_;
  std::unordered_map<std::string, State> state_by_key_;
  std::unordered_map<std::uint32_t, std::vector<Vec3>> headings_;  // by grip
  std::vector<graph::Trail> trails_;
  std::unordered_map<std::uint64_t, Kept> steps_;  // by state and grip gone to
  std::unordered_map<State, Kept> finished_;
  std::map<std::pair<State, std::size_t>, Kept> changes_;  // by state and manner changed to
  std::map<std::tuple<std::size_t, std::uint32_t, std::uint32_t, std::uint32_t>, graph::SweepResult> swings_;
  std::map<std::tuple<std::size_t, std::uint32_t, std::uint32_t>, graph::SweepResult> moves_;
  std::size_t sweeps_ = 0;
  bool has_met_zones_ = false;
};

}  // namespace holdfast::route::detail
