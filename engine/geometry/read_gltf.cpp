// SPDX-License-Identifier: GPL-3.0-or-later
#include <fmt/format.h>

#include <Eigen/Geometry>
#include <algorithm>
#include <array>
#include <cmath>
#include <map>
#include <memory>
#include <nlohmann/json.hpp>
#include <optional>
#include <set>

#include "holdfast/model/mesh_references.h"
#include "mesh_reader_impl.h"
#include "mesh_text_impl.h"

namespace holdfast::geometry::detail {

namespace {

using Eigen::Matrix4d;
using nlohmann::json;

[[noreturn]] void refuse(std::string why, std::string remedy = "export it again as glTF 2.0, and validate it") {
  throw BrokenMesh{std::move(why), std::move(remedy)};
}

/// Nodes, and matrices kept for them.
constexpr std::size_t most_nodes = 100'000;

/// The binary chunk of a GLB file, after its chunks have been followed (glTF 2.0 specification, 4.4). Nothing for a
/// .gltf file or where there is none.
std::optional<std::string_view> follow_chunks(std::string_view bytes) {
  constexpr std::size_t header = 12, chunk_header = 8;
  if (!bytes.starts_with("glTF")) return std::nullopt;
  if (bytes.size() < header + chunk_header) refuse("it is no GLB file");
  if (little_endian(bytes, 4, 4) != 2) refuse("it is not of glTF version 2");
  if (const std::size_t length = little_endian(bytes, 8, 4); length != bytes.size())
    refuse(fmt::format("its header says that it has {} bytes, and it has {}", length, bytes.size()));
  std::optional<std::string_view> binary;
  bool is_first = true;
  for (std::size_t at = header; at < bytes.size();) {
    if (bytes.size() - at < chunk_header) refuse("a chunk's header reaches beyond the file");
    const std::size_t length = little_endian(bytes, at, 4), kind = little_endian(bytes, at + 4, 4);
    if (length > bytes.size() - at - chunk_header)
      refuse(is_first ? "its JSON chunk reaches beyond the file" : "a chunk reaches beyond the file");
    constexpr std::size_t json_kind = 0x4E4F534A, binary_kind = 0x004E4942;
    if (is_first != (kind == json_kind)) refuse("its chunks are not one of JSON, then the rest");
    if (kind == binary_kind && !binary) binary = bytes.substr(at + chunk_header, length);
    is_first = false;
    at += chunk_header + length;
  }
  return binary;
}

/// Bytes of a `data:` URI in base 64 (RFC 2397, RFC 4648).
std::string decoded(std::string_view uri) {
  constexpr std::string_view mark = ";base64,";
  const std::size_t comma = uri.find(mark);
  if (comma == std::string_view::npos) refuse("a buffer's data is not in base 64");
  std::string_view text = uri.substr(comma + mark.size());
  while (text.ends_with('=')) text.remove_suffix(1);
  constexpr std::string_view digits = "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";
  std::array<int, 256> value_of{};
  value_of.fill(-1);
  for (std::size_t i = 0; i < digits.size(); ++i) value_of[static_cast<unsigned char>(digits[i])] = static_cast<int>(i);
  std::string out;
  out.reserve(text.size() / 4 * 3 + 3);
  std::uint32_t bits = 0;
  int held = 0;
  for (const char c : text) {
    const int digit = value_of[static_cast<unsigned char>(c)];
    if (digit < 0) refuse("a buffer's data is not in base 64");
    bits = (bits << 6) | static_cast<std::uint32_t>(digit), held += 6;
    if (held >= 8) held -= 8, out.push_back(static_cast<char>((bits >> held) & 0xFF));
  }
  return out;
}

struct Range {
  std::size_t begin = 0, end = 0;
  auto operator<=>(const Range&) const = default;
};

struct View {
  std::size_t buffer = 0;
  Range range;
  std::size_t stride = 0;  ///< 0: packed
};

struct Accessor {
  std::optional<std::size_t> view;
  Range in_view;
  std::size_t count = 0, element = 0, stride = 0;
  int component = 0;
  std::string type;
  bool is_sparse = false;
  bool is_normalized = false;
};

/// Faces of one mesh, before a node places them.
struct Primitive {
  TriangleMesh mesh;
  const json* attributes = nullptr;
};

class Gltf {
 public:
  Gltf(json document, std::optional<std::string_view> binary, const BufferSource& source)
      : gltf_(std::move(document)), binary_(binary), source_(source) {}

