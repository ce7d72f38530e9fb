#include "loaded_route_impl.h"

#include <algorithm>
#include <cmath>

#include "closed_impl.h"
#include "holdfast/search/loads.h"
#include "loaded_impl.h"

namespace holdfast::search {

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

LegWay named_leg(const std::vector<End>& ends, std::size_t leg) { return {ends[leg].text, ends[leg + 1].text, {}, {}}; }

}  // namespace

std::optional<std::vector<LegWay>> find_plain_ways(const HandrailGraph& graph, std::span<const Cost> by_move,
                                                   const Stops& stops, const std::vector<End>& ends,
                                                   const Landmarks* landmarks) {
  const std::size_t legs = stops.size() - 1;
  // A leg starts at the grip where the one before ended: nobody gets from one grip of a place to another for nothing.
  // So the cost of what follows counts at each grip of a via place, found from the last leg backward.
  Stops arrivals(stops.size());
  arrivals[legs] = stops[legs];
  ShortestTree tree;
  for (std::size_t leg = legs - 1; leg > 0; --leg) {
    tree.grow(graph.adjacency(), by_move, arrivals[leg + 1]);
    for (const Seed& seed : stops[leg])
      if (const Cost onward = tree.cost(seed.node); !onward.is_blocked()) arrivals[leg].push_back({seed.node, onward});
  }
  std::vector<LegWay> ways;
  RouteQuery query;
  std::vector<Seed> start = stops[0];
  for (std::size_t leg = 0; leg < legs; ++leg) {
    const auto way = query.find(graph.adjacency(), by_move, start, arrivals[leg + 1], landmarks);
    if (!way) return std::nullopt;
    LegWay found = named_leg(ends, leg);
    for (const auto node : way->nodes) found.grips.emplace_back(node);
    for (const auto move : way->moves) found.moves.emplace_back(move);
    ways.push_back(std::move(found));
    start = {{way->nodes.back(), {}}};
  }
  return ways;
}

