// SPDX-License-Identifier: GPL-3.0-or-later
// The command itself, on small models: whole messages, exit codes, the same bytes whatever the surroundings.

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <cmath>
#include <filesystem>
#include <fstream>
#include <map>
#include <regex>

#include "run_command.h"
#include "schema_check.h"

namespace holdfast {
namespace {

namespace fs = std::filesystem;
using nlohmann::json;
using support::Ran;
using support::RunIn;
using testing::HasSubstr;
using testing::StartsWith;

const fs::path source = HOLDFAST_SOURCE_DIR;
const fs::path models = source / "tests/cli/models";

using Words = std::vector<std::string>;

Ran holdfast(const Words& arguments, const RunIn& in = {models}) {
  return support::run_command(HOLDFAST_COMMAND, arguments, in);
}

Ran route(Words more, const RunIn& in = {models}) {
  Words words = {"route", "deck", "--from", "hatch", "--to", "bench"};
  words.insert(words.end(), more.begin(), more.end());
  return holdfast(words, in);
}

/// Expects a refusal of the command line or the model: this text on standard error, nothing on standard output.
void expect_refused(const Words& arguments, const std::string& message, const RunIn& in = {models}) {
  SCOPED_TRACE(testing::PrintToString(arguments));
  const auto ran = holdfast(arguments, in);
  EXPECT_EQ(ran.code, 2);
  EXPECT_EQ(ran.err, message);
  EXPECT_EQ(ran.out, "");
  // The same question with --json: the same words as JSON on standard output, nothing on standard error.
  Words as_json = arguments;
  as_json.push_back("--json");
  const auto again = holdfast(as_json, in);
  EXPECT_EQ(again.code, 2);
  EXPECT_EQ(again.err, "");
  const auto document = json::parse(again.out);
  EXPECT_EQ(support::schema_faults("errors", document), "");
  for (const auto& error : document["errors"]) {
    EXPECT_THAT(message, HasSubstr(error["problem"].get<std::string>()));
    EXPECT_THAT(message, HasSubstr(error["remedy"].get<std::string>()));
  }
}

/// A model folder with two faults, made here: what is under tests/ is held to be sound.
class FaultyModel {
 public:
  FaultyModel() : folder_(fs::temp_directory_path() / ("holdfast-faulty-" + std::to_string(::getpid()))) {
    fs::create_directories(folder_ / "faulty");
    fs::copy_file(models / "deck/kit.yaml", folder_ / "faulty/kit.yaml", fs::copy_options::overwrite_existing);
    std::ofstream(folder_ / "faulty/structure.yaml")
        << "holdfast: structure/1\n"
           "name: Faulty\n"
           "parts:\n"
           "  - {id: deck, shape: {box: {center: [0, 0, 0.5], size: [4, 4, 1]}}, colour: red}\n"
           "rails:\n"
           "  - {id: west, part: dek, points: [[0, 0, -0.07], [2, 0, -0.07]]}\n";
  }
  FaultyModel(const FaultyModel&) = delete;
  FaultyModel& operator=(const FaultyModel&) = delete;
  ~FaultyModel() { fs::remove_all(folder_); }
  [[nodiscard]] RunIn beside() const { return {folder_}; }

