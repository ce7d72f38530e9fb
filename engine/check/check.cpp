// SPDX-License-Identifier: GPL-3.0-or-later
#include "holdfast/check/check.h"

#include <algorithm>
#include <boost/graph/adjacency_list.hpp>
#include <boost/graph/connected_components.hpp>
#include <cmath>
#include <map>
#include <numbers>
#include <set>

#include "behind_zones_impl.h"
#include "holdfast/geometry/point_tree.h"
#include "holdfast/geometry/polyline.h"
#include "holdfast/route/cuts.h"
#include "worksites_impl.h"

namespace holdfast::check {

using graph::Grip;
using graph::GripId;
using graph::HandrailGraph;
using model::RailId;
using model::Vec3;

namespace {

constexpr double least_step_m = 0.005;

/// How a rail's line stands to the solids round it.
struct Standing {
  double inside_m = 0;                                       ///< length inside a solid
  double least_m = std::numeric_limits<double>::infinity();  ///< of what lies outside
  Vec3 least_at = Vec3::Zero();
};

/// Follows the rail's line. A step from a point that has d metres of room is d less the limit: distance is 1-Lipschitz,
/// so nothing nearer than the limit is stepped over; near the limit it is 5 mm.
Standing follow_rail(const geometry::Scene& scene, const model::Rail& rail, double limit_m) {
  const model::Pose pose = scene.structure().pose(rail.part, scene.configuration());
  Standing standing;
  const auto visit = [&](const Vec3& point, double& step) {
    const double room = scene.distance(point, limit_m + 0.25);
    step = std::max(least_step_m, room - limit_m);
    if (room > 0 && room < standing.least_m) standing.least_m = room, standing.least_at = point;
    return room <= 0;
  };
  double step = 0;
  visit(pose * rail.points.front(), step);
  for (std::size_t i = 0; i + 1 < rail.points.size(); ++i) {
    const Vec3 from = pose * rail.points[i], to = pose * rail.points[i + 1];
    const double length = (to - from).norm();
    for (double along = 0; along < length;) {
      const double next = std::min(length, along + step);
      const bool is_least_step = step <= least_step_m;  // a longer one goes no farther than there is room
      if (visit(from + next / length * (to - from), step) && is_least_step) standing.inside_m += next - along;
      along = next;
    }
  }
  return standing;
}

class Checker {
 public:
  Checker(const HandrailGraph& graph, const model::Kit& kit, const model::Suit& suit,
          const std::vector<model::Diagnostic>& notes)
      : graph_(graph),
        structure_(graph.structure()),
        scene_(graph.scene()),
        kit_(kit),
        design_(kit.design),
        suit_(suit),
        notes_(notes) {}

  CheckResult run() {
    result_.configuration = scene_.configuration();
    find_islands();
    summarise();
    check_islands();
    for (auto& finding : detail::find_rails_behind_zones(graph_, kit_, suit_, island_))
      result_.findings.push_back(std::move(finding));
    check_gaps();
    check_buried();
    check_rails();
    check_places();
    for (auto& finding : detail::find_worksite_faults(graph_, kit_, suit_))
      result_.findings.push_back(std::move(finding));
    for (const auto& report : scene_.mesh_reports())
      for (const auto& remark : report.remarks) {
        const auto& part = structure_.parts[report.part.index()];
        Finding finding = make(FindingKind::MeshDefect, Severity::Note, part.id, part.mark);
        finding.remark = remark;
        result_.findings.push_back(std::move(finding));
      }
    for (const auto& note : notes_) {
      Finding finding = make(FindingKind::IgnoredColumn, Severity::Note, note.value, note.mark);
      finding.remark = note.problem;
      result_.findings.push_back(std::move(finding));
    }
    rank();
    return std::move(result_);
  }

