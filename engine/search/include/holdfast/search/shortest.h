// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// Cheapest ways on a graph whose moves cost the same in both directions.
//
//   RouteQuery query;                                     // scratch space: keep it, one a thread
//   if (auto way = query.find(adjacency, costs, {{s, {}}}, {{t, {}}})) use(way->nodes);
//
// Requires everywhere: costs.size() covers every move of the adjacency; each cost is blocked or greater than `Cost{}`.

#include <cstdint>
#include <optional>
#include <span>
#include <vector>

#include "holdfast/graph/adjacency.h"
#include "holdfast/search/cost.h"

namespace holdfast::search {

class Landmarks;

/// A node to start from or end at, and what that costs besides.
struct Seed {
  std::uint32_t node;
  Cost cost;
};

struct Path {
  std::vector<std::uint32_t> nodes;  ///< moves.size() + 1
  std::vector<std::uint32_t> moves;
  Cost cost;  ///< of the moves and both seeds
};

/// One-to-one queries between sets of seeds. Backward A*, so that every node on any cheapest way is settled; then
/// forward by the smallest node at each step: of all ways of equal cost the one with the smallest node sequence
/// (design.md 14, Ties).
class RouteQuery {
 public:
  /// Nothing when no way exists. `landmarks`, if given, must have been built on costs that are nowhere above these
  /// (blocking or raising costs keeps them valid); they change the speed, never the answer.
  [[nodiscard]] std::optional<Path> find(const graph::Adjacency& adjacency, std::span<const Cost> costs,
                                         std::span<const Seed> sources, std::span<const Seed> targets,
                                         const Landmarks* landmarks = nullptr);
  /// Nodes settled by the last query: how much work it was.
  [[nodiscard]] std::size_t settled() const { return settled_; }

 private:
  struct Node {
    Cost cost;
    std::uint32_t stamp = 0;     // of the query that touched it
    std::uint32_t position = 0;  // in the heap, or `done`
    std::uint32_t bound = 0;     // lower bound on the primary cost still ahead
    std::uint32_t unused = 0;
  };
  struct Entry {
    Cost key;
    std::uint32_t node;
  };
  static constexpr std::uint32_t done = ~std::uint32_t{0};

  void push_or_lower(std::uint32_t node, Cost cost, Cost key);
  std::uint32_t pop();
  void sift_up(std::size_t at, Entry entry);
  void sift_down(std::size_t at, Entry entry);

  std::vector<Node> nodes_;
  std::vector<Entry> heap_;
  std::uint32_t stamp_ = 0;
  std::size_t settled_ = 0;
};

/// Cheapest costs between a set of seeds and every node. Reusable scratch.
class ShortestTree {
 public:
  void grow(const graph::Adjacency& adjacency, std::span<const Cost> costs, std::span<const Seed> seeds);
  /// Blocked when the node cannot be reached.
  [[nodiscard]] Cost cost(std::uint32_t node) const { return cost_[node]; }
  [[nodiscard]] std::span<const Cost> costs() const { return cost_; }
  /// The cheapest way from one of `sources` to a seed, the one that `RouteQuery` finds. Nothing where there is none.
  /// Requires: grown on the same adjacency and costs from seeds that cost nothing.
  [[nodiscard]] std::optional<Path> way_from(const graph::Adjacency& adjacency, std::span<const Cost> costs,
                                             std::span<const Seed> sources) const;
  /// The first move of that way from a node; null at a seed and where there is no way. Requires: as `way_from`.
  [[nodiscard]] const graph::Arc* next(const graph::Adjacency& adjacency, std::span<const Cost> costs,
                                       std::uint32_t node) const;

 private:
  std::vector<Cost> cost_;
  std::vector<std::vector<std::pair<Cost, std::uint32_t>>> buckets_;
};

}  // namespace holdfast::search
