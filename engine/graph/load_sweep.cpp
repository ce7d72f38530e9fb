// SPDX-License-Identifier: GPL-3.0-or-later
#include "holdfast/graph/load_sweep.h"

#include <Eigen/Geometry>
#include <algorithm>
#include <cmath>
#include <cstring>
#include <numbers>
#include <queue>
#include <span>

#include "way_impl.h"
#include "zone_impl.h"

namespace holdfast::graph {

using detail::angle_between;
using detail::any_perpendicular;
using detail::BodyWay;
using detail::Slerp;
using model::ZoneEffect;
using model::ZoneId;

namespace {

/// Beyond this much motion an interval's middle says nothing worth asking for.
constexpr double most_motion_m = 0.5;
constexpr double hull_tolerance_m = 1e-4;
// Both together stay within the tolerance that is promised.
constexpr double measure_tolerance_m = 0.005;
static_assert(measure_tolerance_m + hull_tolerance_m <= load_measure_tolerance_m);
constexpr double narrowest = 1e-4;  // interval of a motion that is still halved

struct Bounded {
  double lower_m = 0;
  double upper_m = std::numeric_limits<double>::infinity();
  double u = 0.5;  // of the smallest sample
};
struct Limits {
  double tolerance_m, enough_m, hopeless_m;
};

/// Least of `distance(u, cutoff)` over u in [0, 1], where no point of the box moves more than `motion(u0, u1)` from the
/// interval's middle. As geometry::certified_minimum, for motions whose speed is known by intervals only.
template <class Distance, class Motion>
Bounded bound_minimum(Distance&& distance, Motion&& motion, const Limits& limits) {
  struct Interval {
    double lower, u0, u1;
    bool operator<(const Interval& other) const { return lower > other.lower; }  // least on top
  };
  Bounded result;
  std::priority_queue<Interval> open;
  std::vector<std::pair<double, double>> fresh = {{0, 1}};
  for (;;) {
    while (!fresh.empty()) {
      const auto [u0, u1] = fresh.back();
      fresh.pop_back();
      const double middle = (u0 + u1) / 2, moved = motion(u0, u1);
      if (!(moved <= most_motion_m)) {
        if (u1 - u0 < narrowest) {  // no bound however close one looks: undecided
          result.lower_m = -std::numeric_limits<double>::infinity();
          return result;
        }
        fresh.emplace_back(middle, u1), fresh.emplace_back(u0, middle);
        continue;
      }
      const double d = distance(middle, limits.enough_m + moved + limits.tolerance_m);
      if (d < result.upper_m) result.upper_m = d, result.u = middle;
      if (result.upper_m < limits.hopeless_m) return result;
      open.push({d - moved, u0, u1});
    }
    const Interval worst = open.top();
    result.lower_m = worst.lower;
    if (worst.lower >= limits.enough_m || result.upper_m - worst.lower <= limits.tolerance_m ||
        worst.u1 - worst.u0 < 1e-6)
      return result;
    open.pop();
    const double middle = (worst.u0 + worst.u1) / 2;
    fresh = {{middle, worst.u1}, {worst.u0, middle}};
  }
}

/// Lower bound on the least distance of a hull to structure and boxes, cut off.
double distance_among(const SweptAmong& among, std::span<const Vec3> hull, double cutoff_m) {
  const double distance_m = among.structure->hull_distance(hull, cutoff_m, hull_tolerance_m);
  if (!among.boxes || distance_m <= 0) return distance_m;
  return among.boxes->hull_distance(hull, distance_m, hull_tolerance_m);
}

/// One sweep: poses, how far they move, and what they must keep off.
template <class PoseAt, class Motion>
SweepResult sweep_box(const SweptAmong& among, const Vec3& size_m, std::span<const ZoneId> zones, PoseAt&& pose_at,
                      Motion&& motion, bool is_translation, SweepAim aim) {
  SweepResult result;
  const geometry::Scene& scene = *among.structure;
  const auto structure_distance = [&](double u, double cutoff) {
    return distance_among(among, corners_of(pose_at(u), size_m), cutoff);
  };
  bool is_decided = false;
  if (is_translation && aim == SweepAim::Decide) {
    // A convex body that does not turn sweeps the hull of its ends.
    std::array<Vec3, 16> ends;
    const auto first = corners_of(pose_at(0.0), size_m), last = corners_of(pose_at(1.0), size_m);
    std::copy(first.begin(), first.end(), ends.begin());
    std::copy(last.begin(), last.end(), ends.begin() + 8);
    result.least_m = distance_among(among, ends, load_margin_m + sweep_tolerance_m);
    result.pose = pose_at(0.5);
    is_decided = result.least_m >= load_margin_m;
  }
  if (!is_decided) {
    const Limits limits = aim == SweepAim::Decide ? Limits{sweep_tolerance_m, load_margin_m, load_margin_m}
                                                  : Limits{measure_tolerance_m, clearance_headroom_m,
                                                           -std::numeric_limits<double>::infinity()};
    const Bounded least = bound_minimum(structure_distance, motion, limits);
    result.least_m = std::max(0.0, least.lower_m);
    result.pose = pose_at(least.u);
    if (aim == SweepAim::Decide && least.upper_m < load_margin_m) result.least_m = 0;
  }
  if (aim == SweepAim::Decide && result.least_m < load_margin_m) return result;

  const Vec3 middle = pose_at(0.5).middle;
  const double span_m = motion(0.0, 1.0) + size_m.norm() / 2;
  for (const ZoneId zone : zones) {
    const auto bounds = scene.zone_bounds(zone);
    if (bounds.is_empty() || detail::distance_to_bounds(bounds, middle) > span_m) continue;
    const Bounded least = bound_minimum(
        [&](double u, double cutoff) { return scene.zone_hull_distance(zone, corners_of(pose_at(u), size_m), cutoff); },
        motion, {sweep_tolerance_m, 0, length_tolerance_m});
    if (least.lower_m >= 0 && least.upper_m >= length_tolerance_m) continue;
    if (scene.structure().zones[zone.index()].effect == ZoneEffect::Forbid) {
      result.forbidden_by = zone;
      result.pose = pose_at(least.u);
      return result;
    }
    result.entered.push_back(zone);
  }
  result.fits = result.least_m >= load_margin_m;
  return result;
}

/// Two sweeps of one box, one after the other.
SweepResult joined(SweepResult first, const SweepResult& second) {
  first.fits = first.fits && second.fits;
  if (!first.forbidden_by) first.forbidden_by = second.forbidden_by;
  if (second.least_m < first.least_m) first.least_m = second.least_m, first.pose = second.pose;
  for (const ZoneId zone : second.entered)
    if (std::find(first.entered.begin(), first.entered.end(), zone) == first.entered.end())
      first.entered.push_back(zone);
  return first;
}

BoxPose body_frame(const Vec3& body, const Vec3& heading, const Vec3& up, const Vec3& offset_m) {
  BoxPose pose;
  pose.axes.col(0) = heading;
  pose.axes.col(1) = up.cross(heading);
  pose.axes.col(2) = up;
  pose.middle = body + pose.axes * offset_m;
  return pose;
}

/// Least part of `step` that is perpendicular to the outward direction anywhere on the way from one to the other.
double least_across(const Vec3& step, const Slerp& turn) {
  double along = std::max(std::abs(step.dot(turn.at(0))), std::abs(step.dot(turn.at(1))));
  if (turn.angle() > 0) {
    // step . n(t) = A cos(t angle) + B sin(t angle), largest at atan2(B, A) if that is on the way.
    const double a = step.dot(turn.at(0)), b = step.dot(turn.derivative(0)) / turn.angle();
    double at = std::atan2(b, a);
    if (at < 0) at += std::numbers::pi;
    if (at <= turn.angle()) along = std::max(along, std::hypot(a, b));
  }
  return std::sqrt(std::max(0.0, step.squaredNorm() - along * along));
}

Vec3 across(const Vec3& step, const Vec3& outward) { return step - step.dot(outward) * outward; }

/// `v` turned by the least rotation that takes `from` to `to`.
Vec3 turned(const Vec3& v, const Vec3& from, const Vec3& to) {
  const double angle = angle_between(from, to);
  if (angle < 1e-12) return v;
  const Vec3 axis = from.cross(to);
  const Vec3 unit = axis.norm() > 1e-9 ? Vec3(axis.normalized()) : any_perpendicular(from);
  return Eigen::AngleAxisd(angle, unit) * v;
}

Vec3 made_heading(const Vec3& v, const Vec3& outward) { return across(v, outward).normalized(); }

/// Farthest that a box reaches from its body's up axis.
double round_reach_m(const Vec3& size_m, const Vec3& offset_m) {
  return std::hypot(std::abs(offset_m.x()) + size_m.x() / 2, std::abs(offset_m.y()) + size_m.y() / 2);
}

}  // namespace

std::array<Vec3, 8> corners_of(const BoxPose& pose, const Vec3& size_m) {
  std::array<Vec3, 8> corners;
  const Eigen::Matrix3d half = pose.axes * (size_m / 2).asDiagonal();
  for (std::size_t i = 0; i < 8; ++i)
    corners[i] =
        pose.middle + (i & 1 ? 1 : -1) * half.col(0) + (i & 2 ? 1 : -1) * half.col(1) + (i & 4 ? 1 : -1) * half.col(2);
  return corners;
}

SweepResult sweep_motion(const geometry::Scene& scene, const Vec3& size_m,
                         const std::function<BoxPose(double)>& pose_at, double speed_m, SweepAim aim) {
  return sweep_box(
      {&scene, nullptr}, size_m, {}, pose_at, [&](double u0, double u1) { return speed_m * (u1 - u0) / 2; }, false,
      aim);
}

Headings headings_of(const Grip& from, const Grip& to) {
  const Vec3 step = to.hand - from.hand;
  Headings headings;
  // A hand that moves nearly along the outward direction gives no heading that a body could follow.
  constexpr double least_m = 1e-3, least_share = 0.05;
  headings.is_free = least_across(step, Slerp(from.outward, to.outward)) < std::max(least_m, least_share * step.norm());
  if (headings.is_free) return headings;
  headings.start = made_heading(step, from.outward);
  headings.end = made_heading(step, to.outward);
  return headings;
}

Vec3 carry_heading(const Grip& from, const Grip& to, const Vec3& heading) {
  return made_heading(turned(heading, from.outward, to.outward), to.outward);
}

// ---- beside ---------------------------------------------------------------------------------------------------------

BesideSweep::BesideSweep(const HandrailGraph& graph, const model::Load& load, std::vector<ZoneId> zones)
    : graph_(graph), among_{&graph.scene()}, size_m_(load.size_m), offset_m_(load.offset_m), zones_(std::move(zones)) {}

BoxPose BesideSweep::pose(GripId at, const Vec3& heading) const {
  return body_frame(graph_.body_point(at), heading, graph_.grip(at).outward, offset_m_);
}

SweepResult BesideSweep::move(GripId from_id, GripId to_id, const Vec3& heading, SweepAim aim) const {
  const Grip& from = graph_.grip(from_id);
  const Grip& to = graph_.grip(to_id);
  const BodyWay way(from, to, graph_.body().stand_off_m);
  const Slerp turn(from.outward, to.outward);
  const Vec3 step = to.hand - from.hand;
  const Headings headings = headings_of(from, to);
  const auto pose_at = [&](double t) {
    const Vec3 up = turn.at(t);
    const Vec3 forward =
        headings.is_free ? made_heading(turned(heading, from.outward, up), up) : made_heading(step, up);
    return body_frame(way.at(t), forward, up, offset_m_);
  };
  // Angular speed: up turns by the turn's angle; forward by at most that, times the step over its part across (the
  // derivative of step - (step . up) up is no longer than |step| times up's).
  double spin = turn.angle();
  if (!headings.is_free && turn.angle() > 0) spin *= 1 + step.norm() / least_across(step, turn);
  const double arm_m = offset_m_.norm() + size_m_.norm() / 2;
  const double speed_m = way.speed_upper_m() + spin * arm_m;
  return sweep_box(
      among_, size_m_, zones_, pose_at, [&](double u0, double u1) { return speed_m * (u1 - u0) / 2; },
      spin == 0 && way.is_straight(), aim);
}

SweepResult BesideSweep::swing(GripId at, const Vec3& from, const Vec3& to, SweepAim aim) const {
  const Vec3 up = graph_.grip(at).outward;
  const Vec3 body = graph_.body_point(at);
  const double angle = std::atan2(from.cross(to).dot(up), from.dot(to));
  const double arm_m = round_reach_m(size_m_, offset_m_);
  const auto through = [&](double by) {
    return sweep_box(
        among_, size_m_, zones_,
        [&](double u) { return body_frame(body, Eigen::AngleAxisd(u * by, up) * from, up, offset_m_); },
        [&](double u0, double u1) { return std::abs(by) * arm_m * (u1 - u0) / 2; }, false, aim);
  };
  SweepResult result = through(angle);
  if (!result.fits && std::numbers::pi - std::abs(angle) < angle_tolerance_rad)
    result = through(angle > 0 ? angle - 2 * std::numbers::pi : angle + 2 * std::numbers::pi);
  return result;
}

SweepResult BesideSweep::move_any(GripId from_id, GripId to_id) const {
  const double reach_m = round_reach_m(size_m_, offset_m_);
  model::Load round;
  round.size_m = {2 * reach_m, 2 * reach_m, size_m_.z()};
  round.offset_m = {0, 0, offset_m_.z()};
  BesideSweep any(graph_, round, zones_);
  any.keep_off(among_.boxes);
  return any.move(from_id, to_id, any_perpendicular(graph_.grip(from_id).outward));
}

SweepResult BesideSweep::stand_any(GripId at) const {
  const double reach_m = round_reach_m(size_m_, offset_m_);
  const Vec3 up = graph_.grip(at).outward;
  const BoxPose pose = body_frame(graph_.body_point(at), any_perpendicular(up), up, {0, 0, offset_m_.z()});
  return sweep_box(
      among_, Vec3(2 * reach_m, 2 * reach_m, size_m_.z()), zones_, [&](double) { return pose; },
      [](double, double) { return 0.0; }, false, SweepAim::Decide);
}

SweepResult BesideSweep::shift(GripId at, const Vec3& heading, const Vec3& offset_m, SweepAim aim) const {
  const BoxPose own = pose(at, heading);
  const Vec3 step = own.axes * (offset_m - offset_m_);
  return sweep_box(
      among_, size_m_, zones_,
      [&](double u) {
        return BoxPose{own.middle + u * step, own.axes};
      },
      [&](double u0, double u1) { return step.norm() * (u1 - u0) / 2; }, true, aim);
}

SweepResult BesideSweep::hand_over(GripId at, const BesideSweep& other, SweepAim aim) const {
  const double reach_m = std::max(round_reach_m(size_m_, offset_m_), round_reach_m(other.size_m_, other.offset_m_));
  const double low_m = std::min(offset_m_.z() - size_m_.z() / 2, other.offset_m_.z() - other.size_m_.z() / 2);
  const double high_m = std::max(offset_m_.z() + size_m_.z() / 2, other.offset_m_.z() + other.size_m_.z() / 2);
  const Vec3 up = graph_.grip(at).outward;
  const BoxPose round = body_frame(graph_.body_point(at), any_perpendicular(up), up, {0, 0, (low_m + high_m) / 2});
  return sweep_box(
      among_, Vec3(2 * reach_m, 2 * reach_m, high_m - low_m), zones_, [&](double) { return round; },
      [](double, double) { return 0.0; }, false, aim);
}

// ---- in tow ---------------------------------------------------------------------------------------------------------

/// Arc length along a move's body way, by chords: 64 of them differ from the arc by under 1e-4 of its length.
struct Trail::Curve {
  Curve(const Grip& from, const Grip& to, double stand_off_m)
      : way(from, to, stand_off_m), turn(from.outward, to.outward) {
    Vec3 last = way.at(0);
    for (std::size_t i = 1; i < along_m.size(); ++i) {
      const Vec3 here = way.at(static_cast<double>(i) / (along_m.size() - 1));
      along_m[i] = along_m[i - 1] + (here - last).norm();
      last = here;
    }
  }
  [[nodiscard]] double t_at(double s) const {
    if (s <= 0) return 0;
    if (s >= along_m.back()) return 1;
    const auto next = std::upper_bound(along_m.begin(), along_m.end(), s);
    const auto i = static_cast<std::size_t>(next - along_m.begin());
    const double width = along_m[i] - along_m[i - 1];
    return (static_cast<double>(i - 1) + (width > 0 ? (s - along_m[i - 1]) / width : 0)) / (along_m.size() - 1);
  }
  BodyWay way;
  Slerp turn;
  std::array<double, 65> along_m{};
};

std::string Trail::key() const {
  std::string key(1, is_paying_out_ ? 'p' : 'f');
  const auto put = [&](std::int64_t value) {
    char bytes[sizeof value];
    std::memcpy(bytes, &value, sizeof value);
    key.append(bytes, sizeof value);
  };
  const auto put_vec = [&](const Vec3& v) {
    for (int i = 0; i < 3; ++i) put(std::llround(v[i] * 1e6));
  };
  if (axes_)
    for (int column = 0; column < 3; ++column) put_vec(axes_->col(column));
  for (const Piece& piece : pieces_) {
    if (piece.curve) {
      key += 'c';
      put(piece.from.value), put(piece.to.value);
    } else {
      key += 's';
      put_vec(piece.start), put_vec(piece.end), put_vec(piece.outward);
    }
  }
  return key;
}

/// Poses of a towed box over a trail while either the body or, drawing in, the load alone moves.
class TowSweep::Run {
 public:
  Run(const TowSweep& tow, const std::vector<Trail::Piece>& pieces) : tow_(tow), pieces_(pieces) {
    starts_m_.push_back(0);
    for (const auto& piece : pieces_) starts_m_.push_back(starts_m_.back() + piece.length_m);
  }
  [[nodiscard]] double length_m() const { return starts_m_.back(); }
  [[nodiscard]] double last_start_m() const { return starts_m_[pieces_.size() - 1]; }
  [[nodiscard]] double first_length_m() const { return pieces_.front().length_m; }

