// SPDX-License-Identifier: GPL-3.0-or-later
// Labels of the sheet: never over each other, whatever the crowd; texts broken so that they fit.

#include "label_placer_impl.h"

#include <gtest/gtest.h>

#include <random>

#include "lettering_impl.h"

namespace holdfast::picture {
namespace {

/// By points of the segment, close together.
bool meets_slowly(const Segment& s, const Rect& r) {
  for (int k = 0; k <= 2000; ++k) {
    const Vec2 p = s.first + (s.second - s.first) * (k / 2000.0);
    if (p.x() > r.x0 && p.x() < r.x1 && p.y() > r.y0 && p.y() < r.y1) return true;
  }
  return false;
}

TEST(LabelPlacer, KeepsLabelsAndTheirLeadersApart) {
  std::mt19937 random(20);
  std::uniform_real_distribution<double> anywhere(0, 1);
  for (int round = 0; round < 30; ++round) {
    SCOPED_TRACE(round);
    const Rect area{10, 20, 150, 100};
    LabelPlacer placer(area);
    for (int k = 0; k < 50; ++k) placer.spare({10 + 140 * anywhere(random), 20 + 80 * anywhere(random)}, 2);
    std::vector<LabelPlacer::Placed> placed;
    // Half of them crowd at one spot.
    for (int k = 0; k < 80; ++k) {
      const Vec2 at = k % 2 == 0 ? Vec2(60 + 8 * anywhere(random), 50 + 8 * anywhere(random))
                                 : Vec2(10 + 140 * anywhere(random), 20 + 80 * anywhere(random));
      const double width = 2 + 20 * anywhere(random), farthest = k % 3 == 0 ? 60 : 8;
      const auto label = placer.place(at, width, 2.4, farthest);
      if (!label) continue;
      EXPECT_NEAR(label->rect.x1 - label->rect.x0, width, 1e-9);
      const Vec2 nearest(std::clamp(at.x(), label->rect.x0, label->rect.x1),
                         std::clamp(at.y(), label->rect.y0, label->rect.y1));
      EXPECT_LE((nearest - at).norm(), farthest + 1e-9);
      EXPECT_EQ(label->leader.has_value(), (nearest - at).norm() > 1.7) << "what stands off is led out";
      placed.push_back(*label);
    }
    EXPECT_GT(placed.size(), 40u);
    for (std::size_t i = 0; i < placed.size(); ++i) {
      EXPECT_TRUE(area.holds(placed[i].rect));
      for (std::size_t k = 0; k < placed.size(); ++k) {
        if (i == k) continue;
        EXPECT_FALSE(placed[i].rect.overlaps(placed[k].rect)) << i << " over " << k;
        if (placed[i].leader) {
          EXPECT_FALSE(meets_slowly(*placed[i].leader, placed[k].rect)) << "leader of " << i << " over " << k;
        }
      }
    }
  }
}

TEST(LabelPlacer, StandsRightBesideWhereThereIsRoomAndLeavesOutWhereThereIsNone) {
  LabelPlacer placer({0, 0, 100, 100});
  const auto label = placer.place({50, 50}, 10, 2, 10);
  ASSERT_TRUE(label);
  EXPECT_FALSE(label->leader);
  EXPECT_FALSE(placer.place({50, 50}, 101, 2, 60)) << "wider than the area";
  EXPECT_FALSE(placer.place({500, 50}, 10, 2, 60)) << "too far from the area";
}

TEST(LabelPlacer, SparesWhatItIsTold) {
  LabelPlacer placer({0, 0, 100, 100});
  for (double x = 40; x < 70; x += 0.5) placer.spare({x, 48.5}, 3);  // a line just above, to the right
  const auto label = placer.place({50, 50}, 10, 2, 10);
  ASSERT_TRUE(label);
  EXPECT_GT(label->rect.y0, 48.5) << "it stands below";
}

TEST(LabelPlacer, SeesWhereSegmentsMeet) {
  std::mt19937 random(21);
  std::uniform_real_distribution<double> anywhere(0, 10);
  int met = 0;
  for (int k = 0; k < 3000; ++k) {
    const Segment s{{anywhere(random), anywhere(random)}, {anywhere(random), anywhere(random)}};
    const double x = anywhere(random), y = anywhere(random);
    const Rect r{x, y, x + 2, y + 1}, smaller{x + 0.01, y + 0.01, x + 1.99, y + 0.99};
    if (meets_slowly(s, smaller)) EXPECT_TRUE(meets(s, r)) << k;
    if (meets(s, smaller)) EXPECT_TRUE(meets_slowly(s, r)) << k;
    met += meets(s, r);
  }
  EXPECT_GT(met, 300);
  EXPECT_TRUE(cross({{0, 0}, {2, 2}}, {{0, 2}, {2, 0}}));
  EXPECT_FALSE(cross({{0, 0}, {2, 2}}, {{3, 0}, {2.5, 5}}));
  EXPECT_TRUE(cross({{0, 0}, {2, 0}}, {{1, 0}, {3, 0}})) << "on one line";
  EXPECT_FALSE(cross({{0, 0}, {2, 0}}, {{3, 0}, {4, 0}}));
}

TEST(Lettering, BreaksLinesThatFitAndLosesNothing) {
  const std::string words =
      "over to lock collar, along 1.24 m, an-identifier-that-is-wider-than-any-line-has-room-for, end";
  for (const double width : {6.0, 12.0, 30.0, 500.0}) {
    std::string joined;
    for (const auto& line : wrapped(words, width, 2.1)) {
      EXPECT_LE(text_width(line, 2.1), width) << line;
      EXPECT_FALSE(line.empty());
      joined += line;
    }
    const auto without_spaces = [](std::string text) {
      std::erase(text, ' ');
      return text;
    };
    EXPECT_EQ(without_spaces(joined), without_spaces(words));
  }
  EXPECT_EQ(wrapped("", 10, 2), (std::vector<std::string>{""}));
  EXPECT_EQ(wrapped("a b", 500, 2), (std::vector<std::string>{"a b"}));
  EXPECT_EQ(wrapped("\u00fc\u00fc\u00fc", 0.1, 2).size(), 3u) << "characters stay whole";
  EXPECT_GT(text_width("W", 2, true), text_width("W", 2, false));
}

}  // namespace
}  // namespace holdfast::picture
