// SPDX-License-Identifier: GPL-3.0-or-later
#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <cmath>
#include <map>
#include <numbers>

#include "page_impl.h"
#include "reach_words_impl.h"
#include "words_impl.h"

namespace holdfast::report {

using namespace detail;
using reach::Hand;
using reach::Kind;
using reach::ReachAnswer;
using reach::SiteReach;
using reach::Station;
using reach::TargetReach;

namespace detail {

const char* kind_name(Kind kind) {
  switch (kind) {
    case Kind::TwoHand:
      return "two-hand";
    case Kind::OneHand:
      return "one-hand";
    case Kind::Forbidden:
      return "forbidden";
    case Kind::Blocked:
      return "blocked";
    case Kind::FacesAway:
      return "faces-away";
    case Kind::TooNear:
      return "too-near";
    case Kind::OutOfReach:
      return "out-of-reach";
    case Kind::NotThere:
      return "not-there";
  }
  return "";
}

const char* hand_name(Hand hand) { return hand == reach::Left ? "left" : "right"; }

std::string setting_words(const reach::Setting& s) {
  return fmt::format("roll {}, pitch {}, height {:.2f} m, yaw {}", degrees(s.roll_rad), degrees(s.pitch_rad),
                     s.height_m, degrees(s.yaw_rad));
}

std::string station_words(const Context& context, const Station& station) {
  if (station.setting) return setting_words(*station.setting);
  const auto& hold = *station.hold;
  return fmt::format("{} hand on rail {} at {:.2f} m, body axis turned {} deg from the rail", hand_name(hold.holds),
                     context.structure.rails[hold.rail.index()].id, hold.along_m,
                     hold.azimuth * 360 / reach::lean_count);
}

std::string obstacle_words(const Context& context, const reach::Obstacle& obstacle) {
  if (obstacle.zone) {
    const auto& zone = context.structure.zones[obstacle.zone->index()];
    return fmt::format("zone {} ({})", zone.id, zone.reason);
  }
  return obstacle.part ? context.structure.parts[obstacle.part->index()].name : "structure";
}

namespace {

std::string lean_words(const TargetReach& target) {
  if (!target.lean) return "";
  const int deg = *target.lean * 360 / reach::lean_count;
  if (deg == 0) return ", leaning forward";
  if (deg == 180) return ", leaning back";
  return deg < 180 ? fmt::format(", leaning {} deg to the left of forward", deg)
                   : fmt::format(", leaning {} deg to the right of forward", 360 - deg);
}

}  // namespace

std::string target_words(const Context& context, const TargetReach& target) {
  std::string words;
  switch (target.kind) {
    case Kind::TwoHand:
      words = "two hands" + lean_words(target) +
              fmt::format("; {} inside the zone", length_down(context.options, target.margin_lower_m));
      break;
    case Kind::OneHand:
      words = target.hand_reaches[reach::Left] && target.hand_reaches[reach::Right]
                  ? std::string("one hand, either")
                  : fmt::format("one hand, the {} one", hand_name(target.hand));
      words +=
          lean_words(target) + fmt::format("; {} inside the zone", length_down(context.options, target.margin_lower_m));
      break;
    case Kind::Forbidden:
      return "forbidden by " + obstacle_words(context, target.obstacle);
    case Kind::Blocked:
      return fmt::format("blocked by {} ({} arm{})", obstacle_words(context, target.obstacle), hand_name(target.hand),
                         lean_words(target));
    case Kind::FacesAway:
      return fmt::format("faces away: {} itself is in the way ({} arm{})", obstacle_words(context, target.obstacle),
                         hand_name(target.hand), lean_words(target));
    case Kind::TooNear:
      return "too near: within the body";
    case Kind::OutOfReach:
      return fmt::format("out of reach by {} ({} hand{})", length_up(context.options, target.short_m),
                         hand_name(target.hand), lean_words(target));
    case Kind::NotThere:
      return "not there in this configuration";
  }
  for (const auto zone : target.notes)
    words += fmt::format("; the hand is in {} zone {}", effect_name(context.structure.zones[zone.index()].effect),
                         context.structure.zones[zone.index()].id);
  if (!target.is_served) words += "; two are needed";
  return words;
}

std::string target_cell(const TargetReach& target) {
  switch (target.kind) {
    case Kind::TwoHand:
      return "2";
    case Kind::OneHand:
      return std::string("1") + (target.hand_reaches[reach::Left] ? "L" : "") +
             (target.hand_reaches[reach::Right] ? "R" : "");
    case Kind::Forbidden:
      return "forbidden";
    case Kind::Blocked:
      return "blocked";
    case Kind::FacesAway:
      return "faces away";
    case Kind::TooNear:
      return "too near";
    case Kind::OutOfReach:
      return bare_length_up(target.short_m) + " off";
    case Kind::NotThere:
      return "-";
  }
  return "";
}

std::string path_page(const Context& context, const route::Answer& head, const std::string& last) {
  const auto* route = head.route();
  if (!route) return refusal(context, head);
  std::string out;
  paragraph(out, "", fmt::format("Path from {} to rail {}:", place_name(context, head.request.from), head.request.to),
            2);
  out += brief_page(context, head, *route);
  if (!last.empty()) paragraph(out, "  ", last, 4);
  return out + "\n";
}

}  // namespace detail

namespace {

std::string counted(std::size_t count, const char* one) {
  return fmt::format("{} {}{}", count, one, count == 1 ? "" : "s");
}

bool is_better(const TargetReach& x, const TargetReach& y) {
  if (x.kind != y.kind) return x.kind < y.kind;
  return x.kind == Kind::OutOfReach ? x.short_m < y.short_m : x.margin_lower_m > y.margin_lower_m;
}

/// The best that a site's usable stations have of a target.
const TargetReach* best_for(const SiteReach& site, std::size_t target) {
  const TargetReach* best = nullptr;
  for (const auto& station : site.stations)
    if (station.is_usable() && (!best || is_better(station.targets[target], *best))) best = &station.targets[target];
  return best;
}

class ReachText {
 public:
  ReachText(const Context& context, const ReachAnswer& answer) : c_(context), s_(context.structure), a_(answer) {}

