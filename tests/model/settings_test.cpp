// SPDX-License-Identifier: GPL-3.0-or-later
// Numbers set for one run: the reader judges them as it judges the files, and digests tell them.

#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <unistd.h>

#include <filesystem>
#include <fstream>

#include "holdfast/model/read.h"

namespace holdfast::model {
namespace {

namespace fs = std::filesystem;
using testing::HasSubstr;

class Settings : public testing::Test {
 protected:
  Settings() : folder_(fs::temp_directory_path() / ("holdfast-settings-" + std::to_string(::getpid()))) {
    fs::create_directories(folder_);
    write("structure.yaml",
          "holdfast: structure/1\n"
          "parts:\n"
          "  - {id: drum, shape: {cylinder: {from: [0, 0, 0], to: [6, 0, 0], radius: 2.1}}}\n"
          "rails:\n"
          "  - {id: line.1, part: drum, points: [[0.5, 0, -2.17], [2, 0, -2.17]]}\n"
          "places:\n"
          "  - {id: hatch, kind: hatch, at: [0.5, 0, -2.2], within_m: 0.5}\n"
          "zones:\n"
          "  - {id: beam, shape: {sphere: {center: [3, 0, -3], radius: 1}}, keeps_out: [body], effect: limit,\n"
          "     limit_s: 30, reason: beam}\n");
    write("kit.yaml",
          "holdfast: kit/1\n"
          "suits:\n"
          "  - {id: standard, reach_m: {value: 0.6, source: a book, confidence: published}}\n"
          "  - {id: large}\n"
          "loads:\n"
          "  - {id: bag, size_m: [0.5, 0.4, 0.3], mass_kg: 20, carried: in-tow, tow_length_m: 1}\n");
  }
  ~Settings() override { fs::remove_all(folder_); }

  void write(const std::string& name, const std::string& text) const { std::ofstream(folder_ / name) << text; }
  Model read(const std::vector<std::string>& settings) const { return read_model(folder_.string(), settings); }
  /// All faults as text; empty where there is none.
  std::string refusal(const std::vector<std::string>& settings) const {
    try {
      (void)read(settings);
    } catch (const InputError& error) {
      std::string all;
      for (const auto& diagnostic : error.diagnostics()) all += diagnostic.text() + "\n";
      return all;
    }
    return "";
  }

 private:
  fs::path folder_;
};

TEST_F(Settings, ReplaceNumbersAndTheirSources) {
  const auto plain = read({});
  EXPECT_EQ(plain.kit.suits[0].reach_m.source, "a book");
  const auto set = read({"suits.standard.reach_m=0.5", "suits.large.rate_free_m_s=0.15", "design.grip_spacing_m=0.1",
                         "loads.bag.size_m=[0.6, 0.5, 0.4]", "loads.0.mass_kg=25"});
  EXPECT_DOUBLE_EQ(set.kit.suits[0].reach_m, 0.5);
  EXPECT_EQ(set.kit.suits[0].reach_m.source, "set for this run");
  EXPECT_DOUBLE_EQ(set.kit.suits[1].rate_free_m_s, 0.15) << "a key that the file leaves out";
  EXPECT_DOUBLE_EQ(set.kit.design.grip_spacing_m, 0.1) << "a section that the file leaves out";
  EXPECT_EQ(set.kit.loads[0].size_m, Eigen::Vector3d(0.6, 0.5, 0.4));
  EXPECT_DOUBLE_EQ(set.kit.loads[0].mass_kg, 25);
  const auto structure =
      read({"zones.beam.limit_s=12", "rails.line.1.points.1.0=1.7", "parts.drum.shape.cylinder.radius=2.05"}).structure;
  EXPECT_DOUBLE_EQ(structure.zones[0].limit_s, 12);
  EXPECT_DOUBLE_EQ(structure.rails[0].points.back().x(), 1.7) << "an id with a dot";
}

TEST_F(Settings, AreJudgedLikeTheFiles) {
  EXPECT_THAT(refusal({"suits.standard.raech_m=0.5"}), HasSubstr("reach_m"));
  EXPECT_THAT(refusal({"suits.standrad.reach_m=0.5"}), HasSubstr("standard"));
  EXPECT_THAT(refusal({"suits.standard.reach_m=500"}), HasSubstr("--set"));
  EXPECT_THAT(refusal({"suits.standard.reach_m=short"}), HasSubstr("sets no number"));
  EXPECT_THAT(refusal({"suits.standard.reach_m"}), HasSubstr("sets no number"));
  EXPECT_THAT(refusal({"suits.standard=0.5"}), HasSubstr("this is no number"));
  EXPECT_THAT(refusal({"suits.standard.reach_m=0.5", "suits.standard.reach_m=0.4"}), HasSubstr("one number for each"));
  EXPECT_THAT(refusal({"rails.in-a-table.points.0.0=1"}), HasSubstr("line.1"));
  const std::string both = refusal({"suits.standard.reach_m=500", "zones.beam.limit_s=-1"});
  EXPECT_THAT(both, HasSubstr("reach_m"));
  EXPECT_THAT(both, HasSubstr("limit_s")) << "all faults in one run";
}

TEST_F(Settings, DigestsTellWhatAResultDependsOn) {
  const auto entry = [](const Model& model, const std::string& name) -> std::string {
    for (const auto& e : model.kit.entries)
      if (e.name == name) return e.sha256;
    return "";
  };
  const auto plain = read({}), kit = read({"suits.standard.reach_m=0.5"}), zone = read({"zones.beam.limit_s=12"});
  EXPECT_EQ(structure_digest(kit.structure), structure_digest(plain.structure));
  EXPECT_NE(entry(kit, "suits.standard"), entry(plain, "suits.standard"));
  EXPECT_EQ(entry(kit, "suits.large"), entry(plain, "suits.large"));
  EXPECT_EQ(entry(kit, "loads.bag"), entry(plain, "loads.bag"));
  EXPECT_NE(structure_digest(zone.structure), structure_digest(plain.structure));
  EXPECT_NE(model_digest(zone.structure), model_digest(plain.structure));
  EXPECT_NE(structure_digest(zone.structure), structure_digest(read({"zones.beam.limit_s=13"}).structure));
}

}  // namespace
}  // namespace holdfast::model
