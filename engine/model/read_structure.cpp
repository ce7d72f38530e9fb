// SPDX-License-Identifier: GPL-3.0-or-later
#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <charconv>
#include <cmath>
#include <numbers>
#include <set>
#include <unordered_map>

#include "document_impl.h"
#include "fault_limit_impl.h"
#include "files_impl.h"
#include "holdfast/model/mesh_references.h"
#include "holdfast/model/rail_table.h"
#include "holdfast/model/structure.h"
#include "read_impl.h"
#include "table_impl.h"

namespace holdfast::model::detail {

namespace {

constexpr double degree = std::numbers::pi / 180;
constexpr Limits half_angle_deg{0, 180, true};

/// Some four of the points are the corners of a solid: the farthest from the first, the farthest from the line through
/// both, and the farthest from the plane of all three stand at least 1 um apart, off the line and off the plane.
bool spans_volume(const std::vector<Vec3>& points) {
  constexpr double least_m = 1e-6;
  const auto farthest = [&](const auto& distance) {
    return *std::max_element(points.begin(), points.end(),
                             [&](const Vec3& a, const Vec3& b) { return distance(a) < distance(b); });
  };
  if (points.size() < 4) return false;
  const Vec3& corner = points.front();
  const Vec3 along = farthest([&](const Vec3& p) { return (p - corner).norm(); }) - corner;
  if (along.norm() < least_m) return false;
  const Vec3 line = along.normalized();
  const Vec3 aside = farthest([&](const Vec3& p) { return (p - corner).cross(line).norm(); }) - corner;
  if (aside.cross(line).norm() < least_m) return false;
  const Vec3 normal = line.cross(aside).normalized();
  const auto height = [&](const Vec3& p) { return std::abs((p - corner).dot(normal)); };
  return height(farthest(height)) >= least_m;
}

/// One copy of a thing that `repeat:` makes.
struct Repetition {
  std::string suffix;
  Pose motion = Pose::Identity();
};

class StructureReader {
 public:
  StructureReader(const std::string& folder, const std::string& shown_folder, Reading& reading,
                  std::vector<Diagnostic>& notes)
      : reading_(reading), notes_(notes), folder_(folder), shown_folder_(shown_folder) {
    structure_.folder = folder;
  }

  Structure read(const YAML::Node& document) {
    const Map map(reading_, document, "",
                  {"holdfast", "name", "states", "parts", "rails", "rail_files", "anchors", "sockets", "clips",
                   "places", "zones", "views", "patches"});
    if (!check_format(map, "structure")) return std::move(structure_);
    structure_.name = map.text("name", "unnamed structure");
    read_switches(map.at("states"));
    for_each_item(reading_, map.at("parts"), "parts",
                  [&](const auto& node, const auto& where) { read_part(node, where); });
    for_each_item(reading_, map.at("rails"), "rails",
                  [&](const auto& node, const auto& where) { read_rail(node, where); });
    for_each_item(reading_, map.at("rail_files"), "rail_files",
                  [&](const auto& node, const auto& where) { read_rail_file(node, where); });
    for_each_item(reading_, map.at("anchors"), "anchors",
                  [&](const auto& node, const auto& where) { read_anchor(node, where); });
    for_each_item(reading_, map.at("sockets"), "sockets",
                  [&](const auto& node, const auto& where) { read_socket(node, where); });
    for_each_item(reading_, map.at("clips"), "clips",
                  [&](const auto& node, const auto& where) { read_clip(node, where); });
    for_each_item(reading_, map.at("places"), "places",
                  [&](const auto& node, const auto& where) { read_place(node, where); });
    for_each_item(reading_, map.at("zones"), "zones",
                  [&](const auto& node, const auto& where) { read_zone(node, where); });
    for_each_item(reading_, map.at("views"), "views",
                  [&](const auto& node, const auto& where) { read_view(node, where); });
    for_each_item(reading_, map.at("patches"), "patches",
                  [&](const auto& node, const auto& where) { read_patch(node, where); });
    return std::move(structure_);
  }

 private:
  // ---- ids ---------------------------------------------------------------------------------------------------------

  bool is_new_id(const std::string& kind, const std::string& id, const Mark& mark, const std::string& where) {
    if (id.empty()) return false;
    const auto [entry, is_new] = first_seen_.try_emplace(kind + " " + id, mark);
    if (is_new) return true;
    const auto& first = entry->second;
    reading_.fault(mark, where, "duplicate-id", fmt::format("{} \"{}\" is already there", kind, id), id,
                   first.file == mark.file
                       ? fmt::format("the first one is on line {}; rename one of them", first.line)
                       : fmt::format("the first one is at {}:{}; rename one of them", first.file, first.line));
    return false;
  }

  std::optional<PartId> find_part(const std::string& id) const {
    const auto found = parts_by_id_.find(id);
    return found == parts_by_id_.end() ? std::nullopt : std::optional(found->second);
  }

  std::optional<PartId> find_part(const YAML::Node& node, const std::string& where) {
    const std::string id = reference(node);
    if (const auto part = find_part(id)) return part;
    dangling("part", id, reading_.mark(node), where, structure_.parts, "parts");
    return std::nullopt;
  }

  template <class Thing>
  std::string suggest_among(const std::string& id, const std::vector<Thing>& things) const {
    return is_listed(reading_) ? suggest(id, ids_of(things)) : std::string("see above");
  }

  template <class Thing>
  void dangling(const std::string& kind, const std::string& id, const Mark& mark, const std::string& where,
                const std::vector<Thing>& things, const std::string& list) {
    if (!is_listed(reading_)) {
      reading_.fault(mark, where, "dangling-reference", fmt::format("{} \"{}\" does not exist", kind, id), id,
                     "see above");
      return;
    }
    const auto known = ids_of(things);
    std::string remedy = suggest(id, known);
    const auto near = nearest_names(id, known, 1);
    if (!near.empty())
      if (const auto seen = first_seen_.find(kind + " " + near.front()); seen != first_seen_.end())
        remedy = fmt::format("did you mean \"{}\" (line {})? See `{}:`", near.front(), seen->second.line, list);
    reading_.fault(mark, where, "dangling-reference", fmt::format("{} \"{}\" does not exist", kind, id), id, remedy);
  }

  // ---- switches and conditions -------------------------------------------------------------------------------------

