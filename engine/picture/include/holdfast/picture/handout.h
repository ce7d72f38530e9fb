// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// What the crew and the planner take in hand: a cue card for each crew member, and one sheet with both timelines. From
// plain rows, so that whatever makes a timeline can fill them; every text is set by the caller but for headings.
//
//   write(picture::cue_cards(handout));        // printable HTML, A4 pages
//   write(picture::timeline_sheet(handout));   // SVG, A3 landscape
//
// Times are seconds of phased elapsed time from hatch open. Moments and durations are rounded up, what is left of time
// (margins) down.

#include <cstddef>
#include <optional>
#include <string>
#include <vector>

namespace holdfast::picture {

enum class BarKind { Travel, Work, Handling, Wait, Hold, Overhead, Throw };

/// Time to be inside. Nothing: not known, printed as such; infinity: no path is known, printed as such.
using TimeHome = std::optional<double>;

struct CueWaypoint {
  std::string text;  ///< where, and what the hands do
  double at_s = 0;
  TimeHome home_s = std::nullopt;
  bool is_wait = false;  ///< one waits there
};

struct CueStep {
  std::string number;
  BarKind kind = BarKind::Travel;
  double start_s = 0, end_s = 0;
  std::string text;
  std::string label = {};                   ///< in a few words, for bars; empty: `text`
  std::string with = {};                    ///< what is carried during it, in words
  std::vector<CueWaypoint> waypoints = {};  ///< of a leg
  std::vector<std::string> callouts = {};   ///< tether swaps and other calls, set off
  std::vector<std::string> cautions = {};   ///< zones, and no-touch items within the kick band
  TimeHome home_s = std::nullopt;           ///< the longest time to be inside during it
  /// The same where the other brings this crew member back; nothing: not asked, or not known.
  TimeHome carried_s = std::nullopt;
  bool is_carried_unknown = false;       ///< true: asked, and no path is proven
  std::vector<std::string> faults = {};  ///< what is wrong with it, set off most of all
};

struct CueItem {
  std::string name;
  std::string in = {};    ///< bag or other item that holds it
  std::string from = {};  ///< where it is fetched
  std::string back = {};  ///< where it must be at the end; empty: it stays outside
  std::string ends = {};  ///< where it is at the end; empty: not told
};

struct CueCard {
  std::string crew;
  std::string name = {};
  std::vector<CueItem> items;
  std::vector<CueStep> steps;
  double finish_s = 0;
};

/// Time to be inside at a moment: the curve is drawn straight from one to the next.
struct HomePoint {
  double at_s = 0;
  std::optional<double> home_s = std::nullopt;  ///< nothing: not proven; the curve is broken there and marked
  bool is_looked_at = true;                     ///< false: as at the moment before, until here; counts in no margin
};

struct TimeSpan {
  double start_s = 0, end_s = 0;
};

struct Handout {
  std::string title;
  std::string subtitle;  ///< configuration, digest of the model, version
  std::vector<CueCard> cards;
  std::vector<TimeSpan> nights = {};
  double limit_s = 0;                     ///< of the excursion
  double emergency_s = 0;                 ///< of getting back
  std::vector<HomePoint> home = {};       ///< the worst crew member of each moment, by time
  std::vector<HomePoint> carried = {};    ///< the same where one is brought back by the other
  std::vector<CueStep> inside = {};       ///< done from inside: switches thrown, holds; by time
  std::string alert = {};                 ///< what everybody must see first, on every card and on the sheet
  std::vector<std::string> remarks = {};  ///< assumptions and violations, on every card and on the sheet
};

/// One HTML file that asks nothing of a network; a new A4 page begins with each crew member, and steps are not torn
/// apart unless they are longer than a page. Texts stand in it as text, never as markup. Without cards a page that says
/// so.
[[nodiscard]] std::string cue_cards(const Handout& handout);

/// One A3 sheet: bars by kind for each crew member with their step numbers, nights shaded, the limit, and below the
/// time to be inside against the emergency limit and what is left to the excursion limit. Kinds differ by pattern too,
/// for prints without colour.
[[nodiscard]] std::string timeline_sheet(const Handout& handout);

}  // namespace holdfast::picture
