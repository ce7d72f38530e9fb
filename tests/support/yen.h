#pragma once
// The k cheapest ways without a repeated node, by J. Y. Yen (Finding the k shortest loopless paths in a network,
// Management Science 17, 1971). Slow and plain: a reference.

#include <algorithm>
#include <cstdint>
#include <limits>
#include <optional>
#include <set>
#include <vector>

namespace holdfast::support {

struct YenArc {
  std::uint32_t from, to;
  std::int64_t cost;
};
struct YenWay {
  std::int64_t cost;
  std::vector<std::uint32_t> nodes;
  bool operator<(const YenWay& o) const { return cost != o.cost ? cost < o.cost : nodes < o.nodes; }
};

class Yen {
 public:
  Yen(std::uint32_t nodes, std::vector<YenArc> arcs) : nodes_(nodes), arcs_(std::move(arcs)) {}

  std::vector<YenWay> find(std::uint32_t from, std::uint32_t to, std::size_t k) const {
    std::vector<YenWay> found;
    std::set<YenWay> waiting;
    if (auto first = cheapest(from, to, {}, {})) waiting.insert(*first);
    while (found.size() < k && !waiting.empty()) {
      found.push_back(*waiting.begin());
      waiting.erase(waiting.begin());
      const auto last = found.back();
      for (std::size_t spur = 0; spur + 1 < last.nodes.size(); ++spur) {
        const std::vector<std::uint32_t> root(last.nodes.begin(),
                                              last.nodes.begin() + static_cast<std::ptrdiff_t>(spur) + 1);
        std::set<std::pair<std::uint32_t, std::uint32_t>> closed;
        for (const auto& way : found)
          if (way.nodes.size() > spur + 1 && std::equal(root.begin(), root.end(), way.nodes.begin()))
            closed.insert({way.nodes[spur], way.nodes[spur + 1]});
        const std::set<std::uint32_t> passed(root.begin(), root.end() - 1);
        auto rest = cheapest(root.back(), to, passed, closed);
        if (!rest) continue;
        YenWay way{rest->cost, root};
        for (std::size_t i = 0; i + 1 < root.size(); ++i) way.cost += cost(root[i], root[i + 1]);
        way.nodes.insert(way.nodes.end(), rest->nodes.begin() + 1, rest->nodes.end());
        waiting.insert(std::move(way));
      }
    }
    return found;
  }

 private:
  std::int64_t cost(std::uint32_t from, std::uint32_t to) const {
    std::int64_t least = std::numeric_limits<std::int64_t>::max();
    for (const auto& arc : arcs_)
      if (arc.from == from && arc.to == to) least = std::min(least, arc.cost);
    return least;
  }

  std::optional<YenWay> cheapest(std::uint32_t from, std::uint32_t to, const std::set<std::uint32_t>& passed,
                                 const std::set<std::pair<std::uint32_t, std::uint32_t>>& closed) const {
    constexpr auto never = std::numeric_limits<std::int64_t>::max();
    std::vector<std::int64_t> best(nodes_, never);
    std::vector<std::uint32_t> before(nodes_, from);
    std::set<std::pair<std::int64_t, std::uint32_t>> open = {{0, from}};
    best[from] = 0;
    while (!open.empty()) {
      const auto [c, node] = *open.begin();
      open.erase(open.begin());
      for (const auto& arc : arcs_) {
        if (arc.from != node || passed.count(arc.to) || closed.count({arc.from, arc.to})) continue;
        if (c + arc.cost >= best[arc.to]) continue;
        open.erase({best[arc.to], arc.to});
        best[arc.to] = c + arc.cost, before[arc.to] = node;
        open.insert({best[arc.to], arc.to});
      }
    }
    if (best[to] == never) return std::nullopt;
    YenWay way{best[to], {to}};
    while (way.nodes.back() != from) way.nodes.push_back(before[way.nodes.back()]);
    std::reverse(way.nodes.begin(), way.nodes.end());
    return way;
  }

  std::uint32_t nodes_;
  std::vector<YenArc> arcs_;
};

}  // namespace holdfast::support
