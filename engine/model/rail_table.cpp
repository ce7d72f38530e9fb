// SPDX-License-Identifier: GPL-3.0-or-later
#include "holdfast/model/rail_table.h"

#include <fmt/format.h>

#include <algorithm>
#include <charconv>
#include <cmath>
#include <map>

#include "table_impl.h"

namespace holdfast::model {

using namespace detail;

const std::string* RailTableRow::find(std::string_view column) const {
  for (const auto& [name, value] : others)
    if (name == column) return &value;
  return nullptr;
}

const std::vector<std::string>& found_rail_columns() {
  static const std::vector<std::string> columns = {"use",      "section_mm", "shape", "gap_m",
                                                   "sureness", "why",        "node",  std::string(found_column)};
  return columns;
}

std::vector<RailTableRow> read_rail_table(const std::string& text, const std::string& file) {
  std::vector<Diagnostic> faults, notes;
  ColumnNames names = rail_columns();
  auto table = read_table(text, file, names, faults, notes);
  if (faults.empty() && !notes.empty()) {  // columns that are not read are kept too
    for (const auto& note : notes) names.optional.push_back(plain_name(note.value));
    notes.clear();
    table = read_table(text, file, names, faults, notes);
  }
  if (!faults.empty()) throw InputError(std::move(faults));

  std::vector<RailTableRow> rows;
  std::map<std::string, int> first_line;
  for (const auto& row : table.rows) {
    const Mark mark{file, row.line, 1};
    const auto fault = [&](const std::string& column, const char* code, std::string problem, std::string remedy) {
      faults.push_back({mark, column, code, fmt::format("rail \"{}\": {}", table.field(row, "id"), problem),
                        table.field(row, column), std::move(remedy)});
    };
    const auto number = [&](const std::string& column) {
      const std::string& field = table.field(row, column);
      double value = 0;
      const auto [end, error] = std::from_chars(field.data(), field.data() + field.size(), value);
      if (error != std::errc() || end != field.data() + field.size() || !std::isfinite(value))
        fault(column, "wrong-type", fmt::format("\"{}\" is \"{}\", not a number", column, field),
              "write a number of metres");
      return value;
    };
    const auto point = [&](const char* x, const char* y, const char* z) {
      return Vec3(number(x), number(y), number(z));
    };
    const auto is_blank = [&](const char* x, const char* y, const char* z) {
      return table.field(row, x).empty() && table.field(row, y).empty() && table.field(row, z).empty();
    };
    RailTableRow out;
    out.line = row.line, out.id = table.field(row, "id"), out.part = table.field(row, "part");
    out.from = point("x1", "y1", "z1");
    if (!is_blank("x2", "y2", "z2")) out.to = point("x2", "y2", "z2");
    if (!is_blank("outward_x", "outward_y", "outward_z")) out.outward = point("outward_x", "outward_y", "outward_z");
    static const std::vector<std::string> told = {"id", "part", "x1",        "y1",        "z1",       "x2",
                                                  "y2", "z2",   "outward_x", "outward_y", "outward_z"};
    std::vector<std::pair<std::size_t, std::string>> columns;  // in the order of the file
    for (const auto& [name, place] : table.columns)
      if (std::find(told.begin(), told.end(), name) == told.end()) columns.emplace_back(place, name);
    std::sort(columns.begin(), columns.end());
    for (const auto& [place, name] : columns) out.others.emplace_back(name, row.fields[place]);
    if (const auto [entry, is_new] = first_line.try_emplace(out.id, row.line); !is_new)
      fault("id", "duplicate-id", "it is already there",
            fmt::format("the first one is on line {}; rename one of them", entry->second));
    rows.push_back(std::move(out));
  }
  if (!faults.empty()) throw InputError(std::move(faults));
  return rows;
}

}  // namespace holdfast::model