  void read_switches(const YAML::Node& node) {
    if (!node.IsDefined()) return;
    if (!node.IsMap()) {
      reading_.fault(node, "states", "wrong-type", "\"states\" should be a mapping of switches",
                     "write SWITCH: {positions: [a, b], default: a}");
      return;
    }
    for (const auto& entry : node) {
      Switch s;
      s.id = reference(entry.first);
      s.mark = reading_.mark(entry.first);
      const Subject subject(reading_, fmt::format("switch \"{}\"", s.id));
      if (!is_new_id("switch", s.id, s.mark, "states")) continue;
      const Map map(reading_, entry.second, "states." + s.id, {"positions", "default"});
      std::set<std::string> distinct;
      constexpr std::size_t most_positions = 1000;  // every part that it moves has a pose for each
      if (map.has("positions") && map.at("positions").size() > most_positions) {
        reading_.fault(
            map.at("positions"), map.path("positions"), "too-large",
            fmt::format("it has {} positions, and at most {} are read", map.at("positions").size(), most_positions),
            "keep those that are planned with, or split the switch");
        continue;
      }
      if (map.require("positions", "add positions: [a, b]"))
        for_each_item(reading_, map.at("positions"), map.path("positions"),
                      [&](const YAML::Node& position, const std::string& where) {
                        const std::string word = reference(position);
                        if (!position.IsScalar() || word.empty() || word.find_first_of("= ,") != std::string::npos)
                          reading_.fault(position, where, "bad-id",
                                         fmt::format("\"{}\" is no name of a position", word),
                                         "use a word without spaces, commas and =");
                        else if (!distinct.insert(word).second)
                          reading_.fault(position, where, "duplicate-id",
                                         fmt::format("position \"{}\" is already there", word), "remove one");
                        else
                          s.positions.push_back(word);
                      });
      if (map.is_valid() && map.has("positions") && s.positions.empty())
        reading_.fault(map.at("positions"), map.path("positions"), "empty", "a switch needs at least one position",
                       "add positions: [a, b]");
      if (s.positions.empty()) continue;
      s.default_position = map.text("default", s.positions.front());
      if (std::find(s.positions.begin(), s.positions.end(), s.default_position) == s.positions.end()) {
        reading_.fault(map.at("default"), map.path("default"), "dangling-reference",
                       fmt::format("position \"{}\" does not exist", s.default_position),
                       suggest(reading_, s.default_position, s.positions));
        s.default_position = s.positions.front();
      }
      switches_by_id_.emplace(s.id, structure_.switches.size());
      structure_.switches.push_back(std::move(s));
    }
  }

  const Switch* find_switch(const YAML::Node& node, const std::string& where) {
    const std::string id = reference(node);
    if (const auto found = switches_by_id_.find(id); found != switches_by_id_.end())
      return &structure_.switches[found->second];
    dangling("switch", id, reading_.mark(node), where, structure_.switches, "states");
    return nullptr;
  }

  bool check_position(const Switch& s, const YAML::Node& node, const std::string& where) {
    const std::string position = reference(node);
    if (node.IsScalar() && std::find(s.positions.begin(), s.positions.end(), position) != s.positions.end())
      return true;
    reading_.fault(node, where, "dangling-reference",
                   fmt::format("switch \"{}\" has no position \"{}\"", s.id, position),
                   suggest(reading_, position, s.positions));
    return false;
  }

  When read_when(const Map& map) {
    When when;
    if (!map.has("when")) return when;
    const auto node = map.at("when");
    if (!node.IsMap()) {
      reading_.fault(node, map.path("when"), "wrong-type", "\"when\" should be a mapping",
                     "write when: {SWITCH: POSITION}");
      return when;
    }
    for (const auto& entry : node) {
      const std::string where = map.path("when") + "." + written(entry.first);
      const Switch* s = find_switch(entry.first, where);
      if (!s) continue;
      auto& positions = when.any_of[s->id];
      const auto take = [&](const YAML::Node& position, const std::string& at) {
        if (check_position(*s, position, at)) positions.push_back(position.Scalar());
      };
      if (entry.second.IsSequence())
        for_each_item(reading_, entry.second, where, take);
      else
        take(entry.second, where);
    }
    return when;
  }

  // ---- poses and frames --------------------------------------------------------------------------------------------

  std::optional<Vec3> read_direction(const YAML::Node& node, const std::string& where) {
    const auto vector = read_vec3(reading_, node, where);
    if (!vector) return std::nullopt;
    if (vector->norm() < 1e-9) {
      reading_.fault(node, where, "zero-length", fmt::format("direction \"{}\" has no length", where),
                     "give it at least one number that is not 0");
      return std::nullopt;
    }
    return vector->normalized();
  }

  Eigen::Matrix3d read_turn(const YAML::Node& node, const std::string& where) {
    Eigen::Matrix3d rotation = Eigen::Matrix3d::Identity();
    const auto one = [&](const YAML::Node& turn, const std::string& at) {
      const Map map(reading_, turn, at, {"axis", "deg"});
      const double deg = map.required_number("deg", any_degrees, 0);
      if (!map.require("axis", "add axis: [x, y, z]")) return;
      if (const auto axis = read_direction(map.at("axis"), map.path("axis")))
        rotation = Eigen::AngleAxisd(deg * degree, *axis).toRotationMatrix() * rotation;
    };
    if (node.IsSequence())
      for_each_item(reading_, node, where, one);
    else
      one(node, where);
    return rotation;
  }

  Pose read_pose(const YAML::Node& node, const std::string& where) {
    Pose pose = Pose::Identity();
    const Map map(reading_, node, where, {"position", "turn"});
    pose.translation() = map.vec3("position", Vec3::Zero());
    if (map.has("turn")) pose.linear() = read_turn(map.at("turn"), map.path("turn"));
    return pose;
  }

  /// What takes coordinates as written to the frame they are stored in: the part's, or the structure's where there is
  /// no part.
  Pose frame_of(const Map& map, const std::optional<PartId>& part) {
    const bool is_structure_frame = map.word("frame", {"part", "structure"}, 0) == 1;
    return part && is_structure_frame ? from_structure_frame(*part) : Pose::Identity();
  }
  Pose from_structure_frame(PartId part) { return structure_.pose(part, structure_.default_configuration()).inverse(); }

  std::optional<PartId> optional_part(const Map& map) {
    return map.has("part") ? find_part(map.at("part"), map.path("part")) : std::nullopt;
  }

  // ---- parts -------------------------------------------------------------------------------------------------------

  void check_extent(const Map& map, const Vec3& from, const Vec3& to) {
    if (map.is_valid() && map.has("from") && map.has("to") && (to - from).norm() < 1e-6)
      reading_.fault(map.node(), map.path("to"), "zero-length", "\"from\" and \"to\" are the same point",
                     "move one of them");
  }

