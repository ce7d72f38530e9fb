// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// What `--version` says.

#include <string>

namespace holdfast::cli {

/// `holdfast 0.1.0`, then how it was built and the libraries that it was built with, a line each.
[[nodiscard]] std::string version_words();

}  // namespace holdfast::cli
