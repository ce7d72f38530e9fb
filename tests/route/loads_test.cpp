// SPDX-License-Identifier: GPL-3.0-or-later
// Routes with loads: against an exhaustive search over the same rules, and rule by rule.

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <functional>
#include <map>
#include <queue>
#include <random>
#include <set>

#include "generated_yard.h"
#include "holdfast/graph/load_sweep.h"
#include "holdfast/route/choices.h"
#include "reference_yard.h"
#include "yard_builder.h"

namespace holdfast {
namespace {

using graph::GripId;
using model::Load;
using route::Answer;
using route::CauseKind;
using route::Profile;
using support::Vec3;
using support::World;
using support::YardBuilder;
using testing::HasSubstr;

Load box_beside(std::string id, Vec3 size, Vec3 offset) {
  Load load;
  load.id = load.name = std::move(id);
  load.size_m = size, load.offset_m = offset;
  load.mass_kg = {20, "test", model::Confidence::Assumption};
  load.stow_s = {30, "test", model::Confidence::Assumption};
  load.hands = 1;
  return load;
}
Load box_in_tow(std::string id, Vec3 size, double tow_m) {
  Load load = box_beside(std::move(id), size, Vec3::Zero());
  load.how = model::CarriedHow::InTow;
  load.tow_length_m = tow_m;
  load.hands = 0;
  return load;
}

Profile profile_of(const World& world, std::vector<const Load*> loads, std::vector<model::RailId> closed = {}) {
  return {
      .kit = world.kit, .suit = world.kit.suits.front(), .closures = {std::move(closed)}, .loads = std::move(loads)};
}
Answer ask(const World& world, std::vector<const Load*> loads, const std::string& from, const std::string& to,
           route::Objective by = route::Objective::Time, std::vector<model::RailId> closed = {}) {
  return route::find_route(world.graph, profile_of(world, std::move(loads), std::move(closed)),
                           {.from = from, .to = to, .by = by});
}

// ---- rates and hands ------------------------------------------------------------------------------------------------

TEST(Momentum, TheRateIsWhatTheForceStopsWithinTheDistance) {
  // v = sqrt(2 F s / m), elementary; the rows of the standards table, section 3: F = 200 N, s = 0.30 m. That a free
  // mover can stop with 200 N is an assumption.
  const auto suit = model::default_suit();
  for (const auto& [mass, rate] : {std::pair(200.0, 0.775), {300.0, 0.632}, {600.0, 0.447}, {1000.0, 0.346}})
    EXPECT_NEAR(route::translation_rate_m_s(suit, 9, mass), rate, 5e-4);
  EXPECT_EQ(route::translation_rate_m_s(suit, 0.2, 200), 0.2) << "the way of carrying may allow less";
  ASSERT_TRUE(suit.stop_force_n.spread);
  EXPECT_EQ(suit.stop_force_n.confidence, model::Confidence::Assumption);
  EXPECT_LT(suit.stop_force_n.spread->first, 200);
}

TEST(Momentum, AHeavyLoadSlowsTheMoverAndLengthensStartAndStop) {
  World world(YardBuilder().structure);
  auto& suit = world.kit.suits.front();
  Load light = box_in_tow("light", {0.3, 0.3, 0.3}, 0.5), heavy = light;
  heavy.mass_kg.value = 20000;
  const auto none = route::pace_of(profile_of(world, {}));
  const auto easy = route::pace_of(profile_of(world, {&light}));
  const auto hard = route::pace_of(profile_of(world, {&heavy}));
  EXPECT_EQ(none.rate_m_s, suit.rate_free_m_s);
  EXPECT_EQ(easy.rate_m_s, suit.rate_loaded_m_s);
  EXPECT_NEAR(hard.rate_m_s, std::sqrt(2 * 200 * 0.3 / 20200), 1e-12);
  EXPECT_EQ(easy.start_s, suit.start_s);
  EXPECT_NEAR(hard.start_s, 20200 * hard.rate_m_s / 200, 1e-9) << "m v / F";
  EXPECT_EQ(easy.take_up_s, 30);
  EXPECT_EQ(easy.one_hand_s, 0) << "a load in tow leaves both hands";
  light.rate_m_s = {0.05, "test", model::Confidence::Assumption};
  EXPECT_EQ(route::pace_of(profile_of(world, {&light})).rate_m_s, 0.05);
}

model::Structure one_line(double length = 4) {
  YardBuilder yard;
  yard.rail("line", yard.nowhere(), {{0, 0, 0}, {length, 0, 0}}, {-Vec3::UnitZ()});
  yard.place("a", {0, 0, 0}, 0.01), yard.place("b", {length, 0, 0}, 0.01);
  return yard.structure;
}

TEST(Hands, AHandTakenCostsTimeWithEveryMove) {
  const World world(one_line());
  const Load bag = box_beside("bag", {0.3, 0.3, 0.3}, {0, 0.5, 0});
  Load hung = bag;
  hung.hands = 0;
  const auto in_hand = ask(world, {&bag}, "a", "b"), at_belt = ask(world, {&hung}, "a", "b");
  ASSERT_TRUE(in_hand.route() && at_belt.route());
  const auto& suit = world.kit.suits.front();
  EXPECT_NEAR(in_hand.route()->time_by_cause.load_s, 60 + suit.one_hand_s * static_cast<double>(in_hand.route()->moves),
              1e-9);
  EXPECT_NEAR(at_belt.route()->time_by_cause.load_s, 60, 1e-9) << "taken up and put down";
  EXPECT_NEAR(in_hand.route()->time_by_cause.sum_s(), in_hand.route()->time_s, 1e-9);
}

TEST(Hands, LoadsThatNobodyCouldCarryTogetherAreRefusedWithTheReason) {
  const World world(one_line());
  const Load left = box_beside("left", {0.3, 0.3, 0.3}, {0, 0.5, 0}),
             right = box_beside("right", {0.3, 0.3, 0.3}, {0, -0.5, 0});
  Load hung = box_beside("hung", {0.3, 0.3, 0.3}, {0, 0.6, 0});
  hung.hands = 0;
  const Load tow = box_in_tow("tow", {0.3, 0.3, 0.3}, 0.8), other = box_in_tow("other", {0.3, 0.3, 0.3}, 0.8);
  const auto refusal = [&](std::vector<const Load*> loads) -> std::string {
    try {
      (void)ask(world, std::move(loads), "a", "b");
    } catch (const model::InputError& error) {
      EXPECT_EQ(error.diagnostics().front().code, "loads-clash");
      return error.diagnostics().front().problem;
    }
    return "";
  };
  EXPECT_THAT(refusal({&left, &right}), HasSubstr("together occupy both hands"));
  EXPECT_THAT(refusal({&tow, &other}), HasSubstr("both be in tow"));
  EXPECT_THAT(refusal({&left, &hung}), HasSubstr("in the same place"));
  EXPECT_THAT(refusal({&tow, &tow}), HasSubstr("twice"));
  EXPECT_EQ(refusal({&right, &hung, &tow}), "");
}

// ---- beside: against an exhaustive search over directed moves -------------------------------------------------------

/// Least cost over (move gone, heading), written down from the rules: swing, then move.
std::optional<std::int64_t> least_beside(const World& world, const Load& load, const std::string& from,
                                         const std::string& to) {
  const auto& g = world.graph;
  const auto profile = profile_of(world, {&load});
  const auto table = route::compute_costs(g, profile, route::Objective::Time);
  const graph::BesideSweep sweep(g, load, route::load_zones_that_hold(g));
  struct Step {
    std::uint32_t from, to, move;
    graph::Headings headings;
  };
  std::vector<Step> steps;
  for (std::uint32_t a = 0; a < g.grips().size(); ++a)
    for (const auto& arc : g.adjacency().out(a)) {
      if (table.by_move[arc.move].is_blocked()) continue;
      const auto headings = graph::headings_of(g.grip(GripId(a)), g.grip(GripId(arc.head)));
      if (headings.is_free) continue;
      if (sweep.move(GripId(a), GripId(arc.head), headings.start).fits)
        steps.push_back({a, arc.head, arc.move, headings});
    }
  std::map<std::pair<std::size_t, std::size_t>, bool> swings;
  const auto can_follow = [&](std::size_t x, std::size_t y) {
    const auto key = std::pair(x, y);
    const auto found = swings.find(key);
    if (found != swings.end()) return found->second;
    const bool fits = (steps[x].headings.end - steps[y].headings.start).norm() < 1e-6 ||
                      sweep.swing(GripId(steps[x].to), steps[x].headings.end, steps[y].headings.start).fits;
    return swings[key] = fits;
  };
  const auto is_at = [&](std::uint32_t grip, const std::string& place) {
    const auto& p = world.structure.places[world.structure.find_place(place)->index()];
    return (g.grip(GripId(grip)).hand - p.at).norm() <= p.within_m && table.grip_blocks[grip] == 0;
  };
  std::vector<std::vector<std::size_t>> out(g.grips().size());
  for (std::size_t s = 0; s < steps.size(); ++s) out[steps[s].from].push_back(s);
  using Open = std::pair<std::int64_t, std::size_t>;
  std::priority_queue<Open, std::vector<Open>, std::greater<>> open;
  std::vector<std::int64_t> cost(steps.size(), -1);
  for (std::size_t s = 0; s < steps.size(); ++s)
    if (is_at(steps[s].from, from)) open.emplace(table.by_move[steps[s].move].primary(), s);
  while (!open.empty()) {
    const auto [c, s] = open.top();
    open.pop();
    if (cost[s] >= 0) continue;
    cost[s] = c;
    if (is_at(steps[s].to, to)) return c;
    for (const auto next : out[steps[s].to])
      if (cost[next] < 0 && can_follow(s, next)) open.emplace(c + table.by_move[steps[next].move].primary(), next);
  }
  return std::nullopt;
}

TEST(LoadsBeside, AreRoutedAsTheExhaustiveSearchSays) {
  std::mt19937_64 random(21);
  int routes = 0, refusals = 0, detours = 0;
  for (int round = 0; round < 60; ++round) {
    const World world(support::random_yard(random));
    const auto uniform = [&](double low, double high) {
      return std::uniform_real_distribution<double>(low, high)(random);
    };
    const Load load = round % 2 == 0 ? box_beside("rod", {uniform(0.8, 2.4), 0.1, 0.1}, {0, uniform(-0.3, 0.3), 0.2})
                                     : box_beside("box", {0.4, uniform(0.1, 0.4), uniform(0.2, 0.5)}, {0, 0.3, 0.2});
    for (const auto& [from, to] : {std::pair("start", "goal"), {"start", "middle"}, {"middle", "start"}}) {
      const auto plain = world.route(from, to);
      const auto answer = ask(world, {&load}, from, to);
      const auto expected = least_beside(world, load, from, to);
      if (plain.route() && plain.route()->moves == 0) continue;
      ASSERT_EQ(answer.route() != nullptr, expected.has_value()) << "round " << round;
      if (!answer.route()) {
        if (plain.route()) ++refusals;
        continue;
      }
      ++routes;
      EXPECT_TRUE(answer.is_proven_best());
      const double moves_s = answer.route()->time_s - answer.route()->time_by_cause.start_stop_s - 60;
      EXPECT_NEAR(moves_s, static_cast<double>(*expected) / 1e5, 1e-3) << "round " << round;
      if (support::rails_of(world.structure, *answer.route()) != support::rails_of(world.structure, *plain.route()))
        ++detours;
      ASSERT_TRUE(answer.route()->load_clearance);
      EXPECT_GE(answer.route()->load_clearance->clearance.value_m, graph::load_margin_m);
    }
  }
  EXPECT_GT(routes, 8);
  EXPECT_GT(refusals, 3);
  EXPECT_GT(detours, 0);
}

// ---- in tow: against enumeration ------------------------------------------------------------------------------------

TEST(LoadsInTow, AreRoutedAsEnumerationSays) {
  // Two short parallel lines joined by a cross line, a post beside one of them.
  int routes = 0, detours = 0;
  for (int variant = 0; variant < 12; ++variant) {
    YardBuilder yard;
    const auto pebble = yard.nowhere();
    yard.rail("near", pebble, {{0, 0, 0}, {1.6, 0, 0}}, {-Vec3::UnitZ()});
    yard.rail("cross", pebble, {{0.8, 0.3, 0}, {0.8, 0.9, 0}}, {-Vec3::UnitZ()});
    yard.rail("far", pebble, {{0, 1.2, 0}, {1.6, 1.2, 0}}, {-Vec3::UnitZ()});
    yard.part("post", model::Box{.center = {0.2 + 0.12 * variant, 0.6, -0.55 - 0.6 - 0.1}, .size = {0.15, 0.15, 0.3}});
    yard.place("a", {0, 0, 0}, 0.05), yard.place("b", {1.6, 1.2, 0}, 0.05);
    graph::Body body;
    body.spacing_m = 0.4;
    const World world(yard.structure, body);
    const Load load = box_in_tow("load", {0.9, 0.3, 1.1}, 0.7);
    const auto answer = ask(world, {&load}, "a", "b");

    const auto table = route::compute_costs(world.graph, profile_of(world, {&load}), route::Objective::Time);
    const graph::TowSweep tow(world.graph, load, {});
    // Dijkstra's method over (grip, trail), every sweep made, no bound.
    std::int64_t best = std::numeric_limits<std::int64_t>::max();
    const auto last = world.graph.grips_of(*world.structure.find_rail("far")).second - 1;
    struct Partial {
      std::uint32_t grip;
      graph::Trail trail;
    };
    std::vector<Partial> partials = {{0, {}}};
    std::map<std::pair<std::uint32_t, std::string>, std::int64_t> done;
    std::set<std::pair<std::int64_t, std::size_t>> open = {{0, 0}};
    while (!open.empty() && best == std::numeric_limits<std::int64_t>::max()) {
      const auto [cost, index] = *open.begin();
      open.erase(open.begin());
      const Partial at = partials[index];
      if (!done.emplace(std::pair(at.grip, at.trail.key()), cost).second) continue;
      if (at.grip == last && tow.draw_in(at.trail, GripId(at.grip)).fits) best = cost;
      for (const auto& arc : world.graph.adjacency().out(at.grip)) {
        if (table.by_move[arc.move].is_blocked()) continue;
        const auto step = tow.move(at.trail, GripId(at.grip), GripId(arc.head));
        if (!step.sweep.fits) continue;
        partials.push_back({arc.head, step.trail});
        open.emplace(cost + table.by_move[arc.move].primary(), partials.size() - 1);
      }
    }
    ASSERT_EQ(answer.route() != nullptr, best != std::numeric_limits<std::int64_t>::max()) << variant;
    if (!answer.route()) continue;
    ++routes;
    EXPECT_TRUE(answer.is_proven_best());
    const double moves_s = answer.route()->time_s - answer.route()->time_by_cause.start_stop_s - 60;
    EXPECT_NEAR(moves_s, static_cast<double>(best) / 1e5, 1e-3) << variant;
    const auto plain = route::find_route(world.graph, profile_of(world, {}), {.from = "a", .to = "b"});
    if (plain.route()->moves != answer.route()->moves) ++detours;
  }
  EXPECT_GT(routes, 5);
}

TEST(LoadsInTow, ALongTrailStartsAtTheMoversSide) {
  const World world(one_line());
  const Load load = box_in_tow("sledge", {0.6, 0.3, 0.3}, 1.5);
  const auto answer = ask(world, {&load}, "a", "b");
  ASSERT_TRUE(answer.route());
  const auto& poses = answer.route()->legs[0].poses;
  for (const auto& pose : poses) {
    ASSERT_EQ(pose.loads.size(), 1u);
    EXPECT_NEAR(pose.loads[0].middle.x(), std::max(0.0, pose.body.x() - 1.5), 1e-9);
  }
}

// ---- a pole, a gap, a corner ----------------------------------------------------------------------------------------

/// A line through a gap between two walls, then a cross line between walls: an L of corridors.
model::Structure corner_yard() {
  YardBuilder yard;
  const auto pebble = yard.nowhere();
  yard.rail("along", pebble, {{0, 0, 0}, {4, 0, 0}}, {-Vec3::UnitZ()});
  yard.rail("turned", pebble, {{4.2, 0.2, 0}, {4.2, 4, 0}}, {-Vec3::UnitZ()});
  yard.part("outer", model::Box{.center = {2.7, -1.2, -0.55}, .size = {6, 1, 3}});  // y < -0.7
  yard.part("inner", model::Box{.center = {1.5, 2.7, -0.55}, .size = {4, 4, 3}});   // x < 3.5, y > 0.7
  yard.part("end", model::Box{.center = {5.45, 1.5, -0.55}, .size = {1, 8, 3}});    // x > 4.95
  yard.place("a", {0, 0, 0}, 0.05), yard.place("b", {3.6, 0, 0}, 0.05), yard.place("c", {4.2, 4, 0}, 0.05);
  return yard.structure;
}

TEST(Pole, GoesStraightThroughAGapButCannotTurnInIt) {
  const World world(corner_yard());
  const Load pole = box_beside("pole", {2.5, 0.1, 0.1}, {0, 0, 0.3});
  EXPECT_TRUE(ask(world, {}, "a", "c").route());
  EXPECT_TRUE(ask(world, {&pole}, "a", "b").route()) << "straight";
  const auto refused = ask(world, {&pole}, "a", "c");
  ASSERT_TRUE(refused.no_route());
  const auto& cause = refused.no_route()->causes.front();
  EXPECT_EQ(cause.kind, CauseKind::LoadTooTight);
  EXPECT_EQ(cause.load, "pole");
  EXPECT_TRUE(cause.opens_alone);
  EXPECT_GT(cause.then_time_s, 0);
  ASSERT_TRUE(cause.fraction);
  // What it says would pass does, and what is a little larger does not.
  Load smaller = pole;
  smaller.size_m *= *cause.fraction;
  EXPECT_TRUE(ask(world, {&smaller}, "a", "c").route());
  Load larger = pole;
  larger.size_m *= *cause.fraction + 1.0 / 32;
  EXPECT_FALSE(ask(world, {&larger}, "a", "c").route());
  EXPECT_NEAR((cause.at - Vec3(4.1, 0.1, cause.at.z())).norm(), 0, 1.6) << "it stops at the corner";
}

TEST(Pole, NoRodPassesThatIsLongerThanTheLadderProblemAllows) {
  // Corridors 1.4 m and 1.45 m wide: no rigid rod longer than (a^(2/3) + b^(2/3))^(3/2) gets round, however carried.
  const World world(corner_yard());
  const double longest = std::pow(std::cbrt(1.4 * 1.4) + std::cbrt(1.45 * 1.45), 1.5);
  for (const double forward : {-0.6, 0.0, 0.6})
    for (const double side : {-0.4, 0.0, 0.4}) {
      const Load rod = box_beside("rod", {longest + 0.01, 0.02, 0.02}, {forward, side, 0});
      EXPECT_FALSE(ask(world, {&rod}, "a", "c").route()) << forward << " " << side;
    }
  for (const double tow : {0.4, 0.8, 1.3}) {
    const Load rod = box_in_tow("rod", {longest + 0.01, 0.02, 0.02}, tow);
    EXPECT_FALSE(ask(world, {&rod}, "a", "c").route()) << tow;
  }
}

TEST(LoadTooLarge, IsRefusedWithTheLargestThatFits) {
  const World world(corner_yard());
  const Load crate = box_in_tow("crate", {3, 3, 3}, 1);
  const auto answer = ask(world, {&crate}, "a", "b");
  ASSERT_TRUE(answer.no_route());
  const auto& cause = answer.no_route()->causes.front();
  EXPECT_EQ(cause.kind, CauseKind::LoadTooTight);
  ASSERT_TRUE(cause.fraction);
  EXPECT_GT(*cause.fraction, 0.3);
  EXPECT_LT(*cause.fraction, 1.4 / 3) << "the corridor is 1.4 m wide";
  EXPECT_TRUE(cause.part.has_value());
}

// ---- zones, closures, several legs ----------------------------------------------------------------------------------

model::Structure two_lines() {
  YardBuilder yard;
  const auto pebble = yard.nowhere();
  yard.rail("start", pebble, {{0, -0.4, 0}, {0, 0.4, 0}}, {-Vec3::UnitZ()});
  yard.rail("short", pebble, {{0.3, -0.4, 0}, {3, -0.4, 0}}, {-Vec3::UnitZ()});
  yard.rail("long", pebble, {{0.3, 0.4, 0}, {1.6, 1.2, 0}, {3, 0.4, 0}}, {-Vec3::UnitZ()});
  yard.rail("end", pebble, {{3.3, -0.4, 0}, {3.3, 0.4, 0}}, {-Vec3::UnitZ()});
  yard.place("a", {0, -0.4, 0}, 0.01), yard.place("b", {3.3, -0.4, 0}, 0.01);
  return yard.structure;
}

TEST(LoadZones, ForbidCautionAndLimitApplyToTheLoadAlone) {
  const Load bag = box_beside("bag", {0.3, 0.3, 0.3}, {0, 0.7, 0});  // left: -y going forward on the zenith side
  const auto world_with = [&](model::ZoneEffect effect, double number) {
    auto structure = two_lines();
    model::Zone zone;
    zone.id = "beam", zone.reason = "test", zone.effect = effect;
    zone.shape = model::Sphere{.center = {1.6, -1.1, -0.55}, .radius = 0.25};
    zone.applies.load = true;
    zone.limit_s = number, zone.price_s_per_s = number;
    structure.zones.push_back(zone);
    return structure;
  };
  const World open(two_lines());
  const auto free_way = ask(open, {&bag}, "a", "b");
  ASSERT_TRUE(free_way.route());
  EXPECT_THAT(support::rails_of(open.structure, *free_way.route()), testing::Contains("short"));

  const World forbidden(world_with(model::ZoneEffect::Forbid, 0));
  EXPECT_THAT(support::rails_of(open.structure, *ask(forbidden, {}, "a", "b").route()), testing::Contains("short"));
  const auto round = ask(forbidden, {&bag}, "a", "b");
  ASSERT_TRUE(round.route());
  EXPECT_THAT(support::rails_of(open.structure, *round.route()), testing::Contains("long"));
  const auto closed = ask(forbidden, {&bag}, "a", "b", route::Objective::Time, {*open.structure.find_rail("long")});
  ASSERT_TRUE(closed.no_route());
  ASSERT_EQ(closed.no_route()->causes.size(), 2u);
  EXPECT_EQ(closed.no_route()->causes[0].kind, CauseKind::Zones);
  EXPECT_EQ(closed.no_route()->causes[0].load, "bag");
  EXPECT_TRUE(closed.no_route()->causes[0].opens_alone);
  EXPECT_EQ(closed.no_route()->causes[1].kind, CauseKind::Closures);
  EXPECT_TRUE(closed.no_route()->causes[1].opens_alone);

  const World cheap(world_with(model::ZoneEffect::Caution, 0.01)), dear(world_with(model::ZoneEffect::Caution, 50));
  const auto through = ask(cheap, {&bag}, "a", "b");
  EXPECT_THAT(support::rails_of(open.structure, *through.route()), testing::Contains("short"));
  EXPECT_GT(through.route()->caution_s, 0);
  ASSERT_EQ(through.route()->zones.size(), 1u);
  EXPECT_GT(through.route()->zones[0].inside_s, 0);
  EXPECT_THAT(support::rails_of(open.structure, *ask(dear, {&bag}, "a", "b").route()), testing::Contains("long"));

  const double stay = through.route()->zones[0].inside_s;
  const World wide(world_with(model::ZoneEffect::Limit, stay + 1)), tight(world_with(model::ZoneEffect::Limit, 1));
  EXPECT_THAT(support::rails_of(open.structure, *ask(wide, {&bag}, "a", "b").route()), testing::Contains("short"));
  EXPECT_THAT(support::rails_of(open.structure, *ask(tight, {&bag}, "a", "b").route()), testing::Contains("long"));
}

TEST(Loads, AreCarriedOverSeveralLegsAndTakenUpOnce) {
  const World world(one_line(6));
  const Load tow = box_in_tow("tow", {0.5, 0.3, 0.3}, 0.8);
  const auto answer = route::find_route(world.graph, profile_of(world, {&tow}), {.from = "a", .to = "a", .via = {"b"}});
  ASSERT_TRUE(answer.route());
  ASSERT_EQ(answer.route()->legs.size(), 2u);
  EXPECT_NEAR(answer.route()->time_by_cause.load_s, 60, 1e-9);
  const auto there = ask(world, {&tow}, "a", "b");
  EXPECT_NEAR(answer.route()->time_s - 60, 2 * (there.route()->time_s - 60), 1e-6);
}

TEST(Loads, AKeptCacheChangesNoAnswer) {
  std::mt19937_64 random(31);
  for (int round = 0; round < 6; ++round) {
    const World world(support::random_yard(random));
    const Load load = box_beside("box", {1.0, 0.3, 0.3}, {0, 0.4, 0});
    route::LoadCache cache(world.graph, {&load});
    const auto profile = profile_of(world, {&load});
    for (const auto& [from, to] :
         {std::pair("start", "goal"), {"goal", "middle"}, {"start", "goal"}, {"middle", "start"}}) {
      const auto fresh = route::find_route(world.graph, profile, {.from = from, .to = to});
      const auto kept = route::find_route(world.graph, profile, {.from = from, .to = to, .load_cache = &cache});
      ASSERT_EQ(fresh.route() != nullptr, kept.route() != nullptr);
      if (!fresh.route()) continue;
      EXPECT_EQ(fresh.route()->time_s, kept.route()->time_s);
      ASSERT_EQ(fresh.route()->legs[0].poses.size(), kept.route()->legs[0].poses.size());
      for (std::size_t i = 0; i < fresh.route()->legs[0].poses.size(); ++i)
        EXPECT_EQ(fresh.route()->legs[0].poses[i].grip, kept.route()->legs[0].poses[i].grip);
    }
    const auto sweeps = cache.sweep_count();
    (void)route::find_route(world.graph, profile, {.from = "start", .to = "goal", .load_cache = &cache});
    EXPECT_EQ(cache.sweep_count(), sweeps) << "nothing is swept twice";
  }
}

TEST(Loads, LargerOnesAreNeverQuicker) {
  std::mt19937_64 random(41);
  for (int round = 0; round < 8; ++round) {
    const World world(support::random_yard(random));
    double last = 0;
    for (const double size : {0.1, 0.4, 0.8, 1.4, 2.2}) {
      const Load load = box_beside("box", {size, 0.4 * size, 0.3 * size}, {0, 0.4, 0});
      const auto answer = ask(world, {&load}, "start", "goal");
      const double time = answer.route() ? answer.route()->time_s : std::numeric_limits<double>::infinity();
      EXPECT_GE(time, last - 1e-9);
      last = time;
    }
  }
}

// ---- several ways ---------------------------------------------------------------------------------------------------

TEST(Compare, SaysWhatALoadChangesAndWhetherItPassesOnTheFirstWay) {
  const World world(corner_yard());
  Load pole = box_beside("pole", {2.5, 0.1, 0.1}, {0, 0, 0.3}), bag = box_beside("bag", {0.3, 0.3, 0.3}, {0, 0.4, 0});
  const auto comparison =
      route::compare_loads(world.graph, profile_of(world, {}), {.from = "a", .to = "c"}, {{}, {&bag}, {&pole}});
  ASSERT_EQ(comparison.rows.size(), 3u);
  EXPECT_TRUE(comparison.rows[0].loads.empty());
  EXPECT_TRUE(comparison.rows[1].goes_as_first);
  EXPECT_FALSE(comparison.rows[1].not_as_first);
  EXPECT_EQ(comparison.rows[1].answer.route()->time_s, ask(world, {&bag}, "a", "c").route()->time_s)
      << "each row is route's own answer";
  EXPECT_FALSE(comparison.rows[2].answer.route());
  ASSERT_TRUE(comparison.rows[2].not_as_first);
  EXPECT_EQ(comparison.rows[2].not_as_first->kind, CauseKind::LoadTooTight);
  ASSERT_TRUE(comparison.rows[2].not_as_first->fraction);
  EXPECT_LT(*comparison.rows[2].not_as_first->fraction, 1);
  // The grips are named: the move of the first route on which the pole stops.
  const auto& cause = *comparison.rows[2].not_as_first;
  ASSERT_TRUE(cause.hand_from && cause.hand_to);
  const auto& poses = comparison.rows[0].answer.route()->legs[0].poses;
  const auto at = std::find_if(poses.begin(), poses.end(), [&](const auto& p) { return p.hand == *cause.hand_from; });
  ASSERT_LT(at - poses.begin(), static_cast<std::ptrdiff_t>(poses.size()) - 1);
  EXPECT_EQ((at + 1)->hand, *cause.hand_to);
}

TEST(Compare, HoldsGivenWaysAgainstEachOther) {
  const World world(two_lines());
  const auto given = [&](const Answer& answer, const std::string& name) {
    route::GivenWay way{name, {}};
    for (const auto& leg : answer.route()->legs) {
      way.legs.push_back({leg.from, leg.to, {}});
      for (const auto& pose : leg.poses)
        way.legs.back().grips.push_back({world.structure.rails[pose.rail.index()].id, pose.hand, pose.outward});
    }
    return way;
  };
  const auto quick = world.route("a", "b");
  const auto slow = world.route("a", "b", route::Objective::Time, {*world.structure.find_rail("short")});
  const Load bag = box_beside("bag", {0.3, 0.3, 0.3}, {0, 0.4, 0});
  const auto comparison = route::compare_ways(world.graph, profile_of(world, {}), {},
                                              {given(quick, "quick"), given(slow, "slow")}, {{}, {&bag}});
  ASSERT_EQ(comparison.rows.size(), 4u);
  EXPECT_NEAR(comparison.rows[0].answer.route()->time_s, quick.route()->time_s, 1e-9);
  EXPECT_NEAR(comparison.rows[2].answer.route()->time_s, slow.route()->time_s, 1e-9);
  EXPECT_GT(comparison.rows[1].answer.route()->time_s, quick.route()->time_s);
  EXPECT_FALSE(comparison.rows[2].goes_as_first);
  auto strange = given(quick, "strange");
  strange.legs[0].grips[1].hand.x() += 0.01;
  EXPECT_THROW((void)route::compare_ways(world.graph, profile_of(world, {}), {}, {strange}, {{}}), model::InputError);
}

TEST(Alternatives, AreWhatTheyPromiseOnRandomYards) {
  std::mt19937_64 random(51);
  int others = 0;
  for (int round = 0; round < 12; ++round) {
    const World world(round % 2 == 0 ? support::random_yard(random) : support::generated_yard(1000));
    const std::string goal = round % 2 == 0 ? "goal" : "end";
    const auto choices =
        route::find_alternative_routes(world.graph, profile_of(world, {}), {.from = "start", .to = goal}, {.most = 4});
    const auto best = world.route("start", goal);
    ASSERT_EQ(best.route() != nullptr, !choices.ways.empty());
    if (!best.route()) continue;
    EXPECT_EQ(choices.ways[0].route.time_s, best.route()->time_s);
    EXPECT_LE(choices.ways.size(), 4u);
    std::set<std::string> held;
    for (std::size_t w = 0; w < choices.ways.size(); ++w) {
      const auto& route = choices.ways[w].route;
      double shared = 0;
      for (const auto& row : route.legs[0].rows)
        if (row.kind != route::RowKind::Start && held.count(world.structure.rails[row.rail.index()].id))
          shared += row.distance_m;
      if (w > 0) {
        ++others;
        EXPECT_LE(choices.ways[w].stretch, 1.3 + 1e-9);
        // Rows count the gap to a rail of another way as shared; the measure does not.
        EXPECT_LE(shared, 0.7 * best.route()->distance_m + 0.61 * static_cast<double>(route.legs[0].rows.size()));
        EXPECT_NE(support::rails_of(world.structure, route), support::rails_of(world.structure, *best.route()));
      }
      for (const auto& id : support::rails_of(world.structure, route)) held.insert(id);
    }
  }
  EXPECT_GT(others, 3);
}

TEST(TradeOffs, HoldTheBestInEachCriterionAndNoneBettersAnother) {
  std::mt19937_64 random(61);
  std::size_t most = 0;
  for (int round = 0; round < 20; ++round) {
    auto structure = support::random_yard(random);
    for (auto& zone : structure.zones) zone.effect = model::ZoneEffect::Caution;
    World world(structure);
    // All that differ by anything are told apart here.
    for (auto* step : {&world.kit.design.differ_time_s, &world.kit.design.differ_moves,
                       &world.kit.design.differ_clearance_m, &world.kit.design.differ_caution_s})
      step->value = 0;
    const auto profile = profile_of(world, {});
    const auto set = route::find_trade_offs(world.graph, profile, {.from = "start", .to = "goal"});
    const auto fewest = world.route("start", "goal", route::Objective::Moves);
    ASSERT_EQ(fewest.route() != nullptr, !set.ways.empty());
    if (!fewest.route()) continue;
    EXPECT_FALSE(set.is_cut_short);
    std::size_t told_apart = 0;  // before those over the same rails were joined
    for (const auto& way : set.ways) told_apart += way.stands_for;
    most = std::max(most, told_apart);
    std::size_t least_moves = 1000;
    double least_time = 1e9, least_caution = 1e9;
    for (const auto& way : set.ways) {
      least_moves = std::min(least_moves, way.route.moves);
      least_time = std::min(least_time, way.route.time_s);
      least_caution = std::min(least_caution, way.route.caution_s);
      EXPECT_GE(way.route.clearance.value_m, way.clearance_m - 1e-9);
      for (const auto& other : set.ways) {
        if (&other == &way) continue;
        EXPECT_TRUE(other.route.time_s > way.route.time_s + 1e-9 || other.route.moves > way.route.moves ||
                    other.route.caution_s > way.route.caution_s + 1e-9 || other.clearance_m < way.clearance_m - 1e-9);
      }
    }
    EXPECT_EQ(least_moves, fewest.route()->moves);
    EXPECT_LE(least_time, world.route("start", "goal").route()->time_s + 1e-9);
    // Of routes over the same rails one stands for all, the quickest: it may be longer in caution than another of them.
    const auto best = world.route("start", "goal");
    EXPECT_TRUE(least_caution <= best.route()->caution_s + 1e-9 ||
                std::any_of(set.ways.begin(), set.ways.end(), [&](const auto& way) { return way.stands_for > 1; }))
        << least_caution << " s in caution, where " << best.route()->caution_s << " s can be had";
  }
  EXPECT_GE(most, 2u);
}

TEST(TradeOffs, SayWhenTheLabelLimitIsHit) {
  std::mt19937_64 random(62);
  const World world(support::random_yard(random));
  const auto set = route::find_trade_offs(world.graph, profile_of(world, {}), {.from = "start", .to = "goal"}, 5);
  if (set.answer.route()) EXPECT_TRUE(set.is_cut_short);
}

TEST(WeakPoints, AreTheRailsWithoutWhichAPlaceHasNoWay) {
  std::mt19937_64 random(71);
  int weak_rails = 0;
  for (int round = 0; round < 10; ++round) {
    auto structure = support::random_yard(random);
    structure.places[0].kind = model::PlaceKind::Hatch;  // "start"
    const World world(structure);
    const auto weak =
        route::find_weak_points(world.graph, profile_of(world, {}), route::RouteRequest{.from = "start", .to = "goal"});
    std::set<std::pair<std::uint32_t, std::uint32_t>> expected, found;
    for (std::uint32_t p = 1; p < world.structure.places.size(); ++p) {
      const auto& id = world.structure.places[p].id;
      if (!world.route("start", id).route()) continue;
      for (std::uint32_t r = 0; r < world.structure.rails.size(); ++r)
        if (!world.route("start", id, route::Objective::Time, {model::RailId(r)}).route()) expected.insert({r, p});
    }
    for (const auto& rail : weak.rails)
      for (const auto place : rail.cut_off) found.insert({rail.rail.value, place.value});
    ASSERT_EQ(found, expected) << "round " << round;
    weak_rails += static_cast<int>(weak.rails.size());
    for (const auto& cost : weak.closing) {
      const auto answer = world.route("start", "goal", route::Objective::Time, {cost.rail});
      ASSERT_EQ(cost.time_s.has_value(), answer.route() != nullptr);
      if (cost.time_s) EXPECT_EQ(*cost.time_s, answer.route()->time_s);
    }
  }
  EXPECT_GT(weak_rails, 0);
}

}  // namespace
}  // namespace holdfast
