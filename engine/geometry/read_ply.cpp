// SPDX-License-Identifier: GPL-3.0-or-later
#include <fmt/format.h>

#include <algorithm>
#include <bit>
#include <cmath>
#include <cstring>
#include <map>
#include <optional>

#include "mesh_text_impl.h"

namespace holdfast::geometry::detail {

namespace {

/// How binary files hold a number.
struct PlyType {
  std::size_t size;
  double (*value)(const unsigned char* raw);  ///< of bytes in this machine's order
};

template <class T>
constexpr PlyType stored_as{sizeof(T), [](const unsigned char* raw) {
                              T value;
                              std::memcpy(&value, raw, sizeof value);
                              return static_cast<double>(value);
                            }};

struct PlyProperty {
  std::string name;
  PlyType type = stored_as<float>;
  std::optional<PlyType> count;  // of a list
};
struct PlyElement {
  std::string name;
  std::size_t count = 0;
  std::vector<PlyProperty> properties;
};

/// Values of a PLY body, one after the other.
class PlyBody {
 public:
  PlyBody(Lines& lines, std::string_view bytes, std::optional<std::endian> order)
      : lines_(lines), bytes_(bytes), order_(order) {}

  void begin(const PlyElement& element, std::size_t index) {
    element_ = &element, index_ = index;
    if (order_) return;
    if (!lines_.next(words_)) throw BrokenMesh{fmt::format("it ends before {}", where())};
    used_ = 0;
  }
  void end() const {
    if (!order_ && used_ != words_.size())
      throw BrokenMesh{
          fmt::format("{}: {} has {} values, and its header says {}", lines_.where(), where(), words_.size(), used_)};
  }
  double value(PlyType type) {
    if (!order_) return number_of(word(), lines_);
    const std::size_t size = type.size;
    if (bytes_.size() < size) throw BrokenMesh{fmt::format("it ends within {}", where())};
    unsigned char raw[8];
    std::memcpy(raw, bytes_.data(), size);
    bytes_.remove_prefix(size);
    if (*order_ != std::endian::native) std::reverse(raw, raw + size);
    return type.value(raw);
  }
  long whole(PlyType type) {
    if (!order_) return whole_of(word(), lines_);
    const double given = value(type);
    if (!(given == std::floor(given) && std::abs(given) <= 1e10))
      throw BrokenMesh{fmt::format("{} has an index of {}", where(), given)};
    return static_cast<long>(given);
  }
  [[nodiscard]] std::string where() const {
    return fmt::format("{} {} of {}", shown(element_->name), index_ + 1, element_->count);
  }
  void require_end() {
    if (order_ && !bytes_.empty())
      throw BrokenMesh{fmt::format("{} bytes follow after what its header counts", bytes_.size())};
    if (order_) return;
    lines_.require_end();
    if (lines_.next(words_)) throw BrokenMesh{fmt::format("{}: there is more than its header counts", lines_.where())};
  }

