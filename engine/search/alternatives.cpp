// SPDX-License-Identifier: GPL-3.0-or-later
#include "holdfast/search/alternatives.h"

#include <algorithm>
#include <compare>
#include <cstdlib>
#include <functional>
#include <memory>
#include <new>
#include <queue>
#include <tuple>
#include <utility>

#include "holdfast/model/diagnostic.h"

namespace holdfast::search {

using graph::Adjacency;
using graph::Arc;

namespace {

constexpr std::uint32_t none = ~std::uint32_t{0};

// Rations a way asked for. Candidates come in order of promise, so what passes at all mostly passes early; a look costs
// a walk along the candidate, a test a search over a small part of the graph, and asking the caller whatever it costs
// to sweep a load along the way.
constexpr std::size_t looks_a_way = 400;
constexpr std::size_t tests_a_way = 40;
constexpr std::size_t asked_a_way = 6;

/// Groups that ways have held, and pairs of groups that they have gone between.
class UsedGroups {
 public:
  explicit UsedGroups(std::span<const std::uint32_t> group_of_node) : group_of_node_(group_of_node) {
    std::uint32_t greatest = 0;
    for (const auto group : group_of_node) greatest = std::max(greatest, group);
    is_held_.resize(std::size_t{greatest} + 1);
  }
  void add(const Path& way) {
    for (const auto node : way.nodes) is_held_[group_of_node_[node]] = true;
    for (std::size_t i = 0; i + 1 < way.nodes.size(); ++i) pairs_.push_back(key(way.nodes[i], way.nodes[i + 1]));
    std::sort(pairs_.begin(), pairs_.end());
    pairs_.erase(std::unique(pairs_.begin(), pairs_.end()), pairs_.end());
  }
  [[nodiscard]] bool is_shared(std::uint32_t a, std::uint32_t b) const {
    if (!is_held_[group_of_node_[a]] || !is_held_[group_of_node_[b]]) return false;
    return group_of_node_[a] == group_of_node_[b] || std::binary_search(pairs_.begin(), pairs_.end(), key(a, b));
  }

 private:
  [[nodiscard]] std::uint64_t key(std::uint32_t a, std::uint32_t b) const {
    const auto [low, high] = std::minmax(group_of_node_[a], group_of_node_[b]);
    return std::uint64_t{low} << 32 | high;
  }
  std::span<const std::uint32_t> group_of_node_;
  std::vector<bool> is_held_;
  std::vector<std::uint64_t> pairs_;
};

/// Decides between equally cheap ways: first less shared with the best way, then a number drawn for each move. Both are
/// sums over moves, the same in both directions, so both trees take the same way between two nodes that both of them
/// join. Taking the smallest neighbour instead breaks every plateau into single nodes where re-gripping ties abound:
/// one tree's smallest is the farthest back, the other's the nearest ahead.
struct Tie {
  std::int64_t shared = 0;
  std::uint64_t drawn = 0;
  friend auto operator<=>(const Tie&, const Tie&) = default;
};

/// The finalizer of SplitMix64 (Steele, Lea, Flood, Fast splittable pseudorandom number generators, OOPSLA 2014), cut
/// to 32 bits so that sums have room.
std::uint64_t drawn_for(std::uint32_t move) {
  std::uint64_t z = (std::uint64_t{move} + 1) * 0x9e3779b97f4a7c15;
  z = (z ^ z >> 30) * 0xbf58476d1ce4e5b9;
  z = (z ^ z >> 27) * 0x94d049bb133111eb;
  return (z ^ z >> 31) >> 32;
}

/// One cheapest way from every node worth looking at to a set of seeds.
struct Tree {
  struct Node {
    std::uint32_t next = none;  ///< toward the seeds; none at a seed
    std::uint32_t move = none;
    std::int64_t length = 0;  ///< of the way to the seeds ...
    std::int64_t shared = 0;  ///< ... and of its moves shared with the ways found
  };
  ShortestTree costs;
  std::vector<Node> nodes;
  std::vector<std::uint32_t> order;  ///< nodes worth looking at, by cost: `next` comes before
};

/// A longest chain of moves that both trees take: every node of it stands for the same way.
struct Plateau {
  std::uint32_t first, last;  ///< nodes, seen from the source
  std::int64_t length;        ///< in primary cost
  bool is_done = false;       ///< accepted or refused for good
};

/// Primary cost of a way at most.
std::int64_t dearest_of(Cost best, const AlternativesRequest& request) {
  return static_cast<std::int64_t>(static_cast<double>(best.primary()) * request.stretch);
}

class Finder {
 public:
  /// `whole_move`: by move the number that is drawn for, where the graph is part of another; empty: its own.
  Finder(const Adjacency& adjacency, std::span<const Cost> costs, const AlternativesRequest& request,
         std::span<const std::uint32_t> whole_move = {})
      : adjacency_(adjacency),
        costs_(costs),
        request_(request),
        whole_move_(whole_move),
        used_(request.group_of_node) {}

