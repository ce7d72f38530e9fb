// SPDX-License-Identifier: GPL-3.0-or-later
#include <csv.h>
#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <cctype>
#include <memory>

#include "holdfast/model/structure.h"
#include "names_impl.h"
#include "table_impl.h"

namespace holdfast::model::detail {

namespace {

std::string trimmed(std::string_view text) {
  const auto first = text.find_first_not_of(" \t"), last = text.find_last_not_of(" \t");
  return first == std::string_view::npos ? std::string() : std::string(text.substr(first, last - first + 1));
}

std::string lower(std::string text) {
  std::transform(text.begin(), text.end(), text.begin(),
                 [](unsigned char c) { return static_cast<char>(std::tolower(c)); });
  return text;
}

}  // namespace

std::string plain_name(const std::string& header) {
  std::string name = lower(trimmed(header));
  std::replace_if(
      name.begin(), name.end(), [](char c) { return c == ' ' || c == '-'; }, '_');
  return name;
}

namespace {

/// One past the end of the line that starts here: LF, CR LF or CR.
std::size_t end_of_line(const std::string& text, std::size_t start) {
  const std::size_t end = text.find_first_of("\r\n", start);
  if (end == std::string::npos) return text.size();
  return text.compare(end, 2, "\r\n") == 0 ? end + 2 : end + 1;
}

std::vector<TableRow> split(const std::string& text, char separator, const std::string& file,
                            std::vector<Diagnostic>& diagnostics) {
  struct State {
    std::vector<TableRow> rows;
    TableRow row;
    std::size_t width = 0;  // of the row before: the next one is likely as wide
    int line = 1;
  } state;
  csv_parser parser;
  ensure(csv_init(&parser, CSV_STRICT | CSV_STRICT_FINI) == 0, "the CSV parser starts");
  const std::unique_ptr<csv_parser, void (*)(csv_parser*)> guard(&parser, csv_free);
  csv_set_delim(&parser, static_cast<unsigned char>(separator));
  const auto on_field = [](void* bytes, std::size_t size, void* data) {
    auto& s = *static_cast<State*>(data);
    if (s.row.fields.empty()) s.row.line = s.line, s.row.fields.reserve(s.width);
    s.row.fields.push_back(trimmed({static_cast<const char*>(bytes), size}));
  };
  const auto on_row = [](int, void* data) {
    auto& s = *static_cast<State*>(data);
    s.width = s.row.fields.size();
    s.rows.push_back(std::move(s.row));
    s.row = {};
  };
  // Line by line, so that callbacks know where they are.
  for (std::size_t start = 0; start < text.size();) {
    const std::size_t end = end_of_line(text, start);
    if (csv_parse(&parser, text.data() + start, end - start, on_field, on_row, &state) != end - start) {
      diagnostics.push_back({{file, state.line},
                             "",
                             "syntax",
                             "this line is not CSV: " + std::string(csv_strerror(csv_error(&parser))),
                             "",
                             "quote a field with \"..\" from end to end, and double the quotes inside it"});
      return {};
    }
    ++state.line;
    start = end;
  }
  if (csv_fini(&parser, on_field, on_row, &state) != 0)
    diagnostics.push_back(
        {{file, state.line - 1}, "", "syntax", "a quoted field does not end", "", "close it with \""});
  return std::move(state.rows);
}

/// The one that makes most names of columns out of the header line; a comma where they are equal.
char separator_of(const std::string& header, const std::vector<std::string>& names) {
  char best = ',';
  std::ptrdiff_t most = -1;
  for (const char separator : {',', ';', '\t'}) {
    std::vector<Diagnostic> unused;
    std::ptrdiff_t known = 0;
    for (const auto& row : split(header, separator, "", unused))
      known += std::count_if(row.fields.begin(), row.fields.end(), [&](const std::string& field) {
        return std::find(names.begin(), names.end(), plain_name(field)) != names.end();
      });
    if (known > most) most = known, best = separator;
  }
  return best;
}

/// Places of the columns in the header; faults and notes for what is amiss there.
bool match_header(const TableRow& header, const std::string& file, const ColumnNames& names, Table& table,
                  std::vector<Diagnostic>& diagnostics, std::vector<Diagnostic>& notes) {
  std::vector<std::string> known = names.required;
  known.insert(known.end(), names.optional.begin(), names.optional.end());
  const Mark mark{file, header.line, 1};
  const auto before = diagnostics.size();
  const auto fault = [&](std::string problem, std::string value, std::string remedy) {
    diagnostics.push_back({mark, "", "table-columns", std::move(problem), std::move(value), std::move(remedy)});
  };
  std::vector<std::string> others;
  for (std::size_t c = 0; c < header.fields.size(); ++c) {
    const std::string name = plain_name(header.fields[c]);
    if (std::find(known.begin(), known.end(), name) == known.end())
      others.push_back(header.fields[c]);
    else if (!table.columns.emplace(name, c).second)
      fault(fmt::format("column \"{}\" is duplicate", name), header.fields[c], "keep one of them");
  }
  std::vector<std::string> missing;
  for (const auto& name : names.required)
    if (!table.has(name)) missing.push_back(name);
  for (const auto& other : others) {
    if (other.empty()) continue;
    // What differs by a letter or two from a column that is missing, or has a unit after it, is that column; what is
    // farther off is another thing of the inventory's.
    const auto is_slip_for = [&, name = plain_name(other)](const std::string& column) {
      constexpr std::size_t most = 2, shortest = 4;
      if (table.has(column)) return false;
      const bool has_unit = name.starts_with(column) && name.find_first_of("([") != std::string::npos;
      return has_unit || (column.size() >= shortest && edit_distance(name, column) <= most);
    };
    if (const auto column = std::find_if(known.begin(), known.end(), is_slip_for); column != known.end()) {
      fault(fmt::format("column \"{}\" is not known", other), other, fmt::format("did you mean \"{}\"?", *column));
      std::erase(missing, *column);
    } else {
      notes.push_back({mark, "", "table-columns", fmt::format("column \"{}\" is not read", other), other, ""});
    }
  }
  if (!missing.empty()) {
    std::vector<std::string> offers;
    for (const auto& name : missing)
      if (const auto near = nearest_names(name, others, 1); !near.empty())
        offers.push_back(fmt::format("is \"{}\" {}?", near.front(), name));
    fault(fmt::format("the header is \"{}\", without {}", fmt::join(header.fields, ","), fmt::join(missing, ", ")), "",
          fmt::format("{}{}needed are {}; if you like also {}", fmt::join(offers, " "), offers.empty() ? "" : " ",
                      fmt::join(names.required, ","), fmt::join(names.optional, ",")));
  }
  return diagnostics.size() == before;
}

/// Decimal commas made points. A table has one of the two: beside a point, a comma may stand for thousands.
void settle_decimals(const std::string& file, const ColumnNames& names, Table& table,
                     std::vector<Diagnostic>& diagnostics) {
  const TableRow* with_point = nullptr;
  const TableRow* with_comma = nullptr;
  std::vector<std::size_t> numbers;  // places in a row
  for (const auto& name : names.numbers)
    if (const auto column = table.columns.find(name); column != table.columns.end()) numbers.push_back(column->second);
  for (auto& row : table.rows)
    for (const std::size_t place : numbers) {
      const std::string& field = row.fields[place];
      if (field.find('.') != std::string::npos && !with_point) with_point = &row;
      if (field.find(',') != std::string::npos && !with_comma) with_comma = &row;
    }
  if (!with_comma) return;
  if (with_point)
    diagnostics.push_back({{file, with_comma->line, 1},
                           "",
                           "table-columns",
                           fmt::format("a number has a comma, and on line {} one has a point", with_point->line),
                           "",
                           "write decimals one way throughout the table, and no separators of thousands"});
  for (auto& row : table.rows)
    for (const std::size_t place : numbers)
      // More than one comma is left as it is: it is no number, and reading says so.
      if (std::string& field = row.fields[place]; std::count(field.begin(), field.end(), ',') == 1)
        std::replace(field.begin(), field.end(), ',', '.');
}

}  // namespace

const ColumnNames& rail_columns() {
  static const ColumnNames columns = {
      .required = {"id", "part", "x1", "y1", "z1", "x2", "y2", "z2"},
      .optional = {"outward_x", "outward_y", "outward_z", "hands", "tether", "cable", "load_limit_n"},
      .numbers = {"x1", "y1", "z1", "x2", "y2", "z2", "outward_x", "outward_y", "outward_z", "load_limit_n"}};
  return columns;
}

const std::string& Table::field(const TableRow& row, const std::string& column) const {
  static const std::string none;
  const auto found = columns.find(column);
  return found == columns.end() ? none : row.fields[found->second];
}

Table read_table(const std::string& text, const std::string& file, const ColumnNames& names,
                 std::vector<Diagnostic>& diagnostics, std::vector<Diagnostic>& notes) {
  std::vector<std::string> known = names.required;
  known.insert(known.end(), names.optional.begin(), names.optional.end());
  // Some spreadsheets put a line `sep=;` above the header.
  const std::string first_line = text.substr(0, end_of_line(text, 0));
  const bool is_told = lower(first_line).starts_with("sep=") && first_line.size() > 4;
  const std::size_t header_at = text.find_first_not_of(" \t\r\n", is_told ? first_line.size() : 0);
  const char separator = is_told ? first_line[4]
                         : header_at == std::string::npos
                             ? ','
                             : separator_of(text.substr(header_at, end_of_line(text, header_at) - header_at), known);
  auto rows = split(text, separator, file, diagnostics);
  if (is_told && !rows.empty()) rows.erase(rows.begin());
  std::erase_if(rows, [](const TableRow& row) {
    return std::all_of(row.fields.begin(), row.fields.end(), [](const std::string& field) { return field.empty(); });
  });
  Table table;
  if (rows.empty()) return table;
  if (!match_header(rows.front(), file, names, table, diagnostics, notes)) return {};
  const std::size_t width = rows.front().fields.size();
  for (std::size_t r = 1; r < rows.size(); ++r) {
    auto& row = rows[r];
    while (row.fields.size() > width && row.fields.back().empty()) row.fields.pop_back();
    if (row.fields.size() == width) {
      table.rows.push_back(std::move(row));
      continue;
    }
    diagnostics.push_back({{file, row.line, 1},
                           "",
                           "table-columns",
                           fmt::format("this row has {} fields", row.fields.size()),
                           "",
                           fmt::format("it should have {}, as the header: {}", width,
                                       fmt::join(rows.front().fields, std::string_view(&separator, 1)))});
  }
  settle_decimals(file, names, table, diagnostics);
  return table;
}

}  // namespace holdfast::model::detail
