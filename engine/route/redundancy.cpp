// SPDX-License-Identifier: GPL-3.0-or-later
#include "holdfast/route/redundancy.h"

#include <algorithm>
#include <boost/graph/adjacency_list.hpp>
#include <boost/graph/edmonds_karp_max_flow.hpp>
#include <boost/pending/disjoint_sets.hpp>
#include <limits>
#include <numeric>
#include <optional>
#include <set>

#include "question_impl.h"

namespace holdfast::route {

using graph::HandrailGraph;
using model::RailId;

namespace {

using Traits = boost::adjacency_list_traits<boost::vecS, boost::vecS, boost::directedS>;
using Network = boost::adjacency_list<
    boost::vecS, boost::vecS, boost::directedS, boost::no_property,
    boost::property<boost::edge_capacity_t, int,
                    boost::property<boost::edge_residual_capacity_t, int,
                                    boost::property<boost::edge_reverse_t, Traits::edge_descriptor>>>>;
constexpr int unlimited = std::numeric_limits<int>::max() / 4;

/// Rails in pieces: grips that open moves along one rail join. Whoever holds a piece can get to each of its grips
/// without letting go of the rail.
class Pieces {
 public:
  Pieces(const HandrailGraph& graph, const CostTable& table) {
    const std::size_t n = graph.grips().size();
    std::vector<std::size_t> rank(n), parent(n);
    boost::disjoint_sets joined(rank.data(), parent.data());
    for (std::size_t g = 0; g < n; ++g) joined.make_set(g);
    const auto is_open = [&](std::size_t m) { return !table.by_move[m].is_blocked(); };
    const auto rail_of = [&](graph::GripId grip) { return graph.grip(grip).rail; };
    for (std::size_t m = 0; m < graph.moves().size(); ++m)
      if (const auto& move = graph.moves()[m]; is_open(m) && rail_of(move.a) == rail_of(move.b))
        joined.union_set(move.a.index(), move.b.index());
    std::vector<std::size_t> number(n, n);
    of_grip_.resize(n);
    for (std::size_t g = 0; g < n; ++g) {
      const std::size_t root = joined.find_set(g);
      if (number[root] == n) {
        number[root] = rails_.size();
        rails_.push_back(graph.grips()[g].rail);
      }
      of_grip_[g] = number[root];
    }
    beside_.resize(rails_.size());
    for (std::size_t m = 0; m < graph.moves().size(); ++m) {
      if (!is_open(m)) continue;
      const std::size_t a = of_grip_[graph.moves()[m].a.index()], b = of_grip_[graph.moves()[m].b.index()];
      if (a != b) beside_[a].push_back(b), beside_[b].push_back(a);
    }
    for (auto& list : beside_) {
      std::sort(list.begin(), list.end());
      list.erase(std::unique(list.begin(), list.end()), list.end());
    }
  }

  [[nodiscard]] std::size_t count() const { return rails_.size(); }
  [[nodiscard]] RailId rail(std::size_t piece) const { return rails_[piece]; }
  [[nodiscard]] const std::vector<std::size_t>& beside(std::size_t piece) const { return beside_[piece]; }
  [[nodiscard]] std::vector<std::size_t> of(const std::vector<search::Seed>& grips) const {
    std::set<std::size_t> pieces;
    for (const search::Seed& seed : grips) pieces.insert(of_grip_[seed.node]);
    return {pieces.begin(), pieces.end()};
  }

  /// Fewest pieces from one of `from` to one of `to` without these rails; nothing where there is no such path.
  [[nodiscard]] std::optional<std::vector<std::size_t>> find_path(const std::vector<std::size_t>& from,
                                                                  const std::vector<std::size_t>& to,
                                                                  const std::set<RailId>& without) const {
    constexpr std::size_t none = ~std::size_t{0};
    std::vector<std::size_t> before(count(), none), queue;
    std::vector<bool> is_goal(count());
    for (const std::size_t piece : to) is_goal[piece] = true;
    const auto visit = [&](std::size_t piece, std::size_t by) {
      if (before[piece] != none || without.count(rails_[piece]) > 0) return;
      before[piece] = by;
      queue.push_back(piece);
    };
    for (const std::size_t piece : from) visit(piece, piece);
    for (std::size_t i = 0; i < queue.size(); ++i) {
      std::size_t at = queue[i];
      if (is_goal[at]) {
        std::vector<std::size_t> path = {at};
        for (; before[at] != at; at = before[at]) path.push_back(before[at]);
        return path;
      }
      for (const std::size_t next : beside_[at]) visit(next, at);
    }
    return std::nullopt;
  }

