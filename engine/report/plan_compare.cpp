// SPDX-License-Identifier: GPL-3.0-or-later
// A plan told apart from one that was printed before: read back, in words, and as JSON.

#include "holdfast/report/plan_compare.h"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <cmath>

#include "holdfast/report/plan.h"
#include "page_impl.h"
#include "plan_page_impl.h"
#include "result_document_impl.h"
#include "words_impl.h"

namespace holdfast::report {

using namespace detail;
using plan::FiguresRow;
using plan::FiguresViolation;
using plan::PlanChanges;
using plan::PlanFigures;
using plan::RowName;

namespace {

constexpr const char* printed = "holdfast plan ... --json";
constexpr double largest = 1e9;  // s or J: beyond is no result of ours

using ReadJson = nlohmann::json;

class PlanReader {
 public:
  PlanReader(const std::string& file, const model::Structure& structure, const model::Kit& kit)
      : file_(file), structure_(structure), kit_(kit) {}

  PlanFigures read(const ReadJson& document) const {
    const auto verb = document.at("verb").get<std::string>();
    if (verb != "plan")
      refuse_result(file_, fmt::format("this is a result of `holdfast {}`, not of `holdfast plan`", verb),
                    fmt::format("give what `{}` printed", printed));
    check_structure(file_, document, structure_);
    PlanFigures out;
    out.name = document.at("excursion").at("name");
    out.file = document.at("excursion").at("file");
    out.sha256 = document.at("excursion").at("sha256");
    for (const auto& [id, position] : document.at("configuration").items())
      out.configuration +=
          fmt::format("{}{}={}", out.configuration.empty() ? "" : " ", id, position.get<std::string>());
    out.what_if = what_if(document.at("what_if"));
    read_kit(document.at("model"), out);
    out.limit_s = number(document.at("limit_s")), out.finish_s = number(document.at("finish_s"));
    for (const auto& member : document.at("crew"))
      out.crew.push_back({member.at("id"), number(member.at("inside_at_s")), number(member.at("energy_margin_j")),
                          member.at("moves").get<std::size_t>()});
    for (const auto& row : document.at("rows")) {
      FiguresRow read;
      read.name = {row.at("crew"),    row.at("kind"),
                   row.at("what"),    row.value("id", std::string()),
                   row.at("subject"), row.value("other", std::string())};
      read.from_s = number(row.at("from_s")), read.to_s = number(row.at("to_s"));
      out.rows.push_back(std::move(read));
    }
    for (const auto& v : document.at("violations")) {
      if (v.contains("follows")) continue;  // counted there
      FiguresViolation read;
      read.kind = v.at("kind"), read.subject = v.at("subject"), read.other = v.at("other");
      read.crew = v.at("crew").is_null() ? std::string() : v.at("crew").get<std::string>();
      read.sentence = v.at("sentence");
      read.at_s = number(v.at("at_s"));
      out.violations.push_back(std::move(read));
    }
    out.done = document.at("done").get<std::vector<std::string>>();
    out.dropped = document.at("dropped").get<std::vector<std::string>>();
    read_back(document.at("back"), out);
    return out;
  }

 private:
  double number(const ReadJson& value) const {
    const auto read = value.get<double>();
    if (!(std::abs(read) <= largest))
      refuse_result(file_, "a number in it is beyond what a plan has",
                    fmt::format("give what `{}` printed, unchanged", printed));
    return read;
  }

  static std::string what_if(const ReadJson& given) {
    std::vector<std::string> words;
    for (const auto& rail : given.at("closed_rails")) words.push_back("--close " + rail.get<std::string>());
    const auto each = [&](const char* key, const char* option, double unit) {
      if (given.at(key).is_null()) return;
      for (const auto& [id, value] : given.at(key).items())
        words.push_back(value.is_string() ? fmt::format("{} {}={}", option, id, value.get<std::string>())
                                          : fmt::format("{} {}={}", option, id, value.get<double>() / unit));
    };
    each("loads", "--load-change", 1);
    each("slower", "--slower", 1);
    each("longer_s", "--longer", 60);
    return fmt::format("{}", fmt::join(words, " "));
  }

