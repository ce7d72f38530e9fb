// SPDX-License-Identifier: GPL-3.0-or-later
#include "kept_mesh_impl.h"

#include <tbb/parallel_for.h>
#include <tbb/parallel_invoke.h>

#include <algorithm>
#include <filesystem>

#include "mesh_file_impl.h"
#include "primitive_impl.h"
#include "soup_impl.h"
#include "tessellate_impl.h"

namespace holdfast::geometry::detail {

namespace {

constexpr std::string_view kind = "mesh";

/// Vertices, corners and nodes are copied as they lie in memory.
constexpr std::size_t point_size = 3 * sizeof(double), corners_size = 3 * sizeof(std::uint32_t);
static_assert(sizeof(Vec3) == point_size && sizeof(std::array<std::uint32_t, 3>) == corners_size);
static_assert(std::is_trivially_copyable_v<Bvh::Node> &&
              sizeof(Bvh::Node) == 6 * sizeof(float) + 2 * sizeof(std::uint32_t));

template <class T>
void put_things(store::Writer& out, std::span<const T> things) {
  out.put(static_cast<std::uint64_t>(things.size()));
  out.put_raw(things.data(), things.size_bytes());
}
template <class T>
std::vector<T> take_things(store::Reader& in) {
  const auto count = in.take_count(sizeof(T));
  const auto bytes = in.take_bytes(count, sizeof(T));
  std::vector<T> things(bytes.size() / sizeof(T));
  if (!bytes.empty()) std::memcpy(static_cast<void*>(things.data()), bytes.data(), bytes.size());
  return things;
}

void add_boxes(const TriangleMesh& mesh, std::vector<Bounds>& boxes) {
  for (const auto& t : mesh.triangles)
    boxes.push_back(bounds_of(Triangle{{mesh.vertices[t[0]], mesh.vertices[t[1]], mesh.vertices[t[2]]}}));
}

Bvh hierarchy_of(std::span<const CleanShell> shells) {
  std::vector<Bounds> boxes;
  std::size_t count = 0;
  for (const auto& shell : shells) count += shell.mesh.triangles.size();
  boxes.reserve(count);
  for (const auto& shell : shells) add_boxes(shell.mesh, boxes);
  return Bvh(boxes);
}

}  // namespace

CleanMesh make_clean_mesh(const model::Part& part, const model::MeshFile& file, const model::Structure& structure,
                          const model::Pose& pose) {
  CleanMesh made;
  auto read = read_mesh(part, file, structure);
  made.remarks = std::move(read.remarks);
  made.triangles = read.mesh.triangles.size();
  transform(read.mesh, pose);
  auto clean = clean_soup(read.mesh);
  made.degenerate = clean.degenerate, made.duplicate = clean.duplicate;
  made.shells.resize(clean.shells.size());
  std::vector<std::size_t> cuts(clean.shells.size(), 0);
  for (std::size_t i = 0; i < clean.shells.size(); ++i) {
    auto& from = clean.shells[i];
    auto& to = made.shells[i];
    to.is_closed = from.is_closed, to.was_flipped = from.was_flipped;
    to.mesh = std::move(from.mesh);
  }
  const auto index_all = [&] { made.hierarchy = hierarchy_of(made.shells); };
  const auto look_at_each = [&] {
    tbb::parallel_for(std::size_t{0}, made.shells.size(), [&](std::size_t i) {
      auto& shell = made.shells[i];
      if (!shell.is_closed) return;
      if (made.shells.size() > 1) shell.hierarchy = hierarchy_of({&shell, 1});
      if (shell.mesh.triangles.size() <= most_tested_triangles) cuts[i] = count_self_intersections(shell.mesh);
    });
  };
  tbb::parallel_invoke(index_all, look_at_each);
  if (made.shells.size() == 1 && made.shells[0].is_closed) made.shells[0].hierarchy = made.hierarchy;  // the same
  for (std::size_t i = 0; i < cuts.size(); ++i) {
    made.cuts += cuts[i];
    made.has_untested_shells = made.has_untested_shells || made.shells[i].mesh.triangles.size() > most_tested_triangles;
  }
  return made;
}

std::string clean_mesh_key(const model::MeshFile& file, const model::Structure& structure, const model::Pose& pose) {
  const auto& [name, node, unit_m, up] = file;
  store::Writer all;
  all.put(kind_of(name)), all.put(node), all.put(unit_m), all.put(up), all.put(pose.matrix());
  const auto normal = std::filesystem::path(name).lexically_normal();
  const std::string file_name = normal.filename().string();
  const bool may_name_others = kind_of(name) == ".gltf" || kind_of(name) == ".glb";
  bool is_digested = false;
  for (const auto& [path, sha256] : structure.files) {
    // Most names differ at their end already, which is seen sooner.
    const bool is_it = path.ends_with(file_name) && std::filesystem::path(path).lexically_normal() == normal;
    is_digested = is_digested || is_it;
    // Buffers stand beside in other files; which, only the file says: all are taken, so that none is missed.
    if (is_it || may_name_others) all.put(path), all.put(sha256);
  }
  return is_digested ? model::digest_of(all.bytes()) : std::string();
}

CleanMesh find_clean_mesh(const model::Part& part, const model::MeshFile& file, const model::Structure& structure,
                          const model::Pose& pose, const store::Store* store) {
  const std::string key = store ? clean_mesh_key(file, structure, pose) : std::string();
  if (key.empty()) return make_clean_mesh(part, file, structure, pose);
  if (const auto entry = store->find(kind, key)) {
    if (auto kept = unpack_clean_mesh(entry->body())) return std::move(*kept);
    store->refuse(kind, key);
  }
  auto made = make_clean_mesh(part, file, structure, pose);
  store->put(kind, key, pack(made));
  return made;
}

void put(store::Writer& out, const Bvh& hierarchy) {
  put_things(out, hierarchy.nodes());
  put_things(out, hierarchy.items());
}

std::optional<Bvh> take_hierarchy(store::Reader& in, std::size_t count) {
  auto nodes = take_things<Bvh::Node>(in);
  auto items = take_things<std::uint32_t>(in);
  if (!in.is_good()) return std::nullopt;
  return Bvh::from(std::move(nodes), std::move(items), count);
}

std::string pack(const CleanMesh& mesh) {
  store::Writer out;
  std::size_t size = 0;
  for (const auto& shell : mesh.shells)
    size += shell.mesh.vertices.size() * point_size + shell.mesh.triangles.size() * corners_size +
            2 * shell.hierarchy.nodes().size_bytes() + 2 * shell.hierarchy.items().size_bytes();
  out.expect(size);
  for (const std::size_t number : {mesh.triangles, mesh.degenerate, mesh.duplicate, mesh.cuts, mesh.remarks.size()})
    out.put(static_cast<std::uint64_t>(number));
  for (const auto& remark : mesh.remarks) out.put(std::string_view(remark));
  out.put(mesh.has_untested_shells);
  out.put(static_cast<std::uint64_t>(mesh.shells.size()));
  for (const auto& shell : mesh.shells) {
    out.put(shell.is_closed), out.put(shell.was_flipped);
    put_things(out, std::span<const Vec3>(shell.mesh.vertices));
    put_things(out, std::span<const std::array<std::uint32_t, 3>>(shell.mesh.triangles));
    put(out, shell.hierarchy);
  }
  put(out, mesh.hierarchy);
  return out.take();
}

std::optional<CleanMesh> unpack_clean_mesh(std::string_view bytes) {
  store::Reader in(bytes);
  CleanMesh mesh;
  for (std::size_t* number : {&mesh.triangles, &mesh.degenerate, &mesh.duplicate, &mesh.cuts})
    *number = static_cast<std::size_t>(in.take<std::uint64_t>());
  constexpr std::size_t least_remark = sizeof(std::uint64_t), least_shell = 2 + 4 * sizeof(std::uint64_t);
  mesh.remarks.resize(in.take_count(least_remark));
  for (auto& remark : mesh.remarks) remark = in.take_text();
  mesh.has_untested_shells = in.take_flag();
  mesh.shells.resize(in.take_count(least_shell));
  std::size_t triangles = 0;
  for (auto& shell : mesh.shells) {
    shell.is_closed = in.take_flag(), shell.was_flipped = in.take_flag();
    shell.mesh.vertices = take_things<Vec3>(in);
    shell.mesh.triangles = take_things<std::array<std::uint32_t, 3>>(in);
    for (const auto& vertex : shell.mesh.vertices)
      if (!vertex.allFinite()) return std::nullopt;
    for (const auto& triangle : shell.mesh.triangles)
      for (const auto corner : triangle)
        if (corner >= shell.mesh.vertices.size()) return std::nullopt;
    auto hierarchy = take_hierarchy(in, shell.is_closed ? shell.mesh.triangles.size() : 0);
    if (!hierarchy) return std::nullopt;
    shell.hierarchy = std::move(*hierarchy);
    triangles += shell.mesh.triangles.size();
  }
  auto hierarchy = take_hierarchy(in, triangles);
  if (!hierarchy || !in.is_good() || !in.is_at_end()) return std::nullopt;
  mesh.hierarchy = std::move(*hierarchy);
  return mesh;
}

}  // namespace holdfast::geometry::detail
