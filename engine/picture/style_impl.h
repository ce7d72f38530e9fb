// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// How ways are told apart, in every form of the drawing: by colour, by line style and by letter.

#include <array>
#include <cstddef>

namespace holdfast::picture {

/// Colours that people with any kind of colour vision tell apart, and that are dark enough for white paper.
/// Source: Okabe and Ito, 'Color Universal Design', 2008, without its yellow; its black stands last.
inline constexpr std::array<const char*, 7> way_colours = {"#0072b2", "#d55e00", "#009e73", "#cc79a7",
                                                           "#e69f00", "#56b4e9", "#000000"};
/// Stroke, gap, stroke, gap; in widths of the line. All strokes: no gaps. One more than colours would repeat the pairs
/// later, so the counts share no divisor.
inline constexpr std::array<std::array<double, 4>, 5> way_dashes = {
    {{1, 0, 1, 0}, {5, 2.5, 5, 2.5}, {1.2, 1.8, 1.2, 1.8}, {6, 2, 1.2, 2}, {9, 1.6, 3, 1.6}}};

inline const char* colour_of(std::size_t way) { return way_colours[way % way_colours.size()]; }
inline const std::array<double, 4>& dash_of(std::size_t way) { return way_dashes[way % way_dashes.size()]; }

}  // namespace holdfast::picture