  RawMesh read(const std::string& node) {
    check_version();
    check_extensions();
    check_buffers();
    check_views();
    check_accessors();
    check_nodes();
    read_meshes();
    check_coverage();
    place(node);
    return std::move(out_);
  }

 private:
  const json& list(const char* key) const {
    static const json none = json::array();
    const auto found = gltf_.find(key);
    return found != gltf_.end() && found->is_array() ? *found : none;
  }
  static double number(const json& object, const char* key, double otherwise) {
    const auto found = object.find(key);
    return found != object.end() && found->is_number() ? found->get<double>() : otherwise;
  }
  /// A whole number that double precision holds, or what stands for one that is not there.
  static double whole(const json& object, const char* key, double otherwise) {
    const double value = number(object, key, otherwise);
    if (value != std::floor(value) || std::abs(value) > 1e15) refuse(fmt::format("its {} is no whole number", key));
    return value;
  }
  /// An index below `size`, or nothing where it is none.
  static std::optional<std::size_t> index_of(const json& value, std::size_t size) {
    if (!value.is_number_integer() || value.get<double>() < 0 || value.get<double>() >= static_cast<double>(size))
      return std::nullopt;
    return value.get<std::size_t>();
  }

  void check_version() const {
    const auto asset = gltf_.find("asset");
    const auto version = asset != gltf_.end() && asset->is_object() ? asset->find("version") : gltf_.end();
    if (asset == gltf_.end() || !asset->is_object() || version == asset->end() || !version->is_string())
      refuse("it does not say which version of glTF it is");
    const auto& word = version->get_ref<const std::string&>();
    const auto least = asset->find("minVersion");
    if (!word.starts_with("2.") ||
        (least != asset->end() && (!least->is_string() || least->get_ref<const std::string&>() != "2.0")))
      refuse(fmt::format("it is of glTF version {}, and version 2.0 is read", shown(word)), "export it as glTF 2.0");
  }

  /// What an extension that must be understood does to shapes is not known here; those that concern looks alone are.
  void check_extensions() const {
    for (const auto& name : list("extensionsRequired")) {
      const std::string word = name.is_string() ? name.get<std::string>() : std::string("?");
      bool is_of_looks = false;
      for (const char* looks : {"KHR_materials_", "KHR_texture_", "EXT_texture_", "KHR_lights_", "KHR_technique"})
        is_of_looks = is_of_looks || word.starts_with(looks);
      if (!is_of_looks)
        refuse(fmt::format("it requires the extension \"{}\", which is not read", word), "export it without");
    }
  }

  void check_buffers() {
    const auto& buffers = list("buffers");
    for (std::size_t b = 0; b < buffers.size(); ++b) {
      const auto& buffer = buffers[b];
      if (!buffer.is_object() || whole(buffer, "byteLength", 0) < 1) refuse("a buffer has no length");
      lengths_.push_back(whole(buffer, "byteLength", 0));
    }
  }

  /// Loaded when something needs them: a buffer of images alone may be missing.
  std::string_view bytes_of(std::size_t buffer) {
    const auto known = loaded_.find(buffer);
    if (known != loaded_.end()) return known->second;
    const auto& entry = list("buffers")[buffer];
    const auto uri = entry.find("uri");
    std::string_view bytes;
    if (uri == entry.end()) {
      if (buffer != 0 || !binary_) refuse("a buffer has no data");
      bytes = *binary_;
    } else {
      if (!uri->is_string()) refuse("a buffer's uri is no text");
      const auto text = uri->get<std::string>();
      if (text.starts_with("data:"))
        bytes = decoded_.emplace_back(std::make_unique<std::string>(decoded(text))).operator*();
      else
        bytes = source_(text);
    }
    if (static_cast<double>(bytes.size()) < lengths_[buffer])
      refuse(fmt::format("a buffer should have {} bytes, and has {}", lengths_[buffer], bytes.size()));
    return loaded_[buffer] = bytes.substr(0, static_cast<std::size_t>(lengths_[buffer]));
  }

