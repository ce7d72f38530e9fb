// SPDX-License-Identifier: GPL-3.0-or-later
// Members of trusses are never sure rails unless asked for: trusses at random of every common bracing, turned,
// decimated, perturbed. Each member is told as doubtful or as too thick, none is passed
// over.

#include <gtest/gtest.h>

#include <Eigen/Geometry>

#include "holdfast/rails/rails.h"
#include "railed_mesh.h"

namespace holdfast {
namespace {

using geometry::TriangleMesh;
using geometry::Vec3;

struct Truss {
  TriangleMesh mesh;
  double member_m = 0;
  std::string what;
};

class TrussMaker {
 public:
  explicit TrussMaker(unsigned seed) : random_(seed) {}

  Truss make() {
    const int faces = pick(0, 2);  // plane, three chords, four
    const int bracing = pick(0, 3);
    const int bays = pick(2, 6);
    const double bay = real(0.6, 1.6), width = real(0.5, 1.5), chord = real(0.012, 0.045);
    const double web = chord * real(0.5, 1), turn = real(0, 3);
    const int sides = pick(5, 16), corners = faces == 0 ? 2 : faces + 2;
    const auto at = [&](int k, double x) {
      if (faces == 0) return Vec3(x, 0, (k % 2) * width);
      const double a = 2 * std::numbers::pi * k / corners + turn;
      return Vec3(x, width / 1.4 * std::cos(a), width / 1.4 * std::sin(a));
    };
    for (int k = 0; k < corners; ++k) bar(at(k, 0), at(k, bay * bays), chord, sides);
    for (int k = 0; k < (faces == 0 ? 1 : corners); ++k)
      for (int i = 0; i <= bays; ++i) {
        if (bracing != 1) bar(at(k, bay * i), at(k + 1, bay * i), web, sides);  // Warren has no verticals
        if (i == bays) break;
        const double x = bay * i, half = bay * (i + 0.5), next = bay * (i + 1);
        if (bracing == 0) bar(at(k + i % 2, x), at(k + 1 - i % 2, next), web, sides);  // N, zigzag
        if (bracing == 1) bar(at(k, x), at(k + 1, half), web, sides), bar(at(k + 1, half), at(k, next), web, sides);
        if (bracing == 2) bar(at(k, x), at(k + 1, next), web, sides), bar(at(k + 1, x), at(k, next), web, sides);  // X
        if (bracing == 3) {                                                                                        // K
          const Vec3 middle = (at(k, next) + at(k + 1, next)) / 2;
          bar(at(k, x), middle, web, sides), bar(at(k + 1, x), middle, web, sides);
        }
      }
    const Eigen::AngleAxisd turned(real(0, 3), Vec3(real(-1, 1), real(-1, 1), real(-1, 1)).normalized());
    for (auto& v : out_.mesh.vertices) v = turned * v + Vec3(3, -2, 5);
    out_.what = "bracing " + std::to_string(bracing) + ", chords " + std::to_string(corners);
    if (chance(0.4)) support::decimate(out_.mesh, 0.0005, random_), out_.what += ", decimated";
    if (chance(0.6)) {
      out_.what += ", perturbed";
      std::map<std::array<double, 3>, Vec3> moved;
      for (auto& v : out_.mesh.vertices)
        v += moved.try_emplace({v.x(), v.y(), v.z()}, 0.0006 * Vec3(real(-1, 1), real(-1, 1), real(-1, 1)))
                 .first->second;
    }
    return std::move(out_);
  }

 private:
  double real(double low, double high) { return std::uniform_real_distribution<double>(low, high)(random_); }
  int pick(int low, int high) { return std::uniform_int_distribution<int>(low, high)(random_); }
  bool chance(double p) { return real(0, 1) < p; }
  void bar(const Vec3& a, const Vec3& b, double radius, int sides) {
    support::sweep(out_.mesh, {a, b}, std::vector<Vec3>(2, (b - a).unitOrthogonal()),
                   support::round_outline(2 * radius, sides, 0), false, {true, true});
    out_.member_m += (b - a).norm();
  }
  std::mt19937 random_;
  Truss out_;
};

TEST(TrussMembers, AreNeverAmongTheSure) {
  double members_m = 0, told_m = 0, likely_m = 0;
  for (unsigned seed = 1; seed <= 40; ++seed) {
    const auto truss = TrussMaker(seed).make();
    SCOPED_TRACE(testing::Message() << "seed " << seed << ", " << truss.what);
    const auto found = rails::find_rails(support::named(truss.mesh), {.design = model::default_design_values()});
    for (const auto& rail : found.rails) {
      EXPECT_NE(rail.sureness, rails::Sureness::Sure)
          << rail.id << ", " << rail.length_m << " m from " << rail.points.front().at.transpose() << " to "
          << rail.points.back().at.transpose();
      likely_m += rail.length_m;
    }
    members_m += truss.member_m;
    for (const auto& rail : found.doubtful) told_m += rail.length_m;
  }
  // Members end at the faces of those that they run into, so a little less than their axes is told.
  EXPECT_GT(told_m, 0.85 * members_m) << members_m << " m of members";
  // What is told as likely says that it is held at its ends alone.
  EXPECT_LT(likely_m, 0.02 * members_m) << members_m << " m of members";
}

// Real lattices (CC BY 3.0, tests/data/structures/LICENCE.txt): none of the crane's bars is a rail.
TEST(TrussMembers, OfARealCraneAreNotAmongTheSure) {
  const auto mesh = geometry::read_mesh_file({.file = HOLDFAST_SOURCE_DIR "/tests/data/structures/lattice-crane.obj"});
  const auto found = rails::find_rails(mesh, {.design = model::default_design_values()});
  for (const auto& rail : found.rails) EXPECT_NE(rail.sureness, rails::Sureness::Sure) << rail.id;
}

TEST(TrussMembers, CountWhenAskedFor) {
  std::size_t taken = 0, told = 0;
  for (unsigned seed = 1; seed <= 5; ++seed) {
    const auto truss = TrussMaker(seed).make();
    const rails::Options asked{.design = model::default_design_values(), .truss_members = true};
    taken += rails::find_rails(support::named(truss.mesh), asked).rails.size();
    const auto plain = rails::find_rails(support::named(truss.mesh), {.design = model::default_design_values()});
    for (const auto& rail : plain.doubtful)
      told += rail.reasons.size() == 1 && rail.reasons.front().kind == rails::ReasonKind::TrussMember ? 1 : 0;
  }
  EXPECT_GT(told, 0U);
  EXPECT_GE(taken, told);
}

}  // namespace
}  // namespace holdfast
