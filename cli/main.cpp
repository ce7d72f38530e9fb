// SPDX-License-Identifier: GPL-3.0-or-later
#include <fmt/format.h>
#include <fmt/ranges.h>
#include <tbb/global_control.h>

#include <algorithm>
#include <csignal>
#include <cstdio>
#include <exception>
#include <filesystem>
#include <iostream>
#include <new>
#include <optional>
#include <string_view>

#include "common.h"
#include "holdfast/model/plain_text.h"
#include "memory.h"
#include "version.h"

namespace {

using namespace holdfast::cli;
using holdfast::model::Diagnostic;

/// Faults to standard error, or to standard output as JSON.
ExitCode refuse(std::vector<Diagnostic> faults, bool as_json, ExitCode code = BadInput) {
  for (auto& fault : faults)
    for (auto* words : {&fault.mark.file, &fault.where, &fault.problem, &fault.value, &fault.remedy})
      *words = holdfast::model::with_code_points(*words, words == &fault.remedy);
  if (as_json) std::fputs(holdfast::report::json(faults).c_str(), stdout);
  // Where standard output takes nothing, standard error may.
  if (!as_json || std::fflush(stdout) != 0 || std::ferror(stdout) != 0)
    std::fputs(holdfast::report::text(faults).c_str(), stderr);
  return code;
}

/// The nearest of the known words, when it begins as `word` does.
std::string suggestion(const std::string& word, const std::vector<std::string>& known, std::string otherwise) {
  const auto near = holdfast::model::nearest_names(word, known, 1);
  const auto first_letter = [](const std::string& text) {
    return text.substr(std::min(text.find_first_not_of('-'), text.size()), 1);
  };
  const bool is_like = !near.empty() && first_letter(near.front()) == first_letter(word);
  return is_like ? fmt::format("did you mean {}?", near.front()) : std::move(otherwise);
}

std::vector<std::string> option_names(const CLI::App& verb) {
  std::vector<std::string> names;
  for (const auto* option : verb.get_options())
    for (const auto& name : option->get_lnames()) names.push_back("--" + name);
  return names;
}

/// What is wrong with the command line, in our words: what is not understood comes before what is missing.
Diagnostic usage_fault_of(const CLI::App& app, const CLI::ParseError& error, int argc, char** argv) {
  std::vector<std::string> verbs;
  for (const auto* verb : app.get_subcommands(nullptr)) verbs.push_back(verb->get_name());
  const std::string known_verbs = fmt::format("the verbs are {}; see holdfast --help", fmt::join(verbs, ", "));
  const auto chosen = app.get_subcommands();
  if (chosen.empty()) {
    const auto first =
        std::find_if(argv + 1, argv + argc, [](std::string_view word) { return word.substr(0, 1) != "-"; });
    if (first == argv + argc) return usage_fault("a verb is needed", "", known_verbs);
    return usage_fault(fmt::format("\"{}\" is not a verb of holdfast", *first), *first,
                       suggestion(*first, verbs, known_verbs));
  }
  const CLI::App& verb = *chosen.front();
  const std::string see = fmt::format("see holdfast {} --help", verb.get_name());
  if (const auto early = app.remaining(); !early.empty() && early.front().substr(0, 1) == "-")
    return usage_fault(fmt::format("{} stands before the verb", early.front()), early.front(),
                       fmt::format("write options after it: holdfast {} MODEL ...", verb.get_name()));
  for (const auto* option : verb.get_options())  // an option that took the next option for its value
    for (const auto& value : option->results())
      if (value.substr(0, 2) == "--") return usage_fault(fmt::format("{} needs a value", option->get_name()), "", see);
  if (const auto extras = verb.remaining(); !extras.empty()) {
    const std::string& extra = extras.front();
    if (extra.substr(0, 1) != "-")
      return usage_fault(fmt::format("\"{}\" is one argument too many", extra), extra, see);
    return usage_fault(fmt::format("there is no option {}", extra), extra,
                       suggestion(extra.substr(0, extra.find('=')), option_names(verb), see));
  }
  if (error.get_name() == "RequiredError" && !verb["MODEL"]->count())
    return usage_fault("the model folder is not given", "",
                       fmt::format("write it right after the verb: holdfast {} MODEL ...", verb.get_name()));
  const std::string words = error.what();
  if (const auto at = words.find(" was given a disallowed flag override"); at != std::string::npos)
    return usage_fault(fmt::format("--{} takes no value", words.substr(0, at)), "", see);
  const std::string option = words.substr(0, words.find(':'));
  if (error.get_name() == "ArgumentMismatch" && option != words)
    return usage_fault(words.find("received") != std::string::npos
                           ? fmt::format("{} is given more than once, and takes one value", option)
                           : fmt::format("{} needs a value", option),
                       "", see);
  return usage_fault(words, "", see);
}

Diagnostic output_fault() {
  return {{},
          "",
          "cannot-write",
          "standard output cannot be written",
          "",
          "see that what it goes to has room and stays open"};
}

/// Throws where what was printed did not all arrive.
void require_printed() {
  if (std::fflush(stdout) != 0 || std::ferror(stdout) != 0) throw holdfast::model::InputError({output_fault()});
}

/// Arguments are shown in answers and messages.
std::optional<Diagnostic> unsafe_argument(int argc, char** argv) {
  for (int i = 1; i < argc; ++i)
    if (const auto unsafe = holdfast::model::find_unsafe(argv[i]))
      return usage_fault(fmt::format("argument {} has the character {}, which is not shown", i, unsafe->name), argv[i],
                         "write it without; rename a file or folder that has it in its name");
  return std::nullopt;
}

/// Files that the verb writes, by the type of its options, and those that it reads: whatever else names a file.
void find_files(const CLI::App& verb, CommonOptions& options) {
  std::vector<std::string> inputs;
  for (const auto* option : verb.get_options())
    for (const auto& value : option->results()) {
      std::error_code error;
      if (option->get_type_name() == "FILE")
        options.outputs.push_back({option->get_name(), value});
      else if (std::filesystem::is_regular_file(value, error))
        inputs.push_back(value);
    }
  check_outputs(options.outputs, inputs);
}

ExitCode run(const std::vector<std::pair<std::string, Run>>& verbs, const CLI::App& app, CommonOptions& options) {
  std::optional<tbb::global_control> threads;
  if (options.threads > 0)
    threads.emplace(tbb::global_control::max_allowed_parallelism, static_cast<std::size_t>(options.threads));
  const auto verb =
      std::find_if(verbs.begin(), verbs.end(), [&](const auto& v) { return app.got_subcommand(v.first); });
  holdfast::model::ensure(verb != verbs.end(), "a parsed command line has a verb");
  find_files(*app.get_subcommand(verb->first), options);
  const ExitCode code = verb->second();
  require_printed();
  return code;
}

}  // namespace