  void check_views() {
    for (const auto& view : list("bufferViews")) {
      if (!view.is_object()) refuse("a buffer view is no object");
      const double buffer = whole(view, "buffer", -1);
      if (buffer < 0 || buffer >= static_cast<double>(lengths_.size()))
        refuse("a buffer view names a buffer that is not there");
      const double begin = whole(view, "byteOffset", 0), end = begin + whole(view, "byteLength", 0);
      if (begin < 0 || end < begin || end > lengths_[static_cast<std::size_t>(buffer)])
        refuse("a buffer view reaches beyond its buffer");
      const double stride = whole(view, "byteStride", 0);
      if (stride < 0 || stride > 252) refuse("a buffer view has a stride beyond 252 bytes");  // 3.6.2.4
      views_.push_back({static_cast<std::size_t>(buffer),
                        {static_cast<std::size_t>(begin), static_cast<std::size_t>(end)},
                        static_cast<std::size_t>(stride)});
    }
  }

  void check_accessors() {
    static const std::map<std::string, int> components = {{"SCALAR", 1}, {"VEC2", 2}, {"VEC3", 3}, {"VEC4", 4},
                                                          {"MAT2", 4},   {"MAT3", 9}, {"MAT4", 16}};
    static const std::map<double, int> sizes = {{5120, 1}, {5121, 1}, {5122, 2}, {5123, 2}, {5125, 4}, {5126, 4}};
    for (const auto& accessor : list("accessors")) {
      if (!accessor.is_object()) refuse("an accessor is no object");
      const auto type = accessor.find("type");
      const auto parts =
          type != accessor.end() && type->is_string() ? components.find(type->get<std::string>()) : components.end();
      const auto size = sizes.find(number(accessor, "componentType", 0));
      if (parts == components.end() || size == sizes.end()) refuse("an accessor has a type that does not exist");
      const double count = whole(accessor, "count", 0);
      if (count < 1 || count > 1e9) refuse("an accessor has no or too many elements");
      Accessor out;
      out.count = static_cast<std::size_t>(count), out.component = static_cast<int>(size->first),
      out.type = parts->first;
      out.element = static_cast<std::size_t>(parts->second * size->second);
      out.is_sparse = accessor.contains("sparse");
      const auto normalized = accessor.find("normalized");
      out.is_normalized = normalized != accessor.end() && normalized->is_boolean() && normalized->get<bool>();
      if (accessor.contains("bufferView")) {
        out.view = index_of(accessor["bufferView"], views_.size());
        if (!out.view) refuse("an accessor names a buffer view that is not there");
        const View& view = views_[*out.view];
        out.stride = view.stride > 0 ? view.stride : out.element;
        const double begin = whole(accessor, "byteOffset", 0);
        const double end = begin + (count - 1) * static_cast<double>(out.stride) + static_cast<double>(out.element);
        if (begin < 0 || end > static_cast<double>(view.range.end - view.range.begin))
          refuse("an accessor reaches beyond its buffer view");
        out.in_view = {static_cast<std::size_t>(begin), static_cast<std::size_t>(end)};
      }
      accessors_.push_back(out);
    }
  }

  void check_nodes() {
    const auto& nodes = list("nodes");
    if (nodes.size() > most_nodes) refuse(fmt::format("it has more than {} nodes", most_nodes), "join its nodes");
    children_.resize(nodes.size());
    parent_.resize(nodes.size());
    for (std::size_t n = 0; n < nodes.size(); ++n) {
      const auto& node = nodes[n];
      if (!node.is_object()) refuse("a node is no object");
      if (const auto mesh = node.find("mesh"); mesh != node.end() && !index_of(*mesh, list("meshes").size()))
        refuse("a node names a mesh that is not there");
      if (const auto extensions = node.find("extensions");
          extensions != node.end() && extensions->contains("EXT_mesh_gpu_instancing"))
        refuse("a node stands for many copies of its mesh, which are not read", "export each copy as a node");
      const auto children = node.find("children");
      if (children == node.end()) continue;
      if (!children->is_array()) refuse("a node's children are no list");
      for (const auto& child : *children) {
        const auto index = index_of(child, nodes.size());
        if (!index) refuse("a node names a child that is not there");
        if (parent_[*index]) refuse("a node has two parents");
        children_[n].push_back(*index);
        parent_[*index] = n;
      }
    }
    // With one parent each, a cycle shows as nodes that no root leads to.
    std::vector<std::size_t> roots;
    for (std::size_t n = 0; n < nodes.size(); ++n)
      if (!parent_[n]) roots.push_back(n);
    const auto order = below(roots);
    if (order.size() != nodes.size()) refuse("nodes are their own ancestors");
    here_.assign(nodes.size(), Matrix4d::Identity());
    for (const std::size_t n : order)  // parents come first
      here_[n] = parent_[n] ? Matrix4d(here_[*parent_[n]] * transform_of(nodes[n])) : transform_of(nodes[n]);
  }

