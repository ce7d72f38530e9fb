// SPDX-License-Identifier: GPL-3.0-or-later
#include <algorithm>
#include <cmath>

#include "joints_impl.h"

namespace holdfast::rails::detail {

namespace {

constexpr double parallel = 0.966, upright = 0.26;  // cos 15 deg, cos 75 deg: between them one slants into the other
constexpr double ends_short_m = 0.06;               // of a member's axis, where its cap is seen
constexpr double hidden_m = 0.15;                   // where a node plate or the member it runs into hides its end
constexpr double same_place_m = 0.12;

bool is_straight(const Run& run) {
  return !run.is_ring && (run.line.back() - run.line.front()).norm() > 0.98 * length_of(run.line);
}

/// Which way an end points. A straight run's last samples may lean toward what it runs into: it points as a whole.
Vec3 points_to(const Run& run, int which) {
  constexpr double base_m = 0.15, long_enough_m = 0.3;
  if (is_straight(run) && length_of(run.line) > long_enough_m)
    return (end_of(run, which) - end_of(run, 1 - which)).normalized();
  return end_direction(run, which, base_m);
}

/// Where a straight piece from `p` by `d` comes nearest to a polyline (Ericson, Real-Time Collision Detection, 5.1.9).
Foot foot_of_piece(const std::vector<Vec3>& line, const Vec3& p, const Vec3& d) {
  Foot best;
  best.distance_m = std::numeric_limits<double>::infinity();
  double along = 0;
  for (std::size_t i = 0; i + 1 < line.size(); ++i) {
    const Vec3 v = line[i + 1] - line[i], w = p - line[i];
    const double a = d.squaredNorm(), b = d.dot(v), c = v.squaredNorm(), e = d.dot(w), f = v.dot(w);
    const double det = a * c - b * b;
    double s = det > 1e-12 * a * c ? std::clamp((b * f - c * e) / det, 0.0, 1.0) : 0;
    const double t = c > 0 ? std::clamp((b * s + f) / c, 0.0, 1.0) : 0;
    if (a > 0) s = std::clamp((b * t - e) / a, 0.0, 1.0);
    const Vec3 on_line = line[i] + t * v;
    const double distance = (p + s * d - on_line).norm();
    if (distance < best.distance_m) best = {distance, along + t * std::sqrt(c), i, on_line};
    along += std::sqrt(c);
  }
  return best;
}

/// A place of a run where it meets another: one of the two ends there.
struct Contact {
  double along_m = 0;
  std::size_t other = 0;
  int own_end = -1;  ///< of the run itself that is there; -1: only the other ends
  bool is_slanting = false, is_alongside = false;
  bool is_end_to_end = false;
};

class Framework {
 public:
  explicit Framework(std::vector<Run>& runs) : runs_(runs), contacts_(runs.size()) {
    for (const auto& run : runs_) {
      std::vector<Vec3> line;
      for (const auto i : simplify(run.line, 0.003)) line.push_back(run.line[i]);
      lines_.push_back(std::move(line));
    }
    for_each_pair(runs_, hidden_m, [&](std::size_t i, std::size_t k) {
      if (!may_meet(i) || !may_meet(k)) return;
      look(i, k), look(k, i), look_across(i, k);
    });
  }

  void mark_slanted() {
    for (std::size_t i = 0; i < runs_.size(); ++i) {
      auto& run = runs_[i];
      run.slants = places_slanted(contacts_[i]);
      if (run.slants < 2 || run.kind == RunKind::Post) continue;
      run.is_frame = true;
      if (run.kind == RunKind::Rail) run.kind = RunKind::Truss;
    }
    spread();
  }

  /// What neither a post nor a leg holds, and what ends on members of a truss or in nodes of bars like itself.
  void mark_unheld() {
    std::vector<std::size_t> becomes;  // all at once: what is bare does not hang on the order
    for (std::size_t i = 0; i < runs_.size(); ++i) {
      auto& run = runs_[i];
      if (!is_bare(i)) continue;
      const bool ends_on_frame = std::any_of(contacts_[i].begin(), contacts_[i].end(), [&](const Contact& contact) {
        return contact.own_end >= 0 && !contact.is_alongside && runs_[contact.other].is_frame;
      });
      const bool is_web = is_between(run) && std::any_of(contacts_[i].begin(), contacts_[i].end(), [&](const auto& c) {
                            return c.is_slanting && is_bare(c.other) && is_between(runs_[c.other]);
                          });
      if (ends_on_frame || is_web) becomes.push_back(i);
    }
    for (const auto i : becomes) runs_[i].kind = RunKind::Truss, runs_[i].is_frame = true;
    spread();
  }

 private:
  bool may_meet(std::size_t i) const { return !runs_[i].is_ring && !runs_[i].is_in_solid; }
  /// A straight bar that no post holds.
  bool is_bare(std::size_t i) const {
    return runs_[i].kind == RunKind::Rail && !runs_[i].has_post && is_straight(runs_[i]);
  }
  /// Both ends are in structure.
  static bool is_between(const Run& run) {
    return (run.on_body[0] || run.ends[0] == EndKind::Widens) && (run.on_body[1] || run.ends[1] == EndKind::Widens);
  }

  /// A hub or block, hardly longer than thick: it points nowhere.
  [[nodiscard]] bool is_block(std::size_t i) const {
    return runs_[i].kind == RunKind::Thick && length_of(lines_[i]) < 4 * runs_[i].r;
  }

