// SPDX-License-Identifier: GPL-3.0-or-later
#include "holdfast/picture/plan_handout.h"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <cctype>
#include <cmath>
#include <limits>
#include <map>

#include "holdfast/report/plan.h"
#include "holdfast/report/words.h"

namespace holdfast::picture {

using plan::CrewId;
using plan::ItemId;
using plan::RowKind;
using plan::What;
using report::duration;

namespace {

constexpr double noise_s = 1e-5;  // of the numbers printed

BarKind kind_of(RowKind kind) {
  switch (kind) {
    case RowKind::Overhead:
      return BarKind::Overhead;
    case RowKind::Translation:
      return BarKind::Travel;
    case RowKind::Handling:
      return BarKind::Handling;
    case RowKind::Work:
      return BarKind::Work;
    case RowKind::Wait:
      return BarKind::Wait;
    case RowKind::Hold:
      return BarKind::Hold;
    case RowKind::Throw:
      return BarKind::Throw;
  }
  return BarKind::Work;
}

class HandoutMaker {
 public:
  HandoutMaker(const report::Context& context, const report::ReadPlan& read)
      : c_(context), read_(read), plan_(read.plan), e_(*read.excursion) {}

  Handout make() {
    Handout h;
    h.title = e_.name;
    h.subtitle = fmt::format("{}; {}. Excursion {}, model {}, holdfast {}", c_.structure.name,
                             report::configuration_words(c_.structure, plan_.configuration), e_.sha256.substr(0, 12),
                             model::model_digest(c_.structure).substr(0, 12), c_.engine_version);
    h.limit_s = e_.limit_s, h.emergency_s = read_.emergency_s;
    for (const auto& [from_s, to_s] : plan_.nights) h.nights.push_back({from_s, to_s});
    const auto own = std::count_if(plan_.violations.begin(), plan_.violations.end(),
                                   [](const plan::Violation& v) { return !v.follows; });
    if (own > 0)
      h.alert = fmt::format("{} VIOLATION{}: not to be flown as it is. Each stands with its step, or below the steps.",
                            own, own == 1 ? "" : "S");
    for (const auto& row : plan_.rows)
      if (!row.crew)
        h.inside.push_back({.number = {},
                            .kind = kind_of(row.kind),
                            .start_s = row.from_s,
                            .end_s = row.to_s,
                            .text = inside_words(row)});
    for (std::size_t c = 0; c < e_.crew.size(); ++c) h.cards.push_back(card(CrewId(c)));
    if (!plan_.back.empty()) {
      h.home = curve(false);
      h.carried = curve(true);
    }
    add_remarks(h);
    return h;
  }

 private:
  [[nodiscard]] const std::string& crew_id(CrewId crew) const { return e_.crew[crew.index()].id; }

  [[nodiscard]] std::string inside_words(const plan::Row& row) const {
    std::string words = report::what_words(row);
    if (const auto event = e_.find_event(row.subject); event && row.what == What::Throw) {
      std::vector<std::string> throws;
      for (const auto& [id, position] : e_.events[event->index()].throws) throws.push_back(id + "=" + position);
      words += fmt::format(": {}", fmt::join(throws, ", "));
    }
    return words;
  }

  // ---- times to be inside ------------------------------------------------------------------------------------------

  /// The longest of the moments of a crew member in [from, to]; at the end of a leg the next row has the moment.
  [[nodiscard]] TimeHome home_between(CrewId crew, double from_s, double to_s) const {
    TimeHome longest;
    for (const auto& b : plan_.back) {
      if (b.crew != crew || b.at_s < from_s - noise_s || b.at_s > to_s + noise_s) continue;
      longest = std::max(longest.value_or(0), b.alone_s);
    }
    return longest;
  }

