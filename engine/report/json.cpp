// SPDX-License-Identifier: GPL-3.0-or-later
#include <fmt/format.h>

#include <nlohmann/json.hpp>

#include "cable_words_impl.h"
#include "holdfast/graph/load_sweep.h"
#include "json_impl.h"
#include "words_impl.h"

namespace holdfast::report {

using namespace detail;
namespace {

Json vec(const model::Vec3& v) { return {rounded(v.x()), rounded(v.y()), rounded(v.z())}; }
Json line_json(const std::vector<model::Vec3>& line) {
  Json points = Json::array();
  for (const auto& p : line) points.push_back(vec(p));
  return points;
}

Json quantity(const model::Quantity& q) {
  Json out = {{"value", rounded(q.value)}, {"source", q.source}, {"confidence", confidence_name(q.confidence)}};
  if (q.spread) out["spread"] = {rounded(q.spread->first), rounded(q.spread->second)};
  return out;
}

Json model_json(const Context& context) {
  Json files = Json::array();
  for (const auto& file : context.structure.files) files.push_back({{"path", file.path}, {"sha256", file.sha256}});
  Json set_aside = Json::array();
  for (const auto& rail : context.set_aside)
    set_aside.push_back({{"rail", context.structure.rails[rail.rail.index()].id},
                         {"part", context.structure.parts[rail.part.index()].id},
                         {"at", vec(rail.at)},
                         {"sentence", set_aside_words(context, rail)}});
  Json entries = Json::object();
  for (const auto& entry : context.kit.entries) entries[entry.name] = entry.sha256;
  return {{"name", context.structure.name},
          {"folder", context.model_name},
          {"digest", model::model_digest(context.structure)},
          {"structure_digest", model::structure_digest(context.structure)},
          {"files", files},
          {"set_aside", set_aside},
          {"kit_entries", entries},
          {"settings", context.structure.settings}};
}

class RouteJson {
 public:
  RouteJson(const Context& context, const route::Answer& answer) : c_(context), h_(answer), a_(&answer) {}
  /// For what does not depend on an outcome.
  RouteJson(const Context& context, const route::AnswerHead& head) : c_(context), h_(head), a_(nullptr) {}

  Json write() const {
    Json out = head("route", a_->route() ? "route" : "no-route");
    write_outcome(out);
    if (a_->quicker) {
      const auto& quicker = *a_->quicker;
      Json zones = Json::array();
      for (const auto zone : quicker.zones) zones.push_back(c_.structure.zones[zone.index()].id);
      out["quicker"] = {{"time_s", rounded(quicker.time_s)},
                        {"distance_m", rounded(quicker.distance_m)},
                        {"moves", quicker.moves},
                        {"caution_s", rounded(quicker.caution_s)},
                        {"zones", zones}};
    }
    finish(out);
    return out;
  }

  struct HeadParts {
    bool request = true, loads = true;
  };
  /// What every answer begins with; how certain it is only with an outcome.
  Json head(const char* verb, const char* outcome, HeadParts parts = {true, true}) const {
    Json out;
    out["holdfast"] = result_format;
    out["verb"] = verb;
    out["outcome"] = outcome;
    out["model"] = model_json(c_);
    out["engine"] = c_.engine_version;
    if (parts.request) {
      out["request"] = {{"from", h_.request.from}, {"to", h_.request.to},
                        {"via", h_.request.via},   {"by", objective_name(h_.request.by)},
                        {"priced", h_.is_priced},  {"closed_rails", h_.request.closed_rails}};
      if (!h_.request.tether.empty())
        out["request"]["tether"] = h_.request.tether, out["request"]["anchor"] = h_.request.anchor;
    }
    out["configuration"] = configuration_json(h_.configuration);
    out["suit"] = h_.suit;
    if (parts.loads) out["loads"] = h_.loads;
    if (a_) write_certainty(out);
    return out;
  }

  void write_certainty(Json& out) const {
    out["proven_best"] = a_->is_proven_best();
    if (a_->may_save) out["may_save"] = rounded_up(*a_->may_save);
    out["certain"] = a_->is_certain;
  }

  void write_outcome(Json& out) const {
    if (const auto* route = a_->route())
      out["route"] = write_route(*route);
    else
      out["causes"] = write_causes(*a_->no_route());
  }

  /// ... and ends with.
  void finish(Json& out) const {
    Json used = Json::array();
    for (const auto& value : h_.used) {
      Json entry = {{"name", value.name}, {"unit", value.unit}};
      entry.update(quantity(value.quantity));
      used.push_back(entry);
    }
    out["used"] = used;
    out["bounds"] = {{"lengths_and_times", "never under-reported"},
                     {"clearances", "never over-reported"},
                     {"clearance_tolerance_m", rounded_up(h_.clearance_tolerance_m)}};
    if (!h_.loads.empty()) out["bounds"]["load_clearance_tolerance_m"] = rounded_up(graph::load_measure_tolerance_m);
    out["caution"] = std::string(caution);
  }

 private:
  Json part(const std::optional<model::PartId>& id) const {
    return id ? Json(c_.structure.parts[id->index()].id) : Json(nullptr);
  }
  Json rail(const std::optional<model::RailId>& id) const {
    return id ? Json(c_.structure.rails[id->index()].id) : Json(nullptr);
  }

  static Json clearance(const route::LowerBound& bound) {
    return {{"m", rounded_down(bound.value_m)}, {"at_least", bound.is_at_least}};
  }

  Json zones(const std::vector<route::ZoneContact>& contacts) const {
    Json out = Json::array();
    for (const auto& contact : contacts) {
      const auto& zone = c_.structure.zones[contact.zone.index()];
      out.push_back({{"zone", zone.id},
                     {"effect", effect_name(contact.effect)},
                     {"reason", zone.reason},
                     {"inside_s", rounded_up(contact.inside_s)},
                     {"nearest_m", rounded_down(contact.nearest_m)}});
    }
    return out;
  }

  Json load_poses(const std::vector<route::LoadPose>& loads) const {
    Json out = Json::array();
    for (const auto& load : loads)
      out.push_back({{"load", h_.loads[load.load]},
                     {"middle", vec(load.middle)},
                     {"forward", vec(load.axes.col(0))},
                     {"side", vec(load.axes.col(1))},
                     {"up", vec(load.axes.col(2))}});
    return out;
  }

