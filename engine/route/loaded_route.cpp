// SPDX-License-Identifier: GPL-3.0-or-later
#include "loaded_route_impl.h"

#include <algorithm>
#include <cmath>
#include <limits>
#include <map>
#include <memory>

#include "closed_impl.h"
#include "holdfast/route/loads.h"
#include "holdfast/route/some_path.h"
#include "load_reach_impl.h"
#include "loaded_impl.h"

namespace holdfast::route {

LoadCache::LoadCache(const graph::HandrailGraph& graph, std::vector<const model::Load*> loads) {
  check_loads(loads);
  space_ = std::make_unique<detail::LoadSpace>(graph, std::move(loads));
}
LoadCache::~LoadCache() = default;
LoadCache::LoadCache(LoadCache&&) noexcept = default;
LoadCache& LoadCache::operator=(LoadCache&&) noexcept = default;
std::size_t LoadCache::sweep_count() const { return space_->sweep_count(); }

namespace detail {

using graph::HandrailGraph;
using graph::MoveId;
using model::RailId;
using model::ZoneEffect;
using model::ZoneId;

namespace {

LegWay named_leg(const std::vector<End>& ends, std::size_t leg) {
  LegWay named{ends[leg].text, ends[leg + 1].text, {}, {}};
  named.departure = ends[leg].departure;
  return named;
}

/// `aim(targets)`, then `cost(node)`: what the cheapest path to them costs from there. `find(from, to)`: the cheapest
/// path of one leg.
template <class Aim, class CostFrom, class Find>
std::optional<std::vector<LegWay>> connect(const Stops& stops, const std::vector<End>& ends, Aim&& aim, CostFrom&& cost,
                                           Find&& find) {
  const std::size_t legs = stops.size() - 1;
  // A leg starts at the grip where the one before ended: nobody gets from one grip of a place to another for nothing.
  // So the cost of what follows counts at each grip of a via place, found from the last leg backward.
  Stops arrivals(stops.size());
  arrivals[legs] = stops[legs];
  for (std::size_t leg = legs - 1; leg > 0; --leg) {
    aim(arrivals[leg + 1]);
    for (const search::Seed& seed : stops[leg])
      if (const search::Cost onward = cost(seed.node); !onward.is_blocked())
        arrivals[leg].push_back({seed.node, onward});
  }
  std::vector<LegWay> ways;
  std::vector<search::Seed> start = stops[0];
  for (std::size_t leg = 0; leg < legs; ++leg) {
    const std::optional<search::Path> way = find(start, arrivals[leg + 1]);
    if (!way) return std::nullopt;
    LegWay found = named_leg(ends, leg);
    for (const auto node : way->nodes) found.grips.emplace_back(node);
    for (const auto move : way->moves) found.moves.emplace_back(move);
    ways.push_back(std::move(found));
    start = {{way->nodes.back(), {}}};
  }
  return ways;
}

}  // namespace

std::optional<std::vector<LegWay>> find_plain_ways(const HandrailGraph& graph, std::span<const search::Cost> by_move,
                                                   const Stops& stops, const std::vector<End>& ends,
                                                   const search::Landmarks* landmarks, search::RouteQuery* scratch) {
  search::ShortestTree tree;
  search::RouteQuery own;
  search::RouteQuery& query = scratch ? *scratch : own;
  return connect(
      stops, ends, [&](const std::vector<search::Seed>& targets) { tree.grow(graph.adjacency(), by_move, targets); },
      [&](std::uint32_t node) { return tree.cost(node); },
      [&](const std::vector<search::Seed>& from, const std::vector<search::Seed>& to) {
        return query.find(graph.adjacency(), by_move, from, to, landmarks);
      });
}

std::optional<std::vector<LegWay>> find_plain_ways(const HandrailGraph& graph, std::span<const search::Cost> by_move,
                                                   const Stops& stops, const std::vector<End>& ends,
                                                   const search::HierarchyMetric& metric,
                                                   search::HierarchyQuery& query) {
  return connect(
      stops, ends, [&](const std::vector<search::Seed>& targets) { query.aim(metric, targets); },
      [&](std::uint32_t node) { return query.cost(node); },
      [&](const std::vector<search::Seed>& from, const std::vector<search::Seed>& to) {
        query.aim(metric, to);
        return query.find(graph.adjacency(), by_move, from);
      });
}

MannerCosts compute_manner_costs(const HandrailGraph& graph, const Profile& profile, Objective by,
                                 const CostTable& table, Blocks lifted) {
  MannerCosts costs;
  costs.paces = paces_of(profile);
  for (const Pace& pace : costs.paces) {
    costs.by_move.push_back(compute_open_costs(graph, pace, by));
    for (std::size_t m = 0; m < table.blocks.size(); ++m)
      if ((table.blocks[m] & static_cast<Blocks>(~lifted)) != 0) costs.by_move.back()[m] = search::Cost::blocked();
  }
  return costs;
}

std::vector<LegWay> in_manner(std::vector<LegWay> legs, std::size_t manner) {
  for (LegWay& leg : legs) leg.manner = manner, leg.changes.clear();
  return legs;
}

double moving_time_s(const HandrailGraph& graph, const LoadSpace& space, const std::vector<Pace>& paces,
                     std::span<const LegWay> legs) {
  double time_s = 0;
  for (const LegWay& leg : legs) {
    std::size_t manner = leg.manner;
    auto change = leg.changes.begin();
    for (std::size_t i = 0; i <= leg.moves.size(); ++i) {
      for (; change != leg.changes.end() && change->at == i; ++change) {
        if (const model::Load* load = space.changed_load(manner, change->manner)) time_s += load->change_s;
        manner = change->manner;
      }
      if (i < leg.moves.size()) time_s += compute_move_time(graph.move(leg.moves[i]), paces[manner]).sum_s();
    }
  }
  return time_s;
}

std::optional<WalkStop> walk_in_best_manner(const HandrailGraph& graph, LoadSpace& space,
                                            const std::vector<Pace>& paces, std::vector<LegWay>& legs) {
  std::optional<WalkStop> farthest;
  std::size_t best = 0;
  double best_s = std::numeric_limits<double>::infinity();
  for (std::size_t manner = 0; manner < space.manner_count(); ++manner) {
    legs = in_manner(std::move(legs), manner);
    const auto stop = walk(space, legs);
    if (stop) {
      if (best_s == std::numeric_limits<double>::infinity() &&
          (!farthest || std::pair(stop->leg, stop->move) > std::pair(farthest->leg, farthest->move)))
        farthest = stop, best = manner;
    } else if (const double time_s = moving_time_s(graph, space, paces, legs); time_s < best_s) {
      best_s = time_s, best = manner;
    }
  }
  legs = in_manner(std::move(legs), best);
  return best_s < std::numeric_limits<double>::infinity() ? std::nullopt : farthest;
}

std::optional<WalkStop> walk(LoadSpace& space, std::span<const LegWay> legs,
                             const std::function<bool(MoveId, std::span<const ZoneId>)>& accept) {
  const auto begun = space.start(legs.front().grips.front(), legs.front().manner, legs.front().departure);
  if (!begun) return WalkStop{0, 0, *space.start(legs.front().grips.front(), legs.front().manner, std::nullopt)};
  LoadSpace::State state = *begun;
  for (std::size_t leg = 0; leg < legs.size(); ++leg) {
    const auto& grips = legs[leg].grips;
    auto change = legs[leg].changes.begin();
    for (std::size_t i = 1; i <= grips.size(); ++i) {
      for (; change != legs[leg].changes.end() && change->at == i - 1; ++change) {
        const auto changed = space.change(state, change->manner);
        if (!changed.fits) return WalkStop{leg, i - 1, state};
        state = changed.to;
      }
      if (i == grips.size()) break;
      const auto step = space.step(state, grips[i]);
      if (!step.fits || (accept && !accept(legs[leg].moves[i - 1], step.entered))) return WalkStop{leg, i - 1, state};
      state = step.to;
    }
    const auto next = space.finish_leg(state);
    if (!next) return WalkStop{leg, grips.size() - 1, state};
    state = *next;
  }
  return std::nullopt;
}

std::optional<graph::GripId> next_grip(std::span<const LegWay> legs, const WalkStop& stop) {
  const auto& grips = legs[stop.leg].grips;
  return stop.move + 1 < grips.size() ? std::optional(grips[stop.move + 1]) : std::nullopt;
}

void place_failure(const HandrailGraph& graph, const LoadSpace& space, LoadSpace::State from,
                   std::optional<graph::GripId> to, Cause& cause) {
  const auto& grip = graph.grip(space.grip(from));
  cause.rail = grip.rail;
  cause.rail_other = to ? graph.grip(*to).rail : grip.rail;
  cause.hand_from = grip.hand;
  if (to) cause.hand_to = graph.grip(*to).hand;
  cause.at = grip.hand;
  const auto failure = to ? space.failure(from, *to) : space.finish_failure(from);
  if (!failure) return;
  cause.load = failure->load->id;
  cause.limit_m = failure->load->size_m.maxCoeff();
  const auto corners = graph::corners_of(failure->sweep.pose, failure->size_m);
  if (failure->sweep.forbidden_by) {
    cause.zones = {*failure->sweep.forbidden_by};
    cause.at = failure->sweep.pose.middle;
  } else if (space.boxes() && space.boxes()->hull_distance(corners, 1.0) < graph.scene().hull_distance(corners, 1.0)) {
    cause.at = space.boxes()->find_nearest_to_hull(corners, 1.0)->point;  // a box: of no part
  } else if (const auto nearest = graph.scene().find_nearest_to_hull(corners, 1.0)) {
    cause.part = nearest->part;
    cause.at = nearest->point;
  }
}

void measure_fraction(const HandrailGraph& graph, const std::vector<const model::Load*>& loads,
                      const geometry::Scene* boxes, int halvings, const std::function<bool(LoadSpace&)>& may_pass,
                      const std::function<bool(LoadSpace&)>& passes, Cause& cause) {
  const int whole = 1 << halvings;
  std::map<int, std::unique_ptr<LoadSpace>> spaces;  // what was asked of a size is kept for the next question about it
  const auto space_of = [&](int size) -> LoadSpace& {
    auto& space = spaces[size];
    if (!space)
      space = std::make_unique<LoadSpace>(
          graph, loads, LoadSpace::Options{.scale = static_cast<double>(size) / whole, .boxes = boxes});
    return *space;
  };
  const auto largest = [](int fits, int fails, auto&& holds) {
    while (fails - fits > 1) {
      const int middle = (fits + fails) / 2;
      (holds(middle) ? fits : fails) = middle;
    }
    return fits;
  };
  // Nothing larger than `most` passes. Mostly that size does.
  const int most = largest(0, whole, [&](int size) { return may_pass(space_of(size)); });
  int fits = most;
  if (most > 0 && !passes(space_of(most))) fits = largest(0, most, [&](int size) { return passes(space_of(size)); });
  cause.fraction = static_cast<double>(fits) / whole;
  cause.is_fraction_proven = fits == most;
  cause.value_m = *cause.fraction * cause.limit_m;
}

search::Cost load_zone_cost(const HandrailGraph& graph, const Pace& pace, Objective by, std::uint32_t move,
                            std::span<const ZoneId> entered) {
  double price = 0;
  for (const ZoneId zone : entered) {
    const auto& z = graph.structure().zones[zone.index()];
    const auto labels = graph.zones(MoveId(move));
    const bool is_counted =
        std::any_of(labels.begin(), labels.end(), [&](const auto& label) { return label.zone == zone; });
    if (z.effect == ZoneEffect::Caution && !is_counted) price += z.price_s_per_s;
  }
  if (price == 0 || !pace.prices_caution) return {};
  return cost_of_pause(by, cost_of_seconds(price * compute_move_time(graph.moves()[move], pace).sum_s()));
}

namespace {

class LoadedRoute {
 public:
  // Measured on the demo yard: some 0.05 ms a step in tow, sweeps included.
  static constexpr std::size_t most_exact_steps = 10'000, most_rough_steps = 60'000, most_glance_steps = 8'000;
  static constexpr std::size_t most_stop_steps = 1'500, most_question_steps = 8'000;