 private:
  std::vector<std::size_t> of_grip_;
  std::vector<RailId> rails_;                     // by piece
  std::vector<std::vector<std::size_t>> beside_;  // pieces that an open move leads to
};

/// Maximum flow from the hatches: each piece carries one route.
class Flow {
 public:
  Flow(const Pieces& pieces, const std::vector<std::size_t>& hatches)
      : pieces_(pieces), network_(2 * pieces.count() + 2), source_(2 * pieces.count()), sink_(source_ + 1) {
    for (std::size_t p = 0; p < pieces.count(); ++p) {
      add(in(p), out(p), 1);
      for (const std::size_t next : pieces.beside(p)) add(out(p), in(next), unlimited);
      to_sink_.push_back(add(out(p), sink_, 0));
    }
    for (const std::size_t p : hatches) add(source_, in(p), unlimited);
  }

  /// Paths by piece, as many as the flow, and the pieces of a smallest cut.
  struct Result {
    std::vector<std::vector<std::size_t>> paths;
    std::vector<std::size_t> cut;
  };
  Result run(const std::vector<std::size_t>& goal) {
    const auto capacity = get(boost::edge_capacity, network_);
    for (const std::size_t p : goal) capacity[to_sink_[p]] = unlimited;
    const int flow = boost::edmonds_karp_max_flow(network_, source_, sink_);
    Result result;
    for (int i = 0; i < flow; ++i) result.paths.push_back(take_path());
    result.cut = find_cut();
    for (const std::size_t p : goal) capacity[to_sink_[p]] = 0;
    return result;
  }

 private:
  using Vertex = Traits::vertex_descriptor;
  using Edge = Traits::edge_descriptor;
  static Vertex in(std::size_t piece) { return 2 * piece; }
  static Vertex out(std::size_t piece) { return 2 * piece + 1; }

  Edge add(Vertex from, Vertex to, int capacity) {
    const Edge there = boost::add_edge(from, to, network_).first, back = boost::add_edge(to, from, network_).first;
    put(boost::edge_capacity, network_, there, capacity);
    put(boost::edge_capacity, network_, back, 0);
    put(boost::edge_reverse, network_, there, back);
    put(boost::edge_reverse, network_, back, there);
    return there;
  }

  [[nodiscard]] int flow_of(Edge edge) const {
    return get(boost::edge_capacity, network_, edge) - get(boost::edge_residual_capacity, network_, edge);
  }

  /// Follows one unit of flow from source to sink and takes it out.
  std::vector<std::size_t> take_path() {
    std::vector<std::size_t> path;
    for (Vertex at = source_; at != sink_;) {
      const auto [first, last] = boost::out_edges(at, network_);
      const auto next = std::find_if(first, last, [&](Edge edge) { return flow_of(edge) > 0; });
      model::ensure(next != last, "a unit of flow ends at the sink");
      const Edge edge = *next;
      put(boost::edge_residual_capacity, network_, edge, get(boost::edge_residual_capacity, network_, edge) + 1);
      taken_.push_back(edge);
      at = boost::target(edge, network_);
      if (at != sink_ && at % 2 == 1) path.push_back(at / 2);
    }
    return path;
  }

  /// Pieces that the source's side of the cut ends in.
  std::vector<std::size_t> find_cut() {
    for (const Edge edge : taken_)  // as the flow left it
      put(boost::edge_residual_capacity, network_, edge, get(boost::edge_residual_capacity, network_, edge) - 1);
    taken_.clear();
    std::vector<bool> is_reached(boost::num_vertices(network_));
    std::vector<Vertex> queue = {source_};
    is_reached[source_] = true;
    for (std::size_t i = 0; i < queue.size(); ++i)
      for (auto [edge, last] = boost::out_edges(queue[i], network_); edge != last; ++edge)
        if (const Vertex to = boost::target(*edge, network_);
            get(boost::edge_residual_capacity, network_, *edge) > 0 && !is_reached[to])
          is_reached[to] = true, queue.push_back(to);
    std::vector<std::size_t> cut;
    for (std::size_t p = 0; p < pieces_.count(); ++p)
      if (is_reached[in(p)] && !is_reached[out(p)]) cut.push_back(p);
    return cut;
  }

