// SPDX-License-Identifier: GPL-3.0-or-later
// A cable's run as a page, and many runs as a table.

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <cmath>
#include <limits>

#include "cable_words_impl.h"
#include "page_impl.h"
#include "words_impl.h"

namespace holdfast::report {

using namespace detail;
using cable::NoRunKind;

const char* detail::kind_name(NoRunKind kind) {
  switch (kind) {
    case NoRunKind::NoTieNear:
      return "no-tie-near";
    case NoRunKind::Gap:
      return "gap";
    case NoRunKind::NoSpan:
      return "no-span";
    case NoRunKind::TooTight:
      return "bend-too-tight";
    case NoRunKind::Zones:
      return "zones";
    case NoRunKind::KeepFree:
      return "keep-free";
    case NoRunKind::Separation:
      return "separation";
    case NoRunKind::Joint:
      return "moving-joint";
    case NoRunKind::OutOfReach:
      return "out-of-reach";
    case NoRunKind::NoRailThere:
      return "no-rail-there";
    case NoRunKind::NoCoil:
      return "no-coil";
  }
  return "";
}

const char* detail::kind_name(cable::NoCoil kind) {
  switch (kind) {
    case cable::NoCoil::Structure:
      return "structure";
    case cable::NoCoil::Zone:
      return "zone";
    case cable::NoCoil::KeepFree:
      return "keep-free";
    case cable::NoCoil::Laid:
      return "laid-cable";
    case cable::NoCoil::Standing:
      return "stowed-item";
    case cable::NoCoil::MovingPart:
      return "moving-part";
    case cable::NoCoil::NobodyBeside:
      return "nobody-beside";
  }
  return "";
}

namespace {

const char* hindrance_words(cable::NoCoil kind) {
  switch (kind) {
    case cable::NoCoil::Structure:
      return "it would stand in structure";
    case cable::NoCoil::Zone:
      return "it would stand in a zone that keeps cables or loads out";
    case cable::NoCoil::KeepFree:
      return "it would cover a rail that must stay free";
    case cable::NoCoil::Laid:
      return "a laid cable is too near";
    case cable::NoCoil::Standing:
      return "something is stowed there";
    case cable::NoCoil::MovingPart:
      return "a moving part comes there";
    case cable::NoCoil::NobodyBeside:
      return "no grip beside it leaves the body room";
  }
  return "";
}

}  // namespace

const char* detail::kind_name(cable::TieKind kind) {
  switch (kind) {
    case cable::TieKind::Rail:
      return "rail";
    case cable::TieKind::Clip:
      return "clip";
    case cable::TieKind::Connector:
      return "connector";
  }
  return "";
}

const char* detail::kind_name(cable::EdgeKind kind) {
  return kind == cable::EdgeKind::StandsOff ? "stands-off" : "padded";
}

const char* detail::aim_name(cable::Aim aim) {
  switch (aim) {
    case cable::Aim::Length:
      return "length";
    case cable::Aim::Ties:
      return "ties";
    case cable::Aim::Time:
      return "time";
  }
  return "";
}

const char* detail::outcome_name(const cable::CableAnswer& answer) {
  if (!answer.run()) return "no-run";
  if (!answer.verdict.is_long_enough()) return "too-short";
  if (answer.coil && answer.is_feasible()) return "coiled";
  return answer.is_feasible() ? "long-enough" : "not-layable";
}

std::string detail::tie_words(const cable::Tie& tie) {
  if (tie.kind == cable::TieKind::Rail) return fmt::format("rail {} at {:.2f} m", tie.id, tie.along_m);
  return fmt::format("{} {}", kind_name(tie.kind), tie.id);
}

route::AnswerHead detail::sources_of(const cable::CableAnswer& answer) {
  route::AnswerHead head;
  if (answer.laying) head = answer.laying->way;
  head.configuration = answer.configuration;
  head.suit = answer.suit;
  head.used.insert(head.used.begin(), answer.used.begin(), answer.used.end());
  return head;
}

route::AnswerHead detail::sources_of(const cable::CableTable& table) {
  route::AnswerHead head;
  for (const auto& row : table.rows) {
    const auto sources = sources_of(row);
    head.configuration = row.configuration, head.suit = row.suit;
    for (const auto& value : sources.used)
      if (std::none_of(head.used.begin(), head.used.end(), [&](const auto& known) {
            return known.name == value.name && known.quantity.value == value.quantity.value &&
                   known.quantity.source == value.quantity.source;
          }))
        head.used.push_back(value);
  }
  return head;
}

std::string sentence(const Context& context, const cable::NoRunCause& cause) {
  const auto& s = context.structure;
  const Options& options = context.options;
  const auto side = [&](const std::string& id, const model::Vec3& at) { return fmt::format("{} {}", id, point(at)); };
  const std::string first = cause.tie.empty() ? "" : fmt::format(", first at {}", side(cause.tie, cause.at));
  const auto names = [&](const auto& ids, const auto& things) {
    std::vector<std::string> words;
    for (const auto id : ids) words.push_back(things[id.index()].id);
    return fmt::format("{}", fmt::join(words, ", "));
  };
  std::string words;
  switch (cause.kind) {
    case NoRunKind::NoTieNear:
      if (cause.other.empty())
        return fmt::format("No tie: there is no rail for cables, and no clip, to begin at {}.", cause.end);
      words = fmt::format("No tie near {} {}: the nearest is {}, {} away, and a span is {} at most", cause.end,
                          point(cause.at), side(cause.tie == cause.end ? cause.other : cause.tie, cause.at_other),
                          length_up(options, cause.value_m), length_down(options, cause.limit_m));
      break;
    case NoRunKind::Gap:
      words = fmt::format(
          "A gap between ties: from {} to {} it is {}, and a span is {} at most; no other run has a "
          "smaller one",
          side(cause.tie, cause.at), side(cause.other, cause.at_other), length_up(options, cause.value_m),
          length_down(options, cause.limit_m));
      break;
    case NoRunKind::NoSpan:
      words = fmt::format("Nothing to lie on between ties {} and {}: ", side(cause.tie, cause.at),
                          side(cause.other, cause.at_other));
      if (cause.why == cable::NoSpanKind::StructureBetween)
        words += "structure is in between, and no path over its surface was found";
      else if (cause.why == cable::NoSpanKind::TooLong)
        words += fmt::format("over what is in between it is {}, and a span is {} at most",
                             length_up(options, cause.value_m), length_down(options, cause.limit_m));
      else
        words +=
            fmt::format("{} of it are open space, more than this cable may cross", length_up(options, cause.value_m));
      break;
    case NoRunKind::TooTight:
      if (cause.value_m <= 0)
        words = fmt::format("Bends too tight: the cable needs a radius of {}, and no run from {} keeps any",
                            short_length_up(options, cause.limit_m), side(cause.tie, cause.at));
      else
        words = fmt::format(
            "Bends too tight: the cable needs a radius of {}; {} is the largest that any run keeps, "
            "tightest at {}",
            short_length_up(options, cause.limit_m), short_length_down(options, cause.value_m),
            side(cause.tie, cause.at));
      break;
    case NoRunKind::Zones: {
      std::vector<std::string> zones;
      for (const auto zone : cause.zones)
        zones.push_back(fmt::format("{} ({})", s.zones[zone.index()].id, s.zones[zone.index()].reason));
      words = fmt::format("{} in the way: {}{}", zones.size() == 1 ? "A zone is" : "Zones are", fmt::join(zones, ", "),
                          first);
      break;
    }
    case NoRunKind::KeepFree:
      words = fmt::format("Rails that must stay free are in the way: {}{}", names(cause.rails, s.rails), first);
      break;
    case NoRunKind::Separation:
      words = fmt::format("A laid cable is in the way{}: {} required between them", first,
                          length_up(options, cause.limit_m));
      break;
    case NoRunKind::Joint: {
      std::vector<std::string> reasons;
      if (!cause.parts.empty()) reasons.push_back(fmt::format("no loop is stated for {}", names(cause.parts, s.parts)));
      for (const auto& into : cause.moves_into)
        reasons.push_back(fmt::format("{} moves into the cable when {}", s.parts[into.part.index()].id,
                                      configuration_words(into.changed)));
      words = fmt::format("A moving {} is in the way{}: {}", cause.moves_into.empty() ? "joint" : "part", first,
                          fmt::join(reasons, "; "));
      break;
    }
    case NoRunKind::OutOfReach:
      words = fmt::format("Nobody can tie it{}: not every tie is within {} of rails that hand moves connect", first,
                          length_down(options, cause.limit_m));
      break;
    case NoRunKind::NoRailThere:
      words = cause.tie.empty()
                  ? fmt::format("No rail for cables to tie a coil to at {}", side(cause.end, cause.at_other))
                  : fmt::format(
                        "No rail for cables to tie a coil to at {}: the nearest is {}, {} away, and the place "
                        "reaches {}",
                        side(cause.end, cause.at_other), side(cause.tie, cause.at), length_up(options, cause.value_m),
                        length_down(options, cause.limit_m));
      break;
    case NoRunKind::NoCoil: {
      std::vector<std::string> reasons;
      for (const auto kind : cause.hinders) reasons.emplace_back(hindrance_words(kind));
      words = fmt::format("No room at {} for the coil of what is left ({} by {} by {}), first at {}: {}", cause.end,
                          short_length_up(options, cause.size_m.x()), short_length_up(options, cause.size_m.y()),
                          short_length_up(options, cause.size_m.z()), side(cause.tie, cause.at),
                          fmt::join(reasons, "; elsewhere "));
      break;
    }
  }
  words += ".";
  if (cause.opens_alone && cause.kind == NoRunKind::TooTight)
    words += fmt::format(" A cable that bends so would need {}.", length_up(options, cause.then_m));
  else if (cause.opens_alone)
    words += fmt::format(" With this alone waived, there is a run that needs {}.", length_up(options, cause.then_m));
  return words;
}

namespace {

class CableText {
 public:
  CableText(const Context& context, const cable::CableAnswer& answer)
      : c_(context), a_(answer), cable_(*context.kit.find_cable(answer.cable)) {}

