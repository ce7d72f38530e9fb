// SPDX-License-Identifier: GPL-3.0-or-later
#include "holdfast/route/described.h"

#include <optional>

#include "load_space_impl.h"
#include "loaded_route_impl.h"
#include "question_impl.h"
#include "waypoints_impl.h"

namespace holdfast::route {

DescribedPath describe_path(const graph::HandrailGraph& graph, const Profile& profile, const GivenPath& path,
                            LoadCache* loads) {
  model::ensure(!path.grips.empty(), "a path has a grip");
  detail::LegWay way{path.from, path.to, path.grips, {}};
  for (std::size_t i = 0; i + 1 < path.grips.size(); ++i) {
    const auto move = graph.find_move(path.grips[i], path.grips[i + 1]);
    model::ensure(move.has_value(), "a path goes by moves of its graph");
    way.moves.push_back(*move);
  }
  const RouteRequest request{.from = path.from, .to = path.to};
  std::vector<detail::LegWay> legs = {std::move(way)};
  if (!profile.loads.empty()) {
    std::optional<LoadCache> own;
    if (!loads) loads = &own.emplace(graph, profile.loads);
    auto carried = legs;
    if (!detail::walk_in_best_manner(graph, loads->space(), paces_of(profile), carried))
      return {detail::describe(graph, profile, &loads->space(), carried, detail::waypoint_options(profile, request)),
              true};
  }
  Profile bare = profile;
  bare.loads.clear();
  return {detail::describe(graph, bare, nullptr, legs, detail::waypoint_options(bare, request)), profile.loads.empty()};
}

}  // namespace holdfast::route
