// SPDX-License-Identifier: GPL-3.0-or-later
// What is in reach, by hand-made worksites and against a slow twin that samples every setting densely.

#include "holdfast/reach/reach.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <cmath>
#include <numbers>
#include <random>

#include "yard_builder.h"

namespace holdfast::reach {
namespace {

using support::World;
using support::YardBuilder;

constexpr double degree = std::numbers::pi / 180;
const model::FootRestraint restraint = model::default_foot_restraint();

/// A deck with its top at z = 0, the socket's axis up (+z), and rails round the socket.
struct Deck : YardBuilder {
  Deck() {
    deck = part("deck", model::Box{.center = {0, 0, -0.5}, .size = {12, 12, 1}});
    rail("rail-side", deck, {{-1.5, 1.0, 0.07}, {1.5, 1.0, 0.07}}, {{0, 0, 1}});
    rail("rail-ahead", deck, {{1.6, -0.9, 0.07}, {1.6, 0.9, 0.07}}, {{0, 0, 1}});
  }
  void socket(std::string id, Vec3 at = Vec3::Zero(), Vec3 axis = Vec3::UnitZ()) {
    model::Socket s;
    s.id = std::move(id);
    s.at = at;
    s.axis = axis.normalized();
    s.forward = model::forward_of(s.axis, std::nullopt);
    structure.sockets.push_back(s);
  }
  void plug(std::string id, Vec3 at, std::optional<model::PartId> on = std::nullopt) {
    place(std::move(id), at, 0.6, model::PlaceKind::Connector);
    structure.places.back().part = on;
  }
  model::PartId deck;
};

ReachAnswer ask(const World& world, std::vector<std::string> targets, const std::string& socket = "s") {
  return find_reach(world.graph, {.kit = world.kit, .suit = world.kit.suits.front()},
                    {.sockets = {socket}, .targets = std::move(targets), .restraint = &restraint});
}
const Station& best(const ReachAnswer& answer) { return answer.sites[0].stations.at(*answer.sites[0].best); }

/// The best that any setting has of the first target.
TargetReach best_of_all(const ReachAnswer& answer) {
  TargetReach found{.kind = Kind::NotThere};
  for (const auto& station : answer.sites[0].stations)
    if (station.fits() && station.targets[0].kind < found.kind) found = station.targets[0];
  return found;
}

TEST(Reach, GetsBothHandsToAPlugAhead) {
  Deck deck;
  deck.socket("s");
  deck.plug("plug", {1.3, 0, 0});
  const World world(deck.structure);
  const auto answer = ask(world, {"plug"});
  ASSERT_TRUE(answer.sites[0].best);
  const auto& station = best(answer);
  EXPECT_EQ(station.targets[0].kind, Kind::TwoHand);
  EXPECT_TRUE(station.targets[0].is_served);
  EXPECT_TRUE(station.fits());
  ASSERT_TRUE(station.way_in);
  EXPECT_TRUE(answer.smallest.unserved.empty());
  ASSERT_EQ(answer.smallest.members.size(), 1U);
}

TEST(Reach, HasNothingBesideTheSocketAndSaysHowFar) {
  Deck deck;
  deck.socket("s");
  deck.plug("beside", {0.3, 0, 0});
  deck.plug("far", {0, -3.0, 0});
  const World world(deck.structure);
  const auto answer = ask(world, {"beside", "far"});
  for (const auto& station : answer.sites[0].stations) {
    if (!station.fits()) continue;
    EXPECT_FALSE(station.targets[0].is_reached());
    ASSERT_EQ(station.targets[1].kind, Kind::OutOfReach);
    // Shoulders are 1.463 m from the soles at most, and the hand 0.65 m farther.
    EXPECT_GE(station.targets[1].short_m, 3.0 - 1.4637 - 0.65 - 1e-3);
  }
  EXPECT_EQ(answer.smallest.unserved.size(), 2U);
  EXPECT_TRUE(answer.smallest.members.empty());
}

// A sheet thinner than a hand, between body and plug: nobody reaches through it.
TEST(Reach, IsBlockedByASheetThinnerThanAHand) {
  for (const bool has_sheet : {false, true}) {
    Deck deck;
    deck.socket("s");
    if (has_sheet) deck.part("sheet", model::Box{.center = {1.3, 0, 0.06}, .size = {1.6, 1.6, 0.01}});
    deck.plug("plug", {1.3, 0, 0});
    const World world(deck.structure);
    const auto found = best_of_all(ask(world, {"plug"}));
    EXPECT_EQ(found.is_reached(), !has_sheet);
    if (has_sheet) {
      EXPECT_EQ(found.kind, Kind::Blocked);
      ASSERT_TRUE(found.obstacle.part);
      EXPECT_EQ(world.structure.parts[found.obstacle.part->index()].id, "sheet");
    }
  }
}

TEST(Reach, TellsATargetThatFacesAway) {
  Deck deck;
  deck.socket("s");
  const auto sheet = deck.part("sheet", model::Box{.center = {1.3, 0, 0.1}, .size = {0.6, 0.6, 0.01}});
  deck.plug("front", {1.3, 0, 0.105}, sheet);
  deck.plug("back", {1.3, 0, 0.095}, sheet);
  const World world(deck.structure);
  EXPECT_TRUE(best_of_all(ask(world, {"front"})).is_reached());
  EXPECT_EQ(best_of_all(ask(world, {"back"})).kind, Kind::FacesAway);
}

TEST(Reach, ObeysZonesForHandsBeforeWhatBlocks) {
  Deck deck;
  deck.socket("s");
  deck.plug("plug", {1.3, 0, 0});
  deck.zone("hot", model::Sphere{.center = {1.3, 0, 0}, .radius = 0.1}, model::ZoneEffect::Forbid, {.hands = true});
  const World world(deck.structure);
  const auto found = best_of_all(ask(world, {"plug"}));
  EXPECT_EQ(found.kind, Kind::Forbidden);
  ASSERT_TRUE(found.obstacle.zone);
  Deck caution;
  caution.socket("s");
  caution.plug("plug", {1.3, 0, 0});
  caution.zone("hot", model::Sphere{.center = {1.3, 0, 0}, .radius = 0.1}, model::ZoneEffect::Caution, {.hands = true});
  const World allowed(caution.structure);
  const auto noted = best_of_all(ask(allowed, {"plug"}));
  EXPECT_EQ(noted.kind, Kind::TwoHand);
  EXPECT_EQ(noted.notes.size(), 1U);
}

TEST(Reach, ToldTheLeastDepthWhereEverySettingCollides) {
  Deck deck;
  deck.socket("s");
  for (const double x : {-1.0, 1.0}) deck.part("wall", model::Box{.center = {x, 0, 1.5}, .size = {1.6, 6, 3}});
  deck.plug("plug", {0, 1.3, 0});
  const World world(deck.structure);
  const auto answer = ask(world, {"plug"});
  EXPECT_FALSE(answer.sites[0].best);
  ASSERT_TRUE(answer.sites[0].least_depth);
  // The walls are 0.4 m apart and the capsule is 0.5 m thick; the trunk is thicker, whichever way it is turned.
  const auto& least = *answer.sites[0].least_depth;
  EXPECT_GE(least.depth.value_m, 0.05);
  EXPECT_EQ(answer.smallest.unserved.size(), 1U);
  for (const auto& station : answer.sites[0].stations) EXPECT_TRUE(station.targets.empty());
}

TEST(Reach, RefusesASocketInStructureWithItsLine) {
  Deck deck;
  deck.socket("s", {0, 0, -0.3});
  deck.plug("plug", {1.3, 0, 0});
  const World world(deck.structure);
  try {
    (void)ask(world, {"plug"});
    FAIL();
  } catch (const model::InputError& error) {
    EXPECT_EQ(error.diagnostics()[0].code, "in-solid");
  }
  EXPECT_THROW((void)ask(world, {"plug"}, "t"), model::InputError);
  EXPECT_THROW((void)ask(world, {"plugg"}), model::InputError);
}

TEST(Reach, LeavesOutASocketThatIsNotThere) {
  Deck deck;
  deck.socket("s");
  deck.structure.switches.push_back({"arm", {"out", "in"}, "out", {}});
  deck.structure.sockets[0].when.any_of["arm"] = {"in"};
  deck.plug("plug", {1.3, 0, 0});
  const World world(deck.structure);
  const auto answer = ask(world, {"plug"});
  EXPECT_FALSE(answer.sites[0].is_there);
  EXPECT_EQ(answer.smallest.unserved.size(), 1U);
}

// A rail under the hand, or no way in: the best setting is one that can be got into.
TEST(Reach, PutsSettingsWithoutAWayInLast) {
  Deck deck;
  deck.structure.rails.clear();
  deck.rail("far", deck.deck, {{4, 4, 0.07}, {5, 4, 0.07}}, {{0, 0, 1}});
  deck.socket("s");
  deck.plug("plug", {1.3, 0, 0});
  const World world(deck.structure);
  const auto answer = ask(world, {"plug"});
  EXPECT_EQ(best(answer).targets[0].kind, Kind::TwoHand);
  EXPECT_FALSE(best(answer).way_in);
  EXPECT_EQ(answer.smallest.unserved.size(), 1U) << "serves nothing in a plan";
}

TEST(Reach, ByFreeHandServesOneHandedWorkAlone) {
  Deck deck;
  deck.place("valve", {0.3, 1.2, 0.0}, 0.8, model::PlaceKind::Worksite);
  deck.place("site", {0, 1.0, 0.07}, 0.4);
  deck.plug("plug", {0.3, 1.2, 0.0});
  const World world(deck.structure);
  const auto answer = find_reach(world.graph, {.kit = world.kit, .suit = world.kit.suits.front()},
                                 {.at = "site", .targets = {"valve", "plug"}});
  ASSERT_TRUE(answer.sites[0].best);
  const auto& station = best(answer);
  ASSERT_TRUE(station.hold);
  EXPECT_EQ(station.targets[0].kind, Kind::OneHand);
  EXPECT_TRUE(station.targets[0].is_served);
  EXPECT_EQ(station.targets[1].kind, Kind::OneHand);
  EXPECT_FALSE(station.targets[1].is_served);
  for (const auto& each : answer.sites[0].stations)
    for (const auto& target : each.targets)
      if (target.is_reached()) EXPECT_FALSE(target.hand_reaches[each.hold->holds]) << "the holding hand does not work";
}

// ---- the slow twin --------------------------------------------------------------------------------------------------

enum class Verdict { No, Yes, Unsure };
Verdict both(Verdict x, Verdict y) {
  if (x == Verdict::No || y == Verdict::No) return Verdict::No;
  return x == Verdict::Yes && y == Verdict::Yes ? Verdict::Yes : Verdict::Unsure;
}
Verdict either(Verdict x, Verdict y) {
  if (x == Verdict::Yes || y == Verdict::Yes) return Verdict::Yes;
  return x == Verdict::No && y == Verdict::No ? Verdict::No : Verdict::Unsure;
}
/// By what a sampled least distance shows when no point is farther than `step` from a sample.
Verdict clear_by(double least, double step) {
  return least <= 0 ? Verdict::No : least > step ? Verdict::Yes : Verdict::Unsure;
}

/// Everything by definition: rotation matrices, points in the solids, points along the arm.
class Twin {
 public:
  Twin(const geometry::Scene& scene, const model::Figure& figure) : scene_(scene), f_(figure) {}

