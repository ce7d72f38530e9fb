// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// What is known of a file that will be written, before anything is.

#include <string>

namespace holdfast::model {

/// Throws `InputError` (`cannot-write`) where `write_file` could not write: no such folder, one that may not be written
/// to, a folder or a device in its place, a name that is too long.
void check_writable(const std::string& path);

}  // namespace holdfast::model
