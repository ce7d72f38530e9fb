// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// A picture as a page, as a sheet and as a model for other viewers. Each gives the whole file as one string; the same
// picture gives the same bytes.

#include <string>

#include "holdfast/picture/picture.h"

namespace holdfast::picture {

/// One self-contained page: it asks nothing of a network. Texts of the model stand in it as data, never as markup.
[[nodiscard]] std::string html(const Picture& picture);

struct Sheet {
  std::string svg;
  int scale = 1;           ///< 1:scale; lengths on the sheet times this are true lengths
  std::size_t sheets = 1;  ///< of A3, one below the other in the file
};
/// Three orthographic views on A3, third-angle: from zenith, from starboard, from forward. What is hidden is drawn thin
/// and dashed. The scale is the largest of the customary ones at which all of the picture fits beside title and legend.
/// Legend and waypoint tables are whole: what has no room on the first sheet goes on further ones. Labels of the views
/// never lie over each other; those without room are left out.
[[nodiscard]] Sheet svg(const Picture& picture);

/// Binary glTF 2.0. glTF has +y up and looks along -z; the root node turns the structure frame so that zenith is up and
/// forward is +z, which glTF calls the front: (x, y, z) -> (-y, -z, x). Accessors stay in the structure frame.
[[nodiscard]] std::string glb(const Picture& picture);

}  // namespace holdfast::picture
