// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// Files that can be made again: kept for the next run, and of no use to anybody else.

#include <string>
#include <string_view>

namespace holdfast::model {

/// How names of files begin that are not whole yet, beside their target, where a file needs a name from the start.
inline constexpr std::string_view temporary_prefix = ".holdfast-";

/// `head`, then `body`: whole or not at all, as `write_file`, but without waiting until it has reached the disk: after
/// a loss of power it may be cut short, which its reader must see. A link at `path` is replaced, not followed. Throws
/// `InputError` (`cannot-write`).
void write_kept_file(const std::string& path, std::string_view head, std::string_view body);

}  // namespace holdfast::model
