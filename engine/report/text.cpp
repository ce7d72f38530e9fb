#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <cmath>

#include "words_impl.h"

namespace holdfast::report {

using namespace detail;
using search::Answer;
using search::LowerBound;
using search::NoRoute;
using search::Route;
using search::Row;
using search::RowKind;

namespace {

constexpr std::size_t width = 118;

std::string fit(const std::string& text, std::size_t size) {
  return text.size() <= size ? text : text.substr(0, size - 2) + "..";
}

/// Words wrapped at the page width, later lines indented.
std::string wrap(const std::string& text, std::size_t indent) {
  std::string out;
  std::size_t column = 0;
  for (std::size_t at = 0; at < text.size();) {
    std::size_t end = text.find(' ', at);
    if (end == std::string::npos) end = text.size();
    const std::string word = text.substr(at, end - at);
    if (column > indent && column + 1 + word.size() > width) {
      out += "\n" + std::string(indent, ' ');
      column = indent;
    } else if (at > 0) {
      out += " ";
      ++column;
    }
    out += word;
    column += word.size();
    at = end + 1;
  }
  return out;
}

std::string clearance(const Options& options, const LowerBound& bound) {
  return (bound.is_at_least ? "at least " : "") + length_down(options, bound.value_m);
}

class RouteText {
 public:
  RouteText(const Context& context, const Answer& answer) : c_(context), a_(answer) {}

  std::string write() {
    heading();
    if (const auto* route = a_.route())
      write_route(*route);
    else
      write_refusal(*a_.no_route());
    origin();
    return std::move(out_);
  }

 private:
  template <class... Args>
  void line(fmt::format_string<Args...> format, Args&&... args) {
    out_ += fmt::format(format, std::forward<Args>(args)...) + "\n";
  }

  void heading() {
    std::vector<std::string> stops = {a_.request.from};
    stops.insert(stops.end(), a_.request.via.begin(), a_.request.via.end());
    stops.push_back(a_.request.to);
    line("{}: {}", c_.structure.name, fmt::join(stops, " -> "));
    line("  least {}; suit {}; {}{}", objective_name(a_.request.by), a_.suit, configuration_words(a_.configuration),
         a_.request.closed_rails.empty() ? "" : fmt::format("; closed: {}", fmt::join(a_.request.closed_rails, ", ")));
    out_ += "\n";
  }

  void write_route(const Route& route) {
    for (std::size_t leg = 0; leg < route.legs.size(); ++leg) {
      if (route.legs.size() > 1) line("Leg {}: {} -> {}", leg + 1, route.legs[leg].from, route.legs[leg].to);
      write_table(route.legs[leg]);
      out_ += "\n";
    }
    line("{} in {} hand moves over {}.", duration(route.time_s), route.moves, length_up(c_.options, route.distance_m));
    time_by_cause(route);
    const auto& part = route.clearance_part;
    line("  Least clearance  {} body axis to structure{}, {}; spare beyond the corridor {}",
         clearance(c_.options, route.clearance), part ? " (" + c_.structure.parts[part->index()].name + ")" : "",
         point(route.clearance_at),
         length_down(c_.options, std::max(0.0, route.clearance.value_m - c_.suit.corridor_radius_m())));
    zones(route);
    band(route);
    out_ += "\n";
  }

  void write_table(const search::Leg& leg) {
    line("  {:>2}  {:<35} {:<22} {:>7} {:>5} {:>8}   {:>7} {:>5} {:>8}", "", "part, face", "rail", "m", "moves", "time",
         "sum m", "moves", "time");
    for (std::size_t r = 0; r < leg.rows.size(); ++r) write_row(leg.rows[r], r);
  }

  void write_row(const Row& row, std::size_t number) {
    std::string face = face_name(row.face);
    if (row.face != row.face_from) face = fmt::format("{} to {}", face_name(row.face_from), face);
    const std::string where = fmt::format("{}, {}", c_.structure.parts[row.part.index()].name, face);
    const auto metres = [](double m) { return fmt::format("{:.2f}", std::ceil(m * 100 - 1e-4) / 100 + 0.0); };
    line("  {:>2}  {:<35} {:<22} {:>7} {:>5} {:>8}   {:>7} {:>5} {:>8}", number, fit(where, 35),
         fit(c_.structure.rails[row.rail.index()].id, 22), metres(row.distance_m), row.moves, duration(row.time_s),
         metres(row.total_distance_m), row.total_moves, duration(row.total_time_s));
    std::string notes = fmt::format("{}; clearance {}", action(c_, row), clearance(c_.options, row.clearance));
    if (row.clearance_part) notes += fmt::format(" to {}", c_.structure.parts[row.clearance_part->index()].name);
    for (const auto& contact : row.zones) notes += "; " + zone_note(contact);
    if (c_.options.coordinates) notes += fmt::format("; hand at {}", point(row.hand));
    if (c_.options.imperial) notes += fmt::format("; row {}", length_up(c_.options, row.distance_m));
    out_ += "        " + wrap(notes, 8) + "\n";
  }

  std::string zone_note(const search::ZoneContact& contact) const {
    const auto& zone = c_.structure.zones[contact.zone.index()];
    const char* kind = contact.effect == model::ZoneEffect::Forbid    ? "keep-out"
                       : contact.effect == model::ZoneEffect::Caution ? "CAUTION"
                                                                      : "LIMIT";
    if (contact.inside_s > 0)
      return fmt::format("in {} {} for {} ({})", kind, zone.id, duration(contact.inside_s), zone.reason);
    return fmt::format("{} {} {} off", kind, zone.id, length_down(c_.options, contact.nearest_m));
  }

