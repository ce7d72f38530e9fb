// SPDX-License-Identifier: GPL-3.0-or-later
#include <tbb/blocked_range.h>
#include <tbb/parallel_for.h>

#include <algorithm>
#include <cmath>
#include <numbers>
#include <unordered_map>

#include "direction_impl.h"
#include "holdfast/graph/handrail_graph.h"
#include "judge_impl.h"
#include "kept_graph_impl.h"
#include "stations_impl.h"
#include "way_impl.h"
#include "zone_impl.h"

namespace holdfast::graph {

namespace {

using model::Pose;
using model::RailId;

/// Runs `work(i, out)` for every i in [0, count) on all cores and concatenates what each wrote, in order of i.
template <class T, class Work>
std::vector<T> collect_in_order(std::size_t count, Work&& work) {
  constexpr std::size_t chunk = 256;
  const std::size_t chunks = (count + chunk - 1) / chunk;
  std::vector<std::vector<T>> parts(chunks);
  tbb::parallel_for(std::size_t{0}, chunks, [&](std::size_t c) {
    for (std::size_t i = c * chunk; i < std::min(count, (c + 1) * chunk); ++i) work(i, parts[c]);
  });
  std::size_t total = 0;
  for (const auto& part : parts) total += part.size();
  std::vector<T> all;
  all.reserve(total);
  for (const auto& part : parts) all.insert(all.end(), part.begin(), part.end());
  return all;
}

}  // namespace

Body body_of(const model::Suit& suit, const model::DesignValues& design) {
  return {.corridor_radius_m = suit.corridor_radius_m(),
          .stand_off_m = suit.stand_off_m,
          .reach_m = suit.reach_m,
          .turn_limit_rad = suit.turn_limit_rad,
          .lean_rad = suit.lean_rad,
          .glove_m = suit.glove_m,
          .spacing_m = design.grip_spacing_m};
}

class Builder {
 public:
  Builder(const geometry::Scene& scene, const Body& body) : scene_(scene) {
    graph_.scene_ = &scene;
    graph_.body_ = body;
  }

  /// From what it was once built as.
  HandrailGraph assemble(detail::GraphParts&& parts) && {
    graph_.grips_ = std::move(parts.grips), graph_.moves_ = std::move(parts.moves);
    graph_.adjacency_ = std::move(parts.adjacency);
    graph_.grip_zone_first_ = std::move(parts.grip_zones.first);
    graph_.grip_zones_ = std::move(parts.grip_zones.labels);
    graph_.move_zone_first_ = std::move(parts.move_zones.first);
    graph_.move_zones_ = std::move(parts.move_zones.labels);
    graph_.rail_first_ = std::move(parts.rail_first);
    graph_.hands_ = std::move(parts.hands);
    return std::move(graph_);
  }

  HandrailGraph build() && {
    sample_grips();
    choose_stances();
    find_moves();
    judge_moves();
    label_zones();
    return std::move(graph_);
  }

 private:
  const Body& body() const { return graph_.body_; }

