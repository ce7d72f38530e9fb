// SPDX-License-Identifier: GPL-3.0-or-later
#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <charconv>
#include <cmath>
#include <filesystem>
#include <set>
#include <unordered_map>

#include "document_impl.h"
#include "files_impl.h"
#include "holdfast/model/excursion.h"
#include "table_impl.h"

namespace holdfast::model {

using detail::for_each_item;
using detail::ids_of;
using detail::Limits;
using detail::Map;
using detail::Reading;
using detail::Subject;
using detail::written;

namespace {

constexpr std::size_t most_actions = 20'000;  // of one crew member; a day of one action every 5 s
constexpr std::size_t most_listed = 20'000;   // tasks, items, events, windows: each may be named by every action
constexpr double longest_s = 7 * 24 * 3600;

const char* const verbs[] = {"go",         "take",     "put",  "stow",      "set_up",  "take_down", "do",
                             "hold_until", "wait_for", "swap", "hand_over", "receive", "return",    "lay"};
static_assert(std::size(verbs) == action_kind_count);

/// Ids of one list and where each first stands.
struct Names {
  std::string kind;  ///< `item`
  std::string list;  ///< `items`
  std::vector<std::string> ids;
  std::vector<Mark> marks;

  std::unordered_map<std::string, std::size_t> index;  ///< id -> place in `ids`

  [[nodiscard]] std::optional<std::size_t> find(const std::string& id) const {
    const auto found = index.find(id);
    return found == index.end() ? std::nullopt : std::optional(found->second);
  }
};

class ExcursionReader {
 public:
  ExcursionReader(const Model& model, Reading& reading, std::string folder, std::string shown_folder)
      : model_(model), reading_(reading), folder_(std::move(folder)), shown_folder_(std::move(shown_folder)) {}

  Excursion read(const YAML::Node& document) {
    excursion_.values = default_plan_values();
    excursion_.limit_s = model_.kit.design.excursion_s;
    const Map map(reading_, document, "",
                  {"holdfast", "name",    "limit",       "limit_min",  "limit_s", "egress",       "egress_min",
                   "egress_s", "ingress", "ingress_min", "ingress_s",  "by",      "right_of_way", "values",
                   "crew",     "items",   "tasks",       "task_files", "events",  "orbit",        "windows"});
    if (!detail::check_format(map, "excursion") || !are_lists_bounded(map)) return std::move(excursion_);
    excursion_.name = map.text("name", "unnamed excursion");
    excursion_.limit_s = time(map, "limit", {0, longest_s, true}).value_or(excursion_.limit_s);
    excursion_.egress_s = time(map, "egress", {0, longest_s}).value_or(0);
    excursion_.ingress_s = time(map, "ingress", {0, longest_s}).value_or(0);
    excursion_.by = aim(map);
    if (map.has("values")) read_values(map.at("values"));
    if (map.has("orbit")) read_orbit(map.at("orbit"));
    collect(map.at("crew"), crew_);
    collect(map.at("items"), items_);
    collect(map.at("tasks"), tasks_);
    collect(map.at("events"), events_);
    collect(map.at("windows"), windows_);
    for_each_item(reading_, map.at("windows"), "windows",
                  [&](const auto& node, const auto& where) { read_window(node, where); });
    for_each_item(reading_, map.at("task_files"), "task_files",
                  [&](const auto& node, const auto& where) { read_task_file(node, where); });
    for_each_item(reading_, map.at("items"), "items",
                  [&](const auto& node, const auto& where) { read_item(node, where); });
    for_each_item(reading_, map.at("tasks"), "tasks",
                  [&](const auto& node, const auto& where) { read_task(node, where); });
    read_task_rows();
    for_each_item(reading_, map.at("events"), "events",
                  [&](const auto& node, const auto& where) { read_event(node, where); });
    if (map.require("crew", "add crew: with one or two members")) read_crew(map);
    if (map.has("right_of_way")) read_right_of_way(map.at("right_of_way"));
    check_containers();
    check_worths();
    check_once();
    check_hand_overs();
    check_throws();
    return std::move(excursion_);
  }

 private:
  // ---- names -------------------------------------------------------------------------------------------------------

  bool are_lists_bounded(const Map& map) {
    const std::size_t before = reading_.diagnostics.size();
    for (const char* key : {"items", "tasks", "events", "windows"})
      if (const auto list = map.at(key); list.IsDefined() && list.IsSequence())
        check_count(list.size(), key, reading_.mark(list));
    return reading_.diagnostics.size() == before;
  }
  bool check_count(std::size_t count, const std::string& what, const Mark& mark) {
    if (count <= most_listed) return true;
    reading_.fault(mark, what, "too-large", fmt::format("{} {}", count, what), "",
                   fmt::format("at most {}; split the excursion", most_listed));
    return false;
  }

  void collect(const YAML::Node& list, Names& names) {
    if (!list.IsDefined() || !list.IsSequence()) return;
    for (const auto& node : list)
      if (node.IsMap() && node["id"].IsDefined() && node["id"].IsScalar())
        add(names, node["id"].Scalar(), reading_.mark(node));
  }
  static void add(Names& names, const std::string& id, const Mark& mark) {
    if (!detail::is_id(id) || names.find(id)) return;
    names.index.emplace(id, names.ids.size());
    names.ids.push_back(id);
    names.marks.push_back(mark);
  }

  /// False, with a fault, where another of the kind has this id.
  bool is_new_id(const Names& names, const std::string& id, const Mark& mark, const std::string& where) {
    const auto index = names.find(id);
    if (!index) return false;  // told: no id
    const Mark& first = names.marks[*index];
    if (first.file == mark.file && first.line == mark.line && first.column == mark.column) return true;
    reading_.fault(mark, where, "duplicate-id", fmt::format("{} \"{}\" is already there", names.kind, id), id,
                   first.file == mark.file
                       ? fmt::format("the first one is on line {}; rename one of them", first.line)
                       : fmt::format("the first one is at {}:{}; rename one of them", first.file, first.line));
    return false;
  }

  void dangling(const YAML::Node& node, const std::string& where, const std::string& kind,
                const std::vector<std::string>& known, const std::string& source) {
    const std::string id = written(node);
    std::string remedy = detail::suggest(reading_, id, known);
    if (!source.empty()) remedy += fmt::format(" See {}", source);
    reading_.fault(node, where, "dangling-reference", fmt::format("{} \"{}\" does not exist", kind, id), remedy);
  }

  template <class ThingId>
  std::optional<ThingId> reference(const YAML::Node& node, const std::string& where, const Names& names) {
    if (node.IsScalar())
      if (const auto index = names.find(node.Scalar())) return ThingId(*index);
    dangling(node, where, names.kind, names.ids, fmt::format("`{}:`", names.list));
    return std::nullopt;
  }
  template <class ThingId>
  std::optional<ThingId> reference(const Map& map, const std::string& key, const Names& names) {
    return map.has(key) ? reference<ThingId>(map.at(key), map.path(key), names) : std::nullopt;
  }
  template <class ThingId>
  std::vector<ThingId> references(const Map& map, const std::string& key, const Names& names) {
    std::vector<ThingId> ids;
    each_or_one(map, key, [&](const YAML::Node& node, const std::string& where) {
      if (const auto id = reference<ThingId>(node, where, names)) ids.push_back(*id);
    });
    return ids;
  }
  template <class ThingId, class Things>
  std::optional<ThingId> of_model(const YAML::Node& node, const std::string& where, const std::string& kind,
                                  const Things& things, const std::string& source) {
    if (node.IsScalar())
      for (std::size_t i = 0; i < things.size(); ++i)
        if (things[i].id == node.Scalar()) return ThingId(i);
    dangling(node, where, kind, detail::is_listed(reading_) ? ids_of(things) : std::vector<std::string>(), source);
    return std::nullopt;
  }
  std::optional<PlaceId> place(const YAML::Node& node, const std::string& where) {
    return of_model<PlaceId>(node, where, "place", model_.structure.places, "`places:` of structure.yaml");
  }
  std::optional<PlaceId> place(const Map& map, const std::string& key) {
    return map.has(key) ? place(map.at(key), map.path(key)) : std::nullopt;
  }
  template <class Things>
  std::string of_kit(const YAML::Node& node, const std::string& where, const std::string& kind, const Things& things) {
    const auto index = of_model<std::size_t>(node, where, kind, things, "kit.yaml");
    return index ? things[*index].id : std::string();
  }
  /// An item of a list, or the one that stands there by itself.
  template <class Visit>
  void each_or_one(const Map& map, const std::string& key, Visit&& visit) {
    if (!map.has(key)) return;
    const auto node = map.at(key);
    if (node.IsSequence())
      for_each_item(reading_, node, map.path(key), visit);
    else
      visit(node, map.path(key));
  }

