// SPDX-License-Identifier: GPL-3.0-or-later
// Building the handrail graph: over exact solids, and over a mesh of 200,000 triangles. Time against grips gives the
// slope.

#include <benchmark/benchmark.h>
#include <sys/resource.h>

#include <cstdio>

#include "generated_yard.h"
#include "mesh_scene.h"

namespace {

using namespace holdfast;

double peak_mib() {
  rusage usage{};
  getrusage(RUSAGE_SELF, &usage);
  return static_cast<double>(usage.ru_maxrss) / 1024;
}

void build(benchmark::State& state, const model::Structure& structure) {
  for (auto _ : state) {
    const auto scene = geometry::build_scene(structure, structure.default_configuration());
    const auto graph = graph::build_handrail_graph(scene, {});
    state.counters["grips"] = static_cast<double>(graph.grips().size());
    state.counters["moves"] = static_cast<double>(graph.moves().size());
    state.counters["primitives"] = static_cast<double>(scene.primitive_count());
  }
  state.counters["peak_MiB"] = peak_mib();
}

void BM_Build_Solids(benchmark::State& state) {
  build(state, support::generated_yard(static_cast<std::size_t>(state.range(0))));
}

/// The same rails, but every drum's surface comes from one mesh file of about 200,000 triangles.
void BM_Build_Mesh(benchmark::State& state) {
  auto structure = support::generated_yard(static_cast<std::size_t>(state.range(0)));
  const int slices = 10;
  const int sides = static_cast<int>(200'000 / (structure.parts.size() * (2 * slices + 2)));
  const auto path = std::filesystem::temp_directory_path() / "holdfast-bench-yard.obj";
  support::write_obj(path, support::generated_mesh(structure, sides, slices));
  structure.folder = path.parent_path().string();
  structure.parts[0].shape = model::MeshFile{.file = path.filename().string()};
  for (auto& rail : structure.rails) rail.part = model::PartId(0);
  structure.parts.resize(1);
  build(state, structure);
  std::filesystem::remove(path);
}

BENCHMARK(BM_Build_Solids)->Arg(10'000)->Arg(30'000)->Arg(100'000)->Unit(benchmark::kMillisecond)->Iterations(1);
BENCHMARK(BM_Build_Mesh)->Arg(10'000)->Arg(30'000)->Arg(100'000)->Unit(benchmark::kMillisecond)->Iterations(1);

}  // namespace

BENCHMARK_MAIN();
