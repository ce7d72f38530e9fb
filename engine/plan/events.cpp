// SPDX-License-Identifier: GPL-3.0-or-later
// Switches thrown and times of keeping still.

#include <algorithm>

#include "simulator_impl.h"

namespace holdfast::plan::detail {

void Simulator::add_throw(EventId event, double from_s) {
  const auto& e = excursion_.events[event.index()];
  const auto at = std::upper_bound(throws_.begin(), throws_.end(), from_s,
                                   [](double t, const Throw& change) { return t < change.from_s; });
  throws_.insert(at, {event, from_s, from_s + e.duration_s, {}, {}});
  model::Configuration now = plan_.configuration;
  for (Throw& change : throws_) {
    change.before = now;
    for (const auto& [id, position] : excursion_.events[change.event.index()].throws) now.positions[id] = position;
    change.after = now;
  }
}

model::Configuration Simulator::configuration_at(double t) const {
  model::Configuration now = plan_.configuration;
  for (const Throw& change : throws_)
    if (change.to_s <= t + 1e-9) now = change.after;
  return now;
}

const Throw* Simulator::throw_during(double t) const {
  for (const Throw& change : throws_)
    if (change.from_s <= t + 1e-9 && t < change.to_s - 1e-9) return &change;
  return nullptr;
}

bool Simulator::rail_differs(model::RailId rail, const Throw& change) const {
  const bool is_before = structure_.is_present(rail, change.before),
             is_after = structure_.is_present(rail, change.after);
  if (is_before != is_after) return true;
  if (!is_before) return false;
  const auto part = structure_.rails[rail.index()].part;
  return !structure_.pose(part, change.before).isApprox(structure_.pose(part, change.after), 1e-12);
}

/// Does the throw bring structure or a forbidding zone to where somebody is?
bool Simulator::is_exposed(const Mover& m, const GripRef& ref, const Throw& change) {
  const Site& before = legs_.site(change.before, *m.suit);
  const Site& after = legs_.site(change.after, *m.suit);
  const auto was = find_grip(*before.graph, ref), is = find_grip(*after.graph, ref);
  if (!was || !is) return false;  // told as a rail that goes away
  Closings none;
  none.rails = options_.closed;
  return legs_.table(before, route::Objective::Time, none).is_open[was->index()] &&
         !legs_.table(after, route::Objective::Time, none).is_open[is->index()];
}

double Simulator::free_of_holds(const Mover& m, double t, double duration_s, bool is_translation) const {
  for (bool has_moved = true; has_moved;) {
    has_moved = false;
    for (const HoldTime& hold : holds_) {
      if (!is_translation && hold.allows_work) continue;
      if (std::find(hold.crew.begin(), hold.crew.end(), m.id) == hold.crew.end()) continue;
      if (t >= hold.to_s - 1e-9 || t + duration_s <= hold.from_s + 1e-9) continue;
      t = hold.to_s;
      has_moved = true;
    }
  }
  return t;
}

/// Events that wait for a task: as soon as it has ended and nobody is where they must not be.
void Simulator::resolve_events(bool may_force) {
  for (std::size_t i = 0; i < pending_.size();) {
    const auto id = pending_[i];
    const auto& event = excursion_.events[id.index()];
    const auto ended = task_end_s_[event.after->index()];
    if (!ended) {
      ++i;
      continue;
    }
    double from_s = *ended;
    bool must_wait = false;
    for (const Mover& m : movers_) {
      if (m.is_inside || !m.is_out) continue;
      const bool is_named = std::find(event.holds.begin(), event.holds.end(), m.id) != event.holds.end();
      if (event.is_throw() ? m.was_translation : is_named && (m.was_translation || (!event.allows_work && m.was_work)))
        from_s = std::max(from_s, m.clock_s);
      if (event.is_throw() && m.grip) {
        Throw change{id, from_s, from_s + event.duration_s, configuration_at(from_s), configuration_at(from_s)};
        for (const auto& [s, position] : event.throws) change.after.positions[s] = position;
        must_wait = must_wait || rail_differs(m.grip->rail, change) || is_exposed(m, *m.grip, change);
      }
    }
    if (must_wait && !may_force) {
      ++i;
      continue;
    }
    if (event.is_throw())
      add_throw(id, from_s);
    else
      holds_.push_back({id, from_s, from_s + event.duration_s, event.holds, event.allows_work});
    pending_.erase(pending_.begin() + static_cast<std::ptrdiff_t>(i));
  }
}

/// What throws and holds were not able to wait for.
void Simulator::check_events() {
  for (const Throw& change : throws_) {
    const std::string& id = excursion_.events[change.event.index()].id;
    for (Mover& m : movers_)
      for (const Row& row : plan_.rows) {
        if (row.crew != m.id) continue;
        const double from_s = std::max(row.from_s, change.from_s), to_s = std::min(row.to_s, change.to_s);
        if (to_s < from_s || (to_s == from_s && change.to_s > change.from_s) || (to_s == from_s && from_s == row.to_s))
          continue;
        const auto tell = [&](model::RailId rail, const Vec3& at) {
          auto& v = violate(ViolationKind::RailMoves, from_s, &m, id);
          v.to_s = to_s;
          v.names = {structure_.rails[rail.index()].id};
          v.at = at, v.has_at = true;
        };
        if (row.path.empty()) {
          const Site& site = legs_.site(change.before, *m.suit);
          if (row.what == What::Egress || row.what == What::Ingress || row.what == What::Go) continue;
          const auto grips = site.graph->find_grips_within(row.hand, 1e-6);
          if (grips.empty()) continue;
          const auto rail = site.graph->grip(grips.front()).rail;
          if (rail_differs(rail, change)) {
            tell(rail, row.hand);
          } else if (std::all_of(grips.begin(), grips.end(),
                                 [&](GripId g) { return is_exposed(m, ref_of(*site.graph, g), change); })) {
            tell(rail, row.hand);
            plan_.violations.back().names.emplace_back("exposed");
          }
          continue;
        }
        for (const Stop& stop : row.path)
          if (stop.leaves_s >= from_s && stop.arrives_s <= to_s && rail_differs(stop.rail, change)) {
            tell(stop.rail, stop.hand);
            break;
          }
      }
    // A task that needs the old position.
    for (Mover& m : movers_)
      for (const Row& row : plan_.rows) {
        if (row.crew != m.id || row.what != What::Do || row.to_s <= change.from_s || row.from_s >= change.from_s)
          continue;
        const auto& task = excursion_.tasks[excursion_.find_task(row.subject)->index()];
        for (const auto& [s, position] : task.states)
          if (change.after.positions.at(s) != position && change.before.positions.at(s) == position) {
            auto& v = violate(ViolationKind::Configuration, change.from_s, &m, task.id);
            v.names = {s, position, change.after.positions.at(s)};
            v.other = id;
            v.to_s = row.to_s;
          }
      }
  }
  for (const HoldTime& hold : holds_)
    for (Mover& m : movers_) {
      if (std::find(hold.crew.begin(), hold.crew.end(), m.id) == hold.crew.end()) continue;
      double broken_s = 0, first_s = 0;
      for (const Row& row : plan_.rows) {
        if (row.crew != m.id) continue;
        const bool is_work =
            row.kind == RowKind::Work || row.kind == RowKind::Handling || row.kind == RowKind::Overhead;
        const auto count = [&](double from_s, double to_s) {
          const double inside_s = std::min(to_s, hold.to_s) - std::max(from_s, hold.from_s);
          if (inside_s <= 1e-6) return;
          if (broken_s == 0) first_s = std::max(from_s, hold.from_s);
          broken_s += inside_s;
        };
        if (row.kind == RowKind::Translation && row.path.empty()) count(row.from_s, row.to_s);
        for (std::size_t i = 0; i + 1 < row.path.size(); ++i) count(row.path[i].leaves_s, row.path[i + 1].arrives_s);
        if (is_work && !hold.allows_work) count(row.from_s, row.to_s);
      }
      if (broken_s > 0) {
        auto& v = violate(ViolationKind::HoldBroken, first_s, &m, excursion_.events[hold.event.index()].id);
        v.value = broken_s;
        v.limit = hold.to_s - hold.from_s;
      }
    }
}

}  // namespace holdfast::plan::detail
