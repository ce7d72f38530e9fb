// SPDX-License-Identifier: GPL-3.0-or-later
#include "holdfast/check/check.h"

#include "common.h"
#include "holdfast/report/store.h"
#include "holdfast/route/choices.h"

namespace holdfast::cli {

Run add_check(CLI::App& app, CommonOptions& options) {
  auto* verb = app.add_subcommand("check", "what is wrong or risky in a model, ranked, with numbers");
  struct LoseOptions {
    bool lose = false, store = false;
    WayOptions way;
  };
  const auto lose = std::make_shared<LoseOptions>();
  add_model_options(*verb, options);
  auto* flag = verb->add_flag("--lose", lose->lose, "instead: which rails' loss cuts off a place from every hatch")
                   ->disable_flag_override();
  verb->add_option("--from", lose->way.from, "with --lose: what closing each rail of the best route from here ...")
      ->check(named())
      ->type_name("PLACE")
      ->needs(flag);
  verb->add_option("--to", lose->way.to, "... to here costs")->check(named())->type_name("PLACE")->needs(flag);
  verb->add_flag("--store", lose->store,
                 "instead: what is kept from run to run: where, how large, how many of each kind")
      ->disable_flag_override()
      ->excludes(flag);
  add_output_options(*verb, options);
  verb->footer(
      "Examples, on the demo yard:\n"
      "  holdfast check models/yard\n"
      "      everything found with all switches in their default positions\n"
      "  holdfast check models/yard --state dish=tracking --csv findings.csv\n"
      "      the same while the dish tracks, and as a table\n"
      "  holdfast check models/yard --lose --from lock-hatch --to battery-bay\n"
      "      weak points: rails that places hang on, and what closing each rail of that route costs\n"
      "  holdfast check models/yard --store\n"
      "      the folder of meshes, graphs and spans that the next run need not compute again\n\n"
      "Exit code 1 when there are errors; warnings alone exit 0. A value from memory never makes an error by itself.");
  return [&options, lose] {
    if (lose->way.from.empty() != lose->way.to.empty())
      throw model::InputError({usage_fault("--from and --to go together", "", "give both, or neither")});
    if (lose->store) {
      const Site site(options);  // a model that cannot be read is told here too
      const store::Store store(store_folder());
      const auto usage = store.usage();
      const report::StoreReport report{store.folder(), store.most_bytes(), usage, HOLDFAST_VERSION};
      if (!options.csv.empty()) report::write_file(options.csv, report::csv(report));
      emit(options, options.json ? report::json(report) : report::text(report));
      return AnswerFound;
    }
    const Yard yard(options);
    if (lose->lose) {
      std::optional<route::RouteRequest> request;
      if (!lose->way.from.empty()) request = {.from = lose->way.from, .to = lose->way.to};
      const auto weak = route::find_weak_points(*yard.graph, {.kit = yard.model.kit, .suit = *yard.suit}, request);
      put_out(options, yard.context(options), weak);
      return weak.answer && !weak.answer->route() ? NoAnswer : AnswerFound;
    }
    const auto result = check::check_model(*yard.graph, yard.model.kit, *yard.suit, yard.model.notes);
    put_out(options, yard.context(options), result);
    for (const auto& finding : result.findings)
      if (finding.severity == check::Severity::Error) return NoAnswer;
    return AnswerFound;
  };
}

}  // namespace holdfast::cli
