// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// A leg among what another body takes up in time.

#include <functional>
#include <optional>
#include <span>
#include <vector>

#include "bodies_impl.h"
#include "sites_impl.h"

namespace holdfast::plan::detail {

/// A stretch of time, open at both ends: what only touches it is outside.
struct TimeSpan {
  double from_s = 0, to_s = 0;
};

struct TimedQuestion {
  std::vector<GripId> from, to;
  double start_s = 0;              ///< nothing moves before
  double first_s = 0, last_s = 0;  ///< start and stop, charged with the first and the last move
  std::vector<TimeSpan> still;     ///< no move reaches into these: holds
  /// Seconds of a move, without start and stop; nothing where it is closed.
  std::function<std::optional<double>(MoveId, GripId from)> move_s;
  /// What is taken up by resting at a grip, and by a move; times are set by the search.
  std::function<Occupied(GripId)> resting;
  std::function<Occupied(MoveId, GripId from)> moving;
};

struct TimedLeg {
  std::vector<GripId> grips;  ///< moves + 1
  std::vector<MoveId> moves;
  std::vector<double> starts_s;  ///< of the moves
  std::vector<double> times_s;   ///< of the moves, with start and stop
  double arrives_s = 0;
};

/// The leg that arrives earliest, and may stay for ever, among all timed paths: waiting at any grip and going round
/// compete. At least one move. Nothing where there is none. A state is (grip, free interval); within one the earliest
/// arrival dominates, because one can always wait on. Source: Phillips and Likhachev, 'SIPP: Safe interval path
/// planning for dynamic environments', ICRA 2011.
[[nodiscard]] std::optional<TimedLeg> find_timed_leg(const graph::HandrailGraph& graph, const TimedQuestion& question,
                                                     std::span<const Occupied> others);

}  // namespace holdfast::plan::detail
