// SPDX-License-Identifier: GPL-3.0-or-later
#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <nlohmann/json.hpp>
#include <string_view>

#include "holdfast/model/mesh_references.h"
#include "holdfast/model/plain_text.h"
#include "holdfast/report/plan.h"
#include "holdfast/report/read.h"
#include "read_worksite_impl.h"
#include "result_document_impl.h"
#include "words_impl.h"

namespace holdfast::report {

using namespace detail;
using Json = nlohmann::json;
using model::Vec3;

namespace {

constexpr const char* printed = "holdfast route ... --json";
constexpr double farthest_m = 1e6;  // coordinates beyond are no structure of anybody's
constexpr double largest = 1e9;     // nor times or lengths

template <class Enum, std::size_t Count>
constexpr std::array<Enum, Count> all_of() {
  std::array<Enum, Count> all{};
  for (std::size_t i = 0; i < Count; ++i) all[i] = Enum(i);
  return all;
}

class ResultReader {
 public:
  ResultReader(const std::string& file, const model::Structure& structure, const model::Kit& kit)
      : file_(file), structure_(structure), kit_(kit) {}

  [[noreturn]] void refuse(std::string problem, std::string remedy) const {
    refuse_result(file_, std::move(problem), std::move(remedy));
  }

  ReadResult read(const std::string& contents) {
    const Json document = parse_result(file_, contents, printed);
    try {
      ReadResult result = read_document(document);
      check_kit(document, result);
      return result;
    } catch (const Json::exception& error) {
      refuse_field(file_, error, printed);
    }
  }

  /// Of a cable that ends in a coil. Requires: contents that `read` took.
  void read_coil(const std::string& contents, StageRead& stage) const {
    const Json document = parse_result(file_, contents, printed);
    if (!document.contains("coil")) return;
    try {
      const auto& coil = document.at("coil");
      cable::LaidRun run;
      run.name = file_;
      run.cable = document.at("cable").at("id");
      run.used_m = number(coil.at("used_m"));
      for (const auto& told : document.at("ties")) {
        const auto tie = read_tie(told);
        run.ties.push_back({tie.kind, tie.id, tie.along_m});
      }
      if (run.ties.empty() || run.used_m < 0) refuse_changed("a coil at no tie");
      stage.run = std::move(run);
      const auto box = placed_box(coil.at("box"));
      stage.coil = cable::LaidCable{stage.cable.name + " (coil)", {box.middle}, box.size_m.norm() / 2, 0};
    } catch (const Json::exception& error) {
      refuse_field(file_, error, printed);
    }
  }

 private:
  ReadResult read_document(const Json& document) const {
    ReadResult result;
    result.file = file_;
    result.verb = document.at("verb");
    result.outcome = document.at("outcome");
    constexpr std::array<std::string_view, 8> verbs = {"route", "compare", "home",  "tether",
                                                       "cable", "reach",   "sight", "plan"};
    if (std::find(verbs.begin(), verbs.end(), result.verb) == verbs.end() || result.outcome == "positioning" ||
        result.outcome == "home-along")
      refuse(fmt::format("this is a result of `holdfast {}`, which shows no routes", result.verb),
             "give what `holdfast route`, `compare`, `home`, `tether`, `cable`, `reach`, `sight`, `rails` or `plan` "
             "printed "
             "with --json");
    check_structure(file_, document, structure_);
    if (result.verb == "reach" && document.at("answers").size() != 1)
      refuse(
          fmt::format("it has answers for {} configurations, and a drawing shows one", document.at("answers").size()),
          "ask for one of them: leave out --over, and give --state");
    const Json& head = result.verb == "reach" ? document.at("answers").at(0) : document;
    result.configuration = configuration(head.at("configuration"));
    if (result.verb == "plan") {
      result.plan = plan(document);
      for (const auto& entry : document.at("cables")) result.lines.push_back(laid_line(entry, *result.plan));
      return result;
    }
    result.suit = head.at("suit");
    if (result.verb == "reach" || result.verb == "sight") {
      read_worksites(head, result);
      return result;
    }
    if (result.verb == "cable") {
      read_cable(document, result);
      return result;
    }
    if (document.contains("request")) read_request(document.at("request"), result);
    if (result.verb == "home")
      result.home = home(document);
    else if (result.verb == "tether")
      read_tether(document, result);
    else if (result.verb == "compare")
      for (const auto& row : document.at("rows")) result.ways.push_back(compared(row));
    else
      read_ways(document, result);
    return result;
  }

  /// Figures or what is seen, and the path to them.
  void read_worksites(const Json& head, ReadResult& result) const {
    const WorksiteReading reading{structure_, kit_, [this](const Json& value) { return number(value); },
                                  [this](const Json& list) { return vec(list); },
                                  [this](const std::string& what) { refuse_changed(what); }};
    if (result.verb == "reach")
      read_reach(reading, head, result);
    else
      read_sight(reading, head, result);
    if (!head.contains("from")) return;
    result.stops = {head.at("from"), result.worksites.empty() ? std::string("the camera") : result.worksites[0].site};
    result.ways.push_back(outcome(head, {}));
  }

