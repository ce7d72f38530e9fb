// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// Numbers and names in words, as every page has them; for stages that show answers in other forms than text.
//
//   report::duration(61.2);        // "0:01:02"
//
// Times and lengths are rounded up, clearances down.

#include <string>
#include <vector>

#include "holdfast/report/report.h"

namespace holdfast::report {

[[nodiscard]] std::string duration(double seconds);       ///< h:mm:ss, rounded up
[[nodiscard]] std::string duration_down(double seconds);  ///< ... rounded down: what is allowed
/// Two decimals without a unit, for columns.
[[nodiscard]] std::string bare_length_up(double metres);
[[nodiscard]] std::string bare_length_down(double metres);
[[nodiscard]] const char* face_name(route::Face face);
[[nodiscard]] const char* effect_name(model::ZoneEffect effect);
[[nodiscard]] const char* place_kind_word(model::PlaceKind kind);
[[nodiscard]] std::string configuration_words(const model::Configuration& configuration);
/// The same with the numbers that were set for this run: what an answer holds for.
[[nodiscard]] std::string configuration_words(const model::Structure& structure,
                                              const model::Configuration& configuration);
/// What is done in a row: `across a gap of 0.52 m to ..., 1.20 m along`.
[[nodiscard]] std::string action(const Context& context, const route::Row& row);
/// The part and its side that a row is on: `stores drum, zenith to port`.
[[nodiscard]] std::string where_words(const Context& context, const route::Row& row);
/// Which zones a row enters, and which it comes near, a note each.
[[nodiscard]] std::vector<std::string> zone_notes(const Context& context, const route::Row& row);
/// The name of a place that was asked for by its id; the id beside it where others have that name. What is not a place
/// stands as asked.
[[nodiscard]] std::string place_name(const Context& context, const std::string& asked);
/// Rails that nothing uses because they run into a part, a sentence each with what to do about it.
[[nodiscard]] std::vector<std::string> set_aside_sentences(const Context& context);
/// What the crew is told of one stretch of a route, and what must be minded there: cautions and tether swaps.
struct BriefSentence {
  std::size_t stretch = 0;  ///< into Route::stretches
  std::string text;  ///< `Over to the mast, turning 90 deg, toward zenith along its aft side, 3.19 m, at 0:01:43.`
  std::vector<std::string> notes;
};
/// In order. The distance is the sentence's own, the time is that at its end, from the start of the route.
[[nodiscard]] std::vector<BriefSentence> brief_sentences(const Context& context, const route::Route& route);
/// `0.55`, `0.60+` for at least that, `open` where there is no structure.
[[nodiscard]] std::string clearance_cell(const route::LowerBound& bound);
/// What is left of it beyond the suit's corridor, never below 0.
[[nodiscard]] route::LowerBound spare_beyond(const Context& context, const route::LowerBound& bound);
/// The box of a load and how it is carried.
[[nodiscard]] std::string carried_words(const Options& options, const model::Load& load);
/// `crate and tool-bag`, or `none`.
[[nodiscard]] std::string loads_words(const std::vector<std::string>& loads);

}  // namespace holdfast::report
