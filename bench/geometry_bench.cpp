// SPDX-License-Identifier: GPL-3.0-or-later
// Distance and segment queries against brute force and CGAL's AABB_tree in the same process. Equality is checked before
// timing.

#include <benchmark/benchmark.h>

#include <cmath>
#include <cstdlib>
#include <map>
#include <memory>

#include "mesh_scene.h"
#include "second_opinion.h"

namespace {

using namespace holdfast;

struct Setup {
  std::unique_ptr<support::MeshScene> ours;
  geometry::TriangleMesh mesh;
  std::unique_ptr<support::CgalTree> cgal;
  std::vector<Eigen::Vector3d> points;
};

Setup& setup_of(std::size_t triangles) {
  static std::map<std::size_t, std::unique_ptr<Setup>> setups;
  auto& slot = setups[triangles];
  if (slot) return *slot;
  slot = std::make_unique<Setup>();
  support::Random random(triangles);
  slot->ours = support::scene_of_mesh(support::random_mesh(random, triangles));
  slot->mesh = slot->ours->scene.part_mesh(model::PartId(0));
  slot->cgal = std::make_unique<support::CgalTree>(slot->mesh);
  for (int i = 0; i < 2000; ++i) slot->points.push_back(random.point(3));
  for (const auto& p : slot->points)
    if (std::abs(slot->ours->scene.distance(p, 1e6) - slot->cgal->distance(p)) > 1e-9) std::abort();
  return *slot;
}

void BM_Distance_Ours(benchmark::State& state) {
  auto& s = setup_of(static_cast<std::size_t>(state.range(0)));
  std::size_t i = 0;
  for (auto _ : state) benchmark::DoNotOptimize(s.ours->scene.distance(s.points[i++ % s.points.size()], 1e6));
}
void BM_Distance_OursWithCutoff(benchmark::State& state) {
  auto& s = setup_of(static_cast<std::size_t>(state.range(0)));
  std::size_t i = 0;
  for (auto _ : state) benchmark::DoNotOptimize(s.ours->scene.distance(s.points[i++ % s.points.size()], 0.55));
}
void BM_Distance_Cgal(benchmark::State& state) {
  auto& s = setup_of(static_cast<std::size_t>(state.range(0)));
  std::size_t i = 0;
  for (auto _ : state) benchmark::DoNotOptimize(s.cgal->distance(s.points[i++ % s.points.size()]));
}
void BM_Distance_BruteForce(benchmark::State& state) {
  auto& s = setup_of(static_cast<std::size_t>(state.range(0)));
  std::size_t i = 0;
  for (auto _ : state) {
    double least = 1e6;
    for (const auto& t : s.mesh.triangles)
      least =
          std::min(least, support::reference_triangle_distance(s.mesh.vertices[t[0]], s.mesh.vertices[t[1]],
                                                               s.mesh.vertices[t[2]], s.points[i % s.points.size()]));
    ++i;
    benchmark::DoNotOptimize(least);
  }
}
void BM_Segment_Ours(benchmark::State& state) {
  auto& s = setup_of(static_cast<std::size_t>(state.range(0)));
  std::size_t i = 0;
  for (auto _ : state) {
    benchmark::DoNotOptimize(
        s.ours->scene.is_segment_blocked(s.points[i % s.points.size()], s.points[(i + 7) % s.points.size()]));
    ++i;
  }
}
void BM_Segment_Cgal(benchmark::State& state) {
  auto& s = setup_of(static_cast<std::size_t>(state.range(0)));
  std::size_t i = 0;
  for (auto _ : state) {
    benchmark::DoNotOptimize(
        s.cgal->is_segment_blocked(s.points[i % s.points.size()], s.points[(i + 7) % s.points.size()]));
    ++i;
  }
}

#define SIZES ->Arg(1'000)->Arg(30'000)
BENCHMARK(BM_Distance_Ours) SIZES;
BENCHMARK(BM_Distance_OursWithCutoff) SIZES;
BENCHMARK(BM_Distance_Cgal) SIZES;
BENCHMARK(BM_Distance_BruteForce) SIZES;
BENCHMARK(BM_Segment_Ours) SIZES;
BENCHMARK(BM_Segment_Cgal) SIZES;

}  // namespace

BENCHMARK_MAIN();
