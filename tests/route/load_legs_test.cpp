// SPDX-License-Identifier: GPL-3.0-or-later
// Loads over several legs: routes through places, replayed in small steps by the rules alone, and looked at with an
// independent collision library.

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <Eigen/Geometry>
#include <algorithm>
#include <numbers>
#include <random>

#include "holdfast/graph/load_sweep.h"
#include "mesh_scene.h"
#include "second_opinion.h"
#include "yard_builder.h"

namespace holdfast {
namespace {

using graph::BoxPose;
using model::Load;
using support::Vec3;
using support::World;
using support::YardBuilder;

Load load_of(std::string id, Vec3 size, model::CarriedHow how) {
  Load load;
  load.id = load.name = std::move(id);
  load.size_m = size, load.how = how;
  load.mass_kg = {20, "test", model::Confidence::Assumption};
  load.stow_s = {30, "test", model::Confidence::Assumption};
  load.hands = how == model::CarriedHow::Beside ? 1 : 0;
  return load;
}
Load in_tow(Vec3 size, double tow_m) {
  Load load = load_of("towed", std::move(size), model::CarriedHow::InTow);
  load.tow_length_m = tow_m;
  return load;
}
Load beside(Vec3 size, Vec3 offset) {
  Load load = load_of("carried", std::move(size), model::CarriedHow::Beside);
  load.offset_m = std::move(offset);
  return load;
}

route::Answer ask(const World& world, std::vector<const Load*> loads, const std::string& from,
                  std::vector<std::string> via, const std::string& to) {
  return route::find_route(world.graph, {.kit = world.kit, .suit = world.kit.suits.front(), .loads = std::move(loads)},
                           {.from = from, .to = to, .via = std::move(via), .explains_loads = false});
}

// ---- the rules, written down anew -----------------------------------------------------------------------------------

Vec3 slerp(const Vec3& u, const Vec3& v, double t) {
  const double angle = std::acos(std::clamp(u.dot(v), -1.0, 1.0));
  if (angle < 1e-9) return u;
  return (std::sin((1 - t) * angle) * u + std::sin(t * angle) * v) / std::sin(angle);
}
Eigen::Matrix3d frame(const Vec3& forward, const Vec3& up) {
  Eigen::Matrix3d axes;
  axes << forward, up.cross(forward), up;
  return axes;
}
Vec3 made_across(const Vec3& v, const Vec3& n) { return (v - v.dot(n) * n).normalized(); }

/// A body's way as points 1 to 2 mm apart.
struct Dense {
  std::vector<Vec3> body, outward;
  std::vector<double> along;
  std::vector<std::size_t> grip_at;  // into the points

  Dense(const std::vector<route::Pose>& poses, double stand_off_m) {
    constexpr int steps = 200;
    add(poses.front().hand + stand_off_m * poses.front().stance, poses.front().outward);
    grip_at.push_back(0);
    for (std::size_t p = 0; p + 1 < poses.size(); ++p) {
      const auto &a = poses[p], &b = poses[p + 1];
      for (int i = 1; i <= steps; ++i) {
        const double t = static_cast<double>(i) / steps;
        add(a.hand + t * (b.hand - a.hand) + stand_off_m * slerp(a.stance, b.stance, t),
            slerp(a.outward, b.outward, t));
      }
      grip_at.push_back(body.size() - 1);
    }
  }
  void add(const Vec3& at, const Vec3& up) {
    along.push_back(body.empty() ? 0 : along.back() + (at - body.back()).norm());
    body.push_back(at), outward.push_back(up);
  }
  [[nodiscard]] double length() const { return along.back(); }
  [[nodiscard]] std::size_t index(double s) const {
    return std::min(body.size() - 1,
                    static_cast<std::size_t>(std::lower_bound(along.begin(), along.end(), s - 1e-12) - along.begin()));
  }
  [[nodiscard]] Vec3 at(double s) const {
    const std::size_t i = index(s);
    if (i == 0) return body[0];
    const double width = along[i] - along[i - 1], part = width > 0 ? (s - along[i - 1]) / width : 1;
    return body[i - 1] + std::clamp(part, 0.0, 1.0) * (body[i] - body[i - 1]);
  }
  /// Of a box whose middle is at `load`, its long side from `chord0` to `chord1`.
  [[nodiscard]] BoxPose tow_pose(double load, double mover, double chord0, double chord1) const {
    const Vec3 forward = (at(chord1) - at(chord0)).normalized();
    return {at(load), frame(forward, made_across(outward[index((load + mover) / 2)], forward))};
  }
};

struct Looked {
  double least_m = 1e9;
  int turns = 0;  ///< between legs
};

class Replay {
 public:
  Replay(const World& world, const route::Route& route) : world_(world), fcl_(support::mesh_of(world)), route_(route) {}

