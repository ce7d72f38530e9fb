// SPDX-License-Identifier: GPL-3.0-or-later
#include "holdfast/model/plain_text.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>

#include "files_impl.h"

namespace holdfast::model {

namespace detail {

std::size_t utf8_length(std::string_view text, std::size_t at) {
  const auto byte = [&](std::size_t i) { return at + i < text.size() ? static_cast<unsigned char>(text[at + i]) : 0u; };
  const auto tail = [&](std::size_t i) { return (byte(i) & 0xC0u) == 0x80u; };
  const unsigned lead = byte(0);
  if (lead < 0x80) return 1;
  if (lead >= 0xC2 && lead <= 0xDF) return tail(1) ? 2 : 0;
  if (lead >= 0xE0 && lead <= 0xEF) {
    if (!tail(1) || !tail(2)) return 0;
    if (lead == 0xE0 && byte(1) < 0xA0) return 0;
    if (lead == 0xED && byte(1) > 0x9F) return 0;
    return 3;
  }
  if (lead >= 0xF0 && lead <= 0xF4) {
    if (!tail(1) || !tail(2) || !tail(3)) return 0;
    if (lead == 0xF0 && byte(1) < 0x90) return 0;
    if (lead == 0xF4 && byte(1) > 0x8F) return 0;
    return 4;
  }
  return 0;
}

}  // namespace detail

namespace {

char32_t code_point(std::string_view text, std::size_t at, std::size_t length) {
  const auto byte = [&](std::size_t i) { return static_cast<char32_t>(static_cast<unsigned char>(text[at + i])); };
  if (length == 1) return byte(0);
  char32_t code = byte(0) & (0xFFu >> (length + 1));
  for (std::size_t i = 1; i < length; ++i) code = code << 6 | (byte(i) & 0x3Fu);
  return code;
}

/// Unicode 15: general categories Cc, Zl and Zp, Bidi_Control, and of Cf those that carry or reorder other text;
/// noncharacters are not allowed in XML either.
bool is_unsafe(char32_t c) {
  static constexpr std::array<std::pair<char32_t, char32_t>, 10> ranges = {{{0x00, 0x1F},
                                                                            {0x7F, 0x9F},
                                                                            {0x061C, 0x061C},
                                                                            {0x200E, 0x200F},
                                                                            {0x2028, 0x202E},
                                                                            {0x2066, 0x206F},
                                                                            {0xFDD0, 0xFDEF},
                                                                            {0xFEFF, 0xFEFF},
                                                                            {0xFFF9, 0xFFFB},
                                                                            {0xE0000, 0xE007F}}};
  return (c & 0xFFFE) == 0xFFFE || std::any_of(ranges.begin(), ranges.end(), [&](const auto& range) {
           return c >= range.first && c <= range.second;
         });
}

}  // namespace

std::optional<UnsafeCharacter> find_unsafe(std::string_view text) {
  for (std::size_t at = 0; at < text.size();) {
    const std::size_t length = detail::utf8_length(text, at);
    if (length == 0) return UnsafeCharacter{at, fmt::format("byte 0x{:02X}", static_cast<unsigned char>(text[at]))};
    if (const auto code = code_point(text, at, length); is_unsafe(code))
      return UnsafeCharacter{at, fmt::format("U+{:04X}", static_cast<std::uint32_t>(code))};
    at += length;
  }
  return std::nullopt;
}

std::string with_code_points(std::string_view text, bool keeps_lines) {
  std::string out;
  while (const auto unsafe = find_unsafe(text)) {
    out += text.substr(0, unsafe->at);
    const std::size_t length = std::max<std::size_t>(1, detail::utf8_length(text, unsafe->at));
    if (keeps_lines && text[unsafe->at] == '\n')
      out += '\n';
    else
      out += unsafe->name;
    text.remove_prefix(unsafe->at + length);
  }
  return out.append(text);
}

std::string with_json_escapes(std::string_view json) {
  std::string out;
  for (std::size_t at = 0; at < json.size();) {
    const std::size_t length = std::max<std::size_t>(1, detail::utf8_length(json, at));
    const auto code = static_cast<std::uint32_t>(code_point(json, at, length));
    if (code < 0x7F || !is_unsafe(code))
      out += json.substr(at, length);
    else if (code < 0x10000)
      out += fmt::format("\\u{:04x}", code);
    else  // RFC 8259, 7: as a surrogate pair
      out += fmt::format("\\u{:04x}\\u{:04x}", 0xD800 + ((code - 0x10000) >> 10), 0xDC00 + ((code - 0x10000) & 0x3FF));
    at += length;
  }
  return out;
}

}  // namespace holdfast::model
