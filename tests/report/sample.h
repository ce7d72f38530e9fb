// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// A small answer written by hand: two parts, three rails, two zones, a route of two legs, and refusals of every kind.

#include <algorithm>
#include <string>

#include "holdfast/report/report.h"

namespace holdfast::report::sample {

using model::PartId;
using model::RailId;
using model::Vec3;
using model::ZoneId;

inline const PartId drum{0}, mast{1};
inline const RailId drum_1{0}, drum_2{1}, mast_1{2};
inline const ZoneId beam{0}, view{1}, frost{2};

inline model::Structure structure() {
  model::Structure s;
  s.name = "Sample yard";
  s.switches = {{"arm", {"stowed", "reaching"}, "stowed", {}}, {"dish", {"parked", "tracking"}, "parked", {}}};
  model::Part part;
  part.id = "drum", part.name = "stores drum";
  s.parts.push_back(part);
  part.id = "mast", part.name = "mast", part.fragile = part.no_touch = true;
  s.parts.push_back(part);
  model::Rail rail;
  rail.part = drum;
  for (const char* id : {"drum-1", "drum-2"}) rail.id = id, s.rails.push_back(rail);
  rail.id = "mast-1", rail.part = mast, s.rails.push_back(rail);
  model::Zone zone;
  zone.id = "beam", zone.reason = "radio beam", zone.effect = model::ZoneEffect::Forbid, s.zones.push_back(zone);
  zone.id = "view", zone.reason = "in the camera's view", zone.effect = model::ZoneEffect::Caution;
  s.zones.push_back(zone);
  zone.id = "frost", zone.reason = "cold surface", zone.effect = model::ZoneEffect::Limit, zone.limit_s = 30;
  s.zones.push_back(zone);
  s.files = {{"structure.yaml", std::string(64, 'a')}, {"kit.yaml", std::string(64, 'b')}};
  return s;
}

inline model::Kit kit() {
  model::Kit k;
  k.suits.push_back(model::default_suit());
  k.suits.front().id = "standard";
  k.suits.front().corridor_diameter_m = {1.09, "a standard, 1.2", model::Confidence::Memory};
  k.loads.emplace_back();
  k.loads.front().id = k.loads.front().name = "bag";
  k.loads.front().size_m = {1.2, 0.7, 0.6};
  k.design = model::default_design_values();
  k.design.kick_band_m = {0.61, "a table", model::Confidence::Published};
  k.design.kick_load_n = {556, "a table, p. 3-5", model::Confidence::Published};
  return k;
}

/// Structure, kit and context kept together, so that references stay good.
struct Desk {
  explicit Desk(Options options = {})
      : context{structure_, kit_, kit_.suits.front(), "models/sample", "9.8.7", options} {}
  model::Structure structure_ = structure();
  model::Kit kit_ = kit();
  Context context;
};

inline route::Row row(route::RowKind kind, PartId part, RailId rail, route::Face face) {
  route::Row r;
  r.kind = kind, r.part = part, r.rail = rail;
  r.face_from = r.face = face;
  r.clearance = {0.6, false};
  r.clearance_part = drum;
  return r;
}

inline route::Answer asked() {
  route::Answer answer;
  answer.request = {"hatch", "mast-top", {"valve"}, route::Objective::Time, {"drum-2"}};
  answer.configuration.positions = {{"arm", "stowed"}, {"dish", "tracking"}};
  answer.suit = "standard";
  answer.used = {{"corridor diameter", "m", {1.09, "a standard, 1.2", model::Confidence::Memory}},
                 {"rate, hands free", "m/s", {0.2, "common practice, no source", model::Confidence::Practice}}};
  answer.clearance_tolerance_m = 0.004;
  return answer;
}

/// Two legs: along a drum and across a gap, in view of a camera; then round its edge and over to a mast.
inline route::Answer found() {
  using route::Face;
  using route::RowKind;
  route::Answer answer = asked();
  route::Route route;

  route::Leg out;
  out.from = "hatch", out.to = "valve";
  auto start = row(RowKind::Start, drum, drum_1, Face::Zenith);
  start.time_s = start.total_time_s = 5;
  start.hand = {0.5, 0, -2.07};
  auto along = row(RowKind::Along, drum, drum_1, Face::Zenith);
  along.along_from_m = 0.25, along.along_to_m = 1.5, along.distance_m = 1.25, along.moves = 3, along.time_s = 6.25;
  along.total_distance_m = 1.25, along.total_moves = 3, along.total_time_s = 11.25;
  along.clearance = {0.845, true}, along.clearance_part.reset();
  along.zones = {{beam, model::ZoneEffect::Forbid, 0, 0.567}};
  along.hand = {1.75, 0, -2.07};
  auto gap = row(RowKind::Gap, drum, drum_2, Face::Port);
  gap.face_from = Face::Zenith;
  gap.gap_m = 0.515, gap.along_to_m = 2.4, gap.distance_m = 3.001, gap.moves = 6, gap.time_s = 25;
  gap.total_distance_m = 4.251, gap.total_moves = 9, gap.total_time_s = 36.25;
  gap.clearance = {0.5451, false};
  gap.zones = {{view, model::ZoneEffect::Caution, 12.5, 0}, {frost, model::ZoneEffect::Limit, 20, 0}};
  out.rows = {start, along, gap};
  out.poses = {{0, drum_1, {0.5, 0, -2.07}, {0.5, 0, -2.62}, -Vec3::UnitZ(), -Vec3::UnitZ(), 5}};
  out.distance_m = 4.251, out.moves = 9, out.time_s = 36.25;

  route::Leg on;
  on.from = "valve", on.to = "mast-top";
  auto again = row(RowKind::Start, drum, drum_2, Face::Port);
  again.time_s = 5, again.total_distance_m = 4.251, again.total_moves = 9, again.total_time_s = 41.25;
  auto edge = row(RowKind::Edge, drum, drum_1, Face::Aft);
  edge.gap_m = 0.4, edge.turn_rad = 80 * EIGEN_PI / 180, edge.distance_m = 1.1, edge.moves = 1, edge.time_s = 9;
  edge.total_distance_m = 5.351, edge.total_moves = 10, edge.total_time_s = 50.25;
  auto over = row(RowKind::PartChange, mast, mast_1, Face::Aft);
  over.gap_m = 0.6, over.turn_rad = EIGEN_PI / 2, over.along_to_m = 0.45, over.distance_m = 0.9, over.moves = 2;
  over.time_s = 3610, over.total_distance_m = 6.251, over.total_moves = 12, over.total_time_s = 3660.25;
  on.rows = {again, edge, over};
  on.poses = {{7, mast_1, {3, 0, -4}, {2.45, 0, -4}, -Vec3::UnitX(), -Vec3::UnitX(), 3655.25}};
  on.distance_m = 2, on.moves = 3, on.time_s = 3624;

  route.legs = {out, on};
  route.distance_m = 6.251, route.moves = 12, route.time_s = 3660.25;
  route.time_by_cause = {.regrip_s = 4, .translate_s = 3600.2, .turn_s = 30.05, .rail_change_s = 6, .start_stop_s = 20};
  route.clearance = {0.5451, false};
  route.clearance_part = drum, route.clearance_at = {3, -1.004, -2};
  route.caution_s = 12.5;
  route.zones = {{beam, model::ZoneEffect::Forbid, 0, 0.567},
                 {view, model::ZoneEffect::Caution, 12.5, 0},
                 {frost, model::ZoneEffect::Limit, 20, 0}};
  route.band = {{mast, 0.3456, 1, 2, true, true}};
  answer.outcome = route;
  return answer;
}

/// A cause of this kind with every number and name set that its sentence uses.
inline route::Cause cause(route::CauseKind kind) {
  using route::CauseKind;
  route::Cause c;
  c.kind = kind;
  c.leg = 1;
  c.at = {1.5, 0, -2.07};
  c.rail = drum_1, c.rail_other = drum_2;
  switch (kind) {
    case CauseKind::NoGripNear:
      c.place = "mast-top", c.limit_m = 0.8, c.value_m = 1.915, c.rail = mast_1, c.rail_other.reset();
      break;
    case CauseKind::InZone:
      c.place = "mast-top", c.zones = {beam};
      break;
    case CauseKind::OnClosedRails:
      c.place = "valve", c.rails = {drum_2};
      break;
    case CauseKind::Reach:
      c.value_m = 1.333, c.limit_m = 0.61, c.unavoidable_m = 0.9, c.at_other = {2.833, 0, -2.07};
      break;
    case CauseKind::TurnLimit:
      c.value_rad = 120 * EIGEN_PI / 180, c.limit_rad = EIGEN_PI / 2;
      break;
    case CauseKind::HandLineBlocked:
      c.part = mast;
      break;
    case CauseKind::BodyTooTight:
      c.value_m = 0.9876, c.limit_m = 1.09, c.part = mast, c.opens_alone = true, c.then_time_s = 3 * 60 + 7.2;
      break;
    case CauseKind::LoadTooTight:
      c.value_m = 0.4, c.limit_m = 0.6, c.part = drum;
      break;
    case CauseKind::Zones:
      c.zones = {beam, view}, c.then_time_s = 61;
      break;
    case CauseKind::Closures:
      c.rails = {drum_2}, c.opens_alone = true, c.then_time_s = 44;
      break;
    case CauseKind::ZoneTime:
      c.zones = {frost}, c.value_s = 41.2, c.limit_s = 30;
      break;
    case CauseKind::Tether:
      c.value_m = 27, c.limit_m = 26;
      break;
  }
  return c;
}

inline route::Answer refused(std::vector<route::Cause> causes) {
  route::Answer answer = asked();
  answer.outcome = route::NoRoute{std::move(causes)};
  return answer;
}

inline check::Finding finding(check::FindingKind kind, check::Severity severity) {
  check::Finding f;
  f.kind = kind, f.severity = severity;
  f.subject = "drum-1";
  f.mark = {"models/sample/structure.yaml", 12, 5};
  f.at = {1, 2, 3};
  return f;
}

}  // namespace holdfast::report::sample
