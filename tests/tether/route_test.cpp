// SPDX-License-Identifier: GPL-3.0-or-later
// Routes on a tether that keep out of zones for tethers, against all simple paths of small yards.

#include <gtest/gtest.h>

#include <algorithm>
#include <array>
#include <limits>
#include <optional>
#include <set>
#include <vector>

#include "holdfast/tether/tether.h"
#include "mesh_scene.h"
#include "yard_builder.h"

namespace holdfast::tether {
namespace {

using support::World;
using support::YardBuilder;

constexpr int columns = 4, rows = 3;
constexpr double pitch_m = 0.5;

/// A flat deck with a handhold at each point of a grid, as far apart as one move reaches straight and not aslant; on it
/// the line from the hook to the body is always straight.
struct Deck {
  YardBuilder yard;
  Vec3 hook;
  struct Ball {
    Vec3 middle;
    double radius;
  };
  std::vector<Ball> zones;

  explicit Deck(std::uint64_t seed) {
    support::Random random(seed);
    const auto plate = yard.part("deck", model::Box{.center = {0, 0, 0.5}, .size = {20, 20, 0.8}});
    for (int k = 0; k < columns * rows; ++k) yard.rail("r" + std::to_string(k), plate, {hand(k)}, {-Vec3::UnitZ()});
    yard.place("start", hand(0), 0.1, model::PlaceKind::Hatch);
    yard.place("end", hand(columns * rows - 1), 0.1);
    hook = {pitch_m * columns * random.unit(), pitch_m * rows * random.unit(), 0.1};
    model::Anchor anchor;
    anchor.id = "hook";
    anchor.at = hook;
    yard.structure.anchors.push_back(anchor);
    const int count = 1 + static_cast<int>(2.99 * random.unit());
    for (int z = 0; z < count; ++z) {
      zones.push_back(
          {{pitch_m * (columns - 1) * random.unit(), pitch_m * (rows - 1) * random.unit(), -0.1 - 0.4 * random.unit()},
           0.04 + 0.16 * random.unit()});
      yard.zone("z" + std::to_string(z), model::Sphere{.center = zones.back().middle, .radius = zones.back().radius},
                model::ZoneEffect::Forbid, {.tether = true});
    }
  }
  static Vec3 hand(int k) { return {pitch_m * (k % columns), pitch_m * (k / columns), 0}; }
};

double to_segment(const Vec3& p, const Vec3& a, const Vec3& b) {
  const double t = std::clamp((p - a).dot(b - a) / (b - a).squaredNorm(), 0.0, 1.0);
  return (a + t * (b - a) - p).norm();
}

/// From a point to what the line sweeps while the body goes from one point to another.
double to_swept(const Vec3& p, const Vec3& hook, const Vec3& from, const Vec3& to) {
  double least = std::numeric_limits<double>::infinity();
  constexpr int pieces = 200;
  for (int k = 0; k <= pieces; ++k)
    least = std::min(least, to_segment(p, hook, from + (static_cast<double>(k) / pieces) * (to - from)));
  return least;
}

/// Fewest moves of a path whose line keeps out of all zones, each grown by `more_m`; over all simple paths.
class BruteForce {
 public:
  BruteForce(const Deck& deck, const Vec3& line_end, double stand_off_m, double more_m)
      : deck_(deck), line_end_(line_end), lift_(0, 0, -stand_off_m), more_m_(more_m) {}

  [[nodiscard]] bool allows(int from, int to) const {
    return std::none_of(deck_.zones.begin(), deck_.zones.end(), [&](const auto& zone) {
      return to_swept(zone.middle, line_end_, Deck::hand(from) + lift_, Deck::hand(to) + lift_) <=
             zone.radius + more_m_;
    });
  }
  std::optional<int> fewest() {
    best_.reset();
    is_on_path_.fill(false);
    if (allows(0, 0)) go_on(0, 0);
    return best_;
  }

