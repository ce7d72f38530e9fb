// SPDX-License-Identifier: GPL-3.0-or-later
#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <cmath>
#include <map>

#include "holdfast/picture/plan_handout.h"
#include "holdfast/report/plan.h"
#include "holdfast/report/words.h"
#include "plan_picture_impl.h"

namespace holdfast::picture::detail {

using plan::CrewId;
using plan::ItemId;
using plan::What;
using report::duration;

namespace {

constexpr double beside_m = 0.45;  // of things at one spot, so that each is seen
constexpr double behind_m = 0.5;   // of what is carried and goes nowhere yet: off the body, away from the rail

bool is_same(const Vec3& a, const Vec3& b) { return (a - b).norm() < 1e-9; }
bool is_same(const std::vector<Vec3>& a, const std::vector<Vec3>& b) {
  return std::equal(a.begin(), a.end(), b.begin(), b.end(), [](const Vec3& p, const Vec3& q) { return is_same(p, q); });
}
bool is_same(const geometry::TriangleMesh& a, const geometry::TriangleMesh& b) {
  return a.triangles == b.triangles && is_same(a.vertices, b.vertices);
}
bool is_same(const Part& a, const Part& b) { return a.id == b.id && is_same(a.mesh, b.mesh); }
bool is_same(const Rail& a, const Rail& b) { return a.id == b.id && is_same(a.points, b.points); }
bool is_same(const Zone& a, const Zone& b) { return a.id == b.id && is_same(a.mesh, b.mesh); }
bool is_same(const Place& a, const Place& b) { return a.id == b.id && is_same(a.at, b.at); }

/// Numbers of `standing` in `first` and `more` together; what is in neither is added to `more`.
template <class Thing>
std::vector<std::size_t> numbers_of(std::vector<Thing>& standing, const std::vector<Thing>& first,
                                    std::vector<Thing>& more) {
  std::multimap<std::string, std::size_t> known;
  for (std::size_t i = 0; i < first.size(); ++i) known.emplace(first[i].id, i);
  for (std::size_t i = 0; i < more.size(); ++i) known.emplace(more[i].id, first.size() + i);
  std::vector<std::size_t> numbers;
  for (Thing& thing : standing) {
    const auto [begin, end] = known.equal_range(thing.id);
    const auto same = std::find_if(begin, end, [&](const auto& entry) {
      const std::size_t i = entry.second;
      return is_same(i < first.size() ? first[i] : more[i - first.size()], thing);
    });
    if (same != end) {
      numbers.push_back(same->second);
    } else {
      numbers.push_back(first.size() + more.size());
      more.push_back(std::move(thing));
    }
  }
  return numbers;
}

class PlanAdder {
 public:
  PlanAdder(Picture& picture, const report::Context& context, const geometry::Scene& scene,
            const report::ReadResult& result)
      : picture_(picture),
        c_(context),
        scene_(scene),
        result_(result),
        read_(*result.plan),
        plan_(read_.plan),
        e_(*read_.excursion) {}

  void add() {
    Excursion out;
    out.source = result_.file;
    out.handout = handout_of(c_, read_);
    add_cables();
    add_settings(out);
    for (std::size_t c = 0; c < e_.crew.size(); ++c) {
      out.ways.push_back(picture_.ways.size());
      out.rows.emplace_back();
      picture_.ways.push_back(way(CrewId(c), out.rows.back()));
      for (const auto& point : picture_.ways.back().body) picture_.bounds.extend(point.at);
    }
    for (std::size_t i = 0; i < e_.items.size(); ++i) out.items.push_back(item(ItemId(i)));
    for (std::size_t i = 0; i < plan_.violations.size(); ++i) {
      const auto& v = plan_.violations[i];
      const std::string who = v.crew ? e_.crew[v.crew->index()].id + ": " : std::string();
      out.wrong.push_back({v.at_s, v.to_s, who + read_.told[i].sentence, read_.told[i].remedy,
                           v.has_at ? std::optional(v.at) : std::nullopt});
    }
    picture_.excursion = std::move(out);
  }

 private:
  /// As they lie at the end.
  void add_cables() {
    for (const auto& read : result_.lines) {
      Line line;
      line.kind = LineKind::Cable;
      line.name = read.name, line.source = result_.file, line.words = read.words, line.points = read.points;
      for (const Vec3& point : line.points) picture_.bounds.extend(point);
      picture_.lines.push_back(std::move(line));
    }
  }
  // ---- switches ----------------------------------------------------------------------------------------------------

