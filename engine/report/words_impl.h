// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// Numbers and names in words, each in one place.

#include <string>

#include "holdfast/report/report.h"
#include "holdfast/report/words.h"

namespace holdfast::report::detail {

[[nodiscard]] std::string length_up(const Options& options, double metres);
[[nodiscard]] std::string length_down(const Options& options, double metres);
/// The same in millimetres' precision, for what is a few centimetres long.
[[nodiscard]] std::string short_length_up(const Options& options, double metres);
[[nodiscard]] std::string short_length_down(const Options& options, double metres);
[[nodiscard]] std::string feet_and_inches_up(double metres);
[[nodiscard]] std::string feet_and_inches_down(double metres);
[[nodiscard]] std::string degrees(double radians);      ///< whole degrees
[[nodiscard]] std::string point(const model::Vec3& p);  ///< (x, y, z) in centimetres' precision
/// What a result says of its own form in `holdfast`. Raised when keys change; models/schema/CHANGELOG.md lists the
/// changes.
inline constexpr const char* result_format = "result/2";

[[nodiscard]] const char* objective_name(route::Objective by);
/// Behind `least time`, where the price of caution zones counts too.
inline constexpr const char* price_words = " and price of caution zones";
[[nodiscard]] const char* confidence_name(model::Confidence confidence);
[[nodiscard]] const char* kind_name(route::CauseKind kind);
[[nodiscard]] const char* kind_name(route::RowKind kind);
[[nodiscard]] const char* kind_name(check::FindingKind kind);
[[nodiscard]] const char* verdict_name(route::HomeVerdict verdict);
[[nodiscard]] const char* kind_name(cable::NoRunKind kind);
[[nodiscard]] const char* kind_name(cable::TieKind kind);
[[nodiscard]] const char* kind_name(cable::EdgeKind kind);
[[nodiscard]] const char* aim_name(cable::Aim aim);
/// `long-enough`, `too-short`, `not-layable` or `no-run`.
[[nodiscard]] const char* outcome_name(const cable::CableAnswer& answer);
/// `rail stores-line-e-1 at 0.35 m`, `clip hub-1`, `connector stores-plug`.
[[nodiscard]] std::string tie_words(const cable::Tie& tie);
/// The constants of the cable and of the one who lays it, under one head.
[[nodiscard]] route::AnswerHead sources_of(const cable::CableAnswer& answer);
/// ... of every row, each once.
[[nodiscard]] route::AnswerHead sources_of(const cable::CableTable& table);
[[nodiscard]] const char* severity_name(check::Severity severity);
/// `over the zenith side of stores drum`; else `by rails a to b`, those that it alone holds.
[[nodiscard]] std::string way_name(const Context& context, const route::WayMark& mark);
/// The head of a comparison with what all rows share, and the loads and constants of every row, each once.
[[nodiscard]] route::AnswerHead sources_of(const route::Comparison& comparison);
/// What a row stands for among the rows of a comparison: switches, suit and settings, where rows differ in them. Empty
/// where all are the same.
[[nodiscard]] std::string case_words(const route::Comparison& comparison, const route::CompareRow& row);
/// How a row of a comparison differs from the first: where it goes instead, why, and by how much.
[[nodiscard]] const char* how_name(model::CarriedHow how);                  ///< as kits have it
[[nodiscard]] const char* side_name(const route::LoadCarried& carried);     ///< right, left, middle; behind in tow
[[nodiscard]] std::string manner_words(const route::LoadCarried& carried);  ///< `beside the body, on the left`
[[nodiscard]] std::string difference(const Context& context, const route::Comparison& comparison, std::size_t row);
/// Length x width x height of a fraction of a box, rounded down: what is stated of a load that passes must pass.
[[nodiscard]] std::string box_words(const Options& options, const model::Vec3& size_m, double fraction);
/// `waist + waist`.
[[nodiscard]] std::string series_words(const tether::Series& series);
/// Head, refusal and sources of a page about ways; each ends with a line feed.
[[nodiscard]] std::string heading(const Context& context, const route::AnswerHead& head);
[[nodiscard]] std::string refusal(const Context& context, const route::Answer& answer);
[[nodiscard]] std::string assumptions(const Context& context, const route::AnswerHead& head);
/// `CAUTION: 0:00:12 in caution zone view: in the camera's view`.
[[nodiscard]] std::string entered_words(const Context& context, const route::ZoneContact& contact);
/// `caution zone`.
[[nodiscard]] const char* zone_kind(const route::ZoneContact& contact);
/// `dish, no-touch and fragile: 0.34 m away`.
[[nodiscard]] std::string band_words(const Context& context, const route::BandItem& item);
/// The sentences of one of several routes, and its totals.
[[nodiscard]] std::string brief_page(const Context& context, const route::Answer& answer, const route::Route& route);
/// Where a number comes from: `SSP 50005, 14.5.3; from memory, verify`.
[[nodiscard]] std::string origin_words(const model::Quantity& quantity);
/// A line a constant: name, value, unit, and where it comes from.
void write_used(std::string& out, const std::vector<route::UsedValue>& used);
/// Told once where it is known; where it differs from what is known of that name, with whose it is.
void add_used(std::vector<route::UsedValue>& all, route::UsedValue value, const std::string& whose);
/// The sentence of a finding without the source of its design value.
/// What to do about a rail that runs into a part, by where the rail comes from.
[[nodiscard]] std::string remedy_for_rail(const model::Structure& structure, model::RailId rail);
/// Why a rail is not used.
[[nodiscard]] std::string set_aside_words(const Context& context, const check::BuriedRail& set_aside);
[[nodiscard]] std::string finding_words(const Context& context, const check::Finding& finding);
[[nodiscard]] std::string csv_field(const std::string& field);
/// A number for JSON and CSV: six decimals, no negative zero. Positions and what a file states to the nearest; lengths,
/// times and turns up; clearances, margins and what is allowed down, as in text.
[[nodiscard]] double rounded(double value);
[[nodiscard]] double rounded_up(double value);
[[nodiscard]] double rounded_down(double value);
/// True where a finding's value is room or strength that is there, and its limit what is needed: the one is rounded
/// down and the other up. Else the value is what must not be more than the limit.
[[nodiscard]] bool is_room_needed(const check::Finding& finding);

}  // namespace holdfast::report::detail
