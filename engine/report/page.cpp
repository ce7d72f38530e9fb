// SPDX-License-Identifier: GPL-3.0-or-later
#include <algorithm>

#include "page_impl.h"

namespace holdfast::report::detail {

std::size_t width_of(std::string_view text) {
  return static_cast<std::size_t>(
      std::count_if(text.begin(), text.end(), [](char c) { return (static_cast<unsigned char>(c) & 0xC0) != 0x80; }));
}

std::string pad_left(std::string_view text, std::size_t width) {
  const std::size_t have = width_of(text);
  return std::string(have < width ? width - have : 0, ' ') + std::string(text);
}

std::string pad_right(std::string_view text, std::size_t width) {
  const std::size_t have = width_of(text);
  return std::string(text) + std::string(have < width ? width - have : 0, ' ');
}

namespace {

bool is_digit(char c) { return c >= '0' && c <= '9'; }

/// End of what must stay on one line from `at` on: a word, a number with its unit, or a point `(x, y, z)`.
std::size_t end_of_word(std::string_view text, std::size_t at) {
  static constexpr std::string_view units[] = {"m", "mm", "s", "N", "kg", "deg"};
  const auto next_space = [&](std::size_t from) { return std::min(text.find(' ', from), text.size()); };
  std::size_t end = next_space(at);
  if (text[at] == '(' && at + 1 < text.size() && (is_digit(text[at + 1]) || text[at + 1] == '-')) {
    const std::size_t close = text.find(')', at);
    const std::size_t inner_end = text.find_first_not_of("0123456789.-, ", at + 1);
    if (close != std::string_view::npos && inner_end == close) return next_space(close);
  }
  if (end == text.size() || !is_digit(text[end - 1])) return end;
  const std::size_t after = next_space(end + 1);
  const std::string_view next = text.substr(end + 1, after - end - 1);
  const std::string_view unit = next.substr(0, next.find_last_not_of(",;.:)") + 1);
  return std::find(std::begin(units), std::end(units), unit) != std::end(units) ? after : end;
}

}  // namespace

std::string wrap(std::string_view text, std::size_t column, std::size_t indent, std::size_t width) {
  std::string out;
  bool is_line_start = true;
  for (std::size_t at = 0; at < text.size();) {
    const std::size_t end = end_of_word(text, at);
    const std::string_view word = text.substr(at, end - at);
    at = end + 1;
    if (!is_line_start && column + 1 + width_of(word) > width) {
      out += "\n" + std::string(indent, ' ');
      column = indent;
      is_line_start = true;
    }
    if (!is_line_start) out += ' ', ++column;
    out += word;
    column += width_of(word);
    is_line_start = false;
  }
  return out;
}

void paragraph(std::string& out, std::string_view start, std::string_view words, std::size_t indent) {
  out += start;
  out += wrap(words, width_of(start), indent);
  out += '\n';
}

}  // namespace holdfast::report::detail
