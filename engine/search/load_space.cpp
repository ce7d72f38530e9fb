#include "load_space_impl.h"

#include <algorithm>
#include <cmath>
#include <cstring>

namespace holdfast::search::detail {

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
  scaled_.reserve(loads_.size());
  for (const model::Load* load : loads_) {
    scaled_.push_back(*load);
    scaled_.back().size_m *= options.scale;
    if (load->how == model::CarriedHow::Beside) {
      beside_.push_back({load, graph::BesideSweep(graph_, scaled_.back(), zones)});
    } else {
      towed_load_ = load;
      tow_.emplace(graph_, scaled_.back(), zones);
    }
  }
  trails_.emplace_back();
}

LoadSpace::State LoadSpace::state_of(GripId grip, std::uint32_t heading, Trail trail) {
  const std::string trail_key = trail.key();
  std::string key(2 * sizeof(std::uint32_t), '\0');
  std::memcpy(key.data(), &grip.value, sizeof grip.value);
  std::memcpy(key.data() + sizeof grip.value, &heading, sizeof heading);
  const auto [entry, is_new] = state_by_key_.try_emplace(key + trail_key, static_cast<State>(states_.size()));
  if (!is_new) return entry->second;
  std::uint32_t trail_index = 0;
  if (!trail.is_empty()) {
    trail_index = static_cast<std::uint32_t>(trails_.size());
    trails_.push_back(std::move(trail));
  }
  states_.push_back({grip, heading, trail_index});
  return entry->second;
}

std::uint32_t LoadSpace::heading_of(GripId grip, const Vec3& wanted) {
  auto& known = headings_[grip.value];
  for (std::uint32_t i = 0; i < known.size(); ++i)
    if ((known[i] - wanted).norm() < graph::angle_tolerance_rad) return i;
  known.push_back(wanted);
  return static_cast<std::uint32_t>(known.size() - 1);
}

LoadSpace::State LoadSpace::start(GripId grip) { return state_of(grip, unset, {}); }

LoadSpace::Step LoadSpace::step(State from, GripId to) {
  const std::uint64_t key = (std::uint64_t{from} << 32) | to.value;
  auto found = steps_.find(key);
  if (found == steps_.end()) found = steps_.emplace(key, compute(from, to)).first;
  return {found->second.fits, found->second.to, found->second.entered};
}

LoadSpace::Kept LoadSpace::compute(State from_state, GripId to) {
  const StateData from = states_[from_state];
  Kept kept;
  const auto note = [&](const SweepResult& sweep) {
    for (const ZoneId zone : sweep.entered)
      if (std::find(kept.entered.begin(), kept.entered.end(), zone) == kept.entered.end()) kept.entered.push_back(zone);
    has_met_zones_ = has_met_zones_ || sweep.forbidden_by.has_value();
    return sweep.fits;
  };
  if (!beside_.empty()) {
    const auto headings = graph::headings_of(graph_.grip(from.grip), graph_.grip(to));
    const std::uint32_t begun = headings.is_free ? from.heading : heading_of(from.grip, headings.start);
    for (std::size_t b = 0; b < beside_.size(); ++b) {
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
      const auto key = std::tuple(b, from.grip.value, to.value);
      auto move = moves_.find(key);
      if (move == moves_.end()) {
        ++sweeps_;
        move = moves_.emplace(key, sweep.move(from.grip, to, headings.start)).first;
      }
      if (!note(move->second)) return kept;
    }
  }
  Trail trail;
  if (tow_) {
    ++sweeps_;
    auto step = tow_->move(trails_[from.trail], from.grip, to);
    if (!note(step.sweep)) return kept;
    trail = std::move(step.trail);
  }
  kept.fits = true;
  kept.to = state_of(to, heading_after(from, to), std::move(trail));
  return kept;
}

std::optional<LoadSpace::State> LoadSpace::finish_leg(State state) {
  const auto found = finished_.find(state);
  if (found != finished_.end()) return found->second;
  std::optional<State> next;
  const auto failed = finish_failure(state);
  has_met_zones_ = has_met_zones_ || (failed && failed->sweep.forbidden_by);
  if (!failed) next = state_of(states_[state].grip, states_[state].heading, {});
  finished_.emplace(state, next);
  return next;
}

