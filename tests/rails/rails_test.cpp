// SPDX-License-Identifier: GPL-3.0-or-later
// Rails in meshes that others made, in bad meshes, and the same mesh in other guises.

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <unistd.h>

#include <Eigen/Geometry>
#include <cmath>
#include <filesystem>
#include <fstream>
#include <functional>
#include <map>
#include <numbers>
#include <random>

#include "holdfast/rails/rails.h"
#include "railed_mesh.h"

namespace holdfast {
namespace {

using geometry::NamedMesh;
using geometry::Vec3;

NamedMesh read(const std::string& file) {
  return geometry::read_mesh_file({.file = std::string(HOLDFAST_SOURCE_DIR) + "/" + file});
}
rails::FoundRails find(const NamedMesh& mesh, const std::string& pattern = "") {
  return rails::find_rails(mesh, {.design = model::default_design_values(), .node_pattern = pattern});
}

/// A deck of 6 x 4 m and what is put on it; outward is -z.
struct Deck {
  geometry::TriangleMesh mesh;
  Deck() {
    mesh.vertices = {{0, 0, 0}, {6, 0, 0}, {6, 4, 0}, {0, 4, 0}, {0, 0, 1}, {6, 0, 1}, {6, 4, 1}, {0, 4, 1}};
    mesh.triangles = {{0, 2, 1}, {0, 3, 2}, {4, 5, 6}, {4, 6, 7}, {0, 1, 5}, {0, 5, 4},
                      {1, 2, 6}, {1, 6, 5}, {2, 3, 7}, {2, 7, 6}, {3, 0, 4}, {3, 4, 7}};
  }
  Deck& bar(const Vec3& a, const Vec3& b, double diameter, int sides = 12, std::array<bool, 2> caps = {true, true}) {
    support::sweep(mesh, {a, b}, std::vector<Vec3>(2, (b - a).unitOrthogonal()),
                   support::round_outline(diameter, sides, 0), false, caps);
    return *this;
  }
  Deck& rail(const Vec3& a, const Vec3& b, double diameter = 0.03) {
    bar(a, b, diameter);
    for (const double t : {0.1, 0.9}) {
      const Vec3 p = a + t * (b - a);
      bar(p, {p.x(), p.y(), 0}, 0.02);
    }
    return *this;
  }
  [[nodiscard]] NamedMesh named() const { return support::named(mesh); }
};

// Counted by hand from the pieces' boxes in the file: two handrails of 48.1 mm tube that rise at 30 deg from a middle
// of (y, z) = (-0.006, 1.891) to y = 3.814 (4.41 m) and go on level to z = -1.014 (0.70 m); six bars of 0.559 m between
// the uprights of the platform; ten posts of stairs, two uprights of the platform, and two that the handrails end in.
TEST(RailsOfALadder, AreThoseCountedByHand) {
  const auto found = find(read("tests/data/structures/ladder-with-rails.obj"));
  EXPECT_EQ(found.rails.size(), 8U);
  EXPECT_EQ(found.posts.size(), 14U);
  const double by_hand = 2 * (4.41 + 0.70) + 6 * 0.559;
  EXPECT_NEAR(found.length_m, by_hand, 0.03 * by_hand);
  for (const auto& rail : found.rails) {
    EXPECT_NEAR(rail.width_m, 0.0481, 0.0005);
    EXPECT_EQ(rail.shape, rails::SectionShape::Round);
    EXPECT_EQ(rail.sureness, rails::Sureness::Sure);
  }
  // Treads (102 x 38 mm) and stringers are told, with the reason.
  ASSERT_EQ(found.doubtful.size(), 12U);
  for (const auto& piece : found.doubtful) EXPECT_EQ(piece.reasons.front().kind, rails::ReasonKind::TooThick);
}

// The group of railings has 12 runs, each a bar of 8 corners, and 58 posts. Length of a run by hand: between the
// middles of its two ends of 4 corners; four of 58.703 m, four of 1.997, two of 1.923, two of 1.922: 250.49 m. Where
// two meet at a corner they are one rail here; at the aft ends the gap of 0.1 m between the bars' middles leaves them
// two.
TEST(RailsOfAShip, AreThoseCountedByHand) {
  const auto found = find(read("tests/data/ships/dock-ship.obj"), "*rails*");
  EXPECT_EQ(found.posts.size(), 58U);
  EXPECT_NEAR(found.length_m, 250.49, 0.03 * 250.49);
  for (const auto& piece : found.doubtful)  // behind the hull's open sheets, short of a metre
    EXPECT_TRUE(piece.length_m < 1 &&
                std::any_of(piece.reasons.begin(), piece.reasons.end(),
                            [](const auto& reason) { return reason.kind == rails::ReasonKind::SideUnclear; }))
        << piece.id << ", " << piece.length_m << " m";
  EXPECT_EQ(found.rails.size(), 8U);
  for (const auto& rail : found.rails) {
    EXPECT_EQ(rail.node, "OB_LPD_Rails/ShapeIndexedFaceS_001");
    for (const auto& outward : rail.segment_outward) EXPECT_GT(outward.y(), 0.99) << "up from the deck";
  }
}

// Of the group of railings the file has as closed boxes, by hand from the least and greatest coordinates of each: two
// bars along the sides of 15.199 m, two before the bridge of 3.615 m: 37.63 m; fifteen posts 78 mm thick and three of
// 53 mm. Two upright sheets without thickness at the bridge are neither.
TEST(RailsOfALandingCraft, AreThoseCountedByHand) {
  const auto found = find(read("tests/data/ships/landing-craft.obj"), "*railing*");
  constexpr double by_hand = 2 * 15.199 + 2 * 3.615;
  EXPECT_EQ(found.rails.size(), 4U);
  EXPECT_NEAR(found.length_m, by_hand, 0.03 * by_hand);
  EXPECT_EQ(found.posts.size(), 18U);
  EXPECT_TRUE(found.doubtful.empty());
  // Up, as their posts stand. What is nearest beside each of the four bumpers, 1.21 m off, lies 18 deg aside of that.
  for (const auto& rail : found.rails)
    for (const auto& outward : rail.segment_outward) EXPECT_GT(outward.y(), 0.99) << rail.id;
}

// Posts too thick for a glove are posts, and stay in what bodies keep clear of.
TEST(RailsOfALandingCraft, StandOnThickPostsThatStay) {
  const auto mesh = read("tests/data/ships/landing-craft.obj");
  const auto found = find(mesh, "*railing*");
  const auto thick =
      std::count_if(found.posts.begin(), found.posts.end(), [](const auto& post) { return post.width_m > 0.057; });
  EXPECT_EQ(thick, 15);
  // Of the four bars 12 triangles each go, and of the three thin posts 10 each.
  EXPECT_EQ(rails::without_rails(mesh, found).triangles.size(), mesh.mesh.triangles.size() - 4 * 12 - 3 * 10);
}

// A rung between two stringers is no post, though the nearest structure lies along it at both ends.
TEST(Rails, AreNotTakenForPostsBetweenTwoWalls) {
  Deck deck;
  for (const double y : {1.0, 1.55}) {
    geometry::TriangleMesh wall = Deck().mesh;
    for (auto& v : wall.vertices) v = Vec3(1 + v.x() / 6, y + v.y() / 80, -1.5 + 1.4 * v.z());
    support::add(deck.mesh, wall);
  }
  deck.bar({1.5, 1.05, -0.4}, {1.5, 1.55, -0.4}, 0.03);
  const auto found = find(deck.named());
  EXPECT_TRUE(found.posts.empty());
  EXPECT_EQ(found.rails.size() + found.doubtful.size(), 1U);
}

TEST(Rails, WithoutAnythingUnderneathHaveNoOutwardDirection) {
  // A bar between two walls far above the deck: nothing tells which way is outward.
  Deck deck;
  for (const double y : {0.2, 3.0}) {
    geometry::TriangleMesh wall = Deck().mesh;
    for (auto& v : wall.vertices) v = Vec3(1 + v.x() / 6, y + v.y() / 8, -9 + v.z());
    support::add(deck.mesh, wall);
  }
  deck.bar({1.5, 0.69, -8.5}, {1.5, 3.01, -8.5}, 0.03);
  const auto found = find(deck.named());
  EXPECT_TRUE(found.rails.empty());
  ASSERT_EQ(found.doubtful.size(), 1U);
  EXPECT_EQ(found.doubtful[0].reasons[0].kind, rails::ReasonKind::OutwardUnclear);
}

TEST(Rails, TellPiecesThatAreNoneWithTheReason) {
  using Kind = rails::ReasonKind;
  const auto only_reason = [](Deck& deck) {
    const auto found = find(deck.named());
    EXPECT_TRUE(found.rails.empty());
    EXPECT_EQ(found.doubtful.size(), 1U);
    return found.doubtful.empty() ? std::optional<Kind>() : found.doubtful[0].reasons.front().kind;
  };
  EXPECT_EQ(only_reason(Deck().bar({1, 1, -0.2}, {3, 1, -0.2}, 0.08)), Kind::TooThick);
  EXPECT_EQ(only_reason(Deck().bar({1, 1, -0.2}, {3, 1, -0.2}, 0.006)), Kind::TooThin);
  EXPECT_EQ(only_reason(Deck().bar({1, 1, -0.03}, {3, 1, -0.03}, 0.03)), Kind::TooNear);
  EXPECT_EQ(only_reason(Deck().bar({1, 1, -0.1}, {1.1, 1, -0.1}, 0.03)), Kind::TooShort);
  EXPECT_EQ(only_reason(Deck().bar({1, 1, -4}, {3, 1, -4}, 0.03)), Kind::FarAway);
}

TEST(Rails, SayWhatIsBelowTheDesignValue) {
  const auto found = find(Deck().rail({1, 1, -0.065}, {3, 1, -0.065}).named());
  ASSERT_EQ(found.rails.size(), 1U);
  EXPECT_NEAR(*found.rails[0].gap_m, 0.05, 0.001);
  EXPECT_EQ(found.rails[0].sureness, rails::Sureness::Likely);
  ASSERT_EQ(found.rails[0].reasons.size(), 1U);
  EXPECT_EQ(found.rails[0].reasons[0].kind, rails::ReasonKind::GapBelowDesign);
  EXPECT_EQ(found.posts.size(), 2U);
}

TEST(Rails, MakeAHandholdOfAGripForOneHand) {
  const auto found = find(Deck().rail({1, 1, -0.1}, {1.25, 1, -0.1}).named());
  ASSERT_EQ(found.rails.size(), 1U);
  ASSERT_TRUE(found.rails[0].is_handhold());
  EXPECT_LT((found.rails[0].points[0].at - Vec3(1.125, 1, -0.1)).norm(), 0.003);
  EXPECT_NEAR(found.rails[0].points[0].outward.z(), -1, 1e-3);
}

TEST(Rails, EndWhereTheyRunIntoASolid) {
  Deck deck;
  deck.bar({1, 1, -0.1}, {3, 1, -0.1}, 0.03)
      .bar({1.2, 1, 0}, {1.2, 1, -0.1}, 0.02)
      .bar({2.4, 1, 0}, {2.4, 1, -0.1}, 0.02);
  // A block that the rail ends in, 0.2 m deep.
  geometry::TriangleMesh block = Deck().mesh;
  for (auto& v : block.vertices) v = Vec3(2.8 + v.x() / 6, 0.5 + v.y() / 4, -0.5 + 0.5 * v.z());
  support::add(deck.mesh, block);
  const auto found = find(deck.named());
  ASSERT_EQ(found.rails.size(), 1U);
  EXPECT_NEAR(found.rails[0].length_m, 1.8, 0.01);
}

TEST(Rails, AreFoundInOpenAndSelfIntersectingShells) {
  Deck open;
  open.bar({1, 1, -0.1}, {3, 1, -0.1}, 0.03, 12, {false, false})
      .bar({1.2, 1, 0}, {1.2, 1, -0.1}, 0.02, 8, {false, false});
  open.mesh.triangles.erase(open.mesh.triangles.begin());  // and a hole in the deck
  EXPECT_EQ(find(open.named()).rails.size(), 1U);
  Deck crossing;
  crossing.rail({1, 1, -0.1}, {3, 1, -0.1}).rail({2, 0.3, -0.1}, {2, 2.3, -0.1});
  const auto found = find(crossing.named());
  EXPECT_EQ(found.rails.size(), 2U);
  EXPECT_NEAR(found.length_m, 4, 0.02);
}

TEST(Rails, OfAMeshWithoutAnyAreNone) {
  const auto found = find(Deck().named());
  EXPECT_TRUE(found.rails.empty());
  EXPECT_TRUE(found.doubtful.empty());
  EXPECT_FALSE(found.unit);
}

TEST(Rails, TellWhichUnitWouldFit) {
  auto mesh = Deck().rail({1, 1, -0.1}, {3, 1, -0.1}).named();
  for (auto& v : mesh.mesh.vertices) v *= 1000;  // millimetres taken for metres: rails 30 m thick
  const auto found = find(mesh);
  EXPECT_TRUE(found.rails.empty());
  ASSERT_TRUE(found.unit);
  EXPECT_EQ(found.unit->unit, "mm");
}

TEST(Rails, TellTheUnitThatFitsWhateverItWasReadIn) {
  static const std::vector<std::pair<std::string, double>> units = {
      {"m", 1}, {"cm", 0.01}, {"mm", 0.001}, {"in", 0.0254}, {"ft", 0.3048}};
  for (const auto& [right, metres] : units)
    for (const auto& [given, as] : units) {
      if (given == right) continue;
      auto mesh = Deck().rail({1, 1, -0.1}, {3, 1, -0.1}).named();
      for (auto& v : mesh.mesh.vertices) v *= as / metres;
      const auto found = rails::find_rails(mesh, {.design = model::default_design_values(), .unit_m = as});
      if (found.rails.empty() && found.unit) {
        EXPECT_EQ(found.unit->unit, right) << "read in " << given;
        continue;
      }
      // Inches for centimetres and the like: a section within its limits, or hardly out of them.
      EXPECT_LT(std::max(as / metres, metres / as), 3.3) << "in " << right << ", read in " << given;
    }
}

// What stands up alone is a mast or an antenna as well: bodies keep clear of it.
TEST(Rails, ArePostsOnlyWhereTheyHoldARail) {
  const auto mesh = Deck().rail({1, 1, -0.1}, {3, 1, -0.1}).bar({4, 2, 0}, {4, 2, -0.5}, 0.03).named();
  const auto found = find(mesh);
  EXPECT_EQ(found.posts.size(), 2U);
  ASSERT_EQ(found.doubtful.size(), 1U);
  EXPECT_EQ(found.doubtful.front().reasons.front().kind, rails::ReasonKind::StandsAlone);
  const auto rest = rails::without_rails(mesh, found);
  EXPECT_TRUE(std::any_of(rest.vertices.begin(), rest.vertices.end(), [](const Vec3& p) { return p.z() < -0.45; }));
}

TEST(Rails, NameTheNearestNodesWhenAPatternMatchesNone) {
  try {
    (void)find(read("tests/data/ships/dock-ship.obj"), "OB_LPD_Rail/ShapeIndexedFaceS_001");
    FAIL();
  } catch (const model::InputError& error) {
    EXPECT_EQ(error.diagnostics()[0].code, "unknown-node");
    EXPECT_EQ(error.diagnostics()[0].problem, "no node of the mesh matches \"OB_LPD_Rail/ShapeIndexedFaceS_001\"");
    EXPECT_THAT(error.diagnostics()[0].remedy,
                testing::StartsWith("the nearest names are: OB_LPD_Rails/ShapeIndexedFaceS_001"));
  }
}

TEST(Rails, LeaveTheStructureWithoutThem) {
  const auto mesh = Deck().rail({1, 1, -0.1}, {3, 1, -0.1}).bar({1, 3, -0.2}, {3, 3, -0.2}, 0.08).named();
  const auto found = find(mesh);
  const auto body = rails::without_rails(mesh, found);
  EXPECT_EQ(body.triangles.size(), 12U + 44U) << "the deck, and the bar too thick to be held";
}

// The same mesh turned, moved, shuffled, split at every edge, or inside out gives the same rails.
TEST(Rails, AreTheSameHoweverTheMeshIsGiven) {
  const auto mesh = read("tests/data/structures/ladder-with-rails.obj");
  const auto plain = find(mesh);
  std::mt19937 random(7);
  const auto turn = Eigen::AngleAxisd(1.1, Vec3(1, 2, 3).normalized()).toRotationMatrix();
  const Vec3 shift(12.3, -4.5, 6.7);
  auto other = mesh;
  for (auto& v : other.mesh.vertices) v = turn * v + shift;
  std::vector<std::size_t> order(other.mesh.triangles.size());
  for (std::size_t i = 0; i < order.size(); ++i) order[i] = i;
  std::shuffle(order.begin(), order.end(), random);
  NamedMesh split;
  split.nodes = other.nodes;
  for (const auto t : order) {
    const auto& c = other.mesh.triangles[t];
    const auto base = static_cast<std::uint32_t>(split.mesh.vertices.size());
    for (const auto v : {c[0], c[2], c[1]}) split.mesh.vertices.push_back(other.mesh.vertices[v]);
    split.mesh.triangles.push_back({base, base + 1, base + 2});
    split.node_of.push_back(other.node_of[t]);
  }
  const auto turned = find(split);
  ASSERT_EQ(turned.rails.size(), plain.rails.size());
  EXPECT_EQ(turned.posts.size(), plain.posts.size());
  EXPECT_EQ(turned.doubtful.size(), plain.doubtful.size());
  EXPECT_NEAR(turned.length_m, plain.length_m, 0.02);
  for (const auto& rail : turned.rails)
    for (const auto& point : rail.points) {
      const Vec3 back = turn.transpose() * (point.at - shift);
      double best = 1;
      for (const auto& same : plain.rails)
        for (std::size_t i = 0; i + 1 < same.points.size(); ++i) {
          const Vec3 a = same.points[i].at, d = same.points[i + 1].at - a;
          best = std::min(best, (a + std::clamp((back - a).dot(d) / d.squaredNorm(), 0.0, 1.0) * d - back).norm());
        }
      EXPECT_LT(best, 0.005);
    }
}

/// Rails by id with their lines, to a tenth of a millimetre.
std::map<std::string, std::vector<Vec3>> lines_of(const rails::FoundRails& found) {
  std::map<std::string, std::vector<Vec3>> lines;
  for (const auto& rail : found.rails)
    for (const auto& point : rail.points) lines[rail.id].push_back(point.at);
  return lines;
}

/// Binary glTF 2.0 (Khronos, 3.7.2 and 4.4): indices, then positions with y up as that format has them.
std::string binary_gltf(const NamedMesh& mesh) {
  std::string bytes;
  const auto put = [&bytes](auto value) { bytes.append(reinterpret_cast<const char*>(&value), sizeof value); };
  for (const auto& t : mesh.mesh.triangles)
    for (const auto v : t) put(std::uint32_t{v});
  const auto indices = bytes.size();
  geometry::Bounds bounds;
  for (const auto& v : mesh.mesh.vertices) {
    const Vec3 p(v.x(), v.z(), -v.y());
    bounds.extend(p);
    for (int i = 0; i < 3; ++i) put(static_cast<float>(p[i]));
  }
  const auto corner = [](const Vec3& p) {
    return "[" + std::to_string(p.x()) + "," + std::to_string(p.y()) + "," + std::to_string(p.z()) + "]";
  };
  std::string text =
      R"({"asset":{"version":"2.0"},"scene":0,"scenes":[{"nodes":[0]}],"nodes":[{"mesh":0,"name":"cabin"}],)"
      R"("meshes":[{"primitives":[{"attributes":{"POSITION":1},"indices":0}]}],"buffers":[{"byteLength":)" +
      std::to_string(bytes.size()) + R"(}],"bufferViews":[{"buffer":0,"byteLength":)" + std::to_string(indices) +
      R"(},{"buffer":0,"byteOffset":)" + std::to_string(indices) + R"(,"byteLength":)" +
      std::to_string(bytes.size() - indices) +
      R"(}],"accessors":[{"bufferView":0,"componentType":5125,"type":"SCALAR","count":)" +
      std::to_string(3 * mesh.mesh.triangles.size()) +
      R"(},{"bufferView":1,"componentType":5126,"type":"VEC3","count":)" + std::to_string(mesh.mesh.vertices.size()) +
      R"(,"min":)" + corner(bounds.min) + R"(,"max":)" + corner(bounds.max) + "}]}";
  text.resize((text.size() + 3) / 4 * 4, ' ');
  std::string binary = std::move(bytes);
  bytes = "glTF";
  put(std::uint32_t{2}), put(static_cast<std::uint32_t>(12 + 8 + text.size() + 8 + binary.size()));
  put(static_cast<std::uint32_t>(text.size())), bytes += "JSON" + text;
  put(static_cast<std::uint32_t>(binary.size())), bytes += std::string("BIN\0", 4) + binary;
  return bytes;
}

TEST(Rails, AreTheSameInEveryFileFormatAndUnit) {
  const auto mesh = read("models/cabin/cabin.obj");
  const auto plain = lines_of(find(mesh));
  ASSERT_EQ(plain.size(), 8U);
  const auto folder = std::filesystem::temp_directory_path() / ("holdfast-guise-" + std::to_string(::getpid()));
  std::filesystem::create_directories(folder);
  const auto write = [&](const std::string& name, const std::function<void(std::ofstream&)>& body) {
    std::ofstream out(folder / name);
    out.precision(9);
    body(out);
    return (folder / name).string();
  };
  const auto& v = mesh.mesh.vertices;
  const auto& t = mesh.mesh.triangles;
  const auto list = [&](std::ofstream& out, double scale) {
    for (const auto& p : v) out << scale * p.x() << ' ' << scale * p.y() << ' ' << scale * p.z() << '\n';
    for (const auto& c : t) out << "3 " << c[0] << ' ' << c[1] << ' ' << c[2] << '\n';
  };
  const std::vector<model::MeshFile> guises = {
      {.file = write("cabin.off",
                     [&](auto& out) {
                       out << "OFF\n" << v.size() << ' ' << t.size() << " 0\n";
                       list(out, 1);
                     })},
      {.file = write("cabin.ply",
                     [&](auto& out) {
                       out << "ply\nformat ascii 1.0\nelement vertex " << v.size()
                           << "\nproperty double x\nproperty double y\nproperty double z\nelement face " << t.size()
                           << "\nproperty list uchar int vertex_indices\nend_header\n";
                       list(out, 1);
                     })},
      {.file = write("cabin.stl",
                     [&](auto& out) {
                       out << "solid cabin\n";
                       for (const auto& c : t) {
                         out << "facet normal 0 0 0\nouter loop\n";
                         for (const auto i : c)
                           out << "vertex " << v[i].x() << ' ' << v[i].y() << ' ' << v[i].z() << '\n';
                         out << "endloop\nendfacet\n";
                       }
                       out << "endsolid cabin\n";
                     })},
      {.file = write("cabin.glb", [&](auto& out) { out << binary_gltf(mesh); }), .up = "y"},
      {.file = write("in_mm.off",
                     [&](auto& out) {
                       out << "OFF\n" << v.size() << ' ' << t.size() << " 0\n";
                       list(out, 1000);
                     }),
       .unit_m = 0.001}};
  for (const auto& guise : guises) {
    SCOPED_TRACE(guise.file);
    const auto lines = lines_of(find(geometry::read_mesh_file(guise)));
    ASSERT_EQ(lines.size(), plain.size());
    for (const auto& [id, line] : plain) {
      ASSERT_TRUE(lines.count(id)) << id;
      ASSERT_EQ(lines.at(id).size(), line.size());
      for (std::size_t i = 0; i < line.size(); ++i) EXPECT_LT((lines.at(id)[i] - line[i]).norm(), 1e-4);
    }
  }
  std::filesystem::remove_all(folder);
}

// Every triangle cut into four: more triangles, the same rails.
TEST(Rails, AreTheSameWithTrianglesCutInFour) {
  const auto mesh = read("tests/data/structures/ladder-with-rails.obj");
  NamedMesh fine;
  fine.nodes = mesh.nodes, fine.mesh.vertices = mesh.mesh.vertices;
  std::map<std::pair<std::uint32_t, std::uint32_t>, std::uint32_t> middles;
  for (std::size_t i = 0; i < mesh.mesh.triangles.size(); ++i) {
    const auto& c = mesh.mesh.triangles[i];
    const auto middle = [&](std::uint32_t a, std::uint32_t b) {
      const auto [entry, is_new] =
          middles.try_emplace(std::minmax(a, b), static_cast<std::uint32_t>(fine.mesh.vertices.size()));
      if (is_new) fine.mesh.vertices.push_back((mesh.mesh.vertices[a] + mesh.mesh.vertices[b]) / 2);
      return entry->second;
    };
    const auto x = middle(c[0], c[1]), y = middle(c[1], c[2]), z = middle(c[2], c[0]);
    for (const auto& part : {std::array{c[0], x, z}, {x, c[1], y}, {z, y, c[2]}, {x, y, z}})
      fine.mesh.triangles.push_back(part), fine.node_of.push_back(mesh.node_of[i]);
  }
  const auto plain = find(mesh), found = find(fine);
  EXPECT_EQ(found.rails.size(), plain.rails.size());
  EXPECT_EQ(found.posts.size(), plain.posts.size());
  EXPECT_EQ(found.doubtful.size(), plain.doubtful.size());
  EXPECT_NEAR(found.length_m, plain.length_m, 0.02);
}

TEST(Rails, KeepTheirIdsWhenTrianglesAreShuffled) {
  auto mesh = read("tests/data/structures/ladder-with-rails.obj");
  const auto ids = [](const rails::FoundRails& found) {
    std::vector<std::string> out;
    for (const auto& rail : found.rails) out.push_back(rail.id);
    return out;
  };
  const auto before = ids(find(mesh));
  std::mt19937 random(3);
  std::shuffle(mesh.mesh.triangles.begin(), mesh.mesh.triangles.end(), random);
  EXPECT_EQ(ids(find(mesh)), before);
}

}  // namespace
}  // namespace holdfast
