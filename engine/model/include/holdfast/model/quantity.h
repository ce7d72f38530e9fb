// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// Numbers with their origin.

#include <optional>
#include <string>
#include <utility>
#include <vector>

namespace holdfast::model {

/// How far a number may be trusted.
enum class Confidence {
  Published,   ///< seen in the document's own text
  Secondary,   ///< seen in a text that quotes the document
  Computed,    ///< closed form
  Memory,      ///< from memory, verify; never the sole ground of a verdict
  Practice,    ///< common practice, no source
  Assumption,  ///< chosen for this kit; calibrate
};

/// A number with its origin. Converts to its value.
struct Quantity {
  double value = 0;
  std::string source;
  Confidence confidence = Confidence::Assumption;
  std::optional<std::pair<double, double>> spread = std::nullopt;  ///< low and high that `value` may well be
  // NOLINTNEXTLINE(google-explicit-constructor): a quantity is used wherever its number is
  operator double() const { return value; }
};

/// A list of numbers with one origin.
struct QuantityList {
  std::vector<double> values;
  std::string source;
  Confidence confidence = Confidence::Assumption;
};

}  // namespace holdfast::model
