// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// Answers as text for people, JSON for tools and CSV for spreadsheets. Nothing upstream formats anything; nothing here
// computes.
//
//   std::fputs(report::text(context, answer).c_str(), stdout);
//
// Durations print as h:mm:ss and lengths in metres, both rounded up; clearances are rounded down. JSON and CSV are SI.

#include <string>
#include <vector>

#include "holdfast/cable/cable.h"
#include "holdfast/check/check.h"
#include "holdfast/model/kit.h"
#include "holdfast/model/structure.h"
#include "holdfast/model/write_file.h"
#include "holdfast/route/answer.h"
#include "holdfast/route/choices.h"
#include "holdfast/route/home.h"
#include "holdfast/tether/tether.h"

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
  std::vector<check::BuriedRail> set_aside = {};  ///< rails that nothing here uses: said in every answer
};

[[nodiscard]] std::string text(const Context& context, const route::Answer& answer);
[[nodiscard]] std::string json(const Context& context, const route::Answer& answer);
/// One row a waypoint, RFC 4180, with a header line. A refusal has the header alone.
[[nodiscard]] std::string csv(const Context& context, const route::Answer& answer);

/// The route as it is told to the crew: one sentence a part and side of it, cautions and tether swaps where they fall,
/// without constants and digests. A refusal as in `text`. Of several ways: the table, then each so.
[[nodiscard]] std::string brief(const Context& context, const route::Answer& answer);
[[nodiscard]] std::string brief(const Context& context, const route::Alternatives& choices);
[[nodiscard]] std::string brief(const Context& context, const route::TradeOffs& trade_offs);

/// Several ways: a table to choose from, then each in full; CSV has the ways' rows, with the number of the way.
[[nodiscard]] std::string text(const Context& context, const route::Alternatives& choices);
[[nodiscard]] std::string json(const Context& context, const route::Alternatives& choices);
[[nodiscard]] std::string csv(const Context& context, const route::Alternatives& choices);

/// A table and a chart; CSV has one row a way.
[[nodiscard]] std::string text(const Context& context, const route::TradeOffs& trade_offs);
[[nodiscard]] std::string json(const Context& context, const route::TradeOffs& trade_offs);
[[nodiscard]] std::string csv(const Context& context, const route::TradeOffs& trade_offs);

/// One table, and in words what the differences are.
[[nodiscard]] std::string text(const Context& context, const route::Comparison& comparison);
[[nodiscard]] std::string json(const Context& context, const route::Comparison& comparison);
[[nodiscard]] std::string csv(const Context& context, const route::Comparison& comparison);

[[nodiscard]] std::string text(const Context& context, const route::WeakPoints& weak);
[[nodiscard]] std::string json(const Context& context, const route::WeakPoints& weak);
[[nodiscard]] std::string csv(const Context& context, const route::WeakPoints& weak);

/// CSV has one row a place.
[[nodiscard]] std::string text(const Context& context, const route::Home& home);
[[nodiscard]] std::string json(const Context& context, const route::Home& home);
[[nodiscard]] std::string csv(const Context& context, const route::Home& home);

/// CSV has one row a waypoint.
[[nodiscard]] std::string text(const Context& context, const route::HomeAlong& along);
[[nodiscard]] std::string json(const Context& context, const route::HomeAlong& along);
[[nodiscard]] std::string csv(const Context& context, const route::HomeAlong& along);

/// CSV has a square for each of time, distance and moves, one below the other, told apart by its first column.
[[nodiscard]] std::string text(const Context& context, const route::Matrix& matrix);
[[nodiscard]] std::string json(const Context& context, const route::Matrix& matrix);
[[nodiscard]] std::string csv(const Context& context, const route::Matrix& matrix);

/// A cable's run: ties, bends, verdict and the laying of it; CSV has one row a tie.
[[nodiscard]] std::string text(const Context& context, const cable::CableAnswer& answer);
[[nodiscard]] std::string json(const Context& context, const cable::CableAnswer& answer);
[[nodiscard]] std::string csv(const Context& context, const cable::CableAnswer& answer);
/// One row a cable and pair of connectors.
[[nodiscard]] std::string text(const Context& context, const cable::CableTable& table);
[[nodiscard]] std::string json(const Context& context, const cable::CableTable& table);
[[nodiscard]] std::string csv(const Context& context, const cable::CableTable& table);
[[nodiscard]] std::string sentence(const Context& context, const cable::NoRunCause& cause);

/// CSV has one row a waypoint.
[[nodiscard]] std::string text(const Context& context, const tether::TetherCheck& check);
[[nodiscard]] std::string json(const Context& context, const tether::TetherCheck& check);
[[nodiscard]] std::string csv(const Context& context, const tether::TetherCheck& check);

/// CSV has one row a series and hook.
[[nodiscard]] std::string text(const Context& context, const tether::Positioning& positioning);
[[nodiscard]] std::string json(const Context& context, const tether::Positioning& positioning);
[[nodiscard]] std::string csv(const Context& context, const tether::Positioning& positioning);

struct WrittenFile {
  std::string kind;  ///< `html`, `svg` or `glb`
  std::string file;  ///< as given
  std::size_t bytes = 0;
  int scale = 0;  ///< of a sheet, 1:scale; else 0
};
/// What was drawn, and into which files.
struct Drawn {
  model::Configuration configuration;
  std::size_t ways = 0;
  std::vector<WrittenFile> files;
};
[[nodiscard]] std::string text(const Context& context, const Drawn& drawn);
[[nodiscard]] std::string json(const Context& context, const Drawn& drawn);

[[nodiscard]] std::string text(const Context& context, const check::CheckResult& result);
[[nodiscard]] std::string json(const Context& context, const check::CheckResult& result);
[[nodiscard]] std::string csv(const Context& context, const check::CheckResult& result);

/// Faults of the input, one clickable line each with its remedy, or as `errors/1` JSON.
[[nodiscard]] std::string text(const std::vector<model::Diagnostic>& diagnostics);
[[nodiscard]] std::string json(const std::vector<model::Diagnostic>& diagnostics);

/// The sentence for one reason why there is no route; the same in text and JSON.
[[nodiscard]] std::string sentence(const Context& context, const route::Cause& cause);
[[nodiscard]] std::string sentence(const Context& context, const check::Finding& finding);

using model::write_file;

}  // namespace holdfast::report
