// SPDX-License-Identifier: GPL-3.0-or-later
#include <algorithm>
#include <cmath>
#include <map>
#include <set>

#include "choices_impl.h"
#include "holdfast/search/alternatives.h"

namespace holdfast::route {

using graph::GripId;
using graph::HandrailGraph;
using graph::MoveId;
using model::RailId;

namespace detail {

namespace {

using Sides = std::map<std::pair<model::PartId, Face>, double>;

Sides sides_of(const Route& route) {
  Sides sides;
  for (const auto& leg : route.legs)
    for (const auto& row : leg.rows) sides[{row.part, row.face}] += row.distance_m;
  return sides;
}

constexpr double least_side_m = 0.3;  // less than this on a side is no more than touching it
constexpr double own_side_m = 1.0;    // a route that goes this far along a side goes along it

}  // namespace

WayMark find_mark(const Route& way, std::span<const Route* const> others) {
  std::map<std::pair<model::PartId, Face>, double> most;
  for (const Route* other : others)
    for (const auto& [side, length] : sides_of(*other)) most[side] = std::max(most[side], length);
  WayMark mark;
  double farthest = least_side_m;
  for (const auto& [side, length] : sides_of(way)) {
    const auto found = most.find(side);
    const double beyond = length - (found == most.end() ? 0 : found->second);
    if (beyond <= farthest + 1e-9) continue;
    farthest = beyond;
    mark.part = side.first, mark.face = side.second;
  }
  std::set<RailId> held;
  for (const Route* other : others)
    for (const RailId rail : rails_of(*other)) held.insert(rail);
  for (const RailId rail : rails_of(way))
    if (held.insert(rail).second) mark.rails.push_back(rail);
  return mark;
}

std::vector<RailId> rails_of(const Route& route) {
  std::vector<RailId> rails;
  for (const auto& leg : route.legs)
    for (const auto& row : leg.rows)
      if (rails.empty() || rails.back() != row.rail) rails.push_back(row.rail);
  return rails;
}

void add_differ_by(Answer& answer, const model::DesignValues& design) {
  answer.used.push_back({"routes differ by more than, time", "s", design.differ_time_s});
  answer.used.push_back({"routes differ by more than, moves", "", design.differ_moves});
  answer.used.push_back({"routes differ by more than, clearance", "m", design.differ_clearance_m});
  answer.used.push_back({"routes differ by more than, caution", "s", design.differ_caution_s});
}

bool is_within(const DifferBy& by, const Route& a, double a_clearance_m, const Route& b, double b_clearance_m) {
  constexpr double noise = 1e-6;
  const double moves = std::abs(static_cast<double>(a.moves) - static_cast<double>(b.moves));
  const double clearance_m = a_clearance_m == b_clearance_m ? 0 : std::abs(a_clearance_m - b_clearance_m);
  return std::abs(a.time_s - b.time_s) <= by.time_s + noise && moves <= by.moves + noise &&
         std::abs(a.caution_s - b.caution_s) <= by.caution_s + noise && clearance_m <= by.clearance_m + noise;
}

bool has_other_side(const Route& way, std::span<const Route* const> others) {
  std::map<std::pair<model::PartId, Face>, double> most;
  for (const Route* other : others)
    for (const auto& [side, length] : sides_of(*other)) most[side] = std::max(most[side], length);
  for (const auto& [side, length] : sides_of(way)) {
    const auto known = most.find(side);
    if (length >= own_side_m && (known == most.end() || known->second < least_side_m)) return true;
  }
  return false;
}

std::vector<LegWay> legs_of(const HandrailGraph& graph, const Route& route) {
  std::vector<LegWay> legs;
  for (const auto& leg : route.legs) {
    LegWay way{leg.from, leg.to, {}, {}};
    for (const auto& pose : leg.poses) {
      const GripId grip(pose.grip);
      if (!way.grips.empty()) {
        const auto move = graph.find_move(way.grips.back(), grip);
        model::ensure(move.has_value(), "a route goes over moves of its graph");
        way.moves.push_back(*move);
      }
      way.grips.push_back(grip);
    }
    legs.push_back(std::move(way));
  }
  return legs;
}

}  // namespace detail

namespace {

/// Looked at for each route asked for: more than are required, because sides and steps decide among them.
constexpr std::size_t candidates_a_way = 3;

/// Cost of a way in the primary part of the objective, prices of caution zones for bodies included.
std::int64_t primary_cost(const CostTable& table, const std::vector<MoveId>& moves) {
  std::int64_t cost = 0;
  for (const auto move : moves) cost += table.by_move[move.index()].primary();
  return cost;
}

/// What is shared with ways before, measured on rails.
class Sharing {
 public:
  explicit Sharing(const HandrailGraph& graph) : graph_(graph) {}
  [[nodiscard]] double fraction(const std::vector<MoveId>& moves) const {
    double shared = 0, whole = 0;
    for (const auto move : moves) {
      const auto& m = graph_.move(move);
      whole += m.way_m;
      if (seen_.count(key(m)) > 0) shared += m.way_m;
    }
    const double length = std::min(whole, first_m_ > 0 ? first_m_ : whole);
    return length > 0 ? shared / length : 0;
  }
  void add(const std::vector<MoveId>& moves) {
    double whole = 0;
    for (const auto move : moves) {
      const auto& m = graph_.move(move);
      whole += m.way_m;
      seen_.insert(key(m));
      seen_.insert({graph_.grip(m.a).rail, graph_.grip(m.a).rail});
      seen_.insert({graph_.grip(m.b).rail, graph_.grip(m.b).rail});
    }
    if (first_m_ == 0) first_m_ = whole;
  }

