// SPDX-License-Identifier: GPL-3.0-or-later
// Stretches in which the two crew members do not see each other, and in which no window sees one of them.

#include <algorithm>
#include <cmath>

#include "back_impl.h"
#include "holdfast/reach/sight.h"

namespace holdfast::plan::detail {

namespace {

/// The helmet at rest, or along a move by its fraction.
Vec3 helmet_at(const Occupied& o, double t) {
  if (o.helmet) return *o.helmet;
  if (!o.moves || o.body.size() < move_points) return o.body.front();
  // What trails behind comes before the points of the move itself.
  const std::size_t first = o.body.size() - move_points;
  const double f = std::clamp((t - o.from_s) / (o.to_s - o.from_s), 0.0, 1.0) * static_cast<double>(move_points - 1);
  const auto i = std::min(static_cast<std::size_t>(f), move_points - 2);
  return o.body[first + i] + (f - static_cast<double>(i)) * (o.body[first + i + 1] - o.body[first + i]);
}

struct Sample {
  double at_s;
  bool is_seen;
};

/// From the last sample in sight to the next; glimpses between do not count.
void tell_stretches(const std::vector<Sample>& samples, std::optional<CrewId> crew, std::vector<OutOfSight>& out,
                    double& briefly_s) {
  std::vector<OutOfSight> found;
  for (std::size_t i = 0; i < samples.size();) {
    if (samples[i].is_seen) {
      ++i;
      continue;
    }
    std::size_t end = i;
    while (end + 1 < samples.size() && !samples[end + 1].is_seen) ++end;
    const double from_s = i > 0 ? samples[i - 1].at_s : samples[i].at_s;
    const double to_s = end + 1 < samples.size() ? samples[end + 1].at_s : samples[end].at_s;
    if (!found.empty() && from_s - found.back().to_s < least_glimpse_s)
      found.back().to_s = to_s;
    else
      found.push_back({crew, from_s, to_s});
    i = end + 1;
  }
  for (const auto& stretch : found)
    if (stretch.to_s - stretch.from_s < least_out_of_sight_s)
      briefly_s += stretch.to_s - stretch.from_s;
    else
      out.push_back(stretch);
}

}  // namespace

void look_for_each_other(const model::Model& model, const model::Excursion& excursion, Legs& legs,
                         const History& history, Plan& plan) {
  const model::Structure& structure = model.structure;
  const model::Suit& suit = *model.kit.find_suit(excursion.crew.front().suit);
  const auto& movers = history.occupied;
  const auto windows = std::any_of(structure.views.begin(), structure.views.end(),
                                   [](const auto& view) { return view.kind == model::ViewKind::Window; });
  plan.has_windows = windows;
  plan.briefly_out_s.assign(1 + movers.size(), 0);
  // When anything changes: rests and moves begin and end, boxes come and go, switches are thrown.
  std::vector<double> cuts;
  for (const auto& occupied : movers)
    for (const Occupied& o : occupied) cuts.push_back(o.from_s), cuts.push_back(o.to_s);
  for (const Stood& stood : history.stood)
    for (const double t : {stood.from_s, stood.to_s})
      if (std::isfinite(t)) cuts.push_back(t);
  for (const Throw& change : history.throws) cuts.push_back(change.from_s), cuts.push_back(change.to_s);
  std::sort(cuts.begin(), cuts.end());
  cuts.erase(std::unique(cuts.begin(), cuts.end(), [](double x, double y) { return y - x < 1e-9; }), cuts.end());

  std::vector<std::vector<Sample>> samples(1 + movers.size());
  std::vector<std::size_t> next(movers.size(), 0);
  for (std::size_t c = 0; c + 1 < cuts.size(); ++c) {
    const double from_s = cuts[c], to_s = cuts[c + 1], middle_s = (from_s + to_s) / 2;
    std::vector<const Occupied*> now(movers.size(), nullptr);
    double most_m = 0;
    for (std::size_t i = 0; i < movers.size(); ++i) {
      const auto& occupied = movers[i];
      while (next[i] < occupied.size() && occupied[next[i]].to_s <= middle_s) ++next[i];
      if (next[i] >= occupied.size() || occupied[next[i]].from_s > middle_s) continue;
      now[i] = &occupied[next[i]];
      double length_m = 0;
      for (int k = 0; k < 4; ++k)
        length_m += (helmet_at(*now[i], from_s + (k + 1) * (to_s - from_s) / 4) -
                     helmet_at(*now[i], from_s + k * (to_s - from_s) / 4))
                        .norm();
      most_m = std::max(most_m, length_m);
    }
    if (std::none_of(now.begin(), now.end(), [](const auto* o) { return o != nullptr; })) continue;
    // Both positions of a switch hold while it is thrown.
    model::Configuration now_is = plan.configuration;
    const Throw* under_way = nullptr;
    for (const Throw& change : history.throws) {
      if (change.to_s <= middle_s)
        now_is = change.after;
      else if (change.from_s <= middle_s)
        under_way = &change;
    }
    std::vector<const Site*> sites = {&legs.site(now_is, suit)};
    if (under_way) sites.push_back(&legs.site(under_way->after, suit));
    std::vector<Obstacle> boxes;
    for (const Stood& stood : history.stood)
      if (stood.from_s <= middle_s && middle_s < stood.to_s) boxes.push_back(stood.obstacle);
    const geometry::Scene* standing = legs.boxes_of({{}, boxes});
    const auto is_in_sight = [&](const Vec3& a, const Vec3& b) {
      return (!standing || reach::is_in_sight(*standing, a, b)) &&
             std::all_of(sites.begin(), sites.end(),
                         [&](const Site* site) { return reach::is_in_sight(*site->scene, a, b); });
    };
    const auto is_at_a_window = [&](const Vec3& p) {
      return std::all_of(sites.begin(), sites.end(), [&](const Site* site) {
        for (const auto view : reach::windows_that_see(*site->scene, p))
          if (!standing ||
              reach::is_in_sight(*standing, reach::eye_of(*site->scene, structure.views[view.index()]).at, p))
            return true;
        return false;
      });
    };
    // Where nothing moves, nothing changes between two cuts.
    constexpr double step_m = 0.15, step_s = 5;
    const auto pieces =
        most_m < 1e-9 ? std::size_t{1}
                      : static_cast<std::size_t>(std::ceil(std::max({1.0, most_m / step_m, (to_s - from_s) / step_s})));
    for (std::size_t k = 0; k <= pieces; ++k) {
      const double t = from_s + static_cast<double>(k) / static_cast<double>(pieces) * (to_s - from_s);
      std::vector<Vec3> helmet(movers.size());
      for (std::size_t i = 0; i < movers.size(); ++i)
        if (now[i]) helmet[i] = helmet_at(*now[i], t);
      if (movers.size() == 2 && now[0] && now[1]) samples[0].push_back({t, is_in_sight(helmet[0], helmet[1])});
      for (std::size_t i = 0; i < movers.size() && windows; ++i)
        if (now[i]) samples[1 + i].push_back({t, is_at_a_window(helmet[i])});
    }
  }
  for (std::size_t i = 0; i < samples.size(); ++i)
    tell_stretches(samples[i], i == 0 ? std::nullopt : std::optional(CrewId(i - 1)), plan.out_of_sight,
                   plan.briefly_out_s[i]);
}

}  // namespace holdfast::plan::detail
