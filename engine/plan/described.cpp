// SPDX-License-Identifier: GPL-3.0-or-later
// What a finished plan is told with: its legs as routes, and where every item is when.

#include "holdfast/route/described.h"

#include <algorithm>
#include <utility>

#include "back_impl.h"
#include "pieces_impl.h"

namespace holdfast::plan {

model::Configuration configuration_at(const Plan& plan, double at_s) {
  model::Configuration now = plan.configuration;
  for (const Row& row : plan.rows) {
    if (row.what != What::Throw || row.to_s > at_s + 1e-9) continue;
    const auto event = plan.excursion->find_event(row.subject);
    model::ensure(event.has_value(), "what is thrown is an event of the excursion");
    for (const auto& [id, position] : plan.excursion->events[event->index()].throws) now.positions[id] = position;
  }
  return now;
}

namespace detail {

namespace {

/// The grip where the hand and the body are: rails with several outward directions have more than one at a hand.
std::optional<GripId> find_grip_of(const graph::HandrailGraph& graph, const Stop& stop) {
  constexpr double same_m = 1e-6;
  const auto [first, last] = graph.grips_of(stop.rail);
  for (std::uint32_t g = first; g < last; ++g)
    if ((graph.grips()[g].hand - stop.hand).norm() < same_m &&
        (graph.body_point(GripId(g)) - stop.body).norm() < same_m)
      return GripId(g);
  return std::nullopt;
}

/// Into the times of the plan: a crew member may be slower, and may wait on the way. Stays in zones never get shorter:
/// rows end where a zone is entered or left, so what is waited at the grips of a row counts in all its zones.
void set_times(const Row& row, double factor, route::Route& route) {
  auto& leg = route.legs.front();
  std::size_t last = 0;
  double told_s = 0;
  route.zones.clear();
  route.caution_s = 0;
  for (auto& told : leg.rows) {
    const std::size_t end = told.total_moves;
    double waited_s = 0;
    for (std::size_t i = last; i <= end; ++i) waited_s += row.path[i].leaves_s - row.path[i].arrives_s;
    told.total_time_s = row.path[end].arrives_s - row.from_s;
    told.time_s = told.total_time_s - told_s;
    told_s = told.total_time_s;
    for (auto& zone : told.zones) {
      if (zone.inside_s > 0) zone.inside_s = zone.inside_s * std::max(1.0, factor) + waited_s;
      const auto known = std::find_if(route.zones.begin(), route.zones.end(),
                                      [&](const route::ZoneContact& c) { return c.zone == zone.zone; });
      if (known == route.zones.end()) {
        route.zones.push_back(zone);
      } else {
        known->inside_s += zone.inside_s;
        known->nearest_m = std::min(known->nearest_m, zone.nearest_m);
      }
      if (zone.effect == model::ZoneEffect::Caution) route.caution_s += zone.inside_s;
    }
    last = end;
  }
  std::sort(route.zones.begin(), route.zones.end(),
            [](const route::ZoneContact& x, const route::ZoneContact& y) { return x.zone < y.zone; });
  for (std::size_t i = 0; i < leg.poses.size(); ++i) leg.poses[i].at_s = row.path[i].arrives_s - row.from_s;
  leg.time_s = route.time_s = row.to_s - row.from_s;
}

}  // namespace

void describe_legs(Legs& legs, const model::Model& model, Plan& plan) {
  const auto& excursion = *plan.excursion;
  std::vector<std::string> from;  // where each crew member comes from
  for (const auto& member : excursion.crew) from.push_back(model.structure.places[member.start.index()].id);
  for (std::size_t r = 0; r < plan.rows.size(); ++r) {
    const Row& row = plan.rows[r];
    if (row.what != What::Go || !row.crew) continue;
    const auto& member = excursion.crew[row.crew->index()];
    route::GivenPath path{std::exchange(from[row.crew->index()], row.subject), row.subject, {}};
    if (row.path.empty()) continue;
    const auto& suit = *model.kit.find_suit(member.suit);
    const Site& site = legs.site(configuration_at(plan, row.from_s), suit);
    for (const Stop& stop : row.path)
      if (const auto grip = find_grip_of(*site.graph, stop)) path.grips.push_back(*grip);
    // Structure that moved meanwhile has other grips: such a leg is left out, which is said of it.
    if (path.grips.size() != row.path.size()) continue;
    route::Profile profile{.kit = model.kit, .suit = suit, .closures = {plan.options.closed}};
    profile.counts_handling = false;
    for (const auto& id : row.carried) {
      const auto item = excursion.find_item(id);
      model::ensure(item.has_value(), "what is carried is an item of the excursion");
      const auto other = plan.options.load_of.find(id);
      const auto& load = other == plan.options.load_of.end() ? excursion.items[item->index()].load : other->second;
      profile.loads.push_back(model.kit.find_load(load));
    }
    route::LoadCache* cache = profile.loads.empty() ? nullptr : &legs.cache(site, profile.loads, {});
    auto told = route::describe_path(*site.graph, profile, path, cache);
    set_times(row, factor_of(plan.options, member), told.route);
    plan.legs[r] = {std::move(told.route), told.has_loads};
  }
}

void follow_items(const model::Model& model, Plan& plan) {
  const auto& excursion = *plan.excursion;
  const auto& places = model.structure.places;
  std::vector<std::vector<ItemStay>> stays(excursion.items.size());
  const auto begin = [&](ItemId item, double at_s) -> ItemStay& {
    auto& list = stays[item.index()];
    list.push_back(
        {.from_s = at_s, .where = {.item = item, .place = {}, .container = {}, .crew = {}, .socket = {}, .rails = {}}});
    return list.back();
  };
  const auto put_at = [&](ItemStay& stay, model::PlaceId place) {
    stay.where.place = places[place.index()].id;
    stay.where.is_inside = places[place.index()].kind == model::PlaceKind::Hatch;
  };
  for (std::size_t i = 0; i < excursion.items.size(); ++i) {
    const auto& item = excursion.items[i];
    ItemStay& stay = begin(ItemId(i), 0);
    if (item.in) stay.where.container = excursion.items[item.in->index()].id;
    for (const auto& coil : plan.first_coils)
      if (coil.item == ItemId(i)) stay.where.rails = {coil.rail}, stay.box = coil.box;
    if (item.at) put_at(stay, *item.at);
  }
  for (const Row& row : plan.rows) {
    if (!row.crew) continue;
    const auto& member = excursion.crew[row.crew->index()];
    const auto item = excursion.find_item(row.subject);
    switch (row.what) {
      case What::Take:
      case What::TakeUp:
      case What::TakeDown:
        begin(item.value(), row.from_s).where.crew = member.id;
        break;
      case What::Receive:
        begin(item.value(), row.to_s).where.crew = member.id;
        break;
      case What::Put: {
        ItemStay& stay = begin(item.value(), row.to_s);
        // Ids of items and places may be the same: the action tells which is meant.
        if (row.action && member.actions[*row.action].into)
          stay.where.container = row.other;
        else
          put_at(stay, model.structure.find_place(row.other).value());
        break;
      }
      case What::Stow: {
        ItemStay& stay = begin(item.value(), row.to_s);
        for (const auto rail : member.actions[row.action.value()].rails)
          stay.where.rails.push_back(model.structure.rails[rail.index()].id);
        stay.box = row.box;
        break;
      }
      case What::Coil: {
        ItemStay& stay = begin(item.value(), row.to_s);
        stay.where.rails = {row.other};
        stay.box = row.box;
        break;
      }
      case What::SetUp: {
        ItemStay& stay = begin(item.value(), row.to_s);
        stay.where.socket = row.other;
        stay.box = row.box;
        break;
      }
      default:
        break;
    }
  }
  for (std::size_t i = 0; i < stays.size(); ++i) {
    const auto& last = stays[i].back().where;
    if (!last.crew.empty())
      begin(ItemId(i), plan.totals[excursion.find_crew(last.crew)->index()].inside_at_s).where.is_inside = true;
    for (auto& stay : stays[i]) {
      // What is asked of its end stands with all of them.
      stay.where.must_be_inside = plan.items[i].must_be_inside;
      stay.where.must_be_at = plan.items[i].must_be_at;
      plan.stays.push_back(std::move(stay));
    }
  }
}

}  // namespace detail
}  // namespace holdfast::plan
