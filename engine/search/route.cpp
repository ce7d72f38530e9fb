#include "holdfast/search/route.h"

#include <algorithm>
#include <cmath>
#include <numbers>
#include <variant>

#include "ends_impl.h"
#include "holdfast/search/labels.h"
#include "holdfast/search/shortest.h"
#include "waypoints_impl.h"
#include "why_not_impl.h"

namespace holdfast::search {

using detail::End;
using graph::GripId;
using graph::HandrailGraph;
using graph::MoveId;

namespace {

std::vector<Seed> usable(const std::vector<GripId>& grips, const CostTable& table) {
  std::vector<Seed> seeds;
  for (const GripId grip : grips)
    if (table.grip_blocks[grip.index()] == 0) seeds.push_back({grip.value, {}});
  return seeds;
}

std::vector<UsedValue> used_values(const Profile& profile) {
  const auto& suit = profile.suit;
  const auto& design = profile.kit.design;
  const auto degrees = [](model::Quantity q) {
    q.value *= 180 / std::numbers::pi;
    return q;
  };
  return {{"corridor diameter", "m", suit.corridor_diameter_m},
          {"stand-off from hand to body axis", "m", suit.stand_off_m},
          {"reach between hands", "m", suit.reach_m},
          {"turn limit", "deg", degrees(suit.turn_limit_rad)},
          {"lean limit", "deg", degrees(suit.lean_rad)},
          {"glove thickness", "m", suit.glove_m},
          {"grip spacing", "m", design.grip_spacing_m},
          {"mass with suit", "kg", suit.mass_kg},
          {"stopping force", "N", suit.stop_force_n},
          {"stopping distance", "m", suit.stop_distance_m},
          {"rate, hands free", "m/s", suit.rate_free_m_s},
          {"least re-grip time", "s", suit.regrip_s},
          {"turn rate", "deg/s", degrees(suit.turn_rate_rad_s)},
          {"rail change", "s", suit.rail_change_s},
          {"start of a leg", "s", suit.start_s},
          {"stop of a leg", "s", suit.stop_s},
          {"kick band beside a route", "m", design.kick_band_m},
          {"kick load", "N", design.kick_load_n}};
}

/// Limit zones that hold in the configuration.
std::vector<model::ZoneId> limit_zones(const HandrailGraph& graph, const CostTable& table) {
  std::vector<model::ZoneId> zones;
  for (const auto zone : table.zones)
    if (graph.structure().zones[zone.index()].effect == model::ZoneEffect::Limit) zones.push_back(zone);
  return zones;
}

bool keeps_limits(const HandrailGraph& graph, const Route& route) {
  return std::all_of(route.zones.begin(), route.zones.end(), [&](const ZoneContact& contact) {
    return contact.effect != model::ZoneEffect::Limit ||
           contact.inside_s <= graph.structure().zones[contact.zone.index()].limit_s;
  });
}

bool is_in(std::span<const graph::ZoneLabel> labels, model::ZoneId zone) {
  return std::any_of(labels.begin(), labels.end(), [&](const auto& label) { return label.zone == zone; });
}

/// The best way that stays within every limit zone's seconds, over all legs together; else the causes.
std::variant<std::vector<detail::LegWay>, NoRoute> find_within_limits(const HandrailGraph& graph, const Profile& profile,
                                                                      const CostTable& table, const std::vector<End>& ends,
                                                                      bool& is_certain) {
  LimitedRequest request;
  for (const End& end : ends) request.stops.push_back(usable(end.grips, table));
  const auto zones = limit_zones(graph, table);
  for (const auto zone : zones) {
    // Standing still at the start and end of legs counts where any grip of that stop lies inside: never less than the
    // true stay.
    double standing_s = 0;
    for (std::size_t stop = 0; stop < ends.size(); ++stop) {
      const auto& seeds = request.stops[stop];
      if (std::none_of(seeds.begin(), seeds.end(),
                       [&](const Seed& s) { return is_in(graph.zones(GripId(s.node)), zone); }))
        continue;
      if (stop + 1 < ends.size()) standing_s += profile.suit.start_s;
      if (stop > 0) standing_s += profile.suit.stop_s;
    }
    Resource resource;
    resource.limit = static_cast<std::int64_t>(
        std::floor((graph.structure().zones[zone.index()].limit_s - standing_s) * cost_units_per_second));
    resource.by_move.assign(graph.moves().size(), 0);
    for (std::size_t m = 0; m < graph.moves().size(); ++m)
      if (is_in(graph.zones(MoveId(m)), zone))
        resource.by_move[m] = cost_of_seconds(compute_move_time(graph.moves()[m], profile.suit).sum_s());
    request.resources.push_back(std::move(resource));
  }
  const auto found = find_limited_way(graph.adjacency(), table.by_move, request);
  is_certain = !found.is_cut_short;
  if (!found.way) {
    struct Stay {
      model::ZoneId zone;
      double least_s, limit_s;
    };
    std::vector<Stay> stays;
    NoRoute refusal;
    for (std::size_t r = 0; r < zones.size(); ++r) {
      const double limit_s = graph.structure().zones[zones[r].index()].limit_s;
      const double standing_s = limit_s - static_cast<double>(request.resources[r].limit) / cost_units_per_second;
      const double least_s = static_cast<double>(found.least[r]) / cost_units_per_second + standing_s;
      stays.push_back({zones[r], least_s, limit_s});
    }
    // Every zone that no way satisfies by itself; all of them when only together they leave none.
    const bool some_alone =
        std::any_of(stays.begin(), stays.end(), [](const Stay& s) { return s.least_s > s.limit_s; });
    for (const Stay& stay : stays) {
      if (some_alone && stay.least_s <= stay.limit_s) continue;
      Cause cause;
      cause.kind = CauseKind::ZoneTime;
      cause.zones = {stay.zone};
      cause.value_s = stay.least_s, cause.limit_s = stay.limit_s;
      refusal.causes.push_back(std::move(cause));
    }
    return refusal;
  }
  std::vector<detail::LegWay> ways;
  for (std::size_t leg = 0; leg + 1 < ends.size(); ++leg) {
    detail::LegWay way{ends[leg].text, ends[leg + 1].text, {}, {}};
    for (std::size_t i = found.stop_at[leg]; i <= found.stop_at[leg + 1]; ++i)
      way.grips.emplace_back(found.way->nodes[i]);
    for (std::size_t i = found.stop_at[leg]; i < found.stop_at[leg + 1]; ++i)
      way.moves.emplace_back(found.way->moves[i]);
    ways.push_back(std::move(way));
  }
  return ways;
}

}  // namespace

Landmarks build_landmarks(const HandrailGraph& graph, const Profile& profile, Objective objective) {
  return Landmarks(graph.adjacency(), compute_open_costs(graph, profile, objective));
}

Answer route(const HandrailGraph& graph, const Profile& profile, const RouteRequest& request) {
  Answer answer;
  answer.request = {request.from, request.to, request.via, request.by, {}};
  for (const auto rail : profile.closures.rails)
    answer.request.closed_rails.push_back(graph.structure().rails[rail.index()].id);
  answer.configuration = graph.scene().configuration();
  answer.suit = profile.suit.id;
  answer.used = used_values(profile);
  answer.clearance_tolerance_m = detail::clearance_tolerance_m;

  std::vector<End> ends;
  ends.push_back(detail::resolve_end(graph, request.from, request.point_radius_m));
  for (const auto& via : request.via) ends.push_back(detail::resolve_end(graph, via, request.point_radius_m));
  ends.push_back(detail::resolve_end(graph, request.to, request.point_radius_m));

  const CostTable table = compute_costs(graph, profile, request.by);
  const std::size_t legs = ends.size() - 1;

  // A leg starts at the grip where the one before ended: nobody gets from one grip of a place to another for nothing.
  // So the cost of what follows counts at each grip of a via place, found from the last leg backward.
  std::vector<std::vector<Seed>> arrivals(ends.size());
  arrivals[legs] = usable(ends[legs].grips, table);
  ShortestTree tree;
  for (std::size_t leg = legs - 1; leg > 0; --leg) {
    tree.grow(graph.adjacency(), table.by_move, arrivals[leg + 1]);
    for (const Seed& seed : usable(ends[leg].grips, table))
      if (const Cost onward = tree.cost(seed.node); !onward.is_blocked()) arrivals[leg].push_back({seed.node, onward});
  }

  std::vector<detail::LegWay> ways;
  RouteQuery query;
  std::vector<Seed> start = usable(ends[0].grips, table);
  for (std::size_t leg = 0; leg < legs; ++leg) {
    const auto way = query.find(graph.adjacency(), table.by_move, start, arrivals[leg + 1], request.landmarks);
    if (!way) break;
    detail::LegWay found{ends[leg].text, ends[leg + 1].text, {}, {}};
    for (const auto node : way->nodes) found.grips.emplace_back(node);
    for (const auto move : way->moves) found.moves.emplace_back(move);
    ways.push_back(std::move(found));
    start = {{way->nodes.back(), {}}};
  }
  if (ways.size() == legs) {
    const detail::WaypointOptions options{.zone_report_m = request.zone_report_m, .band_m = profile.kit.design.kick_band_m};
    Route best = detail::describe(graph, profile, ways, options);
    if (keeps_limits(graph, best)) {
      answer.outcome = std::move(best);
      return answer;
    }
    auto within = find_within_limits(graph, profile, table, ends, answer.is_certain);
    if (auto* refusal = std::get_if<NoRoute>(&within))
      answer.outcome = std::move(*refusal);
    else
      answer.outcome = detail::describe(graph, profile, std::get<std::vector<detail::LegWay>>(within), options);
    return answer;
  }

  // Which leg is at fault: follow what can be reached, leg by leg.
  std::vector<GripId> reached = ends[0].grips;
  for (std::size_t leg = 0; leg < legs; ++leg) {
    tree.grow(graph.adjacency(), table.by_move, usable(reached, table));
    std::vector<GripId> next;
    for (const Seed& seed : usable(ends[leg + 1].grips, table))
      if (!tree.cost(seed.node).is_blocked()) next.emplace_back(seed.node);
    if (next.empty()) {
      answer.outcome = NoRoute{detail::explain(graph, profile, request.by, {leg, ends[leg], ends[leg + 1], reached})};
      return answer;
    }
    reached = std::move(next);
  }
  model::ensure(false, "a route was not found although every leg can be made");
  return answer;
}

}  // namespace holdfast::search
