// SPDX-License-Identifier: GPL-3.0-or-later
// Tasks, and waits for them.

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

namespace {

constexpr double noise_s = 1e-9;

}  // namespace

bool Simulator::do_task(Mover& m, const Action& a) {
  if (!a.task) return skip(m), true;
  const auto& task = excursion_.tasks[a.task->index()];
  Mover* other = other_of(m);
  double earliest_s = m.clock_s;
  What why = What::WaitTask;
  std::string on;
  // What must be done before.
  for (const TaskId before : task.after) {
    if (dropped_.count(before.index())) {
      if (told_.insert(fmt::format("after {} {}", task.id, before.index())).second) {
        auto& v = violate(ViolationKind::Precedence, m.clock_s, &m, task.id);
        v.other = excursion_.tasks[before.index()].id;
        v.names = {"dropped"};
      }
      continue;
    }
    if (const auto ended = task_end_s_[before.index()]) {
      if (*ended > earliest_s) earliest_s = *ended, on = excursion_.tasks[before.index()].id;
      continue;
    }
    if (other && will_do(*other, before) && !m.is_forced) {
      // Go to the place and wait there.
      if (!task.restraint_in) {
        const Step step = go_to_work(m, task, a.by);
        if (step != Step::There) return step == Step::Moved;
      } else if (task.at) {
        const Step step = go_to_place(m, *task.at, a.by);
        if (step != Step::There) return step == Step::Moved;
      }
      return blocked(m, What::WaitTask, excursion_.tasks[before.index()].id);
    }
    if (told_.insert(fmt::format("after {} {}", task.id, before.index())).second) {
      auto& v = violate(ViolationKind::Precedence, m.clock_s, &m, task.id);
      v.other = excursion_.tasks[before.index()].id;
      v.names = {will_do(m, before) ? "later" : other && will_do(*other, before) ? "given-up" : "nobody"};
    }
  }
  // There, and in the restraint.
  std::optional<std::size_t> restraint;
  if (task.restraint_in)
    for (std::size_t i = 0; i < items_.size(); ++i)
      if (items_[i].at == ItemState::At::SetUp && items_[i].socket == *task.restraint_in) restraint = i;
  if (task.restraint_in && m.restraint != task.restraint_in) {
    const std::string& socket = structure_.sockets[task.restraint_in->index()].id;
    if (!restraint) {
      if (told_.insert(fmt::format("restraint {} {}", task.id, m.id.value)).second) {
        auto& v = violate(ViolationKind::RestraintMissing, m.clock_s, &m, socket);
        v.other = task.id;
        for (std::size_t i = 0; i < items_.size(); ++i)
          if (!excursion_.items[i].restraint.empty())
            v.names.push_back(excursion_.items[i].id + " " + where_words(ItemId(i)));
      }
    } else if (other && other->restraint == task.restraint_in) {
      if (!m.is_forced) return blocked(m, What::WaitCrew, other->file->id);
      violate(ViolationKind::SocketTaken, m.clock_s, &m, socket).other = other->file->id;
    } else {
      const auto& obstacle = items_[*restraint].obstacle;
      const reach::Station* station = task.targets.empty() ? nullptr : station_for(m, task, *restraint);
      const Step step = go(m, grips_to_handle(obstacle, task.at), socket, task.at, a.by, obstacle.box.middle);
      if (step != Step::There) return step == Step::Moved;
      const double duration_s = excursion_.values.restraint_enter_s * m.factor;
      wait_for_holds(m, duration_s);
      act(m, RowKind::Handling, What::EnterRestraint, duration_s, socket);
      m.restraint = task.restraint_in;
      if (station) m.frame = station->frame;
      return true;
    }
  }
  if (m.restraint && restraint && !task.targets.empty()) {
    // Another setting than the one before is set from outside.
    const auto* station = station_for(m, task, *restraint);
    const auto is_same = [&](const reach::BodyFrame& x, const reach::BodyFrame& y) {
      return (x.soles - y.soles).norm() + (x.up - y.up).norm() + (x.forward - y.forward).norm() < 1e-6;
    };
    if (station && m.frame && !is_same(station->frame, *m.frame)) {
      const auto& item = excursion_.items[*restraint];
      const std::string& socket = structure_.sockets[m.restraint->index()].id;
      const double leave_s = excursion_.values.restraint_leave_s * m.factor,
                   change_s = model_.kit.find_foot_restraint(item.restraint)->change_s * m.factor,
                   enter_s = excursion_.values.restraint_enter_s * m.factor;
      wait_for_holds(m, leave_s + change_s + enter_s);
      act(m, RowKind::Handling, What::LeaveRestraint, leave_s, socket);
      act(m, RowKind::Handling, What::SetUp, change_s, item.id, socket);
      const Obstacle& standing = items_[*restraint].obstacle;
      plan_.rows.back().box = {standing.box.middle, standing.size_m, standing.box.axes};
      act(m, RowKind::Handling, What::EnterRestraint, enter_s, socket);
    }
    if (station) m.frame = station->frame;
  }
  if (!m.restraint) {
    const Step step = go_to_work(m, task, a.by);
    if (step != Step::There) return step == Step::Moved;
  }
  earliest_s = std::max(earliest_s, m.clock_s);
  // Both together.
  Mover* const partner = task.both && !m.is_forced ? other : nullptr;
  if (partner && !(partner->ready == a.task && partner->blocked == What::WaitCrew)) {
    m.ready = a.task;
    return blocked(m, What::WaitCrew, partner->file->id);
  }
  std::vector<Mover*> doing = {&m};
  if (partner) {
    doing.push_back(partner);
    earliest_s = std::max(earliest_s, partner->clock_s);
  }
  // What it needs.
  for (const ItemId item : task.items) {
    const auto place = task.at ? task.at : m.place;
    const bool is_there =
        std::any_of(doing.begin(), doing.end(), [&](const Mover* x) { return is_at_hand(*x, item, place); });
    if (!is_there && told_.insert(fmt::format("needs {} {} {}", task.id, item.value, m.id.value)).second) {
      auto& v = violate(ViolationKind::ItemNotThere, m.clock_s, &m, excursion_.items[item.index()].id);
      v.other = where_words(item);
      const ItemId root = root_of(item);
      if (root != item) v.other += ", " + where_words(root);
      v.names = {task.id};
    }
  }
  double factor = m.factor;
  if (partner) factor = std::max(factor, partner->factor);
  const double duration_s = duration_of(options_, task) * factor;
  // A configuration that is not there yet.
  const auto has_states = [&](const model::Configuration& configuration) {
    return std::all_of(task.states.begin(), task.states.end(),
                       [&](const auto& need) { return configuration.positions.at(need.first) == need.second; });
  };
  double start_s = earliest_s;
  if (!has_states(configuration_at(start_s)) || throw_during(start_s)) {
    std::optional<double> comes_s;
    for (const Throw& change : throws_)
      if (change.to_s > start_s - noise_s && !comes_s && has_states(change.after)) {
        comes_s = std::max(change.to_s, start_s);
        on = excursion_.events[change.event.index()].id;
      }
    const bool may_come = std::any_of(pending_.begin(), pending_.end(), [&](EventId id) {
      const auto& event = excursion_.events[id.index()];
      return std::any_of(task.states.begin(), task.states.end(),
                         [&](const auto& need) {
                           const auto thrown = event.throws.find(need.first);
                           return thrown != event.throws.end() && thrown->second == need.second;
                         }) &&
             event.after != a.task;
    });
    if (comes_s) {
      start_s = *comes_s;
      why = What::WaitEvent;
    } else if (may_come && !m.is_forced) {
      return blocked(m, What::WaitEvent, task.id);
    } else if (!has_states(configuration_at(start_s))) {
      auto& v = violate(ViolationKind::Configuration, m.clock_s, &m, task.id);
      const auto now = configuration_at(start_s);
      for (const auto& [s, position] : task.states)
        if (now.positions.at(s) != position) v.names = {s, position, now.positions.at(s)};
    }
  }
  // Windows, day and holds that forbid work: the earliest start at which all of it lies within.
  const auto open = open_times(excursion_, task);
  const auto fits = [&](double t) -> double {  // t where it fits, else the next moment to try; infinity: none
    double later = t;
    for (const Mover* x : doing) later = free_of_holds(*x, later, duration_s, false);
    if (later > t) return later;
    if (!task.windows.empty()) {
      double next = std::numeric_limits<double>::infinity();
      bool is_in = false;
      for (const auto& [from_s, to_s] : open) {
        if (to_s - from_s < duration_s - 1e-6) continue;
        if (t >= from_s - noise_s && t + duration_s <= to_s + 1e-6) is_in = true;
        if (from_s > t) next = std::min(next, from_s);
      }
      if (!is_in) return next;
    }
    if (task.needs_day) {
      const auto& orbit = *excursion_.orbit;
      if (duration_s > orbit.period_s - orbit.night_s + 1e-6 && orbit.night_s > 0)
        return std::numeric_limits<double>::infinity();
      if (night_between_s(orbit, t, t + duration_s) > 1e-6) {
        const double k = std::floor((t + duration_s - orbit.first_sunset_s) / orbit.period_s);
        const double sunrise_s = orbit.first_sunset_s + k * orbit.period_s + orbit.night_s;
        return sunrise_s > t + noise_s ? sunrise_s : sunrise_s + orbit.period_s;
      }
    }
    return t;
  };
  double t = start_s;
  bool is_found = false;
  for (int tries = 0; tries < 1000 && std::isfinite(t); ++tries) {
    const double next = fits(t);
    if (next == t) {
      is_found = true;
      break;
    }
    t = next;
  }
  if (!is_found) {
    auto& v = violate(ViolationKind::WindowMissed, m.clock_s, &m, task.id);
    for (const auto id : task.windows) v.names.push_back(excursion_.windows[id.index()].id);
    if (task.needs_day) v.names.emplace_back("day");
    v.value = duration_s;
    t = start_s;
    for (const Mover* x : doing) t = free_of_holds(*x, t, duration_s, false);
  }
  const bool waits_for_hold = t > start_s + noise_s && task.windows.empty() && !task.needs_day;
  const What why_later = waits_for_hold ? What::WaitHold : What::WaitWindow;
  const auto begin_at = [&](Mover& x) {
    wait_until(x, start_s, why, on);
    wait_until(x, t, why_later, waits_for_hold ? "" : task.id);
  };
  if (partner) {
    const double together_s = std::max(m.clock_s, partner->clock_s);
    wait_until(m, together_s, What::WaitCrew, partner->file->id);
    wait_until(*partner, together_s, What::WaitCrew, m.file->id);
  }
  begin_at(m);
  note_reach(m, task, restraint);
  note_photograph(m, task);
  act(m, RowKind::Work, What::Do, duration_s, task.id);
  if (partner) {
    begin_at(*partner);
    act(*partner, RowKind::Work, What::Do, duration_s, task.id);
    partner->ready.reset();
    skip(*partner);
  }
  task_end_s_[a.task->index()] = m.clock_s;
  plan_.done.push_back(*a.task);
  m.ready.reset();
  m.is_forced = false;
  skip(m);
  return true;
}

