// SPDX-License-Identifier: GPL-3.0-or-later
#include "what_if.h"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <charconv>
#include <filesystem>

#include "holdfast/report/read.h"

namespace holdfast::cli {

namespace {

/// NAME=VALUE, split at the last equals sign.
struct Change {
  std::string name, value;
};

class Changes {
 public:
  /// The texts of one option; `form` is how it is written, for faults.
  std::vector<Change> split(const std::vector<std::string>& texts, const std::string& option, const std::string& form) {
    std::vector<Change> changes;
    for (const auto& text : texts) {
      const auto equals = text.rfind('=');
      if (equals == std::string::npos || equals == 0 || equals + 1 == text.size())
        refuse(fmt::format("{} {} changes nothing", option, text), text, fmt::format("write {} {}", option, form));
      else
        changes.push_back({text.substr(0, equals), text.substr(equals + 1)});
    }
    return changes;
  }
  bool is_known(const std::string& kind, const std::string& id, const std::vector<std::string>& known) {
    if (std::find(known.begin(), known.end(), id) != known.end()) return true;
    const auto near = model::nearest_names(id, known, 1);
    refuse(fmt::format("{} \"{}\" is not in this excursion", kind, id), id,
           near.empty() ? fmt::format("one of: {}", fmt::join(known, ", "))
                        : fmt::format("did you mean \"{}\"?", near.front()));
    return false;
  }
  void refuse(std::string problem, std::string value, std::string remedy) {
    faults_.push_back(usage_fault(std::move(problem), std::move(value), std::move(remedy)));
  }
  void settle() {
    if (!faults_.empty()) throw model::InputError(std::move(faults_));
  }

 private:
  std::vector<model::Diagnostic> faults_;
};

std::optional<double> number_of(const std::string& text) {
  double value = 0;
  const auto [end, error] = std::from_chars(text.data(), text.data() + text.size(), value);
  return error == std::errc{} && end == text.data() + text.size() ? std::optional(value) : std::nullopt;
}

std::string find_file(const std::string& model, const std::string& name) {
  std::error_code error;
  if (std::filesystem::exists(name, error)) return name;
  const auto beside = std::filesystem::path(model) / name;
  return std::filesystem::exists(beside, error) ? beside.string() : name;
}

}  // namespace

void add_what_if(CLI::App& verb, WhatIf& what_if) {
  add_closures(verb, what_if.closed);
  verb.add_option("--load-change", what_if.loads, "what if: this item is another load of the kit")
      ->check(named())
      ->type_name("ITEM=LOAD")
      ->take_all();
  verb.add_option("--slower", what_if.slower,
                  "what if: this crew member's translation, handling and work take so many times as long")
      ->check(named())
      ->type_name("CREW=FACTOR")
      ->take_all();
  verb.add_option("--longer", what_if.longer, "what if: this task takes so many minutes more")
      ->check(named())
      ->type_name("TASK=MIN")
      ->take_all();
}

plan::PlanOptions read_what_if(const WhatIf& what_if, const model::Model& model, const model::Excursion& excursion) {
  plan::PlanOptions options;
  Changes changes;
  for (const auto& id : what_if.closed) {
    if (const auto rail = model.structure.find_rail(id)) {
      options.closed.push_back(*rail);
      continue;
    }
    const auto near = model::nearest_names(id, ids_of(model.structure.rails), 1);
    changes.refuse(fmt::format("rail \"{}\" is not in this model", id), id,
                   near.empty() ? "name a rail of structure.yaml" : fmt::format("did you mean \"{}\"?", near.front()));
  }
  for (const auto& [item, load] : changes.split(what_if.loads, "--load-change", "ITEM=LOAD")) {
    if (!changes.is_known("item", item, ids_of(excursion.items))) continue;
    if (!model.kit.find_load(load))
      changes.refuse(fmt::format("load \"{}\" is not in the kit", load), load,
                     fmt::format("its loads: {}", fmt::join(ids_of(model.kit.loads), ", ")));
    options.load_of[item] = load;
  }
  for (const auto& [crew, text] : changes.split(what_if.slower, "--slower", "CREW=FACTOR")) {
    const auto factor = number_of(text);
    if (!factor || !(*factor >= 0.1 && *factor <= 20))
      changes.refuse(fmt::format("--slower {}={}", crew, text), text, "write a factor from 0.1 to 20, such as 1.5");
    else if (changes.is_known("crew member", crew, ids_of(excursion.crew)))
      options.slower[crew] = *factor;
  }
  for (const auto& [task, text] : changes.split(what_if.longer, "--longer", "TASK=MIN")) {
    const auto minutes = number_of(text);
    if (!minutes || !(*minutes >= 0 && *minutes <= 1440))
      changes.refuse(fmt::format("--longer {}={}", task, text), text, "write minutes, 0 to 1440");
    else if (changes.is_known("task", task, ids_of(excursion.tasks)))
      options.longer_s[task] = 60 * *minutes;
  }
  changes.settle();
  for (const auto& item : excursion.items) {
    if (item.laid_file.empty()) continue;
    auto stage = report::read_stage(item.laid_file, read_whole(item.laid_file), model.structure, model.kit);
    if (!stage.run || stage.run->cable != item.cable)
      throw model::InputError(
          {{item.mark, "items", "laid-elsewhere",
            fmt::format("item \"{}\": \"{}\" does not lay cable {} as far as a coil", item.id, item.laid_file,
                        item.cable),
            item.laid_file, "give what `holdfast cable --cable ID --from CONNECTOR --to PLACE --json` printed"}});
    options.laid.emplace(item.id, std::move(*stage.run));
  }
  return options;
}

void add_excursion(CLI::App& verb, std::string& excursion) {
  verb.add_option("EXCURSION", excursion, "excursion file; also by its name in the model folder")
      ->required()
      ->check(named());
}

model::Excursion read_excursion_of(const CommonOptions& options, const Site& site, const std::string& name) {
  progress(options, "Reading " + name);
  const std::string file = find_file(options.model, name);
  const auto keep = [&](const std::string& input, const std::string& what) {
    for (const auto& output : options.outputs) {
      std::error_code error;
      if (std::filesystem::equivalent(output.file, input, error))
        throw model::InputError({usage_fault(fmt::format("{} would write over {}", output.option, what), output.file,
                                             "name another file")});
    }
  };
  keep(file, "the excursion");
  auto excursion = model::read_excursion(file, site.model);
  for (const auto& item : excursion.items)
    if (!item.laid_file.empty()) keep(item.laid_file, fmt::format("what lays the cable of \"{}\"", item.id));
  return excursion;
}

}  // namespace holdfast::cli
