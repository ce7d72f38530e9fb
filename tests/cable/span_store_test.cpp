// SPDX-License-Identifier: GPL-3.0-or-later
// Spans kept on disk: the same as computed, and never used when they are not what was asked for.

#include "holdfast/cable/span_store.h"

#include <gtest/gtest.h>
#include <sys/stat.h>

#include <filesystem>
#include <fstream>
#include <sstream>

#include "mesh_scene.h"

namespace holdfast::cable {
namespace {

namespace fs = std::filesystem;
using support::YardBuilder;

std::string contents_of(const fs::path& file) {
  std::ostringstream bytes;
  bytes << std::ifstream(file, std::ios::binary).rdbuf();
  return bytes.str();
}

void expect_same(const SpanTable& x, const SpanTable& y) {
  EXPECT_EQ(pack_spans(x, std::string(64, '0')), pack_spans(y, std::string(64, '0')));
}

class Store : public testing::Test {
 protected:
  Store() : folder_(fs::temp_directory_path() / ("holdfast-store-" + std::to_string(::getpid()))) {
    fs::remove_all(folder_);
    YardBuilder yard;
    yard.part("box", model::Box{.center = {0, 0, 1}, .size = {2, 2, 2}});
    yard.structure.files.push_back({"structure.yaml", std::string(64, 'a')});
    structure_ = yard.structure;
    for (const Vec3& at : {Vec3(0.8, 0, -0.03), Vec3(1.03, 0, 0.2), Vec3(0.4, 0, -0.03), Vec3(1.03, 0, 0.7)})
      ties_.push_back({.at = at, .way = at});
  }
  ~Store() override { fs::remove_all(folder_); }

  FoundSpans find() const {
    const auto scene = geometry::build_scene(structure_, {});
    const SpanStore store{folder_.string()};
    return find_spans(scene, ties_, rules_, &store);
  }
  fs::path only_file() const {
    EXPECT_EQ(std::distance(fs::directory_iterator(folder_), {}), 1);
    return fs::directory_iterator(folder_)->path();
  }

  const fs::path folder_;
  model::Structure structure_;
  SpanRules rules_;
  std::vector<Tie> ties_;
};

TEST_F(Store, GivesBackWhatWasComputed) {
  const auto first = find(), second = find();
  EXPECT_EQ(first.source, SpanSource::Computed);
  EXPECT_EQ(second.source, SpanSource::Kept);
  EXPECT_GE(first.table.spans.size(), 2u);
  expect_same(first.table, second.table);
  EXPECT_EQ(first.not_kept, "");
}

TEST_F(Store, IsNotUsedForAnotherModelRuleOrTie) {
  (void)find();
  rules_.radius_m = 0.006;
  EXPECT_EQ(find().source, SpanSource::Computed);
  structure_.files[0].sha256[0] = 'b';
  EXPECT_EQ(find().source, SpanSource::Computed);
  ties_[0].way.x() += 1e-9;
  EXPECT_EQ(find().source, SpanSource::Computed);
  EXPECT_EQ(find().source, SpanSource::Kept);
}

TEST_F(Store, IsNotUsedWhenDamagedWhereverTheDamageIs) {
  const auto sound = find();
  const auto file = only_file();
  const std::string bytes = contents_of(file);
  for (std::size_t at = 0; at < bytes.size(); at += 7) {
    std::string damaged = bytes;
    damaged[at] = static_cast<char>(damaged[at] ^ 0x20);
    std::ofstream(file, std::ios::binary) << damaged;
    const auto found = find();
    EXPECT_EQ(found.source, SpanSource::Computed) << "byte " << at;
    expect_same(found.table, sound.table);
    EXPECT_EQ(contents_of(file), bytes) << "written afresh";
  }
  for (const std::size_t size :
       {std::size_t{0}, std::size_t{10}, std::size_t{80}, bytes.size() / 2, bytes.size() - 1}) {
    std::ofstream(file, std::ios::binary) << bytes.substr(0, size);
    EXPECT_EQ(find().source, SpanSource::Computed) << size << " bytes";
  }
  std::ofstream(file, std::ios::binary) << bytes << "more";
  EXPECT_EQ(find().source, SpanSource::Computed);
}

TEST_F(Store, DoesNotWaitForAPipeUnderItsName) {
  const auto sound = find();
  const auto file = only_file();
  fs::remove(file);
  ASSERT_EQ(::mkfifo(file.c_str(), 0600), 0);
  const auto found = find();
  EXPECT_EQ(found.source, SpanSource::Computed);
  expect_same(found.table, sound.table);
}

TEST_F(Store, RefusesAnotherContentUnderItsName) {
  // Sound bytes with a right digest, of fewer ties or with indices out of range.
  SpanTable table;
  table.spans.push_back({0, 3, {}});
  const std::string key(64, 'c');
  const auto bytes = pack_spans(table, key);
  EXPECT_TRUE(unpack_spans(bytes, key, 4, 1).has_value());
  EXPECT_FALSE(unpack_spans(bytes, key, 3, 1).has_value()) << "tie 3 of 3";
  EXPECT_FALSE(unpack_spans(bytes, std::string(64, 'd'), 4, 1).has_value()) << "another key";
  table.spans[0].over.push_back({.part = model::PartId(2u)});
  EXPECT_FALSE(unpack_spans(pack_spans(table, key), key, 4, 2).has_value()) << "part 2 of 2";
  table.spans[0].over[0].part = model::PartId(0u);
  table.spans[0].over[0].at.x() = std::numeric_limits<double>::quiet_NaN();
  EXPECT_FALSE(unpack_spans(pack_spans(table, key), key, 4, 2).has_value()) << "a point that is none";
}

TEST_F(Store, ThatCannotBeWrittenIsNoFaultOfTheQuestion) {
  std::ofstream(folder_) << "a file where the folder should be";
  const auto found = find();
  EXPECT_EQ(found.source, SpanSource::Computed);
  EXPECT_GE(found.table.spans.size(), 2u);
  EXPECT_NE(found.not_kept, "");
}

TEST_F(Store, LeavesAStructureThatWasNotReadFromFilesAlone) {
  structure_.files.clear();
  EXPECT_EQ(find().source, SpanSource::Computed);
  EXPECT_EQ(find().source, SpanSource::Computed);
  EXPECT_FALSE(fs::exists(folder_));
}

}  // namespace
}  // namespace holdfast::cable
