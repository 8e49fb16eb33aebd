// What the gate current of one position meets.
#pragma once

#include "ringquell/switching.h"

namespace ringquell::internal {

/// Of a position (from 0) on an edge; `chip_ohm`: the die's gate resistance at its temperature.
GateResistances gate_resistances(const Case& input, Edge edge, int position, double chip_ohm);

}  // namespace ringquell::internal
