// SPDX-License-Identifier: GPL-3.0-or-later
// What a drawing shows: only what is there, ways that go as the engine says, refusals told in place.

#include "holdfast/picture/picture.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <nlohmann/json.hpp>
#include <set>

#include "drawn.h"

namespace holdfast::picture {
namespace {

using testing::HasSubstr;

TEST(Letter, CountsOnPastZ) {
  EXPECT_EQ(letter(0), "A");
  EXPECT_EQ(letter(25), "Z");
  EXPECT_EQ(letter(26), "AA");
  EXPECT_EQ(letter(51), "AZ");
  EXPECT_EQ(letter(52), "BA");
  EXPECT_EQ(letter(26 + 26 * 26), "AAA");
  std::set<std::string> all;
  for (std::size_t i = 0; i < 2000; ++i) all.insert(letter(i));
  EXPECT_EQ(all.size(), 2000u);
}

TEST(DrawStructure, ShowsAllThatIsThereInThisConfiguration) {
  auto& yard = demo_yard();
  const auto picture = yard.picture();
  EXPECT_EQ(picture.parts.size(), yard.structure_.parts.size()) << "all parts are there while the dish is parked";
  Drawn tracking(model::read_model(std::string(HOLDFAST_SOURCE_DIR) + "/models/yard"), {"dish=tracking"});
  const auto other = tracking.picture();
  EXPECT_EQ(other.parts.size() + 1, picture.parts.size()) << "without the dish feed";
  const auto has_zone = [](const Picture& p, const std::string& id) {
    return std::any_of(p.zones.begin(), p.zones.end(), [&](const Zone& zone) { return zone.id == id; });
  };
  EXPECT_FALSE(has_zone(picture, "dish-radio"));
  EXPECT_TRUE(has_zone(other, "dish-radio"));
  for (const auto& zone : other.zones) EXPECT_FALSE(zone.reason.empty()) << zone.id;
}

TEST(DrawStructure, MovesRailsAndPlacesWithTheirPart) {
  support::YardBuilder yard;
  model::Pose pose = model::Pose::Identity();
  pose.translate(Vec3(0, 0, 10));
  const auto part = yard.part("arm", model::Box{.center = {0, 0, 0}, .size = {1, 1, 1}}, pose);
  yard.rail("rail", part, {{0, 0, -0.6}, {0.4, 0, -0.6}}, {-Vec3::UnitZ()});
  yard.place("tip", {0, 0, -0.5});
  yard.structure.places.back().part = part;
  const auto picture = Drawn(yard.structure).picture();
  EXPECT_TRUE(picture.rails[0].points[1].isApprox(Vec3(0.4, 0, 9.4)));
  EXPECT_TRUE(picture.places[0].at.isApprox(Vec3(0, 0, 9.5)));
  EXPECT_NEAR(picture.bounds.max.z(), 10.5, 1e-9);
}

TEST(DrawStructure, OfNothingHasBoundsAllTheSame) {
  const auto picture = Drawn(model::Structure{}).picture();
  EXPECT_FALSE(picture.bounds.is_empty());
  EXPECT_FALSE(html(picture).empty());
  EXPECT_FALSE(svg(picture).svg.empty());
  EXPECT_FALSE(glb(picture).empty());
}

TEST(DrawStructure, ShowsAZoneNearAPartNoSmallerThanItIs) {
  support::YardBuilder yard;
  const auto part = yard.part("brick", model::Box{.center = {0, 0, 0}, .size = {4, 2, 1}});
  yard.zone("near", model::NearPart{part, 0.2});
  Drawn drawn(yard.structure);
  const auto zone = drawn.picture().zones.at(0);
  geometry::Bounds bounds;
  for (const auto& v : zone.mesh.vertices) bounds.extend(v);
  EXPECT_TRUE(bounds.max.isApprox(Vec3(2.2, 1.2, 0.7), 1e-5));
  // Every point of its surface is outside of the zone, or on its edge.
  for (const auto& t : zone.mesh.triangles) {
    const Vec3 middle = (zone.mesh.vertices[t[0]] + zone.mesh.vertices[t[1]] + zone.mesh.vertices[t[2]]) / 3;
    EXPECT_GE(drawn.scene_->zone_distance(model::ZoneId(0), middle), -1e-5);
  }
}

TEST(AddResult, GivesTheWayThatTheEngineFound) {
  auto& yard = demo_yard();
  const auto answer = yard.route("lock-hatch", "battery-bay", {"bulky-bag"});
  ASSERT_TRUE(answer.route());
  const auto picture = yard.picture({yard.json(answer)});
  ASSERT_EQ(picture.ways.size(), 1u);
  const Way& way = picture.ways[0];
  EXPECT_EQ(way.name, "lock-hatch to battery-bay, bulky-bag");
  const auto& leg = answer.route()->legs[0];
  ASSERT_EQ(way.poses.size(), leg.poses.size());
  ASSERT_EQ(way.rows.size(), leg.rows.size());
  for (std::size_t i = 0; i < leg.poses.size(); ++i) {
    EXPECT_NEAR((way.poses[i].hand - leg.poses[i].hand).norm(), 0, 2e-6);
    EXPECT_NEAR(way.poses[i].at_s, leg.poses[i].at_s, 1e-6);
    ASSERT_EQ(way.poses[i].loads.size(), 1u);
    EXPECT_NEAR((way.poses[i].loads[0].axes - leg.poses[i].loads[0].axes).norm(), 0, 1e-5);
  }
  EXPECT_EQ(way.rows.front().heading, "lock drum, zenith-starboard");
  EXPECT_EQ(picture.boxes.at(way.loads.at(0)).size_m, yard.kit_.find_load("bulky-bag")->size_m);
  EXPECT_DOUBLE_EQ(way.corridor_radius_m, yard.kit_.suits.front().corridor_radius_m());
}

TEST(AddResult, TakesTheBodyRoundCornersAsTheGraphDoes) {
  auto& yard = demo_yard();
  const auto answer = yard.route("lock-hatch", "dish-service");
  ASSERT_TRUE(answer.route());
  const auto picture = yard.picture({yard.json(answer)});
  const auto& way = picture.ways[0];
  EXPECT_GT(way.body.size(), way.poses.size()) << "the way turns by 90 degrees onto the mast";
  const auto& poses = answer.route()->legs[0].poses;
  const auto& graph = yard.graph();
  std::size_t between = 0;
  for (std::size_t p = 0, i = 0; p + 1 < poses.size(); ++p) {
    for (; i < way.body.size() && way.body[i].at_s <= poses[p + 1].at_s; ++i) {
      if (way.body[i].at_s <= poses[p].at_s) continue;
      const double t = (way.body[i].at_s - poses[p].at_s) / (poses[p + 1].at_s - poses[p].at_s);
      const graph::GripId a(poses[p].grip), b(poses[p + 1].grip);
      const auto move = graph.find_move(a, b);
      ASSERT_TRUE(move);
      const double along = graph.move(*move).a == a ? t : 1 - t;
      EXPECT_NEAR((graph.body_at(*move, along) - way.body[i].at).norm(), 0, 1e-5);
      ++between;
    }
  }
  EXPECT_GE(between, poses.size() - 1);
}

TEST(AddResult, TellsWhyThereIsNoWayAndWhere) {
  auto& yard = demo_yard();
  const auto answer = yard.route("lock-hatch", "outpost-panel");
  const auto picture = yard.picture({yard.json(answer)});
  ASSERT_EQ(picture.ways.size(), 1u);
  EXPECT_FALSE(picture.ways[0].is_way());
  ASSERT_FALSE(picture.ways[0].reasons.empty());
  EXPECT_EQ(picture.ways[0].reasons[0].text, report::sentence(*yard.context_, answer.no_route()->causes[0]));
  EXPECT_NEAR((picture.ways[0].reasons[0].at - answer.no_route()->causes[0].at).norm(), 0, 2e-6);
}

/// With more than one trade-off that a planner can tell apart.
const route::RouteRequest to_radiator{.from = "lock-hatch", .to = "radiator-valve-forward"};

TEST(AddResult, HoldsComparisonsTradeOffsAndTheWayHome) {
  auto& yard = demo_yard();
  const route::RouteRequest request{.from = "lock-hatch", .to = "battery-bay"};
  const auto comparison = route::compare_loads(yard.graph(), yard.profile(), request,
                                               {{}, {yard.kit_.find_load("bulky-bag")}, {yard.kit_.find_load("pole")}});
  const auto trade_offs = route::find_trade_offs(yard.graph(), yard.profile(), to_radiator);
  const auto home = route::compute_home(yard.graph(), yard.profile(), {.hatches = {"lock-hatch"}});
  const auto picture = yard.picture({yard.json(comparison), yard.json(trade_offs), yard.json(home)});
  EXPECT_EQ(picture.ways.size(), 3 + trade_offs.ways.size());
  ASSERT_EQ(picture.charts.size(), 2u);
  EXPECT_EQ(picture.charts[0].kind, ChartKind::Bars);
  EXPECT_EQ(picture.charts[0].ways, (std::vector<std::size_t>{0, 1, 2}));
  EXPECT_EQ(picture.charts[1].kind, ChartKind::Scatter);
  EXPECT_FALSE(picture.ways[2].is_way()) << "the pole";
  EXPECT_THAT(picture.ways[1].note, HasSubstr("the same rails, +"));
  ASSERT_EQ(picture.homes.size(), 1u);
  ASSERT_EQ(picture.homes[0].rows.size(), home.places.size());
  EXPECT_EQ(picture.homes[0].rows[0].verdict, "NO WAY");
  EXPECT_EQ(picture.homes[0].farthest.size(), home.worst.size());
}

std::string refusal(Drawn& drawn, const std::string& document) {
  try {
    (void)drawn.picture({document});
  } catch (const model::InputError& error) {
    EXPECT_EQ(error.diagnostics().front().code, "wrong-result");
    return error.diagnostics().front().text();
  }
  return "";
}

TEST(AddResult, TellsWhatIsNotProven) {
  auto& yard = demo_yard();
  auto document = nlohmann::json::parse(yard.json(route::find_trade_offs(yard.graph(), yard.profile(), to_radiator)));
  EXPECT_EQ(yard.picture({document.dump()}).ways[0].note, "");
  document["proven_best"] = document["certain"] = document["complete"] = false;
  const auto picture = yard.picture({document.dump()});
  EXPECT_EQ(picture.ways[0].note,
            "not proven the best: a better route with the load in tow may exist; not certain: a search was cut short");
  EXPECT_THAT(picture.charts[0].title, HasSubstr("CUT SHORT"));
}

TEST(AddResult, RefusesAnotherConfigurationSuitOrLoad) {
  auto& yard = demo_yard();
  auto document = nlohmann::json::parse(yard.json(yard.route("lock-hatch", "hub-top", {"bulky-bag"})));
  auto changed = document;
  changed["configuration"]["dish"] = "tracking";
  EXPECT_THAT(refusal(yard, changed.dump()), HasSubstr("it was computed for arm=stowed dish=tracking"));
  changed = document;
  changed["suit"] = "bear";
  EXPECT_THAT(refusal(yard, changed.dump()), HasSubstr("suit \"bear\" is not in the kit"));
  changed = document;
  changed["loads"] = {"piano"};
  EXPECT_THAT(refusal(yard, changed.dump()), HasSubstr("a pose with a load that is not carried"));
  EXPECT_EQ(refusal(yard, document.dump()), "");
}

TEST(AddResult, RefusesResultsThatNoEngineWrote) {
  auto& yard = demo_yard();
  const auto document = nlohmann::json::parse(yard.json(yard.route("lock-hatch", "hub-top")));
  const auto with = [&](const char* pointer, const nlohmann::json& value) {
    auto changed = document;
    changed[nlohmann::json::json_pointer(pointer)] = value;
    return refusal(yard, changed.dump());
  };
  EXPECT_THAT(with("/verb", "matrix"), HasSubstr("shows no routes"));
  EXPECT_THAT(with("/holdfast", "errors/1"), HasSubstr("not a result of holdfast"));
  EXPECT_THAT(with("/configuration", {{"dish", "parked"}}), HasSubstr("none of the model's switches"));
  EXPECT_THAT(with("/configuration/dish", "upside-down"), HasSubstr("none of the model's switches"));
  EXPECT_THAT(with("/route/legs", nlohmann::json::array()), HasSubstr("a route without legs"));
  EXPECT_THAT(with("/route/legs/0/poses/1/at_s", -3), HasSubstr("goes back in time"));
  EXPECT_THAT(with("/route/legs/0/poses/1/hand/0", 1e9), HasSubstr("a thousand kilometres"));
  EXPECT_THAT(with("/route/time_s", 1e300), HasSubstr("a number beyond all"));
  EXPECT_THAT(with("/route/legs/0/poses/1/rail", "no-rail"), HasSubstr("rail \"no-rail\""));
  EXPECT_THAT(with("/route/legs/0/rows/0/kind", "leap"), HasSubstr("the word \"leap\""));
  EXPECT_THAT(with("/route/legs/0/rows/0/hand", "here"), HasSubstr("missing or of the wrong kind"));
}

}  // namespace
}  // namespace holdfast::picture
