// SPDX-License-Identifier: GPL-3.0-or-later
// A mesh file gives all that it promises, or is refused: cut off anywhere, with any count, offset or index changed.

#include <gtest/gtest.h>

#include <algorithm>
#include <bit>
#include <filesystem>
#include <fstream>
#include <nlohmann/json.hpp>
#include <set>

#include "bytes.h"
#include "mesh_scene.h"

namespace holdfast::geometry {
namespace {

namespace fs = std::filesystem;
using nlohmann::json;
using support::base64;
using support::put;

/// A closed shape without symmetry: two fans of six round a wavy ring, so that no face can stand for another.
TriangleMesh lantern() {
  TriangleMesh mesh;
  constexpr int sides = 6;
  for (int i = 0; i < sides; ++i) {
    const double angle = 2 * EIGEN_PI * i / sides;
    mesh.vertices.push_back({(2 + 0.11 * i) * std::cos(angle), (1.5 + 0.07 * i * i) * std::sin(angle), 0.13 * (i % 3)});
  }
  mesh.vertices.push_back({0.25, -0.125, 1.75});
  mesh.vertices.push_back({-0.125, 0.375, -2.25});
  for (auto& v : mesh.vertices) v = v.cast<float>().cast<double>();
  for (std::uint32_t i = 0; i < sides; ++i) {
    const std::uint32_t j = (i + 1) % sides;
    mesh.triangles.push_back({i, j, sides});
    mesh.triangles.push_back({j, i, sides + 1});
  }
  return mesh;
}

std::string vertex_lines(const TriangleMesh& mesh, const char* before = "") {
  std::ostringstream out;
  out << std::fixed;
  out.precision(9);
  for (const auto& v : mesh.vertices) out << before << v.x() << ' ' << v.y() << ' ' << v.z() << '\n';
  return out.str();
}

std::string as_obj(const TriangleMesh& mesh) {
  std::string out = "# lantern\no lantern\n" + vertex_lines(mesh, "v ");
  for (const auto& t : mesh.triangles)
    out += "f " + std::to_string(t[0] + 1) + " " + std::to_string(t[1] + 1) + " " + std::to_string(t[2] + 1) + "\n";
  return out;
}

std::string face_lines(const TriangleMesh& mesh) {
  std::string out;
  for (const auto& t : mesh.triangles)
    out += "3 " + std::to_string(t[0]) + " " + std::to_string(t[1]) + " " + std::to_string(t[2]) + "\n";
  return out;
}

std::string as_off(const TriangleMesh& mesh) {
  return "OFF\n" + std::to_string(mesh.vertices.size()) + " " + std::to_string(mesh.triangles.size()) + " 0\n" +
         vertex_lines(mesh) + face_lines(mesh);
}

std::string ply_header(const TriangleMesh& mesh, const std::string& format) {
  return "ply\nformat " + format + " 1.0\ncomment lantern\nelement vertex " + std::to_string(mesh.vertices.size()) +
         "\nproperty float x\nproperty float y\nproperty float z\nelement face " +
         std::to_string(mesh.triangles.size()) + "\nproperty list uchar int vertex_indices\nend_header\n";
}
std::string as_ply(const TriangleMesh& mesh) {
  return ply_header(mesh, "ascii") + vertex_lines(mesh) + face_lines(mesh);
}

std::string as_binary_ply(const TriangleMesh& mesh, std::endian order) {
  std::string out = ply_header(mesh, order == std::endian::little ? "binary_little_endian" : "binary_big_endian");
  for (const auto& v : mesh.vertices)
    for (int k = 0; k < 3; ++k) put(out, static_cast<float>(v[k]), order);
  for (const auto& t : mesh.triangles) {
    out.push_back(3);
    for (const auto corner : t) put(out, corner, order);
  }
  return out;
}

std::string as_stl(const TriangleMesh& mesh) {
  std::string out = "solid lantern\n";
  for (const auto& t : mesh.triangles) {
    out += "facet normal 0 0 0\nouter loop\n";
    for (const auto corner : t) out += vertex_lines({{mesh.vertices[corner]}, {}}, "vertex ");
    out += "endloop\nendfacet\n";
  }
  return out + "endsolid lantern\n";
}

std::string as_binary_stl(const TriangleMesh& mesh, std::string header = "lantern") {
  header.resize(80, ' ');
  put(header, static_cast<std::uint32_t>(mesh.triangles.size()));
  for (const auto& t : mesh.triangles) {
    for (int k = 0; k < 3; ++k) put(header, 0.0f);
    for (const auto corner : t)
      for (int k = 0; k < 3; ++k) put(header, static_cast<float>(mesh.vertices[corner][k]));
    put(header, std::uint16_t{0});
  }
  return header;
}

std::string gltf_buffer(const TriangleMesh& mesh) {
  std::string out;
  for (const auto& v : mesh.vertices)
    for (int k = 0; k < 3; ++k) put(out, static_cast<float>(v[k]));
  for (const auto& t : mesh.triangles)
    for (const auto corner : t) put(out, static_cast<std::uint16_t>(corner));
  return out;
}

json gltf_document(const TriangleMesh& mesh, const json& uri) {
  Bounds bounds;
  for (const auto& v : mesh.vertices) bounds.extend(v);
  const auto list = [](const Vec3& v) { return json{v.x(), v.y(), v.z()}; };
  const std::size_t positions = 12 * mesh.vertices.size(), indices = 6 * mesh.triangles.size();
  json buffer = {{"byteLength", positions + indices}};
  if (!uri.is_null()) buffer["uri"] = uri;
  return {{"asset", {{"version", "2.0"}}},
          {"scene", 0},
          {"scenes", {{{"nodes", {0}}}}},
          {"nodes", {{{"mesh", 0}}}},
          {"meshes", {{{"primitives", {{{"attributes", {{"POSITION", 0}}}, {"indices", 1}}}}}}},
          {"accessors",
           {{{"bufferView", 0},
             {"componentType", 5126},
             {"count", mesh.vertices.size()},
             {"type", "VEC3"},
             {"min", list(bounds.min)},
             {"max", list(bounds.max)}},
            {{"bufferView", 1},
             {"byteOffset", 0},
             {"componentType", 5123},
             {"count", 3 * mesh.triangles.size()},
             {"type", "SCALAR"}}}},
          {"bufferViews",
           {{{"buffer", 0}, {"byteOffset", 0}, {"byteLength", positions}},
            {{"buffer", 0}, {"byteOffset", positions}, {"byteLength", indices}}}},
          {"buffers", {buffer}}};
}

std::string as_glb(const json& document, const std::string& binary) {
  std::string text = document.dump();
  text.resize((text.size() + 3) / 4 * 4, ' ');
  std::string out = "glTF";
  put(out, 2u), put(out, static_cast<std::uint32_t>(12 + 8 + text.size() + 8 + binary.size()));
  put(out, static_cast<std::uint32_t>(text.size())), put(out, 0x4E4F534Au);
  out += text;
  put(out, static_cast<std::uint32_t>(binary.size())), put(out, 0x004E4942u);
  return out + binary;
}

json inline_gltf(const TriangleMesh& mesh) {
  return gltf_document(mesh, "data:application/octet-stream;base64," + base64(gltf_buffer(mesh)));
}

struct Case {
  std::string name, extension, bytes;
};
std::vector<Case> cases() {
  const auto mesh = lantern();
  return {{"Obj", "obj", as_obj(mesh)},
          {"Off", "off", as_off(mesh)},
          {"Ply", "ply", as_ply(mesh)},
          {"PlyLittleEndian", "ply", as_binary_ply(mesh, std::endian::little)},
          {"PlyBigEndian", "ply", as_binary_ply(mesh, std::endian::big)},
          {"Stl", "stl", as_stl(mesh)},
          {"BinaryStl", "stl", as_binary_stl(mesh)},
          {"BinaryStlThatSaysSolid", "stl", as_binary_stl(mesh, "solid lantern")},
          {"Gltf", "gltf", inline_gltf(mesh).dump()},
          {"Glb", "glb", as_glb(gltf_document(mesh, nullptr), gltf_buffer(mesh))}};
}

/// Triangles by the places of their corners, whatever their order in the file.
std::multiset<std::string> triangles_of(const TriangleMesh& mesh) {
  std::multiset<std::string> out;
  for (const auto& t : mesh.triangles) {
    std::vector<std::string> corners;
    for (const auto corner : t) {
      char text[64];
      std::snprintf(text, sizeof text, "(%.5f %.5f %.5f)", mesh.vertices[corner].x(), mesh.vertices[corner].y(),
                    mesh.vertices[corner].z());
      corners.emplace_back(text);
    }
    std::sort(corners.begin(), corners.end());
    out.insert(corners[0] + corners[1] + corners[2]);
  }
  return out;
}

struct Read {
  std::string refused;  ///< the problem; empty where it was taken
  std::multiset<std::string> triangles;
  std::vector<std::string> remarks;
};

class Promise : public testing::TestWithParam<Case> {
 protected:
  void SetUp() override { fs::create_directories(folder_); }
  void TearDown() override { fs::remove_all(folder_); }

