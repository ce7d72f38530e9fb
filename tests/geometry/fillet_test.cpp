// SPDX-License-Identifier: GPL-3.0-or-later
// Bends against textbook values (standards.md 8c) and, for arcs between straights, against Dubins' shortest paths
// (Dubins, On curves of minimal length with a constraint on average curvature, American Journal of Mathematics 79,
// 1957), written down in full below.

#include "holdfast/geometry/fillet.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <numbers>
#include <random>

namespace holdfast::geometry {
namespace {

constexpr double pi = std::numbers::pi;

struct Place {
  double x, y, heading;
};

double turned(double angle) { return angle - 2 * pi * std::floor(angle / (2 * pi)); }

/// Least length of the six Dubins words at radius 1 (Shkel and Lumelsky, Classification of the Dubins set, Robotics and
/// Autonomous Systems 34, 2001), times the radius.
double dubins_length(const Place& from, const Place& to, double radius) {
  const double dx = (to.x - from.x) / radius, dy = (to.y - from.y) / radius;
  const double d = std::hypot(dx, dy), line = d > 0 ? std::atan2(dy, dx) : 0;
  const double a = turned(from.heading - line), b = turned(to.heading - line);
  const double sa = std::sin(a), sb = std::sin(b), ca = std::cos(a), cb = std::cos(b), cab = std::cos(a - b);
  constexpr double slack = 1e-12;  // rounding of squares that are 0
  double best = std::numeric_limits<double>::infinity();
  const auto take = [&](double t, double p, double q) { best = std::min(best, turned(t) + p + turned(q)); };
  // A turn of 2 pi less rounding is no turn.
  const auto snap = [](double angle) { return 2 * pi - turned(angle) < 1e-9 ? 0.0 : turned(angle); };
  if (const double p2 = 2 + d * d - 2 * cab + 2 * d * (sa - sb); p2 >= -slack) {  // LSL
    const double h = std::atan2(cb - ca, d + sa - sb);
    take(snap(h - a), std::sqrt(std::max(0.0, p2)), snap(b - h));
  }
  if (const double p2 = 2 + d * d - 2 * cab + 2 * d * (sb - sa); p2 >= -slack) {  // RSR
    const double h = std::atan2(ca - cb, d - sa + sb);
    take(snap(a - h), std::sqrt(std::max(0.0, p2)), snap(h - b));
  }
  if (const double p2 = -2 + d * d + 2 * cab + 2 * d * (sa + sb); p2 >= -slack) {  // LSR
    const double p = std::sqrt(std::max(0.0, p2)), h = std::atan2(-ca - cb, d + sa + sb) - std::atan2(-2.0, p);
    take(snap(h - a), p, snap(h - b));
  }
  if (const double p2 = -2 + d * d + 2 * cab - 2 * d * (sa + sb); p2 >= -slack) {  // RSL
    const double p = std::sqrt(std::max(0.0, p2)), h = std::atan2(ca + cb, d - sa - sb) - std::atan2(2.0, p);
    take(snap(a - h), p, snap(b - h));
  }
  if (const double c = (6 - d * d + 2 * cab + 2 * d * (sa - sb)) / 8; std::abs(c) <= 1) {  // RLR
    const double p = 2 * pi - std::acos(c), t = a - std::atan2(ca - cb, d - sa + sb) + p / 2;
    take(snap(t), p, snap(a - b - t + p));
  }
  if (const double c = (6 - d * d + 2 * cab + 2 * d * (sb - sa)) / 8; std::abs(c) <= 1) {  // LRL
    const double p = 2 * pi - std::acos(c), t = -a + std::atan2(cb - ca, d + sa - sb) + p / 2;
    take(snap(t), p, snap(b - a - t + p));
  }
  return radius * best;
}

TEST(Fillet, OfASquareCorner) {
  EXPECT_NEAR(fillet_tangent_m(0.1, pi / 2), 0.1, 1e-15);
  EXPECT_NEAR(fillet_arc_m(0.1, pi / 2), 0.157080, 5e-7);
  EXPECT_NEAR(fillet_saving_m(0.1, pi / 2), 0.042920, 5e-7);
}

TEST(Fillet, TakesNothingWhereNothingTurnsOrNothingIsStiff) {
  EXPECT_EQ(fillet_tangent_m(0.1, 0), 0);
  EXPECT_EQ(fillet_arc_m(0.1, 0), 0);
  EXPECT_EQ(fillet_tangent_m(0, pi), 0);
  EXPECT_TRUE(do_fillets_fit(0.1, 0, 0, 0));
}

TEST(Fillet, OfAFoldHasNoEnd) {
  EXPECT_EQ(fillet_tangent_m(0.1, pi), std::numeric_limits<double>::infinity());
  EXPECT_FALSE(do_fillets_fit(0.1, pi, 0, 1e9));
}

TEST(Fillet, TwoSquareCornersNeedTwoRadii) {
  EXPECT_TRUE(do_fillets_fit(0.1, pi / 2, pi / 2, 0.2));
  EXPECT_TRUE(do_fillets_fit(0.1, pi / 2, pi / 2, 0.2 - 0.9e-6));
  EXPECT_FALSE(do_fillets_fit(0.1, pi / 2, pi / 2, 0.2 - 1.1e-6));
}

TEST(Fillet, UnequalTurnsShareASpanByTheirTangents) {
  const double span = 0.1 * (std::tan(pi / 6) + std::tan(pi / 8));
  EXPECT_TRUE(do_fillets_fit(0.1, pi / 3, pi / 4, span));
  EXPECT_TRUE(do_fillets_fit(0.1, pi / 4, pi / 3, span));
  EXPECT_FALSE(do_fillets_fit(0.1, pi / 3, pi / 4, span - 2e-6));
}

TEST(Dubins, PublishedLengths) {
  EXPECT_NEAR(dubins_length({0, 0, 0}, {7.5, 0, 0}, 1), 7.5, 1e-9);
  EXPECT_NEAR(dubins_length({0, 0, 0}, {0, 2, pi}, 1), 3.141593, 5e-7);
  EXPECT_NEAR(dubins_length({0, 0, 0}, {0, 0, pi}, 1), 7.330383, 5e-7);
}

/// An arc followed by its tangent is the shortest path of its radius (no straight at all is left out: there the line's
/// direction is not defined, and the six words are ill-conditioned). With a straight before it too, Dubins may do
/// better by starting to turn at once, but never worse.
TEST(Fillet, IsADubinsPathAndWithoutALeadInTheShortest) {
  std::mt19937_64 engine(7);
  std::uniform_real_distribution<double> turn(0.05, 3), radius(0.05, 1), spare(0, 2);
  for (int i = 0; i < 500; ++i) {
    const double theta = turn(engine), r = radius(engine), tangent = fillet_tangent_m(r, theta);
    const auto dubins = [&](double before, double after) {
      return dubins_length({-before, 0, 0}, {after * std::cos(theta), after * std::sin(theta), theta}, r);
    };
    const double lead_in = spare(engine), lead_out = 0.05 + spare(engine);
    EXPECT_NEAR(dubins(tangent, tangent + lead_out), fillet_arc_m(r, theta) + lead_out, 1e-8 * (1 + tangent))
        << "seed 7, case " << i;
    const double before = tangent + lead_in, after = tangent + lead_out;
    EXPECT_LE(dubins(before, after), before + after - fillet_saving_m(r, theta) + 1e-9) << "seed 7, case " << i;
  }
}

}  // namespace
}  // namespace holdfast::geometry
