// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// How many ways there are to a place that share no rail, and the fewest rails whose loss cuts it off.
//
//   for (const auto& place : route::find_redundancy(graph, profile)) use(place.smallest_cut);

#include <cstddef>
#include <vector>

#include "holdfast/route/costs.h"

namespace holdfast::route {

/// Of a place that some hatch reaches, for the profile's body rules, zones and closures; loads are not looked at.
struct Redundancy {
  model::PlaceId place;
  /// Routes from the hatches that share no rail, not even at their ends: as many as these are known to exist ...
  std::size_t disjoint_at_least = 0;
  /// ... and no more than these. They differ only where a rail is in two pieces that no hand-over joins along it.
  std::size_t disjoint_at_most = 0;
  /// Fewest rails that, closed together, leave no route; of several such sets one.
  std::vector<model::RailId> smallest_cut;
  /// False: a smaller set may exist, of `disjoint_at_least` rails or more (the search for it was cut short).
  bool is_smallest = true;
};

/// Places in the order of the file, hatches and places that cannot be reached left out. Maximum flow over pieces of
/// rails (Boost.Graph, `edmonds_karp_max_flow`); by Menger's theorem its value is the size of the smallest cut in
/// pieces. Where rails are in several pieces the smallest set of whole rails is searched for by branching over the
/// rails of a route that is left, bounded by the flow.
[[nodiscard]] std::vector<Redundancy> find_redundancy(const graph::HandrailGraph& graph, const Profile& profile);

}  // namespace holdfast::route
