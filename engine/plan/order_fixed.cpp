// SPDX-License-Identifier: GPL-3.0-or-later
// Actions that stay first and last in whatever order: what they settle, and what they take each crew member as alone.

#include <fmt/format.h>

#include <algorithm>

#include "order_travel_impl.h"

namespace holdfast::plan::detail {

using model::Action;
using model::ActionKind;

namespace {

/// Indices of the actions of `begin`, then of `end`.
template <class Visit>
void for_each_fixed(const model::CrewMember& member, const Visit& visit) {
  for (std::size_t a = 0; a < member.actions.size(); ++a)
    if (a < member.begins || a >= member.actions.size() - member.ends) visit(member.actions[a], a < member.begins);
}

[[noreturn]] void refuse(const Action& action, std::string problem, std::string value, std::string remedy) {
  throw model::InputError(
      {{action.mark, "crew", "out-of-range", std::move(problem), std::move(value), std::move(remedy)}});
}

}  // namespace

std::vector<Fixed> fixed_of(const model::Excursion& excursion) {
  std::vector<Fixed> all;
  std::map<std::size_t, std::size_t> handled_by;
  for (std::size_t c = 0; c < excursion.crew.size(); ++c) {
    Fixed fixed;
    for_each_fixed(excursion.crew[c], [&](const Action& a, bool is_begin) {
      if (a.kind == ActionKind::HandOver || a.kind == ActionKind::Receive)
        refuse(a, "order does not plan around a hand-over among the actions of begin and end", "",
               "write whole sequences, and ask holdfast plan");
      if (a.into)
        refuse(a, "order does not follow what is put into another item in begin and end",
               excursion.items[a.into->index()].id, "write whole sequences, and ask holdfast plan");
      fixed.has_swaps = fixed.has_swaps || a.kind == ActionKind::Swap;
      if (a.kind == ActionKind::Do && a.task) fixed.tasks.insert(a.task->index());
      if (!a.item) return;
      const std::size_t item = a.item->index();
      if (const auto [by, is_new] = handled_by.try_emplace(item, c); !is_new && by->second != c)
        refuse(a, fmt::format("item \"{}\" is handled by begin or end of both crew members", excursion.items[item].id),
               excursion.items[item].id, "let one of them handle it there");
      fixed.items.insert(item);
      if (!is_begin) return;
      std::erase(fixed.held, *a.item);
      fixed.lies.erase(item);
      std::erase_if(fixed.in_socket, [&](const auto& entry) { return entry.second == *a.item; });
      if (a.kind == ActionKind::Take || a.kind == ActionKind::TakeDown) fixed.held.push_back(*a.item);
      if (a.kind == ActionKind::SetUp && a.socket) fixed.in_socket[a.socket->index()] = *a.item;
    });
    // Where things were put down last.
    std::optional<PlaceId> place;
    for (std::size_t k = 0; k < excursion.crew[c].begins; ++k) {
      const Action& a = excursion.crew[c].actions[k];
      if (a.place) place = a.place;
      if (a.kind == ActionKind::Do && a.task && excursion.tasks[a.task->index()].at)
        place = excursion.tasks[a.task->index()].at;
      if (a.kind == ActionKind::Take && a.item && excursion.items[a.item->index()].at && !place)
        place = excursion.items[a.item->index()].at;
      if (a.kind == ActionKind::Put && a.item && place) fixed.lies[a.item->index()] = *place;
      if (a.kind == ActionKind::Take && a.item) fixed.lies.erase(a.item->index());
    }
    all.push_back(std::move(fixed));
  }
  return all;
}

double JobTravel::action_s(int crew, const Action& a) const {
  switch (a.kind) {
    case ActionKind::Take:
    case ActionKind::Put:
    case ActionKind::Stow:
      return a.item ? load_of(*a.item).stow_s * factor(crew) : 0;
    case ActionKind::SetUp:
    case ActionKind::TakeDown:
      return excursion_.values.restraint_set_s * factor(crew);
    case ActionKind::Do: {
      if (!a.task) return 0;
      const auto& task = excursion_.tasks[a.task->index()];
      return duration_of(options_, task) *
             (task.both ? *std::max_element(factors_.begin(), factors_.end()) : factor(crew));
    }
    case ActionKind::Swap:
      return 2 * model_.kit.find_suit(excursion_.crew[static_cast<std::size_t>(crew)].suit)->tether_hook_s *
             factor(crew);
    default:  // legs, and waits, which may be none
      return 0;
  }
}

double JobTravel::least_end_s(int crew) const {
  const auto& member = excursion_.crew[static_cast<std::size_t>(crew)];
  double seconds = 0;
  for (std::size_t a = member.actions.size() - member.ends; a < member.actions.size(); ++a)
    seconds += action_s(crew, member.actions[a]);
  return seconds;
}

bool JobTravel::do_action(Doing& d, const Action& a) const {
  Walk& w = d.walk;
  w.loads = loads_of_items(d.carried);
  bool is_there = true;
  const auto go = [&](PlaceId place) {
    leave(w);
    is_there = is_there && walk_to(w, place);
    d.place = place;
  };
  switch (a.kind) {
    case ActionKind::Go:
      for (const PlaceId via : a.via) go(via);
      if (a.place) go(*a.place);
      break;
    case ActionKind::Take: {
      const auto put = d.lies.find(a.item->index());
      const auto at = put != d.lies.end() ? std::optional(put->second) : excursion_.items[a.item->index()].at;
      if (at) go(*at);
      break;
    }
    case ActionKind::SetUp:
    case ActionKind::TakeDown: {
      const auto known = std::find_if(restraint_of_socket_.begin(), restraint_of_socket_.end(),
                                      [&](const auto& entry) { return entry.second == *a.item; });
      const bool is_up = a.kind == ActionKind::TakeDown;
      std::optional<SocketId> socket = a.socket;
      if (!socket && known != restraint_of_socket_.end()) socket = SocketId(known->first);
      if (!socket || !restraint_of_socket_.count(socket->index())) break;
      leave(w);
      is_there = walk_to_handle(w, {Job::Kind::SetUp, {}, *a.item, d.place, socket}, is_up);
      if (is_up)
        w.state.beside.reset();
      else
        w.state.beside = socket;
      break;
    }
    case ActionKind::Do: {
      const auto& task = excursion_.tasks[a.task->index()];
      if (task.restraint_in && !restraint_of_socket_.count(task.restraint_in->index())) break;
      is_there = do_job(w, {Job::Kind::Task, *a.task, {}, task.at, task.restraint_in});
      if (task.at) d.place = task.at;
      break;
    }
    case ActionKind::Swap: {
      leave(w);
      const auto& anchor = structure_.anchors[a.anchor->index()];
      const Vec3 at = anchor.part ? Vec3(structure_.pose(*anchor.part, configuration_) * anchor.at) : anchor.at;
      is_there = walk(w, site(w.crew).graph->find_grips_within(at, excursion_.values.handling_reach_m), "",
                      closings(w.state, std::nullopt));
      d.place.reset();
      break;
    }
    case ActionKind::Put:
    case ActionKind::Stow:
      leave(w);
      break;
    default:
      break;
  }
  w.time_s += action_s(w.crew, a);
  if (a.kind == ActionKind::Take || a.kind == ActionKind::TakeDown) d.carried.push_back(*a.item);
  if (a.kind == ActionKind::Put || a.kind == ActionKind::Stow || a.kind == ActionKind::SetUp)
    std::erase(d.carried, *a.item);
  if (a.kind == ActionKind::Put && d.place) d.lies[a.item->index()] = *d.place;
  return is_there;
}

void JobTravel::do_begins() {
  for (std::size_t c = 0; c < excursion_.crew.size(); ++c) {
    const auto& member = excursion_.crew[c];
    Doing d;
    d.walk.crew = static_cast<int>(c);
    d.walk.time_s = excursion_.egress_s;
    for (std::size_t a = 0; a < member.begins; ++a) {
      const Action& action = member.actions[a];
      if (action.not_before_s) d.walk.time_s = std::max(d.walk.time_s, *action.not_before_s);
      // Where there is no route the simulation tells it; what follows is reckoned from where one was.
      (void)do_action(d, action);
      if (action.kind == ActionKind::HoldUntil) d.walk.time_s = std::max(d.walk.time_s, action.until_s);
    }
    begun_.push_back({number_of(d.walk.state), d.walk.time_s, d.walk.moves});
  }
}

}  // namespace holdfast::plan::detail
