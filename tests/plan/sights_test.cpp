// SPDX-License-Identifier: GPL-3.0-or-later
// What tasks reach, what they photograph, and who sees whom along an excursion.

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <cmath>

#include "holdfast/reach/sight.h"
#include "small_model.h"

namespace holdfast::plan {
namespace {

using sample::excursion;
using sample::kinds;
using sample::line_model;
using sample::run;
using testing::ElementsAre;
using testing::IsEmpty;

const PlanOptions forward_only{.looks_back = false};

TEST(OutOfSight, IsTheTimeBehindAWall) {
  // A wall across the line 4 m to port of it, between one who stays at the depot's rung and one who passes: on a line
  // of sight from (5, 3) over the wall's ends the other is hidden between two places that similar triangles give.
  model::Model model = line_model();
  model::Part wall;
  wall.id = wall.name = "wall";
  wall.shape = model::Box{{10, 1.5, -0.5}, {2.0, 0.02, 8.0}};
  model.structure.parts.push_back(wall);
  const auto e = excursion(model,
                           "right_of_way: [A, B]\n"
                           "crew: [{id: A, start: hatch, sequence: [{go: side}, {do: stay}]},\n"
                           "       {id: B, start: hatch, sequence: [{hold_until: 10 min}, {go: end}, {do: far}]}]\n"
                           "tasks: [{id: stay, at: side, duration: 40 min}, {id: far, at: end, duration: 2 min}]\n");
  const auto plan = run(model, e, forward_only);
  ASSERT_FALSE(plan.out_of_sight.empty());
  // A's body is at (x, 3); B passes along (., 0): hidden where the line to A crosses the wall, 9 to 11 m along at half
  // way, so from 18 - x to 22 - x.
  double x = 0;
  for (const auto& row : plan.rows)
    if (row.crew->index() == 0 && row.what == What::Go && row.subject == "side") x = row.path.back().body.x();
  double from_s = INFINITY, to_s = 0;
  for (const auto& row : plan.rows)
    if (row.crew->index() == 1 && row.what == What::Go && row.subject == "end")
      for (std::size_t i = 0; i < row.path.size(); ++i) {
        const double at = row.path[i].body.x();
        if (at > 18 - x && at < 22 - x && std::abs(row.path[i].body.y()) < 1e-6)
          from_s = std::min(from_s, row.path[i].arrives_s), to_s = std::max(to_s, row.path[i].leaves_s);
      }
  ASSERT_LT(from_s, to_s);
  bool is_covered = false;
  for (const auto& stretch : plan.out_of_sight)
    if (!stretch.crew && stretch.from_s <= from_s + 1e-6 && stretch.to_s >= to_s - 1e-6) {
      is_covered = true;
      EXPECT_LT(stretch.to_s - stretch.from_s, to_s - from_s + 20)
          << "no longer than the samples on both sides make it";
    }
  EXPECT_TRUE(is_covered);
}

TEST(OutOfSight, HasNothingToTellInTheOpen) {
  const model::Model model = line_model();
  const auto e =
      excursion(model,
                "crew: [{id: A, start: hatch, sequence: [{go: site}]}, {id: B, start: hatch, sequence: [{go: "
                "depot}]}]\n");
  const auto plan = run(model, e, forward_only);
  EXPECT_THAT(plan.out_of_sight, IsEmpty());
  EXPECT_FALSE(plan.has_windows);
}

TEST(OutOfSight, OfWindowsIsAllOfTheTimeWhereTheWindowLooksAway) {
  model::Model model = line_model();
  model::View window;
  window.id = window.name = "window";
  window.at = {10, -5, -0.5};
  window.direction = {0, -1, 0};
  window.half_angle_rad = 1;
  model.structure.views.push_back(window);
  const std::string text =
      "crew: [{id: A, start: hatch, sequence: [{go: site}, {do: look}]}]\n"
      "tasks: [{id: look, at: site, duration: 5 min}]\n";
  const auto e = excursion(model, text);
  const auto away = run(model, e, forward_only);
  ASSERT_EQ(away.out_of_sight.size(), 1u);
  EXPECT_EQ(away.out_of_sight[0].crew->index(), 0u);
  EXPECT_NEAR(away.out_of_sight[0].to_s, away.finish_s, 1e-6);
  model.structure.views[0].direction = {0, 1, 0};
  model.structure.views[0].half_angle_rad = 1.55;
  const auto toward = run(model, e, forward_only);
  double hidden_s = 0;
  for (const auto& stretch : toward.out_of_sight) hidden_s += stretch.to_s - stretch.from_s;
  EXPECT_LT(hidden_s, 0.2 * toward.finish_s);
}

const std::string yard = std::string(HOLDFAST_SOURCE_DIR) + "/models/yard";
const model::Model& yard_model() {
  static const model::Model model = model::read_model(yard);
  return model;
}
Plan yard_plan(const std::string& needs, std::unique_ptr<model::Excursion>& kept) {
  kept = std::make_unique<model::Excursion>(model::read_excursion_text(
      "holdfast: excursion/1\n"
      "crew: [{id: A, start: lock-hatch, sequence: [{take: r}, {go: port-window}, {set_up: r, in: port-socket}, {do: "
      "plug}, {take_down: r}]}]\n"
      "items: [{id: r, load: foot-restraint, restraint: portable, at: lock-hatch}]\n"
      "tasks: [{id: plug, duration: 20 min, needs: {restraint_in: port-socket, " +
          needs + "}}]\n",
      yard_model()));
  return simulate(yard_model(), yard_model().structure.default_configuration(), *kept, forward_only);
}

TEST(Reach, ChoosesTheSettingThatServesTheTargets) {
  std::unique_ptr<model::Excursion> e;
  const auto plan = yard_plan("targets: [port-plug]", e);
  EXPECT_THAT(kinds(plan), IsEmpty());
  ASSERT_EQ(plan.reaches.size(), 1u);
  EXPECT_TRUE(plan.reaches[0].is_derived);
  EXPECT_TRUE(plan.reaches[0].is_served());
  ASSERT_TRUE(plan.reaches[0].setting.has_value());
  // The same setting asked of reach by itself serves the plug.
  const auto scene = geometry::build_scene(yard_model().structure, yard_model().structure.default_configuration());
  const auto graph =
      graph::build_handrail_graph(scene, graph::body_of(yard_model().kit.suits.front(), yard_model().kit.design));
  const route::Profile profile{.kit = yard_model().kit, .suit = yard_model().kit.suits.front()};
  const auto station = reach::evaluate_setting(graph, profile, yard_model().kit.foot_restraints.front(),
                                               *yard_model().structure.find_socket("port-socket"),
                                               *plan.reaches[0].setting, {reach::find_target(graph, "port-plug")});
  EXPECT_TRUE(station.is_usable());
  EXPECT_EQ(station.served(), 1u);
}

TEST(Reach, TellsTheSettingThatWouldServe) {
  std::unique_ptr<model::Excursion> e;
  const auto plan = yard_plan("targets: [port-plug], setting: {roll_deg: 180, pitch_deg: 0}", e);
  ASSERT_THAT(kinds(plan), ElementsAre(ViolationKind::OutOfReach));
  ASSERT_EQ(plan.reaches.size(), 1u);
  EXPECT_FALSE(plan.reaches[0].is_derived);
  ASSERT_TRUE(plan.reaches[0].better.has_value());
  EXPECT_EQ(plan.reaches[0].better_serves, 1u);
  const auto none = yard_plan("targets: [port-plug], setting: {pitch_deg: 7}", e);
  ASSERT_THAT(kinds(none), ElementsAre(ViolationKind::OutOfReach));
  EXPECT_THAT(none.violations[0].names, ElementsAre("no-setting"));
}

TEST(Reach, TellsTargetsThatNoSettingServes) {
  std::unique_ptr<model::Excursion> e;
  const auto plan = yard_plan("targets: [port-plug, hub-plug]", e);
  ASSERT_THAT(kinds(plan), ElementsAre(ViolationKind::OutOfReach));
  EXPECT_THAT(plan.violations[0].names, ElementsAre("targets", "hub-plug"));
}

TEST(Photograph, FindsItsGripAndWhatIsSeenFromThere) {
  const auto e = model::read_excursion_text(
      "holdfast: excursion/1\n"
      "crew: [{id: A, start: lock-hatch, sequence: [{do: photo}]}]\n"
      "tasks: [{id: photo, duration: 3 min, needs: {photograph: tank-valve-face}}]\n",
      yard_model());
  const auto plan = simulate(yard_model(), yard_model().structure.default_configuration(), e, forward_only);
  EXPECT_THAT(kinds(plan), testing::Not(testing::Contains(ViolationKind::NotInSight)));
  ASSERT_EQ(plan.photographs.size(), 1u);
  EXPECT_GT(plan.photographs[0].seen_lower, 0.5);
  // A leg leads to that grip.
  bool goes_there = false;
  for (const auto& row : plan.rows)
    goes_there = goes_there || (row.what == What::Go && !row.path.empty() &&
                                (row.path.back().hand - plan.photographs[0].hand).norm() < 1e-9);
  EXPECT_TRUE(goes_there);
  // At a place from which nothing of it is seen it is told.
  const auto away = model::read_excursion_text(
      "holdfast: excursion/1\n"
      "crew: [{id: A, start: lock-hatch, sequence: [{do: photo}]}]\n"
      "tasks: [{id: photo, at: lock-porch, duration: 3 min, needs: {photograph: battery-1-zenith}}]\n",
      yard_model());
  EXPECT_THAT(kinds(simulate(yard_model(), yard_model().structure.default_configuration(), away, forward_only)),
              ElementsAre(ViolationKind::NotInSight));
}

}  // namespace
}  // namespace holdfast::plan
