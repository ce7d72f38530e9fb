// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// Results read back from the JSON that the command printed: to draw them, or to ask more about the ways in them.
//
//   const auto result = report::read_result("out.json", contents, structure, kit);
//   for (const auto& way : result.ways) if (way.route) use(*way.route);
//
// Numbers come back as they were printed, rounded to 1e-6. What JSON does not carry keeps its default.

#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "holdfast/cable/cable.h"
#include "holdfast/model/structure.h"
#include "holdfast/plan/plan.h"
#include "holdfast/report/read_worksite.h"
#include "holdfast/route/answer.h"
#include "holdfast/route/choices.h"
#include "holdfast/route/home.h"

namespace holdfast::report {

/// Why there is no way, as it was told.
struct ReadCause {
  std::string text;
  model::Vec3 at = model::Vec3::Zero();
  std::optional<model::RailId> rail;
};

/// What is done standing where a leg ends: a tie made, a connector mated.
struct ReadWork {
  std::string text;
  double time_s = 0;
};

/// One sentence of what the crew is told of a route, and what must be minded there.
struct ReadSentence {
  std::string text;
  std::vector<std::string> notes;
};

/// One way of a result, or why there is none.
struct ReadWay {
  std::string name;  ///< what tells it from the others of its result; empty where it is alone
  std::string suit;  ///< of a comparison's row; empty: the result's
  std::vector<std::string> loads;
  std::optional<route::Route> route;  ///< its times count `work`
  std::vector<ReadSentence> brief;    ///< its coarse table of waypoints
  std::vector<ReadWork> work;         ///< of who lays a cable: before the first leg and after each; else none
  std::vector<ReadCause> causes;      ///< none where there is a route
  std::string note;                   ///< of a comparison: how it differs from the first row
  bool is_proven_best = true;         ///< false: a better way with the load in tow may exist
  bool is_certain = true;             ///< false: a search ran out of labels or states; the refusal may be wrong
};

/// A cable or a tether as it lies.
struct ReadLine {
  struct Mark {
    model::Vec3 at = model::Vec3::Zero();
    std::string text;
  };
  bool is_cable = true;                      ///< false: a tether
  std::string id;                            ///< in the kit
  double diameter_m = 0, bend_radius_m = 0;  ///< of a cable
  std::string name;
  std::string words;  ///< its verdict
  std::vector<model::Vec3> points;
  std::vector<Mark> ties, bends;
};

/// A simulated excursion, as far as its result tells it.
struct ReadPlan {
  /// Names, ids and limits, and what events throw; none of its sequences. The plan refers to it.
  std::shared_ptr<const model::Excursion> excursion;
  plan::Plan plan;  ///< without what was asked of it; violations have kind, moment, crew member, subject and place
  struct Violation {
    std::string sentence, remedy, assumption;
  };
  std::vector<Violation> told;            ///< of the plan's violations
  std::vector<std::string> not_assessed;  ///< in words
  std::vector<std::string> changes;       ///< what-if: how it differs from the file, in words
  double emergency_s = 0;                 ///< time allowed to get back; 0: getting back was not looked at
};

/// Everything of a result that can be shown in a picture.
struct ReadResult {
  std::string file;     ///< as given
  std::string verb;     ///< `route`, `compare`, `home`, `tether`, `cable`, `reach`, `sight` or `plan`
  std::string outcome;  ///< `route`, `no-route`, `alternatives`, `trade-offs`, `comparison`, `home`, `tether`
  std::vector<std::string> stops;  ///< from, via places, to; none for `home`, and for ways that were given
  std::vector<std::string> closed_rails;
  model::Configuration configuration;
  std::string suit;
  std::vector<ReadWay> ways;
  std::vector<ReadLine> lines;
  bool is_complete = true;                   ///< of trade-offs; false: the search was cut short, ways may be missing
  std::optional<route::Home> home;           ///< hatch, limits, places and farthest grips
  std::vector<ReadWorksite> worksites = {};  ///< of `reach`
  std::vector<ReadSight> sights = {};        ///< of `sight`
  double off_normal_rad = 0;                 ///< ... the most off a patch's normal
  std::optional<ReadPlan> plan;              ///< of `plan`; then it has no ways
};

/// Throws `model::InputError` (`wrong-result`) for what is no result of these verbs, one of another structure or of kit
/// entries that were another then, or one that was changed by hand into something that no engine says. `file` names it
/// in messages. Entries of the kit that the result did not use may have changed.
[[nodiscard]] ReadResult read_result(const std::string& file, const std::string& contents,
                                     const model::Structure& structure, const model::Kit& kit);

/// The ways in a result of `route` (one), or of its alternatives or trade-offs (each): name, then number. Throws as
/// `read_result`, and for a result of another verb or without a way.
[[nodiscard]] std::vector<route::GivenWay> read_ways(const std::string& file, const std::string& contents,
                                                     const model::Structure& structure, const model::Kit& kit);

/// The cable of a result of `cable`. Throws as `read_result`, and for a result without a run of one cable.
[[nodiscard]] cable::LaidCable read_laid(const std::string& file, const std::string& contents,
                                         const model::Structure& structure, const model::Kit& kit);

/// A cable that lies there already, and where it ends in a coil.
struct StageRead {
  cable::LaidCable cable;
  std::optional<cable::LaidRun> run;     ///< to go on from; nothing where it ends at a connector
  std::optional<cable::LaidCable> coil;  ///< the coil to other cables: a ball round its box
};
/// Throws as `read_laid`.
[[nodiscard]] StageRead read_stage(const std::string& file, const std::string& contents,
                                   const model::Structure& structure, const model::Kit& kit);

}  // namespace holdfast::report
