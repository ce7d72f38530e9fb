// SPDX-License-Identifier: GPL-3.0-or-later
#include <algorithm>
#include <cmath>
#include <limits>

#include "direction_impl.h"
#include "holdfast/graph/rail_sampling.h"
#include "stations_impl.h"

namespace holdfast::graph {

namespace detail {

std::vector<Station> sample_stations(const model::Rail& rail, const Pose& pose, double spacing_m) {
  std::vector<Station> stations;
  double along = 0;
  stations.push_back({pose * rail.points[0], 0.0, 0, 0.0});
  for (std::size_t i = 0; i + 1 < rail.points.size(); ++i) {
    const Vec3 from = pose * rail.points[i], to = pose * rail.points[i + 1];
    const double length = (to - from).norm();
    const int steps = std::max(1, static_cast<int>(std::ceil(length / spacing_m - 1e-9)));
    for (int k = 1; k <= steps; ++k) {
      const double t = static_cast<double>(k) / steps;
      stations.push_back({from + t * (to - from), along + t * length, i, t});
    }
    along += length;
  }
  return stations;
}

Vec3 given_outward(const model::Rail& rail, std::size_t direction, const Station& station, const Pose& pose) {
  const auto& list = rail.outward[direction];
  if (list.size() == 1) return (pose.linear() * list[0]).normalized();
  const std::size_t next = std::min(station.piece + 1, list.size() - 1);
  return (pose.linear() * Slerp(list[station.piece], list[next]).at(station.t)).normalized();
}

Vec3 automatic_outward(const geometry::Scene& scene, const model::Rail& rail, const Vec3& hand) {
  const auto nearest = scene.find_nearest_on_part(rail.part, hand, std::numeric_limits<double>::infinity());
  if (!nearest || nearest->distance_m < 1e-9) return -Vec3::UnitZ();
  return (hand - nearest->point).normalized();
}

}  // namespace detail

std::vector<RailStation> sample_rail(const geometry::Scene& scene, model::RailId id, double spacing_m) {
  const auto& structure = scene.structure();
  if (!structure.is_present(id, scene.configuration())) return {};
  const auto& rail = structure.rails[id.index()];
  const auto pose = structure.pose(rail.part, scene.configuration());
  std::vector<RailStation> stations;
  for (const auto& station : detail::sample_stations(rail, pose, spacing_m))
    stations.push_back({station.hand,
                        rail.outward.empty() ? detail::automatic_outward(scene, rail, station.hand)
                                             : detail::given_outward(rail, 0, station, pose),
                        station.along_m});
  return stations;
}

}  // namespace holdfast::graph
