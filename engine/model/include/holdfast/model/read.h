// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// Reading a model folder: `structure.yaml` with the CSV tables it names, and `kit.yaml`.
//
//   const auto model = holdfast::model::read_model("models/yard");
//   model.structure.rails.size();

#include <string>
#include <vector>

#include "holdfast/model/diagnostic.h"
#include "holdfast/model/kit.h"
#include "holdfast/model/structure.h"

namespace holdfast::model {

struct Model {
  Structure structure;
  Kit kit;
  std::vector<Diagnostic> notes;  ///< what the files hold and is not read: columns of tables
};

/// Reads and validates both files and every table they name; digests them and the mesh files (which `geometry` reads).
/// `settings`: numbers of either file replaced for this run, as `suits.standard.rate_free_m_s=0.15`; by keys, into
/// lists by id or by number from 0. They are part of the digests. Throws `InputError` with *all* faults found. Nothing
/// outside `folder` is read.
[[nodiscard]] Model read_model(const std::string& folder, const std::vector<std::string>& settings = {});

/// The same from text, for tests and tools: `folder` is where tables and meshes are looked for; `file` names the text
/// in messages.
[[nodiscard]] Structure read_structure_text(const std::string& text, const std::string& folder = ".",
                                            const std::string& file = "structure.yaml");
[[nodiscard]] Kit read_kit_text(const std::string& text, const std::string& file = "kit.yaml");

/// Default configuration with the given `SWITCH=POSITION` settings applied.
/// Throws `InputError` on an unknown switch or position, with the nearest names.
[[nodiscard]] Configuration configure(const Structure& structure, const std::vector<std::string>& settings);

}  // namespace holdfast::model
