// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// Small yards for excursions: a straight line of rails with places on it, a kit, and excursions from text.

#include <fmt/format.h>

#include <string>

#include "holdfast/model/excursion.h"
#include "holdfast/plan/plan.h"
#include "yard_builder.h"

namespace holdfast::plan::sample {

using model::Vec3;

inline constexpr const char* kit_text = R"(holdfast: kit/1
loads:
  - {id: bag, size_m: [0.3, 0.3, 0.3], mass_kg: 10, carried: worn, offset_m: [0, 0.4, 0], stow_s: 20}
  - {id: case, size_m: [0.4, 0.3, 0.3], mass_kg: 30, carried: beside, offset_m: [0, 0.45, 0], stow_s: 25}
  - {id: frame, size_m: [0.5, 0.4, 0.4], mass_kg: 18, carried: beside, offset_m: [0, 0.5, 0], stow_s: 30}
  - {id: victim, size_m: [1.2, 0.6, 0.5], mass_kg: 200, carried: in-tow, tow_length_m: 1.0, rate_m_s: 0.08, crew: true}
foot_restraints:
  - {id: portable}
tethers:
  - {id: reel, length_m: 30}
  - {id: short, length_m: 6}
)";

/// A rail of 20 m along x with its outward direction to zenith, and one like it 3 m to starboard with a rung between
/// them at both ends; places: hatch at 0, depot at 5, site at 10, end at 20, side at 10 on the second rail.
inline model::Model line_model() {
  support::YardBuilder yard;
  const auto part = yard.nowhere();
  yard.rail("main", part, {{0, 0, 0}, {20, 0, 0}}, {{0, 0, -1}});
  yard.rail("near-rung", part, {{0, 0, 0}, {0, 3, 0}}, {{0, 0, -1}});
  yard.rail("far-rung", part, {{20, 0, 0}, {20, 3, 0}}, {{0, 0, -1}});
  yard.rail("second", part, {{0, 3, 0}, {20, 3, 0}}, {{0, 0, -1}});
  yard.place("hatch", {0, 0, 0}, 0.4, model::PlaceKind::Hatch);
  yard.place("depot", {5, 0, 0}, 0.4, model::PlaceKind::Stowage);
  yard.place("site", {10, 0, 0}, 0.4, model::PlaceKind::Worksite);
  yard.place("end", {20, 0, 0}, 0.4, model::PlaceKind::Worksite);
  yard.place("side", {10, 3, 0}, 0.4, model::PlaceKind::Worksite);
  model::Model model;
  model.structure = yard.structure;
  for (auto& rail : model.structure.rails) rail.use.tether = true;
  model::Anchor anchor;
  anchor.id = "hook";
  anchor.at = {0, 0, -0.3};
  model.structure.anchors.push_back(anchor);
  model::Socket socket;
  socket.id = "socket";
  socket.at = {10, 1.2, 0};
  model.structure.sockets.push_back(socket);
  model::Switch dish;
  dish.id = "dish";
  dish.positions = {"parked", "tracking"};
  dish.default_position = "parked";
  model.structure.switches.push_back(dish);
  model.kit = model::read_kit_text(kit_text);
  return model;
}

inline model::Excursion excursion(const model::Model& model, const std::string& text) {
  return model::read_excursion_text("holdfast: excursion/1\n" + text, model);
}

inline Plan run(const model::Model& model, const model::Excursion& excursion, const PlanOptions& options = {}) {
  return simulate(model, model.structure.default_configuration(), excursion, options);
}

inline std::vector<ViolationKind> kinds(const Plan& plan) {
  std::vector<ViolationKind> kinds;
  for (const auto& v : plan.violations) kinds.push_back(v.kind);
  return kinds;
}

}  // namespace holdfast::plan::sample