 private:
  static Finding make(FindingKind kind, Severity severity, std::string subject, const model::Mark& mark) {
    Finding finding;
    finding.kind = kind, finding.severity = severity;
    finding.subject = std::move(subject);
    finding.mark = mark;
    return finding;
  }

  /// A verdict that stands on a value from memory alone is a warning at most (rule of use of the standards table).
  static Severity severity_by(const model::Quantity& design) {
    return design.confidence == model::Confidence::Memory ? Severity::Warning : Severity::Error;
  }

  const model::Rail& rail_of(std::size_t grip) const { return structure_.rails[graph_.grips()[grip].rail.index()]; }

  void find_islands() {
    boost::adjacency_list<boost::vecS, boost::vecS, boost::undirectedS> open(graph_.grips().size());
    for (const auto& move : graph_.moves())
      if (move.is_open()) boost::add_edge(move.a.value, move.b.value, open);
    island_.resize(graph_.grips().size());
    islands_ = graph_.grips().empty() ? 0 : static_cast<std::size_t>(boost::connected_components(open, island_.data()));
  }

  void summarise() {
    auto& s = result_.summary;
    s.parts = structure_.parts.size(), s.places = structure_.places.size(), s.zones = structure_.zones.size();
    s.grips = graph_.grips().size(), s.moves = graph_.moves().size();
    s.primitives = scene_.primitive_count();
    for (const auto& move : graph_.moves()) s.open_moves += move.is_open() ? 1 : 0;
    for (std::size_t r = 0; r < structure_.rails.size(); ++r) {
      if (graph_.grips_of(RailId(r)).first == graph_.grips_of(RailId(r)).second) continue;
      ++s.rails;
      const auto& points = structure_.rails[r].points;
      for (std::size_t i = 0; i + 1 < points.size(); ++i) s.rail_length_m += (points[i + 1] - points[i]).norm();
    }
  }

  std::vector<std::size_t> grips_at(const model::Place& place) const {
    const auto& configuration = scene_.configuration();
    const Vec3 at = structure_.position(place, configuration);
    std::vector<std::size_t> grips;
    for (const auto grip : graph_.find_grips_within(at, place.within_m)) grips.push_back(grip.index());
    return grips;
  }

  bool is_present(const model::Place& place) const { return structure_.is_present(place, scene_.configuration()); }

  /// Rails from which no hatch is reached; without hatches, all but the largest island. Grips without a clear stance
  /// belong to none. One finding for all that lie within reach of each other, open or not: where the cut between them
  /// and the rest is mended, those that still are cut off are found next.
  void check_islands() {
    std::set<int> home;
    bool has_hatch = false;
    for (const auto& place : structure_.places)
      if (place.kind == model::PlaceKind::Hatch && is_present(place))
        for (const auto grip : grips_at(place))
          if (has_stance(grip)) has_hatch = true, home.insert(island_[grip]);
    if (!has_hatch && islands_ > 0) {
      std::vector<std::size_t> sizes(islands_);
      for (std::size_t g = 0; g < island_.size(); ++g)
        if (has_stance(g)) ++sizes[static_cast<std::size_t>(island_[g])];
      home.insert(static_cast<int>(std::max_element(sizes.begin(), sizes.end()) - sizes.begin()));
    }
    const auto is_home = [&](std::size_t g) { return has_stance(g) && home.count(island_[g]) > 0; };
    boost::adjacency_list<boost::vecS, boost::vecS, boost::undirectedS> near(graph_.grips().size());
    for (const auto& move : graph_.moves())
      if (!is_home(move.a.index()) && !is_home(move.b.index())) boost::add_edge(move.a.value, move.b.value, near);
    std::vector<int> group(graph_.grips().size());
    if (!group.empty()) boost::connected_components(near, group.data());

    std::map<int, std::vector<std::size_t>> away;
    std::set<int> islands;
    std::vector<GripId> at_home;
    standing_.clear(), standing_hands_.clear();
    for (std::size_t g = 0; g < island_.size(); ++g) {
      if (!has_stance(g)) continue;
      standing_.push_back(g), standing_hands_.push_back(graph_.grips()[g].hand);
      islands.insert(island_[g]);
      if (is_home(g))
        at_home.emplace_back(g);
      else
        away[group[g]].push_back(g);
    }
    result_.summary.islands = islands.size();
    if (away.empty()) return;
    std::vector<route::Cut> cuts;
    for (const auto& [of, grips] : away) {
      cuts.push_back({{}, at_home});
      for (const auto g : grips) cuts.back().from.emplace_back(g);
    }
    auto causes = route::explain_cuts(graph_, {.kit = kit_, .suit = suit_}, cuts);
    const geometry::PointTree tree(standing_hands_);
    std::size_t cut = 0;
    for (const auto& [of, grips] : away) {
      auto& why = causes[cut++];
      Finding finding = why.front().kind == route::CauseKind::Reach ? out_of_reach(tree, group, grips)
                                                                    : closed_off(grips, why.front());
      finding.kind = has_hatch ? FindingKind::UnreachableRail : FindingKind::Island;
      finding.severity = severity_by(*finding.design);
      finding.causes = std::move(why);
      count_rails(grips, is_home, finding);
      result_.findings.push_back(std::move(finding));
    }
  }

