// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// What is kept of earlier runs, and where: as text, JSON and a table.

#include <string>

#include "holdfast/store/store.h"

namespace holdfast::report {

/// Keeps references, which must outlive it.
struct StoreReport {
  const std::string& folder;  ///< empty where no place is known
  std::size_t most_bytes = 0;
  const store::Usage& usage;
  std::string engine_version;
};

[[nodiscard]] std::string text(const StoreReport& report);
[[nodiscard]] std::string json(const StoreReport& report);
/// One row a kind: what it is, and how many of it.
[[nodiscard]] std::string csv(const StoreReport& report);

}  // namespace holdfast::report