  /// A result holds while the entries of the kit that it used are what they were.
  void check_kit(const Json& document, const ReadResult& result) const {
    std::vector<std::string> used = {"design"};
    const auto use = [&](const char* list, const std::string& id) { used.push_back(fmt::format("{}.{}", list, id)); };
    if (!result.suit.empty()) use("suits", result.suit);
    if (result.plan) {
      for (const auto& member : result.plan->excursion->crew) {
        use("suits", member.suit);
        for (const auto& tether : member.tethers) use("tethers", tether);
      }
      for (const auto& item : result.plan->excursion->items) use("loads", item.load);
    }
    if (document.contains("loads"))
      for (const auto& load : document.at("loads")) use("loads", load);
    for (const auto& way : result.ways) {
      for (const auto& load : way.loads) use("loads", load);
      if (!way.suit.empty()) use("suits", way.suit);
      if (way.route && way.route->tether) use("tethers", way.route->tether->tether);
    }
    for (const auto& line : result.lines) use(line.is_cable ? "cables" : "tethers", line.id);
    for (const auto& worksite : result.worksites)
      if (!worksite.restraint.empty()) use("foot_restraints", worksite.restraint);
    const auto& then = document.at("model").at("kit_entries");
    for (const auto& name : used) {
      const auto now = std::find_if(kit_.entries.begin(), kit_.entries.end(),
                                    [&](const model::KitEntry& entry) { return entry.name == name; });
      if (then.value(name, std::string()) == (now == kit_.entries.end() ? std::string() : now->sha256)) continue;
      refuse(fmt::format("it was computed with another kit: {} has changed since", name),
             "compute it again with this kit");
    }
  }

  /// Every switch of the model in one of its positions: scenes are built on it.
  model::Configuration configuration(const Json& positions) const {
    model::Configuration configuration;
    for (const auto& [id, position] : positions.items()) configuration.positions[id] = position;
    check_configuration(configuration);
    return configuration;
  }
  void check_configuration(const model::Configuration& configuration) const {
    const auto has_position = [&](const model::Switch& s) {
      const auto at = configuration.positions.find(s.id);
      return at != configuration.positions.end() &&
             std::find(s.positions.begin(), s.positions.end(), at->second) != s.positions.end();
    };
    if (configuration.positions.size() != structure_.switches.size() ||
        !std::all_of(structure_.switches.begin(), structure_.switches.end(), has_position))
      refuse_changed("a configuration that is none of the model's switches");
  }

  static void read_request(const Json& request, ReadResult& result) {
    result.stops.push_back(request.at("from"));
    for (const auto& stop : request.at("via")) result.stops.push_back(stop);
    result.stops.push_back(request.at("to"));
    if (result.stops.front().empty()) result.stops.clear();
    for (const auto& rail : request.at("closed_rails")) result.closed_rails.push_back(rail);
  }

  void read_ways(const Json& document, ReadResult& result) const {
    const auto loads = document.at("loads").get<std::vector<std::string>>();
    if (!document.contains("ways")) {
      result.ways.push_back(outcome(document, loads));
      certainty(document, result.ways.back());
      return;
    }
    result.is_complete = document.value("complete", true);
    for (const auto& entry : document.at("ways")) {
      ReadWay way = outcome(entry, loads);
      way.name = entry.at("name");
      certainty(document, way);
      result.ways.push_back(std::move(way));
    }
  }

  /// The run, with what it is fixed at and where it bends, and the way of the one who lays it.
  void read_cable(const Json& document, ReadResult& result) const {
    if (!document.contains("line"))
      refuse("this result has no run of one cable", "give a result whose outcome is a run");
    const auto& request = document.at("request");
    result.stops = {request.at("from"), request.at("to")};
    const auto& cable = document.at("cable");
    ReadLine line;
    line.id = cable.at("id");
    line.diameter_m = number(cable.at("diameter_m")), line.bend_radius_m = number(cable.at("bend_radius_m"));
    line.name = fmt::format("{} from {} to {}", line.id, result.stops.front(), result.stops.back());
    const double margin_m = number(document.at("margin_m"));
    line.words =
        fmt::format("{} m required, guaranteed length {} m: {}", bare_length_up(number(document.at("required_m"))),
                    bare_length_down(number(cable.at("least_length_m"))), margin_m < 0 ? "TOO SHORT" : "long enough");
    if (document.contains("coil")) {
      const auto& coil = document.at("coil");
      line.words = fmt::format("{} m used, {} m left, coiled at {}", bare_length_up(number(coil.at("used_m"))),
                               bare_length_down(number(coil.at("left_m"))), coil.at("place").get<std::string>());
    }
    line.points = points(document.at("line"));
    if (line.points.empty()) refuse_changed("a line without points");
    constexpr double told_turn_deg = 10;
    for (const auto& tie : document.at("ties")) {
      const Vec3 at = vec(tie.at("at"));
      const bool is_tie = !tie.at("number").is_null();
      line.ties.push_back(
          {at, is_tie ? fmt::format("tie {}, {}, mark {} m", tie.at("number").get<int>(),
                                    tie.at("id").get<std::string>(), bare_length_up(number(tie.at("on_cable_m"))))
                      : tie.at("id").get<std::string>()});
      if (is_tie && number(tie.at("turn_deg")) >= told_turn_deg && !tie.at("bend_radius_m").is_null())
        line.bends.push_back({at, fmt::format("bends {:.0f} deg, {} m fits", std::ceil(number(tie.at("turn_deg"))),
                                              bare_length_down(number(tie.at("bend_radius_m"))))});
    }
    if (document.contains("coil") && !line.ties.empty()) line.ties.back().text += ", coil";
    result.lines.push_back(std::move(line));
    if (!document.contains("laying") || document.at("laying").is_null()) return;
    const auto& laying = document.at("laying");
    if (!laying.contains("route") || laying.at("route").is_null()) return;
    result.ways.push_back(laying_way(document));
  }

