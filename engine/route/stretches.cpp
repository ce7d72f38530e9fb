// SPDX-License-Identifier: GPL-3.0-or-later
#include "stretches_impl.h"

#include <algorithm>
#include <limits>
#include <span>

namespace holdfast::route::detail {

using graph::HandrailGraph;
using model::PartId;
using model::PlaceId;

namespace {

// All of these are common practice, no source.
constexpr double own_sentence_m = 1.0;  // a side that is kept to for less is told with the one after it
constexpr double heading_m = 0.3;       // less than this has no direction worth a word
constexpr double landmark_m = 2.5;      // from the body axis: near enough to be looked at in passing
constexpr std::size_t most_landmarks = 2;

/// Rows one after the other on one side, or one row that goes from one side to another.
struct Run {
  std::size_t first, last;
  std::vector<Face> sides;
  double length_m;
  [[nodiscard]] bool is_long() const { return sides.size() == 1 && length_m >= own_sentence_m; }
};

class StretchFinder {
 public:
  StretchFinder(const HandrailGraph& graph, const Route& route) : graph_(graph), route_(route) {}

  std::vector<Stretch> find() {
    for (std::size_t leg = 0; leg < route_.legs.size(); ++leg) cut(leg);
    for (std::size_t s = 0; s < stretches_.size(); ++s) find_landmarks(s);
    return std::move(stretches_);
  }

 private:
  [[nodiscard]] bool has_swap(std::size_t leg, std::size_t row) const {
    if (!route_.tether) return false;
    const auto& swaps = route_.tether->swaps;
    return std::any_of(swaps.begin(), swaps.end(),
                       [&](const auto& swap) { return swap.leg == leg && swap.row == row; });
  }

  void cut(std::size_t leg) {
    const auto& rows = route_.legs[leg].rows;
    if (rows.size() == 1) return add(leg, 0, 0, {rows[0].face}, std::nullopt);
    for (std::size_t first = 1, end; first < rows.size(); first = end) {
      for (end = first + 1; end < rows.size() && rows[end].part == rows[first].part && !has_swap(leg, end - 1);) ++end;
      cut_visit(leg, first, end);
    }
  }

  /// Rows on one part. Long runs on different sides get a sentence each; short ones go with the long one after them.
  void cut_visit(std::size_t leg, std::size_t first, std::size_t end) {
    const auto& rows = route_.legs[leg].rows;
    std::vector<Run> runs;
    for (std::size_t r = first; r < end; ++r) {
      const Row& row = rows[r];
      if (row.face_from != row.face) {
        runs.push_back({r, r, {row.face_from, row.face}, row.distance_m});
      } else if (!runs.empty() && runs.back().sides == std::vector{row.face}) {
        runs.back().last = r, runs.back().length_m += row.distance_m;
      } else {
        runs.push_back({r, r, {row.face}, row.distance_m});
      }
    }
    std::size_t begin = 0;
    std::optional<std::size_t> last_long;
    double between_m = 0;
    for (std::size_t i = 0; i < runs.size(); ++i) {
      if (!runs[i].is_long()) {
        between_m += runs[i].length_m;
        continue;
      }
      const bool is_apart = last_long && (runs[*last_long].sides != runs[i].sides || between_m >= own_sentence_m);
      if (is_apart) add_runs(leg, {runs.data() + begin, *last_long + 1 - begin}), begin = *last_long + 1;
      last_long = i, between_m = 0;
    }
    add_runs(leg, {runs.data() + begin, runs.size() - begin});
  }

  void add_runs(std::size_t leg, std::span<const Run> runs) {
    std::vector<Face> sides;
    std::optional<std::pair<std::size_t, std::size_t>> along;  // rows over which a heading is told
    for (const Run& run : runs)
      for (const Face side : run.sides)
        if (sides.empty() || sides.back() != side) sides.push_back(side);
    // A short detour to a neighbouring side and back is not worth a word; all the way round is.
    const bool has_long = std::any_of(runs.begin(), runs.end(), [](const Run& run) { return run.is_long(); });
    const bool is_near = std::all_of(sides.begin(), sides.end(), [&](Face side) {
      return direction_of(side).dot(direction_of(sides.front())) > 0.5 - 1e-6;
    });
    if (has_long && is_near && sides.front() == sides.back()) sides.resize(1);
    if (sides.size() == 1)
      along.emplace(runs.front().first, runs.back().last);
    else if (runs.back().is_long())
      along.emplace(runs.back().first, runs.back().last);
    add(leg, runs.front().first, runs.back().last, std::move(sides), along);
  }

