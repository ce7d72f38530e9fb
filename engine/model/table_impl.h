#pragma once
// Rail tables: CSV as inventories export it (RFC 4180, strict quotes).

#include <string>
#include <vector>

#include "holdfast/model/diagnostic.h"

namespace holdfast::model::detail {

struct TableRow {
  int line = 0;
  std::vector<std::string> fields;
};

/// Rows with their lines, the header first; diagnostics for bad quoting.
[[nodiscard]] std::vector<TableRow> parse_table(const std::string& text, const std::string& file,
                                                std::vector<Diagnostic>& diagnostics);

}  // namespace holdfast::model::detail
