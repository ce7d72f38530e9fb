// SPDX-License-Identifier: GPL-3.0-or-later
// The published schemas accept every shipped model and refuse what the reader refuses.

#include <gtest/gtest.h>
#include <yaml-cpp/yaml.h>

#include <filesystem>

#include "schema_check.h"

namespace holdfast {
namespace {

namespace fs = std::filesystem;
const fs::path source = HOLDFAST_SOURCE_DIR;

TEST(Schema, AcceptsEveryShippedModel) {
  int models = 0;
  for (const fs::path& root : {source / "models", source / "tests"})
    for (const auto& entry : fs::recursive_directory_iterator(root)) {
      if (entry.path().filename() != "structure.yaml") continue;
      ++models;
      SCOPED_TRACE(entry.path());
      EXPECT_EQ(support::schema_faults("structure", support::json_of_yaml(entry.path())), "");
      EXPECT_EQ(support::schema_faults("kit", support::json_of_yaml(entry.path().parent_path() / "kit.yaml")), "");
    }
  EXPECT_GE(models, 2);
}

TEST(Schema, AcceptsEveryShippedExcursion) {
  int excursions = 0;
  for (const auto& entry : fs::directory_iterator(source / "models/yard")) {
    if (!entry.path().filename().string().starts_with("excursion")) continue;
    ++excursions;
    SCOPED_TRACE(entry.path());
    EXPECT_EQ(support::schema_faults("excursion", support::json_of_yaml(entry.path())), "");
  }
  EXPECT_GE(excursions, 3);
}

TEST(Schema, RefusesWhatIsNoExcursion) {
  for (const char* name : {"bad-times", "halves", "wrong-shape"}) {
    SCOPED_TRACE(name);
    EXPECT_NE(support::schema_faults("excursion", support::json_of_yaml(source / "tests/model/bad" /
                                                                        (std::string(name) + ".excursion.yaml"))),
              "");
  }
}

TEST(Schema, RefusesUnknownKeysMissingKeysAndWrongWords) {
  for (const char* name :
       {"unknown-key", "unknown-top-key", "missing-key", "wrong-type", "unknown-word", "two-shapes", "parts-not-a-list",
        "bad-id", "negative-radius", "wrong-format", "unit-written", "empty-points"}) {
    SCOPED_TRACE(name);
    EXPECT_NE(support::schema_faults("structure", support::json_of_yaml(source / "tests/model/bad" /
                                                                        (std::string(name) + ".structure.yaml"))),
              "");
  }
  for (const char* name : {"two-hands", "bad-load", "bad-quantity", "bad-cable", "bad-design"}) {
    SCOPED_TRACE(name);
    EXPECT_NE(support::schema_faults(
                  "kit", support::json_of_yaml(source / "tests/model/bad" / (std::string(name) + ".kit.yaml"))),
              "");
  }
}

}  // namespace
}  // namespace holdfast
