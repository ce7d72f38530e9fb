// SPDX-License-Identifier: GPL-3.0-or-later
#include <tiny_gltf.h>

#include <fmt/format.h>

#include <Eigen/Geometry>
#include <cmath>
#include <cstring>
#include <sstream>

#include "found_style_impl.h"
#include "holdfast/picture/write.h"
#include "holdfast/report/words.h"
#include "style_impl.h"
#include "surface_impl.h"

namespace holdfast::picture {

namespace {

constexpr double rail_radius_m = 0.016;  // rails have no thickness; drawn as handrails commonly are, about 3 cm thick
constexpr double way_radius_m = 0.03;
constexpr double place_radius_m = 0.08;

using Extras = std::map<std::string, tinygltf::Value>;

std::array<double, 4> colour_of_hex(const char* hex, double alpha = 1) {
  const auto value = std::stoul(hex + 1, nullptr, 16);
  std::array<double, 4> colour = {0, 0, 0, alpha};
  for (std::size_t k = 0; k < 3; ++k) {
    const double share = static_cast<double>((value >> (16 - 8 * k)) & 255) / 255;
    colour[k] =
        share <= 0.04045 ? share / 12.92 : std::pow((share + 0.055) / 1.055, 2.4);  // sRGB to linear, IEC 61966-2-1
  }
  return colour;
}

/// A polyline as a tube of six sides, closed at both ends; a point as a ball of eight faces.
geometry::TriangleMesh tube(const std::vector<Vec3>& line, double radius) {
  geometry::TriangleMesh mesh;
  std::vector<Vec3> points;
  for (const auto& p : line)
    if (points.empty() || (p - points.back()).norm() > 1e-6) points.push_back(p);
  if (points.empty()) return mesh;
  if (points.size() == 1) {
    for (const Vec3& axis : {Vec3(Vec3::UnitX()), Vec3(Vec3::UnitY()), Vec3(Vec3::UnitZ())})
      for (const double sign : {1.0, -1.0}) mesh.vertices.emplace_back(points[0] + sign * radius * axis);
    for (const std::uint32_t x : {0U, 1U})
      for (const std::uint32_t y : {2U, 3U})
        for (const std::uint32_t z : {4U, 5U})
          mesh.triangles.push_back((x + y + z) % 2 == 0 ? std::array{x, y, z} : std::array{x, z, y});
    return mesh;
  }
  constexpr std::uint32_t sides = 6;
  Vec3 side = (points[1] - points[0]).unitOrthogonal();
  for (std::size_t i = 0; i < points.size(); ++i) {
    const Vec3 in = points[i] - points[i > 0 ? i - 1 : 0], out = points[std::min(i + 1, points.size() - 1)] - points[i];
    Vec3 along = in.normalized() + out.normalized();
    along = along.norm() > 1e-6 ? Vec3(along.normalized()) : Vec3((in.norm() > 0 ? in : out).normalized());
    side -= side.dot(along) * along;
    side = side.norm() > 1e-6 ? Vec3(side.normalized()) : along.unitOrthogonal();
    const Vec3 other = along.cross(side);
    for (std::uint32_t s = 0; s < sides; ++s) {
      const double angle = 2 * EIGEN_PI * s / sides;
      mesh.vertices.emplace_back(points[i] + radius * (std::cos(angle) * side + std::sin(angle) * other));
    }
  }
  const auto at = [](std::size_t ring, std::uint32_t s) {
    return static_cast<std::uint32_t>(ring) * sides + s % sides;
  };
  for (std::size_t i = 0; i + 1 < points.size(); ++i)
    for (std::uint32_t s = 0; s < sides; ++s) {
      mesh.triangles.push_back({at(i, s), at(i, s + 1), at(i + 1, s)});
      mesh.triangles.push_back({at(i, s + 1), at(i + 1, s + 1), at(i + 1, s)});
    }
  for (std::uint32_t s = 1; s + 1 < sides; ++s) {
    mesh.triangles.push_back({at(0, 0), at(0, s + 1), at(0, s)});
    mesh.triangles.push_back({at(points.size() - 1, 0), at(points.size() - 1, s), at(points.size() - 1, s + 1)});
  }
  return mesh;
}

class GlbWriter {
 public:
  explicit GlbWriter(const Picture& picture) : p_(picture) {}