  LoadedRoute(const HandrailGraph& graph, const Profile& profile, Objective by, const CostTable& table,
              const Stops& stops, const std::vector<End>& ends, LoadSpace& space, bool explains_loads,
              std::size_t most_steps = most_exact_steps)
      : graph_(graph),
        profile_(profile),
        by_(by),
        table_(table),
        stops_(stops),
        ends_(ends),
        space_(space),
        costs_(compute_manner_costs(graph, profile, by, table)),
        explains_loads_(explains_loads),
        most_steps_(most_steps) {}

  LoadedAnswer find(const std::vector<LegWay>& plain) {
    // The cheapest way of all, where the loads pass on it and cost nothing more.
    for (std::size_t manner = 0; manner < space_.manner_count(); ++manner)
      if (auto carried = in_manner(plain, manner); is_free_of_charge(carried)) return {std::move(carried)};
    if (!reach().may_connect(space_))
      return {explain(search(space_, costs_, table_.by_move, stops_, Depth::Stop), plain)};
    // Beside: grips and headings are few. In tow the last moves matter, and their combinations can be too many.
    if (!space_.has_tow()) {
      const auto found = search(space_, costs_, table_.by_move, stops_, Depth::Full);
      return found.way ? LoadedAnswer{legs_of(*found.way)} : LoadedAnswer{explain(found, plain)};
    }
    const Eased eased = ease(plain);
    if (eased.is_closed) return {explain(search(space_, costs_, table_.by_move, stops_, Depth::Glance), plain)};
    const auto found = search(space_, eased.costs, eased.least, stops_, Depth::Bounded);
    if (found.way) return {legs_of(*found.way)};
    if (!found.is_cut_short) return {explain(found, plain)};
    auto rough = search(space_, eased.costs, eased.least, stops_, Depth::Rough);
    if (auto beside = search_without_tow(); beside.way && (!rough.way || beside.way->cost < rough.way->cost))
      rough = std::move(beside);
    if (!rough.way) return {explain(rough, plain), std::nullopt, false};
    LoadedAnswer answer{legs_of(*rough.way)};
    if (rough.way->cost > found.least_possible)
      answer.may_save = static_cast<double>(rough.way->cost.primary() - found.least_possible.primary()) /
                        (by_ == Objective::Time       ? search::cost_units_per_second
                         : by_ == Objective::Distance ? search::cost_units_per_metre
                                                      : 1);
    return answer;
  }

