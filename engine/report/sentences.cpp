// SPDX-License-Identifier: GPL-3.0-or-later
// Why there is no route, and what is wrong in a model: one sentence each, used by text and JSON alike.

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <cmath>

#include "words_impl.h"

namespace holdfast::report {

using namespace detail;
using route::Cause;
using route::CauseKind;

namespace {

template <class Ids, class Things>
std::string names(const Ids& ids, const Things& things) {
  std::vector<std::string> list;
  for (const auto id : ids) list.push_back(things[id.index()].id);
  return fmt::format("{}", fmt::join(list, ", "));
}

std::string zone_words(const Context& context, const Cause& cause) {
  std::vector<std::string> list;
  for (const auto id : cause.zones) {
    const auto& zone = context.structure.zones[id.index()];
    list.push_back(fmt::format("{} ({})", zone.id, zone.reason));
  }
  return fmt::format("{}", fmt::join(list, ", "));
}

/// `every grip there lies`, `2 of its 5 grips lie`.
std::string share_words(const Cause& cause, const char* one, const char* several) {
  if (cause.grips == cause.grips_of) return fmt::format("every grip there {}", one);
  return fmt::format("{} of its {} grips {}", cause.grips, cause.grips_of, cause.grips == 1 ? one : several);
}

std::string body_of_sentence(const Context& context, const Cause& cause) {
  const auto& s = context.structure;
  const Options& options = context.options;
  const auto rail = [&](const std::optional<model::RailId>& id) {
    return id ? s.rails[id->index()].id : std::string("?");
  };
  const auto beside = [&] {
    return cause.part ? fmt::format(" beside {}", s.parts[cause.part->index()].name) : std::string();
  };
  const auto between = [&] {
    return cause.rail == cause.rail_other
               ? fmt::format("on rail {}", rail(cause.rail))
               : fmt::format("between rails {} and {}", rail(cause.rail), rail(cause.rail_other));
  };
  switch (cause.kind) {
    case CauseKind::NoGripNear:
      if (!cause.rail)
        return fmt::format("No grip is near {}: this configuration has no rails for hands at all", cause.place);
      return fmt::format("No grip is within {} of {} {}: the nearest is on rail {}, {} away",
                         length_down(options, cause.limit_m), cause.place, point(cause.at), rail(cause.rail),
                         length_up(options, cause.value_m));
    case CauseKind::InZone:
      return fmt::format("{} {} is in zone{} {}: {} inside{}", cause.place, point(cause.at),
                         cause.zones.size() == 1 ? "" : "s", zone_words(context, cause),
                         share_words(cause, "lies", "lie"), cause.zones.size() == 1 ? "" : " one of them");
    case CauseKind::OnClosedRails:
      if (cause.grips < cause.grips_of)
        return fmt::format("{} {} has no free grip: {} on closed rails ({})", cause.place, point(cause.at),
                           share_words(cause, "is", "are"), names(cause.rails, s.rails));
      return fmt::format("{} {} has grips on closed rails only: {}", cause.place, point(cause.at),
                         names(cause.rails, s.rails));
    case CauseKind::Reach:
      return fmt::format(
          "Out of reach: the rails that can be reached end at rail {} {}; the nearest beyond is rail {} {}, {} away, "
          "and a hand reaches {}. "
          "Hopping over whatever rails lie between, a gap of {} cannot be avoided",
          rail(cause.rail), point(cause.at), rail(cause.rail_other), point(cause.at_other),
          length_up(options, cause.value_m), length_down(options, cause.limit_m),
          length_up(options, cause.unavoidable_m));
    case CauseKind::TurnLimit:
      return fmt::format("A turn too far: {} {} the outward directions differ by {}, and one move turns {} at most",
                         between(), point(cause.at), degrees(cause.value_rad), degrees(cause.limit_rad));
    case CauseKind::HandLineBlocked:
      return fmt::format("Structure in the hand's way: {}{} {} stands between the grips", between(),
                         cause.part ? fmt::format(", {}", s.parts[cause.part->index()].name) : ", something",
                         point(cause.at));
    case CauseKind::BodyTooTight:
      if (!cause.place.empty())
        return fmt::format(
            "No room at {}: the widest corridor {} is {}, and the suit needs {}; {}{}", cause.place,
            cause.grips < cause.grips_of ? fmt::format("at {} of its {} grips", cause.grips, cause.grips_of) : "there",
            length_down(options, cause.value_m), length_up(options, cause.limit_m), point(cause.at), beside());
      return fmt::format(
          "Too tight for the suit: the widest corridor that passes is {}, and it needs {}; the pinch is {} {}{}",
          length_down(options, cause.value_m), length_up(options, cause.limit_m), between(), point(cause.at), beside());
    case CauseKind::LoadTooTight: {
      const auto* load = context.kit.find_load(cause.load);
      const model::Vec3 size = load ? model::Vec3(load->size_m) : model::Vec3::Constant(cause.limit_m);
      std::string words = fmt::format("Too tight for the load: {} of {} does not pass {} {}{}", cause.load,
                                      box_words(options, size, 1), between(), point(cause.at), beside());
      if (load && load->carrying_count() > 1)
        words += fmt::format(", in any of its {} manners of carrying", load->carrying_count());
      if (cause.up_to_moves > 0)
        words += fmt::format(". The load gets there in {}, after {} hand moves over {}", duration(cause.up_to_s),
                             cause.up_to_moves, length_up(options, cause.up_to_m));
      if (!cause.fraction) return words;
      const double percent = std::floor(100 * *cause.fraction);
      if (!cause.is_fraction_proven && *cause.fraction > 0)
        words += fmt::format(". One of {:.0f} % of it passes, {}; whether a larger one does is not settled", percent,
                             box_words(options, size, *cause.fraction));
      else if (!cause.is_fraction_proven)
        words += ". None of this shape was found to pass, however small";
      else if (*cause.fraction > 0)
        words += fmt::format(". The largest of this shape that passes on any route is {:.0f} % of it, {}", percent,
                             box_words(options, size, *cause.fraction));
      else
        words += ". Nothing of this shape passes, however small";
      return words;
    }
    case CauseKind::Zones:
      return fmt::format("{} in the way{}: {}, first met {} {}",
                         cause.zones.size() == 1 ? "A forbidding zone is" : "Forbidding zones are",
                         cause.load.empty() ? "" : fmt::format(" of load {}", cause.load), zone_words(context, cause),
                         between(), point(cause.at));
    case CauseKind::Closures:
      return fmt::format("{} in the way: {}, first met {}",
                         cause.rails.size() == 1 ? "A closed rail is" : "Closed rails are", names(cause.rails, s.rails),
                         point(cause.at));
    case CauseKind::ZoneTime:
      if (cause.value_s <= cause.limit_s)
        return fmt::format(
            "Too long in zone {}: a route stays {} or longer, and {} is allowed, but none was found that keeps this "
            "limit together with all others",
            zone_words(context, cause), duration(cause.value_s), duration_down(cause.limit_s));
      return fmt::format("Too long in zone {}: every route stays {} or longer, and {} is allowed",
                         zone_words(context, cause), duration(cause.value_s), duration_down(cause.limit_s));
    case CauseKind::Tether:
      if (!cause.zones.empty())
        return fmt::format(
            "The tether does not stay out of {}: pulled tight, its line enters there first with the hand "
            "at {}, and of the other paths and tether swaps that were tried none avoids it",
            zone_words(context, cause), point(cause.at));
      if (!std::isfinite(cause.value_m))
        return "No tether is long enough: from the grips that its line reaches freely at the start, the end cannot be "
               "reached";
      return fmt::format(
          "The tether is too short: wherever tether swaps are done, {} of it must be out somewhere, and it is {} long",
          length_up(options, cause.value_m), length_down(options, cause.limit_m));
  }
  return {};
}

/// Which rails are cut off, and from what.
std::string cut_off_words(const Options& options, const check::Finding& finding) {
  const bool is_from_hatch = finding.kind == check::FindingKind::UnreachableRail;
  if (finding.count > 1)
    return fmt::format("{} rails{}{}, such as {}: {}", finding.count, finding.partial > 0 ? " or parts of them" : "",
                       finding.pieces > 1 ? fmt::format(" in {} pieces", finding.pieces) : "", finding.subject,
                       is_from_hatch ? "no hatch can be reached from them" : "cut off from the rest");
  const auto part = finding.along_m ? fmt::format(" from {} to {} along", length_down(options, finding.along_m->first),
                                                  length_up(options, finding.along_m->second))
                                    : std::string();
  return fmt::format("rail {}{}{}: {}", finding.subject, part,
                     finding.pieces > 1 ? fmt::format(", in {} pieces", finding.pieces) : "",
                     is_from_hatch ? "no hatch can be reached from it" : "cut off from the rest");
}

/// What cuts them off.
std::string cut_words(const Context& context, const check::Finding& finding) {
  const Options& options = context.options;
  if (finding.causes.empty() || finding.causes.front().kind == CauseKind::Reach)
    return finding.other.empty()
               ? "; there is no other"
               : fmt::format("; the nearest rail outside is {}, {} away, and a hand reaches {}", finding.other,
                             length_up(options, finding.value), length_down(options, finding.limit));
  std::string words;
  for (const auto& cause : finding.causes)
    words += (words.empty() ? ". " : cause.opens_alone ? ". Or: " : ". And: ") + body_of_sentence(context, cause);
  return words;
}

}  // namespace

std::string sentence(const Context& context, const Cause& cause) {
  std::string words = body_of_sentence(context, cause) + ".";
  const bool can_be_waived = cause.kind != CauseKind::NoGripNear && cause.kind != CauseKind::Reach;
  if (cause.opens_alone && cause.kind == CauseKind::LoadTooTight)
    words += fmt::format(" If it passed there, the route would take {}.", duration(cause.then_time_s));
  else if (cause.opens_alone)
    words += fmt::format(" With {} waived, there is a route of {}.",
                         cause.zones.size() + cause.rails.size() > 1 ? "these together" : "this alone",
                         duration(cause.then_time_s));
  else if (can_be_waived && cause.then_time_s > 0)
    words += fmt::format(" Only together with the other causes named: then there is a route of {}.",
                         duration(cause.then_time_s));
  return words;
}

std::string detail::remedy_for_rail(const model::Structure& structure, model::RailId id) {
  const auto& rail = structure.rails[id.index()];
  // Parts are listed in structure.yaml alone; a rail from another file is a row of a table.
  if (rail.mark.file != structure.parts[rail.part.index()].mark.file)
    return fmt::format("correct its points in {}, or take that row out", rail.mark.file);
  const auto is_copy = [&](const model::Rail& other) {
    return other.id != rail.id && other.mark.line == rail.mark.line && other.mark.column == rail.mark.column &&
           other.mark.file == rail.mark.file;
  };
  if (rail.mark.line > 0 && std::any_of(structure.rails.begin(), structure.rails.end(), is_copy))
    return fmt::format("move it off the part, or leave that copy out with `skip: [{}]`",
                       rail.id.substr(rail.id.rfind('-') + 1));
  return "move it off the part, or say with `when:` in which configurations it is there";
}

std::string detail::set_aside_words(const Context& context, const check::BuriedRail& set_aside) {
  const auto& rail = context.structure.rails[set_aside.rail.index()];
  const std::string line = rail.mark.line > 0 ? fmt::format(" ({}:{})", rail.mark.file, rail.mark.line) : std::string();
  return fmt::format("rail {}{} runs into {} at {}, so no answer uses it; {}", rail.id, line,
                     context.structure.parts[set_aside.part.index()].id, point(set_aside.at),
                     remedy_for_rail(context.structure, set_aside.rail));
}

std::vector<std::string> set_aside_sentences(const Context& context) {
  std::vector<std::string> sentences;
  for (const auto& rail : context.set_aside) sentences.push_back(detail::set_aside_words(context, rail) + ".");
  return sentences;
}

std::string detail::finding_words(const Context& context, const check::Finding& finding) {
  using check::FindingKind;
  const Options& options = context.options;
  const auto up = [&](double metres) { return length_up(options, metres); };
  const auto down = [&](double metres) { return length_down(options, metres); };
  const std::string beside = finding.other.empty() ? "" : " beside " + finding.other;
  std::string words;
  switch (finding.kind) {
    case FindingKind::UnreachableRail:
    case FindingKind::Island:
      words = cut_off_words(options, finding) + cut_words(context, finding);
      break;
    case FindingKind::RailBehindZone:
      words = fmt::format("{}: every path from a hatch enters {} {}",
                          finding.count > 1
                              ? fmt::format("{} rails or parts of them, such as {}", finding.count, finding.subject)
                              : fmt::format("rail {}, or part of it", finding.subject),
                          finding.other.find(", ") == std::string::npos ? "zone" : "one of the zones", finding.other);
      break;
    case FindingKind::Gap:
      words = fmt::format("rails {} and {}: the gap between them is {}, and {} is the most that is allowed",
                          finding.subject, finding.other, up(finding.value), down(finding.limit));
      break;
    case FindingKind::RailTooClose:
      words = fmt::format("rail {}: {} clear under it, and a gloved hand needs {}{}", finding.subject,
                          short_length_down(options, finding.value), short_length_up(options, finding.limit),
                          finding.other.empty() ? "" : fmt::format(" ({})", finding.other));
      break;
    case FindingKind::RailInSolid:
      words = finding.value > 0
                  ? fmt::format("rail {}: {} of it lies inside {}", finding.subject, up(finding.value), finding.other)
                  : fmt::format("rail {}: it runs into {}", finding.subject, finding.other);
      if (const auto rail = context.structure.find_rail(finding.subject))
        words += fmt::format(", so no answer uses it; {}", remedy_for_rail(context.structure, *rail));
      break;
    case FindingKind::ShortRail:
      words = fmt::format("rail {}: {} long, and a hand's grip needs {}", finding.subject,
                          short_length_down(options, finding.value), short_length_up(options, finding.limit));
      break;
    case FindingKind::RailLoad:
      words = fmt::format("rail {}: load limit {:.0f} N, and {:.0f} N are required of a rail for hands",
                          finding.subject, finding.value, finding.limit);
      break;
    case FindingKind::NarrowCorridor:
      words = fmt::format("rail {}: no room for the suit at {} of its grips and steps: {} at the tightest{}, {} needed",
                          finding.subject, finding.count, down(finding.value), beside, up(finding.limit));
      break;
    case FindingKind::PlaceTooTight:
      words = fmt::format("place {}: no room for the suit at any of its {} grips: {} at most{}, {} needed",
                          finding.subject, finding.count, down(finding.value), beside, up(finding.limit));
      break;
    case FindingKind::PlaceWithoutGrip:
      words = fmt::format("place {}: no grip within {}; the nearest is {} away{}", finding.subject, down(finding.limit),
                          up(finding.value), finding.other.empty() ? "" : fmt::format(", on rail {}", finding.other));
      break;
    case FindingKind::ZoneSwallowsPlace:
      words = fmt::format("place {}: every grip there lies in {} {}", finding.subject,
                          finding.other.find(", ") == std::string::npos ? "zone" : "one of the zones", finding.other);
      break;
    case FindingKind::WorksiteHandholds:
      words = fmt::format("worksite {}: the nearest handhold is {} away, and {} is the most that is allowed",
                          finding.subject, up(finding.value), down(finding.limit));
      break;
    case FindingKind::WorksiteRoom:
      words = fmt::format("worksite {}: a body there has {} of clear diameter{}, and {} is required", finding.subject,
                          down(finding.value), beside, up(finding.limit));
      break;
    case FindingKind::SocketInSolid:
      words = fmt::format("socket {}: the point {} off it along its axis lies in {}: put it on a surface, axis outward",
                          finding.subject, up(finding.limit), finding.other);
      break;
    case FindingKind::SocketOffStructure:
      words = fmt::format("socket {}: no surface within {} of it", finding.subject, down(finding.limit));
      break;
    case FindingKind::RestraintCollides:
      words = fmt::format("socket {}: all {} settings of foot restraint {} collide; the least, by {}{}, with {}",
                          finding.subject, finding.count, finding.remark, finding.is_at_least ? "at least " : "",
                          up(finding.value), finding.other);
      break;
    case FindingKind::ViewInSolid:
      words = fmt::format(
          "view {}: the point {} off it along its direction lies in {}: put it on a surface, looking "
          "outward",
          finding.subject, up(finding.limit), finding.other);
      break;
    case FindingKind::MeshDefect:
      words = fmt::format("part {}: {}", finding.subject, finding.remark);
      break;
    case FindingKind::IgnoredColumn:
      words = finding.remark;
      break;
  }
  return words;
}

std::string sentence(const Context& context, const check::Finding& finding) {
  std::string words = finding_words(context, finding);
  if (finding.design) words += fmt::format(" [{}]", origin_words(*finding.design));
  return words;
}

}  // namespace holdfast::report