 private:
  fs::path folder_;
};

std::string expected(const std::string& file) {
  std::string text = support::contents_of(source / "tests/cli/expected" / file);
  const std::string version = "@VERSION@";
  if (const auto at = text.find(version); at != std::string::npos) text.replace(at, version.size(), HOLDFAST_VERSION);
  return text;
}

// ---- answers ------------------------------------------------------------------------------------------------------

TEST(CommandRoute, AnswersWithAPageAndExitCode0) {
  const auto ran = route({});
  EXPECT_EQ(ran.code, 0);
  EXPECT_EQ(ran.err, "");
  EXPECT_EQ(ran.out, expected("route.txt"));
}

TEST(CommandRoute, ExplainsWhyNotAndExits1) {
  const auto ran = route({"--state", "beam=on"});
  EXPECT_EQ(ran.code, 1);
  EXPECT_EQ(ran.err, "");
  EXPECT_EQ(ran.out, expected("no-route.txt"));
  EXPECT_EQ(holdfast({"route", "deck", "--from", "hatch", "--to", "outpost"}).code, 1);
  EXPECT_EQ(route({"--close", "east"}).code, 1);
}

TEST(CommandRoute, TakesPlacesRailsAndPoints) {
  const auto of = [](const std::string& from, const std::string& to) {
    const auto ran = holdfast({"route", "deck", "--from", from, "--to", to, "--json"});
    EXPECT_EQ(ran.code, 0) << ran.out;
    return json::parse(ran.out)["route"]["distance_m"].get<double>();
  };
  EXPECT_NEAR(of("hatch", "bench"), 4, 1e-6);
  EXPECT_NEAR(of("hatch", "east"), 2.5, 1e-6);          // the nearest grip of the rail
  EXPECT_NEAR(of("hatch", "4.75,0,-0.07"), 3.95, 0.1);  // from 0.8 m off on
  EXPECT_NEAR(of("-0.75, 0, -0.07", "hatch"), 0, 1e-6);
}

TEST(CommandRoute, PassesTheViaPlacesInOrder) {
  const auto ran =
      holdfast({"route", "deck", "--from", "bench", "--via", "hatch", "--via", "east", "--to", "hatch", "--json"});
  ASSERT_EQ(ran.code, 0) << ran.out << ran.err;
  const auto legs = json::parse(ran.out)["route"]["legs"];
  ASSERT_EQ(legs.size(), 3u);
  EXPECT_EQ(legs[0]["to"], "hatch");
  EXPECT_EQ(legs[1]["to"], "east");
  EXPECT_NEAR(legs[1]["distance_m"].get<double>(), 2.5, 1e-6);
}

TEST(CommandRoute, GoesByTheSuitAndTheAimThatAreAsked) {
  const auto far = [](const Words& more) {
    Words words = {"route", "deck", "--from", "hatch", "--to", "outpost", "--suit", "long-arm", "--json"};
    words.insert(words.end(), more.begin(), more.end());
    const auto ran = holdfast(words);
    EXPECT_EQ(ran.code, 0);
    return json::parse(ran.out);
  };
  // A reach of 2.1 m over rails of 2, 1.5 and 2 m with gaps of 0.5 and 2 m: 8 m in four hand moves.
  EXPECT_EQ(far({"--by", "moves"})["route"]["moves"], 4);
  EXPECT_EQ(far({"--by", "distance"})["request"]["by"], "distance");
  EXPECT_NEAR(far({"--by", "distance"})["route"]["distance_m"].get<double>(), 8, 1e-6);
}

TEST(CommandRoute, WritesTheTableToAFileAsWell) {
  const fs::path file = fs::temp_directory_path() / ("holdfast-cli-" + std::to_string(::getpid()) + ".csv");
  const auto ran = route({"--csv", file.string()});
  EXPECT_EQ(ran.code, 0);
  EXPECT_EQ(ran.out, expected("route.txt"));
  EXPECT_THAT(support::contents_of(file), StartsWith("leg,row,kind,what,part,"));
  fs::remove(file);
}

TEST(CommandRoute, AddsFeetAndCoordinatesToTheTextWhenAsked) {
  EXPECT_THAT(route({"--units", "imperial"}).out, HasSubstr("0:00:32 in 8 hand moves over 4.00 m (13 ft 2 in).\n"));
  EXPECT_THAT(route({"--coordinates"}).out, HasSubstr("\n       hand at (4.00, 0.00, -0.07)\n"));
}

TEST(CommandCheck, Exits0OnWarningsAnd1OnErrors) {
  const auto warned = holdfast({"check", "deck"});
  EXPECT_EQ(warned.code, 0);
  EXPECT_EQ(warned.out, expected("check.txt"));
  const auto failed = holdfast({"check", "sunken"});
  EXPECT_EQ(failed.code, 1);
  EXPECT_THAT(failed.out,
              HasSubstr("\nErrors (1)\n\n  Rails inside solids\n    sunken/structure.yaml:7:5: rail sunken: "));
}

/// The ids between "rail " and ":" or " " in lines that have `words`.
std::vector<std::string> rails_in(const std::string& text, const std::string& words) {
  std::vector<std::string> ids;
  std::string joined = std::regex_replace(text, std::regex("\n +"), " ");
  const std::regex rail("rail ([a-z0-9-]+)[^\n]*?" + words);
  for (auto at = std::sregex_iterator(joined.begin(), joined.end(), rail); at != std::sregex_iterator(); ++at)
    ids.push_back((*at)[1]);
  std::sort(ids.begin(), ids.end());
  return ids;
}

TEST(RailsThatRunIntoSolids, AreErrorsOfCheckAndSetAsideByEveryOtherQuestion) {
  const std::vector<std::string> bad = {"line-3", "post", "sunk"};
  const auto checked = holdfast({"check", "aside"});
  EXPECT_EQ(checked.code, 1);
  EXPECT_THAT(checked.out, HasSubstr("\nErrors (3)\n"));
  EXPECT_EQ(rails_in(checked.out, "so no answer uses it"), bad);
  const std::map<std::string, std::string> remedies = {
      {"line-3", "move it off the part, or leave that copy out with `skip: [3]`"},
      {"post", "move it off the part, or say with `when:` in which configurations it is there"},
      {"sunk", "correct its points in aside/rails.csv, or take that row out"}};
  const Words ends = {"--from", "hatch", "--to", "panel"};
  for (Words words : {Words{"route", "aside"}, Words{"route", "aside", "--alternatives", "2"},
                      Words{"route", "aside", "--trade-offs"}, Words{"compare", "aside", "--close", "line-2"},
                      Words{"home", "aside"}, Words{"matrix", "aside"}, Words{"check", "aside", "--lose"}}) {
    SCOPED_TRACE(testing::PrintToString(words));
    if (words[0] == "compare" || words[0] == "route") words.insert(words.end(), ends.begin(), ends.end());
    if (words[0] == "compare")
      words.resize(2), words.insert(words.end(), {"--from", "hatch", "--to", "panel", "--load", "none"});
    if (words[0] == "home") words.insert(words.end(), {"--to", "hatch"});
    const auto ran = holdfast(words);
    EXPECT_LE(ran.code, 1) << ran.err;
    EXPECT_EQ(rails_in(ran.out, "so no answer uses it"), bad) << ran.out;
    words.push_back("--json");
    const auto document = json::parse(holdfast(words).out);
    EXPECT_EQ(support::schema_faults("result", document), "");
    std::vector<std::string> ids;
    for (const auto& entry : document["model"]["set_aside"]) {
      ids.push_back(entry["rail"]);
      EXPECT_THAT(entry["sentence"].get<std::string>(), HasSubstr(remedies.at(entry["rail"])));
    }
    std::sort(ids.begin(), ids.end());
    EXPECT_EQ(ids, bad);
  }
  const auto way = json::parse(holdfast({"route", "aside", "--from", "hatch", "--to", "panel", "--json"}).out);
  EXPECT_EQ(way["outcome"], "route") << "sound rails serve all the same";
  const auto beyond = json::parse(holdfast({"route", "aside", "--from", "hatch", "--to", "beyond", "--json"}).out);
  EXPECT_EQ(beyond["outcome"], "no-route") << "nobody is sent over the bad one";
  expect_refused({"route", "aside", "--from", "hatch", "--to", "sunk"},
                 "aside/rails.csv:2:1: rail \"sunk\" takes no hand, hook or tie\n"
                 "    name another; `holdfast check` says whether it is set aside because it runs into a part\n");
}

TEST(CommandCheck, NamesColumnsThatAreNotRead) {
  const support::Scratch scratch("columns", source);
  fs::copy(models / "aside", scratch.folder() / "aside");
  std::ofstream(scratch.folder() / "aside/rails.csv")
      << "Id;Part;Owner;x1;y1;z1;x2;y2;z2\nok;deck;me;0;5;-0,07;1;5;-0,07\n";
  const auto ran = holdfast({"check", "aside"}, {scratch.folder()});
  EXPECT_THAT(ran.out, HasSubstr("\n  Columns of tables\n    aside/rails.csv:1:1: column \"Owner\" is not read\n"));
  const auto document = json::parse(holdfast({"check", "aside", "--json"}, {scratch.folder()}).out);
  EXPECT_EQ(support::schema_faults("result", document), "");
}

TEST(CommandDraw, RefusesResultsOfAnotherGeometryInABufferFile) {
  const support::Scratch scratch("buffer", source);
  fs::copy(models / "aside", scratch.folder() / "aside");
  auto structure = support::contents_of(models / "aside/structure.yaml");
  structure.replace(structure.find("plate.obj"), 9, "plate.gltf");
  std::ofstream(scratch.folder() / "aside/structure.yaml") << structure;
  std::ofstream(scratch.folder() / "aside/plate.gltf")
      << R"({"asset":{"version":"2.0"},"scene":0,"scenes":[{"nodes":[0]}],"nodes":[{"mesh":0}],
  "meshes":[{"primitives":[{"attributes":{"POSITION":0}}]}],"buffers":[{"byteLength":36,"uri":"plate.bin"}],
  "accessors":[{"bufferView":0,"componentType":5126,"count":3,"type":"VEC3"}],"bufferViews":[{"buffer":0,"byteLength":36}]})";
  std::vector<float> corners = {4.5f, 9, -2, 5.5f, 9, -2, 5, 9, -3};
  const auto put = [&] {
    std::ofstream(scratch.folder() / "aside/plate.bin", std::ios::binary)
        .write(reinterpret_cast<const char*>(corners.data()), 36);
  };
  put();
  const RunIn in = {scratch.folder()};
  const auto way = holdfast({"route", "aside", "--from", "hatch", "--to", "panel", "--json"}, in);
  ASSERT_EQ(way.code, 0) << way.err;
  std::ofstream(scratch.folder() / "way.json") << way.out;
  EXPECT_EQ(holdfast({"draw", "aside", "way.json", "--html", "a.html"}, in).code, 0);
  corners[1] = 0;
  put();
  const auto refused = holdfast({"draw", "aside", "way.json", "--html", "b.html"}, in);
  EXPECT_EQ(refused.code, 2);
  EXPECT_THAT(refused.err, StartsWith("way.json: it was computed from another structure: its digest is "));
}