  // ---- values ------------------------------------------------------------------------------------------------------

  std::optional<double> time_of(const YAML::Node& node, const std::string& where, Limits limits) {
    const bool may_be_negative = limits.low < 0;
    const auto value = node.IsScalar() ? parse_duration_s(node.Scalar(), may_be_negative) : std::nullopt;
    if (!value) {
      const std::string text = written(node);
      double number = 0;
      const auto [end, error] = std::from_chars(text.data(), text.data() + text.size(), number);
      const bool is_number = error == std::errc{} && end == text.data() + text.size() && std::isfinite(number);
      const auto colon = text.find(':');
      const bool is_two_parts = colon != std::string::npos && text.find(':', colon + 1) == std::string::npos;
      const bool is_negative = text.starts_with('-') && !may_be_negative;
      reading_.fault(
          node, where, "bad-time", fmt::format("\"{}\" is {}", where, text.empty() ? "nothing" : "\"" + text + "\""),
          is_negative    ? "a time here is not negative"
          : is_number    ? fmt::format("say what it counts: \"{0} min\" or \"{0} s\"", text)
          : is_two_parts ? fmt::format("write 0:{0} for minutes and seconds, or {0}:00 for hours and minutes", text)
                         : "write 12 min, 90 s, 1 h 20 min or h:mm:ss");
      return std::nullopt;
    }
    const bool is_low = limits.is_low_excluded ? *value <= limits.low : *value < limits.low;
    if (is_low || *value > limits.high) {
      reading_.fault(
          node, where, "out-of-range", fmt::format("\"{}\" is {}", where, written(node)),
          limits.is_low_excluded ? "it should be more than 0 and at most 168 h" : "it should be between 0 and 168 h");
      return std::nullopt;
    }
    return value;
  }

  /// `key` as people write times, or `key_min` or `key_s` as a plain number; nothing where none stands, or a fault.
  std::optional<double> time(const Map& map, const std::string& key, Limits limits) {
    std::vector<std::string> given;
    for (const auto& name : {key, key + "_min", key + "_s"})
      if (map.has(name)) given.push_back(name);
    if (given.empty()) return std::nullopt;
    if (given.size() > 1)
      reading_.fault(map.at(given[1]), map.path(given[1]), "unknown-key",
                     fmt::format("\"{}\" and \"{}\" say the same", given[0], given[1]), "keep one of them");
    const auto node = map.at(given[0]);
    if (given[0] == key) return time_of(node, map.path(key), limits);
    const double unit_s = given[0].ends_with("_min") ? 60 : 1;
    const auto value = detail::read_number(reading_, node, map.path(given[0]),
                                           {limits.low / unit_s, limits.high / unit_s, limits.is_low_excluded});
    return value ? std::optional(*value * unit_s) : std::nullopt;
  }

  /// The same, or `{value, spread, source}`.
  std::optional<Quantity> time_quantity(const Map& map, const std::string& key, Limits limits) {
    Quantity quantity{0, "excursion file", Confidence::Assumption};
    if (!map.has(key) || !map.at(key).IsMap()) {
      const auto value = time(map, key, limits);
      if (!value) return std::nullopt;
      quantity.value = *value;
      return quantity;
    }
    const Map entry(reading_, map.at(key), map.path(key), {"value", "spread", "source"});
    if (!entry.require("value", "add value: 25 min")) return std::nullopt;
    const auto value = time_of(entry.at("value"), entry.path("value"), limits);
    quantity.source = entry.text("source", quantity.source);
    if (!value) return std::nullopt;
    quantity.value = *value;
    if (entry.has("spread")) {
      const auto node = entry.at("spread");
      if (!node.IsSequence() || node.size() != 2) {
        reading_.fault(node, entry.path("spread"), "wrong-type",
                       fmt::format("\"{}\" should be two times", entry.path("spread")), "write [20 min, 40 min]");
      } else {
        const auto low = time_of(node[0], entry.path("spread"), limits),
                   high = time_of(node[1], entry.path("spread"), limits);
        if (low && high && (*low > *value || *high < *value))
          reading_.fault(node, entry.path("spread"), "out-of-range", "the spread does not hold the value",
                         "write [low, high] with low <= value <= high");
        else if (low && high)
          quantity.spread = {*low, *high};
      }
    }
    return quantity;
  }

  static std::optional<LegAim> aim(const Map& map) {
    if (!map.has("by")) return std::nullopt;
    return static_cast<LegAim>(map.word("by", {"time", "distance", "moves"}, 0));
  }

  void read_values(const YAML::Node& node) {
    PlanValues& v = excursion_.values;
    const Map map(reading_, node, "values",
                  {"restraint_set_s", "restraint_enter_s", "restraint_leave_s", "handling_reach_m", "active_w",
                   "idle_w", "energy_mj"});
    constexpr Limits seconds{0, 1e5}, watts{0, 5000, true};
    v.restraint_set_s = map.quantity("restraint_set_s", seconds, v.restraint_set_s);
    v.restraint_enter_s = map.quantity("restraint_enter_s", seconds, v.restraint_enter_s);
    v.restraint_leave_s = map.quantity("restraint_leave_s", seconds, v.restraint_leave_s);
    v.handling_reach_m = map.quantity("handling_reach_m", {0.1, 3}, v.handling_reach_m);
    v.active_w = map.quantity("active_w", watts, v.active_w);
    v.idle_w = map.quantity("idle_w", watts, v.idle_w);
    v.energy_j = map.quantity("energy_mj", {0, 1000, true}, v.energy_j, 1e6);
  }

  void read_orbit(const YAML::Node& node) {
    const Map map(reading_, node, "orbit",
                  {"period", "period_min", "period_s", "night", "night_min", "night_s", "first_sunset",
                   "first_sunset_min", "first_sunset_s"});
    if (!map.is_valid()) return;
    Orbit orbit;
    const auto period = needed(map, "period", {0, longest_s, true}), night = needed(map, "night", {0, longest_s}),
               sunset = needed(map, "first_sunset", {-longest_s, longest_s});
    if (!period || !night || !sunset) return;
    orbit.period_s = *period, orbit.night_s = *night, orbit.first_sunset_s = *sunset;
    if (orbit.night_s >= orbit.period_s) {
      reading_.fault(map.node(), map.path("night"), "out-of-range", "the night is as long as the period, or longer",
                     "give a night shorter than the period, at 400 km at most 36.11 min of 92.56 min");
      return;
    }
    excursion_.orbit = orbit;
  }

  std::optional<double> needed(const Map& map, const std::string& key, Limits limits) {
    if (!map.has(key) && !map.has(key + "_min") && !map.has(key + "_s")) {
      (void)map.require(key, fmt::format("add {}: 12 min", key));
      return std::nullopt;
    }
    return time(map, key, limits);
  }

