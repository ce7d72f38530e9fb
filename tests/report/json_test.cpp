// SPDX-License-Identifier: GPL-3.0-or-later
#include <gtest/gtest.h>

#include <limits>

#include "sample.h"
#include "schema_check.h"

namespace holdfast::report {
namespace {

using nlohmann::json;

json route_document(const route::Answer& answer, Options options = {}) {
  const sample::Desk desk(options);
  return json::parse(report::json(desk.context, answer));
}

constexpr route::CauseKind all_causes[] = {
    route::CauseKind::NoGripNear,   route::CauseKind::InZone,       route::CauseKind::OnClosedRails,
    route::CauseKind::Reach,        route::CauseKind::TurnLimit,    route::CauseKind::HandLineBlocked,
    route::CauseKind::BodyTooTight, route::CauseKind::LoadTooTight, route::CauseKind::Zones,
    route::CauseKind::Closures,     route::CauseKind::ZoneTime,     route::CauseKind::Tether};

TEST(RouteJson, KeepsTheSchema) { EXPECT_EQ(support::schema_faults("result", route_document(sample::found())), ""); }

TEST(RouteJson, BeginsWithWhatItIs) {
  const sample::Desk desk;
  const std::string text = report::json(desk.context, sample::found());
  EXPECT_EQ(text.substr(0, text.find("\"model\"")),
            "{\n  \"holdfast\": \"result/2\",\n  \"verb\": \"route\",\n  \"outcome\": \"route\",\n  ");
  EXPECT_EQ(text.back(), '\n');
}

TEST(RouteJson, HasTheNumbersAndNamesOfTheRoute) {
  const auto document = route_document(sample::found());
  EXPECT_EQ(
      document["request"],
      json::parse(
          R"({"from":"hatch","to":"mast-top","via":["valve"],"by":"time","priced":false,"closed_rails":["drum-2"]})"));
  EXPECT_EQ(document["configuration"], json::parse(R"({"arm":"stowed","dish":"tracking"})"));
  const auto& route = document["route"];
  EXPECT_EQ(route["time_s"], 3660.25);
  EXPECT_EQ(route["moves"], 12);
  double sum = 0;
  for (const auto& part : route["time_by_cause_s"]) sum += part.get<double>();
  EXPECT_NEAR(sum, 3660.25, 1e-9);
  EXPECT_EQ(route["clearance"],
            json::parse(R"({"m":0.5451,"at_least":false,"spare_m":0.0001,"part":"drum","at":[3.0,-1.004,-2.0]})"));
  EXPECT_EQ(route["kick_band"],
            json::parse(R"([{"part":"mast","distance_m":0.3456,"leg":1,"row":2,"fragile":true,"no_touch":true}])"));
  ASSERT_EQ(route["legs"].size(), 2u);
  const auto& row = route["legs"][0]["rows"][2];
  EXPECT_EQ(row["what"], "across a gap of 0.52 m, along 2.40 m");
  EXPECT_EQ(row["rail"], "drum-2");
  EXPECT_EQ(row["face_from"], "zenith");
  EXPECT_EQ(
      row["zones"][0],
      json::parse(
          R"({"zone":"view","effect":"caution","reason":"in the camera's view","inside_s":12.5,"nearest_m":0.0})"));
  EXPECT_EQ(route["legs"][1]["poses"][0],
            json::parse(R"({"at_s":3655.25,"rail":"mast-1","hand":[3.0,0.0,-4.0],"body":[2.45,0.0,-4.0],
                            "outward":[-1.0,0.0,0.0],"stance":[-1.0,0.0,0.0],"loads":[]})"));
  EXPECT_EQ(
      document["used"][0],
      json::parse(
          R"({"name":"corridor diameter","unit":"m","value":1.09,"source":"a standard, 1.2","confidence":"memory"})"));
}

TEST(RouteJson, SaysNullWhereNothingBoundsTheClearance) {
  auto answer = sample::found();
  auto& route = std::get<route::Route>(answer.outcome);
  route.clearance.value_m = std::numeric_limits<double>::infinity();
  route.legs[0].rows[0].clearance.value_m = std::numeric_limits<double>::infinity();
  const auto document = route_document(answer);
  EXPECT_EQ(support::schema_faults("result", document), "");
  EXPECT_TRUE(document["route"]["clearance"]["m"].is_null());
  EXPECT_TRUE(document["route"]["legs"][0]["rows"][0]["clearance"]["m"].is_null());
}

TEST(RouteJson, GivesEveryCauseTheSentenceOfTheText) {
  for (const auto kind : all_causes) {
    const auto cause = sample::cause(kind);
    const auto document = route_document(sample::refused({cause}));
    SCOPED_TRACE(document["causes"].dump());
    EXPECT_EQ(support::schema_faults("result", document), "");
    EXPECT_EQ(document["outcome"], "no-route");
    EXPECT_EQ(document["causes"][0]["text"], sentence(sample::Desk().context, cause));
  }
}

TEST(RouteJson, GivesTheNumbersOfACauseToo) {
  EXPECT_EQ(route_document(sample::refused({sample::cause(route::CauseKind::BodyTooTight)}))["causes"][0],
            json::parse(R"({"kind":"body-too-tight","leg":1,"opens_alone":true,"then_time_s":187.2,"value_m":0.9876,
                            "limit_m":1.09,"at":[1.5,0.0,-2.07],"rail":"drum-1","rail_other":"drum-2","part":"mast",
                            "text":"Too tight for the suit: the widest corridor that passes is 0.98 m, and it needs 1.09 m; the pinch is between rails drum-1 and drum-2 (1.50, 0.00, -2.07) beside mast. With this alone waived, there is a route of 0:03:08."})"));
}

TEST(RouteJson, KeepsTheNumbersOfACauseThatAreZero) {
  auto tight = sample::cause(route::CauseKind::BodyTooTight);
  tight.value_m = 0;
  EXPECT_EQ(route_document(sample::refused({tight}))["causes"][0].at("value_m"), 0);
  auto stay = sample::cause(route::CauseKind::ZoneTime);
  stay.limit_s = 0;
  EXPECT_EQ(route_document(sample::refused({stay}))["causes"][0].at("limit_s"), 0);
  auto opens = sample::cause(route::CauseKind::Closures);
  opens.then_time_s = 0;
  EXPECT_EQ(route_document(sample::refused({opens}))["causes"][0].at("then_time_s"), 0);
}

TEST(RouteJson, RoundsToTheSafeSideAsTextDoes) {
  // Each a tenth of the last digit off: to the nearest, the lengths would come out too short and the clearances too
  // large.
  constexpr double more = 2.0000001, less = 1.9999999;
  auto answer = sample::found();
  auto& route = std::get<route::Route>(answer.outcome);
  route.time_s = route.distance_m = route.caution_s = more;
  route.clearance.value_m = less;
  route.zones[0].inside_s = more, route.zones[0].nearest_m = less;
  route.band[0].distance_m = less;
  auto& row = route.legs[0].rows[1];
  row.distance_m = row.time_s = row.total_distance_m = row.total_time_s = row.gap_m = more;
  row.clearance.value_m = less;
  const auto document = route_document(answer)["route"];
  for (const char* key : {"time_s", "distance_m", "caution_s"}) EXPECT_EQ(document[key], 2.000001) << key;
  EXPECT_EQ(document["clearance"]["m"], 1.999999);
  EXPECT_EQ(document["zones"][0]["inside_s"], 2.000001);
  EXPECT_EQ(document["zones"][0]["nearest_m"], 1.999999);
  EXPECT_EQ(document["kick_band"][0]["distance_m"], 1.999999);
  const auto told = document["legs"][0]["rows"][1];
  for (const char* key : {"distance_m", "time_s", "total_distance_m", "total_time_s", "gap_m"})
    EXPECT_EQ(told[key], 2.000001) << key;
  EXPECT_EQ(told["clearance"]["m"], 1.999999);
  const sample::Desk desk;
  const std::string table = csv(desk.context, answer);
  EXPECT_NE(table.find("1,1,along,along 1.25 m,drum,zenith,zenith,drum-1,0.25,1.5,2.000001,0,2.000001,3,2.000001,"
                       "2.000001,3,2.000001,1.999999,yes"),
            std::string::npos)
      << table;
  for (const bool is_room : {false, true}) {
    auto cause = sample::cause(is_room ? route::CauseKind::BodyTooTight : route::CauseKind::Reach);
    cause.value_m = is_room ? less : more, cause.limit_m = is_room ? more : less;
    const auto numbers = route_document(sample::refused({cause}))["causes"][0];
    EXPECT_EQ(numbers["value_m"], is_room ? 1.999999 : 2.000001);
    EXPECT_EQ(numbers["limit_m"], is_room ? 2.000001 : 1.999999);
  }
}

TEST(RouteJson, SurvivesAFolderNameThatIsNotUtf8) {
  sample::Desk desk;
  desk.context.model_name = "models/caf\xe9";
  const auto document = json::parse(report::json(desk.context, sample::found()));
  EXPECT_EQ(document["model"]["folder"], "models/caf\ufffd");
}

TEST(ResultSchema, RefusesWhatIsNotAResult) {
  auto document = route_document(sample::found());
  document["route"]["legs"][0]["rows"][0].erase("rail");
  EXPECT_NE(support::schema_faults("result", document), "");
  document = route_document(sample::found());
  document["extra"] = 1;
  EXPECT_NE(support::schema_faults("result", document), "");
  document = route_document(sample::found());
  document["outcome"] = "no-route";
  EXPECT_NE(support::schema_faults("result", document), "");
}

check::CheckResult every_finding() {
  using check::FindingKind;
  check::CheckResult result;
  result.configuration.positions = {{"dish", "parked"}};
  for (int kind = 0; kind <= static_cast<int>(FindingKind::IgnoredColumn); ++kind) {
    auto finding = sample::finding(static_cast<FindingKind>(kind), check::Severity::Warning);
    finding.value = 0.5, finding.limit = 0.61, finding.other = "mast", finding.remark = "the mesh has a hole";
    finding.design = model::Quantity{0.61, "a standard", model::Confidence::Memory};
    if (finding.kind == FindingKind::Island) {
      finding.causes = {sample::cause(route::CauseKind::BodyTooTight)};
      finding.along_m = {1.5, 2.5}, finding.partial = 1, finding.pieces = 2;
    }
    result.findings.push_back(finding);
  }
  return result;
}

TEST(CheckJson, KeepsTheSchemaForEveryKindOfFinding) {
  const sample::Desk desk;
  const auto document = json::parse(report::json(desk.context, every_finding()));
  EXPECT_EQ(support::schema_faults("result", document), "");
  EXPECT_EQ(document["outcome"], "no-errors");
  for (const auto& finding : document["findings"]) EXPECT_NE(finding["text"], "") << finding;
}

TEST(CheckJson, SaysSoWhenThereAreErrors) {
  const sample::Desk desk;
  auto result = every_finding();
  result.findings.front().severity = check::Severity::Error;
  EXPECT_EQ(json::parse(report::json(desk.context, result))["outcome"], "errors");
}

TEST(ErrorsJson, KeepsItsSchemaAndTheDiagnostic) {
  const std::vector<model::Diagnostic> faults = {{{"yard/structure.yaml", 48, 14},
                                                  "rails[12].part",
                                                  "dangling-reference",
                                                  "part \"mast_b\" does not exist",
                                                  "mast_b",
                                                  "did you mean \"mast-b\"?"}};
  const auto document = json::parse(report::json(faults));
  EXPECT_EQ(support::schema_faults("errors", document), "");
  EXPECT_EQ(document, json::parse(R"({"holdfast":"errors/1","errors":[{"code":"dangling-reference",
    "problem":"part \"mast_b\" does not exist","remedy":"did you mean \"mast-b\"?","where":"rails[12].part","value":"mast_b",
    "mark":{"file":"yard/structure.yaml","line":48,"column":14}}]})"));
}

TEST(ErrorsJson, SurvivesBytesThatAreNotUtf8) {
  const auto document =
      json::parse(report::json({{{}, "", "unknown-place", "place \"\xff\" is not there", "\xff", ""}}));
  EXPECT_EQ(document["errors"][0]["value"], "\ufffd");
}

}  // namespace
}  // namespace holdfast::report