  struct Frame {
    Vec3 o;
    Eigen::Matrix3d axes;  // forward, left, up
  };
  static Frame frame_of(const Vec3& at, const Setting& s) {
    // The deck's sockets have axis z and forward x.
    return {at + s.height_m * Vec3::UnitZ(),
            (Eigen::AngleAxisd(s.roll_rad, Vec3::UnitZ()) * Eigen::AngleAxisd(s.pitch_rad, Vec3::UnitY()) *
             Eigen::AngleAxisd(s.yaw_rad, Vec3::UnitZ()))
                .toRotationMatrix()};
  }
  Verdict body(const Frame& frame) const {
    double least = 1e9;
    const double step = 0.05;
    const auto sample = [&](const Vec3& local, double radius) {
      least = std::min(least, scene_.distance(frame.o + frame.axes * local, 3) - radius);
    };
    for (double s = f_.body_radius_m; s <= f_.height_m - f_.body_radius_m + 1e-9; s += 0.02)
      sample({0, 0, s}, f_.body_radius_m);
    const auto count = [&](double extent) { return std::max(1, static_cast<int>(std::ceil(extent / step))); };
    const double depth = f_.depth_front_m + f_.depth_back_m, tall = f_.shoulders_m + 0.10 - f_.hips_m;
    const int nx = count(depth), ny = count(f_.breadth_m), nz = count(tall);
    for (int i = 0; i <= nx; ++i)
      for (int j = 0; j <= ny; ++j)
        for (int k = 0; k <= nz; ++k)
          sample(
              {-f_.depth_back_m + depth * i / nx, -f_.breadth_m / 2 + f_.breadth_m * j / ny, f_.hips_m + tall * k / nz},
              0);
    return clear_by(least, step * std::sqrt(3.0) / 2 + 1e-6);
  }
  Verdict plate(const Frame& frame) const {
    double least = 1e9;
    for (int i = 0; i <= 12; ++i)
      for (int j = 0; j <= 16; ++j)
        for (int k = 0; k <= 2; ++k)
          least = std::min(least, scene_.distance(frame.o + frame.axes * Vec3(0.37 * (i / 12.0 - 0.5),
                                                                              0.52 * (j / 16.0 - 0.5), -0.05 * k / 2),
                                                  3));
    return clear_by(least, 0.03);
  }
  Verdict arm(const Vec3& shoulder, const Vec3& to) const {
    const double length = (to - shoulder).norm();
    double arm = 1e9, hand = 1e9;
    const int n = 400;
    for (int i = 0; i <= n; ++i) {
      const Vec3 p = shoulder + static_cast<double>(i) / n * (to - shoulder);
      const double d = scene_.distance(p, 3), left = (to - p).norm();
      if (left >= f_.hand_m) arm = std::min(arm, d - f_.arm_radius_m);
      if (left <= f_.hand_m) hand = std::min(hand, d);
    }
    const double step = length / n;
    return both(arm > 1e8 ? Verdict::Yes : clear_by(arm, step), clear_by(hand, step));
  }
  bool is_in_zone(const Frame& frame, int side, const Vec3& p) const {  // side: +1 left, -1 right
    const Vec3 apex = frame.o + frame.axes * Vec3(0, side * f_.shoulder_breadth_m / 2, f_.shoulders_m);
    const double o = f_.shoulder_outward_rad, d = f_.shoulder_down_rad;
    const Vec3 axis = frame.axes * Vec3(std::cos(d) * std::cos(o), side * std::cos(d) * std::sin(o), -std::sin(d));
    const Vec3 line = p - apex;
    return line.norm() <= f_.one_hand_reach_m &&
           std::acos(std::clamp(line.normalized().dot(axis), -1.0, 1.0)) <= f_.shoulder_half_angle_rad;
  }
  /// two-hand and one-hand, over upright and leaning bodies.
  std::pair<Verdict, Verdict> reaches(const Frame& upright, const Vec3& at, const Vec3& test) const {
    std::pair<Verdict, Verdict> found{Verdict::No, Verdict::No};
    for (int k = -1; k < 12; ++k) {
      Frame frame = upright;
      if (k >= 0) {
        const double azimuth = k * 30 * degree;
        const Vec3 about(-std::sin(azimuth), std::cos(azimuth), 0);  // up x (cos, sin, 0)
        frame.axes = upright.axes * Eigen::AngleAxisd(f_.sway_rad, about).toRotationMatrix();
      }
      const bool left = is_in_zone(frame, 1, at), right = is_in_zone(frame, -1, at);
      if (!left && !right) continue;
      Verdict clear = k < 0 ? Verdict::Yes : body(frame);
      const Vec3 local = frame.axes.transpose() * (at - frame.o);
      const bool in_trunk = local.x() >= -f_.depth_back_m && local.x() <= f_.depth_front_m &&
                            std::abs(local.y()) <= f_.breadth_m / 2 && local.z() >= f_.hips_m &&
                            local.z() <= f_.shoulders_m + 0.10;
      const double along = std::clamp(local.z(), f_.body_radius_m.value, f_.height_m - f_.body_radius_m);
      if (in_trunk || (local - Vec3(0, 0, along)).norm() <= f_.body_radius_m) continue;
      const auto one = [&](int side) {
        return arm(frame.o + frame.axes * Vec3(0, side * f_.shoulder_breadth_m / 2, f_.shoulders_m), test);
      };
      const Verdict by_left = left ? both(clear, one(1)) : Verdict::No,
                    by_right = right ? both(clear, one(-1)) : Verdict::No;
      const Vec3 middle = frame.o + frame.axes * Vec3(f_.two_hand_out_m, 0, f_.chest_m);
      if (left && right && (at - middle).norm() <= f_.two_hand_radius_m)
        found.first = either(found.first, both(by_left, by_right));
      found.second = either(found.second, either(by_left, by_right));
    }
    return found;
  }

