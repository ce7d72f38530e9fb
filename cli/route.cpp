// SPDX-License-Identifier: GPL-3.0-or-later
#include "holdfast/route/route.h"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include "common.h"
#include "holdfast/route/choices.h"
#include "holdfast/tether/tether.h"

namespace holdfast::cli {

namespace {

struct RouteOptions {
  WayOptions way;
  std::vector<std::string> loads;
  std::size_t alternatives = 0;
  bool trade_offs = false;
  bool coordinates = false;
  bool no_price = false;
  bool brief = false;
  std::string tether, anchor;
};

/// In full, or as it is told to the crew.
template <class Result>
void put_out_route(const CommonOptions& options, const RouteOptions& route, const report::Context& context,
                   const Result& result) {
  if (!route.brief || options.json) return put_out(options, context, result);
  if (!options.csv.empty()) report::write_file(options.csv, report::csv(context, result));
  emit(options, report::brief(context, result));
}

}  // namespace

Run add_route(CLI::App& app, CommonOptions& options) {
  auto* verb = app.add_subcommand(
      "route", "the best route from place to place as waypoints with moves and times, or why there is none");
  const auto route = std::make_shared<RouteOptions>();
  add_model_options(*verb, options);
  add_way_options(*verb, route->way);
  verb->add_option("--load", route->loads, "what is carried, from the kit; more than one where two hands allow it")
      ->check(named())
      ->type_name("ID")
      ->take_all();
  verb->add_option("--tether", route->tether,
                   "safety tether: its length is a limit, zones keep its line out; swaps where needed")
      ->check(named())
      ->type_name("ID");
  verb->add_option("--anchor", route->anchor, "where it is hooked on at the start: an anchor, or a rail for tethers")
      ->check(named())
      ->type_name("ID");
  verb->add_option("--alternatives", route->alternatives, "up to this many routes that differ, the best first")
      ->check(whole_number(1, 20))
      ->type_name("K");
  verb->add_flag("--trade-offs", route->trade_offs,
                 "every route that is best in some mix of time, moves, caution and clearance")
      ->disable_flag_override();
  add_no_price(*verb, route->no_price);
  add_output_options(*verb, options);
  verb->add_flag("--coordinates", route->coordinates, "hand coordinates in the text; JSON and CSV always have them")
      ->disable_flag_override()
      ->group("Output");
  verb->add_flag("--brief", route->brief, "the route as it is told to the crew, a sentence for each part and side")
      ->disable_flag_override()
      ->group("Output");
  verb->footer(
      "Examples, on the demo yard:\n"
      "  holdfast route models/yard --from lock-hatch --to dish-service\n"
      "      the quickest route out to the dish\n"
      "  holdfast route models/yard --from lock-hatch --to spur-root --by moves --state dish=tracking --json\n"
      "      to the spur truss with fewest hand moves while the dish tracks, as JSON for another tool\n"
      "  holdfast route models/yard --from lock-hatch --to battery-bay --load bulky-bag --alternatives 3\n"
      "      three routes that differ, with the bulky bag in tow\n"
      "  holdfast route models/yard --from lock-hatch --to battery-bay --tether reel-15 --anchor hatch-anchor-1\n"
      "      on a tether that is too short for the whole path: where tether swaps are needed\n"
      "  holdfast route models/yard --from lock-hatch --to dish-service --brief\n"
      "      the same in words for the crew, without the constants\n\n"
      "Exit code 1 when there is no route: the answer then says why, and what would open one.");
  return [&options, route] {
    if (route->alternatives > 0 && route->trade_offs)
      throw model::InputError(
          {usage_fault("--alternatives and --trade-offs are two questions", "", "ask one at a time")});
    if (route->brief && route->coordinates)
      throw model::InputError(
          {usage_fault("--coordinates are of the table that --brief leaves out", "", "give one of them")});
    const Yard yard(options);
    const route::Profile profile{.kit = yard.model.kit,
                                 .suit = *yard.suit,
                                 .closures = {yard.closed_rails(route->way.closed)},
                                 .loads = yard.loads(route->loads),
                                 .prices_caution = !route->no_price};
    route::RouteRequest request{
        .from = route->way.from, .to = route->way.to, .via = route->way.via, .by = objective_of(route->way.by)};
    if (route->tether.empty() && !route->anchor.empty())
      throw model::InputError({usage_fault("--anchor needs --tether", "",
                                           fmt::format("add --tether with one of the kit's tethers: {}",
                                                       fmt::join(ids_of(yard.model.kit.tethers), ", ")))});
    if (!route->tether.empty() && route->anchor.empty())
      throw model::InputError({usage_fault("--tether needs --anchor", "", "add --anchor with " + yard.hook_choices())});
    if (!route->tether.empty()) {
      if (route->alternatives > 0 || route->trade_offs)
        throw model::InputError({usage_fault("--tether is for one route", "",
                                             "leave --alternatives and --trade-offs out, and check each route with "
                                             "holdfast tether")});
      request.tether = route::TetherRequest{&yard.tether(route->tether), route->anchor};
    }
    const auto context = yard.context(options, route->coordinates);
    if (route->alternatives > 0) {
      if (!request.via.empty())
        throw model::InputError({usage_fault("--alternatives goes from one place to one other", request.via.front(),
                                             "leave --via out, or ask for each leg by itself")});
      const auto choices = route::find_alternative_routes(*yard.graph, profile, request, {.most = route->alternatives});
      put_out_route(options, *route, context, choices);
      return choices.answer.route() ? AnswerFound : NoAnswer;
    }
    if (route->trade_offs) {
      const auto trade_offs = route::find_trade_offs(*yard.graph, profile, request);
      put_out_route(options, *route, context, trade_offs);
      return trade_offs.answer.route() ? AnswerFound : NoAnswer;
    }
    const auto answer = tether::route_on_tether(*yard.graph, profile, request);
    put_out_route(options, *route, context, answer);
    return answer.route() ? AnswerFound : NoAnswer;
  };
}

}  // namespace holdfast::cli
