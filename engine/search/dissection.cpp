// SPDX-License-Identifier: GPL-3.0-or-later
#include "dissection_impl.h"

#include <tbb/parallel_invoke.h>

#include <algorithm>
#include <bit>
#include <limits>
#include <numeric>

namespace holdfast::search::detail {

namespace {

constexpr std::uint32_t none = ~std::uint32_t{0};
constexpr std::size_t leaf_nodes = 48;         // fewer are ordered by least degree
constexpr std::size_t most_leaf_nodes = 1000;  // ... and so many, where no cut parts them
constexpr std::size_t nodes_of_a_task = 2000;  // parts with fewer are no work for another core
constexpr double end_fraction = 0.3;           // of the nodes at either end of an order, which no cut passes

/// The graph within one part, nodes numbered from 0.
struct Part {
  std::vector<std::uint32_t> nodes;  ///< of the whole graph
  std::vector<std::uint32_t> first{0}, heads;
  [[nodiscard]] std::size_t size() const { return nodes.size(); }
  [[nodiscard]] std::span<const std::uint32_t> out(std::uint32_t node) const {
    return {heads.data() + first[node], heads.data() + first[node + 1]};
  }
};

/// The nodes of `part` for which `kept`.
template <class Kept>
Part take(const Part& part, Kept&& kept) {
  Part taken;
  std::vector<std::uint32_t> number(part.size(), none);
  for (std::uint32_t v = 0; v < part.size(); ++v)
    if (kept(v)) {
      number[v] = static_cast<std::uint32_t>(taken.nodes.size());
      taken.nodes.push_back(part.nodes[v]);
    }
  taken.first.reserve(taken.size() + 1);
  for (std::uint32_t v = 0; v < part.size(); ++v) {
    if (number[v] == none) continue;
    for (const auto head : part.out(v))
      if (number[head] != none) taken.heads.push_back(number[head]);
    taken.first.push_back(static_cast<std::uint32_t>(taken.heads.size()));
  }
  return taken;
}

/// The parts of `part` that no move joins.
std::vector<Part> islands_of(const Part& part) {
  std::vector<std::uint32_t> island(part.size(), none), number(part.size()), open;
  std::vector<Part> islands;
  for (std::uint32_t start = 0; start < part.size(); ++start) {
    if (island[start] != none) continue;
    const auto here = static_cast<std::uint32_t>(islands.size());
    islands.emplace_back();
    island[start] = here;
    for (open.push_back(start); !open.empty();) {
      const auto v = open.back();
      open.pop_back();
      for (const auto head : part.out(v))
        if (island[head] == none) island[head] = here, open.push_back(head);
    }
  }
  for (std::uint32_t v = 0; v < part.size(); ++v) {
    auto& nodes = islands[island[v]].nodes;
    number[v] = static_cast<std::uint32_t>(nodes.size());
    nodes.push_back(part.nodes[v]);
  }
  for (std::uint32_t v = 0; v < part.size(); ++v) {
    Part& here = islands[island[v]];
    for (const auto head : part.out(v)) here.heads.push_back(number[head]);
    here.first.push_back(static_cast<std::uint32_t>(here.heads.size()));
  }
  return islands;
}

/// Moves from `from` to every node; the node met last stands at the end of `met`.
void spread(const Part& part, std::uint32_t from, std::vector<std::uint32_t>& steps, std::vector<std::uint32_t>& met) {
  steps.assign(part.size(), none);
  met.clear();
  met.push_back(from);
  steps[from] = 0;
  for (std::size_t i = 0; i < met.size(); ++i)
    for (const auto head : part.out(met[i]))
      if (steps[head] == none) steps[head] = steps[met[i]] + 1, met.push_back(head);
}

/// The fewest nodes that part the first from the last of an order: maximum flow through nodes that take one unit each
/// (Menger; Dinic's levels).
class Cut {
 public:
  Cut(const Part& part, std::span<const std::uint32_t> order) : part_(part), end_(part.size(), Middle) {
    const auto ends = static_cast<std::size_t>(static_cast<double>(part.size()) * end_fraction);
    for (std::size_t i = 0; i < ends; ++i) end_[order[i]] = Source, end_[order[order.size() - 1 - i]] = Sink;
    for (std::size_t i = 0; i < ends; ++i) sources_.push_back(order[i]);
  }

