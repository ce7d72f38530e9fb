// SPDX-License-Identifier: GPL-3.0-or-later
#include "holdfast/model/excursion.h"
#include "holdfast/report/order.h"
#include "targets.h"

namespace holdfast::fuzz {

void excursion(std::string_view input) {
  const auto& small = small_model();
  const auto read = [&](const std::string& text) {
    return model::read_excursion_text(text, small, "excursion.yaml", model_folder().string());
  };
  const report::Context context{small.structure, small.kit, small.kit.suits.front(), "model", "test"};
  std::string written;
  try {
    written = report::excursion_file(context, read(std::string(input)));
  } catch (const model::InputError& error) {
    require_told(error);
    return;
  }
  try {
    require(report::excursion_file(context, read(written)) == written,
            "an excursion is written otherwise when read again");
  } catch (const model::InputError& error) {
    throw std::logic_error("an excursion that was written cannot be read: " + error.diagnostics().front().text());
  }
}

}  // namespace holdfast::fuzz
