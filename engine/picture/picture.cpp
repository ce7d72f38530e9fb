// SPDX-License-Identifier: GPL-3.0-or-later
#include "holdfast/picture/picture.h"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <Eigen/LU>
#include <algorithm>
#include <cmath>
#include <map>

#include "holdfast/report/words.h"
#include "plan_picture_impl.h"
#include "surface_impl.h"
#include "worksite_picture_impl.h"

namespace holdfast::picture {

using report::bare_length_down;
using report::bare_length_up;
using report::duration;

namespace {

constexpr double smooth_turn_rad = 0.15;  // between drawn points of the body's way; at 0.55 m that is within 2 mm

std::string keeps_out(const model::ZoneApplies& applies) {
  std::vector<std::string> who;
  if (applies.body) who.emplace_back("body");
  if (applies.hands) who.emplace_back("hands");
  if (applies.load) who.emplace_back("load");
  if (applies.tether) who.emplace_back("tether");
  if (applies.cable) who.emplace_back("cable");
  return fmt::format("{}", fmt::join(who, ", "));
}

/// Great-circle interpolation of unit vectors, by the shorter way.
Vec3 slerp(const Vec3& a, const Vec3& b, double t) {
  const double angle = std::acos(std::clamp(a.dot(b), -1.0, 1.0));
  if (angle < 1e-9 || std::sin(angle) < 1e-9) return a;
  return (std::sin((1 - t) * angle) * a + std::sin(t * angle) * b) / std::sin(angle);
}

[[noreturn]] void refuse(const report::ReadResult& result, std::string problem, std::string remedy) {
  throw model::InputError({{{.file = result.file}, "", "wrong-result", std::move(problem), "", std::move(remedy)}});
}

}  // namespace

Row detail::row_of(const report::Context& context, const route::Row& read, std::size_t leg) {
  Row row;
  row.what = report::action(context, read), row.rail = context.structure.rails[read.rail.index()].id;
  row.clearance = report::clearance_cell(read.clearance);
  row.spare = report::clearance_cell(report::spare_beyond(context, read.clearance));
  row.load_clearance = read.load_clearance ? report::clearance_cell(*read.load_clearance) : "-";
  row.distance = bare_length_up(read.distance_m), row.time = duration(read.time_s);
  row.total_distance = bare_length_up(read.total_distance_m), row.total_time = duration(read.total_time_s);
  row.moves = read.moves, row.total_moves = read.total_moves;
  row.remark = fmt::format("{}", fmt::join(report::zone_notes(context, read), "; "));
  row.leg = leg, row.at_s = read.total_time_s;
  row.hand = read.hand, row.body = read.body;
  return row;
}

void detail::add_pose(const route::Pose& read, Way& way) {
  Pose pose{read.at_s, read.hand, read.body, read.stance.stableNormalized(), read.loads};
  if (!way.poses.empty()) {
    const Pose& last = way.poses.back();
    const double angle = std::acos(std::clamp(last.stance.dot(pose.stance), -1.0, 1.0));
    const int steps = std::max(1, static_cast<int>(std::ceil(angle / smooth_turn_rad)));
    const double h0 = (last.body - last.hand).norm(), h1 = (pose.body - pose.hand).norm();
    for (int i = 1; i < steps; ++i) {
      const double t = static_cast<double>(i) / steps;
      way.body.push_back(
          {last.at_s + t * (pose.at_s - last.at_s),
           Vec3(last.hand + t * (pose.hand - last.hand) + (h0 + t * (h1 - h0)) * slerp(last.stance, pose.stance, t))});
    }
  }
  way.body.push_back({pose.at_s, pose.body});
  way.poses.push_back(std::move(pose));
}

namespace {

class Adder {
 public:
  Adder(Picture& picture, const report::Context& context, const report::ReadResult& result)
      : picture_(picture), context_(context), result_(result), suit_(find_suit()) {}

