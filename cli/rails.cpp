// SPDX-License-Identifier: GPL-3.0-or-later
#include "holdfast/report/rails.h"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <cmath>
#include <filesystem>

#include "common.h"

namespace holdfast::cli {

namespace {

namespace fs = std::filesystem;

struct RailsOptions {
  std::string part, node, unit = "m", up = "z", write, without, against, write_model;
  std::vector<std::string> accepted;
  bool truss_members = false;
};

/// Files of a model that is made.
constexpr const char* structure_name = "structure.yaml";
constexpr const char* kit_name = "kit.yaml";
constexpr const char* table_name = "rails.csv";
constexpr const char* body_name = "body.obj";
std::string in_model(const RailsOptions& asked, const char* name) {
  return (fs::path(asked.write_model) / name).string();
}

/// Sets what else is written to files of the model. A folder that holds any of them is refused: places and flags
/// written there by hand would be lost.
void plan_model(RailsOptions& asked, bool is_folder) {
  if (is_folder)
    throw model::InputError({usage_fault("--write-model makes a model of a mesh file, and MODEL is a model already",
                                         asked.write_model, "use --write and --without-rails")});
  if (!asked.write.empty() || !asked.without.empty())
    throw model::InputError({usage_fault("--write-model writes the table and the mesh without rails itself",
                                         asked.write_model, "leave --write and --without-rails out")});
  std::error_code error;
  for (const auto* name : {structure_name, kit_name, table_name, body_name})
    if (fs::exists(fs::symlink_status(in_model(asked, name), error)))
      throw model::InputError(
          {usage_fault(fmt::format("{} is there already", in_model(asked, name)), asked.write_model,
                       "name another folder, or renew that model with --against, --write and --without-rails")});
  asked.write = in_model(asked, table_name), asked.without = in_model(asked, body_name);
}

void make_folder(const RailsOptions& asked) {
  std::error_code error;
  fs::create_directories(asked.write_model, error);
  if (error)
    throw model::InputError({{{},
                              "",
                              "cannot-write",
                              fmt::format("folder {} cannot be made: {}", asked.write_model, error.message()),
                              asked.write_model,
                              "give a folder that can be made"}});
}

/// The mesh to look into, what stands round it, and where what is written belongs.
struct Source {
  geometry::NamedMesh mesh;
  geometry::TriangleMesh surroundings;
  model::DesignValues design;
  std::string part;
  std::optional<model::Configuration> configuration;  ///< of a model folder
  std::string structure_digest;
  double unit_m = 1;                              ///< of its file
  model::Pose to_part = model::Pose::Identity();  ///< from the frame of the mesh here to that of its file's part
};

const std::vector<std::pair<std::string, double>> units = {
    {"m", 1}, {"cm", 0.01}, {"mm", 0.001}, {"in", 0.0254}, {"ft", 0.3048}};

double metres_of(const std::string& unit) {
  return std::find_if(units.begin(), units.end(), [&](const auto& u) { return u.first == unit; })->second;
}

/// An id that a table may have: other letters become `-`.
std::string id_of(const fs::path& file) {
  std::string id = file.stem().string().substr(0, 64);
  for (auto& c : id)
    if (!std::isalnum(static_cast<unsigned char>(c)) && c != '-' && c != '_' && c != '.') c = '-';
  return id.empty() ? "structure" : id;
}

Source read_file(const CommonOptions& options, const RailsOptions& asked) {
  if (!options.states.empty() || !options.settings.empty())
    throw model::InputError({usage_fault("a mesh file has no switches and no kit", "",
                                         "leave --state and --set out, or give a model folder")});
  if (std::error_code error; !fs::exists(options.model, error))
    throw model::InputError({{{options.model},
                              "",
                              "missing-file",
                              "this file does not exist",
                              options.model,
                              "give a mesh file, or a model folder"}});
  Source source;
  source.mesh = geometry::read_mesh_file({.file = options.model, .unit_m = metres_of(asked.unit), .up = asked.up});
  source.unit_m = metres_of(asked.unit);
  source.design = model::default_design_values();
  source.part = asked.part.empty() ? id_of(options.model) : asked.part;
  return source;
}

Source read_folder(const CommonOptions& options, const RailsOptions& asked) {
  if (asked.unit != "m" || asked.up != "z")
    throw model::InputError(
        {usage_fault("a part's own unit and up-axis hold in a model", "", "leave --unit and --up out")});
  const Site site(options);
  const auto& structure = site.model.structure;
  std::vector<std::string> meshes;
  for (const auto& part : structure.parts)
    if (std::holds_alternative<model::MeshFile>(part.shape)) meshes.push_back(part.id);
  const std::string known = meshes.empty() ? "no part of this model is a mesh file"
                                           : fmt::format("parts with a mesh file: {}", fmt::join(meshes, ", "));
  if (asked.part.empty() && meshes.size() != 1)
    throw model::InputError({usage_fault("--in is needed: which part to look into", "", known)});
  const std::string wanted = asked.part.empty() ? meshes.front() : asked.part;
  const auto part = structure.find_part(wanted);
  if (!part) {
    const auto near = model::nearest_names(wanted, meshes);
    throw model::InputError({{{},
                              "",
                              "dangling-reference",
                              fmt::format("part \"{}\" does not exist", wanted),
                              wanted,
                              near.empty() ? known : fmt::format("did you mean {}?", fmt::join(near, ", "))}});
  }
  if (!std::holds_alternative<model::MeshFile>(structure.parts[part->index()].shape))
    throw model::InputError(
        {usage_fault(fmt::format("part \"{}\" is no mesh: its shape is given in numbers, without rails in it", wanted),
                     wanted, known)});
  if (!structure.is_present(*part, site.configuration))
    throw model::InputError({{{},
                              "",
                              "absent-place",
                              fmt::format("part \"{}\" is not there in this configuration", wanted),
                              wanted,
                              "set its switch with --state"}});
  Source source;
  source.part = wanted;
  source.unit_m = std::get<model::MeshFile>(structure.parts[part->index()].shape).unit_m;
  source.configuration = site.configuration;
  source.structure_digest = model::structure_digest(structure);
  source.design = site.model.kit.design;
  source.mesh = geometry::read_part_mesh(structure, *part, site.configuration);
  source.to_part = structure.pose(*part, site.configuration).inverse();
  const auto scene = site.build_scene(options, site.configuration);
  for (std::size_t i = 0; i < structure.parts.size(); ++i) {
    const model::PartId other{static_cast<std::uint32_t>(i)};
    if (other == *part || !structure.is_present(other, site.configuration)) continue;
    geometry::append(source.surroundings, scene.part_mesh(other));
  }
  return source;
}

}  // namespace

Run add_rails(CLI::App& app, CommonOptions& options) {
  auto* verb = app.add_subcommand("rails", "handrails found in a mesh of the structure, as a table for a model");
  const auto asked = std::make_shared<RailsOptions>();
  add_structure_options(*verb, options);
  verb->get_option("MODEL")->description("model folder, or a mesh file: OBJ, PLY, STL, OFF, glTF, GLB");
  verb->add_option("--in", asked->part, "part to look into; of a mesh file: the id that the table names as part")
      ->check(named())
      ->type_name("PART");
  verb->add_option("--node", asked->node, "nodes of the mesh to look into, as '*rail*'; the others count as structure")
      ->check(named())
      ->type_name("PATTERN");
  verb->add_option("--unit", asked->unit, "unit of a mesh file: m, cm, mm, in or ft")
      ->check(one_of({"m", "cm", "mm", "in", "ft"}))
      ->type_name("UNIT");
  verb->add_option("--up", asked->up, "axis of a mesh file that is turned to +z")
      ->check(one_of({"x", "y", "z"}))
      ->type_name("AXIS");
  verb->add_flag("--truss-members", asked->truss_members, "members of trusses count as rails")->disable_flag_override();
  verb->add_option("--accept", asked->accepted, "doubtful pieces that count as rails all the same, by id")
      ->check(named())
      ->type_name("ID")
      ->take_all();
  verb->add_option("--write", asked->write, "write the rails as a table that rail_files reads: CSV")
      ->check(named())
      ->type_name("FILE");
  verb->add_option("--against", asked->against,
                   "a table written before: what moved, is new or gone; ids and edits are kept")
      ->check(named())
      ->type_name("TABLE");
  verb->add_option("--without-rails", asked->without,
                   "write the mesh without rails and posts, OBJ: for a part to name as its mesh")
      ->check(named())
      ->type_name("FILE");
  verb->add_option("--write-model", asked->write_model,
                   "write a model of a mesh file: the mesh without rails and posts, and the table")
      ->check(named())
      ->type_name("FOLDER");
  verb->add_option("--units", options.units, "metric, or imperial: feet and inches beside metres in the text")
      ->type_name("UNITS")
      ->check(one_of({"metric", "imperial"}))
      ->group("Output");
  add_json_option(*verb, options);
  add_quiet_option(*verb, options);
  verb->footer(
      "Examples, on the cabin in models/:\n"
      "  holdfast rails models/cabin/cabin.obj\n"
      "      the rails in a mesh file, and what is doubtful with the reason\n"
      "  holdfast rails models/cabin/cabin.obj --write-model my-cabin\n"
      "      a model of the mesh alone, for check, route and draw\n"
      "  holdfast rails models/cabin/cabin.obj --in cabin --write rails.csv --without-rails body.obj\n"
      "      the table and the mesh that a model of one's own names\n"
      "  holdfast rails models/cabin/cabin.obj --in cabin --against models/cabin/rails.csv\n"
      "      what moved since that table was written\n\n"
      "A piece found sure or likely is in the table; a doubtful one is listed with the reason, and --accept takes it "
      "in.\n"
      "To keep hands off a rail write no in its column hands: --against keeps that. Exit code 1 when no rail is "
      "found.\n"
      "What --json printed, draw shows over a model: rails by sureness, doubtful ones by their numbers in the list.\n\n"
      "A hand may touch a rail, so the rail's own triangles must not count as an obstacle. check, route and all "
      "others\n"
      "keep bodies clear of the mesh that a part in structure.yaml names. With --write-model that is the mesh without\n"
      "the rails in the table and the posts that hold them; write such a mesh for a model of your own by\n"
      "--without-rails, and name it there. Doubtful pieces stay in it. The mesh file itself is left as it is.");
  return [&options, asked] {
    std::error_code error;
    const bool is_folder = fs::is_directory(options.model, error);
    if (!asked->write_model.empty()) plan_model(*asked, is_folder);
    progress(options, "Reading " + options.model);
    const Source source = is_folder ? read_folder(options, *asked) : read_file(options, *asked);
    std::vector<model::RailTableRow> before;
    if (!asked->against.empty()) before = model::read_rail_table(read_whole(asked->against), asked->against);
    progress(options, fmt::format("Looking for rails in {} triangles", source.mesh.mesh.triangles.size()));
    const rails::Options look{.design = source.design,
                              .truss_members = asked->truss_members,
                              .accepted = asked->accepted,
                              .node_pattern = asked->node,
                              .unit_m = source.unit_m};
    auto found = rails::find_rails(source.mesh, look, source.surroundings);
    rails::Revision revision;
    report::RailsReport report{.found = found,
                               .asked = look,
                               .source = options.model,
                               .part = source.part,
                               .engine_version = HOLDFAST_VERSION,
                               .options = {.imperial = options.units == "imperial"},
                               .configuration = source.configuration,
                               .structure_digest = source.structure_digest};
    if (!asked->against.empty()) {
      revision = rails::compare_with(found, before);
      report.revision = &revision, report.before = &before, report.against = asked->against;
    }
    std::vector<std::string> contents;
    const auto make = [&](const char* kind, const std::string& file, std::string made) {
      report.written.push_back({kind, file, made.size(), 0});
      contents.push_back(std::move(made));
    };
    if (!asked->write.empty() && !found.rails.empty()) make("csv", asked->write, report::csv(report));
    if (!asked->without.empty() && !found.rails.empty()) {
      auto body = rails::without_rails(source.mesh, found);
      for (auto& v : body.vertices) v = source.to_part * v;
      make(
          "obj", asked->without,
          report::obj(body, fmt::format("{} without {} rails and {} posts", fs::path(options.model).filename().string(),
                                        found.rails.size(), found.posts.size())));
    }
    if (!asked->write_model.empty() && !found.rails.empty()) {
      make("yaml", in_model(*asked, kit_name), report::model_kit(report));
      make("yaml", in_model(*asked, structure_name), report::model_structure(report, body_name, table_name));
      make_folder(*asked);
      std::vector<Output> files;
      for (const auto& file : report.written) files.push_back({"--write-model", file.file});
      std::vector<std::string> inputs = {options.model};
      if (!asked->against.empty()) inputs.push_back(asked->against);
      check_outputs(files, inputs);
    }
    for (std::size_t i = 0; i < contents.size(); ++i) report::write_file(report.written[i].file, contents[i]);
    std::fputs((options.json ? report::json(report) : report::text(report)).c_str(), stdout);
    return found.rails.empty() ? NoAnswer : AnswerFound;
  };
}

}  // namespace holdfast::cli
