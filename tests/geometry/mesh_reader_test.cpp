// SPDX-License-Identifier: GPL-3.0-or-later
// Readers of mesh files on what no exporter should write, and on sound files that are rare: every file gives triangles
// or one reason.

#include <gtest/gtest.h>

#include <algorithm>
#include <functional>
#include <nlohmann/json.hpp>
#include <numbers>

#include "bytes.h"
#include "mesh_reader_impl.h"

namespace holdfast::geometry::detail {
namespace {

using nlohmann::json;
using support::base64;
using support::put;

struct Read {
  RawMesh raw;
  std::string why, remedy;
};

Read read(const std::string& extension, const std::string& bytes, const std::string& node = "") {
  Read out;
  const BufferSource no_files = [](const std::string& uri) -> std::string_view {
    throw BrokenMesh{"\"" + uri.substr(0, 40) + "\" does not exist"};
  };
  try {
    out.raw = extension == "obj"   ? read_obj(bytes, node)
              : extension == "off" ? read_off(bytes, node)
              : extension == "ply" ? read_ply(bytes, node)
              : extension == "stl" ? read_stl(bytes, node)
                                   : read_gltf(bytes, node, no_files);
    for (const auto& t : out.raw.mesh.triangles)
      for (const auto corner : t) EXPECT_LT(corner, out.raw.mesh.vertices.size());
  } catch (const BrokenMesh& broken) {
    out.why = broken.why, out.remedy = broken.remedy;
    EXPECT_NE(out.why, "");
    EXPECT_NE(out.remedy, "");
    EXPECT_LT(out.why.size(), 300u) << out.why;
  }
  return out;
}

std::string why(const std::string& extension, const std::string& bytes) { return read(extension, bytes).why; }

/// A glTF document put together accessor by accessor.
class Maker {
 public:
  /// Index of an accessor with these numbers.
  template <class T>
  std::size_t add(const std::string& type, int component, const std::vector<T>& numbers, std::size_t count) {
    const std::size_t begin = (data_.size() + 3) / 4 * 4;
    data_.resize(begin);
    for (const T number : numbers) put(data_, number);
    document["bufferViews"].push_back({{"buffer", 0}, {"byteOffset", begin}, {"byteLength", data_.size() - begin}});
    document["accessors"].push_back({{"bufferView", document["bufferViews"].size() - 1},
                                     {"componentType", component},
                                     {"count", count},
                                     {"type", type}});
    return document["accessors"].size() - 1;
  }
  std::string text() {
    document["buffers"] = {{{"byteLength", data_.size()}, {"uri", "data:;base64," + base64(data_)}}};
    return document.dump();
  }
  json document = {{"asset", {{"version", "2.0"}}}, {"scene", 0}, {"scenes", {{{"nodes", {0}}}}}};

