// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// One bounding-volume hierarchy for all queries: binned surface-area heuristic, float boxes rounded outward, double
// primitives. Wald, On fast construction of SAH-based bounding volume hierarchies, IEEE Symposium on Interactive Ray
// Tracing 2007.

#include <algorithm>
#include <array>
#include <cmath>
#include <cstdint>
#include <limits>
#include <optional>
#include <span>
#include <vector>

#include "holdfast/geometry/mesh.h"

namespace holdfast::geometry::detail {

class Bvh {
 public:
  struct Node {
    std::array<float, 3> min, max;
    std::uint32_t first;  // leaf: first item; inner: index of the right child (the left one follows this node)
    std::uint32_t count;  // 0 for inner nodes
  };

  Bvh() = default;
  /// Over items 0 .. boxes.size() - 1.
  explicit Bvh(std::span<const Bounds> boxes) {
    items_.resize(boxes.size());
    std::vector<Vec3> centers(boxes.size());
    for (std::size_t i = 0; i < boxes.size(); ++i) {
      items_[i] = static_cast<std::uint32_t>(i);
      centers[i] = (boxes[i].min + boxes[i].max) / 2;
    }
    nodes_.reserve(boxes.size());
    if (!boxes.empty()) build(boxes, centers, 0, static_cast<std::uint32_t>(boxes.size()), 0);
  }

  /// As it was kept: nothing where it is none over `count` items that queries can walk.
  static std::optional<Bvh> from(std::vector<Node> nodes, std::vector<std::uint32_t> items, std::size_t count) {
    if (items.size() != count || nodes.empty() != items.empty()) return std::nullopt;
    for (const auto item : items)
      if (item >= count) return std::nullopt;
    // Children stand behind their parent, so one pass sees every level before it is gone down from.
    std::vector<std::uint8_t> level(nodes.size(), 0);
    for (std::size_t i = 0; i < nodes.size(); ++i) {
      const Node& node = nodes[i];
      if (node.count > 0) {
        if (node.first > count || node.count > count - node.first) return std::nullopt;
        continue;
      }
      if (node.first <= i + 1 || node.first >= nodes.size() || level[i] >= most_levels) return std::nullopt;
      if (level[i + 1] > 0 || level[node.first] > 0) return std::nullopt;  // a child of two
      level[i + 1] = level[node.first] = static_cast<std::uint8_t>(level[i] + 1);
    }
    Bvh hierarchy;
    hierarchy.nodes_ = std::move(nodes), hierarchy.items_ = std::move(items);
    return hierarchy;
  }

  [[nodiscard]] bool is_empty() const { return nodes_.empty(); }
  [[nodiscard]] std::span<const Node> nodes() const { return nodes_; }
  [[nodiscard]] std::span<const std::uint32_t> items() const { return items_; }

  /// Visits items in leaves whose box may be nearer than `limit()`, nearer boxes first. `box_distance(node)` is a lower
  /// bound; `visit(item)` may lower the limit.
  template <class BoxDistance, class Visit, class LimitFn>
  void nearest_first(BoxDistance&& box_distance, Visit&& visit, LimitFn&& limit) const {
    if (nodes_.empty()) return;
    struct Entry {
      std::uint32_t node;
      double distance;
    };
    std::array<Entry, stack_size> stack;
    std::size_t depth = 0;
    stack[depth++] = {0, box_distance(nodes_[0])};
    while (depth > 0) {
      const Entry entry = stack[--depth];
      if (entry.distance > limit()) continue;
      const Node& node = nodes_[entry.node];
      if (node.count > 0) {
        for (std::uint32_t i = 0; i < node.count; ++i) visit(items_[node.first + i]);
        continue;
      }
      const std::uint32_t left = entry.node + 1, right = node.first;
      const double d_left = box_distance(nodes_[left]), d_right = box_distance(nodes_[right]);
      const double now = limit();
      if (d_left <= d_right) {
        if (d_right <= now) stack[depth++] = {right, d_right};
        if (d_left <= now) stack[depth++] = {left, d_left};
      } else {
        if (d_left <= now) stack[depth++] = {left, d_left};
        if (d_right <= now) stack[depth++] = {right, d_right};
      }
    }
  }

