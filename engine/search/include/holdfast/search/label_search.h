// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// Label setting over any space of states: plain grips, or those of a mover with loads.
//
// A space offers
//   State                                                    dense unsigned integers
//   State start(std::uint32_t node)
//   std::uint32_t node(State)
//   std::optional<State> finish_leg(State)                   where the next leg goes on; nothing: no leg may end here
//   std::optional<State> step(State, Arc, Cost& extra, std::span<std::int64_t> uses)
//                                                            nothing: not allowed; adds what the state costs besides
// and may offer
//   bool begin(std::uint32_t node, std::span<std::int64_t> uses)
//                                                            what is used up already at a start; false: no start there
//   std::optional<State> finish_leg(State, std::size_t layer, std::span<std::int64_t> uses)
//                                                            in place of the other; adds what the stop after this leg
//                                                            uses up

#include <algorithm>
#include <limits>
#include <map>
#include <queue>

#include "holdfast/model/diagnostic.h"
#include "holdfast/search/labels.h"

namespace holdfast::search {

/// States are grips.
struct PlainSpace {
  using State = std::uint32_t;
  static State start(std::uint32_t node) { return node; }
  static std::uint32_t node(State state) { return state; }
  static std::optional<State> finish_leg(State state) { return state; }
  static std::optional<State> step(State, const graph::Arc& arc, Cost&, std::span<std::int64_t>) { return arc.head; }
};

/// What limited and Pareto searches share.
struct LabelQuestion {
  const std::vector<std::vector<Seed>>& stops;
  const std::vector<Resource>& resources;
  std::span<const std::int32_t> width_by_move, width_by_node;
  std::size_t most_labels;
  bool wants_all;       ///< every way that no other betters, not the cheapest alone
  bool with_end_costs;  ///< the last stops' costs count
};

template <class Space>
class LabelSearch {
 public:
  LabelSearch(const graph::Adjacency& adjacency, std::span<const Cost> costs, Space& space, LabelQuestion question)
      : adjacency_(adjacency),
        costs_(costs),
        space_(space),
        q_(question),
        layers_(question.stops.size() - 1),
        k_(question.resources.size()) {}

  struct Found {
    Path way;
    std::vector<std::size_t> stop_at;
    std::vector<std::int64_t> used;
    std::int32_t width;
  };
  std::vector<Found> found;
  std::vector<std::int64_t> least_needed;
  bool is_cut_short = false;
  Cost least_cost;  // when cut short
  [[nodiscard]] std::size_t label_count() const { return labels_.size(); }

  void run() {
    model::ensure(q_.stops.size() >= 2, "a way has a start and an end");
    grow_bounds();
    least_needed.assign(k_, never);
    for (const Seed& s : q_.stops[0])
      for (std::size_t r = 0; r < k_; ++r) least_needed[r] = std::min(least_needed[r], least(0, s.node, r));
    seed();
    search();
  }

 private:
  using State = typename Space::State;
  static constexpr std::int64_t never = std::numeric_limits<std::int64_t>::max();
  static constexpr std::int32_t widest = std::numeric_limits<std::int32_t>::max();
  static constexpr std::uint32_t none = ~std::uint32_t{0};

  /// One partial way: at a state of a layer (the leg it is on), coming from another label.
  struct Label {
    Cost cost;
    State state;
    std::uint32_t layer;
    std::uint32_t move;  // none: a start, or a stop made
    std::int64_t parent;
    std::int32_t width;
    bool is_dominated = false;
  };

  std::size_t place(std::size_t layer, std::uint32_t node) const { return layer * adjacency_.node_count() + node; }
  std::int64_t used(std::size_t label, std::size_t r) const { return used_[label * k_ + r]; }
  std::int64_t least(std::size_t layer, std::uint32_t node, std::size_t r) const {
    return least_[r][place(layer, node)];
  }

