// SPDX-License-Identifier: GPL-3.0-or-later
#include "holdfast/route/home.h"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <charconv>

#include "common.h"

namespace holdfast::cli {

namespace {

struct HomeOptions {
  std::vector<std::string> to, loads, closed;
  std::string along;
  double limit_min = 0;  ///< 0: the kit's
  bool no_price = false;
};

CLI::Validator minutes() {
  return CLI::Validator(
      [](std::string& text) {
        double value = 0;
        const auto [end, error] = std::from_chars(text.data(), text.data() + text.size(), value);
        const bool is_good = error == std::errc{} && end == text.data() + text.size() && value > 0 && value <= 1440;
        return is_good ? std::string()
                       : fmt::format("\"{}\" is not a number of minutes, above 0 and at most 1440", text);
      },
      "");
}

/// Every hatch that the configuration has.
std::vector<std::string> all_hatches(const Yard& yard) {
  std::vector<std::string> hatches;
  for (const auto& place : yard.model.structure.places)
    if (place.kind == model::PlaceKind::Hatch && yard.model.structure.is_present(place, yard.configuration))
      hatches.push_back(place.id);
  if (!hatches.empty()) return hatches;
  throw model::InputError({usage_fault("--to is required", "", "this model has no hatch: name a place")});
}

bool is_back(route::HomeVerdict verdict) {
  return verdict == route::HomeVerdict::Within || verdict == route::HomeVerdict::Near;
}

}  // namespace

Run add_home(CLI::App& app, CommonOptions& options) {
  auto* verb = app.add_subcommand("home", "how long it takes to be back at the hatch, from everywhere");
  const auto home = std::make_shared<HomeOptions>();
  add_model_options(*verb, options);
  verb->add_option("--to", home->to, "where home is, the nearest of several; every hatch when not given")
      ->check(named())
      ->type_name("PLACE")
      ->take_all();
  verb->add_option("--along", home->along, "from each waypoint of this route: what route --json printed")
      ->check(named())
      ->type_name("RESULT.json");
  verb->add_option("--limit", home->limit_min, "minutes to be back inside; the kit's emergency return when not given")
      ->check(minutes())
      ->type_name("MIN");
  verb->add_option("--load", home->loads, "what is brought home, from the kit: an incapacitated crew member, say")
      ->check(named())
      ->type_name("ID")
      ->take_all();
  add_closures(*verb, home->closed);
  add_no_price(*verb, home->no_price);
  add_output_options(*verb, options);
  verb->footer(
      "Examples, on the demo yard:\n"
      "  holdfast home models/yard --to lock-hatch --state arm=reaching --close spur-cross-a-1\n"
      "      from every place and grip, with the arm out and a rail closed\n"
      "  holdfast home models/yard --limit 45 --csv home.csv --state arm=reaching\n"
      "      against a limit of one's own, and as a table\n\n"
      "With --load crew-member: how long it takes with an incapacitated crew member along, or how far one gets and\n"
      "what is too tight there. With --along: time home and margin at each waypoint of a route.\n\n"
      "Exit code 1 when a place or waypoint is too far or has no path home.");
  return [&options, home] {
    const Yard yard(options);
    const route::Profile profile{.kit = yard.model.kit,
                                 .suit = *yard.suit,
                                 .closures = {yard.closed_rails(home->closed)},
                                 .loads = yard.loads(home->loads),
                                 .prices_caution = !home->no_price};
    route::HomeRequest request;
    request.hatches = home->to.empty() ? all_hatches(yard) : home->to;
    request.limit_s = yard.model.kit.design.emergency_return_s;
    request.warn_s = yard.model.kit.design.emergency_warn_s;
    if (home->limit_min > 0) request.limit_s = 60 * home->limit_min, request.warn_s = request.limit_s * 2 / 3;
    if (!home->along.empty()) {
      const auto ways = yard.read_ways({home->along});
      if (ways.size() != 1)
        throw model::InputError({usage_fault(fmt::format("{} holds {} routes", home->along, ways.size()), home->along,
                                             "give a result that holds one: what route --json printed without "
                                             "--alternatives or --trade-offs")});
      const auto along = route::compute_home_along(*yard.graph, profile, request, ways.front());
      put_out(options, yard.context(options), along);
      for (const auto& point : along.waypoints)
        if (!is_back(point.verdict)) return NoAnswer;
      return AnswerFound;
    }
    const auto answer = route::compute_home(*yard.graph, profile, request);
    put_out(options, yard.context(options), answer);
    for (const auto& place : answer.places)
      if (!is_back(place.verdict)) return NoAnswer;
    return AnswerFound;
  };
}

Run add_matrix(CLI::App& app, CommonOptions& options) {
  auto* verb = app.add_subcommand("matrix", "times, distances and hand moves from every place to every other");
  const auto matrix = std::make_shared<HomeOptions>();
  const auto by = std::make_shared<std::string>("time");
  add_model_options(*verb, options);
  verb->add_option("--by", *by, "what is least, and shown in the text: time, distance or moves; time when not given")
      ->check(one_of({"time", "distance", "moves"}))
      ->type_name("AIM");
  add_closures(*verb, matrix->closed);
  add_no_price(*verb, matrix->no_price);
  add_output_options(*verb, options);
  verb->footer(
      "Examples, on the demo yard:\n"
      "  holdfast matrix models/yard\n"
      "      times of the routes that `route` gives\n"
      "  holdfast matrix models/yard --by moves --csv matrix.csv\n"
      "      fewest hand moves; the table has time, distance and moves of these paths");
  return [&options, matrix, by] {
    const Yard yard(options);
    model::check_places(yard.model.structure, yard.limits);
    const auto answer = route::compute_matrix(*yard.graph,
                                              {.kit = yard.model.kit,
                                               .suit = *yard.suit,
                                               .closures = {yard.closed_rails(matrix->closed)},
                                               .prices_caution = !matrix->no_price},
                                              objective_of(*by));
    put_out(options, yard.context(options), answer);
    return AnswerFound;
  };
}

}  // namespace holdfast::cli