  /// Of the worse crew member at each moment: what holds at a moment holds until the next one of that crew member, and
  /// until they are inside; of several at one moment the worst.
  [[nodiscard]] std::vector<HomePoint> curve(bool is_carried) const {
    constexpr double unknown = std::numeric_limits<double>::infinity();
    std::map<double, std::vector<std::optional<double>>> changes;  // by moment, of each crew member
    const auto change_of = [&](double at_s, std::size_t crew) -> std::optional<double>& {
      auto& all = changes[at_s];
      all.resize(e_.crew.size());
      return all[crew];
    };
    for (const auto& b : plan_.back) {
      if (is_carried && !b.incapacitated_s && b.is_incapacitated_proven) continue;  // not looked at
      auto& value = change_of(b.at_s, b.crew.index());
      value = std::max(value.value_or(0), is_carried ? b.incapacitated_s.value_or(unknown) : b.alone_s);
    }
    if (changes.empty()) return {};
    for (const auto& totals : plan_.totals) (void)change_of(totals.inside_at_s, 0);
    std::vector<double> now(e_.crew.size(), 0);
    std::vector<HomePoint> points;
    const auto add = [&](double at_s, bool is_looked_at) {
      const double worst_s = *std::max_element(now.begin(), now.end());
      const HomePoint point{at_s, worst_s == unknown ? TimeHome() : TimeHome(worst_s), is_looked_at};
      points.push_back(point);
    };
    for (const auto& [at_s, values] : changes) {
      if (!points.empty()) add(at_s, false);
      for (std::size_t c = 0; c < now.size(); ++c) {
        if (values[c]) now[c] = *values[c];
        if (plan_.totals[c].inside_at_s <= at_s) now[c] = 0;
      }
      add(at_s, true);
    }
    return points;
  }

  // ---- items -------------------------------------------------------------------------------------------------------

  [[nodiscard]] std::string item_name(ItemId item) const {
    const auto& file = e_.items[item.index()];
    return file.name.empty() || file.name == file.id ? file.id : fmt::format("{} ({})", file.name, file.id);
  }

  [[nodiscard]] CueItem cue_item(ItemId item, const std::string& in, const std::string& from) const {
    const auto& end = plan_.items[item.index()];
    CueItem cue{.name = item_name(item), .in = in, .from = from};
    if (!end.must_be_at.empty())
      cue.back = end.must_be_at;
    else if (end.must_be_inside)
      cue.back = "inside";
    const plan::Whereabouts* last = &end;
    for (const auto& stay : plan_.stays)
      if (stay.where.item == item) last = &stay.where;
    cue.ends = "the plan leaves it " + report::where_words(*last);
    return cue;
  }

  [[nodiscard]] std::vector<CueItem> items_of(CrewId crew) const {
    std::vector<CueItem> items;
    std::vector<std::size_t> told;
    const auto add = [&](ItemId item, const std::string& in, const std::string& from) {
      if (std::find(told.begin(), told.end(), item.index()) != told.end()) return;
      told.push_back(item.index());
      items.push_back(cue_item(item, in, from));
    };
    for (std::size_t s = 0; s < plan_.stays.size(); ++s) {
      const auto& stay = plan_.stays[s];
      if (stay.where.crew != crew_id(crew)) continue;
      const bool has_before = s > 0 && plan_.stays[s - 1].where.item == stay.where.item;
      add(stay.where.item, "", has_before ? report::where_words(plan_.stays[s - 1].where) : "");
    }
    // What is at any time in what is carried, in turn.
    for (std::size_t k = 0; k < told.size(); ++k)
      for (const auto& stay : plan_.stays)
        if (stay.where.container == e_.items[told[k]].id)
          add(stay.where.item, stay.where.container, "in " + stay.where.container);
    return items;
  }

  // ---- steps -------------------------------------------------------------------------------------------------------

  [[nodiscard]] std::string step_words(const plan::Row& row) const {
    std::string words = report::what_words(row);
    if (row.what == What::Go) {
      const std::string name = report::place_name(c_, row.subject);
      if (name.find(row.subject) == std::string::npos) words += fmt::format(", {}", name);
      if (!row.path.empty()) words += fmt::format(": {} hand move{}", row.moves, row.moves == 1 ? "" : "s");
      if (row.distance_m > 0) words += fmt::format(", {} m", report::bare_length_up(row.distance_m));
    } else if (row.what == What::Do) {
      const auto task = e_.find_task(row.subject);
      if (task && !e_.tasks[task->index()].name.empty() && e_.tasks[task->index()].name != row.subject)
        words += ": " + e_.tasks[task->index()].name;
    } else if (const auto item = e_.find_item(row.subject); item && is_handling(row.what)) {
      const auto& name = e_.items[item->index()].name;
      if (!name.empty() && name != row.subject) words += fmt::format(" ({})", name);
    }
    return words;
  }
  static bool is_handling(What what) {
    return what == What::Take || what == What::Put || what == What::Stow || what == What::SetUp ||
           what == What::TakeDown || what == What::HandOver || what == What::Receive || what == What::Mate ||
           what == What::Coil || what == What::TakeUp;
  }

