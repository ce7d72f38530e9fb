// SPDX-License-Identifier: GPL-3.0-or-later
#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "holdfast/tether/tether.h"

namespace holdfast::tether {

using graph::HandrailGraph;
using route::Hook;

namespace {

/// Places to hook on to: anchors, and rails for tethers with points along them.
struct HookPlace {
  std::string name;
  std::optional<model::RailId> rail;
  std::vector<Vec3> points;
};

std::vector<HookPlace> hook_places(const HandrailGraph& graph) {
  std::vector<HookPlace> places;
  for (const auto& hook : route::find_anchors(graph)) places.push_back({hook.name, {}, {hook.line_end}});
  const auto& structure = graph.structure();
  const auto& configuration = graph.scene().configuration();
  constexpr double spacing_m = 0.05;
  for (std::size_t r = 0; r < structure.rails.size(); ++r) {
    const model::RailId id(r);
    const auto& rail = structure.rails[r];
    if (!rail.use.tether || !structure.is_present(id, configuration)) continue;
    const auto pose = structure.pose(rail.part, configuration);
    HookPlace place{rail.id, id, {pose * rail.points.front()}};
    for (std::size_t i = 1; i < rail.points.size(); ++i) {
      const Vec3 a = pose * rail.points[i - 1], b = pose * rail.points[i];
      const int n = std::max(1, static_cast<int>(std::ceil((b - a).norm() / spacing_m)));
      for (int k = 1; k <= n; ++k) place.points.push_back(a + (static_cast<double>(k) / n) * (b - a));
    }
    places.push_back(std::move(place));
  }
  return places;
}

}  // namespace

Positioning find_positioning(const HandrailGraph& graph, const route::Profile& profile, const std::string& object,
                             const std::vector<const model::Tether*>& tethers, std::size_t most) {
  Positioning result;
  route::RouteRequest asked;
  asked.from = asked.to = object;
  result.head = route::begin_answer(graph, profile, asked);
  result.object = object;
  result.at = route::find_point(graph, object);
  const auto end = route::lift_off(graph.scene(), result.at);
  if (!end)
    throw model::InputError({{{},
                              "",
                              "not-for-tethers",
                              fmt::format("\"{}\" lies inside structure: no line can lead there", object),
                              object,
                              "name a point on a surface or in the open"}});

  // Multisets of up to `most` tethers, fewest first.
  std::vector<std::vector<std::size_t>> sets = {{}};
  for (std::size_t size = 1, first = 0; size <= most; ++size) {
    const std::size_t last = sets.size();
    for (std::size_t s = first; s < last; ++s)
      for (std::size_t t = sets[s].empty() ? 0 : sets[s].back(); t < tethers.size(); ++t) {
        auto larger = sets[s];
        larger.push_back(t);
        sets.push_back(std::move(larger));
      }
    first = last;
  }
  sets.erase(sets.begin());
  const auto places = hook_places(graph);
  for (const auto& set : sets) {
    Series series;
    for (const auto t : set) {
      series.tethers.push_back(tethers[t]);
      series.least_m += tethers[t]->min_length_m, series.most_m += tethers[t]->length_m;
    }
    const double middle = (series.least_m + series.most_m) / 2;
    std::vector<SeriesHold> holds;
    for (const auto& place : places) {
      std::optional<SeriesHold> best;
      for (const Vec3& point : place.points) {
        const double distance = (point - *end).norm();
        constexpr double tolerance_m = 1e-6;  // lengths include equality
        if (distance < series.least_m - tolerance_m || distance > series.most_m + tolerance_m) continue;
        if (best && std::abs(distance - middle) >= std::abs(best->distance_m - middle)) continue;
        if (!route::is_line_clear(graph.scene(), point, *end)) continue;
        best = SeriesHold{result.all.size(), Hook{place.name, point, point, place.rail}, distance};
      }
      if (best) holds.push_back(std::move(*best));
    }
    std::stable_sort(holds.begin(), holds.end(),
                     [](const SeriesHold& x, const SeriesHold& y) { return x.distance_m < y.distance_m; });
    result.holds.insert(result.holds.end(), holds.begin(), holds.end());
    result.all.push_back(std::move(series));
  }
  for (const auto* tether : tethers) {
    result.head.used.push_back({"shortest length of tether " + tether->id, "m", tether->min_length_m});
    result.head.used.push_back({"length of tether " + tether->id, "m", tether->length_m});
  }
  return result;
}

}  // namespace holdfast::tether
