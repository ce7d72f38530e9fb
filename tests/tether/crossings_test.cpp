// SPDX-License-Identifier: GPL-3.0-or-later
// Two movers on one deck: what comes across what, against a replay in the plane in far smaller steps and against
// whether their lines cross in the end.

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <cmath>
#include <tuple>

#include "holdfast/tether/tether.h"
#include "mesh_scene.h"
#include "yard_builder.h"

namespace holdfast::tether {
namespace {

using route::GivenWay;
using route::Profile;
using support::World;
using support::YardBuilder;
using Point = Eigen::Vector2d;

double side(const Point& a, const Point& b, const Point& p) {
  return (b.x() - a.x()) * (p.y() - a.y()) - (b.y() - a.y()) * (p.x() - a.x());
}
bool do_cross(const Point& a, const Point& b, const Point& c, const Point& d) {
  return side(a, b, c) * side(a, b, d) < 0 && side(c, d, a) * side(c, d, b) < 0;
}

/// A mover in the plane of the deck: the line is straight from the hook to the mover.
struct Flat {
  Point hook;
  std::vector<std::pair<double, Point>> stands;
  [[nodiscard]] Point at(double t) const {
    for (std::size_t i = 1; i < stands.size(); ++i)
      if (t < stands[i].first) {
        const double f = (t - stands[i - 1].first) / (stands[i].first - stands[i - 1].first);
        return f <= 0 ? stands[i - 1].second : Point((1 - f) * stands[i - 1].second + f * stands[i].second);
      }
    return stands.back().second;
  }
};

/// Who moves, what comes past what, and in which sense: the sign of the other point beside the line.
struct Seen {
  bool second_moves;
  Passing passing;
  bool end_of_second;  // whose end: the same whichever of the two moves
  int sense;
};

/// Both hooked on at the start, one after the other; then each goes on a little in turn.
std::vector<Seen> replay(const std::array<Flat, 2>& movers) {
  std::vector<Seen> seen;
  const auto add = [&](const Seen& now) {
    if (!seen.empty() && seen.back().end_of_second == now.end_of_second &&
        (seen.back().passing == Passing::Hook) == (now.passing == Passing::Hook) && seen.back().sense == -now.sense)
      seen.pop_back();
    else
      seen.push_back(now);
  };
  double from = std::max(movers[0].stands.front().first, movers[1].stands.front().first);
  const std::size_t late = movers[1].stands.front().first >= movers[0].stands.front().first ? 1 : 0;
  std::array<Point, 2> at = {movers[0].at(from), movers[1].at(from)};
  // Who comes out later lays the line over the other's.
  if (do_cross(movers[late].hook, at[late], movers[1 - late].hook, at[1 - late]))
    add({late == 1, Passing::Mover, late == 1, side(movers[1 - late].hook, at[1 - late], at[late]) > 0 ? 1 : -1});
  const double to = std::max(movers[0].stands.back().first, movers[1].stands.back().first);
  constexpr double step_s = 0.01;
  for (double t = from; t < to + step_s; t += step_s)
    for (const std::size_t m : {0, 1}) {
      const Point next = movers[m].at(t + step_s), &here = at[m], &hook = movers[m].hook;
      const Point &other = at[1 - m], &other_hook = movers[1 - m].hook;
      if (do_cross(here, next, other_hook, other))
        add({m == 1, Passing::Mover, m == 1, side(other_hook, other, next) > 0 ? 1 : -1});
      for (const bool is_hook : {true, false}) {
        const Point& p = is_hook ? other_hook : other;
        const double a = side(hook, here, p), b = side(here, next, p), c = side(next, hook, p);
        if (!((a > 0 && b > 0 && c > 0) || (a < 0 && b < 0 && c < 0))) continue;
        add({m == 1, is_hook ? Passing::Hook : Passing::Line, m == 0, side(hook, next, p) > 0 ? 1 : -1});
      }
      at[m] = next;
    }
  return seen;
}

class Deck {
 public:
  explicit Deck(support::Random& random) {
    const auto plate = yard_.part("deck", model::Box{.center = {1.5, 1.5, 0.5}, .size = {9, 9, 0.8}});
    // Each has handholds of their own: no body comes to lie on the other's path.
    for (const std::size_t m : {0, 1})
      for (int i = 0; i < 7; ++i)
        for (int k = 0; k < 7; ++k) {
          const double shift = 0.25 * static_cast<double>(m);
          const Vec3 at(0.5 * i + shift + 0.08 * random.unit(), 0.5 * k + shift + 0.08 * random.unit(), 0);
          const std::string name = std::to_string(m) + "-" + std::to_string(i) + "-" + std::to_string(k);
          rails[m].push_back(yard_.rail("r" + name, plate, {at}, {-Vec3::UnitZ()}));
          yard_.place("p" + name, at, 0.05);
        }
    for (const char* name : {"first", "second"}) {
      model::Anchor anchor;
      anchor.id = name;
      anchor.at = {3.2 * random.unit(), 3.2 * random.unit(), 0.1};
      yard_.structure.anchors.push_back(anchor);
    }
  }
  [[nodiscard]] const model::Structure& structure() const { return yard_.structure; }
  std::array<std::vector<model::RailId>, 2> rails;  // of each mover

