// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// Hand positions along rails: where grips, and ties of cables, are sampled.

#include <vector>

#include "holdfast/geometry/scene.h"

namespace holdfast::graph::detail {

using model::Pose;
using model::Vec3;

/// One hand position of a rail, before outward directions are told apart.
struct Station {
  Vec3 hand;
  double along_m;
  std::size_t piece;  // index of the point at or before it
  double t;           // within the piece
};
[[nodiscard]] std::vector<Station> sample_stations(const model::Rail& rail, const Pose& pose, double spacing_m);

[[nodiscard]] Vec3 given_outward(const model::Rail& rail, std::size_t direction, const Station& station,
                                 const Pose& pose);

/// Away from the nearest point of the rail's own part. Zenith for a hand position inside the part, where there is no
/// such way; `check` reports the rail.
[[nodiscard]] Vec3 automatic_outward(const geometry::Scene& scene, const model::Rail& rail, const Vec3& hand);

}  // namespace holdfast::graph::detail
