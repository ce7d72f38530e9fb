// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// Yen's k cheapest loopless ways, as written down in the paper, with a textbook Dijkstra: the reference for what a list
// of cheapest ways would be. J. Y. Yen, Finding the k shortest loopless paths in a network, Management Science 17,
// 1971.

#include <algorithm>
#include <cstdint>
#include <limits>
#include <optional>
#include <set>
#include <utility>
#include <vector>

#include "reference_dijkstra.h"

namespace holdfast::support {

struct YenWay {
  std::int64_t cost = 0;
  std::vector<std::uint32_t> nodes;
  friend auto operator<=>(const YenWay&, const YenWay&) = default;
};

class Yen {
 public:
  /// Arcs go from a to b only.
  Yen(std::size_t nodes, const std::vector<WeightedEdge>& arcs) : out_(nodes) {
    for (const auto& arc : arcs) out_[arc.a].push_back(arc);
  }

  /// At most `k` ways, cheapest first; of equal cost the smaller node sequence first.
  [[nodiscard]] std::vector<YenWay> find(std::uint32_t from, std::uint32_t to, std::size_t k) const {
    std::vector<YenWay> ways;
    std::set<YenWay> candidates;
    if (auto first = cheapest(from, to, std::vector<bool>(out_.size()), {})) candidates.insert(*first);
    while (ways.size() < k && !candidates.empty()) {
      ways.push_back(candidates.extract(candidates.begin()).value());
      // Leave the last way at each of its nodes by an arc that no way with the same beginning has taken.
      const auto last = ways.back().nodes;
      std::vector<bool> is_closed(out_.size());
      std::int64_t root_cost = 0;
      for (std::size_t i = 0; i + 1 < last.size(); ++i) {
        std::set<std::uint32_t> is_taken;
        for (const auto& way : ways)
          if (way.nodes.size() > i + 1 && std::equal(last.begin(), last.begin() + at(i) + 1, way.nodes.begin()))
            is_taken.insert(way.nodes[i + 1]);
        if (const auto spur = cheapest(last[i], to, is_closed, is_taken)) {
          YenWay way{root_cost + spur->cost, {last.begin(), last.begin() + at(i)}};
          way.nodes.insert(way.nodes.end(), spur->nodes.begin(), spur->nodes.end());
          candidates.insert(way);
        }
        is_closed[last[i]] = true;
        root_cost += weight(last[i], last[i + 1]);
      }
    }
    return ways;
  }

 private:
  static std::ptrdiff_t at(std::size_t i) { return static_cast<std::ptrdiff_t>(i); }

  [[nodiscard]] std::int64_t weight(std::uint32_t a, std::uint32_t b) const {
    std::int64_t least = std::numeric_limits<std::int64_t>::max();
    for (const auto& arc : out_[a])
      if (arc.b == b) least = std::min(least, arc.weight);
    return least;
  }

  [[nodiscard]] std::optional<YenWay> cheapest(std::uint32_t from, std::uint32_t to, const std::vector<bool>& is_closed,
                                               const std::set<std::uint32_t>& not_first) const {
    std::vector<YenWay> best(out_.size());
    std::vector<bool> done(is_closed);
    std::set<YenWay> open = {{0, {from}}};
    while (!open.empty()) {
      const YenWay way = open.extract(open.begin()).value();
      const auto node = way.nodes.back();
      if (done[node]) continue;
      done[node] = true;
      if (node == to) return way;
      for (const auto& arc : out_[node]) {
        if (done[arc.b] || (node == from && not_first.contains(arc.b))) continue;
        YenWay longer{way.cost + arc.weight, way.nodes};
        longer.nodes.push_back(arc.b);
        if (best[arc.b].nodes.empty() || longer < best[arc.b]) open.insert(best[arc.b] = longer);
      }
    }
    return std::nullopt;
  }

  std::vector<std::vector<WeightedEdge>> out_;
};

}  // namespace holdfast::support
