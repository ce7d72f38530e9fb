// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// Cheapest paths from a hierarchy that is made of the graph alone, where costs change and many questions follow.
//
//   const auto order = std::make_shared<const HierarchyOrder>(adjacency);   // once a graph
//   HierarchyMetric metric(order, costs);                                   // once a table of costs
//   HierarchyQuery query;                                                   // scratch space: keep it, one a thread
//   query.aim(metric, targets);
//   if (auto path = query.find(adjacency, costs, sources)) use(path->nodes);
//
// Answers are those of `RouteQuery` and `ShortestTree`, the smallest node sequence among equals included.
//
// Source: Dibbelt, Strasser, Wagner, Customizable contraction hierarchies, ACM Journal of Experimental Algorithmics 21,
// 2016; costs of many nodes toward one set: Delling, Goldberg, Nowatzyk, Werneck, PHAST, JPDC 73, 2013.

#include <cstdint>
#include <memory>
#include <optional>
#include <span>
#include <vector>

#include "holdfast/graph/adjacency.h"
#include "holdfast/search/cost.h"
#include "holdfast/search/shortest.h"

namespace holdfast::search {

/// Which node comes after which, and the shortcuts that taking nodes out in this order needs: nothing that costs
/// change.
class HierarchyOrder {
 public:
  /// Moves with `is_used` 0 are never open in any table of costs; empty: all may be. Deterministic.
  explicit HierarchyOrder(const graph::Adjacency& adjacency, std::span<const char> is_used = {});

  [[nodiscard]] std::size_t node_count() const { return rank_.size(); }
  /// Moves and shortcuts.
  [[nodiscard]] std::size_t arc_count() const { return heads_.size(); }

 private:
  friend class HierarchyMetric;
  friend class HierarchyQuery;
  static constexpr std::uint32_t none = ~std::uint32_t{0};
  struct Down {
    std::uint32_t tail, arc;
  };
  /// Arc between two ranks; none where they are not joined.
  [[nodiscard]] std::uint32_t find(std::uint32_t low, std::uint32_t high) const;

  /// The lowest of the higher ranks that a rank is joined with; all others are joined with that one as well.
  [[nodiscard]] std::uint32_t parent(std::uint32_t rank) const {
    return first_[rank] == first_[rank + 1] ? none : heads_[first_[rank]];
  }

  std::vector<std::uint32_t> rank_, node_;    // by node, by rank
  std::vector<std::uint32_t> first_, heads_;  // by rank: arcs to higher ranks, sorted
  std::vector<std::uint32_t> tails_;          // by arc
  std::vector<std::uint32_t> down_first_;     // by rank: arcs from lower ranks, sorted
  std::vector<Down> down_;
  std::vector<std::uint32_t> arc_of_move_;  // none where it is not used
  std::vector<std::uint32_t> move_of_arc_;  // a move between the two; none for a mere shortcut ...
  std::vector<std::uint32_t> move_beside_;  // ... and by move the next between the same two
};

/// What moves and shortcuts cost.
class HierarchyMetric {
 public:
  /// Requires: as everywhere in shortest.h; unused moves are blocked.
  HierarchyMetric(std::shared_ptr<const HierarchyOrder> order, std::span<const Cost> costs);
  /// All anew.
  void customize(std::span<const Cost> costs);

  struct Change {
    std::uint32_t arc;
    Cost before;
  };
  /// After some moves became dearer or were blocked: what follows from these alone. Returns what `restore` needs;
  /// nothing, and nothing is changed, where more than `most` arcs are concerned.
  [[nodiscard]] std::optional<std::vector<Change>> raise(std::span<const Cost> costs,
                                                         std::span<const std::uint32_t> moves, std::size_t most);
  /// Takes the last `raise` back.
  void restore(std::span<const Change> changes);

  [[nodiscard]] const HierarchyOrder& order() const { return *order_; }

 private:
  friend class HierarchyQuery;
  [[nodiscard]] Cost cost_of_moves(std::uint32_t arc, std::span<const Cost> costs) const;

  std::shared_ptr<const HierarchyOrder> order_;
  std::vector<CostInteger> costs_;  // by arc
};

/// Costs and paths toward a set of targets, looked at only where they are asked for.
class HierarchyQuery {
 public:
  /// `metric` must outlive what is asked next, and stay as it is.
  void aim(const HierarchyMetric& metric, std::span<const Seed> targets);
  /// From a node to the targets; blocked where there is no path.
  [[nodiscard]] Cost cost(std::uint32_t node);
  /// The path that `RouteQuery` finds from these sources to the targets aimed at. Requires, as the next two: the
  /// adjacency and costs that the metric was customized with.
  [[nodiscard]] std::optional<Path> find(const graph::Adjacency& adjacency, std::span<const Cost> costs,
                                         std::span<const Seed> sources);
  /// That path move by move: the source it leaves from, with the cost of all of it; nothing where there is none.
  [[nodiscard]] std::optional<Seed> start(std::span<const Seed> sources);
  /// ... and from a node of it the move that follows; null where it ends.
  [[nodiscard]] const graph::Arc* next(const graph::Adjacency& adjacency, std::span<const Cost> costs,
                                       std::uint32_t node);
  /// `ShortestTree::costs` of all nodes at once: one pass over the arcs.
  static void sweep(const HierarchyMetric& metric, std::span<const Seed> seeds, std::vector<Cost>& cost_by_node);
  /// Nodes whose cost was found since `aim`: how much work it was.
  [[nodiscard]] std::size_t settled() const { return settled_; }

 private:
  void settle(std::uint32_t rank);

  const HierarchyMetric* metric_ = nullptr;
  std::vector<CostInteger> costs_;     // by rank
  std::vector<std::uint32_t> stamps_;  // ... of the last `aim` that touched it; one more where the cost is known
  std::vector<Seed> targets_;
  struct Next {
    std::uint32_t stamp = 0, arc = 0;  ///< none: a path ends there
  };
  std::vector<Next> next_;  // by node: its arc on the path, where a path of this `aim` came by
  std::vector<std::uint32_t> chain_, others_;
  std::uint32_t stamp_ = 0;
  std::size_t settled_ = 0;
};

}  // namespace holdfast::search
