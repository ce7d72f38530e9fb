// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// A line of straight pieces among solids.

#include <optional>
#include <span>

#include "holdfast/geometry/scene.h"

namespace holdfast::geometry {

/// Where the line first touches a solid, with the distance gone along its piece; nothing where it touches none. Not by
/// samples: a thin plate is met as well. Exact for solids and triangles (dishes: within their chord error). Requires:
/// points that follow each other differ.
[[nodiscard]] std::optional<Hit> find_first_touch(const Scene& scene, std::span<const Vec3> points);

}  // namespace holdfast::geometry
