// SPDX-License-Identifier: GPL-3.0-or-later
// Excursions on the demo yard: the demo excursion planned the first time, again after a what-if by the same planner,
// and one of 200 actions; orders of tasks drawn from the yard's places. Run from the source folder.

#include <benchmark/benchmark.h>
#include <fmt/format.h>

#include <random>
#include <stdexcept>

#include "holdfast/plan/order.h"
#include "holdfast/plan/planner.h"

namespace {

using namespace holdfast;

const model::Model& yard() {
  static const model::Model model = model::read_model("models/yard");
  return model;
}

model::Configuration at_first() { return yard().structure.default_configuration(); }

void BM_Plan_Demo(benchmark::State& state) {
  const auto excursion = model::read_excursion("models/yard/excursion.yaml", yard());
  for (auto _ : state) benchmark::DoNotOptimize(plan::simulate(yard(), at_first(), excursion));
}
BENCHMARK(BM_Plan_Demo)->Unit(benchmark::kMillisecond);

/// A task ten minutes longer, asked of a planner that knows the plan without it; compared with `BM_Plan_Demo`.
void BM_Plan_WhatIf(benchmark::State& state) {
  const auto excursion = model::read_excursion("models/yard/excursion.yaml", yard());
  const plan::PlanOptions what_if{.longer_s = {{excursion.tasks.front().id, 600}}};
  const auto afresh = plan::simulate(yard(), at_first(), excursion, what_if);
  for (auto _ : state) {
    state.PauseTiming();
    plan::Planner planner(yard(), at_first());
    benchmark::DoNotOptimize(planner.simulate(excursion));
    state.ResumeTiming();
    const auto again = planner.simulate(excursion, what_if);
    if (again.finish_s != afresh.finish_s || again.rows.size() != afresh.rows.size())
      throw std::logic_error("the same question has another answer");
  }
}
BENCHMARK(BM_Plan_WhatIf)->Unit(benchmark::kMillisecond);

constexpr const char* places[] = {"mast-foot",   "port-window", "port-lamp", "port-end", "radiator-valve-forward",
                                  "battery-bay", "wing-drive",  "beam-end",  "hub-top",  "hub-nadir"};

std::string crew_of(int number, const std::string& sequence) {
  return fmt::format("  - {{id: EV{0}, start: lock-hatch, tethers: [reel-26], anchor: hatch-anchor-{0}{1}}}\n", number,
                     sequence.empty() ? "" : ", sequence: [" + sequence + "]");
}

/// Half of them legs, half tasks, 100 of each crew member.
void BM_Plan_TwoHundredActions(benchmark::State& state) {
  std::mt19937 random(5);
  std::string tasks = "tasks:\n", crew = "crew:\n";
  for (int c = 1; c <= 2; ++c) {
    std::string sequence;
    for (int k = 0; k < 50; ++k) {
      const char* place = places[random() % std::size(places)];
      sequence += fmt::format("{}{{go: {}}}, {{do: t{}-{}}}", k ? ", " : "", place, c, k);
      tasks += fmt::format("  - {{id: t{}-{}, at: {}, duration: {} min}}\n", c, k, place, 2 + random() % 8);
    }
    crew += crew_of(c, sequence);
  }
  const auto excursion = model::read_excursion_text("holdfast: excursion/1\nlimit: 40 h\n" + crew + tasks, yard());
  for (auto _ : state) benchmark::DoNotOptimize(plan::simulate(yard(), at_first(), excursion));
}
BENCHMARK(BM_Plan_TwoHundredActions)->Unit(benchmark::kMillisecond);

/// Arguments: tasks, items that every fourth of them needs. Counters: gap to the bound in percent, orders simulated.
void BM_Order_Yard(benchmark::State& state) {
  std::mt19937 random(1);
  std::string text =
      "holdfast: excursion/1\nlimit: 10 h\negress: 10 min\ningress: 5 min\ncrew:\n" + crew_of(1, "") + crew_of(2, "");
  if (state.range(1) > 0)
    text +=
        "items:\n  - {id: tools, load: tool-bag, at: locker, home: locker}\n"
        "  - {id: camera, load: tool-bag, at: lock-hatch}\n";
  text += "tasks:\n";
  for (int t = 0; t < state.range(0); ++t) {
    text += fmt::format("  - {{id: t{}, at: {}, duration: {} min", t, places[random() % std::size(places)],
                        4 + random() % 11);
    if (state.range(1) > 0 && t % 2 == 0) text += fmt::format(", needs: {{items: [{}]}}", t % 4 ? "camera" : "tools");
    if (t > 2 && random() % 5 == 0) text += fmt::format(", after: [t{}]", random() % static_cast<unsigned>(t));
    text += "}\n";
  }
  const auto excursion = model::read_excursion_text(text, yard());
  for (auto _ : state) {
    const auto answer = plan::order(yard(), at_first(), excursion);
    if (!answer.ordered) throw std::logic_error("no order was found");
    state.counters["gap_percent"] = 100 * answer.gap();
    state.counters["simulated"] = static_cast<double>(answer.simulated);
  }
}
BENCHMARK(BM_Order_Yard)->Args({12, 0})->Args({12, 2})->Args({20, 0})->Unit(benchmark::kMillisecond)->Iterations(1);

}  // namespace

BENCHMARK_MAIN();