  std::string write() {
    write_head();
    if (const auto* run = a_.run())
      write_run(*run);
    else
      write_refusal();
    return out_ + "\n" + assumptions(c_, sources_of(a_));
  }

 private:
  std::string up(double metres) const { return length_up(c_.options, metres); }
  std::string down(double metres) const { return length_down(c_.options, metres); }

  void write_head() {
    paragraph(
        out_, "",
        fmt::format("{}: {} -> {}", c_.structure.name, place_name(c_, a_.request.from), place_name(c_, a_.request.to)),
        4);
    const char* aim = a_.request.aim == cable::Aim::Length ? "shortest run"
                      : a_.request.aim == cable::Aim::Ties ? "fewest ties"
                                                           : "least time to lay";
    paragraph(
        out_, "  ",
        fmt::format("{}, cable {}{}, suit {}; {}", aim, cable_.id, a_.request.goes_on ? " going on from its coil" : "",
                    a_.suit, configuration_words(c_.structure, a_.configuration)),
        2);
    out_ += "\n";
  }

  void write_refusal() {
    out_ += a_.is_certain ? "No run. Why not:\n" : "No run found; the search was cut short. Why not:\n";
    std::size_t number = 0;
    for (const auto& cause : a_.no_run()->causes)
      paragraph(out_, fmt::format("  {}. ", ++number), sentence(c_, cause), 5);
  }