  std::string write() {
    model_.asset.version = "2.0";
    model_.asset.generator = "holdfast " + p_.engine_version;
    model_.buffers.emplace_back();
    root_ = add_node(p_.title, -1);
    // Columns: where x forward, y starboard and z nadir go in glTF's frame.
    Eigen::Matrix3d turn;
    turn << 0, -1, 0, 0, 0, -1, 1, 0, 0;
    const Eigen::Quaterniond q(turn);
    model_.nodes[root_].rotation = {q.x(), q.y(), q.z(), q.w()};
    model_.nodes[root_].extras = tinygltf::Value(Extras{
        {"frame",
         tinygltf::Value(std::string("below this node +x is forward, +y starboard, +z nadir, in metres; this node "
                                     "turns them to glTF's frame: zenith up, forward +z"))},
        {"configuration", tinygltf::Value(p_.configuration)},
        {"model_digest", tinygltf::Value(p_.digest)},
        {"caution", tinygltf::Value(p_.caution)}});
    write_parts();
    write_rails();
    write_found();
    write_zones();
    write_places();
    write_ways();
    write_lines();
    tinygltf::Scene scene;
    scene.name = p_.title;
    scene.nodes = {static_cast<int>(root_)};
    model_.scenes.push_back(scene);
    model_.defaultScene = 0;
    if (model_.buffers.front().data.empty()) model_.buffers.clear();
    std::ostringstream out;
    model::ensure(tinygltf::TinyGLTF().WriteGltfSceneToStream(&model_, out, false, true), "glTF that can be written");
    return std::move(out).str();
  }

 private:
  std::size_t add_node(const std::string& name, int parent) {
    model_.nodes.emplace_back();
    model_.nodes.back().name = name;
    const auto node = model_.nodes.size() - 1;
    if (parent >= 0) model_.nodes[static_cast<std::size_t>(parent)].children.push_back(static_cast<int>(node));
    return node;
  }
  int group(const std::string& name) { return static_cast<int>(add_node(name, static_cast<int>(root_))); }

  int material(const std::string& name, const std::array<double, 4>& colour, double metallic = 0) {
    tinygltf::Material material;
    material.name = name;
    material.pbrMetallicRoughness.baseColorFactor = {colour.begin(), colour.end()};
    material.pbrMetallicRoughness.metallicFactor = metallic;
    material.pbrMetallicRoughness.roughnessFactor = 0.8;
    material.doubleSided = true;  // surfaces that are open are seen from behind too
    if (colour[3] < 1) material.alphaMode = "BLEND";
    model_.materials.push_back(std::move(material));
    return static_cast<int>(model_.materials.size() - 1);
  }

  template <class Number>
  int add_view(const std::vector<Number>& numbers, int target) {
    auto& bytes = model_.buffers.front().data;
    bytes.resize((bytes.size() + 3) / 4 * 4);
    tinygltf::BufferView view;
    view.buffer = 0;
    view.byteOffset = bytes.size();
    view.byteLength = numbers.size() * sizeof(Number);
    view.target = target;
    bytes.resize(view.byteOffset + view.byteLength);
    std::memcpy(bytes.data() + view.byteOffset, numbers.data(), view.byteLength);
    model_.bufferViews.push_back(view);
    return static_cast<int>(model_.bufferViews.size() - 1);
  }

