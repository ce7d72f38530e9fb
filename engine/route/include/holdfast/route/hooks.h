// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// Where a safety tether may be hooked on, and from where to where its line is free.
//
//   const auto hook = route::find_hook(graph, "hatch-anchor-1", graph.body_point(grip));
//   route::is_line_clear(graph.scene(), hook.line_end, graph.body_point(grip));
//
// Frame and units: structure frame, metres.

#include <optional>
#include <string>
#include <vector>

#include "holdfast/graph/handrail_graph.h"

namespace holdfast::route {

using model::Vec3;

/// A tether's line keeps this from structure: half its thickness, and more than a dish's chord error hides.
inline constexpr double line_clear_m = 0.002;

/// Nothing between the two points nearer than a line may come.
[[nodiscard]] bool is_line_clear(const geometry::Scene& scene, const Vec3& a, const Vec3& b);

/// `at`, or the nearest of some points round it from which a line can start off the structure: what stands on a surface
/// lies on it, or a hair inside. Nothing where there is none within 0.1 m.
[[nodiscard]] std::optional<Vec3> lift_off(const geometry::Scene& scene, const Vec3& at);

struct Hook {
  std::string name;                   ///< of the anchor or the rail
  Vec3 at = Vec3::Zero();             ///< where it holds
  Vec3 line_end = Vec3::Zero();       ///< where the line begins: the same, lifted off the structure
  std::optional<model::RailId> rail;  ///< nothing for an anchor
};

/// An anchor, or the point of a rail that may take a hook which is nearest to `near`. Throws `model::InputError`:
/// `unknown-anchor` with the nearest names, `absent-place`, `not-for-tethers`.
[[nodiscard]] Hook find_hook(const graph::HandrailGraph& graph, const std::string& name, const Vec3& near);

/// Where a tether may be hooked on in this configuration, for remedies: `one of the anchors a, b, or a rail whose
/// `for:` lists tether`.
[[nodiscard]] std::string hook_choices(const graph::HandrailGraph& graph);

/// Throws `model::InputError` where a mover at `body` cannot be on the tether: `tether-short` where it does not reach
/// from the hook, `no-free-line` where structure is in between.
void check_first_line(const graph::HandrailGraph& graph, const model::Tether& tether, const Hook& hook,
                      const Vec3& body);

/// The anchors that the configuration has, in the order of the file; those inside a solid are left out.
[[nodiscard]] std::vector<Hook> find_anchors(const graph::HandrailGraph& graph);

}  // namespace holdfast::route
