// SPDX-License-Identifier: GPL-3.0-or-later
#include "holdfast/reach/patch.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <numbers>
#include <optional>
#include <unordered_map>

namespace holdfast::reach {

namespace {

constexpr double pi = std::numbers::pi;
constexpr double off_surface_m = 0.001;  // of samples, and of what covers them

}  // namespace

class Sheet {
 public:
  virtual ~Sheet() = default;
  struct Point {
    Vec3 at, normal;
  };
  [[nodiscard]] virtual Point at(double u, double v) const = 0;
  [[nodiscard]] virtual double area_m2() const = 0;
};

namespace {

class RectangleSheet : public Sheet {
 public:
  RectangleSheet(const Vec3& corner, const Vec3& u, const Vec3& v) : corner_(corner), u_(u), v_(v) {
    normal_ = u.cross(v).normalized();
  }
  Point at(double u, double v) const override { return {corner_ + u * u_ + v * v_, normal_}; }
  double area_m2() const override { return u_.cross(v_).norm(); }

 private:
  Vec3 corner_, u_, v_, normal_;
};

/// The square onto the disc, squares onto rings (P. Shirley, K. Chiu, A low distortion map between disk and square,
/// Journal of Graphics Tools 2, 1997).
class DiscSheet : public Sheet {
 public:
  DiscSheet(const Vec3& center, const Vec3& normal, double radius)
      : center_(center), normal_(normal.normalized()), radius_(radius) {
    x_ = normal_.unitOrthogonal(), y_ = normal_.cross(x_);
  }
  Point at(double u, double v) const override {
    const double a = 2 * u - 1, b = 2 * v - 1;
    double r = 0, phi = 0;
    if (std::abs(a) > std::abs(b))
      r = a, phi = pi / 4 * (b / a);
    else if (b != 0)
      r = b, phi = pi / 2 - pi / 4 * (a / b);
    return {center_ + radius_ * r * (std::cos(phi) * x_ + std::sin(phi) * y_), normal_};
  }
  double area_m2() const override { return pi * radius_ * radius_; }

 private:
  Vec3 center_, normal_, x_, y_;
  double radius_;
};

/// Side of a frustum; a cylinder where the radii are the same.
class SideSheet : public Sheet {
 public:
  SideSheet(const Vec3& from, const Vec3& to, double radius_from, double radius_to)
      : from_(from), axis_(to - from), r0_(radius_from), r1_(radius_to) {
    const Vec3 d = axis_.normalized();
    x_ = d.unitOrthogonal(), y_ = d.cross(x_);
    slant_ = std::hypot(axis_.norm(), r1_ - r0_);
  }
  Point at(double u, double v) const override {
    // The width grows linearly along the slant: equal areas are equal steps of the radius squared.
    const double r = std::sqrt(std::max(0.0, r0_ * r0_ + v * (r1_ * r1_ - r0_ * r0_)));
    const double t = std::abs(r1_ - r0_) > 1e-9 ? (r - r0_) / (r1_ - r0_) : v;
    const Vec3 out = std::cos(2 * pi * u) * x_ + std::sin(2 * pi * u) * y_;
    const Vec3 normal = (axis_.norm() * out - (r1_ - r0_) * axis_.normalized()).normalized();
    return {from_ + t * axis_ + r * out, normal};
  }
  double area_m2() const override { return pi * (r0_ + r1_) * slant_; }

 private:
  Vec3 from_, axis_, x_, y_;
  double r0_, r1_, slant_;
};

class BallSheet : public Sheet {
 public:
  BallSheet(const Vec3& center, double radius) : center_(center), radius_(radius) {}
  Point at(double u, double v) const override {
    const double z = 1 - 2 * v, r = std::sqrt(std::max(0.0, 1 - z * z));  // Archimedes
    const Vec3 out(r * std::cos(2 * pi * u), r * std::sin(2 * pi * u), z);
    return {center_ + radius_ * out, out};
  }
  double area_m2() const override { return 4 * pi * radius_ * radius_; }

