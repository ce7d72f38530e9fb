// SPDX-License-Identifier: GPL-3.0-or-later
// Time to write drawings, and their size: the demo yard with ways on it, and structures of many triangles and grips.

#include <benchmark/benchmark.h>

#include "generated_yard.h"
#include "holdfast/model/read.h"
#include "holdfast/picture/write.h"
#include "holdfast/route/choices.h"

namespace holdfast {
namespace {

enum class Form { Html, Svg, Glb };

std::string write(const picture::Picture& picture, Form form) {
  switch (form) {
    case Form::Html:
      return picture::html(picture);
    case Form::Svg:
      return picture::svg(picture).svg;
    case Form::Glb:
      return picture::glb(picture);
  }
  return {};
}

void measure(benchmark::State& state, const picture::Picture& picture, Form form) {
  std::size_t bytes = 0, triangles = 0;
  for (const auto& part : picture.parts) triangles += part.mesh.triangles.size();
  for (auto _ : state) {
    const auto file = write(picture, form);
    bytes = file.size();
    benchmark::DoNotOptimize(file);
  }
  state.counters["MB"] = static_cast<double>(bytes) / 1e6;
  state.counters["triangles"] = static_cast<double>(triangles);
}

/// From reading the model to the bytes of the file, as the command does it.
void BM_DrawYard(benchmark::State& state, Form form) {
  const std::string folder = std::string(HOLDFAST_SOURCE_DIR) + "/models/yard";
  const auto model = model::read_model(folder);
  const auto scene = geometry::build_scene(model.structure, model.structure.default_configuration());
  const auto& suit = model.kit.suits.front();
  const auto graph = graph::build_handrail_graph(scene, graph::body_of(suit, model.kit.design));
  const report::Context context{model.structure, model.kit, suit, folder, "bench"};
  const auto choices = route::find_alternative_routes(
      graph, {.kit = model.kit, .suit = suit, .loads = {model.kit.find_load("bulky-bag")}},
      {.from = "lock-hatch", .to = "battery-bay"});
  const std::string document = report::json(context, choices);
  std::size_t bytes = 0;
  for (auto _ : state) {
    const auto again = model::read_model(folder);
    const report::Context here{again.structure, again.kit, again.kit.suits.front(), folder, "bench"};
    const auto drawn =
        geometry::build_scene(again.structure, again.structure.default_configuration(), {.chord_error_m = 0.004});
    auto picture = picture::draw_structure(here, drawn);
    picture::add_result(picture, here, drawn, report::read_result("result.json", document, again.structure, again.kit));
    const auto file = write(picture, form);
    bytes = file.size();
    benchmark::DoNotOptimize(file);
  }
  state.counters["MB"] = static_cast<double>(bytes) / 1e6;
}

/// Drums of 20,000 triangles each, in one part.
void BM_DrawTriangles(benchmark::State& state, Form form) {
  picture::Picture picture;
  picture.parts.push_back(
      {"field", "field", false, false,
       support::generated_mesh(support::generated_yard(static_cast<std::size_t>(state.range(0)) / 20), 100, 100)});
  for (const auto& v : picture.parts[0].mesh.vertices) picture.bounds.extend(v);
  measure(state, picture, form);
}

void BM_DrawGrips(benchmark::State& state, Form form) {
  const auto structure = support::generated_yard(static_cast<std::size_t>(state.range(0)));
  model::Kit kit;
  kit.suits.push_back(model::default_suit());
  kit.design = model::default_design_values();
  const auto scene = geometry::build_scene(structure, structure.default_configuration(), {.chord_error_m = 0.004});
  measure(state, picture::draw_structure({structure, kit, kit.suits.front(), "", "bench"}, scene), form);
}

BENCHMARK_CAPTURE(BM_DrawYard, Html, Form::Html)->Unit(benchmark::kMillisecond);
BENCHMARK_CAPTURE(BM_DrawYard, Svg, Form::Svg)->Unit(benchmark::kMillisecond);
BENCHMARK_CAPTURE(BM_DrawYard, Glb, Form::Glb)->Unit(benchmark::kMillisecond);
BENCHMARK_CAPTURE(BM_DrawTriangles, Html, Form::Html)->Arg(200'000)->Unit(benchmark::kMillisecond);
BENCHMARK_CAPTURE(BM_DrawTriangles, Svg, Form::Svg)->Arg(200'000)->Unit(benchmark::kMillisecond);
BENCHMARK_CAPTURE(BM_DrawTriangles, Glb, Form::Glb)->Arg(200'000)->Unit(benchmark::kMillisecond);
BENCHMARK_CAPTURE(BM_DrawGrips, Html, Form::Html)->Arg(100'000)->Unit(benchmark::kMillisecond);
BENCHMARK_CAPTURE(BM_DrawGrips, Svg, Form::Svg)->Arg(100'000)->Unit(benchmark::kMillisecond);

}  // namespace
}  // namespace holdfast

BENCHMARK_MAIN();
