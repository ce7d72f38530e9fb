// SPDX-License-Identifier: GPL-3.0-or-later
#include "holdfast/cable/cable.h"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <map>

#include "common.h"
#include "holdfast/report/read.h"

namespace holdfast::cli {

namespace {

struct CableOptions {
  std::string cable, from, to, by = "length";
  bool all = false;
  std::vector<std::string> keep_free, laid, closed;
};

cable::Aim aim_of(const std::string& by) {
  if (by == "ties") return cable::Aim::Ties;
  if (by == "time") return cable::Aim::Time;
  return cable::Aim::Length;
}

const model::Cable& cable_of(const Yard& yard, const std::string& id) {
  if (const auto* found = yard.model.kit.find_cable(id)) return *found;
  throw model::InputError({not_in_kit("cable", id, ids_of(yard.model.kit.cables))});
}

/// The ends asked for, or the only pair that the kit names for the cable. Going on from a coil, where it begins is
/// known.
std::pair<std::string, std::string> ends_of(const CableOptions& options, const model::Cable& cable, bool goes_on) {
  if (goes_on) {
    if (options.to.empty())
      throw model::InputError({usage_fault("--to is required", "", "name a connector or a place to go on to")});
    return {options.from, options.to};
  }
  if (options.from.empty() != options.to.empty())
    throw model::InputError({usage_fault("--from and --to go together", "", "give both, or neither")});
  if (!options.from.empty()) return {options.from, options.to};
  if (cable.connects.size() == 1) return cable.connects.front();
  std::vector<std::string> pairs;
  for (const auto& [from, to] : cable.connects) pairs.push_back(from + " - " + to);
  throw model::InputError({usage_fault("--from and --to are needed", "",
                                       pairs.empty() ? fmt::format("the kit names no connectors for cable {}", cable.id)
                                                     : fmt::format("the kit names {} pairs for cable {}: {}",
                                                                   pairs.size(), cable.id, fmt::join(pairs, ", ")))});
}

/// Rails that the ways of the results given go along.
std::vector<model::RailId> rails_of(const Yard& yard, const std::vector<std::string>& files) {
  std::vector<model::RailId> rails;
  for (const auto& way : yard.read_ways(files))
    for (const auto& leg : way.legs)
      for (const auto& grip : leg.grips)
        if (const auto rail = yard.model.structure.find_rail(grip.rail);
            rail && std::find(rails.begin(), rails.end(), *rail) == rails.end())
          rails.push_back(*rail);
  return rails;
}

}  // namespace

Run add_cable(CLI::App& app, CommonOptions& options) {
  auto* verb = app.add_subcommand("cable", "is a cable long enough, where is it tied, and who lays it how");
  const auto cable = std::make_shared<CableOptions>();
  add_model_options(*verb, options);
  auto* id = verb->add_option("--cable", cable->cable, "cable of the kit")->check(named())->type_name("ID");
  verb->add_option("--from", cable->from,
                   "connector where it begins; with --to, the pair in the kit when not given;\n"
                   "not needed to go on from a coil (--laid)")
      ->check(named())
      ->type_name("PLACE");
  verb->add_option("--to", cable->to,
                   "connector where it ends; or any place, where the rest is coiled and tied to a rail")
      ->check(named())
      ->type_name("PLACE");
  verb->add_flag("--all", cable->all, "instead: every cable of the kit between every pair of connectors it names")
      ->disable_flag_override()
      ->excludes(id)
      ->excludes(verb->get_option("--from"))
      ->excludes(verb->get_option("--to"));
  verb->add_option("--by", cable->by, "what is least: length, ties, or time to lay it; length when not given")
      ->check(one_of({"length", "ties", "time"}))
      ->type_name("AIM");
  verb->add_option("--keep-free", cable->keep_free,
                   "rails of these routes stay free to grip: what route --json printed")
      ->check(named())
      ->type_name("RESULT.json")
      ->take_all();
  verb->add_option("--laid", cable->laid,
                   "cables laid already: what cable --json printed; where one of the same cable ends in\n"
                   "a coil, this run starts from it")
      ->check(named())
      ->type_name("RESULT.json")
      ->take_all();
  add_closures(*verb, cable->closed);
  add_output_options(*verb, options);
  verb->footer(
      "Examples, on the demo yard:\n"
      "  holdfast cable models/yard --cable power-long\n"
      "      the long power cable between the connectors that the kit names for it\n"
      "  holdfast cable models/yard --cable data --from hub-plug --to rack-plug --by ties --csv ties.csv\n"
      "      the data cable with as few ties as can be, and the ties as a table\n\n"
      "In stages: --to names a place, where the rest is coiled; the answer says what length is left, and for which\n"
      "connectors it is enough. Save it with --json; --laid FILE --to CONNECTOR (or PLACE) then continues from the "
      "coil.\n\n"
      "Exit code 1 when there is no run, the cable is too short, or nobody can lay it; with --all, when any is so.");
  return [&options, cable] {
    if (!cable->all && cable->cable.empty())
      throw model::InputError({usage_fault("--cable is required", "", "name a cable of the kit, or give --all")});
    const Yard yard(options);
    model::check_ties(yard.model.structure, yard.model.kit, yard.configuration, yard.limits);
    std::optional<cable::SpanStore> store;
    if (yard.store) store = cable::SpanStore{yard.store->folder()};
    const route::Profile profile{
        .kit = yard.model.kit, .suit = *yard.suit, .closures = {yard.closed_rails(cable->closed)}};
    cable::CableRequest request;
    request.aim = aim_of(cable->by);
    request.keep_free = rails_of(yard, cable->keep_free);
    for (const auto& file : cable->laid) {
      auto stage = report::read_stage(file, read_whole(file), yard.model.structure, yard.model.kit);
      if (stage.run && stage.run->cable == cable->cable) {
        if (request.goes_on)
          throw model::InputError({usage_fault(fmt::format("cable {} cannot go on from two coils", cable->cable), file,
                                               fmt::format("give one of {} and {}", request.goes_on->name, file))});
        request.goes_on = std::move(stage.run);
        continue;
      }
      request.laid.push_back(std::move(stage.cable));
      if (stage.coil) request.laid.push_back(std::move(*stage.coil));
    }
    const auto prepare = [&](const model::Cable& which) {
      progress(options, fmt::format("Finding spans of cable {}", which.id));
      auto space = cable::prepare_cable(*yard.graph, yard.model.kit, which, store ? &*store : nullptr);
      if (!space.found.not_kept.empty()) progress(options, "Spans are not kept: " + space.found.not_kept);
      return space;
    };
    if (!cable->all) {
      const auto& which = cable_of(yard, cable->cable);
      std::tie(request.from, request.to) = ends_of(*cable, which, request.goes_on.has_value());
      const auto answer = cable::find_cable_run(prepare(which), profile, request);
      put_out(options, yard.context(options), answer);
      return answer.is_feasible() ? AnswerFound : NoAnswer;
    }
    cable::CableTable table;
    bool all_feasible = true;
    for (const auto& which : yard.model.kit.cables) {
      if (which.connects.empty()) continue;
      const auto space = prepare(which);
      for (const auto& [from, to] : which.connects) {
        request.from = from, request.to = to;
        table.rows.push_back(cable::find_cable_run(space, profile, request));
        all_feasible = all_feasible && table.rows.back().is_feasible();
      }
    }
    put_out(options, yard.context(options), table);
    return all_feasible ? AnswerFound : NoAnswer;
  };
}

}  // namespace holdfast::cli
