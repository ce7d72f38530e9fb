#pragma once
// The cost of a move or a way: a primary part that is minimised, a second and a third that break ties, in that order.
//
// Integers, so that sums do not depend on the order of adding and equal costs are equal. Addition is by component,
// comparison lexicographic: with it costs form an ordered group, so every shortest-path argument (A*, landmarks,
// Dijkstra) holds unchanged. Units of the parts are 1e-5 s, 1e-5 m or 1 move, rounded up (times and lengths are never
// under-reported).

#include <compare>
#include <cstdint>
#include <limits>

namespace holdfast::search {

struct Cost {
  std::int64_t primary = 0;
  std::int64_t second = 0;
  std::int64_t third = 0;

  [[nodiscard]] static constexpr Cost blocked() { return {std::numeric_limits<std::int64_t>::max() / 4, 0, 0}; }
  [[nodiscard]] constexpr bool is_blocked() const { return primary >= blocked().primary; }

  friend constexpr auto operator<=>(const Cost&, const Cost&) = default;
  friend constexpr Cost operator+(Cost a, Cost b) {
    return {a.primary + b.primary, a.second + b.second, a.third + b.third};
  }
  friend constexpr Cost operator-(Cost a, Cost b) {
    return {a.primary - b.primary, a.second - b.second, a.third - b.third};
  }
};

/// Parts per unit of a `Cost`: 1 s = 100,000 units, 1 m = 100,000 units.
inline constexpr double cost_units_per_second = 1e5;
inline constexpr double cost_units_per_metre = 1e5;

}  // namespace holdfast::search
