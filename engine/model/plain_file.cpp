// SPDX-License-Identifier: GPL-3.0-or-later
#include "holdfast/model/plain_file.h"

#include <fcntl.h>
#include <sys/stat.h>
#include <unistd.h>

#include <algorithm>
#include <cerrno>

namespace holdfast::model {

PlainFile::~PlainFile() {
  if (file_ >= 0) ::close(file_);
}

PlainFile open_plain_file(const std::string& path, std::size_t largest) {
  const auto refused = [](FileFault fault) { return PlainFile(-1, 0, fault); };
  if (path.find('\0') != std::string::npos) return refused(FileFault::Missing);
  struct stat status {};
  if (::stat(path.c_str(), &status) != 0)
    return refused(errno == ENOENT || errno == ENOTDIR || errno == ENAMETOOLONG ? FileFault::Missing
                                                                                : FileFault::Unreadable);
  // Opening a device may act on it: what is none is opened, and looked at again once it is open.
  if (!S_ISREG(status.st_mode)) return refused(FileFault::NotPlain);
  // Without O_NONBLOCK, opening a pipe waits for somebody to write to it.
  const int file = ::open(path.c_str(), O_RDONLY | O_NONBLOCK | O_CLOEXEC | O_NOCTTY);
  if (file < 0) return refused(FileFault::Unreadable);
  FileFault fault = FileFault::None;
  if (::fstat(file, &status) != 0)
    fault = FileFault::Unreadable;
  else if (!S_ISREG(status.st_mode))
    fault = FileFault::NotPlain;
  else if (status.st_size > 0 && static_cast<std::size_t>(status.st_size) > largest)
    fault = FileFault::TooLarge;
  if (fault == FileFault::None) return {file, static_cast<std::size_t>(std::max<off_t>(status.st_size, 0)), fault};
  ::close(file);
  return refused(fault);
}

FileBytes read_plain_file(const std::string& path, std::size_t largest) {
  const auto file = open_plain_file(path, largest);
  if (file.fault() != FileFault::None) return {{}, file.fault()};
  FileBytes out;
  // Files of /proc and the like say that they are empty: read until the end, in any case no further than the limit.
  constexpr std::size_t piece = std::size_t{1} << 16;
  std::size_t size = 0;
  out.bytes.resize(file.size() + 1);
  while (true) {
    if (size == out.bytes.size()) out.bytes.resize(size + piece);
    const auto count = ::read(file.get(), out.bytes.data() + size, out.bytes.size() - size);
    if (count < 0 && errno == EINTR) continue;
    if (count < 0) return {{}, FileFault::Unreadable};
    if (count == 0) break;
    size += static_cast<std::size_t>(count);
    if (size > largest) return {{}, FileFault::TooLarge};
  }
  out.bytes.resize(size);
  return out;
}

}  // namespace holdfast::model
