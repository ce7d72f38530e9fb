// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// A line pulled tight against the structure: the way gone, shortened without being lifted over anything.
//
//   const auto taut = tether::pull_taut(scene, way);
//   taut.length_m;                        // at most the way's length, at least the straight line
//
// The line keeps `line_clear_m` off every solid, so its length is one that can be had, and never below the shortest
// line of its class: what it is longer by is stated (`TautLine`). Frame and units: structure frame, metres.

#include <span>
#include <vector>

#include "holdfast/geometry/scene.h"
#include "holdfast/route/hooks.h"

namespace holdfast::tether {

using model::Vec3;
using route::is_line_clear;
using route::line_clear_m;

struct TautOptions {
  /// Shortening stops when a whole round gains less than this.
  double settle_m = 5e-4;
  int most_rounds = 400;
};

struct TautLine {
  std::vector<Vec3> points;  ///< the first and last are the way's ends; between them the bends
  double length_m = 0;       ///< of the line through the points
  /// False: `most_rounds` was reached, or a bend could not be moved on, and more could be gained.
  bool is_settled = true;
  /// The line pulled to its end is no shorter: `length_m`, or where it is not settled the straight line.
  double least_m = 0;
};

/// The line that a way becomes when it is pulled tight with its ends held, without friction: a local least, reached
/// from the way by moves that sweep no structure. Above that least by at most the settling gain and the turn of the
/// line (in rad) times `line_clear_m`. Requires: at least two points, each piece of the way clear (`is_line_clear`).
/// Sources: the elastic band of Quinlan and Khatib (1993); Newton's method for a sum of distances.
[[nodiscard]] TautLine pull_taut(const geometry::Scene& scene, std::span<const Vec3> way,
                                 const TautOptions& options = {});

/// A taut line that a way is added to piece by piece, as a reel keeps a tether taut behind its user.
class Reel {
 public:
  Reel(const geometry::Scene& scene, const Vec3& anchor, const TautOptions& options = {});
  /// Goes on through points and pulls tight. Requires: the line to and between them is clear.
  const TautLine& go(std::span<const Vec3> through);
  [[nodiscard]] const TautLine& line() const { return line_; }

 private:
  const geometry::Scene* scene_;
  TautOptions options_;
  TautLine line_;
};

[[nodiscard]] double length_of(std::span<const Vec3> way);

}  // namespace holdfast::tether
