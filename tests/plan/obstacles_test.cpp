// SPDX-License-Identifier: GPL-3.0-or-later
// What is stowed is structure for all others: bodies, hands and carried loads, by a dense second look at the poses that
// a leg goes through; and zones and throws for the boxes themselves.

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <cmath>
#include <numbers>
#include <random>

#include "simulator_impl.h"
#include "small_model.h"

namespace holdfast::plan {
namespace {

using detail::Closings;
using detail::Legs;
using detail::Obstacle;
using sample::excursion;
using sample::kinds;
using sample::line_model;
using sample::run;
using testing::ElementsAre;
using testing::IsEmpty;

const PlanOptions forward_only{.looks_back = false};

/// Is a point of the load's box, by a grid of 0.05 m and its faces, inside of the obstacle by more than 1 mm?
bool is_in(const Obstacle& obstacle, const Vec3& middle, const Eigen::Matrix3d& axes, const Vec3& size_m) {
  std::array<int, 3> n{};
  for (int i = 0; i < 3; ++i) n[static_cast<std::size_t>(i)] = static_cast<int>(std::ceil(size_m[i] / 0.05));
  for (int i = 0; i <= n[0]; ++i)
    for (int j = 0; j <= n[1]; ++j)
      for (int k = 0; k <= n[2]; ++k) {
        const Vec3 local((static_cast<double>(i) / n[0] - 0.5) * size_m.x(),
                         (static_cast<double>(j) / n[1] - 0.5) * size_m.y(),
                         (static_cast<double>(k) / n[2] - 0.5) * size_m.z());
        const Vec3 in = obstacle.box.axes.transpose() * (middle + axes * local - obstacle.box.middle);
        if (((in.cwiseAbs() - obstacle.size_m / 2).array() < -0.001).all()) return true;
      }
  return false;
}

Eigen::Matrix3d facing(const Vec3& forward, const Vec3& up) {
  Eigen::Matrix3d axes;
  axes.col(0) = forward, axes.col(1) = up.cross(forward), axes.col(2) = up;
  return axes;
}

/// Poses of the loads along a leg whose rails all face zenith, every 0.05 m and every 5 deg of a turn: made from the
/// hands alone. Loads beside face along the hands; what is in tow follows the path at the tow's length.
bool meets(const Obstacle& obstacle, const graph::HandrailGraph& graph, const std::vector<detail::GripId>& grips,
           const model::Load& load) {
  const Vec3 up(0, 0, -1);
  std::vector<Vec3> path;
  std::vector<Vec3> headings;
  for (std::size_t i = 0; i + 1 < grips.size(); ++i) {
    const Vec3 a = graph.body_point(grips[i]), b = graph.body_point(grips[i + 1]);
    const Vec3 heading = (graph.grip(grips[i + 1]).hand - graph.grip(grips[i]).hand).normalized();
    const int n = static_cast<int>(std::ceil((b - a).norm() / 0.05));
    if (load.how != model::CarriedHow::InTow && !headings.empty()) {
      const double turn = std::atan2(headings.back().cross(heading).dot(up), headings.back().dot(heading));
      for (int k = 0; k <= 36; ++k) {
        const auto axes = facing(Eigen::AngleAxisd(turn * k / 36, up) * headings.back(), up);
        if (is_in(obstacle, a + axes * load.offset_m, axes, load.size_m)) return true;
      }
    }
    for (int k = 0; k <= n; ++k) {
      const Vec3 at = a + (b - a) * (static_cast<double>(k) / n);
      path.push_back(at);
      if (load.how == model::CarriedHow::InTow) continue;
      const auto axes = facing(heading, up);
      if (is_in(obstacle, at + axes * load.offset_m, axes, load.size_m)) return true;
    }
    headings.push_back(heading);
  }
  if (load.how != model::CarriedHow::InTow || path.size() < 2) return false;
  for (std::size_t i = 1; i < path.size(); ++i) {
    double left_m = load.tow_length_m;
    std::size_t k = i;
    while (k > 0 && left_m > 0) left_m -= (path[k] - path[k - 1]).norm(), --k;
    const Vec3 chord = path[i] - path[k];
    if (left_m > 0 || chord.norm() < 0.5 * load.tow_length_m) continue;  // paying out, or about a hairpin
    const auto axes = facing(chord.normalized(), up);
    // The trail is looked at to 0.05 m, so a box smaller by that on all sides is what is surely there.
    if (is_in(obstacle, path[k], axes, load.size_m - Vec3::Constant(0.1))) return true;
  }
  return false;
}

class Boxes : public testing::TestWithParam<const char*> {};

TEST_P(Boxes, AreKeptOffByWhatIsCarried) {
  model::Model model = line_model();
  for (auto& load : model.kit.loads)
    load.other_carryings.clear();  // on one side alone: nobody carries it past on the other
  const auto configuration = model.structure.default_configuration();
  Legs legs(model.structure, model.kit);
  const auto& site = legs.site(configuration, model.kit.suits.front());
  const auto* load = model.kit.find_load(GetParam());
  const auto from = site.graph->find_grips_within({2, 0, 0}, 0.1), to = site.graph->find_grips_within({8, 0, 0}, 0.1);
  ASSERT_FALSE(from.empty() || to.empty());
  std::size_t met_without = 0, found = 0, closed = 0;
  for (unsigned seed = 0; seed < 60; ++seed) {
    SCOPED_TRACE(seed);
    std::mt19937 random(seed);
    const auto in = [&](double low, double high) { return std::uniform_real_distribution<double>(low, high)(random); };
    Closings closings;
    Obstacle box;
    // Beside the rail, so near that bodies just pass.
    box.size_m = {in(0.2, 0.6), in(0.2, 0.5), in(0.2, 0.5)};
    box.box.middle = {in(3.5, 6.5), (seed % 2 ? 1 : -1) * (in(0.56, 0.72) + box.size_m.y() / 2), in(-0.7, -0.4)};
    box.box.axes = Eigen::AngleAxisd(in(-0.1, 0.1), Vec3::UnitZ()).toRotationMatrix();
    closings.obstacles = {box};
    const detail::LegQuestion bare{&site, {}, route::Objective::Time, {from.front()}, {to.front()}};
    detail::LegQuestion question = bare;
    question.loads = {load};
    const auto& free = legs.find(bare, closings);
    if (free.leg && meets(box, *site.graph, free.leg->grips, *load)) ++met_without;
    const auto& loaded = legs.find(question, closings);
    if (!loaded.leg) {
      ++closed;
      continue;
    }
    ++found;
    EXPECT_FALSE(meets(box, *site.graph, loaded.leg->grips, *load));
    // A path that is known is judged alike.
    if (free.leg && legs.time_along(site, {load}, closings, free.leg->grips))
      EXPECT_FALSE(meets(box, *site.graph, free.leg->grips, *load));
  }
  EXPECT_GT(found, 20u);
  EXPECT_GT(met_without, 3u) << "bodies alone pass where the load would not";
  RecordProperty("closed", static_cast<int>(closed));
}
INSTANTIATE_TEST_SUITE_P(Loads, Boxes, testing::Values("case", "frame"));

TEST(Boxes, AreKeptOffByWhatIsInTow) {
  // Round the corner of main and near-rung the crew member in tow cuts the corner that the body goes round.
  const model::Model model = line_model();
  Legs legs(model.structure, model.kit);
  const auto& site = legs.site(model.structure.default_configuration(), model.kit.suits.front());
  const auto* victim = model.kit.find_load("victim");
  const auto from = site.graph->find_grips_within({4, 0, 0}, 0.1), to = site.graph->find_grips_within({4, 3, 0}, 0.1);
  std::size_t found = 0;
  for (unsigned seed = 0; seed < 25; ++seed) {
    SCOPED_TRACE(seed);
    std::mt19937 random(seed);
    const auto in = [&](double low, double high) { return std::uniform_real_distribution<double>(low, high)(random); };
    Closings closings;
    Obstacle box;
    box.size_m = Vec3::Constant(in(0.2, 0.5));
    box.box.middle = {in(0.3, 1.5), in(0.4, 2.6), in(-0.9, -0.2)};
    closings.obstacles = {box};
    const auto& loaded = legs.find({&site, {victim}, route::Objective::Time, {from.front()}, {to.front()}}, closings);
    if (!loaded.leg) continue;
    ++found;
    EXPECT_FALSE(meets(box, *site.graph, loaded.leg->grips, *victim));
  }
  EXPECT_GT(found, 3u);
}

TEST(Boxes, OverlapAsPointsInsideSay) {
  std::mt19937 random(5);
  const auto in = [&](double low, double high) { return std::uniform_real_distribution<double>(low, high)(random); };
  const auto box = [&] {
    Obstacle o;
    o.size_m = {in(0.2, 1), in(0.2, 1), in(0.2, 1)};
    o.box.middle = {in(-0.6, 0.6), in(-0.6, 0.6), in(-0.6, 0.6)};
    o.box.axes = Eigen::AngleAxisd(in(0, 3), Vec3(in(-1, 1), in(-1, 1), in(-1, 1)).normalized()).toRotationMatrix();
    return o;
  };
  for (int round = 0; round < 300; ++round) {
    const Obstacle a = box(), b = box();
    if (is_in(b, a.box.middle, a.box.axes, a.size_m)) {
      EXPECT_TRUE(detail::do_boxes_overlap(a, b)) << round;
    }
    Obstacle grown = b;  // points are 0.05 m apart: what misses them by more does not overlap
    grown.size_m += Vec3::Constant(0.12);
    if (!is_in(grown, a.box.middle, a.box.axes, a.size_m)) {
      EXPECT_FALSE(detail::do_boxes_overlap(a, b)) << round;
    }
  }
}

model::Zone load_zone(const Vec3& at, model::ZoneEffect effect) {
  model::Zone zone;
  zone.id = "clean";
  zone.shape = model::Sphere{at, 0.6};
  zone.applies = {};
  zone.applies.body = zone.applies.hands = false;
  zone.applies.load = true;
  zone.effect = effect;
  return zone;
}

const char* const stowing =
    "crew: [{id: A, start: hatch, sequence: [{take: b}, {go: depot}, {stow: b, on: [main]}, {do: look}, {take: b}]}]\n"
    "items: [{id: b, load: bag, at: hatch}]\n"
    "tasks: [{id: look, at: site, duration: 30 min}]\n";

TEST(Boxes, DoNotStandInAZoneThatKeepsLoadsOut) {
  model::Model model = line_model();
  EXPECT_THAT(kinds(run(model, excursion(model, stowing), forward_only)), IsEmpty());
  model.structure.zones.push_back(load_zone({5.3, 0, 0}, model::ZoneEffect::Forbid));
  const auto e = excursion(model, stowing);
  const auto plan = run(model, e, forward_only);
  EXPECT_THAT(kinds(plan), testing::Contains(ViolationKind::DoesNotFit));
  for (const auto& v : plan.violations)
    if (v.kind == ViolationKind::DoesNotFit) EXPECT_EQ(v.other, "clean");
}

TEST(Boxes, AreToldWhenAThrowBringsAZoneToThemWhileTheyStand) {
  model::Model model = line_model();
  auto zone = load_zone({4.8, 0, 0}, model::ZoneEffect::Forbid);
  zone.when.any_of["dish"] = {"tracking"};
  model.structure.zones.push_back(zone);
  const auto at = [&](const char* when) {
    return excursion(model, std::string(stowing) + "events: [{id: track, throw: {dish: tracking}, at: " + when +
                                "}, {id: park, throw: {dish: parked}, at: 26 min}]\n");
  };
  const auto during = at("20 min");
  const auto plan = run(model, during, forward_only);
  ASSERT_THAT(kinds(plan), ElementsAre(ViolationKind::RailMoves));
  EXPECT_EQ(plan.violations[0].other, "b");
  EXPECT_THAT(plan.violations[0].names, ElementsAre("zone", "clean"));
  EXPECT_EQ(plan.violations[0].at_s, 20 * 60);
}

TEST(Boxes, StayInALimitZoneNoLongerThanItAllows) {
  model::Model model = line_model();
  auto zone = load_zone({5.0, 0, 0}, model::ZoneEffect::Limit);
  zone.limit_s = 600;
  model.structure.zones.push_back(zone);
  const auto e = excursion(model, stowing);
  const auto plan = run(model, e, forward_only);
  bool is_told = false;
  for (const auto& v : plan.violations)
    if (v.kind == ViolationKind::ZoneTime && v.other == "b") {
      is_told = true;
      EXPECT_GT(v.value, 30 * 60);
    }
  EXPECT_TRUE(is_told);
}

TEST(Rails, ThatRunIntoSolidsInAnotherConfigurationTakeNobodyThen) {
  // The wall comes down on the main rail when the dish tracks; the second rail goes round it.
  model::Model model = line_model();
  model::Part wall;
  wall.id = wall.name = "plug";
  wall.shape = model::Box{{12, 0, 0.0}, {0.05, 0.05, 0.05}};
  wall.when.any_of["dish"] = {"tracking"};
  model.structure.parts.push_back(wall);
  const std::string text =
      "crew: [{id: A, start: hatch, sequence: [{go: site}]}]\n"
      "events: [{id: track, throw: {dish: tracking}, at: 1 s}]\n";
  const auto e = excursion(model, text);
  const auto plan = run(model, e, forward_only);
  ASSERT_EQ(plan.buried.size(), 1u);
  EXPECT_EQ(model.structure.rails[plan.buried[0].rail.index()].id, "main");
  EXPECT_EQ(model.structure.parts[plan.buried[0].part.index()].id, "plug");
  for (const auto& row : plan.rows)
    for (std::size_t i = 1; i < row.path.size(); ++i)
      EXPECT_NE(model.structure.rails[row.path[i].rail.index()].id, "main");
  EXPECT_FALSE(plan.is_clean());
}

}  // namespace
}  // namespace holdfast::plan
