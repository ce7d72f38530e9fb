// SPDX-License-Identifier: GPL-3.0-or-later
// Pages and documents that hold several ways against each other.

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <nlohmann/json.hpp>

#include "holdfast/report/read.h"
#include "holdfast/report/report.h"
#include "sample.h"
#include "schema_check.h"

namespace holdfast::report {
namespace {

using testing::HasSubstr;
using testing::Not;

route::Route route_of(const route::Answer& answer) { return *answer.route(); }

route::TradeOffs trade_offs() {
  route::TradeOffs set;
  set.answer = sample::found();
  for (int i = 0; i < 3; ++i) {
    route::TradeOff way;
    way.route = route_of(set.answer);
    way.route.time_s = 100 + 20 * i;
    way.route.moves = static_cast<std::size_t>(30 - 2 * i);
    way.clearance_m = 0.55;
    set.ways.push_back(std::move(way));
  }
  set.differ_by = {5, 1, 0.05, 5};
  set.labels = 1234, set.most_labels = 2000;
  return set;
}

TEST(TradeOffPage, ChartsWhatVariesAndNothingElse) {
  const sample::Desk desk;
  const auto page = text(desk.context, trade_offs());
  EXPECT_THAT(page, HasSubstr("3 routes: each holds other rails than every other and lies more than"));
  EXPECT_THAT(page, HasSubstr("  1  0:01:40     30"));
  EXPECT_THAT(page, HasSubstr("hand moves, against time"));
  EXPECT_THAT(page, Not(HasSubstr("least clearance [m], against time"))) << "all ways have the same";
  EXPECT_THAT(page, Not(HasSubstr("CUT SHORT")));
  const auto chart = page.substr(page.find("hand moves, against"));
  EXPECT_THAT(chart, HasSubstr("       30 |1   "));
  EXPECT_THAT(chart, HasSubstr("       26 |                                                               3\n"));
}

TEST(TradeOffPage, SaysThatItWasCutShort) {
  const sample::Desk desk;
  auto set = trade_offs();
  set.is_cut_short = true;
  EXPECT_THAT(text(desk.context, set), HasSubstr("CUT SHORT: the limit of 2000 partial paths was reached"));
  const auto document = nlohmann::json::parse(json(desk.context, set));
  EXPECT_EQ(document["complete"], false);
  EXPECT_EQ(support::schema_faults("result", document), "");
}

TEST(ComparePage, TellsTheDifferenceInWords) {
  const sample::Desk desk;
  route::Comparison comparison;
  comparison.head = sample::found();
  route::CompareRow none, bag, crate;
  none.answer = bag.answer = crate.answer = sample::found();  // one suit and configuration for all
  bag.loads = bag.answer.loads = {"bag"};
  auto slower = route_of(bag.answer);
  slower.time_s += 100;
  slower.load_clearance = route::LoadClearance{.load = "bag", .clearance = {0.127, false}, .part = model::PartId(0)};
  bag.answer.outcome = slower;
  bag.goes_as_first = false;
  bag.mark.part = model::PartId(0), bag.mark.face = route::Face::Zenith;
  bag.first_mark.part = model::PartId(0), bag.first_mark.face = route::Face::Starboard;
  bag.not_as_first = sample::cause(route::CauseKind::LoadTooTight);
  bag.not_as_first->load = "bag";
  bag.not_as_first->rail_other = bag.not_as_first->rail;
  bag.not_as_first->limit_m = 0.61, bag.not_as_first->value_m = 0.489, bag.not_as_first->fraction = 0.8;
  crate.loads = {"crate"};
  crate.answer.outcome = route::NoRoute{{*bag.not_as_first}};
  comparison.rows = {none, bag, crate};
  const auto page = text(desk.context, comparison);
  EXPECT_THAT(page, HasSubstr("  none "));
  EXPECT_THAT(page, HasSubstr("0.12  ")) << "clearances are rounded down";
  const std::string flat = [&] {
    std::string words;
    for (const char c : page)
      if (c != '\n' || words.empty() || words.back() != ' ') words += c == '\n' ? ' ' : c;
    std::string single;
    for (const char c : words)
      if (c != ' ' || single.empty() || single.back() != ' ') single += c;
    return single;
  }();
  EXPECT_THAT(
      flat, HasSubstr("bag: on the first route bag is too large at rail drum-1 beside stores drum: its longest side is "
                      "0.61 m, and 0.48 m would pass there; goes over the zenith side of stores drum instead of over "
                      "the starboard side of stores drum, +0:01:40"));
  EXPECT_THAT(page, HasSubstr("  crate  no route"));
  EXPECT_EQ(support::schema_faults("result", nlohmann::json::parse(json(desk.context, comparison))), "");
  EXPECT_THAT(csv(desk.context, comparison), HasSubstr("\r\n,,bag,route,"));
}

TEST(GivenWays, AreReadBackAsTheyWereWritten) {
  const sample::Desk desk;
  const auto answer = sample::found();
  const auto ways = read_ways("x.json", json(desk.context, answer), desk.context.structure, desk.context.kit);
  ASSERT_EQ(ways.size(), 1u);
  ASSERT_EQ(ways[0].legs.size(), answer.route()->legs.size());
  for (std::size_t leg = 0; leg < ways[0].legs.size(); ++leg) {
    const auto& poses = answer.route()->legs[leg].poses;
    ASSERT_EQ(ways[0].legs[leg].grips.size(), poses.size());
    for (std::size_t i = 0; i < poses.size(); ++i)
      EXPECT_TRUE(ways[0].legs[leg].grips[i].hand.isApprox(poses[i].hand, 1e-6));
  }
  const auto refusal = [&](const std::string& contents, const model::Structure& structure) -> std::string {
    try {
      (void)read_ways("x.json", contents, structure, desk.context.kit);
    } catch (const model::InputError& error) {
      EXPECT_EQ(error.diagnostics().front().code, "wrong-result");
      return error.diagnostics().front().text();
    }
    return "";
  };
  auto other = desk.structure_;
  other.files.front().sha256 = std::string(64, 'e');
  EXPECT_THAT(refusal(json(desk.context, answer), other), HasSubstr("another structure"));
  EXPECT_THAT(refusal("{}", other), HasSubstr("not a result of holdfast"));
  EXPECT_THAT(refusal("[1, 2", other), HasSubstr("x.json: this is not JSON"));
  auto broken = nlohmann::json::parse(json(desk.context, answer));
  broken["route"]["legs"][0].erase("poses");
  EXPECT_THAT(refusal(broken.dump(), desk.context.structure), HasSubstr("missing or of the wrong kind"));
}

}  // namespace
}  // namespace holdfast::report
