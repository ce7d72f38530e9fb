#include <algorithm>
#include <limits>

#include "line_impl.h"

namespace holdfast::cable {

SegmentGap gap_between(const Vec3& a, const Vec3& b, const Vec3& c, const Vec3& d) {
  constexpr double point = 1e-18;  // a segment shorter than 1e-9 m
  const Vec3 u = b - a, v = d - c, r = a - c;
  const double uu = u.squaredNorm(), vv = v.squaredNorm(), uv = u.dot(v), ur = u.dot(r), vr = v.dot(r);
  const auto unit = [](double t) { return std::clamp(t, 0.0, 1.0); };
  double s = 0, t = 0;
  if (uu <= point && vv <= point) {
    s = t = 0;
  } else if (uu <= point) {
    t = unit(vr / vv);
  } else if (vv <= point) {
    s = unit(-ur / uu);
  } else {
    const double across = uu * vv - uv * uv;
    s = across > 1e-12 * uu * vv ? unit((uv * vr - ur * vv) / across) : 0;
    t = (uv * s + vr) / vv;
    if (t < 0) t = 0, s = unit(-ur / uu);
    if (t > 1) t = 1, s = unit((uv - ur) / uu);
  }
  const Vec3 on = a + s * u;
  return {(on - (c + t * v)).norm(), on};
}

SegmentGap gap_between(const std::vector<Vec3>& line, const std::vector<Vec3>& other) {
  SegmentGap least{std::numeric_limits<double>::infinity(), Vec3::Zero()};
  const auto next = [](const std::vector<Vec3>& points, std::size_t i) { return std::min(i + 1, points.size() - 1); };
  for (std::size_t i = 0; i + 1 < std::max<std::size_t>(line.size(), 2); ++i)
    for (std::size_t k = 0; k + 1 < std::max<std::size_t>(other.size(), 2); ++k)
      if (const auto gap = gap_between(line[i], line[next(line, i)], other[k], other[next(other, k)]);
          gap.distance_m < least.distance_m)
        least = gap;
  return least;
}

}  // namespace holdfast::cable
