// SPDX-License-Identifier: GPL-3.0-or-later
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
  // And the other way round: a file in metres, said to be in millimetres.
  const auto in_m = scratch.run(HOLDFAST_COMMAND, "rails models/cabin/cabin.obj --unit mm");
  EXPECT_EQ(in_m.code, 1) << in_m.err;
  EXPECT_THAT(in_m.out, HasSubstr("If the file is in m, it has"));
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
  refused({"models/cabin/missing.obj"},
          "missing.obj: this file does not exist\n    give a mesh file, or a model folder\n");
}

TEST(CommandRails, TakesInADoubtfulPieceThatIsAccepted) {
  const auto before = json::parse(rails({"models/cabin/cabin.obj", "--json"}).out);
  const std::string id = before["doubtful"][0]["id"];
  const auto after = json::parse(rails({"models/cabin/cabin.obj", "--json", "--accept", id}).out);
  EXPECT_EQ(after["doubtful"].size(), before["doubtful"].size() - 1);
  EXPECT_EQ(after["rails"].size(), before["rails"].size() + 1);
}

// ---- seen ---------------------------------------------------------------------------------------------------------

/// How often `piece` stands in `text`.
std::size_t count(const std::string& text, const std::string& piece) {
  std::size_t n = 0;
  for (auto at = text.find(piece); at != std::string::npos; at = text.find(piece, at + 1)) ++n;
  return n;
}

TEST(RailsDrawn, ShowSurenessAndTheNumbersOfTheList) {
  const support::Scratch scratch("drawn", source);
  const auto found = scratch.run(HOLDFAST_COMMAND, "rails models/cabin/cabin.obj --in cabin --json");
  ASSERT_EQ(found.code, 0) << found.err;
  std::ofstream(scratch.folder() / "rails.json") << found.out;
  const auto drawn =
      scratch.run(HOLDFAST_COMMAND, "draw models/cabin rails.json --svg a.svg --html a.html --glb a.glb --quiet");
  ASSERT_EQ(drawn.code, 0) << drawn.err;
  const auto document = json::parse(found.out);
  const auto sheet = contents(scratch.folder() / "a.svg"), page = contents(scratch.folder() / "a.html");
  for (const auto* list : {"rails", "doubtful", "posts"})
    for (const auto& rail : document[list]) {
      const std::string id = rail["id"];
      EXPECT_THAT(sheet, HasSubstr("data-found=\"" + id + "\""));
      EXPECT_THAT(page, HasSubstr("\"id\":\"" + id + "\""));
      EXPECT_THAT(contents(scratch.folder() / "a.glb"), HasSubstr(id));
    }
  // Numbers as in the text's list, with what speaks against each, in the legend and at the pieces of each view.
  std::size_t number = 0;
  for (const auto& rail : document["doubtful"]) {
    ++number;
    EXPECT_THAT(page,
                HasSubstr("\"id\":\"" + rail["id"].get<std::string>() + "\",\"number\":" + std::to_string(number)));
    EXPECT_GE(count(sheet, "\">" + std::to_string(number) + "</text>"), 2U) << "the legend and a view";
  }
  EXPECT_THAT(sheet, HasSubstr("too near the surface"));
  // Told apart without colour: no dashes, long ones, dots.
  EXPECT_THAT(sheet, HasSubstr("found doubtful\""));
  EXPECT_THAT(sheet, HasSubstr("rail found, sure: 8,"));
  EXPECT_THAT(sheet, HasSubstr("doubtful: not in the table: 3,"));
}

TEST(RailsDrawn, AreRefusedOnAnotherModel) {
  const support::Scratch scratch("drawn-refused", source);
  const auto refused = [&](const std::string& words, const std::string& message) {
    const auto ran = scratch.run(HOLDFAST_COMMAND, words);
    EXPECT_EQ(ran.code, 2);
    EXPECT_THAT(ran.err, HasSubstr(message));
  };
  const auto write = [&](const std::string& name, const json& document) {
    std::ofstream(scratch.folder() / name) << document.dump();
  };
  auto document = json::parse(scratch.run(HOLDFAST_COMMAND, "rails models/cabin/cabin.obj --in cabin --json").out);
  write("a.json", document);
  refused("draw models/yard a.json --svg a.svg",
          "its rails stand on part \"cabin\", and this model has none of that name");
  refused("draw models/cabin a.json a.json --svg a.svg", "it is the second result of rails in one drawing");
  document["rails"][0]["points"] = json::array();
  write("b.json", document);
  refused("draw models/cabin b.json --svg a.svg", "b.json: a rail in it has no points");
  document["rails"][0].erase("points");
  write("c.json", document);
  refused("draw models/cabin c.json --svg a.svg", "field \"points\" is missing or of the wrong kind");
  EXPECT_FALSE(fs::exists(scratch.folder() / "a.svg"));
}

