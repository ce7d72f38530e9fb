// `rails`, from the command line: what it prints, writes and refuses.

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
using support::Ran;
using testing::HasSubstr;

const fs::path source = HOLDFAST_SOURCE_DIR;

Ran rails(std::vector<std::string> words) {
  words.insert(words.begin(), "rails");
  return support::run_command(HOLDFAST_COMMAND, words, {source});
}

std::string contents(const fs::path& file) {
  std::ifstream in(file, std::ios::binary);
  return {std::istreambuf_iterator<char>(in), {}};
}

TEST(CommandRails, AnswersInJsonAsTheSchemaSays) {
  const auto ran = rails({"models/cabin/cabin.obj", "--json", "--against", "models/cabin/rails.csv"});
  ASSERT_EQ(ran.code, 0) << ran.err;
  const auto document = json::parse(ran.out);
  EXPECT_EQ(support::schema_faults("result", document), "");
  EXPECT_EQ(document["outcome"], "rails");
  EXPECT_EQ(document["rails"].size(), 8U);
  EXPECT_EQ(document["posts"].size(), 30U);
  EXPECT_EQ(document["doubtful"].size(), 3U);
  EXPECT_TRUE(document["against"]["gone"].empty());
}

TEST(CommandRails, WritesTheTableAndTheStructureOfTheCabin) {
  const support::Scratch scratch("rails", source);
  const auto ran = scratch.run(HOLDFAST_COMMAND,
                               "rails models/cabin/cabin.obj --in cabin --write rails.csv --without-rails body.obj");
  ASSERT_EQ(ran.code, 0) << ran.err;
  EXPECT_EQ(contents(scratch.folder() / "rails.csv"), contents(source / "models/cabin/rails.csv"));
  // Its first line names the files as they were given.
  const auto after_title = [](const std::string& text) { return text.substr(text.find('\n')); };
  EXPECT_EQ(after_title(contents(scratch.folder() / "body.obj")),
            after_title(contents(source / "models/cabin/body.obj")));
}

TEST(CommandRails, SaysWhatCameNearestWhereThereIsNone) {
  const auto ran = rails({"models/yard", "--in", "rack"});
  EXPECT_EQ(ran.code, 1) << ran.err;
  EXPECT_THAT(ran.out, HasSubstr("\nNo rail found.\n  Nearest came rail-"));
  EXPECT_THAT(ran.out, HasSubstr("too thick for a glove: 60 mm, more than 57 mm"));
  const auto document = json::parse(rails({"models/yard", "--in", "rack", "--json"}).out);
  EXPECT_EQ(support::schema_faults("result", document), "");
  EXPECT_EQ(document["outcome"], "no-rails");
}

TEST(CommandRails, SaysWhichUnitWouldFit) {
  const support::Scratch scratch("unit", source);
  std::ofstream out(scratch.folder() / "mm.obj");
  std::ifstream in(source / "models/cabin/cabin.obj");
  for (std::string line; std::getline(in, line);) {
    double x = 0, y = 0, z = 0;
    if (std::sscanf(line.c_str(), "v %lf %lf %lf", &x, &y, &z) == 3)
      out << "v " << x * 1000 << ' ' << y * 1000 << ' ' << z * 1000 << '\n';
    else
      out << line << '\n';
  }
  out.close();
  const auto in_mm = scratch.run(HOLDFAST_COMMAND, "rails mm.obj");
  EXPECT_EQ(in_mm.code, 1) << in_mm.err;
  EXPECT_THAT(in_mm.out, HasSubstr("If the file is in mm, it has"));
  EXPECT_THAT(in_mm.out, HasSubstr("--unit mm"));
  EXPECT_EQ(scratch.run(HOLDFAST_COMMAND, "rails mm.obj --unit mm").code, 0);
}

TEST(CommandRails, RefusesWhatItCannotLookInto) {
  const auto refused = [](const std::vector<std::string>& words, const std::string& message) {
    const auto ran = rails(words);
    EXPECT_EQ(ran.code, 2);
    EXPECT_THAT(ran.err, HasSubstr(message));
    EXPECT_EQ(ran.out, "");
  };
  refused({"models/cabin/cabin.obj", "--node", "*handrial*"}, "no node of the mesh matches \"*handrial*\"\n");
  refused({"models/yard", "--in", "rak"}, "part \"rak\" does not exist\n    did you mean rack?\n");
  refused({"models/yard", "--in", "stores-drum"}, "part \"stores-drum\" is no mesh: its shape is given in numbers");
  refused({"models/cabin/cabin.obj", "--accept", "rail-nowhere"}, "no doubtful piece has the id \"rail-nowhere\"\n");
  refused({"models/cabin/cabin.obj", "--write", "x.csv", "--without-rails", "x.csv"}, "name the same file: x.csv");
  refused({"models/cabin/missing.obj"}, "\"missing.obj\" does not exist");
}

TEST(CommandRails, TakesInADoubtfulPieceThatIsAccepted) {
  const auto before = json::parse(rails({"models/cabin/cabin.obj", "--json"}).out);
  const std::string id = before["doubtful"][0]["id"];
  const auto after = json::parse(rails({"models/cabin/cabin.obj", "--json", "--accept", id}).out);
  EXPECT_EQ(after["doubtful"].size(), before["doubtful"].size() - 1);
  EXPECT_EQ(after["rails"].size(), before["rails"].size() + 1);
}

}  // namespace
}  // namespace holdfast