  /// `best`: the path that `RouteQuery` finds.
  std::vector<Alternative> find(Path best) {
    best_cost_ = best.cost;
    for (const auto move : best.moves) best_length_ += request_.length_of_move[move];
    used_.add(best);
    found_.push_back({.way = std::move(best), .via = 0});
    found_.front().via = found_.front().way.nodes.front();
    if (request_.most == 1 || best_length_ == 0) return std::move(found_);

    const auto primary = static_cast<double>(best_cost_.primary());
    dearest_ = dearest_of(best_cost_, request_);
    window_ = static_cast<std::int64_t>(primary * request_.locally);
    from_.costs.grow(adjacency_, costs_, request_.sources);
    to_.costs.grow(adjacency_, costs_, request_.targets);
    grow_unique(from_, request_.sources);
    grow_unique(to_, request_.targets);
    find_plateaus();
    touched_.resize(adjacency_.node_count());
    looks_left_ = looks_a_way * request_.most;
    tests_left_ = tests_a_way * request_.most;
    asks_left_ = asked_a_way * request_.most;
    while (found_.size() < request_.most && add_one()) {
    }
    return std::move(found_);
  }

 private:
  [[nodiscard]] Cost cost_through(std::uint32_t node) const { return from_.costs.cost(node) + to_.costs.cost(node); }
  [[nodiscard]] bool is_worth_looking_at(std::uint32_t node) const {
    return !from_.costs.cost(node).is_blocked() && !to_.costs.cost(node).is_blocked() &&
           cost_through(node).primary() <= dearest_;
  }

  void grow_unique(Tree& tree, std::span<const Seed> seeds) const {
    std::vector<std::pair<Cost, std::uint32_t>> by_cost;
    for (std::uint32_t node = 0; node < adjacency_.node_count(); ++node)
      if (is_worth_looking_at(node)) by_cost.emplace_back(tree.costs.cost(node), node);
    std::sort(by_cost.begin(), by_cost.end());
    std::vector<bool> is_seed(adjacency_.node_count());
    for (const Seed& seed : seeds)
      if (tree.costs.cost(seed.node) == seed.cost) is_seed[seed.node] = true;

    tree.nodes.assign(adjacency_.node_count(), {});
    std::vector<Tie> ties(adjacency_.node_count());
    tree.order.reserve(by_cost.size());
    for (const auto& [cost, node] : by_cost) {
      tree.order.push_back(node);
      if (is_seed[node]) continue;
      Tree::Node& n = tree.nodes[node];
      for (const Arc& arc : adjacency_.out(node)) {
        // Nodes before this one on a cheapest way to it are no dearer to go through, so they are worth looking at too.
        if (costs_[arc.move].is_blocked() || tree.costs.cost(arc.head) + costs_[arc.move] != cost) continue;
        Tie tie = ties[arc.head];
        if (used_.is_shared(node, arc.head)) tie.shared += request_.length_of_move[arc.move];
        tie.drawn += drawn_for(whole_move_.empty() ? arc.move : whole_move_[arc.move]);
        if (n.next != none && ties[node] <= tie) continue;
        ties[node] = tie;
        n.next = arc.head, n.move = arc.move;
      }
      model::ensure(n.next != none, "a node that seeds reach has a neighbour before it");
      n.length = tree.nodes[n.next].length + request_.length_of_move[n.move];
    }
  }

