// SPDX-License-Identifier: GPL-3.0-or-later
#include "holdfast/route/route.h"

#include <tbb/parallel_invoke.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <numbers>
#include <variant>

#include "ends_impl.h"
#include "holdfast/search/label_search.h"
#include "holdfast/search/shortest.h"
#include "loaded_route_impl.h"
#include "question_impl.h"
#include "tethered_impl.h"
#include "waypoints_impl.h"
#include "why_not_impl.h"

namespace holdfast::route {

using detail::End;
using detail::is_in;
using detail::keeps_limits;
using detail::limit_zones;
using detail::usable;
using graph::GripId;
using graph::HandrailGraph;
using graph::MoveId;

namespace {

/// States of a mover with loads for the label search; loads in zones use their limits up too.
class LoadedLabelSpace {
 public:
  using State = detail::LoadSpace::State;
  LoadedLabelSpace(const HandrailGraph& graph, const Pace& pace, Objective by, detail::LoadSpace& space,
                   const std::vector<model::ZoneId>& limited, std::size_t manner,
                   const std::optional<Departure>& departure)
      : graph_(graph), pace_(pace), by_(by), space_(space), limited_(limited), manner_(manner), departure_(departure) {}
  /// Requires: the loads can be carried in the manner there.
  State start(std::uint32_t node) { return space_.start(GripId(node), manner_, departure_).value(); }
  [[nodiscard]] std::uint32_t node(State state) const { return space_.grip(state).value; }
  std::optional<State> finish_leg(State state) { return space_.finish_leg(state); }
  std::optional<State> step(State state, const graph::Arc& arc, search::Cost& extra, std::span<std::int64_t> uses) {
    const auto step = space_.step(state, GripId(arc.head));
    if (!step.fits) return std::nullopt;
    if (step.entered.empty()) return step.to;
    extra = extra + detail::load_zone_cost(graph_, pace_, by_, arc.move, step.entered);
    for (std::size_t r = 0; r < limited_.size(); ++r)
      if (std::find(step.entered.begin(), step.entered.end(), limited_[r]) != step.entered.end() &&
          !is_in(graph_.zones(MoveId(arc.move)), limited_[r]))
        uses[r] += cost_of_seconds(compute_move_time(graph_.moves()[arc.move], pace_).sum_s());
    return step.to;
  }

 private:
  const HandrailGraph& graph_;
  const Pace& pace_;
  const Objective by_;
  detail::LoadSpace& space_;
  const std::vector<model::ZoneId>& limited_;
  const std::size_t manner_;  // the labels are too many to change hands besides
  const std::optional<Departure>& departure_;
};

/// The states of another space, where standing still at a stop uses up the limits of the zones that its grip lies in.
template <class Inner>
class StandingSpace {
 public:
  using State = typename Inner::State;
  /// `stands_s`: by stop. `limited`: zones whose limits are the first resources.
  StandingSpace(Inner& inner, const HandrailGraph& graph, const std::vector<model::ZoneId>& limited,
                const std::vector<double>& stands_s)
      : inner_(inner), graph_(graph), limited_(limited), stands_s_(stands_s) {}
  State start(std::uint32_t node) { return inner_.start(node); }
  [[nodiscard]] bool begin(std::uint32_t node, std::span<std::int64_t> uses) {
    stand(0, node, uses);
    return true;
  }
  [[nodiscard]] std::uint32_t node(State state) const { return inner_.node(state); }
  std::optional<State> finish_leg(State state, std::size_t layer, std::span<std::int64_t> uses) {
    const auto next = inner_.finish_leg(state);
    if (next) stand(layer + 1, inner_.node(state), uses);
    return next;
  }
  std::optional<State> step(State state, const graph::Arc& arc, search::Cost& extra, std::span<std::int64_t> uses) {
    return inner_.step(state, arc, extra, uses);
  }

