// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// Where a coil may be tied.

#include <optional>

#include "holdfast/cable/coil.h"
#include "query_impl.h"

namespace holdfast::cable::detail {

/// The box at a tie on a rail, which need not be for hands; nothing at a tie that is on none.
[[nodiscard]] std::optional<graph::BoxPose> box_at(const Query& query, const Tie& tie, const Vec3& size_m);

/// Nothing in the way of the box there; or the first thing that is.
[[nodiscard]] std::optional<NoCoil> what_hinders(const Query& query, const Tie& tie, const graph::BoxPose& box,
                                                 const Vec3& size_m);

}  // namespace holdfast::cable::detail