 private:
  YardBuilder yard_;
};

TEST(TwoMovers, AgreeWithAReplayInSmallSteps) {
  int with_any = 0, by_lines = 0;
  for (std::uint64_t seed = 1; seed <= 25; ++seed) {
    SCOPED_TRACE(seed);
    support::Random random(seed);
    const Deck deck(random);
    const World world(deck.structure());
    const Profile profile{.kit = world.kit, .suit = world.kit.suits.front()};
    std::array<Flat, 2> flat;
    std::array<GivenWay, 2> ways;
    for (const std::size_t m : {0, 1}) {
      const auto place = [&] {
        return "p" + std::to_string(m) + "-" + std::to_string(random.index(7)) + "-" + std::to_string(random.index(7));
      };
      const Profile own{.kit = world.kit, .suit = world.kit.suits.front(), .closures = {deck.rails[1 - m]}};
      const auto answer =
          route::find_route(world.graph, own, {.from = place(), .to = place(), .via = {place(), place(), place()}});
      ASSERT_TRUE(answer.route());
      ways[m] = route::given_way(world.structure, *answer.route(), "way");
      const double delay_s = 30 * random.unit();
      for (auto& leg : ways[m].legs)
        for (auto& grip : leg.grips) {
          grip.at_s += delay_s;
          flat[m].stands.emplace_back(grip.at_s, grip.hand.head<2>());
        }
      flat[m].hook = world.structure.anchors[m].at.head<2>();
    }
    model::Tether tether;
    tether.id = "line";
    tether.length_m.value = 30;
    const auto check = check_tether(world.graph, profile,
                                    {.tether = &tether,
                                     .anchor = "first",
                                     .ways = {ways[0]},
                                     .other_tether = &tether,
                                     .other_anchor = "second",
                                     .other_ways = {ways[1]}});
    ASSERT_TRUE(check.crossings);
    const auto expected = replay(flat);
    const auto& events = check.crossings->events;
    // While both go on, who of them moved past the other is a matter of which is a hair earlier: whose end came past
    // whose line is not.
    const auto words = [](bool end_of_second, bool is_hook) {
      return std::string(end_of_second ? "second's " : "first's ") + (is_hook ? "hook" : "body");
    };
    std::vector<std::string> said, seen;
    for (const auto& event : events) {
      said.push_back(words(event.second_moves == (event.passing == Passing::Mover), event.passing == Passing::Hook));
      // A line lies lower than the body of whoever comes across it.
      EXPECT_EQ(event.is_over, event.passing != Passing::Line);
      by_lines += event.passing == Passing::Mover ? 0 : 1;
    }
    for (const auto& event : expected) seen.push_back(words(event.end_of_second, event.passing == Passing::Hook));
    EXPECT_THAT(said, testing::ElementsAreArray(seen));
    const bool do_lines_cross =
        do_cross(flat[0].hook, flat[0].stands.back().second, flat[1].hook, flat[1].stands.back().second);
    EXPECT_EQ(events.size() % 2 == 1, do_lines_cross) << "each event makes or takes away one crossing of the lines";
    with_any += events.empty() ? 0 : 1;
  }
  EXPECT_GT(with_any, 8);
  EXPECT_GT(by_lines, 5) << "lines that are drawn along must come into it";
}

}  // namespace
}  // namespace holdfast::tether
