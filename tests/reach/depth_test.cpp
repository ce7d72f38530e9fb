// SPDX-License-Identifier: GPL-3.0-or-later
// How deep a foot restraint and a figure collide: never told too small. Against boxes by their own formulas.

#include <gtest/gtest.h>

#include <cmath>
#include <numbers>
#include <random>

#include "holdfast/geometry/scene.h"
#include "holdfast/model/kit.h"
#include "holdfast/reach/body.h"
#include "yard_builder.h"

namespace holdfast::reach {
namespace {

constexpr double degree = std::numbers::pi / 180;
const model::Figure figure = model::default_figure();
const model::FootRestraint restraint = model::default_foot_restraint();
const SocketPlace floor_socket{Vec3::Zero(), Vec3::UnitZ(), Vec3::UnitX()};

Setting high(double height_m, double pitch_deg = 0, double roll_deg = 0) {
  return {0, roll_deg * degree, pitch_deg * degree, height_m, 0};
}

struct Built {
  explicit Built(support::YardBuilder yard)
      : structure(std::move(yard.structure)),
        scene(geometry::build_scene(structure, structure.default_configuration())) {}
  const model::Structure structure;
  const geometry::Scene scene;
};

// A bar of 6 x 6 cm across the post, and nothing else near: the post's middle is 3 cm inside of it.
TEST(Depth, OfAPostAloneIsHowFarItLiesInside) {
  support::YardBuilder yard;
  yard.part("bar", model::Box{.center = {0, 0, 0.4}, .size = {0.06, 0.06, 0.2}});
  const Built built(std::move(yard));
  const BodyTester tester(built.scene, figure);
  const Setting setting = high(0.9);
  const BodyFrame frame = frame_in(floor_socket, setting);
  EXPECT_TRUE(tester.clearance(frame).fits()) << "the figure itself is clear";
  const auto clearance = tester.clearance(frame, restraint, floor_socket, setting);
  ASSERT_FALSE(clearance.fits());
  EXPECT_TRUE(clearance.is_restraint);
  const Depth depth = tester.depth(frame, restraint, floor_socket, setting);
  EXPECT_FALSE(depth.is_at_least);
  EXPECT_GE(depth.value_m, 0.03);
  EXPECT_LE(depth.value_m, 0.032);
}

// A slab beside the boots, level with the plate, reaches 0.1 m under its front edge.
TEST(Depth, OfAPlateAloneIsHowFarItLiesInside) {
  support::YardBuilder yard;
  yard.part("slab", model::Box{.center = {1.085, 0, 0.852}, .size = {2.0, 4.0, 0.104}});
  const Built built(std::move(yard));
  const BodyTester tester(built.scene, figure);
  const Setting setting = high(0.9);
  const BodyFrame frame = frame_in(floor_socket, setting);
  EXPECT_TRUE(tester.clearance(frame).fits()) << "the figure itself is clear";
  const auto clearance = tester.clearance(frame, restraint, floor_socket, setting);
  ASSERT_FALSE(clearance.fits());
  EXPECT_TRUE(clearance.is_restraint);
  const Depth depth = tester.depth(frame, restraint, floor_socket, setting);
  // The slab is from 0.800 to 0.904, the plate from 0.85 to 0.90: the deepest is halfway through the slab.
  EXPECT_GE(depth.value_m, 0.052);
  EXPECT_LE(depth.value_m, 0.052 + 0.03);
}

TEST(Depth, IsAtLeastWhereThePostIsBuried) {
  support::YardBuilder yard;
  yard.part("block", model::Box{.center = {0, 0, 0.8}, .size = {1.2, 1.2, 0.8}});
  const Built built(std::move(yard));
  const BodyTester tester(built.scene, figure);
  const Setting setting = high(1.5);
  const Depth depth = tester.depth(frame_in(floor_socket, setting), restraint, floor_socket, setting);
  EXPECT_TRUE(depth.is_at_least);
  EXPECT_EQ(depth.value_m, most_depth_told_m);
}

TEST(Depth, OfWhatFitsIsNone) {
  support::YardBuilder yard;
  yard.nowhere();
  const Built built(std::move(yard));
  const BodyTester tester(built.scene, figure);
  const Setting setting = high(0.3);
  EXPECT_EQ(tester.depth(frame_in(floor_socket, setting), restraint, floor_socket, setting).value_m, 0);
}

/// A turned box by its own formula: how deep a point lies inside of it, 0 outside.
struct Brick {
  model::Pose pose;
  Vec3 half;
  [[nodiscard]] double depth(const Vec3& p) const {
    return std::max(0.0, (half - (pose.inverse() * p).cwiseAbs()).minCoeff());
  }
};

/// Not above the way out of the union of bricks (some brick holds the point so deep), and not below it (a point outside
/// of all was found so near).
struct WayOut {
  double least = 0, most = 0;
};
WayOut way_out(const std::vector<Brick>& bricks, const Vec3& p, const std::vector<Vec3>& directions) {
  const auto held = [&](const Vec3& q) {
    double deepest = 0;
    for (const auto& brick : bricks) deepest = std::max(deepest, brick.depth(q));
    return deepest;
  };
  WayOut found{held(p), 0};
  if (found.least <= 0) return found;
  found.most = 10;
  for (const auto& direction : directions)
    for (double out = found.least; out < found.most; out += 0.004)
      if (held(p + out * direction) <= 0) found.most = out;
  return found;
}

// Random bricks, some of which overlap: what is told for the restraint is never below what points of it show, and above
// the way out of the deepest point by no more than is promised.
TEST(Depth, IsNeverTooSmallAmongRandomBricks) {
  std::mt19937 random(41);
  std::uniform_real_distribution<double> unit(0, 1);
  std::normal_distribution<double> normal;
  std::vector<Vec3> directions;
  for (int i = 0; i < 120; ++i) directions.push_back(Vec3(normal(random), normal(random), normal(random)).normalized());
  int posts = 0, plates = 0, deep = 0;
  for (int round = 0; round < 200; ++round) {
    SCOPED_TRACE("seed 41, scene " + std::to_string(round));
    support::YardBuilder yard;
    std::vector<Brick> bricks;
    for (int b = 0; b < 3; ++b) {
      Brick brick;
      brick.pose = model::Pose::Identity();
      brick.pose.translation() = Vec3(unit(random) - 0.5, unit(random) - 0.5, unit(random) * 0.45);
      brick.pose.linear() = Eigen::Quaterniond(normal(random), normal(random), normal(random), normal(random))
                                .normalized()
                                .toRotationMatrix();
      brick.half = Vec3(0.03 + 0.25 * unit(random), 0.03 + 0.25 * unit(random), 0.03 + 0.2 * unit(random));
      const auto part = yard.part("brick-" + std::to_string(b), model::Box{.size = 2 * brick.half});
      yard.structure.parts[part.index()].at = brick.pose;
      bricks.push_back(brick);
    }
    const Built built(std::move(yard));
    const BodyTester tester(built.scene, figure);
    const Setting setting = high(0.5 + 0.4 * unit(random), 60 * unit(random) - 20, 360 * unit(random));
    const BodyFrame frame = frame_in(floor_socket, setting);
    const Depth body = tester.depth(frame);
    const Depth told = tester.depth(frame, restraint, floor_socket, setting);
    EXPECT_GE(told.value_m, body.value_m);
    WayOut post, plate;
    const auto count = [&](WayOut& deepest, const Vec3& p) {
      const WayOut here = way_out(bricks, p, directions);
      deepest = {std::max(deepest.least, here.least), std::max(deepest.most, here.most)};
    };
    if (const auto line = post_of(floor_socket, setting))
      for (int k = 0; k <= 60; ++k) count(post, (*line)[0] + k / 60.0 * ((*line)[1] - (*line)[0]));
    const auto corners = plate_of(restraint, frame);
    for (int i = 0; i <= 8; ++i)
      for (int j = 0; j <= 10; ++j)
        count(plate, corners[0] + i / 8.0 * (corners[1] - corners[0]) + j / 10.0 * (corners[2] - corners[0]) +
                         (i + j) % 2 * (corners[4] - corners[0]));
    const double least = std::max(post.least, plate.least);
    if (!told.is_at_least)
      EXPECT_GE(told.value_m, least - 1e-9) << "of the restraint";
    else
      EXPECT_TRUE(body.is_at_least || std::max(post.most, plate.most) > 0.2);
    if (!told.is_at_least && told.value_m > body.value_m + 1e-9)
      EXPECT_LE(told.value_m, std::max(post.most, plate.most) + 0.06) << "a few centimetres too deep at most";
    posts += post.least > 0.02 && !body.is_at_least ? 1 : 0;
    plates += plate.least > 0.02 && !body.is_at_least ? 1 : 0;
    deep += told.is_at_least ? 1 : 0;
  }
  EXPECT_GT(posts, 10);
  EXPECT_GT(plates, 10);
  EXPECT_LT(deep, 180);
}

// Never 'fits' on contact: planes that touch the capsule or a corner of the trunk exactly, whichever way they are
// turned.
TEST(BodyClearance, NeverFitsOnContact) {
  std::mt19937 random(43);
  std::normal_distribution<double> normal;
  for (int i = 0; i < 400; ++i) {
    SCOPED_TRACE("seed 43, plane " + std::to_string(i));
    const Vec3 out = Vec3(normal(random), normal(random), normal(random)).normalized();
    const BodyFrame frame{Vec3(normal(random), normal(random), normal(random)), Vec3::UnitZ(), Vec3::UnitX()};
    const Solids solids = solids_of(figure, frame);
    double lowest = 1e9;  // of the figure along the plane's normal
    for (const auto& corner : solids.trunk) lowest = std::min(lowest, corner.dot(out));
    for (const auto& end : solids.axis) lowest = std::min(lowest, end.dot(out) - solids.radius_m);
    for (const double gap : {0.0, 1e-3}) {
      support::YardBuilder yard;
      const auto part = yard.part("slab", model::Box{.center = {0, 0, -0.5}, .size = {20, 20, 1}});
      model::Pose pose = model::Pose::Identity();
      pose.linear() = Eigen::Quaterniond::FromTwoVectors(Vec3::UnitZ(), out).toRotationMatrix();
      pose.translation() = frame.soles + (lowest - gap - frame.soles.dot(out)) * out;
      yard.structure.parts[part.index()].at = pose;
      const auto scene = geometry::build_scene(yard.structure, yard.structure.default_configuration());
      const auto clearance = BodyTester(scene, figure).clearance(frame);
      if (gap > 0) {
        EXPECT_TRUE(clearance.fits());
        EXPECT_LE(clearance.lower_m, gap + 1e-9);
      } else {
        EXPECT_FALSE(clearance.fits());
      }
    }
  }
}

}  // namespace
}  // namespace holdfast::reach
