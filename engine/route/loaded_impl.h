// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// Cheapest way of a mover with loads, over the states of a LoadSpace.
//
// A* whose bound is the exact cost onward without the loads' room (one backward tree a leg); a sweep is made only when
// the step that needs it comes to the top of the queue. All ways of equal cost are followed, and of these the one with
// the smallest grip sequence is taken (design.md 14, Ties).

#include <functional>
#include <limits>
#include <optional>
#include <span>
#include <vector>

#include "holdfast/search/cost.h"
#include "holdfast/search/shortest.h"
#include "load_space_impl.h"
#include "waypoints_impl.h"

namespace holdfast::route::detail {

struct LoadedRequest {
  /// Seeds to start from, those to pass in order, and those to end at: two or more sets; costs are not looked at.
  std::vector<std::vector<search::Seed>> stops;
  std::optional<Departure> departure = std::nullopt;  ///< of loads that are in hand at the start
  std::span<const search::Cost> by_move;              ///< the least in any manner of carrying
  /// By manner of the space; requires: nowhere less than `by_move`, and blocked where that is.
  std::vector<std::span<const search::Cost>> by_move_of_manner;
  /// What a step costs besides when loads enter these zones.
  std::function<search::Cost(std::uint32_t move, std::span<const model::ZoneId> entered, std::size_t manner)> zone_cost;
  /// What it costs to change this load's manner. More than nothing.
  std::function<search::Cost(const model::Load&)> change_cost;
  std::size_t most_steps = std::numeric_limits<std::size_t>::max();  ///< steps looked at, kept sweeps or not
  /// Keep one state, the first, of each cell of the space and stop at the first goal: a good way soon, not the best.
  bool is_rough = false;
  double cell_m = 0.5;  ///< edge of such a cell
};

/// One leg: `moves` one less than `grips`.
struct LoadedLeg {
  std::vector<std::uint32_t> grips, moves;
  std::vector<LegWay::Change> changes;
  std::size_t manner = 0;  ///< in which it starts
};

struct LoadedWay {
  std::vector<LoadedLeg> legs;
  search::Cost cost;
};

struct LoadedResult {
  std::optional<LoadedWay> way;
  bool is_cut_short = false;    ///< more steps than allowed: no way here does not mean that there is none
  search::Cost least_possible;  ///< when cut short: no way costs less
  /// When none was found: the step that fails nearest to the goal, from a state that was reached.
  struct Stop {
    LoadSpace::State from;
    std::optional<GripId> to;  ///< nothing: drawing in at the end of a leg fails
    std::size_t leg;
    std::vector<std::uint32_t> moves;  ///< from the start to `from`, over all legs
  };
  std::optional<Stop> stop;
};

[[nodiscard]] LoadedResult find_loaded_way(const graph::HandrailGraph& graph, LoadSpace& space,
                                           const LoadedRequest& request);

}  // namespace holdfast::route::detail