  /// The route of who lays the cable, with the time for ties and connectors where they are worked on.
  ReadWay laying_way(const Json& document) const {
    const auto &laying = document.at("laying"), &ties = document.at("ties");
    ReadWay way;
    way.name = fmt::format("laying {}", document.at("cable").at("id").get<std::string>());
    way.loads = laying.at("loads").get<std::vector<std::string>>();
    way.route = route(laying.at("route"), way.loads);
    auto& legs = way.route->legs;
    // Of a cable that was laid in stages, from the tie where it was gone on from.
    if (ties.size() <= legs.size()) refuse_changed("a laying that does not pass every tie");
    const std::size_t first = ties.size() - legs.size() - 1;
    for (std::size_t i = 0; i < ties.size(); ++i)
      if (ties[i].value("laid_before", i < 1) != (i <= first)) refuse_changed("a laying that does not pass every tie");
    const auto is_connector = [&](std::size_t i) { return ties[i].at("number").is_null(); };
    const double begin_s = number(laying.at("begin_s")), end_s = number(laying.at("end_s"));
    const std::size_t tied = legs.size() - (is_connector(ties.size() - 1) ? 1 : 0);
    const double tie_s = tied > 0 ? number(laying.at("ties_s")) / static_cast<double>(tied) : 0;
    for (std::size_t i = first; i < ties.size(); ++i) {
      const bool is_last = i + 1 == ties.size();
      if (is_connector(i))
        way.work.push_back({fmt::format("mate {}", ties[i].at("id").get<std::string>()), is_last ? end_s : begin_s});
      else if (i == first)
        way.work.push_back({fmt::format("take up the coil at {}", fixed_at(ties[i])), begin_s});
      else
        way.work.push_back({fmt::format("tie {} to {}{}", i, fixed_at(ties[i]), is_last ? ", coil the rest" : ""),
                            tie_s + (is_last ? end_s : 0)});
    }
    double worked_s = 0;
    for (std::size_t i = 0; i < legs.size(); ++i) {
      worked_s += way.work[i].time_s;
      for (auto& pose : legs[i].poses) pose.at_s += worked_s;
      for (auto& row : legs[i].rows) row.total_time_s += worked_s;
    }
    way.route->time_s += worked_s + way.work.back().time_s;
    constexpr double rounding_s = 1e-5;  // of the numbers printed
    if (std::abs(way.route->time_s - number(laying.at("time_s"))) > rounding_s)
      refuse_changed("a laying whose times do not add up");
    return way;
  }

  static std::string fixed_at(const Json& tie) { return tie_words(read_tie(tie)); }
  static cable::Tie read_tie(const Json& tie) {
    cable::Tie read;
    const auto kind = tie.at("kind").get<std::string>();
    for (const auto known : {cable::TieKind::Rail, cable::TieKind::Clip, cable::TieKind::Connector})
      if (kind == kind_name(known)) read.kind = known;
    read.id = tie.at("id");
    if (tie.contains("along_m")) read.along_m = tie.at("along_m");
    return read;
  }

  /// The line where most of it is out, the loop where it stays hooked, and a path back on which it retracts without
  /// snagging.
  void read_tether(const Json& document, ReadResult& result) const {
    const std::string id = document.at("tether").at("id"), anchor = document.at("anchor").at("id");
    const double length_m = number(document.at("tether").at("length_m")), most_m = number(document.at("most_m"));
    const Json* longest = nullptr;
    for (const auto& mark : document.at("marks"))
      if (!longest || number(mark.at("tight_m")) > number(longest->at("tight_m"))) longest = &mark;
    if (!longest) refuse_changed("a tether without waypoints");
    ReadLine line{false, id, 0,  0, fmt::format("{} from {}", id, longest->at("hook").get<std::string>()),
                  "",    {}, {}, {}};
    line.words =
        fmt::format("pulled tight, at most {} m of {} m is out{}", bare_length_up(most_m), bare_length_down(length_m),
                    !document.at("fails_at").is_null()       ? ": TOO SHORT"
                    : !document.at("unsettled_at").is_null() ? ": not shown to be long enough"
                                                             : "");
    line.points = points(longest->at("line"));
    if (!line.points.empty()) line.ties.push_back({line.points.front(), anchor});
    result.lines.push_back(std::move(line));
    if (const auto& loop = document.at("loop"); !loop.is_null() && !loop.at("clean").get<bool>()) {
      ReadLine hooked{false,
                      id,
                      0,
                      0,
                      fmt::format("loop of {}, out and back", id),
                      fmt::format("{}, {} m pulled tight", loop.at("slide_known").get<bool>() ? "SNAGGED" : "MAY SNAG",
                                  bare_length_up(number(loop.at("tight_m")))),
                      points(loop.at("line")),
                      {},
                      {}};
      for (const auto& at : loop.at("hooked")) {
        const auto held_by = part(at.at("part").get<std::string>());
        hooked.bends.push_back({vec(at.at("at")), fmt::format("round {}", structure_.parts[held_by.index()].name)});
      }
      result.lines.push_back(std::move(hooked));
    }
    read_gone(document.at("routes"), document.at("ways"), "", result);
    read_gone(document.at("other_routes"), document.at("other_ways"), "second mover: ", result);
    if (!document.contains("clean_return") || document.at("clean_return").at("route").is_null()) return;
    ReadWay back;
    back.name = "back, so that the tether retracts without snagging";
    back.route = route(document.at("clean_return").at("route"), {});
    result.ways.push_back(std::move(back));
  }

  /// The routes that were gone on a tether.
  void read_gone(const Json& routes, const Json& names, const std::string& who, ReadResult& result) const {
    if (routes.size() != names.size()) refuse_changed("routes without names");
    for (std::size_t i = 0; i < routes.size(); ++i) {
      ReadWay way;
      way.name = who + names.at(i).get<std::string>();
      way.route = route(routes.at(i), {});
      result.ways.push_back(std::move(way));
    }
  }

  std::vector<Vec3> points(const Json& list) const {
    std::vector<Vec3> points;
    for (const auto& point : list) points.push_back(vec(point));
    return points;
  }

  static void certainty(const Json& entry, ReadWay& way) {
    way.is_proven_best = entry.at("proven_best"), way.is_certain = entry.at("certain");
  }