TEST(CommandCheck, LooksAtTheConfigurationThatIsSet) {
  EXPECT_THAT(holdfast({"check", "deck", "--state", "beam=on"}).out, HasSubstr("\n  suit standard; beam=on\n"));
}

TEST(Command, PrintsJsonThatKeepsItsSchema) {
  for (const Words& arguments : {Words{"route", "deck", "--from", "hatch", "--to", "bench"},
                                 Words{"route", "deck", "--from", "hatch", "--to", "outpost"}, Words{"check", "deck"},
                                 Words{"check", "sunken"}}) {
    SCOPED_TRACE(testing::PrintToString(arguments));
    Words as_json = arguments;
    as_json.push_back("--json");
    const auto text = holdfast(arguments), document = holdfast(as_json);
    EXPECT_EQ(document.code, text.code);
    EXPECT_EQ(document.err, "");
    EXPECT_EQ(support::schema_faults("result", json::parse(document.out)), "");
  }
}

TEST(Command, OnTheDemoYardPrintsJsonThatKeepsItsSchema) {
  const auto ran = holdfast({"check", "models/yard", "--json"}, {source});
  EXPECT_EQ(ran.code, 0) << "the demo yard has no errors";
  EXPECT_EQ(support::schema_faults("result", json::parse(ran.out)), "");
  const auto way = holdfast({"route", "models/yard", "--from", "lock-hatch", "--to", "beam-end", "--json"}, {source});
  EXPECT_EQ(way.code, 0);
  EXPECT_EQ(support::schema_faults("result", json::parse(way.out)), "");
  const Words ends = {"--from", "lock-hatch", "--to", "battery-bay"};
  for (Words words :
       {Words{"route", "models/yard", "--load", "bulky-bag"}, Words{"route", "models/yard", "--load", "pole"},
        Words{"route", "models/yard", "--load", "tool-bag", "--alternatives", "3"},
        Words{"route", "models/yard", "--load", "tool-bag", "--trade-offs"},
        Words{"compare", "models/yard", "--load", "none", "--load", "tool-bag+bulky-bag", "--load", "pole"},
        Words{"check", "models/yard", "--lose"},
        Words{"route", "models/yard", "--tether", "reel-15", "--anchor", "hatch-anchor-1"},
        Words{"route", "models/yard", "--tether", "waist", "--anchor", "hatch-anchor-1"},
        Words{"tether", "models/yard", "--tether", "reel-15", "--anchor", "hatch-anchor-1", "--clean"}}) {
    words.insert(words.end(), ends.begin(), ends.end());
    words.emplace_back("--json");
    SCOPED_TRACE(testing::PrintToString(words));
    EXPECT_EQ(support::schema_faults("result", json::parse(holdfast(words, {source}).out)), "");
  }
}

// ---- the same bytes -----------------------------------------------------------------------------------------------

TEST(Command, AnswersTheSameBytesOnAnyNumberOfThreads) {
  for (const char* form : {"--json", "--quiet"}) {
    const Words words = {"route", "models/yard", "--from", "lock-hatch", "--to", "beam-end", form, "--threads"};
    const auto with = [&](const char* threads) {
      Words all = words;
      all.emplace_back(threads);
      return holdfast(all, {source}).out;
    };
    const std::string one = with("1");
    EXPECT_GT(one.size(), 1000u);
    EXPECT_EQ(one, with("2"));
    EXPECT_EQ(one, with("0"));
  }
}

TEST(Command, AnswersTheSameBytesInAnotherLocaleAndTimeZone) {
  const std::string plain = route({}, {models, {"LC_ALL=C", "TZ=UTC"}}).out;
  EXPECT_EQ(plain, route({}, {models, {"LC_ALL=de_DE.UTF-8", "LANG=de_DE.UTF-8", "TZ=Asia/Kolkata"}}).out);
  EXPECT_EQ(plain, route({}, {models, {"LC_ALL=tr_TR.UTF-8", "TZ=America/St_Johns", "COLUMNS=40", "NO_COLOR=1"}}).out);
  EXPECT_EQ(plain, expected("route.txt"));
}

TEST(Command, SaysNothingOfItsProgressWhereThereIsNoTerminal) { EXPECT_EQ(route({}).err, ""); }

// ---- refusals -----------------------------------------------------------------------------------------------------

TEST(CommandRefuses, AModelWithFaultsNamingAllOfThem) {
  const FaultyModel faulty;
  expect_refused({"check", "faulty"},
                 "faulty/structure.yaml:4:70: unknown key \"colour\"\n"
                 "    one of: id, name, shape, at, poses, cable_loop_m, when, fragile, no_touch\n"
                 "faulty/structure.yaml:6:22: rail \"west\": part \"dek\" does not exist\n"
                 "    did you mean \"deck\" (line 4)? See `parts:`\n",
                 faulty.beside());
}

TEST(CommandRefuses, AModelThatIsNotThere) {
  expect_refused({"check", "nowhere"},
                 "nowhere: this is not a folder\n    name a model folder: it holds structure.yaml and kit.yaml\n");
}

TEST(CommandRefuses, UnknownNamesWithTheNearest) {
  expect_refused({"route", "deck", "--from", "hatsh", "--to", "bench"},
                 "place \"hatsh\" is not in this model\n"
                 "    did you mean hatch? A place may also be a rail id or x,y,z in metres\n");
  expect_refused({"route", "deck", "--from", "hatch", "--to", "bench", "--close", "eest"},
                 "rail \"eest\" is not in this model\n    did you mean west, east?\n");
  expect_refused({"check", "deck", "--suit", "big"},
                 "suit \"big\" is not in the kit\n    its suits: standard, long-arm\n");
  expect_refused({"check", "deck", "--state", "beem=on"},
                 "switch \"beem\" is not in this model\n    its switches: beam\n");
}

TEST(CommandRefuses, LoadsAndResultsThatCannotBeUsed) {
  const auto refusal = [](Words words) {
    const auto ran = holdfast(words, {source});
    EXPECT_EQ(ran.code, 2);
    EXPECT_EQ(ran.out, "");
    return ran.err;
  };
  const Words route = {"route", "models/yard", "--from", "lock-hatch", "--to", "hub-top"};
  const auto with = [&](const Words& more) {
    Words words = route;
    words.insert(words.end(), more.begin(), more.end());
    return words;
  };
  EXPECT_THAT(refusal(with({"--load", "piano"})),
              HasSubstr("load \"piano\" is not in the kit\n    its loads: tool-bag, "));
  EXPECT_THAT(refusal(with({"--load", "cable-spool", "--load", "pole"})),
              HasSubstr("loads \"cable-spool\" and \"pole\" together occupy both hands"));
  EXPECT_THAT(refusal(with({"--load", "crate", "--load", "bulky-bag"})), HasSubstr("would both be in tow"));
  EXPECT_THAT(refusal(with({"--alternatives", "3", "--via", "mast-foot"})),
              HasSubstr("--alternatives goes from one place"));
  EXPECT_THAT(refusal({"compare", "models/yard", "--from", "lock-hatch"}), HasSubstr("--from and --to are needed"));
  EXPECT_THAT(refusal({"compare", "models/yard", "--way", "models/yard/kit.yaml"}), HasSubstr("this is not JSON"));
  EXPECT_THAT(refusal({"compare", "models/yard", "--way", "nowhere.json"}), HasSubstr("this file cannot be read"));
  EXPECT_THAT(refusal({"check", "models/yard", "--lose", "--from", "lock-hatch"}),
              HasSubstr("--from and --to go together"));
}

