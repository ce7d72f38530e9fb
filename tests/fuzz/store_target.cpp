// SPDX-License-Identifier: GPL-3.0-or-later
// The first byte chooses the content, the second how: the rest is the content itself, or changes to a sound one, three
// bytes each (where, and by what), so that what is behind counts and lengths is reached.

#include <unistd.h>

#include <array>
#include <fstream>
#include <sstream>

#include "holdfast/cable/cable.h"
#include "holdfast/cable/span_store.h"
#include "holdfast/check/kept_buried.h"
#include "holdfast/geometry/kept_scene.h"
#include "kept_graph_impl.h"
#include "kept_mesh_impl.h"
#include "mesh_scene.h"
#include "targets.h"

namespace holdfast::fuzz {

namespace {

namespace fs = std::filesystem;

std::string changed(std::string body, std::string_view changes) {
  if (body.empty()) return body;
  for (; changes.size() >= 3; changes.remove_prefix(3)) {
    const auto at = static_cast<unsigned char>(changes[0]) * 256u + static_cast<unsigned char>(changes[1]);
    // The last of all places cuts it short there.
    if (at == 0xFFFF)
      body.resize(body.size() * static_cast<unsigned char>(changes[2]) / 256);
    else if (!body.empty())
      body[at * 7919u % body.size()] ^= changes[2];
  }
  return body;
}

/// The small model with a mesh on its drum, its graph, and a folder where one thing is kept.
class Kept {
 public:
  Kept() : folder_(fs::temp_directory_path() / ("holdfast-fuzz-kept-" + std::to_string(::getpid()))) {
    fs::remove_all(folder_);
    fs::create_directories(folder_);
    geometry::TriangleMesh box;
    for (int corner = 0; corner < 8; ++corner)
      box.vertices.push_back(model::Vec3(corner & 1 ? 1 : 0, corner & 2 ? 1 : 0, corner & 4 ? 1 : 0));
    for (const auto& quad : {std::array<std::uint32_t, 4>{0, 2, 3, 1},
                             {4, 5, 7, 6},
                             {0, 1, 5, 4},
                             {2, 6, 7, 3},
                             {0, 4, 6, 2},
                             {1, 3, 7, 5}})
      box.triangles.push_back({quad[0], quad[1], quad[2]}), box.triangles.push_back({quad[0], quad[2], quad[3]});
    support::write_obj(folder_ / "box.obj", box);
    support::YardBuilder yard;
    yard.structure = small_model().structure;
    const model::MeshFile file{.file = "box.obj"};
    yard.part("box", file, model::Pose(Eigen::Translation3d(2, 0, 3)));
    yard.structure.folder = folder_;
    std::ostringstream written;
    written << std::ifstream(folder_ / "box.obj", std::ios::binary).rdbuf();
    yard.structure.files.push_back({"box.obj", ::holdfast::model::digest_of(written.str())});
    world_ = std::make_unique<support::World>(yard.structure);
    const auto& part = world_->structure.parts.back();
    mesh_ = geometry::detail::pack(
        geometry::detail::make_clean_mesh(part, file, world_->structure, model::Pose::Identity()));
    graph_ = graph::detail::pack(world_->graph);
    const ::holdfast::store::Store store(folder_ / "kept");
    buried_ = check::find_buried_rails(world_->scene, &store).size();
    for (const auto& entry : fs::directory_iterator(folder_ / "kept"))
      if (entry.path().extension() == ".buried") file_ = entry.path();
    std::ostringstream bytes;
    bytes << std::ifstream(file_, std::ios::binary).rdbuf();
    // The key stands behind the build.
    const auto build = bytes.str().find(::holdfast::store::engine_build());
    require(build != std::string::npos, "nothing was kept");
    key_ = bytes.str().substr(build + 64, 64);
    require(::holdfast::store::opened(bytes.str(), "buried", key_).has_value(), "the key stands elsewhere");
  }
  Kept(const Kept&) = delete;
  Kept& operator=(const Kept&) = delete;
  ~Kept() { fs::remove_all(folder_); }

