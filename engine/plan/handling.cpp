// SPDX-License-Identifier: GPL-3.0-or-later
// What crew members do with items: take, put, stow, set up, take down, hand over.

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <set>

#include "pieces_impl.h"
#include "simulator_impl.h"

namespace holdfast::plan::detail {

using model::Action;
using model::ActionKind;
using model::PlaceKind;

bool Simulator::do_take(Mover& m, const Action& a) {
  if (!a.item) return skip(m), true;
  const std::string& id = excursion_.items[a.item->index()].id;
  const ItemState state = items_[a.item->index()];
  const ItemState& root = items_[root_of(*a.item).index()];
  if (tell_if_laid(m, *a.item)) return skip(m), true;
  const bool is_carried_by_other = root.at == ItemState::At::Crew && root.crew != m.id;
  if (is_carried_by_other || state.at == ItemState::At::SetUp || state.at == ItemState::At::Crew ||
      root.at == ItemState::At::Inside) {
    auto& v = violate(ViolationKind::ItemNotThere, m.clock_s, &m, id);
    v.other = where_words(*a.item);
    if (state.at == ItemState::At::Item && is_carried_by_other) v.other += ", " + where_words(root_of(*a.item));
    skip(m);
    return true;
  }
  if (root.at == ItemState::At::Place) {
    const Step step = go_to_place(m, root.place, a.by);
    if (step != Step::There) return step == Step::Moved;
  } else if (root.is_obstacle()) {
    const Vec3 at = root.obstacle.box.middle;
    const Step step = go(m, grips_to_handle(root.obstacle, root.near),
                         root.near ? structure_.places[root.near->index()].id : id, root.near, a.by, at);
    if (step != Step::There) return step == Step::Moved;
  }
  if (tell_if_hands_full(m, *a.item)) return skip(m), true;
  const double duration_s = load_of(*a.item).stow_s * m.factor;
  wait_for_holds(m, duration_s);
  // Out of a container its mass goes from the one to the other; the box is carried from the beginning of the handling.
  end_standing(*a.item, m.clock_s);
  items_[a.item->index()].at = ItemState::At::Crew;
  items_[a.item->index()].crew = m.id;
  act(m, RowKind::Handling, What::Take, duration_s, id);
  m.carried.push_back(*a.item);
  skip(m);
  return true;
}

bool Simulator::do_put(Mover& m, const Action& a) {
  if (!a.item) return skip(m), true;
  const std::string& id = excursion_.items[a.item->index()].id;
  const auto carried = std::find(m.carried.begin(), m.carried.end(), *a.item);
  if (carried == m.carried.end()) return skip_not_there(m, *a.item);
  const auto is_stowage = [&](PlaceId place) {
    const auto kind = structure_.places[place.index()].kind;
    return kind == PlaceKind::Hatch || kind == PlaceKind::Stowage;
  };
  if (a.into) {
    if (!is_at_hand(m, *a.into, m.place) || root_of(*a.into) == *a.item) {
      violate(ViolationKind::ItemNotThere, m.clock_s, &m, excursion_.items[a.into->index()].id).other =
          where_words(*a.into);
      skip(m);
      return true;
    }
  } else if (!m.place || !is_stowage(*m.place)) {
    auto& v = violate(ViolationKind::WrongPlace, m.clock_s, &m, id);
    v.other = m.place ? structure_.places[m.place->index()].id : "";
    const Site& site = legs_.site(configuration_at(m.clock_s), *m.suit);
    for (const GripId g : site.graph->find_grips_within(m.hand, excursion_.values.handling_reach_m)) {
      const auto& rail = structure_.rails[site.graph->grip(g).rail.index()].id;
      if (std::find(v.names.begin(), v.names.end(), rail) == v.names.end()) v.names.push_back(rail);
    }
    skip(m);
    return true;
  }
  const double duration_s = load_of(*a.item).stow_s * m.factor;
  wait_for_holds(m, duration_s);
  act(m, RowKind::Handling, What::Put, duration_s, id,
      a.into ? excursion_.items[a.into->index()].id : structure_.places[m.place->index()].id);
  std::erase(m.carried, *a.item);
  ItemState& state = items_[a.item->index()];
  if (a.into)
    state.at = ItemState::At::Item, state.item = *a.into;
  else
    state.at = ItemState::At::Place, state.place = *m.place;
  skip(m);
  return true;
}

void Simulator::leave_standing(Mover& m, ItemId item, ItemState::At at, const Obstacle& obstacle,
                               std::optional<PlaceId> near, What what, double duration_s, const std::string& on) {
  if (const double free_s = free_of_passers(m, obstacle); free_s > m.clock_s)
    wait_until(m, free_s, What::WaitBody, other_of(m)->file->id);
  wait_for_holds(m, duration_s);
  act(m, RowKind::Handling, what, duration_s, excursion_.items[item.index()].id, on);
  plan_.rows.back().box = {obstacle.box.middle, obstacle.size_m, obstacle.box.axes};
  std::erase(m.carried, item);
  ItemState& state = items_[item.index()];
  state.at = at;
  state.obstacle = obstacle;
  state.near = near;
  begin_standing(item, m.clock_s, m.id);
}

bool Simulator::do_stow(Mover& m, const Action& a) {
  if (!a.item || a.rails.empty()) return skip(m), true;
  const std::string& id = excursion_.items[a.item->index()].id;
  if (std::find(m.carried.begin(), m.carried.end(), *a.item) == m.carried.end()) return skip_not_there(m, *a.item);
  if (const Throw* now = throw_during(m.clock_s)) {
    wait_until(m, now->to_s, What::WaitEvent, excursion_.events[now->event.index()].id);
    return true;
  }
  const auto configuration = configuration_at(m.clock_s);
  const Site& site = legs_.site(configuration, *m.suit);
  const Vec3 near = m.place ? structure_.position(structure_.places[m.place->index()], configuration) : m.hand;
  // The point of the first rail that is nearest to the place, with its outward direction there.
  const auto rail = a.rails.front();
  const auto [first, last] = site.graph->grips_of(rail);
  if (first == last || std::find(site.buried.begin(), site.buried.end(), rail) != site.buried.end()) {
    auto& v = violate(ViolationKind::NoGripNear, m.clock_s, &m, id);
    v.names = {structure_.rails[rail.index()].id};
    v.value = std::numeric_limits<double>::infinity();
    skip(m);
    return true;
  }
  std::uint32_t nearest = first;
  for (std::uint32_t g = first; g < last; ++g)
    if ((site.graph->grips()[g].hand - near).norm() < (site.graph->grips()[nearest].hand - near).norm() - 1e-9)
      nearest = g;
  const auto& grip = site.graph->grips()[nearest];
  // Longest side along the rail, shortest outward, the lower face on the rail.
  const model::Load& load = load_of(*a.item);
  std::array<double, 3> sides = {load.size_m.x(), load.size_m.y(), load.size_m.z()};
  std::sort(sides.begin(), sides.end(), std::greater<>());
  const std::uint32_t beside = nearest + 1 < last && site.graph->grips()[nearest + 1].direction == grip.direction
                                   ? nearest + 1
                               : nearest > first ? nearest - 1
                                                 : nearest;
  Vec3 along = site.graph->grips()[beside].hand - grip.hand;
  along -= grip.outward * grip.outward.dot(along);
  if (along.norm() < 1e-9) along = grip.outward.unitOrthogonal();
  Obstacle obstacle;
  obstacle.size_m = {sides[0], sides[1], sides[2]};
  obstacle.box.axes.col(0) = along.normalized();
  obstacle.box.axes.col(2) = grip.outward;
  obstacle.box.axes.col(1) = grip.outward.cross(along.normalized());
  obstacle.box.middle = grip.hand + grip.outward * (sides[2] / 2);
  obstacle.tied_to = a.rails;
  for (std::size_t i = 0; i < items_.size(); ++i) {
    if (!items_[i].is_obstacle()) continue;
    const bool overlaps = do_boxes_overlap(obstacle, items_[i].obstacle);
    const bool takes = std::find(items_[i].obstacle.tied_to.begin(), items_[i].obstacle.tied_to.end(), rail) !=
                           items_[i].obstacle.tied_to.end() &&
                       distance_to_box(items_[i].obstacle.box, items_[i].obstacle.size_m, grip.hand) <=
                           model_.kit.design.grip_length_m;
    if (!overlaps && !takes) continue;
    auto& v = violate(ViolationKind::RailsTaken, m.clock_s, &m, id);
    v.other = excursion_.items[i].id;
    v.names = {structure_.rails[rail.index()].id};
    v.at = grip.hand, v.has_at = true;
    skip(m);
    return true;
  }
  // Step by step off the rail, to say how deep it is in where it does not fit.
  const double glove_m = m.suit->glove_m;
  const auto is_clear = [&](double lift_m) {
    graph::BoxPose lifted = obstacle.box;
    lifted.middle += grip.outward * lift_m;
    const auto corners = graph::corners_of(lifted, obstacle.size_m);
    return site.scene->hull_distance(corners, 1.0) > 0;
  };
  if (!is_clear(glove_m)) {
    double depth_m = glove_m;
    constexpr double step_m = 0.01, most_m = 3;
    while (depth_m < most_m && !is_clear(depth_m)) depth_m += step_m;
    auto& v = violate(ViolationKind::DoesNotFit, m.clock_s, &m, id);
    v.names = {structure_.rails[rail.index()].id};
    v.value = depth_m, v.limit = glove_m;
    v.at = obstacle.box.middle, v.has_at = true;
    skip(m);
    return true;
  }
  if (const auto zone = forbidding_zone(obstacle, configuration)) {
    auto& v = violate(ViolationKind::DoesNotFit, m.clock_s, &m, id);
    v.names = {structure_.rails[rail.index()].id};
    v.other = structure_.zones[zone->index()].id;
    v.at = obstacle.box.middle, v.has_at = true;
    skip(m);
    return true;
  }
  const auto before = plan_.violations.size();
  const Step step = go(m, grips_to_handle(obstacle, m.place), m.place ? structure_.places[m.place->index()].id : id,
                       m.place, a.by, obstacle.box.middle);
  if (step != Step::There) return step == Step::Moved;
  if (plan_.violations.size() > before && plan_.violations.back().kind == ViolationKind::NoGripNear) {
    plan_.violations.back().subject = id;
    plan_.violations.back().other = "to stow from";
  }
  leave_standing(m, *a.item, ItemState::At::Stowed, obstacle, m.place, What::Stow, load.stow_s * m.factor,
                 structure_.rails[rail.index()].id);
  skip(m);
  return true;
}

bool Simulator::do_set_up(Mover& m, const Action& a) {
  if (!a.item || !a.socket) return skip(m), true;
  const std::string& id = excursion_.items[a.item->index()].id;
  const auto& socket = structure_.sockets[a.socket->index()];
  if (std::find(m.carried.begin(), m.carried.end(), *a.item) == m.carried.end()) return skip_not_there(m, *a.item);
  const auto configuration = configuration_at(m.clock_s);
  if (!structure_.is_present(socket, configuration)) {
    violate(ViolationKind::Configuration, m.clock_s, &m, socket.id).names = {"absent"};
    skip(m);
    return true;
  }
  const Obstacle obstacle = obstacle_in_socket(structure_, socket, configuration, load_of(*a.item).size_m);
  for (std::size_t i = 0; i < items_.size(); ++i)
    if (items_[i].at == ItemState::At::SetUp && items_[i].socket == *a.socket) {
      auto& v = violate(ViolationKind::SocketTaken, m.clock_s, &m, socket.id);
      v.other = excursion_.items[i].id;
      v.names = {id};
      skip(m);
      return true;
    }
  const auto zone = forbidding_zone(obstacle, configuration);
  const auto in_the_way = item_in_the_way(obstacle, *a.item);
  if (zone || in_the_way) {
    auto& v = violate(ViolationKind::DoesNotFit, m.clock_s, &m, id);
    v.names = {socket.id};
    v.other = zone ? structure_.zones[zone->index()].id : excursion_.items[*in_the_way].id;
    v.at = obstacle.box.middle, v.has_at = true;
    skip(m);
    return true;
  }
  const Step step = go(m, grips_to_handle(obstacle, m.place), socket.id, m.place, a.by, obstacle.box.middle);
  if (step != Step::There) return step == Step::Moved;
  items_[a.item->index()].socket = *a.socket;
  leave_standing(m, *a.item, ItemState::At::SetUp, obstacle, m.place, What::SetUp,
                 excursion_.values.restraint_set_s * m.factor, socket.id);
  skip(m);
  return true;
}

bool Simulator::do_take_down(Mover& m, const Action& a) {
  if (!a.item) return skip(m), true;
  const std::string& id = excursion_.items[a.item->index()].id;
  const ItemState state = items_[a.item->index()];
  if (state.at != ItemState::At::SetUp) return skip_not_there(m, *a.item);
  const std::string& socket = structure_.sockets[state.socket.index()].id;
  for (const Mover& other : movers_)
    if (other.id != m.id && other.restraint == state.socket) {
      auto& v = violate(ViolationKind::SocketTaken, m.clock_s, &m, socket);
      v.other = other.file->id;
      v.names = {id};
      skip(m);
      return true;
    }
  const Step step =
      go(m, grips_to_handle(state.obstacle, state.near), socket, state.near, a.by, state.obstacle.box.middle);
  if (step != Step::There) return step == Step::Moved;
  if (tell_if_hands_full(m, *a.item)) return skip(m), true;
  const double duration_s = excursion_.values.restraint_set_s * m.factor;
  wait_for_holds(m, duration_s);
  end_standing(*a.item, m.clock_s);
  items_[a.item->index()].at = ItemState::At::Crew;
  items_[a.item->index()].crew = m.id;
  act(m, RowKind::Handling, What::TakeDown, duration_s, id, socket);
  m.carried.push_back(*a.item);
  skip(m);
  return true;
}

bool Simulator::do_hand_over(Mover& m, const Action& a) {
  if (!a.item || !a.other) return skip(m), true;
  Mover* other = other_of(m);
  const std::string& id = excursion_.items[a.item->index()].id;
  const auto is_half = [&](const Mover& x) {
    if (x.next >= x.file->actions.size()) return false;
    const Action& b = x.file->actions[x.next];
    return b.item == a.item && b.other == m.id &&
           b.kind == (a.kind == ActionKind::HandOver ? ActionKind::Receive : ActionKind::HandOver);
  };
  if (m.is_forced) {  // the other will never be there
    m.is_forced = false;
    return skip_not_there(m, *a.item);
  }
  if (!other || other->is_inside || !is_half(*other))
    return blocked(m, What::WaitCrew, a.other ? excursion_.crew[a.other->index()].id : "");
  Mover& giver = a.kind == ActionKind::HandOver ? m : *other;
  Mover& taker = a.kind == ActionKind::HandOver ? *other : m;
  if (std::find(giver.carried.begin(), giver.carried.end(), *a.item) == giver.carried.end()) {
    violate(ViolationKind::ItemNotThere, m.clock_s, &giver, id).other = where_words(*a.item);
    skip(giver), skip(taker);
    return true;
  }
  if (tell_if_hands_full(taker, *a.item)) return skip(giver), skip(taker), true;
  // The taker comes within both their arms of the giver.
  settle(giver), settle(taker);
  const double near_m = giver.suit->reach_m + taker.suit->reach_m;
  const Vec3 where = giver.hand;
  if ((taker.hand - where).norm() > near_m) {
    const auto to = giver.place;
    const Step step = go(
        taker, [&](const Site& site) { return site.graph->find_grips_within(where, near_m); }, giver.file->id, to,
        std::nullopt, where);
    if (step == Step::Moved) return true;
    if (step == Step::Blocked) {
      // It is the taker that is in the way of something, whoever asked.
      m.blocked = What::WaitBody, m.blocked_on = other->file->id;
      return false;
    }
  }
  const double duration_s = load_of(*a.item).stow_s * std::max(giver.factor, taker.factor);
  double start_s = std::max(giver.clock_s, taker.clock_s);
  for (int i = 0; i < 2; ++i)
    for (const Mover* x : {&giver, &taker}) start_s = free_of_holds(*x, start_s, duration_s, false);
  wait_until(giver, start_s, What::WaitCrew, taker.file->id);
  wait_until(taker, start_s, What::WaitCrew, giver.file->id);
  act(giver, RowKind::Handling, What::HandOver, duration_s, id, taker.file->id);
  act(taker, RowKind::Handling, What::Receive, duration_s, id, giver.file->id);
  std::erase(giver.carried, *a.item);
  taker.carried.push_back(*a.item);
  items_[a.item->index()].crew = taker.id;
  skip(giver), skip(taker);
  return true;
}

}  // namespace holdfast::plan::detail
