// SPDX-License-Identifier: GPL-3.0-or-later
#include "holdfast/reach/figure.h"

#include <algorithm>
#include <cmath>
#include <numbers>
#include <tuple>

namespace holdfast::reach {

namespace {

constexpr double pi = std::numbers::pi;
/// The trunk's box ends above the shoulder joints by this. Assumption, as the rest of the figure.
constexpr double trunk_above_shoulders_m = 0.10;

Vec3 turned(const Vec3& v, const Vec3& axis, double angle_rad) { return Eigen::AngleAxisd(angle_rad, axis) * v; }

BoxCorners corners(const BodyFrame& frame, const Vec3& least, const Vec3& most) {
  BoxCorners box;
  const Vec3 left = frame.left();
  for (std::size_t i = 0; i < 8; ++i)
    box[i] = frame.soles + ((i & 1) != 0 ? most : least).x() * frame.forward +
             ((i & 2) != 0 ? most : least).y() * left + ((i & 4) != 0 ? most : least).z() * frame.up;
  return box;
}

struct Extent {
  Vec3 least, most;  // forward, left, up from the soles
};
Extent trunk_extent(const model::Figure& f) {
  return {{-f.depth_back_m, -f.breadth_m / 2, f.hips_m},
          {f.depth_front_m, f.breadth_m / 2, f.shoulders_m + trunk_above_shoulders_m}};
}

}  // namespace

SocketPlace place_of(const model::Structure& structure, const model::Socket& socket,
                     const model::Configuration& configuration) {
  const model::Pose pose = structure.frame_of(socket.part, configuration);
  return {pose * socket.at, pose.linear() * socket.axis, pose.linear() * socket.forward};
}

BodyFrame frame_in(const SocketPlace& socket, const Setting& setting) {
  const Vec3 rolled = turned(socket.forward, socket.axis, setting.roll_rad);
  const double c = std::cos(setting.pitch_rad), s = std::sin(setting.pitch_rad);
  BodyFrame frame;
  frame.soles = socket.at + setting.height_m * socket.axis;
  frame.up = (c * socket.axis + s * rolled).normalized();
  const Vec3 pitched = c * rolled - s * socket.axis;
  frame.forward = turned(pitched, frame.up, setting.yaw_rad);
  frame.forward = (frame.forward - frame.forward.dot(frame.up) * frame.up).normalized();
  return frame;
}

std::vector<Setting> find_settings(const model::Socket& socket, const model::FootRestraint& restraint) {
  std::vector<Setting> all;
  for (int roll = 0; roll < socket.roll_count; ++roll)
    for (const double pitch : restraint.pitch_rad.values)
      for (const double height : restraint.height_m.values)
        for (const double yaw : restraint.yaw_rad.values)
          all.push_back({roll, 2 * pi * roll / socket.roll_count, pitch, height, yaw});
  std::stable_sort(all.begin(), all.end(), [](const Setting& x, const Setting& y) {
    const auto key = [](const Setting& s) {
      return std::tuple(s.roll, std::abs(s.pitch_rad), s.pitch_rad, s.height_m, std::abs(s.yaw_rad), s.yaw_rad);
    };
    return key(x) < key(y);
  });
  // Whether two settings make one pose does not depend on the socket: tell it in any frame.
  const SocketPlace place{Vec3::Zero(), Vec3::UnitZ(), Vec3::UnitX()};
  std::vector<Setting> settings;
  std::vector<BodyFrame> frames;
  // Same poses have the same heights and the same body axis; sorting by them would find them faster, but the lists are
  // short, and the first in the order must stay.
  for (const auto& setting : all) {
    const BodyFrame frame = frame_in(place, setting);
    const bool is_known = std::any_of(frames.begin(), frames.end(), [&](const BodyFrame& other) {
      return std::abs(frame.soles.z() - other.soles.z()) <= 1e-6 && (frame.up - other.up).norm() <= 1e-6 &&
             (frame.forward - other.forward).norm() <= 1e-6;
    });
    if (is_known) continue;
    settings.push_back(setting);
    frames.push_back(frame);
  }
  return settings;
}

BodyFrame lean(const BodyFrame& frame, double sway_rad, double azimuth_rad) {
  const Vec3 toward = std::cos(azimuth_rad) * frame.forward + std::sin(azimuth_rad) * frame.left();
  const Eigen::AngleAxisd turn(sway_rad, frame.up.cross(toward).normalized());
  return {frame.soles, turn * frame.up, turn * frame.forward};
}

double HandZone::distance_m(const Vec3& p) const {
  const Vec3 from_apex = p - apex;
  const double d = from_apex.norm();
  const double t = d > 0 ? std::atan2(from_apex.cross(axis).norm(), from_apex.dot(axis)) : 0;
  const double over = t - half_angle_rad;
  if (over <= 0) {
    if (d > radius_m) return d - radius_m;
    return -std::min(radius_m - d, -over >= pi / 2 ? d : d * std::sin(-over));
  }
  if (over >= pi / 2) return d;
  const double foot = d * std::cos(over);
  if (foot <= radius_m) return d * std::sin(over);
  return std::sqrt(std::max(0.0, d * d + radius_m * radius_m - 2 * d * radius_m * std::cos(over)));
}

double Zones::two_hand_distance_m(const Vec3& p) const {
  return std::max({(p - two_hand).norm() - two_hand_radius_m, hand[Left].distance_m(p), hand[Right].distance_m(p)});
}

Zones zones_of(const model::Figure& figure, const BodyFrame& frame) {
  Zones zones;
  const Vec3 left = frame.left();
  const double o = figure.shoulder_outward_rad, d = figure.shoulder_down_rad;
  for (const Hand hand : both_hands) {
    const Vec3 outward = hand == Left ? left : Vec3(-left);
    zones.hand[hand] = {frame.at(figure.shoulders_m) + figure.shoulder_breadth_m / 2 * outward,
                        std::cos(d) * (std::cos(o) * frame.forward + std::sin(o) * outward) - std::sin(d) * frame.up,
                        figure.shoulder_half_angle_rad, figure.one_hand_reach_m};
  }
  zones.two_hand = frame.at(figure.chest_m) + figure.two_hand_out_m * frame.forward;
  zones.two_hand_radius_m = figure.two_hand_radius_m;
  return zones;
}

Solids solids_of(const model::Figure& figure, const BodyFrame& frame, double inset_m) {
  const double r = figure.body_radius_m;
  const Extent trunk = trunk_extent(figure);
  const Vec3 inset = Vec3::Constant(inset_m);
  return {{frame.at(r), frame.at(figure.height_m - r)},
          r - inset_m,
          corners(frame, trunk.least + inset, trunk.most - inset)};
}

bool is_in_solids(const model::Figure& figure, const BodyFrame& frame, const Vec3& p) {
  const Vec3 from_soles = p - frame.soles;
  const Vec3 local(from_soles.dot(frame.forward), from_soles.dot(frame.left()), from_soles.dot(frame.up));
  const Extent trunk = trunk_extent(figure);
  if ((local.array() >= trunk.least.array() - tolerance_m).all() &&
      (local.array() <= trunk.most.array() + tolerance_m).all())
    return true;
  const double r = figure.body_radius_m;
  const Vec3 nearest = frame.at(std::clamp(local.z(), r, figure.height_m - r));
  return (p - nearest).norm() <= r + tolerance_m;
}

BoxCorners plate_of(const model::FootRestraint& restraint, const BodyFrame& frame, double inset_m) {
  const double forward = restraint.footprint_m.values[0] / 2, side = restraint.footprint_m.values[1] / 2;
  const Vec3 inset = Vec3::Constant(inset_m);
  return corners(frame, Vec3(-forward, -side, -plate_thickness_m) + inset, Vec3(forward, side, 0) - inset);
}

std::optional<std::array<Vec3, 2>> post_of(const SocketPlace& socket, const Setting& setting) {
  constexpr double off_socket_m = 0.10;  // what is nearer is the socket itself
  if (setting.height_m <= off_socket_m + plate_thickness_m) return std::nullopt;
  return std::array{Vec3(socket.at + off_socket_m * socket.axis),
                    Vec3(socket.at + (setting.height_m - plate_thickness_m) * socket.axis)};
}

}  // namespace holdfast::reach
