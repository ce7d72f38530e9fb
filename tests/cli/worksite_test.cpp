// SPDX-License-Identifier: GPL-3.0-or-later
// The verbs `reach` and `sight` as a person runs them.

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <filesystem>
#include <fstream>

#include "run_command.h"
#include "schema_check.h"

namespace holdfast {
namespace {

namespace fs = std::filesystem;
using nlohmann::json;
using testing::HasSubstr;

using Words = std::vector<std::string>;
const fs::path source = HOLDFAST_SOURCE_DIR;

support::Ran holdfast(const Words& words) { return support::run_command(HOLDFAST_COMMAND, words, {source}); }

TEST(CommandWorksites, PrintJsonThatKeepsItsSchemaWhateverTheAnswer) {
  for (Words words :
       {Words{"reach", "models/yard", "port-socket", "--for", "port-plug", "--from", "lock-hatch"},
        Words{"reach", "models/yard", "port-socket", "--for", "lock-hatch"},
        Words{"reach", "models/yard", "beam-socket", "--over", "arm", "--for", "beam-plug"},
        Words{"reach", "models/yard", "--at", "battery-bay", "--for", "battery-plug"},
        Words{"reach", "models/yard", "--all"}, Words{"sight", "models/yard"},
        Words{"sight", "models/yard", "rack-outside", "--view", "hub-window"},
        Words{"sight", "models/yard", "tank-valve-face", "--from-grips", "--camera", "hand", "--from", "lock-hatch"}}) {
    SCOPED_TRACE(testing::PrintToString(words));
    const auto text = holdfast(words);
    words.emplace_back("--json");
    const auto document = holdfast(words);
    EXPECT_EQ(document.code, text.code);
    EXPECT_EQ(document.err, "");
    EXPECT_EQ(support::schema_faults("result", json::parse(document.out)), "");
  }
}

TEST(CommandWorksites, AnswerTheSameBytesOnAnyNumberOfThreads) {
  for (const Words& words : {Words{"reach", "models/yard", "--all", "--json"},
                             Words{"sight", "models/yard", "tank-valve-face", "--from-grips", "--json"}}) {
    const auto with = [&](const char* threads) {
      Words all = words;
      all.insert(all.end(), {"--threads", threads});
      return holdfast(all).out;
    };
    const std::string one = with("1");
    EXPECT_GT(one.size(), 1000U);
    EXPECT_EQ(one, with("2"));
    EXPECT_EQ(one, with("0"));
  }
}

TEST(CommandWorksites, ExitByWhatIsServedAndSeen) {
  EXPECT_EQ(holdfast({"reach", "models/yard", "port-socket", "--for", "port-plug"}).code, 0);
  EXPECT_EQ(holdfast({"reach", "models/yard", "port-socket", "--for", "hub-plug"}).code, 1) << "too far";
  EXPECT_EQ(holdfast({"sight", "models/yard", "spur-end", "--view", "stores-window"}).code, 1);
}

TEST(CommandWorksites, RefuseWhatTheyCannotAnswer) {
  const auto refused = [](const Words& words, const std::string& message) {
    SCOPED_TRACE(testing::PrintToString(words));
    const auto ran = holdfast(words);
    EXPECT_EQ(ran.code, 2);
    EXPECT_EQ(ran.out, "");
    EXPECT_THAT(ran.err, HasSubstr(message));
  };
  refused({"reach", "models/yard", "port-sockt"},
          "socket \"port-sockt\" is not in this model\n    did you mean port-socket?");
  refused({"reach", "models/yard", "port-socket", "--for", "port-plg"}, "did you mean port-plug");
  refused({"reach", "models/yard"}, "a socket, --at or --all is needed");
  refused({"reach", "models/yard", "port-socket", "--restraint", "big"}, "foot restraint \"big\" is not in the kit");
  refused({"reach", "models/yard", "port-socket", "--over", "leg"}, "switch \"leg\" is not in this model");
  refused({"sight", "models/yard", "tank-valve"}, "did you mean tank-valve-face?");
  refused({"sight", "models/yard", "--view", "hub-windw"}, "did you mean hub-window?");
  refused({"sight", "models/yard", "--camera", "hand"}, "--camera needs --from-grips");
  refused({"sight", "models/yard", "--from-grips", "--camera", "big"}, "camera \"big\" is not in the kit");
}

TEST(CommandWorksites, TakeASocketWhereverAPlaceGoes) {
  const auto ran = holdfast({"route", "models/yard", "--from", "lock-hatch", "--to", "port-socket"});
  EXPECT_EQ(ran.code, 0);
  EXPECT_THAT(ran.out, HasSubstr("port-socket"));
}

TEST(CommandWorksites, WriteTheirTables) {
  const fs::path file = fs::temp_directory_path() / ("holdfast-reach-" + std::to_string(::getpid()) + ".csv");
  EXPECT_EQ(holdfast({"reach", "models/yard", "port-socket", "--for", "port-plug", "--csv", file.string()}).code, 0);
  const std::string table = support::contents_of(file);
  EXPECT_THAT(table, HasSubstr("\r\n"));
  const auto columns = [](const std::string& line) { return std::count(line.begin(), line.end(), ','); };
  std::istringstream lines(table);
  std::string head;
  std::getline(lines, head);
  for (std::string line; std::getline(lines, line);)
    if (line.find('"') == std::string::npos) EXPECT_EQ(columns(line), columns(head)) << line;
  fs::remove(file);
}

TEST(CommandHelp, OfTheWorksiteVerbsShowsExamplesThatRun) {
  for (const char* verb : {"reach", "sight"}) {
    const auto ran = holdfast({verb, "--help"});
    EXPECT_EQ(ran.code, 0);
    std::size_t examples = 0;
    std::istringstream lines(ran.out);
    for (std::string line; std::getline(lines, line);) {
      EXPECT_LE(line.size(), 120U) << line;
      if (line.find(std::string("  holdfast ") + verb + " models/yard") != 0) continue;
      ++examples;
      Words words;
      std::istringstream parts(line.substr(line.find("holdfast ") + 9));
      for (std::string word; parts >> word;) words.push_back(word);
      EXPECT_EQ(holdfast(words).code, 0) << line;
    }
    EXPECT_EQ(examples, 2U);
  }
}

/// A deck of 12 x 12 m with a rail, and what else a test needs.
class Site {
 public:
  Site(const std::string& name, const std::string& more, const std::string& kit = "")
      : scratch_("site-" + name, source) {
    fs::create_directories(scratch_.folder() / "site");
    std::ofstream(scratch_.folder() / "site/kit.yaml")
        << "holdfast: kit/1\nsuits:\n  - {id: standard}\nfoot_restraints:\n  - {id: portable}\n"
        << kit;
    std::ofstream(scratch_.folder() / "site/structure.yaml")
        << "holdfast: structure/1\n"
           "name: Site\n"
           "parts:\n"
           "  - {id: deck, shape: {box: {center: [0, 0, 0.5], size: [12, 12, 1]}}}\n"
           "  - {id: bar, shape: {box: {center: [3, 0, -0.4], size: [0.06, 0.06, 0.2]}}}\n"
           "rails:\n"
           "  - {id: rail, part: deck, points: [[-1.5, 1, -0.07], [4.5, 1, -0.07]], outward: [0, 0, -1]}\n"
        << more;
  }
  [[nodiscard]] support::Ran run(const std::string& words) const { return scratch_.run(HOLDFAST_COMMAND, words); }
  [[nodiscard]] std::string file(const std::string& name) const {
    return support::contents_of(scratch_.folder() / name);
  }

