// The way home from everywhere, and times from every place to every other.

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <cmath>

#include "page_impl.h"
#include "words_impl.h"

namespace holdfast::report {

using namespace detail;
using search::HomeVerdict;

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

std::string text(const Context& context, const search::Home& home) {
  const auto& s = context.structure;
  std::string out;
  paragraph(out, "", fmt::format("{}: the way home to {}", s.name, home.request.hatch), 4);
  std::string how = fmt::format("suit {}", home.head.suit);
  if (!home.head.loads.empty()) how += fmt::format(", load {}", fmt::join(home.head.loads, " and "));
  paragraph(out, "  ", fmt::format("{}; {}", how, configuration_words(s, home.head.configuration)), 2);
  out += "\n";

  const auto count = [&](HomeVerdict verdict) {
    return std::count_if(home.places.begin(), home.places.end(), [&](const auto& p) { return p.verdict == verdict; });
  };
  const auto over = count(HomeVerdict::Over), near = count(HomeVerdict::Near), none = count(HomeVerdict::NoWay);
  std::string verdict;
  if (over + none == 0)
    verdict = fmt::format("Every place is back inside within {}", duration(home.request.limit_s));
  else
    verdict = fmt::format("NOT every place is back inside within {}: {} too far, {} without a way",
                          duration(home.request.limit_s), over, none);
  verdict += near > 0 ? fmt::format("; {} above {}.", near, duration(home.request.warn_s)) : std::string(".");
  paragraph(out, "", verdict, 2);
  out += "\n";

  std::size_t width = 5;
  for (const auto& place : home.places) width = std::max(width, width_of(s.places[place.place.index()].id));
  out += fmt::format("  {}  kind          time   margin  moves       m  verdict\n", pad_right("place", width));
  for (const auto& place : home.places) {
    const auto& p = s.places[place.place.index()];
    const std::string start = fmt::format("  {}  {}", pad_right(p.id, width), pad_right(place_kind_word(p.kind), 9));
    if (place.verdict == HomeVerdict::NoWay) {
      out += fmt::format("{}  {:>7}  {:>7}  {:>5}  {:>6}  NO WAY{}\n", start, "-", "-", "-", "-",
                         place.is_certain ? "" : " FOUND (the search was cut short)");
      continue;
    }
    const double margin_s = home.request.limit_s - place.time_s;
    out += fmt::format("{}  {:>7}  {:>7}  {:>5}  {:>6}  {}\n", start, duration(place.time_s),
                       margin_s >= 0 ? duration(std::floor(margin_s + 1e-6)) : "-" + duration(-margin_s), place.moves,
                       bare_length_up(place.distance_m),
                       place.verdict == HomeVerdict::Over   ? "TOO FAR"
                       : place.verdict == HomeVerdict::Near ? "near the limit"
                                                            : "within");
  }
  out += "\n";
  if (home.head.loads.empty()) {
    paragraph(out, "",
              fmt::format("Of {} grips {} are too far, {} near the limit, {} have no way home. Farthest of each part:",
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
      fmt::format("Limit {}: {}. Warning above {}: {}. Without loads a place counts from the grip that is farthest "
                  "from home, with loads from the one that is best to leave from. Opening the hatch and getting in are "
                  "not counted.",
                  duration(home.request.limit_s),
                  home.request.limit_s == context.kit.design.emergency_return_s
                      ? origin_words(context.kit.design.emergency_return_s)
                      : std::string("as asked"),
                  duration(home.request.warn_s),
                  home.request.warn_s == context.kit.design.emergency_warn_s
                      ? origin_words(context.kit.design.emergency_warn_s)
                      : std::string("two thirds of the limit")),
      2);
  return out + "\n" + assumptions(context, home.head);
}

std::string text(const Context& context, const search::Matrix& matrix) {
  const auto& s = context.structure;
  std::string out = fmt::format("{}: from every place to every other\n", s.name);
  paragraph(out, "  ",
            fmt::format("least {}, suit {}; {}", objective_name(matrix.by), matrix.head.suit,
                        configuration_words(s, matrix.head.configuration)),
            2);
  const char* what = matrix.by == search::Objective::Time       ? "time"
                     : matrix.by == search::Objective::Distance ? "metres"
                                                                : "hand moves";
  out += fmt::format("\n{} of the best way; a number heads the column of the place that it stands before\n\n", what);
  const std::size_t n = matrix.places.size();
  std::size_t width = 5;
  for (const auto place : matrix.places) width = std::max(width, width_of(s.places[place.index()].id));
  const auto cell = [&](const std::optional<search::Matrix::Cell>& c) -> std::string {
    if (!c) return "-";
    switch (matrix.by) {
      case search::Objective::Time:
        return duration(c->time_s);
      case search::Objective::Distance:
        return bare_length_up(c->distance_m);
      case search::Objective::Moves:
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
