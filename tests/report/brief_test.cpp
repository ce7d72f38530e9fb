// SPDX-License-Identifier: GPL-3.0-or-later
// What is told to the crew, word for word.

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <nlohmann/json.hpp>

#include "holdfast/report/words.h"
#include "sample.h"
#include "schema_check.h"

namespace holdfast::report {
namespace {

using route::Face;
using route::Stretch;
using testing::HasSubstr;
using testing::Not;

/// The sample's route in three sentences.
route::Answer told() {
  auto answer = sample::found();
  auto route = *answer.route();
  Stretch first;
  first.leg = 0, first.first_row = 0, first.last_row = 2;
  first.part = sample::drum;
  first.sides = {Face::Zenith};
  first.heading = Face::Forward;
  first.distance_m = 4.251, first.moves = 9;
  first.landmarks = {{.part = sample::mast, .place = std::nullopt, .side = Face::Starboard, .distance_m = 1.2}};
  Stretch second;
  second.leg = 1, second.first_row = 0, second.last_row = 1;
  second.part = sample::drum;
  second.sides = {Face::Port, Face::ZenithPort, Face::Zenith, Face::ZenithStarboard, Face::Starboard};
  second.distance_m = 1.1, second.moves = 1;
  Stretch third;
  third.leg = 1, third.first_row = third.last_row = 2;
  third.part = sample::mast;
  third.sides = {Face::Aft};
  third.heading = Face::Zenith;
  third.turn_rad = EIGEN_PI / 2;
  third.distance_m = 0.9, third.moves = 2;
  route.stretches = {first, second, third};
  answer.outcome = route;
  return answer;
}

TEST(Brief, IsASentenceAPartAndSideWithWhatMustBeMinded) {
  sample::Desk desk;
  model::Place place;
  place.id = "hatch", place.name = "air lock hatch";
  desk.structure_.places.push_back(place);
  place.id = "mast-top", place.name = "Camera 2";
  desk.structure_.places.push_back(place);
  EXPECT_EQ(brief(desk.context, told()), R"(Sample yard: air lock hatch -> valve -> Camera 2
  least time, suit standard; arm=stowed dish=tracking; closed: drum-2

  1. From the air lock hatch forward along the zenith side of the stores drum, starboard of the mast, to the valve,
     4.26 m, at 0:00:37.
     CAUTION: 0:00:13 in caution zone view: in the camera's view
     CAUTION: 0:00:20 in limit zone frost: cold surface
  2. From the valve round the stores drum from its port by its zenith side to its starboard side, 1.10 m, at 0:00:51.
  3. Over to the mast, turning 90 deg, toward zenith along its aft side, to Camera 2, 0.90 m, at 1:01:01.
     KICK BAND: mast, no-touch and fragile: 0.34 m away

1:01:01 in 12 hand moves over 6.26 m. Least clearance 0.54 m from the body axis to stores drum, body at
  (3.00, -1.00, -2.00); spare beyond the corridor 0.00 m.

A planning aid: flight rules, certified engineers and rehearsal decide.
)");
}

TEST(Brief, TellsTetherSwapsWhereTheyFall) {
  const sample::Desk desk;
  auto answer = told();
  auto route = *answer.route();
  route::TetherUse tether;
  tether.tether = "reel", tether.anchor = "home";
  tether.swaps = {{.leg = 0, .row = 2, .pose = 9, .hook = "stores-anchor", .at_s = 36.25}};
  route.tether = tether;
  answer.outcome = route;
  const auto sentences = brief_sentences(desk.context, route);
  ASSERT_EQ(sentences.size(), 3u);
  EXPECT_EQ(sentences[0].notes.front(),
            "TETHER SWAP at the end of this at 0:00:37: hook the next tether on to stores-anchor, then unhook the one "
            "before");
  EXPECT_TRUE(sentences[1].notes.empty());
}

TEST(Brief, GoesOnWithoutNamingWhatIsKnown) {
  const sample::Desk desk;
  auto route = *told().route();
  Stretch on = route.stretches[2];
  on.part = sample::drum, on.turn_rad = 0, on.heading = Face::ForwardPort;
  auto text = [&](std::vector<Face> sides, double turn_rad) {
    on.sides = std::move(sides), on.turn_rad = turn_rad;
    route.stretches[2] = on;
    const auto all = brief_sentences(desk.context, route);
    return all[2].text.substr(0, all[2].text.find(", to mast-top"));
  };
  EXPECT_EQ(text({Face::Starboard}, 0), "On forward and to port along the starboard side of the stores drum");
  EXPECT_EQ(text({Face::Nadir}, 0), "Over to the nadir side of the stores drum, forward and to port along it");
  EXPECT_EQ(text({Face::Nadir}, EIGEN_PI / 2),
            "Round an edge of 90 deg to the nadir side of the stores drum, forward and to port along it");
  EXPECT_EQ(
      text({Face::Starboard, Face::NadirStarboard}, 0),
      "On round the stores drum from its starboard to its nadir-starboard side, then forward and to port along it");
}

TEST(Brief, HasNoConstantsAndGivesRefusalsInFull) {
  const sample::Desk desk;
  const auto page = brief(desk.context, sample::refused({sample::cause(route::CauseKind::BodyTooTight)}));
  EXPECT_THAT(page, HasSubstr("Too tight for the suit"));
  EXPECT_THAT(page, Not(HasSubstr("digest")));
  EXPECT_THAT(page, Not(HasSubstr("Assumed")));
  EXPECT_THAT(page, HasSubstr("A planning aid: flight rules"));
}

TEST(Brief, StandsInTheJsonWithTheSameWords) {
  const sample::Desk desk;
  const auto answer = told();
  const auto document = nlohmann::json::parse(json(desk.context, answer));
  EXPECT_EQ(support::schema_faults("result", document), "");
  const auto sentences = brief_sentences(desk.context, *answer.route());
  const auto& entries = document["route"]["brief"];
  ASSERT_EQ(entries.size(), sentences.size());
  for (std::size_t i = 0; i < sentences.size(); ++i) {
    EXPECT_EQ(entries[i]["text"], sentences[i].text);
    EXPECT_EQ(entries[i]["notes"].size(), sentences[i].notes.size());
  }
  EXPECT_EQ(entries[1]["sides"].front(), "port");
}

}  // namespace
}  // namespace holdfast::report
