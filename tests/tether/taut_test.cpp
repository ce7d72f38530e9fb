// SPDX-License-Identifier: GPL-3.0-or-later
// A line pulled tight: against closed forms, against an independent search in the plane, and what must hold of any.

#include "holdfast/tether/taut.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <map>
#include <numbers>
#include <queue>
#include <tuple>

#include "mesh_scene.h"
#include "yard_builder.h"

namespace holdfast::tether {
namespace {

using support::World;
using support::YardBuilder;
constexpr double pi = std::numbers::pi;

geometry::Scene scene_of(const model::Structure& structure) {
  return geometry::build_scene(structure, structure.default_configuration());
}

double taut_length(const geometry::Scene& scene, const std::vector<Vec3>& way) {
  const auto line = pull_taut(scene, way);
  EXPECT_TRUE(line.is_settled);
  EXPECT_LE(line.length_m, length_of(way) + 1e-9);
  EXPECT_GE(line.length_m, (way.back() - way.front()).norm() - 1e-9);
  for (std::size_t i = 1; i < line.points.size(); ++i)
    EXPECT_FALSE(scene.is_segment_blocked(line.points[i - 1], line.points[i])) << i;
  return line.length_m;
}

// Standards table, section 8b: taut line round a disc.
TEST(Taut, RoundADisc) {
  YardBuilder yard;
  yard.part("post", model::Cylinder{.from = {0, 0, -5}, .to = {0, 0, 5}, .radius = 1});
  const auto scene = scene_of(yard.structure);
  const double exact = 2 * std::sqrt(3) + pi / 3;
  for (const double wild : {1.2, 2.0, 3.0}) {
    const double got = taut_length(scene, {{-2, 0, 0}, {-1.5, wild, 1}, {0, wild, -1}, {1.5, wild, 0.5}, {2, 0, 0}});
    EXPECT_GE(got, exact);
    EXPECT_LE(got, exact + 0.006);
  }
}

// Standards table, section 8b: round a square in the plane, two equal ways.
TEST(Taut, RoundASquare) {
  YardBuilder yard;
  yard.part("block", model::Box{.size = {2, 2, 10}});
  const auto scene = scene_of(yard.structure);
  for (const double side : {1.0, -1.0}) {
    const double got = taut_length(scene, {{-2, 0, 0}, {-1.3, side * 1.7, 2}, {0.4, side * 2.4, -1}, {2, 0, 0}});
    EXPECT_GE(got, 2 * std::sqrt(2) + 2);
    EXPECT_LE(got, 2 * std::sqrt(2) + 2 + 0.008);
  }
}

// Over the edge of a box the line is straight where the two faces are unfolded.
TEST(Taut, OverAnEdgeAslant) {
  YardBuilder yard;
  yard.part("block", model::Box{.size = {20, 4, 4}});
  const auto scene = scene_of(yard.structure);
  // From the top face (z = -2) to the side (y = 2).
  const Vec3 a(-3, 0.5, -2.01), b(4, 2.01, 1);
  const double unfolded = std::hypot(7, 1.5 + 3);
  for (const double over : {-6.0, -2.0, 0.0, 3.0, 6.0}) {
    const double got = taut_length(scene, {a, {over, 0.5, -2.5}, {over, 2.5, -2.5}, {over, 2.5, 1}, b});
    EXPECT_GE(got, unfolded - 0.02);
    EXPECT_LE(got, unfolded + 0.02);
  }
}

// Over two edges of a box, however it lies and however far the way given strays along them.
TEST(Taut, OverTwoEdgesIsStraightUnfolded) {
  support::Random random(20261127);
  constexpr int rounds = 250;
  int unsettled = 0;
  for (int round = 0; round < rounds; ++round) {
    SCOPED_TRACE(round);
    const double width = 0.5 + 3 * random.unit(), down = 0.2 + 2 * random.unit(), up = 0.2 + 2 * random.unit();
    const double along = 8 * (random.unit() - 0.5), off = 0.01;
    model::Pose pose = model::Pose::Identity();
    pose.translate(random.point(3));
    pose.rotate(random.rotation());
    YardBuilder yard;
    yard.part("block", model::Box{.size = {60, width, 6}}, pose);
    const auto scene = scene_of(yard.structure);
    const double side = width / 2, top = -3;
    const auto stray = [&] { return 6 * (random.unit() - 0.5); };
    const auto lift = [&] { return 0.3 + random.unit(); };
    std::vector<Vec3> way = {{0, -side - off, top + down},
                             {stray(), -side - lift(), top + down * random.unit()},
                             {stray(), -side - 0.3 * random.unit(), top - lift()},
                             {stray(), 0, top - lift()},
                             {stray(), side + 0.3 * random.unit(), top - lift()},
                             {stray(), side + lift(), top + up * random.unit()},
                             {along, side + off, top + up}};
    for (Vec3& p : way) p = pose * p;
    const double unfolded = std::hypot(along, down + width + up);
    const auto line = pull_taut(scene, way);
    EXPECT_GE(line.length_m, unfolded - 0.02) << "off the faces it begins 1 cm nearer to the other end";
    EXPECT_LE(line.least_m, unfolded + 0.02) << "what is told as the least it can be is never more than it is";
    if (!line.is_settled) {
      ++unsettled;
      continue;
    }
    EXPECT_EQ(line.least_m, line.length_m);
    EXPECT_LE(line.length_m, unfolded + 0.02);
  }
  EXPECT_LE(unsettled, rounds / 100) << "one that stops too long says so, and that is seldom";
}

// What was not pulled to its end says so, and how much it may be too long at most.
TEST(Taut, SaysWhereItIsCutShort) {
  YardBuilder yard;
  yard.part("drum", model::Cylinder{.from = {-10, 0, 0}, .to = {10, 0, 0}, .radius = 2});
  const auto scene = scene_of(yard.structure);
  std::vector<Vec3> way;
  for (int i = 0; i <= 20; ++i) way.emplace_back(i % 7, 2.6 * std::sin(0.15 * i), -2.6 * std::cos(0.15 * i));
  const auto settled = pull_taut(scene, way), cut_short = pull_taut(scene, way, {.most_rounds = 1});
  EXPECT_TRUE(settled.is_settled);
  EXPECT_FALSE(cut_short.is_settled);
  EXPECT_GT(cut_short.length_m, settled.length_m);
  EXPECT_LE(cut_short.least_m, settled.length_m);
}

TEST(Taut, HelixOnADrum) {
  YardBuilder yard;
  yard.part("drum", model::Cylinder{.from = {-10, 0, 0}, .to = {10, 0, 0}, .radius = 2});
  const auto scene = scene_of(yard.structure);
  const double r = 2.003;
  const auto on = [&](double x, double angle, double radius) {
    return Vec3(x, radius * std::sin(angle), -radius * std::cos(angle));
  };
  for (const double height : {0.5, 3.0, 6.0}) {
    std::vector<Vec3> way = {on(0, 0, r), on(0, 0, 2.6)};
    for (int i = 1; i <= 20; ++i) way.push_back(on(i < 10 ? 0 : height, 150 * pi / 180 * i / 20, 2.6));
    way.push_back(on(height, 150 * pi / 180, r));
    const double exact = std::hypot(2 * 150 * pi / 180, height);
    const double got = taut_length(scene, way);
    EXPECT_GE(got, exact);
    EXPECT_LE(got, exact + 0.012);
  }
}

// Standards table, section 8b: belts over two equal discs, as loops that begin and end at one point of the belt.
TEST(Taut, BeltsOverTwoDiscs) {
  YardBuilder yard;
  for (const double x : {-2.5, 2.5})
    yard.part("post", model::Cylinder{.from = {x, 0, -9}, .to = {x, 0, 9}, .radius = 1});
  const auto scene = scene_of(yard.structure);
  const Vec3 on_belt(0, 1.0025, 0);
  const double open =
      taut_length(scene, {on_belt, {4, 2, 0.5}, {5, -1, 0}, {0, -3, -1}, {-5, -1, 0}, {-4, 2, 0}, on_belt});
  EXPECT_GE(open, 2 * 5 + 2 * pi);
  EXPECT_LE(open, 2 * 5 + 2 * pi + 0.03);
  const Vec3 middle(0, 0, 0);
  const double crossed = taut_length(scene, {middle,
                                             {2, 2, 0.5},
                                             {5, 2, 0},
                                             {5, -2, 0},
                                             {2, -2, -1},
                                             middle,
                                             {-2, 2, 0},
                                             {-5, 2, 0},
                                             {-5, -2, 0},
                                             {-2, -2, 0},
                                             middle});
  const double exact = 2 * std::sqrt(25 - 4) + 2 * (pi + 2 * std::asin(2 / 5.0));
  EXPECT_GE(crossed, exact);
  EXPECT_LE(crossed, exact + 0.05);
}

// ---- the plane, by a search of its own
// --------------------------------------------------------------------------------

/// Shortest way in the plane among boxes that passes them as a given one does: Dijkstra's method over corners that see
/// each other, and over which rays (one up from each box's middle) were crossed, in which sense and order.
class PlanarSearch {
 public:
  struct Rect {
    double x0, y0, x1, y1;
  };
  using Word = std::vector<int>;
  explicit PlanarSearch(std::vector<Rect> boxes) : boxes_(std::move(boxes)) {}

