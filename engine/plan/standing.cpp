// SPDX-License-Identifier: GPL-3.0-or-later
// What is stowed or set up stands there for a while: where it may, and what comes to it.

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>

#include "holdfast/geometry/certified.h"
#include "simulator_impl.h"

namespace holdfast::plan::detail {

namespace {

constexpr double infinity = std::numeric_limits<double>::infinity();

bool is_in_zone(const geometry::Scene& scene, const Obstacle& obstacle, model::ZoneId zone) {
  // Touching is allowed.
  return scene.zone_hull_distance(zone, graph::corners_of(obstacle.box, obstacle.size_m), 1.0) <= 0;
}

}  // namespace

void Simulator::begin_standing(ItemId item, double from_s, std::optional<CrewId> by) {
  const ItemState& state = items_[item.index()];
  Stood stood{item, state.obstacle, from_s, infinity, std::nullopt, by};
  if (state.at == ItemState::At::SetUp) stood.part = structure_.sockets[state.socket.index()].part;
  stood_.push_back(std::move(stood));
}

void Simulator::end_standing(ItemId item, double to_s) {
  for (Stood& stood : stood_)
    if (stood.item == item && std::isinf(stood.to_s)) stood.to_s = to_s;
}

std::optional<model::ZoneId> Simulator::forbidding_zone(const Obstacle& obstacle,
                                                        const model::Configuration& configuration) {
  const Site& site = legs_.site(configuration, *movers_.front().suit);
  for (std::size_t z = 0; z < structure_.zones.size(); ++z) {
    const auto& zone = structure_.zones[z];
    if (zone.effect == model::ZoneEffect::Forbid && zone.applies.load && zone.when.holds(configuration) &&
        is_in_zone(*site.scene, obstacle, model::ZoneId(z)))
      return model::ZoneId(z);
  }
  return std::nullopt;
}

std::optional<std::size_t> Simulator::item_in_the_way(const Obstacle& obstacle, ItemId item) const {
  for (std::size_t i = 0; i < items_.size(); ++i)
    if (i != item.index() && items_[i].is_obstacle() && do_boxes_overlap(obstacle, items_[i].obstacle)) return i;
  return std::nullopt;
}

double Simulator::free_of_passers(const Mover& m, const Obstacle& obstacle) {
  double free_s = m.clock_s;
  const Mover* other = other_of(m);
  if (!other || !other->is_out || other->is_inside) return free_s;
  const double grip_m = model_.kit.design.grip_length_m;
  for (const Occupied& o : other->occupied) {
    if (!o.moves || o.to_s <= free_s) continue;
    const double near_m = std::max(o.radius_m, o.load_radius_m) + o.off_m;
    bool is_near = false;
    for (std::size_t i = 0; i < o.body.size() && !is_near; ++i)
      is_near = is_segment_near_box(obstacle, o.body[i], o.body[std::min(i + 1, o.body.size() - 1)], near_m);
    for (std::size_t i = 0; i < o.hands.size() && !is_near; ++i)
      is_near = is_segment_near_box(obstacle, o.hands[i], o.hands[std::min(i + 1, o.hands.size() - 1)], grip_m);
    if (is_near) free_s = std::max(free_s, o.to_s);
  }
  return free_s;
}

void Simulator::check_rests() {
  // Never more than the distance of any point of the line.
  const auto nearest = [](const Obstacle& obstacle, const std::vector<Vec3>& line) {
    double least_m = infinity;
    for (std::size_t i = 0; i < line.size(); ++i) {
      const Vec3 &a = line[i], &b = line[std::min(i + 1, line.size() - 1)];
      const auto distance_at = [&](double t) {
        return distance_to_box(obstacle.box, obstacle.size_m, a + t * (b - a));
      };
      least_m = std::min(least_m, geometry::certified_minimum(distance_at, (b - a).norm()).lower_m);
    }
    return std::max(0.0, least_m);
  };
  for (const Stood& stood : stood_)
    for (const Mover& m : movers_) {
      if (stood.by == m.id) continue;
      const double needed_m = m.suit->corridor_radius_m() - graph::length_tolerance_m;
      for (const Occupied& o : m.occupied) {
        if (o.moves || o.from_s >= stood.to_s - 1e-9 || o.to_s <= stood.from_s + 1e-9) continue;
        // Who enters a restraint that stands is meant to be there.
        if (o.helmet && o.from_s > stood.from_s) continue;
        const double away_m = nearest(stood.obstacle, o.body);
        if (away_m >= needed_m) continue;
        auto& v = violate(ViolationKind::BodiesTooNear, std::max(o.from_s, stood.from_s), &m,
                          excursion_.items[stood.item.index()].id);
        v.names = {"item"};
        v.value = away_m, v.limit = m.suit->corridor_radius_m();
        v.at = stood.obstacle.box.middle, v.has_at = true;
        v.to_s = std::min(o.to_s, stood.to_s);
        break;
      }
    }
}

void Simulator::check_standing() {
  for (const Throw& change : throws_)
    for (const Stood& stood : stood_) {
      if (stood.from_s >= change.to_s || stood.to_s <= change.from_s) continue;
      const std::string& item = excursion_.items[stood.item.index()].id;
      const auto tell = [&](std::vector<std::string> names) {
        auto& v = violate(ViolationKind::RailMoves, std::max(change.from_s, stood.from_s), nullptr,
                          excursion_.events[change.event.index()].id);
        v.other = item;
        v.names = std::move(names);
        v.to_s = change.to_s;
        v.at = stood.obstacle.box.middle, v.has_at = true;
      };
      const auto moved = std::find_if(stood.obstacle.tied_to.begin(), stood.obstacle.tied_to.end(),
                                      [&](model::RailId rail) { return rail_differs(rail, change); });
      if (moved != stood.obstacle.tied_to.end()) {
        tell({structure_.rails[moved->index()].id});
        continue;
      }
      if (stood.part &&
          (structure_.is_present(*stood.part, change.before) != structure_.is_present(*stood.part, change.after) ||
           !structure_.frame_of(stood.part, change.before)
                .isApprox(structure_.frame_of(stood.part, change.after), 1e-12))) {
        tell({"part", structure_.parts[stood.part->index()].id});
        continue;
      }
      // What the throw brings; where structure goes meanwhile is not known.
      const Site& before = legs_.site(change.before, *movers_.front().suit);
      const Site& after = legs_.site(change.after, *movers_.front().suit);
      const auto hull = graph::corners_of(stood.obstacle.box, stood.obstacle.size_m);
      if (before.scene->hull_distance(hull, 1.0) > 0 && after.scene->hull_distance(hull, 1.0) <= 0) {
        tell({"structure", after.scene->find_nearest_to_hull(hull, 1.0)
                               ? structure_.parts[after.scene->find_nearest_to_hull(hull, 1.0)->part.index()].id
                               : std::string()});
      } else if (const auto zone = forbidding_zone(stood.obstacle, change.after);
                 zone && !forbidding_zone(stood.obstacle, change.before)) {
        tell({"zone", structure_.zones[zone->index()].id});
      }
    }
  // Time-limited zones, from the moment it stands until it is taken, as long as the zone holds.
  for (std::size_t z = 0; z < structure_.zones.size(); ++z) {
    const auto& zone = structure_.zones[z];
    if (zone.effect != model::ZoneEffect::Limit || !zone.applies.load) continue;
    for (const Stood& stood : stood_) {
      std::vector<double> cuts = {stood.from_s, std::min(stood.to_s, plan_.finish_s)};
      for (const Throw& change : throws_)
        for (const double t : {change.from_s, change.to_s})
          if (t > cuts.front() && t < cuts.back()) cuts.push_back(t);
      std::sort(cuts.begin(), cuts.end());
      double stay_s = 0;
      for (std::size_t i = 0; i + 1 < cuts.size(); ++i) {
        const Throw* change = throw_during(cuts[i]);
        const auto configuration = configuration_at(cuts[i]);
        const auto is_in = [&](const model::Configuration& c) {
          return zone.when.holds(c) &&
                 is_in_zone(*legs_.site(c, *movers_.front().suit).scene, stood.obstacle, model::ZoneId(z));
        };
        if (is_in(configuration) || (change && is_in(change->after))) stay_s += cuts[i + 1] - cuts[i];
      }
      if (stay_s <= zone.limit_s + 1e-6) continue;
      auto& v = violate(ViolationKind::ZoneTime, stood.from_s, nullptr, zone.id);
      v.value = stay_s, v.limit = zone.limit_s;
      v.other = excursion_.items[stood.item.index()].id;
    }
  }
}

}  // namespace holdfast::plan::detail
