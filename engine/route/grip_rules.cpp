// SPDX-License-Identifier: GPL-3.0-or-later
#include "holdfast/route/grip_rules.h"

#include <algorithm>

namespace holdfast::route {

GripRules::GripRules(const graph::HandrailGraph& graph, const Closures& closures)
    : graph_(&graph), forbids_(graph.structure().zones.size()), closed_rails_(graph.structure().rails.size()) {
  const auto& zones = graph.structure().zones;
  for (std::size_t z = 0; z < zones.size(); ++z)
    forbids_[z] = zones[z].effect == model::ZoneEffect::Forbid && (zones[z].applies.body || zones[z].applies.hands) &&
                  zones[z].when.holds(graph.scene().configuration());
  for (const auto rail : closures.rails) closed_rails_[rail.index()] = true;
  for (const auto grip : closures.grips) closed_.push_back(grip.value);
  std::sort(closed_.begin(), closed_.end());
}

Blocks GripRules::blocks(graph::GripId id) const {
  const auto& grip = graph_->grip(id);
  Blocks blocks = 0;
  if (grip.clearance_lower_m < graph_->body().corridor_radius_m - graph::length_tolerance_m) blocks |= block_body;
  for (const auto& label : graph_->zones(id))
    if (forbids_[label.zone.index()]) blocks |= block_zone;
  if (closed_rails_[grip.rail.index()] || std::binary_search(closed_.begin(), closed_.end(), id.value))
    blocks |= block_closure;
  return blocks;
}

}  // namespace holdfast::route
