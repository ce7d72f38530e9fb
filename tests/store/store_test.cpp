// SPDX-License-Identifier: GPL-3.0-or-later
// What is kept is found again whole, or not at all.

#include "holdfast/store/store.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <sys/resource.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <unistd.h>

#include <csignal>
#include <filesystem>
#include <fstream>
#include <random>
#include <sstream>
#include <thread>

#include "holdfast/store/bytes.h"

namespace holdfast::store {
namespace {

namespace fs = std::filesystem;
using testing::ElementsAre;
using testing::Pair;

std::string contents_of(const fs::path& file) {
  std::ostringstream bytes;
  bytes << std::ifstream(file, std::ios::binary).rdbuf();
  return bytes.str();
}
void write(const fs::path& file, const std::string& bytes) { std::ofstream(file, std::ios::binary) << bytes; }

const std::string key_a(64, 'a'), key_b(64, 'b');

class StoreTest : public testing::Test {
 protected:
  StoreTest() : folder_(fs::temp_directory_path() / ("holdfast-store-test-" + std::to_string(::getpid()))) {
    fs::remove_all(folder_);
  }
  ~StoreTest() override {
    std::error_code error;
    fs::permissions(folder_, fs::perms::owner_all, error);
    fs::remove_all(folder_);
  }
  [[nodiscard]] Store store(std::size_t most = usual_most_bytes, const std::string& build = engine_build()) const {
    return Store((folder_ / "kept").string(), most, build);
  }
  /// The body, as text; "none" where nothing is found.
  static std::string found(const Store& in, const std::string& kind, const std::string& key) {
    const auto entry = in.find(kind, key);
    return entry ? std::string(entry->body()) : "none";
  }
  const fs::path folder_;
};

TEST_F(StoreTest, GivesBackWhatWasPutUnderItsKindAndKeyAlone) {
  const auto kept = store();
  EXPECT_EQ(found(kept, "graph", key_a), "none");
  EXPECT_FALSE(fs::exists(kept.folder())) << "nothing was put";
  kept.put("graph", key_a, "one");
  kept.put("graph", key_b, "");
  kept.put("mesh", key_a, std::string(5'000'000, 'x') + "end");
  EXPECT_EQ(found(kept, "graph", key_a), "one");
  EXPECT_EQ(found(kept, "graph", key_b), "");
  EXPECT_EQ(found(kept, "mesh", key_a), std::string(5'000'000, 'x') + "end");
  EXPECT_EQ(found(kept, "mesh", key_b), "none");
  kept.put("graph", key_a, "two");
  EXPECT_EQ(found(kept, "graph", key_a), "two");
  EXPECT_TRUE(kept.incidents().empty());
}

TEST_F(StoreTest, IsNotUsedByAnotherBuildNorTellsOfIt) {
  store().put("graph", key_a, "of this build");
  const auto other = store(usual_most_bytes, std::string(64, '0'));
  EXPECT_EQ(found(other, "graph", key_a), "none");
  other.put("graph", key_a, "of another");
  EXPECT_EQ(found(other, "graph", key_a), "of another");
  EXPECT_EQ(found(store(), "graph", key_a), "of this build") << "both stand beside each other";
  // Under the right name, but of another build: as after a copy by hand.
  fs::copy_file(other.file_of("graph", key_a), store().file_of("graph", key_a), fs::copy_options::overwrite_existing);
  const auto kept = store();
  EXPECT_EQ(found(kept, "graph", key_a), "none");
  ASSERT_EQ(kept.incidents().size(), 1u);
  EXPECT_EQ(kept.incidents().front().kind, IncidentKind::Unusable);
}

TEST_F(StoreTest, IsNotUsedForAnotherKeyOrKindUnderItsName) {
  const auto kept = store();
  kept.put("graph", key_a, "a");
  kept.put("mesh", key_a, "m");
  fs::copy_file(kept.file_of("graph", key_a), kept.file_of("graph", key_b));
  fs::copy_file(kept.file_of("graph", key_a), kept.file_of("mesh", key_a), fs::copy_options::overwrite_existing);
  EXPECT_EQ(found(kept, "graph", key_b), "none");
  EXPECT_EQ(found(kept, "mesh", key_a), "none");
  EXPECT_EQ(kept.incidents().size(), 2u);
}

TEST_F(StoreTest, IsNotUsedWithAnyOneByteFlippedOrCutAnywhere) {
  const auto kept = store();
  kept.put("graph", key_a, "a body of some bytes");
  const fs::path file = kept.file_of("graph", key_a);
  const std::string sound = contents_of(file);
  for (std::size_t at = 0; at < sound.size(); ++at) {
    std::string damaged = sound;
    damaged[at] = static_cast<char>(damaged[at] ^ (1 << at % 8));
    write(file, damaged);
    ASSERT_EQ(found(kept, "graph", key_a), "none") << "byte " << at;
  }
  for (std::size_t size = 0; size < sound.size(); ++size) {
    write(file, sound.substr(0, size));
    ASSERT_EQ(found(kept, "graph", key_a), "none") << size << " bytes";
  }
  write(file, sound + '\0');
  EXPECT_EQ(found(kept, "graph", key_a), "none");
  EXPECT_EQ(kept.incidents().size(), 1u) << "one file is told once";
  kept.put("graph", key_a, "a body of some bytes");
  EXPECT_EQ(contents_of(file), sound) << "the same content is the same bytes";
  EXPECT_EQ(found(kept, "graph", key_a), "a body of some bytes");
}

TEST_F(StoreTest, FindsDamageInEveryPieceOfALargeBody) {
  std::mt19937_64 random(20261126);
  std::string body(3 * (std::size_t{1} << 20) + 12'345, '\0');
  for (char& c : body) c = static_cast<char>(random());
  const auto kept = store();
  kept.put("mesh", key_a, body);
  const fs::path file = kept.file_of("mesh", key_a);
  EXPECT_EQ(found(kept, "mesh", key_a), body);
  const std::string sound = contents_of(file);
  for (int i = 0; i < 40; ++i) {
    std::string damaged = sound;
    damaged[random() % damaged.size()] ^= 4;
    write(file, damaged);
    ASSERT_EQ(found(kept, "mesh", key_a), "none") << "turn " << i;
  }
}

TEST_F(StoreTest, DoesNotWaitForAPipeNorReadAFolder) {
  const auto kept = store();
  kept.put("graph", key_a, "a");
  const fs::path file = kept.file_of("graph", key_a);
  fs::remove(file);
  ASSERT_EQ(::mkfifo(file.c_str(), 0600), 0);
  EXPECT_EQ(found(kept, "graph", key_a), "none");
  kept.put("graph", key_a, "a");
  fs::remove(file);
  fs::create_directory(file);
  EXPECT_EQ(found(kept, "graph", key_a), "none");
  kept.put("graph", key_a, "a");
  EXPECT_EQ(kept.usage().entries, 0u);
  for (const auto& incident : kept.incidents()) EXPECT_EQ(incident.file, file);
}

TEST_F(StoreTest, IsSilentWhereNothingCanBeWritten) {
  const Store kept("/proc/nowhere");
  kept.put("graph", key_a, "a");
  EXPECT_EQ(found(kept, "graph", key_a), "none");
  ASSERT_EQ(kept.incidents().size(), 1u);
  EXPECT_EQ(kept.incidents().front().kind, IncidentKind::NotKept);
  EXPECT_NE(kept.incidents().front().why, "");
  const Usage usage = kept.usage();
  EXPECT_EQ(usage.entries, 0u);
  EXPECT_EQ(usage.bytes, 0u);
}

TEST_F(StoreTest, LeavesNothingOfWhatCannotBeWrittenWhole) {
  // A file that may not grow is as a disk that is full.
  const auto kept = store();
  kept.put("graph", key_a, "small");
  const pid_t child = ::fork();
  if (child == 0) {
    ::signal(SIGXFSZ, SIG_IGN);
    const rlimit limit{4096, 4096};
    ::setrlimit(RLIMIT_FSIZE, &limit);
    kept.put("graph", key_b, std::string(100'000, 'x'));
    ::_exit(kept.incidents().size() == 1 && kept.incidents().front().kind == IncidentKind::NotKept ? 0 : 1);
  }
  int status = 0;
  ASSERT_EQ(::waitpid(child, &status, 0), child);
  EXPECT_EQ(status, 0);
  EXPECT_EQ(found(kept, "graph", key_b), "none");
  EXPECT_EQ(std::distance(fs::directory_iterator(kept.folder()), {}), 1);
  EXPECT_EQ(found(kept, "graph", key_a), "small");
}

TEST_F(StoreTest, IsReadFromAFolderThatMayNotBeWrittenTo) {
  const auto kept = store();
  kept.put("graph", key_a, "a");
  fs::permissions(kept.folder(), fs::perms::owner_read | fs::perms::owner_exec);
  EXPECT_EQ(found(kept, "graph", key_a), "a");
  if (::geteuid() != 0) {  // whom no permission stops
    kept.put("graph", key_b, "b");
    EXPECT_EQ(kept.incidents().size(), 1u);
  }
  fs::permissions(kept.folder(), fs::perms::owner_all);
}

TEST_F(StoreTest, LetsGoOfWhatWasUsedLongestAgo) {
  const std::string body(1000, 'x');
  const std::size_t one = [&] {
    store().put("graph", std::string(64, '9'), body);
    const auto size = fs::file_size(store().file_of("graph", std::string(64, '9')));
    fs::remove_all(folder_);
    return size;
  }();
  const auto kept = store(3 * one);
  const auto key = [](char c) { return std::string(64, c); };
  const auto used = [&](char c, int seconds) {  // when it was used, as the file system has it
    // Counted from 1970; the clock of files has its zero in 2174.
    fs::last_write_time(kept.file_of("graph", key(c)),
                        fs::file_time_type(std::chrono::seconds(seconds) - std::chrono::seconds(6'437'664'000)));
  };
  for (const char c : {'1', '2', '3'}) kept.put("graph", key(c), body);
  used('1', 300), used('2', 100), used('3', 200);
  kept.put("graph", key('4'), body);
  EXPECT_EQ(found(kept, "graph", key('2')), "none") << "the oldest";
  used('1', 300), used('3', 200), used('4', 400);
  EXPECT_EQ(found(kept, "graph", key('3')), body) << "found, so used just now";
  kept.put("graph", key('5'), body);
  EXPECT_EQ(found(kept, "graph", key('1')), "none");
  EXPECT_EQ(found(kept, "graph", key('3')), body);
  EXPECT_EQ(kept.usage().entries, 3u);
  EXPECT_LE(kept.usage().bytes, 3 * one);
  kept.put("graph", key('6'), std::string(4 * one, 'y'));
  EXPECT_EQ(kept.usage().entries, 3u) << "nothing goes for what has no room at all";
  EXPECT_EQ(kept.incidents().back().kind, IncidentKind::NotKept);
}

TEST_F(StoreTest, TouchesNoFileThatIsNotItsOwn) {
  const auto kept = store(600);
  fs::create_directories(kept.folder());
  const fs::path folder = kept.folder();
  const std::vector<std::string> others = {"notes.txt", key_a, key_a + ".graph2", std::string(64, 'G') + ".graph",
                                           ".holdfast-1-0"};
  for (const auto& name : others) write(folder / name, std::string(10'000, 'x'));
  for (int i = 0; i < 5; ++i) kept.put("graph", std::string(64, static_cast<char>('0' + i)), std::string(200, 'x'));
  for (const auto& name : others) EXPECT_TRUE(fs::exists(folder / name)) << name;
  EXPECT_EQ(kept.usage().entries, 1u);
  // What a run left that was ended while it wrote.
  fs::last_write_time(folder / ".holdfast-1-0", fs::file_time_type::clock::now() - std::chrono::hours(2));
  kept.put("graph", key_a, "a");
  EXPECT_FALSE(fs::exists(folder / ".holdfast-1-0"));
}

TEST_F(StoreTest, CountsWhatItHolds) {
  const auto kept = store();
  kept.put("graph", key_a, "a"), kept.put("graph", key_b, "b"), kept.put("mesh", key_a, "c");
  store(usual_most_bytes, std::string(64, '0')).put("mesh", key_b, "d");
  const std::string damaged = contents_of(kept.file_of("graph", key_b));
  write(kept.file_of("graph", key_b), damaged.substr(0, damaged.size() - 1));
  const Usage usage = kept.usage();
  EXPECT_EQ(usage.entries, 4u);
  EXPECT_THAT(usage.by_kind, ElementsAre(Pair("graph", 2), Pair("mesh", 2)));
  EXPECT_EQ(usage.of_other_builds, 1u);
  EXPECT_EQ(usage.unusable, 1u);
  EXPECT_EQ(usage.bytes, 4 * damaged.size() - 1);
}

TEST_F(StoreTest, IsSharedByProcessesThatWriteAndReadAtOnce) {
  const auto kept = store();
  const auto body_of = [](int turn) { return std::string(300'000, static_cast<char>('a' + turn % 3)); };
  const auto work = [&](int first) {
    for (int turn = 0; turn < 60; ++turn) {
      kept.put("graph", key_a, body_of(first + turn));
      const auto entry = kept.find("graph", key_a);
      if (!entry) return false;  // always whole, whosever it is
      const std::string text(entry->body());
      if (text != body_of(0) && text != body_of(1) && text != body_of(2)) return false;
    }
    return kept.incidents().empty();
  };
  const pid_t child = ::fork();
  if (child == 0) ::_exit(work(0) ? 0 : 1);
  std::thread other([&] { EXPECT_TRUE(work(1)); });
  EXPECT_TRUE(work(2));
  other.join();
  int status = 0;
  ASSERT_EQ(::waitpid(child, &status, 0), child);
  EXPECT_EQ(status, 0);
  EXPECT_EQ(std::distance(fs::directory_iterator(kept.folder()), {}), 1) << "nothing is left beside it";
}

TEST(Bytes, AreTakenAsTheyWerePutAndNeverBeyondTheEnd) {
  Writer out;
  out.put(std::uint32_t{7}), out.put(-0.0), out.put(std::string_view("text")), out.put(Eigen::Vector3d(1, 2, 3));
  out.put_all(std::vector<double>{4, 5}), out.put(true);
  const auto read = [](std::string_view bytes) {
    Reader in(bytes);
    const auto number = in.take<std::uint32_t>();
    const auto zero = in.take<double>();
    const auto text = in.take_text();
    const auto point = in.take_point();
    const auto list = in.take_all<double>();
    const bool flag = in.take_flag();
    const bool is_whole = in.is_good() && in.is_at_end();
    EXPECT_EQ(is_whole, number == 7 && zero == 0 && std::signbit(zero) && text == "text" &&
                            point == Eigen::Vector3d(1, 2, 3) && list == std::vector<double>({4, 5}) && flag);
    return is_whole;
  };
  EXPECT_TRUE(read(out.bytes()));
  for (std::size_t size = 0; size < out.bytes().size(); ++size) EXPECT_FALSE(read(out.bytes().substr(0, size)));
}

TEST(Bytes, BelieveNoCountThatCannotFollow) {
  for (const std::uint64_t count : {std::uint64_t{2}, std::uint64_t{1} << 40, ~std::uint64_t{0}}) {
    Writer out;
    out.put(count), out.put(1.0);
    Reader numbers(out.bytes());
    EXPECT_TRUE(numbers.take_all<double>().empty());
    EXPECT_FALSE(numbers.is_good());
    Reader text(out.bytes());
    EXPECT_EQ(text.take_text().size(), count == 2 ? 2u : 0u);
    Reader bytes(out.bytes());
    EXPECT_EQ(bytes.take_bytes(static_cast<std::size_t>(count), 16).size(), 0u);
    EXPECT_FALSE(bytes.is_good());
  }
  Writer flag;
  flag.put(std::uint8_t{2});
  Reader in(flag.bytes());
  (void)in.take_flag();
  EXPECT_FALSE(in.is_good());
}

TEST(Build, IsNamedByADigest) {
  EXPECT_EQ(engine_build().size(), 64u);
  EXPECT_EQ(engine_build(), engine_build());
}

}  // namespace
}  // namespace holdfast::store
