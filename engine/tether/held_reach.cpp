// SPDX-License-Identifier: GPL-3.0-or-later
#include "holdfast/tether/held_reach.h"

#include <algorithm>
#include <optional>

namespace holdfast::tether {

std::vector<HeldTarget> find_held(const graph::HandrailGraph& graph, const route::Profile& profile,
                                  const reach::ReachAnswer& answer, const HeldRequest& request) {
  auto tethers = request.tethers;
  if (tethers.empty())
    for (const auto& tether : profile.kit.tethers)
      if (tether.min_length_m > 0) tethers.push_back(&tether);
  if (tethers.empty())
    throw model::InputError({{{},
                              "",
                              "unknown-kit",
                              "no tether of the kit can be set to a length",
                              "",
                              "give one a min_length_m in kit.yaml, or name one"}});
  std::vector<std::string> hooks;
  for (const auto& id : request.hooks) hooks.push_back(route::find_hook(graph, id, Vec3::Zero()).name);

  std::vector<HeldTarget> held;
  std::vector<std::optional<Positioning>> known(answer.targets.size());
  for (std::size_t s = 0; s < answer.sites.size(); ++s)
    for (std::size_t t = 0; t < answer.targets.size(); ++t) {
      const auto& site = answer.sites[s];
      const auto has = [&](const reach::Station& station) {
        return station.is_usable() && station.targets[t].kind == reach::Kind::TwoHand;
      };
      HeldTarget each{.site = s, .target = t};
      std::optional<std::size_t> first;
      for (std::size_t i = 0; i < site.stations.size(); ++i) {
        if (!has(site.stations[i])) continue;
        if (!first) first = i;
        ++each.stations;
      }
      if (!first) continue;
      each.station = site.best && has(site.stations[*site.best]) ? *site.best : *first;
      if (!known[t]) {
        known[t] = find_positioning(graph, profile, answer.targets[t].text, tethers);
        if (!hooks.empty())
          std::erase_if(known[t]->holds, [&](const SeriesHold& hold) {
            return std::find(hooks.begin(), hooks.end(), hold.hook.name) == hooks.end();
          });
      }
      each.positioning = *known[t];
      held.push_back(std::move(each));
    }
  return held;
}

}  // namespace holdfast::tether