  std::string write(bool is_table) {
    write_heading(is_table);
    if (is_table)
      write_table();
    else
      for (const auto& site : a_.sites) write_site(site);
    write_smallest();
    if (a_.has_route) {
      const bool gets_in = a_.arrive_s && a_.sites.front().socket;
      out_ += path_page(c_, a_.head, gets_in ? fmt::format("In the restraint at {}.", duration(*a_.arrive_s)) : "");
    }
    return std::move(out_);
  }

 private:
  void line(std::string_view start, std::string_view words, std::size_t indent) {
    paragraph(out_, start, words, indent);
  }

  void write_heading(bool is_table) {
    std::string what = is_table ? "what is in reach from each socket"
                       : a_.sites.front().socket
                           ? "what is in reach from socket " + a_.sites.front().site
                           : "what is in reach by free hand at " + place_name(c_, a_.sites.front().site);
    line("", fmt::format("{}: {}", s_.name, what), 4);
    std::string how = fmt::format("suit {}", a_.head.suit);
    if (!a_.restraint.empty()) how += ", foot restraint " + a_.restraint;
    line("  ", fmt::format("{}; {}", how, configuration_words(s_, a_.head.configuration)), 2);
    out_ += "\n";
  }

  std::size_t target_width() const {
    std::size_t width = 0;
    for (const auto& target : a_.targets) width = std::max(width, width_of(target.text));
    return width;
  }

  // ---- all sites against all targets ------------------------------------------------------------------------------

