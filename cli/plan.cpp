#include "holdfast/report/plan.h"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <charconv>
#include <filesystem>

#include "common.h"
#include "holdfast/model/excursion.h"
#include "holdfast/plan/plan.h"

namespace holdfast::cli {

namespace {

struct PlanOptions {
  std::string excursion;
  std::vector<std::string> closed, loads, slower, longer;
};

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

/// As given, or a file of the model folder.
std::string find_file(const std::string& model, const std::string& name) {
  std::error_code error;
  if (std::filesystem::exists(name, error)) return name;
  const auto beside = std::filesystem::path(model) / name;
  return std::filesystem::exists(beside, error) ? beside.string() : name;
}

}  // namespace

Run add_plan(CLI::App& app, CommonOptions& options) {
  auto* verb = app.add_subcommand("plan", "an excursion simulated: timeline, violations, margins, getting back");
  const auto plan = std::make_shared<PlanOptions>();
  add_structure_options(*verb, options);
  verb->add_option("EXCURSION", plan->excursion, "excursion file; also by its name in the model folder")
      ->required()
      ->check(named());
  add_closures(*verb, plan->closed);
  verb->add_option("--load-change", plan->loads, "what if: this item is another load of the kit")
      ->check(named())
      ->type_name("ITEM=LOAD")
      ->take_all();
  verb->add_option("--slower", plan->slower,
                   "what if: this crew member's translation, handling and work take so many times as long")
      ->check(named())
      ->type_name("CREW=FACTOR")
      ->take_all();
  verb->add_option("--longer", plan->longer, "what if: this task takes so many minutes more")
      ->check(named())
      ->type_name("TASK=MIN")
      ->take_all();
  add_output_options(*verb, options);
  verb->footer(
      "Examples, on the demo yard:\n"
      "  holdfast plan models/yard excursion-short.yaml\n"
      "      six actions of one crew member: timeline, totals, time to get back\n"
      "  holdfast plan models/yard excursion-short.yaml --longer check-window=30 --slower EV1=1.5\n"
      "      the same with a task half an hour longer and a crew member who is slower\n\n"
      "Exit code 1 when there are violations: each has its moment, crew member, numbers and remedy, and the timeline\n"
      "goes on under a stated assumption, so that all are seen at once. What is not assessed is listed.");
  return [&options, plan] {
    Site site(options);
    const auto scene = geometry::build_scene(site.model.structure, site.configuration);
    site.set_aside_buried_rails(scene);
    progress(options, "Reading " + plan->excursion);
    const auto excursion = model::read_excursion(find_file(options.model, plan->excursion), site.model);
    plan::PlanOptions what_if;
    what_if.describes_legs = options.json;
    Changes changes;
    for (const auto& id : plan->closed) {
      if (const auto rail = site.model.structure.find_rail(id)) {
        what_if.closed.push_back(*rail);
        continue;
      }
      std::vector<std::string> known = ids_of(site.model.structure.rails);
      const auto near = model::nearest_names(id, known, 1);
      changes.refuse(
          fmt::format("rail \"{}\" is not in this model", id), id,
          near.empty() ? "name a rail of structure.yaml" : fmt::format("did you mean \"{}\"?", near.front()));
    }
    for (const auto& [item, load] : changes.split(plan->loads, "--load-change", "ITEM=LOAD")) {
      if (!changes.is_known("item", item, ids_of(excursion.items))) continue;
      if (!site.model.kit.find_load(load))
        changes.refuse(fmt::format("load \"{}\" is not in the kit", load), load,
                       fmt::format("its loads: {}", fmt::join(ids_of(site.model.kit.loads), ", ")));
      what_if.load_of[item] = load;
    }
    for (const auto& [crew, text] : changes.split(plan->slower, "--slower", "CREW=FACTOR")) {
      const auto factor = number_of(text);
      if (!factor || !(*factor >= 0.1 && *factor <= 20))
        changes.refuse(fmt::format("--slower {}={}", crew, text), text, "write a factor from 0.1 to 20, such as 1.5");
      else if (changes.is_known("crew member", crew, ids_of(excursion.crew)))
        what_if.slower[crew] = *factor;
    }
    for (const auto& [task, text] : changes.split(plan->longer, "--longer", "TASK=MIN")) {
      const auto minutes = number_of(text);
      if (!minutes || !(*minutes >= 0 && *minutes <= 1440))
        changes.refuse(fmt::format("--longer {}={}", task, text), text, "write minutes, 0 to 1440");
      else if (changes.is_known("task", task, ids_of(excursion.tasks)))
        what_if.longer_s[task] = 60 * *minutes;
    }
    changes.settle();
    progress(options, "Simulating " + excursion.name);
    const auto answer = plan::simulate(site.model, site.configuration, excursion, what_if);
    put_out(options, site.context(options), answer);
    return answer.is_clean() ? AnswerFound : NoAnswer;
  };
}

}  // namespace holdfast::cli
