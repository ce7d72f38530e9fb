// SPDX-License-Identifier: GPL-3.0-or-later
#include <algorithm>
#include <cmath>
#include <set>

#include "line_impl.h"
#include "motion_impl.h"

namespace holdfast::cable::detail {

using model::Configuration;
using model::PartId;
using model::Pose;

namespace {

bool is_same(const Pose& a, const Pose& b) { return a.matrix().isApprox(b.matrix(), 1e-9); }

}  // namespace

Motion::Motion(const geometry::Scene& scene, const SpanRules& rules)
    : scene_(scene), structure_(scene.structure()), rules_(rules), body_(structure_.parts.size(), 0) {
  bool is_one_absent = false;
  std::size_t bodies = 1;
  for (std::size_t p = 0; p < body_.size(); ++p) {
    const PartId part(p);
    all_.push_back(part);
    is_one_absent = is_one_absent || !structure_.is_present(part, scene.configuration());
    if (structure_.parts[p].articulated_by.empty()) continue;
    const auto moves_with = [&](const Part& other) {
      const auto relative = [&](const Configuration& c) { return Pose(pose(other, c).inverse() * pose(part, c)); };
      const auto positions = positions_of({part, other});
      return std::all_of(positions.begin(), positions.end(),
                         [&](const auto& c) { return is_same(relative(c), relative(positions.front())); });
    };
    if (moves_with(std::nullopt)) continue;
    has_moving_parts_ = true;
    for (std::size_t other = 0; other < p && body_[p] == 0; ++other)
      if (body_[other] != 0 && moves_with(PartId(other))) body_[p] = body_[other];
    if (body_[p] == 0) body_[p] = bodies++;
  }
  if (!is_one_absent || !has_moving_parts_) return;
  auto everything = std::make_unique<model::Structure>(structure_);
  for (auto& part : everything->parts) part.when = {};
  everything_ = std::move(everything);
  with_everything_.emplace(geometry::build_scene(*everything_, scene.configuration()));
}

Pose Motion::pose(const Part& part, const Configuration& configuration) const {
  return part ? structure_.pose(*part, configuration) : Pose::Identity();
}

std::vector<Configuration> Motion::positions_of(const std::vector<Part>& parts) const {
  std::set<std::string> switches;
  for (const auto& part : parts)
    if (part && !structure_.parts[part->index()].articulated_by.empty())
      switches.insert(structure_.parts[part->index()].articulated_by);
  std::vector<Configuration> all = {scene_.configuration()};
  for (const auto& s : structure_.switches) {
    if (!switches.contains(s.id)) continue;
    std::vector<Configuration> more;
    for (const auto& known : all)
      for (const auto& position : s.positions) {
        more.push_back(known);
        more.back().positions[s.id] = position;
      }
    all = std::move(more);
  }
  return all;
}

const std::vector<Motion::Shift>& Motion::shifts_of(const Held& held, PartId other) const {
  const std::lock_guard lock(known_);
  const auto [at, is_new] = shifts_.try_emplace({body(held.from), body(held.to), other});
  if (is_new) at->second = find_shifts(held, other);
  return at->second;
}

std::vector<Motion::Shift> Motion::find_shifts(const Held& held, PartId other) const {
  const Configuration& now = scene_.configuration();
  const auto& part = structure_.parts[other.index()];
  std::vector<Shift> shifts;
  for (const auto& c : positions_of({held.from, held.to, other})) {
    Shift shift;
    for (const auto& [id, position] : c.positions)
      if (position != now.positions.at(id)) shift.changed.positions[id] = position;
    shift.is_now = shift.changed.positions.empty();
    // Positions of other switches may be what it takes for the part to be there.
    const bool may_be_there = std::all_of(part.when.any_of.begin(), part.when.any_of.end(), [&](const auto& condition) {
      const auto& [id, positions] = condition;
      const bool is_fixed_here = shift.changed.positions.contains(id) || id == part.articulated_by;
      return !is_fixed_here || std::find(positions.begin(), positions.end(), c.positions.at(id)) != positions.end();
    });
    if (!may_be_there || (shift.is_now && !structure_.is_present(other, now))) continue;
    const Pose back = pose(other, now) * pose(other, c).inverse();
    shift.from = back * pose(held.from, c) * pose(held.from, now).inverse();
    shift.to = back * pose(held.to, c) * pose(held.to, now).inverse();
    const bool is_known = std::any_of(shifts.begin(), shifts.end(), [&](const Shift& known) {
      return is_same(known.from, shift.from) && is_same(known.to, shift.to);
    });
    if (!is_known) shifts.push_back(std::move(shift));
  }
  return shifts;
}

double Motion::own_distance(const Held& held, const Vec3& at, double cutoff_m) const {
  double least = cutoff_m;
  for (const auto part : all_)
    if (body(part) == body(held.from) || body(part) == body(held.to))
      least = std::min(least, scene_.distance_to_part(part, at, least));
  return least;
}

Motion::Comes Motion::look(const Held& held, PartId other, const Shift& shift) const {
  constexpr double finest_m = 0.002;
  const geometry::Scene& scene = with_everything_ ? *with_everything_ : scene_;
  const double length = length_of(held.line), apart = (shift.from.matrix() - shift.to.matrix()).norm();
  // Ends that move against each other: what is between them moves by its share.
  const auto moved = [&](const Vec3& p, double t) {
    return apart == 0 ? Vec3(shift.from * p) : Vec3((1 - t) * (shift.from * p) + t * (shift.to * p));
  };
  Comes comes = Comes::Nowhere;
  double before = 0;
  for (std::size_t i = 1; i < held.line.size() && comes != Comes::Into; ++i) {
    const Vec3 &a = held.line[i - 1], &b = held.line[i];
    const double piece = (b - a).norm();
    if (piece == 0) continue;
    // A metre of the line is drawn out to at most this many.
    double stretch = 1;
    if (apart > 0)
      for (const Vec3& p : {a, b})
        stretch = std::max(stretch, 1 + (Vec3(shift.from * p) - Vec3(shift.to * p)).norm() / length);
    const auto visit = [&](const auto& self, double t0, double t1) -> void {
      if (comes == Comes::Into) return;
      const double middle = (t0 + t1) / 2, near = (t1 - t0) / 2 * piece;
      const Vec3 at = a + (b - a) * middle;
      const double d = scene.distance_to_part(other, moved(at, (before + middle * piece) / length),
                                              rules_.lies_within_m + stretch * near) -
                       stretch * near;
      if (d >= rules_.lies_within_m) return;
      if (2 * near > finest_m) {
        self(self, t0, middle);
        self(self, middle, t1);
        return;
      }
      if (d < rules_.radius_m)
        comes = Comes::Into;
      else if (comes == Comes::Nowhere && d < own_distance(held, at, d + 2 * near) + near)
        comes = Comes::Under;
    };
    visit(visit, 0, 1);
    before += piece;
  }
  return comes;
}

double Motion::longest(const Held& held, const std::vector<Part>& moving) const {
  const Configuration& now = scene_.configuration();
  double longest = 0;
  for (const auto& c : positions_of(moving)) {
    std::vector<Vec3> line;
    for (std::size_t i = 0; i < held.line.size(); ++i) {
      const Part& on = i == 0 ? held.from : i + 1 == held.line.size() ? held.to : held.on[i - 1];
      line.emplace_back(pose(on, c) * pose(on, now).inverse() * held.line[i]);
    }
    longest = std::max(longest, length_of(line));
  }
  return longest;
}

JointCrossed Motion::find_joint(const Held& held) const {
  JointCrossed joint;
  if (!has_moving_parts_) return joint;
  const auto need_loop = [&](const Part& part) {
    if (body(part) == 0) return;
    const auto& loop = structure_.parts[part->index()].cable_loop_m;
    joint.is_stated = joint.is_stated && loop.has_value();
    joint.loop_m += loop.value_or(0);
    if (std::find(joint.parts.begin(), joint.parts.end(), *part) == joint.parts.end()) joint.parts.push_back(*part);
  };
  std::vector<Part> moving = {held.from, held.to};
  bool goes_over = false;
  for (const auto other : all_) {
    if (body(other) == body(held.from) || body(other) == body(held.to)) continue;
    bool is_under = false, is_under_now = false;
    std::optional<Configuration> into;
    for (const auto& shift : shifts_of(held, other)) {
      const Comes comes = look(held, other, shift);
      if (comes == Comes::Nowhere) continue;
      is_under = true;
      if (shift.is_now) is_under_now = true;
      if (comes == Comes::Into && !shift.is_now && !into) into = shift.changed;
    }
    if (!is_under) continue;
    if (into && !is_under_now) joint.moves_into.push_back({other, std::move(*into)});
    // Onto it and off again.
    need_loop(held.from), need_loop(other), need_loop(other), need_loop(held.to);
    moving.emplace_back(other);
    goes_over = true;
  }
  const bool is_joint = body(held.from) != body(held.to);
  if (is_joint && !goes_over) need_loop(held.from), need_loop(held.to);
  if (is_joint || goes_over)  // never less than the motion asks for
    joint.loop_m = std::max(joint.loop_m, longest(held, moving) - length_of(held.line));
  return joint;
}

}  // namespace holdfast::cable::detail
