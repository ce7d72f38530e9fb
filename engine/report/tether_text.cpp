// SPDX-License-Identifier: GPL-3.0-or-later
#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>

#include "page_impl.h"
#include "words_impl.h"

namespace holdfast::report {

using namespace detail;
using tether::Loop;
using tether::Positioning;
using tether::TetherCheck;

namespace {

class TetherText {
 public:
  TetherText(const Context& context, const TetherCheck& check) : c_(context), s_(context.structure), t_(check) {}

  std::string write() {
    out_ = heading(c_, t_.head);
    write_verdict();
    write_marks();
    write_zones();
    write_swing();
    if (t_.loop) write_loop(*t_.loop);
    if (t_.is_left_open)
      line(
          "Whether it retracts without snagging was not looked at: no free line leads from the end of the path to its "
          "start.\n");
    if (t_.clean_return) write_return();
    if (t_.crossings) write_crossings();
    return out_ + assumptions(c_, t_.head);
  }

 private:
  const std::string& part(model::PartId id) const { return s_.parts[id.index()].name; }
  std::string up(double metres) const { return length_up(c_.options, metres); }
  std::string down(double metres) const { return length_down(c_.options, metres); }
  void line(std::string_view words, std::size_t indent = 2) { paragraph(out_, "", words, indent); }
  void item(std::string_view words) { paragraph(out_, "  - ", words, 4); }

  std::size_t mark_at(const tether::Station& at) const {
    for (std::size_t m = 0; m < t_.marks.size(); ++m)
      if (t_.marks[m].at.way == at.way && t_.marks[m].at.leg == at.leg && t_.marks[m].at.row == at.row) return m;
    return 0;
  }

  void write_verdict() {
    const double length = t_.tether->length_m;
    if (t_.fails_at) {
      const auto& mark = t_.marks[*t_.fails_at];
      line(fmt::format("Too short at waypoint {} ({}): pulled tight, {} must be out, and {} is {} long.", *t_.fails_at,
                       s_.rails[mark.rail.index()].id, up(mark.most_m), t_.tether->id, down(length)));
    } else if (t_.unsettled_at) {
      const auto& mark = t_.marks[*t_.unsettled_at];
      line(
          fmt::format("NOT SHOWN TO BE LONG ENOUGH at waypoint {} ({}): {} is {} long; the line was pulled in to {} "
                      "there and has not settled, it is up to {} too long.",
                      *t_.unsettled_at, s_.rails[mark.rail.index()].id, t_.tether->id, down(length), up(mark.most_m),
                      up(mark.most_m - mark.least_m)));
    } else {
      line(fmt::format("Long enough: pulled tight, at most {} of {} is out of {}.", up(t_.most_m), down(length),
                       t_.tether->id));
    }
    const double gone = std::max_element(t_.marks.begin(), t_.marks.end(), [](const auto& x, const auto& y) {
                          return x.gone_m < y.gone_m;
                        })->gone_m;
    if (gone > length)
      line(fmt::format(
          "Without a reel that takes in, the length of the path itself counts: up to {}, more than the tether has.",
          up(gone)));
    out_ += "\n";
  }

  void write_marks() {
    std::size_t rail_width = 4, hook_width = 4;
    for (const auto& mark : t_.marks) {
      rail_width = std::max(rail_width, width_of(s_.rails[mark.rail.index()].id));
      hook_width = std::max(hook_width, width_of(mark.hook));
    }
    out_ += fmt::format("  #     time  {}  {}  along m  tight m  spare m  bears on\n", pad_right("rail", rail_width),
                        pad_right("hook", hook_width));
    for (std::size_t m = 0; m < t_.marks.size(); ++m) {
      const auto& mark = t_.marks[m];
      if (m > 0 && mark.at.way != t_.marks[m - 1].at.way) out_ += "  " + t_.ways[mark.at.way] + "\n";
      std::vector<std::string> parts;
      for (const auto id : mark.bears_on) parts.push_back(part(id));
      const double spare = t_.tether->length_m - mark.most_m;
      const std::string row = fmt::format("{:>3}  {:>7}  {}  {}  {:>7}  {:>7}  {:>7}  ", m, duration(mark.at_s),
                                          pad_right(s_.rails[mark.rail.index()].id, rail_width),
                                          pad_right(mark.hook, hook_width), bare_length_up(mark.gone_m),
                                          bare_length_up(mark.most_m), spare < 0 ? "short" : bare_length_down(spare));
      paragraph(out_, row, parts.empty() ? "nothing" : fmt::format("{}", fmt::join(parts, ", ")), width_of(row));
    }
    out_ +=
        "  along: the path since the hook; tight: the line pulled tight, the most at any grip of the waypoint's row\n";
    for (std::size_t m = 0; m < t_.marks.size(); ++m)
      if (const double over = t_.marks[m].most_m - t_.marks[m].least_m; over > 0)
        line(fmt::format("Waypoint {}: not settled, the line is up to {} too long.", m, up(over)));
    out_ += "\n";
  }