  Json write_row(const route::Row& row) const {
    Json out = {{"kind", kind_name(row.kind)},
                {"what", action(c_, row)},
                {"part", c_.structure.parts[row.part.index()].id},
                {"face_from", face_name(row.face_from)},
                {"face", face_name(row.face)},
                {"rail", c_.structure.rails[row.rail.index()].id},
                {"along_from_m", rounded(row.along_from_m)},
                {"along_to_m", rounded(row.along_to_m)},
                {"gap_m", rounded_up(row.gap_m)},
                {"turn_deg", rounded_up(row.turn_rad * 180 / EIGEN_PI)},
                {"along_turn_deg", rounded_up(row.along_turn_rad * 180 / EIGEN_PI)},
                {"distance_m", rounded_up(row.distance_m)},
                {"moves", row.moves},
                {"time_s", rounded_up(row.time_s)},
                {"total_distance_m", rounded_up(row.total_distance_m)},
                {"total_moves", row.total_moves},
                {"total_time_s", rounded_up(row.total_time_s)},
                {"clearance", clearance(row.clearance)},
                {"clearance_part", part(row.clearance_part)},
                {"hand", vec(row.hand)},
                {"body", vec(row.body)},
                {"outward", vec(row.outward)},
                {"zones", zones(row.zones)}};
    if (row.load_clearance) out["load_clearance"] = clearance(*row.load_clearance);
    if (row.tether_m) out["tether_m"] = rounded_up(*row.tether_m);
    return out;
  }

 public:
  Json write_route(const route::Route& route) const {
    Json out;
    out["time_s"] = rounded_up(route.time_s);
    out["distance_m"] = rounded_up(route.distance_m);
    out["moves"] = route.moves;
    const auto& t = route.time_by_cause;
    out["time_by_cause_s"] = {{"translate", rounded_up(t.translate_s)},
                              {"regrip", rounded_up(t.regrip_s)},
                              {"turn", rounded_up(t.turn_s)},
                              {"rail_change", rounded_up(t.rail_change_s)},
                              {"start_stop", rounded_up(t.start_stop_s)},
                              {"tether", rounded_up(t.tether_s)},
                              {"load", rounded_up(t.load_s)}};
    out["clearance"] = clearance(route.clearance);
    out["clearance"]["spare_m"] = rounded_down(std::max(0.0, route.clearance.value_m - c_.suit.corridor_radius_m()));
    out["clearance"]["part"] = part(route.clearance_part);
    out["clearance"]["at"] = vec(route.clearance_at);
    if (route.load_clearance) {
      const auto& least = *route.load_clearance;
      out["load_clearance"] = clearance(least.clearance);
      out["load_clearance"]["load"] = least.load;
      out["load_clearance"]["part"] = part(least.part);
      out["load_clearance"]["at"] = vec(least.at);
      out["load_clearance"]["leg"] = least.leg;
      out["load_clearance"]["row"] = least.row;
    }
    if (!route.carried.empty()) {
      Json carried = Json::array();
      for (const auto& entry : route.carried)
        carried.push_back({{"load", entry.load},
                           {"how", how_name(entry.how)},
                           {"side", side_name(entry)},
                           {"leg", entry.leg},
                           {"row", entry.row},
                           {"pose", entry.pose},
                           {"at", vec(entry.at)},
                           {"at_s", rounded_up(entry.at_s)}});
      out["carried"] = carried;
    }
    out["caution_s"] = rounded_up(route.caution_s);
    out["price_s"] = rounded_up(route.price_s);
    out["zones"] = zones(route.zones);
    Json band = Json::array();
    for (const auto& item : route.band)
      band.push_back({{"part", c_.structure.parts[item.part.index()].id},
                      {"distance_m", rounded_down(item.distance_m)},
                      {"leg", item.leg},
                      {"row", item.row},
                      {"fragile", item.fragile},
                      {"no_touch", item.no_touch}});
    out["kick_band"] = band;
    if (route.tether) {
      const auto& tether = *route.tether;
      Json swaps = Json::array();
      for (const auto& swap : tether.swaps)
        swaps.push_back({{"leg", swap.leg},
                         {"row", swap.row},
                         {"pose", swap.pose},
                         {"hook", swap.hook},
                         {"at", vec(swap.at)},
                         {"out_before_m", rounded_up(swap.out_before_m)},
                         {"at_s", rounded_up(swap.at_s)}});
      out["tether"] = {{"id", tether.tether},  {"length_m", rounded_down(tether.length_m)}, {"anchor", tether.anchor},
                       {"at", vec(tether.at)}, {"most_m", rounded_up(tether.most_m)},       {"swaps", swaps}};
    }
    Json legs = Json::array();
    for (const auto& leg : route.legs) {
      Json entry = {{"from", leg.from},
                    {"to", leg.to},
                    {"time_s", rounded_up(leg.time_s)},
                    {"distance_m", rounded_up(leg.distance_m)},
                    {"moves", leg.moves}};
      Json rows = Json::array(), poses = Json::array();
      for (const auto& row : leg.rows) rows.push_back(write_row(row));
      for (const auto& pose : leg.poses)
        poses.push_back({{"at_s", rounded_up(pose.at_s)},
                         {"rail", c_.structure.rails[pose.rail.index()].id},
                         {"hand", vec(pose.hand)},
                         {"body", vec(pose.body)},
                         {"outward", vec(pose.outward)},
                         {"stance", vec(pose.stance)},
                         {"loads", load_poses(pose.loads)}});
      entry["rows"] = rows;
      entry["poses"] = poses;
      legs.push_back(entry);
    }
    out["legs"] = legs;
    out["brief"] = write_brief(route);
    return out;
  }

  /// The sentences that are told to the crew.
  Json write_brief(const route::Route& route) const {
    Json out = Json::array();
    for (const auto& each : brief_sentences(c_, route)) {
      const auto& stretch = route.stretches[each.stretch];
      Json sides = Json::array();
      for (const auto side : stretch.sides) sides.push_back(face_name(side));
      out.push_back({{"leg", stretch.leg},
                     {"first_row", stretch.first_row},
                     {"last_row", stretch.last_row},
                     {"part", c_.structure.parts[stretch.part.index()].id},
                     {"sides", sides},
                     {"text", each.text},
                     {"notes", each.notes},
                     {"distance_m", rounded(stretch.distance_m)},
                     {"moves", stretch.moves},
                     {"at_s", rounded(route.legs[stretch.leg].rows[stretch.last_row].total_time_s)}});
    }
    return out;
  }

