// SPDX-License-Identifier: GPL-3.0-or-later
#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <cmath>

#include "holdfast/graph/load_sweep.h"
#include "page_impl.h"
#include "words_impl.h"

namespace holdfast::report {

using namespace detail;
using route::Alternatives;
using route::Answer;
using route::LowerBound;
using route::NoRoute;
using route::Route;
using route::Row;

namespace {

constexpr std::size_t label_width = 20;  // of the lines of the summary

class RouteText {
 public:
  RouteText(const Context& context, const Answer& answer)
      : c_(context), s_(context.structure), h_(answer), a_(&answer) {}
  /// For what does not depend on the outcome: heading and assumptions.
  RouteText(const Context& context, const route::AnswerHead& head)
      : c_(context), s_(context.structure), h_(head), a_(nullptr) {}

  std::string write_choices(const Alternatives& choices) {
    write_heading();
    if (const auto* refusal = a_->no_route()) {
      write_refusal(*refusal);
    } else {
      write_choice_table(choices);
      for (std::size_t i = 0; i < choices.ways.size(); ++i) {
        paragraph("", fmt::format("Route {}: {}", i + 1, way_name(c_, choices.ways[i].mark)), 2);
        write_route(choices.ways[i].route);
      }
    }
    write_assumptions();
    return std::move(out_);
  }

  std::string write_brief() {
    write_heading();
    if (const auto* route = a_->route())
      write_brief_of(*route);
    else
      write_refusal(*a_->no_route());
    return end_brief();
  }

  std::string write_brief_of(const Alternatives& choices) {
    write_heading();
    if (const auto* refusal = a_->no_route()) {
      write_refusal(*refusal);
    } else {
      write_choice_table(choices);
      for (std::size_t i = 0; i < choices.ways.size(); ++i) {
        paragraph("", fmt::format("Route {}: {}", i + 1, way_name(c_, choices.ways[i].mark)), 2);
        write_brief_of(choices.ways[i].route);
      }
    }
    return end_brief();
  }

  std::string write_brief_alone(const Route& route) {
    write_brief_of(route);
    return std::move(out_);
  }

  std::string write_heading_alone() {
    write_heading();
    return std::move(out_);
  }
  std::string write_assumptions_alone() {
    write_assumptions();
    return std::move(out_);
  }
  std::string write_refusal_alone() {
    write_refusal(*a_->no_route());
    return std::move(out_);
  }

  std::string write() {
    write_heading();
    if (const auto* route = a_->route())
      write_route(*route);
    else
      write_refusal(*a_->no_route());
    write_assumptions();
    return std::move(out_);
  }

 private:
  void write_heading() {
    std::vector<std::string> stops = {place_name(c_, h_.request.from)};
    for (const auto& via : h_.request.via) stops.push_back(place_name(c_, via));
    stops.push_back(place_name(c_, h_.request.to));
    paragraph("", fmt::format("{}: {}", s_.name, fmt::join(stops, " -> ")), 4);
    std::string how =
        fmt::format("least {}{}, suit {}", objective_name(h_.request.by), h_.is_priced ? price_words : "", h_.suit);
    if (!h_.loads.empty())
      how += fmt::format(", load{} {}", h_.loads.size() == 1 ? "" : "s", fmt::join(h_.loads, " and "));
    if (!h_.request.tether.empty()) how += fmt::format(", tether {} from {}", h_.request.tether, h_.request.anchor);
    how += fmt::format("; {}", configuration_words(s_, h_.configuration));
    if (!h_.request.closed_rails.empty()) how += fmt::format("; closed: {}", fmt::join(h_.request.closed_rails, ", "));
    paragraph("  ", how, 2);
    out_ += "\n";
  }

  // ---- a route as it is told to the crew --------------------------------------------------------------------------

  void write_brief_of(const Route& route) {
    const auto sentences = brief_sentences(c_, route);
    const std::size_t width = std::to_string(sentences.size()).size();
    for (const auto& each : sentences) {
      const std::string number = fmt::format("  {:>{}}. ", each.stretch + 1, width);
      paragraph(number, each.text, number.size());
      for (const auto& note : each.notes) paragraph(std::string(number.size(), ' '), note, number.size() + 2);
    }
    out_ += "\n";
    std::string words = fmt::format("{} in {} over {}.", duration(route.time_s), hand_moves(route.moves),
                                    length_up(c_.options, route.distance_m));
    if (std::isfinite(route.clearance.value_m)) words += fmt::format(" Least clearance {}.", clearance_words(route));
    paragraph("", words, 2);
    write_certainty(route);
    out_ += "\n";
  }