  /// Exact backward trees for the cost, for each resource and for the width, without what the space forbids: what is
  /// still needed from (layer, node) on.
  void grow_bounds() {
    onward_.assign(layers_ * adjacency_.node_count(), Cost::blocked());
    least_.assign(k_, std::vector<std::int64_t>(layers_ * adjacency_.node_count(), never));
    grow_backward([&](std::uint32_t move) { return costs_[move]; }, q_.with_end_costs,
                  [&](std::size_t layer, std::uint32_t node, Cost cost) { onward_[place(layer, node)] = cost; });
    for (std::size_t r = 0; r < k_; ++r)
      // The moves component keeps costs positive where a move uses none of the resource.
      grow_backward(
          [&](std::uint32_t move) {
            return costs_[move].is_blocked() ? Cost::blocked() : Cost::of(q_.resources[r].by_move[move], 1);
          },
          false,
          [&](std::size_t layer, std::uint32_t node, Cost cost) {
            if (!cost.is_blocked()) least_[r][place(layer, node)] = cost.primary();
          });
    if (!q_.width_by_move.empty()) grow_widths();
  }

  template <class CostOf, class Keep>
  void grow_backward(CostOf&& cost_of, bool with_end_costs, Keep&& keep) {
    std::vector<Cost> costs(costs_.size());
    for (std::uint32_t m = 0; m < costs.size(); ++m) costs[m] = cost_of(m);
    std::vector<Seed> goals = q_.stops.back();
    if (!with_end_costs)
      for (Seed& goal : goals) goal.cost = {};
    ShortestTree tree;
    for (std::size_t layer = layers_; layer-- > 0;) {
      tree.grow(adjacency_, costs, goals);
      for (std::uint32_t n = 0; n < adjacency_.node_count(); ++n) keep(layer, n, tree.cost(n));
      goals.clear();
      for (const Seed& stop : q_.stops[layer])
        if (!tree.cost(stop.node).is_blocked()) goals.push_back({stop.node, tree.cost(stop.node)});
    }
  }

  /// Widest way onward from every node: Dijkstra's method with the bottleneck for the sum.
  void grow_widths() {
    widths_.assign(layers_ * adjacency_.node_count(), -1);
    std::vector<std::pair<std::uint32_t, std::int32_t>> goals;
    for (const Seed& goal : q_.stops.back()) goals.emplace_back(goal.node, node_width(goal.node));
    for (std::size_t layer = layers_; layer-- > 0;) {
      std::priority_queue<std::pair<std::int32_t, std::uint32_t>> open;
      const auto offer = [&](std::uint32_t node, std::int32_t width) {
        if (width <= widths_[place(layer, node)]) return;
        widths_[place(layer, node)] = width;
        open.emplace(width, node);
      };
      for (const auto& [node, width] : goals) offer(node, width);
      while (!open.empty()) {
        const auto [width, node] = open.top();
        open.pop();
        if (width < widths_[place(layer, node)]) continue;
        for (const auto& arc : adjacency_.out(node))
          if (!costs_[arc.move].is_blocked()) offer(arc.head, std::min(width, q_.width_by_move[arc.move]));
      }
      goals.clear();
      for (const Seed& stop : q_.stops[layer])
        goals.emplace_back(stop.node, std::min(node_width(stop.node), widths_[place(layer, stop.node)]));
    }
  }
  std::int32_t node_width(std::uint32_t node) const {
    return q_.width_by_node.empty() ? widest : q_.width_by_node[node];
  }

  void seed() {
    const std::vector<std::int64_t> nothing(k_, 0);
    std::vector<Seed> starts = q_.stops[0];
    std::sort(starts.begin(), starts.end(), [](const Seed& x, const Seed& y) { return x.node < y.node; });
    for (const Seed& s : starts) {
      std::vector<std::int64_t> uses = nothing;
      if constexpr (requires { space_.begin(s.node, uses); })
        if (!space_.begin(s.node, uses)) continue;
      offer({{}, space_.start(s.node), 0, none, -1, node_width(s.node)}, uses);
    }
  }

  struct Outlook {  // the best that a label can still become
    Cost cost;
    std::int32_t width;
  };
  /// True where a way already found is no worse in all.
  bool is_beaten(const Outlook& outlook, std::size_t at, const std::vector<std::int64_t>& uses) const {
    for (const auto& way : found) {
      if (way.way.cost.primary() > outlook.cost.primary() || way.width < outlook.width) continue;
      bool is_no_worse = true;
      for (std::size_t r = 0; r < k_ && is_no_worse; ++r) is_no_worse = way.used[r] <= uses[r] + least_[r][at];
      if (is_no_worse) return true;
    }
    return false;
  }

