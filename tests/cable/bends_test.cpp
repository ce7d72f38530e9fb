// SPDX-License-Identifier: GPL-3.0-or-later
// Bends by dense samples of their arcs: random decks of ties with zones, rails kept free and laid cables, where the
// cable is rounded here once more, by itself.

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <numbers>

#include "holdfast/cable/cable.h"
#include "mesh_scene.h"
#include "yard_builder.h"

namespace holdfast::cable {
namespace {

using support::Random;
using support::World;
using support::YardBuilder;

constexpr double pi = std::numbers::pi;
constexpr double radius_m = 0.005, glove_m = 0.05;

/// Points of a cable's middle, each corner rounded with the radius, as far as its pieces leave room.
std::vector<Vec3> rounded(const std::vector<Vec3>& line, double bend_radius_m) {
  constexpr double step_m = 0.002;
  std::vector<Vec3> points;
  const auto straight = [&](const Vec3& a, const Vec3& b) {
    const int steps = std::max(1, static_cast<int>(std::ceil((b - a).norm() / step_m)));
    for (int k = 0; k <= steps; ++k) points.emplace_back(a + (b - a) * (static_cast<double>(k) / steps));
  };
  Vec3 from = line.front();
  for (std::size_t i = 1; i + 1 < line.size(); ++i) {
    const Vec3 u = (line[i - 1] - line[i]).normalized(), v = (line[i + 1] - line[i]).normalized();
    const double half = std::acos(std::clamp(u.dot(v), -1.0, 1.0)) / 2;  // of the angle between the pieces
    if (half > pi / 2 - 1e-6) continue;
    const double tangent = bend_radius_m / std::tan(half);
    const Vec3 start = line[i] + tangent * u, end = line[i] + tangent * v;
    const Vec3 center = line[i] + (bend_radius_m / std::sin(half)) * (u + v).normalized();
    straight(from, start);
    const double turn = pi - 2 * half;
    const int steps = std::max(2, static_cast<int>(std::ceil(turn * bend_radius_m / step_m)));
    for (int k = 0; k <= steps; ++k) {
      const double t = static_cast<double>(k) / steps;
      const Vec3 mixed =
          (std::sin((1 - t) * turn) * (start - center) + std::sin(t * turn) * (end - center)) / std::sin(turn);
      points.emplace_back(center + mixed);
    }
    from = end;
  }
  straight(from, line.back());
  return points;
}

/// A deck with handholds in rows of 0.3 m, shifted and left out at random, and a connector at two corners.
YardBuilder field(Random& random) {
  YardBuilder yard;
  const auto deck = yard.part("deck", model::Box{.center = {0.75, 0.75, 0.5}, .size = {4, 4, 1}});
  for (int i = 0; i < 6; ++i)
    for (int k = 0; k < 6; ++k) {
      const Vec3 at(0.3 * i + 0.2 * (random.unit() - 0.5), 0.3 * k + 0.2 * (random.unit() - 0.5), -0.07);
      if (random.unit() < 0.4) continue;
      const auto rail = yard.rail("hold-" + std::to_string(6 * i + k), deck, {at}, {{0, 0, -1}});
      yard.structure.rails[rail.index()].use.cable = true;
    }
  yard.place("plug-a", {-0.25, 0.1, -0.07}, 0.5, model::PlaceKind::Connector);
  yard.place("plug-b", {1.7, 1.4, -0.07}, 0.5, model::PlaceKind::Connector);
  return yard;
}

struct Case {
  explicit Case(YardBuilder yard, double separation_m = 0) : world(std::move(yard.structure)) {
    auto cable = model::default_cable();
    cable.id = "cable";
    cable.diameter_m = {2 * radius_m, "test"};
    cable.length_m = {10, "test"};
    cable.bend_multiple = {24, "test"};  // 0.24 m
    cable.separation_m = {separation_m, "test"};
    world.kit.cables.push_back(cable);
  }
  CableAnswer ask(CableRequest request = {}) const {
    request.from = "plug-a", request.to = "plug-b";
    const auto space = prepare_cable(world.graph, world.kit, world.kit.cables[0], nullptr);
    return find_cable_run(space, {.kit = world.kit, .suit = world.kit.suits.front()}, request);
  }
  World world;
  double bend_radius_m = 0.24;
};

constexpr double inside_of_arc_m = 2e-4;  // chords of the engine, and steps of the samples

/// A corner of a line: the direction inside, and how far inside of it the arc passes.
struct Corner {
  Vec3 at, in;
  double half_turn_rad = 0, arc_m = 0;
  /// The point inside that is this far from the lines that meet at the corner.
  [[nodiscard]] Vec3 off_lines(double distance_m) const { return at + distance_m / std::cos(half_turn_rad) * in; }
};
std::vector<Corner> corners_of(const std::vector<Vec3>& line, double bend_radius_m) {
  std::vector<Corner> corners;
  for (std::size_t i = 1; i + 1 < line.size(); ++i) {
    const Vec3 u = (line[i - 1] - line[i]).normalized(), v = (line[i + 1] - line[i]).normalized();
    const double half = (pi - std::acos(std::clamp(u.dot(v), -1.0, 1.0))) / 2;
    if (half > 0.1) corners.push_back({line[i], (u + v).normalized(), half, bend_radius_m * (1 / std::cos(half) - 1)});
  }
  return corners;
}

TEST(CableBendSamples, StayOutOfForbiddingZones) {
  // Zones where the arcs of the best run without them pass, too small to reach its corner line, and others anywhere.
  std::size_t runs = 0, aimed = 0;
  for (std::uint64_t seed = 1; seed <= 25; ++seed) {
    Random random(seed);
    auto yard = field(random);
    const auto first = Case(yard).ask();
    if (!first.run()) continue;
    std::vector<model::Sphere> balls;
    for (const auto& corner : corners_of(first.run()->line, 0.24))
      if (corner.arc_m * std::cos(corner.half_turn_rad) > radius_m + 0.003)
        balls.push_back({.center = corner.at + corner.arc_m * corner.in, .radius = 0.002}), ++aimed;
    for (int z = 0; z < 3; ++z)
      balls.push_back({.center = {1.5 * random.unit(), 1.5 * random.unit(), -0.07}, .radius = 0.05 * random.unit()});
    for (const auto& ball : balls)
      yard.zone("zone-" + std::to_string(yard.structure.zones.size()), ball, model::ZoneEffect::Forbid,
                {.cable = true});
    const Case c(std::move(yard));
    const auto answer = c.ask();
    if (!answer.run()) continue;
    ++runs;
    for (const auto& ball : balls)
      for (const auto& p : rounded(answer.run()->line, c.bend_radius_m))
        ASSERT_GE((p - ball.center).norm(), ball.radius + radius_m - inside_of_arc_m) << "seed " << seed;
  }
  EXPECT_GE(runs, 8u);
  EXPECT_GE(aimed, 8u);
}

TEST(CableBendSamples, CountWhatLiesInCautionZones) {
  std::size_t inside = 0;
  for (std::uint64_t seed = 1; seed <= 15; ++seed) {
    Random random(seed);
    auto yard = field(random);
    for (int z = 0; z < 12; ++z)
      yard.zone("zone-" + std::to_string(z),
                model::Sphere{.center = {1.5 * random.unit(), 1.5 * random.unit(), -0.07},
                              .radius = 0.02 + 0.05 * random.unit()},
                model::ZoneEffect::Caution, {.cable = true});
    const Case c(std::move(yard));
    const auto answer = c.ask();
    if (!answer.run()) continue;
    const auto points = rounded(answer.run()->line, c.bend_radius_m);
    for (std::size_t z = 0; z < c.world.structure.zones.size(); ++z) {
      const auto& ball = std::get<model::Sphere>(c.world.structure.zones[z].shape);
      double length = 0;
      for (std::size_t i = 1; i < points.size(); ++i)
        if (((points[i] + points[i - 1]) / 2 - ball.center).norm() < ball.radius + radius_m)
          length += (points[i] - points[i - 1]).norm();
      double told = 0;
      for (const auto& zone : answer.run()->zones)
        if (zone.zone == model::ZoneId(z)) told = zone.inside_m;
      EXPECT_GE(told, length - 0.003) << "seed " << seed << ", zone " << z;  // one step of the samples
      inside += length > 0.01 ? 1 : 0;
    }
  }
  EXPECT_GE(inside, 10u);
}

TEST(CableBendSamples, LeaveRailsFreeThatMustStayFree) {
  // Handholds that a glove can go round beside the corner line of the best run without them, and not beside its arc.
  std::size_t runs = 0, aimed = 0;
  for (std::uint64_t seed = 1; seed <= 25; ++seed) {
    Random random(seed);
    auto yard = field(random);
    const auto first = Case(yard).ask();
    if (!first.run()) continue;
    CableRequest request;
    std::vector<Vec3> kept = {{1.5 * random.unit(), 1.5 * random.unit(), -0.07}};
    for (const auto& corner : corners_of(first.run()->line, 0.24)) {
      kept.push_back(corner.off_lines(glove_m + radius_m + 1e-4));
      aimed += (kept.back() - corner.at).norm() - corner.arc_m < glove_m + radius_m - 1e-3 ? 1 : 0;
    }
    for (const Vec3& at : kept)
      request.keep_free.push_back(
          yard.rail("kept-" + std::to_string(request.keep_free.size()), model::PartId(0u), {at}, {{0, 0, -1}}));
    const Case c(std::move(yard));
    const auto answer = c.ask(request);
    if (!answer.run()) continue;
    ++runs;
    for (const Vec3& at : kept)
      for (const auto& p : rounded(answer.run()->line, c.bend_radius_m))
        ASSERT_GE((p - at).norm(), glove_m + radius_m - inside_of_arc_m) << "seed " << seed;
  }
  EXPECT_GE(runs, 8u);
  EXPECT_GE(aimed, 8u);
}

TEST(CableBendSamples, KeepAwayFromLaidCablesOrCrossThem) {
  // Laid cables bend too: a corner whose arc comes near where its corner line does not; and ends that stand beside the
  // best run's arcs, just far enough from its corner line.
  constexpr double separation_m = 0.06, touch_m = separation_m + 2 * radius_m, laid_bend_m = 0.2;
  std::size_t runs = 0, crossed = 0, aimed = 0;
  for (std::uint64_t seed = 1; seed <= 25; ++seed) {
    Random random(seed);
    const Case c(field(random), separation_m);
    const auto first = c.ask();
    if (!first.run()) continue;
    CableRequest request;
    const Vec3 corner(1.5 * random.unit(), 1.5 * random.unit(), -0.07);
    const double angle = 2 * pi * random.unit(), turn = 0.5 + random.unit();
    const auto along = [](double a) { return Vec3(std::cos(a), std::sin(a), 0); };
    request.laid = {{"bent",
                     {corner + 0.3 * along(angle), corner, corner + 0.3 * along(angle + pi - turn)},
                     radius_m,
                     laid_bend_m}};
    for (const auto& bend : corners_of(first.run()->line, c.bend_radius_m)) {
      const Vec3 at = bend.off_lines(touch_m + 1e-4);
      aimed += (at - bend.at).norm() - bend.arc_m < touch_m - 1e-3 ? 1 : 0;
      request.laid.push_back({"end-" + std::to_string(request.laid.size()), {at, at - Vec3(0, 0, 0.02)}, radius_m, 0});
    }
    const auto answer = c.ask(request);
    if (!answer.run()) continue;
    ++runs;
    crossed += answer.run()->crossings.empty() ? 0 : 1;
    const auto points = rounded(answer.run()->line, c.bend_radius_m);
    for (const auto& laid : request.laid) {
      double least = std::numeric_limits<double>::infinity();
      for (const auto& q : rounded(laid.line, laid.bend_radius_m))
        for (const auto& p : points) least = std::min(least, (p - q).norm());
      const auto& told = answer.run()->crossings;
      if (least < touch_m - 2 * inside_of_arc_m)
        EXPECT_TRUE(std::any_of(told.begin(), told.end(), [&](const auto& known) { return known.laid == laid.name; }))
            << "seed " << seed << ", " << laid.name << ": " << least;
    }
  }
  EXPECT_GE(runs, 8u);
  EXPECT_GE(aimed, 8u);
  EXPECT_GE(crossed, 2u);
}

TEST(CableBends, ThatOnlyTheArcTakesIntoAZoneNameIt) {
  // A square corner of 0.3 m: its arc passes 0.3 (sqrt 2 - 1) = 0.124 m inside, where the corner line does not come.
  YardBuilder yard;
  const auto part = yard.part("deck", model::Box{.center = {0, 0, 0.5}, .size = {12, 12, 1}});
  const auto rail = yard.rail("knee", part, {{0, 0, -0.07}}, {{0, 0, -1}});
  yard.structure.rails[rail.index()].use.cable = true;
  yard.place("plug-a", {-0.5, 0, -0.07}, 0.5, model::PlaceKind::Connector);
  yard.place("plug-b", {0, 0.5, -0.07}, 0.5, model::PlaceKind::Connector);
  const double inside = 0.3 * (std::sqrt(2.0) - 1);
  const auto asked = [&](double from_corner) {
    auto with_zone = yard;
    with_zone.zone(
        "hot", model::Sphere{.center = from_corner * Vec3(-1, 1, 0).normalized() + Vec3(0, 0, -0.07), .radius = 0.02},
        model::ZoneEffect::Forbid, {.cable = true});
    Case c(std::move(with_zone));
    c.world.kit.cables[0].bend_multiple = {30, "test"};
    return c.ask();
  };
  EXPECT_TRUE(asked(inside + 0.027).run()) << "beyond the arc";
  for (const double at : {inside + 0.02, inside, inside - 0.03}) {
    const auto answer = asked(at);
    ASSERT_TRUE(answer.no_run()) << at;
    EXPECT_EQ(answer.no_run()->causes[0].kind, NoRunKind::Zones);
    EXPECT_EQ(answer.no_run()->causes[0].zones, std::vector{model::ZoneId(0u)});
    EXPECT_EQ(answer.no_run()->causes[0].tie, "knee");
  }
}

}  // namespace
}  // namespace holdfast::cable
