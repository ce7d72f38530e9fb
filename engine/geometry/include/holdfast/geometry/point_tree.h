// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// Points that are asked for by where they are: nearest, and within a distance.
//
//   const geometry::PointTree tree(points);
//   for (const auto index : tree.find_within(centre, 0.8)) use(points[index]);

#include <Eigen/Core>
#include <cstddef>
#include <memory>
#include <optional>
#include <vector>

namespace holdfast::geometry {

/// A k-d tree over a copy of the points. Read-only once built; may be asked from several threads.
class PointTree {
 public:
  explicit PointTree(std::vector<Eigen::Vector3d> points);
  ~PointTree();
  PointTree(PointTree&&) noexcept;
  PointTree& operator=(PointTree&&) noexcept;

  [[nodiscard]] std::size_t size() const;

  struct Nearest {
    std::size_t index = 0;
    double distance_m = 0;
  };
  /// Of several at the same distance the one with the smallest index; nothing in an empty tree.
  [[nodiscard]] std::optional<Nearest> find_nearest(const Eigen::Vector3d& point) const;
  /// At most `radius_m` away, inclusive, in the order of their indices.
  [[nodiscard]] std::vector<std::size_t> find_within(const Eigen::Vector3d& point, double radius_m) const;

 private:
  struct Index;
  std::unique_ptr<Index> index_;
};

}  // namespace holdfast::geometry
