// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// Rails that run into solids, kept from run to run: every question asks for them first.

#include <vector>

#include "holdfast/check/check.h"

namespace holdfast::store {
class Store;
}

namespace holdfast::check {

/// What `find_buried_rails` gives without a store, from what is kept where that is sound; else found, and kept. Without
/// a store, and over a scene whose solids nobody knows by a digest (geometry::solids_digest): found.
[[nodiscard]] std::vector<BuriedRail> find_buried_rails(const geometry::Scene& scene, const store::Store* store);

}  // namespace holdfast::check
