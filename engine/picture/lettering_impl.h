// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// How much room texts take on the sheet, and how they break into lines.

#include <string>
#include <string_view>
#include <vector>

namespace holdfast::picture {

/// Width in the unit of `size`, set in DejaVu Sans; other fonts that a reader may have instead are narrower. Characters
/// beyond ASCII count as wide ones.
/// Source: advance widths of DejaVu Sans and DejaVu Sans Bold 2.37.
[[nodiscard]] double text_width(std::string_view text, double size, bool is_bold = false);

/// Lines of `width` at most, broken at spaces; a word that is wider than a line is broken where the line ends. One
/// empty line for an empty text.
[[nodiscard]] std::vector<std::string> wrapped(std::string_view text, double width, double size, bool is_bold = false);

}  // namespace holdfast::picture
