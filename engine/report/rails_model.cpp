// SPDX-License-Identifier: GPL-3.0-or-later
// The files that make a model of a mesh and the rails found in it.

#include <fmt/format.h>

#include "holdfast/report/rails.h"

namespace holdfast::report {

std::string model_structure(const RailsReport& report, const std::string& mesh_file, const std::string& table_file) {
  return fmt::format(
      "# Made by holdfast rails. {0} is the mesh without the rails and posts found in it: bodies keep clear of that.\n"
      "# {1} is the table of the rails: write no in its column hands where no hand may go.\n"
      "# Places, zones and switches are yours to add: see models/README.md.\n"
      "holdfast: structure/1\n"
      "name: \"{2}\"\n"
      "parts:\n"
      "  - {{id: \"{2}\", shape: {{mesh: {{file: {0}}}}}}}\n"
      "rail_files: [{1}]\n",
      mesh_file, table_file, report.part);
}

std::string model_kit(const RailsReport& report) {
  return fmt::format("holdfast: kit/1\nname: \"Kit of {}\"\nsuits:\n  - {{id: standard}}\n", report.part);
}

}  // namespace holdfast::report
