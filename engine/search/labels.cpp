#include "holdfast/search/labels.h"

#include "labels_impl.h"

namespace holdfast::search {

LimitedWay find_limited_way(const graph::Adjacency& adjacency, std::span<const Cost> costs,
                            const LimitedRequest& request) {
  detail::PlainSpace grips;
  return detail::find_limited_way_in(grips, adjacency, costs, request);
}

ParetoSet find_pareto_ways(const graph::Adjacency& adjacency, std::span<const Cost> costs,
                           const ParetoRequest& request) {
  detail::PlainSpace grips;
  return detail::find_pareto_ways_in(grips, adjacency, costs, request);
}

}  // namespace holdfast::search