  void add() {
    const std::size_t first = picture_.ways.size();
    for (const auto& way : result_.ways) add(way);
    std::vector<std::size_t> ways;
    for (std::size_t i = first; i < picture_.ways.size(); ++i) ways.push_back(i);
    if (ways.size() > 1 && result_.outcome == "comparison")
      picture_.charts.push_back({ChartKind::Bars, fmt::format("Time with each load, {}", trip()), result_.file, ways});
    else if (ways.size() > 1)
      picture_.charts.push_back({ChartKind::Scatter,
                                 fmt::format("Hand moves against time, {}{}", trip(),
                                             result_.is_complete ? "" : "; CUT SHORT: routes may be missing"),
                                 result_.file, ways});
    if (result_.home) add(*result_.home);
    for (const auto& line : result_.lines) add(line);
  }

 private:
  const model::Suit& find_suit() const {
    const auto* suit = context_.kit.find_suit(result_.suit);
    if (!suit)
      refuse(result_, fmt::format("suit \"{}\" is not in the kit", result_.suit), "compute it again with this model");
    return *suit;
  }

  std::string trip() const {
    return result_.stops.empty() ? std::string("routes given") : fmt::format("{}", fmt::join(result_.stops, " to "));
  }

  std::size_t box_of(const std::string& id) {
    const auto known =
        std::find_if(picture_.boxes.begin(), picture_.boxes.end(), [&](const Box& b) { return b.id == id; });
    if (known != picture_.boxes.end()) return static_cast<std::size_t>(known - picture_.boxes.begin());
    const auto* load = context_.kit.find_load(id);
    if (!load) refuse(result_, fmt::format("load \"{}\" is not in the kit", id), "compute it again with this model");
    picture_.boxes.push_back({load->id, load->name, report::carried_words({}, *load), load->size_m});
    return picture_.boxes.size() - 1;
  }

  /// Reports of a suit other than the context's.
  report::Context in_suit() const {
    return {context_.structure, context_.kit, suit_, context_.model_name, context_.engine_version, context_.options};
  }

  static void add_note(Way& way, const char* note) { way.note += (way.note.empty() ? "" : "; ") + std::string(note); }

  void add(const report::ReadWay& read) {
    Way way;
    way.name = trip();
    // What tells ways of one result apart names their loads already where the loads are it.
    if (!read.name.empty()) way.name += ", " + read.name;
    if (!read.loads.empty() && result_.outcome != "comparison") way.name += ", " + report::loads_words(read.loads);
    if (!result_.closed_rails.empty()) way.name += fmt::format(", closed: {}", fmt::join(result_.closed_rails, ", "));
    way.source = result_.file, way.note = read.note;
    if (!read.is_proven_best) add_note(way, "not proven the best: a better route with the load in tow may exist");
    if (!read.is_certain) add_note(way, "not certain: a search was cut short");
    way.suit = suit_.id;
    way.corridor_radius_m = suit_.corridor_radius_m();
    for (const auto& load : read.loads) way.loads.push_back(box_of(load));
    for (const auto& cause : read.causes) way.reasons.push_back({cause.text, cause.at});
    for (const auto& sentence : read.brief)
      way.brief.push_back({sentence.text, fmt::format("{}", fmt::join(sentence.notes, "; "))});
    if (read.route) add(*read.route, read.work, way);
    for (const auto& point : way.body) picture_.bounds.extend(point.at);
    picture_.ways.push_back(std::move(way));
  }