bool Simulator::do_wait_for(Mover& m, const Action& a) {
  const Mover* other = other_of(m);
  if (a.task) {
    const std::string& id = excursion_.tasks[a.task->index()].id;
    if (const auto ended = task_end_s_[a.task->index()]) {
      wait_until(m, *ended, What::WaitTask, id);
    } else if (!dropped_.count(a.task->index())) {
      if (other && will_do(*other, *a.task) && !m.is_forced) return blocked(m, What::WaitTask, id);
      auto& v = violate(ViolationKind::Precedence, m.clock_s, &m, id);
      v.other = "wait";
      v.names = {will_do(m, *a.task) ? "later" : other && will_do(*other, *a.task) ? "given-up" : "nobody"};
      m.is_forced = false;
    }
  } else if (a.event) {
    const std::string& id = excursion_.events[a.event->index()].id;
    std::optional<double> ends_s;
    for (const Throw& change : throws_)
      if (change.event == *a.event) ends_s = change.to_s;
    for (const HoldTime& hold : holds_)
      if (hold.event == *a.event) ends_s = hold.to_s;
    if (ends_s) {
      wait_until(m, *ends_s, What::WaitEvent, id);
    } else {
      const auto after = excursion_.events[a.event->index()].after;
      const bool will_come = after && (task_end_s_[after->index()] || (other && will_do(*other, *after)));
      if (will_come && !m.is_forced) return blocked(m, What::WaitEvent, id);
      auto& v = violate(ViolationKind::Precedence, m.clock_s, &m, id);
      v.other = "wait";
      v.names = {"nobody"};
      m.is_forced = false;
    }
  }
  skip(m);
  return true;
}

}  // namespace holdfast::plan::detail
