// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// What the JSON of every answer shares, for answers that are written in files of their own.

#include <nlohmann/json.hpp>
#include <string>

#include "holdfast/report/report.h"

namespace holdfast::report::detail {

using Json = nlohmann::ordered_json;

/// What every document begins with: format, verb, outcome, model, engine.
[[nodiscard]] Json document_json(const Context& context, const char* verb, const char* outcome);
[[nodiscard]] Json configuration_json(const model::Configuration& configuration);
/// The constants used, the sides of bounds, and the line of caution: what every document ends with.
void finish_json(const Context& context, const route::AnswerHead& head, Json& out);
/// `route` or `causes`, by the outcome.
void write_outcome_json(const Context& context, const route::Answer& answer, Json& out);
/// As `route` of a result. `loads`: ids, in the order of the poses' numbers.
[[nodiscard]] Json route_json(const Context& context, const std::vector<std::string>& loads, const route::Route& route);
/// Value, source and confidence.
[[nodiscard]] Json quantity_json(const model::Quantity& quantity);
[[nodiscard]] Json point_json(const model::Vec3& p);
/// The document as text.
[[nodiscard]] std::string dump_json(const Json& document);

}  // namespace holdfast::report::detail
