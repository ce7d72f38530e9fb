// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// LEMON's Dijkstra behind plain types: LEMON's headers compile as C++17 at the latest.

#include <cstdint>
#include <memory>
#include <vector>

namespace holdfast::support {

class LemonDijkstra {
 public:
  struct Edge {
    std::uint32_t a, b;
    std::int64_t weight;
  };
  LemonDijkstra(std::size_t nodes, const std::vector<Edge>& edges);
  ~LemonDijkstra();
  /// -1 when there is no way.
  std::int64_t cost(std::uint32_t from, std::uint32_t to);

 private:
  struct Impl;
  std::unique_ptr<Impl> impl_;
};

}  // namespace holdfast::support
