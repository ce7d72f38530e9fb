// SPDX-License-Identifier: GPL-3.0-or-later
#include "shortest_within_impl.h"

#include <Eigen/LU>
#include <algorithm>
#include <cmath>
#include <limits>

namespace holdfast::tether::detail {

double softened_length(const std::vector<Vec3>& points) {
  double sum = 0;
  for (std::size_t i = 0; i + 1 < points.size(); ++i) {
    const double squared = (points[i + 1] - points[i]).squaredNorm();
    sum += std::sqrt(squared + softness_m * softness_m) + evenness * squared / (2 * piece_m);
  }
  return sum;
}

std::vector<Vec3> shorten_within(const std::vector<Vec3>& points, const std::vector<std::vector<Plane>>& planes,
                                 const std::vector<char>& is_held) {
  const std::size_t n = points.size();
  std::vector<Vec3> x = points;
  const auto is_fixed = [&](std::size_t k) { return k == 0 || k + 1 == n || is_held[k]; };
  const auto value = [&](const std::vector<Vec3>& y, double mu) {
    double sum = softened_length(y);
    for (std::size_t i = 0; i + 1 < n; ++i)
      for (const Plane& plane : planes[i])
        for (const std::size_t k : {i, i + 1}) {
          if (is_fixed(k)) continue;
          const double room = plane.normal.dot(y[k]) - plane.offset;
          if (room <= 0) return std::numeric_limits<double>::infinity();
          sum -= mu * std::log(room);
        }
    return sum;
  };
  std::vector<Eigen::Matrix3d> diagonal(n), beside(n), inverse(n);
  std::vector<Vec3> gradient(n), step(n), trial(n);
  for (double mu = 1e-3; mu > 1e-7; mu /= 10) {
    for (int iteration = 0; iteration < 12; ++iteration) {
      for (std::size_t i = 0; i < n; ++i) diagonal[i].setZero(), beside[i].setZero(), gradient[i].setZero();
      for (std::size_t i = 0; i + 1 < n; ++i) {
        const Vec3 piece = x[i + 1] - x[i];
        const double len = std::sqrt(piece.squaredNorm() + softness_m * softness_m);
        const Vec3 u = piece / len;
        const Vec3 pull = u + evenness / piece_m * piece;
        const Eigen::Matrix3d bend =
            (Eigen::Matrix3d::Identity() - u * u.transpose()) / len + evenness / piece_m * Eigen::Matrix3d::Identity();
        gradient[i] -= pull, gradient[i + 1] += pull;
        diagonal[i] += bend, diagonal[i + 1] += bend, beside[i] -= bend;
        for (const Plane& plane : planes[i])
          for (const std::size_t k : {i, i + 1}) {
            if (is_fixed(k)) continue;
            const double room = plane.normal.dot(x[k]) - plane.offset;
            gradient[k] -= mu / room * plane.normal;
            diagonal[k] += mu / (room * room) * plane.normal * plane.normal.transpose();
          }
      }
      for (std::size_t k = 0; k < n; ++k) {
        if (!is_fixed(k)) continue;
        diagonal[k].setIdentity(), gradient[k].setZero(), beside[k].setZero();
        if (k > 0) beside[k - 1].setZero();
      }
      // Block elimination.
      std::vector<Vec3>& g = gradient;
      double decrement = 0;
      const std::vector<Vec3> g0 = g;
      inverse[1] = diagonal[1].inverse();
      for (std::size_t i = 2; i + 1 < n; ++i) {
        const Eigen::Matrix3d w = beside[i - 1].transpose() * inverse[i - 1];
        inverse[i] = (diagonal[i] - w * beside[i - 1]).inverse();
        g[i] -= w * g[i - 1];
      }
      step[0].setZero(), step[n - 1].setZero();
      for (std::size_t i = n - 2; i >= 1; --i)
        step[i] = inverse[i] * (-g[i] - (i + 2 < n ? Vec3(beside[i] * step[i + 1]) : Vec3(Vec3::Zero())));
      for (std::size_t i = 1; i + 1 < n; ++i) decrement -= g0[i].dot(step[i]);
      if (decrement < 1e-7 * std::max(1.0, mu * 1e5)) break;
      const double now = value(x, mu);
      double scale = 1;
      bool is_better = false;
      for (int halving = 0; halving < 30 && !is_better; ++halving, scale /= 2) {
        for (std::size_t i = 0; i < n; ++i) trial[i] = x[i] + scale * step[i];
        is_better = value(trial, mu) < now - 1e-4 * scale * decrement;
      }
      if (!is_better) break;
      x.swap(trial);
    }
  }
  return x;
}

}  // namespace holdfast::tether::detail