 private:
  Vec3 center_;
  double radius_;
};

/// z = depth (r / radius)^2, told in the part's frame and posed.
class DishSheet : public Sheet {
 public:
  DishSheet(const model::Dish& dish, const model::Pose& pose, bool is_inside)
      : dish_(dish), pose_(pose), is_inside_(is_inside), a_(2 * dish.depth / (dish.radius * dish.radius)) {}
  Point at(double u, double v) const override {
    // Area out to r is 2 pi ((1 + a^2 r^2)^(3/2) - 1) / (3 a^2) with z' = a r.
    const double whole = std::pow(1 + a_ * a_ * dish_.radius * dish_.radius, 1.5) - 1;
    const double r = std::sqrt(std::max(0.0, std::pow(1 + v * whole, 2.0 / 3) - 1)) / a_;
    const double c = std::cos(2 * pi * u), s = std::sin(2 * pi * u);
    const Vec3 point(r * c, r * s, a_ / 2 * r * r - (is_inside_ ? 0 : dish_.thickness));
    Vec3 normal = Vec3(-a_ * r * c, -a_ * r * s, 1).normalized();
    if (!is_inside_) normal = -normal;
    return {pose_ * point, pose_.linear() * normal};
  }
  double area_m2() const override {
    return 2 * pi * (std::pow(1 + a_ * a_ * dish_.radius * dish_.radius, 1.5) - 1) / (3 * a_ * a_);
  }

 private:
  model::Dish dish_;
  model::Pose pose_;
  bool is_inside_;
  double a_;
};

class TriangleSheet : public Sheet {
 public:
  TriangleSheet(const Vec3& a, const Vec3& b, const Vec3& c) : a_(a), b_(b), c_(c) {
    const Vec3 cross = (b - a).cross(c - a);
    area_ = cross.norm() / 2, normal_ = cross.normalized();
  }
  Point at(double u, double v) const override {
    const double root = std::sqrt(u);  // equal areas (G. Turk, Graphics Gems, 1990)
    return {a_ + root * ((1 - v) * (b_ - a_) + v * (c_ - a_)), normal_};
  }
  double area_m2() const override { return area_; }