  void read_kit(const ReadJson& model, PlanFigures& out) const {
    const auto& then = model.at("kit_entries");
    for (const auto& entry : kit_.entries)
      if (then.value(entry.name, std::string()) != entry.sha256) out.other_kit.push_back(entry.name);
    for (const auto& [name, digest] : then.items())
      if (std::none_of(kit_.entries.begin(), kit_.entries.end(), [&](const auto& e) { return e.name == name; }))
        out.other_kit.push_back(name);
    const auto settings = model.at("settings").get<std::vector<std::string>>();
    for (const auto& s : settings)
      if (std::find(structure_.settings.begin(), structure_.settings.end(), s) == structure_.settings.end())
        out.other_kit.push_back("then --set " + s);
    for (const auto& s : structure_.settings)
      if (std::find(settings.begin(), settings.end(), s) == settings.end()) out.other_kit.push_back("now --set " + s);
  }

  void read_back(const ReadJson& back, PlanFigures& out) const {
    out.has_back = !back.at("moments").empty();
    if (!back.contains("worst")) return;
    const auto& worst = back.at("moments").at(back.at("worst").get<std::size_t>());
    if (worst.at("alone_s").is_null()) return;
    double longest_s = number(worst.at("alone_s"));
    if (worst.contains("incapacitated_s")) {
      if (worst.at("incapacitated_s").is_null()) return;
      longest_s = std::max(longest_s, number(worst.at("incapacitated_s")));
    }
    out.back_margin_s = number(back.at("limit_s")) - longest_s;
  }

