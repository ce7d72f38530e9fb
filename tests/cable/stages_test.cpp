// SPDX-License-Identifier: GPL-3.0-or-later
// Cables laid in stages: what is used and left, coils, and going on from them.

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <cmath>
#include <functional>
#include <numbers>
#include <random>
#include <set>

#include "holdfast/cable/cable.h"
#include "yard_builder.h"

namespace holdfast::cable {
namespace {

using support::World;
using support::YardBuilder;
using testing::Contains;

constexpr double pi = std::numbers::pi;
constexpr double rounding_m = 1e-4;  // of the units in which runs are searched, over all spans

model::Cable some_cable(double length_m) {
  auto cable = model::default_cable();
  cable.id = "cable";
  cable.diameter_m = {0.01, "test"};
  cable.length_m = {length_m, "test"};
  cable.length_tolerance_m = {0.1, "test"};
  cable.connects = {{"plug-a", "plug-b"}};
  return cable;
}

/// A deck with a rail for hands and cables along it, a connector at either end and one beside, a place in the middle.
YardBuilder deck() {
  YardBuilder yard;
  const auto part = yard.part("deck", model::Box{.center = {2, 0, 0.5}, .size = {12, 12, 1}});
  const auto rail = yard.rail("line", part, {{0, 0, -0.07}, {4, 0, -0.07}}, {{0, 0, -1}});
  yard.structure.rails[rail.index()].use.cable = true;
  yard.place("plug-a", {-0.3, 0, 0}, 0.5, model::PlaceKind::Connector);
  yard.place("plug-b", {4.3, 0, 0}, 0.5, model::PlaceKind::Connector);
  yard.place("plug-c", {3, 0.3, 0}, 0.5, model::PlaceKind::Connector);
  yard.place("middle", {2, 0, -0.07}, 0.4, model::PlaceKind::Worksite);
  yard.place("later", {3.2, 0, -0.07}, 0.3, model::PlaceKind::Worksite);
  yard.place("far", {2, 4, 0}, 0.5, model::PlaceKind::Worksite);
  return yard;
}

struct Asked {
  explicit Asked(YardBuilder yard, model::Cable cable = some_cable(10))
      : world(std::move(yard.structure), {}, nullptr) {
    world.kit.cables.push_back(std::move(cable));
  }
  CableAnswer ask(const CableRequest& request) {
    const auto space = prepare_cable(world.graph, world.kit, world.kit.cables[0], nullptr);
    return find_cable_run(space, {.kit = world.kit, .suit = world.kit.suits.front()}, request);
  }
  CableAnswer ask(const std::string& from, const std::string& to, std::optional<LaidRun> goes_on = std::nullopt) {
    CableRequest request;
    request.from = from, request.to = to;
    request.goes_on = std::move(goes_on);
    return ask(request);
  }
  World world;
};

/// What a result of this answer says to go on from.
LaidRun laid_of(const CableAnswer& answer) {
  LaidRun laid;
  laid.name = "stage.json", laid.cable = answer.cable;
  for (const auto& tie : answer.run()->ties) laid.ties.push_back({tie.tie.kind, tie.tie.id, tie.tie.along_m});
  laid.used_m = answer.coil->used_m;
  return laid;
}

std::vector<std::pair<std::string, double>> ties_of(const CableRun& run) {
  std::vector<std::pair<std::string, double>> ties;
  for (const auto& tie : run.ties) ties.emplace_back(tie.tie.id, tie.tie.along_m);
  return ties;
}

std::string refusal(const std::function<void()>& ask) {
  try {
    ask();
  } catch (const model::InputError& error) {
    return error.diagnostics().front().code;
  }
  return "";
}

// ---- coils --------------------------------------------------------------------------------------------------------

/// A coil as hands wind it, sparing nothing: layers of k rings, each an Archimedean spiral out from the least radius
/// and in again on the layer above, with a ramp of an eighth of a turn between. Its middle line, a point every degree.
std::vector<Vec3> wind(double length_m, double radius_m, double diameter_m) {
  const double turns = std::ceil(length_m / (2 * pi * radius_m));
  const int k = static_cast<int>(std::ceil(std::sqrt(turns)));
  std::vector<Vec3> line;
  double wound_m = 0, angle = 0;
  const auto add = [&](double radius, double height) {
    const Vec3 p(radius * std::cos(angle), radius * std::sin(angle), height);
    if (!line.empty()) wound_m += (p - line.back()).norm();
    line.push_back(p);
    angle += pi / 180;
  };
  for (int layer = 0; wound_m < length_m && layer <= k; ++layer) {
    const double height = diameter_m * (layer + 0.5);
    for (int step = 0; step <= 360 * k && wound_m < length_m; ++step) {
      const double out = diameter_m * step / 360;
      add(radius_m + (layer % 2 == 0 ? out : diameter_m * k - out), height);
    }
    for (int step = 1; step < 45 && wound_m < length_m; ++step)
      add(radius_m + (layer % 2 == 0 ? diameter_m * k : 0), height + diameter_m * step / 45);
  }
  return line;
}

TEST(CoilSize, HoldsACoilOfThatLength) {
  std::mt19937 random(20261126);
  std::uniform_real_distribution<double> length(0.05, 60), diameter(0.003, 0.05), multiple(4, 15);
  for (int k = 0; k < 200; ++k) {
    const double d = diameter(random), radius = multiple(random) * d, l = length(random);
    const auto coil = coil_size(l, radius, d);
    const auto line = wind(l, radius, d);
    double wound_m = 0;
    Eigen::AlignedBox3d box;
    for (std::size_t i = 0; i < line.size(); ++i) {
      box.extend(line[i]);
      if (i > 0) wound_m += (line[i] - line[i - 1]).norm();
      EXPECT_GE(std::hypot(line[i].x(), line[i].y()), radius - 1e-9) << "seed 20261126, case " << k;
    }
    ASSERT_GE(wound_m, l - 1e-9) << "seed 20261126, case " << k << ": not all of it is wound";
    const Vec3 size = box.sizes() + Vec3::Constant(d);
    for (int axis = 0; axis < 3; ++axis)
      EXPECT_LE(size[axis], coil.size_m[axis] + 1e-9) << "seed 20261126, case " << k << ", axis " << axis;
    EXPECT_GE(static_cast<double>(coil.turns) * 2 * pi * radius, l - 1e-9);
  }
}

TEST(CoilSize, OfNextToNothingIsOneTurn) {
  const auto coil = coil_size(0.01, 0.1, 0.01);
  EXPECT_EQ(coil.turns, 1u);
  // 2 R + 2 (k + 1) d, k = 1.
  EXPECT_NEAR(coil.size_m.x(), 0.24, 1e-12);
  EXPECT_NEAR(coil.size_m.z(), 0.02, 1e-12);
}

TEST(Coil, StandsOnItsRailFlatAndOutward) {
  const auto box = coil_on_rail({1, 2, 3}, {0, 0, -1}, {0.5, 0, 0.2}, {0.4, 0.4, 0.06});
  EXPECT_TRUE(box.middle.isApprox(Vec3(1, 2, 2.97)));
  EXPECT_TRUE(box.axes.col(0).isApprox(Vec3(1, 0, 0)));
  EXPECT_TRUE(box.axes.col(2).isApprox(Vec3(0, 0, -1)));
  EXPECT_NEAR(box.axes.determinant(), 1, 1e-12);
}

// ---- to a place ---------------------------------------------------------------------------------------------------

TEST(CableStage, WhatIsUsedAndWhatIsLeftAreTheGuaranteedLength) {
  auto asked = Asked(deck());
  const auto answer = asked.ask("plug-a", "middle");
  ASSERT_TRUE(answer.run());
  ASSERT_TRUE(answer.coil);
  EXPECT_TRUE(answer.is_feasible());
  const auto& run = *answer.run();
  const auto& coil = *answer.coil;
  EXPECT_NEAR(coil.used_m + coil.left_m, 10 - 0.1, 1e-12);
  double way_m = 0.15;
  for (const auto& span : run.spans) way_m += span.length_m + span.slack_m;
  EXPECT_NEAR(coil.used_m, way_m, 1e-12);
  EXPECT_EQ(run.ties.back().tie.id, "line");
  EXPECT_LE((run.ties.back().tie.at - Vec3(2, 0, -0.07)).norm(), 0.4 + 1e-9);
  EXPECT_TRUE(answer.stow == std::nullopt);
}

TEST(CableStage, TheCoilIsOfTheMostThatMayBeLeft) {
  auto asked = Asked(deck());
  const auto answer = asked.ask("plug-a", "middle");
  ASSERT_TRUE(answer.coil);
  // No cable is shorter than straight from tie to tie, and this one may be longer than its nominal 10 m by 0.1 m.
  double straight_m = 0;
  const auto& ties = answer.run()->ties;
  for (std::size_t i = 1; i < ties.size(); ++i) straight_m += (ties[i].tie.way - ties[i - 1].tie.way).norm();
  const auto size = coil_size(10.1 - straight_m, asked.world.kit.cables[0].bend_radius_m(), 0.01);
  EXPECT_EQ(answer.coil->size.turns, size.turns);
  EXPECT_TRUE(answer.coil->size.size_m.isApprox(size.size_m));
  EXPECT_GT(10.1 - straight_m, answer.coil->left_m);
}

TEST(CableStage, SaysForWhichConnectorsWhatIsLeftIsEnough) {
  auto asked = Asked(deck(), some_cable(4.2));
  const auto answer = asked.ask("plug-a", "middle");
  ASSERT_TRUE(answer.coil);
  ASSERT_EQ(answer.coil->onward.size(), 2u);
  const auto& meant = answer.coil->onward[0];
  const auto& other = answer.coil->onward[1];
  EXPECT_EQ(meant.connector, "plug-b");
  EXPECT_TRUE(meant.is_meant);
  EXPECT_EQ(other.connector, "plug-c");
  EXPECT_FALSE(other.is_meant);
  for (const auto* on : {&meant, &other}) {
    const auto then = asked.ask("", on->connector, laid_of(answer));
    ASSERT_TRUE(then.run());
    ASSERT_TRUE(on->required_m);
    EXPECT_NEAR(*on->required_m, then.run()->required_m, 1e-9);
    EXPECT_NEAR(on->margin_m, then.verdict.margin_m, 1e-9);
  }
  EXPECT_LT(meant.margin_m, 0) << "4.6 m are more than 4.2 m";
  EXPECT_GT(other.margin_m, 0);
}

TEST(CableStage, TooShortToThePlaceIsToldWithHowMuch) {
  auto asked = Asked(deck(), some_cable(2));
  const auto answer = asked.ask("plug-a", "middle");
  ASSERT_TRUE(answer.run());
  EXPECT_FALSE(answer.coil);
  EXPECT_FALSE(answer.verdict.is_long_enough());
  EXPECT_FALSE(answer.is_feasible());
  EXPECT_NEAR(answer.verdict.margin_m, 1.9 - answer.run()->required_m, 1e-12);
}

TEST(CableStage, APlaceWithoutARailForCablesIsNamedWithTheNearest) {
  auto asked = Asked(deck());
  const auto answer = asked.ask("plug-a", "far");
  ASSERT_TRUE(answer.no_run());
  const auto& cause = answer.no_run()->causes.at(0);
  EXPECT_EQ(cause.kind, NoRunKind::NoRailThere);
  EXPECT_EQ(cause.end, "far");
  EXPECT_EQ(cause.tie, "line");
  EXPECT_NEAR(cause.value_m, std::hypot(4, 0.07), 0.01);
  EXPECT_NEAR(cause.limit_m, 0.5, 1e-12);
}

TEST(CableStage, ACoilThatFindsNoRoomIsToldWithWhatHindersIt) {
  // A kerb beside the rail, 0.08 m higher than it: the cable passes, the coil would lie in it.
  auto yard = deck();
  (void)yard.part("kerb", model::Box{.center = {2, 0.2, -0.075}, .size = {1.4, 0.12, 0.15}});
  auto asked = Asked(std::move(yard));
  const auto answer = asked.ask("plug-a", "middle");
  ASSERT_TRUE(answer.no_run());
  const auto& cause = answer.no_run()->causes.at(0);
  EXPECT_EQ(cause.kind, NoRunKind::NoCoil);
  EXPECT_THAT(cause.hinders, Contains(NoCoil::Structure));
  EXPECT_EQ(cause.tie, "line");
  EXPECT_GT(cause.size_m.x(), 0.2);
}

TEST(CableStage, ARailThatMustStayFreeTakesNoCoil) {
  auto yard = deck();
  const auto beside = yard.rail("beside", model::PartId(0u), {{0, 0.1, -0.07}, {4, 0.1, -0.07}}, {{0, 0, -1}});
  auto asked = Asked(std::move(yard));
  CableRequest request;
  request.from = "plug-a", request.to = "middle";
  EXPECT_TRUE(asked.ask(request).coil);
  request.keep_free = {beside};
  const auto answer = asked.ask(request);
  EXPECT_FALSE(answer.coil);
}

TEST(CableStage, ACoilKeepsOffWhatStandsThere) {
  auto asked = Asked(deck());
  CableRequest request;
  request.from = "plug-a", request.to = "middle";
  const auto free = asked.ask(request);
  ASSERT_TRUE(free.coil);
  const Vec3 taken = free.coil->box.middle;
  request.may_stand = [&](const graph::BoxPose& box, const Vec3&) { return (box.middle - taken).norm() > 0.1; };
  const auto other = asked.ask(request);
  ASSERT_TRUE(other.coil);
  EXPECT_GT((other.coil->box.middle - taken).norm(), 0.1);
  request.may_stand = [](const graph::BoxPose&, const Vec3&) { return false; };
  const auto none = asked.ask(request);
  ASSERT_TRUE(none.no_run());
  EXPECT_THAT(none.no_run()->causes.at(0).hinders, Contains(NoCoil::Standing));
}

// ---- going on -----------------------------------------------------------------------------------------------------

TEST(CableGoesOn, OverTheSameTiesItIsAsLongAsInOneStage) {
  auto asked = Asked(deck());
  const auto stage = asked.ask("plug-a", "middle");
  ASSERT_TRUE(stage.coil);
  const auto whole = asked.ask("", "plug-b", laid_of(stage));
  const auto direct = asked.ask("plug-a", "plug-b");
  ASSERT_TRUE(whole.run() && direct.run());
  EXPECT_EQ(whole.run()->laid_ties, stage.run()->ties.size());
  EXPECT_EQ(whole.request.from, "plug-a");
  EXPECT_GE(whole.run()->required_m, direct.run()->required_m - rounding_m);
  if (ties_of(*whole.run()) == ties_of(*direct.run()))
    EXPECT_NEAR(whole.run()->required_m, direct.run()->required_m, rounding_m);
  // The marks on the cable go on where the first stage ended.
  const auto& ties = whole.run()->ties;
  EXPECT_NEAR(ties[whole.run()->laid_ties - 1].at_m, stage.coil->used_m, 1e-12);
  EXPECT_NEAR(ties.back().at_m, whole.run()->required_m - 0.15, 1e-9);
}

TEST(CableGoesOn, AgainFromACoilOfASecondStage) {
  auto asked = Asked(deck());
  const auto first = asked.ask("plug-a", "middle");
  ASSERT_TRUE(first.coil);
  const auto second = asked.ask("middle", "later", laid_of(first));
  ASSERT_TRUE(second.coil);
  EXPECT_GT(second.coil->used_m, first.coil->used_m);
  EXPECT_LT(second.coil->left_m, first.coil->left_m);
  const auto whole = asked.ask("later", "plug-b", laid_of(second));
  ASSERT_TRUE(whole.run());
  EXPECT_GE(whole.run()->required_m, asked.ask("plug-a", "plug-b").run()->required_m - rounding_m);
  EXPECT_EQ(whole.run()->ties.front().tie.id, "plug-a");
  EXPECT_EQ(whole.run()->ties.back().tie.id, "plug-b");
}

TEST(CableGoesOn, WhatWasUsedMoreThanTheTiesAskForStaysUsed) {
  auto asked = Asked(deck());
  auto laid = laid_of(asked.ask("plug-a", "middle"));
  const auto plain = asked.ask("", "plug-b", laid);
  laid.used_m += 0.4;
  const auto more = asked.ask("", "plug-b", laid);
  EXPECT_NEAR(more.run()->required_m, plain.run()->required_m + 0.4, 1e-9);
  EXPECT_NEAR(more.run()->more_m, 0.4, 1e-9);
  laid.used_m = 0;  // no result says less than its ties ask for
  EXPECT_NEAR(asked.ask("", "plug-b", laid).run()->required_m, plain.run()->required_m, 1e-9);
}

TEST(CableGoesOn, TheOneWhoLaysItBeginsAtTheCoil) {
  auto asked = Asked(deck());
  const auto stage = asked.ask("plug-a", "middle");
  const auto& cable = asked.world.kit.cables[0];
  ASSERT_TRUE(stage.laying && stage.laying->way.route());
  EXPECT_NEAR(stage.laying->begin_s, cable.connector_s, 1e-12);
  EXPECT_NEAR(stage.laying->end_s, 2 * cable.tie_s, 1e-12);
  EXPECT_NEAR(stage.laying->ties_s, static_cast<double>(stage.run()->ties.size() - 1) * cable.tie_s, 1e-9);
  const auto whole = asked.ask("", "plug-b", laid_of(stage));
  ASSERT_TRUE(whole.laying && whole.laying->way.route());
  const auto& way = *whole.laying->way.route();
  EXPECT_EQ(way.legs.size(), whole.run()->ties.size() - whole.run()->laid_ties);
  EXPECT_NEAR(whole.laying->begin_s, 2 * cable.tie_s, 1e-12);
  EXPECT_NEAR(whole.laying->end_s, cable.connector_s, 1e-12);
  EXPECT_NEAR(whole.laying->ties_s, static_cast<double>(way.legs.size() - 1) * cable.tie_s, 1e-9);
  EXPECT_NEAR(whole.laying->time_s, way.time_s + whole.laying->ties_s + whole.laying->begin_s + whole.laying->end_s,
              1e-9);
}

TEST(CableGoesOn, FromElsewhereThanItsCoilIsRefused) {
  auto asked = Asked(deck());
  const auto laid = laid_of(asked.ask("plug-a", "middle"));
  EXPECT_EQ(refusal([&] { (void)asked.ask("middle", "plug-b", laid); }), "");
  EXPECT_EQ(refusal([&] { (void)asked.ask("plug-a", "plug-b", laid); }), "");
  EXPECT_EQ(refusal([&] { (void)asked.ask("later", "plug-b", laid); }), "laid-elsewhere");
  EXPECT_EQ(refusal([&] { (void)asked.ask("nowhere", "plug-b", laid); }), "unknown-place");
  EXPECT_EQ(refusal([&] { (void)asked.ask("", "plug-a", laid); }), "same-connector");
  EXPECT_EQ(refusal([&] { (void)asked.ask("middle", "plug-b"); }), "not-a-connector");
  auto broken = laid;
  broken.ties[1].along_m += 0.05;
  EXPECT_EQ(refusal([&] { (void)asked.ask("", "plug-b", broken); }), "laid-elsewhere");
  auto apart = laid;
  apart.ties.erase(apart.ties.begin() + 1, apart.ties.end() - 1);
  EXPECT_EQ(refusal([&] { (void)asked.ask("", "plug-b", apart); }), "laid-elsewhere") << "no span joins its ties";
}

/// Rails of hands and cables strewn over a deck: random ones, joined by the reach of hands or not.
YardBuilder strewn(std::mt19937& random) {
  YardBuilder yard;
  const auto part = yard.part("deck", model::Box{.center = {2, 1, 0.5}, .size = {14, 14, 1}});
  std::uniform_real_distribution<double> x(0, 3.5), y(0, 2), angle(0, 2 * pi), length(0.3, 1.2);
  for (int r = 0; r < 16; ++r) {
    const Vec3 a(x(random), y(random), -0.07);
    const double turn = angle(random), l = length(random);
    const auto rail =
        yard.rail("r" + std::to_string(r), part, {a, a + l * Vec3(std::cos(turn), std::sin(turn), 0)}, {{0, 0, -1}});
    yard.structure.rails[rail.index()].use.cable = true;
  }
  yard.place("plug-a", {-0.2, 1, 0}, 0.6, model::PlaceKind::Connector);
  yard.place("plug-b", {3.9, 1, 0}, 0.6, model::PlaceKind::Connector);
  yard.place("middle", {1.8, 1, -0.07}, 0.6, model::PlaceKind::Worksite);
  return yard;
}

TEST(CableGoesOn, IsNeverShorterThanTheDirectRunNorBendsTighter) {
  int staged = 0;
  for (unsigned seed = 1; seed <= 40 && staged < 8; ++seed) {
    std::mt19937 random(seed);
    auto cable = some_cable(20);
    cable.diameter_m = {0.012, "test"};
    auto asked = Asked(strewn(random), cable);
    const auto stage = asked.ask("plug-a", "middle");
    if (!stage.coil) continue;
    const auto direct = asked.ask("plug-a", "plug-b");
    const auto whole = asked.ask("", "plug-b", laid_of(stage));
    if (!whole.run()) {
      for (const auto& on : stage.coil->onward) EXPECT_FALSE(on.required_m) << "seed " << seed;
      continue;
    }
    ++staged;
    ASSERT_TRUE(direct.run()) << "seed " << seed << ": the staged run is one";
    EXPECT_GE(whole.run()->required_m, direct.run()->required_m - rounding_m) << "seed " << seed;
    const double radius = asked.world.kit.cables[0].bend_radius_m();
    std::set<std::pair<std::string, double>> once;
    for (const auto& tie : whole.run()->ties) {
      EXPECT_TRUE(!tie.radius_m || *tie.radius_m >= radius - 1e-4) << "seed " << seed << " at " << tie.tie.id;
      EXPECT_TRUE(once.insert({tie.tie.id, tie.tie.along_m}).second) << "seed " << seed << ": a tie is used twice";
    }
    const auto all = ties_of(*whole.run());
    const auto before = ties_of(*stage.run());
    EXPECT_TRUE(std::equal(before.begin(), before.end(), all.begin())) << "seed " << seed;
  }
  EXPECT_GE(staged, 4) << "of the seeds 1 to 40";
}

}  // namespace
}  // namespace holdfast::cable
