// SPDX-License-Identifier: GPL-3.0-or-later
// Pages that hold several ways against each other.

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <cmath>

#include "page_impl.h"
#include "words_impl.h"

namespace holdfast::report {

using namespace detail;

namespace {

std::string signed_duration(double seconds) {
  if (std::abs(seconds) < 0.5) return "as quick";
  return seconds > 0 ? "+" + duration(seconds) : "-" + duration(std::floor(-seconds + 1e-6));
}

/// A side; else the parts on which it holds rails of its own, beginning with the first of them. Empty where nothing
/// tells the way apart.
std::string mark_words(const Context& context, const route::WayMark& mark) {
  const auto& s = context.structure;
  if (mark.part) return fmt::format("over the {} side of {}", face_name(mark.face), s.parts[mark.part->index()].name);
  if (mark.rails.empty()) return "";
  std::vector<std::string> parts;
  for (const auto rail : mark.rails) {
    const auto& name = s.parts[s.rails[rail.index()].part.index()].name;
    if (std::find(parts.begin(), parts.end(), name) == parts.end()) parts.push_back(name);
  }
  const auto& first = s.rails[mark.rails.front().index()].id;
  return mark.rails.size() == 1 ? fmt::format("by rail {} of {}", first, parts.front())
                                : fmt::format("by other rails of {}, {} first", fmt::join(parts, " and "), first);
}

/// The first sentence of a cause, without what would open a way.
std::string stop_words(const Context& context, const route::Cause& cause) {
  const auto rail = [&](const std::optional<model::RailId>& id) {
    return id ? context.structure.rails[id->index()].id : std::string("?");
  };
  std::string words = fmt::format("on the first route {} is ", cause.load.empty() ? "the load" : cause.load);
  if (cause.kind == route::CauseKind::Zones) {
    words +=
        fmt::format("kept out by zone {}",
                    cause.zones.empty() ? std::string("?") : context.structure.zones[cause.zones.front().index()].id);
  } else {
    words += "too large";
  }
  words += cause.rail == cause.rail_other
               ? fmt::format(" at rail {}", rail(cause.rail))
               : fmt::format(" between rails {} and {}", rail(cause.rail), rail(cause.rail_other));
  if (cause.part) words += " beside " + context.structure.parts[cause.part->index()].name;
  if (cause.hand_from && cause.hand_to)
    words += fmt::format(", with the hand moved from {} to {}", point(*cause.hand_from), point(*cause.hand_to));
  else if (cause.hand_from)
    words += fmt::format(", drawn in with the hand at {}", point(*cause.hand_from));
  if (cause.kind == route::CauseKind::LoadTooTight)
    words += cause.fraction.value_or(0) > 0
                 ? fmt::format(": its longest side is {}, and {} would pass there",
                               length_up(context.options, cause.limit_m), length_down(context.options, cause.value_m))
                 : std::string(": nothing of its shape passes there");
  return words;
}

std::string without_stop(std::string sentence) {
  if (!sentence.empty() && sentence.back() == '.') sentence.pop_back();
  return sentence;
}

std::string sides_words(const Context& context, const std::vector<std::pair<model::PartId, route::Face>>& sides) {
  std::vector<std::string> words;
  for (const auto& [part, face] : sides) {
    const std::string side = fmt::format("{} {}", context.structure.parts[part.index()].name, face_name(face));
    if (std::find(words.begin(), words.end(), side) == words.end()) words.push_back(side);
  }
  return words.empty() ? "directly" : "over " + fmt::format("{}", fmt::join(words, ", "));
}

/// Stretch by stretch, only what differs; then the time over the rails that both hold.
std::string case_difference(const Context& context, const route::CompareRow& row, const route::Route& route,
                            const route::Route& first) {
  const auto rail = [&](model::RailId id) { return context.structure.rails[id.index()].id; };
  std::vector<std::string> parts;
  for (const auto& detour : row.detours)
    parts.push_back(fmt::format("{}{}: {} ({} rails) instead of {} ({} rails), {}",
                                detour.after ? "from rail " + rail(*detour.after) : std::string("from the start"),
                                detour.before ? " to rail " + rail(*detour.before) : std::string(" to the end"),
                                sides_words(context, detour.sides), detour.rails.size(),
                                sides_words(context, detour.first_sides), detour.first_rails.size(),
                                signed_duration(detour.time_s - detour.first_time_s)));
  if (parts.empty()) return "the same rails, " + signed_duration(route.time_s - first.time_s);
  if (std::abs(row.same_rails_s) >= 0.5)
    parts.push_back("the same rails elsewhere, " + signed_duration(row.same_rails_s));
  return fmt::format("{}; in all {}", fmt::join(parts, "; "), signed_duration(route.time_s - first.time_s));
}

}  // namespace

std::string detail::way_name(const Context& context, const route::WayMark& mark) {
  const std::string words = mark_words(context, mark);
  return words.empty() ? "over the same rails with other grips" : words;
}

std::string loads_words(const std::vector<std::string>& loads) {
  return loads.empty() ? "none" : fmt::format("{}", fmt::join(loads, " and "));
}

std::string detail::case_words(const route::Comparison& comparison, const route::CompareRow& row) {
  std::vector<std::string> words;
  const auto differs = [&](const auto& part_of) {
    return std::any_of(comparison.rows.begin(), comparison.rows.end(),
                       [&](const auto& other) { return part_of(other) != part_of(row); });
  };
  for (const auto& [id, position] : row.answer.configuration.positions)
    if (differs([&, id = id](const auto& other) {
          const auto& positions = other.answer.configuration.positions;
          const auto at = positions.find(id);
          return at == positions.end() ? std::string() : at->second;
        }))
      words.push_back(id + "=" + position);
  if (differs([](const auto& other) { return other.answer.suit; })) words.push_back("suit " + row.answer.suit);
  if (differs([](const auto& other) { return other.settings; })) {
    std::size_t own = 0;
    for (const auto& setting : row.settings)
      if (differs(
              [&](const auto& other) { return std::count(other.settings.begin(), other.settings.end(), setting) > 0; }))
        words.push_back(setting), ++own;
    if (own == 0) words.emplace_back("as in the files");
  }
  return fmt::format("{}", fmt::join(words, " "));
}

route::AnswerHead detail::sources_of(const route::Comparison& comparison) {
  route::AnswerHead sources = comparison.head;
  for (const auto& row : comparison.rows) {
    std::erase_if(sources.configuration.positions, [&](const auto& entry) {
      const auto at = row.answer.configuration.positions.find(entry.first);
      return at == row.answer.configuration.positions.end() || at->second != entry.second;
    });
    if (row.answer.suit != comparison.head.suit && sources.suit.find(row.answer.suit) == std::string::npos)
      sources.suit += " or " + row.answer.suit;
    for (const auto& used : row.answer.used) add_used(sources.used, used, case_words(comparison, row));
    for (const auto& load : row.answer.loads)
      if (std::find(sources.loads.begin(), sources.loads.end(), load) == sources.loads.end())
        sources.loads.push_back(load);
  }
  return sources;
}

std::string detail::difference(const Context& context, const route::Comparison& comparison, std::size_t index) {
  const auto& row = comparison.rows[index];
  const auto* route = row.answer.route();
  if (index == 0) {
    if (route) return "";
    return sentence(context, row.answer.no_route()->causes.front());
  }
  std::string words;
  if (row.not_as_first && row.way.empty())
    words = row.not_as_first->load.empty()
                ? "the first route is closed here: " + without_stop(sentence(context, *row.not_as_first)) + "; "
                : stop_words(context, *row.not_as_first) + "; ";
  if (row.first_rail_gone)
    words = fmt::format("rail {} of the first route is not there; ",
                        context.structure.rails[row.first_rail_gone->index()].id);
  if (!route) return words + "no route: " + sentence(context, row.answer.no_route()->causes.front());
  const auto* first = comparison.rows.front().answer.route();
  if (!first) return "a route where the first row has none";
  if (!case_words(comparison, row).empty()) return words + case_difference(context, row, *route, *first);
  const std::string here = mark_words(context, row.mark), there = mark_words(context, row.first_mark);
  if (row.goes_as_first)
    words += row.not_as_first ? "the same rails with other grips" : "the same rails";
  else if (!here.empty() && !there.empty())
    words += fmt::format("goes {} instead of {}", here, there);
  else if (!here.empty())
    words += "goes " + here;
  else if (!there.empty())
    words += "does not go " + there;
  else
    words += "the same rails with other grips";
  return words + ", " + signed_duration(route->time_s - first->time_s);
}

// ---- trade-offs -----------------------------------------------------------------------------------------------------

namespace {

char symbol_of(std::size_t way) {
  constexpr std::string_view symbols = "123456789abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ";
  return way < symbols.size() ? symbols[way] : '*';
}

/// Ways by time across and, upward, what is larger; a mark where several fall together is the first of them.
std::string chart(const std::vector<std::pair<double, double>>& points, const std::string& up, int decimals) {
  constexpr int width = 64, height = 10;
  double low_x = points[0].first, high_x = low_x, low_y = points[0].second, high_y = low_y;
  for (const auto& [x, y] : points)
    low_x = std::min(low_x, x), high_x = std::max(high_x, x), low_y = std::min(low_y, y), high_y = std::max(high_y, y);
  std::vector<std::string> lines(height, std::string(width, ' '));
  const auto place = [](double value, double low, double high, int cells) {
    return high > low ? static_cast<int>(std::lround((value - low) / (high - low) * (cells - 1))) : 0;
  };
  for (std::size_t i = points.size(); i-- > 0;) {
    const int column = place(points[i].first, low_x, high_x, width),
              line = place(points[i].second, low_y, high_y, height);
    lines[static_cast<std::size_t>(height - 1 - line)][static_cast<std::size_t>(column)] = symbol_of(i);
  }
  std::string out = fmt::format("  {}\n", up);
  for (int l = 0; l < height; ++l) {
    const std::string label = l == 0            ? fmt::format("{:.{}f}", high_y, decimals)
                              : l == height - 1 ? fmt::format("{:.{}f}", low_y, decimals)
                                                : std::string();
    out += fmt::format("  {:>7} |{}\n", label, lines[static_cast<std::size_t>(l)]);
  }
  out += fmt::format("          +{}\n", std::string(width, '-'));
  out += fmt::format("           {}{:>{}}\n", duration(low_x), duration(high_x), width - 7);
  return out;
}

}  // namespace

namespace {

/// What there is to choose from.
std::string trade_off_table(const Context& context, const route::TradeOffs& trade_offs) {
  std::string out;
  const auto& ways = trade_offs.ways;
  const auto& by = trade_offs.differ_by;
  std::size_t all = 0;
  for (const auto& way : ways) all += way.stands_for;
  const std::string steps =
      fmt::format("{:.0f} s, {:.0f} move{}, {:.2f} m of least clearance or {:.0f} s in caution zones", by.time_s,
                  by.moves, by.moves == 1 ? "" : "s", by.clearance_m, by.caution_s);
  const std::string looked_at = fmt::format(" {} partial routes were looked at.", trade_offs.labels);
  if (ways.size() == 1 && all == 1)
    paragraph(out, "",
              "1 route: it is best in time, hand moves, seconds in caution zones and least clearance." + looked_at, 2);
  else if (ways.size() == 1)
    paragraph(
        out, "",
        fmt::format("1 route: of the {} that are best in some mix of time, hand moves, seconds in caution zones and "
                    "least clearance, the others hold its rails or differ from it by no more than {}.{}",
                    all, steps, looked_at),
        2);
  else
    paragraph(
        out, "",
        fmt::format(
            "{} routes: each holds other rails than every other and lies more than {} apart from it. They stand for "
            "{} that are best in some mix of these; alike are those that differ less, and the quickest of "
            "them is shown.{}",
            ways.size(), steps, all, looked_at),
        2);
  if (trade_offs.is_cut_short)
    paragraph(
        out, "",
        fmt::format(
            "CUT SHORT: the limit of {} partial paths was reached; there may be more routes, and better ones. Ask "
            "for a shorter route, or for fewer limit zones.",
            trade_offs.most_labels),
        2);
  out += "\n  #     time  moves  in caution  least clearance       m  alike  beside the quickest\n";
  for (std::size_t i = 0; i < ways.size(); ++i) {
    const auto& route = ways[i].route;
    const std::string row =
        fmt::format("{:>3}  {:>7}  {:>5}  {:>10}  {:>15}  {:>6}  {:>5}  ", symbol_of(i), duration(route.time_s),
                    route.moves, duration(route.caution_s), bare_length_down(ways[i].clearance_m),
                    bare_length_up(route.distance_m), ways[i].stands_for - 1);
    paragraph(out, row, i == 0 ? "the quickest" : way_name(context, ways[i].mark), row.size());
  }
  return out + "\n";
}

}  // namespace

std::string text(const Context& context, const route::TradeOffs& trade_offs) {
  std::string out = heading(context, trade_offs.answer);
  if (trade_offs.answer.no_route())
    return out + refusal(context, trade_offs.answer) + assumptions(context, trade_offs.answer);
  out += trade_off_table(context, trade_offs);
  const auto& ways = trade_offs.ways;
  if (ways.size() > 1) {
    std::vector<std::pair<double, double>> moves, clearances;
    for (const auto& way : ways) {
      moves.emplace_back(way.route.time_s, static_cast<double>(way.route.moves));
      clearances.emplace_back(way.route.time_s, way.clearance_m);
    }
    const auto varies = [](const auto& points) {
      return std::any_of(points.begin(), points.end(),
                         [&](const auto& p) { return p.second != points.front().second; });
    };
    if (varies(moves)) out += chart(moves, "hand moves, against time", 0) + "\n";
    if (varies(clearances)) out += chart(clearances, "least clearance [m], against time", 2) + "\n";
  }
  return out + assumptions(context, trade_offs.answer);
}

std::string brief(const Context& context, const route::TradeOffs& trade_offs) {
  if (trade_offs.answer.no_route()) return brief(context, trade_offs.answer);
  std::string out = heading(context, trade_offs.answer) + trade_off_table(context, trade_offs);
  for (std::size_t i = 0; i < trade_offs.ways.size(); ++i) {
    const auto& way = trade_offs.ways[i];
    paragraph(out, "", fmt::format("Route {}: {}", symbol_of(i), i == 0 ? "the quickest" : way_name(context, way.mark)),
              2);
    out += brief_page(context, trade_offs.answer, way.route);
  }
  return out + std::string(caution) + "\n";
}

// ---- compare --------------------------------------------------------------------------------------------------------

std::string text(const Context& context, const route::Comparison& comparison) {
  route::AnswerHead shared = sources_of(comparison);
  shared.loads = comparison.head.loads;  // each row has its own
  std::string out = heading(context, shared);
  std::size_t name_width = 4, way_width = 0, case_width = 0;
  for (const auto& row : comparison.rows) {
    name_width = std::max(name_width, width_of(loads_words(row.loads)));
    case_width = std::max(case_width, width_of(case_words(comparison, row)));
    if (!row.way.empty()) way_width = std::max({way_width, width_of(row.way), std::size_t{3}});
  }
  const auto begin = [&](const std::string& way, const std::string& load, const std::string& in_case) {
    return "  " + (case_width > 0 ? pad_right(in_case, case_width) + "  " : std::string()) +
           (way_width > 0 ? pad_right(way, way_width) + "  " : std::string()) + pad_right(load, name_width);
  };
  out += fmt::format("{}     time       m  moves   body clear  load clear  in caution  least room\n",
                     begin("route", "load", "case"));
  for (const auto& row : comparison.rows) {
    std::string line = begin(row.way, loads_words(row.loads), case_words(comparison, row));
    const auto* route = row.answer.route();
    if (!route) {
      paragraph(out, line + "  ", "no route", line.size() + 2);
      continue;
    }
    const auto cell = [](const route::LowerBound& bound) {
      return std::isfinite(bound.value_m) ? bare_length_down(bound.value_m) + (bound.is_at_least ? "+" : "") : "open";
    };
    line +=
        fmt::format("  {:>7}  {:>6}  {:>5}  {:>11}  {:>10}  {:>10}  ", duration(route->time_s),
                    bare_length_up(route->distance_m), route->moves, cell(route->clearance),
                    route->load_clearance ? cell(route->load_clearance->clearance) : "-", duration(route->caution_s));
    const auto part = [&](const std::optional<model::PartId>& id) {
      return id ? context.structure.parts[id->index()].name : std::string("open");
    };
    std::string where = part(route->clearance_part);
    if (route->load_clearance && !route->load_clearance->load.empty())
      where += ", load at " + part(route->load_clearance->part);
    paragraph(out, line, where, line.size());
  }
  out += "\n";
  for (std::size_t r = 0; r < comparison.rows.size(); ++r) {
    const auto& row = comparison.rows[r];
    std::string words = difference(context, comparison, r);
    if (row.answer.may_save) words += " (not proven the best)";
    if (!row.answer.is_certain) words += " (the search was cut short: there may be more to find)";
    if (words.empty()) continue;
    std::string name = case_words(comparison, row);
    if (!row.way.empty()) name += (name.empty() ? "" : ", ") + row.way;
    if (name.empty() || !row.loads.empty()) name += (name.empty() ? "" : ", ") + loads_words(row.loads);
    paragraph(out, "  - ", fmt::format("{}: {}", name, words), 4);
    const auto* route = row.answer.route();
    if (!route) continue;
    for (const auto& contact : route->zones)
      if (contact.inside_s > 0) {
        const auto& zone = context.structure.zones[contact.zone.index()];
        paragraph(out, "    ",
                  fmt::format("CAUTION: {} in {} zone {}: {}", duration(contact.inside_s), effect_name(contact.effect),
                              zone.id, zone.reason),
                  6);
      }
  }
  out += "\n";
  return out + assumptions(context, sources_of(comparison));
}

// ---- weak points ----------------------------------------------------------------------------------------------------

namespace {

/// How many routes that share no rail lead to each place, and the fewest rails that cut it off.
std::string redundancy_table(const Context& context, const std::vector<route::Redundancy>& redundancy) {
  if (redundancy.empty()) return {};
  const auto& s = context.structure;
  std::string out = "Routes from the hatches that share no rail, and the fewest rails whose loss cuts a place off:\n";
  std::size_t width = 5;
  for (const auto& row : redundancy) width = std::max(width, width_of(s.places[row.place.index()].id));
  for (const auto& row : redundancy) {
    std::vector<std::string> rails;
    for (const auto rail : row.smallest_cut) rails.push_back(s.rails[rail.index()].id);
    const std::string start = fmt::format("  {}  {:>5}  ", pad_right(s.places[row.place.index()].id, width),
                                          row.disjoint_at_least == row.disjoint_at_most
                                              ? std::to_string(row.disjoint_at_most)
                                              : fmt::format("{}..{}", row.disjoint_at_least, row.disjoint_at_most));
    paragraph(
        out, start,
        fmt::format("{}{}", fmt::join(rails, ", "), row.is_smallest ? "" : " (fewer may do: the search was cut short)"),
        start.size());
  }
  return out + "\n";
}

}  // namespace

std::string text(const Context& context, const route::WeakPoints& weak) {
  const auto& s = context.structure;
  std::string out = fmt::format("{}: weak points\n  suit {}; {}\n\n", s.name, weak.head.suit,
                                configuration_words(s, weak.head.configuration));
  if (weak.hatches.empty()) {
    out += "No hatch can be reached from its own rails, so nothing can be cut off.\n\n";
  } else if (weak.rails.empty()) {
    paragraph(out, "",
              fmt::format("No single rail cuts off any of the {} places that are reached from {}.",
                          weak.reachable.size(), fmt::join(weak.hatches, ", ")),
              2);
    out += "\n";
  } else {
    paragraph(out, "",
              fmt::format("{} rail{} whose loss cuts places off from {}, of {} places reached:", weak.rails.size(),
                          weak.rails.size() == 1 ? "" : "s", fmt::join(weak.hatches, ", "), weak.reachable.size()),
              2);
    std::size_t width = 4;
    for (const auto& rail : weak.rails) width = std::max(width, width_of(s.rails[rail.rail.index()].id));
    for (const auto& rail : weak.rails) {
      std::vector<std::string> places;
      for (const auto place : rail.cut_off) places.push_back(s.places[place.index()].id);
      const std::string start = "  " + pad_right(s.rails[rail.rail.index()].id, width) + "  ";
      paragraph(out, start, fmt::format("{}", fmt::join(places, ", ")), start.size());
    }
    out += "\n";
  }
  out += redundancy_table(context, weak.redundancy);
  if (const auto* route = weak.answer ? weak.answer->route() : nullptr) {
    out += fmt::format("Closing a rail of the best route {} -> {} ({}):\n", weak.head.request.from,
                       weak.head.request.to, duration(route->time_s));
    std::size_t width = 4;
    for (const auto& cost : weak.closing) width = std::max(width, width_of(s.rails[cost.rail.index()].id));
    for (const auto& cost : weak.closing)
      out += fmt::format(
          "  {}  {}\n", pad_right(s.rails[cost.rail.index()].id, width),
          cost.time_s ? fmt::format("{}, {}", duration(*cost.time_s), signed_duration(*cost.time_s - route->time_s))
                      : std::string("no path left"));
    out += "\n";
  } else if (weak.answer) {
    out += fmt::format("No route {} -> {} to begin with:\n", weak.head.request.from, weak.head.request.to) +
           refusal(context, *weak.answer);
  }
  return out + assumptions(context, weak.head);
}

}  // namespace holdfast::report
