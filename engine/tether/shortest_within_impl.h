// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// The convex problem in pulling a line taut: the shortest line whose pieces stay outside planes.

#include <vector>

#include "holdfast/model/structure.h"

namespace holdfast::tether::detail {

using model::Vec3;

/// A piece of a line stays on the outer side: both its ends keep normal.x > offset, in metres. `normal` has length 1.
struct Plane {
  Vec3 normal;
  double offset = 0;
};

/// Most between neighbouring points while all bends are pulled, metres.
inline constexpr double piece_m = 0.3;

/// What is least for the line found: the sum of the lengths of its pieces, rounded where a piece shrinks to nothing,
/// and a small share of their squares, which keeps points apart that could slide along a straight run for nothing.
/// Metres; above the length by at most `softness_m` a piece and 5e-5 m a piece of `piece_m`.
inline constexpr double evenness = 1e-4, softness_m = 1e-5;
[[nodiscard]] double softened_length(const std::vector<Vec3>& points);

/// A line of less `softened_length`, or of the least, with the two ends and the points marked in `is_held` where they
/// are, and every piece i outside `planes[i]`. By the barrier method with Newton's steps, whose systems are 3 x 3
/// blocks on three diagonals (Boyd and Vandenberghe, Convex Optimization, 2004, chapters 9 and 11). It takes at most 12
/// steps a barrier, so from far off a call comes only part of the way; called again with what it returned it ends
/// within 2e-6 m a plane and point of the least (11.2.2 of the book). Preconditions: three points or more, a list of
/// planes a piece, and `points` strictly outside all planes of pieces that may move. What comes back is strictly
/// outside as well.
[[nodiscard]] std::vector<Vec3> shorten_within(const std::vector<Vec3>& points,
                                               const std::vector<std::vector<Plane>>& planes,
                                               const std::vector<char>& is_held);

}  // namespace holdfast::tether::detail