 private:
  enum class Depth {
    Full,      ///< exact, whatever it takes
    Bounded,   ///< exact, or given up
    Rough,     ///< some way, most likely, where there is one
    Glance,    ///< the same in less time: explanations ask many questions
    Question,  ///< with nothing in tow: whether there is a path, or given up
    Stop       ///< how far one gets, where it is known that there is no path
  };
  // Measured there: cells of 0.25 m and more miss paths with a crew member in tow that cells of 0.12 m find, and half
  // of that finds no more for twice the steps.
  static constexpr double rough_cell_m = 0.12, glance_cell_m = 0.5;
  // A search of some milliseconds each.
  static constexpr std::size_t most_ease_rounds = 500;

  /// Costs without the moves over which the loads cannot be brought whatever is gone before and after.
  struct Eased {
    std::vector<search::Cost> least;
    MannerCosts costs;
    bool is_closed = false;  ///< no path is left: that the loads leave none is proven
  };
  /// Only moves on cheapest paths are asked about, until such a path has none that is blocked.
  Eased ease(const std::vector<LegWay>& plain) {
    Eased eased{table_.by_move, costs_};
    std::optional<std::vector<LegWay>> legs = plain;
    for (std::size_t round = 0; round < most_ease_rounds; ++round) {
      bool is_any = false;
      for (const LegWay& leg : *legs)
        for (const MoveId move : leg.moves) {
          if (space_.may_pass(move)) continue;
          is_any = true;
          eased.least[move.index()] = search::Cost::blocked();
          for (auto& by_move : eased.costs.by_move) by_move[move.index()] = search::Cost::blocked();
        }
      if (!is_any) break;
      legs = find_plain_ways(graph_, eased.least, stops_, ends_, nullptr);
      if (!legs) {
        eased.is_closed = true;
        break;
      }
    }
    return eased;
  }

