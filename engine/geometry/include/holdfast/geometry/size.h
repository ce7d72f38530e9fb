// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// How much geometry a model comes to, before it is built.

#include "holdfast/model/model_size.h"

namespace holdfast::geometry {

/// Triangles of mesh files and dishes and bars of trusses that are present in `configuration`. Mesh files are read, and
/// counted, where their sizes could come to more than the limit. Throws `model::InputError` (`too-large`) with the
/// number, the limit and the part that has most; nothing for a mesh file that cannot be read, which `build_scene` tells
/// of.
void check_triangles(const model::Structure& structure, const model::Configuration& configuration,
                     const model::SizeLimits& limits);

}  // namespace holdfast::geometry
