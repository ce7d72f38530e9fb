#include "mesh_file_impl.h"

#include <assimp/DefaultIOSystem.h>
#include <assimp/config.h>
#include <assimp/scene.h>
#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <assimp/Importer.hpp>
#include <filesystem>
#include <fstream>
#include <nlohmann/json.hpp>
#include <sstream>

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

/// Opens nothing outside the model folder: a glTF file may name other files.
class FolderIo : public Assimp::DefaultIOSystem {
 public:
  explicit FolderIo(const fs::path& root) : root_(fs::weakly_canonical(root)) {}

  bool Exists(const char* file) const override { return is_inside(file) && DefaultIOSystem::Exists(file); }
  Assimp::IOStream* Open(const char* file, const char* mode = "rb") override {
    return is_inside(file) ? DefaultIOSystem::Open(file, mode) : nullptr;
  }

 private:
  bool is_inside(const char* file) const {
    std::error_code error;
    const fs::path real = fs::weakly_canonical(file, error);
    const auto [end_root, where] = std::mismatch(root_.begin(), root_.end(), real.begin(), real.end());
    return !error && end_root == root_.end();
  }
  fs::path root_;
};

/// Faults of a glTF document that assimp 5.2 reads past without noticing: views beyond their buffer, accessors beyond
/// their view. Empty when there is none. Sizes by the glTF 2.0 specification, section 3.6.
std::string find_gltf_fault(const nlohmann::json& gltf) {
  const auto list = [&](const char* key) -> const nlohmann::json& {
    static const nlohmann::json none = nlohmann::json::array();
    const auto found = gltf.find(key);
    return found != gltf.end() && found->is_array() ? *found : none;
  };
  const auto number = [](const nlohmann::json& object, const char* key, double otherwise) {
    const auto found = object.find(key);
    return found != object.end() && found->is_number() ? found->get<double>() : otherwise;
  };
  const auto& buffers = list("buffers");
  const auto& views = list("bufferViews");
  const auto& accessors = list("accessors");
  for (const auto& buffer : buffers)
    if (!buffer.is_object() || number(buffer, "byteLength", 0) < 1) return "a buffer has no length";
  for (const auto& view : views) {
    if (!view.is_object()) return "a buffer view is no object";
    const double buffer = number(view, "buffer", -1);
    if (buffer < 0 || buffer >= static_cast<double>(buffers.size()))
      return "a buffer view names a buffer that is not there";
    const double end = number(view, "byteOffset", 0) + number(view, "byteLength", 0);
    if (number(view, "byteOffset", 0) < 0 || end > number(buffers[static_cast<std::size_t>(buffer)], "byteLength", 0))
      return "a buffer view reaches beyond its buffer";
  }
  static const std::map<std::string, int> components = {{"SCALAR", 1}, {"VEC2", 2}, {"VEC3", 3}, {"VEC4", 4},
                                                        {"MAT2", 4},   {"MAT3", 9}, {"MAT4", 16}};
  static const std::map<int, int> sizes = {{5120, 1}, {5121, 1}, {5122, 2}, {5123, 2}, {5125, 4}, {5126, 4}};
  for (const auto& accessor : accessors) {
    if (!accessor.is_object()) return "an accessor is no object";
    const auto type = accessor.find("type");
    const auto parts =
        type != accessor.end() && type->is_string() ? components.find(type->get<std::string>()) : components.end();
    const auto size = sizes.find(static_cast<int>(number(accessor, "componentType", 0)));
    if (parts == components.end() || size == sizes.end()) return "an accessor has a type that does not exist";
    const double count = number(accessor, "count", 0);
    if (count < 1 || count > 1e9) return "an accessor has no or too many elements";
    if (!accessor.contains("bufferView")) continue;
    const double view = number(accessor, "bufferView", -1);
    if (view < 0 || view >= static_cast<double>(views.size()))
      return "an accessor names a buffer view that is not there";
    const double element = parts->second * size->second;
    const double stride = number(views[static_cast<std::size_t>(view)], "byteStride", element);
    if (number(accessor, "byteOffset", 0) + (count - 1) * stride + element >
        number(views[static_cast<std::size_t>(view)], "byteLength", 0))
      return "an accessor reaches beyond its buffer view";
  }
  const auto& nodes = list("nodes");
  std::vector<int> parents(nodes.size());
  for (const auto& node : nodes) {
    if (!node.is_object()) return "a node is no object";
    const auto children = node.find("children");
    if (children == node.end()) continue;
    if (!children->is_array()) return "a node's children are no list";
    for (const auto& child : *children) {
      if (!child.is_number_integer() || child.get<double>() < 0 ||
          child.get<double>() >= static_cast<double>(nodes.size()))
        return "a node names a child that is not there";
      if (++parents[child.get<std::size_t>()] > 1) return "a node has two parents";
    }
  }
  // With one parent each, a cycle shows as nodes that no root leads to.
  std::vector<std::size_t> open;
  for (std::size_t n = 0; n < nodes.size(); ++n)
    if (parents[n] == 0) open.push_back(n);
  std::size_t reached = 0;
  while (!open.empty()) {
    const auto n = open.back();
    open.pop_back();
    ++reached;
    if (const auto children = nodes[n].find("children"); children != nodes[n].end())
      for (const auto& child : *children) open.push_back(child.get<std::size_t>());
  }
  if (reached != nodes.size()) return "nodes are their own ancestors";
  for (const auto& mesh : list("meshes")) {
    const auto primitives = mesh.is_object() ? mesh.find("primitives") : mesh.end();
    if (!mesh.is_object() || primitives == mesh.end() || !primitives->is_array()) return "a mesh has no primitives";
    for (const auto& primitive : *primitives) {
      if (!primitive.is_object()) return "a primitive is no object";
      const auto check = [&](const nlohmann::json& index) {
        return index.is_number_integer() && index.get<double>() >= 0 &&
               index.get<double>() < static_cast<double>(accessors.size());
      };
      if (primitive.contains("indices") && !check(primitive["indices"]))
        return "a primitive names indices that are not there";
      if (const auto attributes = primitive.find("attributes"); attributes != primitive.end()) {
        if (!attributes->is_object()) return "a primitive's attributes are no object";
        for (const auto& attribute : *attributes)
          if (!check(attribute)) return "a primitive names an attribute that is not there";
      }
    }
  }
  for (const auto& node : nodes) {
    if (!node.contains("mesh")) continue;
    const auto& index = node["mesh"];
    if (!index.is_number_integer() || index.get<double>() < 0 ||
        index.get<double>() >= static_cast<double>(list("meshes").size()))
      return "a node names a mesh that is not there";
  }
  return {};
}

