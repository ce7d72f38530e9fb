// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// Certified minimum of a distance along a way, from few samples: distance is 1-Lipschitz in the point, so a sample
// bounds its neighbourhood.

#include <algorithm>
#include <cstdint>
#include <limits>
#include <queue>
#include <vector>

namespace holdfast::geometry {

struct CertifiedMinimum {
  double lower_m = 0;  ///< never above the true minimum
  double upper_m = 0;  ///< smallest sample: never below the true minimum
  double t = 0;        ///< where the smallest sample was taken
};

struct CertifiedOptions {
  double tolerance_m = 0.004;                                    ///< stop when upper - lower is at most this ...
  double enough_m = std::numeric_limits<double>::infinity();     ///< ... or lower is at least this ...
  double hopeless_m = -std::numeric_limits<double>::infinity();  ///< ... or upper is below this
};

/// Minimum over t in [0, 1] of `distance_at(t)`, where the point moves at most `way_m` metres per unit of t.
/// Requires: distance_at is 1-Lipschitz in the point; way_m >= 0. Splits the interval with the least lower bound first,
/// so at most about way_m / (2 * tolerance) samples. Source: design.md section 5 (1-Lipschitz bound, (d0 + d1 - L) /
/// 2).
template <class DistanceAt>
[[nodiscard]] CertifiedMinimum certified_minimum(DistanceAt&& distance_at, double way_m,
                                                 const CertifiedOptions& options = {}) {
  struct Interval {
    double lower, t0, t1, d0, d1;
    bool operator<(const Interval& other) const { return lower > other.lower; }  // least lower bound on top
  };
  const auto make = [&](double t0, double t1, double d0, double d1) {
    const double bound = (d0 + d1 - way_m * (t1 - t0)) / 2;
    return Interval{std::min({bound, d0, d1}), t0, t1, d0, d1};
  };
  const double d_start = distance_at(0.0), d_end = distance_at(1.0);
  CertifiedMinimum result;
  result.upper_m = std::min(d_start, d_end);
  result.t = d_start <= d_end ? 0.0 : 1.0;
  std::priority_queue<Interval> open;
  open.push(make(0, 1, d_start, d_end));
  for (;;) {
    const Interval worst = open.top();
    result.lower_m = worst.lower;
    if (result.upper_m - worst.lower <= options.tolerance_m || worst.lower >= options.enough_m ||
        result.upper_m < options.hopeless_m)
      return result;
    open.pop();
    const double middle = (worst.t0 + worst.t1) / 2;
    const double d = distance_at(middle);
    if (d < result.upper_m) result.upper_m = d, result.t = middle;
    open.push(make(worst.t0, middle, worst.d0, d));
    open.push(make(middle, worst.t1, d, worst.d1));
  }
}

}  // namespace holdfast::geometry
