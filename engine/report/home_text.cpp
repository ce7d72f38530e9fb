// SPDX-License-Identifier: GPL-3.0-or-later
// The way home from everywhere, and times from every place to every other.

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <cmath>

#include "page_impl.h"
#include "words_impl.h"

namespace holdfast::report {

using namespace detail;
using route::HomeVerdict;

const char* detail::verdict_name(HomeVerdict verdict) {
  switch (verdict) {
    case HomeVerdict::Within:
      return "within";
    case HomeVerdict::Near:
      return "near-limit";
    case HomeVerdict::Over:
      return "over";
    case HomeVerdict::NoWay:
      return "no-way";
  }
  return "";
}

namespace {

std::string margin_words(double limit_s, double time_s) {
  const double margin_s = limit_s - time_s;
  return margin_s >= 0 ? duration(std::floor(margin_s + 1e-6)) : "-" + duration(-margin_s);
}

const char* verdict_words(HomeVerdict verdict) {
  switch (verdict) {
    case HomeVerdict::Within:
      return "within";
    case HomeVerdict::Near:
      return "near the limit";
    case HomeVerdict::Over:
      return "TOO FAR";
    case HomeVerdict::NoWay:
      return "NO PATH";
  }
  return "";
}

/// The columns that a place and a waypoint have alike.
class HomeColumns {
 public:
  HomeColumns(const route::AnswerHead& head, const route::HomeRequest& request)
      : request_(request), has_loads_(!head.loads.empty()) {
    if (request.hatches.size() > 1)
      for (const auto& hatch : request.hatches)
        hatch_width_ = std::max<std::size_t>({2, hatch_width_, width_of(hatch)});
  }

  [[nodiscard]] std::string header() const {
    return fmt::format("     time{}   margin  moves       m{}  verdict\n", has_loads_ ? "" : "  at most",
                       hatch_width_ == 0 ? "" : "  " + pad_right("to", hatch_width_));
  }

  template <class Row>
  [[nodiscard]] std::string cells(const Row& row, bool has_way) const {
    const bool has_most = has_way && std::isfinite(row.most_s) && row.verdict != HomeVerdict::NoWay;
    std::string out = fmt::format("  {:>7}", has_way ? duration(row.time_s) : "-");
    if (!has_loads_) out += fmt::format("  {:>7}", has_most ? duration(row.most_s) : "-");
    out += fmt::format("  {:>7}  {:>5}  {:>6}", has_most ? margin_words(request_.limit_s, row.most_s) : "-",
                       has_way ? std::to_string(row.moves) : "-", has_way ? bare_length_up(row.distance_m) : "-");
    if (hatch_width_ > 0) out += "  " + pad_right(has_way ? row.hatch : "-", hatch_width_);
    out += "  ";
    if (has_way || row.is_certain)
      out += verdict_words(row.verdict);
    else
      out += "NO PATH FOUND, not proven";
    if (has_way && row.verdict == HomeVerdict::NoWay) out += " from some of its grips";
    if (row.may_save_s) out += fmt::format("; a better path may save {} at most", duration(*row.may_save_s));
    return out + "\n";
  }

 private:
  const route::HomeRequest& request_;
  const bool has_loads_;
  std::size_t hatch_width_ = 0;  // 0: one hatch, no column
};

std::string home_heading(const Context& context, const std::string& title, const route::AnswerHead& head) {
  std::string out;
  paragraph(out, "", fmt::format("{}: {}", context.structure.name, title), 4);
  std::string how = fmt::format("least time{}, suit {}", head.is_priced ? price_words : "", head.suit);
  how += head.loads.empty()
             ? std::string(", nothing carried")
             : fmt::format(", load{} {}", head.loads.size() == 1 ? "" : "s", fmt::join(head.loads, " and "));
  how += fmt::format("; {}", configuration_words(context.structure, head.configuration));
  if (!head.request.closed_rails.empty())
    how += fmt::format("; closed: {}", fmt::join(head.request.closed_rails, ", "));
  paragraph(out, "  ", how, 2);
  return out + "\n";
}

std::string limit_words(const Context& context, const route::HomeRequest& request) {
  const auto& design = context.kit.design;
  return fmt::format(
      "Limit {}: {}. Warning above {}: {}.", duration(request.limit_s),
      request.limit_s == design.emergency_return_s ? origin_words(design.emergency_return_s) : std::string("as asked"),
      duration(request.warn_s),
      request.warn_s == design.emergency_warn_s ? origin_words(design.emergency_warn_s)
                                                : std::string("two thirds of the limit"));
}

/// Where paths end, once for all that end there; with loads how far each gets.
class Refusals {
 public:
  explicit Refusals(const Context& context) : context_(context) {}