std::uint32_t little_endian(const std::string& bytes, std::size_t at) {
  std::uint32_t value = 0;
  for (std::size_t i = 0; i < 4; ++i)
    value |= static_cast<std::uint32_t>(static_cast<unsigned char>(bytes[at + i])) << (8 * i);
  return value;
}

/// The JSON of a .gltf or .glb file checked before assimp sees it.
std::string find_gltf_file_fault(const fs::path& path) {
  std::ifstream in(path, std::ios::binary);
  const std::string bytes(std::istreambuf_iterator<char>(in), {});
  std::string text = bytes;
  if (path.extension() == ".glb") {
    constexpr std::size_t header = 12, chunk_header = 8;
    if (bytes.size() < header + chunk_header || bytes.compare(0, 4, "glTF") != 0) return "it is no GLB file";
    if (little_endian(bytes, 4) != 2) return "it is not of glTF version 2";
    const std::size_t length = little_endian(bytes, header);
    if (length > bytes.size() - header - chunk_header) return "its JSON chunk reaches beyond the file";
    text = bytes.substr(header + chunk_header, length);
    std::size_t at = header + chunk_header + length;
    while (at + chunk_header <= bytes.size()) {
      const std::size_t chunk = little_endian(bytes, at);
      if (chunk > bytes.size() - at - chunk_header) return "a chunk reaches beyond the file";
      at += chunk_header + chunk;
    }
  }
  const auto gltf = nlohmann::json::parse(text, nullptr, false);
  if (!gltf.is_object()) return "its JSON cannot be parsed";
  return find_gltf_fault(gltf);
}

