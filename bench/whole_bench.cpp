// SPDX-License-Identifier: GPL-3.0-or-later
// A route from a structure's triangles, whole: scene, graph and search, against what one would write without this
// engine: every pair of grips tested for reach, CGAL's tree asked for the distance at each centimetre of a move, and
// Boost.Graph Dijkstra. Both find the same pairs within reach first.

#include <benchmark/benchmark.h>

#include <cmath>
#include <cstdlib>

#include "generated_yard.h"
#include "holdfast/route/route.h"
#include "mesh_scene.h"
#include "reference_dijkstra.h"
#include "second_opinion.h"

namespace {

using namespace holdfast;

/// Drums of about 20,000 triangles with 10,000 grips on them.
struct Yard {
  Yard() : structure(support::generated_yard(10'000)) {
    constexpr int slices = 10;
    const int sides = static_cast<int>(20'000 / (structure.parts.size() * (2 * slices + 2)));
    mesh = support::generated_mesh(structure, sides, slices);
    const auto path = std::filesystem::temp_directory_path() / "holdfast-bench-whole.obj";
    support::write_obj(path, mesh);
    structure.folder = path.parent_path().string();
    structure.parts[0].shape = model::MeshFile{.file = path.filename().string()};
    for (auto& rail : structure.rails) rail.part = model::PartId(0);
    structure.parts.resize(1);
    kit.suits.push_back(model::default_suit());
  }
  model::Structure structure;
  geometry::TriangleMesh mesh;
  model::Kit kit;
};
Yard& yard() {
  static const auto made = std::make_unique<Yard>();
  return *made;
}

void BM_Whole_Ours(benchmark::State& state) {
  auto& y = yard();
  const auto& suit = y.kit.suits.front();
  for (auto _ : state) {
    const auto scene = geometry::build_scene(y.structure, y.structure.default_configuration());
    const auto graph = graph::build_handrail_graph(scene, graph::body_of(suit, y.kit.design));
    const auto answer = route::find_route(graph, {.kit = y.kit, .suit = suit}, {.from = "start", .to = "end"});
    if (!answer.route()) std::abort();
    state.counters["grips"] = static_cast<double>(graph.grips().size());
  }
}

void BM_Whole_ByHand(benchmark::State& state) {
  auto& y = yard();
  const auto body = graph::body_of(y.kit.suits.front(), y.kit.design);
  const auto scene = geometry::build_scene(y.structure, y.structure.default_configuration());
  const auto graph = graph::build_handrail_graph(scene, body);  // for its grips: sampling rails is little work
  const auto grips = graph.grips();
  const auto start = graph.find_nearest_grip(y.structure.places[0].at)->value,
             end = graph.find_nearest_grip(y.structure.places[1].at)->value;
  for (auto _ : state) {
    const support::CgalTree tree(y.mesh);
    std::vector<support::WeightedEdge> open;
    std::size_t pairs = 0, asked = 0;
    for (std::uint32_t a = 0; a < grips.size(); ++a)
      for (std::uint32_t b = a + 1; b < grips.size(); ++b) {
        const double gap_m = (grips[a].hand - grips[b].hand).norm();
        if (gap_m > body.reach_m + graph::length_tolerance_m) continue;
        ++pairs;
        if (std::acos(std::clamp(grips[a].outward.dot(grips[b].outward), -1.0, 1.0)) > body.turn_limit_rad + 1e-6)
          continue;
        const model::Vec3 from = grips[a].hand + body.stand_off_m * grips[a].outward,
                          to = grips[b].hand + body.stand_off_m * grips[b].outward;
        const int steps = std::max(1, static_cast<int>(std::ceil((to - from).norm() / 0.01)));
        bool is_clear = true;
        for (int i = 0; i <= steps && is_clear; ++i, ++asked)
          is_clear = tree.distance(from + (to - from) * i / steps) >= body.corridor_radius_m;
        if (is_clear) open.push_back({a, b, std::max<std::int64_t>(1, std::llround(gap_m * 1e5))});
      }
    if (pairs != graph.moves().size()) std::abort();
    support::BoostDijkstra dijkstra(grips.size(), open);
    benchmark::DoNotOptimize(dijkstra.to(start, end));
    state.counters["distances"] = static_cast<double>(asked);
  }
}

BENCHMARK(BM_Whole_Ours)->Unit(benchmark::kMillisecond)->UseRealTime();
BENCHMARK(BM_Whole_ByHand)->Unit(benchmark::kMillisecond)->UseRealTime()->Iterations(1);

}  // namespace

BENCHMARK_MAIN();