  void add(const route::Route& route, const std::vector<report::ReadWork>& work, Way& way) const {
    way.time_s = route.time_s, way.distance_m = route.distance_m, way.moves = route.moves;
    way.caution_s = route.caution_s;
    way.time = duration(route.time_s), way.distance = bare_length_up(route.distance_m);
    way.caution = duration(route.caution_s);
    way.clearance = report::clearance_cell(route.clearance);
    way.load_clearance = route.load_clearance ? report::clearance_cell(route.load_clearance->clearance) : "-";
    if (std::isfinite(route.clearance.value_m)) way.clearance_m = route.clearance.value_m;
    std::string told_where;
    for (std::size_t leg = 0; leg < route.legs.size(); ++leg) {
      for (const auto& row : route.legs[leg].rows) {
        way.rows.push_back(detail::row_of(in_suit(), row, leg));
        const std::string where = report::where_words(context_, row);
        if (where != told_where || (leg > 0 && &row == &route.legs[leg].rows.front()))
          way.rows.back().heading = told_where = where;
        if (!route.tether) continue;
        for (const auto& swap : route.tether->swaps)
          if (swap.leg == leg && &route.legs[leg].rows[swap.row] == &row)
            way.rows.back().remark += fmt::format("{}hook the next tether on to {}, then let go of the one before",
                                                  way.rows.back().remark.empty() ? "" : "; ", swap.hook);
      }
      for (const auto& pose : route.legs[leg].poses) detail::add_pose(pose, way);
    }
    if (work.empty()) return;
    // Work is done standing: where a leg starts, before what starting off takes, and where the last one ends.
    std::size_t leg = 0;
    double arrived_s = 0;
    for (std::size_t i = 0; i < way.rows.size(); ++i) {
      if (i > 0 && way.rows[i].leg == way.rows[i - 1].leg) continue;
      do_work(way.rows[i], work[leg], arrived_s);
      arrived_s = route.legs[leg++].rows.back().total_time_s;
    }
    route::Row end = route.legs.back().rows.back();
    end.kind = route::RowKind::Start;
    end.distance_m = 0, end.moves = 0;
    way.rows.push_back(detail::row_of(in_suit(), end, route.legs.size() - 1));
    do_work(way.rows.back(), work.back(), arrived_s);
  }

  static void do_work(Row& row, const report::ReadWork& work, double arrived_s) {
    row.what = work.text, row.time = duration(work.time_s);
    row.at_s = arrived_s + work.time_s, row.total_time = duration(row.at_s);
  }

  void add(const report::ReadLine& read) {
    Line line;
    line.kind = read.is_cable ? LineKind::Cable : LineKind::Tether;
    line.name = read.name, line.source = result_.file, line.words = read.words, line.points = read.points;
    for (const auto& tie : read.ties) line.ties.push_back({tie.at, tie.text});
    for (const auto& bend : read.bends) line.bends.push_back({bend.at, bend.text});
    for (const Vec3& point : line.points) picture_.bounds.extend(point);
    picture_.lines.push_back(std::move(line));
  }

  void add(const route::Home& home) {
    const auto& s = context_.structure;
    HomeTable table;
    table.title = fmt::format("The path home to {}, within {}", fmt::join(home.request.hatches, " or "),
                              duration(home.request.limit_s));
    table.source = result_.file;
    for (const auto& read : home.places) {
      const auto& place = s.places[read.place.index()];
      HomeRow row;
      row.place = place.id;
      if (s.is_present(place, result_.configuration)) row.at = s.position(place, result_.configuration);
      const bool has_way = read.verdict != route::HomeVerdict::NoWay;
      row.time = has_way ? duration(read.most_s) : "-", row.distance = has_way ? bare_length_up(read.distance_m) : "-";
      if (has_way) row.moves = read.moves;
      switch (read.verdict) {
        case route::HomeVerdict::Within:
          row.verdict = "within";
          break;
        case route::HomeVerdict::Near:
          row.verdict = "near the limit";
          break;
        case route::HomeVerdict::Over:
          row.verdict = "TOO FAR";
          break;
        case route::HomeVerdict::NoWay:
          row.verdict = read.is_certain ? "NO WAY" : "NO WAY FOUND";
          break;
      }
      table.rows.push_back(std::move(row));
    }
    for (const auto& grip : home.worst)
      table.farthest.push_back({fmt::format("{}, rail {}, {}", s.parts[s.rails[grip.rail.index()].part.index()].name,
                                            s.rails[grip.rail.index()].id, duration(grip.time_s)),
                                grip.hand});
    picture_.homes.push_back(std::move(table));
  }