/// Counts in the header of an OFF or PLY file that the file is too short for: the importer would reserve memory for all
/// of them.
std::string find_count_fault(const fs::path& path, const std::string& extension) {
  std::error_code error;
  const auto size = static_cast<double>(fs::file_size(path, error));
  std::ifstream in(path, std::ios::binary);
  std::vector<double> counts;
  std::string line;
  constexpr int most_header_lines = 200;
  for (int n = 0; n < most_header_lines && std::getline(in, line); ++n) {
    std::istringstream words(line);
    std::string first, second;
    double count = 0;
    if (extension == ".ply") {
      if (words >> first >> second >> count && first == "element") counts.push_back(count);
      if (first == "end_header") break;
    } else {
      if (line.find("OFF") != std::string::npos || line.empty() || line[0] == '#') continue;
      while (words >> count) counts.push_back(count);
      break;
    }
  }
  for (const double count : counts)
    if (count > size) return fmt::format("it claims {:.0f} elements in {:.0f} bytes", count, size);
  return {};
}

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

void add_node(const aiScene& scene, const aiNode& node, const Eigen::Matrix4d& above, TriangleMesh& out) {
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
  for (unsigned i = 0; i < node.mNumChildren; ++i) add_node(scene, *node.mChildren[i], here, out);
}

/// Rotation that takes the file's up-axis to +z.
Eigen::Matrix3d turn_up(const std::string& up) {
  if (up == "y") return Eigen::AngleAxisd(EIGEN_PI / 2, Vec3::UnitX()).toRotationMatrix();
  if (up == "x") return Eigen::AngleAxisd(-EIGEN_PI / 2, Vec3::UnitY()).toRotationMatrix();
  return Eigen::Matrix3d::Identity();
}

}  // namespace

TriangleMesh read_mesh(const model::Part& part, const model::MeshFile& mesh, const std::string& folder) {
  const auto refuse = [&](const std::string& why, std::string remedy) {
    throw InputError({Diagnostic{part.mark, "shape.mesh", "bad-mesh",
                                 fmt::format("part \"{}\": mesh file \"{}\": {}", part.id, mesh.file, why), mesh.file,
                                 std::move(remedy)}});
  };
  const fs::path path = fs::path(folder) / mesh.file;
  std::string extension = path.extension().string();
  std::transform(extension.begin(), extension.end(), extension.begin(),
                 [](unsigned char c) { return static_cast<char>(std::tolower(c)); });
  static const std::vector<std::string> known = {".obj", ".ply", ".stl", ".off", ".gltf", ".glb"};
  if (std::find(known.begin(), known.end(), extension) == known.end())
    refuse("this kind of file is not read", "export it as OBJ, PLY, STL, OFF, glTF or GLB");
  std::error_code error;
  if (!fs::is_regular_file(path, error)) refuse("it does not exist", "names are relative to the model folder");
  if (extension == ".gltf" || extension == ".glb")
    if (const auto fault = find_gltf_file_fault(path); !fault.empty())
      refuse(fault, "export it again as glTF 2.0, and validate it");

  if (extension == ".off" || extension == ".ply")
    if (const auto fault = find_count_fault(path, extension); !fault.empty()) refuse(fault, "export it again");

  Assimp::Importer importer;
  importer.SetIOHandler(new FolderIo(folder));  // the importer deletes it
  importer.SetPropertyBool(AI_CONFIG_IMPORT_NO_SKELETON_MESHES, true);
  const aiScene* scene = nullptr;
  try {
    scene = importer.ReadFile(path.string(), 0);
  } catch (const std::exception& thrown) {
    refuse(fmt::format("it cannot be read ({})", thrown.what()), "export it again");
  }
  if (!scene || !scene->mRootNode)
    refuse(fmt::format("it cannot be read ({})", importer.GetErrorString()), "export it again");

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
  TriangleMesh out;
  add_node(*scene, *node, above, out);

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
  return out;
}

}  // namespace holdfast::geometry::detail