  std::string end_brief() {
    out_ += caution;
    out_ += "\n";
    return std::move(out_);
  }

  // ---- a route ----------------------------------------------------------------------------------------------------

  void write_route(const Route& route) {
    for (std::size_t leg = 0; leg < route.legs.size(); ++leg) {
      const auto& l = route.legs[leg];
      if (route.legs.size() > 1)
        out_ +=
            fmt::format("Leg {}: {} -> {}, {} in {} over {}\n", leg + 1, place_name(c_, l.from), place_name(c_, l.to),
                        duration(l.time_s), hand_moves(l.moves), length_up(c_.options, l.distance_m));
      write_table(route, leg);
      out_ += "\n";
    }
    out_ += fmt::format("{} in {} over {}.\n", duration(route.time_s), hand_moves(route.moves),
                        length_up(c_.options, route.distance_m));
    if (a_->quicker) write_quicker(*a_->quicker);
    write_certainty(route);
    summary_line("Time by cause", time_words(route.time_by_cause));
    summary_line("Least clearance", clearance_words(route));
    if (route.load_clearance) summary_line("Room for the load", load_words(route));
    write_carried(route);
    if (route.tether) summary_line("Tether", tether_words(*route.tether));
    write_zones(route);
    write_band(route);
    out_ += "\n";
  }

  void write_certainty(const Route& route) {
    if (!a_->is_certain) paragraph("", "The search was cut short: a better route may exist.", 2);
    if (a_->may_save)
      paragraph("",
                fmt::format("Not proven the best: {}. A route that saves up to {} may exist.",
                            route.tether && h_.loads.empty()
                                ? "the tether's line enters a zone on the best, and others were tried until it did not"
                            : route.tether && !route.tether->swaps.empty()
                                ? "with loads, tether swaps are placed on the best route that there is without a tether"
                                : "the load in tow depends on so many last moves that not all could be told apart",
                            saving_words()),
                2);
  }

  void write_quicker(const route::Quicker& quicker) {
    std::vector<std::string> zones;
    for (const auto zone : quicker.zones) zones.push_back(s_.zones[zone.index()].id);
    paragraph("",
              fmt::format("A path of {} in {} over {} is quicker, with {} in caution zones{}: the price of that time "
                          "decided. --no-price gives it.",
                          duration(quicker.time_s), hand_moves(quicker.moves),
                          length_up(c_.options, quicker.distance_m), duration(quicker.caution_s),
                          zones.empty() ? "" : fmt::format(" (more in {})", fmt::join(zones, ", "))),
              2);
  }

  std::string saving_words() const {
    switch (h_.request.by) {
      case route::Objective::Time:
        return duration(*a_->may_save);
      case route::Objective::Distance:
        return length_up(c_.options, *a_->may_save);
      case route::Objective::Moves:
        return hand_moves(static_cast<std::size_t>(std::ceil(*a_->may_save)));
    }
    return {};
  }

  static std::string hand_moves(std::size_t count) {
    return fmt::format("{} hand move{}", count, count == 1 ? "" : "s");
  }