  ReadWay compared(const Json& row) const {
    const auto loads = row.at("loads").get<std::vector<std::string>>();
    ReadWay way = outcome(row, loads);
    way.name = loads.empty() ? "no load" : loads_words(loads);
    if (!row.at("way").is_null()) way.name = fmt::format("{}, {}", row.at("way").get<std::string>(), way.name);
    way.suit = row.at("suit");
    way.note = row.at("difference");
    certainty(row, way);
    return way;
  }

  ReadWay outcome(const Json& entry, const std::vector<std::string>& loads) const {
    ReadWay way;
    way.loads = loads;
    if (entry.contains("route")) {
      way.route = route(entry.at("route"), loads);
      for (const auto& sentence : entry.at("route").at("brief"))
        way.brief.push_back(
            {sentence.at("text").get<std::string>(), sentence.at("notes").get<std::vector<std::string>>()});
      return way;
    }
    for (const auto& cause : entry.at("causes")) {
      ReadCause read{cause.at("text"), vec(cause.at("at")), std::nullopt};
      if (cause.contains("rail") && !cause.at("rail").is_null()) read.rail = rail(cause.at("rail"));
      way.causes.push_back(std::move(read));
    }
    return way;
  }

  // ---- a route ------------------------------------------------------------------------------------------------------

  route::Route route(const Json& entry, const std::vector<std::string>& loads) const {
    route::Route route;
    route.time_s = number(entry.at("time_s")), route.distance_m = number(entry.at("distance_m"));
    route.moves = entry.at("moves");
    const auto& cause = entry.at("time_by_cause_s");
    route.time_by_cause = {number(cause.at("regrip")),      number(cause.at("translate")),  number(cause.at("turn")),
                           number(cause.at("rail_change")), number(cause.at("start_stop")), number(cause.at("tether")),
                           number(cause.at("load"))};
    route.clearance = clearance(entry.at("clearance"));
    route.clearance_part = maybe_part(entry.at("clearance").at("part"));
    route.clearance_at = vec(entry.at("clearance").at("at"));
    if (entry.contains("load_clearance")) {
      const auto& least = entry.at("load_clearance");
      route.load_clearance = {least.at("load"),    clearance(least), maybe_part(least.at("part")),
                              vec(least.at("at")), least.at("leg"),  least.at("row")};
    }
    route.caution_s = number(entry.at("caution_s"));
    if (entry.contains("price_s")) route.price_s = number(entry.at("price_s"));
    route.zones = zones(entry.at("zones"));
    for (const auto& item : entry.at("kick_band"))
      route.band.push_back({part(item.at("part")), number(item.at("distance_m")), item.at("leg"), item.at("row"),
                            item.at("fragile"), item.at("no_touch")});
    double now = 0;
    for (const auto& leg : entry.at("legs")) route.legs.push_back(this->leg(leg, loads, now));
    if (route.legs.empty()) refuse_changed("a route without legs");
    if (entry.contains("tether")) route.tether = tether(entry.at("tether"), route);
    return route;
  }

  route::TetherUse tether(const Json& entry, const route::Route& route) const {
    route::TetherUse tether{entry.at("id"),
                            entry.at("anchor"),
                            vec(entry.at("at")),
                            number(entry.at("length_m")),
                            number(entry.at("most_m")),
                            {}};
    for (const auto& swap : entry.at("swaps")) {
      tether.swaps.push_back({swap.at("leg"), swap.at("row"), swap.at("pose"), swap.at("hook"), vec(swap.at("at")),
                              number(swap.at("out_before_m")), number(swap.at("at_s"))});
      const auto& read = tether.swaps.back();
      if (read.leg >= route.legs.size() || read.row >= route.legs[read.leg].rows.size() ||
          read.pose >= route.legs[read.leg].poses.size())
        refuse_changed("a tether swap where the route does not go");
    }
    return tether;
  }

  route::Leg leg(const Json& entry, const std::vector<std::string>& loads, double& now) const {
    route::Leg leg;
    leg.from = entry.at("from"), leg.to = entry.at("to");
    leg.time_s = number(entry.at("time_s")), leg.distance_m = number(entry.at("distance_m"));
    leg.moves = entry.at("moves");
    for (const auto& row : entry.at("rows")) leg.rows.push_back(this->row(row));
    for (const auto& pose : entry.at("poses")) {
      leg.poses.push_back(this->pose(pose, loads));
      if (leg.poses.back().at_s < now) refuse_changed("a route that goes back in time");
      now = leg.poses.back().at_s;
    }
    if (leg.rows.empty() || leg.poses.empty()) refuse_changed("a leg without rows or poses");
    return leg;
  }

  route::Row row(const Json& entry) const {
    route::Row row;
    row.kind = word(entry.at("kind"), row_kinds);
    row.part = part(entry.at("part")), row.rail = rail(entry.at("rail"));
    row.face_from = word(entry.at("face_from"), faces), row.face = word(entry.at("face"), faces);
    row.gap_m = number(entry.at("gap_m"));
    row.turn_rad = number(entry.at("turn_deg")) * EIGEN_PI / 180;
    row.along_turn_rad = number(entry.at("along_turn_deg")) * EIGEN_PI / 180;
    row.distance_m = number(entry.at("distance_m")), row.total_distance_m = number(entry.at("total_distance_m"));
    row.moves = entry.at("moves"), row.total_moves = entry.at("total_moves");
    row.time_s = number(entry.at("time_s")), row.total_time_s = number(entry.at("total_time_s"));
    row.clearance = clearance(entry.at("clearance"));
    row.clearance_part = maybe_part(entry.at("clearance_part"));
    row.hand = vec(entry.at("hand")), row.body = vec(entry.at("body")), row.outward = vec(entry.at("outward"));
    row.zones = zones(entry.at("zones"));
    row.along_from_m = number(entry.at("along_from_m")), row.along_to_m = number(entry.at("along_to_m"));
    if (entry.contains("load_clearance")) row.load_clearance = clearance(entry.at("load_clearance"));
    if (entry.contains("tether_m")) row.tether_m = number(entry.at("tether_m"));
    return row;
  }

