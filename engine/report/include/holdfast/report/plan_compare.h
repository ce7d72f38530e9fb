// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// A plan beside one that was printed before.
//
//   const auto changes = plan::compare(report::read_plan("before.json", contents, structure, kit),
//                                      report::figures_of(context, plan));
//   std::fputs(report::text(context, plan, {.changes = &changes}).c_str(), stdout);

#include <string>

#include "holdfast/plan/compare.h"
#include "holdfast/report/report.h"

namespace holdfast::report {

/// What a plan's page has besides.
struct PlanPage {
  bool waypoints = false;                      ///< of every leg (text only; JSON always has its grips)
  const plan::PlanChanges* changes = nullptr;  ///< against an earlier plan
};
[[nodiscard]] std::string text(const Context& context, const plan::Plan& plan, const PlanPage& page);
[[nodiscard]] std::string json(const Context& context, const plan::Plan& plan, const PlanPage& page);

/// The figures of a result of `plan`, as it printed them. Throws `model::InputError` (`wrong-result`) for what is no
/// such result, for one of another structure, and for one that was changed by hand into something that no engine says.
/// `file` names it in messages. Of a kit that was another then it says so in `other_kit`.
[[nodiscard]] plan::PlanFigures read_plan(const std::string& file, const std::string& contents,
                                          const model::Structure& structure, const model::Kit& kit);

/// The same of a plan of now.
[[nodiscard]] plan::PlanFigures figures_of(const Context& context, const plan::Plan& plan);

}  // namespace holdfast::report
