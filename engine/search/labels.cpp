#include "holdfast/search/labels.h"

#include <algorithm>
#include <limits>
#include <queue>

#include "holdfast/model/diagnostic.h"

namespace holdfast::search {

namespace {

constexpr std::int64_t never = std::numeric_limits<std::int64_t>::max();

class LabelSearch {
 public:
  LabelSearch(const graph::Adjacency& adjacency, std::span<const Cost> costs, const LimitedRequest& request)
      : adjacency_(adjacency),
        costs_(costs),
        request_(request),
        layers_(request.stops.size() - 1),
        k_(request.resources.size()) {}

  LimitedWay run() {
    model::ensure(request_.stops.size() >= 2, "a way has a start and an end");
    grow_bounds();
    LimitedWay result;
    result.least.assign(k_, never);
    for (const Seed& s : request_.stops[0])
      for (std::size_t r = 0; r < k_; ++r) result.least[r] = std::min(result.least[r], least(0, s.node, r));
    seed();
    search(result);
    return result;
  }

 private:
  /// One partial way: at a node of a layer (the leg it is on), coming from another label.
  struct Label {
    Cost cost;
    std::uint32_t node;
    std::uint32_t layer;
    std::uint32_t move;  // none: a start, or a stop made
    std::int64_t parent;
    bool is_dominated = false;
  };
  static constexpr std::uint32_t none = ~std::uint32_t{0};

  std::size_t state(std::size_t layer, std::uint32_t node) const { return layer * adjacency_.node_count() + node; }
  std::int64_t used(std::size_t label, std::size_t r) const { return used_[label * k_ + r]; }
  std::int64_t least(std::size_t layer, std::uint32_t node, std::size_t r) const {
    return least_[r][state(layer, node)];
  }

  /// Exact backward trees for the cost and for each resource: what is still needed from (layer, node) on.
  void grow_bounds() {
    onward_.assign(layers_ * adjacency_.node_count(), Cost::blocked());
    least_.assign(k_, std::vector<std::int64_t>(layers_ * adjacency_.node_count(), never));
    grow_backward([&](std::uint32_t move) { return costs_[move]; }, true,
                  [&](std::size_t layer, std::uint32_t node, Cost cost) { onward_[state(layer, node)] = cost; });
    for (std::size_t r = 0; r < k_; ++r)
      // The moves component keeps costs positive where a move uses none of the resource.
      grow_backward(
          [&](std::uint32_t move) {
            return costs_[move].is_blocked() ? Cost::blocked() : Cost::of(request_.resources[r].by_move[move], 1);
          },
          false,
          [&](std::size_t layer, std::uint32_t node, Cost cost) {
            if (!cost.is_blocked()) least_[r][state(layer, node)] = cost.primary();
          });
  }

  template <class CostOf, class Keep>
  void grow_backward(CostOf&& cost_of, bool with_end_costs, Keep&& keep) {
    std::vector<Cost> costs(costs_.size());
    for (std::uint32_t m = 0; m < costs.size(); ++m) costs[m] = cost_of(m);
    std::vector<Seed> goals = request_.stops.back();
    if (!with_end_costs)
      for (Seed& goal : goals) goal.cost = {};
    ShortestTree tree;
    for (std::size_t layer = layers_; layer-- > 0;) {
      tree.grow(adjacency_, costs, goals);
      for (std::uint32_t n = 0; n < adjacency_.node_count(); ++n) keep(layer, n, tree.cost(n));
      goals.clear();
      for (const Seed& stop : request_.stops[layer])
        if (!tree.cost(stop.node).is_blocked()) goals.push_back({stop.node, tree.cost(stop.node)});
    }
  }

  void seed() {
    at_.resize(layers_ * adjacency_.node_count());
    const std::vector<std::int64_t> nothing(k_, 0);
    std::vector<Seed> starts = request_.stops[0];
    std::sort(starts.begin(), starts.end(), [](const Seed& x, const Seed& y) { return x.node < y.node; });
    for (const Seed& s : starts) offer({{}, s.node, 0, none, -1}, nothing);
  }