  /// Visits items in leaves whose box passes `touches(node)` until `visit(item)` returns true; true when one did.
  template <class Touches, class Visit>
  bool any(Touches&& touches, Visit&& visit) const {
    if (nodes_.empty()) return false;
    std::array<std::uint32_t, stack_size> stack;
    std::size_t depth = 0;
    stack[depth++] = 0;
    while (depth > 0) {
      const std::uint32_t index = stack[--depth];
      const Node& node = nodes_[index];
      if (!touches(node)) continue;
      if (node.count > 0) {
        for (std::uint32_t i = 0; i < node.count; ++i)
          if (visit(items_[node.first + i])) return true;
      } else {
        stack[depth++] = node.first;
        stack[depth++] = index + 1;
      }
    }
    return false;
  }

 private:
  static constexpr std::uint32_t leaf_size = 4;
  static constexpr int most_levels = 60;  // deeper, a leaf is made whatever its size
  static constexpr std::size_t stack_size = most_levels + 4;
  static constexpr int bins = 16;

  static double half_area(const Bounds& b) {
    if (b.is_empty()) return 0;
    const Vec3 s = b.max - b.min;
    return s.x() * s.y() + s.y() * s.z() + s.z() * s.x();
  }

  static void merge(Bounds& into, const Bounds& b) {
    if (!b.is_empty()) into.extend(b.min), into.extend(b.max);
  }

  void build(std::span<const Bounds> boxes, const std::vector<Vec3>& centers, std::uint32_t begin, std::uint32_t end,
             int level) {
    const auto index = nodes_.size();
    nodes_.emplace_back();
    Bounds box, spread;
    for (std::uint32_t i = begin; i < end; ++i) merge(box, boxes[items_[i]]), spread.extend(centers[items_[i]]);
    for (int a = 0; a < 3; ++a) {
      const auto axis = static_cast<std::size_t>(a);
      nodes_[index].min[axis] = round_down(box.min[a]);
      nodes_[index].max[axis] = round_up(box.max[a]);
    }
    const std::uint32_t count = end - begin;
    std::uint32_t middle = begin;
    if (count > leaf_size && level < most_levels) middle = split(boxes, centers, begin, end, spread);
    if (middle == begin) {
      nodes_[index].first = begin, nodes_[index].count = count;
      return;
    }
    nodes_[index].count = 0;
    build(boxes, centers, begin, middle, level + 1);
    nodes_[index].first = static_cast<std::uint32_t>(nodes_.size());
    build(boxes, centers, middle, end, level + 1);
  }

