// SPDX-License-Identifier: GPL-3.0-or-later
#include "holdfast/geometry/polyline.h"

namespace holdfast::geometry {

std::optional<Hit> find_first_touch(const Scene& scene, std::span<const Vec3> points) {
  if (points.empty()) return std::nullopt;
  constexpr double near_m = 0.005;  // any: only whether the point is inside is looked at
  if (const auto nearest = scene.find_nearest(points.front(), near_m); nearest && nearest->distance_m <= 0)
    return Hit{0, points.front(), nearest->part};
  for (std::size_t i = 0; i + 1 < points.size(); ++i) {
    const Vec3 along = points[i + 1] - points[i];
    if (const auto hit = scene.find_first_hit(points[i], along.normalized(), along.norm())) return hit;
  }
  return std::nullopt;
}

}  // namespace holdfast::geometry
