// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// Figures and what is seen, from results of `reach` and `sight`.

#include "holdfast/picture/picture.h"

namespace holdfast::picture {

/// Adds what the result has of worksites and sight; extends the bounds. What is seen is looked at again with few
/// samples, from the eyes of the result: shares told in words are the result's.
void add_worksites(Picture& picture, const report::Context& context, const geometry::Scene& scene,
                   const model::Suit& suit, const report::ReadResult& result);

/// How a kind of target is told and coloured.
[[nodiscard]] const char* kind_words(reach::Kind kind);
[[nodiscard]] const char* kind_colour(reach::Kind kind);
[[nodiscard]] const char* kind_id(reach::Kind kind);  ///< `two-hand`: for class names
inline constexpr std::array drawn_kinds = {reach::Kind::TwoHand,   reach::Kind::OneHand,   reach::Kind::Forbidden,
                                           reach::Kind::Blocked,   reach::Kind::FacesAway, reach::Kind::TooNear,
                                           reach::Kind::OutOfReach};

}  // namespace holdfast::picture