  [[nodiscard]] bool is_plateau_move(std::uint32_t before, std::uint32_t after) const {
    return from_.nodes[after].next == before && from_.nodes[after].move == to_.nodes[before].move;
  }

  void find_plateaus() {
    for (const auto node : from_.order) {
      const auto before = from_.nodes[node].next;
      if (before != none && to_.nodes[before].next == node && is_plateau_move(before, node)) continue;
      std::uint32_t last = node;
      for (auto next = to_.nodes[last].next; next != none && is_plateau_move(last, next); next = to_.nodes[last].next)
        last = next;
      const auto length = from_.costs.cost(last).primary() - from_.costs.cost(node).primary();
      plateaus_.push_back({node, last, length});
    }
  }

  /// One pass along each tree tells of every candidate at once how much of it is shared with all ways found.
  void measure_shared(Tree& tree) const {
    for (const auto node : tree.order) {
      Tree::Node& n = tree.nodes[node];
      if (n.next == none) continue;
      n.shared = tree.nodes[n.next].shared;
      if (used_.is_shared(node, n.next)) n.shared += request_.length_of_move[n.move];
    }
  }

  [[nodiscard]] double shared_fraction(std::uint32_t via) const {
    const auto length = std::min(best_length_, from_.nodes[via].length + to_.nodes[via].length);
    const auto shared = from_.nodes[via].shared + to_.nodes[via].shared;
    return length == 0 ? 1 : static_cast<double>(shared) / static_cast<double>(length);
  }

  /// Twice the cost, plus what is shared, less the plateau (the paper's order); each as a fraction of the best way,
  /// because lengths and costs may have different units.
  [[nodiscard]] double score(const Plateau& plateau, double shared) const {
    const auto best = static_cast<double>(std::max<std::int64_t>(best_cost_.primary(), 1));
    return 2 * static_cast<double>(cost_through(plateau.first).primary()) / best + shared -
           static_cast<double>(plateau.length) / best;
  }

  bool add_one() {
    measure_shared(from_);
    measure_shared(to_);
    struct Candidate {
      double score;
      std::uint32_t via;
      std::size_t plateau;
    };
    const auto is_worse = [](const Candidate& x, const Candidate& y) {
      return x.score != y.score ? x.score > y.score : x.via > y.via;
    };
    std::vector<Candidate> heap;
    for (std::size_t i = 0; i < plateaus_.size(); ++i) {
      if (plateaus_[i].is_done) continue;
      const double shared = shared_fraction(plateaus_[i].first);
      if (shared <= request_.sharing) heap.push_back({score(plateaus_[i], shared), plateaus_[i].first, i});
      // What is shared only grows as ways are added.
      else
        plateaus_[i].is_done = true;
    }
    std::make_heap(heap.begin(), heap.end(), is_worse);
    while (!heap.empty() && looks_left_ > 0 && tests_left_ > 0 && asks_left_ > 0) {
      std::pop_heap(heap.begin(), heap.end(), is_worse);
      Plateau& plateau = plateaus_[heap.back().plateau];
      heap.pop_back();
      plateau.is_done = true;
      --looks_left_;
      Path way = way_through(plateau);
      if (!is_simple(way) || !is_locally_cheapest(way, plateau)) continue;
      if (request_.accept) {
        --asks_left_;
        if (!request_.accept(way)) continue;
      }
      used_.add(way);
      const auto best = best_cost_.primary();
      const double stretch = best == 0 ? 1 : static_cast<double>(way.cost.primary()) / static_cast<double>(best);
      found_.push_back({std::move(way), stretch, shared_fraction(plateau.first), middle_of(plateau)});
      return true;
    }
    return false;
  }

  [[nodiscard]] Path way_through(const Plateau& plateau) const {
    Path way;
    way.cost = cost_through(plateau.first);
    for (auto node = plateau.first; node != none; node = from_.nodes[node].next) {
      way.nodes.push_back(node);
      if (from_.nodes[node].next != none) way.moves.push_back(from_.nodes[node].move);
    }
    std::reverse(way.nodes.begin(), way.nodes.end());
    std::reverse(way.moves.begin(), way.moves.end());
    for (auto node = plateau.first; to_.nodes[node].next != none; node = to_.nodes[node].next) {
      way.moves.push_back(to_.nodes[node].move);
      way.nodes.push_back(to_.nodes[node].next);
    }
    return way;
  }