  route::Pose pose(const Json& entry, const std::vector<std::string>& loads) const {
    route::Pose pose;
    pose.rail = rail(entry.at("rail"));
    pose.hand = vec(entry.at("hand")), pose.body = vec(entry.at("body"));
    pose.outward = vec(entry.at("outward")), pose.stance = vec(entry.at("stance"));
    pose.at_s = number(entry.at("at_s"));
    pose.loads = load_poses(entry.at("loads"), loads);
    return pose;
  }

  std::vector<route::LoadPose> load_poses(const Json& list, const std::vector<std::string>& loads) const {
    std::vector<route::LoadPose> poses;
    for (const auto& box : list) {
      const auto load = std::find(loads.begin(), loads.end(), box.at("load").get<std::string>());
      if (load == loads.end()) refuse_changed("a pose with a load that is not carried");
      route::LoadPose placed{static_cast<std::size_t>(load - loads.begin()), vec(box.at("middle")), {}};
      placed.axes = axes(box);
      poses.push_back(placed);
    }
    return poses;
  }

  // ---- the way home -------------------------------------------------------------------------------------------------

  route::Home home(const Json& document) const {
    route::Home home;
    for (const auto& hatch : document.at("hatches")) home.request.hatches.push_back(hatch);
    home.request.limit_s = number(document.at("limit_s")), home.request.warn_s = number(document.at("warn_s"));
    for (const auto& entry : document.at("places")) {
      route::HomePlace place;
      const auto id = structure_.find_place(entry.at("place").get<std::string>());
      if (!id) refuse_changed(fmt::format("place \"{}\"", entry.at("place").get<std::string>()));
      place.place = *id;
      place.verdict = word(entry.at("verdict"), verdicts);
      place.is_certain = entry.at("certain");
      place.has_route = !entry.at("time_s").is_null();
      if (place.has_route) {
        place.most_s = entry.at("most_s").is_null() ? 0 : number(entry.at("most_s"));
        place.hatch = entry.at("hatch");
        place.time_s = number(entry.at("time_s")), place.distance_m = number(entry.at("distance_m"));
        place.moves = entry.at("moves");
      }
      home.places.push_back(place);
    }
    for (const auto& entry : document.at("farthest"))
      home.worst.push_back({0, rail(entry.at("rail")), vec(entry.at("hand")), number(entry.at("time_s"))});
    return home;
  }

  // ---- an excursion -------------------------------------------------------------------------------------------------

  ReadPlan plan(const Json& document) const {
    ReadPlan read;
    const auto excursion = std::make_shared<model::Excursion>();
    auto& e = *excursion;
    auto& plan = read.plan;
    read.excursion = excursion;
    plan.excursion = excursion.get();
    e.name = document.at("excursion").at("name"), e.file = document.at("excursion").at("file");
    e.sha256 = document.at("excursion").at("sha256");
    e.limit_s = number(document.at("limit_s"));
    plan.configuration = configuration(document.at("configuration"));
    plan.finish_s = number(document.at("finish_s"));
    for (const auto& entry : document.at("crew")) {
      model::CrewMember member;
      member.id = entry.at("id"), member.name = entry.at("name"), member.suit = entry.at("suit");
      if (!kit_.find_suit(member.suit))
        refuse(fmt::format("suit \"{}\" is not in the kit", member.suit), "compute it again with this model");
      const auto start = structure_.find_place(entry.at("start").get<std::string>());
      if (!start) refuse_changed(fmt::format("place \"{}\"", entry.at("start").get<std::string>()));
      member.start = *start;
      for (const auto& tether : entry.at("tethers")) member.tethers.push_back(tether);
      if (!entry.at("anchor").is_null()) {
        const auto anchor = structure_.find_anchor(entry.at("anchor").get<std::string>());
        if (!anchor) refuse_changed(fmt::format("anchor \"{}\"", entry.at("anchor").get<std::string>()));
        member.anchor = anchor;
      }
      plan::Totals totals;
      totals.inside_at_s = number(entry.at("inside_at_s"));
      totals.moves = entry.at("moves");
      totals.distance_m = number(entry.at("distance_m")), totals.energy_j = number(entry.at("energy_j"));
      totals.by_kind_s.assign(plan::row_kind_count, 0);
      for (std::size_t k = 0; k < plan::row_kind_count; ++k)
        if (const auto* name = kind_name(plan_kinds[k]); entry.at("by_kind_s").contains(name))
          totals.by_kind_s[k] = number(entry.at("by_kind_s").at(name));
      e.crew.push_back(std::move(member));
      plan.totals.push_back(std::move(totals));
    }
    constexpr std::size_t most_crew = 2;
    if (e.crew.empty() || e.crew.size() > most_crew)
      refuse_changed("an excursion of none or of more than two crew members");
    for (const auto& id : document.at("right_of_way")) plan.right_of_way.push_back(crew(e, id));
    for (const auto& entry : document.value("cautions", Json::array()))
      plan.cautions.push_back({crew(e, entry.at("crew")), zone(entry.at("zone")), number(entry.at("stay_s"))});
    for (const auto& entry : document.at("tasks")) {
      model::Task task;
      task.id = entry.at("id"), task.name = entry.at("name");
      e.tasks.push_back(std::move(task));
    }
    for (const auto& entry : document.at("items")) {
      model::Item item;
      item.id = entry.at("id"), item.name = entry.at("name"), item.load = entry.at("load");
      if (!kit_.find_load(item.load))
        refuse(fmt::format("load \"{}\" is not in the kit", item.load), "compute it again with this model");
      e.items.push_back(std::move(item));
    }
    for (const auto& entry : document.at("rows")) read_plan_row(entry, e, plan);
    for (std::size_t i = 0; i < e.items.size(); ++i) read_item(document.at("items").at(i), plan::ItemId(i), e, plan);
    for (const auto& entry : document.at("violations")) read_violation(entry, e, read);
    for (const bool is_done : {true, false})
      for (const auto& id : document.at(is_done ? "done" : "dropped")) {
        const auto task = e.find_task(id.get<std::string>());
        if (!task) refuse_changed(fmt::format("task \"{}\"", id.get<std::string>()));
        (is_done ? plan.done : plan.dropped).push_back(*task);
      }
    for (const auto& night : document.at("nights")) plan.nights.emplace_back(number(night.at(0)), number(night.at(1)));
    const auto& back = document.at("back");
    if (!back.at("moments").empty()) read.emergency_s = number(back.at("limit_s"));
    for (const auto& entry : back.at("moments")) {
      plan::Back moment;
      moment.at_s = number(entry.at("at_s")), moment.crew = crew(e, entry.at("crew"));
      moment.row = entry.at("row");
      if (moment.row >= plan.rows.size()) refuse_changed("a moment of no row");
      if (!plan.back.empty() && moment.at_s < plan.back.back().at_s) refuse_changed("moments that go back in time");
      moment.alone_s =
          entry.at("alone_s").is_null() ? std::numeric_limits<double>::infinity() : number(entry.at("alone_s"));
      if (entry.contains("incapacitated_s")) {
        if (entry.at("incapacitated_s").is_null())
          moment.is_incapacitated_proven = false;
        else
          moment.incapacitated_s = number(entry.at("incapacitated_s"));
      }
      plan.back.push_back(moment);
    }
    for (const auto& entry : document.at("not_assessed")) read.not_assessed.push_back(entry.at("sentence"));
    read_changes(document.at("what_if"), read);
    return read;
  }

