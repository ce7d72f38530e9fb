// SPDX-License-Identifier: GPL-3.0-or-later
// All sockets of the demo yard against all its targets; and one patch of 100 samples from 100,000 eyes over 200,000
// triangles, against CGAL's AABB_tree asked ray by ray on one thread. Equality is checked before timing.

#include <benchmark/benchmark.h>
#include <tbb/parallel_for.h>

#include <atomic>
#include <cmath>
#include <cstdlib>
#include <memory>
#include <numbers>

#include "holdfast/model/read.h"
#include "holdfast/reach/reach.h"
#include "holdfast/reach/sight.h"
#include "mesh_scene.h"
#include "second_opinion.h"

namespace {

using namespace holdfast;
using model::Vec3;

void BM_ReachAll_DemoYard(benchmark::State& state) {
  const auto model = model::read_model("models/yard");
  const auto scene = geometry::build_scene(model.structure, model.structure.default_configuration());
  const auto graph = graph::build_handrail_graph(scene, graph::body_of(model.kit.suits.front(), model.kit.design));
  reach::ReachRequest request;
  for (const auto& socket : model.structure.sockets) request.sockets.push_back(socket.id);
  std::size_t stations = 0;
  for (auto _ : state) {
    const auto answer = reach::find_reach(graph, {.kit = model.kit, .suit = model.kit.suits.front()}, request);
    stations = 0;
    for (const auto& site : answer.sites) stations += site.stations.size();
  }
  state.counters["settings"] = static_cast<double>(stations);
}
BENCHMARK(BM_ReachAll_DemoYard)->Unit(benchmark::kMillisecond);

/// A lumpy ball of triangles with a patch over its top. `Around`: eyes all round it, most of which are turned away, as
/// grips of a whole structure are. `Above`: all eyes over the patch, behind a broken ridge round it, so that rays
/// decide.
enum class Eyes { Around, Above };
struct Lumps {
  std::unique_ptr<support::MeshScene> ours;
  std::unique_ptr<support::CgalTree> cgal;
  std::unique_ptr<reach::PatchCells> patch;
  std::vector<reach::Eye> eyes;
  static constexpr double off_normal_rad = 70 * std::numbers::pi / 180;

  Lumps(std::size_t triangles, std::size_t eye_count, Eyes where) {
    support::Random random(3);
    const auto n = static_cast<std::uint32_t>(std::sqrt(static_cast<double>(triangles) / 2));
    geometry::TriangleMesh mesh;
    for (std::uint32_t i = 0; i <= n; ++i)
      for (std::uint32_t j = 0; j < n; ++j) {
        const double u = 2 * std::numbers::pi * j / n, v = std::numbers::pi * i / n;
        const double ridge = std::exp(-std::pow((v - 0.25) / 0.05, 2)) * std::max(0.0, std::sin(5 * u));
        const double r = 4 + 0.15 * std::sin(9 * u) * std::sin(7 * v) + 1.2 * ridge;
        mesh.vertices.emplace_back(r * std::sin(v) * std::cos(u), r * std::sin(v) * std::sin(u), r * std::cos(v));
      }
    for (std::uint32_t i = 0; i < n; ++i)
      for (std::uint32_t j = 0; j < n; ++j) {
        const std::uint32_t a = i * n + j, b = i * n + (j + 1) % n;
        if (i > 0) mesh.triangles.push_back({a, a + n, b});
        if (i + 1 < n) mesh.triangles.push_back({b, a + n, b + n});
      }
    ours = support::scene_of_mesh(mesh);
    cgal = std::make_unique<support::CgalTree>(ours->scene.part_mesh(model::PartId(0)));
    model::Patch disc;
    disc.id = "disc";
    disc.area = model::PatchDisc{{0, 0, 4.4}, Vec3::UnitZ(), 0.4, false};
    patch = std::make_unique<reach::PatchCells>(ours->scene, disc, 100);
    while (eyes.size() < eye_count) {
      Vec3 at = random.point(1).normalized() * (4.5 + 0.6 * random.unit());
      if (where == Eyes::Above) {
        const Vec3 out = random.point(1).normalized();
        if (out.z() < std::cos(off_normal_rad)) continue;
        at = patch->middle() + (1 + 4 * random.unit()) * out;
      }
      eyes.push_back({at, (patch->middle() - at).normalized(), 30 * std::numbers::pi / 180, 10.0});
    }
  }
  double by_cgal(const reach::Eye& eye) const {
    double seen = 0;
    const double cosine = std::cos(off_normal_rad);
    for (const auto& cell : patch->cells()) {
      const Vec3 line = eye.at - cell.at;
      if (line.normalized().dot(cell.normal) < cosine || line.norm() > *eye.range_m) continue;
      if ((-line).normalized().dot(eye.direction) < std::cos(eye.half_angle_rad)) continue;
      if (!cgal->is_segment_blocked(eye.at, cell.at + patch->lift_m() * cell.normal)) seen += cell.area_m2;
    }
    return seen / patch->area_m2();
  }
};
Lumps& lumps(Eyes where) {
  const auto make = [](Eyes eyes) {
    auto made = std::make_unique<Lumps>(200'000, 100'000, eyes);
    for (std::size_t e = 0; e < made->eyes.size(); e += 97)
      if (std::abs(reach::glance(made->ours->scene, made->eyes[e], *made->patch, Lumps::off_normal_rad) -
                   made->by_cgal(made->eyes[e])) > 1e-9)
        std::abort();
    return made;
  };
  static const auto around = make(Eyes::Around), above = make(Eyes::Above);
  return where == Eyes::Around ? *around : *above;
}

void BM_Glance_Ours(benchmark::State& state, Eyes where) {
  auto& made = lumps(where);
  for (auto _ : state) {
    std::atomic<int> seeing = 0;
    tbb::parallel_for(std::size_t{0}, made.eyes.size(), [&](std::size_t e) {
      if (reach::glance(made.ours->scene, made.eyes[e], *made.patch, Lumps::off_normal_rad) > 0) ++seeing;
    });
    state.counters["seeing"] = static_cast<double>(seeing);
  }
}
void BM_Glance_CgalRayByRay(benchmark::State& state, Eyes where) {
  auto& made = lumps(where);
  for (auto _ : state) {
    int seeing = 0;
    for (const auto& eye : made.eyes) seeing += made.by_cgal(eye) > 0 ? 1 : 0;
    state.counters["seeing"] = static_cast<double>(seeing);
  }
}
BENCHMARK_CAPTURE(BM_Glance_Ours, Around, Eyes::Around)
    ->Unit(benchmark::kMillisecond)
    ->MeasureProcessCPUTime()
    ->UseRealTime();
BENCHMARK_CAPTURE(BM_Glance_CgalRayByRay, Around, Eyes::Around)
    ->Unit(benchmark::kMillisecond)
    ->MeasureProcessCPUTime()
    ->UseRealTime()
    ->Iterations(1);
BENCHMARK_CAPTURE(BM_Glance_Ours, Above, Eyes::Above)
    ->Unit(benchmark::kMillisecond)
    ->MeasureProcessCPUTime()
    ->UseRealTime();
BENCHMARK_CAPTURE(BM_Glance_CgalRayByRay, Above, Eyes::Above)
    ->Unit(benchmark::kMillisecond)
    ->MeasureProcessCPUTime()
    ->UseRealTime()
    ->Iterations(1);

}  // namespace

BENCHMARK_MAIN();