  [[nodiscard]] std::string with_words(const plan::Row& row) const {
    std::vector<std::string> carried;
    for (const auto& id : row.carried) {
      std::vector<std::string> inside;
      for (std::size_t i = 0; i < e_.items.size(); ++i) {
        const plan::Whereabouts* now = nullptr;
        for (const auto& stay : plan_.stays)
          if (stay.where.item == ItemId(i) && stay.from_s <= row.from_s + noise_s) now = &stay.where;
        if (now && now->container == id) inside.push_back(e_.items[i].id);
      }
      carried.push_back(inside.empty() ? id : fmt::format("{} (in it: {})", id, fmt::join(inside, ", ")));
    }
    std::string words = carried.empty() ? "" : fmt::format("with {}", fmt::join(carried, ", "));
    if (row.tether_out_m > 0)
      words +=
          fmt::format("{}tether out {} m at most", words.empty() ? "" : "; ", report::bare_length_up(row.tether_out_m));
    return words;
  }

  void add_waypoints(CrewId crew, const plan::Row& row, const plan::DescribedLeg& leg, CueStep& step) const {
    std::size_t last = 0;
    const auto pause = [&](std::size_t from, std::size_t to) {
      for (std::size_t i = from; i < to; ++i)
        if (row.path[i].leaves_s > row.path[i].arrives_s + noise_s)
          step.waypoints.push_back(
              {.text = fmt::format("WAIT on rail {} until {}", c_.structure.rails[row.path[i].rail.index()].id,
                                   duration(row.path[i].leaves_s)),
               .at_s = row.path[i].arrives_s,
               .home_s = home_between(crew, row.path[i].arrives_s, row.path[i].leaves_s),
               .is_wait = true});
    };
    std::string told_where;
    for (const auto& told : leg.route.legs.front().rows) {
      const std::size_t end = told.total_moves;
      pause(last, end);
      last = end;
      const auto& stop = row.path[end];
      const std::string where = report::where_words(c_, told);
      std::string words = where == told_where ? "" : where + ": ";
      told_where = where;
      words += fmt::format("{}, rail {}", report::action(c_, told), c_.structure.rails[told.rail.index()].id);
      // Zones that are near stand with the leg.
      auto entered = told;
      std::erase_if(entered.zones, [](const route::ZoneContact& zone) { return zone.inside_s <= 0; });
      for (const auto& note : report::zone_notes(c_, entered)) words += "; " + note;
      step.waypoints.push_back({.text = std::move(words),
                                .at_s = stop.arrives_s,
                                .home_s = home_between(crew, stop.arrives_s, stop.leaves_s)});
    }
  }

