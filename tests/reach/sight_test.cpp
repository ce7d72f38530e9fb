// SPDX-License-Identifier: GPL-3.0-or-later
// What is in sight: closed forms, CGAL's tree, and every grip looked at.

#include "holdfast/reach/sight.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <cmath>
#include <numbers>
#include <random>

#include "mesh_scene.h"
#include "second_opinion.h"
#include "yard_builder.h"

namespace holdfast::reach {
namespace {

using support::World;
using support::YardBuilder;

constexpr double pi = std::numbers::pi;
constexpr double degree = pi / 180;

model::Patch disc(double radius, Vec3 center = Vec3::Zero(), Vec3 normal = Vec3::UnitZ()) {
  model::Patch patch;
  patch.id = patch.name = "disc";
  patch.area = model::PatchDisc{center, normal.normalized(), radius, false};
  return patch;
}
model::Patch face(model::PartId part, std::string name) {
  model::Patch patch;
  patch.id = patch.name = "face";
  patch.part = part;
  if (name.empty())
    patch.area = model::PatchWhole{};
  else
    patch.area = model::PatchFace{std::move(name)};
  return patch;
}
Eye down_from(double z, Vec3 beside = Vec3::Zero()) {
  return {beside + z * Vec3::UnitZ(), -Vec3::UnitZ(), pi, std::nullopt};
}
struct Built {
  explicit Built(YardBuilder yard)
      : structure(std::move(yard.structure)),
        scene(geometry::build_scene(structure, structure.default_configuration())) {}
  const model::Structure structure;
  const geometry::Scene scene;
};

/// Both bounds hold the truth, and are as near to each other as they promise.
void expect_bounds(const Seen& seen, double truth) {
  EXPECT_LE(seen.low, truth + 1e-9);
  EXPECT_GE(seen.high, truth - 1e-9);
  EXPECT_LE(seen.high - seen.low, 0.02);
}

// Solid angle of a disc on its axis: 2 pi (1 - z / sqrt(z^2 + r^2)) (elementary: a spherical cap). Of a rectangle a x b
// over its middle: 4 atan(a b / (2 z sqrt(4 z^2 + a^2 + b^2))) (J. R. Howell, A Catalog of Radiation Heat Transfer
// Configuration Factors, and R. J. Mathar, Solid angle of a rectangular plate, 2015; from memory, verify). Both are
// checked here by a sum over a fine grid, too.
TEST(SolidAngle, OfADiscAndARectangle) {
  YardBuilder yard;
  const auto plate = yard.part("plate", model::Box{.center = {0, 0, -50}, .size = {1.2, 0.7, 0.1}});
  const Built built(std::move(yard));
  for (const double z : {0.5, 2.0}) {
    const Seen of_disc =
        look(built.scene, down_from(z), PatchCells(built.scene, disc(0.8), 1024), {.off_normal_rad = pi / 2});
    EXPECT_NEAR(of_disc.solid_angle_sr, 2 * pi * (1 - z / std::sqrt(z * z + 0.64)), 0.003 * of_disc.solid_angle_sr);
    EXPECT_EQ(of_disc.low, 1);
    const Seen of_plate = look(built.scene, down_from(-49.95 + z), PatchCells(built.scene, face(plate, "+z"), 1024),
                               {.off_normal_rad = pi / 2});
    const double a = 1.2, b = 0.7;
    EXPECT_NEAR(of_plate.solid_angle_sr, 4 * std::atan(a * b / (2 * z * std::sqrt(4 * z * z + a * a + b * b))),
                0.003 * of_plate.solid_angle_sr);
    EXPECT_EQ(of_plate.low, 1);
    // The integral itself, cos / distance^2 over a fine grid: neither formula stands on its source alone.
    double disc_sum = 0, plate_sum = 0;
    constexpr int n = 400;
    for (int i = 0; i < n; ++i)
      for (int j = 0; j < n; ++j) {
        const double x = (i + 0.5) / n - 0.5, y = (j + 0.5) / n - 0.5;
        const double px = a * x, py = b * y, dx = 1.6 * x, dy = 1.6 * y;
        plate_sum += a * b / n / n * z / std::pow(px * px + py * py + z * z, 1.5);
        if (dx * dx + dy * dy <= 0.64) disc_sum += 1.6 * 1.6 / n / n * z / std::pow(dx * dx + dy * dy + z * z, 1.5);
      }
    EXPECT_NEAR(plate_sum, 4 * std::atan(a * b / (2 * z * std::sqrt(4 * z * z + a * a + b * b))), 1e-4);
    EXPECT_NEAR(disc_sum, 2 * pi * (1 - z / std::sqrt(z * z + 0.64)), 0.004);
  }
}

// A half plane's edge over the disc: the shadow's edge is a chord (similar triangles), and the share beyond it a
// circular segment, acos(x) - x sqrt(1 - x^2) of pi (elementary; Bronshtein and Semendyayev, Handbook of Mathematics,
// circle).
TEST(SeenFraction, OfADiscBehindAHalfPlane) {
  for (const double edge : {-0.2, 0.0, 0.13, 0.3}) {
    YardBuilder yard;
    yard.part("sheet", model::Box{.center = {edge + 20, 0, 0.5 + 5e-7}, .size = {40, 60, 1e-6}});
    const Built built(std::move(yard));
    const double z = 2, r = 0.8, chord = edge * z / (z - 0.5);
    const double hidden = (std::acos(chord / r) - chord / r * std::sqrt(1 - chord * chord / r / r)) / pi;
    expect_bounds(look(built.scene, down_from(z), PatchCells(built.scene, disc(r), 1024), {}), 1 - hidden);
  }
}

// A ball on the line to the middle: its tangent cone has the half angle asin(a / d), so the shadow is a disc of radius
// z tan(asin(a / d)) (elementary).
TEST(SeenFraction, OfADiscBehindABall) {
  for (const double a : {0.02, 0.1, 0.2}) {
    YardBuilder yard;
    yard.part("ball", model::Sphere{.center = {0, 0, 1}, .radius = a});
    const Built built(std::move(yard));
    const double z = 3, r = 0.8, d = 2;
    const double shadow = z * std::tan(std::asin(a / d)) / r;
    expect_bounds(look(built.scene, down_from(z), PatchCells(built.scene, disc(r), 1024), {}), 1 - shadow * shadow);
  }
}

// A ball from the distance D: a cap, to where the line of sight is 70 deg off the normal: asin law in the triangle of
// middle, point and eye.
TEST(SeenFraction, OfAWholeBallIsACap) {
  YardBuilder yard;
  const auto ball = yard.part("ball", model::Sphere{.radius = 0.7});
  const Built built(std::move(yard));
  for (const double distance : {1.5, 4.0}) {
    const double limit = 70 * degree, polar = limit - std::asin(0.7 * std::sin(limit) / distance);
    expect_bounds(look(built.scene, down_from(distance), PatchCells(built.scene, face(ball, ""), 1024), {}),
                  (1 - std::cos(polar)) / 2);
  }
}

TEST(Cells, HaveTheAreaOfTheirSurface) {
  YardBuilder yard;
  const auto box = yard.part("box", model::Box{.size = {1, 2, 3}});
  const auto drum = yard.part("drum", model::Cylinder{.from = {20, 0, 0}, .to = {20, 0, 3}, .radius = 0.5});
  const auto cone =
      yard.part("cone", model::Cone{.from = {40, 0, 0}, .to = {40, 2, 0}, .radius_from = 1, .radius_to = 0.2});
  const auto ball = yard.part("ball", model::Sphere{.center = {60, 0, 0}, .radius = 0.5});
  const auto plate = yard.part("plate", model::Panel{.size = {2, 1}, .thickness = 0.1});
  yard.structure.parts[plate.index()].at.translation() = Vec3(80, 0, 0);
  const auto dish = yard.part("dish", model::Dish{.radius = 1.4, .depth = 0.35});
  yard.structure.parts[dish.index()].at.translation() = Vec3(100, 0, 0);
  const Built built(std::move(yard));
  const double slant = std::hypot(2, 0.8), a = 2 * 0.35 / (1.4 * 1.4);
  const std::vector<std::tuple<model::PartId, std::string, double>> surfaces = {
      {box, "+x", 6},
      {box, "-z", 2},
      {box, "", 22},
      {drum, "side", 2 * pi * 0.5 * 3},
      {drum, "to", pi * 0.25},
      {cone, "side", pi * 1.2 * slant},
      {cone, "", pi * (1.2 * slant + 1 + 0.04)},
      {ball, "", 4 * pi * 0.25},
      {plate, "front", 2},
      {plate, "", 2 * 2 + 2 * 0.1 * 3},
      {dish, "inside", 2 * pi / (3 * a * a) * (std::pow(1 + a * a * 1.96, 1.5) - 1)}};
  for (const auto& [part, name, area] : surfaces) {
    SCOPED_TRACE(built.structure.parts[part.index()].id + " " + name);
    const PatchCells cells(built.scene, face(part, name), 300);
    EXPECT_NEAR(cells.area_m2(), area, 1e-9);
    EXPECT_EQ(cells.covered_fraction(), 0);
    for (const auto& cell : cells.cells()) {
      EXPECT_NEAR(built.scene.distance_to_part(part, cell.at, 1), 0, 2e-3) << "on the part";
      EXPECT_GT(built.scene.distance(cell.at + 0.01 * cell.normal, 1), 0.007) << "its normal points outward";
      double pieces = 0;
      for (const auto& piece : cells.cut(cell)) pieces += piece.area_m2;
      EXPECT_NEAR(pieces, cell.area_m2, 1e-12);
    }
    // Every cell has the area that it says: of the sheet's small parallelogram there, by how far its quarters lie
    // apart.
    for (std::size_t c = 0; c < cells.cells().size(); c += 37) {
      Cell small = cells.cells()[c];
      for (int k = 0; k < 6; ++k) small = cells.cut(small)[k % 2 == 0 ? 3 : 0];  // inside: a pole has no parallelogram
      const auto quarters = cells.cut(small);
      const double measured = 4 * (quarters[1].at - quarters[0].at).cross(quarters[2].at - quarters[0].at).norm();
      EXPECT_NEAR(measured, small.area_m2, 0.1 * small.area_m2);
    }
  }
}

TEST(Cells, LeaveOutWhatOtherPartsCover) {
  YardBuilder yard;
  const auto wall = yard.part("wall", model::Box{.center = {0, 0, -0.5}, .size = {4, 4, 1}});
  yard.part("crate", model::Box{.center = {0, 0, 0.5}, .size = {2, 4, 1}});
  const auto lid = yard.part("lid", model::Box{.center = {0, 0, 1.05}, .size = {2, 4, 0.1}});
  const Built built(std::move(yard));
  const PatchCells half(built.scene, face(wall, "+z"), 1024);
  EXPECT_NEAR(half.covered_fraction(), 0.5, 0.04);
  const PatchCells all(built.scene, face(lid, "-z"), 256);
  EXPECT_EQ(all.area_m2(), 0);
}

TEST(Look, KeepsToTheConeAndTheRangeAndTheNormal) {
  YardBuilder yard;
  yard.nowhere();
  const Built built(std::move(yard));
  const PatchCells cells(built.scene, disc(0.5), 1024);
  Eye eye = down_from(2);
  eye.half_angle_rad = std::atan(0.25 / 2);  // a circle of half the radius
  const Seen narrow = look(built.scene, eye, cells, {});
  expect_bounds(narrow, 0.25);
  EXPECT_FALSE(narrow.is_all_in_field);
  eye.half_angle_rad = std::atan(0.5 / 2);
  EXPECT_EQ(look(built.scene, eye, cells, {}).low, 1) << "the cone is inclusive";
  eye.range_m = std::hypot(2, 0.25);
  expect_bounds(look(built.scene, eye, cells, {}), 0.25);
  EXPECT_EQ(look(built.scene, down_from(-2), cells, {}).high, 0) << "one-sided";
  model::Patch both = disc(0.5);
  std::get<model::PatchDisc>(both.area).both_sides = true;
  const Eye below{Vec3(0, 0, -2), Vec3::UnitZ(), pi, std::nullopt};
  EXPECT_EQ(look(built.scene, below, PatchCells(built.scene, both, 1024), {}).low, 1);
  // 71 deg off the normal from afar: foreshortened too much.
  const double far = 100;
  for (const double off : {69.0, 71.0}) {
    const Eye slant{far * Vec3(std::sin(off * degree), 0, std::cos(off * degree)), Vec3(-1, 0, 0), pi, std::nullopt};
    const Seen seen = look(built.scene, slant, cells, {});
    EXPECT_EQ(seen.low, off < 70 ? 1 : 0);
    EXPECT_NEAR(seen.off_normal_rad, off * degree, 1e-3);
  }
}

// Occluders at random: verdicts of single samples against CGAL's tree on the same triangles.
TEST(Look, AgreesWithCgalRayByRay) {
  support::Random random(5);
  const auto ours = support::scene_of_mesh(support::random_mesh(random, 400));
  const auto mesh = ours->scene.part_mesh(model::PartId(0));
  const support::CgalTree cgal(mesh);
  int blocked = 0, free = 0;
  for (int i = 0; i < 3000; ++i) {
    const Vec3 a = random.point(3), b = random.point(3);
    const bool theirs = cgal.is_segment_blocked(a, b);
    EXPECT_EQ(is_in_sight(ours->scene, a, b), !theirs) << "seed 5, ray " << i;
    ++(theirs ? blocked : free);
  }
  EXPECT_GT(blocked, 100);
  EXPECT_GT(free, 100);
}

struct Yard : YardBuilder {
  Yard() {
    deck = part("deck", model::Box{.center = {0, 0, -0.5}, .size = {12, 6, 1}});
    part("wall", model::Box{.center = {0, 0, 1.5}, .size = {0.2, 6, 3}});
    for (int k = 0; k < 6; ++k) {
      const double x = -5 + 2 * k;
      rail("rail-" + std::to_string(k), deck, {{x, -2, 0.07}, {x, 2, 0.07}}, {{0, 0, 1}});
    }
    structure.patches.push_back(disc(0.4, {2.5, 0, 2}, {0.3, 0, -1}));
  }
  void view(std::string id, Vec3 at, Vec3 direction, model::ViewKind kind = model::ViewKind::Window) {
    model::View v;
    v.id = v.name = std::move(id);
    v.kind = kind;
    v.at = at, v.direction = direction.normalized(), v.half_angle_rad = 60 * degree;
    structure.views.push_back(v);
  }
  model::PartId deck;
};

TEST(FindSight, TellsWhatEachViewSeesAndWhatNoneDoes) {
  Yard yard;
  yard.view("behind", {-4, 0, 0}, {1, 0, 1});
  yard.view("below", {2.5, 0, 0}, {0, 0, 1});
  yard.structure.patches.push_back(disc(0.3, {-3, 0, 2}, {0, 0, 1}));
  yard.structure.patches.back().id = "away";
  const World world(yard.structure);
  const auto answer = find_sight(world.graph, {.kit = world.kit, .suit = world.kit.suits.front()}, {});
  ASSERT_EQ(answer.patches.size(), 2U);
  EXPECT_EQ(answer.patches[0].views[0].verdict, SightVerdict::NotSeen) << "the wall is in the way";
  EXPECT_EQ(answer.patches[0].views[0].seen.high, 0);
  EXPECT_EQ(answer.patches[0].views[1].verdict, SightVerdict::Seen);
  EXPECT_EQ(answer.patches[0].any.verdict, SightVerdict::Seen);
  EXPECT_EQ(answer.patches[1].any.verdict, SightVerdict::NotSeen) << "its face is turned away";
  EXPECT_THAT(windows_that_see(world.scene, {2.5, 0, 1}), testing::ElementsAre(model::ViewId(1)));
}

TEST(FindSight, RefusesAViewInStructureAndUnknownNames) {
  Yard yard;
  yard.view("buried", {0, 0, -0.5}, {0, 0, 1});
  const World world(yard.structure);
  const route::Profile profile{.kit = world.kit, .suit = world.kit.suits.front()};
  const auto code_of = [&](SightRequest request) -> std::string {
    try {
      (void)find_sight(world.graph, profile, request);
    } catch (const model::InputError& error) {
      return error.diagnostics().front().code;
    }
    return "";
  };
  EXPECT_EQ(code_of({}), "in-solid");
  EXPECT_EQ(code_of({.patches = {"dics"}}), "unknown-patch");
  EXPECT_EQ(code_of({.views = {"burried"}}), "unknown-view");
}

// The ranking against looking from every grip with all samples.
TEST(RankGrips, ListsTheBestOfAllGrips) {
  for (const auto held : {model::HeldAt::Helmet, model::HeldAt::Hand}) {
    Yard yard;
    yard.part("post", model::Cylinder{.from = {2.2, 0.3, 0}, .to = {2.2, 0.3, 1.5}, .radius = 0.1});
    const World world(yard.structure);
    const route::Profile profile{.kit = world.kit, .suit = world.kit.suits.front()};
    model::HeldCamera camera = model::default_camera();
    camera.held = held;
    const SightRequest request{.from_grips = true, .camera = &camera, .most_rails = 3, .limits = {}};
    const auto ranking = rank_grips(world.graph, profile, model::PatchId(0), request, {});
    ASSERT_FALSE(ranking.best.empty());
    const PatchCells cells(world.scene, world.structure.patches[0], 1024);
    double best = 0;
    for (std::size_t g = 0; g < world.graph.grips().size(); ++g) {
      const Vec3 eye = world.graph.body_point(graph::GripId(g));
      const Seen seen =
          look(world.scene, {eye, (cells.middle() - eye).normalized(), camera.half_angle_rad, 10.0}, cells, {});
      best = std::max(best, seen.low);
    }
    EXPECT_GE(std::floor(ranking.best.front().seen.low * 20 + 1e-9), std::floor(best * 20 + 1e-9));
    if (held == model::HeldAt::Helmet) EXPECT_LE(ranking.best.front().seen.low, best + 1e-12);
    for (std::size_t i = 1; i < ranking.best.size(); ++i) {
      EXPECT_GE(std::floor(ranking.best[i - 1].seen.low * 20 + 1e-9), std::floor(ranking.best[i].seen.low * 20 + 1e-9));
      EXPECT_NE(ranking.best[i - 1].rail, ranking.best[i].rail);
    }
    for (const auto& sight : ranking.best)
      EXPECT_GT(world.structure.rails[sight.rail.index()].points[0].x(), 0) << "not through the wall";
  }
}

/// The key of the ranking, from a look with all samples: fraction in steps of 0.05, whole degrees, tenths of a metre.
std::tuple<long, long, long> rank_of(const Seen& seen) {
  return {-std::lround(std::floor(seen.low * 20 + 1e-9)), std::lround(std::floor(seen.off_normal_rad / degree)),
          std::lround(std::floor(seen.distance_m * 10))};
}

// Every grip looked at closely, the best of each rail, in order: the list is its beginning.
TEST(RankGrips, IsTheBeginningOfTheListOfAll) {
  support::Random random(61);
  for (int round = 0; round < 2; ++round) {
    SCOPED_TRACE("seed 61, round " + std::to_string(round));
    Yard yard;
    for (int b = 0; b < 3; ++b) {
      const Vec3 at(2 + 2 * random.unit(), 3 * (random.unit() - 0.5), 0.4 + random.unit());
      yard.part("block-" + std::to_string(b), model::Box{.center = at, .size = {0.3, 0.4, 0.3}});
    }
    const World world(yard.structure);
    const route::Profile profile{.kit = world.kit, .suit = world.kit.suits.front()};
    const model::HeldCamera camera = model::default_camera();
    const auto ranking = rank_grips(world.graph, profile, model::PatchId(0),
                                    {.from_grips = true, .camera = &camera, .most_rails = 4, .limits = {}}, {});
    const PatchCells cells(world.scene, world.structure.patches[0], 1024);
    std::vector<std::optional<std::tuple<long, long, long>>> best(world.structure.rails.size());
    const double needed = world.graph.body().corridor_radius_m;
    for (std::size_t g = 0; g < world.graph.grips().size(); ++g) {
      if (world.graph.grips()[g].clearance_lower_m < needed - 1e-6) continue;
      const Vec3 eye = world.graph.body_point(graph::GripId(g));
      const Seen seen =
          look(world.scene, {eye, (cells.middle() - eye).normalized(), camera.half_angle_rad, camera.range_m.value},
               cells, {});
      auto& of_rail = best[world.graph.grips()[g].rail.index()];
      if (seen.low > 0 && (!of_rail || rank_of(seen) < *of_rail)) of_rail = rank_of(seen);
    }
    std::vector<std::tuple<long, long, long>> expected;
    for (const auto& each : best)
      if (each) expected.push_back(*each);
    std::sort(expected.begin(), expected.end());
    expected.resize(std::min<std::size_t>(expected.size(), 4));
    std::vector<std::tuple<long, long, long>> found;
    for (const auto& each : ranking.best) found.push_back(rank_of(each.seen));
    // The aim is at the middle of 100 samples there and of 1024 here: angles may differ by a hair at a whole degree.
    ASSERT_EQ(found.size(), expected.size());
    for (std::size_t i = 0; i < found.size(); ++i) {
      EXPECT_EQ(std::get<0>(found[i]), std::get<0>(expected[i]));
      EXPECT_NEAR(std::get<1>(found[i]), std::get<1>(expected[i]), 1);
    }
    EXPECT_EQ(ranking.most_of_others, 0) << "none is left in doubt";
    EXPECT_GE(ranking.looked_at, ranking.best.size());
  }
}

// Of a closed body angles are not known before a close look: none is left out in silence.
TEST(RankGrips, TellsWhatItDidNotLookAt) {
  YardBuilder yard;
  const auto ball = yard.part("ball", model::Sphere{.center = {0, 0, 20}, .radius = 1});
  const auto deck = yard.part("deck", model::Box{.center = {0, 0, -0.5}, .size = {80, 20, 1}});
  for (int k = 0; k < 3; ++k)
    yard.rail("rail-" + std::to_string(k), deck, {{-1, 2.0 * k, 0.07}, {1, 2.0 * k, 0.07}}, {{0, 0, 1}});
  yard.structure.patches.push_back(face(ball, ""));
  const World world(yard.structure);
  const route::Profile profile{.kit = world.kit, .suit = world.kit.suits.front()};
  const auto ranking =
      rank_grips(world.graph, profile, model::PatchId(0), {.from_grips = true, .within_m = 200, .limits = {}}, {});
  EXPECT_EQ(ranking.best.size(), 3U);
  EXPECT_EQ(ranking.with_any, world.graph.grips().size());
  EXPECT_LE(ranking.looked_at, ranking.with_any);
  EXPECT_EQ(ranking.most_of_others, 0) << "all that may be listed were looked at";
  EXPECT_NEAR(static_cast<double>(ranking.samples), 100, 30);
}

// A rail that is held from above and from below: the path ends where the camera is, not at the rail's other side.
TEST(FindSight, EndsItsPathAtTheVeryGripOfTheView) {
  YardBuilder yard;
  const auto pebble = yard.nowhere();
  yard.rail("rail", pebble, {{0, 0, 0}, {3, 0, 0}}, {{0, 0, 1}, {0, 0, -1}});
  yard.place("start", {3, 0, 0}, 0.1);
  yard.structure.patches.push_back(disc(0.3, {0.5, 0, 3}, {0, 0, -1}));
  const World world(yard.structure);
  const auto answer = find_sight(world.graph, {.kit = world.kit, .suit = world.kit.suits.front()},
                                 {.from_grips = true, .from = "start", .limits = {}});
  ASSERT_FALSE(answer.rankings.front().best.empty());
  const auto& best = answer.rankings.front().best.front();
  EXPECT_LT(best.eye.at.z(), 0) << "as soon there, and less off the normal than from above the rail";
  ASSERT_TRUE(answer.has_route);
  ASSERT_NE(answer.head.route(), nullptr);
  const auto& last = answer.head.route()->legs.back().poses.back();
  EXPECT_EQ(last.grip, best.grip.index());
  EXPECT_LT((last.body - best.eye.at).norm(), 1e-9);
  EXPECT_NEAR(answer.head.route()->time_s, *best.time_s, 1e-6) << "the list and the path tell one time";
}

// Without a start, grips that no hatch leads to are marked.
TEST(FindSight, MarksGripsThatNoHatchLeadsTo) {
  YardBuilder yard;
  const auto pebble = yard.nowhere();
  yard.rail("near", pebble, {{0, 0, 0}, {2, 0, 0}}, {{0, 0, 1}});
  yard.rail("away", pebble, {{6, 0, 0}, {8, 0, 0}}, {{0, 0, 1}});
  yard.place("hatch", {0, 0, 0}, 0.2, model::PlaceKind::Hatch);
  yard.structure.patches.push_back(disc(0.3, {4, 0, 4}, {0, 0, -1}));
  const World world(yard.structure);
  const auto answer =
      find_sight(world.graph, {.kit = world.kit, .suit = world.kit.suits.front()}, {.from_grips = true, .limits = {}});
  ASSERT_EQ(answer.rankings.front().best.size(), 2U);
  for (const auto& best : answer.rankings.front().best)
    EXPECT_EQ(best.is_cut_off, world.structure.rails[best.rail.index()].id == "away");
}

}  // namespace
}  // namespace holdfast::reach
