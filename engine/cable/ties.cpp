// SPDX-License-Identifier: GPL-3.0-or-later
#include "holdfast/cable/ties.h"

#include <array>
#include <limits>

#include "holdfast/graph/rail_sampling.h"

namespace holdfast::cable {

namespace {

constexpr double chord_error_m = 0.001;      // of dishes: hulls are tested against their triangles
constexpr double hull_tolerance_m = 0.0002;  // what a hull distance may be below the true one, twice

}  // namespace

double SpanRules::clear_m() const { return radius_m + chord_error_m; }

SpanRules span_rules_of(const model::Cable& cable) {
  return {.radius_m = cable.diameter_m / 2,
          .span_m = cable.span_m,
          .free_span_m = cable.free_span_m,
          .lies_within_m = cable.lies_within_m};
}

std::optional<Vec3> find_clear_point(const geometry::Scene& scene, const Vec3& at, double clear_m) {
  const double need = clear_m + hull_tolerance_m;
  const auto distance = [&](const Vec3& p) { return scene.distance(p, need + 0.01); };
  if (distance(at) >= need) return at;
  // Least step along a direction that is clear: the distance is 1-Lipschitz, so it is walked up to in sure steps.
  const auto step_along = [&](const Vec3& direction, double most) -> std::optional<double> {
    constexpr double least_step = 1e-5;
    for (double t = 0; t <= most;) {
      const double d = distance(at + t * direction);
      if (d >= need) return t;
      t += std::max(least_step, need - d);
    }
    return std::nullopt;
  };
  double best = most_connector_gap_m + need;
  std::optional<Vec3> found;
  const auto offer = [&](const Vec3& direction) {
    const auto t = step_along(direction, best);
    if (!t || (found && *t >= best)) return;
    best = *t, found = at + *t * direction;
  };
  for (int x = -1; x <= 1; ++x)
    for (int y = -1; y <= 1; ++y)
      for (int z = -1; z <= 1; ++z)
        if (x != 0 || y != 0 || z != 0) offer(Vec3(x, y, z).normalized());
  // Straight away from the nearest surface, seen from where the first look came out.
  for (int round = 0; found && round < 3; ++round) {
    const auto nearest = scene.find_nearest(*found, 2 * need);
    if (!nearest || nearest->distance_m < 1e-9) break;
    offer((*found - nearest->point).normalized());
  }
  return found;
}

std::vector<Tie> find_ties(const geometry::Scene& scene, const SpanRules& rules, double spacing_m) {
  const auto& structure = scene.structure();
  const auto& configuration = scene.configuration();
  std::vector<Tie> ties;
  const auto add = [&](Tie tie) {
    const auto way = find_clear_point(scene, tie.at, rules.clear_m());
    if (!way) return;
    tie.way = *way;
    ties.push_back(std::move(tie));
  };
  for (std::size_t r = 0; r < structure.rails.size(); ++r) {
    const auto& rail = structure.rails[r];
    if (!rail.use.cable) continue;
    for (const auto& station : graph::sample_rail(scene, model::RailId(r), spacing_m))
      add({.kind = TieKind::Rail,
           .id = rail.id,
           .rail = model::RailId(r),
           .part = rail.part,
           .along_m = station.along_m,
           .at = station.hand});
  }
  const auto is_there = [&](const auto& thing) {
    return thing.when.holds(configuration) && (!thing.part || structure.is_present(*thing.part, configuration));
  };
  const auto place_of = [&](const auto& thing) {
    return thing.part ? Vec3(structure.pose(*thing.part, configuration) * thing.at) : thing.at;
  };
  // What names no part moves with what it stands on.
  const auto part_of = [&](const auto& thing, const Vec3& at) -> std::optional<model::PartId> {
    if (thing.part) return thing.part;
    const auto nearest = scene.find_nearest(at, most_connector_gap_m);
    return nearest ? std::optional(nearest->part) : std::nullopt;
  };
  for (const auto& clip : structure.clips) {
    if (!is_there(clip)) continue;
    const Vec3 at = place_of(clip);
    add({.kind = TieKind::Clip, .id = clip.id, .part = part_of(clip, at), .at = at});
  }
  for (const auto& place : structure.places) {
    if (place.kind != model::PlaceKind::Connector || !is_there(place)) continue;
    const Vec3 at = place_of(place);
    if (scene.distance(at, 2 * most_connector_gap_m) > most_connector_gap_m) continue;
    add({.kind = TieKind::Connector, .id = place.id, .part = part_of(place, at), .at = at});
  }
  return ties;
}

}  // namespace holdfast::cable
