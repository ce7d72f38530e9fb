// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// Who does what in which order: the tasks of an excursion put into sequences of their own, with the fetching and the
// bringing back of what they need, so that everybody is inside earliest.
//
//   const auto answer = plan::order(model, configuration, excursion);
//   if (answer.ordered) use(answer.plan.finish_s, answer.bound_s);
//
// Source: design.md section 16. What is looked at: each crew member takes an item that tasks of theirs need from where
// it is at time zero, once and before the first use, and puts it back there (or where its `home` is; what was at a
// hatch may be carried inside) after the last. Restraints are set up before the first task in their socket and taken
// down after the last. Nothing is handed over, stowed, or taken out of another item; a task that needs an item inside
// another takes that other. Legs are those of `plan`, in the configuration at time zero. What a crew member has under
// `begin` and `end` stays first and last; items named there are handled by those actions alone, and what `begin` leaves
// in hand or set up is used by that crew member alone.
//
// Method: orders from the best on by their figures without the other's body, holds and throws (`ordering.h`); each is
// simulated as `plan` does it, until the next cannot be better than the best simulated. The figures told are the
// simulation's. What is proven holds where the other's body, a hold, a throw or what is set up never makes a leg
// shorter.

#include <cstddef>
#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "holdfast/plan/ordering.h"
#include "holdfast/plan/plan.h"

namespace holdfast::plan {

/// Why there is no order, or none that keeps all rules.
enum class OrderCauseKind {
  Circle,       ///< `names`: tasks that wait for each other
  NoRoute,      ///< nobody gets to the place `other` of `task` with `names` in hand, or of `item`; `causes`
  HandsFull,    ///< nobody can carry at once what `task` needs: `names`
  NoRestraint,  ///< no item is left that could be set up in the socket `other` for `task`
  NoWindow,     ///< no window of `task` is as long as it takes: `value` s, longest `limit` s
  Limit,        ///< the earliest finish that is known, `value` s, is after `limit` s
  NoOrder,      ///< ... and no rule by itself is the cause
  NotFound,     ///< the search ended without an order, and did not prove that there is none
};

struct OrderCause {
  OrderCauseKind kind = OrderCauseKind::NoOrder;
  std::string task = {};
  std::string item = {};   ///< that must be fetched or brought back
  std::string other = {};  ///< place or socket
  std::vector<std::string> names = {};
  double value = 0, limit = 0;
  std::vector<route::Cause> causes = {};
};

/// An action by its kind and what it is about: an item, a task, a place ...
struct ActionName {
  model::ActionKind kind = model::ActionKind::Go;
  std::string subject;
  friend auto operator<=>(const ActionName&, const ActionName&) = default;
};

/// One crew member's sequence, as the file has it and as ordered.
struct CrewOrder {
  CrewId crew;
  std::vector<TaskId> before, after;        ///< tasks in their order
  std::vector<ActionName> left_out, added;  ///< other actions, but for `go` and `return`
};

struct OrderOptions {
  PlanOptions what_if = {};
  OrderEffort effort = {};
  std::size_t most_simulated = 60;  ///< of orders, for the other's body, holds and throws
};

struct ExcursionOrder {
  const model::Excursion* given = nullptr;
  std::shared_ptr<const model::Excursion> ordered;  ///< with the sequences; null where there is none
  Plan plan;                                        ///< of `ordered`
  bool is_proven = false;                           ///< no order of those looked at is inside earlier, or worth more
  bool has_fewest_moves = false;                    ///< ... nor as early with fewer hand moves
  double bound_s = 0;           ///< none that is worth as much finishes earlier; of no meaning without an order
  bool is_worth_proven = true;  ///< false: a set of optional tasks that is worth more may have an order
  std::vector<OrderCause> causes;
  std::vector<CrewOrder> crew;
  std::vector<TaskId> left_out;  ///< optional tasks in no sequence
  std::vector<EventId> throws;   ///< legs were chosen without these
  std::size_t partial = 0;       ///< orders begun, of those looked at
  std::size_t simulated = 0;
  OrderOptions options;

  /// How far the finish may be from the bound, as a part of it; 0 where proven.
  [[nodiscard]] double gap() const {
    return is_proven || plan.finish_s <= 0 ? 0 : (plan.finish_s - bound_s) / plan.finish_s;
  }
  [[nodiscard]] bool is_clean() const { return ordered && plan.is_clean(); }
};

/// Most tasks, fetching and bringing back counted, and most items: those of the search.
inline constexpr std::size_t most_ordered = 64, most_ordered_items = 16;

/// Sequences in the file are taken out first, but for `begin` and `end`. Throws `model::InputError`: `too-large` beyond
/// the numbers above; `missing-key` for a task from a restraint without a place; `out-of-range` where a task needs an
/// item that `begin` or `end` handle and that is not there, or these hand something over; and as `simulate`, `first`
/// included. Requires: an excursion read against
/// this model.
[[nodiscard]] ExcursionOrder order(const model::Model& model, const model::Configuration& configuration,
                                   const model::Excursion& excursion, const OrderOptions& options = {},
                                   const geometry::Scene* first = nullptr);

}  // namespace holdfast::plan
