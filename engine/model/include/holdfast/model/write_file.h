// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// Files put out: answers, and what is kept for the next run.

#include <string>

namespace holdfast::model {

/// Whole or not at all: written beside the target under another name, then renamed. Throws `InputError`
/// (`cannot-write`).
void write_file(const std::string& path, const std::string& contents);

}  // namespace holdfast::model
