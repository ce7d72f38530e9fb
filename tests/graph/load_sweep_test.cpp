// SPDX-License-Identifier: GPL-3.0-or-later
// Boxes swept along moves: against closed forms, and against dense sampling with an independent collision library.

#include "holdfast/graph/load_sweep.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <Eigen/Geometry>
#include <numbers>
#include <random>

#include "mesh_scene.h"
#include "second_opinion.h"
#include "yard_builder.h"

namespace holdfast {
namespace {

using graph::BesideSweep;
using graph::BoxPose;
using graph::GripId;
using graph::TowSweep;
using graph::Trail;
using model::Vec3;
using support::World;
using support::YardBuilder;

model::Load beside_load(Vec3 size, Vec3 offset = Vec3::Zero()) {
  model::Load load;
  load.id = load.name = "box";
  load.size_m = size, load.offset_m = offset;
  load.how = model::CarriedHow::Beside;
  return load;
}

model::Load towed_load(Vec3 size, double tow_m) {
  model::Load load = beside_load(size);
  load.how = model::CarriedHow::InTow;
  load.tow_length_m = tow_m;
  return load;
}

/// Two walls parallel to x, `gap` apart, about a rail along x whose body axis runs midway between them.
model::Structure slot(double gap) {
  YardBuilder yard;
  yard.part("left", model::Box{.center = {0, -gap / 2 - 0.5, -0.55}, .size = {20, 1, 4}});
  yard.part("right", model::Box{.center = {0, gap / 2 + 0.5, -0.55}, .size = {20, 1, 4}});
  yard.rail("rail", yard.nowhere(), {{-1, 0, 0}, {1, 0, 0}}, {-Vec3::UnitZ()});
  return yard.structure;
}

TEST(LoadSweep, ABoxGoesThroughASlotThatIsWiderThanIt) {
  const World world(slot(0.7));
  const auto fits = [&](double width) {
    const BesideSweep sweep(world.graph, beside_load({0.5, width, 0.3}), {});
    return sweep.move(GripId(0), GripId(3), Vec3::UnitX()).fits;
  };
  EXPECT_TRUE(fits(0.7 - 2 * graph::load_margin_m - 2e-3));
  EXPECT_FALSE(fits(0.7 - 2 * graph::load_margin_m + 1e-3));
  EXPECT_FALSE(fits(0.8));
}

TEST(LoadSweep, ABoxOnOneSideIsJudgedWhereItIs) {
  const World world(slot(2.0));
  // Middle 0.6 m to the left (up x forward: here -z x x = -y), so 0.4 m are left to that wall.
  const auto fits = [&](double width, const Vec3& heading, GripId from, GripId to) {
    return BesideSweep(world.graph, beside_load({0.2, width, 0.2}, {0, 0.6, 0}), {}).move(from, to, heading).fits;
  };
  EXPECT_TRUE(fits(0.78, Vec3::UnitX(), GripId(0), GripId(2)));
  EXPECT_FALSE(fits(0.82, Vec3::UnitX(), GripId(0), GripId(2)));
  const auto pose =
      BesideSweep(world.graph, beside_load({0.2, 0.2, 0.2}, {0, 0.6, 0}), {}).pose(GripId(0), Vec3::UnitX());
  EXPECT_NEAR(pose.middle.y(), -0.6, 1e-12);
  const auto back =
      BesideSweep(world.graph, beside_load({0.2, 0.2, 0.2}, {0, 0.6, 0}), {}).pose(GripId(0), -Vec3::UnitX());
  EXPECT_NEAR(back.middle.y(), 0.6, 1e-12) << "going the other way it is on the other side";
}

TEST(LoadSweep, ABoxTurnsInASlotAsFarAsItsSlantedWidthAllows) {
  // A rectangle l x w turned by a is l sin a + w cos a wide (elementary); it turns freely up to the first angle at
  // which that exceeds the slot.
  constexpr double gap = 0.9, length = 1.6, width = 0.3;
  const World world(slot(gap));
  const BesideSweep sweep(world.graph, beside_load({length, width, 0.2}), {});
  const double needed = gap - 2 * graph::load_margin_m;
  double limit = 0;
  while (length * std::sin(limit) + width * std::cos(limit) < needed) limit += 1e-5;
  const auto fits = [&](double angle) {
    return sweep.swing(GripId(3), Vec3::UnitX(), Vec3(std::cos(angle), std::sin(angle), 0)).fits;
  };
  EXPECT_TRUE(fits(limit - 0.01));
  EXPECT_TRUE(fits(-limit + 0.01));
  EXPECT_FALSE(fits(limit + 0.002));
  EXPECT_FALSE(fits(std::numbers::pi / 2));
}

TEST(LoadSweep, TurningAboutGoesEitherWay) {
  YardBuilder yard;
  yard.part("post", model::Box{.center = {0, 0.8, -0.55}, .size = {0.1, 0.1, 4}});
  yard.rail("rail", yard.nowhere(), {{-1, 0, 0}, {1, 0, 0}}, {-Vec3::UnitZ()});
  const World world(yard.structure);
  const GripId middle(7);
  ASSERT_NEAR(world.graph.grip(middle).hand.x(), 0, 1e-9);
  // A rod ahead of the mover: the post stands on one side, so only the other way round is free.
  const BesideSweep sweep(world.graph, beside_load({1, 0.1, 0.1}, {0.6, 0, 0}), {});
  EXPECT_TRUE(sweep.swing(middle, Vec3::UnitX(), -Vec3::UnitX()).fits);
  EXPECT_FALSE(sweep.swing(middle, Vec3::UnitX(), Vec3(-0.1, 1, 0).normalized()).fits);
}

TEST(LoadSweep, TheLongestRodRoundACornerIsThatOfTheLadderProblem) {
  // (a^(2/3) + b^(2/3))^(3/2): calculus textbooks; 4.161938 for corridors 2 and 1 wide.
  for (const auto& [a, b, longest] : {std::tuple(1.0, 1.0, 2.828427), std::tuple(2.0, 1.0, 4.161938)}) {
    EXPECT_NEAR(std::pow(std::cbrt(a * a) + std::cbrt(b * b), 1.5), longest, 1e-6);
    // The inner corner at (b, a): a block fills x > b, y > a. The outer walls are x = 0 and y = 0; the rod's ends slide
    // on them, which is the motion that needs least room, so the block alone decides.
    YardBuilder yard;
    yard.part("block", model::Box{.center = {b + 5, a + 5, 0}, .size = {10, 10, 2}});
    const auto scene = geometry::build_scene(yard.structure, yard.structure.default_configuration());
    const auto fits = [&](double length) {
      constexpr double thick = 1e-4;
      return graph::sweep_motion(
                 scene, {length, thick, thick},
                 [&](double u) {
                   const double angle = u * std::numbers::pi / 2;
                   BoxPose pose;
                   pose.middle = {length / 2 * std::cos(angle), length / 2 * std::sin(angle), 0};
                   pose.axes = Eigen::AngleAxisd(-angle, Vec3::UnitZ()).toRotationMatrix();
                   return pose;
                 },
                 std::numbers::pi / 2 * length)
          .fits;
    };
    EXPECT_TRUE(fits(longest - 0.03)) << a << " " << b;
    EXPECT_FALSE(fits(longest + 0.001)) << a << " " << b;
  }
}

TEST(LoadSweep, ATowedBoxFollowsTheWayBehindTheBody) {
  YardBuilder yard;
  yard.rail("rail", yard.nowhere(), {{0, 0, 0}, {6, 0, 0}}, {-Vec3::UnitZ()});
  const World world(yard.structure);
  const TowSweep tow(world.graph, towed_load({0.5, 0.3, 0.3}, 1.0), {});
  Trail trail;
  EXPECT_NEAR(tow.pose(trail, GripId(0)).middle.x(), 0, 1e-12) << "at the mover's side";
  for (std::uint32_t g = 0; g + 3 <= 30; g += 3) {
    trail = tow.follow(trail, GripId(g), GripId(g + 3));
    const double body = world.graph.grip(GripId(g + 3)).hand.x();
    const auto pose = tow.pose(trail, GripId(g + 3));
    EXPECT_NEAR(pose.middle.x(), std::max(0.0, body - 1.0), 1e-9);
    EXPECT_NEAR(pose.middle.z(), -0.55, 1e-9);
    EXPECT_GT(pose.axes.col(0).x(), 0.999999);
  }
  // However the straight run was gripped, the trail behind is the same.
  Trail other;
  for (std::uint32_t g = 0; g < 30; g += 2) other = tow.follow(other, GripId(g), GripId(g + 2));
  EXPECT_EQ(other.key(), trail.key());
}

// ---- against dense sampling with FCL --------------------------------------------------------------------------------

Vec3 slerp(const Vec3& u, const Vec3& v, double t) {
  const double angle = std::acos(std::clamp(u.dot(v), -1.0, 1.0));
  if (angle < 1e-9) return u;
  return (std::sin((1 - t) * angle) * u + std::sin(t * angle) * v) / std::sin(angle);
}

/// Obstacles as turned boxes, and single-point handholds with any outward directions.
struct RandomScene {
  explicit RandomScene(std::mt19937_64& random, int grips) : world(make(random, grips)), fcl(support::mesh_of(world)) {}

