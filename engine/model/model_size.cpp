// SPDX-License-Identifier: GPL-3.0-or-later
#include "holdfast/model/model_size.h"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <charconv>
#include <cmath>
#include <cstdint>
#include <vector>

namespace holdfast::model {

namespace {

struct Named {
  const char* name;
  std::size_t SizeLimits::*limit;
};
constexpr Named all_limits[] = {{"grips", &SizeLimits::grips},         {"moves", &SizeLimits::moves},
                                {"triangles", &SizeLimits::triangles}, {"places", &SizeLimits::places},
                                {"ties", &SizeLimits::ties},           {"rail-points", &SizeLimits::rail_points}};

/// Steps from one hand position to the next along a straight piece of rail.
double steps_between(const Vec3& a, const Vec3& b, double spacing_m) {
  return std::max(1.0, std::ceil((b - a).norm() / spacing_m - 1e-9));
}

/// Hand positions along a rail, ends included (design 14: each straight piece is divided evenly).
std::size_t stations_of(const Rail& rail, double spacing_m) {
  double count = 1;
  for (std::size_t i = 1; i < rail.points.size(); ++i)
    count += steps_between(rail.points[i - 1], rail.points[i], spacing_m);
  return static_cast<std::size_t>(std::min(count, 1e15));
}

std::size_t directions_of(const Rail& rail) { return std::max<std::size_t>(1, rail.outward.size()); }

/// The largest share of a sum.
struct Largest {
  std::size_t number = 0;
  const Rail* rail = nullptr;
  void look_at(std::size_t share, const Rail& of) {
    if (share > number) number = share, rail = &of;
  }
  [[nodiscard]] std::string words(const char* what) const {
    return rail ? fmt::format("rail \"{}\" has {} {} of them", rail->id, number, what) : std::string();
  }
  [[nodiscard]] Mark mark() const { return rail ? rail->mark : Mark{}; }
};

/// How many grips lie in each cell of a grid: one flat table, because every grip of a large model asks it, and every
/// cell asks for its 26 neighbours.
class CellCounts {
 public:
  struct Cell {
    std::int64_t x, y, z;
    std::size_t count = 0;  // 0: no cell
  };
  CellCounts() : cells_(std::size_t{1} << 12) {}
  void add(const Cell& cell, std::size_t count) {
    if (2 * used_ >= cells_.size()) grow();
    Cell& slot = slot_of(cell);
    if (slot.count == 0) slot = cell, ++used_;
    slot.count += count;
  }
  [[nodiscard]] std::size_t find(const Cell& cell) { return slot_of(cell).count; }
  [[nodiscard]] const std::vector<Cell>& all() const { return cells_; }

