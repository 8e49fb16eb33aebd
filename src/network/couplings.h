// Mutual inductances of a network, from the couplings of its case.
#pragma once

#include "ringquell/network.h"

namespace ringquell::internal {

/// Adds an element for each pair of inductances that a coupling names. Throws InputError where a name has no
/// inductance, or with the first coupling that makes the inductance matrix indefinite.
void add_couplings(Network& network, const Case& input);

}  // namespace ringquell::internal
