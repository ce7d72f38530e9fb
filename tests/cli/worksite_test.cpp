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

}  // namespace
}  // namespace holdfast