  Cylinder read_cylinder(const YAML::Node& node, const std::string& where) {
    const Map map(reading_, node, where, {"from", "to", "radius"});
    Cylinder c;
    c.from = map.required_vec3("from", c.from), c.to = map.required_vec3("to", c.to);
    c.radius = map.required_number("radius", positive_length);
    check_extent(map, c.from, c.to);
    return c;
  }

  Sphere read_sphere(const YAML::Node& node, const std::string& where) {
    const Map map(reading_, node, where, {"center", "radius"});
    return {map.vec3("center", Vec3::Zero()), map.required_number("radius", positive_length)};
  }

  std::optional<Shape> read_shape(const YAML::Node& node, const std::string& where) {
    static const std::vector<std::string> kinds = {"box",  "cylinder", "cone",  "sphere",
                                                   "dish", "panel",    "truss", "mesh"};
    const std::string kind = read_kind(reading_, node, where, kinds);
    if (kind.empty()) return std::nullopt;
    const YAML::Node body = node.begin()->second;
    const std::string at = where + "." + kind;
    if (kind == "box") {
      const Map map(reading_, body, at, {"size", "center"});
      return Box{map.vec3("center", Vec3::Zero()), map.required_vec3("size", Vec3::Ones(), positive_length)};
    }
    if (kind == "cylinder") return read_cylinder(body, at);
    if (kind == "cone") {
      const Map map(reading_, body, at, {"from", "to", "radius_from", "radius_to"});
      Cone c;
      c.from = map.required_vec3("from", c.from), c.to = map.required_vec3("to", c.to);
      c.radius_from = map.required_number("radius_from", length_or_zero),
      c.radius_to = map.required_number("radius_to", length_or_zero, 0);
      check_extent(map, c.from, c.to);
      if (map.is_valid() && c.radius_from <= 0 && c.radius_to <= 0)
        reading_.fault(body, at, "out-of-range", "both radii are 0", "a cone has a radius at one end at least");
      return c;
    }
    if (kind == "sphere") return read_sphere(body, at);
    if (kind == "dish") {
      const Map map(reading_, body, at, {"radius", "depth", "thickness"});
      return Dish{map.required_number("radius", positive_length), map.required_number("depth", positive_length, 0.25),
                  map.number("thickness", positive_length, 0.02)};
    }
    if (kind == "panel") {
      const Map map(reading_, body, at, {"size", "thickness"});
      Panel panel;
      panel.thickness = map.number("thickness", positive_length, panel.thickness);
      if (map.require("size", "add size: [x, y]"))
        panel.size = read_vec2(reading_, map.at("size"), map.path("size"), positive_length).value_or(panel.size);
      return panel;
    }
    if (kind == "truss") {
      const Map map(reading_, body, at, {"from", "to", "up", "width", "bays", "bar_radius"});
      Truss t;
      t.from = map.required_vec3("from", t.from), t.to = map.required_vec3("to", t.to);
      t.width = map.required_number("width", positive_length);
      t.bar_radius = map.number("bar_radius", positive_length, t.bar_radius);
      const double bays = map.required_number("bays", {1, 1000});
      t.bays = static_cast<int>(bays);
      if (bays != t.bays)
        reading_.fault(map.at("bays"), map.path("bays"), "wrong-type", "\"bays\" should be a whole number",
                       "write 6, not 6.5");
      check_extent(map, t.from, t.to);
      t.up = map.vec3("up", Vec3::UnitZ());
      const Vec3 axis = (t.to - t.from).normalized();
      if (map.has("up") && t.up.cross(axis).norm() < 1e-6)
        reading_.fault(map.at("up"), map.path("up"), "zero-length", "\"up\" lies along the truss",
                       "give a direction across it");
      if (t.up.cross(axis).norm() < 1e-6) t.up = Vec3::UnitX();
      return t;
    }
    const Map map(reading_, body, at, {"file", "node", "units", "up"});
    MeshFile mesh;
    if (!map.require("file")) return mesh;
    mesh.file = map.text("file");
    mesh.node = map.text("node");
    static constexpr double unit_m[] = {1, 0.01, 0.001, 0.0254, 0.3048};
    mesh.unit_m = unit_m[map.word("units", {"m", "cm", "mm", "in", "ft"}, 0)];
    static const char* const ups[] = {"x", "y", "z"};
    mesh.up = ups[map.word("up", {"x", "y", "z"}, 2)];
    digest_file(mesh.file, reading_.mark(map.at("file")));
    return mesh;
  }

  /// The mesh file, and the buffers that it names.
  void digest_file(const std::string& file, const Mark& mark) {
    const auto path = locate_below(folder_, file, mark, reading_.subject, reading_.diagnostics);
    if (!path) return;
    const auto same = [&](const ModelFile& f) { return f.path == file; };
    if (std::any_of(structure_.files.begin(), structure_.files.end(), same)) return;
    const auto bytes = read_bytes(*path, shown_folder_ + file, reading_.diagnostics);
    if (!bytes) return;
    structure_.files.push_back({file, sha256_of(*bytes)});
    for (const auto& buffer : buffer_files(file, *bytes)) digest_file(buffer, mark);
  }

  void read_part(const YAML::Node& node, const std::string& where) {
    const Map map(reading_, node, where,
                  {"id", "name", "shape", "at", "poses", "cable_loop_m", "when", "fragile", "no_touch"});
    if (!map.is_valid()) return;
    Part part;
    part.mark = map.mark();
    part.id = read_id(map);
    const Subject subject(reading_, fmt::format("part \"{}\"", part.id));
    part.name = map.text("name", part.id);
    if (map.require("shape", "add shape: {box: {size: [x, y, z]}} or another kind"))
      if (auto shape = read_shape(map.at("shape"), map.path("shape"))) part.shape = std::move(*shape);
    if (map.has("at")) part.at = read_pose(map.at("at"), map.path("at"));
    if (map.has("poses")) read_poses(map, part);
    if (map.has("cable_loop_m")) {
      part.cable_loop_m = map.number("cable_loop_m", {0, 20}, 0);
      if (!map.has("poses"))
        reading_.fault(map.at("cable_loop_m"), map.path("cable_loop_m"), "unknown-key",
                       "\"cable_loop_m\" has no meaning for a part that does not move", "remove it, or add poses");
    }
    part.when = read_when(map);
    part.fragile = map.flag("fragile", false);
    part.no_touch = map.flag("no_touch", false);
    if (is_new_id("part", part.id, part.mark, map.path("id"))) {
      parts_by_id_.emplace(part.id, PartId(structure_.parts.size()));
      structure_.parts.push_back(std::move(part));
    }
  }

