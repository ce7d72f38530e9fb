// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// What is wrong with an input, where, and what would be right.
//
//   try { auto structure = model::read_structure(folder); }
//   catch (const model::InputError& error) { for (const auto& d : error.diagnostics()) puts(d.text().c_str()); }

#include <source_location>
#include <stdexcept>
#include <string>
#include <string_view>
#include <vector>

namespace holdfast::model {

/// A place in an input file. Lines and columns count from 1; 0 = unknown.
struct Mark {
  std::string file;  ///< path relative to the model folder's parent, as a person would type it
  int line = 0;
  int column = 0;
};

/// One fault of an input. `code` is stable and listed in `diagnostic_codes()`.
struct Diagnostic {
  Mark mark;
  std::string where;    ///< path inside the document, `rails[12].points[3].x`
  std::string code;     ///< `dangling-reference`
  std::string problem;  ///< one sentence with the offending value in it
  std::string value;    ///< the value as written; empty when there is none
  std::string remedy;   ///< what to write instead

  /// `file:line:column: problem` and, on a second line, four spaces and the remedy. No trailing newline.
  [[nodiscard]] std::string text() const;
};

struct DiagnosticCode {
  std::string_view code;
  std::string_view meaning;
  std::string_view example;
  std::string_view remedy;
};

/// The one table of all codes that readers use.
[[nodiscard]] const std::vector<DiagnosticCode>& diagnostic_codes();

/// The input is wrong. Holds every diagnostic of the files read, in file order; never empty.
class InputError : public std::runtime_error {
 public:
  explicit InputError(std::vector<Diagnostic> diagnostics);
  [[nodiscard]] const std::vector<Diagnostic>& diagnostics() const { return diagnostics_; }

 private:
  std::vector<Diagnostic> diagnostics_;
};

/// We are wrong: an invariant of the engine does not hold.
class InternalFault : public std::logic_error {
 public:
  using std::logic_error::logic_error;
};

/// Throws `InternalFault` naming the caller unless `condition` holds. Never for input checks.
void ensure(bool condition, std::string_view what, std::source_location where = std::source_location::current());

}  // namespace holdfast::model
