// SPDX-License-Identifier: GPL-3.0-or-later
#include <fcntl.h>
#include <fmt/format.h>
#include <signal.h>
#include <sys/stat.h>
#include <unistd.h>

#include <array>
#include <cerrno>
#include <cstring>
#include <filesystem>
#include <mutex>
#include <optional>

#include "holdfast/model/diagnostic.h"
#include "holdfast/model/kept_file.h"
#include "holdfast/model/output_file.h"
#include "holdfast/model/write_file.h"

namespace holdfast::model {

namespace fs = std::filesystem;

namespace {

[[noreturn]] void refuse(const std::string& path, const std::string& why) {
  throw InputError({{{path},
                     "",
                     "cannot-write",
                     fmt::format("this file cannot be written: {}", why),
                     path,
                     "name a file in a folder that exists and that you may write to"}});
}

/// Name on the disk that a signal removes. A signal's handler reaches nothing but statics; the mutex lets one file be
/// named at a time.
std::mutex one_name;
std::array<char, 4096> named_file;

extern "C" void remove_and_end(int signal) {
  ::unlink(named_file.data());
  struct sigaction action {};
  action.sa_handler = SIG_DFL;
  ::sigaction(signal, &action, nullptr);
  ::raise(signal);
}

/// While this stands, a signal that ends the program removes the file first.
class RemovedBySignals {
 public:
  explicit RemovedBySignals(const std::string& name) : lock_(one_name) {
    named_file[name.copy(named_file.data(), named_file.size() - 1)] = '\0';
    struct sigaction action {};
    action.sa_handler = remove_and_end;
    sigfillset(&action.sa_mask);
    for (std::size_t i = 0; i < signals.size(); ++i) {
      ::sigaction(signals[i], nullptr, &before_[i]);
      // Signals that somebody ignores or handles are left alone.
      if (before_[i].sa_handler == SIG_DFL) ::sigaction(signals[i], &action, nullptr);
    }
  }
  RemovedBySignals(const RemovedBySignals&) = delete;
  RemovedBySignals& operator=(const RemovedBySignals&) = delete;
  ~RemovedBySignals() {
    for (std::size_t i = 0; i < signals.size(); ++i) ::sigaction(signals[i], &before_[i], nullptr);
  }

 private:
  static constexpr std::array<int, 4> signals = {SIGINT, SIGTERM, SIGHUP, SIGQUIT};
  std::lock_guard<std::mutex> lock_;
  std::array<struct sigaction, 4> before_{};
};

/// A file that has no name until it is whole, so that nothing is left of it however the program ends. Where the file
/// system has none such (`O_TMPFILE`), a file beside the target, removed again unless it is kept.
class NewFile {
 public:
  explicit NewFile(fs::path target)
      : target_(std::move(target)), file_(::open(folder().c_str(), O_WRONLY | O_TMPFILE | O_CLOEXEC, 0666)) {
    if (file_ < 0 && (errno == EOPNOTSUPP || errno == EISDIR || errno == EINVAL || errno == ENOENT)) name_it();
  }
  NewFile(const NewFile&) = delete;
  NewFile& operator=(const NewFile&) = delete;
  ~NewFile() {
    if (file_ >= 0) ::close(file_);
    if (!name_.empty()) ::unlink(name_.c_str());
  }
  [[nodiscard]] bool is_open() const { return file_ >= 0; }

