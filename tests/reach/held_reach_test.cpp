// SPDX-License-Identifier: GPL-3.0-or-later
// What is worked on with both hands while a tether holds it there.

#include "holdfast/tether/held_reach.h"

#include <gtest/gtest.h>

#include <cmath>
#include <random>

#include "yard_builder.h"

namespace holdfast::tether {
namespace {

using model::Vec3;

/// A deck with a socket at its middle, a rail to get in by, and anchors.
struct Deck : support::YardBuilder {
  Deck() {
    deck = part("deck", model::Box{.center = {0, 0, -0.5}, .size = {12, 12, 1}});
    rail("rail", deck, {{1.6, -0.9, 0.07}, {1.6, 0.9, 0.07}}, {{0, 0, 1}});
    model::Socket socket;
    socket.id = "s";
    socket.axis = Vec3::UnitZ();
    structure.sockets.push_back(socket);
  }
  void anchor(std::string id, Vec3 at) {
    model::Anchor a;
    a.id = std::move(id);
    a.at = at;
    structure.anchors.push_back(a);
  }
  model::PartId deck;
};
model::Tether tether(std::string id, double least, double most) {
  model::Tether t;
  t.id = t.name = std::move(id);
  t.min_length_m.value = least, t.length_m.value = most;
  return t;
}

struct Asked {
  explicit Asked(const Deck& deck) : world(deck.structure), restraint(model::default_foot_restraint()) {}
  reach::ReachAnswer reach(std::vector<std::string> targets) const {
    return reach::find_reach(world.graph, {.kit = world.kit, .suit = world.kit.suits.front()},
                             {.sockets = {"s"}, .targets = std::move(targets), .restraint = &restraint});
  }
  std::vector<HeldTarget> held(const reach::ReachAnswer& answer, const HeldRequest& request) const {
    return find_held(world.graph, {.kit = world.kit, .suit = world.kit.suits.front()}, answer, request);
  }
  support::World world;
  model::FootRestraint restraint;
};

TEST(HeldReach, JoinsTheTwoHandZoneWithWhatTethersHold) {
  Deck deck;
  deck.place("bag", {1.3, 0, 0.5});
  deck.place("far", {4, 0, 0.5});
  deck.anchor("a", {1.3, -2.0, 0.02});
  const Asked asked(deck);
  const auto answer = asked.reach({"bag", "far"});
  const model::Tether right = tether("right", 1.5, 2.5), too_long = tether("long", 3, 4);
  const auto held = asked.held(answer, {.tethers = {&right}});
  ASSERT_EQ(held.size(), 1U) << "what no hands reach is not asked about";
  EXPECT_EQ(held[0].target, 0U);
  EXPECT_GT(held[0].stations, 0U);
  const auto& station = answer.sites[0].stations[held[0].station];
  EXPECT_TRUE(station.is_usable());
  EXPECT_EQ(station.targets[0].kind, reach::Kind::TwoHand);
  std::size_t having = 0;
  for (const auto& each : answer.sites[0].stations)
    having += each.is_usable() && each.targets[0].kind == reach::Kind::TwoHand ? 1 : 0;
  EXPECT_EQ(held[0].stations, having);
  ASSERT_FALSE(held[0].positioning.holds.empty());
  for (const auto& hold : held[0].positioning.holds) {
    const auto& series = held[0].positioning.all[hold.series];
    EXPECT_GE(hold.distance_m, series.least_m - 1e-6);
    EXPECT_LE(hold.distance_m, series.most_m + 1e-6);
  }
  const auto none = asked.held(answer, {.tethers = {&too_long}, .hooks = {"a"}});
  ASSERT_EQ(none.size(), 1U);
  for (const auto& hold : none[0].positioning.holds) EXPECT_EQ(hold.hook.name, "a");
  EXPECT_TRUE(none[0].positioning.holds.empty()) << "3 m and more between points 2.06 m apart";
}

// Lengths of a series add: from one anchor alone, it holds where least sum <= distance <= most sum, equality included.
TEST(HeldReach, InSeriesLengthsAddAndMeetTheirLimits) {
  std::mt19937 random(53);
  std::uniform_real_distribution<double> unit(0, 1);
  int holds = 0, none = 0;
  for (int round = 0; round < 12; ++round) {
    SCOPED_TRACE("seed 53, round " + std::to_string(round));
    Deck deck;
    deck.structure.rails[0].use.tether = false;
    deck.place("bag", {1.3, 0.0, 0.5});
    const double out = 1.5 + 2 * unit(random);
    deck.anchor("a", {1.3, -out, 0.5});
    const Asked asked(deck);
    const auto answer = asked.reach({"bag"});
    model::Tether one = tether("one", 0.5 * unit(random), 0), two = tether("two", 0.4 * unit(random), 0);
    one.length_m.value = one.min_length_m + 1.2 * unit(random);
    two.length_m.value = two.min_length_m + 1.2 * unit(random);
    if (round == 0) one.length_m.value = one.min_length_m.value = out;  // just as long
    const auto held = asked.held(answer, {.tethers = {&one, &two}, .hooks = {"a"}});
    ASSERT_EQ(held.size(), 1U);
    const auto& positioning = held[0].positioning;
    for (std::size_t s = 0; s < positioning.all.size(); ++s) {
      double least = 0, most = 0;
      for (const auto* t : positioning.all[s].tethers) least += t->min_length_m, most += t->length_m;
      const bool expected = least <= out + 1e-6 && out <= most + 1e-6;
      const bool found = std::any_of(positioning.holds.begin(), positioning.holds.end(),
                                     [&](const SeriesHold& hold) { return hold.series == s; });
      EXPECT_EQ(found, expected) << s;
      ++(found ? holds : none);
    }
  }
  EXPECT_GT(holds, 5);
  EXPECT_GT(none, 5);
}

TEST(HeldReach, CountsOnlyLinesThatAreStraightAndClear) {
  for (const bool has_wall : {false, true}) {
    Deck deck;
    deck.structure.rails[0].use.tether = false;
    deck.place("bag", {1.3, 0, 0.5});
    deck.anchor("a", {1.3, -2.5, 0.5});
    if (has_wall) deck.part("wall", model::Box{.center = {1.3, -1.9, 0.6}, .size = {0.6, 0.05, 0.8}});
    const Asked asked(deck);
    const model::Tether line = tether("line", 1, 3);
    const auto held = asked.held(asked.reach({"bag"}), {.tethers = {&line}});
    ASSERT_EQ(held.size(), 1U);
    EXPECT_EQ(held[0].positioning.holds.empty(), has_wall);
  }
}

TEST(HeldReach, RefusesUnknownHooksAndAKitWithoutTethers) {
  Deck deck;
  deck.place("bag", {1.3, 0, 0.5});
  const Asked asked(deck);
  const auto answer = asked.reach({"bag"});
  const model::Tether line = tether("line", 1, 3);
  EXPECT_THROW((void)asked.held(answer, {.tethers = {&line}, .hooks = {"nowhere"}}), model::InputError);
  ASSERT_TRUE(asked.world.kit.tethers.empty());
  EXPECT_THROW((void)asked.held(answer, {}), model::InputError);
}

}  // namespace
}  // namespace holdfast::tether
