// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// Texts in markup.

#include <string>
#include <string_view>

#include "holdfast/model/plain_text.h"

namespace holdfast::picture {

/// As text of XML or HTML, in elements and in attributes. Well-formed whatever the text: what XML 1.0 does not have,
/// and what would reorder a line, is shown as its code point.
[[nodiscard]] inline std::string escaped(std::string_view text) {
  std::string out;
  for (const char c : model::with_code_points(text)) {
    switch (c) {
      case '&':
        out += "&amp;";
        break;
      case '<':
        out += "&lt;";
        break;
      case '>':
        out += "&gt;";
        break;
      case '"':
        out += "&quot;";
        break;
      default:
        out += c;
    }
  }
  return out;
}

}  // namespace holdfast::picture
