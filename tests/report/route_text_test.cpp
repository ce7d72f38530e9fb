// SPDX-License-Identifier: GPL-3.0-or-later
// Whole pages, as a person reads them.

#include <gtest/gtest.h>

#include <limits>
#include <sstream>

#include "page_impl.h"
#include "sample.h"

namespace holdfast::report {
namespace {

std::string page(const route::Answer& answer, Options options = {}) {
  const sample::Desk desk(options);
  return text(desk.context, answer);
}

/// What every page of the sample ends with.
const std::string ending = R"(Assumed, with sources:
  corridor diameter     1.09 m      a standard, 1.2; from memory, verify
  rate, hands free       0.2 m/s    common practice, no source
Model models/sample, digest 44a58cdc8e65 (structure.yaml aaaaaaaa, kit.yaml bbbbbbbb). Engine 9.8.7.
Lengths and times are never less than the model gives, and are rounded up; clearances are never more, at most 4 mm less,
  and are rounded down.
A planning aid: flight rules, certified engineers and rehearsal decide.
)";

route::Answer one_leg(std::vector<route::Row> rows) {
  auto answer = sample::asked();
  answer.request.via.clear();
  answer.request.closed_rails.clear();
  route::Route route;
  route.legs = {{.from = "hatch", .to = "mast-top", .rows = std::move(rows)}};
  route.moves = 1, route.distance_m = 0.6, route.time_s = 13;
  route.time_by_cause.start_stop_s = 10, route.time_by_cause.translate_s = 3;
  route.time_by_cause.turn_s = 1e-8;  // noise: not told
  route.clearance = {std::numeric_limits<double>::infinity(), true};
  answer.outcome = route;
  return answer;
}

TEST(RouteText, OfTwoLegs) {
  EXPECT_EQ(page(sample::found()), R"(Sample yard: hatch -> valve -> mast-top
  least time, suit standard; arm=stowed dish=tracking; closed: drum-2

Leg 1: hatch -> valve, 0:00:37 in 9 hand moves over 4.26 m
                                                     clearance               row              so far
  #  what                                  rail        m spare       m moves    time       m moves    time
  stores drum, zenith
  0  start                                 drum-1   0.60  0.05    0.00     0 0:00:05    0.00     0 0:00:05
  1  along 1.25 m                          drum-1  0.84+ 0.30+    1.25     3 0:00:07    1.25     3 0:00:12
       near keep-out zone beam 0.56 m
  stores drum, zenith to port
  2  across a gap of 0.52 m, along 2.40 m  drum-2   0.54  0.00    3.01     6 0:00:25    4.26     9 0:00:37
       CAUTION: 0:00:13 in caution zone view: in the camera's view
       CAUTION: 0:00:20 in limit zone frost: cold surface
  + at least: there is more room than was looked for

Leg 2: valve -> mast-top, 1:00:24 in 3 hand moves over 2.00 m
                                                           clearance               row              so far
  #  what                                        rail        m spare       m moves    time       m moves    time
  stores drum, port
  0  start                                       drum-2   0.60  0.05    0.00     0 0:00:05    4.26     9 0:00:42
  stores drum, aft
  1  round an edge of 80 deg                     drum-1   0.60  0.05    1.10     1 0:00:09    5.36    10 0:00:51
  mast, aft
  2  over to mast, turning 90 deg, along 0.45 m  mast-1   0.60  0.05    0.90     2 1:00:10    6.26    12 1:01:01

1:01:01 in 12 hand moves over 6.26 m.
  Time by cause     path at the rate 3600.2 s, short re-grips 4.0 s, turning 30.1 s, rail changes 6.0 s, start and stop
                    20.0 s
  Least clearance   0.54 m from the body axis to stores drum, body at (3.00, -1.00, -2.00); spare beyond the corridor
                    0.00 m
  Zones             keep-out zone beam 0.56 m from the corridor: radio beam
                    CAUTION: 0:00:13 in caution zone view: in the camera's view
                    CAUTION: 0:00:20 in limit zone frost: cold surface (at most 0:00:30 allowed)
                    in caution zones altogether 0:00:13 (whole moves are counted)
  Kick band         within 0.61 m of the path, where hardware must bear a kick (556 N; a table, p. 3-5):
                    - mast, no-touch and fragile: 0.34 m away at row 2 of leg 2

)" + ending);
}

TEST(RouteText, HasNoLinesForWhatIsNotThere) {
  using route::Face;
  using route::RowKind;
  auto start = sample::row(RowKind::Start, sample::drum, sample::drum_1, Face::Zenith);
  start.time_s = start.total_time_s = 5;
  start.clearance = {std::numeric_limits<double>::infinity(), true};
  EXPECT_EQ(page(one_leg({start})), R"(Sample yard: hatch -> mast-top
  least time, suit standard; arm=stowed dish=tracking

                      clearance               row              so far
  #  what   rail        m spare       m moves    time       m moves    time
  stores drum, zenith
  0  start  drum-1   open  open    0.00     0 0:00:05    0.00     0 0:00:05

0:00:13 in 1 hand move over 0.60 m.
  Time by cause     path at the rate 3.0 s, start and stop 10.0 s
  Least clearance   no structure near the path
  Zones             none entered, none near the corridor
  Kick band         nothing fragile or no-touch within 0.61 m of the path (556 N; a table, p. 3-5)

)" + ending);
}

TEST(RouteText, AddsFeetAndCoordinatesWhenAsked) {
  using route::Face;
  using route::RowKind;
  auto along = sample::row(RowKind::Along, sample::drum, sample::drum_1, Face::Zenith);
  along.along_to_m = along.distance_m = 0.6, along.total_distance_m = 3.048, along.moves = along.total_moves = 1;
  along.hand = {1, -2.004, 3};
  const std::string text = page(one_leg({along}), {.imperial = true, .coordinates = true});
  EXPECT_EQ(text.substr(0, text.find("\n\n", 200)), R"(Sample yard: hatch -> mast-top
  least time, suit standard; arm=stowed dish=tracking

                                         clearance               row              so far
  #  what                      rail        m spare       m moves    time       m moves    time
  stores drum, zenith
  0  along 0.60 m (2 ft 0 in)  drum-1   0.60  0.05    0.60     1 0:00:00    3.05     1 0:00:00
       hand at (1.00, -2.00, 3.00)
       row 2 ft 0 in, so far 10 ft 0 in, clearance 1 ft 11 in)");
}

TEST(RouteText, GivesEachReasonWhyNot) {
  auto closure = sample::cause(route::CauseKind::Closures);
  closure.leg = 0;
  EXPECT_EQ(page(sample::refused({sample::cause(route::CauseKind::BodyTooTight), closure})),
            R"(Sample yard: hatch -> valve -> mast-top
  least time, suit standard; arm=stowed dish=tracking; closed: drum-2

No route. Why not:
  1. Leg 2: Too tight for the suit: the widest corridor that passes is 0.98 m, and it needs 1.09 m; the pinch is between
     rails drum-1 and drum-2 (1.50, 0.00, -2.07) beside mast. With this alone waived, there is a route of 0:03:08.
  2. Leg 1: A closed rail is in the way: drum-2, first met (1.50, 0.00, -2.07). With this alone waived, there is a route
     of 0:00:44.

)" + ending);
}

TEST(RouteText, SaysWhenTheSearchWasCutShort) {
  auto answer = sample::refused({sample::cause(route::CauseKind::ZoneTime)});
  answer.is_certain = false;
  EXPECT_NE(page(answer).find("  The search was cut short: a path may exist all the same.\n"), std::string::npos);
  answer = sample::found();
  answer.is_certain = false;
  EXPECT_NE(page(answer).find("The search was cut short: a better route may exist.\n"), std::string::npos);
}

TEST(RouteText, KeepsWithinThePageAndCutsNoNames) {
  sample::Desk desk({.imperial = true, .coordinates = true});
  desk.structure_.rails[sample::drum_2.index()].id = "forward-starboard-radiator-inboard-7";
  desk.structure_.parts[sample::mast.index()].name = "mast of the second high-gain antenna";
  const std::string text = report::text(desk.context, sample::found());
  EXPECT_NE(text.find("forward-starboard-radiator-inboard-7"), std::string::npos);
  EXPECT_NE(text.find("mast of the second high-gain antenna, aft"), std::string::npos);
  std::istringstream lines(text);
  for (std::string line; std::getline(lines, line);) EXPECT_LE(detail::width_of(line), detail::page_width) << line;
}

TEST(CheckText, GroupsFindingsUnderTheirDesignValue) {
  using check::FindingKind;
  using check::Severity;
  sample::Desk desk;
  check::CheckResult result;
  result.configuration.positions = {{"dish", "parked"}};
  result.summary = {.parts = 2,
                    .rails = 3,
                    .grips = 40,
                    .moves = 90,
                    .open_moves = 80,
                    .places = 1,
                    .zones = 3,
                    .islands = 2,
                    .primitives = 2,
                    .rail_length_m = 6.25};
  auto inside = sample::finding(FindingKind::RailInSolid, Severity::Error);
  inside.value = 0.25, inside.other = "drum";
  auto gap = sample::finding(FindingKind::Gap, Severity::Warning);
  gap.value = 0.7, gap.limit = 0.61, gap.other = "mast-1";
  gap.design = model::Quantity{0.61, "a standard, 1.2", model::Confidence::Memory};
  auto other_gap = gap;
  other_gap.subject = "drum-2", other_gap.mark.line = 13;
  auto mesh = sample::finding(FindingKind::MeshDefect, Severity::Note);
  mesh.subject = "drum", mesh.remark = "1 of 2 shells is open: no inside", mesh.mark = {};
  result.findings = {inside, gap, other_gap, mesh};
  EXPECT_EQ(
      text(desk.context, result),
      R"(Sample yard: 2 parts, 3 rails (6.2 m for hands), 40 grips, 80 moves open of 90 within reach, 1 place, 3 zones, 2 islands
  suit standard; dish=parked

Errors (1)

  Rails inside solids
    models/sample/structure.yaml:12:5: rail drum-1: 0.25 m of it lies inside drum, so no answer uses it; move it off the
      part, or say with `when:` in which configurations it is there; at (1.00, 2.00, 3.00)

Warnings (2)

  Gaps between neighbouring rails [a standard, 1.2; from memory, verify]
    models/sample/structure.yaml:12:5: rails drum-1 and mast-1: the gap between them is 0.70 m, and 0.61 m is the most
      that is allowed; at (1.00, 2.00, 3.00)
    models/sample/structure.yaml:13:5: rails drum-2 and mast-1: the gap between them is 0.70 m, and 0.61 m is the most
      that is allowed; at (1.00, 2.00, 3.00)

Notes (1)

  Mesh files
    part drum: 1 of 2 shells is open: no inside

1 error, 2 warnings, 1 note.
Model models/sample, digest 44a58cdc8e65. Engine 9.8.7.
A planning aid: flight rules, certified engineers and rehearsal decide.
)");
}

TEST(CheckText, OfASoundModelIsShort) {
  sample::Desk desk;
  EXPECT_EQ(
      text(desk.context, check::CheckResult{}),
      R"(Sample yard: 0 parts, 0 rails (0.0 m for hands), 0 grips, 0 moves open of 0 within reach, 0 places, 0 zones, 0 islands
  suit standard; no switches

0 errors, 0 warnings, 0 notes.
Model models/sample, digest 44a58cdc8e65. Engine 9.8.7.
A planning aid: flight rules, certified engineers and rehearsal decide.
)");
}

TEST(FaultText, HasALineToClickAndARemedyEach) {
  EXPECT_EQ(text({{{"yard/structure.yaml", 48, 14},
                   "rails[12].part",
                   "dangling-reference",
                   "rail \"r-12\": part \"mast_b\" does not exist",
                   "mast_b",
                   "did you mean \"mast-b\" (line 9)?"},
                  {{}, "", "usage", "MODEL is required", "", "see holdfast route --help"}}),
            "yard/structure.yaml:48:14: rail \"r-12\": part \"mast_b\" does not exist\n"
            "    did you mean \"mast-b\" (line 9)?\n"
            "MODEL is required\n"
            "    see holdfast route --help\n");
}

}  // namespace
}  // namespace holdfast::report
