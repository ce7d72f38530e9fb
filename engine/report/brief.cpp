// SPDX-License-Identifier: GPL-3.0-or-later
// A route in the words in which it is told to the crew: one sentence a part and side of it.

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <cctype>

#include "words_impl.h"

namespace holdfast::report {

using namespace detail;
using route::Face;
using route::Stretch;

namespace {

/// `the stores drum`; names that are ids, numbered or proper names stand alone.
std::string with_article(const std::string& name) {
  const bool is_proper = name.find_first_of("-_0123456789") != std::string::npos || name.empty() ||
                         std::isupper(static_cast<unsigned char>(name.front())) != 0;
  return is_proper ? name : "the " + name;
}

/// `forward and to port`.
std::string heading_words(Face heading) {
  const auto d = route::direction_of(heading);
  std::vector<std::string> words;
  const auto add = [&](double along, const char* ahead, const char* back) {
    if (std::abs(along) > 0.1) words.emplace_back(along > 0 ? ahead : back);
  };
  add(d.x(), "forward", "aft");
  add(d.y(), "to starboard", "to port");
  add(d.z(), "toward nadir", "toward zenith");
  return fmt::format("{}", fmt::join(words, " and "));
}

class BriefWriter {
 public:
  BriefWriter(const Context& context, const route::Route& route) : c_(context), s_(context.structure), route_(route) {}

  std::vector<BriefSentence> write() {
    std::vector<BriefSentence> out;
    for (std::size_t i = 0; i < route_.stretches.size(); ++i) out.push_back({i, sentence(i), {}});
    for (auto& each : out) add_notes(each);
    return out;
  }

 private:
  [[nodiscard]] std::string part_name(const Stretch& stretch) const {
    return with_article(s_.parts[stretch.part.index()].name);
  }

  [[nodiscard]] std::string place_words(const std::string& asked) const {
    if (!s_.find_place(asked) && s_.find_rail(asked)) return "rail " + asked;
    return with_article(place_name(c_, asked));
  }

  /// `round the hub from its zenith to its port side`; `from` is told where it is not known.
  [[nodiscard]] static std::string round_words(const std::vector<Face>& sides, const std::string& part) {
    const auto turn = [](Face a, Face b) { return route::direction_of(a).dot(route::direction_of(b)); };
    const Face middle = sides[sides.size() / 2];
    // Two sides that are a quarter of a turn apart at most leave no doubt about which way round, if the path goes the
    // short way.
    const bool is_short_way =
        sides.size() == 2 || (turn(sides.front(), sides.back()) > -1e-6 && turn(sides.front(), middle) > 0.5 &&
                              turn(middle, sides.back()) > 0.5);
    const std::string by = is_short_way ? "" : fmt::format(" by its {} side", face_name(middle));
    return fmt::format("round {} from its {}{} to its {} side", part, face_name(sides.front()), by,
                       face_name(sides.back()));
  }

  [[nodiscard]] std::string along_words(const Stretch& stretch, const std::string& part, bool is_named) const {
    const std::string heading = stretch.heading ? heading_words(*stretch.heading) : "";
    if (stretch.sides.size() > 1)
      return round_words(stretch.sides, part) + (heading.empty() ? "" : fmt::format(", then {} along it", heading));
    const char* side = face_name(stretch.sides.front());
    const std::string where =
        is_named ? fmt::format("its {} side", side) : fmt::format("the {} side of {}", side, part);
    return heading.empty() ? fmt::format("on {}", where) : fmt::format("{} along {}", heading, where);
  }