  void write_run(const cable::CableRun& run) {
    write_verdict(run);
    write_ties(run);
    write_length(run);
    write_bends(run);
    write_passed(run);
    write_reach(run);
    write_stow();
    write_laid_before(run);
    write_coil();
    write_laying(run);
  }

  void write_verdict(const cable::CableRun& run) {
    const auto& v = a_.verdict;
    if (a_.coil)
      paragraph(out_, "",
                fmt::format("LONG ENOUGH to {}: {} used, {} left of the guaranteed length {}. No connector is mated at "
                            "the coil yet.",
                            a_.request.to, up(a_.coil->used_m), down(a_.coil->left_m), down(v.least_length_m)),
                2);
    else if (v.is_long_enough())
      paragraph(out_, "",
                fmt::format("LONG ENOUGH: {} required, guaranteed length {}, margin {}.", up(run.required_m),
                            down(v.least_length_m), down(v.margin_m)),
                2);
    else
      paragraph(out_, "",
                fmt::format("TOO SHORT by {}: {} required, guaranteed length {}.", up(-v.margin_m), up(run.required_m),
                            down(v.least_length_m)),
                2);
    if (!a_.is_certain) paragraph(out_, "", "The search was cut short: a better run may exist.", 2);
    out_ += "\n";
  }

