// SPDX-License-Identifier: GPL-3.0-or-later
// Loaded before the C library: one call that writes files fails, is cut short, or is met by a signal, as the
// environment says.
//   FAULT_CALL=write FAULT_AT=2 FAULT_AS=EIO FAULT_MARK=FILE     the second write fails, and FILE is made then
// FAULT_AS: a number of errno by name, SHORT (half of the bytes are taken), or a signal. FAULT_NAMED=yes: there are no
// files without a name (O_TMPFILE), as on some file systems.

#include <dlfcn.h>
#include <fcntl.h>
#include <unistd.h>

#include <atomic>
#include <cerrno>
#include <csignal>
#include <cstdarg>
#include <cstdio>
#include <cstdlib>
#include <cstring>

namespace {

enum class Outcome { None, Failed, Short };

Outcome meet(const char* call) {
  static std::atomic<int> met = 0;
  const char *wanted = std::getenv("FAULT_CALL"), *at = std::getenv("FAULT_AT"), *as = std::getenv("FAULT_AS"),
             *mark = std::getenv("FAULT_MARK");
  if (!wanted || !at || !as || !mark || std::strcmp(wanted, call) != 0 || ++met != std::atoi(at)) return Outcome::None;
  const int file = ::open(mark, O_WRONLY | O_CREAT | O_CLOEXEC, 0600);
  if (file >= 0) ::close(file);
  constexpr struct {
    const char* name;
    int signal;
  } signals[] = {{"SIGINT", SIGINT}, {"SIGTERM", SIGTERM}, {"SIGHUP", SIGHUP}, {"SIGKILL", SIGKILL}};
  for (const auto& [name, signal] : signals)
    if (std::strcmp(name, as) == 0) ::kill(::getpid(), signal);
  if (std::strcmp(as, "SHORT") == 0) return Outcome::Short;
  if (std::strcmp(as, "EIO") == 0) return errno = EIO, Outcome::Failed;
  if (std::strcmp(as, "ENOSPC") == 0) return errno = ENOSPC, Outcome::Failed;
  return Outcome::None;
}

template <class Function>
Function* next(const char* name) {
  return reinterpret_cast<Function*>(::dlsym(RTLD_NEXT, name));
}

}  // namespace

extern "C" {

ssize_t write(int file, const void* bytes, size_t size) {
  static auto* const real = next<ssize_t(int, const void*, size_t)>("write");
  // What goes to a terminal or pipe is no file.
  const auto outcome = file > 2 ? meet("write") : Outcome::None;
  if (outcome == Outcome::Failed) return -1;
  return real(file, bytes, outcome == Outcome::Short ? (size + 1) / 2 : size);
}
int open(const char* path, int flags, ...) {
  static auto* const real = next<int(const char*, int, ...)>("open");
  va_list more;
  va_start(more, flags);
  const mode_t mode = (flags & (O_CREAT | __O_TMPFILE)) != 0 ? va_arg(more, mode_t) : 0;
  va_end(more);
  if ((flags & __O_TMPFILE) != 0 && std::getenv("FAULT_NAMED")) return errno = EOPNOTSUPP, -1;
  return real(path, flags, mode);
}
int fsync(int file) {
  static auto* const real = next<int(int)>("fsync");
  return meet("fsync") == Outcome::Failed ? -1 : real(file);
}
int linkat(int from_folder, const char* from, int to_folder, const char* to, int flags) noexcept {
  static auto* const real = next<int(int, const char*, int, const char*, int)>("linkat");
  return meet("linkat") == Outcome::Failed ? -1 : real(from_folder, from, to_folder, to, flags);
}
int rename(const char* from, const char* to) noexcept {
  static auto* const real = next<int(const char*, const char*)>("rename");
  return meet("rename") == Outcome::Failed ? -1 : real(from, to);
}

}  // extern "C"