  const std::string& file_;
  const model::Structure& structure_;
  const model::Kit& kit_;
};

std::string margin(double seconds) {
  return seconds >= -1e-6 ? duration_down(std::max(0.0, seconds)) : "-" + duration(-seconds);
}

/// `+0:12:00`: later.
std::string shift(double seconds) { return seconds >= 0 ? "+" + duration(seconds) : "-" + duration_down(-seconds); }

bool is_told(const RowName& name) {
  return name.kind == "work" || name.kind == "handling" || name.kind == "overhead" || name.kind == "throw";
}

Json row_json(const FiguresRow& row) {
  return {{"crew", row.name.crew},       {"kind", row.name.kind},         {"what", row.name.words},
          {"subject", row.name.subject}, {"from_s", rounded(row.from_s)}, {"to_s", rounded(row.to_s)}};
}

Json violation_json(const FiguresViolation& v) {
  return {
      {"kind", v.kind}, {"crew", v.crew}, {"subject", v.subject}, {"at_s", rounded(v.at_s)}, {"sentence", v.sentence}};
}

Json optional_number(const std::optional<double>& value) { return value ? Json(rounded_down(*value)) : Json(nullptr); }

}  // namespace

PlanFigures read_plan(const std::string& file, const std::string& contents, const model::Structure& structure,
                      const model::Kit& kit) {
  const auto document = parse_result(file, contents, printed);
  try {
    return PlanReader(file, structure, kit).read(document);
  } catch (const ReadJson::exception& error) {
    refuse_field(file, error, printed);
  }
}

PlanFigures figures_of(const Context& context, const plan::Plan& plan) {
  return read_plan("", json(context, plan), context.structure, context.kit);
}

std::string detail::changes_text(const PlanChanges& c) {
  const auto& before = c.before;
  const auto& after = c.after;
  std::string out;
  paragraph(out, "Compared with ", fmt::format("excursion {} ({})", before.name, before.file), 2);
  const auto note = [&](const std::string& words) { paragraph(out, "  ", words, 4); };
  if (before.sha256 != after.sha256) note("The excursion file is another, or was changed since.");
  if (before.configuration != after.configuration)
    note(fmt::format("Configuration at time zero: {} then, {} now.", before.configuration, after.configuration));
  if (before.what_if != after.what_if)
    note(fmt::format("What if: {} then, {} now.", before.what_if.empty() ? "nothing" : before.what_if,
                     after.what_if.empty() ? "nothing" : after.what_if));
  if (!before.other_kit.empty())
    note(fmt::format("Not the same in kit and settings: {}.", fmt::join(before.other_kit, ", ")));
  const auto line = [&](const std::string& name, const std::string& was, const std::string& is, const std::string& by) {
    out += fmt::format("  {:<38} {:>12} {:>12}{}\n", name, was, is, by.empty() ? "" : fmt::format(" {:>12}", by));
  };
  line("", "then", "now", "change");
  line("all inside at", duration(before.finish_s), duration(after.finish_s), shift(after.finish_s - before.finish_s));
  if (before.limit_s != after.limit_s)
    line("limit", duration_down(before.limit_s), duration_down(after.limit_s), shift(after.limit_s - before.limit_s));
  line("margin to the limit", margin(before.limit_s - before.finish_s), margin(after.limit_s - after.finish_s),
       shift((after.limit_s - after.finish_s) - (before.limit_s - before.finish_s)));
  const auto back = [](const PlanFigures& f) {
    return f.back_margin_s ? margin(*f.back_margin_s) : std::string(f.has_back ? "none" : "not looked at");
  };
  line("least margin of getting back", back(before), back(after),
       before.back_margin_s && after.back_margin_s ? shift(*after.back_margin_s - *before.back_margin_s) : "");
  for (const auto& member : after.crew)
    for (const auto& then : before.crew)
      if (then.id == member.id) {
        line(member.id + " inside at", duration(then.inside_at_s), duration(member.inside_at_s),
             shift(member.inside_at_s - then.inside_at_s));
        const auto energy = [](double joules) { return fmt::format("{:.2f}", std::floor(joules / 1e4 + 1e-9) / 100); };
        line(member.id + " energy left, MJ", energy(then.energy_margin_j), energy(member.energy_margin_j), "");
      }
  const auto list = [&](const char* start, const std::vector<std::string>& ids) {
    if (!ids.empty()) note(fmt::format("{} {}.", start, fmt::join(ids, ", ")));
  };
  list("Done then, and not now:", c.no_longer);
  list("Done now, and not then:", c.newly);
  const auto violations = [&](const char* head, const std::vector<FiguresViolation>& those) {
    if (those.empty()) return;
    out += fmt::format("  {}\n", head);
    for (const auto& v : those)
      paragraph(out, fmt::format("    - {} {}: ", duration(v.at_s), v.crew.empty() ? "inside" : v.crew), v.sentence, 6);
  };
  violations("New violations", c.violations_new);
  violations("Violations that are gone", c.violations_gone);
  if (c.violations_new.empty() && c.violations_gone.empty())
    note(after.violations.empty() ? "No violations then and now." : "The same violations as then.");
  const auto told = [](const auto& rows) {
    return std::count_if(rows.begin(), rows.end(), [](const auto& row) { return is_told(row.name); });
  };
  if (told(c.moved) > 0) {
    out += fmt::format("  {:<38} {:>12} {:>12} {:>12}\n", "moved", "from then", "from now", "change");
    for (const auto& row : c.moved) {
      if (!is_told(row.name)) continue;
      std::string words = fmt::format("{}: {}", row.name.crew, row.name.words);
      const double longer_s = (row.to_after_s - row.from_after_s) - (row.to_before_s - row.from_before_s);
      line(words, duration(row.from_before_s), duration(row.from_after_s), shift(row.from_after_s - row.from_before_s));
      if (std::abs(longer_s) >= 5e-4)
        line("    ends", duration(row.to_before_s), duration(row.to_after_s), shift(row.to_after_s - row.to_before_s));
    }
  }
  const auto rows = [&](const char* head, const std::vector<FiguresRow>& those) {
    if (told(those) == 0) return;
    out += fmt::format("  {}\n", head);
    for (const auto& row : those)
      if (is_told(row.name))
        paragraph(out, fmt::format("    {:>8} {:>8}  ", duration(row.from_s), duration(row.to_s)),
                  fmt::format("{}: {}", row.name.crew, row.name.words), 24);
  };
  rows("Only then", c.gone);
  rows("Only now", c.added);
  if (c.moved.empty() && c.gone.empty() && c.added.empty()) note("Every row is at the same time.");
  return out + "\n";
}

Json detail::changes_json(const PlanChanges& c) {
  const auto side = [](const PlanFigures& f) {
    Json crew = Json::array();
    for (const auto& member : f.crew)
      crew.push_back({{"id", member.id},
                      {"inside_at_s", rounded_up(member.inside_at_s)},
                      {"energy_margin_j", rounded_down(member.energy_margin_j)},
                      {"moves", member.moves}});
    return Json{{"excursion", {{"name", f.name}, {"file", f.file}, {"sha256", f.sha256}}},
                {"configuration", f.configuration},
                {"what_if", f.what_if},
                {"limit_s", rounded_down(f.limit_s)},
                {"finish_s", rounded_up(f.finish_s)},
                {"margin_s", rounded_down(f.limit_s - f.finish_s)},
                {"back_margin_s", optional_number(f.back_margin_s)},
                {"crew", std::move(crew)}};
  };
  Json out;
  out["before"] = side(c.before);
  out["after"] = side(c.after);
  out["other_kit"] = c.before.other_kit;
  out["no_longer_done"] = c.no_longer;
  out["newly_done"] = c.newly;
  Json moved = Json::array();
  for (const auto& row : c.moved)
    moved.push_back({{"crew", row.name.crew},
                     {"kind", row.name.kind},
                     {"what", row.name.words},
                     {"subject", row.name.subject},
                     {"from_before_s", rounded(row.from_before_s)},
                     {"to_before_s", rounded(row.to_before_s)},
                     {"from_after_s", rounded(row.from_after_s)},
                     {"to_after_s", rounded(row.to_after_s)}});
  out["moved"] = std::move(moved);
  out["unmoved"] = c.unmoved;
  const auto list = [](const auto& things, const auto& write) {
    Json array = Json::array();
    for (const auto& thing : things) array.push_back(write(thing));
    return array;
  };
  out["gone"] = list(c.gone, row_json);
  out["added"] = list(c.added, row_json);
  out["violations_new"] = list(c.violations_new, violation_json);
  out["violations_gone"] = list(c.violations_gone, violation_json);
  out["violations_kept"] = c.violations_kept;
  return out;
}

std::string detail::waypoints_text(const Context& context, const plan::Plan& plan) {
  std::string out;
  const auto& structure = context.structure;
  for (const auto& row : plan.rows) {
    if (row.what != plan::What::Go || row.path.empty()) continue;
    std::string words = fmt::format("{}, {} move{}", what_words(row), row.moves, row.moves == 1 ? "" : "s");
    if (!row.carried.empty()) words += fmt::format(", with {}", fmt::join(row.carried, ", "));
    paragraph(out,
              fmt::format("  {} to {} {}: ", duration(row.from_s), duration(row.to_s),
                          plan.excursion->crew[row.crew->index()].id),
              words, 4);
    for (std::size_t i = 0; i < row.path.size();) {
      std::size_t last = i;
      while (last + 1 < row.path.size() && row.path[last + 1].rail == row.path[i].rail) ++last;
      const auto& rail = structure.rails[row.path[i].rail.index()];
      std::string line = fmt::format("    {:>8}  {:<24}", duration(row.path[i].arrives_s), rail.id);
      line += fmt::format("  {} hand position{}", last - i + 1, last == i ? "" : "s");
      double waits_s = 0;
      for (std::size_t k = i; k <= last; ++k)
        if (k + 1 < row.path.size()) waits_s += row.path[k].leaves_s - row.path[k].arrives_s;
      if (waits_s > 5e-4) line += fmt::format(", waits {} there", duration(waits_s));
      out += line + "\n";
      i = last + 1;
    }
  }
  return out.empty() ? out : "Waypoints: when a hand first takes each rail\n" + out + "\n";
}

}  // namespace holdfast::report
