// SPDX-License-Identifier: GPL-3.0-or-later
// An excursion on a page: both crew members side by side, then what is wrong, totals, and getting back.

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <cmath>

#include "holdfast/report/plan.h"
#include "page_impl.h"
#include "plan_cables_impl.h"
#include "plan_page_impl.h"
#include "plan_words_impl.h"
#include "words_impl.h"

namespace holdfast::report {

using namespace detail;
using plan::Plan;
using plan::RowKind;

namespace {

std::string margin(double limit_s, double used_s) {
  const double margin_s = limit_s - used_s;
  return margin_s >= -1e-6 ? duration_down(std::max(0.0, margin_s)) : "-" + duration(-margin_s);
}

std::string crew_of(const Plan& plan, const plan::CrewId& crew) { return plan.excursion->crew[crew.index()].id; }

std::string head(const Context& context, const Plan& plan) {
  const auto& e = *plan.excursion;
  std::string out;
  paragraph(out, "", fmt::format("{}: excursion {} ({})", context.structure.name, e.name, e.file), 4);
  std::vector<std::string> crew;
  for (const auto& member : e.crew)
    crew.push_back(fmt::format(
        "{} from {}, suit {}{}", member.id, context.structure.places[member.start.index()].id, member.suit,
        member.tethers.empty() ? ", no tether" : fmt::format(", tether {}", fmt::join(member.tethers, ", "))));
  paragraph(out, "  ",
            fmt::format("{}; {}", fmt::join(crew, "; "), configuration_words(context.structure, plan.configuration)),
            2);
  if (e.crew.size() == 2) {
    std::string words = fmt::format("right of way: {}", crew_of(plan, plan.right_of_way.front()));
    if (plan.other_right_of_way_s)
      words += fmt::format("; with {} first the finish would be {}", crew_of(plan, plan.right_of_way.back()),
                           duration(*plan.other_right_of_way_s));
    paragraph(out, "  ", words, 2);
  }
  return out + "\n";
}

std::string verdict(const Plan& plan) {
  const auto& e = *plan.excursion;
  const auto own =
      std::count_if(plan.violations.begin(), plan.violations.end(), [](const auto& v) { return !v.follows; });
  std::string out =
      own == 0 ? "No violations in what was looked at." : fmt::format("{} VIOLATION{}.", own, own == 1 ? "" : "S");
  if (own < static_cast<std::ptrdiff_t>(plan.violations.size()))
    out += fmt::format(" {} more follow from these.", static_cast<std::ptrdiff_t>(plan.violations.size()) - own);
  out += fmt::format(" All inside at {}; margin to the limit of {}: {}.\n\n", duration(plan.finish_s),
                     duration_down(e.limit_s), margin(e.limit_s, plan.finish_s));
  return out;
}

std::string timeline(const Plan& plan) {
  const auto& e = *plan.excursion;
  const bool has_two = e.crew.size() == 2;
  const std::size_t width = has_two ? 47 : 80;
  std::string out = fmt::format("  {:>8} {:>8}  {}", "from", "to", pad_right(e.crew.front().id, width));
  out += has_two ? "  " + e.crew.back().id + "\n" : "\n";
  while (!out.empty() && out[out.size() - 2] == ' ') out.erase(out.size() - 2, 1);
  for (std::size_t r = 0; r < plan.rows.size(); ++r) {
    const auto& row = plan.rows[r];
    if (is_laid_with_earlier(plan, r)) continue;
    const auto laid = laid_rows_from(plan, r);
    const double to_s = laid ? plan.rows[laid->last].to_s : row.to_s;
    const double night_s = laid ? laid->night_s : row.night_s;
    std::string words = laid ? laid->words : what_words(row);
    if (!laid && row.what == plan::What::Go && !row.path.empty())
      words += fmt::format(", {} move{}", row.moves, row.moves == 1 ? "" : "s");
    if (row.what == plan::What::Go && !row.carried.empty())
      words += fmt::format(", with {}", fmt::join(row.carried, ", "));
    if (!laid && row.is_derived && row.crew && row.kind != RowKind::Wait && row.kind != RowKind::Hold) words += " *";
    if (night_s > 0) words += night_s >= to_s - row.from_s - 1e-6 ? " [night]" : " [part night]";
    const std::size_t lead = 21;
    std::string line = fmt::format("  {:>8} {:>8}  ", duration(row.from_s), duration(to_s));
    if (!row.crew)
      line += "-- inside: " + words;
    else if (row.crew->index() == 0)
      line += wrap(words, lead, lead + 2, lead + width);
    else
      line += std::string(width + 2, ' ') + wrap(words, lead + width + 2, lead + width + 4, lead + 2 * width + 4);
    out += line + "\n";
  }
  return out + "  * not in the file: derived\n\n";
}

std::string violations(const Context& context, const Plan& plan) {
  if (plan.violations.empty()) return {};
  std::string out = "Violations\n";
  for (std::size_t i = 0; i < plan.violations.size(); ++i) {
    const auto& v = plan.violations[i];
    const std::string start =
        fmt::format("  {:>3}. {} {}: ", i + 1, duration(v.at_s), v.crew ? crew_of(plan, *v.crew) : "inside");
    std::string words = sentence(context, plan, v);
    if (!words.empty() && words.back() == '.') words.pop_back();
    if (v.follows) words += fmt::format(" (follows from {})", *v.follows + 1);
    paragraph(out, start, words, 7);
    paragraph(out, "       ", "Remedy: " + remedy(plan, v), 9);
    if (const auto assumed = assumption(v); !assumed.empty()) paragraph(out, "       ", "Goes on: " + assumed, 9);
  }
  return out + "\n";
}

std::string totals(const Plan& plan) {
  const auto& e = *plan.excursion;
  std::string out = fmt::format("  {:<12}", "totals");
  for (const auto& member : e.crew) out += fmt::format(" {:>12}", member.id);
  out += "\n";
  for (std::size_t k = 0; k < plan::row_kind_count; ++k) {
    if (static_cast<RowKind>(k) == RowKind::Throw) continue;
    out += fmt::format("  {:<12}", kind_name(static_cast<RowKind>(k)));
    for (const auto& total : plan.totals) out += fmt::format(" {:>12}", duration(total.by_kind_s[k]));
    out += "\n";
  }
  const auto line = [&](const char* name, const auto& value) {
    out += fmt::format("  {:<12}", name);
    for (const auto& total : plan.totals) out += fmt::format(" {:>12}", value(total));
    out += "\n";
  };
  line("inside at", [](const auto& t) { return duration(t.inside_at_s); });
  line("margin", [&](const auto& t) { return margin(e.limit_s, t.inside_at_s); });
  line("hand moves", [](const auto& t) { return std::to_string(t.moves); });
  line("distance m", [](const auto& t) { return bare_length_up(t.distance_m); });
  line("energy MJ", [](const auto& t) { return fmt::format("{:.2f}", std::ceil(t.energy_j / 1e4 - 1e-9) / 100); });
  line("energy left", [&](const auto& t) {
    return fmt::format("{:.2f}", std::floor((e.values.energy_j - t.energy_j) / 1e4 + 1e-9) / 100);
  });
  return out + "\n";
}

std::string back_words(const Context& context, const Plan& plan) {
  if (plan.back.empty()) return plan.options.looks_back ? "" : "Getting back: not looked at.\n\n";
  const double limit_s = context.kit.design.emergency_return_s;
  std::string out;
  const auto& worst = plan.back[*plan.worst_back];
  const auto tell = [&](const plan::Back& b) {
    const bool is_carried = b.incapacitated_s && *b.incapacitated_s > b.alone_s;
    return std::isinf(b.longest_s()) ? fmt::format("at {} no path is known for {} ({})", duration(b.at_s),
                                                   crew_of(plan, b.crew), what_words(plan.rows[b.row]))
                                     : fmt::format("{} at {}, {} ({}{})", duration(b.longest_s()), duration(b.at_s),
                                                   crew_of(plan, b.crew), what_words(plan.rows[b.row]),
                                                   is_carried ? ", incapacitated and carried by the other" : "");
  };
  paragraph(
      out, "Getting back: ",
      fmt::format("longest {}; allowed {}, margin {}. {} moments were looked at.", tell(worst), duration_down(limit_s),
                  std::isinf(worst.longest_s()) ? "none" : margin(limit_s, worst.longest_s()), plan.back.size()),
      2);
  const auto unproven =
      std::count_if(plan.back.begin(), plan.back.end(), [](const auto& b) { return !b.is_incapacitated_proven; });
  if (unproven > 0)
    paragraph(out, "  ",
              fmt::format("Without a proven path for an incapacitated crew member: {} of these moments. They count in "
                          "no margin; see the violations.",
                          unproven),
              2);
  const auto& last = plan.back[*plan.worst_limit];
  if (!std::isinf(last.longest_s()))
    paragraph(out, "  ",
              fmt::format("Latest back inside when leaving at once: {} from {}; margin to the limit {}.",
                          duration(last.at_s + last.longest_s()), duration(last.at_s),
                          margin(plan.excursion->limit_s, last.at_s + last.longest_s())),
              2);
  paragraph(out, "  ", "Upper bounds: what is carried is tied down at once; a tether left behind takes one swap.", 2);
  return out + "\n";
}

std::string dropped(const Plan& plan) {
  std::string out;
  if (!plan.dropped.empty()) {
    std::vector<std::string> names;
    for (const auto task : plan.dropped) names.push_back(plan.excursion->tasks[task.index()].id);
    std::string exact = "The best set of optional tasks that fits is kept";
    if (!plan.is_choice_exact) {
      exact = fmt::format("Kept is the best set of optional tasks of {} tried, not proven the best", plan.sets_tried);
      if (plan.score && plan.score_bound)
        exact +=
            fmt::format(": its score is {:g}, and no set that fits has more than {:g}", *plan.score, *plan.score_bound);
      else if (plan.open_priority)
        exact += fmt::format(": one with more tasks of priority {} may fit", *plan.open_priority);
    }
    paragraph(out, "", fmt::format("Left out, because they do not fit: {}. {}.", fmt::join(names, ", "), exact), 2);
  }
  std::vector<std::string> undone;
  for (std::size_t t = 0; t < plan.excursion->tasks.size(); ++t) {
    const auto has = [&](const auto& list) {
      return std::find(list.begin(), list.end(), plan::TaskId(t)) != list.end();
    };
    if (!has(plan.done) && !has(plan.dropped)) undone.push_back(plan.excursion->tasks[t].id);
  }
  if (!undone.empty())
    paragraph(out, "", fmt::format("In no sequence, and so not done: {}.", fmt::join(undone, ", ")), 2);
  return out.empty() ? out : out + "\n";
}

std::string items(const Plan& plan) {
  if (plan.items.empty()) return {};
  std::string out = "Items at the end\n";
  for (const auto& w : plan.items) {
    std::string where = w.is_inside         ? std::string("inside")
                        : !w.crew.empty()   ? "with " + w.crew
                        : !w.socket.empty() ? "in socket " + w.socket
                        : !w.rails.empty()  ? fmt::format("stowed on {}", fmt::join(w.rails, ", "))
                                            : "at " + w.place;
    if (!w.container.empty()) where = "in " + w.container + ", " + where;
    out += fmt::format("  {:<20} {}\n", plan.excursion->items[w.item.index()].id, where);
  }
  return out + "\n";
}

std::string values(const Plan& plan) {
  const auto& v = plan.excursion->values;
  std::string out = "Assumed\n";
  const auto line = [&](const char* name, const std::string& value, const model::Quantity& q) {
    paragraph(out, fmt::format("  {:<26} {:>9}  ", name, value), origin_words(q), 41);
  };
  line("restraint, to set or take", duration(v.restraint_set_s), v.restraint_set_s);
  line("restraint, to enter", duration(v.restraint_enter_s), v.restraint_enter_s);
  line("restraint, to leave", duration(v.restraint_leave_s), v.restraint_leave_s);
  line("reach when handling", fmt::format("{:.2f} m", v.handling_reach_m.value), v.handling_reach_m);
  line("rate, active", fmt::format("{:.0f} W", v.active_w.value), v.active_w);
  line("rate, idle", fmt::format("{:.0f} W", v.idle_w.value), v.idle_w);
  line("energy that the suit bears", fmt::format("{:.2f} MJ", v.energy_j / 1e6), v.energy_j);
  return out + "\n";
}

}  // namespace

std::string text(const Context& context, const Plan& plan) { return text(context, plan, PlanPage{}); }

std::string text(const Context& context, const Plan& plan, const PlanPage& page) {
  std::string out = head(context, plan) + verdict(plan) + (page.changes ? changes_text(*page.changes) : "") +
                    timeline(plan) + (page.waypoints ? waypoints_text(context, plan) : "") + violations(context, plan) +
                    dropped(plan) + totals(plan) + back_words(context, plan) + items(plan) +
                    cables_text(context, plan) + worksites_page(context, plan);
  if (!plan.not_assessed.empty()) {
    out += "Not assessed\n";
    for (const auto kind : plan.not_assessed) paragraph(out, "  - ", not_assessed_words(kind), 4);
    out += "\n";
  }
  out += values(plan) + "Assumed of legs, handling and getting back\n";
  write_used(out, used_on_legs(context, plan));
  out += "\n";
  for (const auto& rail : context.set_aside) paragraph(out, "", set_aside_words(context, rail), 2);
  for (const auto& buried : plan.buried)
    paragraph(out, "",
              fmt::format("In {}: {}", configuration_words(context.structure, buried.configuration),
                          set_aside_words(context, {buried.rail, buried.part, buried.at})),
              2);
  return out + std::string(caution) + "\n";
}

}  // namespace holdfast::report