  std::map<std::string, std::string> switches(const Map& map, const std::string& key) {
    std::map<std::string, std::string> positions;
    if (!map.has(key)) return positions;
    const auto node = map.at(key);
    if (!node.IsMap()) {
      reading_.fault(node, map.path(key), "wrong-type", fmt::format("\"{}\" should be a mapping", map.path(key)),
                     fmt::format("write {}: {{SWITCH: POSITION}}", key));
      return positions;
    }
    for (const auto& entry : node) {
      const std::string id = written(entry.first), where = map.path(key) + "." + id;
      const auto s = of_model<Id<struct SwitchTag>>(entry.first, where, "switch", model_.structure.switches,
                                                    "`states:` of structure.yaml");
      if (!s) continue;
      const auto& known = model_.structure.switches[s->index()].positions;
      const std::string position = written(entry.second);
      if (std::find(known.begin(), known.end(), position) == known.end())
        reading_.fault(entry.second, where, "dangling-reference",
                       fmt::format("switch \"{}\" has no position \"{}\"", id, position),
                       detail::suggest(reading_, position, known));
      else
        positions[id] = position;
    }
    return positions;
  }

  // ---- windows, items, tasks, events -------------------------------------------------------------------------------

  void read_window(const YAML::Node& node, const std::string& where) {
    const Map map(reading_, node, where, {"id", "from", "from_min", "from_s", "to", "to_min", "to_s"});
    if (!map.is_valid()) return;
    TimeWindow window;
    window.mark = map.mark();
    window.id = detail::read_id(map);
    const Subject subject(reading_, fmt::format("window \"{}\"", window.id));
    const auto from = needed(map, "from", {0, longest_s}), to = needed(map, "to", {0, longest_s});
    if (from && to && *to <= *from)
      reading_.fault(node, map.path("to"), "out-of-range", "the window ends before it begins, or at once",
                     "write from: before to:");
    window.from_s = from.value_or(0), window.to_s = to.value_or(0);
    // Windows of one name are one thing that comes and goes.
    first_windows_.emplace(window.id, excursion_.windows.size());
    excursion_.windows.push_back(std::move(window));
  }

  void read_item(const YAML::Node& node, const std::string& where) {
    const Map map(reading_, node, where,
                  {"id", "name", "load", "restraint", "at", "in", "home", "bring_in", "keep", "cable", "laid"});
    if (!map.is_valid()) return;
    Item item;
    item.mark = map.mark();
    item.id = detail::read_id(map);
    const Subject subject(reading_, fmt::format("item \"{}\"", item.id));
    item.name = map.text("name", item.id);
    if (map.has("cable")) item.cable = of_kit(map.at("cable"), map.path("cable"), "cable", model_.kit.cables);
    if (const auto* cable = model_.kit.find_cable(item.cable); cable && !map.has("load") && !cable->spool.empty())
      item.load = cable->spool;
    else if (map.require("load", map.has("cable") ? "name the load of the kit that it is carried as: a spool or a bag"
                                                  : "name a load of the kit"))
      item.load = of_kit(map.at("load"), map.path("load"), "load", model_.kit.loads);
    if (map.has("restraint"))
      item.restraint = of_kit(map.at("restraint"), map.path("restraint"), "foot restraint", model_.kit.foot_restraints);
    item.at = place(map, "at");
    item.in = reference<ItemId>(map, "in", items_);
    if (map.has("laid"))
      read_laid(map, item);
    else if (map.has("at") == map.has("in"))
      reading_.fault(map.has("in") ? map.at("in") : node, map.path("at"), map.has("at") ? "unknown-key" : "missing-key",
                     map.has("at") ? "it is at a place and inside an item" : "where it is at time zero is missing",
                     "write at: PLACE, or in: ITEM");
    check_lies(map, "at", item.at);
    item.home = place(map, "home");
    check_lies(map, "home", item.home);
    item.bring_in = map.flag("bring_in", false);
    item.keep = map.flag("keep", false);
    if (map.has("cable"))
      for (const char* key : {"restraint", "keep"})
        if (map.has(key))
          reading_.fault(map.at(key), map.path(key), "unknown-key",
                         fmt::format("\"{}\" does not belong to an item with a cable on it", key), "remove it");
    if (is_new_id(items_, item.id, item.mark, map.path("id"))) excursion_.items.push_back(std::move(item));
  }

  /// An item whose cable is laid as far as a coil, where it is at time zero.
  void read_laid(const Map& map, Item& item) {
    if (!map.has("cable"))
      reading_.fault(map.at("laid"), map.path("laid"), "unknown-key", "no cable is on it that could be laid",
                     "add cable: ID of the kit");
    for (const char* key : {"at", "in"})
      if (map.has(key))
        reading_.fault(map.at(key), map.path(key), "unknown-key", "a cable that is laid is where its coil is",
                       "remove it");
    const std::string name = map.text("laid");
    if (detail::locate_below(folder_, name, reading_.mark(map.at("laid")), map.path("laid"), reading_.diagnostics))
      item.laid_file = shown_folder_ + name;
  }

  void check_lies(const Map& map, const std::string& key, const std::optional<PlaceId>& id) {
    if (!id) return;
    const auto kind = model_.structure.places[id->index()].kind;
    if (kind != PlaceKind::Hatch && kind != PlaceKind::Stowage)
      reading_.fault(map.at(key), map.path(key), "out-of-range",
                     fmt::format("place \"{}\" is neither a hatch nor a stowage", written(map.at(key))),
                     "name a place of kind hatch or stowage");
  }

  void read_task(const YAML::Node& node, const std::string& where) {
    const Map map(
        reading_, node, where,
        {"id", "name", "at", "duration", "duration_min", "duration_s", "needs", "after", "leaves", "optional"});
    if (!map.is_valid()) return;
    Task task;
    task.mark = map.mark();
    task.id = detail::read_id(map);
    const Subject subject(reading_, fmt::format("task \"{}\"", task.id));
    task.name = map.text("name", task.id);
    task.at = place(map, "at");
    if (!map.has("duration") && !map.has("duration_min") && !map.has("duration_s"))
      (void)map.require("duration", "add duration: 12 min");
    else
      task.duration_s = time_quantity(map, "duration", {0, longest_s}).value_or(task.duration_s);
    task.after = references<TaskId>(map, "after", tasks_);
    task.leaves = references<ItemId>(map, "leaves", items_);
    if (map.has("needs")) {
      const Map needs(
          reading_, map.at("needs"), map.path("needs"),
          {"items", "restraint_in", "states", "both", "windows", "day", "targets", "setting", "photograph", "camera"});
      task.items = references<ItemId>(needs, "items", items_);
      if (needs.has("restraint_in"))
        task.restraint_in = of_model<SocketId>(needs.at("restraint_in"), needs.path("restraint_in"), "socket",
                                               model_.structure.sockets, "`sockets:` of structure.yaml");
      task.states = switches(needs, "states");
      task.both = needs.flag("both", false);
      read_worksite(needs, task);
      for (const WindowId id : references<WindowId>(needs, "windows", windows_)) add_window(task, id.index());
      task.needs_day = needs.flag("day", false);
      if (task.needs_day && !excursion_.orbit)
        reading_.fault(needs.at("day"), needs.path("day"), "missing-key", "it needs day, and no orbit is given",
                       "add orbit: {period: 92.56 min, night: 36.11 min, first_sunset: 20 min}");
    }
    if (task.both && !task.at && !map.has("at"))
      reading_.fault(node, map.path("at"), "missing-key", "a task of both crew members has no place", "add at: PLACE");
    if (map.has("optional")) {
      const Map optional(reading_, map.at("optional"), map.path("optional"), {"priority", "score"});
      Worth worth;
      if (optional.has("priority")) {
        const double value = optional.number("priority", {1, 1e6}, 1);
        worth.priority = static_cast<int>(value);
        if (value != *worth.priority)
          reading_.fault(optional.at("priority"), optional.path("priority"), "wrong-type",
                         "\"priority\" should be a whole number", "1 is first");
      }
      if (optional.has("score")) worth.score = optional.number("score", {0, 1e6}, 0);
      if (optional.is_valid() && optional.has("priority") == optional.has("score"))
        reading_.fault(map.at("optional"), map.path("optional"),
                       optional.has("priority") ? "unknown-key" : "missing-key",
                       optional.has("priority") ? "it has a priority and a score" : "what it is worth is missing",
                       "write priority: 1 (1 is first), or score: 30");
      task.optional = worth;
    }
    if (is_new_id(tasks_, task.id, task.mark, map.path("id"))) excursion_.tasks.push_back(std::move(task));
  }

