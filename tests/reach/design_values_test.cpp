// SPDX-License-Identifier: GPL-3.0-or-later
// What figures, restraints and sockets are by default, against the tables of suited size, reach and worksites: the
// figures of MSIS (NASA-STD-3000 Vol. I) 14.3 and 14.5.3 and SSP 50005 14.5.3 are from memory, verify; the plate of an
// arm-mounted restraint is from an encyclopaedia article.

#include <gtest/gtest.h>

#include <cmath>
#include <numbers>

#include "holdfast/model/kit.h"
#include "holdfast/reach/figure.h"
#include "holdfast/reach/reach.h"
#include "yard_builder.h"

namespace holdfast::reach {
namespace {

using model::Confidence;

constexpr double degree = std::numbers::pi / 180;
constexpr double inch = 0.0254;

/// In the range that the table states, told as from memory, with that range beside it.
void expect_from_memory(const model::Quantity& value, double low, double high) {
  EXPECT_GE(value.value, low);
  EXPECT_LE(value.value, high);
  EXPECT_EQ(value.confidence, Confidence::Memory);
  EXPECT_NE(value.source, "");
}

TEST(DesignValues, OfTheFigureAreThoseOfTheTable) {
  const auto f = model::default_figure();
  expect_from_memory(f.height_m, 1.7, 2.0);
  expect_from_memory(f.breadth_m, 29 * inch, 33.5 * inch);
  EXPECT_GE(f.depth_front_m + f.depth_back_m, 26 * inch - 1e-3);
  EXPECT_LE(f.depth_front_m + f.depth_back_m, 27 * inch + 5e-3);
  expect_from_memory(f.one_hand_reach_m, 0.60, 0.75);
  expect_from_memory(f.two_hand_out_m, 0.3, 0.5);
  expect_from_memory(f.two_hand_radius_m, 0.24, 0.26);  // about 0.5 m (20 in) across
  EXPECT_EQ(f.depth_back_m.confidence, Confidence::Memory);
}

TEST(DesignValues, OfWorksitesAreThoseOfTheTable) {
  const auto design = model::default_design_values();
  expect_from_memory(design.worksite_diameter_m, 48 * inch - 1e-2, 48 * inch + 1e-2);
  expect_from_memory(design.worksite_handhold_m, 24 * inch - 1e-2, 24 * inch + 1e-2);
  const auto restraint = model::default_foot_restraint();
  EXPECT_EQ(restraint.footprint_m.values, (std::vector<double>{0.37, 0.52}));
  EXPECT_EQ(restraint.footprint_m.confidence, Confidence::Secondary);
  EXPECT_EQ(model::Socket{}.roll_count, 12) << "clocking: 12 positions, 30 deg apart";
}

// A small circle in front of the chest, within which both hands work; forward reach of one hand, poor overhead and
// behind.
TEST(DesignValues, ReachZonesAreAsTheTableSaysThem) {
  const auto f = model::default_figure();
  const BodyFrame frame{Vec3::Zero(), Vec3::UnitZ(), Vec3::UnitX()};
  const Zones zones = zones_of(f, frame);
  const auto ahead = [&](double out) { return Vec3(frame.at(f.chest_m) + out * frame.forward); };
  for (const double out : {0.3, 0.4, 0.5}) EXPECT_LE(zones.two_hand_distance_m(ahead(out)), 0) << out;
  for (const double out : {0.1, 0.7}) EXPECT_GT(zones.two_hand_distance_m(ahead(out)), 0) << out;
  for (const Hand hand : both_hands) {
    const auto& zone = zones.hand[hand];
    EXPECT_NEAR(zone.distance_m(zone.apex + 0.75 * frame.forward), 0.75 - 0.65, 1e-9) << "by what it is short of";
    EXPECT_LE(zone.distance_m(zone.apex + 0.64 * frame.forward), 0);
    EXPECT_GT(zone.distance_m(zone.apex + 0.4 * frame.up), 0.05) << "overhead";
    EXPECT_GT(zone.distance_m(zone.apex - 0.4 * frame.forward), 0.3) << "behind";
  }
}

// An arm-mounted restraint has unequal steps: tilt stops at 0, 9, 18 and 27 deg, yaw all round, a post of 1.2 m.
TEST(DesignValues, UnequalStepsOfARestraintAreAllTried) {
  model::FootRestraint arm = model::default_foot_restraint();
  arm.pitch_rad.values = {0, 9 * degree, 18 * degree, 27 * degree};
  arm.height_m.values = {1.20};
  arm.yaw_rad.values.clear();
  for (int k = 0; k < 12; ++k) arm.yaw_rad.values.push_back((-180 + 30 * k) * degree);
  model::Socket socket;
  // At pitch 0 roll and yaw turn the same thing: 12 poses there, 12 x 12 at each other pitch.
  EXPECT_EQ(find_settings(socket, arm).size(), 12U + 3U * 144U);
}

// The worksite cylinder is from memory: a note, never a verdict.
TEST(DesignValues, AWorksiteCylinderThatIsEnteredMakesNoMisfit) {
  support::YardBuilder yard;
  const auto deck = yard.part("deck", model::Box{.center = {0, 0, -0.5}, .size = {12, 12, 1}});
  yard.part("wall", model::Box{.center = {0, 1.0, 1.5}, .size = {6, 0.8, 3}});
  yard.rail("rail", deck, {{-1.5, -1.0, 0.07}, {1.5, -1.0, 0.07}}, {{0, 0, 1}});
  model::Socket socket;
  socket.id = "s";
  socket.axis = Vec3::UnitZ();
  yard.structure.sockets.push_back(socket);
  yard.place("plug", {1.3, 0, 0}, 0.6, model::PlaceKind::Connector);
  const support::World world(yard.structure);
  const auto restraint = model::default_foot_restraint();
  const auto answer = find_reach(world.graph, {.kit = world.kit, .suit = world.kit.suits.front()},
                                 {.sockets = {"s"}, .targets = {"plug"}, .restraint = &restraint});
  ASSERT_TRUE(answer.sites[0].best);
  EXPECT_LT(answer.sites[0].axis_distance_m, world.kit.design.worksite_diameter_m / 2);
  EXPECT_TRUE(answer.sites[0].stations[*answer.sites[0].best].fits());
}

// Distance of a point from a cone-cut ball by the plane geometry of its half plane, at angles where each case rules
// (elementary: foot of the perpendicular on the cone's side, law of cosines to its rim).
TEST(Zones, DistanceFromAConeIsTheClosedForm) {
  const HandZone zone{Vec3::Zero(), Vec3::UnitX(), 40 * degree, 0.5};
  const auto at = [](double angle_deg, double d) {
    return Vec3(d * std::cos(angle_deg * degree), 0, d * std::sin(angle_deg * degree));
  };
  EXPECT_NEAR(zone.distance_m(at(20, 0.8)), 0.3, 1e-12) << "over the ball";
  EXPECT_NEAR(zone.distance_m(at(70, 0.4)), 0.4 * std::sin(30 * degree), 1e-12) << "beside the cone's side";
  EXPECT_NEAR(zone.distance_m(at(70, 0.9)), std::sqrt(0.81 + 0.25 - 2 * 0.9 * 0.5 * std::cos(30 * degree)), 1e-12)
      << "past the rim";
  EXPECT_NEAR(zone.distance_m(at(140, 0.4)), 0.4, 1e-12) << "behind the apex";
  EXPECT_NEAR(zone.distance_m(at(10, 0.3)), -0.3 * std::sin(30 * degree), 1e-12) << "inside, nearest to the side";
  EXPECT_NEAR(zone.distance_m(at(0, 0.45)), -0.05, 1e-12) << "inside, nearest to the ball";
}

}  // namespace
}  // namespace holdfast::reach
