// SPDX-License-Identifier: GPL-3.0-or-later
#include <bit>
#include <cmath>
#include <cstring>
#include <limits>
#include <nlohmann/json.hpp>
#include <span>

#include "found_style_impl.h"
#include "holdfast/picture/write.h"
#include "holdfast/report/words.h"
#include "kinds_impl.h"
#include "page_parts_impl.h"
#include "style_impl.h"
#include "surface_impl.h"
#include "worksite_picture_impl.h"

namespace holdfast::picture {

using Json = nlohmann::ordered_json;

namespace {

/// Numbers as the page's typed arrays read them: little-endian, base64 (RFC 4648).
template <class Number>
std::string base64(std::span<const Number> numbers) {
  static_assert(std::endian::native == std::endian::little);
  static constexpr char digits[] = "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";
  const auto bytes = std::as_bytes(numbers);
  std::string out;
  out.reserve((bytes.size() + 2) / 3 * 4);
  for (std::size_t i = 0; i < bytes.size(); i += 3) {
    std::uint32_t group = 0;
    for (std::size_t k = 0; k < 3; ++k)
      group = (group << 8) | (i + k < bytes.size() ? std::to_integer<std::uint32_t>(bytes[i + k]) : 0);
    for (std::size_t k = 0; k < 4; ++k) out += k <= bytes.size() - i ? digits[(group >> (18 - 6 * k)) & 63] : '=';
  }
  return out;
}
template <class Number>
std::string base64(const std::vector<Number>& numbers) {
  return base64(std::span<const Number>(numbers));
}

/// A tenth of a millimetre: finer than anyone sees.
double tidy(double value) { return std::round(value * 1e4) / 1e4 + 0.0; }
Json vec(const Vec3& v) { return {tidy(v.x()), tidy(v.y()), tidy(v.z())}; }
void push(Json& list, const Vec3& v) {
  for (int k = 0; k < 3; ++k) list.push_back(tidy(v[k]));
}

/// Positions in 65,535 steps of the mesh's own box, normals in 127 steps: less than a fifth of the size of floats in
/// text.
Json mesh_json(const geometry::TriangleMesh& mesh) {
  const Shaded shaded = shade(mesh);
  geometry::Bounds bounds;
  for (const auto& vertex : shaded.vertices) bounds.extend(vertex);
  std::vector<std::uint16_t> positions;
  std::vector<std::int8_t> normals;
  const Vec3 size = bounds.is_empty() ? Vec3::Zero() : Vec3(bounds.max - bounds.min);
  for (std::size_t v = 0; v < shaded.vertices.size(); ++v)
    for (int k = 0; k < 3; ++k) {
      const double step = size[k] > 0 ? (shaded.vertices[v][k] - bounds.min[k]) / size[k] : 0;
      positions.push_back(static_cast<std::uint16_t>(std::lround(step * 65535)));
      normals.push_back(static_cast<std::int8_t>(std::lround(shaded.normals[v][k] * 127)));
    }
  const auto indices = [&](const auto& lists) {
    const auto fill = [&](auto numbers) {
      for (const auto& list : lists)
        for (const auto i : list) numbers.push_back(static_cast<typename decltype(numbers)::value_type>(i));
      return base64(numbers);
    };
    return shaded.vertices.size() < 65536 ? fill(std::vector<std::uint16_t>()) : fill(std::vector<std::uint32_t>());
  };
  if (bounds.is_empty()) bounds.extend(Vec3::Zero());
  return {{"vertices", shaded.vertices.size()}, {"min", vec(bounds.min)},    {"size", vec(size)},
          {"position", base64(positions)},      {"normal", base64(normals)}, {"triangle", indices(shaded.triangles)},
          {"edge", indices(shaded.edges)}};
}

Json rails_json(const std::vector<Rail>& rails) {
  Json ids = Json::array(), parts = Json::array(), use = Json::array(), counts = Json::array();
  std::vector<float> points;
  for (const auto& rail : rails) {
    ids.push_back(rail.id), parts.push_back(rail.part), counts.push_back(rail.points.size());
    use.push_back((rail.use.hands ? 1 : 0) + (rail.use.tether ? 2 : 0) + (rail.use.cable ? 4 : 0));
    for (const auto& p : rail.points)
      for (int k = 0; k < 3; ++k) points.push_back(static_cast<float>(p[k]));
  }
  return {{"id", ids}, {"part", parts}, {"use", use}, {"count", counts}, {"point", base64(points)}};
}

Json reasons_json(const std::vector<Reason>& reasons) {
  Json out = Json::array();
  for (const auto& reason : reasons) out.push_back({{"text", reason.text}, {"at", vec(reason.at)}});
  return out;
}

Json way_json(const Way& way, std::size_t index) {
  Json out = {{"letter", letter(index)},
              {"colour", colour_of(index)},
              {"dash", dash_of(index)},
              {"name", way.name},
              {"source", way.source},
              {"note", way.note},
              {"suit", way.suit},
              {"radius", tidy(way.corridor_radius_m)},
              {"loads", way.loads},
              {"time", way.time},
              {"time_s", way.time_s},
              {"distance", way.distance},
              {"moves", way.moves},
              {"clearance", way.clearance},
              {"load_clearance", way.load_clearance},
              {"caution", way.caution},
              {"reasons", reasons_json(way.reasons)}};
  Json brief = Json::array();
  for (const auto& sentence : way.brief) brief.push_back({{"text", sentence.text}, {"remark", sentence.remark}});
  out["brief"] = brief;
  Json rows = Json::array(), at = Json::array(), hand = Json::array(), body = Json::array(), stance = Json::array(),
       loads = Json::array(), line_at = Json::array(), line = Json::array();
  for (const auto& row : way.rows)
    rows.push_back({{"heading", row.heading},
                    {"leg", row.leg},
                    {"what", row.what},
                    {"rail", row.rail},
                    {"clearance", row.clearance},
                    {"spare", row.spare},
                    {"load_clearance", row.load_clearance},
                    {"distance", row.distance},
                    {"moves", row.moves},
                    {"time", row.time},
                    {"total_distance", row.total_distance},
                    {"total_moves", row.total_moves},
                    {"total_time", row.total_time},
                    {"remark", row.remark},
                    {"at_s", tidy(row.at_s)},
                    {"hand", vec(row.hand)},
                    {"body", vec(row.body)},
                    {"pose", row.pose.value_or(row.total_moves)}});
  for (const auto& pose : way.poses) {
    at.push_back(tidy(pose.at_s));
    push(hand, pose.hand), push(body, pose.body), push(stance, pose.stance);
    for (const auto& load : pose.loads) {
      loads.push_back(load.load);
      push(loads, load.middle);
      const Eigen::Quaterniond turn(load.axes);
      for (const double q : {turn.x(), turn.y(), turn.z(), turn.w()}) loads.push_back(tidy(q));
    }
  }
  for (const auto& point : way.body) line_at.push_back(tidy(point.at_s)), push(line, point.at);
  out["rows"] = rows;
  out["poses"] = {{"at_s", at}, {"hand", hand}, {"body", body}, {"stance", stance}, {"loads", loads}};
  out["body"] = {{"at_s", line_at}, {"point", line}};
  return out;
}

Json line_json(const Line& line) {
  const auto marks = [](const std::vector<LineMark>& list) {
    Json out = Json::array();
    for (const auto& mark : list) out.push_back({{"at", vec(mark.at)}, {"text", mark.text}});
    return out;
  };
  Json points = Json::array();
  for (const auto& point : line.points) push(points, point);
  return {{"kind", line.kind == LineKind::Cable ? "cable" : "tether"},
          {"name", line.name},
          {"source", line.source},
          {"words", line.words},
          {"point", points},
          {"ties", marks(line.ties)},
          {"bends", marks(line.bends)}};
}

Json worksite_json(const Worksite& site) {
  Json targets = Json::array();
  for (const auto& target : site.targets) {
    Json shoulders = Json::array();
    for (const auto& shoulder : target.shoulders) shoulders.push_back(vec(shoulder));
    targets.push_back({{"id", target.id},
                       {"words", target.words},
                       {"kind", kind_id(target.kind)},
                       {"at", vec(target.at)},
                       {"shoulders", shoulders}});
  }
  Json post = Json::array();
  for (const auto& p : site.post) push(post, p);
  Json out = {{"name", site.name},
              {"source", site.source},
              {"words", site.words},
              {"fits", site.fits},
              {"body", mesh_json(site.body)},
              {"trunk", mesh_json(site.trunk)},
              {"plate", site.plate.triangles.empty() ? Json(nullptr) : mesh_json(site.plate)},
              {"post", post},
              {"chest", vec(site.chest)},
              {"helmet", vec(site.helmet)},
              {"helmet_radius", tidy(site.helmet_radius_m)},
              {"forward", vec(site.forward)},
              {"targets", targets}};
  if (site.fits) {
    out["left"] = mesh_json(site.hand_zones[reach::Left]), out["right"] = mesh_json(site.hand_zones[reach::Right]);
    out["both"] = mesh_json(site.two_hand_zone);
  }
  return out;
}

Json seen_json(const SeenPatch& patch) {
  Json looks = Json::array(), at = Json::array(), normal = Json::array(), side = Json::array();
  for (std::size_t l = 0; l < patch.looks.size(); ++l) {
    std::string seen;  // a character a sample
    for (const auto& sample : patch.samples) seen += sample.seen_by[l] ? '1' : '0';
    looks.push_back({{"eye", patch.looks[l].eye}, {"words", patch.looks[l].words}, {"seen", seen}});
  }
  for (const auto& sample : patch.samples)
    push(at, sample.at), push(normal, sample.normal), side.push_back(tidy(sample.side_m));
  return {{"id", patch.id}, {"name", patch.name}, {"source", patch.source}, {"middle", vec(patch.middle)},
          {"looks", looks}, {"at", at},           {"normal", normal},       {"side", side}};
}

/// Nothing where it is not known; without a path: -1.
Json home_json(const TimeHome& home_s) {
  return !home_s ? Json(nullptr) : std::isfinite(*home_s) ? Json(tidy(*home_s)) : Json(-1);
}

Json step_json(const CueStep& step) {
  return {{"number", step.number},
          {"kind", kind_word(step.kind)},
          {"from_s", tidy(step.start_s)},
          {"to_s", tidy(step.end_s)},
          {"text", step.text},
          {"with", step.with},
          {"callouts", step.callouts},
          {"cautions", step.cautions},
          {"faults", step.faults},
          {"home", home_json(step.home_s)},
          {"carried", step.is_carried_unknown ? Json(-1) : home_json(step.carried_s)}};
}

Json points_json(const std::vector<HomePoint>& curve) {
  Json out = Json::array();
  for (const auto& point : curve) out.push_back({tidy(point.at_s), home_json(point.home_s)});
  return out;
}

Json excursion_json(const Excursion& excursion) {
  const auto& h = excursion.handout;
  Json kinds = Json::array(), crew = Json::array(), inside = Json::array(), nights = Json::array(),
       items = Json::array(), settings = Json::array(), stages = Json::array(), wrong = Json::array();
  for (const BarKind kind : bar_kinds)
    kinds.push_back({{"name", kind_word(kind)}, {"colour", kind_colour(kind)}, {"hatch", kind_hatch(kind)}});
  for (std::size_t c = 0; c < h.cards.size(); ++c) {
    Json steps = Json::array();
    for (std::size_t k = 0; k < h.cards[c].steps.size(); ++k) {
      steps.push_back(step_json(h.cards[c].steps[k]));
      steps.back()["row"] = excursion.rows[c][k];
    }
    crew.push_back({{"id", h.cards[c].crew},
                    {"name", h.cards[c].name},
                    {"way", excursion.ways[c]},
                    {"inside_s", tidy(h.cards[c].finish_s)},
                    {"steps", steps}});
  }
  for (const auto& step : h.inside) inside.push_back(step_json(step));
  for (const auto& night : h.nights) nights.push_back({tidy(night.start_s), tidy(night.end_s)});
  for (const auto& item : excursion.items) {
    Json at = Json::array(), seen = Json::array(), place = Json::array(), stays = Json::array();
    for (const auto& frame : item.frames) {
      at.push_back(tidy(frame.at_s));
      seen.push_back(!frame.is_seen ? 0 : frame.is_gone ? 2 : 1);
      push(place, frame.middle);
      const Eigen::Quaterniond turn(frame.axes);
      for (const double q : {turn.x(), turn.y(), turn.z(), turn.w()}) place.push_back(tidy(q));
    }
    for (const auto& stay : item.stays) stays.push_back({{"from_s", tidy(stay.from_s)}, {"words", stay.words}});
    items.push_back({{"id", item.id},
                     {"name", item.name},
                     {"size", vec(item.size_m)},
                     {"at_s", at},
                     {"seen", seen},
                     {"place", place},
                     {"stays", stays}});
  }
  for (const auto& setting : excursion.settings)
    settings.push_back({{"words", setting.words},
                        {"parts", setting.parts},
                        {"rails", setting.rails},
                        {"zones", setting.zones},
                        {"places", setting.places}});
  for (const auto& stage : excursion.stages)
    stages.push_back({{"from_s", tidy(stage.from_s)}, {"settings", stage.settings}});
  for (const auto& each : excursion.wrong)
    wrong.push_back({{"at_s", tidy(each.at_s)},
                     {"to_s", tidy(each.to_s)},
                     {"text", each.text},
                     {"remedy", each.remedy},
                     {"at", each.at ? vec(*each.at) : Json(nullptr)}});
  return {{"source", excursion.source},
          {"title", h.title},
          {"subtitle", h.subtitle},
          {"alert", h.alert},
          {"limit_s", h.limit_s},
          {"emergency_s", h.emergency_s},
          {"kinds", kinds},
          {"crew", crew},
          {"inside", inside},
          {"nights", nights},
          {"home", points_json(h.home)},
          {"carried", points_json(h.carried)},
          {"items", items},
          {"settings", settings},
          {"stages", stages},
          {"wrong", wrong},
          {"remarks", h.remarks}};
}

template <class Thing>
std::vector<Thing> joined(const std::vector<Thing>& first, const std::vector<Thing>* more) {
  std::vector<Thing> all = first;
  if (more) all.insert(all.end(), more->begin(), more->end());
  return all;
}

Json found_json(const std::vector<FoundPiece>& found) {
  Json out = Json::array();
  for (const auto& piece : found) {
    const auto& style = style_of(piece.kind);
    Json points = Json::array();
    for (const auto& point : piece.points) push(points, point);
    out.push_back({{"kind", style.name},
                   {"says", style.words},
                   {"colour", style.colour},
                   {"dash", style.dash},
                   {"id", piece.id},
                   {"number", piece.number},
                   {"words", piece.words},
                   {"source", piece.source},
                   {"length", report::bare_length_down(piece.length_m)},
                   {"point", points}});
  }
  return out;
}

Json picture_json(const Picture& picture) {
  Json out = {{"title", picture.title},         {"configuration", picture.configuration},
              {"digest", picture.digest},       {"engine", picture.engine_version},
              {"caution", picture.caution},     {"three", three_version},
              {"date", picture.date},           {"revision", picture.revision},
              {"set_aside", picture.set_aside}, {"min", vec(picture.bounds.min)},
              {"max", vec(picture.bounds.max)}};
  Json parts = Json::array(), zones = Json::array(), places = Json::array(), boxes = Json::array(),
       ways = Json::array(), lines = Json::array(), charts = Json::array(), homes = Json::array();
  const auto* excursion = picture.excursion ? &*picture.excursion : nullptr;
  for (const auto& part : joined(picture.parts, excursion ? &excursion->more_parts : nullptr))
    parts.push_back({{"id", part.id},
                     {"name", part.name},
                     {"fragile", part.fragile},
                     {"no_touch", part.no_touch},
                     {"mesh", mesh_json(part.mesh)}});
  for (const auto& zone : joined(picture.zones, excursion ? &excursion->more_zones : nullptr))
    zones.push_back({{"id", zone.id},
                     {"reason", zone.reason},
                     {"effect", report::effect_name(zone.effect)},
                     {"keeps_out", zone.keeps_out},
                     {"mesh", mesh_json(zone.mesh)}});
  for (const auto& place : joined(picture.places, excursion ? &excursion->more_places : nullptr))
    places.push_back({{"id", place.id}, {"name", place.name}, {"kind", place.kind}, {"at", vec(place.at)}});
  for (const auto& box : picture.boxes)
    boxes.push_back({{"id", box.id}, {"name", box.name}, {"words", box.words}, {"size", vec(box.size_m)}});
  for (std::size_t i = 0; i < picture.ways.size(); ++i) ways.push_back(way_json(picture.ways[i], i));
  for (const auto& line : picture.lines) lines.push_back(line_json(line));
  for (const auto& chart : picture.charts)
    charts.push_back({{"kind", chart.kind == ChartKind::Bars ? "bars" : "scatter"},
                      {"title", chart.title},
                      {"source", chart.source},
                      {"ways", chart.ways}});
  for (const auto& home : picture.homes) {
    Json rows = Json::array();
    for (const auto& row : home.rows)
      rows.push_back({{"place", row.place},
                      {"verdict", row.verdict},
                      {"time", row.time},
                      {"distance", row.distance},
                      {"moves", row.moves ? Json(*row.moves) : Json("-")},
                      {"at", row.at ? vec(*row.at) : Json(nullptr)}});
    homes.push_back(
        {{"title", home.title}, {"source", home.source}, {"rows", rows}, {"farthest", reasons_json(home.farthest)}});
  }
  out["found"] = found_json(picture.found);
  Json worksites = Json::array(), eyes = Json::array(), patches = Json::array(), kinds = Json::object();
  for (const auto& site : picture.worksites) worksites.push_back(worksite_json(site));
  for (const auto& eye : picture.eyes)
    eyes.push_back({{"name", eye.name},
                    {"at", vec(eye.at)},
                    {"direction", vec(eye.direction)},
                    {"half_angle", tidy(eye.half_angle_rad)},
                    {"length", tidy(eye.length_m)}});
  for (const auto& patch : picture.patches) patches.push_back(seen_json(patch));
  for (const auto kind : drawn_kinds)
    kinds[kind_id(kind)] = {{"words", kind_words(kind)}, {"colour", kind_colour(kind)}};
  out["worksites"] = worksites, out["eyes"] = eyes, out["patches"] = patches, out["kinds"] = kinds;
  out["parts"] = parts, out["rails"] = rails_json(joined(picture.rails, excursion ? &excursion->more_rails : nullptr)),
  out["zones"] = zones, out["places"] = places;
  out["boxes"] = boxes, out["ways"] = ways, out["lines"] = lines, out["charts"] = charts, out["homes"] = homes;
  out["excursion"] = excursion ? excursion_json(*excursion) : Json(nullptr);
  return out;
}

/// JSON that cannot end the element that it stands in, whatever its texts hold.
std::string embedded(const Json& document) {
  const std::string text = document.dump(-1, ' ', false, Json::error_handler_t::replace);
  std::string out;
  out.reserve(text.size());
  for (const char c : text) {
    if (c == '<')
      out += "\\u003c";
    else
      out += c;
  }
  return out;
}

}  // namespace

std::string html(const Picture& picture) {
  const std::string data = embedded(picture_json(picture));
  std::string page;
  page.reserve(data.size() + three_js.size() + 200'000);
  // `{{name}}` in the template stands for a part.
  for (std::size_t at = 0; at < page_html.size();) {
    const auto open = page_html.find("{{", at);
    page += page_html.substr(at, open - at);
    if (open == std::string_view::npos) break;
    const auto close = page_html.find("}}", open);
    model::ensure(close != std::string_view::npos, "a part of the page that is named to its end");
    const auto name = page_html.substr(open + 2, close - open - 2);
    if (name == "css")
      page += page_css;
    else if (name == "library")
      for (const auto part : {three_js, orbit_js, line_geometry_js, line_material_js, line_segments_js})
        page.append(part).append("\n");
    else if (name == "script")
      for (const auto part : {base_js, charts_js, shapes_js, structure_js, camera_js, paths_js, found_js, labels_js,
                              picking_js, controls_js, worksites_js, excursion_js, view_js, page_js})
        page.append(part).append("\n");
    else if (name == "data")
      page += data;
    else
      model::ensure(false, "a part of the page that exists");
    at = close + 2;
  }
  return page;
}

}  // namespace holdfast::picture