 private:
  Vec3 a_, b_, c_, normal_;
  double area_;
};

/// About how long the sheet is along its parameters.
std::pair<double, double> extent(const Sheet& sheet) {
  constexpr int steps = 8;
  double along_u = 0, along_v = 0;
  for (int k = 0; k < steps; ++k) {
    const double a = static_cast<double>(k) / steps, b = static_cast<double>(k + 1) / steps;
    along_u += (sheet.at(b, 0.5).at - sheet.at(a, 0.5).at).norm();
    along_v += (sheet.at(0.5, b).at - sheet.at(0.5, a).at).norm();
  }
  return {along_u, along_v};
}

using Sheets = std::vector<std::unique_ptr<Sheet>>;

void add_box_face(Sheets& sheets, const Vec3& center, const Vec3& size, const model::Pose& pose, int axis, int sign) {
  const int i = (axis + 1) % 3, j = (axis + 2) % 3;
  Vec3 corner = center - size / 2, u = Vec3::Zero(), v = Vec3::Zero();
  if (sign > 0) corner[axis] += size[axis];
  u[sign > 0 ? i : j] = size[sign > 0 ? i : j], v[sign > 0 ? j : i] = size[sign > 0 ? j : i];
  sheets.push_back(std::make_unique<RectangleSheet>(pose * corner, pose.linear() * u, pose.linear() * v));
}

/// The sheets of one face by its name, or all of them.
bool add_faces(Sheets& sheets, const model::Shape& shape, const model::Pose& pose, const std::string& face) {
  const auto wants = [&](const char* name) { return face.empty() || face == name; };
  if (const auto* box = std::get_if<model::Box>(&shape)) {
    static constexpr const char* names[3][2] = {{"-x", "+x"}, {"-y", "+y"}, {"-z", "+z"}};
    for (int axis = 0; axis < 3; ++axis)
      for (int side = 0; side < 2; ++side)
        if (wants(names[axis][side])) add_box_face(sheets, box->center, box->size, pose, axis, side == 1 ? 1 : -1);
    return true;
  }
  if (const auto* panel = std::get_if<model::Panel>(&shape)) {
    const Vec3 size(panel->size.x(), panel->size.y(), panel->thickness);
    if (wants("front")) add_box_face(sheets, Vec3::Zero(), size, pose, 2, 1);
    if (wants("back")) add_box_face(sheets, Vec3::Zero(), size, pose, 2, -1);
    if (face.empty())
      for (int axis = 0; axis < 2; ++axis)
        for (const int sign : {-1, 1}) add_box_face(sheets, Vec3::Zero(), size, pose, axis, sign);
    return true;
  }
  const auto frustum = [&](const Vec3& from, const Vec3& to, double r0, double r1) {
    const Vec3 a = pose * from, b = pose * to;
    if (wants("side")) sheets.push_back(std::make_unique<SideSheet>(a, b, r0, r1));
    if (wants("from") && r0 > 0) sheets.push_back(std::make_unique<DiscSheet>(a, a - b, r0));
    if (wants("to") && r1 > 0) sheets.push_back(std::make_unique<DiscSheet>(b, b - a, r1));
  };
  if (const auto* cylinder = std::get_if<model::Cylinder>(&shape)) {
    frustum(cylinder->from, cylinder->to, cylinder->radius, cylinder->radius);
    return true;
  }
  if (const auto* cone = std::get_if<model::Cone>(&shape)) {
    frustum(cone->from, cone->to, cone->radius_from, cone->radius_to);
    return true;
  }
  if (const auto* ball = std::get_if<model::Sphere>(&shape)) {
    sheets.push_back(std::make_unique<BallSheet>(pose * ball->center, ball->radius));
    return true;
  }
  if (const auto* dish = std::get_if<model::Dish>(&shape)) {
    if (wants("inside")) sheets.push_back(std::make_unique<DishSheet>(*dish, pose, true));
    if (wants("outside")) sheets.push_back(std::make_unique<DishSheet>(*dish, pose, false));
    return true;
  }
  return false;
}

/// Halved at its longest edge until none is longer than that: one cell of a long thin one would stand for too much.
void add_triangle(Sheets& sheets, const std::array<Vec3, 3>& t, double longest_m) {
  std::size_t longest = 0;
  for (std::size_t e = 1; e < 3; ++e)
    if ((t[(e + 1) % 3] - t[e]).norm() > (t[(longest + 1) % 3] - t[longest]).norm()) longest = e;
  const Vec3 &a = t[longest], &b = t[(longest + 1) % 3], &c = t[(longest + 2) % 3];
  if ((b - a).norm() <= longest_m) {
    sheets.push_back(std::make_unique<TriangleSheet>(a, b, c));
    return;
  }
  const Vec3 middle = (a + b) / 2;
  add_triangle(sheets, {a, middle, c}, longest_m);
  add_triangle(sheets, {middle, b, c}, longest_m);
}

}  // namespace

PatchCells::PatchCells(PatchCells&&) noexcept = default;
PatchCells::~PatchCells() = default;

PatchCells::PatchCells(const geometry::Scene& scene, const model::Patch& patch, std::size_t count)
    : scene_(&scene), lift_m_(off_surface_m) {
  const auto& structure = scene.structure();
  const model::Pose pose = structure.frame_of(patch.part, scene.configuration());
  if (const auto* disc = std::get_if<model::PatchDisc>(&patch.area)) {
    sheets_.push_back(std::make_unique<DiscSheet>(pose * disc->center, pose.linear() * disc->normal, disc->radius));
    both_sides_ = disc->both_sides;
  } else {
    const auto* named = std::get_if<model::PatchFace>(&patch.area);
    const auto& shape = structure.parts[patch.part->index()].shape;
    const bool is_tessellated =
        std::holds_alternative<model::Dish>(shape) || std::holds_alternative<model::Truss>(shape);
    if (is_tessellated) lift_m_ += geometry::SceneOptions{}.chord_error_m;
    if (!add_faces(sheets_, shape, pose, named ? named->face : "")) {
      const auto mesh = scene.part_mesh(*patch.part);
      double mesh_m2 = 0;
      for (const auto& t : mesh.triangles)
        mesh_m2 +=
            (mesh.vertices[t[1]] - mesh.vertices[t[0]]).cross(mesh.vertices[t[2]] - mesh.vertices[t[0]]).norm() / 2;
      const double longest_m = std::max(1e-3, 4 * std::sqrt(mesh_m2 / static_cast<double>(count)));
      for (const auto& t : mesh.triangles)
        add_triangle(sheets_, {mesh.vertices[t[0]], mesh.vertices[t[1]], mesh.vertices[t[2]]}, longest_m);
      std::erase_if(sheets_, [](const auto& sheet) { return sheet->area_m2() < 1e-12; });
      for (const auto& report : scene.mesh_reports())
        if (report.part == *patch.part && report.open_shells > 0) both_sides_ = true;
    }
  }
  // What a disc lies on is its own part, named or not.
  std::optional<model::PartId> own = patch.part;
  geometry::Bounds bounds;
  for (const auto& sheet : sheets_)
    for (const double u : {0.0, 0.25, 0.5, 0.75, 1.0})
      for (const double v : {0.0, 0.5, 1.0}) bounds.extend(sheet->at(u, v).at);
  if (sheets_.empty()) return;
  const Vec3 center = (bounds.min + bounds.max) / 2;
  const double around_m = (bounds.max - bounds.min).norm() + 0.01;
  if (const auto* disc = std::get_if<model::PatchDisc>(&patch.area); disc && !own)
    if (const auto nearest = scene.find_nearest(pose * disc->center, off_surface_m)) own = nearest->part;
  // A disc on a dish lies among its triangles, some of which stand out farther than it does.
  if (own && std::holds_alternative<model::PatchDisc>(patch.area) &&
      std::holds_alternative<model::Dish>(structure.parts[own->index()].shape))
    lift_m_ += geometry::SceneOptions{}.chord_error_m;
  for (std::size_t p = 0; p < structure.parts.size(); ++p) {
    const model::PartId part(p);
    if (part != own && structure.is_present(part, scene.configuration()) &&
        scene.distance_to_part(part, center, around_m) < around_m)
      neighbours_.push_back(part);
  }
  double whole = 0;
  for (const auto& sheet : sheets_) whole += sheet->area_m2();
  double covered = 0;
  for (std::uint32_t s = 0; s < sheets_.size(); ++s) {
    // Near-square cells; of long thin pieces more than their share, so that none is far longer than the others.
    const double share = static_cast<double>(count) * sheets_[s]->area_m2() / whole;
    const double longest_m = 4 * std::sqrt(whole / static_cast<double>(count));
    const auto [along_u, along_v] = extent(*sheets_[s]);
    const double aspect = along_v > 0 ? along_u / along_v : 1;
    const auto nu =
        static_cast<int>(std::max({1.0, std::round(std::sqrt(share * aspect)), std::ceil(along_u / longest_m)}));
    const auto nv = static_cast<int>(std::max({1.0, std::ceil(share / nu - 1e-9), std::ceil(along_v / longest_m)}));
    for (int i = 0; i < nu; ++i)
      for (int j = 0; j < nv; ++j) {
        Cell cell = make(s, static_cast<double>(i) / nu, static_cast<double>(i + 1) / nu, static_cast<double>(j) / nv,
                         static_cast<double>(j + 1) / nv);
        (cell.is_covered ? covered : area_m2_) += cell.area_m2;
        if (!cell.is_covered) middle_ += cell.area_m2 * cell.at, mean_normal_ += cell.area_m2 * cell.normal;
        cells_.push_back(cell);
      }
  }
  covered_fraction_ = covered / (covered + area_m2_);
  if (area_m2_ <= 0) return;
  middle_ /= area_m2_, mean_normal_ /= area_m2_;
  is_flat_ = true;
  for (const auto& cell : cells_) {
    if (cell.is_covered) continue;
    around_m_ = std::max(around_m_, (cell.at - middle_).norm());
    is_flat_ = is_flat_ && (cell.normal - mean_normal_).norm() < 1e-9 &&
               std::abs((cell.at - middle_).dot(mean_normal_)) < 1e-9;
  }
}

Cell PatchCells::make(std::uint32_t s, double u0, double u1, double v0, double v1) const {
  const Sheet& sheet = *sheets_[s];
  const auto point = sheet.at((u0 + u1) / 2, (v0 + v1) / 2);
  Cell cell{.at = point.at,
            .normal = point.normal,
            .area_m2 = sheet.area_m2() * (u1 - u0) * (v1 - v0),
            .sheet = s,
            .u0 = u0,
            .u1 = u1,
            .v0 = v0,
            .v1 = v1};
  for (const double u : {u0, (u0 + u1) / 2, u1})
    for (const double v : {v0, (v0 + v1) / 2, v1})
      cell.radius_m = std::max(cell.radius_m, (sheet.at(u, v).at - cell.at).norm());
  cell.is_covered = std::any_of(neighbours_.begin(), neighbours_.end(), [&](model::PartId part) {
    return scene_->distance_to_part(part, cell.at, 1) <= off_surface_m;
  });
  return cell;
}

std::vector<Cell> PatchCells::cut(const Cell& cell) const {
  const double um = (cell.u0 + cell.u1) / 2, vm = (cell.v0 + cell.v1) / 2;
  return {make(cell.sheet, cell.u0, um, cell.v0, vm), make(cell.sheet, um, cell.u1, cell.v0, vm),
          make(cell.sheet, cell.u0, um, vm, cell.v1), make(cell.sheet, um, cell.u1, vm, cell.v1)};
}

namespace {

/// Cells by where they are, to find those near one.
class CellGrid {
 public:
  CellGrid(const std::vector<Cell>& cells, double width) : width_(width) {
    for (std::size_t c = 0; c < cells.size(); ++c) grid_[key(index(cells[c].at))].push_back(c);
  }
  template <class Visit>
  void near(const Vec3& p, double radius, Visit&& visit) const {
    const auto low = index(p - Vec3::Constant(radius)), high = index(p + Vec3::Constant(radius));
    for (long x = low[0]; x <= high[0]; ++x)
      for (long y = low[1]; y <= high[1]; ++y)
        for (long z = low[2]; z <= high[2]; ++z)
          if (const auto found = grid_.find(key({x, y, z})); found != grid_.end())
            for (const auto c : found->second) visit(c);
  }