  /// Numbers of a list of exactly so many.
  template <std::size_t Size>
  static std::array<double, Size> numbers(const json& list, const char* what) {
    std::array<double, Size> out{};
    bool is_good = list.is_array() && list.size() == Size;
    for (std::size_t i = 0; is_good && i < Size; ++i) {
      is_good = list[i].is_number();
      if (is_good) out[i] = list[i].get<double>();
    }
    if (!is_good) refuse(fmt::format("a node's {} is not {} numbers", what, Size));
    return out;
  }

  /// 3.5.3 of the specification: a matrix by columns, or translation * rotation * scale.
  static Matrix4d transform_of(const json& node) {
    if (const auto matrix = node.find("matrix"); matrix != node.end()) {
      const auto m = numbers<16>(*matrix, "matrix");
      return Eigen::Map<const Matrix4d>(m.data());
    }
    Eigen::Affine3d out = Eigen::Affine3d::Identity();
    if (const auto moved = node.find("translation"); moved != node.end()) {
      const auto t = numbers<3>(*moved, "translation");
      out.translate(Vec3(t[0], t[1], t[2]));
    }
    if (const auto turned = node.find("rotation"); turned != node.end()) {
      const auto q = numbers<4>(*turned, "rotation");
      const Eigen::Quaterniond rotation(q[3], q[0], q[1], q[2]);
      constexpr double written_to = 1e-2;  // exporters round what they write
      if (!(std::abs(rotation.norm() - 1) <= written_to)) refuse("a node's rotation is no unit quaternion");
      out.rotate(rotation.normalized());
    }
    if (const auto scaled = node.find("scale"); scaled != node.end()) {
      const auto s = numbers<3>(*scaled, "scale");
      out.scale(Vec3(s[0], s[1], s[2]));
    }
    return out.matrix();
  }

  /// These nodes and all below them, in the order of a tree's traversal, parents first, children in the order of the
  /// file.
  std::vector<std::size_t> below(std::vector<std::size_t> open) const {
    std::vector<std::size_t> reached;
    std::reverse(open.begin(), open.end());
    while (!open.empty()) {
      reached.push_back(open.back());
      open.pop_back();
      open.insert(open.end(), children_[reached.back()].rbegin(), children_[reached.back()].rend());
    }
    return reached;
  }

  const Accessor& accessor(const json& index, const char* what) {
    const auto known = index_of(index, accessors_.size());
    if (!known) refuse(fmt::format("a primitive names {} that {} not there", what, what[0] == 'i' ? "are" : "is"));
    return accessors_[*known];
  }

  std::string_view data_of(const Accessor& accessor, const char* what) {
    if (accessor.is_sparse)
      refuse(fmt::format("its {} are stored as sparse, which is not read", what), "export them whole");
    if (!accessor.view) refuse(fmt::format("its {} have no data", what), "export them plain, not compressed");
    const View& view = views_[*accessor.view];
    used_views_.insert(*accessor.view);
    return bytes_of(view.buffer)
        .substr(view.range.begin + accessor.in_view.begin, accessor.in_view.end - accessor.in_view.begin);
  }

  std::vector<Vec3> positions(const json& index) {
    const Accessor& a = accessor(index, "an attribute");
    constexpr int single_precision = 5126;
    if (a.component != single_precision || a.type != "VEC3")
      refuse("its vertices are not three numbers of single precision", "export them so");
    const auto data = data_of(a, "vertices");
    std::vector<Vec3> out(a.count);
    for (std::size_t i = 0; i < a.count; ++i)
      for (std::size_t k = 0; k < 3; ++k)
        out[i][static_cast<Eigen::Index>(k)] = single_precision_at(data, i * a.stride + 4 * k);
    check_bounds(list("accessors")[*index_of(index, accessors_.size())], out);
    return out;
  }