  /// The nearest grip outside, looked for in spheres that double.
  Finding out_of_reach(const geometry::PointTree& tree, const std::vector<int>& group,
                       const std::vector<std::size_t>& grips) const {
    double best = std::numeric_limits<double>::infinity();
    std::size_t from = grips.front(), to = grips.front();
    const double widest = (scene_.bounds().max - scene_.bounds().min).norm() + 10;
    for (double radius = suit_.reach_m; !std::isfinite(best) && radius < 2 * widest; radius *= 2)
      for (const auto g : grips)
        for (const std::size_t index : tree.find_within(graph_.grips()[g].hand, radius)) {
          const double distance_m = (standing_hands_[index] - graph_.grips()[g].hand).norm();
          if (distance_m < best && group[standing_[index]] != group[g])
            best = distance_m, from = g, to = standing_[index];
        }
    Finding finding = make(FindingKind::Island, Severity::Warning, rail_of(from).id, rail_of(from).mark);
    if (std::isfinite(best)) finding.other = rail_of(to).id;
    finding.value = best, finding.limit = suit_.reach_m;
    finding.design = suit_.reach_m;
    finding.at = graph_.grips()[from].hand;
    return finding;
  }

  /// Within reach, but closed: where, and against which of the suit's values.
  Finding closed_off(const std::vector<std::size_t>& grips, const route::Cause& cause) const {
    const auto is_cut_off = [&](const std::optional<RailId>& rail) {
      return rail && std::any_of(grips.begin(), grips.end(), [&](auto g) { return graph_.grips()[g].rail == *rail; });
    };
    RailId subject = graph_.grips()[grips.front()].rail;
    for (const auto& rail : {cause.rail_other, cause.rail})
      if (is_cut_off(rail)) subject = *rail;
    const auto& rail = structure_.rails[subject.index()];
    Finding finding = make(FindingKind::Island, Severity::Warning, rail.id, rail.mark);
    for (const auto& other : {cause.rail, cause.rail_other})
      if (other && *other != subject) finding.other = structure_.rails[other->index()].id;
    finding.at = cause.at;
    if (cause.kind == route::CauseKind::BodyTooTight) {
      finding.value = cause.value_m, finding.limit = cause.limit_m, finding.design = suit_.corridor_diameter_m;
    } else if (cause.kind == route::CauseKind::TurnLimit) {
      constexpr double degree = std::numbers::pi / 180;
      finding.value = cause.value_rad / degree, finding.limit = cause.limit_rad / degree;
      finding.design = suit_.turn_limit_rad;
      finding.design->value /= degree;
    } else {
      finding.limit = suit_.glove_m, finding.design = suit_.glove_m;
    }
    return finding;
  }

