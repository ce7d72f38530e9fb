// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// What results of `reach` and `sight` show in a picture. Part of `ReadResult` (read.h).

#include <optional>
#include <string>
#include <vector>

#include "holdfast/reach/reach.h"
#include "holdfast/reach/sight.h"

namespace holdfast::report {

/// A target with what the drawn station has of it.
struct ReadTarget {
  std::string id;
  model::Vec3 at = model::Vec3::Zero();
  reach::TargetReach reach = {};
};

/// A figure in its best setting or hold; where none fits, in the one that collides least.
struct ReadWorksite {
  std::string site;       ///< socket or place
  std::string restraint;  ///< in the kit; empty: by free hand
  reach::Station station;
  std::string words;  ///< setting and room, in a sentence
  std::string way_in;
  std::vector<ReadTarget> targets;  ///< that are there; empty where it does not fit
};

/// What one eye sees of one patch.
struct ReadSight {
  model::PatchId patch;
  std::string eye_name;
  std::optional<reach::Eye> eye;  ///< at a grip; of a view see `view`
  std::optional<model::ViewId> view;
  std::string words;  ///< share, distance
  double low = 0, high = 0;
};

}  // namespace holdfast::report