TEST(CommandCompare, TakesWaysThatRoutePrinted) {
  const auto folder = fs::temp_directory_path() / ("holdfast-ways-" + std::to_string(::getpid()));
  fs::create_directories(folder);
  const auto save = [&](const std::string& name, Words more) {
    Words words = {"route", "models/yard", "--from", "lock-hatch", "--to", "battery-bay", "--json"};
    words.insert(words.end(), more.begin(), more.end());
    std::ofstream(folder / name) << holdfast(words, {source}).out;
    return (folder / name).string();
  };
  const std::string plain = save("plain.json", {}), several = save("several.json", {"--alternatives", "2"});
  const auto ran = holdfast(
      {"compare", "models/yard", "--way", plain, "--way", several, "--load", "none", "--load", "long-bag", "--json"},
      {source});
  const auto document = json::parse(ran.out);
  EXPECT_EQ(support::schema_faults("result", document), "");
  ASSERT_EQ(document["rows"].size(), 6u) << "one way and two, each without and with the bag";
  EXPECT_EQ(document["rows"][0]["route"]["time_s"], document["rows"][2]["route"]["time_s"])
      << "the first alternative is the best way";
  EXPECT_EQ(ran.code, 1) << "the bag does not pass on the way chosen without it";
  EXPECT_EQ(document["rows"][1]["causes"][0]["kind"], "load-too-tight");
  const auto other_model = holdfast({"compare", "deck", "--way", plain});
  EXPECT_EQ(other_model.code, 2);
  EXPECT_THAT(other_model.err, HasSubstr("it was computed from another structure"));
  fs::remove_all(folder);
}

TEST(CommandCompare, AsksInSeveralConfigurationsSuitsAndSettings) {
  const auto rows_of = [](Words more) {
    Words words = {"compare", "models/yard", "--from", "lock-hatch", "--to", "spur-root", "--json"};
    words.insert(words.end(), more.begin(), more.end());
    const auto document = json::parse(holdfast(words, {source}).out);
    EXPECT_EQ(support::schema_faults("result", document), "");
    return document["rows"];
  };
  const auto time_of = [](Words more) {
    Words words = {"route", "models/yard", "--from", "lock-hatch", "--to", "spur-root", "--json"};
    words.insert(words.end(), more.begin(), more.end());
    return json::parse(holdfast(words, {source}).out)["route"]["time_s"];
  };
  // Each row says what `route` says alone.
  const auto states = rows_of({"--state", "dish=parked", "--state", "dish=tracking"});
  ASSERT_EQ(states.size(), 2u);
  EXPECT_EQ(states[0]["route"]["time_s"], time_of({"--state", "dish=parked"}));
  EXPECT_EQ(states[1]["route"]["time_s"], time_of({"--state", "dish=tracking"}));
  EXPECT_EQ(states[1]["configuration"]["dish"], "tracking");
  EXPECT_FALSE(states[1]["goes_as_first"].get<bool>());
  EXPECT_EQ(states[1]["not_as_first"]["kind"], "zones") << "the beam closes the first route";
  double differing_s = states[1]["same_rails_s"];
  for (const auto& detour : states[1]["detours"])
    differing_s += detour["time_s"].get<double>() - detour["first_time_s"].get<double>();
  EXPECT_NEAR(differing_s, states[1]["route"]["time_s"].get<double>() - states[0]["route"]["time_s"].get<double>(),
              1e-4)
      << "stretch by stretch, the differences add up to the difference";
  const auto sets =
      rows_of({"--set", "none", "--set", "suits.standard.rate_free_m_s=0.15+suits.standard.regrip_s=2.5"});
  ASSERT_EQ(sets.size(), 2u);
  EXPECT_EQ(sets[1]["settings"].size(), 2u);
  EXPECT_EQ(sets[1]["route"]["time_s"],
            time_of({"--set", "suits.standard.rate_free_m_s=0.15", "--set", "suits.standard.regrip_s=2.5"}));
  EXPECT_GT(sets[1]["route"]["time_s"], sets[0]["route"]["time_s"]);
  const auto all = rows_of({"--suit", "standard", "--suit", "large", "--state", "dish=parked", "--state",
                            "dish=tracking+wing=edge-on", "--load", "none", "--load", "bulky-bag"});
  EXPECT_EQ(all.size(), 8u);
  const auto text = holdfast({"compare", "models/yard", "--from", "lock-hatch", "--to", "spur-root", "--state",
                              "dish=parked", "--state", "dish=tracking"},
                             {source})
                        .out;
  EXPECT_THAT(text, HasSubstr("dish=tracking: the first route is closed here"));
  EXPECT_THAT(text.substr(0, text.find('\n', text.find('\n') + 1)), testing::Not(HasSubstr("dish=")))
      << "the heading says what all rows share";
}

TEST(CommandCompare, ReplaysEachRouteInItsOwnConfiguration) {
  const support::Scratch scratch("compare-own", source);
  for (const char* position : {"parked", "tracking"})
    (void)scratch.run(HOLDFAST_COMMAND,
                      std::string("route models/yard --from lock-hatch --to spur-root --json --state dish=") +
                          position + " > " + position + ".json");
  const auto ran = scratch.run(HOLDFAST_COMMAND, "compare models/yard --way parked.json --way tracking.json --json");
  EXPECT_EQ(ran.code, 0) << ran.err;
  const auto document = json::parse(ran.out);
  EXPECT_EQ(document["rows"][0]["configuration"]["dish"], "parked");
  EXPECT_EQ(document["rows"][1]["configuration"]["dish"], "tracking");
  const auto forced =
      scratch.run(HOLDFAST_COMMAND, "compare models/yard --way parked.json --state dish=tracking --json");
  EXPECT_EQ(forced.code, 1) << "the beam is in the way";
  EXPECT_EQ(json::parse(forced.out)["rows"][0]["causes"][0]["kind"], "zones");
  const auto aimed = scratch.run(HOLDFAST_COMMAND, "compare models/yard --way parked.json --by moves");
  EXPECT_EQ(aimed.code, 2);
  EXPECT_THAT(aimed.err, HasSubstr("nothing is minimised"));
}

TEST(CommandSet, KeepsResultsThatDoNotDependOnIt) {
  const support::Scratch scratch("set-results", source);
  (void)scratch.run(HOLDFAST_COMMAND,
                    "route models/yard --from lock-hatch --to hub-top --load bulky-bag --json > bag.json");
  const auto draw = [&](const std::string& setting) {
    return scratch.run(HOLDFAST_COMMAND, "draw models/yard bag.json --svg a.svg --set " + setting);
  };
  EXPECT_EQ(draw("loads.pole.mass_kg=13").code, 0) << "another load";
  EXPECT_EQ(draw("suits.large.reach_m=0.5").code, 0) << "another suit";
  for (const char* setting :
       {"loads.bulky-bag.mass_kg=81", "suits.standard.reach_m=0.6", "design.grip_spacing_m=0.1"}) {
    const auto ran = draw(setting);
    EXPECT_EQ(ran.code, 2) << setting;
    EXPECT_THAT(ran.err, HasSubstr("has changed since")) << setting;
  }
  EXPECT_THAT(draw("zones.tank-room.limit_s=200").err, HasSubstr("it was computed from another structure"));
  const auto route = scratch.run(
      HOLDFAST_COMMAND, "route models/yard --from lock-hatch --to hub-top --set suits.standard.rate_free_m_s=0.15");
  EXPECT_THAT(route.out, HasSubstr("set for this run:\n  suits.standard.rate_free_m_s=0.15"));
  EXPECT_THAT(route.out, HasSubstr("set for this run"));
}

