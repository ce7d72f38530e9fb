// SPDX-License-Identifier: GPL-3.0-or-later
// Results read back: what is read and written again is what was written.

#include "holdfast/report/read.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <nlohmann/json.hpp>

#include "sample.h"

namespace holdfast::report {
namespace {

TEST(ReadResult, OfARouteIsWrittenAgainAsItWas) {
  const sample::Desk desk;
  auto answer = sample::found();
  answer.loads = {"bag"};
  auto& route = std::get<route::Route>(answer.outcome);
  route.load_clearance = route::LoadClearance{"bag", {0.123456, true}, sample::mast, {1, 2, 3}, 1, 2};
  route.legs[0].rows[1].load_clearance = route::LowerBound{0.25, false};
  route::LoadPose box{0, {1, 2, 3}, {}};
  box.axes << 0, 1, 0, 0, 0, 1, 1, 0, 0;
  route.legs[0].poses[0].loads = {box};
  const std::string written = json(desk.context, answer);
  const auto result = read_result("x.json", written, desk.structure_, desk.context.kit);
  EXPECT_EQ(result.file, "x.json");
  EXPECT_EQ(result.outcome, "route");
  EXPECT_EQ(result.stops, (std::vector<std::string>{"hatch", "valve", "mast-top"}));
  EXPECT_EQ(result.closed_rails, std::vector<std::string>{"drum-2"});
  EXPECT_EQ(result.configuration, answer.configuration);
  ASSERT_EQ(result.ways.size(), 1u);
  ASSERT_TRUE(result.ways[0].route);
  answer.outcome = *result.ways[0].route;
  EXPECT_EQ(json(desk.context, answer), written);
  EXPECT_EQ(csv(desk.context, answer), csv(desk.context, [&] {
              auto again = sample::found();
              again.loads = {"bag"};
              again.outcome = *read_result("x.json", written, desk.structure_, desk.context.kit).ways[0].route;
              return again;
            }()));
}

TEST(ReadResult, OfARefusalHasItsSentencesAndPlaces) {
  const sample::Desk desk;
  const auto answer = sample::refused({sample::cause(route::CauseKind::Reach), sample::cause(route::CauseKind::Zones)});
  const auto result = read_result("x.json", json(desk.context, answer), desk.structure_, desk.context.kit);
  EXPECT_EQ(result.outcome, "no-route");
  ASSERT_EQ(result.ways.size(), 1u);
  EXPECT_FALSE(result.ways[0].route);
  ASSERT_EQ(result.ways[0].causes.size(), 2u);
  for (std::size_t i = 0; i < 2; ++i) {
    EXPECT_EQ(result.ways[0].causes[i].text, sentence(desk.context, answer.no_route()->causes[i]));
    EXPECT_TRUE(result.ways[0].causes[i].at.isApprox(answer.no_route()->causes[i].at, 1e-6));
  }
  EXPECT_THROW((void)read_ways("x.json", json(desk.context, answer), desk.structure_, desk.context.kit),
               model::InputError);
}

TEST(ReadResult, OfAComparisonNamesEachRowByItsLoads) {
  const sample::Desk desk;
  route::Comparison comparison;
  comparison.head = sample::asked();
  for (const bool has_way : {true, false}) {
    route::CompareRow row;
    row.answer = has_way ? sample::found() : sample::refused({sample::cause(route::CauseKind::LoadTooTight)});
    if (!has_way) row.loads = row.answer.loads = {"bag"};
    comparison.rows.push_back(row);
  }
  const auto result = read_result("x.json", json(desk.context, comparison), desk.structure_, desk.context.kit);
  ASSERT_EQ(result.ways.size(), 2u);
  EXPECT_EQ(result.ways[0].name, "no load");
  EXPECT_EQ(result.ways[1].name, "bag");
  EXPECT_TRUE(result.ways[0].route);
  EXPECT_FALSE(result.ways[1].causes.empty());
  EXPECT_FALSE(result.ways[1].note.empty());
}

}  // namespace
}  // namespace holdfast::report