  template <class IsHome>
  void count_rails(const std::vector<std::size_t>& grips, IsHome&& is_home, Finding& finding) const {
    std::set<RailId> rails;
    std::set<int> pieces;
    for (const auto g : grips) rails.insert(graph_.grips()[g].rail), pieces.insert(island_[g]);
    finding.count = rails.size(), finding.pieces = pieces.size();
    for (const auto rail : rails) {
      const auto [first, last] = graph_.grips_of(rail);
      bool is_partial = false;
      for (auto g = first; g < last; ++g) is_partial = is_partial || is_home(g);
      if (is_partial) ++finding.partial;
    }
    if (finding.count > 1 || finding.partial == 0) return;
    std::pair<double, double> along{std::numeric_limits<double>::infinity(), 0};
    for (const auto g : grips) {
      along.first = std::min(along.first, graph_.grips()[g].along_m);
      along.second = std::max(along.second, graph_.grips()[g].along_m);
    }
    finding.along_m = along;
  }

  bool has_stance(std::size_t grip) const {
    return graph_.grips()[grip].clearance_lower_m >= suit_.corridor_radius_m() - graph::length_tolerance_m;
  }

  /// Each rail's nearest other rail, where it is farther than handholds of a path should be.
  void check_gaps() {
    if (graph_.grips().empty()) return;
    struct Nearest {
      double gap = std::numeric_limits<double>::infinity();
      std::size_t from = 0, to = 0;
    };
    std::map<RailId, Nearest> nearest;
    const double look = 3 * std::max<double>(design_.handhold_gap_error_m, design_.handhold_gap_warn_m);
    for (std::size_t g = 0; g < graph_.grips().size(); ++g) {
      const Grip& grip = graph_.grips()[g];
      auto& best = nearest[grip.rail];
      for (const GripId other : graph_.find_grips_within(grip.hand, std::min(look, best.gap))) {
        const double gap_m = (graph_.grip(other).hand - grip.hand).norm();
        if (graph_.grip(other).rail != grip.rail && gap_m < best.gap) best = {gap_m, g, other.index()};
      }
    }
    std::set<std::pair<RailId, RailId>> told;
    for (const auto& [rail, best] : nearest) {
      if (!std::isfinite(best.gap) || best.gap <= design_.handhold_gap_warn_m + graph::length_tolerance_m) continue;
      const RailId other = graph_.grips()[best.to].rail;
      if (!told.insert(std::minmax(rail, other)).second) continue;
      const bool is_far = best.gap > design_.handhold_gap_error_m + graph::length_tolerance_m;
      const auto& limit = is_far ? design_.handhold_gap_error_m : design_.handhold_gap_warn_m;
      Finding finding = make(FindingKind::Gap, is_far ? severity_by(limit) : Severity::Warning, rail_of(best.from).id,
                             rail_of(best.from).mark);
      finding.other = rail_of(best.to).id;
      finding.value = best.gap, finding.limit = limit;
      finding.design = limit;
      finding.at = (graph_.grips()[best.from].hand + graph_.grips()[best.to].hand) / 2;
      result_.findings.push_back(std::move(finding));
    }
  }

  /// The very rails that other questions leave out.
  void check_buried() {
    buried_ = find_buried_rails(scene_);
    for (const auto& buried : buried_) {
      const auto& rail = structure_.rails[buried.rail.index()];
      Finding finding = make(FindingKind::RailInSolid, Severity::Error, rail.id, rail.mark);
      finding.value = follow_rail(scene_, rail, 0).inside_m, finding.at = buried.at;
      finding.other = structure_.parts[buried.part.index()].id;
      result_.findings.push_back(std::move(finding));
    }
  }