  /// A cable as the excursion leaves it.
  ReadLine laid_line(const Json& entry, const ReadPlan& read) const {
    const std::string item = entry.at("item");
    if (!read.excursion->find_item(item)) refuse_changed(fmt::format("item \"{}\"", item));
    ReadLine line;
    line.id = entry.at("cable");
    const auto* cable = kit_.find_cable(line.id);
    if (!cable) refuse(fmt::format("cable \"{}\" is not in the kit", line.id), "compute it again with this model");
    line.diameter_m = cable->diameter_m, line.bend_radius_m = cable->bend_radius_m();
    line.name = fmt::format("{} from {} to {}, at the end", item, entry.at("from").get<std::string>(),
                            entry.at("to").get<std::string>());
    line.words = fmt::format("{}, {} m left", entry.at("connected").get<bool>() ? "connected" : "not connected",
                             bare_length_down(number(entry.at("left_m"))));
    line.points = points(entry.at("line"));
    return line;
  }

  void read_plan_row(const Json& entry, model::Excursion& e, plan::Plan& plan) const {
    plan::Row row;
    row.kind = word(entry.at("kind"), plan_kinds), row.what = word(entry.at("act"), plan_acts);
    const auto& who = entry.at("crew");
    if (const auto known = e.find_crew(who.get<std::string>()))
      row.crew = known;
    else if (who != "inside")
      refuse_changed(fmt::format("crew member \"{}\"", who.get<std::string>()));
    row.from_s = number(entry.at("from_s")), row.to_s = number(entry.at("to_s"));
    if (row.from_s < 0 || row.to_s < row.from_s) refuse_changed("a row that goes back in time");
    if (!plan.rows.empty() && row.from_s < plan.rows.back().from_s) refuse_changed("rows that are not in time");
    row.is_derived = entry.at("derived");
    if (entry.contains("action")) row.action = entry.at("action").get<std::size_t>();
    row.subject = entry.at("subject");
    if (entry.contains("other")) row.other = entry.at("other");
    for (const auto& id : entry.at("carried")) {
      if (!e.find_item(id.get<std::string>())) refuse_changed(fmt::format("item \"{}\"", id.get<std::string>()));
      row.carried.push_back(id);
    }
    row.hand = vec(entry.at("hand"));
    row.night_s = number(entry.at("night_s"));
    if (entry.contains("box")) row.box = placed_box(entry.at("box"));
    if (entry.contains("throws") && !e.find_event(row.subject)) {
      model::Event event;
      event.id = row.subject;
      event.throws = entry.at("throws").get<std::map<std::string, std::string>>();
      model::Configuration thrown = plan.configuration;
      for (const auto& [id, position] : event.throws) thrown.positions[id] = position;
      check_configuration(thrown);
      e.events.push_back(std::move(event));
    }
    if (row.what == plan::What::Throw && !e.find_event(row.subject)) refuse_changed("a throw of no switch");
    if (row.what == plan::What::Go) read_leg(entry, plan, row);
    plan.rows.push_back(std::move(row));
  }

