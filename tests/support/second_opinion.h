// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// Distance and contact by independent libraries, behind plain types: CGAL's AABB_tree and FCL.

#include <Eigen/Geometry>
#include <memory>

#include "holdfast/geometry/mesh.h"

namespace holdfast::support {

class CgalTree {
 public:
  explicit CgalTree(const geometry::TriangleMesh& mesh);
  ~CgalTree();
  [[nodiscard]] double distance(const Eigen::Vector3d& p) const;
  [[nodiscard]] bool is_segment_blocked(const Eigen::Vector3d& a, const Eigen::Vector3d& b) const;

 private:
  struct Impl;
  std::unique_ptr<Impl> impl_;
};

class FclScene {
 public:
  explicit FclScene(const geometry::TriangleMesh& mesh);
  ~FclScene();
  [[nodiscard]] double box_distance(const Eigen::Vector3d& center, const Eigen::Quaterniond& turn,
                                    const Eigen::Vector3d& half) const;
  [[nodiscard]] bool is_box_touching(const Eigen::Vector3d& center, const Eigen::Quaterniond& turn,
                                     const Eigen::Vector3d& half) const;

 private:
  struct Impl;
  std::unique_ptr<Impl> impl_;
};

}  // namespace holdfast::support