  LoadedResult search(LoadSpace& space, const MannerCosts& costs, std::span<const search::Cost> least,
                      const Stops& stops, Depth depth) const {
    LoadedRequest request;
    if (depth == Depth::Bounded) request.most_steps = most_steps_;
    if (depth == Depth::Rough) request.most_steps = most_rough_steps;
    if (depth == Depth::Glance) request.most_steps = most_glance_steps;
    if (depth == Depth::Question) request.most_steps = most_question_steps;
    if (depth == Depth::Stop) request.most_steps = most_stop_steps;
    request.cell_m = depth == Depth::Rough ? rough_cell_m : glance_cell_m;
    request.is_rough = depth != Depth::Full && depth != Depth::Bounded;  // with nothing in tow each state is a cell
    request.stops = stops;
    request.departure = ends_.front().departure;
    request.by_move = least;
    request.by_move_of_manner.assign(costs.by_move.begin(), costs.by_move.end());
    request.zone_cost = [&](std::uint32_t move, std::span<const ZoneId> entered, std::size_t manner) {
      return load_zone_cost(graph_, costs.paces[manner], by_, move, entered);
    };
    request.change_cost = [&](const model::Load& load) {
      return cost_of_pause(by_, std::max<std::int64_t>(1, cost_of_seconds(load.change_s)));
    };
    return find_loaded_way(graph_, space, request);
  }

