// SPDX-License-Identifier: GPL-3.0-or-later
// Legs within an excursion: found, put into time beside holds, throws and the other body, and followed by the tether.

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>

#include "pieces_impl.h"
#include "simulator_impl.h"

namespace holdfast::plan::detail {

using graph::HandrailGraph;
using route::Objective;

namespace {

constexpr double infinity = std::numeric_limits<double>::infinity();
constexpr double noise_s = 1e-9;

/// Farthest corner of what is carried beside, from the body's axis point; the corridor radius where that is more.
double radius_of(const model::Suit& suit, const std::vector<const model::Load*>& loads) {
  double radius_m = suit.corridor_radius_m();
  for (const auto* load : loads)
    for (std::size_t c = 0; c < load->carrying_count(); ++c) {
      const model::Load carried = load->carried(c);
      if (carried.how == model::CarriedHow::InTow) continue;
      radius_m = std::max(radius_m, (carried.offset_m.cwiseAbs() + carried.size_m / 2).norm());
    }
  return radius_m;
}

/// What trails behind the body of what is in tow: the tow and half the box.
double trail_of(const std::vector<const model::Load*>& loads) {
  double trail_m = 0;
  for (const auto* load : loads)
    for (std::size_t c = 0; c < load->carrying_count(); ++c) {
      const model::Load carried = load->carried(c);
      if (carried.how == model::CarriedHow::InTow)
        trail_m = std::max(trail_m, carried.tow_length_m + carried.size_m.norm() / 2);
    }
  return trail_m;
}

/// Half the diagonal of what is in tow.
double tow_radius_of(const std::vector<const model::Load*>& loads) {
  double radius_m = 0;
  for (const auto* load : loads)
    for (std::size_t c = 0; c < load->carrying_count(); ++c)
      if (const model::Load carried = load->carried(c); carried.how == model::CarriedHow::InTow)
        radius_m = std::max(radius_m, carried.size_m.norm() / 2);
  return radius_m;
}

}  // namespace

std::vector<Vec3> Simulator::path_of(const HandrailGraph& graph, MoveId id, GripId from, double& off_m) {
  constexpr int pieces = move_points - 1;
  const graph::Move& move = graph.move(id);
  std::vector<Vec3> points;
  for (int i = 0; i <= pieces; ++i) {
    const double t = static_cast<double>(i) / pieces;
    points.push_back(graph.body_at(id, move.a == from ? t : 1 - t));
  }
  // The path is a straight line and an arc of the stand-off; the stance turns by no more than the outward directions do
  // and two leans.
  const double turn_rad = std::acos(std::clamp(graph.grip(move.a).stance.dot(graph.grip(move.b).stance), -1.0, 1.0));
  off_m = graph.body().stand_off_m * (1 - std::cos(turn_rad / (2 * pieces)));
  return points;
}

Closings Simulator::closings() const {
  Closings closings;
  closings.rails = options_.closed;
  for (const ItemState& item : items_)
    if (item.is_obstacle()) closings.obstacles.push_back(item.obstacle);
  return closings;
}

Vec3 Simulator::place_at(PlaceId place, double t) const {
  return structure_.position(structure_.places[place.index()], configuration_at(t));
}

std::optional<GripId> Simulator::grip_in(const Mover& m, const Site& site) const {
  if (!m.grip) return std::nullopt;
  if (const auto grip = find_grip(*site.graph, *m.grip)) return grip;
  return site.graph->find_nearest_grip(m.hand);
}

std::vector<PlaceBall> Simulator::balls(const Mover& m, std::optional<PlaceId> to) const {
  std::vector<PlaceBall> balls;
  for (const auto& place : {m.place, to})
    if (place)
      balls.push_back({place->index(), place_at(*place, m.clock_s), structure_.places[place->index()].within_m});
  return balls;
}

void Simulator::rest(Mover& m, double until_s) {
  if (!m.is_out || !m.grip || m.is_inside || until_s <= m.clock_s) return;
  Occupied o;
  o.from_s = m.clock_s, o.to_s = until_s;
  o.body = {m.body};
  if (m.restraint) {
    const auto& socket = structure_.sockets[m.restraint->index()];
    const model::Pose pose = structure_.frame_of(socket.part, configuration_at(m.clock_s));
    const Vec3 foot = pose * socket.at, axis = pose.linear() * socket.axis;
    if (m.frame) {
      o.body = {m.frame->soles, m.frame->at(m.suit->figure.height_m)};
      o.helmet = m.frame->at(m.suit->figure.helmet_m());
    } else {
      o.body = {foot, foot + shoulder_height_m * axis};
      o.helmet = foot + m.suit->figure.helmet_m() * axis;
    }
  }
  o.hands = {m.hand};
  o.radius_m = radius_of(*m.suit, loads_of(m));
  o.business = balls(m, std::nullopt);
  m.occupied.push_back(std::move(o));
}

void Simulator::note_moment(Mover& m, double at_s, const GripRef& grip, std::optional<GripRef> next, double move_s,
                            bool is_stop) {
  Moment moment;
  moment.at_s = at_s;
  moment.row = plan_.rows.size();
  moment.crew = m.id;
  moment.grip = grip;
  moment.next = std::move(next);
  moment.move_s = move_s;
  moment.is_stop = is_stop;
  if (is_stop) moment.place = m.place;
  for (const ItemId item : m.carried) {
    const auto* load = legs_.heavier(load_of(item), content_kg(item));
    moment.carried.push_back(load);
    if (excursion_.items[item.index()].keep) moment.kept.push_back(load);
  }
  moment.in_restraint = m.restraint.has_value();
  moment.tethers_left = m.tethers.empty() ? 0 : m.tethers.size() - 1;
  history.moments.push_back(std::move(moment));
}

std::vector<double> Simulator::schedule(const Mover& m, const FoundLeg& leg) const {
  std::vector<double> starts;
  double t = m.clock_s;
  for (const TimedMove& move : leg.moves) {
    t = free_of_holds(m, t, move.time_s, true);
    starts.push_back(t);
    t += move.time_s;
  }
  return starts;
}

std::vector<Occupied> Simulator::occupied_by(const Mover& m, const Site& site, const FoundLeg& leg,
                                             const std::vector<double>& starts, std::optional<PlaceId> to,
                                             double until_s) {
  const auto loads = loads_of(m);
  const double radius_m = radius_of(*m.suit, loads), trail_m = trail_of(loads), tow_radius_m = tow_radius_of(loads);
  const auto business = balls(m, to);
  const HandrailGraph& graph = *site.graph;
  std::vector<Occupied> out;
  std::vector<Vec3> gone;  // of the whole leg so far
  double off_m = 0;
  double free_s = m.clock_s;
  const auto stand = [&](GripId grip, double from_s, double to_s) {
    if (to_s <= from_s + noise_s) return;
    Occupied o{from_s, to_s, false, {graph.body_point(grip)}, 0, {graph.grip(grip).hand}, radius_m, business};
    out.push_back(std::move(o));
  };
  for (std::size_t i = 0; i < leg.moves.size(); ++i) {
    stand(leg.grips[i], free_s, starts[i]);
    double this_off_m = 0;
    const auto path = path_of(graph, leg.moves[i].move, leg.grips[i], this_off_m);
    off_m = std::max(off_m, this_off_m);
    gone.insert(gone.end(), path.begin(), path.end());
    Occupied o{starts[i],   starts[i] + leg.moves[i].time_s, true, {}, off_m, {}, radius_m, business, std::nullopt,
               tow_radius_m};
    double length_m = 0;
    std::size_t first = gone.size() - path.size();
    while (first > 0 && length_m < trail_m) length_m += (gone[first] - gone[first - 1]).norm(), --first;
    o.body.assign(gone.begin() + static_cast<std::ptrdiff_t>(first), gone.end());
    o.hands = {graph.grip(leg.grips[i]).hand, graph.grip(leg.grips[i + 1]).hand};
    free_s = o.to_s;
    out.push_back(std::move(o));
  }
  stand(leg.grips.back(), free_s, until_s);
  return out;
}

/// Is the leg's path there and open when the throw is under way and after it?
bool Simulator::stays_open(const Mover& m, const Site& from, const FoundLeg& leg, const Throw& change) {
  const Site& site = legs_.site(change.after, *m.suit);
  const OpenTable& open = legs_.table(site, Objective::Time, closings());
  std::optional<GripId> last;
  for (std::size_t i = 0; i < leg.grips.size(); ++i) {
    const auto grip = find_grip(*site.graph, ref_of(*from.graph, leg.grips[i]));
    if (!grip || !open.is_open[grip->index()] || rail_differs(from.graph->grip(leg.grips[i]).rail, change))
      return false;
    if (last) {
      const auto move = site.graph->find_move(*last, *grip);
      if (!move || open.costs[move->index()].is_blocked()) return false;
    }
    last = grip;
  }
  // What is carried was fitted to the structure before the throw alone.
  return m.carried.empty();
}

void Simulator::pull_tight(Mover& m) {
  if (!m.line.reel || m.line.slack.empty()) return;
  legs_.pull(*m.line.reel, *m.reel_scene, m.line.slack);
  m.line.out_upper_m = m.line.reel->line().length_m;
  m.line.slack.clear();
}

void Simulator::follow_tether(Mover& m, const Site& site, const FoundLeg& leg, Row& row) {
  if (m.tethers.empty() || !m.has_line) return;
  const TetherOn& on = m.tethers.back();
  const HandrailGraph& graph = *site.graph;
  const auto lose = [&](const std::string& why, const Vec3& at) {
    auto& v = violate(ViolationKind::Tether, row.from_s, &m, on.tether->id);
    v.other = structure_.anchors[on.anchor].id;
    v.names = {why};
    v.at = at, v.has_at = true;
    m.has_line = false;
    m.line.reel.reset();
  };
  if (!m.line.reel) {
    try {
      const Vec3 body = graph.body_point(leg.grips.front());
      const auto hook = route::find_hook(graph, structure_.anchors[on.anchor].id, body);
      if (!route::is_line_clear(*site.scene, hook.line_end, body)) return lose("no-free-line", hook.at);
      m.line.reel.emplace(*site.scene, hook.line_end);
      m.reel_scene = site.scene;
      m.line.slack.clear();
      m.line.out_upper_m = m.line.reel->go(std::vector<Vec3>{body}).length_m;
    } catch (const model::InputError&) {
      return lose("no-anchor", Vec3::Zero());
    }
  } else if (m.reel_scene != site.scene) {
    pull_tight(m);
    const std::vector<Vec3> line = m.line.reel->line().points;
    for (std::size_t i = 0; i + 1 < line.size(); ++i)
      // The line lies closer to structure than a free one keeps: only what reaches through it was moved into it.
      if (site.scene->hull_distance(std::array{line[i], line[i + 1]}, 0.01) <= 0)
        return lose("structure-moved", line[i]);
    m.line.reel.emplace(*site.scene, line.front());
    m.reel_scene = site.scene;
    m.line.out_upper_m = m.line.reel->go(std::vector<Vec3>(line.begin() + 1, line.end())).length_m;
  }
  const auto out_m = pay_out(m.line, site, leg, on.tether->length_m);
  const auto most = std::max_element(out_m.begin(), out_m.end());
  const double most_m = *most;
  const Vec3 at = graph.grip(leg.grips[static_cast<std::size_t>(most - out_m.begin())]).hand;
  row.tether_out_m = most_m;
  if (most_m > on.tether->length_m) {
    auto& v = violate(ViolationKind::Tether, row.from_s, &m, on.tether->id);
    v.other = structure_.anchors[on.anchor].id;
    v.value = most_m, v.limit = on.tether->length_m;
    v.at = at, v.has_at = true;
  }
}

void Simulator::take_leg(Mover& m, const Site& site, const FoundLeg& leg, const std::vector<double>& starts,
                         const std::string& subject, std::optional<PlaceId> place) {
  const HandrailGraph& graph = *site.graph;
  const double end_s = leg.moves.empty() ? m.clock_s : starts.back() + leg.moves.back().time_s;
  auto taken = occupied_by(m, site, leg, starts, place, end_s);
  m.occupied.insert(m.occupied.end(), taken.begin(), taken.end());
  const double from_s = m.clock_s;
  const auto arrives_s = [&](std::size_t i) { return i == 0 ? from_s : starts[i - 1] + leg.moves[i - 1].time_s; };
  for (std::size_t i = 0; i < leg.moves.size(); ++i) {
    if (starts[i] > arrives_s(i) + noise_s)
      note_moment(m, arrives_s(i), ref_of(graph, leg.grips[i]), std::nullopt, 0, false);
    note_moment(m, starts[i], ref_of(graph, leg.grips[i]), ref_of(graph, leg.grips[i + 1]), leg.moves[i].time_s, false);
  }
  Row& row = add_row(m, RowKind::Translation, What::Go, end_s - m.clock_s, subject);
  for (std::size_t i = 0; i < leg.grips.size(); ++i) {
    const auto& grip = graph.grip(leg.grips[i]);
    row.path.push_back(
        {grip.rail, grip.hand, graph.body_point(leg.grips[i]), arrives_s(i), i < starts.size() ? starts[i] : end_s});
  }
  row.distance_m = leg.distance_m;
  row.moves = leg.moves.size();
  m.grip = ref_of(graph, leg.grips.back());
  m.hand = graph.grip(leg.grips.back()).hand;
  m.body = graph.body_point(leg.grips.back());
  row.hand = m.hand;
  m.place = place;
  follow_tether(m, site, leg, row);
}

void Simulator::assume_leg(Mover& m, const Site& site, const LegQuestion& question, const NoLeg& none,
                           const std::string& subject, std::optional<PlaceId> place, const Vec3& where) {
  const HandrailGraph& graph = *site.graph;
  auto causes = none.causes;
  route::Profile profile{.kit = legs_.kit(), .suit = *m.suit, .closures = {options_.closed}};
  profile.closures.rails.insert(profile.closures.rails.end(), site.buried.begin(), site.buried.end());
  if (causes.empty() && m.grip && place) {
    try {
      route::RouteRequest request{.from = text_of(m.hand), .to = structure_.places[place->index()].id};
      request.point_radius_m = 1e-5;
      const auto answer = route::find_route(graph, profile, request);
      if (answer.no_route()) causes = answer.no_route()->causes;
    } catch (const model::InputError&) {
      // The place is not there, which is told by itself.
    }
  }
  double time_s = 0;
  for (const auto& cause : causes)
    if (cause.opens_alone && (time_s == 0 || cause.then_time_s < time_s)) time_s = cause.then_time_s;
  const Vec3 start = m.grip ? m.hand : place_at(m.file->start, m.clock_s);
  if (time_s == 0) time_s = (where - start).norm() / m.suit->rate_loaded_m_s + m.suit->start_s + m.suit->stop_s;
  auto& v = violate(ViolationKind::NoRoute, m.clock_s, &m, subject);
  v.causes = std::move(causes);
  v.value = time_s;
  v.at = where, v.has_at = true;
  if (!none.is_certain) v.names = {"not-proven"};
  if (v.causes.empty()) {
    for (std::size_t i = 0; i < items_.size(); ++i)
      if (items_[i].is_obstacle()) v.names.push_back(excursion_.items[i].id);
  } else if (const auto& cause = v.causes.front(); cause.kind == route::CauseKind::LoadTooTight && !cause.part) {
    // It is a box that stands in the load's way.
    double nearest_m = infinity;
    for (std::size_t i = 0; i < items_.size(); ++i)
      if (const auto& o = items_[i].obstacle; items_[i].is_obstacle())
        if (const double d = distance_to_box(o.box, o.size_m, cause.at); d < nearest_m)
          nearest_m = d, v.other = excursion_.items[i].id;
  }
  std::optional<GripId> end;
  double nearest_m = infinity;
  for (const GripId g : question.to)
    if (const double d = (graph.grip(g).hand - where).norm(); d < nearest_m) nearest_m = d, end = g;
  if (!end) end = graph.find_nearest_grip(where);
  Row& row = add_row(m, RowKind::Translation, What::Go, time_s, subject);
  if (end) {
    m.grip = ref_of(graph, *end), m.hand = graph.grip(*end).hand, m.body = graph.body_point(*end);
    row.hand = m.hand;
  }
  m.place = place;
  m.line.reel.reset();
  if (!m.tethers.empty()) m.has_line = false;
}

/// The leg's path with waits on it, or any path of the open table, beside what the other takes up.
std::optional<TimedLeg> Simulator::find_among(const Mover& m, const Site& site, const LegQuestion& question,
                                              const FoundLeg& leg, const OpenTable& open,
                                              const std::vector<Occupied>& theirs, std::optional<PlaceId> place,
                                              bool may_go_round) {
  if (leg.moves.empty()) return std::nullopt;
  const HandrailGraph& graph = *site.graph;
  TimedQuestion timed;
  timed.start_s = m.clock_s;
  for (const HoldTime& hold : holds_)
    if (std::find(hold.crew.begin(), hold.crew.end(), m.id) != hold.crew.end())
      timed.still.push_back({hold.from_s, hold.to_s});
  const auto loads = loads_of(m);
  const double radius_m = radius_of(*m.suit, loads);
  const auto business = balls(m, place);
  timed.from = {leg.grips.front()};
  timed.to = may_go_round ? question.to : std::vector<GripId>{leg.grips.back()};
  std::map<MoveId, std::size_t> along;
  for (std::size_t i = 0; i < leg.moves.size(); ++i) along[leg.moves[i].move] = i;
  const route::Profile profile{.kit = legs_.kit(), .suit = *m.suit, .closures = {options_.closed}};
  const route::Pace pace = route::pace_of(profile);
  std::vector<Occupied> taken;  // of the path's moves, with what trails behind
  if (may_go_round) {
    timed.first_s = pace.start_s * m.factor, timed.last_s = pace.stop_s * m.factor;
    timed.move_s = [&](MoveId move, GripId) -> std::optional<double> {
      if (open.costs[move.index()].is_blocked()) return std::nullopt;
      return route::compute_move_time(graph.move(move), pace).sum_s() * m.factor;
    };
  } else {
    taken = occupied_by(m, site, leg, schedule(m, leg), place, m.clock_s);
    std::erase_if(taken, [](const Occupied& o) { return !o.moves; });
    timed.move_s = [&](MoveId move, GripId from) -> std::optional<double> {
      const auto i = along.find(move);
      if (i == along.end() || leg.grips[i->second] != from) return std::nullopt;
      return leg.moves[i->second].time_s;
    };
  }
  timed.resting = [&](GripId grip) {
    return Occupied{0, 0, false, {graph.body_point(grip)}, 0, {graph.grip(grip).hand}, radius_m, business};
  };
  timed.moving = [&](MoveId move, GripId from) {
    if (!may_go_round) return taken[along.at(move)];
    Occupied o{0, 0, true, {}, 0, {}, radius_m, business};
    o.body = path_of(graph, move, from, o.off_m);
    o.hands = {graph.grip(graph.move(move).a).hand, graph.grip(graph.move(move).b).hand};
    return o;
  };
  return find_timed_leg(graph, timed, theirs);
}

FoundLeg Simulator::leg_of(const Site& site, const TimedLeg& timed) {
  FoundLeg leg;
  leg.grips = timed.grips;
  for (std::size_t i = 0; i < timed.moves.size(); ++i) {
    leg.moves.push_back({timed.moves[i], timed.times_s[i]});
    leg.time_s += timed.times_s[i];
    leg.distance_m += site.graph->move(timed.moves[i]).way_m;
  }
  return leg;
}

Simulator::Step Simulator::go(Mover& m, const Targets& targets, const std::string& subject,
                              std::optional<PlaceId> place, std::optional<model::LegAim> by, const Vec3& where,
                              bool is_whole_place) {
  if (const Throw* now = throw_during(m.clock_s)) {
    wait_until(m, now->to_s, What::WaitEvent, excursion_.events[now->event.index()].id);
    return Step::Moved;
  }
  const Site& site = legs_.site(configuration_at(m.clock_s), *m.suit);
  const HandrailGraph& graph = *site.graph;
  LegQuestion question;
  question.site = &site;
  question.loads = loads_of(m);
  question.by = objective_of(by.value_or(m.file->by.value_or(excursion_.by.value_or(model::LegAim::Time))));
  question.to = targets(site);
  const auto all_targets = question.to;
  const OpenTable& open = legs_.table(site, question.by, closings());
  if (const auto grip = grip_in(m, site)) {
    question.from = {*grip};
    if (open.is_open[grip->index()] && std::find(question.to.begin(), question.to.end(), *grip) != question.to.end()) {
      m.place = place;
      return Step::There;
    }
  } else {
    question.from_place = structure_.places[m.file->start.index()].id;
    question.from =
        graph.find_grips_within(place_at(m.file->start, m.clock_s), structure_.places[m.file->start.index()].within_m);
  }
  std::erase_if(question.to, [&](GripId g) { return !open.is_open[g.index()]; });
  if (is_whole_place) question.to_place = subject;
  if (question.to.empty()) {
    auto& v = violate(ViolationKind::NoGripNear, m.clock_s, &m, subject);
    v.at = where, v.has_at = true;
    v.limit = place ? structure_.places[place->index()].within_m : excursion_.values.handling_reach_m.value;
    double nearest_m = infinity;
    for (std::size_t g = 0; g < graph.grips().size(); ++g)
      if (open.is_open[g])
        if (const double d = (graph.grips()[g].hand - where).norm(); d < nearest_m) {
          nearest_m = d;
          v.names = {structure_.rails[graph.grips()[g].rail.index()].id};
        }
    v.value = nearest_m;
    // All of a place's grips in a zone that forbids: the zone is what a planner looks for.
    for (const GripId g : all_targets)
      for (const auto& label : graph.zones(g))
        if (const auto& zone = structure_.zones[label.zone.index()];
            zone.effect == model::ZoneEffect::Forbid && zone.when.holds(site.configuration))
          v.other = "in zone " + zone.id;
    for (std::size_t i = 0; i < items_.size(); ++i)
      if (items_[i].is_obstacle() && place && (items_[i].obstacle.box.middle - where).norm() < 2 + v.limit)
        v.other = excursion_.items[i].id;
    m.place = place;
    return Step::There;  // the action is done from where the crew member is
  }
  const LegOutcome& outcome = legs_.find(question, closings());
  if (!outcome.leg) {
    assume_leg(m, site, question, outcome.none, subject, place, where);
    return Step::Moved;
  }
  FoundLeg leg = *outcome.leg;
  for (TimedMove& move : leg.moves) move.time_s *= m.factor;
  leg.time_s *= m.factor;
  if (!m.grip) {  // where the crew member was all along
    m.grip = ref_of(graph, leg.grips.front());
    m.hand = graph.grip(leg.grips.front()).hand, m.body = graph.body_point(leg.grips.front());
    if (!m.place) m.place = m.file->start;
    if (leg.moves.empty()) {
      m.place = place;
      return Step::There;
    }
  }
  if (const auto swapped = swap_on_the_way(m, site, leg, by)) return *swapped;
  // Against all that is fixed of the other, and then standing where they are.
  Mover* other = other_of(m);
  std::vector<Occupied> theirs;
  if (other && other->is_out) {
    theirs = other->occupied;
    if (!other->is_inside) {
      Mover standing = *other;
      standing.occupied.clear();
      rest(standing, infinity);
      theirs.insert(theirs.end(), standing.occupied.begin(), standing.occupied.end());
    }
    std::erase_if(theirs, [&](const Occupied& o) { return o.to_s <= m.clock_s; });
  }
  std::optional<std::vector<double>> starts = schedule(m, leg);
  if (!theirs.empty() && !are_apart(occupied_by(m, site, leg, *starts, place, infinity), theirs)) {
    starts.reset();
    const bool may_go_round = question.loads.empty() && question.by == Objective::Time;
    const auto on_path = find_among(m, site, question, leg, open, theirs, place, false);
    const auto round = may_go_round ? find_among(m, site, question, leg, open, theirs, place, true) : std::nullopt;
    const bool is_round_better = round && (!on_path || round->arrives_s < on_path->arrives_s - noise_s);
    // Round the other only where that is done before they go on, else they are let go on first.
    const bool may_other_act = other && !other->is_inside && !m.is_forced;
    if (on_path && !is_round_better) {
      starts = on_path->starts_s;
    } else if (is_round_better && (!may_other_act || round->arrives_s <= other->clock_s)) {
      leg = leg_of(site, *round);
      starts = round->starts_s;
    } else if (may_other_act) {
      blocked(m, What::WaitBody, other->file->id);
      return Step::Blocked;
    } else {
      starts = schedule(m, leg);  // as alone; the bodies are compared afterwards
    }
    m.is_forced = false;
  }
  const double end_s = starts->empty() ? m.clock_s : starts->back() + leg.moves.back().time_s;
  for (const Throw& change : throws_) {
    if (change.from_s >= end_s - noise_s || change.to_s <= m.clock_s + noise_s) continue;
    if (stays_open(m, site, leg, change)) continue;
    wait_until(m, std::max(change.to_s, change.from_s + 1e-6), What::WaitEvent,
               excursion_.events[change.event.index()].id);
    return Step::Moved;
  }
  if (!starts->empty() && starts->front() > m.clock_s + noise_s) {
    const bool is_hold = free_of_holds(m, m.clock_s, leg.moves.front().time_s, true) >= starts->front() - noise_s;
    wait_until(m, starts->front(), is_hold ? What::WaitHold : What::WaitBody,
               is_hold ? ""
               : other ? other->file->id
                       : "");
    return Step::Moved;  // asked again then: what the other has done since is known
  }
  take_leg(m, site, leg, *starts, subject, place);
  return Step::Moved;
}

Simulator::Step Simulator::go_to_place(Mover& m, PlaceId id, std::optional<model::LegAim> by) {
  const auto& place = structure_.places[id.index()];
  const auto configuration = configuration_at(m.clock_s);
  if (!structure_.is_present(place, configuration)) {
    for (const Throw& change : throws_)
      if (change.from_s > m.clock_s && structure_.is_present(place, change.after)) {
        wait_until(m, change.to_s, What::WaitEvent, excursion_.events[change.event.index()].id);
        return Step::Moved;
      }
    auto& v = violate(ViolationKind::Configuration, m.clock_s, &m, place.id);
    v.names = {"absent"};
    return Step::There;
  }
  const Vec3 at = structure_.position(place, configuration);
  return go(
      m, [&](const Site& site) { return site.graph->find_grips_within(at, place.within_m); }, place.id, id, by, at,
      true);
}

Simulator::Targets Simulator::grips_to_handle(const Obstacle& obstacle, std::optional<PlaceId> place) const {
  return [this, obstacle, place](const Site& site) {
    return detail::grips_to_handle(site, structure_, legs_.kit(), excursion_.values.handling_reach_m, obstacle, place);
  };
}

void Simulator::check_bodies() {
  if (movers_.size() < 2) return;
  auto a = movers_[0].occupied, b = movers_[1].occupied;
  // Each encounter by itself: pairs that follow each other without a gap are one.
  for (int encounters = 0; encounters < 50; ++encounters) {
    const auto near = find_nearest_pair(a, b);
    if (!near) return;
    auto& v = violate(ViolationKind::BodiesTooNear, near->at_s, &movers_[0], movers_[1].file->id);
    v.value = near->distance_m, v.limit = near->needed_m;
    v.at = near->at, v.has_at = true;
    v.to_s = std::min(a[near->first].to_s, b[near->second].to_s);
    // What touches this encounter within two minutes is told with it.
    constexpr double together_s = 120;
    double from_s = near->at_s - together_s, to_s = v.to_s + together_s;
    std::erase_if(a, [&](const Occupied& o) { return o.moves && o.to_s > from_s && o.from_s < to_s; });
    std::erase_if(b, [&](const Occupied& o) { return o.moves && o.to_s > from_s && o.from_s < to_s; });
  }
}

void Simulator::check_zones() {
  for (Mover& m : movers_) {
    std::map<std::size_t, double> stay_s, caution_s;
    std::set<std::size_t> told;
    for (std::size_t r = 0; r < plan_.rows.size(); ++r) {
      const Row& row = plan_.rows[r];
      if (row.crew != m.id || row.to_s <= row.from_s) continue;
      const Site& site = legs_.site(configuration_at(row.from_s), *m.suit);
      const auto add = [&](std::span<const graph::ZoneLabel> labels, double seconds, double at_s) {
        for (const auto& label : labels) {
          const auto& zone = structure_.zones[label.zone.index()];
          if (zone.effect == model::ZoneEffect::Forbid || !zone.when.holds(site.configuration)) continue;
          if (!((label.body && zone.applies.body) || (label.hands && zone.applies.hands))) continue;
          if (zone.effect == model::ZoneEffect::Caution) {
            caution_s[label.zone.index()] += seconds;
            continue;
          }
          double& total = stay_s[label.zone.index()];
          total += seconds;
          if (total > zone.limit_s + 1e-6 && told.insert(label.zone.index()).second) {
            auto& v = violate(ViolationKind::ZoneTime, at_s, &m, zone.id);
            v.limit = zone.limit_s;
          }
        }
      };
      const auto find = [&](model::RailId rail, const Vec3& hand) -> std::optional<GripId> {
        const auto [first, last] = site.graph->grips_of(rail);
        std::optional<GripId> found;
        double nearest_m = 1e-6;
        for (std::uint32_t g = first; g < last; ++g)
          if (const double d = (site.graph->grips()[g].hand - hand).norm(); d < nearest_m)
            nearest_m = d, found = GripId(g);
        return found;
      };
      if (row.path.empty()) {
        // At rest, by whichever of the rail's directions: each zone once.
        std::vector<graph::ZoneLabel> labels;
        for (const GripId g : site.graph->find_grips_within(row.hand, 1e-6))
          for (const auto& label : site.graph->zones(g))
            if (std::none_of(labels.begin(), labels.end(), [&](const auto& l) { return l.zone == label.zone; }))
              labels.push_back(label);
        add(labels, row.to_s - row.from_s, row.from_s);
        continue;
      }
      for (std::size_t i = 0; i + 1 < row.path.size(); ++i) {
        const auto from = find(row.path[i].rail, row.path[i].hand),
                   to = find(row.path[i + 1].rail, row.path[i + 1].hand);
        if (!from || !to) continue;
        if (row.path[i].leaves_s > row.path[i].arrives_s)
          add(site.graph->zones(*from), row.path[i].leaves_s - row.path[i].arrives_s, row.path[i].arrives_s);
        if (const auto move = site.graph->find_move(*from, *to))
          add(site.graph->zones(*move), row.path[i + 1].arrives_s - row.path[i].leaves_s, row.path[i].leaves_s);
      }
    }
    for (const auto& [zone, seconds] : caution_s) plan_.cautions.push_back({m.id, model::ZoneId(zone), seconds});
    for (Violation& v : plan_.violations)
      if (v.kind == ViolationKind::ZoneTime && v.crew == m.id)
        v.value = stay_s[structure_.find_zone(v.subject)->index()];
  }
}

}  // namespace holdfast::plan::detail
