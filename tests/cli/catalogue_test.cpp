// SPDX-License-Identifier: GPL-3.0-or-later
// The catalogue of faults: each code of the table is told by the command, on a file or an argument that has the fault,
// with its place, its cause and its remedy.

#include <gtest/gtest.h>
#include <unistd.h>

#include <algorithm>
#include <nlohmann/json.hpp>
#include <set>

#include "holdfast/model/diagnostic.h"
#include "hostile_cases.h"
#include "run_command.h"

namespace holdfast::hostile {
namespace {

namespace fs = std::filesystem;
using support::contents_of;

const fs::path source = HOLDFAST_SOURCE_DIR;

void write(const fs::path& file, const std::string& bytes) { std::ofstream(file, std::ios::binary) << bytes; }

/// A folder with the bad files' tables, and `model/` in it; removed at the end.
class Folder {
 public:
  Folder() : path_(fs::temp_directory_path() / ("holdfast-catalogue-" + std::to_string(::getpid()))) {
    fs::remove_all(path_);
    fs::create_directories(path_ / "model");
    for (const auto& entry : fs::directory_iterator(source / "tests/model/bad"))
      if (entry.is_directory() || entry.path().extension() == ".csv")
        fs::copy(entry.path(), path_ / "model" / entry.path().filename(), fs::copy_options::recursive);
    write(path_ / "model/structure.yaml", sound_structure());
    write(path_ / "model/kit.yaml", sound_kit());
    write(path_ / "model/rails.csv", "id,part,x1,y1,z1,x2,y2,z2\n");
  }
  Folder(const Folder&) = delete;
  Folder& operator=(const Folder&) = delete;
  ~Folder() { fs::remove_all(path_); }
  [[nodiscard]] const fs::path& path() const { return path_; }

  [[nodiscard]] std::string result_of(std::vector<std::string> arguments) const {
    arguments.push_back("--json");
    return support::run_command(HOLDFAST_COMMAND, arguments, run_in()).out;
  }
  /// The faults that the command tells, which must be whole: whichever way they are told.
  std::set<std::string> codes_of(std::vector<std::string> arguments) const {
    arguments.push_back("--json");
    const auto ran = support::run_command(HOLDFAST_COMMAND, arguments, run_in());
    std::set<std::string> codes;
    EXPECT_EQ(ran.code, 2) << ran.out << ran.err;
    if (ran.code != 2) return codes;
    const auto document = nlohmann::json::parse(ran.out);
    EXPECT_FALSE(document["errors"].empty());
    for (const auto& fault : document["errors"]) {
      codes.insert(fault["code"]);
      EXPECT_NE(fault["problem"], "") << fault;
      EXPECT_NE(fault["remedy"], "") << fault;
      // The place: a file, or what was typed, or the option that the problem names.
      const bool is_placed = fault["mark"]["file"] != "" || fault["value"] != "" ||
                             fault["problem"].get<std::string>().find("--") != std::string::npos;
      EXPECT_TRUE(is_placed || fault["code"] == "usage") << fault;
    }
    return codes;
  }