  Json write_causes(const route::NoRoute& refusal) const {
    Json out = Json::array();
    for (const auto& cause : refusal.causes) out.push_back(write_cause(cause));
    return out;
  }

  /// What is there and what was needed, for the kinds that have it, also where it is 0: rounded as in the sentence,
  /// what limits down and what is needed up.
  static void write_numbers(const route::Cause& cause, Json& entry) {
    using route::CauseKind;
    constexpr double degrees = 180 / EIGEN_PI;
    switch (cause.kind) {
      case CauseKind::NoGripNear:
      case CauseKind::Tether:
        if (std::isfinite(cause.value_m)) entry["value_m"] = rounded_up(cause.value_m);
        entry["limit_m"] = rounded_down(cause.limit_m);
        break;
      case CauseKind::Reach:
        entry["value_m"] = rounded_up(cause.value_m), entry["limit_m"] = rounded_down(cause.limit_m);
        entry["unavoidable_m"] = rounded_up(cause.unavoidable_m);
        break;
      case CauseKind::BodyTooTight:
        entry["value_m"] = rounded_down(cause.value_m), entry["limit_m"] = rounded_up(cause.limit_m);
        break;
      case CauseKind::LoadTooTight:
        if (cause.fraction) entry["value_m"] = rounded_down(cause.value_m);
        entry["limit_m"] = rounded_up(cause.limit_m);
        break;
      case CauseKind::TurnLimit:
        entry["value_deg"] = rounded_up(cause.value_rad * degrees);
        entry["limit_deg"] = rounded_down(cause.limit_rad * degrees);
        break;
      case CauseKind::ZoneTime:
        entry["value_s"] = rounded_up(cause.value_s), entry["limit_s"] = rounded_down(cause.limit_s);
        break;
      case CauseKind::InZone:
      case CauseKind::OnClosedRails:
      case CauseKind::HandLineBlocked:
      case CauseKind::Zones:
      case CauseKind::Closures:
        break;
    }
  }

  Json write_cause(const route::Cause& cause) const {
    Json entry = {{"kind", kind_name(cause.kind)},
                  {"leg", cause.leg},
                  {"text", sentence(c_, cause)},
                  {"opens_alone", cause.opens_alone}};
    if (cause.opens_alone || cause.then_time_s > 0) entry["then_time_s"] = rounded_up(cause.then_time_s);
    if (!cause.place.empty()) entry["place"] = cause.place;
    if (cause.grips_of > 0) entry["grips"] = cause.grips, entry["grips_of"] = cause.grips_of;
    write_numbers(cause, entry);
    if (!cause.load.empty()) entry["load"] = cause.load;
    if (cause.fraction) {
      entry["fraction"] = rounded_down(*cause.fraction);
      entry["fraction_proven"] = cause.is_fraction_proven;
    }
    if (cause.hand_from) entry["hand_from"] = vec(*cause.hand_from);
    if (cause.hand_to) entry["hand_to"] = vec(*cause.hand_to);
    if (cause.kind == route::CauseKind::LoadTooTight)
      entry["up_to"] = {{"time_s", rounded_up(cause.up_to_s)},
                        {"distance_m", rounded_up(cause.up_to_m)},
                        {"moves", cause.up_to_moves}};
    entry["at"] = vec(cause.at);
    if (cause.rail) entry["rail"] = rail(cause.rail);
    if (cause.rail_other) entry["rail_other"] = rail(cause.rail_other);
    if (cause.kind == route::CauseKind::Reach) entry["at_other"] = vec(cause.at_other);
    if (cause.part) entry["part"] = part(cause.part);
    if (!cause.zones.empty()) {
      entry["zones"] = Json::array();
      for (const auto zone : cause.zones) entry["zones"].push_back(c_.structure.zones[zone.index()].id);
    }
    if (!cause.rails.empty()) {
      entry["rails"] = Json::array();
      for (const auto closed : cause.rails) entry["rails"].push_back(c_.structure.rails[closed.index()].id);
    }
    return entry;
  }