  void add_settings(Excursion& out) const {
    std::vector<model::Configuration> seen;
    const auto setting_of = [&](const model::Configuration& configuration) {
      const auto known = std::find(seen.begin(), seen.end(), configuration);
      if (known != seen.end()) return static_cast<std::size_t>(known - seen.begin());
      seen.push_back(configuration);
      Picture standing;
      if (seen.size() == 1) {
        standing.parts = picture_.parts, standing.rails = picture_.rails;
        standing.zones = picture_.zones, standing.places = picture_.places;
      } else {
        constexpr double chord_error_m = 0.004;  // what nobody sees in a drawing
        standing =
            draw_structure(c_, geometry::build_scene(c_.structure, configuration, {.chord_error_m = chord_error_m}));
      }
      Setting setting;
      setting.words = report::configuration_words(c_.structure, configuration);
      setting.parts = numbers_of(standing.parts, picture_.parts, out.more_parts);
      setting.rails = numbers_of(standing.rails, picture_.rails, out.more_rails);
      setting.zones = numbers_of(standing.zones, picture_.zones, out.more_zones);
      setting.places = numbers_of(standing.places, picture_.places, out.more_places);
      out.settings.push_back(std::move(setting));
      return seen.size() - 1;
    };
    out.stages.push_back({0, {setting_of(scene_.configuration())}});
    for (const auto& row : plan_.rows) {
      if (row.what != What::Throw) continue;
      const std::size_t before = out.stages.back().settings.back(),
                        after = setting_of(plan::configuration_at(plan_, row.to_s));
      if (before == after) continue;
      if (row.to_s > row.from_s) out.stages.push_back({row.from_s, {before, after}});
      out.stages.push_back({row.to_s, {after}});
    }
  }

  // ---- crew --------------------------------------------------------------------------------------------------------

  [[nodiscard]] Way way(CrewId crew, std::vector<std::size_t>& first_rows) const {
    const auto& member = e_.crew[crew.index()];
    const auto* suit = c_.kit.find_suit(member.suit);
    model::ensure(suit, "the suits of a result are those of its kit");
    const report::Context in_suit{c_.structure, c_.kit, *suit, c_.model_name, c_.engine_version, c_.options, {}};
    const auto& totals = plan_.totals[crew.index()];
    Way way;
    way.name = fmt::format("{}, {}", member.id, e_.name);
    way.source = result_.file;
    way.suit = suit->id;
    way.corridor_radius_m = suit->corridor_radius_m();
    way.time_s = totals.inside_at_s, way.distance_m = totals.distance_m, way.moves = totals.moves;
    way.time = duration(totals.inside_at_s), way.distance = report::bare_length_up(totals.distance_m);
    const auto wrong =
        std::count_if(plan_.violations.begin(), plan_.violations.end(), [&](const auto& v) { return v.crew == crew; });
    if (wrong > 0) way.note = fmt::format("{} violation{}", wrong, wrong == 1 ? "" : "s");
    route::LowerBound least{std::numeric_limits<double>::infinity(), false};
    double caution_s = 0;
    std::size_t number = 0, gone_moves = 0;
    double gone_m = 0;
    Vec3 hand = c_.structure.position(c_.structure.places[member.start.index()], plan_.configuration), body = hand;
    for (std::size_t r = 0; r < plan_.rows.size(); ++r) {
      const auto& row = plan_.rows[r];
      if (row.crew != crew) continue;
      const std::string title = fmt::format("{}  {}  {}", ++number, duration(row.from_s), report::what_words(row));
      first_rows.push_back(way.rows.size());
      const std::size_t first = way.rows.size();
      const auto leg = plan_.legs.find(r);
      const std::size_t first_pose = way.poses.size();
      add_poses(row, leg == plan_.legs.end() ? nullptr : &leg->second, way);
      if (!row.path.empty()) hand = row.path.back().hand, body = row.path.back().body;
      if (leg == plan_.legs.end()) {
        Row told;
        told.what = report::what_words(row);
        told.clearance = told.spare = told.load_clearance = "-";
        told.distance = report::bare_length_up(row.distance_m), told.time = duration(row.to_s - row.from_s);
        told.moves = row.moves, told.total_moves = gone_moves + row.moves;
        told.total_distance = report::bare_length_up(gone_m + row.distance_m);
        told.at_s = row.to_s, told.total_time = duration(row.to_s);
        told.hand = row.path.empty() ? row.hand : hand,
        told.body = row.path.empty() && !is_same(row.hand, hand) ? row.hand : body;
        hand = told.hand, body = told.body;
        if (!way.poses.empty()) told.pose = way.poses.size() - 1;
        way.rows.push_back(std::move(told));
      } else {
        caution_s += leg->second.route.caution_s;
        for (const auto& read : leg->second.route.legs.front().rows) {
          Row told = row_of(in_suit, read, r);
          const auto& stop = row.path[read.total_moves];
          told.at_s = stop.arrives_s, told.total_time = duration(stop.arrives_s);
          told.total_moves = gone_moves + read.total_moves;
          told.total_distance = report::bare_length_up(gone_m + read.total_distance_m);
          told.pose = pose_at(way, first_pose, stop.arrives_s);
          way.rows.push_back(std::move(told));
          if (read.clearance.value_m < least.value_m) least = read.clearance;
        }
      }
      gone_moves += row.moves, gone_m += row.distance_m;
      way.rows[first].heading = title;
      std::vector<std::string> remarks;
      if (!row.carried.empty()) remarks.push_back(fmt::format("with {}", fmt::join(row.carried, ", ")));
      if (!way.rows[first].remark.empty()) remarks.push_back(way.rows[first].remark);
      way.rows[first].remark = fmt::format("{}", fmt::join(remarks, "; "));
      for (std::size_t k = first; k < way.rows.size(); ++k) way.rows[k].leg = r;
    }
    // Standing and working in a zone count as well; a result without those stays tells of paths alone.
    double stay_s = 0;
    for (const auto& stay : plan_.cautions)
      if (stay.crew == crew) stay_s += stay.stay_s;
    caution_s = std::max(caution_s, stay_s);
    way.caution = duration(caution_s), way.caution_s = caution_s;
    way.clearance = report::clearance_cell(least);
    way.load_clearance = "-";
    if (std::isfinite(least.value_m)) way.clearance_m = least.value_m;
    return way;
  }