 private:
  [[nodiscard]] support::RunIn run_in() const { return {path_, {"XDG_CACHE_HOME=" + (path_ / "cache").string()}}; }
  fs::path path_;
};

struct Told {
  std::string code;
  std::vector<std::string> arguments;
  std::string structure{};           ///< instead of the sound one
  std::vector<std::string> first{};  ///< a question whose result, as `first.json`, is read
};

std::string many_slips() {
  std::string text;
  for (int i = 0; i < 150; ++i)
    text += "  - {id: z" + std::to_string(i) + ", shape: {sphere: {center: [0, 0, 0], radius: -1}}, reason: x}\n";
  return text;
}

std::vector<Told> of_questions() {
  const std::string yard = source / "models/yard";
  const auto from_lock = [&](std::vector<std::string> more) {
    std::vector<std::string> words = {"route", yard, "--from", "lock-hatch", "--to", "battery-bay"};
    words.insert(words.end(), more.begin(), more.end());
    return words;
  };
  const auto hooked = [&](const char* from, const char* tether, const char* anchor) {
    return std::vector<std::string>{"tether",      yard,       "--from", from,       "--to",
                                    "battery-bay", "--tether", tether,   "--anchor", anchor};
  };
  const std::string cover =
      "holdfast: structure/1\nname: Yard with a cover\nstates:\n  lid: {positions: [off, on], default: off}\nparts:\n"
      "  - {id: drum, shape: {cylinder: {from: [0, 0, 0], to: [6, 0, 0], radius: 1}}}\n"
      "  - {id: lid, shape: {box: {center: [3, 0, 1.2], size: [0.2, 0.2, 0.2]}}, when: {lid: on}}\n"
      "rails:\n  - {id: line-1, part: drum, points: [[0.5, 0, -1.07], [4, 0, -1.07]]}\n"
      "anchors:\n  - {id: hook, part: lid, at: [3, 0, 1.31]}\n"
      "sockets:\n  - {id: deep, part: drum, at: [3, 0, 0], axis: [0, 0, -1]}\n"
      "places:\n  - {id: hatch, kind: hatch, at: [0.5, 0, -1.1], within_m: 0.5}\n"
      "  - {id: bench, kind: worksite, at: [3.9, 0, -1.1], within_m: 0.5}\n"
      "  - {id: plug, kind: connector, at: [2, 0, -1.01], within_m: 0.6}\n"
      "  - {id: far-plug, kind: connector, at: [4, 0, -1.9], within_m: 1}\n";
  const std::string mesh =
      "holdfast: structure/1\nname: Broken mesh\nparts:\n  - {id: drum, shape: {mesh: {file: slips.obj}}}\nrails:\n"
      "  - {id: line-1, part: drum, points: [[0.5, 0, -1.07], [4, 0, -1.07]]}\n";
  return {
      {"usage", {"route", yard, "--from", "lock-hatch"}},
      {"missing-file", {"check", "nowhere"}},
      {"unknown-place", {"route", yard, "--from", "lock-hatsh", "--to", "battery-bay"}},
      {"unknown-switch", from_lock({"--state", "dsh=parked"})},
      {"unknown-setting", from_lock({"--set", "suits.standrd.reach_m=0.5"})},
      {"unknown-kit", from_lock({"--suit", "big"})},
      {"loads-clash", from_lock({"--load", "bulky-bag", "--load", "crate"})},
      {"cannot-write", from_lock({"--csv", "/nowhere/x.csv"})},
      {"too-large", from_lock({"--size-limit", "grips=10"})},
      {"same-connector", {"cable", yard, "--from", "hub-plug", "--to", "hub-plug", "--cable", "power-long"}},
      {"not-a-connector", {"cable", yard, "--from", "lock-hatch", "--to", "hub-plug", "--cable", "power-long"}},
      {"unknown-anchor", hooked("lock-hatch", "reel-26", "hatch-anker")},
      {"not-for-tethers", hooked("lock-hatch", "reel-26", "locker-side")},
      {"tether-short", hooked("lock-hatch", "waist", "hub-anchor")},
      {"no-free-line", hooked("tank-valves", "reel-26", "hub-anchor")},
      {"unknown-socket", {"reach", yard, "beam-sockt"}},
      {"unknown-patch", {"sight", yard, "valve-fase"}},
      {"unknown-view", {"sight", yard, "--view", "hub-windw"}},
      {"unknown-node", {"rails", source / "models/cabin/cabin.obj", "--in", "cabin", "--node", "*handrale*"}},
      {"wrong-result", {"draw", yard, source / "models/yard/README.md", "--svg", "x.svg"}},
      {"absent-place",
       {"tether", "model", "--from", "hatch", "--to", "bench", "--tether", "reel", "--anchor", "hook"},
       cover},
      {"off-structure", {"cable", "model", "--from", "plug", "--to", "far-plug", "--cable", "lead"}, cover},
      {"laid-elsewhere",
       {"cable", yard, "--cable", "port-power", "--laid", "first.json", "--from", "lock-porch", "--to", "port-plug"},
       "",
       {"cable", yard, "--cable", "port-power", "--from", "stores-plug", "--to", "hub-top"}},
      {"not-ordered", {"order", yard, "lays.yaml"}},
      {"in-solid", {"reach", "model", "deep"}, cover},
      {"bad-mesh", {"check", "model"}, mesh},
      {"more-faults", {"check", "model"}, sound_structure() + many_slips()},
  };
}

TEST(Catalogue, EveryCodeIsToldWithPlaceCauseAndRemedy) {
  const Folder folder;
  std::set<std::string> told;
  write(folder.path() / "lays.yaml",
        "holdfast: excursion/1\nname: A cable first\nlimit: 6 h\ncrew:\n"
        "  - {id: EV1, suit: standard, start: lock-hatch, tethers: [reel-26], anchor: hatch-anchor-1, begin: [{take: "
        "reel}, "
        "{lay: reel, from: stores-plug, to: hub-top}]}\n"
        "items:\n  - {id: reel, load: tool-bag, cable: hub-link, at: locker}\n"
        "tasks:\n  - {id: look, at: tank-valves, duration: 5 min}\n");
  write(folder.path() / "model/slips.obj", "v 0 0 0\nv 1 0 0\nf 1 2 9\n");
  for (const auto& one : of_questions()) {
    SCOPED_TRACE(one.code);
    write(folder.path() / "model/structure.yaml", one.structure.empty() ? sound_structure() : one.structure);
    write(folder.path() / "model/kit.yaml", sound_kit() +
                                                "tethers:\n  - {id: reel, length_m: 20}\n"
                                                "cables:\n  - {id: lead, diameter_m: 0.02, length_m: 8}\n"
                                                "foot_restraints:\n  - {id: portable}\n");
    if (!one.first.empty()) write(folder.path() / "first.json", folder.result_of(one.first));
    const auto codes = folder.codes_of(one.arguments);
    EXPECT_TRUE(codes.count(one.code));
    told.insert(codes.begin(), codes.end());
  }
  for (const auto& entry : fs::directory_iterator(source / "tests/model/bad")) {
    const std::string name = entry.path().filename();
    if (entry.path().extension() != ".yaml") continue;
    SCOPED_TRACE(name);
    const bool is_kit = name.find(".kit.") != std::string::npos,
               is_plan = name.find(".excursion.") != std::string::npos;
    const std::string bad = contents_of(entry.path());
    write(folder.path() / "model/structure.yaml", is_kit || is_plan ? sound_structure() : bad);
    write(folder.path() / "model/kit.yaml", is_kit ? bad : sound_kit());
    write(folder.path() / "model/excursion.yaml", bad);
    const auto codes = is_plan ? folder.codes_of({"plan", source / "models/yard", "model/excursion.yaml"})
                               : folder.codes_of({"check", "model"});
    told.insert(codes.begin(), codes.end());
  }
  std::set<std::string> known;
  for (const auto& code : model::diagnostic_codes()) {
    known.insert(std::string(code.code));
    EXPECT_TRUE(told.count(std::string(code.code))) << code.code << " is told by none of these";
  }
  for (const auto& code : told) EXPECT_TRUE(known.count(code)) << code << " is not in the table of codes";
}

}  // namespace
}  // namespace holdfast::hostile
