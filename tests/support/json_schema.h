#pragma once
// Documents held against the JSON Schemas in models/schema.

#include <fstream>
#include <nlohmann/json.hpp>
#include <stdexcept>
#include <string>
#include <valijson/adapters/nlohmann_json_adapter.hpp>
#include <valijson/schema.hpp>
#include <valijson/schema_parser.hpp>
#include <valijson/validation_results.hpp>
#include <valijson/validator.hpp>

namespace holdfast::support {

/// What of `document` breaks the schema file, one line each; empty when it is valid. Throws on a schema that cannot be
/// read.
inline std::string schema_faults(const std::string& schema_file, const nlohmann::json& document) {
  std::ifstream in(schema_file);
  if (!in) throw std::runtime_error("no schema " + schema_file);
  const auto schema_document = nlohmann::json::parse(in);
  valijson::Schema schema;
  valijson::SchemaParser parser(valijson::SchemaParser::kDraft7);
  parser.populateSchema(valijson::adapters::NlohmannJsonAdapter(schema_document), schema);
  valijson::Validator validator;
  valijson::ValidationResults results;
  if (validator.validate(schema, valijson::adapters::NlohmannJsonAdapter(document), &results)) return {};
  std::string faults;
  for (valijson::ValidationResults::Error error; results.popError(error);) {
    for (const auto& step : error.context) faults += step;
    faults += ": " + error.description + "\n";
  }
  return faults.empty() ? "invalid" : faults;
}

}  // namespace holdfast::support
