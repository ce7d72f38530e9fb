// SPDX-License-Identifier: GPL-3.0-or-later
#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "page_impl.h"
#include "rails_words_impl.h"
#include "words_impl.h"

namespace holdfast::report {

using namespace detail;
using rails::FoundRail;
using rails::Reason;
using rails::ReasonKind;

namespace detail {

const char* sureness_name(rails::Sureness sureness) {
  switch (sureness) {
    case rails::Sureness::Sure:
      return "sure";
    case rails::Sureness::Likely:
      return "likely";
    case rails::Sureness::Doubtful:
      return "doubtful";
  }
  return "";
}

const char* shape_name(rails::SectionShape shape) {
  switch (shape) {
    case rails::SectionShape::Round:
      return "round";
    case rails::SectionShape::Racetrack:
      return "racetrack";
    case rails::SectionShape::Square:
      return "square";
    case rails::SectionShape::Other:
      return "other";
  }
  return "";
}

const char* reason_name(ReasonKind kind) {
  switch (kind) {
    case ReasonKind::TooThick:
      return "too-thick";
    case ReasonKind::TooThin:
      return "too-thin";
    case ReasonKind::TooNear:
      return "too-near";
    case ReasonKind::TooShort:
      return "too-short";
    case ReasonKind::TrussMember:
      return "truss-member";
    case ReasonKind::Pipe:
      return "pipe";
    case ReasonKind::Flat:
      return "flat";
    case ReasonKind::InSolid:
      return "in-solid";
    case ReasonKind::StandsAlone:
      return "stands-alone";
    case ReasonKind::SideUnclear:
      return "side-unclear";
    case ReasonKind::FarAway:
      return "far-away";
    case ReasonKind::OutwardUnclear:
      return "outward-unclear";
    case ReasonKind::GapBelowDesign:
      return "gap-below-design";
    case ReasonKind::EndsAlone:
      return "ends-alone";
    case ReasonKind::Uneven:
      return "uneven";
    case ReasonKind::OpenSurface:
      return "open-surface";
    case ReasonKind::NoSupport:
      return "no-support";
  }
  return "";
}

std::string section_words(const FoundRail& rail) {
  const auto mm = [](double metres) { return static_cast<int>(std::ceil(metres * 1000 - 0.05)); };
  return fmt::format("{} x {}", mm(rail.width_m), mm(rail.height_m));
}

}  // namespace detail

namespace {

std::string counted(std::size_t count, const char* one) {
  return fmt::format("{} {}{}", count, one, count == 1 ? "" : "s");
}
std::string mm_up(double metres) { return fmt::format("{} mm", static_cast<int>(std::ceil(metres * 1000 - 0.05))); }
std::string mm_down(double metres) { return fmt::format("{} mm", static_cast<int>(std::floor(metres * 1000 + 0.05))); }

std::string words_of(const Reason& reason) {
  const double limit = reason.limit ? reason.limit->value : 0;
  switch (reason.kind) {
    case ReasonKind::TooThick:
      return fmt::format("too thick for a glove: {}, more than {}", mm_up(reason.value), mm_down(limit));
    case ReasonKind::TooThin:
      return fmt::format("thin as a cable: {}, less than {}", mm_down(reason.value), mm_up(limit));
    case ReasonKind::TooNear:
      return fmt::format("too near the surface: a gap of {}, less than {}", mm_down(reason.value), mm_up(limit));
    case ReasonKind::TooShort:
      return fmt::format("too short: {}, less than {}", mm_down(reason.value), mm_up(limit));
    case ReasonKind::TrussMember:
      return reason.value < 2
                 ? "a truss member: it runs between others"
                 : fmt::format("a truss member: others meet it slantwise at {} places", static_cast<int>(reason.value));
    case ReasonKind::Pipe:
      return fmt::format(
          "a pipe or brace: {} long without a post, and it ends in structure or turns more than four times",
          mm_down(reason.value));
    case ReasonKind::Flat:
      return fmt::format(
          "a flat bar, an angle or a channel: its section fills little of the circle round it, {:.1f} times as wide as "
          "high",
          reason.value);
    case ReasonKind::InSolid:
      return "inside of a solid";
    case ReasonKind::StandsAlone:
      return "a post or mast: it stands up from the structure and holds no rail";
    case ReasonKind::SideUnclear:
      return "it goes through an open surface: which side is inside is not known";
    case ReasonKind::FarAway:
      return std::isfinite(reason.value) ? fmt::format("no structure within {:.1f} m", limit)
                                         : fmt::format("no other structure within {:.1f} m", limit);
    case ReasonKind::OutwardUnclear:
      return "nothing lies underneath, and no post tells: its outward direction is not known";
    case ReasonKind::EndsAlone:
      return "held at its ends alone, as a grab bar or a strut is";
    case ReasonKind::GapBelowDesign:
      return fmt::format("a gap of {}, less than {}", mm_down(reason.value), mm_up(limit));
    case ReasonKind::Uneven:
      return fmt::format("an uneven section: up to {:.2f} times its usual width", reason.value);
    case ReasonKind::OpenSurface:
      return "an open surface";
    case ReasonKind::NoSupport:
      return "nothing holds it: neither end, and no post";
  }
  return "";
}

class RailsText {
 public:
  explicit RailsText(const RailsReport& report) : r_(report), f_(report.found) {}

