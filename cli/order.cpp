// SPDX-License-Identifier: GPL-3.0-or-later
#include "holdfast/report/order.h"

#include <fmt/format.h>

#include <algorithm>

#include "common.h"
#include "what_if.h"

namespace holdfast::cli {

namespace {

struct OrderOptions {
  std::string excursion, file;
  bool again = false;
  WhatIf what_if;
};

void check_sequences(const model::Excursion& excursion) {
  // `begin` and `end` stay as they are.
  for (const auto& member : excursion.crew)
    if (std::any_of(member.actions.begin() + static_cast<std::ptrdiff_t>(member.begins),
                    member.actions.end() - static_cast<std::ptrdiff_t>(member.ends),
                    [](const auto& action) { return action.kind != model::ActionKind::Return; }))
      throw model::InputError(
          {{member.mark, "crew", "usage", fmt::format("crew member \"{}\" has a sequence already", member.id),
            member.id,
            "give --again to put its tasks in order anew: other actions are left out, those of begin and end stay"}});
}

}  // namespace

Run add_order(CLI::App& app, CommonOptions& options) {
  auto* verb = app.add_subcommand("order", "tasks without a sequence: who does what in which order, inside earliest");
  const auto order = std::make_shared<OrderOptions>();
  add_structure_options(*verb, options);
  add_excursion(*verb, order->excursion);
  verb->add_flag("--again", order->again, "take the sequences of the file out first, and order their tasks anew")
      ->disable_flag_override();
  verb->add_option("--write", order->file, "write an excursion with these sequences, for holdfast plan")
      ->type_name("FILE")
      ->check(named());
  add_what_if(*verb, order->what_if);
  add_output_options(*verb, options);
  verb->footer(
      "Examples, on the demo yard:\n"
      "  holdfast order models/yard excursion-tasks.yaml --write ordered.yaml\n"
      "      six tasks of two crew members in the best order, with fetching and bringing back; plan runs the file\n"
      "  holdfast order models/yard excursion-short.yaml --again\n"
      "      the tasks of a sequence put in order anew, and what differs from the file\n\n"
      "Best is the most worth of optional tasks, then everybody inside earliest, then the fewest hand moves. The "
      "figures\n"
      "are those of holdfast plan. What is proven, and over which orders, is told; else how far from the bound the\n"
      "order found may be. Exit code 1 when no order keeps all rules: the causes, or the violations of the best "
      "found.");
  return [&options, order] {
    Site site(options);
    const auto scene = site.build_scene(options, site.configuration);
    site.set_aside_buried_rails(scene);
    const auto excursion = read_excursion_of(options, site, order->excursion);
    if (!order->again) check_sequences(excursion);
    plan::OrderOptions asked;
    asked.what_if = read_what_if(order->what_if, site.model, excursion);
    progress(options, "Looking for the best order of " + excursion.name);
    const auto answer = plan::order(site.model, site.configuration, excursion, asked, &scene);
    const auto context = site.context(options);
    if (!order->file.empty() && answer.ordered)
      report::write_file(order->file, report::excursion_file(context, *answer.ordered));
    put_out(options, context, answer);
    return answer.is_clean() && answer.causes.empty() ? AnswerFound : NoAnswer;
  };
}

}  // namespace holdfast::cli