  void read_poses(const Map& map, Part& part) {
    const auto node = map.at("poses");
    if (!node.IsMap() || node.size() != 1) {
      reading_.fault(node, map.path("poses"), "wrong-type", "\"poses\" should name one switch",
                     "write poses: {SWITCH: {POSITION: {position: [x, y, z]}, ...}}");
      return;
    }
    if (map.has("at"))
      reading_.fault(map.at("at"), map.path("at"), "unknown-key", "\"at\" has no meaning beside \"poses\"",
                     "keep one of them");
    const auto entry = *node.begin();
    const std::string where = map.path("poses") + "." + written(entry.first);
    const Switch* s = find_switch(entry.first, where);
    if (!s) return;
    const Map poses(reading_, entry.second, where, s->positions);
    if (!poses.is_valid()) return;
    for (const auto& position : s->positions) {
      if (!poses.has(position)) {
        reading_.fault(poses.node(), where, "missing-position", fmt::format("no pose for position \"{}\"", position),
                       fmt::format("add {}: {{position: [x, y, z]}}", position));
        part.poses[position] = Pose::Identity();
      } else {
        part.poses[position] = read_pose(poses.at(position), poses.path(position));
      }
    }
    part.articulated_by = s->id;
  }

  // ---- rails -------------------------------------------------------------------------------------------------------

  std::vector<Repetition> read_repeat(const Map& map) {
    if (!map.has("repeat")) return {Repetition{}};
    const Map repeat(reading_, map.at("repeat"), map.path("repeat"), {"count", "step", "about", "skip"});
    const double given = repeat.required_number("count", {1, 1000});
    const int count = static_cast<int>(given);
    if (given != count)
      reading_.fault(repeat.at("count"), repeat.path("count"), "wrong-type", "\"count\" should be a whole number",
                     "write 6, not 6.5");
    if (repeat.is_valid() && repeat.has("step") == repeat.has("about")) {
      reading_.fault(repeat.node(), map.path("repeat"), "missing-key", "a repetition has either \"step\" or \"about\"",
                     "add step: [x, y, z] or about: {point: [x, y, z], axis: [x, y, z], deg: D}");
      return {Repetition{}};
    }
    Pose motion = Pose::Identity();
    if (repeat.has("step")) {
      motion.translation() = repeat.vec3("step", Vec3::Zero());
    } else if (repeat.has("about")) {
      const Map about(reading_, repeat.at("about"), repeat.path("about"), {"point", "axis", "deg"});
      const Vec3 point = about.vec3("point", Vec3::Zero());
      const double deg = about.required_number("deg", any_degrees, 0);
      if (about.require("axis", "add axis: [x, y, z]"))
        if (const auto axis = read_direction(about.at("axis"), about.path("axis")))
          motion = Eigen::Translation3d(point) * Eigen::AngleAxisd(deg * degree, *axis) * Eigen::Translation3d(-point);
    }
    std::vector<bool> is_skipped(static_cast<std::size_t>(std::max(count, 1)) + 1);
    for_each_item(reading_, repeat.at("skip"), repeat.path("skip"),
                  [&](const YAML::Node& item, const std::string& item_where) {
                    const auto number = read_number(reading_, item, item_where, {1, static_cast<double>(count)});
                    if (number) is_skipped[static_cast<std::size_t>(*number)] = true;
                  });
    std::vector<Repetition> repetitions;
    Pose so_far = Pose::Identity();
    for (int k = 1; k <= count; ++k, so_far = motion * so_far)
      if (!is_skipped[static_cast<std::size_t>(k)]) repetitions.push_back({fmt::format("-{}", k), so_far});
    return repetitions;
  }

  void read_rail(const YAML::Node& node, const std::string& where) {
    const Map map(reading_, node, where,
                  {"id", "part", "points", "outward", "for", "load_limit_n", "when", "frame", "repeat"});
    if (!map.is_valid()) return;
    Rail rail;
    rail.mark = map.mark();
    rail.id = read_id(map);
    const Subject subject(reading_, fmt::format("rail \"{}\"", rail.id));
    std::optional<PartId> part;
    if (map.require("part", "name the part that it stands on")) part = find_part(map.at("part"), map.path("part"));
    read_rail_points(map, rail);
    if (map.has("for")) {
      const auto uses = map.words("for", {"hands", "tether", "cable"});
      rail.use = {uses[0], uses[1], uses[2]};
    }
    if (map.has("load_limit_n")) rail.load_limit_n = map.number("load_limit_n", {0, 1e6, true}, 1000);
    rail.when = read_when(map);
    const auto repetitions = read_repeat(map);
    if (!part || rail.points.empty()) return;
    rail.part = *part;
    const Pose to_part = frame_of(map, part);
    for (const auto& repetition : repetitions) {
      Rail copy = rail;
      copy.id += repetition.suffix;
      move_rail(copy, to_part * repetition.motion);
      if (const double farthest = farthest_m(copy); farthest > absurd_m) {
        reading_.fault(map.at("repeat"), map.path("repeat"), "out-of-range",
                       fmt::format("its copy \"{}\" reaches {:.0f} m from the origin", copy.id, farthest),
                       fmt::format("keep it within {:.0f} m: fewer copies, or a smaller step", absurd_m));
        return;
      }
      if (is_new_id("rail", rail.id.empty() ? "" : copy.id, rail.mark, map.path("id")))
        structure_.rails.push_back(std::move(copy));
    }
  }

  static double farthest_m(const Rail& rail) {
    double farthest = 0;
    for (const auto& point : rail.points) farthest = std::max(farthest, point.cwiseAbs().maxCoeff());
    return farthest;
  }

  static void move_rail(Rail& rail, const Pose& motion) {
    for (auto& point : rail.points) point = motion * point;
    for (auto& direction : rail.outward)
      for (auto& vector : direction) vector = motion.linear() * vector;
  }

