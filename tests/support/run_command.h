// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// Running a program as a person would: arguments in, output, errors and exit code out.

#include <fcntl.h>
#include <spawn.h>
#include <sys/wait.h>
#include <unistd.h>

#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <sstream>
#include <stdexcept>
#include <string>
#include <utility>
#include <vector>

namespace holdfast::support {

struct Ran {
  int code = -1;  ///< exit code; 128 + signal when it was killed
  std::string out;
  std::string err;
};

inline std::string contents_of(const std::filesystem::path& path) {
  std::ifstream in(path, std::ios::binary);
  std::ostringstream text;
  text << in.rdbuf();
  return text.str();
}

struct RunIn {
  std::filesystem::path folder;            ///< working directory
  std::vector<std::string> environment{};  ///< `NAME=value`, besides PATH
};

/// Output goes through files, so that no amount of it can block the program.
inline Ran run_command(const std::string& program, const std::vector<std::string>& arguments, const RunIn& in) {
  char name[] = "/tmp/holdfast-run-XXXXXX";
  if (!::mkdtemp(name)) throw std::runtime_error("no scratch folder");
  const std::filesystem::path scratch = name;
  const std::string out = scratch / "out", err = scratch / "err";

  std::vector<std::string> words = {program};
  words.insert(words.end(), arguments.begin(), arguments.end());
  std::vector<char*> argv;
  for (auto& word : words) argv.push_back(word.data());
  argv.push_back(nullptr);
  std::vector<std::string> settings = in.environment;
  const char* path = std::getenv("PATH");
  settings.push_back(std::string("PATH=") + (path ? path : "/usr/bin:/bin"));
  for (const char* kept : {"ASAN_OPTIONS", "UBSAN_OPTIONS", "TSAN_OPTIONS", "LSAN_OPTIONS"})
    if (const char* value = std::getenv(kept)) settings.push_back(std::string(kept) + "=" + value);
  std::vector<char*> envp;
  for (auto& setting : settings) envp.push_back(setting.data());
  envp.push_back(nullptr);

  posix_spawn_file_actions_t actions;
  posix_spawn_file_actions_init(&actions);
  posix_spawn_file_actions_addchdir_np(&actions, in.folder.c_str());
  posix_spawn_file_actions_addopen(&actions, 0, "/dev/null", O_RDONLY, 0);
  posix_spawn_file_actions_addopen(&actions, 1, out.c_str(), O_WRONLY | O_CREAT, 0600);
  posix_spawn_file_actions_addopen(&actions, 2, err.c_str(), O_WRONLY | O_CREAT, 0600);
  pid_t child = 0;
  const int failed = ::posix_spawn(&child, program.c_str(), &actions, nullptr, argv.data(), envp.data());
  posix_spawn_file_actions_destroy(&actions);
  if (failed) throw std::runtime_error("cannot run " + program);
  int status = 0;
  ::waitpid(child, &status, 0);
  Ran ran;
  ran.code = WIFEXITED(status) ? WEXITSTATUS(status) : 128 + WTERMSIG(status);
  ran.out = contents_of(out), ran.err = contents_of(err);
  std::filesystem::remove_all(scratch);
  return ran;
}

/// A folder for a test to work in, with the models of the source tree in it; removed at the end.
class Scratch {
 public:
  Scratch(const std::string& name, const std::filesystem::path& source)
      : folder_(std::filesystem::temp_directory_path() / ("holdfast-" + name + "-" + std::to_string(::getpid()))) {
    std::filesystem::remove_all(folder_);
    std::filesystem::create_directories(folder_);
    std::filesystem::create_directory_symlink(source / "models", folder_ / "models");
  }
  Scratch(const Scratch&) = delete;
  Scratch& operator=(const Scratch&) = delete;
  ~Scratch() { std::filesystem::remove_all(folder_); }
  [[nodiscard]] const std::filesystem::path& folder() const { return folder_; }

  /// A line as one would type it: words without quotes, and perhaps `> file` at the end.
  [[nodiscard]] Ran run(const std::string& program, const std::string& line) const {
    std::vector<std::string> words;
    std::istringstream parts(line);
    for (std::string word; parts >> word;) words.push_back(word);
    std::string target;
    if (words.size() > 2 && words[words.size() - 2] == ">") target = words.back(), words.resize(words.size() - 2);
    Ran ran = run_command(program, words, {folder_});
    if (!target.empty()) std::ofstream(folder_ / target, std::ios::binary) << std::exchange(ran.out, "");
    return ran;
  }

 private:
  std::filesystem::path folder_;
};

}  // namespace holdfast::support
