#include <fmt/format.h>
#include <unistd.h>

#include <cerrno>
#include <cstring>
#include <filesystem>
#include <fstream>

#include "holdfast/report/report.h"

namespace holdfast::report {

namespace fs = std::filesystem;

void write_file(const std::string& path, const std::string& contents) {
  const auto refuse = [&](const std::string& why) {
    throw model::InputError({{{path},
                              "",
                              "cannot-write",
                              fmt::format("this file cannot be written: {}", why),
                              path,
                              "name a file in a folder that exists and that you may write to"}});
  };
  std::error_code error;
  if (fs::is_directory(path, error)) refuse("it is a folder");
  // Beside the target, so that the rename stays on one file system and is atomic.
  const std::string temporary = fmt::format("{}.part-{}", path, getpid());
  {
    std::ofstream out(temporary, std::ios::binary | std::ios::trunc);
    out.write(contents.data(), static_cast<std::streamsize>(contents.size()));
    out.flush();
    if (!out) {
      const std::string why = std::strerror(errno);
      fs::remove(temporary, error);
      refuse(why);
    }
  }
  fs::rename(temporary, path, error);
  if (error) {
    const std::string why = error.message();
    fs::remove(temporary, error);
    refuse(why);
  }
}

}  // namespace holdfast::report