  void read_rail_points(const Map& map, Rail& rail) {
    if (!map.require("points", "add points: [[x, y, z], [x, y, z]]")) return;
    std::vector<Vec3> point_outward;
    bool is_good = true;
    std::size_t count = 0;
    for_each_item(
        reading_, map.at("points"), map.path("points"), [&](const YAML::Node& item, const std::string& where) {
          ++count;
          std::optional<Vec3> point;
          if (item.IsMap()) {
            const Map both(reading_, item, where, {"at", "outward"});
            if (both.require("at")) point = read_vec3(reading_, both.at("at"), both.path("at"));
            if (both.has("outward")) {
              const auto direction = read_direction(both.at("outward"), both.path("outward"));
              is_good = is_good && direction;
              point_outward.push_back(direction.value_or(Vec3::UnitZ()));
            }
          } else {
            point = read_vec3(reading_, item, where);
          }
          is_good = is_good && point;
          if (!point) return;
          if (!rail.points.empty() && (rail.points.back() - *point).norm() < 1e-6)
            reading_.fault(item, where, "zero-length", "two neighbouring points are the same", "remove one of them");
          rail.points.push_back(*point);
        });
    if (count == 0 && map.at("points").IsSequence())
      reading_.fault(map.at("points"), map.path("points"), "empty", "a rail needs a point at least",
                     "one point makes a handhold, two or more a rail");
    if (!is_good) rail.points.clear();
    if (!point_outward.empty()) {
      if (point_outward.size() != count)
        reading_.fault(map.at("points"), map.path("points"), "missing-key",
                       "some points have an outward direction and some have not",
                       "give one to each, or one to the rail");
      else
        rail.outward.push_back(std::move(point_outward));
      if (map.has("outward"))
        reading_.fault(map.at("outward"), map.path("outward"), "duplicate-key",
                       "the rail and its points both have an outward direction", "keep one of them");
      return;
    }
    if (!map.has("outward")) return;
    const auto node = map.at("outward");
    if (node.IsScalar()) {
      if (node.Scalar() != "auto")
        reading_.fault(node, map.path("outward"), "unknown-word", fmt::format("\"outward\" is \"{}\"", written(node)),
                       "write auto, [x, y, z], or a list of [x, y, z]");
      return;
    }
    if (node.IsSequence() && node.size() > 0 && node[0].IsSequence()) {
      for_each_item(reading_, node, map.path("outward"), [&](const YAML::Node& item, const std::string& where) {
        if (const auto direction = read_direction(item, where)) rail.outward.push_back({*direction});
      });
    } else if (const auto direction = read_direction(node, map.path("outward"))) {
      rail.outward.push_back({*direction});
    }
  }

  // ---- rail tables -------------------------------------------------------------------------------------------------

  void read_rail_file(const YAML::Node& node, const std::string& where) {
    std::string file;
    bool is_part_frame = false;
    Mark mark = reading_.mark(node);
    if (node.IsMap()) {
      const Map map(reading_, node, where, {"file", "frame"});
      if (!map.require("file")) return;
      file = map.text("file");
      mark = reading_.mark(map.at("file"));
      is_part_frame = map.word("frame", {"structure", "part"}, 0) == 1;
    } else {
      file = reference(node);
    }
    const auto path = locate_below(folder_, file, mark, "", reading_.diagnostics);
    if (!path) return;
    const std::string shown = shown_folder_ + file;
    auto bytes = read_bytes(*path, shown, reading_.diagnostics);
    if (!bytes) return;
    structure_.files.push_back({file, sha256_of(*bytes)});
    if (!check_text(*bytes, shown, reading_.diagnostics)) return;
    Reading table{reading_.diagnostics, shown, ""};
    const auto before = static_cast<std::ptrdiff_t>(reading_.diagnostics.size());
    std::vector<Diagnostic> unread;
    const Table rows = read_table(*bytes, shown, rail_columns(), reading_.diagnostics, unread);
    // The columns of a table that was found in a mesh are its own: no slip of anyone's.
    const auto is_among = [&](const std::vector<std::string>& names, const Diagnostic& note) {
      return std::find(names.begin(), names.end(), plain_name(note.value)) != names.end();
    };
    const bool is_found = std::any_of(unread.begin(), unread.end(), [&](const Diagnostic& note) {
      return is_among({std::string(found_column)}, note);
    });
    for (auto& note : unread)
      if (!is_found || !is_among(found_rail_columns(), note)) notes_.push_back(std::move(note));
    RailColumns columns;
    for (std::size_t c = 0; c < rail_column_names.size(); ++c)
      if (const auto found = rows.columns.find(rail_column_names[c]); found != rows.columns.end())
        columns.place[c] = found->second;
    for (const auto& row : rows.rows) read_table_row(columns, row, table, is_part_frame);
    std::stable_sort(reading_.diagnostics.begin() + before, reading_.diagnostics.end(),
                     [](const Diagnostic& x, const Diagnostic& y) { return x.mark.line < y.mark.line; });
  }

  enum RailColumn { Id, OnPart, X1, Y1, Z1, X2, Y2, Z2, OutwardX, OutwardY, OutwardZ, Hands, Tether, Cable, LoadLimit };
  static constexpr std::array<const char*, 15> rail_column_names = {
      "id",        "part",      "x1",        "y1",    "z1",     "x2",    "y2",          "z2",
      "outward_x", "outward_y", "outward_z", "hands", "tether", "cable", "load_limit_n"};
  /// Where a row has them: looked up once a table, not once a field.
  struct RailColumns {
    std::array<std::optional<std::size_t>, rail_column_names.size()> place;
  };