  [[nodiscard]] std::string sentence(std::size_t index) const {
    const Stretch& stretch = route_.stretches[index];
    const auto& leg = route_.legs[stretch.leg];
    const bool is_first = index == 0 || route_.stretches[index - 1].leg != stretch.leg;
    const bool is_last = index + 1 == route_.stretches.size() || route_.stretches[index + 1].leg != stretch.leg;
    const std::string part = part_name(stretch);
    const bool is_turned = stretch.turn_rad >= route::edge_turn_rad;
    std::string words;
    if (stretch.moves == 0) {
      words = fmt::format("Stay at {}: {} is within reach", place_words(leg.from), place_words(leg.to));
    } else if (is_first) {
      words = fmt::format("From {} {}", place_words(leg.from), along_words(stretch, part, false));
    } else if (const Stretch& before = route_.stretches[index - 1]; before.part != stretch.part) {
      words =
          fmt::format("Over to {}{}, {}", part, is_turned ? fmt::format(", turning {}", degrees(stretch.turn_rad)) : "",
                      along_words(stretch, "it", true));
    } else if (stretch.sides.size() > 1) {
      words = fmt::format("On {}", along_words(stretch, part, false));
    } else if (stretch.sides.front() != before.sides.back()) {
      words =
          fmt::format("{} to the {} side of {}",
                      is_turned ? fmt::format("Round an edge of {}", degrees(stretch.turn_rad)) : std::string("Over"),
                      face_name(stretch.sides.front()), part);
      if (stretch.heading) words += fmt::format(", {} along it", heading_words(*stretch.heading));
    } else {
      words = fmt::format("On {}", along_words(stretch, part, false));
    }
    if (!stretch.landmarks.empty()) {
      std::vector<std::string> passed;
      for (const auto& landmark : stretch.landmarks)
        passed.push_back(landmark.part ? fmt::format("{} of {}", face_name(landmark.side),
                                                     with_article(s_.parts[landmark.part->index()].name))
                                       : "past " + place_words(s_.places[landmark.place->index()].id));
      words += fmt::format(", {}", fmt::join(passed, " and "));
    }
    if (is_last && stretch.moves > 0) words += ", to " + place_words(leg.to);
    return fmt::format("{}, {}, at {}.", words, length_up(c_.options, stretch.distance_m),
                       duration(leg.rows[stretch.last_row].total_time_s));
  }

  /// Cautions of the sentence's rows, and the tether swaps that end it.
  void add_notes(BriefSentence& out) const {
    const Stretch& stretch = route_.stretches[out.stretch];
    const auto& leg = route_.legs[stretch.leg];
    if (route_.tether)
      for (const auto& swap : route_.tether->swaps)
        if (swap.leg == stretch.leg && swap.row >= stretch.first_row && swap.row <= stretch.last_row)
          out.notes.push_back(
              fmt::format("TETHER SWAP {} at {}: hook the next tether on to {}, then unhook the one before",
                          swap.row == 0 ? "before moving off" : "at the end of this", duration(swap.at_s), swap.hook));
    std::vector<route::ZoneContact> inside;
    for (std::size_t r = stretch.first_row; r <= stretch.last_row; ++r)
      for (const auto& contact : leg.rows[r].zones) {
        if (contact.inside_s <= 0) continue;
        const auto known =
            std::find_if(inside.begin(), inside.end(), [&](const auto& c) { return c.zone == contact.zone; });
        if (known == inside.end())
          inside.push_back(contact);
        else
          known->inside_s += contact.inside_s;
      }
    for (const auto& contact : inside) out.notes.push_back(entered_words(c_, contact));
    for (const auto& item : route_.band)
      if (item.leg == stretch.leg && item.row >= stretch.first_row && item.row <= stretch.last_row)
        out.notes.push_back("KICK BAND: " + band_words(c_, item));
  }

  const Context& c_;
  const model::Structure& s_;
  const route::Route& route_;
};

}  // namespace

std::vector<BriefSentence> brief_sentences(const Context& context, const route::Route& route) {
  return BriefWriter(context, route).write();
}

std::string place_name(const Context& context, const std::string& asked) {
  const auto& places = context.structure.places;
  const auto id = context.structure.find_place(asked);
  if (!id) return asked;
  const std::string& name = places[id->index()].name;
  const auto alike = std::count_if(places.begin(), places.end(), [&](const auto& place) { return place.name == name; });
  return alike > 1 && name != asked ? fmt::format("{} ({})", name, asked) : name;
}

}  // namespace holdfast::report
