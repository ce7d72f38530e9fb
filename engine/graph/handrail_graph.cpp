// SPDX-License-Identifier: GPL-3.0-or-later
#include "holdfast/graph/handrail_graph.h"

#include <algorithm>

#include "judge_impl.h"
#include "way_impl.h"

namespace holdfast::graph {

using detail::BodyWay;
using geometry::CertifiedMinimum;

std::optional<MoveId> HandrailGraph::find_move(GripId a, GripId b) const {
  const auto out = adjacency_.out(a.value);
  const auto arc =
      std::lower_bound(out.begin(), out.end(), b.value, [](const Arc& x, std::uint32_t head) { return x.head < head; });
  return arc != out.end() && arc->head == b.value ? std::optional(MoveId(arc->move)) : std::nullopt;
}

std::span<const ZoneLabel> HandrailGraph::zones(MoveId move) const {
  return {move_zones_.data() + move_zone_first_[move.index()], move_zones_.data() + move_zone_first_[move.index() + 1]};
}

std::span<const ZoneLabel> HandrailGraph::zones(GripId grip) const {
  return {grip_zones_.data() + grip_zone_first_[grip.index()], grip_zones_.data() + grip_zone_first_[grip.index() + 1]};
}

std::pair<std::uint32_t, std::uint32_t> HandrailGraph::grips_of(model::RailId rail) const {
  return {rail_first_[rail.index()], rail_first_[rail.index() + 1]};
}

Vec3 HandrailGraph::body_point(GripId grip) const {
  return grips_[grip.index()].hand + body_.stand_off_m * grips_[grip.index()].stance;
}

Vec3 HandrailGraph::body_at(MoveId move, double t) const {
  const Move& m = moves_[move.index()];
  return BodyWay(grip(m.a), grip(m.b), body_.stand_off_m).at(t);
}

CertifiedMinimum HandrailGraph::compute_clearance(MoveId move, double tolerance_m) const {
  const Move& m = moves_[move.index()];
  const BodyWay way(grip(m.a), grip(m.b), body_.stand_off_m);
  // A long way off from everything the cutoff answers, and the bracket closes at once.
  const double cutoff = body_.corridor_radius_m + clearance_headroom_m + way.speed_upper_m();
  return geometry::certified_minimum(
      [&](double t) { return scene_->distance(way.at(t), cutoff); }, way.speed_upper_m(),
      {.tolerance_m = tolerance_m, .enough_m = body_.corridor_radius_m + clearance_headroom_m});
}

Move HandrailGraph::judge(MoveId move) const {
  Move judged = moves_[move.index()];
  detail::judge_move(*scene_, body_, grip(judged.a), grip(judged.b), detail::Judging::Everything, judged);
  return judged;
}

CertifiedMinimum HandrailGraph::compute_zone_distance(MoveId move, model::ZoneId zone, double tolerance_m) const {
  const Move& m = moves_[move.index()];
  const BodyWay way(grip(m.a), grip(m.b), body_.stand_off_m);
  return geometry::certified_minimum([&](double t) { return scene_->zone_distance(zone, way.at(t)); },
                                     way.speed_upper_m(), {.tolerance_m = tolerance_m});
}

double HandrailGraph::compute_part_distance(MoveId move, model::PartId part, double cutoff_m,
                                            double tolerance_m) const {
  const Move& m = moves_[move.index()];
  const Grip& a = grip(m.a);
  const Grip& b = grip(m.b);
  const BodyWay way(a, b, body_.stand_off_m);
  const geometry::CertifiedOptions options{.tolerance_m = tolerance_m, .enough_m = cutoff_m};
  // Far enough away at the middle: nothing nearer than the cutoff anywhere on the move.
  const double span = std::max(way.speed_upper_m(), (b.hand - a.hand).norm());
  const double far = cutoff_m + span;
  if (scene_->distance_to_part(part, way.at(0.5), far + body_.stand_off_m) >= far + body_.stand_off_m) return cutoff_m;
  const auto body_least = geometry::certified_minimum(
      [&](double t) { return scene_->distance_to_part(part, way.at(t), far); }, way.speed_upper_m(), options);
  const auto hand_least = geometry::certified_minimum(
      [&](double t) { return scene_->distance_to_part(part, a.hand + t * (b.hand - a.hand), far); },
      (b.hand - a.hand).norm(), options);
  return std::clamp(std::min(body_least.lower_m, hand_least.lower_m), 0.0, cutoff_m);
}

std::vector<GripId> HandrailGraph::find_grips_within(const Vec3& point, double radius_m) const {
  std::vector<GripId> found;
  for (const std::size_t g : hands_->find_within(point, radius_m + length_tolerance_m)) found.emplace_back(g);
  return found;
}

std::optional<GripId> HandrailGraph::find_nearest_grip(const Vec3& point) const {
  const auto nearest = hands_->find_nearest(point);
  return nearest ? std::optional(GripId(nearest->index)) : std::nullopt;
}

}  // namespace holdfast::graph
