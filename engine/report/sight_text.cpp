// SPDX-License-Identifier: GPL-3.0-or-later
#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <cmath>

#include "holdfast/report/sight.h"
#include "json_impl.h"
#include "page_impl.h"
#include "reach_words_impl.h"
#include "words_impl.h"

namespace holdfast::report {

using namespace detail;
using reach::PatchSight;
using reach::Seen;
using reach::SightAnswer;
using reach::SightVerdict;

namespace {

const char* verdict_name(SightVerdict verdict) {
  switch (verdict) {
    case SightVerdict::Seen:
      return "seen";
    case SightVerdict::Partly:
      return "partly";
    case SightVerdict::NotSeen:
      return "not-seen";
    case SightVerdict::NotThere:
      return "not-there";
    case SightVerdict::Covered:
      return "covered";
  }
  return "";
}

/// Whole per cent: what is seen for sure rounded down, what may be seen rounded up.
int percent_down(double fraction) { return static_cast<int>(std::floor(fraction * 100 + 1e-9)); }
int percent_up(double fraction) { return static_cast<int>(std::ceil(fraction * 100 - 1e-9)); }

std::string share(const Seen& seen) { return share_words(seen.low, seen.high); }

}  // namespace

std::string detail::share_words(double low, double high) {
  const int least = percent_down(low), most = percent_up(high);
  return least == most ? fmt::format("{} %", least) : fmt::format("{} to {} %", least, most);
}

std::string detail::not_seen_words(double high) {
  return high > 0 ? fmt::format("not seen: {} % at most", percent_up(high)) : "not seen";
}

namespace {

class SightText {
 public:
  SightText(const Context& context, const SightAnswer& answer) : c_(context), s_(context.structure), a_(answer) {}

  std::string write() {
    line("",
         fmt::format("{}: {}", s_.name,
                     a_.from_grips ? "from which grips patches are seen best" : "what windows and cameras see"),
         4);
    std::string how = a_.from_grips ? fmt::format("suit {}, {}", a_.head.suit,
                                                  a_.camera.empty() ? "camera at the helmet" : "camera " + a_.camera)
                                    : "";
    if (!how.empty()) how += "; ";
    line("  ", how + configuration_words(s_, a_.head.configuration), 2);
    out_ += "\n";
    if (a_.from_grips)
      write_rankings();
    else
      write_views();
    if (a_.has_route) out_ += path_page(c_, a_.head);
    return std::move(out_) + assumptions(c_, a_.head);
  }

 private:
  void line(std::string_view start, std::string_view words, std::size_t indent) {
    paragraph(out_, start, words, indent);
  }
  const model::Patch& patch(model::PatchId id) const { return s_.patches[id.index()]; }

  /// What there is to say of a patch before anyone looks.
  bool write_patch_heading(const PatchSight& sight) {
    const auto& p = patch(sight.patch);
    if (!sight.is_there) {
      line("", fmt::format("{} is not there in this configuration.", p.name), 2);
      return false;
    }
    if (sight.any.verdict == SightVerdict::Covered) {
      line("", fmt::format("{} is covered: all of it lies against or in other parts.", p.name), 2);
      return false;
    }
    std::string words = fmt::format("{} ({}), {:.2f} m2", p.name, p.id, sight.area_m2);
    if (sight.covered_fraction > 0)
      words +=
          fmt::format("; {} % more lies against or in other parts and is left out", percent_up(sight.covered_fraction));
    line("", words, 2);
    return true;
  }

  void write_views() {
    for (const auto& sight : a_.patches) {
      if (!write_patch_heading(sight)) {
        out_ += "\n";
        continue;
      }
      std::size_t width = width_of("any of them");
      for (const auto& view : sight.views) width = std::max(width, width_of(s_.views[view.view->index()].id));
      for (const auto& view : sight.views) {
        const auto& v = s_.views[view.view->index()];
        line("  " + pad_right(v.id, width) + "  ", view_words(view), 4 + width);
      }
      if (sight.views.size() > 1) {
        const std::string words = sight.any.verdict == SightVerdict::NotSeen
                                      ? not_seen_words(sight.any.seen.high)
                                      : fmt::format("{} of it", share(sight.any.seen));
        line("  " + pad_right("any of them", width) + "  ", words, 4 + width);
      }
      out_ += "\n";
    }
    std::vector<std::string> unseen;
    for (const auto& sight : a_.patches)
      if (sight.is_there && sight.any.verdict == SightVerdict::NotSeen) unseen.push_back(patch(sight.patch).id);
    if (!unseen.empty()) line("", fmt::format("No view sees: {}.", fmt::join(unseen, ", ")), 2);
    double widest = 0;
    for (const auto& sight : a_.patches) {
      widest = std::max(widest, sight.any.seen.cell_m);
      for (const auto& view : sight.views) widest = std::max(widest, view.seen.cell_m);
    }
    line("",
         fmt::format(
             "Shares are of a patch's area: what is seen for sure, and what may be seen. What is narrower than {} in "
             "between may be missed.",
             length_up(c_.options, widest)),
         2);
    out_ += "\n";
  }

