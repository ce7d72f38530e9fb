// The page in a real browser: headless Chromium on software rendering, driven by browser/drive.js, which has the
// checks. Screenshots for people to look at go to tests/picture/pictures in the build folder.

#include <gtest/gtest.h>

#include <filesystem>
#include <fstream>

#include "drawn.h"
#include "generated_yard.h"
#include "run_command.h"

namespace holdfast::picture {
namespace {

namespace fs = std::filesystem;

void expect_page(const std::string& name, const Picture& picture, const std::string& result = "{}") {
  const fs::path folder = HOLDFAST_PICTURES;
  fs::create_directories(folder);
  const fs::path page = folder / (name + ".html"), json = folder / (name + ".json");
  std::ofstream(page, std::ios::binary) << html(picture);
  std::ofstream(json, std::ios::binary) << result;
  const auto ran = support::run_command(
      HOLDFAST_NODE, {std::string(HOLDFAST_BROWSER_SOURCES) + "/drive.js", HOLDFAST_CHROMIUM, name, folder, page, json},
      {folder, {std::string("NODE_PATH=") + HOLDFAST_NODE_MODULES, "HOME=" + folder.string()}});
  EXPECT_EQ(ran.code, 0) << ran.out << ran.err;
  std::fputs(ran.out.c_str(), stdout);
}

std::string bag_way() {
  auto& yard = demo_yard();
  return yard.json(yard.route("lock-hatch", "battery-bay", {"bulky-bag"}));
}
const search::RouteRequest to_batteries{.from = "lock-hatch", .to = "battery-bay"};

TEST(Browser, LoadsTheDemoYardWithoutAComplaint) { expect_page("loads-and-shows", demo_yard().picture({bag_way()})); }

TEST(Browser, HasTheRowsOfTheJson) {
  auto& yard = demo_yard();
  const auto document = yard.json(search::find_alternative_routes(yard.graph(), yard.profile(), to_batteries));
  expect_page("rows-match-the-json", yard.picture({document}), document);
}

TEST(Browser, PicksRowsInTheViewAndPointsInTheTable) {
  auto& yard = demo_yard();
  const auto document = yard.json(yard.route("lock-hatch", "battery-bay"));
  expect_page("picking-works-both-ways", yard.picture({document}), document);
}

TEST(Browser, MovesTheFigureAndItsLoadByTheClock) {
  const auto document = bag_way();
  expect_page("slider-moves-figure-and-load", demo_yard().picture({document}), document);
}

TEST(Browser, TurnsTheCameraByViewsKeysAndMouse) {
  expect_page("views-and-keys-turn-the-camera", demo_yard().picture({bag_way()}));
}

TEST(Browser, IsUsedByKeyboardAlone) { expect_page("keyboard-alone", demo_yard().picture({bag_way()})); }

TEST(Browser, TellsWaysApartWithoutColour) {
  auto& yard = demo_yard();
  expect_page(
      "several-ways-differ-without-colour",
      yard.picture({bag_way(), yard.json(search::find_alternative_routes(yard.graph(), yard.profile(), to_batteries)),
                    yard.json(yard.route("lock-hatch", "dish-service"))}));
}

TEST(Browser, ChartsAComparisonAndShowsWhyNot) {
  auto& yard = demo_yard();
  const auto document = yard.json(search::compare_loads(
      yard.graph(), yard.profile(), to_batteries,
      {{}, {yard.kit_.find_load("bulky-bag")}, {yard.kit_.find_load("long-bag")}, {yard.kit_.find_load("pole")}}));
  expect_page("comparison-charts-and-reasons", yard.picture({document}), document);
}

TEST(Browser, ChartsTradeOffsAndListsTheWayHome) {
  auto& yard = demo_yard();
  // There, more than one can be told apart.
  const search::RouteRequest to_radiator{.from = "lock-hatch", .to = "radiator-valve-forward"};
  const auto document = yard.json(search::find_trade_offs(yard.graph(), yard.profile(), to_radiator));
  const auto home = yard.json(search::compute_home(yard.graph(), yard.profile(), {.hatch = "lock-hatch"}));
  expect_page("trade-off-chart-and-home", yard.picture({document, home}), document);
}

TEST(Browser, ShowsLinesWithTiesAndBends) {
  auto& yard = demo_yard();
  auto picture = yard.picture({yard.json(yard.route("lock-hatch", "lock-hatch"))});  // and a way without a move
  picture.lines.push_back({LineKind::Cable,
                           "trunk",
                           "",
                           "12.3 m of 14 m",
                           {{0.4, 0, -2.07}, {1.5, 0, -2.07}, {2.7, 0.6, -1.98}, {5, 0.6, -1.98}},
                           {{{0.4, 0, -2.07}, "tie 1"}, {{5, 0.6, -1.98}, "tie 2"}},
                           {{{1.5, 0, -2.07}, "bend 60 deg"}}});
  picture.lines.push_back(
      {LineKind::Tether, "reel", "", "in reach", {{-3, 0, -1.3}, {0, 0, -2.1}, {6, 0, -2.1}}, {}, {}});
  expect_page("lines-show-ties-and-bends", picture);
}

TEST(Browser, DrawsAHundredThousandGrips) {
  Drawn field(support::generated_yard(100'000));
  expect_page("hundred-thousand-grips", field.picture());
}

TEST(Browser, ShowsMarkupAsText) {
  auto structure = brick();
  structure.name = "<b>Yard</b>";
  structure.parts[0].name = "<img src=x onerror=\"window.pwned=3\">";
  structure.rails[0].id = "<i>rail</i>";
  structure.places[0].id = "</script><script>window.pwned=1</script>";
  structure.zones[0].id = "<iframe>";
  structure.zones[0].reason = "<img src=x onerror=\"window.pwned=2\">";
  expect_page("markup-is-text", Drawn(structure).picture());
}

TEST(Browser, PrintsOnWhitePaper) { expect_page("prints-on-white-paper", demo_yard().picture({bag_way()})); }

TEST(Browser, FitsATablet) { expect_page("fits-a-tablet", demo_yard().picture({bag_way()})); }

TEST(Browser, SaysSoWithoutWebGl) { expect_page("says-so-without-webgl", demo_yard().picture({bag_way()})); }

}  // namespace
}  // namespace holdfast::picture
