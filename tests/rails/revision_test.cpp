// SPDX-License-Identifier: GPL-3.0-or-later
// Two revisions of a mesh: ids, edits, what moved.

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <unistd.h>

#include <filesystem>
#include <fstream>
#include <sstream>

#include "holdfast/model/read.h"
#include "holdfast/report/rails.h"
#include "railed_mesh.h"

namespace holdfast {
namespace {

using geometry::Vec3;
using testing::HasSubstr;
using testing::Not;

/// A deck with three rails on posts; one is shifted, one is left out.
geometry::NamedMesh deck(double shift_m, bool has_third) {
  geometry::TriangleMesh mesh;
  const auto bar = [&](const Vec3& a, const Vec3& b, double diameter) {
    support::sweep(mesh, {a, b}, std::vector<Vec3>(2, (b - a).unitOrthogonal()),
                   support::round_outline(diameter, 12, 0), false, {true, true});
  };
  const Vec3 up(0, 0, -1);
  mesh.vertices = {{0, 0, 0}, {4, 0, 0}, {4, 4, 0}, {0, 4, 0}, {0, 0, 1}, {4, 0, 1}, {4, 4, 1}, {0, 4, 1}};
  mesh.triangles = {{0, 2, 1}, {0, 3, 2}, {4, 5, 6}, {4, 6, 7}, {0, 1, 5}, {0, 5, 4},
                    {1, 2, 6}, {1, 6, 5}, {2, 3, 7}, {2, 7, 6}, {3, 0, 4}, {3, 4, 7}};
  const auto rail = [&](double x, double y) {
    bar({x, y, -0.09}, {x + 1.5, y, -0.09}, 0.03);
    for (const double at : {0.1, 1.4}) bar({x + at, y, 0}, {x + at, y, -0.09}, 0.02);
  };
  rail(0.5, 1), rail(0.5 + shift_m, 2);
  if (has_third) rail(2.3, 3);
  return support::named(mesh);
}

std::string table_of(const geometry::NamedMesh& mesh, const std::string& before) {
  const rails::Options asked{.design = model::default_design_values()};
  const auto found = rails::find_rails(mesh, asked);
  report::RailsReport report{
      .found = found, .asked = asked, .source = "deck.obj", .part = "deck", .engine_version = "0"};
  std::vector<model::RailTableRow> rows;
  rails::Revision revision;
  if (!before.empty()) {
    rows = model::read_rail_table(before, "rails.csv");
    revision = rails::compare_with(found, rows);
    report.revision = &revision, report.before = &rows, report.against = "rails.csv";
  }
  return report::csv(report);
}

std::string with(std::string text, const std::string& old, const std::string& now) {
  const auto at = text.find(old);
  EXPECT_NE(at, std::string::npos) << old << " in\n" << text;
  return at == std::string::npos ? text : text.replace(at, old.size(), now);
}

TEST(RailRevision, WritesTheSameTableForTheSameMesh) {
  const auto first = table_of(deck(0, true), "");
  EXPECT_EQ(std::count(first.begin(), first.end(), '\n'), 4);
  EXPECT_EQ(table_of(deck(0, true), first), first);
}

TEST(RailRevision, IsReadAsRailsOfAModel) {
  const auto folder = std::filesystem::temp_directory_path() / ("holdfast-rails-" + std::to_string(::getpid()));
  std::filesystem::create_directories(folder);
  std::ofstream(folder / "rails.csv") << table_of(deck(0, true), "");
  const auto structure = model::read_structure_text(
      "holdfast: structure/1\nname: Deck\nparts:\n  - {id: deck, shape: {box: {center: [2, 2, 0.5], size: [4, 4, "
      "1]}}}\nrail_files: [rails.csv]\n",
      folder.string());
  std::filesystem::remove_all(folder);
  ASSERT_EQ(structure.rails.size(), 3U);
  for (const auto& rail : structure.rails) {
    EXPECT_TRUE(rail.use.hands);
    EXPECT_FALSE(rail.use.tether);
    ASSERT_EQ(rail.outward.size(), 1U);
    EXPECT_NEAR(rail.outward[0][0].z(), -1, 1e-3);
    EXPECT_NEAR((rail.points[1] - rail.points[0]).norm(), 1.5, 0.004);
  }
}

TEST(RailRevision, KeepsIdsAndEditsAndTellsWhatMoved) {
  auto first = table_of(deck(0, true), "");
  // A flag, a load limit and a column of the planner's own; one row shortened by hand; one row of the planner's own.
  std::istringstream lines(first);
  std::string header, edited;
  std::getline(lines, header);
  std::vector<std::string> rows;
  for (std::string line; std::getline(lines, line);) rows.push_back(line);
  ASSERT_EQ(rows.size(), 3U);
  std::string table = header + ",inspected\n";
  for (auto row : rows) {
    if (row.find(",1.0000,-0.0900,") != std::string::npos) row = with(row, ",yes,no,no,,", ",no,yes,no,830,");
    if (row.find(",2.0000,-0.0900,") != std::string::npos) {
      edited = row.substr(0, row.find(','));
      const auto x1 = row.find(",deck,") + 6;
      row.replace(x1, row.find(',', x1) - x1, "0.7000");
    }
    table += row + ",by hand\n";
  }
  table += "mine,deck,1,1,-0.5,2,1,-0.5,,,,yes,no,no,,,,,,,,,,\n";
  const auto found = rails::find_rails(deck(0.05, false), {.design = model::default_design_values()});
  const auto before = model::read_rail_table(table, "rails.csv");
  const auto revision = rails::compare_with(found, before);
  ASSERT_EQ(revision.pieces.size(), 2U);
  EXPECT_EQ(revision.gone.size(), 1U);
  ASSERT_EQ(revision.by_hand.size(), 1U);
  EXPECT_EQ(before[revision.by_hand[0]].id, "mine");
  for (const auto& piece : revision.pieces) {
    ASSERT_TRUE(piece.before);
    EXPECT_EQ(piece.id, before[*piece.before].id);
    EXPECT_NEAR(piece.moved_m, piece.id == edited ? 0.05 : 0, 0.002);
    EXPECT_EQ(piece.is_edited, piece.id == edited);
  }
  const auto second = table_of(deck(0.05, false), table);
  EXPECT_THAT(second, HasSubstr(",no,yes,no,830,"));
  EXPECT_THAT(second, HasSubstr("0.7000,2.0000"));
  EXPECT_THAT(second, HasSubstr("mine,deck,1.0000,1.0000,-0.5000,2.0000"));
  EXPECT_THAT(second, HasSubstr("by hand"));
}

TEST(RailTable, RefusesWhatIsNoNumber) {
  try {
    (void)model::read_rail_table("id,part,x1,y1,z1,x2,y2,z2\nr,deck,0,0,zero,1,0,0\nr,deck,0,0,0,,,\n", "rails.csv");
    FAIL();
  } catch (const model::InputError& error) {
    ASSERT_EQ(error.diagnostics().size(), 2U);
    EXPECT_EQ(error.diagnostics()[0].text(),
              "rails.csv:2:1: rail \"r\": \"z1\" is \"zero\", not a number\n    write a number of metres");
    EXPECT_EQ(error.diagnostics()[1].code, "duplicate-id");
  }
}

}  // namespace
}  // namespace holdfast
