// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// How large a model is, estimated before memory or time is spent on it, and what is too much.

#include <cstddef>
#include <string>
#include <vector>

#include "holdfast/model/kit.h"
#include "holdfast/model/structure.h"

namespace holdfast::model {

/// Most of each that a model may come to. On a machine of 8 GiB a model at these limits is computed without running out
/// of memory; beyond them a slip in a file (a spacing, a count, a unit) is likelier than a structure.
struct SizeLimits {
  std::size_t grips = 2'000'000;
  std::size_t moves = 60'000'000;     ///< pairs of grips within reach, an upper bound of them
  std::size_t triangles = 5'000'000;  ///< of mesh files and dishes, and bars of trusses
  std::size_t places = 1'000;         ///< for a matrix, which is of every place to every other
  std::size_t ties = 50'000;          ///< clips, and grips of rails that cables may be tied to, for a cable
  std::size_t rail_points = 100'000;  ///< of one rail
};

/// `WHAT=NUMBER`, as `grips=4000000`. Throws `InputError` (`unknown-setting`) that names what may be set.
void set_limit(SizeLimits& limits, const std::string& text);

/// Grips, moves and points of rails, of what is present in `configuration`. Throws `InputError` (`too-large`): for each
/// limit that the model is beyond, the number, the limit and the rail that has most. Linear in the grips.
void check_rails(const Structure& structure, const Kit& kit, const Suit& suit, const Configuration& configuration,
                 const SizeLimits& limits);

/// The same for the places of a matrix, and for the ties of a cable.
void check_places(const Structure& structure, const SizeLimits& limits);
void check_ties(const Structure& structure, const Kit& kit, const Configuration& configuration,
                const SizeLimits& limits);

/// `what` comes to `number`, and at most `most` are taken: the fault, with what has the largest share of it. Limits are
/// raised by `name`.
[[nodiscard]] Diagnostic beyond_limit(const std::string& what, const std::string& name, std::size_t number,
                                      std::size_t most, const std::string& largest, const Mark& mark);

}  // namespace holdfast::model