  static model::Structure make(std::mt19937_64& random, int grips) {
    const auto uniform = [&](double low, double high) {
      return std::uniform_real_distribution<double>(low, high)(random);
    };
    const auto direction = [&] { return Vec3(uniform(-1, 1), uniform(-1, 1), uniform(-1, 1)).normalized(); };
    YardBuilder yard;
    for (int k = 0; k < 4; ++k) {
      model::Pose at = model::Pose::Identity();
      at.translate(Vec3(uniform(-1.6, 1.6), uniform(-1.6, 1.6), uniform(-1.6, 1.6)))
          .rotate(Eigen::AngleAxisd(uniform(0, 3), direction()));
      yard.part("box-" + std::to_string(k),
                model::Box{.size = {uniform(0.1, 0.9), uniform(0.1, 0.9), uniform(0.1, 0.9)}}, at);
    }
    const auto pebble = yard.nowhere();
    Vec3 hand(uniform(-0.3, 0.3), uniform(-0.3, 0.3), uniform(-0.3, 0.3)), outward = direction();
    for (int g = 0; g < grips; ++g) {
      yard.rail("hold-" + std::to_string(g), pebble, {hand}, {outward});
      hand += uniform(0.1, 0.55) * direction();
      outward = (outward + 0.5 * direction()).normalized();
    }
    return yard.structure;
  }
  /// Least distance over the poses; 0 where FCL sees contact.
  template <class PoseAt>
  double sampled_distance(const Vec3& size, int samples, PoseAt&& pose_at) const {
    double least = 1e9;
    for (int i = 0; i <= samples; ++i) {
      const BoxPose pose = pose_at(static_cast<double>(i) / samples);
      const Eigen::Quaterniond turn(pose.axes);
      if (fcl.is_box_touching(pose.middle, turn, size / 2)) return 0;
      if (i % 8 == 0) least = std::min(least, fcl.box_distance(pose.middle, turn, size / 2));
    }
    return least;
  }