  /// Several windows may have one name: contact comes and goes. The first stands for all of them.
  void add_window(Task& task, std::size_t name) const {
    if (const auto first = first_windows_.find(windows_.ids[name]); first != first_windows_.end())
      task.windows.emplace_back(first->second);
  }

  [[nodiscard]] std::vector<std::string> places_and_sockets() const {
    auto ids = ids_of(model_.structure.places);
    for (auto& id : ids_of(model_.structure.sockets)) ids.push_back(std::move(id));
    return ids;
  }

  /// What a task works on, and from how.
  void read_worksite(const Map& needs, Task& task) {
    each_or_one(needs, "targets", [&](const YAML::Node& node, const std::string& where) {
      const auto known = places_and_sockets();
      if (node.IsScalar() && std::find(known.begin(), known.end(), node.Scalar()) != known.end())
        task.targets.push_back(node.Scalar());
      else
        dangling(node, where, "place or socket", known, "`places:` and `sockets:` of structure.yaml");
    });
    if (needs.has("setting")) {
      if (!task.restraint_in)
        reading_.fault(needs.at("setting"), needs.path("setting"), "unknown-key",
                       "a setting is of a foot restraint, and none is needed",
                       "add restraint_in: SOCKET, or remove it");
      const Map map(reading_, needs.at("setting"), needs.path("setting"),
                    {"roll_deg", "pitch_deg", "height_m", "yaw_deg"});
      constexpr double degree = 3.14159265358979323846 / 180;
      const auto number = [&](const char* key, Limits limits, double unit) -> std::optional<double> {
        if (!map.is_valid() || !map.has(key)) return std::nullopt;
        const auto value = detail::read_number(reading_, map.at(key), map.path(key), limits);
        return value ? std::optional(*value * unit) : std::nullopt;
      };
      task.setting = {number("roll_deg", {-360, 360}, degree), number("pitch_deg", {-180, 180}, degree),
                      number("height_m", {0, 5}, 1), number("yaw_deg", {-360, 360}, degree)};
    }
    if (needs.has("photograph"))
      task.photograph = of_model<PatchId>(needs.at("photograph"), needs.path("photograph"), "patch",
                                          model_.structure.patches, "`patches:` of structure.yaml");
    if (needs.has("camera")) {
      task.camera = of_kit(needs.at("camera"), needs.path("camera"), "camera", model_.kit.cameras);
      if (!needs.has("photograph"))
        reading_.fault(needs.at("camera"), needs.path("camera"), "unknown-key", "a camera is for a photograph",
                       "add photograph: PATCH, or remove it");
    }
    if (task.photograph && task.restraint_in)
      reading_.fault(needs.at("photograph"), needs.path("photograph"), "unknown-key",
                     "a photograph is taken from a grip, and a foot restraint is needed",
                     "make two tasks of it, or remove restraint_in");
  }

  /// Tasks of a table come after those of the file; their names are known before.
  void read_task_file(const YAML::Node& node, const std::string& where) {
    if (!node.IsScalar()) {
      reading_.fault(node, where, "wrong-type", "a table of tasks is named by its file", "write [tasks.csv]");
      return;
    }
    const std::string name = node.Scalar();
    const auto path = detail::locate_below(folder_, name, reading_.mark(node), "", reading_.diagnostics);
    if (!path) return;
    auto text = detail::read_bytes(*path, shown_folder_ + name, reading_.diagnostics);
    if (!text || !detail::check_text(*text, shown_folder_ + name, reading_.diagnostics)) return;
    static const detail::ColumnNames columns = {
        .required = {"id", "duration"},
        .optional = {"name", "at", "items", "restraint_in", "both", "after", "leaves", "priority", "score", "targets",
                     "photograph", "camera", "states", "windows", "day"},
        .numbers = {}};
    std::vector<Diagnostic> notes;
    auto table = detail::read_table(*text, shown_folder_ + name, columns, reading_.diagnostics, notes);
    if (!check_count(tasks_.ids.size() + table.rows.size(), "tasks", {shown_folder_ + name, 1, 1})) return;
    // Other columns are the planner's own. Those that say who or when would be missed: they are not read.
    for (Diagnostic& note : notes) {
      static const std::set<std::string> times = {"start", "starts",  "begin",  "begins", "from",
                                                  "to",    "end",     "ends",   "until",  "not_before",
                                                  "time",  "start_s", "finish", "end_s"};
      static const std::set<std::string> who = {"crew", "crew_member", "who", "ev"};
      const std::string column = detail::plain_name(note.value);
      if (times.count(column))
        note.remedy = "take the column out; times stand with the actions: {do: TASK, not_before: 0:30:00}";
      else if (who.count(column))
        note.remedy = "take the column out; who does a task is said by the sequence that it stands in";
      else
        continue;
      reading_.diagnostics.push_back(std::move(note));
    }
    for (const auto& row : table.rows) add(tasks_, table.field(row, "id"), {shown_folder_ + name, row.line, 1});
    tables_.emplace_back(shown_folder_ + name, std::move(table));
  }

  void read_task_rows() {
    for (const auto& [file, table] : tables_) {
      const std::string saved = reading_.file;
      reading_.file = file;
      for (const auto& row : table.rows) {
        const auto field = [&](const char* column) { return table.field(row, column); };
        const auto words = [&](const char* column) {
          std::vector<std::string> list;
          std::string word;
          for (const char c : field(column) + " ")
            if (c != ' ')
              word += c;
            else if (!word.empty())
              list.push_back(word), word.clear();
          return list;
        };
        read_task_row(row, field, words);
      }
      reading_.file = saved;
    }
  }

