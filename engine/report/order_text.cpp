// SPDX-License-Identifier: GPL-3.0-or-later
// Who does what in which order, on a page; the same as JSON and CSV.

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <cmath>

#include "holdfast/report/order.h"
#include "holdfast/report/plan.h"
#include "json_impl.h"
#include "page_impl.h"
#include "words_impl.h"

namespace holdfast::report {

using namespace detail;
using plan::ExcursionOrder;
using plan::OrderCause;
using plan::OrderCauseKind;

namespace {

const char* kind_name(OrderCauseKind kind) {
  switch (kind) {
    case OrderCauseKind::Circle:
      return "circle";
    case OrderCauseKind::NoRoute:
      return "no-route";
    case OrderCauseKind::HandsFull:
      return "hands-full";
    case OrderCauseKind::NoRestraint:
      return "no-restraint";
    case OrderCauseKind::NoWindow:
      return "no-window";
    case OrderCauseKind::Limit:
      return "limit";
    case OrderCauseKind::NoOrder:
      return "no-order";
    case OrderCauseKind::NotFound:
      return "not-found";
  }
  return "";
}

std::string words_of(const Context& context, const OrderCause& cause) {
  switch (cause.kind) {
    case OrderCauseKind::Circle:
      return cause.names.size() == 1 ? fmt::format("task {} comes after itself", cause.task)
                                     : fmt::format("tasks wait for each other in a circle: {} after {}",
                                                   fmt::join(cause.names, " after "), cause.task);
    case OrderCauseKind::NoRoute: {
      std::string words =
          cause.task.empty()
              ? fmt::format("nobody gets to {} to handle {}", cause.other, cause.item)
              : fmt::format("nobody gets to {} for task {}{}", cause.other, cause.task,
                            cause.names.empty() ? "" : fmt::format(" with {}", fmt::join(cause.names, ", ")));
      for (const auto& why : cause.causes) words += "; " + sentence(context, why);
      return words;
    }
    case OrderCauseKind::HandsFull:
      return fmt::format("task {} needs {}, which nobody can carry at once", cause.task,
                         fmt::join(cause.names, " and "));
    case OrderCauseKind::NoRestraint:
      return fmt::format("task {} is done from a restraint in {}, and no item is one", cause.task, cause.other);
    case OrderCauseKind::NoWindow:
      return fmt::format("task {} takes {}, and its longest window is {}", cause.task, duration(cause.value),
                         duration_down(cause.limit));
    case OrderCauseKind::Limit:
      return fmt::format("no order is inside before {}, and the limit is {}: {} too late", duration_down(cause.value),
                         duration_down(cause.limit), duration(cause.value - cause.limit));
    case OrderCauseKind::NoOrder:
      return "no order keeps what tasks need: hands, windows, what comes after what, and routes with what is carried";
    case OrderCauseKind::NotFound:
      return "no order was found before the search ended; that there is none is not proven";
  }
  return {};
}

std::string remedy_of(const OrderCause& cause) {
  switch (cause.kind) {
    case OrderCauseKind::Circle:
      return "remove one `after`";
    case OrderCauseKind::NoRoute:
      return "ask holdfast route to that place, with the load, what would open it";
    case OrderCauseKind::HandsFull:
      return "put them into one bag (in: ITEM), make the task one of both (both: true), or split it";
    case OrderCauseKind::NoRestraint:
      return "add an item with restraint: ID of the kit";
    case OrderCauseKind::NoWindow:
      return "split the task, or give it a longer window";
    case OrderCauseKind::Limit:
      return "make tasks optional (optional: {priority: 1}), raise the limit, or take tasks out";
    case OrderCauseKind::NoOrder:
      return "leave out tasks one by one, or make them optional, to see which of them is the cause";
    case OrderCauseKind::NotFound:
      return "order fewer tasks at once, or make some optional";
  }
  return {};
}

/// Rows of the plan that are actions of the sequences, and all of the return, of one crew member.
std::vector<const plan::Row*> actions_of(const ExcursionOrder& order, std::size_t crew) {
  const auto& actions = order.ordered->crew[crew].actions;
  std::vector<const plan::Row*> rows;
  for (const auto& row : order.plan.rows)
    if (row.crew == plan::CrewId(crew) && row.action &&
        (!row.is_derived || actions[*row.action].kind == model::ActionKind::Return))
      rows.push_back(&row);
  return rows;
}

std::vector<std::string> ids_of(const model::Excursion& excursion, const std::vector<plan::TaskId>& tasks) {
  std::vector<std::string> ids;
  for (const auto task : tasks) ids.push_back(excursion.tasks[task.index()].id);
  return ids;
}

std::string words_of(const plan::ActionName& action) {
  static const char* const verbs[] = {"go to",      "take",     "put",  "stow",      "set up",  "take down", "do",
                                      "hold until", "wait for", "swap", "hand over", "receive", "return",    "lay"};
  static_assert(std::size(verbs) == model::action_kind_count);
  const std::string verb = verbs[static_cast<std::size_t>(action.kind)];
  return action.subject.empty() ? verb : verb + " " + action.subject;
}

std::vector<std::string> words_of(const std::vector<plan::ActionName>& actions) {
  std::vector<std::string> words;
  for (const auto& action : actions) words.push_back(words_of(action));
  return words;
}

/// Sentences on what differs from the file given.
std::vector<std::string> differences(const ExcursionOrder& order) {
  const auto& e = *order.given;
  std::vector<std::string> out;
  if (!order.ordered) return out;
  for (const auto& crew : order.crew) {
    const auto& id = e.crew[crew.crew.index()].id;
    const auto before = ids_of(e, crew.before), after = ids_of(e, crew.after);
    const auto list = [](const std::vector<std::string>& ids) {
      return ids.empty() ? std::string("no task") : fmt::format("{}", fmt::join(ids, ", "));
    };
    if (before == after)
      out.push_back(fmt::format("{} does {}, in the order of the file", id, list(after)));
    else if (before.empty())
      out.push_back(fmt::format("{} does {}; the file has no order of these", id, list(after)));
    else
      out.push_back(fmt::format("{} does {}; in the file {}", id, list(after), list(before)));
    if (!crew.added.empty()) out.push_back(fmt::format("{}, new: {}", id, fmt::join(words_of(crew.added), ", ")));
    if (!crew.left_out.empty())
      out.push_back(fmt::format("{}, left out of the sequence: {}", id, fmt::join(words_of(crew.left_out), ", ")));
    const auto& given = e.crew[crew.crew.index()].actions;
    const auto& member = e.crew[crew.crew.index()];
    const auto goes = std::count_if(given.begin() + static_cast<std::ptrdiff_t>(member.begins),
                                    given.end() - static_cast<std::ptrdiff_t>(member.ends),
                                    [](const auto& a) { return a.kind == model::ActionKind::Go && !a.via.empty(); });
    if (goes > 0) out.push_back(fmt::format("{}: via places of {} legs are left out", id, goes));
  }
  if (!order.left_out.empty())
    out.push_back(fmt::format("in no sequence: {}", fmt::join(ids_of(e, order.left_out), ", ")));
  return out;
}

std::vector<std::string> notes(const ExcursionOrder& order) {
  const auto& e = *order.given;
  std::vector<std::string> out = {
      "who does which task and in which order; each crew member takes what their tasks need once, from where it is at "
      "time zero, and puts it back there or carries it inside; restraints are set up before the first task in their "
      "socket and taken down after the last"};
  for (const auto& member : e.crew)
    if (member.begins + member.ends > 0)
      out.push_back(
          fmt::format("what {} has under begin and end stays first and last: what is handled there, and what begin "
                      "leaves in hand or set up, is used by {} alone",
                      member.id, member.id));
  out.emplace_back(
      "not looked at: hand-overs, stowing on the way, taking things out of other items, tether swaps, going by other "
      "places, which restraint goes into which socket (the first of the file into the first)");
  if (order.is_proven || order.ordered)
    out.emplace_back(
        e.crew.size() == 2
            ? "the bound takes each crew member as alone: it holds where the other's body, a hold, or what "
              "is set up makes no leg shorter"
            : "the bound holds where a hold or what is set up makes no leg shorter");
  if (!order.throws.empty()) {
    std::vector<std::string> ids;
    for (const auto event : order.throws) ids.push_back(e.events[event.index()].id);
    out.push_back(
        fmt::format("orders were chosen by routes in the configuration at time zero, before {}: nothing is proven but "
                    "that all work takes so long",
                    fmt::join(ids, ", ")));
  }
  return out;
}

std::string verdict(const ExcursionOrder& order) {
  const auto& e = *order.given;
  std::string out;
  if (!order.ordered) return "NO ORDER.\n\n";
  std::int64_t moves = 0;
  for (const auto& total : order.plan.totals) moves += static_cast<std::int64_t>(total.moves);
  const double margin_s = e.limit_s - order.plan.finish_s;
  const std::string figures =
      fmt::format("all inside at {}, {} hand moves; margin to the limit of {}: {}.", duration(order.plan.finish_s),
                  moves, duration_down(e.limit_s), margin_s >= 0 ? duration_down(margin_s) : "-" + duration(-margin_s));
  const bool is_late = !order.causes.empty();
  if (!order.plan.is_clean())
    paragraph(out, "", fmt::format("NO ORDER WITHOUT VIOLATIONS WAS FOUND. The best of those simulated: {}", figures),
              2);
  else if (order.is_proven)
    paragraph(out, "",
              fmt::format("Best order, proven: {} No order is inside earlier{}.", figures,
                          order.has_fewest_moves ? ", nor as early with fewer hand moves" : ""),
              2);
  else
    paragraph(out, "",
              fmt::format("Best order found, not proven: {} No order is inside before {}: at most {:.1f} % better.",
                          figures, duration_down(order.bound_s), std::ceil(order.gap() * 1000) / 10),
              2);
  if (!order.is_worth_proven && !is_late)
    paragraph(out, "", "A set of optional tasks that is worth more may have an order too: that is not proven.", 2);
  paragraph(out, "",
            fmt::format("{} order{} simulated, {} begun in the search.", order.simulated,
                        order.simulated == 1 ? "" : "s", order.partial),
            2);
  return out + "\n";
}

}  // namespace

std::string text(const Context& context, const ExcursionOrder& order) {
  const auto& e = *order.given;
  std::string out;
  paragraph(out, "", fmt::format("{}: order of {} ({})", context.structure.name, e.name, e.file), 4);
  std::vector<std::string> crew;
  for (const auto& member : e.crew)
    crew.push_back(
        fmt::format("{} from {}, suit {}", member.id, context.structure.places[member.start.index()].id, member.suit));
  if (order.ordered)
    paragraph(
        out, "  ",
        fmt::format("{}; {}", fmt::join(crew, "; "), configuration_words(context.structure, order.plan.configuration)),
        2);
  out += "\n" + verdict(order);
  for (const auto& cause : order.causes) {
    paragraph(out, "  - ", words_of(context, cause), 4);
    paragraph(out, "    ", "Remedy: " + remedy_of(cause), 6);
  }
  if (!order.causes.empty()) out += "\n";
  if (order.ordered) {
    for (std::size_t c = 0; c < e.crew.size(); ++c) {
      out += fmt::format("  {:<52} {:>8} {:>8}\n", e.crew[c].id, "from", "to");
      std::size_t number = 0;
      for (const auto* row : actions_of(order, c))
        out += fmt::format("  {:>3}. {:<47} {:>8} {:>8}\n", ++number, what_words(*row), duration(row->from_s),
                           duration(row->to_s));
      out += "\n";
    }
    if (!order.plan.violations.empty()) {
      out += "Violations\n";
      for (std::size_t i = 0; i < order.plan.violations.size(); ++i) {
        const auto& v = order.plan.violations[i];
        std::string words = sentence(context, order.plan, v);
        if (!words.empty() && words.back() == '.') words.pop_back();
        if (v.follows) words += fmt::format(" (follows from {})", *v.follows + 1);
        paragraph(
            out,
            fmt::format("  {:>3}. {} {}: ", i + 1, duration(v.at_s), v.crew ? e.crew[v.crew->index()].id : "inside"),
            words, 7);
        paragraph(out, "       ", "Remedy: " + remedy(order.plan, v), 9);
      }
      out += "\n";
    }
    out += "What differs from the file\n";
    for (const auto& words : differences(order)) paragraph(out, "  - ", words, 4);
    out += "\n";
  }
  out += "What was looked at\n";
  for (const auto& words : notes(order)) paragraph(out, "  - ", words, 4);
  out += "\n";
  for (const auto& rail : context.set_aside) paragraph(out, "", set_aside_words(context, rail), 2);
  return out + std::string(caution) + "\n";
}

std::string json(const Context& context, const ExcursionOrder& order) {
  const auto& e = *order.given;
  Json out = document_json(context, "order",
                           !order.ordered                                  ? "no-order"
                           : order.plan.is_clean() && order.causes.empty() ? "order"
                                                                           : "order-with-violations");
  out["excursion"] = {{"name", e.name}, {"file", e.file}, {"sha256", e.sha256}};
  if (order.ordered) {
    out["configuration"] = configuration_json(order.plan.configuration);
    out["limit_s"] = rounded_down(e.limit_s);
    out["finish_s"] = rounded_up(order.plan.finish_s);
    out["margin_s"] = rounded_down(e.limit_s - order.plan.finish_s);
    out["proven"] = order.is_proven;
    out["fewest_moves"] = order.has_fewest_moves;
    out["bound_s"] = rounded_down(order.bound_s);
    out["gap"] = rounded_up(order.gap());
    out["worth_proven"] = order.is_worth_proven;
    Json crew = Json::array();
    for (std::size_t c = 0; c < e.crew.size(); ++c) {
      const auto& total = order.plan.totals[c];
      Json actions = Json::array();
      for (const auto* row : actions_of(order, c)) {
        Json entry = {{"what", what_words(*row)},
                      {"subject", row->subject},
                      {"from_s", rounded(row->from_s)},
                      {"to_s", rounded(row->to_s)}};
        if (row->action) entry["action"] = *row->action;
        actions.push_back(std::move(entry));
      }
      crew.push_back({{"id", e.crew[c].id},
                      {"inside_at_s", rounded_up(total.inside_at_s)},
                      {"moves", total.moves},
                      {"tasks", ids_of(e, order.crew[c].after)},
                      {"tasks_in_file", ids_of(e, order.crew[c].before)},
                      {"added", words_of(order.crew[c].added)},
                      {"left_out", words_of(order.crew[c].left_out)},
                      {"actions", std::move(actions)}});
    }
    out["crew"] = std::move(crew);
    Json violations = Json::array();
    for (const auto& v : order.plan.violations) {
      Json entry = {{"kind", report::kind_name(v.kind)},
                    {"at_s", rounded(v.at_s)},
                    {"crew", v.crew ? Json(e.crew[v.crew->index()].id) : Json(nullptr)},
                    {"subject", v.subject},
                    {"sentence", sentence(context, order.plan, v)},
                    {"remedy", remedy(order.plan, v)}};
      if (v.follows) entry["follows"] = *v.follows;
      violations.push_back(std::move(entry));
    }
    out["violations"] = std::move(violations);
    out["in_no_sequence"] = ids_of(e, order.left_out);
  }
  Json causes = Json::array();
  for (const auto& cause : order.causes)
    causes.push_back({{"kind", kind_name(cause.kind)},
                      {"task", cause.task},
                      {"item", cause.item},
                      {"other", cause.other},
                      {"names", cause.names},
                      {"value_s", rounded_up(cause.value)},
                      {"limit_s", rounded_down(cause.limit)},
                      {"sentence", words_of(context, cause)},
                      {"remedy", remedy_of(cause)}});
  out["causes"] = std::move(causes);
  out["differences"] = differences(order);
  out["looked_at"] = notes(order);
  out["simulated"] = order.simulated;
  out["begun"] = order.partial;
  out["caution"] = std::string(caution);
  return dump_json(out);
}

std::string csv(const Context&, const ExcursionOrder& order) {
  std::string out = "crew,number,what,subject,from_s,to_s\r\n";
  if (!order.ordered) return out;
  for (std::size_t c = 0; c < order.given->crew.size(); ++c) {
    std::size_t number = 0;
    for (const auto* row : actions_of(order, c))
      out +=
          fmt::format("{},{},{},{},{},{}\r\n", csv_field(order.given->crew[c].id), ++number,
                      csv_field(what_words(*row)), csv_field(row->subject), rounded(row->from_s), rounded(row->to_s));
  }
  return out;
}

}  // namespace holdfast::report
