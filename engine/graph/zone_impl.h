// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// Which zones a move or a stance enters. Touching is allowed (design.md 14, Zones).

#include <array>

#include "holdfast/geometry/certified.h"
#include "way_impl.h"

namespace holdfast::graph::detail {

/// Lower bound on the distance from `p` to everything inside `bounds`.
inline double distance_to_bounds(const geometry::Bounds& bounds, const Vec3& p) {
  return (bounds.min - p).cwiseMax(p - bounds.max).cwiseMax(0).norm();
}

inline ZoneLabel label_stance(const geometry::Scene& scene, model::ZoneId zone, const Vec3& hand, const Vec3& body,
                              double corridor_radius_m) {
  const auto& applies = scene.structure().zones[zone.index()].applies;
  ZoneLabel label{.zone = zone};
  const auto bounds = scene.zone_bounds(zone);
  if (bounds.is_empty()) return label;
  if (applies.body && distance_to_bounds(bounds, body) < corridor_radius_m)
    label.body = scene.zone_distance(zone, body) < corridor_radius_m - length_tolerance_m;
  if (applies.hands && distance_to_bounds(bounds, hand) <= 0)
    label.hands = scene.zone_distance(zone, hand) < -length_tolerance_m;
  return label;
}

/// Least distance to a zone along a straight segment. The solids of all zones but NearPart are convex, so the distance
/// is convex along the segment and a golden-section search finds its minimum; a sampled bound never could decide
/// 'touches exactly'.
inline double convex_minimum(const geometry::Scene& scene, model::ZoneId zone, const Vec3& from, const Vec3& to) {
  const auto f = [&](double t) { return scene.zone_distance(zone, from + t * (to - from)); };
  constexpr double golden = 0.6180339887498949;
  double low = 0, high = 1, t1 = 1 - golden, t2 = golden, f1 = f(t1), f2 = f(t2);
  double least = std::min({f(0.0), f(1.0), f1, f2});
  const double length = (to - from).norm();
  while ((high - low) * length > 1e-9) {
    if (f1 <= f2) {
      high = t2, t2 = t1, f2 = f1, t1 = high - golden * (high - low), f1 = f(t1);
    } else {
      low = t1, t1 = t2, f1 = f2, t2 = low + golden * (high - low), f2 = f(t2);
    }
    least = std::min({least, f1, f2});
  }
  return least;
}

/// True where the least distance from the way to the zone is below `limit_m`; undecided within 0.1 mm counts as true.
template <class At>
bool is_nearer_than(const geometry::Scene& scene, model::ZoneId zone, At&& at, double speed_m, bool is_straight,
                    double limit_m) {
  const double needed = limit_m - length_tolerance_m;
  const auto bounds = scene.zone_bounds(zone);
  const Vec3 middle = at(0.5);
  if (distance_to_bounds(bounds, middle) - speed_m / 2 > limit_m) return false;
  const bool is_convex = !std::holds_alternative<model::NearPart>(scene.structure().zones[zone.index()].shape);
  const auto least = geometry::certified_minimum(
      [&](double t) { return scene.zone_distance(zone, at(t)); }, speed_m,
      {.tolerance_m = is_straight && is_convex ? 0.02 : 1e-4, .enough_m = needed, .hopeless_m = needed});
  if (least.lower_m >= needed) return false;
  if (least.upper_m < needed) return true;
  return !(is_straight && is_convex) || convex_minimum(scene, zone, at(0.0), at(1.0)) < needed;
}

inline ZoneLabel label_move(const geometry::Scene& scene, model::ZoneId zone, const Grip& a, const Grip& b,
                            const Body& body) {
  const auto& applies = scene.structure().zones[zone.index()].applies;
  ZoneLabel label{.zone = zone};
  if (scene.zone_bounds(zone).is_empty()) return label;
  if (applies.body) {
    const BodyWay way(a, b, body.stand_off_m);
    label.body = is_nearer_than(
        scene, zone, [&](double t) { return way.at(t); }, way.speed_upper_m(), way.is_straight(),
        body.corridor_radius_m);
  }
  if (applies.hands)
    label.hands = is_nearer_than(
        scene, zone, [&](double t) { return Vec3(a.hand + t * (b.hand - a.hand)); }, (b.hand - a.hand).norm(), true,
        0.0);
  return label;
}

}  // namespace holdfast::graph::detail