  template <class Field, class Words>
  void read_task_row(const detail::TableRow& row, const Field& field, const Words& words) {
    const Mark mark{reading_.file, row.line, 1};
    const auto fault = [&](const char* column, const std::string& code, const std::string& problem,
                           std::string remedy) {
      reading_.fault(mark, column, code, problem, field(column), std::move(remedy));
    };
    Task task;
    task.mark = mark;
    task.id = field("id");
    const Subject subject(reading_, fmt::format("task \"{}\"", task.id));
    if (!detail::is_id(task.id)) {
      fault("id", "bad-id", fmt::format("\"{}\" is no id", task.id),
            "use letters, digits, - _ and . only, at most 64 of them");
      return;
    }
    task.name = field("name").empty() ? task.id : field("name");
    if (const auto duration = parse_duration_s(field("duration")); duration && *duration <= longest_s)
      task.duration_s = {*duration, mark.file, Confidence::Assumption};
    else
      fault("duration", "bad-time", fmt::format("\"duration\" is \"{}\"", field("duration")),
            "write 12 min, 90 s, 1 h 20 min or h:mm:ss");
    const auto look_up = [&](const char* column, const std::string& word, const std::string& kind,
                             const std::vector<std::string>& known) -> std::optional<std::size_t> {
      const auto found = std::find(known.begin(), known.end(), word);
      if (found != known.end()) return static_cast<std::size_t>(found - known.begin());
      fault(column, "dangling-reference", fmt::format("{} \"{}\" does not exist", kind, word),
            detail::suggest(reading_, word, known));
      return std::nullopt;
    };
    const auto named = [&](const char* column, const std::string& word, const Names& names) {
      const auto index = names.find(word);
      return index ? index : look_up(column, word, names.kind, names.ids);
    };
    if (!field("at").empty())
      if (const auto at = look_up("at", field("at"), "place", ids_of(model_.structure.places))) task.at = PlaceId(*at);
    if (!field("restraint_in").empty())
      if (const auto s = look_up("restraint_in", field("restraint_in"), "socket", ids_of(model_.structure.sockets)))
        task.restraint_in = SocketId(*s);
    for (const auto& word : words("items"))
      if (const auto i = named("items", word, items_)) task.items.emplace_back(*i);
    for (const auto& word : words("leaves"))
      if (const auto i = named("leaves", word, items_)) task.leaves.emplace_back(*i);
    for (const auto& word : words("after"))
      if (const auto t = named("after", word, tasks_)) task.after.emplace_back(*t);
    const auto flag = [&](const char* column) {
      const std::string text = field(column);
      if (text == "yes" || text == "true") return true;
      if (!text.empty() && text != "no" && text != "false")
        fault(column, "wrong-type", fmt::format("\"{}\" should be yes or no, not \"{}\"", column, text),
              "write yes or no");
      return false;
    };
    task.both = flag("both");
    if (task.both && !task.at)
      fault("at", "missing-key", "a task of both crew members has no place", "fill the column \"at\"");
    if (!field("targets").empty()) {
      const auto targets = places_and_sockets();
      for (const auto& word : words("targets"))
        if (look_up("targets", word, "place or socket", targets)) task.targets.push_back(word);
    }
    if (!field("photograph").empty())
      if (const auto p = look_up("photograph", field("photograph"), "patch", ids_of(model_.structure.patches)))
        task.photograph = PatchId(*p);
    if (!field("camera").empty() && look_up("camera", field("camera"), "camera", ids_of(model_.kit.cameras)))
      task.camera = field("camera");
    if (!field("camera").empty() && field("photograph").empty())
      fault("camera", "unknown-key", "a camera is for a photograph",
            "fill the column \"photograph\", or empty this one");
    if (task.photograph && task.restraint_in)
      fault("photograph", "unknown-key", "a photograph is taken from a grip, and a foot restraint is needed",
            "make two tasks of it, or empty the column \"restraint_in\"");
    for (const auto& word : words("states")) {
      const auto equals = word.find('=');
      if (equals == std::string::npos) {
        fault("states", "wrong-type", fmt::format("\"{}\" is no state of a switch", word), "write SWITCH=POSITION");
        continue;
      }
      const auto s = look_up("states", word.substr(0, equals), "switch", ids_of(model_.structure.switches));
      if (!s) continue;
      const auto& known = model_.structure.switches[*s].positions;
      const std::string id = word.substr(0, equals), position = word.substr(equals + 1);
      if (std::find(known.begin(), known.end(), position) == known.end())
        fault("states", "dangling-reference", fmt::format("switch \"{}\" has no position \"{}\"", id, position),
              detail::suggest(reading_, position, known));
      else if (const auto [entry, is_new] = task.states.emplace(id, position); !is_new && entry->second != position)
        fault("states", "out-of-range", fmt::format("switch \"{}\" is needed in two positions", id),
              "leave one of them");
    }
    for (const auto& word : words("windows"))
      if (const auto w = named("windows", word, windows_)) add_window(task, *w);
    task.needs_day = flag("day");
    if (task.needs_day && !excursion_.orbit)
      fault("day", "missing-key", "it needs day, and no orbit is given",
            "add orbit: {period: 92.56 min, night: 36.11 min, first_sunset: 20 min}");
    for (const char* column : {"priority", "score"}) {
      if (field(column).empty()) continue;
      double value = 0;
      const std::string text = field(column);
      const auto [end, error] = std::from_chars(text.data(), text.data() + text.size(), value);
      if (error != std::errc{} || end != text.data() + text.size() || !(value >= 0) || value > 1e6 ||
          (std::string_view(column) == "priority" && (value < 1 || value != std::floor(value))))
        fault(
            column, "out-of-range", fmt::format("\"{}\" is {}", column, text),
            std::string_view(column) == "priority" ? "write a whole number; 1 is first" : "write a number, 0 or more");
      else if (std::string_view(column) == "priority")
        task.optional = Worth{static_cast<int>(value), std::nullopt};
      else
        task.optional = Worth{task.optional ? task.optional->priority : std::nullopt, value};
    }
    if (task.optional && task.optional->priority && task.optional->score)
      fault("score", "unknown-key", "it has a priority and a score", "fill one of the two columns");
    if (is_new_id(tasks_, task.id, mark, "id")) excursion_.tasks.push_back(std::move(task));
  }

  void read_event(const YAML::Node& node, const std::string& where) {
    const Map map(reading_, node, where,
                  {"id", "throw", "hold", "at", "at_min", "at_s", "after", "takes", "takes_min", "takes_s", "for",
                   "for_min", "for_s", "work"});
    if (!map.is_valid()) return;
    Event event;
    event.mark = map.mark();
    event.id = detail::read_id(map);
    const Subject subject(reading_, fmt::format("event \"{}\"", event.id));
    if (map.has("throw") == map.has("hold")) {
      reading_.fault(node, where, map.has("throw") ? "wrong-type" : "missing-key",
                     map.has("throw") ? "an event throws switches or holds, not both" : "what happens is missing",
                     "write throw: {SWITCH: POSITION}, or hold: [CREW]");
    }
    event.throws = switches(map, "throw");
    event.holds = references<CrewId>(map, "hold", crew_);
    const bool is_throw = map.has("throw");
    for (const char* key : {"takes", "takes_min", "takes_s"})
      if (!is_throw && map.has(key))
        reading_.fault(map.at(key), map.path(key), "unknown-key", fmt::format("\"{}\" is of a throw", key),
                       "write for: 10 min");
    for (const char* key : {"for", "for_min", "for_s", "work"})
      if (is_throw && map.has(key))
        reading_.fault(map.at(key), map.path(key), "unknown-key", fmt::format("\"{}\" is of a hold", key),
                       "write takes: 2 min");
    event.duration_s = is_throw ? time(map, "takes", {0, longest_s}).value_or(0)
                                : needed(map, "for", {0, longest_s, true}).value_or(1);
    event.allows_work = map.flag("work", true);
    event.at_s = time(map, "at", {0, longest_s});
    event.after = reference<TaskId>(map, "after", tasks_);
    const bool has_at = map.has("at") || map.has("at_min") || map.has("at_s");
    if (has_at == map.has("after"))
      reading_.fault(node, where, has_at ? "unknown-key" : "missing-key",
                     has_at ? "it is at a moment and after a task" : "when it happens is missing",
                     "write at: 1:20:00, or after: TASK");
    if (is_new_id(events_, event.id, event.mark, map.path("id"))) excursion_.events.push_back(std::move(event));
  }

  // ---- crew and actions --------------------------------------------------------------------------------------------

  void read_crew(const Map& map) {
    for_each_item(reading_, map.at("crew"), "crew",
                  [&](const auto& node, const auto& where) { read_member(node, where); });
    if (map.at("crew").IsSequence() && (map.at("crew").size() == 0 || map.at("crew").size() > 2))
      reading_.fault(map.at("crew"), "crew", "out-of-range",
                     fmt::format("the crew has {} members", map.at("crew").size()),
                     "an excursion is made by one or two");
  }

  std::optional<PlaceId> only_hatch() const {
    std::optional<PlaceId> found;
    for (std::size_t p = 0; p < model_.structure.places.size(); ++p)
      if (model_.structure.places[p].kind == PlaceKind::Hatch) {
        if (found) return std::nullopt;
        found = PlaceId(p);
      }
    return found;
  }

