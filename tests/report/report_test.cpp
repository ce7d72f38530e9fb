// Whole messages on answers written by hand, and JSON against its schema.

#include "holdfast/report/report.h"

#include <gtest/gtest.h>
#include <unistd.h>

#include <filesystem>
#include <fstream>

#include "schema_check.h"
#include "yard_builder.h"

namespace holdfast::report {
namespace {

namespace fs = std::filesystem;
using search::Cause;
using search::CauseKind;
using support::World;
using support::YardBuilder;

const model::Vec3 zenith = -model::Vec3::UnitZ();

struct Bench {
  Bench() {
    auto& s = structure;
    s.name = "Bench";
    s.parts.resize(2);
    s.parts[0].id = "deck", s.parts[0].name = "main deck";
    s.parts[1].id = "dish", s.parts[1].name = "dish";
    for (const char* id : {"r-1", "r-2"}) {
      model::Rail rail;
      rail.id = id;
      s.rails.push_back(rail);
    }
    s.zones.resize(2);
    s.zones[0].id = "beam", s.zones[0].reason = "radio power";
    s.zones[1].id = "frost", s.zones[1].reason = "cold surface";
    kit.design = model::default_design_values();
    kit.suits.push_back(model::default_suit());
  }
  Context context(Options options = {}) const { return {structure, kit, kit.suits[0], "models/bench", "0.0", options}; }
  model::Structure structure;
  model::Kit kit;
};

Cause cause(CauseKind kind) {
  Cause c;
  c.kind = kind;
  c.at = {1, 2, 3};
  return c;
}

TEST(Sentence, EachCauseInWords) {
  const Bench bench;
  const auto say = [&](const Cause& c) { return sentence(bench.context(), c); };

  Cause c = cause(CauseKind::NoGripNear);
  c.place = "boom-tip", c.limit_m = 0.8, c.value_m = 1.9123, c.rail = model::RailId(0);
  EXPECT_EQ(say(c),
            "No grip is within 0.80 m of boom-tip (1.00, 2.00, 3.00): the nearest is on rail r-1, 1.92 m away.");

  c = cause(CauseKind::InZone);
  c.place = "panel", c.zones = {model::ZoneId(0)}, c.opens_alone = true, c.then_time_s = 71;
  EXPECT_EQ(say(c),
            "panel (1.00, 2.00, 3.00) is in zone beam (radio power): every grip there lies inside. Without this alone "
            "there is a way of 0:01:11.");

  c = cause(CauseKind::OnClosedRails);
  c.place = "panel", c.rails = {model::RailId(0), model::RailId(1)};
  EXPECT_EQ(say(c), "panel (1.00, 2.00, 3.00) has grips on closed rails only: r-1, r-2.");

  c = cause(CauseKind::Reach);
  c.rail = model::RailId(0), c.rail_other = model::RailId(1), c.at_other = {4, 5, 6}, c.value_m = 1.331,
  c.limit_m = 0.61, c.unavoidable_m = 0.9;
  EXPECT_EQ(
      say(c),
      "Out of reach: the rails that can be reached end at rail r-1 (1.00, 2.00, 3.00); the nearest beyond is rail r-2 "
      "(4.00, 5.00, 6.00), 1.34 m "
      "away, and a hand reaches 0.61 m. Hopping over whatever rails lie between, a gap of 0.90 m cannot be avoided.");

  c = cause(CauseKind::TurnLimit);
  c.rail = model::RailId(0), c.rail_other = model::RailId(1), c.value_rad = 2.1, c.limit_rad = 1.5707963;
  EXPECT_EQ(say(c),
            "A turn too far: between rails r-1 and r-2 (1.00, 2.00, 3.00) the outward directions differ by 120 deg, "
            "and one move turns 90 deg at most.");

  c = cause(CauseKind::HandLineBlocked);
  c.rail = c.rail_other = model::RailId(0), c.part = model::PartId(1);
  EXPECT_EQ(say(c), "Structure in the hand's way: on rail r-1, dish (1.00, 2.00, 3.00) stands between the grips.");

  c = cause(CauseKind::BodyTooTight);
  c.rail = model::RailId(0), c.rail_other = model::RailId(1), c.part = model::PartId(1), c.value_m = 0.9899,
  c.limit_m = 1.09, c.then_time_s = 200;
  EXPECT_EQ(say(c),
            "Too tight for the suit: the widest corridor that passes is 0.98 m, and it needs 1.09 m; the pinch is "
            "between rails r-1 and r-2 (1.00, 2.00, "
            "3.00) beside dish. Only together with the other causes named: then there is a way of 0:03:20.");

  c = cause(CauseKind::Zones);
  c.rail = model::RailId(0), c.rail_other = model::RailId(0), c.zones = {model::ZoneId(0), model::ZoneId(1)};
  EXPECT_EQ(say(c),
            "Forbidding zones are in the way: beam (radio power), frost (cold surface), first met on rail r-1 (1.00, "
            "2.00, 3.00).");

  c = cause(CauseKind::Closures);
  c.rails = {model::RailId(1)};
  EXPECT_EQ(say(c), "A closed rail is in the way: r-2, first met (1.00, 2.00, 3.00).");

  c = cause(CauseKind::ZoneTime);
  c.zones = {model::ZoneId(1)}, c.value_s = 31.2, c.limit_s = 30;
  EXPECT_EQ(say(c), "Too long in zone frost (cold surface): every way stays 0:00:32 at least, and 0:00:30 is allowed.");
}

TEST(Sentence, ImperialStandsBesideMetric) {
  const Bench bench;
  Cause c = cause(CauseKind::NoGripNear);
  c.place = "x", c.limit_m = 0.8, c.value_m = 1.83, c.rail = model::RailId(0);
  EXPECT_EQ(sentence(bench.context({.imperial = true}), c),
            "No grip is within 0.80 m (2 ft 7 in) of x (1.00, 2.00, 3.00): the nearest is on rail r-1, 1.83 m (6 ft 1 "
            "in) away.");
}

TEST(Sentence, FindingsSayWhenAValueIsFromMemory) {
  const Bench bench;
  check::Finding f;
  f.kind = check::FindingKind::RailTooClose;
  f.subject = "r-1", f.other = "deck", f.value = 0.0489, f.limit = 0.057, f.design = bench.kit.design.rail_clear_m;
  EXPECT_EQ(sentence(bench.context(), f),
            "rail r-1: 0.04 m clear under it, and a gloved hand needs 0.06 m (deck) [NASA-STD-3000 Vol. I 11.8, 14.5; "
            "SSP 50005 (2.25 in); from memory, verify]");
}

// ---- whole answers
// ----------------------------------------------------------------------------------------------------

struct SmallYard {
  SmallYard() {
    YardBuilder yard;
    yard.structure.name = "Small yard";
    const auto deck = yard.part("deck", model::Box{.center = {0, 0, 0.5}, .size = {20, 20, 1}});
    yard.rail("west", deck, {{0, 0, -0.07}, {2, 0, -0.07}}, {zenith});
    yard.rail("east", deck, {{2.5, 0, -0.07}, {4, 0, -0.07}}, {zenith});
    yard.rail("lonely", deck, {{8, 0, -0.07}, {9, 0, -0.07}}, {zenith});
    yard.place("a", {0, 0, -0.07});
    yard.place("b", {4, 0, -0.07});
    yard.place("far, \"away\"", {9, 0, -0.07});
    yard.zone("glow", model::Sphere{.center = {3, 0, -1}, .radius = 0.3}, model::ZoneEffect::Caution);
    world = std::make_unique<World>(yard.structure);
  }
  Context context(Options options = {}) const {
    return {world->structure, world->kit, world->kit.suits[0], "small", "0.0", options};
  }
  std::unique_ptr<World> world;
};

TEST(Text, OfARouteBeginsWithItsRowsAndEndsWithTheCaution) {
  const SmallYard yard;
  const auto text = report::text(yard.context(), yard.world->route("a", "b"));
  const std::string head =
      "Small yard: a -> b\n"
      "  least time; suit suit; no switches\n"
      "\n"
      "      part, face                          rail                         m moves     time     sum m moves     "
      "time\n"
      "   0  deck, zenith                        west                      0.00     0  0:00:05      0.00     0  "
      "0:00:05\n"
      "        start; clearance 0.62 m to deck\n";
  EXPECT_EQ(text.substr(0, head.size()), head);
  EXPECT_NE(text.find("across a gap of 0.50 m, along 1.50 m"), std::string::npos) << text;
  EXPECT_NE(text.find("in CAUTION glow for"), std::string::npos);
  EXPECT_NE(text.find("from memory, verify"), std::string::npos);
  EXPECT_TRUE(text.ends_with("A planning aid: flight rules, certified engineers and rehearsal decide.\n"));
  std::istringstream lines(text);
  for (std::string line; std::getline(lines, line);) EXPECT_LE(line.size(), 120u) << line;
}

TEST(Text, OfARefusalSaysWhy) {
  const SmallYard yard;
  const auto text = report::text(yard.context(), yard.world->route("a", "lonely"));
  EXPECT_NE(text.find("No route. Why not:\n  1. Out of reach: the rails that can be reached end at rail east (4.00, "
                      "0.00, -0.07); the nearest beyond is rail lonely\n"),
            std::string::npos)
      << text;
}

TEST(Json, OfRoutesRefusalsAndChecksIsValid) {
  const SmallYard yard;
  for (const char* to : {"b", "lonely"}) {
    const auto document = nlohmann::json::parse(json(yard.context(), yard.world->route("a", to)));
    EXPECT_EQ(support::schema_faults("result", document), "") << document.dump(1);
    EXPECT_EQ(document["caution"], std::string(caution));
  }
  const auto result = check::check_model(yard.world->graph, yard.world->kit, yard.world->kit.suits[0]);
  EXPECT_EQ(support::schema_faults("result", nlohmann::json::parse(json(yard.context(), result))), "");
}

TEST(Json, SaysWhatTheTextSays) {
  const SmallYard yard;
  const auto answer = yard.world->route("a", "lonely");
  const auto document = nlohmann::json::parse(json(yard.context(), answer));
  EXPECT_EQ(document["causes"][0]["text"], sentence(yard.context(), answer.no_route()->causes[0]));
  EXPECT_NEAR(document["causes"][0]["value_m"].get<double>(), 4.0, 1e-6);
  const auto route = nlohmann::json::parse(json(yard.context(), yard.world->route("a", "b")));
  double sum = 0;
  for (const auto& part : route["route"]["time_by_cause_s"]) sum += part.get<double>();
  EXPECT_NEAR(sum, route["route"]["time_s"].get<double>(), 1e-5);
  EXPECT_EQ(route["route"]["legs"][0]["poses"].size(), route["route"]["moves"].get<std::size_t>() + 1);
}

TEST(Json, DiagnosticsAreDocumentsToo) {
  const auto document = nlohmann::json::parse(json(std::vector<model::Diagnostic>{
      {{"s.yaml", 3, 7}, "parts[0]", "out-of-range", "bad \xff byte", "-1", "mend it"}}));
  EXPECT_EQ(document["holdfast"], "errors/1");
  EXPECT_EQ(document["errors"][0]["mark"]["line"], 3);
  EXPECT_EQ(document["errors"][0]["code"], "out-of-range");
}

TEST(Csv, IsQuotedAsRfc4180Says) {
  SmallYard yard;
  const auto csv_text = csv(yard.context(), yard.world->route("a", "b"));
  std::istringstream lines(csv_text);
  std::string line;
  std::size_t rows = 0;
  while (std::getline(lines, line)) {
    EXPECT_TRUE(line.ends_with('\r'));
    ++rows;
  }
  EXPECT_EQ(rows, 1u + yard.world->route("a", "b").route()->legs[0].rows.size());
  EXPECT_NE(csv_text.find("\"across a gap of 0.50 m, along 1.50 m\""), std::string::npos);
  EXPECT_EQ(std::count(csv_text.begin(), csv_text.end(), '\n'),
            static_cast<std::ptrdiff_t>(csv(yard.context(), yard.world->route("a", "lonely")).size() > 0 ? rows : 0));
}

TEST(WriteFile, IsWholeOrNotAtAll) {
  const auto folder = fs::temp_directory_path() / ("holdfast-write-" + std::to_string(getpid()));
  fs::create_directories(folder);
  const auto path = (folder / "x.csv").string();
  write_file(path, "one");
  write_file(path, "two");
  std::ifstream in(path);
  std::string contents;
  in >> contents;
  EXPECT_EQ(contents, "two");
  EXPECT_EQ(std::distance(fs::directory_iterator(folder), fs::directory_iterator{}), 1) << "nothing is left beside it";
  try {
    write_file((folder / "no" / "x.csv").string(), "three");
    FAIL();
  } catch (const model::InputError& error) {
    EXPECT_EQ(error.diagnostics()[0].code, "cannot-write");
    EXPECT_NE(error.diagnostics()[0].problem.find("No such file"), std::string::npos);
  }
  EXPECT_THROW(write_file(folder.string(), "four"), model::InputError);
  fs::remove_all(folder);
}

}  // namespace
}  // namespace holdfast::report
