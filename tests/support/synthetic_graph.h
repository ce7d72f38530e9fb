// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// Graphs shaped like handrail graphs, of any size, without geometry behind them: rails in rows on invented panel
// fields, trusses and drums, grips 0.15 m apart, moves to every grip within 0.61 m.

#include <cmath>
#include <cstdint>
#include <random>
#include <unordered_map>
#include <vector>

#include "reference_dijkstra.h"

namespace holdfast::support {

struct SyntheticGraph {
  std::size_t nodes = 0;
  std::vector<WeightedEdge> edges;           ///< weights in 1e-5 s
  std::vector<std::int64_t> length_of_edge;  ///< 1e-5 m
  std::vector<std::uint32_t> rail_of_node;
};

inline SyntheticGraph synthetic_graph(std::size_t wanted, std::uint64_t seed) {
  std::mt19937_64 random(seed);
  const auto uniform = [&](double low, double high) {
    return std::uniform_real_distribution<double>(low, high)(random);
  };
  struct P {
    double x, y, z;
    std::uint32_t rail;
  };
  std::vector<P> grips;
  std::uint32_t rail = 0;
  // Rows of rails 1 to 2 m long with gaps, on a square field; every 3 m a cross row joins the rows. Some rails are
  // missing.
  const double side = std::sqrt(static_cast<double>(wanted) * 0.15 * 0.75);
  const auto add_row = [&](bool along_x, double across) {
    for (double at = 0; at < side;) {
      const double length = uniform(1, 2);
      const bool is_missing = uniform(0, 1) < 0.06;
      if (!is_missing) {
        const int steps = static_cast<int>(std::ceil(length / 0.15));
        const double bump = 0.3 * std::sin(at * 0.7 + across);  // not flat, so that straight-line bounds are loose
        for (int k = 0; k <= steps; ++k) {
          const double s = at + length * k / steps;
          grips.push_back(along_x ? P{s, across, bump, rail} : P{across, s, bump, rail});
        }
        ++rail;
      }
      at += length + uniform(0.2, 0.6);
    }
  };
  for (double y = 0; y < side; y += 1.1) add_row(true, y);
  for (double x = 0; x < side; x += 3.0) add_row(false, x);

  SyntheticGraph graph;
  graph.nodes = grips.size();
  for (const P& grip : grips) graph.rail_of_node.push_back(grip.rail);
  constexpr double reach = 0.61;
  std::unordered_map<std::int64_t, std::vector<std::uint32_t>> cells;
  const auto key = [&](double x, double y) {
    return static_cast<std::int64_t>(std::floor(x / reach)) * 1'000'003 +
           static_cast<std::int64_t>(std::floor(y / reach));
  };
  for (std::uint32_t g = 0; g < grips.size(); ++g) cells[key(grips[g].x, grips[g].y)].push_back(g);
  for (std::uint32_t g = 0; g < grips.size(); ++g)
    for (int dx = -1; dx <= 1; ++dx)
      for (int dy = -1; dy <= 1; ++dy) {
        const auto found = cells.find(key(grips[g].x + dx * reach, grips[g].y + dy * reach));
        if (found == cells.end()) continue;
        for (const auto h : found->second) {
          if (h <= g) continue;
          const double d = std::hypot(grips[h].x - grips[g].x, grips[h].y - grips[g].y, grips[h].z - grips[g].z);
          if (d > reach) continue;
          const double seconds = std::max(2.0, d / 0.2) + (grips[g].rail == grips[h].rail ? 0.0 : 2.0);
          graph.edges.push_back({g, h, static_cast<std::int64_t>(std::ceil(seconds * 1e5))});
          graph.length_of_edge.push_back(static_cast<std::int64_t>(std::ceil(d * 1e5)));
        }
      }
  return graph;
}

}  // namespace holdfast::support