  void read_member(const YAML::Node& node, const std::string& where) {
    const Map map(reading_, node, where,
                  {"id", "name", "suit", "start", "tethers", "anchor", "by", "begin", "sequence", "end"});
    if (!map.is_valid()) return;
    CrewMember member;
    member.mark = map.mark();
    member.id = detail::read_id(map);
    const Subject subject(reading_, fmt::format("crew member \"{}\"", member.id));
    member.name = map.text("name", member.id);
    member.suit = map.has("suit") ? of_kit(map.at("suit"), map.path("suit"), "suit", model_.kit.suits)
                                  : model_.kit.suits.front().id;
    const auto start = map.has("start") ? place(map, "start") : only_hatch();
    if (!start && !map.has("start"))
      reading_.fault(node, map.path("start"), "missing-key", "the model does not have exactly one hatch",
                     "add start: PLACE");
    member.start = start.value_or(PlaceId());
    each_or_one(map, "tethers", [&](const YAML::Node& tether, const std::string& path) {
      if (const auto id = of_kit(tether, path, "tether", model_.kit.tethers); !id.empty()) member.tethers.push_back(id);
    });
    if (map.has("anchor"))
      member.anchor = of_model<AnchorId>(map.at("anchor"), map.path("anchor"), "anchor", model_.structure.anchors,
                                         "`anchors:` of structure.yaml");
    if (map.has("tethers") != map.has("anchor"))
      reading_.fault(
          node, map.path(map.has("tethers") ? "anchor" : "tethers"), "missing-key",
          map.has("tethers") ? "where its first tether is hooked on is missing" : "it has an anchor and no tether",
          map.has("tethers") ? "add anchor: ANCHOR" : "add tethers: [TETHER], or remove anchor");
    member.by = aim(map);
    const bool is_known = is_new_id(crew_, member.id, member.mark, map.path("id"));
    member.begins = read_actions(map, "begin", member);
    (void)read_actions(map, "sequence", member);
    member.ends = read_actions(map, "end", member);
    if (is_known) excursion_.crew.push_back(std::move(member));
  }

  /// How many were added.
  std::size_t read_actions(const Map& map, const std::string& key, CrewMember& member) {
    const auto list = map.at(key);
    const std::size_t before = member.actions.size();
    if (list.IsDefined() && list.IsSequence() && list.size() > most_actions)
      reading_.fault(list, map.path(key), "too-large", fmt::format("a sequence of {} actions", list.size()),
                     fmt::format("at most {}; split the excursion", most_actions));
    else
      for_each_item(reading_, list, map.path(key), [&](const YAML::Node& action, const std::string& path) {
        auto read = read_action(action, path);
        if (!read) return;
        // After the return nothing is done: what follows would be left out without a word.
        const bool is_last_list = key == "end" || (key == "sequence" && !map.has("end"));
        const bool is_last = is_last_list && action.is(list[list.size() - 1]);
        if (read->kind == ActionKind::Return && !is_last)
          reading_.fault(action, path, "out-of-range",
                         fmt::format("\"return\" stands in \"{}\", and more follows", key),
                         fmt::format("let it be the last of \"{}\"", map.has("end") ? "end" : "sequence"));
        member.actions.push_back(std::move(*read));
      });
    return member.actions.size() - before;
  }

  static std::string plain_verb(std::string key) {
    std::replace(key.begin(), key.end(), ' ', '_');
    return key;
  }

  std::optional<Action> read_action(const YAML::Node& node, const std::string& where) {
    Action action;
    action.mark = reading_.mark(node);
    if (node.IsScalar() && node.Scalar() == "return") {
      action.kind = ActionKind::Return;
      return action;
    }
    const std::vector<std::string> known(std::begin(verbs), std::end(verbs));
    if (!node.IsMap()) {
      reading_.fault(node, where, "wrong-type", fmt::format("an action is VERB: WHAT, not \"{}\"", written(node)),
                     fmt::format("one of: {}", fmt::join(known, ", ")));
      return std::nullopt;
    }
    std::vector<std::pair<std::string, std::size_t>> found;  // key as written, verb
    std::vector<std::string> keys = {"id",           "by",  "via",  "into",       "on",
                                     "in",           "to",  "from", "not_before", "not_before_min",
                                     "not_before_s", "for", "leave"};
    for (const auto& entry : node) {
      const std::string key = written(entry.first);
      const auto verb = std::find(known.begin(), known.end(), plain_verb(key));
      if (verb == known.end()) continue;
      found.emplace_back(key, static_cast<std::size_t>(verb - known.begin()));
      keys.push_back(key);
    }
    if (found.size() != 1) {
      std::vector<std::string> two;
      for (const auto& [key, verb] : found) two.push_back(key);
      if (found.size() > 1) {
        reading_.fault(node, where, "two-actions", fmt::format("two actions at once: {}", fmt::join(two, ", ")),
                       "write each on a line of its own");
        return std::nullopt;
      }
      std::string first;
      for (const auto& entry : node)
        if (std::find(keys.begin(), keys.end(), written(entry.first)) == keys.end()) first = written(entry.first);
      reading_.fault(node, where, "unknown-word",
                     first.empty() ? "what is done is missing" : fmt::format("\"{}\" is no action", first),
                     detail::suggest(reading_, plain_verb(first), known));
      return std::nullopt;
    }
    const auto& [key, verb] = found.front();
    action.kind = static_cast<ActionKind>(verb);
    const Map map(reading_, node, where, keys);
    action.id = map.text("id");
    const auto allow = [&](std::initializer_list<const char*> allowed) {
      for (const char* extra : {"by", "via", "into", "on", "in", "to", "from"})
        if (map.has(extra) && std::find_if(allowed.begin(), allowed.end(), [&](const char* a) {
                                return std::string_view(a) == extra;
                              }) == allowed.end())
          reading_.fault(map.at(extra), map.path(extra), "unknown-key",
                         fmt::format("\"{}\" does not belong to \"{}\"", extra, key), "remove it");
    };
    action.not_before_s = time(map, "not_before", {0, longest_s});
    action.for_task = reference<TaskId>(map, "for", tasks_);
    action.by = aim(map);
    const auto item_of = [&] { return reference<ItemId>(map, key, items_); };
    switch (action.kind) {
      case ActionKind::Go:
        allow({"by", "via"});
        action.place = place(map, key);
        each_or_one(map, "via", [&](const YAML::Node& via, const std::string& path) {
          if (const auto id = place(via, path)) action.via.push_back(*id);
        });
        break;
      case ActionKind::Take:
        allow({"by"});
        action.item = item_of();
        break;
      case ActionKind::Put:
        allow({"into", "by"});
        action.item = item_of();
        action.into = reference<ItemId>(map, "into", items_);
        if (action.item && action.into == action.item)
          reading_.fault(map.at("into"), map.path("into"), "out-of-range", "an item does not go into itself",
                         "name another");
        break;
      case ActionKind::Stow:
        allow({"on", "by"});
        action.item = item_of();
        if (map.require("on", "name the rails that it is tied to: on: [RAIL]"))
          each_or_one(map, "on", [&](const YAML::Node& rail, const std::string& path) {
            if (const auto id =
                    of_model<RailId>(rail, path, "rail", model_.structure.rails, "`rails:` of structure.yaml"))
              action.rails.push_back(*id);
          });
        break;
      case ActionKind::SetUp:
        allow({"in", "by"});
        action.item = item_of();
        if (map.require("in", "name the socket: in: SOCKET"))
          action.socket = of_model<SocketId>(map.at("in"), map.path("in"), "socket", model_.structure.sockets,
                                             "`sockets:` of structure.yaml");
        check_restraint(action, map, key);
        break;
      case ActionKind::TakeDown:
        allow({"by"});
        action.item = item_of();
        check_restraint(action, map, key);
        break;
      case ActionKind::Do:
        allow({"by"});
        action.task = reference<TaskId>(map, key, tasks_);
        break;
      case ActionKind::HoldUntil:
        allow({});
        action.until_s = time_of(map.at(key), map.path(key), {0, longest_s}).value_or(0);
        break;
      case ActionKind::WaitFor:
        allow({});
        if (const auto task = tasks_.find(map.text(key))) {
          action.task = TaskId(*task);
        } else if (const auto event = events_.find(map.text(key))) {
          action.event = EventId(*event);
        } else {
          auto both = tasks_.ids;
          both.insert(both.end(), events_.ids.begin(), events_.ids.end());
          dangling(map.at(key), map.path(key), "task or event", both, "`tasks:` and `events:`");
        }
        break;
      case ActionKind::Swap:
        allow({"by"});
        action.anchor = of_model<AnchorId>(map.at(key), map.path(key), "anchor", model_.structure.anchors,
                                           "`anchors:` of structure.yaml");
        break;
      case ActionKind::HandOver:
        allow({"to"});
        action.item = item_of();
        if (map.require("to", "add to: CREW")) action.other = reference<CrewId>(map, "to", crew_);
        break;
      case ActionKind::Receive:
        allow({"from"});
        action.item = item_of();
        if (map.require("from", "add from: CREW")) action.other = reference<CrewId>(map, "from", crew_);
        break;
      case ActionKind::Return:
        allow({"by"});
        break;
      case ActionKind::Lay:
        allow({"from", "to", "by"});
        action.item = item_of();
        if (action.item && action.item->index() < excursion_.items.size() &&
            excursion_.items[action.item->index()].cable.empty())
          reading_.fault(map.at(key), map.path(key), "wrong-type",
                         fmt::format("item \"{}\" has no cable on it", written(map.at(key))),
                         "give the item cable: ID of the kit, or name another item");
        if (map.has("from")) action.from = place(map, "from");
        if (map.require("to", "add to: CONNECTOR, or to: PLACE where the rest is coiled"))
          action.place = place(map, "to");
        action.is_left = map.flag("leave", false);
        if (action.is_left && action.place && is_connector(*action.place))
          reading_.fault(map.at("leave"), map.path("leave"), "unknown-key", "no coil is left at a connector",
                         "remove it, or lay the cable to a place");
        break;
    }
    if (action.kind != ActionKind::Lay && map.has("leave"))
      reading_.fault(map.at("leave"), map.path("leave"), "unknown-key",
                     fmt::format("\"leave\" does not belong to \"{}\"", key), "remove it");
    return action;
  }

