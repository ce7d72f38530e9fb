// SPDX-License-Identifier: GPL-3.0-or-later
// Scenes from what is kept: the same answers to the last bit, and made anew wherever anything differs.

#include "holdfast/geometry/kept_scene.h"

#include "kept_folder.h"
#include "kept_mesh_impl.h"
#include "mesh_scene.h"

namespace holdfast::geometry {
namespace {

namespace fs = std::filesystem;
using support::Random;
using support::YardBuilder;

class KeptScene : public support::KeptFolder {
 protected:
  /// A closed box, an open strip and some loose triangles as one mesh file, a dish, and exact solids beside them.
  KeptScene() {
    YardBuilder world;
    world.part("box", model::Box{.center = {0.3, 0.2, 0.1}, .size = {1.5, 1, 0.8}});
    world.part("drum", model::Cylinder{.from = {2, 0, 0}, .to = {3.5, 0.4, 0}, .radius = 0.4});
    world.part("ball", model::Sphere{.center = {0, 2, 0}, .radius = 0.5});
    const auto scene = build_scene(world.structure, {});
    TriangleMesh mesh;
    for (std::size_t p = 0; p < world.structure.parts.size(); ++p) {
      const auto part = scene.part_mesh(model::PartId(p));
      const auto base = static_cast<std::uint32_t>(mesh.vertices.size());
      mesh.vertices.insert(mesh.vertices.end(), part.vertices.begin(), part.vertices.end());
      for (auto t : part.triangles) mesh.triangles.push_back({t[0] + base, t[1] + base, t[2] + base});
    }
    Random random(7);
    const auto loose = support::random_mesh(random, 60);
    const auto base = static_cast<std::uint32_t>(mesh.vertices.size());
    mesh.vertices.insert(mesh.vertices.end(), loose.vertices.begin(), loose.vertices.end());
    for (auto t : loose.triangles) mesh.triangles.push_back({t[0] + base, t[1] + base, t[2] + base});
    mesh.triangles.push_back(mesh.triangles.front());  // a duplicate, to be reported
    write_mesh(mesh);
    YardBuilder yard;
    model::Pose pose = model::Pose::Identity();
    pose.translate(Vec3(0.5, -0.25, 0.125)).rotate(Eigen::AngleAxisd(0.3, Vec3(1, 2, 3).normalized()));
    yard.part("mesh", model::MeshFile{.file = "mesh.obj"}, pose);
    yard.part("dish", model::Dish{.radius = 1, .depth = 0.3}, model::Pose(Eigen::Translation3d(0, 0, -3)));
    yard.part("rod", model::Cylinder{.from = {-2, -2, -2}, .to = {2, -2, -2}, .radius = 0.1});
    yard.zone("near", model::NearPart{.part = model::PartId(0), .distance_m = 0.4});
    structure_ = yard.structure;
    structure_.folder = folder_;
    digest();
  }
  void write_mesh(const TriangleMesh& mesh) const { support::write_obj(folder_ / "mesh.obj", mesh); }
  void digest() {
    structure_.files = {{"structure.yaml", std::string(64, 'a')},
                        {"mesh.obj", model::digest_of(support::bytes_of(folder_ / "mesh.obj"))}};
  }
  [[nodiscard]] Scene fresh() const { return build_scene(structure_, {}); }
  /// `made`: entries that were not there or not sound.
  [[nodiscard]] Scene from_store(std::size_t* unusable = nullptr) const {
    const store::Store store(kept());
    auto scene = build_scene(structure_, {}, {}, &store);
    if (unusable) *unusable = store.incidents().size();
    return scene;
  }

