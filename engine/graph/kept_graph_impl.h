// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// What a graph is made of, as bytes and back.

#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "holdfast/graph/handrail_graph.h"

namespace holdfast::graph::detail {

/// Zone labels of grips or moves, by item.
struct ZoneLabels {
  std::vector<std::uint32_t> first;  // item count + 1
  std::vector<ZoneLabel> labels;
};

/// All of a graph that cannot be had from the rest in no time.
struct GraphParts {
  std::vector<Grip> grips;
  std::vector<Move> moves;
  Adjacency adjacency;
  ZoneLabels grip_zones, move_zones;
  std::vector<std::uint32_t> rail_first;
  std::shared_ptr<const geometry::PointTree> hands;
};
[[nodiscard]] HandrailGraph assemble(const geometry::Scene& scene, const Body& body, GraphParts&& parts);

/// Digest of all that the graph depends on; empty where the scene's solids have none.
[[nodiscard]] std::string graph_key(const geometry::Scene& scene, const Body& body);

[[nodiscard]] std::string pack(const HandrailGraph& graph);
/// Nothing for bytes that are no graph over this structure: an index, count or number out of range.
[[nodiscard]] std::optional<GraphParts> unpack_graph(std::string_view bytes, const model::Structure& structure);

}  // namespace holdfast::graph::detail