  CueCard card(CrewId crew) const {
    const auto& member = e_.crew[crew.index()];
    CueCard card{.crew = member.id, .name = member.name == member.id ? "" : member.name};
    card.items = items_of(crew);
    card.finish_s = plan_.totals[crew.index()].inside_at_s;
    std::vector<std::size_t> rows;
    for (std::size_t r = 0; r < plan_.rows.size(); ++r)
      if (plan_.rows[r].crew == crew) rows.push_back(r);
    std::size_t hooked = 0;  // into the tethers
    const auto tether = [&](std::size_t k) {
      return k < member.tethers.size() ? member.tethers[k] : std::string("the tether");
    };
    for (std::size_t k = 0; k < rows.size(); ++k) {
      const auto& row = plan_.rows[rows[k]];
      CueStep step{.number = fmt::format("{}", k + 1),
                   .kind = kind_of(row.kind),
                   .start_s = row.from_s,
                   .end_s = row.to_s,
                   .text = step_words(row)};
      step.with = with_words(row);
      step.label = row.what == What::Do   ? row.subject
                   : row.what == What::Go ? "to " + row.subject
                                          : report::what_words(row);
      if (k == 0 && !member.tethers.empty())
        step.callouts.push_back(fmt::format("HOOK TETHER {} on at {}", tether(0), anchor_of(crew)));
      const auto leg = plan_.legs.find(rows[k]);
      if (row.what == What::Go) {
        if (leg != plan_.legs.end()) add_waypoints(crew, row, leg->second, step);
        step.cautions = report::leg_cautions(c_, leg == plan_.legs.end() ? nullptr : &leg->second);
        if (k + 1 < rows.size()) {
          const auto next = plan_.rows[rows[k + 1]].what;
          if (next == What::Swap || next == What::Unhook)
            step.callouts.push_back(fmt::format("TETHER SWAP on arrival, at {}", plan_.rows[rows[k + 1]].subject));
        }
      } else if (row.what == What::Swap) {
        step.callouts.push_back(fmt::format("HOOK TETHER {} on at {}, then leave {} there", tether(hooked + 1),
                                            row.subject, tether(hooked)));
        ++hooked;
      } else if (row.what == What::Unhook) {
        step.callouts.push_back(fmt::format("TAKE TETHER {} on again at {}, then take {} off",
                                            tether(hooked ? hooked - 1 : 0), row.subject, tether(hooked)));
        if (hooked) --hooked;
      }
      for (const auto& b : plan_.back) {
        if (b.row != rows[k]) continue;
        step.home_s = std::max(step.home_s.value_or(0), b.alone_s);
        if (!b.is_incapacitated_proven) step.is_carried_unknown = true;
        if (b.incapacitated_s) step.carried_s = std::max(step.carried_s.value_or(0), *b.incapacitated_s);
      }
      card.steps.push_back(std::move(step));
    }
    for (std::size_t i = 0; i < plan_.violations.size(); ++i) {
      const auto& v = plan_.violations[i];
      if (v.crew != crew || card.steps.empty()) continue;
      // The last step that has begun by then.
      std::size_t at = 0;
      while (at + 1 < card.steps.size() && card.steps[at + 1].start_s <= v.at_s + noise_s) ++at;
      card.steps[at].faults.push_back(violation_words(i));
    }
    return card;
  }
  [[nodiscard]] std::string anchor_of(CrewId crew) const {
    const auto& member = e_.crew[crew.index()];
    return member.anchor ? c_.structure.anchors[member.anchor->index()].id : std::string("the hatch");
  }

  [[nodiscard]] std::string violation_words(std::size_t i) const {
    const auto& told = read_.told[i];
    std::string words = told.sentence;
    if (!words.empty() && words.back() != '.') words += ".";
    if (!told.remedy.empty()) words += fmt::format(" Remedy: {}.", told.remedy);
    if (!told.assumption.empty()) words += fmt::format(" Goes on: {}.", told.assumption);
    return words;
  }

  void add_remarks(Handout& h) const {
    for (std::size_t i = 0; i < plan_.violations.size(); ++i) {
      const auto& v = plan_.violations[i];
      if (!v.crew || h.cards[v.crew->index()].steps.empty())
        h.remarks.push_back(fmt::format("VIOLATION at {}: {}", duration(v.at_s), violation_words(i)));
    }
    if (!read_.changes.empty())
      h.remarks.push_back(fmt::format("What if, not as in the file: {}.", fmt::join(read_.changes, "; ")));
    if (!plan_.dropped.empty()) {
      std::vector<std::string> names;
      for (const auto task : plan_.dropped) names.push_back(e_.tasks[task.index()].id);
      h.remarks.push_back(fmt::format("Left out, because they do not fit: {}.", fmt::join(names, ", ")));
    }
    if (plan_.back.empty()) h.remarks.emplace_back("Getting back was not looked at.");
    for (const auto& words : read_.not_assessed) h.remarks.push_back("Not assessed: " + words + ".");
    h.remarks.emplace_back(
        "Times at, and times home, are rounded up; margins down. Time home: putting down what may be put down, from "
        "then on alone; carried: brought back by the other.");
    h.remarks.emplace_back(report::caution);
  }

  const report::Context& c_;
  const report::ReadPlan& read_;
  const plan::Plan& plan_;
  const model::Excursion& e_;
};

}  // namespace

Handout handout_of(const report::Context& context, const report::ReadPlan& read) {
  return HandoutMaker(context, read).make();
}

}  // namespace holdfast::picture