  [[nodiscard]] std::uint32_t middle_of(const Plateau& plateau) const {
    const auto half = from_.costs.cost(plateau.first).primary() + plateau.length / 2;
    auto node = plateau.first;
    while (node != plateau.last && from_.costs.cost(node).primary() < half) node = to_.nodes[node].next;
    return node;
  }

  bool is_simple(const Path& way) {
    ++stamp_;
    return std::none_of(way.nodes.begin(), way.nodes.end(),
                        [&](std::uint32_t node) { return std::exchange(touched_[node].stamp, stamp_) == stamp_; });
  }

  /// The T-test. Up to the plateau's end the way is a cheapest one, and so it is from the plateau's beginning on. A bad
  /// stretch of at most T therefore begins before the plateau, ends behind it, and lies within the window from T before
  /// the plateau's end to T behind its beginning: if the window is a cheapest way, so is every such stretch.
  bool is_locally_cheapest(const Path& way, const Plateau& plateau) {
    const auto at = [&](std::uint32_t node) {
      return static_cast<std::size_t>(std::find(way.nodes.begin(), way.nodes.end(), node) - way.nodes.begin());
    };
    const std::size_t first = at(plateau.first), last = at(plateau.last), end = way.nodes.size() - 1;
    const auto so_far = [&](std::size_t i) {
      return i <= last ? from_.costs.cost(way.nodes[i]) : way.cost - to_.costs.cost(way.nodes[i]);
    };
    std::size_t low = first, high = last;
    while (low > 0 && (so_far(last) - so_far(low - 1)).primary() <= window_) --low;
    while (high < end && (so_far(high + 1) - so_far(first)).primary() <= window_) ++high;
    if (low == first || high == last) return true;
    // Where the window reaches an end of the way, going from or to another seed must not be cheaper either, and the
    // tree knows.
    if (low == 0 && high == end) return way.cost == best_cost_;
    if (low == 0) return so_far(high) == from_.costs.cost(way.nodes[high]);
    if (high == end) return way.cost - so_far(low) == to_.costs.cost(way.nodes[low]);
    --tests_left_;
    return !has_cheaper(way.nodes[low], way.nodes[high], so_far(high) - so_far(low));
  }

  /// Is there a way between two nodes that costs less than `cost`? A*, with the two trees as landmarks (see
  /// landmarks.h): both ends lie on one way through the trees' seeds, so the bounds are nearly tight, and nothing is
  /// looked at that could not be part of a cheaper way.
  bool has_cheaper(std::uint32_t source, std::uint32_t target, Cost cost) {
    const auto apart = [](Cost a, Cost b) { return a < b ? b - a : a - b; };
    const auto bound = [&](std::uint32_t node) {
      return std::max(apart(from_.costs.cost(node), from_.costs.cost(target)),
                      apart(to_.costs.cost(node), to_.costs.cost(target)));
    };
    ++stamp_;
    std::priority_queue<std::tuple<Cost, Cost, std::uint32_t>, std::vector<std::tuple<Cost, Cost, std::uint32_t>>,
                        std::greater<>>
        open;  // bound on the whole way, cost so far, node
    const auto offer = [&](std::uint32_t node, Cost so_far) {
      Touched& touched = touched_[node];
      if (touched.stamp == stamp_ && touched.cost <= so_far) return;
      touched = {so_far, stamp_};
      if (const Cost whole = so_far + bound(node); whole < cost) open.emplace(whole, so_far, node);
    };
    offer(source, {});
    while (!open.empty()) {
      const auto [whole, so_far, node] = open.top();
      open.pop();
      if (node == target) return true;
      if (so_far != touched_[node].cost) continue;  // lowered since
      for (const Arc& arc : adjacency_.out(node))
        if (!costs_[arc.move].is_blocked()) offer(arc.head, so_far + costs_[arc.move]);
    }
    return false;
  }

  struct Touched {
    Cost cost;
    std::uint32_t stamp = 0;  // of the test that touched it
  };

