// SPDX-License-Identifier: GPL-3.0-or-later
// Tasks of a table are the tasks that the excursion's own file would say.

#include <gtest/gtest.h>
#include <unistd.h>

#include <filesystem>
#include <fstream>

#include "small_model.h"

namespace holdfast::plan {
namespace {

namespace fs = std::filesystem;

/// A folder of its own, gone with the test.
class Folder {
 public:
  Folder() : path_(fs::temp_directory_path() / fmt::format("holdfast-tables-{}", getpid())) {
    fs::create_directories(path_);
  }
  ~Folder() { fs::remove_all(path_); }
  Folder(const Folder&) = delete;
  Folder& operator=(const Folder&) = delete;
  void write(const std::string& name, const std::string& text) const { std::ofstream(path_ / name) << text; }
  [[nodiscard]] std::string path() const { return path_.string(); }

 private:
  fs::path path_;
};

model::Model model_with_worksites() {
  auto model = sample::line_model();
  model::Patch mark;
  mark.id = mark.name = "mark";
  mark.area = model::PatchDisc{{10, 0, -2}, {0, 0, 1}, 0.2};
  model.structure.patches.push_back(mark);
  model::HeldCamera camera;
  camera.id = camera.name = "macro";
  model.kit.cameras.push_back(camera);
  return model;
}

TEST(TaskTable, SaysWhatTheFileWouldSay) {
  const auto model = model_with_worksites();
  const std::string rest =
      "limit: 6 h\norbit: {period: 90 min, night: 30 min, first_sunset: 20 min}\n"
      "crew: [{id: A, start: hatch}, {id: B, start: hatch}]\n"
      "items: [{id: tool, load: bag, at: hatch}, {id: pfr, load: frame, restraint: portable, at: depot}]\n"
      "windows: [{id: pass, from: 5 min, to: 9 min}, {id: pass, from: 40 min, to: 90 min}, {id: sun, from: 1 min, to: "
      "2 h}]\n";
  const auto plain = sample::excursion(
      model, rest +
                 "tasks:\n"
                 "  - {id: look, name: look at it, at: site, duration: 5 min, needs: {photograph: mark, camera: macro, "
                 "day: true, windows: [pass, sun]}, optional: {priority: 2}}\n"
                 "  - {id: turn, at: site, duration: 0:07:00, needs: {items: [tool], restraint_in: socket, targets: "
                 "[site, side], states: {dish: tracking}}, after: [look], leaves: [tool]}\n"
                 "  - {id: lift, at: end, duration: 90 s, needs: {both: true, items: [tool, pfr]}}\n");
  const Folder folder;
  folder.write("tasks.csv",
               "id,name,at,duration,items,restraint_in,both,after,leaves,priority,targets,photograph,camera,states,"
               "windows,day\n"
               "look,look at it,site,5 min,,,,,,2,,mark,macro,,pass sun,yes\n"
               "turn,,site,0:07:00,tool,socket,no,look,tool,,site side,,,dish=tracking,,\n"
               "lift,,end,90 s,tool pfr,,yes,,,,,,,,,no\n");
  const auto table = model::read_excursion_text("holdfast: excursion/1\ntask_files: [tasks.csv]\n" + rest, model,
                                                "excursion.yaml", folder.path());
  ASSERT_EQ(table.tasks.size(), plain.tasks.size());
  for (std::size_t t = 0; t < plain.tasks.size(); ++t) {
    const auto &a = plain.tasks[t], &b = table.tasks[t];
    SCOPED_TRACE(a.id);
    EXPECT_EQ(a.id, b.id);
    EXPECT_EQ(a.name, b.name);
    EXPECT_EQ(a.at, b.at);
    EXPECT_EQ(a.duration_s.value, b.duration_s.value);
    EXPECT_EQ(a.items, b.items);
    EXPECT_EQ(a.restraint_in, b.restraint_in);
    EXPECT_EQ(a.states, b.states);
    EXPECT_EQ(a.both, b.both);
    EXPECT_EQ(a.windows, b.windows);
    EXPECT_EQ(a.needs_day, b.needs_day);
    EXPECT_EQ(a.after, b.after);
    EXPECT_EQ(a.leaves, b.leaves);
    EXPECT_EQ(a.targets, b.targets);
    EXPECT_EQ(a.photograph, b.photograph);
    EXPECT_EQ(a.camera, b.camera);
    EXPECT_EQ(a.optional.has_value(), b.optional.has_value());
    if (a.optional) EXPECT_EQ(a.optional->priority, b.optional->priority);
  }
}

}  // namespace
}  // namespace holdfast::plan
