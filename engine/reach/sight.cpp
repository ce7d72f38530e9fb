#include "holdfast/reach/sight.h"

#include <fmt/format.h>
#include <tbb/parallel_for.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>
#include <numbers>
#include <tuple>

#include "grip_impl.h"
#include "holdfast/reach/body.h"
#include "holdfast/route/home.h"

namespace holdfast::reach {

using graph::GripId;
using graph::HandrailGraph;

namespace {

constexpr double degree = std::numbers::pi / 180;
constexpr double infinity = std::numeric_limits<double>::infinity();
constexpr double angle_tolerance_rad = 1e-6;
constexpr double eye_off_m = 0.02;  ///< of a view's eye from its glass
constexpr double arm_m = 0.50;      ///< a camera is held this far from the body axis
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

Eye eye_of(const geometry::Scene& scene, const model::View& view) {
  const model::Pose pose = scene.structure().frame_of(view.part, scene.configuration());
  Eye eye;
  eye.direction = pose.linear() * view.direction;
  eye.at = pose * view.at + eye_off_m * eye.direction;
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

double glance(const geometry::Scene& scene, const Eye& eye, const PatchCells& patch, double off_normal_rad) {
  if (patch.area_m2() <= 0) return 0;
  thread_local std::vector<const Cell*> asked;  // scratch: this is asked a hundred thousand times
  asked.clear();
  for (const auto& cell : patch.cells())
    if (!cell.is_covered && may_be_seen(eye, patch, cell, off_normal_rad)) asked.push_back(&cell);
  if (asked.empty()) return 0;
  double seen_m2 = 0;
  constexpr std::size_t worth_a_hull = 12;
  constexpr double flat = 1 - 1e-9;
  if (asked.size() >= worth_a_hull && patch.mean_normal().norm() > flat) {
    // Of a flat patch: the lifted samples lie in a rectangle. What is clear of its hull with the eye is clear of every
    // ray to it.
    const Vec3 normal = seen_normal(eye, patch, *asked.front());
    const Vec3 x = normal.unitOrthogonal(), y = normal.cross(x);
    Eigen::Array2d least = Eigen::Array2d::Constant(infinity), most = -least;
    for (const auto* cell : asked) {
      const Eigen::Array2d at(x.dot(cell->at), y.dot(cell->at));
      least = least.min(at), most = most.max(at);
    }
    const Vec3 plane = normal.dot(asked.front()->at) * normal + patch.lift_m() * normal;
    const std::array<Vec3, 5> hull = {eye.at, plane + least.x() * x + least.y() * y,
                                      plane + most.x() * x + least.y() * y, plane + most.x() * x + most.y() * y,
                                      plane + least.x() * x + most.y() * y};
    constexpr double hair_m = 5e-4;  // half the lift: the patch's own surface is not in it
    if (scene.hull_distance(hull, hair_m) >= hair_m) {
      for (const auto* cell : asked) seen_m2 += cell->area_m2;
      return seen_m2 / patch.area_m2();
    }
  }
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
  const Vec3 across = model::forward_of(grip.stance, std::nullopt);
  for (int k = 0; k < arm_azimuths; ++k)
    try_direction(Eigen::AngleAxisd(2 * std::numbers::pi * k / arm_azimuths, grip.stance) * across);
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
  double around_m = 0;  // no sample is farther from the patch's middle
  for (const auto& cell : coarse.cells()) around_m = std::max(around_m, (cell.at - coarse.middle()).norm());

  struct Candidate {
    Eye eye;
    bool is_at_arms_length = false;
    double glance = 0;
    bool is_standing = false;
  };
  std::vector<Candidate> candidates(graph.grips().size());
  tbb::parallel_for(std::size_t{0}, candidates.size(), [&](std::size_t g) {
    const GripId grip(g);
    if (!detail::is_stance_clear(graph, profile, grip)) return;
    if (!time_s.empty() && !(time_s[g] < infinity)) return;
    auto& candidate = candidates[g];
    candidate.is_standing = true;
    if ((graph.body_point(grip) - coarse.middle()).norm() > range_m + around_m + arm_m) return;
    for (const auto& [point, is_at_arms_length] : camera_points(graph, grip, camera)) {
      const Vec3 line = coarse.middle() - point;
      if (line.norm() < 1e-9) continue;
      const Eye eye{point, line.normalized(), camera.half_angle_rad, range_m};
      const double seen = glance(scene, eye, coarse, request.limits.off_normal_rad);
      if (seen > candidate.glance + 1e-12) candidate = {eye, is_at_arms_length, seen, true};
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
  // Best first by the glance; then looked at closely until what is listed cannot be beaten by what is left, whose bound
  // is the glance and one border of its cells.
  const auto quick = [&](std::size_t g) {
    Seen seen;
    seen.distance_m = (candidates[g].eye.at - coarse.middle()).norm();
    seen.off_normal_rad = coarse.mean_normal().norm() > 0.1
                              ? angle_between(coarse.mean_normal(), candidates[g].eye.at - coarse.middle())
                              : 0;
    return key(g, seen, candidates[g].glance);
  };
  std::sort(order.begin(), order.end(), [&](std::size_t x, std::size_t y) { return quick(x) < quick(y); });
  constexpr std::size_t most_looks = 400;
  std::vector<std::pair<std::size_t, GripSight>> looked;
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
  constexpr std::size_t batch = 16;
  for (std::size_t at = 0; at < order.size() && at < most_looks; at += batch) {
    const std::size_t end = std::min({order.size(), most_looks, at + batch});
    if (at > 0) {
      ranking.best = list();
      constexpr double border = 0.1;  // a glance of 100 cells is off by about one cell in ten
      if (ranking.best.size() >= request.most_rails &&
          ranking.best.back().seen.low >= std::min(1.0, candidates[order[at]].glance + border))
        break;
    }
    std::vector<std::pair<std::size_t, GripSight>> found(end - at);
    tbb::parallel_for(at, end, [&](std::size_t i) {
      const std::size_t g = order[i];
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
      found[i - at] = {g, sight};
    });
    for (auto& each : found)
      if (each.second.seen.low > 0) looked.push_back(std::move(each));
  }
  ranking.best = list();
  return ranking;
}

// ---- the question ---------------------------------------------------------------------------------------------------

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
  if (!request.from.empty() && !answer.rankings.empty() && !answer.rankings.front().best.empty()) {
    auto route = detail::find_route_to(graph, profile, request.from, answer.rankings.front().best.front().grip);
    route.used.insert(route.used.end(), answer.head.used.begin(), answer.head.used.end());
    answer.head = std::move(route);
    answer.has_route = true;
  }
  return answer;
}

}  // namespace holdfast::reach