  [[nodiscard]] const std::string& mesh() const { return mesh_; }
  [[nodiscard]] const std::string& graph() const { return graph_; }
  [[nodiscard]] const support::World& world() const { return *world_; }

  /// Any bytes as the file of what is kept of the rails inside of parts.
  void read_file(const std::string& bytes) const {
    std::ofstream(file_, std::ios::binary) << bytes;
    const ::holdfast::store::Store store(folder_ / "kept");
    for (const auto& rail : check::find_buried_rails(world_->scene, &store))
      require(rail.rail.index() < world_->structure.rails.size() &&
                  rail.part.index() < world_->structure.parts.size() && rail.at.allFinite(),
              "a rail or part that is not there");
  }
  void read_body(const std::string& body) const { read_file(::holdfast::store::sealed("buried", key_, body)); }
  /// What is no whole entry is made anew.
  void read_damaged(const std::string& bytes) const {
    read_file(bytes);
    const ::holdfast::store::Store store(folder_ / "kept");
    require(check::find_buried_rails(world_->scene, &store).size() == buried_, "damage that was believed");
  }

 private:
  fs::path folder_, file_;
  std::string key_, mesh_, graph_;
  std::size_t buried_ = 0;
  std::unique_ptr<support::World> world_;
};

cable::SpanTable sound_spans() {
  cable::SpanTable table;
  for (std::uint32_t a = 0; a < 3; ++a) {
    cable::Span span;
    span.a = a, span.b = a + 1;
    span.over.resize(a);
    for (auto& point : span.over) point.at = model::Vec3(1, 2, 3), point.part = model::PartId(0);
    table.spans.push_back(span);
  }
  cable::NoSpan none;
  none.a = 0, none.b = 3, none.value_m = 1;
  table.missing.push_back(none);
  return table;
}

}  // namespace

void store(std::string_view input) {
  if (input.size() < 2) return;
  static const Kept kept;
  static const std::string key(64, 'a');
  const bool is_raw = (input[1] & 1) != 0;
  const auto rest = input.substr(2);
  const auto body_of = [&](const std::string& sound) { return is_raw ? std::string(rest) : changed(sound, rest); };
  switch (static_cast<unsigned char>(input[0]) % 5) {
    case 0: {  // a whole file: what was sealed opens, and nothing else
      const std::string sound = ::holdfast::store::sealed("graph", key, "a body of some bytes");
      const std::string bytes = body_of(sound);
      const auto body = ::holdfast::store::opened(bytes, "graph", key);
      require(body.has_value() == (bytes == sound), "an entry is opened that was not sealed, or is not opened");
      break;
    }
    case 1: {
      const std::string body = body_of(kept.mesh());
      if (const auto mesh = geometry::detail::unpack_clean_mesh(body))
        require(geometry::detail::pack(*mesh) == body, "a mesh is read as another");
      break;
    }
    case 2: {
      const auto& world = kept.world();
      const std::string body = body_of(kept.graph());
      if (auto parts = graph::detail::unpack_graph(body, world.structure))
        require(
            graph::detail::pack(graph::detail::assemble(world.scene, world.graph.body(), std::move(*parts))) == body,
            "a graph is read as another");
      break;
    }
    case 3: {
      const std::string sound = cable::pack_spans(sound_spans(), key);
      const std::string body = body_of(std::string(*::holdfast::store::opened(sound, "spans", key)));
      if (const auto table = cable::unpack_spans(::holdfast::store::sealed("spans", key, body), key, 4, 1))
        require(*::holdfast::store::opened(cable::pack_spans(*table, key), "spans", key) == body,
                "spans are read as others");
      break;
    }
    default:
      is_raw ? kept.read_damaged(std::string(rest)) : kept.read_body(std::string(rest));
  }
}

}  // namespace holdfast::fuzz
