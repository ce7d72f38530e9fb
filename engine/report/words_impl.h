#pragma once
// Numbers and names in words, each in one place.

#include <string>

#include "holdfast/report/report.h"

namespace holdfast::report::detail {

[[nodiscard]] std::string duration(double seconds);  ///< h:mm:ss, rounded up
[[nodiscard]] std::string length_up(const Options& options, double metres);
[[nodiscard]] std::string length_down(const Options& options, double metres);
[[nodiscard]] std::string degrees(double radians);      ///< whole degrees
[[nodiscard]] std::string point(const model::Vec3& p);  ///< (x, y, z) in centimetres' precision
[[nodiscard]] const char* face_name(search::Face face);
[[nodiscard]] const char* objective_name(search::Objective by);
[[nodiscard]] const char* effect_name(model::ZoneEffect effect);
[[nodiscard]] const char* confidence_name(model::Confidence confidence);
[[nodiscard]] const char* kind_name(search::CauseKind kind);
[[nodiscard]] const char* kind_name(search::RowKind kind);
[[nodiscard]] const char* kind_name(check::FindingKind kind);
[[nodiscard]] const char* severity_name(check::Severity severity);
[[nodiscard]] std::string configuration_words(const model::Configuration& configuration);
/// What is done in a row: `across a gap of 0.52 m to ..., 1.20 m along`.
[[nodiscard]] std::string action(const Context& context, const search::Row& row);
[[nodiscard]] std::string csv_field(const std::string& field);
/// A number for JSON and CSV: six decimals, no negative zero.
[[nodiscard]] double rounded(double value);

}  // namespace holdfast::report::detail
