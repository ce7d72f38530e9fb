// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// Documents against the JSON Schemas in models/schema, by valijson.

#include <filesystem>
#include <nlohmann/json.hpp>
#include <string>

namespace holdfast::support {

/// YAML's plain scalars as JSON numbers, booleans or strings.
[[nodiscard]] nlohmann::json json_of_yaml(const std::filesystem::path& file);
/// Empty when `document` is valid against models/schema/NAME.schema.json; else the first faults in words.
[[nodiscard]] std::string schema_faults(const std::string& name, const nlohmann::json& document);

}  // namespace holdfast::support
