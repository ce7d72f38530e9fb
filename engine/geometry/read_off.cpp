// SPDX-License-Identifier: GPL-3.0-or-later
#include <fmt/format.h>

#include "mesh_text_impl.h"

namespace holdfast::geometry::detail {

RawMesh read_off(std::string_view text, const std::string& node) {
  if (!node.empty()) refuse_node(node, {});
  RawMesh out;
  Lines lines(text);
  Words words;
  if (!lines.next(words, '#')) throw BrokenMesh{"it is empty"};
  const std::string_view header = words[0];
  const std::size_t prefix = header.find("OFF");
  if (prefix == std::string_view::npos || prefix + 3 != header.size()) throw BrokenMesh{"its first word is not OFF"};
  if (header.find_first_of("4n") < prefix)
    throw BrokenMesh{"its vertices have more than three coordinates", "export it with three"};
  if (words.size() > 1 && words[1] == "BINARY")
    throw BrokenMesh{"it is a binary OFF file", "export it as text, or as PLY or GLB"};
  Words counts(words.begin() + 1, words.end());
  if (counts.empty() && !lines.next(counts, '#')) throw BrokenMesh{"it ends before its counts"};
  if (counts.size() < 2 || counts.size() > 3)
    throw BrokenMesh{lines.where() + ": it should give the vertices, faces and edges"};
  const std::size_t vertex_count = count_of(counts[0], lines, text.size());
  const std::size_t face_count = count_of(counts[1], lines, text.size());
  check_mesh_size(vertex_count, face_count);

  std::size_t width = 0;
  for (std::size_t i = 0; i < vertex_count; ++i) {
    if (!lines.next(words, '#'))
      throw BrokenMesh{fmt::format("its header counts {} vertices, and it has {}", vertex_count, i)};
    if (words.size() < 3) throw BrokenMesh{fmt::format("{}: a vertex has {} coordinates", lines.where(), words.size())};
    if (i == 0) width = words.size();
    if (words.size() != width)
      throw BrokenMesh{
          fmt::format("{}: a vertex has {} numbers, and those before {}", lines.where(), words.size(), width)};
    Vec3 p;
    for (int k = 0; k < 3; ++k) p[k] = number_of(words[static_cast<std::size_t>(k)], lines);
    out.mesh.vertices.push_back(p);
  }
  // A corner count that is too small makes the corners beyond it a colour.
  std::size_t colour = 0;
  std::vector<long> corners;
  std::vector<std::uint32_t> scratch;
  PolygonCutter cutter(out.mesh);
  for (std::size_t i = 0; i < face_count; ++i) {
    if (!lines.next(words, '#'))
      throw BrokenMesh{fmt::format("its header counts {} faces, and it has {}", face_count, i)};
    const long size = whole_of(words[0], lines);
    if (size < 3 || static_cast<std::size_t>(size) >= words.size())
      throw BrokenMesh{
          fmt::format("{}: a face says that it has {} corners, and names {}", lines.where(), size, words.size() - 1)};
    const std::size_t further = words.size() - 1 - static_cast<std::size_t>(size);
    if (i == 0) colour = further;
    if (further != colour)
      throw BrokenMesh{fmt::format("{}: a face of {} corners has {} numbers more, and those before {}", lines.where(),
                                   size, further, colour)};
    corners.clear();
    for (std::size_t k = 1; k <= static_cast<std::size_t>(size); ++k) corners.push_back(whole_of(words[k], lines));
    add_face(cutter, out.mesh.vertices.size(), corners, scratch, [&] { return lines.where(); });
  }
  lines.require_end();
  if (lines.next(words, '#'))
    throw BrokenMesh{fmt::format("{}: there is more than the {} vertices and {} faces that its header counts",
                                 lines.where(), vertex_count, face_count)};
  return out;
}

}  // namespace holdfast::geometry::detail