  void write_ties(const cable::CableRun& run) {
    std::size_t width = 8;
    for (const auto& tie : run.ties) width = std::max(width, width_of(tie_words(tie.tie)));
    out_ += fmt::format("  {}                          mark           bend at the tie\n", pad_right("", width + 4));
    out_ += fmt::format("   #  {}  {}  on cable    span  turn   fits  spare\n", pad_right("fixed at", width),
                        pad_right("where", 22));
    for (std::size_t i = 0; i < run.ties.size(); ++i) {
      const auto& tie = run.ties[i];
      const bool is_end = is_connector(run, i);
      std::string bend;
      if (!is_end && !tie.radius_m) bend = fmt::format("  {:>4}", "-");
      if (tie.radius_m) {
        constexpr double ample_m = 10;
        const bool is_ample = *tie.radius_m >= ample_m;
        bend = fmt::format("  {:>4}  {:>5}  {:>5}", std::ceil(tie.turn_rad * 180 / EIGEN_PI - 1e-6),
                           is_ample ? ">10" : bare_length_down(*tie.radius_m),
                           is_ample ? "" : bare_length_down(std::max(0.0, *tie.radius_m - cable_.bend_radius_m())));
      }
      std::string line =
          fmt::format("  {:>2}  {}  {}  {:>8}  {:>6}{}", is_end ? "-" : std::to_string(i),
                      pad_right(tie_words(tie.tie), width), pad_right(point(tie.tie.at), 22), bare_length_up(tie.at_m),
                      i == 0 ? "" : bare_length_up(run.spans[i - 1].length_m), bend);
      line.erase(line.find_last_not_of(' ') + 1);
      out_ += line + "\n";
    }
    out_ += "\n";
  }

  void row(const char* name, const std::string& words) {
    constexpr std::size_t column = 20;
    paragraph(out_, fmt::format("  {:<{}}", name, column - 2), words, column);
  }

  void write_length(const cable::CableRun& run) {
    std::string words = fmt::format("{} in {} spans, slack {}", up(run.way_m), run.spans.size(),
                                    short_length_up(c_.options, run.slack_m));
    if (run.loops_m > 0) words += fmt::format(", loops {}", up(run.loops_m));
    words += fmt::format(", {} for both ends", up(run.ends_m));
    constexpr double told_m = 1e-3;
    if (run.more_m > told_m) words += fmt::format(", {} more used by what was laid before", up(run.more_m));
    row("Length", words);
  }