 private:
  support::Scratch scratch_;
};

TEST(CommandWorksites, TellASocketInStructureWithItsLine) {
  const Site site("buried",
                  "sockets:\n  - {id: buried, at: [0, 0, 0.4], axis: [0, 0, -1]}\n"
                  "  - {id: afloat, at: [0, 0, -2], axis: [0, 0, -1]}\n"
                  "places:\n  - {id: plug, kind: connector, at: [1.3, 0, 0]}\n");
  const auto ran = site.run("reach site buried");
  EXPECT_EQ(ran.code, 2);
  EXPECT_EQ(ran.out, "");
  EXPECT_EQ(ran.err,
            "site/structure.yaml:9:5: socket \"buried\": the point 0.15 m off it along its axis lies in structure\n"
            "    put it on a surface, with its axis pointing outward\n");
  const auto afloat = site.run("reach site afloat --for 1.3,0,-2");
  EXPECT_THAT(afloat.out, HasSubstr("no surface within 0.15 m"));
  const auto check = site.run("check site");
  EXPECT_EQ(check.code, 1) << "an error of the model";
  EXPECT_THAT(check.out, HasSubstr("Sockets inside solids\n    site/structure.yaml:9:5: socket buried: "));
  EXPECT_THAT(check.out, HasSubstr("Sockets off structure\n    site/structure.yaml:10:5: socket afloat: "));
}

// The bar stands across the post alone: no body and no plate touches it.
TEST(CommandWorksites, TellTheLeastDepthWhereEverySettingCollides) {
  const Site site("collides",
                  "sockets:\n  - {id: s, at: [3, 0, 0], axis: [0, 0, -1]}\n"
                  "places:\n  - {id: plug, kind: connector, at: [4.3, 0, 0]}\n",
                  "  - {id: tall, height_m: [1.0], pitch_deg: [0, 15]}\n");
  const auto ran = site.run("reach site s --restraint tall");
  EXPECT_EQ(ran.code, 1);
  EXPECT_EQ(ran.err, "");
  EXPECT_THAT(ran.out,
              HasSubstr("in every setting the body collides. The least, by 0.04 m, is of the restraint with bar"));
  const auto document = json::parse(site.run("reach site s --restraint tall --json").out);
  const auto& depth = document["answers"][0]["sites"][0]["least_depth"];
  EXPECT_GE(depth["depth_m"].get<double>(), 0.03) << "the post's middle is 3 cm inside";
  EXPECT_LE(depth["depth_m"].get<double>(), 0.032);
  EXPECT_FALSE(depth["at_least"].get<bool>());
}

TEST(CommandWorksites, AreHeldByCheckToHaveRoomForSomeRestraint) {
  const auto kinds = [](const std::string& name, const std::string& at, const std::string& kit) {
    const Site site(name,
                    "sockets:\n  - {id: s, at: [" + at +
                        ", 0, 0], axis: [0, 0, -1]}\n"
                        "views:\n  - {id: blind, kind: window, at: [0, 0, 0.5], direction: [0, 0, -1]}\n",
                    kit);
    const auto document = json::parse(site.run("check site --json").out);
    EXPECT_EQ(support::schema_faults("result", document), "");
    std::vector<std::string> found;
    for (const auto& finding : document["findings"]) found.push_back(finding["kind"]);
    return found;
  };
  using testing::Contains;
  using testing::Not;
  EXPECT_THAT(kinds("roomy", "0", ""), Not(Contains("restraint-collides")));
  EXPECT_THAT(kinds("blind", "0", ""), Contains("view-in-solid"));
  EXPECT_THAT(kinds("bar", "3", ""), Contains("restraint-collides")) << "the bar is where the boots would be";
  EXPECT_THAT(kinds("bar-tall", "3", "  - {id: tall, height_m: [1.0]}\n"), Contains("restraint-collides"));
  EXPECT_THAT(kinds("bar-short", "3", "  - {id: short, height_m: [0.15]}\n"), Contains("restraint-collides"));
}

TEST(CommandWorksites, RefuseFilesWithWhatCannotBe) {
  const auto refused = [](const std::string& name, const std::string& more, const std::string& message) {
    SCOPED_TRACE(name);
    const Site site("bad-" + name, more);
    const auto ran = site.run("sight site");
    EXPECT_EQ(ran.code, 2);
    EXPECT_EQ(ran.out, "");
    EXPECT_THAT(ran.err, HasSubstr(message));
  };
  refused("no-area", "patches:\n  - {id: p, disc: {center: [0, 0, 0], normal: [0, 0, -1], radius: 0}}\n",
          "site/structure.yaml:9:67: patch \"p\": \"patches[0].disc.radius\" is 0\n");
  refused("no-angle", "views:\n  - {id: v, kind: window, at: [0, 0, 0], direction: [0, 0, -1], half_angle_deg: 0}\n",
          "site/structure.yaml:9:81: view \"v\": \"views[0].half_angle_deg\" is 0\n    it should be more than 0 and at "
          "most 180\n");
  refused("wide-angle",
          "views:\n  - {id: v, kind: window, at: [0, 0, 0], direction: [0, 0, -1], half_angle_deg: 181}\n",
          "view \"v\": \"views[0].half_angle_deg\" is 181\n    it should be more than 0 and at most 180\n");
}

TEST(CommandWorksites, TellWhatTethersHoldWhereBothHandsReach) {
  const Site site("held",
                  "  - {id: ahead, part: deck, points: [[1.6, -0.9, -0.07], [1.6, 0.9, -0.07]], outward: [0, 0, -1]}\n"
                  "anchors:\n  - {id: a, at: [1.3, -2, -0.02]}\n  - {id: b, at: [1.3, 2, -0.02]}\n"
                  "sockets:\n  - {id: s, at: [0, 0, 0], axis: [0, 0, -1]}\n"
                  "places:\n  - {id: bag, at: [1.3, 0, -0.5]}\n",
                  "tethers:\n  - {id: waist, length_m: 1.2, min_length_m: 0.6}\n  - {id: reel, length_m: 26}\n");
  const auto ran = site.run("reach site s --for bag --hold");
  EXPECT_EQ(ran.code, 0) << ran.err;
  EXPECT_THAT(ran.out, HasSubstr("Something at bag, in the two-hand zone of "));
  EXPECT_THAT(ran.out, HasSubstr("waist + waist from a, "));
  const auto one = json::parse(site.run("reach site s --for bag --hold --hook b --json").out);
  EXPECT_EQ(support::schema_faults("result", one), "");
  for (const auto& hold : one["answers"][0]["held"][0]["by"]) EXPECT_EQ(hold["hook"], "b");
  EXPECT_FALSE(one["answers"][0]["held"][0]["by"].empty());
  EXPECT_EQ(site.run("reach site s --for bag --hold --tether reel --hook a").code, 0) << "named, a reel counts";
  EXPECT_THAT(site.run("reach site s --for bag --tether waist").err, HasSubstr("--tether and --hook need --hold"));
  EXPECT_THAT(site.run("reach site s --for bag --hold --hook c").err, HasSubstr("\"c\""));
  EXPECT_THAT(site.run("reach site s --for bag --hold --tether waste").err, HasSubstr("its tethers: waist, reel"));
}

TEST(CommandDraw, ShowsWorksitesAndWhatIsSeen) {
  const support::Scratch scratch("draw-worksites", source);
  const auto run = [&](const std::string& words) { return scratch.run(HOLDFAST_COMMAND, words); };
  (void)run("reach models/yard port-socket --for port-plug port-end --from lock-hatch --json > reach.json");
  (void)run("sight models/yard --json > sight.json");
  const auto ran = run("draw models/yard reach.json sight.json --html a.html --svg a.svg --glb a.glb --json");
  ASSERT_EQ(ran.code, 0) << ran.err;
  const auto page = support::contents_of(scratch.folder() / "a.html"),
             sheet = support::contents_of(scratch.folder() / "a.svg");
  for (const char* words : {"\"worksites\":[{\"name\":\"port-socket\"", "roll 60 deg, pitch 75 deg",
                            "\"kind\":\"two-hand\"", "\"name\":\"mast-camera\"", "\"id\":\"spur-end\""})
    EXPECT_THAT(page, HasSubstr(words));
  for (const char* words : {"class=\"target two-hand\"", "class=\"target one-hand\"", "class=\"patch seen\"",
                            "class=\"field\"", "class=\"figure\""})
    EXPECT_THAT(sheet, HasSubstr(words));
  (void)run("reach models/yard beam-socket --over arm --json > over.json");
  EXPECT_THAT(run("draw models/yard over.json --svg b.svg").err, HasSubstr("a drawing shows one"));
  EXPECT_EQ(run("draw models/yard reach.json --svg b.svg --set foot_restraints.portable.height_m=0.4").code, 2)
      << "the restraint has changed since";
}

}  // namespace
}  // namespace holdfast
