// SPDX-License-Identifier: GPL-3.0-or-later
// Why not, and what is wrong: every sentence whole.

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "sample.h"

namespace holdfast::report {
namespace {

using check::Finding;
using check::FindingKind;
using check::Severity;
using route::CauseKind;

std::string why_not(CauseKind kind, Options options = {}) {
  const sample::Desk desk(options);
  return sentence(desk.context, sample::cause(kind));
}

TEST(WhyNot, NoGripNear) {
  EXPECT_EQ(why_not(CauseKind::NoGripNear),
            "No grip is within 0.80 m of mast-top (1.50, 0.00, -2.07): the nearest is on rail mast-1, 1.92 m away.");
}

TEST(WhyNot, NoRailsAtAll) {
  const sample::Desk desk;
  auto cause = sample::cause(CauseKind::NoGripNear);
  cause.rail.reset();
  EXPECT_EQ(sentence(desk.context, cause),
            "No grip is near mast-top: this configuration has no rails for hands at all.");
}

TEST(WhyNot, InZone) {
  EXPECT_EQ(why_not(CauseKind::InZone),
            "mast-top (1.50, 0.00, -2.07) is in zone beam (radio beam): every grip there lies inside.");
}

TEST(WhyNot, InZoneThatAloneIsInTheWay) {
  const sample::Desk desk;
  auto cause = sample::cause(CauseKind::InZone);
  cause.opens_alone = true, cause.then_time_s = 71;
  EXPECT_EQ(sentence(desk.context, cause),
            "mast-top (1.50, 0.00, -2.07) is in zone beam (radio beam): every grip there lies inside. With this alone "
            "waived, there is a route of 0:01:11.");
}

TEST(WhyNot, GripsOfAPlaceThatDifferentRulesClose) {
  const sample::Desk desk;
  auto cause = sample::cause(CauseKind::InZone);
  cause.grips = 2, cause.grips_of = 5;
  EXPECT_EQ(sentence(desk.context, cause),
            "mast-top (1.50, 0.00, -2.07) is in zone beam (radio beam): 2 of its 5 grips lie inside.");
  cause.zones.push_back(sample::view);
  EXPECT_EQ(sentence(desk.context, cause),
            "mast-top (1.50, 0.00, -2.07) is in zones beam (radio beam), view (in the camera's view): 2 of its 5 grips "
            "lie inside one of them.");
  cause = sample::cause(CauseKind::OnClosedRails);
  cause.grips = 1, cause.grips_of = 5;
  EXPECT_EQ(sentence(desk.context, cause),
            "valve (1.50, 0.00, -2.07) has no free grip: 1 of its 5 grips is on closed rails (drum-2).");
  cause = sample::cause(CauseKind::BodyTooTight);
  cause.place = "valve", cause.opens_alone = false, cause.then_time_s = 0, cause.grips = 2, cause.grips_of = 5;
  EXPECT_EQ(sentence(desk.context, cause),
            "No room at valve: the widest corridor at 2 of its 5 grips is 0.98 m, and the suit needs 1.09 m; (1.50, "
            "0.00, -2.07) beside mast.");
}

TEST(WhyNot, ZonesThatAreLiftedTogether) {
  const sample::Desk desk;
  auto cause = sample::cause(CauseKind::Zones);
  cause.opens_alone = true;
  EXPECT_THAT(sentence(desk.context, cause),
              testing::EndsWith(". With these together waived, there is a route of 0:01:01."));
}

TEST(WhyNot, OnClosedRails) {
  EXPECT_EQ(why_not(CauseKind::OnClosedRails), "valve (1.50, 0.00, -2.07) has grips on closed rails only: drum-2.");
}

TEST(WhyNot, Reach) {
  EXPECT_EQ(why_not(CauseKind::Reach),
            "Out of reach: the rails that can be reached end at rail drum-1 (1.50, 0.00, -2.07); the nearest beyond is "
            "rail drum-2 (2.83, 0.00, -2.07), 1.34 m away, and a hand reaches 0.61 m. Hopping over whatever rails lie "
            "between, a gap of 0.90 m cannot be avoided.");
}

TEST(WhyNot, ReachInFeetToo) {
  EXPECT_EQ(why_not(CauseKind::Reach, {.imperial = true}),
            "Out of reach: the rails that can be reached end at rail drum-1 (1.50, 0.00, -2.07); the nearest beyond is "
            "rail drum-2 (2.83, 0.00, -2.07), 1.34 m (4 ft 5 in) away, and a hand reaches 0.61 m (2 ft 0 in). Hopping "
            "over whatever rails lie between, a gap of 0.90 m (3 ft 0 in) cannot be avoided.");
}

TEST(WhyNot, TurnLimit) {
  EXPECT_EQ(why_not(CauseKind::TurnLimit),
            "A turn too far: between rails drum-1 and drum-2 (1.50, 0.00, -2.07) the outward directions differ by 120 "
            "deg, and one move turns 90 deg at most.");
}

TEST(WhyNot, HandLineBlocked) {
  EXPECT_EQ(why_not(CauseKind::HandLineBlocked),
            "Structure in the hand's way: between rails drum-1 and drum-2, mast (1.50, 0.00, -2.07) stands between the "
            "grips.");
}

TEST(WhyNot, BodyTooTight) {
  EXPECT_EQ(
      why_not(CauseKind::BodyTooTight),
      "Too tight for the suit: the widest corridor that passes is 0.98 m, and it needs 1.09 m; the pinch is "
      "between rails drum-1 and drum-2 (1.50, 0.00, -2.07) beside mast. With this alone waived, there is a route of "
      "0:03:08.");
}

TEST(WhyNot, NoRoomAtAPlace) {
  const sample::Desk desk;
  auto cause = sample::cause(CauseKind::BodyTooTight);
  cause.place = "valve", cause.opens_alone = false, cause.then_time_s = 0;
  EXPECT_EQ(sentence(desk.context, cause),
            "No room at valve: the widest corridor there is 0.98 m, and the suit needs 1.09 m; (1.50, 0.00, -2.07) "
            "beside mast.");
}

TEST(WhyNot, PinchOnOneRail) {
  const sample::Desk desk;
  auto cause = sample::cause(CauseKind::LoadTooTight);
  cause.load = "bag";
  cause.rail_other = cause.rail;
  EXPECT_EQ(
      sentence(desk.context, cause),
      "Too tight for the load: bag of 1.20 m x 0.70 m x 0.60 m does not pass on rail drum-1 (1.50, 0.00, -2.07) beside "
      "stores drum.");
  cause.fraction = 0.628;
  EXPECT_EQ(
      sentence(desk.context, cause),
      "Too tight for the load: bag of 1.20 m x 0.70 m x 0.60 m does not pass on rail drum-1 (1.50, 0.00, -2.07) beside "
      "stores drum. The largest of this shape that passes on any route is 62 % of it, 0.75 m x 0.43 m x 0.37 m.");
  cause.fraction = 0;
  EXPECT_THAT(sentence(desk.context, cause), testing::EndsWith(" Nothing of this shape passes, however small."));
  // Where the search was cut short, what was found is all that is said.
  cause.is_fraction_proven = false;
  EXPECT_THAT(sentence(desk.context, cause),
              testing::EndsWith(" None of this shape was found to pass, however small."));
  cause.fraction = 0.628;
  EXPECT_THAT(sentence(desk.context, cause),
              testing::EndsWith(" One of 62 % of it passes, 0.75 m x 0.43 m x 0.37 m; whether a larger one does is not "
                                "settled."));
  cause.opens_alone = true, cause.then_time_s = 61;
  EXPECT_THAT(sentence(desk.context, cause), testing::EndsWith(" If it passed there, the route would take 0:01:01."));
}

TEST(Certainty, ARouteOfASearchThatWasCutShortIsNotProvenTheBest) {
  route::Answer answer;
  EXPECT_TRUE(answer.is_proven_best());
  answer.is_certain = false;
  EXPECT_FALSE(answer.is_proven_best());
}

TEST(WhyNot, ZonesTogetherWithOthers) {
  EXPECT_EQ(
      why_not(CauseKind::Zones),
      "Forbidding zones are in the way: beam (radio beam), view (in the camera's view), first met between rails "
      "drum-1 and drum-2 (1.50, 0.00, -2.07). Only together with the other causes named: then there is a route of "
      "0:01:01.");
}

TEST(WhyNot, Closures) {
  EXPECT_EQ(
      why_not(CauseKind::Closures),
      "A closed rail is in the way: drum-2, first met (1.50, 0.00, -2.07). With this alone waived, there is a route "
      "of 0:00:44.");
}

TEST(WhyNot, ZoneTime) {
  EXPECT_EQ(why_not(CauseKind::ZoneTime),
            "Too long in zone frost (cold surface): every route stays 0:00:42 or longer, and 0:00:30 is allowed.");
  const sample::Desk desk;
  auto cause = sample::cause(CauseKind::ZoneTime);
  cause.limit_s = 41.9, cause.value_s = 41.91;
  EXPECT_EQ(sentence(desk.context, cause),
            "Too long in zone frost (cold surface): every route stays 0:00:42 or longer, and 0:00:41 is allowed.")
      << "what is allowed is rounded down";
  cause.limit_s = 60;
  EXPECT_EQ(sentence(desk.context, cause),
            "Too long in zone frost (cold surface): a route stays 0:00:42 or longer, and 0:01:00 is allowed, but none "
            "was found that keeps this limit together with all others.");
}

TEST(WhyNot, Tether) {
  EXPECT_EQ(
      why_not(CauseKind::Tether),
      "The tether is too short: wherever tether swaps are done, 27.00 m of it must be out somewhere, and it is 26.00 "
      "m long.");
}

// ---- findings -----------------------------------------------------------------------------------------------------

std::string words(Finding finding) {
  const sample::Desk desk;
  return sentence(desk.context, finding);
}

Finding finding(FindingKind kind, double value = 0, double limit = 0, std::string other = "") {
  auto f = sample::finding(kind, Severity::Warning);
  f.value = value, f.limit = limit, f.other = std::move(other);
  return f;
}

TEST(Findings, NameTheSourceOfTheirLimitAndWhetherToVerifyIt) {
  auto f = finding(FindingKind::Gap, 0.6101, 0.61, "drum-2");
  f.design = model::Quantity{0.61, "a standard, 1.2", model::Confidence::Memory};
  EXPECT_EQ(words(f),
            "rails drum-1 and drum-2: the gap between them is 0.62 m, and 0.61 m is the most that is allowed "
            "[a standard, 1.2; from memory, verify]");
  f.design->confidence = model::Confidence::Published;
  EXPECT_EQ(words(f),
            "rails drum-1 and drum-2: the gap between them is 0.62 m, and 0.61 m is the most that is allowed "
            "[a standard, 1.2]");
}

TEST(Findings, CutOffRailsSayHowFarTheRestIs) {
  auto f = finding(FindingKind::UnreachableRail, 1.055, 0.61, "mast-1");
  EXPECT_EQ(words(f),
            "rail drum-1: no hatch can be reached from it; the nearest rail outside is mast-1, 1.06 m away, "
            "and a hand reaches 0.61 m");
  f.count = 4;
  EXPECT_EQ(words(f),
            "4 rails, such as drum-1: no hatch can be reached from them; the nearest rail outside is mast-1, "
            "1.06 m away, and a hand reaches 0.61 m");
  EXPECT_EQ(words(finding(FindingKind::UnreachableRail)),
            "rail drum-1: no hatch can be reached from it; there is no other");
}

TEST(Findings, CutOffRailsSayWhichRuleClosesTheMovesToThem) {
  auto f = finding(FindingKind::Island, 0.98, 1.09, "mast-1");
  f.causes = {sample::cause(CauseKind::BodyTooTight)};
  EXPECT_EQ(
      words(f),
      "rail drum-1: cut off from the rest. Too tight for the suit: the widest corridor that passes is 0.98 m, and "
      "it needs 1.09 m; the pinch is between rails drum-1 and drum-2 (1.50, 0.00, -2.07) beside mast");
  f.along_m = {3.149, 4.801};
  EXPECT_THAT(words(f), testing::StartsWith("rail drum-1 from 3.14 m to 4.81 m along: cut off from the rest. Too"));
  f.kind = FindingKind::UnreachableRail;
  f.count = 22, f.pieces = 5, f.partial = 2;
  f.causes = {sample::cause(CauseKind::TurnLimit)};
  f.causes.front().opens_alone = true;
  f.causes.push_back(sample::cause(CauseKind::HandLineBlocked));
  f.causes.back().opens_alone = true;
  EXPECT_EQ(
      words(f),
      "22 rails or parts of them in 5 pieces, such as drum-1: no hatch can be reached from them. A turn too far: "
      "between rails drum-1 and drum-2 (1.50, 0.00, -2.07) the outward directions differ by 120 deg, and one move "
      "turns 90 deg at most. Or: Structure in the hand's way: between rails drum-1 and drum-2, mast (1.50, 0.00, "
      "-2.07) stands between the grips");
}

TEST(Findings, OfRails) {
  EXPECT_EQ(words(finding(FindingKind::RailTooClose, 0.0569, 0.057, "drum")),
            "rail drum-1: 0.056 m clear under it, and a gloved hand needs 0.057 m (drum)");
  EXPECT_EQ(
      words(finding(FindingKind::RailInSolid, 0.2, 0, "drum")),
      "rail drum-1: 0.20 m of it lies inside drum, so no answer uses it; move it off the part, or say with `when:` in "
      "which configurations it is there");
  EXPECT_EQ(words(finding(FindingKind::RailInSolid, 0, 0, "drum")),
            "rail drum-1: it runs into drum, so no answer uses it; move it off the part, or say with `when:` in which "
            "configurations it is there");
  EXPECT_EQ(words(finding(FindingKind::ShortRail, 0.15, 0.152)),
            "rail drum-1: 0.150 m long, and a hand's grip needs 0.152 m");
  EXPECT_EQ(words(finding(FindingKind::RailLoad, 700, 830)),
            "rail drum-1: load limit 700 N, and 830 N are required of a rail for hands");
  EXPECT_EQ(words(finding(FindingKind::NarrowCorridor, 0.9, 1.09, "mast")),
            "rail drum-1: no room for the suit at 1 of its grips and steps: 0.90 m at the tightest beside mast, 1.09 m "
            "needed");
}

TEST(Findings, OfPlaces) {
  EXPECT_EQ(words(finding(FindingKind::PlaceWithoutGrip, 1.2, 0.8, "mast-1")),
            "place drum-1: no grip within 0.80 m; the nearest is 1.20 m away, on rail mast-1");
  EXPECT_EQ(words(finding(FindingKind::PlaceTooTight, 0.9, 1.09, "mast")),
            "place drum-1: no room for the suit at any of its 1 grips: 0.90 m at most beside mast, 1.09 m needed");
  EXPECT_EQ(words(finding(FindingKind::ZoneSwallowsPlace, 0, 0, "beam")),
            "place drum-1: every grip there lies in zone beam");
  EXPECT_EQ(words(finding(FindingKind::ZoneSwallowsPlace, 0, 0, "beam, view")),
            "place drum-1: every grip there lies in one of the zones beam, view");
  EXPECT_EQ(words(finding(FindingKind::WorksiteHandholds, 0.611, 0.61)),
            "worksite drum-1: the nearest handhold is 0.62 m away, and 0.61 m is the most that is allowed");
  EXPECT_EQ(words(finding(FindingKind::WorksiteRoom, 1.199, 1.22, "drum")),
            "worksite drum-1: a body there has 1.19 m of clear diameter beside drum, and 1.22 m is required");
}

}  // namespace
}  // namespace holdfast::report