  void time_by_cause(const Route& route) {
    const auto& t = route.time_by_cause;
    std::vector<std::string> causes;
    const auto add = [&](const char* name, double seconds) {
      if (seconds > 0) causes.push_back(fmt::format("{} {:.1f} s", name, std::ceil(seconds * 10 - 1e-4) / 10));
    };
    add("way at the rate", t.translate_s), add("short re-grips", t.regrip_s), add("turning", t.turn_s),
        add("rail changes", t.rail_change_s);
    add("start and stop", t.start_stop_s), add("tether hooks", t.tether_s), add("load handling", t.load_s);
    line("  Time by cause    {}", fmt::join(causes, ", "));
  }

  void zones(const Route& route) {
    if (route.zones.empty()) return;
    line("  Zones within 1 m of the corridor, or entered:");
    for (const auto& contact : route.zones) {
      const auto& zone = c_.structure.zones[contact.zone.index()];
      std::string words = zone_note(contact);
      if (contact.inside_s <= 0) words += fmt::format(" ({})", zone.reason);
      if (contact.effect == model::ZoneEffect::Limit)
        words += fmt::format("; at most {} allowed", duration(zone.limit_s));
      out_ += "    - " + wrap(words, 6) + "\n";
    }
    if (route.caution_s > 0)
      line("    In caution zones altogether {} (whole moves are counted).", duration(route.caution_s));
  }

  void band(const Route& route) {
    if (route.band.empty()) return;
    const auto& design = c_.kit.design;
    out_ += "  " +
            wrap(fmt::format("Within {} of the way, where hardware must bear a kick of {:.0f} N ({}):",
                             length_up(c_.options, design.kick_band_m), design.kick_load_n.value,
                             design.kick_band_m.source),
                 4) +
            "\n";
    for (const auto& item : route.band)
      line("    - {}: {} away at row {}{}; {}", c_.structure.parts[item.part.index()].name,
           length_down(c_.options, item.distance_m), item.row,
           route.legs.size() > 1 ? fmt::format(" of leg {}", item.leg + 1) : "",
           item.no_touch ? (item.fragile ? "no touch, fragile" : "no touch") : "fragile");
  }

  void write_refusal(const NoRoute& refusal) {
    line("No route. Why not:");
    if (!a_.is_certain) line("  The search within the limit zones was cut short: a way may exist all the same.");
    for (std::size_t i = 0; i < refusal.causes.size(); ++i) {
      std::string words = sentence(c_, refusal.causes[i]);
      if (a_.request.via.size() > 0) words = fmt::format("Leg {}: {}", refusal.causes[i].leg + 1, words);
      out_ += fmt::format("  {}. ", i + 1) + wrap(words, 5) + "\n";
    }
    out_ += "\n";
  }

  void origin() {
    line("Assumed, with where it comes from:");
    for (const auto& used : a_.used) {
      std::string source = used.quantity.source;
      if (used.quantity.confidence == model::Confidence::Memory) source += "; from memory, verify";
      out_ += "  " +
              wrap(fmt::format("{:<33} {:>7.4g} {:<6} {}", used.name, used.quantity.value, used.unit, source), 50) +
              "\n";
    }
    line("Model {} (digest {}), engine {}.", c_.model_name, model::model_digest(c_.structure).substr(0, 12),
         c_.engine_version);
    out_ += wrap(fmt::format("Lengths and times are never less than computed on the model, clearances never more; "
                             "clearances are exact within {:.0f} mm.",
                             a_.clearance_tolerance_m * 1000),
                 0) +
            "\n";
    line("{}", caution);
  }

  const Context& c_;
  const Answer& a_;
  std::string out_;
};

}  // namespace

std::string text(const Context& context, const Answer& answer) { return RouteText(context, answer).write(); }

std::string text(const Context& context, const check::CheckResult& result) {
  std::string out;
  const auto& s = result.summary;
  out += fmt::format(
      "{}: {} parts, {} rails ({:.1f} m for hands), {} grips, {} open moves of {} within reach, {} places, {} zones, "
      "{} island{}\n",
      context.structure.name, s.parts, s.rails, s.rail_length_m, s.grips, s.open_moves, s.moves, s.places, s.zones,
      s.islands, s.islands == 1 ? "" : "s");
  out += fmt::format("  suit {}; {}\n", context.suit.id, configuration_words(result.configuration));
  std::array<std::size_t, 3> counts{};
  for (const auto& finding : result.findings) ++counts[static_cast<std::size_t>(finding.severity)];
  static constexpr const char* title[] = {"Errors", "Warnings", "Notes"};
  for (std::size_t severity = 0; severity < 3; ++severity) {
    if (counts[severity] == 0) continue;
    out += fmt::format("\n{} ({}):\n", title[severity], counts[severity]);
    for (const auto& finding : result.findings) {
      if (static_cast<std::size_t>(finding.severity) != severity) continue;
      out += "  " + wrap(sentence(context, finding), 4) + "\n";
      if (!finding.mark.file.empty())
        out += fmt::format("    {}:{}:{}  at {}\n", finding.mark.file, finding.mark.line, finding.mark.column,
                           point(finding.at));
    }
  }
  if (result.findings.empty()) out += "\nNothing to report.\n";
  out += fmt::format("\nModel {} (digest {}), engine {}.\n{}\n", context.model_name,
                     model::model_digest(context.structure).substr(0, 12), context.engine_version, caution);
  return out;
}

std::string text(const std::vector<model::Diagnostic>& diagnostics) {
  std::string out;
  for (const auto& diagnostic : diagnostics) out += diagnostic.text() + "\n";
  return out;
}

}  // namespace holdfast::report
