// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// What the simulation and the search over orders ask alike of an excursion.

#include <utility>
#include <vector>

#include "holdfast/plan/plan.h"
#include "sites_impl.h"

namespace holdfast::plan::detail {

[[nodiscard]] route::Objective objective_of(model::LegAim aim);

/// Nights cut to [from, to], in order.
[[nodiscard]] std::vector<std::pair<double, double>> nights_between(const model::Orbit& orbit, double from_s,
                                                                    double to_s);
/// Windows that the task needs, in order, abutting ones as one.
[[nodiscard]] std::vector<std::pair<double, double>> open_times(const model::Excursion& excursion,
                                                                const model::Task& task);

/// By how much slower than usual somebody is in translation, handling and work.
[[nodiscard]] double factor_of(const PlanOptions& options, const model::CrewMember& member);
/// Of one who is as quick as usual.
[[nodiscard]] double duration_of(const PlanOptions& options, const model::Task& task);
/// Violations that follow from no other.
[[nodiscard]] std::size_t count_own_violations(const Plan& plan);

/// The item's, or what `options` makes of it.
[[nodiscard]] const model::Load& load_of_item(const model::Kit& kit, const model::Excursion& excursion,
                                              const PlanOptions& options, ItemId item);
/// Whether one crew member can carry these at once, in any manner.
[[nodiscard]] bool can_carry_all(const std::vector<const model::Load*>& loads);

/// A restraint of this size as it stands in its socket.
[[nodiscard]] Obstacle obstacle_in_socket(const model::Structure& structure, const model::Socket& socket,
                                          const model::Configuration& configuration, const Vec3& size_m);
/// Grips within `reach_m` of what is handled, from which the body stays clear of its box; of these those at `place`
/// alone, where there are any.
[[nodiscard]] std::vector<GripId> grips_to_handle(const Site& site, const model::Structure& structure,
                                                  const model::Kit& kit, double reach_m, const Obstacle& obstacle,
                                                  std::optional<model::PlaceId> place);

/// Throws `model::InputError` (`absent-place`) where the excursion begins at a place without a grip.
void check_starts(Legs& legs, const model::Model& model, const model::Configuration& configuration,
                  const model::Excursion& excursion);

}  // namespace holdfast::plan::detail