  /// Keeps the label unless it cannot end within the limits or another at its place is no worse in all.
  void offer(Label label, const std::vector<std::int64_t>& uses) {
    const auto at = place(label.layer, space_.node(label.state));
    if (onward_[at].is_blocked()) return;
    for (std::size_t r = 0; r < k_; ++r)
      if (least_[r][at] == never || uses[r] > q_.resources[r].limit - least_[r][at]) return;
    const Outlook outlook{label.cost + onward_[at], widths_.empty() ? label.width : std::min(label.width, widths_[at])};
    if (q_.wants_all && is_beaten(outlook, at, uses)) return;
    const auto cell = label.layer + layers_ * static_cast<std::size_t>(label.state);
    if (cell >= at_.size()) at_.resize(cell + layers_ + at_.size() / 2);
    auto& here = at_[cell];
    for (const auto other : here) {
      if (labels_[other].cost > label.cost || labels_[other].width < label.width) continue;
      bool is_no_worse = true;
      for (std::size_t r = 0; r < k_ && is_no_worse; ++r) is_no_worse = used(other, r) <= uses[r];
      if (is_no_worse) return;
    }
    std::erase_if(here, [&](std::size_t other) {
      if (labels_[other].cost < label.cost || labels_[other].width > label.width) return false;
      for (std::size_t r = 0; r < k_; ++r)
        if (used(other, r) < uses[r]) return false;
      return labels_[other].is_dominated = true;
    });
    here.push_back(labels_.size());
    open_.push({outlook.cost, labels_.size()});
    labels_.push_back(label);
    used_.insert(used_.end(), uses.begin(), uses.end());
  }

  std::optional<State> finish_leg(const Label& label, std::span<std::int64_t> uses) {
    if constexpr (requires { space_.finish_leg(label.state, label.layer, uses); })
      return space_.finish_leg(label.state, label.layer, uses);
    else
      return space_.finish_leg(label.state);
  }

  void search() {
    std::vector<std::int64_t> uses(k_), next(k_);
    while (!open_.empty()) {
      if (labels_.size() > q_.most_labels) {
        is_cut_short = true;
        least_cost = open_.top().key;
        break;
      }
      const Open top = open_.top();
      open_.pop();
      const Label label = labels_[top.label];
      if (label.is_dominated) continue;
      const std::uint32_t node = space_.node(label.state);
      for (std::size_t r = 0; r < k_; ++r) uses[r] = used(top.label, r);
      if (q_.wants_all &&
          is_beaten({top.key, widths_.empty() ? label.width : std::min(label.width, widths_[place(label.layer, node)])},
                    place(label.layer, node), uses))
        continue;
      if (is_stop(label.layer + 1, node)) {
        next = uses;
        auto on = finish_leg(label, next);
        for (std::size_t r = 0; r < k_ && on; ++r)
          if (next[r] > q_.resources[r].limit) on.reset();
        if (on && label.layer + 1 == layers_) {
          const Cost total = label.cost + end_cost(node);
          // A dearer end may be undercut by a way onward; wait until it is the cheapest key.
          if (open_.empty() || total <= open_.top().key) {
            take(top.label, total, std::min(label.width, node_width(node)));
            if (!q_.wants_all) break;
          } else {
            open_.push({total, top.label});
            if (total == label.cost + onward_[place(label.layer, node)]) continue;
          }
        } else if (on) {
          offer({label.cost, *on, label.layer + 1, none, static_cast<std::int64_t>(top.label),
                 std::min(label.width, node_width(node))},
                next);
        }
      }
      for (const auto& arc : adjacency_.out(node)) {
        if (costs_[arc.move].is_blocked() || onward_[place(label.layer, arc.head)].is_blocked()) continue;
        for (std::size_t r = 0; r < k_; ++r) next[r] = uses[r] + q_.resources[r].by_move[arc.move];
        Cost extra;
        const auto state = space_.step(label.state, arc, extra, next);
        if (!state) continue;
        const std::int32_t width =
            q_.width_by_move.empty() ? label.width : std::min(label.width, q_.width_by_move[arc.move]);
        offer({label.cost + costs_[arc.move] + extra, *state, label.layer, arc.move,
               static_cast<std::int64_t>(top.label), width},
              next);
      }
    }
  }