  int add_vectors(const std::vector<Vec3>& vectors, bool with_bounds) {
    std::vector<float> numbers;
    numbers.reserve(vectors.size() * 3);
    for (const auto& v : vectors)
      for (int k = 0; k < 3; ++k) numbers.push_back(static_cast<float>(v[k]));
    tinygltf::Accessor accessor;
    accessor.bufferView = add_view(numbers, TINYGLTF_TARGET_ARRAY_BUFFER);
    accessor.componentType = TINYGLTF_COMPONENT_TYPE_FLOAT;
    accessor.type = TINYGLTF_TYPE_VEC3;
    accessor.count = vectors.size();
    if (with_bounds) {
      accessor.minValues = accessor.maxValues = {numbers[0], numbers[1], numbers[2]};
      for (std::size_t i = 0; i < numbers.size(); ++i) {
        accessor.minValues[i % 3] = std::min<double>(accessor.minValues[i % 3], numbers[i]);
        accessor.maxValues[i % 3] = std::max<double>(accessor.maxValues[i % 3], numbers[i]);
      }
    }
    model_.accessors.push_back(std::move(accessor));
    return static_cast<int>(model_.accessors.size() - 1);
  }

  /// -1 where nothing of it has area.
  int add_mesh(const std::string& name, const geometry::TriangleMesh& surface, int material) {
    const Shaded shaded = shade(surface);
    if (shaded.triangles.empty()) return -1;
    tinygltf::Primitive primitive;
    primitive.mode = TINYGLTF_MODE_TRIANGLES;
    primitive.material = material;
    primitive.attributes["POSITION"] = add_vectors(shaded.vertices, true);
    std::vector<Vec3> normals;
    for (const auto& n : shaded.normals) normals.emplace_back(n.cast<float>().normalized().cast<double>());
    primitive.attributes["NORMAL"] = add_vectors(normals, false);
    std::vector<std::uint32_t> indices;
    indices.reserve(shaded.triangles.size() * 3);
    for (const auto& t : shaded.triangles) indices.insert(indices.end(), t.begin(), t.end());
    tinygltf::Accessor accessor;
    accessor.bufferView = add_view(indices, TINYGLTF_TARGET_ELEMENT_ARRAY_BUFFER);
    accessor.componentType = TINYGLTF_COMPONENT_TYPE_UNSIGNED_INT;
    accessor.type = TINYGLTF_TYPE_SCALAR;
    accessor.count = indices.size();
    model_.accessors.push_back(std::move(accessor));
    primitive.indices = static_cast<int>(model_.accessors.size() - 1);
    tinygltf::Mesh mesh;
    mesh.name = name;
    mesh.primitives.push_back(std::move(primitive));
    model_.meshes.push_back(std::move(mesh));
    return static_cast<int>(model_.meshes.size() - 1);
  }

  std::size_t add_shape(int parent, const std::string& name, const geometry::TriangleMesh& surface, int material,
                        Extras extras = {}) {
    const int mesh = add_mesh(name, surface, material);
    const auto node = add_node(name, parent);
    model_.nodes[node].mesh = mesh;
    if (!extras.empty()) model_.nodes[node].extras = tinygltf::Value(std::move(extras));
    return node;
  }

