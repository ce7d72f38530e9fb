// SPDX-License-Identifier: GPL-3.0-or-later
#include <tbb/parallel_for.h>

#include <algorithm>
#include <set>

#include "choices_impl.h"

namespace holdfast::route {

using graph::GripId;
using graph::HandrailGraph;
using model::PlaceId;
using model::RailId;

namespace {

/// What can be reached over open moves from any hatch, without one rail.
class Reach {
 public:
  Reach(const HandrailGraph& graph, const CostTable& table, const std::vector<std::uint32_t>& hatches)
      : graph_(graph), table_(table), hatches_(hatches) {}

  /// By grip, the one it was reached from (itself at a hatch); `none` where it is not.
  [[nodiscard]] std::vector<std::uint32_t> grow(std::optional<RailId> without) const {
    std::vector<std::uint32_t> before(graph_.grips().size(), none), queue;
    const auto visit = [&](std::uint32_t grip, std::uint32_t from) {
      if (before[grip] != none || (without && graph_.grips()[grip].rail == *without)) return;
      before[grip] = from;
      queue.push_back(grip);
    };
    for (const auto grip : hatches_) visit(grip, grip);
    for (std::size_t i = 0; i < queue.size(); ++i)
      for (const auto& arc : graph_.adjacency().out(queue[i]))
        if (!table_.by_move[arc.move].is_blocked()) visit(arc.head, queue[i]);
    return before;
  }
  static constexpr std::uint32_t none = ~std::uint32_t{0};

 private:
  const HandrailGraph& graph_;
  const CostTable& table_;
  const std::vector<std::uint32_t>& hatches_;
};

}  // namespace

WeakPoints find_weak_points(const HandrailGraph& graph, const Profile& profile,
                            const std::optional<RouteRequest>& request) {
  WeakPoints result;
  if (request) result.answer = find_route(graph, profile, *request);
  result.head = request ? *result.answer : begin_answer(graph, profile, {});
  const CostTable table = compute_costs(graph, profile, Objective::Time);
  const auto& structure = graph.structure();

  struct Asked {
    PlaceId place;
    std::vector<std::uint32_t> grips;
  };
  std::vector<std::uint32_t> hatches;
  std::vector<Asked> places;
  for (const auto& present : detail::find_present_places(graph, table)) {
    if (present.grips.empty()) continue;
    Asked asked{present.place, {}};
    for (const search::Seed& seed : present.grips) asked.grips.push_back(seed.node);
    const auto& place = structure.places[present.place.index()];
    if (place.kind == model::PlaceKind::Hatch) {
      hatches.insert(hatches.end(), asked.grips.begin(), asked.grips.end());
      result.hatches.push_back(place.id);
    } else {
      places.push_back(std::move(asked));
    }
  }
  const Reach reach(graph, table, hatches);
  const auto whole = reach.grow(std::nullopt);
  const auto reached_grip = [](const Asked& asked, const std::vector<std::uint32_t>& before) {
    const auto found =
        std::find_if(asked.grips.begin(), asked.grips.end(), [&](auto g) { return before[g] != Reach::none; });
    return found == asked.grips.end() ? Reach::none : *found;
  };
  std::erase_if(places, [&](const Asked& asked) { return reached_grip(asked, whole) == Reach::none; });
  // Only a rail on some way to a place can cut it off: those of one way to each are enough to look at.
  std::set<RailId> suspects;
  for (const auto& asked : places) {
    result.reachable.push_back(structure.places[asked.place.index()].id);
    std::uint32_t grip = reached_grip(asked, whole);
    suspects.insert(graph.grips()[grip].rail);
    while (whole[grip] != grip) grip = whole[grip], suspects.insert(graph.grips()[grip].rail);
  }
  const std::vector<RailId> list(suspects.begin(), suspects.end());
  std::vector<WeakRail> rails(list.size());
  tbb::parallel_for(std::size_t{0}, list.size(), [&](std::size_t i) {
    rails[i].rail = list[i];
    const auto without = reach.grow(list[i]);
    for (const auto& asked : places)
      if (reached_grip(asked, without) == Reach::none) rails[i].cut_off.push_back(asked.place);
  });
  for (auto& rail : rails)
    if (!rail.cut_off.empty()) result.rails.push_back(std::move(rail));

  result.redundancy = detail::find_redundancy(graph, table);
  if (const Route* best = result.answer ? result.answer->route() : nullptr) {
    std::vector<RailId> held;
    for (const RailId rail : detail::rails_of(*best))
      if (std::find(held.begin(), held.end(), rail) == held.end()) held.push_back(rail);
    result.closing.resize(held.size());
    tbb::parallel_for(std::size_t{0}, held.size(), [&](std::size_t i) {
      Profile closed = profile;
      closed.closures.rails.push_back(held[i]);
      result.closing[i].rail = held[i];
      RouteRequest asked = *request;
      asked.load_cache = nullptr;
      asked.explains_loads = false;
      if (const auto answer = find_route(graph, closed, asked); answer.route())
        result.closing[i].time_s = answer.route()->time_s;
    });
  }
  return result;
}

}  // namespace holdfast::route
