// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// Reading files that somebody names: plain files of bounded size, and nothing that could wait or grow.

#include <cstddef>
#include <string>

namespace holdfast::model {

/// Largest file that is read: a model file, a mesh with its buffers, a result.
inline constexpr std::size_t largest_file_bytes = std::size_t{64} << 20;

enum class FileFault { None, Missing, NotPlain, Unreadable, TooLarge };

struct FileBytes {
  std::string bytes;  ///< empty where there is a fault
  FileFault fault = FileFault::None;
};

/// The whole file at `path`, links followed. A pipe, a device, a folder or a socket is `NotPlain` and is not waited
/// for; a file of more than `largest` bytes is `TooLarge`, also when it grows while it is read. Never throws for what
/// the file is.
[[nodiscard]] FileBytes read_plain_file(const std::string& path, std::size_t largest = largest_file_bytes);

}  // namespace holdfast::model