 private:
  using Index = std::array<long, 3>;
  Index index(const Vec3& p) const {
    return {static_cast<long>(std::floor(p.x() / width_)), static_cast<long>(std::floor(p.y() / width_)),
            static_cast<long>(std::floor(p.z() / width_))};
  }
  static std::uint64_t key(const Index& i) {
    const auto part = [](long value) { return static_cast<std::uint64_t>(value + (1L << 20)) & 0x1fffff; };
    return part(i[0]) << 42 | part(i[1]) << 21 | part(i[2]);
  }
  double width_;
  std::unordered_map<std::uint64_t, std::vector<std::size_t>> grid_;
};

}  // namespace

Estimate estimate(const PatchCells& patch, const std::function<bool(const Cell&)>& verdict,
                  const EstimateOptions& options) {
  std::vector<Cell> cells;
  for (const auto& cell : patch.cells())
    if (!cell.is_covered) cells.push_back(cell);
  std::vector<char> holds(cells.size());
  for (std::size_t c = 0; c < cells.size(); ++c) holds[c] = verdict(cells[c]) ? 1 : 0;
  Estimate found;
  for (;;) {
    double area = 0, sure = 0, unsure = 0, widest = 0;
    for (const auto& cell : cells) area += cell.area_m2, widest = std::max(widest, cell.radius_m);
    if (cells.empty() || area <= 0) return found;
    const CellGrid grid(cells, std::max(widest, 1e-6));
    std::vector<char> is_border(cells.size(), 0);
    for (std::size_t c = 0; c < cells.size(); ++c) {
      grid.near(cells[c].at, cells[c].radius_m + widest, [&](std::size_t other) {
        if (holds[other] == holds[c] || is_border[c] != 0) return;
        // Round an edge of the body, or on the other side of a sheet, is no neighbour.
        if (cells[c].normal.dot(cells[other].normal) <= 1e-9) return;
        if ((cells[c].at - cells[other].at).norm() <= cells[c].radius_m + cells[other].radius_m) is_border[c] = 1;
      });
      if (is_border[c] != 0)
        unsure += cells[c].area_m2;
      else if (holds[c] != 0)
        sure += cells[c].area_m2;
    }
    found.low = sure / area, found.high = std::min(1.0, (sure + unsure) / area);
    found.cells = cells.size(), found.cell_m = 2 * widest;
    if (found.high - found.low <= options.tolerance || cells.size() >= options.most_cells) break;
    // The largest border cells first, so that the budget is not spent on what is small already.
    double largest = 0;
    for (std::size_t c = 0; c < cells.size(); ++c)
      if (is_border[c] != 0) largest = std::max(largest, cells[c].area_m2);
    std::vector<Cell> next;
    std::vector<char> next_holds;
    for (std::size_t c = 0; c < cells.size(); ++c) {
      const std::size_t room = options.most_cells - std::min(options.most_cells, next.size() + (cells.size() - c));
      if (is_border[c] == 0 || cells[c].area_m2 < largest / 2 || room < 3) {
        next.push_back(cells[c]), next_holds.push_back(holds[c]);
        continue;
      }
      for (const auto& piece : patch.cut(cells[c])) {
        if (piece.is_covered) continue;
        next.push_back(piece), next_holds.push_back(verdict(piece) ? 1 : 0);
      }
    }
    if (next.size() <= cells.size()) break;  // no room left to cut
    cells = std::move(next), holds = std::move(next_holds);
  }
  for (std::size_t c = 0; c < cells.size(); ++c) {
    if (holds[c] == 0) continue;
    found.seen_m2 += cells[c].area_m2;
    found.seen.push_back(cells[c]);
  }
  return found;
}

}  // namespace holdfast::reach
