// SPDX-License-Identifier: GPL-3.0-or-later
// Taut lines: a way of 60 m along and round a row of drums, as exact solids and as 200,000 triangles.

#include <benchmark/benchmark.h>

#include <cmath>

#include "generated_yard.h"
#include "holdfast/tether/taut.h"
#include "mesh_scene.h"

namespace {

using namespace holdfast;
using model::Vec3;

/// Along four drums in a row, half a metre off their surface, once half round each, in steps of a hand move.
std::vector<Vec3> long_way() {
  std::vector<Vec3> way;
  const double length = 50, step = 0.3, radius = 2.6;
  for (double x = 0.3; x < length; x += step) {
    const double angle = 0.5 * std::sin(x / 4.0) * std::numbers::pi;
    way.emplace_back(x, radius * std::sin(angle), -radius * std::cos(angle));
  }
  return way;
}

void pull(benchmark::State& state, const geometry::Scene& scene) {
  const auto way = long_way();
  tether::TautLine line;
  for (auto _ : state) benchmark::DoNotOptimize(line = tether::pull_taut(scene, way));
  if (!line.is_settled) state.SkipWithError("not settled");
  state.counters["way_m"] = tether::length_of(way);
  state.counters["taut_m"] = line.length_m;
  state.counters["primitives"] = static_cast<double>(scene.primitive_count());
}

/// Sixteen drums; the way goes along four of them.
const model::Structure& yard() {
  static const model::Structure structure = support::generated_yard(16'000);
  return structure;
}

void BM_Taut_Solids(benchmark::State& state) { pull(state, geometry::build_scene(yard(), {})); }

void BM_Taut_Triangles(benchmark::State& state) {
  const int slices = 20, sides = static_cast<int>(200'000 / (yard().parts.size() * (2 * slices + 2)));
  static const auto mesh = support::scene_of_mesh(support::generated_mesh(yard(), sides, slices));
  pull(state, mesh->scene);
}

/// The same way followed by a reel, grip by grip.
void BM_Reel_Solids(benchmark::State& state) {
  const auto scene = geometry::build_scene(yard(), {});
  const auto way = long_way();
  for (auto _ : state) {
    tether::Reel reel(scene, way.front());
    for (std::size_t i = 1; i < way.size(); ++i) reel.go(std::array{way[i]});
    benchmark::DoNotOptimize(reel.line().length_m);
  }
  state.counters["steps"] = static_cast<double>(way.size() - 1);
}

BENCHMARK(BM_Taut_Solids)->Unit(benchmark::kMillisecond);
BENCHMARK(BM_Taut_Triangles)->Unit(benchmark::kMillisecond);
BENCHMARK(BM_Reel_Solids)->Unit(benchmark::kMillisecond)->Iterations(1);

}  // namespace

BENCHMARK_MAIN();
