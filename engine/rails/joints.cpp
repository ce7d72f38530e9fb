// SPDX-License-Identifier: GPL-3.0-or-later
#include "joints_impl.h"

#include <algorithm>
#include <cmath>
#include <numeric>

namespace holdfast::rails::detail {

namespace {

constexpr double longest_post_m = 1.5;    // a guard rail's posts are about 1.1 m: common practice, no source
constexpr double standing_gap_m = 0.02;   // a foot this near the surface stands on it
constexpr double sees_structure_m = 1.6;  // a little above what a post bridges
const double cos_45 = std::sqrt(0.5);

template <class Takes>
std::vector<std::uint32_t> those(std::size_t count, Takes&& takes) {
  std::vector<std::uint32_t> out;
  for (std::uint32_t t = 0; t < count; ++t)
    if (takes(t)) out.push_back(t);
  return out;
}

/// Three directions along no axis, to a point outside of all.
std::array<Vec3, 3> far_points(const Vec3& p, double size) {
  static const std::array<Vec3, 3> directions = {Vec3(0.5377, 0.8339, -0.1225).normalized(),
                                                 Vec3(-0.8622, 0.3188, 0.3937).normalized(),
                                                 Vec3(0.2259, -0.4337, 0.8722).normalized()};
  return {p + 1.1 * size * directions[0], p + 1.1 * size * directions[1], p + 1.1 * size * directions[2]};
}
/// True where most lines to the outside meet the surface an odd number of times.
bool is_enclosed(const Vec3& p, double size, const TriangleTree& tree) {
  int odd = 0;
  for (const auto& far : far_points(p, size)) odd += tree.find_crossings(p, far).size() % 2 == 1 ? 1 : 0;
  return odd >= 2;
}

}  // namespace

Vec3 end_direction(const Run& run, int which, double base_m) {
  const auto n = run.line.size();
  const Vec3 end = end_of(run, which);
  Vec3 from = end;
  for (std::size_t i = 1; i < n && (end - from).norm() < base_m; ++i)
    from = which == 0 ? run.line[i] : run.line[n - 1 - i];
  return (end - from).norm() > 0 ? Vec3((end - from).normalized()) : Vec3::UnitX();
}

Body::Body(const TriangleMesh& mesh, const std::vector<bool>& is_left_out)
    : mesh_(mesh), tree_(mesh, those(mesh.triangles.size(), [&](std::uint32_t t) { return !is_left_out[t]; })) {
  geometry::Bounds bounds;
  for (const auto& v : mesh.vertices) bounds.extend(v);
  size_ = mesh.vertices.empty() ? 0 : (bounds.max - bounds.min).norm();
}

std::optional<TriangleTree> find_closed(const Prepared& prepared, const std::vector<bool>& is_left_out) {
  if (std::find(prepared.is_open.begin(), prepared.is_open.end(), true) == prepared.is_open.end()) return std::nullopt;
  return TriangleTree(prepared.mesh, those(prepared.mesh.triangles.size(),
                                           [&](std::uint32_t t) { return !is_left_out[t] && !prepared.is_open[t]; }));
}

Vec3 Body::normal(std::uint32_t triangle) const {
  const auto& c = mesh_.triangles[triangle];
  return (mesh_.vertices[c[1]] - mesh_.vertices[c[0]]).cross(mesh_.vertices[c[2]] - mesh_.vertices[c[0]]).normalized();
}

void Body::add_bar(const std::vector<std::uint32_t>& triangles, std::vector<Vec3> line) {
  for (const auto t : triangles) bar_of_.try_emplace(t, bars_.size());
  bars_.push_back(std::move(line));
}

const std::vector<Vec3>* Body::find_bar(std::uint32_t triangle) const {
  const auto found = bar_of_.find(triangle);
  return found == bar_of_.end() ? nullptr : &bars_[found->second];
}

bool Body::is_inside(const Vec3& p) const { return is_enclosed(p, size_, tree_); }

Side Body::side_of(const Vec3& p, const std::optional<TriangleTree>& closed) const {
  if (!is_inside(p)) return Side::Outside;
  return !closed || is_enclosed(p, size_, *closed) ? Side::Inside : Side::Unclear;
}

Vec3 tangent(const std::vector<Vec3>& line, std::size_t i, bool is_ring) {
  const std::size_t n = line.size();
  if (n < 2) return Vec3::UnitX();
  std::size_t from = i > 0 ? i - 1 : 0, to = std::min(i + 1, n - 1);
  if (is_ring && i == 0) from = n - 2;
  if (is_ring && i == n - 1) to = 1;
  const Vec3 d = line[to] - line[from];
  return d.norm() > 0 ? Vec3(d.normalized()) : Vec3::UnitX();
}

std::vector<Run> runs_of(const std::vector<Tube>& tubes, const Body& body, const std::optional<TriangleTree>& closed) {
  constexpr double through_m = 0.15;  // a bracket or plate that a rail passes through
  constexpr double foot_m = 0.05;     // past an open surface, what is no longer is the foot
  std::vector<Run> runs;
  for (const auto& tube : tubes) {
    Run whole;
    whole.line = points_of(tube), whole.is_ring = tube.is_ring, whole.r = tube.r, whole.ends = tube.ends;
    whole.triangles = tube.triangles;
    // Where the line meets the surface, as lengths along it; between two such it is inside or outside throughout.
    std::vector<double> cuts = {0};
    std::vector<Vec3> simple;
    for (const auto i : simplify(whole.line, 0.001)) simple.push_back(whole.line[i]);
    double along = 0;
    for (std::size_t i = 0; i + 1 < simple.size(); ++i) {
      const double l = (simple[i + 1] - simple[i]).norm();
      for (const double t : body.find_crossings(simple[i], simple[i + 1])) cuts.push_back(along + t * l);
      along += l;
    }
    cuts.push_back(along);
    if (cuts.size() == 2 || tube.is_ring) {
      runs.push_back(std::move(whole));
      continue;
    }
    const auto at = [&](double s) {
      double gone = 0;
      for (std::size_t i = 0; i + 1 < simple.size(); ++i) {
        const double l = (simple[i + 1] - simple[i]).norm();
        if (s <= gone + l || i + 2 == simple.size())
          return Vec3(simple[i] + std::clamp((s - gone) / std::max(l, 1e-12), 0.0, 1.0) * (simple[i + 1] - simple[i]));
        gone += l;
      }
      return simple.back();
    };
    std::vector<std::pair<double, double>> outside, unclear;
    for (std::size_t i = 0; i + 1 < cuts.size(); ++i) {
      if (cuts[i + 1] - cuts[i] < 1e-6) continue;
      const auto side = body.side_of(at((cuts[i] + cuts[i + 1]) / 2), closed);
      if (side == Side::Inside) continue;
      const bool is_end = i == 0 || i + 2 == cuts.size();
      if (side == Side::Unclear && is_end && cuts[i + 1] - cuts[i] < std::max(foot_m, 2 * tube.r)) continue;
      auto& list = side == Side::Unclear ? unclear : outside;
      if (!list.empty() && cuts[i] - list.back().second < through_m)
        list.back().second = cuts[i + 1];
      else
        list.emplace_back(cuts[i], cuts[i + 1]);
    }
    const auto is_short = [&](const auto& piece) { return piece.second - piece.first < 2 * tube.r; };
    std::erase_if(outside, is_short);
    std::erase_if(unclear, is_short);
    std::erase_if(unclear, [&](const auto& piece) {  // what the rest passes through
      return std::any_of(outside.begin(), outside.end(),
                         [&](const auto& o) { return o.first <= piece.first && piece.second <= o.second; });
    });
    if (outside.empty() && unclear.empty()) {
      whole.is_in_solid = true, whole.kind = RunKind::Thick;  // nothing is joined to it
      runs.push_back(std::move(whole));
      continue;
    }
    const std::size_t clear = outside.size();
    outside.insert(outside.end(), unclear.begin(), unclear.end());
    for (std::size_t i = 0; i < outside.size(); ++i) {
      const auto [from, to] = outside[i];
      Run run = whole;
      run.is_side_unclear = i >= clear;
      run.line = {at(from)};
      double gone = 0;
      for (std::size_t k = 1; k + 1 < whole.line.size(); ++k) {
        gone += (whole.line[k] - whole.line[k - 1]).norm();
        if (gone > from + 1e-3 && gone < to - 1e-3) run.line.push_back(whole.line[k]);
      }
      run.line.push_back(at(to));
      if (from > 0) run.on_body[0] = true;
      if (to < along) run.on_body[1] = true;
      runs.push_back(std::move(run));
    }
  }
  return runs;
}

void find_posts(std::vector<Run>& runs, const Body& body) {
  for (auto& run : runs) {
    if (run.is_ring || run.kind != RunKind::Rail) continue;
    for (const int e : {0, 1})
      if (!run.on_body[static_cast<std::size_t>(e)])
        run.on_body[static_cast<std::size_t>(e)] =
            body.find_nearest(end_of(run, e), standing_gap_m).has_value() || body.is_inside(end_of(run, e));
    if (!run.on_body[0] && !run.on_body[1]) continue;
    const std::size_t n = run.line.size();
    // Where the nearest structure lies along the line toward a foot, the line stands up from there.
    std::vector<bool> stands(n), stands_on_first(n), stands_on_last(n);
    for (std::size_t i = 0; i < n; ++i) {
      const auto near = body.find_nearest(run.line[i], sees_structure_m);
      if (!near) continue;
      const double toward_last = (near->point - run.line[i]).normalized().dot(tangent(run.line, i, false));
      // Close to a welded foot the nearest surface is the rim round it, at a side.
      const bool is_at_foot = near->distance_m < standing_gap_m + 1.5 * run.r;
      stands_on_first[i] = run.on_body[0] && (is_at_foot || toward_last < -cos_45);
      stands_on_last[i] = run.on_body[1] && (is_at_foot || toward_last > cos_45);
      stands[i] = stands_on_first[i] || stands_on_last[i];
    }
    const bool is_straight = (run.line.back() - run.line.front()).norm() > 0.98 * length_of(run.line);
    double standing = 0;
    for (std::size_t i = 0; i + 1 < n; ++i)
      if (stands[i] && stands[i + 1]) standing += (run.line[i + 1] - run.line[i]).norm();
    const double length = length_of(run.line);
    if (is_straight) {
      if (run.on_body[0] != run.on_body[1] && length <= longest_post_m && standing > 0.6 * length)
        run.kind = RunKind::Post;
      continue;
    }
    std::size_t first = 0, last = n - 1;
    if (run.on_body[0])
      while (first < last && stands_on_first[first]) ++first;
    if (run.on_body[1])
      while (last > first && stands_on_last[last]) --last;
    // Beside a wall the nearest structure does not tell: what is upright on its ground stands on it as far as it is.
    const auto upright = [&](int foot) {
      const auto ground = body.find_nearest(end_of(run, foot), standing_gap_m + run.r);
      const Vec3 down = end_direction(run, foot);
      std::size_t steps = 0;
      if (ground && std::abs(body.normal(ground->triangle).dot(down)) > cos_45)
        while (steps + 1 < n &&
               std::abs(tangent(run.line, foot == 0 ? steps : n - 1 - steps, false).dot(down)) > cos_45)
          ++steps;
      const std::vector<Vec3> leg =
          foot == 0 ? std::vector<Vec3>(run.line.begin(), run.line.begin() + static_cast<std::ptrdiff_t>(steps) + 1)
                    : std::vector<Vec3>(run.line.end() - static_cast<std::ptrdiff_t>(steps) - 1, run.line.end());
      return length_of(leg) > std::min(longest_post_m, 0.4 * length) ? 0 : steps;
    };
    if (run.on_body[0]) first = std::max(first, upright(0));
    if (run.on_body[1]) last = std::min(last, n - 1 - upright(1));
    if (first >= last) continue;
    constexpr double bent = 0.82;  // cos 35 deg: else the run only butts against something
    const auto is_leg = [&](std::size_t foot, std::size_t top) {
      return std::abs(tangent(run.line, foot, false).dot(tangent(run.line, top, false))) < bent;
    };
    if (first > 0 && !is_leg(0, first)) first = 0;
    if (last < n - 1 && !is_leg(n - 1, last)) last = n - 1;
    if (first == 0 && last == n - 1) continue;
    run.has_post = true;
    if (first > 0) run.on_body[0] = false;
    if (last < n - 1) run.on_body[1] = false;
    run.line = {run.line.begin() + static_cast<std::ptrdiff_t>(first),
                run.line.begin() + static_cast<std::ptrdiff_t>(last) + 1};
  }
  // Beside a wall the nearest structure does not tell: what stands upright on its foot and holds a longer run is a
  // post.
  const auto holds = [&](Run& post, const Run& run) {
    if (post.kind != RunKind::Rail || run.kind != RunKind::Rail || post.is_ring || post.on_body[0] == post.on_body[1])
      return;
    const double length = length_of(post.line);
    if (length > longest_post_m || length > length_of(run.line) ||
        (post.line.back() - post.line.front()).norm() < 0.98 * length)
      return;
    const int foot = post.on_body[0] ? 0 : 1, top = 1 - foot;
    const auto at = foot_on_line(run.line, end_of(post, top));
    if (at.distance_m > touch_m(run, post)) return;
    if (std::abs(tangent(run.line, at.segment, false).dot(end_direction(post, top))) > cos_45) return;
    const auto ground = body.find_nearest(end_of(post, foot), standing_gap_m + post.r);
    if (ground && std::abs(body.normal(ground->triangle).dot(end_direction(post, foot))) > cos_45)
      post.kind = RunKind::Post;
  };
  for_each_pair(runs, 0.03, [&](std::size_t i, std::size_t k) { holds(runs[i], runs[k]), holds(runs[k], runs[i]); });
}

namespace {

struct End {
  std::size_t run;
  int which;
  bool operator==(const End&) const = default;
};

struct Meeting {
  End a, b;
  Vec3 at;
};

/// Where the lines of two ends meet; nothing when they pass each other or run side by side.
std::optional<Vec3> crossing_of(const Run& a, int ea, const Run& b, int eb) {
  const Vec3 p = end_of(a, ea), q = end_of(b, eb), u = end_direction(a, ea), v = end_direction(b, eb), w = p - q;
  const double reach = 2.5 * (a.r + b.r) + 0.03, dot = u.dot(v), miss = 0.6 * (a.r + b.r) + 0.004;
  if ((p - q).norm() > 1.5 * reach) return std::nullopt;
  if (dot < -0.94) {  // one goes on where the other ends
    const bool is_open =
        a.ends[static_cast<std::size_t>(ea)] == EndKind::Free && b.ends[static_cast<std::size_t>(eb)] == EndKind::Free;
    if ((w - w.dot(u) * u).norm() > 0.5 * std::max(a.r, b.r)) return std::nullopt;
    if ((p - q).norm() > (is_open ? 0.005 : reach)) return std::nullopt;
    return Vec3((p + q) / 2);
  }
  if (dot > 0.94) return std::nullopt;
  const double d = u.dot(w), e = v.dot(w), det = 1 - dot * dot;
  const double s = (dot * e - d) / det, t = (e - dot * d) / det;  // along u from p, along v from q
  if (std::abs(s) > reach || std::abs(t) > reach || s < -1.5 * (a.r + b.r) || t < -1.5 * (a.r + b.r))
    return std::nullopt;
  const Vec3 x = p + s * u, y = q + t * v;
  if ((x - y).norm() > miss) return std::nullopt;
  // Free ends meet only where they overlap: each reaches the other's surface.
  const bool is_open =
      a.ends[static_cast<std::size_t>(ea)] == EndKind::Free && b.ends[static_cast<std::size_t>(eb)] == EndKind::Free;
  if (is_open && (s > b.r * 1.5 + 0.005 || t > a.r * 1.5 + 0.005)) return std::nullopt;
  return Vec3((x + y) / 2);
}

void bring_to(Run& run, int which, const Vec3& at) {
  // Samples past the meeting point go; the point is the new end.
  const Vec3 d = end_direction(run, which);
  const auto is_past = [&](const Vec3& p) { return (p - at).dot(d) > -1e-4; };
  if (which == 0) {
    while (run.line.size() > 1 && is_past(run.line.front())) run.line.erase(run.line.begin());
    run.line.insert(run.line.begin(), at);
  } else {
    while (run.line.size() > 1 && is_past(run.line.back())) run.line.pop_back();
    run.line.push_back(at);
  }
}

}  // namespace

std::vector<std::size_t> find_thick_posts(const std::vector<Run>& runs) {
  std::vector<std::array<bool, 2>> holds(runs.size());
  for_each_pair(runs, 0.03, [&](std::size_t i, std::size_t k) {
    for (const auto& [post, rail] : {std::pair(i, k), std::pair(k, i)}) {
      if (runs[post].kind != RunKind::Thick || runs[post].is_frame || runs[post].is_ring || runs[post].is_in_solid)
        continue;
      const double length = length_of(runs[post].line);
      if (runs[rail].kind != RunKind::Rail || length > longest_post_m || length > length_of(runs[rail].line)) continue;
      for (const int e : {0, 1}) {
        const auto foot = foot_on_line(runs[rail].line, end_of(runs[post], e));
        if (foot.distance_m < touch_m(runs[rail], runs[post]) &&
            std::abs(tangent(runs[rail].line, foot.segment, false).dot(end_direction(runs[post], e))) < cos_45)
          holds[post][static_cast<std::size_t>(e)] = true;
      }
    }
  });
  std::vector<std::size_t> posts;
  for (std::size_t i = 0; i < runs.size(); ++i)
    if (holds[i][0] != holds[i][1]) posts.push_back(i);
  return posts;
}

bool stands_on(const Run& post, const Body& body) {
  for (const int e : {0, 1})
    if (body.find_nearest(end_of(post, e), standing_gap_m + post.r) || body.is_inside(end_of(post, e))) return true;
  return false;
}

namespace {

/// A straight post points as a whole: its last samples may lean in the joint.
Vec3 up_of(const Run& post, int top) {
  const Vec3 whole = end_of(post, top) - end_of(post, 1 - top);
  return whole.norm() > 0.98 * length_of(post.line) ? Vec3(whole.normalized()) : end_direction(post, top);
}

}  // namespace

void find_lone_posts(std::vector<Run>& runs) {
  constexpr double margin_m = 0.05;
  std::vector<std::vector<std::size_t>> near(runs.size());  // posts that come to each other
  std::vector<std::size_t> open;
  for (auto& run : runs) run.stands_alone = run.kind == RunKind::Post;
  const auto hold = [&](std::size_t post) {
    if (runs[post].stands_alone) runs[post].stands_alone = false, open.push_back(post);
  };
  for_each_pair(runs, margin_m, [&](std::size_t i, std::size_t k) {
    if (is_structure(runs[i].kind) || is_structure(runs[k].kind)) return;
    if (runs[i].kind != RunKind::Post && runs[k].kind != RunKind::Post) return;
    double distance = std::numeric_limits<double>::infinity();
    for (const auto& [a, b] : {std::pair(i, k), std::pair(k, i)})
      for (const auto& p : runs[a].line) distance = std::min(distance, distance_to_line(runs[b].line, p));
    if (distance > std::max(touch_m(runs[i], runs[k]), touch_m(runs[k], runs[i]))) return;
    if (runs[i].kind == RunKind::Post && runs[k].kind == RunKind::Post)
      near[i].push_back(k), near[k].push_back(i);
    else
      hold(runs[i].kind == RunKind::Post ? i : k);
  });
  while (!open.empty()) {
    const auto post = open.back();
    open.pop_back();
    for (const auto other : near[post]) hold(other);
  }
}

void mark_held(std::vector<Run>& runs) {
  for (auto& run : runs) run.stands.clear();
  for_each_pair(runs, 0.05, [&](std::size_t i, std::size_t k) {
    if (is_structure(runs[i].kind) || is_structure(runs[k].kind)) return;
    for (const auto& [post, rail] : {std::pair(i, k), std::pair(k, i)})
      if (runs[post].kind == RunKind::Post && runs[rail].kind == RunKind::Rail)
        for (const int e : {0, 1})
          if (distance_to_line(runs[rail].line, end_of(runs[post], e)) < touch_m(runs[rail], runs[post]) ||
              distance_to_line(runs[post].line, end_of(runs[rail], e)) < touch_m(runs[post], runs[rail]))
            runs[rail].has_post = true, runs[post].on_tube[static_cast<std::size_t>(e)] = true,
            runs[rail].stands.push_back(up_of(runs[post], e));
    // A post that a rail passes: neither's end is there.
    if ((runs[i].kind == RunKind::Post) != (runs[k].kind == RunKind::Post)) {
      const auto& post = runs[i].kind == RunKind::Post ? runs[i] : runs[k];
      auto& rail = runs[i].kind == RunKind::Post ? runs[k] : runs[i];
      for (const auto& p : post.line)
        if (distance_to_line(rail.line, p) < rail.r + post.r + 0.005) rail.has_post = true;
    }
  });
}

void join(std::vector<Run>& runs) {
  mark_held(runs);
  std::vector<Meeting> meetings;
  for (std::size_t i = 0; i < runs.size(); ++i)
    if (!runs[i].is_ring && runs[i].kind == RunKind::Rail && length_of(runs[i].line) > 0.3)
      if (const auto at = crossing_of(runs[i], 0, runs[i], 1)) meetings.push_back({{i, 0}, {i, 1}, *at});
  for_each_pair(runs, 0.05, [&](std::size_t i, std::size_t k) {
    if (is_structure(runs[i].kind) || is_structure(runs[k].kind)) return;
    if (runs[i].kind != RunKind::Rail || runs[k].kind != RunKind::Rail || runs[i].is_ring || runs[k].is_ring) return;
    if (runs[i].is_side_unclear != runs[k].is_side_unclear) return;  // one tube, on both sides of an open surface
    for (const int a : {0, 1})
      for (const int b : {0, 1})
        if (const auto at = crossing_of(runs[i], a, runs[k], b)) meetings.push_back({{i, a}, {k, b}, *at});
  });
  std::sort(meetings.begin(), meetings.end(), [](const Meeting& x, const Meeting& y) {
    return std::tuple(x.a.run, x.a.which, x.b.run, x.b.which) < std::tuple(y.a.run, y.a.which, y.b.run, y.b.which);
  });
  const auto count = [&](const End& end) {
    return std::count_if(meetings.begin(), meetings.end(), [&](const Meeting& m) { return m.a == end || m.b == end; });
  };
  // Ends brought together; those where just two meet are joined below.
  std::vector<Meeting> corners;
  for (const auto& m : meetings) {
    runs[m.a.run].on_tube[static_cast<std::size_t>(m.a.which)] =
        runs[m.b.run].on_tube[static_cast<std::size_t>(m.b.which)] = true;
    if (count(m.a) == 1 && count(m.b) == 1) corners.push_back(m);
  }
  // Ends at the middle of another run: T joints.
  for_each_pair(runs, 0.03, [&](std::size_t i, std::size_t k) {
    for (const auto& [line, end] : {std::pair(i, k), std::pair(k, i)}) {
      if (runs[line].kind != RunKind::Rail || runs[end].kind != RunKind::Rail || runs[end].is_ring) continue;
      for (const int e : {0, 1}) {
        if (runs[end].on_tube[static_cast<std::size_t>(e)]) continue;
        const auto foot = foot_on_line(runs[line].line, end_of(runs[end], e));
        if (foot.distance_m > touch_m(runs[line], runs[end])) continue;
        const Vec3 d = end_direction(runs[end], e), u = tangent(runs[line].line, foot.segment, false);
        if (std::abs(d.dot(u)) > 0.9) continue;
        runs[end].on_tube[static_cast<std::size_t>(e)] = true;
        const Vec3 w = end_of(runs[end], e) - foot.point;
        const double dot = d.dot(u), s = (dot * u.dot(w) - d.dot(w)) / (1 - dot * dot);
        bring_to(runs[end], e, end_of(runs[end], e) + s * d);
      }
    }
  });
  for (const auto& m : corners) {
    bring_to(runs[m.a.run], m.a.which, m.at);
    bring_to(runs[m.b.run], m.b.which, m.at);
  }
  // Chains: each corner makes one run of two, or a ring of one.
  std::vector<std::size_t> now(runs.size());
  std::iota(now.begin(), now.end(), std::size_t{0});
  const auto holder = [&](std::size_t i) {
    while (now[i] != i) i = now[i];
    return i;
  };
  for (const auto& m : corners) {
    const auto i = holder(m.a.run), k = holder(m.b.run);
    constexpr double same_m = 1e-9;
    const auto which_end = [&](std::size_t run) { return (runs[run].line.front() - m.at).norm() <= same_m ? 0 : 1; };
    if (i == k) {
      runs[i].is_ring = true;
      continue;
    }
    Run &a = runs[i], &b = runs[k];
    if (which_end(i) == 0)
      std::reverse(a.line.begin(), a.line.end()), std::swap(a.on_body[0], a.on_body[1]),
          std::swap(a.on_tube[0], a.on_tube[1]), std::swap(a.ends[0], a.ends[1]);
    if (which_end(k) == 1)
      std::reverse(b.line.begin(), b.line.end()), std::swap(b.on_body[0], b.on_body[1]),
          std::swap(b.on_tube[0], b.on_tube[1]), std::swap(b.ends[0], b.ends[1]);
    const double la = length_of(a.line), lb = length_of(b.line);
    a.r = (a.r * la + b.r * lb) / std::max(la + lb, 1e-9);
    a.line.insert(a.line.end(), b.line.begin() + 1, b.line.end());
    a.on_body[1] = b.on_body[1], a.on_tube[1] = b.on_tube[1], a.ends[1] = b.ends[1];
    a.has_post = a.has_post || b.has_post;
    a.is_side_unclear = a.is_side_unclear || b.is_side_unclear;
    a.stands.insert(a.stands.end(), b.stands.begin(), b.stands.end());
    a.triangles.insert(a.triangles.end(), b.triangles.begin(), b.triangles.end());
    b.line.clear();
    now[k] = i;
  }
  std::erase_if(runs, [](const Run& run) { return run.line.size() < 2; });
  for (auto& run : runs) {
    std::sort(run.triangles.begin(), run.triangles.end());
    run.triangles.erase(std::unique(run.triangles.begin(), run.triangles.end()), run.triangles.end());
  }
}

}  // namespace holdfast::rails::detail