 private:
  const geometry::Scene& scene_;
  const model::Figure& f_;
};

TEST(Reach, AgreesWithDenseSamplingOfAllSettings) {
  std::mt19937 random(31);
  std::uniform_real_distribution<double> unit(0, 1);
  const auto in = [&](double low, double high) { return low + (high - low) * unit(random); };
  int fits = 0, two = 0, one = 0, none = 0, misfits = 0;
  for (int round = 0; round < 8; ++round) {
    Deck deck;
    deck.socket("s");
    for (int b = 0; b < 3; ++b) {
      const double angle = in(0, 6.28), out = in(0.7, 2.0);
      deck.part("thing-" + std::to_string(b),
                model::Box{.center = {out * std::cos(angle), out * std::sin(angle), in(0, 0.8)},
                           .size = {in(0.1, 0.5), in(0.1, 0.5), in(0.05, 1.0)}});
    }
    for (int t = 0; t < 2; ++t) {
      const double angle = in(0, 6.28), out = in(0.8, 1.7);
      deck.place("t" + std::to_string(t), {out * std::cos(angle), out * std::sin(angle), in(0.03, 0.9)}, 0.5);
    }
    const World world(deck.structure);
    const auto answer = ask(world, {"t0", "t1"});
    const Twin twin(world.scene, world.kit.suits.front().figure);
    const auto& stations = answer.sites[0].stations;
    for (std::size_t i = 0; i < stations.size(); i += 5) {
      SCOPED_TRACE("seed 31, round " + std::to_string(round) + ", setting " + std::to_string(i));
      const auto& station = stations[i];
      const auto frame = Twin::frame_of(Vec3::Zero(), *station.setting);
      double post = 1e9;
      for (int k = 0; k <= 20; ++k) post = std::min(post, world.scene.distance(Vec3(0, 0, 0.10 + 0.15 * k / 20), 3));
      const Verdict body = both(both(twin.body(frame), twin.plate(frame)), clear_by(post, 0.005));
      if (body == Verdict::Yes) EXPECT_TRUE(station.fits());
      if (body == Verdict::No) EXPECT_FALSE(station.fits());
      if (!station.fits()) {
        ++misfits;
        continue;
      }
      ++fits;
      for (std::size_t t = 0; t < 2; ++t) {
        const auto& target = answer.targets[t];
        const auto [both_hands_reach, any_reaches] = twin.reaches(frame, target.at, target.test);
        const auto& ours = station.targets[t];
        if (both_hands_reach == Verdict::Yes) EXPECT_EQ(ours.kind, Kind::TwoHand);
        if (both_hands_reach == Verdict::No) EXPECT_NE(ours.kind, Kind::TwoHand);
        if (any_reaches == Verdict::Yes) EXPECT_TRUE(ours.is_reached());
        if (any_reaches == Verdict::No) EXPECT_FALSE(ours.is_reached());
        ++(ours.kind == Kind::TwoHand ? two : ours.is_reached() ? one : none);
      }
    }
  }
  EXPECT_GT(fits, 40);
  EXPECT_GT(misfits, 10);
  EXPECT_GT(two, 0);
  EXPECT_GT(one, 3);
  EXPECT_GT(none, 20);
}

}  // namespace
}  // namespace holdfast::reach
