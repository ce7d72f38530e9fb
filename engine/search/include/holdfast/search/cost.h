// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// The cost of a move or a way: a primary part that is minimised, a second and a third that break ties, in that order.
//
//   Cost::of(cost_of_seconds(2.5), 1, cost_of_metres(0.3)) + other < best
//
// Integers, so that sums do not depend on the order of adding and equal costs are equal. The parts are packed into one
// 128-bit integer: adding and subtracting it is by component, comparing it lexicographic, and every shortest-path
// argument (Dijkstra, A*, landmarks) holds as for plain numbers. Requires: each part of a sum stays in [0, 2^40). Units
// are 1e-5 s, 1e-5 m or 1 move, rounded up (times and lengths are never under-reported): 2^40 is 127 days.

#include <compare>
#include <cstdint>

namespace holdfast::search {

__extension__ typedef __int128 CostInteger;

class Cost {
 public:
  constexpr Cost() = default;
  [[nodiscard]] static constexpr Cost of(std::int64_t primary, std::int64_t second = 0, std::int64_t third = 0) {
    return Cost((static_cast<CostInteger>(primary) << (2 * part_bits)) +
                (static_cast<CostInteger>(second) << part_bits) + third);
  }
  /// Dearer than any sum of others.
  [[nodiscard]] static constexpr Cost blocked() { return of(std::int64_t{1} << 45); }
  [[nodiscard]] constexpr bool is_blocked() const { return value_ >= blocked().value_; }

  [[nodiscard]] constexpr std::int64_t primary() const { return static_cast<std::int64_t>(value_ >> (2 * part_bits)); }
  [[nodiscard]] constexpr std::int64_t second() const {
    return static_cast<std::int64_t>((value_ >> part_bits) & part_mask);
  }
  [[nodiscard]] constexpr std::int64_t third() const { return static_cast<std::int64_t>(value_ & part_mask); }

  friend constexpr bool operator==(Cost a, Cost b) { return a.value_ == b.value_; }
  friend constexpr std::strong_ordering operator<=>(Cost a, Cost b) { return a.value_ <=> b.value_; }
  friend constexpr Cost operator+(Cost a, Cost b) { return Cost(a.value_ + b.value_); }
  friend constexpr Cost operator-(Cost a, Cost b) { return Cost(a.value_ - b.value_); }

 private:
  static constexpr int part_bits = 40;
  static constexpr CostInteger part_mask = (static_cast<CostInteger>(1) << part_bits) - 1;
  constexpr explicit Cost(CostInteger value) : value_(value) {}
  CostInteger value_ = 0;
};

/// Parts per unit of a `Cost`: 1 s = 100,000 units, 1 m = 100,000 units.
inline constexpr double cost_units_per_second = 1e5;
inline constexpr double cost_units_per_metre = 1e5;

}  // namespace holdfast::search
