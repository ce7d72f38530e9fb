// SPDX-License-Identifier: GPL-3.0-or-later
#include <deque>
#include <sstream>

#include "common.h"
#include "holdfast/report/read.h"
#include "holdfast/route/choices.h"

namespace holdfast::cli {

namespace {

struct CompareOptions {
  WayOptions way;
  std::vector<std::string> loads, ways, suits;
};

/// What `+` joins. In settings it does so before a name only, so that 1e+5 stays whole.
std::vector<std::string> split(const std::string& word, bool is_setting = false) {
  std::vector<std::string> parts(1);
  for (std::size_t i = 0; i < word.size(); ++i) {
    const bool has_name = i + 1 < word.size() && std::isalpha(static_cast<unsigned char>(word[i + 1])) != 0;
    if (word[i] == '+' && (!is_setting || has_name))
      parts.emplace_back();
    else
      parts.back() += word[i];
  }
  return parts;
}

/// One model in one configuration for one suit, built once for all rows that ask of it.
struct Variant {
  std::vector<std::string> states, settings;
  std::string suit;
};

class Variants {
 public:
  explicit Variants(const CommonOptions& options) : options_(options) {}

  const Yard& yard_of(const Variant& variant) {
    for (const auto& [known, yard] : yards_)
      if (known.states == variant.states && known.settings == variant.settings && known.suit == variant.suit)
        return yard;
    CommonOptions own = options_;
    own.states = variant.states, own.settings = variant.settings, own.suit = variant.suit;
    yards_.emplace_back(std::piecewise_construct, std::forward_as_tuple(variant), std::forward_as_tuple(own));
    return yards_.back().second;
  }

  /// Rails set aside in any of them.
  [[nodiscard]] std::vector<check::BuriedRail> set_aside() const {
    std::vector<check::BuriedRail> rails;
    for (const auto& [variant, yard] : yards_)
      for (const auto& rail : yard.set_aside)
        if (std::none_of(rails.begin(), rails.end(), [&](const auto& known) { return known.rail == rail.rail; }))
          rails.push_back(rail);
    return rails;
  }