// A rail's own triangles are no obstacle to who holds it: with them in the structure the corridor is narrower.
TEST(CommandRails, LeavesRailsOutOfWhatBodiesKeepClearOf) {
  const support::Scratch scratch("without", source);
  ASSERT_EQ(
      scratch
          .run(HOLDFAST_COMMAND, "rails models/cabin/cabin.obj --in cabin --write rails.csv --without-rails body.obj")
          .code,
      0);
  const auto clearance = [&](const std::string& mesh) {
    const fs::path model = scratch.folder() / ("model-" + mesh);
    fs::create_directories(model);
    fs::copy_file(mesh == "body.obj" ? scratch.folder() / mesh : source / "models/cabin" / mesh, model / mesh);
    fs::copy_file(scratch.folder() / "rails.csv", model / "rails.csv");
    fs::copy_file(source / "models/cabin/kit.yaml", model / "kit.yaml");
    auto structure = contents(source / "models/cabin/structure.yaml");
    const std::string named = "{file: body.obj}";
    structure.replace(structure.find(named), named.size(), "{file: " + mesh + "}");
    std::ofstream(model / "structure.yaml") << structure;
    const auto ran = scratch.run(HOLDFAST_COMMAND, "route model-" + mesh + " --from hatch --to window --json");
    if (ran.code != 0) return 0.0;
    return json::parse(ran.out)["route"]["clearance"]["m"].get<double>();
  };
  const double without = clearance("body.obj"), with = clearance("cabin.obj");
  EXPECT_GT(without, with + 0.02);
  EXPECT_EQ(scratch.run(HOLDFAST_COMMAND, "check model-body.obj --quiet").code, 0);
  EXPECT_EQ(scratch.run(HOLDFAST_COMMAND, "draw model-body.obj --svg body.svg --quiet").code, 0);
}

// From a mesh alone: its model is written, and check, route and draw take it.
TEST(CommandRails, MakeAModelOfAMeshAlone) {
  const support::Scratch scratch("model", source);
  const auto made = scratch.run(HOLDFAST_COMMAND, "rails models/cabin/cabin.obj --write-model my-cabin --json");
  ASSERT_EQ(made.code, 0) << made.err;
  const auto document = json::parse(made.out);
  EXPECT_EQ(support::schema_faults("result", document), "");
  EXPECT_EQ(document["written"].size(), 4U);
  const auto model = scratch.folder() / "my-cabin";
  EXPECT_EQ(contents(model / "rails.csv"), contents(source / "models/cabin/rails.csv"));
  const auto checked = scratch.run(HOLDFAST_COMMAND, "check my-cabin");
  EXPECT_EQ(checked.code, 0) << checked.out << checked.err;
  EXPECT_THAT(checked.out, HasSubstr("cabin: 1 part, 73 rails"));
  EXPECT_THAT(checked.out, testing::Not(HasSubstr("is not read"))) << "its own columns are no slip of anyone";
  const auto way = " --from 0.3,0,-1.585 --to 3.6,1.585,0 --json";
  const auto routed = scratch.run(HOLDFAST_COMMAND, std::string("route my-cabin") + way);
  ASSERT_EQ(routed.code, 0) << routed.err;
  // The rails' own triangles are no obstacle: the mesh as it was leaves less room.
  fs::copy_file(source / "models/cabin/cabin.obj", model / "body.obj", fs::copy_options::overwrite_existing);
  const auto with_rails = scratch.run(HOLDFAST_COMMAND, std::string("route my-cabin") + way);
  const auto clearance = [](const Ran& ran) { return json::parse(ran.out)["route"]["clearance"]["m"].get<double>(); };
  EXPECT_TRUE(with_rails.code != 0 || clearance(with_rails) + 0.02 < clearance(routed));
  // What stands there is not written over, and nothing is written where there is no rail.
  const auto again = scratch.run(HOLDFAST_COMMAND, "rails models/cabin/cabin.obj --write-model my-cabin");
  EXPECT_EQ(again.code, 2);
  EXPECT_THAT(again.err, HasSubstr("structure.yaml is there already"));
  EXPECT_EQ(scratch.run(HOLDFAST_COMMAND, "rails models/cabin/cabin.obj --node pipe --write-model none").code, 1);
  EXPECT_FALSE(fs::exists(scratch.folder() / "none"));
  const auto of_model = scratch.run(HOLDFAST_COMMAND, "rails models/cabin --in cabin --write-model other");
  EXPECT_EQ(of_model.code, 2);
  EXPECT_THAT(of_model.err, HasSubstr("MODEL is a model already"));
}

