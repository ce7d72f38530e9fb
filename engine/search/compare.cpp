#include <fmt/format.h>
#include <tbb/parallel_for.h>

#include <algorithm>

#include "choices_impl.h"
#include "closed_impl.h"

namespace holdfast::search {

using detail::LegWay;
using detail::LoadSpace;
using graph::GripId;
using graph::HandrailGraph;

namespace {

/// Where loads stop on a way, and how much of their size would pass there.
Cause why_not_along(const HandrailGraph& graph, LoadSpace& space, const std::vector<LegWay>& legs,
                    const detail::WalkStop& stop) {
  Cause cause;
  cause.kind = CauseKind::LoadTooTight;
  cause.leg = stop.leg;
  detail::place_failure(graph, space, stop.from, detail::next_grip(legs, stop), cause);
  if (!cause.zones.empty())
    cause.kind = CauseKind::Zones;
  else
    detail::measure_fraction(
        graph, space.loads(), 7, [&](LoadSpace& smaller) { return !detail::walk(smaller, legs); }, cause);
  return cause;
}

using Caches = std::vector<std::optional<LoadCache>>;  // by row; nothing without loads

Caches caches_for(const HandrailGraph& graph, const std::vector<Loads>& loads_of_row) {
  Caches caches(loads_of_row.size());
  for (std::size_t r = 0; r < caches.size(); ++r)
    if (!loads_of_row[r].empty()) caches[r].emplace(graph, loads_of_row[r]);
  return caches;
}

/// What tells the rows from the first.
void set_differences(const HandrailGraph& graph, Caches& caches, std::vector<CompareRow>& rows) {
  if (rows.empty()) return;
  const Route* first = rows.front().answer.route();
  if (!first) return;
  const auto first_rails = detail::rails_of(*first);
  const auto first_legs = detail::legs_of(graph, *first);
  tbb::parallel_for(std::size_t{1}, rows.size(), [&](std::size_t r) {
    CompareRow& row = rows[r];
    const Route* route = row.answer.route();
    row.goes_as_first = route && detail::rails_of(*route) == first_rails;
    if (route && !row.goes_as_first) {
      row.mark = detail::find_mark(*route, {&first, 1});
      row.first_mark = detail::find_mark(*first, {&route, 1});
    }
    if (!caches[r]) return;
    LoadSpace& space = caches[r]->space();
    if (const auto stop = detail::walk(space, first_legs))
      row.not_as_first = why_not_along(graph, space, first_legs, *stop);
  });
}

}  // namespace

Comparison compare_loads(const HandrailGraph& graph, const Profile& profile, const RouteRequest& request,
                         const std::vector<Loads>& loads) {
  Caches caches = caches_for(graph, loads);
  Comparison comparison;
  comparison.head = begin_answer(graph, profile, request);
  comparison.rows.resize(loads.size());
  tbb::parallel_for(std::size_t{0}, loads.size(), [&](std::size_t r) {
    Profile carrying = profile;
    carrying.loads = loads[r];
    RouteRequest asked = request;
    asked.load_cache = caches[r] ? &*caches[r] : nullptr;
    asked.explains_loads = false;
    comparison.rows[r].answer = route(graph, carrying, asked);
    comparison.rows[r].loads = comparison.rows[r].answer.loads;
  });
  set_differences(graph, caches, comparison.rows);
  return comparison;
}

namespace {

std::vector<LegWay> find_given(const HandrailGraph& graph, const GivenWay& given) {
  const auto refuse = [&](std::string problem) {
    throw model::InputError({{{},
                              "",
                              "wrong-result",
                              fmt::format("{}: {}", given.name, problem),
                              given.name,
                              "compute the route again with this model, suit and configuration"}});
  };
  // Results are rounded to a micrometre.
  constexpr double same_m = 1e-5;
  std::vector<LegWay> legs;
  for (const auto& leg : given.legs) {
    LegWay way{leg.from, leg.to, {}, {}};
    for (const auto& grip : leg.grips) {
      const auto rail = graph.structure().find_rail(grip.rail);
      if (!rail) refuse(fmt::format("rail \"{}\" is not in this model", grip.rail));
      const auto [begin, end] = graph.grips_of(*rail);
      std::optional<GripId> found;
      for (std::uint32_t g = begin; g < end && !found; ++g) {
        const auto& known = graph.grip(GripId(g));
        if ((known.hand - grip.hand).norm() < same_m && (known.outward - grip.outward).norm() < same_m)
          found = GripId(g);
      }
      if (!found)
        refuse(fmt::format("no grip on rail {} at ({:.3f}, {:.3f}, {:.3f})", grip.rail, grip.hand.x(), grip.hand.y(),
                           grip.hand.z()));
      if (!way.grips.empty()) {
        const auto move = graph.find_move(way.grips.back(), *found);
        if (!move) refuse(fmt::format("no move leads to rail {} there", grip.rail));
        way.moves.push_back(*move);
      }
      way.grips.push_back(*found);
    }
    if (way.grips.empty()) refuse("a leg has no grips");
    if (!legs.empty() && legs.back().grips.back() != way.grips.front())
      refuse("a leg does not begin where the one before ends");
    legs.push_back(std::move(way));
  }
  if (legs.empty()) refuse("it has no legs");
  return legs;
}

/// From, vias and to as the legs have them.
void ask_along(const std::vector<LegWay>& legs, RouteRequest& request) {
  request.from = legs.front().from, request.to = legs.back().to;
  request.via.clear();
  for (std::size_t leg = 1; leg < legs.size(); ++leg) request.via.push_back(legs[leg].from);
}

}  // namespace

GivenWay given_way(const model::Structure& structure, const Route& route, std::string name) {
  GivenWay way;
  way.name = std::move(name);
  for (const auto& leg : route.legs) {
    GivenWay::Leg given{leg.from, leg.to, {}};
    for (const auto& pose : leg.poses)
      given.grips.push_back({structure.rails[pose.rail.index()].id, pose.hand, pose.outward, pose.at_s});
    way.legs.push_back(std::move(given));
  }
  if (route.tether)
    for (const auto& swap : route.tether->swaps) way.swaps.push_back({swap.leg, swap.pose, swap.hook});
  return way;
}

Comparison compare_ways(const HandrailGraph& graph, const Profile& profile, const RouteRequest& request,
                        const std::vector<GivenWay>& ways, const std::vector<Loads>& loads) {
  Comparison comparison;
  std::vector<Loads> loads_of_row;
  std::vector<std::vector<LegWay>> legs_of_row;
  for (const auto& given : ways) {
    const auto legs = find_given(graph, given);
    for (const auto& set : loads) {
      CompareRow row;
      row.way = given.name;
      comparison.rows.push_back(std::move(row));
      loads_of_row.push_back(set);
      legs_of_row.push_back(legs);
    }
  }
  Caches caches = caches_for(graph, loads_of_row);
  RouteRequest shown = request;
  if (!legs_of_row.empty()) ask_along(legs_of_row.front(), shown);
  comparison.head = begin_answer(graph, profile, shown);
  tbb::parallel_for(std::size_t{0}, comparison.rows.size(), [&](std::size_t r) {
    CompareRow& row = comparison.rows[r];
    Profile carrying = profile;
    carrying.loads = loads_of_row[r];
    RouteRequest asked = shown;
    ask_along(legs_of_row[r], asked);
    row.answer = begin_answer(graph, carrying, asked);
    row.loads = row.answer.loads;
    const CostTable table = compute_costs(graph, carrying, Objective::Time);
    NoRoute refusal{detail::causes_along(graph, carrying, table, legs_of_row[r])};
    LoadSpace* const space = caches[r] ? &caches[r]->space() : nullptr;
    if (refusal.causes.empty() && space)
      if (const auto stop = detail::walk(*space, legs_of_row[r]))
        refusal.causes.push_back(why_not_along(graph, *space, legs_of_row[r], *stop));
    if (!refusal.causes.empty())
      row.answer.outcome = std::move(refusal);
    else
      row.answer.outcome =
          detail::describe(graph, carrying, space, legs_of_row[r], detail::waypoint_options(carrying, asked));
  });
  set_differences(graph, caches, comparison.rows);
  return comparison;
}

}  // namespace holdfast::search
