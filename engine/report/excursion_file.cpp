// SPDX-License-Identifier: GPL-3.0-or-later
// An excursion as a file that reads back as the same excursion, to the last bit.

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <cctype>
#include <cmath>
#include <limits>

#include "holdfast/report/order.h"
#include "words_impl.h"

namespace holdfast::report {

using namespace detail;
using model::ActionKind;

namespace {

/// Plain where YAML reads it as the same word, else between quotes.
std::string word(const std::string& text) {
  static const std::vector<std::string> others = {
      "null", "Null", "NULL", "true", "True", "TRUE", "false", "False", "FALSE", "yes", "Yes", "YES", "no",
      "No",   "NO",   "on",   "On",   "ON",   "off",  "Off",   "OFF",   "y",     "Y",   "n",   "N"};
  const bool is_plain = !text.empty() && std::isalpha(static_cast<unsigned char>(text.front())) &&
                        std::all_of(text.begin(), text.end(), [](unsigned char c) {
                          return std::isalnum(c) || c == '-' || c == '_' || c == '.';
                        });
  if (is_plain && std::find(others.begin(), others.end(), text) == others.end()) return text;
  std::string quoted = "\"";
  for (const char c : text) {
    if (c == '"' || c == '\\') quoted += '\\';
    quoted += c;
  }
  return quoted + "\"";
}

/// The fewest digits that read back as this number, without an exponent.
std::string digits(double value) {
  std::string text = fmt::format("{}", value);
  return text.find('e') == std::string::npos ? text : fmt::format("{:.20f}", value);
}

std::string time_words(double seconds) {
  if (seconds < 0) return "-" + time_words(-seconds);
  if (seconds == std::floor(seconds) && seconds < 1e6) {
    const auto whole = static_cast<long>(seconds);
    if (whole % 60 == 0 && whole < 6000) return fmt::format("{} min", whole / 60);
    return fmt::format("{}:{:02}:{:02}", whole / 3600, whole / 60 % 60, whole % 60);
  }
  return digits(seconds) + " s";
}

/// What times `unit` is `value` again.
std::string in_units(double value, double unit) {
  double parts = value / unit;
  for (const double other :
       {parts, std::nextafter(parts, 0), std::nextafter(parts, std::numeric_limits<double>::max())})
    if (other * unit == value) parts = other;
  return digits(parts);
}

using Fields = std::vector<std::string>;

std::string flow(const Fields& fields) { return fmt::format("{{{}}}", fmt::join(fields, ", ")); }

class ExcursionText {
 public:
  ExcursionText(const model::Structure& structure, const model::Excursion& excursion)
      : structure_(structure), e_(excursion) {}

  std::string write() const {
    std::string out = "holdfast: excursion/1\n";
    const auto line = [&](const char* key, const std::string& value) { out += fmt::format("{}: {}\n", key, value); };
    line("name", word(e_.name));
    line("limit", time_words(e_.limit_s));
    if (e_.egress_s > 0) line("egress", time_words(e_.egress_s));
    if (e_.ingress_s > 0) line("ingress", time_words(e_.ingress_s));
    if (e_.by) line("by", aim(*e_.by));
    if (!e_.right_of_way.empty()) line("right_of_way", list_of(e_.right_of_way, e_.crew));
    if (const auto values = values_of(); !values.empty()) line("values", flow(values));
    if (e_.orbit)
      line("orbit", flow({"period: " + time_words(e_.orbit->period_s), "night: " + time_words(e_.orbit->night_s),
                          "first_sunset: " + time_words(e_.orbit->first_sunset_s)}));
    out += "crew:\n";
    for (const auto& member : e_.crew) out += crew(member);
    block(out, "items", e_.items, [&](const auto& item) { return item_fields(item); });
    block(out, "tasks", e_.tasks, [&](const auto& task) { return task_fields(task); });
    block(out, "events", e_.events, [&](const auto& event) { return event_fields(event); });
    block(out, "windows", e_.windows, [&](const auto& window) {
      return Fields{"id: " + word(window.id), "from: " + time_words(window.from_s), "to: " + time_words(window.to_s)};
    });
    return out;
  }

 private:
  static std::string aim(model::LegAim by) {
    return by == model::LegAim::Distance ? "distance" : by == model::LegAim::Moves ? "moves" : "time";
  }

  template <class Things, class Write>
  static void block(std::string& out, const char* key, const Things& things, const Write& write) {
    if (things.empty()) return;
    out += fmt::format("{}:\n", key);
    for (const auto& thing : things) out += fmt::format("  - {}\n", flow(write(thing)));
  }

  template <class Ids, class Things>
  static std::string list_of(const Ids& ids, const Things& things) {
    std::vector<std::string> words;
    for (const auto id : ids) words.push_back(word(things[id.index()].id));
    return fmt::format("[{}]", fmt::join(words, ", "));
  }

  static std::string positions(const std::map<std::string, std::string>& states) {
    Fields fields;
    for (const auto& [id, position] : states) fields.push_back(word(id) + ": " + word(position));
    return flow(fields);
  }