  [[nodiscard]] Vec3 body_at(double x) const {
    const auto& piece = pieces_[piece_at(x)];
    const double s = x - starts_m_[piece_at(x)];
    if (piece.curve) return piece.curve->way.at(piece.curve->t_at(s));
    return piece.start +
           (piece.end - piece.start) * (piece.length_m > 0 ? std::clamp(s / piece.length_m, 0.0, 1.0) : 0);
  }
  [[nodiscard]] Vec3 outward_at(double x) const {
    const auto& piece = pieces_[piece_at(x)];
    return piece.curve ? piece.curve->turn.at(piece.curve->t_at(x - starts_m_[piece_at(x)])) : piece.outward;
  }
  /// How far the outward direction turns between two places, at most.
  [[nodiscard]] double outward_change(double x0, double x1) const {
    double change = 0;
    for (std::size_t i = 0; i < pieces_.size(); ++i) {
      if (!pieces_[i].curve || x1 < starts_m_[i] || x0 > starts_m_[i + 1]) continue;
      const auto& curve = *pieces_[i].curve;
      change += curve.turn.angle() * (curve.t_at(x1 - starts_m_[i]) - curve.t_at(x0 - starts_m_[i]));
    }
    return change;
  }
  [[nodiscard]] bool is_in_one_straight(double x0, double x1) const {
    const std::size_t piece = piece_at((x0 + x1) / 2);
    return !pieces_[piece].curve && x0 >= starts_m_[piece] - 1e-9 && x1 <= starts_m_[piece + 1] + 1e-9;
  }

