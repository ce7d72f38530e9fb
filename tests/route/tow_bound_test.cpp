// SPDX-License-Identifier: GPL-3.0-or-later
// What is said to be impossible with a load in tow is never done: against random paths that the load does pass on.

#include "tow_bound_impl.h"

#include <gtest/gtest.h>

#include <random>
#include <vector>

#include "load_space_impl.h"
#include "mesh_scene.h"
#include "yard_builder.h"

namespace holdfast::route::detail {
namespace {

using graph::MoveId;
using model::Vec3;
using support::World;
using support::YardBuilder;

model::Load box_in_tow(Vec3 size_m, double tow_m) {
  model::Load load;
  load.id = "load", load.how = model::CarriedHow::InTow;
  load.size_m = std::move(size_m), load.tow_length_m = tow_m;
  return load;
}

// Lines of rails on two decks that meet at an inside corner, with posts beside them.
TEST(TowBound, NeverRefusesAMoveThatALoadPassesOn) {
  std::size_t refused = 0, passed = 0, open = 0;
  for (unsigned seed = 0; seed < 24; ++seed) {
    SCOPED_TRACE(seed);
    std::mt19937_64 random(7000 + seed);
    const auto uniform = [&](double low, double high) {
      return std::uniform_real_distribution<double>(low, high)(random);
    };
    YardBuilder yard;
    const auto deck = yard.part("deck", model::Box{.center = {2, 0, 0.5}, .size = {6, 6, 0.8}});
    const double slope = uniform(0.2, 1.2);  // of the other deck, rising from the first one's end
    model::Pose tilt = model::Pose::Identity();
    tilt.translate(Vec3(-0.4, 0, 0.1));
    tilt.rotate(Eigen::AngleAxisd(slope, Vec3::UnitY()));
    const auto ramp = yard.part("ramp", model::Box{.center = {-2, 0, 0.4}, .size = {4, 6, 0.8}}, tilt);
    for (const double y : {-0.4, 0.4}) {
      yard.rail("deck" + std::to_string(y), deck, {{0.1, y, 0}, {2.6, y, 0}}, {-Vec3::UnitZ()});
      yard.structure.rails.push_back(yard.structure.rails.back());
      auto& up = yard.structure.rails.back();
      up.id = "ramp" + std::to_string(y), up.part = ramp;
      up.points = {{-0.5, y, -0.1}, {-2.6, y, -0.1}};
    }
    yard.rail("cross", deck, {{1.3, -0.4, 0}, {1.3, 0.4, 0}}, {-Vec3::UnitZ()});
    for (int post = 0; post < 2; ++post)
      yard.part("post", model::Box{.center = {uniform(-1, 2.5), uniform(-1.2, 1.2), -1.1}, .size = {0.15, 0.15, 0.5}});
    graph::Body body;
    body.spacing_m = 0.3;
    body.corridor_radius_m = 0.3;
    const World world(yard.structure, body);
    const auto load = box_in_tow({uniform(0.5, 1.8), uniform(0.2, 0.7), uniform(0.2, 0.7)}, uniform(0.5, 1.4));
    LoadSpace space(world.graph, {&load});
    const auto count = static_cast<std::uint32_t>(world.graph.grips().size());
    for (int walk = 0; walk < 60; ++walk) {
      const GripId start(static_cast<std::uint32_t>(random() % count));
      LoadSpace::State state = space.start(start, 0, std::nullopt).value();
      std::vector<MoveId> gone;
      GripId before = start;
      for (int step = 0; step < 14; ++step) {
        const GripId at = space.grip(state);
        std::vector<std::pair<GripId, MoveId>> next;
        for (const auto& arc : world.graph.adjacency().out(at.value)) {
          // Back and forth at times: that is how a tow is laid otherwise.
          if (!world.graph.moves()[arc.move].is_open() || (GripId(arc.head) == before && random() % 4 != 0)) continue;
          if (space.step(state, GripId(arc.head)).fits) next.emplace_back(arc.head, arc.move);
        }
        if (next.empty()) break;
        const auto& [to, move] = next[random() % next.size()];
        state = space.step(state, to).to;
        gone.push_back(move);
        before = at;
        if (!space.finish_leg(state)) continue;
        // The load was drawn along all of it.
        for (const MoveId done : gone) EXPECT_TRUE(space.may_pass(done)) << done.value;
        passed += gone.size();
        gone.clear();
      }
    }
    for (std::uint32_t m = 0; m < world.graph.moves().size(); ++m) {
      if (!world.graph.moves()[m].is_open()) continue;
      ++open;
      refused += space.may_pass(MoveId(m)) ? 0 : 1;
    }
  }
  EXPECT_GT(passed, 2000u);
  EXPECT_GT(open, 1000u);
  EXPECT_GT(refused, 0) << "it must say something";
}

}  // namespace
}  // namespace holdfast::route::detail