  /// Best of 16 bins on the longest axis of the centres; the median where all fall into one bin; `begin` when all
  /// centres agree.
  std::uint32_t split(std::span<const Bounds> boxes, const std::vector<Vec3>& centers, std::uint32_t begin,
                      std::uint32_t end, const Bounds& spread) {
    int axis = 0;
    const Vec3 extent = spread.max - spread.min;
    extent.maxCoeff(&axis);
    if (extent[axis] <= 0) return begin;
    std::array<Bounds, bins> bin_box;
    std::array<std::uint32_t, bins> bin_count{};
    const double scale = bins * (1 - 1e-9) / extent[axis];
    const auto bin_of = [&](std::uint32_t item) {
      return static_cast<std::size_t>(
          std::clamp(static_cast<int>((centers[item][axis] - spread.min[axis]) * scale), 0, bins - 1));
    };
    for (std::uint32_t i = begin; i < end; ++i) {
      const auto bin = bin_of(items_[i]);
      ++bin_count[bin];
      merge(bin_box[bin], boxes[items_[i]]);
    }
    std::array<double, bins> right_cost{};
    Bounds right;
    std::uint32_t right_count = 0;
    for (int b = bins - 1; b > 0; --b) {
      merge(right, bin_box[static_cast<std::size_t>(b)]);
      right_count += bin_count[static_cast<std::size_t>(b)];
      right_cost[static_cast<std::size_t>(b)] = half_area(right) * right_count;
    }
    Bounds left;
    std::uint32_t left_count = 0;
    double least = std::numeric_limits<double>::infinity();
    std::size_t best = 0;
    for (std::size_t b = 1; b < bins; ++b) {
      merge(left, bin_box[b - 1]);
      left_count += bin_count[b - 1];
      const double cost = half_area(left) * left_count + right_cost[b];
      if (left_count > 0 && left_count < end - begin && cost < least) least = cost, best = b;
    }
    const auto from = items_.begin() + begin, to = items_.begin() + end;
    if (best > 0) {
      const auto at = std::stable_partition(from, to, [&](std::uint32_t item) { return bin_of(item) < best; });
      return static_cast<std::uint32_t>(at - items_.begin());
    }
    const auto at = from + (to - from) / 2;
    std::stable_sort(from, to, [&](std::uint32_t x, std::uint32_t y) { return centers[x][axis] < centers[y][axis]; });
    return static_cast<std::uint32_t>(at - items_.begin());
  }

  static float round_down(double value) {
    const auto f = static_cast<float>(value);
    return static_cast<double>(f) <= value ? f : std::nextafter(f, -std::numeric_limits<float>::infinity());
  }
  static float round_up(double value) {
    const auto f = static_cast<float>(value);
    return static_cast<double>(f) >= value ? f : std::nextafter(f, std::numeric_limits<float>::infinity());
  }

  std::vector<Node> nodes_;
  std::vector<std::uint32_t> items_;
};

/// Squared distance from a point to a node's box.
inline double squared_distance(const Bvh::Node& node, const Vec3& p) {
  double square = 0;
  for (int a = 0; a < 3; ++a) {
    const auto i = static_cast<std::size_t>(a);
    const double below = static_cast<double>(node.min[i]) - p[a], above = p[a] - static_cast<double>(node.max[i]);
    const double d = std::max({below, above, 0.0});
    square += d * d;
  }
  return square;
}

/// Squared distance between a box and a node's box.
inline double squared_distance(const Bvh::Node& node, const Bounds& box) {
  double square = 0;
  for (int a = 0; a < 3; ++a) {
    const auto i = static_cast<std::size_t>(a);
    const double d =
        std::max({static_cast<double>(node.min[i]) - box.max[a], box.min[a] - static_cast<double>(node.max[i]), 0.0});
    square += d * d;
  }
  return square;
}

/// A segment prepared for slab tests against nodes.
struct SegmentSlabs {
  Vec3 a, inverse;
  SegmentSlabs(const Vec3& from, const Vec3& d) : a(from), inverse(d.cwiseInverse()) {}
  /// May the segment, cut at `t_max`, touch the node's box? Never false for one that does.
  [[nodiscard]] bool touches(const Bvh::Node& node, double t_max) const {
    double enter = 0, leave = t_max;
    for (int k = 0; k < 3; ++k) {
      const auto i = static_cast<std::size_t>(k);
      const double low = static_cast<double>(node.min[i]), high = static_cast<double>(node.max[i]);
      if (!std::isfinite(inverse[k])) {
        if (a[k] < low || a[k] > high) return false;
        continue;
      }
      double t0 = (low - a[k]) * inverse[k], t1 = (high - a[k]) * inverse[k];
      if (t0 > t1) std::swap(t0, t1);
      constexpr double slack = 1e-12;  // rounding of the products
      enter = std::max(enter, t0 - slack), leave = std::min(leave, t1 + slack);
      if (enter > leave) return false;
    }
    return true;
  }
};

}  // namespace holdfast::geometry::detail
