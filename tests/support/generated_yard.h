// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// A yard of any size: a field of drums with rails along them, rings that join the rails, and bridges from drum to drum.

#include <cmath>
#include <numbers>

#include "yard_builder.h"

namespace holdfast::support {

/// About `grips` grips. The drums are cylinders (exact solids); `as_mesh` files are not needed for timing the graph.
inline model::Structure generated_yard(std::size_t grips) {
  YardBuilder yard;
  constexpr double radius = 2, length = 12, pitch_y = 8, pitch_x = 13;
  // Eight lines of rails and four rings a drum: 8 * 12 m + 4 * 2 pi 2.07 m, about 150 m or 1,000 grips.
  const auto drums = std::max<std::size_t>(1, grips / 1000);
  const auto columns = static_cast<std::size_t>(std::ceil(std::sqrt(static_cast<double>(drums))));
  for (std::size_t d = 0; d < drums; ++d) {
    const Vec3 at(static_cast<double>(d % columns) * pitch_x, static_cast<double>(d / columns) * pitch_y, 0);
    const std::string id = std::to_string(d);
    const auto drum =
        yard.part("drum-" + id, model::Cylinder{.from = at, .to = at + Vec3(length, 0, 0), .radius = radius});
    const auto on = [&](double x, double angle) {
      return Vec3(at + Vec3(x, 2.07 * std::sin(angle), -2.07 * std::cos(angle)));
    };
    const auto out = [](double angle) { return Vec3(0, std::sin(angle), -std::cos(angle)); };
    for (int line = 0; line < 8; ++line)
      for (int piece = 0; piece < 8; ++piece) {
        const double angle = line * std::numbers::pi / 4;
        yard.rail("line-" + id + "-" + std::to_string(line) + "-" + std::to_string(piece), drum,
                  {on(0.1 + piece * 1.5, angle), on(1.3 + piece * 1.5, angle)}, {out(angle)});
      }
    for (int ring = 0; ring < 4; ++ring)
      for (int piece = 0; piece < 15; ++piece) {
        const double x = 0.6 + ring * 3.6, a0 = piece * 0.41888, a1 = a0 + 0.36;
        yard.rail("ring-" + id + "-" + std::to_string(ring) + "-" + std::to_string(piece), drum,
                  {on(x, a0), on(x, (a0 + a1) / 2), on(x, a1)});
      }
  }
  // Bridges to the next drum of the row, and to the next row: rails in free space.
  for (std::size_t d = 0; d < drums; ++d) {
    const Vec3 at(static_cast<double>(d % columns) * pitch_x, static_cast<double>(d / columns) * pitch_y, 0);
    const model::PartId drum(d);
    const std::string id = std::to_string(d);
    if (d + 1 < drums && (d + 1) % columns != 0)
      yard.rail("bridge-x-" + id, drum, {at + Vec3(12.1, 0, -2.07), at + Vec3(12.9, 0, -2.07)}, {-Vec3::UnitZ()});
    if (d + columns < drums)
      yard.rail("bridge-y-" + id, drum, {at + Vec3(6.4, 2.6, 0), at + Vec3(6.4, 5.4, 0)}, {-Vec3::UnitZ()});
  }
  yard.place("start", Vec3(0.1, 0, -2.07), 0.3);
  const auto last = yard.structure.parts.size() - 1;
  yard.place("end", std::get<model::Cylinder>(yard.structure.parts[last].shape).from + Vec3(11, 0, -2.07), 0.8);
  // A zone or two so that labelling is timed too.
  yard.zone("keep-out", model::Sphere{.center = {6, 0, -3}, .radius = 0.8});
  yard.zone("caution", model::Cylinder{.from = {0, 2, 0}, .to = {12, 2, 0}, .radius = 0.5}, model::ZoneEffect::Caution);
  return yard.structure;
}

/// The same yard's surface as triangles, for scenes of meshes: each drum tessellated to `sides` x `slices`.
inline geometry::TriangleMesh generated_mesh(const model::Structure& structure, int sides, int slices) {
  geometry::TriangleMesh mesh;
  for (const auto& part : structure.parts) {
    const auto& c = std::get<model::Cylinder>(part.shape);
    const auto base = static_cast<std::uint32_t>(mesh.vertices.size());
    for (int s = 0; s <= slices; ++s)
      for (int i = 0; i < sides; ++i) {
        const double angle = 2 * std::numbers::pi * i / sides;
        mesh.vertices.push_back(c.from + (c.to - c.from) * (static_cast<double>(s) / slices) +
                                Vec3(0, c.radius * std::sin(angle), -c.radius * std::cos(angle)));
      }
    const auto id = [&](int s, int i) { return base + static_cast<std::uint32_t>(s * sides + i % sides); };
    for (int s = 0; s < slices; ++s)
      for (int i = 0; i < sides; ++i) {
        mesh.triangles.push_back({id(s, i), id(s + 1, i), id(s + 1, i + 1)});
        mesh.triangles.push_back({id(s, i), id(s + 1, i + 1), id(s, i + 1)});
      }
    for (int i = 1; i + 1 < sides; ++i) {
      mesh.triangles.push_back({id(0, 0), id(0, i), id(0, i + 1)});
      mesh.triangles.push_back({id(slices, 0), id(slices, i + 1), id(slices, i)});
    }
  }
  return mesh;
}

}  // namespace holdfast::support
