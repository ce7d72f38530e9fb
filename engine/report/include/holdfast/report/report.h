#pragma once
// Answers as text for people, JSON for tools and CSV for spreadsheets. Nothing upstream formats anything; nothing here
// computes.
//
//   std::fputs(report::text(context, answer).c_str(), stdout);
//
// Durations print as h:mm:ss and lengths in metres, both rounded up; clearances are rounded down. JSON and CSV are SI.

#include <string>
#include <vector>

#include "holdfast/check/check.h"
#include "holdfast/model/kit.h"
#include "holdfast/model/structure.h"
#include "holdfast/search/answer.h"

namespace holdfast::report {

inline constexpr std::string_view caution = "A planning aid: flight rules, certified engineers and rehearsal decide.";

struct Options {
  bool imperial = false;     ///< feet and inches beside metres (text only)
  bool coordinates = false;  ///< hand coordinates in the waypoint table (text only; JSON and CSV always have them)
};

/// What every answer is reported against. Keeps references, which must outlive it.
struct Context {
  const model::Structure& structure;
  const model::Kit& kit;
  const model::Suit& suit;
  std::string model_name;  ///< the folder as given
  std::string engine_version;
  Options options = {};
};

[[nodiscard]] std::string text(const Context& context, const search::Answer& answer);
[[nodiscard]] std::string json(const Context& context, const search::Answer& answer);
/// One row a waypoint, RFC 4180, with a header line. A refusal has the header alone.
[[nodiscard]] std::string csv(const Context& context, const search::Answer& answer);

[[nodiscard]] std::string text(const Context& context, const check::CheckResult& result);
[[nodiscard]] std::string json(const Context& context, const check::CheckResult& result);
[[nodiscard]] std::string csv(const Context& context, const check::CheckResult& result);

/// Faults of the input, one clickable line each with its remedy, or as `errors/1` JSON.
[[nodiscard]] std::string text(const std::vector<model::Diagnostic>& diagnostics);
[[nodiscard]] std::string json(const std::vector<model::Diagnostic>& diagnostics);

/// The sentence for one reason why there is no route; the same in text and JSON.
[[nodiscard]] std::string sentence(const Context& context, const search::Cause& cause);
[[nodiscard]] std::string sentence(const Context& context, const check::Finding& finding);

/// Whole or not at all: written beside the target under another name, then renamed. Throws `model::InputError`
/// (`cannot-write`).
void write_file(const std::string& path, const std::string& contents);

}  // namespace holdfast::report
