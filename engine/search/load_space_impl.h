#pragma once
// The states that a mover with loads passes through: a grip, which way the mover faces there (loads beside the body),
// and the last stretch of the way (a load in tow). Found as a search asks for them, and kept: a second search over the
// same loads finds its sweeps done.

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
#include "holdfast/search/answer.h"
#include "holdfast/search/costs.h"

namespace holdfast::search::detail {

using graph::GripId;

class LoadSpace {
 public:
  using State = std::uint32_t;

  struct Options {
    double scale = 1;                              ///< of every load's size: 'would a smaller one pass?'
    bool ignore_zones = false;                     ///< 'would it pass without the zones?'
    std::vector<model::ZoneId> lifted_zones = {};  ///< ... without these
  };
  /// Keeps references to the graph and the loads.
  LoadSpace(const graph::HandrailGraph& graph, std::vector<const model::Load*> loads)
      : LoadSpace(graph, std::move(loads), Options{}) {}
  LoadSpace(const graph::HandrailGraph& graph, std::vector<const model::Load*> loads, const Options& options);

  struct Step {
    bool fits = false;
    State to = 0;
    std::span<const model::ZoneId> entered;  ///< caution and limit zones that a load enters
  };

  /// At a grip where a leg starts, facing nowhere yet, the load in tow at the mover's side.
  [[nodiscard]] State start(GripId grip);
  [[nodiscard]] GripId grip(State state) const { return states_[state].grip; }
  [[nodiscard]] Step step(State from, GripId to);
  /// Where the next leg goes on once the load in tow is drawn in; nothing where that does not fit.
  [[nodiscard]] std::optional<State> finish_leg(State state);

  /// States of a cell are much alike: the same grip and heading, and the load in tow in the same cube of this edge.
  using Cell = std::array<std::int32_t, 6>;
  [[nodiscard]] Cell cell(State state, double edge_m) const;
  /// Of the state that a step would lead to, fit or not: no sweep is made.
  [[nodiscard]] Cell cell_after(State from, GripId to, double edge_m);
  [[nodiscard]] bool has_tow() const { return tow_.has_value(); }

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
  /// The loads' boxes at a state, in the order of the loads; a load beside whose mover faces nowhere yet has none.
  [[nodiscard]] std::vector<std::optional<graph::BoxPose>> poses(State state) const;

  [[nodiscard]] const std::vector<const model::Load*>& loads() const { return loads_; }
  /// True once a zone forbade a step: only then can lifting zones help.
  [[nodiscard]] bool has_met_zones() const { return has_met_zones_; }
  [[nodiscard]] std::size_t sweep_count() const { return sweeps_; }  ///< made so far

 private:
  struct StateData {
    GripId grip;
    std::uint32_t heading;  // into headings_[grip]; `unset` before the first move of the route
    std::uint32_t trail;    // into trails_
  };
  struct Beside {
    const model::Load* load;
    graph::BesideSweep sweep;
  };
  struct Kept {
    bool fits = false;
    State to = 0;
    std::vector<model::ZoneId> entered;
  };
  static constexpr std::uint32_t unset = ~std::uint32_t{0};

  [[nodiscard]] Cell cell_of(GripId grip, std::uint32_t heading, const graph::Trail& trail, double edge_m) const;
  std::uint32_t heading_after(const StateData& from, GripId to);
  State state_of(GripId grip, std::uint32_t heading, graph::Trail trail);
  std::uint32_t heading_of(GripId grip, const Vec3& heading);
  const Vec3& heading(const StateData& state) const { return headings_.at(state.grip.value)[state.heading]; }
  Kept compute(State from, GripId to);
  /// Visits the sweeps of a step until one says stop: visit(load, size, sweep) -> go on?
  template <class Visit>
  bool visit_beside(const StateData& from, GripId to, graph::SweepAim aim, Visit&& visit) const;

  const graph::HandrailGraph& graph_;
  std::vector<const model::Load*> loads_;
  std::vector<model::Load> scaled_;  // as swept
  std::vector<Beside> beside_;
  const model::Load* towed_load_ = nullptr;
  std::optional<graph::TowSweep> tow_;
  std::vector<StateData> states_;
  std::unordered_map<std::string, State> state_by_key_;
  std::unordered_map<std::uint32_t, std::vector<Vec3>> headings_;  // by grip
  std::vector<graph::Trail> trails_;
  std::unordered_map<std::uint64_t, Kept> steps_;  // by state and grip gone to
  std::unordered_map<State, std::optional<State>> finished_;
  std::map<std::tuple<std::size_t, std::uint32_t, std::uint32_t, std::uint32_t>, graph::SweepResult> swings_;
  std::map<std::tuple<std::size_t, std::uint32_t, std::uint32_t>, graph::SweepResult> moves_;
  std::size_t sweeps_ = 0;
  bool has_met_zones_ = false;
};

}  // namespace holdfast::search::detail
