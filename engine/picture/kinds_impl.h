// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// What bars of a timeline stand for, and how the kinds are told apart: by colour and, for prints without, by pattern.

#include <array>

#include "holdfast/picture/handout.h"
#include "style_impl.h"

namespace holdfast::picture {

inline constexpr std::array bar_kinds{BarKind::Travel, BarKind::Work,     BarKind::Handling, BarKind::Wait,
                                      BarKind::Hold,   BarKind::Overhead, BarKind::Throw};

inline const char* kind_word(BarKind kind) {
  constexpr std::array words{"translation", "work", "handling", "wait", "hold", "overhead", "throw"};
  return words[static_cast<std::size_t>(kind)];
}

inline const char* kind_colour(BarKind kind) {
  constexpr std::array<std::size_t, 7> colours{0, 2, 5, 4, 1, 3, 6};
  return colour_of(colours[static_cast<std::size_t>(kind)]);
}

/// Of a tile of 3 x 3 on white; empty: the colour alone, translation, work and handling by how dark they are.
inline const char* kind_hatch(BarKind kind) {
  switch (kind) {
    case BarKind::Wait:
      return "M0 3L3 0";
    case BarKind::Hold:
      return "M0 3L3 0M0 0L3 3";
    case BarKind::Overhead:
      return "M1.5 0V3";
    case BarKind::Work:
      return "M0 1.5H3";
    case BarKind::Travel:
    case BarKind::Handling:
    case BarKind::Throw:
      return "";
  }
  return "";
}

}  // namespace holdfast::picture
