// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// What routes assume of a suit and its loads.

#include <vector>

#include "holdfast/route/answer.h"
#include "holdfast/route/costs.h"

namespace holdfast::route {

/// Constants that every route of this profile uses, each with its origin; those of carrying only where there are loads.
[[nodiscard]] std::vector<UsedValue> used_values(const Profile& profile);

}  // namespace holdfast::route
