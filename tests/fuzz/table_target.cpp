// SPDX-License-Identifier: GPL-3.0-or-later
#include <unistd.h>

#include <fstream>

#include "holdfast/model/excursion.h"
#include "holdfast/model/rail_table.h"
#include "targets.h"

namespace holdfast::fuzz {

namespace {

/// A folder for the tables, gone at the end.
class Scratch {
 public:
  Scratch() : path_(std::filesystem::temp_directory_path() / ("holdfast-fuzz-" + std::to_string(::getpid()))) {
    std::filesystem::create_directories(path_);
  }
  Scratch(const Scratch&) = delete;
  Scratch& operator=(const Scratch&) = delete;
  ~Scratch() { std::filesystem::remove_all(path_); }
  [[nodiscard]] std::string folder_with(const char* name, std::string_view bytes) const {
    std::ofstream(path_ / name, std::ios::binary) << bytes;
    return path_.string();
  }

 private:
  std::filesystem::path path_;
};

const char* const small_structure =
    "holdfast: structure/1\nname: Small yard\nparts:\n"
    "  - {id: drum, shape: {cylinder: {from: [0, 0, 0], to: [6, 0, 0], radius: 1}}}\nrail_files: [rails.csv]\n";
const char* const small_excursion =
    "holdfast: excursion/1\nname: Tasks of a table\ncrew:\n  - {id: EV1, start: hatch, sequence: [return]}\n"
    "items:\n  - {id: bag, load: bag, at: hatch}\norbit: {period: 92 min, night: 35 min, first_sunset: 20 min}\n"
    "windows:\n  - {id: contact, from: 0:10:00, to: 0:40:00}\ntask_files: [tasks.csv]\n";

}  // namespace

void table(std::string_view input) {
  if (input.empty()) return;
  static const Scratch scratch;
  const auto bytes = input.substr(1);
  try {
    switch (input[0] & 3) {
      case 0: {
        const auto read =
            model::read_structure_text(small_structure, scratch.folder_with("rails.csv", bytes), "structure.yaml");
        for (const auto& rail : read.rails)
          for (const auto& point : rail.points) require(point.allFinite(), "a rail through a point that is none");
        break;
      }
      case 1:
        for (const auto& row : model::read_rail_table(std::string(bytes), "rails.csv"))
          require(row.from.allFinite() && (!row.to || row.to->allFinite()), "a row with a point that is none");
        break;
      default: {
        const auto read = model::read_excursion_text(small_excursion, small_model(), "excursion.yaml",
                                                     scratch.folder_with("tasks.csv", bytes));
        for (const auto& task : read.tasks)
          require(task.duration_s.value >= 0 && task.duration_s.value <= 7 * 24 * 3600.0, "a task without an end");
      }
    }
  } catch (const model::InputError& error) {
    require_told(error);
  }
}

}  // namespace holdfast::fuzz
