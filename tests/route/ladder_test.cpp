// SPDX-License-Identifier: GPL-3.0-or-later
// A second, real input end to end: files to route, over a mesh that nobody here made.

#include <gtest/gtest.h>

#include "holdfast/model/read.h"
#include "holdfast/route/route.h"

namespace holdfast::route {
namespace {

struct Ladder {
  Ladder()
      : model(model::read_model(HOLDFAST_SOURCE_DIR "/tests/data/structures")),
        scene(geometry::build_scene(model.structure, model.structure.default_configuration())),
        graph(graph::build_handrail_graph(scene, graph::body_of(model.kit.suits[0], model.kit.design))) {}
  Answer ask(const std::string& from, const std::string& to, Objective by = Objective::Time) const {
    return find_route(graph, {.kit = model.kit, .suit = model.kit.suits[0]}, {.from = from, .to = to, .by = by});
  }
  model::Model model;
  geometry::Scene scene;
  graph::HandrailGraph graph;
};

TEST(Ladder, IsClimbedAlongItsHandrail) {
  const Ladder ladder;
  const auto answer = ladder.ask("foot", "top", Objective::Moves);
  ASSERT_TRUE(answer.route());
  const auto& route = *answer.route();
  // 3.67 m of rail, half a metre across and 0.55 m of platform rail: at least ceil(4.7 / 0.61) hand moves.
  EXPECT_GE(route.moves, 8u);
  EXPECT_LE(route.moves, 10u);
  EXPECT_GT(route.distance_m, 4.2);
  EXPECT_GE(route.clearance.value_m, 0.545 - 1e-6);
  EXPECT_EQ(ladder.model.structure.rails[route.legs[0].rows.back().rail.index()].id, "platform-right");
  EXPECT_EQ(route.legs[0].rows.back().face, Face::Zenith) << "the mesh's up is zenith";
}

TEST(Ladder, ItsTwoSidesAreTooFarApart) {
  const Ladder ladder;
  const auto answer = ladder.ask("foot", "top-left");
  ASSERT_TRUE(answer.no_route());
  EXPECT_EQ(answer.no_route()->causes[0].kind, CauseKind::Reach);
  EXPECT_NEAR(answer.no_route()->causes[0].value_m, 0.87, 1e-6);
}

TEST(Ladder, EveryHandPositionStandsOffTheMesh) {
  const Ladder ladder;
  for (const auto& grip : ladder.graph.grips()) {
    const double d = ladder.scene.distance(grip.hand, 1);
    EXPECT_GT(d, 0.02);
    EXPECT_LT(d, 0.6) << "laid along the rail, not somewhere in the air";
  }
}

}  // namespace
}  // namespace holdfast::route