 private:
  const Context& c_;
  const route::AnswerHead& h_;
  const route::Answer* const a_;  // null: a head alone
};

/// Text from a command line or a folder name may not be UTF-8; JSON must be.
std::string dump(const Json& document) { return document.dump(2, ' ', false, Json::error_handler_t::replace) + "\n"; }

Json mark_json(const model::Mark& mark) { return {{"file", mark.file}, {"line", mark.line}, {"column", mark.column}}; }

}  // namespace

std::string json(const Context& context, const route::Answer& answer) {
  return dump(RouteJson(context, answer).write());
}

std::string json(const Context& context, const route::Alternatives& choices) {
  const RouteJson writer(context, choices.answer);
  if (choices.answer.no_route()) return json(context, choices.answer);
  Json out = writer.head("route", "alternatives");
  out["limits"] = {{"most", choices.limits.most},
                   {"stretch", choices.limits.stretch},
                   {"sharing", choices.limits.sharing},
                   {"locally", choices.limits.locally}};
  Json ways = Json::array();
  for (const auto& way : choices.ways)
    ways.push_back({{"name", way_name(context, way.mark)},
                    {"stretch", rounded_up(way.stretch)},
                    {"shared_fraction", rounded(way.shared_fraction)},
                    {"route", writer.write_route(way.route)}});
  out["ways"] = ways;
  writer.finish(out);
  return dump(out);
}

std::string json(const Context& context, const route::TradeOffs& trade_offs) {
  const RouteJson writer(context, trade_offs.answer);
  if (trade_offs.answer.no_route()) return json(context, trade_offs.answer);
  Json out = writer.head("route", "trade-offs");
  out["labels"] = trade_offs.labels;
  out["most_labels"] = trade_offs.most_labels;
  out["complete"] = !trade_offs.is_cut_short;
  const auto& by = trade_offs.differ_by;
  out["differ_by"] = {{"time_s", rounded(by.time_s)},
                      {"moves", rounded(by.moves)},
                      {"clearance_m", rounded(by.clearance_m)},
                      {"caution_s", rounded(by.caution_s)}};
  Json ways = Json::array();
  for (const auto& way : trade_offs.ways)
    ways.push_back({{"name", way_name(context, way.mark)},
                    {"time_s", rounded_up(way.route.time_s)},
                    {"moves", way.route.moves},
                    {"caution_s", rounded_up(way.route.caution_s)},
                    {"clearance_m", rounded_down(way.clearance_m)},
                    {"stands_for", way.stands_for},
                    {"route", writer.write_route(way.route)}});
  out["ways"] = ways;
  writer.finish(out);
  return dump(out);
}

namespace {

Json detours(const Context& context, const route::CompareRow& row) {
  const auto rail = [&](model::RailId id) { return Json(context.structure.rails[id.index()].id); };
  const auto rails = [&](const std::vector<model::RailId>& ids) {
    Json out = Json::array();
    for (const auto id : ids) out.push_back(rail(id));
    return out;
  };
  Json out = Json::array();
  for (const auto& detour : row.detours)
    out.push_back({{"after", detour.after ? rail(*detour.after) : Json(nullptr)},
                   {"before", detour.before ? rail(*detour.before) : Json(nullptr)},
                   {"first_rails", rails(detour.first_rails)},
                   {"rails", rails(detour.rails)},
                   {"first_time_s", rounded(detour.first_time_s)},
                   {"time_s", rounded(detour.time_s)}});
  return out;
}

}  // namespace

std::string json(const Context& context, const route::Comparison& comparison) {
  const route::AnswerHead sources = sources_of(comparison);
  const RouteJson writer(context, sources);
  Json out = writer.head("compare", "comparison", {.loads = false});  // each row has its own
  out["configuration"] = configuration_json(comparison.head.configuration);
  out["suit"] = comparison.head.suit;
  Json rows = Json::array();
  for (std::size_t r = 0; r < comparison.rows.size(); ++r) {
    const auto& row = comparison.rows[r];
    const RouteJson row_writer(context, row.answer);
    Json entry;
    entry["way"] = row.way.empty() ? Json(nullptr) : Json(row.way);
    entry["loads"] = row.answer.loads;
    row_writer.write_certainty(entry);
    entry["configuration"] = configuration_json(row.answer.configuration);
    entry["suit"] = row.answer.suit;
    entry["settings"] = row.settings;
    entry["goes_as_first"] = row.goes_as_first;
    entry["not_as_first"] = row.not_as_first ? row_writer.write_cause(*row.not_as_first) : Json(nullptr);
    entry["first_rail_gone"] =
        row.first_rail_gone ? Json(context.structure.rails[row.first_rail_gone->index()].id) : Json(nullptr);
    entry["detours"] = detours(context, row);
    entry["same_rails_s"] = rounded(row.same_rails_s);
    entry["difference"] = difference(context, comparison, r);
    row_writer.write_outcome(entry);
    rows.push_back(entry);
  }
  out["rows"] = rows;
  writer.finish(out);
  return dump(out);
}

namespace {

/// What a place and a waypoint have alike; numbers are null where there is no way.
template <class Row>
Json home_row(const RouteJson& writer, const Row& row, bool has_way) {
  Json out = {{"verdict", verdict_name(row.verdict)}, {"certain", row.is_certain}};
  out["time_s"] = has_way ? Json(rounded_up(row.time_s)) : Json(nullptr);
  out["most_s"] = has_way && std::isfinite(row.most_s) ? Json(rounded_up(row.most_s)) : Json(nullptr);
  out["distance_m"] = has_way ? Json(rounded_up(row.distance_m)) : Json(nullptr);
  out["moves"] = has_way ? Json(row.moves) : Json(nullptr);
  out["hatch"] = has_way ? Json(row.hatch) : Json(nullptr);
  if (row.may_save_s) out["may_save_s"] = rounded_up(*row.may_save_s);
  if (!row.causes.empty()) out["causes"] = writer.write_causes({row.causes});
  return out;
}

void write_home_head(const RouteJson& writer, const route::AnswerHead& head, const route::HomeRequest& request,
                     Json& out) {
  out = writer.head("home", "home", {.request = false});
  out["priced"] = head.is_priced;
  out["hatches"] = request.hatches;
  out["limit_s"] = rounded(request.limit_s);
  out["warn_s"] = rounded(request.warn_s);
}

}  // namespace

std::string json(const Context& context, const route::Home& home) {
  const RouteJson writer(context, home.head);
  Json out;
  write_home_head(writer, home.head, home.request, out);
  Json places = Json::array(), worst = Json::array();
  for (const auto& place : home.places) {
    Json entry = home_row(writer, place, place.has_route);
    entry["place"] = context.structure.places[place.place.index()].id;
    entry["stranded_grips"] = place.stranded_grips;
    places.push_back(entry);
  }
  for (const auto& grip : home.worst)
    worst.push_back({{"rail", context.structure.rails[grip.rail.index()].id},
                     {"hand", vec(grip.hand)},
                     {"time_s", rounded_up(grip.time_s)}});
  out["places"] = places;
  out["farthest"] = worst;
  out["grips"] = {{"all", home.time_by_grip_s.size()},
                  {"near_limit", home.grips_near},
                  {"over", home.grips_over},
                  {"without_way", home.grips_without_way}};
  out["quicker_unpriced"] = {{"places", home.priced_places}, {"most_s", rounded(home.priced_s)}};
  writer.finish(out);
  return dump(out);
}

std::string json(const Context& context, const route::HomeAlong& along) {
  const RouteJson writer(context, along.head);
  Json out;
  write_home_head(writer, along.head, along.request, out);
  out["outcome"] = "home-along";
  out["route"] = along.route;
  Json waypoints = Json::array();
  for (const auto& point : along.waypoints) {
    Json entry = home_row(writer, point, point.has_way);
    entry["leg"] = point.leg;
    entry["row"] = point.row;
    entry["rail"] = context.structure.rails[point.rail.index()].id;
    entry["hand"] = vec(point.hand);
    entry["at_s"] = rounded(point.at_s);
    waypoints.push_back(entry);
  }
  out["waypoints"] = waypoints;
  out["worst"] = along.worst;
  writer.finish(out);
  return dump(out);
}

std::string json(const Context& context, const route::Matrix& matrix) {
  const RouteJson writer(context, matrix.head);
  Json out = writer.head("matrix", "matrix", {.request = false, .loads = false});
  out["by"] = objective_name(matrix.by);
  out["priced"] = matrix.head.is_priced;
  const std::size_t n = matrix.places.size();
  Json places = Json::array(), time = Json::array(), distance = Json::array(), moves = Json::array();
  for (std::size_t from = 0; from < n; ++from) {
    places.push_back(context.structure.places[matrix.places[from].index()].id);
    Json time_row = Json::array(), distance_row = Json::array(), moves_row = Json::array();
    for (std::size_t to = 0; to < n; ++to) {
      const auto& cell = matrix.at(from, to);
      time_row.push_back(cell ? Json(rounded_up(cell->time_s)) : Json(nullptr));
      distance_row.push_back(cell ? Json(rounded_up(cell->distance_m)) : Json(nullptr));
      moves_row.push_back(cell ? Json(cell->moves) : Json(nullptr));
    }
    time.push_back(time_row), distance.push_back(distance_row), moves.push_back(moves_row);
  }
  out["places"] = places;
  out["time_s"] = time;
  out["distance_m"] = distance;
  out["moves"] = moves;
  writer.finish(out);
  return dump(out);
}

namespace {

const char* passing_name(tether::Passing passing) {
  switch (passing) {
    case tether::Passing::Mover:
      return "mover";
    case tether::Passing::Line:
      return "line";
    case tether::Passing::Hook:
      return "line-at-hook";
  }
  return "";
}

Json station_json(const tether::Station& at) { return {{"way", at.way}, {"leg", at.leg}, {"row", at.row}}; }

Json loop_json(const model::Structure& s, const tether::Loop& loop) {
  Json hooked = Json::array(), turns = Json::array();
  for (const auto& part : loop.hooked)
    hooked.push_back({{"part", s.parts[part.part.index()].id},
                      {"at", vec(part.at)},
                      {"slide_m", part.slide_m ? Json(rounded_up(*part.slide_m)) : Json(nullptr)},
                      {"held_by", part.held_by ? Json(s.parts[part.held_by->index()].id) : Json(nullptr)}});
  for (const auto& turn : loop.turns)
    turns.push_back({{"from", station_json(turn.from)}, {"to", station_json(turn.to)}});
  return {{"clean", loop.is_clean},
          {"slide_known", loop.is_slide_known},
          {"along_m", rounded_up(loop.gone_m)},
          {"tight_m", rounded_up(loop.taut_m)},
          {"settled", loop.is_settled},
          {"slid_m", loop.is_slide_known ? Json(rounded_up(loop.slid_m)) : Json(nullptr)},
          {"slid_on", loop.slid_on ? Json(s.parts[loop.slid_on->index()].id) : Json(nullptr)},
          {"hooked", hooked},
          {"turns", turns},
          {"line", line_json(loop.line)}};
}

}  // namespace

std::string json(const Context& context, const tether::TetherCheck& check) {
  const auto& s = context.structure;
  const RouteJson writer(context, check.head);
  Json out = writer.head("tether", "tether", {.loads = false});
  out["tether"] = {{"id", check.tether->id}, {"length_m", rounded_down(check.tether->length_m)}};
  out["anchor"] = {{"id", check.anchor.name}, {"at", vec(check.anchor.at)}};
  out["ways"] = check.ways;
  out["other_ways"] = check.other_ways;
  out["within"] = !check.fails_at && !check.unsettled_at;
  out["fails_at"] = check.fails_at ? Json(*check.fails_at) : Json(nullptr);
  out["unsettled_at"] = check.unsettled_at ? Json(*check.unsettled_at) : Json(nullptr);
  out["most_m"] = rounded_up(check.most_m);
  Json marks = Json::array();
  for (const auto& mark : check.marks) {
    Json bears_on = Json::array(), zones = Json::array();
    for (const auto part : mark.bears_on) bears_on.push_back(s.parts[part.index()].id);
    for (const auto zone : mark.zones) zones.push_back(s.zones[zone.index()].id);
    marks.push_back({{"at", station_json(mark.at)},
                     {"rail", s.rails[mark.rail.index()].id},
                     {"hand", vec(mark.hand)},
                     {"at_s", rounded_up(mark.at_s)},
                     {"hook", mark.hook},
                     {"along_m", rounded_up(mark.gone_m)},
                     {"tight_m", rounded_up(mark.taut_m)},
                     {"most_m", rounded_up(mark.most_m)},
                     {"least_m", rounded_down(mark.least_m)},
                     {"within", mark.is_within},
                     {"bears_on", bears_on},
                     {"zones", zones},
                     {"line", line_json(mark.line)}});
  }
  out["marks"] = marks;
  Json zones = Json::array();
  for (const auto& stay : check.zones)
    zones.push_back({{"zone", s.zones[stay.zone.index()].id},
                     {"inside_s", rounded(stay.inside_s)},
                     {"from_mark", stay.from_mark},
                     {"allowed", stay.is_allowed}});
  out["zones"] = zones;
  const auto routes_json = [&](const std::vector<route::Route>& routes) {
    Json list = Json::array();
    for (const auto& route : routes) list.push_back(writer.write_route(route));
    return list;
  };
  out["routes"] = routes_json(check.routes);
  out["other_routes"] = routes_json(check.other_routes);
  Json swing = Json::array();
  for (const auto& item : check.swing)
    swing.push_back({{"part", s.parts[item.part.index()].id},
                     {"hook", item.hook},
                     {"distance_m", rounded_down(item.distance_m)},
                     {"in_sight", item.is_in_sight},
                     {"from_mark", item.from_mark},
                     {"fragile", item.fragile},
                     {"no_touch", item.no_touch}});
  out["swing"] = swing;
  out["loop"] = check.loop ? loop_json(s, *check.loop) : Json(nullptr);
  if (check.clean_return) {
    const auto& back = *check.clean_return;
    const bool is_found = back.loop && back.answer.route();
    out["clean_return"] = {{"tried", back.tried}, {"is_way_out", back.is_way_out}};
    out["clean_return"]["loop"] = is_found ? loop_json(s, *back.loop) : Json(nullptr);
    out["clean_return"]["route"] = is_found ? writer.write_route(*back.answer.route()) : Json(nullptr);
  }
  if (check.crossings) {
    Json events = Json::array();
    for (const auto& event : check.crossings->events)
      events.push_back({{"at_s", rounded_up(event.at_s)},
                        {"mover", event.second_moves ? "second" : "first"},
                        {"passing", passing_name(event.passing)},
                        {"passes", event.is_over ? "over" : "under"},
                        {"at", station_json(event.at)},
                        {"point", vec(event.point)}});
    out["crossings"] = {{"events", events}, {"undo", check.crossings->undo}};
  }
  writer.finish(out);
  return dump(out);
}

std::string json(const Context& context, const tether::Positioning& positioning) {
  const RouteJson writer(context, positioning.head);
  Json out = writer.head("tether", "positioning", {.request = false, .loads = false});
  out["object"] = {{"id", positioning.object}, {"at", vec(positioning.at)}};
  Json all = Json::array();
  for (std::size_t i = 0; i < positioning.all.size(); ++i) {
    const auto& series = positioning.all[i];
    Json tethers = Json::array(), holds = Json::array();
    for (const auto* tether : series.tethers) tethers.push_back(tether->id);
    for (const auto& hold : positioning.holds)
      if (hold.series == i)
        holds.push_back(
            {{"hook", hold.hook.name}, {"at", vec(hold.hook.at)}, {"distance_m", rounded(hold.distance_m)}});
    all.push_back({{"tethers", tethers},
                   {"least_m", rounded(series.least_m)},
                   {"most_m", rounded(series.most_m)},
                   {"holds", holds}});
  }
  out["series"] = all;
  writer.finish(out);
  return dump(out);
}

std::string json(const Context& context, const route::WeakPoints& weak) {
  const RouteJson writer(context, weak.head);
  Json out = writer.head("check", "weak-points", {.request = false, .loads = false});
  out["hatches"] = weak.hatches;
  out["places"] = weak.reachable;
  Json rails = Json::array();
  for (const auto& rail : weak.rails) {
    Json places = Json::array();
    for (const auto place : rail.cut_off) places.push_back(context.structure.places[place.index()].id);
    rails.push_back({{"rail", context.structure.rails[rail.rail.index()].id}, {"cuts_off", places}});
  }
  out["rails"] = rails;
  Json redundancy = Json::array();
  for (const auto& row : weak.redundancy) {
    Json cut = Json::array();
    for (const auto rail : row.smallest_cut) cut.push_back(context.structure.rails[rail.index()].id);
    redundancy.push_back({{"place", context.structure.places[row.place.index()].id},
                          {"disjoint_at_least", row.disjoint_at_least},
                          {"disjoint_at_most", row.disjoint_at_most},
                          {"smallest_cut", cut},
                          {"is_smallest", row.is_smallest}});
  }
  out["redundancy"] = redundancy;
  if (const auto* route = weak.answer ? weak.answer->route() : nullptr) {
    out["from"] = weak.head.request.from;
    out["to"] = weak.head.request.to;
    out["time_s"] = rounded_up(route->time_s);
    Json closing = Json::array();
    for (const auto& cost : weak.closing)
      closing.push_back({{"rail", context.structure.rails[cost.rail.index()].id},
                         {"time_s", cost.time_s ? Json(rounded_up(*cost.time_s)) : Json(nullptr)}});
    out["closing"] = closing;
  }
  writer.finish(out);
  return dump(out);
}

namespace {

class CableJson {
 public:
  CableJson(const Context& context, const cable::CableAnswer& answer)
      : c_(context), a_(answer), cable_(*context.kit.find_cable(answer.cable)), sources_(sources_of(answer)) {}

