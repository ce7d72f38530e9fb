// SPDX-License-Identifier: GPL-3.0-or-later
#include <fmt/format.h>
#include <fmt/ranges.h>
#include <yaml-cpp/depthguard.h>
#include <yaml-cpp/eventhandler.h>

#include <algorithm>
#include <charconv>
#include <cmath>
#include <set>
#include <sstream>

#include "document_impl.h"
#include "fault_limit_impl.h"
#include "holdfast/model/plain_text.h"
#include "holdfast/model/structure.h"

namespace holdfast::model::detail {

Mark Reading::mark(const YAML::Node& node) const {
  if (!node.IsDefined()) return {file};
  const YAML::Mark at = node.Mark();
  if (at.is_null() && node.IsScalar()) return {"--set"};                      // put in by apply_setting
  return at.is_null() ? Mark{file} : Mark{file, at.line + 1, at.column + 1};  // yaml-cpp counts from 0
}

void Reading::fault(const YAML::Node& node, const std::string& where, std::string code, const std::string& problem,
                    std::string remedy) {
  fault(mark(node), where, std::move(code), problem, node.IsDefined() && node.IsScalar() ? node.Scalar() : "",
        std::move(remedy));
}

void Reading::fault(const Mark& at, const std::string& where, std::string code, const std::string& problem,
                    std::string value, std::string remedy) {
  diagnostics.push_back({at, where, std::move(code), subject.empty() ? problem : subject + ": " + problem,
                         std::move(value), std::move(remedy)});
}

namespace {

/// A block of text (`|`, `>`) ends with a line feed.
std::string_view without_last_lines(std::string_view text) { return text.substr(0, text.find_last_not_of('\n') + 1); }

/// Looks through a document before one is built from it, for what the parser takes and we do not: aliases, of which a
/// few lines can stand for gigabytes; a quote that is left open; and characters that act on what shows them, which
/// escapes in quotes bring in. The first of each.
class DocumentGuard : public YAML::EventHandler {
 public:
  explicit DocumentGuard(std::string_view text) : text_(text) {}
  std::optional<YAML::Mark> open_quote;
  std::optional<YAML::Mark> alias;
  std::optional<std::pair<YAML::Mark, std::string>> unsafe;

  void OnDocumentStart(const YAML::Mark&) override {}
  void OnDocumentEnd() override {}
  void OnNull(const YAML::Mark&, YAML::anchor_t) override {}
  void OnAlias(const YAML::Mark& mark, YAML::anchor_t) override {
    if (!alias) alias = mark;
  }
  void OnScalar(const YAML::Mark& mark, const std::string&, YAML::anchor_t, const std::string& value) override {
    if (!open_quote && is_left_open(mark)) open_quote = mark;
    if (unsafe) return;
    if (auto found = find_unsafe(without_last_lines(value))) unsafe = {mark, std::move(found->name)};
  }
  void OnSequenceStart(const YAML::Mark&, const std::string&, YAML::anchor_t, YAML::EmitterStyle::value) override {}
  void OnSequenceEnd() override {}
  void OnMapStart(const YAML::Mark&, const std::string&, YAML::anchor_t, YAML::EmitterStyle::value) override {}
  void OnMapEnd() override {}

