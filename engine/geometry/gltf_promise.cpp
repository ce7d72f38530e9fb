#include <fmt/format.h>

#include <bit>
#include <cmath>
#include <cstring>
#include <map>
#include <nlohmann/json.hpp>
#include <set>

#include "holdfast/model/mesh_references.h"
#include "mesh_promise_impl.h"

namespace holdfast::geometry::detail {

namespace {

using nlohmann::json;

[[noreturn]] void refuse(std::string why, std::string remedy = "export it again as glTF 2.0, and validate it") {
  throw BrokenMesh{std::move(why), std::move(remedy)};
}

std::size_t little_endian(std::string_view bytes, std::size_t at, std::size_t size) {
  std::size_t value = 0;
  for (std::size_t i = 0; i < size; ++i)
    value |= static_cast<std::size_t>(static_cast<unsigned char>(bytes[at + i])) << (8 * i);
  return value;
}

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
  std::string out;
  std::uint32_t bits = 0;
  int held = 0;
  for (const char c : text) {
    const std::size_t digit = digits.find(c);
    if (digit == std::string_view::npos) refuse("a buffer's data is not in base 64");
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
};

class Gltf {
 public:
  Gltf(json document, std::optional<std::string_view> binary, const BufferSource& source)
      : gltf_(std::move(document)), binary_(binary), source_(source) {}

  Promise read() {
    check_extensions();
    check_buffers();
    check_views();
    check_accessors();
    check_nodes();
    read_meshes();
    check_coverage();
    count_placed();
    return std::move(promise_);
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
  /// An index below `size`, or nothing where it is none.
  static std::optional<std::size_t> index_of(const json& value, std::size_t size) {
    if (!value.is_number_integer() || value.get<double>() < 0 || value.get<double>() >= static_cast<double>(size))
      return std::nullopt;
    return value.get<std::size_t>();
  }

  /// What an extension that must be understood does to shapes is not known here; those that concern looks alone are.
  void check_extensions() const {
    for (const auto& name : list("extensionsRequired")) {
      const std::string word = name.is_string() ? name.get<std::string>() : std::string("?");
      bool is_of_looks = false;
      for (const char* looks : {"KHR_materials_", "KHR_texture_", "EXT_texture_", "KHR_lights_"})
        is_of_looks = is_of_looks || word.starts_with(looks);
      if (!is_of_looks)
        refuse(fmt::format("it requires the extension \"{}\", which is not read", word), "export it without");
    }
  }

  void check_buffers() {
    const auto& buffers = list("buffers");
    for (std::size_t b = 0; b < buffers.size(); ++b) {
      const auto& buffer = buffers[b];
      if (!buffer.is_object() || number(buffer, "byteLength", 0) < 1) refuse("a buffer has no length");
      lengths_.push_back(number(buffer, "byteLength", 0));
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
      const double buffer = number(view, "buffer", -1);
      if (buffer < 0 || buffer >= static_cast<double>(lengths_.size()))
        refuse("a buffer view names a buffer that is not there");
      const double begin = number(view, "byteOffset", 0), end = begin + number(view, "byteLength", 0);
      if (begin < 0 || end < begin || end > lengths_[static_cast<std::size_t>(buffer)])
        refuse("a buffer view reaches beyond its buffer");
      const double stride = number(view, "byteStride", 0);
      if (stride < 0 || stride > 252) refuse("a buffer view has a stride beyond 252 bytes");  // 3.6.2.4
      views_.push_back({static_cast<std::size_t>(buffer),
                        {static_cast<std::size_t>(begin), static_cast<std::size_t>(end)},
                        static_cast<std::size_t>(stride)});
    }
  }

  void check_accessors() {
    static const std::map<std::string, int> components = {{"SCALAR", 1}, {"VEC2", 2}, {"VEC3", 3}, {"VEC4", 4},
                                                          {"MAT2", 4},   {"MAT3", 9}, {"MAT4", 16}};
    static const std::map<int, int> sizes = {{5120, 1}, {5121, 1}, {5122, 2}, {5123, 2}, {5125, 4}, {5126, 4}};
    for (const auto& accessor : list("accessors")) {
      if (!accessor.is_object()) refuse("an accessor is no object");
      const auto type = accessor.find("type");
      const auto parts =
          type != accessor.end() && type->is_string() ? components.find(type->get<std::string>()) : components.end();
      const auto size = sizes.find(static_cast<int>(number(accessor, "componentType", 0)));
      if (parts == components.end() || size == sizes.end()) refuse("an accessor has a type that does not exist");
      const double count = number(accessor, "count", 0);
      if (count < 1 || count > 1e9) refuse("an accessor has no or too many elements");
      Accessor out;
      out.count = static_cast<std::size_t>(count), out.component = size->first, out.type = parts->first;
      out.element = static_cast<std::size_t>(parts->second * size->second);
      out.is_sparse = accessor.contains("sparse");
      if (accessor.contains("bufferView")) {
        out.view = index_of(accessor["bufferView"], views_.size());
        if (!out.view) refuse("an accessor names a buffer view that is not there");
        const View& view = views_[*out.view];
        out.stride = view.stride > 0 ? view.stride : out.element;
        const double begin = number(accessor, "byteOffset", 0);
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
    std::vector<int> parents(nodes.size());
    children_.resize(nodes.size());
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
        if (++parents[*index] > 1) refuse("a node has two parents");
        children_[n].push_back(*index);
      }
    }
    // With one parent each, a cycle shows as nodes that no root leads to.
    std::vector<std::size_t> roots;
    for (std::size_t n = 0; n < nodes.size(); ++n)
      if (parents[n] == 0) roots.push_back(n);
    if (below(roots).size() != nodes.size()) refuse("nodes are their own ancestors");
  }

  /// These nodes and all below them.
  std::vector<std::size_t> below(std::vector<std::size_t> open) const {
    std::vector<std::size_t> reached;
    while (!open.empty()) {
      reached.push_back(open.back());
      open.pop_back();
      open.insert(open.end(), children_[reached.back()].begin(), children_[reached.back()].end());
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
        out[i][static_cast<Eigen::Index>(k)] =
            std::bit_cast<float>(static_cast<std::uint32_t>(little_endian(data, i * a.stride + 4 * k, 4)));
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
                             given[static_cast<Eigen::Index>(k)], "xyz"[k], (*stated)[k].dump()));
    }
  }

