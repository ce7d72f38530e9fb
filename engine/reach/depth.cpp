// SPDX-License-Identifier: GPL-3.0-or-later
// How deep a figure and its restraint collide: a number to move things by, so never told too small.

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>
#include <numbers>
#include <queue>
#include <vector>

#include "holdfast/reach/body.h"

namespace holdfast::reach {

namespace {

constexpr double infinity = std::numeric_limits<double>::infinity();

/// Spread evenly over the sphere (A. Gonzalez, Measurement of areas on a sphere using Fibonacci lattices, Mathematical
/// Geosciences 42, 2010).
std::vector<Vec3> directions(int count) {
  std::vector<Vec3> list;
  const double golden = std::numbers::pi * (3 - std::sqrt(5.0));
  for (int i = 0; i < count; ++i) {
    const double z = 1 - (2 * i + 1.0) / count, r = std::sqrt(1 - z * z);
    list.emplace_back(r * std::cos(golden * i), r * std::sin(golden * i), z);
  }
  return list;
}

/// Not below the distance from `p` to the nearest point outside of all solids; 0 where `p` is outside. Where parts do
/// not overlap that is the distance to its part's surface; where they do, a point outside is looked for in many
/// directions. Infinity where none is found within what is told.
double way_out_m(const geometry::Scene& scene, const Vec3& p) {
  const auto held = scene.find_nearest(p, 1e-3);
  if (!held || held->distance_m > 0) return 0;
  constexpr double chord_m = geometry::SceneOptions{}.chord_error_m;  // a dish is met so far off its triangles
  const auto surface = find_surface(scene, held->part, p);
  if (surface) {
    if (surface->distance_m > most_depth_told_m) return infinity;
    for (const double off : {1e-6, 2 * chord_m + 1e-6}) {
      const Vec3 out = surface->point + off * surface->normal;
      if (scene.distance(out, 1) > 0) return (out - p).norm();
    }
  }
  static const std::vector<Vec3> all = directions(200);
  const auto is_way_out = [&](double radius) {
    return std::any_of(all.begin(), all.end(), [&](const Vec3& d) { return scene.distance(p + radius * d, 1) > 0; });
  };
  // Any radius at which a point is outside will do; a smaller one is looked for by halving.
  double low = 0, high = 2 * most_depth_told_m;
  if (!is_way_out(high)) return infinity;
  while (high - low > 1e-3) {
    const double middle = (low + high) / 2;
    (is_way_out(middle) ? high : low) = middle;
  }
  return high;
}

/// A box, flat or thin as it may be, by its middle and half its edges, which are perpendicular.
struct Piece {
  Vec3 middle = Vec3::Zero();
  std::array<Vec3, 3> half = {Vec3::Zero(), Vec3::Zero(), Vec3::Zero()};
  [[nodiscard]] double radius_m() const {
    return std::sqrt(half[0].squaredNorm() + half[1].squaredNorm() + half[2].squaredNorm());
  }
};

/// Not below the greatest way out of any point of the piece. How far the way out is changes by no more than a point
/// moves, so a piece is bounded from its middle, and cut where its bound is the greatest.
double deepest_m(const geometry::Scene& scene, const Piece& whole) {
  struct Bounded {
    double most;
    Piece piece;
    bool operator<(const Bounded& other) const { return most < other.most; }
  };
  constexpr double tolerance_m = 1e-3;
  constexpr std::size_t most_pieces = 400;
  std::priority_queue<Bounded> open;
  double found = 0;
  const auto add = [&](const Piece& piece) {
    const double radius = piece.radius_m(), clear = scene.distance(piece.middle, radius);
    const double inside = clear > 0 ? 0 : way_out_m(scene, piece.middle);
    found = std::max(found, inside);
    if (const double most = inside + radius - clear; most > 0) open.push({most, piece});
  };
  add(whole);
  for (std::size_t pieces = 1; !open.empty() && pieces < most_pieces; ++pieces) {
    if (found > most_depth_told_m) return found;
    if (open.top().most <= found + tolerance_m) break;
    const Piece piece = open.top().piece;
    open.pop();
    const auto longest = static_cast<std::size_t>(
        std::max_element(piece.half.begin(), piece.half.end(),
                         [](const Vec3& x, const Vec3& y) { return x.squaredNorm() < y.squaredNorm(); }) -
        piece.half.begin());
    for (const double side : {-0.5, 0.5}) {
      Piece part = piece;
      part.half[longest] /= 2;
      part.middle += side * piece.half[longest];
      add(part);
    }
  }
  return open.empty() ? found : std::max(found, open.top().most);
}

Piece piece_of(const BoxCorners& box) {
  return {(box[0] + box[7]) / 2, {(box[1] - box[0]) / 2, (box[2] - box[0]) / 2, (box[4] - box[0]) / 2}};
}
Piece piece_of(const std::array<Vec3, 2>& line) {
  return {(line[0] + line[1]) / 2, {(line[1] - line[0]) / 2, Vec3::Zero(), Vec3::Zero()}};
}

Depth told(double depth_m) {
  return depth_m > most_depth_told_m ? Depth{most_depth_told_m, true} : Depth{depth_m, false};
}

}  // namespace

Depth BodyTester::depth(const BodyFrame& frame) const {
  // Insets beyond half of an extent would turn a solid inside out.
  const double most = 0.999 * std::min({most_depth_told_m, figure_->body_radius_m.value,
                                        (figure_->depth_front_m + figure_->depth_back_m) / 2, figure_->breadth_m / 2,
                                        (figure_->shoulders_m - figure_->hips_m) / 2});
  const auto is_clear = [&](double inset) {
    const Solids solids = solids_of(*figure_, frame, inset);
    if (nearest(solids.axis, solids.radius_m).lower_m <= 0 || nearest(solids.trunk, 0).lower_m <= 0) return false;
    return std::none_of(body_forbid_.begin(), body_forbid_.end(),
                        [&](model::ZoneId zone) { return enters(zone, solids); });
  };
  if (is_clear(0)) return {};
  if (!is_clear(most)) return {most, true};
  double low = 0, high = most;
  while (high - low > 1e-4) {
    const double middle = (low + high) / 2;
    (is_clear(middle) ? high : low) = middle;
  }
  return {high, false};
}

Depth BodyTester::depth(const BodyFrame& frame, const model::FootRestraint& restraint, const SocketPlace& socket,
                        const Setting& setting) const {
  Depth deepest = depth(frame);
  const auto count = [&](const Depth& other) {
    if (std::pair(other.is_at_least, other.value_m) > std::pair(deepest.is_at_least, deepest.value_m)) deepest = other;
  };
  // The plate is thin and the post has no thickness: an inset would make both vanish before they come clear. How far
  // their points lie inside does not.
  const BoxCorners plate = plate_of(restraint, frame);
  if (nearest(plate, 0).lower_m <= 0) count(told(deepest_m(*scene_, piece_of(plate))));
  if (const auto post = post_of(socket, setting); post && nearest(*post, 0).lower_m <= 0)
    count(told(deepest_m(*scene_, piece_of(*post))));
  return deepest;
}

}  // namespace holdfast::reach
