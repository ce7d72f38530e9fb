// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// What is left of a cable, coiled flat and tied to a rail until it is carried on from there.
//
//   const auto size = cable::coil_size(9.2, cable.bend_radius_m(), cable.diameter_m);
//   const auto box = cable::coil_on_rail(station.hand, station.outward, along, size.size_m);
//
// Frame and units: structure frame, metres.

#include <cstddef>

#include "holdfast/graph/load_sweep.h"

namespace holdfast::cable {

/// Turns of a coil and the box that it fills; the connector at its free end is not counted in it.
struct CoilSize {
  std::size_t turns = 1;
  std::size_t layers = 1;  ///< and as many rings in each
  model::Vec3 size_m = model::Vec3::Ones();
};

/// Never too small: the innermost turn has the least bend radius R (of the cable's middle), so each of
/// n = max(1, ceil(l / 2 pi R)) turns takes at most 2 pi R of it or more of the cable; they lie in k = ceil(sqrt(n))
/// rings and as many layers, and one ring and one layer are added for where turns cross over from one to the next:
/// 2 R + 2 (k + 1) d twice, (k + 1) d high. Common practice, no source. Requires: all above 0.
[[nodiscard]] CoilSize coil_size(double length_m, double bend_radius_m, double diameter_m);

/// A box tied flat to a rail at a hand position: its longest side along the rail, its shortest outward, its lower face
/// on the rail (design.md 16). Requires: unit `outward`; `along` any direction of the rail there; sides falling.
[[nodiscard]] graph::BoxPose coil_on_rail(const model::Vec3& hand, const model::Vec3& outward, const model::Vec3& along,
                                          const model::Vec3& size_m);

}  // namespace holdfast::cable
