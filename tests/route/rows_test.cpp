// SPDX-License-Identifier: GPL-3.0-or-later
// Rows and stretches: where they are cut, and that the sides, headings and landmarks they name are true.

#include <gtest/gtest.h>

#include <cmath>
#include <memory>
#include <numbers>
#include <random>

#include "yard_builder.h"

namespace holdfast::route {
namespace {

using graph::GripId;
using support::World;
using support::YardBuilder;

constexpr double pi = std::numbers::pi;
const Vec3 zenith = -Vec3::UnitZ();

Route found(const Answer& answer) {
  EXPECT_TRUE(answer.route()) << "no route";
  return answer.route() ? *answer.route() : Route{};
}

std::vector<model::ZoneId> zones_of(const graph::HandrailGraph& graph, graph::MoveId move) {
  std::vector<model::ZoneId> zones;
  for (const auto& label : graph.zones(move)) zones.push_back(label.zone);
  std::sort(zones.begin(), zones.end());
  return zones;
}

/// What holds of the rows of any route.
void expect_sound_rows(const World& world, const Route& route) {
  for (std::size_t l = 0; l < route.legs.size(); ++l) {
    const auto& leg = route.legs[l];
    std::size_t pose = 0;
    ASSERT_EQ(leg.rows.front().kind, RowKind::Start);
    for (std::size_t r = 1; r < leg.rows.size(); ++r) {
      const Row& row = leg.rows[r];
      EXPECT_LE(row.distance_m, most_row_m + 1e-5);
      ASSERT_GT(row.moves, 0u);
      const auto move = [&](std::size_t m) {
        return *world.graph.find_move(GripId(leg.poses[m].grip), GripId(leg.poses[m + 1].grip));
      };
      for (std::size_t m = pose; m < pose + row.moves; ++m) {
        EXPECT_EQ(leg.poses[m + 1].rail, row.rail);
        EXPECT_EQ(zones_of(world.graph, move(m)), zones_of(world.graph, move(pose))) << "in and out within row " << r;
      }
      pose += row.moves;
      EXPECT_TRUE(leg.poses[pose].hand.isApprox(row.hand));
      if (route.tether)
        for (const auto& swap : route.tether->swaps)
          if (swap.leg == l && swap.row == r) {
            EXPECT_EQ(swap.pose, pose) << "a swap in the middle of row " << r;
          }
    }
    EXPECT_EQ(pose + 1, leg.poses.size());
  }
}

/// Every row of every leg lies in one stretch, in order; what they count adds up.
void expect_sound_stretches(const Route& route) {
  std::size_t leg = 0, row = 0, moves = 0;
  double distance_m = 0;
  for (const auto& stretch : route.stretches) {
    if (stretch.leg != leg) {
      EXPECT_EQ(row, route.legs[leg].rows.size());
      leg = stretch.leg, row = 0;
    }
    EXPECT_EQ(stretch.first_row, row);
    for (std::size_t r = std::max<std::size_t>(1, stretch.first_row); r <= stretch.last_row; ++r)
      EXPECT_EQ(route.legs[leg].rows[r].part, stretch.part);
    row = stretch.last_row + 1;
    moves += stretch.moves, distance_m += stretch.distance_m;
  }
  EXPECT_EQ(leg + 1, route.legs.size());
  EXPECT_EQ(row, route.legs[leg].rows.size());
  EXPECT_EQ(moves, route.moves);
  EXPECT_NEAR(distance_m, route.distance_m, 1e-9);
}

/// A deck of 80 m with one rail along it.
struct LongRail : YardBuilder {
  explicit LongRail(double length_m) {
    const auto deck = part("deck", model::Box{.center = {40, 0, 0.5}, .size = {100, 10, 1}});
    structure.rails[rail("r", deck, {{0, 0, -0.07}, {length_m, 0, -0.07}}, {zenith}).index()].use.tether = true;
    place("a", {0, 0, -0.07}, 0.05), place("b", {length_m, 0, -0.07}, 0.05);
  }
};

TEST(Rows, OfALongRailAreTenMetresAtMost) {
  const World world(LongRail(61.66).structure);
  const auto route = found(world.route("a", "b"));
  expect_sound_rows(world, route);
  expect_sound_stretches(route);
  EXPECT_EQ(route.legs[0].rows.size(), 1u + 7u) << "six of nearly 10 m and the rest";
  double along = 0;
  for (std::size_t r = 1; r < route.legs[0].rows.size(); ++r) {
    const Row& row = route.legs[0].rows[r];
    EXPECT_EQ(row.kind, RowKind::Along);
    EXPECT_NEAR(row.along_from_m, along, 1e-9);
    along = row.along_to_m;
  }
  EXPECT_NEAR(along, 61.66, 1e-9);
  EXPECT_EQ(route.stretches.size(), 1u) << "one side of one part is one sentence";
}

TEST(Rows, AreCutWhereZonesAreEnteredAndLeft) {
  constexpr std::uint64_t seed = 20261126;
  std::mt19937_64 random(seed);
  SCOPED_TRACE(seed);
  std::uniform_real_distribution<double> at(0, 20), radius(0.6, 3);
  for (int trial = 0; trial < 20; ++trial) {
    LongRail yard(20);
    for (int z = 0; z < 3; ++z)
      yard.zone("z" + std::to_string(z), model::Sphere{.center = {at(random), 0, -0.6}, .radius = radius(random)},
                model::ZoneEffect::Caution);
    const World world(yard.structure);
    const auto route = found(world.route("a", "b"));
    EXPECT_GT(route.caution_s, 0);
    EXPECT_GT(route.legs[0].rows.size(), 3u);
    expect_sound_rows(world, route);
    expect_sound_stretches(route);
  }
}

TEST(Rows, AreCutAtTetherSwapsAndSoAreStretches) {
  for (const double length_m : {6.0, 8.5, 11.0}) {
    LongRail yard(20);
    model::Anchor anchor;
    anchor.id = "home", anchor.at = {0, 0.3, -0.05};
    yard.structure.anchors.push_back(anchor);
    const World world(yard.structure);
    model::Tether tether;
    tether.id = "reel";
    tether.length_m.value = length_m;
    RouteRequest request{.from = "a", .to = "b"};
    request.tether = TetherRequest{&tether, "home"};
    const auto route =
        found(route::find_route(world.graph, {.kit = world.kit, .suit = world.kit.suits.front()}, request));
    ASSERT_TRUE(route.tether);
    EXPECT_FALSE(route.tether->swaps.empty());
    expect_sound_rows(world, route);
    expect_sound_stretches(route);
    EXPECT_GE(route.stretches.size(), route.tether->swaps.size());
  }
}

TEST(Face, IsNeverFartherOffThanThirtySixDegrees) {
  // The direction farthest from all eighteen lies on the diagonal of an octant: acos(2 / sqrt 6) = 35.3 deg.
  std::mt19937_64 random(7);
  std::normal_distribution<double> normal;
  for (int i = 0; i < 2000; ++i) {
    const Vec3 direction = Vec3(normal(random), normal(random), normal(random)).normalized();
    EXPECT_GE(direction.dot(direction_of(face_of(direction))), 2 / std::sqrt(6.0) - 1e-9) << direction.transpose();
  }
  for (std::size_t f = 0; f < face_count; ++f) EXPECT_EQ(face_of(direction_of(Face(f))), Face(f));
}

TEST(Rows, CallEachLineOfADrumByItsSide) {
  const std::array<Face, 8> sides = {Face::Zenith, Face::ZenithStarboard, Face::Starboard, Face::NadirStarboard,
                                     Face::Nadir,  Face::NadirPort,       Face::Port,      Face::ZenithPort};
  for (std::size_t i = 0; i < sides.size(); ++i) {
    YardBuilder yard;
    const auto drum = yard.part("drum", model::Cylinder{.from = {0, 0, 0}, .to = {6, 0, 0}, .radius = 2});
    const double angle = static_cast<double>(i) * pi / 4;
    const auto on = [&](double x) { return Vec3(x, 2.07 * std::sin(angle), -2.07 * std::cos(angle)); };
    yard.rail("line", drum, {on(1), on(5)});
    yard.place("a", on(1), 0.05), yard.place("b", on(5), 0.05);
    const World world(yard.structure);
    const auto route = found(world.route("a", "b"));
    for (const auto& row : route.legs[0].rows) EXPECT_EQ(row.face, sides[i]);
    ASSERT_EQ(route.stretches.size(), 1u);
    EXPECT_EQ(route.stretches[0].sides, std::vector{sides[i]});
    EXPECT_EQ(route.stretches[0].heading, Face::Forward);
  }
}

/// Away from a body's middle line or point, in closed form.
struct Round {
  Vec3 from, axis;  // axis zero: a ball
  [[nodiscard]] Vec3 away(const Vec3& p) const {
    const Vec3 d = p - from;
    return (d - axis * d.dot(axis)).normalized();
  }
};

TEST(Stretches, NameTheSidesThatTheBodyIsOn) {
  constexpr std::uint64_t seed = 11;
  std::mt19937_64 random(seed);
  SCOPED_TRACE(seed);
  std::normal_distribution<double> normal;
  std::uniform_real_distribution<double> uniform(0, 1);
  int bent = 0;
  for (int trial = 0; trial < 40; ++trial) {
    SCOPED_TRACE(trial);
    YardBuilder yard;
    const bool is_ball = trial % 2 == 0;
    const double radius = 0.6 + 1.6 * uniform(random);
    const Vec3 axis = Vec3(normal(random), normal(random), normal(random)).normalized();
    const Vec3 u = axis.unitOrthogonal(), v = axis.cross(u);
    const auto body = is_ball ? yard.part("body", model::Sphere{.radius = radius})
                              : yard.part("body", model::Cylinder{.from = -4 * axis, .to = 4 * axis, .radius = radius});
    // A line of rails that winds round the body: each a polyline, or one long one.
    const double turns = 0.4 + 1.2 * uniform(random), climb = is_ball ? 0 : 2 * uniform(random);
    const int pieces = trial % 3 == 0 ? 1 : 8;
    const auto on = [&](double t) {
      const double angle = 2 * pi * turns * t;
      return Vec3((radius + 0.07) * (u * std::cos(angle) + v * std::sin(angle)) + climb * t * axis);
    };
    constexpr int points = 64;
    for (int piece = 0; piece < pieces; ++piece) {
      std::vector<Vec3> line;
      for (int i = piece * points / pieces; i <= (piece + 1) * points / pieces; ++i)
        line.push_back(on(double(i) / points));
      yard.rail("r" + std::to_string(piece), body, line);
    }
    yard.place("a", on(0), 0.05), yard.place("b", on(1), 0.05);
    const World world(yard.structure);
    const auto answer = world.route("a", "b");
    if (!answer.route()) continue;
    const Route& route = *answer.route();
    expect_sound_rows(world, route);
    expect_sound_stretches(route);
    const Round shape{Vec3::Zero(), is_ball ? Vec3(Vec3::Zero()) : axis};
    const auto& leg = route.legs[0];
    std::size_t pose = 0;
    for (const auto& stretch : route.stretches) {
      bent += stretch.sides.size() > 1;
      const auto is_told = [&](const Vec3& p) {
        // The sides told go through the eighteen directions, and the naming may be 36 deg off.
        double most = -1;
        for (const Face side : stretch.sides) most = std::max(most, shape.away(p).dot(direction_of(side)));
        return most;
      };
      for (std::size_t m = 0; m < stretch.moves; ++m) {
        ++pose;
        EXPECT_GT(is_told(leg.poses[pose].body), std::cos(66 * pi / 180)) << "pose " << pose;
      }
      // Where it begins and ends, the side is the one that is told.
      EXPECT_GT(shape.away(leg.poses[pose].body).dot(direction_of(stretch.sides.back())), std::cos(66 * pi / 180));
    }
  }
  EXPECT_GT(bent, 10) << "the question is about ways round";
}

TEST(Stretches, TrustTheBodyWhereARailOnABracketPointsElsewhere) {
  YardBuilder yard;
  const auto drum = yard.part("drum", model::Cylinder{.from = {0, 0, 0}, .to = {6, 0, 0}, .radius = 2});
  yard.rail("bracket", drum, {{1, 2.6, 0}, {5, 2.6, 0}}, {zenith});
  yard.place("a", {1, 2.6, 0}, 0.05), yard.place("b", {5, 2.6, 0}, 0.05);
  const World world(yard.structure);
  const auto route = found(world.route("a", "b"));
  ASSERT_EQ(route.stretches.size(), 1u);
  EXPECT_EQ(route.stretches[0].sides, std::vector{Face::Starboard})
      << "the body is 2.6 m to starboard, 0.55 m to zenith";
}

TEST(Stretches, TellPostsThatArePassedOnTheirTrueSide) {
  constexpr std::uint64_t seed = 5;
  std::mt19937_64 random(seed);
  SCOPED_TRACE(seed);
  std::uniform_real_distribution<double> along(-2, 22), beside(0.9, 4);
  std::size_t told = 0;
  for (int trial = 0; trial < 30; ++trial) {
    LongRail yard(20);
    std::vector<Vec3> posts;
    for (int p = 0; p < 6; ++p) {
      posts.emplace_back(along(random), beside(random) * (random() % 2 ? 1 : -1), 0);
      yard.part("post-" + std::to_string(p),
                model::Cylinder{.from = posts.back(), .to = posts.back() + Vec3(0, 0, -3), .radius = 0.05});
    }
    const World world(yard.structure);
    const auto route = found(world.route("a", "b"));
    for (const auto& stretch : route.stretches) {
      EXPECT_LE(stretch.landmarks.size(), 2u);
      for (const auto& landmark : stretch.landmarks) {
        ASSERT_TRUE(landmark.part);
        const Vec3& post = posts[landmark.part->index() - 1];
        EXPECT_EQ(landmark.side, post.y() > 0 ? Face::Port : Face::Starboard);
        EXPECT_TRUE(post.x() > 0 && post.x() < 20) << "passed, not ahead or behind";
        // To the axis less the post's radius; grips are 0.6 m apart along the path at most.
        EXPECT_NEAR(landmark.distance_m, std::abs(post.y()) - 0.05, 0.06);
        ++told;
      }
    }
  }
  EXPECT_GT(told, 20u);
}

TEST(Stretches, HaveALegThatEndsWhereItStarts) {
  LongRail yard(5);
  const World world(yard.structure);
  const auto route = found(world.route("a", "b", Objective::Time, {}, {"a"}));
  expect_sound_stretches(route);
  EXPECT_EQ(route.stretches.front().moves, 0u);
}

}  // namespace
}  // namespace holdfast::route