// ---- draw ---------------------------------------------------------------------------------------------------------

TEST(CommandDraw, WritesEachFileWholeAndSaysSo) {
  const support::Scratch scratch("draw", source);
  const auto draw = [&](const std::string& more) { return scratch.run(HOLDFAST_COMMAND, "draw models/yard " + more); };
  for (const auto& [name, question] : {std::pair{"way.json", "route models/yard --from lock-hatch --to hub-top --json"},
                                       {"bags.json",
                                        "compare models/yard --from lock-hatch --to hub-top --load none "
                                        "--load bulky-bag --json"},
                                       {"home.json", "home models/yard --json"}})
    (void)scratch.run(HOLDFAST_COMMAND, std::string(question) + " > " + name);
  const auto ran = draw("way.json bags.json home.json --html a.html --svg a.svg --glb a.glb --json");
  EXPECT_EQ(ran.code, 0) << ran.err;
  EXPECT_EQ(ran.err, "");
  const auto document = json::parse(ran.out);
  EXPECT_EQ(support::schema_faults("result", document), "");
  EXPECT_EQ(document["ways"], 3);
  ASSERT_EQ(document["files"].size(), 3u);
  for (const auto& file : document["files"])
    EXPECT_EQ(fs::file_size(scratch.folder() / file["file"].get<std::string>()), file["bytes"].get<std::size_t>());
  EXPECT_THAT(support::contents_of(scratch.folder() / "a.html"), StartsWith("<!DOCTYPE html>"));
  EXPECT_THAT(support::contents_of(scratch.folder() / "a.svg"), StartsWith("<?xml"));
  EXPECT_THAT(support::contents_of(scratch.folder() / "a.glb"), StartsWith("glTF"));
  EXPECT_THAT(
      draw("--svg b.svg").out,
      HasSubstr("Demo yard: arm=stowed dish=parked thrusters=safe wing=edge-on, with 0 routes\n  written: b.svg, "));
}

TEST(CommandDraw, ShowsCablesAndTethers) {
  const support::Scratch scratch("draw-lines", source);
  const auto run = [&](const std::string& words) { return scratch.run(HOLDFAST_COMMAND, words); };
  (void)run("cable models/yard --no-cache --cable data-short --json > cable.json");
  (void)run(
      "tether models/yard --from lock-hatch --via battery-bay --via tank-valves --to lock-hatch --tether reel-26 "
      "--anchor hatch-anchor-1 --clean --json > tether.json");
  (void)run(
      "route models/yard --from lock-hatch --to battery-bay --tether reel-15 --anchor hatch-anchor-1 --json > "
      "way.json");
  const auto ran = run("draw models/yard cable.json tether.json way.json --html a.html --svg a.svg --glb a.glb --json");
  ASSERT_EQ(ran.code, 0) << ran.err;
  EXPECT_EQ(json::parse(ran.out)["ways"], 4)
      << "laying the cable, the route on the tether, the path back, and the route";
  const auto page = support::contents_of(scratch.folder() / "a.html");
  for (const char* words :
       {"data-short from hub-plug to rack-plug", "3.98 m required, guaranteed length 3.60 m: TOO SHORT",
        "laying data-short", "reel-26 from hatch-anchor-1", "the best route", "loop of reel-26, out and back",
        "SNAGGED, 26.1", "round port tank", "back, so that the tether retracts without snagging",
        "hook the next tether on to hub-ring-2"})
    EXPECT_THAT(page, HasSubstr(words));
  // What is drawn of the laying is what `cable` tells: its time, and a row for every connector and tie.
  const auto told = run("cable models/yard --no-cache --cable data-short").out;
  const auto at = told.find("\n  Laying            ") + 21;
  EXPECT_THAT(page, HasSubstr("\"time\":\"" + told.substr(at, 7) + "\""));
  for (const char* words : {"mate hub-plug", "tie 1 to rail hub-line-d-1 at 0.28 m",
                            "tie 7 to rail spur-cross-a-1 at 1.10 m", "mate rack-plug"})
    EXPECT_THAT(page, HasSubstr(words));
  for (const char* so_far : {"0:01:00", "0:01:30", "0:02:00", "0:02:45"})  // as in the README
    EXPECT_THAT(page, HasSubstr("\"total_time\":\"" + std::string(so_far) + "\""));
  (void)run("draw models/yard cable.json --html c.html");
  EXPECT_THAT(support::contents_of(scratch.folder() / "c.html"), Not(HasSubstr("\"what\":\"start\"")));
  EXPECT_THAT(support::contents_of(scratch.folder() / "a.svg"), HasSubstr("reel-26"));
  EXPECT_THAT(support::contents_of(scratch.folder() / "a.glb"), HasSubstr("data-short from hub-plug to rack-plug"));
  EXPECT_THAT(run("draw models/yard --svg b.svg").err, "");
  (void)run("tether models/yard --hold battery-bay --json > hold.json");
  EXPECT_THAT(run("draw models/yard hold.json --svg b.svg").err, HasSubstr("which shows no routes"));
}

TEST(CommandDraw, HandsOutAnExcursion) {
  const support::Scratch scratch("draw-excursion", source);
  const auto run = [&](const std::string& words) { return scratch.run(HOLDFAST_COMMAND, words); };
  const auto planned = run("plan models/yard excursion-short.yaml --json");
  ASSERT_EQ(planned.code, 0) << planned.err;
  EXPECT_EQ(support::schema_faults("result", json::parse(planned.out)), "");
  EXPECT_EQ(run("plan models/yard excursion-short.yaml --json --threads 1").out, planned.out);
  std::ofstream(scratch.folder() / "plan.json") << planned.out;
  const auto ran =
      run("draw models/yard plan.json --html a.html --svg a.svg --glb a.glb --cards c.html --timeline t.svg --json");
  ASSERT_EQ(ran.code, 0) << ran.err;
  const auto document = json::parse(ran.out);
  EXPECT_EQ(support::schema_faults("result", document), "");
  EXPECT_EQ(document["ways"], 1);
  ASSERT_EQ(document["files"].size(), 5u);
  for (const auto& file : document["files"])
    EXPECT_EQ(fs::file_size(scratch.folder() / file["file"].get<std::string>()), file["bytes"].get<std::size_t>());
  EXPECT_THAT(support::contents_of(scratch.folder() / "c.html"), HasSubstr("check the window's seal"));
  EXPECT_THAT(support::contents_of(scratch.folder() / "t.svg"), HasSubstr("A look at the port window"));
  EXPECT_THAT(support::contents_of(scratch.folder() / "a.html"), HasSubstr("\"excursion\":{"));
  // A second excursion, and one whose numbers were changed by hand.
  EXPECT_THAT(run("draw models/yard plan.json plan.json --cards d.html").err, HasSubstr("two excursions"));
  auto changed = json::parse(planned.out);
  changed["rows"][2]["path"][1]["arrives_s"] = 0;
  std::ofstream(scratch.folder() / "changed.json") << changed.dump();
  EXPECT_EQ(run("draw models/yard changed.json --cards d.html").code, 2);
  EXPECT_FALSE(fs::exists(scratch.folder() / "d.html"));
}

