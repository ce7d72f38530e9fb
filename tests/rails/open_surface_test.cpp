// SPDX-License-Identifier: GPL-3.0-or-later
// No tube is passed over: whatever it goes through, sheets without an inside or closed walls, all of it that lies
// outside of closed bodies is told as a rail, a post or doubtful. Sheets, bowls, boxes without a side, and tubes at
// random.

#include <gtest/gtest.h>

#include <Eigen/Geometry>

#include "holdfast/rails/rails.h"
#include "railed_mesh.h"

namespace holdfast {
namespace {

using geometry::TriangleMesh;
using geometry::Vec3;

struct Pierced {
  TriangleMesh mesh;
  std::vector<std::vector<Vec3>> tubes;  ///< their lines
  bool is_closed = false;                ///< the body that they go through
};

class PiercedMaker {
 public:
  explicit PiercedMaker(unsigned seed) : random_(seed) {}

  Pierced make() {
    out_.is_closed = pick(0, 4) == 0;
    body(out_.is_closed ? 0 : pick(1, 3));
    const int count = pick(4, 9);
    for (int i = 0; i < count; ++i) {  // a metre and more apart, so that they do not meet
      const Vec3 middle(1.3 * i, real(-0.4, 0.4), real(-0.25, 0.25));
      const Vec3 d = Vec3(0.3 * real(-1, 1), real(-1, 1), real(-1, 1)).normalized();
      const double half = real(0.2, 0.7), diameter = real(0.02, 0.045);
      std::vector<Vec3> line = {middle - half * d, middle + half * d};
      if (chance(0.4)) {  // bent
        const Vec3 side = d.cross(Vec3::UnitX()).normalized();
        line = {middle - half * d};
        constexpr int steps = 8;
        const double bend = 0.12;
        for (int k = 0; k <= steps; ++k) {
          const double a = std::numbers::pi / 2 * k / steps;
          line.push_back(middle + bend * (std::sin(a) * d + (1 - std::cos(a)) * side));
        }
        line.push_back(line.back() + 0.3 * side);
      }
      std::vector<Vec3> up(line.size(), Vec3::UnitX());
      const bool is_open = chance(0.3);
      support::sweep(out_.mesh, line, up, support::round_outline(diameter, pick(6, 20), 0), false,
                     {!is_open, !is_open});
      out_.tubes.push_back(line);
    }
    const Eigen::AngleAxisd turned(real(0, 3), Vec3(real(-1, 1), real(-1, 1), real(-1, 1)).normalized());
    for (auto& v : out_.mesh.vertices) v = turned * v;
    for (auto& line : out_.tubes)
      for (auto& p : line) p = turned * p;
    return std::move(out_);
  }

 private:
  double real(double low, double high) { return std::uniform_real_distribution<double>(low, high)(random_); }
  int pick(int low, int high) { return std::uniform_int_distribution<int>(low, high)(random_); }
  bool chance(double p) { return real(0, 1) < p; }

  /// 0: a closed box; 1: the same without some sides; 2: one sheet; 3: a trough.
  void body(int kind) {
    const double x0 = -1, x1 = 12, y = real(0.5, 1.2), z = real(0.2, 0.6);
    auto& mesh = out_.mesh;
    const auto quad = [&](const Vec3& a, const Vec3& b, const Vec3& c, const Vec3& d) {
      const auto base = static_cast<std::uint32_t>(mesh.vertices.size());
      for (const auto& p : {a, b, c, d}) mesh.vertices.push_back(p);
      mesh.triangles.push_back({base, base + 1, base + 2}), mesh.triangles.push_back({base, base + 2, base + 3});
    };
    if (kind == 2) return quad({x0, -y, 0}, {x1, -y, 0.2}, {x1, y, 0.2}, {x0, y, 0});
    if (kind == 3) {
      constexpr int steps = 10;
      for (int k = 0; k < steps; ++k) {
        const auto at = [&](double x, int i) {
          const double a = std::numbers::pi * i / steps;
          return Vec3(x, -y * std::cos(a), z - 2 * z * std::sin(a));
        };
        quad(at(x0, k), at(x1, k), at(x1, k + 1), at(x0, k + 1));
      }
      return;
    }
    const int left_out = kind == 0 ? -1 : pick(0, 5);
    const std::array<Vec3, 8> c = {Vec3(x0, -y, -z), Vec3(x1, -y, -z), Vec3(x1, y, -z), Vec3(x0, y, -z),
                                   Vec3(x0, -y, z),  Vec3(x1, -y, z),  Vec3(x1, y, z),  Vec3(x0, y, z)};
    static constexpr std::array<std::array<std::size_t, 4>, 6> sides = {
        {{0, 3, 2, 1}, {4, 5, 6, 7}, {0, 1, 5, 4}, {1, 2, 6, 5}, {2, 3, 7, 6}, {3, 0, 4, 7}}};
    for (int i = 0; i < 6; ++i) {
      if (i == left_out) continue;
      const auto& side = sides[static_cast<std::size_t>(i)];
      quad(c[side[0]], c[side[1]], c[side[2]], c[side[3]]);
    }
  }

