// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// What any bytes may be given to: each target reads them as its kind of input and throws `std::logic_error` where
// something does not hold that should hold of all input. Faults of the input are told by the engine and caught inside.
// libFuzzer drives them (fuzzer.cpp, with clang), and a test runs them over all seeds and some changes to each
// (seeds_test.cpp).

#include <filesystem>
#include <stdexcept>
#include <string>
#include <string_view>

#include "holdfast/model/diagnostic.h"
#include "holdfast/model/plain_text.h"
#include "holdfast/model/read.h"

namespace holdfast::fuzz {

/// Mesh files by our readers; the first byte chooses the kind.
void mesh(std::string_view bytes);
/// structure.yaml or kit.yaml, by the first byte.
void model(std::string_view bytes);
/// An excursion file; what was read is written and read again as the same.
void excursion(std::string_view bytes);
/// Tables of rails and of tasks, by the first byte.
void table(std::string_view bytes);
/// JSON of any verb, read back and drawn.
void result(std::string_view bytes);
/// What is kept from run to run: whole files, and changes to the bodies of sound ones.
void store(std::string_view bytes);
/// A small yard drawn from the bytes: the engine's grips, moves and routes against those of the slow twin.
void route(std::string_view bytes);

inline void require(bool holds, const std::string& what) {
  if (!holds) throw std::logic_error(what);
}

/// Each fault has a problem, a remedy, and nothing in its words that acts on a terminal.
inline void require_told(const model::InputError& error) {
  require(!error.diagnostics().empty(), "a refusal without a fault");
  for (const auto& fault : error.diagnostics()) {
    require(!fault.problem.empty() && !fault.remedy.empty(), "a fault without problem or remedy: " + fault.code);
    const std::string told = fault.text();
    require(model::with_code_points(told, true) == told, "a character that acts, in the words of " + fault.code);
  }
}

/// The small model beside this; read once.
inline const std::filesystem::path& model_folder() {
  static const std::filesystem::path folder = std::filesystem::path(HOLDFAST_SOURCE_DIR) / "tests/fuzz/model";
  return folder;
}
inline const model::Model& small_model() {
  static const auto read = model::read_model(model_folder().string());
  return read;
}

}  // namespace holdfast::fuzz