  void write_zones() {
    for (const auto& stay : t_.zones) {
      const auto& zone = s_.zones[stay.zone.index()];
      std::string words =
          fmt::format("{}: on the path to waypoint {}", stay.is_allowed ? "CAUTION" : "NOT ALLOWED", stay.from_mark);
      std::size_t last = stay.from_mark;
      for (std::size_t m = 0; m < t_.marks.size(); ++m)
        if (std::find(t_.marks[m].zones.begin(), t_.marks[m].zones.end(), stay.zone) != t_.marks[m].zones.end())
          last = m;
      if (last != stay.from_mark) words += fmt::format(", and up to waypoint {},", last);
      words += fmt::format(" the line enters {} zone {}", effect_name(zone.effect), zone.id);
      if (zone.effect == model::ZoneEffect::Limit)
        words += fmt::format(", {} in all and at most {} is allowed", duration(stay.inside_s), duration(zone.limit_s));
      line(fmt::format("{}: {}", words, zone.reason));
    }
    if (!t_.zones.empty()) out_ += "\n";
  }

  void write_swing() {
    if (t_.swing.empty()) {
      line(
          "Who lets go strikes nothing that is fragile or must not be touched: none is within what is out of the "
          "tether.");
    } else {
      line("Who lets go may drift as far as the tether is out. Within that of the hook, and not to be struck:");
      for (const auto& swing : t_.swing)
        item(fmt::format("{}, {}: {} from {}, {}, from waypoint {} on", part(swing.part),
                         swing.no_touch ? (swing.fragile ? "no-touch and fragile" : "no-touch") : "fragile",
                         down(swing.distance_m), swing.hook,
                         swing.is_in_sight ? "in free sight of it" : "behind other structure", swing.from_mark));
    }
    out_ += "\n";
  }

  void write_loop(const Loop& loop) {
    if (loop.is_clean) {
      line(fmt::format("Retracts without snagging: the loop of {} comes in to {} by itself.", up(loop.gone_m),
                       up(loop.taut_m)));
    } else if (!loop.is_slide_known) {
      line(
          fmt::format("MAY SNAG: the loop of {} comes in, but how far it slides over structure between its strands is "
                      "not known:",
                      up(loop.gone_m)));
    } else if (loop.taut_m < tether::clean_loop_m) {
      line(fmt::format("SNAGGED: the loop of {} comes in, but has to slide over structure for that, and {} is allowed:",
                       up(loop.gone_m), down(tether::clean_loop_m)));
    } else if (!loop.is_settled) {
      line(
          fmt::format("MAY SNAG: out and back, the loop of {} was pulled in to {} when the search was cut short; it "
                      "then lay round",
                      up(loop.gone_m), up(loop.taut_m)));
    } else {
      line(fmt::format("SNAGGED: out and back, the loop of {} stays {} long, pulled tight, round", up(loop.gone_m),
                       up(loop.taut_m)));
    }
    for (const auto& hooked : loop.hooked) {
      std::string words = fmt::format("{}, at {}: ", part(hooked.part), point(hooked.at));
      if (!loop.is_slide_known)
        words += "between the strands; look at it there";
      else if (hooked.slide_m && loop.taut_m < tether::clean_loop_m)
        words += fmt::format("to come off it must be slid up to {} along", up(*hooked.slide_m));
      else if (hooked.slide_m)
        words += fmt::format("to come off it must be slid at least {} along", up(*hooked.slide_m));
      else
        words += fmt::format("it does not come off by sliding{}",
                             hooked.held_by ? fmt::format(", {} is in the way", part(*hooked.held_by)) : "");
      item(words);
    }
    for (const auto& turn : loop.turns)
      line(
          fmt::format("From waypoint {} to {} of the path back, go by the rails of the path out instead: with that the "
                      "tether retracts without snagging.",
                      mark_at(turn.from), mark_at(turn.to)));
    if (!loop.is_clean && loop.turns.empty())
      line("Going back by the rails of the path out, all of them, the tether retracts without snagging.");
    line("Looked at are parts alone: rails, handholds and laid cables may snag a tether besides.");
    out_ += "\n";
  }

