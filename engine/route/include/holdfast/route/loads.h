// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// Where many questions follow with the same loads on the same graph: what was swept once is kept.
//
//   route::LoadCache cache(graph, {kit.find_load("crate")});
//   route::find_route(graph, profile, {.from = "a", .to = "b", .load_cache = &cache});
//
// Holds for one graph (one configuration, one suit) and one list of loads; closures, zones that bodies and hands keep
// out of, and the objective may change. Not for several threads at once.

#include <cstddef>
#include <memory>
#include <vector>

#include "holdfast/graph/handrail_graph.h"
#include "holdfast/model/kit.h"

namespace holdfast::route {

namespace detail {
class LoadSpace;
}

class LoadCache {
 public:
  /// Keeps references to the graph and the loads. Throws as `check_loads`.
  LoadCache(const graph::HandrailGraph& graph, std::vector<const model::Load*> loads);
  ~LoadCache();
  LoadCache(LoadCache&&) noexcept;
  LoadCache& operator=(LoadCache&&) noexcept;

  [[nodiscard]] std::size_t sweep_count() const;  ///< made so far
  [[nodiscard]] detail::LoadSpace& space() { return *space_; }

 private:
  std::unique_ptr<detail::LoadSpace> space_;
};

}  // namespace holdfast::route
