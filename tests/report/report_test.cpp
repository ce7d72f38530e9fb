// SPDX-License-Identifier: GPL-3.0-or-later
// Answers of the engine itself as text, JSON and CSV.

#include "holdfast/report/report.h"

#include <gtest/gtest.h>

#include <memory>
#include <sstream>

#include "schema_check.h"
#include "yard_builder.h"

namespace holdfast::report {
namespace {

using support::World;
using support::YardBuilder;

const model::Vec3 zenith = -model::Vec3::UnitZ();

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
  const std::string head = R"(Small yard: a -> b
  least time, suit suit; no switches

                                                   clearance               row              so far
  #  what                                  rail      m spare       m moves    time       m moves    time
  deck, zenith
  0  start                                 west   0.62  0.07    0.00     0 0:00:05    0.00     0 0:00:05
)";
  EXPECT_EQ(text.substr(0, head.size()), head);
  EXPECT_NE(text.find("across a gap of 0.50 m, along 1.50 m"), std::string::npos) << text;
  EXPECT_NE(text.find(" in caution zone glow: test\n"), std::string::npos);
  EXPECT_NE(text.find("from memory, verify"), std::string::npos);
  EXPECT_TRUE(text.ends_with("A planning aid: flight rules, certified engineers and rehearsal decide.\n"));
  std::istringstream lines(text);
  for (std::string line; std::getline(lines, line);) EXPECT_LE(line.size(), 120u) << line;
}

TEST(Text, OfARefusalSaysWhy) {
  const SmallYard yard;
  const auto text = report::text(yard.context(), yard.world->route("a", "lonely"));
  EXPECT_NE(text.find(R"(No route. Why not:
  1. Out of reach: the rails that can be reached end at rail east (4.00, 0.00, -0.07); the nearest beyond is rail lonely
     (8.00, 0.00, -0.07), 4.00 m away, and a hand reaches 0.61 m. Hopping over whatever rails lie between, a gap of
     4.00 m cannot be avoided.
)"),
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

}  // namespace
}  // namespace holdfast::report
