// SPDX-License-Identifier: GPL-3.0-or-later
// Trusses whose bars, node plates, hubs, posts and handrails are one skin, made by a union: no member is among the sure
// rails or the posts, each is told as doubtful with its reason, and the handrails stay.

#include <gtest/gtest.h>

#include "fuse.h"
#include "gusset_truss.h"
#include "holdfast/rails/rails.h"

namespace holdfast {
namespace {

using geometry::Vec3;

double distance_to(const std::vector<std::pair<Vec3, Vec3>>& pieces, const Vec3& p) {
  double best = 1e9;
  for (const auto& [a, b] : pieces) {
    const Vec3 d = b - a;
    const double t = std::clamp((p - a).dot(d) / std::max(d.squaredNorm(), 1e-12), 0.0, 1.0);
    best = std::min(best, (a + t * d - p).norm());
  }
  return best;
}

std::vector<std::pair<Vec3, Vec3>> pieces_of(const rails::FoundRail& rail) {
  std::vector<std::pair<Vec3, Vec3>> out;
  if (rail.is_handhold()) out.emplace_back(rail.points.front().at, rail.points.front().at);
  for (std::size_t i = 0; i + 1 < rail.points.size(); ++i) out.emplace_back(rail.points[i].at, rail.points[i + 1].at);
  return out;
}

/// True where its middle and one end or both lie on a member's line: of a post on a chord the foot alone does.
bool is_member(const support::GussetTruss& truss, const rails::FoundRail& rail) {
  constexpr double near_m = 0.015;
  const Vec3 a = rail.points.front().at, b = rail.points.back().at;
  const Vec3 middle = rail.points.size() > 2 ? rail.points[rail.points.size() / 2].at : Vec3((a + b) / 2);
  return distance_to(truss.members, middle) < near_m &&
         (distance_to(truss.members, a) < near_m || distance_to(truss.members, b) < near_m);
}

class FusedTrusses : public testing::TestWithParam<unsigned> {};

TEST_P(FusedTrusses, HaveNoMemberAmongTheSureAndPassNoneOver) {
  const unsigned seed = GetParam();
  support::Fused fused;
  const auto truss = support::GussetTrussMaker(seed).make([&](const geometry::TriangleMesh& mesh) {
    fused = support::fuse(mesh);
    return fused.mesh;
  });
  SCOPED_TRACE(testing::Message() << "seed " << seed << ", " << truss.railed.what);
  ASSERT_LE(20 * fused.left_apart, fused.bodies) << "the union failed";
  const auto found = rails::find_rails(support::named(truss.railed.mesh), {.design = model::default_design_values()});
  std::vector<support::FoundLine> sure;
  std::vector<std::pair<Vec3, Vec3>> told;
  for (const auto& rail : found.rails) {
    EXPECT_FALSE(is_member(truss, rail)) << rail.id << ", " << rail.length_m << " m from "
                                         << rail.points.front().at.transpose() << " to "
                                         << rail.points.back().at.transpose();
    if (rail.sureness != rails::Sureness::Sure) continue;
    support::FoundLine line;
    for (const auto& point : rail.points) line.points.push_back(point.at);
    line.outward = rail.segment_outward;
    sure.push_back(line);
  }
  for (const auto& post : found.posts) EXPECT_FALSE(is_member(truss, post)) << post.id << ", " << post.length_m << " m";
  for (const auto& piece : found.doubtful)
    for (const auto& one : pieces_of(piece)) told.push_back(one);
  // None is dropped: each bar that stands free over half a metre is told somewhere.
  for (const auto& [a, b] : truss.members) {
    if ((b - a).norm() < 0.5 + 2 * 0.3) continue;
    double met = 0;
    constexpr int steps = 40;
    for (int k = 0; k < steps; ++k) met += distance_to(told, a + (b - a) * (k + 0.5) / steps) < 0.015 ? 1 : 0;
    EXPECT_GT(met, 0) << "the bar from " << a.transpose() << " to " << b.transpose();
  }
  support::Score score;
  support::add_score(score, truss.railed, sure);
  EXPECT_GE(score.met_m, 0.98 * score.true_m) << "handrails of " << score.true_m << " m";
}
// Those without sheets whose union is made of all bodies but one in twenty.
INSTANTIATE_TEST_SUITE_P(Random, FusedTrusses,
                         testing::Values(3U, 4U, 5U, 7U, 9U, 11U, 12U, 14U, 15U, 16U, 17U, 19U, 21U, 22U, 24U));

}  // namespace
}  // namespace holdfast