  /// Vertices that are not between the bounds that the file states for them are not the ones it means (3.6.2.5).
  static void check_bounds(const json& accessor, const std::vector<Vec3>& points) {
    Bounds bounds;
    for (const auto& p : points) {
      if (!p.allFinite()) refuse("it has a vertex that is not finite", "repair it where it was made");
      bounds.extend(p);
    }
    const double largest = std::max(bounds.min.cwiseAbs().maxCoeff(), bounds.max.cwiseAbs().maxCoeff());
    constexpr double written_to = 1e-5;  // exporters round what they write
    for (const auto& [key, given] : {std::pair{"min", bounds.min}, std::pair{"max", bounds.max}}) {
      const auto stated = accessor.find(key);
      if (stated == accessor.end() || !stated->is_array() || stated->size() != 3) continue;
      for (std::size_t k = 0; k < 3; ++k)
        if (!(*stated)[k].is_number() ||
            std::abs((*stated)[k].get<double>() - given[static_cast<Eigen::Index>(k)]) > written_to * largest)
          refuse(fmt::format("its vertices have a {} of {} along {}, and it states {}", key,
                             given[static_cast<Eigen::Index>(k)], "xyz"[k],
                             (*stated)[k].is_number() ? (*stated)[k].dump() : "no number"));
    }
  }

  std::vector<std::size_t> indices(const json& index, bool is_list) {
    const Accessor& a = accessor(index, "indices");
    if (a.type != "SCALAR" || (a.component != 5121 && a.component != 5123 && a.component != 5125))
      refuse("its indices are not whole numbers without a sign");
    if (a.in_view.begin % a.element != 0) refuse("its indices begin within a number");
    const auto data = data_of(a, "indices");
    check_mesh_size(0, triangles_ + (is_list ? a.count / 3 : std::max(a.count, std::size_t{2}) - 2));
    std::vector<std::size_t> out(a.count);
    for (std::size_t i = 0; i < a.count; ++i) out[i] = little_endian(data, i * a.stride, a.element);
    return out;
  }

  /// What all primitives take, before any is read: the same few bytes may stand for many vertices.
  void check_sizes() const {
    std::size_t vertices = 0;
    for (const auto& mesh : list("meshes"))
      if (const auto primitives = mesh.find("primitives"); primitives != mesh.end() && primitives->is_array())
        for (const auto& primitive : *primitives)
          if (const auto attributes = primitive.find("attributes");
              attributes != primitive.end() && attributes->contains("POSITION"))
            if (const auto index = index_of((*attributes)["POSITION"], accessors_.size()))
              check_mesh_size(vertices += accessors_[*index].count, 0);
  }

  void read_meshes() {
    check_sizes();
    for (const auto& mesh : list("meshes")) {
      const auto primitives = mesh.is_object() ? mesh.find("primitives") : mesh.end();
      if (!mesh.is_object() || primitives == mesh.end() || !primitives->is_array()) refuse("a mesh has no primitives");
      meshes_.emplace_back();
      if (const auto weights = mesh.find("weights"); weights != mesh.end()) refuse_blended(*weights);
      for (const auto& primitive : *primitives) read_primitive(primitive);
    }
  }

