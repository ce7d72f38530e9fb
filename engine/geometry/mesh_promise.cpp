#include "mesh_promise_impl.h"

#include <fmt/format.h>

#include <algorithm>
#include <bit>
#include <charconv>
#include <cmath>
#include <cstring>
#include <map>

namespace holdfast::geometry::detail {

void Tally::add_corner(const Vec3& p) {
  ++corners;
  sum += p;
  largest = std::max(largest, p.cwiseAbs().maxCoeff());
}

bool Tally::agrees_with(const Tally& other) const {
  if (faces != other.faces || corners != other.corners) return false;
  // The importer keeps single precision: each coordinate is off by at most half a unit in its last place.
  const double slack = std::numeric_limits<float>::epsilon() * std::max(largest, other.largest);
  return ((sum - other.sum).cwiseAbs().array() <= slack * static_cast<double>(corners + 1)).all();
}

void Tally::operator+=(const Tally& other) {
  faces += other.faces, corners += other.corners;
  sum += other.sum;
  largest = std::max(largest, other.largest);
}

namespace {

[[noreturn]] void refuse(std::string why) { throw BrokenMesh{std::move(why)}; }
[[noreturn]] void refuse(std::string why, std::string remedy) { throw BrokenMesh{std::move(why), std::move(remedy)}; }

using Words = std::vector<std::string_view>;

/// Lines of a text with their words. A line ends with LF, CR LF or CR.
class Lines {
 public:
  explicit Lines(std::string_view text) : text_(text) {}

  /// The next line that has a word. False at the end.
  bool next(Words& words, char comment = '\0') {
    while (at_ < text_.size()) {
      const std::string_view line = take();
      split(comment == '\0' ? line : line.substr(0, line.find(comment)), words);
      if (!words.empty()) return true;
    }
    words.clear();
    return false;
  }
  /// The next line whole.
  std::string_view take() {
    const std::size_t end = std::min(text_.find_first_of("\r\n", at_), text_.size());
    const std::string_view line = text_.substr(at_, end - at_);
    is_ended_ = end < text_.size();
    at_ = end + (text_.substr(end, 2) == "\r\n" ? 2 : is_ended_ ? 1 : 0);
    ++number_;
    return line;
  }
  static void split(std::string_view line, Words& words) {
    words.clear();
    constexpr std::string_view space = " \t\v\f";
    for (std::size_t start = line.find_first_not_of(space); start != std::string_view::npos;) {
      const std::size_t end = std::min(line.find_first_of(space, start), line.size());
      words.push_back(line.substr(start, end - start));
      start = line.find_first_not_of(space, end);
    }
  }
  [[nodiscard]] std::string where() const { return fmt::format("line {}", number_); }
  [[nodiscard]] bool is_at_end() const { return at_ >= text_.size(); }
  /// Nothing says whether the last number of a file is whole, unless its line ends.
  void require_end() const {
    if (!is_ended_)
      refuse(fmt::format("its last line ({}) does not end: the file may have been cut off", number_),
             "export it again; where it is whole, end its last line");
  }
  [[nodiscard]] std::size_t at() const { return at_; }