 private:
  const CommonOptions& options_;
  std::deque<std::pair<Variant, Yard>> yards_;  // rows keep references to them
};

/// `none`, an id, or several joined by `+`: what one row carries.
std::vector<route::Loads> load_sets(const Yard& yard, const std::vector<std::string>& words) {
  std::vector<route::Loads> sets;
  for (const auto& word : words) {
    if (word == "none")
      sets.emplace_back();
    else
      sets.push_back(yard.loads(split(word)));
  }
  if (sets.empty()) {
    sets.emplace_back();
    for (const auto& load : yard.model.kit.loads) sets.push_back({&load});
  }
  return sets;
}

/// What each given `--state` (or `--set`) makes of one row; one row of what the files say where there is none.
std::vector<std::vector<std::string>> choices_of(const std::vector<std::string>& words, bool are_settings) {
  std::vector<std::vector<std::string>> choices;
  for (const auto& word : words)
    choices.push_back(word == "none" ? std::vector<std::string>() : split(word, are_settings));
  if (choices.empty()) choices.emplace_back();
  return choices;
}

std::vector<Variant> variants_of(const CommonOptions& options, const CompareOptions& compare) {
  std::vector<Variant> variants;
  for (const auto& states : choices_of(options.states, false))
    for (const auto& suit : compare.suits.empty() ? std::vector<std::string>{""} : compare.suits)
      for (const auto& settings : choices_of(options.settings, true)) variants.push_back({states, settings, suit});
  return variants;
}

std::vector<std::string> states_of(const model::Configuration& configuration) {
  std::vector<std::string> states;
  for (const auto& [id, position] : configuration.positions) states.push_back(id + "=" + position);
  return states;
}

}  // namespace

Run add_compare(CLI::App& app, CommonOptions& options) {
  auto* verb = app.add_subcommand(
      "compare", "one question for several loads, configurations, suits or settings; or given routes, side by side");
  const auto compare = std::make_shared<CompareOptions>();
  add_model_options(*verb, options);
  verb->remove_option(verb->get_option("--suit"));
  verb->add_option("--suit", compare->suits, "suit of the kit, one row each; its first one when not given")
      ->type_name("ID")
      ->check(named())
      ->take_all();
  verb->get_option("--state")->description("a configuration, one row each: A=B, or A=B+C=D; none: the defaults");
  verb->get_option("--set")->description("numbers set for a row: A=1, or A=1+B=2; none: as in the files");
  add_way_options(*verb, compare->way);
  verb->get_option("--from")->required(false);
  verb->get_option("--to")->required(false);
  verb->add_option("--load", compare->loads, "what a row carries: none, a load, or several as A+B")
      ->check(named())
      ->type_name("ID")
      ->take_all();
  verb->add_option("--way", compare->ways, "results of route to compare instead, each where it was found")
      ->check(named())
      ->type_name("RESULT.json")
      ->take_all();
  add_output_options(*verb, options);
  verb->footer(
      "Examples, on the demo yard:\n"
      "  holdfast compare models/yard --from lock-hatch --to battery-bay --load none --load bulky-bag --load long-bag\n"
      "      what two bags change on the way to the battery bay\n"
      "  holdfast compare models/yard --from lock-hatch --to spur-root --state dish=parked --state dish=tracking\n"
      "      what the tracking dish changes, stretch by stretch\n"
      "  holdfast compare models/yard --from lock-hatch --to spur-root --set none --set "
      "suits.standard.rate_free_m_s=0.15\n"
      "      what a slower rate changes\n\n"
      "Each row is compared with the first. Without --load every load of the kit has a row, or none where rows differ "
      "in\n"
      "something else. Exit code 1 when any row has no route.");
  return [&options, compare] {
    if (compare->ways.empty() && (compare->way.from.empty() || compare->way.to.empty()))
      throw model::InputError({usage_fault("--from and --to are needed, or routes to compare", "",
                                           "give both places, or results of route with --way")});
    if (!compare->ways.empty() && !(compare->way.from.empty() && compare->way.to.empty() && compare->way.via.empty()))
      throw model::InputError({usage_fault("--way says where the route goes", "", "leave --from, --to and --via out")});
    if (!compare->ways.empty() && compare->way.by != "time")
      throw model::InputError(
          {usage_fault("--way gives the routes, so that nothing is minimised", "--by", "leave --by out")});
    const route::RouteRequest request{
        .from = compare->way.from, .to = compare->way.to, .via = compare->way.via, .by = objective_of(compare->way.by)};
    std::vector<Variant> variants = variants_of(options, *compare);
    Variants built(options);
    std::vector<route::CompareCase> cases;
    const auto add_cases = [&](const Yard& yard, const std::optional<route::GivenWay>& given,
                               const std::vector<std::string>& loads) {
      for (const auto& set : load_sets(yard, loads))
        cases.push_back({yard.graph.get(),
                         {.kit = yard.model.kit,
                          .suit = *yard.suit,
                          .closures = {yard.closed_rails(compare->way.closed)},
                          .loads = set},
                         given});
    };
    auto loads = compare->loads;
    if (loads.empty() && (variants.size() > 1 || !compare->ways.empty())) loads = {"none"};
    // What all rows share: names, and the numbers set for all of them.
    CommonOptions shared = options;
    shared.states.clear();
    shared.settings = options.settings.size() == 1 ? variants.front().settings : std::vector<std::string>();
    const Site site(shared);
    for (const auto& way : site.read_ways(compare->ways))
      for (Variant variant : variants) {
        // A route is asked about where it was found, unless the command says where.
        if (options.states.empty() && way.configuration) variant.states = states_of(*way.configuration);
        if (compare->suits.empty()) variant.suit = way.suit;
        add_cases(built.yard_of(variant), way, loads);
      }
    if (compare->ways.empty())
      for (const auto& variant : variants) add_cases(built.yard_of(variant), std::nullopt, loads);
    const bool is_one_graph =
        std::all_of(cases.begin(), cases.end(), [&](const auto& one) { return one.graph == cases.front().graph; });
    route::Comparison comparison;
    if (is_one_graph && compare->ways.empty()) {
      std::vector<route::Loads> sets;
      for (const auto& one : cases) sets.push_back(one.profile.loads);
      comparison = route::compare_loads(*cases.front().graph, cases.front().profile, request, sets);
    } else {
      comparison = route::compare_cases(cases, request);
    }
    auto context = site.context(options);
    context.set_aside = built.set_aside();
    put_out(options, context, comparison);
    for (const auto& row : comparison.rows)
      if (!row.answer.route()) return NoAnswer;
    return AnswerFound;
  };
}

}  // namespace holdfast::cli
