// SPDX-License-Identifier: GPL-3.0-or-later
#include <algorithm>
#include <queue>
#include <set>
#include <unordered_map>

#include "holdfast/model/diagnostic.h"
#include "loaded_impl.h"

namespace holdfast::route::detail {

namespace {

class LoadedSearch {
 public:
  LoadedSearch(const graph::HandrailGraph& graph, LoadSpace& space, const LoadedRequest& request)
      : graph_(graph), space_(space), request_(request), legs_(request.stops.size() - 1) {}

  LoadedResult run() {
    model::ensure(request_.stops.size() >= 2, "a way has a start and an end");
    model::ensure(request_.by_move_of_manner.size() == space_.manner_count(), "each manner of carrying has its costs");
    grow_bounds();
    std::vector<search::Seed> starts = request_.stops.front();
    std::sort(starts.begin(), starts.end(),
              [](const search::Seed& x, const search::Seed& y) { return x.node < y.node; });
    for (const search::Seed& seed : starts)
      if (!bound(0, seed.node).is_blocked())
        for (std::size_t manner = 0; manner < space_.manner_count(); ++manner)
          if (const auto state = space_.start(GripId(seed.node), manner, request_.departure))
            open_.push({bound(0, seed.node), {}, none, none, seed.node, 0, true, *state});
    LoadedResult result;
    while (!open_.empty() && open_.top().key <= best_ && !(request_.is_rough && !best_.is_blocked())) {
      if (steps_ > request_.most_steps) {
        result.is_cut_short = true;
        break;
      }
      Entry entry = open_.top();
      open_.pop();
      if (!entry.is_judged && !judge(entry)) continue;
      settle(entry);
    }
    if (!best_.is_blocked() && !result.is_cut_short) {
      result.way = unwind();
    } else {
      result.stop = stop();
      if (result.is_cut_short) result.least_possible = open_.top().key;
    }
    return result;
  }

 private:
  static constexpr std::uint32_t none = ~std::uint32_t{0};
  static constexpr std::uint32_t changed = none - 1;  // instead of a move: another manner of carrying

  struct Link {
    std::uint32_t from;
    std::uint32_t move;  // none: the leg ends here; or `changed`
  };
  struct Node {
    search::Cost cost;
    LoadSpace::State state;
    std::uint32_t leg;
    std::vector<Link> before;  // on cheapest ways
    bool is_goal = false;
    bool is_start = false;
  };
  struct Entry {
    search::Cost key;  // cost + bound
    search::Cost cost;
    std::uint32_t from;  // node; none: a start
    std::uint32_t move;
    std::uint32_t head;  // grip
    std::uint32_t leg;
    bool is_judged;  // the loads fit, `state` is known
    LoadSpace::State state;
    std::size_t manner = 0;                     // changed to
    bool operator<(const Entry& other) const {  // least key on top; of these the one that is farthest on
      if (key != other.key) return key > other.key;
      return cost != other.cost ? cost < other.cost : head > other.head;
    }
  };

  [[nodiscard]] search::Cost bound(std::uint32_t leg, std::uint32_t grip) const { return onward_[leg][grip]; }

  void grow_bounds() {
    onward_.resize(legs_);
    std::vector<search::Seed> goals = request_.stops.back();
    search::ShortestTree tree;
    for (std::size_t leg = legs_; leg-- > 0;) {
      tree.grow(graph_.adjacency(), request_.by_move, goals);
      onward_[leg].assign(tree.costs().begin(), tree.costs().end());
      goals.clear();
      for (const search::Seed& seed : request_.stops[leg])
        if (!tree.cost(seed.node).is_blocked()) goals.push_back({seed.node, tree.cost(seed.node)});
    }
    is_stop_.resize(legs_ + 1);
    for (std::size_t stop = 0; stop <= legs_; ++stop) {
      is_stop_[stop].resize(graph_.grips().size());
      for (const search::Seed& seed : request_.stops[stop]) is_stop_[stop][seed.node] = true;
    }
  }

