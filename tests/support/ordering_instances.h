// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// Published ordering instances (tests/data/ordering) as problems of the search over orders.

#include <cmath>
#include <fstream>
#include <sstream>
#include <stdexcept>
#include <string>
#include <vector>

#include "holdfast/plan/ordering.h"

namespace holdfast::plan::instances {

/// Legs from a matrix: task t is at node `node_of[t]`. What a leg takes is also its moves where `moves_too`.
class MatrixTravel : public Travel {
 public:
  std::vector<std::vector<std::int64_t>> cost;
  std::vector<int> node_of;
  int start = 0, home = 0;
  bool moves_too = false;

  [[nodiscard]] std::optional<Arrival> arrive(int, int state, ItemSet, int task) const override {
    return leg(state, node_of[static_cast<std::size_t>(task)]);
  }
  [[nodiscard]] std::optional<Arrival> come_home(int, int state, ItemSet) const override { return leg(state, home); }
  [[nodiscard]] std::optional<LegBound> lower_bound(int from, int to) const override {
    const auto a = leg(from == order_start ? start : node_of[static_cast<std::size_t>(from)],
                       to == order_home ? home : node_of[static_cast<std::size_t>(to)]);
    return LegBound{a.time_us, a.moves};
  }

 private:
  [[nodiscard]] Arrival leg(int a, int b) const {
    const std::int64_t c = cost[static_cast<std::size_t>(a)][static_cast<std::size_t>(b)];
    return {c, moves_too ? static_cast<int>(c) : 0, b};
  }
};

struct Instance {
  OrderProblem problem;
  MatrixTravel travel;
};

inline std::ifstream open_instance(const std::string& path) {
  std::ifstream in(path);
  if (!in) throw std::runtime_error("cannot open " + path);
  return in;
}

inline std::vector<std::vector<std::int64_t>> read_matrix(std::istream& in, std::size_t n) {
  std::vector<std::vector<std::int64_t>> m(n, std::vector<std::int64_t>(n));
  for (auto& row : m)
    for (auto& x : row)
      if (!(in >> x)) throw std::runtime_error("a matrix is too short");
  return m;
}

/// TSPLIB, full matrix; sequential ordering (path from first to last node) or a closed tour of an asymmetric matrix.
inline Instance read_tsplib(const std::string& path, bool is_tour) {
  auto in = open_instance(path);
  std::string line;
  std::size_t n = 0;
  while (std::getline(in, line) && line.find("EDGE_WEIGHT_SECTION") == std::string::npos)
    if (line.rfind("DIMENSION", 0) == 0) n = std::stoul(line.substr(line.find(':') + 1));
  if (!is_tour) in >> n;
  Instance instance;
  auto& travel = instance.travel;
  travel.cost = read_matrix(in, n);
  const int last = static_cast<int>(n) - (is_tour ? 0 : 1);
  travel.home = is_tour ? 0 : last;
  for (int node = 1; node < last; ++node) {
    travel.node_of.push_back(node);
    OrderTask task;
    for (int before = 1; before < last; ++before)
      if (!is_tour && travel.cost[static_cast<std::size_t>(node)][static_cast<std::size_t>(before)] == -1)
        task.after.push_back(before - 1);
    instance.problem.tasks.push_back(task);
  }
  for (auto& row : travel.cost)
    for (auto& c : row)
      if (c < 0) c = 1'000'000;  // never taken: precedence forbids it
  instance.problem.crew = {{.state = 0}};
  return instance;
}

/// One tour with time windows; the cost is travel without waiting, here the moves.
inline Instance read_windows(const std::string& path) {
  auto in = open_instance(path);
  std::size_t n = 0;
  in >> n;
  Instance instance;
  instance.travel.cost = read_matrix(in, n);
  instance.travel.moves_too = true;
  for (std::size_t node = 0; node < n; ++node) {
    OrderWindow window;
    in >> window.open_us >> window.close_us;
    if (node == 0) {
      instance.problem.limit_us = window.close_us;
      continue;
    }
    instance.travel.node_of.push_back(static_cast<int>(node));
    OrderTask task;
    task.windows = {window};
    instance.problem.tasks.push_back(task);
  }
  instance.problem.crew = {{.state = 0}};
  instance.problem.goal = Goal::Moves;
  return instance;
}

/// Orienteering of one or two. `is_team`: first point start, last end, header n, m, tmax; else first start, second end,
/// header tmax. Lengths in millionths, to the nearest.
inline Instance read_orienteering(const std::string& path, bool is_team) {
  auto in = open_instance(path);
  Instance instance;
  std::string word;
  int persons = 1;
  double limit = 0, ignored = 0;
  if (is_team)
    in >> word >> ignored >> word >> persons >> word >> limit;
  else
    in >> limit >> ignored;
  struct Point {
    double x, y;
    std::int64_t score;
  };
  std::vector<Point> points;
  for (Point p{}; in >> p.x >> p.y >> p.score;) points.push_back(p);
  const std::size_t n = points.size();
  auto& travel = instance.travel;
  travel.cost.assign(n, std::vector<std::int64_t>(n));
  for (std::size_t a = 0; a < n; ++a)
    for (std::size_t b = 0; b < n; ++b)
      travel.cost[a][b] = std::llround(1e6 * std::hypot(points[a].x - points[b].x, points[a].y - points[b].y));
  travel.home = is_team ? static_cast<int>(n) - 1 : 1;
  instance.problem.limit_us = std::llround(1e6 * limit);
  for (int node = 1; node < static_cast<int>(n); ++node) {
    if (node == travel.home) continue;
    travel.node_of.push_back(node);
    OrderTask task;
    task.standing = Standing::Optional;
    task.gain = points[static_cast<std::size_t>(node)].score;
    instance.problem.tasks.push_back(task);
  }
  instance.problem.crew.assign(static_cast<std::size_t>(persons), {.state = 0});
  return instance;
}

}  // namespace holdfast::plan::instances
