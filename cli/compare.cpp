#include <sstream>

#include "common.h"
#include "holdfast/report/read.h"
#include "holdfast/search/choices.h"

namespace holdfast::cli {

namespace {

struct CompareOptions {
  WayOptions way;
  std::vector<std::string> loads, ways;
};

/// `none`, an id, or several joined by `+`: what one row carries.
std::vector<search::Loads> load_sets(const Yard& yard, const std::vector<std::string>& words) {
  std::vector<search::Loads> sets;
  for (const auto& word : words) {
    if (word == "none") {
      sets.emplace_back();
      continue;
    }
    std::vector<std::string> ids;
    std::stringstream parts(word);
    for (std::string id; std::getline(parts, id, '+');) ids.push_back(id);
    sets.push_back(yard.loads(ids));
  }
  if (sets.empty()) {
    sets.emplace_back();
    for (const auto& load : yard.model.kit.loads) sets.push_back({&load});
  }
  return sets;
}

}  // namespace

Run add_compare(CLI::App& app, CommonOptions& options) {
  auto* verb =
      app.add_subcommand("compare", "the same way with different loads, or given ways held against each other");
  const auto compare = std::make_shared<CompareOptions>();
  add_model_options(*verb, options);
  add_way_options(*verb, compare->way);
  verb->get_option("--from")->required(false);
  verb->get_option("--to")->required(false);
  verb->add_option("--load", compare->loads,
                   "what a row carries: none, a load, or several as A+B; when not given all of them")
      ->check(named())
      ->type_name("ID")
      ->take_all();
  verb->add_option("--way", compare->ways, "ways to hold against each other instead: what route --json printed")
      ->check(named())
      ->type_name("RESULT.json")
      ->take_all();
  add_output_options(*verb, options);
  verb->footer(
      "Examples, on the demo yard:\n"
      "  holdfast compare models/yard --from lock-hatch --to battery-bay --load none --load bulky-bag --load long-bag\n"
      "      what two bags change on the way to the battery bay\n"
      "  holdfast compare models/yard --from lock-hatch --to dish-service --load none --load tool-bag+bulky-bag\n"
      "      with a tool bag at the side and the bulky bag in tow\n\n"
      "The first row is what the others are held against. Exit code 1 when any row has no way.");
  return [&options, compare] {
    if (compare->ways.empty() && (compare->way.from.empty() || compare->way.to.empty()))
      throw model::InputError({usage_fault("--from and --to are needed, or ways to compare", "",
                                           "give both places, or results of route with --way")});
    if (!compare->ways.empty() && !(compare->way.from.empty() && compare->way.to.empty() && compare->way.via.empty()))
      throw model::InputError({usage_fault("--way says where the way goes", "", "leave --from, --to and --via out")});
    const Yard yard(options);
    const search::Profile profile{
        .kit = yard.model.kit, .suit = *yard.suit, .closures = {yard.closed_rails(compare->way.closed)}};
    const search::RouteRequest request{
        .from = compare->way.from, .to = compare->way.to, .via = compare->way.via, .by = objective_of(compare->way.by)};
    search::Comparison comparison;
    if (compare->ways.empty()) {
      comparison = search::compare_loads(*yard.graph, profile, request, load_sets(yard, compare->loads));
    } else {
      const auto ways = yard.read_ways(compare->ways);
      auto loads = compare->loads;
      if (loads.empty()) loads = {"none"};
      comparison = search::compare_ways(*yard.graph, profile, request, ways, load_sets(yard, loads));
    }
    put_out(options, yard.context(options), comparison);
    for (const auto& row : comparison.rows)
      if (!row.answer.route()) return NoAnswer;
    return AnswerFound;
  };
}

}  // namespace holdfast::cli
