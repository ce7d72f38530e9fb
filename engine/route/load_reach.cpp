// SPDX-License-Identifier: GPL-3.0-or-later
#include "load_reach_impl.h"

#include <queue>

namespace holdfast::route::detail {

namespace {

using graph::GripId;
using graph::HandrailGraph;
using graph::MoveId;
using search::Seed;

/// Grips that are reached from one end of a leg, or from which that end is reached.
class Flood {
 public:
  Flood(const HandrailGraph& graph, LoadSpace& space, std::span<const search::Cost> by_move, bool is_backward,
        const std::vector<Seed>& from, std::span<const search::Cost> onward)
      : graph_(graph),
        space_(space),
        by_move_(by_move),
        is_backward_(is_backward),
        onward_(onward),
        is_reached_(graph.grips().size()) {
    for (const Seed& seed : from)
      if (!is_reached_[seed.node]) reach(seed.node);
  }

  [[nodiscard]] bool is_exhausted() const { return open_.empty(); }
  [[nodiscard]] bool has(std::uint32_t grip) const { return is_reached_[grip]; }
  [[nodiscard]] std::size_t asked() const { return asked_; }

  /// Looks at one move; the grip that it reaches anew.
  std::optional<std::uint32_t> advance() {
    const Entry next = open_.top();
    open_.pop();
    if (is_reached_[next.head]) return std::nullopt;
    ++asked_;
    const GripId near(next.from), far(next.head);
    if (!space_.may_step(MoveId(next.move), is_backward_ ? far : near, is_backward_ ? near : far)) return std::nullopt;
    reach(next.head);
    return next.head;
  }

 private:
  struct Entry {
    search::Cost onward;
    std::uint32_t from, head, move;
    bool operator<(const Entry& other) const {  // nearest to the other end on top
      if (onward != other.onward) return onward > other.onward;
      return move > other.move;
    }
  };

  void reach(std::uint32_t grip) {
    is_reached_[grip] = true;
    for (const auto& arc : graph_.adjacency().out(grip)) {
      if (is_reached_[arc.head] || by_move_[arc.move].is_blocked()) continue;
      // Where no path goes on to the other end, loads or no loads, nothing can be proven and nothing is lost.
      if (const search::Cost onward = onward_[arc.head]; !onward.is_blocked())
        open_.push({onward, grip, arc.head, arc.move});
    }
  }

  const HandrailGraph& graph_;
  LoadSpace& space_;
  const std::span<const search::Cost> by_move_;
  const bool is_backward_;
  const std::span<const search::Cost> onward_;  // to the other end
  std::vector<bool> is_reached_;
  std::priority_queue<Entry> open_;
  std::size_t asked_ = 0;
};

std::vector<search::Cost> costs_to(const HandrailGraph& graph, std::span<const search::Cost> by_move,
                                   const std::vector<Seed>& stop) {
  std::vector<Seed> free;  // what stops cost is no matter here
  for (const Seed& seed : stop) free.push_back({seed.node, {}});
  search::ShortestTree tree;
  tree.grow(graph.adjacency(), by_move, free);
  return {tree.costs().begin(), tree.costs().end()};
}

}  // namespace

LoadReach::LoadReach(const HandrailGraph& graph, std::span<const search::Cost> by_move,
                     std::vector<std::vector<Seed>> stops)
    : graph_(graph), by_move_(by_move), stops_(std::move(stops)) {
  for (std::size_t leg = 0; leg + 1 < stops_.size(); ++leg)
    legs_.push_back({costs_to(graph, by_move, stops_[leg + 1]), costs_to(graph, by_move, stops_[leg])});
}

bool LoadReach::may_connect(LoadSpace& space) const {
  const auto may_connect_leg = [&](std::size_t leg) {
    Flood forward(graph_, space, by_move_, false, stops_[leg], legs_[leg].onward),
        backward(graph_, space, by_move_, true, stops_[leg + 1], legs_[leg].back);
    for (const Seed& seed : stops_[leg + 1])
      if (forward.has(seed.node)) return true;
    while (!forward.is_exhausted() && !backward.is_exhausted()) {
      Flood& flood = forward.asked() <= backward.asked() ? forward : backward;
      const Flood& other = &flood == &forward ? backward : forward;
      if (const auto reached = flood.advance(); reached && other.has(*reached)) return true;
    }
    return false;
  };
  for (std::size_t leg = 0; leg < legs_.size(); ++leg)
    if (!may_connect_leg(leg)) return false;
  return true;
}

}  // namespace holdfast::route::detail