  void read_primitive(const json& primitive) {
    if (!primitive.is_object()) refuse("a primitive is no object");
    const auto attributes = primitive.find("attributes");
    if (attributes != primitive.end()) {
      if (!attributes->is_object()) refuse("a primitive's attributes are no object");
      for (const auto& attribute : *attributes) (void)accessor(attribute, "an attribute");
    }
    if (primitive.contains("indices")) (void)accessor(primitive["indices"], "indices");
    const double mode = number(primitive, "mode", 4);
    if (mode < 0 || mode > 6 || mode != std::floor(mode)) refuse("a primitive is of a kind that does not exist");
    constexpr int triangles = 4, strip = 5;
    if (mode < triangles) return;  // points and lines
    if (attributes == primitive.end() || !attributes->contains("POSITION")) refuse("a primitive has no vertices");
    Primitive out{{positions((*attributes)["POSITION"]), {}}, &*attributes};
    const auto& points = out.mesh.vertices;
    std::vector<std::size_t> corners;
    if (primitive.contains("indices")) {
      corners = indices(primitive["indices"], mode == triangles);
    } else {
      corners.resize(points.size());
      for (std::size_t i = 0; i < corners.size(); ++i) corners[i] = i;
    }
    for (const std::size_t corner : corners)
      if (corner >= points.size())
        refuse(fmt::format("a triangle names vertex {}, and there are {} (counted from 0)", corner, points.size()));
    const auto add = [&](std::size_t a, std::size_t b, std::size_t c) {
      out.mesh.triangles.push_back({static_cast<std::uint32_t>(corners[a]), static_cast<std::uint32_t>(corners[b]),
                                    static_cast<std::uint32_t>(corners[c])});
    };
    if (mode == triangles) {
      if (corners.size() % 3 != 0) refuse(fmt::format("its triangles have {} corners", corners.size()));
      for (std::size_t i = 0; i < corners.size(); i += 3) add(i, i + 1, i + 2);
    } else {
      if (corners.size() < 3) refuse(fmt::format("a strip or fan of triangles has {} corners", corners.size()));
      for (std::size_t i = 2; i < corners.size(); ++i)
        if (mode != strip)
          add(0, i - 1, i);
        else if (i % 2 == 0)
          add(i - 2, i - 1, i);
        else
          add(i - 1, i - 2, i);  // 3.7.2.1: every other triangle of a strip is turned
    }
    triangles_ += out.mesh.triangles.size();
    check_mesh_size(0, triangles_);
    meshes_.back().push_back(std::move(out));
  }

  /// Morph targets that are blended in from the start would be another shape than the vertices.
  static void refuse_blended(const json& weights) {
    if (!weights.is_array()) refuse("its weights are no list");
    for (const auto& weight : weights)
      if (!weight.is_number() || weight.get<double>() != 0)
        refuse("its shape is blended from morph targets, which are not read", "apply them, and export it again");
  }

  /// Counts that are too small and offsets that are wrong leave bytes that nothing reads, or that two things read.
  void check_coverage() const {
    constexpr std::size_t alignment = 4;  // 3.6.2.4: padding is shorter
    std::vector<std::set<Range>> accessed(views_.size());
    for (const auto& accessor : accessors_)
      if (accessor.view) accessed[*accessor.view].insert(accessor.in_view);
    for (const std::size_t v : used_views_) {
      const View& view = views_[v];
      const auto& ranges = accessed[v];
      std::size_t read_to = 0;
      for (const auto& range : ranges) {
        if (range.begin >= read_to + std::max(alignment, view.stride)) refuse_unread(range.begin - read_to);
        read_to = std::max(read_to, range.end);
      }
      if (view.range.end - view.range.begin >= read_to + std::max(alignment, view.stride))
        refuse_unread(view.range.end - view.range.begin - read_to);
    }
    std::map<std::size_t, std::set<Range>> by_buffer;
    for (const std::size_t v : used_views_) by_buffer[views_[v].buffer];
    for (const auto& view : views_)
      if (const auto used = by_buffer.find(view.buffer); used != by_buffer.end() && view.range.begin < view.range.end)
        used->second.insert(view.range);
    for (const auto& [buffer, ranges] : by_buffer) {
      Range last;
      for (const auto& range : ranges) {
        if (range.begin < last.end) refuse("two of its buffer views share some of their bytes");
        if (range.begin >= last.end + alignment) refuse_unread(range.begin - last.end);
        last = range;
      }
      if (lengths_[buffer] >= static_cast<double>(last.end + alignment))
        refuse_unread(static_cast<std::size_t>(lengths_[buffer]) - last.end);
    }
  }
  [[noreturn]] static void refuse_unread(std::size_t bytes) {
    refuse(
        fmt::format("{} bytes among its vertices and faces are read by nothing: a count or an offset is wrong", bytes));
  }

