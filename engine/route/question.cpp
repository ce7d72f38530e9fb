// SPDX-License-Identifier: GPL-3.0-or-later
#include "question_impl.h"

#include <algorithm>
#include <numbers>

#include "holdfast/route/used_values.h"

namespace holdfast::route::detail {

using graph::GripId;
using graph::HandrailGraph;

std::vector<search::Seed> usable(const std::vector<GripId>& grips, const CostTable& table) {
  std::vector<search::Seed> seeds;
  for (const GripId grip : grips)
    if (table.grip_blocks[grip.index()] == 0) seeds.push_back({grip.value, {}});
  return seeds;
}

/// Limit zones that hold in the configuration.
std::vector<model::ZoneId> limit_zones(const HandrailGraph& graph, const CostTable& table, bool with_loads) {
  std::vector<model::ZoneId> all = table.zones, zones;
  if (with_loads)
    for (const auto zone : load_zones_that_hold(graph))
      if (std::find(all.begin(), all.end(), zone) == all.end()) all.push_back(zone);
  for (const auto zone : all)
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

std::vector<End> resolve_ends(const HandrailGraph& graph, const RouteRequest& request) {
  std::vector<End> ends;
  if (request.start) {
    model::ensure(request.start->grip < graph.grips().size(), "a route goes on from a grip of its graph");
    const GripId grip(request.start->grip);
    ends.push_back({request.from, graph.grip(grip).hand, 0, {grip}, request.start});
  } else {
    ends.push_back(resolve_end(graph, request.from, request.point_radius_m));
  }
  for (const auto& via : request.via) ends.push_back(resolve_end(graph, via, request.point_radius_m));
  ends.push_back(resolve_end(graph, request.to, request.point_radius_m));
  return ends;
}

std::vector<PresentPlace> find_present_places(const HandrailGraph& graph, const CostTable& table) {
  const auto& structure = graph.structure();
  const auto& configuration = graph.scene().configuration();
  std::vector<PresentPlace> places;
  for (std::size_t p = 0; p < structure.places.size(); ++p) {
    const auto& place = structure.places[p];
    if (!structure.is_present(place, configuration)) continue;
    places.push_back({model::PlaceId(p), usable(resolve_end(graph, place.id, 0).grips, table)});
  }
  return places;
}

std::vector<LegWay> split_legs(const std::vector<End>& ends, const search::Path& way,
                               const std::vector<std::size_t>& stop_at) {
  std::vector<LegWay> legs;
  for (std::size_t leg = 0; leg + 1 < ends.size(); ++leg) {
    LegWay part{ends[leg].text, ends[leg + 1].text, {}, {}};
    part.departure = ends[leg].departure;
    for (std::size_t i = stop_at[leg]; i <= stop_at[leg + 1]; ++i) part.grips.emplace_back(way.nodes[i]);
    for (std::size_t i = stop_at[leg]; i < stop_at[leg + 1]; ++i) part.moves.emplace_back(way.moves[i]);
    legs.push_back(std::move(part));
  }
  return legs;
}

WaypointOptions waypoint_options(const Profile& profile, const RouteRequest& request) {
  return {.zone_report_m = request.zone_report_m, .band_m = profile.kit.design.kick_band_m};
}

}  // namespace holdfast::route::detail

namespace holdfast::route {

std::vector<UsedValue> used_values(const Profile& profile) {
  const auto& suit = profile.suit;
  const auto& design = profile.kit.design;
  const auto degrees = [](model::Quantity q) {
    q.value *= 180 / std::numbers::pi;
    return q;
  };
  std::vector<UsedValue> used = {{"corridor diameter", "m", suit.corridor_diameter_m},
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
  if (profile.loads.empty()) return used;
  used.push_back({"rate, with a load", "m/s", suit.rate_loaded_m_s});
  used.push_back({"more for a move with one hand", "s", suit.one_hand_s});
  for (const model::Load* load : profile.loads) {
    used.push_back({"mass of " + load->id, "kg", load->mass_kg});
    std::vector<double> rates_m_s;  // told once, whatever the manners that have it
    for (std::size_t i = 0; i < load->carrying_count(); ++i) {
      const auto rate_m_s = load->carried(i).rate_m_s;
      if (!rate_m_s || std::find(rates_m_s.begin(), rates_m_s.end(), rate_m_s->value) != rates_m_s.end()) continue;
      rates_m_s.push_back(*rate_m_s);
      used.push_back({"rate with " + load->id, "m/s", *rate_m_s});
    }
    used.push_back({"taking up or putting down " + load->id, "s", load->stow_s});
    if (load->carrying_count() > 1) used.push_back({"changing hands or manner with " + load->id, "s", load->change_s});
  }
  return used;
}

AnswerHead begin_answer(const graph::HandrailGraph& graph, const Profile& profile, const RouteRequest& request) {
  check_loads(profile.loads);
  AnswerHead head;
  head.request = {request.from, request.to, request.via, request.by, {}};
  for (const auto rail : profile.closures.rails)
    head.request.closed_rails.push_back(graph.structure().rails[rail.index()].id);
  head.configuration = graph.scene().configuration();
  head.suit = profile.suit.id;
  for (const model::Load* load : profile.loads) head.loads.push_back(load->id);
  head.used = used_values(profile);
  head.clearance_tolerance_m = detail::clearance_tolerance_m;
  head.is_priced = request.by == Objective::Time && has_caution_prices(graph, profile);
  return head;
}

Vec3 find_point(const graph::HandrailGraph& graph, const std::string& text) {
  return detail::resolve_end(graph, text, 0).at;
}

}  // namespace holdfast::route