  /// Exact, with nothing in tow; no way where something always is.
  LoadedResult search_without_tow() const {
    MannerCosts costs = costs_;
    bool is_any = false;
    for (std::size_t manner = 0; manner < space_.manner_count(); ++manner) {
      const auto& loads = space_.carried(manner);
      const bool is_towing = std::any_of(loads.begin(), loads.end(),
                                         [](const model::Load& load) { return load.how == model::CarriedHow::InTow; });
      if (is_towing) costs.by_move[manner].assign(costs.by_move[manner].size(), search::Cost::blocked());
      is_any = is_any || !is_towing;
    }
    return is_any ? search(space_, costs, table_.by_move, stops_, Depth::Full) : LoadedResult{};
  }

  std::vector<LegWay> legs_of(const LoadedWay& way) const {
    std::vector<LegWay> legs;
    for (std::size_t leg = 0; leg < way.legs.size(); ++leg) {
      legs.push_back(named_leg(ends_, leg));
      for (const auto grip : way.legs[leg].grips) legs.back().grips.emplace_back(grip);
      for (const auto move : way.legs[leg].moves) legs.back().moves.emplace_back(move);
      legs.back().manner = way.legs[leg].manner;
      legs.back().changes = way.legs[leg].changes;
    }
    return legs;
  }

  /// The loads pass in the legs' manner, and nothing costs more than the least in any.
  bool is_free_of_charge(const std::vector<LegWay>& legs) {
    const std::size_t manner = legs.front().manner;
    return !walk(space_, legs, [&](MoveId move, std::span<const ZoneId> entered) {
      return costs_.by_move[manner][move.index()] == table_.by_move[move.index()] &&
             load_zone_cost(graph_, costs_.paces[manner], by_, move.value, entered) == search::Cost{};
    });
  }

  const LoadReach& reach() const {
    if (!reach_) reach_.emplace(graph_, table_.by_move, stops_);
    return *reach_;
  }

  /// For explanations: some path where there is one, most likely.
  LoadedResult look(LoadSpace& space, const MannerCosts& costs, std::span<const search::Cost> least,
                    const Stops& stops) const {
    const bool is_own = least.data() == table_.by_move.data();
    if (!(is_own ? reach().may_connect(space) : LoadReach(graph_, least, stops).may_connect(space))) return {};
    return search(space, costs, least, stops, space.has_tow() ? Depth::Glance : Depth::Question);
  }

  // ---- why not -----------------------------------------------------------------------------------------------------