  void add(std::string name, const std::vector<route::Cause>& causes, bool is_certain) {
    if (causes.empty()) return;
    // What differs from place to place goes into the table; the sentence is what they share.
    route::Cause shared = causes.front();
    shared.opens_alone = false;
    shared.then_time_s = shared.up_to_s = shared.up_to_m = 0;
    shared.up_to_moves = 0;
    const std::string words = sentence(context_, shared);
    auto group = std::find_if(groups_.begin(), groups_.end(), [&](const auto& g) { return g.words == words; });
    if (group == groups_.end()) group = groups_.insert(groups_.end(), {words, {}});
    group->members.push_back({std::move(name), causes.front(), is_certain});
  }

  [[nodiscard]] std::string text() const {
    std::string out;
    for (const auto& group : groups_) {
      std::vector<std::string> names;
      bool is_certain = true, has_table = false;
      std::size_t width = 4;
      for (const auto& member : group.members) {
        names.push_back(member.name);
        width = std::max(width, width_of(member.name));
        is_certain = is_certain && member.is_certain;
        has_table = has_table || member.cause.kind == route::CauseKind::LoadTooTight;
      }
      paragraph(out, "", fmt::format("No path home from {}. {}", fmt::join(names, ", "), group.words), 2);
      if (has_table) {
        out += fmt::format("  {}  gets there in  moves       m  home, if it passed\n", pad_right("from", width));
        for (const auto& member : group.members) {
          const auto& cause = member.cause;
          out += fmt::format("  {}  {:>13}  {:>5}  {:>6}  {:>18}{}\n", pad_right(member.name, width),
                             duration(cause.up_to_s), cause.up_to_moves, bare_length_up(cause.up_to_m),
                             cause.opens_alone ? duration(cause.then_time_s) : "-",
                             member.is_certain ? "" : "  not proven");
        }
      }
      if (!is_certain)
        paragraph(out, "  ",
                  "Not proven: of paths with the load in much the same place one was followed, and none of these "
                  "passes. Nothing says that another one does.",
                  2);
      out += "\n";
    }
    return out;
  }

