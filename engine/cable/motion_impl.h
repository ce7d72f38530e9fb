// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// Parts that move against each other, and what of them comes under or into a cable.
//
// Poses are known in the named positions of each switch alone: what a part sweeps from one to the next is not looked
// at. Parts that a `when` takes away count as there wherever the switch that moves them lets them be.

#include <map>
#include <memory>
#include <mutex>
#include <optional>
#include <tuple>
#include <vector>

#include "holdfast/cable/cable.h"

namespace holdfast::cable::detail {

struct JointCrossed {
  std::vector<model::PartId> parts;  // moving ones that the cable crosses onto or off; empty: no joint
  std::vector<MovesInto> moves_into;
  double loop_m = 0;
  bool is_stated = true;  // a loop, for every part that needs one
  [[nodiscard]] bool is_open() const { return is_stated && moves_into.empty(); }
};

/// A piece of cable fixed at both ends. `on` says what each inner point of the line touches, where it does.
struct Held {
  std::optional<model::PartId> from, to;  // nothing: the structure itself
  std::vector<Vec3> line;
  std::vector<std::optional<model::PartId>> on;
};

class Motion {
 public:
  Motion(const geometry::Scene& scene, const SpanRules& rules);
  [[nodiscard]] bool has_moving_parts() const { return has_moving_parts_; }
  /// Joints between the ends, and moving parts that come under the cable in some position: nearer to it than
  /// `lies_within_m` and than all that moves with its ends. A part that comes as near as the cable's own clearance,
  /// and is not under it now, moves into it, which no loop helps.
  [[nodiscard]] JointCrossed find_joint(const Held& held) const;

 private:
  /// One set of positions of the switches that move the ends and another part, seen from that part as it is now.
  struct Shift {
    model::Pose from, to;  // of the cable's ends
    model::Configuration changed;
    bool is_now = false;
  };
  enum class Comes { Nowhere, Under, Into };
  using Part = std::optional<model::PartId>;

  [[nodiscard]] std::size_t body(const Part& part) const { return part ? body_[part->index()] : 0; }
  [[nodiscard]] model::Pose pose(const Part& part, const model::Configuration& configuration) const;
  [[nodiscard]] std::vector<model::Configuration> positions_of(const std::vector<Part>& parts) const;
  [[nodiscard]] std::vector<Shift> find_shifts(const Held& held, model::PartId other) const;
  [[nodiscard]] const std::vector<Shift>& shifts_of(const Held& held, model::PartId other) const;
  [[nodiscard]] Comes look(const Held& held, model::PartId other, const Shift& shift) const;
  [[nodiscard]] double own_distance(const Held& held, const Vec3& at, double cutoff_m) const;
  [[nodiscard]] double longest(const Held& held, const std::vector<Part>& moving) const;

  const geometry::Scene& scene_;
  const model::Structure& structure_;
  const SpanRules rules_;
  std::vector<std::size_t> body_;  // by part: equal where two never move against each other; 0: the structure itself
  bool has_moving_parts_ = false;
  std::vector<model::PartId> all_;
  std::unique_ptr<const model::Structure> everything_;  // with parts that are not there now
  std::optional<geometry::Scene> with_everything_;
  mutable std::mutex known_;
  mutable std::map<std::tuple<std::size_t, std::size_t, model::PartId>, std::vector<Shift>> shifts_;  // by bodies, part
};

}  // namespace holdfast::cable::detail