 private:
  std::string_view text_;
  std::size_t at_ = 0;
  int number_ = 0;
  bool is_ended_ = true;
};

double number_of(std::string_view word, const std::string& where) {
  double value = 0;
  const std::string_view digits = word.substr(word.starts_with('+') ? 1 : 0);
  const auto [end, error] = std::from_chars(digits.data(), digits.data() + digits.size(), value);
  if (error != std::errc{} || end != digits.data() + digits.size())
    refuse(fmt::format("{}: \"{}\" is not a number", where, word.substr(0, 40)));
  return value;
}

long whole_of(std::string_view word, const std::string& where) {
  long value = 0;
  const std::string_view digits = word.substr(word.starts_with('+') ? 1 : 0);
  const auto [end, error] = std::from_chars(digits.data(), digits.data() + digits.size(), value);
  if (error != std::errc{} || end != digits.data() + digits.size())
    refuse(fmt::format("{}: \"{}\" is not a whole number", where, word.substr(0, 40)));
  return value;
}

std::size_t count_of(std::string_view word, const std::string& where, std::size_t file_size) {
  const long count = whole_of(word, where);
  if (count < 0 || static_cast<std::size_t>(count) > file_size)
    refuse(fmt::format("{}: it claims {} elements in {} bytes", where, count, file_size));
  return static_cast<std::size_t>(count);
}

void add_face(Tally& tally, const std::vector<Vec3>& vertices, const std::vector<long>& corners,
              const std::string& where) {
  for (const long corner : corners)
    if (corner < 0 || static_cast<std::size_t>(corner) >= vertices.size())
      refuse(
          fmt::format("{}: a face names vertex {}, and there are {} (counted from 0)", where, corner, vertices.size()));
  if (corners.size() < 3) refuse(fmt::format("{}: a face has {} corners", where, corners.size()));
  ++tally.faces;
  for (const long corner : corners) tally.add_corner(vertices[static_cast<std::size_t>(corner)]);
}

// ---- OBJ ----------------------------------------------------------------------------------------------------------

Promise read_obj(std::string_view text) {
  static const std::vector<std::string_view> without_surface = {
      "vn",     "vt",    "vp",       "l",        "p",   "o",          "g",         "s",  "usemtl", "mtllib",
      "usemap", "bevel", "c_interp", "d_interp", "lod", "shadow_obj", "trace_obj", "mg", "maplib"};
  Promise promise;
  std::vector<Vec3> vertices;
  std::vector<long> corners;       // of all faces, counted from 0
  std::vector<std::size_t> sizes;  // corners of each face
  Lines lines(text);
  Words words;
  std::string joined;
  while (!lines.is_at_end()) {
    std::string_view line = lines.take();
    if (line.ends_with('\\')) {
      joined.clear();
      for (; line.ends_with('\\') && !lines.is_at_end(); line = lines.take())
        joined.append(line.substr(0, line.size() - 1)).push_back(' ');
      joined.append(line);
      line = joined;
    }
    Lines::split(line.substr(0, line.find('#')), words);
    if (words.empty()) continue;
    const std::string_view key = words[0];
    if (key == "v") {
      // x y z, then a weight, or a colour, or both.
      if (words.size() < 4 || words.size() > 8)
        refuse(fmt::format("{}: a vertex has {} numbers", lines.where(), words.size() - 1));
      Vec3 p;
      for (int i = 0; i < 3; ++i) p[i] = number_of(words[static_cast<std::size_t>(i) + 1], lines.where());
      if (words.size() == 5) p /= number_of(words[4], lines.where());
      vertices.push_back(p);
      lines.require_end();
    } else if (key == "f") {
      if (words.size() < 4) refuse(fmt::format("{}: a face has {} corners", lines.where(), words.size() - 1));
      for (std::size_t i = 1; i < words.size(); ++i) {
        const long index = whole_of(words[i].substr(0, words[i].find('/')), lines.where());
        const long corner = index > 0 ? index - 1 : static_cast<long>(vertices.size()) + index;
        if (index == 0 || corner < 0)
          refuse(fmt::format("{}: a face names vertex {}, which is not there", lines.where(), index));
        corners.push_back(corner);
      }
      sizes.push_back(words.size() - 1);
      lines.require_end();
    } else if (std::find(without_surface.begin(), without_surface.end(), key) == without_surface.end()) {
      refuse(fmt::format("{}: \"{}\" is not read", lines.where(), key.substr(0, 40)),
             "export polygons (v and f), no curved surfaces and no calls of other files");
    }
  }
  std::vector<bool> is_used(vertices.size());
  std::size_t first = 0;
  for (std::size_t f = 0; f < sizes.size(); first += sizes[f++]) {
    const std::vector<long> face(corners.begin() + static_cast<std::ptrdiff_t>(first),
                                 corners.begin() + static_cast<std::ptrdiff_t>(first + sizes[f]));
    for (const long corner : face)
      if (static_cast<std::size_t>(corner) >= vertices.size())
        refuse(fmt::format("face {} names vertex {}, and there are {}", f + 1, corner + 1, vertices.size()));
      else
        is_used[static_cast<std::size_t>(corner)] = true;
    add_face(promise.tally, vertices, face, fmt::format("face {}", f + 1));
  }
  const auto unused_count = std::count(is_used.begin(), is_used.end(), false);
  if (unused_count > 0 && !sizes.empty())
    promise.remarks.push_back(
        fmt::format("{} of {} vertices belong to no face: was the file cut off? OBJ does not say how many faces it has",
                    unused_count, vertices.size()));
  return promise;
}

// ---- OFF ----------------------------------------------------------------------------------------------------------

Promise read_off(std::string_view text) {
  Promise promise;
  Lines lines(text);
  Words words;
  if (!lines.next(words, '#')) refuse("it is empty");
  const std::string_view header = words[0];
  const std::size_t prefix = header.find("OFF");
  if (prefix == std::string_view::npos || prefix + 3 != header.size()) refuse("its first word is not OFF");
  if (header.find_first_of("4n") < prefix)
    refuse("its vertices have more than three coordinates", "export it with three");
  if (words.size() > 1 && words[1] == "BINARY")
    refuse("it is a binary OFF file", "export it as text, or as PLY or GLB");
  Words counts(words.begin() + 1, words.end());
  if (counts.empty() && !lines.next(counts, '#')) refuse("it ends before its counts");
  if (counts.size() < 2 || counts.size() > 3) refuse(lines.where() + ": it should give the vertices, faces and edges");
  const std::size_t vertex_count = count_of(counts[0], lines.where(), text.size());
  const std::size_t face_count = count_of(counts[1], lines.where(), text.size());

  std::vector<Vec3> vertices;
  std::size_t width = 0;
  for (std::size_t i = 0; i < vertex_count; ++i) {
    if (!lines.next(words, '#')) refuse(fmt::format("its header counts {} vertices, and it has {}", vertex_count, i));
    if (words.size() < 3) refuse(fmt::format("{}: a vertex has {} coordinates", lines.where(), words.size()));
    if (i == 0) width = words.size();
    if (words.size() != width)
      refuse(fmt::format("{}: a vertex has {} numbers, and those before {}", lines.where(), words.size(), width));
    Vec3 p;
    for (int k = 0; k < 3; ++k) p[k] = number_of(words[static_cast<std::size_t>(k)], lines.where());
    vertices.push_back(p);
  }
  // A corner count that is too small makes the corners beyond it a colour.
  std::size_t colour = 0;
  std::vector<long> corners;
  for (std::size_t i = 0; i < face_count; ++i) {
    if (!lines.next(words, '#')) refuse(fmt::format("its header counts {} faces, and it has {}", face_count, i));
    const long size = whole_of(words[0], lines.where());
    if (size < 3 || static_cast<std::size_t>(size) >= words.size())
      refuse(
          fmt::format("{}: a face says that it has {} corners, and names {}", lines.where(), size, words.size() - 1));
    if (i == 0) colour = words.size() - 1 - static_cast<std::size_t>(size);
    if (words.size() - 1 - static_cast<std::size_t>(size) != colour)
      refuse(fmt::format("{}: a face of {} corners has {} numbers more, and those before {}", lines.where(), size,
                         words.size() - 1 - static_cast<std::size_t>(size), colour));
    corners.clear();
    for (std::size_t k = 1; k <= static_cast<std::size_t>(size); ++k)
      corners.push_back(whole_of(words[k], lines.where()));
    add_face(promise.tally, vertices, corners, lines.where());
  }
  lines.require_end();
  if (lines.next(words, '#'))
    refuse(fmt::format("{}: there is more than the {} vertices and {} faces that its header counts", lines.where(),
                       vertex_count, face_count));
  return promise;
}

// ---- STL ----------------------------------------------------------------------------------------------------------

std::uint32_t little_endian(std::string_view bytes, std::size_t at) {
  std::uint32_t value = 0;
  for (std::size_t i = 0; i < 4; ++i)
    value |= static_cast<std::uint32_t>(static_cast<unsigned char>(bytes[at + i])) << (8 * i);
  return value;
}

Promise read_binary_stl(std::string_view bytes) {
  constexpr std::size_t header = 84, record = 50, normal = 12;
  if (bytes.size() < header) refuse("it is no STL file");
  const std::size_t count = little_endian(bytes, header - 4), room = (bytes.size() - header) / record;
  if (bytes.size() != header + count * record)
    refuse(fmt::format("its header counts {} triangles, and it has {}{}", count, room,
                       (bytes.size() - header) % record == 0 ? "" : " and part of one"));
  Promise promise;
  promise.tally.faces = count;
  for (std::size_t f = 0; f < count; ++f)
    for (std::size_t corner = 0; corner < 3; ++corner) {
      Vec3 p;
      for (std::size_t k = 0; k < 3; ++k)
        p[static_cast<Eigen::Index>(k)] =
            std::bit_cast<float>(little_endian(bytes, header + f * record + normal + 12 * corner + 4 * k));
      promise.tally.add_corner(p);
    }
  return promise;
}

Promise read_text_stl(std::string_view text) {
  Promise promise;
  Lines lines(text);
  Words words;
  bool is_in_solid = false, is_in_facet = false;
  std::size_t corners = 0;
  while (lines.next(words)) {
    std::string key(words[0]);
    std::transform(key.begin(), key.end(), key.begin(),
                   [](unsigned char c) { return static_cast<char>(std::tolower(c)); });
    const auto expect = [&](bool condition) {
      if (!condition) refuse(fmt::format("{}: \"{}\" is out of its order", lines.where(), key));
    };
    if (key == "solid") {
      expect(!is_in_solid), is_in_solid = true;
    } else if (key == "facet") {
      expect(is_in_solid && !is_in_facet), is_in_facet = true, corners = 0;
    } else if (key == "outer" || key == "endloop") {
      expect(is_in_facet);
    } else if (key == "vertex") {
      expect(is_in_facet && words.size() == 4);
      Vec3 p;
      for (int k = 0; k < 3; ++k) p[k] = number_of(words[static_cast<std::size_t>(k) + 1], lines.where());
      promise.tally.add_corner(p), ++corners;
    } else if (key == "endfacet") {
      expect(is_in_facet), is_in_facet = false;
      if (corners != 3) refuse(fmt::format("{}: a facet has {} corners", lines.where(), corners));
      ++promise.tally.faces;
    } else if (key == "endsolid") {
      expect(is_in_solid && !is_in_facet), is_in_solid = false;
    } else {
      refuse(fmt::format("{}: \"{}\" is no word of STL", lines.where(), key.substr(0, 40)));
    }
  }
  if (is_in_solid) refuse("it ends before `endsolid`: it was cut off");
  return promise;
}

Promise read_stl(std::string_view bytes) {
  const std::size_t start = std::min(bytes.find_first_not_of(" \t\r\n"), bytes.size());
  constexpr std::size_t looked_at = 1000;
  const std::string_view head = bytes.substr(0, looked_at);
  // Binary headers may begin with "solid" too.
  const bool is_text = bytes.substr(start, 5) == "solid" && std::all_of(head.begin(), head.end(), [](char c) {
                         return c == '\t' || c == '\n' || c == '\r' || static_cast<unsigned char>(c) >= 32;
                       });
  return is_text ? read_text_stl(bytes) : read_binary_stl(bytes);
}

// ---- PLY ----------------------------------------------------------------------------------------------------------

enum class PlyType { I8, U8, I16, U16, I32, U32, F32, F64 };

std::size_t size_of(PlyType type) {
  static constexpr std::size_t sizes[] = {1, 1, 2, 2, 4, 4, 4, 8};
  return sizes[static_cast<std::size_t>(type)];
}

struct PlyProperty {
  std::string name;
  PlyType type = PlyType::F32;
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
    where_ = fmt::format("{} {} of {}", element.name, index + 1, element.count);
    if (order_) return;
    if (!lines_.next(words_)) refuse(fmt::format("it ends before {}", where_));
    used_ = 0;
  }
  void end() {
    if (!order_ && used_ != words_.size())
      refuse(fmt::format("{}: {} has {} values, and its header says {}", lines_.where(), where_, words_.size(), used_));
  }
  double value(PlyType type) {
    if (!order_) return number_of(word(), lines_.where());
    const std::size_t size = size_of(type);
    if (bytes_.size() < size) refuse(fmt::format("it ends within {}", where_));
    unsigned char raw[8];
    std::memcpy(raw, bytes_.data(), size);
    bytes_.remove_prefix(size);
    if (*order_ != std::endian::native) std::reverse(raw, raw + size);
    const auto as = [&](auto zero) {
      std::memcpy(&zero, raw, sizeof zero);
      return static_cast<double>(zero);
    };
    switch (type) {
      case PlyType::I8:
        return as(std::int8_t{});
      case PlyType::U8:
        return as(std::uint8_t{});
      case PlyType::I16:
        return as(std::int16_t{});
      case PlyType::U16:
        return as(std::uint16_t{});
      case PlyType::I32:
        return as(std::int32_t{});
      case PlyType::U32:
        return as(std::uint32_t{});
      case PlyType::F32:
        return as(float{});
      case PlyType::F64:
        return as(double{});
    }
    return 0;
  }
  long whole(PlyType type) {
    if (!order_) return whole_of(word(), lines_.where());
    const double given = value(type);
    if (given != std::floor(given) || std::abs(given) > 1e10)
      refuse(fmt::format("{} has an index of {}", where_, given));
    return static_cast<long>(given);
  }
  [[nodiscard]] const std::string& where() const { return where_; }
  void require_end() {
    if (order_ && !bytes_.empty()) refuse(fmt::format("{} bytes follow after what its header counts", bytes_.size()));
    if (order_) return;
    lines_.require_end();
    if (lines_.next(words_)) refuse(fmt::format("{}: there is more than its header counts", lines_.where()));
  }