  /// One line a row; a line of its own for each part and face, and for what must be minded.
  void write_table(const Route& route, std::size_t leg_index) {
    const route::Leg& leg = route.legs[leg_index];
    std::size_t rail_width = 4, longest_what = 4;
    for (const auto& row : leg.rows) {
      rail_width = std::max(rail_width, width_of(s_.rails[row.rail.index()].id));
      longest_what = std::max(longest_what, width_of(action(c_, row)));
    }
    constexpr std::size_t other_columns = 64;
    const std::size_t room = page_width - other_columns - std::min(page_width - other_columns, rail_width);
    const std::size_t what_width = std::min(longest_what, std::max<std::size_t>(20, room));
    const std::size_t numbers_at = 5 + what_width + 2 + rail_width;
    out_ += fmt::format("{}    clearance               row              so far\n", std::string(numbers_at, ' '));
    out_ +=
        fmt::format("  #  {}  {}  {:>5} {:>5}  {:>6} {:>5} {:>7}  {:>6} {:>5} {:>7}\n", pad_right("what", what_width),
                    pad_right("rail", rail_width), "m", "spare", "m", "moves", "time", "m", "moves", "time");
    std::string told_where;
    bool has_at_least = false;
    for (std::size_t r = 0; r < leg.rows.size(); ++r) {
      const Row& row = leg.rows[r];
      if (const std::string where = where_words(c_, row); where != told_where) {
        out_ += "  " + where + "\n";
        told_where = where;
      }
      has_at_least = has_at_least || (row.clearance.is_at_least && std::isfinite(row.clearance.value_m));
      const std::string what = wrap(action(c_, row), 5, 5, 5 + what_width);
      const std::size_t first_end = std::min(what.find('\n'), what.size());
      out_ += fmt::format("{:>3}  {}  {}  {:>5} {:>5}  {:>6} {:>5} {:>7}  {:>6} {:>5} {:>7}\n", r,
                          pad_right(what.substr(0, first_end), what_width),
                          pad_right(s_.rails[row.rail.index()].id, rail_width), clearance_cell(row.clearance),
                          spare_cell(row.clearance), bare_length_up(row.distance_m), row.moves, duration(row.time_s),
                          bare_length_up(row.total_distance_m), row.total_moves, duration(row.total_time_s));
      if (first_end < what.size()) out_ += what.substr(first_end + 1) + "\n";
      for (const auto& note : notes(row)) paragraph("       ", note, 9);
      for (std::size_t i = 0; i < route.carried.size(); ++i)
        if (const auto& carried = route.carried[i];
            i >= h_.loads.size() && carried.leg == leg_index && carried.row == r)
          paragraph("       ", change_words(leg, carried), 9);
      if (route.tether)
        for (const auto& swap : route.tether->swaps)
          if (swap.leg == leg_index && swap.row == r) paragraph("       ", swap_words(leg, swap), 9);
    }
    if (has_at_least) out_ += "  + at least: there is more room than was looked for\n";
  }

  std::string change_words(const route::Leg& leg, const route::LoadCarried& carried) const {
    const bool is_at_end = (carried.at - leg.rows[carried.row].hand).norm() < 1e-6;
    return fmt::format("LOAD {}: carry {} {} from here on",
                       is_at_end ? "at the row's end" : "with the hand at " + point(carried.at), carried.load,
                       manner_words(carried));
  }

  /// Where on the row to swap the tether, and what is left behind.
  std::string swap_words(const route::Leg& leg, const route::TetherSwap& swap) const {
    const auto& row = leg.rows[swap.row];
    const auto& pose = leg.poses[swap.pose];
    const bool is_at_end = (pose.hand - row.hand).norm() < 1e-6;
    return fmt::format("TETHER {}: hook the next tether on to {} at {}, then let go of the one before, {} of it out",
                       is_at_end ? std::string("at the row's end") : "with the hand at " + point(pose.hand), swap.hook,
                       point(swap.at), length_up(c_.options, swap.out_before_m));
  }

  double spare_m(const LowerBound& bound) const { return spare_beyond(c_, bound).value_m; }
  std::string spare_cell(const LowerBound& bound) const { return clearance_cell(spare_beyond(c_, bound)); }

  std::vector<std::string> notes(const Row& row) const {
    std::vector<std::string> out = zone_notes(row);
    if (c_.options.coordinates) out.push_back(fmt::format("hand at {}", point(row.hand)));
    if (c_.options.imperial)
      out.push_back(fmt::format("row {}, so far {}, clearance {}", feet_and_inches_up(row.distance_m),
                                feet_and_inches_up(row.total_distance_m), feet_and_inches_down(row.clearance.value_m)));
    return out;
  }

 public:
  std::vector<std::string> zone_notes(const Row& row) const {
    std::vector<std::string> out;
    std::vector<std::string> near;
    for (const auto& contact : row.zones) {
      if (contact.inside_s > 0)
        out.push_back(detail::entered_words(c_, contact));
      else
        near.push_back(fmt::format("{} {} {}", zone_kind(contact), zone_of(contact).id,
                                   length_down(c_.options, contact.nearest_m)));
    }
    if (!near.empty()) out.push_back(fmt::format("near {}", fmt::join(near, ", ")));
    return out;
  }

 private:
  // ---- its summary ------------------------------------------------------------------------------------------------

  static std::string time_words(const route::TimeByCause& t) {
    std::vector<std::string> causes;
    const auto add = [&](const char* name, double seconds) {
      const double shown = std::ceil(seconds * 10 - 1e-4) / 10;
      if (shown > 0) causes.push_back(fmt::format("{} {:.1f} s", name, shown));
    };
    add("path at the rate", t.translate_s);
    add("short re-grips", t.regrip_s);
    add("turning", t.turn_s);
    add("rail changes", t.rail_change_s);
    add("start and stop", t.start_stop_s);
    add("tether hooks", t.tether_s);
    add("load handling", t.load_s);
    return causes.empty() ? "none" : fmt::format("{}", fmt::join(causes, ", "));
  }