// Neither the mesh file, nor what a model is made of, nor the table before.
TEST(CommandRails, WriteOverNoneOfTheirInputs) {
  const support::Scratch scratch("inputs", source);
  fs::copy(source / "models/cabin", scratch.folder() / "cabin");
  const auto structure = scratch.folder() / "cabin/structure.yaml";
  auto text = contents(structure);
  text.replace(text.find("{file: body.obj}"), 16, "{file: cabin.obj}");
  std::ofstream(structure) << text;
  for (const std::string mesh : {"cabin", "cabin/cabin.obj"})
    for (const std::string target : {"cabin/cabin.obj", "cabin/rails.csv", "cabin/structure.yaml"})
      for (const std::string option : {"--write ", "--without-rails "}) {
        const bool is_input = mesh == "cabin" || target != "cabin/structure.yaml";
        if (!is_input) continue;
        const auto before = contents(scratch.folder() / target);
        const auto ran =
            scratch.run(HOLDFAST_COMMAND, "rails " + mesh + " --in cabin --against cabin/rails.csv " + option + target);
        EXPECT_EQ(ran.code, 2) << mesh << ' ' << option << target;
        EXPECT_EQ(contents(scratch.folder() / target), before) << mesh << ' ' << option << target;
      }
}

// ---- revisions ----------------------------------------------------------------------------------------------------

TEST(CommandRails, KeepsWhatWasEditedByHandAgainstANewRevision) {
  const support::Scratch scratch("against", source);
  auto table = contents(source / "models/cabin/rails.csv");
  const auto row = table.find("\ngrip-");
  ASSERT_NE(row, std::string::npos);
  const auto flags = table.find(",yes,no,no,,", row);
  table.replace(flags, 12, ",no,yes,no,900,");
  table += "mine,cabin,1,0,-1.7,2,0,-1.7,,,,yes,no,no,,,,,,,,,\n";
  std::ofstream(scratch.folder() / "old.csv") << table;
  const auto ran =
      scratch.run(HOLDFAST_COMMAND, "rails models/cabin/cabin.obj --in cabin --against old.csv --write new.csv");
  ASSERT_EQ(ran.code, 0) << ran.err;
  EXPECT_THAT(ran.out, HasSubstr("0 moved, 0 new, 0 gone"));
  EXPECT_THAT(ran.out, HasSubstr("1 written by hand"));
  const auto now = contents(scratch.folder() / "new.csv");
  EXPECT_THAT(now, HasSubstr(",no,yes,no,900,"));
  EXPECT_THAT(now, HasSubstr("\nmine,cabin,1.0000,0.0000,-1.7000,2.0000"));
  // Again, against what was just written: nothing changes any more.
  const auto again =
      scratch.run(HOLDFAST_COMMAND, "rails models/cabin/cabin.obj --in cabin --against new.csv --write again.csv");
  ASSERT_EQ(again.code, 0);
  EXPECT_EQ(contents(scratch.folder() / "again.csv"), now);
}

// ---- meshes that are not as they should be ------------------------------------------------------------------------

TEST(CommandRails, SaysThatAMeshWithoutThinPiecesHasNone) {
  const support::Scratch scratch("none", source);
  std::ofstream(scratch.folder() / "box.off")
      << "OFF\n8 12 0\n0 0 0\n4 0 0\n4 4 0\n0 4 0\n0 0 1\n4 0 1\n4 4 1\n0 4 1\n"
         "3 0 2 1\n3 0 3 2\n3 4 5 6\n3 4 6 7\n3 0 1 5\n3 0 5 4\n3 1 2 6\n3 1 6 5\n3 2 3 7\n3 2 7 6\n3 3 0 4\n3 3 4 7\n";
  const auto ran = scratch.run(HOLDFAST_COMMAND, "rails box.off --write rails.csv --without-rails body.obj");
  EXPECT_EQ(ran.code, 1) << ran.err;
  EXPECT_THAT(ran.out, HasSubstr("\nNo rail found.\n  Nothing in it is thin and long.\n"));
  EXPECT_FALSE(fs::exists(scratch.folder() / "rails.csv"));
  EXPECT_FALSE(fs::exists(scratch.folder() / "body.obj"));
}

TEST(CommandRails, NamesTheNearestNodes) {
  const auto ran = rails({"models/cabin/cabin.obj", "--node", "handrial_ring"});
  EXPECT_EQ(ran.code, 2);
  EXPECT_THAT(ran.err, HasSubstr("the nearest names are: handrail_ring"));
}

}  // namespace
}  // namespace holdfast
