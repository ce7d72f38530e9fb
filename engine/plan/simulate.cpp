// SPDX-License-Identifier: GPL-3.0-or-later
// The excursion action by action: whoever's clock is earlier does the next one, so that all that began earlier is
// known.

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <limits>

#include "back_impl.h"
#include "pieces_impl.h"
#include "simulator_impl.h"

namespace holdfast::plan {

using detail::ItemState;
using detail::Mover;
using model::Action;
using model::ActionKind;
using model::PlaceKind;

namespace detail {

namespace {

constexpr double noise_s = 1e-9;

}  // namespace

Simulator::Simulator(const model::Model& model, const model::Configuration& configuration,
                     const model::Excursion& excursion, const PlanOptions& options, Legs& legs,
                     std::vector<CrewId> right_of_way)
    : model_(model), structure_(model.structure), excursion_(excursion), options_(options), legs_(legs) {
  plan_.excursion = &excursion;
  plan_.configuration = configuration;
  plan_.right_of_way = std::move(right_of_way);
  plan_.options = options;
  task_end_s_.resize(excursion.tasks.size());
  for (const TaskId task : options.dropped) dropped_.insert(task.index());
  // An optional task that follows a dropped one goes with it.
  for (bool has_grown = true; has_grown;) {
    has_grown = false;
    for (std::size_t t = 0; t < excursion.tasks.size(); ++t)
      if (excursion.tasks[t].optional && !dropped_.count(t))
        for (const TaskId before : excursion.tasks[t].after)
          if (dropped_.count(before.index())) has_grown = dropped_.insert(t).second;
  }
  for (const auto& item : excursion.items) {
    ItemState state;
    state.at = item.in ? ItemState::At::Item : ItemState::At::Place;
    state.place = item.at.value_or(PlaceId());
    state.item = item.in.value_or(ItemId());
    items_.push_back(state);
  }
  for (std::size_t c = 0; c < excursion.crew.size(); ++c) {
    const auto& file = excursion.crew[c];
    Mover m;
    m.id = CrewId(c);
    m.file = &file;
    m.suit = model.kit.find_suit(file.suit);
    model::ensure(m.suit, "the suit was found when the excursion was read");
    m.factor = factor_of(options, file);
    for (const auto& tether : file.tethers) {
      if (!m.tethers.empty()) break;
      m.tethers.push_back({model.kit.find_tether(tether), file.anchor->index(), std::nullopt, nullptr});
    }
    m.place = file.start;
    m.hand = place_at(file.start, 0);
    movers_.push_back(std::move(m));
  }
  for (std::size_t e = 0; e < excursion.events.size(); ++e) {
    const auto& event = excursion.events[e];
    if (!event.at_s)
      pending_.emplace_back(e);
    else if (event.is_throw())
      add_throw(EventId(e), *event.at_s);
    else
      holds_.push_back({EventId(e), *event.at_s, *event.at_s + event.duration_s, event.holds, event.allows_work});
  }
  // Events at one moment: ends before throws, throws before holds; both lists are in time.
  std::stable_sort(holds_.begin(), holds_.end(),
                   [](const HoldTime& x, const HoldTime& y) { return x.from_s < y.from_s; });
}

Mover* Simulator::other_of(const Mover& m) {
  for (Mover& other : movers_)
    if (other.id != m.id) return &other;
  return nullptr;
}

// ---- items
// --------------------------------------------------------------------------------------------------------------------

const model::Load& Simulator::load_of(ItemId item) const {
  return load_of_item(model_.kit, excursion_, options_, item);
}

double Simulator::content_kg(ItemId container) const {
  double mass_kg = 0;
  std::vector<ItemId> open = {container};
  while (!open.empty()) {
    const ItemId at = open.back();
    open.pop_back();
    for (std::size_t i = 0; i < items_.size(); ++i)
      if (items_[i].at == ItemState::At::Item && items_[i].item == at) {
        mass_kg += load_of(ItemId(i)).mass_kg;
        open.emplace_back(i);
      }
  }
  return mass_kg;
}

std::vector<const model::Load*> Simulator::loads_of(const Mover& m) {
  std::vector<const model::Load*> loads;
  for (const ItemId item : m.carried) loads.push_back(legs_.heavier(load_of(item), content_kg(item)));
  return loads;
}

bool Simulator::can_carry(const Mover& m, ItemId item) {
  auto loads = loads_of(m);
  loads.push_back(legs_.heavier(load_of(item), content_kg(item)));
  return can_carry_all(loads);
}

ItemId Simulator::root_of(ItemId item) const {
  while (items_[item.index()].at == ItemState::At::Item) item = items_[item.index()].item;
  return item;
}

bool Simulator::starts_inside(ItemId item) const {
  while (excursion_.items[item.index()].in) item = *excursion_.items[item.index()].in;
  const auto& at = excursion_.items[item.index()].at;
  return at && structure_.places[at->index()].kind == PlaceKind::Hatch;
}

bool Simulator::is_at_hand(const Mover& m, ItemId item, std::optional<PlaceId> place) const {
  const ItemState& state = items_[root_of(item).index()];
  switch (state.at) {
    case ItemState::At::Crew:
      return state.crew == m.id;
    case ItemState::At::Place:
      return place && state.place == *place;
    case ItemState::At::Stowed:
    case ItemState::At::SetUp:
      return place && state.near == place;
    case ItemState::At::Item:
    case ItemState::At::Inside:
      return false;
  }
  return false;
}

std::string Simulator::where_words(ItemId item) const {
  const ItemState& state = items_[item.index()];
  switch (state.at) {
    case ItemState::At::Place:
      return "at " + structure_.places[state.place.index()].id;
    case ItemState::At::Item:
      return "in " + excursion_.items[state.item.index()].id;
    case ItemState::At::Crew:
      return "with " + excursion_.crew[state.crew.index()].id;
    case ItemState::At::Stowed: {
      std::string rails;
      for (const auto rail : state.obstacle.tied_to)
        rails += (rails.empty() ? "" : ", ") + structure_.rails[rail.index()].id;
      return "stowed on " + rails;
    }
    case ItemState::At::SetUp:
      return "in socket " + structure_.sockets[state.socket.index()].id;
    case ItemState::At::Inside:
      return "inside";
  }
  return {};
}

// ---- rows
// --------------------------------------------------------------------------------------------------------------------

Violation& Simulator::violate(ViolationKind kind, double at_s, const Mover* m, std::string subject) {
  Violation v;
  v.kind = kind;
  v.at_s = v.to_s = at_s;
  if (m) {
    v.crew = m->id;
    // Each later action that lacks the same thing follows from the first.
    if (kind == ViolationKind::ItemNotThere || kind == ViolationKind::RestraintMissing ||
        kind == ViolationKind::HandsFull) {
      const auto [entry, is_new] = lacking_.try_emplace(
          fmt::format("{} {} {}", static_cast<int>(kind), m->id.value, subject), plan_.violations.size());
      if (!is_new) v.follows = entry->second;
    }
  }
  v.subject = std::move(subject);
  plan_.violations.push_back(std::move(v));
  return plan_.violations.back();
}

Row& Simulator::add_row(Mover& m, RowKind kind, What what, double duration_s, std::string subject, std::string other) {
  Row row;
  row.crew = m.id;
  row.kind = kind, row.what = what;
  row.from_s = m.clock_s, row.to_s = m.clock_s + duration_s;
  row.subject = std::move(subject), row.other = std::move(other);
  for (const ItemId item : m.carried) row.carried.push_back(excursion_.items[item.index()].id);
  row.hand = m.hand;
  if (m.next < m.file->actions.size()) {
    row.action = m.next;
    static constexpr What stands_for[] = {What::Go,       What::Take,    What::Put,       What::Stow,     What::SetUp,
                                          What::TakeDown, What::Do,      What::WaitUntil, What::WaitTask, What::Swap,
                                          What::HandOver, What::Receive, What::Ingress,   What::Tie};
    static_assert(std::size(stands_for) == model::action_kind_count);
    const auto asked = m.file->actions[m.next].kind;
    const bool is_laying = what == What::Mate || what == What::Coil || what == What::TakeUp;
    row.is_derived = stands_for[static_cast<std::size_t>(asked)] != what && !(asked == ActionKind::Lay && is_laying);
  } else {
    row.is_derived = true;
  }
  if (excursion_.orbit) row.night_s = night_between_s(*excursion_.orbit, row.from_s, row.to_s);
  m.clock_s = row.to_s;
  m.was_translation = kind == RowKind::Translation;
  m.was_work = kind == RowKind::Work || kind == RowKind::Handling;
  plan_.rows.push_back(std::move(row));
  return plan_.rows.back();
}

void Simulator::wait_until(Mover& m, double until_s, What what, std::string subject) {
  if (until_s <= m.clock_s + noise_s) return;
  rest(m, until_s);
  if (m.grip) note_moment(m, m.clock_s, *m.grip, std::nullopt, 0, true);
  add_row(m, what == What::WaitHold ? RowKind::Hold : RowKind::Wait, what, until_s - m.clock_s, std::move(subject));
}

void Simulator::settle(Mover& m) {
  if (m.grip || !m.is_out) return;
  const Site& site = legs_.site(configuration_at(m.clock_s), *m.suit);
  const OpenTable& open = legs_.table(site, route::Objective::Time, closings());
  for (const GripId g : site.graph->find_grips_within(place_at(m.file->start, m.clock_s),
                                                      structure_.places[m.file->start.index()].within_m)) {
    if (!open.is_open[g.index()]) continue;
    m.grip = ref_of(*site.graph, g);
    m.hand = site.graph->grip(g).hand, m.body = site.graph->body_point(g);
    return;
  }
}

void Simulator::act(Mover& m, RowKind kind, What what, double duration_s, std::string subject, std::string other) {
  if (kind != RowKind::Overhead) settle(m);
  if (m.grip) note_moment(m, m.clock_s, *m.grip, std::nullopt, 0, true);
  rest(m, m.clock_s + duration_s);
  add_row(m, kind, what, duration_s, std::move(subject), std::move(other));
}

void Simulator::wait_for_holds(Mover& m, double duration_s) {
  wait_until(m, free_of_holds(m, m.clock_s, duration_s, false), What::WaitHold);
}

bool Simulator::skip_not_there(Mover& m, ItemId item) {
  violate(ViolationKind::ItemNotThere, m.clock_s, &m, excursion_.items[item.index()].id).other = where_words(item);
  skip(m);
  return true;
}

bool Simulator::tell_if_hands_full(const Mover& m, ItemId item) {
  if (can_carry(m, item)) return false;
  auto& v = violate(ViolationKind::HandsFull, m.clock_s, &m, excursion_.items[item.index()].id);
  for (const ItemId carried : m.carried) v.names.push_back(excursion_.items[carried.index()].id);
  return true;
}

bool Simulator::leave_restraint(Mover& m) {
  const double duration_s = excursion_.values.restraint_leave_s * m.factor;
  wait_for_holds(m, duration_s);
  act(m, RowKind::Handling, What::LeaveRestraint, duration_s, structure_.sockets[m.restraint->index()].id);
  m.restraint.reset();
  m.frame.reset();
  return true;
}

bool Simulator::blocked(Mover& m, What what, std::string on) {
  m.blocked = what;
  m.blocked_on = std::move(on);
  return false;
}

bool Simulator::will_do(const Mover& m, TaskId task) const {
  if (m.is_inside) return false;
  for (std::size_t a = m.next; a < m.file->actions.size(); ++a)
    if (m.file->actions[a].kind == ActionKind::Do && m.file->actions[a].task == task) return true;
  return false;
}

// ---- the loop
// --------------------------------------------------------------------------------------------------------------------

Plan Simulator::run() {
  const auto rank = [&](const Mover& m) {
    const auto at = std::find(plan_.right_of_way.begin(), plan_.right_of_way.end(), m.id);
    return at - plan_.right_of_way.begin();
  };
  // Each turn is an action, a piece of one, or a wait given up; a bound against a loop that we did not foresee.
  std::size_t most_turns = 1000;
  for (const Mover& m : movers_) {
    most_turns += 60 * (m.file->actions.size() + 2);
    // A run takes turns at each of its ties.
    for (const Action& a : m.file->actions)
      if (a.kind == ActionKind::Lay) most_turns += 100'000;
  }
  place_coils();
  for (std::size_t turn = 0;; ++turn) {
    model::ensure(turn < most_turns, "an excursion is simulated in a bounded number of turns");
    resolve_events(false);
    Mover* next = nullptr;
    for (Mover& m : movers_) {
      if (m.is_inside || m.blocked) continue;
      if (!next || m.clock_s < next->clock_s - noise_s ||
          (m.clock_s < next->clock_s + noise_s && rank(m) < rank(*next)))
        next = &m;
    }
    if (!next) {
      // Everybody who is out waits. An event may yet be forced; else the last in right of way gives up the wait.
      Mover* last = nullptr;
      std::vector<std::string> links;
      for (Mover& m : movers_) {
        if (m.is_inside) continue;
        links.push_back(fmt::format("{} waits for {}", m.file->id, m.blocked_on));
        if (!last || rank(m) > rank(*last)) last = &m;
      }
      if (!last) break;
      const auto before = pending_.size();
      resolve_events(true);
      if (pending_.size() < before) {
        for (Mover& m : movers_) m.blocked.reset();
        continue;
      }
      if (last->blocked != What::WaitBody) {
        auto& v = violate(ViolationKind::WaitsInCircle, last->clock_s, last, last->blocked_on);
        v.names = links;
      }
      last->is_forced = true;
      last->blocked.reset();
      continue;
    }
    if (step(*next))
      for (Mover& m : movers_) m.blocked.reset();
  }
  finish();
  return std::move(plan_);
}

bool Simulator::begin(Mover& m) {
  m.is_out = true;
  if (excursion_.egress_s > 0) {
    Row& row =
        add_row(m, RowKind::Overhead, What::Egress, excursion_.egress_s, structure_.places[m.file->start.index()].id);
    row.is_derived = true;
    row.action.reset();
  }
  return true;
}

bool Simulator::step(Mover& m) {
  if (!m.is_out) return begin(m);
  if (m.next >= m.file->actions.size()) return do_return(m, nullptr);
  const Action& a = m.file->actions[m.next];
  if ((a.for_task && dropped_.count(a.for_task->index())) ||
      (a.kind == ActionKind::Do && a.task && dropped_.count(a.task->index()))) {
    skip(m);
    return true;
  }
  if (a.not_before_s && *a.not_before_s > m.clock_s + noise_s) {
    wait_until(m, *a.not_before_s, What::WaitUntil);
    return true;
  }
  if (m.restraint) {
    const bool is_work_there =
        a.kind == ActionKind::Do && a.task && excursion_.tasks[a.task->index()].restraint_in == m.restraint;
    const bool is_wait = a.kind == ActionKind::HoldUntil || a.kind == ActionKind::WaitFor ||
                         a.kind == ActionKind::HandOver || a.kind == ActionKind::Receive;
    if (!is_work_there && !is_wait) return leave_restraint(m);
  }
  switch (a.kind) {
    case ActionKind::Go: {
      if (!a.place) return skip(m), true;
      // Through the via places in their order, each a leg of its own.
      if (m.via < a.via.size()) {
        const Step step = go_to_place(m, a.via[m.via], a.by);
        if (step == Step::Blocked) return false;
        if (step == Step::There) ++m.via;
        return true;
      }
      const Step step = go_to_place(m, *a.place, a.by);
      if (step == Step::Blocked) return false;
      if (step == Step::There) m.via = 0, skip(m);
      return true;
    }
    case ActionKind::Take:
      return do_take(m, a);
    case ActionKind::Put:
      return do_put(m, a);
    case ActionKind::Stow:
      return do_stow(m, a);
    case ActionKind::SetUp:
      return do_set_up(m, a);
    case ActionKind::TakeDown:
      return do_take_down(m, a);
    case ActionKind::Do:
      return do_task(m, a);
    case ActionKind::HoldUntil:
      wait_until(m, a.until_s, What::WaitUntil);
      skip(m);
      return true;
    case ActionKind::WaitFor:
      return do_wait_for(m, a);
    case ActionKind::Swap:
      return do_swap(m, a);
    case ActionKind::HandOver:
    case ActionKind::Receive:
      return do_hand_over(m, a);
    case ActionKind::Return:
      return do_return(m, &a);
    case ActionKind::Lay:
      return do_lay(m, a);
  }
  return true;
}

}  // namespace detail

}  // namespace holdfast::plan
