// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// Where labels of a view stand: near what they name, never over each other, led out by a thin line where it is crowded.

#include <Eigen/Core>
#include <optional>
#include <utility>
#include <vector>

namespace holdfast::picture {

using Vec2 = Eigen::Vector2d;

struct Rect {
  double x0, y0, x1, y1;
  [[nodiscard]] bool overlaps(const Rect& other) const {
    return x0 < other.x1 && x1 > other.x0 && y0 < other.y1 && y1 > other.y0;
  }
  [[nodiscard]] bool holds(const Rect& other) const {
    return other.x0 >= x0 && other.x1 <= x1 && other.y0 >= y0 && other.y1 <= y1;
  }
};

using Segment = std::pair<Vec2, Vec2>;
/// Whether any point of the segment lies inside of the rectangle.
[[nodiscard]] bool meets(const Segment& segment, const Rect& rect);
/// Whether two segments cross or touch.
[[nodiscard]] bool cross(const Segment& a, const Segment& b);

/// All in mm of the page. What is placed first has the first choice.
class LabelPlacer {
 public:
  explicit LabelPlacer(const Rect& area) : area_(area) {}

  /// A point that a label had better not cover: it goes `weight` mm farther away to spare it.
  void spare(const Vec2& point, double weight) { spared_.push_back({point, weight}); }

  struct Placed {
    Rect rect;
    std::optional<Segment> leader;  ///< from the point to the label, where it does not stand right beside
  };
  /// The best place within `farthest` of the point; nothing where there is none inside of the area that neither lies
  /// over another label or its leader nor needs a leader across one.
  std::optional<Placed> place(const Vec2& at, double width, double height, double farthest);

 private:
  struct Spared {
    Vec2 at;
    double weight;
  };
  [[nodiscard]] bool is_free(const Placed& candidate) const;
  Rect area_;
  std::vector<Spared> spared_;
  std::vector<Placed> placed_;
};

}  // namespace holdfast::picture