  void add(std::size_t leg, std::size_t first, std::size_t last, std::vector<Face> sides,
           const std::optional<std::pair<std::size_t, std::size_t>>& along) {
    const auto& rows = route_.legs[leg].rows;
    Stretch stretch{.leg = leg,
                    .first_row = first == 1 ? 0 : first,
                    .last_row = last,
                    .part = rows[last].part,
                    .sides = std::move(sides),
                    .heading = std::nullopt,
                    .landmarks = {}};
    if (first > 1) stretch.turn_rad = rows[first].kind == RowKind::Along ? 0 : rows[first].turn_rad;
    for (std::size_t r = first; r <= last; ++r)
      stretch.distance_m += rows[r].distance_m, stretch.moves += rows[r].moves;
    if (along) {
      // From the first hold on this part; where that is the only one, from the hold before.
      const auto& poses = route_.legs[leg].poses;
      const std::size_t from = pose_after(leg, along->first - 1), to = pose_after(leg, along->second);
      for (const std::size_t start : {std::min(from + 1, to), from}) {
        const Vec3 gone = poses[to].hand - poses[start].hand;
        if (gone.norm() < heading_m) continue;
        stretch.heading = face_of(gone.normalized());
        break;
      }
    }
    stretches_.push_back(std::move(stretch));
  }

  /// Index of the pose in which a row ends.
  [[nodiscard]] std::size_t pose_after(std::size_t leg, std::size_t row) const {
    const auto& rows = route_.legs[leg].rows;
    std::size_t moves = 0;
    for (std::size_t r = 0; r <= row; ++r) moves += rows[r].moves;
    return moves;
  }

  // ---- what is passed ---------------------------------------------------------------------------------------------

  struct Passed {
    Landmark landmark;
    std::size_t pose;
  };

  void find_landmarks(std::size_t index) {
    Stretch& stretch = stretches_[index];
    if (stretch.moves == 0) return;
    const std::size_t first = stretch.first_row == 0 ? 0 : pose_after(stretch.leg, stretch.first_row - 1);
    const std::size_t last = pose_after(stretch.leg, stretch.last_row);
    std::vector<Passed> passed;
    const auto& structure = graph_.structure();
    const auto& configuration = graph_.scene().configuration();
    for (std::size_t p = 0; p < structure.parts.size(); ++p) {
      const PartId part(p);
      if (!structure.is_present(part, configuration) || is_part_near(index, part)) continue;
      if (auto found = find_part(stretch.leg, first, last, part)) passed.push_back(*found);
    }
    for (std::size_t p = 0; p < structure.places.size(); ++p) {
      const auto& place = structure.places[p];
      const auto& leg = route_.legs[stretch.leg];
      if (!structure.is_present(place, configuration) || place.id == leg.from || place.id == leg.to) continue;
      if (auto found = find_place(stretch.leg, first, last, PlaceId(p))) passed.push_back(*found);
    }
    std::stable_sort(passed.begin(), passed.end(), [](const Passed& x, const Passed& y) {
      return x.landmark.distance_m < y.landmark.distance_m - 1e-9;
    });
    if (passed.size() > most_landmarks) passed.erase(passed.begin() + most_landmarks, passed.end());
    std::stable_sort(passed.begin(), passed.end(), [](const Passed& x, const Passed& y) { return x.pose < y.pose; });
    for (Passed& each : passed) stretch.landmarks.push_back(each.landmark);
  }

  /// Parts that the leg goes along are named by that, and what was told the sentence before is known.
  [[nodiscard]] bool is_part_near(std::size_t index, PartId part) const {
    const std::size_t leg = stretches_[index].leg;
    if (std::any_of(stretches_.begin(), stretches_.end(),
                    [&](const Stretch& each) { return each.leg == leg && each.part == part; }))
      return true;
    if (index == 0) return false;
    const auto& before = stretches_[index - 1].landmarks;
    return std::any_of(before.begin(), before.end(), [&](const Landmark& landmark) { return landmark.part == part; });
  }

