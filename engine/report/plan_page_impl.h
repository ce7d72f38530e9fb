// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// Sections of a plan's page that stand in files of their own.

#include <string>

#include "holdfast/report/plan_compare.h"
#include "json_impl.h"

namespace holdfast::report::detail {

/// Each ends with an empty line; nothing where there is nothing to tell.
[[nodiscard]] std::string waypoints_text(const Context& context, const plan::Plan& plan);
[[nodiscard]] std::string changes_text(const plan::PlanChanges& changes);
[[nodiscard]] Json changes_json(const plan::PlanChanges& changes);

}  // namespace holdfast::report::detail
