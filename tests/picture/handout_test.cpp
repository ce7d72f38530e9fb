// SPDX-License-Identifier: GPL-3.0-or-later
// Cue cards and the timeline sheet: what must stand on them stands there, where it should, as text.

#include "holdfast/picture/handout.h"

#include <gtest/gtest.h>

#include <pugixml.hpp>
#include <string>

namespace holdfast::picture {
namespace {

Handout sample() {
  Handout h{.title = "Antenna swap <draft>",
            .subtitle = "configuration nominal, model 1a2b3c",
            .limit_s = 7200,
            .emergency_s = 1800};
  CueCard one{.crew = "EV1", .finish_s = 6000};
  one.items = {{.name = "wrench & socket", .in = "tool bag", .from = "lock-hatch", .back = "lock-hatch"},
               {.name = "antenna", .from = "stowage-2"}};
  one.steps = {{.number = "1", .kind = BarKind::Overhead, .start_s = 0, .end_s = 900, .text = "egress"},
               {.number = "2",
                .kind = BarKind::Travel,
                .start_s = 900,
                .end_s = 1200.2,
                .text = "to mast-foot",
                .with = "with tool bag",
                .waypoints = {{.text = "along rail-3, aft", .at_s = 960, .home_s = 61.2},
                              {.text = "over to mast", .at_s = 1100}},
                .callouts = {"swap tether at anchor-4"},
                .cautions = {"no-touch: star tracker, 0.31 m from the boots"},
                .home_s = 300},
               {.number = "3", .kind = BarKind::Work, .start_s = 1200.2, .end_s = 4200, .text = "swap the antenna"},
               {.number = "4", .kind = BarKind::Hold, .start_s = 4200, .end_s = 4800, .text = "hold for the boom"},
               {.number = "5", .kind = BarKind::Travel, .start_s = 4800, .end_s = 6000, .text = "return"}};
  CueCard two{.crew = "EV2", .finish_s = 5400};
  two.steps = {{.number = "1", .kind = BarKind::Overhead, .start_s = 0, .end_s = 900, .text = "egress"},
               {.number = "2", .kind = BarKind::Wait, .start_s = 900, .end_s = 2000, .text = "wait for EV1"},
               {.number = "3", .kind = BarKind::Handling, .start_s = 2000, .end_s = 2400, .text = "stow the bag"},
               {.number = "4", .kind = BarKind::Travel, .start_s = 2400, .end_s = 5400, .text = "return"}};
  h.cards = {one, two};
  h.nights = {{-600, 1500}, {5000, 9000}};
  h.home = {{0, 0}, {1200, 300}, {4200, 700}, {5000, std::nullopt}, {5500, 400}, {6000, 0}};
  h.remarks = {"assumed: 10 s for each start and stop"};
  return h;
}

bool has(const std::string& text, const std::string& part) { return text.find(part) != std::string::npos; }

TEST(CueCards, TellEachStepItemCalloutAndTimeHome) {
  const auto html = cue_cards(sample());
  for (const char* part :
       {"wrench &amp; socket", "stays outside", "swap tether at anchor-4",
        "no-touch: star tracker, 0.31 m from the boots", "with tool bag", "along rail-3, aft", "until <b>1:20:00</b>",
        "0:01:02", "not known", "assumed: 10 s", "Checked", "Antenna swap &lt;draft&gt;"})
    EXPECT_TRUE(has(html, part)) << part;
  EXPECT_FALSE(has(html, "<draft>"));
  // A duration is rounded up, what is left down.
  EXPECT_TRUE(has(html, "<td>0:05:01</td>"));
  EXPECT_TRUE(has(html, "left 0:20:00"));
}

TEST(CueCards, LessThanNothingLeftHasASign) {
  auto h = sample();
  h.cards[0].finish_s = 7200.4;
  EXPECT_TRUE(has(cue_cards(h), "left -0:00:01"));
}

TEST(TimelineSheet, BarsStandToScaleAndNightsAreShaded) {
  pugi::xml_document document;
  ASSERT_TRUE(document.load_string(timeline_sheet(sample()).c_str()));
  const auto svg = document.child("svg");
  // From 34 to 408 mm for 7,200 s (the limit is the last moment).
  const auto x = [](double s) { return 34 + 374 * s / 7200; };
  int bars = 0, nights = 0;
  for (const auto& rect : svg.children("rect")) {
    const std::string kind = rect.attribute("class").value();
    if (kind.rfind("bar ", 0) == 0) ++bars;
    if (kind == "bar work") {
      EXPECT_NEAR(rect.attribute("x").as_double(), x(1200.2), 1e-3);
      EXPECT_NEAR(rect.attribute("width").as_double(), x(4200) - x(1200.2), 2e-3);
    }
    if (kind != "night") continue;
    ++nights;
    EXPECT_NEAR(rect.attribute("x").as_double(), nights == 1 ? x(0) : x(5000), 1e-3);
    EXPECT_NEAR(rect.attribute("width").as_double(), nights == 1 ? x(1500) - x(0) : x(7200) - x(5000), 2e-3);
  }
  EXPECT_EQ(bars, 9);
  EXPECT_EQ(nights, 2);
  // Where it is not proven the curve is broken.
  int curves = 0;
  for (const auto& line : svg.children("polyline")) curves += line.attribute("class").value() == std::string("home");
  EXPECT_EQ(curves, 2);
  EXPECT_TRUE(svg.find_child_by_attribute("path", "class", "not-proven"));
  EXPECT_TRUE(has(timeline_sheet(sample()), "longest 0:11:40 at 1:10:00, margin to the emergency return 0:18:20"));
  EXPECT_TRUE(has(timeline_sheet(sample()), "; not proven at 1 moment<"));
}

TEST(TimelineSheet, NothingToDrawIsStillASheet) {
  pugi::xml_document document;
  EXPECT_TRUE(document.load_string(timeline_sheet({}).c_str()));
  EXPECT_TRUE(has(cue_cards({}), "No crew member"));
}

}  // namespace
}  // namespace holdfast::picture
