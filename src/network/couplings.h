// Mutual inductances of a network, from the couplings of its case.
#pragma once

#include "ringquell/network.h"

namespace ringquell::internal {

/// Adds an element for each pair of inductances that a coupling names. Throws InputError where a name has no
/// inductance, or with the first coupling that makes the inductance matrix indefinite.
void add_couplings(Network& network, const Case& input, const OperatingPoint& point);

/// An inductance as it is stamped, and by what its own number was multiplied.
struct ScaledValue {
    double value, scale;
};

/// By what a coupling's number is multiplied: √(L_first·L_second) for a coefficient, as the two inductances are
/// now; 1 for a mutual inductance. In the common block N times that where one of the two is shared.
double coupling_scale(bool by_coefficient, const ScaledValue& first, const ScaledValue& second);

}  // namespace ringquell::internal
