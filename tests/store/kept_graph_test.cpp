// SPDX-License-Identifier: GPL-3.0-or-later
// Graphs from what is kept: the same to the last byte as built anew, whatever was edited in between.

#include "holdfast/graph/kept_graph.h"

#include <functional>

#include "holdfast/geometry/kept_scene.h"
#include "kept_folder.h"
#include "kept_graph_impl.h"
#include "mesh_scene.h"

namespace holdfast::graph {
namespace {

using support::Random;
using support::YardBuilder;

class KeptGraph : public support::KeptFolder {
 protected:
  KeptGraph() {
    YardBuilder yard;
    const auto drum = yard.part("drum", model::Cylinder{.from = {0, 0, 0}, .to = {4, 0, 0}, .radius = 1});
    const auto arm = yard.part("arm", model::Box{.center = {0, 0, -0.3}, .size = {0.4, 0.4, 0.6}});
    auto& moving = yard.structure.parts[arm.index()];
    yard.structure.switches.push_back({"arm", {"in", "out"}, "in", {}});
    moving.articulated_by = "arm";
    for (const auto& [position, x] : {std::pair("in", 0.5), std::pair("out", 2.5)})
      moving.poses[position] = model::Pose(Eigen::Translation3d(x, 0, -1));
    yard.part("mast", model::Box{.center = {2, 3, 0}, .size = {0.3, 0.3, 3}});
    yard.rail("a", drum, {{0.2, 0, -1.07}, {1.8, 0, -1.07}}, {{0, 0, -1}});
    yard.rail("b", drum, {{2.1, 0, -1.07}, {3.8, 0, -1.07}}, {{0, 0, -1}});
    yard.rail("c", drum, {{0.2, 0.5, -0.95}, {2, 0.6, -0.9}, {3.8, 0.5, -0.95}});
    yard.rail("d", arm, {{-0.2, 0.22, -0.62}, {0.2, 0.22, -0.62}}, {{0, 0, -1}, {0, 1, 0}});
    yard.zone("ball", model::Sphere{.center = {3, 0, -2}, .radius = 0.4}, model::ZoneEffect::Forbid,
              {.body = true, .hands = true});
    yard.zone("near", model::NearPart{.part = arm, .distance_m = 0.5}, model::ZoneEffect::Caution);
    yard.zone("box", model::OrientedBox{.pose = model::Pose(Eigen::Translation3d(1, 1, -1)), .size = {0.5, 0.5, 0.5}});
    yard.zone("hull", model::ConvexPolyhedron{{{0, 0, -2}, {1, 0, -2}, {0, 1, -2}, {0, 0, -3}}});
    structure_ = yard.structure;
    configuration_ = structure_.default_configuration();
  }

  /// What is kept gives what building gives: every field of every grip and move, zones and neighbours.
  void expect_as_built() {
    const store::Store store(kept());
    const auto scene = geometry::build_scene(structure_, configuration_, {}, &store);
    const auto built = build_handrail_graph(scene, body_);
    for (const char* turn : {"first", "second"}) {
      const auto graph = build_handrail_graph(scene, body_, &store);
      ASSERT_EQ(detail::pack(graph), detail::pack(built)) << turn;
      ASSERT_EQ(graph.adjacency().first, built.adjacency().first);
      ASSERT_EQ(graph.adjacency().arcs.size(), built.adjacency().arcs.size());
      for (std::size_t i = 0; i < graph.adjacency().arcs.size(); ++i) {
        ASSERT_EQ(graph.adjacency().arcs[i].head, built.adjacency().arcs[i].head);
        ASSERT_EQ(graph.adjacency().arcs[i].move, built.adjacency().arcs[i].move);
      }
    }
    EXPECT_TRUE(store.incidents().empty());
  }
  [[nodiscard]] std::size_t graphs_kept() const {
    std::size_t count = 0;
    for (const auto& [name, bytes] : entries()) count += name.ends_with(".graph") ? 1 : 0;
    return count;
  }

