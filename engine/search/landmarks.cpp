#include "holdfast/search/landmarks.h"

#include <algorithm>
#include <limits>

namespace holdfast::search {

namespace {

/// Farther than any primary cost a table can hold, or not to be reached: says nothing about a node.
constexpr std::uint32_t unknown = std::numeric_limits<std::uint32_t>::max();

}  // namespace

Landmarks::Landmarks(const graph::Adjacency& adjacency, std::span<const Cost> costs) {
  const std::size_t n = adjacency.node_count();
  distance_.assign(n * count, 0);
  if (n == 0) return;
  ShortestTree tree;
  const Seed first{0, {}};
  tree.grow(adjacency, costs, {&first, 1});
  std::vector<std::int64_t> nearest(n, std::numeric_limits<std::int64_t>::max());
  for (std::size_t v = 0; v < n; ++v) nearest[v] = tree.cost(static_cast<std::uint32_t>(v)).primary();
  for (std::size_t i = 0; i < count; ++i) {
    // The node farthest from all landmarks so far; nodes of islands without a landmark are 'blocked' far and come
    // first.
    const auto farthest =
        static_cast<std::uint32_t>(std::max_element(nearest.begin(), nearest.end()) - nearest.begin());
    const Seed seed{farthest, {}};
    tree.grow(adjacency, costs, {&seed, 1});
    for (std::size_t v = 0; v < n; ++v) {
      const Cost cost = tree.cost(static_cast<std::uint32_t>(v));
      const bool is_known = !cost.is_blocked() && cost.primary() < static_cast<std::int64_t>(unknown);
      distance_[v * count + i] = is_known ? static_cast<std::uint32_t>(cost.primary()) : unknown;
      nearest[v] = i == 0 ? cost.primary() : std::min(nearest[v], cost.primary());
    }
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
