// SPDX-License-Identifier: GPL-3.0-or-later
// The figure and its zones: closed forms, dense sampling, and a second library for the room it takes.

#include "holdfast/reach/figure.h"

#include <gtest/gtest.h>

#include <cmath>
#include <numbers>
#include <random>

#include "holdfast/geometry/scene.h"
#include "holdfast/model/kit.h"
#include "holdfast/reach/body.h"
#include "second_opinion.h"
#include "yard_builder.h"

namespace holdfast::reach {
namespace {

constexpr double pi = std::numbers::pi;
constexpr double degree = pi / 180;
const model::Figure figure = model::default_figure();
const SocketPlace floor_socket{Vec3::Zero(), Vec3::UnitZ(), Vec3::UnitX()};

Setting setting(double roll_deg, double pitch_deg, double height_m = 0.3, double yaw_deg = 0) {
  return {0, roll_deg * degree, pitch_deg * degree, height_m, yaw_deg * degree};
}

// Roll, pitch, yaw are the Z-Y-Z angles of the body frame: R_z(roll) R_y(pitch) R_z(yaw) (any text on rotations).
TEST(Frame, IsRollThenPitchThenYaw) {
  for (const double roll : {0.0, 30.0, 210.0})
    for (const double pitch : {-30.0, 0.0, 45.0, 90.0})
      for (const double yaw : {-90.0, 0.0, 30.0}) {
        const Eigen::Matrix3d turn =
            (Eigen::AngleAxisd(roll * degree, Vec3::UnitZ()) * Eigen::AngleAxisd(pitch * degree, Vec3::UnitY()) *
             Eigen::AngleAxisd(yaw * degree, Vec3::UnitZ()))
                .toRotationMatrix();
        const BodyFrame frame = frame_in(floor_socket, setting(roll, pitch, 0.4, yaw));
        EXPECT_LT((frame.up - turn.col(2)).norm(), 1e-12);
        EXPECT_LT((frame.forward - turn.col(0)).norm(), 1e-12);
        EXPECT_LT((frame.left() - turn.col(1)).norm(), 1e-12);
        EXPECT_LT((frame.soles - Vec3(0, 0, 0.4)).norm(), 1e-12) << "pitch does not move the soles";
      }
}

TEST(Frame, PitchOf90DegFacesTheSurface) {
  const BodyFrame frame = frame_in(floor_socket, setting(0, 90));
  EXPECT_LT((frame.up - Vec3::UnitX()).norm(), 1e-12);
  EXPECT_LT((frame.forward + Vec3::UnitZ()).norm(), 1e-12);
}

TEST(Frame, LeaningKeepsTheBootsAndTurnsBySway) {
  const BodyFrame frame = frame_in(floor_socket, setting(40, 20));
  for (int k = 0; k < lean_count; ++k) {
    const BodyFrame leaning = lean(frame, 0.3, k * 2 * pi / lean_count);
    EXPECT_EQ(leaning.soles, frame.soles);
    EXPECT_NEAR(std::acos(leaning.up.dot(frame.up)), 0.3, 1e-9);
    EXPECT_NEAR(leaning.up.dot(leaning.forward), 0, 1e-12);
    const Vec3 toward = std::cos(k * pi / 6) * frame.forward + std::sin(k * pi / 6) * frame.left();
    EXPECT_NEAR(leaning.up.dot(toward), std::sin(0.3), 1e-12);
  }
}

TEST(Settings, ArePosesEachOnceInOrder) {
  model::Socket socket;
  model::FootRestraint restraint = model::default_foot_restraint();
  EXPECT_EQ(find_settings(socket, restraint).size(), 12U * 9U) << "roll x pitch";
  // Upright, roll and yaw turn the same thing: 12 poses, not 144.
  restraint.pitch_rad.values = {0};
  restraint.yaw_rad.values.clear();
  for (int k = 0; k < 12; ++k) restraint.yaw_rad.values.push_back((-180 + 30 * k) * degree);
  const auto settings = find_settings(socket, restraint);
  ASSERT_EQ(settings.size(), 12U);
  for (const auto& s : settings) EXPECT_EQ(s.roll, 0) << "named by the first roll";
  EXPECT_EQ(settings.front().yaw_rad, 0);
  EXPECT_GE(settings.back().yaw_rad, -pi);
  restraint = model::default_foot_restraint();
  const auto all = find_settings(socket, restraint);
  EXPECT_EQ(all[0].pitch_rad, 0);
  EXPECT_NEAR(all[1].pitch_rad, -15 * degree, 1e-12) << "|pitch|, then pitch";
  EXPECT_NEAR(all[2].pitch_rad, 15 * degree, 1e-12);
}

// A free hold of the default suit: the grip is 0.55 m out of the chest, the shoulders 0.15 m up and 0.20 m beside.
TEST(Zones, DefaultFigureHoldsItsGrip) {
  const BodyFrame frame{-figure.chest_m * Vec3::UnitZ(), Vec3::UnitZ(), Vec3::UnitX()};
  const Zones zones = zones_of(figure, frame);
  const Vec3 grip(0.55, 0, 0);
  for (const Hand hand : both_hands) {
    const Vec3 line = grip - zones.hand[hand].apex;
    EXPECT_NEAR(line.norm(), std::sqrt(0.55 * 0.55 + 0.20 * 0.20 + 0.15 * 0.15), 1e-12);
    const double angle = std::acos(line.normalized().dot(zones.hand[hand].axis)) / degree;
    EXPECT_NEAR(angle, 33.8, 0.05);
    EXPECT_NEAR(-zones.hand[hand].distance_m(grip), 0.65 - line.norm(), 1e-12);
  }
}

TEST(Zones, TwoHandMeansEitherHandToo) {
  std::mt19937 random(7);
  std::uniform_real_distribution<double> at(-0.8, 0.8);
  const BodyFrame frame{Vec3::Zero(), Vec3::UnitZ(), Vec3::UnitX()};
  const Zones zones = zones_of(figure, frame);
  int found = 0;
  for (int i = 0; i < 20000; ++i) {
    const Vec3 p = frame.at(figure.chest_m) + Vec3(at(random), at(random), at(random));
    if (zones.two_hand_distance_m(p) > 0) continue;
    ++found;
    EXPECT_LE(zones.hand[Left].distance_m(p), 0);
    EXPECT_LE(zones.hand[Right].distance_m(p), 0);
    EXPECT_LE((p - zones.two_hand).norm(), figure.two_hand_radius_m);
  }
  EXPECT_GT(found, 100);
}

// Distances to a cone-cut ball against the nearest of many points of it (outside) and of its boundary (inside).
TEST(Zones, DistanceAgreesWithDenseSampling) {
  std::mt19937 random(11);
  std::uniform_real_distribution<double> at(-1, 1), unit(0, 1);
  for (const double half_deg : {20.0, 70.0, 90.0, 130.0}) {
    HandZone zone{Vec3(0.1, -0.2, 0.3), Vec3(1, 2, -2).normalized(), half_deg * degree, 0.65};
    const Eigen::Quaterniond turn = Eigen::Quaterniond::FromTwoVectors(Vec3::UnitZ(), zone.axis);
    const int n = 60;
    for (int i = 0; i < 60; ++i) {
      const Vec3 p = zone.apex + 1.1 * Vec3(at(random), at(random), at(random));
      // The zone is round about its axis: its nearest point lies in the half plane of the point.
      const Vec3 local = turn.conjugate() * (p - zone.apex);
      const double phi = std::atan2(local.y(), local.x());
      double nearest = 1e9, boundary = 1e9;
      for (int a = 0; a <= 20 * n; ++a)
        for (int b = 0; b <= n; ++b) {
          const double t = zone.half_angle_rad * a / (20 * n), r = zone.radius_m * b / n;
          const Vec3 q = r * Vec3(std::sin(t) * std::cos(phi), std::sin(t) * std::sin(phi), std::cos(t));
          const double d = (local - q).norm();
          nearest = std::min(nearest, d);
          if (a == 20 * n || b == n) boundary = std::min(boundary, d);
        }
      const double ours = zone.distance_m(p);
      const double step = 0.65 / n;  // no point of the zone is farther from a sample
      if (ours > 0)
        EXPECT_NEAR(ours, nearest, step) << half_deg << " deg";
      else
        EXPECT_NEAR(-ours, boundary, step) << half_deg << " deg";
      if (ours > 0) EXPECT_LE(ours, nearest + 1e-9) << "never farther than a point of the zone";
    }
  }
}

// What lies level with the socket: both hands from every direction at 1.2 to 1.4 m, one at 0.9 to 1.9, none below 0.8
// or beyond 2.0. With a rigid body both hands get to a part of the directions only.
TEST(Zones, ReachRoundASocket) {
  const auto settings = find_settings(model::Socket{}, model::default_foot_restraint());
  const auto best = [&](double out_m, double azimuth, double sway_rad) {
    const Vec3 p(out_m * std::cos(azimuth), out_m * std::sin(azimuth), 0);
    std::pair<bool, bool> two_one{false, false};
    for (const auto& s : settings) {
      const BodyFrame frame = frame_in(floor_socket, s);
      for (int k = -1; k < (sway_rad > 0 ? lean_count : 0); ++k) {
        const Zones zones = zones_of(figure, k < 0 ? frame : lean(frame, sway_rad, k * pi / 6));
        two_one.first = two_one.first || zones.two_hand_distance_m(p) <= tolerance_m;
        for (const Hand hand : both_hands)
          two_one.second = two_one.second || zones.hand[hand].distance_m(p) <= tolerance_m;
      }
    }
    return two_one;
  };
  int rigid = 0;
  for (int i = 0; i < 24; ++i) {
    const double azimuth = i * pi / 12 + 0.05;
    for (const double out : {1.2, 1.3, 1.4}) EXPECT_TRUE(best(out, azimuth, 15 * degree).first) << out;
    for (const double out : {0.9, 1.9}) EXPECT_TRUE(best(out, azimuth, 15 * degree).second) << out;
    for (const double out : {0.7, 2.05}) EXPECT_FALSE(best(out, azimuth, 15 * degree).second) << out;
    rigid += best(1.3, azimuth, 0).first ? 1 : 0;
  }
  EXPECT_LT(rigid, 24);
}

model::Pose random_pose(std::mt19937& random, double spread) {
  std::normal_distribution<double> normal;
  std::uniform_real_distribution<double> at(-spread, spread);
  model::Pose pose = model::Pose::Identity();
  pose.translation() = Vec3(at(random), at(random), at(random));
  pose.linear() = Eigen::Quaterniond(normal(random), normal(random), normal(random), normal(random))
                      .normalized()
                      .toRotationMatrix();
  return pose;
}

// The trunk against FCL, the capsule against CGAL's distances along its axis: 500 scenes of three turned boxes.
TEST(BodyClearance, AgreesWithFclAndCgalAndNeverFitsOnContact) {
  std::mt19937 random(17);
  std::uniform_real_distribution<double> size(0.2, 1.2);
  int fits = 0, collides = 0;
  for (int i = 0; i < 500; ++i) {
    SCOPED_TRACE("seed 17, scene " + std::to_string(i));
    support::YardBuilder yard;
    for (int b = 0; b < 3; ++b) {
      const auto part =
          yard.part("box-" + std::to_string(b), model::Box{.size = {size(random), size(random), size(random)}});
      yard.structure.parts[part.index()].at = random_pose(random, 1.6);
    }
    const auto scene = geometry::build_scene(yard.structure, yard.structure.default_configuration());
    geometry::TriangleMesh mesh;
    bool is_inside = false;
    model::Pose pose = random_pose(random, 0.5);
    const BodyFrame frame{pose.translation(), pose.linear().col(2), pose.linear().col(0)};
    const Solids solids = solids_of(figure, frame);
    for (std::size_t p = 0; p < 3; ++p) {
      const auto one = scene.part_mesh(model::PartId(p));
      const auto base = static_cast<std::uint32_t>(mesh.vertices.size());
      mesh.vertices.insert(mesh.vertices.end(), one.vertices.begin(), one.vertices.end());
      for (const auto& t : one.triangles) mesh.triangles.push_back({t[0] + base, t[1] + base, t[2] + base});
    }
    const support::FclScene fcl(mesh);
    const support::CgalTree cgal(mesh);
    const Vec3 middle = (solids.trunk[0] + solids.trunk[7]) / 2;
    const Vec3 half((figure.depth_front_m + figure.depth_back_m) / 2, figure.breadth_m / 2,
                    (figure.shoulders_m + 0.10 - figure.hips_m) / 2);
    Eigen::Matrix3d axes;
    axes << frame.forward, frame.left(), frame.up;
    const Eigen::Quaterniond turn(axes);
    double capsule = 1e9;
    for (int k = 0; k <= 400; ++k) {
      const Vec3 p = solids.axis[0] + k / 400.0 * (solids.axis[1] - solids.axis[0]);
      capsule = std::min(capsule, cgal.distance(p) - solids.radius_m);
      is_inside = is_inside || scene.distance(p, 1) <= 0;
    }
    const BodyTester tester(scene, figure);
    const BodyClearance ours = tester.clearance(frame);
    // A box of the scene wholly inside the trunk, or the trunk's middle in one, touches no surface: ask for points.
    bool is_swallowed = scene.distance(middle, 1) <= 0;
    for (const auto& v : mesh.vertices) is_swallowed = is_swallowed || is_in_solids(figure, frame, v);
    if (is_inside || is_swallowed || fcl.is_box_touching(middle, turn, half) || capsule <= 0) {
      EXPECT_FALSE(ours.fits());
      ++collides;
    } else {
      const double theirs = std::min({capsule, fcl.box_distance(middle, turn, half), most_clearance_m});
      EXPECT_LE(ours.lower_m, theirs + 1e-3) << "FCL's own tolerance";
      EXPECT_GE(ours.lower_m, theirs - 2e-3);
      ++fits;
    }
  }
  EXPECT_GT(fits, 50);
  EXPECT_GT(collides, 50);
}

// Contact is not clear, and a hair off is: a floor under a figure that lies on its chest.
TEST(BodyClearance, OfAFloorIsTheClosedForm) {
  for (const double gap : {-0.01, 0.0, 0.002, 0.1}) {
    support::YardBuilder yard;
    yard.part("floor", model::Box{.center = {0, 0, -0.5 - gap}, .size = {10, 10, 1}});
    const auto scene = geometry::build_scene(yard.structure, yard.structure.default_configuration());
    const BodyTester tester(scene, figure);
    const BodyFrame frame{Vec3(0, 0, 0.25), Vec3::UnitX(), -Vec3::UnitZ()};
    const auto clearance = tester.clearance(frame);
    EXPECT_EQ(clearance.fits(), gap > 0) << gap;
    if (gap > 0) {
      EXPECT_LE(clearance.lower_m, gap);
      EXPECT_GE(clearance.lower_m, gap - 3e-4);
    } else {
      const Depth depth = tester.depth(frame);
      EXPECT_FALSE(depth.is_at_least);
      EXPECT_GE(depth.value_m, -gap - 1e-9);
      EXPECT_LE(depth.value_m, -gap + 5e-4);
    }
  }
}

TEST(BodyClearance, KeepsOutOfBodyZonesAndMayTouchThem) {
  for (const double gap : {-0.01, 0.0, 0.01}) {
    support::YardBuilder yard;
    yard.nowhere();
    yard.zone("plume",
              model::OrientedBox{.pose = model::Pose(Eigen::Translation3d(0, 0, -0.5 - gap)), .size = {10, 10, 1}});
    const auto scene = geometry::build_scene(yard.structure, yard.structure.default_configuration());
    const auto clearance = BodyTester(scene, figure).clearance({Vec3(0, 0, 0.25), Vec3::UnitX(), -Vec3::UnitZ()});
    if (gap > 0) EXPECT_TRUE(clearance.fits());
    if (gap < 0) {
      EXPECT_FALSE(clearance.fits());
      ASSERT_TRUE(clearance.nearest.zone);
    }
  }
}

}  // namespace
}  // namespace holdfast::reach
