// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// A simulated excursion as text for people, JSON for tools and CSV for spreadsheets.
//
//   std::fputs(report::text(context, plan).c_str(), stdout);
//
// Moments and durations print as h:mm:ss rounded up, margins rounded down; JSON and CSV are SI and exact to 1e-6.

#include <string>
#include <vector>

#include "holdfast/plan/plan.h"
#include "holdfast/report/report.h"

namespace holdfast::report {

/// Both crew members side by side, violations with remedies, totals, getting back, items, and what was not looked at.
[[nodiscard]] std::string text(const Context& context, const plan::Plan& plan);
[[nodiscard]] std::string json(const Context& context, const plan::Plan& plan);
/// One row a row of the timeline.
[[nodiscard]] std::string csv(const Context& context, const plan::Plan& plan);

/// What is wrong, with its numbers.
[[nodiscard]] std::string sentence(const Context& context, const plan::Plan& plan, const plan::Violation& violation);
/// What would mend it.
[[nodiscard]] std::string remedy(const plan::Plan& plan, const plan::Violation& violation);
/// Under which assumption the timeline goes on.
[[nodiscard]] std::string assumption(const plan::Violation& violation);
/// What a row does: `go to battery-bay`, `wait for EV2`.
[[nodiscard]] std::string what_words(const plan::Row& row);
/// Where an item is: `with EV1`, `tied to spur-zenith-3`; of one in a container that alone.
[[nodiscard]] std::string where_words(const plan::Whereabouts& where);
[[nodiscard]] const char* kind_name(plan::ViolationKind kind);
[[nodiscard]] const char* kind_name(plan::RowKind kind);
[[nodiscard]] const char* kind_name(plan::What what);
[[nodiscard]] const char* kind_name(plan::NotAssessed kind);
[[nodiscard]] std::string not_assessed_words(plan::NotAssessed kind);

/// What must be minded on a leg, a sentence each: zones entered and near, parts in the kick band, and what of these was
/// not looked at. `leg`: null where no path is known.
[[nodiscard]] std::vector<std::string> leg_cautions(const Context& context, const plan::DescribedLeg* leg);

}  // namespace holdfast::report
