// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// Rails found in a mesh: as text, as JSON, as the table that `rail_files` reads, and the mesh without them.
//
// Lengths of rails and gaps are rounded down, widths up: what can be gripped is never more than there is.

#include <optional>
#include <string>
#include <vector>

#include "holdfast/rails/rails.h"
#include "holdfast/report/report.h"

namespace holdfast::report {

/// Rails, and what they were found in. Keeps references, which must outlive it.
struct RailsReport {
  const rails::FoundRails& found;
  const rails::Options& asked;
  std::string source;  ///< the mesh file or model folder as given
  std::string part;    ///< id of the part that the rails stand on, in the table
  std::string engine_version;
  Options options = {};
  /// Of a model folder, whose structure frame the points are in; nothing of a mesh file, in the frame of its part.
  std::optional<model::Configuration> configuration = std::nullopt;
  std::string structure_digest = {};
  const rails::Revision* revision = nullptr;                 ///< with `--against`
  const std::vector<model::RailTableRow>* before = nullptr;  ///< the table before; set with `revision`
  std::string against;                                       ///< its file
  std::vector<WrittenFile> written = {};                     ///< kinds `csv`, `obj` and `yaml`
};

[[nodiscard]] std::string text(const RailsReport& report);
[[nodiscard]] std::string json(const RailsReport& report);
/// One row a straight piece or handhold; doubtful pieces are not in it. With a revision, rows that were there keep
/// their id, flags, load limit and other columns, and rows edited or written by hand stay as they are.
[[nodiscard]] std::string csv(const RailsReport& report);
/// Why a piece is not sure: `gap of 41 mm, less than 57 mm [source]`.
[[nodiscard]] std::string sentence(const rails::Reason& reason);

/// Wavefront OBJ in metres, one object.
[[nodiscard]] std::string obj(const geometry::TriangleMesh& mesh, const std::string& title);

/// structure.yaml of a model of its own for a mesh file: one part whose mesh is `mesh_file`, and the rails of
/// `table_file`. Both names are relative to the model's folder.
[[nodiscard]] std::string model_structure(const RailsReport& report, const std::string& mesh_file,
                                          const std::string& table_file);
/// kit.yaml beside it: one suit with the default values.
[[nodiscard]] std::string model_kit(const RailsReport& report);

}  // namespace holdfast::report