  struct Along {
    double load, body;              // places along the trail
    double chord0, chord1;          // ends of the chord that the long side lies along
    double load_speed, body_speed;  // per unit of u
  };
  /// While the load is drawn in by `tow_m` behind the trail's end, u in [0, 1].
  [[nodiscard]] Along drawing_in(double u, double tow_m) const {
    const double end_m = length_m(), from_m = std::max(0.0, end_m - tow_m);
    Along along{};
    along.body = along.chord1 = end_m;
    along.load = from_m + u * (end_m - from_m);
    along.chord0 = std::min(along.load, std::max(last_start_m(), from_m));
    along.load_speed = end_m - from_m;
    return along;
  }

  /// The pose, and how it may turn; `is_round` where the outward direction runs along the chord and gives no up.
  struct Posed {
    BoxPose pose;
    double chord_m = 0, upright = 0;
  };
  [[nodiscard]] Posed pose(const Along& at) const {
    Posed posed;
    const Vec3 chord = body_at(at.chord1) - body_at(at.chord0);
    posed.chord_m = chord.norm();
    const Vec3 forward = posed.chord_m > 1e-9 ? Vec3(chord / posed.chord_m) : any_perpendicular(outward_at(at.load));
    const Vec3 up_wanted = across(outward_at((at.load + at.body) / 2), forward);
    posed.upright = up_wanted.norm();
    const Vec3 up = posed.upright > 1e-9 ? Vec3(up_wanted / posed.upright) : any_perpendicular(forward);
    posed.pose.axes.col(0) = forward;
    posed.pose.axes.col(1) = up.cross(forward);
    posed.pose.axes.col(2) = up;
    posed.pose.middle = body_at(at.load);
    return posed;
  }

