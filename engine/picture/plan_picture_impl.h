// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// An excursion in a picture, and what its ways share with those of routes.

#include "holdfast/picture/picture.h"

namespace holdfast::picture::detail {

/// A line of the waypoint table. `context`: in the suit of who goes.
[[nodiscard]] Row row_of(const report::Context& context, const route::Row& read, std::size_t leg);
/// With the points of the body's path to it. Requires: not before the last one.
void add_pose(const route::Pose& read, Way& way);

/// Each crew member as a way, and the rest in `Picture::excursion`. Requires: the picture has none; the result is of a
/// plan.
void add_plan(Picture& picture, const report::Context& context, const geometry::Scene& scene,
              const report::ReadResult& result);

}  // namespace holdfast::picture::detail
