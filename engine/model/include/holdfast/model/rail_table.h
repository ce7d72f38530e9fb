// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// A rail table as it stands in its file, row by row: for what compares two of them and keeps what people wrote.

#include <optional>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "holdfast/model/diagnostic.h"
#include "holdfast/model/structure.h"

namespace holdfast::model {

struct RailTableRow {
  int line = 0;
  std::string id, part;
  Vec3 from = Vec3::Zero();
  std::optional<Vec3> to;       ///< none: a handhold
  std::optional<Vec3> outward;  ///< none: auto
  /// Every other column with what is written in it, in the order of the file: flags, load limit, and those not read.
  std::vector<std::pair<std::string, std::string>> others;

  [[nodiscard]] const std::string* find(std::string_view column) const;  ///< null when there is no such column
};

/// In a written table: where the rail was found, whatever was edited since, as `x1 y1 z1 x2 y2 z2 ox oy oz`.
inline constexpr std::string_view found_column = "found";
/// Columns that the finding of rails writes beside those that are read, `found` among them.
[[nodiscard]] const std::vector<std::string>& found_rail_columns();

/// All rows of a table in the form that `rail_files` reads. `file` names the table in messages. Throws `InputError`
/// with all faults: of the header, of numbers, of ids that are duplicate.
[[nodiscard]] std::vector<RailTableRow> read_rail_table(const std::string& text, const std::string& file);

}  // namespace holdfast::model