  /// Nothing where more than `most` nodes are needed. Then: 0 a side, 1 the other, 2 the cut.
  std::vector<char> find(std::size_t most) {
    before_.assign(part_.size(), none);
    std::size_t flow = 0;
    while (level()) {
      arc_.assign(2 * part_.size(), 0);
      for (const auto source : sources_)
        for (const auto head : part_.out(source)) {
          if (end_[head] == Source) continue;
          while (augment(source, head))
            if (++flow > most) return {};
        }
    }
    std::vector<char> side(part_.size(), 1);
    for (std::uint32_t v = 0; v < part_.size(); ++v) {
      if (end_[v] == Source || levels_[out(v)] != none)
        side[v] = 0;
      else if (levels_[in(v)] != none)
        side[v] = 2;
    }
    return side;
  }

 private:
  enum End : char { Middle, Source, Sink };
  static std::uint32_t in(std::uint32_t node) { return 2 * node; }
  static std::uint32_t out(std::uint32_t node) { return 2 * node + 1; }

  /// Steps from the sources over what still takes flow. False where no sink is reached.
  bool level() {
    levels_.assign(2 * part_.size(), none);
    queue_.clear();
    for (const auto source : sources_) levels_[out(source)] = 0, queue_.push_back(out(source));
    bool is_reached = false;
    for (std::size_t i = 0; i < queue_.size(); ++i) {
      const auto at = queue_[i];
      const auto go = [&](std::uint32_t to) {
        if (levels_[to] == none) levels_[to] = levels_[at] + 1, queue_.push_back(to);
      };
      const auto node = at / 2;
      if (at % 2 == 0) {
        if (end_[node] == Sink) {
          is_reached = true;
          continue;
        }
        if (before_[node] == none)
          go(out(node));
        else if (end_[before_[node]] == Middle)
          go(out(before_[node]));
      } else {
        if (end_[node] == Middle && before_[node] != none) go(in(node));
        for (const auto head : part_.out(node))
          if (end_[head] != Source) go(in(head));
      }
    }
    return is_reached;
  }

  /// One unit more that leaves `source` to `head`, by levels; false where there is none.
  bool augment(std::uint32_t source, std::uint32_t head) {
    if (levels_[in(head)] != 1) return false;
    path_.assign({out(source), in(head)});
    while (path_.size() > 1) {
      const auto at = path_.back();
      const auto node = at / 2;
      if (at % 2 == 0 && end_[node] == Sink) {
        push();
        return true;
      }
      std::uint32_t to = none;
      const auto is_next = [&](std::uint32_t next) { return levels_[next] == levels_[at] + 1; };
      if (at % 2 == 0) {
        if (arc_[at]++ == 0) {
          if (before_[node] == none)
            to = out(node);
          else if (end_[before_[node]] == Middle)
            to = out(before_[node]);
          if (to != none && !is_next(to)) to = none;
        }
      } else {
        const auto heads = part_.out(node);
        for (; to == none && arc_[at] <= heads.size(); ++arc_[at]) {
          if (arc_[at] == heads.size()) {
            if (before_[node] != none && is_next(in(node))) to = in(node);
          } else if (end_[heads[arc_[at]]] != Source && is_next(in(heads[arc_[at]]))) {
            to = in(heads[arc_[at]]);
          }
        }
      }
      if (to != none) {
        path_.push_back(to);
        continue;
      }
      levels_[at] = none - 1;  // leads nowhere in this round
      path_.pop_back();
    }
    return false;
  }

  void push() {
    // `before_` tells the flow: who sends to a node its one unit.
    for (std::size_t i = 0; i + 1 < path_.size(); ++i) {
      const auto at = path_[i], to = path_[i + 1];
      if (at % 2 == 0) continue;
      const auto from = at / 2, node = to / 2;
      if (from == node)
        before_[node] = none;  // its unit goes elsewhere
      else if (end_[node] == Middle)
        before_[node] = from;
    }
    // Nothing above is undone by what follows: a path passes each side of a node once.
    for (const auto at : path_) arc_[at] = 0;
  }