  std::mt19937 random_;
  Pierced out_;
};

double distance_to(const std::vector<std::vector<Vec3>>& lines, const Vec3& p) {
  double best = 1e9;
  for (const auto& line : lines)
    for (std::size_t i = 0; i + 1 < line.size(); ++i) {
      const Vec3 d = line[i + 1] - line[i];
      const double t = std::clamp((p - line[i]).dot(d) / std::max(d.squaredNorm(), 1e-12), 0.0, 1.0);
      best = std::min(best, (line[i] + t * d - p).norm());
    }
  return best;
}

TEST(OpenSurfaces, PassNoTubeOver) {
  for (unsigned seed = 1; seed <= 60; ++seed) {
    SCOPED_TRACE(seed);
    const auto made = PiercedMaker(seed).make();
    const auto found = rails::find_rails(support::named(made.mesh), {.design = model::default_design_values()});
    std::vector<std::vector<Vec3>> told;
    std::vector<std::pair<Vec3, double>> short_ones;  // told by their middle and length alone
    for (const auto* list : {&found.rails, &found.doubtful, &found.posts})
      for (const auto& rail : *list) {
        told.emplace_back();
        for (const auto& point : rail.points) told.back().push_back(point.at);
        if (rail.is_handhold()) told.pop_back(), short_ones.emplace_back(rail.points.front().at, rail.length_m / 2);
      }
    for (std::size_t i = 0; i < made.tubes.size(); ++i) {
      const auto& line = made.tubes[i];
      double length = 0, met = 0;
      for (std::size_t k = 0; k + 1 < line.size(); ++k) {
        const Vec3 d = line[k + 1] - line[k];
        const int steps = std::max(1, static_cast<int>(std::ceil(d.norm() / 0.01)));
        for (int n = 0; n < steps; ++n) {
          length += d.norm() / steps;
          const Vec3 p = line[k] + d * (n + 0.5) / steps;
          const bool is_told = distance_to(told, p) < 0.01 ||
                               std::any_of(short_ones.begin(), short_ones.end(),
                                           [&](const auto& one) { return (one.first - p).norm() < one.second; });
          if (is_told) met += d.norm() / steps;
        }
      }
      if (made.is_closed)  // what is in the box is no one's
        EXPECT_GT(met, 0) << "tube " << i << " of " << length << " m";
      else if (line.size() > 2)  // a leg that stands on the sheet is what holds the rest
        EXPECT_GT(met, 0.25) << "tube " << i << " of " << length << " m";
      else
        EXPECT_GT(met, length - 0.13) << "tube " << i << " of " << length << " m: all but its feet";
    }
  }
}

TEST(OpenSurfaces, MakeWhatGoesThroughThemDoubtful) {
  // A sheet, and a straight tube through it: what seems to lie behind the sheet is told as well.
  TriangleMesh mesh;
  mesh.vertices = {{-1, -1, 0}, {1, -1, 0}, {1, 1, 0}, {-1, 1, 0}};
  mesh.triangles = {{0, 1, 2}, {0, 2, 3}};
  support::sweep(mesh, {{0, 0, -0.4}, {0.2, 0, 0.6}}, std::vector<Vec3>(2, Vec3::UnitY()),
                 support::round_outline(0.03, 12, 0), false, {true, true});
  const auto found = rails::find_rails(support::named(mesh), {.design = model::default_design_values()});
  double length_m = 0;
  for (const auto* list : {&found.rails, &found.doubtful, &found.posts})
    for (const auto& rail : *list) length_m += rail.length_m;
  EXPECT_NEAR(length_m, std::hypot(0.2, 1.0), 0.03);
  ASSERT_FALSE(found.doubtful.empty());
  const auto& reasons = found.doubtful.front().reasons;
  EXPECT_TRUE(std::any_of(reasons.begin(), reasons.end(),
                          [](const auto& reason) { return reason.kind == rails::ReasonKind::SideUnclear; }));
}

TEST(ClosedBodies, AreNotSilentAboutATubeThatAllButLiesInThem) {
  TriangleMesh mesh;  // a box of 1 m, and a tube that comes out of it by less than it is thick
  mesh.vertices = {{0, 0, 0}, {1, 0, 0}, {1, 1, 0}, {0, 1, 0}, {0, 0, 1}, {1, 0, 1}, {1, 1, 1}, {0, 1, 1}};
  mesh.triangles = {{0, 2, 1}, {0, 3, 2}, {4, 5, 6}, {4, 6, 7}, {0, 1, 5}, {0, 5, 4},
                    {1, 2, 6}, {1, 6, 5}, {2, 3, 7}, {2, 7, 6}, {3, 0, 4}, {3, 4, 7}};
  support::sweep(mesh, {{0.2, 0.5, 0.5}, {1.02, 0.5, 0.5}}, std::vector<Vec3>(2, Vec3::UnitZ()),
                 support::round_outline(0.04, 12, 0), false, {true, true});
  const auto found = rails::find_rails(support::named(mesh), {.design = model::default_design_values()});
  EXPECT_TRUE(found.rails.empty());
  ASSERT_EQ(found.doubtful.size(), 1U);
  EXPECT_EQ(found.doubtful.front().reasons.front().kind, rails::ReasonKind::InSolid);
}

}  // namespace
}  // namespace holdfast
