// SPDX-License-Identifier: GPL-3.0-or-later
// The demo yard shows what its README promises, through the command.

#include <gtest/gtest.h>

#include <unistd.h>

#include <algorithm>
#include <fstream>
#include <set>
#include <sstream>

#include "run_command.h"
#include "schema_check.h"

namespace holdfast {
namespace {

const std::filesystem::path source = HOLDFAST_SOURCE_DIR;

support::Ran run(const std::string& args) {
  std::istringstream words(args);
  std::vector<std::string> arguments;
  for (std::string word; words >> word;) arguments.push_back(word);
  return support::run_command(HOLDFAST_COMMAND, arguments, {source});
}

nlohmann::json answer(const std::string& args) {
  return nlohmann::json::parse(run("route models/yard --json " + args).out);
}

TEST(DemoYard, QuickestShortestAndFewestMovesDiffer) {
  const auto time = answer("--from lock-hatch --to dish-service")["route"],
             distance = answer("--from lock-hatch --to dish-service --by distance")["route"],
             moves = answer("--from lock-hatch --to dish-service --by moves")["route"];
  EXPECT_LT(time["time_s"], distance["time_s"]);
  EXPECT_LT(time["time_s"], moves["time_s"]);
  EXPECT_LT(distance["distance_m"], time["distance_m"]);
  EXPECT_LT(distance["distance_m"], moves["distance_m"]);
  EXPECT_LT(moves["moves"], time["moves"]);
  EXPECT_LT(moves["moves"], distance["moves"]);
}

TEST(DemoYard, ShortWayClosesWhileTheDishTracks) {
  const auto parked = answer("--from lock-hatch --to spur-root")["route"],
             tracking = answer("--from lock-hatch --to spur-root --state dish=tracking")["route"];
  EXPECT_GT(tracking["time_s"].get<double>(), parked["time_s"].get<double>() + 30);
}

TEST(DemoYard, CornerAtTheSpurIsPassedOnlyByLeaning) {
  EXPECT_EQ(answer("--from lock-hatch --to beam-end")["outcome"], "route");
  const auto stiff = answer("--from lock-hatch --to beam-end --suit stiff");
  EXPECT_EQ(stiff["outcome"], "no-route");
  EXPECT_EQ(stiff["causes"][0]["kind"], "body-too-tight");
}

TEST(DemoYard, OutpostHasAWayOnlyWhileTheArmReaches) {
  EXPECT_EQ(answer("--from lock-hatch --to outpost-panel")["causes"][0]["kind"], "reach");
  EXPECT_EQ(answer("--from lock-hatch --to outpost-panel --state arm=reaching")["outcome"], "route");
}

TEST(DemoYard, NarrowWayBetweenTheTanksFitsTheSuitAndAWiderOneGoesRound) {
  const std::string through = "--from stores-line-b-5 --to stores-line-d-5 --via tank-valves";
  const auto standard = answer(through)["route"], large = answer(through + " --suit large")["route"];
  EXPECT_EQ(standard["clearance"]["part"].get<std::string>().substr(0, 5), "tank-");
  EXPECT_LT(standard["clearance"]["m"].get<double>(), 0.575);
  EXPECT_GT(large["time_s"].get<double>(), standard["time_s"].get<double>() + 20);
}

TEST(DemoYard, NarrowWayBetweenTheTanksFitsTheBagInTowButNotTheSpoolAtTheSide) {
  const std::string through = "--from stores-line-b-5 --to stores-line-d-5 --via tank-valves";
  EXPECT_EQ(answer(through + " --load bulky-bag")["outcome"], "route");
  const auto spool = answer(through + " --load cable-spool");
  ASSERT_EQ(spool["outcome"], "no-route");
  EXPECT_EQ(spool["causes"][0]["kind"], "load-too-tight");
  EXPECT_GT(spool["causes"][0]["fraction"].get<double>(), 0.2) << "a smaller one would pass";
}

TEST(DemoYard, ThePoleGoesStraightButCannotTurnOntoTheSpur) {
  EXPECT_EQ(answer("--from spur-root --to battery-bay --load pole")["outcome"], "route");
  const auto turned = answer("--from hub-top --to battery-bay --load pole");
  ASSERT_EQ(turned["outcome"], "no-route");
  EXPECT_EQ(turned["causes"][0]["kind"], "load-too-tight");
  EXPECT_LT(turned["causes"][0]["value_m"].get<double>(), 2.5);
}

TEST(DemoYard, LoadsAreSlowerAndTheWayWithTheBagIsToldApart) {
  const auto compared = nlohmann::json::parse(
      run("compare models/yard --json --from lock-hatch --to battery-bay --load none --load long-bag --load crate")
          .out);
  const auto& rows = compared["rows"];
  ASSERT_EQ(rows.size(), 3u);
  EXPECT_EQ(rows[1]["not_as_first"]["kind"], "load-too-tight") << "the bag does not pass on the way chosen without it";
  EXPECT_EQ(rows[1]["goes_as_first"], false);
  EXPECT_EQ(rows[2]["goes_as_first"], true) << "the crate is shorter";
  for (const auto& row : {rows[1], rows[2]}) EXPECT_GT(row["route"]["time_s"], rows[0]["route"]["time_s"]);
}

TEST(DemoYard, HasAlternativesThatAreNamedByWhereTheyGo) {
  const auto choices = answer("--from lock-hatch --to dish-service --alternatives 3");
  ASSERT_GE(choices["ways"].size(), 2u);
  std::set<std::string> names;
  for (const auto& way : choices["ways"]) names.insert(way["name"].get<std::string>());
  EXPECT_EQ(names.size(), choices["ways"].size());
  EXPECT_LE(choices["ways"][1]["stretch"], 1.3);
}

TEST(DemoYard, TradesMovesAndCautionForTime) {
  const auto set = answer("--from lock-hatch --to radiator-valve-forward --trade-offs");
  EXPECT_EQ(set["complete"], true);
  ASSERT_GE(set["ways"].size(), 2u) << "of five, three differ by less than a planner can tell";
  EXPECT_LT(set["ways"][1]["caution_s"], set["ways"][0]["caution_s"]);
}

TEST(DemoYard, HangsPlacesOnSingleRails) {
  const auto weak =
      nlohmann::json::parse(run("check models/yard --lose --json --from lock-hatch --to battery-bay").out);
  std::set<std::string> rails;
  for (const auto& rail : weak["rails"]) rails.insert(rail["rail"]);
  EXPECT_TRUE(rails.count("mast-aft-1")) << "the only way up the mast";
  EXPECT_FALSE(weak["closing"].empty());
}

TEST(DemoYard, IsHomeWithinTheLimitFromEverywhereThatTheHatchReaches) {
  const auto reaching = run("home models/yard --state arm=reaching");
  EXPECT_EQ(reaching.code, 0) << reaching.out;
  EXPECT_NE(reaching.out.find("Every place is back inside within 0:30:00."), std::string::npos);
  const auto stowed = nlohmann::json::parse(run("home models/yard --json").out);
  EXPECT_EQ(stowed["places"][0]["place"], "outpost-panel") << "the worst first";
  EXPECT_EQ(stowed["places"][0]["verdict"], "no-way");
  EXPECT_EQ(stowed["places"][1]["verdict"], "within");
  const auto strict = run("home models/yard --state arm=reaching --limit 3");
  EXPECT_EQ(strict.code, 1);
  EXPECT_NE(strict.out.find("TOO FAR"), std::string::npos);
  EXPECT_NE(strict.out.find("NOT every place is back inside within 0:03:00"), std::string::npos);
  EXPECT_EQ(run("home models/yard --limit soon").code, 2);
}

TEST(DemoYard, WithACrewMemberEveryPlaceThatRailsLeadToHasATime) {
  const auto home = nlohmann::json::parse(run("home models/yard --load crew-member --json").out);
  for (const auto& place : home["places"]) {
    SCOPED_TRACE(place["place"]);
    if (place["place"] != "outpost-panel") {
      EXPECT_FALSE(place["time_s"].is_null());
      continue;
    }
    EXPECT_TRUE(place["time_s"].is_null());
    EXPECT_EQ(place["causes"][0]["kind"], "reach");
    EXPECT_EQ(place["certain"], true);
  }
  const auto dish = answer("--from dish-service --to lock-hatch --load crew-member");
  for (const auto& place : home["places"])
    if (place["place"] == "dish-service") EXPECT_EQ(place["time_s"], dish["route"]["time_s"]);
}

TEST(DemoYard, RouteMatrixAndHomeGiveOneTimeForOneTrip) {
  const auto matrix = nlohmann::json::parse(run("matrix models/yard --json").out);
  const auto home = nlohmann::json::parse(run("home models/yard --json").out);
  const auto index = [&](const std::string& id) {
    return static_cast<std::size_t>(std::find(matrix["places"].begin(), matrix["places"].end(), id) -
                                    matrix["places"].begin());
  };
  const auto hatch = index("lock-hatch");
  for (const char* from : {"radiator-valve-forward", "tank-valves", "battery-bay"}) {
    SCOPED_TRACE(from);
    const auto route = answer(std::string("--from ") + from + " --to lock-hatch");
    EXPECT_EQ(matrix["time_s"][index(from)][hatch], route["route"]["time_s"]);
    for (const auto& place : home["places"])
      if (place["place"] == from) {
        EXPECT_EQ(place["time_s"], route["route"]["time_s"]);
        EXPECT_GE(place["most_s"], place["time_s"]);
      }
  }
  for (std::size_t i = 0; i < matrix["places"].size(); ++i)
    EXPECT_EQ(matrix["time_s"][i][i], 0) << "staying costs nothing";
}

TEST(DemoYard, TellsTheWayHomeFromEachWaypoint) {
  const auto file = std::filesystem::temp_directory_path() / ("holdfast-along-" + std::to_string(::getpid()) + ".json");
  std::ofstream(file) << run("route models/yard --from lock-hatch --to tank-valves --json").out;
  const auto ran = run("home models/yard --along " + file.string() + " --to lock-hatch --to port-end --json");
  EXPECT_EQ(ran.code, 0);
  const auto along = nlohmann::json::parse(ran.out);
  EXPECT_EQ(along["outcome"], "home-along");
  EXPECT_EQ(along["waypoints"][0]["time_s"], 0) << "it starts at the hatch";
  double most_s = 0;
  for (const auto& point : along["waypoints"]) most_s = std::max<double>(most_s, point["most_s"]);
  EXPECT_EQ(along["waypoints"][along["worst"].get<std::size_t>()]["most_s"], most_s);
  std::ofstream(file) << ran.out;
  EXPECT_EQ(run("draw models/yard " + file.string() + " --html " + file.string() + ".html").code, 2)
      << "a table of times is no way";
  std::filesystem::remove(file);
}

TEST(DemoYard, MatrixIsASquareThatASpreadsheetOpens) {
  const auto csv = std::filesystem::temp_directory_path() / ("holdfast-matrix-" + std::to_string(::getpid()) + ".csv");
  const auto matrix = nlohmann::json::parse(run("matrix models/yard --json --csv " + csv.string()).out);
  const auto n = matrix["places"].size();
  EXPECT_EQ(matrix["time_s"].size(), n);
  std::ifstream in(csv);
  std::string line;
  std::size_t lines = 0;
  while (std::getline(in, line)) {
    ++lines;
    EXPECT_EQ(static_cast<std::size_t>(std::count(line.begin(), line.end(), ',')), n + 1) << line;
  }
  EXPECT_EQ(lines, 3 * n + 1) << "a header, then time, distance and moves";
  std::filesystem::remove(csv);
  // The quickest way there is the quickest way back.
  for (std::size_t from = 0; from < n; ++from)
    for (std::size_t to = 0; to < n; ++to) EXPECT_EQ(matrix["time_s"][from][to], matrix["time_s"][to][from]);
}

TEST(DemoYard, TwoWaysRoundADrum) {
  const auto first = answer("--from stores-line-c-1 --to stores-line-c-5 --by distance");
  std::string rail = "";
  for (const auto& row : first["route"]["legs"][0]["rows"])
    if (row["rail"].get<std::string>().find("ring") != std::string::npos) rail = row["rail"];
  ASSERT_NE(rail, "");
  const auto other = answer("--from stores-line-c-1 --to stores-line-c-5 --by distance --close " + rail);
  EXPECT_EQ(other["outcome"], "route");
}

TEST(DemoYard, AnswersAreValidAgainstThePublishedSchema) {
  for (const char* args : {"--from lock-hatch --to beam-end", "--from lock-hatch --to outpost-panel",
                           "--from lock-hatch --to hub-top --via locker mast-foot"})
    EXPECT_EQ(support::schema_faults("result", answer(args)), "") << args;
}

TEST(DemoYard, CablesAreLongEnoughShortOrBendTheLongWay) {
  const auto cable = [](const std::string& args) {
    return nlohmann::json::parse(run("cable models/yard --no-cache --json " + args).out);
  };
  EXPECT_EQ(cable("--cable power-long")["outcome"], "long-enough");
  const auto short_one = cable("--cable data-short");
  EXPECT_EQ(short_one["outcome"], "too-short");
  EXPECT_FALSE(short_one["reaches"]["serves"].empty());
  const auto thin = cable("--cable power-short --from rack-plug --to battery-plug"), thick = cable("--cable trunk");
  EXPECT_GT(thick["required_m"].get<double>(), 3 * thin["required_m"].get<double>());
  EXPECT_FALSE(thick["own_crossings"].empty());
  EXPECT_TRUE(thin["own_crossings"].empty());
  EXPECT_EQ(thick["laying"]["loads"], nlohmann::json::parse(R"(["cable-spool"])"));
}

}  // namespace
}  // namespace holdfast