  void write_parts() {
    if (p_.parts.empty()) return;
    const int parts = group("parts"), grey = material("structure", {0.62, 0.65, 0.68, 1}, 0.1);
    for (const auto& part : p_.parts)
      add_shape(parts, part.id, part.mesh, grey,
                {{"name", tinygltf::Value(part.name)},
                 {"fragile", tinygltf::Value(part.fragile)},
                 {"no_touch", tinygltf::Value(part.no_touch)}});
  }
  void write_rails() {
    if (p_.rails.empty()) return;
    const int rails = group("rails"), dark = material("rails", {0.03, 0.05, 0.08, 1}, 0.2);
    for (const auto& rail : p_.rails)
      add_shape(rails, rail.id, tube(rail.points, rail_radius_m), dark, {{"part", tinygltf::Value(rail.part)}});
  }
  void write_found() {
    if (p_.found.empty()) return;
    const int found = group("rails found");
    for (const auto& style : found_styles) {
      int of_kind = -1;
      for (const auto& piece : p_.found) {
        if (piece.kind != style.kind) continue;
        if (of_kind < 0) of_kind = material(style.words, colour_of_hex(style.colour));
        add_shape(found, piece.number > 0 ? fmt::format("{} {}", piece.number, piece.id) : piece.id,
                  tube(piece.points, way_radius_m), of_kind,
                  {{"sureness", tinygltf::Value(std::string(style.name))}, {"words", tinygltf::Value(piece.words)}});
      }
    }
  }
  void write_zones() {
    if (p_.zones.empty()) return;
    const int zones = group("zones");
    const int forbid = material("zones that forbid", {0.45, 0.02, 0.01, 0.25});
    const int caution = material("caution zones", {0.5, 0.25, 0, 0.25});
    const int limit = material("zones of limited stay", {0.05, 0.1, 0.22, 0.25});
    for (const auto& zone : p_.zones)
      add_shape(zones, zone.id, zone.mesh,
                zone.effect == model::ZoneEffect::Forbid    ? forbid
                : zone.effect == model::ZoneEffect::Caution ? caution
                                                            : limit,
                {{"reason", tinygltf::Value(zone.reason)},
                 {"effect", tinygltf::Value(std::string(report::effect_name(zone.effect)))},
                 {"keeps_out", tinygltf::Value(zone.keeps_out)}});
  }
  void write_places() {
    if (p_.places.empty()) return;
    const int places = group("places");
    const int mesh = add_mesh("place", tube({Vec3::Zero()}, place_radius_m), material("places", {0.01, 0.06, 0.15, 1}));
    for (const auto& place : p_.places) {
      const auto node = add_node(place.id, places);
      model_.nodes[node].mesh = mesh;
      model_.nodes[node].translation = {place.at.x(), place.at.y(), place.at.z()};
      model_.nodes[node].extras =
          tinygltf::Value(Extras{{"name", tinygltf::Value(place.name)}, {"kind", tinygltf::Value(place.kind)}});
    }
  }
  void write_ways() {
    int ways = -1;
    for (std::size_t i = 0; i < p_.ways.size(); ++i) {
      const Way& way = p_.ways[i];
      if (!way.is_way()) continue;
      if (ways < 0) ways = group("ways");
      std::vector<Vec3> hands;
      for (const auto& pose : way.poses) hands.push_back(pose.hand);
      add_shape(ways, letter(i) + " " + way.name, tube(hands, way_radius_m),
                material("way " + letter(i), colour_of_hex(colour_of(i))),
                {{"time", tinygltf::Value(way.time)},
                 {"time_s", tinygltf::Value(way.time_s)},
                 {"distance_m", tinygltf::Value(way.distance_m)},
                 {"hand_moves", tinygltf::Value(static_cast<int>(way.moves))},
                 {"clearance", tinygltf::Value(way.clearance)}});
    }
  }
  void write_lines() {
    if (p_.lines.empty()) return;
    const int lines = group("cables and tethers"), violet = material("cables and tethers", {0.1, 0.02, 0.24, 1});
    for (const auto& line : p_.lines) {
      const auto node = static_cast<int>(add_shape(lines, line.name, tube(line.points, rail_radius_m), violet,
                                                   {{"words", tinygltf::Value(line.words)}}));
      for (const auto& tie : line.ties) add_shape(node, tie.text, tube({tie.at}, place_radius_m), violet);
      for (const auto& bend : line.bends) add_shape(node, bend.text, tube({bend.at}, place_radius_m / 2), violet);
    }
  }

  const Picture& p_;
  tinygltf::Model model_;
  std::size_t root_ = 0;
};

}  // namespace

std::string glb(const Picture& picture) { return GlbWriter(picture).write(); }

}  // namespace holdfast::picture
