// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// Scenes whose cleaned meshes and hierarchies are kept from run to run.
//
//   const store::Store store(folder);
//   const auto scene = geometry::build_scene(structure, configuration, {}, &store);   // quick the second time

#include <string>

#include "holdfast/geometry/scene.h"

namespace holdfast::store {
class Store;
}

namespace holdfast::geometry {

/// The scene that `build_scene` gives without a store, from what is kept where that is sound; what had to be made is
/// kept. Mesh files are then not opened: what counts is what they held when the structure was read (its digests).
/// Without a store, and for meshes of a structure that was not read from files, all is made. The store is not referred
/// to later.
[[nodiscard]] Scene build_scene(const model::Structure& structure, const model::Configuration& configuration,
                                const SceneOptions& options, const store::Store* store);

/// Digest of all that the scene's solids were built from: equal digests, equal solids. Empty where that is not known (a
/// mesh file of a structure that was not read from files). Zones are no part of it.
[[nodiscard]] std::string solids_digest(const Scene& scene);

}  // namespace holdfast::geometry
