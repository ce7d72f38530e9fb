// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// What is in sight: of a patch from the structure's windows and cameras, or from grips with a camera along.
//
//   const auto answer = reach::find_sight(graph, profile, {.patches = {"valve-face"}});
//   answer.patches[0].views[0].seen.low;  // of its area; never above the true share but for what is under a cell wide
//
// Structure frame, m, rad. 'Seen' is what is in the cone, within range, at most so far off its normal, and on a line
// that touches nothing. Structure blocks; rails, zones and crew do not. Source: design.md section 17.

#include <optional>
#include <string>
#include <vector>

#include "holdfast/graph/handrail_graph.h"
#include "holdfast/model/kit.h"
#include "holdfast/reach/patch.h"
#include "holdfast/route/route.h"

namespace holdfast::reach {

/// An eye with its field.
struct Eye {
  Vec3 at = Vec3::Zero();
  Vec3 direction = Vec3::UnitX();  ///< unit
  double half_angle_rad = 0.5;
  std::optional<double> range_m = std::nullopt;
};
struct SightLimits {
  double off_normal_rad = 1.2217304763960306;  ///< 70 deg, assumption: what is seen is foreshortened to a third
  double enough = 0.95;                        ///< of its area: a patch is seen
};

/// A view's eye stands so far off its glass.
inline constexpr double eye_off_m = 0.02;
/// Where that is, in the structure frame. Requires: a view that is there.
[[nodiscard]] Vec3 eye_point(const geometry::Scene& scene, const model::View& view);
/// A view's eye in the structure frame: `eye_off_m` off its position, along its direction. Throws `model::InputError`
/// (`in-solid`) where that lies in structure. Requires: a view that is there.
[[nodiscard]] Eye eye_of(const geometry::Scene& scene, const model::View& view);

/// True where the eye has the sample in its field, at most so far off its normal, and nothing is in between.
[[nodiscard]] bool is_seen(const geometry::Scene& scene, const Eye& eye, const PatchCells& patch, const Cell& cell,
                           double off_normal_rad);
/// Nothing touches the line between two points. A helmet and a helmet, say.
[[nodiscard]] bool is_in_sight(const geometry::Scene& scene, const Vec3& a, const Vec3& b);
/// Views of kind window, there in the scene's configuration, that have the point in their field and in sight.
[[nodiscard]] std::vector<model::ViewId> windows_that_see(const geometry::Scene& scene, const Vec3& point);

/// What an eye sees of a patch.
struct Seen {
  double low = 0, high = 0;  ///< bounds on the fraction of the area
  std::size_t cells = 0;
  double cell_m = 0;             ///< what is narrower may be missed
  double distance_m = 0;         ///< to the patch's middle; of a whole part to the mean of what is seen
  double off_normal_rad = 0;     ///< there; of closed bodies the mean over what is seen
  double solid_angle_sr = 0;     ///< of what is seen
  bool is_all_in_field = false;  ///< every sample in the cone and within range
};
[[nodiscard]] Seen look(const geometry::Scene& scene, const Eye& eye, const PatchCells& patch,
                        const SightLimits& limits, const EstimateOptions& options = {});

/// A quick look at every cell once: the share of the area that is seen, without bounds; the same as asking `is_seen` of
/// each. Where nothing comes into the hull of the eye and a flat patch, one ray alone is asked.
[[nodiscard]] double glance(const geometry::Scene& scene, const Eye& eye, const PatchCells& patch,
                            double off_normal_rad);

enum class SightVerdict { Seen, Partly, NotSeen, NotThere, Covered };
[[nodiscard]] SightVerdict verdict_of(const Seen& seen, const SightLimits& limits);

struct ViewOfPatch {
  std::optional<model::ViewId> view;
  SightVerdict verdict = SightVerdict::NotSeen;
  Seen seen;
};
struct PatchSight {
  model::PatchId patch;
  bool is_there = true;
  double area_m2 = 0;           ///< without what other parts cover
  double covered_fraction = 0;  ///< by other parts: nobody could see it
  std::vector<ViewOfPatch> views;
  ViewOfPatch any;  ///< seen by any of them; only low, high and cells
};

/// A camera that is taken along, at a grip.
struct GripSight {
  graph::GripId grip;
  model::RailId rail;
  double along_m = 0;
  Eye eye;
  bool is_at_arms_length = false;
  Seen seen;
  std::optional<double> time_s;  ///< to get there, where a start was given
  bool is_cut_off = false;       ///< without a start: no path leads there from a hatch of the model
};
struct GripRanking {
  model::PatchId patch;
  std::vector<GripSight> best;  ///< one a rail, best first
  std::size_t grips = 0;        ///< with room for the body
  std::size_t with_any = 0;     ///< of them, that see something, by a first look with few samples
  std::size_t samples = 0;      ///< of that first look
  std::size_t looked_at = 0;    ///< of them, that were looked at closely: those that the first look left in doubt
  /// Where there were too many: the most that one which was not looked at closely, and may belong in the list, sees by
  /// the first look; 0: none is left.
  double most_of_others = 0;
};

struct SightRequest {
  std::vector<std::string> patches;           ///< none: all
  std::vector<std::string> views;             ///< none: all; not used for grips
  bool from_grips = false;                    ///< instead of views: from which grips each patch is seen best
  std::string from;                           ///< where the path to the best grip starts; empty: none
  const model::HeldCamera* camera = nullptr;  ///< null: `default_camera`
  std::optional<double> within_m;             ///< instead of the camera's range
  std::size_t most_rails = 10;
  SightLimits limits;
};
struct SightAnswer {
  route::Answer head;
  SightLimits limits;
  bool from_grips = false;
  std::string camera;
  std::vector<PatchSight> patches;
  std::vector<GripRanking> rankings;
  bool has_route = false;  ///< `head` holds the path to the best grip of the first patch, or why there is none
};
/// Throws `model::InputError`: `unknown-patch`, `unknown-view`, `in-solid`, as `route::route` for the start.
[[nodiscard]] SightAnswer find_sight(const graph::HandrailGraph& graph, const route::Profile& profile,
                                     const SightRequest& request);
/// The grips from which a patch is seen best; `time_s` by grip, infinity where one does not get to; empty: not asked.
/// All are looked at with `samples` samples, and closely those that may be among the best by that, 1,000 at most.
[[nodiscard]] GripRanking rank_grips(const graph::HandrailGraph& graph, const route::Profile& profile,
                                     model::PatchId patch, const SightRequest& request,
                                     const std::vector<double>& time_s);

}  // namespace holdfast::reach
