// Modes of a large uneven network by shift-invert over the band, with the argument principle as the witness.
#pragma once

#include "ringquell/modes.h"

namespace ringquell {

Modes sparse_modes(const Network& network, const Case& input);

}  // namespace ringquell