  void check_rails() {
    for (std::size_t r = 0; r < structure_.rails.size(); ++r) {
      const auto& rail = structure_.rails[r];
      const auto [first, last] = graph_.grips_of(RailId(r));
      if (first == last) continue;
      if (std::none_of(buried_.begin(), buried_.end(), [&](const auto& b) { return b.rail.index() == r; }))
        check_standing(rail, first, last);
      check_corridor(RailId(r), first, last);
      double length = 0;
      for (std::size_t i = 0; i + 1 < rail.points.size(); ++i) length += (rail.points[i + 1] - rail.points[i]).norm();
      if (rail.points.size() > 1 && length < design_.grip_length_m - graph::length_tolerance_m &&
          length + continued_length(r) < design_.grip_length_m - graph::length_tolerance_m)
        add(FindingKind::ShortRail, design_.grip_length_m, rail, length, graph_.grips()[first].hand);
      if (rail.load_limit_n && *rail.load_limit_n < design_.rail_load_n - 1e-9)
        add(FindingKind::RailLoad, design_.rail_load_n, rail, *rail.load_limit_n, graph_.grips()[first].hand);
    }
  }

  /// Of the rails that go on where this one ends, as a bend or ring in straight pieces does: a hand holds them as one.
  double continued_length(std::size_t r) const {
    constexpr double same_point_m = 0.001, straight_on = 0.707;  // cos 45 deg: a grip does not go round a corner
    const auto& rail = structure_.rails[r];
    double sum = 0;
    for (std::size_t k = 0; k < structure_.rails.size(); ++k) {
      const auto& next = structure_.rails[k];
      if (k == r || next.part != rail.part || next.points.size() < 2 || next.when.any_of != rail.when.any_of) continue;
      for (const bool at_first : {true, false})
        for (const bool from_first : {true, false}) {
          const auto n = rail.points.size(), m = next.points.size();
          const Vec3 &end = rail.points[at_first ? 0 : n - 1], &before = rail.points[at_first ? 1 : n - 2];
          const Vec3 &start = next.points[from_first ? 0 : m - 1], &after = next.points[from_first ? 1 : m - 2];
          if ((end - start).norm() > same_point_m) continue;
          if ((end - before).stableNormalized().dot((after - start).stableNormalized()) < straight_on) continue;
          sum += (after - start).norm();
        }
    }
    return sum;
  }

  Finding& add(FindingKind kind, const model::Quantity& design, const model::Rail& rail, double value, const Vec3& at) {
    Finding finding = make(kind, severity_by(design), rail.id, rail.mark);
    finding.value = value, finding.limit = design;
    finding.design = design;
    finding.at = at;
    result_.findings.push_back(std::move(finding));
    return result_.findings.back();
  }

  void check_standing(const model::Rail& rail, std::uint32_t first, std::uint32_t last) {
    const double limit = design_.rail_clear_m;
    const Standing standing = follow_rail(scene_, rail, limit);
    if (standing.least_m < limit - graph::length_tolerance_m) {
      auto& finding = add(FindingKind::RailTooClose, design_.rail_clear_m, rail, standing.least_m, standing.least_at);
      finding.other = part_near(standing.least_at, limit);
      const auto is_close = [&](const Grip& grip) {
        return scene_.distance(grip.hand, limit) < limit - graph::length_tolerance_m;
      };
      const auto grips = graph_.grips().subspan(first, last - first);
      finding.count =
          std::max<std::size_t>(1, static_cast<std::size_t>(std::count_if(grips.begin(), grips.end(), is_close)));
    }
  }

  /// Id of the part nearest to a point, empty when none is that near.
  std::string part_near(const Vec3& point, double within_m) const {
    const auto nearest = scene_.find_nearest(point, within_m);
    return nearest ? structure_.parts[nearest->part.index()].id : std::string();
  }