  Json write() const {
    Json out = {{"holdfast", result_format},
                {"verb", "cable"},
                {"outcome", outcome_name(a_)},
                {"model", model_json(c_)},
                {"engine", c_.engine_version}};
    write_body(out);
    finish(out);
    return out;
  }

  /// What a row of a table has too.
  void write_body(Json& out) const {
    Json keep_free = Json::array(), laid = Json::array();
    for (const auto rail : a_.request.keep_free) keep_free.push_back(c_.structure.rails[rail.index()].id);
    for (const auto& cable : a_.request.laid) laid.push_back(cable.name);
    out["cable"] = {{"id", cable_.id},
                    {"name", cable_.name},
                    {"diameter_m", rounded_up(cable_.diameter_m)},
                    {"bend_radius_m", rounded_up(cable_.bend_radius_m())},
                    {"least_length_m", rounded_down(a_.verdict.least_length_m)}};
    out["request"] = {{"from", a_.request.from},
                      {"to", a_.request.to},
                      {"by", aim_name(a_.request.aim)},
                      {"keep_free", keep_free},
                      {"laid", laid}};
    if (a_.request.goes_on) out["request"]["goes_on"] = a_.request.goes_on->name;
    out["configuration"] = configuration_json(a_.configuration);
    out["suit"] = a_.suit;
    out["certain"] = a_.is_certain;
    if (const auto* run = a_.run())
      write_run(out, *run);
    else
      write_causes(out, *a_.no_run());
  }

