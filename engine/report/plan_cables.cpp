// SPDX-License-Identifier: GPL-3.0-or-later
#include "plan_cables_impl.h"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <vector>

#include "page_impl.h"
#include "words_impl.h"

namespace holdfast::report::detail {

using plan::Plan;
using plan::Row;
using plan::Violation;
using plan::ViolationKind;
using plan::What;

namespace {

bool is_laying(const Plan& plan, const Row& row) {
  if (!row.crew || !row.action) return false;
  const auto& actions = plan.excursion->crew[row.crew->index()].actions;
  if (*row.action >= actions.size() || actions[*row.action].kind != model::ActionKind::Lay) return false;
  return row.what == What::Go || row.what == What::Mate || row.what == What::Tie || row.what == What::Coil ||
         row.what == What::TakeUp;
}

/// The same crew member's row before or after, in the order of the plan.
std::optional<std::size_t> neighbour(const Plan& plan, std::size_t row, bool is_after) {
  for (std::size_t r = row; is_after ? r + 1 < plan.rows.size() : r > 0;) {
    r = is_after ? r + 1 : r - 1;
    if (plan.rows[r].crew == plan.rows[row].crew) return r;
  }
  return std::nullopt;
}

bool goes_together(const Plan& plan, std::size_t a, std::size_t b) {
  return is_laying(plan, plan.rows[a]) && is_laying(plan, plan.rows[b]) && plan.rows[a].action == plan.rows[b].action;
}

}  // namespace

bool is_laid_with_earlier(const Plan& plan, std::size_t row) {
  const auto before = neighbour(plan, row, false);
  return before && goes_together(plan, *before, row);
}

std::optional<LaidRows> laid_rows_from(const Plan& plan, std::size_t row) {
  if (!is_laying(plan, plan.rows[row]) || is_laid_with_earlier(plan, row)) return std::nullopt;
  LaidRows laid;
  std::vector<std::size_t> rows = {row};
  for (auto next = neighbour(plan, row, true); next && goes_together(plan, rows.back(), *next);
       next = neighbour(plan, *next, true))
    rows.push_back(*next);
  if (rows.size() < 2) return std::nullopt;
  laid.last = rows.back();
  std::vector<std::string> acts;
  std::size_t moves = 0, ties = 0;
  std::string item;
  const auto tell_ties = [&] {
    if (ties > 0) acts.push_back(fmt::format("{} {}", ties, ties == 1 ? "tie" : "ties"));
    ties = 0;
  };
  for (const auto r : rows) {
    const Row& now = plan.rows[r];
    laid.night_s += now.night_s;
    moves += now.moves;
    if (now.what == What::Go) continue;
    item = now.subject;
    if (now.what == What::Tie) {
      ++ties;
      continue;
    }
    tell_ties();
    acts.push_back(now.what == What::Mate     ? "mate " + now.other
                   : now.what == What::TakeUp ? "take up its coil"
                                              : fmt::format("coil the rest on {}", now.other));
  }
  tell_ties();
  laid.words = fmt::format("lay {}{}{}, {} move{}", item.empty() ? "a cable" : item, acts.empty() ? "" : ": ",
                           fmt::join(acts, ", "), moves, moves == 1 ? "" : "s");
  return laid;
}

std::string cable_sentence(const Context& context, const Violation& v) {
  const Options& options = context.options;
  switch (v.kind) {
    case ViolationKind::CableTooShort:
      return fmt::format("the cable of {} is too short to {} by {}: {} required, guaranteed length {}", v.subject,
                         v.other, length_up(options, v.value - v.limit), length_up(options, v.value),
                         length_down(options, v.limit));
    case ViolationKind::NoCableRun:
      return fmt::format("the cable of {} has no run to {}{}", v.subject, v.other,
                         !v.no_run.empty()  ? ": " + sentence(context, v.no_run.front())
                         : !v.names.empty() ? fmt::format(": {}", fmt::join(v.names, "; "))
                                            : "");
    case ViolationKind::CableWrongEnd:
      return v.other == v.names.front()
                 ? fmt::format("the cable of {} begins at {}; the kit has it for {}", v.subject, v.other,
                               fmt::join(v.names.begin() + 1, v.names.end(), ", "))
                 : fmt::format("the cable of {} joins {} and {}; the kit has it for {}", v.subject, v.names.front(),
                               v.other, fmt::join(v.names.begin() + 1, v.names.end(), ", "));
    case ViolationKind::CableNotThere: {
      const std::string& why = v.names.front();
      if (why == "laid")
        return fmt::format("{} cannot be taken away: its cable is laid from {} as far as its coil at {}", v.subject,
                           v.names.back(), v.other);
      if (why == "connected") return fmt::format("the cable of {} is laid already, as far as {}", v.subject, v.other);
      if (why == "no-coil")
        return fmt::format("the cable of {} has no coil to be carried on from: none of it is laid", v.subject);
      if (why == "no-connector")
        return fmt::format("the cable of {} cannot begin at {}, which is no connector: none of it is laid", v.subject,
                           v.names.back());
      if (why == "under-way") return fmt::format("the cable of {} is being laid by the other crew member", v.subject);
      return fmt::format("the cable of {} is not at {}: its coil is at {}", v.subject, v.names.back(), v.other);
    }
    case ViolationKind::CableNotConnected:
      return fmt::format("the cable of {}, laid from {}, is not connected: its coil stays at {} with {} left",
                         v.subject, v.names.front(), v.other, length_down(options, v.value));
    default:
      return {};
  }
}

std::string cable_remedy(const Violation& v) {
  switch (v.kind) {
    case ViolationKind::CableTooShort:
      return "lay it to a nearer connector, or take a longer cable; ask holdfast cable how far it reaches";
    case ViolationKind::NoCableRun:
      return "ask holdfast cable for what is in the way, or coil it at another place";
    case ViolationKind::CableWrongEnd:
      return "name connectors of one pair, or add the pair to connects: of the cable in the kit";
    case ViolationKind::CableNotThere:
      if (v.names.front() == "laid") return fmt::format("carry it on: lay: {}, to: CONNECTOR", v.subject);
      if (v.names.front() == "connected") return "take this action out";
      if (v.names.front() == "under-way") return "let one crew member lay it, or wait until the coil is tied off";
      if (v.names.front() == "elsewhere") return fmt::format("leave out from:, or write from: {}", v.other);
      return "add from: CONNECTOR";
    case ViolationKind::CableNotConnected:
      return fmt::format(
          "carry it on: lay: {}, to: CONNECTOR; or write leave: true where it is coiled, for another "
          "excursion",
          v.subject);
    default:
      return {};
  }
}

std::string cables_text(const Context& context, const Plan& plan) {
  if (plan.cables.empty()) return {};
  std::string out = "Cables at the end\n";
  for (const auto& cable : plan.cables) {
    const auto& item = plan.excursion->items[cable.item.index()].id;
    paragraph(out, fmt::format("  {:<20} ", item),
              fmt::format("{} from {} to {}: {}, {} {}; {} {}, {} {}", cable.cable, cable.from, cable.to,
                          cable.is_connected ? "connected"
                          : cable.is_left    ? "coiled, left for another excursion"
                                             : "coiled, NOT CONNECTED",
                          cable.ties, cable.ties == 1 ? "tie" : "ties", length_up(context.options, cable.required_m),
                          cable.is_connected ? "required" : "used", length_down(context.options, cable.left_m),
                          cable.is_connected ? "margin" : "left"),
              23);
  }
  return out + "\n";
}

Json cables_json(const Plan& plan) {
  Json out = Json::array();
  for (const auto& cable : plan.cables) {
    Json line = Json::array();
    for (const auto& p : cable.line) line.push_back(point_json(p));
    out.push_back({{"item", plan.excursion->items[cable.item.index()].id},
                   {"cable", cable.cable},
                   {"from", cable.from},
                   {"to", cable.to},
                   {"connected", cable.is_connected},
                   {"left_by_intent", cable.is_left},
                   {"ties", cable.ties},
                   {"used_m", rounded_up(cable.required_m)},
                   {"left_m", rounded_down(cable.left_m)},
                   {"line", line}});
  }
  return out;
}

}  // namespace holdfast::report::detail
