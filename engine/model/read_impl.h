// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// The two documents of a model folder, read with all their faults.

#include <string>
#include <vector>

#include "holdfast/model/diagnostic.h"
#include "holdfast/model/kit.h"
#include "holdfast/model/structure.h"
#include "settings_impl.h"

namespace holdfast::model::detail {

/// `shown_folder` stands before file names in messages (`models/yard/`); `file` is what the text itself is called
/// there. Of the settings, each document takes its own. `notes`: what is not read and makes no fault.
[[nodiscard]] Structure read_structure_document(const std::string& text, const std::string& folder,
                                                const std::string& shown_folder, const std::string& file,
                                                const std::vector<Setting>& settings,
                                                std::vector<Diagnostic>& diagnostics, std::vector<Diagnostic>& notes);
[[nodiscard]] Kit read_kit_document(const std::string& text, const std::string& file,
                                    const std::vector<Setting>& settings, std::vector<Diagnostic>& diagnostics);

}  // namespace holdfast::model::detail
