// SPDX-License-Identifier: GPL-3.0-or-later
#include <fmt/format.h>
#include <tbb/parallel_for.h>

#include <algorithm>

#include "choices_impl.h"
#include "closed_impl.h"

namespace holdfast::route {

using detail::LegWay;
using detail::LoadSpace;
using graph::GripId;
using graph::HandrailGraph;

namespace {

/// Where loads stop on a way, and how much of their size would pass there.
Cause why_not_along(const HandrailGraph& graph, LoadSpace& space, const std::vector<Pace>& paces,
                    const std::vector<LegWay>& legs, const detail::WalkStop& stop) {
  Cause cause;
  cause.kind = CauseKind::LoadTooTight;
  cause.leg = stop.leg;
  detail::place_failure(graph, space, stop.from, detail::next_grip(legs, stop), cause);
  if (!cause.zones.empty())
    cause.kind = CauseKind::Zones;
  else {
    const auto passes = [&](LoadSpace& smaller) {
      auto tried = legs;
      return !detail::walk_in_best_manner(graph, smaller, paces, tried);
    };
    detail::measure_fraction(graph, space.loads(), space.boxes(), 7, passes, passes, cause);
  }
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
void set_differences(const HandrailGraph& graph, const Profile& profile, const std::vector<Loads>& loads_of_row,
                     Caches& caches, std::vector<CompareRow>& rows) {
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
    Profile carrying = profile;
    carrying.loads = loads_of_row[r];
    const auto paces = paces_of(carrying);
    auto legs = first_legs;
    if (const auto stop = detail::walk_in_best_manner(graph, space, paces, legs))
      row.not_as_first = why_not_along(graph, space, paces, legs, *stop);
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
    comparison.rows[r].answer = find_route(graph, carrying, asked);
    comparison.rows[r].loads = comparison.rows[r].answer.loads;
  });
  comparison.head.is_priced = std::any_of(comparison.rows.begin(), comparison.rows.end(),
                                          [](const CompareRow& row) { return row.answer.is_priced; });
  set_differences(graph, profile, loads, caches, comparison.rows);
  return comparison;
}

namespace {

constexpr double same_m = 1e-5;  // results are rounded to a micrometre

/// The grip of the rail at the same hand position, with the same outward direction.
std::optional<GripId> find_same_grip(const HandrailGraph& graph, model::RailId rail, const GivenWay::Leg::Grip& given) {
  const auto [begin, end] = graph.grips_of(rail);
  for (std::uint32_t g = begin; g < end; ++g) {
    const auto& known = graph.grip(GripId(g));
    if ((known.hand - given.hand).norm() < same_m && (known.outward - given.outward).norm() < same_m) return GripId(g);
  }
  return std::nullopt;
}

/// The legs, or what is not so in this graph.
std::variant<std::vector<LegWay>, std::string> locate_given(const HandrailGraph& graph, const GivenWay& given) {
  std::vector<LegWay> legs;
  for (const auto& leg : given.legs) {
    LegWay way{leg.from, leg.to, {}, {}};
    for (const auto& grip : leg.grips) {
      const auto rail = graph.structure().find_rail(grip.rail);
      if (!rail) return fmt::format("rail \"{}\" is not in this model", grip.rail);
      const auto found = find_same_grip(graph, *rail, grip);
      if (!found)
        return fmt::format("no grip on rail {} at ({:.3f}, {:.3f}, {:.3f})", grip.rail, grip.hand.x(), grip.hand.y(),
                           grip.hand.z());
      if (!way.grips.empty()) {
        const auto move = graph.find_move(way.grips.back(), *found);
        if (!move) return fmt::format("no move leads to rail {} there", grip.rail);
        way.moves.push_back(*move);
      }
      way.grips.push_back(*found);
    }
    if (way.grips.empty()) return std::string("a leg has no grips");
    if (!legs.empty() && legs.back().grips.back() != way.grips.front())
      return std::string("a leg does not begin where the one before ends");
    legs.push_back(std::move(way));
  }
  if (legs.empty()) return std::string("it has no legs");
  return legs;
}

}  // namespace

std::vector<LegWay> detail::find_given(const HandrailGraph& graph, const GivenWay& given) {
  auto located = locate_given(graph, given);
  if (auto* legs = std::get_if<std::vector<LegWay>>(&located)) return std::move(*legs);
  throw model::InputError({{{},
                            "",
                            "wrong-result",
                            fmt::format("{}: {}", given.name, std::get<std::string>(located)),
                            given.name,
                            "compute the route again with this model, suit and configuration"}});
}

namespace {

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
    const auto legs = detail::find_given(graph, given);
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
  comparison.head.is_priced = false;  // nothing is searched
  tbb::parallel_for(std::size_t{0}, comparison.rows.size(), [&](std::size_t r) {
    CompareRow& row = comparison.rows[r];
    Profile carrying = profile;
    carrying.loads = loads_of_row[r];
    RouteRequest asked = shown;
    ask_along(legs_of_row[r], asked);
    row.answer = {begin_answer(graph, carrying, asked)};
    row.answer.is_priced = false;
    row.loads = row.answer.loads;
    const CostTable table = compute_costs(graph, carrying, Objective::Time);
    NoRoute refusal{detail::causes_along(graph, carrying, table, legs_of_row[r])};
    LoadSpace* const space = caches[r] ? &caches[r]->space() : nullptr;
    const auto paces = paces_of(carrying);
    if (refusal.causes.empty() && space)
      if (const auto stop = detail::walk_in_best_manner(graph, *space, paces, legs_of_row[r]))
        refusal.causes.push_back(why_not_along(graph, *space, paces, legs_of_row[r], *stop));
    if (!refusal.causes.empty())
      row.answer.outcome = std::move(refusal);
    else
      row.answer.outcome =
          detail::describe(graph, carrying, space, legs_of_row[r], detail::waypoint_options(carrying, asked));
  });
  set_differences(graph, profile, loads_of_row, caches, comparison.rows);
  return comparison;
}

namespace {

/// A rail of the route that the other graph does not have there.
std::optional<model::RailId> find_gone_rail(const HandrailGraph& graph, const GivenWay& given) {
  for (const auto& leg : given.legs)
    for (const auto& grip : leg.grips) {
      const auto rail = graph.structure().find_rail(grip.rail);
      if (!rail) continue;
      if (!find_same_grip(graph, *rail, grip)) return rail;
    }
  return std::nullopt;
}

std::vector<const Row*> rows_of(const Route& route) {
  std::vector<const Row*> rows;
  for (const auto& leg : route.legs)
    for (const auto& row : leg.rows) rows.push_back(&row);
  return rows;
}

void add_side(std::vector<std::pair<model::PartId, Face>>& sides, const Row& row) {
  if (sides.empty() || sides.back() != std::pair(row.part, row.face)) sides.emplace_back(row.part, row.face);
}

/// Longest common subsequence of the rails held: what lies between its members is a detour.
void set_detours(const Route& first, const Route& route, CompareRow& row) {
  const auto before = rows_of(first), now = rows_of(route);
  const std::size_t n = before.size(), m = now.size();
  std::vector<std::vector<std::uint32_t>> common(n + 1, std::vector<std::uint32_t>(m + 1, 0));
  for (std::size_t i = n; i-- > 0;)
    for (std::size_t j = m; j-- > 0;)
      common[i][j] =
          before[i]->rail == now[j]->rail ? common[i + 1][j + 1] + 1 : std::max(common[i + 1][j], common[i][j + 1]);
  std::optional<model::RailId> last;
  Detour detour;
  const auto close = [&](std::optional<model::RailId> next) {
    if (!detour.first_rails.empty() || !detour.rails.empty()) {
      detour.after = last, detour.before = next;
      row.detours.push_back(std::move(detour));
    }
    detour = {}, last = next;
  };
  for (std::size_t i = 0, j = 0; i < n || j < m;) {
    if (i < n && j < m && before[i]->rail == now[j]->rail) {
      row.same_rails_s += now[j]->time_s - before[i]->time_s;
      close(now[j]->rail);
      ++i, ++j;
    } else if (j == m || (i < n && common[i + 1][j] >= common[i][j + 1])) {
      detour.first_rails.push_back(before[i]->rail), detour.first_time_s += before[i]->time_s;
      add_side(detour.first_sides, *before[i]);
      ++i;
    } else {
      detour.rails.push_back(now[j]->rail), detour.time_s += now[j]->time_s;
      add_side(detour.sides, *now[j]);
      ++j;
    }
  }
  close(std::nullopt);
}

}  // namespace

Comparison compare_cases(const std::vector<CompareCase>& cases, const RouteRequest& request) {
  Comparison comparison;
  for (const auto& one : cases) {
    Comparison row = one.given ? compare_ways(*one.graph, one.profile, request, {*one.given}, {one.profile.loads})
                               : compare_loads(*one.graph, one.profile, request, {one.profile.loads});
    if (comparison.rows.empty()) comparison.head = std::move(row.head);
    row.rows.front().settings = one.graph->structure().settings;
    comparison.rows.push_back(std::move(row.rows.front()));
  }
  const Route* first = comparison.rows.front().answer.route();
  if (!first) return comparison;
  const auto first_rails = detail::rails_of(*first);
  const GivenWay first_way = given_way(cases.front().graph->structure(), *first, "the first route");
  for (std::size_t r = 1; r < cases.size(); ++r) {
    CompareRow& row = comparison.rows[r];
    const Route* route = row.answer.route();
    row.goes_as_first = route && detail::rails_of(*route) == first_rails;
    if (route) {
      row.mark = detail::find_mark(*route, {&first, 1});
      row.first_mark = detail::find_mark(*first, {&route, 1});
      set_detours(*first, *route, row);
    }
    row.first_rail_gone = find_gone_rail(*cases[r].graph, first_way);
    if (row.first_rail_gone || std::holds_alternative<std::string>(locate_given(*cases[r].graph, first_way))) continue;
    const auto again = compare_ways(*cases[r].graph, cases[r].profile, request, {first_way}, {cases[r].profile.loads});
    if (const NoRoute* refusal = again.rows.front().answer.no_route()) row.not_as_first = refusal->causes.front();
  }
  return comparison;
}

}  // namespace holdfast::route