  /// Grips without a stance that has room, and steps from grip to grip that have none between two that do.
  void check_corridor(RailId id, std::uint32_t first, std::uint32_t last) {
    const auto& rail = structure_.rails[id.index()];
    std::size_t narrow = 0;
    double least = std::numeric_limits<double>::infinity();
    Vec3 body = Vec3::Zero();
    for (std::uint32_t g = first; g < last; ++g) {
      if (has_stance(g)) continue;
      ++narrow;
      if (const double room = graph_.grips()[g].clearance_lower_m; room < least)
        least = room, body = graph_.body_point(GripId(g));
    }
    for (std::uint32_t g = first; g + 1 < last; ++g)
      for (const auto& arc : graph_.adjacency().out(g)) {
        const graph::MoveId move(arc.move);
        if (arc.head != g + 1 || graph_.grips()[g].direction != graph_.grips()[g + 1].direction) continue;
        const auto& m = graph_.move(move);
        if (!m.is_turn_allowed || !m.is_hand_line_clear || m.is_body_clear || !has_stance(g) || !has_stance(g + 1))
          continue;
        ++narrow;
        const auto tightest = graph_.compute_clearance(move);
        if (tightest.lower_m < least) least = std::max(0.0, tightest.lower_m), body = graph_.body_at(move, tightest.t);
      }
    if (narrow == 0) return;
    auto& finding = add(FindingKind::NarrowCorridor, suit_.corridor_diameter_m, rail, 2 * least, body);
    finding.count = narrow, finding.other = part_near(body, suit_.corridor_diameter_m);
  }

  void check_places() {
    for (const auto& place : structure_.places) {
      if (!is_present(place)) continue;
      const auto& configuration = scene_.configuration();
      const Vec3 at = structure_.position(place, configuration);
      const auto nearest = graph_.find_nearest_grip(at);
      const double nearest_m =
          nearest ? (graph_.grip(*nearest).hand - at).norm() : std::numeric_limits<double>::infinity();
      const auto grips = grips_at(place);
      if (grips.empty()) {
        Finding finding = make(FindingKind::PlaceWithoutGrip, Severity::Error, place.id, place.mark);
        finding.value = nearest_m, finding.limit = place.within_m, finding.at = at;
        if (nearest) finding.other = rail_of(nearest->index()).id;
        result_.findings.push_back(std::move(finding));
      } else {
        check_room_at(place, grips);
        check_zones_at(place, at, grips);
      }
      if (place.kind == model::PlaceKind::Worksite) check_worksite(place, at, nearest_m, grips);
    }
  }

  void check_room_at(const model::Place& place, const std::vector<std::size_t>& grips) {
    if (std::any_of(grips.begin(), grips.end(), [&](std::size_t g) { return has_stance(g); })) return;
    const auto [room, body] = roomiest_of(grips);
    Finding finding = make(FindingKind::PlaceTooTight, severity_by(suit_.corridor_diameter_m), place.id, place.mark);
    finding.value = 2 * room, finding.limit = suit_.corridor_diameter_m, finding.at = body;
    finding.design = suit_.corridor_diameter_m;
    finding.count = grips.size(), finding.other = part_near(body, suit_.corridor_diameter_m);
    result_.findings.push_back(std::move(finding));
  }

  /// Most room that a body has at any of these grips, and where; at most what a worksite wants.
  std::pair<double, Vec3> roomiest_of(const std::vector<std::size_t>& grips) const {
    std::pair<double, Vec3> best{-1, Vec3::Zero()};
    for (const auto g : grips) {
      const Vec3 body = graph_.body_point(GripId(g));
      if (const double room = scene_.distance(body, design_.worksite_diameter_m); room > best.first)
        best = {room, body};
    }
    return best;
  }

