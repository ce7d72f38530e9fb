// SPDX-License-Identifier: GPL-3.0-or-later
// Tethers along ways: lengths at each waypoint, what may be struck, loops that are clean or hooked, two movers, and
// tethers in series; on structures small enough to know the answer.

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <functional>
#include <limits>
#include <numbers>

#include "holdfast/tether/slide.h"
#include "holdfast/tether/tether.h"
#include "mesh_scene.h"
#include "yard_builder.h"

namespace holdfast::tether {
namespace {

using route::GivenWay;
using route::Profile;
using support::World;
using support::YardBuilder;
constexpr double pi = std::numbers::pi;

void add_anchor(model::Structure& structure, std::string id, Vec3 at) {
  model::Anchor anchor;
  anchor.id = std::move(id);
  anchor.at = at;
  structure.anchors.push_back(std::move(anchor));
}

model::Tether tether_of(double length_m, double min_m = 0) {
  model::Tether tether;
  tether.id = "line";
  tether.length_m.value = length_m;
  tether.min_length_m.value = min_m;
  return tether;
}

struct Asked {
  std::string from, to;
  std::vector<std::string> via = {};
};

GivenWay way_of(const World& world, const Asked& asked) {
  const Profile profile{.kit = world.kit, .suit = world.kit.suits.front()};
  const auto answer = route::find_route(world.graph, profile, {.from = asked.from, .to = asked.to, .via = asked.via});
  EXPECT_TRUE(answer.route()) << asked.from << " to " << asked.to;
  return route::given_way(world.structure, *answer.route(), asked.from + " to " + asked.to);
}

TetherCheck check(const World& world, const model::Tether& tether, const std::string& anchor,
                  std::vector<GivenWay> ways, bool clean = false) {
  const Profile profile{.kit = world.kit, .suit = world.kit.suits.front()};
  return check_tether(world.graph, profile,
                      {.tether = &tether, .anchor = anchor, .ways = std::move(ways), .wants_clean_return = clean});
}

/// Handholds every half metre on the top of a long deck, z = -0.05, from x = 0 to 6.
model::Structure deck() {
  YardBuilder yard;
  const auto plate = yard.part("deck", model::Box{.center = {3, 0, 0.5}, .size = {14, 8, 0.8}});
  for (int i = 0; i <= 12; ++i) yard.rail("r" + std::to_string(i), plate, {{0.5 * i, 0, 0}}, {-Vec3::UnitZ()});
  yard.place("start", {0, 0, 0}, 0.1, model::PlaceKind::Hatch);
  yard.place("end", {6, 0, 0}, 0.1);
  add_anchor(yard.structure, "hook", {0, 0, 0.1});
  return yard.structure;
}

TEST(TetherCheck, MeasuresStraightLinesExactly) {
  const World world(deck());
  const double h = world.graph.body().stand_off_m;
  const auto tether = tether_of(4.0);
  const auto result = check(world, tether, "hook", {way_of(world, {"start", "end"})});
  const Vec3 hook = result.anchor.line_end;
  EXPECT_LT((hook - Vec3(0, 0, 0.1)).norm(), 0.03) << "lifted off the deck by a little";
  ASSERT_EQ(result.marks.size(), 13u) << "a row for each rail";
  std::optional<std::size_t> first;
  for (std::size_t m = 0; m < result.marks.size(); ++m) {
    const Vec3 body(0.5 * static_cast<double>(m), 0, -h);
    const double straight = (body - hook).norm();
    EXPECT_NEAR(result.marks[m].taut_m, straight, 1e-9);
    EXPECT_GE(result.marks[m].gone_m, straight - 1e-9);
    EXPECT_EQ(result.marks[m].is_within, straight <= 4.0);
    if (straight > 4.0 && !first) first = m;
    EXPECT_THAT(result.marks[m].bears_on, testing::IsEmpty());
  }
  EXPECT_EQ(result.fails_at, first);
  EXPECT_FALSE(result.loop) << "it does not come back";
  EXPECT_FALSE(check(world, tether_of(6.2), "hook", {way_of(world, {"start", "end"})}).fails_at);
}

TEST(TetherCheck, RefusesWhatCannotBegin) {
  const World world(deck());
  const auto way = way_of(world, {"start", "end"});
  const auto code_of = [&](const model::Tether& tether, const std::string& anchor, std::vector<GivenWay> ways) {
    try {
      (void)check(world, tether, anchor, std::move(ways));
    } catch (const model::InputError& error) {
      return error.diagnostics().front().code;
    }
    return std::string();
  };
  EXPECT_EQ(code_of(tether_of(0.3), "hook", {way}), "tether-short");
  EXPECT_EQ(code_of(tether_of(9), "hood", {way}), "unknown-anchor");
  EXPECT_EQ(code_of(tether_of(9), "r3", {way}), "not-for-tethers");
  EXPECT_EQ(code_of(tether_of(9), "hook", {way, way}), "wrong-result")
      << "the second does not begin where the first ends";
  EXPECT_EQ(code_of(tether_of(9), "hook", {way, way_of(world, {"end", "start"})}), "");
}

TEST(TetherCheck, ListsWhatMayBeStruck) {
  auto structure = deck();
  const auto add = [&](const char* id, Vec3 at, bool fragile, bool no_touch) {
    model::Part part;
    part.id = part.name = id;
    part.shape = model::Sphere{.center = at, .radius = 0.25};
    part.fragile = fragile, part.no_touch = no_touch;
    structure.parts.push_back(part);
  };
  add("lamp", {3, 2, -2}, true, false);     // 4.2 m from the hook, in the open
  add("lens", {0, 0, 3}, false, true);      // below the deck
  add("mirror", {3, -20, -2}, true, true);  // far off
  add("drum", {-1, 2, -2}, false, false);   // may be touched
  const World world(structure);
  const auto result = check(world, tether_of(8), "hook", {way_of(world, {"start", "end"})});
  ASSERT_EQ(result.swing.size(), 2u);
  EXPECT_EQ(world.structure.parts[result.swing[0].part.index()].id, "lens");
  EXPECT_FALSE(result.swing[0].is_in_sight);
  EXPECT_TRUE(result.swing[0].no_touch);
  const auto& lamp = result.swing[1];
  EXPECT_EQ(world.structure.parts[lamp.part.index()].id, "lamp");
  EXPECT_TRUE(lamp.is_in_sight);
  const double distance = (Vec3(3, 2, -2) - result.anchor.line_end).norm() - 0.25;
  EXPECT_NEAR(lamp.distance_m, distance, 1e-6);
  EXPECT_GE(result.marks[lamp.from_mark].most_m, distance);
  EXPECT_LT(result.marks[lamp.from_mark - 1].most_m, distance);
}

TEST(TetherCheck, TellsZonesThatTheLineEnters) {
  YardBuilder yard;
  yard.structure = deck();
  yard.zone("hot", model::Sphere{.center = {2, 0, -0.2}, .radius = 0.3}, model::ZoneEffect::Forbid, {.tether = true});
  yard.zone("cold", model::Sphere{.center = {2, 3, -0.2}, .radius = 0.3}, model::ZoneEffect::Forbid, {.tether = true});
  yard.zone("busy", model::Sphere{.center = {2, 0, -0.2}, .radius = 0.3}, model::ZoneEffect::Forbid, {.cable = true});
  const World world(yard.structure);
  const auto result = check(world, tether_of(9), "hook", {way_of(world, {"start", "end"})});
  EXPECT_TRUE(result.marks.front().zones.empty());
  EXPECT_THAT(result.marks.back().zones, testing::ElementsAre(model::ZoneId(0)));
}

/// Seen from z: from a point to the triangle.
double to_triangle(const Vec3& p, const Vec3& a, const Vec3& b, const Vec3& c) {
  double least = std::numeric_limits<double>::infinity();
  constexpr int n = 400;
  for (int k = 0; k <= n; ++k) {  // from the hook to each point of the body's path
    const Vec3 end = b + (static_cast<double>(k) / n) * (c - b);
    const double t = std::clamp((p - a).dot(end - a) / (end - a).squaredNorm(), 0.0, 1.0);
    least = std::min(least, (a + t * (end - a) - p).norm());
  }
  return least;
}

// Along one rail of 6 m, told in one row, and along twelve, told in as many, the line sweeps the same triangle.
TEST(TetherCheck, FindsEveryZoneHoweverTheRowsAreCut) {
  for (const bool is_one_row : {true, false}) {
    YardBuilder yard;
    const auto plate = yard.part("deck", model::Box{.center = {3, 0, 0.5}, .size = {14, 8, 0.8}});
    constexpr int pieces = 12;
    if (is_one_row)
      yard.rail("long", plate, {{0, 0, 0}, {6, 0, 0}}, {-Vec3::UnitZ()});
    else
      for (int k = 0; k < pieces; ++k)
        yard.rail("r" + std::to_string(k), plate, {{0.5 * k, 0, 0}, {0.5 * k + 0.5, 0, 0}}, {-Vec3::UnitZ()});
    yard.place("start", {0, 0, 0}, 0.1, model::PlaceKind::Hatch);
    yard.place("end", {6, 0, 0}, 0.1);
    add_anchor(yard.structure, "hook", {0.3, 2.5, 0.1});
    support::Random random(20261126);
    constexpr int zones = 120;
    constexpr double radius = 0.1;
    std::vector<Vec3> middles;
    for (int k = 0; k < zones; ++k) {
      middles.emplace_back(6 * random.unit(), 3 * random.unit() - 0.2, -0.6 * random.unit());
      yard.zone("z" + std::to_string(k), model::Sphere{.center = middles.back(), .radius = radius},
                k % 2 == 0 ? model::ZoneEffect::Forbid : model::ZoneEffect::Caution, {.tether = true});
    }
    const World world(yard.structure);
    const auto result = check(world, tether_of(9), "hook", {way_of(world, {"start", "end"})});
    const double h = world.graph.body().stand_off_m;
    std::vector<bool> is_in_a_row(zones, false);
    for (const auto& mark : result.marks)
      for (const auto zone : mark.zones) is_in_a_row[zone.index()] = true;
    int entered = 0;
    for (int k = 0; k < zones; ++k) {
      SCOPED_TRACE(testing::Message() << k << (is_one_row ? " in one row" : " in twelve"));
      const double distance =
          to_triangle(middles[static_cast<std::size_t>(k)], result.anchor.line_end, {0, 0, -h}, {6, 0, -h});
      const auto stay = std::find_if(result.zones.begin(), result.zones.end(), [&](const auto& z) {
        return z.zone == model::ZoneId(static_cast<std::size_t>(k));
      });
      const bool is_told = stay != result.zones.end();
      if (std::abs(distance - radius) > 0.002) EXPECT_EQ(is_told, distance < radius);
      EXPECT_EQ(is_told, is_in_a_row[static_cast<std::size_t>(k)]);
      if (is_told) EXPECT_EQ(stay->is_allowed, k % 2 == 1);
      entered += is_told ? 1 : 0;
    }
    EXPECT_GT(entered, 10);
    EXPECT_LT(entered, zones / 2);
  }
}

TEST(TetherCheck, CountsTheStayInALimitZone) {
  for (const double limit_s : {1.0, 1000.0}) {
    YardBuilder yard;
    yard.structure = deck();
    yard.zone("warm", model::Sphere{.center = {1, 0, -0.4}, .radius = 0.3}, model::ZoneEffect::Limit, {.tether = true});
    yard.structure.zones.back().limit_s = limit_s;
    const World world(yard.structure);
    const auto way = way_of(world, {"start", "end"});
    const auto result = check(world, tether_of(9), "hook", {way});
    ASSERT_EQ(result.zones.size(), 1u);
    // From the move that enters it to the end: the line stays across it.
    const double last_s = way.legs.back().grips.back().at_s;
    EXPECT_GT(result.zones.front().inside_s, last_s / 3);
    EXPECT_LE(result.zones.front().inside_s, last_s);
    EXPECT_EQ(result.zones.front().is_allowed, limit_s > last_s);
  }
}

// ---- loops
// ------------------------------------------------------------------------------------------------------------

/// A drum along x with handholds all round it at x = 0, and an anchor far out on the zenith side.
model::Structure drum(double half_length, bool with_walls = false) {
  YardBuilder yard;
  const auto body =
      yard.part("drum", model::Cylinder{.from = {-half_length, 0, 0}, .to = {half_length, 0, 0}, .radius = 1});
  if (with_walls)
    for (const double side : {-1.0, 1.0})
      yard.part(side < 0 ? "aft-wall" : "forward-wall",
                model::Box{.center = {side * (half_length + 0.1), 0, 0}, .size = {0.2, 5, 5}});
  for (int k = 0; k < 16; ++k) {
    const double angle = 2 * pi * k / 16;
    const Vec3 out(0, std::sin(angle), -std::cos(angle));
    yard.rail("h" + std::to_string(k), body, {1.08 * out}, {out});
  }
  const auto on = [](int k) { return Vec3(0, 1.08 * std::sin(2 * pi * k / 16), -1.08 * std::cos(2 * pi * k / 16)); };
  yard.place("zenith", on(0), 0.05, model::PlaceKind::Hatch);
  yard.place("starboard", on(4), 0.05);
  yard.place("nadir", on(8), 0.05);
  yard.place("port", on(12), 0.05);
  add_anchor(yard.structure, "hook", {0, 0, -1});
  return yard.structure;
}

TEST(Loop, OutAndBackOnOneSideIsClean) {
  const World world(drum(3));
  const auto result =
      check(world, tether_of(30), "hook",
            {way_of(world, {"zenith", "nadir", {"starboard"}}), way_of(world, {"nadir", "zenith", {"starboard"}})});
  ASSERT_TRUE(result.loop);
  EXPECT_TRUE(result.loop->is_clean);
  EXPECT_LT(result.loop->taut_m, clean_loop_m);
  EXPECT_TRUE(result.loop->hooked.empty());
}

TEST(Loop, RoundADrumIsHookedByTheWayToItsEnd) {
  const World world(drum(3));
  const auto result =
      check(world, tether_of(30), "hook",
            {way_of(world, {"zenith", "nadir", {"starboard"}}), way_of(world, {"nadir", "zenith", {"port"}})}, true);
  ASSERT_TRUE(result.loop);
  EXPECT_FALSE(result.loop->is_clean);
  EXPECT_GE(result.loop->taut_m, 2 * pi) << "once round the drum, at least";
  EXPECT_LE(result.loop->taut_m, 2 * pi + 0.1);
  ASSERT_EQ(result.loop->hooked.size(), 1u);
  const auto& hooked = result.loop->hooked.front();
  EXPECT_EQ(world.structure.parts[hooked.part.index()].id, "drum");
  ASSERT_TRUE(hooked.slide_m);
  EXPECT_NEAR(*hooked.slide_m, 3, 0.02) << "from the middle to either end";
  ASSERT_EQ(result.loop->turns.size(), 1u) << "the whole way back";
  ASSERT_TRUE(result.clean_return);
  ASSERT_TRUE(result.clean_return->loop) << "back by starboard";
  EXPECT_TRUE(result.clean_return->loop->is_clean);
}

TEST(Loop, BetweenWallsDoesNotComeOff) {
  const World world(drum(3, true));
  const auto result =
      check(world, tether_of(30), "hook",
            {way_of(world, {"zenith", "nadir", {"starboard"}}), way_of(world, {"nadir", "zenith", {"port"}})});
  ASSERT_TRUE(result.loop);
  ASSERT_EQ(result.loop->hooked.size(), 1u);
  EXPECT_FALSE(result.loop->hooked.front().slide_m);
  ASSERT_TRUE(result.loop->hooked.front().held_by);
  EXPECT_THAT(world.structure.parts[result.loop->hooked.front().held_by->index()].id, testing::HasSubstr("wall"));
}

/// A loop in space with both ends at one point, pulled tight by itself: verdicts of shapes that need no handholds.
double tight(const model::Structure& structure, const std::vector<Vec3>& loop) {
  const auto scene = geometry::build_scene(structure, structure.default_configuration());
  for (std::size_t i = 1; i < loop.size(); ++i) EXPECT_TRUE(is_line_clear(scene, loop[i - 1], loop[i])) << i;
  return pull_taut(scene, loop).length_m;
}

/// How far a loop must be slid, of which it is known that it comes in by itself.
LoopSlide slid(const model::Structure& structure, const std::vector<Vec3>& loop) {
  const auto scene = geometry::build_scene(structure, structure.default_configuration());
  for (std::size_t i = 1; i < loop.size(); ++i) EXPECT_TRUE(is_line_clear(scene, loop[i - 1], loop[i])) << i;
  return find_slide(scene, loop);
}

/// From a hook on the axis down `lead`, once round in a ring of this radius about z, at this height, and back up.
std::vector<Vec3> ring(const std::vector<Vec3>& lead, double radius, double z) {
  std::vector<Vec3> loop = lead;
  constexpr int corners = 36;
  for (int k = 0; k <= corners; ++k) {
    const double angle = 2 * pi * k / corners;
    loop.emplace_back(radius * std::cos(angle), radius * std::sin(angle), z);
  }
  loop.insert(loop.end(), lead.rbegin(), lead.rend());
  return loop;
}

/// From high above the top of a body of revolution about -z down its meridian (radius and height by a parameter from 0
/// to 1), once round where that ends, and back.
std::vector<Vec3> ring_down(const std::function<std::pair<double, double>(double)>& meridian) {
  std::vector<Vec3> lead = {{0, 0, -meridian(0).second - 1}};
  constexpr int pieces = 60;
  for (int k = 0; k <= pieces; ++k) {
    const auto [radius, height] = meridian(static_cast<double>(k) / pieces);
    lead.emplace_back(radius, 0, -height);
  }
  const auto [radius, height] = meridian(1);
  return ring(lead, radius, -height);
}

/// Turned and moved as a part is that its structure has elsewhere.
model::Pose anywhere(support::Random& random) {
  model::Pose pose = model::Pose::Identity();
  pose.translate(random.point(5));
  pose.rotate(random.rotation());
  return pose;
}

std::vector<Vec3> moved(std::vector<Vec3> points, const model::Pose& pose) {
  for (Vec3& p : points) p = pose * p;
  return points;
}

// A ring of 36 corners, 0.4 % outside of the circle through their middles' feet.
constexpr double beside = 1.004, off_m = 0.004;

// The shortest that every point of a ring on a ball can be slid to come off it is the arc to the pole, also of rings
// that are drawn back over more than half of the ball.
TEST(Loop, SlidesToThePoleOfABall) {
  support::Random random(5);
  for (const double radius : {0.3, 1.0, 3.18, 6.0, 20.0})
    for (double latitude_deg = -60; latitude_deg < 90; latitude_deg += 6.9) {
      SCOPED_TRACE(testing::Message() << radius << " m, " << latitude_deg << " deg");
      const auto pose = anywhere(random);
      YardBuilder yard;
      yard.part("ball", model::Sphere{.center = {0, 0, 0}, .radius = radius}, pose);
      const double latitude = latitude_deg * pi / 180, out = radius * beside + off_m;
      const auto got = slid(yard.structure, moved(ring_down([&](double t) {
                                                    const double at = pi / 2 - t * (pi / 2 - latitude);
                                                    return std::pair(out * std::cos(at), out * std::sin(at));
                                                  }),
                                                  pose));
      const double height = out * std::sin(latitude);
      if (height > radius) continue;  // the ring's plane is clear of the ball
      ASSERT_TRUE(got.is_apart);
      ASSERT_TRUE(got.most_m);
      // Drawn straight to the axis it comes to lie higher than where it is nearest to. From below the equator the other
      // pole is nearer, and which of the two it goes to hangs on where it is pulled.
      if (latitude >= 0) EXPECT_GE(*got.most_m, radius * std::acos(height / radius));
      EXPECT_GE(*got.most_m, radius * (pi / 2 - std::abs(latitude)) - 0.03);
      EXPECT_LE(*got.most_m, radius * (pi / 2 - latitude) * 1.005 + 0.03);
    }
}

// The slant to the tip, or to the rim of what is cut off.
TEST(Loop, SlidesToTheEndOfACone) {
  support::Random random(6);
  for (double half_angle_deg = 2; half_angle_deg < 89; half_angle_deg += 6.1)
    for (const double cut : {0.0, 0.3})
      for (const double share : {0.05, 0.4, 0.95}) {  // of the slant, from the narrow end
        SCOPED_TRACE(testing::Message() << half_angle_deg << " deg, " << cut << ", " << share);
        const double half_angle = half_angle_deg * pi / 180, slant = 3, cut_m = cut * slant;
        const auto at = [&](double along) {
          return std::pair(along * std::sin(half_angle), -along * std::cos(half_angle));
        };
        const auto [wide, low] = at(slant);
        const auto [narrow, high] = at(cut_m);
        const auto pose = anywhere(random);
        YardBuilder yard;
        yard.part("cone",
                  model::Cone{.from = {0, 0, -high}, .to = {0, 0, -low}, .radius_from = narrow, .radius_to = wide},
                  pose);
        const double along = cut_m + share * (slant - cut_m);
        const auto loop = ring_down([&](double t) {
          const auto [radius, height] = at(cut_m + t * (along - cut_m));
          // Lifted square off the side.
          const double lift = off_m + (beside - 1) * radius;
          return std::pair(radius + lift * std::cos(half_angle), height + lift * std::sin(half_angle));
        });
        const auto got = slid(yard.structure, moved(loop, pose));
        const double lift = off_m + (beside - 1) * along * std::sin(half_angle);
        // Straight to the axis from where it is lifted to.
        const double exact = (along - cut_m) - lift * std::tan(half_angle);
        if (exact < 0.003) continue;
        ASSERT_TRUE(got.is_apart);
        ASSERT_TRUE(got.most_m);
        EXPECT_GE(*got.most_m, exact);
        EXPECT_LE(*got.most_m, exact + 0.005 / std::cos(half_angle));
      }
}

// Summed over chords of the parabola.
TEST(Loop, SlidesToTheVertexOfADish) {
  for (const double depth : {0.1, 0.35, 1.5})
    for (const double share : {0.2, 0.6, 0.9}) {
      SCOPED_TRACE(testing::Message() << depth << " m deep, " << share);
      const model::Dish dish{.radius = 1.4, .depth = depth, .thickness = 0.02};
      YardBuilder yard;
      yard.part("dish", dish);
      const auto back = [&](double r) { return depth * r * r / (dish.radius * dish.radius) - dish.thickness; };
      const double r = share * dish.radius;
      const auto got = slid(yard.structure,
                            ring_down([&](double t) { return std::pair(t * r + 0.012 * t, -(back(t * r) - 0.006)); }));
      // Straight to the axis from where it is lifted to.
      const double landed = dish.radius * std::sqrt(std::max(0.0, back(r) - 0.006 + dish.thickness) / depth);
      double arc = 0;
      constexpr int pieces = 1000;
      for (int k = 0; k < pieces; ++k)
        arc += std::hypot(landed / pieces, back(landed * (k + 1) / pieces) - back(landed * k / pieces));
      ASSERT_TRUE(got.is_apart);
      ASSERT_TRUE(got.most_m);
      EXPECT_GE(*got.most_m, arc - 1e-6);
      EXPECT_LE(*got.most_m, arc + 0.02);
    }
}

// Along a drum or a box to the end that the loop is pulled over; what stands on the way there makes it unknown.
TEST(Loop, SlidesToTheEndItIsPulledOver) {
  for (const bool is_box : {false, true})
    for (const double from_end : {0.2, 0.45, 2.0, 5.5}) {
      SCOPED_TRACE(testing::Message() << is_box << " " << from_end);
      YardBuilder yard;
      if (is_box)
        yard.part("box", model::Box{.center = {0, 0, 0}, .size = {1.6, 1.6, 6}});
      else
        yard.part("drum", model::Cylinder{.from = {0, 0, -3}, .to = {0, 0, 3}, .radius = 1});
      const auto loop = ring_down([&](double t) { return std::pair(1.2, 3.2 - t * (0.2 + from_end)); });
      const auto got = slid(yard.structure, loop);
      ASSERT_TRUE(got.is_apart);
      ASSERT_TRUE(got.most_m);
      EXPECT_NEAR(*got.most_m, from_end + line_clear_m, 1e-9);
      // A bracket on the end does not lie on the way of what is slid off there, one on the side does.
      yard.part("bracket", model::Box{.center = {0, 0.95, -2.9}, .size = {0.1, 0.3, 0.05}});
      if (from_end > 0.15) EXPECT_FALSE(slid(yard.structure, loop).most_m);
    }
}

TEST(Loop, SlideOverManyPartsIsNotKnown) {
  YardBuilder yard;
  yard.part("drum", model::Cylinder{.from = {0, 0, -3}, .to = {0, 0, 3}, .radius = 1});
  yard.part("dome", model::Sphere{.center = {0, 0, -3}, .radius = 1});
  const auto got = slid(yard.structure, ring_down([](double t) { return std::pair(1.2, 4.2 - 3.2 * t); }));
  EXPECT_TRUE(got.is_apart);
  EXPECT_FALSE(got.most_m);
}

/// Handholds all round a body of revolution about z, on a ring of this radius and height, and a hook on its surface.
model::Structure ringed(const model::Shape& shape, double radius, double z, const Vec3& outward_at_x) {
  YardBuilder yard;
  const auto body = yard.part("body", shape);
  const int count = 4 * static_cast<int>(std::ceil(2 * pi * radius / 0.5 / 4));
  for (int k = 0; k < count; ++k) {
    const Eigen::AngleAxisd turn(2 * pi * k / count, Vec3::UnitZ());
    const Vec3 outward = turn * outward_at_x, at = turn * Vec3(radius, 0, z) + 0.07 * outward;
    yard.rail("r" + std::to_string(k), body, {{at}}, {outward});
    if (k % (count / 4) == 0)
      yard.place("quarter-" + std::to_string(4 * k / count), at, 0.1,
                 k == 0 ? model::PlaceKind::Hatch : model::PlaceKind::Worksite);
  }
  add_anchor(yard.structure, "hook", {radius, 0, z});
  return yard.structure;
}

TetherCheck round_about(const model::Structure& structure) {
  const World world(structure);
  return check(world, tether_of(200), "hook",
               {way_of(world, {"quarter-0", "quarter-2", {"quarter-1"}}),
                way_of(world, {"quarter-2", "quarter-0", {"quarter-3"}})});
}

// The arc to the top, or the slant to the tip, is how far such a loop must slide: over the half metre that is allowed.
// The body floats a stand-off above; rings so high that the line is above the top are left out.
TEST(Loop, RoundTheTopOfABallOrConeIsNeverTakenForClean) {
  for (const auto& [radius, latitude_deg] : {std::pair{3.0, 20.0}, {3.0, 45.0}, {6.0, 60.0}, {20.0, 75.0}}) {
    SCOPED_TRACE(testing::Message() << "ball of " << radius << " m, " << latitude_deg << " deg");
    const double latitude = latitude_deg * pi / 180;
    const auto result =
        round_about(ringed(model::Sphere{.center = {0, 0, 0}, .radius = radius}, radius * std::cos(latitude),
                           -radius * std::sin(latitude), {std::cos(latitude), 0, -std::sin(latitude)}));
    ASSERT_TRUE(result.loop);
    EXPECT_FALSE(result.loop->is_clean);
    EXPECT_FALSE(result.loop->hooked.empty());
  }
  for (const double half_angle_deg : {20.0, 45.0, 60.0}) {
    SCOPED_TRACE(testing::Message() << "cone of " << half_angle_deg << " deg");
    const double half_angle = half_angle_deg * pi / 180, base = 4, height = base / std::tan(half_angle);
    const auto result = round_about(
        ringed(model::Cone{.from = {0, 0, 0}, .to = {0, 0, -height}, .radius_from = base, .radius_to = 0.001},
               base * 0.75, -height / 4, {std::cos(half_angle), 0, -std::sin(half_angle)}));
    ASSERT_TRUE(result.loop);
    EXPECT_FALSE(result.loop->is_clean);
  }
}

// Out and back on one side is drawn across all it lies on, and held nowhere: it slides over nothing.
TEST(Loop, OutAndBackSlidesOverNothing) {
  for (const double apart : {0.05, 0.5}) {
    YardBuilder yard;
    yard.part("drum", model::Cylinder{.from = {-3, 0, 0}, .to = {3, 0, 0}, .radius = 2});
    std::vector<Vec3> loop = {{0, 0, -2.1}};
    constexpr int steps = 16;
    for (int k = 0; k <= 2 * steps; ++k) {
      const double angle = pi * (k <= steps ? k : 2 * steps - k) / steps;
      loop.emplace_back(k <= steps ? -apart : apart, 2.1 * std::sin(angle), -2.1 * std::cos(angle));
    }
    loop.push_back(loop.front());
    EXPECT_FALSE(slid(yard.structure, loop).is_apart);
  }
  // On a deck, round nothing.
  YardBuilder yard;
  yard.part("deck", model::Box{.center = {0, 0, 0.5}, .size = {20, 20, 1}});
  EXPECT_FALSE(
      slid(yard.structure, {{-4, 0, -0.1}, {-4, 4, -0.01}, {4, 4, -0.01}, {4, -4, -0.01}, {-4, 0, -0.1}}).is_apart);
}

TEST(Loop, ThroughARingIsLinkedOrNot) {
  // A square ring in the plane x = 0, 2 m wide inside, of four bars.
  YardBuilder yard;
  for (const double side : {-1.0, 1.0}) {
    yard.part("upright", model::Box{.center = {0, 1.1 * side, 0}, .size = {0.2, 0.2, 2.4}});
    yard.part("crossbar", model::Box{.center = {0, 0, 1.1 * side}, .size = {0.2, 2.4, 0.2}});
  }
  const Vec3 end(-2, 0, 0);
  // Through the ring and back outside of it: linked, and it stays round a bar.
  EXPECT_GT(tight(yard.structure, {end, {2, 0, 0}, {2, 3, 0}, {-2, 3, 0}, end}), 4);
  // Through and back through: it comes home.
  EXPECT_LT(tight(yard.structure, {end, {2, 0, 0}, {2, 0.5, 0.5}, {-2, 0.5, -0.5}, end}), 0.01);
  // Out over it and back over it.
  EXPECT_LT(tight(yard.structure, {end, {-2, 3, 0}, {2, 3, 0}, {2, 3, 1}, {-2, 3, 1}, end}), 0.01);
}

TEST(Loop, RoundATrussStays) {
  YardBuilder yard;
  yard.part("truss", model::Truss{.from = {-4, 0, 0}, .to = {4, 0, 0}, .width = 1, .bays = 8, .bar_radius = 0.03});
  const Vec3 end(0.25, 0, -3);
  const double round = tight(yard.structure, {end, {0.3, 2, -1}, {0.2, 2, 2}, {0.3, -2, 2}, {0.2, -2, -1}, end});
  // Not less than round the square of the chords' axes, from 3 m off: the plane's closed form.
  EXPECT_GE(round, 2 * std::hypot(2.5, 0.5) + 2 * 1 + 1);
  EXPECT_LE(round, 2 * std::hypot(2.5, 0.55) + 2 * 1.1 + 1.1 + 0.1);
  EXPECT_LT(tight(yard.structure, {end, {0.3, 2, -1}, {0.2, 2, 2}, {0.3, 2.2, 2}, {0.2, 2.2, -1}, end}), 0.01);
}

// ---- two movers
// -------------------------------------------------------------------------------------------------------

/// Two lines of handholds on a wide deck that cross at (3, 0): along x and along y.
model::Structure crossroads() {
  YardBuilder yard;
  const auto plate = yard.part("deck", model::Box{.center = {3, 0, 0.5}, .size = {14, 14, 0.8}});
  for (int i = 0; i <= 12; ++i) yard.rail("x" + std::to_string(i), plate, {{0.5 * i, 0, 0}}, {-Vec3::UnitZ()});
  for (int i = -6; i <= 6; ++i)
    if (i != 0) yard.rail("y" + std::to_string(i + 6), plate, {{3, 0.5 * i, 0}}, {-Vec3::UnitZ()});
  yard.place("aft", {0, 0, 0}, 0.1);
  yard.place("forward", {6, 0, 0}, 0.1);
  yard.place("port", {3, -3, 0}, 0.1);
  yard.place("starboard", {3, 3, 0}, 0.1);
  add_anchor(yard.structure, "aft-hook", {-0.3, 0, 0.1});
  add_anchor(yard.structure, "port-hook", {3, -3.3, 0.1});
  return yard.structure;
}

Crossings cross(const World& world, std::vector<GivenWay> first, std::vector<GivenWay> second) {
  const Profile profile{.kit = world.kit, .suit = world.kit.suits.front()};
  const auto tether = tether_of(30);
  const auto result = check_tether(world.graph, profile,
                                   {.tether = &tether,
                                    .anchor = "aft-hook",
                                    .ways = std::move(first),
                                    .other_tether = &tether,
                                    .other_anchor = "port-hook",
                                    .other_ways = std::move(second)});
  EXPECT_TRUE(result.crossings);
  return *result.crossings;
}

GivenWay later(GivenWay way, double seconds) {
  for (auto& leg : way.legs)
    for (auto& grip : leg.grips) grip.at_s += seconds;
  return way;
}

TEST(TwoMovers, WhoComesLaterGoesOver) {
  const World world(crossroads());
  const auto out = way_of(world, {"aft", "forward"}), across = way_of(world, {"port", "starboard"});
  const auto second_later = cross(world, {out}, {later(across, 600)});
  ASSERT_EQ(second_later.events.size(), 1u);
  EXPECT_TRUE(second_later.events.front().second_moves);
  EXPECT_TRUE(second_later.events.front().is_over);
  EXPECT_NEAR(second_later.events.front().point.x(), 3, 0.3);
  EXPECT_NEAR(second_later.events.front().point.y(), 0, 0.01);
  EXPECT_THAT(second_later.undo, testing::ElementsAre(0u));
  const auto first_later = cross(world, {later(out, 600)}, {across});
  ASSERT_EQ(first_later.events.size(), 1u);
  EXPECT_FALSE(first_later.events.front().second_moves);
}

TEST(TwoMovers, GoingBackUndoesACrossing) {
  const World world(crossroads());
  const auto out = way_of(world, {"aft", "forward"}), across = way_of(world, {"port", "starboard"}),
             back = way_of(world, {"starboard", "port"});
  EXPECT_TRUE(cross(world, {out}, {later(across, 600), back}).events.empty());
}

TEST(TwoMovers, ApartTheyDoNotCross) {
  auto structure = crossroads();
  add_anchor(structure, "far-hook", {3, 2.7, 0.1});
  const World world(structure);
  const Profile profile{.kit = world.kit, .suit = world.kit.suits.front()};
  YardBuilder yard;
  const auto tether = tether_of(30);
  // The second mover stays on the starboard arm.
  const auto result = check_tether(world.graph, profile,
                                   {.tether = &tether,
                                    .anchor = "aft-hook",
                                    .ways = {way_of(world, {"aft", "forward"})},
                                    .other_tether = &tether,
                                    .other_anchor = "far-hook",
                                    .other_ways = {way_of(world, {"starboard", "3,1.5,0"})}});
  ASSERT_TRUE(result.crossings);
  EXPECT_TRUE(result.crossings->events.empty());
}

// ---- positioning
// ------------------------------------------------------------------------------------------------------

TEST(Positioning, FindsTheSeriesThatReach) {
  YardBuilder yard;
  const auto plate = yard.part("deck", model::Box{.center = {0, 0, 1}, .size = {20, 8, 1}});
  const auto near = yard.rail("near", plate, {{1, 0, 0}, {2, 0, 0}}, {-Vec3::UnitZ()});
  const auto far = yard.rail("far", plate, {{4, 0, 0}, {4.5, 0, 0}}, {-Vec3::UnitZ()});
  yard.rail("bare", plate, {{0.8, 0.5, 0}, {0.8, 1, 0}}, {-Vec3::UnitZ()});
  const auto hidden = yard.rail("hidden", plate, {{-1, 0, 0}, {-1.2, 0, 0}}, {-Vec3::UnitZ()});
  for (const auto rail : {near, far, hidden}) yard.structure.rails[rail.index()].use.tether = true;
  yard.part("wall", model::Box{.center = {-0.6, 0, 0}, .size = {0.1, 6, 6}});
  const World world(yard.structure);
  const Profile profile{.kit = world.kit, .suit = world.kit.suits.front()};
  const auto waist = tether_of(1.2, 0.6);
  const auto found = find_positioning(world.graph, profile, "0,0,-0.5", {&waist});
  ASSERT_EQ(found.all.size(), 3u) << "one, two and three in series";
  EXPECT_DOUBLE_EQ(found.all[1].least_m, 1.2);
  EXPECT_DOUBLE_EQ(found.all[2].most_m, 3.6);
  std::vector<std::string> holds;
  for (const auto& hold : found.holds) {
    const auto& series = found.all[hold.series];
    EXPECT_NEAR(hold.distance_m, (hold.hook.at - Vec3(0, 0, -0.5)).norm(), 1e-9);
    EXPECT_GE(hold.distance_m, series.least_m);
    EXPECT_LE(hold.distance_m, series.most_m);
    holds.push_back(std::to_string(hold.series + 1) + " " + hold.hook.name);
  }
  // 1.118 to 2.06 m to the near rail, 4.03 m at least to the far one; the wall hides the hidden one.
  EXPECT_THAT(holds, testing::ElementsAre("1 near", "2 near", "3 near"));
  const auto longer = tether_of(2, 0.6);
  const auto more = find_positioning(world.graph, profile, "0,0,-0.5", {&waist, &longer}, 2);
  EXPECT_EQ(more.all.size(), 5u) << "each alone, and the three pairs";
  for (const auto& hold : more.holds) EXPECT_NE(hold.hook.name, "far") << "4 m together, and 4.03 m are needed";
}

}  // namespace
}  // namespace holdfast::tether
