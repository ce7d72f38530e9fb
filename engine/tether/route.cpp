// SPDX-License-Identifier: GPL-3.0-or-later
#include <algorithm>
#include <cmath>
#include <limits>
#include <set>

#include "follower_impl.h"
#include "trail_impl.h"

namespace holdfast::tether {

using graph::HandrailGraph;
using model::RailId;

namespace {

// Searches of a second or less each: more would not be waited for.
constexpr std::size_t most_tries = 24;

/// A question with more rails closed and less tether than was asked: what it finds answers the question as well.
struct Narrowed {
  std::vector<RailId> closed;
  double length_m = 0;
};
struct Found {
  Narrowed by;
  route::Route route;
};

double cost_of(const route::Route& route, route::Objective by) {
  switch (by) {
    case route::Objective::Time:
      return route.time_s;
    case route::Objective::Distance:
      return route.distance_m;
    case route::Objective::Moves:
      return static_cast<double>(route.moves);
  }
  return 0;
}

/// The line along a route, until it is where it must not be.
struct Followed {
  std::vector<detail::Step> steps;
  std::vector<ZoneStay> zones;
  std::optional<detail::Follower::Breach> breach;
};
Followed follow_route(const HandrailGraph& graph, const route::Profile& profile, const route::TetherRequest& asked,
                      const route::Route& route) {
  const std::vector<route::GivenWay> ways = {route::given_way(graph.structure(), route, "the route")};
  Followed followed{detail::steps_of(graph, {&route, 1}, ways, profile.suit), {}, {}};
  detail::Follower follower(graph, *asked.tether, route::find_hook(graph, asked.anchor, followed.steps.front().body));
  try {
    follower.follow(followed.steps);
    followed.breach = follower.breach();
  } catch (const model::InputError&) {
    // A line from a new anchor that is not free, or too long: this route is no answer from there on.
    followed.breach = follower.breach() ? follower.breach() : follower.here();
  }
  followed.zones = follower.zones;
  return followed;
}

}  // namespace

route::Answer route_on_tether(const HandrailGraph& graph, const route::Profile& profile,
                              const route::RouteRequest& request) {
  route::Answer best = route::find_route(graph, profile, request);
  const auto* first = best.route();
  if (!request.tether || !first || detail::tether_zones(graph).empty()) return best;
  const double first_cost = cost_of(*first, request.by);
  std::vector<Found> open = {{{profile.closures.rails, request.tether->tether->length_m}, *first}};
  std::set<std::pair<std::set<RailId>, double>> asked;
  std::optional<route::NoRoute> refusal;
  for (std::size_t tries = 0; tries < most_tries && !open.empty(); ++tries) {
    // The best that is left, the earliest found of equals.
    const auto next = std::min_element(open.begin(), open.end(), [&](const Found& x, const Found& y) {
      return cost_of(x.route, request.by) < cost_of(y.route, request.by);
    });
    Found found = std::move(*next);
    open.erase(next);
    const auto followed = follow_route(graph, profile, *request.tether, found.route);
    if (!followed.breach) {
      found.route.tether->length_m = request.tether->tether->length_m;
      if (refusal) best.may_save = best.may_save.value_or(0) + cost_of(found.route, request.by) - first_cost;
      best.outcome = std::move(found.route);
      return best;
    }
    const detail::Step& step = followed.steps[followed.breach->step];
    if (!refusal) {
      route::Cause cause;
      cause.kind = route::CauseKind::Tether;
      cause.leg = step.at.leg;
      cause.at = step.hand, cause.rail = step.rail;
      for (const auto& stay : followed.zones)
        if (!stay.is_allowed) cause.zones.push_back(stay.zone);
      if (cause.zones.empty())
        cause.value_m = std::numeric_limits<double>::infinity();  // no line from an anchor is free
      cause.opens_alone = true, cause.then_time_s = found.route.time_s;
      refusal = route::NoRoute{{std::move(cause)}};
    }
    // Not to be there at all, or to have hooked on to something nearer before.
    std::vector<Narrowed> narrower = {found.by, found.by};
    narrower[0].closed.push_back(step.rail);
    constexpr double less_m = 1e-3;
    narrower[1].length_m = followed.breach->gone_m - less_m;
    for (Narrowed& by : narrower) {
      if (!asked.emplace(std::set<RailId>(by.closed.begin(), by.closed.end()), by.length_m).second) continue;
      model::Tether tether = *request.tether->tether;
      tether.length_m.value = by.length_m;
      route::Profile narrowed = profile;
      narrowed.closures.rails = by.closed;
      route::RouteRequest question = request;
      question.tether->tether = &tether;
      question.explains_loads = false;
      try {
        auto answer = route::find_route(graph, narrowed, question);
        if (auto* route = std::get_if<route::Route>(&answer.outcome))
          open.push_back({std::move(by), std::move(*route)});
      } catch (const model::InputError&) {
        // The anchor is of no use for what is left of the start: no answer that way.
      }
    }
  }
  best.outcome = std::move(*refusal);
  best.is_certain = false;
  return best;
}

}  // namespace holdfast::tether