  std::string place(model::PlaceId id) const { return word(structure_.places[id.index()].id); }

  Fields values_of() const {
    const auto usual = model::default_plan_values();
    const auto& v = e_.values;
    Fields fields;
    const auto add = [&](const char* key, const model::Quantity& q, const model::Quantity& otherwise, double unit) {
      if (q.value == otherwise.value && q.source == otherwise.source && q.confidence == otherwise.confidence &&
          q.spread == otherwise.spread)
        return;
      Fields entry = {"value: " + in_units(q.value, unit)};
      if (!q.source.empty()) entry.push_back("source: " + word(q.source));
      entry.push_back(fmt::format("confidence: {}", confidence_name(q.confidence)));
      if (q.spread)
        entry.push_back(
            fmt::format("spread: [{}, {}]", in_units(q.spread->first, unit), in_units(q.spread->second, unit)));
      fields.push_back(fmt::format("{}: {}", key, flow(entry)));
    };
    add("restraint_set_s", v.restraint_set_s, usual.restraint_set_s, 1);
    add("restraint_enter_s", v.restraint_enter_s, usual.restraint_enter_s, 1);
    add("restraint_leave_s", v.restraint_leave_s, usual.restraint_leave_s, 1);
    add("handling_reach_m", v.handling_reach_m, usual.handling_reach_m, 1);
    add("active_w", v.active_w, usual.active_w, 1);
    add("idle_w", v.idle_w, usual.idle_w, 1);
    add("energy_mj", v.energy_j, usual.energy_j, 1e6);
    return fields;
  }

  std::string crew(const model::CrewMember& member) const {
    std::string out = fmt::format("  - id: {}\n", word(member.id));
    const auto line = [&](const char* key, const std::string& value) {
      out += fmt::format("    {}: {}\n", key, value);
    };
    if (member.name != member.id) line("name", word(member.name));
    line("suit", word(member.suit));
    line("start", place(member.start));
    if (!member.tethers.empty()) {
      std::vector<std::string> tethers;
      for (const auto& id : member.tethers) tethers.push_back(word(id));
      line("tethers", fmt::format("[{}]", fmt::join(tethers, ", ")));
    }
    if (member.anchor) line("anchor", word(structure_.anchors[member.anchor->index()].id));
    if (member.by) line("by", aim(*member.by));
    const std::size_t end = member.actions.size() - member.ends;
    const auto list = [&](const char* key, std::size_t from, std::size_t to) {
      if (from < to) out += fmt::format("    {}:\n", key);
      for (std::size_t a = from; a < to; ++a) out += fmt::format("      - {}\n", action_words(member.actions[a]));
    };
    list("begin", 0, member.begins);
    list("sequence", member.begins, end);
    list("end", end, member.actions.size());
    return out;
  }

  std::string action_words(const model::Action& a) const {
    Fields fields;
    const auto item = [&](const char* key) {
      fields.push_back(fmt::format("{}: {}", key, word(e_.items[a.item->index()].id)));
    };
    switch (a.kind) {
      case ActionKind::Go:
        fields.push_back("go: " + place(*a.place));
        if (!a.via.empty()) fields.push_back("via: " + list_of(a.via, structure_.places));
        break;
      case ActionKind::Take:
        item("take");
        break;
      case ActionKind::Put:
        item("put");
        if (a.into) fields.push_back("into: " + word(e_.items[a.into->index()].id));
        break;
      case ActionKind::Stow:
        item("stow");
        fields.push_back("on: " + list_of(a.rails, structure_.rails));
        break;
      case ActionKind::SetUp:
        item("set_up");
        fields.push_back("in: " + word(structure_.sockets[a.socket->index()].id));
        break;
      case ActionKind::TakeDown:
        item("take_down");
        break;
      case ActionKind::Do:
        fields.push_back("do: " + word(e_.tasks[a.task->index()].id));
        break;
      case ActionKind::HoldUntil:
        fields.push_back("hold_until: " + time_words(a.until_s));
        break;
      case ActionKind::WaitFor:
        fields.push_back("wait_for: " + word(a.task ? e_.tasks[a.task->index()].id : e_.events[a.event->index()].id));
        break;
      case ActionKind::Swap:
        fields.push_back("swap: " + word(structure_.anchors[a.anchor->index()].id));
        break;
      case ActionKind::HandOver:
        item("hand_over");
        fields.push_back("to: " + word(e_.crew[a.other->index()].id));
        break;
      case ActionKind::Receive:
        item("receive");
        fields.push_back("from: " + word(e_.crew[a.other->index()].id));
        break;
      case ActionKind::Return:
        if (a.id.empty() && !a.by && !a.not_before_s && !a.for_task) return "return";
        fields.push_back("return: true");
        break;
      case ActionKind::Lay:
        item("lay");
        if (a.from) fields.push_back("from: " + place(*a.from));
        fields.push_back("to: " + place(*a.place));
        if (a.is_left) fields.emplace_back("leave: true");
        break;
    }
    if (!a.id.empty()) fields.push_back("id: " + word(a.id));
    if (a.by) fields.push_back("by: " + aim(*a.by));
    if (a.not_before_s) fields.push_back("not_before: " + time_words(*a.not_before_s));
    if (a.for_task) fields.push_back("for: " + word(e_.tasks[a.for_task->index()].id));
    return fields.size() == 1 ? fields.front() : flow(fields);
  }

