// SPDX-License-Identifier: GPL-3.0-or-later
#include "holdfast/model/plain_text.h"
#include "words_impl.h"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <charconv>
#include <cmath>
#include <numbers>

namespace holdfast::report::detail {

namespace {

// A value that is whole in the last digit shown must not be pushed over by noise.
constexpr double nudge = 1e-6;
double ceil_to(double value, double step) { return std::ceil(value / step - nudge) * step; }
double floor_to(double value, double step) { return std::floor(value / step + nudge) * step; }

std::string feet_and_inches(double metres, bool is_up) {
  if (!std::isfinite(metres)) return "unbounded";
  const double inches = metres / 0.0254;
  const double whole = (is_up ? ceil_to(inches, 1) : floor_to(inches, 1)) + 0.0;  // no negative zero
  const double feet = std::floor(whole / 12);
  return fmt::format("{:.0f} ft {:.0f} in", feet, whole - 12 * feet);
}

std::string bare_length(double metres, bool is_up, int decimals) {
  if (!std::isfinite(metres)) return "unbounded";
  const double step = std::pow(10.0, -decimals);
  return fmt::format("{:.{}f}", (is_up ? ceil_to(metres, step) : floor_to(metres, step)) + 0.0, decimals);
}

std::string length(const Options& options, double metres, bool is_up, int decimals) {
  if (!std::isfinite(metres)) return "unbounded";
  std::string text = bare_length(metres, is_up, decimals) + " m";
  if (options.imperial) text += fmt::format(" ({})", feet_and_inches(metres, is_up));
  return text;
}

}  // namespace

std::string length_up(const Options& options, double metres) { return length(options, metres, true, 2); }
std::string length_down(const Options& options, double metres) { return length(options, metres, false, 2); }
std::string short_length_up(const Options& options, double metres) { return length(options, metres, true, 3); }
std::string short_length_down(const Options& options, double metres) { return length(options, metres, false, 3); }
std::string feet_and_inches_up(double metres) { return feet_and_inches(metres, true); }
std::string feet_and_inches_down(double metres) { return feet_and_inches(metres, false); }
std::string degrees(double radians) { return fmt::format("{:.0f} deg", radians * 180 / std::numbers::pi); }

std::string point(const model::Vec3& p) {
  const auto coordinate = [](double v) { return std::round(v * 100) / 100 + 0.0; };
  return fmt::format("({:.2f}, {:.2f}, {:.2f})", coordinate(p.x()), coordinate(p.y()), coordinate(p.z()));
}

double rounded(double value) { return std::isfinite(value) ? std::round(value * 1e6) / 1e6 + 0.0 : value; }

double rounded_up(double value) { return std::isfinite(value) ? std::ceil(value * 1e6 - nudge) / 1e6 + 0.0 : value; }
double rounded_down(double value) { return std::isfinite(value) ? std::floor(value * 1e6 + nudge) / 1e6 + 0.0 : value; }

bool is_room_needed(const check::Finding& finding) {
  using check::FindingKind;
  switch (finding.kind) {
    case FindingKind::UnreachableRail:
    case FindingKind::Island:
      return !finding.causes.empty() && (finding.causes.front().kind == route::CauseKind::BodyTooTight ||
                                         finding.causes.front().kind == route::CauseKind::HandLineBlocked);
    case FindingKind::RailTooClose:
    case FindingKind::ShortRail:
    case FindingKind::RailLoad:
    case FindingKind::NarrowCorridor:
    case FindingKind::PlaceTooTight:
    case FindingKind::WorksiteRoom:
      return true;
    case FindingKind::RailBehindZone:
    case FindingKind::Gap:
    case FindingKind::RailInSolid:
    case FindingKind::PlaceWithoutGrip:
    case FindingKind::ZoneSwallowsPlace:
    case FindingKind::WorksiteHandholds:
    case FindingKind::SocketInSolid:
    case FindingKind::SocketOffStructure:
    case FindingKind::RestraintCollides:
    case FindingKind::ViewInSolid:
    case FindingKind::MeshDefect:
    case FindingKind::IgnoredColumn:
      break;
  }
  return false;
}

const char* objective_name(route::Objective by) {
  switch (by) {
    case route::Objective::Time:
      return "time";
    case route::Objective::Distance:
      return "distance";
    case route::Objective::Moves:
      return "moves";
  }
  return "";
}

const char* confidence_name(model::Confidence confidence) {
  switch (confidence) {
    case model::Confidence::Published:
      return "published";
    case model::Confidence::Secondary:
      return "secondary";
    case model::Confidence::Computed:
      return "computed";
    case model::Confidence::Memory:
      return "memory";
    case model::Confidence::Practice:
      return "practice";
    case model::Confidence::Assumption:
      return "assumption";
  }
  return "";
}

const char* kind_name(route::CauseKind kind) {
  switch (kind) {
    case route::CauseKind::NoGripNear:
      return "no-grip-near";
    case route::CauseKind::InZone:
      return "in-zone";
    case route::CauseKind::OnClosedRails:
      return "on-closed-rails";
    case route::CauseKind::Reach:
      return "reach";
    case route::CauseKind::TurnLimit:
      return "turn-limit";
    case route::CauseKind::HandLineBlocked:
      return "hand-line-blocked";
    case route::CauseKind::BodyTooTight:
      return "body-too-tight";
    case route::CauseKind::LoadTooTight:
      return "load-too-tight";
    case route::CauseKind::Zones:
      return "zones";
    case route::CauseKind::Closures:
      return "closures";
    case route::CauseKind::ZoneTime:
      return "zone-time";
    case route::CauseKind::Tether:
      return "tether";
  }
  return "";
}

const char* kind_name(route::RowKind kind) {
  switch (kind) {
    case route::RowKind::Start:
      return "start";
    case route::RowKind::Along:
      return "along";
    case route::RowKind::Gap:
      return "gap";
    case route::RowKind::Edge:
      return "edge";
    case route::RowKind::PartChange:
      return "part-change";
  }
  return "";
}

const char* kind_name(check::FindingKind kind) {
  switch (kind) {
    case check::FindingKind::UnreachableRail:
      return "unreachable-rail";
    case check::FindingKind::Island:
      return "island";
    case check::FindingKind::RailBehindZone:
      return "rail-behind-zone";
    case check::FindingKind::Gap:
      return "gap";
    case check::FindingKind::RailTooClose:
      return "rail-too-close";
    case check::FindingKind::RailInSolid:
      return "rail-in-solid";
    case check::FindingKind::ShortRail:
      return "short-rail";
    case check::FindingKind::RailLoad:
      return "rail-load";
    case check::FindingKind::NarrowCorridor:
      return "narrow-corridor";
    case check::FindingKind::PlaceWithoutGrip:
      return "place-without-grip";
    case check::FindingKind::PlaceTooTight:
      return "place-too-tight";
    case check::FindingKind::ZoneSwallowsPlace:
      return "zone-swallows-place";
    case check::FindingKind::WorksiteHandholds:
      return "worksite-handholds";
    case check::FindingKind::WorksiteRoom:
      return "worksite-room";
    case check::FindingKind::SocketInSolid:
      return "socket-in-solid";
    case check::FindingKind::SocketOffStructure:
      return "socket-off-structure";
    case check::FindingKind::RestraintCollides:
      return "restraint-collides";
    case check::FindingKind::ViewInSolid:
      return "view-in-solid";
    case check::FindingKind::MeshDefect:
      return "mesh-defect";
    case check::FindingKind::IgnoredColumn:
      return "ignored-column";
  }
  return "";
}

const char* severity_name(check::Severity severity) {
  switch (severity) {
    case check::Severity::Error:
      return "error";
    case check::Severity::Warning:
      return "warning";
    case check::Severity::Note:
      return "note";
  }
  return "";
}

std::string box_words(const Options& options, const model::Vec3& size_m, double fraction) {
  return fmt::format("{} x {} x {}", length_down(options, fraction * size_m.x()),
                     length_down(options, fraction * size_m.y()), length_down(options, fraction * size_m.z()));
}

std::string origin_words(const model::Quantity& quantity) {
  std::string words = quantity.source;
  if (quantity.confidence == model::Confidence::Memory) words += "; from memory, verify";
  return words;
}

std::string csv_field(const std::string& text) {
  std::string field = model::with_code_points(text);
  // A spreadsheet takes a field that begins so for a formula: numbers are left, text is marked as text.
  if (!field.empty() && std::string_view("=+-@").find(field[0]) != std::string_view::npos) {
    double number = 0;
    const auto [end, error] = std::from_chars(field.data(), field.data() + field.size(), number);
    if (error != std::errc{} || end != field.data() + field.size()) field.insert(0, 1, '\'');
  }
  if (field.find_first_of(",\"\r\n") == std::string::npos) return field;
  std::string quoted = "\"";
  for (const char c : field) quoted.append(c == '"' ? 2 : 1, c);
  quoted += '"';
  return quoted;
}

}  // namespace holdfast::report::detail

