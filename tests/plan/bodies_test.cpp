// SPDX-License-Identifier: GPL-3.0-or-later
// Two bodies: the comparison against dense sampling, and encounters on a line.

#include "bodies_impl.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <random>

#include "small_model.h"

namespace holdfast::plan {
namespace {

using detail::Occupied;
using sample::excursion;
using sample::line_model;
using sample::run;

Occupied move(double from_s, double to_s, Vec3 a, Vec3 b) { return {from_s, to_s, true, {a, b}, 0, {a, b}, 0.5, {}}; }
Occupied rest(double from_s, double to_s, Vec3 at) { return {from_s, to_s, false, {at}, 0, {at}, 0.5, {}}; }

TEST(Bodies, MayTouchInTimeAndInSpaceExactly) {
  const std::vector<Occupied> a = {move(0, 10, {0, 0, 0}, {1, 0, 0})};
  EXPECT_TRUE(are_apart(a, std::vector{rest(0, 10, {2, 0, 0})}));
  EXPECT_FALSE(are_apart(a, std::vector{rest(0, 10, {1.99, 0, 0})}));
  EXPECT_TRUE(are_apart(a, std::vector{rest(10, 20, {1, 0, 0})}));
  EXPECT_TRUE(are_apart(a, std::vector{move(10, 20, {1, 0, 0}, {0, 0, 0})}));
  EXPECT_FALSE(are_apart(a, std::vector{move(9, 20, {1, 0, 0}, {0, 0, 0})}));
}

TEST(Bodies, AtRestMayBeNear) {
  EXPECT_TRUE(are_apart(std::vector{rest(0, 10, {0, 0, 0})}, std::vector{rest(0, 10, {0.1, 0, 0})}));
}

TEST(Bodies, PassAtAPlaceWhereBothHaveBusinessButDoNotLeaveItSideBySide) {
  const detail::PlaceBall hatch{0, {0, 0, 0}, 0.7};
  auto standing = rest(0, 100, {0, 0, 0});
  auto leaving = move(0, 10, {0.3, 0, 0}, {0.9, 0, 0});
  EXPECT_FALSE(are_apart(std::vector{standing}, std::vector{leaving}));
  standing.business = leaving.business = {hatch};
  EXPECT_TRUE(are_apart(std::vector{standing}, std::vector{leaving}));
  // Business at another place exempts nothing.
  leaving.business = {{1, {1, 0, 0}, 0.7}};
  EXPECT_FALSE(are_apart(std::vector{standing}, std::vector{leaving}));
  // Neither has all hands within.
  auto beside = move(0, 10, {0.5, 0.1, 0}, {1.1, 0.1, 0});
  beside.business = leaving.business = {hatch};
  EXPECT_FALSE(are_apart(std::vector{leaving}, std::vector{beside}));
}

TEST(Bodies, AreComparedAsDenseSamplingDoes) {
  std::mt19937 random(7);
  std::uniform_real_distribution<double> in(-1.5, 1.5);
  const auto point = [&] { return Vec3(in(random), in(random), in(random)); };
  for (int round = 0; round < 300; ++round) {
    const Vec3 a = point(), b = point(), c = point(), d = point();
    double least = 1e9;
    for (int i = 0; i <= 60; ++i)
      for (int k = 0; k <= 60; ++k)
        least = std::min(least, ((a + (b - a) * (i / 60.0)) - (c + (d - c) * (k / 60.0))).norm());
    const auto near = find_nearest_pair(std::vector{move(0, 1, a, b)}, std::vector{move(0, 1, c, d)});
    const double step = ((b - a).norm() + (d - c).norm()) / 120;
    if (least < 1 - 1e-6) {
      ASSERT_TRUE(near.has_value()) << round;
      EXPECT_LE(near->distance_m, least + 1e-9);
      EXPECT_GE(near->distance_m, least - step);
    } else if (least > 1 + step) {
      EXPECT_FALSE(near.has_value()) << round;
    }
  }
}

TEST(Encounter, OneWaitsUntilTheOtherIsOutOfThePath) {
  auto model = line_model();
  for (const std::size_t rail : {1u, 2u, 3u}) model.structure.rails[rail].use.hands = false;
  const auto e = excursion(model,
                           "crew: [{id: A, start: hatch, sequence: [{go: site}, {do: look}]}, {id: B, start: hatch, "
                           "sequence: [{not_before: 2 min, go: end}, {do: check}]}]\n"
                           "tasks: [{id: look, duration: 5 min}, {id: check, duration: 2 min}]\n");
  const auto plan = run(model, e, {.looks_back = false});
  for (const auto& v : plan.violations) EXPECT_NE(v.kind, ViolationKind::BodiesTooNear);
  // On a single line B comes past the site only once A is done there and home.
  double looked_s = 0, arrives_s = 0;
  for (const auto& row : plan.rows) {
    if (row.subject == "look") looked_s = row.to_s;
    if (row.what == What::Go && row.subject == "end") arrives_s = row.to_s;
  }
  EXPECT_GT(looked_s, 300);
  EXPECT_GT(arrives_s, looked_s);
}

TEST(Encounter, HeadOnWithNowhereToGoIsTold) {
  // A single rail: one works at its end and stays, the other must come past.
  auto model = line_model();
  for (const std::size_t rail : {1u, 2u, 3u}) model.structure.rails[rail].use.hands = false;
  const auto e = excursion(model,
                           "right_of_way: [A, B]\ncrew: [{id: A, start: hatch, sequence: [{go: site}, {wait_for: "
                           "far}]}, {id: B, start: hatch, sequence: [{not_before: 5 min, go: end}, {do: far}]}]\n"
                           "tasks: [{id: far, at: end, duration: 1 min}]\n");
  const auto plan = run(model, e, {.looks_back = false});
  EXPECT_THAT(sample::kinds(plan), testing::Contains(ViolationKind::BodiesTooNear));
}

}  // namespace
}  // namespace holdfast::plan
