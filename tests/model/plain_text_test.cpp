// SPDX-License-Identifier: GPL-3.0-or-later
// Text that is harmless, sizes that are bounded, files that are plain: before anything is spent on them.

#include "holdfast/model/plain_text.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <unistd.h>

#include <filesystem>
#include <fstream>
#include <nlohmann/json.hpp>

#include "holdfast/model/mesh_references.h"
#include "holdfast/model/model_size.h"
#include "holdfast/model/plain_file.h"
#include "holdfast/model/read.h"

namespace holdfast::model {
namespace {

namespace fs = std::filesystem;
using testing::HasSubstr;

/// RFC 3629.
std::string utf8(char32_t c) {
  std::string out;
  if (c < 0x80) return {static_cast<char>(c)};
  if (c < 0x800) return {static_cast<char>(0xC0 | c >> 6), static_cast<char>(0x80 | (c & 0x3F))};
  if (c >= 0x10000) {
    out.push_back(static_cast<char>(0xF0 | c >> 18));
    out.push_back(static_cast<char>(0x80 | (c >> 12 & 0x3F)));
  } else {
    out.push_back(static_cast<char>(0xE0 | c >> 12));
  }
  out.push_back(static_cast<char>(0x80 | (c >> 6 & 0x3F)));
  out.push_back(static_cast<char>(0x80 | (c & 0x3F)));
  return out;
}

TEST(PlainText, EveryCodePointIsPlainOrShownAsItsNumber) {
  std::size_t unsafe_count = 0;
  for (char32_t c = 0; c <= 0x10FFFF; ++c) {
    if (c >= 0xD800 && c <= 0xDFFF) continue;
    const std::string text = "a" + utf8(c) + "b";
    const auto unsafe = find_unsafe(text);
    const std::string shown = with_code_points(text);
    EXPECT_FALSE(find_unsafe(shown)) << shown;
    if (!unsafe) {
      EXPECT_EQ(shown, text);
      continue;
    }
    ++unsafe_count;
    EXPECT_EQ(unsafe->at, 1u);
    char name[16];
    std::snprintf(name, sizeof name, "U+%04X", static_cast<unsigned>(c));
    EXPECT_EQ(unsafe->name, name);
    EXPECT_EQ(shown, std::string("a") + name + "b");
  }
  EXPECT_GT(unsafe_count, 250u);
  // Unicode UAX #9: all of Bidi_Control; Unicode chapter 23: noncharacters.
  for (const char32_t c : {0x061Cu, 0x200Eu, 0x200Fu, 0x202Au, 0x202Bu, 0x202Cu, 0x202Du, 0x202Eu, 0x2066u, 0x2067u,
                           0x2068u, 0x2069u, 0xFDD0u, 0xFFFEu, 0x1FFFFu, 0x10FFFEu})
    EXPECT_TRUE(find_unsafe(utf8(c))) << static_cast<unsigned>(c);
  for (const char32_t c : {U'a', U'\u00e4', U'\u4e2d', U'\u05d0', U'\U0001F680'}) EXPECT_FALSE(find_unsafe(utf8(c)));
}

TEST(PlainText, BytesThatAreNotUtf8AreNamed) {
  EXPECT_EQ(with_code_points("a\xff\xc0\x80z"), "abyte 0xFFbyte 0xC0byte 0x80z");
  EXPECT_EQ(with_code_points("a\n\tb", true), "a\nU+0009b");
  EXPECT_EQ(with_code_points("a\nb"), "aU+000Ab");
}

TEST(PlainText, JsonKeepsItsValues) {
  const std::string text =
      "a\u202eb\u0085c\U000E0041d\x7f"
      "e\u00e4";
  const std::string document = nlohmann::json({{"x", text}}).dump(2);
  const std::string escaped = with_json_escapes(document);
  EXPECT_THAT(escaped, HasSubstr("a\\u202eb\\u0085c\\udb40\\udc41d\\u007fe\u00e4"));
  EXPECT_EQ(nlohmann::json::parse(escaped)["x"], text);
}

TEST(PlainText, BlocksEndWithoutTheirLineFeed) {
  const std::string head = "holdfast: structure/1\nparts:\n  - {id: p, shape: {sphere: {radius: 1}}}\n";
  EXPECT_EQ(read_structure_text(head + "name: >\n  one\n  two\n", "/nonexistent", "s.yaml").name, "one two");
  try {
    (void)read_structure_text(head + "name: |\n  one\n  two\n", "/nonexistent", "s.yaml");
    FAIL();
  } catch (const InputError& error) {
    EXPECT_EQ(error.diagnostics()[0].code, "unsafe-text");
    EXPECT_EQ(error.diagnostics()[0].text(),
              "s.yaml:4:7: this text has the character U+000A, which is not shown\n    write plain text on one line");
  }
}

TEST(InputErrors, AreListedToAHundredAndCounted) {
  std::vector<Diagnostic> many(12'345, {{"a.yaml", 1}, "", "syntax", "p", "", "r"});
  const InputError error(many);
  ASSERT_EQ(error.diagnostics().size(), 101u);
  EXPECT_EQ(error.diagnostics().back().text(),
            "a.yaml: 12245 more faults are not listed\n    correct those above, and run the command again");
  many.resize(100);
  EXPECT_EQ(InputError(many).diagnostics().size(), 100u);
}

/// A structure of one ball with these rails.
Structure with_rails(const std::string& rails) {
  return read_structure_text(
      "holdfast: structure/1\nname: n\nparts:\n  - {id: p, shape: {sphere: {radius: 1}}}\nrails:\n" + rails,
      "/nonexistent", "s.yaml");
}

std::string refused(const Structure& structure, const SizeLimits& limits) {
  const Kit kit = read_kit_text("holdfast: kit/1\nname: k\n", "kit.yaml");
  try {
    check_rails(structure, kit, kit.suits.front(), structure.default_configuration(), limits);
  } catch (const InputError& error) {
    EXPECT_EQ(error.diagnostics()[0].code, "too-large");
    return error.diagnostics()[0].text();
  }
  return {};
}

TEST(ModelSize, GripsAreCountedAsTheyAreSampled) {
  // Design 14: ceil(L / 0.15) steps for each straight piece, ends included, times the outward directions: 2 m gives 15
  // grips, then 30.
  const auto structure = with_rails(
      "  - {id: a, part: p, points: [[0, 0, 2], [2, 0, 2]]}\n"
      "  - {id: b, part: p, points: [[0, 1, 2], [2, 1, 2]], outward: [[0, 0, 1], [0, 1, 0]]}\n");
  EXPECT_EQ(refused(structure, {.grips = 45}), "");
  EXPECT_EQ(
      refused(structure, {.grips = 44}),
      "s.yaml:7:5: this model comes to 45 grips, and at most 44 are taken: rail \"b\" has 30 grips of them; one stands "
      "every 0.15 m\n    leave out what is not needed, or raise the limit: --size-limit grips=45");
}

TEST(ModelSize, MovesAreAnUpperBound) {
  // 200 handholds in one place: 40,000 pairs.
  std::string rails;
  for (int i = 0; i < 200; ++i) rails += "  - {id: h-" + std::to_string(i) + ", part: p, points: [[0, 0, 2]]}\n";
  EXPECT_EQ(refused(with_rails(rails), {.moves = 40'000}), "");
  EXPECT_THAT(refused(with_rails(rails), {.moves = 1000}), HasSubstr("moves or more, and at most 1000 are taken"));
}

TEST(ModelSize, LimitsAreSetByName) {
  SizeLimits limits;
  set_limit(limits, "grips=5");
  EXPECT_EQ(limits.grips, 5u);
  for (const char* text :
       {"", "grips", "grips=", "grips=-1", "grips=1.5", "grips=0", "hips=5", "grips=99999999999999999999"})
    EXPECT_THROW(set_limit(limits, text), InputError) << text;
}

TEST(PlainFile, OnlyPlainFilesOfBoundedSizeAreRead) {
  const fs::path folder = fs::temp_directory_path() / ("holdfast-plain-" + std::to_string(::getpid()));
  fs::create_directories(folder);
  std::ofstream(folder / "a") << "four";
  EXPECT_EQ(read_plain_file(folder / "a").bytes, "four");
  EXPECT_EQ(read_plain_file(folder / "a", 4).bytes, "four");
  EXPECT_EQ(read_plain_file(folder / "a", 3).fault, FileFault::TooLarge);
  EXPECT_EQ(read_plain_file(folder / "b").fault, FileFault::Missing);
  EXPECT_EQ(read_plain_file(folder).fault, FileFault::NotPlain);
  EXPECT_EQ(read_plain_file("/dev/zero").fault, FileFault::NotPlain);
  EXPECT_EQ(read_plain_file(std::string("a\0b", 3)).fault, FileFault::Missing);
  EXPECT_EQ(read_plain_file(folder / std::string(300, 'x')).fault, FileFault::Missing);
  fs::remove_all(folder);
}

TEST(MeshReferences, JsonIsMeasuredBeforeItIsParsed) {
  EXPECT_EQ(json_fault("{\"a\":[1,2,{}]}"), "");
  EXPECT_EQ(json_fault(std::string(64, '[')), "");
  EXPECT_EQ(json_fault(std::string(65, '[')), "its JSON is nested more than 64 deep");
  EXPECT_EQ(json_fault("\"" + std::string(1000, '[') + "\\\"[[[\""), "") << "brackets in text are text";
  EXPECT_EQ(json_fault("[1,2,3]", 2), "its JSON has more than 2 values");
}

}  // namespace
}  // namespace holdfast::model