  std::string write() {
    std::size_t handholds = 0;
    for (const auto& rail : f_.rails) handholds += rail.is_handhold() ? 1 : 0;
    out_ += wrap(fmt::format("{}: {} in {}{}", r_.source, counted(f_.triangles, "triangle"),
                             counted(f_.pieces, "connected piece"),
                             r_.asked.node_pattern.empty() ? "" : fmt::format(", nodes {}", r_.asked.node_pattern)),
                 0, 2) +
            "\n";
    out_ += "  " +
            wrap(fmt::format("{} ({} in all), {}, {}; {} doubtful", counted(f_.rails.size() - handholds, "rail"),
                             length_down(r_.options, f_.length_m), counted(handholds, "handhold"),
                             counted(f_.posts.size(), "post"), f_.doubtful.size()),
                 2, 2) +
            "\n";
    if (f_.rails.empty()) write_nothing();
    if (!f_.rails.empty()) write_rails();
    write_doubtful();
    if (!f_.rails.empty()) write_design();
    if (r_.revision) write_revision();
    for (const auto& file : r_.written) {
      if (&file == &r_.written.front()) out_ += "\n";
      out_ += fmt::format("  written: {}, {:.1f} MB\n", file.file, static_cast<double>(file.bytes) / 1e6);
    }
    out_ += fmt::format("\nEngine {}.\n{}\n", r_.engine_version, caution);
    return std::move(out_);
  }

 private:
  void write_nothing() {
    out_ += "\nNo rail found.\n";
    if (f_.unit)
      out_ +=
          "  " +
          wrap(
              fmt::format(
                  "What is thin and long is far from a rail's section as it stands. If the file is in {}, it has {} of "
                  "rails: give --unit {}, or units: {} in the model.",
                  f_.unit->unit, length_down(r_.options, f_.unit->length_m), f_.unit->unit, f_.unit->unit),
              2, 4) +
          "\n";
    else if (f_.doubtful.empty())
      out_ += "  Nothing in it is thin and long.\n";
    else
      out_ += "  " +
              wrap(fmt::format("Nearest came {}: {}.", nearest().id, words_of(nearest().reasons.front())), 2, 4) + "\n";
  }

  /// Fewest reasons, then the longest.
  const FoundRail& nearest() const {
    return *std::min_element(f_.doubtful.begin(), f_.doubtful.end(), [](const FoundRail& x, const FoundRail& y) {
      if (x.reasons.size() != y.reasons.size()) return x.reasons.size() < y.reasons.size();
      return x.length_m > y.length_m;
    });
  }

  void write_rails() {
    std::size_t width = 4;
    for (const auto& rail : f_.rails) width = std::max(width, rail.id.size());
    out_ += "\n  " + pad_right("rail", width) +
            "   length  section mm           gap m  sure    from                   to\n";
    for (const auto& rail : f_.rails) {
      out_ += "  " + pad_right(rail.id, width) + pad_left(bare_length_down(rail.length_m), 9) + "  " +
              pad_right(fmt::format("{} {}", section_words(rail), shape_name(rail.shape)), 19) + "  " +
              pad_left(rail.gap_m ? fmt::format("{:.3f}", std::floor(*rail.gap_m * 1000 + 1e-6) / 1000) : "open", 5) +
              "  " + pad_right(sureness_name(rail.sureness), 8) + pad_right(point(rail.points.front().at), 23);
      out_ += rail.is_handhold() ? "handhold" : rail.is_ring ? "ring" : point(rail.points.back().at);
      if (rail.points.size() > 2) out_ += fmt::format(", {} pieces", rail.points.size() - 1);
      out_ += "\n";
      if (!rail.reasons.empty()) out_ += "      " + wrap(reasons_words(rail), 6, 6) + "\n";
    }
  }

