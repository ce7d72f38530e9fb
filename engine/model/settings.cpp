// SPDX-License-Identifier: GPL-3.0-or-later
#include "settings_impl.h"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <array>
#include <charconv>
#include <map>

namespace holdfast::model::detail {

namespace {

constexpr std::array kit_keys = {"suits", "loads", "cables", "tethers", "foot_restraints", "cameras", "design"};

bool is_number(const std::string& word) {
  double value = 0;
  const auto [end, error] = std::from_chars(word.data(), word.data() + word.size(), value);
  return !word.empty() && error == std::errc{} && end == word.data() + word.size();
}

/// A number or a (nested) list of numbers; an undefined node for anything else.
YAML::Node parse_value(const std::string& text) {
  const YAML::Node undefined(YAML::NodeType::Undefined);
  if (is_number(text)) return YAML::Node(text);
  if (text.size() < 2 || text.front() != '[' || text.back() != ']') return undefined;
  YAML::Node list(YAML::NodeType::Sequence);
  std::string word;
  int depth = 0;
  for (const char c : text.substr(1, text.size() - 2) + ',') {
    if (c == '[') ++depth;
    if (c == ']') --depth;
    if (c == ',' && depth == 0) {
      const YAML::Node item = parse_value(word);
      if (!item.IsDefined()) return undefined;
      list.push_back(item);
      word.clear();
    } else if (c != ' ') {
      word += c;
    }
  }
  return depth == 0 ? list : undefined;
}

/// The key or item that `rest` begins with, and what comes after it. Ids may have dots: the longest that fits.
struct Step {
  YAML::Node node;
  std::string name;
  std::string rest;
};

class Walk {
 public:
  Walk(const Setting& setting, Reading& reading) : setting_(setting), reading_(reading) {}

  void set(YAML::Node node, const std::string& rest, const std::string& where) {
    // The one section that a file may leave out and that is no list.
    if (where.empty() && node.IsMap() && rest.rfind("design.", 0) == 0 && !node["design"].IsDefined())
      node["design"] = YAML::Node(YAML::NodeType::Map);
    if (node.IsSequence() || rest.find('.') != std::string::npos) {
      if (auto step = find_step(node, rest, where); !step)
        return;
      else if (!step->rest.empty())
        return set(step->node, step->rest, where.empty() ? step->name : where + "." + step->name);
      else
        return put(step->node);
    }
    if (!node.IsMap()) return fault(where + " is no mapping", "the path ends there");
    if (node[rest].IsDefined()) return put(node[rest]);
    node[rest] = setting_.value;  // the reader knows which keys there are
  }

 private:
  void fault(const std::string& problem, std::string remedy) {
    reading_.fault(Mark{"--set"}, "", "unknown-setting", fmt::format("{}: {}", setting_.path, problem), setting_.text,
                   std::move(remedy));
  }

  void put(YAML::Node node) {
    if (node.IsMap() && !node["value"].IsDefined())
      return fault("this is no number", fmt::format("go on to one of: {}", fmt::join(keys_of(node), ", ")));
    node = setting_.value;
  }

  static std::vector<std::string> keys_of(const YAML::Node& node) {
    std::vector<std::string> keys;
    if (node.IsMap())
      for (const auto& entry : node)
        if (entry.first.IsScalar()) keys.push_back(entry.first.Scalar());
    if (node.IsSequence())
      for (const auto& item : node)
        if (item.IsMap() && item["id"].IsDefined() && item["id"].IsScalar()) keys.push_back(item["id"].Scalar());
    return keys;
  }

  std::optional<Step> find_step(const YAML::Node& node, const std::string& rest, const std::string& where) {
    const auto begins = [&](const std::string& key) {
      return rest.compare(0, key.size(), key) == 0 && (rest.size() == key.size() || rest[key.size()] == '.');
    };
    const auto keys = keys_of(node);
    std::optional<std::string> longest;
    for (const auto& key : keys)
      if (begins(key) && (!longest || key.size() > longest->size())) longest = key;
    const auto after = [&](const std::string& name) {
      return rest.size() > name.size() ? rest.substr(name.size() + 1) : std::string();
    };
    const std::string first = rest.substr(0, rest.find('.'));
    if (longest) {
      if (node.IsMap()) return Step{node[*longest], *longest, after(*longest)};
      for (const auto& item : node)
        if (item.IsMap() && item["id"].IsDefined() && item["id"].IsScalar() && item["id"].Scalar() == *longest)
          return Step{item, *longest, after(*longest)};
    }
    std::size_t index = 0;
    const auto [end, error] = std::from_chars(first.data(), first.data() + first.size(), index);
    if (node.IsSequence() && error == std::errc{} && end == first.data() + first.size() && index < node.size())
      return Step{node[index], first, after(first)};
    fault(fmt::format("there is no \"{}\"{}", first, where.empty() ? "" : " under " + where),
          keys.empty() ? "name a number of structure.yaml or kit.yaml; rows of tables are changed in the table"
                       : suggest(first, keys));
    return std::nullopt;
  }

  const Setting& setting_;
  Reading& reading_;
};

}  // namespace

std::vector<Setting> parse_settings(const std::vector<std::string>& texts, std::vector<Diagnostic>& diagnostics) {
  std::vector<Setting> settings;
  std::map<std::string, std::string> seen;
  for (const auto& text : texts) {
    const auto refuse = [&](std::string problem, std::string remedy) {
      diagnostics.push_back({{"--set"}, "", "unknown-setting", std::move(problem), text, std::move(remedy)});
    };
    const auto equals = text.find('=');
    Setting setting{text, text.substr(0, equals), {}};
    setting.value =
        equals == std::string::npos ? YAML::Node(YAML::NodeType::Undefined) : parse_value(text.substr(equals + 1));
    if (setting.path.empty() || !setting.value.IsDefined()) {
      refuse(fmt::format("\"{}\" sets no number", text),
             "write PATH=NUMBER, as suits.standard.reach_m=0.55 or zones.beam.limit_s=30");
      continue;
    }
    if (const auto [entry, is_new] = seen.emplace(setting.path, text); !is_new) {
      refuse(fmt::format("{} is set by {} and by {}", setting.path, entry->second, text),
             "give one number for each path");
      continue;
    }
    const std::string first = setting.path.substr(0, setting.path.find('.'));
    setting.is_of_kit = std::find(kit_keys.begin(), kit_keys.end(), first) != kit_keys.end();
    settings.push_back(std::move(setting));
  }
  return settings;
}

void apply_setting(YAML::Node document, const Setting& setting, Reading& reading) {
  Walk(setting, reading).set(document, setting.path, "");
}

}  // namespace holdfast::model::detail
