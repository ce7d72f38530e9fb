// SPDX-License-Identifier: GPL-3.0-or-later
#include <fmt/format.h>
#include <fmt/ranges.h>

#include "words_impl.h"

namespace holdfast::report {

using namespace detail;

namespace {

std::string digits(double value) { return std::isfinite(value) ? fmt::format("{}", value) : ""; }
std::string number(double value) { return digits(rounded(value)); }
std::string up(double value) { return digits(rounded_up(value)); }      // lengths, times, turns
std::string down(double value) { return digits(rounded_down(value)); }  // clearances, margins

std::string record(const std::vector<std::string>& fields) {
  std::string line;
  for (std::size_t i = 0; i < fields.size(); ++i) line += (i ? "," : "") + csv_field(fields[i]);
  return line + "\r\n";
}

}  // namespace

namespace {

const std::vector<std::string> row_columns = {"leg",
                                              "row",
                                              "kind",
                                              "what",
                                              "part",
                                              "face_from",
                                              "face",
                                              "rail",
                                              "along_from_m",
                                              "along_to_m",
                                              "gap_m",
                                              "turn_deg",
                                              "distance_m",
                                              "moves",
                                              "time_s",
                                              "total_distance_m",
                                              "total_moves",
                                              "total_time_s",
                                              "clearance_m",
                                              "clearance_is_at_least",
                                              "clearance_part",
                                              "hand_x",
                                              "hand_y",
                                              "hand_z",
                                              "zones",
                                              "tether_m",
                                              "hooks",
                                              "carried"};

std::vector<std::string> row_fields(const Context& context, const route::Route& route, std::size_t leg, std::size_t r) {
  const Context metric{context.structure, context.kit, context.suit, context.model_name, context.engine_version, {}};
  const auto& row = route.legs[leg].rows[r];
  std::vector<std::string> zones;
  for (const auto& contact : row.zones)
    if (contact.inside_s > 0) zones.push_back(context.structure.zones[contact.zone.index()].id);
  std::vector<std::string> hooks;
  if (route.tether)
    for (const auto& swap : route.tether->swaps)
      if (swap.leg == leg && swap.row == r) hooks.push_back(swap.hook);
  std::vector<std::string> carried;
  for (const auto& entry : route.carried)
    if (entry.leg == leg && entry.row == r)
      carried.push_back(fmt::format("{}:{}:{}", entry.load, how_name(entry.how), side_name(entry)));
  return {std::to_string(leg + 1),
          std::to_string(r),
          kind_name(row.kind),
          action(metric, row),
          context.structure.parts[row.part.index()].id,
          face_name(row.face_from),
          face_name(row.face),
          context.structure.rails[row.rail.index()].id,
          number(row.along_from_m),
          number(row.along_to_m),
          up(row.gap_m),
          up(row.turn_rad * 180 / EIGEN_PI),
          up(row.distance_m),
          std::to_string(row.moves),
          up(row.time_s),
          up(row.total_distance_m),
          std::to_string(row.total_moves),
          up(row.total_time_s),
          down(row.clearance.value_m),
          row.clearance.is_at_least ? "yes" : "no",
          row.clearance_part ? context.structure.parts[row.clearance_part->index()].id : "",
          number(row.hand.x()),
          number(row.hand.y()),
          number(row.hand.z()),
          fmt::format("{}", fmt::join(zones, " ")),
          row.tether_m ? up(*row.tether_m) : "",
          fmt::format("{}", fmt::join(hooks, " ")),
          fmt::format("{}", fmt::join(carried, " "))};
}

/// The rows of a route, each begun with `first`.
std::string rows_of(const Context& context, const route::Route& route, const std::vector<std::string>& first) {
  std::string out;
  for (std::size_t leg = 0; leg < route.legs.size(); ++leg)
    for (std::size_t r = 0; r < route.legs[leg].rows.size(); ++r) {
      std::vector<std::string> fields = first;
      for (auto& field : row_fields(context, route, leg, r)) fields.push_back(std::move(field));
      out += record(fields);
    }
  return out;
}

}  // namespace

std::string csv(const Context& context, const route::Answer& answer) {
  std::string out = record(row_columns);
  if (const auto* route = answer.route()) out += rows_of(context, *route, {});
  return out;
}

std::string csv(const Context& context, const route::Alternatives& choices) {
  std::vector<std::string> columns = {"way", "name"};
  columns.insert(columns.end(), row_columns.begin(), row_columns.end());
  std::string out = record(columns);
  for (std::size_t i = 0; i < choices.ways.size(); ++i)
    out += rows_of(context, choices.ways[i].route, {std::to_string(i + 1), way_name(context, choices.ways[i].mark)});
  return out;
}

std::string csv(const Context& context, const route::TradeOffs& trade_offs) {
  std::string out = record({"way", "name", "time_s", "moves", "caution_s", "clearance_m", "distance_m", "stands_for"});
  for (std::size_t i = 0; i < trade_offs.ways.size(); ++i) {
    const auto& way = trade_offs.ways[i];
    out += record({std::to_string(i + 1), way_name(context, way.mark), up(way.route.time_s),
                   std::to_string(way.route.moves), up(way.route.caution_s), down(way.clearance_m),
                   up(way.route.distance_m), std::to_string(way.stands_for)});
  }
  return out;
}

std::string csv(const Context& context, const route::Comparison& comparison) {
  std::string out =
      record({"case", "way", "loads", "outcome", "time_s", "moves", "distance_m", "clearance_m", "clearance_part",
              "load_clearance_m", "load_clearance_part", "caution_s", "goes_as_first", "difference"});
  for (std::size_t r = 0; r < comparison.rows.size(); ++r) {
    const auto& row = comparison.rows[r];
    const auto part = [&](const std::optional<model::PartId>& id) {
      return id ? context.structure.parts[id->index()].id : std::string();
    };
    std::vector<std::string> fields = {case_words(comparison, row), row.way,
                                       fmt::format("{}", fmt::join(row.loads, " "))};
    if (const auto* route = row.answer.route()) {
      const auto& load = route->load_clearance;
      for (auto& field : std::vector<std::string>{
               "route", up(route->time_s), std::to_string(route->moves), up(route->distance_m),
               down(route->clearance.value_m), part(route->clearance_part), load ? down(load->clearance.value_m) : "",
               load ? part(load->part) : "", up(route->caution_s), row.goes_as_first ? "yes" : "no"})
        fields.push_back(std::move(field));
    } else {
      fields.insert(fields.end(), {"no-route", "", "", "", "", "", "", "", "", "no"});
    }
    fields.push_back(difference(context, comparison, r));
    out += record(fields);
  }
  return out;
}

namespace {

const std::vector<std::string> home_columns = {"verdict", "time_s",     "most_s", "margin_s", "distance_m",
                                               "moves",   "may_save_s", "hatch",  "certain",  "cause"};

template <class Row>
void add_home_fields(const Context& context, const Row& row, bool has_way, double limit_s,
                     std::vector<std::string>& fields) {
  const bool has_most = has_way && std::isfinite(row.most_s);
  fields.insert(fields.end(), {verdict_name(row.verdict), has_way ? up(row.time_s) : "", has_most ? up(row.most_s) : "",
                               has_most ? down(limit_s - row.most_s) : "", has_way ? up(row.distance_m) : "",
                               has_way ? std::to_string(row.moves) : "", row.may_save_s ? up(*row.may_save_s) : "",
                               has_way ? row.hatch : "", row.is_certain ? "yes" : "no",
                               row.causes.empty() ? "" : sentence(context, row.causes.front())});
}

std::string home_header(std::vector<std::string> first) {
  first.insert(first.end(), home_columns.begin(), home_columns.end());
  return record(first);
}

}  // namespace

std::string csv(const Context& context, const route::Home& home) {
  std::string out = home_header({"place"});
  for (const auto& place : home.places) {
    std::vector<std::string> fields = {context.structure.places[place.place.index()].id};
    add_home_fields(context, place, place.has_route, home.request.limit_s, fields);
    out += record(fields);
  }
  return out;
}

std::string csv(const Context& context, const route::HomeAlong& along) {
  std::string out = home_header({"leg", "waypoint", "rail", "x", "y", "z", "at_s"});
  for (const auto& point : along.waypoints) {
    std::vector<std::string> fields = {std::to_string(point.leg + 1),
                                       std::to_string(point.row),
                                       context.structure.rails[point.rail.index()].id,
                                       number(point.hand.x()),
                                       number(point.hand.y()),
                                       number(point.hand.z()),
                                       up(point.at_s)};
    add_home_fields(context, point, point.has_way, along.request.limit_s, fields);
    out += record(fields);
  }
  return out;
}

std::string csv(const Context& context, const tether::TetherCheck& check) {
  const auto& s = context.structure;
  std::string out = record({"waypoint", "way", "leg", "row", "rail", "time_s", "hook", "along_m", "tight_m", "most_m",
                            "least_m", "spare_m", "within", "bears_on", "zones"});
  for (std::size_t m = 0; m < check.marks.size(); ++m) {
    const auto& mark = check.marks[m];
    std::vector<std::string> parts, zones;
    for (const auto part : mark.bears_on) parts.push_back(s.parts[part.index()].id);
    for (const auto zone : mark.zones) zones.push_back(s.zones[zone.index()].id);
    out += record({std::to_string(m), check.ways[mark.at.way], std::to_string(mark.at.leg + 1),
                   std::to_string(mark.at.row), s.rails[mark.rail.index()].id, up(mark.at_s), mark.hook,
                   up(mark.gone_m), up(mark.taut_m), up(mark.most_m), down(mark.least_m),
                   down(check.tether->length_m - mark.most_m), mark.is_within ? "yes" : "no",
                   fmt::format("{}", fmt::join(parts, " ")), fmt::format("{}", fmt::join(zones, " "))});
  }
  return out;
}

std::string csv(const Context&, const tether::Positioning& positioning) {
  std::string out = record({"tethers", "least_m", "most_m", "hook", "x", "y", "z", "distance_m"});
  for (const auto& hold : positioning.holds) {
    const auto& series = positioning.all[hold.series];
    out +=
        record({series_words(series), number(series.least_m), number(series.most_m), hold.hook.name,
                number(hold.hook.at.x()), number(hold.hook.at.y()), number(hold.hook.at.z()), number(hold.distance_m)});
  }
  return out;
}

std::string csv(const Context& context, const route::Matrix& matrix) {
  const std::size_t n = matrix.places.size();
  const auto id = [&](std::size_t i) { return context.structure.places[matrix.places[i].index()].id; };
  std::vector<std::string> header = {"measure", "from"};
  for (std::size_t to = 0; to < n; ++to) header.push_back(id(to));
  std::string out = record(header);
  const auto square = [&](const char* measure, auto&& value) {
    for (std::size_t from = 0; from < n; ++from) {
      std::vector<std::string> row = {measure, id(from)};
      for (std::size_t to = 0; to < n; ++to) row.push_back(matrix.at(from, to) ? value(*matrix.at(from, to)) : "");
      out += record(row);
    }
  };
  square("time_s", [](const auto& cell) { return up(cell.time_s); });
  square("distance_m", [](const auto& cell) { return up(cell.distance_m); });
  square("moves", [](const auto& cell) { return std::to_string(cell.moves); });
  return out;
}

std::string csv(const Context& context, const route::WeakPoints& weak) {
  std::string out = record({"rail", "cuts_off", "closed_time_s"});
  const auto row = [&](model::RailId rail, const std::vector<model::PlaceId>& places, const std::string& time) {
    std::vector<std::string> ids;
    for (const auto place : places) ids.push_back(context.structure.places[place.index()].id);
    out += record({context.structure.rails[rail.index()].id, fmt::format("{}", fmt::join(ids, " ")), time});
  };
  for (const auto& rail : weak.rails) row(rail.rail, rail.cut_off, "");
  for (const auto& cost : weak.closing) row(cost.rail, {}, cost.time_s ? up(*cost.time_s) : "none");
  return out;
}

std::string csv(const Context& context, const cable::CableAnswer& answer) {
  std::string out = record({"number", "kind", "id", "along_m", "x", "y", "z", "on_cable_m", "span_m", "slack_m",
                            "loop_m", "turn_deg", "bend_radius_m", "bend_margin_m", "edges"});
  const auto* run = answer.run();
  if (!run) return out;
  const double bend_radius = context.kit.find_cable(answer.cable)->bend_radius_m();
  for (std::size_t i = 0; i < run->ties.size(); ++i) {
    const auto& t = run->ties[i];
    std::vector<std::string> edges;
    if (i > 0)
      for (const auto& edge : run->spans[i - 1].edges)
        edges.push_back(fmt::format("{} {}", context.structure.parts[edge.part.index()].id, kind_name(edge.kind)));
    out += record({t.tie.kind == cable::TieKind::Connector ? "" : std::to_string(i), kind_name(t.tie.kind), t.tie.id,
                   t.tie.rail ? number(t.tie.along_m) : "", number(t.tie.at.x()), number(t.tie.at.y()),
                   number(t.tie.at.z()), up(t.at_m), i > 0 ? up(run->spans[i - 1].length_m) : "",
                   i > 0 ? up(run->spans[i - 1].slack_m) : "", i > 0 ? up(run->spans[i - 1].loop_m) : "",
                   up(t.turn_rad * 180 / EIGEN_PI), t.radius_m ? down(*t.radius_m) : "",
                   t.radius_m ? down(*t.radius_m - bend_radius) : "", fmt::format("{}", fmt::join(edges, "; "))});
  }
  return out;
}

std::string csv(const Context& context, const cable::CableTable& table) {
  std::string out =
      record({"cable", "from", "to", "outcome", "required_m", "least_length_m", "margin_m", "ties", "laying_s", "why"});
  for (const auto& answer : table.rows) {
    const auto* run = answer.run();
    const bool is_laid = answer.laying && answer.laying->way.route();
    std::vector<std::string> why;
    if (const auto* refusal = answer.no_run())
      for (const auto& cause : refusal->causes) why.push_back(sentence(context, cause));
    out += record({answer.cable, answer.request.from, answer.request.to, outcome_name(answer),
                   run ? up(run->required_m) : "", down(answer.verdict.least_length_m),
                   run ? down(answer.verdict.margin_m) : "", run ? std::to_string(run->ties.size() - 2) : "",
                   is_laid ? up(answer.laying->time_s) : "", fmt::format("{}", fmt::join(why, " "))});
  }
  return out;
}

std::string csv(const Context& context, const check::CheckResult& result) {
  std::string out = record(
      {"severity", "kind", "subject", "other", "value", "limit", "count", "x", "y", "z", "file", "line", "text"});
  for (const auto& f : result.findings)
    out += record({severity_name(f.severity), kind_name(f.kind), f.subject, f.other,
                   is_room_needed(f) ? down(f.value) : up(f.value), is_room_needed(f) ? up(f.limit) : down(f.limit),
                   std::to_string(f.count), number(f.at.x()), number(f.at.y()), number(f.at.z()), f.mark.file,
                   std::to_string(f.mark.line), sentence(context, f)});
  return out;
}

}  // namespace holdfast::report