  void finish(Json& out) const { RouteJson(c_, sources_).finish(out); }

 private:
  static Json tie(const cable::Tie& tie) {
    Json out = {{"kind", kind_name(tie.kind)}, {"id", tie.id}, {"at", vec(tie.at)}};
    if (tie.rail) out["along_m"] = rounded(tie.along_m);
    return out;
  }

  void write_run(Json& out, const cable::CableRun& run) const {
    out["required_m"] = rounded_up(run.required_m);
    out["margin_m"] = rounded_down(a_.verdict.margin_m);
    out["length"] = {{"way_m", rounded_up(run.way_m)},
                     {"slack_m", rounded_up(run.slack_m)},
                     {"loops_m", rounded_up(run.loops_m)},
                     {"ends_m", rounded_up(run.ends_m)}};
    if (run.laid_ties > 0) out["length"]["more_m"] = rounded_up(run.more_m);
    Json ties = Json::array(), spans = Json::array();
    for (std::size_t i = 0; i < run.ties.size(); ++i) {
      const auto& t = run.ties[i];
      Json entry = tie(t.tie);
      entry["number"] = t.tie.kind == cable::TieKind::Connector ? Json(nullptr) : Json(i);
      if (run.laid_ties > 0) entry["laid_before"] = i < run.laid_ties;
      entry["on_cable_m"] = rounded_up(t.at_m);
      entry["turn_deg"] = rounded_up(t.turn_rad * 180 / EIGEN_PI);
      entry["bend_radius_m"] = t.radius_m ? Json(rounded_down(*t.radius_m)) : Json(nullptr);
      entry["bend_margin_m"] = t.radius_m ? Json(rounded_down(*t.radius_m - cable_.bend_radius_m())) : Json(nullptr);
      ties.push_back(entry);
    }
    for (const auto& s : run.spans) {
      Json edges = Json::array();
      for (const auto& edge : s.edges)
        edges.push_back({{"at", vec(edge.at)},
                         {"part", c_.structure.parts[edge.part.index()].id},
                         {"turn_deg", rounded_up(edge.turn_rad * 180 / EIGEN_PI)},
                         {"kind", kind_name(edge.kind)}});
      spans.push_back({{"length_m", rounded_up(s.length_m)},
                       {"slack_m", rounded_up(s.slack_m)},
                       {"loop_m", rounded_up(s.loop_m)},
                       {"joint", s.joint ? Json(c_.structure.parts[s.joint->index()].id) : Json(nullptr)},
                       {"edges", edges}});
    }
    out["ties"] = ties, out["spans"] = spans, out["line"] = line_json(run.line);
    Json zones = Json::array(), crossings = Json::array();
    for (const auto& passed : run.zones) {
      const auto& zone = c_.structure.zones[passed.zone.index()];
      zones.push_back({{"zone", zone.id}, {"reason", zone.reason}, {"inside_m", rounded_up(passed.inside_m)}});
    }
    for (const auto& crossing : run.crossings) crossings.push_back({{"laid", crossing.laid}, {"at", vec(crossing.at)}});
    Json own = Json::array();
    for (const auto& at : run.own_crossings) own.push_back(vec(at));
    out["zones"] = zones, out["crossings"] = crossings, out["own_crossings"] = own;
    if (a_.reaches) {
      Json serves = Json::array();
      for (const auto& pair : a_.reaches->serves)
        serves.push_back({{"from", pair.from}, {"to", pair.to}, {"required_m", rounded_up(pair.required_m)}});
      out["reaches"] = {{"tie", a_.reaches->tie == 0 ? Json(nullptr) : Json(a_.reaches->tie)},
                        {"missing_m", rounded_up(a_.reaches->missing_m)},
                        {"serves", serves}};
    }
    if (a_.stow) {
      Json held = Json::array();
      for (const auto& t : a_.stow->ties) held.push_back(tie(t));
      out["left_over"] = {{"length_m", rounded_up(a_.stow->surplus_m)}, {"turns", a_.stow->turns}, {"ties", held}};
      if (a_.stow->turns > 0) {
        out["left_over"]["coil_radius_m"] = rounded(a_.stow->coil_radius_m);
        out["left_over"]["at"] = vec(a_.stow->at);
        out["left_over"]["near"] = a_.stow->end;
      }
    }
    if (a_.coil) write_coil(out, *a_.coil);
    if (a_.laying) write_laying(out, *a_.laying);
  }