  void read_table_row(const RailColumns& columns, const TableRow& row, Reading& table, bool is_part_frame) {
    static const std::string none;
    const Mark mark{table.file, row.line, 1};
    const auto field = [&](RailColumn column) -> const std::string& {
      return columns.place[column] ? row.fields[*columns.place[column]] : none;
    };
    const Subject subject(table, fmt::format("rail \"{}\"", field(Id)));
    bool is_good = true;
    const auto number = [&](RailColumn column, Limits limits) {
      const std::string& text = field(column);
      double plain = 0;
      const auto [end, error] = std::from_chars(text.data(), text.data() + text.size(), plain);
      const bool is_in = !limits.is_low_excluded && plain >= limits.low && plain <= limits.high;
      if (error == std::errc{} && end == text.data() + text.size() && is_in) return plain;
      // The same rules and words as in YAML: the field is read as a scalar.
      YAML::Node scalar(text);
      const auto before = table.diagnostics.size();
      const auto value = read_number(table, scalar, rail_column_names[column], limits);
      for (std::size_t d = before; d < table.diagnostics.size(); ++d) table.diagnostics[d].mark = mark;
      is_good = is_good && value;
      return value.value_or(0);
    };
    const auto flag = [&](RailColumn column, bool otherwise) {
      if (!columns.place[column]) return otherwise;
      std::string word = field(column);
      std::transform(word.begin(), word.end(), word.begin(),
                     [](unsigned char c) { return static_cast<char>(std::tolower(c)); });
      for (const char* yes : {"yes", "y", "true", "1"})
        if (word == yes) return true;
      for (const char* no : {"no", "n", "false", "0"})
        if (word == no) return false;
      const char* name = rail_column_names[column];
      table.fault(mark, name, "wrong-type", fmt::format("\"{}\" is \"{}\"", name, field(column)), field(column),
                  "write yes or no");
      is_good = false;
      return false;
    };
    Rail rail;
    rail.id = field(Id);
    rail.mark = mark;
    if (!is_id(rail.id)) {
      table.fault(mark, "id", "bad-id", fmt::format("\"{}\" is no id", rail.id), rail.id,
                  "use letters, digits, - _ and . only, at most 64 of them");
      is_good = false;
    }
    const auto part = find_part(field(OnPart));
    if (!part) {
      table.fault(mark, "part", "dangling-reference", fmt::format("part \"{}\" does not exist", field(OnPart)),
                  field(OnPart), suggest_among(field(OnPart), structure_.parts));
      is_good = false;
    }
    const Vec3 from(number(X1, coordinate), number(Y1, coordinate), number(Z1, coordinate));
    rail.points = {from};
    // A handhold has one point.
    if (!(field(X2).empty() && field(Y2).empty() && field(Z2).empty()))
      rail.points.emplace_back(number(X2, coordinate), number(Y2, coordinate), number(Z2, coordinate));
    if (is_good && rail.points.size() == 2 && (rail.points[1] - from).norm() < 1e-6) {
      table.fault(mark, "x2", "zero-length", "its two points are the same", "", "move one of them");
      is_good = false;
    }
    if (!(field(OutwardX).empty() && field(OutwardY).empty() && field(OutwardZ).empty())) {
      const Vec3 outward(number(OutwardX, coordinate), number(OutwardY, coordinate), number(OutwardZ, coordinate));
      if (is_good && outward.norm() < 1e-9) {
        table.fault(mark, "outward_x", "zero-length", "its outward direction has no length", "",
                    "leave all three blank for auto");
        is_good = false;
      }
      rail.outward = {{outward.normalized()}};
    }
    rail.use = {flag(Hands, true), flag(Tether, false), flag(Cable, false)};
    if (!field(LoadLimit).empty()) rail.load_limit_n = number(LoadLimit, {0, 1e6, true});
    if (!is_good) return;
    rail.part = *part;
    if (!is_part_frame) move_rail(rail, from_structure_frame(*part));
    const auto [entry, is_new] = first_seen_.try_emplace("rail " + rail.id, mark);
    if (!is_new) {
      table.fault(mark, "id", "duplicate-id", fmt::format("rail \"{}\" is already there", rail.id), rail.id,
                  fmt::format("the first one is at {}:{}; rename one of them", entry->second.file, entry->second.line));
      return;
    }
    structure_.rails.push_back(std::move(rail));
  }

  // ---- points on the structure -------------------------------------------------------------------------------------

  /// id, part, position and `when`, as all of them have.
  template <class Thing>
  Pose read_common(const Map& map, Thing& thing) {
    thing.mark = map.mark();
    thing.part = optional_part(map);
    const Pose to_stored = frame_of(map, thing.part);
    thing.at = to_stored * map.required_vec3("at", Vec3::Zero());
    thing.when = read_when(map);
    return to_stored;
  }

  Vec3 turned_direction(const Map& map, const std::string& key, const Pose& to_stored, const Vec3& otherwise) {
    if (!map.has(key)) return to_stored.linear() * otherwise;
    return to_stored.linear() * read_direction(map.at(key), map.path(key)).value_or(otherwise);
  }

  void read_anchor(const YAML::Node& node, const std::string& where) {
    const Map map(reading_, node, where, {"id", "part", "at", "frame", "when"});
    if (!map.is_valid()) return;
    Anchor anchor;
    anchor.id = read_id(map);
    const Subject subject(reading_, fmt::format("anchor \"{}\"", anchor.id));
    read_common(map, anchor);
    if (is_new_id("anchor", anchor.id, anchor.mark, map.path("id"))) structure_.anchors.push_back(anchor);
  }

  /// Places and sockets: both may be named where one goes, and so may rails.
  bool is_new_destination(const std::string& kind, const std::string& other, const std::string& id, const Map& map) {
    if (structure_.find_rail(id)) {
      reading_.fault(map.at("id"), map.path("id"), "duplicate-id",
                     "a rail has the same id, and either may be named on the command line", "rename one of them");
    } else if (!id.empty() && first_seen_.count(other + " " + id) > 0) {
      reading_.fault(map.at("id"), map.path("id"), "duplicate-id",
                     fmt::format("a {} has the same id, and either may be named on the command line", other),
                     "rename one of them");
      return false;
    }
    return is_new_id(kind, id, map.mark(), map.path("id"));
  }

  void read_socket(const YAML::Node& node, const std::string& where) {
    const Map map(reading_, node, where, {"id", "part", "at", "axis", "forward", "roll_step_deg", "frame", "when"});
    if (!map.is_valid()) return;
    Socket socket;
    socket.id = read_id(map);
    const Subject subject(reading_, fmt::format("socket \"{}\"", socket.id));
    const Pose to_stored = read_common(map, socket);
    map.require("axis", "add axis: [x, y, z], pointing outward");
    socket.axis = turned_direction(map, "axis", to_stored, -Vec3::UnitZ());
    std::optional<Vec3> forward;
    if (map.has("forward")) {
      forward = turned_direction(map, "forward", to_stored, Vec3::UnitX());
      if (forward->cross(socket.axis).norm() < 1e-6) {
        reading_.fault(map.at("forward"), map.path("forward"), "zero-length",
                       "\"forward\" lies along the socket's axis",
                       "give the direction that the crew member faces at roll 0, across the axis");
        forward.reset();
      }
    }
    socket.forward = forward_of(socket.axis, forward);
    const double step_deg = map.number("roll_step_deg", {0, 360, true}, 30);
    const double count = std::round(360 / std::max(step_deg, 1e-3));
    if (std::abs(count * step_deg - 360) > 1e-6)
      reading_.fault(map.at("roll_step_deg"), map.path("roll_step_deg"), "out-of-range",
                     fmt::format("a full turn is no whole number of steps of {} deg", step_deg),
                     "write 360 divided by the number of positions: 30 for twelve");
    else
      socket.roll_count = static_cast<int>(count);
    socket.roll_step_rad = step_deg * degree;
    if (is_new_destination("socket", "place", socket.id, map)) structure_.sockets.push_back(socket);
  }

  // ---- views and patches -------------------------------------------------------------------------------------------

