#include "mesh_file_impl.h"

#include <assimp/MemoryIOWrapper.h>
#include <assimp/config.h>
#include <assimp/scene.h>
#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <assimp/Importer.hpp>
#include <filesystem>
#include <fstream>
#include <map>

#include "holdfast/model/mesh_references.h"
#include "mesh_promise_impl.h"

namespace Assimp {

/// Debian's assimp aborts the process where one of its assertions fails on a broken file. This definition stands before
/// its own (the library calls it as an exported symbol) and turns the failure into an exception, which read_mesh
/// reports as an unreadable file.
void aiAssertViolation(const char* expression, const char*, int);
void aiAssertViolation(const char* expression, const char*, int) {
  throw std::runtime_error(fmt::format("the importer's check {} failed", expression));
}

}  // namespace Assimp

namespace holdfast::geometry::detail {

namespace fs = std::filesystem;
using model::Diagnostic;
using model::InputError;

namespace {

constexpr double absurd_m = 1e5;

/// The mesh file and the buffers that it names, read whole. Where the structure was read from a folder, only what its
/// digest covers is opened, and it must still be what was digested: so no geometry changes under a kept digest.
class MeshFiles {
 public:
  explicit MeshFiles(const model::Structure& structure)
      : structure_(structure), root_(fs::weakly_canonical(structure.folder)) {}

  /// Throws `BrokenMesh`. `name` is relative to the model folder.
  std::string_view open(const std::string& name) {
    const std::string key = fs::path(name).lexically_normal().string();
    const auto known = bytes_.find(key);
    if (known != bytes_.end()) return known->second;
    std::error_code error;
    const fs::path path = fs::path(structure_.folder) / name;
    const fs::path real = fs::weakly_canonical(path, error);
    const auto [end_root, where] = std::mismatch(root_.begin(), root_.end(), real.begin(), real.end());
    if (error || end_root != root_.end())
      throw BrokenMesh{fmt::format("it names \"{}\", which is not below the model folder", name),
                       "copy the file into the model folder"};
    std::ifstream in(path, std::ios::binary);
    if (!fs::is_regular_file(path, error) || !in)
      throw BrokenMesh{fmt::format("\"{}\" does not exist", name), "names are relative to the model folder"};
    std::string bytes(std::istreambuf_iterator<char>(in), {});
    if (!structure_.files.empty()) {
      const auto digested =
          std::find_if(structure_.files.begin(), structure_.files.end(),
                       [&](const model::ModelFile& file) { return fs::path(file.path).lexically_normal() == key; });
      if (digested == structure_.files.end() || digested->sha256 != model::digest_of(bytes))
        throw BrokenMesh{fmt::format("\"{}\" changed while the model was read", name), "run the command again"};
    }
    return bytes_.emplace(key, std::move(bytes)).first->second;
  }
  /// Nothing when it was not opened before: the importer is given no other file.
  [[nodiscard]] std::optional<std::string_view> find(const std::string& name) const {
    const auto known = bytes_.find(name);
    return known == bytes_.end() ? std::nullopt : std::optional<std::string_view>(known->second);
  }

 private:
  const model::Structure& structure_;
  fs::path root_;
  std::map<std::string, std::string> bytes_;
};

/// Gives the importer the bytes that were read, and no file besides.
class ReadFilesIo : public Assimp::IOSystem {
 public:
  explicit ReadFilesIo(const MeshFiles& files) : files_(files) {}

  bool Exists(const char* file) const override { return find(file).has_value(); }
  char getOsSeparator() const override { return '/'; }
  Assimp::IOStream* Open(const char* file, const char* mode = "rb") override {
    const auto bytes = find(file);
    if (!bytes || std::string_view(mode).find('w') != std::string_view::npos) return nullptr;
    return new Assimp::MemoryIOStream(reinterpret_cast<const std::uint8_t*>(bytes->data()), bytes->size());
  }
  void Close(Assimp::IOStream* stream) override { delete stream; }

