// SPDX-License-Identifier: GPL-3.0-or-later
#include "holdfast/tether/tether.h"

#include <algorithm>

#include "common.h"

namespace holdfast::cli {

namespace {

struct TetherOptions {
  WayOptions way;
  std::vector<std::string> results, tethers, other;
  std::string anchor, other_tether, other_anchor, hold;
  bool clean = false;
};

/// What holds something in place: the tethers named, else all of the kit that can be set to a length.
ExitCode hold(const CommonOptions& options, const TetherOptions& asked) {
  if (!asked.results.empty() || !asked.way.from.empty() || !asked.anchor.empty() || asked.clean || !asked.other.empty())
    throw model::InputError(
        {usage_fault("--hold is a question of its own", asked.hold, "give --tether besides, or nothing")});
  const Yard yard(options);
  std::vector<const model::Tether*> tethers;
  for (const auto& id : asked.tethers) tethers.push_back(&yard.tether(id));
  if (tethers.empty())
    for (const auto& tether : yard.model.kit.tethers)
      if (tether.min_length_m > 0) tethers.push_back(&tether);
  if (tethers.empty())
    throw model::InputError({usage_fault("no tether of the kit can be set to a length", "",
                                         "name tethers with --tether, or give one a min_length_m in kit.yaml")});
  const auto found =
      tether::find_positioning(*yard.graph, {.kit = yard.model.kit, .suit = *yard.suit}, asked.hold, tethers);
  put_out(options, yard.context(options), found);
  return found.holds.empty() ? NoAnswer : AnswerFound;
}

bool is_all_well(const tether::TetherCheck& check) {
  if (check.fails_at || check.unsettled_at ||
      std::any_of(check.zones.begin(), check.zones.end(), [](const auto& z) { return !z.is_allowed; }))
    return false;
  if (check.clean_return) return check.clean_return->loop.has_value();
  return !check.loop || check.loop->is_clean;
}

}  // namespace

Run add_tether(CLI::App& app, CommonOptions& options) {
  auto* verb = app.add_subcommand(
      "tether", "a safety tether along a path: long enough, what it may strike, does it retract without snagging");
  const auto tether = std::make_shared<TetherOptions>();
  add_model_options(*verb, options);
  verb->add_option("RESULT.json", tether->results,
                   "routes gone one after another, as route --json printed them; or --from and --to")
      ->check(named())
      ->type_name("");
  verb->add_option("--tether", tether->tethers, "the tether, from the kit; with --hold as many as may be used")
      ->check(named())
      ->type_name("ID")
      ->take_all();
  verb->add_option("--anchor", tether->anchor, "where it is hooked on at the start: an anchor, or a rail for tethers")
      ->check(named())
      ->type_name("ID");
  verb->add_flag("--clean", tether->clean, "look for a path back on which the tether retracts without snagging")
      ->disable_flag_override();
  verb->add_option("--other", tether->other, "routes of a second mover at the same time, to see how the tethers cross")
      ->check(named())
      ->type_name("RESULT.json")
      ->take_all();
  verb->add_option("--other-tether", tether->other_tether, "the second mover's tether")
      ->check(named())
      ->type_name("ID");
  verb->add_option("--other-anchor", tether->other_anchor, "and where it is hooked on")
      ->check(named())
      ->type_name("ID");
  verb->add_option("--hold", tether->hold,
                   "instead: which tethers in series hold something at this place, and from where")
      ->check(named())
      ->type_name("PLACE");
  add_way_options(*verb, tether->way);
  verb->get_option("--from")->required(false);
  verb->get_option("--to")->required(false);
  add_output_options(*verb, options);
  verb->footer(
      "Examples, on the demo yard:\n"
      "  holdfast tether models/yard --from lock-hatch --to battery-bay --tether reel-26 --anchor hatch-anchor-1\n"
      "      along the quickest path out, and how to come back so that the tether retracts without snagging: add "
      "--clean\n"
      "  holdfast tether models/yard --hold battery-bay\n"
      "      what holds a bag at the battery bay: waist tethers, and the rails they would be hooked to\n\n"
      "Exit code 1 when the tether is too short or not shown to be long enough, enters a zone that it must not, or "
      "snags.");
  return [&options, tether]() -> ExitCode {
    if (!tether->hold.empty()) return hold(options, *tether);
    if (tether->results.empty() == (tether->way.from.empty() || tether->way.to.empty()))
      throw model::InputError(
          {usage_fault("a route is needed", "", "give results of route --json, or --from and --to, but not both")});
    if (tether->tethers.size() != 1)
      throw model::InputError({usage_fault("--tether and --anchor are needed, one of each", "",
                                           "name a tether of the kit, and where it is hooked on")});
    if (tether->other.empty() != tether->other_tether.empty() || tether->other.empty() != tether->other_anchor.empty())
      throw model::InputError(
          {usage_fault("--other, --other-tether and --other-anchor belong together", "", "give all three, or none")});
    const Yard yard(options);
    if (tether->anchor.empty())
      throw model::InputError({usage_fault("--tether needs --anchor", "", "add --anchor with " + yard.hook_choices())});
    const route::Profile profile{
        .kit = yard.model.kit, .suit = *yard.suit, .closures = {yard.closed_rails(tether->way.closed)}};
    tether::TetherQuestion question{.anchor = tether->anchor, .ways = yard.read_ways(tether->results)};
    question.other_ways = yard.read_ways(tether->other);
    question.tether = &yard.tether(tether->tethers.front());
    if (question.ways.empty()) {
      const auto answer = route::find_route(
          *yard.graph, profile,
          {.from = tether->way.from, .to = tether->way.to, .via = tether->way.via, .by = objective_of(tether->way.by)});
      if (!answer.route()) {
        put_out(options, yard.context(options), answer);
        return NoAnswer;
      }
      question.ways = {route::given_way(yard.model.structure, *answer.route(), "the best route")};
    }
    question.wants_clean_return = tether->clean;
    if (!tether->other.empty()) {
      question.other_tether = &yard.tether(tether->other_tether);
      question.other_anchor = tether->other_anchor;
    }
    const auto check = tether::check_tether(*yard.graph, profile, question);
    put_out(options, yard.context(options), check);
    return is_all_well(check) ? AnswerFound : NoAnswer;
  };
}

}  // namespace holdfast::cli
