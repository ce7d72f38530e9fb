// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// Reads documents of `reach` and `sight` back. What `read_result.cpp` knows of numbers and refusals is handed in.

#include <functional>
#include <nlohmann/json.hpp>
#include <string>

#include "holdfast/report/read.h"

namespace holdfast::report::detail {

struct WorksiteReading {
  const model::Structure& structure;
  const model::Kit& kit;
  std::function<double(const nlohmann::json&)> number;
  std::function<model::Vec3(const nlohmann::json&)> vec;
  std::function<void(const std::string&)> refuse_changed;  ///< does not return
};

/// One answer of `reach` into `result.worksites`.
void read_reach(const WorksiteReading& reading, const nlohmann::json& answer, ReadResult& result);
/// A document of `sight` into `result.sights`.
void read_sight(const WorksiteReading& reading, const nlohmann::json& document, ReadResult& result);

}  // namespace holdfast::report::detail
