// The network of a case as a drawing: one position, and what all share.
#pragma once

#include <string>

#include "page/sheet.h"
#include "ringquell/operating_path.h"

namespace ringquell::internal {

/// SVG with the values at the point. `position` from 1. Beside a symbol stands its share of `energy`, which
/// sums over all positions; `shown` gains what was drawn.
std::string position_drawing(const Case& input, const OperatingPoint& point, int position,
                             const EnergyShares& energy, ShownEnergy* shown = nullptr);
/// Driver, power loop, load and rails.
std::string shared_drawing(const Case& input, const OperatingPoint& point, const EnergyShares& energy,
                           ShownEnergy* shown = nullptr);

}  // namespace ringquell::internal
