// SPDX-License-Identifier: GPL-3.0-or-later
// Answers on a model from what is kept are those on a model made anew, to the byte.

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

class KeptAnswers : public support::KeptFolder {};

TEST_F(KeptAnswers, AreThoseOfAModelMadeAnew) {
  const auto model = model::read_model(HOLDFAST_SOURCE_DIR "/models/yard", {});
  const auto& structure = model.structure;
  Random random(20261126);
  for (const char* position : {"dish=parked", "dish=tracking"}) {
    const auto configuration = model::configure(structure, {position});
    const auto scene = geometry::build_scene(structure, configuration);
    for (const auto& suit : model.kit.suits) {
      const auto graph = graph::build_handrail_graph(scene, graph::body_of(suit, model.kit.design));
      std::optional<geometry::Scene> kept_scene;
      std::optional<graph::HandrailGraph> kept_graph;
      for (int turn = 0; turn < 2; ++turn) {
        const store::Store store(kept());
        kept_graph.reset();
        kept_scene.emplace(geometry::build_scene(structure, configuration, {}, &store));
        kept_graph.emplace(graph::build_handrail_graph(*kept_scene, graph::body_of(suit, model.kit.design), &store));
        EXPECT_TRUE(store.incidents().empty());
      }
      const auto place = [&] { return structure.places[random.index(structure.places.size())].id; };
      const auto closures = [&] {
        route::Closures closed;
        for (std::size_t k = random.index(4); k > 0; --k)
          closed.rails.emplace_back(random.index(structure.rails.size()));
        return closed;
      };
      for (int by = 0; by < 3; ++by) {
        const route::Profile profile{.kit = model.kit, .suit = suit};
        route::PreparedProfile fresh(graph, profile, static_cast<route::Objective>(by)),
            again(*kept_graph, profile, static_cast<route::Objective>(by));
        for (int i = 0; i < 120; ++i) {
          const route::RouteRequest request{.from = place(), .to = place()};
          const auto closed = closures();
          const auto ours = again.find(request, closed), theirs = fresh.find(request, closed);
          ASSERT_EQ(ours.has_value(), theirs.has_value());
          if (!ours) continue;
          EXPECT_EQ(std::tie(ours->time_s, ours->distance_m, ours->moves),
                    std::tie(theirs->time_s, theirs->distance_m, theirs->moves));
          EXPECT_EQ(ours->legs.front().grips, theirs->legs.front().grips);
        }
      }
      for (int i = 0; i < 3; ++i) {  // described in full, or why not
        route::Profile profile{.kit = model.kit, .suit = suit, .prices_caution = random.unit() < 0.7};
        profile.closures = closures();
        // Beside the body: a load in tow that does not pass takes seconds to explain.
        if (random.unit() < 0.15) profile.loads = {model.kit.find_load("tool-bag")};
        route::RouteRequest request{
            .from = place(), .to = place(), .by = static_cast<route::Objective>(random.index(3))};
        if (random.unit() < 0.2) request.via = {place()};
        const report::Context context{structure, model.kit, suit, "models/yard", "test"};
        EXPECT_EQ(report::json(context, route::find_route(*kept_graph, profile, request)),
                  report::json(context, route::find_route(graph, profile, request)))
            << position << ", " << suit.id << ", question " << i << ": " << request.from << " to " << request.to;
      }
    }
  }
}

}  // namespace
}  // namespace holdfast