  /// Nearest approach of the body to a part in sight, where the part lies to a side of the path rather than ahead or
  /// behind.
  [[nodiscard]] std::optional<Passed> find_part(std::size_t leg, std::size_t first, std::size_t last,
                                                PartId part) const {
    const auto& poses = route_.legs[leg].poses;
    const auto& scene = graph_.scene();
    constexpr double looked_for_m = 4 * landmark_m;
    std::optional<std::pair<geometry::Nearest, std::size_t>> least;
    double skip_m = 0;  // how far the body may go before the part can be near
    for (std::size_t p = first; p <= last; ++p) {
      if (p > first) skip_m -= (poses[p].body - poses[p - 1].body).norm();
      if (skip_m > 0) continue;
      const double cutoff_m = least ? least->first.distance_m : looked_for_m;
      const auto nearest = scene.find_nearest_on_part(part, poses[p].body, cutoff_m);
      const double distance_m = nearest ? nearest->distance_m : cutoff_m;
      skip_m = distance_m - landmark_m;
      if (nearest && distance_m > 0 && distance_m <= landmark_m && (!least || distance_m < cutoff_m - 1e-9))
        least.emplace(*nearest, p);
    }
    if (!least) return std::nullopt;
    const auto& [nearest, at] = *least;
    return pass(leg, first, last, at, nearest.point, {.part = part, .place = std::nullopt});
  }

  [[nodiscard]] std::optional<Passed> find_place(std::size_t leg, std::size_t first, std::size_t last,
                                                 PlaceId id) const {
    const auto& place = graph_.structure().places[id.index()];
    const auto& poses = route_.legs[leg].poses;
    const Vec3 at =
        place.part ? graph_.structure().pose(*place.part, graph_.scene().configuration()) * place.at : place.at;
    std::optional<std::size_t> nearest;
    double least_m = landmark_m;
    for (std::size_t p = first; p <= last; ++p) {
      if ((poses[p].hand - at).norm() > place.within_m) continue;
      if (const double distance_m = (poses[p].body - at).norm(); distance_m < least_m)
        least_m = distance_m, nearest = p;
    }
    if (!nearest) return std::nullopt;
    return pass(leg, first, last, *nearest, at, {.part = std::nullopt, .place = id});
  }

  [[nodiscard]] std::optional<Passed> pass(std::size_t leg, std::size_t first, std::size_t last, std::size_t at,
                                           const Vec3& point, Landmark landmark) const {
    const auto& poses = route_.legs[leg].poses;
    const Vec3 away = poses[at].body - point;
    landmark.distance_m = away.norm();
    if (landmark.distance_m < 1e-6) return std::nullopt;
    const Vec3 side = away / landmark.distance_m;
    const std::size_t before = std::max(first, at == 0 ? 0 : at - 1), after = std::min(last, at + 1);
    const Vec3 path = poses[after].body - poses[before].body;
    constexpr double abeam = 0.7071;  // at most 45 deg off square to the path
    if (path.norm() > 1e-6) {
      const double ahead = -side.dot(path.normalized());
      // Nearest where the stretch begins or ends: already behind there, or still ahead.
      if (std::abs(ahead) > abeam || (at == first && ahead < -1e-6) || (at == last && ahead > 1e-6))
        return std::nullopt;
    }
    constexpr double off_surface_m = 0.02;
    if (landmark.part && landmark.distance_m > 2 * off_surface_m &&
        graph_.scene().is_segment_blocked(poses[at].body, point + off_surface_m * side))
      return std::nullopt;
    landmark.side = face_of(side);
    return Passed{landmark, at};
  }

  const HandrailGraph& graph_;
  const Route& route_;
  std::vector<Stretch> stretches_;
};

}  // namespace

std::vector<Stretch> find_stretches(const HandrailGraph& graph, const Route& route) {
  return StretchFinder(graph, route).find();
}

}  // namespace holdfast::route::detail
