// SPDX-License-Identifier: GPL-3.0-or-later
#include "load_space_impl.h"

#include <algorithm>
#include <cmath>
#include <cstring>

#include "holdfast/model/diagnostic.h"

namespace holdfast::route::detail {

using graph::BoxPose;
using graph::SweepAim;
using graph::SweepResult;
using graph::Trail;
using model::ZoneId;

LoadSpace::LoadSpace(const graph::HandrailGraph& graph, std::vector<const model::Load*> loads, const Options& options)
    : graph_(graph), loads_(std::move(loads)) {
  auto zones = options.ignore_zones ? std::vector<ZoneId>{} : load_zones_that_hold(graph);
  std::erase_if(zones, [&](ZoneId zone) {
    return std::find(options.lifted_zones.begin(), options.lifted_zones.end(), zone) != options.lifted_zones.end();
  });
  std::map<std::pair<std::size_t, std::size_t>, std::size_t> sweep_of;  // by load and its manner of carrying
  manners_ = find_manners(loads_);
  for (Manner& manner : manners_) {
    SweepsOf sweeps;
    for (std::size_t i = 0; i < loads_.size(); ++i) {
      model::Load& carried = manner.loads[i];
      carried.size_m *= options.scale;
      const bool is_towed = carried.how == model::CarriedHow::InTow;
      const auto [found, is_new] =
          sweep_of.try_emplace({i, manner.carrying[i]}, is_towed ? tows_.size() : beside_.size());
      if (is_new && is_towed) tows_.push_back({loads_[i], graph::TowSweep(graph_, carried, zones), {graph_, carried}});
      if (is_new && !is_towed) beside_.push_back({loads_[i], graph::BesideSweep(graph_, carried, zones)});
      if (is_towed)
        sweeps.tow = found->second;
      else
        sweeps.beside.push_back(found->second);
    }
    sweeps_of_.push_back(std::move(sweeps));
  }
  trails_.emplace_back();
  if (options.boxes) keep_off(*options.boxes);
}

void LoadSpace::keep_off(const geometry::Scene& boxes) {
  model::ensure(states_.empty() && sweeps_ == 0, "what loads keep off is known before the first sweep");
  boxes_ = &boxes;
  for (Beside& beside : beside_) beside.sweep.keep_off(&boxes);
  for (Tow& tow : tows_) tow.sweep.keep_off(&boxes);
}

const LoadSpace::Tow* LoadSpace::tow(const StateData& state) const {
  const auto& index = sweeps_of_[state.manner].tow;
  return index ? &tows_[*index] : nullptr;
}

LoadSpace::State LoadSpace::state_of(GripId grip, std::size_t manner, std::uint32_t heading, Trail trail) {
  const std::string trail_key = trail.key();
  const std::array<std::uint32_t, 3> numbers = {grip.value, static_cast<std::uint32_t>(manner), heading};
  std::string key(sizeof numbers, '\0');
  std::memcpy(key.data(), numbers.data(), sizeof numbers);
  const auto [entry, is_new] = state_by_key_.try_emplace(key + trail_key, static_cast<State>(states_.size()));
  if (!is_new) return entry->second;
  std::uint32_t trail_index = 0;
  if (!trail.is_unset()) {
    trail_index = static_cast<std::uint32_t>(trails_.size());
    trails_.push_back(std::move(trail));
  }
  states_.push_back({grip, numbers[1], heading, trail_index});
  return entry->second;
}

std::uint32_t LoadSpace::heading_of(GripId grip, const Vec3& wanted) {
  auto& known = headings_[grip.value];
  for (std::uint32_t i = 0; i < known.size(); ++i)
    if ((known[i] - wanted).norm() < graph::angle_tolerance_rad) return i;
  known.push_back(wanted);
  return static_cast<std::uint32_t>(known.size() - 1);
}

std::optional<LoadSpace::State> LoadSpace::start(GripId grip, std::size_t manner,
                                                 const std::optional<Departure>& departure) {
  if (!departure || !departure->manner) return state_of(grip, manner, unset, {});
  if (manner != *departure->manner) return std::nullopt;
  const std::uint32_t facing = departure->heading ? heading_of(grip, *departure->heading) : unset;
  return state_of(grip, manner, facing, departure->tow_axes ? graph::TowSweep::at_side(*departure->tow_axes) : Trail{});
}

Departure LoadSpace::departure(State state) const {
  const StateData& data = states_[state];
  Departure departure{data.grip.index(), data.manner};
  if (data.heading != unset) departure.heading = heading(data);
  if (const Tow* towed = tow(data); towed && !trails_[data.trail].is_unset())
    departure.tow_axes = towed->sweep.pose(trails_[data.trail], data.grip).axes;
  return departure;
}

LoadSpace::Step LoadSpace::step(State from, GripId to) {
  const std::uint64_t key = (std::uint64_t{from} << 32) | to.value;
  auto found = steps_.find(key);
  if (found == steps_.end()) found = steps_.emplace(key, compute(from, to)).first;
  return {found->second.fits, found->second.to, found->second.entered};
}

bool LoadSpace::Kept::note(const SweepResult& sweep) {
  for (const ZoneId zone : sweep.entered)
    if (std::find(entered.begin(), entered.end(), zone) == entered.end()) entered.push_back(zone);
  return sweep.fits;
}

LoadSpace::Kept LoadSpace::compute(State from_state, GripId to) {
  const StateData from = states_[from_state];
  Kept kept;
  const auto note = [&](const SweepResult& sweep) {
    has_met_zones_ = has_met_zones_ || sweep.forbidden_by.has_value();
    return kept.note(sweep);
  };
  if (!beside(from).empty()) {
    const auto headings = graph::headings_of(graph_.grip(from.grip), graph_.grip(to));
    const std::uint32_t begun = headings.is_free ? from.heading : heading_of(from.grip, headings.start);
    for (const std::size_t b : beside(from)) {
      const auto& sweep = beside_[b].sweep;
      if (from.heading != unset && begun != from.heading) {
        const auto key = std::tuple(b, from.grip.value, from.heading, begun);
        auto swing = swings_.find(key);
        if (swing == swings_.end()) {
          ++sweeps_;
          swing = swings_.emplace(key, sweep.swing(from.grip, heading(from), headings.start)).first;
        }
        if (!note(swing->second)) return kept;
      }
      if (headings.is_free) {
        ++sweeps_;
        if (!note(from.heading == unset ? sweep.move_any(from.grip, to) : sweep.move(from.grip, to, heading(from))))
          return kept;
        continue;
      }
      if (!note(sweep_move(b, from.grip, to, headings.start))) return kept;
    }
  }
  Trail trail;
  if (const Tow* towed = tow(from)) {
    ++sweeps_;
    auto step = towed->sweep.move(trails_[from.trail], from.grip, to);
    if (!note(step.sweep)) return kept;
    trail = std::move(step.trail);
  }
  kept.fits = true;
  kept.to = state_of(to, from.manner, heading_after(from, to), std::move(trail));
  return kept;
}

const SweepResult& LoadSpace::sweep_move(std::size_t beside, GripId from, GripId to, const Vec3& heading) {
  const auto key = std::tuple(beside, from.value, to.value);
  auto move = moves_.find(key);
  if (move == moves_.end()) {
    ++sweeps_;
    move = moves_.emplace(key, beside_[beside].sweep.move(from, to, heading)).first;
    has_met_zones_ = has_met_zones_ || move->second.forbidden_by.has_value();
  }
  return move->second;
}

bool LoadSpace::may_pass_beside(const SweepsOf& sweeps, GripId from, GripId to) {
  const auto headings = graph::headings_of(graph_.grip(from), graph_.grip(to));
  return headings.is_free || std::all_of(sweeps.beside.begin(), sweeps.beside.end(),
                                         [&](std::size_t b) { return sweep_move(b, from, to, headings.start).fits; });
}

bool LoadSpace::may_pass(graph::MoveId id) {
  const auto& move = graph_.move(id);
  return may_step(id, move.a, move.b) || may_step(id, move.b, move.a);
}

bool LoadSpace::may_step(graph::MoveId id, GripId from, GripId to) {
  return std::any_of(sweeps_of_.begin(), sweeps_of_.end(), [&](const SweepsOf& sweeps) {
    return may_pass_beside(sweeps, from, to) && (!sweeps.tow || tows_[*sweeps.tow].bound.may_pass(id));
  });
}

std::optional<LoadSpace::State> LoadSpace::finish_leg(State state) {
  const Kept& finished = finish(state);
  return finished.fits ? std::optional(finished.to) : std::nullopt;
}

std::span<const ZoneId> LoadSpace::entered_at_finish(State state) { return finish(state).entered; }

const LoadSpace::Kept& LoadSpace::finish(State state) {
  const auto found = finished_.find(state);
  if (found != finished_.end()) return found->second;
  Kept kept;
  kept.fits = true;
  visit_finish(state, SweepAim::Decide, [&](const model::Load*, const Vec3&, const SweepResult& sweep) {
    has_met_zones_ = has_met_zones_ || sweep.forbidden_by.has_value();
    kept.fits = kept.note(sweep);
    return kept.fits;
  });
  const StateData at = states_[state];
  const Tow* const towed = tow(at);
  if (kept.fits)
    kept.to = state_of(at.grip, at.manner, at.heading, towed ? towed->sweep.drawn_in(trails_[at.trail]) : Trail{});
  return finished_.emplace(state, std::move(kept)).first->second;
}

LoadSpace::Cell LoadSpace::cell_of(const StateData& state, const Trail& trail, double edge_m) const {
  Cell cell = {static_cast<std::int32_t>(state.grip.value), static_cast<std::int32_t>(state.heading), 0, 0, 0, 0,
               static_cast<std::int32_t>(state.manner)};
  const Tow* const towed = tow(state);
  if (!towed) return cell;
  const BoxPose pose = towed->sweep.pose(trail, state.grip);
  for (int axis = 0; axis < 3; ++axis)
    cell[static_cast<std::size_t>(axis) + 2] = static_cast<std::int32_t>(std::floor(pose.middle[axis] / edge_m));
  cell[5] = trail.is_empty() ? 1 : 0;
  if (trail.is_empty() && !trail.is_unset()) {
    Eigen::Index along = 0;
    pose.axes.col(0).cwiseAbs().maxCoeff(&along);
    cell[5] = 2 + static_cast<std::int32_t>(along);
  }
  return cell;
}

LoadSpace::Cell LoadSpace::cell(State state, double edge_m) const {
  return cell_of(states_[state], trails_[states_[state].trail], edge_m);
}

LoadSpace::Cell LoadSpace::cell_after(State state, GripId to, double edge_m) {
  const StateData from = states_[state];
  const Tow* const towed = tow(from);
  return cell_of({to, from.manner, heading_after(from, to), 0},
                 towed ? towed->sweep.follow(trails_[from.trail], from.grip, to) : Trail{}, edge_m);
}

/// Which way the mover faces after a move; `unset` while nothing says.
std::uint32_t LoadSpace::heading_after(const StateData& from, GripId to) {
  if (beside(from).empty()) return unset;
  const auto headings = graph::headings_of(graph_.grip(from.grip), graph_.grip(to));
  if (!headings.is_free) return heading_of(to, headings.end);
  if (from.heading == unset) return unset;
  return heading_of(to, graph::carry_heading(graph_.grip(from.grip), graph_.grip(to), heading(from)));
}

template <class Visit>
void LoadSpace::visit_finish(State state, SweepAim aim, Visit&& visit) const {
  const StateData& at = states_[state];
  const Tow* const towed = tow(at);
  if (towed && !visit(towed->load, towed->sweep.size_m(), towed->sweep.draw_in(trails_[at.trail], at.grip, aim)))
    return;
  if (at.heading != unset) return;
  for (const std::size_t index : this->beside(at)) {
    const Beside& beside = beside_[index];
    // No move was made: some heading along the rail must do, if not all.
    SweepResult sweep = beside.sweep.stand_any(at.grip);
    const auto [first, last] = graph_.grips_of(graph_.grip(at.grip).rail);
    for (const std::uint32_t neighbour : {at.grip.value + 1, at.grip.value - 1}) {
      if (sweep.fits || neighbour < first || neighbour >= last) continue;
      const auto headings = graph::headings_of(graph_.grip(at.grip), graph_.grip(GripId(neighbour)));
      if (!headings.is_free) sweep = beside.sweep.swing(at.grip, headings.start, headings.start, aim);
    }
    if (!visit(beside.load, beside.sweep.size_m(), sweep)) return;
  }
}

std::optional<LoadSpace::Failure> LoadSpace::finish_failure(State state) const {
  std::optional<Failure> failed;
  visit_finish(state, SweepAim::Decide, [&](const model::Load* load, const Vec3& size_m, const SweepResult& sweep) {
    if (!sweep.fits) failed = Failure{load, sweep, size_m};
    return sweep.fits;
  });
  return failed;
}

template <class Visit>
bool LoadSpace::visit_beside(const StateData& from, GripId to, SweepAim aim, Visit&& visit) const {
  const auto headings = graph::headings_of(graph_.grip(from.grip), graph_.grip(to));
  for (const std::size_t index : this->beside(from)) {
    const Beside& beside = beside_[index];
    const bool is_turned = from.heading != unset && !headings.is_free &&
                           (heading(from) - headings.start).norm() >= graph::angle_tolerance_rad;
    if (is_turned &&
        !visit(beside.load, beside.sweep.size_m(), beside.sweep.swing(from.grip, heading(from), headings.start, aim)))
      return false;
    const bool is_any = headings.is_free && from.heading == unset;
    const SweepResult move =
        is_any ? beside.sweep.move_any(from.grip, to)
               : beside.sweep.move(from.grip, to, headings.is_free ? heading(from) : headings.start, aim);
    if (!visit(beside.load, beside.sweep.size_m(), move)) return false;
  }
  return true;
}

std::optional<LoadSpace::Failure> LoadSpace::failure(State from_state, GripId to) const {
  const StateData& from = states_[from_state];
  std::optional<Failure> failed;
  const auto visit = [&](const model::Load* load, const Vec3& size_m, const SweepResult& sweep) {
    if (!sweep.fits) failed = Failure{load, sweep, size_m};
    return sweep.fits;
  };
  if (!visit_beside(from, to, SweepAim::Decide, visit)) return failed;
  if (const Tow* towed = tow(from))
    visit(towed->load, towed->sweep.size_m(), towed->sweep.move(trails_[from.trail], from.grip, to).sweep);
  return failed;
}

namespace {

void take_least(LoadSpace::Measure& least, const model::Load* load, const Vec3& size_m, const SweepResult& sweep) {
  // Decided as fitting before: whatever a coarser measure says, the margin is kept.
  const double least_m = std::max(sweep.least_m, graph::load_margin_m);
  if (least_m >= least.least_m) return;
  least = {least_m, least_m >= graph::clearance_headroom_m, load, sweep.pose, size_m};
}

}  // namespace

LoadSpace::Measure LoadSpace::measure(State from_state, GripId to) const {
  const StateData& from = states_[from_state];
  Measure least;
  visit_beside(from, to, SweepAim::Measure, [&](const model::Load* load, const Vec3& size_m, const SweepResult& sweep) {
    take_least(least, load, size_m, sweep);
    return true;
  });
  if (const Tow* towed = tow(from))
    take_least(least, towed->load, towed->sweep.size_m(),
               towed->sweep.move(trails_[from.trail], from.grip, to, SweepAim::Measure).sweep);
  return least;
}

LoadSpace::Measure LoadSpace::measure_finish(State state) const {
  Measure least;
  visit_finish(state, SweepAim::Measure, [&](const model::Load* load, const Vec3& size_m, const SweepResult& sweep) {
    take_least(least, load, size_m, sweep);
    return true;
  });
  return least;
}

// ---- another manner -------------------------------------------------------------------------------------------------

const model::Load* LoadSpace::changed_load(std::size_t from, std::size_t to) const {
  std::optional<std::size_t> changed;
  for (std::size_t i = 0; i < loads_.size(); ++i) {
    if (manners_[from].carrying[i] == manners_[to].carrying[i]) {
      // Handed round the body, a load would meet what is carried there.
      if (manners_[from].loads[i].how != model::CarriedHow::InTow) return nullptr;
      continue;
    }
    if (changed) return nullptr;
    changed = i;
  }
  if (!changed) return nullptr;
  const auto how = [&](std::size_t manner) { return manners_[manner].loads[*changed].how; };
  if (how(from) == model::CarriedHow::Worn || how(to) == model::CarriedHow::Worn) return nullptr;
  if (how(from) == model::CarriedHow::InTow && how(to) == model::CarriedHow::InTow) return nullptr;
  return loads_[*changed];
}

template <class Visit>
LoadSpace::Changed LoadSpace::visit_change(State from_state, std::size_t manner, SweepAim aim, Visit&& visit) const {
  const StateData& from = states_[from_state];
  const model::Load* const load = changed_load(from.manner, manner);
  Changed changed;
  const bool is_moved = from.heading != unset || (tow(from) && !trails_[from.trail].is_unset());
  if (!load || !is_moved) {
    changed.fits = false;
    return changed;
  }
  const auto of_load = [&](std::size_t m) -> const Beside* {
    for (const std::size_t b : sweeps_of_[m].beside)
      if (beside_[b].load == load) return &beside_[b];
    return nullptr;
  };
  const Beside *const was = of_load(from.manner), *const is = of_load(manner);
  const auto sees = [&](const Vec3& size_m, const SweepResult& sweep) {
    changed.fits = changed.fits && visit(load, size_m, sweep);
  };
  if (was && is) {
    changed.heading = heading(from);
    changed.trail = trails_[from.trail];
    sees(was->sweep.size_m(), was->sweep.hand_over(from.grip, is->sweep, aim));
    return changed;
  }
  // Between beside and in tow the load passes the mover's side, where a tow begins and ends.
  if (was) {
    sees(was->sweep.size_m(), was->sweep.shift(from.grip, heading(from), Vec3::Zero(), aim));
    changed.trail = graph::TowSweep::at_side(was->sweep.pose(from.grip, heading(from)).axes);
    return changed;
  }
  const graph::TowSweep& tow_sweep = tow(from)->sweep;
  sees(tow_sweep.size_m(), tow_sweep.draw_in(trails_[from.trail], from.grip, aim));
  const BoxPose drawn = tow_sweep.pose(tow_sweep.drawn_in(trails_[from.trail]), from.grip);
  const Vec3& up = graph_.grip(from.grip).outward;
  // The mover faces along the load's side that is nearest to lying across the outward direction.
  const Eigen::Index forward = std::abs(drawn.axes.col(0).dot(up)) < std::abs(drawn.axes.col(1).dot(up)) + 0.5 ? 0 : 1;
  const Vec3 facing = (drawn.axes.col(forward) - drawn.axes.col(forward).dot(up) * up).normalized();
  if (changed.fits)
    sees(tow_sweep.size_m(), tow_sweep.turn(drawn.middle, drawn.axes, is->sweep.pose(from.grip, facing).axes, aim));
  if (changed.fits) sees(is->sweep.size_m(), is->sweep.shift(from.grip, facing, Vec3::Zero(), aim));
  changed.heading = facing;
  return changed;
}

LoadSpace::Step LoadSpace::change(State from, std::size_t manner) {
  const auto key = std::pair(from, manner);
  auto found = changes_.find(key);
  if (found == changes_.end()) {
    Kept kept;
    auto changed =
        visit_change(from, manner, SweepAim::Decide, [&](const model::Load*, const Vec3&, const SweepResult& sweep) {
          ++sweeps_;
          has_met_zones_ = has_met_zones_ || sweep.forbidden_by.has_value();
          return kept.note(sweep);
        });
    kept.fits = changed.fits;
    if (kept.fits) {
      const GripId at = states_[from].grip;
      const std::uint32_t facing = changed.heading ? heading_of(at, *changed.heading) : unset;
      kept.to = state_of(at, manner, facing, std::move(changed.trail));
    }
    found = changes_.emplace(key, std::move(kept)).first;
  }
  return {found->second.fits, found->second.to, found->second.entered};
}

LoadSpace::Measure LoadSpace::measure_change(State from, std::size_t manner) const {
  Measure least;
  (void)visit_change(from, manner, SweepAim::Measure,
                     [&](const model::Load* load, const Vec3& size_m, const SweepResult& sweep) {
                       take_least(least, load, size_m, sweep);
                       return true;
                     });
  return least;
}

std::vector<std::optional<BoxPose>> LoadSpace::poses(State state) const {
  const StateData& at = states_[state];
  std::vector<std::optional<BoxPose>> poses;
  std::size_t next_beside = 0;
  const Tow* const towed = tow(at);
  for (const model::Load* load : loads_) {
    if (towed && load == towed->load) {
      poses.emplace_back(towed->sweep.pose(trails_[at.trail], at.grip));
    } else {
      const auto& beside = beside_[this->beside(at)[next_beside++]];
      poses.push_back(at.heading == unset ? std::nullopt : std::optional(beside.sweep.pose(at.grip, heading(at))));
    }
  }
  return poses;
}

}  // namespace holdfast::route::detail
