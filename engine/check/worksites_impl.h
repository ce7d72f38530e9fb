// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// Findings about worksites and views.

#include <vector>

#include "holdfast/check/check.h"

namespace holdfast::check::detail {

/// Sockets in structure or off it, foot restraints that collide in every setting, views that look out of a solid. In
/// the order of the files.
[[nodiscard]] std::vector<Finding> find_worksite_faults(const graph::HandrailGraph& graph, const model::Kit& kit,
                                                        const model::Suit& suit);

}  // namespace holdfast::check::detail