  bool is_stop(std::size_t stop, std::uint32_t node) const {
    const auto& set = q_.stops[stop];
    return std::any_of(set.begin(), set.end(), [&](const Seed& s) { return s.node == node; });
  }

  Cost end_cost(std::uint32_t node) const {
    if (!q_.with_end_costs) return {};
    Cost least = Cost::blocked();
    for (const Seed& s : q_.stops.back())
      if (s.node == node) least = std::min(least, s.cost);
    return least;
  }

  /// The way of a label, unless one found before is no worse in all.
  void take(std::size_t index, Cost cost, std::int32_t width) {
    Found way;
    way.way.cost = cost;
    way.width = width;
    for (std::size_t r = 0; r < k_; ++r) way.used.push_back(used(index, r));
    for (const auto& other : found) {
      bool is_no_worse = other.way.cost.primary() <= cost.primary() && other.width >= width;
      for (std::size_t r = 0; r < k_ && is_no_worse; ++r) is_no_worse = other.used[r] <= way.used[r];
      if (is_no_worse) return;
    }
    std::vector<std::size_t> stops_from_end = {0};
    for (std::int64_t at = static_cast<std::int64_t>(index); at >= 0;
         at = labels_[static_cast<std::size_t>(at)].parent) {
      const Label& label = labels_[static_cast<std::size_t>(at)];
      if (label.move != none) {
        way.way.nodes.push_back(space_.node(label.state));
        way.way.moves.push_back(label.move);
      } else {
        if (label.parent < 0) way.way.nodes.push_back(space_.node(label.state));
        stops_from_end.push_back(way.way.moves.size());
      }
    }
    std::reverse(way.way.nodes.begin(), way.way.nodes.end());
    std::reverse(way.way.moves.begin(), way.way.moves.end());
    for (auto it = stops_from_end.rbegin(); it != stops_from_end.rend(); ++it)
      way.stop_at.push_back(way.way.moves.size() - *it);
    // A way found earlier costs no more, but may be as dear and worse in the rest.
    std::erase_if(found, [&](const Found& other) {
      bool is_no_better = other.way.cost.primary() >= cost.primary() && other.width <= width;
      for (std::size_t r = 0; r < k_ && is_no_better; ++r) is_no_better = other.used[r] >= way.used[r];
      return is_no_better;
    });
    found.push_back(std::move(way));
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
  Space& space_;
  const LabelQuestion q_;
  const std::size_t layers_, k_;
  std::vector<Cost> onward_;
  std::vector<std::vector<std::int64_t>> least_;
  std::vector<std::int32_t> widths_;
  std::vector<Label> labels_;
  std::vector<std::int64_t> used_;
  std::vector<std::vector<std::size_t>> at_;
  std::priority_queue<Open> open_;
};

template <class Space>
LimitedPath find_limited_path_in(Space& space, const graph::Adjacency& adjacency, std::span<const Cost> costs,
                                 const LimitedRequest& request) {
  LabelSearch<Space> search(adjacency, costs, space,
                            {request.stops, request.resources, {}, {}, request.most_labels, false, true});
  search.run();
  LimitedPath result;
  result.least = search.least_needed;
  result.labels = search.label_count();
  result.is_cut_short = search.is_cut_short;
  result.least_cost = search.least_cost;
  if (!search.found.empty()) {
    auto& found = search.found.front();
    result.way = std::move(found.way);
    result.stop_at = std::move(found.stop_at);
    result.used = std::move(found.used);
  }
  return result;
}

template <class Space>
ParetoSet find_pareto_paths_in(Space& space, const graph::Adjacency& adjacency, std::span<const Cost> costs,
                               const ParetoRequest& request) {
  LabelSearch<Space> search(adjacency, costs, space,
                            {request.stops, request.criteria, request.width_by_move, request.width_by_node,
                             request.most_labels, true, false});
  search.run();
  ParetoSet set;
  set.labels = search.label_count();
  set.is_cut_short = search.is_cut_short;
  for (auto& found : search.found)
    set.ways.push_back({std::move(found.way), std::move(found.stop_at), std::move(found.used), found.width});
  return set;
}

}  // namespace holdfast::search
