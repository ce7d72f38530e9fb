// SPDX-License-Identifier: GPL-3.0-or-later
#include "holdfast/route/load_paths.h"

#include "holdfast/model/diagnostic.h"
#include "loaded_route_impl.h"

namespace holdfast::route {

LoadCache load_cache_among(const graph::HandrailGraph& graph, std::vector<const model::Load*> loads,
                           const geometry::Scene& boxes) {
  LoadCache cache(graph, std::move(loads));
  cache.space().keep_off(boxes);
  return cache;
}

std::optional<double> time_along(const graph::HandrailGraph& graph, const Profile& profile, LoadCache& cache,
                                 std::span<const graph::GripId> grips) {
  model::ensure(!grips.empty(), "a path has a grip");
  detail::LegWay leg;
  leg.grips.assign(grips.begin(), grips.end());
  for (std::size_t i = 1; i < grips.size(); ++i) {
    const auto move = graph.find_move(grips[i - 1], grips[i]);
    model::ensure(move.has_value(), "a path goes by moves of its graph");
    leg.moves.push_back(*move);
  }
  const auto paces = paces_of(profile);
  std::vector<detail::LegWay> legs = {std::move(leg)};
  if (detail::walk_in_best_manner(graph, cache.space(), paces, legs)) return std::nullopt;
  if (grips.size() == 1) return 0;
  const Pace& pace = paces[legs.front().manner];
  return pace.start_s + pace.stop_s + detail::moving_time_s(graph, cache.space(), paces, legs);
}

}  // namespace holdfast::route