 private:
  std::string_view word() {
    if (used_ == words_.size())
      throw BrokenMesh{fmt::format("{}: {} has {} values, too few", lines_.where(), where(), used_)};
    return words_[used_++];
  }
  Lines& lines_;
  std::string_view bytes_;
  std::optional<std::endian> order_;
  Words words_;
  std::size_t used_ = 0;
  const PlyElement* element_ = nullptr;
  std::size_t index_ = 0;
};

PlyType ply_type(std::string_view word, const Lines& lines) {
  static const std::map<std::string_view, PlyType> types = {
      {"char", stored_as<std::int8_t>},     {"int8", stored_as<std::int8_t>},     {"uchar", stored_as<std::uint8_t>},
      {"uint8", stored_as<std::uint8_t>},   {"short", stored_as<std::int16_t>},   {"int16", stored_as<std::int16_t>},
      {"ushort", stored_as<std::uint16_t>}, {"uint16", stored_as<std::uint16_t>}, {"int", stored_as<std::int32_t>},
      {"int32", stored_as<std::int32_t>},   {"uint", stored_as<std::uint32_t>},   {"uint32", stored_as<std::uint32_t>},
      {"float", stored_as<float>},          {"float32", stored_as<float>},        {"double", stored_as<double>},
      {"float64", stored_as<double>}};
  const auto found = types.find(word);
  if (found == types.end()) throw BrokenMesh{fmt::format("{}: \"{}\" is no type of PLY", lines.where(), shown(word))};
  return found->second;
}

struct PlyHeader {
  std::optional<std::endian> order;  ///< none: text
  std::vector<PlyElement> elements;
};

/// Elements and properties are looked through for every value: a few are all that a mesh has.
constexpr std::size_t most_elements = 100, most_properties = 1000;

PlyHeader read_header(Lines& lines, std::size_t file_size) {
  PlyHeader out;
  Words words;
  if (!lines.next(words) || words[0] != "ply") throw BrokenMesh{"its first word is not ply"};
  bool has_format = false;
  while (true) {
    if (!lines.next(words)) throw BrokenMesh{"its header does not end"};
    const auto expect = [&](bool condition) {
      if (!condition) throw BrokenMesh{fmt::format("{}: its header cannot be read", lines.where())};
    };
    if (words[0] == "end_header") {
      if (!has_format) throw BrokenMesh{"its header names no format"};
      return out;
    }
    if (words[0] == "format") {
      expect(words.size() >= 2 && !has_format);
      has_format = true;
      if (words[1] == "binary_little_endian")
        out.order = std::endian::little;
      else if (words[1] == "binary_big_endian")
        out.order = std::endian::big;
      else
        expect(words[1] == "ascii");
    } else if (words[0] == "element") {
      expect(words.size() == 3 && out.elements.size() < most_elements);
      for (const auto& element : out.elements)
        if (element.name == words[1])
          throw BrokenMesh{fmt::format("{}: its header has two elements \"{}\"", lines.where(), shown(element.name))};
      out.elements.push_back({std::string(words[1]), count_of(words[2], lines, file_size), {}});
    } else if (words[0] == "property") {
      expect(!out.elements.empty() && words.size() >= 3 && out.elements.back().properties.size() < most_properties);
      PlyProperty property{.name = std::string(words.back())};
      for (const auto& other : out.elements.back().properties)
        if (other.name == property.name)
          throw BrokenMesh{
              fmt::format("{}: an element has two properties \"{}\"", lines.where(), shown(property.name))};
      if (words[1] == "list") {
        expect(words.size() == 5);
        property.count = ply_type(words[2], lines), property.type = ply_type(words[3], lines);
      } else {
        expect(words.size() == 3);
        property.type = ply_type(words[1], lines);
      }
      out.elements.back().properties.push_back(std::move(property));
    } else {
      expect(words[0] == "comment" || words[0] == "obj_info");
    }
  }
}

bool is_corner_list(const PlyProperty& property) {
  return property.count && (property.name == "vertex_indices" || property.name == "vertex_index");
}

}  // namespace

RawMesh read_ply(std::string_view bytes, const std::string& node) {
  if (!node.empty()) refuse_node(node, {});
  Lines lines(bytes);
  const PlyHeader header = read_header(lines, bytes.size());
  RawMesh out;
  std::vector<long> corners;
  std::vector<std::uint32_t> scratch;
  PolygonCutter cutter(out.mesh);
  PlyBody body(lines, bytes.substr(header.order ? lines.binary_begin() : bytes.size()), header.order);
  for (const auto& element : header.elements) {
    const bool is_vertex = element.name == "vertex", is_face = element.name == "face";
    if (element.name == "tristrips" && element.count > 0)
      throw BrokenMesh{"its faces are strips of triangles", "export polygons"};
    const auto has = [&](std::string_view name) {
      return std::any_of(element.properties.begin(), element.properties.end(),
                         [&](const PlyProperty& p) { return p.name == name && !p.count; });
    };
    if (is_vertex && !(has("x") && has("y") && has("z"))) throw BrokenMesh{"its vertices have no x, y and z"};
    if (is_face && element.count > 0 &&
        std::count_if(element.properties.begin(), element.properties.end(), is_corner_list) != 1)
      throw BrokenMesh{"its faces have no vertex_indices"};
    if (element.properties.empty() && element.count > 0)
      throw BrokenMesh{fmt::format("its element \"{}\" has no properties", shown(element.name))};
    if (is_vertex) check_mesh_size(element.count, 0);
    for (std::size_t i = 0; i < element.count; ++i) {
      body.begin(element, i);
      Vec3 p = Vec3::Zero();
      for (const auto& property : element.properties) {
        if (!property.count) {
          const double value = body.value(property.type);
          if (property.name.size() == 1 && property.name[0] >= 'x' && property.name[0] <= 'z')
            p[property.name[0] - 'x'] = value;
          continue;
        }
        const long size = body.whole(*property.count);
        if (size < 0) throw BrokenMesh{fmt::format("{} has a list of {} values", body.where(), size)};
        const bool is_corners = is_face && is_corner_list(property);
        if (is_corners && size > static_cast<long>(most_face_corners))
          throw BrokenMesh{
              fmt::format("{} has {} corners, and at most {} are read", body.where(), size, most_face_corners),
              "export it as triangles"};
        corners.clear();
        for (long k = 0; k < size; ++k)
          if (is_corners)
            corners.push_back(body.whole(property.type));
          else
            (void)body.value(property.type);
        if (is_corners) add_face(cutter, out.mesh.vertices.size(), corners, scratch, [&] { return body.where(); });
      }
      body.end();
      if (is_vertex) out.mesh.vertices.push_back(p);
    }
  }
  body.require_end();
  return out;
}

}  // namespace holdfast::geometry::detail
