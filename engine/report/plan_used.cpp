// SPDX-License-Identifier: GPL-3.0-or-later
// Which constants stand behind the figures of an excursion, besides those of the excursion's own file.

#include <algorithm>

#include "holdfast/route/used_values.h"
#include "plan_words_impl.h"
#include "words_impl.h"

namespace holdfast::report {

std::vector<route::UsedValue> detail::used_on_legs(const Context& context, const plan::Plan& plan) {
  const auto& kit = context.kit;
  std::vector<const model::Load*> loads;
  const auto carry = [&](const model::Load* load) {
    if (load && std::find(loads.begin(), loads.end(), load) == loads.end()) loads.push_back(load);
  };
  for (const auto& item : plan.excursion->items) {
    const auto other = plan.options.load_of.find(item.id);
    carry(kit.find_load(other == plan.options.load_of.end() ? item.load : other->second));
  }
  // Whoever is incapacitated is carried by the other as the first of the kit's loads that is a crew member.
  if (plan.excursion->crew.size() > 1) {
    const auto crew = std::find_if(kit.loads.begin(), kit.loads.end(), [](const auto& load) { return load.is_crew; });
    if (crew != kit.loads.end()) carry(&*crew);
  }
  std::vector<route::UsedValue> all;
  for (const auto& member : plan.excursion->crew) {
    const model::Suit& suit = *kit.find_suit(member.suit);
    for (auto& value : route::used_values({.kit = kit, .suit = suit, .loads = loads}))
      add_used(all, std::move(value), "suit " + suit.id);
    if (!member.tethers.empty()) add_used(all, {"one hook operation", "s", suit.tether_hook_s}, "suit " + suit.id);
    for (const auto& id : member.tethers)
      if (const auto* tether = kit.find_tether(id))
        add_used(all, {"length of tether " + id, "m", tether->length_m}, id);
  }
  all.push_back({"back inside in an emergency within", "s", kit.design.emergency_return_s});
  return all;
}

}  // namespace holdfast::report
