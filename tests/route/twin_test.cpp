// SPDX-License-Identifier: GPL-3.0-or-later
// Graph and route against the slow twin, and invariants, on random yards.

#include <gtest/gtest.h>

#include <random>
#include <set>

#include "reference_yard.h"

namespace holdfast::route {
namespace {

using support::random_yard;
using support::ReferenceYard;
using support::World;

/// Moves as pairs of grip indices that the engine's graph holds open under zones and closures.
std::set<std::pair<std::size_t, std::size_t>> open_pairs(const World& world, const std::vector<model::RailId>& closed) {
  const Profile profile{.kit = world.kit, .suit = world.kit.suits.front(), .closures = {closed}};
  const auto table = compute_costs(world.graph, profile, Objective::Time);
  std::set<std::pair<std::size_t, std::size_t>> pairs;
  for (std::size_t m = 0; m < world.graph.moves().size(); ++m)
    if (!table.by_move[m].is_blocked())
      pairs.emplace(world.graph.moves()[m].a.index(), world.graph.moves()[m].b.index());
  return pairs;
}

TEST(Twin, GripsMovesAndRoutesAgreeOnRandomYards) {
  constexpr int yards = 100;
  constexpr double slack = 0.01;  // moves within 1 cm of a limit may go either way
  int routes = 0, refusals = 0, fair = 0;
  for (int seed = 0; seed < yards; ++seed) {
    SCOPED_TRACE("seed " + std::to_string(seed));
    std::mt19937_64 random(static_cast<std::uint64_t>(seed));
    const auto structure = random_yard(random);
    const model::Configuration configuration{{{"s", seed % 2 == 0 ? "one" : "two"}}};
    graph::Body body;
    if (seed % 3 == 0) body.lean_rad = 0;
    const World world(structure, body, &configuration);
    std::vector<model::RailId> closed;
    if (seed % 4 == 0) closed.emplace_back(random() % structure.rails.size());
    std::set<std::uint32_t> closed_set;
    for (const auto rail : closed) closed_set.insert(rail.value);
    const ReferenceYard twin(world.structure, body, world.kit.suits.front(), configuration, closed_set);

    ASSERT_EQ(twin.grips().size(), world.graph.grips().size());
    for (std::size_t g = 0; g < twin.grips().size(); ++g)
      ASSERT_LT((twin.grips()[g].hand - world.graph.grips()[g].hand).norm(), 1e-9);
    if (twin.is_stance_near_limit()) continue;
    ++fair;
    for (std::size_t g = 0; g < twin.grips().size(); ++g)
      ASSERT_LT((twin.grips()[g].stance - world.graph.grips()[g].stance).norm(), 1e-6) << "grip " << g;

    const auto ours = open_pairs(world, closed);
    const auto bold = twin.moves(slack), safe = twin.moves(-slack);
    std::set<std::pair<std::size_t, std::size_t>> bold_set;
    for (const auto& m : bold) bold_set.emplace(m.a, m.b);
    for (const auto& m : safe) EXPECT_TRUE(ours.count({m.a, m.b})) << "missing " << m.a << " - " << m.b;
    for (const auto& pair : ours)
      EXPECT_TRUE(bold_set.count(pair)) << "too much " << pair.first << " - " << pair.second;

    for (const std::size_t goal : {std::size_t{1}, std::size_t{2}}) {
      const auto answer = world.route("start", structure.places[goal].id, Objective::Time, closed);
      const double least = twin.least_seconds(bold, slack, structure.places[0], structure.places[goal]);
      const double most = twin.least_seconds(safe, -slack, structure.places[0], structure.places[goal]);
      if (const auto* route = answer.route()) {
        ++routes;
        const double ends = world.kit.suits.front().start_s + world.kit.suits.front().stop_s;
        // Costs are rounded up to 1e-5 s a move.
        EXPECT_LE(route->time_s - ends, most + 1e-4);
        EXPECT_GE(route->time_s - ends, least - 1e-3) << "the twin measures ways by chords, a little short";
      } else {
        ++refusals;
        EXPECT_FALSE(std::isfinite(most)) << "the twin finds a way on the safe side";
        EXPECT_FALSE(answer.no_route()->causes.empty());
      }
    }
  }
  EXPECT_GT(fair, yards * 9 / 10);
  EXPECT_GT(routes, 20);
  EXPECT_GT(refusals, 5);
}

TEST(Invariants, OfRoutesOnRandomYards) {
  int compared = 0;
  for (int seed = 200; seed < 340; ++seed) {
    SCOPED_TRACE("seed " + std::to_string(seed));
    std::mt19937_64 random(static_cast<std::uint64_t>(seed));
    const auto structure = random_yard(random);
    const World world(structure);
    const auto out = world.route("start", "middle"), back = world.route("middle", "start");
    ASSERT_EQ(out.route() != nullptr, back.route() != nullptr);
    if (!out.route()) continue;
    ++compared;
    EXPECT_NEAR(out.route()->time_s, back.route()->time_s, 1e-3) << "symmetric; 1e-5 s of rounding a move";
    const auto by_distance = world.route("start", "middle", Objective::Distance),
               by_moves = world.route("start", "middle", Objective::Moves);
    EXPECT_LE(by_moves.route()->moves, out.route()->moves);
    EXPECT_LE(by_moves.route()->moves, by_distance.route()->moves);
    EXPECT_LE(by_distance.route()->distance_m, out.route()->distance_m + 1e-3);
    EXPECT_LE(by_distance.route()->distance_m, by_moves.route()->distance_m + 1e-3);
    EXPECT_LE(out.route()->time_s, by_moves.route()->time_s + 1e-3);
    EXPECT_LE(out.route()->time_s, by_distance.route()->time_s + 1e-3);

    // Closing never shortens; a via never shortens; landmarks never change the answer.
    const model::RailId rail(random() % structure.rails.size());
    const auto closed = world.route("start", "middle", Objective::Time, {rail});
    if (closed.route()) EXPECT_GE(closed.route()->time_s, out.route()->time_s - 1e-9);
    const auto via = world.route("start", "middle", Objective::Time, {}, {structure.rails[rail.index()].id});
    if (via.route()) EXPECT_GE(via.route()->time_s, out.route()->time_s - 1e-9);
    const Profile profile{.kit = world.kit, .suit = world.kit.suits.front(), .closures = {{rail}}};
    const auto landmarks = build_landmarks(world.graph, profile, Objective::Time);
    const auto bounded = find_route(world.graph, profile, {.from = "start", .to = "middle", .landmarks = &landmarks});
    ASSERT_EQ(bounded.route() != nullptr, closed.route() != nullptr);
    if (bounded.route())
      EXPECT_EQ(bounded.route()->legs[0].poses.back().grip, closed.route()->legs[0].poses.back().grip);
    if (bounded.route()) EXPECT_EQ(bounded.route()->time_s, closed.route()->time_s);

    // One more rail never lengthens.
    auto more = structure;
    auto extra = structure.rails[0];
    extra.id = "extra";
    extra.points = {{-1.0, 0.3, -0.07}, {0.6, 0.3, -0.07}};
    more.rails.push_back(extra);
    const World richer(more);
    EXPECT_LE(richer.route("start", "middle").route()->time_s, out.route()->time_s + 1e-9);
  }
  EXPECT_GT(compared, 20);
}

}  // namespace
}  // namespace holdfast::route