 private:
  Cell& slot_of(const Cell& cell) {
    // Multipliers of Teschner and others, Optimized spatial hashing, VMV 2003; then spread over all bits.
    auto hash = static_cast<std::uint64_t>(cell.x * 73856093LL ^ cell.y * 19349663LL ^ cell.z * 83492791LL);
    hash *= 0x9e3779b97f4a7c15ULL;
    for (std::size_t at = (hash >> 20) & (cells_.size() - 1);; at = (at + 1) & (cells_.size() - 1)) {
      Cell& slot = cells_[at];
      if (slot.count == 0 || (slot.x == cell.x && slot.y == cell.y && slot.z == cell.z)) return slot;
    }
  }
  void grow() {
    std::vector<Cell> before(2 * cells_.size());
    before.swap(cells_);
    for (const Cell& cell : before)
      if (cell.count > 0) slot_of(cell) = cell;
  }
  std::vector<Cell> cells_;  // a power of two of them, at most half in use
  std::size_t used_ = 0;
};

/// Pairs of grips within reach, from above: all in a cell of the reach and in the 26 about it. Stops beyond `most`.
std::size_t count_pairs(const Structure& structure, const Configuration& configuration, double spacing_m,
                        double reach_m, std::size_t most) {
  CellCounts cells;
  const auto cell_of = [&](const Vec3& p) {
    return CellCounts::Cell{static_cast<std::int64_t>(std::floor(p.x() / reach_m)),
                            static_cast<std::int64_t>(std::floor(p.y() / reach_m)),
                            static_cast<std::int64_t>(std::floor(p.z() / reach_m))};
  };
  for (std::size_t r = 0; r < structure.rails.size(); ++r) {
    const auto& rail = structure.rails[r];
    if (!rail.use.hands || !structure.is_present(RailId(r), configuration)) continue;
    const Pose pose = structure.pose(rail.part, configuration);
    for (std::size_t i = 0; i < rail.points.size(); ++i) {
      const Vec3 a = pose * rail.points[i];
      cells.add(cell_of(a), directions_of(rail));
      if (i + 1 == rail.points.size()) break;
      const Vec3 b = pose * rail.points[i + 1];
      const auto steps = static_cast<std::size_t>(steps_between(a, b, spacing_m));
      for (std::size_t k = 1; k < steps; ++k)
        cells.add(cell_of(a + (b - a) * (static_cast<double>(k) / static_cast<double>(steps))), directions_of(rail));
    }
  }
  std::size_t pairs = 0;
  for (const auto& cell : cells.all()) {
    if (cell.count == 0) continue;
    for (int n = 0; n < 27; ++n)
      pairs += cell.count * cells.find({cell.x + n % 3 - 1, cell.y + n / 3 % 3 - 1, cell.z + n / 9 - 1});
    // A third of the pairs of neighbouring cells is within reach where grips lie along lines, and fewer elsewhere:
    // twice the limit is surely beyond it.
    if (pairs > 6 * most) break;
  }
  return pairs / 3;
}

}  // namespace

Diagnostic beyond_limit(const std::string& what, const std::string& name, std::size_t number, std::size_t most,
                        const std::string& largest, const Mark& mark) {
  return {mark,
          "",
          "too-large",
          fmt::format("this model comes to {} {}, and at most {} are taken{}{}", number, what, most,
                      largest.empty() ? "" : ": ", largest),
          std::to_string(number),
          fmt::format("leave out what is not needed, or raise the limit: --size-limit {}={}", name, number)};
}

void set_limit(SizeLimits& limits, const std::string& text) {
  const auto equals = text.find('=');
  const std::string name = text.substr(0, equals), number = equals == std::string::npos ? "" : text.substr(equals + 1);
  const auto known =
      std::find_if(std::begin(all_limits), std::end(all_limits), [&](const Named& one) { return name == one.name; });
  std::size_t value = 0;
  const auto [end, error] = std::from_chars(number.data(), number.data() + number.size(), value);
  constexpr std::size_t most = 1'000'000'000'000;
  if (known != std::end(all_limits) && error == std::errc{} && end == number.data() + number.size() && value > 0 &&
      value <= most) {
    limits.*known->limit = value;
    return;
  }
  std::vector<std::string> names;
  for (const auto& one : all_limits) names.emplace_back(one.name);
  throw InputError({{{},
                     "",
                     "unknown-setting",
                     fmt::format("--size-limit {} sets no limit", text),
                     text,
                     fmt::format("write one of {} with a whole number, as grips=4000000", fmt::join(names, ", "))}});
}

void check_rails(const Structure& structure, const Kit& kit, const Suit& suit, const Configuration& configuration,
                 const SizeLimits& limits) {
  const double spacing_m = kit.design.grip_spacing_m;
  std::vector<Diagnostic> faults;
  std::size_t grips = 0;
  Largest most_grips, most_points;
  for (std::size_t r = 0; r < structure.rails.size(); ++r) {
    const auto& rail = structure.rails[r];
    if (!structure.is_present(RailId(r), configuration)) continue;
    most_points.look_at(rail.points.size(), rail);
    if (!rail.use.hands) continue;
    const std::size_t share = stations_of(rail, spacing_m) * directions_of(rail);
    grips += share;
    most_grips.look_at(share, rail);
  }
  if (most_points.number > limits.rail_points)
    faults.push_back(beyond_limit(fmt::format("points of rail \"{}\"", most_points.rail->id), "rail-points",
                                  most_points.number, limits.rail_points, "", most_points.mark()));
  if (grips > limits.grips)
    faults.push_back(beyond_limit("grips", "grips", grips, limits.grips,
                                  fmt::format("{}; one stands every {} m", most_grips.words("grips"), spacing_m),
                                  most_grips.mark()));
  if (faults.empty()) {
    const std::size_t moves = count_pairs(structure, configuration, spacing_m, suit.reach_m, limits.moves);
    if (moves > 2 * limits.moves)
      faults.push_back(beyond_limit(
          "moves or more", "moves", moves, limits.moves,
          fmt::format("{} grips within a reach of {} m of each other", grips, static_cast<double>(suit.reach_m)),
          most_grips.mark()));
  }
  if (!faults.empty()) throw InputError(std::move(faults));
}

void check_places(const Structure& structure, const SizeLimits& limits) {
  if (structure.places.size() <= limits.places) return;
  throw InputError({beyond_limit("places, of which a matrix takes every pair", "places", structure.places.size(),
                                 limits.places, "", structure.places[limits.places].mark)});
}

void check_ties(const Structure& structure, const Kit& kit, const Configuration& configuration,
                const SizeLimits& limits) {
  std::size_t ties = structure.clips.size();
  Largest most;
  for (std::size_t r = 0; r < structure.rails.size(); ++r) {
    const auto& rail = structure.rails[r];
    if (!rail.use.cable || !structure.is_present(RailId(r), configuration)) continue;
    const std::size_t share = stations_of(rail, kit.design.grip_spacing_m);
    ties += share;
    most.look_at(share, rail);
  }
  if (ties > limits.ties)
    throw InputError({beyond_limit(
        "ties for a cable", "ties", ties, limits.ties,
        fmt::format("{} clips{}{}", structure.clips.size(), most.rail ? ", and " : "", most.words("ties")),
        most.mark())});
}

}  // namespace holdfast::model
