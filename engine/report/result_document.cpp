// SPDX-License-Identifier: GPL-3.0-or-later
#include "result_document_impl.h"

#include <fmt/format.h>

#include <string_view>

#include "holdfast/model/mesh_references.h"
#include "holdfast/model/plain_text.h"
#include "words_impl.h"

namespace holdfast::report::detail {

using Json = nlohmann::json;

namespace {

/// What is drawn and printed again is plain text. As deep as `json_fault` lets it be.
void check_text(const std::string& file, const Json& value, const std::string& printed) {
  if (value.is_string()) {
    if (const auto unsafe = model::find_unsafe(value.get_ref<const std::string&>()))
      refuse_result(file, fmt::format("a text in it has the character {}, which is not shown", unsafe->name),
                    fmt::format("give what `{}` printed, unchanged", printed));
  } else if (value.is_structured()) {
    for (const auto& item : value) check_text(file, item, printed);
  }
}

}  // namespace

void refuse_result(const std::string& file, std::string problem, std::string remedy) {
  throw model::InputError({{{.file = file}, "", "wrong-result", std::move(problem), "", std::move(remedy)}});
}

void check_structure(const std::string& file, const Json& document, const model::Structure& structure) {
  const auto digest = document.at("model").at("structure_digest").get<std::string>();
  if (const std::string ours = model::structure_digest(structure); digest != ours)
    refuse_result(file,
                  fmt::format("it was computed from another structure: its digest is {}, and this model's {}",
                              digest.substr(0, 12), ours.substr(0, 12)),
                  "compute it again with this model");
}

Json parse_result(const std::string& file, const std::string& contents, const std::string& printed) {
  constexpr std::size_t most_values = 8'000'000;
  const std::string remedy = fmt::format("give what `{}` printed", printed);
  if (const auto fault = model::json_fault(contents, most_values); !fault.empty()) refuse_result(file, fault, remedy);
  Json document = Json::parse(contents, nullptr, false);
  if (document.is_discarded()) refuse_result(file, "this is not JSON", remedy);
  check_text(file, document, printed);
  const bool has_format = document.is_object() && document.contains("holdfast") && document["holdfast"].is_string();
  const std::string format = has_format ? document["holdfast"].get<std::string>() : "";
  if (format.rfind("result/", 0) == 0 && format != result_format)
    refuse_result(file,
                  fmt::format("this is a {} of another version of holdfast; this one reads {}", format, result_format),
                  "compute it again with this version");
  if (format != result_format) refuse_result(file, "this is not a result of holdfast", remedy);
  return document;
}

void refuse_field(const std::string& file, const Json::exception& error, const std::string& printed) {
  // The library names the key between quotes, where it knows it.
  const std::string_view words = error.what();
  const std::size_t first = words.find('\'');
  const std::size_t last = first == std::string_view::npos ? first : words.find('\'', first + 1);
  refuse_result(file,
                last == std::string_view::npos ? std::string("a field is missing or of the wrong kind")
                                               : fmt::format("field \"{}\" is missing or of the wrong kind",
                                                             words.substr(first + 1, last - first - 1)),
                fmt::format("give what `{}` printed, unchanged", printed));
}

}  // namespace holdfast::report::detail
