// SPDX-License-Identifier: GPL-3.0-or-later
#include "holdfast/reach/reach.h"

#include <fmt/format.h>
#include <tbb/parallel_for.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <numbers>
#include <tuple>

#include "grip_impl.h"
#include "holdfast/route/grip_rules.h"

namespace holdfast::reach {

using graph::GripId;
using graph::HandrailGraph;
using route::Profile;

namespace {

constexpr double degree = std::numbers::pi / 180;
constexpr double azimuth_step_rad = 2 * std::numbers::pi / lean_count;
/// The body keeps this from structure on its straight line between the grip and the restraint. The body's radius.
constexpr double line_radius_m = 0.25;

/// Whole centimetres, rounded down: what stations and postures are told apart by.
long centimetres(double metres) { return std::lround(std::floor(metres * 100 + 1e-9)); }

struct Posture {
  std::optional<int> lean;
  BodyFrame frame;
  Zones zones;
  std::optional<bool> is_clear;  // judged when it matters
};

/// One station's body with its leaning postures, asked about targets one by one.
class Evaluator {
 public:
  Evaluator(const BodyTester& tester, const BodyFrame& frame, bool may_lean, std::array<bool, 2> free_hands)
      : tester_(tester), free_(free_hands) {
    const auto& figure = tester.figure();
    postures_.push_back({std::nullopt, frame, zones_of(figure, frame), true});
    if (may_lean && figure.sway_rad > 0)
      for (int k = 0; k < lean_count; ++k) {
        const BodyFrame leaning = lean(frame, figure.sway_rad, k * azimuth_step_rad);
        postures_.push_back({k, leaning, zones_of(figure, leaning), std::nullopt});
      }
  }

  TargetReach judge(const Target& target) {
    if (!target.is_there) return {.kind = Kind::NotThere};
    target_ = &target;
    rate();
    TargetReach found = best_of(true);
    if (!found.is_reached()) found = best_of(false);
    if (!found.is_reached()) found = why_not();
    found.is_served = found.kind == Kind::TwoHand || (found.kind == Kind::OneHand && target.hands_needed == 1);
    return found;
  }

 private:
  struct Rating {
    std::array<double, 2> margin{};  // to the boundary of each hand's zone, negative outside
    double two_hand = 0;
    std::array<std::optional<ArmAnswer>, 2> arm;
  };

  void rate() {
    ratings_.assign(postures_.size(), {});
    for (std::size_t i = 0; i < postures_.size(); ++i) {
      for (const Hand hand : both_hands)
        ratings_[i].margin[hand] = -postures_[i].zones.hand[hand].distance_m(target_->at);
      ratings_[i].two_hand = -postures_[i].zones.two_hand_distance_m(target_->at);
    }
  }

  bool is_clear(std::size_t i) {
    auto& posture = postures_[i];
    if (!posture.is_clear) posture.is_clear = tester_.clearance(posture.frame).fits();
    return *posture.is_clear;
  }
  /// Clear of structure, and the target not inside the body.
  bool is_good(std::size_t i) {
    return is_clear(i) && !is_in_solids(tester_.figure(), postures_[i].frame, target_->at);
  }
  const ArmAnswer& arm(std::size_t i, Hand hand) {
    auto& answer = ratings_[i].arm[hand];
    if (!answer) answer = tester_.arm(postures_[i].zones.hand[hand].apex, *target_);
    return *answer;
  }
  bool has_in_zone(std::size_t i, Hand hand) const { return free_[hand] && ratings_[i].margin[hand] >= -tolerance_m; }
  bool does_reach(std::size_t i, Hand hand) { return has_in_zone(i, hand) && arm(i, hand).fault == ArmFault::None; }

