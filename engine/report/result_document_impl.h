// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// What every reader of results does first, and how it refuses.

#include <nlohmann/json.hpp>
#include <string>

#include "holdfast/model/structure.h"

namespace holdfast::report::detail {

/// Throws `model::InputError` (`wrong-result`) about this file.
[[noreturn]] void refuse_result(const std::string& file, std::string problem, std::string remedy);

/// The document of a result of this version, its texts plain. `printed` says what prints it: `holdfast plan ...
/// --json`. Throws as `refuse_result`.
[[nodiscard]] nlohmann::json parse_result(const std::string& file, const std::string& contents,
                                          const std::string& printed);

/// Refuses a result of another structure than this model's.
void check_structure(const std::string& file, const nlohmann::json& document, const model::Structure& structure);

/// Says which field was not what it should be.
[[noreturn]] void refuse_field(const std::string& file, const nlohmann::json::exception& error,
                               const std::string& printed);

}  // namespace holdfast::report::detail
