// SPDX-License-Identifier: GPL-3.0-or-later
// The convex problem in pulling a line taut, against closed forms and against Ipopt (Debian's coinor-libipopt), an
// interior-point solver that shares nothing with it.
#include "shortest_within_impl.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <coin/IpIpoptApplication.hpp>
#include <coin/IpTNLP.hpp>
#include <random>

namespace holdfast::tether::detail {
namespace {

double length(const std::vector<Vec3>& points) {
  double sum = 0;
  for (std::size_t i = 1; i < points.size(); ++i) sum += (points[i] - points[i - 1]).norm();
  return sum;
}

/// Pulled again from where it came to lie, as long as it gets shorter.
std::vector<Vec3> pull_until_still(std::vector<Vec3> points, const std::vector<std::vector<Plane>>& planes,
                                   const std::vector<char>& is_held) {
  for (int call = 0; call < 30; ++call) {
    auto next = shorten_within(points, planes, is_held);
    const bool is_still = softened_length(next) > softened_length(points) - 1e-7;
    points = std::move(next);
    if (is_still) break;
  }
  return points;
}

/// The same problem as Ipopt takes it: coordinates of the points that may move, a linear constraint for each end of a
/// piece and plane.
class Problem : public Ipopt::TNLP {
 public:
  using Index = Ipopt::Index;
  using Number = Ipopt::Number;

  Problem(std::vector<Vec3> points, const std::vector<std::vector<Plane>>& planes, const std::vector<char>& is_held)
      : points_(std::move(points)) {
    for (std::size_t k = 0; k < points_.size(); ++k) {
      const bool is_fixed = k == 0 || k + 1 == points_.size() || is_held[k];
      at_.push_back(is_fixed ? -1 : 3 * moving_++);
    }
    for (std::size_t i = 0; i < planes.size(); ++i)
      for (const Plane& plane : planes[i])
        for (const std::size_t k : {i, i + 1})
          if (at_[k] >= 0) rows_.push_back({k, plane});
  }

  bool get_nlp_info(Index& n, Index& m, Index& jacobian, Index& hessian, IndexStyleEnum& style) override {
    n = 3 * moving_, m = static_cast<Index>(rows_.size()), jacobian = 3 * m, style = C_STYLE;
    hessian = 0;
    for_each_second_derivative(points_, [&](Index, Index, double) { ++hessian; });
    return true;
  }
  bool get_bounds_info(Index n, Number* x_low, Number* x_high, Index m, Number* g_low, Number* g_high) override {
    std::fill_n(x_low, n, -2e19), std::fill_n(x_high, n, 2e19), std::fill_n(g_high, m, 2e19);
    for (Index r = 0; r < m; ++r) g_low[r] = rows_[static_cast<std::size_t>(r)].plane.offset;
    return true;
  }
  bool get_starting_point(Index, bool, Number* x, bool, Number*, Number*, Index, bool, Number*) override {
    for (std::size_t k = 0; k < points_.size(); ++k)
      if (at_[k] >= 0) Eigen::Map<Vec3>(x + at_[k]) = points_[k];
    return true;
  }
  bool eval_f(Index, const Number* x, bool, Number& value) override {
    value = softened_length(at(x));
    return true;
  }
  bool eval_grad_f(Index n, const Number* x, bool, Number* gradient) override {
    std::fill_n(gradient, n, 0);
    const auto y = at(x);
    for (std::size_t i = 0; i + 1 < y.size(); ++i) {
      const Vec3 piece = y[i + 1] - y[i];
      const Vec3 pull = piece / std::hypot(piece.norm(), softness_m) + evenness / piece_m * piece;
      if (at_[i] >= 0) Eigen::Map<Vec3>(gradient + at_[i]) -= pull;
      if (at_[i + 1] >= 0) Eigen::Map<Vec3>(gradient + at_[i + 1]) += pull;
    }
    return true;
  }
  bool eval_g(Index, const Number* x, bool, Index m, Number* g) override {
    for (Index r = 0; r < m; ++r) {
      const auto& [point, plane] = rows_[static_cast<std::size_t>(r)];
      g[r] = plane.normal.dot(Eigen::Map<const Vec3>(x + at_[point]));
    }
    return true;
  }
  bool eval_jac_g(Index, const Number*, bool, Index m, Index, Index* row, Index* column, Number* values) override {
    for (Index r = 0; r < m; ++r)
      for (Index axis = 0; axis < 3; ++axis) {
        const auto& [point, plane] = rows_[static_cast<std::size_t>(r)];
        if (values) {
          values[3 * r + axis] = plane.normal[axis];
        } else {
          row[3 * r + axis] = r, column[3 * r + axis] = at_[point] + axis;
        }
      }
    return true;
  }
  bool eval_h(Index, const Number* x, bool, Number factor, Index, const Number*, bool, Index, Index* row, Index* column,
              Number* values) override {
    Index entry = 0;  // entries of the same place are added up
    for_each_second_derivative(values ? at(x) : points_, [&](Index r, Index c, double value) {
      if (values) {
        values[entry++] = factor * value;
      } else {
        row[entry] = r, column[entry++] = c;
      }
    });
    return true;
  }
  void finalize_solution(Ipopt::SolverReturn, Index, const Number* x, const Number*, const Number*, Index,
                         const Number*, const Number*, Number, const Ipopt::IpoptData*,
                         Ipopt::IpoptCalculatedQuantities*) override {
    points_ = at(x);
  }

