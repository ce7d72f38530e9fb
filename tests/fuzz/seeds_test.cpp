// SPDX-License-Identifier: GPL-3.0-or-later
// Every fuzz target over its seeds and over changes to them that are the same on every run; with clang the same targets
// run under libFuzzer (run.sh), which looks for changes that reach new code.

#include <gtest/gtest.h>

#include <algorithm>
#include <fstream>
#include <random>
#include <sstream>

#include "holdfast/report/read.h"
#include "targets.h"

namespace holdfast::fuzz {
namespace {

namespace fs = std::filesystem;
const fs::path seeds = fs::path(HOLDFAST_SOURCE_DIR) / "tests/fuzz/seeds";

std::string contents_of(const fs::path& file) {
  std::ostringstream bytes;
  bytes << std::ifstream(file, std::ios::binary).rdbuf();
  return bytes.str();
}

struct Seed {
  std::string name, bytes;
};
std::vector<Seed> seeds_of(const std::string& target) {
  std::vector<Seed> all;
  for (const auto& entry : fs::directory_iterator(seeds / target))
    all.push_back({entry.path().filename().string(), contents_of(entry.path())});
  std::sort(all.begin(), all.end(), [](const Seed& a, const Seed& b) { return a.name < b.name; });
  return all;
}

/// A byte changed, a stretch taken out, doubled or taken from another seed, a number made large: one to four of them.
/// The first byte, which chooses, stays.
std::string changed(std::string text, const std::vector<Seed>& all, std::mt19937_64& random) {
  static const char* const words[] = {"-1", "0", "1e999", "nan", "99999999999", "null",
                                      "[",  "{", "\"",    "\n",  ",",           "\xff"};
  const auto below = [&](std::size_t n) { return static_cast<std::size_t>(random() % n); };
  for (std::size_t turns = 1 + below(4); turns > 0 && text.size() > 2; --turns) {
    const std::size_t at = 1 + below(text.size() - 1), size = 1 + below(std::min<std::size_t>(text.size() - at, 40));
    switch (below(6)) {
      case 0:
        text[at] = static_cast<char>(random());
        break;
      case 1:
        text.erase(at, size);
        break;
      case 2:
        text.insert(at, text.substr(at, size));
        break;
      case 3:
        text.replace(at, std::min<std::size_t>(size, 4), words[below(std::size(words))]);
        break;
      case 4: {
        const auto& other = all[below(all.size())].bytes;
        if (!other.empty()) text.insert(at, other.substr(below(other.size()), size));
        break;
      }
      default:
        text[at] = static_cast<char>(text[at] ^ (1 << below(8)));
    }
  }
  return text;
}

struct Target {
  std::string name;
  void (*read)(std::string_view);
  int changes;  ///< of each seed; by what one takes
};
void PrintTo(const Target& target, std::ostream* out) { *out << target.name; }
class Seeds : public testing::TestWithParam<Target> {};

TEST_P(Seeds, AndChangesToThemDoNoHarm) {
  const auto& [name, read, changes] = GetParam();
  const auto all = seeds_of(name);
  ASSERT_GE(all.size(), 2u);
  for (const auto& seed : all) {
    ASSERT_NO_THROW(read(seed.bytes)) << seed.name;
    std::mt19937_64 random(20261126);
    for (int turn = 0; turn < changes; ++turn) {
      const std::string bytes = changed(seed.bytes, all, random);
      ASSERT_NO_THROW(read(bytes)) << seed.name << ", change " << turn << ":\n" << testing::PrintToString(bytes);
    }
  }
}

INSTANTIATE_TEST_SUITE_P(Of, Seeds,
                         testing::Values(Target{"mesh", mesh, 300}, Target{"model", model, 200},
                                         Target{"excursion", excursion, 200}, Target{"table", table, 100},
                                         Target{"result", result, 12}, Target{"store", store, 100},
                                         Target{"route", route, 4}),
                         [](const auto& target) { return target.param.name; });

// Else what is changed is refused at its first byte, and nothing behind is looked at.
TEST(SoundSeeds, AreRead) {
  const auto& [structure, kit, notes] = small_model();
  for (const auto& seed : seeds_of("result")) {
    if (seed.name == "rails") continue;  // of a mesh file
    EXPECT_NO_THROW((void)report::read_result(seed.name, seed.bytes, structure, kit))
        << seed.name << ": make the seeds anew by sh tests/fuzz/make_seeds.sh";
  }
}

}  // namespace
}  // namespace holdfast::fuzz
