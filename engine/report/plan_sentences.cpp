// SPDX-License-Identifier: GPL-3.0-or-later
// What is wrong with an excursion, in words: the same in text and JSON.

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <cmath>

#include "holdfast/report/plan.h"
#include "plan_cables_impl.h"
#include "plan_words_impl.h"
#include "reach_words_impl.h"
#include "words_impl.h"

namespace holdfast::report {

using namespace detail;
using plan::NotAssessed;
using plan::Plan;
using plan::Violation;
using plan::ViolationKind;
using plan::What;

const char* kind_name(ViolationKind kind) {
  switch (kind) {
    case ViolationKind::ItemNotThere:
      return "item-not-there";
    case ViolationKind::HandsFull:
      return "hands-full";
    case ViolationKind::SocketTaken:
      return "socket-taken";
    case ViolationKind::RailsTaken:
      return "rails-taken";
    case ViolationKind::DoesNotFit:
      return "does-not-fit";
    case ViolationKind::NoGripNear:
      return "no-grip-near";
    case ViolationKind::WrongPlace:
      return "wrong-place";
    case ViolationKind::RestraintMissing:
      return "restraint-missing";
    case ViolationKind::NoRoute:
      return "no-route";
    case ViolationKind::Tether:
      return "tether";
    case ViolationKind::HoldBroken:
      return "hold-broken";
    case ViolationKind::BodiesTooNear:
      return "bodies-too-near";
    case ViolationKind::ZoneTime:
      return "zone-time-exceeded";
    case ViolationKind::Configuration:
      return "configuration-not-as-needed";
    case ViolationKind::RailMoves:
      return "rail-moves";
    case ViolationKind::WindowMissed:
      return "window-missed";
    case ViolationKind::Precedence:
      return "precedence-broken";
    case ViolationKind::WaitsInCircle:
      return "waits-in-a-circle";
    case ViolationKind::ReturnTooLate:
      return "return-too-late";
    case ViolationKind::ReturnNotProven:
      return "return-not-proven";
    case ViolationKind::Energy:
      return "energy-exceeded";
    case ViolationKind::LimitExceeded:
      return "limit-exceeded";
    case ViolationKind::ItemLeftOutside:
      return "item-left-outside";
    case ViolationKind::OutOfReach:
      return "out-of-reach";
    case ViolationKind::NotInSight:
      return "not-in-sight";
    case ViolationKind::CableTooShort:
      return "cable-too-short";
    case ViolationKind::NoCableRun:
      return "no-cable-run";
    case ViolationKind::CableWrongEnd:
      return "cable-wrong-end";
    case ViolationKind::CableNotThere:
      return "cable-not-there";
    case ViolationKind::CableNotConnected:
      return "cable-not-connected";
  }
  return "";
}

const char* kind_name(plan::RowKind kind) {
  switch (kind) {
    case plan::RowKind::Overhead:
      return "overhead";
    case plan::RowKind::Translation:
      return "translation";
    case plan::RowKind::Handling:
      return "handling";
    case plan::RowKind::Work:
      return "work";
    case plan::RowKind::Wait:
      return "wait";
    case plan::RowKind::Hold:
      return "hold";
    case plan::RowKind::Throw:
      return "throw";
  }
  return "";
}

const char* kind_name(NotAssessed kind) {
  switch (kind) {
    case NotAssessed::NoHelper:
      return "no-helper";
    case NotAssessed::NoCrewLoad:
      return "no-crew-load";
    case NotAssessed::TethersAndItems:
      return "tethers-against-stowed-items";
    case NotAssessed::Bodies:
      return "loads-and-tethers-of-two-crew";
    case NotAssessed::PathsRound:
      return "paths-round-the-other";
    case NotAssessed::LimitZonesBack:
      return "limit-zones-when-getting-back";
    case NotAssessed::TetherZones:
      return "tether-zones-snags-crossings";
    case NotAssessed::TetherOff:
      return "no-tether";
    case NotAssessed::ReachFromRestraint:
      return "reach-from-restraint";
    case NotAssessed::WayBetweenPositions:
      return "path-between-positions";
    case NotAssessed::LaidCables:
      return "laid-cables";
  }
  return "";
}

std::string not_assessed_words(NotAssessed kind) {
  switch (kind) {
    case NotAssessed::NoHelper:
      return "an incapacitated crew member: with one crew member there is no helper";
    case NotAssessed::NoCrewLoad:
      return "an incapacitated crew member: the kit has no load with crew: true";
    case NotAssessed::TethersAndItems:
      return "tethers, and arms at work, against stowed items and restraints: bodies, hands and carried loads keep "
             "clear of these";
    case NotAssessed::Bodies:
      return "the load of one crew member against that of the other, and tethers against bodies";
    case NotAssessed::PathsRound:
      return "other paths for a crew member with loads who finds the other in the path: they wait along their own";
    case NotAssessed::LimitZonesBack:
      return "the stay in time-limited zones when getting back from inside of one";
    case NotAssessed::TetherZones:
      return "zones for tethers, snags and crossings along the excursion: ask holdfast tether";
    case NotAssessed::TetherOff:
      return "a tether of those crew members who have none in the file";
    case NotAssessed::ReachFromRestraint:
      return "whether what is worked on is within reach from the foot restraint, for tasks that name no targets";
    case NotAssessed::WayBetweenPositions:
      return "what a part passes while its switch is thrown: both positions are looked at, not what is between";
    case NotAssessed::LaidCables:
      return "laid cables against hands, bodies, carried loads and what is stowed or set up; zones and structure that "
             "come to them later; an empty spool counts as a full one";
  }
  return {};
}

std::string where_words(const plan::Whereabouts& where) {
  if (!where.container.empty()) return "in " + where.container;
  if (!where.crew.empty()) return "with " + where.crew;
  if (!where.socket.empty()) return "in socket " + where.socket;
  if (!where.rails.empty()) return fmt::format("tied to {}", fmt::join(where.rails, ", "));
  if (!where.place.empty()) return "at " + where.place;
  return "inside";
}

std::string what_words(const plan::Row& row) {
  switch (row.what) {
    case What::Egress:
      return fmt::format("egress at {}", row.subject);
    case What::Ingress:
      return fmt::format("ingress at {}", row.subject);
    case What::Go:
      return fmt::format("go to {}", row.subject);
    case What::Take:
      return fmt::format("take {}", row.subject);
    case What::Put:
      return fmt::format("put {} {}", row.subject, row.other.empty() ? "down" : "at " + row.other);
    case What::Stow:
      return fmt::format("stow {} on {}", row.subject, row.other);
    case What::SetUp:
      return fmt::format("set up {} in {}", row.subject, row.other);
    case What::TakeDown:
      return fmt::format("take down {} from {}", row.subject, row.other);
    case What::EnterRestraint:
      return fmt::format("enter restraint in {}", row.subject);
    case What::LeaveRestraint:
      return fmt::format("leave restraint in {}", row.subject);
    case What::Do:
      return fmt::format("do {}", row.subject);
    case What::WaitUntil:
      return "wait until then";
    case What::WaitTask:
    case What::WaitCrew:
    case What::WaitEvent:
      return fmt::format("wait for {}", row.subject);
    case What::WaitWindow:
      return fmt::format("wait for the window of {}", row.subject);
    case What::WaitHold:
      return "hold";
    case What::WaitBody:
      return fmt::format("wait, {} is in the path", row.subject);
    case What::Swap:
      return fmt::format("swap tether to {}", row.subject);
    case What::Unhook:
      return fmt::format("swap tether back at {}", row.subject);
    case What::HandOver:
      return fmt::format("hand over {} to {}", row.subject, row.other);
    case What::Receive:
      return fmt::format("receive {} from {}", row.subject, row.other);
    case What::Mate:
      return fmt::format("mate {} at {}", row.subject, row.other);
    case What::Tie:
      return fmt::format("tie {} to {}", row.subject, row.other);
    case What::Coil:
      return fmt::format("coil the rest of {} on rail {}", row.subject, row.other);
    case What::TakeUp:
      return fmt::format("take up the coil of {} from rail {}", row.subject, row.other);
    case What::Throw:
      return fmt::format("throw {}", row.subject);
    case What::Hold:
      return fmt::format("hold {}", row.subject);
  }
  return {};
}

namespace {

std::string crew_id(const Plan& plan, const std::optional<plan::CrewId>& crew) {
  return crew ? plan.excursion->crew[crew->index()].id : std::string("inside");
}

std::string seconds(double s) { return std::isinf(s) ? std::string("unknown") : duration(s); }

/// Of a return: the place, or the rail and where the leg goes.
std::string from_words(const Violation& v) {
  if (!v.names.empty() && v.names.front() == "leg" && v.names.size() >= 2)
    return fmt::format("rail {} on the leg to {}", v.other, v.names[1]);
  return v.other;
}

std::string at_words(const Violation& v) { return v.has_at ? " at " + point(v.at) : std::string(); }

}  // namespace

std::string sentence(const Context& context, const Plan& plan, const Violation& v) {
  const Options& options = context.options;
  switch (v.kind) {
    case ViolationKind::ItemNotThere:
      return fmt::format("item {} is not at hand{}: it is {}", v.subject,
                         v.names.empty() ? "" : " for " + v.names.front(), v.other);
    case ViolationKind::HandsFull:
      return fmt::format("hands full: {} cannot be carried{}", v.subject,
                         v.names.empty() ? std::string() : fmt::format(" beside {}", fmt::join(v.names, ", ")));
    case ViolationKind::SocketTaken:
      return fmt::format("socket {} is taken by {}", v.subject, v.other);
    case ViolationKind::RailsTaken:
      return fmt::format("rail {} is taken by {} where {} should go{}", v.names.front(), v.other, v.subject,
                         at_words(v));
    case ViolationKind::DoesNotFit:
      if (!v.other.empty())
        return context.structure.find_zone(v.other)
                   ? fmt::format("{} does not fit on {}{}: it would stand in zone {}, which keeps loads out", v.subject,
                                 v.names.front(), at_words(v), v.other)
                   : fmt::format("{} does not fit on {}{}: {} stands there", v.subject, v.names.front(), at_words(v),
                                 v.other);
      return fmt::format("{} does not fit on {}{}: it stands {} in structure", v.subject, v.names.front(), at_words(v),
                         length_up(options, v.value));
    case ViolationKind::NoGripNear:
      return fmt::format("no open grip within {} of {}{}{}{}", length_down(options, v.limit), v.subject, at_words(v),
                         std::isinf(v.value) ? std::string()
                                             : fmt::format("; the nearest is {} off on {}", length_up(options, v.value),
                                                           v.names.empty() ? "no rail" : v.names.front()),
                         v.other.empty() || v.other == "to stow from" ? std::string()
                         : v.other.starts_with("in zone ")            ? fmt::format("; the place is {}", v.other)
                                                                      : fmt::format("; {} is stowed there", v.other));
    case ViolationKind::WrongPlace:
      return fmt::format("{} is put down {}, which is neither a hatch nor a stowage", v.subject,
                         v.other.empty() ? "at no place" : "at " + v.other);
    case ViolationKind::RestraintMissing:
      return fmt::format("no foot restraint is set up in {} for {}", v.subject, v.other);
    case ViolationKind::NoRoute: {
      std::string why;
      if (!v.causes.empty())
        why = ": " + sentence(context, v.causes.front());
      else if (!v.names.empty())
        why = fmt::format(": {}",
                          v.names.front() == "not-proven"
                              ? "none was found, and that there is none is not proven"
                              : fmt::format("what is stowed may stand in the way ({})", fmt::join(v.names, ", ")));
      if (!v.other.empty()) why += fmt::format("; {} stands in the way", v.other);
      return fmt::format("no route to {}{}", v.subject, why);
    }
    case ViolationKind::Tether:
      if (v.names.empty())
        return fmt::format("tether {} is too short: {} out from {}{}, and it is {} long", v.subject,
                           length_up(options, v.value), v.other, at_words(v), length_down(options, v.limit));
      if (v.names.front() == "none-left")
        return fmt::format("no tether is left to hook on at {}: {} of {} in use", v.subject, static_cast<int>(v.limit),
                           static_cast<int>(v.limit));
      if (v.names.front() == "no-free-line")
        return fmt::format("tether {} has no free line from {} to where it begins", v.subject, v.other);
      if (v.names.front() == "no-anchor")
        return fmt::format("tether {}: anchor {} is not there, or takes no hook", v.subject, v.other);
      if (v.names.front() == "structure-moved")
        return fmt::format("tether {} from {}: structure was moved into its line{}", v.subject, v.other, at_words(v));
      return fmt::format("tether {} from {}: its line is not known from here on", v.subject, v.other);
    case ViolationKind::HoldBroken:
      return fmt::format("hold {} is broken for {} of its {}", v.subject, seconds(v.value), seconds(v.limit));
    case ViolationKind::BodiesTooNear:
      if (!v.names.empty())
        return fmt::format("{} stands {} from the body of {}, who is at rest there{}, and needs {}", v.subject,
                           length_down(options, v.value), crew_id(plan, v.crew), at_words(v),
                           length_up(options, v.limit));
      return fmt::format("bodies of {} and {} come to {} of each other{}, and need {}", crew_id(plan, v.crew),
                         v.subject, length_down(options, v.value), at_words(v), length_up(options, v.limit));
    case ViolationKind::ZoneTime:
      return fmt::format("{}{} in zone {} over the excursion, and {} is allowed",
                         v.other.empty() ? "" : v.other + " stands ", seconds(v.value), v.subject,
                         duration_down(v.limit));
    case ViolationKind::Configuration:
      if (v.names.size() >= 3)
        return fmt::format("{} needs {}={}, and it is {}{}", v.subject, v.names[0], v.names[1], v.names[2],
                           v.other.empty() ? "" : fmt::format(" from {} on, until {}", v.other, duration(v.to_s)));
      return fmt::format("{} is not there in this configuration", v.subject);
    case ViolationKind::RailMoves:
      if (v.names.size() == 2 && !v.other.empty())
        return v.names.front() == "part"
                   ? fmt::format("{} moves or removes {} with {} on it, until {}", v.subject, v.names.back(), v.other,
                                 duration(v.to_s))
                   : fmt::format("{} brings {} to where {} stands{}", v.subject,
                                 v.names.front() == "zone"
                                     ? fmt::format("zone {}, which keeps loads out,", v.names.back())
                                     : v.names.back(),
                                 v.other, at_words(v));
      if (v.names.size() == 2)
        return fmt::format("{} brings structure or a zone that forbids bodies to {}, who holds rail {}", v.subject,
                           crew_id(plan, v.crew), v.names.front());
      return fmt::format("{} moves or removes rail {} with {} on it, until {}", v.subject, fmt::join(v.names, ", "),
                         v.other.empty() ? crew_id(plan, v.crew) : v.other, duration(v.to_s));
    case ViolationKind::WindowMissed:
      return fmt::format("{} takes {}, and no {} is left that holds all of it", v.subject, seconds(v.value),
                         v.names.empty() ? "window" : fmt::format("{}", fmt::join(v.names, " and ")));
    case ViolationKind::Precedence:
      if (v.other == "wait")
        return fmt::format("it waits for {}, which {}", v.subject,
                           v.names.front() == "later"      ? "comes later in the same sequence"
                           : v.names.front() == "given-up" ? "in turn waits for it"
                                                           : "nobody brings about");
      if (v.names.front() == "event")
        return fmt::format("event {} waits for {}, which is not done", v.subject, v.other);
      return fmt::format("{} comes after {}, which {}", v.subject, v.other,
                         v.names.front() == "later"     ? "stands later in the same sequence"
                         : v.names.front() == "dropped" ? "was dropped"
                         : v.names.front() == "nobody"  ? "nobody does"
                                                        : "in turn waits for it");
    case ViolationKind::WaitsInCircle:
      return fmt::format("waits in a circle: {}", fmt::join(v.names, "; "));
    case ViolationKind::ReturnTooLate:
      if (v.subject == "no-path")
        return fmt::format("incapacitated, {} cannot be brought back from {}{}", crew_id(plan, v.crew), from_words(v),
                           v.causes.empty() ? std::string() : ": " + sentence(context, v.causes.front()));
      if (v.subject == "limit")
        return fmt::format("{}getting back from {} ends at {}, past the limit of {}",
                           v.is_incapacitated ? "incapacitated: " : "", from_words(v), seconds(v.value),
                           duration_down(v.limit));
      return fmt::format("{}getting back from {} takes {}, and {} is allowed",
                         v.is_incapacitated ? "incapacitated: " : "", from_words(v), seconds(v.value),
                         duration_down(v.limit));
    case ViolationKind::ReturnNotProven:
      if (!v.is_incapacitated) return fmt::format("no path back is known from {}", from_words(v));
      if (!v.names.empty() && v.names.back() == "helper-cannot-come")
        return fmt::format(
            "incapacitated, {} may not be brought back from {}: no path is known by which the other "
            "crew member comes there",
            crew_id(plan, v.crew), from_words(v));
      return fmt::format(
          "incapacitated, {} may not be brought back from {}: no path was found, and that there is none is not "
          "proven{}",
          crew_id(plan, v.crew), from_words(v),
          v.causes.empty() ? std::string() : ". " + sentence(context, v.causes.front()));
    case ViolationKind::Energy:
      return fmt::format("{} uses {:.2f} MJ, and the suit bears {:.2f} MJ", v.subject, std::ceil(v.value / 1e4) / 100,
                         std::floor(v.limit / 1e4 + 1e-9) / 100);
    case ViolationKind::LimitExceeded:
      return fmt::format("{} is inside at {}, past the limit of {}", v.subject, seconds(v.value),
                         duration_down(v.limit));
    case ViolationKind::OutOfReach: {
      const std::string from = v.other.empty() ? "by free hand" : "from socket " + v.other;
      if (v.names.front() == "no-setting")
        return fmt::format("{}: no setting of the foot restraint in {} is as the file says", v.subject, v.other);
      if (v.names.front() == "collides")
        return fmt::format("{}: no setting in socket {} leaves the figure room{}", v.subject, v.other,
                           v.names.size() > 1 ? "; " + v.names[1] + " is in the way" : std::string());
      if (v.names.front() == "no-way-in")
        return fmt::format("{}: nobody gets into the setting in socket {}: no rail is within reach", v.subject,
                           v.other);
      return fmt::format("{}: {} of {} targets not within reach {}: {}", v.subject, v.value, v.limit, from,
                         fmt::join(v.names.begin() + 1, v.names.end(), ", "));
    }
    case ViolationKind::NotInSight:
      if (v.names.front() == "absent")
        return fmt::format("{}: patch {} is not there in this configuration", v.subject, v.other);
      if (v.names.front() == "item-between")
        return fmt::format("{}: what is stowed stands between the camera and patch {}", v.subject, v.other);
      return fmt::format("{}: nothing of patch {} is seen from here{}", v.subject, v.other, at_words(v));
    case ViolationKind::ItemLeftOutside:
      return v.names.empty() ? fmt::format("item {} is left outside: {}", v.subject, v.other)
                             : fmt::format("item {} is not at its home {}: {}", v.subject, v.names.front(), v.other);
    case ViolationKind::CableTooShort:
    case ViolationKind::NoCableRun:
    case ViolationKind::CableWrongEnd:
    case ViolationKind::CableNotThere:
    case ViolationKind::CableNotConnected:
      return cable_sentence(context, v);
  }
  return {};
}

std::string remedy(const Plan& plan, const Violation& v) {
  if (v.kind == ViolationKind::OutOfReach)
    for (const auto& told : plan.reaches)
      if (told.better && plan.excursion->tasks[told.task.index()].id == v.subject)
        return fmt::format("set it to {}: that serves {} of {}", setting_words(*told.better), told.better_serves,
                           told.targets.size());
  switch (v.kind) {
    case ViolationKind::OutOfReach:
      if (v.names.front() == "no-setting")
        return "give a setting that the kit lists, or leave it out to have it chosen";
      return v.other.empty() ? "do it from a foot restraint, or from another place"
                             : "ask holdfast reach --all for a socket that serves them, or make two tasks of it";
    case ViolationKind::NotInSight:
      return v.names.front() == "absent" ? "throw the switch before that brings it, as an event"
                                         : "ask holdfast sight --from-grips for where it is seen, or leave out at:";
    case ViolationKind::ItemNotThere: {
      if (v.other.find("with ") != std::string::npos)
        return fmt::format("hand over {} first, with both halves in the sequences", v.subject);
      if (v.other == "inside") return fmt::format("take {} out before its bearer returns", v.subject);
      if (v.other.starts_with("in socket")) return fmt::format("take it down first: take_down: {}", v.subject);
      return fmt::format("take: {} before this", v.subject);
    }
    case ViolationKind::HandsFull:
      return "put or stow something before, hand it over, or carry it in another manner (kit)";
    case ViolationKind::SocketTaken:
      return "take down what is in it, or use another socket";
    case ViolationKind::RailsTaken:
      return fmt::format("take {} away first, or stow on another rail", v.other);
    case ViolationKind::DoesNotFit:
      return "stow it on another rail, or set it up in another socket";
    case ViolationKind::NoGripNear:
      if (v.other.starts_with("in zone ")) return "come when the zone does not hold, or throw its switch before";
      return v.other.empty() ? "name another place, or reopen a rail near it"
                             : "stow it elsewhere, or stand at another place";
    case ViolationKind::WrongPlace:
      return v.names.empty() ? fmt::format("go to a hatch or stowage, or write stow: {}, on: [RAIL]", v.subject)
                             : fmt::format("write stow: {}, on: one of {}", v.subject, fmt::join(v.names, ", "));
    case ViolationKind::RestraintMissing:
      return v.names.empty() ? "add a foot restraint to the items, and set it up there"
                             : fmt::format("set one up there: {}", fmt::join(v.names, "; "));
    case ViolationKind::NoRoute:
      return "ask holdfast route for what would open one; put down what is too large before";
    case ViolationKind::Tether:
      return v.names.empty() || v.names.front() == "structure-moved"
                 ? "add a swap at an anchor on the path, or take a longer tether"
                 : "name an anchor in sight of the start, or give the crew member one tether more";
    case ViolationKind::HoldBroken:
      return fmt::format("let {} begin later, or the action after it", v.subject);
    case ViolationKind::BodiesTooNear:
      if (!v.names.empty())
        return fmt::format("stow or set up {} when {} is gone, add wait_for, or do it elsewhere", v.subject,
                           crew_id(plan, v.crew));
      return fmt::format("let one of them wait before {}: add wait_for or not_before", duration(v.at_s));
    case ViolationKind::ZoneTime:
      if (!v.other.empty()) return fmt::format("stow {} elsewhere, or take it away sooner", v.other);
      return "do less in the zone, or let the other crew member do a part of it";
    case ViolationKind::Configuration:
      if (v.names.size() >= 3) return fmt::format("throw {} to {} before, as an event", v.names[0], v.names[1]);
      return "throw the switch before that brings it, as an event";
    case ViolationKind::RailMoves:
      if (!v.other.empty() && v.names.size() == 2) return fmt::format("take {} away before the event", v.other);
      return v.other.empty() ? "let the event wait with after:, or leave the rail before it"
                             : fmt::format("take {} before the event", v.other);
    case ViolationKind::WindowMissed:
      return "begin earlier, or split the task";
    case ViolationKind::Precedence:
      if (v.names.front() == "dropped") return "do both, or drop both";
      if (v.names.front() == "later") return "change the order of the sequence";
      return v.names.front() == "given-up" ? "break the circle" : "add it to a sequence";
    case ViolationKind::WaitsInCircle:
      return "take one of these waits out, or do one of the tasks earlier";
    case ViolationKind::ReturnTooLate:
    case ViolationKind::ReturnNotProven:
      if (!v.names.empty() && v.names.back() == "helper-cannot-come")
        return "let the other crew member stay where they can come, or take away what stands in the way";
      return v.is_incapacitated     ? "work nearer to the hatch, or open a wider path for two"
             : v.subject == "limit" ? "do this earlier, or drop something before it"
                                    : "work nearer to the hatch";
    case ViolationKind::Energy:
    case ViolationKind::LimitExceeded:
      return "drop or shorten a task";
    case ViolationKind::ItemLeftOutside:
      return v.names.empty() ? fmt::format("bring it in, or let a task say leaves: [{}]", v.subject)
                             : fmt::format("put it back at {}", v.names.front());
    case ViolationKind::CableTooShort:
    case ViolationKind::NoCableRun:
    case ViolationKind::CableWrongEnd:
    case ViolationKind::CableNotThere:
    case ViolationKind::CableNotConnected:
      return cable_remedy(v);
  }
  return {};
}

std::string assumption(const Violation& v) {
  switch (v.kind) {
    case ViolationKind::ItemNotThere:
      return v.names.empty() ? "the action is left out, at no time" : "the task is done all the same";
    case ViolationKind::HandsFull:
    case ViolationKind::RailsTaken:
    case ViolationKind::DoesNotFit:
    case ViolationKind::WrongPlace:
    case ViolationKind::SocketTaken:
    case ViolationKind::CableTooShort:
    case ViolationKind::NoCableRun:
    case ViolationKind::CableNotThere:
      return "the action is left out, at no time";
    case ViolationKind::CableWrongEnd:
      return "it is laid all the same";
    case ViolationKind::NoGripNear:
      return "it is done from where the crew member is";
    case ViolationKind::RestraintMissing:
    case ViolationKind::WindowMissed:
    case ViolationKind::OutOfReach:
    case ViolationKind::NotInSight:
      return "the task is done all the same";
    case ViolationKind::Configuration:
      return v.names.size() >= 3 ? "the task is done all the same" : "it is done from where the crew member is";
    case ViolationKind::NoRoute:
      return fmt::format("the crew member is taken to be there after {}", duration(v.value));
    case ViolationKind::Tether:
      return v.names.empty() ? "the leg goes on as without a tether" : "the tether is not followed from here on";
    case ViolationKind::RailMoves:
      return v.other.empty() ? "the crew member keeps the grip" : "the box stays where it is";
    case ViolationKind::BodiesTooNear:
      return v.names.empty() ? "both go on as if alone" : "it stands there all the same";
    case ViolationKind::Precedence:
      return v.names.front() == "event" ? "the event does not happen" : "it is done at once";
    case ViolationKind::WaitsInCircle:
      return "the last in right of way gives up its wait";
    default:
      return {};
  }
}

}  // namespace holdfast::report
