// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// From where a task is done, as the simulation and the search over orders choose it alike.

#include <optional>

#include "sites_impl.h"

namespace holdfast::plan::detail {

/// The grip from which a task's targets are worked on by free hand, or its photograph is taken: at its place, where it
/// has one, and such that one gets to it from `from` without loads. Nothing where any grip of its place will do.
[[nodiscard]] std::optional<GripId> choose_work_grip(Legs& legs, const model::Structure& structure, const Site& site,
                                                     const model::Task& task, std::optional<GripId> from,
                                                     const Closings& closings);

}  // namespace holdfast::plan::detail