 private:
  std::string data_;
};

const std::vector<float> corners = {0, 0, 0, 1, 0, 0, 0, 2, 0};

/// One triangle at one node.
Maker one_triangle() {
  Maker made;
  const auto position = made.add<float>("VEC3", 5126, corners, 3);
  made.document["nodes"] = {{{"mesh", 0}, {"name", "plate"}}};
  made.document["meshes"] = {{{"primitives", {{{"attributes", {{"POSITION", position}}}}}}}};
  return made;
}

std::string changed(const std::function<void(json&)>& change) {
  auto made = one_triangle();
  (void)made.text();
  change(made.document);
  return made.text();
}

// ---- glTF ----------------------------------------------------------------------------------------------------------

/// A skin of two joints; `binds`: with inverse bind matrices.
Maker skinned(bool binds, unsigned char joint = 1) {
  Maker made = one_triangle();
  const auto joints = made.add<std::uint8_t>("VEC4", 5121, {0, joint, 0, 0, 0, joint, 0, 0, 0, joint, 0, 0}, 3);
  const auto weights = made.add<float>("VEC4", 5126, {1, 0, 0, 0, 0.5f, 0.5f, 0, 0, 0, 1, 0, 0}, 3);
  auto& document = made.document;
  document["meshes"][0]["primitives"][0]["attributes"]["JOINTS_0"] = joints;
  document["meshes"][0]["primitives"][0]["attributes"]["WEIGHTS_0"] = weights;
  document["nodes"] = {{{"mesh", 0}, {"skin", 0}, {"translation", {100, 0, 0}}},
                       {{"translation", {10, 0, 0}}, {"children", {2}}},
                       {{"translation", {0, 0, 4}}}};
  document["scenes"][0]["nodes"] = {0, 1};
  document["skins"] = {{{"joints", {1, 2}}}};
  if (binds) {
    std::vector<float> matrices;
    for (int j = 0; j < 2; ++j)
      for (const float value : {1, 0, 0, 0, 0, 1, 0, 0, 0, 0, 1, 0, -10, 0, 0, 1}) matrices.push_back(value);
    document["skins"][0]["inverseBindMatrices"] = made.add<float>("MAT4", 5126, matrices, 2);
  }
  return made;
}

TEST(Skins, PutVerticesWhereTheirJointsHoldThem) {
  // glTF 2.0, 3.7.3: the node's own place does not count; the sum over joints of weight * joint * inverse bind matrix
  // does.
  for (const bool binds : {false, true}) {
    const auto got = read("gltf", skinned(binds).text());
    ASSERT_EQ(got.why, "") << binds;
    const double x = binds ? 0 : 10;
    const auto& v = got.raw.mesh.vertices;
    ASSERT_EQ(v.size(), 3u);
    EXPECT_NEAR((v[0] - Vec3(x, 0, 0)).norm(), 0, 1e-12);
    EXPECT_NEAR((v[1] - Vec3(x + 1, 0, 2)).norm(), 0, 1e-12);
    EXPECT_NEAR((v[2] - Vec3(x, 2, 4)).norm(), 0, 1e-12);
  }
}

TEST(Skins, ThatCannotBeWholeAreRefused) {
  EXPECT_EQ(why("gltf", skinned(true, 2).text()), "a vertex has a joint or weight that is out of range");
  const auto without = [](const std::function<void(json&)>& change) {
    auto made = skinned(true);
    (void)made.text();
    change(made.document);
    return why("gltf", made.text());
  };
  EXPECT_EQ(without([](json& d) { d.erase("skins"); }), "a node names a skin that is not there");
  EXPECT_EQ(without([](json& d) { d["skins"][0].erase("joints"); }), "a skin has no joints");
  EXPECT_EQ(without([](json& d) { d["skins"][0]["joints"] = json::array(); }), "a skin has no joints");
  EXPECT_EQ(without([](json& d) { d["skins"][0]["joints"][1] = 99; }), "a skin names a joint that is not there");
  EXPECT_EQ(without([](json& d) { d["skins"][0]["inverseBindMatrices"] = 0; }),
            "a skin has other matrices than one of single precision for each joint");
  EXPECT_EQ(without([](json& d) { d["skins"][0]["inverseBindMatrices"] = 77; }),
            "a primitive names a skin's matrix that is not there");
  EXPECT_EQ(without([](json& d) { d["meshes"][0]["primitives"][0]["attributes"].erase("WEIGHTS_0"); }),
            "a vertex of a skin is held by no joint");
}

TEST(Gltf, KindsThatImportersFallOverAreToldAsFaults) {
  EXPECT_EQ(
      why("gltf", changed([](json& d) {
            d["accessors"][0]["sparse"] = {{"count", 1}, {"indices", {{"bufferView", 0}, {"componentType", 5121}}}};
          })),
      "its vertices are stored as sparse, which is not read");
  EXPECT_EQ(why("gltf", changed([](json& d) { d["asset"]["version"] = "1.0"; })),
            "it is of glTF version 1.0, and version 2.0 is read");
  EXPECT_EQ(why("gltf", changed([](json& d) { d["asset"]["minVersion"] = "2.1"; })),
            "it is of glTF version 2.0, and version 2.0 is read");
  EXPECT_EQ(why("gltf", changed([](json& d) { d.erase("asset"); })), "it does not say which version of glTF it is");
  EXPECT_EQ(why("gltf", changed([](json& d) { d["accessors"][0]["componentType"] = 1e300; })),
            "an accessor has a type that does not exist");
  EXPECT_EQ(why("gltf", changed([](json& d) { d["accessors"][0]["count"] = 2.5; })), "its count is no whole number");
  EXPECT_EQ(why("gltf", changed([](json& d) { d["accessors"][0]["byteOffset"] = 0.5; })),
            "its byteOffset is no whole number");
  EXPECT_EQ(why("gltf", changed([](json& d) {
                  d["nodes"][0]["matrix"] = {1, 2, 3};
                })),
            "a node's matrix is not 16 numbers");
  EXPECT_EQ(why("gltf", changed([](json& d) {
                  d["nodes"][0]["rotation"] = {0, 0, 0, 0};
                })),
            "a node's rotation is no unit quaternion");
  EXPECT_EQ(why("gltf", changed([](json& d) { d["meshes"][0]["weights"] = {0.5}; })),
            "its shape is blended from morph targets, which are not read");
  EXPECT_EQ(why("gltf", changed([](json& d) {
                  d["nodes"] = {{{"children", {1}}}, {{"children", {0}}, {"mesh", 0}}};
                })),
            "nodes are their own ancestors");
  EXPECT_EQ(why("gltf", changed([](json& d) {
                  d["scenes"][0]["nodes"] = {0, 0};
                })),
            "a scene names a node that is no root of its own");
}

TEST(Gltf, LinesOfOneIndexAreNoSurface) {
  for (const int mode : {0, 1, 2, 3}) {
    auto made = one_triangle();
    const auto one = made.add<std::uint16_t>("SCALAR", 5123, {0}, 1);
    made.document["meshes"][0]["primitives"].push_back(
        {{"attributes", {{"POSITION", 0}}}, {"indices", one}, {"mode", mode}});
    const auto got = read("gltf", made.text());
    EXPECT_EQ(got.why, "") << mode;
    EXPECT_EQ(got.raw.mesh.triangles.size(), 1u);
  }
  for (const int mode : {5, 6}) {
    auto made = one_triangle();
    const auto one = made.add<std::uint16_t>("SCALAR", 5123, {0}, 1);
    made.document["meshes"][0]["primitives"].push_back(
        {{"attributes", {{"POSITION", 0}}}, {"indices", one}, {"mode", mode}});
    EXPECT_EQ(why("gltf", made.text()), "a strip or fan of triangles has 1 corners");
  }
}

TEST(Gltf, StripsAndFansKeepTheirFacing) {
  // A square as strip 0 1 2 3 and as fan: both triangles look the same way (3.7.2.1).
  for (const auto& [mode, order] : {std::pair{5, std::vector<std::uint16_t>{0, 1, 3, 2}}, {6, {0, 1, 2, 3}}}) {
    Maker made;
    const auto position = made.add<float>("VEC3", 5126, {0, 0, 0, 1, 0, 0, 1, 1, 0, 0, 1, 0}, 4);
    const auto index = made.add<std::uint16_t>("SCALAR", 5123, order, 4);
    made.document["nodes"] = {{{"mesh", 0}}};
    made.document["meshes"] = {
        {{"primitives", {{{"attributes", {{"POSITION", position}}}, {"indices", index}, {"mode", mode}}}}}};
    const auto got = read("gltf", made.text());
    ASSERT_EQ(got.why, "");
    ASSERT_EQ(got.raw.mesh.triangles.size(), 2u);
    for (const auto& t : got.raw.mesh.triangles) {
      const auto& v = got.raw.mesh.vertices;
      EXPECT_NEAR((v[t[1]] - v[t[0]]).cross(v[t[2]] - v[t[0]]).z(), 1, 1e-12) << mode;
    }
  }
}

TEST(Gltf, TextureTransformsAndManyMaterialsAreNoMatter) {
  const auto got = read(
      "gltf", changed([](json& d) {
        d["extensionsUsed"] = {"KHR_texture_transform"};
        for (int i = 0; i < 50'000; ++i)
          d["materials"].push_back(
              {{"pbrMetallicRoughness",
                {{"baseColorTexture", {{"index", 99}, {"extensions", {{"KHR_texture_transform", {{"scale", 3}}}}}}}}}});
      }));
  EXPECT_EQ(got.why, "");
  EXPECT_EQ(got.raw.mesh.triangles.size(), 1u);
}

TEST(Gltf, DeepNodesAreReadAndDeepJsonIsRefused) {
  // 50,000 nodes, each 1 mm beyond the last: no recursion over them.
  const int deep = 50'000;
  const auto got = read("gltf", changed([&](json& d) {
                          d["nodes"] = json::array();
                          for (int i = 0; i < deep; ++i)
                            d["nodes"].push_back({{"children", {i + 1}}, {"translation", {0.001, 0, 0}}});
                          d["nodes"].push_back({{"mesh", 0}});
                        }));
  ASSERT_EQ(got.why, "");
  EXPECT_NEAR(got.raw.mesh.vertices[0].x(), 50, 1e-6);
  for (const char* bracket : {"[", "{\"a\":", "{\"extras\":["})
    for (const int depth : {100, 100'000}) {
      std::string text = "{\"asset\":{\"version\":\"2.0\"},\"extras\":";
      for (int i = 0; i < depth; ++i) text += bracket;
      EXPECT_EQ(why("gltf", text), "its JSON is nested more than 64 deep");
    }
  EXPECT_EQ(why("gltf", "{\"a\":[" + std::string(3'000'000, ',')), "its JSON has more than 2000000 values");
  EXPECT_EQ(why("gltf", "{\"a\":\"" + std::string(3'000'000, ',')), "its JSON cannot be parsed") << "no end of a text";
}

TEST(Gltf, FewBytesThatStandForManyTrianglesAreRefused) {
  // The same 3,000 triangles at 1,000 nodes; and 1,000 primitives of the same vertices.
  Maker made;
  std::vector<float> many;
  for (int i = 0; i < 9000; ++i)
    for (int k = 0; k < 3; ++k) many.push_back(static_cast<float>((i * (k + 3)) % 101));
  const auto position = made.add<float>("VEC3", 5126, many, 9000);
  made.document["meshes"] = {{{"primitives", {{{"attributes", {{"POSITION", position}}}}}}}};
  made.document["scenes"][0]["nodes"] = json::array();
  for (int i = 0; i < 1000; ++i) {
    made.document["nodes"].push_back({{"mesh", 0}});
    made.document["scenes"][0]["nodes"].push_back(i);
  }
  EXPECT_EQ(why("gltf", made.text()), "it has more than 2000000 triangles");
  made.document["nodes"] = {{{"mesh", 0}}};
  made.document["scenes"][0]["nodes"] = {0};
  for (int i = 0; i < 1000; ++i)
    made.document["meshes"][0]["primitives"].push_back({{"attributes", {{"POSITION", position}}}});
  EXPECT_EQ(why("gltf", made.text()), "it has more than 6000000 vertices");
}

TEST(Gltf, NodesAreFoundByName) {
  auto two = [](const std::string& first, const std::string& second) {
    return changed([&](json& d) {
      d["nodes"] = {
          {{"name", first}, {"children", {1}}}, {{"name", second}, {"mesh", 0}}, {{"name", "plate"}, {"mesh", 0}}};
      d["scenes"][0]["nodes"] = {0, 2};
    });
  };
  EXPECT_EQ(read("gltf", two("arm", "hand"), "arm").raw.mesh.triangles.size(), 1u);
  EXPECT_EQ(read("gltf", two("arm", "arm"), "arm").raw.mesh.triangles.size(), 1u) << "the one above is meant";
  EXPECT_EQ(read("gltf", two("arm", "plate"), "plate").why, "it has 2 nodes \"plate\"");
  EXPECT_EQ(read("gltf", two("arm", "hand"), "hend").why, "it has no node \"hend\"");
  EXPECT_EQ(read("gltf", two("arm", "hand"), "hend").remedy, "did you mean hand?");
}

// ---- OBJ, OFF, STL, PLY --------------------------------------------------------------------------------------------

TEST(TextMeshes, EndLinesInAnyOfThreeWays) {
  const std::string obj = "v 0 0 0\nv 1 0 0\nv 0 2 0\nf 1 2 3\n", off = "OFF\n3 1 0\n0 0 0\n1 0 0\n0 2 0\n3 0 1 2\n",
                    stl =
                        "solid s\nfacet normal 0 0 1\nouter loop\nvertex 0 0 0\nvertex 1 0 0\nvertex 0 2 0\nendloop\n"
                        "endfacet\nendsolid s\n",
                    ply =
                        "ply\nformat ascii 1.0\nelement vertex 3\nproperty float x\nproperty float y\nproperty float "
                        "z\nelement face 1\nproperty list uchar int vertex_indices\nend_header\n0 0 0\n1 0 0\n0 2 "
                        "0\n3 0 1 2\n";
  for (const auto& [extension, text] : {std::pair{"obj", obj}, {"off", off}, {"stl", stl}, {"ply", ply}})
    for (const char* end : {"\n", "\r", "\r\n"}) {
      std::string ended;
      for (const char c : text) c == '\n' ? ended += end : ended += c;
      const auto got = read(extension, ended);
      EXPECT_EQ(got.why, "") << extension;
      ASSERT_EQ(got.raw.mesh.triangles.size(), 1u);
      EXPECT_EQ(got.raw.mesh.vertices[2], Vec3(0, 2, 0));
    }
}

TEST(TextMeshes, BinaryPlyAfterAHeaderOfLoneReturns) {
  // The first byte after the header is a line feed: a lone CR takes it not along.
  std::string ply =
      "ply\rformat binary_little_endian 1.0\relement vertex 3\rproperty uchar x\rproperty uchar y\rproperty "
      "uchar z\relement face 1\rproperty list uchar uchar vertex_index\rend_header\r";
  for (const int byte : {10, 0, 0, 1, 0, 0, 0, 2, 0, 3, 0, 1, 2}) ply.push_back(static_cast<char>(byte));
  const auto got = read("ply", ply);
  ASSERT_EQ(got.why, "");
  EXPECT_EQ(got.raw.mesh.vertices[0], Vec3(10, 0, 0));
}

TEST(Off, FacesOfNoCornersAreRefused) {
  for (const char* face : {"0", "1 0", "2 0 1", "-1", "0 0 0"})
    EXPECT_NE(why("off", std::string("OFF\n3 1 0\n0 0 0\n1 0 0\n0 1 0\n") + face + "\n")
                  .find("line 6: a face says that it has"),
              std::string::npos);
}

TEST(Meshes, CountsBeyondTheFileAreRefusedBeforeMemoryIsTaken) {
  EXPECT_EQ(why("off", "OFF\n4000000000 1 0\n0 0 0\n"), "line 2: it claims 4000000000 elements in 25 bytes");
  EXPECT_NE(why("off", "OFF\n99999999999999999999999 1 0\n").find("is not a whole number"), std::string::npos);
  const std::string ply =
      "ply\nformat ascii 1.0\nelement vertex 4000000000\nproperty float x\nproperty float y\n"
      "property float z\nend_header\n";
  EXPECT_NE(why("ply", ply).find("line 3: it claims 4000000000 elements in"), std::string::npos);
  std::string stl(80, ' ');
  put(stl, 0xFFFFFFFFu);
  EXPECT_EQ(why("stl", stl), "its header counts 4294967295 triangles, and it has 0");
  EXPECT_EQ(why("gltf", changed([](json& d) { d["accessors"][0]["count"] = 4e9; })),
            "an accessor has no or too many elements");
  EXPECT_EQ(why("gltf", changed([](json& d) { d["accessors"][0]["count"] = 5e8; })),
            "an accessor reaches beyond its buffer view");
  EXPECT_EQ(why("obj", "v 0 0 0\nf 1 2 999999999\n"), "line 2: a face names vertex 999999999, which is not there");
  EXPECT_EQ(why("obj", "v 0 0 0\nf 1 2 -9223372036854775808\n"),
            "line 2: a face names vertex -9223372036854775808, which is not there");
}

TEST(Ply, HeadersThatAreCutOrDoubledAreRefused) {
  const std::string header =
      "ply\nformat ascii 1.0\nelement vertex 3\nproperty float x\nproperty float y\nproperty float z\n"
      "element face 1\nproperty list uchar int vertex_indices\nend_header";
  for (std::size_t size = 0; size < header.size(); ++size) EXPECT_NE(why("ply", header.substr(0, size)), "") << size;
  const std::string two =
      "ply\nformat ascii 1.0\nelement vertex 1\nproperty float x\nproperty float y\nproperty float z\n"
      "element vertex 1\nproperty float x\nend_header\n0 0 0\n1\n";
  EXPECT_EQ(why("ply", two), "line 7: its header has two elements \"vertex\"");
  EXPECT_EQ(why("ply", "ply\nformat ascii 1.0\nelement vertex 1\nproperty float x\nproperty float x\nend_header\n"),
            "line 5: an element has two properties \"x\"");
  EXPECT_EQ(why("ply", "ply\nformat ascii 1.0\nelement vertex 1\nend_header\n\n"), "its vertices have no x, y and z");
  EXPECT_EQ(why("ply", "ply\nformat ascii 1.0\nelement rope 20\nend_header\n\n"),
            "its element \"rope\" has no properties");
  // A list of 4,000,000,000 values in no bytes.
  std::string list =
      "ply\nformat binary_little_endian 1.0\nelement vertex 1\nproperty list uint uchar rope\n"
      "property float x\nproperty float y\nproperty float z\nend_header\n";
  put(list, 0xEE6B2800u);
  EXPECT_EQ(why("ply", list), "it ends within vertex 1 of 1");
}

TEST(Polygons, OfVeryManyCornersAreRefused) {
  std::string obj, off = "OFF\n200000 1 0\n", face = "f", off_face = "200000";
  for (int i = 0; i < 200'000; ++i) {
    obj += "v 0 0 0\n", off += "0 0 0\n";
    face += " " + std::to_string(i + 1), off_face += " " + std::to_string(i);
  }
  EXPECT_EQ(why("obj", obj + face + "\n"), "line 200001 has more than 20000 words");
  EXPECT_EQ(why("off", off + off_face + "\n"), "line 200003 has more than 20000 words");
  std::string ply =
      "ply\nformat binary_little_endian 1.0\nelement vertex 1\nproperty uchar x\nproperty uchar y\n"
      "property uchar z\nelement face 1\nproperty list uint uchar vertex_indices\nend_header\n";
  ply.append(3, '\0');
  put(ply, 200'000u);
  EXPECT_EQ(why("ply", ply + std::string(200'000, '\0')), "face 1 of 1 has 200000 corners, and at most 10000 are read");
}

double area_of(const TriangleMesh& mesh) {
  double area = 0;
  for (const auto& t : mesh.triangles)
    area += (mesh.vertices[t[1]] - mesh.vertices[t[0]]).cross(mesh.vertices[t[2]] - mesh.vertices[t[0]]).norm() / 2;
  return area;
}

TEST(Polygons, AreCutIntoTrianglesOfTheSameArea) {
  // A comb: as many teeth as the limit lets, areas by the shoelace formula. Reflex corners all along.
  for (const int teeth : {1, 2, 7, 300}) {
    TriangleMesh mesh;
    std::vector<std::uint32_t> face;
    mesh.vertices.push_back({0, -1, 0});
    mesh.vertices.push_back({2.0 * teeth, -1, 0});
    for (int i = teeth; i-- > 0;) {
      mesh.vertices.push_back({2.0 * i + 2, 0, 0});
      mesh.vertices.push_back({2.0 * i + 1, 5, 0});
    }
    mesh.vertices.push_back({0, 0, 0});
    for (std::uint32_t i = 0; i < mesh.vertices.size(); ++i) face.push_back(i);
    PolygonCutter(mesh).add(face, "face");
    EXPECT_EQ(mesh.triangles.size(), face.size() - 2);
    EXPECT_NEAR(area_of(mesh), 2.0 * teeth + 5.0 * teeth, 1e-9) << teeth;
  }
  // Regular, star-shaped, and with all corners in one place.
  for (const int n : {4, 5, 64, 10'000}) {
    TriangleMesh mesh;
    std::vector<std::uint32_t> face;
    for (int i = 0; i < n; ++i) {
      const double angle = 2 * std::numbers::pi * i / n;
      mesh.vertices.push_back({std::cos(angle), std::sin(angle), 0.5});
      face.push_back(static_cast<std::uint32_t>(i));
    }
    PolygonCutter(mesh).add(face, "face");
    EXPECT_EQ(mesh.triangles.size(), static_cast<std::size_t>(n - 2));
    EXPECT_NEAR(area_of(mesh), n / 2. * std::sin(2 * std::numbers::pi / n), 1e-9);
    mesh.triangles.clear();
    for (auto& v : mesh.vertices) v = Vec3(1, 2, 3);
    if (n < 10'000) PolygonCutter(mesh).add(face, "face");
    EXPECT_EQ(mesh.triangles.size(), n < 10'000 ? static_cast<std::size_t>(n - 2) : 0u);
  }
}

TEST(Polygons, ThatTakeTooMuchWorkAreRefused) {
  TriangleMesh mesh;
  std::vector<std::uint32_t> zigzag;
  for (int i = 0; i < 9'000; ++i) {
    mesh.vertices.push_back({0, 0, 0});
    zigzag.push_back(static_cast<std::uint32_t>(i));
  }
  PolygonCutter cutter(mesh);
  std::string refused;
  try {
    for (int i = 0; i < 14; ++i) cutter.add(zigzag, "face 7");
  } catch (const BrokenMesh& broken) {
    refused = broken.why;
  }
  EXPECT_EQ(refused, "face 7: its faces have too many corners to be cut into triangles");
}

TEST(Obj, ObjectsAndGroupsAreNodes) {
  const std::string text =
      "v 0 0 0\nv 1 0 0\nv 0 2 0\nv 0 0 3\no rack\nf 1 2 3\ng left side\nf 1 2 4\no lid\nf 2 3 4\n";
  EXPECT_EQ(read("obj", text).raw.mesh.triangles.size(), 3u);
  EXPECT_EQ(read("obj", text, "rack").raw.mesh.triangles.size(), 2u);
  EXPECT_EQ(read("obj", text, "lid").raw.mesh.triangles.size(), 1u);
  EXPECT_EQ(read("obj", text, "lit").why, "it has no node \"lit\"");
  EXPECT_EQ(read("obj", text, "lit").remedy, "did you mean lid?");
  EXPECT_EQ(read("off", "OFF\n", "lid").remedy, "it has 0 named nodes");
}

TEST(Stl, SolidsAreNodes) {
  const auto solid = [](const std::string& name) {
    return "solid " + name + "\nfacet normal 0 0 1\nouter loop\nvertex 0 0 0\nvertex 1 0 0\nvertex 0 2 0\nendloop\n" +
           "endfacet\nendsolid " + name + "\n";
  };
  EXPECT_EQ(read("stl", solid("rack") + solid("the lid")).raw.mesh.triangles.size(), 2u);
  EXPECT_EQ(read("stl", solid("rack") + solid("the lid"), "the lid").raw.mesh.triangles.size(), 1u);
  EXPECT_EQ(read("stl", solid("rack"), "rok").why, "it has no node \"rok\"");
}

TEST(Meshes, AnySingleByteThatIsChangedDoesNoHarm) {
  // Every byte of small sound files made each of twelve others: an answer or one reason, under the sanitizers too.
  std::vector<std::pair<std::string, std::string>> files = {
      {"gltf", skinned(true).text()},
      {"obj", "v 0 0 0\nv 1 0 0\nv 0 2 0\nv 0 0 3\no rack\nf 1/1/1 2 3\nf -1 -2 -3 -4 \\\n 1\n"},
      {"off", "COFF 4 2 0\n0 0 0 1 2 3 4\n1 0 0 1 2 3 4\n0 1 0 1 2 3 4\n0 0 1 1 2 3 4\n3 0 1 2\n3 1 2 3\n"},
      {"stl",
       "solid s\nfacet normal 0 0 1\nouter loop\nvertex 0 0 0\nvertex 1 0 0\nvertex 0 2e0 0\nendloop\nendfacet\n"
       "endsolid s\n"},
      {"ply",
       "ply\nformat ascii 1.0\ncomment c\nelement vertex 3\nproperty float x\nproperty float y\nproperty double "
       "z\nelement face 1\nproperty list uchar int vertex_indices\nend_header\n0 0 0\n1 0 0\n0 2 0\n3 0 1 2\n"}};
  for (const char* order : {"little", "big"}) {
    std::string ply = std::string("ply\nformat binary_") + order +
                      "_endian 1.0\nelement vertex 3\nproperty uchar x\nproperty uchar y\nproperty uchar z\n"
                      "element face 1\nproperty list uchar uchar vertex_index\nend_header\n";
    for (const int byte : {10, 0, 0, 1, 0, 0, 0, 2, 0, 3, 0, 1, 2}) ply.push_back(static_cast<char>(byte));
    files.emplace_back("ply", ply);
  }
  std::size_t taken = 0, refused = 0;
  for (const auto& [extension, bytes] : files) {
    ASSERT_EQ(why(extension, bytes), "") << extension;
    for (std::size_t at = 0; at < bytes.size(); ++at)
      for (const char other : {'\0', '\n', ' ', '-', '0', '9', '"', '[', '}', 'e', '\x7f', '\xff'}) {
        auto made = bytes;
        made[at] = other;
        (why(extension, made).empty() ? taken : refused) += 1;
      }
  }
  EXPECT_GT(taken, 1000u);
  EXPECT_GT(refused, 10'000u);
}

}  // namespace
}  // namespace holdfast::geometry::detail