  const Part& part_;
  std::vector<End> end_;
  std::vector<std::uint32_t> sources_, before_, levels_, queue_, arc_, path_;
};

class Dissection {
 public:
  Dissection(const graph::Adjacency& adjacency, std::span<const char> is_used)
      : adjacency_(adjacency), is_used_(is_used) {}

  void order(Part part, std::span<std::uint32_t> to) const {
    if (part.size() <= leaf_nodes) return order_leaf(part, to);
    std::vector<std::uint32_t> steps, met;
    spread(part, 0, steps, met);
    if (met.size() < part.size()) {
      for (Part& island : islands_of(part)) {
        const std::size_t count = island.size();
        order(std::move(island), to.first(count));
        to = to.subspan(count);
      }
      return;
    }
    const auto side = best_cut(part, met.back());
    std::vector<std::uint32_t> between;
    for (std::uint32_t v = 0; v < part.size(); ++v)
      if (side[v] == 2) between.push_back(part.nodes[v]);
    Part one = take(part, [&](std::uint32_t v) { return side[v] == 0; });
    Part other = take(part, [&](std::uint32_t v) { return side[v] == 1; });
    if (one.size() == 0 || other.size() == 0) return order_leaf(part, to);  // all near each other
    part = {};
    std::copy(between.begin(), between.end(), to.end() - static_cast<std::ptrdiff_t>(between.size()));
    const auto to_one = to.first(one.size()), to_other = to.subspan(one.size(), other.size());
    if (to.size() < nodes_of_a_task) {
      order(std::move(one), to_one);
      order(std::move(other), to_other);
    } else {
      tbb::parallel_invoke([&] { order(std::move(one), to_one); }, [&] { order(std::move(other), to_other); });
    }
  }

 private:
  /// The cut with the fewest nodes for the smaller side, of those across two orders: from one end of the part to the
  /// other, and across.
  [[nodiscard]] std::vector<char> best_cut(const Part& part, std::uint32_t end) const {
    std::vector<std::uint32_t> a, b, c, d, met;
    spread(part, end, a, met);
    const auto far = met.back();
    spread(part, far, b, met);
    // Farthest from both ends of the first: the side of the part.
    std::uint32_t aside = 0;
    for (std::uint32_t v = 1; v < part.size(); ++v)
      if (std::min(a[v], b[v]) > std::min(a[aside], b[aside])) aside = v;
    spread(part, aside, c, met);
    spread(part, met.back(), d, met);
    std::vector<char> best;
    double best_score = 0;
    std::size_t most = part.size();
    std::vector<std::uint32_t> order(part.size());
    for (const auto& [near, away] : {std::pair(&a, &b), std::pair(&c, &d)}) {
      std::iota(order.begin(), order.end(), 0);
      const auto key = [&, &near = *near, &away = *away](std::uint32_t v) {
        return static_cast<std::int64_t>(near[v]) - static_cast<std::int64_t>(away[v]);
      };
      std::stable_sort(order.begin(), order.end(), [&](std::uint32_t x, std::uint32_t y) { return key(x) < key(y); });
      auto side = Cut(part, order).find(most);
      if (side.empty()) continue;
      const auto count = [&](char which) { return static_cast<double>(std::count(side.begin(), side.end(), which)); };
      const double score = (count(2) + 1) / (std::min(count(0), count(1)) + 1);
      if (best.empty() || score < best_score) best_score = score, best = std::move(side);
      // A cut twice as large is never the better one: neither side has less than `end_fraction`.
      most = 2 * static_cast<std::size_t>(std::count(best.begin(), best.end(), char{2})) + 1;
    }
    return best.empty() ? halves(part, order) : best;
  }

