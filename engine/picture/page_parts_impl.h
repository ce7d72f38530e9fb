// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// What the page is made of; embedded when building (embed.cmake).

#include <string_view>

namespace holdfast::picture {

// Ours, from page/.
extern const std::string_view page_html, page_css;
extern const std::string_view base_js, charts_js, shapes_js, structure_js, camera_js, paths_js, labels_js, picking_js;
extern const std::string_view found_js, controls_js, worksites_js, excursion_js, view_js, page_js;
extern const std::string_view three_js, orbit_js;                                    // libjs-three
extern const std::string_view line_geometry_js, line_material_js, line_segments_js;  // libjs-three
extern const std::string_view three_version;

}  // namespace holdfast::picture