  std::string view_words(const reach::ViewOfPatch& view) const {
    const auto& seen = view.seen;
    switch (view.verdict) {
      case SightVerdict::NotThere:
        return "not there in this configuration";
      case SightVerdict::Covered:
      case SightVerdict::NotSeen:
        return not_seen_words(seen.high);
      case SightVerdict::Seen:
      case SightVerdict::Partly:
        break;
    }
    std::string words =
        fmt::format("{} {} of it from {}, {} off its normal", view.verdict == SightVerdict::Seen ? "sees" : "sees only",
                    share(seen), length_up(c_.options, seen.distance_m), degrees(seen.off_normal_rad));
    words += fmt::format("; {:.2g} sr", seen.solid_angle_sr);
    if (!seen.is_all_in_field) words += "; the field does not hold all of it";
    return words;
  }

  void write_rankings() {
    std::size_t r = 0;
    for (const auto& sight : a_.patches) {
      if (!write_patch_heading(sight)) {
        out_ += "\n";
        continue;
      }
      const auto& ranking = a_.rankings[r++];
      if (ranking.best.empty()) {
        line("  ",
             fmt::format("None of {} grips with room for the body sees any of it, by a first look at {} samples.",
                         ranking.grips, ranking.samples),
             4);
        out_ += "\n";
        continue;
      }
      line("  ",
           fmt::format("{} of {} grips with room for the body see some of it. The best, one a rail:", ranking.with_any,
                       ranking.grips),
           4);

      const bool has_time = ranking.best.front().time_s.has_value();
      std::size_t width = 4;
      for (const auto& best : ranking.best) width = std::max(width, width_of(s_.rails[best.rail.index()].id));
      out_ += fmt::format("  {}  at      seen        distance  off normal{}  camera\n", pad_right("rail", width),
                          has_time ? "     there" : "");
      for (const auto& best : ranking.best)
        out_ += fmt::format("  {}  {:>4} m  {:<10}  {:>6} m  {:>10}{}  {}{}\n",
                            pad_right(s_.rails[best.rail.index()].id, width), bare_length_up(best.along_m),
                            share(best.seen), bare_length_up(best.seen.distance_m), degrees(best.seen.off_normal_rad),
                            has_time ? "   " + duration(*best.time_s) : "",
                            best.is_at_arms_length ? "at arm's length" : "at the helmet",
                            best.is_cut_off ? "; NOT REACHED from any hatch" : "");
      double widest = 0;
      for (const auto& best : ranking.best) widest = std::max(widest, best.seen.cell_m);
      line("  ", fmt::format("What is narrower than {} in between may be missed.", length_up(c_.options, widest)), 4);
      if (ranking.most_of_others > 0)
        line(
            "  ",
            fmt::format("Too many to look at all closely: of {} that see some of it {} were. Others may belong in this "
                        "list; by a first look at {} samples they see {} % of it at most.",
                        ranking.with_any, ranking.looked_at, ranking.samples, percent_up(ranking.most_of_others)),
            4);
      out_ += "\n";
    }
  }

