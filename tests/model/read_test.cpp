// SPDX-License-Identifier: GPL-3.0-or-later
#include "holdfast/model/read.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <unistd.h>

#include <algorithm>
#include <cmath>
#include <filesystem>
#include <fstream>
#include <numbers>
#include <random>
#include <set>
#include <sstream>

namespace holdfast::model {
namespace {

namespace fs = std::filesystem;
const std::string head = "holdfast: structure/1\n";

/// Codes of all faults, in order; empty when the text is read.
std::vector<std::string> codes_of(const std::string& text) {
  try {
    (void)read_structure_text(text);
  } catch (const InputError& error) {
    std::vector<std::string> codes;
    for (const auto& diagnostic : error.diagnostics()) codes.push_back(diagnostic.code);
    return codes;
  }
  return {};
}

TEST(Read, ShapesAndPoses) {
  const auto s = read_structure_text(
      head +
      "parts:\n"
      "  - {id: a, shape: {box: {size: [1, 2, 3]}}, at: {position: [1, 0, 0], turn: {axis: [0, 0, 2], deg: 90}}}\n"
      "  - {id: b, shape: {dish: {radius: 2, depth: 0.5}}, at: {turn: [{axis: [1, 0, 0], deg: 90}, {axis: [0, 0, 1], "
      "deg: 90}]}}\n");
  ASSERT_EQ(s.parts.size(), 2u);
  EXPECT_NEAR((s.parts[0].at * Vec3(1, 0, 0) - Vec3(1, 1, 0)).norm(), 0, 1e-12);
  // Turns apply in the order written, about the axes of the frame outside: z -> -y -> x.
  EXPECT_NEAR((s.parts[1].at * Vec3(0, 0, 1) - Vec3(1, 0, 0)).norm(), 0, 1e-12);
  EXPECT_EQ(std::get<Dish>(s.parts[1].shape).thickness, 0.02);
}

TEST(Read, RepeatMakesCopiesByStepAndRoundAnAxisAndSkips) {
  const auto s =
      read_structure_text(head +
                          "parts: [{id: d, shape: {sphere: {radius: 1}}}]\n"
                          "rails:\n"
                          "  - {id: s, part: d, points: [[0, 0, -1.1]], repeat: {count: 3, step: [0.5, 0, 0]}}\n"
                          "  - {id: r, part: d, points: [[0, 0, -1.1]], outward: [0, 0, -1], repeat: {count: 4, about: "
                          "{axis: [1, 0, 0], deg: 90}, skip: [3]}}\n");
  ASSERT_EQ(s.rails.size(), 6u);
  EXPECT_EQ(s.rails[2].id, "s-3");
  EXPECT_NEAR(s.rails[2].points[0].x(), 1.0, 1e-12);
  EXPECT_EQ(s.rails[4].id, "r-2");
  EXPECT_NEAR((s.rails[4].points[0] - Vec3(0, 1.1, 0)).norm(), 0, 1e-12);
  EXPECT_NEAR((s.rails[4].outward[0][0] - Vec3(0, 1, 0)).norm(), 0, 1e-12);
  EXPECT_EQ(s.rails[5].id, "r-4");
}

TEST(Read, StructureFrameIsTakenIntoThePartsFrame) {
  const auto s = read_structure_text(
      head +
      "parts: [{id: d, shape: {sphere: {radius: 1}}, at: {position: [5, 0, 0], turn: {axis: [0, 0, 1], deg: 90}}}]\n"
      "rails: [{id: r, part: d, frame: structure, points: [[5, 1.1, 0]], outward: [0, 1, 0]}]\n"
      "places: [{id: p, part: d, frame: structure, at: [5, 2, 0]}]\n");
  EXPECT_NEAR((s.rails[0].points[0] - Vec3(1.1, 0, 0)).norm(), 0, 1e-12);
  EXPECT_NEAR((s.rails[0].outward[0][0] - Vec3(1, 0, 0)).norm(), 0, 1e-12);
  EXPECT_NEAR((s.pose(PartId(0), {}) * s.places[0].at - Vec3(5, 2, 0)).norm(), 0, 1e-12);
}

TEST(Read, SwitchesDecidePosesAndPresence) {
  const auto s = read_structure_text(head +
                                     "states: {arm: {positions: [in, out], default: out}}\n"
                                     "parts:\n"
                                     "  - {id: a, shape: {sphere: {radius: 1}}, poses: {arm: {in: {position: [1, 0, "
                                     "0]}, out: {position: [2, 0, 0]}}}}\n"
                                     "  - {id: b, shape: {sphere: {radius: 1}}, when: {arm: [in]}}\n"
                                     "rails: [{id: r, part: b, points: [[0, 0, -1.1]]}]\n");
  const auto out = s.default_configuration();
  const auto in = configure(s, {"arm=in"});
  EXPECT_EQ(s.pose(PartId(0), out).translation().x(), 2);
  EXPECT_EQ(s.pose(PartId(0), in).translation().x(), 1);
  EXPECT_FALSE(s.is_present(RailId(0), out));
  EXPECT_TRUE(s.is_present(RailId(0), in));
  EXPECT_THROW((void)configure(s, {"arm"}), InputError);
  try {
    (void)configure(s, {"arm=up", "leg=in"});
    FAIL();
  } catch (const InputError& error) {
    ASSERT_EQ(error.diagnostics().size(), 2u);
    EXPECT_EQ(error.diagnostics()[0].text(), "switch \"arm\" has no position \"up\"\n    its positions: in, out");
    EXPECT_EQ(error.diagnostics()[1].text(), "switch \"leg\" is not in this model\n    its switches: arm");
  }
}

TEST(Read, JsonIsYaml) {
  EXPECT_EQ(
      read_structure_text(
          "{\"holdfast\": \"structure/1\", \"parts\": [{\"id\": \"a\", \"shape\": {\"sphere\": {\"radius\": 1}}}]}")
          .parts.size(),
      1u);
}

TEST(Read, ByteOrderMarkAndWindowsLineEndsAreTaken) {
  EXPECT_EQ(read_structure_text("\xEF\xBB\xBFholdfast: structure/1\r\nname: x\r\n").name, "x");
}

TEST(Read, KitKeepsTheSourceOfEachNumber) {
  const auto kit = read_kit_text(
      "holdfast: kit/1\nsuits:\n  - {id: s, reach_m: {value: 0.7, source: a trial, confidence: computed}, mass_kg: "
      "210}\n");
  const auto& suit = kit.suits[0];
  EXPECT_EQ(suit.reach_m.source, "a trial");
  EXPECT_EQ(suit.reach_m.confidence, Confidence::Computed);
  EXPECT_EQ(suit.mass_kg.source, "kit file");
  EXPECT_EQ(suit.corridor_diameter_m.confidence, Confidence::Memory)
      << "a default that nobody has checked against the document";
  EXPECT_NEAR(suit.turn_limit_rad, std::numbers::pi / 2, 1e-12);
}

TEST(Read, EveryDefaultHasASource) {
  const auto suit = default_suit();
  const auto design = default_design_values();
  for (const auto* q : {&suit.corridor_diameter_m,
                        &suit.stand_off_m,
                        &suit.reach_m,
                        &suit.turn_limit_rad,
                        &suit.lean_rad,
                        &suit.glove_m,
                        &suit.mass_kg,
                        &suit.stop_force_n,
                        &suit.stop_distance_m,
                        &suit.rate_free_m_s,
                        &suit.rate_loaded_m_s,
                        &suit.regrip_s,
                        &suit.one_hand_s,
                        &suit.turn_rate_rad_s,
                        &suit.rail_change_s,
                        &suit.start_s,
                        &suit.stop_s,
                        &suit.tether_hook_s,
                        &design.grip_spacing_m,
                        &design.handhold_gap_warn_m,
                        &design.handhold_gap_error_m,
                        &design.rail_clear_m,
                        &design.grip_length_m,
                        &design.worksite_handhold_m,
                        &design.worksite_diameter_m,
                        &design.kick_band_m,
                        &design.kick_load_n,
                        &design.rail_load_n,
                        &design.emergency_return_s,
                        &design.emergency_warn_s,
                        &design.excursion_s})
    EXPECT_FALSE(q->source.empty());
}

TEST(Read, KickValuesAreThoseOfThePublishedTable) {
  // SSP 30256:001 Rev F (1997), Table 3.1.3-1, p. 3-5: 556 N (125 lbf) within 0.61 m (24 in).
  const auto design = default_design_values();
  EXPECT_DOUBLE_EQ(design.kick_band_m, 0.61);
  EXPECT_DOUBLE_EQ(design.kick_load_n, 556);
  EXPECT_EQ(design.kick_band_m.confidence, Confidence::Published);
}

TEST(Read, SlackDefaultIsTheShallowArcOfTheHandbook) {
  // FAA AC 43.13-1B par. 11-118: 12.7 mm of sag by hand; extra length 8 h^2 / (3 L) in a span of 0.61 m.
  EXPECT_NEAR(default_cable().slack_fraction, 8 * 0.0127 * 0.0127 / (3 * 0.61) / 0.61, 1e-5);
}

TEST(ReadKit, TakesEitherSideAndSeveralMannersOfCarrying) {
  const auto kit = read_kit_text(
      "holdfast: kit/1\nloads:\n"
      "  - {id: a, size_m: [1, 1, 1], mass_kg: 5, carried: beside, offset_m: [0.1, 0.5, 0]}\n"
      "  - {id: b, size_m: [1, 1, 1], mass_kg: 5, carried: beside, side: left, offset_m: [0, 0.5, 0]}\n"
      "  - {id: c, size_m: [1, 1, 1], mass_kg: 5, carried: worn, sides: right, offset_m: [0, 0.5, 0]}\n"
      "  - id: d\n    size_m: [1, 1, 1]\n    mass_kg: 5\n    rate_m_s: 0.1\n    carried:\n"
      "      - {how: in-tow, tow_length_m: 0.9, rate_m_s: 0.05}\n"
      "      - {how: beside, sides: either, offset_m: [0, 0.6, 0], hands: 0}\n");
  const auto& a = kit.loads[0];
  ASSERT_EQ(a.carrying_count(), 2u) << "either side where nothing is said";
  EXPECT_EQ(a.carried(0).offset_m, Eigen::Vector3d(0.1, -0.5, 0)) << "the mover's left is positive";
  EXPECT_EQ(a.carried(1).offset_m, Eigen::Vector3d(0.1, 0.5, 0));
  EXPECT_EQ(a.carried(1).hands, 1);
  EXPECT_EQ(a.change_s.value, 10);
  ASSERT_EQ(kit.loads[1].carrying_count(), 1u);
  EXPECT_EQ(kit.loads[1].offset_m.y(), 0.5);
  ASSERT_EQ(kit.loads[2].carrying_count(), 1u);
  EXPECT_EQ(kit.loads[2].how, CarriedHow::Worn);
  EXPECT_EQ(kit.loads[2].hands, 0);
  const auto& d = kit.loads[3];
  ASSERT_EQ(d.carrying_count(), 3u);
  EXPECT_EQ(d.carried(0).how, CarriedHow::InTow);
  EXPECT_EQ(d.carried(0).rate_m_s->value, 0.05);
  EXPECT_EQ(d.carried(2).how, CarriedHow::Beside);
  EXPECT_EQ(d.carried(2).rate_m_s->value, 0.1) << "the load's own where the manner says none";
  EXPECT_EQ(d.carried(2).hands, 0);
  EXPECT_EQ(d.carried(2).tow_length_m, 0);
}

TEST(Read, BendMultiplesAreThoseOfThePublishedTable) {
  // NASA workmanship pages, Book 4 sec. 4.01 to 4.03 (2002), citing NASA-STD-8739.4 [7.3.21]: not polyimide-insulated 6
  // and, long term, 10 diameters; polyimide-insulated 10 and 15; of mixed members the most sensitive rules.
  const auto multiple = [](const std::string& keys) {
    const auto kit = read_kit_text("holdfast: kit/1\ncables: [{id: c, diameter_m: 0.01, length_m: 3" + keys + "}]\n");
    EXPECT_EQ(kit.cables[0].bend_multiple.source.substr(0, 24), "NASA-STD-8739.4 [7.3.21]");
    EXPECT_EQ(kit.cables[0].bend_multiple.confidence, Confidence::Published);
    EXPECT_DOUBLE_EQ(kit.cables[0].bend_radius_m(), kit.cables[0].bend_multiple * 0.01);
    return kit.cables[0].bend_multiple.value;
  };
  EXPECT_EQ(multiple(""), 10);
  EXPECT_EQ(multiple(", bent_for: short-term"), 6);
  EXPECT_EQ(multiple(", bent_for: long-term"), 10);
  EXPECT_EQ(multiple(", insulation: polyimide, bent_for: short-term"), 10);
  EXPECT_EQ(multiple(", insulation: polyimide"), 15);
  EXPECT_EQ(multiple(", insulation: [other, polyimide]"), 15);
  EXPECT_EQ(multiple(", insulation: [other, polyimide], bent_for: short-term"), 10);
}

TEST(Read, CableDefaultsAreThoseOfTheHandbook) {
  // FAA AC 43.13-1B par. 11-96a (24 in) and 11-118 (0.5 in by hand).
  EXPECT_DOUBLE_EQ(default_cable().span_m, 0.61);
  EXPECT_DOUBLE_EQ(default_cable().sag_m, 0.0127);
}

TEST(NearestNames, AreByEditDistance) {
  EXPECT_EQ(nearest_names("lock-hatsh", {"dish", "lock-hatch", "lock-porch"}, 1),
            (std::vector<std::string>{"lock-hatch"}));
  EXPECT_TRUE(nearest_names("zzzz", {"lock-hatch"}).empty());
  EXPECT_TRUE(nearest_names(std::string(5000, 'x'), {"lock-hatch"}).empty());
}

// ---- nasty files ----------------------------------------------------------------------------------------------------

TEST(Nasty, LineOfTenMegabytes) {
  EXPECT_EQ(codes_of(head + "name: " + std::string(10'000'000, 'x')), (std::vector<std::string>{"too-large"}));
}
TEST(Nasty, DeepNesting) {
  EXPECT_EQ(codes_of(head + "name: " + std::string(50'000, '[')), (std::vector<std::string>{"syntax"}));
}
TEST(Nasty, DeepNestingOverManyLines) {
  std::string text = head + "name:\n";
  for (int i = 1; i < 3000; ++i) text += std::string(static_cast<std::size_t>(i), ' ') + "a:\n";
  EXPECT_EQ(codes_of(text), (std::vector<std::string>{"syntax"}));
}
TEST(Nasty, AliasBomb) {
  std::string text = head + "name: &a0 x\n";
  for (int i = 1; i < 30; ++i) {
    text += "x" + std::to_string(i) + ": &a" + std::to_string(i) + " [";
    for (int k = 0; k < 9; ++k) text += "*a" + std::to_string(i - 1) + (k < 8 ? ", " : "]\n");
  }
  EXPECT_EQ(codes_of(text), (std::vector<std::string>{"alias"}));
}
TEST(Nasty, BinaryAndOtherEncodings) {
  EXPECT_EQ(codes_of(std::string("\x7f"
                                 "ELF\0\1\2",
                                 7)),
            (std::vector<std::string>{"not-text"}));
  EXPECT_EQ(codes_of(std::string("\xff\xfeh\0o\0", 6)), (std::vector<std::string>{"not-text"}));
  EXPECT_EQ(codes_of(head + "name: caf\xe9\n"), (std::vector<std::string>{"not-text"})) << "Latin-1";
  EXPECT_EQ(codes_of(head + "name: caf\xc3\xa9\n"), std::vector<std::string>{});
  EXPECT_EQ(codes_of(""), (std::vector<std::string>{"empty"}));
}

TEST(Nasty, MutatedFilesEitherReadOrSayWhy) {
  std::string good;
  {
    std::ifstream in(std::string(HOLDFAST_SOURCE_DIR) + "/models/yard/structure.yaml");
    good.assign(std::istreambuf_iterator<char>(in), {});
    good = good.substr(good.find("holdfast:"), 9000);
    good = good.substr(0, good.rfind('\n') + 1);
  }
  std::mt19937_64 random(20261125);
  for (int round = 0; round < 400; ++round) {
    std::string text = good;
    for (int k = 0; k < 4; ++k) {
      const auto at = random() % text.size();
      switch (random() % 3) {
        case 0:
          text[at] = static_cast<char>(random() % 256);
          break;
        case 1:
          text.erase(at, random() % 8);
          break;
        default:
          text.insert(at, 1, "{}[]:,-#&*!|>'\"%@`\t\n 0"[random() % 23]);
      }
    }
    SCOPED_TRACE(round);
    try {
      (void)read_structure_text(text, std::string(HOLDFAST_SOURCE_DIR) + "/models/yard");
    } catch (const InputError&) {
    }
  }
}

// ---- folders --------------------------------------------------------------------------------------------------------

class Folder : public testing::Test {
 protected:
  Folder() : path(fs::temp_directory_path() / ("holdfast-read-" + std::to_string(getpid()))) {
    fs::remove_all(path);
    fs::create_directories(path);
  }
  ~Folder() override { fs::remove_all(path); }
  void put(const std::string& name, const std::string& text) const {
    std::ofstream(path / name, std::ios::binary) << text;
  }
  fs::path path;
};

TEST_F(Folder, FaultsOfBothFilesComeTogether) {
  put("structure.yaml", head + "parts: 1\n");
  put("kit.yaml", "holdfast: kit/1\nsuits: 1\n");
  try {
    (void)read_model(path.string());
    FAIL();
  } catch (const InputError& error) {
    ASSERT_EQ(error.diagnostics().size(), 2u);
    EXPECT_EQ(error.diagnostics()[0].mark.file, path.string() + "/structure.yaml");
    EXPECT_EQ(error.diagnostics()[1].mark.file, path.string() + "/kit.yaml");
  }
}

TEST_F(Folder, CablesConnectPlacesThatExist) {
  put("structure.yaml", head + "places: [{id: plug-a, at: [0, 0, 0]}]\n");
  put("kit.yaml", "holdfast: kit/1\ncables: [{id: c, diameter_m: 0.01, length_m: 3, connects: [[plug-a, plug-b]]}]\n");
  try {
    (void)read_model(path.string());
    FAIL();
  } catch (const InputError& error) {
    EXPECT_EQ(
        error.diagnostics()[0].text(),
        path.string() + "/kit.yaml:2:10: cable \"c\": place \"plug-b\" does not exist\n    did you mean \"plug-a\"?");
  }
}

TEST_F(Folder, LinkThatLeavesTheFolderIsRefused) {
  put("kit.yaml", "holdfast: kit/1\n");
  put("structure.yaml", head + "parts: [{id: m, shape: {mesh: {file: link.obj}}}]\n");
  fs::create_symlink("/etc/hostname", path / "link.obj");
  try {
    (void)read_model(path.string());
    FAIL();
  } catch (const InputError& error) {
    EXPECT_EQ(error.diagnostics()[0].code, "outside-folder");
  }
}

TEST_F(Folder, DigestChangesWithAnyFileAndOnlyThen) {
  put("kit.yaml", "holdfast: kit/1\n");
  put("m.obj", "v 0 0 0\n");
  put("structure.yaml", head + "parts: [{id: m, shape: {mesh: {file: m.obj}}}]\n");
  const auto first = model_digest(read_model(path.string()).structure);
  EXPECT_EQ(model_digest(read_model(path.string()).structure), first);
  put("m.obj", "v 0 0 1\n");
  EXPECT_NE(model_digest(read_model(path.string()).structure), first);
  EXPECT_EQ(first.size(), 64u);
}

/// Rails of a table, as text: the same from whatever form it is written in.
class TableOfRails : public Folder {
 protected:
  std::string rails_of(const std::string& table) {
    put("kit.yaml", "holdfast: kit/1\n");
    put("structure.yaml", head + "parts: [{id: deck, shape: {box: {size: [4, 4, 1]}}}]\nrail_files: [r.csv]\n");
    put("r.csv", table);
    try {
      const auto model = read_model(path.string());
      std::ostringstream out;
      for (const auto& rail : model.structure.rails) {
        out << rail.id << ' ' << rail.points[0].transpose() << " to " << rail.points[1].transpose();
        if (!rail.outward.empty()) out << " out " << rail.outward[0][0].transpose();
        out << ' ' << rail.use.hands << rail.use.tether << rail.use.cable << ' ' << rail.load_limit_n.value_or(0)
            << '\n';
      }
      for (const auto& note : model.notes) out << note.text().substr(path.string().size() + 1) << '\n';
      return out.str();
    } catch (const InputError& error) {
      return error.diagnostics()[0].text().substr(path.string().size() + 1);
    }
  }
  const std::string plain_ =
      "id,part,x1,y1,z1,x2,y2,z2,outward_x,outward_y,outward_z,hands,tether,cable,load_limit_n\n"
      "r1,deck,0.25,0,-0.57,1.5,0,-0.57,0,0,-1,yes,no,yes,830.5\n"
      "r2,deck,0.25,1,-0.57,1.5,1,-0.57,,,,no,yes,no,\n";
  const std::string rails_ =
      "r1  0.25     0 -0.57 to   1.5     0 -0.57 out  0  0 -1 101 830.5\n"
      "r2  0.25     1 -0.57 to   1.5     1 -0.57 010 0\n";

  static std::string replaced(std::string text, const std::string& from, const std::string& to) {
    for (std::size_t at = text.find(from); at != std::string::npos; at = text.find(from, at + to.size()))
      text.replace(at, from.size(), to);
    return text;
  }
};

TEST_F(TableOfRails, IsReadAsSpreadsheetsWriteIt) {
  EXPECT_EQ(rails_of(plain_), rails_);
  for (const char* separator : {",", ";", "\t"})
    for (const char* end : {"\n", "\r\n", "\r"})
      for (const bool has_mark : {false, true})
        for (const bool has_comma : {false, true}) {
          if (has_comma && separator == std::string(",")) continue;
          std::string table = replaced(replaced(plain_, ",", separator), "\n", end);
          if (has_comma) table = replaced(table, ".", ",");
          EXPECT_EQ(rails_of((has_mark ? "\xEF\xBB\xBF" : "") + table), rails_) << testing::PrintToString(table);
        }
  EXPECT_EQ(rails_of("sep=;\r\n" + replaced(plain_, ",", ";")), rails_);
  EXPECT_EQ(rails_of(replaced(plain_, "0.25", "\"0,25\"").replace(0, 0, "")).substr(0, 40),
            "r.csv:2:1: a number has a comma, and on ");
  EXPECT_EQ(rails_of(replaced(replaced(plain_, ",", " , "), "yes", "Y")), rails_);
  EXPECT_EQ(rails_of(replaced(replaced(plain_, "yes", "1"), "no", "0")), rails_);
  EXPECT_EQ(rails_of(replaced(replaced(plain_, "yes", "TRUE"), "no", "N")), rails_);
  EXPECT_EQ(rails_of(plain_ + "\n,,,,,,,,,,,,,,\n,\n"), rails_) << "blank rows";
  EXPECT_EQ(rails_of(replaced(plain_, "load_limit_n", "Load limit-N").replace(0, 7, "ID,Part")), rails_);
}

TEST_F(TableOfRails, HasItsColumnsInAnyOrderAndMore) {
  // Every rotation of the columns, with one of the inventory's own in between.
  std::vector<std::vector<std::string>> cells;
  std::istringstream lines(plain_);
  for (std::string line; std::getline(lines, line);) {
    cells.emplace_back();
    std::istringstream fields(line + ",");
    for (std::string field; std::getline(fields, field, ',');) cells.back().push_back(field);
    cells.back().push_back(cells.size() == 1 ? "Drawing no." : "D-1");
  }
  for (std::size_t turn = 0; turn < cells[0].size(); ++turn) {
    std::string table;
    for (auto& row : cells) {
      std::rotate(row.begin(), row.begin() + 1, row.end());
      for (const auto& field : row) table += field + (&field == &row.back() ? "\n" : ";");
    }
    EXPECT_EQ(rails_of(table), rails_ + "r.csv:1:1: column \"Drawing no.\" is not read\n") << table;
  }
}

TEST_F(TableOfRails, NeedsNoMoreThanTwoPoints) {
  EXPECT_EQ(rails_of("z2,y2,x2,z1,y1,x1,part,id\n-0.57,0,1.5,-0.57,0,0.25,deck,r1\n"),
            "r1  0.25     0 -0.57 to   1.5     0 -0.57 100 0\n");
}

TEST_F(TableOfRails, RefusesNumbersThatMayMeanAnother) {
  const std::string table = "id;part;x1;y1;z1;x2;y2;z2\nr;deck;0;0;-0,57;";
  EXPECT_THAT(rails_of(table + "1.234,5;0;-0,57\n"), testing::StartsWith("r.csv:2:1: a number has a comma"));
  EXPECT_THAT(rails_of(table + "1,234,5;0;-0,57\n"),
              testing::StartsWith("r.csv:2:1: rail \"r\": \"x2\" should be a number, not \"1,234,5\""));
  EXPECT_THAT(rails_of(table + "1 234;0;-0,57\n"), testing::StartsWith("r.csv:2:1: rail \"r\": \"x2\" should be"));
}

TEST_F(Folder, AnyByteOfAnyFileThatIsReadIsInTheDigest) {
  put("kit.yaml", "holdfast: kit/1\n");
  put("structure.yaml", head +
                            "parts:\n"
                            "  - {id: a, shape: {mesh: {file: a.obj}}}\n"
                            "  - {id: b, shape: {mesh: {file: sub/b.gltf}}}\n"
                            "  - {id: c, shape: {mesh: {file: c.glb, node: n}}}\n"
                            "rail_files: [r.csv]\n");
  put("r.csv",
      "id,part,x1,y1,z1,x2,y2,z2,outward_x,outward_y,outward_z,hands,tether,cable,load_limit_n\n"
      "r,a,0,0,0,1,0,0,,,,yes,no,no,\n");
  put("a.obj", "mtllib a.mtl\nv 0 0 0\n");
  fs::create_directories(path / "sub");
  put("sub/b.gltf", R"({"buffers":[{"uri":"two%20words.bin"},{"uri":"./up/../other.bin"},{"uri":"data:,x"},{}]})");
  put("sub/two words.bin", "12345");
  put("sub/other.bin", "6789");
  const std::string json = R"({"buffers":[{"uri":"c.bin"}]})";
  put("c.glb",
      std::string("glTF\2\0\0\0\x32\0\0\0", 12) + static_cast<char>(json.size()) + std::string("\0\0\0JSON", 7) + json);
  put("c.bin", "abc");
  const auto first = read_model(path.string()).structure;
  std::set<std::string> digested, there;
  for (const auto& file : first.files) digested.insert(file.path);
  for (const auto& entry : fs::recursive_directory_iterator(path))
    if (entry.is_regular_file()) there.insert(fs::relative(entry.path(), path).string());
  EXPECT_EQ(digested, there);
  std::size_t changed = 0, refused = 0;
  for (const auto& name : there) {
    std::ifstream in(path / name, std::ios::binary);
    const std::string kept(std::istreambuf_iterator<char>(in), {});
    for (std::size_t i = 0; i < kept.size(); ++i)
      for (const int mask : {1, 128}) {
        std::string flipped = kept;
        flipped[i] = static_cast<char>(flipped[i] ^ mask);
        put(name, flipped);
        try {
          EXPECT_NE(model_digest(read_model(path.string()).structure), model_digest(first)) << name << " byte " << i;
          ++changed;
        } catch (const InputError&) {
          ++refused;
        }
      }
    put(name, kept);
  }
  EXPECT_GT(changed, 100u);
  EXPECT_GT(refused, 100u);
  EXPECT_EQ(model_digest(read_model(path.string()).structure), model_digest(first));
}

TEST_F(Folder, BuffersThatAMeshNamesStayBelowTheFolder) {
  put("kit.yaml", "holdfast: kit/1\n");
  put("structure.yaml", head + "parts: [{id: m, shape: {mesh: {file: m.gltf}}}]\n");
  for (const auto& [uri, code] : {std::pair{"none.bin", "missing-file"},
                                  {"../m.bin", "outside-folder"},
                                  {"%2e%2e/m.bin", "outside-folder"},
                                  {"/etc/hostname", "outside-folder"}}) {
    put("m.gltf", std::string(R"({"buffers":[{"uri":")") + uri + "\"}]}");
    try {
      (void)read_model(path.string());
      ADD_FAILURE() << uri;
    } catch (const InputError& error) {
      EXPECT_EQ(error.diagnostics()[0].code, code) << uri;
      EXPECT_EQ(error.diagnostics()[0].mark.line, 2);
    }
  }
}

TEST_F(Folder, MissingFolderAndMissingFilesAreNamed) {
  EXPECT_THROW((void)read_model((path / "nowhere").string()), InputError);
  try {
    (void)read_model(path.string());
    FAIL();
  } catch (const InputError& error) {
    ASSERT_EQ(error.diagnostics().size(), 2u);
    EXPECT_EQ(error.diagnostics()[0].code, "missing-file");
  }
}

TEST(Yard, DemoYardIsAsRichAsItShouldBe) {
  const auto model = read_model(std::string(HOLDFAST_SOURCE_DIR) + "/models/yard");
  const auto& s = model.structure;
  EXPECT_GE(s.parts.size(), 30u);
  EXPECT_GE(s.rails.size(), 300u);
  EXPECT_GE(s.zones.size(), 12u);
  EXPECT_GE(s.switches.size(), 3u);
  EXPECT_GE(s.places.size(), 25u);
  EXPECT_GE(model.kit.loads.size(), 6u);
  EXPECT_GE(model.kit.cables.size(), 4u);
  std::set<std::size_t> shapes, zone_shapes, effects;
  for (const auto& part : s.parts) shapes.insert(part.shape.index());
  for (const auto& zone : s.zones)
    zone_shapes.insert(zone.shape.index()), effects.insert(static_cast<std::size_t>(zone.effect));
  EXPECT_EQ(shapes.size(), std::variant_size_v<Shape>);
  EXPECT_EQ(zone_shapes.size(), std::variant_size_v<ZoneShape>);
  EXPECT_EQ(effects.size(), 3u);
}

}  // namespace
}  // namespace holdfast::model