  std::string clearance_words(const Route& route) const {
    if (!std::isfinite(route.clearance.value_m)) return "no structure near the path";
    std::string words = route.clearance.is_at_least ? "at least " : "";
    words += length_down(c_.options, route.clearance.value_m) + " from the body axis to ";
    words += route.clearance_part ? s_.parts[route.clearance_part->index()].name : std::string("structure");
    words += fmt::format(", body at {}; spare beyond the corridor {}", point(route.clearance_at),
                         length_down(c_.options, spare_m(route.clearance)));
    return words;
  }

  std::string load_words(const Route& route) const {
    const auto& least = *route.load_clearance;
    if (least.load.empty())
      return fmt::format("{} or more everywhere", length_down(c_.options, graph::clearance_headroom_m));
    std::string words = fmt::format(
        "{} between {} and {} at {}, at row {}", length_down(c_.options, least.clearance.value_m), least.load,
        least.part ? s_.parts[least.part->index()].name : std::string("structure"), point(least.at), least.row);
    if (route.legs.size() > 1) words += fmt::format(" of leg {}", least.leg + 1);
    return words;
  }

  /// How each load is carried, and where that changes.
  void write_carried(const Route& route) {
    const char* label = "Carried";
    for (const auto& id : h_.loads) {
      std::string words;
      for (const auto& carried : route.carried) {
        if (carried.load != id) continue;
        if (words.empty()) {
          words = fmt::format("{} {}", id, manner_words(carried));
          continue;
        }
        words += fmt::format("; {} from row {}", manner_words(carried), carried.row);
        if (route.legs.size() > 1) words += fmt::format(" of leg {}", carried.leg + 1);
        words += fmt::format(" on, {}", duration(carried.at_s));
      }
      if (!words.empty()) summary_line(label, words);
      label = "";
    }
  }

  std::string tether_words(const route::TetherUse& tether) const {
    std::string words =
        fmt::format("{} of {}, hooked on at {}: at most {} out along the path", tether.tether,
                    length_down(c_.options, tether.length_m), tether.anchor, length_up(c_.options, tether.most_m));
    if (!tether.swaps.empty())
      words += fmt::format(
          "; {} tether swap{}, each time the new hook first, so {} tethers are needed, and those left behind stay for "
          "the path back",
          tether.swaps.size(), tether.swaps.size() == 1 ? "" : "s", tether.swaps.size() + 1);
    return words + ". Pulled tight it is shorter: see `holdfast tether`.";
  }

  const model::Zone& zone_of(const route::ZoneContact& contact) const { return s_.zones[contact.zone.index()]; }

  void write_zones(const Route& route) {
    if (route.zones.empty()) return summary_line("Zones", "none entered, none near the corridor");
    const char* label = "Zones";
    for (const auto& contact : route.zones) {
      std::string words;
      if (contact.inside_s > 0) {
        words = detail::entered_words(c_, contact);
        if (contact.effect == model::ZoneEffect::Limit)
          words += fmt::format(" (at most {} allowed)", duration(zone_of(contact).limit_s));
      } else {
        words = fmt::format("{} {} {} from the corridor: {}", zone_kind(contact), zone_of(contact).id,
                            length_down(c_.options, contact.nearest_m), zone_of(contact).reason);
      }
      summary_line(label, words);
      label = "";
    }
    if (route.caution_s > 0)
      summary_line("",
                   fmt::format("in caution zones altogether {} (whole moves are counted){}", duration(route.caution_s),
                               route.price_s > 0 ? fmt::format(": a price of {}, not part of the time of the route",
                                                               duration(route.price_s))
                                                 : ""));
  }

  void write_band(const Route& route) {
    const auto& design = c_.kit.design;
    const std::string band = length_up(c_.options, design.kick_band_m);
    const std::string kick = fmt::format("{:.0f} N; {}", design.kick_load_n.value, origin_words(design.kick_load_n));
    if (route.band.empty())
      return summary_line("Kick band",
                          fmt::format("nothing fragile or no-touch within {} of the path ({})", band, kick));
    summary_line("Kick band", fmt::format("within {} of the path, where hardware must bear a kick ({}):", band, kick));
    for (const auto& item : route.band) {
      std::string words = fmt::format("- {} at row {}", detail::band_words(c_, item), item.row);
      if (route.legs.size() > 1) words += fmt::format(" of leg {}", item.leg + 1);
      summary_line("", words);
    }
  }

