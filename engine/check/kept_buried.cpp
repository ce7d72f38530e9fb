// SPDX-License-Identifier: GPL-3.0-or-later
#include "holdfast/check/kept_buried.h"

#include "holdfast/geometry/kept_scene.h"
#include "holdfast/store/bytes.h"
#include "holdfast/store/store.h"

namespace holdfast::check {

namespace {

constexpr std::string_view kind = "buried";

/// Of the solids and the lines of all rails present; empty where the solids have none.
std::string key_of(const geometry::Scene& scene) {
  const std::string solids = geometry::solids_digest(scene);
  if (solids.empty()) return {};
  store::Writer all;
  all.put(std::string_view(solids));
  const auto& structure = scene.structure();
  for (std::size_t r = 0; r < structure.rails.size(); ++r) {
    const auto& rail = structure.rails[r];
    const bool is_present = structure.is_present(model::RailId(r), scene.configuration());
    all.put(is_present);
    if (!is_present) continue;
    all.put(structure.pose(rail.part, scene.configuration()).matrix());
    all.put(static_cast<std::uint64_t>(rail.points.size()));
    for (const auto& point : rail.points) all.put(point);
  }
  return model::digest_of(all.bytes());
}

std::string pack(const std::vector<BuriedRail>& rails) {
  store::Writer out;
  out.put(static_cast<std::uint64_t>(rails.size()));
  for (const auto& [rail, part, at] : rails) out.put(rail.value), out.put(part.value), out.put(at);
  return out.take();
}

std::optional<std::vector<BuriedRail>> unpack(std::string_view bytes, const model::Structure& structure) {
  store::Reader in(bytes);
  constexpr std::size_t rail_size = 2 * sizeof(std::uint32_t) + 3 * sizeof(double);
  std::vector<BuriedRail> rails(in.take_count(rail_size));
  for (auto& [rail, part, at] : rails) {
    rail.value = in.take<std::uint32_t>(), part.value = in.take<std::uint32_t>(), at = in.take_point();
    if (rail.index() >= structure.rails.size() || part.index() >= structure.parts.size() || !at.allFinite())
      return std::nullopt;
  }
  return in.is_good() && in.is_at_end() ? std::optional(std::move(rails)) : std::nullopt;
}

}  // namespace

std::vector<BuriedRail> find_buried_rails(const geometry::Scene& scene, const store::Store* store) {
  const std::string key = store ? key_of(scene) : std::string();
  if (key.empty()) return find_buried_rails(scene);
  if (const auto entry = store->find(kind, key)) {
    if (auto kept = unpack(entry->body(), scene.structure())) return std::move(*kept);
    store->refuse(kind, key);
  }
  auto found = find_buried_rails(scene);
  store->put(kind, key, pack(found));
  return found;
}

}  // namespace holdfast::check
