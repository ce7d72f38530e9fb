#pragma once
// Why a leg cannot be made: which rule, where, by how much, and what would open a way.

#include <vector>

#include "ends_impl.h"
#include "holdfast/search/answer.h"
#include "holdfast/search/costs.h"

namespace holdfast::search::detail {

struct FailedLeg {
  std::size_t index = 0;
  const End& from;
  const End& to;
  std::vector<graph::GripId>
      sources;  ///< grips of `from` that the legs before reach; all of its grips on the first leg
};

/// Causes in the order of design.md 14, never empty. Requires: no way exists from `sources` to the grips of `to`.
[[nodiscard]] std::vector<Cause> explain(const graph::HandrailGraph& graph, const Profile& profile, Objective objective,
                                         const FailedLeg& leg);

}  // namespace holdfast::search::detail