  [[nodiscard]] Word word_of(const std::vector<Vec3>& way) const {
    Word word;
    for (std::size_t i = 1; i < way.size(); ++i) append(word, crossings(way[i - 1], way[i]));
    return word;
  }

  [[nodiscard]] double shortest(const Vec3& from, const Vec3& to, const Word& word) const {
    std::vector<Vec3> nodes = {from, to};
    for (const auto& b : boxes_)
      for (const double x : {b.x0, b.x1})
        for (const double y : {b.y0, b.y1}) nodes.emplace_back(x, y, 0);
    std::map<std::pair<std::size_t, Word>, double> best;
    using Open = std::tuple<double, std::size_t, Word>;
    std::priority_queue<Open, std::vector<Open>, std::greater<>> open;
    open.emplace(0, 0, Word{});
    while (!open.empty()) {
      const auto [cost, node, at] = open.top();
      open.pop();
      if (node == 1 && at == word) return cost;
      if (!best.emplace(std::pair(node, at), cost).second) continue;
      for (std::size_t next = 0; next < nodes.size(); ++next) {
        if (next == node || !sees(nodes[node], nodes[next])) continue;
        Word after = at;
        append(after, crossings(nodes[node], nodes[next]));
        if (after.size() <= word.size() + 3) open.emplace(cost + (nodes[next] - nodes[node]).norm(), next, after);
      }
    }
    return -1;
  }