  void write_doubtful() {
    if (f_.doubtful.empty()) return;
    out_ += "\n  Doubtful, left in the structure and out of the table; --accept ID takes one in\n";
    std::size_t number = 0;
    for (const auto& rail : f_.doubtful)
      out_ += fmt::format("  {:>3}  ", ++number) +
              wrap(fmt::format("{}, {}, {} mm, from {}: {}", rail.id, length_down(r_.options, rail.length_m),
                               section_words(rail), point(rail.points.front().at), reasons_words(rail)),
                   7, 7) +
              "\n";
  }

  void write_design() {
    const auto value = [&](const char* name, const model::Quantity& q, const std::string& found) {
      out_ += "    " + wrap(fmt::format("{} {} [{}]: {}", name, mm_up(q.value), origin_words(q), found), 4, 6) + "\n";
    };
    const FoundRail *lowest = nullptr, *shortest = nullptr, *widest = nullptr, *thinnest = nullptr;
    for (const auto& rail : f_.rails) {
      if (rail.gap_m && (!lowest || *rail.gap_m < *lowest->gap_m)) lowest = &rail;
      if (!shortest || rail.length_m < shortest->length_m) shortest = &rail;
      if (!widest || rail.width_m > widest->width_m) widest = &rail;
      if (!thinnest || rail.height_m < thinnest->height_m) thinnest = &rail;
    }
    out_ += "\n  Design values\n";
    value("clear gap under a rail, at least", r_.asked.design.rail_clear_m,
          lowest ? fmt::format("least found {}, {}", mm_down(*lowest->gap_m), lowest->id)
                 : "nothing lies underneath any");
    value("grip length, at least", r_.asked.design.grip_length_m,
          fmt::format("least found {}, {}", mm_down(shortest->length_m), shortest->id));
    value("section, at most", r_.asked.limits.most_section_m,
          fmt::format("largest found {}, {}", mm_up(widest->width_m), widest->id));
    value("section, at least", r_.asked.limits.least_section_m,
          fmt::format("smallest side found {}, {}", mm_down(thinnest->height_m), thinnest->id));
  }

  void write_revision() {
    const auto& before = *r_.before;
    std::size_t same = 0, moved = 0, is_new = 0, edited = 0;
    constexpr double same_m = 0.002;  // the tolerance of the line
    for (const auto& piece : r_.revision->pieces) {
      if (!piece.before)
        ++is_new;
      else
        ++(piece.moved_m > same_m ? moved : same), edited += piece.is_edited ? 1 : 0;
    }
    out_ += "\n  " +
            wrap(fmt::format("Against {}: {} as before, {} moved, {} new, {} gone; {} edited by hand and {} written by "
                             "hand are kept",
                             r_.against, same, moved, is_new, r_.revision->gone.size(), edited,
                             r_.revision->by_hand.size()),
                 2, 4) +
            "\n";
    for (const auto& piece : r_.revision->pieces) {
      if (!piece.before)
        out_ += fmt::format("    new     {} at {}\n", piece.id, point(piece.from));
      else if (piece.moved_m > same_m)
        out_ += fmt::format("    moved   {} by {}{}\n", piece.id, mm_up(piece.moved_m),
                            piece.is_edited ? "; its row was edited by hand and stays: look at it" : "");
    }
    for (const auto row : r_.revision->gone)
      out_ += fmt::format("    gone    {} at {}\n", before[row].id, point(before[row].from));
  }

  const RailsReport& r_;
  const rails::FoundRails& f_;
  std::string out_;
};

}  // namespace

std::string detail::reasons_words(const FoundRail& rail) {
  std::string out;
  for (const auto& reason : rail.reasons) out += (out.empty() ? "" : "; ") + words_of(reason);
  return out;
}

std::string sentence(const Reason& reason) {
  return reason.limit ? fmt::format("{} [{}]", words_of(reason), origin_words(*reason.limit)) : words_of(reason);
}

std::string text(const RailsReport& report) { return RailsText(report).write(); }

}  // namespace holdfast::report
