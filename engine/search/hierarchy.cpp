// SPDX-License-Identifier: GPL-3.0-or-later
#include "holdfast/search/hierarchy.h"

#include <algorithm>
#include <bit>
#include <functional>
#include <limits>
#include <numeric>
#include <queue>
#include <utility>

#include "dissection_impl.h"
#include "holdfast/model/diagnostic.h"

namespace holdfast::search {

using graph::Adjacency;
using graph::Arc;

namespace {

constexpr std::uint32_t none = ~std::uint32_t{0};

// Costs as the integers they are: comparing these is two instructions and no branch, and nearly all time goes there.
using Whole = CostInteger;
Whole whole(Cost cost) { return std::bit_cast<Whole>(cost); }
Cost cost_of(Whole value) { return std::bit_cast<Cost>(value); }
/// Sums of a few of these have room.
const Whole blocked = whole(Cost::blocked());

/// Arcs up from one rank: what they cost, and the ranks that they lead to.
struct Up {
  std::span<const Whole> arcs;
  std::span<const std::uint32_t> heads;
  /// Each head costs no more than `so_far` and the arc to it.
  void offer(Whole so_far, Whole* costs) const {
    for (std::size_t i = 0; i < arcs.size(); ++i) {
      Whole& head = costs[heads[i]];
      const Whole sum = so_far + arcs[i];
      head = sum < head ? sum : head;
    }
  }
  /// The least of `least` and what any head costs with the arc to it.
  [[nodiscard]] Whole least(Whole least, const Whole* costs) const {
    for (std::size_t i = 0; i < arcs.size(); ++i) {
      const Whole sum = arcs[i] + costs[heads[i]];
      least = sum < least ? sum : least;
    }
    return least;
  }
};
Up up_from(std::uint32_t rank, std::span<const std::uint32_t> first, std::span<const std::uint32_t> heads,
           std::span<const Whole> arcs) {
  const std::size_t from = first[rank], count = first[rank + 1] - from;
  return {arcs.subspan(from, count), heads.subspan(from, count)};
}

/// Ranks so that each subtree of the elimination tree has ranks in a row: shortcuts stay the same (Liu, The role of
/// elimination trees in sparse factorization, SIAM Journal on Matrix Analysis and Applications 11, 1990).
std::vector<std::uint32_t> postorder(std::span<const std::uint32_t> parent) {
  const auto n = static_cast<std::uint32_t>(parent.size());
  std::vector<std::uint32_t> first_child(n, none), sibling(n, none), place(n, none), open;
  for (std::uint32_t v = n; v-- > 0;)
    if (parent[v] != none) sibling[v] = first_child[parent[v]], first_child[parent[v]] = v;
  std::uint32_t next = 0;
  for (std::uint32_t root = 0; root < n; ++root) {
    if (parent[root] != none) continue;
    open.push_back(root);
    while (!open.empty()) {
      const auto v = open.back();
      if (const auto child = first_child[v]; child != none) {
        first_child[v] = sibling[child];
        open.push_back(child);
        continue;
      }
      place[v] = next++;
      open.pop_back();
    }
  }
  return place;
}

}  // namespace

HierarchyOrder::HierarchyOrder(const Adjacency& adjacency, std::span<const char> is_used) {
  const auto n = static_cast<std::uint32_t>(adjacency.node_count());
  node_ = detail::dissect(adjacency, is_used);
  const auto number = [&] {
    rank_.resize(n);
    for (std::uint32_t r = 0; r < n; ++r) rank_[node_[r]] = r;
  };
  number();
  const auto uses = [&](const Arc& arc) { return is_used.empty() || is_used[arc.move]; };
  // The elimination tree by ancestors seen so far (Liu 1990, with path compression).
  std::vector<std::uint32_t> parent(n, none), ancestor(n, none);
  for (std::uint32_t r = 0; r < n; ++r)
    for (const Arc& arc : adjacency.out(node_[r])) {
      if (!uses(arc)) continue;
      for (auto at = rank_[arc.head]; at < r;) {
        const auto up = std::exchange(ancestor[at], r);
        if (up == none) {
          parent[at] = r;
          break;
        }
        at = up;
      }
    }
  const auto place = postorder(parent);
  std::vector<std::uint32_t> ordered(n);
  for (std::uint32_t r = 0; r < n; ++r) ordered[place[r]] = node_[r];
  node_ = std::move(ordered);
  number();

  // Taking out a node joins its higher neighbours: they become neighbours of the least of them.
  std::vector<std::vector<std::uint32_t>> up(n);
  std::vector<std::vector<std::uint32_t>> from_below(n);
  first_.assign(1, 0);
  std::vector<std::uint32_t> seen(n, none);
  for (std::uint32_t r = 0; r < n; ++r) {
    auto& heads = up[r];
    seen[r] = r;
    const auto add = [&](std::uint32_t head) {
      if (head > r && seen[head] != r) seen[head] = r, heads.push_back(head);
    };
    for (const Arc& arc : adjacency.out(node_[r]))
      if (uses(arc)) add(rank_[arc.head]);
    for (const auto child : from_below[r])
      for (const auto head : up[child]) add(head);
    std::sort(heads.begin(), heads.end());
    if (!heads.empty()) from_below[heads.front()].push_back(r);
    first_.push_back(first_.back() + static_cast<std::uint32_t>(heads.size()));
  }
  heads_.reserve(first_.back());
  tails_.reserve(first_.back());
  down_first_.assign(n + 1, 0);
  for (std::uint32_t r = 0; r < n; ++r)
    for (const auto head : up[r]) heads_.push_back(head), tails_.push_back(r), ++down_first_[head + 1];
  std::partial_sum(down_first_.begin(), down_first_.end(), down_first_.begin());
  down_.resize(heads_.size());
  auto at = down_first_;
  for (std::uint32_t arc = 0; arc < heads_.size(); ++arc) down_[at[heads_[arc]]++] = {tails_[arc], arc};

  std::uint32_t moves = 0;
  for (const Arc& arc : adjacency.arcs) moves = std::max(moves, arc.move + 1);
  arc_of_move_.assign(moves, none);
  move_of_arc_.assign(heads_.size(), none);
  move_beside_.assign(moves, none);
  for (std::uint32_t r = 0; r < n; ++r)
    for (const Arc& arc : adjacency.out(node_[r])) {
      if (!uses(arc) || rank_[arc.head] <= r) continue;
      const auto found = find(r, rank_[arc.head]);
      arc_of_move_[arc.move] = found;
      move_beside_[arc.move] = std::exchange(move_of_arc_[found], arc.move);
    }
}

std::uint32_t HierarchyOrder::find(std::uint32_t low, std::uint32_t high) const {
  const auto from = heads_.begin() + first_[low], to = heads_.begin() + first_[low + 1];
  const auto at = std::lower_bound(from, to, high);
  return at != to && *at == high ? static_cast<std::uint32_t>(at - heads_.begin()) : none;
}

// ---- HierarchyMetric ------------------------------------------------------------------------------------------------

HierarchyMetric::HierarchyMetric(std::shared_ptr<const HierarchyOrder> order, std::span<const Cost> costs)
    : order_(std::move(order)) {
  customize(costs);
}

Cost HierarchyMetric::cost_of_moves(std::uint32_t arc, std::span<const Cost> costs) const {
  Cost least = Cost::blocked();
  for (auto move = order_->move_of_arc_[arc]; move != none; move = order_->move_beside_[move])
    least = std::min(least, costs[move]);
  return least;
}

void HierarchyMetric::customize(std::span<const Cost> costs) {
  const HierarchyOrder& o = *order_;
  costs_.resize(o.heads_.size());
  // By rank: what the arcs up from it cost over all nodes below it, whose arcs are final by then.
  std::vector<Whole> least(o.node_count());
  for (std::uint32_t r = 0; r < o.node_count(); ++r) {
    const auto from = o.first_[r], to = o.first_[r + 1];
    if (from == to) continue;
    for (auto arc = from; arc < to; ++arc) least[o.heads_[arc]] = whole(cost_of_moves(arc, costs));
    for (auto d = o.down_first_[r]; d < o.down_first_[r + 1]; ++d) {
      const auto& below = o.down_[d];
      const Whole leg = costs_[below.arc];
      if (leg >= blocked) continue;
      for (auto arc = below.arc + 1; arc < o.first_[below.tail + 1]; ++arc) {
        const Whole sum = leg + costs_[arc];
        Whole& known = least[o.heads_[arc]];
        known = sum < known ? sum : known;
      }
    }
    for (auto arc = from; arc < to; ++arc) costs_[arc] = least[o.heads_[arc]];
  }
}

std::optional<std::vector<HierarchyMetric::Change>> HierarchyMetric::raise(std::span<const Cost> costs,
                                                                           std::span<const std::uint32_t> moves,
                                                                           std::size_t most) {
  const HierarchyOrder& o = *order_;
  std::vector<Change> changes;
  // Arcs in order of their lower end: an arc follows from arcs of lower ends.
  std::priority_queue<std::uint32_t, std::vector<std::uint32_t>, std::greater<>> open;
  for (const auto move : moves)
    if (const auto arc = move < o.arc_of_move_.size() ? o.arc_of_move_[move] : none; arc != none) open.push(arc);
  std::uint32_t last = none;
  while (!open.empty()) {
    const auto arc = open.top();
    open.pop();
    if (arc == last) continue;
    last = arc;
    if (changes.size() >= most) {
      restore(changes);
      return std::nullopt;
    }
    const auto low = o.tails_[arc], high = o.heads_[arc];
    Whole now = whole(cost_of_moves(arc, costs));
    // Nodes below both ends.
    const auto* const end = o.down_.data() + o.down_first_[low + 1];
    for (const auto* below = o.down_.data() + o.down_first_[low]; below != end; ++below) {
      const Whole leg = costs_[below->arc];
      if (leg >= now) continue;
      const auto from = o.heads_.begin() + below->arc + 1, to = o.heads_.begin() + o.first_[below->tail + 1];
      const auto at = std::lower_bound(from, to, high);
      if (at == to || *at != high) continue;
      now = std::min(now, leg + costs_[static_cast<std::size_t>(at - o.heads_.begin())]);
    }
    const Whole before = costs_[arc];
    if (now == before) continue;
    model::ensure(before < now, "raising costs raises what follows from them");
    // What went over this arc may be dearer now. Arcs up from `low` beyond `high` have their like up from `high`.
    for (auto beside = o.first_[low]; beside < arc; ++beside) {
      if (costs_[beside] >= blocked) continue;
      const auto over = o.find(o.heads_[beside], high);
      if (before + costs_[beside] == costs_[over]) open.push(over);
    }
    auto over = o.first_[high];
    for (auto beside = arc + 1; beside < o.first_[low + 1]; ++beside) {
      while (o.heads_[over] != o.heads_[beside]) ++over;
      if (before + costs_[beside] == costs_[over] && costs_[beside] < blocked) open.push(over);
    }
    changes.push_back({arc, cost_of(before)});
    costs_[arc] = now;
  }
  return changes;
}

void HierarchyMetric::restore(std::span<const Change> changes) {
  for (std::size_t i = changes.size(); i-- > 0;) costs_[changes[i].arc] = whole(changes[i].before);
}

// ---- HierarchyQuery -------------------------------------------------------------------------------------------------

void HierarchyQuery::aim(const HierarchyMetric& metric, std::span<const Seed> targets) {
  metric_ = &metric;
  const HierarchyOrder& o = metric.order();
  if (costs_.size() != o.node_count() || stamp_ >= std::numeric_limits<std::uint32_t>::max() - 2) {
    costs_.assign(o.node_count(), blocked);
    stamps_.assign(o.node_count(), 0);
    next_.assign(o.node_count(), {});
    stamp_ = 0;
  }
  stamp_ += 2;
  settled_ = 0;
  targets_.assign(targets.begin(), targets.end());
  // All that is above a target, in order of rank: the first target's ancestors are, and few are not among them.
  chain_.clear();
  others_.clear();
  for (std::size_t i = 0; i < targets_.size(); ++i) {
    auto& into = i == 0 ? chain_ : others_;
    for (auto rank = o.rank_[targets_[i].node]; rank != none && stamps_[rank] != stamp_; rank = o.parent(rank)) {
      costs_[rank] = blocked, stamps_[rank] = stamp_;
      into.push_back(rank);
    }
  }
  std::sort(others_.begin(), others_.end());
  const auto middle = static_cast<std::ptrdiff_t>(chain_.size());
  chain_.insert(chain_.end(), others_.begin(), others_.end());
  std::inplace_merge(chain_.begin(), chain_.begin() + middle, chain_.end());
  for (const Seed& target : targets_) {
    Whole& known = costs_[o.rank_[target.node]];
    known = std::min(known, whole(target.cost));
  }
  for (const auto rank : chain_) {
    const Whole so_far = costs_[rank];
    if (so_far < blocked) up_from(rank, o.first_, o.heads_, metric.costs_).offer(so_far, costs_.data());
  }
}

/// From the topmost of its ancestors that is not known, down to it.
void HierarchyQuery::settle(std::uint32_t rank) {
  const HierarchyOrder& o = metric_->order();
  const std::uint32_t known = stamp_ + 1;
  chain_.clear();
  for (; rank != none && stamps_[rank] != known; rank = o.parent(rank)) chain_.push_back(rank);
  for (std::size_t i = chain_.size(); i-- > 0;) {
    const auto at = chain_[i];
    const Whole below = stamps_[at] == stamp_ ? costs_[at] : blocked;
    costs_[at] = up_from(at, o.first_, o.heads_, metric_->costs_).least(below, costs_.data());
    stamps_[at] = known;
  }
  settled_ += chain_.size();
}

Cost HierarchyQuery::cost(std::uint32_t node) {
  const auto rank = metric_->order().rank_[node];
  if (stamps_[rank] != stamp_ + 1) settle(rank);
  return cost_of(costs_[rank]);
}

std::optional<Seed> HierarchyQuery::start(std::span<const Seed> sources) {
  Seed best{none, Cost::blocked()};
  for (const Seed& source : sources) {
    const Cost total = source.cost + cost(source.node);
    if (total < best.cost || (total == best.cost && source.node < best.node)) best = {source.node, total};
  }
  return best.cost.is_blocked() ? std::nullopt : std::optional(best);
}

const Arc* HierarchyQuery::next(const Adjacency& adjacency, std::span<const Cost> costs, std::uint32_t node) {
  Next& known = next_[node];
  if (known.stamp != stamp_) {
    const Cost ahead = cost(node);
    const bool is_end = std::any_of(targets_.begin(), targets_.end(),
                                    [&](const Seed& target) { return target.node == node && target.cost == ahead; });
    known = {stamp_, none};
    if (!is_end) {
      const auto arcs = adjacency.out(node);
      const auto is_next = [&](const Arc& arc) {
        const Cost step = costs[arc.move];
        return step <= ahead && step + cost(arc.head) == ahead;
      };
      const auto found = std::find_if(arcs.begin(), arcs.end(), is_next);  // sorted by head: the first is the smallest
      model::ensure(found != arcs.end(), "a cheapest path goes on from each of its nodes");
      known.arc = static_cast<std::uint32_t>(&*found - adjacency.arcs.data());
    }
  }
  return known.arc == none ? nullptr : &adjacency.arcs[known.arc];
}

std::optional<Path> HierarchyQuery::find(const Adjacency& adjacency, std::span<const Cost> costs,
                                         std::span<const Seed> sources) {
  const auto from = start(sources);
  if (!from) return std::nullopt;
  Path path;
  path.cost = from->cost;
  path.nodes.push_back(from->node);
  while (const Arc* arc = next(adjacency, costs, path.nodes.back())) {
    path.moves.push_back(arc->move);
    path.nodes.push_back(arc->head);
  }
  return path;
}

void HierarchyQuery::sweep(const HierarchyMetric& metric, std::span<const Seed> seeds,
                           std::vector<Cost>& cost_by_node) {
  const HierarchyOrder& o = metric.order();
  std::vector<Whole> least(o.node_count(), blocked);
  for (const Seed& seed : seeds) {
    Whole& known = least[o.rank_[seed.node]];
    known = std::min(known, whole(seed.cost));
  }
  for (std::uint32_t rank = 0; rank < o.node_count(); ++rank) {
    const Whole so_far = least[rank];
    if (so_far < blocked) up_from(rank, o.first_, o.heads_, metric.costs_).offer(so_far, least.data());
  }
  cost_by_node.resize(o.node_count());
  for (auto rank = static_cast<std::uint32_t>(o.node_count()); rank-- > 0;) {
    least[rank] = up_from(rank, o.first_, o.heads_, metric.costs_).least(least[rank], least.data());
    cost_by_node[o.node_[rank]] = cost_of(least[rank]);
  }
}

}  // namespace holdfast::search
