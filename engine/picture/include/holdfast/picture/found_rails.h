// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once
// Rails found in a mesh, as a drawing shows them: told apart by how sure they are, the doubtful ones by number.

#include <string>
#include <vector>

#include "holdfast/model/structure.h"

namespace holdfast::picture {

enum class FoundKind { Sure, Likely, Doubtful, Post };

/// A piece that `holdfast rails` found.
struct FoundPiece {
  FoundKind kind = FoundKind::Sure;
  std::string id;
  std::size_t number = 0;  ///< in the list of doubtful pieces, from 1; 0 of the others
  std::string words;       ///< length, section and what speaks against it
  double length_m = 0;
  std::vector<model::Vec3> points;  ///< structure frame; one point: a handhold
  std::string source;               ///< file of the result
};

}  // namespace holdfast::picture