  /// Sweeps the step; true when it can be settled now, else it was put back dearer, or does not fit.
  bool judge(Entry& entry) {
    const bool is_change = entry.move == changed;
    if (request_.is_rough && !is_change &&
        cells_.count({entry.leg, space_.cell_after(nodes_[entry.from].state, GripId(entry.head), request_.cell_m)}) > 0)
      return false;
    ++steps_;
    const auto step = is_change ? space_.change(nodes_[entry.from].state, entry.manner)
                                : space_.step(nodes_[entry.from].state, GripId(entry.head));
    if (!step.fits) {
      if (is_change) return false;
      note_stop(entry.from, GripId(entry.head), bound(entry.leg, entry.head));
      return false;
    }
    entry.is_judged = true;
    entry.state = step.to;
    if (step.entered.empty() || is_change) return true;
    const search::Cost extra = request_.zone_cost(entry.move, step.entered, space_.manner(step.to));
    if (extra == search::Cost{}) return true;
    entry.cost = entry.cost + extra;
    entry.key = entry.key + extra;
    open_.push(entry);
    return false;
  }

  void note_stop(std::uint32_t node, std::optional<GripId> to, search::Cost onward) {
    if (!(onward < stop_bound_)) return;
    stop_bound_ = onward;
    stop_node_ = node, stop_to_ = to;
  }

  /// Where a search without a way came nearest to the goal, and how it got there.
  [[nodiscard]] std::optional<LoadedResult::Stop> stop() const {
    if (stop_node_ == none) return std::nullopt;
    LoadedResult::Stop stop{nodes_[stop_node_].state, stop_to_, nodes_[stop_node_].leg, {}};
    // The first link to each node is the one that it was reached by.
    for (std::uint32_t at = stop_node_; !nodes_[at].before.empty(); at = nodes_[at].before.front().from)
      if (const auto move = nodes_[at].before.front().move; move != none && move != changed) stop.moves.push_back(move);
    std::reverse(stop.moves.begin(), stop.moves.end());
    return stop;
  }

  void settle(const Entry& entry) {
    if (request_.is_rough && !cells_.emplace(entry.leg, space_.cell(entry.state, request_.cell_m)).second) return;
    const std::uint64_t place = (std::uint64_t{entry.leg} << 32) | entry.state;
    const auto [found, is_new] = index_.try_emplace(place, static_cast<std::uint32_t>(nodes_.size()));
    const std::uint32_t id = found->second;
    if (!is_new) {
      if (nodes_[id].cost == entry.cost && entry.from != none) nodes_[id].before.push_back({entry.from, entry.move});
      return;
    }
    nodes_.push_back({entry.cost, entry.state, entry.leg, {}, false, entry.from == none});
    if (entry.from != none) nodes_[id].before.push_back({entry.from, entry.move});
    const std::uint32_t grip = space_.grip(entry.state).value;
    if (is_stop_[entry.leg + 1][grip]) {
      if (const auto next = space_.finish_leg(entry.state)) {
        if (entry.leg + 1 == legs_) {
          nodes_[id].is_goal = true;
          best_ = std::min(best_, entry.cost);
        } else if (const search::Cost onward = bound(entry.leg + 1, grip); !onward.is_blocked()) {
          open_.push({entry.cost + onward, entry.cost, id, none, grip, entry.leg + 1, true, *next});
        }
      } else {
        note_stop(id, std::nullopt, {});
      }
    }
    for (const auto& arc : graph_.adjacency().out(grip)) {
      const search::Cost step = request_.by_move_of_manner[space_.manner(entry.state)][arc.move],
                         onward = bound(entry.leg, arc.head);
      if (step.is_blocked() || onward.is_blocked()) continue;
      open_.push({entry.cost + step + onward, entry.cost + step, id, arc.move, arc.head, entry.leg, false, 0});
    }
    const search::Cost onward = bound(entry.leg, grip);
    if (onward.is_blocked() || entry.move == changed) return;
    for (std::size_t manner = 0; manner < space_.manner_count(); ++manner)
      if (const model::Load* load = space_.changed_load(space_.manner(entry.state), manner)) {
        const search::Cost cost = entry.cost + request_.change_cost(*load);
        open_.push({cost + onward, cost, id, changed, grip, entry.leg, false, 0, manner});
      }
  }