 private:
  struct Member {
    std::string name;
    route::Cause cause;
    bool is_certain;
  };
  struct Group {
    std::string words;
    std::vector<Member> members;
  };
  const Context& context_;
  std::vector<Group> groups_;
};

}  // namespace

std::string text(const Context& context, const route::Home& home) {
  const auto& s = context.structure;
  std::string out =
      home_heading(context, fmt::format("the path home to {}", fmt::join(home.request.hatches, " or ")), home.head);

  const auto count = [&](HomeVerdict verdict) {
    return std::count_if(home.places.begin(), home.places.end(), [&](const auto& p) { return p.verdict == verdict; });
  };
  const auto over = count(HomeVerdict::Over), near = count(HomeVerdict::Near), none = count(HomeVerdict::NoWay);
  std::string verdict;
  if (over + none == 0)
    verdict = fmt::format("Every place is back inside within {}", duration(home.request.limit_s));
  else
    verdict = fmt::format("NOT every place is back inside within {}: {} too far, {} without a path",
                          duration(home.request.limit_s), over, none);
  verdict += near > 0 ? fmt::format("; {} above {}.", near, duration(home.request.warn_s)) : std::string(".");
  paragraph(out, "", verdict, 2);
  out += "\n";

  std::size_t width = 5;
  for (const auto& place : home.places) width = std::max(width, width_of(s.places[place.place.index()].id));
  const HomeColumns columns(home.head, home.request);
  out += fmt::format("  {}  kind     {}", pad_right("place", width), columns.header());
  Refusals refusals(context);
  for (const auto& place : home.places) {
    const auto& p = s.places[place.place.index()];
    out += fmt::format("  {}  {}", pad_right(p.id, width), pad_right(place_kind_word(p.kind), 9)) +
           columns.cells(place, place.has_route);
    refusals.add(p.id, place.causes, place.is_certain);
  }
  out += "\n" + refusals.text();
  if (home.head.loads.empty()) {
    if (home.priced_places > 0)
      paragraph(out, "",
                fmt::format("From {} of these places a path through a caution zone is quicker, by {} at most: the "
                            "price of that time decided. --no-price gives the quickest.",
                            home.priced_places, duration(home.priced_s)),
                2);
    paragraph(out, "",
              fmt::format("Of {} grips {} are too far, {} near the limit, {} have no path home. Farthest of each part:",
                          home.time_by_grip_s.size(), home.grips_over, home.grips_near, home.grips_without_way),
              2);
    std::size_t rail_width = 4;
    for (const auto& grip : home.worst) rail_width = std::max(rail_width, width_of(s.rails[grip.rail.index()].id));
    for (const auto& grip : home.worst)
      out += fmt::format("  {:>7}  {}  {}, {}\n", duration(grip.time_s),
                         pad_right(s.rails[grip.rail.index()].id, rail_width),
                         s.parts[s.rails[grip.rail.index()].part.index()].name, point(grip.hand));
    out += "\n";
  }
  paragraph(
      out, "",
      limit_words(context, home.request) +
          (home.head.loads.empty()
               ? " Time: of the route that `route` gives from the place. At most: from the grip of the place from "
                 "which it takes longest; margin and verdict count that."
               : " Time: of the route that `route` gives, from the grip of the place that is best to leave from, "
                 "with taking up and putting down. Where nothing else is said no path is quicker.") +
          " Opening the hatch and getting in are not counted.",
      2);
  return out + "\n" + assumptions(context, home.head);
}

std::string text(const Context& context, const route::HomeAlong& along) {
  const auto& s = context.structure;
  std::string out = home_heading(
      context,
      fmt::format("home to {} from each waypoint of {}", fmt::join(along.request.hatches, " or "), along.route),
      along.head);
  const bool has_legs = along.waypoints.back().leg > 0;
  const auto name_of = [&](const route::HomeWaypoint& point) {
    return has_legs ? fmt::format("{}.{}", point.leg + 1, point.row) : std::to_string(point.row);
  };
  const auto& worst = along.waypoints[along.worst];
  const auto beyond = std::count_if(along.waypoints.begin(), along.waypoints.end(), [](const auto& p) {
    return p.verdict == HomeVerdict::Over || p.verdict == HomeVerdict::NoWay;
  });
  if (beyond > 0)
    paragraph(out, "",
              fmt::format("NOT back inside within {} from {} of {} waypoints.", duration(along.request.limit_s), beyond,
                          along.waypoints.size()),
              2);
  else
    paragraph(out, "",
              fmt::format("Back inside within {} from every waypoint. The least margin is {}, at waypoint {}, {} after "
                          "the start.",
                          duration(along.request.limit_s), margin_words(along.request.limit_s, worst.most_s),
                          name_of(worst), duration(worst.at_s)),
              2);
  out += "\n";
  std::size_t width = 4;
  for (const auto& point : along.waypoints) width = std::max(width, width_of(s.rails[point.rail.index()].id));
  const HomeColumns columns(along.head, along.request);
  out += fmt::format("  {:>5}  {}   passed{}", "#", pad_right("rail", width), columns.header());
  Refusals refusals(context);
  for (const auto& point : along.waypoints) {
    out += fmt::format("  {:>5}  {}  {:>7}", name_of(point), pad_right(s.rails[point.rail.index()].id, width),
                       duration(point.at_s)) +
           columns.cells(point, point.has_way);
    refusals.add("waypoint " + name_of(point), point.causes, point.is_certain);
  }
  out += "\n" + refusals.text();
  paragraph(out, "",
            limit_words(context, along.request) +
                (along.head.loads.empty()
                     ? " What the route carries is left where one turns home. Time: from the waypoint. At most: from "
                       "the worst grip since the waypoint before; margin and verdict count that."
                     : " What is brought home is taken up at the waypoint.") +
                " Opening the hatch and getting in are not counted.",
            2);
  return out + "\n" + assumptions(context, along.head);
}

std::string text(const Context& context, const route::Matrix& matrix) {
  const auto& s = context.structure;
  std::string out = fmt::format("{}: from every place to every other\n", s.name);
  paragraph(out, "  ",
            fmt::format("least {}{}, suit {}, nothing carried; {}", objective_name(matrix.by),
                        matrix.head.is_priced ? price_words : "", matrix.head.suit,
                        configuration_words(s, matrix.head.configuration)),
            2);
  const char* what = matrix.by == route::Objective::Time       ? "time"
                     : matrix.by == route::Objective::Distance ? "metres"
                                                               : "hand moves";
  out += fmt::format(
      "\n{} of the route that `route` gives; a number heads the column of the place that it stands before\n\n", what);
  const std::size_t n = matrix.places.size();
  std::size_t width = 5;
  for (const auto place : matrix.places) width = std::max(width, width_of(s.places[place.index()].id));
  const auto cell = [&](const std::optional<route::Matrix::Cell>& c) -> std::string {
    if (!c) return "-";
    switch (matrix.by) {
      case route::Objective::Time:
        return duration(c->time_s);
      case route::Objective::Distance:
        return bare_length_up(c->distance_m);
      case route::Objective::Moves:
        return std::to_string(c->moves);
    }
    return "";
  };
  constexpr std::size_t column = 8;
  const std::size_t columns = std::max<std::size_t>(1, (page_width - width - 6) / column);
  for (std::size_t first = 0; first < n; first += columns) {
    const std::size_t last = std::min(n, first + columns);
    out += std::string(width + 6, ' ');
    for (std::size_t to = first; to < last; ++to) out += fmt::format("{:>{}}", to + 1, column);
    out += "\n";
    for (std::size_t from = 0; from < n; ++from) {
      out += fmt::format("  {:>2}  {}", from + 1, pad_right(s.places[matrix.places[from].index()].id, width));
      for (std::size_t to = first; to < last; ++to) out += fmt::format("{:>{}}", cell(matrix.at(from, to)), column);
      out += "\n";
    }
    out += "\n";
  }
  return out + assumptions(context, matrix.head);
}

}  // namespace holdfast::report
