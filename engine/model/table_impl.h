// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// Rail tables as spreadsheets and inventories write them: fields between commas, semicolons or tabs, decimal point or
// comma, columns in any order (RFC 4180 quotes).

#include <map>
#include <string>
#include <vector>

#include "holdfast/model/diagnostic.h"

namespace holdfast::model::detail {

struct TableRow {
  int line = 0;
  std::vector<std::string> fields;  ///< without spaces round them
};

struct ColumnNames {
  std::vector<std::string> required;
  std::vector<std::string> optional;
  std::vector<std::string> numbers;  ///< those of both whose fields are numbers
};

/// `Load limit-N` is `load_limit_n`.
[[nodiscard]] std::string plain_name(const std::string& header);
/// Of rail tables.
[[nodiscard]] const ColumnNames& rail_columns();

struct Table {
  std::map<std::string, std::size_t> columns;  ///< name -> place in a row, of those that are read
  std::vector<TableRow> rows;                  ///< of as many fields as the header; blank rows are left out

  [[nodiscard]] bool has(const std::string& column) const { return columns.count(column) > 0; }
  /// Empty where the table has no such column. Numbers have a decimal point, whatever the file has.
  [[nodiscard]] const std::string& field(const TableRow& row, const std::string& column) const;
};

/// Names are matched without case, spaces and dashes count as `_`. A column that is none of `names` is not read and
/// makes a note, unless it looks like a slip for one that is missing: that is a fault. Faults also: a required column
/// that is missing, one that is duplicate, rows that are too short or too long, decimal points beside decimal commas,
/// bad quotes. `file` names the table in messages. No columns after a fault of the header.
[[nodiscard]] Table read_table(const std::string& text, const std::string& file, const ColumnNames& names,
                               std::vector<Diagnostic>& diagnostics, std::vector<Diagnostic>& notes);

}  // namespace holdfast::model::detail
