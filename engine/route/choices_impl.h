// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// Shared by the questions that answer with several ways.

#include <optional>
#include <span>

#include "holdfast/route/choices.h"
#include "holdfast/route/loads.h"
#include "loaded_route_impl.h"
#include "question_impl.h"

namespace holdfast::route::detail {

/// The side on which `way` goes farthest beyond what any of the others goes there, from 0.3 m on; and its own rails.
[[nodiscard]] WayMark find_mark(const Route& way, std::span<const Route* const> others);

/// The steps, among the constants that the answer used.
void add_differ_by(Answer& answer, const model::DesignValues& design);

/// No more than `by` apart in any criterion.
[[nodiscard]] bool is_within(const DifferBy& by, const Route& a, double a_clearance_m, const Route& b,
                             double b_clearance_m);

/// Goes along a side of a part, for 1 m at least, that none of the others holds for 0.3 m.
[[nodiscard]] bool has_other_side(const Route& way, std::span<const Route* const> others);

/// The grips and moves of a route of this graph.
[[nodiscard]] std::vector<LegWay> legs_of(const graph::HandrailGraph& graph, const Route& route);

/// Sees to it that a request of several searches over the same loads has a cache for them.
class KeptLoads {
 public:
  /// Requires: `request` outlives this, or is not used after it.
  KeptLoads(const graph::HandrailGraph& graph, const Profile& profile, RouteRequest& request) {
    if (profile.loads.empty()) return;
    if (!request.load_cache) request.load_cache = &own_.emplace(graph, profile.loads);
    space_ = &request.load_cache->space();
  }
  KeptLoads(const KeptLoads&) = delete;
  KeptLoads& operator=(const KeptLoads&) = delete;
  [[nodiscard]] LoadSpace* space() const { return space_; }  ///< null without loads

 private:
  std::optional<LoadCache> own_;
  LoadSpace* space_ = nullptr;
};

/// The grips and moves of a way that is given. Throws as `compare_ways`.
[[nodiscard]] std::vector<LegWay> find_given(const graph::HandrailGraph& graph, const GivenWay& given);

/// Rails in the order they are held.
[[nodiscard]] std::vector<model::RailId> rails_of(const Route& route);

}  // namespace holdfast::route::detail
