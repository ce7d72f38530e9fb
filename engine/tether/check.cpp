#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <map>

#include "trail_impl.h"

namespace holdfast::tether {

using detail::Step;
using graph::HandrailGraph;
using model::PartId;
using search::Hook;

namespace {

/// Zones for tethers that hold.
std::vector<model::ZoneId> tether_zones(const HandrailGraph& graph) {
  std::vector<model::ZoneId> zones;
  const auto& list = graph.structure().zones;
  for (std::size_t z = 0; z < list.size(); ++z)
    if (list[z].applies.tether && list[z].when.holds(graph.scene().configuration())) zones.emplace_back(z);
  return zones;
}

/// Follows the way with a reel that keeps the line taut.
class Follower {
 public:
  Follower(const HandrailGraph& graph, const model::Tether& tether, Hook anchor)
      : graph_(graph),
        tether_(tether),
        hook_(std::move(anchor)),
        reel_(graph.scene(), hook_.line_end),
        zones_(tether_zones(graph)) {}

  void follow(const std::vector<Step>& steps) {
    double row_most = 0;
    for (const Step& step : steps) {
      gone_ += lines.empty() ? (step.body - hook_.line_end).norm() : step.way_m;
      const TautLine& line = step.through.empty() ? reel_.line() : reel_.go(step.through);
      lines.push_back(detail::points_of(line));
      row_most = std::max(row_most, line.length_m);
      for (const auto& name : step.swaps) hook_anew(name, step);
      if (!step.ends_row) continue;
      mark(step, std::max(row_most, reel_.line().length_m));
      row_most = 0;
    }
  }

  std::vector<LineMark> marks;
  std::vector<std::vector<Vec3>> lines;  ///< after each step
  struct Stay {
    Hook hook;
    double most_m;
    std::size_t first_mark;
  };
  /// Hooks with what is out from them at most.
  [[nodiscard]] std::vector<Stay> stays() const {
    auto all = stays_;
    all.push_back({hook_, stay_most_, stay_first_});
    return all;
  }

 private:
  void hook_anew(const std::string& name, const Step& step) {
    stays_.push_back({hook_, std::max(stay_most_, reel_.line().length_m), stay_first_});
    hook_ = detail::hook_at_start(graph_, tether_, name, step);
    reel_ = Reel(graph_.scene(), hook_.line_end);
    reel_.go(std::array{step.body});
    gone_ = (step.body - hook_.line_end).norm();
    stay_most_ = 0, stay_first_ = marks.size();
  }

  void mark(const Step& step, double most_m) {
    LineMark mark;
    const TautLine& line = reel_.line();
    mark.at = step.at;
    mark.rail = step.rail, mark.hand = step.hand, mark.at_s = step.at_s;
    mark.hook = hook_.name;
    mark.gone_m = gone_;
    mark.taut_m = line.length_m;
    mark.most_m = most_m;
    mark.is_within = most_m <= tether_.length_m;
    mark.line = detail::points_of(line);
    mark.bears_on = detail::bearings_of(graph_.scene(), line);
    for (const auto zone : zones_)
      for (std::size_t i = 1; i < mark.line.size(); ++i)
        if (graph_.scene().zone_hull_distance(zone, std::array{mark.line[i - 1], mark.line[i]}, 0.01) <= 0) {
          mark.zones.push_back(zone);
          break;
        }
    stay_most_ = std::max(stay_most_, most_m);
    marks.push_back(std::move(mark));
  }