  World world;
  support::FclScene fcl;
};

Vec3 random_size(std::mt19937_64& random) {
  const auto uniform = [&](double low, double high) {
    return std::uniform_real_distribution<double>(low, high)(random);
  };
  return {uniform(0.1, 1.6), uniform(0.05, 0.7), uniform(0.05, 0.7)};
}

BoxPose pose_beside(const World& world, const graph::Grip& a, const graph::Grip& b, double t, const Vec3& offset) {
  const Vec3 up = slerp(a.outward, b.outward, t).normalized();
  const Vec3 step = b.hand - a.hand;
  const Vec3 forward = (step - step.dot(up) * up).normalized();
  BoxPose pose;
  pose.axes << forward, up.cross(forward), up;
  pose.middle = a.hand + t * step + world.graph.body().stand_off_m * slerp(a.stance, b.stance, t) + pose.axes * offset;
  return pose;
}

TEST(LoadSweepAgainstFcl, BesideNeverFitsWhereFclFindsContactAndSeldomRefusesWhatFits) {
  std::mt19937_64 random(5);
  int fits = 0, clear = 0, wrongly_refused = 0;
  for (int round = 0; round < 700; ++round) {
    const RandomScene scene(random, 2);
    const auto& graph = scene.world.graph;
    const auto& a = graph.grip(GripId(0));
    const auto& b = graph.grip(GripId(1));
    if (graph::headings_of(a, b).is_free) continue;
    const Vec3 size = random_size(random);
    const Vec3 offset(0, std::uniform_real_distribution<double>(-0.6, 0.6)(random), 0.1);
    const BesideSweep sweep(graph, beside_load(size, offset), {});
    const auto result = sweep.move(GripId(0), GripId(1), graph::headings_of(a, b).start);
    const double sampled =
        scene.sampled_distance(size, 160, [&](double t) { return pose_beside(scene.world, a, b, t, offset); });
    if (result.fits) {
      ++fits;
      ASSERT_GT(sampled, 0) << "round " << round;
    }
    if (sampled > 0.01 + 0.004) {  // the distance was taken every few millimetres
      ++clear;
      if (!result.fits) ++wrongly_refused;
    }
  }
  EXPECT_GT(fits, 100);
  EXPECT_GT(clear, 100);
  EXPECT_LT(wrongly_refused * 100, clear) << wrongly_refused << " of " << clear;
}

TEST(LoadSweepAgainstFcl, SwingsNeverFitWhereFclFindsContactAndSeldomRefuseWhatFits) {
  std::mt19937_64 random(6);
  int fits = 0, clear = 0, wrongly_refused = 0;
  for (int round = 0; round < 700; ++round) {
    const RandomScene scene(random, 1);
    const auto& grip = scene.world.graph.grip(GripId(0));
    const Vec3 up = grip.outward, from = up.unitOrthogonal();
    const double angle = std::uniform_real_distribution<double>(-3, 3)(random);
    const Vec3 to = Eigen::AngleAxisd(angle, up) * from;
    const Vec3 size = random_size(random), offset(0.1, 0.4, 0);
    const auto result = BesideSweep(scene.world.graph, beside_load(size, offset), {}).swing(GripId(0), from, to);
    const double sampled = scene.sampled_distance(size, 240, [&](double u) {
      BoxPose pose;
      const Vec3 forward = Eigen::AngleAxisd(u * angle, up) * from;
      pose.axes << forward, up.cross(forward), up;
      pose.middle = scene.world.graph.body_point(GripId(0)) + pose.axes * offset;
      return pose;
    });
    if (result.fits) {
      ++fits;
      ASSERT_GT(sampled, 0) << "round " << round;
    }
    if (sampled > 0.01 + 0.02) {  // eight samples of a wide swing are up to some centimetres apart
      ++clear;
      if (!result.fits) ++wrongly_refused;
    }
  }
  EXPECT_GT(fits, 100);
  EXPECT_LT(wrongly_refused * 100, clear) << wrongly_refused << " of " << clear;
}

TEST(LoadSweepAgainstFcl, InTowNeverFitsWhereFclFindsContact) {
  std::mt19937_64 random(7);
  int fits = 0, contacts = 0, clear = 0, wrongly_refused = 0;
  for (int round = 0; round < 450; ++round) {
    const RandomScene scene(random, 5);
    const auto& graph = scene.world.graph;
    const double tow = std::uniform_real_distribution<double>(0.3, 1.2)(random);
    const Vec3 size = random_size(random);
    const TowSweep sweep(graph, towed_load(size, tow), {});
    // The body's way as a dense polyline, with the outward direction at each point.
    std::vector<Vec3> way, outward;
    std::vector<double> along;
    std::vector<std::size_t> grip_at = {0};
    for (std::uint32_t g = 0; g + 1 < 5; ++g) {
      const auto& a = graph.grip(GripId(g));
      const auto& b = graph.grip(GripId(g + 1));
      for (int i = g == 0 ? 0 : 1; i <= 400; ++i) {
        const double t = i / 400.0;
        way.push_back(a.hand + t * (b.hand - a.hand) + graph.body().stand_off_m * slerp(a.stance, b.stance, t));
        outward.push_back(slerp(a.outward, b.outward, t));
        along.push_back(way.size() == 1 ? 0 : along.back() + (way.back() - way[way.size() - 2]).norm());
      }
      grip_at.push_back(way.size() - 1);
    }
    const auto index_at = [&](double s) {
      return static_cast<std::size_t>(
          std::min<std::ptrdiff_t>(std::lower_bound(along.begin(), along.end(), s) - along.begin(),
                                   static_cast<std::ptrdiff_t>(way.size()) - 1));
    };
    Trail trail;
    for (std::uint32_t g = 0; g + 1 < 5; ++g) {
      const auto step = sweep.move(trail, GripId(g), GripId(g + 1));
      const double first = std::min(along[grip_at[1]], tow);
      const double sampled = scene.sampled_distance(size, 640, [&](double u) {
        const double body = along[grip_at[g]] + u * (along[grip_at[g + 1]] - along[grip_at[g]]);
        const double load = std::max(0.0, body - tow);
        const double chord_end = load == 0 ? std::max(body, first) : body;
        BoxPose pose;
        const Vec3 forward = (way[index_at(chord_end)] - way[index_at(load)]).normalized();
        const Vec3 n = outward[index_at((load + body) / 2)];
        const Vec3 up = (n - n.dot(forward) * forward).normalized();
        pose.axes << forward, up.cross(forward), up;
        pose.middle = way[index_at(load)];
        return pose;
      });
      if (sampled == 0) ++contacts;
      if (sampled > 0.01 + 0.004) {
        ++clear;
        if (!step.sweep.fits) ++wrongly_refused;
      }
      if (!step.sweep.fits) break;
      ++fits;
      ASSERT_GT(sampled, 0) << "round " << round << " move " << g;
      trail = step.trail;
    }
  }
  EXPECT_GT(fits, 100);
  EXPECT_GT(contacts, 50);
  EXPECT_LT(wrongly_refused * 100, clear) << wrongly_refused << " of " << clear;
}

}  // namespace
}  // namespace holdfast
