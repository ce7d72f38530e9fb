// SPDX-License-Identifier: GPL-3.0-or-later
#include "holdfast/report/read_rails.h"

#include <fmt/format.h>

#include <cmath>
#include <nlohmann/json.hpp>

#include "holdfast/model/mesh_references.h"
#include "rails_words_impl.h"
#include "result_document_impl.h"
#include "words_impl.h"

namespace holdfast::report {

using namespace detail;
using Json = nlohmann::json;

namespace {

constexpr const char* printed = "holdfast rails ... --json";
constexpr std::size_t most_values = 8'000'000;

class RailsReader {
 public:
  explicit RailsReader(const std::string& file) : file_(file) {}

  ReadFoundRails read(const std::string& contents) const {
    const Json document = parse_result(file_, contents, printed);
    try {
      ReadFoundRails result;
      result.file = file_, result.part = document.at("part");
      const bool is_in_part = document.at("frame") == "part";
      if (!is_in_part && document.at("frame") != "structure") refuse("it says a frame that no result says");
      if (!is_in_part) {
        result.configuration.emplace();
        for (const auto& [id, position] : document.at("configuration").items())
          result.configuration->positions[id] = position;
        result.structure_digest = document.at("structure_digest");
      }
      result.rails = list(document.at("rails"));
      result.doubtful = list(document.at("doubtful"));
      result.posts = list(document.at("posts"));
      return result;
    } catch (const Json::exception& error) {
      refuse_field(file_, error, printed);
    }
  }

 private:
  [[noreturn]] void refuse(std::string problem) const {
    refuse_result(file_, std::move(problem), fmt::format("give what `{}` printed, unchanged", printed));
  }
  double number(const Json& value) const {
    constexpr double largest = 1e6;  // metres: no structure of anybody's
    const auto number = value.get<double>();
    if (!(std::abs(number) <= largest)) refuse("a number in it is beyond a thousand kilometres");
    return number;
  }
  std::vector<ReadFoundRail> list(const Json& entries) const {
    std::vector<ReadFoundRail> out;
    for (const auto& entry : entries) {
      ReadFoundRail rail;
      rail.id = entry.at("id");
      bool is_known = false;
      for (const auto sureness : {rails::Sureness::Sure, rails::Sureness::Likely, rails::Sureness::Doubtful})
        if (entry.at("sureness") == sureness_name(sureness)) rail.sureness = sureness, is_known = true;
      if (!is_known) refuse("it says a sureness that no result says");
      for (const auto& point : entry.at("points")) {
        const auto& at = point.at("at");
        rail.points.emplace_back(number(at.at(0)), number(at.at(1)), number(at.at(2)));
      }
      if (rail.points.empty()) refuse("a rail in it has no points");
      rail.length_m = number(entry.at("length_m"));
      rail.width_m = number(entry.at("section").at("width_m"));
      rail.height_m = number(entry.at("section").at("height_m"));
      for (const auto& reason : entry.at("reasons")) rail.reasons.push_back(reason.at("sentence"));
      out.push_back(std::move(rail));
    }
    return out;
  }

  const std::string& file_;
};

}  // namespace

bool is_rails_result(const std::string& contents) {
  if (!model::json_fault(contents, most_values).empty()) return false;
  const Json document = Json::parse(contents, nullptr, false);
  return document.is_object() && document.contains("verb") && document["verb"] == "rails";
}

ReadFoundRails read_found_rails(const std::string& file, const std::string& contents) {
  return RailsReader(file).read(contents);
}

}  // namespace holdfast::report