  void write_table() {
    const std::size_t first = std::max(target_width(), width_of("no setting fits"));
    std::vector<std::size_t> widths;
    std::string head = "  " + pad_right("", first);
    for (const auto& site : a_.sites) {
      widths.push_back(std::max<std::size_t>(width_of(site.site), 10));
      head += "  " + pad_left(site.site, widths.back());
    }
    out_ += head + "\n";
    for (std::size_t t = 0; t < a_.targets.size(); ++t) {
      std::string row = "  " + pad_right(a_.targets[t].text, first);
      for (std::size_t i = 0; i < a_.sites.size(); ++i) {
        const auto* best = best_for(a_.sites[i], t);
        row += "  " + pad_left(best ? target_cell(*best) : "-", widths[i]);
      }
      out_ += row + "\n";
    }
    const auto add = [&](const char* label, auto&& value) {
      std::string row = "  " + pad_right(label, first);
      for (std::size_t i = 0; i < a_.sites.size(); ++i) row += "  " + pad_left(value(a_.sites[i]), widths[i]);
      out_ += row + "\n";
    };
    add("settings", [](const SiteReach& site) { return fmt::format("{}", site.stations.size()); });
    add("that fit", [](const SiteReach& site) { return fmt::format("{}", site.fitting()); });
    add("with a way in", [](const SiteReach& site) {
      return fmt::format("{}", std::count_if(site.stations.begin(), site.stations.end(),
                                             [](const Station& s) { return s.is_usable(); }));
    });
    out_ += "\n";
    line("  ",
         "2: two hands; 1L, 1R, 1LR: one hand, left, right or either; off: out of reach by so many metres; of the best "
         "setting that fits and has a way in.",
         2);
    for (const auto& site : a_.sites) {
      if (!site.is_there) line("  ", fmt::format("Socket {} is not there in this configuration.", site.site), 4);
      write_misfit(site);
    }
    out_ += "\n";
  }

  // ---- one site ---------------------------------------------------------------------------------------------------

  void write_misfit(const SiteReach& site) {
    if (site.is_off_structure)
      line("  ", fmt::format("Socket {} has no surface within 0.15 m: is its position right?", site.site), 4);
    if (!site.least_depth) return;
    const auto& least = *site.least_depth;
    const auto& station = site.stations[least.station];
    line("  ",
         fmt::format("{}: in every {} the body collides. The least, by {}{}, {} {}: {}.", site.site,
                     site.socket ? "setting" : "hold", least.depth.is_at_least ? "at least " : "",
                     length_up(c_.options, least.depth.value_m),
                     station.clearance.is_restraint ? "is of the restraint with" : "is with",
                     obstacle_words(c_, station.clearance.nearest), station_words(c_, station)),
         4);
  }

  void write_site(const SiteReach& site) {
    if (!site.is_there) {
      line("  ", fmt::format("Socket {} is not there in this configuration.", site.site), 4);
      out_ += "\n";
      return;
    }
    if (site.stations.empty()) {
      line("  ", "No grip with room for the body is within reach of this place.", 4);
      out_ += "\n";
      return;
    }
    write_misfit(site);
    if (site.best) write_best(site, site.stations[*site.best]);
    write_stations(site);
  }

  void write_best(const SiteReach& site, const Station& station) {
    const bool is_at_least = station.clearance.lower_m >= reach::most_clearance_m;
    line(
        "  ",
        fmt::format("Best {}: {}. It serves {} of {}; the body is {}{} clear of structure{}.",
                    site.socket ? "setting" : "hold", station_words(c_, station), station.served(),
                    counted(a_.targets.size(), "target"), is_at_least ? "at least " : "",
                    length_down(c_.options, station.clearance.lower_m),
                    station.clearance.nearest.part ? ", nearest " + obstacle_words(c_, station.clearance.nearest) : ""),
        4);
    const std::size_t width = target_width();
    for (std::size_t t = 0; t < a_.targets.size(); ++t)
      line("    " + pad_right(a_.targets[t].text, width) + "  ", target_words(c_, station.targets[t]), 6 + width);
    if (site.socket && station.way_in)
      line("  ",
           fmt::format(
               "In and out: the {} hand holds rail {} at {:.2f} m along it; the chest moves {} in a line clear of "
               "structure. The turn of the body in between is not checked.",
               hand_name(station.way_in->hand), s_.rails[station.way_in->rail.index()].id, station.way_in->along_m,
               length_up(c_.options, station.way_in->distance_m)),
           4);
    else if (site.socket)
      line("  ", "No way in: no hand in this setting has a grip with room for the body, and a clear line to it.", 4);
    for (const auto zone : station.notes)
      line("  ",
           fmt::format("The body is in {} zone {}: {}.", effect_name(s_.zones[zone.index()].effect),
                       s_.zones[zone.index()].id, s_.zones[zone.index()].reason),
           4);
    write_notes(site);
    out_ += "\n";
  }

