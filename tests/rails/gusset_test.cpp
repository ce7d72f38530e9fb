// SPDX-License-Identifier: GPL-3.0-or-later
// Members of trusses whose nodes are plates, sheets or hubs: never among the sure rails and never among the posts, with
// handrails on posts on the same truss, which stay.

#include <gtest/gtest.h>

#include "gusset_truss.h"
#include "holdfast/rails/rails.h"

namespace holdfast {
namespace {

using geometry::Vec3;

double distance_to_members(const support::GussetTruss& truss, const Vec3& p) {
  double best = 1e9;
  for (const auto& [a, b] : truss.members) {
    const Vec3 d = b - a;
    const double t = std::clamp((p - a).dot(d) / d.squaredNorm(), 0.0, 1.0);
    best = std::min(best, (a + t * d - p).norm());
  }
  return best;
}

/// True where its middle and one end or both lie on a member's line: of a post on a chord the foot alone does.
bool is_member(const support::GussetTruss& truss, const rails::FoundRail& rail) {
  constexpr double near_m = 0.015;
  const Vec3 a = rail.points.front().at, b = rail.points.back().at;
  const Vec3 middle = rail.points.size() > 2 ? rail.points[rail.points.size() / 2].at : Vec3((a + b) / 2);
  return distance_to_members(truss, middle) < near_m &&
         (distance_to_members(truss, a) < near_m || distance_to_members(truss, b) < near_m);
}

/// Twelve seeds from this on.
class GussetTrusses : public testing::TestWithParam<unsigned> {};

TEST_P(GussetTrusses, HaveNoMemberAmongTheSureAndKeepTheirHandrails) {
  double members_m = 0, told_m = 0, rails_m = 0, sure_m = 0, any_m = 0;
  for (unsigned seed = GetParam(); seed < GetParam() + 12; ++seed) {
    const auto truss = support::GussetTrussMaker(seed).make();
    SCOPED_TRACE(testing::Message() << "seed " << seed << ", " << truss.railed.what);
    const auto found = rails::find_rails(support::named(truss.railed.mesh), {.design = model::default_design_values()});
    std::vector<support::FoundLine> sure, any;
    for (const auto& rail : found.rails) {
      const bool is_sure = rail.sureness == rails::Sureness::Sure;
      if (is_sure)
        EXPECT_FALSE(is_member(truss, rail))
            << rail.id << ", " << rail.length_m << " m from " << rail.points.front().at.transpose() << " to "
            << rail.points.back().at.transpose();
      support::FoundLine line;
      for (const auto& point : rail.points) line.points.push_back(point.at);
      line.outward = rail.segment_outward;
      any.push_back(line);
      if (is_sure) sure.push_back(line);
    }
    // A post is taken out of what bodies keep clear of.
    for (const auto& post : found.posts)
      EXPECT_FALSE(is_member(truss, post)) << post.id << ", " << post.length_m << " m";
    members_m += truss.member_m;
    for (const auto& piece : found.doubtful)
      if (is_member(truss, piece)) told_m += piece.length_m;
    support::Score of_sure, of_any;
    support::add_score(of_sure, truss.railed, sure);
    support::add_score(of_any, truss.railed, any);
    rails_m += of_any.true_m, sure_m += of_sure.met_m, any_m += of_any.met_m;
  }
  EXPECT_GT(told_m, 0.75 * members_m) << "what plates and hubs hide of their " << members_m << " m is not told";
  EXPECT_GE(any_m, 0.99 * rails_m) << "handrails of " << rails_m << " m";
  EXPECT_GE(sure_m, 0.99 * rails_m) << "handrails of " << rails_m << " m";
}
INSTANTIATE_TEST_SUITE_P(Random, GussetTrusses, testing::Values(1U, 13U, 25U, 37U, 49U, 61U, 73U, 85U));

}  // namespace
}  // namespace holdfast
