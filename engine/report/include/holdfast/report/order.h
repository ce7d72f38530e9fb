// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// An order of tasks as text for people, JSON for tools and CSV for spreadsheets; and as the excursion file that has it.
//
//   std::fputs(report::text(context, order).c_str(), stdout);
//   if (order.ordered) report::write_file("ordered.yaml", report::excursion_file(context, *order.ordered));

#include <string>

#include "holdfast/plan/order.h"
#include "holdfast/report/report.h"

namespace holdfast::report {

/// The sequences with their times, how good they are and how that is known, what they break, what differs from the
/// file.
[[nodiscard]] std::string text(const Context& context, const plan::ExcursionOrder& order);
[[nodiscard]] std::string json(const Context& context, const plan::ExcursionOrder& order);
/// One row an action of the sequences.
[[nodiscard]] std::string csv(const Context& context, const plan::ExcursionOrder& order);

/// A file that reads back as this excursion, tables of tasks written out and comments left off.
[[nodiscard]] std::string excursion_file(const Context& context, const model::Excursion& excursion);

}  // namespace holdfast::report
