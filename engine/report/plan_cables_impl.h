// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// What a plan says of cables that it lays.

#include <cstddef>
#include <optional>
#include <string>

#include "holdfast/plan/plan.h"
#include "holdfast/report/report.h"
#include "json_impl.h"

namespace holdfast::report::detail {

/// Of violations whose kind is about cables.
[[nodiscard]] std::string cable_sentence(const Context& context, const plan::Violation& v);
[[nodiscard]] std::string cable_remedy(const plan::Violation& v);

/// How far each cable is laid at the end; empty where none is.
[[nodiscard]] std::string cables_text(const Context& context, const plan::Plan& plan);
[[nodiscard]] Json cables_json(const plan::Plan& plan);

/// Rows of one crew member that lay a cable without a wait between, told in one line of the timeline.
struct LaidRows {
  std::size_t last = 0;  ///< row
  std::string words;
  double night_s = 0;
};
/// Nothing where the row does not begin such a stretch of two or more.
[[nodiscard]] std::optional<LaidRows> laid_rows_from(const plan::Plan& plan, std::size_t row);
/// Is the row in a stretch that an earlier row began?
[[nodiscard]] bool is_laid_with_earlier(const plan::Plan& plan, std::size_t row);

}  // namespace holdfast::report::detail