  std::vector<Cause> explain(const LoadedResult& failed, const std::vector<LegWay>& plain) {
    std::vector<Cause> causes;
    if (auto zones = load_zones()) {
      causes.push_back(std::move(*zones));
    } else {
      Cause cause = too_tight(failed.stop);
      if (explains_loads_) measure_largest(cause);
      note_opening(cause, plain);
      causes.push_back(std::move(cause));
    }
    if (!explains_loads_) return causes;
    if (auto cause = lift(block_zone)) causes.push_back(std::move(*cause));
    if (auto cause = lift(block_closure)) causes.push_back(std::move(*cause));
    std::stable_sort(causes.begin(), causes.end(), [](const Cause& x, const Cause& y) { return x.kind < y.kind; });
    return causes;
  }

  void measure_largest(Cause& cause) const {
    bool is_exact = true;  // in tow a smaller load that is not found to pass may pass all the same
    int vain = 0;          // searches given up: each takes as long as all others together
    constexpr int most_vain = 3;
    measure_fraction(
        graph_, profile_.loads, space_.boxes(), 6, [&](LoadSpace& smaller) { return reach().may_connect(smaller); },
        [&](LoadSpace& smaller) {
          if (vain == most_vain) return is_exact = false;
          const Depth depth = smaller.has_tow() ? Depth::Glance : Depth::Question;
          const auto found = search(smaller, costs_, table_.by_move, stops_, depth);
          is_exact = is_exact && (found.way || (!found.is_cut_short && depth == Depth::Question));
          vain += found.is_cut_short ? 1 : 0;
          return found.way.has_value();
        },
        cause);
    cause.is_fraction_proven = cause.is_fraction_proven || is_exact;
  }

  void note_opening(Cause& cause, const std::vector<LegWay>& legs) const {
    cause.opens_alone = true;
    const Pace& pace = costs_.paces[legs.front().manner];
    cause.then_time_s = 2 * pace.take_up_s + static_cast<double>(legs.size()) * (pace.start_s + pace.stop_s) +
                        moving_time_s(graph_, space_, costs_.paces, legs);
  }

  Cause too_tight(const std::optional<LoadedResult::Stop>& stop) const {
    Cause cause;
    cause.kind = CauseKind::LoadTooTight;
    cause.load = profile_.loads.front()->id;
    cause.limit_m = profile_.loads.front()->size_m.maxCoeff();
    if (!stop) return cause;
    cause.leg = stop->leg;
    place_failure(graph_, space_, stop->from, stop->to, cause);
    // Where the loads changed hands on the path to there is not kept: the slowest manner bounds the time from above.
    for (const Pace& pace : costs_.paces) {
      // Taken up at the start, and a start for each leg begun.
      double time_s = pace.take_up_s + static_cast<double>(stop->leg + 1) * pace.start_s +
                      static_cast<double>(stop->leg) * pace.stop_s;
      for (const auto id : stop->moves) time_s += compute_move_time(graph_.move(MoveId(id)), pace).sum_s();
      cause.up_to_s = std::max(cause.up_to_s, time_s);
    }
    for (const auto id : stop->moves) cause.up_to_m += graph_.move(MoveId(id)).way_m;
    cause.up_to_moves = stop->moves.size();
    return cause;
  }

  /// The zones for loads that a way enters, if lifting them opens one.
  std::optional<Cause> load_zones() const {
    if (!space_.has_met_zones()) return std::nullopt;
    LoadSpace free(graph_, profile_.loads, {.ignore_zones = true, .boxes = space_.boxes()});
    const auto found = look(free, costs_, table_.by_move, stops_);
    if (!found.way) return std::nullopt;
    const auto legs = legs_of(*found.way);
    Cause cause;
    cause.kind = CauseKind::Zones;
    for (;;) {  // one more zone is lifted each time round
      LoadSpace lifted(graph_, profile_.loads, {.lifted_zones = cause.zones, .boxes = space_.boxes()});
      const auto stopped = walk(lifted, legs);
      if (!stopped) break;
      Cause here;
      place_failure(graph_, lifted, stopped->from, next_grip(legs, *stopped), here);
      if (here.zones.empty()) return std::nullopt;
      if (cause.zones.empty())
        cause.at = here.at, cause.rail = here.rail, cause.rail_other = here.rail_other, cause.load = here.load,
        cause.leg = stopped->leg;
      cause.zones.push_back(here.zones.front());
    }
    if (cause.zones.empty()) return std::nullopt;
    note_opening(cause, legs);
    return cause;
  }

