// SPDX-License-Identifier: GPL-3.0-or-later
#include <fmt/format.h>
#include <openssl/evp.h>

#include <algorithm>
#include <array>
#include <filesystem>

#include "files_impl.h"
#include "holdfast/model/plain_file.h"
#include "holdfast/model/plain_text.h"

namespace holdfast::model::detail {

namespace fs = std::filesystem;

namespace {

constexpr std::size_t longest_line_bytes = 100'000;

void add(std::vector<Diagnostic>& diagnostics, Mark mark, std::string code, std::string problem, std::string value,
         std::string remedy) {
  diagnostics.push_back(
      {std::move(mark), "", std::move(code), std::move(problem), std::move(value), std::move(remedy)});
}

}  // namespace

std::string sha256_of(std::string_view bytes) {
  std::array<unsigned char, EVP_MAX_MD_SIZE> digest{};
  unsigned length = 0;
  ensure(EVP_Digest(bytes.data(), bytes.size(), digest.data(), &length, EVP_sha256(), nullptr) == 1,
         "SHA-256 is available");
  std::string hex;
  for (unsigned i = 0; i < length; ++i) hex += fmt::format("{:02x}", digest[i]);
  return hex;
}

std::optional<std::string> locate_below(const std::string& folder, const std::string& name, const Mark& mark,
                                        const std::string& subject, std::vector<Diagnostic>& diagnostics) {
  const std::string prefix = subject.empty() ? "" : subject + ": ";
  const fs::path relative(name);
  const bool climbs = std::any_of(relative.begin(), relative.end(), [](const fs::path& step) { return step == ".."; });
  if (relative.is_absolute() || climbs || name.find('\\') != std::string::npos) {
    add(diagnostics, mark, "outside-folder", fmt::format("{}file \"{}\" is not below the model folder", prefix, name),
        name, "copy the file into the model folder and name it relative to that");
    return std::nullopt;
  }
  std::error_code error;
  const fs::path root = fs::weakly_canonical(folder, error);
  const fs::path path = fs::path(folder) / relative;
  if (!fs::exists(path, error)) {
    add(diagnostics, mark, "missing-file", fmt::format("{}file \"{}\" does not exist", prefix, name), name,
        "names are relative to the model folder");
    return std::nullopt;
  }
  const fs::path real = fs::canonical(path, error);
  const auto [end_root, where] = std::mismatch(root.begin(), root.end(), real.begin(), real.end());
  if (error || end_root != root.end()) {
    add(diagnostics, mark, "outside-folder",
        fmt::format("{}file \"{}\" is a link that leaves the model folder", prefix, name), name,
        "copy the file into the model folder");
    return std::nullopt;
  }
  if (!fs::is_regular_file(real, error)) {
    add(diagnostics, mark, "unreadable-file", fmt::format("{}\"{}\" is not a plain file", prefix, name), name,
        "name a file, not a folder or a device");
    return std::nullopt;
  }
  return real.string();
}

std::optional<std::string> read_bytes(const std::string& path, const std::string& shown,
                                      std::vector<Diagnostic>& diagnostics) {
  auto file = read_plain_file(path);
  switch (file.fault) {
    case FileFault::None:
      return std::move(file.bytes);
    case FileFault::Missing:
      add(diagnostics, {shown}, "missing-file", "this file does not exist", "",
          "check its name and folder; a model folder holds structure.yaml and kit.yaml");
      break;
    case FileFault::NotPlain:
    case FileFault::Unreadable:
      add(diagnostics, {shown}, "unreadable-file", "this file cannot be read", "",
          "make it a plain file that you may read");
      break;
    case FileFault::TooLarge:
      add(diagnostics, {shown}, "too-large", "this file is larger than 64 MiB", "", "split it, or decimate the mesh");
      break;
  }
  return std::nullopt;
}

bool check_text(std::string& text, const std::string& shown, std::vector<Diagnostic>& diagnostics) {
  if (text.starts_with("\xEF\xBB\xBF")) text.erase(0, 3);
  if (text.starts_with("\xFF\xFE") || text.starts_with("\xFE\xFF")) {
    add(diagnostics, {shown}, "not-text", "this file is UTF-16", "", "save it as UTF-8");
    return false;
  }
  if (text.find_first_not_of(" \t\r\n") == std::string::npos) {
    add(diagnostics, {shown}, "empty", "this file is empty", "", "models/README.md shows how to fill it");
    return false;
  }
  int line = 1;
  std::size_t line_start = 0;
  for (std::size_t i = 0; i < text.size();) {
    const std::size_t length = utf8_length(text, i);
    const bool is_control = text[i] == '\0' || (static_cast<unsigned char>(text[i]) < 0x20 && text[i] != '\n' &&
                                                text[i] != '\r' && text[i] != '\t');
    if (length == 0 || is_control) {
      add(diagnostics, {shown, line, static_cast<int>(i - line_start) + 1}, "not-text",
          fmt::format("byte 0x{:02x} is not UTF-8 text", static_cast<unsigned char>(text[i])), "",
          "save the file as UTF-8; is it a binary file under a wrong name?");
      return false;
    }
    const bool is_lone_return = text[i] == '\r' && text.compare(i, 2, "\r\n") != 0;
    if (text[i] == '\n' || is_lone_return) ++line, line_start = i + 1;
    if (length > 1)
      if (const auto unsafe = find_unsafe(std::string_view(text).substr(i, length))) {
        add(diagnostics, {shown, line, static_cast<int>(i - line_start) + 1}, "unsafe-text",
            fmt::format("the character {} is not shown, and changes how others are", unsafe->name), "", "remove it");
        return false;
      }
    i += length;
    if (i - line_start > longest_line_bytes) {
      add(diagnostics, {shown, line}, "too-large", fmt::format("this line is longer than {} bytes", longest_line_bytes),
          "", "break it; long tables go into CSV");
      return false;
    }
  }
  return true;
}

}  // namespace holdfast::model::detail
