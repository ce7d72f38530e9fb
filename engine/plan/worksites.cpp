// SPDX-License-Identifier: GPL-3.0-or-later
// What a task works on: the setting of the foot restraint that reaches it, the grip from which it is photographed.

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <numbers>

#include "simulator_impl.h"
#include "worksites_impl.h"

namespace holdfast::plan::detail {

namespace {

constexpr double infinity = std::numeric_limits<double>::infinity();

std::string key_of(const Site& site) {
  std::string key = site.suit->id;
  for (const auto& [id, position] : site.configuration.positions) key += " " + id + "=" + position;
  return key;
}

/// Places and sockets.
bool are_all_there(const model::Structure& structure, const std::vector<std::string>& targets,
                   const model::Configuration& configuration) {
  return std::all_of(targets.begin(), targets.end(), [&](const std::string& id) {
    if (const auto place = structure.find_place(id))
      return structure.is_present(structure.places[place->index()], configuration);
    const auto socket = structure.find_socket(id);
    return socket && structure.is_present(structure.sockets[socket->index()], configuration);
  });
}

bool is_as_chosen(const reach::Setting& setting, const model::SettingChoice& choice) {
  constexpr double tolerance = 1e-6;
  const auto is_same_angle = [&](double a, const std::optional<double>& b) {
    return !b || std::abs(std::remainder(a - *b, 2 * std::numbers::pi)) < tolerance;
  };
  return is_same_angle(setting.roll_rad, choice.roll_rad) && is_same_angle(setting.pitch_rad, choice.pitch_rad) &&
         (!choice.height_m || std::abs(setting.height_m - *choice.height_m) < tolerance) &&
         is_same_angle(setting.yaw_rad, choice.yaw_rad);
}

}  // namespace

route::Profile Legs::profile_of(const Site& site) const {
  return {.kit = kit_, .suit = *site.suit, .closures = {site.buried}};
}

const reach::SiteReach& Legs::reach_from(const Site& site, const model::FootRestraint& restraint,
                                         model::SocketId socket, const std::vector<std::string>& targets) {
  std::string key = fmt::format("{}|{}|{}", key_of(site), restraint.id, socket.value);
  for (const auto& target : targets) key += "|" + target;
  const auto known = reaches_.find(key);
  if (known != reaches_.end()) return known->second;
  std::vector<reach::Target> found;
  for (const auto& target : targets) found.push_back(reach::find_target(*site.graph, target));
  return reaches_
      .emplace(std::move(key), reach::evaluate_socket(*site.graph, profile_of(site), restraint, socket, found))
      .first->second;
}

const reach::SiteReach& Legs::reach_at(const Site& site, const std::vector<GripId>& grips,
                                       const std::vector<std::string>& targets) {
  std::string key = key_of(site) + "|grips";
  for (const GripId grip : grips) key += fmt::format(" {}", grip.value);
  for (const auto& target : targets) key += "|" + target;
  const auto known = reaches_.find(key);
  if (known != reaches_.end()) return known->second;
  std::vector<reach::Target> found;
  for (const auto& target : targets) found.push_back(reach::find_target(*site.graph, target));
  return reaches_.emplace(std::move(key), reach::evaluate_grips(*site.graph, profile_of(site), grips, found))
      .first->second;
}

const reach::GripRanking& Legs::photograph_from(const Site& site, model::PatchId patch, const std::string& camera,
                                                const std::vector<GripId>& only) {
  std::string key = fmt::format("{}|{}|{}", key_of(site), patch.value, camera);
  for (const GripId grip : only) key += fmt::format(" {}", grip.value);
  const auto known = rankings_.find(key);
  if (known != rankings_.end()) return known->second;
  std::vector<double> time_s;  // grips that do not count are never got to
  if (!only.empty()) {
    time_s.assign(site.graph->grips().size(), infinity);
    for (const GripId grip : only) time_s[grip.index()] = 0;
  }
  reach::SightRequest request;
  request.from_grips = true;
  request.camera = camera.empty() ? nullptr : kit_.find_camera(camera);
  return rankings_.emplace(std::move(key), reach::rank_grips(*site.graph, profile_of(site), patch, request, time_s))
      .first->second;
}

bool Simulator::are_targets_there(const model::Task& task, const model::Configuration& configuration) const {
  return are_all_there(structure_, task.targets, configuration);
}

/// The figure keeps off what is stowed, and off other restraints.
bool Simulator::is_clear_of_items(const reach::BodyFrame& frame, std::optional<std::size_t> own, const Mover& m) {
  Closings others;
  for (std::size_t i = 0; i < items_.size(); ++i)
    if (items_[i].is_obstacle() && own != i) others.obstacles.push_back(items_[i].obstacle);
  const geometry::Scene* const boxes = legs_.boxes_of(others);
  return !boxes || reach::BodyTester(*boxes, m.suit->figure).clearance(frame).fits();
}

const reach::Station* Simulator::station_for(const Mover& m, const model::Task& task, std::size_t item) {
  const auto* restraint = model_.kit.find_foot_restraint(excursion_.items[item].restraint);
  const auto configuration = configuration_at(m.clock_s);
  if (!restraint || !are_targets_there(task, configuration)) return nullptr;
  const Site& site = legs_.site(configuration, *m.suit);
  const auto& reached = legs_.reach_from(site, *restraint, *task.restraint_in, task.targets);
  const reach::Station* best = nullptr;
  const auto merit = [](const reach::Station& s) {
    return std::tuple(s.is_usable(), s.served(), s.count(reach::Kind::TwoHand), s.count(reach::Kind::OneHand),
                      std::floor(s.clearance.lower_m * 100));
  };
  for (const auto& station : reached.stations)
    if (station.setting && is_as_chosen(*station.setting, task.setting) && (!best || merit(station) > merit(*best)) &&
        is_clear_of_items(station.frame, item, m))
      best = &station;
  return best;
}

void Simulator::note_reach(const Mover& m, const model::Task& task, std::optional<std::size_t> item) {
  if (task.targets.empty()) return;
  TaskReach told;
  told.task = *excursion_.find_task(task.id);
  told.crew = m.id;
  told.at_s = m.clock_s;
  const auto& choice = task.setting;
  told.is_derived = !choice.roll_rad && !choice.pitch_rad && !choice.height_m && !choice.yaw_rad;
  const auto configuration = configuration_at(m.clock_s);
  const reach::Station* station = nullptr;
  if (!are_targets_there(task, configuration)) {
    violate(ViolationKind::Configuration, m.clock_s, &m, task.targets.front()).names = {"absent"};
    return;
  }
  if (task.restraint_in) {
    if (!item) return;  // told: no restraint there
    told.socket = structure_.sockets[task.restraint_in->index()].id;
    told.restraint = excursion_.items[*item].restraint;
    station = station_for(m, task, *item);
    if (station && !station->is_usable()) {
      auto& v = violate(ViolationKind::OutOfReach, m.clock_s, &m, task.id);
      v.other = told.socket;
      v.names = {station->fits() ? "no-way-in" : "collides"};
      if (station->clearance.nearest.part)
        v.names.push_back(structure_.parts[station->clearance.nearest.part->index()].id);
      v.at = station->frame.soles, v.has_at = true;
    } else if (!station) {
      auto& v = violate(ViolationKind::OutOfReach, m.clock_s, &m, task.id);
      v.other = told.socket;
      v.names = {"no-setting"};
    }
  } else if (m.grip) {
    const Site& site = legs_.site(configuration, *m.suit);
    if (const auto grip = find_grip(*site.graph, *m.grip)) {
      const auto& reached = legs_.reach_at(site, {*grip}, task.targets);
      if (reached.best) station = &reached.stations[*reached.best];
    }
  }
  if (station) told.setting = station->setting;
  std::vector<std::string> missed;
  for (std::size_t t = 0; t < task.targets.size(); ++t) {
    TaskReach::Target target{task.targets[t], reach::Kind::OutOfReach, false, 0};
    if (station && station->is_usable() && t < station->targets.size()) {
      target.kind = station->targets[t].kind;
      target.is_served = station->targets[t].is_served;
      target.short_m = station->targets[t].short_m;
    }
    if (!target.is_served) missed.push_back(target.id);
    told.targets.push_back(std::move(target));
  }
  const bool is_told = task.restraint_in && (!station || !station->is_usable());
  if (!missed.empty() && !is_told) {
    auto& v = violate(ViolationKind::OutOfReach, m.clock_s, &m, task.id);
    v.other = told.socket;
    v.names = {"targets"};
    v.names.insert(v.names.end(), missed.begin(), missed.end());
    v.value = static_cast<double>(missed.size());
    v.limit = static_cast<double>(task.targets.size());
    if (station) v.at = station->frame.soles, v.has_at = true;
  }
  // The setting that would do, where another one than asked does better.
  if (!missed.empty() && task.restraint_in && item && !told.is_derived) {
    model::Task free = task;
    free.setting = {};
    if (const auto* better = station_for(m, free, *item);
        better && better->is_usable() && (!station || !station->is_usable() || better->served() > station->served())) {
      told.better = better->setting;
      told.better_serves = better->served();
    }
  }
  plan_.reaches.push_back(std::move(told));
}

std::optional<GripId> choose_work_grip(Legs& legs, const model::Structure& structure, const Site& site,
                                       const model::Task& task, std::optional<GripId> from, const Closings& closings) {
  if (task.restraint_in || (task.targets.empty() && !task.photograph)) return std::nullopt;
  const auto& configuration = site.configuration;
  const OpenTable& open = legs.table(site, route::Objective::Time, closings);
  std::vector<GripId> near;
  if (task.at) {
    const auto& place = structure.places[task.at->index()];
    if (!structure.is_present(place, configuration)) return std::nullopt;
    near = site.graph->find_grips_within(structure.position(place, configuration), place.within_m);
    std::erase_if(near, [&](GripId g) { return !open.is_open[g.index()]; });
    if (near.empty()) return std::nullopt;
  }
  const auto can_get_to = [&](GripId g) {
    if (!open.is_open[g.index()]) return false;
    if (!from || *from == g) return true;
    return legs.find({&site, {}, route::Objective::Time, {*from}, {g}}, closings).leg.has_value();
  };
  if (task.photograph) {
    if (!structure.is_present(structure.patches[task.photograph->index()], configuration)) return std::nullopt;
    for (const auto& sight : legs.photograph_from(site, *task.photograph, task.camera, near).best)
      if (can_get_to(sight.grip)) return sight.grip;
    return std::nullopt;
  }
  if (near.empty() || !are_all_there(structure, task.targets, configuration)) return std::nullopt;
  const auto& reached = legs.reach_at(site, near, task.targets);
  if (!reached.best || !reached.stations[*reached.best].hold) return std::nullopt;
  const GripId grip = reached.stations[*reached.best].hold->grip;
  return can_get_to(grip) ? std::optional(grip) : std::nullopt;
}

std::optional<GripRef> Simulator::work_grip(const Mover& m, const model::Task& task) {
  const Site& site = legs_.site(configuration_at(m.clock_s), *m.suit);
  const auto grip = choose_work_grip(legs_, structure_, site, task, grip_in(m, site), closings());
  return grip ? std::optional(ref_of(*site.graph, *grip)) : std::nullopt;
}

Simulator::Step Simulator::go_to_work(Mover& m, const model::Task& task, std::optional<model::LegAim> by) {
  const auto grip = work_grip(m, task);
  if (!grip) return task.at ? go_to_place(m, *task.at, by) : Step::There;
  const Site& site = legs_.site(configuration_at(m.clock_s), *m.suit);
  const auto found = find_grip(*site.graph, *grip);
  model::ensure(found.has_value(), "a grip that was chosen is there");
  const std::string subject =
      task.at ? structure_.places[task.at->index()].id : structure_.rails[grip->rail.index()].id;
  return go(
      m,
      [&](const Site& now) {
        const auto there = find_grip(*now.graph, *grip);
        return there ? std::vector<GripId>{*there} : std::vector<GripId>{};
      },
      subject, task.at, by, site.graph->grip(*found).hand);
}

void Simulator::note_photograph(const Mover& m, const model::Task& task) {
  if (!task.photograph) return;
  const auto configuration = configuration_at(m.clock_s);
  const auto& patch = structure_.patches[task.photograph->index()];
  const auto tell = [&](const char* why) {
    auto& v = violate(ViolationKind::NotInSight, m.clock_s, &m, task.id);
    v.other = patch.id;
    v.names = {why};
    v.at = m.hand, v.has_at = true;
  };
  if (!structure_.is_present(patch, configuration)) return tell("absent");
  const Site& site = legs_.site(configuration, *m.suit);
  const auto grip = m.grip ? find_grip(*site.graph, *m.grip) : std::nullopt;
  if (!grip) return tell("not-seen");
  const auto& ranking = legs_.photograph_from(site, *task.photograph, task.camera, {*grip});
  if (ranking.best.empty() || ranking.best.front().seen.low <= 0) return tell("not-seen");
  const auto& sight = ranking.best.front();
  for (std::size_t i = 0; i < items_.size(); ++i)
    if (items_[i].is_obstacle() &&
        is_segment_near_box(items_[i].obstacle, sight.eye.at,
                            sight.eye.at + sight.seen.distance_m * sight.eye.direction, 1e-9))
      return tell("item-between");
  Photograph told;
  told.task = *excursion_.find_task(task.id);
  told.crew = m.id;
  told.at_s = m.clock_s;
  told.patch = *task.photograph;
  told.camera = task.camera;
  told.rail = sight.rail, told.hand = m.hand;
  told.is_at_arms_length = sight.is_at_arms_length;
  told.seen_lower = sight.seen.low, told.seen_upper = sight.seen.high;
  told.distance_m = sight.seen.distance_m;
  plan_.photographs.push_back(told);
}

}  // namespace holdfast::plan::detail
