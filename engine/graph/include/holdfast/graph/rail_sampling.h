// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// Hand positions along a rail, whatever the rail is for: grips and ties of cables stand there.

#include <vector>

#include "holdfast/geometry/scene.h"

namespace holdfast::graph {

struct RailStation {
  model::Vec3 hand = model::Vec3::Zero();
  model::Vec3 outward = model::Vec3::UnitZ();  ///< unit; the rail's first outward direction
  double along_m = 0;                          ///< from the rail's first point
};

/// Each straight piece divided evenly into steps of at most `spacing_m`, ends included (design.md 14, Grips), in the
/// structure frame. Empty where the rail is not there in the scene's configuration. Requires: a rail of the scene.
[[nodiscard]] std::vector<RailStation> sample_rail(const geometry::Scene& scene, model::RailId id, double spacing_m);

}  // namespace holdfast::graph