  void read_leg(const Json& entry, plan::Plan& plan, plan::Row& row) const {
    row.moves = entry.at("moves"), row.distance_m = number(entry.at("distance_m"));
    if (entry.contains("tether_out_m")) row.tether_out_m = number(entry.at("tether_out_m"));
    double now_s = row.from_s;
    for (const auto& stop : entry.at("path")) {
      row.path.push_back({rail(stop.at("rail")), vec(stop.at("hand")), vec(stop.at("body")),
                          number(stop.at("arrives_s")), number(stop.at("leaves_s"))});
      if (row.path.back().arrives_s < now_s || row.path.back().leaves_s < row.path.back().arrives_s)
        refuse_changed("a leg that goes back in time");
      now_s = row.path.back().leaves_s;
    }
    if (now_s > row.to_s) refuse_changed("a leg that ends after its row");
    if (!entry.contains("waypoints")) return;
    plan::DescribedLeg described;
    described.has_loads = entry.at("loads_followed");
    auto& route = described.route;
    route.clearance = clearance(entry.at("clearance"));
    route.caution_s = number(entry.at("caution_s"));
    route.zones = zones(entry.at("zones"));
    route::Leg leg;
    leg.to = row.subject;
    leg.time_s = route.time_s = row.to_s - row.from_s;
    leg.distance_m = route.distance_m = row.distance_m;
    leg.moves = route.moves = row.moves;
    for (const auto& told : entry.at("waypoints")) {
      leg.rows.push_back(this->row(told));
      if (leg.rows.back().total_moves >= row.path.size()) refuse_changed("a waypoint that the leg does not reach");
    }
    if (leg.rows.empty()) refuse_changed("a leg without waypoints");
    for (const auto& item : entry.at("kick_band")) {
      route.band.push_back({part(item.at("part")), number(item.at("distance_m")), item.at("leg"), item.at("row"),
                            item.at("fragile"), item.at("no_touch")});
      if (route.band.back().row >= leg.rows.size()) refuse_changed("a part near no waypoint");
    }
    for (std::size_t i = 0; i < row.path.size(); ++i) {
      const auto& stop = entry.at("path").at(i);
      route::Pose pose;
      pose.rail = row.path[i].rail, pose.hand = row.path[i].hand, pose.body = row.path[i].body;
      pose.outward = vec(stop.at("outward")), pose.stance = vec(stop.at("stance"));
      pose.at_s = row.path[i].arrives_s - row.from_s;
      pose.loads = load_poses(stop.at("loads"), row.carried);
      leg.poses.push_back(std::move(pose));
    }
    route.legs.push_back(std::move(leg));
    plan.legs[plan.rows.size()] = std::move(described);
  }

  void read_item(const Json& entry, plan::ItemId id, const model::Excursion& e, plan::Plan& plan) const {
    plan::Whereabouts end = whereabouts(entry, id, e);
    end.must_be_inside = entry.at("must_be_inside"), end.must_be_at = entry.at("must_be_at");
    double now_s = 0;
    for (const auto& told : entry.at("stays")) {
      plan::ItemStay stay{number(told.at("from_s")), whereabouts(told, id, e), std::nullopt};
      stay.where.must_be_inside = end.must_be_inside, stay.where.must_be_at = end.must_be_at;
      if (stay.from_s < now_s) refuse_changed("an item that goes back in time");
      now_s = stay.from_s;
      if (told.contains("box")) stay.box = placed_box(told.at("box"));
      plan.stays.push_back(std::move(stay));
    }
    plan.items.push_back(std::move(end));
  }

  plan::Whereabouts whereabouts(const Json& entry, plan::ItemId id, const model::Excursion& e) const {
    plan::Whereabouts where;
    where.item = id;
    where.is_inside = entry.at("inside");
    where.place = entry.value("place", ""), where.container = entry.value("container", "");
    where.crew = entry.value("crew", ""), where.socket = entry.value("socket", "");
    if (entry.contains("rails"))
      for (const auto& rail : entry.at("rails")) where.rails.push_back(structure_.rails[this->rail(rail).index()].id);
    if (!where.place.empty() && !structure_.find_place(where.place))
      refuse_changed(fmt::format("place \"{}\"", where.place));
    if (!where.crew.empty()) (void)crew(e, where.crew);
    if (!where.container.empty() && !e.find_item(where.container))
      refuse_changed(fmt::format("item \"{}\"", where.container));
    return where;
  }

  void read_violation(const Json& entry, const model::Excursion& e, ReadPlan& read) const {
    plan::Violation v;
    v.kind = word(entry.at("kind"), violation_kinds);
    v.at_s = number(entry.at("at_s")), v.to_s = number(entry.at("to_s"));
    if (!entry.at("crew").is_null()) v.crew = crew(e, entry.at("crew"));
    v.subject = entry.at("subject"), v.other = entry.at("other");
    if (entry.contains("at")) v.at = vec(entry.at("at")), v.has_at = true;
    v.is_incapacitated = entry.at("incapacitated");
    if (entry.contains("follows")) v.follows = entry.at("follows").get<std::size_t>();
    read.plan.violations.push_back(std::move(v));
    read.told.push_back({entry.at("sentence"), entry.at("remedy"), entry.at("assumption")});
  }

  static void read_changes(const Json& what_if, ReadPlan& read) {
    auto& changes = read.changes;
    for (const auto& rail : what_if.at("closed_rails"))
      changes.push_back(fmt::format("rail {} closed", rail.get<std::string>()));
    for (const auto& [item, load] : what_if.at("loads").items())
      changes.push_back(fmt::format("{} is a {}", item, load.get<std::string>()));
    for (const auto& [id, factor] : what_if.at("slower").items())
      changes.push_back(fmt::format("{} takes {:g} times as long", id, factor.get<double>()));
    for (const auto& [task, seconds] : what_if.at("longer_s").items())
      changes.push_back(fmt::format("{} takes {} more", task, duration(seconds.get<double>())));
  }

  plan::CrewId crew(const model::Excursion& e, const std::string& id) const {
    const auto found = e.find_crew(id);
    if (!found) refuse_changed(fmt::format("crew member \"{}\"", id));
    return *found;
  }

  plan::PlacedBox placed_box(const Json& entry) const {
    plan::PlacedBox box{vec(entry.at("middle")), vec(entry.at("size_m")), {}};
    box.axes = axes(entry);
    return box;
  }

  // ---- values -------------------------------------------------------------------------------------------------------

  [[noreturn]] void refuse_changed(const std::string& what) const {
    refuse(fmt::format("it says what no result of this model says: {}", what),
           "give what `holdfast route ... --json` printed, unchanged");
  }