  /// Design values from memory make notes, never verdicts.
  void write_notes(const SiteReach& site) {
    const auto& design = c_.kit.design;
    const double room = site.axis_distance_m - design.worksite_diameter_m.value / 2;
    if (room < 0)
      line(
          "  ",
          fmt::format("Note: structure comes {} into the clear cylinder of {:.2f} m about the body at a worksite [{}].",
                      length_up(c_.options, -room), design.worksite_diameter_m.value,
                      origin_words(design.worksite_diameter_m)),
          4);
    for (const Hand hand : reach::both_hands)
      if (!site.handhold_beside[hand])
        line("  ",
             fmt::format("Note: no grip within {:.2f} m of the chest on the {} [{}].", design.worksite_handhold_m.value,
                         hand_name(hand), origin_words(design.worksite_handhold_m)),
             4);
  }

  void write_stations(const SiteReach& site) {
    std::map<std::string, std::size_t> colliding;
    std::size_t fitting = 0, usable = 0;
    for (const auto& station : site.stations) {
      if (!station.fits())
        ++colliding[(station.clearance.is_restraint ? "the restraint with " : "") +
                    obstacle_words(c_, station.clearance.nearest)];
      fitting += station.fits() ? 1 : 0, usable += station.is_usable() ? 1 : 0;
    }
    std::string words =
        site.socket
            ? fmt::format("{}; {} fit, {} of them with a way in.", counted(site.stations.size(), "setting"), fitting,
                          usable)
            : fmt::format("{} looked at; in {} the body fits, in {} of them the hand that holds reaches its grip.",
                          counted(site.stations.size(), "hold"), fitting, usable);
    if (!colliding.empty()) {
      std::vector<std::string> with;
      for (const auto& [name, count] : colliding) with.push_back(fmt::format("{} with {}", count, name));
      words += fmt::format(" The others collide: {}.", fmt::join(with, ", "));
    }
    line("  ", words, 4);
    if (usable > 0) write_station_table(site);
    out_ += "\n";
  }

  void write_station_table(const SiteReach& site) {
    constexpr std::size_t most_columns = 5, most_rows = 60;
    const bool has_columns = a_.targets.size() <= most_columns;
    std::string head = site.socket ? "   roll  pitch  height   yaw  clear" : "  hand   clear";
    std::vector<std::size_t> widths;
    if (has_columns) {
      for (const auto& target : a_.targets) {
        widths.push_back(std::max<std::size_t>(width_of(target.text), 10));
        head += "  " + pad_left(target.text, widths.back());
      }
    } else {
      head += "  served  2 hands  1 hand  blocked  out of reach";
    }
    if (!site.socket) head += "  grip";
    out_ += "\n" + head + "\n";
    std::size_t rows = 0, left_out = 0;
    for (const auto& station : site.stations) {
      if (!station.fits() || !station.can_hold) continue;
      const bool reaches = std::any_of(station.targets.begin(), station.targets.end(),
                                       [](const TargetReach& t) { return t.is_reached(); });
      if (!reaches || rows >= most_rows) {
        ++left_out;
        continue;
      }
      ++rows;
      const double clear = std::floor(station.clearance.lower_m * 100 + 1e-9) / 100;
      std::string row;
      if (const auto& s = station.setting)
        row = fmt::format("  {:>5}  {:>5}  {:>6.2f}  {:>4}  {:>5.2f}", whole(s->roll_rad), whole(s->pitch_rad),
                          s->height_m, whole(s->yaw_rad), clear);
      else
        row = fmt::format("  {:<5}  {:>5.2f}", hand_name(station.hold->holds), clear);
      if (has_columns) {
        for (std::size_t t = 0; t < a_.targets.size(); ++t)
          row += "  " + pad_left(target_cell(station.targets[t]), widths[t]);
      } else {
        row +=
            fmt::format("  {:>6}  {:>7}  {:>6}  {:>7}  {:>12}", station.served(), station.count(Kind::TwoHand),
                        station.count(Kind::OneHand),
                        station.count(Kind::Blocked) + station.count(Kind::FacesAway) + station.count(Kind::Forbidden),
                        station.count(Kind::OutOfReach) + station.count(Kind::TooNear));
      }
      if (!station.is_usable()) row += "  no way in";
      if (station.hold)
        row += fmt::format("  {} at {:.2f} m, body axis {} deg", s_.rails[station.hold->rail.index()].id,
                           station.hold->along_m, station.hold->azimuth * 360 / reach::lean_count);
      out_ += row + "\n";
    }
    if (rows == 0) out_ += "  none of them has a target in reach\n";
    if (left_out > 0)
      line("  ",
           fmt::format("{} that fit are not listed: {}--csv and --json have all.", left_out,
                       rows < most_rows ? "nothing is in reach from them; " : ""),
           4);
  }

