#include <fmt/format.h>
#include <fmt/ranges.h>

#include "words_impl.h"

namespace holdfast::report {

using namespace detail;

namespace {

std::string number(double value) { return std::isfinite(value) ? fmt::format("{}", rounded(value)) : ""; }

std::string record(const std::vector<std::string>& fields) {
  std::string line;
  for (std::size_t i = 0; i < fields.size(); ++i) line += (i ? "," : "") + csv_field(fields[i]);
  return line + "\r\n";
}

}  // namespace

std::string csv(const Context& context, const search::Answer& answer) {
  std::string out = record({"leg",
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
                            "zones"});
  const auto* route = answer.route();
  if (!route) return out;
  const Context metric{context.structure, context.kit, context.suit, context.model_name, context.engine_version, {}};
  for (std::size_t leg = 0; leg < route->legs.size(); ++leg)
    for (std::size_t r = 0; r < route->legs[leg].rows.size(); ++r) {
      const auto& row = route->legs[leg].rows[r];
      std::vector<std::string> zones;
      for (const auto& contact : row.zones)
        if (contact.inside_s > 0) zones.push_back(context.structure.zones[contact.zone.index()].id);
      out += record({std::to_string(leg + 1),
                     std::to_string(r),
                     kind_name(row.kind),
                     action(metric, row),
                     context.structure.parts[row.part.index()].id,
                     face_name(row.face_from),
                     face_name(row.face),
                     context.structure.rails[row.rail.index()].id,
                     number(row.along_from_m),
                     number(row.along_to_m),
                     number(row.gap_m),
                     number(row.turn_rad * 180 / EIGEN_PI),
                     number(row.distance_m),
                     std::to_string(row.moves),
                     number(row.time_s),
                     number(row.total_distance_m),
                     std::to_string(row.total_moves),
                     number(row.total_time_s),
                     number(row.clearance.value_m),
                     row.clearance.is_at_least ? "yes" : "no",
                     row.clearance_part ? context.structure.parts[row.clearance_part->index()].id : "",
                     number(row.hand.x()),
                     number(row.hand.y()),
                     number(row.hand.z()),
                     fmt::format("{}", fmt::join(zones, " "))});
    }
  return out;
}

std::string csv(const Context& context, const check::CheckResult& result) {
  std::string out = record(
      {"severity", "kind", "subject", "other", "value", "limit", "count", "x", "y", "z", "file", "line", "text"});
  for (const auto& f : result.findings)
    out += record({severity_name(f.severity), kind_name(f.kind), f.subject, f.other, number(f.value), number(f.limit),
                   std::to_string(f.count), number(f.at.x()), number(f.at.y()), number(f.at.z()), f.mark.file,
                   std::to_string(f.mark.line), sentence(context, f)});
  return out;
}

}  // namespace holdfast::report
