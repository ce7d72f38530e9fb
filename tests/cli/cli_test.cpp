// The command as a user runs it: whole messages, exit codes, the same bytes everywhere.

#include <gtest/gtest.h>
#include <sys/wait.h>
#include <unistd.h>

#include <cstdio>
#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <sstream>

#include "schema_check.h"

namespace holdfast {
namespace {

namespace fs = std::filesystem;
const std::string source = HOLDFAST_SOURCE_DIR;

struct Result {
  int code = -1;
  std::string out, err;
};

/// Runs `holdfast ARGS` in the source folder, with `environment` before it.
Result run(const std::string& args, const std::string& environment = "") {
  const auto err_path = fs::temp_directory_path() / ("holdfast-cli-" + std::to_string(getpid()));
  const std::string command =
      "cd '" + source + "' && " + environment + " '" HOLDFAST_COMMAND "' " + args + " 2>'" + err_path.string() + "'";
  Result result;
  FILE* pipe = popen(command.c_str(), "r");
  char buffer[4096];
  for (std::size_t n; (n = fread(buffer, 1, sizeof buffer, pipe)) > 0;) result.out.append(buffer, n);
  const int status = pclose(pipe);
  result.code = WIFEXITED(status) ? WEXITSTATUS(status) : -1;
  std::ifstream in(err_path);
  std::ostringstream err;
  err << in.rdbuf();
  result.err = err.str();
  fs::remove(err_path);
  return result;
}

const std::string tiny = "tests/cli/models/tiny";

TEST(Cli, RouteFoundExitsZero) {
  const auto result = run("route " + tiny + " --from hatch --to panel");
  EXPECT_EQ(result.code, 0);
  EXPECT_EQ(result.err, "");
  EXPECT_EQ(result.out.substr(0, result.out.find('\n')), "Tiny yard: hatch -> panel");
  EXPECT_NE(result.out.find(" hand moves over "), std::string::npos);
}

TEST(Cli, NoRouteExitsOneWithTheExplanation) {
  const auto result = run("route " + tiny + " --from hatch --to panel --state gate=shut");
  EXPECT_EQ(result.code, 1);
  EXPECT_EQ(result.err, "");
  EXPECT_NE(result.out.find("No route. Why not:\n"
                            "  1. A forbidding zone is in the way: shutter (closing shutter), first met on rail west "
                            "(1.71, 0.00, -0.07). Without this\n"
                            "     alone there is a way of 0:00:32.\n"),
            std::string::npos)
      << result.out;
  EXPECT_EQ(run("route " + tiny + " --from hatch --to nowhere").code, 1);
}

TEST(Cli, ClosedRailExitsOne) {
  const auto result = run("route " + tiny + " --from hatch --to panel --close east");
  EXPECT_EQ(result.code, 1);
  EXPECT_NE(result.out.find("has grips on closed rails only: east"), std::string::npos);
}

TEST(Cli, UnknownPlaceExitsTwoWithTheNearestNames) {
  const auto result = run("route " + tiny + " --from hatsh --to panel");
  EXPECT_EQ(result.code, 2);
  EXPECT_EQ(result.out, "");
  EXPECT_EQ(result.err,
            "place \"hatsh\" is not in this model\n    did you mean hatch? A place may also be a rail id or x,y,z in "
            "metres\n");
}

TEST(Cli, UnknownSuitSwitchAndRailExitTwo) {
  EXPECT_EQ(run("route " + tiny + " --from hatch --to panel --suit big").err,
            "suit \"big\" is not in the kit\n    its suits: suit\n");
  EXPECT_EQ(run("route " + tiny + " --from hatch --to panel --state gate=ajar").err,
            "switch \"gate\" has no position \"ajar\"\n    its positions: open, shut\n");
  EXPECT_EQ(run("route " + tiny + " --from hatch --to panel --close wets").err,
            "rail \"wets\" is not in this model\n    did you mean west, east?\n");
  EXPECT_EQ(run("route " + tiny + " --from hatch --to panel --suit big").code, 2);
}

TEST(Cli, UsageErrorsExitTwoInOneSentence) {
  EXPECT_EQ(run("route " + tiny + " --from hatch").err, "--to is required\n    see holdfast route --help\n");
  EXPECT_EQ(run("route " + tiny + " --from hatch").code, 2);
  EXPECT_EQ(run("").code, 2);
  EXPECT_EQ(run("fly").code, 2);
  EXPECT_EQ(run("route " + tiny + " --from hatch --to panel --by luck").code, 2);
  EXPECT_EQ(run("route " + tiny + " --from hatch --to panel --threads -1").code, 2);
  EXPECT_EQ(run("route nowhere --from a --to b").err,
            "nowhere: this is not a folder\n    name a model folder: it holds structure.yaml and kit.yaml\n");
}

TEST(Cli, JsonErrorsAreJson) {
  const auto result = run("route " + tiny + " --from hatsh --to panel --json");
  EXPECT_EQ(result.code, 2);
  EXPECT_EQ(result.err, "");
  const auto document = nlohmann::json::parse(result.out);
  EXPECT_EQ(document["holdfast"], "errors/1");
  EXPECT_EQ(document["errors"][0]["code"], "unknown-place");
  EXPECT_EQ(nlohmann::json::parse(run("route --json").out)["errors"][0]["code"], "usage");
}

TEST(Cli, ResultsAreValidAgainstThePublishedSchema) {
  for (const char* args : {"route models/yard --from lock-hatch --to beam-end --json",
                           "route models/yard --from lock-hatch --to outpost-panel --json", "check models/yard --json",
                           "route models/yard --from lock-hatch --to hub-top --via locker mast-foot --json"}) {
    SCOPED_TRACE(args);
    EXPECT_EQ(support::schema_faults("result", nlohmann::json::parse(run(args).out)), "");
  }
}

TEST(Cli, SameBytesOnAnyThreadsLocaleAndTimeZone) {
  for (const std::string args :
       {"route models/yard --from lock-hatch --to beam-end",
        "route models/yard --from lock-hatch --to outpost-panel --json", "check models/yard --json"}) {
    SCOPED_TRACE(args);
    const auto first = run(args + " --threads 1");
    EXPECT_EQ(run(args + " --threads 2").out, first.out);
    EXPECT_EQ(run(args, "LC_ALL=de_DE.UTF-8 LANG=de_DE.UTF-8 TZ=Asia/Tokyo").out, first.out);
    EXPECT_FALSE(first.out.empty());
  }
}

TEST(Cli, CsvIsWrittenWholeBesideTheText) {
  const auto path = fs::temp_directory_path() / ("holdfast-cli-" + std::to_string(getpid()) + ".csv");
  EXPECT_EQ(run("route " + tiny + " --from hatch --to panel --csv " + path.string()).code, 0);
  std::ifstream in(path);
  std::string header;
  std::getline(in, header);
  EXPECT_EQ(header.substr(0, 23), "leg,row,kind,what,part,");
  fs::remove(path);
  const auto refused = run("route " + tiny + " --from hatch --to panel --csv /nowhere/x.csv");
  EXPECT_EQ(refused.code, 2);
  EXPECT_EQ(refused.out, "") << "nothing is printed as if all were well";
  EXPECT_NE(refused.err.find("cannot be written: No such file or directory"), std::string::npos);
}

TEST(Cli, CheckExitsOneOnErrorsAndZeroOnWarnings) {
  EXPECT_EQ(run("check " + tiny).code, 1) << "a place without a grip";
  EXPECT_NE(
      run("check " + tiny)
          .out.find(
              "Errors (1):\n  place nowhere: no grip within 0.50 m; the nearest is 6.01 m away, on rail lonely\n"),
      std::string::npos)
      << run("check " + tiny).out;
  EXPECT_EQ(run("check models/yard").code, 0);
}

TEST(Cli, HelpShowsTwoWorkedExamplesThatWork) {
  for (const std::string verb : {"route", "check"}) {
    const auto help = run(verb + " --help");
    EXPECT_EQ(help.code, 0);
    std::istringstream lines(help.out);
    int examples = 0;
    for (std::string line; std::getline(lines, line);)
      if (line.rfind("  holdfast " + verb + " ", 0) == 0) {
        ++examples;
        std::string args = line.substr(std::string("  holdfast ").size());
        if (const auto csv = args.find(" --csv"); csv != std::string::npos) args = args.substr(0, csv);
        EXPECT_EQ(run(args).code, 0) << line;
      }
    EXPECT_EQ(examples, 2);
  }
  EXPECT_EQ(run("--version").code, 0);
}

TEST(Cli, BadModelsOfEveryKindExitTwoAndNeverCrash) {
  const auto folder = fs::temp_directory_path() / ("holdfast-models-" + std::to_string(getpid()));
  fs::create_directories(folder);
  const auto with = [&](const std::string& structure) {
    std::ofstream(folder / "structure.yaml", std::ios::binary) << structure;
    std::ofstream(folder / "kit.yaml") << "holdfast: kit/1\n";
    const auto result = run("check " + folder.string());
    EXPECT_EQ(result.out, "");
    EXPECT_NE(result.err, "");
    return result.code;
  };
  EXPECT_EQ(with(""), 2);
  EXPECT_EQ(with(std::string(1000, '\0')), 2);
  EXPECT_EQ(with("holdfast: structure/1\nparts: [{id: m, shape: {mesh: {file: no.obj}}}]\n"), 2);
  std::ofstream(folder / "zero.obj") << "v 0 0 0\n";
  EXPECT_EQ(with("holdfast: structure/1\nparts: [{id: m, shape: {mesh: {file: zero.obj}}}]\n"), 2);
  const std::string sunk =
      "holdfast: structure/1\n"
      "parts: [{id: deck, shape: {box: {size: [4, 4, 1]}}}]\n"
      "rails: [{id: sunk, part: deck, points: [[0, 0, 0.1], [0.3, 0, 0.1]]}]\n";
  EXPECT_EQ((std::ofstream(folder / "structure.yaml") << sunk, run("check " + folder.string()).code), 1);
  const auto refused = run("route " + folder.string() + " --from sunk --to sunk");
  EXPECT_EQ(refused.code, 2);
  EXPECT_EQ(
      refused.err,
      folder.string() +
          "/structure.yaml:3:9: rail \"sunk\": 3 of its hand positions lie inside part \"deck\", the first at (0.00, "
          "0.00, 0.10)\n"
          "    move it off the part, leave that copy out with `skip:`, or say with `when:` where it is not there\n");
  fs::remove_all(folder);
}

// ---- the demo yard shows what it promises
// ---------------------------------------------------------------------------------

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

TEST(DemoYard, TwoWaysRoundADrum) {
  const auto first = answer("--from stores-line-c-1 --to stores-line-c-5 --by distance");
  std::string rail = "";
  for (const auto& row : first["route"]["legs"][0]["rows"])
    if (row["rail"].get<std::string>().find("ring") != std::string::npos) rail = row["rail"];
  ASSERT_NE(rail, "");
  const auto other = answer("--from stores-line-c-1 --to stores-line-c-5 --by distance --close " + rail);
  EXPECT_EQ(other["outcome"], "route");
}

}  // namespace
}  // namespace holdfast
