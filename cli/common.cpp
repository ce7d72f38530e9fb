#include "common.h"

#include <fmt/format.h>
#include <fmt/ranges.h>
#include <unistd.h>

#include <cstdio>

namespace holdfast::cli {

void add_common_options(CLI::App& verb, CommonOptions& options) {
  verb.add_option("MODEL", options.model, "model folder: structure.yaml, kit.yaml and the files they name")->required();
  verb.add_option("--state", options.states, "set a switch: SWITCH=POSITION; the others keep their defaults")
      ->type_name("SWITCH=POSITION")
      ->take_all();
  verb.add_option("--suit", options.suit, "suit of the kit; the first one when not given")->type_name("ID");
  verb.add_flag("--json", options.json, "one JSON document on standard output");
  verb.add_option("--csv", options.csv, "write a table to this file as well")->type_name("FILE");
  verb.add_option("--units", options.units, "imperial adds feet and inches to the text")
      ->check(CLI::IsMember({"metric", "imperial"}))
      ->capture_default_str();
  verb.add_option("--threads", options.threads, "processor threads; 0 takes all. The answer is the same on any number")
      ->check(CLI::Range(0, 1024))
      ->capture_default_str();
  verb.add_flag("--quiet", options.quiet, "no progress on standard error");
}

void progress(const CommonOptions& options, const std::string& what) {
  if (!options.quiet && isatty(STDERR_FILENO)) fmt::print(stderr, "{}\n", what);
}

Yard::Yard(const CommonOptions& options) {
  progress(options, "Reading " + options.model);
  model = model::read_model(options.model);
  configuration = model::configure(model.structure, options.states);
  suit = options.suit.empty() ? &model.kit.suits.front() : model.kit.find_suit(options.suit);
  if (!suit) {
    std::vector<std::string> ids;
    for (const auto& s : model.kit.suits) ids.push_back(s.id);
    throw model::InputError({{{},
                              "",
                              "unknown-kit",
                              fmt::format("suit \"{}\" is not in the kit", options.suit),
                              options.suit,
                              fmt::format("its suits: {}", fmt::join(ids, ", "))}});
  }
  progress(options, fmt::format("Building {} parts", model.structure.parts.size()));
  scene = std::make_unique<geometry::Scene>(geometry::build_scene(model.structure, configuration));
  progress(options, fmt::format("Finding moves on {} rails", model.structure.rails.size()));
  graph = std::make_unique<graph::HandrailGraph>(
      graph::build_handrail_graph(*scene, graph::body_of(*suit, model.kit.design)));
}

report::Context Yard::context(const CommonOptions& options, bool coordinates) const {
  return {model.structure, model.kit,        *suit,
          options.model,   HOLDFAST_VERSION, {.imperial = options.units == "imperial", .coordinates = coordinates}};
}

}  // namespace holdfast::cli