  /// The first pose from `first` on that is there by then.
  static std::size_t pose_at(const Way& way, std::size_t first, double at_s) {
    std::size_t pose = first;
    while (pose + 1 < way.poses.size() && way.poses[pose].at_s < at_s - 1e-9) ++pose;
    return pose;
  }

  /// At each grip when it is come to, and when it is left where that is later.
  void add_poses(const plan::Row& row, const plan::DescribedLeg* leg, Way& way) const {
    for (std::size_t i = 0; i < row.path.size(); ++i) {
      const auto& stop = row.path[i];
      route::Pose pose;
      pose.rail = stop.rail, pose.hand = stop.hand, pose.body = stop.body;
      pose.stance = leg ? leg->route.legs.front().poses[i].stance : Vec3(stop.body - stop.hand);
      if (pose.stance.norm() < 1e-9) pose.stance = -Vec3::UnitZ();
      pose.at_s = stop.arrives_s;
      if (way.poses.empty() && pose.at_s > 0) {
        route::Pose before = pose;
        before.at_s = 0;
        add_pose(before, way);
      }
      // Standing since the last leg.
      if (i == 0 && !way.poses.empty() && way.poses.back().at_s < pose.at_s) {
        const Pose& last = way.poses.back();
        route::Pose still;
        still.hand = last.hand, still.body = last.body, still.stance = last.stance, still.at_s = pose.at_s;
        add_pose(still, way);
      }
      add_pose(pose, way);
      if (stop.leaves_s > stop.arrives_s) {
        pose.at_s = stop.leaves_s;
        add_pose(pose, way);
      }
    }
  }

  // ---- items -------------------------------------------------------------------------------------------------------

  struct Where {
    Vec3 body = Vec3::Zero(), away = -Vec3::UnitZ();
  };
  /// Of a crew member at a moment, at rest.
  [[nodiscard]] Where where_at(CrewId crew, double at_s) const {
    Where where;
    where.body = c_.structure.position(c_.structure.places[e_.crew[crew.index()].start.index()], plan_.configuration);
    const plan::Stop* last = nullptr;
    for (const auto& row : plan_.rows) {
      if (row.crew != crew) continue;
      for (const auto& stop : row.path)
        if (!last || stop.arrives_s <= at_s + 1e-9) last = &stop;
    }
    if (!last) return where;
    where.body = last->body;
    if ((last->body - last->hand).norm() > 1e-9) where.away = (last->body - last->hand).normalized();
    return where;
  }

