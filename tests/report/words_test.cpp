// SPDX-License-Identifier: GPL-3.0-or-later
// Rounding, units and line breaking: the facts that every printed number rests on.

#include "words_impl.h"

#include <gtest/gtest.h>

#include <limits>

#include "page_impl.h"

namespace holdfast::report::detail {
namespace {

const Options metric{};
const Options imperial{.imperial = true};

TEST(Duration, RoundsUpToTheSecond) {
  EXPECT_EQ(duration(0), "0:00:00");
  EXPECT_EQ(duration(59.001), "0:01:00");
  EXPECT_EQ(duration(3600), "1:00:00");
  EXPECT_EQ(duration(36000 + 61), "10:01:01");
}

TEST(Duration, IsNotPushedUpByTheNoiseOfAddition) {
  double sum = 0;
  for (int i = 0; i < 30; ++i) sum += 0.1;  // 3.0000000000000013
  ASSERT_GT(sum, 3.0);
  EXPECT_EQ(duration(sum), "0:00:03");
}

TEST(Length, RoundsUpWhereMoreIsWorseAndDownWhereLessIs) {
  EXPECT_EQ(length_up(metric, 1.231), "1.24 m");
  EXPECT_EQ(length_down(metric, 1.239), "1.23 m");
  EXPECT_EQ(length_up(metric, 0.61), "0.61 m");
  EXPECT_EQ(length_down(metric, 0.61), "0.61 m");
  EXPECT_EQ(length_down(metric, 0), "0.00 m");
  EXPECT_EQ(short_length_up(metric, 0.1524), "0.153 m");
  EXPECT_EQ(short_length_down(metric, 0.0569), "0.056 m");
  EXPECT_EQ(length_up(metric, std::numeric_limits<double>::infinity()), "unbounded");
}

TEST(Length, StandsInFeetAndInchesBesideMetresWhenAsked) {
  // 1 ft = 0.3048 m, 1 in = 0.0254 m exactly.
  EXPECT_EQ(length_up(imperial, 0.3048), "0.31 m (1 ft 0 in)");
  EXPECT_EQ(length_down(imperial, 0.3048), "0.30 m (1 ft 0 in)");
  EXPECT_EQ(length_up(imperial, 1.09), "1.09 m (3 ft 7 in)");    // 42.91 in
  EXPECT_EQ(length_down(imperial, 1.09), "1.09 m (3 ft 6 in)");  // the same, rounded down
  EXPECT_EQ(length_down(imperial, 0), "0.00 m (0 ft 0 in)");
  EXPECT_EQ(length_up(imperial, 0.6095), "0.61 m (2 ft 0 in)");  // 23.996 in carry into feet
}

TEST(Point, HasNoNegativeZero) { EXPECT_EQ(point({-0.001, 2, -3.456}), "(0.00, 2.00, -3.46)"); }

TEST(Csv, QuotesWhatRfc4180Asks) {
  EXPECT_EQ(csv_field("plain"), "plain");
  EXPECT_EQ(csv_field("a,b"), "\"a,b\"");
  EXPECT_EQ(csv_field("say \"go\""), "\"say \"\"go\"\"\"");
  EXPECT_EQ(csv_field("two\nlines\x1b"), "twoU+000AlinesU+001B");
  // What a spreadsheet would take for a formula is marked as text; numbers are not.
  EXPECT_EQ(csv_field("=1+1"), "'=1+1");
  EXPECT_EQ(csv_field("@sum(a,b)"), "\"'@sum(a,b)\"");
  EXPECT_EQ(csv_field("-1.5e-3"), "-1.5e-3");
}

TEST(Wrap, BreaksAtTheWidthAndIndentsWhatFollows) {
  EXPECT_EQ(wrap("one two three four", 0, 2, 9), "one two\n  three\n  four");
  EXPECT_EQ(wrap("one two", 5, 0, 9), "one\ntwo");
  EXPECT_EQ(wrap("", 0, 2, 9), "");
}

TEST(Wrap, NeverCutsAWord) {
  EXPECT_EQ(wrap("a considerably-long-identifier b", 0, 1, 8), "a\n considerably-long-identifier\n b");
}

TEST(Wrap, KeepsANumberWithItsUnitAndAPointTogether) {
  EXPECT_EQ(wrap("away by 0.61 m, at", 0, 0, 12), "away by\n0.61 m, at");
  EXPECT_EQ(wrap("room at (1.00, 2.00, -3.00) now", 0, 0, 20), "room at\n(1.00, 2.00, -3.00)\nnow");
  EXPECT_EQ(wrap("page 3 (see the table)", 0, 0, 10), "page 3\n(see the\ntable)");
}

TEST(Width, CountsCharactersNotBytes) {
  EXPECT_EQ(width_of("m\u00e2t"), 3u);
  EXPECT_EQ(pad_right("\u00e9", 3), "\u00e9  ");
  EXPECT_EQ(pad_left("\u00e9", 3), "  \u00e9");
}

TEST(Rounded, DropsNoiseAndNegativeZero) {
  EXPECT_EQ(rounded(0.1 + 0.2), 0.3);
  EXPECT_FALSE(std::signbit(rounded(-1e-9)));
  for (const auto side : {rounded_up, rounded_down}) {
    EXPECT_EQ(side(0.1 + 0.2), 0.3) << "noise pushes nothing over";
    EXPECT_FALSE(std::signbit(side(-1e-13)));
  }
}

TEST(Rounded, ToEitherSide) {
  EXPECT_EQ(rounded_up(1.2345671), 1.234568);
  EXPECT_EQ(rounded_down(1.2345679), 1.234567);
  EXPECT_EQ(rounded_up(-1.2345679), -1.234567);
  EXPECT_EQ(rounded_down(-1.2345671), -1.234568);
  EXPECT_TRUE(std::isinf(rounded_up(std::numeric_limits<double>::infinity())));
}

TEST(Duration, OfWhatIsAllowedRoundsDown) {
  EXPECT_EQ(duration_down(30.9), "0:00:30");
  EXPECT_EQ(duration_down(31), "0:00:31");
}

}  // namespace
}  // namespace holdfast::report::detail
