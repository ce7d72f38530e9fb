// SPDX-License-Identifier: GPL-3.0-or-later
// Every rule that reading checks has a bad file here and the exact words it must produce beside it.

#include <gtest/gtest.h>

#include <algorithm>
#include <filesystem>
#include <fstream>
#include <sstream>

#include "holdfast/model/excursion.h"
#include "holdfast/model/read.h"

namespace holdfast::model {
namespace {

namespace fs = std::filesystem;

const fs::path folder = fs::path(HOLDFAST_SOURCE_DIR) / "tests/model/bad";

std::string contents(const fs::path& path) {
  std::ifstream in(path, std::ios::binary);
  std::ostringstream out;
  out << in.rdbuf();
  return out.str();
}

std::vector<Diagnostic> faults_of(const fs::path& path) {
  const std::string name = path.filename().string();
  try {
    if (name.find(".excursion.") != std::string::npos) {
      static const Model yard = read_model(HOLDFAST_SOURCE_DIR "/models/yard");
      (void)read_excursion_text(contents(path), yard, name, folder.string());
    } else if (name.find(".kit.") != std::string::npos)
      (void)read_kit_text(contents(path), name);
    else
      (void)read_structure_text(contents(path), folder.string(), name);
  } catch (const InputError& error) {
    return error.diagnostics();
  }
  return {};
}

std::vector<fs::path> bad_files() {
  std::vector<fs::path> files;
  for (const auto& entry : fs::directory_iterator(folder))
    if (entry.path().extension() == ".yaml") files.push_back(entry.path());
  std::sort(files.begin(), files.end());
  return files;
}

class BadFile : public testing::TestWithParam<fs::path> {};

TEST_P(BadFile, SaysExactlyWhatIsWrong) {
  std::string said;
  for (const auto& diagnostic : faults_of(GetParam())) said += diagnostic.text() + "\n";
  const auto expected = fs::path(GetParam()).replace_extension(".expected");
  ASSERT_TRUE(fs::exists(expected)) << said;
  EXPECT_EQ(said, contents(expected));
}

INSTANTIATE_TEST_SUITE_P(All, BadFile, testing::ValuesIn(bad_files()), [](const auto& bad) {
  std::string name = bad.param.stem().string();
  std::replace_if(
      name.begin(), name.end(), [](unsigned char c) { return !std::isalnum(c); }, '_');
  return name;
});

TEST(Diagnostics, EveryFaultHasAPlaceAndARemedy) {
  for (const auto& path : bad_files())
    for (const auto& diagnostic : faults_of(path)) {
      EXPECT_FALSE(diagnostic.mark.file.empty()) << diagnostic.text();
      EXPECT_FALSE(diagnostic.remedy.empty()) << diagnostic.text();
    }
}

}  // namespace
}  // namespace holdfast::model
