// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// Names of what `rails` finds, for text, JSON and the table alike.

#include "holdfast/report/rails.h"

namespace holdfast::report::detail {

[[nodiscard]] const char* sureness_name(rails::Sureness sureness);
[[nodiscard]] const char* shape_name(rails::SectionShape shape);
[[nodiscard]] const char* reason_name(rails::ReasonKind kind);
/// All reasons of a rail in one line, without sources.
[[nodiscard]] std::string reasons_words(const rails::FoundRail& rail);
/// `48 x 35`, rounded up.
[[nodiscard]] std::string section_words(const rails::FoundRail& rail);

}  // namespace holdfast::report::detail
