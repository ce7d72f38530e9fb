// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// What every verb shares: the model, its configuration, and how an answer leaves the program.

#include <CLI/CLI.hpp>
#include <functional>
#include <memory>
#include <string>
#include <vector>

#include "holdfast/geometry/scene.h"
#include "holdfast/graph/handrail_graph.h"
#include "holdfast/model/model_size.h"
#include "holdfast/model/read.h"
#include "holdfast/report/report.h"
#include "holdfast/route/answer.h"
#include "holdfast/route/choices.h"
#include "holdfast/store/store.h"

namespace holdfast::cli {

enum ExitCode { AnswerFound = 0, NoAnswer = 1, BadInput = 2, InternalFault = 3 };

/// A file that the command line says to write.
struct Output {
  std::string option;  ///< `--csv`
  std::string file;
};

struct CommonOptions {
  std::string model;
  std::vector<std::string> states;
  std::vector<std::string> settings;
  std::string suit;
  bool json = false;
  std::string csv;
  std::string units = "metric";
  int threads = 0;
  bool quiet = false;
  std::vector<std::string> limits;
  bool no_cache = false;
  std::vector<Output> outputs;  ///< filled in by `main`: what options of type FILE name
};

/// MODEL and the configuration that it is in.
void add_structure_options(CLI::App& verb, CommonOptions& options);
/// ... and what says who moves.
void add_model_options(CLI::App& verb, CommonOptions& options);
void add_json_option(CLI::App& verb, CommonOptions& options);
void add_quiet_option(CLI::App& verb, CommonOptions& options);
/// How the answer is put out, and on how many threads it is found. Added last, so that `--help` lists them last.
void add_output_options(CLI::App& verb, CommonOptions& options);

/// Accepts these words alone, and says so.
[[nodiscard]] CLI::Validator one_of(std::vector<std::string> words);
[[nodiscard]] CLI::Validator whole_number(int least, int most);
/// Refuses the next option taken for a value (`--from --to x`), and nothing at all.
[[nodiscard]] CLI::Validator named();

/// From where to where, and what is least.
struct WayOptions {
  std::string from, to;
  std::vector<std::string> via, closed;
  std::string by = "time";
};
void add_way_options(CLI::App& verb, WayOptions& way);
/// `--no-price`: caution zones cost nothing beside the time in them.
void add_no_price(CLI::App& verb, bool& no_price);
/// `--close`: rails that take no hand.
void add_closures(CLI::App& verb, std::vector<std::string>& closed);
[[nodiscard]] route::Objective objective_of(const std::string& by);

/// Where what takes long is kept from run to run; empty where the environment names no place.
[[nodiscard]] std::string store_folder();

/// Contents of a plain file that the command line names. Throws `model::InputError` (`missing-file`, `unreadable-file`,
/// `too-large`).
[[nodiscard]] std::string read_whole(const std::string& path);

/// Nothing is written over what is read, nothing twice, and all can be written: looked at before anything is computed.
/// `inputs`: files that the command line names to be read. Throws `model::InputError`: usage, `cannot-write`.
void check_outputs(const std::vector<Output>& outputs, const std::vector<std::string>& inputs);

/// An answer to standard output, JSON or text: characters that would act on a terminal as code points.
void emit(const CommonOptions& options, const std::string& out);

/// One line on standard error, when that is a terminal and --quiet is not given.
void progress(const CommonOptions& options, const std::string& what);

/// A fault of the command line; a remedy stands where there is one.
[[nodiscard]] model::Diagnostic usage_fault(std::string problem, std::string value, std::string remedy);
/// An id that the kit does not have; the remedy names those it has. `kind`: `suit`, `load`, `cable` or `tether`.
[[nodiscard]] model::Diagnostic not_in_kit(const std::string& kind, const std::string& id,
                                           const std::vector<std::string>& known);
template <class Things>
[[nodiscard]] std::vector<std::string> ids_of(const Things& things) {
  std::vector<std::string> ids;
  for (const auto& thing : things) ids.push_back(thing.id);
  return ids;
}

/// The model read, and the configuration that is asked for. Throws `model::InputError`: `unknown-switch`,
/// `unknown-kit`.
struct Site {
  explicit Site(const CommonOptions& options);
  model::SizeLimits limits;
  std::unique_ptr<store::Store> store;  ///< none with --no-cache
  model::Model model;
  const model::Suit* suit = nullptr;
  model::Configuration configuration;

  /// The routes in results of `route`, file by file. Throws `model::InputError`: `missing-file`, `wrong-result`.
  [[nodiscard]] std::vector<route::GivenWay> read_ways(const std::vector<std::string>& files) const;
  /// Rails that run into a solid of the scene take no hand, hook or tie from here on, and every answer says so.
  void set_aside_buried_rails(const geometry::Scene& scene);
  /// The solids in a configuration of the model, from the store where they are kept.
  [[nodiscard]] geometry::Scene build_scene(const CommonOptions& options, const model::Configuration& in,
                                            const geometry::SceneOptions& how = {}) const;
  /// Tells on the terminal what could not be kept, or was kept and could not be used; each once.
  void tell_of_store(const CommonOptions& options) const;
  mutable std::size_t told_of_store = 0;  ///< incidents
  std::vector<check::BuriedRail> set_aside;
  [[nodiscard]] report::Context context(const CommonOptions& options, bool coordinates = false) const;
};

/// A site with its scene and graph built for one suit and configuration; kept together, so that references stay good.
struct Yard : Site {
  explicit Yard(const CommonOptions& options);
  std::unique_ptr<geometry::Scene> scene;
  std::unique_ptr<graph::HandrailGraph> graph;

  /// Throws `model::InputError`: `unknown-kit`, `unknown-place`.
  [[nodiscard]] std::vector<const model::Load*> loads(const std::vector<std::string>& ids) const;
  [[nodiscard]] const model::Tether& tether(const std::string& id) const;
  /// Where a tether may be hooked on in this configuration, for remedies.
  [[nodiscard]] std::string hook_choices() const;
  [[nodiscard]] std::vector<model::RailId> closed_rails(const std::vector<std::string>& ids) const;
};

/// Writes the answer to standard output, and its table to the file of --csv, when one is given.
template <class Result>
void put_out(const CommonOptions& options, const report::Context& context, const Result& result) {
  if (!options.csv.empty()) report::write_file(options.csv, report::csv(context, result));
  emit(options, options.json ? report::json(context, result) : report::text(context, result));
}

/// Verbs: each adds its options and returns what runs it.
using Run = std::function<ExitCode()>;
Run add_cable(CLI::App& app, CommonOptions& options);
Run add_check(CLI::App& app, CommonOptions& options);
Run add_compare(CLI::App& app, CommonOptions& options);
Run add_draw(CLI::App& app, CommonOptions& options);
Run add_home(CLI::App& app, CommonOptions& options);
Run add_matrix(CLI::App& app, CommonOptions& options);
Run add_order(CLI::App& app, CommonOptions& options);
Run add_rails(CLI::App& app, CommonOptions& options);
Run add_reach(CLI::App& app, CommonOptions& options);
Run add_plan(CLI::App& app, CommonOptions& options);
Run add_route(CLI::App& app, CommonOptions& options);
Run add_sight(CLI::App& app, CommonOptions& options);
Run add_tether(CLI::App& app, CommonOptions& options);

}  // namespace holdfast::cli
