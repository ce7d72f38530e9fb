// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// Answers about worksites as text, JSON and CSV.

#include <string>
#include <vector>

#include "holdfast/reach/reach.h"
#include "holdfast/report/report.h"
#include "holdfast/tether/held_reach.h"

namespace holdfast::report {

/// What is in reach, one answer a configuration (`--over`); at least one. CSV has one row a station and target.
struct ReachPage {
  /// Which tethers hold something at a target that is in a setting's two-hand zone.
  struct Hold {
    std::size_t answer = 0;
    tether::HeldTarget held;
  };
  std::vector<reach::ReachAnswer> answers;
  std::vector<Hold> holds;
  bool asks_holds = false;  ///< text: also says where there are none
  bool is_table = false;    ///< text: all sites against all targets, instead of each site's settings
};
[[nodiscard]] std::string text(const Context& context, const ReachPage& page);
[[nodiscard]] std::string json(const Context& context, const ReachPage& page);
[[nodiscard]] std::string csv(const Context& context, const ReachPage& page);

}  // namespace holdfast::report