 private:
  /// The parser takes the end of the file for the end of a quoted text, with all that stands in between.
  [[nodiscard]] bool is_left_open(const YAML::Mark& mark) const {
    if (mark.pos < 0) return false;
    auto at = static_cast<std::size_t>(mark.pos);
    if (at >= text_.size() || (text_[at] != '"' && text_[at] != '\'')) return false;
    const char quote = text_[at];
    for (++at; at < text_.size(); ++at) {
      if (quote == '"' && text_[at] == '\\')
        ++at;
      else if (quote == '\'' && text_.substr(at, 2) == "''")
        ++at;  // a quote inside
      else if (text_[at] == quote)
        return false;
    }
    return true;
  }
  const std::string_view text_;
};

}  // namespace

std::optional<YAML::Node> parse_document(const std::string& text, Reading& reading) {
  const auto at = [&](const YAML::Mark& mark) {
    return mark.is_null() ? Mark{reading.file} : Mark{reading.file, mark.line + 1, mark.column + 1};
  };
  try {
    std::istringstream stream(text);
    YAML::Parser parser(stream);
    DocumentGuard guard(text);
    parser.HandleNextDocument(guard);
    if (guard.alias) {
      reading.fault(at(*guard.alias), "", "alias", "a YAML alias (*name) stands here", "",
                    "write the value out; aliases are not taken");
      return std::nullopt;
    }
    if (guard.open_quote) {
      reading.fault(at(*guard.open_quote), "", "syntax", "a quote is opened here and not closed", "",
                    "close it where the text ends");
      return std::nullopt;
    }
    if (guard.unsafe) {
      reading.fault(at(guard.unsafe->first), "", "unsafe-text",
                    fmt::format("this text has the character {}, which is not shown", guard.unsafe->second), "",
                    "write plain text on one line");
      return std::nullopt;
    }
    if (parser.HandleNextDocument(guard)) {
      reading.fault(Mark{reading.file}, "", "syntax", "this file holds more than one YAML document", "",
                    "remove the line ---");
      return std::nullopt;
    }
    return YAML::Load(text);
  } catch (const YAML::DeepRecursion& error) {
    reading.fault(at(error.mark), "", "syntax", "brackets or indents are nested too deep", "",
                  "a model needs no more than a dozen levels");
  } catch (const YAML::Exception& error) {
    reading.fault(at(error.mark), "", "syntax", fmt::format("this is not YAML: {}", error.msg), "",
                  "look for a missing bracket, colon, quote or indent at or just before this place");
  }
  return std::nullopt;
}

std::string written(const YAML::Node& node) {
  if (!node.IsDefined() || node.IsNull()) return "";
  if (node.IsSequence()) return "[..]";
  if (node.IsMap()) return "{..}";
  constexpr std::size_t longest = 60;
  const auto& scalar = node.Scalar();
  return scalar.size() <= longest ? scalar : scalar.substr(0, longest) + "...";
}

std::string reference(const YAML::Node& node) {
  return node.IsDefined() && node.IsScalar() ? node.Scalar() : written(node);
}

std::string suggest(const std::string& word, const std::vector<std::string>& known) {
  const auto near = nearest_names(word, known, 1);
  if (!near.empty()) return fmt::format("did you mean \"{}\"?", near.front());
  constexpr std::size_t most = 24;
  if (known.empty()) return "there are none";
  if (known.size() > most) return fmt::format("there are {} of them, such as {}", known.size(), known.front());
  return fmt::format("one of: {}", fmt::join(known, ", "));
}

bool is_listed(const Reading& reading) { return reading.diagnostics.size() < most_diagnostics; }

std::string suggest(const Reading& reading, const std::string& word, const std::vector<std::string>& known) {
  return is_listed(reading) ? suggest(word, known) : "see above";
}

Map::Map(Reading& reading, const YAML::Node& node, std::string where, std::vector<std::string> keys)
    : reading_(reading), node_(node), where_(std::move(where)) {
  if (!node.IsDefined() || !node.IsMap()) {
    reading.fault(node, where_, "wrong-type",
                  fmt::format("{} should be a mapping, not \"{}\"",
                              where_.empty() ? "the document" : "\"" + where_ + "\"", written(node)),
                  fmt::format("write key: value pairs; keys here: {}", fmt::join(keys, ", ")));
    return;
  }
  is_valid_ = true;
  std::set<std::string> seen;
  for (const auto& entry : node) {
    if (!entry.first.IsScalar()) {
      reading.fault(entry.first, where_, "wrong-type", "a key here is not a word", "write key: value");
      continue;
    }
    const std::string& key = entry.first.Scalar();
    if (!seen.insert(key).second)
      reading.fault(entry.first, path(key), "duplicate-key", fmt::format("duplicate key \"{}\"", written(entry.first)),
                    "keep one of them");
    else if (std::find(keys.begin(), keys.end(), key) == keys.end())
      reading.fault(entry.first, path(key), "unknown-key", fmt::format("unknown key \"{}\"", written(entry.first)),
                    suggest(reading, key, keys));
  }
}

bool Map::require(const std::string& key, const std::string& remedy) const {
  if (!is_valid_ || (node_[key].IsDefined() && !node_[key].IsNull())) return is_valid_;
  reading_.fault(node_, path(key), "missing-key", fmt::format("\"{}\" is missing", key),
                 remedy.empty() ? fmt::format("add {}: ...", key) : remedy);
  return false;
}

std::optional<double> read_number(Reading& reading, const YAML::Node& node, const std::string& where, Limits limits) {
  const auto refuse_type = [&] {
    reading.fault(node, where, "wrong-type", fmt::format("\"{}\" should be a number, not \"{}\"", where, written(node)),
                  "write the number alone, without a unit");
    return std::nullopt;
  };
  if (!node.IsDefined() || !node.IsScalar()) return refuse_type();
  std::string scalar = node.Scalar();
  std::string lower = scalar;
  std::transform(lower.begin(), lower.end(), lower.begin(),
                 [](unsigned char c) { return static_cast<char>(std::tolower(c)); });
  const bool is_special = lower == ".nan" || lower == ".inf" || lower == "-.inf" || lower == "+.inf" ||
                          lower == "nan" || lower == "inf" || lower == "-inf" || lower == "infinity" ||
                          lower == "-infinity";
  double value = 0;
  if (!is_special) {
    const char* begin = scalar.data() + (scalar.starts_with('+') ? 1 : 0);
    const auto [end, error] = std::from_chars(begin, scalar.data() + scalar.size(), value);
    if (end != scalar.data() + scalar.size() || (error != std::errc{} && error != std::errc::result_out_of_range) ||
        scalar.empty())
      return refuse_type();
    if (error == std::errc::result_out_of_range) value = HUGE_VAL;
  }
  const bool is_low = limits.is_low_excluded ? value <= limits.low : value < limits.low;
  if (is_special || !std::isfinite(value) || is_low || value > limits.high) {
    reading.fault(node, where, "out-of-range", fmt::format("\"{}\" is {}", where, written(node)),
                  limits.is_low_excluded
                      ? fmt::format("it should be more than {} and at most {}", limits.low, limits.high)
                      : fmt::format("it should be between {} and {}", limits.low, limits.high));
    return std::nullopt;
  }
  return value;
}

std::optional<Eigen::Vector3d> read_vec3(Reading& reading, const YAML::Node& node, const std::string& where,
                                         Limits limits) {
  if (!node.IsDefined() || !node.IsSequence() || node.size() != 3) {
    reading.fault(node, where, "wrong-type",
                  fmt::format("\"{}\" should be three numbers, not \"{}\"", where, written(node)),
                  "write [x, y, z] in metres");
    return std::nullopt;
  }
  Eigen::Vector3d vector;
  bool is_good = true;
  static constexpr const char* axis[] = {".x", ".y", ".z"};
  for (int i = 0; i < 3; ++i) {
    const auto value = read_number(reading, node[i], where + axis[i], limits);
    is_good = is_good && value;
    vector[i] = value.value_or(0);
  }
  return is_good ? std::optional(vector) : std::nullopt;
}

std::string Map::text(const std::string& key, const std::string& otherwise) const {
  if (!has(key)) return otherwise;
  const auto node = at(key);
  if (!node.IsScalar()) {
    reading_.fault(node, path(key), "wrong-type",
                   fmt::format("\"{}\" should be text, not \"{}\"", path(key), written(node)),
                   "write a word or a sentence");
    return otherwise;
  }
  return std::string(without_last_lines(node.Scalar()));
}

double Map::number(const std::string& key, Limits limits, double otherwise) const {
  return has(key) ? read_number(reading_, at(key), path(key), limits).value_or(otherwise) : otherwise;
}

double Map::required_number(const std::string& key, Limits limits, double otherwise) const {
  return require(key) ? number(key, limits, otherwise) : otherwise;
}

bool Map::flag(const std::string& key, bool otherwise) const {
  if (!has(key)) return otherwise;
  const auto node = at(key);
  if (node.IsScalar() && (node.Scalar() == "true" || node.Scalar() == "yes")) return true;
  if (node.IsScalar() && (node.Scalar() == "false" || node.Scalar() == "no")) return false;
  reading_.fault(node, path(key), "wrong-type",
                 fmt::format("\"{}\" should be true or false, not \"{}\"", path(key), written(node)),
                 "write true or false");
  return otherwise;
}

Eigen::Vector3d Map::vec3(const std::string& key, const Eigen::Vector3d& otherwise, Limits limits) const {
  return has(key) ? read_vec3(reading_, at(key), path(key), limits).value_or(otherwise) : otherwise;
}

Eigen::Vector3d Map::required_vec3(const std::string& key, const Eigen::Vector3d& otherwise, Limits limits) const {
  return require(key, fmt::format("add {}: [x, y, z]", key)) ? vec3(key, otherwise, limits) : otherwise;
}

Quantity Map::quantity(const std::string& key, Limits limits, const Quantity& otherwise, double factor) const {
  if (!has(key)) return otherwise;
  const auto node = at(key);
  Quantity quantity{otherwise.value, "kit file", Confidence::Assumption};
  if (!node.IsMap()) {
    if (const auto value = read_number(reading_, node, path(key), limits)) quantity.value = *value * factor;
    if (node.Mark().is_null()) quantity.source = "set for this run";
    return quantity;
  }
  const Map map(reading_, node, path(key), {"value", "source", "confidence", "spread"});
  quantity.value = map.required_number("value", limits, otherwise.value / factor) * factor;
  quantity.source = map.text("source", quantity.source);
  quantity.confidence = map.confidence("confidence", Confidence::Assumption);
  if (map.has("spread")) {
    const auto node_of_spread = map.at("spread");
    if (!node_of_spread.IsSequence() || node_of_spread.size() != 2) {
      reading_.fault(node_of_spread, map.path("spread"), "wrong-type",
                     fmt::format("\"{}\" should be two numbers", map.path("spread")), "write [low, high]");
      return quantity;
    }
    const auto low = read_number(reading_, node_of_spread[0], map.path("spread"), limits);
    const auto high = read_number(reading_, node_of_spread[1], map.path("spread"), limits);
    if (!low || !high) return quantity;
    if (*low * factor > quantity.value || *high * factor < quantity.value)
      reading_.fault(node_of_spread, map.path("spread"), "out-of-range", "the spread does not hold the value",
                     "write [low, high] with low <= value <= high");
    else
      quantity.spread = {*low * factor, *high * factor};
  }
  return quantity;
}

Confidence Map::confidence(const std::string& key, Confidence otherwise) const {
  static constexpr Confidence order[] = {Confidence::Published, Confidence::Secondary, Confidence::Computed,
                                         Confidence::Memory,    Confidence::Practice,  Confidence::Assumption};
  const auto found = std::find(std::begin(order), std::end(order), otherwise) - std::begin(order);
  return order[word(key, {"published", "secondary", "computed", "memory", "practice", "assumption"},
                    static_cast<std::size_t>(found))];
}

std::size_t Map::word(const std::string& key, const std::vector<std::string>& words, std::size_t otherwise) const {
  if (!has(key)) return otherwise;
  const auto node = at(key);
  const auto found = node.IsScalar() ? std::find(words.begin(), words.end(), node.Scalar()) : words.end();
  if (found != words.end()) return static_cast<std::size_t>(found - words.begin());
  reading_.fault(node, path(key), "unknown-word", fmt::format("\"{}\" is \"{}\"", path(key), written(node)),
                 fmt::format("one of: {}", fmt::join(words, ", ")));
  return otherwise;
}

std::vector<bool> Map::words(const std::string& key, const std::vector<std::string>& words) const {
  std::vector<bool> chosen(words.size());
  if (!has(key)) return chosen;
  const auto take = [&](const YAML::Node& node, const std::string& where) {
    const auto found = node.IsScalar() ? std::find(words.begin(), words.end(), node.Scalar()) : words.end();
    if (found == words.end())
      reading_.fault(node, where, "unknown-word", fmt::format("\"{}\" is \"{}\"", where, written(node)),
                     fmt::format("any of: {}", fmt::join(words, ", ")));
    else
      chosen[static_cast<std::size_t>(found - words.begin())] = true;
  };
  const auto node = at(key);
  if (node.IsSequence())
    for_each_item(reading_, node, path(key), take);
  else
    take(node, path(key));
  return chosen;
}

bool is_id(const std::string& word) {
  return !word.empty() && word.size() <= 64 && std::all_of(word.begin(), word.end(), [](unsigned char c) {
    return std::isalnum(c) || c == '-' || c == '_' || c == '.';
  });
}

std::optional<Eigen::Vector2d> read_vec2(Reading& reading, const YAML::Node& node, const std::string& where,
                                         Limits limits) {
  if (!node.IsSequence() || node.size() != 2) {
    reading.fault(node, where, "wrong-type",
                  fmt::format("\"{}\" should be two numbers, not \"{}\"", where, written(node)),
                  "write [x, y] in metres");
    return std::nullopt;
  }
  const auto x = read_number(reading, node[0], where + ".x", limits),
             y = read_number(reading, node[1], where + ".y", limits);
  return x && y ? std::optional(Eigen::Vector2d(*x, *y)) : std::nullopt;
}

std::string read_kind(Reading& reading, const YAML::Node& node, const std::string& where,
                      const std::vector<std::string>& kinds) {
  const Map map(reading, node, where, kinds);
  if (!map.is_valid()) return {};
  if (node.size() != 1) {
    reading.fault(node, where, "wrong-type", "a shape is one of its kinds, once",
                  fmt::format("one of: {}", fmt::join(kinds, ", ")));
    return {};
  }
  const std::string kind = written(node.begin()->first);
  return std::find(kinds.begin(), kinds.end(), kind) != kinds.end() ? kind
                                                                    : std::string();  // else told as an unknown key
}

std::string read_id(const Map& map) {
  if (!map.require("id", "give it an id: letters, digits, - _ and .")) return {};
  const std::string id = map.text("id");
  if (is_id(id)) return id;
  map.reading().fault(map.at("id"), map.path("id"), "bad-id", fmt::format("\"{}\" is no id", written(map.at("id"))),
                      "use letters, digits, - _ and . only, at most 64 of them");
  return {};
}

bool check_format(const Map& map, const std::string& kind) {
  if (!map.is_valid()) return false;
  const std::string wanted = kind + "/1";
  if (!map.has("holdfast")) {
    map.reading().fault(map.node(), "holdfast", "wrong-format", "the line that names the format is missing",
                        fmt::format("begin with holdfast: {}", wanted));
    return true;
  }
  const std::string given = map.text("holdfast");
  if (given == wanted) return true;
  map.reading().fault(map.at("holdfast"), "holdfast", "wrong-format",
                      fmt::format("format \"{}\" is not read here", given),
                      fmt::format("this file should begin with holdfast: {}", wanted));
  return false;
}

}  // namespace holdfast::model::detail
