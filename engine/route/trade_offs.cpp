// SPDX-License-Identifier: GPL-3.0-or-later
#include <tbb/parallel_for.h>

#include <algorithm>
#include <cmath>
#include <limits>

#include "choices_impl.h"
#include "holdfast/route/loads.h"
#include "holdfast/search/label_search.h"

namespace holdfast::route {

using graph::GripId;
using graph::HandrailGraph;
using graph::MoveId;
using model::ZoneEffect;
using model::ZoneId;

namespace {

// Criteria besides time, in this order; limit zones follow.
constexpr std::size_t moves_criterion = 0, caution_criterion = 1, first_limit = 2;
constexpr double width_unit_m = 0.01;

std::int32_t width_of(double clearance_m) {
  return static_cast<std::int32_t>(std::floor(clearance_m / width_unit_m + 1e-6));
}

/// States of a mover with loads; what loads enter counts as what the body enters does.
class TradeOffSpace {
 public:
  using State = detail::LoadSpace::State;
  TradeOffSpace(const HandrailGraph& graph, detail::LoadSpace& space, const std::vector<search::Resource>& criteria,
                const std::vector<ZoneId>& limited, const std::vector<std::int64_t>& seconds_by_move,
                std::size_t manner, const std::optional<Departure>& departure)
      : graph_(graph),
        space_(space),
        criteria_(criteria),
        limited_(limited),
        seconds_by_move_(seconds_by_move),
        manner_(manner),
        departure_(departure) {}
  State start(std::uint32_t node) { return space_.start(GripId(node), manner_, departure_).value(); }
  [[nodiscard]] std::uint32_t node(State state) const { return space_.grip(state).value; }
  std::optional<State> finish_leg(State state) { return space_.finish_leg(state); }
  std::optional<State> step(State state, const graph::Arc& arc, search::Cost&, std::span<std::int64_t> uses) {
    const auto step = space_.step(state, GripId(arc.head));
    if (!step.fits) return std::nullopt;
    bool in_caution = false;
    for (const ZoneId zone : step.entered) {
      in_caution = in_caution || graph_.structure().zones[zone.index()].effect == ZoneEffect::Caution;
      for (std::size_t l = 0; l < limited_.size(); ++l)
        if (limited_[l] == zone && criteria_[first_limit + l].by_move[arc.move] == 0)
          uses[first_limit + l] += seconds_by_move_[arc.move];
    }
    if (in_caution && criteria_[caution_criterion].by_move[arc.move] == 0)
      uses[caution_criterion] += seconds_by_move_[arc.move];
    return step.to;
  }