  void sample_grips() {
    const auto& structure = scene_.structure();
    const auto& configuration = scene_.configuration();
    graph_.rail_first_.assign(structure.rails.size() + 1, 0);
    tangents_.clear();
    for (std::size_t r = 0; r < structure.rails.size(); ++r) {
      const auto& rail = structure.rails[r];
      graph_.rail_first_[r] = static_cast<std::uint32_t>(graph_.grips_.size());
      if (!rail.use.hands || !structure.is_present(RailId(r), configuration)) continue;
      const Pose pose = structure.pose(rail.part, configuration);
      const auto stations = detail::sample_stations(rail, pose, body().spacing_m);
      const bool automatic = rail.outward.empty();
      for (std::size_t direction = 0; direction < (automatic ? 1 : rail.outward.size()); ++direction)
        for (const auto& station : stations) {
          Grip grip;
          grip.rail = RailId(r);
          grip.direction = static_cast<std::uint32_t>(direction);
          grip.along_m = station.along_m;
          grip.hand = station.hand;
          if (!automatic) grip.outward = detail::given_outward(rail, direction, station, pose);
          graph_.grips_.push_back(grip);
          const std::size_t last = rail.points.size() - 1;
          tangents_.push_back(last == 0 ? Vec3(pose.linear().col(0))
                                        : Vec3(pose.linear() * (rail.points[std::min(station.piece + 1, last)] -
                                                                rail.points[std::min(station.piece, last - 1)])));
        }
    }
    graph_.rail_first_.back() = static_cast<std::uint32_t>(graph_.grips_.size());
    std::vector<Vec3> hands;
    for (const Grip& grip : graph_.grips_) hands.push_back(grip.hand);
    graph_.hands_ = std::make_shared<const geometry::PointTree>(std::move(hands));
    tbb::parallel_for(std::size_t{0}, graph_.grips_.size(), [&](std::size_t g) {
      auto& grip = graph_.grips_[g];
      const auto& rail = structure.rails[grip.rail.index()];
      if (rail.outward.empty()) grip.outward = detail::automatic_outward(scene_, rail, grip.hand);
    });
  }

  /// The least lean that gives the corridor radius; of equal lean the greater clearance, then the smaller azimuth,
  /// counted from the rail's direction. Where none gives it, the greatest clearance of all (for 'how wide is the
  /// widest').
  void choose_stances() {
    const double needed = body().corridor_radius_m - length_tolerance_m;
    const double cutoff = body().corridor_radius_m + clearance_headroom_m;
    tbb::parallel_for(std::size_t{0}, graph_.grips_.size(), [&](std::size_t g) {
      auto& grip = graph_.grips_[g];
      grip.stance = grip.outward;
      grip.clearance_lower_m = scene_.distance(grip.hand + body().stand_off_m * grip.outward, cutoff);
      if (grip.clearance_lower_m >= needed || body().lean_rad <= 0) return;
      Vec3 forward = tangents_[g] - tangents_[g].dot(grip.outward) * grip.outward;
      forward = forward.norm() > 1e-9 ? Vec3(forward.normalized()) : detail::any_perpendicular(grip.outward);
      const Vec3 side = grip.outward.cross(forward);
      constexpr int azimuths = 12;
      for (const double lean : {body().lean_rad / 2, body().lean_rad}) {
        for (int k = 0; k < azimuths; ++k) {
          const double azimuth = 2 * std::numbers::pi * k / azimuths;
          const Vec3 stance =
              std::cos(lean) * grip.outward + std::sin(lean) * (std::cos(azimuth) * forward + std::sin(azimuth) * side);
          const double clearance = scene_.distance(grip.hand + body().stand_off_m * stance, cutoff);
          // A nanometre keeps mirror-symmetric candidates equal, so that the azimuth decides, not rounding.
          if (clearance > grip.clearance_lower_m + 1e-9) grip.clearance_lower_m = clearance, grip.stance = stance;
        }
        if (grip.clearance_lower_m >= needed) return;
      }
    });
  }