 private:
  std::string_view word() {
    if (used_ == words_.size()) refuse(fmt::format("{}: {} has {} values, too few", lines_.where(), where_, used_));
    return words_[used_++];
  }
  Lines& lines_;
  std::string_view bytes_;
  std::optional<std::endian> order_;
  Words words_;
  std::size_t used_ = 0;
  std::string where_;
};

PlyType ply_type(std::string_view word, const std::string& where) {
  static const std::map<std::string_view, PlyType> types = {
      {"char", PlyType::I8},   {"int8", PlyType::I8},     {"uchar", PlyType::U8},   {"uint8", PlyType::U8},
      {"short", PlyType::I16}, {"int16", PlyType::I16},   {"ushort", PlyType::U16}, {"uint16", PlyType::U16},
      {"int", PlyType::I32},   {"int32", PlyType::I32},   {"uint", PlyType::U32},   {"uint32", PlyType::U32},
      {"float", PlyType::F32}, {"float32", PlyType::F32}, {"double", PlyType::F64}, {"float64", PlyType::F64}};
  const auto found = types.find(word);
  if (found == types.end()) refuse(fmt::format("{}: \"{}\" is no type of PLY", where, word.substr(0, 40)));
  return found->second;
}

Promise read_ply(std::string_view bytes) {
  Lines lines(bytes);
  Words words;
  if (!lines.next(words) || words[0] != "ply") refuse("its first word is not ply");
  std::optional<std::endian> order;
  std::vector<PlyElement> elements;
  bool has_format = false, has_end = false;
  while (!has_end) {
    if (!lines.next(words)) refuse("its header does not end");
    const std::string where = lines.where();
    const auto expect = [&](bool condition) {
      if (!condition) refuse(fmt::format("{}: its header cannot be read", where));
    };
    if (words[0] == "end_header") {
      has_end = true;
    } else if (words[0] == "format") {
      expect(words.size() >= 2);
      has_format = true;
      if (words[1] == "binary_little_endian")
        order = std::endian::little;
      else if (words[1] == "binary_big_endian")
        order = std::endian::big;
      else
        expect(words[1] == "ascii");
    } else if (words[0] == "element") {
      expect(words.size() == 3);
      elements.push_back({std::string(words[1]), count_of(words[2], where, bytes.size()), {}});
    } else if (words[0] == "property") {
      expect(!elements.empty() && words.size() >= 3);
      PlyProperty property{std::string(words.back()), PlyType::F32, std::nullopt};
      if (words[1] == "list") {
        expect(words.size() == 5);
        property.count = ply_type(words[2], where), property.type = ply_type(words[3], where);
      } else {
        expect(words.size() == 3);
        property.type = ply_type(words[1], where);
      }
      elements.back().properties.push_back(std::move(property));
    } else {
      expect(words[0] == "comment" || words[0] == "obj_info");
    }
  }
  if (!has_format) refuse("its header names no format");

  Promise promise;
  std::vector<Vec3> vertices;
  std::vector<long> corners;
  PlyBody body(lines, bytes.substr(lines.at()), order);
  for (const auto& element : elements) {
    const bool is_vertex = element.name == "vertex", is_face = element.name == "face";
    if (element.name == "tristrips" && element.count > 0)
      refuse("its faces are strips of triangles", "export polygons");
    const auto has = [&](std::string_view name) {
      return std::any_of(element.properties.begin(), element.properties.end(),
                         [&](const PlyProperty& p) { return p.name == name; });
    };
    if (is_vertex && !(has("x") && has("y") && has("z"))) refuse("its vertices have no x, y and z");
    if (is_face && element.count > 0 && !has("vertex_indices") && !has("vertex_index"))
      refuse("its faces have no vertex_indices");
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
        if (size < 0) refuse(fmt::format("{} has a list of {} values", body.where(), size));
        const bool is_corners = is_face && (property.name == "vertex_indices" || property.name == "vertex_index");
        corners.clear();
        for (long k = 0; k < size; ++k)
          if (is_corners)
            corners.push_back(body.whole(property.type));
          else
            (void)body.value(property.type);
        if (is_corners) add_face(promise.tally, vertices, corners, body.where());
      }
      body.end();
      if (is_vertex) vertices.push_back(p);
    }
  }
  body.require_end();
  return promise;
}

}  // namespace

Promise read_promise(const std::string& extension, std::string_view bytes, const BufferSource& buffers) {
  if (extension == ".obj") return read_obj(bytes);
  if (extension == ".off") return read_off(bytes);
  if (extension == ".stl") return read_stl(bytes);
  if (extension == ".ply") return read_ply(bytes);
  return read_gltf_promise(bytes, buffers);
}

}  // namespace holdfast::geometry::detail