  /// Least distance of the load to structure on all that the route says it does.
  Looked look(const Load& load) {
    load_ = &load;
    looked_ = {};
    load.how == model::CarriedHow::InTow ? tow() : carry();
    return looked_;
  }

 private:
  [[nodiscard]] double distance(const BoxPose& pose) const {
    const Eigen::Quaterniond turn(pose.axes);
    if (fcl_.is_box_touching(pose.middle, turn, load_->size_m / 2)) return 0;
    return fcl_.box_distance(pose.middle, turn, load_->size_m / 2);
  }
  void see(const BoxPose& pose) { looked_.least_m = std::min(looked_.least_m, distance(pose)); }

  void tow() {
    const double tow_m = load_->tow_length_m;
    std::optional<BoxPose> drawn_in;
    for (const auto& leg : route_.legs) {
      if (leg.moves == 0) continue;
      const Dense way(leg.poses, world_.graph.body().stand_off_m);
      const double first = std::min(way.along[way.grip_at[1]], tow_m), end = way.length();
      const auto towed = [&](double mover) {
        const double behind = std::max(0.0, mover - tow_m);
        return way.tow_pose(behind, mover, behind, behind == 0 ? std::max(mover, first) : mover);
      };
      if (drawn_in) turn(*drawn_in, towed(0));
      for (std::size_t i = 0; i < way.body.size(); i += 8) see(towed(way.along[i]));
      const double from = std::max(0.0, end - tow_m);
      const double last = std::max(way.along[way.grip_at[way.grip_at.size() - 2]], from);
      const auto drawing = [&](double behind) { return way.tow_pose(behind, end, std::min(behind, last), end); };
      for (int i = 0; i <= 40; ++i) see(drawing(from + (end - from) * i / 40));
      drawn_in = drawing(end);
    }
  }

  /// On the spot, from one heading to the next: a box has no front, and the mover turns it whichever way has more room.
  void turn(const BoxPose& from, const BoxPose& to) {
    ++looked_.turns;
    double most_room_m = -1;
    for (const Vec3& signs : {Vec3(1, 1, 1), Vec3(-1, 1, -1), Vec3(1, -1, -1), Vec3(-1, -1, 1)}) {
      const Eigen::AngleAxisd by(Eigen::Matrix3d(to.axes * signs.asDiagonal() * from.axes.transpose()));
      double room_m = 1e9;
      for (int i = 0; i <= 60; ++i)
        room_m =
            std::min(room_m, distance({from.middle, Eigen::AngleAxisd(by.angle() * i / 60, by.axis()) * from.axes}));
      most_room_m = std::max(most_room_m, room_m);
    }
    looked_.least_m = std::min(looked_.least_m, most_room_m);
  }

  void carry() {
    std::optional<Vec3> heading;
    for (const auto& leg : route_.legs)
      for (std::size_t p = 0; p + 1 < leg.poses.size(); ++p) {
        const auto &a = leg.poses[p], &b = leg.poses[p + 1];
        const Vec3 step = b.hand - a.hand, begun = made_across(step, a.outward);
        if (heading) swing(a, *heading, begun);
        for (int i = 0; i <= 30; ++i) {
          const double t = i / 30.0;
          const Vec3 up = slerp(a.outward, b.outward, t).normalized();
          see(held(a.hand + t * step + world_.graph.body().stand_off_m * slerp(a.stance, b.stance, t), up,
                   made_across(step, up)));
        }
        heading = made_across(step, b.outward);
      }
  }
  [[nodiscard]] BoxPose held(const Vec3& body, const Vec3& up, const Vec3& forward) const {
    const Eigen::Matrix3d axes = frame(forward, up);
    return {body + axes * load_->offset_m, axes};
  }
  void swing(const route::Pose& at, const Vec3& from, const Vec3& to) {
    if ((from - to).norm() < 1e-6) return;
    ++looked_.turns;
    const double angle = std::atan2(from.cross(to).dot(at.outward), from.dot(to));
    double most_room_m = -1;
    for (const double by : {angle, angle - std::copysign(2 * std::numbers::pi, angle)}) {
      if (by != angle && std::numbers::pi - std::abs(angle) > 1e-6) continue;
      double room_m = 1e9;
      for (int i = 0; i <= 60; ++i)
        room_m =
            std::min(room_m, distance(held(at.body, at.outward, Eigen::AngleAxisd(by * i / 60, at.outward) * from)));
      most_room_m = std::max(most_room_m, room_m);
    }
    looked_.least_m = std::min(looked_.least_m, most_room_m);
  }