  void write_bends(const cable::CableRun& run) {
    std::string words =
        fmt::format("least radius {} ({:g} diameters of {:g} mm)", short_length_up(c_.options, cable_.bend_radius_m()),
                    cable_.bend_multiple.value, cable_.diameter_m * 1000);
    double least = std::numeric_limits<double>::infinity();
    std::size_t at = 0;
    for (std::size_t i = 0; i < run.ties.size(); ++i)
      if (run.ties[i].radius_m && *run.ties[i].radius_m < least) least = *run.ties[i].radius_m, at = i;
    if (std::isfinite(least))
      words += fmt::format("; tightest at tie {}, where {} would fit", at, short_length_down(c_.options, least));
    row("Bends", words);
    std::vector<std::string> edges;
    for (std::size_t i = 0; i < run.spans.size(); ++i)
      for (const auto& edge : run.spans[i].edges)
        edges.push_back(
            fmt::format("between {} and {} over an edge of {} {}: {}", mark(run, i), mark(run, i + 1),
                        c_.structure.parts[edge.part.index()].name, point(edge.at),
                        edge.kind == cable::EdgeKind::Padded ? "the edge must be padded" : "the cable stands off"));
    if (!edges.empty()) row("Edges", fmt::format("{}", fmt::join(edges, "; ")));
  }

  static bool is_connector(const cable::CableRun& run, std::size_t i) {
    return run.ties[i].tie.kind == cable::TieKind::Connector;
  }
  static std::string mark(const cable::CableRun& run, std::size_t i) {
    return is_connector(run, i) ? run.ties[i].tie.id : fmt::format("tie {}", i);
  }

  void write_passed(const cable::CableRun& run) {
    for (std::size_t i = 0; i < run.spans.size(); ++i)
      if (run.spans[i].joint)
        row("Moving joint",
            fmt::format("between {} and {} onto {}: a loop of {}; lead it so that it twists and does not bend "
                        "(FAA AC 43.13-1B)",
                        mark(run, i), mark(run, i + 1), c_.structure.parts[run.spans[i].joint->index()].name,
                        up(run.spans[i].loop_m)));
    const auto& parts = c_.structure.parts;
    if (std::any_of(parts.begin(), parts.end(), [](const auto& part) { return !part.articulated_by.empty(); }))
      row("Moving parts", "looked at in their named positions, not in between");
    for (const auto& passed : run.zones) {
      const auto& zone = c_.structure.zones[passed.zone.index()];
      row("Zones", fmt::format("{} inside caution zone {}: {}", up(passed.inside_m), zone.id, zone.reason));
    }
    if (!run.own_crossings.empty()) {
      std::vector<std::string> places;
      for (const auto& at : run.own_crossings) places.push_back(point(at));
      row("Lies on itself", fmt::format("at {}", fmt::join(places, ", ")));
    }
    for (const auto& laid : a_.request.laid) {
      std::vector<std::string> places;
      for (const auto& crossing : run.crossings)
        if (crossing.laid == laid.name) places.push_back(point(crossing.at));
      row("Laid cable", places.empty()
                            ? fmt::format("does not cross {}", laid.name)
                            : fmt::format("crosses {} {} at {}", laid.name,
                                          places.size() == 1 ? "once" : fmt::format("{} times", places.size()),
                                          fmt::join(places, ", ")));
    }
  }

  void write_reach(const cable::CableRun& run) {
    if (!a_.reaches) return;
    const auto& r = *a_.reaches;
    row("It reaches", r.tie == 0 ? std::string("no tie of this run")
                                 : fmt::format("{}, {}, {}", mark(run, r.tie), tie_words(run.ties[r.tie].tie),
                                               point(run.ties[r.tie].tie.at)));
    std::vector<std::string> pairs;
    for (const auto& pair : r.serves)
      pairs.push_back(fmt::format("{} - {} ({})", pair.from, pair.to, up(pair.required_m)));
    row("It could serve",
        pairs.empty() ? std::string("no pair of connectors") : fmt::format("{}", fmt::join(pairs, ", ")));
  }

