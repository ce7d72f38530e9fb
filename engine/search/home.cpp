#include "holdfast/search/home.h"

#include <tbb/enumerable_thread_specific.h>
#include <tbb/parallel_for.h>

#include <algorithm>
#include <limits>
#include <map>

#include "question_impl.h"

namespace holdfast::search {

using graph::GripId;
using graph::HandrailGraph;
using model::PlaceId;

namespace {

Matrix::Cell cell_of(Cost cost, Objective by) {
  const auto seconds = [](std::int64_t units) { return static_cast<double>(units) / cost_units_per_second; };
  const auto metres = [](std::int64_t units) { return static_cast<double>(units) / cost_units_per_metre; };
  switch (by) {
    case Objective::Time:
      return {seconds(cost.primary()), metres(cost.third()), static_cast<std::size_t>(cost.second())};
    case Objective::Distance:
      return {seconds(cost.third()), metres(cost.primary()), static_cast<std::size_t>(cost.second())};
    case Objective::Moves:
      return {seconds(cost.second()), metres(cost.third()), static_cast<std::size_t>(cost.primary())};
  }
  return {};
}

HomeVerdict verdict_of(double time_s, const HomeRequest& request) {
  // Limits include equality; a time that is whole in the units of costs must not be pushed over by noise.
  constexpr double noise_s = 1e-6;
  if (time_s > request.limit_s + noise_s) return HomeVerdict::Over;
  return time_s > request.warn_s + noise_s ? HomeVerdict::Near : HomeVerdict::Within;
}

}  // namespace

Home compute_home(const HandrailGraph& graph, const Profile& profile, const HomeRequest& request) {
  Home home;
  home.request = request;
  const auto hatch = detail::resolve_end(graph, request.hatch, request.point_radius_m);
  home.head = begin_answer(graph, profile, {.from = "", .to = request.hatch});
  const CostTable table = compute_costs(graph, profile, Objective::Time);
  const Pace pace = pace_of(profile);
  const auto costs = compute_unpriced_costs(graph, table, pace, Objective::Time);
  const double ends_s = pace.start_s + pace.stop_s + 2 * pace.take_up_s;
  ShortestTree tree;
  tree.grow(graph.adjacency(), costs, detail::usable(hatch.grips, table));

  constexpr double infinity = std::numeric_limits<double>::infinity();
  home.time_by_grip_s.resize(graph.grips().size(), infinity);
  std::map<model::PartId, HomeGrip> worst;
  for (std::uint32_t g = 0; g < graph.grips().size(); ++g) {
    if (tree.cost(g).is_blocked() || table.grip_blocks[g] != 0) {
      ++home.grips_without_way;
      continue;
    }
    const double time_s = cell_of(tree.cost(g), Objective::Time).time_s + ends_s;
    home.time_by_grip_s[g] = time_s;
    const auto verdict = verdict_of(time_s, request);
    home.grips_over += verdict == HomeVerdict::Over ? 1 : 0;
    home.grips_near += verdict == HomeVerdict::Near ? 1 : 0;
    const auto& grip = graph.grips()[g];
    const auto part = graph.structure().rails[grip.rail.index()].part;
    const auto [entry, is_new] = worst.try_emplace(part);
    if (is_new || time_s > entry->second.time_s) entry->second = {g, grip.rail, grip.hand, time_s};
  }
  for (const auto& [part, grip] : worst) home.worst.push_back(grip);
  std::stable_sort(home.worst.begin(), home.worst.end(),
                   [](const HomeGrip& x, const HomeGrip& y) { return x.time_s > y.time_s; });

  const auto places = detail::find_present_places(graph, table);
  home.places.resize(places.size());
  const auto fill = [&](std::size_t i) {
    HomePlace& row = home.places[i];
    row.place = places[i].place;
    if (places[i].grips.empty()) return;
    if (!profile.loads.empty()) {
      const auto answer = route(graph, profile,
                                {.from = graph.structure().places[row.place.index()].id,
                                 .to = request.hatch,
                                 .point_radius_m = request.point_radius_m,
                                 .explains_loads = false});
      row.is_certain = answer.is_certain;
      if (const auto* way = answer.route()) {
        row.time_s = way->time_s, row.distance_m = way->distance_m, row.moves = way->moves;
        row.verdict = verdict_of(row.time_s, request);
      }
      return;
    }
    // One may stand at any grip of the place: the farthest counts.
    Cost farthest;
    for (const Seed& seed : places[i].grips) farthest = std::max(farthest, tree.cost(seed.node));
    if (farthest.is_blocked()) return;
    const auto cell = cell_of(farthest, Objective::Time);
    row.time_s = cell.time_s + ends_s, row.distance_m = cell.distance_m, row.moves = cell.moves;
    row.verdict = verdict_of(row.time_s, request);
  };
  tbb::parallel_for(std::size_t{0}, places.size(), fill);
  std::stable_sort(home.places.begin(), home.places.end(), [](const HomePlace& x, const HomePlace& y) {
    return x.verdict != y.verdict ? x.verdict > y.verdict : x.time_s > y.time_s;
  });
  return home;
}

Matrix compute_matrix(const HandrailGraph& graph, const Profile& profile, Objective by) {
  Matrix matrix;
  matrix.by = by;
  matrix.head = begin_answer(graph, profile, {.from = "", .to = "", .by = by});
  const CostTable table = compute_costs(graph, profile, by);
  const Pace pace = pace_of(profile);
  const auto costs = compute_unpriced_costs(graph, table, pace, by);
  const auto places = detail::find_present_places(graph, table);
  const std::size_t n = places.size();
  for (const auto& place : places) matrix.places.push_back(place.place);
  matrix.cells.resize(n * n);
  tbb::enumerable_thread_specific<ShortestTree> trees;
  tbb::parallel_for(std::size_t{0}, n, [&](std::size_t from) {
    ShortestTree& tree = trees.local();
    tree.grow(graph.adjacency(), costs, places[from].grips);
    for (std::size_t to = 0; to < n; ++to) {
      Cost least = Cost::blocked();
      for (const Seed& seed : places[to].grips) least = std::min(least, tree.cost(seed.node));
      if (least.is_blocked()) continue;
      auto cell = cell_of(least, by);
      cell.time_s += pace.start_s + pace.stop_s;
      matrix.cells[from * n + to] = cell;
    }
  });
  return matrix;
}

}  // namespace holdfast::search
