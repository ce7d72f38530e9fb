// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// The body's way and the hand's line of one move: design.md section 5, fine print in section 14 'Moves'.

#include <array>
#include <cmath>

#include "direction_impl.h"
#include "holdfast/graph/handrail_graph.h"

namespace holdfast::graph::detail {

class BodyWay {
 public:
  BodyWay(const Grip& a, const Grip& b, double stand_off_m)
      : start_(a.hand), step_(b.hand - a.hand), turn_(a.stance, b.stance), stand_off_m_(stand_off_m) {}

  [[nodiscard]] Vec3 at(double t) const { return start_ + t * step_ + stand_off_m_ * turn_.at(t); }
  [[nodiscard]] bool is_straight() const { return turn_.angle() == 0; }
  /// The point moves at most this far per unit of t.
  [[nodiscard]] double speed_upper_m() const { return step_.norm() + stand_off_m_ * turn_.angle(); }

  /// Arc length by Gauss-Legendre (5 nodes on each of 8 pieces), plus its error bound in our range of turns (1e-7 m,
  /// measured against 64 pieces): never below the true length.
  [[nodiscard]] double length_upper_m() const {
    if (is_straight()) return step_.norm();
    static constexpr std::array<double, 5> node = {0.0, 0.5384693101056831, -0.5384693101056831, 0.9061798459386640,
                                                   -0.9061798459386640};
    static constexpr std::array<double, 5> weight = {0.5688888888888889, 0.4786286704993665, 0.4786286704993665,
                                                     0.2369268850561891, 0.2369268850561891};
    constexpr int pieces = 8;
    double length = 0;
    for (int piece = 0; piece < pieces; ++piece)
      for (std::size_t k = 0; k < node.size(); ++k) {
        const double t = (piece + (node[k] + 1) / 2) / pieces;
        length += weight[k] / (2 * pieces) * (step_ + stand_off_m_ * turn_.derivative(t)).norm();
      }
    return length + 1e-7;
  }

 private:
  Vec3 start_, step_;
  Slerp turn_;
  double stand_off_m_;
};

/// True where the line of the hand, lifted by a glove's thickness, touches structure. The curve is followed by chords
/// that leave it by at most 0.1 mm.
inline bool is_hand_line_blocked(const geometry::Scene& scene, const Grip& a, const Grip& b, double glove_m) {
  const Slerp turn(a.outward, b.outward);
  const auto lifted = [&](double t) { return Vec3(a.hand + t * (b.hand - a.hand) + glove_m * turn.at(t)); };
  constexpr double sagitta_m = 1e-4;
  const int chords = std::max(1, static_cast<int>(std::ceil(turn.angle() * std::sqrt(glove_m / (8 * sagitta_m)))));
  Vec3 from = lifted(0);
  for (int i = 1; i <= chords; ++i) {
    const Vec3 to = lifted(static_cast<double>(i) / chords);
    if (scene.is_segment_blocked(from, to)) return true;
    from = to;
  }
  return false;
}

}  // namespace holdfast::graph::detail