  void write_stow() {
    if (!a_.stow) return;
    const auto& s = *a_.stow;
    if (s.turns > 0)
      row("Left over",
          fmt::format("{}: {} {} of a coil of {} radius between {} and {}, {} from {}", down(s.surplus_m), s.turns,
                      s.turns == 1 ? "turn" : "turns", short_length_up(c_.options, s.coil_radius_m),
                      tie_words(s.ties[0]), tie_words(s.ties[1]), up(s.from_end_m), s.end));
    else if (s.surplus_m < 2 * EIGEN_PI * cable_.bend_radius_m())
      row("Left over",
          fmt::format("{}: less than one turn of a coil; take it up in wider bows between ties", down(s.surplus_m)));
    else
      row("Left over",
          fmt::format("{}: no two ties near an end hold a coil of the least bend radius", down(s.surplus_m)));
  }

  void write_laid_before(const cable::CableRun& run) {
    if (run.laid_ties == 0) return;
    row("Laid before",
        fmt::format("as far as {}, {} used ({}); zones and rails kept free are not looked at again there",
                    mark(run, run.laid_ties - 1), up(run.ties[run.laid_ties - 1].at_m), a_.request.goes_on->name));
  }

  void write_coil() {
    if (!a_.coil) return;
    const auto& coil = *a_.coil;
    row("Coil", fmt::format("at {}, tied to {} {}: {} {}, {} by {} by {} at most; it takes the rail there", coil.place,
                            tie_words(coil.tie), point(coil.tie.at), coil.size.turns,
                            coil.size.turns == 1 ? "turn" : "turns", short_length_up(c_.options, coil.size.size_m.x()),
                            short_length_up(c_.options, coil.size.size_m.y()),
                            short_length_up(c_.options, coil.size.size_m.z())));
    std::vector<std::string> enough, not_enough, no_run;
    for (const auto& on : coil.onward) {
      const std::string name = on.is_meant ? on.connector + " (in the kit)" : on.connector;
      if (!on.required_m)
        no_run.push_back(on.is_certain ? name : name + " (the search was cut short)");
      else if (on.margin_m >= 0)
        enough.push_back(fmt::format("{}, margin {}", name, down(on.margin_m)));
      else
        not_enough.push_back(fmt::format("{}, {} short", name, up(-on.margin_m)));
    }
    const auto list = [](const std::vector<std::string>& words) { return fmt::format("{}", fmt::join(words, "; ")); };
    row("Left", fmt::format("{}, enough for {}", down(coil.left_m), enough.empty() ? "no connector" : list(enough)));
    if (!not_enough.empty()) row("Not enough", list(not_enough));
    if (!no_run.empty()) row("No run from there", list(no_run));
  }

  void write_laying(const cable::CableRun& run) {
    if (!a_.laying) return;
    const auto& laying = *a_.laying;
    const auto* way = laying.way.route();
    if (!way) {
      row("Laying", "nobody can lay this run:");
      for (const auto& cause : laying.way.no_route()->causes)
        paragraph(out_, "                    ", sentence(c_, cause), 20);
      return;
    }
    std::string words = fmt::format("{} in {} hand moves over {}: translation {}, ties {}", duration(laying.time_s),
                                    way->moves, up(way->distance_m), duration(way->time_s), duration(laying.ties_s));
    if (laying.connectors_s > 0) words += fmt::format(", connectors {}", duration(laying.connectors_s));
    if (laying.coils_s > 0) words += fmt::format(", coils {}", duration(laying.coils_s));
    if (!laying.way.loads.empty()) words += fmt::format("; paying out from {}", loads_words(laying.way.loads));
    if (laying.may_save_s > 0) words += fmt::format("; another run may save {} at most", duration(laying.may_save_s));
    row("Laying", words);
    out_ += "\n     so far  moves  path\n";
    const std::size_t first = run.laid_ties == 0 ? 0 : run.laid_ties - 1;
    double at_s = laying.begin_s;
    out_ += fmt::format("  {:>9}  {:>5}  {}\n", duration(at_s), 0,
                        first > 0 ? fmt::format("take up the coil at {}", mark(run, first))
                                  : fmt::format("mate {}", run.ties.front().tie.id));
    std::size_t moves = 0;
    for (std::size_t i = 0; i < way->legs.size(); ++i) {
      const auto& leg = way->legs[i];
      const bool is_last = i + 1 == way->legs.size();
      const std::size_t to = first + i + 1;
      const bool is_mated = is_last && is_connector(run, to);
      at_s += leg.time_s + (is_mated ? laying.end_s : cable_.tie_s + (is_last ? laying.end_s : 0));
      moves += leg.moves;
      std::vector<std::string> steps;
      for (const auto& step : leg.rows)
        if (step.moves > 0)
          steps.push_back(fmt::format("{} on {}", action(c_, step), c_.structure.rails[step.rail.index()].id));
      const std::string did = steps.empty() ? "from the same grip" : fmt::format("{}", fmt::join(steps, ", "));
      paragraph(out_, fmt::format("  {:>9}  {:>5}  ", duration(at_s), moves),
                fmt::format("{}; {}", did,
                            is_mated ? fmt::format("mate {}", run.ties.back().tie.id)
                                     : fmt::format("tie {} to {}{}", to, tie_words(run.ties[to].tie),
                                                   is_last ? "; coil the rest and tie it off" : "")),
                20);
    }
  }