  const Context& c_;
  const model::Structure& s_;
  const SightAnswer& a_;
  std::string out_;
};

Json seen_json(const Seen& seen) {
  return {{"low", rounded_down(seen.low)},
          {"high", rounded_up(seen.high)},
          {"cells", seen.cells},
          {"cell_m", rounded_up(seen.cell_m)},
          {"distance_m", rounded_up(seen.distance_m)},
          {"off_normal_deg", in_degrees(seen.off_normal_rad)},
          {"solid_angle_sr", rounded(seen.solid_angle_sr)},
          {"all_in_field", seen.is_all_in_field}};
}

}  // namespace

std::string text(const Context& context, const SightAnswer& answer) { return SightText(context, answer).write(); }

std::string json(const Context& context, const SightAnswer& answer) {
  const auto& s = context.structure;
  Json out = document_json(context, "sight", answer.from_grips ? "from-grips" : "views");
  out["configuration"] = configuration_json(answer.head.configuration);
  out["suit"] = answer.head.suit;
  out["limits"] = {{"off_normal_deg", in_degrees(answer.limits.off_normal_rad)},
                   {"enough", rounded(answer.limits.enough)}};
  if (answer.from_grips) out["camera"] = answer.camera.empty() ? Json(nullptr) : Json(answer.camera);
  out["patches"] = Json::array();
  std::size_t r = 0;
  for (const auto& sight : answer.patches) {
    Json entry = {{"id", s.patches[sight.patch.index()].id}, {"there", sight.is_there}};
    const bool is_looked_at = sight.is_there && sight.any.verdict != SightVerdict::Covered;
    if (sight.is_there) {
      entry["area_m2"] = rounded(sight.area_m2);
      entry["covered_fraction"] = rounded_up(sight.covered_fraction);
    }
    if (!answer.from_grips) {
      entry["verdict"] = verdict_name(sight.any.verdict);
      if (is_looked_at) {
        entry["any"] = {{"low", rounded_down(sight.any.seen.low)}, {"high", rounded_up(sight.any.seen.high)}};
        entry["views"] = Json::array();
        for (const auto& view : sight.views) {
          Json of_view = {{"view", s.views[view.view->index()].id}, {"verdict", verdict_name(view.verdict)}};
          if (view.verdict != SightVerdict::NotThere) of_view.update(seen_json(view.seen));
          entry["views"].push_back(of_view);
        }
      }
    } else if (is_looked_at) {
      const auto& ranking = answer.rankings[r++];
      entry["grips"] = ranking.grips;
      entry["grips_that_see_some"] = ranking.with_any;
      entry["grips_looked_at_closely"] = ranking.looked_at;
      entry["samples_of_first_look"] = ranking.samples;
      entry["most_of_others"] = rounded_up(ranking.most_of_others);
      entry["best"] = Json::array();
      for (const auto& best : ranking.best) {
        Json row = {{"rail", s.rails[best.rail.index()].id},
                    {"along_m", rounded(best.along_m)},
                    {"eye", point_json(best.eye.at)},
                    {"direction", point_json(best.eye.direction)},
                    {"half_angle_deg", in_degrees(best.eye.half_angle_rad)},
                    {"held", best.is_at_arms_length ? "hand" : "helmet"}};
        row.update(seen_json(best.seen));
        if (best.time_s)
          row["time_s"] = rounded_up(*best.time_s);
        else
          row["cut_off"] = best.is_cut_off;
        entry["best"].push_back(row);
      }
    }
    out["patches"].push_back(entry);
  }
  if (answer.has_route) {
    out["from"] = answer.head.request.from;
    write_outcome_json(context, answer.head, out);
  }
  finish_json(context, answer.head, out);
  return dump_json(out);
}

std::string csv(const Context& context, const SightAnswer& answer) {
  const auto& s = context.structure;
  std::string out =
      "patch,view,verdict,rail,along_m,held,low,high,distance_m,off_normal_deg,solid_angle_sr,time_s,cut_off\r\n";
  const auto numbers = [](const Seen& seen) {
    return fmt::format("{},{},{},{},{}", rounded_down(seen.low), rounded_up(seen.high), rounded_up(seen.distance_m),
                       in_degrees(seen.off_normal_rad), rounded(seen.solid_angle_sr));
  };
  for (const auto& sight : answer.patches) {
    const std::string id = csv_field(s.patches[sight.patch.index()].id);
    for (const auto& view : sight.views)
      out +=
          fmt::format("{},{},{},,,,{},,\r\n", id, csv_field(s.views[view.view->index()].id), verdict_name(view.verdict),
                      view.verdict == SightVerdict::NotThere ? ",,,," : numbers(view.seen));
  }
  for (const auto& ranking : answer.rankings)
    for (const auto& best : ranking.best)
      out += fmt::format("{},,,{},{},{},{},{},{}\r\n", csv_field(s.patches[ranking.patch.index()].id),
                         csv_field(s.rails[best.rail.index()].id), rounded(best.along_m),
                         best.is_at_arms_length ? "hand" : "helmet", numbers(best.seen),
                         best.time_s ? fmt::format("{}", rounded_up(*best.time_s)) : "",
                         best.time_s       ? ""
                         : best.is_cut_off ? "yes"
                                           : "no");
  return out;
}

}  // namespace holdfast::report
