// SPDX-License-Identifier: GPL-3.0-or-later
#include "holdfast/reach/reach.h"

// Before common.h, whose `put_out` looks for its overloads.
#include "holdfast/report/reach.h"
#include "holdfast/tether/held_reach.h"

#include <algorithm>

#include "common.h"

namespace holdfast::cli {

namespace {

struct ReachOptions {
  std::vector<std::string> sockets, targets, tethers, hooks;
  std::string at, restraint, from, over;
  bool all = false, holds = false;
};

const model::FootRestraint* restraint_of(const Site& site, const std::string& id) {
  if (id.empty()) return nullptr;
  if (const auto* restraint = site.model.kit.find_foot_restraint(id)) return restraint;
  throw model::InputError({not_in_kit("foot restraint", id, ids_of(site.model.kit.foot_restraints))});
}

bool is_found(const reach::ReachAnswer& answer, bool names_targets) {
  if (names_targets) return answer.smallest.unserved.empty() && !answer.smallest.members.empty();
  for (const auto& site : answer.sites)
    for (const auto& station : site.stations)
      if (station.is_usable() &&
          std::any_of(station.targets.begin(), station.targets.end(), [](const auto& t) { return t.is_reached(); }))
        return true;
  return false;
}

/// The positions of a switch, one block each; the configuration asked for where no switch is named.
std::vector<CommonOptions> blocks_of(const CommonOptions& options, const std::string& over) {
  if (over.empty()) return {options};
  const Site site(options);
  const auto& switches = site.model.structure.switches;
  const auto found = std::find_if(switches.begin(), switches.end(), [&](const auto& s) { return s.id == over; });
  if (found == switches.end())
    throw model::InputError({usage_fault("switch \"" + over + "\" is not in this model", over,
                                         "name a switch of structure.yaml after --over")});
  std::vector<CommonOptions> blocks;
  for (const auto& position : found->positions) {
    blocks.push_back(options);
    auto& states = blocks.back().states;
    std::erase_if(states, [&](const std::string& state) { return state.substr(0, state.find('=')) == over; });
    states.push_back(over + "=" + position);
  }
  return blocks;
}

}  // namespace

Run add_reach(CLI::App& app, CommonOptions& options) {
  auto* verb = app.add_subcommand("reach",
                                  "what a crew member's hands reach at a worksite: from a foot restraint, or "
                                  "holding on with one hand");
  const auto asked = std::make_shared<ReachOptions>();
  add_model_options(*verb, options);
  verb->add_option("SOCKET", asked->sockets, "the socket that the foot restraint is in; or --at, or --all")
      ->check(named())
      ->type_name("");
  verb->add_option("--at", asked->at, "instead: a place where one hand holds a rail and the other works")
      ->check(named())
      ->type_name("PLACE");
  verb->add_flag("--all", asked->all, "instead: the table of all sockets against all targets")->disable_flag_override();
  verb->add_option("--for", asked->targets,
                   "what is worked on: places, sockets or x,y,z; all connectors and worksites when not given")
      ->check(named())
      ->type_name("TARGET")
      ->take_all();
  verb->add_option("--restraint", asked->restraint, "foot restraint of the kit; its first one when not given")
      ->check(named())
      ->type_name("ID");
  verb->add_option("--from", asked->from, "also the path from here to the rail from which the best setting is got into")
      ->check(named())
      ->type_name("PLACE");
  verb->add_option("--over", asked->over,
                   "one answer for each position of this switch, as where the socket is on an arm")
      ->check(named())
      ->type_name("SWITCH");
  verb->add_flag("--hold", asked->holds, "also which tethers, in series too, hold a target where both hands reach it")
      ->disable_flag_override();
  verb->add_option("--tether", asked->tethers,
                   "with --hold: only these; all that can be set to a length when not given")
      ->check(named())
      ->type_name("ID")
      ->take_all();
  verb->add_option("--hook", asked->hooks, "with --hold: only hooked to these anchors and rails; any when not given")
      ->check(named())
      ->type_name("ID")
      ->take_all();
  add_output_options(*verb, options);
  verb->footer(
      "Examples, on the demo yard:\n"
      "  holdfast reach models/yard port-socket --for port-plug --from lock-hatch\n"
      "      the setting in which both hands reach the port plug, and the path to the rail to get in by\n"
      "  holdfast reach models/yard --all\n"
      "      which socket serves which connector and worksite\n\n"
      "Exit code 1 when no setting that fits and has a way in reaches what is asked with as many hands as it needs; "
      "with\n"
      "--hold also when no tether holds anything where both hands reach it.");
  return [&options, asked]() -> ExitCode {
    const int ways = (asked->sockets.empty() ? 0 : 1) + (asked->at.empty() ? 0 : 1) + (asked->all ? 1 : 0);
    if (ways != 1)
      throw model::InputError({usage_fault("a socket, --at or --all is needed, and only one of them", "",
                                           "write holdfast reach MODEL SOCKET, or --at PLACE, or --all")});
    if (asked->all && !asked->from.empty())
      throw model::InputError({usage_fault("--from has no meaning beside --all", asked->from, "name one socket")});
    if (!asked->holds && !(asked->tethers.empty() && asked->hooks.empty()))
      throw model::InputError({usage_fault("--tether and --hook need --hold", "", "add --hold")});
    report::ReachPage page;
    page.is_table = asked->all, page.asks_holds = asked->holds;
    std::vector<std::unique_ptr<Yard>> yards;  // answers point into their kits
    for (const auto& block : blocks_of(options, asked->over)) {
      yards.push_back(std::make_unique<Yard>(block));
      const auto* yard = yards.back().get();
      reach::ReachRequest request{.sockets = asked->sockets,
                                  .at = asked->at,
                                  .targets = asked->targets,
                                  .restraint = restraint_of(*yard, asked->restraint),
                                  .from = asked->from};
      if (asked->all) request.sockets = ids_of(yard->model.structure.sockets);
      if (request.sockets.empty() && request.at.empty())
        throw model::InputError({usage_fault("this model has no sockets", "",
                                             "list them in structure.yaml, or ask from a grip with --at")});
      page.answers.push_back(reach::find_reach(*yard->graph, {.kit = yard->model.kit, .suit = *yard->suit}, request));
      if (!asked->holds) continue;
      tether::HeldRequest held{.tethers = {}, .hooks = asked->hooks};
      for (const auto& id : asked->tethers) held.tethers.push_back(&yard->tether(id));
      for (auto& each :
           tether::find_held(*yard->graph, {.kit = yard->model.kit, .suit = *yard->suit}, page.answers.back(), held))
        page.holds.push_back({page.answers.size() - 1, std::move(each)});
    }
    put_out(options, yards.back()->context(options), page);
    const bool is_held = std::any_of(page.holds.begin(), page.holds.end(),
                                     [](const auto& hold) { return !hold.held.positioning.holds.empty(); });
    if (asked->holds && !is_held) return NoAnswer;
    return std::all_of(page.answers.begin(), page.answers.end(),
                       [&](const auto& answer) { return is_found(answer, !asked->targets.empty()); })
               ? AnswerFound
               : NoAnswer;
  };
}

}  // namespace holdfast::cli
