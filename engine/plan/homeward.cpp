// SPDX-License-Identifier: GPL-3.0-or-later
// Tether swaps, and the return.

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <set>

#include "simulator_impl.h"

namespace holdfast::plan::detail {

using model::Action;
using model::ActionKind;
using model::PlaceKind;

/// Back on the tether that was left here: its line was kept as it lay, and now ends where the crew member is.
void Simulator::unhook(Mover& m) {
  m.tethers.pop_back();
  m.line.slack.clear();
  m.line.reel = std::move(m.tethers.back().left);
  m.reel_scene = m.tethers.back().left_in;
  m.tethers.back().left.reset();
  m.has_line = m.line.reel && route::is_line_clear(*m.reel_scene, m.line.reel->line().points.back(), m.body);
  if (m.has_line) {
    m.line.out_upper_m = m.line.reel->go(std::vector<Vec3>{m.body}).length_m;
    return;
  }
  m.line.reel.reset();
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
  swap_at(m, a.anchor->index(), is_back);
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
    swap_at(m, m.tethers.back().anchor, true);
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
    if (history.moments.back().row > 0) --history.moments.back().row;  // the row that ends there
  }
  m.is_inside = true;
  for (std::size_t i = 0; i < items_.size(); ++i)
    if (items_[i].at == ItemState::At::Crew && items_[i].crew == m.id) items_[i].at = ItemState::At::Inside;
  // Whatever stands after a return is not done.
  if (a) m.next = m.file->actions.size();
  return true;
}

}  // namespace holdfast::plan::detail
