// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// What a crew member takes up of space while a row lasts, and where two of them come too near.

#include <optional>
#include <span>
#include <vector>

#include "holdfast/model/structure.h"

namespace holdfast::plan::detail {

using model::Vec3;

/// From the boots to the shoulders of a figure in a foot restraint. Source: common practice, no source.
inline constexpr double shoulder_height_m = 1.5;

/// Points of a body's path over one move, ends included.
inline constexpr std::size_t move_points = 5;

struct PlaceBall {
  std::size_t place = 0;
  Vec3 at = Vec3::Zero();
  double within_m = 0;
};

/// One rest, or one whole move: its body path counts as taken for all of its time.
struct Occupied {
  double from_s = 0, to_s = 0;  ///< infinity: until further notice
  bool moves = false;
  std::vector<Vec3>
      body;          ///< polyline of the body's axis; with a load in tow also of the path that it still trails over
  double off_m = 0;  ///< the true path lies within this of the polyline
  std::vector<Vec3> hands;
  double radius_m = 0;  ///< corridor, or to the farthest corner of what is carried beside
  std::vector<PlaceBall> business;
  std::optional<Vec3> helmet = std::nullopt;  ///< at rest in a restraint; else that of the body
  double load_radius_m = 0;  ///< what is in tow keeps within this of the polyline; not compared between bodies
};

struct Near {
  double at_s = 0;
  double distance_m = 0;  ///< lower bound
  double needed_m = 0;
  Vec3 at = Vec3::Zero();
  std::size_t first = 0, second = 0;  ///< into the two lists
};

/// Of all pairs that share time, one at least moving, and that no place exempts: the one that falls short by most.
/// Nothing where all keep the sum of their radii, exactly that included.
[[nodiscard]] std::optional<Near> find_nearest_pair(std::span<const Occupied> a, std::span<const Occupied> b);
/// The first pair found that is too near, if any.
[[nodiscard]] bool are_apart(std::span<const Occupied> a, std::span<const Occupied> b);

}  // namespace holdfast::plan::detail
