// SPDX-License-Identifier: GPL-3.0-or-later
#include "holdfast/geometry/point_tree.h"

#include <algorithm>
#include <cmath>
#include <cstdint>
#include <nanoflann.hpp>
#include <utility>

namespace holdfast::geometry {

using Eigen::Vector3d;

namespace {

struct Cloud {
  std::vector<Vector3d> points;
  [[nodiscard]] std::size_t kdtree_get_point_count() const { return points.size(); }
  [[nodiscard]] double kdtree_get_pt(std::size_t i, std::size_t axis) const {
    return points[i][static_cast<Eigen::Index>(axis)];
  }
  template <class Box>
  bool kdtree_get_bbox(Box&) const {
    return false;
  }
};

}  // namespace

struct PointTree::Index {
  explicit Index(std::vector<Vector3d> points)
      : cloud{std::move(points)}, tree(3, cloud, nanoflann::KDTreeSingleIndexAdaptorParams(16)) {
    tree.buildIndex();
  }
  const Cloud cloud;
  nanoflann::KDTreeSingleIndexAdaptor<nanoflann::L2_Simple_Adaptor<double, Cloud>, Cloud, 3> tree;
};

PointTree::PointTree(std::vector<Vector3d> points) : index_(std::make_unique<Index>(std::move(points))) {}
PointTree::~PointTree() = default;
PointTree::PointTree(PointTree&&) noexcept = default;
PointTree& PointTree::operator=(PointTree&&) noexcept = default;

std::size_t PointTree::size() const { return index_->cloud.points.size(); }

std::optional<PointTree::Nearest> PointTree::find_nearest(const Vector3d& point) const {
  if (size() == 0) return std::nullopt;
  std::uint32_t found = 0;
  double squared = 0;
  nanoflann::KNNResultSet<double, std::uint32_t> nearest(1);
  nearest.init(&found, &squared);
  index_->tree.findNeighbors(nearest, point.data(), nanoflann::SearchParams());
  // The tree takes any of those that are equally near.
  const auto& points = index_->cloud.points;
  const auto distance_of = [&](std::size_t i) { return (points[i] - point).norm(); };
  Nearest best{found, distance_of(found)};
  for (const std::size_t i : find_within(point, best.distance_m * (1 + 1e-9) + 1e-12))
    if (const double distance_m = distance_of(i); std::pair(distance_m, i) < std::pair(best.distance_m, best.index))
      best = {i, distance_m};
  return best;
}

std::vector<std::size_t> PointTree::find_within(const Vector3d& point, double radius_m) const {
  std::vector<std::size_t> within;
  if (size() == 0 || !(radius_m >= 0)) return within;
  // The tree counts those that are nearer than its radius, by squares: a little more is asked for, and each looked at.
  std::vector<std::pair<std::uint32_t, double>> near;
  nanoflann::SearchParams unsorted;
  unsorted.sorted = false;
  const double wider_m = radius_m * (1 + 1e-9) + 1e-9;
  index_->tree.radiusSearch(point.data(), wider_m * wider_m, near, unsorted);
  for (const auto& [i, squared] : near)
    if ((index_->cloud.points[i] - point).squaredNorm() <= radius_m * radius_m) within.push_back(i);
  std::sort(within.begin(), within.end());
  return within;
}

}  // namespace holdfast::geometry
