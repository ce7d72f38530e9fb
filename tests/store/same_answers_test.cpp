// SPDX-License-Identifier: GPL-3.0-or-later
// Whatever is prepared, kept or swept answers with the bytes of the plain search on a model made anew, on any number of
// threads: random closures, states, suits, loads, objectives and places. More questions than here:
//
//   HOLDFAST_QUESTIONS=10000 build/dev/tests/store/same_answers_tests

#include <gtest/gtest.h>
#include <tbb/global_control.h>

#include <cstdlib>
#include <map>

#include "holdfast/geometry/kept_scene.h"
#include "holdfast/graph/kept_graph.h"
#include "holdfast/model/read.h"
#include "holdfast/report/report.h"
#include "holdfast/route/prepared.h"
#include "kept_folder.h"
#include "mesh_scene.h"

namespace holdfast {
namespace {

using support::Random;

class SameAnswers : public support::KeptFolder {};

std::size_t questions() {
  const char* asked = std::getenv("HOLDFAST_QUESTIONS");
  return asked ? static_cast<std::size_t>(std::strtoull(asked, nullptr, 10)) : 120;
}

/// A state of the yard with a suit: the plain graph, and the one that was kept.
struct World {
  World(const model::Model& model, const model::Configuration& configuration, const model::Suit& suit,
        const std::string& kept)
      : store(kept),
        scene(geometry::build_scene(model.structure, configuration)),
        graph(graph::build_handrail_graph(scene, graph::body_of(suit, model.kit.design))) {
    for (int turn = 0; turn < 2; ++turn) {
      kept_graph.reset();
      kept_scene.emplace(geometry::build_scene(model.structure, configuration, {}, &store));
      kept_graph.emplace(graph::build_handrail_graph(*kept_scene, graph::body_of(suit, model.kit.design), &store));
    }
  }
  const store::Store store;
  const geometry::Scene scene;
  const graph::HandrailGraph graph;
  std::optional<geometry::Scene> kept_scene;
  std::optional<graph::HandrailGraph> kept_graph;
};

TEST_F(SameAnswers, PreparedKeptAndSweptAsPlain) {
  const auto model = model::read_model(HOLDFAST_SOURCE_DIR "/models/yard", {});
  const auto& structure = model.structure;
  const std::uint64_t seed = 20261127;
  RecordProperty("seed", std::to_string(seed));
  Random random(seed);
  const auto place = [&] { return structure.places[random.index(structure.places.size())].id; };
  std::size_t asked = 0, routes = 0, refusals = 0, with_loads = 0, tables = 0;
  while (asked < questions()) {
    // All switches at random.
    std::vector<std::string> settings;
    for (const auto& one : structure.switches)
      settings.push_back(one.id + "=" + one.positions[random.index(one.positions.size())]);
    const auto& suit = model.kit.suits[random.index(model.kit.suits.size())];
    std::string state = suit.id;
    for (const auto& setting : settings) state += ", " + setting;
    SCOPED_TRACE("seed " + std::to_string(seed) + ", question " + std::to_string(asked) + ": " + state);
    const tbb::global_control threads(tbb::global_control::max_allowed_parallelism, 1 + random.index(4));
    const World world(model, model::configure(structure, settings), suit, kept().string());
    EXPECT_TRUE(world.store.incidents().empty());
    const report::Context context{structure, model.kit, suit, "models/yard", "test"};
    for (int profiles = 0; profiles < 4 && asked < questions(); ++profiles) {
      route::Profile profile{.kit = model.kit, .suit = suit, .prices_caution = random.unit() < 0.7};
      // Beside the body: a load in tow that does not pass takes seconds to explain.
      if (random.unit() < 0.2) profile.loads = {model.kit.find_load("tool-bag")};
      if (random.unit() < 0.3) profile.closures.rails.emplace_back(random.index(structure.rails.size()));
      const auto by = static_cast<route::Objective>(random.index(3));
      route::PreparedProfile first(*world.kept_graph, profile, route::Objective::Time);
      route::PreparedProfile prepared(first, profile, by);
      if (profile.loads.empty() && random.unit() < 0.5) {
        ++tables;
        const route::HomeRequest home{.hatches = {place()}};
        try {
          const auto plain = route::compute_home(world.graph, profile, home);
          const auto ours = first.home(home);
          ASSERT_EQ(report::json(context, ours), report::json(context, plain));
          ASSERT_EQ(ours.time_by_grip_s, plain.time_by_grip_s);
        } catch (const model::InputError&) {  // a hatch that is not there in this state
          EXPECT_THROW((void)first.home(home), model::InputError);
        }
        ASSERT_EQ(report::json(context, prepared.matrix()),
                  report::json(context, route::compute_matrix(world.graph, profile, by)));
      }
      for (int i = 0; i < 25 && asked < questions(); ++i, ++asked) {
        route::Closures closures;
        for (std::size_t k = random.index(4); k > 0; --k)
          closures.rails.emplace_back(random.index(structure.rails.size()));
        for (std::size_t k = random.index(3); k > 0; --k)
          closures.grips.emplace_back(random.index(world.graph.grips().size()));
        for (std::size_t k = random.index(3); k > 0; --k)
          closures.moves.emplace_back(random.index(world.graph.moves().size()));
        route::RouteRequest request{.from = place(), .to = place()};
        if (random.unit() < 0.2) request.via = {place()};
        route::Profile closed = profile;
        const auto add = [](auto& all, const auto& more) { all.insert(all.end(), more.begin(), more.end()); };
        add(closed.closures.rails, closures.rails);
        closed.closures.grips = closures.grips, closed.closures.moves = closures.moves;
        request.by = by;
        SCOPED_TRACE(request.from + " to " + request.to + ", objective " + std::to_string(static_cast<int>(by)));
        std::optional<route::Answer> plain;
        try {
          plain = route::find_route(world.graph, closed, request);
        } catch (const model::InputError&) {
          EXPECT_THROW((void)prepared.find(request, closures), model::InputError);
          continue;
        }
        with_loads += profile.loads.empty() ? 0 : 1;
        if (i % 5 == 0)
          ASSERT_EQ(report::json(context, prepared.route(request, closures)), report::json(context, *plain));
        const auto outline = prepared.find(request, closures);
        const route::Route* route = plain->route();
        ASSERT_EQ(outline.has_value(), route != nullptr);
        ++(route ? routes : refusals);
        if (!route) continue;
        ASSERT_EQ(std::tie(outline->time_s, outline->distance_m, outline->moves),
                  std::tie(route->time_s, route->distance_m, route->moves));
        ASSERT_EQ(outline->legs.size(), route->legs.size());
        for (std::size_t leg = 0; leg < route->legs.size(); ++leg) {
          const auto& poses = route->legs[leg].poses;
          ASSERT_EQ(outline->legs[leg].grips.size(), poses.size());
          for (std::size_t g = 0; g < poses.size(); ++g) ASSERT_EQ(outline->legs[leg].grips[g].index(), poses[g].grip);
        }
      }
    }
  }
  RecordProperty("routes", std::to_string(routes));
  EXPECT_GT(routes, questions() / 4);
  EXPECT_GT(refusals + with_loads + tables, 0u);
}

}  // namespace
}  // namespace holdfast
