// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// A random yard as a few small numbers, so that a failing one can be cut down to the drums and rails that it takes.

#include <rapidcheck.h>
#include <ostream>
#include <vector>

#include "yard_builder.h"

namespace holdfast::properties {

/// Drums stand in a row along x with gaps; lengths in decimetres, angles in twelfths of a turn.
struct DrawnDrum {
  int length_dm, radius_dm, gap_dm;
};
/// On a drum, along it or round it.
struct DrawnRail {
  int drum, angle, from_dm, length_dm;
  bool goes_round;
};
/// A box that stands on a drum, or a zone's ball.
struct DrawnBlock {
  int drum, angle, at_dm, size_dm;
};
struct DrawnYard {
  std::vector<DrawnDrum> drums;
  std::vector<DrawnRail> rails;
  std::vector<DrawnBlock> boxes, zones;
};
std::ostream& operator<<(std::ostream& out, const DrawnYard& yard);

/// Places `p0`, `p1` ... stand at the middle of rails 0, 1 ...; `plug0` ... are connectors under them.
[[nodiscard]] support::YardBuilder build(const DrawnYard& yard);

/// One to three drums, six to twenty-four rails, up to three boxes and two zones.
[[nodiscard]] rc::Gen<DrawnYard> any_yard();

}  // namespace holdfast::properties
