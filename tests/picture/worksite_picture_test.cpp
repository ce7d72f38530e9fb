// SPDX-License-Identifier: GPL-3.0-or-later
// Worksites and sight as drawn: shapes that are what was computed, marks that are told apart without colour, a legend
// that names all of them.

// Before drawn.h, whose `json` looks for its overloads.
#include "holdfast/report/reach.h"
#include "holdfast/report/sight.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <numbers>
#include <pugixml.hpp>
#include <set>

#include "drawn.h"
#include "holdfast/reach/reach.h"
#include "holdfast/reach/sight.h"
#include "worksite_picture_impl.h"

namespace holdfast::picture {
namespace {

using testing::HasSubstr;

report::ReachPage reach_of(Drawn& yard, const std::vector<std::string>& sockets,
                           const std::vector<std::string>& targets) {
  report::ReachPage page;
  page.answers.push_back(reach::find_reach(yard.graph(), yard.profile(), {.sockets = sockets, .targets = targets}));
  return page;
}

double signed_volume(const geometry::TriangleMesh& mesh) {
  double six = 0;
  for (const auto& t : mesh.triangles) six += mesh.vertices[t[0]].dot(mesh.vertices[t[1]].cross(mesh.vertices[t[2]]));
  return six / 6;
}

TEST(WorksitePicture, DrawsTheZonesThatWereComputed) {
  auto& yard = demo_yard();
  const auto page = reach_of(yard, {"port-socket"}, {"port-plug", "port-end", "hub-plug"});
  const auto picture = yard.picture({yard.json(page)});
  ASSERT_EQ(picture.worksites.size(), 1U);
  const auto& site = picture.worksites[0];
  const auto& answer = page.answers[0].sites[0];
  const auto& frame = answer.stations[*answer.best].frame;
  const auto& figure = yard.kit_.suits.front().figure;
  const auto zones = reach::zones_of(figure, frame);
  constexpr double printed_m = 3e-6;  // JSON carries six decimals
  for (const auto hand : reach::both_hands)
    for (const auto& v : site.hand_zones[hand].vertices)
      EXPECT_LE(std::abs(zones.hand[hand].distance_m(v)), printed_m) << "on the boundary";
  for (const auto& v : site.two_hand_zone.vertices)
    EXPECT_NEAR((v - zones.two_hand).norm(), figure.two_hand_radius_m, printed_m);
  for (const auto& v : site.body.vertices) {
    const double along =
        std::clamp((v - frame.soles).dot(frame.up), figure.body_radius_m.value, figure.height_m - figure.body_radius_m);
    EXPECT_NEAR((v - frame.at(along)).norm(), figure.body_radius_m, printed_m);
  }
  // Volumes are of closed outward surfaces: capsule, box, ball, and the cone-cut ball 2 pi R^3 (1 - cos A) / 3.
  const double pi = std::numbers::pi, r = figure.body_radius_m, straight = figure.height_m - 2 * r;
  EXPECT_NEAR(signed_volume(site.body), pi * r * r * straight + 4.0 / 3 * pi * r * r * r, 0.01);
  EXPECT_NEAR(
      signed_volume(site.trunk),
      (figure.depth_front_m + figure.depth_back_m) * figure.breadth_m * (figure.shoulders_m + 0.10 - figure.hips_m),
      1e-5);
  const double reach = figure.one_hand_reach_m;
  EXPECT_NEAR(signed_volume(site.hand_zones[0]),
              2.0 / 3 * pi * reach * reach * reach * (1 - std::cos(figure.shoulder_half_angle_rad)), 0.01);
  EXPECT_FALSE(site.plate.triangles.empty());
  EXPECT_EQ(site.post.size(), 2U);
}

TEST(WorksitePicture, MarksTargetsByTheirKindWithTheArmThatReachesThem) {
  auto& yard = demo_yard();
  const auto picture =
      yard.picture({yard.json(reach_of(yard, {"port-socket"}, {"port-plug", "port-end", "hub-plug"}))});
  const auto& targets = picture.worksites.at(0).targets;
  ASSERT_EQ(targets.size(), 3U);
  EXPECT_EQ(targets[0].kind, reach::Kind::TwoHand);
  EXPECT_EQ(targets[0].shoulders.size(), 2U);
  EXPECT_EQ(targets[1].kind, reach::Kind::OneHand);
  EXPECT_EQ(targets[1].shoulders.size(), 1U);
  EXPECT_EQ(targets[2].kind, reach::Kind::OutOfReach);
  EXPECT_TRUE(targets[2].shoulders.empty());
  for (const auto& target : targets)
    for (const auto& shoulder : target.shoulders)
      EXPECT_LE((target.at - shoulder).norm(), yard.kit_.suits.front().figure.one_hand_reach_m + 1e-5);
  EXPECT_THAT(targets[2].words, HasSubstr("out of reach by"));
}

TEST(WorksitePicture, LooksAgainFromTheEyesOfTheResult) {
  auto& yard = demo_yard();
  const auto answer = reach::find_sight(yard.graph(), yard.profile(), {.patches = {"battery-1-zenith"}});
  const auto picture = yard.picture({yard.json(answer)});
  ASSERT_EQ(picture.patches.size(), 1U);
  const auto& patch = picture.patches[0];
  ASSERT_EQ(patch.looks.size(), answer.patches[0].views.size());
  for (std::size_t l = 0; l < patch.looks.size(); ++l) {
    double seen = 0, all = 0;
    for (const auto& sample : patch.samples)
      all += sample.side_m * sample.side_m, seen += sample.seen_by[l] ? sample.side_m * sample.side_m : 0;
    const auto& told = answer.patches[0].views[l].seen;
    EXPECT_GE(seen / all, told.low - 0.06) << "a border of 400 samples";
    EXPECT_LE(seen / all, told.high + 0.06);
  }
  const auto camera = std::find_if(picture.eyes.begin(), picture.eyes.end(),
                                   [](const SightEye& eye) { return eye.name == "mast-camera"; });
  ASSERT_NE(camera, picture.eyes.end());
  EXPECT_NEAR(camera->length_m, 9, 1.5) << "drawn to what it sees";
}

TEST(WorksitePicture, OfGripsShowsTheBestOne) {
  auto& yard = demo_yard();
  const auto answer = reach::find_sight(yard.graph(), yard.profile(),
                                        {.patches = {"tank-valve-face"}, .from_grips = true, .from = "lock-hatch"});
  const auto picture = yard.picture({yard.json(answer)});
  ASSERT_EQ(picture.eyes.size(), 1U);
  EXPECT_LT((picture.eyes[0].at - answer.rankings[0].best[0].eye.at).norm(), 1e-5);
  ASSERT_EQ(picture.patches.size(), 1U);
  std::size_t seen = 0;
  for (const auto& sample : picture.patches[0].samples) seen += sample.is_seen() ? 1 : 0;
  EXPECT_EQ(seen, picture.patches[0].samples.size()) << "the list says 100 %";
  ASSERT_EQ(picture.ways.size(), 1U) << "the path to it";
  EXPECT_TRUE(picture.ways[0].is_way());
}

std::string shapes_of(const pugi::xml_node& group) {
  std::string shapes;
  for (const auto& child : group.children()) {
    shapes += child.name();
    shapes +=
        child.attribute("fill").value() == std::string("#fff") || child.attribute("fill").value() == std::string("none")
            ? " empty "
            : " filled ";
    shapes += child.attribute("r").value();
    shapes += std::to_string(std::string(child.attribute("d").value()).size() > 0);
    std::string letters;
    for (const char c : std::string(child.attribute("d").value()))
      if (std::isalpha(static_cast<unsigned char>(c))) letters += c;
    shapes += letters + ";";
  }
  return shapes;
}

/// Every kind of sign that the views show.
std::set<std::string> kinds_in(const pugi::xml_document& sheet, const char* within) {
  std::set<std::string> kinds;
  for (const auto& found : sheet.select_nodes(within)) kinds.insert(found.node().attribute("class").value());
  return kinds;
}

TEST(WorksiteSheet, TellsAllKindsApartWithoutColourAndNamesThemInTheLegend) {
  auto& yard = demo_yard();
  auto picture = yard.picture({yard.json(reach_of(yard, {"port-socket"}, {"port-plug", "port-end"})),
                               yard.json(reach::find_sight(yard.graph(), yard.profile(),
                                                           {.patches = {"battery-1-zenith", "tank-valve-face"}}))});
  // One target of every kind, side by side.
  auto& targets = picture.worksites[0].targets;
  targets.clear();
  for (std::size_t k = 0; k < drawn_kinds.size(); ++k)
    targets.push_back({"t" + std::to_string(k),
                       kind_words(drawn_kinds[k]),
                       drawn_kinds[k],
                       Vec3(3 + 0.5 * static_cast<double>(k), -5, -1.7),
                       {}});
  const auto sheet = svg(picture);
  pugi::xml_document document;
  ASSERT_TRUE(document.load_string(sheet.svg.c_str()));
  std::set<std::string> shapes;
  for (const auto& found :
       document.select_nodes("//g[@class='view'][@data-view='zenith']//g[starts-with(@class,'target')]"))
    shapes.insert(shapes_of(found.node()));
  EXPECT_EQ(shapes.size(), drawn_kinds.size()) << "each by its shape alone";
  for (const char* within :
       {"//g[@class='view']//g[starts-with(@class,'target')]", "//g[@class='view']//path[starts-with(@class,'reach')]",
        "//g[@class='view']//path[starts-with(@class,'patch ')]",
        "//g[@class='view']//path[@class='figure' or @class='restraint' or @class='post' or "
        "@class='field' or @class='eye' or @class='facing']"}) {
    const auto drawn = kinds_in(document, within);
    EXPECT_FALSE(drawn.empty()) << within;
    std::string of_legend = within;
    of_legend.replace(of_legend.find("@class='view'"), 13, "@class='legend'");
    const auto named = kinds_in(document, of_legend.c_str());
    for (const auto& kind : drawn) EXPECT_EQ(named.count(kind), 1U) << kind << " is drawn and not in the legend";
  }
  for (const char* words : {"W1", "E1", "P1", "P2", "port-socket", "two-hand zone", "mast-camera"})
    EXPECT_THAT(sheet.svg, HasSubstr(words));
}

TEST(WorksiteSheet, WithoutWorksitesHasNoneOfTheirSigns) {
  const auto sheet = svg(demo_yard().picture());
  pugi::xml_document document;
  ASSERT_TRUE(document.load_string(sheet.svg.c_str()));
  EXPECT_TRUE(document.select_nodes("//g[starts-with(@class,'target') or starts-with(@class,'worksite')]").empty());
  EXPECT_TRUE(document.select_nodes("//g[@class='legend']//path[@class='figure']").empty());
}

TEST(WorksitePicture, RefusesResultsThatWereChanged) {
  auto& yard = demo_yard();
  const auto page = reach_of(yard, {"port-socket"}, {"port-plug"});
  const auto sound = nlohmann::json::parse(yard.json(page));
  const auto best = sound["answers"][0]["sites"][0]["best"].get<std::size_t>();
  const auto refused = [&](const std::function<void(nlohmann::json&)>& change) {
    auto document = sound;
    change(document);
    EXPECT_THROW((void)yard.picture({document.dump()}), model::InputError);
  };
  refused([&](auto& d) { d["answers"][0]["sites"][0]["stations"][best]["frame"]["up"] = {0, 0, 3}; });
  refused([&](auto& d) { d["answers"][0]["sites"][0]["stations"][best]["targets"][0]["kind"] = "three-hand"; });
  refused([&](auto& d) { d["answers"][0]["sites"][0]["best"] = 4000; });
  refused([&](auto& d) { d["answers"].push_back(d["answers"][0]); });
  refused([&](auto& d) { d["answers"][0]["suit"] = "none"; });
}

}  // namespace
}  // namespace holdfast::picture