  [[nodiscard]] bool is_connector(PlaceId id) const {
    return model_.structure.places[id.index()].kind == PlaceKind::Connector;
  }

  void check_restraint(const Action& action, const Map& map, const std::string& key) {
    if (!action.item || action.item->index() >= excursion_.items.size()) return;
    if (excursion_.items[action.item->index()].restraint.empty())
      reading_.fault(map.at(key), map.path(key), "wrong-type",
                     fmt::format("item \"{}\" is no foot restraint", written(map.at(key))),
                     "give the item restraint: ID of the kit, or name another item");
  }

  void read_right_of_way(const YAML::Node& node) {
    for_each_item(reading_, node, "right_of_way", [&](const YAML::Node& member, const std::string& where) {
      if (const auto id = reference<CrewId>(member, where, crew_)) excursion_.right_of_way.push_back(*id);
    });
    auto sorted = excursion_.right_of_way;
    std::sort(sorted.begin(), sorted.end());
    if (node.IsSequence() && (std::adjacent_find(sorted.begin(), sorted.end()) != sorted.end() ||
                              (sorted.size() == node.size() && sorted.size() != crew_.ids.size())))
      reading_.fault(node, "right_of_way", "out-of-range", "\"right_of_way\" does not name each crew member once",
                     fmt::format("write all of {}, who goes first at the front", fmt::join(crew_.ids, ", ")));
  }

  // ---- checks across -----------------------------------------------------------------------------------------------

  [[nodiscard]] bool is_whole() const {
    return excursion_.items.size() == items_.ids.size() && excursion_.tasks.size() == tasks_.ids.size() &&
           excursion_.crew.size() == crew_.ids.size() && excursion_.events.size() == events_.ids.size();
  }

  void check_containers() {
    if (!is_whole()) return;  // indices do not hold; a fault was told
    for (std::size_t i = 0; i < excursion_.items.size(); ++i) {
      auto at = excursion_.items[i].in;
      std::size_t steps = 0;
      while (at && at->index() != i && steps++ <= excursion_.items.size()) at = excursion_.items[at->index()].in;
      if (at && at->index() == i)
        reading_.fault(excursion_.items[i].mark, "items", "out-of-range",
                       fmt::format("item \"{}\" is inside itself, through others", excursion_.items[i].id),
                       excursion_.items[i].id, "let one of the circle be at a place");
    }
  }

  void check_worths() {
    const Task* ranked = nullptr;
    for (const auto& task : excursion_.tasks)
      if (task.optional && task.optional->priority) ranked = &task;
    for (const auto& task : excursion_.tasks)
      if (ranked && task.optional && task.optional->score && !task.optional->priority)
        reading_.fault(task.mark, "tasks", "unknown-key",
                       fmt::format("task \"{}\" has a score, and \"{}\" a priority", task.id, ranked->id), task.id,
                       "give all optional tasks a priority, or all a score");
  }

  /// A task stands once, or in both sequences where it is done by both.
  void check_once() {
    if (!is_whole()) return;
    std::vector<std::vector<std::pair<std::size_t, Mark>>> done(excursion_.tasks.size());
    for (std::size_t c = 0; c < excursion_.crew.size(); ++c)
      for (const auto& action : excursion_.crew[c].actions)
        if (action.kind == ActionKind::Do && action.task) done[action.task->index()].emplace_back(c, action.mark);
    for (std::size_t t = 0; t < done.size(); ++t) {
      const Task& task = excursion_.tasks[t];
      const auto& at = done[t];
      if (!task.both && at.size() > 1) {
        reading_.fault(
            at[1].second, "crew", "duplicate-task", fmt::format("task \"{}\" is done already", task.id), task.id,
            fmt::format("the first time is on line {}; remove one, or write needs: {{both: true}}", at[0].second.line));
      } else if (task.both && (at.size() > 2 || (at.size() == 2 && at[0].first == at[1].first))) {
        reading_.fault(at[1].second, "crew", "duplicate-task", fmt::format("task \"{}\" is done already", task.id),
                       task.id, "a task of both crew members stands once in each sequence");
      } else if (task.both && at.size() == 1) {
        reading_.fault(at[0].second, "crew", "half-missing",
                       fmt::format("task \"{}\" of both crew members stands in one sequence only", task.id), task.id,
                       excursion_.crew.size() < 2 ? "it needs a second crew member"
                                                  : fmt::format("add do: {} to the sequence of {}", task.id,
                                                                excursion_.crew[1 - at[0].first].id));
      }
    }
  }

  /// Hand-overs match in order, item by item.
  void check_hand_overs() {
    if (!is_whole()) return;
    struct Half {
      std::size_t item, giver, taker;
      Mark mark;
    };
    std::vector<Half> given, received;
    for (std::size_t c = 0; c < excursion_.crew.size(); ++c)
      for (const auto& action : excursion_.crew[c].actions) {
        if (!action.item || !action.other) continue;
        if (action.kind == ActionKind::HandOver)
          given.push_back({action.item->index(), c, action.other->index(), action.mark});
        if (action.kind == ActionKind::Receive)
          received.push_back({action.item->index(), action.other->index(), c, action.mark});
        if ((action.kind == ActionKind::HandOver || action.kind == ActionKind::Receive) && action.other->index() == c)
          reading_.fault(action.mark, "crew", "out-of-range", "nobody hands over to themselves", "",
                         "name the other crew member");
      }
    const auto unmatched = [&](const std::vector<Half>& halves, std::vector<Half> others, bool is_giving) {
      for (const Half& half : halves) {
        const auto match = std::find_if(others.begin(), others.end(), [&](const Half& o) {
          return o.item == half.item && o.giver == half.giver && o.taker == half.taker;
        });
        if (match != others.end()) {
          others.erase(match);
          continue;
        }
        if (half.giver == half.taker) continue;  // told
        const auto& item = excursion_.items[half.item].id;
        const auto& giver = excursion_.crew[half.giver].id;
        const auto& taker = excursion_.crew[half.taker].id;
        reading_.fault(half.mark, "crew", "half-missing",
                       is_giving ? fmt::format("\"{}\" is handed over to {}, who does not receive it", item, taker)
                                 : fmt::format("\"{}\" is received from {}, who does not hand it over", item, giver),
                       item,
                       is_giving ? fmt::format("add receive: {}, from: {} to the sequence of {}", item, giver, taker)
                                 : fmt::format("add hand_over: {}, to: {} to the sequence of {}", item, taker, giver));
      }
    };
    unmatched(given, received, true);
    unmatched(received, given, false);
  }

