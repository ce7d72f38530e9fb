// SPDX-License-Identifier: GPL-3.0-or-later
#include "holdfast/reach/sight.h"

// Before common.h, whose `put_out` looks for its overloads.
#include "holdfast/report/sight.h"

#include <algorithm>
#include <numbers>

#include "common.h"

namespace holdfast::cli {

namespace {

struct SightOptions {
  std::vector<std::string> patches, views;
  std::string from, camera;
  bool from_grips = false;
  double within_m = 0, off_normal_deg = 70, enough = 0.95;
  std::size_t most = 10;
};

}  // namespace

Run add_sight(CLI::App& app, CommonOptions& options) {
  auto* verb = app.add_subcommand(
      "sight", "what windows and cameras see of patches, or from which grips a camera along sees them best");
  const auto asked = std::make_shared<SightOptions>();
  add_model_options(*verb, options);
  verb->add_option("PATCH", asked->patches, "what is to be seen, from `patches:` of the structure; all when not given")
      ->check(named())
      ->type_name("");
  verb->add_option("--view", asked->views, "only these windows and cameras of the structure")
      ->check(named())
      ->type_name("ID")
      ->take_all();
  verb->add_flag("--from-grips", asked->from_grips, "instead: from which grips each patch is seen best")
      ->disable_flag_override();
  verb->add_option("--from", asked->from, "with --from-grips: where the path to the best grip starts; times count too")
      ->check(named())
      ->type_name("PLACE");
  verb->add_option("--camera", asked->camera,
                   "with --from-grips: camera of the kit; at the helmet, as the defaults say, when not given")
      ->check(named())
      ->type_name("ID");
  verb->add_option("--within", asked->within_m,
                   "with --from-grips: range of the camera in metres, instead of the kit's")
      ->check(CLI::Range(0.1, 1000.0))
      ->type_name("M");
  verb->add_option("--most", asked->most, "with --from-grips: so many rails; 10 when not given")
      ->check(whole_number(1, 100))
      ->type_name("N");
  verb->add_option("--off-normal", asked->off_normal_deg, "most degrees off a patch's normal; 70 when not given")
      ->check(CLI::Range(1.0, 90.0))
      ->type_name("DEG");
  verb->add_option("--enough", asked->enough, "share of its area for a patch to be seen; 0.95 when not given")
      ->check(CLI::Range(0.01, 1.0))
      ->type_name("SHARE");
  add_output_options(*verb, options);
  verb->footer(
      "Examples, on the demo yard:\n"
      "  holdfast sight models/yard\n"
      "      what the windows and cameras see, and which patches none of them sees\n"
      "  holdfast sight models/yard tank-valve-face --from-grips --from lock-hatch\n"
      "      from where a helmet camera sees the valves best, and the path there\n\n"
      "Exit code 1 when a patch is not seen at all, is covered, or is not there.");
  return [&options, asked, verb]() -> ExitCode {
    if (!asked->from_grips)
      for (const char* option : {"--from", "--camera", "--within", "--most"})
        if (verb->get_option(option)->count() > 0)
          throw model::InputError({usage_fault(std::string(option) + " needs --from-grips", "", "add --from-grips")});
    if (asked->from_grips && !asked->views.empty())
      throw model::InputError({usage_fault("--view and --from-grips exclude each other", "", "give one of them")});
    const Yard yard(options);
    reach::SightRequest request{.patches = asked->patches,
                                .views = asked->views,
                                .from_grips = asked->from_grips,
                                .from = asked->from,
                                .most_rails = asked->most};
    if (asked->within_m > 0) request.within_m = asked->within_m;
    request.limits.off_normal_rad = asked->off_normal_deg * std::numbers::pi / 180;
    request.limits.enough = asked->enough;
    if (!asked->camera.empty()) {
      request.camera = yard.model.kit.find_camera(asked->camera);
      if (!request.camera)
        throw model::InputError({not_in_kit("camera", asked->camera, ids_of(yard.model.kit.cameras))});
    }
    const auto answer = reach::find_sight(*yard.graph, {.kit = yard.model.kit, .suit = *yard.suit}, request);
    put_out(options, yard.context(options), answer);
    // Where none is named, what no view sees is the answer.
    const bool is_seen =
        asked->patches.empty() || std::all_of(answer.patches.begin(), answer.patches.end(), [&](const auto& patch) {
          return patch.is_there && patch.any.verdict != reach::SightVerdict::Covered &&
                 (answer.from_grips || patch.any.verdict != reach::SightVerdict::NotSeen);
        });
    const bool has_grips = std::all_of(answer.rankings.begin(), answer.rankings.end(),
                                       [](const auto& ranking) { return !ranking.best.empty(); });
    const bool has_path = !answer.has_route || answer.head.route() != nullptr;
    return is_seen && has_grips && has_path ? AnswerFound : NoAnswer;
  };
}

}  // namespace holdfast::cli
