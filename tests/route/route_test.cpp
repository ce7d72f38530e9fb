// SPDX-License-Identifier: GPL-3.0-or-later
// Routes with answers known beforehand, and why there is none.

#include "holdfast/route/route.h"

#include <gtest/gtest.h>

#include <cmath>
#include <memory>
#include <numbers>

#include "yard_builder.h"

namespace holdfast::route {
namespace {

using model::RailId;
using model::ZoneEffect;
using support::rails_of;
using support::World;
using support::YardBuilder;

constexpr double pi = std::numbers::pi;
const Vec3 zenith = -Vec3::UnitZ();
const Vec3 nadir = Vec3::UnitZ();

model::Box deck() { return {.center = {0, 0, 0.5}, .size = {40, 40, 1}}; }

/// Deck rails by letter, each a point-to-point rail on the deck; places of the same name at their ends are added by
/// hand.
struct Deck : YardBuilder {
  Deck() : on(part("deck", deck())) {}
  RailId add(const std::string& id, double x0, double y0, double x1, double y1) {
    return rail(id, on, {{x0, y0, -0.07}, {x1, y1, -0.07}}, {zenith});
  }
  void at(const std::string& id, double x, double y, double within = 0.05) { place(id, {x, y, -0.07}, within); }
  model::PartId on;
};

Route found(const Answer& answer) {
  EXPECT_TRUE(answer.route()) << "no route";
  return answer.route() ? *answer.route() : Route{};
}

Cause only_cause(const Answer& answer) {
  EXPECT_TRUE(answer.no_route()) << "there is a route";
  if (!answer.no_route()) return {};
  EXPECT_EQ(answer.no_route()->causes.size(), 1u);
  return answer.no_route()->causes.front();
}

TEST(Route, TenMetresOfRailTakeSeventeenMoves) {
  Deck yard;
  yard.add("r", 0, 0, 10, 0);
  yard.at("a", 0, 0), yard.at("b", 10, 0);
  const World world(yard.structure);
  // Neighbouring grips are 10 / 67 m apart; four of these steps are within 0.61 m, five are not: ceil(67 / 4) = ceil(10
  // / 0.60).
  EXPECT_EQ(found(world.route("a", "b", Objective::Moves)).moves, 17u);
  EXPECT_NEAR(found(world.route("a", "b", Objective::Distance)).distance_m, 10, 1e-9);
}

TEST(Route, TimeIsTheSumOfItsCauses) {
  Deck yard;
  yard.add("r", 0, 0, 10, 0);
  yard.add("s", 10.4, 0, 14, 0);
  yard.at("a", 0, 0), yard.at("b", 14, 0);
  const World world(yard.structure);
  const auto& suit = world.kit.suits.front();
  const auto route = found(world.route("a", "b"));
  EXPECT_NEAR(route.time_by_cause.sum_s(), route.time_s, 1e-9);
  EXPECT_NEAR(route.time_by_cause.start_stop_s, suit.start_s + suit.stop_s, 1e-12);
  EXPECT_NEAR(route.time_by_cause.rail_change_s, suit.rail_change_s, 1e-12);
  // Moves of at least rate * re-grip = 0.4 m go at 0.2 m/s, so no way can be quicker than its length over the rate.
  EXPECT_GE(route.time_s, 14 / 0.2 + suit.start_s + suit.stop_s + suit.rail_change_s - 1e-9);
}

TEST(Route, AcrossAGapJustUnderReachAndNotJustOver) {
  for (const auto& [gap, open] : {std::pair{0.609, true}, std::pair{0.611, false}}) {
    SCOPED_TRACE(gap);
    Deck yard;
    yard.add("lower", 0, 0, 2, 0);
    yard.add("upper", 0, gap, 2, gap);
    yard.at("a", 0, 0), yard.at("b", 2, gap);
    const World world(yard.structure);
    const auto answer = world.route("a", "b");
    EXPECT_EQ(answer.route() != nullptr, open);
    if (open) continue;
    const auto cause = only_cause(answer);
    EXPECT_EQ(cause.kind, CauseKind::Reach);
    EXPECT_NEAR(cause.value_m, gap, 1e-9);
    EXPECT_NEAR(cause.unavoidable_m, gap, 1e-9);
    EXPECT_NEAR(cause.limit_m, 0.61, 1e-12);
  }
}

TEST(Route, UnavoidableGapIsTheWidestHopOfTheBestStoneLine) {
  // 3 m of nothing, with two stepping stones at 0.9 and 1.9 m: the direct gap is 3 m, but hopping needs 1.1 m at most.
  Deck yard;
  yard.add("west", -2, 0, 0, 0);
  yard.rail("stone-1", yard.on, {{0.9, 0, -0.07}}, {zenith});
  yard.rail("stone-2", yard.on, {{1.9, 0, -0.07}}, {zenith});
  yard.add("east", 3, 0, 5, 0);
  yard.at("a", -2, 0), yard.at("b", 5, 0);
  const World world(yard.structure);
  const auto cause = only_cause(world.route("a", "b"));
  EXPECT_EQ(cause.kind, CauseKind::Reach);
  EXPECT_NEAR(cause.value_m, 3, 1e-9);
  EXPECT_NEAR(cause.unavoidable_m, 1.1, 1e-9);
  EXPECT_EQ(world.structure.rails[cause.rail->index()].id, "west");
  EXPECT_EQ(world.structure.rails[cause.rail_other->index()].id, "east");
}

/// Twelve-sided ring of rails round a drum of radius 1; the hatch on top, the goal at the bottom.
std::unique_ptr<World> ring(bool with_extra_rail) {
  YardBuilder yard;
  const auto drum = yard.part("drum", model::Cylinder{.from = {-3, 0, 0}, .to = {3, 0, 0}, .radius = 1});
  constexpr int n = 12;
  const auto at = [&](int i) {
    const double angle = 2 * pi * i / n;
    return Vec3(0, 1.1 * std::sin(angle), -1.1 * std::cos(angle));
  };
  for (int i = 0; i < n; ++i) yard.rail("ring-" + std::to_string(i), drum, {at(i), at(i + 1)});
  if (with_extra_rail) yard.rail("side", drum, {Vec3(0.3, 1.1, 0), Vec3(2, 1.1, 0)});
  yard.place("top", at(0), 0.05);
  yard.place("bottom", at(n / 2), 0.05);
  return std::make_unique<World>(yard.structure);
}

TEST(Route, BothWaysRoundADrumCostTheSameAndTheTieIsBrokenByRailOrder) {
  const auto world = ring(false);
  const auto answer = world->route("top", "bottom", Objective::Distance);
  const auto rails = rails_of(world->structure, found(answer));
  EXPECT_EQ(rails.front(), "ring-0") << "the smaller grip sequence goes by the rail that is first in the file";
  // The other way round, by closing the first: same length.
  const auto other = world->route("top", "bottom", Objective::Distance, {*world->structure.find_rail("ring-1")});
  EXPECT_NEAR(found(other).distance_m, found(answer).distance_m, 1e-9);
  EXPECT_EQ(rails_of(world->structure, found(other)).front(), "ring-11");
}

TEST(Route, RowsNameTheFaceTheWayGoesRound) {
  const auto world = ring(false);
  const auto answer = world->route("top", "bottom");
  const auto rows = found(answer).legs[0].rows;
  EXPECT_EQ(rows.front().kind, RowKind::Start);
  EXPECT_EQ(rows.front().face, Face::Zenith);
  EXPECT_EQ(rows.back().face, Face::Nadir);
  bool starboard = false;
  for (const auto& row : rows) {
    EXPECT_GT(direction_of(row.face).y(), -0.5) << "never to port";
    starboard = starboard || direction_of(row.face).y() > 0.5;  // starboard, or half way to zenith or nadir
  }
  EXPECT_TRUE(starboard) << "ring-0 leads to starboard (+y)";
}

TEST(Route, RowTotalsRunUpToTheRoute) {
  const auto world = ring(true);
  const auto answer = world->route("top", "bottom");
  const auto route = found(answer);
  double distance = 0, seconds = 0;
  std::size_t moves = 0;
  for (const auto& row : route.legs[0].rows) {
    distance += row.distance_m, seconds += row.time_s, moves += row.moves;
    EXPECT_NEAR(row.total_distance_m, distance, 1e-9);
    EXPECT_NEAR(row.total_time_s, seconds, 1e-9);
    EXPECT_EQ(row.total_moves, moves);
    EXPECT_GE(row.clearance.value_m, route.clearance.value_m);
  }
  EXPECT_NEAR(route.distance_m, distance, 1e-9);
  EXPECT_NEAR(route.time_s, seconds, 1e-9);
  EXPECT_EQ(route.legs[0].poses.size(), route.moves + 1);
}

/// A short way of bits with a caution zone over it and a long clean one.
struct TwoWays : Deck {
  RailId direct, out, across, back;
  TwoWays() {
    direct = add("direct", 0, 0, 6, 0);
    out = add("out", 0, 0.3, 0, 4);
    across = add("across", 0.3, 4, 5.7, 4);
    back = add("back", 6, 4, 6, 0.3);
    at("a", 0, 0), at("b", 6, 0);
  }
};

TEST(Route, CautionZoneIsPricedCountedAndReported) {
  for (const auto& [price, goes_direct] : {std::pair{0.5, true}, std::pair{20.0, false}}) {
    SCOPED_TRACE(price);
    TwoWays yard;
    const auto zone = yard.zone("hot", model::Sphere{.center = {3, 0, -0.6}, .radius = 0.4}, ZoneEffect::Caution);
    yard.structure.zones[zone.index()].price_s_per_s = price;
    const World world(yard.structure);
    const auto answer = world.route("a", "b");
    const auto route = found(answer);
    EXPECT_EQ(rails_of(world.structure, route).size() == 1, goes_direct);
    if (goes_direct) {
      EXPECT_GT(route.caution_s, 0);
      ASSERT_EQ(route.zones.size(), 1u);
      EXPECT_NEAR(route.zones[0].inside_s, route.caution_s, 1e-9);
      EXPECT_LT(route.caution_s, route.time_s);
    } else {
      EXPECT_EQ(route.caution_s, 0);
    }
  }
}

TEST(Route, ForbiddingZoneIsGoneRoundAndItsSwitchOpensIt) {
  TwoWays yard;
  yard.structure.switches.push_back({"dish", {"parked", "tracking"}, "parked", {}});
  const auto zone = yard.zone("beam", model::Sphere{.center = {3, 0, -0.6}, .radius = 0.4});
  yard.structure.zones[zone.index()].when.any_of["dish"] = {"tracking"};
  const model::Configuration parked{{{"dish", "parked"}}}, tracking{{{"dish", "tracking"}}};
  const World open(yard.structure, {}, &parked), shut(yard.structure, {}, &tracking);
  EXPECT_EQ(rails_of(open.structure, found(open.route("a", "b"))).size(), 1u);
  EXPECT_EQ(rails_of(shut.structure, found(shut.route("a", "b"))).size(), 5u);
}

TEST(Route, ClosedRailIsGoneRound) {
  TwoWays yard;
  const World world(yard.structure);
  const double open = found(world.route("a", "b")).time_s;
  // Both places also lie on the direct rail's ends, which is closed: no grip of theirs is left.
  const auto answer = world.route("a", "b", Objective::Time, {yard.direct});
  ASSERT_TRUE(answer.no_route());
  ASSERT_EQ(answer.no_route()->causes.size(), 2u);
  for (const auto& cause : answer.no_route()->causes) {
    EXPECT_EQ(cause.kind, CauseKind::OnClosedRails);
    EXPECT_TRUE(cause.opens_alone);
    EXPECT_NEAR(cause.then_time_s, open, 1e-6);
  }
}

TEST(Route, LimitZoneIsPassedWithinItsSecondsAndElseGoneRound) {
  for (const auto& [limit, goes_direct] : {std::pair{60.0, true}, std::pair{5.0, false}}) {
    SCOPED_TRACE(limit);
    TwoWays yard;
    const auto zone = yard.zone("cold", model::Sphere{.center = {3, 0, -0.6}, .radius = 0.4}, ZoneEffect::Limit);
    yard.structure.zones[zone.index()].limit_s = limit;
    const World world(yard.structure);
    const auto route = found(world.route("a", "b"));
    EXPECT_EQ(rails_of(world.structure, route).size() == 1, goes_direct);
    for (const auto& contact : route.zones) EXPECT_LE(contact.inside_s, limit);
  }
}

// Standing at the start counts at every grip of the place: where only some lie in the zone, one leaves from the others.
TEST(Route, StartsAtTheGripsOutsideALimitZoneWhereStandingInItIsTooLong) {
  Deck yard;
  yard.add("near", 0, 0, 6, 0), yard.add("far", -0.4, 0.4, 6, 0.4);
  yard.at("a", -0.2, 0.2, 0.4), yard.at("b", 6, 0);
  const auto zone = yard.zone("cold", model::Sphere{.center = {0, 0, -0.07}, .radius = 0.1}, ZoneEffect::Limit,
                              {.body = false, .hands = true});
  yard.structure.zones[zone.index()].limit_s = 60;
  const auto free = found(World(yard.structure).route("a", "b"));
  yard.structure.zones[zone.index()].limit_s = 1;
  const World world(yard.structure);
  const auto route = found(world.route("a", "b"));
  for (const auto& contact : route.zones) EXPECT_LE(contact.inside_s, 1);
  EXPECT_FALSE(world.graph.zones(graph::GripId(world.graph.grips_of(RailId(0)).first)).empty()) << "one lies inside";
  EXPECT_TRUE(world.graph.zones(graph::GripId(route.legs.front().poses.front().grip)).empty());
  EXPECT_GE(route.time_s, free.time_s);
}

TEST(WhyNot, LimitZoneThatEveryWayStaysInTooLong) {
  Deck yard;
  yard.add("r", 0, 0, 12, 0);
  yard.at("a", 0, 0), yard.at("b", 12, 0);
  const auto zone = yard.zone("cold", model::Sphere{.center = {6, 0, -0.6}, .radius = 0.4}, ZoneEffect::Limit);
  yard.structure.zones[zone.index()].limit_s = 4;
  const World world(yard.structure);
  const auto cause = only_cause(world.route("a", "b"));
  EXPECT_EQ(cause.kind, CauseKind::ZoneTime);
  EXPECT_GT(cause.value_s, 4);
  // Allowed exactly as long as it takes at least, it opens.
  yard.structure.zones[zone.index()].limit_s = cause.value_s + 1e-9;
  EXPECT_TRUE(World(yard.structure).route("a", "b").route());
}

TEST(Route, LimitHoldsOverAllLegsTogether) {
  TwoWays yard;
  const auto zone = yard.zone("cold", model::Sphere{.center = {3, 0, -0.6}, .radius = 0.4}, ZoneEffect::Limit);
  yard.structure.zones[zone.index()].limit_s = 1e5;
  const double once = found(World(yard.structure).route("a", "b")).zones[0].inside_s;
  yard.structure.zones[zone.index()].limit_s = 1.5 * once;  // there, or back, but not both
  const World world(yard.structure);
  const auto route = found(world.route("a", "a", Objective::Time, {}, {"b"}));
  ASSERT_EQ(route.legs.size(), 2u);
  double inside = 0;
  for (const auto& contact : route.zones) inside += contact.inside_s;
  EXPECT_LE(inside, 1.5 * once);
  EXPECT_GT(inside, 0) << "one of the two legs may take the short way";
}

TEST(WhyNot, NamesTheZonesThatWouldOpenAWay) {
  TwoWays yard;
  yard.zone("z-direct", model::Sphere{.center = {3, 0, -0.6}, .radius = 0.4});
  yard.zone("z-across", model::Sphere{.center = {3, 4, -0.6}, .radius = 0.4});
  const World world(yard.structure);
  const auto answer = world.route("a", "b");
  ASSERT_TRUE(answer.no_route());
  ASSERT_EQ(answer.no_route()->causes.size(), 2u);
  for (const auto& cause : answer.no_route()->causes) {
    EXPECT_EQ(cause.kind, CauseKind::Zones);
    EXPECT_EQ(cause.zones.size(), 1u);
    EXPECT_TRUE(cause.opens_alone);
  }
  EXPECT_LT(answer.no_route()->causes[0].then_time_s, answer.no_route()->causes[1].then_time_s);
}

TEST(WhyNot, FindsTheSmallestSetOfZonesWhenNoSingleOneOpens) {
  Deck yard;
  yard.add("r", 0, 0, 12, 0);
  yard.at("a", 0, 0), yard.at("b", 12, 0);
  yard.zone("one", model::Sphere{.center = {4, 0, -0.6}, .radius = 0.4});
  yard.zone("two", model::Sphere{.center = {8, 0, -0.6}, .radius = 0.4});
  yard.zone("aside", model::Sphere{.center = {4, 9, -0.6}, .radius = 0.4});
  const World world(yard.structure);
  const auto cause = only_cause(world.route("a", "b"));
  EXPECT_EQ(cause.kind, CauseKind::Zones);
  ASSERT_EQ(cause.zones.size(), 2u);
  EXPECT_EQ(world.structure.zones[cause.zones[0].index()].id, "one");
  EXPECT_EQ(world.structure.zones[cause.zones[1].index()].id, "two");
}

TEST(WhyNot, PlaceInAZone) {
  Deck yard;
  yard.add("r", 0, 0, 12, 0);
  yard.at("a", 0, 0), yard.at("b", 12, 0, 0.5);
  yard.zone("z", model::Sphere{.center = {12, 0, -0.6}, .radius = 1});
  const World world(yard.structure);
  const auto cause = only_cause(world.route("a", "b"));
  EXPECT_EQ(cause.kind, CauseKind::InZone);
  EXPECT_EQ(cause.place, "b");
  ASSERT_EQ(cause.zones.size(), 1u);
  EXPECT_TRUE(cause.opens_alone);
}

TEST(WhyNot, NoGripNearGivesTheNearestAndItsDistance) {
  Deck yard;
  yard.add("r", 0, 0, 2, 0);
  yard.at("a", 0, 0);
  yard.place("far", {3, 0, -0.07}, 0.8);
  const World world(yard.structure);
  const auto cause = only_cause(world.route("a", "far"));
  EXPECT_EQ(cause.kind, CauseKind::NoGripNear);
  EXPECT_NEAR(cause.value_m, 1, 1e-9);
  EXPECT_NEAR(cause.limit_m, 0.8, 1e-12);
}

TEST(WhyNot, TurnLimit) {
  YardBuilder yard;
  const auto on = yard.nowhere();
  yard.rail("a", on, {{0, 0, 0}}, {zenith});
  yard.rail("b", on, {{0.4, 0, 0}}, {nadir + 0.2 * Vec3::UnitX()});
  const World world(yard.structure);
  const auto cause = only_cause(world.route("a", "b"));
  EXPECT_EQ(cause.kind, CauseKind::TurnLimit);
  EXPECT_TRUE(cause.opens_alone);
  EXPECT_NEAR(cause.value_rad, pi - std::atan(0.2), 1e-6);
}

TEST(WhyNot, HandLineBlockedNamesThePart) {
  Deck yard;
  yard.part("fin", model::Box{.center = {0.25, 0, -0.15}, .size = {0.02, 2, 0.3}});
  yard.add("a", -1, 0, 0, 0), yard.add("b", 0.5, 0, 1.5, 0);
  yard.at("p", -1, 0), yard.at("q", 1.5, 0);
  const World world(yard.structure);
  const auto answer = world.route("p", "q");
  ASSERT_TRUE(answer.no_route());
  const auto& cause = answer.no_route()->causes.front();
  EXPECT_EQ(cause.kind, CauseKind::HandLineBlocked);
  EXPECT_EQ(world.structure.parts[cause.part->index()].id, "fin");
}

TEST(WhyNot, SaysWhichRulesOnlyTogetherOpenAWay) {
  // A roof lower than the suit needs and, further on, a zone: neither alone is enough.
  Deck yard;
  yard.add("r", 0, 0, 12, 0);
  yard.part("roof", model::Box{.center = {4, 0, -1.2}, .size = {1, 9, 0.5}});
  yard.zone("z", model::Sphere{.center = {9, 0, -0.6}, .radius = 0.4});
  yard.at("a", 0, 0), yard.at("b", 12, 0);
  const World world(yard.structure);
  const auto answer = world.route("a", "b");
  ASSERT_TRUE(answer.no_route());
  ASSERT_EQ(answer.no_route()->causes.size(), 2u);
  EXPECT_EQ(answer.no_route()->causes[0].kind, CauseKind::BodyTooTight);
  EXPECT_EQ(answer.no_route()->causes[1].kind, CauseKind::Zones);
  for (const auto& cause : answer.no_route()->causes) EXPECT_FALSE(cause.opens_alone);
  EXPECT_EQ(world.structure.parts[answer.no_route()->causes[0].part->index()].id, "roof");
}

TEST(WhyNot, UnknownPlaceSuggestsTheNearestNames) {
  Deck yard;
  yard.add("rail-one", 0, 0, 2, 0);
  yard.at("lock-hatch", 0, 0);
  const World world(yard.structure);
  try {
    (void)world.route("lock-hatch", "lock-hatsh");
    FAIL();
  } catch (const model::InputError& error) {
    EXPECT_EQ(error.diagnostics()[0].code, "unknown-place");
    EXPECT_NE(error.diagnostics()[0].remedy.find("lock-hatch"), std::string::npos);
  }
}

TEST(Route, PlaceRailAndPointAreEnds) {
  Deck yard;
  yard.add("r", 0, 0, 3, 0), yard.add("s", 3.3, 0, 6, 0);
  yard.at("a", 0, 0);
  const World world(yard.structure);
  EXPECT_EQ(found(world.route("a", "s")).legs[0].rows.back().along_to_m, 0) << "the nearest grip of the rail is enough";
  EXPECT_NEAR(found(world.route("a", "6, 0, -0.07")).legs[0].poses.back().hand.x(), 5.2, 0.15)
      << "within 0.8 m of the point";
  EXPECT_THROW((void)world.route("a", "6,0"), model::InputError);
  EXPECT_THROW((void)world.route("a", "6,0,nan"), model::InputError);
}

TEST(Route, ZeroMovesStillNeedAClearStance) {
  Deck yard;
  yard.add("r", 0, 0, 1, 0);
  yard.at("a", 0, 0), yard.at("also-a", 0, 0, 0.3);
  const World open(yard.structure);
  const auto answer = open.route("a", "also-a");
  EXPECT_EQ(found(answer).moves, 0u);
  EXPECT_EQ(found(answer).legs[0].rows.size(), 1u);
  yard.part("lid", model::Box{.center = {0, 0, -0.7}, .size = {8, 8, 0.2}});
  const World shut(yard.structure);
  EXPECT_EQ(shut.route("a", "also-a").no_route()->causes.front().kind, CauseKind::BodyTooTight);
}

TEST(Route, ViaStartsTheNextLegAtTheGripWhereTheLastEnded) {
  TwoWays yard;
  yard.place("mid", {3, 4, -0.07}, 0.5);
  const World world(yard.structure);
  const auto answer = world.route("a", "b", Objective::Time, {}, {"mid"});
  const auto route = found(answer);
  ASSERT_EQ(route.legs.size(), 2u);
  EXPECT_EQ(route.legs[0].poses.back().grip, route.legs[1].poses.front().grip);
  EXPECT_GE(route.time_s, found(world.route("a", "b")).time_s);
}

TEST(Route, KickBandListsAt60CentimetresAndNotAt62) {
  // SSP 30256:001 Rev F, Table 3.1.3-1, p. 3-5: the 556 N kick load applies within 0.61 m (24 in) of a translation
  // path.
  for (const auto& [gap, listed] : {std::pair{0.60, true}, std::pair{0.62, false}}) {
    SCOPED_TRACE(gap);
    Deck yard;
    yard.add("r", 0, 0, 6, 0);
    yard.at("a", 0, 0), yard.at("b", 6, 0);
    // A box beside the hands' way at y = 0; its face is `gap` from the line of the hands and no nearer to the body's.
    const auto box = yard.part("lamp", model::Box{.center = {3, gap + 0.1, -0.07}, .size = {0.1, 0.2, 0.02}});
    yard.structure.parts[box.index()].fragile = true;
    const World world(yard.structure);
    const auto answer = world.route("a", "b");
    const auto band = found(answer).band;
    EXPECT_EQ(band.size(), listed ? 1u : 0u);
    if (listed && band.size() == 1) {
      EXPECT_NEAR(band[0].distance_m, gap, 0.002);
    }
  }
}

TEST(Route, FaceOfADirectionFollowsTheStructureFrame) {
  EXPECT_EQ(face_of(zenith), Face::Zenith);
  EXPECT_EQ(face_of(nadir), Face::Nadir);
  EXPECT_EQ(face_of(Vec3::UnitX()), Face::Forward);
  EXPECT_EQ(face_of(-Vec3::UnitX()), Face::Aft);
  EXPECT_EQ(face_of(Vec3::UnitY()), Face::Starboard);
  EXPECT_EQ(face_of(-Vec3::UnitY()), Face::Port);
  EXPECT_EQ(face_of((Vec3::UnitY() - Vec3::UnitZ()).normalized()), Face::ZenithStarboard) << "45 deg is not zenith";
}

}  // namespace
}  // namespace holdfast::route