  /// The nodes of the scene, or the one that is named, with their meshes. What stands outside of the scene is not read,
  /// and said.
  void place(const std::string& name) {
    const auto& scenes = list("scenes");
    std::size_t scene = 0;
    if (const auto named = gltf_.find("scene"); named != gltf_.end()) {
      const auto index = index_of(*named, scenes.size());
      if (!index) refuse("it names a scene that is not there");
      scene = *index;
    }
    if (scenes.empty()) refuse("it has no scene");
    std::vector<std::size_t> roots;
    std::set<std::size_t> distinct;
    if (scenes[scene].is_object())
      if (const auto nodes = scenes[scene].find("nodes"); nodes != scenes[scene].end() && nodes->is_array())
        for (const auto& node : *nodes) {
          const auto index = index_of(node, list("nodes").size());
          if (!index) refuse("a scene names a node that is not there");
          if (parent_[*index] || !distinct.insert(*index).second)
            refuse("a scene names a node that is no root of its own");
          roots.push_back(*index);
        }
    const auto in_scene = below(roots);
    std::set<std::size_t> meshes;
    for (const std::size_t n : in_scene)
      if (const auto& node = list("nodes")[n]; node.contains("mesh")) meshes.insert(node["mesh"].get<std::size_t>());
    if (meshes.size() < meshes_.size())
      out_.remarks.push_back(fmt::format("{} of its {} meshes stand outside of its scene and are not read",
                                         meshes_.size() - meshes.size(), meshes_.size()));
    const auto placed = name.empty() ? in_scene : below({find_node(name, in_scene)});
    std::size_t vertices = 0, triangles = 0;
    for (const std::size_t n : placed)
      if (const auto& node = list("nodes")[n]; node.contains("mesh"))
        for (const auto& primitive : meshes_[node["mesh"].get<std::size_t>()])
          check_mesh_size(vertices += primitive.mesh.vertices.size(), triangles += primitive.mesh.triangles.size());
    for (const std::size_t n : placed) {
      place_node(n);
      const auto given = list("nodes")[n].find("name");
      out_.end_node(given != list("nodes")[n].end() && given->is_string() ? given->get<std::string>() : "");
    }
  }

  /// The first with this name, which must be above all others that have it.
  std::size_t find_node(const std::string& name, const std::vector<std::size_t>& in_scene) const {
    std::vector<std::string> names;
    std::vector<std::size_t> found;
    for (const std::size_t n : in_scene) {
      const auto given = list("nodes")[n].find("name");
      if (given == list("nodes")[n].end() || !given->is_string()) continue;
      if (given->get_ref<const std::string&>() == name) found.push_back(n);
      names.push_back(given->get<std::string>());
    }
    if (found.empty()) refuse_node(name, names);
    const auto inside = below({found[0]});
    const std::set<std::size_t> held(inside.begin(), inside.end());
    for (const std::size_t n : found)
      if (held.count(n) == 0)
        refuse(fmt::format("it has {} nodes \"{}\"", found.size(), name), "give each node a name of its own");
    return found[0];
  }

  void place_node(std::size_t n) {
    const auto& node = list("nodes")[n];
    if (const auto weights = node.find("weights"); weights != node.end()) refuse_blended(*weights);
    const auto mesh = node.find("mesh");
    if (mesh == node.end()) return;
    std::vector<Matrix4d> joints;
    if (const auto skin = node.find("skin"); skin != node.end()) joints = joints_of(*skin);
    for (const auto& primitive : meshes_[mesh->get<std::size_t>()]) {
      TriangleMesh& out = out_.mesh;
      const auto base = static_cast<std::uint32_t>(out.vertices.size());
      if (joints.empty())
        for (const auto& p : primitive.mesh.vertices) out.vertices.push_back((here_[n] * p.homogeneous()).head<3>());
      else
        append_skinned(primitive, joints, out.vertices);
      for (const auto& t : primitive.mesh.triangles) out.triangles.push_back({base + t[0], base + t[1], base + t[2]});
    }
  }

  /// What takes a vertex from the mesh to where each joint holds it (3.7.3.1): the joint's place times its inverse bind
  /// matrix, which is the identity where the file has none. The place of the node that has the mesh does not count
  /// (3.7.3.3).
  std::vector<Matrix4d> joints_of(const json& index) {
    const auto skin = index_of(index, list("skins").size());
    if (!skin || !list("skins")[*skin].is_object()) refuse("a node names a skin that is not there");
    const auto& entry = list("skins")[*skin];
    const auto joints = entry.find("joints");
    if (joints == entry.end() || !joints->is_array() || joints->empty() || joints->size() > most_nodes)
      refuse("a skin has no joints");
    std::vector<Matrix4d> out;
    for (const auto& joint : *joints) {
      const auto node = index_of(joint, here_.size());
      if (!node) refuse("a skin names a joint that is not there");
      out.push_back(here_[*node]);
    }
    if (const auto binds = entry.find("inverseBindMatrices"); binds != entry.end()) {
      const Accessor& a = accessor(*binds, "a skin's matrix");
      if (a.component != 5126 || a.type != "MAT4" || a.count < out.size())
        refuse("a skin has other matrices than one of single precision for each joint");
      const auto data = data_of(a, "skin's matrices");
      for (std::size_t j = 0; j < out.size(); ++j) {
        Matrix4d bind;
        for (std::size_t k = 0; k < 16; ++k)
          bind.data()[k] = single_precision_at(data, j * a.stride + 4 * k);  // both by columns
        out[j] *= bind;
      }
    }
    return out;
  }

