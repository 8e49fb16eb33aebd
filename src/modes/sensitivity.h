// What each element does in a mode: the energy it holds, the power it feeds or takes, how the damping follows
// it.
//
// With λ, x an eigenpair of E·x·λ = A·x and W = xᴴEx: every element of E holds value·|rᵀx|²/W of the energy
// (mutual terms 2·value·Re((lᵀx)*(rᵀx))/W), which sums to 1; every element of A takes
// value·Re((lᵀx)*(rᵀx))/(|λ|·W) from the mode, which sums to ζ, since xᴴ(A + Aᵀ)x = 2·Re λ·W. Derivatives are
// yᴴ(∂A − λ∂E)x/(yᴴEx).
#pragma once

#include <string>
#include <vector>

#include "modes/probe.h"
#include "ringquell/modes.h"

namespace ringquell::internal {

struct ModeShares {
    EigenProbe pair;
    /// In the network's order; the sum of energy_share is 1, of damping_share ζ.
    std::vector<ElementShare> elements;
};

/// For a mode of this network. Couplings given as coefficients follow their inductances.
ModeShares mode_shares(const Network& network, std::complex<double> eigenvalue);

/// dζ that goes with dλ, of ζ = −Re λ/|λ|.
double damping_change(std::complex<double> eigenvalue, std::complex<double> change);

}  // namespace ringquell::internal
