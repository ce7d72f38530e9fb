// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// How far a closed loop must be slid over structure before it can be drawn together.
//
//   const auto slide = tether::find_slide(scene, loop);
//   if (slide.is_apart && !slide.most_m) ...       // round something, and how far it slides is not known
//
// Frame and units: structure frame, metres.

#include <optional>
#include <span>
#include <vector>

#include "holdfast/geometry/scene.h"

namespace holdfast::tether {

using model::Vec3;

struct LoopSlide {
  /// False: its strands come together over free space, so that it is round nothing.
  bool is_apart = false;
  std::vector<model::PartId> between;  ///< what lies between its strands, each once
  Vec3 at = Vec3::Zero();              ///< where the strands came nearest to that
  /// How far it must be slid along the part between to come off, never less than that; nothing where it is not known.
  std::optional<double> most_m;
};

/// The strands are drawn together from the loop's beginning, to where it is pulled, as far as that goes over free
/// space. What is left is slid off the part between, along its surface: on a ball to the middle of the least cap that
/// holds it and the beginning (a ring at latitude a, pulled from above: R (pi/2 - a)), on a cone along the slant to its
/// narrow end, on a dish's back along the parabola to the vertex, on a cylinder, box or panel straight to an end or
/// side that does not lie away from the beginning. All points go there by the shortest line over the surface, and no
/// other structure stands between, so the loop can be slid so; the least possible may be shorter. Not known: several
/// parts between, trusses, mesh files, and where other structure stands in the way. Requires: first and last point the
/// same, each piece clear (`is_line_clear`).
[[nodiscard]] LoopSlide find_slide(const geometry::Scene& scene, std::span<const Vec3> loop);

}  // namespace holdfast::tether