  void write_return() {
    const auto& back = *t_.clean_return;
    const auto* route = back.answer.route();
    if (!back.loop || !route) {
      line(fmt::format("No path back on which the tether retracts without snagging was found among the {} tried.",
                       back.tried));
      out_ += "\n";
      return;
    }
    line(fmt::format(
        "Back so that the tether retracts without snagging{}: {} in {} hand moves over {} ({} tried, the quickest "
        "first)",
        back.is_way_out ? ", by the path out" : "", duration(route->time_s), route->moves, up(route->distance_m),
        back.tried));
    for (const auto& leg : route->legs)
      for (std::size_t r = 0; r < leg.rows.size(); ++r)
        paragraph(out_, fmt::format("{:>4}  ", r),
                  fmt::format("{}: {}", s_.rails[leg.rows[r].rail.index()].id, action(c_, leg.rows[r])), 6);
    out_ += "\n";
  }

  static std::string crossing_words(const tether::Crossing& event) {
    const char* one = event.second_moves ? "second" : "first";
    const char* other = event.second_moves ? "first" : "second";
    switch (event.passing) {
      case tether::Passing::Mover:
        return fmt::format("the {} mover, on row {} of the path, passes {} the {} mover's tether", one, event.at.row,
                           event.is_over ? "over" : "under", other);
      case tether::Passing::Line:
        return fmt::format(
            "the {} mover's tether, drawn along on row {} of the path, comes {}", one, event.at.row,
            event.is_over ? fmt::format("past the {} mover, outside of the body", other)
                          : fmt::format("against the {} mover, between body and structure: it is caught there", other));
      case tether::Passing::Hook:
        return fmt::format(
            "the {} mover's tether, drawn along on row {} of the path, comes over where the {} mover's is "
            "hooked on",
            one, event.at.row, other);
    }
    return {};
  }

  void write_crossings() {
    const auto& crossings = *t_.crossings;
    if (crossings.events.empty()) {
      line("The two tethers do not cross, nor does either come across the other mover.");
      out_ += "\n";
      return;
    }
    line("The two tethers cross. In the order of time:");
    for (std::size_t e = 0; e < crossings.events.size(); ++e) {
      const auto& event = crossings.events[e];
      item(
          fmt::format("{}. at {} {}, near {}", e + 1, duration(event.at_s), crossing_words(event), point(event.point)));
    }
    std::vector<std::string> order;
    for (const auto e : crossings.undo)
      order.push_back(
          fmt::format("the {} mover back past {}", crossings.events[e].second_moves ? "second" : "first", e + 1));
    line(fmt::format("To undo them, the last first: {}; each on the side on which they came.",
                     fmt::join(order, ", then ")));
    out_ += "\n";
  }

  const Context& c_;
  const model::Structure& s_;
  const TetherCheck& t_;
  std::string out_;
};

}  // namespace

std::string text(const Context& context, const TetherCheck& check) { return TetherText(context, check).write(); }

std::string detail::series_words(const tether::Series& series) {
  std::vector<std::string> ids;
  for (const auto* tether : series.tethers) ids.push_back(tether->id);
  return fmt::format("{}", fmt::join(ids, " + "));
}

std::string text(const Context& context, const Positioning& positioning) {
  const auto& options = context.options;
  std::string out = fmt::format("{}: tethers that hold {} at {}\n", context.structure.name, positioning.object,
                                point(positioning.at));
  paragraph(out, "  ", configuration_words(context.structure, positioning.head.configuration), 2);
  out += "\n";
  if (positioning.holds.empty())
    paragraph(out, "", "None reaches: no rail for tethers and no anchor is at the right distance in free sight.", 2);
  for (std::size_t s = 0; s < positioning.all.size(); ++s) {
    const auto& series = positioning.all[s];
    std::size_t width = 0, count = 0;
    for (const auto& hold : positioning.holds)
      if (hold.series == s) width = std::max(width, width_of(hold.hook.name)), ++count;
    if (count == 0) continue;
    paragraph(out, "",
              fmt::format("{}, {} to {} together:", series_words(series), length_up(options, series.least_m),
                          length_down(options, series.most_m)),
              2);
    for (const auto& hold : positioning.holds)
      if (hold.series == s)
        out += fmt::format("  {}  {}  from {}\n", pad_right(hold.hook.name, width), length_up(options, hold.distance_m),
                           point(hold.hook.at));
  }
  paragraph(out, "",
            "Each line is straight and free. Of a rail, the point nearest to the middle of what the tethers can be set "
            "to. As many of each tether are counted on as a series needs.",
            2);
  return out + "\n" + assumptions(context, positioning.head);
}

}  // namespace holdfast::report
