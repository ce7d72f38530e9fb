// SPDX-License-Identifier: GPL-3.0-or-later
#include "raster_impl.h"

#include <algorithm>
#include <cmath>
#include <unordered_map>

namespace holdfast::picture {

Raster::Raster(const Vec2& low, const Vec2& high, double cell_m)
    : low_(low),
      cell_m_(cell_m),
      columns_(std::max(1, static_cast<int>(std::ceil((high.x() - low.x()) / cell_m)))),
      rows_(std::max(1, static_cast<int>(std::ceil((high.y() - low.y()) / cell_m)))),
      cells_(static_cast<std::size_t>(columns_) * static_cast<std::size_t>(rows_)) {}

void Raster::fill(const Direction& view, const std::array<Vec3, 3>& triangle, std::int32_t owner) {
  std::array<Vec2, 3> p;
  for (std::size_t k = 0; k < 3; ++k) p[k] = (view.flat(triangle[k]) - low_) / cell_m_;
  const auto cross = [](const Vec2& a, const Vec2& b) { return a.x() * b.y() - a.y() * b.x(); };
  const double area = cross(p[1] - p[0], p[2] - p[0]);
  if (std::abs(area) < 1e-12) return;
  const auto first = [](double v) { return static_cast<int>(std::ceil(std::max(v - 0.5, -1.0))); };
  const auto [x0, x1] = std::minmax({p[0].x(), p[1].x(), p[2].x()});
  const auto [y0, y1] = std::minmax({p[0].y(), p[1].y(), p[2].y()});
  const int row_end = static_cast<int>(std::min<double>(rows_, std::floor(y1 - 0.5) + 1));
  const int column_end = static_cast<int>(std::min<double>(columns_, std::floor(x1 - 0.5) + 1));
  const Vec3 depth(view.depth(triangle[0]), view.depth(triangle[1]), view.depth(triangle[2]));
  for (int row = std::max(0, first(y0)); row < row_end; ++row)
    for (int column = std::max(0, first(x0)); column < column_end; ++column) {
      const Vec2 middle(column + 0.5, row + 0.5);
      const double b0 = cross(p[1] - middle, p[2] - middle) / area, b1 = cross(p[2] - middle, p[0] - middle) / area;
      const double b2 = 1 - b0 - b1;
      if (b0 < 0 || b1 < 0 || b2 < 0) continue;
      auto& cell =
          cells_[static_cast<std::size_t>(row) * static_cast<std::size_t>(columns_) + static_cast<std::size_t>(column)];
      const double d = b0 * depth[0] + b1 * depth[1] + b2 * depth[2];
      if (d > cell.depth) cell = {d, owner};
    }
}

Raster::Cell Raster::at(const Vec2& p) const {
  const Vec2 q = ((p - low_) / cell_m_).array().floor();
  if (!(q.x() >= 0 && q.y() >= 0 && q.x() < columns_ && q.y() < rows_)) return {};
  return cells_[static_cast<std::size_t>(q.y()) * static_cast<std::size_t>(columns_) + static_cast<std::size_t>(q.x())];
}

bool Raster::is_filled(int column, int row) const {
  if (column < 0 || row < 0 || column >= columns_ || row >= rows_) return false;
  return cells_[static_cast<std::size_t>(row) * static_cast<std::size_t>(columns_) + static_cast<std::size_t>(column)]
             .owner >= 0;
}

namespace {

struct Corner {
  int x, y;
  friend bool operator==(const Corner&, const Corner&) = default;
};
struct CornerHash {
  std::size_t operator()(const Corner& c) const {
    return (static_cast<std::size_t>(static_cast<std::uint32_t>(c.x)) << 32) ^ static_cast<std::uint32_t>(c.y);
  }
};

/// Ramer 1972, Douglas and Peucker 1973: leaves out what lies within `tolerance` of the line between what is kept.
void simplify(const std::vector<Vec2>& points, std::size_t first, std::size_t last, double tolerance,
              std::vector<bool>& keep) {
  std::vector<std::pair<std::size_t, std::size_t>> open = {{first, last}};
  while (!open.empty()) {
    const auto [a, b] = open.back();
    open.pop_back();
    const Vec2 along = points[b] - points[a];
    const double length = along.norm();
    double worst = tolerance;
    std::size_t at = a;
    for (std::size_t i = a + 1; i < b; ++i) {
      const Vec2 d = points[i] - points[a];
      const double off = length > 0 ? std::abs(along.x() * d.y() - along.y() * d.x()) / length : d.norm();
      if (off > worst) worst = off, at = i;
    }
    if (at == a) continue;
    keep[at] = true;
    open.emplace_back(a, at);
    open.emplace_back(at, b);
  }
}

}  // namespace

std::vector<std::vector<Vec2>> Raster::outlines() const {
  // Sides between filled and empty cells, with the filled cell on the left.
  std::unordered_map<Corner, std::vector<Corner>, CornerHash> next;
  std::vector<Corner> starts;
  const auto side = [&](Corner from, Corner to) { next[from].push_back(to), starts.push_back(from); };
  for (int row = 0; row < rows_; ++row)
    for (int column = 0; column < columns_; ++column) {
      if (!is_filled(column, row)) continue;
      if (!is_filled(column, row - 1)) side({column, row}, {column + 1, row});
      if (!is_filled(column + 1, row)) side({column + 1, row}, {column + 1, row + 1});
      if (!is_filled(column, row + 1)) side({column + 1, row + 1}, {column, row + 1});
      if (!is_filled(column - 1, row)) side({column, row + 1}, {column, row});
    }
  std::vector<std::vector<Vec2>> loops;
  for (const auto& start : starts) {
    if (next[start].empty()) continue;
    std::vector<Vec2> loop;
    Corner at = start;
    while (!next[at].empty()) {
      const Corner to = next[at].back();
      next[at].pop_back();
      loop.emplace_back(at.x, at.y);
      at = to;
    }
    // Split at the point farthest from the first, so that both halves have ends to hold on to.
    const auto far = static_cast<std::size_t>(std::max_element(loop.begin(), loop.end(),
                                                               [&](const Vec2& a, const Vec2& b) {
                                                                 return (a - loop.front()).squaredNorm() <
                                                                        (b - loop.front()).squaredNorm();
                                                               }) -
                                              loop.begin());
    loop.push_back(loop.front());
    std::vector<bool> keep(loop.size(), false);
    keep.front() = keep[far] = true;
    simplify(loop, 0, far, 0.75, keep);
    simplify(loop, far, loop.size() - 1, 0.75, keep);
    std::vector<Vec2> kept;
    for (std::size_t i = 0; i + 1 < loop.size(); ++i)
      if (keep[i]) kept.emplace_back(low_ + cell_m_ * loop[i]);
    if (kept.size() > 2) loops.push_back(std::move(kept));
  }
  return loops;
}

}  // namespace holdfast::picture
