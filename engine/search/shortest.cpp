// SPDX-License-Identifier: GPL-3.0-or-later
#include "holdfast/search/shortest.h"

#include <algorithm>
#include <limits>

#include "holdfast/model/diagnostic.h"
#include "holdfast/search/landmarks.h"
#include "holdfast/search/tree_paths.h"

namespace holdfast::search {

using graph::Adjacency;
using graph::Arc;

// ---- RouteQuery: an indexed 4-ary heap, scratch told apart by a stamp so that nothing is cleared between queries
// ------------

void RouteQuery::sift_up(std::size_t at, Entry entry) {
  while (at > 0) {
    const std::size_t parent = (at - 1) / 4;
    if (heap_[parent].key <= entry.key) break;
    heap_[at] = heap_[parent];
    nodes_[heap_[at].node].position = static_cast<std::uint32_t>(at);
    at = parent;
  }
  heap_[at] = entry;
  nodes_[entry.node].position = static_cast<std::uint32_t>(at);
}

void RouteQuery::sift_down(std::size_t at, Entry entry) {
  for (;;) {
    const std::size_t first = 4 * at + 1;
    if (first >= heap_.size()) break;
    std::size_t least = first;
    for (std::size_t c = first + 1; c < std::min(first + 4, heap_.size()); ++c)
      if (heap_[c].key < heap_[least].key) least = c;
    if (entry.key <= heap_[least].key) break;
    heap_[at] = heap_[least];
    nodes_[heap_[at].node].position = static_cast<std::uint32_t>(at);
    at = least;
  }
  heap_[at] = entry;
  nodes_[entry.node].position = static_cast<std::uint32_t>(at);
}

void RouteQuery::push_or_lower(std::uint32_t node, Cost cost, Cost key) {
  nodes_[node].cost = cost;
  if (nodes_[node].position == done) {  // not in the heap yet
    heap_.push_back({key, node});
    sift_up(heap_.size() - 1, {key, node});
  } else {
    sift_up(nodes_[node].position, {key, node});
  }
}

std::uint32_t RouteQuery::pop() {
  const std::uint32_t node = heap_.front().node;
  const Entry last = heap_.back();
  heap_.pop_back();
  if (!heap_.empty()) sift_down(0, last);
  return node;
}

std::optional<Path> RouteQuery::find(const Adjacency& adjacency, std::span<const Cost> costs,
                                     std::span<const Seed> sources, std::span<const Seed> targets,
                                     const Landmarks* landmarks) {
  settled_ = 0;
  if (sources.empty() || targets.empty()) return std::nullopt;
  if (nodes_.size() != adjacency.node_count() || stamp_ >= std::numeric_limits<std::uint32_t>::max() - 2) {
    nodes_.assign(adjacency.node_count(), {});
    stamp_ = 0;
  }
  // Two stamps a query: touched, and settled.
  stamp_ += 2;
  const std::uint32_t touched = stamp_, finished = stamp_ + 1;
  heap_.clear();
  Landmarks::Goal goal{};
  if (landmarks) goal = landmarks->goal(sources);

  const auto offer = [&](std::uint32_t node, Cost cost) {
    Node& n = nodes_[node];
    if (n.stamp == finished) return;
    if (n.stamp != touched) {
      n.stamp = touched;
      n.position = done;
      n.bound = landmarks ? landmarks->bound(node, goal) : 0;
    } else if (n.cost <= cost) {
      return;
    }
    push_or_lower(node, cost, cost + Cost::of(n.bound));
  };
  for (const Seed& target : targets) offer(target.node, target.cost);

  std::vector<Seed> starts(sources.begin(), sources.end());
  std::sort(starts.begin(), starts.end(),
            [](const Seed& x, const Seed& y) { return x.node != y.node ? x.node < y.node : x.cost < y.cost; });
  const auto start_cost = [&](std::uint32_t node) -> std::optional<Cost> {
    const auto found =
        std::lower_bound(starts.begin(), starts.end(), node, [](const Seed& s, std::uint32_t n) { return s.node < n; });
    return found != starts.end() && found->node == node ? std::optional(found->cost) : std::nullopt;
  };

  Cost best = Cost::blocked();
  std::uint32_t best_start = 0;
  while (!heap_.empty() && heap_.front().key <= best) {
    const std::uint32_t node = pop();
    Node& n = nodes_[node];
    n.stamp = finished;
    ++settled_;
    if (const auto start = start_cost(node)) {
      const Cost total = n.cost + *start;
      if (total < best || (total == best && node < best_start)) best = total, best_start = node;
    }
    for (const Arc& arc : adjacency.out(node)) {
      const Cost step = costs[arc.move];
      if (!step.is_blocked()) offer(arc.head, n.cost + step);
    }
  }
  if (best.is_blocked()) return std::nullopt;

  Path way;
  way.cost = best;
  std::uint32_t node = best_start;
  way.nodes.push_back(node);
  const auto is_end = [&](std::uint32_t at) {
    return std::any_of(targets.begin(), targets.end(),
                       [&](const Seed& t) { return t.node == at && t.cost == nodes_[at].cost; });
  };
  while (!is_end(node)) {
    const Arc* next = nullptr;
    for (const Arc& arc : adjacency.out(node)) {  // sorted by head: the first tight one is the smallest
      const Node& head = nodes_[arc.head];
      if (head.stamp != finished || costs[arc.move].is_blocked() || head.cost + costs[arc.move] != nodes_[node].cost)
        continue;
      next = &arc;
      break;
    }
    model::ensure(next != nullptr, "a settled node has a settled successor on a cheapest way");
    way.moves.push_back(next->move);
    way.nodes.push_back(next->head);
    node = next->head;
  }
  return way;
}

// ---- ShortestTree: buckets on the primary part
// ---------------------------------------------------------------------------

void ShortestTree::grow(const Adjacency& adjacency, std::span<const Cost> costs, std::span<const Seed> seeds) {
  cost_.assign(adjacency.node_count(), Cost::blocked());
  // A bucket as wide as the cheapest move needs no order inside; where the cheapest primary part is 0, buckets of a
  // fraction of the dearest: a node may then be looked at twice within its bucket, and the result is exact all the
  // same.
  std::int64_t least = std::numeric_limits<std::int64_t>::max(), most = 0;
  for (const Cost c : costs) {
    if (c.is_blocked()) continue;
    least = std::min(least, c.primary());
    most = std::max(most, c.primary());
  }
  if (most == 0) least = most = 1;
  const std::int64_t width = std::max({least, most / 64, std::int64_t{1}});
  const auto ring = static_cast<std::size_t>(most / width + 2);
  buckets_.resize(std::max(buckets_.size(), ring));
  for (auto& bucket : buckets_) bucket.clear();

  // Seeds come in order of cost, so that the ring of buckets need never hold more than one turn.
  std::vector<Seed> waiting(seeds.begin(), seeds.end());
  std::sort(waiting.begin(), waiting.end(), [](const Seed& x, const Seed& y) { return x.cost < y.cost; });
  std::size_t next_seed = 0, pending = 0;
  std::int64_t level = waiting.empty() ? 0 : waiting.front().cost.primary() / width;
  const auto offer = [&](std::uint32_t node, Cost cost) {
    if (cost_[node] <= cost) return;
    cost_[node] = cost;
    buckets_[static_cast<std::size_t>(cost.primary() / width) % ring].emplace_back(cost, node);
    ++pending;
  };
  while (pending > 0 || next_seed < waiting.size()) {
    if (pending == 0) level = std::max(level, waiting[next_seed].cost.primary() / width);
    while (next_seed < waiting.size() && waiting[next_seed].cost.primary() / width <= level) {
      offer(waiting[next_seed].node, waiting[next_seed].cost);
      ++next_seed;
    }
    auto& bucket = buckets_[static_cast<std::size_t>(level) % ring];
    while (!bucket.empty()) {
      const auto [cost, node] = bucket.back();
      bucket.pop_back();
      --pending;
      if (cost != cost_[node]) continue;  // lowered since
      for (const Arc& arc : adjacency.out(node))
        if (const Cost step = costs[arc.move]; !step.is_blocked()) offer(arc.head, cost + step);
    }
    ++level;
  }
}

const Arc* ShortestTree::next(const Adjacency& adjacency, std::span<const Cost> costs, std::uint32_t node) const {
  return next_down(adjacency, costs, cost_, node);
}

std::optional<Path> ShortestTree::way_from(const Adjacency& adjacency, std::span<const Cost> costs,
                                           std::span<const Seed> sources) const {
  return path_down(adjacency, costs, cost_, sources);
}

const Arc* next_down(const Adjacency& adjacency, std::span<const Cost> costs, std::span<const Cost> to_goal,
                     std::uint32_t node) {
  if (to_goal[node].is_blocked() || to_goal[node] == Cost{}) return nullptr;
  for (const Arc& arc : adjacency.out(node))  // sorted by head: the first tight one is the smallest
    if (!costs[arc.move].is_blocked() && to_goal[arc.head] + costs[arc.move] == to_goal[node]) return &arc;
  model::ensure(false, "a node that was reached has a neighbour that it was reached from");
  return nullptr;
}

std::optional<Path> path_down(const Adjacency& adjacency, std::span<const Cost> costs, std::span<const Cost> to_goal,
                              std::span<const Seed> sources) {
  std::optional<Path> way;
  const Seed* best = nullptr;
  Cost least = Cost::blocked();
  for (const Seed& source : sources) {
    if (to_goal[source.node].is_blocked()) continue;
    const Cost total = source.cost + to_goal[source.node];
    if (total < least || (total == least && source.node < best->node)) best = &source, least = total;
  }
  if (!best) return way;
  way.emplace().cost = least;
  way->nodes.push_back(best->node);
  while (const Arc* arc = next_down(adjacency, costs, to_goal, way->nodes.back())) {
    way->moves.push_back(arc->move);
    way->nodes.push_back(arc->head);
  }
  return way;
}

}  // namespace holdfast::search