  Fields item_fields(const model::Item& item) const {
    Fields fields = {"id: " + word(item.id)};
    if (item.name != item.id) fields.push_back("name: " + word(item.name));
    fields.push_back("load: " + word(item.load));
    if (!item.restraint.empty()) fields.push_back("restraint: " + word(item.restraint));
    if (!item.cable.empty()) fields.push_back("cable: " + word(item.cable));
    if (!item.laid_file.empty())
      fields.push_back("laid: " + word(item.laid_file.substr(item.laid_file.rfind('/') + 1)));
    else
      fields.push_back(item.in ? "in: " + word(e_.items[item.in->index()].id) : "at: " + place(*item.at));
    if (item.home) fields.push_back("home: " + place(*item.home));
    if (item.bring_in) fields.emplace_back("bring_in: true");
    if (item.keep) fields.emplace_back("keep: true");
    return fields;
  }

  static std::string duration(const model::Quantity& q) {
    if (q.source == "excursion file" && !q.spread) return time_words(q.value);
    Fields fields = {"value: " + time_words(q.value)};
    if (q.spread)
      fields.push_back(fmt::format("spread: [{}, {}]", time_words(q.spread->first), time_words(q.spread->second)));
    if (q.source != "excursion file") fields.push_back("source: " + word(q.source));
    return flow(fields);
  }

  static Fields setting_of(const model::SettingChoice& setting) {
    constexpr double degree = 3.14159265358979323846 / 180;  // as it is read
    Fields fields;
    const auto add = [&](const char* key, const std::optional<double>& value, double unit) {
      if (value) fields.push_back(fmt::format("{}: {}", key, in_units(*value, unit)));
    };
    add("roll_deg", setting.roll_rad, degree);
    add("pitch_deg", setting.pitch_rad, degree);
    add("height_m", setting.height_m, 1);
    add("yaw_deg", setting.yaw_rad, degree);
    return fields;
  }

  Fields task_fields(const model::Task& task) const {
    Fields fields = {"id: " + word(task.id)};
    if (task.name != task.id) fields.push_back("name: " + word(task.name));
    if (task.at) fields.push_back("at: " + place(*task.at));
    fields.push_back("duration: " + duration(task.duration_s));
    Fields needs;
    if (!task.items.empty()) needs.push_back("items: " + list_of(task.items, e_.items));
    if (task.restraint_in) needs.push_back("restraint_in: " + word(structure_.sockets[task.restraint_in->index()].id));
    if (!task.states.empty()) needs.push_back("states: " + positions(task.states));
    if (task.both) needs.emplace_back("both: true");
    if (!task.windows.empty()) needs.push_back("windows: " + list_of(task.windows, e_.windows));
    if (task.needs_day) needs.emplace_back("day: true");
    if (!task.targets.empty()) {
      std::vector<std::string> targets;
      for (const auto& id : task.targets) targets.push_back(word(id));
      needs.push_back(fmt::format("targets: [{}]", fmt::join(targets, ", ")));
    }
    if (const auto setting = setting_of(task.setting); !setting.empty()) needs.push_back("setting: " + flow(setting));
    if (task.photograph) needs.push_back("photograph: " + word(structure_.patches[task.photograph->index()].id));
    if (!task.camera.empty()) needs.push_back("camera: " + word(task.camera));
    if (!needs.empty()) fields.push_back("needs: " + flow(needs));
    if (!task.after.empty()) fields.push_back("after: " + list_of(task.after, e_.tasks));
    if (!task.leaves.empty()) fields.push_back("leaves: " + list_of(task.leaves, e_.items));
    if (task.optional)
      fields.push_back(task.optional->priority ? fmt::format("optional: {{priority: {}}}", *task.optional->priority)
                                               : fmt::format("optional: {{score: {}}}", digits(*task.optional->score)));
    return fields;
  }

  Fields event_fields(const model::Event& event) const {
    Fields fields = {"id: " + word(event.id)};
    if (event.is_throw())
      fields.push_back("throw: " + positions(event.throws));
    else
      fields.push_back("hold: " + list_of(event.holds, e_.crew));
    if (event.at_s) fields.push_back("at: " + time_words(*event.at_s));
    if (event.after) fields.push_back("after: " + word(e_.tasks[event.after->index()].id));
    if (event.is_throw()) {
      if (event.duration_s > 0) fields.push_back("takes: " + time_words(event.duration_s));
    } else {
      fields.push_back("for: " + time_words(event.duration_s));
      if (!event.allows_work) fields.emplace_back("work: false");
    }
    return fields;
  }

  const model::Structure& structure_;
  const model::Excursion& e_;
};

}  // namespace

std::string excursion_file(const Context& context, const model::Excursion& excursion) {
  return ExcursionText(context.structure, excursion).write();
}

}  // namespace holdfast::report
