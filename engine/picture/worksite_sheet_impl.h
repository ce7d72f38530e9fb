// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// Worksites and sight on the sheet: figures, zones, fields of view, patches, and their part of the legend.

#include <functional>
#include <string>
#include <vector>

#include "holdfast/picture/picture.h"
#include "raster_impl.h"

namespace holdfast::picture {

/// A view of the sheet, as far as this needs it.
struct SheetView {
  const Direction& direction;
  Vec2 low, high;                            ///< of what it shows, in metres of the view
  double cell_m;                             ///< of outlines
  std::function<Vec2(const Vec2&)> on_page;  ///< from metres of the view to mm
  std::function<bool(const Vec3&)> is_seen;  ///< not behind structure
  [[nodiscard]] Vec2 page(const Vec3& p) const { return on_page(direction.flat(p)); }
};

/// What is called how on the sheet: `W1`, `E1`, `P1`.
[[nodiscard]] std::string worksite_code(std::size_t index);
[[nodiscard]] std::string eye_code(std::size_t index);
[[nodiscard]] std::string patch_code(std::size_t index);

/// Below lines and marks: patches, fields of view, zones, figures.
void write_worksites(std::string& out, const Picture& picture, const SheetView& view);
/// On top: arms and targets.
void write_targets(std::string& out, const Picture& picture, const SheetView& view);
/// Where codes stand.
struct WorksiteLabel {
  Vec3 at;
  std::string text;
};
[[nodiscard]] std::vector<WorksiteLabel> worksite_labels(const Picture& picture);

struct LegendEntry {
  std::string sign;   ///< in a box of 12 x 3 mm
  std::string words;  ///< a heading where there is no sign
  std::string facts = {};
};
[[nodiscard]] std::vector<LegendEntry> worksite_legend(const Picture& picture);
/// CSS and patterns; the same whether there are worksites or not.
[[nodiscard]] std::string_view worksite_style();
[[nodiscard]] std::string_view worksite_patterns();

}  // namespace holdfast::picture