  /// Vertices as the weighted means of where their joints hold them.
  void append_skinned(const Primitive& primitive, const std::vector<Matrix4d>& joints, std::vector<Vec3>& out) {
    const std::size_t count = primitive.mesh.vertices.size();
    std::vector<Vec3> sum(count, Vec3::Zero());
    std::vector<double> weight(count);
    constexpr int most_sets = 16;
    for (int set = 0; set < most_sets; ++set) {
      const auto of_joints = primitive.attributes->find(fmt::format("JOINTS_{}", set));
      const auto of_weights = primitive.attributes->find(fmt::format("WEIGHTS_{}", set));
      if (of_joints == primitive.attributes->end() || of_weights == primitive.attributes->end()) break;
      const Accessor &j = accessor(*of_joints, "an attribute"), &w = accessor(*of_weights, "an attribute");
      if (j.type != "VEC4" || (j.component != 5121 && j.component != 5123) || w.type != "VEC4" ||
          (w.component != 5126 && (!w.is_normalized || (w.component != 5121 && w.component != 5123))) ||
          j.count != count || w.count != count)
        refuse("a skin's joints and weights are not four for each vertex");
      const auto joint_data = data_of(j, "joints"), weight_data = data_of(w, "weights");
      const std::size_t joint_size = j.element / 4, weight_size = w.element / 4;
      for (std::size_t v = 0; v < count; ++v)
        for (std::size_t k = 0; k < 4; ++k) {
          const std::size_t joint = little_endian(joint_data, v * j.stride + k * joint_size, joint_size);
          const std::size_t at = v * w.stride + k * weight_size;
          const double share = w.component == 5126 ? double{single_precision_at(weight_data, at)}
                                                   : static_cast<double>(little_endian(weight_data, at, weight_size)) /
                                                         (weight_size == 1 ? 255. : 65535.);
          if (share == 0) continue;
          if (!(share > 0) || joint >= joints.size()) refuse("a vertex has a joint or weight that is out of range");
          weight[v] += share;
          sum[v] += share * (joints[joint] * primitive.mesh.vertices[v].homogeneous()).head<3>();
        }
    }
    for (std::size_t v = 0; v < count; ++v) {
      if (!(weight[v] > 0)) refuse("a vertex of a skin is held by no joint");
      out.push_back(sum[v] / weight[v]);
    }
  }

  json gltf_;
  std::optional<std::string_view> binary_;
  const BufferSource& source_;
  std::vector<double> lengths_;
  std::map<std::size_t, std::string_view> loaded_;
  std::vector<std::unique_ptr<std::string>> decoded_;
  std::vector<View> views_;
  std::vector<Accessor> accessors_;
  std::vector<std::vector<std::size_t>> children_;
  std::vector<std::optional<std::size_t>> parent_;
  std::vector<Matrix4d> here_;  // of each node, from the file's frame
  std::vector<std::vector<Primitive>> meshes_;
  std::size_t triangles_ = 0;         // of all meshes
  std::set<std::size_t> used_views_;  // of vertices and indices
  RawMesh out_;
};

}  // namespace

RawMesh read_gltf(std::string_view bytes, const std::string& node, const BufferSource& buffers) {
  const auto binary = follow_chunks(bytes);
  const auto text = model::gltf_json(bytes);
  if (const auto fault = model::json_fault(text); !fault.empty()) refuse(fault);
  auto document = json::parse(text, nullptr, false);
  if (!document.is_object()) refuse("its JSON cannot be parsed");
  return Gltf(std::move(document), binary, buffers).read(node);
}

}  // namespace holdfast::geometry::detail
