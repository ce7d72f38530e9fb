// SPDX-License-Identifier: GPL-3.0-or-later
// The README shows what the command prints, and its model of one's own is one.

#include <gtest/gtest.h>

#include <filesystem>
#include <fstream>

#include "run_command.h"

namespace holdfast {
namespace {

namespace fs = std::filesystem;
const fs::path source = HOLDFAST_SOURCE_DIR;

struct Block {
  std::string language;  ///< after the opening fence
  std::string text;
};

std::vector<Block> fenced_blocks(const fs::path& file) {
  std::vector<Block> blocks;
  std::ifstream in(file);
  bool is_inside = false;
  for (std::string line; std::getline(in, line);) {
    if (line.substr(0, 3) == "```") {
      if (!is_inside) blocks.push_back({line.substr(3), ""});
      is_inside = !is_inside;
    } else if (is_inside) {
      blocks.back().text += line + "\n";
    }
  }
  return blocks;
}

/// `shown` is `printed` with `...` lines in place of what was left out.
void expect_shown(const std::string& shown, const std::string& printed) {
  std::size_t at = 0;
  std::istringstream lines(shown);
  std::string piece;
  const auto expect_piece = [&] {
    if (piece.empty()) return;
    const auto found = printed.find(piece, at);
    EXPECT_NE(found, std::string::npos) << "not printed:\n" << piece << "but:\n" << printed;
    at = found == std::string::npos ? at : found + piece.size();
    piece.clear();
  };
  for (std::string line; std::getline(lines, line);) {
    if (line == "...")
      expect_piece();
    else
      piece += line + "\n";
  }
  expect_piece();
}

TEST(Readme, ShowsWhatTheCommandPrintsForModelsAnyoneCanMake) {
  const support::Scratch scratch("readme", source);
  fs::create_directories(scratch.folder() / "my-yard");
  const auto write = [&](const char* file, const std::string& text) {
    std::ofstream(scratch.folder() / "my-yard" / file) << text;
  };
  int commands = 0;
  std::string structure;
  for (const auto& block : fenced_blocks(source / "README.md")) {
    if (block.text.find("holdfast: structure/1") == 0) write("structure.yaml", structure = block.text);
    if (block.text.find("holdfast: kit/1") == 0) write("kit.yaml", block.text);
    const std::string prompt = "$ holdfast ";
    if (block.text.find(prompt) != 0) continue;
    ++commands;
    const std::string command = block.text.substr(prompt.size(), block.text.find('\n') - prompt.size());
    SCOPED_TRACE(command);
    const auto ran = scratch.run(HOLDFAST_COMMAND, command);
    EXPECT_LE(ran.code, 1) << ran.err;
    expect_shown(block.text.substr(block.text.find('\n') + 1), ran.out);
    if (command == "check my-yard") {  // what the text then asks the reader to change
      const auto begin = structure.find("[[6.5, 0, -2.17]");
      ASSERT_NE(begin, std::string::npos);
      write("structure.yaml", structure.replace(begin, 5, "[[6.4"));
    }
  }
  EXPECT_EQ(commands, 27);
}

}  // namespace
}  // namespace holdfast
