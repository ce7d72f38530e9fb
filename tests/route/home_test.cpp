// SPDX-License-Identifier: GPL-3.0-or-later
// The way home from everywhere, and the matrix of places: against single routes and against Boost.Graph.

#include "holdfast/route/home.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <fmt/format.h>

#include <cmath>
#include <map>
#include <random>
#include <set>

#include "holdfast/graph/load_sweep.h"
#include "reference_dijkstra.h"
#include "reference_yard.h"
#include "yard_builder.h"

namespace holdfast {
namespace {

using route::HomeVerdict;
using route::Profile;
using support::Vec3;
using support::World;
using support::YardBuilder;

Profile profile_of(const World& world, std::vector<const model::Load*> loads = {}) {
  return {.kit = world.kit, .suit = world.kit.suits.front(), .loads = std::move(loads)};
}

TEST(Home, TakesFromEveryGripWhatBoostSays) {
  std::mt19937_64 random(81);
  for (int round = 0; round < 8; ++round) {
    const World world(support::random_yard(random));
    const auto home = route::compute_home(world.graph, profile_of(world), {.hatches = {"start"}});
    const auto table = route::compute_costs(world.graph, profile_of(world), route::Objective::Time);
    const auto pace = route::pace_of(profile_of(world));
    std::vector<support::WeightedEdge> edges;
    for (std::size_t m = 0; m < world.graph.moves().size(); ++m)
      if (!table.by_move[m].is_blocked()) {
        const auto& move = world.graph.moves()[m];
        edges.push_back(
            {move.a.value, move.b.value, route::cost_of_seconds(route::compute_move_time(move, pace).sum_s())});
      }
    // One node more stands for the hatch, at no cost from each of its grips.
    const auto hatch = static_cast<std::uint32_t>(world.graph.grips().size());
    const auto& place = world.structure.places[0];
    for (const auto grip : world.graph.find_grips_within(place.at, place.within_m))
      if (table.grip_blocks[grip.index()] == 0) edges.push_back({hatch, grip.value, 0});
    support::BoostDijkstra reference(hatch + 1, edges);
    const auto& distance = reference.all(hatch);
    for (std::uint32_t g = 0; g < hatch; ++g) {
      const bool has_way = distance[g] != support::BoostDijkstra::unreachable && table.grip_blocks[g] == 0;
      ASSERT_EQ(std::isfinite(home.time_by_grip_s[g]), has_way);
      if (has_way)
        EXPECT_NEAR(home.time_by_grip_s[g], distance[g] == 0 ? 0 : static_cast<double>(distance[g]) / 1e5 + 10, 1e-6);
    }
    for (std::size_t w = 1; w < home.worst.size(); ++w) EXPECT_GE(home.worst[w - 1].time_s, home.worst[w].time_s);
  }
}

/// A random yard whose zones are caution and limit zones as well, and one caution zone more in the middle.
model::Structure zoned_yard(std::mt19937_64& random) {
  auto structure = support::random_yard(random);
  std::uniform_real_distribution<double> uniform(0, 1);
  auto& zones = structure.zones;
  zones[0].effect = model::ZoneEffect::Caution, zones[0].price_s_per_s = 3 * uniform(random);
  zones[1].effect = model::ZoneEffect::Limit, zones[1].limit_s = 8 * uniform(random);
  auto wide = zones[0];
  wide.id = "wide", wide.when = {};
  wide.shape = model::Sphere{.center = {0, 0, -0.5}, .radius = 0.9};
  wide.price_s_per_s = 2;
  zones.push_back(wide);
  return structure;
}

/// A grid of rails in the open, all within reach of each other, with caution zones strewn over it.
model::Structure grid_yard(std::mt19937_64& random) {
  const auto uniform = [&](double low, double high) {
    return std::uniform_real_distribution<double>(low, high)(random);
  };
  YardBuilder yard;
  const auto pebble = yard.nowhere();
  for (int line = 0; line < 4; ++line) {
    const std::string id = std::to_string(line);
    yard.rail("row-" + id, pebble, {{0, 1.0 * line, 0}, {4, 1.0 * line, 0}}, {-Vec3::UnitZ()});
    if (line < 3)
      for (const double x : {0.2, 1.8, 3.6})
        yard.rail("rung-" + id + "-" + std::to_string(static_cast<int>(x)), pebble,
                  {{x, line + 0.3, 0}, {x, line + 0.7, 0}}, {-Vec3::UnitZ()});
  }
  for (int k = 0; k < 3; ++k) {
    const auto id = yard.zone("zone-" + std::to_string(k),
                              model::Sphere{.center = {uniform(0.5, 3.5), uniform(0.3, 2.7), -0.5}, .radius = 0.5},
                              model::ZoneEffect::Caution, {.body = true});
    yard.structure.zones[id.index()].price_s_per_s = uniform(0, 8);
  }
  yard.place("start", {0, 0, 0}, 0.4), yard.place("middle", {2, 1, 0}, 0.8), yard.place("goal", {4, 3, 0}, 0.8);
  return yard.structure;
}

std::string text_of(const Vec3& p) { return fmt::format("{:.17g},{:.17g},{:.17g}", p.x(), p.y(), p.z()); }

TEST(Home, APlacesTimeIsThatOfItsRouteAndTheWorstGripsIsNeverLess) {
  int priced = 0, longer = 0;
  for (int seed = 0; seed < 24; ++seed) {
    SCOPED_TRACE(seed);
    std::mt19937_64 random(820 + static_cast<unsigned>(seed));
    const World world(seed < 6 ? zoned_yard(random) : grid_yard(random));
    const auto home = route::compute_home(world.graph, profile_of(world), {.hatches = {"start"}});
    ASSERT_EQ(home.places.size(), 3u);
    auto quick = profile_of(world);
    quick.prices_caution = false;
    for (const auto& row : home.places) {
      const auto& place = world.structure.places[row.place.index()];
      const auto answer = route::find_route(world.graph, profile_of(world), {.from = place.id, .to = "start"});
      ASSERT_EQ(row.has_route, answer.route() != nullptr) << place.id;
      if (!row.has_route) {
        EXPECT_EQ(row.verdict, HomeVerdict::NoWay);
        ASSERT_FALSE(row.causes.empty());
        EXPECT_EQ(row.causes.front().kind, answer.no_route()->causes.front().kind);
        continue;
      }
      EXPECT_NEAR(row.time_s, answer.route()->time_s, 1e-9) << place.id;
      EXPECT_NEAR(row.distance_m, answer.route()->distance_m, 1e-9);
      EXPECT_EQ(row.moves, answer.route()->moves);
      EXPECT_EQ(row.hatch, "start");
      // The quickest path is never slower; where the route says so by how much, that is it.
      const auto quickest = route::find_route(world.graph, quick, {.from = place.id, .to = "start"});
      ASSERT_TRUE(quickest.route());
      EXPECT_LE(quickest.route()->time_s, row.time_s + 1e-3);
      if (answer.quicker) {
        ++priced;
        EXPECT_NEAR(answer.quicker->time_s, quickest.route()->time_s, 1e-3);
      }
      if (row.verdict == HomeVerdict::NoWay) {
        EXPECT_GT(row.stranded_grips, 0u);
        continue;
      }
      double most_s = 0;
      const auto table = route::compute_costs(world.graph, profile_of(world), route::Objective::Time);
      for (const auto grip : world.graph.find_grips_within(place.at, place.within_m)) {
        if (table.grip_blocks[grip.index()] != 0) continue;
        const auto one =
            route::find_route(world.graph, profile_of(world),
                              {.from = text_of(world.graph.grip(grip).hand), .to = "start", .point_radius_m = 1e-9});
        ASSERT_TRUE(one.route());
        most_s = std::max(most_s, one.route()->time_s);
      }
      EXPECT_NEAR(row.most_s, most_s, 1e-3) << place.id << ": times of grips are rounded up move by move";
      EXPECT_GE(row.most_s, row.time_s);
      longer += row.most_s > row.time_s + 1 ? 1 : 0;
    }
  }
  EXPECT_GT(longer, 5);
  EXPECT_GT(priced, 0);
}

TEST(Home, ClosingARailBringsNobodyHomeSooner) {
  for (int seed = 0; seed < 10; ++seed) {
    SCOPED_TRACE(seed);
    std::mt19937_64 random(840 + static_cast<unsigned>(seed));
    const World world(seed % 2 == 0 ? zoned_yard(random) : grid_yard(random));
    auto profile = profile_of(world);
    profile.prices_caution = false;  // with prices the route that is left may be the quicker one
    const auto open = route::compute_home(world.graph, profile, {.hatches = {"start"}});
    std::map<std::uint32_t, double> time_s;
    for (const auto& row : open.places)
      time_s[row.place.value] = row.has_route ? row.time_s : std::numeric_limits<double>::infinity();
    for (std::uint32_t rail = 0; rail < world.structure.rails.size(); rail += 3) {
      profile.closures.rails = {model::RailId(rail)};
      const auto closed = route::compute_home(world.graph, profile, {.hatches = {"start"}});
      for (const auto& row : closed.places)
        if (row.has_route) EXPECT_GE(row.time_s, time_s[row.place.value] - 1e-6) << rail;
      for (std::size_t g = 0; g < closed.time_by_grip_s.size(); ++g)
        EXPECT_GE(closed.time_by_grip_s[g], open.time_by_grip_s[g] - 1e-6);
    }
  }
}

TEST(Home, OfSeveralHatchesTheNearestCounts) {
  for (int seed = 0; seed < 6; ++seed) {
    SCOPED_TRACE(seed);
    std::mt19937_64 random(860 + static_cast<unsigned>(seed));
    const World world(support::random_yard(random));
    const auto home = route::compute_home(world.graph, profile_of(world), {.hatches = {"start", "goal"}});
    for (const auto& row : home.places) {
      const auto& id = world.structure.places[row.place.index()].id;
      const auto one = world.route(id, "start"), other = world.route(id, "goal");
      ASSERT_EQ(row.has_route, one.route() || other.route());
      if (!row.has_route) continue;
      double least_s = std::numeric_limits<double>::infinity();
      for (const auto* answer : {&one, &other})
        if (answer->route()) least_s = std::min(least_s, answer->route()->time_s);
      EXPECT_NEAR(row.time_s, least_s, 1e-3) << id;
      const auto& named = row.hatch == "start" ? one : other;
      ASSERT_TRUE(named.route());
      EXPECT_NEAR(named.route()->time_s, row.time_s, 1e-3) << id << ": the hatch that is named is that near";
    }
  }
}

TEST(Home, DownATreeGoesTheWayThatTheQueryFinds) {
  std::mt19937_64 random(870);
  for (int round = 0; round < 10; ++round) {
    const World world(zoned_yard(random));
    for (const auto by : {route::Objective::Time, route::Objective::Distance, route::Objective::Moves}) {
      const auto table = route::compute_costs(world.graph, profile_of(world), by);
      const auto seeds = [&](std::size_t place) {
        std::vector<search::Seed> found;
        const auto& p = world.structure.places[place];
        for (const auto grip : world.graph.find_grips_within(p.at, p.within_m))
          if (table.grip_blocks[grip.index()] == 0) found.push_back({grip.value, {}});
        return found;
      };
      search::ShortestTree tree;
      search::RouteQuery query;
      tree.grow(world.graph.adjacency(), table.by_move, seeds(0));
      for (const std::size_t place : {0, 1, 2}) {
        const auto ours = tree.way_from(world.graph.adjacency(), table.by_move, seeds(place));
        const auto theirs = query.find(world.graph.adjacency(), table.by_move, seeds(place), seeds(0));
        ASSERT_EQ(ours.has_value(), theirs.has_value());
        if (!ours) continue;
        EXPECT_EQ(ours->nodes, theirs->nodes);
        EXPECT_EQ(ours->moves, theirs->moves);
        EXPECT_EQ(ours->cost, theirs->cost);
      }
    }
  }
}

// ---- along a route --------------------------------------------------------------------------------------------------

TEST(HomeAlong, EachWaypointIsAsFarAsARouteFromThere) {
  int waypoints = 0;
  for (int seed = 0; seed < 8; ++seed) {
    SCOPED_TRACE(seed);
    std::mt19937_64 random(880 + static_cast<unsigned>(seed));
    const World world(seed % 2 == 0 ? zoned_yard(random) : grid_yard(random));
    const auto out = route::find_route(world.graph, profile_of(world), {.from = "middle", .to = "goal"});
    if (!out.route()) continue;
    const auto given = route::given_way(world.structure, *out.route(), "out");
    const route::HomeRequest request{.hatches = {"start", "middle"}};
    const auto along = route::compute_home_along(world.graph, profile_of(world), request, given);
    const auto& rows = out.route()->legs[0].rows;
    ASSERT_EQ(along.waypoints.size(), rows.size());
    double worst_s = 0;
    for (std::size_t r = 0; r < rows.size(); ++r) {
      const auto& point = along.waypoints[r];
      ++waypoints;
      EXPECT_EQ(point.rail, rows[r].rail);
      EXPECT_EQ(point.hand, rows[r].hand);
      if (r > 0 && r + 1 < rows.size()) EXPECT_NEAR(point.at_s, rows[r].total_time_s, 1e-9);
      double least_s = std::numeric_limits<double>::infinity();
      for (const char* hatch : {"start", "middle"}) {
        const auto home = route::find_route(world.graph, profile_of(world),
                                            {.from = text_of(point.hand), .to = hatch, .point_radius_m = 1e-9});
        // Which of two hatches is nearer is decided with the prices.
        if (home.route() && hatch == point.hatch) least_s = home.route()->time_s;
      }
      ASSERT_TRUE(point.has_way) << "back the way one came, if nothing else";
      EXPECT_NEAR(point.time_s, least_s, 1e-3);
      EXPECT_GE(point.most_s, point.time_s - 1e-9);
      worst_s = std::max(worst_s, point.most_s);
    }
    EXPECT_EQ(along.waypoints[along.worst].most_s, worst_s);
    EXPECT_EQ(along.waypoints.front().time_s, 0) << "it starts at a hatch";
  }
  EXPECT_GT(waypoints, 8);
}

TEST(HomeAlong, BringsALoadHomeFromEachWaypointAsARouteWould) {
  YardBuilder yard;
  yard.rail("line", yard.nowhere(), {{0, 0, 0}, {3, 0, 0}}, {-Vec3::UnitZ()});
  yard.rail("on", model::PartId(0), {{3.3, 0, 0}, {6, 0, 0}}, {-Vec3::UnitZ()});
  yard.place("hatch", {0, 0, 0}, 0.01, model::PlaceKind::Hatch), yard.place("far", {6, 0, 0}, 0.01);
  const World world(yard.structure);
  model::Load crew;
  crew.id = "crew", crew.how = model::CarriedHow::InTow, crew.size_m = {1.6, 0.7, 0.6}, crew.tow_length_m = 1.2;
  crew.mass_kg.value = 200, crew.stow_s.value = 30, crew.is_crew = true;
  const auto out = world.route("hatch", "far");
  ASSERT_TRUE(out.route());
  const auto along = route::compute_home_along(world.graph, profile_of(world, {&crew}), {.hatches = {"hatch"}},
                                               route::given_way(world.structure, *out.route(), "out"));
  ASSERT_EQ(along.waypoints.size(), out.route()->legs[0].rows.size());
  for (const auto& point : along.waypoints) {
    const auto home = route::find_route(world.graph, profile_of(world, {&crew}),
                                        {.from = text_of(point.hand), .to = "hatch", .point_radius_m = 1e-9});
    ASSERT_TRUE(home.route());
    EXPECT_EQ(point.time_s, home.route()->time_s);
  }
}

// ---- verdicts -------------------------------------------------------------------------------------------------------

model::Structure line_of(double length) {
  YardBuilder yard;
  yard.rail("line", yard.nowhere(), {{0, 0, 0}, {length, 0, 0}}, {-Vec3::UnitZ()});
  yard.rail("away", model::PartId(0), {{0, 50, 0}, {1, 50, 0}}, {-Vec3::UnitZ()});
  yard.place("hatch", {0, 0, 0}, 0.01, model::PlaceKind::Hatch);
  yard.place("near", {length / 2, 0, 0}, 0.01), yard.place("far", {length, 0, 0}, 0.01);
  yard.place("lost", {0, 50, 0}, 0.01);
  return yard.structure;
}

TEST(Home, JudgesByTheLimitIncludingIt) {
  const World world(line_of(6));
  const auto time_of = [&](const std::string& id) { return world.route(id, "hatch").route()->time_s; };
  const auto verdicts = [&](double limit_s, double warn_s) {
    std::map<std::string, HomeVerdict> all;
    const auto home = route::compute_home(world.graph, profile_of(world),
                                          {.hatches = {"hatch"}, .limit_s = limit_s, .warn_s = warn_s});
    for (const auto& row : home.places) all[world.structure.places[row.place.index()].id] = row.verdict;
    EXPECT_EQ(world.structure.places[home.places.front().place.index()].id, "lost") << "the worst first";
    return all;
  };
  const double far = time_of("far"), near = time_of("near");
  auto v = verdicts(far, near);
  EXPECT_EQ(v["far"], HomeVerdict::Near);
  EXPECT_EQ(v["near"], HomeVerdict::Within);
  EXPECT_EQ(v["lost"], HomeVerdict::NoWay);
  v = verdicts(far - 0.01, near - 0.01);
  EXPECT_EQ(v["far"], HomeVerdict::Over);
  EXPECT_EQ(v["near"], HomeVerdict::Near);
}

TEST(Home, WithACrewMemberInTowEachPlaceIsARouteOfItsOwn) {
  const World world(line_of(6));
  model::Load crew;
  crew.id = "crew", crew.how = model::CarriedHow::InTow, crew.size_m = {1.6, 0.7, 0.6}, crew.tow_length_m = 1.2;
  crew.mass_kg.value = 200, crew.stow_s.value = 30, crew.is_crew = true;
  crew.rate_m_s = {0.08, "test", model::Confidence::Assumption};
  const auto home = route::compute_home(world.graph, profile_of(world, {&crew}), {.hatches = {"hatch"}});
  for (const auto& row : home.places) {
    const auto& id = world.structure.places[row.place.index()].id;
    const auto answer = route::find_route(world.graph, profile_of(world, {&crew}), {.from = id, .to = "hatch"});
    ASSERT_EQ(row.verdict != HomeVerdict::NoWay, answer.route() != nullptr) << id;
    if (answer.route()) EXPECT_EQ(row.time_s, answer.route()->time_s);
  }
}

/// Least time over all sequences of moves with a load in tow, every sweep made: Dijkstra's method over (grip, trail).
double least_in_tow_s(const World& world, const model::Load& load, const model::Place& from, const model::Place& to) {
  const auto profile = profile_of(world, {&load});
  const auto table = route::compute_costs(world.graph, profile, route::Objective::Time);
  const auto pace = route::pace_of(profile);
  const graph::TowSweep tow(world.graph, load, {});
  struct Partial {
    graph::GripId grip;
    graph::Trail trail;
    std::size_t moves;
  };
  std::vector<Partial> partials;
  std::set<std::pair<std::int64_t, std::size_t>> open;
  std::set<std::pair<std::uint32_t, std::string>> done;
  for (const auto grip : world.graph.find_grips_within(from.at, from.within_m)) {
    if (table.grip_blocks[grip.index()] != 0) continue;
    open.emplace(0, partials.size());
    partials.push_back({grip, {}, 0});
  }
  const auto goals = world.graph.find_grips_within(to.at, to.within_m);
  while (!open.empty()) {
    const auto [cost, index] = *open.begin();
    open.erase(open.begin());
    const Partial at = partials[index];
    if (!done.emplace(at.grip.value, at.trail.key()).second) continue;
    if (std::find(goals.begin(), goals.end(), at.grip) != goals.end() && table.grip_blocks[at.grip.index()] == 0 &&
        tow.draw_in(at.trail, at.grip).fits)
      return at.moves == 0 ? 0
                           : static_cast<double>(cost) / search::cost_units_per_second + pace.start_s + pace.stop_s +
                                 2 * pace.take_up_s;
    for (const auto& arc : world.graph.adjacency().out(at.grip.value)) {
      if (table.by_move[arc.move].is_blocked()) continue;
      auto step = tow.move(at.trail, at.grip, graph::GripId(arc.head));
      if (!step.sweep.fits) continue;
      open.emplace(cost + table.by_move[arc.move].primary(), partials.size());
      partials.push_back({graph::GripId(arc.head), std::move(step.trail), at.moves + 1});
    }
  }
  return std::numeric_limits<double>::infinity();
}

TEST(Home, WithALoadInTowEveryClaimHoldsAgainstAllSequencesOfMoves) {
  int proven = 0, refused = 0, stopped = 0;
  for (int seed = 0; seed < 14; ++seed) {
    SCOPED_TRACE(seed);
    std::mt19937_64 random(900 + static_cast<unsigned>(seed));
    const auto uniform = [&](double low, double high) {
      return std::uniform_real_distribution<double>(low, high)(random);
    };
    YardBuilder yard;
    const auto pebble = yard.nowhere();
    yard.rail("near", pebble, {{0, 0, 0}, {1.6, 0, 0}}, {-Vec3::UnitZ()});
    yard.rail("cross", pebble, {{uniform(0.3, 1.3), 0.3, 0}, {0.8, 0.9, 0}}, {-Vec3::UnitZ()});
    yard.rail("far", pebble, {{0, 1.2, 0}, {1.6, 1.2, 0}}, {-Vec3::UnitZ()});
    for (int post = 0; post < 2; ++post)
      yard.part("post-" + std::to_string(post),
                model::Box{.center = {uniform(-0.3, 1.9), uniform(-0.5, 1.7), -1.25}, .size = {0.12, 0.12, 0.3}});
    yard.place("hatch", {0, 0, 0}, 0.05, model::PlaceKind::Hatch);
    yard.place("end", {1.6, 0, 0}, 0.05), yard.place("left", {0, 1.2, 0}, 0.05),
        yard.place("right", {1.6, 1.2, 0}, 0.05);
    graph::Body body;
    body.spacing_m = 0.4;
    const World world(yard.structure, body);
    model::Load load;
    load.id = "load", load.how = model::CarriedHow::InTow, load.size_m = {uniform(0.6, 1), 0.3, 1.1};
    load.tow_length_m = 0.7, load.hands = 0;
    load.mass_kg.value = 100, load.stow_s.value = 30;
    const auto home = route::compute_home(world.graph, profile_of(world, {&load}), {.hatches = {"hatch"}});
    for (const auto& row : home.places) {
      const auto& place = world.structure.places[row.place.index()];
      SCOPED_TRACE(place.id);
      const double least_s = least_in_tow_s(world, load, place, world.structure.places[0]);
      if (row.has_route) {
        EXPECT_GE(row.time_s, least_s - 1e-3);
        EXPECT_GE(least_s, row.time_s - row.may_save_s.value_or(0) - 1e-3) << "no path saves more than it says";
        ++proven;
      } else {
        ASSERT_FALSE(row.causes.empty());
        if (row.is_certain) {
          ++refused;
          EXPECT_TRUE(std::isinf(least_s));
        }
        const auto& cause = row.causes.front();
        if (cause.kind != route::CauseKind::LoadTooTight) continue;
        EXPECT_TRUE(cause.opens_alone);
        if (cause.up_to_moves == 0) continue;
        ++stopped;
        EXPECT_GT(cause.up_to_s, 35);
        EXPECT_GT(cause.up_to_m, 0);
      }
    }
  }
  EXPECT_GT(proven, 20);
  EXPECT_GT(refused, 3);
  EXPECT_GT(stopped, 2);
}

// ---- staying --------------------------------------------------------------------------------------------------------

TEST(Staying, CostsNothing) {
  const World world(line_of(6));
  model::Load bag;
  bag.id = "bag", bag.how = model::CarriedHow::InTow, bag.size_m = {0.5, 0.3, 0.3}, bag.tow_length_m = 0.8;
  bag.mass_kg.value = 20, bag.stow_s.value = 30;
  for (const auto& loads : {std::vector<const model::Load*>{}, std::vector<const model::Load*>{&bag}}) {
    const auto stay = route::find_route(world.graph, profile_of(world, loads), {.from = "near", .to = "near"});
    ASSERT_TRUE(stay.route());
    EXPECT_EQ(stay.route()->time_s, 0);
    EXPECT_EQ(stay.route()->time_by_cause.sum_s(), 0);
    EXPECT_EQ(stay.route()->moves, 0u);
    EXPECT_EQ(stay.route()->legs[0].rows.back().total_time_s, 0);
    const auto home = route::compute_home(world.graph, profile_of(world, loads), {.hatches = {"near"}});
    for (const auto& row : home.places)
      if (world.structure.places[row.place.index()].id == "near") EXPECT_EQ(row.time_s + row.most_s, 0);
    // A leg that goes nowhere beside one that goes on: one start and stop, and the load is taken up for the other.
    const auto direct = route::find_route(world.graph, profile_of(world, loads), {.from = "near", .to = "far"});
    const auto via =
        route::find_route(world.graph, profile_of(world, loads), {.from = "near", .to = "far", .via = {"near"}});
    ASSERT_TRUE(direct.route() && via.route());
    EXPECT_NEAR(via.route()->time_s, direct.route()->time_s, 1e-9);
    EXPECT_EQ(via.route()->legs[0].time_s, loads.empty() ? 0 : 30);
  }
}

TEST(Price, TheQuickerRouteIsOfferedWhereThePriceDecided) {
  YardBuilder yard;
  const auto pebble = yard.nowhere();
  yard.rail("start", pebble, {{0, -0.4, 0}, {0, 0.4, 0}}, {-Vec3::UnitZ()});
  yard.rail("short", pebble, {{0.3, -0.4, 0}, {3, -0.4, 0}}, {-Vec3::UnitZ()});
  yard.rail("long", pebble, {{0.3, 0.4, 0}, {1.6, 1.2, 0}, {3, 0.4, 0}}, {-Vec3::UnitZ()});
  yard.rail("end", pebble, {{3.3, -0.4, 0}, {3.3, 0.4, 0}}, {-Vec3::UnitZ()});
  yard.place("a", {0, -0.4, 0}, 0.01), yard.place("b", {3.3, -0.4, 0}, 0.01);
  const auto zone = yard.zone("beam", model::Sphere{.center = {1.6, -0.4, -0.55}, .radius = 0.6},
                              model::ZoneEffect::Caution, {.body = true});
  for (const double price : {0.0, 0.5, 30.0}) {
    SCOPED_TRACE(price);
    yard.structure.zones[zone.index()].price_s_per_s = price;
    const World world(yard.structure);
    const auto answer = world.route("a", "b");
    auto quick = profile_of(world);
    quick.prices_caution = false;
    const auto quickest = route::find_route(world.graph, quick, {.from = "a", .to = "b"});
    ASSERT_TRUE(answer.route() && quickest.route());
    EXPECT_EQ(answer.is_priced, price == 30) << "only where it may have decided";
    EXPECT_FALSE(quickest.is_priced);
    EXPECT_FALSE(quickest.quicker);
    EXPECT_GT(quickest.route()->caution_s, 0);
    EXPECT_EQ(quickest.route()->price_s, 0);
    if (price < 30) {
      EXPECT_FALSE(answer.quicker) << "the price decided nothing";
      EXPECT_EQ(answer.route()->time_s, quickest.route()->time_s);
      // Standing at the ends is not priced, and nobody stands in this zone.
      EXPECT_NEAR(answer.route()->price_s, price * answer.route()->caution_s, 1e-9);
      continue;
    }
    ASSERT_TRUE(answer.quicker);
    EXPECT_EQ(answer.quicker->time_s, quickest.route()->time_s);
    EXPECT_EQ(answer.quicker->caution_s, quickest.route()->caution_s);
    EXPECT_EQ(answer.quicker->zones, std::vector{zone});
    EXPECT_LT(answer.quicker->time_s, answer.route()->time_s);
    const auto home = route::compute_home(world.graph, profile_of(world), {.hatches = {"b"}});
    EXPECT_EQ(home.priced_places, 1u);
    EXPECT_NEAR(home.priced_s, answer.route()->time_s - quickest.route()->time_s, 1e-9);
  }
}

TEST(Matrix, HoldsTheNumbersOfSingleRoutes) {
  for (int seed = 0; seed < 8; ++seed) {
    SCOPED_TRACE(seed);
    std::mt19937_64 random(830 + static_cast<unsigned>(seed));
    const World world(seed % 2 == 0 ? zoned_yard(random) : grid_yard(random));  // prices and limits included
    for (const auto by : {route::Objective::Time, route::Objective::Distance, route::Objective::Moves}) {
      const auto matrix = route::compute_matrix(world.graph, profile_of(world), by);
      ASSERT_EQ(matrix.places.size(), 3u);
      for (std::size_t from = 0; from < 3; ++from)
        for (std::size_t to = 0; to < 3; ++to) {
          const auto& cell = matrix.at(from, to);
          const auto answer = world.route(world.structure.places[from].id, world.structure.places[to].id, by);
          ASSERT_EQ(cell.has_value(), answer.route() != nullptr);
          if (!cell) continue;
          EXPECT_EQ(cell->moves, answer.route()->moves);
          EXPECT_NEAR(cell->time_s, answer.route()->time_s, 1e-9);
          EXPECT_NEAR(cell->distance_m, answer.route()->distance_m, 1e-9);
          if (from == to) EXPECT_EQ(cell->time_s, 0);
        }
    }
  }
}

}  // namespace
}  // namespace holdfast
