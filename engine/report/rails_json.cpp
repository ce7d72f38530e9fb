// SPDX-License-Identifier: GPL-3.0-or-later
#include "json_impl.h"
#include "rails_words_impl.h"
#include "words_impl.h"

namespace holdfast::report {

using namespace detail;

namespace {

Json rail_json(const rails::FoundRail& rail) {
  Json points = Json::array(), outward = Json::array(), reasons = Json::array();
  for (const auto& p : rail.points) points.push_back({{"at", point_json(p.at)}, {"outward", point_json(p.outward)}});
  for (const auto& o : rail.segment_outward) outward.push_back(point_json(o));
  for (const auto& reason : rail.reasons) {
    Json entry = {{"kind", reason_name(reason.kind)}, {"sentence", sentence(reason)}};
    if (std::isfinite(reason.value)) entry["value"] = rounded(reason.value);
    if (reason.limit) entry["limit"] = quantity_json(*reason.limit);
    reasons.push_back(entry);
  }
  return {{"id", rail.id},
          {"kind", rail.is_handhold() ? "handhold"
                   : rail.is_ring     ? "ring"
                                      : "rail"},
          {"points", points},
          {"piece_outward", outward},
          {"length_m", rounded_down(rail.length_m)},
          {"section",
           {{"width_m", rounded_up(rail.width_m)},
            {"height_m", rounded_up(rail.height_m)},
            {"shape", shape_name(rail.shape)}}},
          {"gap_m", rail.gap_m ? Json(rounded_down(*rail.gap_m)) : Json(nullptr)},
          {"node", rail.node},
          {"triangles", rail.triangles.size()},
          {"sureness", sureness_name(rail.sureness)},
          {"reasons", reasons}};
}

Json list(const std::vector<rails::FoundRail>& rails) {
  Json out = Json::array();
  for (const auto& rail : rails) out.push_back(rail_json(rail));
  return out;
}

}  // namespace

std::string json(const RailsReport& report) {
  const auto& found = report.found;
  Json out = {{"holdfast", result_format},
              {"verb", "rails"},
              {"outcome", found.rails.empty() ? "no-rails" : "rails"},
              {"source", report.source},
              {"part", report.part},
              {"frame", report.configuration ? "structure" : "part"},
              {"node_pattern", report.asked.node_pattern},
              {"engine", report.engine_version},
              {"mesh", {{"triangles", found.triangles}, {"pieces", found.pieces}}},
              {"length_m", rounded_down(found.length_m)},
              {"rails", list(found.rails)},
              {"doubtful", list(found.doubtful)},
              {"posts", list(found.posts)},
              {"design",
               {{"rail_clear_m", quantity_json(report.asked.design.rail_clear_m)},
                {"grip_length_m", quantity_json(report.asked.design.grip_length_m)},
                {"least_section_m", quantity_json(report.asked.limits.least_section_m)},
                {"most_section_m", quantity_json(report.asked.limits.most_section_m)},
                {"least_gap_m", quantity_json(report.asked.limits.least_gap_m)}}}};
  if (report.configuration) {
    out["configuration"] = configuration_json(*report.configuration);
    out["structure_digest"] = report.structure_digest;
  }
  if (found.unit) out["unit"] = {{"unit", found.unit->unit}, {"length_m", rounded_down(found.unit->length_m)}};
  if (report.revision) {
    const auto& revision = *report.revision;
    Json rows = Json::array(), gone = Json::array(), by_hand = Json::array();
    for (const auto& piece : revision.pieces) {
      Json row = {{"id", piece.id}, {"rail", found.rails[piece.rail].id}, {"is_new", !piece.before}};
      if (piece.before) row["moved_m"] = rounded_up(piece.moved_m), row["edited_by_hand"] = piece.is_edited;
      rows.push_back(row);
    }
    for (const auto row : revision.gone) gone.push_back((*report.before)[row].id);
    for (const auto row : revision.by_hand) by_hand.push_back((*report.before)[row].id);
    out["against"] = {{"file", report.against}, {"rows", rows}, {"gone", gone}, {"written_by_hand", by_hand}};
  }
  Json files = Json::array();
  for (const auto& file : report.written)
    files.push_back({{"kind", file.kind}, {"file", file.file}, {"bytes", file.bytes}});
  out["written"] = files;
  out["caution"] = std::string(caution);
  return dump_json(out);
}

}  // namespace holdfast::report
