// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// Ways that a planner would call different: each little longer than the best, sharing little with those before, and
// without a detour on any short stretch.
//
//   const Seed from{s, {}}, to{t, {}};
//   for (const auto& way : find_alternatives(adjacency, costs, {.sources = {&from, 1}, .targets = {&to, 1},
//                                            .group_of_node = rail_of_grip, .length_of_move = length_of_move}))
//     use(way.way.nodes, way.stretch);
//
// Listing the k cheapest ways (Yen) is no use here: re-gripping 0.15 + 0.45 m costs what 0.45 + 0.15 m does, so the
// ways at the head of such a list hold the very same rails.
//
// Source: Abraham, Delling, Goldberg, Werneck, Alternative routes in road networks, ACM Journal of Experimental
// Algorithmics 18, 2013: ways through one node, taken from the plateaus of two trees; bounded stretch, limited sharing,
// and local optimality by the T-test.

#include <cstddef>
#include <cstdint>
#include <functional>
#include <span>
#include <vector>

#include "holdfast/graph/adjacency.h"
#include "holdfast/search/cost.h"
#include "holdfast/search/shortest.h"

namespace holdfast::search {

/// Requires: stretch >= 1; 0 <= sharing < 1; 0 <= locally; one group for each node, one length >= 0 for each move. The
/// greatest group is an index: a table that long is kept.
struct AlternativesRequest {
  std::span<const Seed> sources, targets;
  std::size_t most = 3;   ///< ways in all, the best included
  double stretch = 1.3;   ///< a way's primary cost is at most this times the best's
  double sharing = 0.7;   ///< at most this fraction of a way is shared, see `Alternative::shared_fraction`
  double locally = 0.25;  ///< each stretch of a way of at most this fraction of the best's primary cost is a cheapest
                          ///< way between its two ends
  std::span<const std::uint32_t> group_of_node;  ///< what a hand holds, the rail of each grip: nodes of one group are
                                                 ///< not told apart when sharing is measured
  std::span<const std::int64_t> length_of_move;  ///< what sharing is measured in, any unit
  std::function<bool(const Path&)> accept = {};  ///< a further test that each way but the best must pass; asked last,
                                                 ///< and at most 6 x `most` times
};

struct Alternative {
  Path way;
  double stretch = 1;          ///< primary cost over the best's; 1 where both are 0
  double shared_fraction = 0;  ///< length of the moves shared with the ways before, taken together, over the best's
                               ///< length or its own, whichever is less. A move within a group is shared when a way
                               ///< before held that group; one between two groups, when a way before went between
                               ///< them in either direction.
  std::uint32_t via = 0;       ///< a node of the way: it is a cheapest one to there and a cheapest one on from there;
                               ///< of the best way its first node
};

/// First the best way, the very one that `RouteQuery` returns; then at most `most - 1` others, each without a repeated
/// node, the most promising first: little longer, little shared, long plateau. Nothing when no way exists; the best
/// alone when it has no moves or no length, or when nothing else passes.
///
/// Not every way that would pass is found: only ways through one node are looked at, the T-test may refuse one whose
/// shortest bad stretch is up to twice as long as `locally` says, and tests are rationed. Whatever is returned keeps
/// every limit exactly. Deterministic. Cost, of five ways: less than ten plain queries between far ends, some 14
/// between near ones (bench/README.md).
[[nodiscard]] std::vector<Alternative> find_alternatives(const graph::Adjacency& adjacency, std::span<const Cost> costs,
                                                         const AlternativesRequest& request);

}  // namespace holdfast::search