  Picture& picture_;
  const report::Context& context_;
  const report::ReadResult& result_;
  const model::Suit& suit_;
};

}  // namespace

std::string letter(std::size_t way) {
  std::string letters(1, static_cast<char>('A' + way % 26));
  for (way /= 26; way > 0; way = (way - 1) / 26)
    letters.insert(letters.begin(), static_cast<char>('A' + (way - 1) % 26));
  return letters;
}

Picture draw_structure(const report::Context& context, const geometry::Scene& scene) {
  const auto& s = context.structure;
  const auto& configuration = scene.configuration();
  Picture picture;
  picture.title = s.name;
  picture.configuration = report::configuration_words(s, configuration);
  picture.digest = model::model_digest(s);
  picture.engine_version = context.engine_version;
  picture.caution = std::string(report::caution);
  picture.set_aside = report::set_aside_sentences(context);
  for (std::size_t i = 0; i < s.parts.size(); ++i) {
    auto mesh = scene.part_mesh(model::PartId(i));
    if (mesh.triangles.empty()) continue;
    for (const auto& vertex : mesh.vertices) picture.bounds.extend(vertex);
    picture.parts.push_back({s.parts[i].id, s.parts[i].name, s.parts[i].fragile, s.parts[i].no_touch, std::move(mesh)});
  }
  for (std::size_t i = 0; i < s.rails.size(); ++i) {
    const auto& rail = s.rails[i];
    if (!s.is_present(model::RailId(i), configuration)) continue;
    const auto pose = s.pose(rail.part, configuration);
    Rail drawn{rail.id, s.parts[rail.part.index()].id, {}, rail.use};
    for (const auto& point : rail.points) {
      drawn.points.emplace_back(pose * point);
      picture.bounds.extend(drawn.points.back());
    }
    picture.rails.push_back(std::move(drawn));
  }
  for (std::size_t i = 0; i < s.zones.size(); ++i) {
    const auto& zone = s.zones[i];
    if (!zone.when.holds(configuration)) continue;
    auto mesh = scene.zone_mesh(model::ZoneId(i));
    if (const auto* near = std::get_if<model::NearPart>(&zone.shape)) mesh = grown(mesh, near->distance_m);
    if (mesh.triangles.empty()) continue;
    picture.zones.push_back({zone.id, zone.reason, zone.effect, keeps_out(zone.applies), std::move(mesh)});
  }
  for (const auto& place : s.places) {
    if (!s.is_present(place, configuration)) continue;
    const Vec3 at = s.position(place, configuration);
    picture.bounds.extend(at);
    picture.places.push_back({place.id, place.name, report::place_kind_word(place.kind), at, place.within_m});
  }
  if (picture.bounds.is_empty()) picture.bounds.extend(Vec3::Constant(-1)), picture.bounds.extend(Vec3::Constant(1));
  return picture;
}

void add_result(Picture& picture, const report::Context& context, const geometry::Scene& scene,
                const report::ReadResult& result) {
  if (result.configuration != scene.configuration())
    refuse(result,
           fmt::format("it was computed for {}, and the drawing shows {}",
                       report::configuration_words(result.configuration),
                       report::configuration_words(scene.configuration())),
           "draw results of different configurations in files of their own");
  if (result.plan) {
    if (picture.excursion)
      refuse(result, fmt::format("a second excursion: {} is drawn already", picture.excursion->source),
             "draw one excursion in a file");
    detail::add_plan(picture, context, scene, result);
    return;
  }
  Adder(picture, context, result).add();
  add_worksites(picture, context, scene, *context.kit.find_suit(result.suit), result);
}

}  // namespace holdfast::picture