  void check_zones_at(const model::Place& place, const Vec3& at, const std::vector<std::size_t>& grips) {
    std::string zones;
    std::set<model::ZoneId> met;
    const auto forbids = [&](model::ZoneId zone) {
      const auto& z = structure_.zones[zone.index()];
      return z.effect == model::ZoneEffect::Forbid && z.when.holds(scene_.configuration());
    };
    for (const auto g : grips) {
      bool is_in = false;
      for (const auto& label : graph_.zones(GripId(g)))
        if (forbids(label.zone)) is_in = true, met.insert(label.zone);
      if (!is_in) return;
    }
    for (const auto zone : met) zones += (zones.empty() ? "" : ", ") + structure_.zones[zone.index()].id;
    Finding finding = make(FindingKind::ZoneSwallowsPlace, Severity::Warning, place.id, place.mark);
    finding.other = zones, finding.at = at, finding.count = grips.size();
    result_.findings.push_back(std::move(finding));
  }

  void check_worksite(const model::Place& place, const Vec3& at, double nearest_m,
                      const std::vector<std::size_t>& grips) {
    if (nearest_m > design_.worksite_handhold_m + graph::length_tolerance_m) {
      Finding finding =
          make(FindingKind::WorksiteHandholds, severity_by(design_.worksite_handhold_m), place.id, place.mark);
      finding.value = nearest_m, finding.limit = design_.worksite_handhold_m, finding.at = at;
      finding.design = design_.worksite_handhold_m;
      result_.findings.push_back(std::move(finding));
    }
    if (grips.empty()) return;
    const auto [room, body] = roomiest_of(grips);
    if (2 * room >= design_.worksite_diameter_m - graph::length_tolerance_m) return;
    Finding finding = make(FindingKind::WorksiteRoom, severity_by(design_.worksite_diameter_m), place.id, place.mark);
    finding.value = 2 * room, finding.limit = design_.worksite_diameter_m;
    finding.design = design_.worksite_diameter_m;
    finding.at = body, finding.other = part_near(body, design_.worksite_diameter_m);
    result_.findings.push_back(std::move(finding));
  }

  void rank() {
    const auto miss = [](const Finding& f) {
      return f.limit > 0 && std::isfinite(f.value) ? std::abs(f.value - f.limit) / f.limit : 0.0;
    };
    std::stable_sort(result_.findings.begin(), result_.findings.end(), [&](const Finding& x, const Finding& y) {
      if (x.severity != y.severity) return x.severity < y.severity;
      if (x.kind != y.kind) return x.kind < y.kind;
      return miss(x) > miss(y);
    });
  }

  const HandrailGraph& graph_;
  const model::Structure& structure_;
  const geometry::Scene& scene_;
  const model::Kit& kit_;
  const model::DesignValues& design_;
  const model::Suit& suit_;
  std::vector<std::size_t> standing_;  // grips with a clear stance ...
  std::vector<Vec3> standing_hands_;   // ... and their hands
  const std::vector<model::Diagnostic>& notes_;
  std::vector<int> island_;
  std::size_t islands_ = 0;
  std::vector<BuriedRail> buried_;
  CheckResult result_;
};

}  // namespace

std::vector<BuriedRail> find_buried_rails(const geometry::Scene& scene) {
  const auto& structure = scene.structure();
  const auto& configuration = scene.configuration();
  const auto find = [&](const model::Rail& rail) {
    const model::Pose pose = structure.pose(rail.part, configuration);
    std::vector<Vec3> line;
    for (const Vec3& point : rail.points) line.push_back(pose * point);
    return geometry::find_first_touch(scene, line);
  };
  std::vector<BuriedRail> buried;
  for (std::size_t r = 0; r < structure.rails.size(); ++r)
    if (structure.is_present(RailId(r), configuration))
      if (const auto hit = find(structure.rails[r])) buried.push_back({RailId(r), hit->part, hit->point});
  return buried;
}

CheckResult check_model(const HandrailGraph& graph, const model::Kit& kit, const model::Suit& suit,
                        const std::vector<model::Diagnostic>& notes) {
  return Checker(graph, kit, suit, notes).run();
}

}  // namespace holdfast::check
