// SPDX-License-Identifier: GPL-3.0-or-later
#include "pieces_impl.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <set>

namespace holdfast::plan::detail {

namespace {
constexpr double noise_s = 1e-9;
}

route::Objective objective_of(model::LegAim aim) {
  switch (aim) {
    case model::LegAim::Time:
      return route::Objective::Time;
    case model::LegAim::Distance:
      return route::Objective::Distance;
    case model::LegAim::Moves:
      return route::Objective::Moves;
  }
  return route::Objective::Time;
}

std::vector<std::pair<double, double>> nights_between(const model::Orbit& orbit, double from_s, double to_s) {
  std::vector<std::pair<double, double>> nights;
  for (double k = std::floor((from_s - orbit.first_sunset_s - orbit.night_s) / orbit.period_s);; ++k) {
    const double sunset_s = orbit.first_sunset_s + k * orbit.period_s;
    if (sunset_s >= to_s) break;
    const double begins_s = std::max(sunset_s, from_s), ends_s = std::min(sunset_s + orbit.night_s, to_s);
    if (ends_s > begins_s) nights.emplace_back(begins_s, ends_s);
  }
  return nights;
}

std::vector<std::pair<double, double>> open_times(const model::Excursion& excursion, const model::Task& task) {
  std::vector<std::pair<double, double>> open;
  for (const auto& window : excursion.windows)
    if (std::any_of(task.windows.begin(), task.windows.end(),
                    [&](model::WindowId id) { return excursion.windows[id.index()].id == window.id; }))
      open.emplace_back(window.from_s, window.to_s);
  std::sort(open.begin(), open.end());
  std::vector<std::pair<double, double>> joined;
  for (const auto& w : open)
    if (!joined.empty() && w.first <= joined.back().second + noise_s)
      joined.back().second = std::max(joined.back().second, w.second);
    else
      joined.push_back(w);
  return joined;
}

double factor_of(const PlanOptions& options, const model::CrewMember& member) {
  const auto slower = options.slower.find(member.id);
  return slower == options.slower.end() ? 1 : slower->second;
}

double duration_of(const PlanOptions& options, const model::Task& task) {
  const auto longer = options.longer_s.find(task.id);
  return task.duration_s + (longer == options.longer_s.end() ? 0 : longer->second);
}

std::size_t count_own_violations(const Plan& plan) {
  return static_cast<std::size_t>(
      std::count_if(plan.violations.begin(), plan.violations.end(), [](const Violation& v) { return !v.follows; }));
}

const model::Load& load_of_item(const model::Kit& kit, const model::Excursion& excursion, const PlanOptions& options,
                                ItemId item) {
  const auto& file = excursion.items[item.index()];
  const auto other = options.load_of.find(file.id);
  const auto* load = kit.find_load(other == options.load_of.end() ? file.load : other->second);
  model::ensure(load, "the load was found when the excursion was read");
  return *load;
}

bool can_carry_all(const std::vector<const model::Load*>& loads) {
  // Two items of one load are two things: a load that is in one list two times is refused by name alone.
  std::set<const model::Load*> distinct(loads.begin(), loads.end());
  if (distinct.size() < loads.size()) return false;
  try {
    route::check_loads(loads);
  } catch (const model::InputError&) {
    return false;
  }
  return true;
}

Obstacle obstacle_in_socket(const model::Structure& structure, const model::Socket& socket,
                            const model::Configuration& configuration, const Vec3& size_m) {
  const model::Pose pose = structure.frame_of(socket.part, configuration);
  const Vec3 axis = pose.linear() * socket.axis;
  Obstacle obstacle;
  obstacle.size_m = size_m;
  obstacle.box.axes.col(2) = axis;
  obstacle.box.axes.col(0) = axis.unitOrthogonal();
  obstacle.box.axes.col(1) = axis.cross(obstacle.box.axes.col(0));
  obstacle.box.middle = pose * socket.at + axis * (size_m.z() / 2);
  return obstacle;
}

std::vector<GripId> grips_to_handle(const Site& site, const model::Structure& structure, const model::Kit& kit,
                                    double reach_m, const Obstacle& obstacle, std::optional<model::PlaceId> place) {
  const graph::HandrailGraph& graph = *site.graph;
  std::vector<GripId> grips, at_place;
  for (const GripId id : graph.find_grips_within(obstacle.box.middle, obstacle.size_m.norm() / 2 + reach_m)) {
    const auto& grip = graph.grip(id);
    const double hand_m = distance_to_box(obstacle.box, obstacle.size_m, grip.hand);
    if (hand_m > reach_m || hand_m <= 0) continue;
    if (distance_to_box(obstacle.box, obstacle.size_m, graph.body_point(id)) < graph.body().corridor_radius_m) continue;
    if (std::find(obstacle.tied_to.begin(), obstacle.tied_to.end(), grip.rail) != obstacle.tied_to.end() &&
        hand_m <= kit.design.grip_length_m)
      continue;
    grips.push_back(id);
    if (place) {
      const auto& p = structure.places[place->index()];
      if ((grip.hand - structure.position(p, site.configuration)).norm() <= p.within_m) at_place.push_back(id);
    }
  }
  return at_place.empty() ? grips : at_place;
}

void check_starts(Legs& legs, const model::Model& model, const model::Configuration& configuration,
                  const model::Excursion& excursion) {
  for (const auto& member : excursion.crew) {
    const auto& place = model.structure.places[member.start.index()];
    const auto& site = legs.site(configuration, *model.kit.find_suit(member.suit));
    if (!model.structure.is_present(place, configuration) ||
        site.graph->find_grips_within(model.structure.position(place, configuration), place.within_m).empty()) {
      throw model::InputError(
          {{member.mark, "crew", "absent-place",
            fmt::format("crew member \"{}\": no grip is near place \"{}\", where the excursion begins", member.id,
                        place.id),
            place.id, "begin at a place with a rail for hands near it"}});
    }
  }
}

}  // namespace holdfast::plan::detail
