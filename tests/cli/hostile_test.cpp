// SPDX-License-Identifier: GPL-3.0-or-later
// The command on hostile input: every file of the corpus is answered with its message and exit code, within 10 s and 1
// GiB. And under faults: full disks, folders that cannot be written, signals.

#include <gtest/gtest.h>
#include <sys/stat.h>

#include <algorithm>
#include <csignal>
#include <cstring>
#include <nlohmann/json.hpp>
#include <set>

#include "hostile_cases.h"
#include "run_command.h"

namespace holdfast::hostile {
namespace {

namespace fs = std::filesystem;
using support::contents_of;
using support::Ran;
using support::run_command;

void write(const fs::path& file, const std::string& bytes) {
  fs::create_directories(file.parent_path());
  std::ofstream(file, std::ios::binary) << bytes;
}

/// A scratch folder with a sound model and a sound result; removed at the end.
class Folder {
 public:
  explicit Folder(const std::string& name)
      : path_(fs::temp_directory_path() / ("holdfast-hostile-" + name + "-" + std::to_string(::getpid()))) {
    fs::remove_all(path_);
    write(path_ / "model/structure.yaml", sound_structure());
    write(path_ / "model/kit.yaml", sound_kit());
    write(path_ / "model/rails.csv", "id,part,x1,y1,z1,x2,y2,z2\n");
  }
  Folder(const Folder&) = delete;
  Folder& operator=(const Folder&) = delete;
  ~Folder() { fs::remove_all(path_); }
  [[nodiscard]] const fs::path& path() const { return path_; }
  /// The command under a limit of memory, of processor time and of time on the clock, which ends what waits. `limits`:
  /// of the shell.
  [[nodiscard]] Ran run(const std::vector<std::string>& arguments,
                        const std::string& limits = "ulimit -d 1048576") const {
    std::vector<std::string> words = {"100", "/bin/sh", "-c", "ulimit -t 10; " + limits + "; exec \"$0\" \"$@\"",
                                      HOLDFAST_COMMAND};
    words.insert(words.end(), arguments.begin(), arguments.end());
    return run_command("/usr/bin/timeout", words, {path_, {"XDG_CACHE_HOME=" + (path_ / "cache").string()}});
  }
  [[nodiscard]] Ran shell(const std::string& line) const { return run_command("/bin/sh", {"-c", line}, {path_}); }