  /// False, with `errno` set, when not everything was taken.
  [[nodiscard]] bool write(std::string_view contents) const {
    for (std::size_t done = 0; done < contents.size();) {
      const auto count = ::write(file_, contents.data() + done, contents.size() - done);
      if (count < 0 && errno == EINTR) continue;
      if (count < 0) return false;
      done += static_cast<std::size_t>(count);
    }
    return true;
  }
  /// False, with `errno` set, when not everything reached the disk.
  [[nodiscard]] bool sync() const { return ::fsync(file_) == 0; }
  /// Gives it the mode of the file that it replaces.
  void take_mode() const {
    struct stat status {};
    if (::stat(target_.c_str(), &status) == 0) (void)::fchmod(file_, status.st_mode & 07777);
  }
  /// Puts it where the target is. False, with `errno` set, when that fails.
  [[nodiscard]] bool put() {
    if (name_.empty()) {
      const std::string open_file = fmt::format("/proc/self/fd/{}", file_);
      const auto link = [&](const std::string& name) {
        return ::linkat(AT_FDCWD, open_file.c_str(), AT_FDCWD, name.c_str(), AT_SYMLINK_FOLLOW) == 0;
      };
      if (link(target_.string())) return true;  // nothing was there
      if (errno != EEXIST) return false;
      // What is there is replaced at once: by a second name, which is then renamed.
      for (int attempt = 0; attempt < attempts; ++attempt) {
        guard_.reset();
        guard_.emplace(name_ = temporary(attempt));
        if (link(name_)) break;
        name_.clear();
        if (errno != EEXIST) return false;
      }
      if (name_.empty()) return false;
    }
    if (::rename(name_.c_str(), target_.c_str()) != 0) return false;
    name_.clear();
    return true;
  }

 private:
  static constexpr int attempts = 1000;

  [[nodiscard]] std::string folder() const {
    return target_.has_parent_path() ? target_.parent_path().string() : std::string(".");
  }
  /// Short, whatever the target's name; a left-over of another run has another number.
  [[nodiscard]] std::string temporary(int attempt) const {
    return (fs::path(folder()) / fmt::format("{}{}-{}", temporary_prefix, ::getpid(), attempt)).string();
  }
  void name_it() {
    for (int attempt = 0; attempt < attempts && file_ < 0; ++attempt) {
      guard_.reset();
      guard_.emplace(name_ = temporary(attempt));
      file_ = ::open(name_.c_str(), O_WRONLY | O_CREAT | O_EXCL | O_CLOEXEC, 0666);
      if (file_ < 0 && errno != EEXIST) break;
    }
    if (file_ < 0) name_.clear(), guard_.reset();
  }

  fs::path target_;
  int file_;
  std::string name_;  // on the disk, to be removed
  std::optional<RemovedBySignals> guard_;
};

/// A link keeps pointing where it does: what it points to is replaced.
fs::path target_of(const std::string& path) {
  std::error_code error;
  if (!fs::is_symlink(fs::symlink_status(path, error))) return path;
  const auto target = fs::weakly_canonical(path, error);
  if (error) refuse(path, "it is a link that leads nowhere");
  return target;
}

}  // namespace

void check_writable(const std::string& path) {
  if (path.empty()) refuse(path, "it has no name");
  std::error_code error;
  const auto status = fs::status(path, error);
  if (fs::is_directory(status)) refuse(path, "it is a folder");
  if (fs::exists(status) && !fs::is_regular_file(status)) refuse(path, "it is not a plain file");
  const fs::path target = target_of(path);
  const fs::path folder = target.has_parent_path() ? target.parent_path() : fs::path(".");
  if (target.filename().empty()) refuse(path, "it is a folder");
  const auto longest = ::pathconf(folder.c_str(), _PC_NAME_MAX);
  if (longest > 0 && target.filename().string().size() > static_cast<std::size_t>(longest))
    refuse(path, std::strerror(ENAMETOOLONG));
  if (::access(folder.c_str(), W_OK | X_OK) != 0) refuse(path, std::strerror(errno));
  if (!fs::is_directory(folder, error)) refuse(path, std::strerror(ENOTDIR));
}

void write_file(const std::string& path, const std::string& contents) {
  check_writable(path);
  // Beside the target, so that it is on the same file system and takes the target's name at once.
  NewFile file(target_of(path));
  if (!file.is_open() || !file.write(contents) || !file.sync()) refuse(path, std::strerror(errno));
  file.take_mode();
  if (!file.put()) refuse(path, std::strerror(errno));
}

void write_kept_file(const std::string& path, std::string_view head, std::string_view body) {
  check_writable(path);
  NewFile file{fs::path(path)};
  if (!file.is_open() || !file.write(head) || !file.write(body) || !file.put()) refuse(path, std::strerror(errno));
}

}  // namespace holdfast::model
