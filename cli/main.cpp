#include <fmt/format.h>
#include <tbb/global_control.h>

#include <cstdio>
#include <exception>
#include <optional>
#include <thread>

#include "common.h"

namespace {

using namespace holdfast::cli;

/// CLI11 words its errors well but names no remedy: add where help is.
int usage_error(const CLI::App& app, const CLI::ParseError& error, bool json) {
  const auto chosen = app.get_subcommands();
  const std::string help = fmt::format("see holdfast {}--help", chosen.empty() ? "" : chosen.front()->get_name() + " ");
  const std::vector<holdfast::model::Diagnostic> faults = {{{}, "", "usage", error.what(), "", help}};
  if (json)
    std::fputs(holdfast::report::json(faults).c_str(), stdout);
  else
    fmt::print(stderr, "{}", holdfast::report::text(faults));
  return bad_input;
}

}  // namespace

int main(int argc, char** argv) {
  CLI::App app{
      "holdfast finds ways for crew who move hand over hand along handrails outside a structure.\n"
      "A planning aid: flight rules, certified engineers and rehearsal decide.",
      "holdfast"};
  app.set_version_flag("--version", "holdfast " HOLDFAST_VERSION);
  app.require_subcommand(1);
  CommonOptions options;
  const std::vector<std::pair<std::string, Run>> verbs = {{"check", add_check(app, options)},
                                                          {"route", add_route(app, options)}};
  bool json = false;
  for (int i = 1; i < argc; ++i) json = json || std::string_view(argv[i]) == "--json";
  try {
    app.parse(argc, argv);
  } catch (const CLI::Success& help) {
    return app.exit(help);
  } catch (const CLI::ParseError& error) {
    return usage_error(app, error, json);
  }
  try {
    std::optional<tbb::global_control> threads;
    if (options.threads > 0)
      threads.emplace(tbb::global_control::max_allowed_parallelism, static_cast<std::size_t>(options.threads));
    for (const auto& [name, run] : verbs)
      if (app.got_subcommand(name)) {
        const ExitCode code = run();
        if (std::fflush(stdout) != 0) {
          fmt::print(stderr, "standard output cannot be written\n");
          return bad_input;
        }
        return code;
      }
  } catch (const holdfast::model::InputError& error) {
    if (options.json)
      std::fputs(holdfast::report::json(error.diagnostics()).c_str(), stdout);
    else
      fmt::print(stderr, "{}", holdfast::report::text(error.diagnostics()));
    return bad_input;
  } catch (const std::exception& error) {
    fmt::print(stderr,
               "internal fault: {}\n    this is a defect of holdfast, not of the model; keep the model and report it\n",
               error.what());
    return internal_fault;
  }
  return internal_fault;
}
