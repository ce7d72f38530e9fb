// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// Cheapest way within limits on resources: label setting with dominance, pruned by exact backward trees.
//
// Cost and resources both add up along the way; a label (node, cost, resources) is dropped when another at the same
// node is no worse in all. Source: Irnich and Desaulniers, Shortest path problems with resource constraints, in Column
// Generation (2005).

#include <cstdint>
#include <optional>
#include <span>
#include <vector>

#include "holdfast/graph/adjacency.h"
#include "holdfast/search/shortest.h"

namespace holdfast::search {

/// A resource that each move uses up, in whole units (1e-5 s, 1e-5 m ...), and how much of it there is for the whole
/// way.
struct Resource {
  std::vector<std::int64_t> by_move;  ///< not negative
  std::int64_t limit = 0;
};

struct LimitedRequest {
  /// Seeds to start from, those to pass in order, and those to end at: two or more sets. Only the last set's costs
  /// count.
  std::vector<std::vector<Seed>> stops;
  std::vector<Resource> resources;
  std::size_t most_labels = 2'000'000;
};

struct LimitedPath {
  std::optional<Path> way;           ///< nothing: none within the limits (or cut short)
  std::vector<std::size_t> stop_at;  ///< index into way->nodes where each stop is made; stops.size() entries
  std::vector<std::int64_t> used;    ///< of each resource
  std::vector<std::int64_t> least;   ///< of each resource: the least any way needs; max when there is no way at all
  std::size_t labels = 0;            ///< made
  bool is_cut_short = false;         ///< the label limit was reached before the answer was certain
  Cost least_cost = {};              ///< when cut short: no way within the limits costs less
};

/// Optimal unless cut short. Deterministic.
[[nodiscard]] LimitedPath find_limited_path(const graph::Adjacency& adjacency, std::span<const Cost> costs,
                                            const LimitedRequest& request);

// ---- all ways that are best in some respect
// ---------------------------------------------------------------------------

struct ParetoRequest {
  std::vector<std::vector<Seed>> stops;  ///< as in LimitedRequest; costs are not looked at
  /// What is to be small besides the primary part of the cost; a limit, if any, holds as well.
  std::vector<Resource> criteria;
  /// What is to be large: the least of these over the way (a bottleneck). Empty: not a criterion.
  std::span<const std::int32_t> width_by_move = {};
  std::span<const std::int32_t> width_by_node = {};  ///< counts where a leg starts and ends
  std::size_t most_labels = 2'000'000;
};

struct ParetoPath {
  Path way;
  std::vector<std::size_t> stop_at;
  std::vector<std::int64_t> used;  ///< of each criterion
  std::int32_t width = 0;          ///< max when there is no such criterion
};

struct ParetoSet {
  std::vector<ParetoPath> ways;  ///< by cost; no two equal in all criteria, of equals the one of least cost
  std::size_t labels = 0;
  bool is_cut_short = false;  ///< the label limit was reached: there may be more ways, and better ones
};

/// Every combination of criteria that no other way betters in all; one way for each. Exact unless cut short.
/// Deterministic. Source: label setting as above; Hansen, Bicriterion path problems (1980), shows that the set can grow
/// as 2^(moves / 2).
[[nodiscard]] ParetoSet find_pareto_paths(const graph::Adjacency& adjacency, std::span<const Cost> costs,
                                          const ParetoRequest& request);

}  // namespace holdfast::search
