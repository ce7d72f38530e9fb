// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// What a safety tether does along a way that is given: is it long enough, what could be struck on it, does it retract
// without snagging, and how two of them cross.
//
//   const auto check = tether::check_tether(graph, profile, {.tether = kit.find_tether("reel-26"), .anchor =
//   "hatch-anchor-1", .ways = ways});
//   if (check.fails_at) use(check.marks[*check.fails_at]);
//
// A reel keeps the line taut (design.md 14, Tether); lengths are never below the true ones of the line's class. Frame
// and units: structure frame, m, s.

#include <cstddef>
#include <optional>
#include <string>
#include <vector>

#include "holdfast/route/choices.h"
#include "holdfast/route/hooks.h"
#include "holdfast/tether/taut.h"

namespace holdfast::tether {

/// Where on ways given one after another.
struct Station {
  std::size_t way = 0, leg = 0, row = 0;
};

/// One waypoint: the end of a row of a way, or a tether swap.
struct LineMark {
  Station at;
  model::RailId rail;
  Vec3 hand = Vec3::Zero();
  double at_s = 0;    ///< as the results have it, one after another
  std::string hook;   ///< to which the line runs there
  double gone_m = 0;  ///< the way since it was hooked on, and from the hook to its beginning
  double taut_m = 0;  ///< the line pulled tight
  double most_m = 0;  ///< ... at any grip of the row, at most
  /// ... and so much is needed for certain: less than `most_m` where a line was not pulled to its end.
  double least_m = 0;
  bool is_within = true;   ///< `most_m` is no more than the tether has
  std::vector<Vec3> line;  ///< pulled tight, from the hook to the body
  /// Each once, in the order of the line; after them what it bears on at earlier grips of the row alone.
  std::vector<model::PartId> bears_on;
  std::vector<model::ZoneId> zones;  ///< for tethers, that hold and that the line enters anywhere in the row
};

/// A zone for tethers that the line enters at a grip, or sweeps over between two.
struct ZoneStay {
  model::ZoneId zone;
  double inside_s = 0;        ///< whole moves are counted; work at the end of a way is not
  std::size_t from_mark = 0;  ///< first waypoint in whose row it is entered
  bool is_allowed = true;     ///< a caution zone, or no longer than its limit
};

/// Something that must not be touched, within what is out of the tether from its hook.
struct SwingItem {
  model::PartId part;
  std::string hook;
  double distance_m = 0;      ///< from the hook, never more than the true one
  bool is_in_sight = false;   ///< a straight line from the hook reaches it; else structure is in between
  std::size_t from_mark = 0;  ///< the first waypoint where so much is out
  bool fragile = false, no_touch = false;
};

/// A part round which a closed loop stays.
struct HookedPart {
  model::PartId part;
  Vec3 at = Vec3::Zero();  ///< where the loop bears on it
  /// How far the loop would have to be slid along it to come off: straight, where it stays round it; at most, where it
  /// comes in by itself. Nothing where something else is in the way or it is not known.
  std::optional<double> slide_m;
  std::optional<model::PartId> held_by;  ///< that, then
};

/// The way out and the way back as one loop with both ends at the hook, pulled tight without friction.
struct Loop {
  double gone_m = 0;
  double taut_m = 0;
  bool is_settled = true;  ///< false: it would come in farther; where it is not clean then, it may be
  /// Where it comes in: how far it must be slid for that along ... at most, as `LoopSlide::most_m`; else 0 ...
  double slid_m = 0;
  std::optional<model::PartId> slid_on;  ///< ... this part
  bool is_clean = false;
  /// False: it comes in by itself, but how far it slides over what lies between its strands is not known. Not clean
  /// then, though it may be: `hooked` has these parts.
  bool is_slide_known = true;
  std::vector<HookedPart> hooked;  ///< empty where clean
  std::vector<Vec3> line;
  /// Stretches of the way back that go by another side than the way out. Going by the rails of the way out there
  /// instead lets the tether retract without snagging (tried).
  struct Turn {
    Station from, to;
  };
  std::vector<Turn> turns;
};
/// Design.md 14, Tether: a loop is clean below this length when it need not be slid farther than this along a part.
inline constexpr double clean_loop_m = 0.5;

/// A way back on which the tether retracts without snagging.
struct CleanReturn {
  route::Answer answer;      ///< the way back, or why there is none
  bool is_way_out = false;   ///< the way out, gone backward
  std::size_t tried = 0;     ///< ways looked at, in the order of their times
  std::optional<Loop> loop;  ///< of the way out and this one
};

/// What comes past what while a mover goes on.
enum class Passing {
  Mover,  ///< the mover past the other's line
  Line,   ///< the mover's line, drawn along, past the body of the other
  Hook    ///< the mover's line, drawn along, past where the other's line is hooked on
};

/// A mover, or the line drawn along, comes to the other side of the other's line.
struct Crossing {
  double at_s = 0;
  bool second_moves = false;  ///< false: the first mover goes on
  Passing passing = Passing::Mover;
  /// Mover: over the line, which stays between mover and structure. Line: outside of the other's body, else between
  /// body and structure, where it is caught. Hook: always.
  bool is_over = true;
  Station at;                 ///< of the one who moves
  Vec3 point = Vec3::Zero();  ///< on the line
};

struct Crossings {
  std::vector<Crossing> events;  ///< in the order of time
  /// Who has to come back past which crossing, in the order that undoes them: the last first.
  std::vector<std::size_t> undo;
};

struct TetherQuestion {
  const model::Tether* tether = nullptr;  ///< not null
  std::string anchor;
  std::vector<route::GivenWay> ways;  ///< gone one after another, one at least
  bool wants_clean_return = false;
  const model::Tether* other_tether = nullptr;  ///< of a second mover, with the next two; null: alone
  std::string other_anchor = {};
  std::vector<route::GivenWay> other_ways = {};
};

struct TetherCheck {
  route::AnswerHead head;
  const model::Tether* tether = nullptr;
  route::Hook anchor;
  std::vector<std::string> ways;           ///< names
  std::vector<std::string> other_ways;     ///< of the second mover's
  std::vector<route::Route> routes;        ///< of these, as they are gone
  std::vector<route::Route> other_routes;  ///< of the second mover
  std::vector<LineMark> marks;
  std::vector<ZoneStay> zones;          ///< in the order of the file
  std::optional<std::size_t> fails_at;  ///< first mark at which the tether is too short for certain
  /// First mark at which it may be: the line there was not pulled to its end, and is too long by less than that.
  std::optional<std::size_t> unsettled_at;
  double most_m = 0;             ///< the most that is out, pulled tight
  std::vector<SwingItem> swing;  ///< nearest first
  std::optional<Loop> loop;      ///< where the ways end where they began
  bool is_left_open = false;     ///< they do, but no free line leads from their end to the hook or to their start
  std::optional<CleanReturn> clean_return;
  std::optional<Crossings> crossings;  ///< with a second mover
};

/// Throws `model::InputError`: as `find_hook`; `tether-short` and `no-free-line` as `route` does; `wrong-result` where
/// a way is not one of this graph, is closed in its configuration, or does not begin where the one before ended.
[[nodiscard]] TetherCheck check_tether(const graph::HandrailGraph& graph, const route::Profile& profile,
                                       const TetherQuestion& question);

/// As `route::route`, and with a tether that is asked for: pulled tight, its line stays out of zones that forbid
/// tethers, and no longer in others than their limits, at every grip and on the way between. Where the best route does
/// not, others are tried, with rails closed or with tether swaps sooner; `may_save` is then what the best had less.
/// Where none of two dozen does, a cause `Tether` with the zones that the best enters, `is_certain` false: there may be
/// one.
[[nodiscard]] route::Answer route_on_tether(const graph::HandrailGraph& graph, const route::Profile& profile,
                                            const route::RouteRequest& request);

// ---- positioning
// ------------------------------------------------------------------------------------------------------

/// Tethers hooked one to the next between a rail or an anchor and an object, so that it stays where it is.
struct Series {
  std::vector<const model::Tether*> tethers;
  double least_m = 0, most_m = 0;  ///< together
};
struct SeriesHold {
  std::size_t series = 0;  ///< into `all`
  route::Hook hook;        ///< of a rail: the point that is nearest to the middle of what the series can be set to
  double distance_m = 0;   ///< from the hook to the object
};
struct Positioning {
  route::AnswerHead head;
  std::string object;
  Vec3 at = Vec3::Zero();
  std::vector<Series> all;        ///< fewest tethers first
  std::vector<SeriesHold> holds;  ///< by series, then nearest first; one a rail or anchor
};
/// All series of up to `most` of the tethers, each used once. Throws as `route` for the object.
[[nodiscard]] Positioning find_positioning(const graph::HandrailGraph& graph, const route::Profile& profile,
                                           const std::string& object, const std::vector<const model::Tether*>& tethers,
                                           std::size_t most = 3);

}  // namespace holdfast::tether
