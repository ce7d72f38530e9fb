// SPDX-License-Identifier: GPL-3.0-or-later
// Cables on the demo yard and on 2,000 ties over 200,000 triangles, the first time and with the spans kept.

#include <benchmark/benchmark.h>
#include <tbb/global_control.h>

#include <boost/graph/adjacency_list.hpp>
#include <boost/graph/dijkstra_shortest_paths.hpp>
#include <filesystem>
#include <memory>

#include "generated_yard.h"
#include "holdfast/cable/cable.h"
#include "holdfast/model/read.h"
#include "holdfast/route/costs.h"
#include "mesh_scene.h"

namespace {

using namespace holdfast;
using model::Vec3;
namespace fs = std::filesystem;

/// A structure of one mesh file of about 200,000 triangles with ties, and a cable from one end to the other.
struct Field {
  explicit Field(model::Structure built) : structure(std::move(built)) {
    for (const auto& part : structure.parts) structure.files.push_back({part.id, std::string(64, 'b')});
    scene = std::make_unique<geometry::Scene>(geometry::build_scene(structure, structure.default_configuration()));
    kit.design = model::default_design_values();
    kit.suits.push_back(model::default_suit());
    graph = std::make_unique<graph::HandrailGraph>(
        graph::build_handrail_graph(*scene, graph::body_of(kit.suits[0], kit.design)));
    auto cable = model::default_cable();
    cable.id = "cable";
    cable.diameter_m.value = 0.01, cable.length_m.value = 60;
    kit.cables.push_back(cable);
  }
  [[nodiscard]] cable::CableAnswer ask(const cable::SpanStore* store) const {
    const auto space = cable::prepare_cable(*graph, kit, kit.cables[0], store);
    return cable::find_cable_run(space, {.kit = kit, .suit = kit.suits[0]}, {.from = "plug-a", .to = "plug-b"});
  }
  model::Structure structure;
  model::Kit kit;
  std::unique_ptr<geometry::Scene> scene;
  std::unique_ptr<graph::HandrailGraph> graph;
};

/// One mesh part from triangles; rails and places are those of the builder.
model::Structure on_mesh(support::YardBuilder yard, const geometry::TriangleMesh& mesh, const char* name) {
  const auto path = fs::temp_directory_path() / name;
  support::write_obj(path, mesh);
  yard.structure.folder = path.parent_path().string();
  model::Part part;
  part.id = part.name = "mesh";
  part.shape = model::MeshFile{.file = path.filename().string()};
  yard.structure.parts = {part};
  for (auto& rail : yard.structure.rails) rail.part = model::PartId(0u), rail.use.cable = true;
  return std::move(yard.structure);
}

/// Two drums with about 2,000 ties along rails: nearly every span is straight.
Field& drums() {
  static Field field([] {
    support::YardBuilder yard;
    yard.structure = support::generated_yard(2000);
    yard.structure.zones.clear();
    yard.place("plug-a", {0.1, 0, -2}, 0.6, model::PlaceKind::Connector);
    yard.place("plug-b", {24.5, 0, -2}, 0.6, model::PlaceKind::Connector);
    const auto mesh = support::generated_mesh(yard.structure, 250, 200);
    return on_mesh(std::move(yard), mesh, "holdfast-bench-drums.obj");
  }());
  return field;
}

/// A row of 0.4 m blocks, each with eight single ties round it, on all sides of it: most spans go over edges.
Field& blocks() {
  static Field field([] {
    constexpr int count = 250, grid = 8;
    support::YardBuilder yard;
    geometry::TriangleMesh mesh;
    const auto on = yard.part("blocks", model::Box{});
    for (int i = 0; i < count; ++i) {
      const Vec3 middle(0.45 * i, 0, 0);
      for (int axis = 0; axis < 3; ++axis)
        for (const double side : {-1.0, 1.0}) {
          const int u = (axis + 1) % 3, v = (axis + 2) % 3;
          const auto base = static_cast<std::uint32_t>(mesh.vertices.size());
          for (int a = 0; a <= grid; ++a)
            for (int b = 0; b <= grid; ++b) {
              Vec3 p = middle;
              p[axis] += 0.2 * side, p[u] += 0.4 * a / grid - 0.2, p[v] += 0.4 * b / grid - 0.2;
              mesh.vertices.push_back(p);
            }
          for (int a = 0; a < grid; ++a)
            for (int b = 0; b < grid; ++b) {
              const auto at = [&](int x, int y) { return base + static_cast<std::uint32_t>(x * (grid + 1) + y); };
              std::array<std::uint32_t, 3> one = {at(a, b), at(a + 1, b), at(a + 1, b + 1)};
              std::array<std::uint32_t, 3> two = {at(a, b), at(a + 1, b + 1), at(a, b + 1)};
              if (side < 0) std::swap(one[1], one[2]), std::swap(two[1], two[2]);
              mesh.triangles.push_back(one), mesh.triangles.push_back(two);
            }
        }
      int k = 0;
      for (const Vec3& off : {Vec3(0, 0, -1), Vec3(0, 1, 0), Vec3(0, 0, 1), Vec3(0, -1, 0)})
        for (const double x : {-0.1, 0.1})
          yard.rail("tie-" + std::to_string(i) + "-" + std::to_string(k++), on, {middle + 0.25 * off + Vec3(x, 0, 0)},
                    {off});
    }
    yard.place("plug-a", {-0.15, 0, -0.2}, 0.6, model::PlaceKind::Connector);
    yard.place("plug-b", {0.45 * (count - 1) + 0.15, 0, 0.2}, 0.6, model::PlaceKind::Connector);
    return on_mesh(std::move(yard), mesh, "holdfast-bench-blocks.obj");
  }());
  return field;
}

void count(benchmark::State& state, const Field& field, const cable::CableAnswer& answer) {
  state.counters["ties"] = static_cast<double>(answer.ties_considered);
  state.counters["spans"] = static_cast<double>(answer.spans_considered);
  state.counters["primitives"] = static_cast<double>(field.scene->primitive_count());
  if (!answer.run()) state.SkipWithError("no run");
}

void run_cold(benchmark::State& state, Field& field) {
  for (auto _ : state) count(state, field, field.ask(nullptr));
}
void run_one_thread(benchmark::State& state, Field& field) {
  const tbb::global_control one(tbb::global_control::max_allowed_parallelism, 1);
  for (auto _ : state) count(state, field, field.ask(nullptr));
}
void run_kept(benchmark::State& state, Field& field) {
  const cable::SpanStore store{(fs::temp_directory_path() / "holdfast-bench-spans").string()};
  (void)field.ask(&store);
  for (auto _ : state) {
    const auto answer = field.ask(&store);
    if (answer.span_source != cable::SpanSource::Kept) state.SkipWithError("not kept");
    count(state, field, answer);
  }
  fs::remove_all(store.folder);
}

void BM_Cable_Drums(benchmark::State& state) { run_cold(state, drums()); }
void BM_Cable_Drums_OneThread(benchmark::State& state) { run_one_thread(state, drums()); }
void BM_Cable_Drums_Kept(benchmark::State& state) { run_kept(state, drums()); }
void BM_Cable_Blocks(benchmark::State& state) { run_cold(state, blocks()); }
void BM_Cable_Blocks_OneThread(benchmark::State& state) { run_one_thread(state, blocks()); }
void BM_Cable_Blocks_Kept(benchmark::State& state) { run_kept(state, blocks()); }

/// The whole command's work on the demo yard, files read and graph built included.
void BM_Cable_Yard(benchmark::State& state) {
  for (auto _ : state) {
    const auto model = model::read_model(std::string(HOLDFAST_SOURCE_DIR) + "/models/yard");
    const auto scene = geometry::build_scene(model.structure, model.structure.default_configuration());
    const auto& suit = model.kit.suits.front();
    const auto graph = graph::build_handrail_graph(scene, graph::body_of(suit, model.kit.design));
    const auto space = cable::prepare_cable(graph, model.kit, *model.kit.find_cable("power-long"), nullptr);
    benchmark::DoNotOptimize(
        cable::find_cable_run(space, {.kit = model.kit, .suit = suit}, {.from = "stores-plug", .to = "battery-plug"}));
  }
}

/// How spans grow with ties: one drum after another.
void BM_Spans_Drums(benchmark::State& state) {
  auto structure = support::generated_yard(static_cast<std::size_t>(state.range(0)));
  for (auto& rail : structure.rails) rail.use.cable = true;
  const auto scene = geometry::build_scene(structure, structure.default_configuration());
  const cable::SpanRules rules;
  const auto ties = cable::find_ties(scene, rules, 0.15);
  for (auto _ : state) benchmark::DoNotOptimize(cable::build_spans(scene, ties, rules));
  state.counters["ties"] = static_cast<double>(ties.size());
}

// ---- the search against Boost.Graph on the same spans, without bends ------------------------------------------------

struct SpanGraph {
  using Graph = boost::adjacency_list<boost::vecS, boost::vecS, boost::undirectedS, boost::no_property,
                                      boost::property<boost::edge_weight_t, std::int64_t>>;
  SpanGraph() : space(cable::prepare_cable(*drums().graph, drums().kit, drums().kit.cables[0], nullptr)) {
    problem.tie_count = space.ties.size();
    problem.spans = space.fitted;
    for (const auto& span : space.fitted) problem.length.push_back(route::cost_of_metres(span.length_m));
    problem.is_open.assign(space.fitted.size(), true);
    problem.is_tie_open.assign(space.ties.size(), true);
    for (std::uint32_t t = 0; t < space.ties.size(); ++t) {
      if (space.ties[t].id == "plug-a") problem.from = t;
      if (space.ties[t].id == "plug-b") problem.to = t;
    }
    graph = Graph(space.ties.size());
    for (std::size_t s = 0; s < space.fitted.size(); ++s)
      boost::add_edge(space.fitted[s].a, space.fitted[s].b, problem.length[s], graph);
  }
  std::int64_t boost_cost() {
    std::vector<std::int64_t> distance(boost::num_vertices(graph));
    boost::dijkstra_shortest_paths(graph, problem.from, boost::distance_map(distance.data()));
    return distance[problem.to];
  }
  cable::CableSpace space;
  cable::RunProblem problem;
  Graph graph;
};
SpanGraph& span_graph() {
  static SpanGraph made;
  return made;
}

void BM_Run_Boost(benchmark::State& state) {
  for (auto _ : state) benchmark::DoNotOptimize(span_graph().boost_cost());
}
void BM_Run_Bends(benchmark::State& state) {
  auto& g = span_graph();
  g.problem.bend_radius_m = 0;
  const auto plain = cable::find_run(g.problem);
  if (!plain.run || plain.run->cost.primary() != g.boost_cost()) return state.SkipWithError("not what Boost finds");
  g.problem.bend_radius_m = 0.1;
  for (auto _ : state) benchmark::DoNotOptimize(cable::find_run(g.problem));
}

BENCHMARK(BM_Cable_Yard)->Unit(benchmark::kMillisecond);
BENCHMARK(BM_Cable_Drums)->Unit(benchmark::kMillisecond)->Iterations(1)->UseRealTime();
BENCHMARK(BM_Cable_Drums_OneThread)->Unit(benchmark::kMillisecond)->Iterations(1)->UseRealTime();
BENCHMARK(BM_Cable_Drums_Kept)->Unit(benchmark::kMillisecond)->UseRealTime();
BENCHMARK(BM_Cable_Blocks)->Unit(benchmark::kMillisecond)->Iterations(1)->UseRealTime();
BENCHMARK(BM_Cable_Blocks_OneThread)->Unit(benchmark::kMillisecond)->Iterations(1)->UseRealTime();
BENCHMARK(BM_Cable_Blocks_Kept)->Unit(benchmark::kMillisecond)->UseRealTime();
BENCHMARK(BM_Spans_Drums)
    ->Arg(2000)
    ->Arg(8000)
    ->Arg(32000)
    ->Unit(benchmark::kMillisecond)
    ->Iterations(1)
    ->UseRealTime();
BENCHMARK(BM_Run_Boost)->Unit(benchmark::kMillisecond);
BENCHMARK(BM_Run_Bends)->Unit(benchmark::kMillisecond);

}  // namespace

BENCHMARK_MAIN();