  model::Structure structure_;
  model::Configuration configuration_;
  Body body_;
};

TEST_F(KeptGraph, IsTheSameAsBuilt) {
  expect_as_built();
  EXPECT_EQ(graphs_kept(), 1u);
  const store::Store store(kept());
  const auto scene = geometry::build_scene(structure_, configuration_, {}, &store);
  const auto graph = build_handrail_graph(scene, body_, &store), built = build_handrail_graph(scene, body_);
  ASSERT_GT(graph.grips().size(), 40u);
  Random random(1);
  for (int i = 0; i < 500; ++i) {
    const model::Vec3 p = random.point(4);
    EXPECT_EQ(graph.find_grips_within(p, 0.8), built.find_grips_within(p, 0.8));
    EXPECT_EQ(graph.find_nearest_grip(p), built.find_nearest_grip(p));
    const MoveId move(random.index(graph.moves().size()));
    EXPECT_EQ(graph.compute_clearance(move).lower_m, built.compute_clearance(move).lower_m);
  }
}

TEST_F(KeptGraph, IsBuiltAnewAfterWhateverShapesIt) {
  expect_as_built();
  std::size_t kept = 1;
  const auto after = [&](const char* what, const std::function<void()>& edit) {
    SCOPED_TRACE(what);
    edit();
    expect_as_built();
    EXPECT_EQ(graphs_kept(), ++kept) << "another graph";
  };
  auto& rails = structure_.rails;
  auto& zones = structure_.zones;
  after("a point of a rail", [&] { rails[0].points[1].x() += 1e-9; });
  after("an outward direction", [&] { rails[1].outward[0][0] = model::Vec3(0, 0.01, -1).normalized(); });
  after("outward left to the engine", [&] { rails[1].outward.clear(); });
  after("one direction fewer", [&] { rails[3].outward.pop_back(); });
  after("hands no more", [&] { rails[2].use.hands = false; });
  after("hands again, in another order", [&] { rails[2].use.hands = true, std::swap(rails[0], rails[2]); });
  after("another part under a rail", [&] { rails[0].part = model::PartId(2); });
  after("a rail that is absent", [&] { rails[1].when.any_of["arm"] = {"out"}; });
  after("a part that moved", [&] { structure_.parts[0].at.translate(model::Vec3(0, 0, 1e-6)); });
  after("a part's size", [&] { std::get<model::Box>(structure_.parts[2].shape).size.z() = 2; });
  after("another configuration", [&] { configuration_.positions["arm"] = "out"; });
  after("a zone that moved", [&] { std::get<model::Sphere>(zones[0].shape).center.x() = 2.5; });
  after("a zone's distance", [&] { std::get<model::NearPart>(zones[1].shape).distance_m = 0.7; });
  after("a zone's corner", [&] { std::get<model::ConvexPolyhedron>(zones[3].shape).points[3].z() = -4; });
  after("a zone's box", [&] { std::get<model::OrientedBox>(zones[2].shape).size.x() = 1; });
  after("a zone on a part", [&] { zones[0].part = model::PartId(1); });
  after("whom a zone keeps out", [&] { zones[0].applies.hands = false; });
  after("fewer zones", [&] { zones.pop_back(); });
  after("reach", [&] { body_.reach_m += 0.01; });
  after("stand-off", [&] { body_.stand_off_m += 0.01; });
  after("corridor", [&] { body_.corridor_radius_m += 0.01; });
  after("turn", [&] { body_.turn_limit_rad -= 0.01; });
  after("lean", [&] { body_.lean_rad -= 0.01; });
  after("glove", [&] { body_.glove_m += 0.01; });
  after("spacing", [&] { body_.spacing_m -= 0.01; });
}

TEST_F(KeptGraph, IsNotBuiltAgainAfterWhatDoesNotShapeIt) {
  expect_as_built();
  structure_.name = "another", structure_.parts[0].name = "other", structure_.parts[1].fragile = true;
  structure_.rails[0].id = "first", structure_.rails[0].load_limit_n = 300, structure_.rails[0].use.tether = true;
  structure_.zones[0].reason = "why not", structure_.zones[1].effect = model::ZoneEffect::Forbid;
  structure_.zones[0].when.any_of["arm"] = {"out"};
  structure_.places.push_back({.id = "new", .name = "new", .at = {1, 0, -1}});
  expect_as_built();
  EXPECT_EQ(graphs_kept(), 1u);
}

TEST_F(KeptGraph, IsTheSameAfterRandomEditsWithAllEarlierOnesKept) {
  Random random(31);
  for (int turn = 0; turn < 60; ++turn) {
    SCOPED_TRACE("turn " + std::to_string(turn));
    auto& rail = structure_.rails[random.index(structure_.rails.size())];
    auto& zone = structure_.zones[random.index(structure_.zones.size())];
    switch (random.index(7)) {
      case 0:
        rail.points[random.index(rail.points.size())] += random.point(0.1);
        break;
      case 1:
        rail.use.hands = !rail.use.hands;
        break;
      case 2:
        zone.applies = {.body = random.unit() < 0.5, .hands = random.unit() < 0.5};
        break;
      case 3:
        std::swap(rail, structure_.rails[random.index(structure_.rails.size())]);
        break;
      case 4:
        configuration_.positions["arm"] = random.unit() < 0.5 ? "in" : "out";
        break;
      case 5:
        structure_.parts[random.index(3)].at.translate(random.point(0.05));
        break;
      default:
        rail.part = model::PartId(random.index(3));
        break;
    }
    expect_as_built();
  }
}

TEST_F(KeptGraph, IsBuiltAnewWhereAnyByteIsWrong) {
  expect_as_built();
  const auto sound = entries();
  ASSERT_EQ(sound.size(), 1u);
  const auto& [name, bytes] = *sound.begin();
  Random random(20261126);
  for (int turn = 0; turn < 60; ++turn) {
    std::string damaged = bytes;
    if (turn % 3 == 2)
      damaged.resize(random.index(bytes.size()));
    else
      damaged[random.index(bytes.size())] ^= static_cast<char>(1 << random.index(8));
    support::write_bytes(kept() / name, damaged);
    const store::Store store(kept());
    const auto scene = geometry::build_scene(structure_, configuration_, {}, &store);
    const auto graph = build_handrail_graph(scene, body_, &store);
    EXPECT_EQ(store.incidents().size(), 1u) << "turn " << turn;
    EXPECT_EQ(detail::pack(graph), detail::pack(build_handrail_graph(scene, body_)));
    EXPECT_EQ(entries(), sound) << "written afresh";
  }
}

TEST_F(KeptGraph, BelievesNoBytesThatAreNoGraph) {
  const auto scene = geometry::build_scene(structure_, configuration_);
  const std::string sound = detail::pack(build_handrail_graph(scene, body_));
  ASSERT_TRUE(detail::unpack_graph(sound, structure_).has_value());
  for (std::size_t size = 0; size < sound.size(); size += 1 + size / 100)
    EXPECT_FALSE(detail::unpack_graph(std::string_view(sound).substr(0, size), structure_).has_value()) << size;
  EXPECT_FALSE(detail::unpack_graph(sound + '\0', structure_).has_value());
  model::Structure fewer = structure_;
  fewer.rails.pop_back();
  EXPECT_FALSE(detail::unpack_graph(sound, fewer).has_value()) << "of other rails";
  fewer = structure_, fewer.zones.clear();
  EXPECT_FALSE(detail::unpack_graph(sound, fewer).has_value()) << "of other zones";
  Random random(6);
  std::size_t taken_count = 0;
  for (int i = 0; i < 4000; ++i) {
    std::string changed = sound;
    const std::size_t at = random.index(changed.size());
    if (random.unit() < 0.5)
      changed[at] = static_cast<char>(random.index(256));
    else
      for (std::size_t j = at; j < std::min(changed.size(), at + 4); ++j) changed[j] = static_cast<char>(0xff);
    const auto taken = detail::unpack_graph(changed, structure_);
    if (!taken) continue;
    ++taken_count;
    const std::size_t grips = taken->grips.size(), moves = taken->moves.size();
    for (const auto& grip : taken->grips) ASSERT_LT(grip.rail.index(), structure_.rails.size());
    for (const auto& move : taken->moves) ASSERT_TRUE(move.a < move.b && move.b.index() < grips);
    ASSERT_EQ(taken->move_zones.first.size(), moves + 1);
    ASSERT_EQ(taken->grip_zones.first.size(), grips + 1);
    ASSERT_EQ(taken->move_zones.first.back(), taken->move_zones.labels.size());
    for (const auto& label : taken->move_zones.labels) ASSERT_LT(label.zone.index(), structure_.zones.size());
    ASSERT_EQ(taken->rail_first.size(), structure_.rails.size() + 1);
    ASSERT_EQ(taken->rail_first.back(), grips);
    for (const auto& arc : taken->adjacency.arcs) ASSERT_TRUE(arc.head < grips && arc.move < moves);
  }
  EXPECT_GT(taken_count, 0u) << "numbers that are merely other ones are the digest's to find";
}

TEST_F(KeptGraph, IsNotKeptOverSolidsThatNobodyKnows) {
  support::write_obj(folder_ / "mesh.obj", {{{0, 0, 5}, {1, 0, 5}, {0, 1, 5}}, {{0, 1, 2}}});
  structure_.folder = folder_;
  structure_.parts[2].shape = model::MeshFile{.file = "mesh.obj"};  // of a structure that was not read from files
  expect_as_built();
  EXPECT_TRUE(entries().empty());
}

}  // namespace
}  // namespace holdfast::graph