  static long whole(double radians) { return std::lround(radians * 180 / std::numbers::pi); }

  // ---- the smallest set -------------------------------------------------------------------------------------------

  void write_smallest() {
    const auto& set = a_.smallest;
    if (!set.members.empty() && (a_.targets.size() > 1 || a_.sites.size() > 1)) {
      const std::size_t served = a_.targets.size() - set.unserved.size();
      line("",
           fmt::format("Fewest {} that serve {} of {}: {}{}", a_.restraint.empty() ? "holds" : "settings", served,
                       counted(a_.targets.size(), "target"), set.members.size(),
                       set.is_smallest ? "" : fmt::format(" (not proven the fewest: {} at least)", set.at_least)),
           2);
      for (const auto& member : set.members) {
        std::vector<std::string> names;
        for (const auto t : member.serves) names.push_back(a_.targets[t].text);
        line("  ",
             fmt::format("{}, {}: {}", a_.sites[member.site].site,
                         station_words(c_, a_.sites[member.site].stations[member.station]), fmt::join(names, ", ")),
             4);
      }
      out_ += "\n";
    }
    if (!set.unserved.empty()) {
      std::vector<std::string> names;
      for (const auto t : set.unserved)
        names.push_back(a_.targets[t].text + (a_.targets[t].is_there ? "" : " (not there)"));
      line("", fmt::format("Not served with as many hands as they need: {}.", fmt::join(names, ", ")), 2);
      out_ += "\n";
    }
  }

  const Context& c_;
  const model::Structure& s_;
  const ReachAnswer& a_;
  std::string out_;
};

/// A point that a tether holds in front of the chest: nothing else has to hold it while both hands work.
void write_hold(const Context& context, const ReachAnswer& answer, const tether::HeldTarget& held, std::string& out) {
  constexpr std::size_t most = 5;
  const auto& site = answer.sites[held.site];
  const auto& positioning = held.positioning;
  const std::string where =
      fmt::format("{}, in the two-hand zone of {} of {} (as {})", answer.targets[held.target].text,
                  counted(held.stations, "setting"), site.site, station_words(context, site.stations[held.station]));
  if (positioning.holds.empty()) {
    paragraph(out, "", fmt::format("No tether holds something at {}.", where), 2);
  } else {
    paragraph(out, "", fmt::format("Something at {}, is held by:", where), 2);
    for (std::size_t h = 0; h < std::min(most, positioning.holds.size()); ++h) {
      const auto& each = positioning.holds[h];
      paragraph(out, "  ",
                fmt::format("{} from {}, {} away", series_words(positioning.all[each.series]), each.hook.name,
                            length_up(context.options, each.distance_m)),
                4);
    }
    if (positioning.holds.size() > most)
      paragraph(out, "  ", fmt::format("and {} more: see holdfast tether --hold", positioning.holds.size() - most), 4);
  }
  out += "\n";
}

void write_holds(const Context& context, const ReachPage& page, std::size_t answer, std::string& out) {
  bool has_any = false;
  for (const auto& hold : page.holds)
    if (hold.answer == answer) write_hold(context, page.answers[answer], hold.held, out), has_any = true;
  paragraph(out, "",
            has_any
                ? "Each tether line is straight and clear of structure; the figure and its arms are not tested against "
                  "it."
                : "No target is in the two-hand zone of a setting that fits and has a way in, so no tether holds one "
                  "there.",
            2);
  out += "\n";
}

}  // namespace

std::string text(const Context& context, const ReachPage& page) {
  std::string out;
  for (std::size_t i = 0; i < page.answers.size(); ++i) {
    const auto& answer = page.answers[i];
    out += ReachText(context, answer).write(page.is_table);
    if (page.asks_holds) write_holds(context, page, i, out);
  }
  if (page.answers.size() > 1)
    paragraph(out, "",
              "How a part moves from one position to the next is not checked: nobody may stand on it meanwhile.", 2);
  return out + assumptions(context, page.answers.front().head);
}

}  // namespace holdfast::report
