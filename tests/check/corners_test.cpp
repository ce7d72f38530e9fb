// SPDX-License-Identifier: GPL-3.0-or-later
// What a sweep over single design values (check_test.cpp) does not show: rails between grips, frames, merging, ranking,
// the rule of use of values from memory, and values within a tenth of a millimetre of their limit.

#include "holdfast/check/check.h"

#include <gtest/gtest.h>

#include <numbers>

#include "yard_builder.h"

namespace holdfast::check {
namespace {

using model::Confidence;
using model::PartId;
using model::PlaceKind;
using model::Quantity;
using support::World;
using support::YardBuilder;

const model::Vec3 zenith = -model::Vec3::UnitZ();
const model::Vec3 nadir = model::Vec3::UnitZ();

/// A deck 40 m x 40 m whose zenith face is z = 0.
model::Box deck() { return {.center = {0, 0, 0.5}, .size = {40, 40, 1}}; }

CheckResult check(const World& world) { return check_model(world.graph, world.kit, world.kit.suits.front()); }
CheckResult check(const YardBuilder& yard) { return check(World(yard.structure)); }

std::vector<Finding> of_kind(const CheckResult& result, FindingKind kind) {
  std::vector<Finding> found;
  for (const auto& finding : result.findings)
    if (finding.kind == kind) found.push_back(finding);
  return found;
}

/// The one finding of this kind; a default one and a failure when there are more or fewer.
Finding only(const CheckResult& result, FindingKind kind) {
  const auto found = of_kind(result, kind);
  EXPECT_EQ(found.size(), 1u);
  return found.size() == 1 ? found.front() : Finding{};
}

std::size_t count(const CheckResult& result, FindingKind kind) { return of_kind(result, kind).size(); }

/// Two walls that leave a passage of this width, 4 m long and open above and below, with a rail in the middle.
struct Passage : YardBuilder {
  explicit Passage(double width) {
    part("wall-port", model::Box{.center = {0, -width / 2 - 0.5, 0}, .size = {4, 1, 6}});
    part("wall-starboard", model::Box{.center = {0, width / 2 + 0.5, 0}, .size = {4, 1, 6}});
    rail("middle", nowhere(), {{-1, 0, 0}, {1, 0, 0}}, {zenith});
  }
};

TEST(CheckModel, OfNothingFindsNothing) {
  const auto result = check(YardBuilder{});
  EXPECT_TRUE(result.findings.empty());
  EXPECT_EQ(result.summary.islands, 0u);
}

// ---- rails --------------------------------------------------------------------------------------------------------

TEST(CheckRail, StandsClearToATenthOfAMillimetre) {
  for (const auto& [height, expected] : {std::pair{0.057, 0u}, std::pair{0.0569, 1u}}) {
    SCOPED_TRACE(height);
    YardBuilder yard;
    yard.rail("r", yard.part("deck", deck()), {{0, 0, -height}, {3, 0, -height}});
    const auto result = check(yard);
    ASSERT_EQ(count(result, FindingKind::RailTooClose), expected);
    if (expected == 0) continue;
    const auto finding = only(result, FindingKind::RailTooClose);  // one, however many grips
    EXPECT_EQ(finding.count, 21u);
    EXPECT_NEAR(finding.value, height, 1e-9);
    EXPECT_EQ(finding.limit, 0.057);
    EXPECT_EQ(finding.subject, "r");
    EXPECT_EQ(finding.other, "deck");
  }
}

TEST(CheckRail, StrutBetweenTwoGripsIsSeen) {
  YardBuilder yard;
  // Grips at 0, 0.15 and 0.30 m; the strut, 10 mm thick, passes 0.03 m under x = 0.075.
  yard.part("strut", model::Cylinder{.from = {0.075, -0.2, 0.035}, .to = {0.075, 0.2, 0.035}, .radius = 0.005});
  yard.rail("r", yard.nowhere(), {{0, 0, 0}, {0.3, 0, 0}}, {zenith});
  const auto finding = only(check(yard), FindingKind::RailTooClose);
  // Steps of 5 mm near the limit: at most sqrt(0.035^2 + 0.0025^2) - 0.035 = 0.09 mm over the least.
  EXPECT_NEAR(finding.value, 0.03, 1e-4);
  EXPECT_NEAR(finding.at.x(), 0.075, 0.003);
  EXPECT_EQ(finding.other, "strut");
}

TEST(CheckRail, GoesWithTheFrameOfItsPart) {
  YardBuilder yard;
  yard.part("deck", deck());
  model::Pose pose = model::Pose::Identity();
  pose.translate(model::Vec3(0, 0, -0.05));
  pose.rotate(Eigen::AngleAxisd(std::numbers::pi / 2, model::Vec3::UnitY()));
  // In the part's frame the rail runs along its z, which is the structure's x.
  yard.rail("r", yard.part("pebble", model::Sphere{.center = {900, 0, 0}, .radius = 0.01}, pose),
            {{0, 0, 0}, {0, 0, 1}}, {model::Vec3::UnitX()});
  EXPECT_NEAR(only(check(yard), FindingKind::RailTooClose).value, 0.05, 1e-9);
}

TEST(CheckRail, InsideASolidIsAnErrorWithItsLength) {
  YardBuilder yard;
  yard.part("crate", model::Box{.center = {2, 0, 0}, .size = {1, 1, 1}});
  yard.rail("r", yard.nowhere(), {{0, 0, 0}, {2, 0, 0}}, {zenith});
  const auto result = check(yard);
  const auto finding = only(result, FindingKind::RailInSolid);
  EXPECT_EQ(finding.severity, Severity::Error);
  EXPECT_NEAR(finding.value, 0.5, 0.006);  // one step of 5 mm
  EXPECT_NEAR(finding.at.x(), 1.5, 0.006);
  EXPECT_EQ(finding.other, "crate");
  EXPECT_EQ(count(result, FindingKind::RailTooClose), 0u) << "told once";
}

TEST(CheckRail, ShorterThanAGrip) {
  for (const auto& [length, expected] : {std::pair{0.152, 0u}, std::pair{0.1519, 1u}}) {
    SCOPED_TRACE(length);
    YardBuilder yard;
    yard.rail("r", yard.nowhere(), {{0, 0, 0}, {length, 0, 0}}, {zenith});
    EXPECT_EQ(count(check(yard), FindingKind::ShortRail), expected);
  }
}

// A bend or ring is written in straight pieces, each shorter than a grip: a hand holds those that go on as one.
TEST(CheckRail, PiecesThatGoOnAreHeldAsOne) {
  const std::vector<std::tuple<model::Vec3, model::Vec3, std::size_t>> nexts = {
      {{0.1, 0, 0}, {0.19, 0.03, 0}, 0u},  // goes on, turned by 18 deg
      {{0.1, 0, 0}, {0.13, 0, 0}, 2u},     // together still too short
      {{0.15, 0, 0}, {0.25, 0, 0}, 2u},    // a gap between
      {{0.1, 0, 0}, {0.1, 0.1, 0}, 2u}};   // round a corner
  for (const auto& [from, to, expected] : nexts) {
    SCOPED_TRACE(to.transpose());
    YardBuilder yard;
    const auto part = yard.nowhere();
    yard.rail("r", part, {{0, 0, 0}, {0.1, 0, 0}}, {zenith});
    yard.rail("s", part, {from, to}, {zenith});
    EXPECT_EQ(count(check(yard), FindingKind::ShortRail), expected);
  }
}

TEST(CheckRail, HandholdOfOnePointIsNotAShortRail) {
  YardBuilder yard;
  yard.rail("r", yard.nowhere(), {{0, 0, 0}}, {zenith});
  EXPECT_TRUE(check(yard).findings.empty());
}

TEST(CheckRail, NotForHandsIsNotJudged) {
  YardBuilder yard;
  yard.rail("r", yard.part("deck", deck()), {{0, 0, -0.01}, {0.1, 0, -0.01}});
  yard.structure.rails.front().use.hands = false;
  EXPECT_TRUE(check(yard).findings.empty());
}

// ---- gaps and islands ---------------------------------------------------------------------------------------------

/// Two rails in line with a gap between them, for someone who reaches 1.5 m: nothing is cut off.
CheckResult check_gap(double gap) {
  YardBuilder yard;
  const auto on = yard.nowhere();
  yard.rail("a", on, {{0, 0, 0}, {1, 0, 0}}, {zenith});
  yard.rail("b", on, {{1 + gap, 0, 0}, {2 + gap, 0, 0}}, {zenith});
  World world(yard.structure, {.reach_m = 1.5});
  world.kit.suits.front().reach_m.value = 1.5;
  return check(world);
}

TEST(CheckGap, WarnsAboveOneValueAndMoreAboveAnother) {
  EXPECT_EQ(count(check_gap(0.61), FindingKind::Gap), 0u);
  const auto wide = only(check_gap(0.6101), FindingKind::Gap);
  EXPECT_NEAR(wide.value, 0.6101, 1e-9);
  EXPECT_EQ(wide.limit, 0.61);
  EXPECT_EQ(only(check_gap(0.92), FindingKind::Gap).limit, 0.61);
  EXPECT_EQ(only(check_gap(0.9201), FindingKind::Gap).limit, 0.92);
}

TEST(CheckGap, IsAnErrorOnlyOnAValueThatIsNotFromMemory) {
  YardBuilder yard;
  const auto on = yard.nowhere();
  yard.rail("a", on, {{0, 0, 0}, {1, 0, 0}}, {zenith});
  yard.rail("b", on, {{2, 0, 0}, {3, 0, 0}}, {zenith});
  World world(yard.structure, {.reach_m = 1.5});
  world.kit.suits.front().reach_m.value = 1.5;
  EXPECT_EQ(only(check(world), FindingKind::Gap).severity, Severity::Warning);
  world.kit.design.handhold_gap_error_m.confidence = Confidence::Published;
  EXPECT_EQ(only(check(world), FindingKind::Gap).severity, Severity::Error);
}

TEST(CheckIsland, WithAHatchIsWhatTheHatchDoesNotReach) {
  YardBuilder yard;
  const auto on = yard.nowhere();
  yard.rail("short", on, {{0, 0, 0}, {1, 0, 0}}, {zenith});
  yard.rail("long-1", on, {{1.7, 0, 0}, {5, 0, 0}}, {zenith});
  yard.rail("long-2", on, {{5.5, 0, 0}, {8, 0, 0}}, {zenith});
  yard.place("hatch", {0, 0, 0}, 0.3, PlaceKind::Hatch);
  const auto result = check(yard);
  EXPECT_EQ(count(result, FindingKind::Island), 0u);
  const auto finding = only(result, FindingKind::UnreachableRail);
  EXPECT_EQ(finding.subject, "long-1");
  EXPECT_EQ(finding.other, "short");
  EXPECT_EQ(finding.count, 2u) << "both rails of the island are one finding";
}

TEST(CheckIsland, MayBeNearAndYetCutOff) {
  YardBuilder yard;
  const auto on = yard.nowhere();
  yard.rail("a", on, {{0, 0, 0}, {1, 0, 0}}, {zenith});
  yard.rail("b", on, {{0, 0.5, 0}, {2, 0.5, 0}}, {nadir});  // 180 degrees apart: no move turns that far
  const auto finding = only(check(yard), FindingKind::Island);
  EXPECT_EQ(finding.subject, "a");
  EXPECT_NEAR(finding.value, 180, 1e-6) << "the turn [deg] cuts it off, not the gap of 0.5 m";
}

// ---- room ---------------------------------------------------------------------------------------------------------

TEST(CheckCorridor, TurnsAtTheSuitsDiameter) {
  EXPECT_EQ(count(check(Passage(1.09)), FindingKind::NarrowCorridor), 0u);
  const auto finding = only(check(Passage(1.0899)), FindingKind::NarrowCorridor);
  EXPECT_NEAR(finding.value, 1.0899, 1e-3);
  EXPECT_LE(finding.value, 1.0899);
  EXPECT_EQ(finding.limit, 1.09);
  EXPECT_EQ(finding.severity, Severity::Warning) << "1.09 m is from memory";
}

TEST(CheckCorridor, IsAnErrorWhenTheSuitsDiameterIsPublished) {
  World world(Passage(1.0).structure);
  world.kit.suits.front().corridor_diameter_m.confidence = Confidence::Published;
  EXPECT_EQ(only(check(world), FindingKind::NarrowCorridor).severity, Severity::Error);
}

// ---- places -------------------------------------------------------------------------------------------------------

TEST(CheckPlace, WithoutAGripWithinItsRadius) {
  for (const auto& [distance, expected] : {std::pair{0.8, 0u}, std::pair{0.8001, 1u}}) {
    SCOPED_TRACE(distance);
    YardBuilder yard;
    yard.rail("r", yard.nowhere(), {{0, 0, 0}, {1, 0, 0}}, {zenith});
    yard.place("p", {-distance, 0, 0}, 0.8);
    const auto result = check(yard);
    ASSERT_EQ(count(result, FindingKind::PlaceWithoutGrip), expected);
    if (expected == 0) continue;
    const auto finding = only(result, FindingKind::PlaceWithoutGrip);
    EXPECT_EQ(finding.severity, Severity::Error);
    EXPECT_EQ(finding.other, "r");
    EXPECT_NEAR(finding.value, distance, 1e-9);
  }
}

TEST(CheckPlace, OfAPartThatIsAwayIsNotJudged) {
  YardBuilder yard;
  yard.rail("r", yard.nowhere(), {{0, 0, 0}, {1, 0, 0}}, {zenith});
  yard.structure.switches.push_back({"arm", {"in", "out"}, "in", {}});
  yard.place("p", {50, 0, 0});
  yard.structure.places.front().when.any_of = {{"arm", {"out"}}};
  EXPECT_TRUE(check(yard).findings.empty());
}

TEST(CheckPlace, WithGripsButNoRoom) {
  Passage narrow(1.0);
  narrow.place("p", {0, 0, 0}, 0.3);
  const auto finding = only(check(narrow), FindingKind::PlaceTooTight);
  EXPECT_NEAR(finding.value, 1.0, 1e-6);
  EXPECT_EQ(finding.subject, "p");

  Passage open(1.0);
  open.rail("outside", PartId(2), {{4, 0, 0}}, {zenith});
  open.place("p", {2, 0, 0}, 2.1);  // within reach of the handhold outside too
  EXPECT_EQ(count(check(open), FindingKind::PlaceTooTight), 0u);
}

struct InZone : YardBuilder {
  explicit InZone(double radius, model::ZoneEffect effect = model::ZoneEffect::Forbid) {
    rail("r", nowhere(), {{0, 0, 0}, {1, 0, 0}}, {zenith});
    place("p", {0, 0, 0}, 0.31);  // grips at 0, 1/7 and 2/7 m
    zone("z", model::Sphere{.center = {0, 0, 0}, .radius = radius}, effect, {.hands = true});
  }
};

TEST(CheckPlace, SwallowedByAZone) {
  const auto finding = only(check(InZone(0.3)), FindingKind::ZoneSwallowsPlace);
  EXPECT_EQ(finding.subject, "p");
  EXPECT_EQ(finding.other, "z");
  EXPECT_EQ(count(check(InZone(0.2)), FindingKind::ZoneSwallowsPlace), 0u) << "one grip is outside";
  EXPECT_EQ(count(check(InZone(0.3, model::ZoneEffect::Caution)), FindingKind::ZoneSwallowsPlace), 0u);
}

TEST(CheckPlace, IsNotSwallowedByAZoneThatDoesNotHold) {
  InZone yard(0.3);
  yard.structure.switches.push_back({"dish", {"parked", "tracking"}, "parked", {}});
  yard.structure.zones.front().when.any_of = {{"dish", {"tracking"}}};
  EXPECT_EQ(count(check(yard), FindingKind::ZoneSwallowsPlace), 0u);
  model::Configuration tracking{{{"dish", "tracking"}}};
  EXPECT_EQ(count(check(World(yard.structure, {}, &tracking)), FindingKind::ZoneSwallowsPlace), 1u);
}

TEST(CheckWorksite, RoomAboutTheBody) {
  for (const auto& [width, expected] : {std::pair{1.22, 0u}, std::pair{1.2199, 1u}}) {
    SCOPED_TRACE(width);
    Passage yard(width);
    yard.place("site", {0, 0, 0}, 0.3, PlaceKind::Worksite);
    const auto result = check(yard);
    ASSERT_EQ(count(result, FindingKind::WorksiteRoom), expected);
    if (expected == 1) EXPECT_NEAR(only(result, FindingKind::WorksiteRoom).value, width, 1e-6);
  }
}

TEST(CheckWorksite, RoomIsMeasuredHoweverSlimTheSuit) {
  Passage yard(3.0);
  yard.place("site", {0, 0, 0}, 0.3, PlaceKind::Worksite);
  const World world(yard.structure, {.corridor_radius_m = 0.2});  // labels stop looking at 0.5 m
  EXPECT_EQ(count(check(world), FindingKind::WorksiteRoom), 0u);
}

// ---- the whole ----------------------------------------------------------------------------------------------------

TEST(CheckModel, TellsWhatImportingAMeshFound) {
  YardBuilder yard;
  yard.structure.folder = HOLDFAST_SOURCE_DIR "/tests/check";
  yard.part("box", model::MeshFile{.file = "open_box.obj"});
  const auto finding = only(check(yard), FindingKind::MeshDefect);
  EXPECT_EQ(finding.severity, Severity::Note);
  EXPECT_EQ(finding.subject, "box");
  EXPECT_NE(finding.remark.find("open"), std::string::npos) << finding.remark;
}

TEST(CheckModel, RanksErrorsFirstThenByHowFarTheyMiss) {
  YardBuilder yard;
  yard.part("crate", model::Box{.center = {2, 0, 0}, .size = {1, 1, 1}});
  const auto on = yard.nowhere();
  yard.rail("inside", on, {{0, 0, 0}, {2, 0, 0}}, {zenith});
  yard.rail("short", on, {{-0.3, 0, 0}, {-0.2, 0, 0}}, {zenith});
  yard.rail("shorter", on, {{-0.55, 0, 0}, {-0.5, 0, 0}}, {zenith});
  const auto result = check(yard);
  ASSERT_GE(result.findings.size(), 3u);
  EXPECT_EQ(result.findings.front().kind, FindingKind::RailInSolid);
  const auto shorts = of_kind(result, FindingKind::ShortRail);
  ASSERT_EQ(shorts.size(), 2u);
  EXPECT_EQ(shorts[0].subject, "shorter");
  EXPECT_EQ(shorts[1].subject, "short");
  for (std::size_t i = 1; i < result.findings.size(); ++i)
    EXPECT_LE(result.findings[i - 1].severity, result.findings[i].severity);
}

TEST(CheckModel, MakesNoErrorOfAValueFromMemoryAlone) {
  // Everything wrong at once; the standards table's rule of use holds for every finding that names a design value.
  Passage yard(0.9);
  const auto on = PartId(2);
  yard.rail("low", PartId(0), {{-1.5, -0.46, -3.01}, {-1.4, -0.46, -3.01}}, {zenith});
  yard.structure.rails.back().load_limit_n = 10;
  yard.rail("far", on, {{30, 0, 0}, {31, 0, 0}}, {zenith});
  yard.place("site", {0.7, 0, 0.3}, 2.0, PlaceKind::Worksite);
  yard.place("other", {32, 0, 0}, 2.0, PlaceKind::Worksite);
  const auto result = check(yard);
  std::size_t from_memory = 0;
  for (const auto& finding : result.findings) {
    if (!finding.design || finding.design->confidence != Confidence::Memory) continue;
    ++from_memory;
    EXPECT_NE(finding.severity, Severity::Error) << finding.subject << " " << static_cast<int>(finding.kind);
  }
  EXPECT_GE(from_memory, 6u);
}

}  // namespace
}  // namespace holdfast::check
