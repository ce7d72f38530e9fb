// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// Time to be inside from every moment of an excursion.

#include "simulator_impl.h"

namespace holdfast::plan::detail {

/// Fills `Plan::back` and its worst, and tells what is too late or not proven: at every moment of either crew member
/// and every throw, for both. Rows of the plan stand in the order in which the moments name them.
void look_back(const model::Model& model, const model::Excursion& excursion, Legs& legs, const History& history,
               Plan& plan);

/// Fills `Plan::out_of_sight` and what belongs to it.
void look_for_each_other(const model::Model& model, const model::Excursion& excursion, Legs& legs,
                         const History& history, Plan& plan);

/// `simulate` over legs that were asked before, with the optional tasks that `options` drops left out.
[[nodiscard]] Plan simulate_with(Legs& legs, const model::Model& model, const model::Configuration& configuration,
                                 const model::Excursion& excursion, const PlanOptions& options);

/// Fill `Plan::legs` and `Plan::stays`. Require: rows stand in their final order.
void describe_legs(Legs& legs, const model::Model& model, Plan& plan);
void follow_items(const model::Model& model, Plan& plan);

}  // namespace holdfast::plan::detail
