// SPDX-License-Identifier: GPL-3.0-or-later
#include "holdfast/search/landmarks.h"

#include <algorithm>
#include <limits>

namespace holdfast::search {

namespace {

/// Farther than any primary cost a table can hold, or not to be reached: says nothing about a node.
constexpr std::uint32_t unknown = std::numeric_limits<std::uint32_t>::max();

}  // namespace

namespace {

/// Island of each node under the open costs, and the size of each island.
struct Islands {
  std::vector<std::uint32_t> of;
  std::vector<std::size_t> size;
};

Islands find_islands(const graph::Adjacency& adjacency, std::span<const Cost> costs) {
  constexpr std::uint32_t none = std::numeric_limits<std::uint32_t>::max();
  Islands islands{std::vector<std::uint32_t>(adjacency.node_count(), none), {}};
  std::vector<std::uint32_t> open;
  for (std::uint32_t start = 0; start < adjacency.node_count(); ++start) {
    if (islands.of[start] != none) continue;
    const auto island = static_cast<std::uint32_t>(islands.size.size());
    islands.size.push_back(0);
    islands.of[start] = island;
    open.push_back(start);
    while (!open.empty()) {
      const auto node = open.back();
      open.pop_back();
      ++islands.size[island];
      for (const auto& arc : adjacency.out(node))
        if (islands.of[arc.head] == none && !costs[arc.move].is_blocked())
          islands.of[arc.head] = island, open.push_back(arc.head);
    }
  }
  return islands;
}

}  // namespace

Landmarks::Landmarks(const graph::Adjacency& adjacency, std::span<const Cost> costs) {
  const std::size_t n = adjacency.node_count();
  distance_.assign(n * count, unknown);
  if (n == 0) return;
  // Landmarks on islands too small to matter would be wasted; on those no bound is needed, their few nodes are soon
  // searched.
  const auto islands = find_islands(adjacency, costs);
  const std::size_t largest = *std::max_element(islands.size.begin(), islands.size.end());
  const auto counts = [&](std::size_t v) {
    return islands.size[islands.of[v]] >= std::max<std::size_t>(1, largest / 8);
  };
  ShortestTree tree;
  constexpr std::int64_t unseen = std::numeric_limits<std::int64_t>::max();
  std::vector<std::int64_t> nearest(n, unseen);
  // The first landmark is the farthest node from an arbitrary one, so that landmarks lie on the rim.
  std::uint32_t start = 0;
  while (!counts(start)) ++start;
  for (std::size_t i = 0; i <= count; ++i) {
    const Seed seed{start, {}};
    tree.grow(adjacency, costs, {&seed, 1});
    for (std::size_t v = 0; v < n; ++v) {
      const Cost cost = tree.cost(static_cast<std::uint32_t>(v));
      if (cost.is_blocked()) continue;
      nearest[v] = i <= 1 ? cost.primary() : std::min(nearest[v], cost.primary());
      if (i > 0 && cost.primary() < static_cast<std::int64_t>(unknown))
        distance_[v * count + i - 1] = static_cast<std::uint32_t>(cost.primary());
    }
    std::int64_t most = -1;
    for (std::size_t v = 0; v < n; ++v)
      if (counts(v) && nearest[v] > most) most = nearest[v], start = static_cast<std::uint32_t>(v);
  }
}

Landmarks::Goal Landmarks::goal(std::span<const Seed> seeds) const {
  // A landmark that does not know every seed bounds nothing: nearest 0 and farthest 'unknown' make both differences 0.
  // One that knows the seeds but not a node says the node cannot reach them at all, which is true as well.
  Goal goal{};
  for (std::size_t i = 0; i < count; ++i) {
    std::uint32_t least = unknown, most = 0;
    for (const Seed& seed : seeds) {
      const std::uint32_t d = distance_[static_cast<std::size_t>(seed.node) * count + i];
      least = std::min(least, d), most = std::max(most, d);
    }
    goal.nearest[i] = most == unknown ? 0 : least;
    goal.farthest[i] = most == unknown ? unknown : most;
  }
  return goal;
}

}  // namespace holdfast::search
