// SPDX-License-Identifier: GPL-3.0-or-later
// Findings turn exactly at the kit's design values, on models just inside and just outside each.

#include "holdfast/check/check.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>

#include "mesh_scene.h"
#include "yard_builder.h"

namespace holdfast::check {
namespace {

using support::World;
using support::YardBuilder;

const model::Vec3 zenith = -model::Vec3::UnitZ();

struct Deck : YardBuilder {
  Deck() : on(part("deck", model::Box{.center = {0, 0, 0.5}, .size = {40, 40, 1}})) {}
  model::RailId add(const std::string& id, double x0, double y0, double x1, double y1, double stand = 0.07) {
    return rail(id, on, {{x0, y0, -stand}, {x1, y1, -stand}}, {zenith});
  }
  model::PartId on;
};

std::vector<Finding> findings_of(const World& world, FindingKind kind) {
  auto all = check_model(world.graph, world.kit, world.kit.suits.front()).findings;
  std::erase_if(all, [&](const Finding& f) { return f.kind != kind; });
  return all;
}

TEST(Check, CleanModelHasNoFindings) {
  Deck yard;
  yard.add("a", 0, 0, 3, 0), yard.add("b", 3.4, 0, 6, 0);
  yard.place("hatch", {0, 0, -0.07}, 0.3, model::PlaceKind::Hatch);
  yard.place("site", {6, 0, -0.07}, 0.3, model::PlaceKind::Worksite);
  const World world(yard.structure);
  const auto result = check_model(world.graph, world.kit, world.kit.suits.front());
  EXPECT_TRUE(result.findings.empty());
  EXPECT_EQ(result.summary.islands, 1u);
  EXPECT_EQ(result.summary.rails, 2u);
  EXPECT_NEAR(result.summary.rail_length_m, 5.6, 1e-9);
}

TEST(Check, RailsThatNoHatchIsReachedFrom) {
  for (const auto& [gap, found] : {std::pair{0.61, false}, std::pair{0.62, true}}) {
    SCOPED_TRACE(gap);
    Deck yard;
    yard.add("home", 0, 0, 2, 0);
    yard.add("away", 2 + gap, 0, 4, 0);
    yard.place("hatch", {0, 0, -0.07}, 0.3, model::PlaceKind::Hatch);
    const World world(yard.structure);
    const auto list = findings_of(world, FindingKind::UnreachableRail);
    ASSERT_EQ(list.size(), found ? 1u : 0u);
    if (!found) continue;
    EXPECT_EQ(list[0].subject, "away");
    EXPECT_EQ(list[0].other, "home");
    EXPECT_NEAR(list[0].value, gap, 1e-9);
    EXPECT_EQ(list[0].severity, Severity::Warning)
        << "the reach is a value from memory: never the sole ground of an error";
  }
}

TEST(Check, IslandsWithoutAHatchAreThoseButTheLargest) {
  Deck yard;
  yard.add("large", 0, 0, 5, 0), yard.add("small", 0, 3, 1, 3);
  const World world(yard.structure);
  const auto list = findings_of(world, FindingKind::Island);
  ASSERT_EQ(list.size(), 1u);
  EXPECT_EQ(list[0].subject, "small");
}

TEST(Check, ARailCutInTheMiddleNamesTheRuleAndNotItselfAsTheNearest) {
  // A roof over the middle of one long rail: hands could go on, the body cannot.
  Deck yard;
  yard.add("run", 0, 0, 12, 0);
  yard.part("roof", model::Box{.center = {6, 0, -1.3}, .size = {1, 40, 0.5}});
  yard.place("hatch", {0, 0, -0.07}, 0.3, model::PlaceKind::Hatch);
  const World world(yard.structure);
  const auto list = findings_of(world, FindingKind::UnreachableRail);
  ASSERT_EQ(list.size(), 1u);
  const auto& f = list[0];
  EXPECT_EQ(f.subject, "run");
  EXPECT_EQ(f.other, "");
  ASSERT_EQ(f.causes.size(), 1u);
  EXPECT_EQ(f.causes[0].kind, route::CauseKind::BodyTooTight);
  // Deck at 0, roof from -1.05 up: a body between them has 1.05 m at most, wherever it leans.
  EXPECT_LE(f.value, 1.05);
  EXPECT_GT(f.value, 0.8);
  EXPECT_EQ(f.limit, world.kit.suits.front().corridor_diameter_m);
  EXPECT_EQ(yard.structure.parts[f.causes[0].part->index()].id, "roof");
  ASSERT_TRUE(f.along_m);
  EXPECT_GT(f.along_m->first, 6);
  EXPECT_EQ(f.along_m->second, 12);
  EXPECT_EQ(f.partial, 1u);
}

TEST(Check, OneCutIsOneFindingHoweverManyRailsLieBehindIt) {
  // Twelve rails on the far side of a roof; where the roof's edge passes over them each third one is an island of its
  // own for want of a turn: their outward directions point to the other side.
  Deck yard;
  yard.add("home", 0, 0, 4, 0);
  for (int i = 0; i < 12; ++i) {
    const auto id = yard.add("far-" + std::to_string(i), 4.3, 0.4 * i, 9, 0.4 * i);
    if (i % 3 == 2) yard.structure.rails[id.index()].outward = {{model::Vec3(0, 0.8, 0.6).normalized()}};
  }
  yard.part("roof", model::Box{.center = {4.2, 0, -1.3}, .size = {0.6, 40, 0.5}});
  yard.place("hatch", {0, 0, -0.07}, 0.3, model::PlaceKind::Hatch);
  const World world(yard.structure);
  const auto list = findings_of(world, FindingKind::UnreachableRail);
  ASSERT_EQ(list.size(), 1u);
  EXPECT_GE(list[0].count, 8u);
  EXPECT_EQ(list[0].causes.front().kind, route::CauseKind::BodyTooTight);
}

TEST(Check, EachRuleThatClosesACutIsNamed) {
  for (const auto kind : {route::CauseKind::TurnLimit, route::CauseKind::HandLineBlocked}) {
    YardBuilder yard;
    const auto on = yard.nowhere();
    const bool is_turn = kind == route::CauseKind::TurnLimit;
    yard.rail("home", on, {{-2, 0, 0}, {0, 0, 0}}, {zenith});
    yard.rail("away", on, {{0.4, 0, 0}, {2.4, 0, 0}}, {is_turn ? model::Vec3(0.1, 0, 1) : zenith});
    if (!is_turn) yard.part("wire", model::Box{.center = {0.2, 0, -0.05}, .size = {0.01, 0.4, 0.02}});
    yard.place("hatch", {-2, 0, 0}, 0.3, model::PlaceKind::Hatch);
    const World world(yard.structure);
    const auto list = findings_of(world, FindingKind::UnreachableRail);
    ASSERT_EQ(list.size(), 1u);
    // What stands in the lifted hand's line stands in the corridor too, which begins below it.
    ASSERT_EQ(list[0].causes.size(), is_turn ? 1u : 2u);
    EXPECT_EQ(list[0].causes[0].kind, kind);
    EXPECT_EQ(list[0].causes[0].opens_alone, is_turn);
    EXPECT_EQ(list[0].subject, "away");
    EXPECT_EQ(list[0].other, "home");
    if (is_turn) EXPECT_NEAR(list[0].limit, 90, 1e-9);
  }
}

TEST(Check, GapsAboveTheSpacingOfHandholds) {
  for (const auto& [gap, found, limit] : {std::tuple{0.61, false, 0.0}, std::tuple{0.62, true, 0.61},
                                          std::tuple{0.92, true, 0.61}, std::tuple{0.93, true, 0.92}}) {
    SCOPED_TRACE(gap);
    Deck yard;
    yard.add("a", 0, 0, 2, 0), yard.add("b", 2 + gap, 0, 4, 0);
    const World world(yard.structure);
    const auto list = findings_of(world, FindingKind::Gap);
    ASSERT_EQ(list.size(), found ? 1u : 0u);
    if (found) EXPECT_NEAR(list[0].limit, limit, 1e-12);
    if (found) EXPECT_EQ(list[0].severity, Severity::Warning);
  }
}

TEST(Check, RailTooCloseUnderTheHand) {
  for (const auto& [stand, found] : {std::pair{0.057, false}, std::pair{0.056, true}}) {
    SCOPED_TRACE(stand);
    Deck yard;
    yard.add("a", 0, 0, 2, 0, stand);
    const auto list = findings_of(World(yard.structure), FindingKind::RailTooClose);
    ASSERT_EQ(list.size(), found ? 1u : 0u);
    if (found) EXPECT_NEAR(list[0].value, stand, 1e-9);
    if (found) EXPECT_GT(list[0].count, 10u) << "all grips of the rail in one finding";
  }
}

TEST(Check, RailInsideASolidIsAnError) {
  Deck yard;
  yard.add("sunk", 0, 0, 2, 0, -0.1);
  const auto list = findings_of(World(yard.structure), FindingKind::RailInSolid);
  ASSERT_EQ(list.size(), 1u);
  EXPECT_EQ(list[0].severity, Severity::Error);
  EXPECT_EQ(list[0].other, "deck");
}

TEST(Check, RailsThatRunIntoSolidsAreThoseOfClosedForms) {
  // Balls, boxes and plates thinner than any step of sampling, against rails anywhere: the slab test and the distance
  // from a point to a segment.
  constexpr unsigned seed = 20261126;
  support::Random random(seed);
  std::size_t inside = 0;
  for (int round = 0; round < 120; ++round) {
    SCOPED_TRACE(testing::Message() << "seed " << seed << " round " << round);
    YardBuilder yard;
    std::vector<model::Sphere> balls;
    std::vector<model::Box> boxes;
    for (int i = 0; i < 3; ++i) {
      balls.push_back({random.point(3), 0.1 + random.unit()});
      yard.part("ball" + std::to_string(i), balls.back());
      boxes.push_back({random.point(3), {0.1 + 2 * random.unit(), 0.1 + 2 * random.unit(), i > 0 ? 0.0005 : 1.0}});
      yard.part("box" + std::to_string(i), boxes.back());
    }
    const auto on = yard.nowhere();
    std::vector<std::string> expected;
    for (int r = 0; r < 12; ++r) {
      const model::Vec3 a = random.point(3), b = a + random.point(1), ab = b - a;
      const std::string id = "r" + std::to_string(r);
      yard.rail(id, on, {a, b}, {zenith});
      bool is_inside = false;
      for (const auto& ball : balls) {
        const double t = std::clamp((ball.center - a).dot(ab) / ab.squaredNorm(), 0.0, 1.0);
        is_inside = is_inside || (a + t * ab - ball.center).norm() <= ball.radius;
      }
      for (const auto& box : boxes) {
        double enters = 0, leaves = 1;
        for (int k = 0; k < 3; ++k) {
          const double low = (box.center[k] - box.size[k] / 2 - a[k]) / ab[k];
          const double high = (box.center[k] + box.size[k] / 2 - a[k]) / ab[k];
          enters = std::max(enters, std::min(low, high)), leaves = std::min(leaves, std::max(low, high));
        }
        is_inside = is_inside || enters <= leaves;
      }
      if (is_inside) expected.push_back(id);
    }
    const World world(yard.structure);
    std::vector<std::string> found, aside;
    for (const auto& finding : findings_of(world, FindingKind::RailInSolid)) found.push_back(finding.subject);
    for (const auto& rail : find_buried_rails(world.scene)) {
      aside.push_back(yard.structure.rails[rail.rail.index()].id);
      EXPECT_NEAR(world.scene.distance(rail.at, 1), 0, 1e-9) << aside.back();
    }
    std::sort(found.begin(), found.end());
    std::sort(aside.begin(), aside.end());
    std::sort(expected.begin(), expected.end());
    EXPECT_EQ(found, expected);
    EXPECT_EQ(aside, expected) << "check and all other questions agree";
    inside += expected.size();
  }
  EXPECT_GT(inside, 60u);
}

TEST(Check, ShortRails) {
  for (const auto& [length, found] : {std::pair{0.152, false}, std::pair{0.151, true}}) {
    SCOPED_TRACE(length);
    Deck yard;
    yard.add("a", 0, 0, length, 0);
    EXPECT_EQ(findings_of(World(yard.structure), FindingKind::ShortRail).size(), found ? 1u : 0u);
  }
}

TEST(Check, LoadLimits) {
  for (const auto& [limit, found] : {std::pair{830.0, false}, std::pair{829.0, true}}) {
    SCOPED_TRACE(limit);
    Deck yard;
    yard.add("a", 0, 0, 1, 0);
    yard.structure.rails[0].load_limit_n = limit;
    EXPECT_EQ(findings_of(World(yard.structure), FindingKind::RailLoad).size(), found ? 1u : 0u);
  }
}

TEST(Check, NarrowCorridors) {
  // A lid over the rail: with no lean the body axis at 0.62 m needs 0.545 m more.
  for (const auto& [height, found] : {std::pair{1.165, false}, std::pair{1.164, true}}) {
    SCOPED_TRACE(height);
    Deck yard;
    yard.add("a", 0, 0, 1, 0);
    yard.part("lid", model::Box{.center = {0, 0, -height - 0.5}, .size = {9, 9, 1}});
    const auto list = findings_of(World(yard.structure, {.lean_rad = 0}), FindingKind::NarrowCorridor);
    ASSERT_EQ(list.size(), found ? 1u : 0u);
    if (found) EXPECT_EQ(list[0].other, "lid");
    if (found) EXPECT_NEAR(list[0].value, 2 * (height - 0.62), 1e-9);
  }
}

TEST(Check, PlaceWithoutAGripIsAnError) {
  Deck yard;
  yard.add("a", 0, 0, 1, 0);
  yard.place("p", {2, 0, -0.07}, 0.9);
  yard.place("q", {2, 0, -0.07}, 1.0);
  const auto list = findings_of(World(yard.structure), FindingKind::PlaceWithoutGrip);
  ASSERT_EQ(list.size(), 1u);
  EXPECT_EQ(list[0].subject, "p");
  EXPECT_EQ(list[0].severity, Severity::Error);
  EXPECT_NEAR(list[0].value, 1, 1e-9);
}

TEST(Check, ZoneThatSwallowsAPlace) {
  Deck yard;
  yard.add("a", 0, 0, 3, 0);
  yard.place("p", {3, 0, -0.07}, 0.3);
  yard.place("half", {2, 0, -0.07}, 0.9);
  yard.zone("z", model::Sphere{.center = {3, 0, -0.6}, .radius = 0.5});
  const auto list = findings_of(World(yard.structure), FindingKind::ZoneSwallowsPlace);
  ASSERT_EQ(list.size(), 1u);
  EXPECT_EQ(list[0].subject, "p");
  EXPECT_EQ(list[0].other, "z");
}

TEST(Check, Worksites) {
  for (const auto& [distance, found] : {std::pair{0.61, false}, std::pair{0.62, true}}) {
    SCOPED_TRACE(distance);
    Deck yard;
    yard.add("a", 0, 0, 1, 0);
    yard.place("site", {1 + distance, 0, -0.07}, 0.8, model::PlaceKind::Worksite);
    EXPECT_EQ(findings_of(World(yard.structure), FindingKind::WorksiteHandholds).size(), found ? 1u : 0u);
  }
  for (const auto& [height, found] : {std::pair{1.231, false}, std::pair{1.229, true}}) {
    SCOPED_TRACE(height);
    Deck yard;
    yard.add("a", 0, 0, 1, 0);
    yard.part("lid", model::Box{.center = {0, 0, -height - 0.5}, .size = {9, 9, 1}});
    yard.place("site", {1, 0, -0.07}, 0.3, model::PlaceKind::Worksite);
    EXPECT_EQ(findings_of(World(yard.structure), FindingKind::WorksiteRoom).size(), found ? 1u : 0u);
  }
}

TEST(Check, ErrorsComeFirst) {
  Deck yard;
  yard.add("a", 0, 0, 0.1, 0);
  yard.place("p", {5, 0, 0}, 0.1);
  const World world(yard.structure);
  const auto result = check_model(world.graph, world.kit, world.kit.suits.front());
  ASSERT_GE(result.findings.size(), 2u);
  EXPECT_TRUE(std::is_sorted(result.findings.begin(), result.findings.end(),
                             [](const Finding& x, const Finding& y) { return x.severity < y.severity; }));
  EXPECT_EQ(result.findings[0].severity, Severity::Error);
}

}  // namespace
}  // namespace holdfast::check