  /// The reaching posture that is upright, or has the most margin, or the least azimuth.
  TargetReach best_of(bool two_handed) {
    TargetReach best;
    std::optional<std::size_t> chosen;
    double margin_of_chosen = 0;
    for (std::size_t i = 0; i < postures_.size(); ++i) {
      double margin = -1;
      if (two_handed) {
        if (!(free_[Left] && free_[Right]) || ratings_[i].two_hand < -tolerance_m) continue;
        margin = ratings_[i].two_hand;
      } else {
        for (const Hand hand : both_hands)
          if (has_in_zone(i, hand)) margin = std::max(margin, ratings_[i].margin[hand]);
        if (margin < -tolerance_m) continue;
      }
      if (chosen && centimetres(margin) <= centimetres(margin_of_chosen)) continue;
      if (!is_good(i)) continue;
      const bool left = does_reach(i, Left), right = does_reach(i, Right);
      if (two_handed ? !(left && right) : !(left || right)) continue;
      if (!two_handed) {
        margin = -1;
        for (const Hand hand : both_hands)
          if (hand == Left ? left : right) margin = std::max(margin, ratings_[i].margin[hand]);
        if (chosen && centimetres(margin) <= centimetres(margin_of_chosen)) continue;
      }
      chosen = i, margin_of_chosen = margin;
      best = {};
      best.kind = two_handed ? Kind::TwoHand : Kind::OneHand;
      best.hand_reaches = {left, right};
      best.hand = left && (!right || ratings_[i].margin[Left] > ratings_[i].margin[Right]) ? Left : Right;
      best.lean = postures_[i].lean;
      best.margin_lower_m = std::max(0.0, margin);
      for (const Hand hand : both_hands)
        if (best.hand_reaches[hand])
          for (const auto zone : arm(i, hand).notes)
            if (std::find(best.notes.begin(), best.notes.end(), zone) == best.notes.end()) best.notes.push_back(zone);
      if (!best.lean) break;  // upright goes before any lean
    }
    return best;
  }

  TargetReach why_not() {
    TargetReach why;
    // In a hand's zone, and something in the way: upright first, then the most margin.
    std::optional<double> most;
    for (std::size_t i = 0; i < postures_.size(); ++i) {
      std::optional<Hand> hand;
      for (const Hand h : {Right, Left})
        if (has_in_zone(i, h) && (!hand || ratings_[i].margin[h] > ratings_[i].margin[*hand])) hand = h;
      if (!hand || (most && ratings_[i].margin[*hand] <= *most) || !is_good(i)) continue;
      const ArmAnswer& answer = arm(i, *hand);
      if (answer.fault == ArmFault::None) continue;  // both were needed, and the other one is in the way
      most = ratings_[i].margin[*hand];
      why.kind = answer.fault == ArmFault::Forbidden   ? Kind::Forbidden
                 : answer.fault == ArmFault::FacesAway ? Kind::FacesAway
                                                       : Kind::Blocked;
      why.obstacle = answer.obstacle;
      why.hand = *hand;
      why.lean = postures_[i].lean;
      if (!why.lean) break;
    }
    if (most) return why;
    for (std::size_t i = 0; i < postures_.size(); ++i)
      if (is_in_solids(tester_.figure(), postures_[i].frame, target_->at) && is_clear(i)) {
        why.kind = Kind::TooNear;
        why.lean = postures_[i].lean;
        return why;
      }
    why.short_m = std::numeric_limits<double>::infinity();
    for (std::size_t i = 0; i < postures_.size(); ++i)
      for (const Hand hand : {Right, Left}) {
        const double away = std::max(0.0, -ratings_[i].margin[hand]);
        if (!free_[hand] || away >= why.short_m || !is_clear(i)) continue;
        why.short_m = away, why.hand = hand, why.lean = postures_[i].lean;
      }
    return why;
  }

