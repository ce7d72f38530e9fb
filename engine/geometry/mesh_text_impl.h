// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// Lines, words and numbers of text mesh files.

#include <cstddef>
#include <string>
#include <string_view>
#include <vector>

#include "mesh_reader_impl.h"

namespace holdfast::geometry::detail {

using Words = std::vector<std::string_view>;

/// Lines of a text with their words. A line ends with LF, CR LF or CR. All throw `BrokenMesh`.
class Lines {
 public:
  explicit Lines(std::string_view text) : text_(text) {}

  /// The next line that has a word. False at the end.
  bool next(Words& words, char comment = '\0');
  /// The next line whole.
  std::string_view take();
  /// At most as many words as the corners that a face may have, and what may stand beside them.
  void split(std::string_view line, Words& words) const;
  [[nodiscard]] std::string where() const;
  [[nodiscard]] bool is_at_end() const { return at_ >= text_.size(); }
  /// Nothing says whether the last number of a file is whole, unless its line ends.
  void require_end() const;
  /// Where binary data begins after the line that was taken last: a lone CR that ends it takes no LF with it, where the
  /// first line ended so too.
  [[nodiscard]] std::size_t binary_begin() const;

 private:
  std::string_view text_;
  std::size_t at_ = 0;
  std::size_t end_ = 0;  ///< of the last line's text
  std::size_t number_ = 0;
  bool is_ended_ = true;
  bool is_by_return_ = false;  ///< the first line ends with a lone CR
};

[[nodiscard]] double number_of(std::string_view word, const Lines& lines);
[[nodiscard]] long whole_of(std::string_view word, const Lines& lines);
/// A count of elements, none of which takes less than a byte.
[[nodiscard]] std::size_t count_of(std::string_view word, const Lines& lines, std::size_t file_size);

/// Words of a broken file, to be shown: cut to 40 bytes.
[[nodiscard]] std::string shown(std::string_view word);

/// Adds a face whose corners are counted from 0.
void add_face(PolygonCutter& cutter, std::size_t vertices, const std::vector<long>& corners,
              std::vector<std::uint32_t>& scratch, const std::function<std::string()>& where);

}  // namespace holdfast::geometry::detail
