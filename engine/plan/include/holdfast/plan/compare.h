// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// Two plans told apart: what moved, what is done no more, which violations are new and which are gone, and the margins.
//
//   const auto changes = plan::compare(before, after);
//   for (const auto& row : changes.rows) use(row.name.subject, row.from_after_s);
//
// The same row: of the same crew member, with the same action id where both have one; else of the same kind, about the
// same thing, as many of its like before it.

#include <cstddef>
#include <optional>
#include <string>
#include <vector>

#include "holdfast/plan/plan.h"

namespace holdfast::plan {

/// What tells a row from the others of its plan.
struct RowName {
  std::string crew;     ///< id, or `inside`
  std::string kind;     ///< as results have it
  std::string words;    ///< what is done, for people
  std::string action;   ///< id that the file gives it; may be empty
  std::string subject;  ///< task, item, place ...
  std::string other;
};

struct FiguresRow {
  RowName name;
  double from_s = 0, to_s = 0;
};

struct FiguresViolation {
  std::string kind, crew, subject, other;  ///< as results have them
  std::string sentence;
  double at_s = 0;
};

struct FiguresCrew {
  std::string id;
  double inside_at_s = 0, energy_margin_j = 0;
  std::size_t moves = 0;
};

/// What of a plan is compared, in the words of its result.
struct PlanFigures {
  std::string name, file, sha256;      ///< of the excursion
  std::string configuration;           ///< in words
  std::string what_if;                 ///< in words; empty: nothing
  std::vector<std::string> other_kit;  ///< entries of the kit, and numbers set, that were others
  double limit_s = 0, finish_s = 0;
  std::vector<FiguresCrew> crew;
  std::vector<FiguresRow> rows;  ///< in time
  std::vector<FiguresViolation> violations;
  std::vector<std::string> done, dropped;  ///< tasks
  std::optional<double> back_margin_s;     ///< least, of getting back; nothing: not looked at, or no path is known
  bool has_back = false;                   ///< getting back was looked at
};

struct MovedRow {
  RowName name;
  double from_before_s = 0, to_before_s = 0, from_after_s = 0, to_after_s = 0;
};

struct PlanChanges {
  PlanFigures before, after;
  std::vector<MovedRow> moved;                ///< in the time of after
  std::size_t unmoved = 0;                    ///< rows
  std::vector<FiguresRow> gone, added;        ///< rows of the one alone, and of the other
  std::vector<std::string> no_longer, newly;  ///< tasks done before and not now, and the other way
  std::vector<FiguresViolation> violations_gone, violations_new;
  std::size_t violations_kept = 0;
};

/// Times that differ by less than half a millisecond are the same: results are rounded to 1e-6 s.
[[nodiscard]] PlanChanges compare(PlanFigures before, PlanFigures after);

}  // namespace holdfast::plan
