#pragma once
// Time to be inside from every moment of an excursion.

#include "simulator_impl.h"

namespace holdfast::plan::detail {

/// Fills `Plan::back` and its worst, and tells what is too late or not proven. Rows of the plan stand in the order in
/// which the moments name them.
void look_back(const model::Model& model, const model::Excursion& excursion, Legs& legs,
               const std::vector<Moment>& moments, const std::vector<Closings>& closings, Plan& plan);

}  // namespace holdfast::plan::detail