  double number(const Json& value) const {
    const auto number = value.get<double>();
    if (!(std::abs(number) <= largest)) refuse_changed("a number beyond all that a route can have");
    return number;
  }
  Vec3 vec(const Json& list) const {
    const Vec3 v(number(list.at(0)), number(list.at(1)), number(list.at(2)));
    if (v.cwiseAbs().maxCoeff() > farthest_m) refuse_changed("a point a thousand kilometres away");
    return v;
  }
  /// All are read before the matrix is filled: a list that throws midway is taken for one that is too short, and ends
  /// the program where assertions are on.
  Eigen::Matrix3d axes(const Json& box) const {
    const Vec3 forward = vec(box.at("forward")), side = vec(box.at("side")), up = vec(box.at("up"));
    Eigen::Matrix3d columns;
    columns << forward, side, up;
    return columns;
  }
  /// Null: nothing there that could be near.
  route::LowerBound clearance(const Json& entry) const {
    const auto& m = entry.at("m");
    return {m.is_null() ? std::numeric_limits<double>::infinity() : number(m), entry.at("at_least")};
  }
  model::RailId rail(const std::string& id) const {
    const auto rail = structure_.find_rail(id);
    if (!rail) refuse_changed(fmt::format("rail \"{}\"", id));
    return *rail;
  }
  model::PartId part(const std::string& id) const {
    const auto part = structure_.find_part(id);
    if (!part) refuse_changed(fmt::format("part \"{}\"", id));
    return *part;
  }
  std::optional<model::PartId> maybe_part(const Json& id) const {
    return id.is_null() ? std::nullopt : std::optional(part(id));
  }
  model::ZoneId zone(const std::string& id) const {
    const auto zone = structure_.find_zone(id);
    if (!zone) refuse_changed(fmt::format("zone \"{}\"", id));
    return *zone;
  }
  std::vector<route::ZoneContact> zones(const Json& list) const {
    std::vector<route::ZoneContact> contacts;
    for (const auto& entry : list) {
      contacts.push_back({zone(entry.at("zone")), word(entry.at("effect"), effects), number(entry.at("inside_s")),
                          number(entry.at("nearest_m"))});
    }
    return contacts;
  }

  /// The enumerator whose name this is: the same names that are written.
  template <class Enum, std::size_t Count>
  Enum word(const std::string& name, const std::array<Enum, Count>& all) const {
    for (const auto value : all)
      if (name == name_of(value)) return value;
    refuse_changed(fmt::format("the word \"{}\"", name));
  }
  static const char* name_of(route::RowKind kind) { return kind_name(kind); }
  static const char* name_of(route::Face face) { return face_name(face); }
  static const char* name_of(model::ZoneEffect effect) { return effect_name(effect); }
  static const char* name_of(route::HomeVerdict verdict) { return verdict_name(verdict); }
  static const char* name_of(plan::RowKind kind) { return kind_name(kind); }
  static const char* name_of(plan::What what) { return kind_name(what); }
  static const char* name_of(plan::ViolationKind kind) { return kind_name(kind); }
  static constexpr auto plan_kinds = all_of<plan::RowKind, plan::row_kind_count>();
  static constexpr auto plan_acts = all_of<plan::What, plan::what_count>();
  static constexpr auto violation_kinds = all_of<plan::ViolationKind, plan::violation_kind_count>();
  static constexpr std::array row_kinds = {route::RowKind::Start, route::RowKind::Along, route::RowKind::Gap,
                                           route::RowKind::Edge, route::RowKind::PartChange};
  static constexpr auto faces = [] {
    std::array<route::Face, route::face_count> all{};
    for (std::size_t f = 0; f < all.size(); ++f) all[f] = route::Face(f);
    return all;
  }();
  static constexpr std::array effects = {model::ZoneEffect::Forbid, model::ZoneEffect::Caution,
                                         model::ZoneEffect::Limit};
  static constexpr std::array verdicts = {route::HomeVerdict::Within, route::HomeVerdict::Near,
                                          route::HomeVerdict::Over, route::HomeVerdict::NoWay};

  const std::string& file_;
  const model::Structure& structure_;
  const model::Kit& kit_;
};

}  // namespace

ReadResult read_result(const std::string& file, const std::string& contents, const model::Structure& structure,
                       const model::Kit& kit) {
  return ResultReader(file, structure, kit).read(contents);
}

std::vector<route::GivenWay> read_ways(const std::string& file, const std::string& contents,
                                       const model::Structure& structure, const model::Kit& kit) {
  ResultReader reader(file, structure, kit);
  const ReadResult result = reader.read(contents);
  if (result.verb != "route")
    reader.refuse("this is not a result of `holdfast route`", "give what `holdfast route ... --json` printed");
  if (result.outcome == "no-route") reader.refuse("this result has no route", "give a result whose outcome is a route");
  std::vector<route::GivenWay> ways;
  for (const auto& read : result.ways) {
    auto way = route::given_way(structure, *read.route,
                                result.outcome == "route" ? file : fmt::format("{}#{}", file, ways.size() + 1));
    way.configuration = result.configuration;
    way.suit = result.suit;
    ways.push_back(std::move(way));
  }
  return ways;
}

cable::LaidCable read_laid(const std::string& file, const std::string& contents, const model::Structure& structure,
                           const model::Kit& kit) {
  ResultReader reader(file, structure, kit);
  const ReadResult result = reader.read(contents);
  if (result.verb != "cable")
    reader.refuse("this is not a result of `holdfast cable`", "give what `holdfast cable ... --json` printed");
  const ReadLine& line = result.lines.front();
  return {line.id, line.points, line.diameter_m / 2, line.bend_radius_m};
}

StageRead read_stage(const std::string& file, const std::string& contents, const model::Structure& structure,
                     const model::Kit& kit) {
  StageRead stage{read_laid(file, contents, structure, kit), std::nullopt, std::nullopt};
  ResultReader(file, structure, kit).read_coil(contents, stage);
  return stage;
}

}  // namespace holdfast::report