 private:
  [[nodiscard]] std::pair<RailId, RailId> key(const graph::Move& move) const {
    return std::minmax(graph_.grip(move.a).rail, graph_.grip(move.b).rail);
  }
  const HandrailGraph& graph_;
  std::set<std::pair<RailId, RailId>> seen_;
  double first_m_ = 0;
};

void mark_all(std::vector<Choice>& ways) {
  for (std::size_t i = 0; i < ways.size(); ++i) {
    std::vector<const Route*> others;
    for (std::size_t j = 0; j < ways.size(); ++j)
      if (j != i) others.push_back(&ways[j].route);
    ways[i].mark = detail::find_mark(ways[i].route, others);
  }
}

}  // namespace

DifferBy differ_by(const model::DesignValues& design) {
  return {design.differ_time_s, design.differ_moves, design.differ_clearance_m, design.differ_caution_s};
}

std::vector<TradeOff> join_alike(std::vector<TradeOff> ways, const DifferBy& by) {
  std::vector<TradeOff> kept;
  std::vector<std::vector<RailId>> rails;
  for (TradeOff& way : ways) {
    auto held = detail::rails_of(way.route);
    std::size_t k = 0;
    while (k < kept.size() && held != rails[k] &&
           !detail::is_within(by, way.route, way.clearance_m, kept[k].route, kept[k].clearance_m))
      ++k;
    if (k < kept.size()) {
      ++kept[k].stands_for;
      continue;
    }
    kept.push_back(std::move(way));
    rails.push_back(std::move(held));
  }
  return kept;
}

Alternatives find_alternative_routes(const HandrailGraph& graph, const Profile& profile, const RouteRequest& request,
                                     const AlternativeLimits& limits) {
  model::ensure(request.via.empty(), "alternatives go from one place to one other");
  Alternatives result;
  result.limits = limits;
  RouteRequest asked = request;
  const detail::KeptLoads kept(graph, profile, asked);
  detail::LoadSpace* const space = kept.space();
  result.answer = find_route(graph, profile, asked);
  detail::add_differ_by(result.answer, profile.kit.design);
  const Route* best = result.answer.route();
  if (!best || limits.most == 0) return result;
  result.ways.push_back({*best, {}, 1, 0});

  const auto ends = detail::resolve_ends(graph, request);
  const CostTable table = compute_costs(graph, profile, request.by);
  const auto sources = detail::usable(ends[0].grips, table), targets = detail::usable(ends[1].grips, table);
  std::vector<std::uint32_t> rail_of_grip;
  for (const auto& grip : graph.grips()) rail_of_grip.push_back(grip.rail.value);
  std::vector<std::int64_t> length_of_move;
  for (const auto& move : graph.moves()) length_of_move.push_back(cost_of_metres(move.way_m));
  const auto legs_of = [&](const search::Path& way) { return detail::split_legs(ends, way, {0, way.moves.size()}); };

  const auto paces = paces_of(profile);
  // Loads and limit zones may have turned the best way aside: the others are measured against the way that is taken.
  const auto best_moves = detail::legs_of(graph, *best).front().moves;
  const auto best_cost = static_cast<double>(std::max<std::int64_t>(1, primary_cost(table, best_moves)));
  const auto found =
      search::find_alternatives(graph.adjacency(), table.by_move,
                                {.sources = sources,
                                 .targets = targets,
                                 .most = candidates_a_way * limits.most,
                                 .stretch = limits.stretch,
                                 .sharing = limits.sharing,
                                 .locally = limits.locally,
                                 .group_of_node = rail_of_grip,
                                 .length_of_move = length_of_move,
                                 .accept = [&](const search::Path& way) {
                                   auto legs = legs_of(way);
                                   return !space || !detail::walk_in_best_manner(graph, *space, paces, legs);
                                 }});
  struct Candidate {
    std::vector<MoveId> moves;
    double stretch;
    Route route;
  };
  std::vector<Candidate> candidates;
  for (const auto& each : found) {
    auto legs = legs_of(each.way);
    const double stretch = static_cast<double>(primary_cost(table, legs.front().moves)) / best_cost;
    if (stretch > limits.stretch || (space && detail::walk_in_best_manner(graph, *space, paces, legs))) continue;
    Route way = detail::describe(graph, profile, space, legs, detail::waypoint_options(profile, request));
    if (detail::keeps_limits(graph, way)) candidates.push_back({legs.front().moves, stretch, std::move(way)});
  }
  Sharing sharing(graph);
  sharing.add(best_moves);
  const DifferBy by = differ_by(profile.kit.design);
  // Another side of a body first; what only holds other rails fills up.
  for (const bool wants_side : {true, false})
    for (Candidate& candidate : candidates) {
      if (result.ways.size() >= limits.most) break;
      if (candidate.moves.empty()) continue;  // taken
      std::vector<const Route*> others;
      for (const auto& way : result.ways) others.push_back(&way.route);
      if (wants_side && !detail::has_other_side(candidate.route, others)) continue;
      const bool is_alike = std::any_of(others.begin(), others.end(), [&](const Route* other) {
        return detail::rails_of(*other) == detail::rails_of(candidate.route) ||
               detail::is_within(by, candidate.route, candidate.route.clearance.value_m, *other,
                                 other->clearance.value_m);
      });
      const double shared = sharing.fraction(candidate.moves);
      if (shared > limits.sharing || (is_alike && !wants_side)) continue;
      sharing.add(candidate.moves);
      candidate.moves.clear();
      result.ways.push_back({std::move(candidate.route), {}, candidate.stretch, shared});
    }
  mark_all(result.ways);
  return result;
}

}  // namespace holdfast::route
