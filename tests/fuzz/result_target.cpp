// SPDX-License-Identifier: GPL-3.0-or-later
#include <pugixml.hpp>

#include "holdfast/geometry/scene.h"
#include "holdfast/picture/handout.h"
#include "holdfast/picture/write.h"
#include "holdfast/report/read.h"
#include "targets.h"

namespace holdfast::fuzz {

namespace {

/// What `draw` makes of it.
void draw(const report::ReadResult* result, const report::ReadFoundRails* rails) {
  const auto& [structure, kit, notes] = small_model();
  static const auto scene =
      geometry::build_scene(structure, structure.default_configuration(), {.chord_error_m = 0.05});
  static const report::Context context{structure, kit, kit.suits.front(), "model", "test"};
  static const auto empty = picture::draw_structure(context, scene);
  auto picture = empty;
  if (result) picture::add_result(picture, context, scene, *result);
  if (rails) picture::add_found_rails(picture, context, scene, *rails);
  const auto sheet = picture::svg(picture).svg;
  require(model::with_code_points(sheet, true) == sheet, "a sheet with a character that acts");
  require(pugi::xml_document().load_buffer(sheet.data(), sheet.size()), "a sheet that is no XML");
  (void)picture::glb(picture);
  if (!picture.excursion) return;
  (void)picture::cue_cards(picture.excursion->handout);
  (void)picture::timeline_sheet(picture.excursion->handout);
}

/// False where it is refused.
template <class Read>
bool is_read(const Read& read) {
  try {
    read();
    return true;
  } catch (const model::InputError& error) {
    require_told(error);
    return false;
  }
}

}  // namespace

void result(std::string_view input) {
  const std::string text(input);
  const auto& [structure, kit, notes] = small_model();
  if (report::is_rails_result(text)) {
    (void)is_read([&] {
      const auto rails = report::read_found_rails("r.json", text);
      draw(nullptr, &rails);
    });
    return;
  }
  if (!is_read([&] {
        const auto result = report::read_result("r.json", text, structure, kit);
        draw(&result, nullptr);
      }))
    return;
  (void)is_read([&] { (void)report::read_ways("r.json", text, structure, kit); });
  (void)is_read([&] { (void)report::read_laid("r.json", text, structure, kit); });
  (void)is_read([&] { (void)report::read_stage("r.json", text, structure, kit); });
}

}  // namespace holdfast::fuzz
