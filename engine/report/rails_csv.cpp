// SPDX-License-Identifier: GPL-3.0-or-later
#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "rails_words_impl.h"
#include "words_impl.h"

namespace holdfast::report {

using namespace detail;

namespace {

/// A tenth of a millimetre, no negative zero.
std::string metres(double value) { return fmt::format("{:.4f}", std::round(value * 1e4) / 1e4 + 0.0); }
std::string triple(const model::Vec3& v, const char* between) {
  return metres(v.x()) + between + metres(v.y()) + between + metres(v.z());
}

/// What people write; the other columns each run writes anew.
const std::vector<std::string> kept_columns = {"hands", "tether", "cable", "load_limit_n"};

}  // namespace

std::string csv(const RailsReport& report) {
  const auto* before = report.revision ? report.before : nullptr;
  const auto& own_columns = model::found_rail_columns();
  const auto has = [](const std::vector<std::string>& list, const std::string& name) {
    return std::find(list.begin(), list.end(), name) != list.end();
  };
  std::vector<std::string> more;  // columns that someone added
  if (before)
    for (const auto& row : *before)
      for (const auto& [name, value] : row.others)
        if (!has(kept_columns, name) && !has(own_columns, name) && !has(more, name)) more.push_back(name);
  std::vector<std::string> columns = kept_columns;
  columns.insert(columns.end(), own_columns.begin(), own_columns.end());
  columns.insert(columns.end(), more.begin(), more.end());
  std::string out = "id,part,x1,y1,z1,x2,y2,z2,outward_x,outward_y,outward_z";
  for (const auto& name : columns) out += "," + csv_field(name);
  out += "\n";
  const auto written = [](const model::RailTableRow& row, const std::string& column, const std::string& otherwise) {
    const auto* value = row.find(column);
    return csv_field(value ? *value : otherwise);
  };
  const auto add_by_hand = [&](const model::RailTableRow& row) {
    out += csv_field(row.id) + "," + csv_field(row.part) + "," + triple(row.from, ",") + "," +
           (row.to ? triple(*row.to, ",") : ",,") + "," + (row.outward ? triple(*row.outward, ",") : ",,");
    for (const auto& name : columns) out += "," + written(row, name, "");
    out += "\n";
  };
  const auto add_piece = [&](const rails::Piece& piece) {
    const auto& rail = report.found.rails[piece.rail];
    const auto* old = piece.before && before ? &(*before)[*piece.before] : nullptr;
    const bool is_edited = old && piece.is_edited;
    const model::Vec3 from = is_edited ? old->from : piece.from;
    const auto to = is_edited ? old->to : piece.to;
    const auto outward = is_edited ? old->outward : std::optional(piece.outward);
    out += csv_field(piece.id) + "," + csv_field(old ? old->part : report.part) + "," + triple(from, ",") + "," +
           (to ? triple(*to, ",") : ",,") + "," + (outward ? triple(*outward, ",") : ",,");
    for (const auto& name : kept_columns) {
      const std::string otherwise = name == "hands" ? "yes" : name == "load_limit_n" ? "" : "no";
      out += "," + (old ? written(*old, name, otherwise) : otherwise);
    }
    // Where an edited row was found before stays as well: so it is still known to be edited the next time.
    const std::string found = is_edited ? *old->find(rails::found_column)
                                        : triple(piece.from, " ") + " " + triple(piece.to.value_or(piece.from), " ") +
                                              " " + triple(piece.outward, " ");
    out += "," +
           csv_field(old && old->find("use") ? *old->find("use")
                     : piece.to              ? "rail"
                                             : "handhold") +
           "," + csv_field(section_words(rail)) + "," + shape_name(rail.shape) + "," +
           (rail.gap_m ? fmt::format("{:.3f}", std::floor(*rail.gap_m * 1000 + 1e-6) / 1000 + 0.0) : "") + "," +
           sureness_name(rail.sureness) + "," + csv_field(reasons_words(rail)) + "," + csv_field(rail.node) + "," +
           csv_field(found);
    for (const auto& name : more) out += "," + (old ? written(*old, name, "") : std::string());
    out += "\n";
  };
  if (!before) {
    for (const auto& piece : rails::pieces_of(report.found)) add_piece(piece);
    return out;
  }
  // In the order of the table before; what is new stands at the end.
  std::size_t hand = 0;
  const auto& by_hand = report.revision->by_hand;
  for (const auto& piece : report.revision->pieces) {
    while (hand < by_hand.size() && by_hand[hand] < piece.before.value_or(SIZE_MAX))
      add_by_hand((*before)[by_hand[hand++]]);
    add_piece(piece);
  }
  while (hand < by_hand.size()) add_by_hand((*before)[by_hand[hand++]]);
  return out;
}

std::string obj(const geometry::TriangleMesh& mesh, const std::string& title) {
  std::string out = fmt::format("# {}; metres\no structure\n", title);
  for (const auto& v : mesh.vertices)
    out += fmt::format("v {:.6f} {:.6f} {:.6f}\n", v.x() + 0.0, v.y() + 0.0, v.z() + 0.0);
  for (const auto& t : mesh.triangles) out += fmt::format("f {} {} {}\n", t[0] + 1, t[1] + 1, t[2] + 1);
  return out;
}

}  // namespace holdfast::report
