#include <csv.h>

#include <memory>

#include "table_impl.h"

namespace holdfast::model::detail {

std::vector<TableRow> parse_table(const std::string& text, const std::string& file,
                                  std::vector<Diagnostic>& diagnostics) {
  struct State {
    std::vector<TableRow> rows;
    TableRow row;
    int line = 1;
  } state;
  csv_parser parser;
  ensure(csv_init(&parser, CSV_STRICT | CSV_STRICT_FINI) == 0, "the CSV parser starts");
  const std::unique_ptr<csv_parser, void (*)(csv_parser*)> guard(&parser, csv_free);
  const auto on_field = [](void* bytes, std::size_t size, void* data) {
    auto& s = *static_cast<State*>(data);
    if (s.row.fields.empty()) s.row.line = s.line;
    s.row.fields.emplace_back(static_cast<const char*>(bytes), size);
  };
  const auto on_row = [](int, void* data) {
    auto& s = *static_cast<State*>(data);
    s.rows.push_back(std::move(s.row));
    s.row = {};
  };
  // Line by line, so that callbacks know where they are.
  for (std::size_t start = 0; start < text.size();) {
    const std::size_t newline = text.find('\n', start);
    const std::size_t end = newline == std::string::npos ? text.size() : newline + 1;
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

}  // namespace holdfast::model::detail
