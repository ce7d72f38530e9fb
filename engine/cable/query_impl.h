// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// What the parts of a question about a cable share: what is closed by which rule, and runs with rules waived.

#include <cstdint>
#include <vector>

#include "holdfast/cable/cable.h"
#include "holdfast/route/costs.h"
#include "line_impl.h"
#include "motion_impl.h"

namespace holdfast::cable::detail {

using Closed = std::uint8_t;
inline constexpr Closed by_zone = 1, by_keep_free = 2, by_separation = 4, by_joint = 8, by_reach = 16;
inline constexpr Closed every_rule = 31;

/// A span with the bends on it: what lies on a round part bends with that alone.
inline Course course_of(const FittedSpan& span, double bend_radius_m) {
  return cable::course_of(span.line, span.lies_on ? 0 : bend_radius_m);
}

/// A question with all that its searches need.
class Query {
 public:
  Query(const CableSpace& space, const route::Profile& profile, const CableRequest& request);

  const CableSpace& space;
  const route::Profile& profile;
  const CableRequest& request;
  std::uint32_t from = 0, to = 0;          // `to` at a place: its tie nearest to it
  std::vector<std::uint32_t> end_ties;     // ties that may be the last one: of a connector that alone
  std::optional<model::PlaceId> to_place;  // where it ends at no connector
  bool has_rail_there = false;             // at that place, for cables, whatever closes it
  std::optional<Run> laid_run;             // going on: what was laid, up to `from`
  std::vector<FittedSpan> fitted;          // of the cable's own bend radius
  std::vector<Closed> span_closed;         // by fitted span
  std::vector<Closed> tie_closed;          // by tie: all but `by_reach`
  std::vector<JointCrossed> joints;        // by fitted span
  route::CostTable moves;
  std::vector<std::vector<std::uint32_t>> grips;  // by tie: usable, within reach
  std::vector<std::uint32_t> island;              // by grip: of grips that open moves join

  /// The best run for the aim with some rules waived, over all sets of rails that hand moves connect.
  [[nodiscard]] RunSearch find(Aim aim, Closed waived, std::uint32_t from_tie, std::uint32_t to_tie,
                               std::int64_t most_length) const;
  /// The same from `from`, going on from what was laid; to the best of `end_ties`, with waived rules to `to` alone.
  [[nodiscard]] RunSearch find(Aim aim, Closed waived) const;
  /// Going on from the end of a run.
  [[nodiscard]] RunSearch find_on(Aim aim, Closed waived, const Run& laid, std::uint32_t to_tie) const;
  /// Largest bend radius for which there is a run, within 1/256 of the cable's, and that run.
  struct Widest {
    double radius_m = 0;
    std::optional<Run> run;
    std::vector<FittedSpan> fitted;
  };
  [[nodiscard]] Widest find_widest() const;
  /// Keeps references to `spans`.
  [[nodiscard]] RunProblem problem(const std::vector<FittedSpan>& spans, double bend_radius_m, Closed waived) const;
  [[nodiscard]] const Tie& tie(std::uint32_t index) const { return space.ties[index]; }
  /// Does the span come so near to the rail that no glove goes between?
  [[nodiscard]] bool covers(const FittedSpan& span, double bend_radius_m, model::RailId rail) const;
  [[nodiscard]] bool covers(const Course& course, model::RailId rail) const;
  /// Do a cable's tube and its bends enter the zone?
  [[nodiscard]] bool is_in_zone(const Course& course, model::ZoneId zone) const;
  [[nodiscard]] bool is_in_zone(const Fillet& bend, model::ZoneId zone) const;
  /// Zones that no cable may enter in this configuration.
  [[nodiscard]] const std::vector<model::ZoneId>& forbidding() const { return forbidding_; }
  /// What closes a bend at a tie between two spans, which are looked at by themselves.
  [[nodiscard]] Closed closed_by(std::uint32_t at, const Fillet& bend) const;
  /// What closes a piece of cable that is fixed at both ends.
  [[nodiscard]] Closed closed_by(const Course& course) const;
  /// The bend of a run at one of its inner ties: none where it goes straight on. On round parts the bend is given in
  /// its own plane and laid on to the part: the cable lies between the two.
  [[nodiscard]] std::vector<Fillet> bends_at(std::uint32_t at, const FittedSpan& before, const FittedSpan& after,
                                             double bend_radius_m) const;
  [[nodiscard]] JointCrossed joint_of(const FittedSpan& span) const;
  [[nodiscard]] const Motion& motion() const { return motion_; }
  /// Rails of `request.keep_free` that are there.
  [[nodiscard]] const std::vector<std::pair<model::RailId, Course>>& kept_free() const { return kept_free_; }
  /// The cables of `request.laid`, in their order.
  [[nodiscard]] const std::vector<Course>& laid() const { return laid_; }
  /// Room that a bend has before and after the tie of a run, at this bend radius; and the turn.
  struct Bend {
    double turn_rad = 0, before_m = 0, after_m = 0;
    double curvature_1_m = 0;  // of the surface there
    /// The largest that fits.
    [[nodiscard]] double radius_m() const {
      return whole_radius_m(std::min(before_m, after_m) / std::tan(turn_rad / 2), curvature_1_m);
    }
  };
  [[nodiscard]] static std::vector<Bend> bends_of(const Run& run, const std::vector<FittedSpan>& spans,
                                                  double radius_m);

 private:
  [[nodiscard]] std::uint32_t resolve(const std::string& id) const;
  void resolve_ends();
  void resolve_laid();
  [[nodiscard]] RunSearch find(Aim aim, Closed waived, const Run* laid, std::uint32_t from_tie, std::uint32_t to_tie,
                               std::int64_t most_length) const;
  [[nodiscard]] ComesIn comes_in(const Run& laid) const;
  void close_spans();
  void close_ties();
  void find_islands();
  void find_rules();
  Closed closed_by(const FittedSpan& span, double bend_radius_m) const;

  const Motion motion_;
  std::vector<model::ZoneId> forbidding_;
  std::vector<std::pair<model::RailId, Course>> kept_free_;  // those that are there
  std::vector<Course> laid_;
  std::vector<double> free_m_;  // by tie: nothing that a rule guards is nearer than this to the cable there
};

/// Spans of the table as a cable of this bend radius takes them, on all cores; those that it cannot take left out.
[[nodiscard]] std::vector<FittedSpan> fit_spans(const CableSpace& space, double bend_radius_m);

[[nodiscard]] NoRun explain(const Query& query, bool& is_certain);

/// Costs of going from grip to grip near each other, found when first asked for. Not for several threads.
class Walks {
 public:
  Walks(const Query& query);
  [[nodiscard]] std::optional<std::int64_t> cost(std::uint32_t from, std::uint32_t to);

 private:
  const std::vector<std::pair<std::uint32_t, std::int64_t>>& tree(std::uint32_t from);
  const Query& query_;
  const double radius_m_;
  std::vector<std::vector<std::pair<std::uint32_t, std::int64_t>>> trees_;  // by grip: sorted by the other
  std::vector<bool> is_grown_;
  std::vector<std::int64_t> cost_;  // scratch of one tree
};

[[nodiscard]] Laying lay(const Query& query, const CableRun& run);
[[nodiscard]] std::vector<const model::Load*> spool_of(const CableSpace& space);

}  // namespace holdfast::cable::detail