TEST(CommandDraw, ShowsTheConfigurationOfItsResults) {
  const support::Scratch scratch("draw-state", source);
  const auto draw = [&](const std::string& more) { return scratch.run(HOLDFAST_COMMAND, "draw models/yard " + more); };
  (void)scratch.run(HOLDFAST_COMMAND,
                    "route models/yard --from lock-hatch --to spur-root --state dish=tracking --json > tracking.json");
  (void)scratch.run(HOLDFAST_COMMAND, "route models/yard --from lock-hatch --to spur-root --json > parked.json");
  EXPECT_THAT(draw("tracking.json --svg a.svg").out, HasSubstr("dish=tracking"));
  EXPECT_EQ(draw("tracking.json --svg a.svg --state dish=tracking").code, 0);
  for (const char* words : {"tracking.json --svg b.svg --state dish=parked", "tracking.json parked.json --svg b.svg"}) {
    const auto refused = draw(words);
    EXPECT_EQ(refused.code, 2);
    EXPECT_THAT(refused.err, HasSubstr(".json: it was computed for arm=stowed dish="));
  }
  EXPECT_FALSE(fs::exists(scratch.folder() / "b.svg"));
}

TEST(CommandDraw, RefusesPlainlyAndLeavesNothing) {
  const support::Scratch scratch("draw-refusals", source);
  const RunIn in{scratch.folder()};
  (void)scratch.run(HOLDFAST_COMMAND, "route models/yard --from lock-hatch --to hub-top --json > way.json");
  (void)scratch.run(HOLDFAST_COMMAND, "matrix models/yard --json > matrix.json");
  const std::string before = support::contents_of(scratch.folder() / "way.json");
  expect_refused(
      {"draw", "models/yard"},
      "nothing says what to write\n    give --html, --svg or --glb with a file, or --cards or --timeline with "
      "one for an excursion\n",
      in);
  expect_refused({"draw", "models/yard", "way.json", "--cards", "a"},
                 "none of the results is an excursion\n    give what holdfast plan printed with --json\n", in);
  expect_refused({"draw", "models/yard", "--html", "a", "--svg", "./a"},
                 "--html and --svg name the same file: ./a\n    give each a file of its own\n", in);
  expect_refused({"draw", "models/yard", "way.json", "--html", "way.json"},
                 "--html would write over way.json, which is read\n    name another file\n", in);
  expect_refused({"draw", "models/yard", "--svg", "models/yard/kit.yaml"},
                 "--svg would write over the model\n    name another file\n", in);
  expect_refused({"draw", "models/yard", "--html", "nowhere/a.html"},
                 "nowhere/a.html: this file cannot be written: No such file or directory\n"
                 "    name a file in a folder that exists and that you may write to\n",
                 in);
  expect_refused({"draw", "models/yard", "none.json", "--html", "a"},
                 "none.json: this file cannot be read\n    give what holdfast printed with --json\n", in);
  expect_refused({"draw", "models/yard", "models/yard/kit.yaml", "--html", "a"},
                 "models/yard/kit.yaml: this is not JSON\n    give what `holdfast route ... --json` printed\n", in);
  expect_refused({"draw", "models/yard", "matrix.json", "--html", "a"},
                 "matrix.json: this is a result of `holdfast matrix`, which shows no routes\n"
                 "    give what `holdfast route`, `compare`, `home`, `tether`, `cable`, `reach`, `sight`, `rails` or "
                 "`plan` printed with --json\n",
                 in);
  const auto other = holdfast({"draw", (models / "deck").string(), "way.json", "--html", "a"}, in);
  EXPECT_EQ(other.code, 2);
  EXPECT_THAT(other.err, StartsWith("way.json: it was computed from another structure: its digest is "));
  EXPECT_FALSE(fs::exists(scratch.folder() / "a"));
  EXPECT_EQ(support::contents_of(scratch.folder() / "way.json"), before);
}

// ---- cables -------------------------------------------------------------------------------------------------------

/// A folder of its own for what is kept and what is printed.
class CommandCable : public testing::Test {
 protected:
  CommandCable() : folder_(fs::temp_directory_path() / ("holdfast-cable-" + std::to_string(::getpid()))) {
    fs::create_directories(folder_);
  }
  ~CommandCable() override { fs::remove_all(folder_); }
  Ran cable(Words more, const std::vector<std::string>& environment = {}) const {
    Words words = {"cable", "models/yard"};
    words.insert(words.end(), more.begin(), more.end());
    auto variables = environment;
    if (variables.empty()) variables.push_back("XDG_CACHE_HOME=" + (folder_ / "cache").string());
    return holdfast(words, {source, variables});
  }
  json document(Words more) const {
    more.emplace_back("--json");
    const auto ran = cable(std::move(more));
    const auto answer = json::parse(ran.out);
    EXPECT_EQ(support::schema_faults("result", answer), "");
    return answer;
  }
  std::string save(const std::string& name, const std::string& contents) const {
    std::ofstream(folder_ / name) << contents;
    return (folder_ / name).string();
  }
  fs::path folder_;
};

TEST_F(CommandCable, KeepsItsSchemaWhateverTheAnswer) {
  EXPECT_EQ(document({"--cable", "power-long"})["outcome"], "long-enough");
  EXPECT_EQ(document({"--cable", "data-short"})["outcome"], "too-short");
  EXPECT_EQ(document({"--cable", "fibre", "--from", "hub-plug", "--to", "rack-plug", "--by", "time"})["request"]["by"],
            "time");
  EXPECT_EQ(document({"--cable", "trunk", "--close", "spur-zenith-1", "--close", "spur-cross-a-1"})["verb"], "cable");
  const auto all = document({"--all"});
  EXPECT_EQ(all["outcome"], "cables");
  EXPECT_EQ(all["rows"].size(), 9u) << "one row a pair that the kit names";
}

TEST_F(CommandCable, ExitsByTheVerdict) {
  EXPECT_EQ(cable({"--cable", "power-long"}).code, 0);
  EXPECT_EQ(cable({"--cable", "data-short"}).code, 1);
  EXPECT_EQ(cable({"--all"}).code, 1) << "one of them is short";
}

TEST_F(CommandCable, HasALineThatIsAsLongAsItsSpans) {
  const auto answer = document({"--cable", "power-long"});
  double length = 0, spans = 0;
  const auto& line = answer["line"];
  for (std::size_t i = 1; i < line.size(); ++i) {
    double square = 0;
    for (std::size_t axis = 0; axis < 3; ++axis)
      square += std::pow(line[i][axis].get<double>() - line[i - 1][axis].get<double>(), 2);
    length += std::sqrt(square);
  }
  for (const auto& span : answer["spans"]) spans += span["length_m"].get<double>();
  EXPECT_NEAR(length, spans, 1e-4);
  EXPECT_NEAR(length, answer["length"]["way_m"].get<double>(), 1e-4);
  EXPECT_EQ(answer["ties"].size(), answer["spans"].size() + 1);
  EXPECT_EQ(answer["laying"]["route"]["legs"].size(), answer["spans"].size());
}

