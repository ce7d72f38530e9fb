#include <fcntl.h>
#include <fmt/format.h>
#include <sys/stat.h>
#include <unistd.h>

#include <cerrno>
#include <cstring>
#include <filesystem>

#include "holdfast/model/diagnostic.h"
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

/// An open file that is closed and, unless kept, removed again.
class NewFile {
 public:
  explicit NewFile(std::string path)
      : path_(std::move(path)), file_(::open(path_.c_str(), O_WRONLY | O_CREAT | O_EXCL | O_CLOEXEC, 0666)) {}
  NewFile(const NewFile&) = delete;
  NewFile& operator=(const NewFile&) = delete;
  ~NewFile() {
    if (file_ < 0) return;
    ::close(file_);
    if (!is_kept_) ::unlink(path_.c_str());
  }
  [[nodiscard]] bool is_open() const { return file_ >= 0; }

  /// False, with `errno` set, when not everything reached the disk.
  [[nodiscard]] bool write(const std::string& contents) const {
    for (std::size_t done = 0; done < contents.size();) {
      const auto count = ::write(file_, contents.data() + done, contents.size() - done);
      if (count < 0 && errno == EINTR) continue;
      if (count < 0) return false;
      done += static_cast<std::size_t>(count);
    }
    return ::fsync(file_) == 0;
  }
  /// Gives it the mode of the file that it replaces.
  void take_mode(const std::string& old) const {
    struct stat status {};
    if (::stat(old.c_str(), &status) == 0) (void)::fchmod(file_, status.st_mode & 07777);
  }
  [[nodiscard]] bool rename_to(const std::string& target) {
    is_kept_ = ::rename(path_.c_str(), target.c_str()) == 0;
    return is_kept_;
  }

 private:
  std::string path_;
  int file_;
  bool is_kept_ = false;
};

}  // namespace

void write_file(const std::string& path, const std::string& contents) {
  std::error_code error;
  const auto status = fs::status(path, error);
  if (fs::is_directory(status)) refuse(path, "it is a folder");
  if (fs::exists(status) && !fs::is_regular_file(status)) refuse(path, "it is not a plain file");
  // A link keeps pointing where it does: what it points to is replaced.
  std::string target = path;
  if (fs::is_symlink(fs::symlink_status(path, error))) target = fs::weakly_canonical(path, error).string();
  // Beside the target, so that the rename stays on one file system and is atomic.
  NewFile file(fmt::format("{}.part-{}", target, ::getpid()));
  if (!file.is_open() || !file.write(contents)) refuse(path, std::strerror(errno));
  file.take_mode(target);
  if (!file.rename_to(target)) refuse(path, std::strerror(errno));
}

}  // namespace holdfast::model