  const Adjacency& adjacency_;
  std::span<const Cost> costs_;
  const AlternativesRequest& request_;
  const std::span<const std::uint32_t> whole_move_;
  UsedGroups used_;
  Tree from_, to_;
  std::vector<Plateau> plateaus_;
  std::vector<Alternative> found_;
  std::vector<Touched> touched_;
  std::uint32_t stamp_ = 0;
  Cost best_cost_;
  std::int64_t best_length_ = 0;
  std::int64_t dearest_ = 0;  // primary cost of a way at most
  std::int64_t window_ = 0;   // T
  std::size_t looks_left_ = 0, tests_left_ = 0, asks_left_ = 0;
};

/// Least costs around seeds, in memory that is touched only where the search comes by: near ends are looked at on large
/// graphs, where clearing a table alone takes longer.
class Growth {
 public:
  explicit Growth(std::size_t nodes)
      : place_(static_cast<std::uint32_t*>(std::calloc(nodes, sizeof(std::uint32_t))), std::free) {
    if (!place_) throw std::bad_alloc();
  }
  /// Blocked where no path was found.
  [[nodiscard]] Cost cost(std::uint32_t node) const {
    return place_[node] == 0 ? Cost::blocked() : reached_[place_[node] - 1].cost;
  }
  [[nodiscard]] std::span<const Seed> reached() const { return reached_; }

  /// Nodes for which `is_open(node, cost)`, each handed to `settle(node, cost)` in order of cost until that says no.
  template <class IsOpen, class Settle>
  void grow(const Adjacency& adjacency, std::span<const Cost> costs, std::span<const Seed> seeds, IsOpen&& is_open,
            Settle&& settle) {
    using Entry = std::pair<Cost, std::uint32_t>;
    std::priority_queue<Entry, std::vector<Entry>, std::greater<>> open;
    const auto offer = [&](std::uint32_t node, Cost so_far) {
      if (cost(node) <= so_far || !is_open(node, so_far)) return;
      if (place_[node] == 0) {
        reached_.push_back({node, so_far});
        place_[node] = static_cast<std::uint32_t>(reached_.size());
      } else {
        reached_[place_[node] - 1].cost = so_far;
      }
      open.emplace(so_far, node);
    };
    for (const Seed& seed : seeds) offer(seed.node, seed.cost);
    while (!open.empty()) {
      const auto [so_far, node] = open.top();
      open.pop();
      if (so_far != cost(node)) continue;  // lowered since
      if (!settle(node, so_far)) return;
      for (const Arc& arc : adjacency.out(node))
        if (!costs[arc.move].is_blocked()) offer(arc.head, so_far + costs[arc.move]);
    }
  }

 private:
  std::unique_ptr<std::uint32_t[], decltype(&std::free)> place_;  // one more than the place in `reached_`
  std::vector<Seed> reached_;
};

/// The part of a graph that paths of at most so much primary cost can pass: all that is looked at for alternatives, and
/// little of it where the ends are near. Nodes and moves keep their order, so what is found on it is what is found on
/// the whole.
class Region {
 public:
  /// `to_targets`: of all nodes from which the targets cost at most `dearest`.
  Region(const Adjacency& adjacency, std::span<const Cost> costs, std::span<const Seed> sources,
         const Growth& to_targets, std::int64_t dearest) {
    Growth from_sources(adjacency.node_count());
    from_sources.grow(
        adjacency, costs, sources,
        [&](std::uint32_t node, Cost cost) {
          const Cost onward = to_targets.cost(node);
          return !onward.is_blocked() && (cost + onward).primary() <= dearest;
        },
        [](std::uint32_t, Cost) { return true; });
    for (const Seed& node : from_sources.reached()) nodes_.push_back(node.node);
    std::sort(nodes_.begin(), nodes_.end());
    for (const auto node : nodes_)
      for (const Arc& arc : adjacency.out(node))
        if (arc.head > node && local_of(arc.head) != none && !costs[arc.move].is_blocked()) moves_.push_back(arc.move);
    std::sort(moves_.begin(), moves_.end());
    adjacency_.first.assign(1, 0);
    for (const auto node : nodes_) {
      for (const Arc& arc : adjacency.out(node))
        if (const auto head = local_of(arc.head); head != none && !costs[arc.move].is_blocked() && arc.head != node)
          adjacency_.arcs.push_back({head, local_move(arc.move)});
      adjacency_.first.push_back(static_cast<std::uint32_t>(adjacency_.arcs.size()));
    }
    for (const auto move : moves_) costs_.push_back(costs[move]);
  }