  template <class AlongAt>
  [[nodiscard]] SweepResult sweep(AlongAt&& along_at, SweepAim aim) const {
    const Along first = along_at(0.0), last = along_at(1.0);
    const double from = std::min(first.load, first.chord0), to = std::max(last.body, last.chord1);
    const bool is_straight = is_in_one_straight(from, to);
    // Where up is not well defined anywhere on the way, the box may roll: its section is then the circle round it.
    bool may_roll = false;
    constexpr double least_upright = 0.1;
    if (!is_straight)
      for (int i = 0; i <= 8 && !may_roll; ++i) may_roll = pose(along_at(i / 8.0)).upright < 2 * least_upright;
    Vec3 size_m = tow_.size_m_;
    if (may_roll) size_m.y() = size_m.z() = std::hypot(tow_.size_m_.y(), tow_.size_m_.z());
    const double arm_m = size_m.norm() / 2;
    const auto motion = [&](double u0, double u1) {
      const Along at = along_at((u0 + u1) / 2), begin = along_at(u0), end = along_at(u1);
      const double half = (u1 - u0) / 2;
      const double load_m = half * std::max(begin.load_speed, end.load_speed);
      const double body_m = half * std::max(begin.body_speed, end.body_speed);
      if (is_straight) return load_m;
      const Posed posed = pose(at);
      const double ends_m = load_m + body_m, chord_change_m = chord_change(begin, end, ends_m);
      if (posed.chord_m <= chord_change_m) return std::numeric_limits<double>::infinity();
      const double yaw = std::asin(chord_change_m / posed.chord_m);
      if (may_roll) return load_m + yaw * arm_m;
      const double middle = (at.load + at.body) / 2, half_span = ends_m / 2;
      const double tilt = yaw + outward_change(middle - half_span, middle + half_span);
      if (posed.upright - tilt < least_upright) return std::numeric_limits<double>::infinity();
      return load_m + (yaw + tilt / (posed.upright - tilt)) * arm_m;
    };
    return sweep_box(
        tow_.among_, size_m, tow_.zones_, [&](double u) { return pose(along_at(u)).pose; }, motion, is_straight, aim);
  }

