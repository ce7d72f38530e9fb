#include "holdfast/check/check.h"
#include "common.h"

namespace holdfast::cli {

Run add_check(CLI::App& app, CommonOptions& options) {
  auto* verb = app.add_subcommand("check", "what is wrong or risky in a model, ranked, with numbers");
  add_model_options(*verb, options);
  add_output_options(*verb, options);
  verb->footer(
      "Examples, on the demo yard:\n"
      "  holdfast check models/yard\n"
      "      everything found with all switches in their default positions\n"
      "  holdfast check models/yard --state dish=tracking --csv findings.csv\n"
      "      the same while the dish tracks, and as a table\n\n"
      "Exit code 1 when there are errors; warnings alone exit 0. A value from memory never makes an error by itself.");
  return [&options] {
    const Yard yard(options);
    const auto result = check::check_model(*yard.graph, yard.model.kit, *yard.suit);
    put_out(options, yard.context(options), result);
    for (const auto& finding : result.findings)
      if (finding.severity == check::Severity::Error) return NoAnswer;
    return AnswerFound;
  };
}

}  // namespace holdfast::cli