  /// Back from the goals over cheapest links, then forward by the smallest grip.
  LoadedWay unwind() const {
    std::vector<std::vector<Link>> after(nodes_.size());  // Link::from is the node gone to
    std::vector<bool> is_seen(nodes_.size());
    std::vector<std::uint32_t> stack;
    for (std::uint32_t n = 0; n < nodes_.size(); ++n)
      if (nodes_[n].is_goal && nodes_[n].cost == best_) stack.push_back(n), is_seen[n] = true;
    std::uint32_t at = none;
    while (!stack.empty()) {
      const std::uint32_t n = stack.back();
      stack.pop_back();
      if (nodes_[n].is_start &&
          (at == none || std::pair(grip_of(n), manner_of(n)) < std::pair(grip_of(at), manner_of(at))))
        at = n;
      for (const Link& link : nodes_[n].before) {
        after[link.from].push_back({n, link.move});
        if (!is_seen[link.from]) is_seen[link.from] = true, stack.push_back(link.from);
      }
    }
    model::ensure(at != none, "a goal hangs together with a start");
    LoadedWay way;
    way.cost = best_;
    way.legs.resize(legs_);
    way.legs[0].grips.push_back(grip_of(at));
    way.legs[0].manner = manner_of(at);
    while (!(nodes_[at].is_goal && nodes_[at].cost == best_)) {
      const Link* next = nullptr;
      for (const Link& link : after[at]) {
        const bool ends_leg = link.move == none;
        if (!next || ends_leg || (next->move != none && grip_of(link.from) < grip_of(next->from))) next = &link;
        if (ends_leg) break;
      }
      model::ensure(next != nullptr, "a node on a cheapest way has a successor on it");
      at = next->from;
      auto& leg = way.legs[nodes_[at].leg];
      if (next->move == changed) {
        leg.changes.push_back({leg.moves.size(), manner_of(at)});
        continue;
      }
      if (next->move != none)
        leg.moves.push_back(next->move);
      else
        leg.manner = manner_of(at);
      leg.grips.push_back(grip_of(at));
    }
    return way;
  }
  [[nodiscard]] std::size_t manner_of(std::uint32_t node) const { return space_.manner(nodes_[node].state); }
  [[nodiscard]] std::uint32_t grip_of(std::uint32_t node) const { return space_.grip(nodes_[node].state).value; }

  const graph::HandrailGraph& graph_;
  LoadSpace& space_;
  const LoadedRequest& request_;
  const std::size_t legs_;
  std::vector<std::vector<search::Cost>> onward_;  // by leg and grip
  std::vector<std::vector<bool>> is_stop_;
  std::vector<Node> nodes_;
  std::unordered_map<std::uint64_t, std::uint32_t> index_;
  std::set<std::pair<std::uint32_t, LoadSpace::Cell>> cells_;  // of rough searches
  std::priority_queue<Entry> open_;
  std::size_t steps_ = 0;
  search::Cost best_ = search::Cost::blocked();
  search::Cost stop_bound_ = search::Cost::blocked();
  std::uint32_t stop_node_ = none;
  std::optional<GripId> stop_to_;
};

}  // namespace

LoadedResult find_loaded_way(const graph::HandrailGraph& graph, LoadSpace& space, const LoadedRequest& request) {
  return LoadedSearch(graph, space, request).run();
}

}  // namespace holdfast::route::detail