  static void write_coil(Json& out, const cable::CoilLeft& coil) {
    Json onward = Json::array();
    for (const auto& on : coil.onward) {
      Json entry = {{"connector", on.connector}, {"in_kit", on.is_meant}, {"certain", on.is_certain}};
      entry["required_m"] = on.required_m ? Json(rounded_up(*on.required_m)) : Json(nullptr);
      entry["margin_m"] = on.required_m ? Json(rounded_down(on.margin_m)) : Json(nullptr);
      onward.push_back(std::move(entry));
    }
    out["coil"] = {
        {"place", coil.place},
        {"tie", tie(coil.tie)},
        {"used_m", rounded_up(coil.used_m)},
        {"left_m", rounded_down(coil.left_m)},
        {"turns", coil.size.turns},
        {"box",
         {{"size_m",
           {rounded_up(coil.size.size_m.x()), rounded_up(coil.size.size_m.y()), rounded_up(coil.size.size_m.z())}},
          {"middle", vec(coil.box.middle)},
          {"forward", vec(coil.box.axes.col(0))},
          {"side", vec(coil.box.axes.col(1))},
          {"up", vec(coil.box.axes.col(2))}}},
        {"onward", onward}};
  }

  void write_laying(Json& out, const cable::Laying& laying) const {
    Json entry = {{"loads", laying.way.loads},
                  {"ties_s", rounded_up(laying.ties_s)},
                  {"begin_s", rounded_up(laying.begin_s)},
                  {"end_s", rounded_up(laying.end_s)},
                  {"connectors_s", rounded_up(laying.connectors_s)},
                  {"coils_s", rounded_up(laying.coils_s)},
                  {"may_save_s", rounded_up(laying.may_save_s)}};
    if (laying.way.route()) entry["time_s"] = rounded_up(laying.time_s);
    RouteJson(c_, laying.way).write_outcome(entry);
    out["laying"] = entry;
  }

  void write_causes(Json& out, const cable::NoRun& refusal) const {
    Json causes = Json::array();
    for (const auto& cause : refusal.causes) {
      Json entry = {{"kind", kind_name(cause.kind)}, {"text", sentence(c_, cause)}, {"opens_alone", cause.opens_alone}};
      const bool is_place = cause.kind == cable::NoRunKind::NoRailThere || cause.kind == cable::NoRunKind::NoCoil;
      if (!cause.end.empty()) entry[is_place ? "place" : "connector"] = cause.end;
      for (const auto hindrance : cause.hinders) entry["hinders"].push_back(kind_name(hindrance));
      if (cause.kind == cable::NoRunKind::NoCoil) entry["size_m"] = vec(cause.size_m);
      if (!cause.tie.empty()) entry["tie"] = cause.tie, entry["at"] = vec(cause.at);
      if (!cause.other.empty()) entry["tie_other"] = cause.other, entry["at_other"] = vec(cause.at_other);
      const bool is_room = cause.kind == cable::NoRunKind::TooTight || cause.kind == cable::NoRunKind::Separation;
      if (std::isfinite(cause.value_m) && (cause.value_m > 0 || cause.limit_m > 0))
        entry["value_m"] = is_room ? rounded_down(cause.value_m) : rounded_up(cause.value_m);
      if (cause.limit_m > 0) entry["limit_m"] = is_room ? rounded_up(cause.limit_m) : rounded_down(cause.limit_m);
      if (cause.opens_alone) entry["then_m"] = rounded_up(cause.then_m);
      for (const auto zone : cause.zones) entry["zones"].push_back(c_.structure.zones[zone.index()].id);
      for (const auto rail : cause.rails) entry["rails"].push_back(c_.structure.rails[rail.index()].id);
      for (const auto part : cause.parts) entry["parts"].push_back(c_.structure.parts[part.index()].id);
      for (const auto& into : cause.moves_into)
        entry["moves_into"].push_back(
            {{"part", c_.structure.parts[into.part.index()].id}, {"when", configuration_json(into.changed)}});
      causes.push_back(entry);
    }
    out["causes"] = causes;
  }