 private:
  const HandrailGraph& graph_;
  detail::LoadSpace& space_;
  const std::vector<search::Resource>& criteria_;
  const std::vector<ZoneId>& limited_;
  const std::vector<std::int64_t>& seconds_by_move_;
  const std::size_t manner_;
  const std::optional<Departure>& departure_;
};

/// Least clearances over moves and at grips, refined, in whole units rounded down.
std::vector<std::int32_t> widths_of_moves(const HandrailGraph& graph, const CostTable& table) {
  std::vector<std::int32_t> widths(graph.moves().size());
  tbb::parallel_for(std::size_t{0}, widths.size(), [&](std::size_t m) {
    if (table.by_move[m].is_blocked()) return;
    const auto least = graph.compute_clearance(MoveId(m), detail::clearance_tolerance_m);
    widths[m] = width_of(std::max(least.lower_m, graph.moves()[m].clearance_lower_m));
  });
  return widths;
}

bool is_bettered(const TradeOff& way, const TradeOff& by) {
  const auto rank = [](const TradeOff& w) {
    return std::tuple(w.route.time_s, w.route.moves, w.route.caution_s, -w.clearance_m);
  };
  constexpr double noise_s = 1e-6;
  const bool is_no_worse = by.route.time_s <= way.route.time_s + noise_s && by.route.moves <= way.route.moves &&
                           by.route.caution_s <= way.route.caution_s + noise_s && by.clearance_m >= way.clearance_m;
  return is_no_worse && rank(by) != rank(way);
}

}  // namespace

TradeOffs find_trade_offs(const HandrailGraph& graph, const Profile& priced, const RouteRequest& request,
                          std::size_t most_labels) {
  // Time in caution zones is what this question tells apart from time: it has no price here.
  Profile profile = priced;
  profile.prices_caution = false;
  TradeOffs result;
  result.most_labels = most_labels;
  RouteRequest quickest = request;
  quickest.by = Objective::Time;
  const detail::KeptLoads kept(graph, profile, quickest);
  result.answer = find_route(graph, profile, quickest);
  if (!result.answer.route()) return result;

  const auto ends = detail::resolve_ends(graph, request);
  const CostTable table = compute_costs(graph, profile, Objective::Time);
  // Ways are told apart in one manner of carrying, that of the quickest: with all of them the labels are too many.
  const std::size_t manner = result.answer.route()->manner;
  const Pace pace = paces_of(profile)[manner];
  const auto limited = detail::limit_zones(graph, table, !profile.loads.empty());
  const std::size_t n = graph.moves().size();

  search::ParetoRequest question;
  question.most_labels = most_labels;
  for (const auto& end : ends) question.stops.push_back(detail::usable(end.grips, table));
  const auto time = compute_unpriced_costs(graph, table, pace, Objective::Time);
  std::vector<std::int64_t> seconds(n);
  question.criteria.resize(first_limit + limited.size());
  for (auto& criterion : question.criteria) {
    criterion.by_move.assign(n, 0);
    criterion.limit = std::numeric_limits<std::int64_t>::max();
  }
  for (std::size_t m = 0; m < n; ++m) {
    if (time[m].is_blocked()) continue;
    seconds[m] = time[m].primary();
    question.criteria[moves_criterion].by_move[m] = 1;
    for (const auto& label : graph.zones(MoveId(m))) {
      const bool holds = std::find(table.zones.begin(), table.zones.end(), label.zone) != table.zones.end();
      if (holds && graph.structure().zones[label.zone.index()].effect == ZoneEffect::Caution)
        question.criteria[caution_criterion].by_move[m] = seconds[m];
      for (std::size_t l = 0; l < limited.size(); ++l)
        if (limited[l] == label.zone) question.criteria[first_limit + l].by_move[m] = seconds[m];
    }
  }
  for (std::size_t l = 0; l < limited.size(); ++l)
    question.criteria[first_limit + l].limit =
        static_cast<std::int64_t>(graph.structure().zones[limited[l].index()].limit_s * search::cost_units_per_second);
  const auto widths = widths_of_moves(graph, table);
  std::vector<std::int32_t> grip_widths;
  for (const auto& grip : graph.grips()) grip_widths.push_back(width_of(grip.clearance_lower_m));
  question.width_by_move = widths;
  question.width_by_node = grip_widths;

  search::ParetoSet set;
  detail::LoadSpace* const space = kept.space();
  if (!space) {
    set = search::find_pareto_paths(graph.adjacency(), time, question);
  } else {
    TradeOffSpace states(graph, *space, question.criteria, limited, seconds, manner, ends.front().departure);
    set = search::find_pareto_paths_in(states, graph.adjacency(), time, question);
  }
  result.labels = set.labels;
  result.is_cut_short = set.is_cut_short;

  for (const auto& found : set.ways) {
    const auto legs = detail::in_manner(detail::split_legs(ends, found.way, found.stop_at), manner);
    TradeOff way;
    way.route = detail::describe(graph, profile, space, legs, detail::waypoint_options(profile, request));
    way.clearance_m = found.width * width_unit_m;
    if (detail::keeps_limits(graph, way.route)) result.ways.push_back(std::move(way));
  }
  // Standing in a zone at the ends is known only now, and limits were criteria for the search: what is no gain in the
  // four goes.
  std::erase_if(result.ways, [&, all = result.ways](const TradeOff& way) {
    return std::any_of(all.begin(), all.end(), [&](const TradeOff& other) { return is_bettered(way, other); });
  });
  // Where the quickest passes only by changing hands, no other was found in one manner.
  const Route& best = *result.answer.route();
  if (result.ways.empty())
    result.ways.push_back({best, {}, std::floor(best.clearance.value_m / width_unit_m) * width_unit_m});
  std::stable_sort(result.ways.begin(), result.ways.end(),
                   [](const TradeOff& x, const TradeOff& y) { return x.route.time_s < y.route.time_s; });
  result.differ_by = differ_by(profile.kit.design);
  result.ways = join_alike(std::move(result.ways), result.differ_by);
  detail::add_differ_by(result.answer, profile.kit.design);
  for (std::size_t i = 0; i < result.ways.size(); ++i) {
    // Against the quickest: with many ways on the table no side is one way's alone.
    const Route* other = &result.ways[i == 0 ? result.ways.size() - 1 : 0].route;
    if (result.ways.size() > 1) result.ways[i].mark = detail::find_mark(result.ways[i].route, {&other, 1});
  }
  return result;
}

}  // namespace holdfast::route