  [[nodiscard]] std::vector<Alternative> find(const AlternativesRequest& request) const {
    AlternativesRequest here = request;
    const auto sources = local_seeds(request.sources), targets = local_seeds(request.targets);
    std::vector<std::uint32_t> groups;
    std::vector<std::int64_t> lengths;
    for (const auto node : nodes_) groups.push_back(request.group_of_node[node]);
    for (const auto move : moves_) lengths.push_back(request.length_of_move[move]);
    here.sources = sources, here.targets = targets, here.group_of_node = groups, here.length_of_move = lengths;
    if (request.accept)
      here.accept = [&](const Path& path) {
        Path whole = path;
        widen(whole);
        return request.accept(whole);
      };
    auto best = RouteQuery().find(adjacency_, costs_, sources, targets);
    model::ensure(best.has_value(), "the best path lies where paths that are not much dearer lie");
    auto found = Finder(adjacency_, costs_, here, moves_).find(std::move(*best));
    for (Alternative& each : found) {
      widen(each.way);
      each.via = nodes_[each.via];
    }
    return found;
  }

 private:
  [[nodiscard]] std::uint32_t local_of(std::uint32_t node) const {
    const auto at = std::lower_bound(nodes_.begin(), nodes_.end(), node);
    return at != nodes_.end() && *at == node ? static_cast<std::uint32_t>(at - nodes_.begin()) : none;
  }
  [[nodiscard]] std::vector<Seed> local_seeds(std::span<const Seed> seeds) const {
    std::vector<Seed> local;
    for (const Seed& seed : seeds)
      if (const auto node = local_of(seed.node); node != none) local.push_back({node, seed.cost});
    return local;
  }
  [[nodiscard]] std::uint32_t local_move(std::uint32_t move) const {
    return static_cast<std::uint32_t>(std::lower_bound(moves_.begin(), moves_.end(), move) - moves_.begin());
  }
  void widen(Path& path) const {
    for (auto& node : path.nodes) node = nodes_[node];
    for (auto& move : path.moves) move = moves_[move];
  }

  std::vector<std::uint32_t> nodes_, moves_;  // of the whole, in its order
  Adjacency adjacency_;
  std::vector<Cost> costs_;
};

}  // namespace

std::vector<Alternative> find_alternatives(const Adjacency& adjacency, std::span<const Cost> costs,
                                           const AlternativesRequest& request) {
  model::ensure(request.group_of_node.size() == adjacency.node_count(), "each node has a group");
  model::ensure(request.length_of_move.size() == costs.size(), "each move has a length");
  if (request.most == 0) return {};
  if (request.most > 1) {
    // As far around the targets as a path may go. Where that is much of the graph, cutting the rest off saves nothing.
    constexpr std::size_t few = 8;
    Growth to_targets(adjacency.node_count());
    Cost best = Cost::blocked();
    std::size_t settled = 0;
    bool is_near = true;
    to_targets.grow(
        adjacency, costs, request.targets, [](std::uint32_t, Cost) { return true; },
        [&](std::uint32_t node, Cost cost) {
          for (const Seed& source : request.sources)
            if (source.node == node) best = std::min(best, cost + source.cost);
          is_near = ++settled <= adjacency.node_count() / few;
          return is_near && (best.is_blocked() || cost.primary() <= dearest_of(best, request));
        });
    if (is_near && best.is_blocked()) return {};
    if (is_near) return Region(adjacency, costs, request.sources, to_targets, dearest_of(best, request)).find(request);
  }
  auto best = RouteQuery().find(adjacency, costs, request.sources, request.targets);
  return best ? Finder(adjacency, costs, request).find(std::move(*best)) : std::vector<Alternative>{};
}

}  // namespace holdfast::search
