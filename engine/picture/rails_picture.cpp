// SPDX-License-Identifier: GPL-3.0-or-later
#include <fmt/format.h>
#include <fmt/ranges.h>

#include "holdfast/model/mesh_references.h"
#include "holdfast/picture/picture.h"
#include "holdfast/report/words.h"

namespace holdfast::picture {

namespace {

[[noreturn]] void refuse(const report::ReadFoundRails& result, std::string problem, std::string remedy) {
  throw model::InputError({{{.file = result.file}, "", "wrong-result", std::move(problem), "", std::move(remedy)}});
}

std::string words_of(const report::ReadFoundRail& rail) {
  std::string words = fmt::format("{} m, {:.0f} x {:.0f} mm", report::bare_length_down(rail.length_m),
                                  std::ceil(rail.width_m * 1000 - 0.05), std::ceil(rail.height_m * 1000 - 0.05));
  if (!rail.reasons.empty()) words += fmt::format(": {}", fmt::join(rail.reasons, "; "));
  return words;
}

}  // namespace

void add_found_rails(Picture& picture, const report::Context& context, const geometry::Scene& scene,
                     const report::ReadFoundRails& result) {
  const auto& structure = context.structure;
  const auto& configuration = scene.configuration();
  if (!picture.found.empty())
    refuse(result, "it is the second result of rails in one drawing, and its numbers would be those of the first",
           "draw each into a file of its own");
  const auto part = structure.find_part(result.part);
  if (!part)
    refuse(result, fmt::format("its rails stand on part \"{}\", and this model has none of that name", result.part),
           "give `holdfast rails` the part's id with --in");
  model::Pose pose = model::Pose::Identity();
  if (result.configuration) {
    if (result.structure_digest != model::structure_digest(structure))
      refuse(result, "it was computed from another structure", "compute it again with this model");
    if (*result.configuration != configuration)
      refuse(
          result,
          fmt::format("it was computed for {}, and the drawing shows {}",
                      report::configuration_words(*result.configuration), report::configuration_words(configuration)),
          "set the switches with --state");
  } else {
    if (!structure.is_present(*part, configuration))
      refuse(result, fmt::format("part \"{}\" is not there in this configuration", result.part),
             "set its switch with --state");
    pose = structure.pose(*part, configuration);
  }
  const auto add = [&](const report::ReadFoundRail& rail, FoundKind kind, std::size_t number) {
    FoundPiece piece{kind, rail.id, number, words_of(rail), rail.length_m, {}, result.file};
    for (const auto& point : rail.points) {
      piece.points.emplace_back(pose * point);
      picture.bounds.extend(piece.points.back());
    }
    picture.found.push_back(std::move(piece));
  };
  for (const auto& post : result.posts) add(post, FoundKind::Post, 0);
  for (const auto& rail : result.rails)
    add(rail, rail.sureness == rails::Sureness::Sure ? FoundKind::Sure : FoundKind::Likely, 0);
  for (std::size_t i = 0; i < result.doubtful.size(); ++i) add(result.doubtful[i], FoundKind::Doubtful, i + 1);
}

}  // namespace holdfast::picture
