// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// How far apart two words are.

#include <cstddef>
#include <string_view>

namespace holdfast::model::detail {

/// Letters put in, taken out or replaced (Levenshtein).
[[nodiscard]] std::size_t edit_distance(std::string_view word, std::string_view other);

}  // namespace holdfast::model::detail
