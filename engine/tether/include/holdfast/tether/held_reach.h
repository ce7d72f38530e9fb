// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// What a crew member at a worksite works on with both hands while a tether holds it there.
//
//   const auto held = tether::find_held(graph, profile, reach_answer, {.tethers = {&waist}});
//   for (const auto& each : held) use(each.positioning.holds);
//
// Structure frame, m. What is held is a point; a tether holds it where it is straight and clear. A crew member on a
// tether alone reaches nothing. The tether is not tested against the figure. Source: design.md sections 8 and 17.

#include <cstddef>
#include <string>
#include <vector>

#include "holdfast/reach/reach.h"
#include "holdfast/tether/tether.h"

namespace holdfast::tether {

struct HeldRequest {
  /// Those that may be used; none: all of the kit that can be set to a length. A reel only keeps from drifting off.
  std::vector<const model::Tether*> tethers;
  std::vector<std::string> hooks;  ///< anchors, or rails for tethers, that they are hooked to; none: any
};

/// A target in the two-hand zone of a setting that fits and has a way in.
struct HeldTarget {
  std::size_t site = 0, target = 0;
  std::size_t station = 0;   ///< the site's best where that has it, else the first that has
  std::size_t stations = 0;  ///< of the site that have it
  Positioning positioning =
      {};  ///< empty `holds`: no tether holds it there; each hook by itself, up to three in series
};

/// By site, then target; targets that no usable setting has in its two-hand zone are not in it. Throws
/// `model::InputError`: `unknown-kit` where no tether can be used, as `route::find_hook` for the hooks.
[[nodiscard]] std::vector<HeldTarget> find_held(const graph::HandrailGraph& graph, const route::Profile& profile,
                                                const reach::ReachAnswer& answer, const HeldRequest& request);

}  // namespace holdfast::tether
