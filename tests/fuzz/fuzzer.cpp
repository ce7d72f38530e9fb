// SPDX-License-Identifier: GPL-3.0-or-later
// A target under libFuzzer: an exception that gets out ends the run, and the input is kept.

#include <cstddef>
#include <cstdint>

#include "targets.h"

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  holdfast::fuzz::HOLDFAST_FUZZ_TARGET({reinterpret_cast<const char*>(data), size});
  return 0;
}