  Read read(const std::string& bytes, const std::string& extension) const {
    const fs::path file = folder_ / ("m." + extension);
    std::ofstream(file, std::ios::binary) << bytes;
    const auto structure = support::mesh_structure(file);
    try {
      const auto scene = build_scene(structure, {});
      return {"", triangles_of(scene.part_mesh(model::PartId(0))), scene.mesh_reports()[0].remarks};
    } catch (const model::InputError& error) {
      EXPECT_EQ(error.diagnostics()[0].code, "bad-mesh");
      return {error.diagnostics()[0].problem, {}, {}};
    }
  }
  const fs::path folder_ = fs::temp_directory_path() / ("holdfast-promise-" + std::to_string(getpid()));
  const std::multiset<std::string> whole_ = triangles_of(lantern());
};

TEST_P(Promise, IsKeptWhole) {
  const auto read = this->read(GetParam().bytes, GetParam().extension);
  EXPECT_EQ(read.refused, "");
  EXPECT_EQ(read.triangles, whole_);
  EXPECT_TRUE(read.remarks.empty()) << read.remarks[0];
}

TEST_P(Promise, FileThatIsCutOffIsRefused) {
  const auto& [name, extension, bytes] = GetParam();
  std::size_t refused = 0;
  for (std::size_t size = 0; size < bytes.size(); ++size) {
    const auto read = this->read(bytes.substr(0, size), extension);
    if (!read.refused.empty()) {
      ++refused;
      continue;
    }
    // OBJ alone counts nothing: cut at the end of a line it is a whole file, of which only unused vertices tell.
    if (name == "Obj") {
      EXPECT_EQ(bytes[size - 1], '\n') << "cut after " << size << " bytes";
      continue;
    }
    EXPECT_EQ(read.triangles, whole_) << "cut after " << size << " bytes";
  }
  EXPECT_GT(refused, bytes.size() / 2);
}

INSTANTIATE_TEST_SUITE_P(Meshes, Promise, testing::ValuesIn(cases()), [](const auto& one) { return one.param.name; });

class CountedMesh : public Promise {};

TEST_P(CountedMesh, AnyCountOrIndexThatIsChangedIsRefused) {
  // Each whole number of the text, made larger and smaller. In OBJ and binary files: see the cases below.
  const auto& [name, extension, bytes] = GetParam();
  const std::size_t faces_at = bytes.find("\n3 ");
  for (std::size_t i = 0; i < bytes.size(); ++i) {
    const auto is_digit = [&](std::size_t at) {
      return at < bytes.size() && std::isdigit(static_cast<unsigned char>(bytes[at])) != 0;
    };
    if (!is_digit(i) || (i > 0 && (is_digit(i - 1) || bytes[i - 1] == '.' || bytes[i - 1] == '-'))) continue;
    std::size_t end = i;
    while (is_digit(end)) ++end;
    if (end < bytes.size() && bytes[end] == '.') continue;  // a coordinate, or the version
    const long value = std::stol(bytes.substr(i, end - i));
    const bool is_corner = i > faces_at && bytes[i - 1] == ' ';
    const bool is_edge_count = name == "Off" && !is_corner && value == 0;
    // An index that is changed within its range is another shape, and nothing says that it is not meant.
    for (const long other : is_corner ? std::vector<long>{8, 9, 1000000, -1}
                                      : std::vector<long>{value - 1, value + 1, 0, 2 * value, 1000000}) {
      if (other == value || is_edge_count) continue;
      const auto read = this->read(bytes.substr(0, i) + std::to_string(other) + bytes.substr(end), extension);
      EXPECT_NE(read.refused, "") << value << " at byte " << i << " made " << other;
    }
  }
}

std::vector<Case> counted_text() {
  std::vector<Case> out;
  for (auto& c : cases())
    if (c.name == "Off" || c.name == "Ply") out.push_back(std::move(c));
  return out;
}
INSTANTIATE_TEST_SUITE_P(Texts, CountedMesh, testing::ValuesIn(counted_text()),
                         [](const auto& one) { return one.param.name; });

class OnePromise : public Promise {};

TEST_F(OnePromise, CountsOfBinaryFilesAreKept) {
  const auto mesh = lantern();
  const auto stl = as_binary_stl(mesh);
  for (const std::uint32_t count : {0u, 1u, 11u, 13u, 24u, 0xFFFFFFFFu}) {
    std::string changed = stl.substr(0, 80);
    put(changed, count);
    EXPECT_NE(read(changed + stl.substr(84), "stl").refused, "") << count;
  }
  EXPECT_EQ(read(stl.substr(0, stl.size() - 50), "stl").refused,
            "part \"mesh\": mesh file \"m.stl\": its header counts 12 triangles, and it has 11");
  for (const auto order : {std::endian::little, std::endian::big}) {
    const auto ply = as_binary_ply(mesh, order);
    const auto changed = [&](const std::string& from, const std::string& to) {
      auto out = ply;
      return out.replace(out.find(from), from.size(), to);
    };
    for (const char* count : {"0", "1", "7", "9", "16", "1000"})
      EXPECT_NE(read(changed("vertex 8", std::string("vertex ") + count), "ply").refused, "") << count;
    for (const char* count : {"0", "1", "11", "13", "24", "1000"})
      EXPECT_NE(read(changed("face 12", std::string("face ") + count), "ply").refused, "") << count;
    // Every count and corner of the body, out of range.
    for (std::size_t f = 0; f < 12; ++f) {
      const std::size_t at = ply.size() - 13 * (12 - f);
      for (const int size : {0, 2, 4, 255}) {
        auto out = ply;
        out[at] = static_cast<char>(size);
        EXPECT_NE(read(out, "ply").refused, "") << "face " << f << " of " << size;
      }
      for (std::size_t byte = 1; byte < 13; ++byte) {
        auto out = ply;
        out[at + byte] = static_cast<char>(0x7F);
        EXPECT_NE(read(out, "ply").refused, "") << "face " << f << " byte " << byte;
      }
    }
  }
}

/// Every whole number of a glTF document that counts, points or measures.
void visit_counts(json& node, const std::string& key, const std::function<void(json&, const std::string&)>& visit) {
  static const std::set<std::string> counts = {"count",    "byteLength", "byteOffset", "buffer", "bufferView",
                                               "POSITION", "indices",    "mesh",       "scene",  "nodes"};
  if (node.is_object()) {
    for (auto& [name, value] : node.items()) visit_counts(value, name, visit);
  } else if (node.is_array()) {
    for (auto& value : node) visit_counts(value, key, visit);
  } else if (node.is_number_integer() && counts.count(key) > 0) {
    visit(node, key);
  }
}

TEST_F(OnePromise, AnyNumberOfAGltfDocumentThatIsChangedIsRefused) {
  const auto mesh = lantern();
  std::size_t changes = 0;
  for (const bool is_binary : {false, true}) {
    auto document = is_binary ? gltf_document(mesh, nullptr) : inline_gltf(mesh);
    visit_counts(document, "", [&](json& number, const std::string& key) {
      const auto value = number.get<long>();
      for (const long other : {value - 4, value - 3, value - 2, value - 1, value + 1, value + 2, value + 3, value + 4,
                               value + 12, 2 * value, value / 2, 0L, -1L, 1'000'000L}) {
        if (other == value) continue;
        number = other;
        const auto read =
            is_binary ? this->read(as_glb(document, gltf_buffer(mesh)), "glb") : this->read(document.dump(), "gltf");
        EXPECT_NE(read.refused, "") << key << " " << value << " made " << other;
        ++changes;
      }
      number = value;
    });
  }
  EXPECT_GT(changes, 300u);
}

TEST_F(OnePromise, IndicesBeyondTheVerticesAreRefusedInGltf) {
  const auto mesh = lantern();
  const auto buffer = gltf_buffer(mesh);
  const auto document = gltf_document(mesh, nullptr);
  for (std::size_t at = 12 * mesh.vertices.size(); at < buffer.size(); at += 2)
    for (const unsigned index : {8u, 255u, 65535u}) {
      auto changed = buffer;
      changed[at] = static_cast<char>(index & 255), changed[at + 1] = static_cast<char>(index >> 8);
      EXPECT_NE(read(as_glb(document, changed), "glb").refused, "") << index << " at " << at;
    }
}

TEST_F(OnePromise, BuffersInFilesAreFoundAndMeasured) {
  const auto mesh = lantern();
  const auto document = gltf_document(mesh, "the%20buffer.bin").dump();
  const auto buffer = gltf_buffer(mesh);
  for (std::size_t size = 0; size <= buffer.size(); ++size) {
    std::ofstream(folder_ / "the buffer.bin", std::ios::binary) << buffer.substr(0, size);
    const auto read = this->read(document, "gltf");
    if (size < buffer.size())
      EXPECT_EQ(read.refused,
                "part \"mesh\": mesh file \"m.gltf\": a buffer should have 168 bytes, and has " + std::to_string(size));
    else
      EXPECT_EQ(read.triangles, whole_) << read.refused;
  }
}

TEST_F(OnePromise, WhatIsNotReadIsRefusedInsteadOfLeftOut) {
  const auto mesh = lantern();
  auto document = inline_gltf(mesh);
  document["extensionsRequired"] = {"KHR_draco_mesh_compression"};
  EXPECT_NE(read(document.dump(), "gltf").refused.find("requires the extension"), std::string::npos);
  document["extensionsRequired"] = {"KHR_texture_transform"};
  EXPECT_EQ(read(document.dump(), "gltf").refused, "");
  document = inline_gltf(mesh);
  document["nodes"][0]["extensions"]["EXT_mesh_gpu_instancing"] = json::object();
  EXPECT_NE(read(document.dump(), "gltf").refused.find("copies"), std::string::npos);
  document = inline_gltf(mesh);
  document["accessors"][0].erase("bufferView");
  EXPECT_NE(read(document.dump(), "gltf").refused.find("no data"), std::string::npos);
  document = inline_gltf(mesh);
  document["accessors"][0]["min"][0] = -1.5;
  EXPECT_NE(read(document.dump(), "gltf").refused.find("have a min of"), std::string::npos);

  // A face of many corners is cut into triangles.
  std::string off = "OFF\n12 2 0\n", face = "12";
  for (int i = 0; i < 12; ++i) {
    off += std::to_string(std::cos(EIGEN_PI * i / 6)) + " " + std::to_string(std::sin(EIGEN_PI * i / 6)) + " 0\n";
    face += " " + std::to_string(i);
  }
  const auto dodecagon = read(off + face + "\n3 0 1 2\n", "off");
  EXPECT_EQ(dodecagon.refused, "");
  EXPECT_EQ(dodecagon.triangles.size(), 11u);

  EXPECT_NE(read(as_obj(mesh) + "surf 0 1 0 1 1 2 3 4\n", "obj").refused.find("\"surf\" is not read"),
            std::string::npos);
  EXPECT_NE(read(as_obj(mesh) + "f 1 2\n", "obj").refused.find("a face has 2 corners"), std::string::npos);
  for (const char* index : {"9", "0", "-9", "1000000"})
    EXPECT_NE(read(as_obj(mesh) + "f 1 2 " + index + "\n", "obj").refused, "") << index;
  const auto cut = as_obj(mesh);
  const auto remarks = read(cut.substr(0, cut.find("\nf 2 1 8") + 1) + "f 1 2 3\n", "obj").remarks;
  ASSERT_FALSE(remarks.empty());
  EXPECT_EQ(remarks[0],
            "4 of 8 vertices belong to no face: was the file cut off? OBJ does not say how many faces it has");
}

TEST_F(OnePromise, MeshesOutsideOfTheSceneAreSaid) {
  const auto mesh = lantern();
  auto document = inline_gltf(mesh);
  document["meshes"].push_back(document["meshes"][0]);
  document["nodes"].push_back({{"mesh", 1}});
  const auto read = this->read(document.dump(), "gltf");
  EXPECT_EQ(read.triangles, whole_);
  ASSERT_EQ(read.remarks.size(), 1u);
  EXPECT_EQ(read.remarks[0], "1 of its 2 meshes stand outside of its scene and are not read");
}

TEST_F(OnePromise, NothingIsReadThatTheDigestDoesNotCover) {
  const auto mesh = lantern();
  const auto gltf = gltf_document(mesh, "buffer.bin").dump();
  std::ofstream(folder_ / "m.gltf") << gltf;
  std::ofstream(folder_ / "buffer.bin", std::ios::binary) << gltf_buffer(mesh);
  auto structure = support::mesh_structure(folder_ / "m.gltf");
  structure.files = {{"m.gltf", model::digest_of(gltf)}, {"buffer.bin", model::digest_of(gltf_buffer(mesh))}};
  EXPECT_EQ(triangles_of(build_scene(structure, {}).part_mesh(model::PartId(0))), whole_);
  const auto problem = [&] {
    try {
      (void)build_scene(structure, {});
    } catch (const model::InputError& error) {
      return error.diagnostics()[0].problem;
    }
    return std::string();
  };
  for (auto& file : structure.files) {
    const auto kept = file;
    file.sha256 = model::digest_of("other bytes");
    EXPECT_EQ(problem(), "part \"mesh\": mesh file \"m.gltf\": \"" + kept.path + "\" changed while the model was read");
    file = {"other", kept.sha256};
    EXPECT_NE(problem(), "") << kept.path;
    file = kept;
  }
}

}  // namespace
}  // namespace holdfast::geometry
