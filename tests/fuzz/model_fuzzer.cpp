// SPDX-License-Identifier: GPL-3.0-or-later
// Structures and kits from any text: an answer, or faults that each have a problem and a remedy.

#include <cstdint>
#include <cstdlib>
#include <string>

#include "holdfast/model/plain_text.h"
#include "holdfast/model/read.h"

using namespace holdfast;

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  if (size == 0) return 0;
  const std::string text(reinterpret_cast<const char*>(data) + 1, size - 1);
  try {
    if ((data[0] & 1) == 0)
      (void)model::read_structure_text(text, "/nonexistent", "structure.yaml");
    else
      (void)model::read_kit_text(text, "kit.yaml");
  } catch (const model::InputError& error) {
    for (const auto& fault : error.diagnostics())
      if (fault.problem.empty() || fault.remedy.empty() ||
          model::find_unsafe(fault.text().substr(0, fault.text().find('\n'))))
        std::abort();
  }
  return 0;
}
