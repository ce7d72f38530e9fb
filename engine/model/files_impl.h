// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// Files below the model folder: found safely, read whole, checked to be text, digested.

#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "holdfast/model/diagnostic.h"

namespace holdfast::model::detail {

inline constexpr const char* structure_file_name = "structure.yaml";
inline constexpr const char* kit_file_name = "kit.yaml";

/// Length of the UTF-8 sequence that starts here, 0 if it is none (overlong forms, surrogates and beyond U+10FFFF
/// included).
[[nodiscard]] std::size_t utf8_length(std::string_view text, std::size_t at);

[[nodiscard]] std::string sha256_of(std::string_view bytes);

/// Absolute path of `name` below `folder`, or a diagnostic (missing, outside the folder by `..`, absolute path or link,
/// no plain file).
[[nodiscard]] std::optional<std::string> locate_below(const std::string& folder, const std::string& name,
                                                      const Mark& mark, const std::string& subject,
                                                      std::vector<Diagnostic>& diagnostics);

/// Whole contents, or a diagnostic.
[[nodiscard]] std::optional<std::string> read_bytes(const std::string& path, const std::string& shown,
                                                    std::vector<Diagnostic>& diagnostics);

/// Empties of a UTF-8 byte order mark; refuses empty, binary, badly encoded and oversized text. True when usable.
[[nodiscard]] bool check_text(std::string& text, const std::string& shown, std::vector<Diagnostic>& diagnostics);

}  // namespace holdfast::model::detail
