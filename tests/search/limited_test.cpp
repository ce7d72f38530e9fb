// SPDX-License-Identifier: GPL-3.0-or-later
// Cheapest ways within limits: published optima of directed instances, and a textbook's rows.

#include <gtest/gtest.h>

#include <fstream>
#include <limits>
#include <sstream>
#include <string>
#include <vector>

#include "holdfast/search/label_search.h"

namespace holdfast {
namespace {

using search::Cost;
using search::LimitedPath;
using search::LimitedRequest;
using search::Resource;
using search::Seed;

struct DirectedArc {
  std::uint32_t from, to;
  std::int64_t cost;
  std::vector<std::int64_t> uses;
};

/// Grips are joined both ways; a directed arc is a move that the space allows from one end alone.
struct OneWay : search::PlainSpace {
  explicit OneWay(const std::vector<DirectedArc>& list) : arcs(list) {}
  std::optional<State> step(State state, const graph::Arc& arc, Cost&, std::span<std::int64_t>) const {
    return arcs[arc.move].from == state ? std::optional(arc.head) : std::nullopt;
  }
  const std::vector<DirectedArc>& arcs;
};

LimitedPath solve(std::uint32_t nodes, const std::vector<DirectedArc>& arcs, const std::vector<std::int64_t>& limits) {
  std::vector<std::pair<std::uint32_t, std::uint32_t>> ends;
  std::vector<Cost> costs;
  LimitedRequest request;
  request.stops = {{Seed{0, {}}}, {Seed{nodes - 1, {}}}};
  for (const std::int64_t limit : limits) request.resources.push_back({{}, limit});
  for (const auto& arc : arcs) {
    ends.emplace_back(arc.from, arc.to);
    costs.push_back(Cost::of(arc.cost, 1));
    for (std::size_t r = 0; r < limits.size(); ++r) request.resources[r].by_move.push_back(arc.uses[r]);
  }
  OneWay space(arcs);
  return find_limited_path_in(space, graph::build_adjacency(nodes, ends), costs, request);
}

struct Instance {
  std::uint32_t nodes = 0;
  std::vector<std::int64_t> limits;
  std::vector<DirectedArc> arcs;
};

Instance read_instance(const std::string& name) {
  std::ifstream in(HOLDFAST_SOURCE_DIR "/tests/data/rcsp/" + name + ".txt");
  EXPECT_TRUE(in) << name;
  Instance instance;
  std::size_t arcs = 0, resources = 0;
  in >> instance.nodes >> arcs >> resources;
  std::int64_t skipped = 0;
  for (std::size_t r = 0; r < resources; ++r) in >> skipped;  // lower limits, all 0
  instance.limits.resize(resources);
  for (auto& limit : instance.limits) in >> limit;
  for (std::size_t i = 0; i < instance.nodes * resources; ++i) in >> skipped;  // of vertices, all 0
  for (std::size_t a = 0; a < arcs; ++a) {
    DirectedArc arc;
    in >> arc.from >> arc.to >> arc.cost;
    --arc.from, --arc.to;
    arc.uses.resize(resources);
    for (auto& use : arc.uses) in >> use;
    instance.arcs.push_back(arc);
  }
  EXPECT_TRUE(in) << name;
  return instance;
}

// Beasley and Christofides, Networks 19 (1989), 379-394, and the OR-Library's published optima.
TEST(Limited, HasThePublishedOptima) {
  std::ifstream table(HOLDFAST_SOURCE_DIR "/tests/data/rcsp/published_optima.csv");
  std::string line;
  std::getline(table, line);
  int count = 0;
  while (std::getline(table, line)) {
    std::stringstream fields(line);
    std::vector<std::string> field;
    for (std::string text; std::getline(fields, text, ',');) field.push_back(text);
    ASSERT_EQ(field.size(), 6u);
    SCOPED_TRACE(field[0]);
    const Instance instance = read_instance(field[0]);
    EXPECT_EQ(std::to_string(instance.arcs.size()), field[2]);
    const std::vector<std::int64_t> unlimited(instance.limits.size(), std::numeric_limits<std::int32_t>::max());
    const auto free = solve(instance.nodes, instance.arcs, unlimited);
    ASSERT_TRUE(free.way);
    EXPECT_EQ(free.way->cost.primary(), std::stoll(field[4]));
    const auto found = solve(instance.nodes, instance.arcs, instance.limits);
    EXPECT_FALSE(found.is_cut_short);
    if (field[5] == "infeasible") {
      EXPECT_FALSE(found.way);
    } else {
      ASSERT_TRUE(found.way);
      EXPECT_EQ(found.way->cost.primary(), std::stoll(field[5]));
      for (std::size_t r = 0; r < instance.limits.size(); ++r) EXPECT_LE(found.used[r], instance.limits[r]);
    }
    ++count;
  }
  EXPECT_EQ(count, 13);
}

// Ahuja, Magnanti, Orlin, Network Flows (1993), chapter 16, constrained shortest path: cost and time of each arc.
TEST(Limited, HasTheTextbooksRows) {
  const std::vector<DirectedArc> arcs = {{0, 1, 1, {10}}, {0, 2, 10, {3}}, {1, 3, 1, {1}},  {1, 4, 2, {3}},
                                         {2, 1, 1, {2}},  {2, 3, 5, {7}},  {2, 4, 12, {3}}, {3, 4, 10, {1}},
                                         {3, 5, 1, {7}},  {4, 5, 2, {2}}};
  const auto cost_within = [&](std::int64_t limit) -> std::int64_t {
    const auto found = solve(6, arcs, {limit});
    return found.way ? found.way->cost.primary() : -1;
  };
  const auto best = solve(6, arcs, {14});
  ASSERT_TRUE(best.way);
  EXPECT_EQ(best.way->nodes, (std::vector<std::uint32_t>{0, 2, 1, 3, 5}));
  EXPECT_EQ(best.used[0], 13);
  for (const auto& [low, high, cost] : {std::tuple(0, 7, -1), std::tuple(8, 9, 24), std::tuple(10, 12, 15),
                                        std::tuple(13, 14, 13), std::tuple(15, 17, 5), std::tuple(18, 40, 3)})
    for (int limit = low; limit <= high; ++limit) EXPECT_EQ(cost_within(limit), cost) << limit;
}

}  // namespace
}  // namespace holdfast
