// SPDX-License-Identifier: GPL-3.0-or-later
#include "holdfast/search/widest.h"

#include <algorithm>
#include <limits>
#include <queue>

namespace holdfast::search {

namespace {

constexpr double closed = -std::numeric_limits<double>::infinity();

/// Fewest moves over those at least this wide; smallest node first.
WidestPath shortest_among(const graph::Adjacency& adjacency, std::span<const double> widths,
                          std::span<const Seed> sources, const std::vector<bool>& is_target, double width) {
  constexpr std::uint32_t none = ~std::uint32_t{0};
  std::vector<std::uint32_t> from(adjacency.node_count(), none), by(adjacency.node_count(), none);
  std::vector<bool> seen(adjacency.node_count());
  std::vector<std::uint32_t> queue;
  for (const Seed& s : sources)
    if (!seen[s.node]) seen[s.node] = true, queue.push_back(s.node);
  std::sort(queue.begin(), queue.end());
  WidestPath way;
  for (std::size_t i = 0; i < queue.size(); ++i) {
    const auto node = queue[i];
    if (is_target[node]) {
      for (auto n = node; n != none; n = from[n]) {
        way.nodes.push_back(n);
        if (by[n] != none) way.moves.push_back(by[n]);
      }
      break;
    }
    for (const auto& arc : adjacency.out(node)) {
      if (seen[arc.head] || widths[arc.move] < width || widths[arc.move] == closed) continue;
      seen[arc.head] = true, from[arc.head] = node, by[arc.head] = arc.move;
      queue.push_back(arc.head);
    }
  }
  std::reverse(way.nodes.begin(), way.nodes.end());
  std::reverse(way.moves.begin(), way.moves.end());
  return way;
}

}  // namespace

std::optional<WidestPath> find_widest_path(const graph::Adjacency& adjacency, std::span<const double> widths,
                                           std::span<const Seed> sources, std::span<const Seed> targets) {
  std::vector<double> best(adjacency.node_count(), closed);
  std::vector<bool> is_target(adjacency.node_count());
  for (const Seed& t : targets) is_target[t.node] = true;
  std::priority_queue<std::pair<double, std::uint32_t>> open;  // widest on top
  for (const Seed& s : sources)
    best[s.node] = std::numeric_limits<double>::infinity(), open.emplace(best[s.node], s.node);
  while (!open.empty()) {
    const auto [width, node] = open.top();
    open.pop();
    if (width < best[node]) continue;
    if (is_target[node]) {
      WidestPath way = shortest_among(adjacency, widths, sources, is_target, width);
      way.width = width;
      for (const auto move : way.moves)
        if (!way.pinch || widths[move] < widths[*way.pinch]) way.pinch = move;
      return way;
    }
    for (const auto& arc : adjacency.out(node)) {
      const double through = std::min(width, widths[arc.move]);
      if (through > best[arc.head]) best[arc.head] = through, open.emplace(through, arc.head);
    }
  }
  return std::nullopt;
}

}  // namespace holdfast::search
