// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// Laying out text on a page of fixed width.

#include <cstddef>
#include <string>
#include <string_view>

namespace holdfast::report::detail {

inline constexpr std::size_t page_width = 120;

/// Columns that a text takes: code points of its UTF-8.
[[nodiscard]] std::size_t width_of(std::string_view text);
[[nodiscard]] std::string pad_left(std::string_view text, std::size_t width);
[[nodiscard]] std::string pad_right(std::string_view text, std::size_t width);

/// Words broken at `width` columns into lines that begin with `indent` spaces, except the first, which continues a line
/// already `column` columns long. Words longer than the line stand alone: nothing is cut.
[[nodiscard]] std::string wrap(std::string_view text, std::size_t column, std::size_t indent,
                               std::size_t width = page_width);

/// Adds `start` and, wrapped behind it, `words`; lines after the first begin with `indent` spaces.
void paragraph(std::string& out, std::string_view start, std::string_view words, std::size_t indent);

}  // namespace holdfast::report::detail