std::optional<WalkStop> walk(LoadSpace& space, std::span<const LegWay> legs,
                             const std::function<bool(MoveId, std::span<const ZoneId>)>& accept) {
  LoadSpace::State state = space.start(legs.front().grips.front());
  for (std::size_t leg = 0; leg < legs.size(); ++leg) {
    const auto& grips = legs[leg].grips;
    for (std::size_t i = 1; i < grips.size(); ++i) {
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
  cause.at = grip.hand;
  const auto failure = to ? space.failure(from, *to) : space.finish_failure(from);
  if (!failure) return;
  cause.load = failure->load->id;
  cause.limit_m = failure->load->size_m.maxCoeff();
  const auto corners = graph::corners_of(failure->sweep.pose, failure->size_m);
  if (failure->sweep.forbidden_by) {
    cause.zones = {*failure->sweep.forbidden_by};
    cause.at = failure->sweep.pose.middle;
  } else if (const auto nearest = graph.scene().find_nearest_to_hull(corners, 1.0)) {
    cause.part = nearest->part;
    cause.at = nearest->point;
  }
}

void measure_fraction(const HandrailGraph& graph, const std::vector<const model::Load*>& loads, int halvings,
                      const std::function<bool(LoadSpace&)>& passes, Cause& cause) {
  double fits = 0, fails = 1;
  for (int halving = 0; halving < halvings; ++halving) {
    const double middle = (fits + fails) / 2;
    LoadSpace smaller(graph, loads, {.scale = middle});
    (passes(smaller) ? fits : fails) = middle;
  }
  cause.fraction = fits;
  cause.value_m = fits * cause.limit_m;
}

Cost load_zone_cost(const HandrailGraph& graph, const Pace& pace, Objective by, std::uint32_t move,
                    std::span<const ZoneId> entered) {
  double price = 0;
  for (const ZoneId zone : entered) {
    const auto& z = graph.structure().zones[zone.index()];
    const auto labels = graph.zones(MoveId(move));
    const bool is_counted =
        std::any_of(labels.begin(), labels.end(), [&](const auto& label) { return label.zone == zone; });
    if (z.effect == ZoneEffect::Caution && !is_counted) price += z.price_s_per_s;
  }
  if (price == 0) return {};
  return cost_of_pause(by, cost_of_seconds(price * compute_move_time(graph.moves()[move], pace).sum_s()));
}

namespace {

class LoadedRoute {
 public:
  LoadedRoute(const HandrailGraph& graph, const Profile& profile, Objective by, const CostTable& table,
              const Stops& stops, const std::vector<End>& ends, LoadSpace& space, bool explains_loads)
      : graph_(graph),
        profile_(profile),
        by_(by),
        table_(table),
        stops_(stops),
        ends_(ends),
        space_(space),
        pace_(pace_of(profile)),
        explains_loads_(explains_loads) {}

  LoadedAnswer find(const std::vector<LegWay>& plain) {
    // The cheapest way of all, where the loads pass on it and cost nothing more.
    if (is_free_of_charge(plain)) return {plain};
    // Beside: grips and headings are few. In tow the last moves matter, and their combinations can be too many.
    auto found = search(space_, table_.by_move, stops_, space_.has_tow() ? Depth::Bounded : Depth::Full);
    if (found.way) return {legs_of(*found.way)};
    if (!found.is_cut_short) return {explain(found, plain)};
    auto rough = search(space_, table_.by_move, stops_, Depth::Rough);
    if (!rough.way) return {explain(rough, plain), std::nullopt, false};
    LoadedAnswer answer{legs_of(*rough.way)};
    if (rough.way->cost > found.least_possible)
      answer.may_save = static_cast<double>(rough.way->cost.primary() - found.least_possible.primary()) /
                        (by_ == Objective::Time       ? cost_units_per_second
                         : by_ == Objective::Distance ? cost_units_per_metre
                                                      : 1);
    return answer;
  }

 private:
  enum class Depth {
    Full,     ///< exact, whatever it takes
    Bounded,  ///< exact, or given up
    Rough,    ///< some way, most likely, where there is one
    Glance    ///< the same in less time: explanations ask many questions
  };
  // Measured on the demo yard: some 0.05 ms a step in tow, sweeps included.
  static constexpr std::size_t most_exact_steps = 10'000, most_rough_steps = 20'000, most_glance_steps = 8'000;

  LoadedResult search(LoadSpace& space, std::span<const Cost> by_move, const Stops& stops, Depth depth) const {
    LoadedRequest request;
    if (depth == Depth::Bounded) request.most_steps = most_exact_steps;
    if (depth == Depth::Rough) request.most_steps = most_rough_steps;
    if (depth == Depth::Glance) request.most_steps = most_glance_steps;
    request.is_rough = depth == Depth::Rough || depth == Depth::Glance;
    request.stops = stops;
    request.by_move = by_move;
    request.zone_cost = [&](std::uint32_t move, std::span<const ZoneId> entered) {
      return load_zone_cost(graph_, pace_, by_, move, entered);
    };
    return find_loaded_way(graph_, space, request);
  }

  std::vector<LegWay> legs_of(const LoadedWay& way) const {
    std::vector<LegWay> legs;
    for (std::size_t leg = 0; leg < way.legs.size(); ++leg) {
      legs.push_back(named_leg(ends_, leg));
      for (const auto grip : way.legs[leg].grips) legs.back().grips.emplace_back(grip);
      for (const auto move : way.legs[leg].moves) legs.back().moves.emplace_back(move);
    }
    return legs;
  }

  bool is_free_of_charge(const std::vector<LegWay>& legs) {
    return !walk(space_, legs, [&](MoveId move, std::span<const ZoneId> entered) {
      return load_zone_cost(graph_, pace_, by_, move.value, entered) == Cost{};
    });
  }

  [[nodiscard]] Depth explaining() const { return space_.has_tow() ? Depth::Glance : Depth::Full; }

  // ---- why not -----------------------------------------------------------------------------------------------------

  std::vector<Cause> explain(const LoadedResult& failed, const std::vector<LegWay>& plain) {
    std::vector<Cause> causes;
    if (auto zones = load_zones()) {
      causes.push_back(std::move(*zones));
    } else {
      Cause cause = too_tight(failed.stop);
      if (explains_loads_)
        measure_fraction(
            graph_, profile_.loads, 6,
            [&](LoadSpace& smaller) { return search(smaller, table_.by_move, stops_, explaining()).way.has_value(); },
            cause);
      note_opening(cause, plain);
      causes.push_back(std::move(cause));
    }
    if (!explains_loads_) return causes;
    if (auto cause = lift(block_zone)) causes.push_back(std::move(*cause));
    if (auto cause = lift(block_closure)) causes.push_back(std::move(*cause));
    std::stable_sort(causes.begin(), causes.end(), [](const Cause& x, const Cause& y) { return x.kind < y.kind; });
    return causes;
  }

  void note_opening(Cause& cause, const std::vector<LegWay>& legs) const {
    cause.opens_alone = true;
    cause.then_time_s = 2 * pace_.take_up_s;
    for (const auto& leg : legs) {
      cause.then_time_s += pace_.start_s + pace_.stop_s;
      for (const auto move : leg.moves) cause.then_time_s += compute_move_time(graph_.move(move), pace_).sum_s();
    }
  }

  Cause too_tight(const std::optional<LoadedResult::Stop>& stop) const {
    Cause cause;
    cause.kind = CauseKind::LoadTooTight;
    cause.load = profile_.loads.front()->id;
    cause.limit_m = profile_.loads.front()->size_m.maxCoeff();
    if (!stop) return cause;
    cause.leg = stop->leg;
    place_failure(graph_, space_, stop->from, stop->to, cause);
    return cause;
  }

  /// The zones for loads that a way enters, if lifting them opens one.
  std::optional<Cause> load_zones() const {
    if (!space_.has_met_zones()) return std::nullopt;
    LoadSpace free(graph_, profile_.loads, {.ignore_zones = true});
    const auto found = search(free, table_.by_move, stops_, explaining());
    if (!found.way) return std::nullopt;
    const auto legs = legs_of(*found.way);
    Cause cause;
    cause.kind = CauseKind::Zones;
    for (;;) {  // one more zone is lifted each time round
      LoadSpace lifted(graph_, profile_.loads, {.lifted_zones = cause.zones});
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
    std::vector<Cost> by_move = table_.by_move;
    const auto open = compute_open_costs(graph_, profile_, by_);
    bool is_any = false;
    for (std::size_t m = 0; m < by_move.size(); ++m)
      if (table_.blocks[m] == rule) by_move[m] = open[m], is_any = true;
    if (!is_any) return std::nullopt;
    Stops stops(ends_.size());
    for (std::size_t end = 0; end < ends_.size(); ++end)
      for (const auto grip : ends_[end].grips)
        if ((table_.grip_blocks[grip.index()] & static_cast<Blocks>(~rule)) == 0)
          stops[end].push_back({grip.value, {}});
    const auto found = search(space_, by_move, stops, explaining());
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
  const Pace pace_;
  const bool explains_loads_;
};

}  // namespace

LoadedAnswer find_loaded_route(const HandrailGraph& graph, const Profile& profile, Objective by, const CostTable& table,
                               const Stops& stops, const std::vector<End>& ends, const std::vector<LegWay>& plain,
                               LoadSpace& space, bool explains_loads) {
  return LoadedRoute(graph, profile, by, table, stops, ends, space, explains_loads).find(plain);
}

}  // namespace detail
}  // namespace holdfast::search
