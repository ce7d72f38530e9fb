// SPDX-License-Identifier: GPL-3.0-or-later
// Spans on structures whose shortest ways are known, and on random ones: never short, always clear.

#include "holdfast/cable/spans.h"

#include <gtest/gtest.h>
#include <tbb/global_control.h>

#include <cmath>
#include <numbers>

#include "holdfast/geometry/fillet.h"
#include "mesh_scene.h"

namespace holdfast::cable {
namespace {

using support::Random;
using support::YardBuilder;

constexpr double pi = std::numbers::pi;

/// A structure with its scene, and ties by hand.
struct Place {
  explicit Place(YardBuilder yard)
      : structure(std::move(yard.structure)), scene(geometry::build_scene(structure, {})) {}
  void tie(const Vec3& at) {
    Tie t;
    t.at = at;
    t.way = find_clear_point(scene, at, rules.clear_m()).value();
    ties.push_back(t);
  }
  [[nodiscard]] SpanTable table() const { return build_spans(scene, ties, rules); }
  [[nodiscard]] std::optional<FittedSpan> fitted(double bend_radius_m = 0) const {
    const auto found = table();
    if (found.spans.empty()) return std::nullopt;
    return fit_span(scene, rules, ties, found.spans[0], bend_radius_m);
  }
  const model::Structure structure;
  geometry::Scene scene;
  SpanRules rules{.radius_m = 0.005, .span_m = 0.61, .free_span_m = 0.6, .lies_within_m = 0.15};
  std::vector<Tie> ties;
};

YardBuilder one(model::Shape shape) {
  YardBuilder yard;
  yard.part("thing", std::move(shape));
  return yard;
}

TEST(Spans, AreStraightWhereNothingIsBetween) {
  Place place(one(model::Box{.center = {0, 0, 0.5}, .size = {4, 4, 1}}));
  place.tie({0, 0, -0.07}), place.tie({0.5, 0, -0.07});
  const auto span = place.fitted(0.2);
  ASSERT_TRUE(span);
  EXPECT_TRUE(span->is_straight());
  EXPECT_NEAR(span->length_m, 0.5, 1e-12);
}

TEST(Spans, EndAtTheLimitAndIncludeIt) {
  Place place(one(model::Box{.center = {0, 0, 0.5}, .size = {4, 4, 1}}));
  place.tie({0, 0, -0.07}), place.tie({0.61, 0, -0.07}), place.tie({-0.6101, 0, -0.07});
  const auto table = place.table();
  ASSERT_EQ(table.spans.size(), 1u);
  EXPECT_EQ(table.spans[0].b, 1u);
}

TEST(Spans, GoRoundTheEdgeOfABox) {
  // Ties 0.07 m off two faces that meet at (1, ., 0): the tube of 5 mm may touch the edge, so the shortest way passes
  // it at a distance between 5 mm and what the corner of the offset planes is away.
  Place place(one(model::Box{.center = {0, 0, 1}, .size = {2, 2, 2}}));
  place.tie({0.8, 0, -0.03}), place.tie({1.03, 0, 0.2});
  const auto span = place.fitted(0);
  ASSERT_TRUE(span);
  ASSERT_EQ(span->line.size(), 3u);
  const double round_edge = 2 * std::hypot(0.2, 0.03);
  EXPECT_GE(span->length_m, round_edge);
  EXPECT_LE(span->length_m, round_edge + 0.03) << "off the edge by the cable's radius and 9.5 mm";
  ASSERT_EQ(span->edges.size(), 1u);
  EXPECT_EQ(span->edges[0].kind, EdgeKind::StandsOff);
  EXPECT_NEAR((span->edges[0].at - Vec3(1, 0, 0)).norm(), 0, 0.02);
}

TEST(Spans, PadAnEdgeWhereTheyCannotStandOff) {
  // Standing off takes some centimetres more: where a span has not got them, the cable touches the edge.
  const auto kind_at = [](double from_edge) {
    Place place(one(model::Box{.center = {0, 0, 1}, .size = {2, 2, 2}}));
    place.tie({1 - from_edge, 0, -0.03}), place.tie({1.03, 0, from_edge});
    const auto span = place.fitted(0.01);
    return span ? std::optional(span->edges.at(0).kind) : std::nullopt;
  };
  EXPECT_EQ(kind_at(0.25), EdgeKind::StandsOff);
  EXPECT_EQ(kind_at(0.293), EdgeKind::Padded);
  EXPECT_EQ(kind_at(0.31), std::nullopt) << "0.62 m round the edge";
}

TEST(Spans, OfFittedBendsPassOutsideOfTheEdge) {
  Place place(one(model::Box{.center = {0, 0, 1}, .size = {2, 2, 2}}));
  place.tie({0.75, 0, -0.07}), place.tie({1.07, 0, 0.15});
  for (const double radius : {0.02, 0.05, 0.1}) {
    const auto span = place.fitted(radius);
    ASSERT_TRUE(span) << radius;
    for (std::size_t i = 1; i + 1 < span->line.size(); ++i) {
      const Vec3 before = (span->line[i - 1] - span->line[i]).normalized(),
                 after = (span->line[i + 1] - span->line[i]).normalized();
      EXPECT_TRUE(is_bend_clear(place.scene, span->line[i], before, after, radius, place.rules.clear_m()));
    }
  }
}

TEST(Spans, OverADrumAreNeverShorterThanTheTautLine) {
  // The taut line round a disc (standards table 8b): ends at distance d from the axis, an angle apart.
  const double radius = 0.3, r = radius + 0.005;
  Place place(one(model::Cylinder{.from = {-2, 0, 0}, .to = {2, 0, 0}, .radius = radius}));
  for (const double angle : {1.2, 1.4, 1.6}) {
    place.ties.clear();
    const double d = radius + 0.03;
    place.tie({0, 0, -d}), place.tie({0, d * std::sin(angle), -d * std::cos(angle)});
    const auto span = place.fitted(0);
    ASSERT_TRUE(span) << angle;
    const double taut = 2 * std::sqrt(d * d - r * r) + r * (angle - 2 * std::acos(r / d));
    EXPECT_GE(span->length_m, taut);
    EXPECT_LE(span->length_m, taut * 1.03) << "facets and the lift";
    EXPECT_TRUE(span->edges.empty()) << "a round body has no edges";
  }
}

TEST(Spans, ADrumBendsWithItsOwnRadius) {
  Place place(one(model::Cylinder{.from = {-2, 0, 0}, .to = {2, 0, 0}, .radius = 0.3}));
  place.tie({0, 0, -0.32}), place.tie({0, 0.32 * std::sin(1.6), -0.32 * std::cos(1.6)});
  EXPECT_TRUE(place.fitted(0.2));
  EXPECT_FALSE(place.fitted(0.45)) << "a cable that needs more than the drum's radius";
}

TEST(SpansOnRoundParts, LeaveTheTieAlongTheSurfaceWithTheWholeOfTheirLengthForABend) {
  // On a drum the shortest way is a helix: developed, a straight line at an angle `beta` to the axis.
  std::size_t over = 0;
  for (const double radius : {0.3, 0.5, 1.0, 2.1})
    for (const double beta : {0.9, 1.1, 1.3, pi / 2}) {
      const double length = 0.52, around = length * std::sin(beta) / radius;
      Place place(one(model::Cylinder{.from = {-2, 0, 0}, .to = {2, 0, 0}, .radius = radius}));
      place.tie({0, 0, -radius});
      place.tie({length * std::cos(beta), radius * std::sin(around), -radius * std::cos(around)});
      const auto span = place.fitted(0.05);
      ASSERT_TRUE(span);
      if (span->is_straight()) continue;
      ++over;
      ASSERT_EQ(span->lies_on, model::PartId(0u)) << radius << ", " << beta;
      const double lifted = radius + place.rules.clear_m();
      const double helix = std::hypot(length * std::cos(beta), lifted * around);
      EXPECT_GE(span->length_m, helix - 1e-9);
      EXPECT_LE(span->length_m, helix * 1.002);
      const Vec3 tangent(length * std::cos(beta) / helix, lifted * around / helix, 0);
      EXPECT_NEAR(std::acos(span->leaves_a.dot(tangent)), 0, 0.02) << radius << ", " << beta;
      EXPECT_LE(span->room_a_m, helix + 1e-9);
      EXPECT_GE(span->room_a_m, helix * 0.99);
      EXPECT_EQ(span->room_a_m, span->room_b_m);
      const double curvature = std::pow(lifted * around / helix, 2) / lifted;
      EXPECT_NEAR(span->curvature_1_m, curvature, 0.07 * curvature) << radius << ", " << beta;
      for (std::size_t i = 1; i < span->line.size(); ++i)
        for (int k = 0; k <= 10; ++k) {
          const Vec3 p = span->line[i - 1] + (span->line[i] - span->line[i - 1]) * (k / 10.0);
          EXPECT_GE(std::hypot(p.y(), p.z()), radius + place.rules.radius_m);
        }
    }
  EXPECT_GE(over, 14u);
}

TEST(SpansOnRoundParts, FollowGreatCirclesOfBallsAndDevelopedConesLikewise) {
  Random random(3);
  std::size_t over = 0;
  for (const double radius : {0.3, 0.8, 2.0}) {
    Place place(one(model::Sphere{.center = {0, 0, 0}, .radius = radius}));
    for (int i = 0; i < 6; ++i) {
      const auto turn = random.rotation();
      const double angle = (0.35 + 0.2 * random.unit()) / radius;
      place.ties.clear();
      place.tie(turn * Vec3(0, 0, radius)),
          place.tie(turn * Vec3(radius * std::sin(angle), 0, radius * std::cos(angle)));
      const auto span = place.fitted(0.05);
      ASSERT_TRUE(span);
      if (span->is_straight()) continue;
      ++over;
      ASSERT_TRUE(span->lies_on);
      EXPECT_NEAR(std::acos(std::min(1.0, span->leaves_a.dot(turn * Vec3::UnitX()))), 0, 0.02) << radius;
      EXPECT_GE(span->length_m, (radius + place.rules.clear_m()) * angle - 1e-9);
      EXPECT_LE(span->length_m, (radius + place.rules.clear_m()) * angle * 1.004);
    }
  }
  EXPECT_GE(over, 12u);
  // A cone of 30 degrees unrolls to a sector: a chord of it is the shortest way.
  const double slant = 1, sine = 0.5, around = 1.0;
  Place place(one(model::Cone{.from = {0, 0, 0}, .to = {std::sqrt(3.0), 0, 0}, .radius_from = 0, .radius_to = 1}));
  const double x = slant * std::cos(pi / 6), r = slant * sine;
  place.tie({x, 0, -r}), place.tie({x, r * std::sin(around), -r * std::cos(around)});
  const auto span = place.fitted(0.05);
  ASSERT_TRUE(span && span->lies_on);
  const double chord = 2 * slant * std::sin(around * sine / 2);
  EXPECT_GE(span->length_m, chord);
  EXPECT_LE(span->length_m, chord * 1.03) << "lifted by the cable";
  // It leaves towards the apex by half of the angle that the sector turns.
  const double towards = around * sine / 2;
  const Vec3 tangent(-std::sin(towards) * std::cos(pi / 6), std::cos(towards), std::sin(towards) * sine);
  EXPECT_NEAR(std::acos(std::min(1.0, span->leaves_a.dot(tangent))), 0, 0.03);
}

TEST(Spans, AtAnInsideCornerAreRealisable) {
  // A block on a deck: where a wrap round both would cut the corner short, the straight line in the open is taken.
  YardBuilder yard;
  yard.part("deck", model::Box{.center = {0, 0, 0.5}, .size = {4, 4, 1}});
  yard.part("block", model::Box{.center = {0.5, 0, -0.25}, .size = {1, 1, 0.5}});
  Place place(std::move(yard));
  place.tie({-0.3, 0, -0.07}), place.tie({-0.07, 0, -0.4});
  const auto span = place.fitted(0.1);
  ASSERT_TRUE(span);
  EXPECT_TRUE(span->is_straight());
  EXPECT_NEAR(span->length_m, (place.ties[0].at - place.ties[1].at).norm(), 1e-9);
}

TEST(Spans, GoOverAPartThatStandsOnAnother) {
  YardBuilder yard;
  yard.part("deck", model::Box{.center = {0, 0, 0.5}, .size = {4, 4, 1}});
  yard.part("block", model::Box{.center = {0.5, 0, -0.1}, .size = {1, 1, 0.2}});
  Place place(std::move(yard));
  place.tie({-0.1, 0, -0.03}), place.tie({0.15, 0, -0.23});
  const auto span = place.fitted(0);
  ASSERT_TRUE(span);
  const Vec3 edge(0, 0, -0.2);
  EXPECT_GE(span->length_m, (place.ties[0].way - edge).norm() + (place.ties[1].way - edge).norm());
}

TEST(Spans, SayWhyTheyAreNot) {
  // Through a wall 1 m wide there is no way of 0.61 m; over open space there may be less than between the ties.
  YardBuilder yard;
  yard.part("wall", model::Box{.center = {0, 0, 0}, .size = {0.02, 4, 4}});
  yard.part("far", model::Box{.center = {5, 0, 0}, .size = {0.1, 0.1, 0.1}});
  Place place(std::move(yard));
  place.tie({-0.1, 0, 0}), place.tie({0.1, 0, 0});
  auto table = place.table();
  ASSERT_EQ(table.missing.size(), 1u);
  EXPECT_NE(table.missing[0].kind, NoSpanKind::OpenSpace);
  place.ties.clear();
  place.rules.free_span_m = 0.3;
  place.tie({3, 0, 0}), place.tie({3.5, 0, 0});
  table = place.table();
  ASSERT_EQ(table.missing.size(), 1u);
  EXPECT_EQ(table.missing[0].kind, NoSpanKind::OpenSpace);
  EXPECT_NEAR(table.missing[0].value_m, 0.5, 0.03);
  EXPECT_GE(table.missing[0].value_m, 0.5 - 1e-9);
}

TEST(Spans, AlongARailAreNotOpenSpace) {
  Place place(one(model::Box{.center = {0, 0, 0.5}, .size = {4, 4, 1}}));
  place.rules.free_span_m = 0.1;
  place.tie({0, 0, -0.07}), place.tie({0.6, 0, -0.07});
  EXPECT_EQ(place.table().spans.size(), 1u);
}

TEST(Spans, AreTheSameOnOneThreadAndTwo) {
  YardBuilder yard;
  yard.part("box", model::Box{.center = {0, 0, 0}, .size = {0.5, 0.4, 0.3}});
  yard.part("ball", model::Sphere{.center = {0.3, 0.3, 0.1}, .radius = 0.25});
  Place place(std::move(yard));
  Random random(7);
  for (int i = 0; i < 60; ++i) {
    Tie tie;
    tie.at = random.point(0.5);
    if (const auto way = find_clear_point(place.scene, tie.at, place.rules.clear_m())) {
      tie.way = *way;
      place.ties.push_back(tie);
    }
  }
  const auto on = [&](std::size_t threads) {
    const tbb::global_control limit(tbb::global_control::max_allowed_parallelism, threads);
    return place.table();
  };
  const auto first = on(1), second = on(2);
  ASSERT_EQ(first.spans.size(), second.spans.size());
  for (std::size_t i = 0; i < first.spans.size(); ++i) {
    ASSERT_EQ(first.spans[i].over.size(), second.spans[i].over.size());
    for (std::size_t k = 0; k < first.spans[i].over.size(); ++k)
      EXPECT_EQ(first.spans[i].over[k].at, second.spans[i].over[k].at);
  }
}

class SpansAmongRandomParts : public testing::TestWithParam<int> {};
INSTANTIATE_TEST_SUITE_P(Seeds, SpansAmongRandomParts, testing::Range(1, 13));

TEST_P(SpansAmongRandomParts, AreClearAndNeverShort) {
  // Every piece is held against the scene by samples of its own, and every length against the straight line.
  Random random(static_cast<std::uint64_t>(GetParam()));
  YardBuilder yard;
  for (int i = 0; i < 3; ++i) {
    model::Pose pose = model::Pose::Identity();
    pose.linear() = random.rotation().toRotationMatrix();
    pose.translation() = random.point(0.4);
    yard.part("box-" + std::to_string(i),
              model::Box{.size = Vec3(0.1, 0.1, 0.1) + 0.4 * Vec3(random.unit(), random.unit(), random.unit())}, pose);
    yard.part(
        "drum-" + std::to_string(i),
        model::Cylinder{.from = random.point(0.5), .to = random.point(0.5), .radius = 0.05 + 0.15 * random.unit()});
  }
  Place place(std::move(yard));
  while (place.ties.size() < 50) {
    Tie tie;
    tie.at = random.point(0.8);
    if (const auto way = find_clear_point(place.scene, tie.at, place.rules.clear_m())) {
      tie.way = *way;
      place.ties.push_back(tie);
    }
  }
  const auto table = place.table();
  std::size_t over = 0;
  for (const auto& span : table.spans)
    for (const double radius : {0.0, 0.03, 0.1}) {
      const auto fitted = fit_span(place.scene, place.rules, place.ties, span, radius);
      if (!fitted) continue;
      over += fitted->is_straight() ? 0 : 1;
      EXPECT_GE(fitted->length_m, (place.ties[span.a].way - place.ties[span.b].way).norm() - 1e-12);
      EXPECT_LE(fitted->length_m, place.rules.span_m + 1e-6);
      for (std::size_t i = 1; i < fitted->line.size(); ++i)
        for (int k = 0; k <= 40; ++k) {
          const Vec3 p = fitted->line[i - 1] + (fitted->line[i] - fitted->line[i - 1]) * (k / 40.0);
          EXPECT_GE(place.scene.distance(p, 1), place.rules.radius_m) << "seed " << GetParam();
        }
    }
  EXPECT_GT(over, 10u) << "some go over something";
}

class SpansOnRealMeshes : public testing::TestWithParam<const char*> {};
INSTANTIATE_TEST_SUITE_P(Files, SpansOnRealMeshes, testing::Values("ladder-with-rails.obj", "lattice-crane.obj"));

TEST_P(SpansOnRealMeshes, AreClearWhateverTheMeshIsLike) {
  // Meshes of the gazebo_models collection (tests/data/structures): hundreds of unjoined shells, degenerate faces, open
  // edges.
  YardBuilder yard;
  yard.part("mesh", model::MeshFile{.file = GetParam()});
  yard.structure.folder = HOLDFAST_SOURCE_DIR "/tests/data/structures";
  Place place(std::move(yard));
  const auto mesh = place.scene.part_mesh(model::PartId(0u));
  Random random(5);
  const auto center = mesh.vertices[random.index(mesh.vertices.size())];
  for (int i = 0; i < 3000 && place.ties.size() < 80; ++i) {
    const auto& corner = mesh.vertices[random.index(mesh.vertices.size())];
    if ((corner - center).norm() > 1) continue;
    Tie tie;
    tie.at = corner + random.point(0.08);
    if (const auto way = find_clear_point(place.scene, tie.at, place.rules.clear_m())) {
      tie.way = *way;
      place.ties.push_back(tie);
    }
  }
  ASSERT_GE(place.ties.size(), 20u);
  const auto table = place.table();
  EXPECT_GT(table.spans.size(), 0u);
  for (const auto& span : table.spans)
    if (const auto fitted = fit_span(place.scene, place.rules, place.ties, span, 0.02))
      for (std::size_t i = 1; i < fitted->line.size(); ++i)
        for (int k = 0; k <= 10; ++k) {
          const Vec3 p = fitted->line[i - 1] + (fitted->line[i] - fitted->line[i - 1]) * (k / 10.0);
          EXPECT_GE(place.scene.distance(p, 1), place.rules.radius_m);
        }
}

TEST(SideRadius, AddsToTheBendOfTheSurface) {
  EXPECT_DOUBLE_EQ(side_radius_m(0.2, 0), 0.2);
  EXPECT_NEAR(side_radius_m(0.3, 2), 0.3 / 0.8, 1e-12) << "0.6 of the bend is taken: 0.6^2 + 0.8^2 = 1";
  EXPECT_NEAR(whole_radius_m(0.3 / 0.8, 2), 0.3, 1e-12);
  EXPECT_TRUE(std::isinf(side_radius_m(0.5, 2)));
}

TEST(ClearPoint, LiftsAPointOnASurfaceOffIt) {
  Place place(one(model::Cylinder{.from = {-2, 0, 0}, .to = {2, 0, 0}, .radius = 1}));
  for (const double depth : {0.0, 0.05, -0.003}) {
    const double angle = 0.7;
    const Vec3 at = (1 - depth) * Vec3(0, std::sin(angle), -std::cos(angle));
    const auto lifted = find_clear_point(place.scene, at, 0.011);
    ASSERT_TRUE(lifted);
    EXPECT_GE(place.scene.distance(*lifted, 1), 0.011);
    EXPECT_LE((*lifted - at).norm(), depth + 0.011 + 0.002);
  }
  EXPECT_FALSE(find_clear_point(place.scene, {0, 0, 0.5}, 0.011)) << "half a metre deep";
  EXPECT_EQ(find_clear_point(place.scene, {0, 0, -1.07}, 0.011), Vec3(0, 0, -1.07)) << "clear as it is";
}

TEST(BendClear, SeesAnEdgeThatTheArcCuts) {
  // The bend at (0.05, 0, -0.05) off the edge of a box: its arc passes R (sqrt 2 - 1) inside of the corner.
  Place place(one(model::Box{.center = {-1, 0, 1}, .size = {2, 2, 2}}));
  const Vec3 corner(0.05, 0, -0.05), along(-1, 0, 0), down(0, 0, 1);
  const double room = std::sqrt(2.0) * 0.05 - 0.006;
  const double most = room / (std::sqrt(2.0) - 1);
  EXPECT_TRUE(is_bend_clear(place.scene, corner, along, down, most - 0.003, 0.006));
  EXPECT_FALSE(is_bend_clear(place.scene, corner, along, down, most + 0.003, 0.006));
}

}  // namespace
}  // namespace holdfast::cable
