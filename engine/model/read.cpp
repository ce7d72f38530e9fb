// SPDX-License-Identifier: GPL-3.0-or-later
#include "holdfast/model/read.h"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <filesystem>

#include "files_impl.h"
#include "read_impl.h"

namespace holdfast::model {

namespace {

/// Connectors that the kit names must be places of the structure.
void check_connectors(const Model& model, const std::string& kit_file, std::vector<Diagnostic>& diagnostics) {
  std::vector<std::string> places;
  for (const auto& place : model.structure.places) places.push_back(place.id);
  for (const auto& cable : model.kit.cables)
    for (const auto& [from, to] : cable.connects)
      for (const auto& end : {from, to}) {
        if (model.structure.find_place(end)) continue;
        const auto near = nearest_names(end, places, 1);
        Mark mark = cable.mark;
        mark.file = kit_file;
        diagnostics.push_back(
            {mark, "connects", "dangling-reference",
             fmt::format("cable \"{}\": place \"{}\" does not exist", cable.id, end), end,
             near.empty() ? "name a place of structure.yaml" : fmt::format("did you mean \"{}\"?", near.front())});
      }
}

/// So many settings that nobody looks through them, and that each takes its time.
void check_settings(const Model& model, const std::string& kit_file, std::vector<Diagnostic>& diagnostics) {
  constexpr std::size_t most = 10000;
  for (const auto& restraint : model.kit.foot_restraints)
    for (const auto& socket : model.structure.sockets) {
      const std::size_t count = static_cast<std::size_t>(socket.roll_count) * restraint.pitch_rad.values.size() *
                                restraint.height_m.values.size() * restraint.yaw_rad.values.size();
      if (count <= most) continue;
      Mark mark = restraint.mark;
      mark.file = kit_file;
      diagnostics.push_back(
          {mark, "foot_restraints", "too-large",
           fmt::format("foot restraint \"{}\" has {} settings in socket \"{}\"", restraint.id, count, socket.id), "",
           fmt::format("give fewer or larger steps: at most {} settings a socket", most)});
    }
}

}  // namespace

Model read_model(const std::string& folder, const std::vector<std::string>& setting_texts) {
  std::vector<Diagnostic> diagnostics;
  const auto settings = detail::parse_settings(setting_texts, diagnostics);
  std::string shown = folder;
  while (shown.size() > 1 && shown.back() == '/') shown.pop_back();
  std::error_code error;
  if (!std::filesystem::is_directory(folder, error))
    throw InputError({{{shown},
                       "",
                       "missing-file",
                       "this is not a folder",
                       "",
                       "name a model folder: it holds structure.yaml and kit.yaml"}});
  shown += "/";

  Model model;
  const auto read = [&](const char* name) -> std::optional<std::string> {
    const auto path = detail::locate_below(folder, name, {shown + name}, "", diagnostics);
    if (!path) return std::nullopt;
    return detail::read_bytes(*path, shown + name, diagnostics);
  };
  std::vector<ModelFile> read_files;
  const auto text_of = [&](const char* name) -> std::optional<std::string> {
    auto bytes = read(name);
    if (!bytes) return std::nullopt;
    read_files.push_back({name, detail::sha256_of(*bytes)});
    if (!detail::check_text(*bytes, shown + name, diagnostics)) return std::nullopt;
    return bytes;
  };
  const auto structure_text = text_of("structure.yaml");
  const auto kit_text = text_of("kit.yaml");
  const std::string absolute = std::filesystem::absolute(folder, error).string();
  if (structure_text)
    model.structure = detail::read_structure_document(*structure_text, absolute, shown, shown + "structure.yaml",
                                                      settings, diagnostics, model.notes);
  if (kit_text) model.kit = detail::read_kit_document(*kit_text, shown + "kit.yaml", settings, diagnostics);
  if (structure_text && kit_text) {
    check_connectors(model, shown + "kit.yaml", diagnostics);
    check_settings(model, shown + "kit.yaml", diagnostics);
  }
  if (!diagnostics.empty()) throw InputError(std::move(diagnostics));
  model.structure.files.insert(model.structure.files.begin(), read_files.begin(), read_files.end());
  for (const auto& setting : settings) {
    model.structure.settings.push_back(setting.text);
    if (!setting.is_of_kit) model.structure.files.push_back({"--set " + setting.path, digest_of(setting.text)});
  }
  return model;
}

Structure read_structure_text(const std::string& text, const std::string& folder, const std::string& file) {
  std::vector<Diagnostic> diagnostics;
  std::vector<Diagnostic> notes;
  std::string checked = text;
  Structure structure;
  if (detail::check_text(checked, file, diagnostics))
    structure = detail::read_structure_document(checked, folder, "", file, {}, diagnostics, notes);
  if (!diagnostics.empty()) throw InputError(std::move(diagnostics));
  return structure;
}

Kit read_kit_text(const std::string& text, const std::string& file) {
  std::vector<Diagnostic> diagnostics;
  std::string checked = text;
  Kit kit;
  if (detail::check_text(checked, file, diagnostics)) kit = detail::read_kit_document(checked, file, {}, diagnostics);
  if (!diagnostics.empty()) throw InputError(std::move(diagnostics));
  return kit;
}

Configuration configure(const Structure& structure, const std::vector<std::string>& settings) {
  Configuration configuration = structure.default_configuration();
  std::vector<Diagnostic> diagnostics;
  const auto refuse = [&](std::string problem, const std::string& value, std::string remedy) {
    diagnostics.push_back({{}, "", "unknown-switch", std::move(problem), value, std::move(remedy)});
  };
  std::vector<std::string> switches;
  for (const auto& s : structure.switches) switches.push_back(s.id);
  for (const auto& setting : settings) {
    const auto equals = setting.find('=');
    if (equals == std::string::npos) {
      refuse(fmt::format("\"{}\" sets no switch", setting), setting, "write SWITCH=POSITION");
      continue;
    }
    const std::string id = setting.substr(0, equals), position = setting.substr(equals + 1);
    const auto found =
        std::find_if(structure.switches.begin(), structure.switches.end(), [&](const Switch& s) { return s.id == id; });
    if (found == structure.switches.end()) {
      refuse(
          fmt::format("switch \"{}\" is not in this model", id), setting,
          switches.empty() ? "this model has no switches" : fmt::format("its switches: {}", fmt::join(switches, ", ")));
    } else if (std::find(found->positions.begin(), found->positions.end(), position) == found->positions.end()) {
      refuse(fmt::format("switch \"{}\" has no position \"{}\"", id, position), setting,
             fmt::format("its positions: {}", fmt::join(found->positions, ", ")));
    } else {
      configuration.positions[id] = position;
    }
  }
  if (!diagnostics.empty()) throw InputError(std::move(diagnostics));
  return configuration;
}

}  // namespace holdfast::model