  [[nodiscard]] const std::vector<Vec3>& points() const { return points_; }
  [[nodiscard]] std::size_t constraints() const { return rows_.size(); }

 private:
  /// Lower triangle of the second derivatives of `softened_length`, piece by piece.
  template <class Visit>
  void for_each_second_derivative(const std::vector<Vec3>& y, const Visit& visit) const {
    for (std::size_t i = 0; i + 1 < y.size(); ++i) {
      const Vec3 piece = y[i + 1] - y[i];
      const double len = std::hypot(piece.norm(), softness_m);
      const Eigen::Matrix3d bend = (Eigen::Matrix3d::Identity() - piece * piece.transpose() / (len * len)) / len +
                                   evenness / piece_m * Eigen::Matrix3d::Identity();
      for (Index a = 0; a < 3; ++a)
        for (Index b = 0; b < 3; ++b) {
          for (const std::size_t k : {i, i + 1})
            if (at_[k] >= 0 && b <= a) visit(at_[k] + a, at_[k] + b, bend(a, b));
          if (at_[i] >= 0 && at_[i + 1] >= 0) visit(at_[i + 1] + a, at_[i] + b, -bend(a, b));
        }
    }
  }
  std::vector<Vec3> at(const Number* x) const {
    auto y = points_;
    for (std::size_t k = 0; k < y.size(); ++k)
      if (at_[k] >= 0) y[k] = Eigen::Map<const Vec3>(x + at_[k]);
    return y;
  }
  struct Row {
    std::size_t point;
    Plane plane;
  };
  std::vector<Vec3> points_;
  std::vector<Index> at_;  // of the point's first coordinate; -1: it does not move
  std::vector<Row> rows_;
  Index moving_ = 0;
};

TEST(ShortestWithin, WithoutPlanesTheLineIsStraight) {
  const std::vector<Vec3> bent = {{0, 0, 0}, {0.3, 0.5, 0}, {0.9, -0.4, 0.6}, {1.2, 0, 0}};
  const auto line = shorten_within(bent, std::vector<std::vector<Plane>>(3), std::vector<char>(4, 0));
  EXPECT_NEAR(length(line), 1.2, 1e-6);
  for (const Vec3& p : line) EXPECT_LT(std::hypot(p.y(), p.z()), 1e-3);
}

// Both ends stand 1 m below a ridge and 1 m to either side of it: the line goes over it by the slopes y >= 1 -+ x.
TEST(ShortestWithin, OverARidgeTheLineLiesOnBothSlopes) {
  const Vec3 left = Vec3(-1, 1, 0).normalized(), right = Vec3(1, 1, 0).normalized();
  const double off = std::sqrt(0.5);
  std::vector<Vec3> points;
  for (int i = 0; i <= 8; ++i) {
    const double x = -1 + 0.25 * i;
    points.emplace_back(x, 1.2 - std::abs(x), 0.1 * (i % 2));
  }
  points.front() = {-1.001, 0.001, 0}, points.back() = {1.001, 0.001, 0};
  std::vector<std::vector<Plane>> planes(8);
  for (std::size_t i = 0; i < 8; ++i) planes[i] = {i < 4 ? Plane{left, off} : Plane{right, off}};
  const auto line = shorten_within(points, planes, std::vector<char>(9, 0));
  EXPECT_NEAR(length(line), 2 * std::sqrt(2.0), 4e-3);  // the ends stand 1 mm off the slopes
  EXPECT_GT(line[4].y(), 1.0);
}

TEST(ShortestWithin, PulledAgainItIsTheLeastThatIpoptFindsAndKeepsOutsideThePlanes) {
  auto ipopt = Ipopt::SmartPtr<Ipopt::IpoptApplication>(new Ipopt::IpoptApplication(false));
  ipopt->Options()->SetNumericValue("tol", 1e-8);
  ipopt->Options()->SetIntegerValue("max_iter", 150);
  ipopt->Options()->SetIntegerValue("print_level", 0);
  ASSERT_EQ(ipopt->Initialize(), Ipopt::Solve_Succeeded);
  std::size_t compared = 0, bent = 0;
  for (unsigned seed = 1; seed <= 20; ++seed) {
    SCOPED_TRACE(seed);
    std::mt19937 random(seed);
    std::uniform_real_distribution<double> share(0, 1);
    std::normal_distribution<double> normal;
    const std::size_t n = 4 + random() % 10;
    std::vector<Vec3> points;
    for (std::size_t i = 0; i < n; ++i)
      points.emplace_back(0.25 * static_cast<double>(i), 0.15 * normal(random), 0.15 * normal(random));
    std::vector<std::vector<Plane>> planes(n - 1);
    for (std::size_t i = 0; i + 1 < n; ++i)
      for (unsigned count = random() % 3; count > 0; --count) {
        const Vec3 outward = Vec3(0.2 * normal(random), normal(random), normal(random)).normalized();
        const double lowest = std::min(outward.dot(points[i]), outward.dot(points[i + 1]));
        planes[i].push_back({outward, lowest - 0.001 - 0.05 * share(random)});
      }
    std::vector<char> is_held(n, 0);
    for (auto& held : is_held) held = random() % 10 == 0;

    const auto line = pull_until_still(points, planes, is_held);
    auto problem = Ipopt::SmartPtr<Problem>(new Problem(points, planes, is_held));
    const auto status = ipopt->OptimizeTNLP(Ipopt::SmartPtr<Ipopt::TNLP>(GetRawPtr(problem)));
    const bool is_solved = status == Ipopt::Solve_Succeeded || status == Ipopt::Solved_To_Acceptable_Level;

    for (std::size_t i = 0; i + 1 < n; ++i)
      for (const Plane& plane : planes[i])
        for (const std::size_t k : {i, i + 1})
          EXPECT_GT(plane.normal.dot(line[k]), plane.offset - (is_held[k] ? 1e-12 : 0));
    for (std::size_t k = 0; k < n; ++k)
      if (k == 0 || k + 1 == n || is_held[k]) {
        EXPECT_EQ(line[k], points[k]);
      }
    const double ours = softened_length(line), least = softened_length(problem->points());
    EXPECT_LT(ours, softened_length(points) + 1e-12);
    if (!is_solved) continue;
    // Ipopt may step over a plane by its tolerance, relative 1e-8; we stay inside by the last barrier.
    EXPECT_GT(ours, least - 1e-5);
    EXPECT_LT(ours, least + 2e-6 * static_cast<double>(problem->constraints()) + 2e-5);
    ++compared;
    bent += ours > (points.back() - points.front()).norm() + 0.01;
  }
  EXPECT_GE(compared, 10u);  // Ipopt gives up on some
  EXPECT_GE(bent, 5u);       // the planes, or what is held, decide
}

}  // namespace
}  // namespace holdfast::tether::detail