  void read_view(const YAML::Node& node, const std::string& where) {
    const Map map(reading_, node, where,
                  {"id", "name", "kind", "part", "at", "direction", "half_angle_deg", "range_m", "frame", "when"});
    if (!map.is_valid()) return;
    View view;
    view.id = read_id(map);
    const Subject subject(reading_, fmt::format("view \"{}\"", view.id));
    view.name = map.text("name", view.id);
    const Pose to_stored = read_common(map, view);
    map.require("kind", "write kind: window or camera");
    const bool is_camera = map.word("kind", {"window", "camera"}, 0) == 1;
    view.kind = is_camera ? ViewKind::Camera : ViewKind::Window;
    map.require("direction", "add direction: [x, y, z], where it looks");
    view.direction = turned_direction(map, "direction", to_stored, -Vec3::UnitZ());
    // Wide windows and ordinary lenses; assumptions, as models/README.md says.
    view.half_angle_rad = map.number("half_angle_deg", half_angle_deg, is_camera ? 30 : 60) * degree;
    if (is_camera) view.range_m = 30;
    if (map.has("range_m")) view.range_m = map.number("range_m", positive_length, 30);
    if (is_new_id("view", view.id, view.mark, map.path("id"))) structure_.views.push_back(std::move(view));
  }

  void read_patch(const YAML::Node& node, const std::string& where) {
    const Map map(reading_, node, where, {"id", "name", "part", "disc", "face", "whole", "frame", "when"});
    if (!map.is_valid()) return;
    Patch patch;
    patch.mark = map.mark();
    patch.id = read_id(map);
    const Subject subject(reading_, fmt::format("patch \"{}\"", patch.id));
    patch.name = map.text("name", patch.id);
    patch.part = optional_part(map);
    const Pose to_stored = frame_of(map, patch.part);
    patch.when = read_when(map);
    bool is_good = true;
    const auto refuse = [&](const std::string& key, const char* code, const std::string& problem,
                            const std::string& remedy) {
      reading_.fault(map.has(key) ? map.at(key) : map.node(), map.path(key), code, problem, remedy);
      is_good = false;
    };
    const int areas = (map.has("disc") ? 1 : 0) + (map.has("face") ? 1 : 0) + (map.has("whole") ? 1 : 0);
    if (areas != 1) {
      refuse("id", "missing-key", "a patch is exactly one of a disc, a face of a part and a whole part",
             "write disc: {center, normal, radius}, face: NAME or whole: true");
    } else if (map.has("disc")) {
      patch.area = read_disc(map, to_stored);
    } else if (!map.has("part")) {
      refuse("part", "missing-key", "\"part\" is missing: whose surface is meant", "name the part");
    } else if (map.has("whole")) {
      patch.area = PatchWhole{};
      if (!map.flag("whole", false)) refuse("whole", "out-of-range", "\"whole\" is not true", "write whole: true");
    } else if (patch.part) {
      const Part& part = structure_.parts[patch.part->index()];
      const std::string face = written(map.at("face"));
      const auto faces = face_names(part.shape);
      if (faces.empty())
        refuse("face", "unknown-word", fmt::format("part \"{}\" has no named faces", part.id),
               "write whole: true, or a disc");
      else if (std::find(faces.begin(), faces.end(), face) == faces.end())
        refuse("face", "unknown-word", fmt::format("part \"{}\" has no face \"{}\"", part.id, face),
               fmt::format("one of: {}", fmt::join(faces, ", ")));
      else if (const auto* cone = std::get_if<Cone>(&part.shape);
               cone && ((face == "from" && cone->radius_from <= 0) || (face == "to" && cone->radius_to <= 0)))
        refuse("face", "out-of-range",
               fmt::format("face \"{}\" of part \"{}\" is a point and has no area", face, part.id),
               "name the side, or the other end");
      patch.area = PatchFace{face};
    }
    if (is_new_id("patch", patch.id, patch.mark, map.path("id")) && is_good)
      structure_.patches.push_back(std::move(patch));
  }

  PatchDisc read_disc(const Map& patch, const Pose& to_stored) {
    const Map map(reading_, patch.at("disc"), patch.path("disc"), {"center", "normal", "radius", "both_sides"});
    PatchDisc disc;
    disc.center = to_stored * map.required_vec3("center", Vec3::Zero());
    map.require("normal", "add normal: [x, y, z], to the side that is to be seen");
    disc.normal = turned_direction(map, "normal", to_stored, Vec3::UnitZ());
    disc.radius = map.required_number("radius", positive_length);
    disc.both_sides = map.flag("both_sides", false);
    return disc;
  }

  void read_clip(const YAML::Node& node, const std::string& where) {
    const Map map(reading_, node, where, {"id", "part", "at", "outward", "frame", "when"});
    if (!map.is_valid()) return;
    Clip clip;
    clip.id = read_id(map);
    const Subject subject(reading_, fmt::format("clip \"{}\"", clip.id));
    const Pose to_stored = read_common(map, clip);
    clip.outward = turned_direction(map, "outward", to_stored, -Vec3::UnitZ());
    if (is_new_id("clip", clip.id, clip.mark, map.path("id"))) structure_.clips.push_back(clip);
  }

  void read_place(const YAML::Node& node, const std::string& where) {
    const Map map(reading_, node, where,
                  {"id", "name", "kind", "part", "at", "within_m", "frame", "when", "hands", "outward"});
    if (!map.is_valid()) return;
    Place place;
    place.id = read_id(map);
    const Subject subject(reading_, fmt::format("place \"{}\"", place.id));
    place.name = map.text("name", place.id);
    const Pose to_stored = read_common(map, place);
    static constexpr PlaceKind kinds[] = {PlaceKind::Hatch, PlaceKind::Stowage, PlaceKind::Worksite,
                                          PlaceKind::Connector, PlaceKind::Other};
    if (map.has("kind") && written(map.at("kind")) == "socket")
      reading_.fault(map.at("kind"), map.path("kind"), "unknown-word", "a socket is no kind of place",
                     "list it under `sockets:`; its id may stand wherever a place's may");
    else
      place.kind = kinds[map.word("kind", {"hatch", "stowage", "worksite", "connector", "other"}, 4)];
    place.within_m = map.number("within_m", {0, 10, true}, place.within_m);
    if (map.has("hands")) {
      const double hands = map.number("hands", {1, 2}, 1);
      place.hands = static_cast<int>(hands);
      if (hands != place.hands)
        reading_.fault(map.at("hands"), map.path("hands"), "wrong-type", "\"hands\" should be 1 or 2",
                       "write a whole number");
    }
    if (map.has("outward")) place.outward = turned_direction(map, "outward", to_stored, -Vec3::UnitZ());
    if (is_new_destination("place", "socket", place.id, map)) structure_.places.push_back(place);
  }

  // ---- zones -------------------------------------------------------------------------------------------------------

