// SPDX-License-Identifier: GPL-3.0-or-later
#include "holdfast/model/structure.h"

// Must not compile: a rail's id where a part's is asked for.
bool swapped(const holdfast::model::Structure& structure) {
  return structure.pose(holdfast::model::RailId(0), structure.default_configuration()).matrix().isIdentity();
}
