// SPDX-License-Identifier: GPL-3.0-or-later
// The end of a simulation: what is told of the whole, and both rights of way compared.

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <set>

#include "back_impl.h"
#include "pieces_impl.h"
#include "simulator_impl.h"

namespace holdfast::plan {

using detail::ItemState;
using detail::Mover;
using model::PlaceKind;

double night_between_s(const model::Orbit& orbit, double from_s, double to_s) {
  double night_s = 0;
  for (const auto& [begins_s, ends_s] : detail::nights_between(orbit, from_s, to_s)) night_s += ends_s - begins_s;
  return night_s;
}

namespace detail {

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
  history.throws = throws_;
  for (const Mover& m : movers_) history.occupied.push_back(m.occupied);
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
  check_standing();
  check_rests();
  std::set<std::size_t> left;
  for (const TaskId task : plan_.done)
    for (const ItemId item : excursion_.tasks[task.index()].leaves) left.insert(item.index());
  tell_of_cables(left);
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
  history.stood = stood_;
  for (const std::size_t t : dropped_) plan_.dropped.emplace_back(t);
  if (excursion_.orbit) plan_.nights = nights_between(*excursion_.orbit, 0, plan_.finish_s);
}

}  // namespace detail

namespace {

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
  check_starts(legs, model, configuration, excursion);
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
  detail::History history;
  const auto rank = [](const Plan& plan) {
    std::size_t moves = 0;
    for (const auto& total : plan.totals) moves += total.moves;
    return std::tuple(detail::count_own_violations(plan), plan.finish_s, moves);
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
    history = std::move(simulator.history);
  }
  Plan plan = std::move(*best);
  if (options.looks_back) detail::look_back(model, excursion, legs, history, plan);
  if (options.looks_out) detail::look_for_each_other(model, excursion, legs, history, plan);
  sort_plan(plan);
  auto& not_assessed = plan.not_assessed;
  if (excursion.crew.size() < 2)
    not_assessed.push_back(NotAssessed::NoHelper);
  else {
    if (std::none_of(model.kit.loads.begin(), model.kit.loads.end(), [](const auto& load) { return load.is_crew; }))
      not_assessed.push_back(NotAssessed::NoCrewLoad);
    not_assessed.push_back(NotAssessed::Bodies);
    not_assessed.push_back(NotAssessed::PathsRound);
  }
  if (!excursion.items.empty()) not_assessed.push_back(NotAssessed::TethersAndItems);
  if (!plan.cables.empty()) not_assessed.push_back(NotAssessed::LaidCables);
  if (std::any_of(model.structure.zones.begin(), model.structure.zones.end(),
                  [](const auto& zone) { return zone.effect == model::ZoneEffect::Limit; }))
    not_assessed.push_back(NotAssessed::LimitZonesBack);
  if (std::any_of(excursion.crew.begin(), excursion.crew.end(), [](const auto& m) { return m.tethers.empty(); }))
    not_assessed.push_back(NotAssessed::TetherOff);
  if (std::any_of(excursion.crew.begin(), excursion.crew.end(), [](const auto& m) { return !m.tethers.empty(); })) {
    not_assessed.push_back(NotAssessed::TetherZones);
  }
  if (std::any_of(excursion.tasks.begin(), excursion.tasks.end(),
                  [](const auto& task) { return task.restraint_in && task.targets.empty(); }))
    not_assessed.push_back(NotAssessed::ReachFromRestraint);
  const bool moves_parts = std::any_of(excursion.events.begin(), excursion.events.end(), [&](const auto& event) {
    return std::any_of(event.throws.begin(), event.throws.end(), [&](const auto& thrown) {
      return std::any_of(model.structure.parts.begin(), model.structure.parts.end(),
                         [&](const auto& part) { return part.articulated_by == thrown.first; });
    });
  });
  if (moves_parts) not_assessed.push_back(NotAssessed::WayBetweenPositions);
  // Legs may know configurations of other plans.
  std::vector<model::Configuration> gone_through = {plan.configuration};
  for (const auto& change : history.throws) gone_through.push_back(change.after);
  for (const auto& buried : legs.buried())
    if (std::find(gone_through.begin(), gone_through.end(), buried.configuration) != gone_through.end())
      plan.buried.push_back({buried.rail, buried.part, buried.at, buried.configuration});
  return plan;
}

}  // namespace holdfast::plan
