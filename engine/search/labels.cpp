// SPDX-License-Identifier: GPL-3.0-or-later
#include "holdfast/search/labels.h"

#include "holdfast/search/label_search.h"

namespace holdfast::search {

LimitedPath find_limited_path(const graph::Adjacency& adjacency, std::span<const Cost> costs,
                              const LimitedRequest& request) {
  PlainSpace grips;
  return find_limited_path_in(grips, adjacency, costs, request);
}

ParetoSet find_pareto_paths(const graph::Adjacency& adjacency, std::span<const Cost> costs,
                            const ParetoRequest& request) {
  PlainSpace grips;
  return find_pareto_paths_in(grips, adjacency, costs, request);
}

}  // namespace holdfast::search
