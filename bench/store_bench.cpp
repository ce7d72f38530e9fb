// SPDX-License-Identifier: GPL-3.0-or-later
// The whole command, from files to the printed route, on a model of 100,000 grips: with nothing kept, the first time,
// and the second. Outputs are compared first.

#include <benchmark/benchmark.h>
#include <sys/wait.h>
#include <unistd.h>

#include <cstdio>
#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <memory>
#include <string>

#include "generated_yard.h"
#include "mesh_scene.h"

namespace {

using namespace holdfast;
namespace fs = std::filesystem;

/// A model folder of drums with rails, as files; the drums one mesh file of `triangles`, or exact solids where that is
/// 0.
class Folder {
 public:
  Folder(std::size_t grips, std::size_t triangles)
      : folder_(fs::temp_directory_path() /
                ("holdfast-bench-" + std::to_string(::getpid()) + "-" + std::to_string(triangles))) {
    fs::create_directories(folder_);
    const auto structure = support::generated_yard(grips);
    std::ofstream rails(folder_ / "rails.csv"), yaml(folder_ / "structure.yaml"), kit(folder_ / "kit.yaml");
    rails.precision(17), yaml.precision(17);
    rails << "id,part,x1,y1,z1,x2,y2,z2,outward_x,outward_y,outward_z\n";
    for (const auto& rail : structure.rails)
      for (std::size_t i = 0; i + 1 < rail.points.size(); ++i) {
        const auto &a = rail.points[i], &b = rail.points[i + 1];
        const std::string part = triangles > 0 ? "yard" : structure.parts[rail.part.index()].id;
        rails << rail.id << '.' << i << ',' << part << ',' << a.x() << ',' << a.y() << ',' << a.z() << ',' << b.x()
              << ',' << b.y() << ',' << b.z() << ',';
        if (rail.outward.empty())
          rails << ",,\n";
        else
          rails << rail.outward[0][0].x() << ',' << rail.outward[0][0].y() << ',' << rail.outward[0][0].z() << '\n';
      }
    yaml << "holdfast: structure/1\nname: Generated yard\nparts:\n";
    if (triangles > 0) {
      constexpr int slices = 10;
      const int sides = static_cast<int>(triangles / (structure.parts.size() * (2 * slices + 2)));
      support::write_obj(folder_ / "yard.obj", support::generated_mesh(structure, sides, slices));
      yaml << "  - {id: yard, shape: {mesh: {file: yard.obj, units: m, up: z}}}\n";
    } else {
      for (const auto& part : structure.parts) {
        const auto& drum = std::get<model::Cylinder>(part.shape);
        yaml << "  - {id: " << part.id << ", shape: {cylinder: {from: [" << drum.from.x() << ", " << drum.from.y()
             << ", " << drum.from.z() << "], to: [" << drum.to.x() << ", " << drum.to.y() << ", " << drum.to.z()
             << "], radius: " << drum.radius << "}}}\n";
      }
    }
    yaml << "rail_files: [rails.csv]\nplaces:\n";
    for (const auto& place : structure.places)
      yaml << "  - {id: " << place.id << ", kind: hatch, at: [" << place.at.x() << ", " << place.at.y() << ", "
           << place.at.z() << "], within_m: " << place.within_m << "}\n";
    kit << "holdfast: kit/1\nname: Kit\nsuits:\n  - {id: standard}\n";
  }
  ~Folder() { fs::remove_all(folder_); }
  Folder(const Folder&) = delete;
  Folder& operator=(const Folder&) = delete;

  /// What the command prints; stops the run where it fails.
  [[nodiscard]] std::string route(const char* more) const {
    const std::string line = "XDG_CACHE_HOME=" + (folder_ / "cache").string() + " " HOLDFAST_COMMAND " route " +
                             (folder_).string() + " --from start --to end " + more;
    FILE* const out = ::popen(line.c_str(), "r");
    if (!out) std::abort();
    std::string text;
    for (char bytes[4096]; const auto count = std::fread(bytes, 1, sizeof bytes, out);) text.append(bytes, count);
    if (::pclose(out) != 0) std::abort();
    return text;
  }
  void forget() const { fs::remove_all(folder_ / "cache"); }

 private:
  const fs::path folder_;
};

const Folder& mesh_folder() {
  static const Folder folder(100'000, 200'000);
  static const bool is_same = [] {
    const auto plain = folder.route("--no-cache");
    return folder.route("") == plain && folder.route("") == plain;
  }();
  if (!is_same) std::abort();
  return folder;
}
const Folder& solid_folder() {
  static const Folder folder(100'000, 0);
  static const bool is_same =
      folder.route("") == folder.route("--no-cache") && folder.route("") == folder.route("--no-cache");
  if (!is_same) std::abort();
  return folder;
}

void BM_Command_NoCache(benchmark::State& state) {
  const auto& folder = mesh_folder();
  for (auto _ : state) benchmark::DoNotOptimize(folder.route("--no-cache"));
}
void BM_Command_First(benchmark::State& state) {
  const auto& folder = mesh_folder();
  for (auto _ : state) {
    state.PauseTiming();
    folder.forget();
    state.ResumeTiming();
    benchmark::DoNotOptimize(folder.route(""));
  }
}
void BM_Command_Kept(benchmark::State& state) {
  const auto& folder = mesh_folder();
  (void)folder.route("");
  for (auto _ : state) benchmark::DoNotOptimize(folder.route(""));
}
void BM_Command_Solids_Kept(benchmark::State& state) {
  const auto& folder = solid_folder();
  (void)folder.route("");
  for (auto _ : state) benchmark::DoNotOptimize(folder.route(""));
}

BENCHMARK(BM_Command_NoCache)->Unit(benchmark::kMillisecond)->UseRealTime()->Iterations(3);
BENCHMARK(BM_Command_First)->Unit(benchmark::kMillisecond)->UseRealTime()->Iterations(3);
BENCHMARK(BM_Command_Kept)->Unit(benchmark::kMillisecond)->UseRealTime();
BENCHMARK(BM_Command_Solids_Kept)->Unit(benchmark::kMillisecond)->UseRealTime();

}  // namespace

BENCHMARK_MAIN();