  const Context& c_;
  const cable::CableAnswer& a_;
  const model::Cable& cable_;
  std::string out_;
};

}  // namespace

std::string text(const Context& context, const cable::CableAnswer& answer) {
  return CableText(context, answer).write();
}

std::string text(const Context& context, const cable::CableTable& table) {
  std::string out = fmt::format("{}: cables and the connectors that they join\n", context.structure.name);
  if (!table.rows.empty())
    paragraph(out, "  ",
              fmt::format("suit {}; {}", table.rows.front().suit,
                          configuration_words(context.structure, table.rows.front().configuration)),
              2);
  std::size_t cable_width = 5, pair_width = 10;
  const auto pair = [](const cable::CableAnswer& a) { return fmt::format("{} - {}", a.request.from, a.request.to); };
  for (const auto& a : table.rows)
    cable_width = std::max(cable_width, width_of(a.cable)), pair_width = std::max(pair_width, width_of(pair(a)));
  out += fmt::format("\n  {}  {}  required  guaranteed  margin  ties  to lay   verdict\n",
                     pad_right("cable", cable_width), pad_right("connectors", pair_width));
  for (const auto& a : table.rows) {
    const std::string start = fmt::format("  {}  {}", pad_right(a.cable, cable_width), pad_right(pair(a), pair_width));
    const std::string guaranteed = bare_length_down(a.verdict.least_length_m);
    const auto* run = a.run();
    if (!run) {
      out += fmt::format("{}  {:>8}  {:>10}  {:>6}  {:>4}  {:>7}  no run\n", start, "-", guaranteed, "-", "-", "-");
      continue;
    }
    const double margin = a.verdict.margin_m;
    const bool is_laid = a.laying && a.laying->way.route();
    out += fmt::format("{}  {:>8}  {:>10}  {:>6}  {:>4}  {:>7}  {}\n", start, bare_length_up(run->required_m),
                       guaranteed, margin >= 0 ? bare_length_down(margin) : "-" + bare_length_up(-margin),
                       run->ties.size() - 2, is_laid ? duration(a.laying->time_s) : "-",
                       margin < 0 ? "TOO SHORT"
                       : is_laid  ? "long enough"
                                  : "nobody can lay it");
  }
  for (const auto& a : table.rows)
    if (const auto* refusal = a.no_run())
      for (const auto& cause : refusal->causes)
        paragraph(out, fmt::format("\n  {}, {}: ", a.cable, pair(a)), sentence(context, cause), 4);
  return out + "\n" + assumptions(context, sources_of(table));
}

}  // namespace holdfast::report
