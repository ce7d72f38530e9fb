// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// How rails found in a mesh are told apart by how sure they are: by colour and by dashes, so that black and white does.

#include <array>

#include "holdfast/picture/found_rails.h"

namespace holdfast::picture {

struct FoundStyle {
  FoundKind kind;
  const char* name;    ///< in classes and data
  const char* words;   ///< in legends
  const char* colour;  ///< Okabe and Ito, 2008
  double width_mm;
  std::array<double, 4> dash;  ///< stroke, gap, stroke, gap in widths
};
inline constexpr std::array<FoundStyle, 4> found_styles = {{
    {FoundKind::Sure, "sure", "rail found, sure", "#0072b2", 0.6, {1, 0, 1, 0}},
    {FoundKind::Likely, "likely", "rail found, likely", "#009e73", 0.6, {5, 1.6, 5, 1.6}},
    {FoundKind::Doubtful, "doubtful", "doubtful: not in the table", "#d55e00", 0.7, {0.9, 1.1, 0.9, 1.1}},
    {FoundKind::Post, "post", "post", "#666666", 0.25, {1, 0, 1, 0}},
}};
[[nodiscard]] inline const FoundStyle& style_of(FoundKind kind) { return found_styles[static_cast<std::size_t>(kind)]; }

}  // namespace holdfast::picture
