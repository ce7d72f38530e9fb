// SPDX-License-Identifier: GPL-3.0-or-later
#include "holdfast/reach/sight.h"

#include <fmt/format.h>
#include <tbb/parallel_for.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>
#include <numbers>
#include <span>
#include <tuple>

#include "grip_impl.h"
#include "holdfast/reach/body.h"
#include "holdfast/route/grip_rules.h"
#include "holdfast/route/home.h"

namespace holdfast::reach {

using graph::GripId;
using graph::HandrailGraph;

namespace {

constexpr double degree = std::numbers::pi / 180;
constexpr double infinity = std::numeric_limits<double>::infinity();
constexpr double angle_tolerance_rad = 1e-6;
constexpr double arm_m = 0.50;  ///< a camera is held this far from the body axis
constexpr double arm_radius_m = 0.06, camera_radius_m = 0.10;
constexpr int arm_azimuths = 8;
constexpr std::size_t first_cells = 1024, ranking_cells = 100;

double angle_between(const Vec3& a, const Vec3& b) { return std::atan2(a.cross(b).norm(), a.dot(b)); }

/// angle(a, unit b) <= limit, told by cosines: this is asked for every sample from every grip.
bool is_within(const Vec3& a, double length_of_a, const Vec3& b, double limit_rad) {
  const double limit = limit_rad + angle_tolerance_rad;
  return limit >= std::numbers::pi || a.dot(b) >= std::cos(limit) * length_of_a;
}

bool is_in_field(const Eye& eye, const Vec3& p) {
  const Vec3 line = p - eye.at;
  const double length = line.norm();
  if (eye.range_m && length > *eye.range_m + tolerance_m) return false;
  return is_within(line, length, eye.direction, eye.half_angle_rad);
}

/// The normal on the side that is looked at.
Vec3 seen_normal(const Eye& eye, const PatchCells& patch, const Cell& cell) {
  const bool is_behind = (eye.at - cell.at).dot(cell.normal) < 0;
  return patch.both_sides() && is_behind ? Vec3(-cell.normal) : cell.normal;
}

/// All that needs no ray.
bool may_be_seen(const Eye& eye, const PatchCells& patch, const Cell& cell, double off_normal_rad) {
  const Vec3 line = eye.at - cell.at;
  const Vec3 normal = seen_normal(eye, patch, cell);
  return line.dot(normal) > 0 && is_within(line, line.norm(), normal, off_normal_rad) && is_in_field(eye, cell.at);
}

bool is_line_free(const geometry::Scene& scene, const Eye& eye, const PatchCells& patch, const Cell& cell) {
  return !scene.is_segment_blocked(eye.at, cell.at + patch.lift_m() * seen_normal(eye, patch, cell));
}

[[noreturn]] void refuse(std::string code, std::string problem, const std::string& value, std::string remedy,
                         model::Mark mark = {}) {
  throw model::InputError({{std::move(mark), "", std::move(code), std::move(problem), value, std::move(remedy)}});
}

template <class Things>
std::string remedy_for(const std::string& id, const Things& things, const char* none) {
  std::vector<std::string> known;
  for (const auto& thing : things) known.push_back(thing.id);
  const auto near = model::nearest_names(id, known, 1);
  if (!near.empty()) return fmt::format("did you mean {}?", near.front());
  return known.empty() ? none : fmt::format("those of this model: {}", fmt::join(known, ", "));
}

}  // namespace

Vec3 eye_point(const geometry::Scene& scene, const model::View& view) {
  const model::Pose pose = scene.structure().frame_of(view.part, scene.configuration());
  return pose * view.at + eye_off_m * (pose.linear() * view.direction);
}

Eye eye_of(const geometry::Scene& scene, const model::View& view) {
  const model::Pose pose = scene.structure().frame_of(view.part, scene.configuration());
  Eye eye;
  eye.direction = pose.linear() * view.direction;
  eye.at = eye_point(scene, view);
  eye.half_angle_rad = view.half_angle_rad, eye.range_m = view.range_m;
  if (scene.distance(eye.at, 1) <= 0)
    refuse("in-solid",
           fmt::format("view \"{}\": the point {} m off it along its direction lies in structure", view.id, eye_off_m),
           view.id, "put it on a surface, looking outward", view.mark);
  return eye;
}

bool is_seen(const geometry::Scene& scene, const Eye& eye, const PatchCells& patch, const Cell& cell,
             double off_normal_rad) {
  return may_be_seen(eye, patch, cell, off_normal_rad) && is_line_free(scene, eye, patch, cell);
}

bool is_in_sight(const geometry::Scene& scene, const Vec3& a, const Vec3& b) { return !scene.is_segment_blocked(a, b); }

std::vector<model::ViewId> windows_that_see(const geometry::Scene& scene, const Vec3& point) {
  const auto& structure = scene.structure();
  std::vector<model::ViewId> views;
  for (std::size_t v = 0; v < structure.views.size(); ++v) {
    const auto& view = structure.views[v];
    if (view.kind != model::ViewKind::Window || !structure.is_present(view, scene.configuration())) continue;
    const Eye eye = eye_of(scene, view);
    if (is_in_field(eye, point) && is_in_sight(scene, eye.at, point)) views.emplace_back(v);
  }
  return views;
}

Seen look(const geometry::Scene& scene, const Eye& eye, const PatchCells& patch, const SightLimits& limits,
          const EstimateOptions& options) {
  const auto found = estimate(
      patch, [&](const Cell& cell) { return is_seen(scene, eye, patch, cell, limits.off_normal_rad); }, options);
  Seen seen{.low = found.low, .high = found.high, .cells = found.cells, .cell_m = found.cell_m};
  // A flat or open patch has a side and a middle; of a closed body only what is seen has.
  const bool is_open = patch.mean_normal().norm() > 0.1;
  Vec3 at = patch.middle(), normal = patch.mean_normal();
  if (!is_open && found.seen_m2 > 0) {
    at = normal = Vec3::Zero();
    for (const auto& cell : found.seen)
      at += cell.area_m2 / found.seen_m2 * cell.at, normal += cell.area_m2 * cell.normal;
  }
  seen.distance_m = (eye.at - at).norm();
  if (normal.norm() > 0) {
    seen.off_normal_rad = angle_between(normal, eye.at - at);
    if (patch.both_sides()) seen.off_normal_rad = std::min(seen.off_normal_rad, std::numbers::pi - seen.off_normal_rad);
  }
  for (const auto& cell : found.seen) {
    const Vec3 line = eye.at - cell.at;
    seen.solid_angle_sr += cell.area_m2 * seen_normal(eye, patch, cell).dot(line) / std::pow(line.norm(), 3);
  }
  seen.is_all_in_field = std::all_of(patch.cells().begin(), patch.cells().end(),
                                     [&](const Cell& cell) { return cell.is_covered || is_in_field(eye, cell.at); });
  return seen;
}

namespace {

/// False where no sample can be in range, in the field and near enough to its normal, by the patch as a whole.
bool may_see_any(const Eye& eye, const PatchCells& patch, double off_normal_rad) {
  constexpr double hair_m = 1e-9;
  const Vec3 line = patch.middle() - eye.at;
  const double length = line.norm(), nearest = length - patch.around_m();
  if (eye.range_m && nearest > *eye.range_m + tolerance_m) return false;
  if (nearest <= 0) return true;
  const double field = eye.half_angle_rad + std::asin(patch.around_m() / length) + 1e-9;
  if (!is_within(line, length, eye.direction, field)) return false;
  if (!patch.is_flat()) return true;
  // All samples have this much of their distance along the one normal.
  double height = -line.dot(patch.mean_normal());
  if (patch.both_sides()) height = std::abs(height);
  return height > -hair_m &&
         height >= std::cos(std::min(off_normal_rad + angle_tolerance_rad, std::numbers::pi / 2)) * nearest - hair_m;
}

/// A sample of a flat patch in the patch's own plane.
struct Spot {
  Eigen::Array2d at;
  const Cell* cell;
};

/// Of the samples of a flat patch, bundle by bundle: what is clear of the hull of the eye and a bundle's rectangle is
/// clear of every ray of it.
class Bundles {
 public:
  Bundles(const geometry::Scene& scene, const Eye& eye, const PatchCells& patch, const Cell& any)
      : scene_(scene), eye_(eye), patch_(patch), normal_(seen_normal(eye, patch, any)) {
    x_ = normal_.unitOrthogonal(), y_ = normal_.cross(x_);
    plane_ = (normal_.dot(any.at) + patch.lift_m()) * normal_;
  }
  [[nodiscard]] Spot spot(const Cell& cell) const { return {{x_.dot(cell.at), y_.dot(cell.at)}, &cell}; }