 private:
  void stand(std::size_t stop, std::uint32_t node, std::span<std::int64_t> uses) const {
    for (std::size_t r = 0; r < limited_.size(); ++r)
      if (is_in(graph_.zones(GripId(node)), limited_[r])) uses[r] += cost_of_seconds(stands_s_[stop]);
  }
  Inner& inner_;
  const HandrailGraph& graph_;
  const std::vector<model::ZoneId>& limited_;
  const std::vector<double>& stands_s_;
};

/// The states of another space, at the cost of what they use of one resource alone.
template <class Inner>
class UseSpace {
 public:
  using State = typename Inner::State;
  UseSpace(Inner& inner, std::size_t resource, std::size_t resources)
      : inner_(inner), resource_(resource), uses_(resources) {}
  State start(std::uint32_t node) { return inner_.start(node); }
  [[nodiscard]] std::uint32_t node(State state) const { return inner_.node(state); }
  std::optional<State> finish_leg(State state) { return inner_.finish_leg(state); }
  std::optional<State> step(State state, const graph::Arc& arc, search::Cost& extra, std::span<std::int64_t>) {
    std::fill(uses_.begin(), uses_.end(), 0);
    search::Cost price;
    const auto next = inner_.step(state, arc, price, uses_);
    extra = search::Cost::of(uses_[resource_], 0);
    return next;
  }