 private:
  void go_on(int at, int moves) {
    if (at == columns * rows - 1) {
      if (!best_ || moves < *best_) best_ = moves;
      return;
    }
    is_on_path_[static_cast<std::size_t>(at)] = true;
    for (int to = 0; to < columns * rows; ++to)
      if (!is_on_path_[static_cast<std::size_t>(to)] && (Deck::hand(to) - Deck::hand(at)).norm() < 1.1 * pitch_m &&
          allows(at, to))
        go_on(to, moves + 1);
    is_on_path_[static_cast<std::size_t>(at)] = false;
  }
  const Deck& deck_;
  const Vec3 line_end_, lift_;
  const double more_m_;
  std::array<bool, columns * rows> is_on_path_{};
  std::optional<int> best_;
};

TEST(RouteOnTether, KeepsOutOfZonesAsTheBestOfAllPathsDoes) {
  int compared = 0, found = 0, detours = 0, missed = 0, without = 0;
  for (std::uint64_t seed = 0; seed < 150; ++seed) {
    SCOPED_TRACE(seed);
    const Deck deck(seed);
    const World world(deck.yard.structure);
    model::Tether tether;
    tether.id = "line";
    tether.length_m.value = 50;
    const route::Profile profile{.kit = world.kit, .suit = world.kit.suits.front()};
    route::RouteRequest request{.from = "start", .to = "end", .by = route::Objective::Moves};
    request.tether = route::TetherRequest{.tether = &tether, .anchor = "hook"};
    const Vec3 line_end = route::find_hook(world.graph, "hook", Deck::hand(0)).line_end;
    const double h = world.graph.body().stand_off_m;
    // A zone that is all but touched may be told either way.
    constexpr double doubt_m = 0.004;
    const auto with_less = BruteForce(deck, line_end, h, -doubt_m).fewest(),
               with_more = BruteForce(deck, line_end, h, doubt_m).fewest();
    const auto answer = route_on_tether(world.graph, profile, request);
    const auto* route = answer.route();
    if (route) {
      const BruteForce rule(deck, line_end, h, -doubt_m);
      const auto& poses = route->legs.front().poses;
      for (std::size_t i = 1; i < poses.size(); ++i)
        EXPECT_TRUE(rule.allows(static_cast<int>(poses[i - 1].rail.index()), static_cast<int>(poses[i].rail.index())));
      ASSERT_TRUE(with_less) << "a path where there is none";
    } else {
      EXPECT_EQ(answer.no_route()->causes.front().kind, route::CauseKind::Tether);
      EXPECT_FALSE(answer.is_certain) << "only so many were tried";
    }
    if (with_less != with_more) continue;
    ++compared;
    if (!with_less) {
      ++without;
      EXPECT_FALSE(route);
    } else if (route) {
      ++found;
      const int moves = static_cast<int>(route->moves);
      EXPECT_GE(moves, *with_less);
      EXPECT_LE(moves - answer.may_save.value_or(0), *with_less);
      // The route that knows of no zones would have entered one.
      const BruteForce rule(deck, line_end, h, doubt_m);
      const auto plain = route::find_route(world.graph, profile, request);
      ASSERT_NE(plain.route(), nullptr);
      const auto& poses = plain.route()->legs.front().poses;
      bool keeps_out = true;
      for (std::size_t i = 1; i < poses.size(); ++i)
        keeps_out = keeps_out &&
                    rule.allows(static_cast<int>(poses[i - 1].rail.index()), static_cast<int>(poses[i].rail.index()));
      detours += keeps_out ? 0 : 1;
    } else {
      ++missed;
    }
  }
  EXPECT_GT(compared, 120);
  EXPECT_GT(found, 60);
  EXPECT_GT(without, 10);
  EXPECT_GE(detours, 3) << "zones must be worth going round";
  EXPECT_LE(missed, found / 4) << "where some path keeps out, one is mostly found";
}

}  // namespace
}  // namespace holdfast::tether
