// SPDX-License-Identifier: GPL-3.0-or-later
#include "holdfast/report/plan.h"

#include <fmt/format.h>

#include "common.h"
#include "holdfast/plan/plan.h"
#include "holdfast/report/plan_compare.h"
#include "what_if.h"

namespace holdfast::cli {

namespace {

struct PlanOptions {
  std::string excursion, compared;
  bool waypoints = false;
  WhatIf what_if;
};

}  // namespace

Run add_plan(CLI::App& app, CommonOptions& options) {
  auto* verb = app.add_subcommand("plan", "an excursion simulated: timeline, violations, margins, getting back");
  const auto plan = std::make_shared<PlanOptions>();
  add_structure_options(*verb, options);
  add_excursion(*verb, plan->excursion);
  add_what_if(*verb, plan->what_if);
  verb->add_option("--compare", plan->compared,
                   "an earlier result of plan (--json): what moved, what fits no more, margins then and now")
      ->check(named())
      ->type_name("RESULT.json");
  add_output_options(*verb, options);
  verb->add_flag("--waypoints", plan->waypoints, "the rails of every leg, with the time at each (JSON always has them)")
      ->disable_flag_override()
      ->group("Output");
  verb->footer(
      "Examples, on the demo yard:\n"
      "  holdfast plan models/yard excursion-short.yaml\n"
      "      six actions of one crew member: timeline, totals, time to get back\n"
      "  holdfast plan models/yard excursion-short.yaml --longer check-window=30 --slower EV1=1.5\n"
      "      the same with a task half an hour longer and a crew member who is slower\n\n"
      "To compare with an earlier plan: print that with --json into a file, and name it with --compare.\n"
      "Exit code 1 when there are violations: each has its moment, crew member, numbers and remedy, and the timeline\n"
      "goes on under a stated assumption, so that all are seen at once. What is not assessed is listed.");
  return [&options, plan] {
    Site site(options);
    const auto scene = site.build_scene(options, site.configuration);
    site.set_aside_buried_rails(scene);
    const auto excursion = read_excursion_of(options, site, plan->excursion);
    auto what_if = read_what_if(plan->what_if, site.model, excursion);
    what_if.describes_legs = options.json;
    std::optional<plan::PlanFigures> before;  // refused before anything is simulated
    if (!plan->compared.empty())
      before = report::read_plan(plan->compared, read_whole(plan->compared), site.model.structure, site.model.kit);
    progress(options, "Simulating " + excursion.name);
    const auto answer = plan::simulate(site.model, site.configuration, excursion, what_if, &scene);
    const auto context = site.context(options);
    std::optional<plan::PlanChanges> changes;
    if (before) changes = plan::compare(std::move(*before), report::figures_of(context, answer));
    const report::PlanPage page{.waypoints = plan->waypoints, .changes = changes ? &*changes : nullptr};
    if (!options.csv.empty()) report::write_file(options.csv, report::csv(context, answer));
    emit(options, options.json ? report::json(context, answer, page) : report::text(context, answer, page));
    return answer.is_clean() ? AnswerFound : NoAnswer;
  };
}

}  // namespace holdfast::cli