TEST_F(CommandCable, AnswersTheSameKeptOrNotOnAnyNumberOfThreads) {
  const Words words = {"--cable", "power-long", "--json"};
  const auto cold = cable(words);
  EXPECT_TRUE(fs::exists(folder_ / "cache/holdfast"));
  EXPECT_EQ(cable(words).out, cold.out) << "kept";
  for (const auto& kept : fs::directory_iterator(folder_ / "cache/holdfast")) std::ofstream(kept.path()) << "damaged";
  EXPECT_EQ(cable(words).out, cold.out) << "damaged";
  EXPECT_EQ(cable(words, {"XDG_CACHE_HOME=/proc/nowhere"}).out, cold.out) << "cannot be kept";
  for (const char* threads : {"1", "2"})
    EXPECT_EQ(cable({"--cable", "power-long", "--json", "--no-cache", "--threads", threads}).out, cold.out);
}

TEST_F(CommandCable, KeepsNothingWhenAskedNotTo) {
  EXPECT_EQ(cable({"--cable", "fibre", "--no-cache"}).code, 0);
  EXPECT_FALSE(fs::exists(folder_ / "cache/holdfast"));
}

TEST_F(CommandCable, TakesWaysToKeepFreeAndCablesThatAreLaid) {
  const auto way =
      save("way.json",
           holdfast({"route", "models/yard", "--from", "battery-bay", "--to", "beam-end", "--json"}, {source}).out);
  const auto laid = save("laid.json", cable({"--cable", "power-long", "--json"}).out);
  const Words ends = {"--cable", "data", "--from", "battery-plug", "--to", "beam-plug"};
  Words free = ends, beside = ends;
  free.insert(free.end(), {"--keep-free", way});
  beside.insert(beside.end(), {"--laid", laid});
  const auto plain = document(ends), kept_free = document(free);
  EXPECT_GT(kept_free["required_m"].get<double>(), plain["required_m"].get<double>());
  for (const auto& tie : kept_free["ties"])
    for (const auto& rail : kept_free["request"]["keep_free"]) EXPECT_NE(tie["id"], rail);
  EXPECT_EQ(document(beside)["request"]["laid"], json::parse(R"(["power-long"])"));
}

TEST_F(CommandCable, WritesTheTiesToAFileAsWell) {
  const auto file = folder_ / "ties.csv";
  EXPECT_EQ(cable({"--cable", "fibre", "--csv", file.string()}).code, 0);
  EXPECT_THAT(support::contents_of(file), StartsWith("number,kind,id,along_m,x,y,z,on_cable_m,span_m,"));
  EXPECT_EQ(cable({"--all", "--csv", file.string()}).code, 1);
  EXPECT_THAT(support::contents_of(file), StartsWith("cable,from,to,outcome,required_m,least_length_m,margin_m,ties,"));
}

TEST_F(CommandCable, RefusesWhatItCannotAnswer) {
  const auto refusal = [&](const Words& more) {
    const auto ran = cable(more);
    EXPECT_EQ(ran.code, 2);
    EXPECT_EQ(ran.out, "");
    return ran.err;
  };
  EXPECT_EQ(refusal({}), "--cable is required\n    name a cable of the kit, or give --all\n");
  EXPECT_EQ(refusal({"--cable", "rope"}),
            "cable \"rope\" is not in the kit\n"
            "    its cables: power-long, port-power, hub-link, power-short, data, data-short, trunk, fibre\n");
  EXPECT_EQ(refusal({"--cable", "data"}),
            "--from and --to are needed\n"
            "    the kit names 2 pairs for cable data: battery-plug - beam-plug, hub-plug - rack-plug\n");
  EXPECT_EQ(refusal({"--cable", "data", "--from", "hub-plug"}),
            "--from and --to go together\n    give both, or neither\n");
  EXPECT_EQ(refusal({"--cable", "data", "--from", "hub-plugg", "--to", "rack-plug"}),
            "connector \"hub-plugg\" is not in this model\n    did you mean hub-plug?\n");
  EXPECT_THAT(
      refusal({"--cable", "data", "--from", "hub-top", "--to", "rack-plug"}),
      HasSubstr(
          "place \"hub-top\" is no connector\n    a cable begins at a connector, or goes on from its coil (--laid "
          "RESULT.json); its connectors: stores-plug, "));
  EXPECT_THAT(refusal({"--cable", "fibre", "--laid", "models/yard/kit.yaml"}), HasSubstr("this is not JSON"));
  EXPECT_THAT(refusal({"--cable", "fibre", "--laid", "nowhere.json"}), HasSubstr("this file cannot be read"));
  const auto way = save(
      "way.json", holdfast({"route", "models/yard", "--from", "hub-top", "--to", "spur-root", "--json"}, {source}).out);
  EXPECT_THAT(refusal({"--cable", "fibre", "--laid", way}), HasSubstr("this is not a result of `holdfast cable`"));
  EXPECT_THAT(
      refusal({"--cable", "fibre", "--keep-free", save("laid.json", cable({"--cable", "fibre", "--json"}).out)}),
      HasSubstr("this is not a result of `holdfast route`"));
  EXPECT_THAT(refusal({"--all", "--cable", "fibre"}), HasSubstr("--all"));
}

TEST(CommandRefuses, ASwitchThatIsSetTwice) {
  expect_refused({"check", "deck", "--state", "beam=on", "--state", "beam=off"},
                 "switch \"beam\" is set twice: beam=on and beam=off\n    give one position for each switch\n");
}

TEST(CommandRefuses, ACommandLineThatIsIncomplete) {
  expect_refused({},
                 "a verb is needed\n    the verbs are check, route, compare, cable, tether, home, matrix, reach, "
                 "sight, plan, order, rails, draw; see "
                 "holdfast --help\n");
  expect_refused({"--quiet", "check", "deck"},
                 "--quiet stands before the verb\n    write options after it: holdfast check MODEL ...\n");
  expect_refused({"check"},
                 "the model folder is not given\n    write it right after the verb: holdfast check MODEL ...\n");
  expect_refused({"route", "deck", "--from", "hatch"}, "--to is required\n    see holdfast route --help\n");
  expect_refused({"route", "deck", "--from", "--to", "bench"}, "--from needs a value\n    see holdfast route --help\n");
}

TEST(CommandRefuses, WhatItDoesNotKnow) {
  expect_refused({"chek", "deck"}, "\"chek\" is not a verb of holdfast\n    did you mean check?\n");
  expect_refused({"fly", "deck"},
                 "\"fly\" is not a verb of holdfast\n    the verbs are check, route, compare, cable, tether, home, "
                 "matrix, reach, sight, plan, order, rails, draw; see "
                 "holdfast --help\n");
  expect_refused({"route", "deck", "--form", "hatch", "--to", "bench"},
                 "there is no option --form\n    did you mean --from?\n");
  expect_refused({"check", "deck", "-x"}, "there is no option -x\n    see holdfast check --help\n");
  expect_refused({"check", "deck", "deck"}, "\"deck\" is one argument too many\n    see holdfast check --help\n");
}

