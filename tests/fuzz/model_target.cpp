// SPDX-License-Identifier: GPL-3.0-or-later
#include "targets.h"

namespace holdfast::fuzz {

void model(std::string_view input) {
  if (input.empty()) return;
  const std::string text(input.substr(1));
  try {
    if ((input[0] & 1) == 0)
      (void)model::read_structure_text(text, "/nonexistent", "structure.yaml");
    else
      (void)model::read_kit_text(text, "kit.yaml");
  } catch (const model::InputError& error) {
    require_told(error);
  }
}

}  // namespace holdfast::fuzz
