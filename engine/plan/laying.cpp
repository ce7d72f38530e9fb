// SPDX-License-Identifier: GPL-3.0-or-later
// Cables laid in stages: from a connector, or from the coil that an earlier stage left, tie by tie, to a connector or
// to a place where the rest is coiled. What the cable is on (a spool, a bag) is carried all the way, is tied off with
// the coil, and is still in hand when both connectors are mated.

#include <fmt/format.h>

#include <algorithm>
#include <functional>

#include "pieces_impl.h"
#include "simulator_impl.h"

namespace holdfast::plan::detail {

using model::Action;
using model::PlaceKind;

namespace {

/// The load's sides, longest first.
Vec3 falling(const Vec3& size_m) {
  Vec3 sides = size_m;
  std::sort(sides.data(), sides.data() + 3, std::greater<>());
  return sides;
}

std::string tie_words(const cable::Tie& tie) {
  return tie.kind == cable::TieKind::Rail ? fmt::format("rail {} at {:.2f} m", tie.id, tie.along_m) : tie.id;
}

Obstacle obstacle_of(const cable::CoilLeft& coil) {
  Obstacle obstacle;
  obstacle.box = coil.box;
  obstacle.size_m = coil.size.size_m;
  obstacle.tied_to = {coil.tie.rail.value()};
  return obstacle;
}

/// The places within which a point lies, the nearest first.
std::optional<model::PlaceId> place_of(const model::Structure& structure, const model::Configuration& configuration,
                                       const Vec3& at) {
  std::optional<model::PlaceId> nearest;
  double least_m = std::numeric_limits<double>::infinity();
  for (std::size_t p = 0; p < structure.places.size(); ++p) {
    const auto& place = structure.places[p];
    if (!structure.is_present(place, configuration)) continue;
    const double off_m = (structure.position(place, configuration) - at).norm();
    if (off_m <= place.within_m && off_m < least_m) least_m = off_m, nearest = model::PlaceId(p);
  }
  return nearest;
}

}  // namespace

void Simulator::place_coils() {
  const auto configuration = configuration_at(0);
  for (std::size_t i = 0; i < items_.size(); ++i) {
    const auto& file = excursion_.items[i];
    if (file.laid_file.empty()) continue;
    const auto run = options_.laid.find(file.id);
    model::ensure(run != options_.laid.end(), "the run of each item that is laid was read");
    const auto& cable = *model_.kit.find_cable(file.cable);
    const Site& site = legs_.site(configuration, *movers_.front().suit);
    cable::CableRequest request;
    request.goes_on = run->second;
    request.least_coil_m = falling(load_of(ItemId(i)).size_m);
    CableState& state = cables_[i];
    state.answer = &legs_.cables().describe(site, cable, request, options_.closed);
    state.laid = run->second;
    const auto& coil = state.answer->coil;
    if (!coil)
      throw model::InputError(
          {{file.mark, "items", "laid-elsewhere",
            fmt::format("item \"{}\": the run of \"{}\" does not end in a coil", file.id, file.laid_file),
            file.laid_file, "give what `holdfast cable --from CONNECTOR --to PLACE --json` printed"}});
    items_[i].at = ItemState::At::Stowed;
    items_[i].obstacle = obstacle_of(*coil);
    items_[i].near = place_of(structure_, configuration, coil->tie.at);
    state.to = items_[i].near ? structure_.places[items_[i].near->index()].id : coil->tie.id;
    begin_standing(ItemId(i), 0);
    // What nobody goes on with stays by intent.
    state.is_left = std::none_of(excursion_.crew.begin(), excursion_.crew.end(), [&](const auto& member) {
      return std::any_of(member.actions.begin(), member.actions.end(), [&](const Action& action) {
        return action.kind == model::ActionKind::Lay && action.item == ItemId(i);
      });
    });
    const auto& box = items_[i].obstacle;
    plan_.first_coils.push_back({ItemId(i), coil->tie.id, {box.box.middle, box.size_m, box.box.axes}});
  }
}

bool Simulator::tell_if_laid(Mover& m, ItemId item) {
  const auto state = cables_.find(item.index());
  if (state == cables_.end() || !state->second.laid || state->second.is_connected ||
      items_[item.index()].at != ItemState::At::Stowed)
    return false;
  auto& v = violate(ViolationKind::CableNotThere, m.clock_s, &m, excursion_.items[item.index()].id);
  v.names = {"laid", state->second.laid->ties.front().id};
  v.other = state->second.to;
  return true;
}

/// Is the cable in hand and its connector named, or its coil where the action says?
bool Simulator::is_where_asked(Mover& m, const Action& a) {
  const std::string& id = excursion_.items[a.item->index()].id;
  CableState& cable = cables_[a.item->index()];
  const auto refuse = [&](const char* why) {
    auto& v = violate(ViolationKind::CableNotThere, m.clock_s, &m, id);
    v.names = {why};
    if (a.from) v.names.push_back(structure_.places[a.from->index()].id);
    v.other = cable.laid ? cable.to : where_words(*a.item);
    return false;
  };
  if (cable.is_connected) return refuse("connected");
  if (!cable.laid) {
    if (!a.from) return refuse("no-coil");
    if (structure_.places[a.from->index()].kind != PlaceKind::Connector) return refuse("no-connector");
    if (std::find(m.carried.begin(), m.carried.end(), *a.item) != m.carried.end()) return true;
    violate(ViolationKind::ItemNotThere, m.clock_s, &m, id).other = where_words(*a.item);
    return false;
  }
  if (items_[a.item->index()].at != ItemState::At::Stowed) return refuse("under-way");
  if (!a.from || structure_.places[a.from->index()].id == cable.laid->ties.front().id) return true;
  const auto& place = structure_.places[a.from->index()];
  const auto& coil = *cable.answer->coil;
  const Vec3 at = structure_.position(place, configuration_at(m.clock_s));
  return (coil.tie.at - at).norm() <= place.within_m + graph::length_tolerance_m || refuse("elsewhere");
}

bool Simulator::begin_laying(Mover& m, const Action& a) {
  if (!is_where_asked(m, a)) return false;
  const std::string& id = excursion_.items[a.item->index()].id;
  const std::string& to = structure_.places[a.place->index()].id;
  const auto& kit_cable = *model_.kit.find_cable(excursion_.items[a.item->index()].cable);
  CableState& cable = cables_[a.item->index()];
  const Site& site = legs_.site(configuration_at(m.clock_s), *m.suit);
  cable::CableRequest request;
  request.to = to;
  if (cable.laid)
    request.goes_on = cable.laid;
  else
    request.from = structure_.places[a.from->index()].id;
  request.handling_reach_m = excursion_.values.handling_reach_m;
  request.least_coil_m = falling(load_of(*a.item).size_m);
  for (const auto& [item, other] : cables_)
    if (item != a.item->index() && other.answer && other.answer->run())
      request.laid.push_back({excursion_.items[item].id, other.answer->run()->line,
                              model_.kit.find_cable(excursion_.items[item].cable)->diameter_m / 2,
                              model_.kit.find_cable(excursion_.items[item].cable)->bend_radius_m()});
  std::vector<Obstacle> standing;
  for (std::size_t i = 0; i < items_.size(); ++i)
    if (i != a.item->index() && items_[i].is_obstacle()) standing.push_back(items_[i].obstacle);
  const cable::CableAnswer* answer = nullptr;
  try {
    answer = &legs_.cables().find(site, kit_cable, std::move(request), options_.closed, standing);
  } catch (const model::InputError& error) {
    // A connector or a tie that is not there, or not on structure, in the configuration of the moment.
    auto& v = violate(ViolationKind::NoCableRun, m.clock_s, &m, id);
    v.other = to;
    for (const auto& fault : error.diagnostics()) v.names.push_back(fault.problem);
    return false;
  }
  const auto* run = answer->run();
  if (!run) {
    auto& v = violate(ViolationKind::NoCableRun, m.clock_s, &m, id);
    v.other = to;
    v.no_run = answer->no_run()->causes;
    return false;
  }
  if (!answer->verdict.is_long_enough()) {
    auto& v = violate(ViolationKind::CableTooShort, m.clock_s, &m, id);
    v.other = to;
    v.value = run->required_m, v.limit = answer->verdict.least_length_m;
    return false;
  }
  const std::string begins_at = run->ties.front().tie.id;
  const auto is_meant = [&](const auto& pair) {
    if (answer->coil) return pair.first == begins_at || pair.second == begins_at;
    return pair == std::pair(begins_at, to) || pair == std::pair(to, begins_at);
  };
  if (!kit_cable.connects.empty() && std::none_of(kit_cable.connects.begin(), kit_cable.connects.end(), is_meant)) {
    auto& v = violate(ViolationKind::CableWrongEnd, m.clock_s, &m, id);
    v.other = answer->coil ? begins_at : to;
    v.names = {begins_at};
    for (const auto& [one, other] : kit_cable.connects) v.names.push_back(one + " - " + other);
  }
  under_way_[m.id.index()] = {m.next, answer, run->laid_ties, false};
  return true;
}

void Simulator::tell_if_changed(Mover& m, const Action& a) {
  const auto& answer = *under_way_[m.id.index()].answer;
  const auto now = configuration_at(m.clock_s);
  if (now == answer.configuration) return;
  const auto& ties = answer.run()->ties;
  const bool has_moved = std::any_of(ties.begin(), ties.end(), [&](const cable::RunTie& tie) {
    const auto& part = tie.tie.part;
    return part && (structure_.is_present(*part, now) != structure_.is_present(*part, answer.configuration) ||
                    !structure_.frame_of(part, now).isApprox(structure_.frame_of(part, answer.configuration), 1e-12));
  });
  const bool has_new_zone = std::any_of(structure_.zones.begin(), structure_.zones.end(), [&](const auto& zone) {
    return zone.applies.cable && zone.effect != model::ZoneEffect::Caution && zone.when.holds(now) &&
           !zone.when.holds(answer.configuration);
  });
  const std::string& id = excursion_.items[a.item->index()].id;
  if ((!has_moved && !has_new_zone) || !told_.insert(fmt::format("laying {} {}", id, m.next)).second) return;
  auto& v = violate(ViolationKind::Configuration, m.clock_s, &m, id);
  for (const auto& [s, position] : answer.configuration.positions)
    if (now.positions.at(s) != position) v.names = {s, position, now.positions.at(s)};
}

Simulator::Step Simulator::go_to_tie(Mover& m, const Action& a, std::size_t tie) {
  const auto& run = *under_way_[m.id.index()].answer->run();
  const auto& at = run.ties[tie].tie;
  const double reach_m = m.suit->reach_m + graph::length_tolerance_m;
  const auto place = at.kind == cable::TieKind::Connector ? structure_.find_place(at.id) : std::nullopt;
  const auto before = plan_.violations.size();
  const Step step = go(
      m, [&](const Site& site) { return site.graph->find_grips_within(at.at, reach_m); },
      place ? at.id : fmt::format("tie {} of {}", tie, excursion_.items[a.item->index()].id), place, a.by, at.at);
  if (plan_.violations.size() > before && plan_.violations.back().kind == ViolationKind::NoGripNear)
    plan_.violations.back().limit = m.suit->reach_m;
  return step;
}

void Simulator::note_laid(const Action& a, const LayUnderWay& lay) {
  CableState& cable = cables_[a.item->index()];
  cable::LaidRun laid{excursion_.items[a.item->index()].id, excursion_.items[a.item->index()].cable, {}, 0};
  for (const auto& tie : lay.answer->run()->ties) laid.ties.push_back({tie.tie.kind, tie.tie.id, tie.tie.along_m});
  laid.used_m = lay.answer->run()->ties.back().at_m;
  cable.laid = std::move(laid);
  cable.answer = lay.answer;
  cable.to = structure_.places[a.place->index()].id;
  cable.is_connected = !lay.answer->coil;
  cable.is_left = a.is_left;
}

bool Simulator::take_up_coil(Mover& m, const Action& a) {
  LayUnderWay& lay = under_way_[m.id.index()];
  const std::string& id = excursion_.items[a.item->index()].id;
  ItemState& state = items_[a.item->index()];
  const Step step =
      go(m, grips_to_handle(state.obstacle, state.near), state.near ? structure_.places[state.near->index()].id : id,
         state.near, a.by, state.obstacle.box.middle);
  if (step != Step::There) return step == Step::Moved;
  if (tell_if_hands_full(m, *a.item)) {
    under_way_.erase(m.id.index());
    skip(m);
    return true;
  }
  const auto& cable = *model_.kit.find_cable(excursion_.items[a.item->index()].cable);
  const double duration_s = cable::coil_s(cable) * m.factor;
  wait_for_holds(m, duration_s);
  end_standing(*a.item, m.clock_s);
  const std::string rail = structure_.rails[state.obstacle.tied_to.front().index()].id;
  state.at = ItemState::At::Crew;
  state.crew = m.id;
  act(m, RowKind::Handling, What::TakeUp, duration_s, id, rail);
  m.carried.push_back(*a.item);
  lay.next = lay.answer->run()->laid_ties;
  return true;
}

bool Simulator::tie_off_coil(Mover& m, const Action& a) {
  const LayUnderWay lay = under_way_[m.id.index()];
  const auto& coil = *lay.answer->coil;
  const Obstacle obstacle = obstacle_of(coil);
  const Step step = go(m, grips_to_handle(obstacle, a.place), structure_.places[a.place->index()].id, a.place, a.by,
                       obstacle.box.middle);
  if (step != Step::There) return step == Step::Moved;
  const auto& cable = *model_.kit.find_cable(excursion_.items[a.item->index()].cable);
  leave_standing(m, *a.item, ItemState::At::Stowed, obstacle, a.place, What::Coil, cable::coil_s(cable) * m.factor,
                 coil.tie.id);
  note_laid(a, lay);
  under_way_.erase(m.id.index());
  skip(m);
  return true;
}

bool Simulator::do_lay(Mover& m, const Action& a) {
  if (!a.item || !a.place) return skip(m), true;
  const auto known = under_way_.find(m.id.index());
  if (known == under_way_.end() || known->second.action != m.next) {
    if (const Throw* now = throw_during(m.clock_s)) {
      wait_until(m, now->to_s, What::WaitEvent, excursion_.events[now->event.index()].id);
      return true;
    }
    if (!begin_laying(m, a)) {
      skip(m);
      return true;
    }
  }
  LayUnderWay& lay = under_way_[m.id.index()];
  const auto& run = *lay.answer->run();
  if (items_[a.item->index()].at == ItemState::At::Stowed) return take_up_coil(m, a);
  if (lay.is_tied) return tie_off_coil(m, a);
  tell_if_changed(m, a);
  const auto& tie = run.ties[lay.next].tie;
  const Step step = go_to_tie(m, a, lay.next);
  if (step != Step::There) return step == Step::Moved;
  const std::string& id = excursion_.items[a.item->index()].id;
  const auto& cable = *model_.kit.find_cable(excursion_.items[a.item->index()].cable);
  const bool is_connector = tie.kind == cable::TieKind::Connector;
  const double duration_s = (is_connector ? cable.connector_s : cable.tie_s) * m.factor;
  wait_for_holds(m, duration_s);
  act(m, RowKind::Handling, is_connector ? What::Mate : What::Tie, duration_s, id,
      is_connector ? tie.id : tie_words(tie));
  const bool is_last = ++lay.next == run.ties.size();
  if (!is_last) return true;
  if (lay.answer->coil) {
    lay.is_tied = true;
    return true;
  }
  note_laid(a, lay);
  under_way_.erase(m.id.index());
  skip(m);
  return true;
}

void Simulator::tell_of_cables(std::set<std::size_t>& left) {
  for (const auto& [item, cable] : cables_) {
    if (!cable.laid) continue;
    const auto& run = *cable.answer->run();
    CableEnd end;
    end.item = ItemId(item);
    end.cable = excursion_.items[item].cable;
    end.from = cable.laid->ties.front().id, end.to = cable.to;
    end.is_connected = cable.is_connected, end.is_left = cable.is_left;
    end.required_m = cable.is_connected ? run.required_m : run.ties.back().at_m;
    end.left_m = cable.answer->verdict.least_length_m - end.required_m;
    end.ties = static_cast<std::size_t>(std::count_if(
        run.ties.begin(), run.ties.end(), [](const auto& tie) { return tie.tie.kind != cable::TieKind::Connector; }));
    end.line = run.line;
    plan_.cables.push_back(std::move(end));
    if (cable.is_connected) continue;
    // What holds the coil stays with it: that it is outside is told by this alone.
    left.insert(item);
    if (cable.is_left) continue;
    auto& v = violate(ViolationKind::CableNotConnected, plan_.finish_s, nullptr, excursion_.items[item].id);
    v.other = cable.to;
    v.names = {cable.laid->ties.front().id};
    v.value = cable.answer->verdict.least_length_m - run.ties.back().at_m;
  }
}

}  // namespace holdfast::plan::detail
