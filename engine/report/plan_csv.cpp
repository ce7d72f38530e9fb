// SPDX-License-Identifier: GPL-3.0-or-later
#include <fmt/format.h>
#include <fmt/ranges.h>

#include "holdfast/report/plan.h"
#include "words_impl.h"

namespace holdfast::report {

using namespace detail;

std::string csv(const Context&, const plan::Plan& plan) {
  std::string out =
      "from_s,to_s,crew,kind,what,subject,other,derived,carried,moves,distance_m,night_s,hand_x,hand_y,hand_z\r\n";
  for (const auto& row : plan.rows)
    out += fmt::format("{},{},{},{},{},{},{},{},{},{},{},{},{},{},{}\r\n", rounded(row.from_s), rounded(row.to_s),
                       csv_field(row.crew ? plan.excursion->crew[row.crew->index()].id : "inside"), kind_name(row.kind),
                       csv_field(what_words(row)), csv_field(row.subject), csv_field(row.other),
                       row.is_derived ? "yes" : "no", csv_field(fmt::format("{}", fmt::join(row.carried, " "))),
                       row.moves, rounded_up(row.distance_m), rounded_up(row.night_s), rounded(row.hand.x()),
                       rounded(row.hand.y()), rounded(row.hand.z()));
  return out;
}

}  // namespace holdfast::report
