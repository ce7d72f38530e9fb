// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// YAML documents read strictly: every fault becomes a diagnostic with its place, and reading goes on.

#include <yaml-cpp/yaml.h>

#include <Eigen/Core>
#include <initializer_list>
#include <optional>
#include <string>
#include <vector>

#include "holdfast/model/diagnostic.h"
#include "holdfast/model/kit.h"

namespace holdfast::model::detail {

/// Limits of a number and the words for them.
struct Limits {
  double low;
  double high;
  bool is_low_excluded = false;
};
/// Nothing in the trade is farther than this from anything else; a larger number is a slip of units.
inline constexpr double absurd_m = 1e4;
inline constexpr Limits coordinate{-absurd_m, absurd_m};
inline constexpr Limits positive_length{0, absurd_m, true};
inline constexpr Limits length_or_zero{0, absurd_m};
inline constexpr Limits any_degrees{-3600, 3600};

/// Where reading is: the file, what is being read (`rail "r-12"`), and the faults so far.
struct Reading {
  std::vector<Diagnostic>& diagnostics;
  std::string file;
  std::string subject;

  [[nodiscard]] Mark mark(const YAML::Node& node) const;
  void fault(const YAML::Node& node, const std::string& where, std::string code, const std::string& problem,
             std::string remedy);
  void fault(const Mark& mark, const std::string& where, std::string code, const std::string& problem,
             std::string value, std::string remedy);
};

/// Sets the subject for a scope.
class Subject {
 public:
  Subject(Reading& reading, std::string subject) : reading_(reading), saved_(reading.subject) {
    reading.subject = std::move(subject);
  }
  ~Subject() { reading_.subject = saved_; }
  Subject(const Subject&) = delete;
  Subject& operator=(const Subject&) = delete;

 private:
  Reading& reading_;
  std::string saved_;
};

/// The one document of `text`, or nothing after a diagnostic: syntax, several documents, aliases, nesting too deep.
[[nodiscard]] std::optional<YAML::Node> parse_document(const std::string& text, Reading& reading);

/// The scalar as written, `[..]` or `{..}` for others.
[[nodiscard]] std::string written(const YAML::Node& node);

/// The scalar whole, to be compared with ids: `written` cuts long ones.
[[nodiscard]] std::string reference(const YAML::Node& node);

/// A mapping whose keys are checked once: unknown keys (the nearest known one is suggested) and keys that stand twice.
class Map {
 public:
  Map(Reading& reading, const YAML::Node& node, std::string where, std::vector<std::string> keys);

  [[nodiscard]] bool is_valid() const { return is_valid_; }
  [[nodiscard]] bool has(const std::string& key) const { return is_valid_ && node_[key].IsDefined(); }
  [[nodiscard]] YAML::Node at(const std::string& key) const {
    return is_valid_ ? node_[key] : YAML::Node(YAML::NodeType::Undefined);
  }
  [[nodiscard]] std::string path(const std::string& key) const { return where_.empty() ? key : where_ + "." + key; }
  [[nodiscard]] const YAML::Node& node() const { return node_; }
  [[nodiscard]] Reading& reading() const { return reading_; }
  [[nodiscard]] Mark mark() const { return reading_.mark(node_); }

  /// A diagnostic and false when the key is missing.
  bool require(const std::string& key, const std::string& remedy = {}) const;

  [[nodiscard]] std::string text(const std::string& key, const std::string& otherwise = {}) const;
  [[nodiscard]] double number(const std::string& key, Limits limits, double otherwise) const;
  [[nodiscard]] double required_number(const std::string& key, Limits limits, double otherwise = 1) const;
  [[nodiscard]] bool flag(const std::string& key, bool otherwise) const;
  [[nodiscard]] Eigen::Vector3d vec3(const std::string& key, const Eigen::Vector3d& otherwise,
                                     Limits limits = coordinate) const;
  [[nodiscard]] Eigen::Vector3d required_vec3(const std::string& key, const Eigen::Vector3d& otherwise,
                                              Limits limits = coordinate) const;
  [[nodiscard]] Quantity quantity(const std::string& key, Limits limits, const Quantity& otherwise,
                                  double factor = 1) const;
  [[nodiscard]] Confidence confidence(const std::string& key, Confidence otherwise) const;
  /// One of `words`, by index.
  [[nodiscard]] std::size_t word(const std::string& key, const std::vector<std::string>& words,
                                 std::size_t otherwise) const;
  /// Words of a list (or a single word), each one of `words`; true at its index.
  [[nodiscard]] std::vector<bool> words(const std::string& key, const std::vector<std::string>& words) const;

 private:
  Reading& reading_;
  YAML::Node node_;
  std::string where_;
  bool is_valid_ = false;
};

[[nodiscard]] std::optional<double> read_number(Reading& reading, const YAML::Node& node, const std::string& where,
                                                Limits limits);
[[nodiscard]] std::optional<Eigen::Vector3d> read_vec3(Reading& reading, const YAML::Node& node,
                                                       const std::string& where, Limits limits = coordinate);
/// Letters, digits, `-`, `_` and `.`, 1 to 64 of them.
[[nodiscard]] bool is_id(const std::string& word);
/// Two numbers, or a diagnostic.
[[nodiscard]] std::optional<Eigen::Vector2d> read_vec2(Reading& reading, const YAML::Node& node,
                                                       const std::string& where, Limits limits);
/// The one key of a mapping of exactly one, which must be among `kinds`; empty after a diagnostic.
[[nodiscard]] std::string read_kind(Reading& reading, const YAML::Node& node, const std::string& where,
                                    const std::vector<std::string>& kinds);
/// `id:` of a mapping; checks its letters. Empty after a diagnostic.
[[nodiscard]] std::string read_id(const Map& map);
/// Calls `visit(node, where)` for each item; a diagnostic when it is not a list.
template <class Visit>
void for_each_item(Reading& reading, const YAML::Node& node, const std::string& where, Visit&& visit) {
  if (!node.IsDefined()) return;
  if (!node.IsSequence()) {
    reading.fault(node, where, "wrong-type", "\"" + where + "\" should be a list, not \"" + written(node) + "\"",
                  "begin each item with a dash, or write [item, item]");
    return;
  }
  for (std::size_t i = 0; i < node.size(); ++i) visit(node[i], where + "[" + std::to_string(i) + "]");
}
template <class Things>
[[nodiscard]] std::vector<std::string> ids_of(const Things& things) {
  std::vector<std::string> ids;
  for (const auto& thing : things) ids.push_back(thing.id);
  return ids;
}
/// "did you mean \"x\"?" or, when nothing is near, "one of: a, b, c".
[[nodiscard]] std::string suggest(const std::string& word, const std::vector<std::string>& known);
/// Looking for what was meant takes as long as there are names: not for faults that are counted only.
[[nodiscard]] bool is_listed(const Reading& reading);
[[nodiscard]] std::string suggest(const Reading& reading, const std::string& word,
                                  const std::vector<std::string>& known);

/// Checks the line `holdfast: kind/1` of a document. False when the document should not be read further.
bool check_format(const Map& map, const std::string& kind);

}  // namespace holdfast::model::detail