  // ---- several ways -----------------------------------------------------------------------------------------------

  void write_choice_table(const Alternatives& choices) {
    const auto& limits = choices.limits;
    paragraph(
        "",
        fmt::format(
            "{} of at most {} routes that differ, those along another side first: each at most {:.2f} times the "
            "best, at most {:.0f} % of it on rails of those before, and no detour within any stretch of {:.0f} % of "
            "the best. Criteria: Abraham, Delling, Goldberg and Werneck, 2013; the three numbers are this engine's "
            "choice.",
            choices.ways.size(), limits.most, limits.stretch, 100 * limits.sharing, 100 * limits.locally),
        2);
    const bool has_price =
        std::any_of(choices.ways.begin(), choices.ways.end(), [](const auto& way) { return way.route.price_s > 0; });
    if (has_price)
      paragraph("", "The best first by time and price of caution zones together; 'as long' compares these.", 2);
    out_ += fmt::format("  #     time{}  moves       m  least clearance  as long  shared  route\n",
                        has_price ? "    price" : "");
    for (std::size_t i = 0; i < choices.ways.size(); ++i) {
      const auto& way = choices.ways[i];
      const std::string row = fmt::format(
          "{:>3}  {:>7}{}  {:>5}  {:>6}  {:>15}  {:>7.2f}  {:>4.0f} %  ", i + 1, duration(way.route.time_s),
          has_price ? fmt::format("  {:>7}", duration(way.route.price_s)) : "", way.route.moves,
          bare_length_up(way.route.distance_m), clearance_cell(way.route.clearance),
          std::ceil(way.stretch * 100 - 1e-6) / 100, std::ceil(std::max(0.0, way.shared_fraction * 100 - 1e-6)));
      paragraph(row, way_name(c_, way.mark), row.size());
    }
    out_ += "\n";
  }

  // ---- no route ---------------------------------------------------------------------------------------------------

  void write_refusal(const NoRoute& refusal) {
    out_ += a_->is_certain ? "No route. Why not:\n" : "No route found. Why not:\n";
    for (std::size_t i = 0; i < refusal.causes.size(); ++i) {
      std::string words = sentence(c_, refusal.causes[i]);
      if (!h_.request.via.empty()) words = fmt::format("Leg {}: {}", refusal.causes[i].leg + 1, words);
      const std::string number = fmt::format("  {}. ", i + 1);
      paragraph(number, words, number.size());
    }
    // Where not even the body gets there, the rules are lifted for the body alone.
    const auto is_of_load = [](const route::Cause& cause) {
      return cause.kind == route::CauseKind::LoadTooTight || cause.kind == route::CauseKind::ZoneTime ||
             !cause.load.empty();
    };
    const auto gives_route = [](const route::Cause& cause) { return cause.then_time_s > 0; };
    if (!h_.loads.empty() && std::none_of(refusal.causes.begin(), refusal.causes.end(), is_of_load) &&
        std::any_of(refusal.causes.begin(), refusal.causes.end(), gives_route))
      paragraph("  ", "Routes with causes waived are for the body alone: whether the loads pass was not looked at.", 2);
    if (!a_->is_certain) paragraph("  ", "The search was cut short: a path may exist all the same.", 2);
    out_ += "\n";
  }

  // ---- where it all comes from ------------------------------------------------------------------------------------

  void write_assumptions() {
    for (const auto& rail : c_.set_aside) paragraph("SET ASIDE: ", set_aside_words(c_, rail) + ".", 2);
    if (!c_.set_aside.empty()) out_ += "\n";
    out_ += "Assumed, with sources:\n";
    write_used(out_, h_.used);
    for (const auto& id : h_.loads)
      if (const auto* load = c_.kit.find_load(id))
        paragraph("  ", fmt::format("box of {}: {}; kit file", id, carried_words(c_.options, *load)), 4);
    std::vector<std::string> files;
    for (const auto& file : s_.files) files.push_back(fmt::format("{} {}", file.path, file.sha256.substr(0, 8)));
    std::string words = fmt::format("Model {}, digest {}", c_.model_name, model::model_digest(s_).substr(0, 12));
    if (!files.empty()) words += fmt::format(" ({})", fmt::join(files, ", "));
    paragraph("", fmt::format("{}. Engine {}.", words, c_.engine_version), 2);
    paragraph("",
              fmt::format("Lengths and times are never less than the model gives, and are rounded up; clearances are "
                          "never more, at most {:.0f} mm less{}, and are rounded down.",
                          h_.clearance_tolerance_m * 1000, load_tolerance_words()),
              2);
    out_ += caution;
    out_ += "\n";
  }