  const Context& c_;
  const cable::CableAnswer& a_;
  const model::Cable& cable_;
  const route::AnswerHead sources_;
};

}  // namespace

std::string json(const Context& context, const cable::CableAnswer& answer) {
  return dump(CableJson(context, answer).write());
}

std::string json(const Context& context, const cable::CableTable& table) {
  Json out = {{"holdfast", result_format},
              {"verb", "cable"},
              {"outcome", "cables"},
              {"model", model_json(context)},
              {"engine", context.engine_version}};
  Json rows = Json::array();
  for (const auto& answer : table.rows) {
    Json row = {{"outcome", outcome_name(answer)}};
    CableJson(context, answer).write_body(row);
    rows.push_back(row);
  }
  out["rows"] = rows;
  RouteJson(context, sources_of(table)).finish(out);
  return dump(out);
}

std::string json(const Context& context, const check::CheckResult& result) {
  Json out;
  out["holdfast"] = result_format;
  out["verb"] = "check";
  std::size_t errors = 0;
  for (const auto& finding : result.findings) errors += finding.severity == check::Severity::Error ? 1 : 0;
  out["outcome"] = errors == 0 ? "no-errors" : "errors";
  out["model"] = model_json(context);
  out["engine"] = context.engine_version;
  out["configuration"] = configuration_json(result.configuration);
  out["suit"] = context.suit.id;
  const auto& s = result.summary;
  out["summary"] = {{"parts", s.parts},          {"rails", s.rails}, {"rail_length_m", rounded(s.rail_length_m)},
                    {"grips", s.grips},          {"moves", s.moves}, {"open_moves", s.open_moves},
                    {"places", s.places},        {"zones", s.zones}, {"islands", s.islands},
                    {"primitives", s.primitives}};
  const route::Answer none;
  const RouteJson causes(context, none);
  Json findings = Json::array();
  for (const auto& finding : result.findings) {
    Json entry = {{"kind", kind_name(finding.kind)},
                  {"severity", severity_name(finding.severity)},
                  {"text", sentence(context, finding)},
                  {"subject", finding.subject}};
    if (!finding.other.empty()) entry["other"] = finding.other;
    const bool is_room = is_room_needed(finding);
    if (std::isfinite(finding.value))
      entry["value"] = is_room ? rounded_down(finding.value) : rounded_up(finding.value);
    entry["limit"] = is_room ? rounded_up(finding.limit) : rounded_down(finding.limit);
    entry["count"] = finding.count;
    if (finding.kind == check::FindingKind::UnreachableRail || finding.kind == check::FindingKind::Island) {
      entry["pieces"] = finding.pieces, entry["partial"] = finding.partial;
      if (finding.along_m)
        entry["along_m"] = {rounded_down(finding.along_m->first), rounded_up(finding.along_m->second)};
      entry["causes"] = causes.write_causes({finding.causes});
    }
    if (finding.design) entry["design"] = quantity(*finding.design);
    entry["at"] = vec(finding.at);
    entry["mark"] = mark_json(finding.mark);
    findings.push_back(entry);
  }
  out["findings"] = findings;
  out["caution"] = std::string(caution);
  return dump(out);
}

std::string json(const Context& context, const Drawn& drawn) {
  Json out;
  out["holdfast"] = result_format;
  out["verb"] = "draw";
  out["outcome"] = "drawn";
  out["model"] = model_json(context);
  out["engine"] = context.engine_version;
  out["configuration"] = configuration_json(drawn.configuration);
  out["ways"] = drawn.ways;
  Json files = Json::array();
  for (const auto& file : drawn.files) {
    Json entry = {{"kind", file.kind}, {"file", file.file}, {"bytes", file.bytes}};
    if (file.scale > 0) entry["scale"] = file.scale;
    files.push_back(entry);
  }
  out["files"] = files;
  out["caution"] = std::string(caution);
  return dump(out);
}

std::string json(const std::vector<model::Diagnostic>& diagnostics) {
  Json out;
  out["holdfast"] = "errors/1";
  Json list = Json::array();
  for (const auto& d : diagnostics) {
    Json entry = {{"code", d.code}, {"problem", d.problem}, {"remedy", d.remedy}};
    entry["mark"] = mark_json(d.mark);
    entry["where"] = d.where;
    entry["value"] = d.value;
    list.push_back(entry);
  }
  out["errors"] = list;
  return dump(out);
}

Json detail::document_json(const Context& context, const char* verb, const char* outcome) {
  return {{"holdfast", result_format},
          {"verb", verb},
          {"outcome", outcome},
          {"model", model_json(context)},
          {"engine", context.engine_version}};
}
Json detail::configuration_json(const model::Configuration& configuration) {
  Json out = Json::object();
  for (const auto& [id, position] : configuration.positions) out[id] = position;
  return out;
}
void detail::finish_json(const Context& context, const route::AnswerHead& head, Json& out) {
  RouteJson(context, head).finish(out);
}
void detail::write_outcome_json(const Context& context, const route::Answer& answer, Json& out) {
  RouteJson(context, answer).write_outcome(out);
}
Json detail::route_json(const Context& context, const std::vector<std::string>& loads, const route::Route& route) {
  route::AnswerHead head;
  head.loads = loads;
  return RouteJson(context, head).write_route(route);
}
Json detail::point_json(const model::Vec3& p) { return vec(p); }
std::string detail::dump_json(const Json& document) { return dump(document); }
Json detail::quantity_json(const model::Quantity& q) { return quantity(q); }

}  // namespace holdfast::report
