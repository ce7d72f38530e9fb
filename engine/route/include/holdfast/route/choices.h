// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// Several ways instead of one: alternatives, trade-offs between what one may want of a way, and the same question asked
// with different loads or of ways that are given.
//
//   const auto choices = route::find_alternative_routes(graph, profile, {.from = "a", .to = "b"}, {.most = 3});
//   for (const auto& choice : choices.ways) use(choice.route, choice.mark);

#include <cstddef>
#include <optional>
#include <string>
#include <vector>

#include "holdfast/route/redundancy.h"
#include "holdfast/route/route.h"

namespace holdfast::route {

/// What tells a way from others: the side of a part along which it goes farther than any of them, and the rails that it
/// alone holds.
struct WayMark {
  std::optional<model::PartId> part;  ///< nothing where no side tells it apart
  Face face = Face::Zenith;
  std::vector<model::RailId> rails;  ///< in the way's order
};

// ---- alternatives ---------------------------------------------------------------------------------------------------

/// Criteria: Abraham, Delling, Goldberg, Werneck, 'Alternative routes in road networks', 2013; the numbers are
/// design.md section 6's.
struct AlternativeLimits {
  std::size_t most = 3;   ///< ways in all, the best included
  double stretch = 1.3;   ///< at most this times the best's cost
  double sharing = 0.7;   ///< at most this fraction on rails of the ways before
  double locally = 0.25;  ///< no detour within any stretch of this fraction of the best's cost
};

/// What a planner can tell apart: routes differ when they hold other rails and lie more than one of these apart.
struct DifferBy {
  double time_s = 0, moves = 0, clearance_m = 0, caution_s = 0;
};
[[nodiscard]] DifferBy differ_by(const model::DesignValues& design);

struct Choice {
  Route route;
  WayMark mark;
  double stretch = 1;          ///< cost over the best's, in the terms of the objective
  double shared_fraction = 0;  ///< of its length, on rails of the ways before it
};

struct Alternatives {
  Answer answer;             ///< the best way, or why there is none
  std::vector<Choice> ways;  ///< the best first; empty when there is none
  AlternativeLimits limits;
};

/// Routes that go along another side of a body come before those that only hold other rails; no two that a planner
/// cannot tell apart (`DifferBy`). Requires: no via places. With loads, only ways on which they fit. Ways that overstay
/// a limit zone are left out.
[[nodiscard]] Alternatives find_alternative_routes(const graph::HandrailGraph& graph, const Profile& profile,
                                                   const RouteRequest& request, const AlternativeLimits& limits = {});

// ---- trade-offs -----------------------------------------------------------------------------------------------------

struct TradeOff {
  Route route;
  WayMark mark;                ///< beside the quickest; of the quickest, beside the last
  double clearance_m = 0;      ///< least over the way, rounded down to the centimetres that ways are told apart by
  std::size_t stands_for = 1;  ///< ways that differ too little to be told apart from it, itself included
};

struct TradeOffs {
  Answer answer;               ///< the quickest way, or why there is none
  std::vector<TradeOff> ways;  ///< by time; no two alike in rails, nor within `differ_by` in all criteria
  std::size_t labels = 0;      ///< partial ways looked at
  std::size_t most_labels = 0;
  bool is_cut_short = false;  ///< the label limit was reached: the set may lack ways
  DifferBy differ_by;
};

/// Ways by time, each of the first way that is left and of those that cannot be told apart from it made one: they hold
/// the same rails, or lie within `by` of it in all criteria. What is kept is kept as it is. Requires: sorted by time.
[[nodiscard]] std::vector<TradeOff> join_alike(std::vector<TradeOff> ways, const DifferBy& by);

/// Every combination of time, hand moves, seconds in caution zones and least clearance (in centimetres) that no other
/// way betters in all, exact unless cut short; of those that cannot be told apart, the quickest. Clearances are refined
/// first. Legs and limit zones as in `route`.
[[nodiscard]] TradeOffs find_trade_offs(const graph::HandrailGraph& graph, const Profile& profile,
                                        const RouteRequest& request, std::size_t most_labels = 2'000'000);

// ---- compare --------------------------------------------------------------------------------------------------------

/// A way that is given, grip by grip: from a result, say.
struct GivenWay {
  struct Leg {
    std::string from, to;
    struct Grip {
      std::string rail;
      Vec3 hand = Vec3::Zero(), outward = Vec3::UnitZ();
      double at_s = 0;  ///< as the result has it
    };
    std::vector<Grip> grips;
  };
  /// Where the tether was swapped.
  struct Swap {
    std::size_t leg = 0, grip = 0;
    std::string hook;
  };
  std::string name;
  std::vector<Leg> legs;
  std::vector<Swap> swaps = {};
  std::optional<model::Configuration> configuration = std::nullopt;  ///< that it was found in; nothing: not known
  std::string suit = {};                                             ///< of the kit; empty: not known
};

/// A route as a way that is given.
[[nodiscard]] GivenWay given_way(const model::Structure& structure, const Route& route, std::string name);

using Loads = std::vector<const model::Load*>;  ///< carried at once; empty: none

/// Where a route leaves the rails of the first one: between two rails that both hold.
struct Detour {
  std::optional<model::RailId> after, before;     ///< nothing: from the start, to the end
  std::vector<model::RailId> first_rails, rails;  ///< what the first route holds there, and what this one does
  std::vector<std::pair<model::PartId, Face>> first_sides, sides;  ///< the same by side of a part, in order
  double first_time_s = 0, time_s = 0;
};

struct CompareRow {
  std::string way;  ///< name of a given way; empty: the best way with these loads
  std::vector<std::string> loads;
  Answer answer;
  WayMark mark;               ///< where it goes and the first row does not
  WayMark first_mark;         ///< where the first row goes and it does not
  bool goes_as_first = true;  ///< over the same rails
  /// Why these loads do not pass on the way of the first row; nothing where they do, or where there is no first way.
  std::optional<Cause> not_as_first;
  /// A rail of the first row's route that is not there, or stands elsewhere, in this row's configuration.
  std::optional<model::RailId> first_rail_gone;
  std::vector<Detour> detours;        ///< from the first row's route, in order; none where either has no route
  double same_rails_s = 0;            ///< this row's time less the first's over the rails that both hold
  std::vector<std::string> settings;  ///< numbers set for this row's model
};

struct Comparison {
  AnswerHead head;
  std::vector<CompareRow> rows;
};

/// The best way for each set of loads. On all cores; the same on any number.
[[nodiscard]] Comparison compare_loads(const graph::HandrailGraph& graph, const Profile& profile,
                                       const RouteRequest& request, const std::vector<Loads>& loads);

/// Each given way with each set of loads: would they pass, and in what time? Throws `model::InputError`
/// (`wrong-result`) for a way that is not one of this graph.
[[nodiscard]] Comparison compare_ways(const graph::HandrailGraph& graph, const Profile& profile,
                                      const RouteRequest& request, const std::vector<GivenWay>& ways,
                                      const std::vector<Loads>& loads);

/// One model, suit, configuration and load to ask for: a row of a comparison. The graph must outlive the call.
struct CompareCase {
  const graph::HandrailGraph* graph = nullptr;
  Profile profile;                ///< with loads
  std::optional<GivenWay> given;  ///< asked of this route; nothing: of the best one
};

/// The same question in each case. Rows as cases. Requires: at least one case; structures that differ in numbers alone.
/// Throws `model::InputError` (`wrong-result`) for a given route that is not one of its graph.
[[nodiscard]] Comparison compare_cases(const std::vector<CompareCase>& cases, const RouteRequest& request);

// ---- weak points ----------------------------------------------------------------------------------------------------

struct WeakRail {
  model::RailId rail;
  std::vector<model::PlaceId> cut_off;  ///< places that no hatch reaches without it
};

struct ClosingCost {
  model::RailId rail;
  std::optional<double> time_s;  ///< of the best way without it; nothing: there is none
};

struct WeakPoints {
  AnswerHead head;
  std::optional<Answer> answer;        ///< to the question, where one is asked
  std::vector<std::string> hatches;    ///< that can be reached at all
  std::vector<std::string> reachable;  ///< places that were asked about
  std::vector<WeakRail> rails;         ///< in the order of the files
  std::vector<Redundancy> redundancy;  ///< of the places that are reached
  std::vector<ClosingCost> closing;    ///< of each rail on the best way, in its order; only with a question
};

/// Rails whose loss cuts a place off from every hatch, for the profile's body rules, zones and closures (loads are not
/// looked at). With a question also what closing each rail of its best way costs.
[[nodiscard]] WeakPoints find_weak_points(const graph::HandrailGraph& graph, const Profile& profile,
                                          const std::optional<RouteRequest>& request = std::nullopt);

}  // namespace holdfast::route