 private:
  /// The importer joins the mesh file's folder and the URI as they are written.
  [[nodiscard]] std::optional<std::string_view> find(const std::string& file) const {
    if (const auto bytes = files_.find(fs::path(file).lexically_normal().string())) return bytes;
    return files_.find(model::file_of_uri("", file));
  }
  const MeshFiles& files_;
};

void list_nodes(const aiNode& node, std::vector<std::string>& names) {
  if (node.mName.length > 0) names.emplace_back(node.mName.C_Str());
  for (unsigned i = 0; i < node.mNumChildren; ++i) list_nodes(*node.mChildren[i], names);
}

Eigen::Matrix4d to_eigen(const aiMatrix4x4& m) {
  Eigen::Matrix4d out;
  out << m.a1, m.a2, m.a3, m.a4, m.b1, m.b2, m.b3, m.b4, m.c1, m.c2, m.c3, m.c4, m.d1, m.d2, m.d3, m.d4;
  return out;
}

/// Triangles of a polygon by clipping ears in the plane of its Newell normal. Points and lines have no surface. Corners
/// out of range are left for the caller's check.
void add_polygon(std::vector<std::uint32_t> corners, TriangleMesh& out) {
  const bool is_known = std::all_of(corners.begin(), corners.end(), [&](auto c) { return c < out.vertices.size(); });
  if (corners.size() < 3) return;
  if (corners.size() == 3 || !is_known) {
    out.triangles.push_back({corners[0], corners[1], corners[2]});
    return;
  }
  Vec3 normal = Vec3::Zero();
  for (std::size_t i = 0; i < corners.size(); ++i)
    normal += out.vertices[corners[i]].cross(out.vertices[corners[(i + 1) % corners.size()]]);
  const auto turn = [&](std::uint32_t a, std::uint32_t b, std::uint32_t c) {
    return (out.vertices[b] - out.vertices[a]).cross(out.vertices[c] - out.vertices[b]).dot(normal);
  };
  while (corners.size() > 3) {
    const std::size_t n = corners.size();
    std::size_t ear = 0;  // where no corner is an ear (a polygon that cuts itself), the first is clipped all the same
    for (std::size_t i = 0; i < n; ++i) {
      const auto a = corners[(i + n - 1) % n], b = corners[i], c = corners[(i + 1) % n];
      if (turn(a, b, c) < 0) continue;
      const bool is_empty = std::none_of(corners.begin(), corners.end(), [&](auto p) {
        return p != a && p != b && p != c && turn(a, b, p) >= 0 && turn(b, c, p) >= 0 && turn(c, a, p) >= 0;
      });
      if (is_empty) {
        ear = i;
        break;
      }
    }
    out.triangles.push_back({corners[(ear + n - 1) % n], corners[ear], corners[(ear + 1) % n]});
    corners.erase(corners.begin() + static_cast<std::ptrdiff_t>(ear));
  }
  out.triangles.push_back({corners[0], corners[1], corners[2]});
}

void add_node(const aiScene& scene, const aiNode& node, const Eigen::Matrix4d& above, ReadMesh& read) {
  TriangleMesh& out = read.mesh;
  const Eigen::Matrix4d here = above * to_eigen(node.mTransformation);
  for (unsigned m = 0; m < node.mNumMeshes; ++m) {
    const aiMesh& mesh = *scene.mMeshes[node.mMeshes[m]];
    const auto base = static_cast<std::uint32_t>(out.vertices.size());
    for (unsigned v = 0; v < mesh.mNumVertices; ++v) {
      const auto& p = mesh.mVertices[v];
      out.vertices.push_back((here * Eigen::Vector4d(p.x, p.y, p.z, 1)).head<3>());
    }
    for (unsigned f = 0; f < mesh.mNumFaces; ++f) {
      const aiFace& face = mesh.mFaces[f];
      std::vector<std::uint32_t> corners;
      for (unsigned i = 0; i < face.mNumIndices; ++i) corners.push_back(base + face.mIndices[i]);
      add_polygon(std::move(corners), out);
    }
  }
  if (out.triangles.size() > read.node_of.size()) {
    read.node_of.resize(out.triangles.size(), static_cast<std::uint32_t>(read.nodes.size()));
    read.nodes.emplace_back(node.mName.C_Str());
  }
  for (unsigned i = 0; i < node.mNumChildren; ++i) add_node(scene, *node.mChildren[i], here, read);
}

/// What the importer gives back, to be compared with what the file promises.
Tally tally_of(const aiScene& scene) {
  Tally tally;
  for (unsigned m = 0; m < scene.mNumMeshes; ++m) {
    const aiMesh& mesh = *scene.mMeshes[m];
    for (unsigned f = 0; f < mesh.mNumFaces; ++f) {
      const aiFace& face = mesh.mFaces[f];
      if (face.mNumIndices < 3) continue;
      ++tally.faces;
      for (unsigned i = 0; i < face.mNumIndices; ++i) {
        if (face.mIndices[i] >= mesh.mNumVertices) continue;  // one corner less than promised
        const auto& p = mesh.mVertices[face.mIndices[i]];
        tally.add_corner({p.x, p.y, p.z});
      }
    }
  }
  return tally;
}

std::size_t placed_faces(const aiScene& scene, const aiNode& node) {
  std::size_t faces = 0;
  for (unsigned m = 0; m < node.mNumMeshes; ++m) {
    const aiMesh& mesh = *scene.mMeshes[node.mMeshes[m]];
    for (unsigned f = 0; f < mesh.mNumFaces; ++f) faces += mesh.mFaces[f].mNumIndices >= 3 ? 1 : 0;
  }
  for (unsigned i = 0; i < node.mNumChildren; ++i) faces += placed_faces(scene, *node.mChildren[i]);
  return faces;
}

/// Rotation that takes the file's up-axis to +z.
Eigen::Matrix3d turn_up(const std::string& up) {
  if (up == "y") return Eigen::AngleAxisd(EIGEN_PI / 2, Vec3::UnitX()).toRotationMatrix();
  if (up == "x") return Eigen::AngleAxisd(-EIGEN_PI / 2, Vec3::UnitY()).toRotationMatrix();
  return Eigen::Matrix3d::Identity();
}

}  // namespace

ReadMesh read_mesh(const model::Part& part, const model::MeshFile& mesh, const model::Structure& structure) {
  const auto refuse = [&](const std::string& why, std::string remedy) {
    throw InputError({Diagnostic{part.mark, "shape.mesh", "bad-mesh",
                                 fmt::format("part \"{}\": mesh file \"{}\": {}", part.id, mesh.file, why), mesh.file,
                                 std::move(remedy)}});
  };
  std::string extension = fs::path(mesh.file).extension().string();
  std::transform(extension.begin(), extension.end(), extension.begin(),
                 [](unsigned char c) { return static_cast<char>(std::tolower(c)); });
  static const std::vector<std::string> known = {".obj", ".ply", ".stl", ".off", ".gltf", ".glb"};
  if (std::find(known.begin(), known.end(), extension) == known.end())
    refuse("this kind of file is not read", "export it as OBJ, PLY, STL, OFF, glTF or GLB");

  MeshFiles files(structure);
  Promise promise;
  try {
    const auto bytes = files.open(mesh.file);
    promise = read_promise(extension, bytes, [&](const std::string& uri) {
      const auto file = model::file_of_uri(mesh.file, uri);
      if (file.empty()) throw BrokenMesh{"a buffer is not in a file of the model folder", "export it with its buffers"};
      return files.open(file);
    });
  } catch (const BrokenMesh& broken) {
    refuse(broken.why, broken.remedy);
  }

  Assimp::Importer importer;
  importer.SetIOHandler(new ReadFilesIo(files));  // the importer deletes it
  importer.SetPropertyBool(AI_CONFIG_IMPORT_NO_SKELETON_MESHES, true);
  const aiScene* scene = nullptr;
  try {
    scene = importer.ReadFile("./" + mesh.file, 0);
  } catch (const std::exception& thrown) {
    refuse(fmt::format("it cannot be read ({})", thrown.what()), "export it again");
  }
  if (!scene || !scene->mRootNode)
    refuse(fmt::format("it cannot be read ({})", importer.GetErrorString()), "export it again");
  const Tally tally = tally_of(*scene);
  if (!promise.tally.agrees_with(tally))
    refuse(fmt::format("it has {} faces with {} corners, and {} with {} came back, or elsewhere", promise.tally.faces,
                       promise.tally.corners, tally.faces, tally.corners),
           "export it as triangles, or as another kind of file");
  if (const auto placed = placed_faces(*scene, *scene->mRootNode);
      promise.placed_faces && *promise.placed_faces != placed)
    refuse(fmt::format("its nodes have {} faces, and {} came back", *promise.placed_faces, placed), "export it again");

  const aiNode* node = scene->mRootNode;
  if (!mesh.node.empty()) {
    node = scene->mRootNode->FindNode(mesh.node.c_str());
    if (!node) {
      std::vector<std::string> names;
      list_nodes(*scene->mRootNode, names);
      const auto near = model::nearest_names(mesh.node, names);
      refuse(fmt::format("it has no node \"{}\"", mesh.node),
             near.empty() ? fmt::format("it has {} named nodes", names.size())
                          : fmt::format("did you mean {}?", fmt::join(near, ", ")));
    }
  }
  // A named node keeps its place in the file: the transforms above it apply.
  Eigen::Matrix4d above = Eigen::Matrix4d::Identity();
  for (const aiNode* n = node->mParent; n; n = n->mParent) above = to_eigen(n->mTransformation) * above;
  ReadMesh read{{}, std::move(promise.remarks), {}, {}};
  TriangleMesh& out = read.mesh;
  add_node(*scene, *node, above, read);

  const Eigen::Matrix3d turn = mesh.unit_m * turn_up(mesh.up);
  for (auto& v : out.vertices) {
    v = turn * v;
    if (!v.allFinite()) refuse("it has a vertex that is not finite", "repair it where it was made");
    if (v.cwiseAbs().maxCoeff() > absurd_m)
      refuse(fmt::format("it reaches {:.3g} m from its origin", v.cwiseAbs().maxCoeff()), "check `units:`");
  }
  for (const auto& t : out.triangles)
    for (const auto corner : t)
      if (corner >= out.vertices.size()) refuse("a triangle names a vertex that is not there", "export it again");
  if (out.triangles.empty()) refuse("it has no triangles", "export surfaces, not points, lines or curves");
  return read;
}

}  // namespace holdfast::geometry::detail
