// SPDX-License-Identifier: GPL-3.0-or-later
// Route queries against plain Boost.Graph Dijkstra in the same process, on the same pairs. Equality of answers is
// checked first.

#include <benchmark/benchmark.h>

#include <cstdlib>
#include <map>
#include <memory>

#include "holdfast/search/hierarchy.h"
#include "holdfast/search/landmarks.h"
#include "holdfast/search/shortest.h"
#include "synthetic_graph.h"

namespace {

using namespace holdfast;
using search::Cost;
using search::Seed;

struct Setup {
  support::SyntheticGraph graph;
  graph::Adjacency adjacency;
  std::vector<Cost> costs;
  std::unique_ptr<search::Landmarks> landmarks;
  std::unique_ptr<search::HierarchyMetric> metric;
  std::vector<std::vector<std::uint32_t>> closed;  ///< moves of a rail each
  std::unique_ptr<support::BoostDijkstra> boost_graph;
  std::vector<std::pair<std::uint32_t, std::uint32_t>> far, near;
};

Setup& setup_of(std::size_t size) {
  static std::map<std::size_t, std::unique_ptr<Setup>> setups;
  auto& slot = setups[size];
  if (slot) return *slot;
  slot = std::make_unique<Setup>();
  auto& s = *slot;
  s.graph = support::synthetic_graph(size, 1);
  std::vector<std::pair<std::uint32_t, std::uint32_t>> ends;
  for (const auto& e : s.graph.edges) ends.emplace_back(e.a, e.b), s.costs.push_back(Cost::of(e.weight, 1, 1));
  s.adjacency = graph::build_adjacency(s.graph.nodes, ends);
  s.landmarks = std::make_unique<search::Landmarks>(s.adjacency, s.costs);
  s.metric =
      std::make_unique<search::HierarchyMetric>(std::make_shared<const search::HierarchyOrder>(s.adjacency), s.costs);
  s.boost_graph = std::make_unique<support::BoostDijkstra>(s.graph.nodes, s.graph.edges);
  std::mt19937_64 random(2);
  search::RouteQuery query;
  search::HierarchyQuery in_hierarchy;
  const auto pick = [&] { return static_cast<std::uint32_t>(random() % s.graph.nodes); };
  while (s.far.size() < 40 || s.near.size() < 40) {
    const bool is_far = s.far.size() < 40;
    const auto a = pick();
    const auto b =
        is_far ? pick() : static_cast<std::uint32_t>((a + 20 + random() % 80) % s.graph.nodes);  // a few rails on
    const Seed from{a, {}}, to{b, {}};
    const auto plain = query.find(s.adjacency, s.costs, {&from, 1}, {&to, 1});
    const auto bounded = query.find(s.adjacency, s.costs, {&from, 1}, {&to, 1}, s.landmarks.get());
    const auto theirs = s.boost_graph->to(a, b);
    if (!plain) continue;
    in_hierarchy.aim(*s.metric, {&to, 1});
    const auto ours = in_hierarchy.find(s.adjacency, s.costs, {&from, 1});
    if (plain->cost.primary() != theirs || bounded->nodes != plain->nodes || ours->nodes != plain->nodes) std::abort();
    (is_far ? s.far : s.near).emplace_back(a, b);
  }
  for (int i = 0; i < 40; ++i) {
    const auto rail = s.graph.rail_of_node[random() % s.graph.nodes];
    auto& moves = s.closed.emplace_back();
    for (std::uint32_t m = 0; m < ends.size(); ++m)
      if (s.graph.rail_of_node[ends[m].first] == rail || s.graph.rail_of_node[ends[m].second] == rail)
        moves.push_back(m);
  }
  return s;
}

enum class Engine { Boost, Plain, Bounded, Hierarchy };

void run(benchmark::State& state, Engine engine, bool is_far) {
  auto& s = setup_of(static_cast<std::size_t>(state.range(0)));
  const auto& pairs = is_far ? s.far : s.near;
  search::RouteQuery query;
  search::HierarchyQuery in_hierarchy;
  std::size_t i = 0;
  for (auto _ : state) {
    const auto [a, b] = pairs[i++ % pairs.size()];
    const Seed from{a, {}}, to{b, {}};
    if (engine == Engine::Boost) {
      benchmark::DoNotOptimize(s.boost_graph->to(a, b));
    } else if (engine == Engine::Hierarchy) {
      in_hierarchy.aim(*s.metric, {&to, 1});
      benchmark::DoNotOptimize(in_hierarchy.find(s.adjacency, s.costs, {&from, 1}));
    } else
      benchmark::DoNotOptimize(query.find(s.adjacency, s.costs, {&from, 1}, {&to, 1},
                                          engine == Engine::Bounded ? s.landmarks.get() : nullptr));
  }
  state.counters["nodes"] = static_cast<double>(s.graph.nodes);
}

void BM_Query_Boost_Far(benchmark::State& state) { run(state, Engine::Boost, true); }
void BM_Query_Plain_Far(benchmark::State& state) { run(state, Engine::Plain, true); }
void BM_Query_Landmarks_Far(benchmark::State& state) { run(state, Engine::Bounded, true); }
void BM_Query_Hierarchy_Far(benchmark::State& state) { run(state, Engine::Hierarchy, true); }
void BM_Query_Hierarchy_Near(benchmark::State& state) { run(state, Engine::Hierarchy, false); }
/// A rail is closed, the query asked, and the rail opened again.
void BM_Query_Hierarchy_Closed(benchmark::State& state) {
  auto& s = setup_of(static_cast<std::size_t>(state.range(0)));
  search::HierarchyQuery query;
  auto costs = s.costs;
  std::size_t i = 0;
  for (auto _ : state) {
    const auto [a, b] = s.far[i % s.far.size()];
    const auto& moves = s.closed[i++ % s.closed.size()];
    for (const auto move : moves) costs[move] = Cost::blocked();
    const auto changes = s.metric->raise(costs, moves, 1'000'000);
    const Seed from{a, {}}, to{b, {}};
    query.aim(*s.metric, {&to, 1});
    benchmark::DoNotOptimize(query.find(s.adjacency, costs, {&from, 1}));
    s.metric->restore(*changes);
    for (const auto move : moves) costs[move] = s.costs[move];
  }
}
void BM_Query_Boost_Near(benchmark::State& state) { run(state, Engine::Boost, false); }
void BM_Query_Plain_Near(benchmark::State& state) { run(state, Engine::Plain, false); }
void BM_Query_Landmarks_Near(benchmark::State& state) { run(state, Engine::Bounded, false); }

void BM_Tree_Boost(benchmark::State& state) {
  auto& s = setup_of(static_cast<std::size_t>(state.range(0)));
  for (auto _ : state) benchmark::DoNotOptimize(s.boost_graph->all(s.far[0].first));
}
void BM_Tree_Ours(benchmark::State& state) {
  auto& s = setup_of(static_cast<std::size_t>(state.range(0)));
  search::ShortestTree tree;
  const Seed seed{s.far[0].first, {}};
  for (auto _ : state) {
    tree.grow(s.adjacency, s.costs, {&seed, 1});
    benchmark::DoNotOptimize(tree.costs());
  }
}
void BM_Tree_Sweep(benchmark::State& state) {
  auto& s = setup_of(static_cast<std::size_t>(state.range(0)));
  std::vector<Cost> costs;
  const Seed seed{s.far[0].first, {}};
  for (auto _ : state) {
    search::HierarchyQuery::sweep(*s.metric, {&seed, 1}, costs);
    benchmark::DoNotOptimize(costs.data());
  }
}
void BM_Hierarchy_Order(benchmark::State& state) {
  auto& s = setup_of(static_cast<std::size_t>(state.range(0)));
  std::size_t arcs = 0;
  for (auto _ : state) arcs = search::HierarchyOrder(s.adjacency).arc_count();
  state.counters["arcs"] = static_cast<double>(arcs);
  state.counters["moves"] = static_cast<double>(s.costs.size());
}
void BM_Hierarchy_Metric(benchmark::State& state) {
  auto& s = setup_of(static_cast<std::size_t>(state.range(0)));
  for (auto _ : state) s.metric->customize(s.costs);
}
void BM_Landmarks_Build(benchmark::State& state) {
  auto& s = setup_of(static_cast<std::size_t>(state.range(0)));
  for (auto _ : state) benchmark::DoNotOptimize(search::Landmarks(s.adjacency, s.costs));
}

#define SIZES ->Arg(10'000)->Arg(100'000)->Unit(benchmark::kMicrosecond)
BENCHMARK(BM_Query_Boost_Far) SIZES->Arg(1'000'000);
BENCHMARK(BM_Query_Plain_Far) SIZES;
BENCHMARK(BM_Query_Landmarks_Far) SIZES;
BENCHMARK(BM_Query_Boost_Near) SIZES->Arg(1'000'000);
BENCHMARK(BM_Query_Plain_Near) SIZES;
BENCHMARK(BM_Query_Landmarks_Near) SIZES;
BENCHMARK(BM_Query_Hierarchy_Far) SIZES->Arg(1'000'000);
BENCHMARK(BM_Query_Hierarchy_Near) SIZES->Arg(1'000'000);
BENCHMARK(BM_Query_Hierarchy_Closed) SIZES->Arg(1'000'000);
BENCHMARK(BM_Tree_Boost) SIZES;
BENCHMARK(BM_Tree_Ours) SIZES;
BENCHMARK(BM_Tree_Sweep) SIZES;
BENCHMARK(BM_Hierarchy_Order) SIZES;
BENCHMARK(BM_Hierarchy_Metric) SIZES;
BENCHMARK(BM_Landmarks_Build) SIZES;

}  // namespace

BENCHMARK_MAIN();