  /// Ends of b at the line of a, or pointing at a node that both end short of.
  void look(std::size_t a, std::size_t b) {
    for (const int e : {0, 1}) {
      const auto& end = runs_[b];
      const bool is_hidden = !is_block(b) && (end.ends[static_cast<std::size_t>(e)] == EndKind::Widens ||
                                              end.on_body[static_cast<std::size_t>(e)]);
      const Vec3 d = points_to(end, e);
      auto line = lines_[a];
      if (is_hidden && is_straight(runs_[a]))  // a node beyond both ends
        line.front() -= hidden_m * (line[1] - line[0]).normalized(),
            line.back() += hidden_m * (line.back() - line[line.size() - 2]).normalized();
      const auto foot = foot_of_piece(line, end_of(end, e), (is_hidden ? hidden_m : ends_short_m) * d);
      if (foot.distance_m > touch_m(runs_[a], end)) continue;
      const double cosine = std::abs((line[foot.segment + 1] - line[foot.segment]).normalized().dot(d));
      const double length = length_of(line), at_end = 2 * touch_m(runs_[a], end) + (is_hidden ? hidden_m : 0);
      const bool is_at_first = foot.along_m<at_end, is_at_last = foot.along_m> length - at_end;
      Contact contact;
      contact.along_m = foot.along_m, contact.other = b;
      contact.is_slanting = cosine < parallel && cosine > upright, contact.is_alongside = cosine > 0.9;
      contact.is_end_to_end = is_at_first || is_at_last;
      contacts_[a].push_back(contact);
      contact.along_m = e == 0 ? 0 : length_of(lines_[b]), contact.other = a, contact.own_end = e;
      contacts_[b].push_back(contact);
    }
  }

  /// Braces that cross each other.
  void look_across(std::size_t a, std::size_t b) {
    if (!is_straight(runs_[a]) || !is_straight(runs_[b])) return;
    const Vec3 u = lines_[a].back() - lines_[a].front();
    const auto foot = foot_of_piece(lines_[b], lines_[a].front(), u);
    if (foot.distance_m > runs_[a].r + runs_[b].r + 0.01) return;
    const Vec3 v = lines_[b].back() - lines_[b].front();
    const double cosine = std::abs(u.normalized().dot(v.normalized()));
    if (cosine >= parallel) return;
    const double on_a = foot_on_line(lines_[a], foot.point).along_m, end_m = 2 * touch_m(runs_[a], runs_[b]);
    if (on_a < end_m || on_a > u.norm() - end_m || foot.along_m < end_m || foot.along_m > v.norm() - end_m) return;
    Contact contact;
    contact.is_slanting = cosine > upright;
    contact.along_m = on_a, contact.other = b;
    contacts_[a].push_back(contact);
    contact.along_m = foot.along_m, contact.other = a;
    contacts_[b].push_back(contact);
  }

  /// A place counts where something slants and it is no mere corner of two rails.
  /// Posts tell nothing: one stands where two rails meet at a corner.
  [[nodiscard]] std::size_t places_slanted(std::vector<Contact> list) const {
    std::erase_if(list, [&](const Contact& contact) { return runs_[contact.other].kind == RunKind::Post; });
    std::sort(list.begin(), list.end(), [](const Contact& x, const Contact& y) { return x.along_m < y.along_m; });
    std::size_t places = 0;
    for (std::size_t from = 0, to = 0; from < list.size(); from = to) {
      bool slants = false, is_corner = true;
      for (to = from; to < list.size() && list[to].along_m - list[from].along_m < same_place_m; ++to) {
        slants = slants || list[to].is_slanting;
        is_corner = is_corner && list[to].is_end_to_end && list[to].other == list[from].other;
      }
      if (slants && !is_corner) ++places;
    }
    return places;
  }

  /// What runs from structure to structure, one of them a member, is one too: a batten, or a diagonal whose nodes
  /// nothing else meets.
  void spread() {
    for (bool is_changed = true; is_changed;) {
      is_changed = false;
      for (std::size_t i = 0; i < runs_.size(); ++i) {
        if (is_structure(runs_[i].kind) || runs_[i].is_ring) continue;
        std::array<bool, 2> meets = runs_[i].on_body, meets_frame{};
        for (const auto& contact : contacts_[i]) {
          const auto& other = runs_[contact.other];
          if (contact.own_end < 0 || contact.is_alongside || !is_structure(other.kind)) continue;
          const auto e = static_cast<std::size_t>(contact.own_end);
          meets[e] = true;
          if (other.is_frame) meets_frame[e] = true;
        }
        if (!meets[0] || !meets[1] || (!meets_frame[0] && !meets_frame[1])) continue;
        runs_[i].kind = RunKind::Truss, runs_[i].is_frame = true;
        is_changed = true;
      }
    }
  }

  std::vector<Run>& runs_;
  std::vector<std::vector<Contact>> contacts_;
  std::vector<std::vector<Vec3>> lines_;  ///< simplified
};

}  // namespace

void find_truss_members(std::vector<Run>& runs) { Framework(runs).mark_slanted(); }
void find_unheld_members(std::vector<Run>& runs) { Framework(runs).mark_unheld(); }

}  // namespace holdfast::rails::detail
