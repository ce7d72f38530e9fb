// SPDX-License-Identifier: GPL-3.0-or-later
#include "holdfast/model/diagnostic.h"

#include <fmt/format.h>

#include "fault_limit_impl.h"
#include "holdfast/model/plain_text.h"

namespace holdfast::model {

std::string Diagnostic::text() const {
  std::string place = with_code_points(mark.file);
  if (mark.line > 0) place += fmt::format(":{}", mark.line);
  if (mark.line > 0 && mark.column > 0) place += fmt::format(":{}", mark.column);
  const std::string told = with_code_points(problem);
  std::string line = place.empty() ? told : place + ": " + told;
  if (!remedy.empty()) line += "\n    " + with_code_points(remedy, true);
  return line;
}

namespace {

std::string summary_of(const std::vector<Diagnostic>& diagnostics) {
  if (diagnostics.empty()) return "input error";
  const std::string first = diagnostics.front().text();
  return diagnostics.size() == 1 ? first : fmt::format("{}\n({} more)", first, diagnostics.size() - 1);
}

}  // namespace

InputError::InputError(std::vector<Diagnostic> diagnostics)
    : std::runtime_error(summary_of(diagnostics)), diagnostics_(std::move(diagnostics)) {
  ensure(!diagnostics_.empty(), "an input error names at least one fault");
  if (diagnostics_.size() <= most_diagnostics) return;
  const std::size_t rest = diagnostics_.size() - most_diagnostics;
  diagnostics_.resize(most_diagnostics);
  diagnostics_.push_back({{diagnostics_.back().mark.file},
                          "",
                          "more-faults",
                          fmt::format("{} more faults are not listed", rest),
                          "",
                          "correct those above, and run the command again"});
}

void ensure(bool condition, std::string_view what, std::source_location where) {
  if (!condition) throw InternalFault(fmt::format("{} ({}:{})", what, where.file_name(), where.line()));
}

const std::vector<DiagnosticCode>& diagnostic_codes() {
  static const std::vector<DiagnosticCode> codes = {
      {"usage", "options or arguments that are missing, unknown or do not go together", "route without --to",
       "the verb's --help lists what it takes"},
      {"missing-file", "a file that is needed is not there", "structure.yaml", "make the file, or correct its name"},
      {"unreadable-file", "a file cannot be read, or is not a plain file", "a folder named structure.yaml",
       "make it a readable file"},
      {"outside-folder", "a file is named that lies outside the model folder", "mesh: {file: ../x.obj}",
       "copy the file into the model folder"},
      {"not-text", "a file is binary, or not UTF-8", "UTF-16 from a spreadsheet", "save it as UTF-8 text"},
      {"unsafe-text", "a character that is not shown, or changes how others are shown", "U+202E in a name",
       "remove it, and write names and reasons on one line"},
      {"too-large", "a file, a line or a model is beyond its limit", "a line of 10 MB",
       "split it; long tables go into CSV; --size-limit raises a model's limits"},
      {"more-faults", "there are more than 100 faults", "20,000 misspelt references",
       "correct those that are listed, and run the command again"},
      {"syntax", "YAML or CSV that cannot be parsed", "a: [1, 2", "correct the syntax at the place named"},
      {"alias", "YAML aliases are not taken", "at: *p", "write the value out"},
      {"empty", "a file or a list has nothing in it", "an empty structure.yaml", "fill it"},
      {"wrong-format", "the first key is not the format that is expected", "holdfast: kit/1 in structure.yaml",
       "begin with the format line"},
      {"unknown-key", "a key that is not known here", "raduis: 2", "use one of the keys named"},
      {"duplicate-key", "a duplicate key in one mapping", "id: a, id: b", "keep one"},
      {"missing-key", "a required key is not there", "a rail without points", "add it"},
      {"wrong-type", "a value of another kind is needed", "radius: wide", "write a value of the kind named"},
      {"out-of-range", "a number is beyond its limits, or not finite", "radius: -1", "write a value within the limits"},
      {"unknown-word", "a word that is not one of those allowed here", "kind: hatchway", "use one of the words named"},
      {"duplicate-id", "two things have the same id", "two rails r-1", "rename one"},
      {"bad-time", "a time that does not say what it counts, or is none", "duration: 12",
       "write 12 min, 90 s or h:mm:ss"},
      {"two-actions", "one action with two verbs", "{take: bag, do: job}", "write each on a line of its own"},
      {"duplicate-task", "a task that is done more than once", "do: job, in both sequences", "remove one"},
      {"half-missing", "half of what two crew members do together", "a hand-over that nobody receives",
       "add the other half to the other sequence"},
      {"bad-id", "an id that would be ambiguous on the command line", "id: 1,2,3", "letters, digits, - _ . only"},
      {"dangling-reference", "an id that nothing has", "part: mast_b", "use an id that exists"},
      {"zero-length", "a rail, axis or direction without extent", "from: [0,0,0], to: [0,0,0]", "give it a length"},
      {"missing-position", "an articulated part lacks a pose for a position", "poses for parked only",
       "give a pose for every position"},
      {"flat", "points that span no volume", "four points in a plane", "add a point off the plane"},
      {"bad-mesh", "a mesh file that cannot be used", "a mesh without triangles", "export it again as triangles"},
      {"table-columns", "a CSV table with other columns than it should have", "a missing y2",
       "use the header line of models/README.md"},
      {"unknown-node", "a node name or pattern that no node of the mesh has", "--node '*handrale*'",
       "use a node of the mesh; * stands for any letters"},
      {"unknown-place", "a place, rail or point that means nothing", "--from lock-hatsh", "use an id of the model"},
      {"unknown-socket", "a socket that is not in the model", "reach models/yard beam-sockt",
       "use a socket of the model"},
      {"unknown-patch", "a patch that is not in the model", "sight models/yard valve-fase", "use a patch of the model"},
      {"unknown-view", "a view that is not in the model", "--view hub-windw", "use a view of the model"},
      {"in-solid", "a socket, view or place that lies inside structure", "a socket under its surface",
       "put it on the surface"},
      {"unknown-anchor", "an anchor that means nothing", "--anchor hatch-anker",
       "use an anchor of the model, or a rail for tethers"},
      {"not-for-tethers", "a hook where none may be", "--anchor spur-rail-3",
       "use an anchor, or a rail whose `for:` lists tether"},
      {"tether-short", "a tether that does not reach the start", "--tether waist", "take an anchor nearer to it"},
      {"no-free-line", "structure between the anchor and the start", "--anchor keel-anchor", "take an anchor in sight"},
      {"absent-place", "a place or rail that is not there in this configuration", "--to arm-tip", "set its switch"},
      {"not-a-connector", "a cable's end that is no connector", "--from lock-hatch", "name a place of kind connector"},
      {"off-structure", "a connector that is not on structure", "a connector 0.5 m off", "put it on a part's surface"},
      {"laid-elsewhere", "a cable that is not laid where it is to go on from", "--from lock-hatch",
       "name its coil's place"},
      {"not-ordered", "what order leaves alone", "lay: power-item, to: hub-plug", "plan it by hand"},
      {"same-connector", "a cable from a connector to itself", "--from hub-plug --to hub-plug", "name two"},
      {"unknown-switch", "a switch or position that does not exist", "--state dsh=parked",
       "use one of those of the model"},
      {"unknown-setting", "a --set that leads to no number", "--set suits.standard.raech_m=0.5",
       "follow the keys of the file, items of lists by id"},
      {"unknown-kit", "a suit, load, cable or tether that the kit does not have", "--suit big", "use an id of the kit"},
      {"loads-clash", "loads that nobody could carry at once", "two loads in hand",
       "leave one, tow it, or change its side"},
      {"wrong-result", "a file that is no result of this model", "a route of another model", "compute it again"},
      {"cannot-write", "an output file cannot be written", "--csv /nowhere/x.csv",
       "name a folder that exists and can be written"},
  };
  return codes;
}

}  // namespace holdfast::model
