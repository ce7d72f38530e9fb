// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// Text that is shown on terminals, sheets and in tables: nothing in it may act on what shows it, or make other text
// look different.

#include <cstddef>
#include <optional>
#include <string>
#include <string_view>

namespace holdfast::model {

/// A character that is not plain text.
struct UnsafeCharacter {
  std::size_t at = 0;  ///< byte
  std::string name;    ///< `U+202E`, or `byte 0xFF` where the text is not UTF-8
};

/// The first character that is not shown but acts: controls (C0, DEL, C1: line ends and tabs too), marks of direction
/// (Unicode UAX #9), line and paragraph separators, interlinear marks, tags, the byte order mark, noncharacters; or a
/// byte that is not UTF-8. Nothing where all is plain.
[[nodiscard]] std::optional<UnsafeCharacter> find_unsafe(std::string_view text);

/// `text` with every such character as its code point, `U+202E`. `keeps_lines`: line feeds stay.
[[nodiscard]] std::string with_code_points(std::string_view text, bool keeps_lines = false);

/// The same for a JSON document, as escapes (`\u202e`): the same values, nothing that acts. Line feeds stay. Requires
/// UTF-8.
[[nodiscard]] std::string with_json_escapes(std::string_view json);

}  // namespace holdfast::model
