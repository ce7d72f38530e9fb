// SPDX-License-Identifier: GPL-3.0-or-later
#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <sys/stat.h>
#include <unistd.h>

#include <filesystem>
#include <fstream>
#include <sstream>

#include "holdfast/report/report.h"

namespace holdfast::report {
namespace {

namespace fs = std::filesystem;

class WriteFile : public testing::Test {
 protected:
  void SetUp() override {
    folder_ = fs::temp_directory_path() / ("holdfast-write-" + std::to_string(::getpid()));
    fs::create_directories(folder_);
  }
  void TearDown() override { fs::remove_all(folder_); }

  static std::string contents(const fs::path& path) {
    std::ifstream in(path, std::ios::binary);
    std::ostringstream text;
    text << in.rdbuf();
    return text.str();
  }
  std::size_t count() const {
    return static_cast<std::size_t>(std::distance(fs::directory_iterator(folder_), fs::directory_iterator{}));
  }
  static model::Diagnostic fault(const std::string& path) {
    try {
      write_file(path, "x");
    } catch (const model::InputError& error) {
      return error.diagnostics().front();
    }
    ADD_FAILURE() << "nothing was thrown for " << path;
    return {};
  }

  fs::path folder_;
};

TEST_F(WriteFile, LeavesExactlyTheFileAsked) {
  const std::string bytes("a\0b\r\n", 5);
  write_file(folder_ / "out.csv", bytes);
  EXPECT_EQ(contents(folder_ / "out.csv"), bytes);
  EXPECT_EQ(count(), 1u);
}

TEST_F(WriteFile, ReplacesAFileAndKeepsItsMode) {
  write_file(folder_ / "out.csv", "a long first version");
  fs::permissions(folder_ / "out.csv", fs::perms::owner_read | fs::perms::owner_write);
  write_file(folder_ / "out.csv", "second");
  EXPECT_EQ(contents(folder_ / "out.csv"), "second");
  EXPECT_EQ(fs::status(folder_ / "out.csv").permissions(), fs::perms::owner_read | fs::perms::owner_write);
  EXPECT_EQ(count(), 1u);
}

TEST_F(WriteFile, WritesThroughALink) {
  write_file(folder_ / "real.csv", "first");
  fs::create_symlink("real.csv", folder_ / "link.csv");
  write_file(folder_ / "link.csv", "second");
  EXPECT_TRUE(fs::is_symlink(folder_ / "link.csv"));
  EXPECT_EQ(contents(folder_ / "real.csv"), "second");
}

TEST_F(WriteFile, NamesThePathAndTheReasonAndLeavesNothingBehind) {
  const std::string missing = folder_ / "no" / "out.csv";
  const auto diagnostic = fault(missing);
  EXPECT_EQ(diagnostic.code, "cannot-write");
  EXPECT_EQ(diagnostic.text(), missing +
                                   ": this file cannot be written: No such file or directory\n"
                                   "    name a file in a folder that exists and that you may write to");
  EXPECT_EQ(count(), 0u);
}

TEST_F(WriteFile, RefusesFoldersAndDevices) {
  EXPECT_EQ(fault(folder_).problem, "this file cannot be written: it is a folder");
  EXPECT_EQ(fault("/dev/full").problem, "this file cannot be written: it is not a plain file");
  ASSERT_EQ(::mkfifo((folder_ / "pipe").c_str(), 0600), 0);
  EXPECT_EQ(fault(folder_ / "pipe").problem, "this file cannot be written: it is not a plain file");
}

}  // namespace
}  // namespace holdfast::report
