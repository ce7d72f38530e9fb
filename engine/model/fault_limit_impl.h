// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// How many faults are listed.

#include <cstddef>

namespace holdfast::model {

/// Faults that `InputError` lists; of more, the rest is counted in one more (`more-faults`).
inline constexpr std::size_t most_diagnostics = 100;

}  // namespace holdfast::model
