// SPDX-License-Identifier: GPL-3.0-or-later
#include "holdfast/route/costs.h"

#include <tbb/blocked_range.h>
#include <tbb/parallel_for.h>

#include <algorithm>
#include <cmath>
#include <optional>

#include "closures_impl.h"
#include "holdfast/route/grip_rules.h"

namespace holdfast::route {

using graph::GripId;
using graph::HandrailGraph;
using graph::MoveId;
using model::ZoneEffect;
using model::ZoneId;

namespace {

/// Costs are counted in 1e-5 s and 1e-5 m; the nudge keeps a value that is whole in these units from being rounded up
/// by noise.
std::int64_t round_up(double units) { return static_cast<std::int64_t>(std::ceil(units - 1e-6)); }

/// `work(i)` for every i below `count`, on all cores: a pass over the moves of a large graph is most of a question.
template <class Work>
void for_each(std::size_t count, Work&& work) {
  constexpr std::size_t together = 4096;  // some 0.1 ms of it
  tbb::parallel_for(tbb::blocked_range<std::size_t>(0, count, together), [&](const auto& range) {
    for (std::size_t i = range.begin(); i < range.end(); ++i) work(i);
  });
}

struct ZoneRoles {
  std::vector<bool> forbids;  // by zone
  std::vector<double> price;  // seconds per second, by zone
};

ZoneRoles roles_of(const HandrailGraph& graph, bool prices_caution) {
  const auto& zones = graph.structure().zones;
  ZoneRoles roles{std::vector<bool>(zones.size()), std::vector<double>(zones.size(), 0.0)};
  for (const ZoneId zone : zones_that_hold(graph)) {
    const auto& z = zones[zone.index()];
    roles.forbids[zone.index()] = z.effect == ZoneEffect::Forbid;
    if (z.effect == ZoneEffect::Caution && prices_caution) roles.price[zone.index()] = z.price_s_per_s;
  }
  return roles;
}

double price_of(const HandrailGraph& graph, const ZoneRoles& roles, MoveId move, double seconds) {
  double price = 0;
  for (const auto& label : graph.zones(move)) price += roles.price[label.zone.index()] * seconds;
  return price;
}

}  // namespace

double translation_rate_m_s(const model::Suit& suit, double allowed_m_s, double mass_kg) {
  return std::min(allowed_m_s, std::sqrt(2 * suit.stop_force_n * suit.stop_distance_m / mass_kg));
}

namespace {

/// Why nobody could carry these at once, each as it stands; nothing where they can.
std::optional<model::Diagnostic> find_clash(const std::vector<const model::Load*>& loads) {
  const auto refuse = [](const model::Load& load, std::string problem, std::string remedy) {
    return model::Diagnostic{load.mark, "", "loads-clash", std::move(problem), load.id, std::move(remedy)};
  };
  const model::Load* in_hand = nullptr;
  const model::Load* in_tow = nullptr;
  for (std::size_t i = 0; i < loads.size(); ++i) {
    const model::Load& load = *loads[i];
    if (load.hands > 0) {
      if (in_hand)
        return refuse(load,
                      "loads \"" + in_hand->id + "\" and \"" + load.id +
                          "\" together occupy both hands, and nobody moves along rails without one",
                      "leave one of them, tow it, or give one `carried: worn` in the kit if it hangs from the suit");
      in_hand = &load;
    }
    if (load.how == model::CarriedHow::InTow) {
      if (in_tow)
        return refuse(load, "loads \"" + in_tow->id + "\" and \"" + load.id + "\" would both be in tow",
                      "tow one at a time, or carry one beside the body");
      in_tow = &load;
      continue;
    }
    for (std::size_t j = 0; j < i; ++j) {
      if (loads[j]->how == model::CarriedHow::InTow) continue;
      const Eigen::Vector3d apart =
          (load.offset_m - loads[j]->offset_m).cwiseAbs() - (load.size_m + loads[j]->size_m) / 2;
      if (apart.maxCoeff() < 0)
        return refuse(
            load,
            "loads \"" + loads[j]->id + "\" and \"" + load.id + "\" are carried in the same place beside the body",
            "carry them on different sides: `sides:` and `offset_m:` in the kit");
    }
  }
  return std::nullopt;
}

}  // namespace

void check_loads(const std::vector<const model::Load*>& loads) { (void)find_manners(loads); }

std::vector<Manner> find_manners(const std::vector<const model::Load*>& loads) {
  for (std::size_t i = 0; i < loads.size(); ++i)
    if (const auto same = std::find(loads.begin(), loads.begin() + static_cast<std::ptrdiff_t>(i), loads[i]);
        same != loads.begin() + static_cast<std::ptrdiff_t>(i))
      throw model::InputError({{loads[i]->mark, "", "loads-clash", "load \"" + loads[i]->id + "\" is given twice",
                                loads[i]->id, "name each load once"}});
  std::vector<Manner> manners;
  std::optional<model::Diagnostic> first_clash;
  std::vector<std::size_t> index(loads.size());
  for (bool is_done = false; !is_done;) {
    std::vector<model::Load> carried;
    std::vector<const model::Load*> pointers;
    for (std::size_t i = 0; i < loads.size(); ++i) carried.push_back(loads[i]->carried(index[i]));
    for (const auto& load : carried) pointers.push_back(&load);
    auto clash = find_clash(pointers);
    if (!clash)
      manners.push_back({std::move(carried), index});
    else if (!first_clash)
      first_clash = std::move(clash);
    std::size_t next = loads.size();  // the last load's manner changes quickest
    while (next > 0 && ++index[next - 1] == loads[next - 1]->carrying_count()) index[--next] = 0;
    is_done = next == 0;
  }
  if (manners.empty()) throw model::InputError({*first_clash});
  return manners;
}

Pace pace_of(const model::Suit& suit, std::span<const model::Load> carried) {
  Pace pace;
  pace.mass_kg = suit.mass_kg;
  double allowed_m_s = suit.rate_free_m_s;
  for (const model::Load& load : carried) {
    pace.mass_kg += load.mass_kg;
    // What is worn leaves both hands and does not trail: its mass alone slows, by the stopping rule.
    if (load.how != model::CarriedHow::Worn) allowed_m_s = std::min<double>(allowed_m_s, suit.rate_loaded_m_s);
    if (load.rate_m_s) allowed_m_s = std::min<double>(allowed_m_s, *load.rate_m_s);
    if (load.hands > 0) pace.one_hand_s = suit.one_hand_s;
    pace.take_up_s += load.stow_s;
  }
  pace.rate_m_s = translation_rate_m_s(suit, allowed_m_s, pace.mass_kg);
  pace.regrip_s = suit.regrip_s;
  pace.turn_rate_rad_s = suit.turn_rate_rad_s;
  pace.rail_change_s = suit.rail_change_s;
  const double push_s = pace.mass_kg * pace.rate_m_s / suit.stop_force_n;
  pace.start_s = std::max<double>(suit.start_s, push_s);
  pace.stop_s = std::max<double>(suit.stop_s, push_s);
  return pace;
}

std::vector<Pace> paces_of(const Profile& profile) {
  std::vector<Pace> paces;
  for (const auto& manner : find_manners(profile.loads)) {
    paces.push_back(pace_of(profile.suit, manner.loads));
    paces.back().prices_caution = profile.prices_caution;
    if (!profile.counts_handling) paces.back().take_up_s = 0;
  }
  return paces;
}

Pace pace_of(const Profile& profile) { return paces_of(profile).front(); }

MoveTime compute_move_time(const graph::Move& move, const Pace& pace) {
  MoveTime time;
  const double way_s = move.way_m / pace.rate_m_s;
  (way_s > pace.regrip_s ? time.translate_s : time.regrip_s) = std::max(way_s, pace.regrip_s);
  time.turn_s = move.turn_rad / pace.turn_rate_rad_s;
  time.rail_change_s = move.is_rail_change ? pace.rail_change_s : 0.0;
  time.one_hand_s = pace.one_hand_s;
  return time;
}

std::int64_t cost_of_seconds(double seconds) { return round_up(seconds * search::cost_units_per_second); }
std::int64_t cost_of_metres(double metres) { return round_up(metres * search::cost_units_per_metre); }

namespace {

template <class Applies>
std::vector<ZoneId> holding_zones(const HandrailGraph& graph, Applies&& applies) {
  std::vector<ZoneId> holding;
  const auto& zones = graph.structure().zones;
  for (std::size_t z = 0; z < zones.size(); ++z)
    if (applies(zones[z].applies) && zones[z].when.holds(graph.scene().configuration())) holding.emplace_back(z);
  return holding;
}

}  // namespace

std::vector<ZoneId> zones_that_hold(const HandrailGraph& graph) {
  return holding_zones(graph, [](const model::ZoneApplies& to) { return to.body || to.hands; });
}

std::vector<ZoneId> load_zones_that_hold(const HandrailGraph& graph) {
  return holding_zones(graph, [](const model::ZoneApplies& to) { return to.load; });
}

bool has_caution_prices(const HandrailGraph& graph, const Profile& profile) {
  if (!profile.prices_caution) return false;
  const auto is_priced = [&](ZoneId zone) {
    const auto& z = graph.structure().zones[zone.index()];
    return z.effect == ZoneEffect::Caution && z.price_s_per_s > 0;
  };
  const auto body = zones_that_hold(graph);
  if (std::any_of(body.begin(), body.end(), is_priced)) return true;
  const auto loads = load_zones_that_hold(graph);
  return !profile.loads.empty() && std::any_of(loads.begin(), loads.end(), is_priced);
}

std::vector<search::Cost> compute_open_costs(const HandrailGraph& graph, const Profile& profile, Objective objective) {
  std::vector<search::Cost> least;
  for (const Pace& pace : paces_of(profile)) {
    auto costs = compute_open_costs(graph, pace, objective);
    if (least.empty())
      least = std::move(costs);
    else
      for (std::size_t m = 0; m < least.size(); ++m) least[m] = std::min(least[m], costs[m]);
  }
  return least;
}

std::vector<search::Cost> compute_open_costs(const HandrailGraph& graph, const Pace& pace, Objective objective) {
  const ZoneRoles roles = roles_of(graph, pace.prices_caution);
  std::vector<search::Cost> costs(graph.moves().size());
  for_each(costs.size(), [&](std::size_t m) {
    const auto& move = graph.moves()[m];
    const double seconds = compute_move_time(move, pace).sum_s();
    costs[m] = cost_of_move(objective, cost_of_seconds(seconds + price_of(graph, roles, MoveId(m), seconds)),
                            cost_of_metres(move.way_m));
  });
  return costs;
}

search::Cost cost_of_move(Objective objective, std::int64_t time, std::int64_t metres) {
  switch (objective) {
    case Objective::Time:
      return search::Cost::of(time, 1, metres);
    case Objective::Distance:
      return search::Cost::of(metres, 1, time);
    case Objective::Moves:
      return search::Cost::of(1, time, metres);
  }
  return {};
}

search::Cost cost_of_pause(Objective objective, std::int64_t time) {
  return cost_of_move(objective, time, 0) - cost_of_move(objective, 0, 0);
}

std::vector<search::Cost> compute_unpriced_costs(const HandrailGraph& graph, const CostTable& table, const Pace& pace,
                                                 Objective objective) {
  std::vector<search::Cost> costs(graph.moves().size(), search::Cost::blocked());
  for_each(costs.size(), [&](std::size_t m) {
    if (table.by_move[m].is_blocked()) return;
    const auto& move = graph.moves()[m];
    costs[m] =
        cost_of_move(objective, cost_of_seconds(compute_move_time(move, pace).sum_s()), cost_of_metres(move.way_m));
  });
  return costs;
}

CostTable compute_costs(const HandrailGraph& graph, const Profile& profile, Objective objective) {
  CostTable table;
  table.zones = zones_that_hold(graph);
  const ZoneRoles roles = roles_of(graph, profile.prices_caution);
  const GripRules rules(graph);  // what is closed comes last, with its moves
  table.grip_blocks.resize(graph.grips().size());
  for_each(graph.grips().size(), [&](std::size_t g) { table.grip_blocks[g] = rules.blocks(GripId(g)); });

  table.by_move = compute_open_costs(graph, profile, objective);
  table.blocks.resize(graph.moves().size());
  for_each(graph.moves().size(), [&](std::size_t m) {
    const auto& move = graph.moves()[m];
    Blocks blocks = 0;
    if (!move.is_turn_allowed)
      blocks |= block_turn;
    else if (!move.is_hand_line_clear)
      blocks |= block_hand_line;
    else if (!move.is_body_clear)
      blocks |= block_body;
    for (const auto& label : graph.zones(MoveId(m)))
      if (roles.forbids[label.zone.index()]) blocks |= block_zone;
    table.blocks[m] = blocks;
    if (blocks != 0) table.by_move[m] = search::Cost::blocked();
  });
  detail::close(graph, profile.closures, table);
  return table;
}

std::vector<bool> touched_rails(const HandrailGraph& graph, const Closures& closures) {
  std::vector<bool> touched(graph.structure().rails.size());
  const auto touch = [&](GripId grip) { touched[graph.grip(grip).rail.index()] = true; };
  for (const auto rail : closures.rails) touched[rail.index()] = true;
  for (const auto grip : closures.grips) touch(grip);
  for (const auto move : closures.moves) touch(graph.move(move).a), touch(graph.move(move).b);
  return touched;
}

std::vector<detail::Reopening> detail::close(const HandrailGraph& graph, const Closures& closures, CostTable& table) {
  std::vector<Reopening> undo;
  const auto close_move = [&](std::uint32_t move) {
    if (table.blocks[move] & block_closure) return;
    undo.push_back({move, true, table.by_move[move]});
    table.blocks[move] |= block_closure;
    table.by_move[move] = search::Cost::blocked();
  };
  const auto close_grip = [&](std::uint32_t grip) {
    if (table.grip_blocks[grip] & block_closure) return;
    undo.push_back({grip, false, {}});
    table.grip_blocks[grip] |= block_closure;
    for (const auto& arc : graph.adjacency().out(grip)) close_move(arc.move);
  };
  for (const auto rail : closures.rails) {
    const auto [first, last] = graph.grips_of(rail);
    for (std::uint32_t grip = first; grip < last; ++grip) close_grip(grip);
  }
  for (const auto grip : closures.grips) close_grip(grip.value);
  for (const auto move : closures.moves) close_move(move.value);
  return undo;
}

void detail::reopen(std::span<const Reopening> undo, CostTable& table) {
  for (const auto& each : undo) {
    if (each.is_move) {
      table.blocks[each.index] &= static_cast<Blocks>(~block_closure);
      table.by_move[each.index] = each.cost;
    } else {
      table.grip_blocks[each.index] &= static_cast<Blocks>(~block_closure);
    }
  }
}

}  // namespace holdfast::route
