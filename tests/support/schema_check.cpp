// SPDX-License-Identifier: GPL-3.0-or-later
#include "schema_check.h"

#include <yaml-cpp/yaml.h>

#include <fstream>
#include <valijson/adapters/nlohmann_json_adapter.hpp>
#include <valijson/schema.hpp>
#include <valijson/schema_parser.hpp>
#include <valijson/validation_results.hpp>
#include <valijson/validator.hpp>

namespace holdfast::support {

namespace {

nlohmann::json convert(const YAML::Node& node) {
  if (node.IsMap()) {
    auto out = nlohmann::json::object();
    for (const auto& entry : node) out[entry.first.Scalar()] = convert(entry.second);
    return out;
  }
  if (node.IsSequence()) {
    auto out = nlohmann::json::array();
    for (const auto& item : node) out.push_back(convert(item));
    return out;
  }
  if (node.IsNull()) return nullptr;
  if (node.Tag() != "!") {  // quoted scalars are strings
    if (node.Scalar() == "true") return true;
    if (node.Scalar() == "false") return false;
    const auto number = nlohmann::json::parse(node.Scalar(), nullptr, false);
    if (number.is_number()) return number;
  }
  return node.Scalar();
}

}  // namespace

nlohmann::json json_of_yaml(const std::filesystem::path& file) { return convert(YAML::LoadFile(file.string())); }

std::string schema_faults(const std::string& name, const nlohmann::json& document) {
  std::ifstream in(std::string(HOLDFAST_SOURCE_DIR) + "/models/schema/" + name + ".schema.json");
  const auto text = nlohmann::json::parse(in);
  valijson::Schema schema;
  valijson::SchemaParser().populateSchema(valijson::adapters::NlohmannJsonAdapter(text), schema);
  valijson::ValidationResults results;
  valijson::Validator validator;
  if (validator.validate(schema, valijson::adapters::NlohmannJsonAdapter(document), &results)) return {};
  std::string words = "invalid";
  valijson::ValidationResults::Error error;
  for (int i = 0; i < 5 && results.popError(error); ++i) {
    words += "\n";
    for (const auto& step : error.context) words += step;
    words += ": " + error.description;
  }
  return words;
}

}  // namespace holdfast::support