TEST(CommandRefuses, ValuesThatAreNotAllowed) {
  expect_refused({"route", "deck", "--from", "hatch", "--to", "bench", "--by", "speed"},
                 "--by: \"speed\" is none of time, distance, moves\n    see holdfast route --help\n");
  expect_refused({"check", "deck", "--units", "furlongs"},
                 "--units: \"furlongs\" is none of metric, imperial\n    see holdfast check --help\n");
  for (const char* count : {"-1", "two", "1025", "1.5", "99999999999999999999"})
    expect_refused({"check", "deck", "--threads", count},
                   std::string("--threads: \"") + count +
                       "\" is not a whole number from 0 to 1024\n    see holdfast check --help\n");
  expect_refused({"route", "deck", "--from", "hatch", "--from", "bench", "--to", "bench"},
                 "--from is given more than once, and takes one value\n    see holdfast route --help\n");
  expect_refused({"check", "deck", "--quiet=yes"}, "--quiet takes no value\n    see holdfast check --help\n");
}

TEST(CommandRefuses, FilesThatCannotBeWrittenBeforeItAnswers) {
  expect_refused({"check", "deck", "--csv", "/nowhere/x.csv"},
                 "/nowhere/x.csv: this file cannot be written: No such file or directory\n"
                 "    name a file in a folder that exists and that you may write to\n");
}

TEST(CommandRefuses, BytesThatAreNotText) {
  const auto ran = holdfast({"route", "deck", "--from", "\xff\xfe", "--to", "bench", "--json"});
  EXPECT_EQ(ran.code, 2);
  EXPECT_EQ(support::schema_faults("errors", json::parse(ran.out)), "");
}

TEST(Command, OfTethersReadsWaysAndRefusesWhatIsNone) {
  const auto folder = std::filesystem::temp_directory_path() / ("holdfast-tether-" + std::to_string(::getpid()));
  std::filesystem::create_directories(folder);
  const auto save = [&](const char* name, const std::string& text) {
    std::ofstream(folder / name) << text;
    return (folder / name).string();
  };
  const auto way = [&](const char* from, const char* to, Words more = {}) {
    Words words = {"route", "models/yard", "--from", from, "--to", to, "--json"};
    words.insert(words.end(), more.begin(), more.end());
    return holdfast(words, {source}).out;
  };
  const auto out = save("out.json", way("lock-hatch", "battery-bay"));
  const auto back = save("back.json", way("battery-bay", "lock-hatch", {"--via", "tank-valves"}));
  const auto swaps =
      save("swaps.json", way("lock-hatch", "battery-bay", {"--tether", "reel-15", "--anchor", "hatch-anchor-1"}));
  const Words reel = {"--tether", "reel-26", "--anchor", "hatch-anchor-1"};
  const auto ask = [&](Words words, const Words& more) {
    words.insert(words.begin(), {"tether", "models/yard"});
    words.insert(words.end(), more.begin(), more.end());
    return holdfast(words, {source});
  };
  const auto hooked = ask({out, back}, reel);
  EXPECT_EQ(hooked.code, 1) << "out by the zenith side, back past the tanks";
  EXPECT_THAT(hooked.out, HasSubstr("SNAGGED: out and back"));
  EXPECT_THAT(hooked.out, HasSubstr("of the path back, go by the rails of the path out instead"));
  const auto two = ask({out, "--other", back, "--other-tether", "reel-26", "--other-anchor", "spur-zenith-3"}, reel);
  EXPECT_THAT(two.out, HasSubstr("The two tethers"));
  EXPECT_EQ(support::schema_faults("result", json::parse(ask({out, back, "--clean", "--json"}, reel).out)), "");
  EXPECT_EQ(support::schema_faults("result", json::parse(ask({"--hold", "battery-bay", "--json"}, {}).out)), "");
  const auto anew = json::parse(ask({swaps, "--json"}, {"--tether", "reel-15", "--anchor", "hatch-anchor-1"}).out);
  EXPECT_EQ(support::schema_faults("result", anew), "");
  EXPECT_NE(anew["marks"].back()["hook"], "hatch-anchor-1") << "a tether swap as the route says";
  // What cannot be answered.
  const auto refused = [&](const Words& words, const char* message) {
    const auto ran = holdfast(words, {source});
    EXPECT_EQ(ran.code, 2) << message;
    EXPECT_EQ(ran.out, "");
    EXPECT_THAT(ran.err, HasSubstr(message));
  };
  refused({"tether", "models/yard", out, "--tether", "reel-26", "--anchor", "hatch-anker"},
          "anchor \"hatch-anker\" is not in this model");
  refused({"tether", "models/yard", out, "--tether", "reel-26", "--anchor", "spur-cross-a-1"},
          "may not take a tether hook");
  refused({"tether", "models/yard", out, "--tether", "waist", "--anchor", "hub-anchor"},
          "from hub-anchor to where the route begins it takes");
  refused({"tether", "models/yard", out, "--tether", "rope", "--anchor", "hub-anchor"},
          "tether \"rope\" is not in the kit");
  refused({"tether", "models/yard", out}, "--tether and --anchor are needed");
  refused({"tether", "models/yard", "--tether", "waist", "--anchor", "hub-anchor"}, "a route is needed");
  refused({"tether", "tests/cli/models/deck", out, "--tether", "waist", "--anchor", "hub-anchor"},
          "it was computed from another structure");
  refused({"route", "models/yard", "--from", "lock-hatch", "--to", "hub-top", "--tether", "waist"},
          "--tether needs --anchor");
  std::filesystem::remove_all(folder);
}

TEST(CommandHelp, OfEachVerbShowsTwoExamplesOnTheDemoYard) {
  const support::Scratch scratch("help", source);  // examples may write files
  for (const char* verb : {"check", "route", "compare", "cable", "tether", "home", "matrix", "reach", "sight", "plan",
                           "order", "rails", "draw"}) {
    SCOPED_TRACE(verb);
    const std::string model =
        verb == std::string("rails") ? " models/cabin" : " models/yard";  // the yard's rails are typed
    const auto ran = holdfast({verb, "--help"});
    EXPECT_EQ(ran.code, 0);
    EXPECT_EQ(ran.err, "");
    std::size_t examples = 0;
    std::istringstream lines(ran.out);
    for (std::string line; std::getline(lines, line);) {
      EXPECT_LE(line.size(), 120u) << line;
      if (line.find("  holdfast ") != 0 || line.find(model) == std::string::npos) continue;
      examples += line.find(std::string("  holdfast ") + verb + model) == 0 ? 1 : 0;
      EXPECT_EQ(scratch.run(HOLDFAST_COMMAND, line.substr(line.find("holdfast ") + 9)).code, 0)
          << "the example runs: " << line;
    }
    EXPECT_GE(examples, 2u);
  }
}

TEST(CommandHelp, ListsTheVerbs) {
  const auto ran = holdfast({"--help"});
  EXPECT_EQ(ran.code, 0);
  EXPECT_THAT(ran.out, HasSubstr("\nVerbs:\n  check  "));
  EXPECT_THAT(holdfast({"--version"}).out,
              testing::MatchesRegex("holdfast " HOLDFAST_VERSION "\nbuilt by .+ as .+\nwith Boost .+, yaml-cpp .+\n"));
}

}  // namespace
}  // namespace holdfast