namespace holdfast::report {

using namespace detail;

std::string duration(double seconds) {
  const auto whole = std::lround(ceil_to(seconds, 1));
  return fmt::format("{}:{:02}:{:02}", whole / 3600, whole / 60 % 60, whole % 60);
}

std::string duration_down(double seconds) { return duration(std::floor(seconds + nudge)); }

std::string bare_length_up(double metres) { return bare_length(metres, true, 2); }
std::string bare_length_down(double metres) { return bare_length(metres, false, 2); }

const char* face_name(route::Face face) {
  switch (face) {
    case route::Face::Zenith:
      return "zenith";
    case route::Face::Nadir:
      return "nadir";
    case route::Face::Port:
      return "port";
    case route::Face::Starboard:
      return "starboard";
    case route::Face::Forward:
      return "forward";
    case route::Face::Aft:
      return "aft";
    case route::Face::ZenithPort:
      return "zenith-port";
    case route::Face::ZenithStarboard:
      return "zenith-starboard";
    case route::Face::NadirPort:
      return "nadir-port";
    case route::Face::NadirStarboard:
      return "nadir-starboard";
    case route::Face::ZenithForward:
      return "zenith-forward";
    case route::Face::ZenithAft:
      return "zenith-aft";
    case route::Face::NadirForward:
      return "nadir-forward";
    case route::Face::NadirAft:
      return "nadir-aft";
    case route::Face::ForwardPort:
      return "forward-port";
    case route::Face::ForwardStarboard:
      return "forward-starboard";
    case route::Face::AftPort:
      return "aft-port";
    case route::Face::AftStarboard:
      return "aft-starboard";
  }
  return "";
}

const char* effect_name(model::ZoneEffect effect) {
  switch (effect) {
    case model::ZoneEffect::Forbid:
      return "forbid";
    case model::ZoneEffect::Caution:
      return "caution";
    case model::ZoneEffect::Limit:
      return "limit";
  }
  return "";
}

std::string configuration_words(const model::Configuration& configuration) {
  if (configuration.positions.empty()) return "no switches";
  std::vector<std::string> settings;
  for (const auto& [id, position] : configuration.positions) settings.push_back(id + "=" + position);
  return fmt::format("{}", fmt::join(settings, " "));
}

std::string configuration_words(const model::Structure& structure, const model::Configuration& configuration) {
  std::string words = configuration_words(configuration);
  if (!structure.settings.empty()) words += fmt::format("; set for this run: {}", fmt::join(structure.settings, ", "));
  return words;
}

std::string action(const Context& context, const route::Row& row) {
  const auto& part = context.structure.parts[row.part.index()];
  const double along = std::abs(row.along_to_m - row.along_from_m);
  std::string words;
  switch (row.kind) {
    case route::RowKind::Start:
      return "start";
    case route::RowKind::Along:
      return fmt::format("along {}", length_up(context.options, along));
    case route::RowKind::Gap:
      words = fmt::format("across a gap of {}", length_up(context.options, row.gap_m));
      break;
    case route::RowKind::Edge:
      words = fmt::format("round an edge of {}", degrees(row.turn_rad));
      break;
    case route::RowKind::PartChange:
      words = fmt::format("over to {}", part.name);
      if (row.turn_rad >= route::edge_turn_rad) words += fmt::format(", turning {}", degrees(row.turn_rad));
      break;
  }
  if (along > 0.005) words += fmt::format(", along {}", length_up(context.options, along));
  return words;
}

std::string where_words(const Context& context, const route::Row& row) {
  const auto& part = context.structure.parts[row.part.index()].name;
  if (row.face == row.face_from) return fmt::format("{}, {}", part, face_name(row.face));
  return fmt::format("{}, {} to {}", part, face_name(row.face_from), face_name(row.face));
}

std::string clearance_cell(const route::LowerBound& bound) {
  if (!std::isfinite(bound.value_m)) return "open";
  return bare_length_down(bound.value_m) + (bound.is_at_least ? "+" : "");
}

route::LowerBound spare_beyond(const Context& context, const route::LowerBound& bound) {
  return {std::max(0.0, bound.value_m - context.suit.corridor_radius_m()), bound.is_at_least};
}

const char* place_kind_word(model::PlaceKind kind) {
  switch (kind) {
    case model::PlaceKind::Hatch:
      return "hatch";
    case model::PlaceKind::Stowage:
      return "stowage";
    case model::PlaceKind::Worksite:
      return "worksite";
    case model::PlaceKind::Connector:
      return "connector";
    case model::PlaceKind::Other:
      return "other";
  }
  return "";
}

std::string carried_words(const Options& options, const model::Load& load) {
  std::string words = box_words(options, load.size_m, 1);
  for (std::size_t i = 0; i < load.carrying_count(); ++i) {
    const model::Load carried = load.carried(i);
    words += i == 0 ? ", " : "; or ";
    if (carried.how == model::CarriedHow::InTow) {
      words += fmt::format("in tow, its middle {} behind the body on the path gone",
                           length_up(options, carried.tow_length_m));
      continue;
    }
    const auto& at = carried.offset_m;
    words +=
        fmt::format("{}, its middle {:.2f} m forward, {:.2f} m to the {} and {:.2f} m outward of the body axis",
                    how_name(carried.how), at.x() + 0.0, std::abs(at.y()), at.y() < 0 ? "right" : "left", at.z() + 0.0);
  }
  return words;
}

const char* detail::how_name(model::CarriedHow how) {
  switch (how) {
    case model::CarriedHow::Beside:
      return "beside";
    case model::CarriedHow::InTow:
      return "in-tow";
    case model::CarriedHow::Worn:
      return "worn";
  }
  return "";
}

const char* detail::side_name(const route::LoadCarried& carried) {
  if (carried.how == model::CarriedHow::InTow) return "behind";
  return carried.side_m < 0 ? "right" : carried.side_m > 0 ? "left" : "middle";
}

std::string detail::manner_words(const route::LoadCarried& carried) {
  if (carried.how == model::CarriedHow::InTow) return "in tow";
  const std::string how = carried.how == model::CarriedHow::Worn ? "worn on the suit" : "beside the body";
  return how + (carried.side_m < 0 ? ", on the right" : carried.side_m > 0 ? ", on the left" : "");
}

}  // namespace holdfast::report
