// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// The configuration of a structure, conditions on it, and the vectors and poses of the model.

#include <Eigen/Core>
#include <Eigen/Geometry>
#include <map>
#include <string>
#include <vector>

namespace holdfast::model {

using Vec3 = Eigen::Vector3d;
using Pose = Eigen::Isometry3d;

/// One position for every switch of the structure.
struct Configuration {
  std::map<std::string, std::string> positions;  ///< switch id -> position
  friend bool operator==(const Configuration&, const Configuration&) = default;
};

/// Holds when, for every switch named, the configuration's position is among those listed. Empty: always holds.
struct When {
  std::map<std::string, std::vector<std::string>> any_of;
  [[nodiscard]] bool holds(const Configuration& configuration) const;
  [[nodiscard]] bool is_always() const { return any_of.empty(); }
};

}  // namespace holdfast::model
