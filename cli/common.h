#pragma once
// What every verb shares: the model, its configuration, and how an answer leaves the program.

#include <CLI/CLI.hpp>
#include <memory>
#include <string>
#include <vector>

#include "holdfast/geometry/scene.h"
#include "holdfast/graph/handrail_graph.h"
#include "holdfast/model/read.h"
#include "holdfast/report/report.h"

namespace holdfast::cli {

enum ExitCode { answer_found = 0, no_answer = 1, bad_input = 2, internal_fault = 3 };

struct CommonOptions {
  std::string model;
  std::vector<std::string> states;
  std::string suit;
  bool json = false;
  std::string csv;
  std::string units = "metric";
  int threads = 0;
  bool quiet = false;
};

/// MODEL and the options common to all verbs.
void add_common_options(CLI::App& verb, CommonOptions& options);

/// One line on standard error, when that is a terminal and --quiet is not given.
void progress(const CommonOptions& options, const std::string& what);

/// The model read, its scene and graph built for one suit and configuration; kept together, so that references stay
/// good.
struct Yard {
  explicit Yard(const CommonOptions& options);
  model::Model model;
  const model::Suit* suit = nullptr;
  model::Configuration configuration;
  std::unique_ptr<geometry::Scene> scene;
  std::unique_ptr<graph::HandrailGraph> graph;

  [[nodiscard]] report::Context context(const CommonOptions& options, bool coordinates = false) const;
};

/// Verbs: each adds its options and returns what runs it.
using Run = std::function<ExitCode()>;
Run add_check(CLI::App& app, CommonOptions& options);
Run add_route(CLI::App& app, CommonOptions& options);

}  // namespace holdfast::cli