  std::string load_tolerance_words() const {
    if (h_.loads.empty()) return "";
    return fmt::format(" (of loads {:.0f} mm, or more where a box in tow may roll)",
                       graph::load_measure_tolerance_m * 1000);
  }
  void paragraph(std::string_view start, std::string_view words, std::size_t indent) {
    detail::paragraph(out_, start, words, indent);
  }
  void summary_line(const std::string& label, const std::string& words) {
    paragraph("  " + pad_right(label, label_width - 2), words, label_width);
  }

  const Context& c_;
  const model::Structure& s_;
  const route::AnswerHead& h_;
  const Answer* const a_;  // null: a head alone
  std::string out_;
};

}  // namespace

std::string text(const Context& context, const Answer& answer) { return RouteText(context, answer).write(); }

std::string text(const Context& context, const Alternatives& choices) {
  return RouteText(context, choices.answer).write_choices(choices);
}

std::string detail::entered_words(const Context& context, const route::ZoneContact& contact) {
  const auto& zone = context.structure.zones[contact.zone.index()];
  return fmt::format("CAUTION: {} in {} {}: {}", duration(contact.inside_s), zone_kind(contact), zone.id, zone.reason);
}

const char* detail::zone_kind(const route::ZoneContact& contact) {
  switch (contact.effect) {
    case model::ZoneEffect::Forbid:
      return "keep-out zone";
    case model::ZoneEffect::Caution:
      return "caution zone";
    case model::ZoneEffect::Limit:
      return "limit zone";
  }
  return "zone";
}

std::string detail::band_words(const Context& context, const route::BandItem& item) {
  return fmt::format("{}, {}: {} away", context.structure.parts[item.part.index()].name,
                     item.no_touch ? (item.fragile ? "no-touch and fragile" : "no-touch") : "fragile",
                     length_down(context.options, item.distance_m));
}

std::string brief(const Context& context, const Answer& answer) { return RouteText(context, answer).write_brief(); }

std::string detail::brief_page(const Context& context, const Answer& answer, const Route& route) {
  return RouteText(context, answer).write_brief_alone(route);
}

std::string brief(const Context& context, const Alternatives& choices) {
  return RouteText(context, choices.answer).write_brief_of(choices);
}

std::string detail::heading(const Context& context, const route::AnswerHead& head) {
  return RouteText(context, head).write_heading_alone();
}
std::string detail::refusal(const Context& context, const Answer& answer) {
  return RouteText(context, answer).write_refusal_alone();
}
std::vector<std::string> zone_notes(const Context& context, const route::Row& row) {
  const Answer answer;
  return RouteText(context, answer).zone_notes(row);
}
std::string detail::assumptions(const Context& context, const route::AnswerHead& head) {
  return RouteText(context, head).write_assumptions_alone();
}

void detail::write_used(std::string& out, const std::vector<route::UsedValue>& all) {
  std::size_t name_width = 0;
  for (const auto& used : all) name_width = std::max(name_width, width_of(used.name));
  for (const auto& used : all) {
    const std::string start = fmt::format("  {}  {:>7} {:<5}  ", pad_right(used.name, name_width),
                                          fmt::format("{:.4g}", used.quantity.value), used.unit);
    std::string words = origin_words(used.quantity);
    if (const auto& spread = used.quantity.spread)
      words += fmt::format("; may well be {:.4g} to {:.4g}", spread->first, spread->second);
    detail::paragraph(out, start, words, width_of(start));
  }
}

void detail::add_used(std::vector<route::UsedValue>& all, route::UsedValue value, const std::string& whose) {
  const auto find = [&] {
    return std::find_if(all.begin(), all.end(), [&](const auto& k) { return k.name == value.name; });
  };
  if (const auto known = find(); known != all.end()) {
    if (known->quantity.value == value.quantity.value) return;
    value.name += ", " + whose;
    if (find() != all.end()) return;
  }
  all.push_back(std::move(value));
}

}  // namespace holdfast::report
