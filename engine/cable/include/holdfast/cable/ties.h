// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// Where a cable may be fixed: along rails that take cables, at clips, and at its connectors.
//
//   const auto ties = cable::find_ties(scene, {.radius_m = 0.011}, 0.15);
//
// Frame and units: structure frame, metres.

#include <optional>
#include <string>
#include <vector>

#include "holdfast/geometry/scene.h"
#include "holdfast/model/kit.h"

namespace holdfast::cable {

using model::Vec3;

/// What of a cable shapes its spans.
struct SpanRules {
  double radius_m = 0.005;               ///< of the cable; kept clear of structure
  double span_m = 0.61;                  ///< most between ties, along the cable's way
  double free_span_m = 0.6;              ///< most of it in one stretch through open space
  double lies_within_m = 0.15;           ///< what is nearer to structure than this is not open space
  [[nodiscard]] double clear_m() const;  ///< from the cable's middle to structure: the radius and a dish's chord error
};
[[nodiscard]] SpanRules span_rules_of(const model::Cable& cable);

enum class TieKind { Rail, Clip, Connector };

struct Tie {
  TieKind kind = TieKind::Rail;
  std::string id;                     ///< of the rail, the clip or the connector's place
  std::optional<model::RailId> rail;  ///< of a Rail tie
  std::optional<model::PartId> part;  ///< what it stands on and moves with
  double along_m = 0;                 ///< Rail: from the rail's first point
  Vec3 at = Vec3::Zero();
  Vec3 way = Vec3::Zero();  ///< where the cable's middle passes: `at`, or off the structure by what the cable needs
};

/// A connector farther than this from structure, or deeper in it, is not on it.
inline constexpr double most_connector_gap_m = 0.15;

/// Ties on every rail for cables that is there, in the order of the file and along each, then clips, then connectors.
/// What is inside structure, where no cable could pass, is left out; so are connectors that are not on structure.
[[nodiscard]] std::vector<Tie> find_ties(const geometry::Scene& scene, const SpanRules& rules, double spacing_m);

/// Nearest point to `at` where a cable's middle keeps `clear_m`; nothing where there is none within
/// `most_connector_gap_m` beyond that. `at` itself where that is clear.
[[nodiscard]] std::optional<Vec3> find_clear_point(const geometry::Scene& scene, const Vec3& at, double clear_m);

}  // namespace holdfast::cable
