// SPDX-License-Identifier: GPL-3.0-or-later
// The page in a real browser: headless Chromium on software rendering, driven by browser/drive.js, which has the
// checks, and starts one browser for all of them. Screenshots for people to look at go to tests/picture/pictures in the
// build folder.

#include <fcntl.h>
#include <gtest/gtest.h>
#include <spawn.h>
#include <sys/wait.h>
#include <unistd.h>

#include <cstdio>
#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <nlohmann/json.hpp>
#include <stdexcept>

#include "drawn.h"
#include "excursion.h"
#include "generated_yard.h"
#include "run_command.h"

namespace holdfast::picture {
namespace {

namespace fs = std::filesystem;

/// The driver with its browser, started once for all tests of the process.
class Driver {
 public:
  explicit Driver(const fs::path& folder) {
    int to[2], from[2];
    if (::pipe2(to, O_CLOEXEC) != 0 || ::pipe2(from, O_CLOEXEC) != 0) throw std::runtime_error("no pipe");
    posix_spawn_file_actions_t actions;
    posix_spawn_file_actions_init(&actions);
    posix_spawn_file_actions_adddup2(&actions, to[0], 0);
    posix_spawn_file_actions_adddup2(&actions, from[1], 1);
    const char* path = std::getenv("PATH");
    std::vector<std::string> words = {HOLDFAST_NODE, std::string(HOLDFAST_BROWSER_SOURCES) + "/drive.js",
                                      HOLDFAST_CHROMIUM, folder},
                             settings = {std::string("NODE_PATH=") + HOLDFAST_NODE_MODULES, "HOME=" + folder.string(),
                                         std::string("PATH=") + (path ? path : "/usr/bin:/bin")};
    const auto pointers = [](std::vector<std::string>& texts) {
      std::vector<char*> list;
      for (auto& text : texts) list.push_back(text.data());
      list.push_back(nullptr);
      return list;
    };
    const int failed =
        ::posix_spawn(&child_, HOLDFAST_NODE, &actions, nullptr, pointers(words).data(), pointers(settings).data());
    posix_spawn_file_actions_destroy(&actions);
    ::close(to[0]), ::close(from[1]);
    to_ = ::fdopen(to[1], "w"), from_ = ::fdopen(from[0], "r");
    if (failed || !to_ || !from_) throw std::runtime_error("cannot run " HOLDFAST_NODE);
  }
  Driver(const Driver&) = delete;
  Driver& operator=(const Driver&) = delete;
  ~Driver() {
    std::fclose(to_);  // which ends it
    std::fclose(from_);
    ::waitpid(child_, nullptr, 0);
  }

  /// What failed; empty when all is well.
  std::string ask(const nlohmann::json& question) {
    std::fputs((question.dump() + "\n").c_str(), to_);
    std::fflush(to_);
    std::string said;
    char buffer[4096];
    while (std::fgets(buffer, sizeof buffer, from_)) {
      const std::string line = buffer;
      if (line == "done 0\n") {
        std::fputs(said.c_str(), stdout);
        return "";
      }
      if (line == "done 1\n") return said + "(failed)";
      said += line;
    }
    return said + "(the driver ended)";
  }

 private:
  pid_t child_ = 0;
  std::FILE* to_ = nullptr;
  std::FILE* from_ = nullptr;
};

bool is_runnable(const char* program) { return *program && ::access(program, X_OK) == 0; }

class Browser : public testing::Test {
 protected:
  void SetUp() override {
    if (!is_runnable(HOLDFAST_CHROMIUM) || !is_runnable(HOLDFAST_NODE) || !fs::exists(HOLDFAST_NODE_MODULES))
      GTEST_SKIP() << "no browser to test with: the page is tested with chromium and node (cli/packages.sh)";
    if (!driver_) {
      fs::create_directories(folder());
      driver_ = std::make_unique<Driver>(folder());
    }
  }
  static void TearDownTestSuite() { driver_.reset(); }
  static fs::path folder() { return HOLDFAST_PICTURES; }

