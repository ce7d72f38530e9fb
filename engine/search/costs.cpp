#include "holdfast/search/costs.h"

#include <algorithm>
#include <cmath>

namespace holdfast::search {

using graph::GripId;
using graph::HandrailGraph;
using graph::MoveId;
using model::ZoneEffect;
using model::ZoneId;

namespace {

/// Costs are counted in 1e-5 s and 1e-5 m; the nudge keeps a value that is whole in these units from being rounded up
/// by noise.
std::int64_t round_up(double units) { return static_cast<std::int64_t>(std::ceil(units - 1e-6)); }

struct ZoneRoles {
  std::vector<bool> forbids;  // by zone
  std::vector<double> price;  // seconds per second, by zone
};

ZoneRoles roles_of(const HandrailGraph& graph) {
  const auto& zones = graph.structure().zones;
  ZoneRoles roles{std::vector<bool>(zones.size()), std::vector<double>(zones.size(), 0.0)};
  for (const ZoneId zone : zones_that_hold(graph)) {
    const auto& z = zones[zone.index()];
    roles.forbids[zone.index()] = z.effect == ZoneEffect::Forbid;
    if (z.effect == ZoneEffect::Caution) roles.price[zone.index()] = z.price_s_per_s;
  }
  return roles;
}

double price_of(const HandrailGraph& graph, const ZoneRoles& roles, MoveId move, double seconds) {
  double price = 0;
  for (const auto& label : graph.zones(move)) price += roles.price[label.zone.index()] * seconds;
  return price;
}

Cost combine(Objective objective, std::int64_t time, std::int64_t metres) {
  switch (objective) {
    case Objective::Time:
      return Cost::of(time, 1, metres);
    case Objective::Distance:
      return Cost::of(metres, 1, time);
    case Objective::Moves:
      return Cost::of(1, time, metres);
  }
  return {};
}

}  // namespace

double translation_rate_m_s(const model::Suit& suit, double allowed_m_s, double mass_kg) {
  return std::min(allowed_m_s, std::sqrt(2 * suit.stop_force_n * suit.stop_distance_m / mass_kg));
}

MoveTime compute_move_time(const graph::Move& move, const model::Suit& suit) {
  MoveTime time;
  const double way_s = move.way_m / translation_rate_m_s(suit, suit.rate_free_m_s, suit.mass_kg);
  (way_s > suit.regrip_s ? time.translate_s : time.regrip_s) = std::max<double>(way_s, suit.regrip_s);
  time.turn_s = move.turn_rad / suit.turn_rate_rad_s;
  time.rail_change_s = move.is_rail_change ? suit.rail_change_s.value : 0.0;
  return time;
}

std::int64_t cost_of_seconds(double seconds) { return round_up(seconds * cost_units_per_second); }
std::int64_t cost_of_metres(double metres) { return round_up(metres * cost_units_per_metre); }

std::vector<ZoneId> zones_that_hold(const HandrailGraph& graph) {
  std::vector<ZoneId> holding;
  const auto& zones = graph.structure().zones;
  for (std::size_t z = 0; z < zones.size(); ++z)
    if ((zones[z].applies.body || zones[z].applies.hands) && zones[z].when.holds(graph.scene().configuration()))
      holding.emplace_back(z);
  return holding;
}

std::vector<Cost> compute_open_costs(const HandrailGraph& graph, const Profile& profile, Objective objective) {
  const ZoneRoles roles = roles_of(graph);
  std::vector<Cost> costs(graph.moves().size());
  for (std::size_t m = 0; m < costs.size(); ++m) {
    const auto& move = graph.moves()[m];
    const double seconds = compute_move_time(move, profile.suit).sum_s();
    costs[m] = combine(objective, cost_of_seconds(seconds + price_of(graph, roles, MoveId(m), seconds)),
                       cost_of_metres(move.way_m));
  }
  return costs;
}

CostTable compute_costs(const HandrailGraph& graph, const Profile& profile, Objective objective) {
  CostTable table;
  table.zones = zones_that_hold(graph);
  const ZoneRoles roles = roles_of(graph);
  std::vector<bool> closed(graph.structure().rails.size());
  for (const auto rail : profile.closures.rails) closed[rail.index()] = true;

  const double needed = graph.body().corridor_radius_m - graph::length_tolerance_m;
  table.grip_blocks.resize(graph.grips().size());
  for (std::size_t g = 0; g < graph.grips().size(); ++g) {
    const auto& grip = graph.grips()[g];
    Blocks blocks = 0;
    if (closed[grip.rail.index()]) blocks |= block_closure;
    if (grip.clearance_lower_m < needed) blocks |= block_body;
    for (const auto& label : graph.zones(GripId(g)))
      if (roles.forbids[label.zone.index()]) blocks |= block_zone;
    table.grip_blocks[g] = blocks;
  }

  table.by_move = compute_open_costs(graph, profile, objective);
  table.blocks.resize(graph.moves().size());
  for (std::size_t m = 0; m < graph.moves().size(); ++m) {
    const auto& move = graph.moves()[m];
    Blocks blocks = 0;
    if (!move.is_turn_allowed)
      blocks |= block_turn;
    else if (!move.is_hand_line_clear)
      blocks |= block_hand_line;
    else if (!move.is_body_clear)
      blocks |= block_body;
    if (closed[graph.grip(move.a).rail.index()] || closed[graph.grip(move.b).rail.index()]) blocks |= block_closure;
    for (const auto& label : graph.zones(MoveId(m)))
      if (roles.forbids[label.zone.index()]) blocks |= block_zone;
    table.blocks[m] = blocks;
    if (blocks != 0) table.by_move[m] = Cost::blocked();
  }
  return table;
}

}  // namespace holdfast::search
