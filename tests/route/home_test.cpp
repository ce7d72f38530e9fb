// The way home from everywhere, and the matrix of places: against single routes and against Boost.Graph.

#include "holdfast/search/home.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <cmath>
#include <map>
#include <random>

#include "reference_dijkstra.h"
#include "reference_yard.h"
#include "yard_builder.h"

namespace holdfast {
namespace {

using search::HomeVerdict;
using search::Profile;
using support::Vec3;
using support::World;
using support::YardBuilder;

Profile profile_of(const World& world, std::vector<const model::Load*> loads = {}) {
  return {.kit = world.kit, .suit = world.kit.suits.front(), .loads = std::move(loads)};
}

TEST(Home, TakesFromEveryGripWhatBoostSays) {
  std::mt19937_64 random(81);
  for (int round = 0; round < 8; ++round) {
    const World world(support::random_yard(random));
    const auto home = search::compute_home(world.graph, profile_of(world), {.hatch = "start"});
    const auto table = search::compute_costs(world.graph, profile_of(world), search::Objective::Time);
    const auto pace = search::pace_of(profile_of(world));
    std::vector<support::WeightedEdge> edges;
    for (std::size_t m = 0; m < world.graph.moves().size(); ++m)
      if (!table.by_move[m].is_blocked()) {
        const auto& move = world.graph.moves()[m];
        edges.push_back(
            {move.a.value, move.b.value, search::cost_of_seconds(search::compute_move_time(move, pace).sum_s())});
      }
    // One node more stands for the hatch, at no cost from each of its grips.
    const auto hatch = static_cast<std::uint32_t>(world.graph.grips().size());
    const auto& place = world.structure.places[0];
    for (const auto grip : world.graph.find_grips_within(place.at, place.within_m))
      if (table.grip_blocks[grip.index()] == 0) edges.push_back({hatch, grip.value, 0});
    support::BoostDijkstra reference(hatch + 1, edges);
    const auto& distance = reference.all(hatch);
    for (std::uint32_t g = 0; g < hatch; ++g) {
      const bool has_way = distance[g] != support::BoostDijkstra::unreachable && table.grip_blocks[g] == 0;
      ASSERT_EQ(std::isfinite(home.time_by_grip_s[g]), has_way);
      if (has_way) EXPECT_NEAR(home.time_by_grip_s[g], static_cast<double>(distance[g]) / 1e5 + 10, 1e-6);
    }
    for (std::size_t w = 1; w < home.worst.size(); ++w) EXPECT_GE(home.worst[w - 1].time_s, home.worst[w].time_s);
  }
}

TEST(Home, APlaceIsNeverNearerThanItsRouteSays) {
  std::mt19937_64 random(82);
  for (int round = 0; round < 10; ++round) {
    const World world(support::random_yard(random));
    const auto home = search::compute_home(world.graph, profile_of(world), {.hatch = "start"});
    ASSERT_EQ(home.places.size(), 3u);
    for (const auto& row : home.places) {
      const auto answer = world.route(world.structure.places[row.place.index()].id, "start");
      if (row.verdict == HomeVerdict::NoWay) continue;
      ASSERT_TRUE(answer.route());
      EXPECT_GE(row.time_s, answer.route()->time_s - 1e-6);
    }
  }
}

model::Structure line_of(double length) {
  YardBuilder yard;
  yard.rail("line", yard.nowhere(), {{0, 0, 0}, {length, 0, 0}}, {-Vec3::UnitZ()});
  yard.rail("away", model::PartId(0), {{0, 50, 0}, {1, 50, 0}}, {-Vec3::UnitZ()});
  yard.place("hatch", {0, 0, 0}, 0.01, model::PlaceKind::Hatch);
  yard.place("near", {length / 2, 0, 0}, 0.01), yard.place("far", {length, 0, 0}, 0.01);
  yard.place("lost", {0, 50, 0}, 0.01);
  return yard.structure;
}

TEST(Home, JudgesByTheLimitIncludingIt) {
  const World world(line_of(6));
  const auto time_of = [&](const std::string& id) { return world.route(id, "hatch").route()->time_s; };
  const auto verdicts = [&](double limit_s, double warn_s) {
    std::map<std::string, HomeVerdict> all;
    const auto home =
        search::compute_home(world.graph, profile_of(world), {.hatch = "hatch", .limit_s = limit_s, .warn_s = warn_s});
    for (const auto& row : home.places) all[world.structure.places[row.place.index()].id] = row.verdict;
    EXPECT_EQ(world.structure.places[home.places.front().place.index()].id, "lost") << "the worst first";
    return all;
  };
  const double far = time_of("far"), near = time_of("near");
  auto v = verdicts(far, near);
  EXPECT_EQ(v["far"], HomeVerdict::Near);
  EXPECT_EQ(v["near"], HomeVerdict::Within);
  EXPECT_EQ(v["lost"], HomeVerdict::NoWay);
  v = verdicts(far - 0.01, near - 0.01);
  EXPECT_EQ(v["far"], HomeVerdict::Over);
  EXPECT_EQ(v["near"], HomeVerdict::Near);
}

TEST(Home, WithACrewMemberInTowEachPlaceIsARouteOfItsOwn) {
  const World world(line_of(6));
  model::Load crew;
  crew.id = "crew", crew.how = model::CarriedHow::InTow, crew.size_m = {1.6, 0.7, 0.6}, crew.tow_length_m = 1.2;
  crew.mass_kg.value = 200, crew.stow_s.value = 30, crew.is_crew = true;
  crew.rate_m_s = {0.08, "test", model::Confidence::Assumption};
  const auto home = search::compute_home(world.graph, profile_of(world, {&crew}), {.hatch = "hatch"});
  for (const auto& row : home.places) {
    const auto& id = world.structure.places[row.place.index()].id;
    const auto answer = search::route(world.graph, profile_of(world, {&crew}), {.from = id, .to = "hatch"});
    ASSERT_EQ(row.verdict != HomeVerdict::NoWay, answer.route() != nullptr) << id;
    if (answer.route()) EXPECT_EQ(row.time_s, answer.route()->time_s);
  }
}

TEST(Matrix, HoldsTheNumbersOfSingleRoutes) {
  std::mt19937_64 random(83);
  for (int round = 0; round < 6; ++round) {
    const World world(support::random_yard(random));  // its zones forbid: no prices that a matrix leaves out
    for (const auto by : {search::Objective::Time, search::Objective::Distance, search::Objective::Moves}) {
      const auto matrix = search::compute_matrix(world.graph, profile_of(world), by);
      ASSERT_EQ(matrix.places.size(), 3u);
      for (std::size_t from = 0; from < 3; ++from)
        for (std::size_t to = 0; to < 3; ++to) {
          const auto& cell = matrix.at(from, to);
          const auto answer = world.route(world.structure.places[from].id, world.structure.places[to].id, by);
          ASSERT_EQ(cell.has_value(), answer.route() != nullptr);
          if (!cell) continue;
          EXPECT_EQ(cell->moves, answer.route()->moves);
          EXPECT_NEAR(cell->time_s, answer.route()->time_s, 1e-3) << "costs are rounded up to 1e-5 s a move";
          EXPECT_NEAR(cell->distance_m, answer.route()->distance_m, 1e-3);
          EXPECT_EQ(cell->moves, matrix.at(to, from)->moves) << "symmetric";
          EXPECT_EQ(cell->time_s, matrix.at(to, from)->time_s);
        }
    }
  }
}

}  // namespace
}  // namespace holdfast
