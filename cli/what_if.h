// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// What plan and order ask alike: an excursion, and what of it may be otherwise.

#include <string>
#include <vector>

#include "common.h"
#include "holdfast/model/excursion.h"
#include "holdfast/plan/plan.h"

namespace holdfast::cli {

struct WhatIf {
  std::vector<std::string> closed, loads, slower, longer;
};
void add_what_if(CLI::App& verb, WhatIf& what_if);

/// Throws `model::InputError` with all faults: names that are not there, and numbers out of range.
[[nodiscard]] plan::PlanOptions read_what_if(const WhatIf& what_if, const model::Model& model,
                                             const model::Excursion& excursion);

/// EXCURSION.
void add_excursion(CLI::App& verb, std::string& excursion);
/// A file as given, or of the model folder. Throws `model::InputError` with all faults.
[[nodiscard]] model::Excursion read_excursion_of(const CommonOptions& options, const Site& site,
                                                 const std::string& name);

}  // namespace holdfast::cli
