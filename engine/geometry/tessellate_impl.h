// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// Shapes as exact convex pieces, and as closed outward meshes that enclose the shape and leave it by at most the chord
// error.

#include <vector>

#include "holdfast/geometry/mesh.h"
#include "holdfast/model/structure.h"
#include "primitive_impl.h"

namespace holdfast::geometry::detail {

/// Bars of a lattice truss, as cylinders in the part's frame.
[[nodiscard]] std::vector<Frustum> truss_bars(const model::Truss& truss);

[[nodiscard]] Frustum frustum_of(const model::Cylinder& cylinder);
[[nodiscard]] Frustum frustum_of(const model::Cone& cone);
[[nodiscard]] Frustum frustum_of(const model::SolidCone& cone);

[[nodiscard]] TriangleMesh mesh_of(const Frustum& frustum, double chord_error_m);
[[nodiscard]] TriangleMesh mesh_of(const Ball& ball, double chord_error_m);
[[nodiscard]] TriangleMesh mesh_of(const Brick& brick);
/// The dish is thin: its mesh has its vertices on the true faces, and leaves them by at most the chord error to either
/// side.
[[nodiscard]] TriangleMesh mesh_of(const model::Dish& dish, double chord_error_m);

/// Triangles that the mesh of this dish has.
[[nodiscard]] std::size_t count_triangles(const model::Dish& dish, double chord_error_m);

void append(TriangleMesh& to, const TriangleMesh& mesh);
void transform(TriangleMesh& mesh, const model::Pose& pose);

}  // namespace holdfast::geometry::detail