  const HandrailGraph& graph_;
  const model::Tether& tether_;
  Hook hook_;
  Reel reel_;
  const std::vector<model::ZoneId> zones_;
  double gone_ = 0;
  std::vector<Stay> stays_;
  double stay_most_ = 0;
  std::size_t stay_first_ = 0;
};

/// Does a straight line from the hook reach the part? Looked for on points of its surface, 0.25 m apart at most.
bool is_in_sight(const geometry::Scene& scene, const Vec3& eye, PartId part, double within_m) {
  const auto sees = [&](const Vec3& p) {
    const double distance = (p - eye).norm();
    if (distance > within_m) return false;
    if (distance < line_clear_m) return true;
    const auto hit = scene.find_first_hit(eye, (p - eye) / distance, distance - 1e-4);
    return !hit || hit->part == part;
  };
  if (const auto near = scene.find_nearest_on_part(part, eye, within_m); near && sees(near->point)) return true;
  const auto mesh = scene.part_mesh(part);
  constexpr double spacing_m = 0.25;
  for (const auto& triangle : mesh.triangles) {
    const Vec3 a = mesh.vertices[triangle[0]], ab = mesh.vertices[triangle[1]] - a, ac = mesh.vertices[triangle[2]] - a;
    const double longest = std::max({ab.norm(), ac.norm(), (ab - ac).norm()});
    const int n = std::clamp(static_cast<int>(std::ceil(longest / spacing_m)), 1, 64);
    for (int i = 0; i <= n; ++i)
      for (int k = 0; k + i <= n; ++k)
        if (sees(a + (static_cast<double>(i) / n) * ab + (static_cast<double>(k) / n) * ac)) return true;
  }
  return false;
}

std::vector<SwingItem> find_swing(const HandrailGraph& graph, const Follower& follower) {
  std::vector<SwingItem> items;
  const auto& structure = graph.structure();
  for (const auto& stay : follower.stays())
    for (std::size_t p = 0; p < structure.parts.size(); ++p) {
      const auto& part = structure.parts[p];
      if (!(part.fragile || part.no_touch) || !structure.is_present(PartId(p), graph.scene().configuration())) continue;
      const double distance = graph.scene().distance_to_part(PartId(p), stay.hook.line_end, stay.most_m + 1);
      if (distance > stay.most_m) continue;
      SwingItem item{PartId(p), stay.hook.name, distance, false, stay.first_mark, part.fragile, part.no_touch};
      item.is_in_sight = is_in_sight(graph.scene(), stay.hook.line_end, PartId(p), stay.most_m);
      while (item.from_mark + 1 < follower.marks.size() && follower.marks[item.from_mark].most_m < distance)
        ++item.from_mark;
      items.push_back(std::move(item));
    }
  std::stable_sort(items.begin(), items.end(),
                   [](const SwingItem& x, const SwingItem& y) { return x.distance_m < y.distance_m; });
  return items;
}

/// The legs of ways before a station: the way out of ways that come back.
std::vector<search::GivenWay> legs_before(std::vector<search::GivenWay> ways, const Station& at) {
  ways.resize(at.leg > 0 ? at.way + 1 : at.way);
  if (at.leg > 0) ways.back().legs.resize(at.leg);
  return ways;
}

}  // namespace

TetherCheck check_tether(const HandrailGraph& graph, const search::Profile& profile, const TetherQuestion& question) {
  model::ensure(question.tether && !question.ways.empty(), "a tether is checked along a way");
  TetherCheck check;
  search::RouteRequest asked;
  asked.from = question.ways.front().legs.front().from, asked.to = question.ways.back().legs.back().to;
  check.head = search::begin_answer(graph, profile, asked);
  check.head.request.tether = question.tether->id, check.head.request.anchor = question.anchor;
  check.head.used.push_back({"length of tether " + question.tether->id, "m", question.tether->length_m});
  check.tether = question.tether;
  for (const auto& way : question.ways) check.ways.push_back(way.name);

  const auto routes = detail::follow(graph, profile, question.ways);
  const auto steps = detail::steps_of(graph, routes, question.ways, profile.suit);
  check.anchor = detail::hook_at_start(graph, *question.tether, question.anchor, steps.front());
  Follower follower(graph, *question.tether, check.anchor);
  follower.follow(steps);
  check.swing = find_swing(graph, follower);
  check.marks = std::move(follower.marks);
  for (std::size_t m = 0; m < check.marks.size(); ++m) {
    check.most_m = std::max(check.most_m, check.marks[m].most_m);
    if (!check.marks[m].is_within && !check.fails_at) check.fails_at = m;
  }
  const bool has_swaps = std::any_of(steps.begin(), steps.end(), [](const Step& s) { return !s.swaps.empty(); });
  const std::size_t turn = detail::turn_of(steps);
  const bool is_same_place = asked.from == asked.to;
  const auto closing = has_swaps ? std::nullopt : detail::closing_of(graph, check.anchor, steps, is_same_place);
  if (closing) check.loop = detail::close_loop(graph, *closing, steps, turn);
  check.is_left_open = is_same_place && !has_swaps && !closing;
  if (question.wants_clean_return) {
    const auto out = closing || is_same_place ? legs_before(question.ways, steps[turn].at) : question.ways;
    check.clean_return =
        detail::find_clean_return(graph, profile, check.anchor, out, detail::follow(graph, profile, out));
  }
  if (question.other_tether) {
    check.head.used.push_back({"length of tether " + question.other_tether->id, "m", question.other_tether->length_m});
    const auto other_routes = detail::follow(graph, profile, question.other_ways);
    const auto other_steps = detail::steps_of(graph, other_routes, question.other_ways, profile.suit);
    Follower other(graph, *question.other_tether,
                   detail::hook_at_start(graph, *question.other_tether, question.other_anchor, other_steps.front()));
    other.follow(other_steps);
    check.crossings = detail::find_crossings({steps, std::move(follower.lines)}, {other_steps, std::move(other.lines)});
  }
  return check;
}

}  // namespace holdfast::tether
