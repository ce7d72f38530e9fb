#include "holdfast/search/route.h"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include "common.h"
#include "holdfast/check/check.h"

namespace holdfast::cli {

namespace {

struct RouteOptions {
  std::string from, to;
  std::vector<std::string> via, closed;
  std::string by = "time";
  bool coordinates = false;
};

search::Objective objective_of(const std::string& by) {
  if (by == "distance") return search::Objective::Distance;
  if (by == "moves") return search::Objective::Moves;
  return search::Objective::Time;
}

std::vector<model::RailId> closed_rails(const model::Structure& structure, const std::vector<std::string>& ids) {
  std::vector<model::RailId> rails;
  std::vector<model::Diagnostic> faults;
  std::vector<std::string> known;
  for (const auto& rail : structure.rails) known.push_back(rail.id);
  for (const auto& id : ids) {
    if (const auto rail = structure.find_rail(id)) {
      rails.push_back(*rail);
      continue;
    }
    const auto near = model::nearest_names(id, known);
    faults.push_back(
        {{},
         "",
         "unknown-place",
         fmt::format("rail \"{}\" is not in this model", id),
         id,
         near.empty() ? "name a rail of structure.yaml" : fmt::format("did you mean {}?", fmt::join(near, ", "))});
  }
  if (!faults.empty()) throw model::InputError(std::move(faults));
  return rails;
}

}  // namespace

Run add_route(CLI::App& app, CommonOptions& options) {
  auto* verb = app.add_subcommand(
      "route", "the best way from place to place as waypoints with moves and times, or why there is none");
  const auto route = std::make_shared<RouteOptions>();
  add_model_options(*verb, options);
  verb->add_option("--from", route->from, "where the way starts: a place, a rail, or x,y,z in metres")
      ->required()
      ->check(named())
      ->type_name("PLACE");
  verb->add_option("--to", route->to, "where it ends")->required()->check(named())->type_name("PLACE");
  verb->add_option("--via", route->via, "places to pass on the way, in this order")
      ->check(named())
      ->type_name("PLACE")
      ->take_all();
  verb->add_option("--by", route->by, "what is least: time, distance or moves; time when not given")
      ->check(one_of({"time", "distance", "moves"}))
      ->type_name("AIM");
  verb->add_option("--close", route->closed, "rails that take no hand")->check(named())->type_name("RAIL")->take_all();
  add_output_options(*verb, options);
  verb->add_flag("--coordinates", route->coordinates, "hand coordinates in the text; JSON and CSV always have them")
      ->disable_flag_override()
      ->group("Output");
  verb->footer(
      "Examples, on the demo yard:\n"
      "  holdfast route models/yard --from lock-hatch --to dish-service\n"
      "      the quickest way out to the dish\n"
      "  holdfast route models/yard --from lock-hatch --to spur-root --by moves --state dish=tracking --json\n"
      "      to the spur truss with fewest hand moves while the dish tracks, as JSON for another tool\n\n"
      "Exit code 1 when there is no way: the answer then says why, and what would open one.");
  return [&options, route] {
    const Yard yard(options);
    if (auto faults = check::find_buried_rails(*yard.graph); !faults.empty())
      throw model::InputError(std::move(faults));
    const search::Profile profile{
        .kit = yard.model.kit, .suit = *yard.suit, .closures = {closed_rails(yard.model.structure, route->closed)}};
    const auto answer = search::route(
        *yard.graph, profile, {.from = route->from, .to = route->to, .via = route->via, .by = objective_of(route->by)});
    put_out(options, yard.context(options, route->coordinates), answer);
    return answer.route() ? AnswerFound : NoAnswer;
  };
}

}  // namespace holdfast::cli
