// SPDX-License-Identifier: GPL-3.0-or-later
#include <fmt/format.h>

#include <algorithm>
#include <chrono>
#include <cstdio>
#include <functional>
#include <optional>

#include "common.h"
#include "holdfast/picture/handout.h"
#include "holdfast/picture/write.h"
#include "holdfast/report/read.h"

namespace holdfast::cli {

namespace {

constexpr double chord_error_m = 0.004;  // what nobody sees in a drawing, and a third of the triangles of 1 mm

struct DrawOptions {
  std::vector<std::string> results;
  std::string html, svg, glb, cards, timeline;
  std::string date, revision;
};

/// The clock of the machine is never asked: the same input gives the same bytes.
void check_date(const std::string& date) {
  if (date.empty()) return;
  int year = 0, month = 0, day = 0, end = 0;
  const bool is_read = date.size() == 10 &&
                       std::sscanf(date.c_str(), "%4d-%2d-%2d%n", &year, &month, &day, &end) == 3 && end == 10 &&
                       date.find_first_not_of("0123456789-") == std::string::npos;
  using namespace std::chrono;
  if (!is_read || !year_month_day(std::chrono::year(year), std::chrono::month(static_cast<unsigned>(month)),
                                  std::chrono::day(static_cast<unsigned>(day)))
                       .ok())
    throw model::InputError({usage_fault(fmt::format("--date is not a day of the calendar: {}", date), date,
                                         "write it as year-month-day, as 2026-03-09")});
}

/// Where nobody sets a switch, the drawing is of the configuration that the results were computed for.
model::Configuration configuration_of(const Site& site, const CommonOptions& options,
                                      const std::vector<report::ReadResult>& results) {
  return options.states.empty() && !results.empty() ? results.front().configuration : site.configuration;
}

/// The excursion among the results; null: none. Throws `model::InputError` (`usage`) for two.
const report::ReadPlan* find_plan(const std::vector<report::ReadResult>& results) {
  const report::ReadResult* found = nullptr;
  for (const auto& result : results) {
    if (!result.plan) continue;
    if (found)
      throw model::InputError({usage_fault(fmt::format("two excursions: {} and {}", found->file, result.file),
                                           result.file, "draw one excursion at a time")});
    found = &result;
  }
  return found ? &*found->plan : nullptr;
}

}  // namespace

Run add_draw(CLI::App& app, CommonOptions& options) {
  auto* verb = app.add_subcommand(
      "draw", "a page, a sheet or a 3D model of the structure with results on it; hand-outs of excursions");
  const auto draw = std::make_shared<DrawOptions>();
  add_structure_options(*verb, options);
  verb->add_option("RESULT.json", draw->results,
                   "results of route, compare, home, tether, cable, reach, sight, rails or plan, with --json")
      ->check(named())
      ->type_name("");
  const auto add_file = [&](const char* name, std::string& file, const char* what) {
    verb->add_option(name, file, what)->check(named())->type_name("FILE");
  };
  add_file("--html", draw->html, "write a page to look around in: one file, for any browser, no network");
  add_file("--svg", draw->svg, "write a sheet for documents: three views to scale on A3");
  add_file("--glb", draw->glb, "write a glTF 2.0 model for any viewer");
  add_file("--cards", draw->cards, "of an excursion: cue cards to print on A4; each crew member begins a new page");
  add_file("--timeline", draw->timeline, "of an excursion: an A3 sheet with the timelines and the time to get back");
  verb->add_option("--date", draw->date, "date on page and sheet, as 2026-03-09; left blank to be filled in by hand")
      ->check(named())
      ->type_name("DAY");
  verb->add_option("--revision", draw->revision, "revision on page and sheet; left blank to be filled in by hand")
      ->check(named())
      ->type_name("TEXT");
  add_json_option(*verb, options);
  add_quiet_option(*verb, options);
  verb->footer(
      "Examples, on the demo yard:\n"
      "  holdfast draw models/yard --html yard.html\n"
      "      the structure with rails, zones and places, as a page\n"
      "  holdfast draw models/yard --svg yard.svg --glb yard.glb --state dish=tracking\n"
      "      as a sheet to scale and as a 3D model, while the dish tracks\n"
      "and with routes on it:\n"
      "  holdfast route models/yard --from lock-hatch --to battery-bay --load bulky-bag --json > bag.json\n"
      "  holdfast draw models/yard bag.json --html bag.html\n"
      "  holdfast draw models/yard bag.json --svg bag.svg --revision B --date 2026-03-09\n\n"
      "and an excursion: both crew members on one clock, items and switches as they are at each moment\n"
      "  holdfast plan models/yard excursion-short.yaml --json > short.json\n"
      "  holdfast draw models/yard short.json --html short.html --cards cards.html --timeline timeline.svg\n\n"
      "Results of one configuration share a drawing; it shows that configuration, or that at the start of an "
      "excursion.\n"
      "Each file is written whole or not at all.");
  return [&options, draw] {
    if (draw->html.empty() && draw->svg.empty() && draw->glb.empty() && draw->cards.empty() && draw->timeline.empty())
      throw model::InputError({usage_fault("nothing says what to write", "",
                                           "give --html, --svg or --glb with a file, or --cards or --timeline with one "
                                           "for an excursion")});
    check_date(draw->date);
    Site site(options);
    std::vector<report::ReadResult> results;
    std::vector<report::ReadFoundRails> found;
    for (const auto& file : draw->results) {
      const auto contents = read_whole(file);
      if (report::is_rails_result(contents))
        found.push_back(report::read_found_rails(file, contents));
      else
        results.push_back(report::read_result(file, contents, site.model.structure, site.model.kit));
    }
    const auto* plan = find_plan(results);
    if (!plan && !(draw->cards.empty() && draw->timeline.empty()))
      throw model::InputError({usage_fault("none of the results is an excursion", draw->cards + draw->timeline,
                                           "give what holdfast plan printed with --json")});
    const auto configuration = configuration_of(site, options, results);
    report::Drawn drawn{configuration, 0, {}};
    // All is made before anything is written.
    std::vector<std::string> contents;
    const auto make = [&](const char* kind, const std::string& file, std::string made, int scale = 0) {
      drawn.files.push_back({kind, file, made.size(), scale});
      contents.push_back(std::move(made));
    };
    progress(options, fmt::format("Drawing {} parts", site.model.structure.parts.size()));
    const auto scene = site.build_scene(options, configuration, {.chord_error_m = chord_error_m});
    site.set_aside_buried_rails(scene);
    const auto context = site.context(options);
    auto picture = picture::draw_structure(context, scene);
    picture.date = draw->date, picture.revision = draw->revision;
    for (const auto& result : results) picture::add_result(picture, context, scene, result);
    for (const auto& result : found) picture::add_found_rails(picture, context, scene, result);
    drawn.ways = static_cast<std::size_t>(
        std::count_if(picture.ways.begin(), picture.ways.end(), [](const picture::Way& way) { return way.is_way(); }));
    if (!draw->html.empty()) make("html", draw->html, picture::html(picture));
    if (!draw->svg.empty()) {
      auto sheet = picture::svg(picture);
      make("svg", draw->svg, std::move(sheet.svg), sheet.scale);
    }
    if (!draw->glb.empty()) make("glb", draw->glb, picture::glb(picture));
    if (!draw->cards.empty()) make("cards", draw->cards, picture::cue_cards(picture.excursion->handout));
    if (!draw->timeline.empty()) make("timeline", draw->timeline, picture::timeline_sheet(picture.excursion->handout));
    for (std::size_t i = 0; i < contents.size(); ++i) report::write_file(drawn.files[i].file, contents[i]);
    emit(options, options.json ? report::json(context, drawn) : report::text(context, drawn));
    return AnswerFound;
  };
}

}  // namespace holdfast::cli
