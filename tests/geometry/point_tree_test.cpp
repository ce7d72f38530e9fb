// SPDX-License-Identifier: GPL-3.0-or-later
#include "holdfast/geometry/point_tree.h"

#include <gtest/gtest.h>

#include <limits>
#include <random>

namespace holdfast::geometry {
namespace {

using Eigen::Vector3d;

TEST(PointTree, FindsWhatALookAtEveryPointFinds) {
  std::mt19937_64 random(7);
  std::uniform_int_distribution<int> whole(-6, 6);
  int ties = 0, found = 0;
  for (int set = 0; set < 40; ++set) {
    std::vector<Vector3d> points;
    // On a lattice: many are equally near, and many lie exactly on the radius.
    for (int i = 0; i < 10 * set; ++i)
      points.emplace_back(whole(random) * 0.15, whole(random) * 0.15, whole(random) * 0.15);
    const PointTree tree(points);
    EXPECT_EQ(tree.size(), points.size());
    for (int question = 0; question < 30; ++question) {
      const Vector3d at(whole(random) * 0.15, whole(random) * 0.15, whole(random) * 0.15);
      const double radius_m = (question % 5) * 0.15;
      std::vector<std::size_t> within;
      std::size_t best = points.size();
      double least = std::numeric_limits<double>::infinity();
      for (std::size_t i = 0; i < points.size(); ++i) {
        if ((points[i] - at).squaredNorm() <= radius_m * radius_m) within.push_back(i);
        const double distance_m = (points[i] - at).norm();
        ties += distance_m == least ? 1 : 0;
        if (distance_m < least) least = distance_m, best = i;
      }
      EXPECT_EQ(tree.find_within(at, radius_m), within);
      found += within.empty() ? 0 : 1;
      const auto nearest = tree.find_nearest(at);
      ASSERT_EQ(nearest.has_value(), !points.empty());
      if (!nearest) continue;
      EXPECT_EQ(nearest->index, best);
      EXPECT_EQ(nearest->distance_m, least);
    }
  }
  EXPECT_GT(ties, 100);
  EXPECT_GT(found, 100);
}

}  // namespace
}  // namespace holdfast::geometry