  const BodyTester& tester_;
  std::array<bool, 2> free_;
  std::vector<Posture> postures_;
  const Target* target_ = nullptr;
  std::vector<Rating> ratings_;
};

void judge_all(Evaluator& evaluator, const std::vector<Target>& targets, Station& station) {
  for (const auto& target : targets) station.targets.push_back(evaluator.judge(target));
}

std::vector<WayIn> ways_in(const BodyTester& tester, const HandrailGraph& graph, const route::GripRules& rules,
                           const BodyFrame& frame, std::size_t most) {
  const auto& figure = tester.figure();
  const Vec3 chest = frame.at(figure.chest_m);
  const Zones zones = zones_of(figure, frame);
  const double radius = figure.one_hand_reach_m +
                        std::max((zones.hand[Left].apex - chest).norm(), (zones.hand[Right].apex - chest).norm()) +
                        tolerance_m;
  std::vector<WayIn> candidates;
  for (const GripId id : graph.find_grips_within(chest, radius))
    for (const Hand hand : {Right, Left})
      if (zones.hand[hand].distance_m(graph.grip(id).hand) <= tolerance_m)
        candidates.push_back(
            {id, graph.grip(id).rail, graph.grip(id).along_m, hand, (graph.body_point(id) - chest).norm()});
  std::stable_sort(candidates.begin(), candidates.end(),
                   [](const WayIn& x, const WayIn& y) { return x.distance_m < y.distance_m; });
  std::vector<WayIn> found;
  for (const auto& way : candidates) {
    if (found.size() >= most) break;
    if (!found.empty() && found.back().grip == way.grip) continue;
    const auto& grip = graph.grip(way.grip);
    if (!rules.is_open(way.grip)) continue;
    if (!tester.is_arm_clear(zones.hand[way.hand].apex, grip.hand + graph.body().glove_m * grip.outward)) continue;
    if (!tester.is_tube_clear(graph.body_point(way.grip), chest, line_radius_m)) continue;
    found.push_back(way);
  }
  return found;
}

Station station_at(const BodyTester& tester, const HandrailGraph& graph, const route::GripRules& rules,
                   const model::FootRestraint& restraint, const SocketPlace& place, const Setting& setting,
                   const std::vector<Target>& targets) {
  Station station;
  station.setting = setting;
  station.frame = frame_in(place, setting);
  station.clearance = tester.clearance(station.frame, restraint, place, setting);
  if (!station.fits()) return station;
  Evaluator evaluator(tester, station.frame, true, {true, true});
  judge_all(evaluator, targets, station);
  const auto ways = ways_in(tester, graph, rules, station.frame, 1);
  if (!ways.empty()) station.way_in = ways.front();
  station.notes = tester.body_notes(station.frame);
  return station;
}

Station hold_at(const BodyTester& tester, const HandrailGraph& graph, const FreeHold& hold,
                const std::vector<Target>& targets) {
  const auto& grip = graph.grip(hold.grip);
  const auto& figure = tester.figure();
  Station station;
  station.hold = hold;
  station.frame.up =
      Eigen::AngleAxisd(hold.azimuth * azimuth_step_rad, grip.stance) * detail::rail_direction(graph, grip);
  station.frame.forward = -grip.stance;
  station.frame.soles = graph.body_point(hold.grip) - figure.chest_m * station.frame.up;
  station.clearance = tester.clearance(station.frame);
  if (!station.fits()) return station;
  const Zones zones = zones_of(figure, station.frame);
  const HandZone& holding = zones.hand[hold.holds];
  if (holding.distance_m(grip.hand) > tolerance_m ||
      !tester.is_arm_clear(holding.apex, grip.hand + graph.body().glove_m * grip.outward)) {
    station.can_hold = false;
    return station;
  }
  Evaluator evaluator(tester, station.frame, false, {hold.holds != Left, hold.holds != Right});
  judge_all(evaluator, targets, station);
  station.notes = tester.body_notes(station.frame);
  return station;
}

/// Greater is better (design.md 17): what it serves and reaches, then room, then margin.
auto merit(const Station& station) {
  double least = std::numeric_limits<double>::infinity();
  for (const auto& target : station.targets)
    if (target.is_reached()) least = std::min(least, target.margin_lower_m);
  const std::size_t two = station.count(Kind::TwoHand);
  return std::tuple(station.is_usable(), station.served(), two, two + station.count(Kind::OneHand),
                    centimetres(station.clearance.lower_m), std::isfinite(least) ? centimetres(least) : -1);
}

/// `depth_of`: of a station that does not fit.
template <class DepthOf>
void choose(const BodyTester& tester, const HandrailGraph& graph, const Profile& profile, DepthOf&& depth_of,
            SiteReach& site) {
  for (std::size_t i = 0; i < site.stations.size(); ++i)
    if (site.stations[i].fits() && site.stations[i].can_hold &&
        (!site.best || merit(site.stations[i]) > merit(site.stations[*site.best])))
      site.best = i;
  if (site.best) {
    const auto& frame = site.stations[*site.best].frame;
    site.axis_distance_m = tester.axis_distance_m(frame);
    const Vec3 chest = frame.at(tester.figure().chest_m);
    for (const GripId id : graph.find_grips_within(chest, profile.kit.design.worksite_handhold_m))
      site.handhold_beside[(graph.grip(id).hand - chest).dot(frame.left()) >= 0 ? Left : Right] = true;
    return;
  }
  for (std::size_t i = 0; i < site.stations.size(); ++i) {
    if (site.stations[i].fits()) continue;
    const Depth depth = depth_of(site.stations[i]);
    const auto key = [](const Depth& d) { return std::pair(d.is_at_least, d.value_m); };
    if (!site.least_depth || key(depth) < key(site.least_depth->depth)) site.least_depth = {i, depth};
  }
}

}  // namespace

std::size_t Station::served() const {
  return static_cast<std::size_t>(
      std::count_if(targets.begin(), targets.end(), [](const TargetReach& t) { return t.is_served; }));
}
std::size_t Station::count(Kind kind) const {
  return static_cast<std::size_t>(
      std::count_if(targets.begin(), targets.end(), [&](const TargetReach& t) { return t.kind == kind; }));
}
std::size_t SiteReach::fitting() const {
  return static_cast<std::size_t>(
      std::count_if(stations.begin(), stations.end(), [](const Station& s) { return s.fits(); }));
}

std::vector<WayIn> find_ways_in(const HandrailGraph& graph, const Profile& profile, const BodyFrame& frame,
                                std::size_t most) {
  return ways_in(BodyTester(graph.scene(), profile.suit.figure), graph, route::GripRules(graph, profile.closures),
                 frame, most);
}

Station evaluate_setting(const HandrailGraph& graph, const Profile& profile, const model::FootRestraint& restraint,
                         model::SocketId socket, const Setting& setting, const std::vector<Target>& targets) {
  const auto& structure = graph.structure();
  const BodyTester tester(graph.scene(), profile.suit.figure);
  return station_at(tester, graph, route::GripRules(graph, profile.closures), restraint,
                    place_of(structure, structure.sockets[socket.index()], graph.scene().configuration()), setting,
                    targets);
}

SocketStanding standing_of(const geometry::Scene& scene, const model::Socket& socket) {
  const SocketPlace place = place_of(scene.structure(), socket, scene.configuration());
  if (scene.distance(place.at + socket_near_m * place.axis, 1) <= 0) return SocketStanding::InSolid;
  return scene.distance(place.at, socket_near_m) >= socket_near_m ? SocketStanding::OffStructure
                                                                  : SocketStanding::Sound;
}

SiteReach evaluate_socket(const HandrailGraph& graph, const Profile& profile, const model::FootRestraint& restraint,
                          model::SocketId id, const std::vector<Target>& targets) {
  const auto& structure = graph.structure();
  const auto& scene = graph.scene();
  const auto& socket = structure.sockets[id.index()];
  SiteReach site;
  site.site = socket.id;
  site.socket = id;
  site.is_there = structure.is_present(socket, scene.configuration());
  if (!site.is_there) return site;
  const SocketPlace place = place_of(structure, socket, scene.configuration());
  const SocketStanding standing = standing_of(scene, socket);
  site.is_off_structure = standing == SocketStanding::OffStructure;
  if (standing == SocketStanding::InSolid && scene.configuration() == structure.default_configuration())
    throw model::InputError({{socket.mark, "", "in-solid",
                              fmt::format("socket \"{}\": the point {} m off it along its axis lies in structure",
                                          socket.id, socket_near_m),
                              socket.id, "put it on a surface, with its axis pointing outward"}});
  const auto settings = find_settings(socket, restraint);
  site.stations.resize(settings.size());
  const BodyTester tester(scene, profile.suit.figure);
  const route::GripRules rules(graph, profile.closures);
  tbb::parallel_for(std::size_t{0}, settings.size(), [&](std::size_t i) {
    site.stations[i] = station_at(tester, graph, rules, restraint, place, settings[i], targets);
  });
  choose(
      tester, graph, profile,
      [&](const Station& station) { return tester.depth(station.frame, restraint, place, *station.setting); }, site);
  return site;
}

SiteReach evaluate_grips(const HandrailGraph& graph, const Profile& profile, const std::vector<GripId>& grips,
                         const std::vector<Target>& targets) {
  SiteReach site;
  std::vector<FreeHold> holds;
  const route::GripRules rules(graph, profile.closures);
  for (const GripId grip : grips) {
    if (!rules.is_open(grip)) continue;
    for (int azimuth = 0; azimuth < lean_count; ++azimuth)
      for (const Hand hand : {Right, Left})
        holds.push_back({grip, graph.grip(grip).rail, graph.grip(grip).along_m, azimuth, hand});
  }
  site.stations.resize(holds.size());
  const BodyTester tester(graph.scene(), profile.suit.figure);
  tbb::parallel_for(std::size_t{0}, holds.size(),
                    [&](std::size_t i) { site.stations[i] = hold_at(tester, graph, holds[i], targets); });
  choose(
      tester, graph, profile, [&](const Station& station) { return tester.depth(station.frame); }, site);
  return site;
}

namespace {

[[noreturn]] void refuse(std::string code, std::string problem, const std::string& value, std::string remedy) {
  throw model::InputError({{{}, "", std::move(code), std::move(problem), value, std::move(remedy)}});
}

model::SocketId find_socket(const model::Structure& structure, const std::string& id) {
  if (const auto found = structure.find_socket(id)) return *found;
  std::vector<std::string> known;
  for (const auto& socket : structure.sockets) known.push_back(socket.id);
  const auto near = model::nearest_names(id, known, 1);
  refuse("unknown-socket", fmt::format("socket \"{}\" is not in this model", id), id,
         !near.empty()   ? fmt::format("did you mean {}?", near.front())
         : known.empty() ? "this model has no sockets; list them in structure.yaml, or ask from a grip with --at"
                         : fmt::format("its sockets: {}", fmt::join(known, ", ")));
}

/// Where one is at a place, a socket, a rail or a point. Throws as `route::find_point`.
std::vector<GripId> grips_at(const HandrailGraph& graph, const std::string& text) {
  const auto& structure = graph.structure();
  const Vec3 at = route::find_point(graph, text);
  if (const auto place = structure.find_place(text))
    return graph.find_grips_within(at, structure.places[place->index()].within_m);
  if (structure.find_socket(text)) return graph.find_grips_within(at, model::Socket::within_m);
  if (const auto rail = structure.find_rail(text)) {
    std::vector<GripId> grips;
    const auto [first, last] = graph.grips_of(*rail);
    for (std::uint32_t g = first; g < last; ++g) grips.emplace_back(g);
    return grips;
  }
  return graph.find_grips_within(at, route::RouteRequest{}.point_radius_m);
}

void note_constants(route::Answer& head, const model::Figure& f, const model::FootRestraint* restraint) {
  const auto add = [&](const char* name, const char* unit, model::Quantity quantity, double factor = 1) {
    quantity.value *= factor;
    if (quantity.spread) quantity.spread = {quantity.spread->first * factor, quantity.spread->second * factor};
    head.used.push_back({name, unit, std::move(quantity)});
  };
  add("suited height", "m", f.height_m);
  add("hips above the soles", "m", f.hips_m);
  add("chest above the soles", "m", f.chest_m);
  add("shoulders above the soles", "m", f.shoulders_m);
  add("between the shoulder joints", "m", f.shoulder_breadth_m);
  add("radius of the body", "m", f.body_radius_m);
  add("breadth of the trunk", "m", f.breadth_m);
  add("depth in front of the body axis", "m", f.depth_front_m);
  add("depth behind it, with backpack", "m", f.depth_back_m);
  add("sway of the body, boots held", "deg", f.sway_rad, 1 / degree);
  add("two-hand zone in front of the chest", "m", f.two_hand_out_m);
  add("radius of the two-hand zone", "m", f.two_hand_radius_m);
  add("one-hand reach", "m", f.one_hand_reach_m);
  add("half angle of the shoulder's cone", "deg", f.shoulder_half_angle_rad, 1 / degree);
  add("cone turned outward", "deg", f.shoulder_outward_rad, 1 / degree);
  add("cone turned down", "deg", f.shoulder_down_rad, 1 / degree);
  add("radius of the arm", "m", f.arm_radius_m);
  add("hand beyond the wrist", "m", f.hand_m);
  if (!restraint) return;
  const auto list = [&](const std::string& name, const char* unit, const model::QuantityList& values, double factor) {
    const auto add_value = [&](const std::string& which, double value) {
      head.used.push_back({name + which, unit, {value * factor, values.source, values.confidence}});
    };
    if (values.values.size() == 1) return add_value("", values.values.front());
    add_value(", least", values.values.front());
    add_value(", most", values.values.back());
  };
  list("pitch of the restraint", "deg", restraint->pitch_rad, 1 / degree);
  list("height of the restraint", "m", restraint->height_m, 1);
  list("yaw of the restraint", "deg", restraint->yaw_rad, 1 / degree);
  const auto& size = restraint->footprint_m;
  head.used.push_back({"plate, forward", "m", {size.values[0], size.source, size.confidence}});
  head.used.push_back({"plate, side", "m", {size.values[1], size.source, size.confidence}});
  add("to get into the restraint", "s", restraint->enter_s);
  add("to get out of it", "s", restraint->leave_s);
  add("to change its setting", "s", restraint->change_s);
}

/// A route to a grip of the station; the way in is the first that one leads to.
void find_route(const HandrailGraph& graph, const Profile& profile, const ReachRequest& request, ReachAnswer& answer) {
  auto& site = answer.sites.front();
  auto& station = site.stations[*site.best];
  std::vector<WayIn> ways;
  if (station.hold)
    ways.push_back({station.hold->grip, station.hold->rail, station.hold->along_m, station.hold->holds, 0});
  else
    ways = find_ways_in(graph, profile, station.frame, 8);
  std::optional<route::Answer> told;  // the first refusal, until there is a route
  for (const auto& way : ways) {
    auto found = detail::find_route_to(graph, profile, request.from, way.grip);
    if (!found) continue;  // no route ends on this side of the rail
    const auto* route = found->route();
    if (!route) {
      if (!told) told = std::move(found);
      continue;
    }
    if (!station.hold) station.way_in = way;
    answer.arrive_s = route->time_s + (station.hold ? 0 : request.restraint->enter_s.value);
    told = std::move(found);
    break;
  }
  if (!told) return;
  told->used.insert(told->used.end(), answer.head.used.begin(), answer.head.used.end());
  answer.head = std::move(*told);
  answer.has_route = true;
}

}  // namespace

ReachAnswer find_reach(const HandrailGraph& graph, const Profile& profile, const ReachRequest& asked) {
  const auto& structure = graph.structure();
  ReachRequest request = asked;
  ReachAnswer answer;
  const std::string here = request.sockets.empty() ? request.at : request.sockets.front();
  route::RouteRequest none;
  none.from = none.to = here;
  std::vector<model::SocketId> sockets;
  for (const auto& id : request.sockets) sockets.push_back(find_socket(structure, id));
  if (!sockets.empty() && !request.restraint) {
    if (profile.kit.foot_restraints.empty())
      refuse("unknown-kit", "the kit has no foot restraint, and sockets take nothing else", here,
             "add one under `foot_restraints:` in kit.yaml, or ask from a grip with --at");
    request.restraint = &profile.kit.foot_restraints.front();
  }
  answer.head = route::Answer{route::begin_answer(graph, profile, none)};
  // Only what this answer uses: a route, where one is asked for, brings the mover's constants back.
  answer.head.used.clear();
  note_constants(answer.head, profile.suit.figure, request.restraint);
  if (request.restraint) answer.restraint = request.restraint->id;
  if (request.targets.empty())
    answer.targets = find_all_targets(graph);
  else
    for (const auto& text : request.targets) answer.targets.push_back(find_target(graph, text));
  if (answer.targets.empty())
    refuse("unknown-place", "this model has no connectors and no worksites", "", "name targets with --for");
  for (const auto id : sockets)
    answer.sites.push_back(evaluate_socket(graph, profile, *request.restraint, id, answer.targets));
  if (sockets.empty()) {
    auto site = evaluate_grips(graph, profile, grips_at(graph, request.at), answer.targets);
    site.site = request.at;
    answer.sites.push_back(std::move(site));
  }
  answer.smallest = find_smallest_set(answer.sites, answer.targets.size());
  if (!request.from.empty() && !answer.sites.empty() && answer.sites.front().best)
    find_route(graph, profile, request, answer);
  return answer;
}

}  // namespace holdfast::reach