  /// How far the chord, as a vector, is from that of the middle, at most: exact where both its ends run straight.
  [[nodiscard]] double chord_change(const Along& begin, const Along& end, double ends_m) const {
    if (!is_in_one_straight(begin.chord0, end.chord0) || !is_in_one_straight(begin.chord1, end.chord1)) return ends_m;
    const Vec3 change0 = body_at(end.chord0) - body_at(begin.chord0),
               change1 = body_at(end.chord1) - body_at(begin.chord1);
    // An end that rests for a part of the interval does not move evenly: then only how far each moves is known.
    const bool is_even = end.load_speed == begin.load_speed &&
                         (begin.chord1 == begin.body) == (end.chord1 == end.body) &&
                         (begin.chord0 == begin.load) == (end.chord0 == end.load);
    return is_even ? (change1 - change0).norm() / 2 : std::min(ends_m, change0.norm() + change1.norm());
  }

 private:
  [[nodiscard]] std::size_t piece_at(double x) const {
    std::size_t i = 0;
    while (i + 1 < pieces_.size() && x > starts_m_[i + 1]) ++i;
    return i;
  }
  const TowSweep& tow_;
  const std::vector<Trail::Piece>& pieces_;
  std::vector<double> starts_m_;
};

TowSweep::TowSweep(const HandrailGraph& graph, const model::Load& load, std::vector<ZoneId> zones)
    : graph_(graph),
      among_{&graph.scene()},
      size_m_(load.size_m),
      tow_m_(load.tow_length_m),
      zones_(std::move(zones)) {}

Trail TowSweep::gone(const Trail& trail, GripId from_id, GripId to_id) const {
  const Grip& from = graph_.grip(from_id);
  const Grip& to = graph_.grip(to_id);
  Trail longer = trail;
  Trail::Piece piece{from_id, to_id, graph_.body_point(from_id), graph_.body_point(to_id), from.outward, 0, nullptr};
  if (angle_between(from.stance, to.stance) > 1e-9 || angle_between(from.outward, to.outward) > 1e-9) {
    piece.curve = std::make_shared<const Trail::Curve>(from, to, graph_.body().stand_off_m);
    piece.length_m = piece.curve->along_m.back();
  } else {
    piece.length_m = (piece.end - piece.start).norm();
  }
  // From one of two grips at one place to the other: neither the body nor the load moves.
  constexpr double at_rest_m = 1e-9;
  if (!piece.curve && piece.length_m < at_rest_m) return longer;
  longer.axes_.reset();
  longer.length_m_ += piece.length_m;
  const auto continues = [&](const Trail::Piece& last) {
    return !last.curve && !piece.curve && (last.outward - piece.outward).norm() < 1e-9 &&
           ((last.end - last.start) / last.length_m - (piece.end - piece.start) / piece.length_m).norm() < 1e-9;
  };
  auto& pieces = longer.pieces_;
  if (!pieces.empty() && continues(pieces.back())) {
    pieces.back().to = to_id, pieces.back().end = piece.end, pieces.back().length_m += piece.length_m;
  } else {
    pieces.push_back(std::move(piece));
  }
  return longer;
}

/// Keeps what the next moves can need: the tow length behind the body.
void TowSweep::trim(Trail& trail) const {
  if (trail.is_empty()) return;
  if (trail.length_m_ >= tow_m_) trail.is_paying_out_ = false;
  if (trail.is_paying_out_) return;
  auto& pieces = trail.pieces_;
  while (trail.length_m_ - pieces.front().length_m >= tow_m_) {
    trail.length_m_ -= pieces.front().length_m;
    pieces.erase(pieces.begin());
  }
  auto& oldest = pieces.front();
  if (const double spare_m = trail.length_m_ - tow_m_; !oldest.curve && spare_m > 0) {
    oldest.start += (oldest.end - oldest.start) * (spare_m / oldest.length_m);
    oldest.length_m -= spare_m;
    trail.length_m_ = tow_m_;
  }
}

Trail TowSweep::follow(const Trail& trail, GripId from, GripId to) const {
  Trail followed = gone(trail, from, to);
  trim(followed);
  return followed;
}

TowSweep::Step TowSweep::move(const Trail& trail, GripId from, GripId to, SweepAim aim) const {
  Step step{{}, gone(trail, from, to)};
  if (step.trail.is_empty()) {
    step.sweep = draw_in(step.trail, to, aim);
    return step;
  }
  const double before_m = trail.length_m_, moved_m = step.trail.length_m_ - before_m;
  const Run run(*this, step.trail.pieces_);
  // While the tow pays out the load rests where the leg began, its long side along the chord to the body; during the
  // first piece along that piece's whole chord, so that it need not turn before the body is a little way off.
  const double first_chord_m = std::min(run.first_length_m(), tow_m_);
  const bool is_paying_out = trail.is_paying_out_;
  const auto along_at = [&](double u) {
    Run::Along along{};
    along.body = before_m + u * moved_m;
    along.load = is_paying_out ? std::max(0.0, along.body - tow_m_) : along.body - tow_m_;
    along.chord0 = along.load;
    along.chord1 = along.load == 0 && is_paying_out ? std::max(along.body, first_chord_m) : along.body;
    along.load_speed = is_paying_out && along.load == 0 ? 0 : moved_m;
    along.body_speed = moved_m;
    return along;
  };
  const bool is_turned = trail.is_empty() && trail.axes_.has_value();
  if (is_turned) step.sweep = turn(graph_.body_point(from), *trail.axes_, run.pose(along_at(0)).pose.axes, aim);
  if (!is_turned) {
    step.sweep = run.sweep(along_at, aim);
  } else if (step.sweep.fits) {
    step.sweep = joined(std::move(step.sweep), run.sweep(along_at, aim));
  }
  trim(step.trail);
  return step;
}

SweepResult TowSweep::turn(const Vec3& middle, const Eigen::Matrix3d& from, const Eigen::Matrix3d& to,
                           SweepAim aim) const {
  std::array<Eigen::AngleAxisd, 4> turns;
  for (std::size_t i = 0; i < turns.size(); ++i) {
    const double forward = i & 1 ? -1 : 1, side = i & 2 ? -1 : 1;
    const Eigen::Matrix3d alike = to * Vec3(forward, side, forward * side).asDiagonal();
    turns[i] = Eigen::AngleAxisd(alike * from.transpose());
  }
  std::stable_sort(turns.begin(), turns.end(), [](const auto& x, const auto& y) { return x.angle() < y.angle(); });
  std::optional<SweepResult> least;
  // Beyond a quarter only where nothing less will do: nobody throws a load over to get it round a corner.
  const double most = std::max(turns.front().angle(), std::numbers::pi / 2) + angle_tolerance_rad;
  for (const auto& by : turns) {
    if (by.angle() > most) break;
    const double speed_m = by.angle() * size_m_.norm() / 2;
    auto swept = sweep_box(
        among_, size_m_, zones_,
        [&](double u) {
          return BoxPose{middle, Eigen::AngleAxisd(u * by.angle(), by.axis()).toRotationMatrix() * from};
        },
        [&](double u0, double u1) { return speed_m * (u1 - u0) / 2; }, false, aim);
    if (swept.fits) return swept;
    if (!least) least = std::move(swept);
  }
  return *least;
}

SweepResult TowSweep::draw_in(const Trail& trail, GripId at, SweepAim aim) const {
  if (trail.is_empty() && trail.axes_) {
    const BoxPose alongside = pose(trail, at);
    return sweep_box(
        among_, size_m_, zones_, [&](double) { return alongside; }, [](double, double) { return 0.0; }, false, aim);
  }
  if (trail.is_empty()) {
    // Nothing was gone: the load stays at the mover's side, along the rail or across it.
    SweepResult result;
    for (int quarter = 0; quarter < 2 && !result.fits; ++quarter) {
      const BoxPose alongside = pose(trail, at);
      BoxPose turned_pose = alongside;
      if (quarter == 1)
        turned_pose.axes.col(0) = alongside.axes.col(1), turned_pose.axes.col(1) = -alongside.axes.col(0);
      result = sweep_box(
          among_, size_m_, zones_, [&](double) { return turned_pose; }, [](double, double) { return 0.0; }, false, aim);
    }
    return result;
  }
  const Run run(*this, trail.pieces_);
  return run.sweep([&](double u) { return run.drawing_in(u, tow_m_); }, aim);
}

Trail TowSweep::at_side(const Eigen::Matrix3d& axes) {
  Trail trail;
  trail.axes_ = axes;
  return trail;
}

Trail TowSweep::drawn_in(const Trail& trail) const {
  if (trail.is_empty()) return trail;
  const Run run(*this, trail.pieces_);
  return at_side(run.pose(run.drawing_in(1, tow_m_)).pose.axes);
}

BoxPose TowSweep::pose(const Trail& trail, GripId at) const {
  if (trail.axes_) return {graph_.body_point(at), *trail.axes_};
  if (trail.is_empty()) {
    const Grip& grip = graph_.grip(at);
    const auto [first, last] = graph_.grips_of(grip.rail);
    Vec3 along = any_perpendicular(grip.outward);
    for (const std::uint32_t neighbour : {at.value + 1, at.value - 1})
      if (neighbour >= first && neighbour < last) {
        const Headings headings = headings_of(grip, graph_.grip(GripId(neighbour)));
        if (!headings.is_free) along = headings.start;
      }
    return body_frame(graph_.body_point(at), along, grip.outward, Vec3::Zero());
  }
  const Run run(*this, trail.pieces_);
  const double end_m = run.length_m(), load_m = std::max(0.0, end_m - tow_m_);
  return run.pose({load_m, end_m, load_m, end_m, 0, 0}).pose;
}

}  // namespace holdfast::graph
