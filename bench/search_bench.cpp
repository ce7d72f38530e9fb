// SPDX-License-Identifier: GPL-3.0-or-later
// Route queries against plain Boost.Graph Dijkstra in the same process, on the same pairs. Equality of answers is
// checked first.

#include <benchmark/benchmark.h>

#include <cstdlib>
#include <map>
#include <memory>

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
  s.boost_graph = std::make_unique<support::BoostDijkstra>(s.graph.nodes, s.graph.edges);
  std::mt19937_64 random(2);
  search::RouteQuery query;
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
    if (plain->cost.primary() != theirs || bounded->nodes != plain->nodes) std::abort();
    (is_far ? s.far : s.near).emplace_back(a, b);
  }
  return s;
}

enum class Engine { Boost, Plain, Bounded };

void run(benchmark::State& state, Engine engine, bool is_far) {
  auto& s = setup_of(static_cast<std::size_t>(state.range(0)));
  const auto& pairs = is_far ? s.far : s.near;
  search::RouteQuery query;
  std::size_t i = 0;
  for (auto _ : state) {
    const auto [a, b] = pairs[i++ % pairs.size()];
    const Seed from{a, {}}, to{b, {}};
    if (engine == Engine::Boost)
      benchmark::DoNotOptimize(s.boost_graph->to(a, b));
    else
      benchmark::DoNotOptimize(query.find(s.adjacency, s.costs, {&from, 1}, {&to, 1},
                                          engine == Engine::Bounded ? s.landmarks.get() : nullptr));
  }
  state.counters["nodes"] = static_cast<double>(s.graph.nodes);
}

void BM_Query_Boost_Far(benchmark::State& state) { run(state, Engine::Boost, true); }
void BM_Query_Plain_Far(benchmark::State& state) { run(state, Engine::Plain, true); }
void BM_Query_Landmarks_Far(benchmark::State& state) { run(state, Engine::Bounded, true); }
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
void BM_Landmarks_Build(benchmark::State& state) {
  auto& s = setup_of(static_cast<std::size_t>(state.range(0)));
  for (auto _ : state) benchmark::DoNotOptimize(search::Landmarks(s.adjacency, s.costs));
}

#define SIZES ->Arg(10'000)->Arg(100'000)->Unit(benchmark::kMicrosecond)
BENCHMARK(BM_Query_Boost_Far) SIZES;
BENCHMARK(BM_Query_Plain_Far) SIZES;
BENCHMARK(BM_Query_Landmarks_Far) SIZES;
BENCHMARK(BM_Query_Boost_Near) SIZES;
BENCHMARK(BM_Query_Plain_Near) SIZES;
BENCHMARK(BM_Query_Landmarks_Near) SIZES;
BENCHMARK(BM_Tree_Boost) SIZES;
BENCHMARK(BM_Tree_Ours) SIZES;
BENCHMARK(BM_Landmarks_Build) SIZES;

}  // namespace

BENCHMARK_MAIN();
