// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// A corpus of bad models, tables, meshes, results and arguments, made here: small, and the same on every run.

#include <functional>
#include <map>
#include <string>
#include <vector>

namespace holdfast::hostile {

/// One run of the command in a scratch folder that has a sound model in `model/` and a sound result in `route.json`.
struct Case {
  std::string name;
  std::map<std::string, std::string> files;  ///< written over the sound ones, by path
  std::vector<std::string> arguments;
  std::vector<std::string> before{};  ///< shell lines, for what is no plain file
};

[[nodiscard]] const std::string& sound_structure();
[[nodiscard]] const std::string& sound_kit();

/// `route`: what the sound result holds.
[[nodiscard]] std::vector<Case> all_cases(const std::string& route);

}  // namespace holdfast::hostile