  double seen_m2(std::span<Spot> spots) const {
    constexpr std::size_t worth_a_hull = 12;
    double seen = 0;
    if (spots.size() < worth_a_hull) {
      for (const auto& spot : spots)
        if (is_line_free(scene_, eye_, patch_, *spot.cell)) seen += spot.cell->area_m2;
      return seen;
    }
    Eigen::Array2d least = Eigen::Array2d::Constant(infinity), most = -least;
    for (const auto& spot : spots) least = least.min(spot.at), most = most.max(spot.at);
    const int axis = most.x() - least.x() > most.y() - least.y() ? 0 : 1;
    const auto middle = spots.begin() + static_cast<std::ptrdiff_t>(spots.size() / 2);
    std::nth_element(spots.begin(), middle, spots.end(),
                     [&](const Spot& a, const Spot& b) { return a.at[axis] < b.at[axis]; });
    // Where one ray is blocked the hull is not clear: it is not asked for then.
    if (is_line_free(scene_, eye_, patch_, *middle->cell) && is_clear(least, most)) {
      for (const auto& spot : spots) seen += spot.cell->area_m2;
      return seen;
    }
    return seen_m2({spots.begin(), middle}) + seen_m2({middle, spots.end()});
  }

 private:
  [[nodiscard]] bool is_clear(const Eigen::Array2d& least, const Eigen::Array2d& most) const {
    const std::array<Vec3, 5> hull = {eye_.at, plane_ + least.x() * x_ + least.y() * y_,
                                      plane_ + most.x() * x_ + least.y() * y_, plane_ + most.x() * x_ + most.y() * y_,
                                      plane_ + least.x() * x_ + most.y() * y_};
    constexpr double hair_m = 5e-4;  // half the lift: the patch's own surface is not in it
    return scene_.hull_distance(hull, hair_m) >= hair_m;
  }
  const geometry::Scene& scene_;
  const Eye& eye_;
  const PatchCells& patch_;
  Vec3 normal_, x_, y_, plane_;
};

}  // namespace

double glance(const geometry::Scene& scene, const Eye& eye, const PatchCells& patch, double off_normal_rad) {
  if (patch.area_m2() <= 0 || !may_see_any(eye, patch, off_normal_rad)) return 0;
  thread_local std::vector<const Cell*> asked;  // scratch: this is asked a hundred thousand times
  thread_local std::vector<Spot> spots;
  asked.clear(), spots.clear();
  for (const auto& cell : patch.cells())
    if (!cell.is_covered && may_be_seen(eye, patch, cell, off_normal_rad)) asked.push_back(&cell);
  if (asked.empty()) return 0;
  if (patch.is_flat()) {
    const Bundles bundles(scene, eye, patch, *asked.front());
    for (const auto* cell : asked) spots.push_back(bundles.spot(*cell));
    return bundles.seen_m2(spots) / patch.area_m2();
  }
  double seen_m2 = 0;
  for (const auto* cell : asked)
    if (is_line_free(scene, eye, patch, *cell)) seen_m2 += cell->area_m2;
  return seen_m2 / patch.area_m2();
}

SightVerdict verdict_of(const Seen& seen, const SightLimits& limits) {
  if (seen.low >= limits.enough) return SightVerdict::Seen;
  return seen.low > 0 ? SightVerdict::Partly : SightVerdict::NotSeen;
}

// ---- grips ----------------------------------------------------------------------------------------------------------

namespace {

/// Where the camera may be at a grip: at the helmet, which the corridor keeps clear; or in the hand too.
std::vector<std::pair<Vec3, bool>> camera_points(const HandrailGraph& graph, GripId id,
                                                 const model::HeldCamera& camera) {
  const auto& grip = graph.grip(id);
  const Vec3 body = graph.body_point(id);
  std::vector<std::pair<Vec3, bool>> points = {{body, false}};
  if (camera.held == model::HeldAt::Helmet) return points;
  const auto& scene = graph.scene();
  const auto try_direction = [&](const Vec3& direction) {
    const Vec3 end = body + arm_m * direction;
    const std::array<Vec3, 2> arm = {body, end};
    if (scene.hull_distance(arm, 1) > arm_radius_m + geometry::SceneOptions{}.chord_error_m &&
        scene.distance(end, 1) > camera_radius_m)
      points.emplace_back(end, true);
  };
  try_direction(grip.stance);
  const Vec3 along = detail::rail_direction(graph, grip);
  for (int k = 0; k < arm_azimuths; ++k)
    try_direction(Eigen::AngleAxisd(2 * std::numbers::pi * k / arm_azimuths, grip.stance) * along);
  return points;
}

/// Smaller is better: the fraction seen in steps of 0.05, then the time to get there, the angle in whole degrees, the
/// distance in tenths of a metre.
auto rank(const Seen& seen, double low, double time_s) {
  return std::tuple(-std::lround(std::floor(low * 20 + 1e-9)), time_s,
                    std::lround(std::floor(seen.off_normal_rad / degree)),
                    std::lround(std::floor(seen.distance_m * 10)));
}

}  // namespace

GripRanking rank_grips(const HandrailGraph& graph, const route::Profile& profile, model::PatchId id,
                       const SightRequest& request, const std::vector<double>& time_s) {
  const auto& scene = graph.scene();
  const model::HeldCamera fallback = model::default_camera();
  const model::HeldCamera& camera = request.camera ? *request.camera : fallback;
  const PatchCells coarse(scene, graph.structure().patches[id.index()], ranking_cells);
  const PatchCells fine(scene, graph.structure().patches[id.index()], first_cells);
  GripRanking ranking;
  ranking.patch = id;
  const double range_m = request.within_m ? *request.within_m : camera.range_m.value;
  struct Candidate {
    Eye eye;
    bool is_at_arms_length = false;
    double glance = 0;
    bool is_standing = false;
  };
  std::vector<Candidate> candidates(graph.grips().size());
  const route::GripRules rules(graph, profile.closures);
  // By the first look alone: its share, and angle and distance to the patch's middle.
  const auto first = [&](const Candidate& candidate) {
    Seen seen;
    seen.distance_m = (candidate.eye.at - coarse.middle()).norm();
    if (coarse.mean_normal().norm() > 0.1)
      seen.off_normal_rad = angle_between(coarse.mean_normal(), candidate.eye.at - coarse.middle());
    if (coarse.both_sides())
      seen.off_normal_rad = std::min(seen.off_normal_rad, std::numbers::pi - seen.off_normal_rad);
    return seen;
  };
  tbb::parallel_for(std::size_t{0}, candidates.size(), [&](std::size_t g) {
    const GripId grip(g);
    if (!rules.is_open(grip)) return;
    if (!time_s.empty() && !(time_s[g] < infinity)) return;
    auto& candidate = candidates[g];
    candidate.is_standing = true;
    if ((graph.body_point(grip) - coarse.middle()).norm() > range_m + coarse.around_m() + arm_m) return;
    for (const auto& [point, is_at_arms_length] : camera_points(graph, grip, camera)) {
      const Vec3 line = coarse.middle() - point;
      if (line.norm() < 1e-9) continue;
      const Eye eye{point, line.normalized(), camera.half_angle_rad, range_m};
      const Candidate other{eye, is_at_arms_length, glance(scene, eye, coarse, request.limits.off_normal_rad), true};
      if (other.glance > 0 &&
          (candidate.glance <= 0 || rank(first(other), other.glance, 0) < rank(first(candidate), candidate.glance, 0)))
        candidate = other;
    }
  });
  std::vector<std::size_t> order;
  for (std::size_t g = 0; g < candidates.size(); ++g) {
    ranking.grips += candidates[g].is_standing ? 1 : 0;
    if (candidates[g].glance > 0) order.push_back(g);
  }
  ranking.with_any = order.size();
  const auto time_of = [&](std::size_t g) { return time_s.empty() ? 0.0 : time_s[g]; };
  const auto key = [&](std::size_t g, const Seen& seen, double low) {
    return std::tuple_cat(rank(seen, low, time_of(g)), std::tuple(g));
  };
  ranking.samples = coarse.cells().size();
  // Best first by the first look; then looked at closely until what is listed is not beaten by what is left, of which
  // no grip is thought to see more than by the first look and one cell in ten, which is what 100 cells are off by.
  // Where that takes too many looks, it is told.
  constexpr double border = 0.1;
  constexpr std::size_t most_looks = 1000, batch = 16;
  using Key = decltype(key(0, Seen{}, 0));
  std::vector<Key> quick(candidates.size());  // by the first look
  for (const std::size_t g : order) quick[g] = key(g, first(candidates[g]), candidates[g].glance);
  std::sort(order.begin(), order.end(), [&](std::size_t x, std::size_t y) { return quick[x] < quick[y]; });
  std::vector<std::pair<std::size_t, GripSight>> looked;
  std::vector<std::optional<Key>> best_of_rail(graph.structure().rails.size());  // of those looked at
  const auto list = [&]() {
    std::sort(looked.begin(), looked.end(), [&](const auto& x, const auto& y) {
      return key(x.first, x.second.seen, x.second.seen.low) < key(y.first, y.second.seen, y.second.seen.low);
    });
    std::vector<GripSight> best;
    for (const auto& [g, sight] : looked) {
      if (best.size() >= request.most_rails) break;
      if (std::none_of(best.begin(), best.end(), [&](const GripSight& b) { return b.rail == sight.rail; }))
        best.push_back(sight);
    }
    return best;
  };
  // The best that it can turn out to be: time is known, angle and distance change little where the patch is open.
  const auto at_best = [&](std::size_t g) {
    Seen seen = first(candidates[g]);
    const bool is_open = coarse.mean_normal().norm() > 0.1;
    seen.off_normal_rad = is_open ? std::max(0.0, seen.off_normal_rad - degree) : 0;
    seen.distance_m = is_open ? std::max(0.0, seen.distance_m - 0.1) : 0;
    return key(g, seen, std::min(1.0, candidates[g].glance + border));
  };
  std::vector<Key> hopes(candidates.size());
  for (const std::size_t g : order) hopes[g] = at_best(g);
  std::vector<std::size_t> left = order;
  for (;;) {
    ranking.best = list();
    std::optional<Key> last;  // of a full list
    if (ranking.best.size() >= request.most_rails) {
      const auto& sight = ranking.best.back();
      last = key(sight.grip.index(), sight.seen, sight.seen.low);
    }
    // One a rail is listed, so it has to beat its rail's and the last of the list.
    std::erase_if(left, [&](std::size_t g) {
      const auto& of_rail = best_of_rail[graph.grip(GripId(g)).rail.index()];
      const Key& hope = hopes[g];
      return (last && *last < hope) || (of_rail && *of_rail < hope);
    });
    if (left.empty() || ranking.looked_at >= most_looks) break;
    const std::size_t count = std::min({left.size(), batch, most_looks - ranking.looked_at});
    std::vector<std::pair<std::size_t, GripSight>> found(count);
    tbb::parallel_for(std::size_t{0}, count, [&](std::size_t i) {
      const std::size_t g = left[i];
      const auto& grip = graph.grip(GripId(g));
      GripSight sight{.grip = GripId(g),
                      .rail = grip.rail,
                      .along_m = grip.along_m,
                      .eye = candidates[g].eye,
                      .is_at_arms_length = candidates[g].is_at_arms_length,
                      .seen = {},
                      .time_s = std::nullopt};
      sight.seen = look(scene, sight.eye, fine, request.limits);
      if (!time_s.empty()) sight.time_s = time_s[g];
      found[i] = {g, sight};
    });
    ranking.looked_at += count;
    left.erase(left.begin(), left.begin() + static_cast<std::ptrdiff_t>(count));
    for (auto& each : found) {
      if (each.second.seen.low <= 0) continue;
      const Key own = key(each.first, each.second.seen, each.second.seen.low);
      auto& of_rail = best_of_rail[each.second.rail.index()];
      if (!of_rail || own < *of_rail) of_rail = own;
      looked.push_back(std::move(each));
    }
  }
  for (const std::size_t g : left) ranking.most_of_others = std::max(ranking.most_of_others, candidates[g].glance);
  return ranking;
}

// ---- the question ---------------------------------------------------------------------------------------------------

namespace {

/// Constants of a route, then those of the question that it does not have already.
void merge_used(const std::vector<route::UsedValue>& ours, std::vector<route::UsedValue>& of_route) {
  for (const auto& each : ours)
    if (std::none_of(of_route.begin(), of_route.end(), [&](const auto& known) { return known.name == each.name; }))
      of_route.push_back(each);
}

/// By grip, from any hatch of the model; empty where it has none.
std::vector<double> times_from_hatches(const HandrailGraph& graph, const route::Profile& profile) {
  std::vector<std::string> hatches;
  for (const auto& place : graph.structure().places)
    if (place.kind == model::PlaceKind::Hatch && graph.structure().is_present(place, graph.scene().configuration()))
      hatches.push_back(place.id);
  if (hatches.empty()) return {};
  return route::compute_home(graph, profile, {.hatches = hatches}).time_by_grip_s;
}

}  // namespace

SightAnswer find_sight(const HandrailGraph& graph, const route::Profile& profile, const SightRequest& request) {
  const auto& structure = graph.structure();
  const auto& scene = graph.scene();
  std::vector<model::PatchId> patches;
  for (const auto& id : request.patches) {
    const auto found = structure.find_patch(id);
    if (!found)
      refuse("unknown-patch", fmt::format("patch \"{}\" is not in this model", id), id,
             remedy_for(id, structure.patches, "this model has no patches; list them in structure.yaml"));
    patches.push_back(*found);
  }
  if (patches.empty())
    for (std::size_t p = 0; p < structure.patches.size(); ++p) patches.emplace_back(p);
  if (patches.empty())
    refuse("unknown-patch", "this model has no patches", "",
           "list what is to be seen under `patches:` in structure.yaml");
  std::vector<model::ViewId> views;
  for (const auto& id : request.views) {
    const auto found = structure.find_view(id);
    if (!found)
      refuse("unknown-view", fmt::format("view \"{}\" is not in this model", id), id,
             remedy_for(id, structure.views, "this model has no views; list them in structure.yaml"));
    views.push_back(*found);
  }
  if (views.empty())
    for (std::size_t v = 0; v < structure.views.size(); ++v) views.emplace_back(v);
  if (views.empty() && !request.from_grips)
    refuse("unknown-view", "this model has no views", "",
           "list windows and cameras under `views:` in structure.yaml, or ask from grips with --from-grips");

  SightAnswer answer;
  answer.limits = request.limits;
  answer.from_grips = request.from_grips;
  route::RouteRequest none;
  none.from = none.to = request.from;
  answer.head = route::Answer{route::begin_answer(graph, profile, none)};
  answer.head.used.clear();
  const model::HeldCamera fallback = model::default_camera();
  const model::HeldCamera& camera = request.camera ? *request.camera : fallback;
  const std::string assumed = "what is seen farther off is foreshortened too much to be told";
  answer.head.used.push_back({"most off the normal", "deg", {request.limits.off_normal_rad / degree, assumed}});
  answer.head.used.push_back(
      {"share of its area for a patch to be seen", "", {request.limits.enough, "so much is all"}});
  if (request.from_grips) {
    answer.camera = request.camera ? camera.id : "";
    auto half = camera.half_angle_rad;
    half.value /= degree;
    if (half.spread) half.spread = {half.spread->first / degree, half.spread->second / degree};
    answer.head.used.push_back({"half angle of the camera", "deg", half});
    answer.head.used.push_back({"range of the camera", "m",
                                request.within_m ? model::Quantity{*request.within_m, "asked for"} : camera.range_m});
    answer.head.used.push_back({"stand-off", "m", profile.suit.stand_off_m});
    if (camera.held == model::HeldAt::Hand)
      answer.head.used.push_back({"camera held from the body axis", "m", {arm_m, "an arm's length"}});
  }
  std::vector<double> time_s;
  if (request.from_grips && !request.from.empty())
    time_s = route::compute_home(graph, profile, {.hatches = {request.from}}).time_by_grip_s;
  std::vector<double> from_hatches;
  if (request.from_grips && request.from.empty()) from_hatches = times_from_hatches(graph, profile);
  for (const auto id : patches) {
    const auto& patch = structure.patches[id.index()];
    PatchSight sight;
    sight.patch = id;
    sight.is_there = structure.is_present(patch, scene.configuration());
    if (!sight.is_there) {
      sight.any.verdict = SightVerdict::NotThere;
      answer.patches.push_back(std::move(sight));
      continue;
    }
    const PatchCells cells(scene, patch, first_cells);
    sight.area_m2 = cells.area_m2(), sight.covered_fraction = cells.covered_fraction();
    if (cells.area_m2() <= 0) {
      sight.any.verdict = SightVerdict::Covered;
      answer.patches.push_back(std::move(sight));
      continue;
    }
    if (request.from_grips) {
      answer.rankings.push_back(rank_grips(graph, profile, id, request, time_s));
      for (auto& best : answer.rankings.back().best)
        best.is_cut_off = !from_hatches.empty() && !std::isfinite(from_hatches[best.grip.index()]);
      answer.patches.push_back(std::move(sight));
      continue;
    }
    std::vector<Eye> eyes;
    sight.views.resize(views.size());
    for (std::size_t v = 0; v < views.size(); ++v) {
      const auto& view = structure.views[views[v].index()];
      sight.views[v].view = views[v];
      if (!structure.is_present(view, scene.configuration()))
        sight.views[v].verdict = SightVerdict::NotThere;
      else
        eyes.push_back(eye_of(scene, view));
    }
    std::vector<std::size_t> there;
    for (std::size_t v = 0; v < views.size(); ++v)
      if (sight.views[v].verdict != SightVerdict::NotThere) there.push_back(v);
    tbb::parallel_for(std::size_t{0}, there.size(), [&](std::size_t i) {
      auto& of_view = sight.views[there[i]];
      of_view.seen = look(scene, eyes[i], cells, request.limits);
      of_view.verdict = verdict_of(of_view.seen, request.limits);
    });
    const auto any = estimate(cells,
                              [&](const Cell& cell) {
                                return std::any_of(eyes.begin(), eyes.end(), [&](const Eye& eye) {
                                  return is_seen(scene, eye, cells, cell, request.limits.off_normal_rad);
                                });
                              },
                              {});
    sight.any.seen = {.low = any.low, .high = any.high, .cells = any.cells, .cell_m = any.cell_m};
    sight.any.verdict = verdict_of(sight.any.seen, request.limits);
    answer.patches.push_back(std::move(sight));
  }
  if (!request.from.empty() && !answer.rankings.empty()) {
    // Of what is listed, those that a route ends at: one may end on the other side of a rail only, with another view.
    auto& best = answer.rankings.front().best;
    while (!best.empty() && !answer.has_route) {
      auto route = detail::find_route_to(graph, profile, request.from, best.front().grip);
      if (!route) {
        best.erase(best.begin());
        continue;
      }
      merge_used(answer.head.used, route->used);
      answer.head = std::move(*route);
      answer.has_route = true;
    }
  }
  return answer;
}

}  // namespace holdfast::reach
