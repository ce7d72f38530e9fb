// The excursion action by action: whoever's clock is earlier does the next one, so that all that began earlier is
// known.

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <set>

#include "back_impl.h"
#include "simulator_impl.h"

namespace holdfast::plan {

using detail::ItemState;
using detail::Mover;
using model::Action;
using model::ActionKind;
using model::PlaceKind;

namespace {

/// Nights cut to [from, to], in order.
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

}  // namespace

double night_between_s(const model::Orbit& orbit, double from_s, double to_s) {
  double night_s = 0;
  for (const auto& [begins_s, ends_s] : nights_between(orbit, from_s, to_s)) night_s += ends_s - begins_s;
  return night_s;
}

namespace detail {

namespace {

constexpr double noise_s = 1e-9;

/// Windows that the task needs, in order, abutting ones as one.
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
    if (const auto slower = options.slower.find(file.id); slower != options.slower.end()) m.factor = slower->second;
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
// -----------------------------------------------------------------------------------------------------------

const model::Load& Simulator::load_of(ItemId item) const {
  const auto& file = excursion_.items[item.index()];
  const auto other = options_.load_of.find(file.id);
  const auto* load = model_.kit.find_load(other == options_.load_of.end() ? file.load : other->second);
  model::ensure(load, "the load was found when the excursion was read");
  return *load;
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
// ------------------------------------------------------------------------------------------------------------

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
                                          What::HandOver, What::Receive, What::Ingress};
    static_assert(std::size(stands_for) == model::action_kind_count);
    row.is_derived = stands_for[static_cast<std::size_t>(m.file->actions[m.next].kind)] != what;
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

void Simulator::act(Mover& m, RowKind kind, What what, double duration_s, std::string subject, std::string other) {
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
// --------------------------------------------------------------------------------------------------------

Plan Simulator::run() {
  const auto rank = [&](const Mover& m) {
    const auto at = std::find(plan_.right_of_way.begin(), plan_.right_of_way.end(), m.id);
    return at - plan_.right_of_way.begin();
  };
  // Each turn is an action, a piece of one, or a wait given up; a bound against a loop that we did not foresee.
  std::size_t most_turns = 1000;
  for (const Mover& m : movers_) most_turns += 60 * (m.file->actions.size() + 2);
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
  }
  return true;
}

// ---- handling
// --------------------------------------------------------------------------------------------------------

bool Simulator::do_take(Mover& m, const Action& a) {
  if (!a.item) return skip(m), true;
  const std::string& id = excursion_.items[a.item->index()].id;
  const ItemState state = items_[a.item->index()];
  const ItemState& root = items_[root_of(*a.item).index()];
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
  if (first == last) {
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
    const auto corners = graph::corners_of(obstacle.box, obstacle.size_m);
    const auto theirs = graph::corners_of(items_[i].obstacle.box, items_[i].obstacle.size_m);
    const auto inside = [](const auto& points, const Obstacle& o) {
      return std::any_of(points.begin(), points.end(),
                         [&](const Vec3& p) { return distance_to_box(o.box, o.size_m, p) <= 1e-9; });
    };
    const bool overlaps = inside(corners, items_[i].obstacle) || inside(theirs, obstacle) ||
                          distance_to_box(obstacle.box, obstacle.size_m, items_[i].obstacle.box.middle) <= 1e-9;
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
  const auto before = plan_.violations.size();
  const Step step = go(m, grips_to_handle(obstacle, m.place), m.place ? structure_.places[m.place->index()].id : id,
                       m.place, a.by, obstacle.box.middle);
  if (step != Step::There) return step == Step::Moved;
  if (plan_.violations.size() > before && plan_.violations.back().kind == ViolationKind::NoGripNear) {
    plan_.violations.back().subject = id;
    plan_.violations.back().other = "to stow from";
  }
  double start_s = m.clock_s;
  if (const Mover* other = other_of(m); other && other->is_out && !other->is_inside)
    for (const Occupied& o : other->occupied) {
      if (!o.moves || o.to_s <= start_s) continue;
      for (const Vec3& p : o.body)
        if (distance_to_box(obstacle.box, obstacle.size_m, p) < o.radius_m + o.off_m)
          start_s = std::max(start_s, o.to_s);
      for (const Vec3& p : o.hands)
        if (distance_to_box(obstacle.box, obstacle.size_m, p) <= model_.kit.design.grip_length_m)
          start_s = std::max(start_s, o.to_s);
    }
  if (start_s > m.clock_s) wait_until(m, start_s, What::WaitBody, other_of(m)->file->id);
  const double duration_s = load.stow_s * m.factor;
  wait_for_holds(m, duration_s);
  act(m, RowKind::Handling, What::Stow, duration_s, id, structure_.rails[rail.index()].id);
  plan_.rows.back().box = {obstacle.box.middle, obstacle.size_m, obstacle.box.axes};
  std::erase(m.carried, *a.item);
  ItemState& state = items_[a.item->index()];
  state.at = ItemState::At::Stowed;
  state.obstacle = obstacle;
  state.near = m.place;
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
  const model::Pose pose = structure_.frame_of(socket.part, configuration);
  const Vec3 axis = pose.linear() * socket.axis;
  Obstacle obstacle;
  obstacle.size_m = load_of(*a.item).size_m;
  obstacle.box.axes.col(2) = axis;
  obstacle.box.axes.col(0) = axis.unitOrthogonal();
  obstacle.box.axes.col(1) = axis.cross(obstacle.box.axes.col(0));
  obstacle.box.middle = pose * socket.at + axis * (obstacle.size_m.z() / 2);
  for (std::size_t i = 0; i < items_.size(); ++i)
    if (items_[i].at == ItemState::At::SetUp && items_[i].socket == *a.socket) {
      auto& v = violate(ViolationKind::SocketTaken, m.clock_s, &m, socket.id);
      v.other = excursion_.items[i].id;
      v.names = {id};
      skip(m);
      return true;
    }
  const Step step = go(m, grips_to_handle(obstacle, m.place), socket.id, m.place, a.by, obstacle.box.middle);
  if (step != Step::There) return step == Step::Moved;
  const double duration_s = excursion_.values.restraint_set_s * m.factor;
  wait_for_holds(m, duration_s);
  act(m, RowKind::Handling, What::SetUp, duration_s, id, socket.id);
  plan_.rows.back().box = {obstacle.box.middle, obstacle.size_m, obstacle.box.axes};
  std::erase(m.carried, *a.item);
  ItemState& state = items_[a.item->index()];
  state.at = ItemState::At::SetUp;
  state.obstacle = obstacle;
  state.socket = *a.socket;
  state.near = m.place;
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

// ---- tasks
// -----------------------------------------------------------------------------------------------------------

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
      if (task.at) {
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
      const Step step = go(m, grips_to_handle(obstacle, task.at), socket, task.at, a.by, obstacle.box.middle);
      if (step != Step::There) return step == Step::Moved;
      const double duration_s = excursion_.values.restraint_enter_s * m.factor;
      wait_for_holds(m, duration_s);
      act(m, RowKind::Handling, What::EnterRestraint, duration_s, socket);
      m.restraint = task.restraint_in;
      return true;
    }
  }
  if (!m.restraint && task.at) {
    const Step step = go_to_place(m, *task.at, a.by);
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
  double duration_s = task.duration_s;
  if (const auto longer = options_.longer_s.find(task.id); longer != options_.longer_s.end())
    duration_s += longer->second;
  duration_s *= factor;
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

// ---- tethers and the return
// ------------------------------------------------------------------------------------------

/// Back on the tether that was left here: its line was kept as it lay, and now ends where the crew member is.
void Simulator::unhook(Mover& m) {
  m.tethers.pop_back();
  m.slack.clear();
  m.reel = std::move(m.tethers.back().left);
  m.reel_scene = m.tethers.back().left_in;
  m.tethers.back().left.reset();
  m.has_line = m.reel && route::is_line_clear(*m.reel_scene, m.reel->line().points.back(), m.body);
  if (m.has_line) {
    m.out_upper_m = m.reel->go(std::vector<Vec3>{m.body}).length_m;
    return;
  }
  m.reel.reset();
  auto& v = violate(ViolationKind::Tether, m.clock_s, &m, m.tethers.back().tether->id);
  v.other = structure_.anchors[m.tethers.back().anchor].id;
  v.names = {"not-followed"};
}

Simulator::Step Simulator::go_to_anchor(Mover& m, const model::Anchor& anchor, std::optional<model::LegAim> by) {
  const Vec3 at =
      anchor.part ? Vec3(structure_.pose(*anchor.part, configuration_at(m.clock_s)) * anchor.at) : anchor.at;
  const double reach_m = excursion_.values.handling_reach_m;
  return go(
      m, [&](const Site& site) { return site.graph->find_grips_within(at, reach_m); }, anchor.id, std::nullopt, by, at);
}

bool Simulator::do_swap(Mover& m, const Action& a) {
  if (!a.anchor) return skip(m), true;
  const auto& anchor = structure_.anchors[a.anchor->index()];
  const auto configuration = configuration_at(m.clock_s);
  if (!anchor.when.holds(configuration) || (anchor.part && !structure_.is_present(*anchor.part, configuration))) {
    violate(ViolationKind::Configuration, m.clock_s, &m, anchor.id).names = {"absent"};
    skip(m);
    return true;
  }
  const bool is_back = m.tethers.size() > 1 && m.tethers.back().anchor == a.anchor->index();
  if (!is_back && (m.tethers.empty() || m.tethers.size() >= m.file->tethers.size())) {
    auto& v = violate(ViolationKind::Tether, m.clock_s, &m, anchor.id);
    v.names = {"none-left"};
    v.limit = static_cast<double>(m.file->tethers.size());
    skip(m);
    return true;
  }
  const Step step = go_to_anchor(m, anchor, a.by);
  if (step != Step::There) return step == Step::Moved;
  const double duration_s = 2 * m.suit->tether_hook_s * m.factor;
  wait_for_holds(m, duration_s);
  act(m, RowKind::Handling, is_back ? What::Unhook : What::Swap, duration_s, anchor.id);
  if (is_back) {
    unhook(m);
  } else {
    pull_tight(m);
    m.tethers.back().left = std::move(m.reel);
    m.tethers.back().left_in = m.reel_scene;
    m.tethers.push_back(
        {model_.kit.find_tether(m.file->tethers[m.tethers.size()]), a.anchor->index(), std::nullopt, nullptr});
    m.reel.reset();
    m.has_line = true;
  }
  skip(m);
  return true;
}

bool Simulator::do_return(Mover& m, const Action* a) {
  const auto by = a ? a->by : std::nullopt;
  if (m.restraint) return leave_restraint(m);
  if (m.tethers.size() > 1) {
    const auto& anchor = structure_.anchors[m.tethers.back().anchor];
    const Step step = go_to_anchor(m, anchor, by);
    if (step != Step::There) return step == Step::Moved;
    const double duration_s = 2 * m.suit->tether_hook_s * m.factor;
    wait_for_holds(m, duration_s);
    act(m, RowKind::Handling, What::Unhook, duration_s, anchor.id);
    unhook(m);
    return true;
  }
  const auto configuration = configuration_at(m.clock_s);
  std::vector<PlaceId> hatches = hatches_of(structure_, configuration);
  if (hatches.empty()) hatches.push_back(m.file->start);
  if (m.grip) {
    const Vec3 at = structure_.position(structure_.places[hatches.front().index()], configuration);
    const auto hatch_of = [&](const Vec3& hand) {
      for (const PlaceId id : hatches)
        if ((structure_.position(structure_.places[id.index()], configuration) - hand).norm() <=
            structure_.places[id.index()].within_m + 1e-6)
          return id;
      return hatches.front();
    };
    const Step step = go(
        m, [&](const Site& site) { return grips_near(site, structure_, hatches); },
        structure_.places[hatches.front().index()].id, hatches.front(), by, at);
    if (step == Step::Blocked) return false;
    if (step == Step::Moved) {
      m.place = hatch_of(m.hand);
      return true;
    }
  }
  if (excursion_.ingress_s > 0) {
    act(m, RowKind::Overhead, What::Ingress, excursion_.ingress_s,
        structure_.places[m.place.value_or(hatches.front()).index()].id);
  } else if (m.grip) {
    note_moment(m, m.clock_s, *m.grip, std::nullopt, 0, true);
    if (moments.back().row > 0) --moments.back().row;  // the row that ends there
  }
  m.is_inside = true;
  for (std::size_t i = 0; i < items_.size(); ++i)
    if (items_[i].at == ItemState::At::Crew && items_[i].crew == m.id) items_[i].at = ItemState::At::Inside;
  // Whatever stands after a return is not done.
  if (a) m.next = m.file->actions.size();
  return true;
}

// ---- the end
// ---------------------------------------------------------------------------------------------------------

void Simulator::finish() {
  for (const Throw& change : throws_) {
    Row row;
    row.kind = RowKind::Throw, row.what = What::Throw;
    row.from_s = change.from_s, row.to_s = change.to_s;
    row.subject = excursion_.events[change.event.index()].id;
    plan_.rows.push_back(std::move(row));
  }
  for (const HoldTime& hold : holds_) {
    Row row;
    row.kind = RowKind::Hold, row.what = What::Hold;
    row.from_s = hold.from_s, row.to_s = hold.to_s;
    row.subject = excursion_.events[hold.event.index()].id;
    plan_.rows.push_back(std::move(row));
  }
  check_bodies();
  check_zones();
  check_events();
  for (const EventId id : pending_) {
    auto& v = violate(ViolationKind::Precedence, 0, nullptr, excursion_.events[id.index()].id);
    v.other = excursion_.tasks[excursion_.events[id.index()].after->index()].id;
    v.names = {"event"};
  }
  plan_.totals.resize(movers_.size());
  for (const Mover& m : movers_) {
    Totals& total = plan_.totals[m.id.index()];
    total.by_kind_s.assign(row_kind_count, 0);
    total.inside_at_s = m.clock_s;
    plan_.finish_s = std::max(plan_.finish_s, m.clock_s);
    for (const Row& row : plan_.rows) {
      if (row.crew != m.id) continue;
      total.by_kind_s[static_cast<std::size_t>(row.kind)] += row.to_s - row.from_s;
      total.moves += row.moves;
      total.distance_m += row.distance_m;
      const bool is_idle = row.kind == RowKind::Wait || row.kind == RowKind::Hold;
      total.energy_j += (row.to_s - row.from_s) * (is_idle ? excursion_.values.idle_w : excursion_.values.active_w);
    }
    if (total.energy_j > excursion_.values.energy_j * (1 + 1e-9)) {
      auto& v = violate(ViolationKind::Energy, m.clock_s, &m, m.file->id);
      v.value = total.energy_j, v.limit = excursion_.values.energy_j;
    }
    if (m.clock_s > excursion_.limit_s + 1e-6) {
      auto& v = violate(ViolationKind::LimitExceeded, excursion_.limit_s, &m, m.file->id);
      v.value = m.clock_s, v.limit = excursion_.limit_s;
    }
  }
  std::set<std::size_t> left;
  for (const TaskId task : plan_.done)
    for (const ItemId item : excursion_.tasks[task.index()].leaves) left.insert(item.index());
  for (std::size_t i = 0; i < items_.size(); ++i) {
    const auto& file = excursion_.items[i];
    const ItemState& root = items_[root_of(ItemId(i)).index()];
    Whereabouts w;
    w.item = ItemId(i);
    const ItemState& state = items_[i];
    if (state.at == ItemState::At::Item) w.container = excursion_.items[state.item.index()].id;
    if (root.at == ItemState::At::Place) w.place = structure_.places[root.place.index()].id;
    if (root.at == ItemState::At::Crew) w.crew = excursion_.crew[root.crew.index()].id;
    if (root.at == ItemState::At::SetUp) w.socket = structure_.sockets[root.socket.index()].id;
    for (const auto rail : root.obstacle.tied_to)
      if (root.at == ItemState::At::Stowed) w.rails.push_back(structure_.rails[rail.index()].id);
    w.is_inside = root.at == ItemState::At::Inside ||
                  (root.at == ItemState::At::Place && structure_.places[root.place.index()].kind == PlaceKind::Hatch);
    const bool is_home = !file.home || (root.at == ItemState::At::Place && root.place == *file.home) ||
                         (w.is_inside && structure_.places[file.home->index()].kind == PlaceKind::Hatch);
    const bool must_be_inside = (starts_inside(ItemId(i)) && !file.home) || file.bring_in;
    if (!left.count(i)) {
      w.must_be_inside = must_be_inside;
      if (file.home) w.must_be_at = structure_.places[file.home->index()].id;
    }
    if (!left.count(i) && ((must_be_inside && !w.is_inside) || !is_home)) {
      auto& v = violate(ViolationKind::ItemLeftOutside, plan_.finish_s, nullptr, file.id);
      v.other = where_words(root_of(ItemId(i)));
      if (!is_home) v.names = {structure_.places[file.home->index()].id};
    }
    plan_.items.push_back(std::move(w));
  }
  for (const std::size_t t : dropped_) plan_.dropped.emplace_back(t);
  if (excursion_.orbit) plan_.nights = nights_between(*excursion_.orbit, 0, plan_.finish_s);
}

}  // namespace detail

namespace {

std::size_t own_violations(const Plan& plan) {
  return static_cast<std::size_t>(
      std::count_if(plan.violations.begin(), plan.violations.end(), [](const Violation& v) { return !v.follows; }));
}

/// Rows by start, crew before inside; violations by moment. References between them are kept.
void sort_plan(Plan& plan) {
  std::vector<std::size_t> order(plan.rows.size()), place(plan.rows.size());
  for (std::size_t i = 0; i < order.size(); ++i) order[i] = i;
  std::stable_sort(order.begin(), order.end(), [&](std::size_t x, std::size_t y) {
    const Row &a = plan.rows[x], &b = plan.rows[y];
    if (a.from_s != b.from_s) return a.from_s < b.from_s;
    if (a.crew == b.crew) return false;
    return a.crew.has_value() && (!b.crew || *a.crew < *b.crew);
  });
  std::vector<Row> rows;
  for (std::size_t i = 0; i < order.size(); ++i) place[order[i]] = i, rows.push_back(std::move(plan.rows[order[i]]));
  plan.rows = std::move(rows);
  for (Back& back : plan.back) back.row = place[back.row];
  std::vector<std::size_t> by_time(plan.violations.size()), at(plan.violations.size());
  for (std::size_t i = 0; i < by_time.size(); ++i) by_time[i] = i;
  std::stable_sort(by_time.begin(), by_time.end(),
                   [&](std::size_t x, std::size_t y) { return plan.violations[x].at_s < plan.violations[y].at_s; });
  std::vector<Violation> violations;
  for (std::size_t i = 0; i < by_time.size(); ++i)
    at[by_time[i]] = i, violations.push_back(std::move(plan.violations[by_time[i]]));
  for (Violation& v : violations)
    if (v.follows) v.follows = at[*v.follows];
  plan.violations = std::move(violations);
}

}  // namespace

Plan detail::simulate_with(Legs& legs, const model::Model& model, const model::Configuration& configuration,
                           const model::Excursion& excursion, const PlanOptions& options) {
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
  std::vector<std::vector<CrewId>> orders;
  if (!excursion.right_of_way.empty()) {
    orders.push_back(excursion.right_of_way);
  } else {
    std::vector<CrewId> all;
    for (std::size_t c = 0; c < excursion.crew.size(); ++c) all.emplace_back(c);
    orders.push_back(all);
    if (all.size() == 2) orders.push_back({all[1], all[0]});
  }
  std::optional<Plan> best;
  std::vector<detail::Moment> moments;
  std::vector<detail::Closings> closings;
  const auto rank = [](const Plan& plan) {
    std::size_t moves = 0;
    for (const auto& total : plan.totals) moves += total.moves;
    return std::tuple(own_violations(plan), plan.finish_s, moves);
  };
  for (const auto& order : orders) {
    detail::Simulator simulator(model, configuration, excursion, options, legs, order);
    Plan plan = simulator.run();
    if (best && !(rank(plan) < rank(*best))) {
      best->other_right_of_way_s = plan.finish_s;
      continue;
    }
    if (best) plan.other_right_of_way_s = best->finish_s;
    best = std::move(plan);
    moments = std::move(simulator.moments);
    closings = std::move(simulator.closings_kept);
  }
  Plan plan = std::move(*best);
  if (options.looks_back) detail::look_back(model, excursion, legs, moments, closings, plan);
  sort_plan(plan);
  auto& not_assessed = plan.not_assessed;
  if (excursion.crew.size() < 2)
    not_assessed.push_back(NotAssessed::NoHelper);
  else {
    if (std::none_of(model.kit.loads.begin(), model.kit.loads.end(), [](const auto& load) { return load.is_crew; }))
      not_assessed.push_back(NotAssessed::NoCrewLoad);
    else if (options.looks_back)
      not_assessed.push_back(NotAssessed::IncapacitatedOnLegs);
    not_assessed.push_back(NotAssessed::Bodies);
    not_assessed.push_back(NotAssessed::PathsRound);
  }
  if (!excursion.items.empty()) not_assessed.push_back(NotAssessed::LoadsAndItems);
  if (std::any_of(model.structure.zones.begin(), model.structure.zones.end(),
                  [](const auto& zone) { return zone.effect == model::ZoneEffect::Limit; }))
    not_assessed.push_back(NotAssessed::LimitZonesBack);
  if (std::any_of(excursion.crew.begin(), excursion.crew.end(), [](const auto& m) { return m.tethers.empty(); }))
    not_assessed.push_back(NotAssessed::TetherOff);
  if (std::any_of(excursion.crew.begin(), excursion.crew.end(), [](const auto& m) { return !m.tethers.empty(); })) {
    not_assessed.push_back(NotAssessed::TetherZones);
    not_assessed.push_back(NotAssessed::SwapsByHand);
  }
  if (std::any_of(excursion.tasks.begin(), excursion.tasks.end(),
                  [](const auto& task) { return task.restraint_in.has_value(); }))
    not_assessed.push_back(NotAssessed::ReachFromRestraint);
  return plan;
}

}  // namespace holdfast::plan