  const Pieces& pieces_;
  Network network_;
  const Vertex source_, sink_;
  std::vector<Edge> to_sink_;  // by piece
  std::vector<Edge> taken_;
};

/// Looks for fewer rails than are known to cut a place off: one rail of each path that is left must be among them.
class CutSearch {
 public:
  CutSearch(const Pieces& pieces, const std::vector<std::size_t>& from, const std::vector<std::size_t>& to)
      : pieces_(pieces), from_(from), to_(to) {}

  /// A set of at most `most` rails; nothing where there is none, or where the search is cut short.
  std::optional<std::set<RailId>> find(std::size_t most) {
    if (++looks_ > most_looks) return std::nullopt;
    const auto path = pieces_.find_path(from_, to_, closed_);
    if (!path) return closed_;
    if (most == 0) return std::nullopt;
    for (const std::size_t piece : *path) {
      const RailId rail = pieces_.rail(piece);
      if (!closed_.insert(rail).second) continue;
      if (auto found = find(most - 1)) return found;
      closed_.erase(rail);
    }
    return std::nullopt;
  }
  [[nodiscard]] bool is_cut_short() const { return looks_ > most_looks; }

 private:
  static constexpr std::size_t most_looks = 5'000;  // paths searched for; under a second on the demo yard
  const Pieces& pieces_;
  const std::vector<std::size_t>&from_, &to_;
  std::set<RailId> closed_;
  std::size_t looks_ = 0;
};

/// How many of the paths share no rail with those before, and how many more are found beside these.
std::size_t count_disjoint(const Pieces& pieces, const Flow::Result& flow, const std::vector<std::size_t>& from,
                           const std::vector<std::size_t>& to) {
  std::size_t count = 0;
  std::set<RailId> used;
  const auto take = [&](const std::vector<std::size_t>& path) {
    std::set<RailId> rails;
    for (const std::size_t piece : path) rails.insert(pieces.rail(piece));
    if (std::any_of(rails.begin(), rails.end(), [&](RailId rail) { return used.count(rail) > 0; })) return;
    used.merge(rails);
    ++count;
  };
  for (const auto& path : flow.paths) take(path);
  while (count < flow.paths.size()) {
    const auto more = pieces.find_path(from, to, used);
    if (!more) break;
    take(*more);
  }
  return count;
}

}  // namespace

std::vector<Redundancy> find_redundancy(const HandrailGraph& graph, const Profile& profile) {
  return detail::find_redundancy(graph, compute_costs(graph, profile, Objective::Time));
}

std::vector<Redundancy> detail::find_redundancy(const HandrailGraph& graph, const CostTable& table) {
  const Pieces pieces(graph, table);
  std::set<RailId> rails, split;
  for (std::size_t p = 0; p < pieces.count(); ++p)
    if (!rails.insert(pieces.rail(p)).second) split.insert(pieces.rail(p));
  const auto& structure = graph.structure();
  std::vector<search::Seed> hatch_grips;
  const auto places = detail::find_present_places(graph, table);
  const auto is_hatch = [&](const detail::PresentPlace& present) {
    return structure.places[present.place.index()].kind == model::PlaceKind::Hatch;
  };
  for (const auto& present : places)
    if (is_hatch(present)) hatch_grips.insert(hatch_grips.end(), present.grips.begin(), present.grips.end());
  const auto from = pieces.of(hatch_grips);
  Flow flow(pieces, from);
  std::vector<Redundancy> result;
  for (const auto& present : places) {
    if (is_hatch(present)) continue;
    const auto to = pieces.of(present.grips);
    const auto found = flow.run(to);
    if (found.paths.empty()) continue;
    Redundancy redundancy;
    redundancy.place = present.place;
    std::set<RailId> cut;
    for (const std::size_t piece : found.cut) cut.insert(pieces.rail(piece));
    if (!split.empty() && cut.size() > 1) {
      CutSearch smaller(pieces, from, to);
      for (std::size_t most = 1; most < cut.size(); ++most) {
        if (auto better = smaller.find(most)) {
          cut = std::move(*better);
          break;
        }
        if (smaller.is_cut_short()) break;
      }
      redundancy.is_smallest = !smaller.is_cut_short();
    }
    redundancy.smallest_cut.assign(cut.begin(), cut.end());
    redundancy.disjoint_at_most = std::min(found.paths.size(), cut.size());
    redundancy.disjoint_at_least = count_disjoint(pieces, found, from, to);
    result.push_back(std::move(redundancy));
  }
  return result;
}

}  // namespace holdfast::route
