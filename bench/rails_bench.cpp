// SPDX-License-Identifier: GPL-3.0-or-later
// Finding rails in a mesh: time against triangles, on decks with rails on posts. 1,000 rails of 1 m and 200,000
// triangles are to take less than 5 s on 2 cores; the slope against triangles is to be below 1.2.

#include <benchmark/benchmark.h>

#include "holdfast/rails/rails.h"
#include "railed_mesh.h"

namespace {

using namespace holdfast;
using geometry::Vec3;

/// `count` rails of 1 m with `sides` sides in rows on a deck meshed as finely as they are.
geometry::NamedMesh rows_of_rails(int count, int sides) {
  geometry::TriangleMesh mesh;
  const int columns = 20, rows = (count + columns - 1) / columns;
  const double dx = 1.6, dy = 0.8;
  const int nx = 4 * columns, ny = 4 * rows;
  for (int i = 0; i <= nx; ++i)
    for (int k = 0; k <= ny; ++k) mesh.vertices.emplace_back(dx * columns * i / nx, dy * rows * k / ny, 0);
  for (int i = 0; i < nx; ++i)
    for (int k = 0; k < ny; ++k) {
      const auto a = static_cast<std::uint32_t>(i * (ny + 1) + k), b = a + static_cast<std::uint32_t>(ny) + 1;
      mesh.triangles.push_back({a, a + 1, b}), mesh.triangles.push_back({b, a + 1, b + 1});
    }
  const auto bar = [&](const Vec3& a, const Vec3& b, double diameter, int pieces, int n) {
    std::vector<Vec3> line;
    for (int i = 0; i <= pieces; ++i) line.emplace_back(a + (b - a) * i / pieces);
    support::sweep(mesh, line, std::vector<Vec3>(line.size(), (b - a).unitOrthogonal()),
                   support::round_outline(diameter, n, 0), false, {true, true});
  };
  for (int r = 0; r < count; ++r) {
    const double x = dx * (r % columns) + 0.3, y = dy * (r / columns) + 0.4;
    bar({x, y, -0.09}, {x + 1, y, -0.09}, 0.032, 4, sides);
    for (const double at : {0.1, 0.9}) bar({x + at, y, 0}, {x + at, y, -0.09}, 0.02, 1, 8);
  }
  return support::named(mesh);
}

void BM_FindRails_Rows(benchmark::State& state) {
  const auto mesh = rows_of_rails(static_cast<int>(state.range(0)), 20);
  rails::FoundRails found;
  for (auto _ : state) {
    found = rails::find_rails(mesh, {.design = model::default_design_values()});
    benchmark::DoNotOptimize(found);
  }
  state.counters["triangles"] = static_cast<double>(mesh.mesh.triangles.size());
  state.counters["rails_m"] = found.length_m;
  state.SetComplexityN(static_cast<std::int64_t>(mesh.mesh.triangles.size()));
}
BENCHMARK(BM_FindRails_Rows)->RangeMultiplier(2)->Range(125, 1000)->Unit(benchmark::kMillisecond)->Complexity();

}  // namespace

BENCHMARK_MAIN();
