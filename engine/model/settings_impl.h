// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// Numbers of a model set for one run (`--set`), put into the parsed documents before they are read, so that each is
// checked like one that the file has.

#include <string>
#include <vector>

#include "document_impl.h"

namespace holdfast::model::detail {

/// One `PATH=NUMBER`. The path goes by keys, and into lists by id or by number from 0: `suits.standard.reach_m`.
struct Setting {
  std::string text;  ///< as given
  std::string path;
  YAML::Node value;  ///< a number, or a list of numbers
  bool is_of_kit = false;
};

/// Splits and checks the texts; a diagnostic for each that is no setting, and for a path that is set twice.
[[nodiscard]] std::vector<Setting> parse_settings(const std::vector<std::string>& texts,
                                                  std::vector<Diagnostic>& diagnostics);

/// Puts a setting where its path leads; a diagnostic with the nearest names where it leads nowhere. A quantity loses
/// the source of the number that it had. Nodes put in have no mark: that is how readers know them.
void apply_setting(YAML::Node document, const Setting& setting, Reading& reading);

}  // namespace holdfast::model::detail