  std::optional<ZoneShape> read_zone_shape(const YAML::Node& node, const std::string& where, const Pose& to_stored) {
    static const std::vector<std::string> kinds = {"sphere", "cylinder", "cone", "box", "convex", "near"};
    const std::string kind = read_kind(reading_, node, where, kinds);
    if (kind.empty()) return std::nullopt;
    const YAML::Node body = node.begin()->second;
    const std::string at = where + "." + kind;
    if (kind == "sphere") {
      Sphere sphere = read_sphere(body, at);
      sphere.center = to_stored * sphere.center;
      return sphere;
    }
    if (kind == "cylinder") {
      Cylinder c = read_cylinder(body, at);
      c.from = to_stored * c.from, c.to = to_stored * c.to;
      return c;
    }
    if (kind == "cone") {
      const Map map(reading_, body, at, {"apex", "axis", "half_angle_deg", "length"});
      SolidCone cone;
      cone.apex = to_stored * map.required_vec3("apex", Vec3::Zero());
      map.require("axis", "add axis: [x, y, z], from the apex");
      cone.axis = turned_direction(map, "axis", to_stored, Vec3::UnitZ());
      cone.half_angle_rad = map.required_number("half_angle_deg", {0, 89, true}, 10) * degree;
      cone.length = map.required_number("length", positive_length);
      return cone;
    }
    if (kind == "box") {
      const Map map(reading_, body, at, {"size", "center", "turn"});
      OrientedBox box;
      box.size = map.required_vec3("size", Vec3::Ones(), positive_length);
      box.pose.translation() = map.vec3("center", Vec3::Zero());
      if (map.has("turn")) box.pose.linear() = read_turn(map.at("turn"), map.path("turn"));
      box.pose = to_stored * box.pose;
      return box;
    }
    if (kind == "convex") {
      const Map map(reading_, body, at, {"points"});
      ConvexPolyhedron hull;
      if (!map.require("points", "add points: [[x, y, z], ...], four at least")) return std::nullopt;
      for_each_item(reading_, map.at("points"), map.path("points"),
                    [&](const YAML::Node& item, const std::string& item_where) {
                      if (const auto point = read_vec3(reading_, item, item_where))
                        hull.points.push_back(to_stored * *point);
                    });
      if (!spans_volume(hull.points)) {
        reading_.fault(map.at("points"), map.path("points"), "flat", "these points span no volume",
                       "give four points that do not lie in a plane");
        return std::nullopt;
      }
      return hull;
    }
    const Map map(reading_, body, at, {"part", "distance"});
    NearPart near;
    near.distance_m = map.required_number("distance", {0, absurd_m});
    if (!map.require("part", "name a part")) return std::nullopt;
    const auto part = find_part(map.at("part"), map.path("part"));
    if (!part) return std::nullopt;
    near.part = *part;
    return near;
  }

  void read_zone(const YAML::Node& node, const std::string& where) {
    const Map map(
        reading_, node, where,
        {"id", "shape", "part", "frame", "keeps_out", "effect", "price_s_per_s", "limit_s", "when", "reason"});
    if (!map.is_valid()) return;
    Zone zone;
    zone.mark = map.mark();
    zone.id = read_id(map);
    const Subject subject(reading_, fmt::format("zone \"{}\"", zone.id));
    zone.part = optional_part(map);
    const Pose to_stored = frame_of(map, zone.part);
    bool is_good = false;
    if (map.require("shape", "add shape: {sphere: {center: [x, y, z], radius: r}} or another kind"))
      if (auto shape = read_zone_shape(map.at("shape"), map.path("shape"), to_stored))
        zone.shape = std::move(*shape), is_good = true;
    if (std::holds_alternative<NearPart>(zone.shape) && zone.part) {
      reading_.fault(map.at("part"), map.path("part"), "unknown-key",
                     "\"part\" has no meaning beside a shape that is near a part", "remove it");
      zone.part.reset();
    }
    if (map.require("keeps_out", "add keeps_out: [body, hands, load, tether, cable], those that it concerns")) {
      const auto who = map.words("keeps_out", {"body", "hands", "load", "tether", "cable"});
      zone.applies = {who[0], who[1], who[2], who[3], who[4]};
      if (std::none_of(who.begin(), who.end(), [](bool b) { return b; }) && map.at("keeps_out").IsSequence() &&
          map.at("keeps_out").size() == 0)
        reading_.fault(map.at("keeps_out"), map.path("keeps_out"), "empty",
                       "a zone that keeps nothing out does nothing", "name one of: body, hands, load, tether, cable");
    }
    static constexpr ZoneEffect effects[] = {ZoneEffect::Forbid, ZoneEffect::Caution, ZoneEffect::Limit};
    zone.effect = effects[map.word("effect", {"forbid", "caution", "limit"}, 0)];
    if (map.has("price_s_per_s") && zone.effect != ZoneEffect::Caution)
      reading_.fault(map.at("price_s_per_s"), map.path("price_s_per_s"), "unknown-key",
                     "only a caution zone has a price", "remove it, or set effect: caution");
    if (map.has("limit_s") && zone.effect != ZoneEffect::Limit)
      reading_.fault(map.at("limit_s"), map.path("limit_s"), "unknown-key", "only a limit zone has a limit",
                     "remove it, or set effect: limit");
    zone.price_s_per_s = map.number("price_s_per_s", {0, 1000}, zone.price_s_per_s);
    if (zone.effect == ZoneEffect::Limit) zone.limit_s = map.required_number("limit_s", {0, 1e5}, 0);
    zone.when = read_when(map);
    if (map.require("reason", "say in words why, for those who brief it")) zone.reason = map.text("reason");
    if (is_new_id("zone", zone.id, zone.mark, map.path("id")) && is_good) structure_.zones.push_back(std::move(zone));
  }

  Reading& reading_;
  std::vector<Diagnostic>& notes_;
  std::string folder_, shown_folder_;
  Structure structure_;
  std::map<std::string, Mark> first_seen_;  // "kind id" -> where
  std::unordered_map<std::string, PartId> parts_by_id_;
  std::unordered_map<std::string, std::size_t> switches_by_id_;
};

}  // namespace

Structure read_structure_document(const std::string& text, const std::string& folder, const std::string& shown_folder,
                                  const std::string& file, const std::vector<Setting>& settings,
                                  std::vector<Diagnostic>& diagnostics, std::vector<Diagnostic>& notes) {
  Reading reading{diagnostics, file, ""};
  const auto document = parse_document(text, reading);
  if (!document) return {};
  for (const auto& setting : settings)
    if (!setting.is_of_kit) apply_setting(*document, setting, reading);
  return StructureReader(folder, shown_folder, reading, notes).read(*document);
}

}  // namespace holdfast::model::detail
