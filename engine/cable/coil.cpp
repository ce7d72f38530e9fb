// SPDX-License-Identifier: GPL-3.0-or-later
#include "holdfast/cable/coil.h"

#include <algorithm>
#include <cmath>
#include <numbers>

#include "coil_impl.h"
#include "holdfast/graph/rail_sampling.h"
#include "holdfast/model/excursion.h"

namespace holdfast::cable {

CoilSize coil_size(double length_m, double bend_radius_m, double diameter_m) {
  CoilSize coil;
  coil.turns = static_cast<std::size_t>(std::max(1.0, std::ceil(length_m / (2 * std::numbers::pi * bend_radius_m))));
  while (coil.layers * coil.layers < coil.turns) ++coil.layers;
  const double rings = static_cast<double>(coil.layers) + 1;
  const double side = 2 * bend_radius_m + 2 * rings * diameter_m;
  coil.size_m = {side, side, rings * diameter_m};
  return coil;
}

graph::BoxPose coil_on_rail(const Vec3& hand, const Vec3& outward, const Vec3& along, const Vec3& size_m) {
  Vec3 forward = along - outward * outward.dot(along);
  if (forward.norm() < 1e-9) forward = outward.unitOrthogonal();
  forward.normalize();
  graph::BoxPose box;
  box.axes.col(0) = forward;
  box.axes.col(1) = outward.cross(forward);
  box.axes.col(2) = outward;
  box.middle = hand + outward * (size_m.z() / 2);
  return box;
}

namespace detail {

namespace {

double distance_to_box(const graph::BoxPose& box, const Vec3& size_m, const Vec3& p) {
  const Vec3 local = (box.axes.transpose() * (p - box.middle)).cwiseAbs() - size_m / 2;
  return local.cwiseMax(0).norm();
}

/// Does the line come within `near_m` of the box? Errs to yes by half a step.
bool is_line_near(const graph::BoxPose& box, const Vec3& size_m, const std::vector<Vec3>& line, double near_m) {
  constexpr double step_m = 0.01;
  for (std::size_t i = 0; i < line.size(); ++i) {
    const Vec3& a = line[i];
    const Vec3& b = line[std::min(i + 1, line.size() - 1)];
    const double length_m = (b - a).norm();
    if (distance_to_box(box, size_m, a) > near_m + length_m) continue;
    const int steps = std::max(1, static_cast<int>(std::ceil(length_m / step_m)));
    for (int k = 0; k <= steps; ++k)
      if (distance_to_box(box, size_m, a + (b - a) * (static_cast<double>(k) / steps)) < near_m + length_m / steps / 2)
        return true;
  }
  return false;
}

bool is_course_near(const graph::BoxPose& box, const Vec3& size_m, const Course& course, double near_m) {
  if (is_line_near(box, size_m, course.line, near_m)) return true;
  return std::any_of(course.bends.begin(), course.bends.end(),
                     [&](const Fillet& bend) { return is_line_near(box, size_m, bend.arc, near_m); });
}

/// A line through all pairs of its corners.
Course outline(const std::array<Vec3, 8>& corners) {
  Course course;
  for (const auto& a : corners)
    for (const auto& b : corners) course.line.push_back(a), course.line.push_back(b);
  return course;
}

}  // namespace

std::optional<graph::BoxPose> box_at(const Query& query, const Tie& tie, const Vec3& size_m) {
  if (!tie.rail) return std::nullopt;
  const auto& graph = *query.space.graph;
  const auto stations = graph::sample_rail(graph.scene(), *tie.rail, graph.body().spacing_m);
  for (std::size_t i = 0; i < stations.size(); ++i) {
    constexpr double same_m = 1e-9;
    if (std::abs(stations[i].along_m - tie.along_m) > same_m) continue;
    const auto& beside = stations[i + 1 < stations.size() ? i + 1 : i > 0 ? i - 1 : i];
    return coil_on_rail(stations[i].hand, stations[i].outward, beside.hand - stations[i].hand, size_m);
  }
  return std::nullopt;
}

std::optional<NoCoil> what_hinders(const Query& query, const Tie& tie, const graph::BoxPose& box, const Vec3& size_m) {
  const auto& graph = *query.space.graph;
  const auto& scene = graph.scene();
  const auto& structure = scene.structure();
  const double glove_m = query.profile.suit.glove_m;
  const auto corners = graph::corners_of(box, size_m);
  // Off the rail by a glove it must be clear, as whatever is tied to a rail.
  graph::BoxPose lifted = box;
  lifted.middle += box.axes.col(2) * glove_m;
  if (scene.hull_distance(graph::corners_of(lifted, size_m), 1.0) <= 0) return NoCoil::Structure;
  for (std::size_t z = 0; z < structure.zones.size(); ++z) {
    const auto& zone = structure.zones[z];
    // It stays longer than any limit of seconds.
    if (zone.effect != model::ZoneEffect::Caution && (zone.applies.cable || zone.applies.load) &&
        zone.when.holds(scene.configuration()) && scene.zone_hull_distance(model::ZoneId(z), corners, 1.0) <= 0)
      return NoCoil::Zone;
  }
  for (const auto& [rail, course] : query.kept_free())
    if (is_course_near(box, size_m, course, glove_m)) return NoCoil::KeepFree;
  for (std::size_t i = 0; i < query.laid().size(); ++i)
    if (is_course_near(box, size_m, query.laid()[i], query.request.laid[i].radius_m + query.space.cable->separation_m))
      return NoCoil::Laid;
  if (query.request.may_stand && !query.request.may_stand(box, size_m)) return NoCoil::Standing;
  if (query.motion().has_moving_parts()) {
    const Course edges = outline(corners);
    const std::vector<std::optional<model::PartId>> on(edges.line.size() - 2, tie.part);
    if (!query.motion().find_joint({tie.part, tie.part, edges.line, on}).moves_into.empty()) return NoCoil::MovingPart;
  }
  // Somebody ties it: from a grip beside it, clear of it.
  const double reach_m = query.request.handling_reach_m.value_or(model::default_plan_values().handling_reach_m.value);
  const double grip_m = query.space.kit->design.grip_length_m;
  for (const auto grip : graph.find_grips_within(box.middle, size_m.norm() / 2 + reach_m)) {
    if (query.moves.grip_blocks[grip.index()] != 0) continue;
    const auto& g = graph.grip(grip);
    const double hand_m = distance_to_box(box, size_m, g.hand);
    if (hand_m <= 0 || hand_m > reach_m || (tie.rail && g.rail == *tie.rail && hand_m <= grip_m)) continue;
    if (distance_to_box(box, size_m, graph.body_point(grip)) >= graph.body().corridor_radius_m) return std::nullopt;
  }
  return NoCoil::NobodyBeside;
}

}  // namespace detail

}  // namespace holdfast::cable