  void find_moves() {
    // Cells as large as the reach: all partners of a grip lie in the 27 cells around it.
    const double cell = body().reach_m + length_tolerance_m;
    struct CellKey {
      std::int64_t x, y, z;
      bool operator==(const CellKey&) const = default;
    };
    struct CellHash {
      std::size_t operator()(const CellKey& k) const {
        return static_cast<std::size_t>(k.x * 73856093LL ^ k.y * 19349663LL ^ k.z * 83492791LL);
      }
    };
    const auto key_of = [&](const Vec3& p) {
      return CellKey{static_cast<std::int64_t>(std::floor(p.x() / cell)),
                     static_cast<std::int64_t>(std::floor(p.y() / cell)),
                     static_cast<std::int64_t>(std::floor(p.z() / cell))};
    };
    std::unordered_map<CellKey, std::vector<std::uint32_t>, CellHash> cells;
    const auto& grips = graph_.grips_;
    for (std::size_t g = 0; g < grips.size(); ++g)
      cells[key_of(grips[g].hand)].push_back(static_cast<std::uint32_t>(g));

    graph_.moves_ = collect_in_order<Move>(grips.size(), [&](std::size_t g, std::vector<Move>& out) {
      const std::size_t begin = out.size();
      const CellKey key = key_of(grips[g].hand);
      for (int dx = -1; dx <= 1; ++dx)
        for (int dy = -1; dy <= 1; ++dy)
          for (int dz = -1; dz <= 1; ++dz) {
            const auto found = cells.find({key.x + dx, key.y + dy, key.z + dz});
            if (found == cells.end()) continue;
            for (const std::uint32_t other : found->second) {
              if (other <= g) continue;
              const double gap = (grips[other].hand - grips[g].hand).norm();
              if (gap > body().reach_m + length_tolerance_m) continue;
              Move move;
              move.a = GripId(g), move.b = GripId(other);
              move.gap_m = gap;
              out.push_back(move);
            }
          }
      std::sort(out.begin() + static_cast<std::ptrdiff_t>(begin), out.end(),
                [](const Move& x, const Move& y) { return x.b < y.b; });
    });
    std::vector<std::pair<std::uint32_t, std::uint32_t>> ends;
    ends.reserve(graph_.moves_.size());
    for (const auto& move : graph_.moves_) ends.emplace_back(move.a.value, move.b.value);
    graph_.adjacency_ = build_adjacency(grips.size(), ends);
  }

  void judge_moves() {
    tbb::parallel_for(tbb::blocked_range<std::size_t>(0, graph_.moves_.size(), 64), [&](const auto& range) {
      for (std::size_t m = range.begin(); m < range.end(); ++m) {
        auto& move = graph_.moves_[m];
        detail::judge_move(scene_, body(), graph_.grip(move.a), graph_.grip(move.b), detail::Judging::UntilForbidden,
                           move);
      }
    });
  }

  void label_zones() {
    const auto& structure = scene_.structure();
    const auto fill = [&](std::size_t count, auto&& label_of, std::vector<std::uint32_t>& first,
                          std::vector<ZoneLabel>& labels) {
      struct Entry {
        std::uint32_t item;
        ZoneLabel label;
      };
      const auto entries = collect_in_order<Entry>(count, [&](std::size_t i, std::vector<Entry>& out) {
        for (std::size_t z = 0; z < structure.zones.size(); ++z)
          if (const auto label = label_of(i, model::ZoneId(z)); label.body || label.hands)
            out.push_back({static_cast<std::uint32_t>(i), label});
      });
      first.assign(count + 1, 0);
      labels.reserve(entries.size());
      for (const auto& entry : entries) ++first[entry.item + 1], labels.push_back(entry.label);
      for (std::size_t i = 0; i < count; ++i) first[i + 1] += first[i];
    };
    fill(
        graph_.grips_.size(),
        [&](std::size_t g, model::ZoneId zone) {
          const Grip& grip = graph_.grips_[g];
          return detail::label_stance(scene_, zone, grip.hand, grip.hand + body().stand_off_m * grip.stance,
                                      body().corridor_radius_m);
        },
        graph_.grip_zone_first_, graph_.grip_zones_);
    fill(
        graph_.moves_.size(),
        [&](std::size_t m, model::ZoneId zone) {
          const auto& move = graph_.moves_[m];
          return detail::label_move(scene_, zone, graph_.grip(move.a), graph_.grip(move.b), body());
        },
        graph_.move_zone_first_, graph_.move_zones_);
  }

  const geometry::Scene& scene_;
  HandrailGraph graph_;
  std::vector<Vec3> tangents_;  // of the rail at each grip, not normalised; only to count azimuths from
};

HandrailGraph detail::assemble(const geometry::Scene& scene, const Body& body, GraphParts&& parts) {
  return Builder(scene, body).assemble(std::move(parts));
}

HandrailGraph build_handrail_graph(const geometry::Scene& scene, const Body& body) {
  return Builder(scene, body).build();
}

}  // namespace holdfast::graph
