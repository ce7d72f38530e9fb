// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// What is told of one run: section, gap underneath, outward directions, reasons for doubt.

#include "holdfast/rails/rails.h"
#include "joints_impl.h"

namespace holdfast::rails::detail {

constexpr double least_fill = 0.25;  ///< below, a section is that of a flat bar (5 to 1), an angle or a channel

struct SectionSize {
  double width_m = 0, height_m = 0;
  double fill = 1;    ///< area over that of the circle round it
  double spread = 1;  ///< largest width over the median
  bool is_closed = true;
  SectionShape shape = SectionShape::Other;
};
/// Medians over up to nine places of the line.
[[nodiscard]] SectionSize measure_section(const std::vector<Vec3>& line, double r, Slicer& slicer);

/// `others`: middles of the runs round it, for what has no structure underneath.
[[nodiscard]] FoundRail describe(const Run& run, const SectionSize& size, const Body& body, Slicer& slicer,
                                 const Options& options, const std::vector<Vec3>& others);

}  // namespace holdfast::rails::detail