 private:
  Inner& inner_;
  const std::size_t resource_;
  std::vector<std::int64_t> uses_;
};

/// The least that any path uses of a resource, by its moves and by what its states use besides (a load in a zone). Of a
/// search that is cut short, what it had found to be needed by then: never more than the least.
template <class Space>
std::int64_t find_least_use(Space& states, const HandrailGraph& graph, const CostTable& table,
                            const search::LimitedRequest& request, std::size_t resource,
                            const search::LimitedPath& failed) {
  constexpr std::size_t most_labels = 50'000;  // some seconds with a load in tow
  std::vector<search::Cost> costs(graph.moves().size(), search::Cost::blocked());
  for (std::size_t m = 0; m < costs.size(); ++m)
    if (!table.by_move[m].is_blocked()) costs[m] = search::Cost::of(request.resources[resource].by_move[m], 1);
  UseSpace<Space> uses(states, resource, request.resources.size());
  const auto least = search::find_limited_path_in(uses, graph.adjacency(), costs, {request.stops, {}, most_labels});
  if (least.way) return least.way->cost.primary();
  return least.is_cut_short ? std::max(failed.least[resource], least.least_cost.primary()) : failed.least[resource];
}

/// The best way that stays within every limit zone's seconds, and within the tether's length where there is a `rule`,
/// over all legs together; else the causes.
std::variant<std::vector<detail::LegWay>, NoRoute> find_within_limits(
    const HandrailGraph& graph, const Profile& profile, const Pace& pace, const CostTable& table,
    const std::vector<End>& ends, Objective by, detail::LoadSpace* space, std::size_t manner,
    const detail::TetherRule* rule, bool& is_certain) {
  search::LimitedRequest request;
  for (const End& end : ends) request.stops.push_back(usable(end.grips, table));
  const auto zones = limit_zones(graph, table, space != nullptr);
  std::vector<double> stands_s;  // by stop
  for (std::size_t stop = 0; stop < ends.size(); ++stop) {
    double& stand_s = stands_s.emplace_back(0);
    if (stop + 1 < ends.size()) stand_s += pace.start_s;
    if (stop > 0) stand_s += pace.stop_s;
    if (stop == 0 || stop + 1 == ends.size()) stand_s += pace.take_up_s;
    if (stop == 0 && rule) stand_s += rule->first_hook_s();
  }
  std::vector<double> standing_s;  // by zone: at the stops that have no grip outside of it
  for (const auto zone : zones) {
    double& standing = standing_s.emplace_back(0);
    for (std::size_t stop = 0; stop < ends.size(); ++stop) {
      const auto& seeds = request.stops[stop];
      if (std::all_of(seeds.begin(), seeds.end(),
                      [&](const search::Seed& s) { return is_in(graph.zones(GripId(s.node)), zone); }))
        standing += stands_s[stop];
    }
    search::Resource resource;
    resource.limit = static_cast<std::int64_t>(
        std::floor(graph.structure().zones[zone.index()].limit_s * search::cost_units_per_second));
    resource.by_move.assign(graph.moves().size(), 0);
    for (std::size_t m = 0; m < graph.moves().size(); ++m)
      if (is_in(graph.zones(MoveId(m)), zone))
        resource.by_move[m] = cost_of_seconds(compute_move_time(graph.moves()[m], pace).sum_s());
    request.resources.push_back(std::move(resource));
  }
  const auto search = [&](auto& moving) {
    StandingSpace states(moving, graph, zones, stands_s);
    if (!rule) return search::find_limited_path_in(states, graph.adjacency(), table.by_move, request);
    const auto tethered = detail::add_rehooks(graph, *rule, table, by);
    for (search::Resource& resource : request.resources) resource.by_move.resize(tethered.by_move.size(), 0);
    request.resources.push_back({std::vector<std::int64_t>(tethered.by_move.size(), 0), rule->limit()});
    detail::TetheredSpace states_with_tether(states, *rule, graph, zones);
    return search::find_limited_path_in(states_with_tether, tethered.adjacency, tethered.by_move, request);
  };
  std::vector<std::int64_t> least_uses;  // by zone, of a refusal
  const auto search_all = [&]() -> search::LimitedPath {
    const auto run = [&](auto& states) {
      search::LimitedPath found = search(states);
      if (!found.way)
        for (std::size_t r = 0; r < zones.size(); ++r)
          least_uses.push_back(find_least_use(states, graph, table, request, r, found));
      return found;
    };
    if (space) {
      LoadedLabelSpace loaded(graph, pace, by, *space, zones, manner, ends.front().departure);
      return run(loaded);
    }
    search::PlainSpace grips;
    return run(grips);
  };
  search::LimitedPath found;
  bool is_tightened = false;
  for (;;) {
    found = search_all();
    if (!found.way) break;
    // A load may also reach into a zone while its mover stands still, which no move uses up. What that takes is found
    // when the route is described; the next search has so much less to spend.
    auto legs = detail::split_legs(ends, *found.way, found.stop_at);
    if (rule) detail::take_out_rehooks(graph, *rule, legs);
    legs = detail::in_manner(std::move(legs), manner);
    if (!space) return legs;
    const Route told = detail::describe(graph, profile, space, legs, {}, rule);
    if (keeps_limits(graph, told)) return legs;
    for (const auto& contact : told.zones)
      for (std::size_t r = 0; r < zones.size(); ++r)
        if (const double over_s = contact.inside_s - graph.structure().zones[zones[r].index()].limit_s;
            contact.zone == zones[r] && over_s > 0)
          request.resources[r].limit -= std::max<std::int64_t>(1, cost_of_seconds(over_s));
    is_tightened = true;
  }
  is_certain = !found.is_cut_short && !is_tightened;
  struct Stay {
    model::ZoneId zone;
    double least_s, limit_s;
  };
  std::vector<Stay> stays;
  NoRoute refusal;
  for (std::size_t r = 0; r < zones.size(); ++r) {
    const double limit_s = graph.structure().zones[zones[r].index()].limit_s;
    const double least_s = static_cast<double>(least_uses[r]) / search::cost_units_per_second + standing_s[r];
    stays.push_back({zones[r], least_s, limit_s});
  }
  const double least_m = rule ? rule->least_length_m(table.by_move, request.stops) : 0;
  const bool is_too_short = rule && least_m > rule->tether().length_m;
  // Every zone that no way satisfies by itself; all of them when only together they leave none.
  const bool some_alone = std::any_of(stays.begin(), stays.end(), [](const Stay& s) { return s.least_s > s.limit_s; });
  for (const Stay& stay : stays) {
    if ((some_alone || is_too_short) && stay.least_s <= stay.limit_s) continue;
    if (rule && stay.least_s <= 0) continue;  // ways outside of it do not fail by it
    Cause cause;
    cause.kind = CauseKind::ZoneTime;
    cause.zones = {stay.zone};
    cause.value_s = stay.least_s, cause.limit_s = stay.limit_s;
    refusal.causes.push_back(std::move(cause));
  }
  if (is_too_short || (rule && !some_alone)) {
    Cause cause;
    cause.kind = CauseKind::Tether;
    cause.limit_m = rule->tether().length_m;
    cause.value_m = least_m;
    cause.opens_alone = true;
    refusal.causes.push_back(std::move(cause));
  }
  return refusal;
}

bool is_better(const Route& route, const Route& than, Objective by) {
  const auto rank = [&](const Route& r) {
    const double moves = static_cast<double>(r.moves);
    switch (by) {
      case Objective::Time:
        return std::array{r.time_s, moves, r.distance_m};
      case Objective::Distance:
        return std::array{r.distance_m, moves, r.time_s};
      case Objective::Moves:
        return std::array{moves, r.time_s, r.distance_m};
    }
    return std::array{0.0, 0.0, 0.0};
  };
  return rank(route) < rank(than);
}

}  // namespace

search::Landmarks build_landmarks(const HandrailGraph& graph, const Profile& profile, Objective objective) {
  return search::Landmarks(graph.adjacency(), compute_open_costs(graph, profile, objective));
}

namespace {

/// Least time of a path through a priced caution zone, whatever room loads need and however long a tether is.
double least_time_in_caution_s(const HandrailGraph& graph, const Pace& pace, std::span<const search::Cost> unpriced,
                               const std::vector<search::Seed>& from, const std::vector<search::Seed>& to) {
  search::ShortestTree out, back;
  tbb::parallel_invoke([&] { out.grow(graph.adjacency(), unpriced, from); },
                       [&] { back.grow(graph.adjacency(), unpriced, to); });
  search::Cost least = search::Cost::blocked();
  for (std::uint32_t m = 0; m < unpriced.size(); ++m) {
    if (unpriced[m].is_blocked()) continue;
    const auto labels = graph.zones(MoveId(m));
    const bool is_priced = std::any_of(labels.begin(), labels.end(), [&](const graph::ZoneLabel& label) {
      const auto& zone = graph.structure().zones[label.zone.index()];
      return zone.effect == model::ZoneEffect::Caution && zone.price_s_per_s > 0;
    });
    if (!is_priced) continue;
    const auto &a = graph.moves()[m].a.value, &b = graph.moves()[m].b.value;
    for (const auto& [near, far] : {std::pair(a, b), std::pair(b, a)})
      if (!out.cost(near).is_blocked() && !back.cost(far).is_blocked())
        least = std::min(least, out.cost(near) + unpriced[m] + back.cost(far));
  }
  if (least.is_blocked()) return std::numeric_limits<double>::infinity();
  return static_cast<double>(least.primary()) / search::cost_units_per_second + pace.start_s + pace.stop_s +
         2 * pace.take_up_s;
}

/// Says whether the price of caution zones decided: the quicker route where there is one, and whether there may be.
void settle_price(const HandrailGraph& graph, const Profile& profile, const RouteRequest& request,
                  const CostTable& table, const detail::Stops& stops, const std::vector<End>& ends,
                  detail::LoadSpace* space, Answer& answer) {
  const Route& best = *answer.route();
  const Pace pace = pace_of(profile);
  const auto unpriced = compute_unpriced_costs(graph, table, pace, Objective::Time);
  // Costs are whole units, rounded up by move: what differs by less is the same time.
  const double noise_s = 2 * static_cast<double>(best.moves + 1) / search::cost_units_per_second;
  const auto load_zones = load_zones_that_hold(graph);
  const bool has_load_prices = space && std::any_of(load_zones.begin(), load_zones.end(), [&](model::ZoneId id) {
                                 const auto& zone = graph.structure().zones[id.index()];
                                 return zone.effect == model::ZoneEffect::Caution && zone.price_s_per_s > 0;
                               });
  if (stops.size() == 2 && !has_load_prices &&
      least_time_in_caution_s(graph, pace, unpriced, stops[0], stops[1]) > best.time_s - noise_s) {
    answer.is_priced = false;
    return;
  }
  // Without landmarks: they were built on costs with prices, which may lie above these.
  const auto ways = detail::find_plain_ways(graph, unpriced, stops, ends, nullptr);
  if (!ways || request.tether || (space && detail::walk(*space, *ways))) return;  // not known: it may have
  const Route route = detail::describe(graph, profile, space, *ways, detail::waypoint_options(profile, request));
  if (route.time_s > best.time_s - noise_s) {
    answer.is_priced = false;
    return;
  }
  if (!keeps_limits(graph, route)) return;
  Quicker quicker{route.time_s, route.distance_m, route.caution_s, route.moves, {}};
  for (const auto& contact : route.zones) {
    if (contact.effect != model::ZoneEffect::Caution) continue;
    const auto same = std::find_if(best.zones.begin(), best.zones.end(),
                                   [&](const ZoneContact& other) { return other.zone == contact.zone; });
    if (contact.inside_s > (same == best.zones.end() ? 0 : same->inside_s)) quicker.zones.push_back(contact.zone);
  }
  answer.quicker = std::move(quicker);
}

Answer find_between(const HandrailGraph& graph, const Profile& profile, const RouteRequest& request,
                    const std::vector<End>& ends, const CostTable& table, const detail::FindPlain& find_plain) {
  Answer answer{begin_answer(graph, profile, request)};
  detail::Stops stops;
  for (const End& end : ends) stops.push_back(usable(end.grips, table));

  std::optional<detail::TetherRule> rule;
  if (request.tether) {
    std::vector<GripId> starts;
    for (const search::Seed& seed : stops.front()) starts.emplace_back(seed.node);
    rule.emplace(graph, profile, *request.tether, starts);
    answer.request.tether = request.tether->tether->id, answer.request.anchor = request.tether->anchor;
    answer.used.push_back({"length of tether " + request.tether->tether->id, "m", request.tether->tether->length_m});
    answer.used.push_back({"one hook operation", "s", profile.suit.tether_hook_s});
  }
  if (auto plain = find_plain ? find_plain(stops)
                              : detail::find_plain_ways(graph, table.by_move, stops, ends, request.landmarks)) {
    std::vector<detail::LegWay> ways = std::move(*plain);
    std::optional<LoadCache> own_cache;
    detail::LoadSpace* space = nullptr;
    if (!profile.loads.empty()) {
      if (!request.load_cache) own_cache.emplace(graph, profile.loads);
      space = &(request.load_cache ? *request.load_cache : *own_cache).space();
      auto loaded = detail::find_loaded_route(graph, profile, request.by, table, stops, ends, ways, *space,
                                              request.explains_loads);
      answer.may_save = loaded.may_save;
      answer.is_certain = loaded.is_certain;
      if (auto* causes = std::get_if<std::vector<Cause>>(&loaded.outcome)) {
        answer.outcome = NoRoute{std::move(*causes)};
        return answer;
      }
      ways = std::move(std::get<std::vector<detail::LegWay>>(loaded.outcome));
    }
    const auto options = detail::waypoint_options(profile, request);
    const detail::TetherRule* const tether = rule ? &*rule : nullptr;
    if (tether && space && !detail::is_within_reach(*tether, ways)) {
      // With loads the states are too many for labels besides: one keeps to the best way with the loads, where that can
      // be done, and a way that needs fewer hooks may be better by what they take.
      auto hooked = ways;
      if (detail::place_rehooks(*tether, table.grip_blocks, hooked)) {
        Route with_hooks = detail::describe(graph, profile, space, hooked, options, tether);
        if (keeps_limits(graph, with_hooks)) {
          if (request.by == Objective::Time)
            answer.may_save =
                answer.may_save.value_or(0) + static_cast<double>(with_hooks.tether->swaps.size()) * tether->rehook_s();
          answer.outcome = std::move(with_hooks);
          return answer;
        }
      }
    }
    std::optional<double> unlimited_s;  // of the best way when nothing limits it
    if (!tether || detail::is_within_reach(*tether, ways)) {
      Route best = detail::describe(graph, profile, space, ways, options, tether);
      if (keeps_limits(graph, best)) {
        answer.outcome = std::move(best);
        if (answer.is_priced) settle_price(graph, profile, request, table, stops, ends, space, answer);
        return answer;
      }
    } else {
      unlimited_s = detail::describe(graph, profile, space, ways, options).time_s;
    }
    // In each manner of carrying by itself; the best of the routes, or the refusal that is nearest to none.
    const auto costs = detail::compute_manner_costs(graph, profile, request.by, table);
    std::optional<Route> best;
    std::optional<NoRoute> refused;
    bool is_refusal_certain = true, is_best_certain = true;
    CostTable in_manner = table;
    const auto& in_hand = ends.front().departure;
    for (std::size_t manner = 0; manner < costs.paces.size(); ++manner) {
      if (in_hand && in_hand->manner && manner != *in_hand->manner) continue;
      in_manner.by_move = costs.by_move[manner];
      bool is_certain = true;
      auto within = find_within_limits(graph, profile, costs.paces[manner], in_manner, ends, request.by, space, manner,
                                       tether, is_certain);
      if (auto* refusal = std::get_if<NoRoute>(&within)) {
        is_refusal_certain = is_refusal_certain && is_certain;
        if (!refused || refusal->causes.front().value_s < refused->causes.front().value_s)
          refused = std::move(*refusal);
        continue;
      }
      Route found =
          detail::describe(graph, profile, space, std::get<std::vector<detail::LegWay>>(within), options, tether);
      is_best_certain = is_best_certain && is_certain;
      if (!best || is_better(found, *best, request.by)) best = std::move(found);
    }
    // A route that changes hands on the way was not looked for here.
    bool may_change = false;
    for (std::size_t from = 0; space && from < space->manner_count(); ++from)
      for (std::size_t to = 0; to < space->manner_count(); ++to)
        may_change = may_change || space->changed_load(from, to);
    answer.is_certain = (best ? is_best_certain : is_refusal_certain) && !may_change;
    if (best) {
      answer.outcome = std::move(*best);
    } else {
      for (Cause& cause : refused->causes)
        if (cause.kind == CauseKind::Tether)
          cause.opens_alone = refused->causes.size() == 1 && unlimited_s, cause.then_time_s = unlimited_s.value_or(0);
      answer.outcome = std::move(*refused);
    }
    return answer;
  }

  answer.outcome = NoRoute{detail::explain(graph, profile, request.by, ends)};
  return answer;
}

}  // namespace

Answer detail::route_between(const HandrailGraph& graph, const Profile& profile, const RouteRequest& request,
                             const std::vector<End>& ends, const CostTable& table, const FindPlain& find_plain) {
  Answer answer = find_between(graph, profile, request, ends, table, find_plain);
  if (!answer.route()) answer.is_priced = false;
  return answer;
}

Answer find_route(const HandrailGraph& graph, const Profile& profile, const RouteRequest& request) {
  return detail::route_between(graph, profile, request, detail::resolve_ends(graph, request),
                               compute_costs(graph, profile, request.by));
}

}  // namespace holdfast::route
