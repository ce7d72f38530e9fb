// SPDX-License-Identifier: GPL-3.0-or-later
#include "holdfast/reach/body.h"

#include <algorithm>
#include <array>
#include <cmath>

#include "holdfast/geometry/certified.h"

namespace holdfast::reach {

namespace {

/// Contact is told clear by nobody: more than distances are off by rounding.
constexpr double rounding_m = 1e-9;

}  // namespace

BodyTester::BodyTester(const geometry::Scene& scene, const model::Figure& figure) : scene_(&scene), figure_(&figure) {
  const auto& structure = scene.structure();
  const auto& configuration = scene.configuration();
  for (std::size_t p = 0; p < structure.parts.size(); ++p)
    if (std::holds_alternative<model::Dish>(structure.parts[p].shape) &&
        structure.is_present(model::PartId(p), configuration))
      hidden_m_ = geometry::SceneOptions{}.chord_error_m;
  for (std::size_t z = 0; z < structure.zones.size(); ++z) {
    const model::ZoneId id(z);
    const auto& zone = structure.zones[z];
    if (!zone.when.holds(configuration) || scene.zone_bounds(id).is_empty()) continue;
    const bool is_forbidden = zone.effect == model::ZoneEffect::Forbid;
    if (zone.applies.body) (is_forbidden ? body_forbid_ : body_note_).push_back(id);
    if (zone.applies.hands) (is_forbidden ? hands_forbid_ : hands_note_).push_back(id);
  }
}

BodyTester::Found BodyTester::nearest(std::span<const Vec3> hull, double radius_m) const {
  const auto found = scene_->find_nearest_to_hull(hull, most_clearance_m + radius_m + hidden_m_);
  if (!found) return {most_clearance_m, {}};
  const double clear = found->distance_m - radius_m - hidden_m_ - rounding_m;
  return {std::clamp(clear, 0.0, most_clearance_m), {found->part, {}}};
}

/// Zones are touched without fault, so what is within the tolerance is outside.
bool BodyTester::enters(model::ZoneId zone, const Solids& solids) const {
  return scene_->zone_hull_distance(zone, solids.axis, solids.radius_m + 1) < solids.radius_m - tolerance_m ||
         scene_->zone_hull_distance(zone, solids.trunk, 1) <= 0;
}

BodyClearance BodyTester::clearance(const BodyFrame& frame) const {
  const Solids solids = solids_of(*figure_, frame);
  const Found body = nearest(solids.axis, solids.radius_m);
  if (body.lower_m <= 0) return {0, body.obstacle};
  const Found trunk = nearest(solids.trunk, 0);
  const Found& least = trunk.lower_m < body.lower_m ? trunk : body;
  if (least.lower_m > 0 && !body_forbid_.empty()) {
    const Solids shrunk = solids_of(*figure_, frame, tolerance_m);
    for (const auto zone : body_forbid_)
      if (enters(zone, shrunk)) return {0, {{}, zone}};
  }
  return {least.lower_m, least.obstacle};
}

BodyClearance BodyTester::clearance(const BodyFrame& frame, const model::FootRestraint& restraint,
                                    const SocketPlace& socket, const Setting& setting) const {
  BodyClearance found = clearance(frame);
  if (!found.fits()) return found;
  const Found plate = nearest(plate_of(restraint, frame), 0);
  if (plate.lower_m <= 0) return {0, plate.obstacle, true};
  if (const auto post = post_of(socket, setting)) {
    const Found along = nearest(*post, 0);
    if (along.lower_m <= 0) return {0, along.obstacle, true};
  }
  return found;
}

std::vector<model::ZoneId> BodyTester::body_notes(const BodyFrame& frame) const {
  std::vector<model::ZoneId> notes;
  const Solids solids = solids_of(*figure_, frame, tolerance_m);
  for (const auto zone : body_note_)
    if (enters(zone, solids)) notes.push_back(zone);
  return notes;
}

double BodyTester::axis_distance_m(const BodyFrame& frame) const {
  const std::array<Vec3, 2> axis = {frame.soles, frame.at(figure_->height_m)};
  return nearest(axis, 0).lower_m;
}

std::optional<Obstacle> BodyTester::arm_obstacle(const Vec3& shoulder, const Vec3& point) const {
  const Vec3 line = point - shoulder;
  const double length = line.norm();
  const Vec3 wrist = length > figure_->hand_m ? Vec3(point - figure_->hand_m / length * line) : shoulder;
  if (length > figure_->hand_m) {
    const std::array<Vec3, 2> arm = {shoulder, wrist};
    const Found found = nearest(arm, figure_->arm_radius_m);
    if (found.lower_m <= 0) {
      // Named is what is met first along the line; where the line itself is clear, what is nearest to it.
      const auto hit = scene_->find_first_hit(shoulder, line / length, (wrist - shoulder).norm());
      return hit ? Obstacle{hit->part, {}} : found.obstacle;
    }
  }
  const std::array<Vec3, 2> hand = {wrist, point};
  const Found found = nearest(hand, 0);
  if (found.lower_m > 0) return std::nullopt;
  const double along = (point - wrist).norm();
  const auto hit = along > 0 ? scene_->find_first_hit(wrist, (point - wrist) / along, along) : std::nullopt;
  return hit ? Obstacle{hit->part, {}} : found.obstacle;
}

ArmAnswer BodyTester::arm(const Vec3& shoulder, const Target& target) const {
  ArmAnswer answer;
  const Vec3 line = target.test - shoulder;
  const double length = line.norm();
  const Vec3 wrist = length > figure_->hand_m ? Vec3(target.test - figure_->hand_m / length * line) : shoulder;
  const std::array<Vec3, 2> hand = {wrist, target.test};
  // Touching a zone is allowed; undecided within 0.1 mm counts as in.
  const auto is_in = [&](model::ZoneId zone) {
    if (scene_->zone_hull_distance(zone, hand, 0.1) > 0) return false;
    const auto least = geometry::certified_minimum(
        [&](double t) { return scene_->zone_distance(zone, wrist + t * (target.test - wrist)); },
        (target.test - wrist).norm(), {.tolerance_m = 1e-4, .enough_m = -tolerance_m, .hopeless_m = -tolerance_m});
    return least.lower_m < -tolerance_m;
  };
  for (const auto zone : hands_forbid_)
    if (is_in(zone)) {
      answer.fault = ArmFault::Forbidden;
      answer.obstacle.zone = zone;
      return answer;
    }
  if (const auto obstacle = arm_obstacle(shoulder, target.test)) {
    answer.obstacle = *obstacle;
    const bool is_behind = target.outward && (shoulder - target.test).dot(*target.outward) <= -on_surface_m;
    answer.fault = is_behind && target.part && obstacle->part == target.part ? ArmFault::FacesAway : ArmFault::Blocked;
    return answer;
  }
  for (const auto zone : hands_note_)
    if (is_in(zone)) answer.notes.push_back(zone);
  return answer;
}

bool BodyTester::is_arm_clear(const Vec3& shoulder, const Vec3& point) const {
  return !arm_obstacle(shoulder, point).has_value();
}

bool BodyTester::is_tube_clear(const Vec3& a, const Vec3& b, double radius_m) const {
  const std::array<Vec3, 2> line = {a, b};
  return scene_->hull_distance(line, radius_m + hidden_m_ + 1e-3) >= radius_m + hidden_m_;
}

}  // namespace holdfast::reach
