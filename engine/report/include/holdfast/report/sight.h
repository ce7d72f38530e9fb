// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// What is in sight, as text, JSON and CSV.

#include <string>

#include "holdfast/reach/sight.h"
#include "holdfast/report/report.h"

namespace holdfast::report {

/// Patches against views, or the grips from which each patch is seen best. CSV has one row a patch and view, or a patch
/// and grip.
[[nodiscard]] std::string text(const Context& context, const reach::SightAnswer& answer);
[[nodiscard]] std::string json(const Context& context, const reach::SightAnswer& answer);
[[nodiscard]] std::string csv(const Context& context, const reach::SightAnswer& answer);

}  // namespace holdfast::report
