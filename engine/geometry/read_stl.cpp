// SPDX-License-Identifier: GPL-3.0-or-later
#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cctype>

#include "mesh_text_impl.h"

namespace holdfast::geometry::detail {

namespace {

constexpr std::size_t header = 84, record = 50, normal = 12;

void add_facet(TriangleMesh& mesh, const std::array<Vec3, 3>& corners) {
  const auto n = static_cast<std::uint32_t>(mesh.vertices.size());
  mesh.vertices.insert(mesh.vertices.end(), corners.begin(), corners.end());
  mesh.triangles.push_back({n, n + 1, n + 2});
}

RawMesh read_binary_stl(std::string_view bytes) {
  if (bytes.size() < header) throw BrokenMesh{"it is no STL file"};
  const std::size_t count = little_endian(bytes, header - 4, 4), room = (bytes.size() - header) / record;
  if (bytes.size() != header + count * record)
    throw BrokenMesh{fmt::format("its header counts {} triangles, and it has {}{}", count, room,
                                 (bytes.size() - header) % record == 0 ? "" : " and part of one")};
  check_mesh_size(3 * count, count);
  RawMesh out;
  out.mesh.vertices.reserve(3 * count), out.mesh.triangles.reserve(count);
  for (std::size_t f = 0; f < count; ++f) {
    std::array<Vec3, 3> corners;
    for (std::size_t corner = 0; corner < 3; ++corner)
      for (std::size_t k = 0; k < 3; ++k)
        corners[corner][static_cast<Eigen::Index>(k)] =
            single_precision_at(bytes, header + f * record + normal + 12 * corner + 4 * k);
    add_facet(out.mesh, corners);
  }
  return out;
}

RawMesh read_text_stl(std::string_view text, const std::string& node) {
  RawMesh out;
  Lines lines(text);
  Words words;
  bool is_in_solid = false, is_in_facet = false, is_in_loop = false, is_named = false;
  std::vector<std::string> names;
  std::array<Vec3, 3> facet;
  std::size_t corners = 0;
  std::string key;
  while (lines.next(words)) {
    key.assign(words[0]);
    std::transform(key.begin(), key.end(), key.begin(),
                   [](unsigned char c) { return static_cast<char>(std::tolower(c)); });
    const auto expect = [&](bool condition) {
      if (!condition) throw BrokenMesh{fmt::format("{}: \"{}\" is out of its order", lines.where(), shown(key))};
    };
    if (key == "vertex") {
      expect(is_in_facet && is_in_loop && words.size() == 4);
      if (corners == 3) throw BrokenMesh{fmt::format("{}: a facet has more than 3 corners", lines.where())};
      for (int k = 0; k < 3; ++k) facet[corners][k] = number_of(words[static_cast<std::size_t>(k) + 1], lines);
      ++corners;
    } else if (key == "facet") {
      expect(is_in_solid && !is_in_facet), is_in_facet = true, corners = 0;
    } else if (key == "outer") {
      expect(is_in_facet && !is_in_loop), is_in_loop = true;
    } else if (key == "endloop") {
      expect(is_in_facet && is_in_loop), is_in_loop = false;
    } else if (key == "endfacet") {
      expect(is_in_facet && !is_in_loop), is_in_facet = false;
      if (corners != 3) throw BrokenMesh{fmt::format("{}: a facet has {} corners", lines.where(), corners)};
      if (node.empty() || is_named) add_facet(out.mesh, facet);
      check_mesh_size(out.mesh.vertices.size(), out.mesh.triangles.size());
    } else if (key == "solid") {
      expect(!is_in_solid), is_in_solid = true;
      const std::string name =
          words.size() < 2
              ? std::string()
              : std::string(words[1].data(),
                            static_cast<std::size_t>(words.back().data() - words[1].data()) + words.back().size());
      if (!name.empty() && names.size() < most_face_corners) names.push_back(name);
      is_named = name == node;
    } else if (key == "endsolid") {
      expect(is_in_solid && !is_in_facet), is_in_solid = false;
    } else {
      throw BrokenMesh{fmt::format("{}: \"{}\" is no word of STL", lines.where(), shown(key))};
    }
  }
  if (is_in_solid) throw BrokenMesh{"it ends before `endsolid`: it was cut off"};
  if (!node.empty() && std::find(names.begin(), names.end(), node) == names.end()) refuse_node(node, names);
  return out;
}

}  // namespace

RawMesh read_stl(std::string_view bytes, const std::string& node) {
  const std::size_t start = std::min(bytes.find_first_not_of(" \t\r\n"), bytes.size());
  constexpr std::size_t looked_at = 1000;
  const std::string_view head = bytes.substr(0, looked_at), first = bytes.substr(start, 5);
  constexpr std::string_view word = "solid";
  // Binary headers may begin with "solid" too; their length tells.
  const bool is_binary =
      bytes.size() >= header && bytes.size() == header + little_endian(bytes, header - 4, 4) * record;
  const bool is_text = !is_binary &&
                       std::equal(first.begin(), first.end(), word.begin(), word.end(),
                                  [](unsigned char a, char b) { return std::tolower(a) == b; }) &&
                       std::all_of(head.begin(), head.end(), [](char c) {
                         return c == '\t' || c == '\n' || c == '\r' || static_cast<unsigned char>(c) >= 32;
                       });
  if (is_text) return read_text_stl(bytes, node);
  if (!node.empty() && is_binary) refuse_node(node, {});
  return read_binary_stl(bytes);
}

}  // namespace holdfast::geometry::detail
