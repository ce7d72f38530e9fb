// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// A folder of what is kept, for one test.

#include <gtest/gtest.h>
#include <unistd.h>

#include <filesystem>
#include <fstream>
#include <map>
#include <sstream>
#include <string>

#include "holdfast/store/store.h"

namespace holdfast::support {

namespace fs = std::filesystem;

inline std::string bytes_of(const fs::path& file) {
  std::ostringstream bytes;
  bytes << std::ifstream(file, std::ios::binary).rdbuf();
  return bytes.str();
}
inline void write_bytes(const fs::path& file, const std::string& bytes) {
  std::ofstream(file, std::ios::binary) << bytes;
}

class KeptFolder : public testing::Test {
 protected:
  KeptFolder() : folder_(fs::temp_directory_path() / ("holdfast-kept-" + std::to_string(::getpid()))) {
    fs::remove_all(folder_);
    fs::create_directories(folder_);
  }
  ~KeptFolder() override { fs::remove_all(folder_); }
  [[nodiscard]] fs::path kept() const { return folder_ / "kept"; }
  /// Name -> bytes of all that is kept.
  [[nodiscard]] std::map<std::string, std::string> entries() const {
    std::map<std::string, std::string> all;
    if (fs::exists(kept()))
      for (const auto& file : fs::directory_iterator(kept())) all[file.path().filename()] = bytes_of(file.path());
    return all;
  }
  const fs::path folder_;
};

}  // namespace holdfast::support
