// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// Worksites and sight in a picture: the figure in its restraint, what its hands reach, and what is seen of patches.
// Part of `Picture` (picture.h).

#include <array>
#include <string>
#include <vector>

#include "holdfast/geometry/mesh.h"
#include "holdfast/reach/reach.h"

namespace holdfast::picture {

using model::Vec3;

struct WorksiteTarget {
  std::string id, words;
  reach::Kind kind = reach::Kind::OutOfReach;
  Vec3 at = Vec3::Zero();
  std::vector<Vec3> shoulders;  ///< of the hands that reach it, where the body leans as it does for that
};

/// One figure, upright in its setting or hold.
struct Worksite {
  std::string name;    ///< socket or place
  std::string source;  ///< file of the result
  std::string words;   ///< setting, room, way in
  bool fits = true;
  geometry::TriangleMesh body, trunk;  ///< what it fills
  geometry::TriangleMesh plate;        ///< of the foot restraint; empty by free hand
  std::vector<Vec3> post;              ///< its ends, or none
  Vec3 chest = Vec3::Zero(), helmet = Vec3::Zero(), forward = Vec3::UnitX();
  double helmet_radius_m = 0;
  std::array<geometry::TriangleMesh, 2> hand_zones;  ///< by reach::Hand
  geometry::TriangleMesh two_hand_zone;              ///< the ball in front of the chest
  std::vector<WorksiteTarget> targets;
};

/// A window, a camera or a helmet with its field.
struct SightEye {
  std::string name;
  Vec3 at = Vec3::Zero(), direction = Vec3::UnitX();
  double half_angle_rad = 0;
  double length_m = 0;  ///< of the cone as drawn: to what it sees, or a little where it sees nothing
};

/// What is seen of a patch, by samples that stand for equal areas.
struct SeenPatch {
  struct Sample {
    Vec3 at = Vec3::Zero(), normal = Vec3::UnitZ();
    double side_m = 0;          ///< of a square of its area
    std::vector<bool> seen_by;  ///< by each of `looks`
    [[nodiscard]] bool is_seen() const;
  };
  struct Look {
    std::size_t eye = 0;  ///< into Picture::eyes
    std::string words;    ///< `73 to 76 % from 9.52 m`
  };
  std::string id, name, source;
  Vec3 middle = Vec3::Zero();
  std::vector<Look> looks;
  std::vector<Sample> samples;
};

}  // namespace holdfast::picture