LoadSpace::Cell LoadSpace::cell_of(GripId grip, std::uint32_t heading, const Trail& trail, double edge_m) const {
  Cell cell = {static_cast<std::int32_t>(grip.value), static_cast<std::int32_t>(heading), 0, 0, 0, 0};
  if (!tow_) return cell;
  const Vec3 middle = tow_->pose(trail, grip).middle;
  for (int axis = 0; axis < 3; ++axis)
    cell[static_cast<std::size_t>(axis) + 2] = static_cast<std::int32_t>(std::floor(middle[axis] / edge_m));
  cell[5] = trail.is_empty() ? 1 : 0;
  return cell;
}

LoadSpace::Cell LoadSpace::cell(State state, double edge_m) const {
  return cell_of(states_[state].grip, states_[state].heading, trails_[states_[state].trail], edge_m);
}

LoadSpace::Cell LoadSpace::cell_after(State state, GripId to, double edge_m) {
  const StateData from = states_[state];
  return cell_of(to, heading_after(from, to), tow_ ? tow_->follow(trails_[from.trail], from.grip, to) : Trail{},
                 edge_m);
}

/// Which way the mover faces after a move; `unset` while nothing says.
std::uint32_t LoadSpace::heading_after(const StateData& from, GripId to) {
  if (beside_.empty()) return unset;
  const auto headings = graph::headings_of(graph_.grip(from.grip), graph_.grip(to));
  if (!headings.is_free) return heading_of(to, headings.end);
  if (from.heading == unset) return unset;
  return heading_of(to, graph::carry_heading(graph_.grip(from.grip), graph_.grip(to), heading(from)));
}

std::optional<LoadSpace::Failure> LoadSpace::finish_failure(State state) const {
  const StateData& at = states_[state];
  if (tow_)
    if (auto sweep = tow_->draw_in(trails_[at.trail], at.grip); !sweep.fits)
      return Failure{towed_load_, std::move(sweep), tow_->size_m()};
  if (at.heading != unset) return std::nullopt;
  for (const Beside& beside : beside_) {
    // No move was made: some heading along the rail must do, if not all.
    SweepResult sweep = beside.sweep.stand_any(at.grip);
    const auto [first, last] = graph_.grips_of(graph_.grip(at.grip).rail);
    for (const std::uint32_t neighbour : {at.grip.value + 1, at.grip.value - 1}) {
      if (sweep.fits || neighbour < first || neighbour >= last) continue;
      const auto headings = graph::headings_of(graph_.grip(at.grip), graph_.grip(GripId(neighbour)));
      if (!headings.is_free) sweep = beside.sweep.swing(at.grip, headings.start, headings.start);
    }
    if (!sweep.fits) return Failure{beside.load, std::move(sweep), beside.sweep.size_m()};
  }
  return std::nullopt;
}

template <class Visit>
bool LoadSpace::visit_beside(const StateData& from, GripId to, SweepAim aim, Visit&& visit) const {
  const auto headings = graph::headings_of(graph_.grip(from.grip), graph_.grip(to));
  for (const Beside& beside : beside_) {
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
  if (tow_) visit(towed_load_, tow_->size_m(), tow_->move(trails_[from.trail], from.grip, to).sweep);
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
  if (tow_)
    take_least(least, towed_load_, tow_->size_m(),
               tow_->move(trails_[from.trail], from.grip, to, SweepAim::Measure).sweep);
  return least;
}

LoadSpace::Measure LoadSpace::measure_finish(State state) const {
  Measure least;
  if (tow_ && !trails_[states_[state].trail].is_empty())
    take_least(least, towed_load_, tow_->size_m(),
               tow_->draw_in(trails_[states_[state].trail], states_[state].grip, SweepAim::Measure));
  return least;
}

std::vector<std::optional<BoxPose>> LoadSpace::poses(State state) const {
  const StateData& at = states_[state];
  std::vector<std::optional<BoxPose>> poses;
  std::size_t next_beside = 0;
  for (const model::Load* load : loads_) {
    if (load == towed_load_) {
      poses.emplace_back(tow_->pose(trails_[at.trail], at.grip));
    } else {
      const auto& beside = beside_[next_beside++];
      poses.push_back(at.heading == unset ? std::nullopt : std::optional(beside.sweep.pose(at.grip, heading(at))));
    }
  }
  return poses;
}

}  // namespace holdfast::search::detail
