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

/// A plain file, open to be read; closed with this.
class PlainFile {
 public:
  PlainFile(const PlainFile&) = delete;
  PlainFile& operator=(const PlainFile&) = delete;
  ~PlainFile();
  [[nodiscard]] FileFault fault() const { return fault_; }
  [[nodiscard]] int get() const { return file_; }           ///< file descriptor; -1 where there is a fault
  [[nodiscard]] std::size_t size() const { return size_; }  ///< as the system says; 0 where there is a fault

 private:
  friend PlainFile open_plain_file(const std::string& path, std::size_t largest);
  PlainFile(int file, std::size_t size, FileFault fault) : file_(file), size_(size), fault_(fault) {}
  const int file_;
  const std::size_t size_;
  const FileFault fault_;
};

/// Opens the file at `path`, links followed, as `read_plain_file` does.
[[nodiscard]] PlainFile open_plain_file(const std::string& path, std::size_t largest = largest_file_bytes);

/// The whole file at `path`, links followed. A pipe, a device, a folder or a socket is `NotPlain` and is not waited
/// for; a file of more than `largest` bytes is `TooLarge`, also when it grows while it is read. Never throws for what
/// the file is.
[[nodiscard]] FileBytes read_plain_file(const std::string& path, std::size_t largest = largest_file_bytes);

}  // namespace holdfast::model
