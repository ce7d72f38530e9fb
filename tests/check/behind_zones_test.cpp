// SPDX-License-Identifier: GPL-3.0-or-later
// Rails that keep-out zones cut off: against asking for a route to every grip, with the zones and without.

#include <fmt/format.h>
#include <gtest/gtest.h>

#include <Eigen/Geometry>
#include <algorithm>
#include <random>
#include <set>
#include <string>

#include "holdfast/check/check.h"
#include "yard_builder.h"

namespace holdfast::check {
namespace {

using model::Vec3;
using support::World;
using support::YardBuilder;

const Vec3 zenith = -Vec3::UnitZ();

std::vector<Finding> behind(const World& world) {
  std::vector<Finding> found;
  for (auto& finding : check_model(world.graph, world.kit, world.kit.suits.front()).findings)
    if (finding.kind == FindingKind::RailBehindZone) found.push_back(std::move(finding));
  return found;
}

/// A line of rails along x from the hatch on, with a zone of 1 m across it.
YardBuilder line(model::ZoneEffect effect = model::ZoneEffect::Forbid) {
  YardBuilder yard;
  const auto on = yard.nowhere();
  for (int k = 0; k < 6; ++k)
    yard.rail("r" + std::to_string(k), on, {{k * 1.0, 0, 0}, {k * 1.0 + 0.8, 0, 0}}, {zenith});
  yard.place("hatch", {0, 0, 0}, 0.3, model::PlaceKind::Hatch);
  yard.zone("plume", model::OrientedBox{.pose = model::Pose(Eigen::Translation3d(3, 0, 0)), .size = {1, 4, 4}}, effect);
  return yard;
}

TEST(RailsBehindZones, AreToldOnceWithTheZoneThatEveryPathEnters) {
  const auto found = behind(World(line().structure));
  ASSERT_EQ(found.size(), 1u);
  EXPECT_EQ(found.front().other, "plume");
  EXPECT_EQ(found.front().subject, "r4") << "r3 lies too near the zone, the suit's radius from it";
  EXPECT_EQ(found.front().count, 2u);
}

TEST(RailsBehindZones, AreNoneWhereTheZoneOnlyWarnsOrDoesNotHoldOrARailGoesRound) {
  EXPECT_TRUE(behind(World(line(model::ZoneEffect::Caution).structure)).empty());
  YardBuilder parked = line();
  parked.structure.switches.push_back({"dish", {"parked", "tracking"}, "parked", {}});
  parked.structure.zones.front().when.any_of = {{"dish", {"tracking"}}};
  EXPECT_TRUE(behind(World(parked.structure)).empty());
  YardBuilder round = line();
  round.rail("round", round.nowhere(), {{1, 0.4, 0}, {1, 4, 0}, {5, 4, 0}, {5, 0.4, 0}},
             {zenith, zenith, zenith, zenith});
  EXPECT_TRUE(behind(World(round.structure)).empty());
}

TEST(RailsBehindZones, AreTheGripsWithNoRouteForZonesAlone) {
  std::size_t cut_off = 0, reached = 0;
  for (unsigned seed = 0; seed < 8; ++seed) {
    SCOPED_TRACE(seed);
    std::mt19937_64 random(310 + seed);
    const auto uniform = [&](double low, double high) {
      return std::uniform_real_distribution<double>(low, high)(random);
    };
    YardBuilder yard;
    const auto on = yard.nowhere();
    for (int x = 0; x < 6; ++x)
      for (int y = 0; y < 5; ++y)
        if (random() % 4 != 0)
          yard.rail(fmt::format("r{}{}", x, y), on, {{x * 0.7, y * 0.5, 0}, {x * 0.7 + 0.3, y * 0.5, 0}}, {zenith});
    yard.place("hatch", {0, 0, 0}, 1, model::PlaceKind::Hatch);
    YardBuilder bare = yard;
    for (int z = 0; z < 4; ++z)
      yard.zone("z" + std::to_string(z),
                model::Sphere{.center = {uniform(0.5, 4), uniform(0, 2), 0}, .radius = uniform(0.1, 0.3)},
                model::ZoneEffect::Forbid, {.hands = true});
    const World world(yard.structure), without(bare.structure);
    std::set<std::string> expected;
    for (const auto& grip : world.graph.grips()) {
      const auto to = fmt::format("{:.9f},{:.9f},{:.9f}", grip.hand.x(), grip.hand.y(), grip.hand.z());
      const auto ask = [&](const World& in) {
        return route::find_route(in.graph, {.kit = in.kit, .suit = in.kit.suits.front()},
                                 {.from = "hatch", .to = to, .point_radius_m = 1e-6})
                   .route() != nullptr;
      };
      const bool is_in_zone =
          std::any_of(yard.structure.zones.begin(), yard.structure.zones.end(), [&](const auto& zone) {
            const auto& ball = std::get<model::Sphere>(zone.shape);
            return (grip.hand - ball.center).norm() <= ball.radius;
          });
      if (is_in_zone) continue;
      const bool is_reached = ask(world);
      (is_reached ? reached : cut_off) += 1;
      if (!is_reached && ask(without)) expected.insert(yard.structure.rails[grip.rail.index()].id);
    }
    std::size_t count = 0;
    for (const auto& finding : behind(world)) {
      count += finding.count;
      EXPECT_TRUE(expected.count(finding.subject) > 0) << finding.subject;
      EXPECT_FALSE(finding.other.empty());
    }
    EXPECT_EQ(count, expected.size());
  }
  EXPECT_GT(cut_off, 10u);
  EXPECT_GT(reached, 100u);
}

}  // namespace
}  // namespace holdfast::check
