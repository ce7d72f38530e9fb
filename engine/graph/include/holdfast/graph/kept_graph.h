// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// Graphs kept from run to run: building one is what takes longest of a question.
//
//   const store::Store store(folder);
//   const auto scene = geometry::build_scene(structure, configuration, {}, &store);
//   const auto graph = graph::build_handrail_graph(scene, body, &store);       // quick the second time

#include "holdfast/graph/handrail_graph.h"

namespace holdfast::store {
class Store;
}

namespace holdfast::graph {

/// The graph that `build_handrail_graph` gives without a store, from what is kept where that is sound; else built, and
/// kept. Without a store, and over a scene whose solids nobody knows by a digest (geometry::solids_digest): built.
/// Keeps a reference to `scene`, not to the store.
[[nodiscard]] HandrailGraph build_handrail_graph(const geometry::Scene& scene, const Body& body,
                                                 const store::Store* store);

}  // namespace holdfast::graph
