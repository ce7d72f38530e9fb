// SPDX-License-Identifier: GPL-3.0-or-later
#include "common.h"

#include <fmt/format.h>
#include <fmt/ranges.h>
#include <unistd.h>

#include <algorithm>
#include <charconv>
#include <cstdio>
#include <cstdlib>
#include <filesystem>
#include <map>

#include "holdfast/check/check.h"
#include "holdfast/check/kept_buried.h"
#include "holdfast/geometry/kept_scene.h"
#include "holdfast/geometry/size.h"
#include "holdfast/graph/kept_graph.h"
#include "holdfast/model/output_file.h"
#include "holdfast/model/plain_file.h"
#include "holdfast/model/plain_text.h"
#include "holdfast/report/read.h"
#include "holdfast/route/hooks.h"

namespace holdfast::cli {

namespace fs = std::filesystem;

namespace {

constexpr int most_threads = 1024;

/// A switch that is set twice: which of the two was meant?
void check_states(const std::vector<std::string>& states) {
  std::map<std::string, std::string> seen;
  for (const auto& state : states) {
    const std::string id = state.substr(0, state.find('='));
    const auto [entry, is_new] = seen.emplace(id, state);
    if (!is_new && entry->second != state)
      throw model::InputError(
          {usage_fault(fmt::format("switch \"{}\" is set twice: {} and {}", id, entry->second, state), state,
                       "give one position for each switch")});
  }
}

}  // namespace

CLI::Validator whole_number(int least, int most) {
  return CLI::Validator(
      [least, most](std::string& text) {
        int count = 0;
        const auto [end, error] = std::from_chars(text.data(), text.data() + text.size(), count);
        const bool is_good =
            error == std::errc{} && end == text.data() + text.size() && count >= least && count <= most;
        return is_good ? std::string() : fmt::format("\"{}\" is not a whole number from {} to {}", text, least, most);
      },
      "");
}

CLI::Validator one_of(std::vector<std::string> words) {
  return CLI::Validator(
      [words = std::move(words)](std::string& text) {
        if (std::find(words.begin(), words.end(), text) != words.end()) return std::string();
        return fmt::format("\"{}\" is none of {}", text, fmt::join(words, ", "));
      },
      "");
}

CLI::Validator named() {
  return CLI::Validator(
      [](std::string& text) {
        if (text.empty()) return std::string("needs a value");
        if (text.substr(0, 2) == "--") return fmt::format("needs a value before {}", text);
        return std::string();
      },
      "");
}

void add_structure_options(CLI::App& verb, CommonOptions& options) {
  verb.group("Verbs");
  verb.add_option("MODEL", options.model, "model folder: structure.yaml, kit.yaml and the files they name")
      ->required()
      ->check(named())
      ->type_name("");
  verb.add_option("--state", options.states, "set a switch; the others keep their defaults")
      ->type_name("SWITCH=POSITION")
      ->check(named())
      ->take_all();
  verb.add_option("--set", options.settings, "a number of kit or structure for this run, as suits.large.reach_m=0.5")
      ->type_name("PATH=NUMBER")
      ->check(named())
      ->allow_extra_args(false)
      ->take_all();
  verb.add_option("--size-limit", options.limits,
                  "raise a limit: of grips, moves, triangles, places, ties, rail-points")
      ->type_name("WHAT=NUMBER")
      ->check(named())
      ->allow_extra_args(false)
      ->take_all();
  verb.add_flag("--no-cache", options.no_cache,
                "neither read nor keep what takes long in $XDG_CACHE_HOME/holdfast (~/.cache/holdfast)")
      ->disable_flag_override();
}

void add_model_options(CLI::App& verb, CommonOptions& options) {
  add_structure_options(verb, options);
  verb.add_option("--suit", options.suit, "suit of the kit; its first one when not given")
      ->type_name("ID")
      ->check(named());
}

void add_json_option(CLI::App& verb, CommonOptions& options) {
  verb.add_flag("--json", options.json, "one JSON document instead (models/schema/result.schema.json)")
      ->disable_flag_override()
      ->group("Output");
}

void add_quiet_option(CLI::App& verb, CommonOptions& options) {
  verb.add_flag("--quiet", options.quiet, "no progress on the terminal")->disable_flag_override()->group("Output");
}

void add_output_options(CLI::App& verb, CommonOptions& options) {
  constexpr const char* group = "Output";
  verb.add_option("--units", options.units, "metric, or imperial: feet and inches beside metres in the text")
      ->type_name("UNITS")
      ->check(one_of({"metric", "imperial"}))
      ->group(group);
  add_json_option(verb, options);
  verb.add_option("--csv", options.csv, "write the table to this file as well")
      ->type_name("FILE")
      ->check(named())
      ->group(group);
  verb.add_option("--threads", options.threads, "processor threads, 0 for all; the answer is the same on any number")
      ->type_name("N")
      ->check(whole_number(0, most_threads))
      ->group(group);
  add_quiet_option(verb, options);
}

void add_closures(CLI::App& verb, std::vector<std::string>& closed) {
  verb.add_option("--close", closed, "rails that take no hand")->check(named())->type_name("RAIL")->take_all();
}

void add_no_price(CLI::App& verb, bool& no_price) {
  verb.add_flag("--no-price", no_price,
                "time in caution zones counts as any other: the quickest path, through them too")
      ->disable_flag_override();
}

void add_way_options(CLI::App& verb, WayOptions& way) {
  verb.add_option("--from", way.from, "where the route starts: a place, a rail, or x,y,z in metres")
      ->required()
      ->check(named())
      ->type_name("PLACE");
  verb.add_option("--to", way.to, "where it ends")->required()->check(named())->type_name("PLACE");
  verb.add_option("--via", way.via, "places to pass on the route, in this order")
      ->check(named())
      ->type_name("PLACE")
      ->take_all();
  verb.add_option("--by", way.by, "what is least: time, distance or moves; time when not given")
      ->check(one_of({"time", "distance", "moves"}))
      ->type_name("AIM");
  add_closures(verb, way.closed);
}

route::Objective objective_of(const std::string& by) {
  if (by == "distance") return route::Objective::Distance;
  if (by == "moves") return route::Objective::Moves;
  return route::Objective::Time;
}

std::string store_folder() {
  if (const char* cache = std::getenv("XDG_CACHE_HOME"); cache && cache[0] == '/')
    return std::string(cache) + "/holdfast";
  if (const char* home = std::getenv("HOME"); home && home[0] == '/') return std::string(home) + "/.cache/holdfast";
  return {};
}

std::string read_whole(const std::string& path) {
  auto file = model::read_plain_file(path);
  const auto refuse = [&](std::string code, std::string problem, std::string remedy) {
    throw model::InputError({{{.file = path}, "", std::move(code), std::move(problem), path, std::move(remedy)}});
  };
  switch (file.fault) {
    case model::FileFault::None:
      break;
    case model::FileFault::Missing:
    case model::FileFault::Unreadable:
      refuse("missing-file", "this file cannot be read", "give what holdfast printed with --json");
      break;
    case model::FileFault::NotPlain:
      refuse("unreadable-file", "this is not a plain file", "give what holdfast printed with --json, kept in a file");
      break;
    case model::FileFault::TooLarge:
      refuse("too-large", fmt::format("this file is larger than {} MiB", model::largest_file_bytes >> 20),
             "give what holdfast printed with --json");
      break;
  }
  return std::move(file.bytes);
}

namespace {

/// The same file by name, link or hard link.
bool is_same_file(const std::string& one, const std::string& other) {
  std::error_code error;
  if (fs::equivalent(one, other, error)) return true;
  const auto place = [](const std::string& file) {
    std::error_code failed;
    const auto path = fs::weakly_canonical(fs::absolute(file), failed);
    return failed ? fs::path(file) : path;
  };
  return place(one) == place(other);
}

}  // namespace

void check_outputs(const std::vector<Output>& outputs, const std::vector<std::string>& inputs) {
  for (std::size_t i = 0; i < outputs.size(); ++i) {
    for (std::size_t k = 0; k < i; ++k)
      if (is_same_file(outputs[i].file, outputs[k].file))
        throw model::InputError({usage_fault(
            fmt::format("{} and {} name the same file: {}", outputs[k].option, outputs[i].option, outputs[i].file),
            outputs[i].file, "give each a file of its own")});
    for (const auto& input : inputs)
      if (is_same_file(outputs[i].file, input))
        throw model::InputError(
            {usage_fault(fmt::format("{} would write over {}, which is read", outputs[i].option, input),
                         outputs[i].file, "name another file")});
  }
  for (const auto& output : outputs) model::check_writable(output.file);
}

void emit(const CommonOptions& options, const std::string& out) {
  std::fputs((options.json ? model::with_json_escapes(out) : model::with_code_points(out, true)).c_str(), stdout);
}

void progress(const CommonOptions& options, const std::string& what) {
  if (!options.quiet && isatty(STDERR_FILENO)) fmt::print(stderr, "{}\n", what);
}

model::Diagnostic not_in_kit(const std::string& kind, const std::string& id, const std::vector<std::string>& known) {
  return {{},
          "",
          "unknown-kit",
          fmt::format("{} \"{}\" is not in the kit", kind, id),
          id,
          known.empty() ? fmt::format("add it to kit.yaml under {}s", kind)
                        : fmt::format("its {}s: {}", kind, fmt::join(known, ", "))};
}

model::Diagnostic usage_fault(std::string problem, std::string value, std::string remedy) {
  return {{}, "", "usage", std::move(problem), std::move(value), std::move(remedy)};
}

Site::Site(const CommonOptions& options) {
  check_states(options.states);
  for (const auto& limit : options.limits) model::set_limit(limits, limit);
  const auto keep = [&](const std::string& file) {
    for (const auto& output : options.outputs)
      if (is_same_file(output.file, (fs::path(options.model) / file).string()))
        throw model::InputError({usage_fault(fmt::format("{} would write over the model", output.option), output.file,
                                             "name another file")});
  };
  for (const char* file : {"structure.yaml", "kit.yaml"}) keep(file);
  progress(options, "Reading " + options.model);
  model = model::read_model(options.model, options.settings);
  for (const auto& file : model.structure.files) keep(file.path);
  configuration = model::configure(model.structure, options.states);
  suit = options.suit.empty() ? &model.kit.suits.front() : model.kit.find_suit(options.suit);
  if (!suit) {
    throw model::InputError({not_in_kit("suit", options.suit, ids_of(model.kit.suits))});
  }
  model::check_rails(model.structure, model.kit, *suit, configuration, limits);
  geometry::check_triangles(model.structure, configuration, limits);
  if (const auto folder = store_folder(); !options.no_cache && !folder.empty())
    store = std::make_unique<store::Store>(folder);
}

geometry::Scene Site::build_scene(const CommonOptions& options, const model::Configuration& in,
                                  const geometry::SceneOptions& how) const {
  progress(options, fmt::format("Building {} parts", model.structure.parts.size()));
  auto scene = geometry::build_scene(model.structure, in, how, store.get());
  tell_of_store(options);
  return scene;
}

void Site::tell_of_store(const CommonOptions& options) const {
  if (!store) return;
  const auto incidents = store->incidents();
  for (; told_of_store < incidents.size(); ++told_of_store) {
    const auto& [kind, file, why] = incidents[told_of_store];
    progress(options,
             kind == store::IncidentKind::Unusable
                 ? fmt::format("Computed again, because what was kept is damaged or of other content: {}", file)
                 : fmt::format("Not kept for the next run: {}: {}", file, why));
  }
}

Yard::Yard(const CommonOptions& options) : Site(options) {
  scene = std::make_unique<geometry::Scene>(build_scene(options, configuration));
  progress(options, fmt::format("Finding moves on {} rails", model.structure.rails.size()));
  set_aside_buried_rails(*scene);
  graph = std::make_unique<graph::HandrailGraph>(
      graph::build_handrail_graph(*scene, graph::body_of(*suit, model.kit.design), store.get()));
  tell_of_store(options);
}

std::vector<const model::Load*> Yard::loads(const std::vector<std::string>& ids) const {
  std::vector<const model::Load*> loads;
  std::vector<model::Diagnostic> faults;
  for (const auto& id : ids) {
    if (const auto* load = model.kit.find_load(id))
      loads.push_back(load);
    else
      faults.push_back(not_in_kit("load", id, ids_of(model.kit.loads)));
  }
  if (!faults.empty()) throw model::InputError(std::move(faults));
  return loads;
}

const model::Tether& Yard::tether(const std::string& id) const {
  if (const auto* tether = model.kit.find_tether(id)) return *tether;
  throw model::InputError({not_in_kit("tether", id, ids_of(model.kit.tethers))});
}

std::string Yard::hook_choices() const { return route::hook_choices(*graph); }

std::vector<model::RailId> Yard::closed_rails(const std::vector<std::string>& ids) const {
  const model::Structure& structure = model.structure;
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

std::vector<route::GivenWay> Site::read_ways(const std::vector<std::string>& files) const {
  std::vector<route::GivenWay> ways;
  for (const auto& file : files)
    for (auto& way : report::read_ways(file, read_whole(file), model.structure, model.kit))
      ways.push_back(std::move(way));
  return ways;
}

void Site::set_aside_buried_rails(const geometry::Scene& scene) {
  set_aside = check::find_buried_rails(scene, store.get());
  for (const auto& rail : set_aside) model.structure.rails[rail.rail.index()].use = {false, false, false};
}

report::Context Site::context(const CommonOptions& options, bool coordinates) const {
  return {model.structure, model.kit,        *suit,
          options.model,   HOLDFAST_VERSION, {.imperial = options.units == "imperial", .coordinates = coordinates},
          set_aside};
}

}  // namespace holdfast::cli