  const World& world_;
  const support::FclScene fcl_;
  const route::Route& route_;
  const Load* load_ = nullptr;
  Looked looked_;
};

// ---- against the replay ---------------------------------------------------------------------------------------------

/// Spokes of rails about the origin, each outward a little askew, and posts between them.
model::Structure spokes(std::mt19937_64& random) {
  const auto uniform = [&](double low, double high) {
    return std::uniform_real_distribution<double>(low, high)(random);
  };
  YardBuilder yard;
  const auto pebble = yard.nowhere();
  double angle = uniform(0, 1);
  for (int spoke = 0; spoke < 3; ++spoke) {
    const Vec3 along(std::cos(angle), std::sin(angle), 0);
    const Vec3 outward = random() % 2 ? Vec3(-Vec3::UnitZ()) : Vec3(uniform(-0.3, 0.3), uniform(-0.3, 0.3), -1);
    yard.rail("spoke-" + std::to_string(spoke), pebble, {0.1 * along, 1.6 * along}, {outward.normalized()});
    yard.place("end-" + std::to_string(spoke), 1.6 * along, 0.01);
    angle += uniform(1.2, 2.4);
  }
  yard.place("middle", {0, 0, 0}, 0.2);
  for (int post = 0; post < 5; ++post) {
    const double at = uniform(0, 2 * std::numbers::pi), away = uniform(0.4, 1.1);
    model::Pose turned = model::Pose::Identity();
    turned.translate(Vec3(away * std::cos(at), away * std::sin(at), uniform(-1.1, -0.3)))
        .rotate(Eigen::AngleAxisd(uniform(0, 3), Vec3::UnitZ()));
    yard.part("post-" + std::to_string(post), model::Box{.size = {uniform(0.05, 0.2), 0.1, uniform(0.2, 1)}}, turned);
  }
  return yard.structure;
}

TEST(LoadLegs, KeepTheClearanceThatIsReportedWhenReplayedInSmallSteps) {
  constexpr int seed = 81;
  std::mt19937_64 random(seed);
  const auto uniform = [&](double low, double high) {
    return std::uniform_real_distribution<double>(low, high)(random);
  };
  int routes = 0, near = 0, turns = 0;
  for (int round = 0; round < 260; ++round) {
    const World world(spokes(random), {.corridor_radius_m = 0.2, .spacing_m = 0.3});
    const Load towed = in_tow({uniform(0.3, 1.4), uniform(0.05, 0.4), uniform(0.05, 0.4)}, uniform(0.2, 0.9));
    const Load carried = beside({uniform(0.2, 1.0), 0.1, 0.2}, {uniform(-0.1, 0.3), uniform(-0.5, 0.5), 0});
    const Load& load = round % 4 == 3 ? carried : towed;
    const auto answer = round % 2 == 0 ? ask(world, {&load}, "end-0", {"middle"}, "end-1")
                                       : ask(world, {&load}, "end-0", {"middle", "end-1", "middle"}, "end-2");
    if (!answer.route()) continue;
    ++routes;
    const auto looked = Replay(world, *answer.route()).look(load);
    turns += looked.turns;
    ASSERT_TRUE(answer.route()->load_clearance);
    const double reported_m = answer.route()->load_clearance->clearance.value_m;
    if (reported_m < 0.2) ++near;
    // The replay's points are 1 to 2 mm apart and joined by chords: it sees the distance within that.
    ASSERT_GE(looked.least_m, reported_m - 0.002) << "seed " << seed << ", round " << round;
    ASSERT_GT(looked.least_m, 0) << "seed " << seed << ", round " << round;
  }
  EXPECT_GT(routes, 60);
  EXPECT_GT(near, 30);
  EXPECT_GT(turns, 60);
}

// ---- closed forms ---------------------------------------------------------------------------------------------------

/// Two lines of rails that meet at a right angle, and a post on each diagonal: room along the lines, little to turn.
model::Structure crossing(double post_m) {
  YardBuilder yard;
  const auto pebble = yard.nowhere();
  yard.rail("in", pebble, {{-3, 0, 0}, {0, 0, 0}}, {-Vec3::UnitZ()});
  yard.rail("out", pebble, {{0, 0.2, 0}, {0, 3.2, 0}}, {-Vec3::UnitZ()});
  for (const double x : {-1, 1})
    for (const double y : {-1, 1})
      yard.part("post", model::Box{.center = {x * post_m, y * post_m, -0.55}, .size = {0.1, 0.1, 1}});
  yard.place("a", {-3, 0, 0}, 0.01), yard.place("corner", {0, 0, 0}, 0.01), yard.place("b", {0, 3.2, 0}, 0.01);
  return yard.structure;
}

TEST(LoadLegs, ALoadInTowTurnsAtAPlaceOnlyWhereItsDiagonalHasRoom) {
  // A rectangle l x w that turns about its middle sweeps the disc of radius hypot(l, w) / 2 (elementary); the posts'
  // nearest edges stand on the diagonals, sqrt(2) (0.5 - 0.05) from the corner.
  const World world(crossing(0.5), {.corridor_radius_m = 0.3});
  const double room_m = std::numbers::sqrt2 * 0.45 - graph::load_margin_m, wide = 0.1;
  const auto length_of = [&](double radius_m) { return std::sqrt(4 * radius_m * radius_m - wide * wide); };
  const Load shorter = in_tow({length_of(room_m - 0.006), wide, wide}, 0.8),
             longer = in_tow({length_of(room_m + 0.001), wide, wide}, 0.8);
  const auto passes = ask(world, {&shorter}, "a", {"corner"}, "b");
  ASSERT_TRUE(passes.route());
  EXPECT_LT(passes.route()->load_clearance->clearance.value_m, 0.008) << "the turn is the tightest";
  EXPECT_FALSE(ask(world, {&longer}, "a", {"corner"}, "b").route());
  // Along each line by itself there is room.
  EXPECT_TRUE(ask(world, {&longer}, "a", {}, "corner").route());
  EXPECT_TRUE(ask(world, {&longer}, "corner", {}, "b").route());
  // Back the way one came nothing turns: the box is towed by its other end.
  EXPECT_TRUE(ask(world, {&longer}, "a", {"corner"}, "a").route());
}

TEST(LoadLegs, ARouteOfNoMovesHasTheClearanceOfStandingThere) {
  YardBuilder yard;
  yard.rail("line", yard.nowhere(), {{-1, 0, 0}, {1, 0, 0}}, {-Vec3::UnitZ()});
  yard.part("wall", model::Box{.center = {0, 1.0, -0.55}, .size = {6, 1, 2}});  // 0.5 m from the body axis
  yard.place("a", {0, 0, 0}, 0.01);
  const World world(yard.structure, {.corridor_radius_m = 0.3});
  const Load towed = in_tow({0.8, 0.4, 0.4}, 0.5);
  const auto answer = ask(world, {&towed}, "a", {}, "a");
  ASSERT_TRUE(answer.route());
  EXPECT_EQ(answer.route()->moves, 0u);
  EXPECT_LE(answer.route()->load_clearance->clearance.value_m, 0.3) << "0.5 m less half the width";
  const Load carried = beside({0.8, 0.4, 0.4}, {0, 0, 0});
  const auto held = ask(world, {&carried}, "a", {}, "a");
  ASSERT_TRUE(held.route());
  EXPECT_LE(held.route()->load_clearance->clearance.value_m, 0.3);
}

TEST(LoadLegs, AZoneThatTheLoadEntersAsItIsDrawnInCountsTheStayThere) {
  // The load stays 1.5 m behind until the leg's end, where it is drawn in to the mover and put down: in the zone.
  YardBuilder yard;
  yard.rail("line", yard.nowhere(), {{-3, 0, 0}, {0, 0, 0}}, {-Vec3::UnitZ()});
  yard.zone("lamp", model::Sphere{.center = {0, 0, -0.55}, .radius = 0.3}, model::ZoneEffect::Limit,
            {.body = false, .load = true});
  yard.structure.zones.back().limit_s = 1000;
  yard.place("a", {-3, 0, 0}, 0.01), yard.place("b", {0, 0, 0}, 0.01);
  const World world(yard.structure);
  const Load towed = in_tow({0.4, 0.2, 0.2}, 1.5);
  const auto answer = ask(world, {&towed}, "a", {}, "b");
  ASSERT_TRUE(answer.route());
  ASSERT_EQ(answer.route()->zones.size(), 1u);
  const auto& suit = world.kit.suits.front();
  EXPECT_GE(answer.route()->zones[0].inside_s, suit.stop_s + towed.stow_s - 1e-9);
}

}  // namespace
}  // namespace holdfast
