// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// The best run of spans from tie to tie that keeps the bend radius at every tie.
//
//   if (const auto run = cable::find_run(problem)) use(run->ties);
//
// A bend at a tie takes R tan(theta / 2) of the span on either side, and a straight span has one length for the bends
// at both its ends, so the search runs on directed spans with the room that the bend behind has left (design.md 14,
// Cable). A run passes each tie once at most. That makes what is left of a span and what has been passed part of the
// state; the latter is added only for ties that a better run would pass twice, until none does (decremental state space
// relaxation: Righini and Salani, New dynamic programming algorithms for the resource constrained elementary shortest
// path problem, Networks 51, 2008). Exact, unless cut short.

#include <cstdint>
#include <functional>
#include <limits>
#include <optional>
#include <span>
#include <vector>

#include "holdfast/cable/spans.h"
#include "holdfast/search/cost.h"

namespace holdfast::cable {

enum class Aim {
  Length,  ///< least required length, then ties
  Ties,    ///< fewest ties, then length
  Time     ///< least time to lay it, then ties, then length
};

/// Where the one who lays the cable may stand for each tie, and how long going over takes.
struct Standings {
  std::vector<std::vector<std::uint32_t>> by_tie;  ///< grips within reach of it, ascending
  /// Least cost from grip to grip; nothing where there is no way.
  std::function<std::optional<std::int64_t>(std::uint32_t, std::uint32_t)> cost;
};

/// A run that goes on from a tie where an earlier one ended: the span that comes in there.
struct ComesIn {
  std::uint32_t span = 0;
  double room_m = 0;  ///< of it, left for the bend at the tie
};

struct RunProblem {
  std::size_t tie_count = 0;
  std::span<const FittedSpan> spans;
  std::vector<std::int64_t> length;  ///< by span: what it adds to the required length, in cost units; above 0
  std::vector<bool> is_open;         ///< by span
  std::vector<bool> is_tie_open;     ///< by tie; ends are open whatever it says
  double bend_radius_m = 0;
  std::uint32_t from = 0, to = 0;
  std::optional<ComesIn> comes_in = std::nullopt;  ///< at `from`; nothing: the run may leave it any way
  Aim aim = Aim::Length;
  std::int64_t time_by_tie = 0;          ///< Time: of each tie but the ends, in cost units
  std::int64_t time_by_span = 0;         ///< Time: of each span beside the way over it, in cost units
  const Standings* standings = nullptr;  ///< Time: where given
  /// Is the arc clear of structure at the tie, from the first span to the second? Not asked where empty.
  std::function<bool(std::uint32_t tie, std::uint32_t before, std::uint32_t after)> is_bend_clear;
  std::int64_t most_length = std::numeric_limits<std::int64_t>::max();  ///< Length: longer runs are of no interest
  std::size_t most_labels = 3'000'000;
};

struct Run {
  std::vector<std::uint32_t> ties;   ///< from `from` to `to`
  std::vector<std::uint32_t> spans;  ///< ties.size() - 1
  search::Cost cost;
  std::vector<std::uint32_t> grips;  ///< by tie, where standings are given
};

struct RunSearch {
  std::optional<Run> run;
  std::size_t labels = 0;
  bool is_cut_short = false;  ///< nothing found may mean nothing
};

/// Requires: from != to, spans of ties below `tie_count`.
[[nodiscard]] RunSearch find_run(const RunProblem& problem);

}  // namespace holdfast::cable