  std::vector<std::size_t> indices(const json& index) {
    const Accessor& a = accessor(index, "indices");
    if (a.type != "SCALAR" || (a.component != 5121 && a.component != 5123 && a.component != 5125))
      refuse("its indices are not whole numbers without a sign");
    if (a.in_view.begin % a.element != 0) refuse("its indices begin within a number");
    const auto data = data_of(a, "indices");
    std::vector<std::size_t> out(a.count);
    for (std::size_t i = 0; i < a.count; ++i) out[i] = little_endian(data, i * a.stride, a.element);
    return out;
  }

  void read_meshes() {
    for (const auto& mesh : list("meshes")) {
      const auto primitives = mesh.is_object() ? mesh.find("primitives") : mesh.end();
      if (!mesh.is_object() || primitives == mesh.end() || !primitives->is_array()) refuse("a mesh has no primitives");
      mesh_tallies_.emplace_back();
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
    const auto points = positions((*attributes)["POSITION"]);
    std::vector<std::size_t> corners;
    if (primitive.contains("indices")) {
      corners = indices(primitive["indices"]);
    } else {
      corners.resize(points.size());
      for (std::size_t i = 0; i < corners.size(); ++i) corners[i] = i;
    }
    for (const std::size_t corner : corners)
      if (corner >= points.size())
        refuse(fmt::format("a triangle names vertex {}, and there are {} (counted from 0)", corner, points.size()));
    const auto add = [&](std::size_t a, std::size_t b, std::size_t c) {
      ++mesh_tallies_.back().faces;
      for (const std::size_t i : {a, b, c}) mesh_tallies_.back().add_corner(points[corners[i]]);
    };
    if (mode == triangles) {
      if (corners.size() % 3 != 0) refuse(fmt::format("its triangles have {} corners", corners.size()));
      for (std::size_t i = 0; i < corners.size(); i += 3) add(i, i + 1, i + 2);
    } else {
      if (corners.size() < 3) refuse(fmt::format("a strip or fan of triangles has {} corners", corners.size()));
      for (std::size_t i = 2; i < corners.size(); ++i)
        if (mode == strip)
          add(i - 2, i - 1, i);
        else
          add(0, i - 1, i);
    }
  }

  /// Counts that are too small and offsets that are wrong leave bytes that nothing reads, or that two things read.
  void check_coverage() const {
    constexpr std::size_t alignment = 4;  // 3.6.2.4: padding is shorter
    for (const std::size_t v : used_views_) {
      const View& view = views_[v];
      std::set<Range> ranges;
      for (const auto& accessor : accessors_)
        if (accessor.view == v) ranges.insert(accessor.in_view);
      std::size_t read_to = 0;
      for (const auto& range : ranges) {
        if (range.begin >= read_to + std::max(alignment, view.stride)) refuse_unread(range.begin - read_to);
        read_to = std::max(read_to, range.end);
      }
      if (view.range.end - view.range.begin >= read_to + std::max(alignment, view.stride))
        refuse_unread(view.range.end - view.range.begin - read_to);
    }
    std::map<std::size_t, std::set<Range>> by_buffer;
    for (const std::size_t v : used_views_)
      for (const auto& view : views_)
        if (view.buffer == views_[v].buffer && view.range.begin < view.range.end)
          by_buffer[view.buffer].insert(view.range);
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

  /// Faces of the nodes that the scene has. What stands outside of it is not read, and said.
  void count_placed() {
    const auto& scenes = list("scenes");
    std::size_t scene = 0;
    if (const auto named = gltf_.find("scene"); named != gltf_.end()) {
      const auto index = index_of(*named, scenes.size());
      if (!index) refuse("it names a scene that is not there");
      scene = *index;
    }
    if (scenes.empty()) refuse("it has no scene");
    std::vector<std::size_t> roots;
    if (scenes[scene].is_object())
      if (const auto nodes = scenes[scene].find("nodes"); nodes != scenes[scene].end() && nodes->is_array())
        for (const auto& node : *nodes) {
          const auto index = index_of(node, list("nodes").size());
          if (!index) refuse("a scene names a node that is not there");
          roots.push_back(*index);
        }
    std::size_t placed = 0;
    std::set<std::size_t> meshes;
    for (const std::size_t n : below(roots))
      if (const auto& node = list("nodes")[n]; node.contains("mesh"))
        placed += mesh_tallies_[node["mesh"].get<std::size_t>()].faces, meshes.insert(node["mesh"].get<std::size_t>());
    promise_.placed_faces = placed;
    // The importer reads the meshes of the scene, each once.
    for (const std::size_t mesh : meshes) promise_.tally += mesh_tallies_[mesh];
    if (meshes.size() < mesh_tallies_.size())
      promise_.remarks.push_back(fmt::format("{} of its {} meshes stand outside of its scene and are not read",
                                             mesh_tallies_.size() - meshes.size(), mesh_tallies_.size()));
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
  std::vector<Tally> mesh_tallies_;
  std::set<std::size_t> used_views_;  // of vertices and indices
  Promise promise_;
};

}  // namespace

Promise read_gltf_promise(std::string_view bytes, const BufferSource& buffers) {
  const auto binary = follow_chunks(bytes);
  auto document = json::parse(model::gltf_json(bytes), nullptr, false);
  if (!document.is_object()) refuse("its JSON cannot be parsed");
  return Gltf(std::move(document), binary, buffers).read();
}

}  // namespace holdfast::geometry::detail