  /// Keeps the label unless it cannot end within the limits or another at its place is no worse in all.
  void offer(Label label, const std::vector<std::int64_t>& uses) {
    const auto place = state(label.layer, label.node);
    if (onward_[place].is_blocked()) return;
    for (std::size_t r = 0; r < k_; ++r)
      if (least_[r][place] == never || uses[r] + least_[r][place] > request_.resources[r].limit) return;
    for (const auto other : at_[place]) {
      if (labels_[other].is_dominated || labels_[other].cost > label.cost) continue;
      bool is_no_worse = true;
      for (std::size_t r = 0; r < k_ && is_no_worse; ++r) is_no_worse = used(other, r) <= uses[r];
      if (is_no_worse) return;
    }
    for (const auto other : at_[place]) {
      if (labels_[other].cost < label.cost) continue;
      bool is_no_better = true;
      for (std::size_t r = 0; r < k_ && is_no_better; ++r) is_no_better = used(other, r) >= uses[r];
      if (is_no_better) labels_[other].is_dominated = true;
    }
    std::erase_if(at_[place], [&](std::size_t other) { return labels_[other].is_dominated; });
    at_[place].push_back(labels_.size());
    open_.push({label.cost + onward_[place], labels_.size()});
    labels_.push_back(label);
    used_.insert(used_.end(), uses.begin(), uses.end());
  }

  void search(LimitedWay& result) {
    std::vector<std::int64_t> uses(k_);
    while (!open_.empty()) {
      if (labels_.size() > request_.most_labels) {
        result.is_cut_short = true;
        break;
      }
      const std::size_t index = open_.top().label;
      open_.pop();
      const Label label = labels_[index];
      if (label.is_dominated) continue;
      for (std::size_t r = 0; r < k_; ++r) uses[r] = used(index, r);
      if (is_stop(label.layer + 1, label.node)) {
        if (label.layer + 1 == layers_) {
          const Cost end = end_cost(label.node);
          // A dearer end may be undercut by a way onward; wait until it is the cheapest key.
          if (open_.empty() || label.cost + end <= open_.top().key) {
            unwind(index, label.cost + end, result);
            break;
          }
          open_.push({label.cost + end, index});
          if (label.cost + end == label.cost + onward_[state(label.layer, label.node)]) continue;
        } else {
          offer({label.cost, label.node, label.layer + 1, none, static_cast<std::int64_t>(index)}, uses);
        }
      }
      for (const auto& arc : adjacency_.out(label.node)) {
        if (costs_[arc.move].is_blocked()) continue;
        std::vector<std::int64_t> next = uses;
        for (std::size_t r = 0; r < k_; ++r) next[r] += request_.resources[r].by_move[arc.move];
        offer({label.cost + costs_[arc.move], arc.head, label.layer, arc.move, static_cast<std::int64_t>(index)}, next);
      }
    }
    result.labels = labels_.size();
  }

  bool is_stop(std::size_t stop, std::uint32_t node) const {
    const auto& set = request_.stops[stop];
    return std::any_of(set.begin(), set.end(), [&](const Seed& s) { return s.node == node; });
  }

  Cost end_cost(std::uint32_t node) const {
    Cost least_cost = Cost::blocked();
    for (const Seed& s : request_.stops.back())
      if (s.node == node) least_cost = std::min(least_cost, s.cost);
    return least_cost;
  }

  void unwind(std::size_t index, Cost cost, LimitedWay& result) const {
    Way way;
    way.cost = cost;
    std::vector<std::size_t> stops_from_end = {0};
    for (std::int64_t at = static_cast<std::int64_t>(index); at >= 0;
         at = labels_[static_cast<std::size_t>(at)].parent) {
      const Label& label = labels_[static_cast<std::size_t>(at)];
      if (label.move != none) {
        way.nodes.push_back(label.node);
        way.moves.push_back(label.move);
      } else {
        if (label.parent < 0) way.nodes.push_back(label.node);
        stops_from_end.push_back(way.moves.size());
      }
    }
    std::reverse(way.nodes.begin(), way.nodes.end());
    std::reverse(way.moves.begin(), way.moves.end());
    for (auto it = stops_from_end.rbegin(); it != stops_from_end.rend(); ++it)
      result.stop_at.push_back(way.moves.size() - *it);
    for (std::size_t r = 0; r < k_; ++r) result.used.push_back(used(index, r));
    result.way = std::move(way);
  }

  struct Open {
    Cost key;
    std::size_t label;
    bool operator<(const Open& other) const {
      return key != other.key ? key > other.key : label > other.label;
    }  // least on top
  };

  const graph::Adjacency& adjacency_;
  std::span<const Cost> costs_;
  const LimitedRequest& request_;
  const std::size_t layers_, k_;
  std::vector<Cost> onward_;
  std::vector<std::vector<std::int64_t>> least_;
  std::vector<Label> labels_;
  std::vector<std::int64_t> used_;
  std::vector<std::vector<std::size_t>> at_;
  std::priority_queue<Open> open_;
};

}  // namespace

LimitedWay find_limited_way(const graph::Adjacency& adjacency, std::span<const Cost> costs,
                            const LimitedRequest& request) {
  return LabelSearch(adjacency, costs, request).run();
}

}  // namespace holdfast::search
