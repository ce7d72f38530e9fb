// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// A patch as cells of known area, each with one sample in its middle, that can be cut finer where it matters.
//
//   reach::PatchCells cells(scene, structure.patches[0], 1024);
//   auto seen = reach::estimate(cells, [&](const reach::Cell& cell) { return is_seen(cell); }, {});
//   seen.low, seen.high;                      // of the area
//
// Structure frame, m. No random numbers: same patch, same samples.

#include <cstddef>
#include <functional>
#include <memory>
#include <vector>

#include "holdfast/geometry/scene.h"
#include "holdfast/model/structure.h"

namespace holdfast::reach {

using model::Vec3;

struct Cell {
  Vec3 at = Vec3::Zero();
  Vec3 normal = Vec3::UnitZ();  ///< unit, outward
  double area_m2 = 0;
  double radius_m = 0;      ///< no point of the cell is farther from the sample
  bool is_covered = false;  ///< in another solid or within 1 mm of one: nobody could see it
  std::uint32_t sheet = 0;  ///< which piece of surface, and which rectangle of its parameters
  double u0 = 0, u1 = 1, v0 = 0, v1 = 1;
};

/// A smooth piece of surface over the unit square, equal areas onto equal areas.
class Sheet;

class PatchCells {
 public:
  /// About `cells` cells to begin with, one at least for each piece of surface. Requires: a patch that is there in the
  /// scene's configuration. Keeps a reference to the scene, which must outlive it.
  PatchCells(const geometry::Scene& scene, const model::Patch& patch, std::size_t cells);
  PatchCells(PatchCells&&) noexcept;
  ~PatchCells();

  [[nodiscard]] const std::vector<Cell>& cells() const { return cells_; }
  [[nodiscard]] std::vector<Cell> cut(const Cell& cell) const;  ///< into 4
  [[nodiscard]] double area_m2() const { return area_m2_; }     ///< without what is covered
  [[nodiscard]] double covered_fraction() const { return covered_fraction_; }
  /// Area-weighted mean of the samples that are not covered.
  [[nodiscard]] Vec3 middle() const { return middle_; }
  /// ... and of their outward normals; zero for closed bodies.
  [[nodiscard]] Vec3 mean_normal() const { return mean_normal_; }
  /// No sample that is not covered is farther from the middle.
  [[nodiscard]] double around_m() const { return around_m_; }
  /// All of those lie in one plane and have one normal, within 1e-9.
  [[nodiscard]] bool is_flat() const { return is_flat_; }
  [[nodiscard]] bool both_sides() const { return both_sides_; }
  /// Rays end this far off the surface: 1 mm and the chord error of tessellated shapes.
  [[nodiscard]] double lift_m() const { return lift_m_; }

 private:
  [[nodiscard]] Cell make(std::uint32_t sheet, double u0, double u1, double v0, double v1) const;

  const geometry::Scene* scene_;
  std::vector<std::unique_ptr<Sheet>> sheets_;
  std::vector<model::PartId> neighbours_;  // parts that may cover some of it
  std::vector<Cell> cells_;
  double area_m2_ = 0, covered_fraction_ = 0, lift_m_ = 0;
  Vec3 middle_ = Vec3::Zero(), mean_normal_ = Vec3::Zero();
  double around_m_ = 0;
  bool both_sides_ = false, is_flat_ = false;
};

struct EstimateOptions {
  double tolerance = 0.02;  ///< high - low
  std::size_t most_cells = 8192;
};
/// Bounds on the fraction of a patch's area for which the verdict holds: cells at the border between verdicts, as near
/// to a cell of the other one as the two are wide, count for neither side, and are cut until the rest decides. What is
/// narrower than a cell may be missed: `cell_m` says how wide cells are.
struct Estimate {
  double low = 0, high = 0;
  std::size_t cells = 0;
  double cell_m = 0;  ///< width of the widest cell
  double seen_m2 = 0;
  std::vector<Cell> seen;  ///< for which it holds
};
[[nodiscard]] Estimate estimate(const PatchCells& patch, const std::function<bool(const Cell&)>& verdict,
                                const EstimateOptions& options);

}  // namespace holdfast::reach