  void check_throws() {
    std::map<std::string, std::vector<std::size_t>> by_switch;
    for (std::size_t e = 0; e < excursion_.events.size(); ++e)
      if (excursion_.events[e].at_s)
        for (const auto& [id, position] : excursion_.events[e].throws) by_switch[id].push_back(e);
    for (auto& [id, events] : by_switch) {
      const auto at = [&](std::size_t e) { return *excursion_.events[e].at_s; };
      std::stable_sort(events.begin(), events.end(), [&](std::size_t a, std::size_t b) { return at(a) < at(b); });
      for (std::size_t i = 0; i < events.size(); ++i)
        for (std::size_t j = i + 1; j < events.size(); ++j) {
          const Event &first = excursion_.events[events[i]], &second = excursion_.events[events[j]];
          const bool is_at_once = *first.at_s == *second.at_s;
          if (!is_at_once && *second.at_s >= *first.at_s + first.duration_s) break;
          if (is_at_once && first.throws.at(id) == second.throws.at(id)) continue;
          const Event &early = events[i] < events[j] ? first : second, &late = events[i] < events[j] ? second : first;
          reading_.fault(
              late.mark, "events", "out-of-range",
              fmt::format("events \"{}\" and \"{}\" throw switch \"{}\" at once", early.id, late.id, id), late.id,
              fmt::format("the other one is on line {}; let one end before the other begins", early.mark.line));
          if (!detail::is_listed(reading_)) return;  // pairs of all, else
        }
    }
  }

  const Model& model_;
  Reading& reading_;
  const std::string folder_, shown_folder_;
  Excursion excursion_;
  Names crew_{"crew member", "crew"}, items_{"item", "items"}, tasks_{"task", "tasks"}, events_{"event", "events"},
      windows_{"window", "windows"};
  std::unordered_map<std::string, std::size_t> first_windows_;  // name -> the first of that name
  std::vector<std::pair<std::string, detail::Table>> tables_;
};

template <class ThingId, class Things>
std::optional<ThingId> find_in(const Things& things, std::string_view id) {
  for (std::size_t i = 0; i < things.size(); ++i)
    if (things[i].id == id) return ThingId(i);
  return std::nullopt;
}

Excursion read_checked(std::string text, const Model& model, const std::string& file, const std::string& folder,
                       std::vector<Diagnostic>& diagnostics) {
  const std::string digest = digest_of(text);
  if (!detail::check_text(text, file, diagnostics)) return {};
  Reading reading{diagnostics, file, ""};
  const auto document = detail::parse_document(text, reading);
  if (!document) return {};
  const auto slash = file.rfind('/');
  Excursion excursion =
      ExcursionReader(model, reading, folder, slash == std::string::npos ? "" : file.substr(0, slash + 1))
          .read(*document);
  excursion.file = file;
  excursion.sha256 = digest;
  return excursion;
}

}  // namespace

PlanValues default_plan_values() {
  const auto practice = [](double value) {
    return Quantity{value, "common practice, no source", Confidence::Practice};
  };
  const std::string report = "suit design metabolic load, 293 W average for 7 h; mishap report, section 3";
  PlanValues values;
  values.restraint_set_s = practice(120);
  values.restraint_enter_s = practice(60);
  values.restraint_leave_s = practice(60);
  values.handling_reach_m = {1.0, "from the hand to what is handled", Confidence::Assumption};
  values.active_w = {293, report, Confidence::Published};
  values.idle_w = {205, "700 Btu/h for 30 min at the low end; the same report", Confidence::Published};
  values.energy_j = {293.0 * 7 * 3600, report, Confidence::Computed};
  return values;
}

std::optional<ItemId> Excursion::find_item(std::string_view id) const { return find_in<ItemId>(items, id); }
std::optional<TaskId> Excursion::find_task(std::string_view id) const { return find_in<TaskId>(tasks, id); }
std::optional<CrewId> Excursion::find_crew(std::string_view id) const { return find_in<CrewId>(crew, id); }
std::optional<EventId> Excursion::find_event(std::string_view id) const { return find_in<EventId>(events, id); }

std::optional<double> parse_duration_s(std::string_view text, bool may_be_negative) {
  const auto trim = [&] {
    while (!text.empty() && text.front() == ' ') text.remove_prefix(1);
    while (!text.empty() && text.back() == ' ') text.remove_suffix(1);
  };
  trim();
  double sign = 1;
  if (!text.empty() && text.front() == '-') {
    if (!may_be_negative) return std::nullopt;
    sign = -1;
    text.remove_prefix(1);
    trim();
  }
  const auto digit = [](char c) { return c >= '0' && c <= '9'; };
  if (text.empty() || !digit(text.front())) return std::nullopt;
  if (text.find(':') != std::string_view::npos) {
    double parts[3] = {0, 0, 0};
    for (int part = 0; part < 3; ++part) {
      const std::size_t end = part < 2 ? text.find(':') : text.size();
      if (end == std::string_view::npos || end == 0) return std::nullopt;
      const std::string_view word = text.substr(0, end);
      if (!std::all_of(word.begin(), word.end(), digit) || word.size() > 4 || (part > 0 && word.size() != 2))
        return std::nullopt;
      (void)std::from_chars(word.data(), word.data() + word.size(), parts[part]);
      if (part > 0 && parts[part] > 59) return std::nullopt;
      text.remove_prefix(part < 2 ? end + 1 : end);
    }
    return sign * (3600 * parts[0] + 60 * parts[1] + parts[2]);
  }
  double seconds = 0, last_unit = 1e9;
  while (!text.empty()) {
    if (!digit(text.front())) return std::nullopt;
    double value = 0;
    const auto [end, error] = std::from_chars(text.data(), text.data() + text.size(), value, std::chars_format::fixed);
    if (error != std::errc{}) return std::nullopt;
    text.remove_prefix(static_cast<std::size_t>(end - text.data()));
    trim();
    std::size_t letters = 0;
    while (letters < text.size() && text[letters] >= 'a' && text[letters] <= 'z') ++letters;
    const std::string_view unit = text.substr(0, letters);
    const double unit_s = unit == "h" ? 3600 : unit == "min" ? 60 : unit == "s" ? 1 : 0;
    if (unit_s == 0 || unit_s >= last_unit) return std::nullopt;
    seconds += value * unit_s;
    last_unit = unit_s;
    text.remove_prefix(letters);
    trim();
  }
  return std::isfinite(seconds) ? std::optional(sign * seconds) : std::nullopt;
}

Excursion read_excursion(const std::string& file, const Model& model) {
  std::vector<Diagnostic> diagnostics;
  Excursion excursion;
  if (auto text = detail::read_bytes(file, file, diagnostics)) {
    const auto folder = std::filesystem::path(file).parent_path();
    excursion = read_checked(std::move(*text), model, file, folder.empty() ? "." : folder.string(), diagnostics);
  }
  if (!diagnostics.empty()) throw InputError(std::move(diagnostics));
  return excursion;
}

Excursion read_excursion_text(const std::string& text, const Model& model, const std::string& file,
                              const std::string& folder) {
  std::vector<Diagnostic> diagnostics;
  Excursion excursion = read_checked(text, model, file, folder, diagnostics);
  if (!diagnostics.empty()) throw InputError(std::move(diagnostics));
  return excursion;
}

}  // namespace holdfast::model