  /// Body zones or closures that shut out a way on which the loads fit.
  std::optional<Cause> lift(Blocks rule) {
    std::vector<search::Cost> by_move = table_.by_move;
    const auto open = compute_open_costs(graph_, profile_, by_);
    const MannerCosts costs = compute_manner_costs(graph_, profile_, by_, table_, rule);
    bool is_any = false;
    for (std::size_t m = 0; m < by_move.size(); ++m)
      if (table_.blocks[m] == rule) by_move[m] = open[m], is_any = true;
    if (!is_any) return std::nullopt;
    Stops stops(ends_.size());
    for (std::size_t end = 0; end < ends_.size(); ++end)
      for (const auto grip : ends_[end].grips)
        if ((table_.grip_blocks[grip.index()] & static_cast<Blocks>(~rule)) == 0)
          stops[end].push_back({grip.value, {}});
    const auto found = look(space_, costs, by_move, stops);
    if (!found.way) return std::nullopt;
    const auto legs = legs_of(*found.way);
    auto causes = causes_along(graph_, profile_, table_, legs, rule);
    if (causes.empty()) return std::nullopt;
    Cause cause = std::move(causes.front());
    note_opening(cause, legs);
    return cause;
  }

  const HandrailGraph& graph_;
  const Profile& profile_;
  const Objective by_;
  const CostTable& table_;
  const Stops& stops_;
  const std::vector<End>& ends_;
  LoadSpace& space_;
  const MannerCosts costs_;
  const bool explains_loads_;
  const std::size_t most_steps_;            ///< of the exact search in tow
  mutable std::optional<LoadReach> reach_;  ///< of the question as it stands
};

}  // namespace

LoadedAnswer find_loaded_route(const HandrailGraph& graph, const Profile& profile, Objective by, const CostTable& table,
                               const Stops& stops, const std::vector<End>& ends, const std::vector<LegWay>& plain,
                               LoadSpace& space, bool explains_loads) {
  return LoadedRoute(graph, profile, by, table, stops, ends, space, explains_loads).find(plain);
}

}  // namespace detail

SomePath find_some_path(const graph::HandrailGraph& graph, const Profile& profile, LoadCache& cache, graph::GripId from,
                        std::span<const graph::GripId> to) {
  constexpr std::size_t most_steps = detail::LoadedRoute::most_exact_steps / 5;
  const CostTable table = compute_costs(graph, profile, Objective::Time);
  std::vector<detail::End> ends(2);
  ends.front().grips = {from};
  ends.front().departure = Departure{from.index()};
  ends.back().grips.assign(to.begin(), to.end());
  detail::Stops stops(2);
  stops.front().push_back({from.value, {}});
  for (const auto grip : to)
    if (table.grip_blocks[grip.index()] == 0) stops.back().push_back({grip.value, {}});
  const auto plain = detail::find_plain_ways(graph, table.by_move, stops, ends, nullptr);
  if (!plain) return {{}, 0, false, {}};
  auto answer =
      detail::LoadedRoute(graph, profile, Objective::Time, table, stops, ends, cache.space(), false, most_steps)
          .find(*plain);
  if (auto* causes = std::get_if<std::vector<Cause>>(&answer.outcome))
    return {{}, 0, answer.is_certain, std::move(*causes)};
  const auto& legs = std::get<std::vector<detail::LegWay>>(answer.outcome);
  const auto paces = paces_of(profile);
  const Pace& pace = paces[legs.front().manner];
  const double time_s = pace.start_s + pace.stop_s + detail::moving_time_s(graph, cache.space(), paces, legs);
  return {legs.front().grips, time_s, true, {}};
}

}  // namespace holdfast::route
