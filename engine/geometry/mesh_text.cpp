// SPDX-License-Identifier: GPL-3.0-or-later
#include "mesh_text_impl.h"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <charconv>

#include "holdfast/model/structure.h"

namespace holdfast::geometry::detail {

std::string shown(std::string_view word) {
  constexpr std::size_t most = 40;
  std::size_t size = std::min(word.size(), most);
  while (size > 0 && size < word.size() && (static_cast<unsigned char>(word[size]) & 0xC0) == 0x80) --size;
  return std::string(word.substr(0, size));
}

void refuse_node(const std::string& node, const std::vector<std::string>& names) {
  const auto near = model::nearest_names(node, names);
  throw BrokenMesh{fmt::format("it has no node \"{}\"", node),
                   near.empty() ? fmt::format("it has {} named nodes", names.size())
                                : fmt::format("did you mean {}?", fmt::join(near, ", "))};
}

bool Lines::next(Words& words, char comment) {
  while (at_ < text_.size()) {
    const std::string_view line = take();
    split(comment == '\0' ? line : line.substr(0, line.find(comment)), words);
    if (!words.empty()) return true;
  }
  words.clear();
  return false;
}

std::string_view Lines::take() {
  end_ = std::min(text_.find_first_of("\r\n", at_), text_.size());
  const std::string_view line = text_.substr(at_, end_ - at_);
  is_ended_ = end_ < text_.size();
  at_ = end_ + (text_.substr(end_, 2) == "\r\n" ? 2 : is_ended_ ? 1 : 0);
  if (++number_ == 1) is_by_return_ = is_ended_ && text_[end_] == '\r' && at_ == end_ + 1;
  return line;
}

void Lines::split(std::string_view line, Words& words) const {
  words.clear();
  const auto is_space = [](char c) { return c == ' ' || c == '\t' || c == '\v' || c == '\f'; };
  for (std::size_t at = 0; at < line.size();) {
    if (is_space(line[at])) {
      ++at;
      continue;
    }
    const std::size_t start = at;
    while (at < line.size() && !is_space(line[at])) ++at;
    if (words.size() > 2 * most_face_corners)
      throw BrokenMesh{fmt::format("{} has more than {} words", where(), 2 * most_face_corners),
                       "export it as triangles"};
    words.push_back(line.substr(start, at - start));
  }
}

std::string Lines::where() const { return fmt::format("line {}", number_); }

void Lines::require_end() const {
  if (!is_ended_)
    throw BrokenMesh{fmt::format("its last line ({}) does not end: the file may have been cut off", number_),
                     "export it again; where it is whole, end its last line"};
}

std::size_t Lines::binary_begin() const { return is_by_return_ ? end_ + 1 : at_; }

double number_of(std::string_view word, const Lines& lines) {
  double value = 0;
  const std::string_view digits = word.substr(word.starts_with('+') ? 1 : 0);
  const auto [end, error] = std::from_chars(digits.data(), digits.data() + digits.size(), value);
  const bool is_whole = end == digits.data() + digits.size();
  if (error == std::errc::result_out_of_range && is_whole && digits.find_first_of("eE") != std::string_view::npos &&
      digits[digits.find_first_of("eE") + 1] == '-')
    return 0;  // too small for double precision
  if (error != std::errc{} || !is_whole)
    throw BrokenMesh{fmt::format("{}: \"{}\" is not a number", lines.where(), shown(word))};
  return value;
}

long whole_of(std::string_view word, const Lines& lines) {
  long value = 0;
  const std::string_view digits = word.substr(word.starts_with('+') ? 1 : 0);
  const auto [end, error] = std::from_chars(digits.data(), digits.data() + digits.size(), value);
  if (error != std::errc{} || end != digits.data() + digits.size())
    throw BrokenMesh{fmt::format("{}: \"{}\" is not a whole number", lines.where(), shown(word))};
  return value;
}

std::size_t count_of(std::string_view word, const Lines& lines, std::size_t file_size) {
  const long count = whole_of(word, lines);
  if (count < 0 || static_cast<std::size_t>(count) > file_size)
    throw BrokenMesh{fmt::format("{}: it claims {} elements in {} bytes", lines.where(), count, file_size)};
  return static_cast<std::size_t>(count);
}

void add_face(PolygonCutter& cutter, std::size_t vertices, const std::vector<long>& corners,
              std::vector<std::uint32_t>& scratch, const std::function<std::string()>& where) {
  if (corners.size() < 3) throw BrokenMesh{fmt::format("{}: a face has {} corners", where(), corners.size())};
  scratch.clear();
  for (const long corner : corners) {
    if (corner < 0 || static_cast<std::size_t>(corner) >= vertices)
      throw BrokenMesh{
          fmt::format("{}: a face names vertex {}, and there are {} (counted from 0)", where(), corner, vertices)};
    scratch.push_back(static_cast<std::uint32_t>(corner));
  }
  if (corners.size() == 3)
    cutter.add(scratch, {});
  else
    cutter.add(scratch, where());
}

}  // namespace holdfast::geometry::detail