  [[nodiscard]] Item item(ItemId id) const {
    const auto& file = e_.items[id.index()];
    const auto* load = c_.kit.find_load(file.load);
    model::ensure(load, "the loads of a result are those of its kit");
    Item item;
    item.id = file.id, item.name = file.name.empty() ? file.id : file.name, item.size_m = load->size_m;
    std::vector<const plan::ItemStay*> stays;
    for (const auto& stay : plan_.stays)
      if (stay.where.item == id) stays.push_back(&stay);
    for (std::size_t s = 0; s < stays.size(); ++s) {
      const auto& stay = *stays[s];
      const double end_s = s + 1 < stays.size() ? stays[s + 1]->from_s : std::max(plan_.finish_s, stay.from_s);
      item.stays.push_back({stay.from_s, report::where_words(stay.where)});
      if (stay.box) {
        item.frames.push_back({stay.from_s, true, false, stay.box->middle, stay.box->axes});
        item.size_m = stay.box->size_m;
      } else if (!stay.where.crew.empty()) {
        add_carried(id, *e_.find_crew(stay.where.crew), stay.from_s, end_s, item);
      } else if (!stay.where.place.empty()) {
        add_placed(id, stay, end_s, item);
      } else {
        item.frames.push_back({stay.from_s, false, false, Vec3::Zero(), Eigen::Matrix3d::Identity()});
      }
    }
    if (item.frames.empty()) item.frames.push_back({0, false, false, Vec3::Zero(), Eigen::Matrix3d::Identity()});
    return item;
  }

  /// At the place, which may move when a switch is thrown; beside what lies there already.
  void add_placed(ItemId id, const plan::ItemStay& stay, double end_s, Item& item) const {
    const auto place = c_.structure.find_place(stay.where.place);
    model::ensure(place.has_value(), "the places of a result are those of its model");
    std::size_t before = 0;
    for (std::size_t i = 0; i < id.index(); ++i) {
      const plan::ItemStay* now = nullptr;
      for (const auto& other : plan_.stays)
        if (other.where.item == ItemId(i) && other.from_s <= stay.from_s + 1e-9) now = &other;
      if (now && now->where.place == stay.where.place) ++before;
    }
    const auto add = [&](double at_s) {
      const auto& at = c_.structure.places[place->index()];
      const auto configuration = plan::configuration_at(plan_, at_s);
      if (!c_.structure.is_present(at, configuration)) {
        item.frames.push_back({at_s, false, false, Vec3::Zero(), Eigen::Matrix3d::Identity()});
        return;
      }
      item.frames.push_back(
          {at_s, true, false,
           c_.structure.position(at, configuration) + Vec3(beside_m * static_cast<double>(before), 0, 0),
           Eigen::Matrix3d::Identity()});
    };
    add(stay.from_s);
    for (const auto& row : plan_.rows)
      if (row.what == What::Throw && row.to_s > stay.from_s && row.to_s < end_s) add(row.to_s);
  }

  void add_carried(ItemId id, CrewId crew, double from_s, double end_s, Item& item) const {
    const auto at_rest = [&](double at_s) {
      const Where where = where_at(crew, at_s);
      item.frames.push_back({at_s, true, false, where.body + behind_m * where.away, Eigen::Matrix3d::Identity()});
    };
    at_rest(from_s);
    const std::string& name = e_.items[id.index()].id;
    for (std::size_t r = 0; r < plan_.rows.size(); ++r) {
      const auto& row = plan_.rows[r];
      if (row.crew != crew || row.path.empty() || row.from_s < from_s - 1e-9 || row.from_s >= end_s) continue;
      const auto leg = plan_.legs.find(r);
      const auto number =
          static_cast<std::size_t>(std::find(row.carried.begin(), row.carried.end(), name) - row.carried.begin());
      for (std::size_t i = 0; i < row.path.size(); ++i) {
        const auto& stop = row.path[i];
        ItemFrame frame{stop.arrives_s, true, false, Vec3::Zero(), Eigen::Matrix3d::Identity()};
        const route::LoadPose* placed = nullptr;
        if (leg != plan_.legs.end())
          for (const auto& pose : leg->second.route.legs.front().poses[i].loads)
            if (pose.load == number) placed = &pose;
        if (placed) {
          frame.middle = placed->middle, frame.axes = placed->axes;
        } else if (i == 0) {
          frame.middle = item.frames.back().middle, frame.axes = item.frames.back().axes;  // as it was held
        } else {
          const Vec3 away = stop.body - stop.hand;
          frame.middle = stop.body + (away.norm() > 1e-9 ? Vec3(behind_m * away.normalized()) : Vec3(Vec3::Zero()));
          frame.axes = item.frames.back().axes;
        }
        if (stop.leaves_s > stop.arrives_s) {
          item.frames.push_back(frame);
          frame.at_s = stop.leaves_s;
        }
        frame.is_gone = i + 1 < row.path.size();
        item.frames.push_back(frame);
      }
    }
  }

  Picture& picture_;
  const report::Context& c_;
  const geometry::Scene& scene_;
  const report::ReadResult& result_;
  const report::ReadPlan& read_;
  const plan::Plan& plan_;
  const model::Excursion& e_;
};

}  // namespace

void add_plan(Picture& picture, const report::Context& context, const geometry::Scene& scene,
              const report::ReadResult& result) {
  PlanAdder(picture, context, scene, result).add();
}

}  // namespace holdfast::picture::detail
