// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// Rails found in a mesh, read back from the JSON that `holdfast rails` printed: to draw them.
//
//   if (report::is_rails_result(contents)) use(report::read_found_rails("rails.json", contents));

#include <optional>
#include <string>
#include <vector>

#include "holdfast/model/condition.h"
#include "holdfast/rails/rails.h"

namespace holdfast::report {

struct ReadFoundRail {
  std::string id;
  rails::Sureness sureness = rails::Sureness::Sure;
  std::vector<model::Vec3> points;  ///< one: a handhold
  double length_m = 0, width_m = 0, height_m = 0;
  std::vector<std::string> reasons;  ///< a sentence each
};

struct ReadFoundRails {
  std::string file;  ///< as given
  std::string part;  ///< that they stand on
  /// Of a model folder: points are in the structure frame, in this configuration of the structure with this digest.
  /// Nothing of a mesh file: points are in the frame of the part.
  std::optional<model::Configuration> configuration;
  std::string structure_digest;
  std::vector<ReadFoundRail> rails, doubtful, posts;
};

/// True for a JSON document of the verb `rails`, whatever else is wrong with it.
[[nodiscard]] bool is_rails_result(const std::string& contents);
/// Throws `model::InputError` (`wrong-result`) for what is no result of `holdfast rails`, or was changed by hand into
/// something that it never says. `file` names it in messages.
[[nodiscard]] ReadFoundRails read_found_rails(const std::string& file, const std::string& contents);

}  // namespace holdfast::report
