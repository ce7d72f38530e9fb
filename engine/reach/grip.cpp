// SPDX-License-Identifier: GPL-3.0-or-later
#include <fmt/format.h>

#include "grip_impl.h"

namespace holdfast::reach {

using graph::GripId;
using graph::HandrailGraph;
using model::Vec3;

Vec3 detail::rail_direction(const HandrailGraph& graph, const graph::Grip& grip) {
  const auto& structure = graph.structure();
  const auto& rail = structure.rails[grip.rail.index()];
  const model::Pose pose = structure.pose(rail.part, graph.scene().configuration());
  std::optional<Vec3> along;
  double left_m = grip.along_m;
  for (std::size_t i = 1; i < rail.points.size(); ++i) {
    const Vec3 piece = rail.points[i] - rail.points[i - 1];
    if (left_m <= piece.norm() + 1e-9 || i + 1 == rail.points.size()) {
      along = (pose.linear() * piece).normalized();
      break;
    }
    left_m -= piece.norm();
  }
  if (along && along->cross(grip.stance).norm() < 1e-6) along.reset();
  return model::forward_of(grip.stance, along);
}

std::optional<route::Answer> detail::find_route_to(const HandrailGraph& graph, const route::Profile& profile,
                                                   const std::string& from, GripId id) {
  const auto& grip = graph.grip(id);
  constexpr double same_m = 1e-6;
  const route::RouteRequest request{.from = from,
                                    .to = fmt::format("{},{},{}", grip.hand.x(), grip.hand.y(), grip.hand.z()),
                                    .point_radius_m = same_m};
  const auto ends_there = [&](const route::Answer& answer) {
    const auto* route = answer.route();
    return !route || route->legs.back().poses.back().grip == id.index();
  };
  auto found = route::find_route(graph, profile, request);
  if (!ends_there(found)) {
    route::Profile without = profile;
    for (const GripId other : graph.find_grips_within(grip.hand, same_m))
      if (other != id) without.closures.grips.push_back(other);
    found = route::find_route(graph, without, request);
    if (!found.route() || !ends_there(found)) return std::nullopt;
  }
  found.request.to = graph.structure().rails[grip.rail.index()].id;
  if (auto* route = std::get_if<route::Route>(&found.outcome)) route->legs.back().to = found.request.to;
  return found;
}

}  // namespace holdfast::reach
