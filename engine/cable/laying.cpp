// SPDX-License-Identifier: GPL-3.0-or-later
#include <fmt/format.h>

#include <algorithm>
#include <queue>

#include "query_impl.h"

namespace holdfast::cable::detail {

using search::Cost;

Walks::Walks(const Query& query)
    : query_(query),
      radius_m_(2 * query.profile.suit.reach_m + query.space.rules.span_m + 0.01),
      trees_(query.space.graph->grips().size()),
      is_grown_(trees_.size(), false),
      cost_(trees_.size(), -1) {}

const std::vector<std::pair<std::uint32_t, std::int64_t>>& Walks::tree(std::uint32_t from) {
  auto& tree = trees_[from];
  if (is_grown_[from]) return tree;
  is_grown_[from] = true;
  const auto& graph = *query_.space.graph;
  // Grips of ties that a span joins to one within reach of `from`.
  auto wanted = graph.find_grips_within(graph.grips()[from].hand, radius_m_);
  std::erase_if(wanted, [&](graph::GripId g) { return query_.island[g.index()] != query_.island[from]; });
  std::size_t left = wanted.size();
  using Entry = std::pair<Cost, std::uint32_t>;
  const auto later = [](const Entry& x, const Entry& y) { return x > y; };
  std::priority_queue<Entry, std::vector<Entry>, decltype(later)> open(later);
  std::vector<std::uint32_t> touched;
  open.emplace(Cost{}, from);
  while (!open.empty() && left > 0) {
    const auto [cost, grip] = open.top();
    open.pop();
    if (cost_[grip] >= 0) continue;
    cost_[grip] = cost.primary();
    touched.push_back(grip);
    if (std::binary_search(wanted.begin(), wanted.end(), graph::GripId(grip))) --left;
    for (const auto& arc : graph.adjacency().out(grip))
      if (cost_[arc.head] < 0 && !query_.moves.by_move[arc.move].is_blocked())
        open.emplace(cost + query_.moves.by_move[arc.move], arc.head);
  }
  for (const auto grip : wanted)
    if (cost_[grip.index()] >= 0) tree.emplace_back(grip.value, cost_[grip.index()]);
  for (const auto grip : touched) cost_[grip] = -1;
  return tree;
}

std::optional<std::int64_t> Walks::cost(std::uint32_t from, std::uint32_t to) {
  const auto& found = tree(std::min(from, to));  // the same in both directions
  const auto at = std::lower_bound(found.begin(), found.end(), std::pair(std::max(from, to), std::int64_t{-1}));
  return at != found.end() && at->first == std::max(from, to) ? std::optional(at->second) : std::nullopt;
}

std::vector<const model::Load*> spool_of(const CableSpace& space) {
  if (space.cable->spool.empty()) return {};
  return {space.kit->find_load(space.cable->spool)};
}

Laying lay(const Query& query, const CableRun& run) {
  const auto point = [](const Vec3& p) { return fmt::format("{:.17g},{:.17g},{:.17g}", p.x(), p.y(), p.z()); };
  // Where it is gone on from: the coil's tie, or the first connector.
  const std::size_t first = run.laid_ties == 0 ? 0 : run.laid_ties - 1;
  route::RouteRequest request;
  request.from = point(run.ties[first].tie.at);
  request.to = point(run.ties.back().tie.at);
  for (std::size_t i = first + 1; i + 1 < run.ties.size(); ++i) request.via.push_back(point(run.ties[i].tie.at));
  request.point_radius_m = query.profile.suit.reach_m + graph::length_tolerance_m;
  request.explains_loads = false;
  Laying laying;
  laying.way = route::find_route(*query.space.graph, query.profile, request);
  // Named as a person would: the ties by their numbers.
  const auto name = [&](std::size_t i) {
    return run.ties[i].tie.kind == TieKind::Connector ? run.ties[i].tie.id : fmt::format("tie {}", i);
  };
  auto& echo = laying.way.request;
  echo.from = name(first), echo.to = name(run.ties.size() - 1);
  for (std::size_t i = 0; i < echo.via.size(); ++i) echo.via[i] = name(first + i + 1);
  const auto& cable = *query.space.cable;
  const bool is_coiled = run.ties.back().tie.kind != TieKind::Connector;
  const std::size_t ties = run.ties.size() - first - (is_coiled ? 1 : 2);
  laying.ties_s = static_cast<double>(ties) * cable.tie_s;
  laying.begin_s = first > 0 ? coil_s(cable) : cable.connector_s.value;
  laying.end_s = is_coiled ? coil_s(cable) : cable.connector_s.value;
  (first > 0 ? laying.coils_s : laying.connectors_s) += laying.begin_s;
  (is_coiled ? laying.coils_s : laying.connectors_s) += laying.end_s;
  if (auto* way = std::get_if<route::Route>(&laying.way.outcome)) {
    for (std::size_t leg = 0; leg < way->legs.size(); ++leg)
      way->legs[leg].from = name(first + leg), way->legs[leg].to = name(first + leg + 1);
    laying.time_s = way->time_s + laying.ties_s + laying.begin_s + laying.end_s;
  } else {
    for (auto& cause : std::get<route::NoRoute>(laying.way.outcome).causes)
      if (!cause.place.empty())
        for (std::size_t i = 0; i < run.ties.size(); ++i)
          if (cause.place == point(run.ties[i].tie.at)) cause.place = name(i);
  }
  return laying;
}

}  // namespace holdfast::cable::detail