  static void expect_same(const Scene& x, const Scene& y, std::uint64_t seed, int questions) {
    SCOPED_TRACE("seed " + std::to_string(seed));
    ASSERT_EQ(x.primitive_count(), y.primitive_count());
    EXPECT_EQ(solids_digest(x), solids_digest(y));
    ASSERT_EQ(x.mesh_reports().size(), y.mesh_reports().size());
    for (std::size_t i = 0; i < x.mesh_reports().size(); ++i) {
      const auto &a = x.mesh_reports()[i], &b = y.mesh_reports()[i];
      EXPECT_EQ(std::tie(a.part, a.triangles, a.degenerate, a.duplicate, a.shells, a.open_shells, a.flipped_shells,
                         a.remarks),
                std::tie(b.part, b.triangles, b.degenerate, b.duplicate, b.shells, b.open_shells, b.flipped_shells,
                         b.remarks));
    }
    for (std::size_t p = 0; p < x.structure().parts.size(); ++p) {
      const auto a = x.part_mesh(model::PartId(p)), b = y.part_mesh(model::PartId(p));
      EXPECT_EQ(a.vertices, b.vertices);
      EXPECT_EQ(a.triangles, b.triangles);
    }
    Random random(seed);
    const auto same = [](const auto& a, const auto& b) {
      ASSERT_EQ(a.has_value(), b.has_value());
      if (!a) return;
      EXPECT_EQ(a->distance_m, b->distance_m);
      EXPECT_EQ(a->point, b->point);
      EXPECT_EQ(a->part, b->part);
    };
    for (int i = 0; i < questions; ++i) {
      const Vec3 p = random.point(4), q = random.point(4);
      const double cutoff = 3 * random.unit();
      const model::PartId part(random.index(x.structure().parts.size()));
      same(x.find_nearest(p, cutoff), y.find_nearest(p, cutoff));
      same(x.find_nearest_on_part(part, p, cutoff), y.find_nearest_on_part(part, p, cutoff));
      same(x.find_first_hit(p, (q - p).normalized(), 6), y.find_first_hit(p, (q - p).normalized(), 6));
      EXPECT_EQ(x.is_segment_blocked(p, q), y.is_segment_blocked(p, q));
      const std::array<Vec3, 3> hull = {p, Vec3(p + random.point(0.3)), Vec3(p + random.point(0.3))};
      EXPECT_EQ(x.hull_distance(hull, cutoff), y.hull_distance(hull, cutoff));
      EXPECT_EQ(x.zone_distance(model::ZoneId(0), p), y.zone_distance(model::ZoneId(0), p));
    }
  }
  model::Structure structure_;
};

TEST_F(KeptScene, AnswersAsOneThatIsMadeAnew) {
  const auto made = fresh();
  const auto first = from_store();
  EXPECT_EQ(entries().size(), 2u) << "the mesh, and the index of all solids";
  const auto second = from_store();
  EXPECT_EQ(entries().size(), 2u);
  expect_same(made, first, 1, 500);
  expect_same(made, second, 2, 3000);
}

TEST_F(KeptScene, OfOneMeshAloneAnswersAsOneThatIsMadeAnew) {
  structure_.parts.resize(1);
  const auto made = fresh();
  (void)from_store();
  EXPECT_EQ(entries().size(), 1u) << "the index of the mesh is that of all";
  expect_same(made, from_store(), 9, 1000);
}

TEST_F(KeptScene, NeedsNoMeshFileTheSecondTime) {
  const auto made = from_store();
  fs::remove(folder_ / "mesh.obj");
  expect_same(made, from_store(), 3, 200);
}

TEST_F(KeptScene, IsMadeAnewForAnotherMeshPoseUnitOrAxis) {
  (void)from_store();
  const auto expect_fresh = [&](const char* what) {
    SCOPED_TRACE(what);
    expect_same(fresh(), from_store(), 4, 200);
  };
  auto& file = std::get<model::MeshFile>(structure_.parts[0].shape);
  file.unit_m = 0.5;
  expect_fresh("unit");
  file.up = "y";
  expect_fresh("axis");
  structure_.parts[0].at.translate(Vec3(0, 0, 1e-9));
  expect_fresh("pose");
  structure_.parts[2].at.translate(Vec3(0, 0, 0.5));
  expect_fresh("another part's pose");
  std::get<model::Dish>(structure_.parts[1].shape).depth = 0.31;
  expect_fresh("another part's shape");
  Random random(8);
  write_mesh(support::random_mesh(random, 40));
  digest();
  expect_fresh("the mesh file");
  std::swap(structure_.parts[1], structure_.parts[2]);
  expect_fresh("order of parts");
}

TEST_F(KeptScene, KeepsNothingOfFilesThatNobodyDigested) {
  structure_.files.clear();
  const auto scene = from_store();
  EXPECT_TRUE(entries().empty());
  EXPECT_EQ(solids_digest(scene), "");
}

TEST_F(KeptScene, IsMadeAnewWhereAnyByteIsWrong) {
  const auto made = from_store();
  const auto sound = entries();
  Random random(20261126);
  for (int turn = 0; turn < 24; ++turn) {
    for (const auto& [name, bytes] : sound) {
      std::string damaged = bytes;
      if (turn % 3 == 2)
        damaged.resize(random.index(bytes.size()));
      else
        damaged[random.index(bytes.size())] ^= static_cast<char>(1 << random.index(8));
      support::write_bytes(kept() / name, damaged);
    }
    std::size_t unusable = 0;
    const auto scene = from_store(&unusable);
    EXPECT_EQ(unusable, sound.size()) << "turn " << turn;
    expect_same(made, scene, 100 + static_cast<std::uint64_t>(turn), 20);
    EXPECT_EQ(entries(), sound) << "written afresh, to the same bytes";
  }
}

TEST_F(KeptScene, BelievesNoBytesThatAreNoMesh) {
  // As a defect of ours might write them: with a right digest, so that the reader alone stands between.
  const auto clean = detail::make_clean_mesh(structure_.parts[0], std::get<model::MeshFile>(structure_.parts[0].shape),
                                             structure_, structure_.parts[0].at);
  const std::string sound = detail::pack(clean);
  ASSERT_TRUE(detail::unpack_clean_mesh(sound).has_value());
  for (std::size_t size = 0; size < sound.size(); size += 1 + size / 50)
    EXPECT_FALSE(detail::unpack_clean_mesh(std::string_view(sound).substr(0, size)).has_value()) << size;
  EXPECT_FALSE(detail::unpack_clean_mesh(sound + '\0').has_value());
  Random random(5);
  for (int i = 0; i < 3000; ++i) {
    std::string changed = sound;
    for (std::size_t k = 0; k < 1 + random.index(3); ++k) {
      const std::size_t at = random.index(changed.size());
      if (random.unit() < 0.5)
        changed[at] = static_cast<char>(random.index(256));
      else
        for (std::size_t j = at; j < std::min(changed.size(), at + 4); ++j) changed[j] = static_cast<char>(0xff);
    }
    const auto taken = detail::unpack_clean_mesh(changed);
    if (!taken) continue;
    for (const auto& shell : taken->shells) {
      for (const auto& vertex : shell.mesh.vertices) ASSERT_TRUE(vertex.allFinite());
      for (const auto& triangle : shell.mesh.triangles)
        for (const auto corner : triangle) ASSERT_LT(corner, shell.mesh.vertices.size());
      // Walks the whole hierarchy: no item, child or level out of range.
      std::size_t seen = 0;
      shell.hierarchy.any([](const detail::Bvh::Node&) { return true; },
                          [&](std::uint32_t item) {
                            EXPECT_LT(item, shell.mesh.triangles.size());
                            return ++seen > 50 * shell.mesh.triangles.size();
                          });
    }
  }
}

TEST(KeptHierarchy, IsRefusedWhereAQueryWouldLeaveIt) {
  using detail::Bvh;
  const auto box = [](std::uint32_t first, std::uint32_t count) {
    return Bvh::Node{{0, 0, 0}, {1, 1, 1}, first, count};
  };
  const std::vector<std::uint32_t> items = {0, 1};
  EXPECT_TRUE(Bvh::from({box(2, 0), box(0, 1), box(1, 1)}, items, 2).has_value());
  EXPECT_TRUE(Bvh::from({}, {}, 0).has_value());
  EXPECT_FALSE(Bvh::from({box(0, 2)}, items, 3).has_value()) << "fewer items than things";
  EXPECT_FALSE(Bvh::from({box(0, 2)}, {0, 2}, 2).has_value()) << "an item that is not there";
  EXPECT_FALSE(Bvh::from({box(1, 2)}, items, 2).has_value()) << "a leaf beyond the items";
  EXPECT_FALSE(Bvh::from({box(0xffffffff, 2)}, items, 2).has_value());
  EXPECT_FALSE(Bvh::from({}, items, 2).has_value());
  EXPECT_FALSE(Bvh::from({box(3, 0), box(0, 1), box(1, 1)}, items, 2).has_value()) << "a child beyond the nodes";
  EXPECT_FALSE(Bvh::from({box(0, 0), box(0, 1), box(1, 1)}, items, 2).has_value()) << "its own child";
  EXPECT_FALSE(Bvh::from({box(1, 0), box(0, 2)}, items, 2).has_value()) << "one child twice";
  // As deep as a query's stack, and one more.
  for (const std::size_t deep : {60u, 61u}) {
    std::vector<Bvh::Node> nodes;
    for (std::size_t i = 0; i < deep; ++i) nodes.push_back(box(static_cast<std::uint32_t>(2 * deep - i), 0));
    for (std::size_t i = 0; i < deep + 1; ++i) nodes.push_back(box(0, 1));
    EXPECT_EQ(Bvh::from(nodes, items, 2).has_value(), deep == 60) << deep;
  }
}

}  // namespace
}  // namespace holdfast::geometry
