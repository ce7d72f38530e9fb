// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// Words and JSON of what an excursion's tasks work on and see, shared by its pages.

#include <string>

#include "holdfast/report/plan.h"
#include "json_impl.h"

namespace holdfast::report::detail {

/// Settings and targets, photographs, stretches out of sight; empty where there is none of it.
[[nodiscard]] std::string worksites_page(const Context& context, const plan::Plan& plan);
void add_worksites(const Context& context, const plan::Plan& plan, Json& out);
/// What legs, handling, tethers and getting back assume of suits, items and the kit, each with its origin.
[[nodiscard]] std::vector<route::UsedValue> used_on_legs(const Context& context, const plan::Plan& plan);

}  // namespace holdfast::report::detail