  /// Where the ends of an order touch: those of one half that the other half touches, of the half that has fewer.
  [[nodiscard]] static std::vector<char> halves(const Part& part, std::span<const std::uint32_t> order) {
    std::vector<char> side(part.size(), 1);
    for (std::size_t i = 0; i < order.size() / 2; ++i) side[order[i]] = 0;
    std::vector<std::uint32_t> touched[2];
    for (std::uint32_t v = 0; v < part.size(); ++v) {
      const auto heads = part.out(v);
      if (std::any_of(heads.begin(), heads.end(), [&](std::uint32_t head) { return side[head] != side[v]; }))
        touched[static_cast<std::size_t>(side[v])].push_back(v);
    }
    for (const auto v : touched[touched[0].size() <= touched[1].size() ? 0 : 1]) side[v] = 2;
    return side;
  }

  /// Least degree first, counting what elimination joins and the nodes around, which come later.
  void order_leaf(const Part& part, std::span<std::uint32_t> to) const {
    if (part.size() > most_leaf_nodes) {
      std::copy(part.nodes.begin(), part.nodes.end(), to.begin());
      return;
    }
    std::vector<std::uint32_t> all = part.nodes;
    std::sort(all.begin(), all.end());
    const std::vector<std::uint32_t> own = all;
    for (const auto node : own)
      for (const auto& arc : adjacency_.out(node))
        if (is_used_.empty() || is_used_[arc.move]) all.push_back(arc.head);
    std::sort(all.begin(), all.end());
    all.erase(std::unique(all.begin(), all.end()), all.end());
    const auto number = [&](std::uint32_t node) {
      return static_cast<std::size_t>(std::lower_bound(all.begin(), all.end(), node) - all.begin());
    };
    const std::size_t words = (all.size() + 63) / 64;
    std::vector<std::uint64_t> joined(all.size() * words);
    const auto row = [&](std::size_t i) { return joined.data() + i * words; };
    const auto join = [&](std::size_t i, std::size_t j) { row(i)[j / 64] |= std::uint64_t{1} << (j % 64); };
    std::vector<std::size_t> left;
    for (const auto node : own) {
      const auto i = number(node);
      left.push_back(i);
      for (const auto& arc : adjacency_.out(node)) {
        if (!is_used_.empty() && !is_used_[arc.move]) continue;
        if (const auto j = number(arc.head); j != i) join(i, j), join(j, i);
      }
    }
    for (auto& next : to) {
      auto best = left.begin();
      int least = std::numeric_limits<int>::max();
      for (auto it = left.begin(); it != left.end(); ++it) {
        int degree = 0;
        for (std::size_t w = 0; w < words; ++w) degree += std::popcount(row(*it)[w]);
        if (degree < least) least = degree, best = it;
      }
      const std::size_t gone = *best;
      next = all[gone];
      left.erase(best);
      for (std::size_t j = 0; j < all.size(); ++j) {
        if (!(row(gone)[j / 64] >> (j % 64) & 1)) continue;
        for (std::size_t w = 0; w < words; ++w) row(j)[w] |= row(gone)[w];
        row(j)[j / 64] &= ~(std::uint64_t{1} << (j % 64));
        row(j)[gone / 64] &= ~(std::uint64_t{1} << (gone % 64));
      }
    }
  }

  const graph::Adjacency& adjacency_;
  const std::span<const char> is_used_;
};

}  // namespace

std::vector<std::uint32_t> dissect(const graph::Adjacency& adjacency, std::span<const char> is_used) {
  Part whole;
  whole.nodes.resize(adjacency.node_count());
  std::iota(whole.nodes.begin(), whole.nodes.end(), 0);
  whole.heads.reserve(adjacency.arcs.size());
  for (std::uint32_t v = 0; v < adjacency.node_count(); ++v) {
    for (const auto& arc : adjacency.out(v))
      if (arc.head != v && (is_used.empty() || is_used[arc.move]) &&
          (whole.heads.size() == whole.first.back() || whole.heads.back() != arc.head))
        whole.heads.push_back(arc.head);
    whole.first.push_back(static_cast<std::uint32_t>(whole.heads.size()));
  }
  std::vector<std::uint32_t> order(whole.size());
  Dissection(adjacency, is_used).order(std::move(whole), order);
  return order;
}

}  // namespace holdfast::search::detail