 private:
  fs::path path_;
};

const std::vector<std::string> to_bench = {"route", "model", "--from", "hatch", "--to", "bench"};
std::vector<std::string> and_more(std::vector<std::string> words, const std::vector<std::string>& more) {
  words.insert(words.end(), more.begin(), more.end());
  return words;
}

std::string sound_result() {
  const Folder folder("result");
  // The table that the corpus has with every case.
  write(folder.path() / "model/rails.csv",
        all_cases("{\"a\":1,\"verb\":2,\"model\":{},\"request\":{}}").back().files.at("model/rails.csv"));
  const auto ran = folder.run(and_more(to_bench, {"--json"}));
  EXPECT_EQ(ran.code, 0) << ran.err;
  return ran.out;
}

/// Words of libraries, of our own inside, and of paths that are nobody's business.
void expect_own_words(const std::string& text, const fs::path& folder) {
  for (const char* word : {"bad_alloc", "exception", "nternal fault", "json.", "yaml-cpp", "assimp", "CGAL",
                           "std::", "terminate", "Assertion", "unspecified"})
    EXPECT_EQ(text.find(word), std::string::npos) << word << " in " << text;
  EXPECT_EQ(text.find(folder.string()), std::string::npos) << text;
  for (const unsigned char c : text) EXPECT_TRUE(c >= 0x20 || c == '\n') << "control character in " << text;
  for (const char* mark : {"\xe2\x80\xae", "\xe2\x80\x8f", "\xc2\x9b"}) EXPECT_EQ(text.find(mark), std::string::npos);
}

TEST(Hostile, FilesOfTheCorpusAreToldAndDoNoHarm) {
  const std::string route = sound_result();
  const auto cases = all_cases(route);
  EXPECT_GE(cases.size(), 200u);
  std::set<std::string> names;
  for (const auto& one : cases) {
    SCOPED_TRACE(one.name);
    EXPECT_TRUE(names.insert(one.name).second) << "two of one name";
    const Folder folder("corpus");
    write(folder.path() / "route.json", route);
    for (const auto& [file, bytes] : one.files) write(folder.path() / file, bytes);
    for (const auto& line : one.before) ASSERT_EQ(folder.shell(line).code, 0) << line;
    const auto ran = folder.run(one.arguments);
    EXPECT_TRUE(ran.code >= 0 && ran.code <= 2) << ran.code << ' ' << ran.err;
    // Results may do without some of their fields.
    if (!one.name.starts_with("result with"))
      EXPECT_EQ(one.name.find("sound") != std::string::npos, ran.code != 2) << ran.err;
    if (std::find(one.arguments.begin(), one.arguments.end(), "--json") != one.arguments.end()) {
      EXPECT_EQ(nlohmann::json::parse(ran.out)["holdfast"], "errors/1");
    } else if (ran.code == 2) {
      EXPECT_NE(ran.err.find("\n    "), std::string::npos) << "no remedy: " << ran.err;
      EXPECT_EQ(ran.out, "");
    } else {
      EXPECT_EQ(ran.err, "");
    }
    expect_own_words(ran.err, folder.path());
    EXPECT_LT(std::count(ran.err.begin(), ran.err.end(), '\n'), 210)
        << "more than 100 faults and the count of the rest";
    EXPECT_LT(ran.err.size(), 200'000u);
  }
}

TEST(Hostile, InputsAreNeverWrittenOver) {
  const std::string route = sound_result();
  for (const auto& one : all_cases(route)) {
    if (one.name.find(" over ") == std::string::npos) continue;
    SCOPED_TRACE(one.name);
    const Folder folder("over");
    write(folder.path() / "route.json", route);
    for (const auto& [file, bytes] : one.files) write(folder.path() / file, bytes);
    for (const auto& line : one.before) ASSERT_EQ(folder.shell(line).code, 0);
    const auto before = folder.shell("find . -type f | sort | xargs sha256sum").out;
    EXPECT_EQ(folder.run(one.arguments).code, 2);
    EXPECT_EQ(folder.shell("find . -type f | sort | xargs sha256sum").out, before);
  }
}

TEST(Hostile, AllTargetsAreLookedAtBeforeTheFirstIsWritten) {
  const Folder folder("targets");
  EXPECT_EQ(folder.run({"draw", "model", "--svg", "first.svg", "--html", "no/such.html"}).code, 2);
  EXPECT_FALSE(fs::exists(folder.path() / "first.svg"));
}

TEST(Faults, FullDeviceIsToldByEveryVerbAndByHelp) {
  const Folder folder("full");
  for (const std::vector<std::string>& words : {std::vector<std::string>{"--help"},
                                                {"--version"},
                                                {"route", "--help"},
                                                to_bench,
                                                and_more(to_bench, {"--json"}),
                                                {"check", "model"},
                                                {"home", "model", "--to", "hatch"},
                                                {"matrix", "model"},
                                                {"draw", "model", "--svg", "a.svg"}}) {
    SCOPED_TRACE(testing::PrintToString(words));
    std::string line = HOLDFAST_COMMAND;
    for (const auto& word : words) line += " " + word;
    const auto ran = folder.shell(line + " > /dev/full");
    EXPECT_EQ(ran.code, 2);
    EXPECT_EQ(ran.err, "standard output cannot be written\n    see that what it goes to has room and stays open\n");
  }
}

TEST(Faults, FileThatMayNotGrowLeavesWhatWasThere) {
  // A limit on the size of files is met like a full disk: after some bytes, in the midst of a write.
  const Folder folder("size");
  write(folder.path() / "a.html", "what was there");
  const auto ran = folder.run({"draw", "model", "--html", "a.html"}, "ulimit -f 100");
  EXPECT_EQ(ran.code, 2);
  EXPECT_EQ(ran.err,
            "a.html: this file cannot be written: File too large\n"
            "    name a file in a folder that exists and that you may write to\n");
  EXPECT_EQ(contents_of(folder.path() / "a.html"), "what was there");
  EXPECT_EQ(folder.shell("ls -A").out, "a.html\ncache\nmodel\n") << "nothing is left beside it";
  EXPECT_EQ(folder.shell("find . -name '.holdfast-*'").out, "") << "nor beside what is kept";
}

TEST(Faults, WrittenFilesKeepModeLinksAndNeighbours) {
  const Folder folder("modes");
  write(folder.path() / "a.csv", "old");
  ASSERT_EQ(folder.shell("chmod 640 a.csv; ln -s a.csv link.csv; touch .holdfast-1-0").code, 0);
  EXPECT_EQ(folder.run(and_more(to_bench, {"--csv", "link.csv"})).code, 0);
  EXPECT_TRUE(fs::is_symlink(folder.path() / "link.csv"));
  EXPECT_EQ(folder.shell("stat -c %a a.csv").out, "640\n");
  EXPECT_EQ(contents_of(folder.path() / "a.csv").substr(0, 4), "leg,");
  EXPECT_EQ(folder
                .shell("umask 027; " + std::string(HOLDFAST_COMMAND) +
                       " route model --from hatch --to bench --csv new.csv >/dev/null; stat -c %a new.csv")
                .out,
            "640\n");
}

/// Files that the process has open below `folder`, without a name or with one of ours.
bool is_writing(pid_t process, const fs::path& folder) {
  try {
    for (const auto& entry : fs::directory_iterator("/proc/" + std::to_string(process) + "/fd")) {
      std::error_code error;
      if (fs::read_symlink(entry.path(), error).string().starts_with((folder / "out").string())) return true;
    }
  } catch (const fs::filesystem_error&) {  // it ended meanwhile
  }
  return false;
}

TEST(Faults, SignalsWhileWritingLeaveTheOldFileOrTheNewOne) {
  const Folder folder("signals");
  const auto whole = [&] {
    EXPECT_EQ(folder.run({"draw", "model", "--html", "out/a.html"}).code, 0);
    return contents_of(folder.path() / "out/a.html");
  };
  fs::create_directories(folder.path() / "out");
  const std::string made = whole();
  ASSERT_GT(made.size(), 100'000u);
  for (const int signal : {SIGINT, SIGTERM, SIGHUP, SIGKILL})
    for (const bool has_old : {false, true}) {
      SCOPED_TRACE(strsignal(signal));
      fs::remove(folder.path() / "out/a.html");
      if (has_old) write(folder.path() / "out/a.html", "old");
      const pid_t child = ::fork();
      if (child == 0) {
        if (::chdir(folder.path().c_str()) != 0) ::_exit(9);
        const int null = ::open("/dev/null", O_WRONLY);
        ::dup2(null, 1), ::dup2(null, 2);
        ::execl(HOLDFAST_COMMAND, HOLDFAST_COMMAND, "draw", "model", "--html", "out/a.html", nullptr);
        ::_exit(9);
      }
      // As soon as the new file is open; or not at all, where writing was quicker than looking.
      int status = 0;
      while (::waitpid(child, &status, WNOHANG) == 0)
        if (is_writing(child, folder.path())) {
          ::kill(child, signal);
          ::waitpid(child, &status, 0);
          break;
        }
      const auto names = folder.shell("ls -A out").out;
      const auto now = contents_of(folder.path() / "out/a.html");
      EXPECT_TRUE(now == made || now == (has_old ? "old" : "")) << now.size() << " bytes";
      if (signal != SIGKILL) EXPECT_TRUE(names.empty() || names == "a.html\n") << names;
    }
  // Whatever a killed run left does not keep the next from its work.
  EXPECT_EQ(whole(), made);
}

TEST(Faults, BrokenPipeEndsQuietly) {
  const Folder folder("pipe");
  EXPECT_EQ(folder.shell(std::string(HOLDFAST_COMMAND) + " check model --json | head -c 1 >/dev/null").err, "");
}

}  // namespace
}  // namespace holdfast::hostile