 private:
  static void append(Word& word, const Word& more) {
    for (const int letter : more) {
      if (!word.empty() && word.back() == -letter)
        word.pop_back();
      else
        word.push_back(letter);
    }
  }
  [[nodiscard]] Word crossings(const Vec3& a, const Vec3& b) const {
    std::vector<std::pair<double, int>> met;
    for (std::size_t i = 0; i < boxes_.size(); ++i) {
      const double x = (boxes_[i].x0 + boxes_[i].x1) / 2, y = (boxes_[i].y0 + boxes_[i].y1) / 2;
      if ((a.x() < x) == (b.x() < x)) continue;
      const double t = (x - a.x()) / (b.x() - a.x());
      if (a.y() + t * (b.y() - a.y()) > y) met.emplace_back(t, (a.x() < x ? 1 : -1) * static_cast<int>(i + 1));
    }
    std::sort(met.begin(), met.end());
    Word word;
    for (const auto& [t, letter] : met) word.push_back(letter);
    return word;
  }
  /// No box's inside between the two.
  [[nodiscard]] bool sees(const Vec3& a, const Vec3& b) const {
    for (const auto& box : boxes_) {
      double from = 0, to = 1;
      bool is_outside = false;
      for (const auto& [p, d, low, high] :
           {std::tuple(a.x(), b.x() - a.x(), box.x0, box.x1), std::tuple(a.y(), b.y() - a.y(), box.y0, box.y1)}) {
        if (std::abs(d) < 1e-12) {
          is_outside = is_outside || p <= low + 1e-9 || p >= high - 1e-9;
          continue;
        }
        const double t0 = (low - p) / d, t1 = (high - p) / d;
        from = std::max(from, std::min(t0, t1)), to = std::min(to, std::max(t0, t1));
      }
      if (!is_outside && to - from > 1e-9) return false;
    }
    return true;
  }
  std::vector<Rect> boxes_;
};

TEST(Taut, AgreesWithASearchInThePlane) {
  support::Random random(20261125);
  int bends = 0;
  for (int round = 0; round < 60; ++round) {
    SCOPED_TRACE(round);
    YardBuilder yard;
    std::vector<PlanarSearch::Rect> boxes;
    for (int k = 0; k < 4; ++k) {
      const Vec3 at(4 * (k % 2) - 2 + 0.6 * random.unit(), 4 * (k / 2) - 2 + 0.6 * random.unit(), 0);
      const Vec3 size(0.6 + 1.6 * random.unit(), 0.6 + 1.6 * random.unit(), 60);
      boxes.push_back({at.x() - size.x() / 2, at.y() - size.y() / 2, at.x() + size.x() / 2, at.y() + size.y() / 2});
      yard.part("block", model::Box{.center = at, .size = size});
    }
    const auto scene = scene_of(yard.structure);
    std::vector<Vec3> way;
    while (way.size() < 9) {
      Vec3 next = random.point(5);
      next.z() = 0;
      const bool is_good = way.empty() ? scene.distance(next, 1) > 0.1 : is_line_clear(scene, way.back(), next);
      if (is_good) way.push_back(next);
    }
    const PlanarSearch plane(boxes);
    const double exact = plane.shortest(way.front(), way.back(), plane.word_of(way));
    ASSERT_GE(exact, 0);
    const auto line = pull_taut(scene, way);
    EXPECT_TRUE(line.is_settled);
    EXPECT_GE(line.length_m, exact - 1e-6);
    EXPECT_LE(line.length_m, exact + 0.002 + 0.006 * static_cast<double>(line.points.size() - 2));
    bends += static_cast<int>(line.points.size()) - 2;
  }
  EXPECT_GT(bends, 100) << "the ways must be worth pulling";
}

// ---- in space
// ---------------------------------------------------------------------------------------------------------

/// Boxes and drums at any angle, and a way among them with clear pieces, all moved by `pose`.
struct Thicket {
  model::Structure structure;
  std::vector<Vec3> way;
};
Thicket thicket(std::uint64_t seed, const model::Pose& pose) {
  support::Random random(seed);
  YardBuilder yard;
  for (int k = 0; k < 12; ++k) {
    model::Pose at = model::Pose::Identity();
    at.translate(random.point(3.5));
    at.rotate(random.rotation());
    const double size = 0.4 + random.unit();
    if (k % 2 == 0)
      yard.part("block", model::Box{.size = {size, 1.5 * size, 3}}, pose * at);
    else
      yard.part("drum", model::Cylinder{.from = {-1.5, 0, 0}, .to = {1.5, 0, 0}, .radius = size / 2}, pose * at);
  }
  Thicket result{yard.structure, {}};
  const auto scene = scene_of(result.structure);
  while (result.way.size() < 10) {
    const Vec3 next = pose * random.point(4.5);
    if (result.way.empty() ? scene.distance(next, 1) > 0.1 : is_line_clear(scene, result.way.back(), next))
      result.way.push_back(next);
  }
  return result;
}

// A line that sticks would stick elsewhere when all is turned. (From the other end it may come to lie another way: what
// it slips off depends on where it is pulled first.)
TEST(Taut, IsTheSameHoweverStructureLies) {
  model::Pose turned = model::Pose::Identity();
  turned.translate(Vec3(2, -1, 3));
  turned.rotate(Eigen::AngleAxisd(1.1, Vec3(1, 2, -0.5).normalized()));
  int bends = 0, different = 0;
  for (std::uint64_t seed = 0; seed < 60; ++seed) {
    SCOPED_TRACE(seed);
    const auto here = thicket(seed, model::Pose::Identity()), there = thicket(seed, turned);
    const auto scene = scene_of(here.structure), turned_scene = scene_of(there.structure);
    const auto line = pull_taut(scene, here.way);
    EXPECT_TRUE(line.is_settled);
    const std::vector<Vec3>& through = line.points;
    EXPECT_NEAR(pull_taut(scene, through).length_m, line.length_m, 2e-3) << "what is taut stays";
    for (std::size_t i = 1; i < through.size(); ++i)
      EXPECT_GE(scene.hull_distance(std::array{through[i - 1], through[i]}, 0.01), line_clear_m / 4);
    bends += static_cast<int>(line.points.size()) - 2;
    const auto other = pull_taut(turned_scene, there.way);
    different += other.is_settled && std::abs(other.length_m - line.length_m) > 0.01 ? 1 : 0;
  }
  EXPECT_GT(bends, 500);
  EXPECT_LE(different, 3) << "of 60: rounding decides only where a line is just about to slip";
}

}  // namespace
}  // namespace holdfast::tether