int main(int argc, char** argv) {
  prepare_memory();
  CLI::App app{
      "holdfast finds routes for crew who move hand over hand along handrails outside a structure.\n"
      "A planning aid: flight rules, certified engineers and rehearsal decide.",
      "holdfast"};
  app.set_version_flag("--version", version_words(), "the version, how it was built, and its libraries");
  app.set_help_flag("-h,--help", "this help");
  app.get_formatter()->column_width(32);
  app.get_formatter()->label("SUBCOMMAND", "VERB ...");
  app.get_formatter()->label("REQUIRED", "(required)");
  app.require_subcommand(1);
  CommonOptions options;
  const std::vector<std::pair<std::string, Run>> verbs = {
      {"check", add_check(app, options)},     {"route", add_route(app, options)},
      {"compare", add_compare(app, options)}, {"cable", add_cable(app, options)},
      {"tether", add_tether(app, options)},   {"home", add_home(app, options)},
      {"matrix", add_matrix(app, options)},   {"reach", add_reach(app, options)},
      {"sight", add_sight(app, options)},     {"plan", add_plan(app, options)},
      {"order", add_order(app, options)},     {"rails", add_rails(app, options)},
      {"draw", add_draw(app, options)}};
  // Known before parsing: the faults of a command line that cannot be parsed are JSON too.
  const bool as_json = std::any_of(argv, argv + argc, [](std::string_view word) { return word == "--json"; });
  std::signal(SIGXFSZ, SIG_IGN);  // a file that may not grow further is a fault to be told
  if (const auto fault = unsafe_argument(argc, argv)) return refuse({*fault}, as_json);
  try {
    try {
      app.parse(argc, argv);
    } catch (const CLI::Success& help) {
      const int code = app.exit(help);
      if (!std::cout.flush()) throw holdfast::model::InputError({output_fault()});
      require_printed();
      return code;
    }
    return run(verbs, app, options);
  } catch (const CLI::ParseError& error) {
    return refuse({usage_fault_of(app, error, argc, argv)}, as_json);
  } catch (const holdfast::model::InputError& error) {
    return refuse(error.diagnostics(), as_json);
  } catch (const std::bad_alloc&) {
    return refuse(
        {{{},
          "",
          "too-large",
          "memory ran out before there was an answer",
          "",
          "make the model smaller (models/README.md has the limits of size), or give the machine more memory"}},
        as_json);
  } catch (const std::exception& error) {
    return refuse({{{},
                    "",
                    "internal-fault",
                    fmt::format("internal fault: {}", error.what()),
                    "",
                    "this is a defect of holdfast, not of the model; keep the model and report it"}},
                  as_json, InternalFault);
  }
}
