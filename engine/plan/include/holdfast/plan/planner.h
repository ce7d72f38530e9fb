// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// Plans of one model asked one after the other: what they share (scenes, graphs, legs, sweeps, lines pulled tight) is
// computed once.
//
//   plan::Planner planner(model, configuration);
//   const auto first = planner.simulate(excursion);
//   const auto longer = planner.simulate(excursion, {.longer_s = {{"valve", 600}}});   // what if
//
// Each answer is the one that `plan::simulate` gives, to the byte. Of one thread at a time.

#include <memory>

#include "holdfast/plan/plan.h"

namespace holdfast::plan {

class Planner {
 public:
  /// Keeps references: the model, and `first` (the scene of `configuration`, or null), must outlive it.
  Planner(const model::Model& model, const model::Configuration& configuration, const geometry::Scene* first = nullptr);
  ~Planner();
  Planner(Planner&&) noexcept;
  Planner& operator=(Planner&&) = delete;

  /// As `plan::simulate`. Memory grows with what is asked: make another one for another model.
  [[nodiscard]] Plan simulate(const model::Excursion& excursion, const PlanOptions& options = {});

 private:
  struct Kept;
  std::unique_ptr<Kept> kept_;
};

}  // namespace holdfast::plan
