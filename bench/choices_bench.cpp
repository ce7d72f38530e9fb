// SPDX-License-Identifier: GPL-3.0-or-later
// Loads, comparisons, alternatives and trade-offs, each against plain queries or Boost.Graph in the same process.

#include <benchmark/benchmark.h>

#include <boost/graph/adjacency_list.hpp>
#include <boost/graph/r_c_shortest_paths.hpp>
#include <cstdlib>
#include <memory>
#include <set>

#include "generated_yard.h"
#include "holdfast/model/read.h"
#include "holdfast/route/choices.h"
#include "holdfast/route/home.h"
#include "holdfast/route/prepared.h"
#include "holdfast/search/alternatives.h"
#include "holdfast/search/labels.h"
#include "reference_dijkstra.h"

namespace {

using namespace holdfast;
using search::Cost;
using search::Seed;

// ---- loads on 100,000 grips -----------------------------------------------------------------------------------------

struct Field {
  static model::Structure structure() {
    auto made = support::generated_yard(100'000);
    for (int p = 0; p < 50; ++p) {  // places on the zenith lines of drums all over the field
      model::Place place;
      place.id = place.name = "place-" + std::to_string(p);
      place.at = {(p % 10) * 13 + 3.0, (p / 5) * 8.0, -2.07};
      made.places.push_back(std::move(place));
    }
    return made;
  }
  Field() : world(structure()) {
    box.id = "box", box.size_m = {0.4, 0.3, 0.5}, box.offset_m = {0, 0.5, 0};
    box.how = model::CarriedHow::Beside, box.hands = 0, box.mass_kg.value = 20;
    bag.id = "bag", bag.size_m = {0.8, 0.5, 0.5};
    bag.how = model::CarriedHow::InTow, bag.tow_length_m = 0.9, bag.mass_kg.value = 60;
  }
  [[nodiscard]] route::Profile profile(const model::Load* load) const {
    route::Profile p{.kit = world.kit, .suit = world.kit.suits.front()};
    if (load) p.loads = {load};
    return p;
  }
  support::World world;
  model::Load box, bag;
  route::RouteRequest request{.from = "start", .to = "63.1,40,-2.07"};
};

Field& field() {
  static const auto made = std::make_unique<Field>();
  return *made;
}

void run_loads(benchmark::State& state, const model::Load* load, bool is_warm) {
  auto& f = field();
  const auto profile = f.profile(load);
  route::RouteRequest request = f.request;
  std::optional<route::LoadCache> cache;
  if (load && is_warm) {
    cache.emplace(f.world.graph, profile.loads);
    request.load_cache = &*cache;
    if (!route::find_route(f.world.graph, profile, request).route()) std::abort();
  }
  for (auto _ : state) {
    const auto answer = route::find_route(f.world.graph, profile, request);
    if (!answer.route()) std::abort();
    benchmark::DoNotOptimize(answer);
  }
  state.counters["grips"] = static_cast<double>(f.world.graph.grips().size());
}
route::PreparedProfile& prepared_field() {
  static route::PreparedProfile prepared(field().world.graph, field().profile(nullptr));
  return prepared;
}
/// The second question on a prepared profile, with a rail closed that no other question closes.
void run_prepared(benchmark::State& state, bool is_described) {
  auto& f = field();
  auto& prepared = prepared_field();
  std::uint32_t rail = 0;
  for (auto _ : state) {
    const route::Closures closures{.rails = {model::RailId(rail++ % f.world.structure.rails.size())}};
    if (is_described)
      benchmark::DoNotOptimize(prepared.route(f.request, closures));
    else
      benchmark::DoNotOptimize(prepared.find(f.request, closures));
  }
}
void BM_Route_Prepared_Found(benchmark::State& state) { run_prepared(state, false); }
void BM_Route_Prepared_Described(benchmark::State& state) { run_prepared(state, true); }
void BM_Route_Plain(benchmark::State& state) { run_loads(state, nullptr, false); }
void BM_Route_Beside_Cold(benchmark::State& state) { run_loads(state, &field().box, false); }
void BM_Route_Beside_Warm(benchmark::State& state) { run_loads(state, &field().box, true); }
void BM_Route_InTow_Cold(benchmark::State& state) { run_loads(state, &field().bag, false); }
void BM_Route_InTow_Warm(benchmark::State& state) { run_loads(state, &field().bag, true); }

// ---- alternatives on 100,000 grips ----------------------------------------------------------------------------------

struct Ends {
  std::vector<Seed> from, to;
  route::CostTable table;
  std::vector<std::uint32_t> rails;
  std::vector<std::int64_t> lengths;
};
Ends& ends() {
  static const auto made = [] {
    auto e = std::make_unique<Ends>();
    const auto& graph = field().world.graph;
    e->table = route::compute_costs(graph, field().profile(nullptr), route::Objective::Time);
    for (const auto g : graph.find_grips_within({0.1, 0, -2.07}, 0.3)) e->from.push_back({g.value, {}});
    for (const auto g : graph.find_grips_within({63.1, 40, -2.07}, 0.8)) e->to.push_back({g.value, {}});
    for (const auto& grip : graph.grips()) e->rails.push_back(grip.rail.value);
    for (const auto& move : graph.moves()) e->lengths.push_back(route::cost_of_metres(move.way_m));
    return e;
  }();
  return *made;
}
/// Ends some rails apart: along one drum.
std::vector<Seed> near_goal() {
  std::vector<Seed> goal;
  for (const auto g : field().world.graph.find_grips_within({11.0, 0, -2.07}, 0.3)) goal.push_back({g.value, {}});
  return goal;
}
void BM_Query_Plain_Near(benchmark::State& state) {
  search::RouteQuery query;
  const auto goal = near_goal();
  (void)ends();
  for (auto _ : state)
    benchmark::DoNotOptimize(query.find(field().world.graph.adjacency(), ends().table.by_move, ends().from, goal));
}
void BM_Query_Plain(benchmark::State& state) {
  search::RouteQuery query;
  (void)ends();
  for (auto _ : state)
    benchmark::DoNotOptimize(query.find(field().world.graph.adjacency(), ends().table.by_move, ends().from, ends().to));
}
void run_alternatives(benchmark::State& state, const std::vector<Seed>& goal) {
  std::size_t found = 0;
  for (auto _ : state) {
    const auto ways = search::find_alternatives(field().world.graph.adjacency(), ends().table.by_move,
                                                {.sources = ends().from,
                                                 .targets = goal,
                                                 .most = 5,
                                                 .group_of_node = ends().rails,
                                                 .length_of_move = ends().lengths});
    found = ways.size();
  }
  state.counters["ways"] = static_cast<double>(found);
}
void BM_Alternatives_Five(benchmark::State& state) { run_alternatives(state, ends().to); }
void BM_Alternatives_Five_Near(benchmark::State& state) { run_alternatives(state, near_goal()); }

// ---- home and matrix on 100,000 grips -------------------------------------------------------------------------------

support::BoostDijkstra& boost_field() {
  static const auto made = [] {
    std::vector<support::WeightedEdge> edges;
    for (std::size_t m = 0; m < field().world.graph.moves().size(); ++m)
      if (!ends().table.by_move[m].is_blocked()) {
        const auto& move = field().world.graph.moves()[m];
        edges.push_back({move.a.value, move.b.value, ends().table.by_move[m].primary()});
      }
    return std::make_unique<support::BoostDijkstra>(field().world.graph.grips().size(), edges);
  }();
  return *made;
}
void BM_Home(benchmark::State& state) {
  for (auto _ : state)
    benchmark::DoNotOptimize(
        route::compute_home(field().world.graph, field().profile(nullptr), {.hatches = {"start"}}));
}
/// The same and the matrix on a prepared profile; equal first.
void BM_Home_Prepared(benchmark::State& state) {
  auto& prepared = prepared_field();
  const route::HomeRequest request{.hatches = {"start"}};
  const auto plain = route::compute_home(field().world.graph, field().profile(nullptr), request);
  if (prepared.home(request).time_by_grip_s != plain.time_by_grip_s) std::abort();
  for (auto _ : state) benchmark::DoNotOptimize(prepared.home(request));
}
void BM_Matrix_Prepared(benchmark::State& state) {
  auto& prepared = prepared_field();
  const auto plain = route::compute_matrix(field().world.graph, field().profile(nullptr), route::Objective::Time);
  const auto ours = prepared.matrix();
  for (std::size_t i = 0; i < plain.cells.size(); ++i)
    if (plain.cells[i].has_value() != ours.cells[i].has_value() ||
        (plain.cells[i] &&
         (plain.cells[i]->time_s != ours.cells[i]->time_s || plain.cells[i]->distance_m != ours.cells[i]->distance_m)))
      std::abort();
  for (auto _ : state) benchmark::DoNotOptimize(prepared.matrix());
}
void BM_Dijkstra_Boost(benchmark::State& state) {
  auto& boost = boost_field();  // made before the clock runs
  for (auto _ : state) benchmark::DoNotOptimize(boost.all(ends().from[0].node));
}
/// The question of BM_Route_Prepared_Found between its first grips, with early exit.
void BM_Route_Boost(benchmark::State& state) {
  auto& boost = boost_field();
  for (auto _ : state) benchmark::DoNotOptimize(boost.to(ends().from[0].node, ends().to[0].node));
}
void BM_Matrix_Ours(benchmark::State& state) {
  for (auto _ : state)
    benchmark::DoNotOptimize(
        route::compute_matrix(field().world.graph, field().profile(nullptr), route::Objective::Time));
  state.counters["places"] = static_cast<double>(field().world.structure.places.size());
}
void BM_Matrix_Boost(benchmark::State& state) {
  std::vector<std::uint32_t> starts;
  for (const auto& place : field().world.structure.places)
    starts.push_back(field().world.graph.find_nearest_grip(place.at)->value);
  auto& boost = boost_field();
  for (auto _ : state)
    for (const auto start : starts) benchmark::DoNotOptimize(boost.all(start));
}

// ---- the demo yard --------------------------------------------------------------------------------------------------

struct Demo {
  Demo()
      : model(model::read_model(HOLDFAST_SOURCE_DIR "/models/yard")),
        scene(geometry::build_scene(model.structure, model.structure.default_configuration())),
        graph(graph::build_handrail_graph(scene, graph::body_of(model.kit.suits.front(), model.kit.design))) {}
  [[nodiscard]] route::Profile profile() const { return {.kit = model.kit, .suit = model.kit.suits.front()}; }
  const model::Model model;
  const geometry::Scene scene;
  const graph::HandrailGraph graph;
};
Demo& demo() {
  static const auto made = std::make_unique<Demo>();
  return *made;
}
void BM_Compare_SixLoads(benchmark::State& state) {
  std::vector<route::Loads> loads;
  for (const char* id : {"tool-bag", "bulky-bag", "crate", "pole", "cable-spool", "foot-restraint"})
    loads.push_back({demo().model.kit.find_load(id)});
  for (auto _ : state)
    benchmark::DoNotOptimize(
        route::compare_loads(demo().graph, demo().profile(), {.from = "lock-hatch", .to = "battery-bay"}, loads));
}
void BM_TradeOffs(benchmark::State& state) {
  std::size_t ways = 0;
  for (auto _ : state)
    ways =
        route::find_trade_offs(demo().graph, demo().profile(), {.from = "lock-hatch", .to = "battery-bay"}).ways.size();
  state.counters["ways"] = static_cast<double>(ways);
}

/// The same criteria (time, moves) by our labels and by Boost.Graph's, over a short way: Boost's has no bounds and does
/// not come to an end on a long one.
struct Short {
  std::vector<Seed> from, to;
  std::vector<Cost> time;
  search::Resource moves;
};
Short& near() {
  static const auto made = [] {
    auto s = std::make_unique<Short>();
    const auto table = route::compute_costs(demo().graph, demo().profile(), route::Objective::Time);
    const auto grips = demo().graph.find_grips_within({-3.6, 0, -1.25}, 0.3);
    const auto goals = demo().graph.find_grips_within({-0.6, 1.75, 0}, 0.5);
    if (grips.empty() || goals.empty()) std::abort();
    s->from = {{grips.front().value, {}}}, s->to = {{goals.front().value, {}}};
    s->time = table.by_move;
    s->moves.limit = std::numeric_limits<std::int64_t>::max();
    s->moves.by_move.assign(s->time.size(), 1);
    return s;
  }();
  return *made;
}
search::ParetoSet ours() {
  return search::find_pareto_paths(demo().graph.adjacency(), near().time,
                                   {.stops = {near().from, near().to}, .criteria = {near().moves}});
}
struct Arc {
  int number;
  std::int64_t time;
};
struct Node {
  int number;
};
using BoostGraph = boost::adjacency_list<boost::vecS, boost::vecS, boost::directedS, Node, Arc>;
struct Used {
  std::int64_t time = 0, moves = 0;
  bool operator==(const Used& o) const { return time == o.time && moves == o.moves; }
  bool operator<(const Used& o) const { return std::tie(time, moves) < std::tie(o.time, o.moves); }
};
const BoostGraph& boost_demo() {
  static const auto made = [] {
    BoostGraph graph;
    int number = 0;
    for (std::size_t n = 0; n < demo().graph.grips().size(); ++n) boost::add_vertex(Node{static_cast<int>(n)}, graph);
    for (std::size_t m = 0; m < demo().graph.moves().size(); ++m) {
      if (near().time[m].is_blocked()) continue;
      const auto& move = demo().graph.moves()[m];
      for (const auto& [a, b] : {std::pair(move.a, move.b), {move.b, move.a}})
        boost::add_edge(a.value, b.value, Arc{number++, near().time[m].primary()}, graph);
    }
    return graph;
  }();
  return made;
}
std::set<std::pair<std::int64_t, std::int64_t>> theirs() {
  std::vector<std::vector<BoostGraph::edge_descriptor>> ways;
  std::vector<Used> used;
  boost::r_c_shortest_paths(
      boost_demo(), boost::get(&Node::number, boost_demo()), boost::get(&Arc::number, boost_demo()),
      near().from[0].node, near().to[0].node, ways, used, Used{},
      [](const BoostGraph& g, Used& next, const Used& last, BoostGraph::edge_descriptor arc) {
        next = {last.time + g[arc].time, last.moves + 1};
        return true;
      },
      [](const Used& a, const Used& b) { return a.time <= b.time && a.moves <= b.moves; },
      std::allocator<boost::r_c_shortest_paths_label<BoostGraph, Used>>(), boost::default_r_c_shortest_paths_visitor());
  std::set<std::pair<std::int64_t, std::int64_t>> points;
  for (const auto& u : used) points.insert({u.time, u.moves});
  return points;
}
void BM_Pareto_Ours(benchmark::State& state) {
  std::set<std::pair<std::int64_t, std::int64_t>> points;
  for (const auto& way : ours().ways) points.insert({way.way.cost.primary(), way.used[0]});
  if (points != theirs()) std::abort();
  for (auto _ : state) benchmark::DoNotOptimize(ours());
  state.counters["ways"] = static_cast<double>(points.size());
}
void BM_Pareto_Boost(benchmark::State& state) {
  for (auto _ : state) benchmark::DoNotOptimize(theirs());
}

BENCHMARK(BM_Route_Plain)->Unit(benchmark::kMillisecond);
BENCHMARK(BM_Route_Prepared_Found)->Unit(benchmark::kMillisecond);
BENCHMARK(BM_Route_Prepared_Described)->Unit(benchmark::kMillisecond);
BENCHMARK(BM_Route_Beside_Cold)->Unit(benchmark::kMillisecond);
BENCHMARK(BM_Route_Beside_Warm)->Unit(benchmark::kMillisecond);
BENCHMARK(BM_Route_InTow_Cold)->Unit(benchmark::kMillisecond);
BENCHMARK(BM_Route_InTow_Warm)->Unit(benchmark::kMillisecond);
BENCHMARK(BM_Query_Plain)->Unit(benchmark::kMillisecond);
BENCHMARK(BM_Alternatives_Five)->Unit(benchmark::kMillisecond);
BENCHMARK(BM_Query_Plain_Near)->Unit(benchmark::kMillisecond);
BENCHMARK(BM_Alternatives_Five_Near)->Unit(benchmark::kMillisecond);
BENCHMARK(BM_Home_Prepared)->Unit(benchmark::kMillisecond)->UseRealTime();
BENCHMARK(BM_Matrix_Prepared)->Unit(benchmark::kMillisecond)->UseRealTime();
BENCHMARK(BM_Home)->Unit(benchmark::kMillisecond)->UseRealTime();
BENCHMARK(BM_Route_Boost)->Unit(benchmark::kMillisecond);
BENCHMARK(BM_Dijkstra_Boost)->Unit(benchmark::kMillisecond)->UseRealTime();
BENCHMARK(BM_Matrix_Ours)->Unit(benchmark::kMillisecond)->UseRealTime();
BENCHMARK(BM_Matrix_Boost)->Unit(benchmark::kMillisecond)->UseRealTime();
BENCHMARK(BM_Compare_SixLoads)->Unit(benchmark::kMillisecond)->UseRealTime();
BENCHMARK(BM_TradeOffs)->Unit(benchmark::kMillisecond)->UseRealTime();
BENCHMARK(BM_Pareto_Ours)->Unit(benchmark::kMillisecond);
BENCHMARK(BM_Pareto_Boost)->Unit(benchmark::kMillisecond);

}  // namespace

BENCHMARK_MAIN();