  static void expect_page(const std::string& name, const Picture& picture, const std::string& result = "{}") {
    const fs::path page = folder() / (name + ".html"), json = folder() / (name + ".json");
    std::ofstream(page, std::ios::binary) << html(picture);
    std::ofstream(json, std::ios::binary) << result;
    const auto failed = driver_->ask({{"name", name}, {"file", page}, {"result", json}});
    EXPECT_EQ(failed, "");
  }
  static std::string ask(const nlohmann::json& question) { return driver_->ask(question); }
  static void expect_sheet(const std::string& name, const Picture& picture) {
    const fs::path sheet = folder() / (name + ".svg");
    std::ofstream(sheet, std::ios::binary) << svg(picture).svg;
    EXPECT_EQ(driver_->ask({{"name", name}, {"file", sheet}, {"result", sheet}}), "");
  }

 private:
  static inline std::unique_ptr<Driver> driver_;
};

std::string bag_way() {
  auto& yard = demo_yard();
  return yard.json(yard.route("lock-hatch", "battery-bay", {"bulky-bag"}));
}
const route::RouteRequest to_batteries{.from = "lock-hatch", .to = "battery-bay"};

TEST_F(Browser, LoadsTheDemoYardWithoutAComplaint) { expect_page("loads-and-shows", demo_yard().picture({bag_way()})); }

TEST_F(Browser, HasTheRowsOfTheJson) {
  auto& yard = demo_yard();
  const auto document = yard.json(route::find_alternative_routes(yard.graph(), yard.profile(), to_batteries));
  expect_page("rows-match-the-json", yard.picture({document}), document);
}

TEST_F(Browser, PicksRowsInTheViewAndPointsInTheTable) {
  auto& yard = demo_yard();
  const auto document = yard.json(yard.route("lock-hatch", "battery-bay"));
  expect_page("picking-works-both-ways", yard.picture({document}), document);
}

TEST_F(Browser, MovesTheFigureAndItsLoadByTheClock) {
  const auto document = bag_way();
  expect_page("slider-moves-figure-and-load", demo_yard().picture({document}), document);
}

TEST_F(Browser, TurnsTheCameraByViewsKeysAndMouse) {
  expect_page("views-and-keys-turn-the-camera", demo_yard().picture({bag_way()}));
}

TEST_F(Browser, IsUsedByKeyboardAlone) { expect_page("keyboard-alone", demo_yard().picture({bag_way()})); }

TEST_F(Browser, TellsWaysApartWithoutColour) {
  auto& yard = demo_yard();
  expect_page(
      "several-ways-differ-without-colour",
      yard.picture({bag_way(), yard.json(route::find_alternative_routes(yard.graph(), yard.profile(), to_batteries)),
                    yard.json(yard.route("lock-hatch", "dish-service"))}));
}

TEST_F(Browser, ChartsAComparisonAndShowsWhyNot) {
  auto& yard = demo_yard();
  const auto document = yard.json(route::compare_loads(
      yard.graph(), yard.profile(), to_batteries,
      {{}, {yard.kit_.find_load("bulky-bag")}, {yard.kit_.find_load("long-bag")}, {yard.kit_.find_load("pole")}}));
  expect_page("comparison-charts-and-reasons", yard.picture({document}), document);
}

TEST_F(Browser, ChartsTradeOffsAndListsTheWayHome) {
  auto& yard = demo_yard();
  // There, more than one can be told apart.
  const route::RouteRequest to_radiator{.from = "lock-hatch", .to = "radiator-valve-forward"};
  const auto document = yard.json(route::find_trade_offs(yard.graph(), yard.profile(), to_radiator));
  const auto home = yard.json(route::compute_home(yard.graph(), yard.profile(), {.hatches = {"lock-hatch"}}));
  expect_page("trade-off-chart-and-home", yard.picture({document, home}), document);
}

TEST_F(Browser, ShowsLinesWithTiesAndBends) {
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

TEST_F(Browser, DrawsAHundredThousandGrips) {
  Drawn field(support::generated_yard(100'000));
  expect_page("hundred-thousand-grips", field.picture());
}

TEST_F(Browser, ShowsMarkupAsText) {
  auto structure = brick();
  structure.name = "<b>Yard</b>";
  structure.parts[0].name = "<img src=x onerror=\"window.pwned=3\">";
  structure.rails[0].id = "<i>rail</i>";
  structure.places[0].id = "</script><script>window.pwned=1</script>";
  structure.zones[0].id = "<iframe>";
  structure.zones[0].reason = "<img src=x onerror=\"window.pwned=2\">";
  expect_page("markup-is-text", Drawn(structure).picture());
}

TEST_F(Browser, PrintsOnWhitePaper) { expect_page("prints-on-white-paper", demo_yard().picture({bag_way()})); }

TEST_F(Browser, TakesTapsHoweverLateItDraws) {
  const auto document = bag_way();
  expect_page("late-drawing-drops-no-tap", demo_yard().picture({document}), document);
}

TEST_F(Browser, FitsTheRoutesFirstAndShowsItsKeys) {
  const auto document = bag_way();
  expect_page("shows-routes-first-and-keys", demo_yard().picture({document}), document);
}

TEST_F(Browser, HasTheTableATapAwayOnAPhone) {
  expect_page("table-is-a-tap-away-on-a-phone", demo_yard().picture({bag_way()}));
}

TEST_F(Browser, FitsATablet) { expect_page("fits-a-tablet", demo_yard().picture({bag_way()})); }

TEST_F(Browser, LaysNoTextOfTheSheetOverAnother) {
  auto& yard = demo_yard();
  expect_sheet(
      "sheet-texts-stand-apart",
      yard.picture({bag_way(), yard.json(route::find_alternative_routes(yard.graph(), yard.profile(), to_batteries)),
                    yard.json(yard.route("lock-hatch", "dish-service")),
                    yard.json(yard.route("lock-hatch", "outpost-panel"))}));
}

TEST_F(Browser, MovesBothCrewMembersOnOneClock) {
  const auto& trip = sample::busy_trip();
  expect_page("excursion-moves-by-its-bars", trip.picture(), trip.json);
}

TEST_F(Browser, PrintsCueCardsWithoutTearingAStep) {
  const auto& trip = sample::busy_trip();
  const fs::path cards = folder() / "cue-cards.html", json = folder() / "cue-cards.json";
  std::ofstream(cards, std::ios::binary) << cue_cards(trip.handout());
  std::ofstream(json, std::ios::binary) << trip.json;
  EXPECT_EQ(ask({{"name", "cue-cards-print-whole-steps"}, {"file", cards}, {"result", json}}), "");
}

TEST_F(Browser, LaysNoTextOfTheTimelineOverAnother) {
  for (const auto* trip : {&sample::busy_trip(), &sample::short_trip()}) {
    const fs::path sheet = folder() / "timeline.svg";
    std::ofstream(sheet, std::ios::binary) << timeline_sheet(trip->handout());
    EXPECT_EQ(ask({{"name", "timeline-texts-stand-apart"}, {"file", sheet}, {"result", sheet}}), "");
  }
}

TEST_F(Browser, SaysSoWithoutWebGl) { expect_page("says-so-without-webgl", demo_yard().picture({bag_way()})); }

// What is logic in the page's view, without a browser.
TEST(PageLogic, HoldsWithoutABrowser) {
  if (!is_runnable(HOLDFAST_NODE)) GTEST_SKIP() << "no node to test with: the logic of the page is tested with node";
  const auto ran = support::run_command(HOLDFAST_NODE,
                                        {std::string(HOLDFAST_BROWSER_SOURCES) + "/logic.js",
                                         std::string(HOLDFAST_SOURCE_DIR) + "/engine/picture/page", HOLDFAST_THREE},
                                        {fs::temp_directory_path()});
  EXPECT_EQ(ran.code, 0) << ran.out << ran.err;
}

}  // namespace
}  // namespace holdfast::picture
