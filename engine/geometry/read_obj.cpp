// SPDX-License-Identifier: GPL-3.0-or-later
#include <fmt/format.h>

#include <algorithm>
#include <map>

#include "mesh_text_impl.h"

namespace holdfast::geometry::detail {

namespace {

constexpr std::string_view space = " \t\v\f";

std::string_view trimmed(std::string_view text) {
  const std::size_t start = std::min(text.find_first_not_of(space), text.size());
  return text.substr(start, text.find_last_not_of(space) + 1 - std::min(start, text.find_last_not_of(space) + 1));
}

/// Words that say nothing of surfaces.
bool is_without_surface(std::string_view key) {
  static const std::vector<std::string_view> words = {
      "vn",     "vt",    "vp",       "l",        "p",   "o",          "g",         "s",  "usemtl", "mtllib",
      "usemap", "bevel", "c_interp", "d_interp", "lod", "shadow_obj", "trace_obj", "mg", "maplib"};
  return std::find(words.begin(), words.end(), key) != words.end();
}

}  // namespace

RawMesh read_obj(std::string_view text, const std::string& node) {
  RawMesh out;
  auto& vertices = out.mesh.vertices;
  std::vector<std::uint32_t> corners;        // of all faces, counted from 0
  std::vector<std::uint32_t> sizes;          // corners of each face
  std::vector<bool> is_named;                // each face, where a node is named
  std::vector<std::uint32_t> group_of_face;  // the object or group that the line before it names last
  std::vector<std::string> groups = {""};
  std::map<std::string, std::uint32_t> group_of_name = {{"", 0}};
  std::uint32_t group = 0;
  bool is_in_object = false, is_in_group = false;
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
    line = trimmed(line.substr(0, line.find('#')));
    if (line.empty()) continue;
    const std::string_view key = line.substr(0, line.find_first_of(space));
    if (key == "v") {
      lines.split(line, words);
      // x y z, then a weight, or a colour, or both.
      if (words.size() < 4 || words.size() > 8)
        throw BrokenMesh{fmt::format("{}: a vertex has {} numbers", lines.where(), words.size() - 1)};
      Vec3 p;
      for (int i = 0; i < 3; ++i) p[i] = number_of(words[static_cast<std::size_t>(i) + 1], lines);
      if (words.size() == 5) p /= number_of(words[4], lines);
      vertices.push_back(p);
      check_mesh_size(vertices.size(), 0);
      lines.require_end();
    } else if (key == "f") {
      lines.split(line, words);
      const std::size_t size = words.size() - 1;
      if (size < 3) throw BrokenMesh{fmt::format("{}: a face has {} corners", lines.where(), size)};
      for (std::size_t i = 1; i < words.size(); ++i) {
        const long index = whole_of(words[i].substr(0, words[i].find('/')), lines);
        const long corner = index > 0 ? index - 1 : static_cast<long>(vertices.size()) + index;
        if (index == 0 || corner < 0 || corner >= static_cast<long>(most_mesh_vertices))
          throw BrokenMesh{fmt::format("{}: a face names vertex {}, which is not there", lines.where(), index)};
        corners.push_back(static_cast<std::uint32_t>(corner));
      }
      sizes.push_back(static_cast<std::uint32_t>(size));
      check_mesh_size(vertices.size(), corners.size() - 2 * sizes.size());
      if (!node.empty()) is_named.push_back(is_in_object || is_in_group);
      group_of_face.push_back(group);
      lines.require_end();
    } else if (!is_without_surface(key)) {
      throw BrokenMesh{fmt::format("{}: \"{}\" is not read", lines.where(), shown(key)),
                       "export polygons (v and f), no curved surfaces and no calls of other files"};
    } else if (key == "o" || key == "g") {
      const std::string_view name = trimmed(line.substr(1));
      const auto [known, is_new] =
          group_of_name.try_emplace(std::string(name), static_cast<std::uint32_t>(groups.size()));
      if (is_new) groups.emplace_back(name);
      group = known->second;
      (key == "o" ? is_in_object : is_in_group) = name == node;
    }
  }
  if (!node.empty() && group_of_name.count(node) == 0) {
    std::sort(groups.begin(), groups.end());
    refuse_node(node, {groups.begin() + 1, groups.end()});  // the first is no name
  }

  std::vector<bool> is_used(vertices.size());
  PolygonCutter cutter(out.mesh);
  std::vector<std::uint32_t> face;
  std::size_t first = 0;
  for (std::size_t f = 0; f < sizes.size(); first += sizes[f++]) {
    face.assign(corners.begin() + static_cast<std::ptrdiff_t>(first),
                corners.begin() + static_cast<std::ptrdiff_t>(first + sizes[f]));
    for (const auto corner : face) {
      if (corner >= vertices.size())
        throw BrokenMesh{fmt::format("face {} names vertex {}, and there are {}", f + 1, corner + 1, vertices.size())};
      is_used[corner] = true;
    }
    if (node.empty() || is_named[f]) cutter.add(face, face.size() == 3 ? "" : fmt::format("face {}", f + 1));
    out.end_node(groups[group_of_face[f]]);
  }
  const auto unused_count = std::count(is_used.begin(), is_used.end(), false);
  if (unused_count > 0 && !sizes.empty())
    out.remarks.push_back(
        fmt::format("{} of {} vertices belong to no face: was the file cut off? OBJ does not say how many faces it has",
                    unused_count, vertices.size()));
  return out;
}

}  // namespace holdfast::geometry::detail
